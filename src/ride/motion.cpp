// SPDX-License-Identifier: Apache-2.0
// Reconstruction of a ride: smoothed motion, then K paths of braking power, each with its account closed. Layer: ride
// Theory: docs/models/motion.md.
#include "ride/motion.hpp"

#include <algorithm>
#include <array>
#include <cassert>
#include <cmath>
#include <numeric>
#include <optional>
#include <tuple>
#include <utility>
#include <fmt/format.h>

#include "base/sampling.hpp"
#include "motion_parts.hpp"
#include "ride/describe.hpp"

namespace bw::ride {
namespace {

using internal::Along;
using internal::Altitude;
using internal::Grid;
using internal::Legs;
using internal::Mode;
using internal::Forces;
using internal::Switching;
using internal::SwitchReading;

constexpr double g_mps2 = 9.80665;
constexpr double standing_mps = 0.4;       // below it nothing is inferred: the powers are a watt or two
constexpr double meter_share_sd = 0.06, meter_sd_W = 12;   // of a power channel, with its lag
constexpr double drag_share_sd = 0.10;     // how far the air force of a stretch may stray from its path's (posture)
constexpr double gust_sd_mps = 0.5;
constexpr double gap_way_share_sd = 0.18;  // of the way through a gap, beside what the filter leaves open of it
constexpr double most_unexplained = 0.2;   // of what was given, before a power meter is doubted
constexpr double unlikely_wind_nats = 30;  // by which a told wind may make the readings less likely than none, before it is doubted
constexpr double most_wind_mps = 3;        // root mean square along the way and beyond the told one, before a power meter is doubted

// Where the way leads one way a head wind beyond the told one and a dragging brake look alike.   [EQ motion-19]
constexpr double one_way = 0.8;            // length of the mean of the way's unit vectors
constexpr double unlikely_wind_sd = 2.5;   // found ahead on the mean, in spreads of what is not known of it
constexpr double calm_share = 0.1;         // of that spread which the calm ones are drawn with
constexpr double calm_odds = 2.0 / 3;      // of all cases there: so the middle one is on the careful side

// Records that lie apart: what is braked and over between two of them is not seen.   [EQ motion-20]
constexpr double slow_from_s = 1.05;       // a record a second with a few missing, as recorders write it, is none of these
constexpr double slow_said_s = 0.5;        // beyond that

constexpr double turning_rpm = 20;         // slower is no pedalling that drives
constexpr double resting_gain_m = 3;       // of height and speed together: more than an altitude's error in a coasting stretch
constexpr double coasting_loss = 0.003, coasting_air_s2_m2 = 1e-4;   // metres of height a metre of way: rolling resistance, and 0.2 m2 of drag area on 120 kg
constexpr std::size_t stuck_s = 30;        // of the very same cadence

// A told direction is of use where the way's heading is known: a position within so long of nine tenths of the moving seconds.
constexpr double position_near_s = 10, least_known_share = 0.9;

double sq(double x) { return x * x; }

//! What all paths share.
struct Shared {
    const Track* track;
    const MotionSettings* settings;
    Grid grid;
    Along along;
    Altitude altitude;
    std::vector<std::uint8_t> still;       // [n] no mode is inferred
    std::vector<double> meter_W, meter_sd_W;   // [n] or empty
    double slow_s = 0;                     // how much further apart the records lie than where nothing is added
};

//! The power channel on the grid: mean of the records of each second; NaN = none.
void put_meter(const Track& track, Shared& s) {
    if (track.power_W.size() != track.size()) return;
    const std::size_t n = s.grid.n;
    std::vector<double> sum(n, 0.0);
    std::vector<int> count(n, 0);
    double any = 0, least = 1e9;
    for (std::size_t k = 0; k < track.size(); ++k) {
        if (!std::isfinite(track.power_W[k])) continue;
        least = std::min(least, track.power_W[k]);
        const auto i = std::min(n - 1, static_cast<std::size_t>(std::max(0.0, std::floor(track.t_s[k] - s.grid.t0_s + 0.5))));
        sum[i] += track.power_W[k];
        ++count[i];
        any = std::max(any, track.power_W[k]);
    }
    if (any < 20 || any == least) return;   // a channel of zeros is no meter, nor is one that is stuck
    s.meter_W.assign(n, NAN);
    s.meter_sd_W.assign(n, NAN);
    for (std::size_t i = 0; i < n; ++i)
        if (count[i] > 0) s.meter_W[i] = sum[i] / count[i];
    const std::vector<double> raw = s.meter_W;
    // Meters average over a turn of the crank and records come in sparse: short holes are filled, changes are timed loosely.
    std::size_t last = n;
    for (std::size_t i = 0; i < n; ++i) {
        if (std::isfinite(raw[i])) {
            if (last < n && i - last > 1 && i - last <= 10)
                for (std::size_t k = last + 1; k < i; ++k)
                    s.meter_W[k] = raw[last] + (raw[i] - raw[last]) * static_cast<double>(k - last) / static_cast<double>(i - last);
            last = i;
        }
    }
    const std::vector<double> filled = s.meter_W;
    for (std::size_t i = 0; i < n; ++i) {
        if (!std::isfinite(filled[i])) continue;
        double low = filled[i], high = filled[i], mean = 0;
        int c = 0;
        for (std::size_t k = i > 0 ? i - 1 : 0; k < std::min(n, i + 3); ++k)
            if (std::isfinite(filled[k])) {
                low = std::min(low, filled[k]);
                high = std::max(high, filled[k]);
                if (k <= i + 1) mean += filled[k], ++c;
            }
        s.meter_W[i] = mean / c;
        s.meter_sd_W[i] = std::sqrt(sq(meter_sd_W + meter_share_sd * s.meter_W[i]) + sq(0.4 * (high - low)));
    }
}

//! What the cadence says of the legs, second by second, and how long it was not believed [s].   [EQ motion-18]
std::pair<std::vector<Legs>, double> legs_of(const Track& track, const Grid& grid, const MotionPaths& motion) {
    const std::size_t n = grid.n;
    if (track.cadence_rpm.size() != track.size()) return {};
    std::vector<double> rpm(n, NAN);
    double most = 0;
    for (std::size_t k = 0; k < track.size(); ++k) {
        if (!std::isfinite(track.cadence_rpm[k])) continue;
        const auto i = std::min(n - 1, static_cast<std::size_t>(std::max(0.0, std::floor(track.t_s[k] - grid.t0_s + 0.5))));
        rpm[i] = track.cadence_rpm[k];
        most = std::max(most, rpm[i]);
    }
    if (most < turning_rpm) return {};   // a sensor that never saw a turn
    // Between records a few seconds apart: what both say.
    std::size_t last = n;
    for (std::size_t i = 0; i < n; ++i) {
        if (!std::isfinite(rpm[i])) continue;
        if (last < n && i - last > 1 && i - last <= 10 && (rpm[last] == 0) == (rpm[i] == 0))
            for (std::size_t k = last + 1; k < i; ++k) rpm[k] = std::min(rpm[last], rpm[i]);
        last = i;
    }
    double doubted_s = 0;
    // No legs keep the very same pace for long: a sensor that is stuck.
    for (std::size_t from = 0; from < n;) {
        std::size_t to = from + 1;
        while (to < n && rpm[to] == rpm[from]) ++to;
        if (rpm[from] > 0 && to - from > stuck_s) {
            std::fill(rpm.begin() + static_cast<std::ptrdiff_t>(from), rpm.begin() + static_cast<std::ptrdiff_t>(to), NAN);
            doubted_s += static_cast<double>(to - from);
        }
        from = to;
    }
    std::vector<Legs> legs(n, Legs::not_known);
    for (std::size_t i = 1; i + 3 < n; ++i) {
        // A recorder holds the last cadence for up to three seconds after the legs stopped, and needs a turn to see them start.
        const auto all = [&](std::size_t from, std::size_t to, auto&& holds) { return std::all_of(rpm.begin() + static_cast<std::ptrdiff_t>(from), rpm.begin() + static_cast<std::ptrdiff_t>(to) + 1, holds); };
        if (all(i - 1, i + 3, [](double x) { return x >= turning_rpm; })) legs[i] = Legs::turn;
        else if (all(i, i + 2, [](double x) { return x == 0; })) legs[i] = Legs::rest;
    }
    // With resting legs a bike loses height and speed together, at least what tyres and air take of a heavy and slender one: where it does not the sensor slept.
    for (std::size_t from = 0; from < n;) {
        if (legs[from] != Legs::rest) {
            ++from;
            continue;
        }
        std::size_t to = from;
        double least_m = 1e9, gained_m = 0, lost_m = 0;
        for (; to < n && legs[to] == Legs::rest; ++to) {
            const double v = motion.speed_mps[to], energy_m = motion.altitude_m[to] + sq(v) / (2 * g_mps2) + lost_m;
            lost_m += (coasting_loss + coasting_air_s2_m2 * sq(v)) * v;
            least_m = std::min(least_m, energy_m);
            gained_m = std::max(gained_m, energy_m - least_m);
        }
        if (gained_m > resting_gain_m) {
            std::fill(legs.begin() + static_cast<std::ptrdiff_t>(from), legs.begin() + static_cast<std::ptrdiff_t>(to), Legs::not_known);
            doubted_s += static_cast<double>(to - from);
        }
        from = to;
    }
    return {std::move(legs), doubted_s};
}

//! What the filter of every path shares.   [EQ motion-9]
Switching switching_of(const Shared& s, const MotionPaths& motion) {
    const std::size_t n = s.grid.n;
    Switching w;
    w.n = n;
    w.speed_mps.assign(n, 0.0);
    w.ds.assign(n, 0.0);
    w.gradient = motion.gradient;
    w.speed_at_mps = motion.speed_mps;
    w.start_altitude_m = motion.altitude_m[0];
    w.still = s.still;
    w.left_out = s.grid.left_out;
    w.bridged = s.grid.bridged;
    if (!s.settings->e_assist) std::tie(w.legs, w.legs_doubted_s) = legs_of(*s.track, s.grid, motion);   // a motor may drive or run on beside resting legs
    w.error_step = s.altitude.error_step;
    w.wander = s.altitude.wander;
    w.error_var = sq(s.altitude.error_sd_m);
    w.gradient_q = s.altitude.gradient_q;
    if (s.altitude.source == AltitudeSource::none) {
        // Level road but for half a percent; free hills would let every pedalled metre pass for coasting downhill.
        w.gradient_length_m = 300;
        w.gradient_q = 2 * sq(0.005) / 300;
    }
    w.wind_var = sq(s.settings->wind_sd_mps);
    w.towards_x = s.along.east;
    w.towards_y = s.along.north;
    if (w.towards_x.empty()) {   // no positions: one head wind for the whole way
        w.towards_x.assign(n, 1.0);
        w.towards_y.assign(n, 0.0);
    }
    w.afresh = s.along.afresh;
    w.afresh_offset_s = s.along.afresh_offset_s;
    w.distance_jump_var = s.along.jump_var;
    w.height_jump_var = s.altitude.jump_var;
    w.e_assist = s.settings->e_assist;
    w.meter_W.assign(s.meter_W.empty() ? 0 : n, NAN);
    for (std::size_t i = 0; i + 1 < w.meter_W.size(); ++i)
        if (std::isfinite(s.meter_sd_W[i])) w.meter_W[i] = s.meter_W[i];
    for (std::size_t i = 0; i + 1 < n; ++i) {
        w.speed_mps[i] = 0.5 * (motion.speed_mps[i] + motion.speed_mps[i + 1]);
        w.ds[i] = s.grid.left_out[i] ? 0.0 : w.speed_mps[i];
        if (s.grid.left_out[i]) w.distance_jump_var[i] += 1e4;
    }
    w.first.assign(n + 1, 0);
    for (std::size_t i = 0; i < n; ++i) {
        for (std::size_t r = s.along.first[i]; r < s.along.first[i + 1]; ++r) {
            SwitchReading z = s.along.readings[r];
            if (z.kind == SwitchReading::Kind::distance && s.along.on_the_map) {
                const double stretch = std::sqrt(1 + sq(motion.gradient[i]));
                z.y = s.along.increments ? z.y * stretch : motion.distance_m[i] + (z.y - s.along.reading_distance_m[i]) * stretch;
            }
            w.readings.push_back(z);
        }
        for (std::size_t r = s.altitude.first[i]; r < s.altitude.first[i + 1]; ++r) w.readings.push_back(s.altitude.readings[r]);
        w.first[i + 1] = w.readings.size();
    }
    return w;
}

// What the model itself is off by, beyond its own spread, as a factor with mean 1 (at a record a second): a share of the braking and an amount a
// kilometre, which is what counts where there is little braking; both larger without a barometer.   [EQ motion-14]
// Even over the paths (Halton, base 3, shifted by seed and ride), so that 64 of them leave the median where it is.
double model_error(const Shared& s, double brakes_J, std::uint64_t seed, std::size_t key) {
    struct Spread { double share, J_m; };
    const Spread spread = s.altitude.source == AltitudeSource::barometric  ? Spread{0.04, 0.5}
                          : s.altitude.source == AltitudeSource::satellite ? Spread{0.08, 1.5}
                          : s.altitude.source == AltitudeSource::terrain   ? Spread{0.08, 3.0}
                                                                           : Spread{0.35, 1.5};
    const double way_m = s.along.distance_m.empty() ? 0.0 : s.along.distance_m.back() - s.along.distance_m.front();
    double sd = std::hypot(spread.share, spread.J_m * way_m / std::max(brakes_J, 1000.0));
    const double at_a_second = std::min(0.7, sd);
    if (s.slow_s > 0) sd = std::hypot(sd, s.settings->slow_share * std::sqrt(s.slow_s));   // [EQ motion-20]
    sd = std::min(0.7, sd);
    double u = uniform_of(seed, s.track->content_hash, 0, 900);
    double digit = 1.0 / 3;
    for (std::size_t k = key; k > 0; k /= 3, digit /= 3) u += static_cast<double>(k % 3) * digit;
    u -= std::floor(u);
    return std::exp(sd * normal_quantile(std::clamp(u, 1e-9, 1 - 1e-9)) - 0.5 * sq(at_a_second));   // records that lie apart leave the median where it is
}

//! Seconds of a path taken together, with or without records.
struct Stretched {
    double way_m = 0, slope = 0;
    double net_J = 0;          //!< rider minus brakes
    double braked_J = 0;
    double air_J = 0, rolling_J = 0;   //!< in still air
    bool seen = true;
};

//! Sums over a path, so that any stretch of it is a difference.
class Sums {
public:
    Sums(const Switching& w, const MotionPaths& motion, const MotionParameters& p, const internal::SwitchedPath& path, const MotionPath& out) : path_(path), all_(w.n) {
        const double me = p.mass_kg + p.rotating_kg;
        for (std::size_t i = 0; i + 1 < w.n; ++i) {
            const double v = w.still[i] ? 0.0 : 0.5 * (std::max(0.0, path.speed_mps[i]) + std::max(0.0, path.speed_mps[i + 1]));
            Sum& next = all_[i + 1] = all_[i];
            next.way_m += v;
            next.net_J += me * path.u[i] * v;
            next.braked_J += out.brake_power_W[i];
            next.air_J += air_drag_N(p, motion.air_density_kgm3[i], v) * v;
            next.rolling_J += rolling_drag_N(p, motion.gradient[i]) * v;
            next.unseen += w.left_out[i] || path.mode[i] == Mode::unseen;
        }
    }
    std::size_t seconds() const { return all_.size() - 1; }
    Stretched over(std::size_t i, std::size_t j) const {
        const Sum &a = all_[i], &b = all_[j];
        Stretched s;
        s.way_m = std::max(1e-3, b.way_m - a.way_m);
        s.slope = (path_.altitude_m[j] - path_.altitude_m[i]) / s.way_m;
        s.net_J = b.net_J - a.net_J;
        s.braked_J = b.braked_J - a.braked_J;
        s.air_J = b.air_J - a.air_J;
        s.rolling_J = b.rolling_J - a.rolling_J;
        s.seen = a.unseen == b.unseen;
        return s;
    }

private:
    struct Sum {
        double way_m = 0, net_J = 0, braked_J = 0, air_J = 0, rolling_J = 0;
        std::size_t unseen = 0;
    };
    const internal::SwitchedPath& path_;
    std::vector<Sum> all_;
};

//! One of the seen stretches of so many seconds that are most like the gap in slope and in what rider and brakes left over a metre, drawn by
//! u in 0..1. Nothing where too little was seen.   [EQ motion-8]
std::optional<Stretched> one_like(const Sums& sums, double slope, double net_J_m, std::size_t seconds, double mass_kg, double u) {
    constexpr std::size_t most_alike = 16, least = 4;
    constexpr double slope_apart = 0.02, net_apart_mps2 = 0.15;
    std::vector<std::pair<double, Stretched>> seen;
    for (std::size_t i = 0; i + seconds <= sums.seconds(); i += std::max<std::size_t>(1, seconds / 8)) {
        const Stretched x = sums.over(i, i + seconds);
        if (x.seen && x.way_m > standing_mps * static_cast<double>(seconds))
            seen.emplace_back(sq((x.slope - slope) / slope_apart) + sq((x.net_J / x.way_m - net_J_m) / (net_apart_mps2 * mass_kg)), x);
    }
    if (seen.size() < least) return {};
    const std::size_t k = std::min(most_alike, seen.size());
    std::partial_sort(seen.begin(), seen.begin() + static_cast<std::ptrdiff_t>(k), seen.end(), [](const auto& x, const auto& y) { return x.first < y.first; });
    return seen[std::min(k - 1, static_cast<std::size_t>(u * static_cast<double>(k)))].second;
}

// A gap in which the bike moved is bridged by the energy of its ends: what they leave over was braked, or pedalled. How long the way was is
// drawn by a normal z; air and rolling go with it. Both may have happened unseen, against each other: so much as in a stretch like it that
// was seen, drawn by u in 0..1.   [EQ motion-8]
void bridge_gaps(const Switching& w, const MotionPaths& motion, const MotionParameters& p, const internal::SwitchedPath& path, double u, double z, MotionPath& out) {
    const Sums sums(w, motion, p, path, out);
    for (std::size_t i = 0; i + 1 < w.n;) {
        if (path.mode[i] != Mode::unseen) {
            ++i;
            continue;
        }
        std::size_t j = i;
        while (j + 1 < w.n && path.mode[j] == Mode::unseen) ++j;
        const Stretched gap = sums.over(i, j);
        const double longer = std::exp(gap_way_share_sd * z);
        const double air_J = (longer * longer * longer - 1) * gap.air_J, rolling_J = (longer - 1) * gap.rolling_J;
        const double net_J = gap.net_J + air_J + rolling_J, way_m = longer * gap.way_m;
        double braked_J = std::max(0.0, -net_J);
        if (const auto like = one_like(sums, gap.slope / longer, net_J / way_m, j - i, p.mass_kg + p.rotating_kg, u))
            braked_J += std::max(0.0, like->braked_J - std::max(0.0, -like->net_J)) / like->way_m * way_m;
        for (std::size_t k = i; k < j; ++k) {
            out.brake_power_W[k] = braked_J / static_cast<double>(j - i);
            out.braking[k] = braked_J > 0;
        }
        out.brakes_J += braked_J;
        out.rider_J += net_J + braked_J;
        out.air_J += air_J;
        out.rolling_J += rolling_J;
        i = j;
    }
}

//! What the told wind is over second i; nothing where none was told with its direction.
Blow told_blow(const Switching& w, const MotionParameters& p, std::size_t i) {
    return p.wind_from ? blow_of(*p.wind_from, w.towards_x[i], w.towards_y[i]) : Blow{};
}

//! A wind told as speed and direction: the air is linear about it, and the wind states say what it is beyond it.   [EQ motion-17]
void put_wind_from(const Shared& s, const Switching& w, const MotionParameters& p, const std::vector<double>& density, Forces& f) {
    f.wind_var = sq(s.settings->wind_from_sd_mps);
    f.air_across.assign(w.n, 0.0);
    for (std::size_t i = 0; i + 1 < w.n; ++i) {
        const Blow blow = told_blow(w, p, i);
        const double ahead = w.speed_mps[i] + p.wind_mps + blow.ahead_mps, size = std::max(1e-6, std::hypot(ahead, blow.across_mps));
        const double half = 0.5 * density[i] * p.drag_area_m2 / f.effective_mass_kg, air = half * ahead * size;
        f.air_slope[i] = half * (size + ahead * ahead / size);
        f.air_across[i] = half * ahead * blow.across_mps / size;
        f.air_at_zero[i] = air - f.air_slope[i] * w.speed_at_mps[i];
        f.coast_var[i] = sq(drag_share_sd * air) + sq(f.air_slope[i] * gust_sd_mps);
    }
}

//! The forces of one set of parameters.
Forces forces_of(const Shared& s, const MotionPaths& motion, const Switching& w, const MotionParameters& p) {
    const std::size_t n = w.n;
    const double me = p.mass_kg + p.rotating_kg;
    Forces f;
    f.effective_mass_kg = me;
    f.weight_N = p.mass_kg * g_mps2;
    f.error_var = w.error_var;
    f.wind_var = w.wind_var;
    for (auto* v : {&f.rolling, &f.air_slope, &f.air_at_zero, &f.coast_var}) v->assign(n, 0.0);
    if (!w.meter_W.empty()) {
        f.meter_u.assign(n, 0.0);
        f.meter_var.assign(n, NAN);
    }
    std::vector<double> density(n, 1.2);
    for (std::size_t i = 0; i + 1 < n; ++i) {
        const double v = w.speed_mps[i];
        density[i] = air_density(std::clamp(motion.altitude_m[i], -500.0, 6000.0), p.air_degC);
        // [EQ motion-7] the forces of road and air about the smoothed speed.
        const double air = air_drag_N(p, density[i], v) / me;
        f.air_slope[i] = density[i] * p.drag_area_m2 * std::abs(v + p.wind_mps) / me;
        f.air_at_zero[i] = air - f.air_slope[i] * motion.speed_mps[i];
        f.rolling[i] = rolling_drag_N(p, motion.gradient[i]) / me;
        f.coast_var[i] = sq(drag_share_sd * air) + sq(f.air_slope[i] * gust_sd_mps);
        if (!w.meter_W.empty() && std::isfinite(w.meter_W[i])) {
            const double per_W = 1 / (me * std::max(v, 1.5));
            f.meter_u[i] = p.efficiency * w.meter_W[i] * per_W;
            f.meter_var[i] = sq(s.meter_sd_W[i] * per_W);
        }
    }
    if (p.wind_from) put_wind_from(s, w, p, density, f);
    // The level at which this rider pedals, from the first smoother where the road does not fall: centre of the prior.
    double sum_W = 0, count = 0;
    for (std::size_t i = 0; i + 1 < n; ++i) {
        if (s.still[i] || motion.bridged[i] || motion.gradient[i] < -0.01 || w.speed_mps[i] < 2) continue;
        const double W = (me * motion.acceleration_mps2[i] + slope_force_N(p, motion.gradient[i]) + rolling_drag_N(p, motion.gradient[i]) +
                          air_drag_N(p, density[i], w.speed_mps[i], told_blow(w, p, i))) * w.speed_mps[i];
        if (W < 40 || W > 700) continue;
        sum_W += W;
        ++count;
    }
    const double usual_W = s.settings->e_assist ? 300 : 140;
    f.pedal_W = std::clamp((sum_W + 300 * usual_W) / (count + 300), 0.5 * usual_W, 2 * usual_W);
    return f;
}

//! What a path says of itself beside its energies.
struct Telling {
    double likelihood = 0;        //!< log
    double wind_rms_mps = 0, wind_ahead_mps = 0;   //!< along the way, beyond the told one: root mean square, mean
};

//! The path with its account.   [EQ motion-13]
MotionPath accounted(const Context& ctx, const Shared& s, const MotionPaths& motion, const Switching& w, const MotionParameters& p, std::size_t key, const internal::SwitchedPath& path, Telling& telling) {
    const std::size_t n = s.grid.n;
    MotionPath out;
    out.parameters = p;
    out.brake_power_W.assign(n, 0.0);
    out.braking.assign(n, 0);
    const double me = p.mass_kg + p.rotating_kg;
    const bool meter = !s.meter_W.empty();
    double wind_square = 0, wind_sum = 0, riding_s = 0;
    // Second by second; heights and speeds by their differences, so that it telescopes.
    for (std::size_t i = 0; i + 1 < n; ++i) {
        if (s.grid.left_out[i]) continue;
        const double v0 = std::max(0.0, path.speed_mps[i]), v1 = std::max(0.0, path.speed_mps[i + 1]);
        const double v = 0.5 * (v0 + v1);
        out.height_J -= p.mass_kg * g_mps2 * (path.altitude_m[i + 1] - path.altitude_m[i]);
        out.motion_J += 0.5 * me * (v0 * v0 - v1 * v1);
        if (s.still[i]) continue;
        MotionParameters with_wind = p;
        with_wind.wind_mps += path.head_wind_mps[i];
        Blow told = told_blow(w, p, i);
        if (p.wind_from) told.across_mps += path.across_wind_mps[i];
        wind_square += sq(path.head_wind_mps[i]);
        wind_sum += path.head_wind_mps[i];
        ++riding_s;
        out.air_J += air_drag_N(with_wind, air_density(std::clamp(motion.altitude_m[i], -500.0, 6000.0), p.air_degC), v, told) * v;
        out.rolling_J += rolling_drag_N(p, motion.gradient[i]) * v;
        if (path.mode[i] == Mode::unseen) continue;
        const double net_W = me * path.u[i] * v;
        const bool metered = meter && std::isfinite(s.meter_sd_W[i]);
        const double rider_W = metered ? p.efficiency * s.meter_W[i] : path.mode[i] == Mode::pedalling || path.mode[i] == Mode::sprinting ? net_W : 0.0;
        out.rider_J += rider_W;
        if (path.mode[i] == Mode::braking_hard || path.mode[i] == Mode::braking_drag) {
            out.braking[i] = 1;
            out.brake_power_W[i] = (metered ? rider_W : 0.0) - net_W;
            out.brakes_J += out.brake_power_W[i];
        }
    }
    bridge_gaps(w, motion, p, path, uniform_of(ctx.seed, s.track->content_hash, key, 902), normal_quantile(std::clamp(uniform_of(ctx.seed, s.track->content_hash, key, 903), 1e-9, 1 - 1e-9)), out);
    telling = {path.log_likelihood, riding_s > 0 ? std::sqrt(wind_square / riding_s) : 0.0, riding_s > 0 ? wind_sum / riding_s : 0.0};
    return out;
}

//! One reading of what the altitude is, with all that follows from it.
struct Reading {
    Shared s;
    MotionPaths laid;
    Switching filter;
    double evidence = 0, share = 1;
    bool calm = false;   //!< next to nothing blows beyond what was told
};

//! Draws the paths of one reading that are listed in `which`, side by side.
void draw_side_by_side(const Context& ctx, const Reading& r, std::span<const MotionParameters> draws, std::span<const std::size_t> keys, std::span<const std::size_t> which,
                       std::vector<MotionPath>& paths, std::vector<Telling>& telling) {
    const std::uint64_t ride = r.s.track->content_hash;
    std::vector<Forces> own;
    std::vector<std::size_t> own_keys;
    for (const std::size_t k : which) {
        own.push_back(forces_of(r.s, r.laid, r.filter, draws[k]));
        own_keys.push_back(keys[k]);
        if (r.calm) own.back().wind_var *= sq(calm_share);
        // How far a satellite altitude may be off while the rider's laws hold decides between a drag and a flatter road, and is not
        // known: the learned error books 20 to 50 % too little on simulated hills, half of it 3 kJ/km too much where only coasting
        // was. Each path draws its share, so that the interval says so.
        if (r.s.altitude.source == AltitudeSource::satellite || r.s.altitude.source == AltitudeSource::terrain)
            own.back().error_var *= sq(0.2 + 0.8 * uniform_of(ctx.seed, ride, keys[k], 901));
    }
    std::vector<internal::SwitchedPath> switched(which.size());
    internal::switched_paths(r.filter, own, ctx.seed, ride, own_keys, switched);
    for (std::size_t j = 0; j < which.size(); ++j) paths[which[j]] = accounted(ctx, r.s, r.laid, r.filter, draws[which[j]], own_keys[j], switched[j], telling[which[j]]);
}

void put_model_error(const Shared& s, std::uint64_t seed, std::size_t key, MotionPath& path) {
    const double off = model_error(s, path.brakes_J, seed, key);
    for (double& W : path.brake_power_W) W *= off;
    path.brakes_J *= off;
    path.unexplained_J = path.height_J + path.motion_J + path.rider_J - path.air_J - path.rolling_J - path.brakes_J;
}

//! What the account leaves open, as a share of what height and rider gave.
double unexplained_share(const std::vector<MotionPath>& paths) {
    double open_J = 0, given_J = 1;
    for (const MotionPath& p : paths) {
        const double open = p.height_J + p.motion_J + p.rider_J - p.air_J - p.rolling_J - p.brakes_J;
        if (!std::isfinite(open)) continue;   // it counts for nothing, see narrow
        open_J += open;
        given_J += std::max(p.height_J, 0.0) + p.rider_J;
    }
    return std::abs(open_J) / given_J;
}

// The likeliest of each source, with shares by tempered evidence: the likelihood itself is too sure of itself, since no road and
// no recorder is quite as modelled. No source is likelier beforehand: a receiver taken for a barometer costs far more than a
// barometer taken for a receiver.   [EQ motion-5]
std::vector<Reading> likely_readings(std::vector<Reading> all) {
    constexpr double temper = 0.02;
    for (Reading& r : all)
        if (!std::isfinite(r.evidence)) r.evidence = -1e300;
    std::sort(all.begin(), all.end(), [](const Reading& x, const Reading& y) { return x.evidence > y.evidence; });
    std::vector<Reading> kept;
    double sum = 0;
    for (Reading& r : all) {
        if (std::any_of(kept.begin(), kept.end(), [&](const Reading& k) { return k.s.altitude.source == r.s.altitude.source; })) continue;
        r.share = std::exp(temper * (r.evidence - all.front().evidence));
        if (!kept.empty() && r.share < 0.05) continue;
        sum += r.share;
        kept.push_back(std::move(r));
    }
    for (Reading& r : kept) r.share /= sum;
    std::sort(kept.begin(), kept.end(), [](const Reading& x, const Reading& y) { return x.share > y.share; });
    return kept;
}

// What the motion says of the parameters: draws that make it likelier take the place of those that make it less likely, among
// the paths of one reading. Returns how many paths have no likelihood: they give way to the others.   [EQ motion-15]
std::size_t narrow(std::vector<MotionPath>& paths, const std::vector<std::size_t>& of, const std::vector<Telling>& telling) {
    std::size_t without = 0;
    const std::size_t groups = of.empty() ? 0 : *std::max_element(of.begin(), of.end()) + 1;
    for (std::size_t group = 0; group < groups; ++group) {
        std::vector<std::size_t> members;
        std::vector<double> likelihood;
        for (std::size_t k = 0; k < paths.size(); ++k)
            if (of[k] == group) {
                members.push_back(k);
                likelihood.push_back(telling[k].likelihood);
                without += !std::isfinite(likelihood.back());
            }
        if (members.empty()) continue;   // so few paths that none fell to it
        std::vector<std::size_t> copies = internal::copies_by_likelihood(likelihood);
        std::size_t donor = 0;
        const std::vector<MotionPath> before = [&] {
            std::vector<MotionPath> b;
            for (const std::size_t k : members) b.push_back(paths[k]);
            return b;
        }();
        for (std::size_t i = 0; i < members.size(); ++i) {
            if (copies[i] > 0) continue;
            while (copies[donor] <= 1) ++donor;
            --copies[donor];
            paths[members[i]] = before[donor];
        }
    }
    return without;
}

//! More work than legs do, by the middle of the draws in still air: a lift, a car, a motor or an altitude in feet. What the best riders hold is about
//! 7 W over 3 minutes and 6 W over 10 for each kilogram of bike and rider (common practice, no source).
std::optional<Fault> beyond_legs(const Shared& s, const MotionPaths& motion, const MotionParameters& p) {
    struct Limit {
        std::size_t seconds;
        double W_kg;
    };
    constexpr std::array<Limit, 2> limits = {{{180, 7}, {600, 6}}};
    if (s.settings->e_assist) return {};
    const std::size_t n = s.grid.n;
    std::vector<double> work_J(n + 1, 0.0), up_J(n + 1, 0.0);
    std::vector<std::size_t> aside(n + 1, 0);
    for (std::size_t i = 0; i < n; ++i) {
        const double v = i + 1 < n ? 0.5 * (motion.speed_mps[i] + motion.speed_mps[i + 1]) : 0.0;
        const double force = (p.mass_kg + p.rotating_kg) * motion.acceleration_mps2[i] + slope_force_N(p, motion.gradient[i]) + rolling_drag_N(p, motion.gradient[i]) + air_drag_N(p, motion.air_density_kgm3[i], v);
        work_J[i + 1] = work_J[i] + (s.still[i] ? 0.0 : force * v);
        up_J[i + 1] = up_J[i] + (s.still[i] ? 0.0 : slope_force_N(p, motion.gradient[i]) * v);
        aside[i + 1] = aside[i] + (s.grid.left_out[i] || s.grid.bridged[i]);
    }
    for (const Limit& limit : limits) {
        double most_W = 0;
        std::size_t at = 0;
        for (std::size_t i = 0; i + limit.seconds <= n; ++i) {
            const double W = (work_J[i + limit.seconds] - work_J[i]) / static_cast<double>(limit.seconds);
            if (aside[i + limit.seconds] == aside[i] && W > most_W) most_W = W, at = i;
        }
        if (!(most_W > limit.W_kg * p.mass_kg)) continue;
        if (up_J[at + limit.seconds] - up_J[at] <= 0.5 * (work_J[at + limit.seconds] - work_J[at]))
            return Fault{FaultKind::other, 1, static_cast<double>(limit.seconds),
                         fmt::format("For {} minutes from {}:{:02} h on the bike moved as if its rider gave {:.0f} W, more than legs do: it was carried or towed there, rode in a lorry's wake or with a gale behind that nobody told, had a motor that nobody "
                                     "told, or its speed or way is in another unit. What the brakes did is not to be relied on until that is put right.",
                                     limit.seconds / 60, at / 3600, at / 60 % 60, most_W)};
        return Fault{FaultKind::other, 1, static_cast<double>(limit.seconds),
                     fmt::format("For {} minutes from {}:{:02} h on the bike went up as if its rider gave {:.0f} W, more than legs do: it was carried there (a lift, a car, a tow), had a motor that nobody told, or the altitude is not in "
                                     "metres (feet would be 3.3 times too many). What the brakes did is not to be relied on until that is put right.",
                                     limit.seconds / 60, at / 3600, at / 60 % 60, most_W)};
    }
    return {};
}

//! Everything but the paths, for the altitude that s holds; fills s.still and the meter.
MotionPaths laid_out(const Track& track, Shared& s, double air_degC) {
    const std::size_t n = s.grid.n;
    MotionPaths out;
    out.altitude_source = s.altitude.source;
    out.altitude_m = s.altitude.altitude_m;
    out.gradient.assign(n, 0.0);
    out.speed_mps = s.along.speed_mps;
    // [EQ motion-6] from the map to the road: along a slope the way is longer than the map shows.
    for (std::size_t i = 0; i < n; ++i) {
        const double x = std::clamp(s.altitude.gradient[i], -0.7, 0.7);
        if (s.along.on_the_map) {
            out.gradient[i] = x;
            out.speed_mps[i] *= std::sqrt(1 + x * x);
        } else {
            out.gradient[i] = x / std::sqrt(1 - x * x);
        }
    }
    out.distance_m.assign(n, 0.0);
    out.acceleration_mps2.assign(n, 0.0);
    out.air_density_kgm3.assign(n, 0.0);
    out.bridged = s.grid.bridged;
    out.curvature_1pm = s.along.curvature_1pm;
    out.paused.assign(n, 0);
    s.still.assign(n, 0);
    for (std::size_t i = 0; i < n; ++i) {
        out.air_density_kgm3[i] = air_density(std::clamp(out.altitude_m[i], -500.0, 6000.0), air_degC);
        const double v = i + 1 < n ? 0.5 * (out.speed_mps[i] + out.speed_mps[i + 1]) : 0.0;
        if (i + 1 < n) {
            out.distance_m[i + 1] = out.distance_m[i] + (s.grid.left_out[i] ? 0.0 : v);
            out.acceleration_mps2[i] = out.speed_mps[i + 1] - out.speed_mps[i];
        }
        s.still[i] = v < standing_mps || s.grid.left_out[i];
        out.paused[i] = (s.grid.standing[i] && v < standing_mps) || s.grid.left_out[i];
    }
    put_meter(track, s);
    out.duration_s = track.t_s.back() - track.t_s.front();
    out.total_distance_m = out.distance_m.back();
    // Heights as the riding changed them: what a car or a lift did joins the road where it left it.
    const bool any_left_out = std::any_of(s.grid.left_out.begin(), s.grid.left_out.end(), [](std::uint8_t x) { return x != 0; });
    std::vector<double> ridden_m(n, 0.0);
    for (std::size_t i = 0; i < n; ++i) ridden_m[i] = i == 0 ? out.altitude_m[0] : s.grid.left_out[i - 1] ? ridden_m[i - 1] : ridden_m[i - 1] + (out.altitude_m[i] - out.altitude_m[i - 1]);
    const double dead_band_m = out.altitude_source == AltitudeSource::barometric ? 1.0 : 3.0;
    std::tie(out.ascent_m, out.descent_m) = gain_loss(any_left_out ? ridden_m : out.altitude_m, dead_band_m);
    out.faults = track.faults;
    for (const auto* more : {&s.grid.faults, &s.along.faults, &s.altitude.faults})
        for (const Fault& f : *more) {
            const bool known = std::any_of(out.faults.begin(), out.faults.end(), [&](const Fault& o) { return o.kind == f.kind; });
            if (!known || f.kind == FaultKind::other) out.faults.push_back(f);
        }
    return out;
}

// Share of the moving seconds that have a position near them.   [EQ motion-17]
double known_heading_share(const Track& track, const Grid& grid, const Along& along) {
    if (along.east.empty()) return 0;
    std::vector<std::uint8_t> near(grid.n, 0);
    double latitude_deg = std::nan(""), longitude_deg = latitude_deg;
    for (std::size_t k = 0; k < track.size(); ++k) {
        if (!std::isfinite(track.latitude_deg[k]) || !std::isfinite(track.longitude_deg[k])) continue;
        if (track.latitude_deg[k] == latitude_deg && track.longitude_deg[k] == longitude_deg) continue;   // a place that stands still leads nowhere
        latitude_deg = track.latitude_deg[k];
        longitude_deg = track.longitude_deg[k];
        const double at_s = track.t_s[k] - grid.t0_s;
        const auto from = static_cast<std::size_t>(std::max(0.0, std::ceil(at_s - position_near_s)));
        for (std::size_t i = from; i < grid.n && static_cast<double>(i) <= at_s + position_near_s; ++i) near[i] = 1;
    }
    double moving = 0, known = 0;
    for (std::size_t i = 0; i < grid.n; ++i) {
        if (grid.left_out[i] || !(std::abs(along.speed_mps[i]) >= standing_mps)) continue;
        moving += 1;
        known += near[i];
    }
    return moving > 0 ? known / moving : 0;
}

// 1: the way leads one way; 0: it comes back. Without positions every wind is from ahead.   [EQ motion-19]
double one_way_share(const Switching& w) {
    double x = 0, y = 0, moving = 0;
    for (std::size_t i = 0; i < w.n; ++i) {
        if (w.still[i]) continue;
        x += w.towards_x[i];
        y += w.towards_y[i];
        ++moving;
    }
    return moving > 0 ? std::hypot(x, y) / moving : 0;
}

MotionParameters middle_of(std::span<const MotionParameters> draws) {
    MotionParameters m{};
    m.efficiency = 0;
    m.air_degC = 0;
    const double k = 1.0 / static_cast<double>(draws.size());
    for (const MotionParameters& p : draws) {
        m.mass_kg += k * p.mass_kg;
        m.rotating_kg += k * p.rotating_kg;
        m.drag_area_m2 += k * p.drag_area_m2;
        m.rolling_resistance += k * p.rolling_resistance;
        m.efficiency += k * p.efficiency;
        m.wind_mps += k * p.wind_mps;
        m.air_degC += k * p.air_degC;
        if (p.wind_from) {
            if (!m.wind_from) m.wind_from = WindFrom{};
            m.wind_from->east_mps += k * p.wind_from->east_mps;
            m.wind_from->north_mps += k * p.wind_from->north_mps;
        }
    }
    return m;
}

}  // namespace

// Tempered, and never to fewer than a quarter's worth of different draws.   [EQ motion-15]
std::vector<std::size_t> internal::copies_by_likelihood(std::span<const double> log_likelihood) {
    constexpr double start_temper = 0.1;
    constexpr std::size_t least_m = 8;   // fewer say nothing of each other
    const std::size_t m = log_likelihood.size();
    std::vector<std::size_t> copies(m, 1);
    double best = -1e300;
    std::size_t with = 0;
    for (const double l : log_likelihood)
        if (std::isfinite(l)) {
            best = std::max(best, l);
            ++with;
        }
    if (with == 0 || (with == m && m < least_m)) return copies;
    std::vector<double> w(m);
    for (double temper = m < least_m ? 0 : start_temper;; temper *= 0.7) {
        double sum = 0, squares = 0;
        for (std::size_t i = 0; i < m; ++i) sum += w[i] = std::isfinite(log_likelihood[i]) ? std::exp(temper * (log_likelihood[i] - best)) : 0.0;
        for (double& x : w) squares += sq(x /= sum);
        if (1 / squares >= 0.25 * static_cast<double>(with)) break;
    }
    // Systematic: draw i gets the whole numbers that its stretch of the cumulated weights covers.
    double cumulated = 0;
    std::size_t given = 0, last = 0;
    for (std::size_t i = 0; i < m; ++i) {
        cumulated += w[i] * static_cast<double>(m);
        copies[i] = 0;
        if (w[i] > 0) last = i;
        while (given < m && static_cast<double>(given) + 0.5 <= cumulated) ++copies[i], ++given;
    }
    copies[last] += m - given;
    return copies;
}

std::string_view word_of(AltitudeSource s) {
    switch (s) {
        case AltitudeSource::barometric: return "barometric";
        case AltitudeSource::satellite: return "satellite";
        case AltitudeSource::terrain: return "terrain";
        case AltitudeSource::none: return "none";
    }
    return "none";
}

Result<MotionPaths> reconstruct(const Context& caller, const Track& track, const MotionSettings& settings,
                                std::span<const MotionParameters> draws, std::span<const std::size_t> keys) {
    assert(draws.size() == keys.size() && !draws.empty());
    if (track.size() < 2 || track.t_s.back() - track.t_s.front() < 3)
        return Error{Errc::bad_input, fmt::format("{}: {} timed record(s), too few for a ride; at least 3 s are needed", track.file, track.size())};
    for (const MotionParameters& p : draws)
        if (!(p.mass_kg > 0) || !(p.rotating_kg >= 0) || !(p.drag_area_m2 >= 0) || !(p.rolling_resistance >= 0) || !(p.efficiency > 0) ||
            !std::isfinite(p.wind_mps) || (p.wind_from && !(std::isfinite(p.wind_from->east_mps) && std::isfinite(p.wind_from->north_mps))) || !(p.air_degC > -90 && p.air_degC < 90))
            return Error{Errc::out_of_domain, fmt::format("{}: mass {} kg, drag area {} m², rolling resistance {}, efficiency {}, wind {} m/s, air {} °C: "
                                                          "one is outside its range", track.file, p.mass_kg, p.drag_area_m2, p.rolling_resistance,
                                                          p.efficiency, p.wind_mps, p.air_degC)};
    // Where something that was told is left aside all is drawn again: what was told of the progress stands until that has caught up.
    Context ctx = caller;
    double furthest = 0;
    if (caller.progress)
        ctx.progress = [&](double share, std::string_view text) {
            furthest = std::max(furthest, share);
            caller.progress(furthest, text);
        };
    Shared s{&track, &settings, internal::grid_of(track), {}, {}, {}, {}, {}, std::max(0.0, internal::mean_step_s(track) - slow_from_s)};
    if (ctx.progress) ctx.progress(0.0, "motion");
    Result<Along> along = internal::along_of(track, s.grid);
    if (!along) return along.error();
    s.along = std::move(*along);
    if (!s.along.moved) return Error{Errc::bad_input, fmt::format("{}: nothing moves in this recording", track.file)};
    if (ctx.stopped()) return Error{Errc::cancelled, "stopped"};
    if (ctx.progress) ctx.progress(0.3, "altitude");
    std::vector<MotionParameters> without_direction;
    const double known_share = known_heading_share(track, s.grid, s.along);
    if (draws.front().wind_from && known_share < least_known_share) {
        without_direction.assign(draws.begin(), draws.end());
        for (MotionParameters& p : without_direction) p.wind_from.reset();
        draws = without_direction;
        const std::string why = s.along.east.empty() ? std::string("this recording has no positions") : fmt::format("this recording has positions for only {:.0f} % of the riding", 100 * known_share);
        s.along.faults.push_back({FaultKind::other, 1, track.t_s.back() - track.t_s.front(),
                                  fmt::format("The wind was told with its direction, and {}: which way the bike went is not known, so the wind counts as one that nobody told. "
                                              "If you know the mean head wind along the way, tell that.", why)});
    }
    // The kind of altitude is judged by how well altitude and motion go together, with the middle of the draws.  [EQ motion-5]
    const MotionParameters middle = middle_of(draws);
    std::vector<Altitude> candidates = internal::altitudes_of(track, s.grid, s.along, settings.altitude);
    if (ctx.stopped()) return Error{Errc::cancelled, "stopped"};
    std::vector<Reading> readings(candidates.size());
    parallel_for(ctx, candidates.size(), [&](std::size_t c) {
        Reading& r = readings[c];
        r.s = {s.track, s.settings, s.grid, s.along, std::move(candidates[c]), {}, {}, {}, s.slow_s};
        r.laid = laid_out(track, r.s, middle.air_degC);
        r.filter = switching_of(r.s, r.laid);
    });
    if (ctx.stopped()) return Error{Errc::cancelled, "stopped"};
    if (readings.size() > 1) {
        std::vector<const Switching*> ways;
        std::vector<Forces> forces;
        for (const Reading& r : readings) {
            ways.push_back(&r.filter);
            forces.push_back(forces_of(r.s, r.laid, r.filter, middle));
        }
        // The motion counts for a quarter: a flexible error explains braking away, and the full likelihood then takes barometers
        // for receivers (seen on real recordings and on simulated ones).
        const std::vector<double> evidence = internal::switching_evidence(ctx, ways, forces);
        for (std::size_t c = 0; c < readings.size(); ++c) readings[c].evidence = readings[c].s.altitude.evidence + 0.25 * (evidence[c] - readings[c].s.altitude.evidence);
    }
    if (ctx.stopped()) return Error{Errc::cancelled, "stopped"};
    readings = likely_readings(std::move(readings));
    MotionPaths out = readings.front().laid;
    if (const double doubted_s = readings.front().filter.legs_doubted_s; doubted_s > 0)
        out.faults.push_back({FaultKind::other, 1, doubted_s, fmt::format("The cadence cannot be right for {:.0f} s in all (the very same value for over half a minute, or 0 where the bike kept its speed or climbed): it counts for nothing there.", doubted_s)});
    if (s.slow_s > slow_said_s)
        out.faults.push_back({FaultKind::other, 1, out.duration_s,
                              fmt::format("Records lie about {:.0f} s apart: a brake that comes and goes between two of them is not seen. The intervals are wider for it.", s.slow_s + slow_from_s)});
    if (const auto beyond = beyond_legs(readings.front().s, out, middle)) out.faults.push_back(*beyond);
    if (readings.size() > 1) {
        std::string words;
        for (const Reading& r : readings) words += fmt::format("{}{} ({:.0f} %)", words.empty() ? "" : ", ", word_of(r.s.altitude.source), 100 * r.share);
        out.faults.push_back({FaultKind::other, 1, out.duration_s, fmt::format("What kind of altitude this is cannot be told for sure: {}. Each is followed in its share of the cases; if you know, say it with --altitude.", words)});
    }
    // A told wind is doubted before a meter, and before mass, drag and rolling: it is hearsay of another place.   [EQ motion-17]
    const bool told = std::any_of(draws.begin(), draws.end(), [](const MotionParameters& p) { return p.wind_from || p.wind_mps != 0; });
    const auto without_wind = [&] {
        std::vector<MotionParameters> untold(draws.begin(), draws.end());
        for (MotionParameters& p : untold) {
            p.wind_from.reset();
            p.wind_mps = 0;
        }
        return reconstruct(ctx, track, settings, untold, keys);
    };
    const auto wind_left_aside = [&](MotionPaths& calm, const char* what) {
        calm.faults.push_back({FaultKind::other, 1, out.duration_s,
                               fmt::format("The wind as told does not fit {}: check its speed, with its unit, and its direction (where it comes from); it counts as one that nobody told.", what)});
    };
    if (told && readings.front().s.meter_W.empty()) {   // a meter has its own check below
        const Reading& r = readings.front();
        MotionParameters still = middle;
        still.wind_from.reset();
        still.wind_mps = 0;
        const Switching* const ways[] = {&r.filter, &r.filter};
        const std::vector<Forces> forces = {forces_of(r.s, r.laid, r.filter, middle), forces_of(r.s, r.laid, r.filter, still)};
        const std::vector<double> likelihood = internal::switching_evidence(ctx, ways, forces);
        if (likelihood[0] < likelihood[1] - unlikely_wind_nats) {
            Result<MotionPaths> calm = without_wind();
            if (calm) wind_left_aside(*calm, "this recording (the motion is far less likely with it than without)");
            return calm;
        }
    }
    const std::size_t K = draws.size();
    out.paths.resize(K);
    std::vector<std::size_t> of(K);
    for (std::size_t k = 0; k < K; ++k) {
        // Evenly over the paths: van der Corput's sequence in base 2.
        double at = 0.5 / static_cast<double>(K), digit = 0.5;
        for (std::size_t x = keys[k]; x > 0; x /= 2, digit /= 2) at += static_cast<double>(x % 2) * digit;
        while (of[k] + 1 < readings.size() && at >= readings[of[k]].share) at -= readings[of[k]++].share;
    }
    std::vector<Telling> telling(K);
    // In blocks, so that progress is told and a stop is heard from the calling thread.
    const auto draw_paths = [&](const auto& which) {
        std::vector<std::vector<std::size_t>> groups;
        for (std::size_t reading = 0; reading < readings.size(); ++reading) {
            bool open = false;
            for (std::size_t k = 0; k < K; ++k) {
                if (of[k] != reading || !which(k)) continue;
                if (!open) groups.emplace_back();
                groups.back().push_back(k);
                open = groups.back().size() < internal::paths_at_once();
            }
        }
        const auto block = static_cast<std::size_t>(std::max(1, ctx.threads));
        for (std::size_t from = 0; from < groups.size() && !ctx.stopped(); from += block) {
            if (ctx.progress) ctx.progress(0.4 + 0.6 * static_cast<double>(from) / static_cast<double>(groups.size()), "braking");
            parallel_for(ctx, std::min(block, groups.size() - from), [&](std::size_t x) {
                const std::vector<std::size_t>& group = groups[from + x];
                draw_side_by_side(ctx, readings[of[group.front()]], draws, keys, group, out.paths, telling);
            });
        }
    };
    const auto all_of_them = [](std::size_t) { return true; };
    draw_paths(all_of_them);
    // A meter that does not measure all that drives (a motor, one leg of two) leaves much unexplained, or finds a gale to account
    // for it: then rather none. [EQ motion-11]
    const auto gale = [&] {
        double sum = 0;
        for (const Telling& t : telling) sum += std::isfinite(t.wind_rms_mps) ? t.wind_rms_mps : 0.0;
        return sum > most_wind_mps * static_cast<double>(K);
    };
    if (!readings.front().s.meter_W.empty() && !ctx.stopped() && (unexplained_share(out.paths) > most_unexplained || gale())) {
        if (told) {
            Result<MotionPaths> calm = without_wind();
            if (!calm) return calm;
            if (!calm->meter_left_aside) {
                wind_left_aside(*calm, "the power meter");
                return calm;
            }
        }
        for (Reading& r : readings) {
            r.s.meter_W.clear();
            r.filter.meter_W.clear();
        }
        out.meter_left_aside = true;
        out.faults.push_back({FaultKind::other, 1, out.duration_s, "The power recorded does not account for the motion (a motor, a meter that reads wrong, or another mass): it is left aside."});
        draw_paths(all_of_them);
    }
    // A wind that is hardly ever so strong, found where the road leads one way, is as likely a brake that drags: the likelihood prefers the
    // wind, since no brake is expected to be so steady. Two thirds of the cases are drawn as if next to nothing blew beyond what was told, and do
    // not compete with the others. Evenly over the paths by the golden section: in base 2 and 3 other things are dealt out.   [EQ motion-19]
    const double unknown_sd_mps = draws.front().wind_from ? settings.wind_from_sd_mps : settings.wind_sd_mps;
    double ahead_mps = 0, counted = 0;   // of a draw without a likelihood it is not known
    for (const Telling& t : telling)
        if (std::isfinite(t.wind_ahead_mps)) ahead_mps += t.wind_ahead_mps, ++counted;
    ahead_mps /= std::max(counted, 1.0);
    if (ahead_mps > unlikely_wind_sd * unknown_sd_mps && one_way_share(readings.front().filter) > one_way && !ctx.stopped()) {
        const std::size_t kinds = readings.size();
        for (std::size_t k = 0; k < K; ++k) {
            const double at = 0.6180339887498949 * static_cast<double>(keys[k] + 1);
            if (at - std::floor(at) < calm_odds) of[k] += kinds;
        }
        for (std::size_t r = 0; r < kinds; ++r) {
            readings.push_back(readings[r]);
            readings.back().calm = true;
        }
        draw_paths([&](std::size_t k) { return readings[of[k]].calm; });
        out.faults.push_back({FaultKind::other, 1, out.duration_s,
                              fmt::format("A head wind of {:.1f} m/s{} and a brake that drags steadily look alike here, for the way leads one way: a third of the likely cases take it for the wind, the others for the brake. Go by the hotter end of the intervals. A speed sensor on the wheel tells more{}.", ahead_mps,
                                          told ? " beyond what was told" : "", told ? "" : ", and so does the wind of that hour if it is told")});
    }
    if (ctx.stopped()) return Error{Errc::cancelled, "stopped"};
    if (draws.front().wind_from) {
        out.way_east = s.along.east;
        out.way_north = s.along.north;
    }
    const double open_share = unexplained_share(out.paths);
    if (const std::size_t without = narrow(out.paths, of, telling); without > 0)
        out.faults.push_back({FaultKind::other, 1, out.duration_s,
                              without == K ? std::string("How likely this recording is could not be reckoned for any of the likely cases: nothing was learned from it of mass, drag and rolling. Check the description of the bike and the file.")
                                           : fmt::format("How likely this recording is could not be reckoned for {} of {} likely cases: they count for nothing. Check the description of the bike and the file.", without, K)});
    // Narrowing may hide what a told wind leaves open behind a few unlikely draws
    if (told && std::max(unexplained_share(out.paths), open_share) > most_unexplained) {
        Result<MotionPaths> calm = without_wind();
        if (!calm) return calm;
        if (calm->meter_left_aside == out.meter_left_aside && unexplained_share(calm->paths) <= most_unexplained) {
            wind_left_aside(*calm, "this recording (with it, height and rider do not account for the motion)");
            return calm;
        }
    }
    for (std::size_t k = 0; k < K; ++k) put_model_error(readings[of[k]].s, ctx.seed, keys[k], out.paths[k]);
    if (ctx.progress) ctx.progress(1.0, "braking");
    return out;
}

std::vector<Application> applications_of(const MotionPaths& m) {
    constexpr double on_W = 20, join_s = 2, least_J = 100, sure_share = 0.3;
    const std::size_t n = m.size();
    std::vector<Application> found;
    if (m.paths.empty()) return found;
    std::vector<double> mean(n, 0.0), on(n, 0.0);
    for (const MotionPath& p : m.paths)
        for (std::size_t i = 0; i < n; ++i) {
            mean[i] += p.brake_power_W[i] / static_cast<double>(m.paths.size());
            on[i] += (p.brake_power_W[i] != 0 ? 1.0 : 0.0) / static_cast<double>(m.paths.size());
        }
    std::vector<Application> joined;
    for (std::size_t i = 0; i < n; ++i) {
        if (mean[i] <= on_W) continue;
        const double t = static_cast<double>(i);
        if (!joined.empty() && t - joined.back().end_s < join_s) joined.back().end_s = t + 1;
        else joined.push_back({t, t + 1, 0, 0, 0});
    }
    for (Application a : joined) {
        double surest = 0;
        for (auto i = static_cast<std::size_t>(a.start_s); i < static_cast<std::size_t>(a.end_s); ++i) {
            surest = std::max(surest, on[i]);
            a.energy_J += mean[i];
            a.peak_W = std::max(a.peak_W, mean[i]);
        }
        a.mean_W = a.energy_J / (a.end_s - a.start_s);
        if (a.energy_J >= least_J && surest >= sure_share) found.push_back(a);
    }
    return found;
}

}  // namespace bw::ride
