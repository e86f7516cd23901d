// SPDX-License-Identifier: Apache-2.0
// Quantiles and the interval that every answer carries.                    Layer: base
#pragma once
#include <span>
#include <vector>

namespace bw {

//! 5, 50 and 95 % points of a distribution, in the unit of the quantity.
struct Interval {
    double p05 = 0, p50 = 0, p95 = 0;
    bool operator==(const Interval&) const = default;
};

//! Quantile of a sample, p in [0, 1]: linear between order statistics (definition 7 of Hyndman & Fan, Am. Stat. 50, 1996).
//! values: [n], n >= 1, any order, no NaN.
double quantile(std::span<const double> values, double p);

//! Weighted quantile: order statistics at the mid-points of the cumulated weights, linear between, constant beyond.
//! values, weights: [n], weights >= 0 with a positive sum.
double quantile(std::span<const double> values, std::span<const double> weights, double p);

Interval interval_of(std::span<const double> values);
Interval interval_of(std::span<const double> values, std::span<const double> weights);

//! Arithmetic mean; n >= 1.
double mean_of(std::span<const double> values);
//! Standard deviation about the mean with divisor n - 1; 0 for n = 1.
double sd_of(std::span<const double> values);

//! First-order share of the variance of y that x explains, 0..1: variance between the means of 32 equal slices of x, less
//! what slicing noise alone would give. For ranking inputs; good to about 0.015 at n = 4,096. 0 if x or y does not vary.
//! y: [n], n >= 1024. x: [n], or [n / m] where each stands for m of y in a row.   Source: Sobol' 1993 (the index); estimated from the given sample.
double first_order_share(std::span<const double> x, std::span<const double> y);

//! Linear interpolation of y over increasing x; constant beyond the ends. x, y: [n], n >= 1.
double interpolate(std::span<const double> x, std::span<const double> y, double at);

}  // namespace bw
