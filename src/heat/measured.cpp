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

}  // namespace

Result<std::vector<Measured>> read_measured_csv(std::string_view text, const std::string& name) {
    static constexpr std::array<const char*, 4> names = {"t_s", "place", "value_degC", "sd_K"};
    std::vector<Measured> out;
    const auto lines = read_table(text, name, names, [&](const TableRow& row) -> Status {
        const auto t_s = row.number(0, -1e9, 1e12), value_degC = row.number(2, -60, 1200), sd_K = row.number(3, 0.01, 1000);
        for (const auto* v : {&t_s, &value_degC, &sd_K})
            if (!*v) return v->error();
        const auto place = std::find_if(place_names.begin(), place_names.end(), [&](const auto& p) { return row.word(1) == p.first; });
        if (place == place_names.end()) return row.wrong(1, fmt::format("'{}' found, expected rotor, plate, caliper or fluid", row.word(1)));
        out.push_back({.t_s = *t_s, .place = place->second, .value_degC = *value_degC, .sd_K = *sd_K});
        return Done{};
    });
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
                const double z = (value - m.value_degC) / m.sd_K;
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
