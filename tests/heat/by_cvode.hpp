// SPDX-License-Identifier: Apache-2.0
// The reference form of INTERFACES solved by SUNDIALS CVODE (BDF) on nodes of its own: shares no equations with src/heat.
#pragma once
#include <string>
#include <vector>

#include "heat/reference.hpp"
#include "property.hpp"

namespace bw::heat::test {

//! One row a power row: rotor face, rotor mid, pad face, plate, piston, fluid, caliper, arms, hub [°C].
using CvodeRow = std::vector<double>;
std::vector<CvodeRow> solve_by_cvode(const ReferenceBrake& brake, const std::vector<PowerRow>& rows, int rotor_nodes, int pad_nodes,
                                     int plate_nodes);

//! Conductivity [W/(m K)] and heat capacity [J/(kg K)] that vary with temperature, in place of the brake's constants where not empty
//! (problem B of INTERFACES). Between two nodes the conductivity at their mean temperature holds.
struct Varying {
    Property rotor_k, rotor_c, friction_k, friction_c, plate_k, plate_c;
};
std::vector<CvodeRow> solve_by_cvode(const ReferenceBrake& brake, const Varying& varying, const std::vector<PowerRow>& rows, int rotor_nodes,
                                     int pad_nodes, int plate_nodes);

//! A rough ride: applications and pauses of 1 to 12 s, up to 3 kW, speeds 0 to 15 m/s, from a counter of our own.
std::vector<PowerRow> rough_ride(int seconds, unsigned seed);
//! Rides of other kinds, by fixed recipes without chance. None of them was used while a solver was tuned.
//! A long drag, a row a second: the power and the speed breathe slowly, up to 0.75 kW; let go for 4 s in every 300 s.
std::vector<PowerRow> long_drag(int seconds);
//! Town: a stop from 6 to 9 m/s in 3 to 5 s, standing, going on; a row a second, up to 1.5 kW.
std::vector<PowerRow> stop_and_go(int stops);
//! Hard stops from 12 m/s in 2.5 s, rows 0.1 s apart, up to 4.2 kW at this wheel; 7.5 s to get back to speed.
std::vector<PowerRow> hard_stops(int stops);
//! Rows of one wheel ("front", "rear") out of what `answer --series` wrote, `count` seconds from row `first` on.
std::vector<PowerRow> power_of_series(const std::string& csv, const std::string& wheel, std::size_t first, std::size_t count);
//! A brake of ordinary size with every link and loss switched on.
ReferenceBrake ordinary_brake();

}  // namespace bw::heat::test
