// SPDX-License-Identifier: Apache-2.0
// Proof stops out of a recorded ride, for `stop`, `papers add proof` and the page.                        Layer: app
#pragma once
#include <optional>
#include <string>
#include <vector>

#include "parts/library.hpp"
#include "ride/track.hpp"
#include "stop/recorded.hpp"

namespace bw::app {

//! What was found in a recording.
struct StopsOfRide {
    std::string file;
    std::optional<double> start_unix_s;
    std::vector<stop::RecordedStop> found;
    std::vector<stop::ProofStop> taken;   //!< empty until somebody says which
};
StopsOfRide stops_of_track(const parts::Library&, const ride::Track&);

//! Day of a stop of the list by the recording's clock, UTC: that of the first stop of its trial, so that midnight does not part one.
//! Six hours without a stop end a trial. Nothing where the recording states no time.
std::optional<long> day_of_stop(const StopsOfRide&, std::size_t index);

//! Which of them count, braked with one brake alone. No recording says brake, squeeze or surface.
struct TakenStop {
    std::size_t number = 0;                //!< 1 for the first of the list
    std::optional<double> lever_force_N;
    stop::Surface surface = stop::Surface::dry;
};
//! day: YYYY-MM-DD, empty: that of each stop (day_of_stop). Throws Stop: bad_input on a number that is not of the
//! list or cannot stand, on a squeeze out of range, and where no day is known.
void take_stops(StopsOfRide&, stop::Brakes brake, const std::vector<TakenStop>&, const std::string& day);

//! As on the command line. brake: front or rear, the one that was pulled alone; which: "all" or numbers as 1,3,4; force, surface: one
//! for all of them or one for each; day as above.
struct FromRide {
    std::string ride, brake, which, force, surface, day;
    const char *surface_option = "--surface", *day_option = "--day";   //!< as this verb calls them
};
//! Throws Stop: bad_input if the ride cannot be read, has no day, or names stops that cannot stand; wrong_usage on words, and where a
//! surface is left open: a wet brake gives less, and taken for a dry one it would raise an alarm, or hide one later.
StopsOfRide stops_of_ride(const parts::Library&, const FromRide&);

}  // namespace bw::app
