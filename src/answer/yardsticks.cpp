// SPDX-License-Identifier: Apache-2.0
// This bike beside the standards' figures: stops, and the heat of the heat-resistance drag.              Layer: answer
#include <fmt/format.h>

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
    for (const stop::YardstickResult& r : stop::stop_yardsticks(figures, have, {})) {
        out.push_back({.id = r.id, .text = r.what, .unit = r.unit, .source = r.source, .need = r.need, .at_most = r.sense == stop::Sense::at_most, .have = r.have,
                       .met_share = r.met_share, .remark = r.remark, .grade = r.grade});
    }

    if (each) *each = std::move(have);

    // 300 W for 15 minutes at 12.5 km/h: no figure to meet in kelvin, so `need` is not known; the spread is the point.
    constexpr double room_degC = 20;
    struct Peaks {
        double rotor = 0, pad = 0, fluid = 0;
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
                if (run) peaks[i] = {run->peaks.rotor_surface.degC, run->peaks.pad_face.degC, run->peaks.fluid.degC};
                else failed[i] = run.error();
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
                           .source = "ISO 4210-4 heat resistance: power and time from memory; the band of 60 to 115 N was read", .need = std::nan(""), .have = i, .met_share = 0, .remark = "a yardstick, not an approval",
                           .grade = Grade::published_from_memory});
        };
        row("rotor", "rotor", over(all, &Peaks::rotor));
        row("rotor_by_convection", "rotor, spread by convection alone", over(by_convection, &Peaks::rotor));
        row("pad_face", "pad face", over(all, &Peaks::pad));
        if (bike.wheel(end).fluid) row("fluid", "fluid", over(all, &Peaks::fluid));
    }
    return out;
}

}  // namespace bw::answer
