// SPDX-License-Identifier: Apache-2.0
// What was assumed, what to measure next, and the cautions.                                              Layer: answer
#include <fmt/format.h>

#include <algorithm>
#include <cmath>

#include "base/text.hpp"
#include "describe.hpp"
#include "internal.hpp"

namespace bw::answer {

std::vector<Assumption> assumptions(const parts::Library& library, const Request& request, const Cases& cases, const Answer& a) {
    std::vector<Assumption> out;
    const parts::Bike& bike = request.bike;
    const auto word = [&](const std::string& key, std::string_view value, const char* source) {
        if (!bike.given.contains(key)) out.push_back({.key = key, .unit = "", .source = source, .value = {}, .sd = {}, .text = std::string(value), .grade = Grade::assumed});
    };
    for (const parts::End end : ends) {
        const parts::Wheel& w = bike.wheel(end);
        const std::string p = std::string(parts::word_of(end)) + ".";
        word(p + "actuation", parts::word_of(w.actuation), "usual for this kind of bike");
        word(p + "pads.compound", parts::word_of(w.pads.compound), "usual for this kind of bike");
        word(p + "rotor.material", parts::word_of(w.rotor.material), "usual for bicycle rotors");
        if (w.fluid) word(p + "fluid.kind", parts::word_of(w.fluid->kind), "not told; mineral oil has no published boiling point, so nothing is claimed of it");
        word(p + "housing.kind", parts::word_of(w.housing.kind), "usual for this actuation");
    }
    for (const Input& i : cases.inputs()) {
        if (bike.given.contains(i.key) || i.value.source.empty()) continue;
        if (i.key == "bike.total_mass_kg") continue;   // the sum of its parts
        if (bike.given.contains("bike.total_mass_kg") && (i.key == "rider.mass_kg" || i.key == "bike.mass_kg" || i.key == "bike.load_kg")) continue;   // used nowhere then
        out.push_back({.key = i.key, .unit = i.unit, .source = i.value.source, .value = i.value.value, .sd = i.value.sd, .text = "", .grade = i.value.grade});
    }
    const auto row = [&](const char* id, const char* key) {
        const parts::Datum& d = library.row(id);
        out.push_back({.key = key, .unit = d.unit, .source = d.value.source, .value = d.value.value, .sd = d.value.sd, .text = "", .grade = d.value.grade});
    };
    const auto any_untold = [&](auto&& told) { return std::any_of(request.rides.begin(), request.rides.end(), [&](const RideInput& r) { return !told(r); }); };
    const auto any_plan_untold = [&](auto&& told) { return std::any_of(request.planned.begin(), request.planned.end(), [&](const PlannedInput& r) { return !told(r.tags); }); };
    // A wind told with its direction is of no use to some rides: those count as untold.
    const bool blown = std::any_of(a.rides.begin(), a.rides.end(), wind_was_taken);
    const bool in_vain = std::any_of(a.rides.begin(), a.rides.end(), [](const RideAnswer& r) { return !r.described && wind_counts_as_untold(r); });
    if (in_vain || any_untold([](const RideInput& r) { return r.tags.wind_mps.has_value(); }) || any_plan_untold([](const RideTags& t) { return t.wind_mps.has_value(); }))
        row("riding.wind_mps", "ride.wind_mps");
    if (blown)
        for (const char* name : {"shelter", "direction_deg"}) row(fmt::format("wind.{}", name).c_str(), fmt::format("ride.wind_{}", name).c_str());
    const bool air_untold = any_untold([](const RideInput& r) { return r.tags.air_degC || !r.track.temperature_degC.empty(); }) ||
                            any_plan_untold([](const RideTags& t) { return t.air_degC.has_value(); });
    if (air_untold) row("riding.air_degC", "ride.air_degC");
    for (const RideAnswer& r : a.rides)
        if (r.style && !r.style_told) {
            out.push_back({.key = "ride.style", .unit = "", .source = "nobody told the style of braking on a planned ride", .value = {}, .sd = {}, .text = std::string(ride::word_of(*r.style)), .grade = Grade::assumed});
            break;
        }
    if (a.rides_per_day_assumed) row("riding.rides_per_week", "riding.rides_per_week");
    if (request.terrain && a.rides.size() == 1 && a.rides[0].planned && !a.rides[0].style) {
        row("riding.air_degC", "ride.air_degC");
        for (const char* name : {"descent_m", "grade", "speed_mps"})
            row(fmt::format("terrain.{}.{}", wear::word_of(*request.terrain), name).c_str(), fmt::format("ride.{}", name).c_str());
    }
    if (any_tags(request, [](const RideTags& t) { return !t.surface.has_value(); }))
        out.push_back({.key = "ride.surface", .unit = "", .source = "nobody told the surface", .value = {}, .sd = {}, .text = "dry", .grade = Grade::assumed});
    return out;
}

namespace {

struct Candidate {
    std::string what;
    std::vector<std::string> keys;   //!< inputs that the reading would settle
    const char* minutes;
    std::string text;
    bool today;                      //!< false: needs some riding first
};

}  // namespace

namespace {

// What the verdict waits for: a reading that could hold the bike back or let it go.
struct WaitsFor {
    std::string what, text;
};
std::optional<WaitsFor> verdict_waits_for(const Answer& a) {
    for (const parts::End wheel : ends) {
        const std::string w(parts::word_of(wheel));
        const bool waits = std::any_of(a.verdict.reasons.begin(), a.verdict.reasons.end(), [&](const inspect::Reason& r) { return r.code.find(w + "_pad") != std::string::npos; });
        if (a.verdict.do_not_ride || a.verdict.state != inspect::State::measure_better || !waits) continue;
        const parts::Pads& pads = a.bike.wheel(wheel).pads;
        if (a.bike.given.contains(w + ".pads.friction_thickness_mm") && !pads.plate_measured)
            return WaitsFor{w + ".pads.plate_thickness_mm", fmt::format("Take the {} pads out and measure the plate alone: without it no thickness decides anything.", w)};
        return WaitsFor{w + ".pads.friction_thickness_mm", fmt::format("Measure the {} pads at four corners, friction material and plate apart.", w)};
    }
    return std::nullopt;
}

}  // namespace

std::optional<Measurement> next_measurement(const parts::Library& library, const Answer& a, const LifeReport& report) {
    if (const auto w = verdict_waits_for(a)) {
        const double minutes = library.value("minutes.pad_thickness");
        return Measurement{.what = w->what, .minutes = minutes, .text = fmt::format("{} About {:.0f} minutes. {}", w->text, minutes, report.unread.empty() ? next_words(report) : unread_words(report))};
    }
    if (report.next.empty()) return std::nullopt;
    const NextReading& best = report.next.front();
    return Measurement{.what = fmt::format("{}.{}", wear::wheel_of(best.component) == 0 ? "front" : "rear", is_rotor(best.component) ? "rotor.thickness_mm" : "pads.friction_thickness_mm"), .minutes = best.minutes,
                       .text = next_words(report)};
}

std::optional<Measurement> next_measurement(const parts::Library& library, const Answer& a, const Cases& cases, std::span<const std::vector<double>> life_km) {
    // The wheel whose pads come first.
    const std::size_t e = quantile(life_km[0], 0.5) <= quantile(life_km[1], 0.5) ? 0 : 1;
    const std::string end(parts::word_of(ends[e]));
    std::vector<double> y;
    for (const double km : life_km[e]) y.push_back(std::log(std::max(km, 0.1)));

    std::vector<Candidate> candidates = {
        {end + ".pads.friction_thickness_mm", {end + ".pads.friction_thickness_mm", end + ".pads.plate_thickness_mm"}, "pad_thickness",
         fmt::format("measure the {} pads at four corners, friction material without the plate", end), true},
        {"bike.total_mass_kg", {"bike.total_mass_kg", "rider.mass_kg", "bike.mass_kg", "bike.load_kg"}, "mass", "weigh the bike with rider and load", true},
        {end + ".pads.area_mm2", {end + ".pads.area_mm2"}, "pad_thickness", fmt::format("lay a {} pad on squared paper for the area of its friction face", end), true},
        {"bike.drag_area_m2", {"bike.drag_area_m2", "bike.rolling_resistance"}, "mass", "let the bike coast down a slope that you know, and record it", true},
    };
    std::vector<std::string> wear_keys;
    for (const Input& i : cases.inputs())
        if (i.key.starts_with(end + ".wear.") || i.key.starts_with("wear.") || i.key == "riding.wet" || i.key == "riding.grit") wear_keys.push_back(i.key);
    candidates.push_back({end + ".pads.friction_thickness_mm", wear_keys, "second_reading",
                          fmt::format("measure the {} pads again after some rides, since two readings tell this rider's wear", end), false});

    if (cases.has("told.habit")) {
        std::vector<std::string> told_keys;
        for (const Input& i : cases.inputs())
            if (i.key.starts_with("told.")) told_keys.push_back(i.key);
        candidates.push_back({"ride", told_keys, "recording", "record a ride or two of those that were only described", true});
    }

    const auto share_of = [&](const Candidate& c) {
        double sum = 0;
        for (const std::string& key : c.keys)
            if (cases.has(key)) sum += first_order_share(cases.column(key), y);
        return std::min(1.0, sum);
    };
    const Candidate* now = nullptr;
    const Candidate* later = nullptr;
    double now_share = -1, later_share = -1;
    for (const Candidate& c : candidates) {
        const double share = share_of(c);
        if (c.today && share > now_share) { now = &c; now_share = share; }
        if (!c.today && share > later_share) { later = &c; later_share = share; }
    }
    const auto percent = [](double share) { return fmt::format("{:.0f} %", share * 100); };
    const auto minutes = [&](const char* row) { return library.value(std::string("minutes.") + row); };
    std::string what = now->what, text;
    const char* row = now->minutes;

    if (const auto w = verdict_waits_for(a)) what = w->what, text = w->text, row = "pad_thickness";
    const bool later_is_best = later && later_share > now_share;
    if (text.empty()) {
        if (later_is_best && now_share < 0.05) {
            what = later->what;
            row = later->minutes;
        }
        text = (later_is_best && now_share < 0.05 ? later->text : now->text) + ".";
        text[0] = static_cast<char>(std::toupper(static_cast<unsigned char>(text[0])));
    }
    text += fmt::format(" About {:.0f} minutes.", minutes(row));
    // What each reading is worth for the life of the pads that come first.
    if (now_share >= 0.05)
        text += fmt::format(" What today can settle ({}) carries {} of what is uncertain in the life of the {} pads.", now->text, percent(now_share), end);
    else
        text += fmt::format(" Nothing that can be read today narrows the life of the {} pads by much.", end);
    if (later_is_best) text += fmt::format(" Their wear itself carries {}: {}.", percent(later_share), later->text);
    return Measurement{.what = what, .minutes = minutes(row), .text = text};
}

std::vector<std::string> cautions(const Answer& a) {
    std::vector<std::string> out = {caution};
    double hottest = 0;
    for (const RideAnswer& r : a.rides)
        for (const WheelHeatAnswer& w : r.wheels) hottest = std::max(hottest, w.judged.hottest_ring_degC.p95);
    if (hottest > 120)   // skin burns at far less; this is about what to do with a brake that was worked hard
        out.push_back("Hot brakes: roll on without braking where the road allows it, try the levers before going on, no water on them, do not touch. The fluid is hottest "
                      "minutes after the halt.");
    // Fluid that cannot flow back pushes the pads out by as much as the usual gap (common practice: about 0.25 mm) or more. The worst once.
    const WheelHeatAnswer* worst = nullptr;
    std::string where;
    for (const RideAnswer& r : a.rides)
        for (const parts::End end : ends) {
            const WheelHeatAnswer& w = r.wheels[static_cast<std::size_t>(end)];
            if (!w.has_fluid || w.gap_taken_mm < 0.1 || (worst && worst->gap_taken_mm >= w.gap_taken_mm)) continue;
            worst = &w;
            where = fmt::format("The {} fluid gets hot enough on {}", parts::word_of(end), r.file);
        }
    if (worst)
        out.push_back(fmt::format("{} to move each pad by up to {:.2f} mm if it cannot flow back (a held lever, an overfilled reservoir, an arm that does not return); the usual gap is "
                                  "about 0.25 mm. A brake that starts to drag heats itself: stop and let it cool.", where, worst->gap_taken_mm));
    for (const parts::End end : ends)
        if (a.bike.wheel(end).actuation == parts::Actuation::cable_to_hydraulic) {
            out.push_back("Cable-to-hydraulic caliper: the arm must come back to its stop with the lever released, else the fluid has no way back and the brake drags.");
            break;
        }
    // Common practice, no source.
    if (a.bike.trailer) out.push_back("A trailer pushes when you brake: brake before the bend and in a straight line, and leave more room. How it folds up in a bend is not computed.");
    if (a.bike.regeneration_W) out.push_back("A motor takes nothing back while its battery is full or cold: the brakes must hold the bike without it.");
    out.push_back("A thickness says nothing about a cracked or lifting bond: look at every pad.");
    return out;
}

}  // namespace bw::answer
