// SPDX-License-Identifier: Apache-2.0
#include "base/interval.hpp"

#include <gtest/gtest.h>

using namespace bw;

TEST(Quantile, OfFiveOrderedValuesIsTheMiddleOne) {
    const std::vector<double> v = {9, 1, 5, 3, 7};
    EXPECT_EQ(quantile(v, 0.5), 5);
    EXPECT_EQ(quantile(v, 0), 1);
    EXPECT_EQ(quantile(v, 1), 9);
}

TEST(Quantile, FollowsDefinitionSevenOfHyndmanAndFan) {
    // Hyndman & Fan, Am. Stat. 50 (1996): p_k = (k - 1)/(n - 1). For 1..10 at 0.05: rank 0.45, value 1.45.
    std::vector<double> v;
    for (int i = 10; i >= 1; --i) v.push_back(i);
    EXPECT_NEAR(quantile(v, 0.05), 1.45, 1e-12);
    EXPECT_NEAR(interval_of(v).p95, 9.55, 1e-12);
}

TEST(WeightedQuantile, IgnoresWhatHasNoWeightAndFollowsTheHeavyOnes) {
    const std::vector<double> v = {1, 2, 3, 100};
    EXPECT_NEAR(quantile(v, std::vector<double>{1, 1, 1, 0}, 0.5), 2, 1e-12);
    EXPECT_GT(quantile(v, std::vector<double>{1, 1, 1, 30}, 0.5), 50);
}

TEST(Interpolate, IsLinearBetweenAndConstantBeyond) {
    const std::vector<double> x = {0, 1, 3}, y = {10, 20, 0};
    EXPECT_EQ(interpolate(x, y, -1), 10);
    EXPECT_EQ(interpolate(x, y, 0.5), 15);
    EXPECT_EQ(interpolate(x, y, 2), 10);
    EXPECT_EQ(interpolate(x, y, 9), 0);
}
