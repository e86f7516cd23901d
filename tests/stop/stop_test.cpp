// SPDX-License-Identifier: Apache-2.0
// One stop, and the answer over all cases.
#include "stop/stop.hpp"

#include <gtest/gtest.h>

#include <cmath>

#include "made_bike.hpp"

namespace bw::stop {
namespace {

using parts::End;

constexpr LimitedBy every_limit[] = {LimitedBy::lever_force, LimitedBy::front_grip, LimitedBy::rear_grip, LimitedBy::rear_lift,
                                     LimitedBy::fade, LimitedBy::skill, LimitedBy::lever_travel, LimitedBy::does_not_stop};

TEST(StopCase, AnOrdinaryStopOnADryRoadIsLimitedByTheRider) {
    const StopCase c = stop_case(made::bike(), {}, made::unknowns());
    EXPECT_EQ(c.limited_by, LimitedBy::skill);
    EXPECT_NEAR(c.deceleration_mps2, 3.4, 1e-12);
    ASSERT_TRUE(c.brake_distance_m && c.room_needed_m);
    EXPECT_NEAR(*c.room_needed_m - *c.brake_distance_m, 25 / 3.6 * 1.27, 1e-9);
}

TEST(StopCase, TheRearBrakeAloneDownTwentyPercentOnLittleGripDoesNotStop) {
    StopSetup s{.brakes = Brakes::rear, .surface = Surface::loose, .grade = -0.2, .grip = 0.4};
    for (const Skill skill : {Skill::ordinary, Skill::test_rider, Skill::unlimited}) {
        s.skill = skill;
        const StopCase c = stop_case(made::bike(), s, made::unknowns());
        EXPECT_EQ(c.limited_by, LimitedBy::does_not_stop);
        EXPECT_FALSE(c.brake_distance_m);
        EXPECT_FALSE(c.room_needed_m);
        EXPECT_LE(c.deceleration_mps2, 0);
    }
}

TEST(StopCase, AHandTooWeakIsNamed) {
    parts::Bike b = made::bike();
    b.rider.hand.strength_N.value = 60;
    b.front.caliper.piston_diameter_mm.value = b.rear.caliper.piston_diameter_mm.value = 14;
    const StopCase c = stop_case(b, {}, made::unknowns());
    EXPECT_EQ(c.limited_by, LimitedBy::lever_force);
    EXPECT_GT(c.need_N, c.hand_N);
    EXPECT_NEAR(c.front.lever_N, c.front.hand_N, 1e-9);
    EXPECT_NEAR(c.rear.lever_N, c.rear.hand_N, 1e-9);
}

TEST(StopCase, ALeverThatMeetsTheBarIsNamed) {
    parts::Bike b = made::bike();
    b.front.lever.bite_mm.value = b.rear.lever.bite_mm.value = 3;
    const StopCase c = stop_case(b, {}, made::unknowns());
    EXPECT_EQ(c.limited_by, LimitedBy::lever_travel);
    EXPECT_LE(c.front.full_mm, 0);
}

TEST(StopCase, HotPadsThatTheHandCannotMakeUpForAreFade) {
    parts::Bike b = made::bike();
    const StopSetup hot{.front_friction_factor = 0.15, .rear_friction_factor = 0.15};
    b.rider.hand.strength_N.value = 150;
    EXPECT_EQ(stop_case(b, {}, made::unknowns()).limited_by, LimitedBy::skill);
    EXPECT_EQ(stop_case(b, hot, made::unknowns()).limited_by, LimitedBy::fade);
}

TEST(StopCase, OnIceLikeGripTheFrontTyreIsNamedWithBothBrakes) {
    const StopCase c = stop_case(made::bike(), {.grip = 0.2}, made::unknowns());
    EXPECT_EQ(c.limited_by, LimitedBy::front_grip);
    EXPECT_NEAR(c.deceleration_mps2, 0.85 * 0.2 * 9.80665, 1e-9);
}

TEST(StopCase, WithMuchGripAndNoFearTheRearWheelLifts) {
    const StopCase c = stop_case(made::bike(), {.brakes = Brakes::front, .grip = 1.0, .skill = Skill::unlimited}, made::unknowns());
    EXPECT_EQ(c.limited_by, LimitedBy::rear_lift);
    EXPECT_NEAR(c.deceleration_mps2, 9.80665 * 0.6 / 1.1, 1e-9);
}

TEST(StopCase, TheRearBrakeAloneEndsInASkid) {
    const StopCase c = stop_case(made::bike(), {.brakes = Brakes::rear}, made::unknowns());
    EXPECT_EQ(c.limited_by, LimitedBy::rear_grip);
    EXPECT_EQ(c.front.tyre_N, 0);
    EXPECT_EQ(c.front.need_N, 0);
}

TEST(StopCase, NoWheelIsAskedForMoreThanItsGrip) {
    for (const Brakes brakes : {Brakes::both, Brakes::front, Brakes::rear})
        for (const double grip : {0.15, 0.3, 0.6, 0.95})
            for (const double grade : {-0.25, -0.1, 0.0, 0.1})
                for (const Skill skill : {Skill::ordinary, Skill::unlimited})
                    for (const double habit : {0.1, 0.6, 0.95})
                        for (const double strength : {40.0, 150.0, 600.0}) {
                            parts::Bike b = made::bike();
                            b.rider.hand.strength_N.value = strength;
                            StopUnknowns u = made::unknowns();
                            u.front_share = habit;
                            const StopCase c = stop_case(b, {.brakes = brakes, .grade = grade, .grip = grip, .skill = skill}, u);
                            const auto loads = balance::wheel_loads_at(balance::geometry_of(b), c.front.tyre_N + c.rear.tyre_N, grade);
                            EXPECT_LE(c.front.tyre_N, grip * loads.front_N + 1e-6);
                            EXPECT_LE(c.rear.tyre_N, grip * loads.rear_N + 1e-6);
                            EXPECT_LE(c.front.lever_N, c.front.hand_N + 1e-6);
                            EXPECT_LE(c.rear.lever_N, c.rear.hand_N + 1e-6);
                            EXPECT_GE(loads.rear_N, -1e-6);
                        }
}

parts::Bike towing(double trailer_kg, parts::TrailerBrake brake = parts::TrailerBrake::none) {
    parts::Bike b = made::bike();
    b.trailer = parts::Trailer{.mass_kg = made::exactly(trailer_kg), .drag_area_m2 = made::exactly(0.2), .rolling_resistance = made::exactly(0.01), .push_height_m = made::exactly(0.4), .brake = brake};
    return b;
}

TEST(StopTrailer, AnUnbrakedTrailerSlowsTheStopByTheRatioOfTheMasses) {
    const StopUnknowns u = made::unknowns();
    const StopCase with = stop_case(towing(50), {}, u), without = stop_case(made::bike(), {}, u);
    ASSERT_EQ(without.limited_by, LimitedBy::skill);
    ASSERT_EQ(with.limited_by, LimitedBy::skill);
    EXPECT_NEAR(with.deceleration_mps2, without.deceleration_mps2 * 100 / 150, 1e-12);
    EXPECT_GT(*with.brake_distance_m, *without.brake_distance_m);
}

TEST(StopTrailer, OnASlipperyRoadAllGripHoldsBikeAndTrailer) {
    const StopCase c = stop_case(towing(50), {.grip = 0.2}, made::unknowns());
    EXPECT_EQ(c.limited_by, LimitedBy::front_grip);
    EXPECT_NEAR(c.deceleration_mps2, 0.85 * 0.2 * 9.80665 * 100 / 150, 1e-9);
}

TEST(StopTrailer, AHeavyOneDownASteepWetRoadDoesNotStop) {
    // Grip 0.3, with the rider's 0.85 of it: 25 % of 100 kg holds 22 % of 250 kg no more.
    EXPECT_EQ(stop_case(towing(150), {.grade = -0.22, .grip = 0.3}, made::unknowns()).limited_by, LimitedBy::does_not_stop);
    EXPECT_NE(stop_case(made::bike(), {.grade = -0.22, .grip = 0.3}, made::unknowns()).limited_by, LimitedBy::does_not_stop);
}

TEST(StopTrailer, OneThatBrakesItselfStopsShorterThanOneThatOnlyPushes) {
    StopUnknowns u = made::unknowns();
    u.trailer_own_share = 0.6;
    const double own = *stop_case(towing(50, parts::TrailerBrake::overrun), {}, u).brake_distance_m;
    EXPECT_LT(own, *stop_case(towing(50), {}, u).brake_distance_m);
    EXPECT_GT(own, *stop_case(made::bike(), {}, u).brake_distance_m);
}

TEST(StopTrailer, NoWheelIsAskedForMoreThanItsGrip) {
    for (const Brakes brakes : {Brakes::both, Brakes::front, Brakes::rear})
        for (const double grip : {0.15, 0.3, 0.6, 0.95})
            for (const double grade : {-0.25, -0.1, 0.0, 0.1})
                for (const double trailer_kg : {10.0, 60.0, 150.0})
                    for (const double habit : {0.1, 0.6, 0.95}) {
                        const parts::Bike b = towing(trailer_kg);
                        StopUnknowns u = made::unknowns();
                        u.front_share = habit;
                        const StopCase c = stop_case(b, {.brakes = brakes, .grade = grade, .grip = grip, .skill = Skill::unlimited}, u);
                        const auto loads = balance::wheel_loads_at(balance::geometry_of(b), c.front.tyre_N + c.rear.tyre_N, grade);
                        EXPECT_LE(c.front.tyre_N, grip * loads.front_N + 1e-6);
                        EXPECT_LE(c.rear.tyre_N, grip * loads.rear_N + 1e-6);
                        EXPECT_GE(loads.rear_N, -1e-6);
                    }
}

TEST(StopTrailer, AStandardsTestMassIsThatOfTheBikeAlone) {
    StopSetup standard;
    standard.mass_kg = 100;
    EXPECT_EQ(stop_case(towing(50), standard, made::unknowns()).deceleration_mps2, stop_case(made::bike(), standard, made::unknowns()).deceleration_mps2);
}

// An independent search: the largest sum of forces that any split between the wheels can give, found on a grid.
TEST(StopCase, BrakesAsHardAsTheBestSplitOnAFineGrid) {
    for (const double grip : {0.25, 0.5, 0.9})
        for (const double strength_front : {60.0, 250.0}) {
            parts::Bike b = made::bike();
            b.rider.hand.strength_N.value = strength_front;
            b.rear.caliper.piston_diameter_mm.value = 12;
            const StopUnknowns u = made::unknowns();
            const StopSetup setup{.grip = grip, .skill = Skill::unlimited};
            const StopCase c = stop_case(b, setup, u);
            const double front_most = tyre_force_from(b, End::front, u.front, 0.42, c.front.hand_N);
            const double rear_most = tyre_force_from(b, End::rear, u.rear, 0.42, c.rear.hand_N);
            double best = 0;
            for (int i = 0; i <= 1000; ++i)
                for (int k = 0; k <= 1000; ++k) {
                    const double f = front_most * i / 1000, r = rear_most * k / 1000, sum = f + r;
                    const double nf = 981 * 0.45 / 1.05 + sum * 1.1 / 1.05, nr = 981 * 0.6 / 1.05 - sum * 1.1 / 1.05;
                    if (nr >= 0 && f <= grip * nf && r <= grip * nr) best = std::max(best, sum);
                }
            // Grid steps of a thousandth of each brake, slope up to 1/(1 - grip h/L) = 17.5 at grip 0.9; g = 9.81 there.
            EXPECT_NEAR(c.front.tyre_N + c.rear.tyre_N, best, 0.01 * best + 0.002 * (front_most + rear_most)) << grip << ' ' << strength_front;
        }
}

TEST(StopOrder, MoreMassNeedsMoreLeverForce) {
    double last = 0;
    for (const double mass : {60.0, 80.0, 100.0, 140.0}) {
        const StopCase c = stop_case(made::bike(), {.mass_kg = mass}, made::unknowns());
        EXPECT_GT(c.need_N, last);
        last = c.need_N;
    }
}

TEST(StopOrder, AWetRoadIsLongerThanADryOne) {
    for (const Brakes brakes : {Brakes::both, Brakes::front, Brakes::rear}) {
        const StopCase dry = stop_case(made::bike(), {.brakes = brakes}, made::unknowns());
        const StopCase wet = stop_case(made::bike(), {.brakes = brakes, .surface = Surface::wet}, made::unknowns());
        EXPECT_GT(*wet.brake_distance_m, *dry.brake_distance_m);
    }
}

TEST(StopOrder, LessGripIsNeverShorter) {
    for (const Brakes brakes : {Brakes::both, Brakes::front, Brakes::rear}) {
        double last = 0;
        for (const double grip : {0.95, 0.8, 0.5, 0.3, 0.1}) {
            const StopCase c = stop_case(made::bike(), {.brakes = brakes, .grip = grip, .skill = Skill::unlimited}, made::unknowns());
            EXPECT_GE(*c.brake_distance_m, last);
            last = *c.brake_distance_m;
        }
    }
}

TEST(StopOrder, WetPadsNeedMoreLeverForceForTheSameStop) {
    const StopCase dry = stop_case(made::bike(), {.grip = 0.9, .pads = PadsWet::dry}, made::unknowns());
    const StopCase wet = stop_case(made::bike(), {.grip = 0.9, .pads = PadsWet::wet}, made::unknowns());
    EXPECT_GT(wet.need_N, dry.need_N);
}

TEST(StopOrder, SteeperIsLonger) {
    double last = 0;
    for (const double grade : {0.05, 0.0, -0.05, -0.1, -0.2}) {
        const StopCase c = stop_case(made::bike(), {.grade = grade}, made::unknowns());
        ASSERT_TRUE(c.brake_distance_m);
        EXPECT_GT(*c.brake_distance_m, last);
        last = *c.brake_distance_m;
    }
}

TEST(StopOrder, FasterIsLonger) {
    double last = 0;
    for (const double from : {1.0, 3.0, 6.0, 12.0}) {
        const StopCase c = stop_case(made::bike(), {.from_mps = from}, made::unknowns());
        EXPECT_GT(*c.brake_distance_m, last);
        last = *c.brake_distance_m;
    }
}

TEST(StopDistance, AConstantDecelerationIsTheSchoolFormula) {
    EXPECT_NEAR(*brake_distance_m({.from_mps = 10, .braking_mps2 = 5}), 10, 1e-12);
}

TEST(StopDistance, AgreesWithAStepByStepSumOfTheSameMotion) {
    for (const double from : {0.4, 3.0, 12.0})
        for (const double slope : {-1.5, 0.0, 0.8}) {
            const StopMotion m{.from_mps = from, .braking_mps2 = 4, .slope_mps2 = slope, .take_up_s = 0.15, .rise_s = 0.4};
            double v = from, s = 0, t = 0;
            const double dt = 1e-5;
            while (v > 0) {
                const double mid = t + dt / 2;
                const double share = mid < m.take_up_s ? 0 : std::min((mid - m.take_up_s) / m.rise_s, 1.0);
                const double a = m.braking_mps2 * share + slope;
                s += v * dt - a * dt * dt / 2;
                v -= a * dt;
                t += dt;
            }
            // The last step overshoots by at most v dt, far below a millimetre.
            EXPECT_NEAR(*brake_distance_m(m), s, 1e-4) << from << ' ' << slope;
        }
}

TEST(StopDistance, IsAbsentWhereTheSlopeIsTheStronger) {
    EXPECT_FALSE(brake_distance_m({.from_mps = 5, .braking_mps2 = 1, .slope_mps2 = -1.2}));
}

TEST(StopText, EveryLimitHasItsSentenceOfAtMostSeventyLetters) {
    for (const LimitedBy by : every_limit) {
        EXPECT_FALSE(reason_text(by).empty());
        EXPECT_LE(reason_text(by).size(), 70u) << reason_text(by);
        EXPECT_EQ(reason_text(by).find("safe"), std::string_view::npos);
    }
}

TEST(StopText, WordsReadBack) {
    for (const Brakes b : {Brakes::both, Brakes::front, Brakes::rear}) EXPECT_EQ(brakes_of(word_of(b)), b);
    for (const Surface s : {Surface::dry, Surface::wet, Surface::gravel, Surface::loose}) EXPECT_EQ(surface_of(word_of(s)), s);
    EXPECT_FALSE(brakes_of("fore"));
}

std::vector<StopCase> cases_with(int stopping, int not_stopping) {
    std::vector<StopCase> cases(stopping, stop_case(made::bike(), {}, made::unknowns()));
    const StopCase lost = stop_case(made::bike(), {.brakes = Brakes::rear, .grade = -0.3, .grip = 0.3}, made::unknowns());
    cases.insert(cases.end(), not_stopping, lost);
    return cases;
}

TEST(StopAnswer, MoreThanFivePercentThatDoNotStopIsDoesNotStopWithoutDistances) {
    const StopAnswer a = stop_answer({}, cases_with(94, 6), {}, 180);
    EXPECT_EQ(a.limited_by, LimitedBy::does_not_stop);
    EXPECT_NEAR(a.not_stopping_share, 0.06, 1e-12);
    EXPECT_FALSE(a.brake_distance_m);
    EXPECT_FALSE(a.room_needed_m);
}

TEST(StopAnswer, FewerKeepTheDistancesAndAreCounted) {
    const StopAnswer a = stop_answer({}, cases_with(970, 30), {}, 180);
    EXPECT_EQ(a.limited_by, LimitedBy::skill);
    EXPECT_NEAR(a.not_stopping_share, 0.03, 1e-12);
    ASSERT_TRUE(a.brake_distance_m);
    EXPECT_LT(a.brake_distance_m->p95, 100);
}

TEST(StopAnswer, WeightsDecideLikeRepeatedCases) {
    const auto cases = cases_with(100, 100);
    std::vector<double> weights(200, 1.0);
    std::fill(weights.begin() + 100, weights.end(), 0.01);
    EXPECT_EQ(stop_answer({}, cases, weights, 180).limited_by, LimitedBy::skill);
    std::fill(weights.begin() + 100, weights.end(), 0.1);
    EXPECT_EQ(stop_answer({}, cases, weights, 180).limited_by, LimitedBy::does_not_stop);
}

TEST(StopAnswer, SetsTheNeedBesideThisHandAndTheStandardsForce) {
    parts::Bike b = made::bike();
    b.rider.hand.strength_N.value = 110;
    b.front.caliper.piston_diameter_mm.value = b.rear.caliper.piston_diameter_mm.value = 14;
    const std::vector<StopCase> cases(8, stop_case(b, {}, made::unknowns()));
    const StopAnswer a = stop_answer({}, cases, {}, 180);
    EXPECT_EQ(a.standard_force_N, 180);
    EXPECT_GT(a.lever_force_N.p50, a.hand_force_N.p50);       // more than this hand has
    EXPECT_LT(a.lever_force_N.p50, a.standard_force_N);       // though the standard's force would do
    EXPECT_LT(a.cold_hand_force_N.p50, a.hand_force_N.p50);
    EXPECT_EQ(a.weak_share, 1);
}

TEST(Lever, ABitePointAtTheBarReachesTheBar) {
    parts::Bike b = made::bike();
    b.front.lever.bite_mm.value = 4;
    const std::vector<LeverView> views(4, lever_view(b, End::front, {}, made::unknowns()));
    EXPECT_EQ(lever_answer(views, {}).finding, LeverFinding::reaches_bar);
}

TEST(Lever, AnOrdinaryOneIsWithinItsWindowAndFindsNothing) {
    parts::Bike b = made::bike();
    b.front.lever.bite_mm.value = 32;
    const std::vector<LeverView> views(4, lever_view(b, End::front, {}, made::unknowns()));
    const LeverAnswer a = lever_answer(views, {});
    EXPECT_EQ(a.finding, LeverFinding::none);
    EXPECT_EQ(a.in_window_share, 1) << a.window_mm[0] << ' ' << a.window_mm[1];
}

TEST(Lever, ABiteAtTheNearEndOfTheWindowLeavesEightMillimetresAtAnOrdinaryStop) {
    // Whatever the ratio does along the way: set the bite there, and look where the lever then stands.
    for (const auto& [at_rest, at_bar] : {std::pair{4.0, 8.0}, {3.0, 9.0}, {8.0, 4.0}, {5.0, 5.0}, {5.0, 0.0}})
        for (const double travel_mm : {9.0, 18.0}) {
            parts::Bike b = made::bike();
            b.front.lever.ratio = made::exactly(at_rest);
            if (at_bar > 0) b.front.lever.ratio_at_bar = made::exactly(at_bar);
            StopUnknowns u = made::unknowns();
            u.front.travel_mm = travel_mm;
            const double near_mm = lever_view(b, End::front, {}, u).window_mm[0];
            ASSERT_LT(near_mm, b.front.lever.reach_mm.value);
            b.front.lever.bite_mm.value = near_mm;
            const LeverView there = lever_view(b, End::front, {}, u);
            EXPECT_NEAR(there.full_mm, 8, 1e-6) << at_rest << " to " << at_bar << ", " << travel_mm;
            EXPECT_NEAR(there.window_mm[0], near_mm, 1e-6);
        }
}

TEST(Lever, AFewCasesThatReachTheBarAskForAMeasurement) {
    std::vector<LeverView> views(99, lever_view(made::bike(), End::front, {}, made::unknowns()));
    views.push_back(views.front());
    views.back().full_mm = -1;
    EXPECT_EQ(lever_answer(views, {}).finding, LeverFinding::near_bar);
}

TEST(Lever, LockNeedsMoreForceThanOrdinaryBrakingOnADryRoad) {
    const LeverView v = lever_view(made::bike(), End::front, {}, made::unknowns());
    EXPECT_GT(v.force_lock_N, v.force_03g_N);
}

TEST(Inputs, CoverWhatTheUnknownsReadForEveryActuation) {
    const auto library = parts::load_library();
    ASSERT_TRUE(library) << library.error().text;
    for (const parts::Actuation actuation : {parts::Actuation::hydraulic, parts::Actuation::cable, parts::Actuation::cable_to_hydraulic})
        for (const int moving : {1, 2}) {
            parts::Bike b = made::bike();
            b.front.actuation = b.rear.actuation = actuation;
            b.front.caliper.moving_pads = moving;
            b.rear.housing.kind = parts::HousingKind::compressionless;
            std::vector<Input> all = inputs(*library, b);
            for (const Input& i : balance::inputs(*library, b)) all.push_back(i);
            for (const char* key : {"front.friction", "rear.friction"}) all.push_back({.key = key, .unit = "", .value = {.value = 0.4, .sd = 0.05}});
            const Cases cases = draw_cases(all, 64, 1);
            for (std::size_t i = 0; i < cases.size(); ++i) {
                const StopUnknowns u = unknowns_of(*library, b, CaseRow(cases, i));
                EXPECT_GT(u.front.friction, 0);
                EXPECT_GT(u.rear.loss, 0);
                EXPECT_LE(u.front.one_pad_kept, 1);
                EXPECT_GE(u.reach_s, 0.147);
                EXPECT_LT(u.grip_used, 1);
                const StopCase c = stop_case(b, {}, u);
                EXPECT_TRUE(std::isfinite(c.deceleration_mps2));
            }
        }
}

TEST(Answer, DoesNotDependOnAnythingButTheSeed) {
    const auto library = parts::load_library();
    ASSERT_TRUE(library) << library.error().text;
    const parts::Bike b = parts::default_bike(parts::BikeKind::trail, *library);
    std::vector<Input> all = parts::inputs_of(b);
    for (const Input& i : inputs(*library, b)) all.push_back(i);
    for (const Input& i : balance::inputs(*library, b)) all.push_back(i);
    for (const char* key : {"front.friction", "rear.friction"}) all.push_back({.key = key, .unit = "", .value = {.value = 0.42, .sd = 0.06}});
    const auto run = [&] {
        const Cases cases = draw_cases(all, 256, 7);
        std::vector<StopCase> stops;
        for (std::size_t i = 0; i < cases.size(); ++i) {
            const CaseRow row(cases, i);
            stops.push_back(stop_case(parts::bike_of_case(b, row), {}, unknowns_of(*library, b, row)));
        }
        return stop_answer({}, stops, {}, library->value("yardstick.lever_force"));
    };
    const StopAnswer one = run(), two = run();
    ASSERT_TRUE(one.brake_distance_m && two.brake_distance_m);
    EXPECT_EQ(*one.brake_distance_m, *two.brake_distance_m);
    EXPECT_EQ(one.lever_force_N, two.lever_force_N);
    EXPECT_GT(one.brake_distance_m->p05, 3);
    EXPECT_LT(one.brake_distance_m->p95, 20);
}

}  // namespace
}  // namespace bw::stop
