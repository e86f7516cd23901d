// SPDX-License-Identifier: Apache-2.0
// Even columns, shifted Sobol points, counter-based numbers, normal distribution.                         Layer: base
#include "base/sampling.hpp"

#include <boost/math/special_functions/erf.hpp>
#include <boost/random/sobol.hpp>
#include <bit>
#include <cmath>
#include <numbers>
#include <utility>

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

std::vector<double> even_column(std::size_t n, std::uint64_t key) {
    constexpr int bits = 52;
    std::vector<std::uint64_t> place;   // of each row in [0, 2^52)
    if (n == 0) return {};
    place.reserve(std::bit_ceil(n));
    place.push_back(mix(key, 0, 0, 0xE7E9) >> (64 - bits));
    std::vector<char> taken;
    std::vector<std::uint64_t> free;
    for (int level = 1; place.size() < n; ++level) {   // twice as many cells, half of them taken
        const int below = bits - level;
        taken.assign(std::size_t{1} << level, 0);
        for (const std::uint64_t p : place) taken[p >> below] = 1;
        free.clear();
        for (std::uint64_t cell = 0; cell < taken.size(); ++cell)
            if (!taken[cell]) free.push_back(cell);
        for (std::size_t left = free.size(); left > 0; --left) {   // Fisher and Yates; the bias of the remainder is under 2^-40
            const std::uint64_t row = place.size();
            std::swap(free[left - 1], free[mix(key, row, 1, 0xE7E9) % left]);
            place.push_back((free[left - 1] << below) | ((mix(key, row, 2, 0xE7E9) >> (64 - bits)) & ((std::uint64_t{1} << below) - 1)));
        }
    }
    std::vector<double> u(n);
    for (std::size_t i = 0; i < n; ++i) u[i] = (static_cast<double>(place[i]) + 0.5) * 0x1p-52;
    return u;
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
