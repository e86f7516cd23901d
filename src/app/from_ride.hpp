// SPDX-License-Identifier: Apache-2.0
// Proof stops out of a recorded ride, for `stop` and `papers add proof`.                                  Layer: app
#pragma once
#include <string>
#include <vector>

#include "parts/library.hpp"
#include "stop/recorded.hpp"

namespace bw::app {

//! As on the command line. brake: front or rear, the one that was pulled alone; which: "all" or numbers as 1,3,4; force: one
//! squeeze for all of them or one for each; day: YYYY-MM-DD, else that of the recording.
struct FromRide {
    std::string ride, brake, which, force, surface, day;
};
struct StopsOfRide {
    std::string file;
    std::vector<stop::RecordedStop> found;
    std::vector<stop::ProofStop> taken;   //!< empty unless brake and which are told
};
//! Throws Stop: bad_input if the ride cannot be read, has no day, or names stops that cannot stand; wrong_usage on words.
StopsOfRide stops_of_ride(const parts::Library&, const FromRide&);

}  // namespace bw::app
