// SPDX-License-Identifier: Apache-2.0
// Stops of a recording that can stand as proof stops: how fast, how far, and how poorly a recorder knows both. Layer: stop
// Theory: docs/models/stop.md [EQ stop-32].                                            Pure functions: any thread.
#pragma once
#include <string>
#include <vector>

#include "ride/track.hpp"
#include "stop/proof.hpp"

namespace bw::stop {

//! A halt of the recording. Times in seconds since the first record.
struct RecordedStop {
    double start_s = 0, end_s = 0;        //!< braking begins, the bike stands
    double from_mps = 0, from_sd_mps = 0;
    double distance_m = 0;                //!< from the first movement of the lever, which comes take_up before the braking
    double distance_sd_m = 0;             //!< of this stop alone
    double shared_sd_m = 0;               //!< of all stops of this recorder alike: how far it smears a stop in time
    double grade = 0, grade_sd = 0;       //!< slope of the road as the altitude tells it beside what roads of such stops are; uphill positive
    bool usable = false;
    std::string why_not;                  //!< one sentence; empty if usable
};
//! Every halt from 3 m/s or more, in order. Usable: held speed before, a stop of 0.8 m/s2 or more on average, straight, not on a slope
//! that the altitude sees, a record at least every two seconds, long enough for the recorder's smear, and a distance that is known to a third. Which brake was
//! pulled no recording says.
std::vector<RecordedStop> recorded_stops(const ride::Track&, const ProofTerms&);

//! One line for a person; number: its place in the list, from 1. Without distance: for a bike that is held back.
std::string words_of(const RecordedStop&, std::size_t number, bool with_distance = true);

//! Such a stop as a proof stop of one brake. Told by the person: brake, squeeze (absent: not read), surface. The slope counts with its
//! error, which stands in the distance's.   Source: [EQ stop-32]
ProofStop proof_stop_of(const RecordedStop&, long day, std::string name, Brakes wheel, std::optional<double> lever_force_N, Surface);

}  // namespace bw::stop
