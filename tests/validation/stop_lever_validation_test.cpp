// SPDX-License-Identifier: Apache-2.0
// Lever, hand and the default bikes against the outside.
#include <gtest/gtest.h>

#include <cmath>
#include <string>

#include <boost/math/quadrature/gauss_kronrod.hpp>

#include "answer/stopping.hpp"
#include "row.hpp"
#include "stop/feel.hpp"
#include "stop/stop.hpp"

namespace bw::validation {
namespace {

const parts::Library& library() {
    static const parts::Library l = *parts::load_library();
    return l;
}

TEST(StopValidation, AnHourOfSqueezing) {
    check({.id = "stop-37", .what = "7.9 % of the largest force, without a break -> minutes", .source = "M. Bjorksten, B. Jonsson, Scand. J. Work Environ. Health 3(1):23-27, 1977",
           .basis = Basis::source_read, .expected = 60, .tolerance = 1e-9, .unit = "min", .why = "the source's own limit", .function = "stop::hold_min", .used_by_answer = true},
          stop::hold_min(0.079));
}

TEST(StopValidation, EffectiveRadiusOfEvenWearIsNearThatOfEvenPressure) {
    parts::Rotor rotor;
    rotor.diameter_mm.value = 180;
    rotor.band_inner_mm.value = 150;
    const double ro = 0.090, ri = 0.075;
    check({.id = "stop-38", .what = "band 180/150 mm -> effective radius", .source = "even wear (r_o + r_i)/2, machine-design texts, from memory", .basis = Basis::from_memory,
           .expected = 0.0825, .tolerance = 1e-12, .unit = "m", .why = "arithmetic", .function = "stop::effective_radius_m", .used_by_answer = true},
          stop::effective_radius_m(rotor));
    check({.id = "stop-39", .what = "the same beside even pressure, 2/3 (r_o^3 - r_i^3)/(r_o^2 - r_i^2)", .source = "machine-design texts, from memory: within 1 % for r_i/r_o over 0.8",
           .basis = Basis::from_memory, .expected = 2.0 / 3 * (ro * ro * ro - ri * ri * ri) / (ro * ro - ri * ri), .tolerance = 0.01 * 0.0825, .unit = "m", .why = "the bound of the texts",
           .function = "stop::effective_radius_m", .used_by_answer = true},
          stop::effective_radius_m(rotor));
}

TEST(StopValidation, LeverTravelOfARetractedPad) {
    parts::Wheel w;
    w.caliper.piston_diameter_mm.value = 22;
    w.lever.ratio.value = 5;
    w.lever.master_diameter_mm.value = 10;
    // V = 2 A x, travel = V i/A_master: 2 x (22/10)^2 x 5 x 0.1 mm.
    check({.id = "stop-40", .what = "pads 0.1 mm back each, piston 22 mm, master 10 mm, lever 5 -> lever travel", .source = "Pascal's law, volumes, worked by hand", .basis = Basis::exact,
           .expected = 4.84, .tolerance = 1e-9, .unit = "mm", .why = "arithmetic", .function = "stop::travel_of_knock_mm", .used_by_answer = true},
          stop::travel_of_knock_mm(w, 0.1));
}

TEST(StopValidation, ALeverWhoseRatioChangesMovesThePistonByTheIntegralOfItsInverse) {
    // Reach 60 mm, bite at 40 mm, 4 at rest, 8 at the bar: i = 8 - d/15.
    parts::Wheel w;
    w.caliper.piston_diameter_mm.value = 22;
    w.lever.master_diameter_mm.value = 11;
    w.lever.ratio.value = 4;
    w.lever.ratio_at_bar = Uncertain{.value = 8};
    w.lever.reach_mm.value = 60;
    w.lever.bite_mm.value = 40;
    const auto ratio = [](double d_mm) { return 8 - d_mm / 15; };
    using quadrature = boost::math::quadrature::gauss_kronrod<double, 31>;
    const double way_mm = quadrature::integrate([&](double d) { return 1 / ratio(d); }, 22, 40);
    check({.id = "stop-59", .what = "ratio 4 at rest, 8 at the bar, reach 60 mm, bite 40 mm: pads' gap that brings the lever from 40 to 22 mm", .source = "integral of dx/ratio by Gauss-Kronrod quadrature (Boost), volumes of both cylinders by hand",
           .basis = Basis::library, .expected = 18, .tolerance = 1e-9, .unit = "mm", .why = "quadrature of a smooth function", .function = "stop::travel_of_gap_mm"},
          stop::travel_of_gap_mm(w, way_mm / (2 * 4)));
    // Virtual work: what the finger gave up to the bar is what the same brake takes under a lever with one ratio, 6, at the same force on the piston.
    const stop::BrakeUnknowns u{.friction = 0.4, .loss = 0, .threshold_N = 0, .one_pad_kept = 1, .travel_mm = 9};
    const double bar_N = stop::lever_force_at_bar(w.lever, u), as_hard_N = bar_N * 8 / 6;
    parts::Lever one = w.lever;
    one.ratio.value = 6, one.ratio_at_bar.reset(), one.bite_mm.value = 500;
    const auto travel_mm = [&](double f) { return 500 - stop::lever_distance_mm(one, u, f); };
    const double taken_Nmm = as_hard_N * travel_mm(as_hard_N) - quadrature::integrate(travel_mm, 0, as_hard_N);
    const double given_Nmm = bar_N * 40 - quadrature::integrate([&](double f) { return 40 - stop::lever_distance_mm(w.lever, u, f); }, 0, bar_N);
    check({.id = "stop-60", .what = "the same, 9 mm of give at 100 N: work of the finger up to the bar over that of one with ratio 6 all along, at the same force on the piston", .source = "work in = work out, integrals by Gauss-Kronrod quadrature (Boost)",
           .basis = Basis::library, .expected = 1, .tolerance = 1e-4, .unit = "1", .why = "quadrature beside a power with an endless slope at 0", .function = "stop::lever_force_at_bar", .used_by_answer = true},
          given_Nmm / taken_Nmm);
}

TEST(StopValidation, DefaultBikesStopAsMeasuredOnesDo) {
    const std::string source = "N. Famiglietti et al., SAE 2020-01-0876 (abstract): 8 bicycles, dry asphalt, largest effort, 11-21 mph";
    int id = 41;
    for (const parts::BikeKind kind : {parts::BikeKind::trail, parts::BikeKind::gravel, parts::BikeKind::road, parts::BikeKind::city}) {
        const parts::Bike bike = parts::default_bike(kind, library());
        stop::StopUnknowns u;
        u.front = u.rear = {.friction = 0.42, .wet_factor = 0.7, .loss = 0.07, .threshold_N = 6, .one_pad_kept = 1, .travel_mm = 5};
        u.front_share = 0.7;
        u.finger_share = 0.6;
        u.bar_diameter_mm = 32;
        const auto ours = [&](stop::Brakes brakes) {
            return stop::stop_case(bike, {.brakes = brakes, .from_mps = 16 * 0.44704, .grip = library().value("surface.dry.grip"), .skill = stop::Skill::unlimited, .lever_force_N = 600}, u)
                       .deceleration_mps2 / 9.80665;
        };
        const std::string word(parts::word_of(kind));
        check({.id = "stop-" + std::to_string(id++), .what = "default " + word + " bike, both brakes, limit of an expert", .source = source + ": 0.40 to 0.71 g", .basis = Basis::source_read,
               .expected = 0.555, .tolerance = 0.155, .unit = "g", .why = "the measured band", .function = "stop::stop_case", .used_by_answer = true},
              ours(stop::Brakes::both));
        check({.id = "stop-" + std::to_string(id++), .what = "default " + word + " bike, rear brake alone, limit of an expert", .source = source + ": 0.25 to 0.37 g", .basis = Basis::source_read,
               .expected = 0.31, .tolerance = 0.06, .unit = "g", .why = "the measured band", .function = "stop::stop_case", .used_by_answer = true},
              ours(stop::Brakes::rear));
    }
}

TEST(StopValidation, TheLikelyCasesOfDefaultBikesAreBracketedByMeasuredStops) {
    // As `stop` says it: all likely cases of a bike of which only its kind is known, under a middle man's hand, as test riders have.
    const std::string source = "N. Famiglietti et al., SAE 2020-01-0876 (abstract): 8 bicycles, dry asphalt, largest effort, 11-21 mph";
    int id = 51;
    for (const parts::BikeKind kind : {parts::BikeKind::trail, parts::BikeKind::gravel, parts::BikeKind::road, parts::BikeKind::city}) {
        answer::StopQuestion q;
        q.bike = parts::default_bike(kind, library());
        q.bike.rider.hand = stop::hand_of(library(), stop::HandGroup::men, 50);
        q.from_mps = 16 * 0.44704;
        q.cases = 256;
        const auto report = answer::stop_report({}, library(), q);
        ASSERT_TRUE(report) << report.error().text;
        const std::string word(parts::word_of(kind));
        check({.id = "stop-" + std::to_string(id++), .what = "likely cases of a default " + word + " bike, both brakes, limit of an expert, median", .source = source + ": 0.40 to 0.71 g", .basis = Basis::source_read,
               .expected = 0.555, .tolerance = 0.155, .unit = "g", .why = "the measured band", .function = "answer::stop_report"},
              report->expert_mps2[0].p50 / 9.80665);
        check({.id = "stop-" + std::to_string(id++), .what = "likely cases of a default " + word + " bike, rear brake alone, limit of an expert, median", .source = source + ": 0.25 to 0.37 g", .basis = Basis::source_read,
               .expected = 0.31, .tolerance = 0.06, .unit = "g", .why = "the measured band", .function = "answer::stop_report"},
              report->expert_mps2[2].p50 / 9.80665);
    }
}

TEST(StopValidation, LeverFactsOfTheTrade) {
    const double saved_mm = library().value("housing.ordinary.travel") - library().value("housing.compressionless.travel");
    report("stop-t2", "compressionless instead of ordinary housing: millimetres of lever at 100 N, medians of the priors", 2, 10, "mm", saved_mm, "the trade says only: much firmer; no source measured it");
    // Grip force by the lever's place: the trade has it, and control, at mid-travel.
    parts::Hand hand = stop::hand_of(library(), stop::HandGroup::men, 50);
    stop::StopUnknowns u;
    u.finger_share = 0.57;
    u.span_loss = library().value("hand.span_loss");
    u.bar_diameter_mm = library().value("hand.bar_diameter");
    report("stop-t3", "lever to bar at which a middle man's hand is strongest, of a lever that reaches 52 mm", 15, 37, "mm", stop::strongest_mm(hand, u), "mid-travel of a common lever; the trade gives no figure");
}

}  // namespace
}  // namespace bw::validation
