// SPDX-License-Identifier: Apache-2.0
// Readings of temperature: CSV in, weights of cases out.                                                  Layer: heat
#include "heat/measured.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <array>
#include <cmath>
#include <functional>

#include "base/table.hpp"
#include "base/text.hpp"

namespace bw::heat {

namespace {

constexpr std::array<std::pair<const char*, MeasuredPlace>, 5> place_names = {{{"rotor", MeasuredPlace::rotor},
                                                                               {"arms", MeasuredPlace::arms},
                                                                               {"plate", MeasuredPlace::plate},
                                                                               {"caliper", MeasuredPlace::caliper},
                                                                               {"fluid", MeasuredPlace::fluid}}};

double at_place(const HeatState& s, MeasuredPlace p) {
    switch (p) {
        case MeasuredPlace::rotor: return s.rotor_surface_degC;
        case MeasuredPlace::arms: return s.arms_degC;
        case MeasuredPlace::plate: return s.plate_degC;
        case MeasuredPlace::caliper: return s.caliper_degC;
        case MeasuredPlace::fluid: return s.fluid_degC;
    }
    return s.rotor_surface_degC;
}

double peak_at(const HeatPeaks& p, MeasuredPlace place) {
    switch (place) {
        case MeasuredPlace::rotor: return p.rotor_surface.degC;
        case MeasuredPlace::arms: return p.arms.degC;
        case MeasuredPlace::plate: return p.plate.degC;
        case MeasuredPlace::caliper: return p.caliper.degC;
        case MeasuredPlace::fluid: return p.fluid.degC;
    }
    return p.rotor_surface.degC;
}

double at_time(const HeatRows& states, double t_s, MeasuredPlace place) {
    const auto after = std::lower_bound(states.begin(), states.end(), t_s, [](const HeatState& s, double t) { return s.t_s < t - 1e-9; });
    if (after == states.begin()) return at_place(*after, place);
    if (after == states.end()) return at_place(states.back(), place);
    const HeatState& a = *(after - 1);
    const double x = (t_s - a.t_s) / (after->t_s - a.t_s);
    return at_place(a, place) + x * (at_place(*after, place) - at_place(a, place));
}

constexpr std::array<std::pair<const char*, Spot>, 3> spot_names = {{{"bare", Spot::bare}, {"tinted", Spot::tinted}, {"painted", Spot::painted}}};

// Emissivities of spots, alike likely between two ends. Bare: clean stainless steel has 0.16 in a table of a camera's manual (read), the
// rest common practice, no source. Dull paint or tape: common practice, no source.
constexpr int nodes = 24;   // finer than a reading tells them apart
double emissivity_at(Spot spot, int node) {
    const double x = (node + 0.5) / nodes;
    return spot == Spot::bare ? 0.10 + 0.25 * x : 0.90 + 0.07 * x;
}

// Radiance from 8 to 14 µm, up to a factor that falls out, and the slope of its logarithm over 1/T [K].   [EQ heat-41]
struct Band {
    double radiance = 0, slope_K = 0;
};
Band band_at(double kelvin) {
    constexpr double second_radiation_um_K = 14387.77, from_um = 8, to_um = 14;
    constexpr int steps = 24;   // Simpson
    double sum = 0, slope = 0;
    for (int i = 0; i <= steps; ++i) {
        const double um = from_um + (to_um - from_um) * i / steps, x = second_radiation_um_K / (um * kelvin), less = std::expm1(x);
        const double one = (i == 0 || i == steps ? 1.0 : i % 2 ? 4.0 : 2.0) / (um * um * um * um * um * less);
        sum += one, slope -= one * second_radiation_um_K / um * (1 + 1 / less);
    }
    return {sum, slope / sum};
}
constexpr double zero_K = 273.15, coldest_K = 73.15, hottest_K = 5273.15;

// Temperature of a black body of this radiance [K]: ln B over 1/T is nearly a line between the points of a table, then one Newton step.
double kelvin_of(double radiance) {
    constexpr int points = 1024;
    constexpr double from = 1 / hottest_K, step = (1 / coldest_K - from) / (points - 1);
    static const std::array<double, points> logs = [] {
        std::array<double, points> out{};
        for (int i = 0; i < points; ++i) out[static_cast<std::size_t>(i)] = std::log(band_at(1 / (from + step * i)).radiance);
        return out;
    }();
    if (!(radiance > std::exp(logs.back()))) return coldest_K;
    const double wanted = std::log(radiance);
    if (wanted >= logs.front()) return hottest_K;
    const auto after = std::lower_bound(logs.begin(), logs.end(), wanted, std::greater<>());
    const double x = from + step * (static_cast<double>(after - logs.begin()) - (wanted - *after) / (*(after - 1) - *after));
    const Band b = band_at(1 / x);
    return 1 / (x - (std::log(b.radiance) - wanted) / b.slope_K);
}

double shows_degC(double around, double surface, double emissivity, double set_emissivity) {
    return kelvin_of(around + std::max(emissivity, 0.01) / set_emissivity * (surface - around)) - zero_K;
}

Spot spot_of(const Measured& m) { return m.spot ? *m.spot : m.place == MeasuredPlace::rotor ? Spot::bare : Spot::tinted; }

// Which emissivity a reading hangs on: 0 none that is drawn here, 1 of bare spots, 2 of painted ones.
std::size_t hangs_on(const Measured& m) {
    if (!m.set_emissivity || m.place == MeasuredPlace::caliper || spot_of(m) == Spot::tinted) return 0;
    return spot_of(m) == Spot::bare ? 1 : 2;
}

}  // namespace

double infra_red_shows_degC(double surface_degC, double emissivity, double set_emissivity, double surroundings_degC) {
    return shows_degC(band_at(surroundings_degC + zero_K).radiance, band_at(surface_degC + zero_K).radiance, emissivity, set_emissivity);
}

Result<std::vector<Measured>> read_measured_csv(std::string_view text, const std::string& name) {
    static constexpr std::array<const char*, 6> names = {"t_s", "place", "value_degC", "sd_K", "set_emissivity", "spot"};
    std::vector<Measured> out;
    const auto lines = read_table(text, name, names, [&](const TableRow& row) -> Status {
        const bool highest = row.word(0) == "peak";
        if (!highest && !parse_number(row.word(0))) return row.wrong(0, fmt::format("'{}' found, expected seconds, or peak: the highest mark of a strip", row.word(0)));
        const auto t_s = highest ? Result<double>(0.0) : row.number(0, -1e9, 1e12), value_degC = row.number(2, -60, 1200), sd_K = row.number(3, 0.01, 1000);
        for (const auto* v : {&t_s, &value_degC, &sd_K})
            if (!*v) return v->error();
        const auto place = std::find_if(place_names.begin(), place_names.end(), [&](const auto& p) { return row.word(1) == p.first; });
        if (place == place_names.end()) return row.wrong(1, fmt::format("'{}' found, expected rotor, arms, plate, caliper or fluid", row.word(1)));
        std::optional<double> set;
        if (!row.word(4).empty()) {
            const auto emissivity = row.number(4, 0.05, 1);
            if (!emissivity) return emissivity.error();
            if (place->second == MeasuredPlace::plate || place->second == MeasuredPlace::fluid)
                return row.wrong(4, fmt::format("infra-red sees the rotor, its arms or the caliper, not the {}; leave it empty for a probe", place->first));
            if (highest) return row.wrong(4, "a highest mark is a strip's, and a strip is no infra-red; leave it empty");
            set = *emissivity;
        }
        std::optional<Spot> spot;
        if (!row.word(5).empty()) {
            const auto found = std::find_if(spot_names.begin(), spot_names.end(), [&](const auto& p) { return row.word(5) == p.first; });
            if (found == spot_names.end()) return row.wrong(5, fmt::format("'{}' found, expected bare, tinted or painted", row.word(5)));
            if (!set || place->second == MeasuredPlace::caliper) return row.wrong(5, "a spot is told of a rotor or its arms read by infra-red; leave it empty, or say in set_emissivity what was set");
            spot = found->second;
        }
        out.push_back({.t_s = *t_s, .place = place->second, .value_degC = *value_degC, .sd_K = *sd_K, .set_emissivity = set, .spot = spot, .highest = highest});
        return Done{};
    }, 2);
    if (!lines) return lines.error();
    if (out.empty()) return Error{Errc::bad_input, fmt::format("{}:{}: no readings; expected at least one row", name, *lines)};
    return out;
}

CaseMisfit misfit_of(const ReferenceBrake& brake, const HeatRows& states, const HeatPeaks& peaks, std::span<const Measured> measured) {
    CaseMisfit out;
    std::array<std::array<double, nodes>, 3> sums{};
    for (const Measured& m : measured) {
        const double value = m.highest ? peak_at(peaks, m.place) : at_time(states, m.t_s, m.place);
        const std::size_t on = hangs_on(m);
        const auto off2 = [&](double degC) { return (degC - m.value_degC) * (degC - m.value_degC) / (m.sd_K * m.sd_K); };
        if (!m.set_emissivity) {
            sums[0][0] += off2(value);
            out.shows.emplace_back(value, value);
            continue;
        }
        // What the instrument shows of a place of this temperature.
        const double around = band_at(brake.ambient_degC + zero_K).radiance, surface = band_at(value + zero_K).radiance, own = m.place == MeasuredPlace::caliper ? brake.caliper.emissivity : brake.rotor.emissivity;
        std::pair<double, double> shows{1e9, -1e9};
        for (int node = 0; node < (on == 0 ? 1 : nodes); ++node) {
            const double shown = shows_degC(around, surface, on == 0 ? own : emissivity_at(spot_of(m), node), *m.set_emissivity);
            sums[on][static_cast<std::size_t>(node)] += off2(shown);
            shows = {std::min(shows.first, shown), std::max(shows.second, shown)};
        }
        out.shows.push_back(shows);
    }
    out.misfit = out.closest = sums[0][0];
    for (const std::size_t on : {1U, 2U}) {
        const double least = *std::min_element(sums[on].begin(), sums[on].end());
        double likely = 0;
        for (const double q : sums[on]) likely += std::exp(-(q - least) / 2) / nodes;
        out.misfit += least - 2 * std::log(likely), out.closest += least;
    }
    return out;
}

Result<CaseWeights> weigh_cases(const Context& ctx, std::span<const ReferenceBrake> brakes, std::span<const PowerRow> rows,
                                std::span<const Measured> measured) {
    if (Status s = check_rows(rows); !s) return s.error();
    if (measured.empty() || brakes.empty()) return Error{Errc::bad_input, "no readings or no cases to weigh"};
    double last = rows.front().t_s;
    bool strip = false;
    for (const Measured& m : measured) {
        if (!(m.sd_K > 0)) return Error{Errc::bad_input, fmt::format("a reading at t_s = {} has sd_K = {}: expected a number above 0", m.t_s, m.sd_K)};
        strip = strip || m.highest;
        if (m.highest) continue;
        if (m.t_s < rows.front().t_s || m.t_s > rows.back().t_s)
            return Error{Errc::bad_input, fmt::format("a reading at t_s = {} lies outside the table of power, which runs from {} to {}", m.t_s, rows.front().t_s, rows.back().t_s)};
        last = std::max(last, m.t_s);
    }
    // No further than the last reading; a strip's is behind the end.
    std::size_t n = strip ? rows.size() : 2;
    while (n < rows.size() && rows[n - 1].t_s < last) ++n;
    const std::span<const PowerRow> needed = rows.first(n);
    CaseWeights out;
    std::vector<double> misfit(brakes.size()), closest(brakes.size());   // over the emissivities of spots; with those that fit best
    // Few cases at a time: their whole series are held.
    constexpr std::size_t portion = 64;
    for (std::size_t first = 0; first < brakes.size(); first += portion) {
        const auto part = brakes.subspan(first, std::min(portion, brakes.size() - first));
        Result<ManyRuns> run = solve_many(ctx, part, needed, {.keep = Keep::rows, .cool_down_s = strip ? cooling_s : 0});
        if (!run) return run.error();
        for (std::size_t i = 0; i < part.size(); ++i) {
            const CaseMisfit one = misfit_of(part[i], run->cases[i].rows, run->cases[i].peaks, measured);
            misfit[first + i] = one.misfit, closest[first + i] = one.closest;
        }
    }
    const double best = *std::min_element(misfit.begin(), misfit.end());
    double total = 0, squares = 0;
    for (const double q : misfit) out.weight.push_back(std::exp(-(q - best) / 2));
    for (const double w : out.weight) total += w;
    for (double& w : out.weight) {
        w /= total;
        squares += w * w;
    }
    out.effective = 1 / squares;
    out.best_misfit_sd = std::sqrt(*std::min_element(closest.begin(), closest.end()) / static_cast<double>(measured.size()));
    return out;
}

}  // namespace bw::heat
