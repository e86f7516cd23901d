// SPDX-License-Identifier: Apache-2.0
// Both levers pulled alike: which end gives up first, and how far from the best sharing that is.          Layer: stop
// Theory: docs/models/stop.md [EQ stop-28].                                            Pure functions: any thread.
#pragma once
#include "stop/stop.hpp"

namespace bw::stop {

//! Where pulling both levers with the same force ends.
struct AlikeEnd {
    LimitedBy by = LimitedBy::lever_force;   //!< front_grip (a fall), rear_grip (a skid), rear_lift, or lever_force: the weaker hand
    double lever_N = 0;                      //!< on each lever
    double front_N = 0, rear_N = 0;          //!< at the tyres
    double deceleration_mps2 = 0;            //!< negative: the bike gains speed
};

//! Tyre forces and deceleration with lever_N on each lever, whatever road and hand allow. by: lever_force. The surface's wet
//! brake, friction factors and grade of `setup` count, its `brakes` and `skill` do not.
AlikeEnd alike_at(const parts::Bike& case_bike, const StopSetup& setup, const StopUnknowns&, double lever_N);

//! The first of: front tyre at its grip, rear tyre at its grip, rear wheel off the ground, hand_N on each lever.
//! hand_N > 0: what the weaker of the two hands has. The way of the lever to the bar is not asked. [EQ stop-28]
AlikeEnd alike_end(const parts::Bike& case_bike, const StopSetup& setup, const StopUnknowns&, double hand_N);

}  // namespace bw::stop
