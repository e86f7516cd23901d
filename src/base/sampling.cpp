// SPDX-License-Identifier: Apache-2.0
// Sobol points with a digital shift, counter-based numbers, normal distribution.                          Layer: base
#include "base/sampling.hpp"

#include <boost/math/special_functions/erf.hpp>
#include <boost/random/sobol.hpp>
#include <cmath>
#include <numbers>

namespace bw {

namespace {

constexpr std::uint64_t golden = 0x9E3779B97F4A7C15ULL;

// SplitMix64 finaliser (Steele, Lea, Flood 2014): a bijection of 64-bit words.
constexpr std::uint64_t scramble(std::uint64_t x) {
    x = (x ^ (x >> 30)) * 0xBF58476D1CE4E5B9ULL;
    x = (x ^ (x >> 27)) * 0x94D049BB133111EBULL;
    return x ^ (x >> 31);
}

// The middle of one of 2^52 equal cells of (0, 1): exact in a double, never 0 or 1.
double to_open_unit(std::uint64_t word) { return (static_cast<double>(word >> 12) + 0.5) * 0x1p-52; }

}  // namespace

std::uint64_t mix(std::uint64_t a, std::uint64_t b, std::uint64_t c, std::uint64_t d) {
    std::uint64_t h = scramble(a + golden);
    h = scramble(h ^ scramble(b + 2 * golden));
    h = scramble(h ^ scramble(c + 3 * golden));
    return scramble(h ^ scramble(d + 4 * golden));
}

double uniform_of(std::uint64_t seed, std::uint64_t key, std::uint64_t index, std::uint64_t stream) {
    return to_open_unit(mix(seed, key, index, stream));
}

double normal_of(std::uint64_t seed, std::uint64_t key, std::uint64_t index, std::uint64_t stream) {
    return normal_quantile(uniform_of(seed, key, index, stream));
}

double normal_quantile(double u) { return -std::numbers::sqrt2 * boost::math::erfc_inv(2 * u); }

double normal_cdf(double z) { return 0.5 * std::erfc(-z / std::numbers::sqrt2); }

std::uint64_t hash_of(std::string_view bytes) {
    std::uint64_t h = 0xcbf29ce484222325ULL;
    for (const char c : bytes) h = (h ^ static_cast<unsigned char>(c)) * 0x100000001b3ULL;
    return h;
}

std::vector<double> shifted_sobol(std::size_t n, std::size_t dims, std::uint64_t seed) {
    std::vector<double> u(n * dims);
    if (n == 0 || dims == 0) return u;
    std::vector<std::uint64_t> shift(dims);
    for (std::size_t d = 0; d < dims; ++d) shift[d] = mix(seed, d, 0, 0x50B01);
    // Boost leaves the origin out; a block of 2^m points is a net only with it.
    for (std::size_t d = 0; d < dims; ++d) u[d] = to_open_unit(shift[d]);
    boost::random::sobol points(dims);
    for (std::size_t i = 1; i < n; ++i)
        for (std::size_t d = 0; d < dims; ++d) u[i * dims + d] = to_open_unit(points() ^ shift[d]);
    return u;
}

}  // namespace bw
