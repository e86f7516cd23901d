// SPDX-License-Identifier: Apache-2.0
// A recording as read: channels side by side, and what was wrong with it in words.                        Layer: ride
#pragma once
#include <cstdint>
#include <optional>
#include <string>
#include <string_view>
#include <vector>

#include "base/result.hpp"

namespace bw::ride {

enum class FaultKind {
    gap_moving, pause, clock_jump, duplicate_time, altitude_spike, speed_spike, position_jump,
    no_altitude, no_time, no_position, truncated, bad_checksum, vehicle, other
};
std::string_view word_of(FaultKind);

//! Something wrong with a recording: how often, how long, and a sentence for a person that says what was done about it.
struct Fault {
    FaultKind kind = FaultKind::other;
    int count = 0;
    double seconds = 0;
    std::string text;
};

//! Channels of one recording, all of the same length n, in time order without equal times. NaN = not recorded.
//! A channel that the recorder never wrote is empty.
struct Track {
    std::string file;                  //!< for messages and answers: the file's name without its folder
    std::uint64_t content_hash = 0;    //!< hash_of the file's bytes, out of a gzip wrapping: the key of what belongs to this ride only
    std::optional<double> start_unix_s;   //!< absent if the file states no date
    std::vector<double> t_s;           //!< [n] seconds since the first record; strictly increasing
    std::vector<double> latitude_deg, longitude_deg;   //!< WGS 84
    std::vector<double> altitude_m;
    std::vector<double> distance_m;    //!< along the way, as the recorder counted it
    std::vector<double> speed_mps;
    std::vector<double> power_W;       //!< rider's, at the crank or hub
    std::vector<double> temperature_degC;   //!< air, as the recorder felt it
    std::vector<double> cadence_rpm;   //!< turns of the cranks per minute
    std::vector<std::uint8_t> break_before; //!< [n] 1: a new segment starts here, nothing is known of the time before it
    std::vector<Fault> faults;
    std::size_t size() const { return t_s.size(); }
};

//! Reads FIT, TCX, GPX 1.0, GPX 1.1 or ride CSV, plain or in gzip, told apart by content. bytes: the whole file; name: its path,
//! for messages. What is broken is salvaged as far as it goes and put into faults. Fails with bad_input (file and line or byte, what was
//! expected, what to do) only if no two timed records are left.
Result<Track> read_ride(std::string_view bytes, const std::string& name);

}  // namespace bw::ride
