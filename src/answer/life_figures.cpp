// SPDX-License-Identifier: Apache-2.0
// The data behind the figures of remaining life.                                                         Layer: answer
// Theory: docs/models/life.md.
#include "answer/life_figures.hpp"

#include <fmt/format.h>

#include <cmath>

#include "base/sampling.hpp"
#include "base/sensitivity.hpp"
#include "wear/law.hpp"

namespace bw::answer {

namespace {
constexpr long rides = 60;
constexpr double new_mm = 2.2, limit_mm = 0.7, area_mm2 = 280;

// What moves the logarithm of the life of a new set, at the level of the dose: the rides' work, temperature and weather stay as they
// are, each input of the law is drawn by itself. First order from the sample; total by pick-freeze.   [EQ life-12]
std::string movers_csv(const parts::Library& library, const InventedRider& r, std::uint64_t seed) {
    const wear::WearPriors p = wear::default_priors(library);
    const wear::CompoundPriors& c = p.compound.at(r.compound);
    static constexpr const char* names[] = {"wear of this rider", "wear of this set", "braking energy", "threshold_degC", "growth", "wet", "grit", "left_right", "rubbing", "new thickness"};
    constexpr std::size_t dims = std::size(names), n = 16384;
    const wear::History h = history_of(r, false);
    const auto life = [&](const double* z) {
        wear::WearUnknowns u{};
        u.specific_wear_mm3_MJ = c.specific_wear_mm3_MJ * std::exp(p.spread.rider * z[0] + p.spread.set * z[1]);
        u.threshold_degC = c.threshold_degC + std::hypot(p.spread.threshold_dK, p.observation.pad_temperature_dK) * z[3], u.growth = c.growth * std::exp(p.spread.growth * z[4]);
        u.wet_factor = p.factor.wet * std::exp(p.factor.wet_sd * z[5]), u.grit_factor = p.factor.grit * std::exp(p.factor.grit_sd * z[6]);
        u.left_right = std::min(0.9, std::abs(p.spread.left_right * z[7])), u.rubbing_N = p.rubbing_N * std::exp(p.rubbing_log_sd * z[8]);
        double mm = 0;
        for (const wear::RiddenRow& row : h.rides) {
            heat::WearDose dose;
            heat::add(dose, *row.energy_J[0] * std::exp(p.observation.energy_bias * z[2]), *row.pad_degC[0]);
            dose.distance_m = row.distance_m, dose.wet_share = row.wet, dose.grit_share = row.grit;
            mm += wear::pad_loss_mm(wear::pad_volume_mm3(dose, u, wear::Side::left), area_mm2);   // the sooner pad
        }
        return std::log(std::max(0.05, new_mm + p.observation.new_pad_sd_mm * z[9] - limit_mm) / mm);
    };
    const std::vector<double> u = shifted_sobol(n, 2 * dims, seed);
    std::vector<double> z(dims), y, changed(n), column(n);
    const auto point = [&](std::size_t i) {
        for (std::size_t d = 0; d < dims; ++d) z[d] = normal_quantile(u[i * 2 * dims + d]);
    };
    for (std::size_t i = 0; i < n; ++i) point(i), y.push_back(life(z.data()));
    std::string out = "input,first_order,total\n";
    for (std::size_t d = 0; d < dims; ++d) {
        for (std::size_t i = 0; i < n; ++i) {
            point(i);
            column[i] = z[d];
            z[d] = normal_quantile(u[i * 2 * dims + dims + d]);
            changed[i] = life(z.data());
        }
        out += fmt::format("{},{:.4f},{:.4f}\n", names[d], first_order_share(column, y), total_share(y, changed));
    }
    return out;
}
std::vector<std::string> rider_assumptions() {
    std::vector<std::string> out = {"The riders are invented; nobody is meant.", "Rides to come are drawn from the sixty that each has ridden."};
    for (const InventedRider& r : invented_riders()) out.push_back(fmt::format("{}, {} pads: {}.", r.name, r.compound == "semi_metallic" ? "semi-metallic" : r.compound, r.words));
    return out;
}
std::vector<std::string> prior_sources() { return {"Wear per work and its spread by compound: data/wear.toml, each number with its source and grade; equations: docs/models/life.md."}; }
}  // namespace

const std::vector<InventedRider>& invented_riders() {
    // Energies: mass x g x descent x the share that is braked, or stops; the docs say which. An invented scenario.
    static const std::vector<InventedRider> all = {
        {"Ines", "bike park in the wet: 2,500 m down a day, 95 kg, two thirds braked", "organic", 15000, 2500, 1.5e6, 220, 0.6, 0.5, 40},
        {"Maro", "loaded touring over passes: 1,500 m down a day, 125 kg, half braked", "semi_metallic", 70000, 1500, 0.9e6, 170, 0.15, 0.03, 60},
        {"Tove", "hilly trails: 600 m down a ride, 90 kg, half braked", "organic", 20000, 600, 0.26e6, 130, 0.1, 0.1, 80},
        {"Sami", "cargo bike in town: a stop every 400 m, 160 kg", "sintered", 8000, 30, 60e3, 75, 0.15, 0.05, 300},
        {"Noor", "flat commuting: a stop every 1 km, 85 kg", "organic", 12000, 20, 18e3, 55, 0.15, 0.02, 250}};
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
    LifeFigure riders{.name = "riders", .title = "Five invented riders: how long new front pads last", .csv = "rider,weather,p05_km,p50_km,p95_km,p05_rides,p50_rides,p95_rides,p05_descent_m,p50_descent_m,p95_descent_m\n",
                      .caption = "A set of front pads, new, as far as the prior alone says: five invented riders, their own weather and all dry. Ines's pads run where heat begins to wear them: "
                                 "from which temperature on, and how hot this brake really gets, nobody measured, and that makes hers the widest in the dry.", .assumptions = rider_assumptions(), .sources = prior_sources()};
    for (const InventedRider& r : invented_riders())
        for (const bool dry : {false, true}) {
            const Result<wear::LifeForecast> f = prior_life(ctx, library, r, dry);
            if (!f) return f.error();
            riders.csv += fmt::format("{},{}", r.name, dry ? "dry" : "own");
            for (const Interval* i : {&f->remaining_km, &f->remaining_rides, &*f->remaining_descent_m}) riders.csv += fmt::format(",{:.6g},{:.6g},{:.6g}", i->p05, i->p50, i->p95);
            riders.csv += '\n';
        }
    LifeFigure readings{.name = "readings", .title = "What readings do to a forecast", .csv = "readings,p05_km,p50_km,p95_km,p95_over_p05,thickness_p05_mm,thickness_p50_mm,thickness_p95_mm\n",
                        .caption = "The set of the third of them, a third worn, after 0, 1, 2, 5 and 10 readings of both pads with a caliper (0.05 mm), evenly over its rides so far. It wears as the middle of the prior says.",
                        .assumptions = {"The set is read without a mistake, and wears as the middle of what was known before.", "All riding dry."}, .sources = prior_sources()};
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
    std::vector<LifeFigure> all = {riders, readings};
    for (const std::size_t i : {std::size_t{0}, std::size_t{2}})
        all.push_back({.name = fmt::format("movers_{}", i == 0 ? "ines" : "tove"), .title = fmt::format("What moves the life of a set: {}", invented_riders()[i].name), .csv = movers_csv(library, invented_riders()[i], ctx.seed),
                       .caption = fmt::format("What moves the life of a new set of {}: shares of the variance of its logarithm, alone (first order) and with all that it has a part in (total).", invented_riders()[i].name),
                       .assumptions = {"Each input of the wear law is drawn by itself; work, temperature and weather of the rides stay as they are."}, .sources = prior_sources()});
    return all;
}

}  // namespace bw::answer
