// SPDX-License-Identifier: Apache-2.0
// From the finger to the road: chain, losses, travel.
#include "stop/actuation.hpp"

#include <gtest/gtest.h>

#include <cmath>

#include "made_bike.hpp"

namespace bw::stop {
namespace {

using parts::Actuation;
using parts::End;

TEST(Chain, EndsInTheTyreForceOfTheShortFormula) {
    for (const Actuation actuation : {Actuation::hydraulic, Actuation::cable, Actuation::cable_to_hydraulic})
        for (const int moving : {1, 2}) {
            parts::Bike b = made::bike();
            b.front.actuation = actuation;
            b.front.caliper.arm_ratio.value = 2.2;
            b.front.caliper.moving_pads = moving;
            BrakeUnknowns u = made::brake();
            u.one_pad_kept = moving == 1 ? 0.96 : 1;
            const auto stages = chain(b, End::front, u, 0.4, 80);
            EXPECT_NEAR(stages.back().out, tyre_force_from(b, End::front, u, 0.4, 80), 1e-9);
        }
}

TEST(Chain, EachStageTakesWhatTheOneBeforeGave) {
    const auto stages = chain(made::bike(), End::front, made::brake(), 0.4, 80);
    EXPECT_EQ(stages.front().in, 80);
    for (std::size_t i = 1; i < stages.size(); ++i) {
        EXPECT_EQ(stages[i].in, stages[i - 1].out);
        EXPECT_EQ(stages[i].in_unit, stages[i - 1].out_unit);
        EXPECT_TRUE(stages[i].loss >= 0 && stages[i].loss < 1);
    }
}

TEST(Chain, ForceAndTyreForceAreInverse) {
    const parts::Bike b = made::bike();
    for (const double tyre : {10.0, 120.0, 480.0})
        EXPECT_NEAR(tyre_force_from(b, End::rear, made::brake(), 0.4, lever_force_for(b, End::rear, made::brake(), 0.4, tyre)), tyre, 1e-9);
}

TEST(Chain, BelowTheThresholdNothingReachesTheRoad) {
    EXPECT_EQ(tyre_force_from(made::bike(), End::front, made::brake(), 0.4, 5.9), 0);
}

TEST(Chain, TwoPistonsASideDoubleTheForce) {
    parts::Bike b = made::bike();
    const double one = tyre_force_from(b, End::front, made::brake(), 0.4, 60);
    b.front.caliper.pistons_per_side = 2;
    EXPECT_NEAR(tyre_force_from(b, End::front, made::brake(), 0.4, 60), 2 * one, 1e-9);
}

TEST(Chain, WithoutFrictionNoHandIsStrongEnough) {
    EXPECT_TRUE(std::isinf(lever_force_for(made::bike(), End::front, made::brake(), 0, 100)));
}

TEST(Hysteresis, HoldingNeedsLessThanReachingAndTheGapIsTwiceTheLoss) {
    const parts::Bike b = made::bike();
    BrakeUnknowns u = made::brake();
    u.loss = 0.3;
    const double up = lever_force_for(b, End::front, u, 0.4, 200), down = release_force_for(b, End::front, u, 0.4, 200);
    EXPECT_LT(down, up);
    EXPECT_NEAR(std::log((up - u.threshold_N) / (down - u.threshold_N)), 0.6, 1e-12);
}

TEST(Travel, TheLeverMeetsTheBarAtTheForceThatUsesUpTheBitePoint) {
    const parts::Lever lever = made::hydraulic_wheel().lever;
    const double force = lever_force_at_bar(lever, made::brake());
    EXPECT_NEAR(lever_distance_mm(lever, made::brake(), force), 0, 1e-9);
    EXPECT_GT(lever_distance_mm(lever, made::brake(), 0.9 * force), 0);
}

TEST(Travel, AtAHundredNewtonsTheGiveIsItsRow) { EXPECT_NEAR(give_mm(made::brake(), 100), 9, 1e-12); }

TEST(Travel, AnyForceMeetsTheBarWhereThePadsDoNotTouch) {
    parts::Lever lever = made::hydraulic_wheel().lever;
    lever.bite_mm.value = 0;
    EXPECT_EQ(lever_force_at_bar(lever, made::brake()), 0);
}

TEST(Travel, OnTheWayBackTheLeverStandsNearerToTheBarAndMeetsTheWayInAtBothEnds) {
    const BrakeUnknowns b = made::brake();
    const parts::Lever lever = made::hydraulic_wheel().lever;
    EXPECT_DOUBLE_EQ(lever_distance_back_mm(lever, b, 100, 100), lever_distance_mm(lever, b, 100)) << "not let go yet";
    EXPECT_DOUBLE_EQ(lever_distance_back_mm(lever, b, 0, 100), lever_distance_mm(lever, b, 0)) << "all let go";
    for (double f = 20; f < 95; f += 5) EXPECT_LE(lever_distance_back_mm(lever, b, f, 100), lever_distance_mm(lever, b, f)) << f;
    // The clamp of a falling force f is that of the rising one t + (f - t) exp(2 loss), by hand: 50 N, threshold 6 N, loss 0.07.
    BrakeUnknowns hand = b;
    hand.threshold_N = 6, hand.loss = 0.07;
    EXPECT_NEAR(lever_distance_back_mm(lever, hand, 50, 100), lever_distance_mm(lever, hand, 56.6120), 1e-4);
}

TEST(Travel, WorkIntoTheLeverIsWorkAtThePadsWithoutLosses) {
    // clamp force x (gap of both pads) = lever force x lever travel, in an ideal brake.
    const parts::Bike b = made::bike();
    BrakeUnknowns u = made::brake();
    u.loss = u.threshold_N = 0;
    double clamp = 0;
    for (const auto& s : chain(b, End::front, u, 0.4, 100))
        if (s.stage == "pressure to clamp force") clamp = s.out;
    EXPECT_NEAR(clamp * 2 * 0.1, 100 * travel_per_pad_gap(b.front) * 0.1, 1e-9);
}

}  // namespace
}  // namespace bw::stop
