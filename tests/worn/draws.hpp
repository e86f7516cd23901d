// SPDX-License-Identifier: Apache-2.0
// Seeded draws that are the same bytes with every library: splitmix64 and Box-Muller.   Layer: tests/worn
// Source: Steele, Lea, Flood, "Fast splittable pseudorandom number generators", OOPSLA 2014 (from memory).
// One thread per object.
#pragma once
#include <cmath>
#include <cstdint>
#include <numbers>

namespace worn {

struct Draws {
  std::uint64_t state;
  explicit Draws(std::uint64_t seed) : state(seed) { next(); }

  std::uint64_t next() {
    std::uint64_t z = (state += 0x9e3779b97f4a7c15ull);
    z = (z ^ (z >> 30)) * 0xbf58476d1ce4e5b9ull;
    z = (z ^ (z >> 27)) * 0x94d049bb133111ebull;
    return z ^ (z >> 31);
  }
  double uniform() { return (static_cast<double>(next() >> 11) + 0.5) * 0x1p-53; }   // inside (0, 1)
  double uniform(double low, double high) { return low + (high - low) * uniform(); }
  double normal() {
    const double r = std::sqrt(-2 * std::log(uniform()));
    return r * std::cos(2 * std::numbers::pi * uniform());
  }
  double scatter(double log_sd) { return std::exp(log_sd * normal()); }               // median 1
  bool chance(double p) { return uniform() < p; }
};

//! A seed for a part of what SEED makes; parts do not share draws.
inline std::uint64_t part_of(std::uint64_t seed, std::uint64_t part) {
  Draws d(seed * 0x100000001b3ull + part * 0x9e3779b1ull + 0x51ed27ull);
  return d.next();
}

}  // namespace worn
