// SPDX-License-Identifier: Apache-2.0
// Rides told in figures: an energy from physics for every likely case, narrowed by recorded rides.       Layer: answer
// Theory: docs/models/planned.md [EQ planned-8..10].
#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <map>
#include <tuple>

#include "balance/balance.hpp"
#include "base/sampling.hpp"
#include "base/text.hpp"
#include "internal.hpp"
#include "learned_share.hpp"

namespace bw::answer {

namespace {

// Energies are compared as logarithms of themselves plus this much a metre of way, so that a ride on which next to nothing
// was braked says that, and no more.
constexpr double floor_J_m = 0.3;

double log_energy(double energy_J, double distance_m) { return std::log(std::max(energy_J, 0.0) + floor_J_m * distance_m); }

//! The bike of each case with one load on one surface: what it asks of air and road, and where its braking goes.
struct Loaded {
    std::vector<balance::Whole> whole;
    std::vector<balance::WheelPower> slope, stop;   // of an energy of 1: held on a slope, and in stops
};

balance::WheelPower sum(const balance::WheelPower& a, const balance::WheelPower& b) {
    return {.front_rotor_W = a.front_rotor_W + b.front_rotor_W, .rear_rotor_W = a.rear_rotor_W + b.rear_rotor_W, .rear_tyre_W = a.rear_tyre_W + b.rear_tyre_W,
            .motor_W = a.motor_W + b.motor_W, .trailer_W = a.trailer_W + b.trailer_W};
}
balance::WheelPower scaled(balance::WheelPower w, double by) {
    for (double* part : {&w.front_rotor_W, &w.rear_rotor_W, &w.rear_tyre_W, &w.motor_W, &w.trailer_W}) *part *= by;
    return w;
}

//! Made once for each load and surface: a diary has few of them and many rows.
class Loads {
public:
    Loads(const parts::Library& library, std::span<const Case> all, std::span<const wear::ToldUnknowns> unknowns) : library_(library), all_(all), unknowns_(unknowns), slowing_mps2_(library.value("told.slowing_mps2")) {}
    const Loaded& of(const RideTags& tags) {
        const stop::Surface surface = tags.surface.value_or(stop::Surface::dry);
        const auto [at, fresh] = made_.try_emplace({tags.load_kg.value_or(-1), surface});
        if (fresh) {
            const double factor = library_.value("surface." + std::string(stop::word_of(surface)) + ".rolling_factor");
            for (std::size_t i = 0; i < all_.size(); ++i) {
                const parts::Bike bike = with_load(all_[i].bike, tags.load_kg);
                at->second.whole.push_back(balance::whole_of(bike, factor));
                // Held on a gentle slope at some hundred watts, and slowed down in stops at kilowatts: a motor that takes back has
                // the power for much of the one and little of the other.   [EQ planned-11]
                constexpr double usual_W = 300, usual_grade = -0.05, usual_drag_N = 20;
                const balance::Geometry geometry = balance::geometry_of(bike, all_[i].balance.trailer_own_share);
                const balance::Sharing sharing = sharing_of(all_[i], surface);
                at->second.slope.push_back(scaled(balance::wheel_power(geometry, sharing, usual_W, unknowns_[i].from_mps, 0, usual_grade, usual_drag_N), 1 / usual_W));
                balance::WheelPower stop;
                constexpr int steps = 10;   // of equal time, so of equal loss of speed
                double all = 0;
                for (int k = 0; k < steps; ++k) {
                    const double v = unknowns_[i].from_mps * (1 - (k + 0.5) / steps), power_W = at->second.whole.back().mass_kg * slowing_mps2_ * v;
                    const balance::WheelPower w = balance::wheel_power(geometry, sharing, power_W, v, slowing_mps2_, 0, usual_drag_N);
                    stop = sum(stop, w);
                    all += power_W;
                }
                at->second.stop.push_back(scaled(stop, 1 / all));
            }
        }
        return at->second;
    }

private:
    const parts::Library& library_;
    std::span<const Case> all_;
    std::span<const wear::ToldUnknowns> unknowns_;
    double slowing_mps2_;
    std::map<std::pair<double, stop::Surface>, Loaded> made_;
};

wear::ToldRide told_ride(const balance::Whole& whole, const RideTags& tags, double head_wind_mps, double untold_air_degC, double distance_m, std::optional<double> descent_m, std::optional<double> stops_per_km) {
    return {.distance_m = distance_m,
            .descent_m = descent_m,
            .stops_per_km = stops_per_km,
            .total_mass_kg = whole.mass_kg,
            .drag_area_m2 = whole.drag_area_m2,
            .rolling_resistance = whole.rolling_resistance,
            .wind_mps = head_wind_mps,
            .air_degC = tags.air_degC.value_or(untold_air_degC)};
}

// Solves A x = b for a symmetric positive definite A, row-major [m][m]; factor in place. m is the number of recorded rides.
void factor(std::vector<double>& a, std::size_t m) {
    for (std::size_t j = 0; j < m; ++j)
        for (std::size_t i = j; i < m; ++i) {
            double sum = a[i * m + j];
            for (std::size_t k = 0; k < j; ++k) sum -= a[i * m + k] * a[j * m + k];
            a[i * m + j] = i == j ? std::sqrt(std::max(sum, 1e-12)) : sum / a[j * m + j];
        }
}
void solve(const std::vector<double>& l, std::size_t m, std::vector<double>& b) {
    for (std::size_t i = 0; i < m; ++i) {
        for (std::size_t k = 0; k < i; ++k) b[i] -= l[i * m + k] * b[k];
        b[i] /= l[i * m + i];
    }
    for (std::size_t i = m; i-- > 0;) {
        for (std::size_t k = i + 1; k < m; ++k) b[i] -= l[k * m + i] * b[k];
        b[i] /= l[i * m + i];
    }
}

double covariance(const std::vector<double>& x, const std::vector<double>& y) {
    const double mx = mean_of(x), my = mean_of(y);
    double sum = 0;
    for (std::size_t i = 0; i < x.size(); ++i) sum += (x[i] - mx) * (y[i] - my);
    return sum / static_cast<double>(x.size() - 1);
}

//! What the recorded rides of this call say about the rider: for each case the pull that they exert, [ride][case].  [EQ planned-10]
struct Lesson {
    std::vector<std::vector<double>> predicted;   // [m][n] logarithms
    std::vector<std::vector<double>> pull;        // [m][n]
    std::size_t size() const { return predicted.size(); }
};

Lesson lesson_of(const Context& ctx, const parts::Library& library, const Request& request, std::span<const Case> all, std::span<const wear::ToldUnknowns> unknowns,
                 std::span<const RideAnswer> recorded, Loads& loads) {
    Lesson out;
    const double air_degC = library.value("riding.air_degC");
    std::vector<double> seen, noise_var;
    const Uncertain& ride = library.row("told.ride").value;
    const double scatter_var = std::log1p((ride.sd / ride.value) * (ride.sd / ride.value));
    for (std::size_t j = 0; j < recorded.size() && j < request.rides.size(); ++j) {
        const RideAnswer& r = recorded[j];
        if (r.misfit || !r.heat_withheld.empty() || r.distance_m < 500 || r.altitude_source == ride::AltitudeSource::none) continue;
        std::vector<double> x;
        const Loaded& loaded = loads.of(request.rides[j].tags);
        for (std::size_t i = 0; i < all.size(); ++i) {
            const wear::ToldRide t = told_ride(loaded.whole[i], request.rides[j].tags, r.head_wind_mps, air_degC, r.distance_m, r.descent_m, r.halts / (r.distance_m / 1000));
            x.push_back(log_energy(wear::told_energy_J(t, unknowns[i]), r.distance_m));
        }
        out.predicted.push_back(std::move(x));
        seen.push_back(log_energy(r.brake_energy_J.p50, r.distance_m));
        const double spread = (log_energy(r.brake_energy_J.p95, r.distance_m) - log_energy(r.brake_energy_J.p05, r.distance_m)) / (2 * 1.645);
        noise_var.push_back(scatter_var + spread * spread);
    }
    const std::size_t m = out.size(), n = all.size();
    if (m == 0) return out;
    std::vector<double> a(m * m);
    for (std::size_t j = 0; j < m; ++j)
        for (std::size_t k = 0; k <= j; ++k) a[j * m + k] = a[k * m + j] = covariance(out.predicted[j], out.predicted[k]) + (j == k ? noise_var[j] : 0);
    factor(a, m);
    out.pull.assign(m, std::vector<double>(n));
    for (std::size_t i = 0; i < n; ++i) {
        std::vector<double> b(m);
        for (std::size_t j = 0; j < m; ++j)
            b[j] = seen[j] + std::sqrt(noise_var[j]) * normal_of(ctx.seed, hash_of("told rides, lesson"), i, j) - out.predicted[j][i];
        solve(a, m, b);
        for (std::size_t j = 0; j < m; ++j) out.pull[j][i] = b[j];
    }
    return out;
}

}  // namespace

Result<std::vector<RideAnswer>> described_answers(const Context& ctx, const parts::Library& library, const Request& request, const Cases& drawn, std::span<const Case> all,
                                                  std::span<const RideAnswer> recorded, Doses& doses, const WorkSource* source, std::vector<std::shared_ptr<const Anchored>>* heat) {
    std::vector<RideAnswer> out;
    if (request.described.empty()) return out;
    const std::size_t n = all.size();
    std::vector<wear::ToldUnknowns> unknowns;
    for (std::size_t i = 0; i < n; ++i) unknowns.push_back(wear::told_unknowns_of(CaseRow(drawn, i)));
    Loads loads(library, all, unknowns);
    const double air_degC = library.value("riding.air_degC");
    const Lesson lesson = lesson_of(ctx, library, request, all, unknowns, recorded, loads);
    const std::size_t m = lesson.size();
    const Uncertain& scatter = library.row("told.ride").value;
    // A diary of years must not fill the memory: the doses of each ride are kept for fewer cases then.
    const std::size_t rows = request.described.size(), kept = rows <= 16 ? n : rows <= 128 ? std::min<std::size_t>(n, 512) : anchor_cases;
    struct Typical {
        std::array<WheelHeatAnswer, 2> wheels;
        std::shared_ptr<const Anchored> heat;
    };
    std::map<std::tuple<int, double, int, double, double>, Typical> typical;

    for (std::size_t k = 0; k < rows; ++k) {
        if (ctx.stopped()) return cancelled();
        const DescribedRow& row = request.described[k];
        if (ctx.progress && k % 16 == 0) ctx.progress(0.9 + 0.02 * static_cast<double>(k) / static_cast<double>(rows), "described rides");
        const std::uint64_t key = mix(hash_of("told rides"), k, 0, 0);
        std::vector<wear::ToldRide> rides;
        std::vector<double> x(n), most(n), height(n);
        rides.reserve(n);
        const Loaded& loaded = loads.of(row.tags);
        for (std::size_t i = 0; i < n; ++i) {
            rides.push_back(told_ride(loaded.whole[i], row.tags, head_wind_mps(row.tags), air_degC, row.distance_m, row.descent_m, row.stops_per_km));
            x[i] = log_energy(wear::told_energy_J(rides[i], unknowns[i]), row.distance_m);
            // Never more than height and stops hold when nothing is rolled out.
            wear::ToldUnknowns nothing_lost = unknowns[i];
            nothing_lost.habit = nothing_lost.kept_share = 1;
            nothing_lost.held_mps = 0;
            wear::ToldRide smooth = rides[i];
            smooth.rolling_resistance = smooth.wind_mps = 0;
            most[i] = wear::told_energy_J(smooth, nothing_lost);
            height[i] = wear::told_descent_m(rides[i], unknowns[i]);
        }
        std::vector<double> gain(m, 0.0);
        for (std::size_t j = 0; j < m; ++j) gain[j] = covariance(x, lesson.predicted[j]);
        std::vector<double> energy(n);
        for (std::size_t i = 0; i < n; ++i) {
            double learned = x[i];
            for (std::size_t j = 0; j < m; ++j) learned += gain[j] * lesson.pull[j][i];
            const double by_rider = std::max(0.0, std::exp(learned) - floor_J_m * row.distance_m);
            energy[i] = std::min(most[i], by_rider * scatter.at(normal_of(ctx.seed, key, i, 1)));
        }

        RideAnswer r;
        r.described = true;
        r.file = row.where.substr(row.where.find_last_of("/\\") + 1);
        if (row.day) r.start_unix_s = static_cast<double>(*row.day) * 86400;
        r.distance_m = row.distance_m;
        r.descent_m = row.descent_m.value_or(quantile(height, 0.5));
        r.brake_energy_J = interval_of(energy);
        const wear::Terrain country = wear::terrain_of_descent(r.descent_m / (row.distance_m / 1000));

        // Temperatures are those of a typical descent of such country, as long and as steep as what was told asks for: the ride has
        // no track. Upwards to steps of an eighth and of 2 %, so that a diary of hundreds of rides asks for a few dozen of them.
        const double rounded_m = std::exp2(std::ceil(8 * std::log2(std::max(2.0, r.descent_m))) / 8);
        const ToldDescent told{.descent_m = std::min(rounded_m, std::max(2.0, 0.5 * row.distance_m)), .least_grade = std::ceil(r.descent_m / row.distance_m / 0.02) * 0.02};
        const auto like = std::tuple(static_cast<int>(country), row.tags.load_kg.value_or(-1), row.tags.surface ? static_cast<int>(*row.tags.surface) : -1, told.descent_m, told.least_grade);
        auto found = typical.find(like);
        if (found == typical.end()) {
            Result<RideWork> descent = source ? source->descent(ctx, k, country, row.tags, told) : descent_work(ctx, library, country, row.tags, told, all);
            if (!descent) return descent.error();
            Doses not_of_this_ride;
            Typical t;
            if (heat) t.heat = anchored(*descent);
            t.wheels = answer_of_work(*std::move(descent), library, request.bike, all, not_of_this_ride).wheels;
            found = typical.emplace(like, std::move(t)).first;
        }
        r.wheels = found->second.wheels;
        if (heat) heat->push_back(found->second.heat);

        doses.emplace_back();
        const std::string weather = row.tags.weather ? std::string("weather.") + std::array{"dry", "damp", "wet", "gritty"}[static_cast<std::size_t>(*row.tags.weather)] : "";
        const Uncertain& pad = library.row(fmt::format("terrain.{}.pad_degC", wear::word_of(country))).value;
        const Uncertain* told_wet = weather.empty() ? nullptr : &library.row(weather + ".wet").value;
        const Uncertain* told_grit = weather.empty() ? nullptr : &library.row(weather + ".grit").value;
        std::array<std::vector<double>, 2> totals;
        for (std::size_t i = 0; i < n; ++i) {
            const double wet = told_wet ? std::clamp(told_wet->at(normal_of(ctx.seed, key, i, 2)), 0.0, 1.0) : all[i].untold_wet;
            const double grit = told_grit ? std::clamp(told_grit->at(normal_of(ctx.seed, key, i, 3)), 0.0, 1.0) : all[i].untold_grit;
            r.wet_share += wet / static_cast<double>(n);
            r.grit_share += grit / static_cast<double>(n);
            const double in_stops = wear::told_stops_share(rides[i], unknowns[i]);
            const balance::WheelPower w = sum(scaled(loaded.slope[i], 1 - in_stops), scaled(loaded.stop[i], in_stops));
            const std::array<double, 2> shares = {w.front_rotor_W, w.rear_rotor_W};
            const double part_J = energy[i] / static_cast<double>(n);
            r.braking.front_J += part_J * shares[0];
            r.braking.rear_J += part_J * shares[1];
            r.braking.skid_J += part_J * w.rear_tyre_W;
            r.braking.motor_J += part_J * w.motor_W;
            r.braking.trailer_J += part_J * w.trailer_W;
            for (const parts::End end : ends) {
                const auto e = static_cast<std::size_t>(end);
                const double mine = energy[i] * shares[e];
                totals[e].push_back(mine);
                if (i >= kept) continue;
                heat::WearDose dose;
                heat::add(dose, mine, pad.value * unknowns[i].pad_heat);
                dose.distance_m = row.distance_m;
                dose.wet_share = wet;
                dose.grit_share = grit;
                doses.back()[e].push_back(dose);
            }
        }
        for (std::size_t e = 0; e < 2; ++e) {
            r.wheel_energy_J[e] = r.wheels[e].brake_energy_J = interval_of(totals[e]);
            r.wheel_energy_mean_J[e] = mean_of(totals[e]);
            r.wheel_energy_sd_J[e] = sd_of(totals[e]);
            r.pad_mean_degC[e] = pad.value;
        }
        r.faults.push_back({.kind = ride::FaultKind::other, .count = 1, .seconds = 0,
                            .text = m == 0 ? fmt::format("Described, not recorded: wide. Recorded rides of the same rider and country in the same call would narrow it.")
                                           : fmt::format("Described, not recorded: wide, though narrowed by {} recorded ride{} of this call.", m, m == 1 ? "" : "s")});
        r.faults.push_back({.kind = ride::FaultKind::other, .count = 1, .seconds = 0,
                            .text = fmt::format("Its temperatures are those of a typical descent of {} country, as long as its metres down ask for, not of this ride.", wear::word_of(country))});
        if (!row.descent_m)
            r.faults.push_back({.kind = ride::FaultKind::no_altitude, .count = 1, .seconds = 0, .text = fmt::format("Its descent was not told: about {} m are assumed.", significant(r.descent_m, 2))});
        if (row.tags.wind_from_deg)
            r.faults.push_back({.kind = ride::FaultKind::other, .count = 1, .seconds = 0,
                                .text = "The wind was told with its direction, and nobody knows which way a described ride went: it counts as one that nobody told. If you know the mean head wind along the way, tell that."});
        out.push_back(std::move(r));
    }
    return out;
}

}  // namespace bw::answer
