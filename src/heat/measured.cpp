// SPDX-License-Identifier: Apache-2.0
// Readings of temperature: CSV in, weights of cases out.                                                  Layer: heat
#include "heat/measured.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <array>
#include <cmath>

#include "base/table.hpp"

namespace bw::heat {

namespace {

constexpr std::array<std::pair<const char*, MeasuredPlace>, 4> place_names = {{{"rotor", MeasuredPlace::rotor},
                                                                               {"plate", MeasuredPlace::plate},
                                                                               {"caliper", MeasuredPlace::caliper},
                                                                               {"fluid", MeasuredPlace::fluid}}};

double at_place(const HeatState& s, MeasuredPlace p) {
    switch (p) {
        case MeasuredPlace::rotor: return s.rotor_surface_degC;
        case MeasuredPlace::plate: return s.plate_degC;
        case MeasuredPlace::caliper: return s.caliper_degC;
        case MeasuredPlace::fluid: return s.fluid_degC;
    }
    return s.rotor_surface_degC;
}

// Radiance from 8 to 14 µm, up to a factor that falls out. [EQ heat-41]
double band_radiance(double degC) {
    constexpr double second_radiation_um_K = 14387.77, from_um = 8, to_um = 14;
    constexpr int steps = 24;   // Simpson
    double sum = 0;
    for (int i = 0; i <= steps; ++i) {
        const double um = from_um + (to_um - from_um) * i / steps;
        sum += (i == 0 || i == steps ? 1.0 : i % 2 ? 4.0 : 2.0) / (std::pow(um, 5) * std::expm1(second_radiation_um_K / (um * (degC + 273.15))));
    }
    return sum;
}

// What the instrument of a reading shows of a place of this temperature.
double shown(const Measured& m, const ReferenceBrake& b, double degC) {
    if (!m.set_emissivity) return degC;
    return infra_red_shows_degC(degC, m.place == MeasuredPlace::rotor ? b.rotor.emissivity : b.caliper.emissivity, *m.set_emissivity, b.ambient_degC);
}

}  // namespace

double infra_red_shows_degC(double surface_degC, double emissivity, double set_emissivity, double surroundings_degC) {
    const double around = band_radiance(surroundings_degC);
    const double got = around + std::max(emissivity, 0.01) / set_emissivity * (band_radiance(surface_degC) - around);
    double low = -200, high = 5000;
    for (int i = 0; i < 60; ++i) {
        const double middle = (low + high) / 2;
        (band_radiance(middle) < got ? low : high) = middle;
    }
    return (low + high) / 2;
}

Result<std::vector<Measured>> read_measured_csv(std::string_view text, const std::string& name) {
    static constexpr std::array<const char*, 5> names = {"t_s", "place", "value_degC", "sd_K", "set_emissivity"};
    std::vector<Measured> out;
    const auto lines = read_table(text, name, names, [&](const TableRow& row) -> Status {
        const auto t_s = row.number(0, -1e9, 1e12), value_degC = row.number(2, -60, 1200), sd_K = row.number(3, 0.01, 1000);
        for (const auto* v : {&t_s, &value_degC, &sd_K})
            if (!*v) return v->error();
        const auto place = std::find_if(place_names.begin(), place_names.end(), [&](const auto& p) { return row.word(1) == p.first; });
        if (place == place_names.end()) return row.wrong(1, fmt::format("'{}' found, expected rotor, plate, caliper or fluid", row.word(1)));
        std::optional<double> set;
        if (!row.word(4).empty()) {
            const auto emissivity = row.number(4, 0.05, 1);
            if (!emissivity) return emissivity.error();
            if (place->second != MeasuredPlace::rotor && place->second != MeasuredPlace::caliper)
                return row.wrong(4, fmt::format("infra-red sees the rotor or the caliper, not the {}; leave it empty for a probe", place->first));
            set = *emissivity;
        }
        out.push_back({.t_s = *t_s, .place = place->second, .value_degC = *value_degC, .sd_K = *sd_K, .set_emissivity = set});
        return Done{};
    }, 1);
    if (!lines) return lines.error();
    if (out.empty()) return Error{Errc::bad_input, fmt::format("{}:{}: no readings; expected at least one row", name, *lines)};
    return out;
}

Result<CaseWeights> weigh_cases(const Context& ctx, std::span<const ReferenceBrake> brakes, std::span<const PowerRow> rows,
                                std::span<const Measured> measured) {
    if (Status s = check_rows(rows); !s) return s.error();
    if (measured.empty() || brakes.empty()) return Error{Errc::bad_input, "no readings or no cases to weigh"};
    double last = rows.front().t_s;
    for (const Measured& m : measured) {
        if (m.t_s < rows.front().t_s || m.t_s > rows.back().t_s)
            return Error{Errc::bad_input, fmt::format("a reading at t_s = {} lies outside the table of power, which runs from {} to {}", m.t_s, rows.front().t_s, rows.back().t_s)};
        if (!(m.sd_K > 0)) return Error{Errc::bad_input, fmt::format("a reading at t_s = {} has sd_K = {}: expected a number above 0", m.t_s, m.sd_K)};
        last = std::max(last, m.t_s);
    }
    // No further than the last reading.
    std::size_t n = 2;
    while (n < rows.size() && rows[n - 1].t_s < last) ++n;
    const std::span<const PowerRow> needed = rows.first(n);
    CaseWeights out;
    std::vector<double> misfit(brakes.size());
    // Few cases at a time: their whole series are held.
    constexpr std::size_t portion = 64;
    for (std::size_t first = 0; first < brakes.size(); first += portion) {
        const auto part = brakes.subspan(first, std::min(portion, brakes.size() - first));
        Result<ManyRuns> run = solve_many(ctx, part, needed, {.keep = Keep::rows});
        if (!run) return run.error();
        for (std::size_t i = 0; i < part.size(); ++i) {
            const std::vector<HeatState>& states = run->cases[i].rows;
            double sum = 0;
            for (const Measured& m : measured) {
                const auto after = std::lower_bound(states.begin(), states.end(), m.t_s, [](const HeatState& s, double t) { return s.t_s < t - 1e-9; });
                double value = 0;
                if (after == states.begin()) value = at_place(*after, m.place);
                else if (after == states.end()) value = at_place(states.back(), m.place);
                else {
                    const HeatState& a = *(after - 1);
                    const double x = (m.t_s - a.t_s) / (after->t_s - a.t_s);
                    value = at_place(a, m.place) + x * (at_place(*after, m.place) - at_place(a, m.place));
                }
                const double z = (shown(m, part[i], value) - m.value_degC) / m.sd_K;
                sum += z * z;
            }
            misfit[first + i] = sum;
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
    out.best_misfit_sd = std::sqrt(best / static_cast<double>(measured.size()));
    return out;
}

}  // namespace bw::heat
