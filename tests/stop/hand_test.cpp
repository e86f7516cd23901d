// SPDX-License-Identifier: Apache-2.0
// What this hand can give.
#include "stop/hand.hpp"

#include <gtest/gtest.h>

#include "made_bike.hpp"

namespace bw::stop {
namespace {

const parts::Hand hand{.size_cm = made::exactly(20), .strength_N = made::exactly(400)};

TEST(Hand, AtTheBestSpanTheFingersGiveTheirShare) {
    EXPECT_NEAR(hand_force_N(hand, made::unknowns(), 55 - 32, HandState::warm), 400 * 0.57, 1e-9);
}

TEST(Hand, ALeverFarFromTheBarTakesForceAway) {
    double last = 1e9;
    for (const double mm : {25.0, 35.0, 45.0, 60.0}) {
        const double force = hand_force_N(hand, made::unknowns(), mm, HandState::warm);
        EXPECT_LT(force, last);
        last = force;
    }
}

TEST(Hand, ColdAndGlovesEachTakeForceAway) {
    const StopUnknowns u = made::unknowns();
    const auto at = [&](HandState s) { return hand_force_N(hand, u, 40, s); };
    EXPECT_NEAR(at(HandState::cold) / at(HandState::warm), 0.72, 1e-12);
    EXPECT_NEAR(at(HandState::gloves) / at(HandState::warm), 0.87, 1e-12);
    EXPECT_NEAR(at(HandState::cold_and_gloves) / at(HandState::warm), 0.72 * 0.87, 1e-12);
}

TEST(Hand, HalfTheForceIsKeptAtAnySpan) {
    EXPECT_NEAR(hand_force_N(hand, made::unknowns(), 500, HandState::warm), 200 * 0.57, 1e-9);
}

TEST(Hand, AHarderSqueezeLastsShorter) {
    EXPECT_GT(endurance_min(0.2), endurance_min(0.4));
    EXPECT_GT(endurance_min(0.4), endurance_min(0.9));
}

}  // namespace
}  // namespace bw::stop
