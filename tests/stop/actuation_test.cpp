// SPDX-License-Identifier: Apache-2.0
// From the finger to the road: chain, losses, travel.
#include "stop/actuation.hpp"

#include <gtest/gtest.h>

#include <cmath>
#include <limits>

#include "made_bike.hpp"
#include "stop/feel.hpp"

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

parts::Bike changing(double at_rest, double at_bar) {
    parts::Bike b = made::bike();
    for (parts::Wheel* w : {&b.front, &b.rear}) w->lever.ratio = made::exactly(at_rest), w->lever.ratio_at_bar = made::exactly(at_bar);
    return b;
}

TEST(ChangingRatio, TheSameRatioAtBothEndsIsOneRatio) {
    const parts::Bike one = made::bike(), both = changing(5, 5);
    const BrakeUnknowns u = made::brake();
    for (const double f : {3.0, 20.0, 90.0, 250.0}) {
        EXPECT_NEAR(tyre_force_from(both, End::front, u, 0.4, f), tyre_force_from(one, End::front, u, 0.4, f), 1e-9);
        EXPECT_NEAR(lever_force_for(both, End::front, u, 0.4, 3 * f), lever_force_for(one, End::front, u, 0.4, 3 * f), 1e-9);
        EXPECT_NEAR(lever_distance_mm(both.front.lever, u, f), lever_distance_mm(one.front.lever, u, f), 1e-9);
        EXPECT_NEAR(left_to_bar_mm(both.front.lever, u, f), left_to_bar_mm(one.front.lever, u, f), 1e-9);
    }
    EXPECT_NEAR(lever_force_at_bar(both.front.lever, u), lever_force_at_bar(one.front.lever, u), 1e-9);
    EXPECT_NEAR(travel_of_gap_mm(both.front, 0.1), travel_of_gap_mm(one.front, 0.1), 1e-12);
}

TEST(ChangingRatio, TheForceIsThatOfThePlaceWhereTheLeverThenStands) {
    const parts::Bike b = changing(4, 8);
    const BrakeUnknowns u = made::brake();
    double before = 0;
    for (const double f : {10.0, 40.0, 80.0, 160.0}) {
        const double distance_mm = lever_distance_mm(b.front.lever, u, f), ratio = 8 - 4 * distance_mm / 70;   // reach 70 mm
        parts::Bike fixed = made::bike();
        fixed.front.lever.ratio.value = ratio;
        EXPECT_NEAR(tyre_force_from(b, End::front, u, 0.4, f), tyre_force_from(fixed, End::front, u, 0.4, f), 1e-7) << f;
        EXPECT_NEAR(chain(b, End::front, u, 0.4, f).back().out, tyre_force_from(b, End::front, u, 0.4, f), 1e-9);
        EXPECT_NEAR(lever_force_for(b, End::front, u, 0.4, tyre_force_from(b, End::front, u, 0.4, f)), f, 1e-7);
        EXPECT_GT(ratio, before) << "more leverage towards the bar";
        before = ratio;
    }
    EXPECT_EQ(tyre_force_from(b, End::front, u, 0.4, 5.9), 0);
    EXPECT_TRUE(std::isinf(lever_force_for(b, End::front, u, 0, 100)));
}

TEST(ChangingRatio, TheLeverMeetsTheBarAtTheForceThatUsesUpTheBitePoint) {
    for (const double at_bar : {2.0, 12.0}) {
        const parts::Lever lever = changing(5, at_bar).front.lever;
        const double force = lever_force_at_bar(lever, made::brake());
        EXPECT_NEAR(lever_distance_mm(lever, made::brake(), force), 0, 1e-7);
        EXPECT_GT(lever_distance_mm(lever, made::brake(), 0.9 * force), 0);
        EXPECT_LT(lever_distance_mm(lever, made::brake(), 1.1 * force), 0);
        EXPECT_EQ(lever_distance_mm(lever, made::brake(), std::numeric_limits<double>::infinity()), -std::numeric_limits<double>::infinity());
    }
    parts::Lever no_bite = changing(5, 8).front.lever;
    no_bite.bite_mm.value = 0;
    EXPECT_EQ(lever_force_at_bar(no_bite, made::brake()), 0);
}

TEST(ChangingRatio, AGainOfLeverageTowardsTheBarCostsMoreLeverForTheSameWornPad) {
    // The pads' way is the same; where the ratio grows towards the bar each millimetre of them takes more of the lever.
    parts::Wheel w = changing(4, 8).front;
    EXPECT_GT(travel_of_gap_mm(w, 0.3), 0.3 * travel_per_pad_gap(w));
    w = changing(8, 4).front;
    EXPECT_LT(travel_of_gap_mm(w, 0.3), 0.3 * travel_per_pad_gap(w));
}

TEST(ChangingRatio, TheGapOfThePadsIsPaidForBeforeTheBiteAndKnockBackAfterIt) {
    // A bite further out by the first is where the lever would stand with no gap: from there the same gap leads inwards to this bite.
    for (const auto& [at_rest, at_bar] : {std::pair{4.0, 8.0}, {8.0, 4.0}}) {
        parts::Wheel w = changing(at_rest, at_bar).front;
        const double before_mm = travel_to_bite_mm(w, 0.2), after_mm = travel_of_knock_mm(w, 0.2);
        EXPECT_GT((after_mm - before_mm) * (at_bar - at_rest), 0) << "less way where the ratio is smaller";
        w.lever.bite_mm.value += before_mm;
        EXPECT_NEAR(travel_of_gap_mm(w, 0.2), before_mm, 1e-9);
    }
    EXPECT_DOUBLE_EQ(travel_to_bite_mm(made::bike().front, 0.2), travel_of_knock_mm(made::bike().front, 0.2));
    // Further out than the lever rests the ratio goes on as at rest.
    parts::Wheel w = changing(4, 8).front;
    w.lever.bite_mm.value = w.lever.reach_mm.value;
    EXPECT_NEAR(travel_to_bite_mm(w, 0.2), 0.2 * travel_per_pad_gap(w), 1e-9);
}

TEST(ChangingRatio, WhatIsLeftToTheBarIsWhatABiteNearerToItUsesUp) {
    // Move the bite in by what is left: the lever then meets the bar at the force of the same clamp force.
    for (const double at_bar : {2.5, 11.0}) {
        parts::Bike b = changing(5, at_bar);
        const BrakeUnknowns u = made::brake();
        const double force = 0.3 * lever_force_at_bar(b.front.lever, u), tyre_N = tyre_force_from(b, End::front, u, 0.4, force);
        const double left = left_to_bar_mm(b.front.lever, u, force);
        ASSERT_GT(left, 0);
        const double gap = left / travel_per_pad_gap(b.front);
        b.front.lever.bite_mm.value -= travel_of_gap_mm(b.front, gap);
        EXPECT_NEAR(lever_distance_mm(b.front.lever, u, lever_force_for(b, End::front, u, 0.4, tyre_N)), 0, 1e-6) << at_bar;
    }
    EXPECT_EQ(left_to_bar_mm(changing(5, 8).front.lever, made::brake(), 1e5), 0);
}

}  // namespace
}  // namespace bw::stop
