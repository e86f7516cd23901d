// SPDX-License-Identifier: Apache-2.0
// Figures of standards to hold a bike's estimate against.                                                 Layer: stop
#include "stop/yardsticks.hpp"

#include <cassert>
#include <cmath>
#include <fmt/format.h>
#include <limits>

namespace bw::stop {

double corrected_braking_force_N(double recorded_N, double intended_lever_N, double recorded_lever_N) {
    return recorded_N * intended_lever_N / recorded_lever_N;
}

double braking_performance_N(double largest_braking_N, double permissible_mass_kg, double test_mass_kg) {
    return permissible_mass_kg > test_mass_kg ? largest_braking_N * test_mass_kg / permissible_mass_kg : largest_braking_N;
}

double mean_deceleration_mps2(double begin_mps, double end_mps, double way_m) {
    return (begin_mps * begin_mps - end_mps * end_mps) / (2 * way_m);
}

double distance_at_nominal_speed_m(double measured_m, double nominal_mps, double measured_mps) {
    const double ratio = nominal_mps / measured_mps;
    return measured_m * ratio * ratio;
}

double moped_distance_m(double from_mps, double k) {
    const double kmh = 3.6 * from_mps;
    return 0.1 * kmh + kmh * kmh / k;
}

double guide_distance_m(double from_mps, double friction, double grade, double reaction_s) {
    if (friction + grade <= 0) return std::numeric_limits<double>::infinity();
    const double kmh = 3.6 * from_mps;
    return kmh * kmh / (254 * (friction + grade)) + from_mps * reaction_s;
}

Outcome wet_ratio_outcome(double dry_N, double wet_N, double ratio, double from_dry_N) {
    if (!(dry_N > from_dry_N)) return Outcome::not_evaluated;
    return wet_N / dry_N > ratio ? Outcome::pass : Outcome::fail;
}

HeatResistanceLimits heat_resistance_limits(const parts::Library& library) {
    return {.kept = library.value("yardstick.heat_kept"),
            .drag_least_N = library.value("yardstick.heat_force_least"),
            .drag_most_N = library.value("yardstick.heat_force_most"),
            .lever_most_N = library.value("yardstick.lever_force")};
}

Outcome heat_resistance_outcome(const HeatResistance& t, const HeatResistanceLimits& l) {
    const bool kept = t.hot_N >= l.kept * t.cold_N;
    const bool drag = t.drag_least_N >= l.drag_least_N && t.drag_most_N <= l.drag_most_N;
    return kept && drag && t.lever_most_N <= l.lever_most_N ? Outcome::pass : Outcome::fail;
}

double drag_power_W(double braking_N, double speed_mps) { return braking_N * speed_mps; }

std::vector<Yardstick> yardsticks_of(const parts::Library& library, const parts::Bike& bike) {
    const std::string kind(parts::word_of(bike.kind));
    std::vector<Yardstick> all;
    const auto add = [&](std::string id, const std::string& row, std::string what, Measure measure, Sense sense, StopSetup setup) {
        const parts::Datum& d = library.row(row);
        all.push_back({.id = std::move(id), .what = std::move(what), .unit = d.unit, .need = d.value.value, .sense = sense,
                       .grade = d.value.grade, .source = d.value.source, .measure = measure, .setup = setup});
    };
    const double mass_kg = library.value("yardstick.track_mass"), lever_N = library.value("yardstick.lever_force");
    StopSetup track;
    track.skill = Skill::unlimited;   // what the bike can, not what a rider dares
    track.mass_kg = mass_kg;
    track.lever_force_N = lever_N;
    for (const bool wet : {false, true}) {
        StopSetup s = track;
        s.surface = wet ? Surface::wet : Surface::dry;
        s.from_mps = library.value(wet ? "yardstick.track_wet_speed" : "yardstick.track_dry_speed");
        const std::string weather = wet ? "wet" : "dry", from = wet ? " from 16 km/h" : " from 25 km/h";
        for (const Brakes brakes : {Brakes::both, Brakes::rear}) {
            s.brakes = brakes;
            const std::string id = "track_" + weather + "_" + std::string(word_of(brakes));
            add(id, "yardstick." + id + (wet ? "" : "." + kind),
                "track, 100 kg, " + weather + ", " + (brakes == Brakes::both ? "both brakes" : "rear brake alone") + from +
                    ", at most 180 N on the lever",
                Measure::brake_distance, Sense::at_most, s);
        }
        for (const Measure measure : {Measure::machine_front, Measure::machine_rear}) {
            const std::string end = measure == Measure::machine_front ? "front" : "rear";
            const std::string id = "machine_" + weather + "_" + end;
            add(id, "yardstick." + id + (wet ? "" : "." + kind), "machine, " + weather + ", " + end + " brake at 180 N",
                measure, Sense::at_least, s);
        }
    }
    for (const Measure measure : {Measure::wet_ratio_front, Measure::wet_ratio_rear}) {
        const std::string end = measure == Measure::wet_ratio_front ? "front" : "rear";
        add("wet_ratio_" + end, "yardstick.wet_ratio", "wet braking force over dry, " + end + " brake at 180 N", measure,
            Sense::at_least, track);
        all.back().asked_above_N = library.value("yardstick.wet_ratio_from_dry_force");
    }
    StopSetup us = track;
    us.from_mps = library.value("yardstick.us_speed");
    us.mass_kg = library.value("yardstick.us_rider_mass") + bike.mass_kg.value;
    us.lever_force_N = library.value("yardstick.us_lever_force");
    add("us_hand_brakes", "yardstick.us_distance", "hand brakes, rider of 68.1 kg, dry, from 15 mph, at most 178 N on the lever",
        Measure::brake_distance, Sense::at_most, us);

    // A planner's distance for a path, beside this rider's: reaction included, ordinary skill, this hand.
    StopSetup room;
    room.from_mps = library.value("yardstick.track_dry_speed");
    add("path_sight", "yardstick.guide_friction", "room that planners of paths give a rider at 25 km/h, level", Measure::room,
        Sense::at_most, room);
    all.back().need = guide_distance_m(room.from_mps, library.value("yardstick.guide_friction"), 0,
                                       library.value("yardstick.guide_reaction"));
    all.back().unit = "m";

    // Laden as it is: rules of kinds of bike that have a mass of their own.
    StopSetup laden = track;
    laden.mass_kg.reset();
    laden.from_mps = library.value("yardstick.track_dry_speed");
    if (bike.e_assist)
        add("epac_track_dry_both", "yardstick.epac_track_dry_both", "e-bike, laden as it is, dry, both brakes from 25 km/h, at most 180 N on the lever", Measure::brake_distance, Sense::at_most, laden);
    if (bike.kind == parts::BikeKind::cargo)
        add("cargo_track_dry_both", "yardstick.cargo_track_dry_both", "cargo bike, laden as it is, dry, both brakes from 25 km/h, at most 180 N on the lever", Measure::brake_distance, Sense::at_most, laden);
    if (bike.e_assist || bike.kind == parts::BikeKind::cargo) {
        for (const Brakes brakes : {Brakes::front, Brakes::rear}) {
            StopSetup moped = laden;
            moped.brakes = brakes;
            moped.from_mps = 40 / 3.6;
            const std::string end(word_of(brakes));
            add("moped_" + end, "yardstick.moped_" + end + "_k", "the next rung up: moped rule, " + end + " brake alone from 40 km/h",
                Measure::brake_distance, Sense::at_most, moped);
            all.back().need = moped_distance_m(moped.from_mps, all.back().need);
            all.back().unit = "m";
        }
    }
    return all;
}

std::vector<double> yardstick_case(std::span<const Yardstick> yardsticks, const parts::Bike& case_bike, const StopUnknowns& u) {
    parts::Bike bike = case_bike;
    bike.trailer.reset();   // standards know no trailer
    constexpr double infinite = std::numeric_limits<double>::infinity();
    std::vector<double> figures;
    figures.reserve(yardsticks.size());
    for (const Yardstick& y : yardsticks) {
        const auto at_lever = [&](parts::End end, bool wet) {
            const BrakeUnknowns& b = u.brake(end);
            return tyre_force_from(bike, end, b, b.friction * (wet ? b.wet_factor : 1.0), y.setup.lever_force_N.value_or(0));
        };
        const auto machine = [&](parts::End end) {
            const double test_kg = y.setup.mass_kg.value_or(bike.total_mass_kg.value);
            return braking_performance_N(at_lever(end, y.setup.surface == Surface::wet), bike.total_mass_kg.value, test_kg);
        };
        // The same pads on the same rotor, so the ratio is that of the friction; the standard asks for it only of a brake that bites.
        const auto wet_ratio = [&](parts::End end) {
            const double dry_N = at_lever(end, false), wet_N = at_lever(end, true);
            return wet_ratio_outcome(dry_N, wet_N, y.need, y.asked_above_N) == Outcome::not_evaluated ? infinite : u.brake(end).wet_factor;
        };
        switch (y.measure) {
            case Measure::brake_distance: figures.push_back(stop_case(bike, y.setup, u).brake_distance_m.value_or(infinite)); break;
            case Measure::room: figures.push_back(stop_case(bike, y.setup, u).room_needed_m.value_or(infinite)); break;
            case Measure::machine_front: figures.push_back(machine(parts::End::front)); break;
            case Measure::machine_rear: figures.push_back(machine(parts::End::rear)); break;
            case Measure::wet_ratio_front: figures.push_back(wet_ratio(parts::End::front)); break;
            case Measure::wet_ratio_rear: figures.push_back(wet_ratio(parts::End::rear)); break;
        }
    }
    return figures;
}

std::vector<YardstickResult> stop_yardsticks(std::span<const Yardstick> yardsticks, std::span<const std::vector<double>> figures,
                                             std::span<const double> weights) {
    assert(!figures.empty() && (weights.empty() || weights.size() == figures.size()));
    constexpr double never = 1e12;   // finite, so that interpolation beside it stays a number
    std::vector<YardstickResult> results;
    for (std::size_t k = 0; k < yardsticks.size(); ++k) {
        const Yardstick& y = yardsticks[k];
        std::vector<double> values, counted;
        values.reserve(figures.size());
        double all = 0, met = 0, lost = 0, not_asked = 0;
        for (std::size_t i = 0; i < figures.size(); ++i) {
            const double value = figures[i][k], w = weights.empty() ? 1.0 : weights[i];
            all += w;
            if (y.sense == Sense::at_least && std::isinf(value)) {
                not_asked += w;
                continue;
            }
            if (!weights.empty()) counted.push_back(w);
            if (!std::isfinite(value)) lost += w;
            else if (y.sense == Sense::at_most ? value <= y.need : value >= y.need) met += w;
            values.push_back(std::isfinite(value) ? value : never);
        }
        YardstickResult r{.id = y.id, .what = y.what, .unit = y.unit, .need = y.need, .sense = y.sense, .have = {},
                          .met_share = all > not_asked ? met / (all - not_asked) : std::nan(""), .grade = y.grade, .source = y.source,
                          .remark = "yardstick, not an approval"};
        // The statics hold the rider still; a test rider who leans back can brake harder before the rear lifts.
        if (y.measure == Measure::brake_distance) r.remark += "; up to the limits of bike, road and that squeeze, whatever a rider dares; one who leans back stops shorter than this estimate";
        if (not_asked > 0) r.remark += fmt::format("; not asked of a brake that gives {:g} N or less in the dry, which is so in {:.0f} % of the cases", y.asked_above_N, 100 * not_asked / all);
        if (!values.empty()) {
            const Interval have = counted.empty() ? interval_of(values) : interval_of(values, counted);
            if (lost <= 0.05 * all && have.p95 < never / 1e3) r.have = have;
        }
        results.push_back(std::move(r));
    }
    return results;
}

}  // namespace bw::stop
