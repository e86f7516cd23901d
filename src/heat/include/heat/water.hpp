// SPDX-License-Identifier: Apache-2.0
// Water on a brake: what a film does to friction, how it is spun, wiped and boiled off, what that takes.  Layer: heat
// Theory: docs/models/heat.md, "Water".                                                 Pure functions: any thread.
#pragma once
#include <cstdint>
#include <span>
#include <vector>

#include "heat/unknowns.hpp"
#include "heat/reference.hpp"

namespace bw::heat {

//! Pressure [Pa] at which water boils at a temperature of 0.01 to 370 °C.   [EQ heat-35]   Source: Wagner & Pruss, J. Phys. Chem.
//! Ref. Data 22 (1993) 783, the saturation line of IAPWS, from memory; held to a steam table within 0.1 % in tests/validation.
double saturation_pressure_Pa(double degC);
//! Heat [J] that a kilogram of water takes when it evaporates at 0 to 150 °C. [EQ heat-35]
double latent_heat_J_kg(double degC);

//! Water that a wet face gives off [kg/(m² s)], never negative: mass transfer by the analogy to heat (Lewis number 0.86 to the power
//! 2/3) with Stefan's flow, above the boiling point boiling on top of it. convection: of the face; humidity: 0..1. [EQ heat-36]
double evaporation_kg_m2s(double convection_W_m2K, double face_degC, double air_degC, double humidity, double pressure_Pa);

//! Film [kg/m²] that is left of film_kg_m2 on a turning disc after a time.   Source: Emslie, Bonner & Peck, J. Appl. Phys. 29 (1958)
//! 858, from memory; cold water, so hot films are a little thinner. [EQ heat-37]
double spun_film_kg_m2(double film_kg_m2, double turning_rad_s, double seconds);

//! Friction under a film over that of the dry pair: wet_factor under a thick film, 1 without. [EQ heat-38]
double wet_friction(const WaterUnknowns& u, double wet_factor, double film_kg_m2);

//! What a wet brake is beside its unknowns. Areas and capacities of the half brake.
struct WetBrake {
    WaterUnknowns water;
    double wet_factor = 1;            //!< friction of the wet pair over that of the dry one; the stop room's, so that both speak of one brake
    double wheel_radius_m = 0.34;
    double face_m2 = 0, rotor_J_K = 0, loss_m2 = 0;
    Convection convection;            //!< of the rotor
    double air_degC = 15, pressure_Pa = 101325;
    double closed_above_W = 1;        //!< power of the wheel
};
WetBrake wet_brake_of(const ReferenceBrake& brake, const WaterUnknowns& u, double wet_factor, double wheel_radius_m, double altitude_m);

//! Water along a run.
struct Drying {
    std::vector<double> film_kg_m2, friction;   //!< [rows] at the row's start: film on a face, wet_friction of it
    std::vector<double> drying_W;               //!< [rows] heat that evaporation takes over the row, half brake
    double brought_kg_m2 = 0, evaporated_kg_m2 = 0, wiped_and_spun_kg_m2 = 0;   //!< brought = the others + the film at the end
};
//! The film over the rows, dry at the start. wet: [rows] whether rain or spray reaches the brake in that row; rotor_degC: [rows] the
//! rotor's face in a run that took rows[i].drying_W away: what is taken otherwise here moves the temperature as the rotor alone would
//! move, so that a few turns of run and film settle. [EQ heat-37, 39]
Drying dry_along(const WetBrake& brake, std::span<const PowerRow> rows, std::span<const std::uint8_t> wet, std::span<const double> rotor_degC);

//! Turns of the wheel, lightly braked at this speed, from a film that clings until friction is within 5 % of dry, after the rain; cold
//! rotor, so braking that heats it needs fewer. 0 where water takes less than 5 %; at most 1000. Metres: times 2π wheel_radius_m.
double turns_to_dry(const WetBrake& brake, double speed_mps);

}  // namespace bw::heat
