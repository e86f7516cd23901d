// SPDX-License-Identifier: Apache-2.0
#include "base/sampling.hpp"

#include <gtest/gtest.h>

#include <algorithm>
#include <boost/math/distributions/normal.hpp>
#include <cmath>
#include <string>
#include <vector>

#include "base/cases.hpp"
#include "base/context.hpp"
#include "base/sensitivity.hpp"

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

TEST(EvenColumn, PutsOneRowIntoEachOfItsEqualSlicesAtEveryPowerOfTwo) {
    // The defining property of a Latin hypercube in each coordinate, for every block of first rows.
    for (const std::uint64_t key : {1ULL, 2ULL, 0xFFFFFFFFFFFFFFFFULL}) {
        const std::vector<double> u = even_column(4096, key);
        for (std::size_t n = 1; n <= u.size(); n *= 2) {
            std::vector<int> slice(n, 0);
            for (std::size_t i = 0; i < n; ++i) ++slice[static_cast<std::size_t>(u[i] * static_cast<double>(n))];
            EXPECT_TRUE(std::all_of(slice.begin(), slice.end(), [](int c) { return c == 1; })) << n << " rows of key " << key;
        }
        EXPECT_GT(*std::min_element(u.begin(), u.end()), 0);
        EXPECT_LT(*std::max_element(u.begin(), u.end()), 1);
    }
}

TEST(EvenColumn, OfAnyLengthBeginsWithTheShorterOneAndIsOfItsKeyAlone) {
    const std::vector<double> longer = even_column(1000, 3);
    for (const std::size_t n : {0, 1, 2, 63, 64, 65, 999}) EXPECT_TRUE(std::ranges::equal(even_column(n, 3), std::span(longer).first(n))) << n;
    EXPECT_NE(even_column(64, 1), even_column(64, 2));
}

TEST(EvenColumn, FillsItsSlicesEvenlyInside) {
    // Where a row lies inside its slice is uniform: Pearson's chi squared of ten equal parts, 16,384 rows; the 0.1 % point of nine degrees of freedom is 27.9.
    const std::size_t n = 16384;
    const std::vector<double> u = even_column(n, 9);
    std::vector<double> part(10, 0);
    for (const double x : u) ++part[static_cast<std::size_t>(std::fmod(x * static_cast<double>(n), 1.0) * 10)];
    double chi2 = 0;
    for (const double k : part) chi2 += (k - n / 10.0) * (k - n / 10.0) / (n / 10.0);
    EXPECT_LT(chi2, 27.9);
}

namespace {
// Standard normals of `dims` inputs, as the rooms' own are drawn.
Cases unrelated(std::size_t dims, std::size_t n, std::uint64_t seed) {
    std::vector<Input> list;
    for (std::size_t d = 0; d < dims; ++d) list.push_back({.key = "front.of." + std::to_string(d), .unit = "", .value = {.value = 1, .sd = 0.2}});
    return draw_cases(list, n, seed);
}
double correlation(std::span<const double> x, std::span<const double> y) {
    double mx = 0, my = 0, xx = 0, yy = 0, xy = 0;
    for (std::size_t i = 0; i < x.size(); ++i) mx += x[i] / static_cast<double>(x.size()), my += y[i] / static_cast<double>(x.size());
    for (std::size_t i = 0; i < x.size(); ++i) xx += (x[i] - mx) * (x[i] - mx), yy += (y[i] - my) * (y[i] - my), xy += (x[i] - mx) * (y[i] - my);
    return xy / std::sqrt(xx * yy);
}
}  // namespace

TEST(LikelyCases, AreUnrelatedInEveryPairOfInputs) {
    // Of independent columns the mean squared correlation is 1/(n - 1), and of 8,385 pairs of n rows about one lies beyond 4.0/sqrt(n).
    const std::size_t dims = 130;
    for (const std::size_t n : {64, 1024}) {
        const Cases cases = unrelated(dims, n, 1);
        double squares = 0, worst = 0;
        for (std::size_t a = 0; a < dims; ++a)
            for (std::size_t b = a + 1; b < dims; ++b) {
                const double r = correlation(cases.column(cases.inputs()[a].key), cases.column(cases.inputs()[b].key));
                squares += r * r;
                worst = std::max(worst, std::abs(r));
            }
        const double pairs = dims * (dims - 1) / 2.0, rows = static_cast<double>(n);
        // Five standard errors of sqrt(2/8385). Rows that halve the same first slices are tied to each other by more than 1/(n - 1), in every
        // column alike: rows 0 and 1 by -2/pi, whose square alone adds 0.8/64 and all of them about 6/n.
        EXPECT_NEAR(squares / pairs * (rows - 1), 1 + 6 / rows, 0.08) << n << " rows";
        EXPECT_LT(worst, 4.8 / std::sqrt(rows)) << n << " rows";                // beyond it 0.013 of a pair
    }
}

TEST(LikelyCases, AnInputThatDoesNotEnterHasNoShareAndSharesOfASumAddUpToOne) {
    // y = 3 a + 2 b + c of unit normals' logs: shares 9/14, 4/14, 1/14 by the variances; 127 inputs do not enter.
    const std::size_t n = 1024;
    for (const std::uint64_t seed : {1, 2, 3}) {
        const Cases cases = unrelated(130, n, seed);
        std::vector<double> y(n);
        for (std::size_t i = 0; i < n; ++i) y[i] = 3 * std::log(cases.at("front.of.7", i)) + 2 * std::log(cases.at("front.of.80", i)) + std::log(cases.at("front.of.129", i));
        double of_strangers = 0, entered = 0;
        for (const Input& input : cases.inputs()) {
            const double share = first_order_share(cases.column(input.key), y);
            const bool enters = input.key == "front.of.7" || input.key == "front.of.80" || input.key == "front.of.129";
            (enters ? entered : of_strangers) = enters ? entered + share : std::max(of_strangers, share);
        }
        EXPECT_NEAR(entered, 1, 0.06) << "seed " << seed;
        EXPECT_LT(of_strangers, 0.04) << "seed " << seed;   // 32 slices of 32: noise of sd 0.008, the largest of 127 about 2.5 of them
    }
}

TEST(LikelyCases, KeepTheirDrawsWhenAnInputIsAddedOrLeftOut) {
    const Uncertain v{.value = 10, .sd = 3};
    const Cases a = draw_cases({{"a", "", v}, {"b", "", v}}, 128, 5), b = draw_cases({{"new", "", v}, {"b", "", v}}, 128, 5);
    EXPECT_TRUE(std::ranges::equal(a.column("b"), b.column("b")));
}

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
