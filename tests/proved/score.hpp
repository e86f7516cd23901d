// SPDX-License-Identifier: Apache-2.0
// Shares with their standard errors, and the middle half of an interval of which only three points are given.   Layer: tests/proved
// Source: the ratio estimator of cluster sampling, Cochran, Sampling Techniques (from memory).
// Pure functions: any thread.
#pragma once
#include <array>
#include <cmath>
#include <map>
#include <string>

namespace proved {

//! A share of items that come in bikes; items of one bike may go together.
struct Share {
  std::map<std::string, std::array<double, 2>> bikes;   // hits, items
  void add(const std::string& bike, bool hit) {
    auto& [hits, items] = bikes[bike];
    hits += hit ? 1 : 0;
    items += 1;
  }
  double items() const {
    double n = 0;
    for (const auto& [bike, x] : bikes) n += x[1];
    return n;
  }
  double value() const {
    double hits = 0;
    for (const auto& [bike, x] : bikes) hits += x[0];
    return hits / items();
  }
  //! Bikes are independent; with one item a bike it is the binomial sqrt(p (1 - p) / n).
  double standard_error() const {
    const double p = value();
    double squares = 0;
    for (const auto& [bike, x] : bikes) squares += (x[0] - p * x[1]) * (x[0] - p * x[1]);
    return std::sqrt(squares) / items();
  }
};

//! 25 and 75 % from 5, 50 and 95 %: straight in the normal score in the logarithm on each side, exact for a lognormal. All > 0.
inline std::array<double, 2> middle_half(double p05, double p50, double p95) {
  constexpr double part = 0.67448975 / 1.64485363;
  return {p50 * std::pow(p05 / p50, part), p50 * std::pow(p95 / p50, part)};
}

}  // namespace proved
