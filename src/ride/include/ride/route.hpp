// SPDX-License-Identifier: Apache-2.0
// A way that somebody means to ride: places and heights without times, and what a ride file holds at all.    Layer: ride
#pragma once
#include <cstdint>
#include <string>
#include <string_view>
#include <variant>
#include <vector>

#include "base/result.hpp"
#include "ride/track.hpp"

namespace bw::ride {

//! A planned way: points in the order of riding, all channels of the same length n >= 2. NaN = not told.
struct Route {
    std::string file;                  //!< for messages and answers: the file's name without its folder
    std::uint64_t content_hash = 0;    //!< hash_of the file's bytes, out of a gzip wrapping
    std::vector<double> distance_m;    //!< [n] along the way, from 0, strictly increasing (equal points are merged)
    std::vector<double> latitude_deg, longitude_deg;   //!< WGS 84; empty if the file states none
    std::vector<double> altitude_m;    //!< empty if the file states none
    std::vector<Fault> faults;
    std::size_t size() const { return distance_m.size(); }
};

//! What a ride file turned out to be.
using Recording = std::variant<Track, Route>;

//! Reads any ride file: FIT, TCX, GPX 1.0 and 1.1, ride CSV, plain or in gzip, told apart by content. A file with at least two
//! different times is a Track (as read_ride gives it); one with places or distances but no times (a GPX route or untimed
//! track, a TCX course or FIT records without times, a CSV without a time column) is a Route. bytes: the whole file; name: its
//! path, for messages. Fails with bad_input (file and line or byte, what was expected, what to do) if it is neither. Of several
//! ways in a file the longest is taken and a fault says so.
Result<Recording> read_recording(std::string_view bytes, const std::string& name);

}  // namespace bw::ride
