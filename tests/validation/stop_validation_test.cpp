// SPDX-License-Identifier: Apache-2.0
// The stop room and the statics against the outside: standards, directives, measured stops, hand-worked figures.
#include <gtest/gtest.h>

#include <cmath>
#include <numbers>

#include "balance/balance.hpp"
#include "row.hpp"
#include "stop/alike.hpp"
#include "stop/proof.hpp"
#include "stop/stop.hpp"
#include "stop/yardsticks.hpp"

namespace bw::validation {
namespace {

using stop::Brakes;
using stop::Outcome;

constexpr double g = 9.80665;   // 3rd CGPM, 1901
const std::string rounding = "printed digits of the source";

// The bicycle of W. Pein's and our worked figures: b and h are stated there, the rest is of no weight in these checks.
parts::Bike worked_bike(double from_front_m, double height_m) {
    const auto exactly = [](double v) { return Uncertain{.value = v, .sd = 0, .grade = Grade::assumed, .source = "worked figure"}; };
    parts::Bike b;
    b.rider.hand = {.size_cm = exactly(19), .strength_N = exactly(2000)};
    b.total_mass_kg = exactly(100);
    b.wheelbase_m = exactly(1.05);
    b.centre_of_mass_height_m = exactly(height_m);
    b.centre_of_mass_from_front_m = exactly(from_front_m);
    b.wheel_radius_m = exactly(0.34);
    for (parts::Wheel* w : {&b.front, &b.rear}) {
        w->rotor.diameter_mm = exactly(180);
        w->rotor.band_inner_mm = exactly(150);
        w->caliper.piston_diameter_mm = exactly(22);
        w->caliper.arm_ratio = exactly(1);
        w->lever.ratio = exactly(5);
        w->lever.bite_mm = exactly(60);
        w->lever.reach_mm = exactly(80);
        w->lever.master_diameter_mm = exactly(10);
    }
    return b;
}
stop::StopUnknowns largest_effort() {
    stop::StopUnknowns u;
    u.front = u.rear = {.friction = 0.42, .wet_factor = 0.7, .loss = 0.07, .threshold_N = 6, .one_pad_kept = 1, .travel_mm = 5};
    u.front_share = 0.7;
    u.grip_dry = 0.9;
    u.finger_share = 0.6;
    u.bar_diameter_mm = 32;
    u.reaction_s = u.reach_s = 0;
    return u;
}

TEST(StopValidation, LeverForceCorrectionOfTheMachineTest) {
    check({.id = "stop-01", .what = "225 N recorded at 184 N on the lever, 180 N intended -> corrected braking force",
           .source = "TBIS 4210-4 p. 31 (ISO 4210-4 4.6.5.7 d), worked example", .basis = Basis::source_read,
           .expected = 225.0 * 180 / 184, .tolerance = 1e-3, .unit = "N", .why = "arithmetic of the printed example",
           .function = "stop::corrected_braking_force_N", .used_by_answer = true},
          stop::corrected_braking_force_N(225, 180, 184));
}

TEST(StopValidation, BrakingPerformanceValue) {
    check({.id = "stop-02", .what = "400 N, test mass 100 kg, permissible 140 kg -> B_p", .source = "TBIS 4210-4 Formula (3), p. 31",
           .basis = Basis::source_read, .expected = 285.714, .tolerance = 1e-3, .unit = "N", .why = rounding,
           .function = "stop::braking_performance_N", .used_by_answer = true},
          stop::braking_performance_N(400, 140, 100));
}

TEST(StopValidation, UsStopIsHalfAGravity) {
    // 15 mph = 15 x 0.44704 m/s, 15 ft = 15 x 0.3048 m (exact definitions): a = v^2/(2 s) = 4.9175 m/s^2.
    const double v = 15 * 0.44704, way = 15 * 0.3048;
    check({.id = "stop-03", .what = "constant 4.9175 m/s2 from 15 mph -> distance", .source = "16 CFR 1512.5(b)(1): 15 ft; school formula v^2/(2 s)",
           .basis = Basis::source_read, .expected = way, .tolerance = 1e-3, .unit = "m", .why = "deceleration given with 5 digits",
           .function = "stop::brake_distance_m", .used_by_answer = true},
          stop::brake_distance_m({.from_mps = v, .braking_mps2 = 4.9175}).value_or(NAN));
    check({.id = "stop-04", .what = "mean deceleration from 15 mph to rest in 15 ft", .source = "16 CFR 1512.5(b)(1); mean fully developed deceleration (R13, R78; from memory) over the whole way",
           .basis = Basis::source_read, .expected = 4.9175, .tolerance = 1e-4, .unit = "m/s2", .why = "v^2/(2 s) by hand, 5 digits",
           .function = "stop::mean_deceleration_mps2", .used_by_answer = true},
          stop::mean_deceleration_mps2(v, 0, way));
}

TEST(StopValidation, MopedDistanceIsADeadTimeAndAConstantDeceleration) {
    // S = 0.1 V + V^2/k with V in km/h is v x 0.36 s + v^2/(2 k/25.92): our own motion with those two numbers.
    const auto ours = [](double k) {
        return stop::brake_distance_m({.from_mps = 40 / 3.6, .braking_mps2 = k / 25.92, .take_up_s = 0.36}).value_or(NAN);
    };
    check({.id = "stop-05", .what = "front alone from 40 km/h, dead time 0.36 s, 3.472 m/s2 -> distance", .source = "93/14/EEC Annex Appendix 1, 2.1.2.2: 0.1 V + V^2/90",
           .basis = Basis::source_read, .expected = 4 + 1600.0 / 90, .tolerance = 1e-9, .unit = "m", .why = "the same formula in other units: rounding only",
           .function = "stop::brake_distance_m", .used_by_answer = true}, ours(90));
    check({.id = "stop-06", .what = "three-wheel moped, front alone from 40 km/h -> distance", .source = "93/14/EEC Annex Appendix 1, 2.1.2.2: 0.1 V + V^2/70",
           .basis = Basis::source_read, .expected = 26.857, .tolerance = 1e-3, .unit = "m", .why = rounding,
           .function = "stop::brake_distance_m", .used_by_answer = true}, ours(70));
    check({.id = "stop-07", .what = "moped yardstick at 40 km/h, k = 90", .source = "93/14/EEC Annex Appendix 1, 2.1.2.2",
           .basis = Basis::source_read, .expected = 21.778, .tolerance = 1e-3, .unit = "m", .why = rounding, .function = "stop::moped_distance_m", .used_by_answer = true},
          stop::moped_distance_m(40 / 3.6, 90));
    // The directive prints both ways of proof for a motorcycle: V^2/115 or 4.4 m/s^2; its own rounding is to one decimal.
    check({.id = "stop-08", .what = "deceleration meant by V^2/115 (two-wheel motorcycle)", .source = "93/14/EEC Annex Appendix 1, 2.1.2.2: 4.4 m/s2 beside V^2/115",
           .basis = Basis::source_read, .expected = 4.4, .tolerance = 0.05, .unit = "m/s2", .why = "printed to one decimal",
           .function = "stop::moped_distance_m", .used_by_answer = true},
          std::pow(60 / 3.6, 2) / (2 * (stop::moped_distance_m(60 / 3.6, 115) - 6)));
}

TEST(StopValidation, GuideStoppingSightDistance) {
    const auto ours = [](double friction, double grade) {
        return stop::brake_distance_m({.from_mps = 30 / 3.6, .braking_mps2 = friction * g, .slope_mps2 = g * balance::sine_of(grade)}).value_or(NAN) +
               30 / 3.6 * (3.6 / 1.4);
    };
    check({.id = "stop-09", .what = "30 km/h, 0.25 g, level, reaction term V/1.4 -> room", .source = "AASHTO bicycle guide pp. 40-42 (reproduction): V^2/(254 f) + V/1.4",
           .basis = Basis::source_read, .expected = 35.602, .tolerance = 0.02, .unit = "m", .why = "254 is 2 g 3.6^2 = 254.2 rounded",
           .function = "stop::brake_distance_m", .used_by_answer = true}, ours(0.25, 0));
    check({.id = "stop-10", .what = "the same down 5 % -> room", .source = "AASHTO bicycle guide pp. 40-42 (reproduction): V^2/(254 (f + G)) + V/1.4",
           .basis = Basis::source_read, .expected = 39.145, .tolerance = 0.04, .unit = "m", .why = "254 for 254.2, and G for sin(theta): 0.12 % of G",
           .function = "stop::brake_distance_m", .used_by_answer = true}, ours(0.25, -0.05));
    check({.id = "stop-11", .what = "guide formula itself, down 5 %, reaction 3.6/1.4 s", .source = "AASHTO bicycle guide pp. 40-42 (reproduction)",
           .basis = Basis::source_read, .expected = 39.145, .tolerance = 1e-3, .unit = "m", .why = rounding, .function = "stop::guide_distance_m", .used_by_answer = true},
          stop::guide_distance_m(30 / 3.6, 0.25, -0.05, 3.6 / 1.4));
}

TEST(StopValidation, HeatResistanceBenchPowers) {
    const double speed = 12.5 / 3.6;
    const std::string source = "TBIS 4210-2:2018 4.6.9 (60 and 115 N), TBIS 79010 4.2.2.9.3.3 (12.5 km/h)";
    check({.id = "stop-12", .what = "60 N at 12.5 km/h -> power", .source = source, .basis = Basis::source_read, .expected = 208.33, .tolerance = 0.01,
           .unit = "W", .why = rounding, .function = "stop::drag_power_W", .used_by_answer = true}, stop::drag_power_W(60, speed));
    check({.id = "stop-13", .what = "115 N at 12.5 km/h -> power", .source = source, .basis = Basis::source_read, .expected = 399.31, .tolerance = 0.01,
           .unit = "W", .why = rounding, .function = "stop::drag_power_W", .used_by_answer = true}, stop::drag_power_W(115, speed));
}

TEST(StopValidation, EnduranceOfASqueeze) {
    check({.id = "stop-14", .what = "half of the largest force -> minutes it is held", .source = "Rohmert 1960, from memory; polynomial worked by hand",
           .basis = Basis::from_memory, .expected = 1.100, .tolerance = 1e-3, .unit = "min", .why = rounding, .function = "stop::endurance_min", .used_by_answer = true},
          stop::endurance_min(0.5));
}

TEST(StopValidation, BestGripSpan) {
    const std::string source = "Hand size influences optimal grip span in women but not in men, J. Hand Surg. Am. 27(5):897-901, 2002 (abstract)";
    check({.id = "stop-15", .what = "hand of 18.0 cm, women of the study -> best span", .source = source, .basis = Basis::source_read, .expected = 5.10,
           .tolerance = 1e-9, .unit = "cm", .why = "formula of the abstract", .function = "stop::best_span_cm", .used_by_answer = true},
          stop::best_span_cm(stop::SpanRule::by_hand_size, 18));
    check({.id = "stop-16", .what = "men of the study -> best span", .source = source, .basis = Basis::source_read, .expected = 5.5, .tolerance = 1e-9,
           .unit = "cm", .why = "formula of the abstract", .function = "stop::best_span_cm", .used_by_answer = true},
          stop::best_span_cm(stop::SpanRule::fixed, 18));
}

TEST(StopValidation, RearOnlySkidLimit) {
    const balance::Geometry bike{.mass_kg = 100, .wheelbase_m = 1.05, .height_m = 1.1, .from_front_m = 0.6};
    check({.id = "stop-17", .what = "grip 0.8, wheelbase 1.05 m, centre of mass 0.6 m behind the front axle, 1.1 m high -> rear-only limit",
           .source = "moments about the front contact, worked by hand: 0.8 x 9.80665 x 0.6/(1.05 + 0.8 x 1.1)", .basis = Basis::exact,
           .expected = 2.439, .tolerance = 0.001, .unit = "m/s2", .why = "worked with 4 digits", .function = "balance::rear_only_limit",
           .used_by_answer = true},
          balance::rear_only_limit(bike, 0.8, 0).deceleration_mps2);
}

TEST(StopValidation, PitchOverLimitOfAConventionalBicycle) {
    const balance::Geometry bike{.mass_kg = 90, .wheelbase_m = 1.05, .height_m = 1.07, .from_front_m = 0.6};
    check({.id = "stop-18", .what = "centre of mass 0.6 m behind the front axle and 1.07 m high -> deceleration at which the rear wheel lifts",
           .source = "W. Pein, High Speed Bicycling, 2004/2007: about 0.6 g for a conventional bicycle", .basis = Basis::source_read, .expected = 0.6,
           .tolerance = 0.05, .unit = "g", .why = "the source says about, to one digit", .function = "balance::rear_lift_limit", .used_by_answer = true},
          balance::rear_lift_limit(bike, 0).deceleration_mps2 / g);
}

TEST(StopValidation, WheelLoadsOnASlope) {
    // Solved with plane geometry instead of the slope's axes: forces along horizontal and vertical, moments about the
    // point where the front tyre stands. Bike at -10 %, deceleration 3 m/s^2, 100 kg, L 1.05, b 0.6, h 1.1 m.
    const double theta = std::atan(-0.10), L = 1.05, b = 0.6, h = 1.1, m = 100, a = 3;
    // Heading +x, downhill; the rear contact lies L behind (up the slope), the centre of mass b behind and h off the road.
    const double cx = -b * std::cos(theta) - h * std::sin(theta), cy = -b * std::sin(theta) + h * std::cos(theta);
    // Acceleration vector of the bike: -a along the heading.
    const double ax = -a * std::cos(theta), ay = -a * std::sin(theta);
    // What acts on the mass (weight minus inertia) turns about the front contact; the tyres' own forces along the road pass
    // through it; the rear normal force R (-sin, cos) at (-L cos, -L sin) turns by -L R. Their sum is nothing.
    const double moment = cx * (-m * g - m * ay) - cy * (-m * ax);
    const double rear = moment / L;
    const balance::Loads ours = balance::wheel_loads({.mass_kg = m, .wheelbase_m = L, .height_m = h, .from_front_m = b}, a, -0.10);
    check({.id = "stop-19", .what = "rear wheel load at -10 %, 3 m/s2", .source = "Newton and moments in horizontal and vertical axes, computed beside",
           .basis = Basis::exact, .expected = rear, .tolerance = 1e-9, .unit = "N", .why = "rounding only", .function = "balance::wheel_loads",
           .used_by_answer = true}, ours.rear_N);
    check({.id = "stop-20", .what = "front wheel load on the level, 0.35 g: textbook N_f = m g (L - b)/L + m a h/L",
           .source = "load transfer of any vehicle-dynamics text; 100 kg, L 1.05, b 0.6, h 1.1 m worked by hand", .basis = Basis::exact,
           .expected = 779.86, .tolerance = 0.01, .unit = "N", .why = "worked with 5 digits", .function = "balance::wheel_loads", .used_by_answer = true},
          balance::wheel_loads({.mass_kg = m, .wheelbase_m = L, .height_m = h, .from_front_m = b}, 0.35 * g, 0).front_N);
}

TEST(StopValidation, BothLeversPulledAlikeOnBrakesThatAreAlike) {
    // Two brakes that are the same give each half of the sum F. Moments about the point where the front tyre stands: rear load
    // (m g b - F h)/L. The rear skids when F/2 = mu (m g b - F h)/L, so F = m g b/(L/(2 mu) + h). 100 kg, L 1.05, b 0.6, h 1.07 m, grip 0.9:
    // F = 100 x 9.80665 x 0.6/(0.583333 + 1.07) = 355.88 N.
    const stop::AlikeEnd end = stop::alike_end(worked_bike(0.6, 1.07), {.grip = 0.9}, largest_effort(), 2000);
    const std::string source = "statics of two wheels, moments about the front contact, worked by hand beside";
    check({.id = "stop-49", .what = "two brakes alike pulled alike, grip 0.9, level -> deceleration at which the rear skids", .source = source, .basis = Basis::exact, .expected = 3.5588, .tolerance = 5e-4,
           .unit = "m/s2", .why = "worked with 5 digits", .function = "stop::alike_end", .used_by_answer = true}, end.deceleration_mps2);
    check({.id = "stop-50", .what = "the same -> front share of the braking", .source = "the brakes are the same", .basis = Basis::exact, .expected = 0.5, .tolerance = 1e-9, .unit = "", .why = "rounding only",
           .function = "stop::alike_end", .used_by_answer = true}, end.front_N / (end.front_N + end.rear_N));
    EXPECT_EQ(end.by, stop::LimitedBy::rear_grip);
}

TEST(StopValidation, MeasuredStopsAtLargestEffort) {
    const std::string source = "N. Famiglietti et al., SAE 2020-01-0876 (abstract): 8 bicycles, dry asphalt, largest effort, 11-21 mph";
    const parts::Bike bike = worked_bike(0.6, 1.07);
    const auto ours = [&](Brakes brakes, double grip) {
        return stop::stop_case(bike, {.brakes = brakes, .from_mps = 16 * 0.44704, .grip = grip, .skill = stop::Skill::unlimited}, largest_effort())
                   .deceleration_mps2 / g;
    };
    check({.id = "stop-21", .what = "rear brake alone, grip 0.9 -> deceleration", .source = source + ": 0.25 to 0.37 g", .basis = Basis::source_read,
           .expected = 0.31, .tolerance = 0.06, .unit = "g", .why = "the measured band", .function = "stop::stop_case", .used_by_answer = true},
          ours(Brakes::rear, 0.9));
    check({.id = "stop-22", .what = "both brakes, grip 0.9 -> deceleration", .source = source + ": 0.40 to 0.71 g", .basis = Basis::source_read,
           .expected = 0.555, .tolerance = 0.155, .unit = "g", .why = "the measured band", .function = "stop::stop_case", .used_by_answer = true},
          ours(Brakes::both, 0.9));
}

TEST(StopValidation, WetAndHeatPredicates) {
    const std::string wet = "TBIS 4210-4 p. 31 g): wet over dry above 50 % wherever dry is above 200 N";
    const auto row = [](const char* id, const char* what, const std::string& source, Outcome expected, const char* function) {
        return Row{.id = id, .what = what, .source = source, .basis = Basis::source_read, .expected = static_cast<double>(expected),
                   .tolerance = 0, .unit = "outcome", .why = "0 met, 1 not met, 2 not asked", .function = function, .used_by_answer = true};
    };
    const auto ratio = [](double dry, double w) { return static_cast<double>(stop::wet_ratio_outcome(dry, w, 0.5, 200)); };
    check(row("stop-23", "dry 210 N, wet 100 N", wet, Outcome::fail, "stop::wet_ratio_outcome"), ratio(210, 100));
    check(row("stop-24", "dry 210 N, wet 106 N", wet, Outcome::pass, "stop::wet_ratio_outcome"), ratio(210, 106));
    check(row("stop-25", "dry 190 N, wet 60 N", wet, Outcome::not_evaluated, "stop::wet_ratio_outcome"), ratio(190, 60));

    const auto library = parts::load_library();
    ASSERT_TRUE(library) << library.error().text;
    const auto limits = stop::heat_resistance_limits(*library);
    const std::string heat = "TBIS 4210-2:2018 4.6.9: 70 % of the cold force, drag within 60 to 115 N, lever at most 180 N";
    const auto test = [&](double hot, double least, double most, double lever) {
        return static_cast<double>(stop::heat_resistance_outcome(
            {.cold_N = 300, .hot_N = hot, .drag_least_N = least, .drag_most_N = most, .lever_most_N = lever}, limits));
    };
    const char* f = "stop::heat_resistance_outcome";
    check(row("stop-26", "cold 300 N, hot 209 N", heat, Outcome::fail, f), test(209, 70, 100, 120));
    check(row("stop-27", "cold 300 N, hot 210 N", heat, Outcome::pass, f), test(210, 70, 100, 120));
    check(row("stop-28", "drag force down to 59.9 N", heat, Outcome::fail, f), test(250, 59.9, 100, 120));
    check(row("stop-29", "drag force up to 115.1 N", heat, Outcome::fail, f), test(250, 70, 115.1, 120));
    check(row("stop-30", "lever force up to 180.1 N", heat, Outcome::fail, f), test(250, 70, 100, 180.1));
}

TEST(StopValidation, ChainByPascalsLaw) {
    parts::Bike b = worked_bike(0.6, 1.07);
    const stop::BrakeUnknowns ideal{.friction = 0.4, .wet_factor = 1, .loss = 0, .threshold_N = 0, .one_pad_kept = 1, .travel_mm = 5};
    // Hydraulic: 50 N x 5 = 250 N on 10 mm (78.540 mm2) = 3.1831 MPa on 22 mm (380.13 mm2) = 1210 N a side;
    // x 2 x 0.4 = 968 N at (180 + 150)/4 = 82.5 mm = 79.86 N m at 0.34 m = 234.88 N.
    check({.id = "stop-31", .what = "50 N, lever 5, master 10 mm, piston 22 mm, friction 0.4, 180/150 mm band, wheel 0.34 m -> tyre force",
           .source = "Pascal's law and levers, worked by hand", .basis = Basis::exact, .expected = 234.88, .tolerance = 0.01, .unit = "N",
           .why = "worked with 5 digits", .function = "stop::tyre_force_from", .used_by_answer = true},
          stop::tyre_force_from(b, parts::End::front, ideal, 0.4, 50));
    check({.id = "stop-32", .what = "234.88 N at the tyre, same brake -> lever force", .source = "Pascal's law and levers, worked by hand", .basis = Basis::exact,
           .expected = 50, .tolerance = 0.005, .unit = "N", .why = "worked with 5 digits", .function = "stop::lever_force_for", .used_by_answer = true},
          stop::lever_force_for(b, parts::End::front, ideal, 0.4, 234.88));
    // Cable: 50 N x 4 = 200 N of cable; a half turn and a bit, 2.0 rad at 0.15: exp(-0.3) = 0.74082 -> 148.16 N; arm 5 -> 740.82 N;
    // x 0.8 = 592.66 N at 82.5 mm / 0.34 m = 143.81 N.
    b.front.actuation = parts::Actuation::cable;
    b.front.lever.ratio.value = 4;
    b.front.caliper.arm_ratio.value = 5;
    stop::BrakeUnknowns cable = ideal;
    cable.loss = 0.15 * 2.0;
    check({.id = "stop-33", .what = "50 N, lever 4, cable bent by 2 rad with friction 0.15, arm 5 -> tyre force",
           .source = "levers and rope friction exp(-mu phi) (Euler, Eytelwein), worked by hand", .basis = Basis::exact, .expected = 143.81, .tolerance = 0.01,
           .unit = "N", .why = "worked with 5 digits", .function = "stop::tyre_force_from", .used_by_answer = true},
          stop::tyre_force_from(b, parts::End::front, cable, 0.4, 50));
    // Cable-to-hydraulic: 148.16 N of cable, arm 2 -> 296.33 N on a 12 mm master (113.10 mm2) = 2.6201 MPa on 380.13 mm2 = 995.99 N;
    // x 0.8 x 82.5/340 = 193.34 N.
    b.front.actuation = parts::Actuation::cable_to_hydraulic;
    b.front.caliper.arm_ratio.value = 2;
    b.front.lever.master_diameter_mm.value = 12;
    check({.id = "stop-34", .what = "50 N, lever 4, the same cable, arm 2, master 12 mm, piston 22 mm -> tyre force",
           .source = "levers, rope friction, Pascal's law, worked by hand", .basis = Basis::exact, .expected = 193.34, .tolerance = 0.01, .unit = "N",
           .why = "worked with 5 digits", .function = "stop::tyre_force_from", .used_by_answer = true},
          stop::tyre_force_from(b, parts::End::front, cable, 0.4, 50));
}

TEST(StopValidation, DistanceBroughtToNominalSpeed) {
    check({.id = "stop-35", .what = "6.4 m from 24 km/h -> at 25 km/h", .source = "ISO 4210-4, S_c = S_m (V_s/V_m)^2, from memory; worked by hand",
           .basis = Basis::from_memory, .expected = 6.9444, .tolerance = 1e-4, .unit = "m", .why = "worked with 5 digits",
           .function = "stop::distance_at_nominal_speed_m", .used_by_answer = true},
          stop::distance_at_nominal_speed_m(6.4, 25 / 3.6, 24 / 3.6));
}

TEST(StopValidation, RearOnlyDownASteepSlipperyRoadDoesNotStop) {
    const parts::Bike bike = worked_bike(0.6, 1.1);
    // 0.4 x 0.6/(1.05 + 0.44) = 0.1611 of the weight's part across the road; the slope pulls with 0.2 of it.
    check({.id = "stop-36", .what = "rear alone, -20 %, grip 0.4, wheelbase 1.05, 0.6 m behind, 1.1 m high -> deceleration",
           .source = "moments about the front contact, worked by hand: g cos (0.16107 - 0.2)", .basis = Basis::exact, .expected = -0.3743,
           .tolerance = 1e-3, .unit = "m/s2", .why = "worked with 4 digits", .function = "stop::stop_case", .used_by_answer = true},
          stop::stop_case(bike, {.brakes = Brakes::rear, .grade = -0.2, .grip = 0.4, .skill = stop::Skill::unlimited}, largest_effort()).deceleration_mps2);
}

TEST(StopValidation, AgainstFactsOfTheTrade) {
    const auto library = parts::load_library();
    ASSERT_TRUE(library) << library.error().text;
    report("stop-t1", "front share of the braking a road rider takes, median of the prior (a trade magazine's test programme takes 0.8 down 13 %)", 0.5, 0.8, "",
           library->value("balance.front_share.road"), "a prior between even squeezing and the magazine's figure");
}

}  // namespace
}  // namespace bw::validation
