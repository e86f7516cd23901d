// SPDX-License-Identifier: Apache-2.0
// What the readers of one format hand to the cleaning: records in file order, before any judgement.        Layer: ride
#pragma once
#include <array>
#include <cstddef>
#include <cstdint>
#include <limits>
#include <optional>
#include <string>
#include <string_view>
#include <vector>

#include "base/result.hpp"
#include "ride/route.hpp"
#include "ride/track.hpp"

namespace bw::ride::readers {

inline constexpr double unknown = std::numeric_limits<double>::quiet_NaN();

enum Channel : std::size_t { latitude, longitude, altitude, distance, speed, power, temperature, cadence, channel_count };

//! Of all formats: about three weeks at a record a second. A parsed record takes 80 bytes, the motion far more.
inline constexpr std::size_t most_records = 2000000;
//! "NAME: more than 2000000 records ..."
Error too_many_records(const std::string& name);

struct Record {
    double time_s = unknown;
    //! SI, in the order of Channel; NaN = not recorded.
    std::array<double, channel_count> value{unknown, unknown, unknown, unknown, unknown, unknown, unknown, unknown};
    bool new_segment = false;   //!< the file says that a new segment starts here
};

struct Reading {
    std::vector<Record> records;            //!< file order; each has a finite time within +-1e10 s
    std::vector<Record> way;                //!< all points in file order, timed or not; only if fewer than two are timed
    std::string no_ride;                    //!< with fewer than two records: why, a sentence for one who wanted a ride
    std::optional<double> zero_unix_s;      //!< instant at which time_s is 0; absent if the file states no date
    std::vector<Fault> faults;
};

// Each reader fails with bad_input only if neither two records nor two points of a way are found.

//! XML, UTF-8 or anything pugixml converts. Broken XML is read before and after each break.
Result<Reading> read_gpx(std::string_view bytes, const std::string& name);
Result<Reading> read_tcx(std::string_view bytes, const std::string& name);
//! Ride CSV (INTERFACES, Rides), or the same without a time column. The byte order mark may be there.
Result<Reading> read_csv(std::string_view bytes, const std::string& name);
//! FIT; what is broken is read as far as it goes.
Result<Reading> read_fit(std::string_view bytes, const std::string& name);

//! Unpacks gzip, all members, at most `most` bytes. A cut or damaged file gives what came before, and a fault.
//! Fails with bad_input if there is nothing or too much in it.
Result<std::string> unpack_gzip(std::string_view bytes, std::size_t most, const std::string& name, std::vector<Fault>& faults);

//! Shares points out: timed ones become records; with fewer than two of them all become the way.
void share_out(std::vector<Record>&& points, Reading& into);

//! The cleaning. hash: content_hash of the track or route.
Result<Track> track_of(Reading&& reading, std::uint64_t hash, const std::string& name);
Result<Route> route_of(Reading&& reading, std::uint64_t hash, const std::string& name);

//! A number as recorders write it: blanks around it and a decimal comma are taken. Nothing for anything else.
std::optional<double> lenient_number(std::string_view text);
//! ISO 8601, also with a blank instead of the T; nothing outside +-1e10 s.
std::optional<double> lenient_time(std::string_view text);
//! At most 40 bytes of a file's text, fit to be shown: no control characters.
std::string shown(std::string_view text);
//! "1 record", "7 records".
std::string counted(std::size_t n, std::string_view one, std::string_view many);
//! The name without its folder.
std::string base_name(const std::string& name);

}  // namespace bw::ride::readers
