// SPDX-License-Identifier: Apache-2.0
// The reference form of INTERFACES solved by SUNDIALS CVODE (BDF) on nodes of its own: shares no equations with src/heat.
#pragma once
#include <vector>

#include "heat/reference.hpp"

namespace bw::heat::test {

//! One row a power row: rotor face, rotor mid, pad face, plate, piston, fluid, caliper, arms, hub [°C].
using CvodeRow = std::vector<double>;
std::vector<CvodeRow> solve_by_cvode(const ReferenceBrake& brake, const std::vector<PowerRow>& rows, int rotor_nodes, int pad_nodes,
                                     int plate_nodes);

//! A rough ride: applications and pauses of 1 to 12 s, up to 3 kW, speeds 0 to 15 m/s, from a counter of our own.
std::vector<PowerRow> rough_ride(int seconds, unsigned seed);
//! A brake of ordinary size with every link and loss switched on.
ReferenceBrake ordinary_brake();

}  // namespace bw::heat::test
