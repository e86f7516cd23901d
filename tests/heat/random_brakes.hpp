// SPDX-License-Identifier: Apache-2.0
// Brakes and rides drawn wide, from a counter of our own: for comparing the engine with the plain solver.
#pragma once
#include <cstdint>
#include <vector>

#include "heat/reference.hpp"

namespace bw::heat::test {

//! Brake i of a fixed family: sizes, materials and links of bicycle and cargo brakes, drawn wider than anybody builds them
//! (rotor 1.2 to 3 mm, friction layer 0.4 to 4.5 mm from poor resin to sintered, contact perfect or 3e3 to 1e6 W/(m²K)).
ReferenceBrake random_brake(std::uint64_t i);

//! The same brake at three fifths of the power, with conductivities and heat capacities over temperature: tables of two to five
//! points within a factor of 1.5 either way of the constants; those of the plate in half of the brakes.
ReferenceBrake random_varying_brake(std::uint64_t i);

//! Rides by a seed; which seeds chose steps and the search for tops, and which scored them, stands in engine_test.cpp. kind 0: applications and pauses of a hilly hour; 1: one long drag
//! with a stop at the end and the fluid's peak after it; 2: hard stops in rows of 0.1 s; 3: rows of uneven length; 4: power anew each second, speeds that jump.
std::vector<PowerRow> random_ride(int kind, std::uint64_t seed, double seconds);

}  // namespace bw::heat::test
