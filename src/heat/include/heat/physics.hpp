// SPDX-License-Identifier: Apache-2.0
// Textbook heat transfer that a brake is made of: air, convection, ripple.                                 Layer: heat
// Theory: docs/models/heat.md, "Convection and ripple".                                 Pure functions: any thread.
#pragma once

#include "heat/reference.hpp"

namespace bw::heat {

struct Air {
    double kinematic_viscosity_m2s = 1.5e-5;
    double conductivity_W_mK = 0.026;
    double prandtl = 0.71;
};
//! Dry air at a temperature and altitude: Sutherland's viscosity and conductivity, pressure of the ICAO atmosphere.
//! degC -50..400, altitude -500..6000 m.   Source: [EQ heat-10], from memory (Sutherland 1893; ICAO Doc 7488).
Air air_at(double degC, double altitude_m);
//! Pressure of the ICAO standard atmosphere over that at sea level [1]; altitude -500..11000 m.
double pressure_ratio(double altitude_m);

//! Mean coefficient of a disc turning in still air [W/(m²K)], laminar (0.33 Re^½) or, above Re = 3.2e5, turbulent (0.015 Re^0.8).
//! Source: [EQ heat-11]; Dorfman 1963, Cobb & Saunders 1956, from memory.
double rotating_disc_W_m2K(double radius_m, double angular_speed_rad_s, const Air& air);

enum class Flow { laminar, turbulent };
//! Mean coefficient of a flat plate along the flow [W/(m²K)].   Source: [EQ heat-12]; 0.664 Re^½ Pr^⅓, 0.037 Re^0.8 Pr^⅓.
double flat_plate_W_m2K(double length_m, double speed_mps, const Air& air, Flow flow);

//! Natural convection at a vertical plate [W/(m²K)].   Source: [EQ heat-13]; Churchill & Chu 1975, from memory.
double natural_plate_W_m2K(double height_m, double excess_dK, double air_degC, const Air& air);

//! Length of the plate that a laminar wind along the face cools as well per area as it cools a flat ring [m]: each line of air
//! starts anew at every edge that it meets. 0 <= inner < outer. Error < 0.1 %.   Source: [EQ heat-40]; strips of flat plate.
double ring_length_m(double outer_diameter_m, double inner_diameter_m);

//! h(v) of a rotor's band on a moving bike, before the drawn factor: natural at rest; beyond it laminar plates along the wind
//! (the ring's) and turning disc, summed in squares, both with v^½ [EQ heat-14].
Convection rotor_convection(double rotor_diameter_m, double band_inner_m, double wheel_radius_m, double air_degC, const Air& air);
//! h(v) of a body of a given length in the wind (caliper, hub), before the drawn factor.
Convection body_convection(double length_m, double air_degC, const Air& air);

struct Ripple {
    double power_W = 0;              //!< of the wheel, both pads
    double speed_mps = 0;            //!< of the bike
    double wheel_radius_m = 0, effective_radius_m = 0;
    double pad_area_m2 = 0, pad_length_m = 0;   //!< steel that one pad rubs at a time; along the way
    double rotor_share = 1;          //!< of the heat that goes into the rotor
    double half_thickness_m = 0, conductivity_W_mK = 0, heat_capacity_J_m3K = 0;   //!< of the rotor
};
//! What a spot of the rotor's face is hotter where it leaves the pad than its mean over the turn [K]: a plate of that half thickness,
//! heated evenly for the pad's length and left alone for the rest of the turn, turn after turn [EQ heat-15]. Conduction along the way
//! is left out (Péclet number in the thousands). Below 0.5 m/s the speed is taken as 0.5 m/s.
//! Against finite volumes around the ring within 3 % (tests/heat/ripple_test.cpp).  Source of the limit of a thick plate and a short pad,
//! 2q√t/(√π b): SOURCES 6.1 (8), Jaeger 1942, from memory.
double ripple_dK(const Ripple& r);

}  // namespace bw::heat
