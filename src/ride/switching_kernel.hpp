// SPDX-License-Identifier: Apache-2.0
// The laws of riding that the switching filter follows, and the shape of its vector code.                  Layer: ride
// Theory: docs/models/motion.md [EQ motion-9..12, 18].
#pragma once
#include <array>
#include <cstddef>
#include <cstdint>
#include <span>

#include "motion_parts.hpp"

namespace bw::ride::internal::switching {

// State: distance, speed, altitude, gradient, altitude error, u = (rider - brake) / effective mass over the second that ends
// here, the wind over the land in two components, and the pace of the altitude error.
constexpr int N = 9;
enum : int { D = 0, V = 1, Z = 2, G = 3, B = 4, U = 5, E = 6, S = 7, R = 8 };
constexpr int cov_n = N * (N + 1) / 2;   // lower triangle, row by row
constexpr int at(int r, int c) { return r >= c ? r * (r + 1) / 2 + c : c * (c + 1) / 2 + r; }

constexpr std::size_t modes = 5;   // in the order of enum class Mode, without standing
enum : std::size_t { coast = 0, pedal = 1, hard = 2, drag = 3, sprint = 4 };
constexpr bool is_brake(std::size_t m) { return m == hard || m == drag; }
using Odds = std::array<double, modes>;

constexpr double negligible = 1e-5;   // prior odds below which a branch is not followed
// Chance to stay and where to if not, per second: coasting, pedalling, braking hard, dragging, sprinting.
constexpr Odds after_standing = {0.09, 0.82, 0.03, 0.03, 0.03};
constexpr std::array<Odds, modes> usual = {{{0.87, 0.068, 0.03, 0.03, 0.002},
                                            {0.035, 0.926, 0.020, 0.015, 0.004},
                                            {0.15, 0.05, 0.70, 0.10, 0.0},
                                            {0.025, 0.005, 0.02, 0.95, 0.0},
                                            {0.10, 0.20, 0.01, 0.0, 0.69}}};
// Steep and fast downhill hardly anybody pedals.
constexpr std::array<Odds, modes> downhill = {{{0.90, 0.019, 0.04, 0.04, 0.001},
                                               {0.10, 0.798, 0.05, 0.05, 0.002},
                                               {0.15, 0.01, 0.70, 0.14, 0.0},
                                               {0.025, 0.002, 0.023, 0.95, 0.0},
                                               {0.10, 0.20, 0.01, 0.0, 0.69}}};
// Inside a gap nothing tells pedalling from braking: one force of either sign.   [EQ motion-8]
constexpr Odds after_unseen = {0.25, 0.55, 0.04, 0.15, 0.01};

// How often legs that turn drive nothing (soft pedalling, turning on while braking), on the flat and steep downhill, and how often legs
// that are said to rest drive: counted on recordings with a meter, per second, taken more careful since such seconds follow each
// other.   [EQ motion-18]
constexpr double turning_in_vain = 0.1, turning_in_vain_downhill = 0.5, driving_unseen = 0.03, driving_W = 25;

//! Law of u in a mode: a first-order process of this mean, spread and memory a second; the mean and sd of pedalling are watts.
struct Riding {
    double mean, sd, memory;
};
constexpr std::array<Riding, modes> riding = {{{0, 0.02, 0.95}, {140, 90, 0.9}, {-1.5, 1.4, 0.5}, {-0.5, 0.4, 0.995}, {450, 300, 0.8}}};
constexpr double motor_sd_W = 220;
constexpr Riding unseen = {0, 0.4, 0.95};
constexpr double rest_var = 4e-4;   // of u at a standstill

constexpr std::size_t widest = 8;   // paths side by side

//! What paths that go side by side draw with: uniform(stream) = uniform_of(seed, ride, keys[lane], stream).
struct Draws {
    std::uint64_t seed = 0, ride = 0;
    std::span<const std::size_t> keys;
};

//! One draw from N(mean, cov), cov [N][N], by a factorisation that bears covariances without full rank; z: standard normals [N].
void gaussian_draw(const double* mean, const double* cov, const double* z, double* x);

//! Runs up to `lanes` filters side by side; draws null: the forward pass alone. ways: one for all, or one each with the same seconds
//! (go_together).
struct Kernel {
    const char* name;
    std::size_t lanes;
    void (*run)(std::span<const Switching* const> ways, std::span<const Forces> own, const Draws* draws, std::span<SwitchedPath> out);
};
//! Whether both have the same seconds: those that stand or are bridged or have a meter, and the kinds of their readings.
bool go_together(const Switching& a, const Switching& b);

//! Those that this machine can run, widest first.
std::span<const Kernel> kernels();

}  // namespace bw::ride::internal::switching
