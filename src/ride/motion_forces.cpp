// SPDX-License-Identifier: Apache-2.0
// Forces on a bicycle on the road, and the density of the air.                                            Layer: ride
// Theory: docs/models/motion.md [EQ motion-1..2], [EQ motion-17].
#include <cassert>
#include <cmath>

#include "ride/motion.hpp"

namespace bw::ride {
namespace {
constexpr double g_mps2 = 9.80665;
}

double air_density(double altitude_m, double air_degC) {
    // [EQ motion-2] ICAO pressure at the altitude, ideal gas at the temperature told.
    assert(altitude_m >= -500.5 && altitude_m <= 6000.5);
    const double pressure_Pa = 101325.0 * std::pow(1.0 - 2.25577e-5 * altitude_m, 5.2559);
    return pressure_Pa / (287.05 * (air_degC + 273.15));
}

Blow blow_of(const WindFrom& wind, double east, double north) {
    return {.ahead_mps = wind.east_mps * east + wind.north_mps * north, .across_mps = wind.east_mps * north - wind.north_mps * east};
}

double air_drag_N(const MotionParameters& p, double density_kgm3, double speed_mps, const Blow& blow) {
    const double relative = speed_mps + p.wind_mps + blow.ahead_mps;   // [EQ motion-1]
    return 0.5 * density_kgm3 * p.drag_area_m2 * relative * std::hypot(relative, blow.across_mps);
}

double rolling_drag_N(const MotionParameters& p, double gradient) {
    return p.rolling_resistance * p.mass_kg * g_mps2 / std::sqrt(1.0 + gradient * gradient);
}

double slope_force_N(const MotionParameters& p, double gradient) {
    return p.mass_kg * g_mps2 * gradient / std::sqrt(1.0 + gradient * gradient);
}

}  // namespace bw::ride
