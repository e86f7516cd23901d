// SPDX-License-Identifier: Apache-2.0
// Likely cases: digitally shifted Sobol points, and a counter-based generator for what belongs to one ride.  Layer: base
#pragma once
#include <cstddef>
#include <cstdint>
#include <string_view>
#include <vector>

namespace bw {

//! n points of [0,1)^dims, row-major [n][dims], each strictly inside (0, 1).
//! The first n points (the origin included) of the unscrambled Sobol sequence, every coordinate XOR-ed with its own
//! 52-bit shift drawn from `seed`; n should be a power of two (a whole block). dims <= 3667.
//! Source: Sobol 1967; direction numbers of Joe & Kuo 2008 as shipped by Boost.Random.
std::vector<double> shifted_sobol(std::size_t n, std::size_t dims, std::uint64_t seed);

//! Inverse of the standard normal distribution; 0 < u < 1. Boost.Math (erfc_inv).
double normal_quantile(double u);
//! Standard normal distribution function.
double normal_cdf(double z);

//! One 64-bit word mixed from four keys; any two different keys give independent-looking words (SplitMix64 finaliser).
std::uint64_t mix(std::uint64_t a, std::uint64_t b, std::uint64_t c, std::uint64_t d);

//! Uniform in (0, 1), a pure function of (seed, key, index, stream): the same on every machine and thread.
double uniform_of(std::uint64_t seed, std::uint64_t key, std::uint64_t index, std::uint64_t stream);
//! Standard normal, a pure function of its keys.
double normal_of(std::uint64_t seed, std::uint64_t key, std::uint64_t index, std::uint64_t stream);

//! FNV-1a, 64 bits: for keys of the generator above, not for security.
std::uint64_t hash_of(std::string_view bytes);

}  // namespace bw
