// SPDX-License-Identifier: Apache-2.0
// Statics of two braked wheels: identities and limits.
#include "balance/balance.hpp"

#include <gtest/gtest.h>

#include <algorithm>
#include <cmath>

namespace bw::balance {
namespace {

const Geometry upright{.mass_kg = 100, .wheelbase_m = 1.05, .height_m = 1.1, .from_front_m = 0.6};
constexpr double grades[] = {-0.35, -0.2, -0.05, 0, 0.08, 0.2};
constexpr double rounding = 1e-9;   // N or m/s^2: forces of a kilonewton in double precision

TEST(BalanceIdentity, WheelLoadsSumToTheWeightAcrossTheRoad) {
    for (const double grade : grades)
        for (const double a : {0.0, 1.0, 3.4, 5.0}) {
            const Loads l = wheel_loads(upright, a, grade);
            EXPECT_NEAR(l.front_N + l.rear_N, 100 * 9.80665 * std::cos(std::atan(grade)), rounding) << grade << ' ' << a;
        }
}

TEST(BalanceIdentity, BrakingAndDecelerationAreInverse) {
    for (const double grade : grades) EXPECT_NEAR(deceleration_from(upright, braking_for(upright, 3.1, grade), grade), 3.1, rounding);
}

TEST(BalanceIdentity, WithoutBrakingTheBikeGainsSpeedDownhill) {
    EXPECT_NEAR(deceleration_from(upright, 0, -0.2), -9.80665 * std::sin(std::atan(0.2)), rounding);
}

TEST(BalanceIdentity, AtTheLiftLimitTheRearWheelCarriesNothing) {
    for (const double grade : grades)
        EXPECT_NEAR(wheel_loads(upright, rear_lift_limit(upright, grade).deceleration_mps2, grade).rear_N, 0, 1e-8);
}

TEST(BalanceIdentity, OnTheLevelTheLiftLimitIsBOverH) {
    EXPECT_NEAR(rear_lift_limit(upright, 0).deceleration_mps2 / 9.80665, 0.6 / 1.1, 1e-12);
}

TEST(BalanceIdentity, LiftLimitDoesNotDependOnMass) {
    Geometry heavy = upright;
    heavy.mass_kg = 140;
    EXPECT_NEAR(rear_lift_limit(heavy, -0.1).deceleration_mps2, rear_lift_limit(upright, -0.1).deceleration_mps2, rounding);
}

TEST(BalanceIdentity, AtTheRearOnlyLimitTheRearTyreUsesAllItsGrip) {
    for (const double grade : grades) {
        const Limit l = rear_only_limit(upright, 0.6, grade);
        EXPECT_NEAR(l.braking_N, 0.6 * wheel_loads(upright, l.deceleration_mps2, grade).rear_N, 1e-8) << grade;
    }
}

TEST(BalanceIdentity, AtTheFrontLockLimitTheFrontTyreUsesAllItsGrip) {
    for (const double grade : grades) {
        const Limit l = front_lock_limit(upright, 0.3, grade);
        EXPECT_NEAR(l.braking_N, 0.3 * wheel_loads(upright, l.deceleration_mps2, grade).front_N, 1e-8) << grade;
    }
}

TEST(BalanceIdentity, WithBestSharingBothTyresUseTheSamePartOfTheirGrip) {
    const double a = 3.0, grade = -0.1, share = ideal_front_share(upright, a, grade);
    const Loads l = wheel_loads(upright, a, grade);
    const double braking = braking_for(upright, a, grade);
    EXPECT_NEAR(share * braking / l.front_N, (1 - share) * braking / l.rear_N, 1e-12);
}

TEST(BalanceIdentity, ASymmetricBikeAtRestLoadsBothWheelsAlike) {
    const Geometry g{.mass_kg = 90, .wheelbase_m = 1.0, .height_m = 1.0, .from_front_m = 0.5};
    const Loads l = wheel_loads(g, 0, 0);
    EXPECT_NEAR(l.front_N, l.rear_N, rounding);
    EXPECT_NEAR(ideal_front_share(g, 0, 0), 0.5, 1e-12);
}

TEST(BalanceLimit, AFrontWheelWithMuchGripPitchesOverInsteadOfLocking) {
    EXPECT_TRUE(std::isinf(front_lock_limit(upright, 0.97, 0).braking_N));
    EXPECT_EQ(front_only_limit(upright, 0.97, 0).braking_N, rear_lift_limit(upright, 0).braking_N);
}

TEST(BalanceLimit, OnASlipperyRoadTheFrontLocksBeforeTheRearLifts) {
    EXPECT_LT(front_only_limit(upright, 0.3, 0).braking_N, rear_lift_limit(upright, 0).braking_N);
}

TEST(BalanceLimit, TheBestOfBothIsAtLeastEitherBrakeAlone) {
    for (const double grip : {0.2, 0.4, 0.6, 0.8, 1.0})
        for (const double grade : grades) {
            const double both = both_best_limit(upright, grip, grade).braking_N;
            EXPECT_GE(both * (1 + 1e-12), rear_only_limit(upright, grip, grade).braking_N);
            EXPECT_GE(both * (1 + 1e-12), front_only_limit(upright, grip, grade).braking_N);
        }
}

TEST(BalanceLimit, SteeperDownhillLeavesLessDeceleration) {
    double last = 1e9;
    for (const double grade : {0.1, 0.0, -0.1, -0.2, -0.3}) {
        const double a = both_best_limit(upright, 0.7, grade).deceleration_mps2;
        EXPECT_LT(a, last);
        last = a;
    }
}

TEST(BalanceLimit, RearOnlyDownTwentyPercentOnGripOfPointFourGainsSpeed) {
    EXPECT_LT(rear_only_limit(upright, 0.4, -0.2).deceleration_mps2, 0);
}

TEST(FrontShare, IsTheHabitWhereGripAllows) { EXPECT_DOUBLE_EQ(front_share_at(upright, 0.6, 0.9, 1.5, 0), 0.6); }

TEST(FrontShare, MovesForwardWhereTheRearTyreHasNoMoreGrip) {
    const double a = 4.0, share = front_share_at(upright, 0.3, 0.8, a, 0);
    EXPECT_GT(share, 0.3);
    EXPECT_NEAR((1 - share) * braking_for(upright, a, 0), 0.8 * wheel_loads(upright, a, 0).rear_N, 1e-8);
}

TEST(FrontShare, MovesBackWhereTheFrontTyreHasNoMoreGrip) {
    const double a = 2.0, share = front_share_at(upright, 0.98, 0.25, a, 0);
    EXPECT_LT(share, 0.98);
    EXPECT_NEAR(share * braking_for(upright, a, 0), 0.25 * wheel_loads(upright, a, 0).front_N, 1e-8);
}

TEST(FrontShare, IsAllFrontWhenTheRearWheelLifts) {
    EXPECT_DOUBLE_EQ(front_share_at(upright, 0.5, 0.95, rear_lift_limit(upright, 0).deceleration_mps2, 0), 1.0);
}

TEST(FrontShare, StaysAShareForAnyDraw) {
    for (const double habit : {0.0, 0.5, 1.3})
        for (const double a : {-1.0, 0.0, 2.0, 6.0, 12.0})
            for (const double grade : grades) {
                const double share = front_share_at(upright, habit, 0.5, a, grade);
                EXPECT_TRUE(share >= 0 && share <= 1) << habit << ' ' << a << ' ' << grade;
            }
}

// ---- bikes with trailers, motors and loads: thousands of them, from a generator that shares nothing with the program ----

struct Dice {
    std::uint64_t state = 88172645463325252ULL;
    double operator()(double low, double high) {
        state ^= state << 13;
        state ^= state >> 7;
        state ^= state << 17;
        return low + (high - low) * static_cast<double>(state >> 11) / 9007199254740992.0;
    }
};

Geometry any_bike(Dice& dice) {
    Geometry g{.mass_kg = dice(40, 250), .wheelbase_m = dice(0.9, 2.3), .height_m = dice(0.5, 1.4), .from_front_m = 0};
    g.from_front_m = g.wheelbase_m * dice(0.1, 0.9);
    if (dice(0, 1) < 0.5) {
        g.trailer_kg = dice(5, 150);
        g.push_height_m = dice(0.2, 1.0);
        if (dice(0, 1) < 0.5) g.trailer_own_share = dice(0, 1);
    }
    return g;
}

Sharing any_sharing(Dice& dice) {
    Sharing s{.habit = dice(-0.1, 1.2), .grip = dice(0.1, 1.1), .skid_share = dice(-0.1, 1.3)};
    if (dice(0, 1) < 0.5)
        s.motor = Motor{.wheel = dice(0, 1) < 0.5 ? parts::End::front : parts::End::rear, .most_W = dice(10, 800), .most_N = dice(5, 120)};
    return s;
}

TEST(BalanceOfAnyBike, WheelLoadsSumToTheWeightOfWhatTheWheelsCarry) {
    Dice dice;
    for (int i = 0; i < 5000; ++i) {
        const Geometry g = any_bike(dice);
        const double grade = dice(-0.4, 0.3);
        const Loads l = wheel_loads(g, dice(-2, 9), grade);
        EXPECT_NEAR(l.front_N + l.rear_N, g.mass_kg * 9.80665 * std::cos(std::atan(grade)), 1e-8) << i;
    }
}

TEST(BalanceOfAnyBike, FrontRearSkidMotorAndTrailerSumToTheBrakes) {
    Dice dice;
    for (int i = 0; i < 20000; ++i) {
        const double power = dice(-500, 6000);
        const WheelPower w = wheel_power(any_bike(dice), any_sharing(dice), power, dice(0, 25), dice(-1, 9), dice(-0.4, 0.3), dice(0, 80));
        EXPECT_NEAR(w.sum_W(), power, 1e-8) << i;
    }
}

TEST(BalanceOfAnyBike, NoPartOfTheBrakingIsNegative) {
    Dice dice;
    for (int i = 0; i < 20000; ++i) {
        const WheelPower w = wheel_power(any_bike(dice), any_sharing(dice), dice(1, 6000), dice(0, 25), dice(-1, 9), dice(-0.4, 0.3), dice(0, 80));
        EXPECT_GE(std::min({w.front_rotor_W, w.rear_rotor_W, w.rear_tyre_W, w.motor_W, w.trailer_W}), -1e-9) << i;
    }
}

TEST(BalanceOfAnyBike, TheMotorTakesNoMoreThanItsPowerAndItsForce) {
    Dice dice;
    for (int i = 0; i < 20000; ++i) {
        const Sharing s = any_sharing(dice);
        const double v = dice(0, 25);
        const WheelPower w = wheel_power(any_bike(dice), s, dice(1, 6000), v, dice(0, 9), dice(-0.4, 0.3), 0);
        EXPECT_LE(w.motor_W, s.motor ? std::min(s.motor->most_W, s.motor->most_N * v) + 1e-9 : 0) << i;
    }
}

TEST(BalanceOfAnyBike, AtEachLimitTheTyreOrTheLoadIsUsedUp) {
    Dice dice;
    for (int i = 0; i < 5000; ++i) {
        const Geometry g = any_bike(dice);
        const double grade = dice(-0.35, 0.25), grip = dice(0.1, 1.0), N = 1e-7 * g.mass_kg;
        EXPECT_NEAR(wheel_loads(g, rear_lift_limit(g, grade).deceleration_mps2, grade).rear_N, 0, N);
        const Limit rear = rear_only_limit(g, grip, grade);
        EXPECT_NEAR(rear.braking_N, grip * wheel_loads(g, rear.deceleration_mps2, grade).rear_N, N);
        const Limit front = front_lock_limit(g, grip, grade);
        if (std::isfinite(front.braking_N)) { EXPECT_NEAR(front.braking_N / (grip * wheel_loads(g, front.deceleration_mps2, grade).front_N), 1, 1e-6); }
    }
}

TEST(BalanceOfAnyBike, HoldNamesWhatMovesTheShareFromTheHabit) {
    Dice dice;
    for (int i = 0; i < 20000; ++i) {
        const Geometry g = any_bike(dice);
        const double habit = dice(0.03, 0.97), grip = dice(0.1, 1.0), a = dice(-1, 9), grade = dice(-0.35, 0.25);
        const double share = front_share_at(g, habit, grip, a, grade);
        switch (hold_at(g, habit, grip, a, grade)) {
            case Hold::none: EXPECT_EQ(share, habit); break;
            case Hold::rear_grip: EXPECT_GT(share, habit); break;
            case Hold::front_grip: EXPECT_LT(share, habit); break;
            case Hold::rear_lift: EXPECT_EQ(share, 1); break;
            case Hold::both_grips: EXPECT_GT(braking_for(g, a, grade), 0.999 * grip * g.mass_kg * 9.80665 * cosine_of(grade)); break;
        }
    }
}

// Bike and trailer as two bodies, written down apart from the program: in axes of the horizon, moments about the rear contact.
// Unknown: deceleration a, push P at the hitch, loads. The trailer brakes itself with own_N.
struct TwoBodies {
    double a, push_N, front_N, rear_N;
};
TwoBodies two_bodies(const Geometry& g, double tyres_N, double own_N, double slope_rad) {
    TwoBodies t{};
    // Along the road: (m + M) a = F + T + (m + M) g sin; trailer alone: M a = T + P + M g sin.
    const double gs = 9.80665 * std::sin(slope_rad);
    t.a = (tyres_N + own_N) / (g.mass_kg + g.trailer_kg) + gs;
    t.push_N = g.trailer_kg * (t.a - gs) - own_N;
    // Bike, forces in horizontal and vertical parts, moments about the rear contact patch (at the origin; front patch L along the slope).
    // Bike points to +x, slope_rad negative: the front lies lower. Inertia force m a along the road, forwards.
    const double c = std::cos(slope_rad), s = std::sin(slope_rad), L = g.wheelbase_m;
    const auto moment = [](double x, double y, double fx, double fy) { return x * fy - y * fx; };
    const double x_cm = (L - g.from_front_m) * c - g.height_m * s, y_cm = (L - g.from_front_m) * s + g.height_m * c;
    const double about = moment(x_cm, y_cm, g.mass_kg * t.a * c, g.mass_kg * t.a * s - g.mass_kg * 9.80665) +
                         moment(-g.push_height_m * s, g.push_height_m * c, t.push_N * c, t.push_N * s);
    t.front_N = -about / L;   // front_N acts along the road's normal at (L c, L s)
    t.rear_N = g.mass_kg * 9.80665 * c - t.front_N;
    return t;
}

TEST(Trailer, DecelerationAndLoadsAreThoseOfTwoBodiesPushingEachOther) {
    Dice dice;
    for (int i = 0; i < 5000; ++i) {
        Geometry g = any_bike(dice);
        const double grade = dice(-0.35, 0.25), F = dice(1, 900), share = g.trailer_own_share;
        // The trailer's brake does its share of what the trailer needs: T = share (T + P).
        const double M = (1 - share) * g.trailer_kg, demand = F / (g.mass_kg + M);
        const TwoBodies t = two_bodies(g, F, share * g.trailer_kg * demand, std::atan(grade));
        EXPECT_NEAR(deceleration_from(g, F, grade), t.a, 1e-9) << i;
        const Loads l = wheel_loads_at(g, F, grade);
        EXPECT_NEAR(l.front_N, t.front_N, 1e-7) << i;
        EXPECT_NEAR(l.rear_N, t.rear_N, 1e-7) << i;
    }
}

TEST(Trailer, AnUnbrakedTrailerMakesTheSameForceSlowLess) {
    Geometry g = upright;
    g.trailer_kg = 50;
    g.push_height_m = 0.4;
    EXPECT_NEAR(deceleration_from(g, 300, 0), 300.0 / 150, 1e-12);   // F = m a
}

TEST(Trailer, AHitchUnderTheCentreOfMassLetsTheBikeBrakeHarderBeforeTheRearLifts) {
    // All push at 0.4 m instead of 1.1 m: more force before the lift than without the trailer; yet each newton slows less.
    Geometry g = upright;
    g.trailer_kg = 50;
    g.push_height_m = 0.4;
    EXPECT_GT(rear_lift_limit(g, 0).braking_N, rear_lift_limit(upright, 0).braking_N);
    EXPECT_LT(rear_lift_limit(g, 0).deceleration_mps2, rear_lift_limit(upright, 0).deceleration_mps2);
}

TEST(Trailer, ATrailerThatBrakesItselfAltogetherLeavesTheBikeAsItWas) {
    Geometry g = upright;
    g.trailer_kg = 80;
    g.push_height_m = 0.4;
    g.trailer_own_share = 1;
    EXPECT_NEAR(deceleration_from(g, 300, -0.1), deceleration_from(upright, 300, -0.1), 1e-12);
    EXPECT_NEAR(wheel_loads(g, 3, -0.1).rear_N, wheel_loads(upright, 3, -0.1).rear_N, 1e-9);
    EXPECT_NEAR(wheel_power(g, {}, 1800, 5, 2, 0, 0).trailer_W, 1800.0 * 80 / 180, 1e-9);
}

TEST(Skid, WhatTheRearIsAskedBeyondItsGripGoesToTheFrontAndPartOfTheRestIntoTheTyre) {
    // By hand: m 100 kg, 4 m/s^2, level: F = 400 N; rear load 100 g 0.6/1.05 - 400 1.1/1.05 = 141.3 N, grip 0.8: 113.0 N of the 280 N
    // that a habit of 0.3 asks. Of the time 0.25 it slides.
    const double v = 5, rear_N = 0.8 * (100 * 9.80665 * 0.6 / 1.05 - 400 * 1.1 / 1.05);
    const WheelPower w = wheel_power(upright, {.habit = 0.3, .grip = 0.8, .skid_share = 0.25}, 400 * v, v, 4, 0, 0);
    EXPECT_NEAR(w.front_rotor_W, (400 - rear_N) * v, 1e-8);
    EXPECT_NEAR(w.rear_tyre_W, 0.25 * rear_N * v, 1e-8);
    EXPECT_NEAR(w.rear_rotor_W, 0.75 * rear_N * v, 1e-8);
}

TEST(Skid, BelowTheGripOfTheRearTyreNothingSlides) {
    EXPECT_EQ(wheel_power(upright, {.habit = 0.6, .grip = 0.8, .skid_share = 1}, 1000, 5, 2, 0, 0).rear_tyre_W, 0);
}

TEST(Skid, MoreSkiddingIsNeverMoreHeatInARotor) {
    Dice dice;
    for (int i = 0; i < 5000; ++i) {
        const Geometry g = any_bike(dice);
        Sharing s = any_sharing(dice);
        s.skid_share = 0;
        const double P = dice(1, 5000), v = dice(0.1, 20), a = dice(0, 8), grade = dice(-0.3, 0.2);
        const WheelPower none = wheel_power(g, s, P, v, a, grade, 0);
        s.skid_share = dice(0, 1);
        const WheelPower some = wheel_power(g, s, P, v, a, grade, 0);
        EXPECT_LE(some.rear_rotor_W, none.rear_rotor_W + 1e-9);
        EXPECT_NEAR(some.front_rotor_W, none.front_rotor_W, 1e-9);
    }
}

TEST(Skid, WhatAirAndRollingSlowIsNotAskedOfTheTyres) {
    // 4 m/s^2 of which air does 3: the rear tyre has grip to spare.
    EXPECT_GT(wheel_power(upright, {.habit = 0.3, .grip = 0.8, .skid_share = 1}, 2000, 5, 4, 0, 0).rear_tyre_W, 0);
    EXPECT_EQ(wheel_power(upright, {.habit = 0.3, .grip = 0.8, .skid_share = 1}, 2000, 5, 4, 0, 300).rear_tyre_W, 0);
}

TEST(Motor, TakesItsWheelsBrakingFirstAndTheRotorTheRest) {
    Sharing s{.habit = 0.6, .grip = 0.9, .motor = Motor{.wheel = parts::End::rear, .most_W = 150, .most_N = 40}};
    const WheelPower fast = wheel_power(upright, s, 1000, 8, 1, 0, 0);
    EXPECT_NEAR(fast.motor_W, 150, 1e-9);
    EXPECT_NEAR(fast.rear_rotor_W, 250, 1e-9);
    EXPECT_NEAR(fast.front_rotor_W, 600, 1e-9);
    EXPECT_NEAR(wheel_power(upright, s, 1000, 2, 1, 0, 0).motor_W, 80, 1e-9);   // by force: 40 N at 2 m/s
    EXPECT_NEAR(wheel_power(upright, s, 100, 8, 0.1, 0, 0).rear_rotor_W, 0, 1e-9);
}

TEST(Load, MovesTheCentreOfMassOnlyIfItsPlaceIsTold) {
    const auto library = parts::load_library();
    parts::Bike bike = parts::default_bike(parts::BikeKind::cargo, *library);
    bike.total_mass_kg.value = 150;
    bike.load_kg.value = 50;
    const Geometry before = geometry_of(bike);
    EXPECT_EQ(before.height_m, bike.centre_of_mass_height_m.value);
    bike.load_from_front_m = Uncertain{.value = 0.2, .sd = 0, .grade = Grade::measured, .source = "test"};
    bike.load_height_m = Uncertain{.value = 0.5, .sd = 0, .grade = Grade::measured, .source = "test"};
    const Geometry after = geometry_of(bike);
    EXPECT_NEAR(after.from_front_m, (100 * before.from_front_m + 50 * 0.2) / 150, 1e-12);
    EXPECT_NEAR(after.height_m, (100 * before.height_m + 50 * 0.5) / 150, 1e-12);
    EXPECT_GT(wheel_loads(after, 0, 0).front_N, wheel_loads(before, 0, 0).front_N);
}

TEST(Whole, OfABikeWithoutExtrasIsTheBike) {
    const auto library = parts::load_library();
    const parts::Bike bike = parts::default_bike(parts::BikeKind::trail, *library);
    const Whole w = whole_of(bike, 1.4);
    EXPECT_EQ(w.mass_kg, bike.total_mass_kg.value);
    EXPECT_EQ(w.drag_area_m2, bike.drag_area_m2.value);
    EXPECT_EQ(w.rolling_resistance, bike.rolling_resistance.value * 1.4);
}

TEST(Whole, RollingOfBikeTrailerAndMotorAddUpAsForces) {
    const auto library = parts::load_library();
    parts::Bike bike = parts::default_bike(parts::BikeKind::city, *library);
    const auto exactly = [](double v) { return Uncertain{.value = v, .sd = 0, .grade = Grade::measured, .source = "test"}; };
    bike.total_mass_kg = exactly(100);
    bike.rolling_resistance = exactly(0.008);
    bike.trailer = parts::Trailer{.mass_kg = exactly(40), .drag_area_m2 = exactly(0.2), .rolling_resistance = exactly(0.012), .push_height_m = exactly(0.4)};
    bike.overrun_N = exactly(3);
    const Whole w = whole_of(bike, 1);
    EXPECT_EQ(w.mass_kg, 140);
    EXPECT_NEAR(w.rolling_resistance * w.mass_kg * 9.80665, (100 * 0.008 + 40 * 0.012) * 9.80665 + 3, 1e-9);
    EXPECT_NEAR(w.drag_area_m2, bike.drag_area_m2.value + 0.2, 1e-12);
}

TEST(FrontShare, HasOneInputWithASpreadForEachKindOfBike) {
    const auto library = parts::load_library();
    ASSERT_TRUE(library) << library.error().text;
    for (const auto kind : {parts::BikeKind::trail, parts::BikeKind::gravel, parts::BikeKind::road, parts::BikeKind::city, parts::BikeKind::cargo}) {
        const auto all = inputs(*library, parts::default_bike(kind, *library));
        ASSERT_EQ(all.size(), 1u);
        EXPECT_EQ(all[0].key, "bike.front_share");
        EXPECT_GT(all[0].value.sd, 0);
    }
}

}  // namespace
}  // namespace bw::balance
