// SPDX-License-Identifier: Apache-2.0
// Air, convection, ripple.                                                                                Layer: heat
#include "heat/physics.hpp"

#include <algorithm>
#include <cmath>
#include <numbers>

namespace bw::heat {

namespace {
constexpr double kelvin = 273.15;
constexpr double gas_constant = 287.05;   // J/(kg K), dry air
}  // namespace

double pressure_ratio(double altitude_m) { return std::pow(1 - 2.25577e-5 * altitude_m, 5.25588); }

// [EQ heat-10]
Air air_at(double degC, double altitude_m) {
    const double t = degC + kelvin;
    const double viscosity = 1.458e-6 * std::pow(t, 1.5) / (t + 110.4);
    const double density = 101325 * pressure_ratio(altitude_m) / (gas_constant * t);
    return {.kinematic_viscosity_m2s = viscosity / density,
            .conductivity_W_mK = 2.64638e-3 * std::pow(t, 1.5) / (t + 245.4 * std::pow(10.0, -12 / t)),
            .prandtl = 0.71};
}

// [EQ heat-11]
double rotating_disc_W_m2K(double radius_m, double angular_speed_rad_s, const Air& air) {
    const double re = angular_speed_rad_s * radius_m * radius_m / air.kinematic_viscosity_m2s;
    const double nu = re > 3.2e5 ? 0.015 * std::pow(re, 0.8) : 0.33 * std::sqrt(re);
    return nu * air.conductivity_W_mK / radius_m;
}

// [EQ heat-12]
double flat_plate_W_m2K(double length_m, double speed_mps, const Air& air, Flow flow) {
    const double re = speed_mps * length_m / air.kinematic_viscosity_m2s;
    const double nu = (flow == Flow::laminar ? 0.664 * std::sqrt(re) : 0.037 * std::pow(re, 0.8)) * std::cbrt(air.prandtl);
    return nu * air.conductivity_W_mK / length_m;
}

// [EQ heat-13]
double natural_plate_W_m2K(double height_m, double excess_dK, double air_degC, const Air& air) {
    const double film = air_degC + kelvin + excess_dK / 2;
    const double ra = 9.80665 / film * std::max(excess_dK, 0.0) * height_m * height_m * height_m * air.prandtl /
                      (air.kinematic_viscosity_m2s * air.kinematic_viscosity_m2s);
    const double root = 0.825 + 0.387 * std::pow(ra, 1.0 / 6) / std::pow(1 + std::pow(0.492 / air.prandtl, 9.0 / 16), 8.0 / 27);
    return root * root * air.conductivity_W_mK / height_m;
}

// [EQ heat-40]
double ring_length_m(double outer_diameter_m, double inner_diameter_m) {
    constexpr int n = 64;
    const double outer = outer_diameter_m / 2, inner = inner_diameter_m / 2;
    const double tangent = std::asin(std::min(inner / outer, 1.0));
    double sum = 0;   // of length^(1/2) over a quarter of the ring's height; a line of air crosses the band twice, beyond the opening once
    for (int i = 0; i < n; ++i) {
        const double past = tangent + (std::numbers::pi / 2 - tangent) * (i + 0.5) / n;
        sum += std::sqrt(2 * outer * std::cos(past)) * outer * std::cos(past) * (std::numbers::pi / 2 - tangent) / n;
        const double across = std::numbers::pi / 2 * (i + 0.5) / n, y = inner * std::sin(across);
        sum += 2 * std::sqrt(std::sqrt(outer * outer - y * y) - inner * std::cos(across)) * inner * std::cos(across) * std::numbers::pi / 2 / n;
    }
    const double mean = sum / (std::numbers::pi / 2 * (outer * outer - inner * inner));
    return 1 / (mean * mean);
}

// [EQ heat-14]
Convection rotor_convection(double rotor_diameter_m, double band_inner_m, double wheel_radius_m, double air_degC, const Air& air) {
    const double plate = flat_plate_W_m2K(ring_length_m(rotor_diameter_m, band_inner_m), 1, air, Flow::laminar);
    const double disc = rotating_disc_W_m2K(rotor_diameter_m / 2, 1 / wheel_radius_m, air);
    return {.a = natural_plate_W_m2K(rotor_diameter_m, 100, air_degC, air), .b = std::hypot(plate, disc), .m = 0.5};
}

Convection body_convection(double length_m, double air_degC, const Air& air) {
    return {.a = natural_plate_W_m2K(length_m, 50, air_degC, air), .b = flat_plate_W_m2K(length_m, 1, air, Flow::laminar), .m = 0.5};
}

// [EQ heat-15]
double ripple_dK(const Ripple& r) {
    using std::numbers::pi;
    if (!(r.power_W > 0)) return 0;
    const double speed = std::max(r.speed_mps, 0.5);
    const double turn = 2 * pi * r.wheel_radius_m / speed, pass = std::min(r.pad_length_m * r.wheel_radius_m / (speed * r.effective_radius_m), turn);
    const double share = pass / turn, flux = r.rotor_share * r.power_W / 2 / r.pad_area_m2, capacity = r.heat_capacity_J_m3K * r.half_thickness_m;
    const double rate = pi * pi * r.conductivity_W_mK / (r.heat_capacity_J_m3K * r.half_thickness_m * r.half_thickness_m);   // of the slowest shape through the thickness
    double sum = 0, squares = pi * pi / 6;   // what is left of the sum of 1/n²
    constexpr double gone = 40;              // exp(-gone) is nothing beside 1
    for (double n = 1; n * n * rate * pass < gone; ++n) {
        const double x = n * n * rate, square = 1 / (n * n);
        sum += square * (std::expm1(-x * pass) / std::expm1(-x * turn) - share);
        squares -= square;
    }
    sum += squares * (1 - share);
    return flux / capacity * (pass * (1 - share) / 2 + 2 / rate * sum);
}

}  // namespace bw::heat
