// SPDX-License-Identifier: Apache-2.0
// From the finger to the road: forces and travel of one brake.                                            Layer: stop
// Theory: docs/models/stop.md [EQ stop-1..7] [EQ stop-33].                                          Pure functions: any thread.
//
// `friction` is that of the pads as they are: cold dry friction x wet factor x factor of the temperature.
// Rising force only; a held or falling force is larger by the hysteresis (release_force_for).
#pragma once
#include <string>
#include <vector>

#include "parts/bike.hpp"
#include "stop/unknowns.hpp"

namespace bw::stop {

//! Friction force acts at this radius of the rotor [m]: middle of the swept band (even wear). [EQ stop-4]
double effective_radius_m(const parts::Rotor&);

//! Tyre force [N] at a rising lever force [N]; 0 below the threshold. No grip limit.
double tyre_force_from(const parts::Bike& case_bike, parts::End, const BrakeUnknowns&, double friction, double lever_N);
//! Lever force [N] for a tyre force [N] >= 0, force rising; its inverse. Infinite without friction.
double lever_force_for(const parts::Bike& case_bike, parts::End, const BrakeUnknowns&, double friction, double tyre_N);
//! Lever force [N] that clamps `share` times as hard as lever_N does, of which above_N act beyond the springs: threshold + share x above
//! with one ratio. Of the unknowns threshold and travel alone count. [EQ stop-21] [EQ stop-33]
double lever_force_for_share(const parts::Lever&, const BrakeUnknowns&, double lever_N, double above_N, double share);
//! Lever force [N] to which the finger must go back before this tyre force starts to fall. [EQ stop-3]
double release_force_for(const parts::Bike& case_bike, parts::End, const BrakeUnknowns&, double friction, double tyre_N);

//! One step of the chain: what goes in, what comes out, and the share of the ideal output lost in it (0..1).
struct ChainStage {
    std::string stage;
    double in = 0;
    std::string in_unit;
    double out = 0;
    std::string out_unit;
    double loss = 0;
};
//! The chain at a lever force [N]. The last stage's `out` is tyre_force_from(...).
std::vector<ChainStage> chain(const parts::Bike& case_bike, parts::End, const BrakeUnknowns&, double friction, double lever_N);

//! Lever travel [mm] from bite to a lever force [N], of a lever with one ratio: travel_mm x (force/100 N)^0.7. [EQ stop-6]
double give_mm(const BrakeUnknowns&, double lever_N);
//! Distance of the finger's contact from the bar [mm] at a lever force; <= 0: the lever reaches the bar. [EQ stop-6]
double lever_distance_mm(const parts::Lever&, const BrakeUnknowns&, double lever_N);
//! The same on the way back from a squeeze of peak_N >= lever_N: the pads are held by friction of seals and cable, so the lever
//! stands where a rising squeeze of the same clamp force has it. [EQ stop-30]
double lever_distance_back_mm(const parts::Lever&, const BrakeUnknowns&, double lever_N, double peak_N);
//! Lever force [N] at which the lever meets the bar; 0 if the pads do not even touch. [EQ stop-6]
double lever_force_at_bar(const parts::Lever&, const BrakeUnknowns&);

//! Force on master piston or cable over force at the finger, the finger's contact distance_mm from the bar. [EQ stop-33]
double lever_ratio_at(const parts::Lever&, double distance_mm);
//! Lever travel at the finger per millimetre of gap of each pad [mm/mm], at the bite: cold gap, worn pad not followed. [EQ stop-7]
double travel_per_pad_gap(const parts::Wheel&);
//! Lever travel [mm] from the bite that a further gap of each pad [mm] takes: the above x gap, or along a changing ratio. [EQ stop-33]
double travel_of_gap_mm(const parts::Wheel&, double gap_mm);
//! The finger's way from the bite to distance_mm from the bar, as the way at the bite's ratio that moves as much cable or fluid [mm]. [EQ stop-33]
double at_bite_ratio_mm(const parts::Lever&, double distance_mm);
//! Way that the bite may still lose before the lever meets the bar at the clamp force that lever_N gives now, at the bite's ratio as above [mm], >= 0.
double left_to_bar_mm(const parts::Lever&, const BrakeUnknowns&, double lever_N);
//! Bite point [mm from the bar] from which the lever ends left_mm from the bar at the clamp force that lever_N gives now. Infinite for
//! an endless force; past the lever's reach the ratio stays that at rest. [EQ stop-6] [EQ stop-33]
double bite_that_leaves_mm(const parts::Lever&, const BrakeUnknowns&, double lever_N, double left_mm);

}  // namespace bw::stop
