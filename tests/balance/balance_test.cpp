// SPDX-License-Identifier: Apache-2.0
// Statics of two braked wheels: identities and limits.
#include "balance/balance.hpp"

#include <gtest/gtest.h>

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
