// SPDX-License-Identifier: Apache-2.0
// Motion along the way: from positions, recorded distance and recorded speed to one smoothed speed.       Layer: ride
// Theory: docs/models/motion.md [EQ motion-3..4].
#include <GeographicLib/LocalCartesian.hpp>
#include <algorithm>
#include <array>
#include <cmath>
#include <fmt/format.h>

#include "base/interval.hpp"
#include "motion_filter.hpp"
#include "motion_parts.hpp"
#include "ride/describe.hpp"

namespace bw::ride::internal {
namespace {

constexpr double gate = 25;              // squared innovation: 5 sd; a bounded pull beyond
constexpr double memory = 0.9;           // of the acceleration from second to second
constexpr double fastest_mps = 33;       // 120 km/h: no increment above this is taken at its word
constexpr double longest_step_s = 10;    // between records of which the pace of the next ones tells
constexpr double gap_path_share_sd = 0.12;
constexpr double slowest_gap_mps = 0.7;  // slower than a walk: the recorder was off, not the road long

double sq(double x) { return x * x; }

//! One measurement tied to a second, with the time that has passed since.
struct Timed {
    std::size_t second = 0;
    double offset_s = 0, y = 0, sd_factor = 1;
};

//! Measurements of one kind in order of the seconds, with the first of each second.
struct Channel {
    std::vector<Timed> rows;
    std::vector<std::size_t> first;   // [n + 1]
    void index(std::size_t n) {
        first.assign(n + 1, 0);
        for (const Timed& r : rows) ++first[r.second + 1];
        for (std::size_t i = 0; i < n; ++i) first[i + 1] += first[i];
    }
};

Timed timed(const Grid& grid, double t_s, double y) {
    const double since = t_s - grid.t0_s;
    auto second = static_cast<std::size_t>(std::max(0.0, std::floor(since + 0.5)));
    second = std::min(second, grid.n - 1);
    return {second, since - static_cast<double>(second), y, 1};
}

// Plane position by constant-ish acceleration: state (x, v, a).
struct PlaneModel {
    const Grid* grid;
    const Channel* x;
    const std::vector<double>* jump_var;   // [n] variance added to the position on the step i -> i+1
    double sd, q;
    std::size_t size() const { return grid->n; }
    void start(Vec<3>& m, Mat<3>& P) const {
        m << (x->rows.empty() ? 0.0 : x->rows.front().y), 0, 0;
        P = Vec<3>(100, 100, 1).asDiagonal();
    }
    void step(std::size_t i, Mat<3>& F, Mat<3>& Q) const {
        F << 1, 1, 0.5, 0, 1, 1, 0, 0, memory;
        Q.setZero();
        Q(0, 0) = 1e-6 + (*jump_var)[i];
        Q(1, 1) = 1e-6;
        Q(2, 2) = q * q;
    }
    int readings(std::size_t i, Reading<3>* out) const {
        int count = 0;
        for (std::size_t r = x->first[i]; r < x->first[i + 1] && count < 6; ++r, ++count) {
            const Timed& z = x->rows[r];
            out[count].h << 1, z.offset_s, 0.5 * sq(z.offset_s);
            out[count].y = z.y;
            out[count].variance = sq(sd);
        }
        if (grid->standing[i]) {
            out[count].h << 0, 1, 0;
            out[count].y = 0;
            out[count].variance = 0.01;
            ++count;
        }
        return count;
    }
};

//! Seconds after whose reading the distance is counted afresh, from offset_s after the second: readings are then of the way since
//! the reading before, as they must be where a position's error wanders rather than jitters.
struct Afresh {
    std::vector<std::uint8_t> at;     // [n] or empty
    std::vector<double> offset_s;     // [n]
};

// Along the way: state (D, v, a) and, N = 4, the speed as a lagging channel shows it.
template <int N> struct AlongModel {
    const Grid* grid;
    const Channel *distance, *speed;
    const Afresh* afresh;                 // empty: the distance runs on
    const std::vector<double>* jump_var;
    const std::vector<double>* q_scale;   // [n] variance factor of the step's jerk
    double distance_sd, speed_sd, q, lag;
    double start_mps;
    std::size_t size() const { return grid->n; }
    void start(Vec<N>& m, Mat<N>& P) const {
        m.setZero();
        m(0) = distance->rows.empty() ? 0.0 : distance->rows.front().y;
        m(1) = start_mps;
        P.setZero();
        P(0, 0) = 25;
        P(1, 1) = 16;
        P(2, 2) = 0.25;
        if constexpr (N == 4) {
            m(3) = start_mps;
            P(3, 3) = 16.01;
            P(1, 3) = P(3, 1) = 16;
        }
    }
    void step(std::size_t i, Mat<N>& F, Mat<N>& Q) const {
        F.setZero();
        F(0, 0) = 1;
        F(0, 1) = 1;
        F(0, 2) = 0.5;
        if (!afresh->at.empty() && afresh->at[i]) {
            F(0, 0) = 0;
            F(0, 1) -= afresh->offset_s[i];
        }
        F(1, 1) = 1;
        F(1, 2) = 1;
        F(2, 2) = memory;
        Q.setZero();
        Q(0, 0) = 1e-6 + (*jump_var)[i];
        Q(1, 1) = 1e-6;
        Q(2, 2) = q * q * (*q_scale)[i];
        if constexpr (N == 4) {
            F(3, 3) = lag;
            F(3, 1) = F(3, 2) = 1 - lag;
            Q(3, 3) = 1e-5;
        }
    }
    int readings(std::size_t i, Reading<N>* out) const {
        int count = 0;
        for (std::size_t r = distance->first[i]; r < distance->first[i + 1] && count < 3; ++r, ++count) {
            const Timed& z = distance->rows[r];
            out[count].h.setZero();
            out[count].h(0) = 1;
            out[count].h(1) = z.offset_s;
            out[count].h(2) = 0.5 * sq(z.offset_s);
            out[count].y = z.y;
            out[count].variance = sq(distance_sd * z.sd_factor);
        }
        for (std::size_t r = speed->first[i], k = 0; r < speed->first[i + 1] && k < 3; ++r, ++k, ++count) {
            const Timed& z = speed->rows[r];
            out[count].h.setZero();
            out[count].h(N == 4 ? 3 : 1) = 1;
            if (N == 3) out[count].h(2) = z.offset_s;
            out[count].y = z.y;
            out[count].variance = sq(speed_sd);
        }
        if (grid->standing[i]) {
            out[count].h.setZero();
            out[count].h(1) = 1;
            out[count].y = 0;
            out[count].variance = sq(0.05);
            ++count;
        }
        return count;
    }
};

// Puts the records' cumulated displacement together; what cannot be believed is bridged at the usual speed.
struct Cumulated {
    Channel channel;
    std::vector<double> jump_var;   // [n]
    int jumps = 0;
};

template <class Increment>
Cumulated cumulate(const Track& track, const Grid& grid, const std::vector<std::size_t>& used, double gap_s, const Increment& increment) {
    Cumulated c;
    c.jump_var.assign(grid.n, 0.0);
    // usual speed about each record, robust: the median of the increments within +-10 records
    std::vector<double> inc(used.size(), 0.0), pace(used.size(), 0.0);
    for (std::size_t k = 1; k < used.size(); ++k) {
        inc[k] = increment(k);
        pace[k] = inc[k] / (track.t_s[used[k]] - track.t_s[used[k - 1]]);
    }
    double total = 0;
    for (std::size_t k = 0; k < used.size(); ++k) {
        if (k > 0) {
            const double dt = track.t_s[used[k]] - track.t_s[used[k - 1]];
            const std::size_t second = std::min(grid.n - 2, static_cast<std::size_t>(std::max(0.0, track.t_s[used[k]] - grid.t0_s - 0.5)));
            double d = inc[k];
            const bool broken = track.break_before.size() == track.size() && track.break_before[used[k]] && dt > 2.5;
            if (dt > gap_s || broken) {
                // A gap: the road is longer than the chord, and the bike kept about its pace.   [EQ motion-8]
                double around = 0;
                int count = 0;
                for (std::size_t j = 1; j < used.size(); ++j) {
                    const double away = std::min(std::abs(track.t_s[used[j]] - track.t_s[used[k - 1]]), std::abs(track.t_s[used[j]] - track.t_s[used[k]]));
                    if (away > 60 || j == k) continue;
                    around += std::abs(pace[j]);
                    ++count;
                }
                const bool moved = std::abs(d) > 30 && std::abs(d) / dt > slowest_gap_mps;
                if (moved) {
                    const double pace_mps = count > 0 ? around / count : 0;
                    d = std::clamp(pace_mps * dt, 1.05 * std::abs(d), 1.6 * std::abs(d));
                    c.jump_var[second] += sq(gap_path_share_sd * d);
                } else {
                    d = 0;
                    c.jump_var[second] += 25;
                }
            } else {
                std::vector<double> near;
                for (std::size_t j = k > 8 ? k - 8 : 1; j < std::min(used.size(), k + 9); ++j) near.push_back(pace[j]);
                const double usual = quantile(near, 0.5);
                // Over a longer step a bicycle may have done anything up to its top speed.
                const bool leap = dt <= longest_step_s && std::abs(pace[k] - usual) * dt > 15 + 3 * std::abs(usual) * std::min(dt, 2.0);
                if (leap || std::abs(pace[k]) > fastest_mps) {
                    d = usual * dt;
                    c.jump_var[second] += sq(0.5 * d + 1);
                    ++c.jumps;
                }
            }
            total += d;
        }
        c.channel.rows.push_back(timed(grid, track.t_s[used[k]], total));
    }
    c.channel.index(grid.n);
    return c;
}

//! Direction of the way and its turning, from the smoothed plane motion; kept through standstills.
void put_heading(const Smoothed<3>& x, const Smoothed<3>& y, Along& out) {
    const std::size_t n = x.mean.size();
    out.east.assign(n, 1.0);
    out.north.assign(n, 0.0);
    out.curvature_1pm.assign(n, 0.0);
    double e = 1, m = 0;
    std::size_t known = n;
    for (std::size_t i = 0; i < n; ++i) {
        const double vx = x.mean[i](1), vy = y.mean[i](1), v = std::hypot(vx, vy);
        if (v > 0.8) {
            e = vx / v;
            m = vy / v;
            // d(heading)/d(way) = (v x a) / v³
            out.curvature_1pm[i] = (vx * y.mean[i](2) - vy * x.mean[i](2)) / (v * v * v);
            if (known == n) {
                known = i;
                for (std::size_t k = 0; k < i; ++k) out.east[k] = e, out.north[k] = m;
            }
        }
        out.east[i] = e;
        out.north[i] = m;
    }
}

Cumulated from_positions(const Track& track, const Grid& grid, Along& out) {
    std::vector<std::size_t> used;
    for (std::size_t k = 0; k < track.size(); ++k)
        if (std::isfinite(track.latitude_deg[k]) && std::isfinite(track.longitude_deg[k])) used.push_back(k);
    const double gap_s = gap_threshold_s(track);
    // East and north on the tangent plane at the first record: 1e-4 short at 100 km, less than a wheel's spread.
    const GeographicLib::LocalCartesian plane(track.latitude_deg[used[0]], track.longitude_deg[used[0]], 0);
    std::vector<double> east(used.size()), north(used.size());
    Channel ex, ny;
    std::vector<double> jump_var(grid.n, 0.0);
    for (std::size_t k = 0; k < used.size(); ++k) {
        double up = 0;
        plane.Forward(track.latitude_deg[used[k]], track.longitude_deg[used[k]], 0, east[k], north[k], up);
        ex.rows.push_back(timed(grid, track.t_s[used[k]], east[k]));
        ny.rows.push_back(timed(grid, track.t_s[used[k]], north[k]));
        if (k > 0 && track.t_s[used[k]] - track.t_s[used[k - 1]] > gap_s) {
            const std::size_t second = std::min(grid.n - 2, ex.rows.back().second > 0 ? ex.rows.back().second - 1 : 0);
            jump_var[second] += sq(east[k] - east[k - 1]) + sq(north[k] - north[k - 1]) + 25;
        }
    }
    ex.index(grid.n);
    ny.index(grid.n);
    double best = -1e300;
    PlaneModel model{&grid, &ex, &jump_var, 1, 0.3};
    for (double sd : {0.1, 0.25, 0.5, 1.0, 1.8, 3.0, 5.0})
        for (double q : {0.15, 0.35, 0.8}) {
            model.sd = sd;
            model.q = q;
            model.x = &ex;
            double l = filter<3>(model, gate, nullptr);
            model.x = &ny;
            l += filter<3>(model, gate, nullptr);
            if (l > best) {
                best = l;
                out.position_sd_m = sd;
                out.jerk_sd_mps2 = q;
            }
        }
    model.sd = out.position_sd_m;
    model.q = out.jerk_sd_mps2;
    model.x = &ex;
    const Smoothed<3> sx = smooth<3>(model, gate);
    model.x = &ny;
    const Smoothed<3> sy = smooth<3>(model, gate);

    // Displacements projected on the smoothed heading: jitter then has no bias, as it has in chords.   [EQ motion-4]
    double hx = 1, hy = 0;
    const auto increment = [&](std::size_t k) {
        const std::size_t a = ex.rows[k - 1].second, b = ex.rows[k].second;
        const double dt = std::max(0.2, track.t_s[used[k]] - track.t_s[used[k - 1]]);
        double factor = 1;
        const double dx = sx.mean[b](0) - sx.mean[a](0), dy = sy.mean[b](0) - sy.mean[a](0);
        const double rx = east[k] - east[k - 1], ry = north[k] - north[k - 1];
        if (dt > gap_s) return std::hypot(rx, ry);
        const double d = std::hypot(dx, dy);
        if (d > 0.8 * dt) {
            hx = dx / d;
            hy = dy / d;
            const double turn = std::atan2(sx.mean[a](1) * sy.mean[b](1) - sy.mean[a](1) * sx.mean[b](1),
                                           sx.mean[a](1) * sx.mean[b](1) + sy.mean[a](1) * sy.mean[b](1));
            const double half = 0.5 * std::min(std::abs(turn), 2.0);
            if (half > 1e-3) factor = half / std::sin(half);
        }
        return (rx * hx + ry * hy) * factor;
    };
    Cumulated c = cumulate(track, grid, used, gap_s, increment);
    put_heading(sx, sy, out);
    return c;
}

Cumulated from_distance(const Track& track, const Grid& grid) {
    std::vector<std::size_t> used;
    for (std::size_t k = 0; k < track.size(); ++k)
        if (std::isfinite(track.distance_m[k])) used.push_back(k);
    return cumulate(track, grid, used, gap_threshold_s(track),
                    [&](std::size_t k) { return std::max(0.0, track.distance_m[used[k]] - track.distance_m[used[k - 1]]); });
}

std::size_t finite_count(const std::vector<double>& v) {
    return static_cast<std::size_t>(std::count_if(v.begin(), v.end(), [](double x) { return std::isfinite(x); }));
}

//! The way since the reading before, one reading a second at most.
struct Increments {
    Channel channel;
    Afresh afresh;
};
Increments increments_of(const Grid& grid, const Channel& total, double gap_s) {
    Increments d;
    d.afresh.at.assign(grid.n, 0);
    d.afresh.offset_s.assign(grid.n, 0.0);
    double last_t = 0, last_y = 0;
    bool any = false;
    for (std::size_t k = 0; k < total.rows.size(); ++k) {
        const Timed& z = total.rows[k];
        if (k + 1 < total.rows.size() && total.rows[k + 1].second == z.second) continue;
        const double t = static_cast<double>(z.second) + z.offset_s;
        Timed r = z;
        r.y = any ? z.y - last_y : 0;
        const double dt = any ? t - last_t : 1;
        // A wander of 2.5 s: what it adds between two readings grows and then stays.
        r.sd_factor = std::sqrt((1 - std::exp(-std::min(dt, gap_s) / 2.5)) / (1 - std::exp(-1 / 2.5)));
        d.channel.rows.push_back(r);
        d.afresh.at[z.second] = 1;
        d.afresh.offset_s[z.second] = z.offset_s;
        last_t = t;
        last_y = z.y;
        any = true;
    }
    d.channel.index(grid.n);
    return d;
}

template <int N> void learn_and_smooth(AlongModel<N> model, Along& out) {
    const std::size_t n = model.size();
    std::vector<double> q_scale(n, 1.0);
    model.q_scale = &q_scale;
    Smoothed<N> s;
    // Student-t jerk: a step whose smoothed jerk is large gets its variance raised, the others theirs lowered (4 degrees of
    // freedom, expectation-maximisation), so that hard stops keep their edges while steady riding stays smooth.
    for (int round = 0; round < 4; ++round) {
        s = smooth<N>(model, gate);
        if (round == 3) break;
        for (std::size_t i = 0; i + 1 < n; ++i) {
            const double w = s.mean[i + 1](2) - memory * s.mean[i](2);
            const double var = s.cov[i + 1](2, 2) + sq(memory) * s.cov[i](2, 2) - 2 * memory * s.lag_cov[i](2, 2);
            q_scale[i] = std::clamp((4 + (w * w + std::max(0.0, var)) / sq(model.q)) / 5, 0.5, 60.0);
        }
    }
    out.distance_m.assign(n, s.mean[0](0));
    out.speed_mps.resize(n);
    for (std::size_t i = 0; i < n; ++i) {
        out.speed_mps[i] = s.mean[i](1);
        if (i == 0) continue;
        const bool anew = !model.afresh->at.empty() && model.afresh->at[i - 1];
        out.distance_m[i] = out.distance_m[i - 1] + s.mean[i](0) - (anew ? -model.afresh->offset_s[i - 1] * s.mean[i - 1](1) : s.mean[i - 1](0));
    }
}

}  // namespace

double resolution_of(const std::vector<double>& values) {
    std::vector<double> steps;
    for (std::size_t i = 1; i < values.size(); ++i) {
        const double d = std::abs(values[i] - values[i - 1]);
        if (std::isfinite(d) && d > 1e-4) steps.push_back(d);
    }
    if (steps.size() < 20) return 0;
    for (double r : {1.0, 0.5, 0.2, 0.1, 0.05, 0.01}) {
        std::size_t hits = 0;
        for (double d : steps)
            if (std::abs(d / r - std::round(d / r)) * r < 2e-3 + 0.02 * r) ++hits;
        if (static_cast<double>(hits) >= 0.97 * static_cast<double>(steps.size())) return r;
    }
    return 0;
}

Grid grid_of(const Track& track) {
    Grid g;
    g.t0_s = track.t_s.front();
    g.n = static_cast<std::size_t>(std::ceil(track.t_s.back() - g.t0_s - 1e-9)) + 1;
    g.standing.assign(g.n, 0);
    g.bridged.assign(g.n, 0);
    g.left_out.assign(g.n, 0);
    Fault vehicle{FaultKind::vehicle, 0, 0, ""}, off{FaultKind::gap_moving, 0, 0, ""};
    for (const Stretch& s : stretches_of(track)) {
        const double from = s.from_s - g.t0_s, to = s.to_s - g.t0_s;
        bool carried = false;
        if (s.kind == FaultKind::gap_moving && track.latitude_deg.size() == track.size()) {
            // Slower than a walk from end to end: the recorder was off, and nothing is known of how the bike got there.
            std::size_t a = 0, b = 0;
            bool got_a = false, got_b = false;
            for (std::size_t k = 0; k < track.size(); ++k) {
                if (!std::isfinite(track.latitude_deg[k])) continue;
                if (track.t_s[k] <= s.from_s + 1e-6) a = k, got_a = true;
                if (!got_b && track.t_s[k] >= s.to_s - 1e-6) b = k, got_b = true;
            }
            carried = got_a && got_b && ground_distance_m(track.latitude_deg[a], track.longitude_deg[a], track.latitude_deg[b], track.longitude_deg[b]) < slowest_gap_mps * (s.to_s - s.from_s);
        }
        for (std::size_t i = 0; i < g.n; ++i) {
            const double t = static_cast<double>(i);
            if (s.kind == FaultKind::pause) {
                if (t >= from && t <= to) g.standing[i] = 1;
            } else if (t + 0.5 > from && t + 0.5 < to) {
                if (s.kind == FaultKind::vehicle || carried) g.left_out[i] = 1;
                else g.bridged[i] = 1;
            }
        }
        if (s.kind == FaultKind::vehicle) ++vehicle.count, vehicle.seconds += to - from;
        if (carried) ++off.count, off.seconds += to - from;
    }
    if (vehicle.count > 0) {
        vehicle.text = fmt::format("{} stretch{} in a vehicle or lift, {:.0f} s, left out of the account", vehicle.count, vehicle.count == 1 ? "" : "es", vehicle.seconds);
        g.faults.push_back(vehicle);
    }
    if (off.count > 0) {
        off.text = fmt::format("the recorder was off for {:.0f} s while the bike went elsewhere: left out of the account", off.seconds);
        g.faults.push_back(off);
    }
    return g;
}

double mean_step_s(const Track& track) {
    const double gap_s = gap_threshold_s(track);
    double sum = 0, squares = 0;
    for (std::size_t k = 1; k < track.size(); ++k) {
        const double dt = track.t_s[k] - track.t_s[k - 1];
        if (dt > gap_s) continue;
        sum += dt;
        squares += sq(dt);
    }
    return sum > 0 ? squares / sum : 1.0;
}

Result<Along> along_of(const Track& track, const Grid& grid) {
    Along out;
    const bool position = track.latitude_deg.size() == track.size() && finite_count(track.latitude_deg) >= 2 && track.longitude_deg.size() == track.size();
    const bool distance = track.distance_m.size() == track.size() && finite_count(track.distance_m) >= 2;
    const bool speed = track.speed_mps.size() == track.size() && finite_count(track.speed_mps) * 2 >= track.size();
    if (!position && !distance && !speed)
        return Error{Errc::bad_input, fmt::format("{}: neither speed, distance nor position is recorded, so the motion is not known; "
                                                  "take a recording with at least one of them, or describe the ride", track.file)};
    Cumulated c;
    if (position) c = from_positions(track, grid, out);
    if (distance) c = from_distance(track, grid);
    else if (position) {}
    else {
        c.jump_var.assign(grid.n, 0.0);
        c.channel.index(grid.n);
    }
    if (c.jumps > 0)
        out.faults.push_back({distance ? FaultKind::other : FaultKind::position_jump, c.jumps, static_cast<double>(c.jumps),
                              fmt::format("{} jump{} in the {} replaced by the usual speed around {}", c.jumps, c.jumps == 1 ? "" : "s",
                                          distance ? "recorded distance" : "positions", c.jumps == 1 ? "it" : "them")});
    out.on_the_map = !distance && !speed;
    Channel v;
    if (speed)
        for (std::size_t k = 0; k < track.size(); ++k)
            if (std::isfinite(track.speed_mps[k])) v.rows.push_back(timed(grid, track.t_s[k], track.speed_mps[k]));
    v.index(grid.n);

    const std::vector<double> ones(grid.n, 1.0);
    const double start = speed ? v.rows.front().y : 3.0;
    const Increments since = increments_of(grid, c.channel, gap_threshold_s(track));
    const Afresh never;
    AlongModel<3> plain{&grid, &c.channel, &v, &never, &c.jump_var, &ones, 1, 0.06, 0.2, 0, start};
    double best = -1e300;
    std::vector<double> distance_sds = {0.1, 0.25, 0.5, 1.0, 1.8, 3.0, 5.0}, speed_sds = {0.06};
    if (speed) speed_sds = {0.04, 0.08, 0.16, 0.35}, distance_sds = {0.3, 1.0, 3.0};
    if (!distance && !position) distance_sds = {1.0};
    double distance_sd = 1, speed_sd = 0.06, q = 0.2;
    const bool places = !c.channel.rows.empty();
    for (const bool anew : {false, true}) {
        if (anew && !places) continue;
        plain.distance = anew ? &since.channel : &c.channel;
        plain.afresh = anew ? &since.afresh : &never;
        for (double ds : distance_sds)
            for (double vs : speed_sds)
                for (double qq : {0.06, 0.12, 0.25, 0.5}) {
                    plain.distance_sd = ds;
                    plain.speed_sd = vs;
                    plain.q = qq;
                    const double l = filter<3>(plain, gate, nullptr);
                    if (l > best) {
                        best = l;
                        distance_sd = ds;
                        speed_sd = vs;
                        q = qq;
                        out.increments = anew;
                    }
                }
    }
    const Channel& ways = out.increments ? since.channel : c.channel;
    plain.distance = &ways;
    plain.afresh = out.increments ? &since.afresh : &never;
    plain.distance_sd = distance_sd;
    plain.speed_sd = speed_sd;
    plain.q = q;
    double lag = 0;
    AlongModel<4> lagging{&grid, &ways, &v, plain.afresh, &c.jump_var, &ones, distance_sd, speed_sd, q, 0, start};
    if (speed && (distance || position)) {
        // A lagging speed channel hides short pulses; believed only on clear evidence (20 nats).
        double need = best + 20;
        for (double l : {0.2, 0.35, 0.5})
            for (double qq : {0.06, 0.12, 0.25, 0.5}) {
                lagging.lag = l;
                lagging.q = qq;
                const double got = filter<4>(lagging, gate, nullptr);
                if (got > need) {
                    need = got;
                    lag = l;
                    q = qq;
                }
            }
    }
    out.position_sd_m = distance_sd;
    out.jerk_sd_mps2 = q;
    out.speed_lag = lag;
    if (lag > 0) {
        lagging.lag = lag;
        lagging.q = q;
        learn_and_smooth<4>(lagging, out);
    } else {
        learn_and_smooth<3>(plain, out);
    }

    out.first.assign(grid.n + 1, 0);
    const double delay_s = lag > 0 ? lag / (1 - lag) : 0;   // mean delay of a first-order lag
    for (std::size_t i = 0; i < grid.n; ++i) {
        for (std::size_t r = ways.first[i]; r < ways.first[i + 1]; ++r) {
            const Timed& z = ways.rows[r];
            out.readings.push_back({SwitchReading::Kind::distance, z.offset_s, z.y, sq(distance_sd * z.sd_factor)});
        }
        for (std::size_t r = v.first[i]; r < v.first[i + 1]; ++r)
            out.readings.push_back({SwitchReading::Kind::speed, v.rows[r].offset_s - delay_s, v.rows[r].y, sq(speed_sd)});
        out.first[i + 1] = out.readings.size();
    }
    out.jump_var = c.jump_var;
    if (out.increments) {
        out.afresh = since.afresh.at;
        out.afresh_offset_s = since.afresh.offset_s;
    }
    out.reading_distance_m = out.distance_m;

    // Gaps in which the bike moved: an even pace between the ends that covers the path.   [EQ motion-8]
    for (std::size_t i = 0; i < grid.n;) {
        if (!grid.bridged[i]) {
            ++i;
            continue;
        }
        std::size_t j = i;
        while (j < grid.n && grid.bridged[j]) ++j;
        j = std::min(j, grid.n - 1);   // seconds i .. j: the ends are known
        const double T = static_cast<double>(j - i);
        if (T >= 2) {
            const double path = std::max(0.0, out.distance_m[j] - out.distance_m[i]);
            const double v0 = std::max(0.0, out.speed_mps[i]), v1 = std::max(0.0, out.speed_mps[j]);
            const double extra = path / T - 0.5 * (v0 + v1);
            double sum = 0;
            std::vector<double> p(j - i + 1);
            for (std::size_t k = i; k <= j; ++k) {
                const double s = static_cast<double>(k - i) / T;
                p[k - i] = std::max(0.2 * path / T, v0 + (v1 - v0) * s + 6 * extra * s * (1 - s));
                if (k == i) p[0] = v0;
                if (k == j) p[j - i] = v1;
                if (k > i) sum += 0.5 * (p[k - i] + p[k - i - 1]);
            }
            const double ends = 0.5 * (v0 + v1);
            const double scale = sum - ends > 1e-9 ? std::max(0.0, (path - ends) / (sum - ends)) : 1.0;
            for (std::size_t k = i + 1; k < j; ++k) out.speed_mps[k] = p[k - i] * scale;
            for (std::size_t k = i + 1; k < j; ++k) out.distance_m[k] = out.distance_m[k - 1] + 0.5 * (out.speed_mps[k - 1] + out.speed_mps[k]);
        }
        i = j + 1;
    }
    double farthest = 0;
    for (std::size_t i = 0; i < grid.n; ++i) {
        if (out.speed_mps[i] < 0 || grid.standing[i]) out.speed_mps[i] = 0;
        farthest = std::max(farthest, out.speed_mps[i]);
    }
    out.moved = farthest > 1.0;
    // Distance and speed agree by construction of the account: distance is the sum of the mean speeds.
    out.distance_m[0] = 0;
    for (std::size_t i = 1; i < grid.n; ++i) out.distance_m[i] = out.distance_m[i - 1] + 0.5 * (out.speed_mps[i - 1] + out.speed_mps[i]);
    return out;
}

}  // namespace bw::ride::internal
