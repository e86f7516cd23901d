// SPDX-License-Identifier: Apache-2.0
// One wheel's heat from a table of power through the answer's own summary, reasons and words.            Layer: answer
#include "answer/wheel_heat.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <array>
#include <cmath>
#include <nlohmann/json.hpp>

#include "base/sampling.hpp"
#include "base/text.hpp"
#include "describe.hpp"
#include "internal.hpp"
#include "learned_share.hpp"

namespace bw::answer {

using json = nlohmann::ordered_json;

namespace {

// Fields of the bike that reference_of, band_of, the fluid's point and its expansion read.
bool field_enters(std::string_view key, std::string_view end) {
    if (key == "bike.wheel_radius_m") return true;
    if (!key.starts_with(end) || key.size() <= end.size() || key[end.size()] != '.') return false;
    key.remove_prefix(end.size() + 1);
    static constexpr std::array<std::string_view, 9> names = {"rotor.diameter_mm", "rotor.band_inner_mm", "rotor.thickness_mm", "rotor.solid_share", "pads.friction_thickness_mm",
                                                              "pads.plate_thickness_mm", "pads.area_mm2", "pads.other_friction_thickness_mm", "caliper.piston_diameter_mm"};
    return key == "fluid.age_months" || std::find(names.begin(), names.end(), key) != names.end();
}

// What summarise() reads of a case.
std::vector<Case> cases_of(const parts::Bike& bike, const WheelRuns& runs) {
    const auto e = static_cast<std::size_t>(runs.end);
    std::vector<Case> out(runs.heat.size());
    const std::vector<heat::HeatUnknowns> unknowns = heat::unknowns_of(bike, runs.end, runs.drawn);
    for (std::size_t i = 0; i < out.size(); ++i) {
        const CaseRow row(runs.drawn, i);
        const parts::Bike one = parts::bike_of_case(bike, row);
        out[i].bike.wheel(runs.end).fluid = one.wheel(runs.end).fluid;
        out[i].bike.wheel_radius_m = one.wheel_radius_m;
        out[i].heat[e] = unknowns[i];
    }
    return out;
}

WheelHeatAnswer summary_of(const parts::Library& library, const parts::Bike& bike, const WheelRuns& runs, std::span<const Case> cases, std::span<const heat::WheelHeat> heat, std::span<const double> weights) {
    std::vector<WheelOutcome> outcomes;
    for (const heat::WheelHeat& h : heat) {
        WheelOutcome& o = outcomes.emplace_back();
        o.heat = h;
        o.nearest_boil_degC = judged_heat(h).fluid_degC, o.nearest_boil_altitude_m = runs.altitude_m;
    }
    WheelHeatAnswer w;
    summarise(w, library, bike, runs.end, cases.first(heat.size()), outcomes, weights);
    return w;
}

WheelHeatAnswer summary_of(const parts::Library& library, const parts::Bike& bike, const WheelRuns& runs, std::span<const Case> cases, bool by_weight) {
    by_weight = by_weight && !runs.weights.empty();
    WheelHeatAnswer w = summary_of(library, bike, runs, cases, runs.heat, by_weight ? std::span<const double>(runs.weights) : std::span<const double>());
    const std::vector<heat::WheelHeat>& whole = by_weight ? runs.whole_by_weight : runs.whole;
    if (whole.empty()) return w;
    std::vector<Case> of;
    for (std::size_t k = 0; k < whole.size(); ++k) of.push_back(cases[by_weight ? runs.by_weight[k] : k]);
    const WheelHeatAnswer some = summary_of(library, bike, runs, of, whole, {});
    if (w.rotor_under_pad_peak_degC) {
        // The rise hangs on power and speed, which all cases share, and hardly on how hot a case is: each case's own ring, and upon it the rises of the whole runs in turn.
        std::vector<double> under;
        for (std::size_t i = 0; i < runs.heat.size(); ++i) {
            const heat::WheelHeat& of_rise = whole[i % whole.size()];
            under.push_back(runs.heat[i].rotor_hottest_ring_degC + std::max(0.0, of_rise.rotor_under_pad_degC - of_rise.rotor_hottest_ring_degC));
        }
        w.rotor_under_pad_peak_degC = by_weight ? interval_of(under, runs.weights) : interval_of(under);
    }
    w.outside_measured_share = some.outside_measured_share;
    w.above_measured_power_share = some.above_measured_power_share;
    w.core_peak_degC = some.core_peak_degC;
    w.core_soft_probability = some.core_soft_probability;
    w.core_melt_probability = some.core_melt_probability;
    w.judged.core_degC = some.judged.core_degC;
    return w;
}

}  // namespace

std::vector<std::size_t> drawn_by_weight(std::size_t n, std::size_t of, std::span<const double> weights, std::uint64_t seed, std::string_view what) {
    n = std::min(n, of);
    std::vector<std::size_t> some(n);
    double all = 0, below = 0;
    for (const double w : weights) all += w;
    std::size_t at = 0;
    for (std::size_t k = 0; k < n; ++k) {
        if (weights.empty()) {
            some[k] = k;
            continue;
        }
        const double point = all * (static_cast<double>(k) + uniform_of(seed, hash_of(what), k, 0)) / static_cast<double>(n);
        while (at + 1 < of && below + weights[at] <= point) below += weights[at++];
        some[k] = at;
    }
    return some;
}

WheelInputs wheel_inputs(const parts::Library& library, const parts::Bike& bike, parts::End end, bool wet) {
    const std::string own(parts::word_of(end));
    WheelInputs out;
    std::vector<Input> rest;
    for (Input& input : parts::inputs_of(bike)) {
        if (field_enters(input.key, own)) {
            out.inputs.push_back(std::move(input));
            continue;
        }
        input.value.sd = 0;
        rest.push_back(std::move(input));
    }
    for (Input& input : heat::inputs(library, bike)) {
        if (!input.key.starts_with(own + ".")) continue;   // unknowns_of() of this end reads its own alone
        const bool enters = wet || !heat::latest_input(input.key);
        if (!enters) input.value.sd = 0;
        (enters ? out.inputs : rest).push_back(std::move(input));
    }
    out.entering = out.inputs.size();
    out.inputs.insert(out.inputs.end(), std::make_move_iterator(rest.begin()), std::make_move_iterator(rest.end()));
    return out;
}

Result<WheelSaid> wheel_said(const Context& ctx, const parts::Library& library, const parts::Bike& bike, const WheelRuns& runs) {
    WheelSaid out{.answer = {}, .heat = {}, .cases = runs.heat.size(), .whole_cases = runs.whole.empty() ? runs.heat.size() : runs.whole.size()};
    Answer& a = out.answer;
    a.seed = ctx.seed;
    a.bike = bike;
    const std::vector<Case> cases = cases_of(bike, runs);
    out.heat = summary_of(library, bike, runs, cases, true);
    if (!runs.weights.empty()) keep_worse(out.heat, summary_of(library, bike, runs, cases, false));
    RideAnswer& ride = a.rides.emplace_back();
    ride.file = runs.file;
    ride.wheels[static_cast<std::size_t>(runs.end)] = out.heat;

    // The bike itself, as `answer` judges it: its stops and levers in as many cases as there.
    const Request request{.bike = bike, .rides = {}, .planned = {}, .described = {}, .terrain = {}, .cases = 1024, .altitude = {}, .today = {}, .latest_day = {}, .rows_of_other_bikes = 0, .keep_series = false,
                          .stop_grade = 0, .papers = {}};
    a.cases = request.cases;
    const std::vector<Case> whole_bike = answer::cases_of(library, bike, draw_cases(all_inputs(library, request), request.cases, ctx.seed));
    const inspect::Practice practice = inspect::practice_of(library);
    std::array<inspect::LeverPoints, 2> points;
    for (const parts::End end : ends) {
        if (!bike.given.contains(fmt::format("{}.lever.bite_mm", parts::word_of(end)))) continue;
        const stop::LeverAnswer lever = lever_of(whole_bike, end, nullptr);
        points[static_cast<std::size_t>(end)] = worse_points(lever, lever, bike.wheel(end).actuation, practice);
    }
    const Known known{.ride = {1}};
    for (const inspect::Check& c : computed_reasons(a, library, bike, known)) out.of_heat.push_back(c.code);
    a.stops = stops_of(ctx, library, request, whole_bike, nullptr);
    if (ctx.stopped()) return cancelled();
    a.computed = computed_reasons(a, library, bike, known);
    std::vector<inspect::Check> checks = inspect::checks_of(bike, practice, points[0], points[1]);
    // What is seen on the bike stands before what was computed.
    const auto seen = std::stable_partition(checks.begin(), checks.end(), [](const inspect::Check& c) { return c.id == inspect::CheckId::other; });
    checks.insert(seen, a.computed.begin(), a.computed.end());
    a.verdict = inspect::combine(std::move(checks));
    a.cautions = cautions(a);
    return out;
}

std::string verdict_text(const WheelSaid& s, bool at_sea_level) {
    inspect::Verdict v = s.answer.verdict;
    if (!v.do_not_ride && v.state != inspect::State::replace) {   // all that was never measured is told by `answer`; here what this heat says
        std::erase_if(v.reasons, [&](const inspect::Reason& r) { return std::find(s.of_heat.begin(), s.of_heat.end(), r.code) == s.of_heat.end(); });
        v.notes.clear();
    }
    const std::string below = "see below";
    if (const auto at = v.text.find(below); !v.do_not_ride && v.reasons.empty() && at != v.text.npos) v.text.replace(at, below.size(), "see `answer`");
    std::string text = verdict_text(v);
    text = text.substr(std::min(text.find_first_not_of('\n'), text.size()));
    if (!v.do_not_ride) text += wrap(at_sea_level ? "Of heat alone, at sea level, without fading against the hand; every check and its reason: `answer`."
                                                   : "Of heat alone, without fading against the hand; every check and its reason: `answer`.", 80, 0) + "\n";
    return text;
}

std::vector<std::pair<std::string, std::string>> rows_of(const WheelSaid& s) {
    const WheelHeatAnswer& w = s.heat;
    std::vector<std::pair<std::string, std::string>> out = {{"fluid boils", boils_words(w, s.cases)}, {"squeeze, hot / cold", squeeze_words(w)}};
    if (const auto& core = w.core_peak_degC) out.emplace_back("aluminium core", fmt::format("{:.0f} ({:.0f} to {:.0f})", core->p50, core->p05, core->p95));
    return out;
}

std::vector<std::string> remarks_of(const WheelSaid& s) {
    const WheelHeatAnswer& w = s.heat;
    std::vector<std::string> out;
    if (w.has_fluid && !w.fluid_boil_probability) out.emplace_back(boiling_unknown_words(w.fluid_told));
    if (const std::string words = core_words(w, s.whole_cases); !words.empty()) out.push_back("The rotor's aluminium core: " + words);
    for (std::string& words : outside_measured_words(w.above_measured_power_share, w.outside_measured_share)) out.push_back(std::move(words));
    return out;
}

std::string json_of(const WheelSaid& s) {
    json wheel = json::parse(json_of(s.heat));
    for (const char* not_asked : {"fade_probability", "hot_stop_beyond_hand_probability", "hold_lever_force_N", "hold_lever_force_cold_N", "hold_outside_measured_probability"}) wheel.erase(not_asked);
    return json{{"verdict", json::parse(json_of(s.answer.verdict))}, {"wheel", wheel}}.dump();
}

}  // namespace bw::answer
