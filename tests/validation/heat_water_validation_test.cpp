// SPDX-License-Identifier: Apache-2.0
// Water on a brake against steam tables, the wet bulb and the thinning film.
#include <gtest/gtest.h>

#include <boost/math/tools/toms748_solve.hpp>
#include <cmath>

#include "heat/water.hpp"
#include "row.hpp"

namespace {

using namespace bw::heat;
using bw::validation::Basis;
using bw::validation::check;

constexpr const char* steam = "Saturation properties for steam, temperature table, Ohio University (people.ohio.edu/trembly, read)";

TEST(HeatWaterValidation, SaturationFollowsTheSteamTable) {
    check({.id = "heat-80", .what = "water at 50 °C -> saturation pressure", .source = steam, .basis = Basis::source_read, .expected = 12350, .tolerance = 20, .unit = "Pa",
           .why = "the table's last digit is 10 Pa", .function = "heat::saturation_pressure_Pa", .used_by_answer = true}, saturation_pressure_Pa(50));
    check({.id = "heat-81", .what = "water at 90 °C -> saturation pressure", .source = steam, .basis = Basis::source_read, .expected = 70180, .tolerance = 70, .unit = "Pa",
           .why = "the table's digits and 0.1 %", .function = "heat::saturation_pressure_Pa", .used_by_answer = true}, saturation_pressure_Pa(90));
    check({.id = "heat-82", .what = "water at 20 °C -> heat of evaporation", .source = steam, .basis = Basis::source_read, .expected = 2453.5e3, .tolerance = 3e3, .unit = "J/kg",
           .why = "a parabola through the table: 0.1 %", .function = "heat::latent_heat_J_kg", .used_by_answer = true}, latent_heat_J_kg(20));
    check({.id = "heat-83", .what = "water at 90 °C -> heat of evaporation", .source = steam, .basis = Basis::source_read, .expected = 2282.5e3, .tolerance = 3e3, .unit = "J/kg",
           .why = "a parabola through the table: 0.1 %", .function = "heat::latent_heat_J_kg", .used_by_answer = true}, latent_heat_J_kg(90));
}

TEST(HeatWaterValidation, AWetFaceInTheWindComesToTheWetBulb) {
    const auto balance = [](double degC) { return 60 * (20 - degC) - evaporation_kg_m2s(60, degC, 20, 0.5, 101325) * latent_heat_J_kg(degC); };
    std::uintmax_t most = 100;
    const auto [low, high] = boost::math::tools::toms748_solve(balance, 9.5, 20.0, boost::math::tools::eps_tolerance<double>(40), most);
    check({.id = "heat-84", .what = "a wet face in air of 20 °C and 50 % at sea level, nothing else -> its temperature", .source = "psychrometric chart, wet bulb 13.8 °C (ASHRAE, from memory)", .basis = Basis::from_memory,
           .expected = 13.8, .tolerance = 0.5, .unit = "degC", .why = "mass transfer by analogy is good to a tenth: 0.3 K here", .function = "heat::evaporation_kg_m2s"}, (low + high) / 2);
}

TEST(HeatWaterValidation, AFilmIsSpunThinAsItsEquationOfMotionSays) {
    // dh/dt = -2 rho w^2 h^3/(3 eta), by steps of the classical Runge-Kutta method; water of 20 °C.
    const auto rate = [](double h) { return -2 * 998.2 * 20 * 20 * h * h * h / (3 * 1.0016e-3); };
    double h = 50e-6;
    for (int i = 0; i < 20000; ++i) {
        const double dt = 5e-4, a = rate(h), b = rate(h + dt / 2 * a), c = rate(h + dt / 2 * b), d = rate(h + dt * c);
        h += dt / 6 * (a + 2 * b + 2 * c + d);
    }
    check({.id = "heat-85", .what = "film of 0.05 mm on a disc turning at 20 rad/s for 10 s -> what is left", .source = "dh/dt = -2 rho w² h³/(3 eta) (Emslie, Bonner, Peck 1958, from memory), integrated in the test; density and viscosity of water at 20 °C", .basis = Basis::from_memory,
           .expected = 998.2 * h, .tolerance = 0.01 * 998.2 * h, .unit = "kg/m2", .why = "water's density and viscosity are rounded in the model: 0.3 %", .function = "heat::spun_film_kg_m2", .used_by_answer = true}, spun_film_kg_m2(998.2 * 50e-6, 20, 10));
}

}  // namespace
