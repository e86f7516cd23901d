// SPDX-License-Identifier: Apache-2.0
// Uncertainty and guard bands: identities. Outside figures: tests/validation/inspect_validation_test.cpp.
#include "inspect/reading.hpp"

#include <gtest/gtest.h>
#include <cmath>
#include <limits>

using namespace bw::inspect;

TEST(Uncertainty, RepeatsReduceTheScatterButNotTheInstrument) {
    const Instrument once{.resolution = 0.01, .permitted_error = 0.02, .repeat_sd = 0.03, .repeats = 1};
    Instrument often = once;
    often.repeats = 1000000;
    const Instrument perfect_hand{.resolution = 0.01, .permitted_error = 0.02};
    EXPECT_LT(standard_uncertainty(often), standard_uncertainty(once));
    // 0.03/1000 of scatter is left beside 0.0119: 0.04 %.
    EXPECT_NEAR(standard_uncertainty(often), standard_uncertainty(perfect_hand), 1e-3 * standard_uncertainty(perfect_hand));
}

TEST(Uncertainty, FrictionIsTotalLessPlateAndTheirUncertaintiesAdd) {
    const Reading friction = friction_of_total({.value = 4.0, .uncertainty = 0.03}, {.value = 1.9, .uncertainty = 0.04}, Plate::assumed);
    EXPECT_NEAR(friction.value, 2.1, 1e-12);
    EXPECT_NEAR(friction.uncertainty, 0.05, 1e-12);   // 3-4-5
    EXPECT_EQ(friction.plate, Plate::assumed);
}

TEST(GuardBand, AReadingAtTheGuardedLimitHasJustTheRiskThatWasAsked) {
    for (const double u : {0.001, 0.02, 0.3})
        for (const double risk : {0.005, 0.05, 0.2})
            EXPECT_NEAR(probability_below(1.5, guarded_limit(1.5, u, risk), u), risk, 1e-10);   // inverse functions: rounding
}

TEST(GuardBand, WithoutUncertaintyItIsAStepAtTheLimitWhichCountsAsPast) {
    EXPECT_EQ(probability_below(1.5, 1.5, 0), 1);
    EXPECT_EQ(probability_below(1.5, std::nextafter(1.5, 2.0), 0), 0);
}

TEST(GuardBand, ANumberThatIsNoneClearsNothing) {
    const double none = std::numeric_limits<double>::quiet_NaN();
    EXPECT_EQ(probability_below(none, 2, 0.1), 1);
    EXPECT_EQ(probability_below(1, none, 0.1), 1);
    EXPECT_EQ(probability_below(1, 2, none), 1);
}
