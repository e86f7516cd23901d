// SPDX-License-Identifier: Apache-2.0
// Readings of temperature: CSV in, weights of cases out.                                                  Layer: heat
#include "heat/measured.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <array>
#include <cmath>
#include <set>

#include "base/text.hpp"

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
    const auto wrong = [&](std::size_t line, const std::string& what) { return Error{Errc::bad_input, fmt::format("{}:{}: {}", name, line, what)}; };
    if (text.starts_with("\xEF\xBB\xBF")) text.remove_prefix(3);
    static constexpr std::array<const char*, 4> names = {"t_s", "place", "value_degC", "sd_K"};
    std::array<std::size_t, 4> column{};
    std::size_t columns = 0, line = 0;
    bool header = false;
    std::vector<Measured> out;
    while (!text.empty()) {
        const std::size_t end = text.find('\n');
        const std::string_view one = trim(text.substr(0, end));
        text.remove_prefix(end == std::string_view::npos ? text.size() : end + 1);
        ++line;
        if (one.empty()) continue;
        const std::vector<std::string> fields = csv_fields(one);
        if (!header) {
            columns = fields.size();
            std::set<std::string> seen;
            for (std::size_t c = 0; c < fields.size(); ++c) {
                const std::string word(trim(fields[c]));
                const auto at = std::find(names.begin(), names.end(), word);
                if (at == names.end()) {
                    const auto near = nearest_word(word, std::vector<std::string>(names.begin(), names.end()));
                    return wrong(line, fmt::format("column {}: unknown column '{}'{}; expected t_s,place,value_degC,sd_K", c + 1, word,
                                                   near ? fmt::format(", the nearest known one is '{}'", *near) : std::string()));
                }
                if (!seen.insert(word).second) return wrong(line, fmt::format("column {}: '{}' is there twice", c + 1, word));
                column[static_cast<std::size_t>(at - names.begin())] = c;
            }
            for (const char* n : names)
                if (!seen.contains(n)) return wrong(line, fmt::format("column '{}' is missing; expected t_s,place,value_degC,sd_K", n));
            header = true;
            continue;
        }
        if (fields.size() != columns) return wrong(line, fmt::format("{} fields, expected {}", fields.size(), columns));
        Measured m;
        const auto number = [&](std::size_t k, double least, double most, double& into) -> Status {
            const auto v = parse_number(trim(fields[column[k]]));
            if (!v || !(*v >= least && *v <= most))
                return wrong(line, fmt::format("column {} ({}): '{}' found, expected a number from {:g} to {:g}", column[k] + 1, names[k], fields[column[k]], least, most));
            into = *v;
            return Done{};
        };
        if (Status s = number(0, -1e9, 1e12, m.t_s); !s) return s.error();
        if (Status s = number(2, -60, 1200, m.value_degC); !s) return s.error();
        if (Status s = number(3, 0.01, 1000, m.sd_K); !s) return s.error();
        const std::string word(trim(fields[column[1]]));
        const auto at = std::find_if(place_names.begin(), place_names.end(), [&](const auto& p) { return word == p.first; });
        if (at == place_names.end()) return wrong(line, fmt::format("column {} (place): '{}' found, expected rotor, plate, caliper or fluid", column[1] + 1, word));
        m.place = at->second;
        out.push_back(m);
    }
    if (!header) return wrong(1, "empty; expected the columns t_s,place,value_degC,sd_K");
    if (out.empty()) return wrong(line, "no readings; expected at least one row");
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
