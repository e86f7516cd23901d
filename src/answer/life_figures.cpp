// SPDX-License-Identifier: Apache-2.0
// The data behind the figures of remaining life.                                                         Layer: answer
// Theory: docs/models/life.md.
#include "answer/life_figures.hpp"

#include <fmt/format.h>

#include <cmath>

#include "base/sampling.hpp"

namespace bw::answer {

namespace {
constexpr long rides = 60;
constexpr double new_mm = 2.2, limit_mm = 0.7, area_mm2 = 280;
}  // namespace

const std::vector<InventedRider>& invented_riders() {
    // Energies: mass x g x descent x the share that is braked, or stops; the docs say which. An invented scenario.
    static const std::vector<InventedRider> all = {
        {"Ines", "bike park in the wet: 2,500 m down a day, 95 kg, two thirds braked", "organic", 15000, 2500, 1.5e6, 220, 0.6, 0.5, 40},
        {"Maro", "loaded touring over passes: 1,500 m down a day, 125 kg, half braked", "semi_metallic", 70000, 1500, 0.9e6, 170, 0.15, 0.03, 60},
        {"Tove", "hilly trails: 600 m down a ride, 90 kg, half braked", "organic", 20000, 600, 0.26e6, 130, 0.1, 0.1, 80},
        {"Sami", "cargo bike in town: a stop every 400 m, 160 kg", "sintered", 8000, 30, 60e3, 75, 0.15, 0.05, 300},
        {"Noor", "flat commuting: a stop every kilometre, 85 kg", "organic", 12000, 20, 18e3, 55, 0.15, 0.02, 250}};
    return all;
}

wear::History history_of(const InventedRider& r, bool dry) {
    wear::History h;
    for (long i = 1; i <= rides; ++i) {
        wear::RiddenRow row;
        const double J = r.energy_J * std::exp(0.3 * normal_of(20260701, hash_of(r.name), static_cast<std::uint64_t>(i), 1) - 0.045);
        const auto happens = [&](double share, std::uint64_t stream) { return !dry && uniform_of(20260701, hash_of(r.name), static_cast<std::uint64_t>(i), stream) < share ? 1.0 : 0.0; };
        row.ride = i, row.distance_m = r.ride_m, row.descent_m = r.descent_m;
        row.energy_J = {0.6 * J, 0.4 * J}, row.pad_degC = {r.pad_degC, r.pad_degC - 20};
        row.wet = happens(r.wet, 2), row.grit = happens(r.grit, 3);
        h.rides.push_back(row);
    }
    for (const auto c : {wear::Component::front_left_pad, wear::Component::front_right_pad}) h.fitted.push_back({c, "new", rides + 1, r.compound, new_mm, limit_mm, area_mm2, -1, 0, true, "", false});
    return h;
}

Result<wear::LifeForecast> prior_life(const Context& ctx, const parts::Library& library, const InventedRider& r, bool dry) {
    const Result<wear::Learned> learned = wear::learn(ctx, history_of(r, dry), wear::default_priors(library), rides, {}, {});
    if (!learned) return learned.error();
    return learned->forecast(ctx, {wear::Component::front_left_pad, "new", rides}, {.whole_set = true, .plan = {}, .readings = {}});
}

Result<std::vector<LifeFigure>> life_figures(const Context& ctx, const parts::Library& library) {
    LifeFigure riders{.name = "riders", .csv = "rider,weather,p05_km,p50_km,p95_km,p05_rides,p50_rides,p95_rides,p05_descent_m,p50_descent_m,p95_descent_m\n",
                      .caption = "A set of front pads, new, as far as the prior alone says: five invented riders, their own weather and all dry."};
    for (const InventedRider& r : invented_riders())
        for (const bool dry : {false, true}) {
            const Result<wear::LifeForecast> f = prior_life(ctx, library, r, dry);
            if (!f) return f.error();
            riders.csv += fmt::format("{},{}", r.name, dry ? "dry" : "own");
            for (const Interval* i : {&f->remaining_km, &f->remaining_rides, &f->remaining_descent_m}) riders.csv += fmt::format(",{:.6g},{:.6g},{:.6g}", i->p05, i->p50, i->p95);
            riders.csv += '\n';
        }
    LifeFigure readings{.name = "readings", .csv = "readings,p05_km,p50_km,p95_km,p95_over_p05,thickness_p05_mm,thickness_p50_mm,thickness_p95_mm\n",
                        .caption = "The set of the third of them, a third worn, after 0, 1, 2, 5 and 10 readings of both pads with a caliper (0.05 mm), evenly over its rides so far. It wears as the middle of the prior says."};
    const InventedRider& r = invented_riders()[2];
    constexpr long first = 41;   // a third of the way worn
    const wear::WearPriors priors = wear::default_priors(library);
    wear::History h = history_of(r, true);
    for (wear::FittedRow& f : h.fitted) f.start_ride = first;
    const Result<wear::Learned> blind = wear::learn(ctx, h, priors, rides, {}, {});
    if (!blind) return blind.error();
    const double worn_mm = new_mm - quantile(blind->thickness_mm(ctx, wear::Component::front_left_pad, "new"), 0.5);
    for (const int n : {0, 1, 2, 5, 10}) {
        h.readings.clear();
        for (int k = 1; k <= n; ++k)
            for (const auto c : {wear::Component::front_left_pad, wear::Component::front_right_pad}) {
                const long ride = first - 1 + (rides - first + 1) * k / n;
                h.readings.push_back({ride, {}, c, "new", new_mm - worn_mm * static_cast<double>(ride - first + 1) / static_cast<double>(rides - first + 1), 0.05, 0.01});
            }
        const Result<wear::Learned> learned = wear::learn(ctx, h, priors, rides, {}, {});
        if (!learned) return learned.error();
        const Result<wear::LifeForecast> f = learned->forecast(ctx, {wear::Component::front_left_pad, "new", rides}, {.whole_set = true, .plan = {}, .readings = {}});
        if (!f) return f.error();
        const Interval &km = f->remaining_km, &mm = f->thickness_mm;
        readings.csv += fmt::format("{},{:.6g},{:.6g},{:.6g},{:.6g},{:.6g},{:.6g},{:.6g}\n", n, km.p05, km.p50, km.p95, km.p05 > 0 ? km.p95 / km.p05 : 0, mm.p05, mm.p50, mm.p95);
    }
    return std::vector{riders, readings};
}

}  // namespace bw::answer
