// SPDX-License-Identifier: Apache-2.0
#include "base/sampling.hpp"

#include <gtest/gtest.h>

#include <algorithm>
#include <boost/math/distributions/normal.hpp>
#include <cmath>
#include <vector>

#include "base/cases.hpp"
#include "base/context.hpp"

using namespace bw;

TEST(SobolPoints, AWholeBlockPutsOnePointIntoEachOfItsEqualSlicesInEveryDimension) {
    // The defining property of a (0, m, 1) net in every coordinate; a digital shift keeps it. Sobol 1967.
    const std::size_t n = 1024, dims = 90;
    const auto u = shifted_sobol(n, dims, 7);
    for (std::size_t d = 0; d < dims; ++d) {
        std::vector<int> slice(n, 0);
        for (std::size_t i = 0; i < n; ++i) ++slice[static_cast<std::size_t>(u[i * dims + d] * n)];
        EXPECT_TRUE(std::all_of(slice.begin(), slice.end(), [](int c) { return c == 1; })) << "dimension " << d;
    }
}

TEST(SobolPoints, TheFirstSixtyFourRowsOfALongerBlockAreTheShorterBlock) {
    const auto a = shifted_sobol(64, 5, 3), b = shifted_sobol(1024, 5, 3);
    EXPECT_TRUE(std::equal(a.begin(), a.end(), b.begin()));
}

TEST(SobolPoints, IntegrateASmoothFunctionOfEightVariablesToAThousandth) {
    // Product of (1 + (x - 1/2)/2): the integral over the unit cube is exactly 1.
    const std::size_t n = 4096, dims = 8;
    const auto u = shifted_sobol(n, dims, 1);
    double sum = 0;
    for (std::size_t i = 0; i < n; ++i) {
        double product = 1;
        for (std::size_t d = 0; d < dims; ++d) product *= 1 + (u[i * dims + d] - 0.5) / 2;
        sum += product;
    }
    EXPECT_NEAR(sum / n, 1.0, 1e-3);
}

TEST(SobolPoints, DifferByTheSeed) { EXPECT_NE(shifted_sobol(64, 2, 1), shifted_sobol(64, 2, 2)); }

TEST(Normal, QuantileAndDistributionAgreeWithBoostMath) {
    const boost::math::normal standard;
    for (double u = 1e-6; u < 1; u += 0.00137) {
        EXPECT_NEAR(normal_quantile(u), boost::math::quantile(standard, u), 1e-12 * (1 + std::abs(boost::math::quantile(standard, u))));
        EXPECT_NEAR(normal_cdf(normal_quantile(u)), u, 1e-14);
    }
}

TEST(CounterNumbers, HaveTheMeanAndSpreadOfAStandardNormal) {
    const int n = 20000;
    double sum = 0, squares = 0;
    for (int i = 0; i < n; ++i) {
        const double z = normal_of(1, 2, static_cast<std::uint64_t>(i), 3);
        sum += z;
        squares += z * z;
    }
    EXPECT_NEAR(sum / n, 0, 4 / std::sqrt(n));               // four standard errors
    EXPECT_NEAR(squares / n, 1, 4 * std::sqrt(2.0 / n));
}

TEST(CounterNumbers, DependOnEachKey) {
    const double base = uniform_of(1, 1, 1, 1);
    EXPECT_NE(base, uniform_of(2, 1, 1, 1));
    EXPECT_NE(base, uniform_of(1, 2, 1, 1));
    EXPECT_NE(base, uniform_of(1, 1, 2, 1));
    EXPECT_NE(base, uniform_of(1, 1, 1, 2));
}

TEST(LikelyCases, HaveTheMedianAndLogNormalSpreadOfTheirInput) {
    const Uncertain v{.value = 10, .sd = 3};
    const Cases cases = draw_cases({{.key = "x", .unit = "", .value = v}, {.key = "fixed", .unit = "", .value = {.value = 4}}}, 1024, 1);
    double logs = 0, squares = 0;
    for (const double x : cases.column("x")) {
        logs += std::log(x / 10);
        squares += std::log(x / 10) * std::log(x / 10);
    }
    EXPECT_NEAR(logs / 1024, 0, 0.005);
    EXPECT_NEAR(std::sqrt(squares / 1024), std::sqrt(std::log(1 + 0.09)), 0.005);
    for (const double x : cases.column("fixed")) EXPECT_EQ(x, 4);
}

TEST(LikelyCases, KeepTheirDrawsWhenAnotherInputBecomesKnown) {
    const Uncertain v{.value = 10, .sd = 3}, known{.value = 2};
    const Cases a = draw_cases({{"a", "", v}, {"b", "", v}, {"c", "", v}}, 256, 5);
    const Cases b = draw_cases({{"a", "", v}, {"b", "", known}, {"c", "", v}}, 256, 5);
    EXPECT_TRUE(std::ranges::equal(a.column("c"), b.column("c")));
    EXPECT_THROW((void)a.column("d"), std::logic_error);
}

TEST(ParallelFor, GivesTheSameNumbersOnOneAndOnThreeThreads) {
    const auto run = [](int threads) {
        Context ctx;
        ctx.threads = threads;
        std::vector<double> out(1000);
        parallel_for(ctx, out.size(), [&](std::size_t i) { out[i] = std::sin(static_cast<double>(i)); });
        return out;
    };
    EXPECT_EQ(run(1), run(3));
}
