// SPDX-License-Identifier: Apache-2.0
// Plain facts about a track that reading and motion share: distances, height gained, stretches to leave out. Layer: ride
#pragma once
#include <span>
#include <utility>
#include <vector>

#include "ride/track.hpp"

namespace bw::ride {

//! Shortest way on the WGS 84 ellipsoid [m]; latitudes -90..90, longitudes any. NaN in, NaN out.
//! Up to 0.05 degrees apart and below 80 degrees of latitude by the radii of curvature at the mean latitude (error under
//! 1e-6 of the distance against the geodesic, seen in tests), beyond that the geodesic itself.
//! Source: Karney 2013, J. Geodesy 87, 43-55 (GeographicLib).
double ground_distance_m(double lat1_deg, double lon1_deg, double lat2_deg, double lon2_deg);

//! Height gained and height lost [m], both >= 0: the reference moves only when the altitude is at least dead_band_m away
//! from it (0: every step counts). NaN is passed over.
std::pair<double, double> gain_loss(std::span<const double> altitude_m, double dead_band_m);

//! A stretch of a track between two of its records [s since the first]; kind is pause, gap_moving or vehicle.
struct Stretch {
    double from_s = 0, to_s = 0;
    FaultKind kind = FaultKind::pause;
    bool operator==(const Stretch&) const = default;
};

//! Longest time without a record that is not a gap [s]: 10, or twice the usual step if the recorder steps in more than 5 s.
double gap_threshold_s(const Track& track);

//! Pauses, gaps in which the bike moved, and stretches in a car, train or lift: in order of time, not overlapping.
//! A gap is a time above gap_threshold_s without a record of position, distance or speed. It is gap_moving if position or
//! recorded distance moved more than 30 m over it (with neither: if both end speeds are above 1 m/s), else pause.
//! vehicle: a mean above 25 m/s over 2 minutes, or a steady climb above 1.1 m/s over 2 minutes (more than 1 kW at 100 kg:
//! no bicycle does that), widened to the standstill or gap around it if there is one within 5 minutes (a lift: 1 minute); also a gap that
//! needs such a speed or climb. A vehicle stretch swallows the gaps inside it.
std::vector<Stretch> stretches_of(const Track& track);

}  // namespace bw::ride
