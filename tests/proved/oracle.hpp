// SPDX-License-Identifier: Apache-2.0
// What a person who knows the simulator's law and spreads, but not the truth, makes of the same papers.   Layer: tests/proved
// Theory: maximum a posteriori by Gauss-Newton, normal posterior in the logarithm of the gain; README.md.
// Pure functions: any thread.
#pragma once
#include <array>
#include <optional>

#include "stops.hpp"

namespace proved {

struct Known {
  double log_gain, log_sd;    // of the gain on the day in question
  bool weighed;               // false: no scaled stop, only what such bikes have
  bool alarm;                 // more likely at 0.6 than at 1 of the gain of the earlier days
};
//! Reads only c.rows without their truth, the kind, parts and told mass of the bike.
Known oracle(const Case& c, int wheel);
//! p05, p25, p50, p75, p95.
std::array<double, 5> quantiles(const Known&);

}  // namespace proved
