// SPDX-License-Identifier: Apache-2.0
// This bike beside the standards' figures: stops, and the heat of the heat-resistance drag.              Layer: answer
#include <fmt/format.h>

#include <algorithm>
#include <cmath>

#include "internal.hpp"
#include "stop/yardsticks.hpp"

namespace bw::answer {

Result<std::vector<Yardstick>> yardsticks(const Context& ctx, const parts::Library& library, const parts::Bike& bike, std::span<const Case> cases, std::vector<std::vector<double>>* each) {
    std::vector<Yardstick> out;
    const std::vector<stop::Yardstick> figures = stop::yardsticks_of(library, bike);
    std::vector<std::vector<double>> have(cases.size());
    parallel_for(ctx, cases.size(), [&](std::size_t i) { have[i] = stop::yardstick_case(figures, cases[i].bike, cases[i].stop); });
    if (ctx.stopped()) return cancelled();
    // Beside what the bike can: the same with the largest effort that riders were measured to give.
    std::vector<stop::Yardstick> ridden = figures;
    for (stop::Yardstick& y : ridden)
        if (y.measure == stop::Measure::brake_distance) y.setup.skill = stop::Skill::test_rider;
    std::vector<std::vector<double>> with_effort(cases.size());
    parallel_for(ctx, cases.size(), [&](std::size_t i) { with_effort[i] = stop::yardstick_case(ridden, cases[i].bike, cases[i].stop); });
    if (ctx.stopped()) return cancelled();
    const std::vector<stop::YardstickResult> effort = stop::stop_yardsticks(ridden, with_effort, {});
    for (const stop::YardstickResult& r : stop::stop_yardsticks(figures, have, {})) {
        std::string remark = r.remark;
        const std::size_t k = out.size();
        if (ridden[k].setup.skill == stop::Skill::test_rider && effort[k].have)
            remark += fmt::format("; with the largest effort that riders were measured to give {:.1f} ({:.1f} to {:.1f}) {}", effort[k].have->p50, effort[k].have->p05, effort[k].have->p95, r.unit);
        out.push_back({.id = r.id, .text = r.what, .unit = r.unit, .source = r.source, .need = r.need, .at_most = r.sense == stop::Sense::at_most, .have = r.have,
                       .met_share = r.met_share, .remark = remark, .grade = r.grade});
    }

    if (each) *each = std::move(have);

    // 300 W for 15 minutes at 12.5 km/h: no figure to meet in kelvin, so `need` is not known; the spread is the point. What the
    // brake keeps of its cold force afterwards is asked for.
    const stop::HeatResistanceLimits limits = stop::heat_resistance_limits(library);
    const double drag_N = heat::heat_resistance_drag().front().power_W / stop::drag_power_W(1, library.value("yardstick.machine_speed"));
    constexpr double room_degC = 20;
    struct Peaks {
        double rotor = 0, pad = 0, fluid = 0;
        double kept = 0;   // braking force after the drag / cold
        stop::Outcome outcome = stop::Outcome::not_evaluated;
    };
    for (const parts::End end : ends) {
        const auto e = static_cast<std::size_t>(end);
        const Case middle{.bike = bike, .stop = cases.front().stop, .heat = {heat::median_unknowns(library, bike, parts::End::front), heat::median_unknowns(library, bike, parts::End::rear)},
                          .wear = cases.front().wear};
        std::optional<Error> trouble;
        enum class Vary { everything, convection };
        const auto drag = [&](Vary vary) {
            std::vector<Peaks> peaks(anchor_cases);
            std::vector<std::optional<Error>> failed(anchor_cases);
            parallel_for(ctx, anchor_cases, [&](std::size_t i) {
                heat::HeatUnknowns u = vary == Vary::everything ? cases[i].heat[e] : middle.heat[e];
                u.convection = cases[i].heat[e].convection;
                u.body_convection = cases[i].heat[e].body_convection;
                const parts::Bike& b = vary == Vary::everything ? cases[i].bike : bike;
                heat::SolveOptions options;
                options.keep = heat::Keep::peaks_only;
                options.stop = ctx.stop;
                const auto run = heat::heat_resistance(heat::reference_of(library, b, end, u, room_degC), options);
                if (!run) {
                    failed[i] = run.error();
                    return;
                }
                peaks[i] = {.rotor = run->peaks.rotor_surface.degC, .pad = run->peaks.pad_face.degC, .fluid = run->peaks.fluid.degC};
                const stop::BrakeUnknowns& brake = cases[i].stop.brake(end);
                const double hot = brake.friction * heat::friction_factor(u.friction, peaks[i].pad);
                const stop::HeatResistance test{.cold_N = stop::tyre_force_from(b, end, brake, brake.friction, limits.lever_most_N), .hot_N = stop::tyre_force_from(b, end, brake, hot, limits.lever_most_N),
                                                .drag_least_N = drag_N, .drag_most_N = drag_N, .lever_most_N = stop::lever_force_for(b, end, brake, hot, drag_N)};
                peaks[i].kept = test.cold_N > 0 ? test.hot_N / test.cold_N : 0;
                peaks[i].outcome = stop::heat_resistance_outcome(test, limits);
            });
            for (const auto& f : failed)
                if (f && !trouble) trouble = *f;
            return peaks;
        };
        const auto over = [](const std::vector<Peaks>& peaks, double Peaks::*of) {
            std::vector<double> v;
            for (const Peaks& p : peaks) v.push_back(p.*of);
            return interval_of(v);
        };
        const std::vector<Peaks> all = drag(Vary::everything), by_convection = drag(Vary::convection);
        if (ctx.stopped()) return cancelled();
        if (trouble) return *trouble;
        const std::string name(parts::word_of(end));
        const auto row = [&](const char* what, const char* words, const Interval& i) {
            out.push_back({.id = fmt::format("heat_resistance_{}_{}", name, what), .text = fmt::format("300 W for 15 min at 12.5 km/h, {} {}", name, words), .unit = "°C",
                           .source = "ISO 4210-4 heat resistance: power and time from memory; the band of 60 to 115 N was read", .need = std::nan(""), .have = i, .met_share = std::nan(""), .remark = "a yardstick, not an approval",
                           .grade = Grade::published_from_memory});
        };
        row("rotor", "rotor", over(all, &Peaks::rotor));
        row("rotor_by_convection", "rotor, spread by convection alone", over(by_convection, &Peaks::rotor));
        row("pad_face", "pad face", over(all, &Peaks::pad));
        if (bike.wheel(end).fluid) row("fluid", "fluid", over(all, &Peaks::fluid));
        const auto met = std::count_if(all.begin(), all.end(), [](const Peaks& p) { return p.outcome == stop::Outcome::pass; });
        const parts::Datum& asked = library.row("yardstick.heat_kept");
        out.push_back({.id = fmt::format("heat_resistance_{}_kept", name), .text = fmt::format("braking force after that drag over the cold one, {} brake at {:g} N", name, limits.lever_most_N), .unit = "",
                       .source = asked.value.source, .need = limits.kept, .at_most = false, .have = over(all, &Peaks::kept), .met_share = static_cast<double>(met) / static_cast<double>(all.size()),
                       .remark = fmt::format("a yardstick, not an approval; pads as hot as at their hottest, and the drag itself takes no more than {:g} N at the lever. Power and time of the drag are from memory; friction above 277 °C was never measured", limits.lever_most_N),
                       .grade = Grade::published_from_memory});
    }
    return out;
}

}  // namespace bw::answer
