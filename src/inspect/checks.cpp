// SPDX-License-Identifier: Apache-2.0
// The rules of single checks. DESIGN 3 binds every state and every sentence here.                        Layer: inspect
#include <algorithm>
#include <cmath>
#include <fmt/format.h>

#include "inspect/verdict.hpp"

namespace bw::inspect {

namespace {

constexpr const char* bond_note =
    " A thickness says nothing about a cracked or lifting bond between pad and plate: look at the edge as well.";

CheckId at(parts::End end, CheckId front, CheckId rear) { return end == parts::End::front ? front : rear; }

}  // namespace

std::string name_of_check(CheckId id) {
    switch (id) {
        case CheckId::front_pad_thickness: return "thickness of the front pads";
        case CheckId::rear_pad_thickness: return "thickness of the rear pads";
        case CheckId::front_rotor_thickness: return "thickness of the front rotor";
        case CheckId::rear_rotor_thickness: return "thickness of the rear rotor";
        case CheckId::front_lever_travel: return "travel of the front brake's lever";
        case CheckId::rear_lever_travel: return "travel of the rear brake's lever";
        case CheckId::front_fluid_or_cable: return "fluid or cable of the front brake";
        case CheckId::rear_fluid_or_cable: return "fluid or cable of the rear brake";
        case CheckId::front_rotor_run_out: return "run-out of the front rotor";
        case CheckId::rear_rotor_run_out: return "run-out of the rear rotor";
        case CheckId::bolts_and_cracks: return "bolts, and cracks in rotors, pads and lever";
        case CheckId::leaks_and_oil: return "leaks, and oil on pads or rotor";
        case CheckId::other: return "something else";
    }
    return "something else";
}

namespace {

// Keeps the invariant held_back <=> do_not_ride in one place.
Check made(CheckId id, std::string code, State state, bool done, std::string text) {
    return {.id = id, .code = std::move(code), .state = state, .done = done,
            .do_not_ride = state == State::held_back, .text = std::move(text)};
}

// The least of the readings, NaN if there is none or one of them is no number.
double thinnest(std::span<const double> values) {
    if (values.empty()) return std::nan("");
    double least = values.front();
    for (const double v : values) {
        if (!std::isfinite(v)) return std::nan("");
        least = std::min(least, v);
    }
    return least;
}

std::string mm(double value) { return fmt::format("{:.2f} mm", value); }
std::string percent(double share) { return share < 0.995 ? fmt::format("{:.0f} %", 100 * share) : "over 99 %"; }

}  // namespace

Practice practice_of(const parts::Library& library) {
    return {.near_plate_mm = library.value("inspect.pad.near_plate_mm"),
            .pad_least_mm = library.value("inspect.pad.practice_least_mm"),
            .pad_replace_mm = library.value("inspect.pad.practice_replace_mm"),
            .rotor_least_thin_mm = library.value("inspect.rotor.practice_least_thin_mm"),
            .rotor_least_thick_mm = library.value("inspect.rotor.practice_least_thick_mm"),
            .rotor_thick_from_mm = library.value("inspect.rotor.thick_from_mm"),
            .lever_near_mm = library.value("inspect.lever.near_mm"),
            .run_out_high_mm = library.value("inspect.run_out.practice_high_mm"),
            .run_out_hold_mm = library.value("inspect.run_out.practice_hold_mm"),
            .fluid_months = library.value("inspect.fluid.practice_months"),
            .dry_point_degC = {library.value("inspect.fluid.dot3_dry_point_degC"), library.value("inspect.fluid.dot4_dry_point_degC"),
                               library.value("inspect.fluid.dot5_1_dry_point_degC")},
            .doubt = library.value("inspect.rule.doubt"),
            .caliper = {.resolution = library.value("inspect.caliper.resolution_mm"),
                        .permitted_error = library.value("inspect.caliper.permitted_error_mm")}};
}

std::optional<double> published_dry_point_degC(const Practice& p, parts::FluidKind kind) {
    switch (kind) {
        case parts::FluidKind::dot3: return p.dry_point_degC[0];
        case parts::FluidKind::dot4: return p.dry_point_degC[1];
        case parts::FluidKind::dot5_1: return p.dry_point_degC[2];
        case parts::FluidKind::mineral: return std::nullopt;
    }
    return std::nullopt;
}

double practice_rotor_least_mm(const Practice& p, double thickness_mm) {
    return thickness_mm >= p.rotor_thick_from_mm ? p.rotor_least_thick_mm : p.rotor_least_thin_mm;
}

Check check_never_measured(CheckId id) {
    return made(id, fmt::format("{}_never_measured", word_of(id)), State::measure_better, false,
                fmt::format("Nobody has measured the {}, so nothing is known of it. Measure it.", name_of_check(id)));
}

Check check_not_looked(CheckId id) {
    return made(id, fmt::format("{}_not_looked", word_of(id)), State::no_reason_found, false,
                fmt::format("Not looked at here: {}. Look at it before you ride.", name_of_check(id)));
}

Check check_pad(const PadCheck& c, const Practice& p) {
    const CheckId id = at(c.end, CheckId::front_pad_thickness, CheckId::rear_pad_thickness);
    const double x = thinnest(c.corners_mm);
    if (std::isnan(x) || !std::isfinite(c.uncertainty_mm)) return check_never_measured(id);

    const std::string_view end = parts::word_of(c.end);
    const std::string pad = c.which.empty() ? fmt::format("{} pad", end) : fmt::format("{} {} pad", end, c.which);
    const std::string thin = c.corners_mm.size() > 1 ? "at its thinnest place" : "where it was measured";
    const auto code = [&](std::string_view what) { return fmt::format("{}_pad_{}", end, what); };
    const std::string plate_note =
        c.plate == Plate::assumed ? " The plate's thickness was assumed, not measured: measure plate and pad." : "";
    const auto check = [&](std::string_view what, State state, std::string text) {
        return made(id, code(what), state, true, text + plate_note + bond_note);
    };

    if (x <= p.near_plate_mm)
        return check("near_plate", State::held_back,
                     fmt::format("Do not ride: the {} has {} of friction material left {}. One long wet descent can take "
                                 "0.5 mm, then metal runs on the rotor. Put new pads in.", pad, mm(std::max(x, 0.0)), thin));
    if (c.least_mm && x <= *c.least_mm)
        return check("under_limit", State::held_back,
                     fmt::format("Do not ride: the {} has {} of friction material left {}, at or under the maker's limit of {}. "
                                 "Put new pads in.", pad, mm(x), thin, mm(*c.least_mm)));
    if (!c.least_mm && x <= p.pad_least_mm)
        return check("under_practice", State::held_back,
                     fmt::format("Do not ride: the {} has {} of friction material left {}. Common practice is to change at {} to "
                                 "{}, the maker's limit is not known. Put new pads in.",
                                 pad, mm(x), thin, mm(p.pad_least_mm), mm(p.pad_replace_mm)));
    if (!c.least_mm && x <= p.pad_replace_mm)
        return check("in_practice_band", State::replace,
                     fmt::format("The {} has {} of friction material left {}. The maker's limit is not known; common practice is to "
                                 "change at {} to {}. Put new pads in now.",
                                 pad, mm(x), thin, mm(p.pad_least_mm), mm(p.pad_replace_mm)));

    const double limit = c.least_mm.value_or(p.pad_replace_mm);
    const double below = probability_below(limit, x, c.uncertainty_mm);
    if (below > p.doubt)
        return check("too_near_to_tell", State::measure_better,
                     fmt::format("The {} reads {} {}, the limit is {}, and the reading is good to about {}: the chance of being under "
                                 "the limit is {}. From {} on this instrument would do. Measure again with a better one, or put new "
                                 "pads in.", pad, mm(x), thin, mm(limit), mm(2 * c.uncertainty_mm), percent(below),
                                 mm(guarded_limit(limit, c.uncertainty_mm, p.doubt))));
    if (c.plate == Plate::assumed)
        return check("plate_assumed", State::measure_better,
                     fmt::format("The {} seems to have {} of friction material left {}.", pad, mm(x), thin));
    if (!c.least_mm)
        return check("limit_not_known", State::measure_better,
                     fmt::format("The {} has {} of friction material left {}, over the common practice of {} to {}. That clears nothing: "
                                 "find the maker's limit for these pads.",
                                 pad, mm(x), thin, mm(p.pad_least_mm), mm(p.pad_replace_mm)));
    return check("over_limit", State::no_reason_found,
                 fmt::format("The {} has {} of friction material left {}, over the maker's limit of {}.", pad, mm(x), thin, mm(limit)));
}

bool betters(double later_uncertainty, int later_places, double uncertainty, int places) {
    return later_uncertainty <= uncertainty && later_places >= places && (later_uncertainty < uncertainty || later_places > places);
}

std::optional<Band> band_of(const RotorCheck& c) {
    const double read = thinnest(c.places_mm);
    if (std::isnan(read) || !std::isfinite(c.uncertainty_mm)) return std::nullopt;
    // Only flat jaws rest on the rim; a point on the band reads the band itself.
    const bool flat = c.anvil == Anvil::flat_jaws;
    return Band{.thickness_mm = flat ? read - std::max(c.ridge_mm.value_or(0.0), 0.0) : read,
                .uncertainty_mm = flat && c.ridge_mm ? std::hypot(c.uncertainty_mm, c.ridge_uncertainty_mm) : c.uncertainty_mm,
                .too_thick = c.anvil == Anvil::not_told || (flat && !c.ridge_mm)};
}

Check check_rotor(const RotorCheck& c, const Practice& p) {
    const CheckId id = at(c.end, CheckId::front_rotor_thickness, CheckId::rear_rotor_thickness);
    const std::optional<Band> band = band_of(c);
    if (!band) return check_never_measured(id);
    const bool flat = c.anvil == Anvil::flat_jaws;
    const double ridge = c.ridge_mm.value_or(0.0);
    const double x = band->thickness_mm;

    const std::string_view end = parts::word_of(c.end);
    const std::string rotor = fmt::format("{} rotor", end);
    std::string jaws;
    if (flat && c.ridge_mm)
        jaws = fmt::format(" The jaws were flat and rest on the unworn rim: the ridge of {} was taken off.", mm(ridge));
    else if (flat)
        jaws = " The jaws were flat and rest on the unworn rim, so the band is thinner than the reading by a ridge that nobody "
               "measured. Measure with a pointed anvil, or put a coin of known thickness on each side.";
    else if (c.anvil == Anvil::not_told)
        jaws = " If the jaws were flat, they rest on the unworn rim and the band is thinner than that: say which anvil it was.";
    const auto check = [&](std::string_view what, State state, std::string text) {
        return made(id, fmt::format("{}_rotor_{}", end, what), state, true, text + jaws);
    };

    if (c.least_mm && x <= *c.least_mm)
        return check("under_limit", State::held_back,
                     fmt::format("Do not ride: the {} is {} thick at its thinnest place, at or under its limit of {}. Replace it.",
                                 rotor, mm(x), mm(*c.least_mm)));
    // By the thinner limit: nobody knows how thick this rotor was when new, and practice alone clears nothing anyway.
    const double practice = practice_rotor_least_mm(p, x);
    if (!c.least_mm && x <= practice)
        return check("under_practice", State::held_back,
                     fmt::format("Do not ride: the {} is {} thick at its thinnest place. Its maker's limit is not known; common "
                                 "practice is to replace it at {}. Replace it, or show the maker's limit.",
                                 rotor, mm(x), mm(practice)));

    const double limit = c.least_mm.value_or(practice);
    const double below = probability_below(limit, x, band->uncertainty_mm);
    if (below > p.doubt)
        return check("too_near_to_tell", State::measure_better,
                     fmt::format("The {} reads {}, the limit is {}, and the reading is good to about {}: the chance of being under the "
                                 "limit is {}. Measure again with a micrometer, at several places.",
                                 rotor, mm(x), mm(limit), mm(2 * band->uncertainty_mm), percent(below)));
    if (!c.least_mm)
        return check("limit_not_known", State::measure_better,
                     fmt::format("The {} is {} thick. Its limit is not known; common practice is {} for rotors of 1.8 mm and {} for "
                                 "rotors of 2.0 mm, and that clears nothing. The limit is usually stamped on the rotor: find it.",
                                 rotor, mm(x), mm(p.rotor_least_thin_mm), mm(p.rotor_least_thick_mm)));
    if (c.anvil == Anvil::not_told) return check("anvil_not_told", State::measure_better, fmt::format("The {} reads {}.", rotor, mm(x)));
    if (flat && !c.ridge_mm)
        return check("ridge_not_measured", State::measure_better, fmt::format("The {} reads {}.", rotor, mm(x)));
    return check("over_limit", State::no_reason_found,
                 fmt::format("The {} is {} thick at its thinnest place, over its limit of {}.", rotor, mm(x), mm(limit)));
}

std::string bite_advice(parts::Actuation actuation) {
    switch (actuation) {
        case parts::Actuation::hydraulic:
            return "Look at the pads first, then bleed the brake and measure again.";
        case parts::Actuation::cable:
            return "Look at pads, cable and housing, set the pads nearer with the caliper's own adjusters, then measure again.";
        case parts::Actuation::cable_to_hydraulic:
            return "Let the caliper's arm come right back to its stop, with slack in the cable; put the bite right with the caliper's "
                   "own pad adjustment or by bleeding it as its maker says, not with the cable. Then measure again.";
    }
    return "See a qualified mechanic.";
}

Check check_lever(const LeverCheck& c, const Practice& p) {
    const CheckId id = at(c.end, CheckId::front_lever_travel, CheckId::rear_lever_travel);
    const bool odd = (c.bite_mm && !std::isfinite(*c.bite_mm)) || (c.full_mm && !std::isfinite(*c.full_mm));
    if ((!c.bite_mm && !c.full_mm) || odd || !std::isfinite(c.uncertainty_mm)) return check_never_measured(id);
    const std::string_view end = parts::word_of(c.end);
    const std::string advice = fmt::format(" {}", bite_advice(c.actuation));
    const auto check = [&](std::string_view what, State state, bool done, std::string text) {
        return made(id, fmt::format("{}_lever_{}", end, what), state, done, std::move(text));
    };

    if (c.bite_mm && *c.bite_mm <= 0)
        return check("bites_at_bar", State::held_back, true,
                     fmt::format("Do not ride: the {} lever is at the bar before the pads touch.", end) + advice);
    if (c.full_mm && *c.full_mm <= 0)
        return check("reaches_bar", State::held_back, true,
                     fmt::format("Do not ride: the {} lever reaches the bar before it gives the force that is needed.", end) + advice);
    if (!c.full_mm)
        return check("full_point_not_known", State::measure_better, false,
                     fmt::format("The {} lever bites {} from the bar; how near it comes under full force is not known. Squeeze hard and "
                                 "measure.", end, fmt::format("{:.1f} mm", *c.bite_mm)));
    const double below = probability_below(0, *c.full_mm, c.uncertainty_mm);
    if (below > p.doubt || *c.full_mm < p.lever_near_mm)
        return check("near_bar", State::measure_better, true,
                     fmt::format("The {} lever comes to {} from the bar at the force that is needed; the chance that it reaches the bar "
                                 "is {}. Squeeze hard and measure.", end, mm(*c.full_mm), percent(below)) + advice);
    if (c.full_from == LeverCheck::From::estimate)
        return check("full_point_estimated", State::no_reason_found, false,
                     fmt::format("The {} lever: by estimate {:.0f} mm are left to the bar at the force that is needed. Squeeze hard and measure: an estimate clears nothing.", end,
                                 *c.full_mm));
    return check("clear_of_bar", State::no_reason_found, true,
                 fmt::format("The {} lever keeps {} from the bar at the force that is needed.", end, mm(*c.full_mm)));
}

Check check_fluid(const FluidCheck& c, const Practice& p) {
    const CheckId id = at(c.end, CheckId::front_fluid_or_cable, CheckId::rear_fluid_or_cable);
    const std::string_view end = parts::word_of(c.end);
    if (!c.kind)
        return made(id, fmt::format("{}_cable_not_looked", end), State::no_reason_found, false,
                    fmt::format("Not looked at here: the {} brake's cable and housing. Look for broken strands, kinks and rust.", end));
    const std::string point =
        !c.kind_told
            ? std::string(" Which fluid it is was not told, so its boiling point is not known: look at the lever's cover. Glycol takes up water and boils lower "
                          "each year; mineral oil does not, but water that got in boils near 100 °C, less high up.")
        : c.dry_point_degC
            ? fmt::format(" Fresh fluid of its grade boils at {:.0f} °C or more, old fluid with water in it much lower.", *c.dry_point_degC)
            : std::string(" Its boiling point is not known: nobody published it. It takes up no water, but water that got in stays "
                          "apart and boils near 100 °C, less high up.");
    if (!c.age_months || !std::isfinite(*c.age_months)) {
        Check check = check_never_measured(id);
        check.code = fmt::format("{}_fluid_age_not_known", end);
        check.text = fmt::format("The age of the {} brake's fluid is not known. Find out, or change it.", end) + point;
        return check;
    }
    if (*c.age_months > p.fluid_months)
        return made(id, fmt::format("{}_fluid_old", end), State::replace, true,
                    fmt::format("The {} brake's fluid is {:.0f} months old; common practice is to change it within {:.0f}, unless the "
                                "maker says otherwise. Change it.", end, *c.age_months, p.fluid_months) + point);
    if (!c.kind_told) {
        Check check = check_never_measured(id);
        check.code = fmt::format("{}_fluid_kind_not_told", end);
        check.text = fmt::format("The {} brake's fluid is {:.0f} months old.", end, *c.age_months) + point;
        return check;
    }
    if (!c.dry_point_degC)
        return made(id, fmt::format("{}_fluid_point_not_known", end), State::no_reason_found, false,
                    fmt::format("The {} brake's fluid is {:.0f} months old.", end, *c.age_months) + point);
    return made(id, fmt::format("{}_fluid_young", end), State::no_reason_found, true,
                fmt::format("The {} brake's fluid is {:.0f} months old.", end, *c.age_months) + point);
}

Check check_seen(CheckId id, Seen seen) {
    const auto held = [&](std::string_view code, std::string text) {
        return made(id, std::string(code), State::held_back, true, std::move(text));
    };
    switch (seen) {
        case Seen::not_looked: return check_not_looked(id);
        case Seen::nothing_seen:
            return made(id, fmt::format("{}_nothing_seen", word_of(id)), State::no_reason_found, true,
                        fmt::format("Looked at, nothing found: {}.", name_of_check(id)));
        case Seen::crack: return held("crack", "Do not ride: there is a crack. Replace the part.");
        case Seen::loose_bolt:
            return held("loose_bolt", "Do not ride: a bolt is loose. Tighten it to the maker's torque, and find out why it came loose.");
        case Seen::leak:
            return held("leak", "Do not ride: the brake leaks. Find the leak and mend it, bleed the brake, clean the rotor and put new pads in.");
        case Seen::oil_on_pads:
            return held("oil_on_pads", "Do not ride: there is oil on the pads. Put new pads in, clean the rotor, bed in, then make a "
                                       "proof stop.");
        case Seen::soft_lever_after_heat:
            return held("soft_lever_after_heat", "Do not ride: the lever went soft after heat. Let it cool, then bleed the brake.");
    }
    return check_not_looked(id);
}

std::optional<Check> check_condition(parts::End end, parts::PadCondition condition) {
    if (condition != parts::PadCondition::oiled) return std::nullopt;
    const std::string_view at = parts::word_of(end);
    return made(CheckId::other, fmt::format("{}_pads_oiled", at), State::held_back, true,
                fmt::format("Do not ride: oil or brake fluid on the {} pads. Find the leak or what dripped, fit new pads, clean the rotor, bed them in, and prove the brake by a few stops.", at));
}

std::vector<Check> checks_of(const parts::Bike& bike, const Practice& p, const LeverPoints& front, const LeverPoints& rear) {
    using parts::End;
    std::vector<Check> checks;
    const double caliper = standard_uncertainty(p.caliper);
    for (const End end : {End::front, End::rear}) {
        const parts::Wheel& wheel = bike.wheel(end);
        const std::string prefix(parts::word_of(end));
        const auto given = [&](std::string_view key) { return bike.given.contains(fmt::format("{}.{}", prefix, key)); };
        const auto readings = [&](std::string_view key, const Uncertain& value) {
            return given(key) ? std::span<const double>(&value.value, 1) : std::span<const double>();
        };
        const auto limit = [](const std::optional<Uncertain>& u) { return u ? std::optional<double>(u->value) : std::nullopt; };

        if (std::optional<Check> oiled = check_condition(end, wheel.pads.condition)) checks.push_back(*std::move(oiled));
        // One figure stands for both pads unless the other pad has its own; then the thinner counts.
        const std::optional<Uncertain>& other = wheel.pads.other_friction_thickness_mm;
        const bool one = given("pads.friction_thickness_mm");
        const Uncertain& thin = other && !one ? *other : parts::least_friction(wheel.pads);
        const Check pads = check_pad({.end = end, .which = "",
                                      .corners_mm = one || other ? std::span<const double>(&thin.value, 1) : std::span<const double>(),
                                      .uncertainty_mm = std::max({thin.sd, one && other ? std::max(other->sd, wheel.pads.friction_thickness_mm.sd) : 0.0, caliper}),
                                      .plate = wheel.pads.plate_measured ? Plate::measured : Plate::assumed,
                                      .least_mm = limit(wheel.pads.least_friction_mm)}, p);
        // The other pad alone can hold back; it clears nothing for the one that nobody measured.
        checks.push_back(one || pads.do_not_ride ? pads : check_never_measured(pads.id));
        checks.push_back(check_rotor({.end = end, .places_mm = readings("rotor.thickness_mm", wheel.rotor.thickness_mm),
                                      .uncertainty_mm = std::max(wheel.rotor.thickness_mm.sd, caliper),
                                      .anvil = wheel.rotor.anvil, .ridge_mm = limit(wheel.rotor.ridge_mm), .ridge_uncertainty_mm = wheel.rotor.ridge_mm ? wheel.rotor.ridge_mm->sd : 0,
                                      .least_mm = limit(wheel.rotor.least_thickness_mm)}, p));
        const LeverPoints& lever = end == End::front ? front : rear;
        checks.push_back(check_lever({.end = end, .actuation = wheel.actuation, .bite_mm = lever.bite_mm,
                                      .full_mm = lever.full_mm, .uncertainty_mm = lever.uncertainty_mm, .full_from = lever.full_from}, p));
        FluidCheck fluid{.end = end};
        if (wheel.fluid) {
            fluid.kind = wheel.fluid->kind;
            fluid.kind_told = given("fluid.kind");
            if (given("fluid.age_months")) fluid.age_months = wheel.fluid->age_months.value;
            fluid.dry_point_degC = published_dry_point_degC(p, wheel.fluid->kind);
        }
        checks.push_back(check_fluid(fluid, p));
        checks.push_back(check_not_looked(at(end, CheckId::front_rotor_run_out, CheckId::rear_rotor_run_out)));
    }
    checks.push_back(check_not_looked(CheckId::bolts_and_cracks));
    checks.push_back(check_not_looked(CheckId::leaks_and_oil));
    return checks;
}

}  // namespace bw::inspect
