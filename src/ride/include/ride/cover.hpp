// SPDX-License-Identifier: Apache-2.0
// How much of a ride its altitude covers: what lies outside is reckoned level, and says nothing of hills.    Layer: ride
// Theory: docs/models/motion.md [EQ motion-16].                                        Pure functions: any thread.
#pragma once
#include "ride/motion.hpp"
#include "ride/route.hpp"
#include "ride/track.hpp"

namespace bw::ride {

//! Known: up to 100 m of way beyond the first and the last altitude, and between two altitudes less than 1 km of way apart.
//! Records without altitude in a longer stretch are unknown from 100 m on; a stretch without any record is bridged by the
//! energy of its ends and counts as known.
struct AltitudeCover {
    double share = 1;       //!< of the moving seconds (track) or of the way (route) with known altitude, 0..1
    double unknown_m = 0;   //!< way without
};

//! motion: of this track; its seconds count from the track's first record.
AltitudeCover altitude_cover(const Track& track, const MotionPaths& motion);
AltitudeCover altitude_cover(const Route& route);

}  // namespace bw::ride
