// SPDX-License-Identifier: Apache-2.0
// Closed forms of heat conduction that several tests use. Written from the textbook, without code or constants of src/.
#pragma once
#include <cmath>
#include <numbers>

namespace bw::heat::test {

//! Slab insulated at x = 0, flux q_W_m2 at x = depth_m from t = 0 on: rise [K].
//! Source: H. S. Carslaw, J. C. Jaeger, Conduction of Heat in Solids, 2nd ed. 1959, section 3.8 (3); form from memory.
inline double slab_rise_dK(double q_W_m2, double k_W_mK, double rho_c_J_m3K, double depth_m, double t_s, double x_over_depth) {
    constexpr double pi = std::numbers::pi;
    const double fo = k_W_mK / rho_c_J_m3K * t_s / (depth_m * depth_m), x = x_over_depth;
    double sum = 0;
    for (int n = 1; n < 400; ++n) sum += (n % 2 ? -1.0 : 1.0) / (n * n) * std::exp(-n * n * pi * pi * fo) * std::cos(n * pi * x);
    return q_W_m2 * t_s / (rho_c_J_m3K * depth_m) + q_W_m2 * depth_m / k_W_mK * ((3 * x * x - 1) / 6 - 2 / (pi * pi) * sum);
}

//! Properties that vary, exactly: if k = k0 (1 + beta T) and c = c0 (1 + beta T), T above the start at 0 degC, then
//! theta = T + beta T^2/2 (Kirchhoff) obeys the linear equation with k0 and c0 and the same flux, so T follows from the linear rise.
inline double temperature_of_kirchhoff_degC(double theta, double beta_per_K) { return (std::sqrt(1 + 2 * beta_per_K * theta) - 1) / beta_per_K; }

}  // namespace bw::heat::test
