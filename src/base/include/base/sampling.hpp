// SPDX-License-Identifier: Apache-2.0
// Likely cases: even columns, shifted Sobol points, and a counter-based generator.                        Layer: base
#pragma once
#include <cstddef>
#include <cstdint>
#include <string_view>
#include <vector>

namespace bw {

//! n draws of one uniform input, each strictly inside (0, 1), evenly spread: of the first 2^k rows, for every k, one lies
//! in each of the 2^k equal slices of (0, 1). Which row takes which slice is a random order of the key's own, so columns
//! of unlike keys are unrelated (their correlation is that of chance, about 1/sqrt(n)). The first rows of a longer column
//! are the shorter one. n <= 2^32; a power of two makes every slice of the column full.
//! Source: Latin hypercube, M. D. McKay, R. J. Beckman, W. J. Conover, Technometrics 21 (1979) 239-245; nested by halving
//! the slices, each new row in a half that is still empty, P. Z. G. Qian, Biometrika 96 (2009) 957-970 (both from memory).
std::vector<double> even_column(std::size_t n, std::uint64_t key);

//! For functions of few inputs that are integrated; in many dimensions pairs of columns are not independent at a few thousand
//! points, whatever the shift (decision 1). n points of [0,1)^dims, row-major [n][dims], each strictly inside (0, 1).
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
