// SPDX-License-Identifier: Apache-2.0
// A recording as GPX, ride CSV, TCX or FIT, and the truth behind it.   Layer: demo
// README.md [D13].
#pragma once

#include <cstdint>
#include <string>
#include <string_view>
#include <vector>

#include "recording.hpp"
#include "ride.hpp"

namespace rides {

//! Ending and name of a format; name of a kind of altitude.
std::string_view name_of(Format f);
std::string_view name_of(Altitude a);

//! The file in the format that the sensors name.
std::string file_of(const Ride& ride, const Sensors& sensors, const Recording& recording);
std::string file_of(const Ride& ride, const Sensors& sensors);

//! The truth: a row a second, the uses of the brakes, and everything that is one number.
std::string truth_csv(const Ride& ride);
std::string applications_csv(const std::vector<Application>& all);
std::string truth_toml(const Ride& ride, const Sensors& sensors, const Recording& recording, const std::string& file_name);

//! Seconds since 1970 of a ride's start.
std::int64_t start_of(const Ride& ride);

//! The checksum of FIT files.
std::uint16_t fit_checksum(std::string_view bytes);

}  // namespace rides
