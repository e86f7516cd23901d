// SPDX-License-Identifier: Apache-2.0
// What a recorder makes of a ride: sensors with errors, gaps, and faults of the file.   Layer: demo
// Error models: README.md [D6..D8], [D12].
#pragma once

#include <cstdint>
#include <string>
#include <utility>
#include <vector>

#include "ride.hpp"

namespace rides {

enum class Altitude : std::uint8_t { barometric, satellite, terrain };
enum class Sampling : std::uint8_t { each_second, irregular };

enum class Format : std::uint8_t { gpx, csv, fit, tcx };
// Ways to write the same FIT records; readers must take them all.
enum class FitStyle : std::uint8_t { plain, big_endian, short_times };

// What goes wrong in a file, each by itself.
struct Faults {
  bool altitude = false, speed = false, position = false, clock = false, duplicates = false;
  bool any() const { return altitude || speed || position || clock || duplicates; }
};

struct Sensors {
  Altitude altitude = Altitude::barometric;
  Sampling sampling = Sampling::each_second;
  bool speed = false, power = false, temperature = false, distance = false;
  double altitude_step_m = 0;    // 0: the sensor's own
  bool gaps = false;
  Faults faults{};
  Format format = Format::gpx;
  FitStyle fit_style = FitStyle::plain;
};

// One record of a file.
struct Record {
  std::int64_t t_s;              // since the start
  double latitude_deg, longitude_deg, altitude_m;
  double speed_mps, power_W, temperature_degC, distance_m;
};

struct Spoilt {
  std::string kind;
  std::int64_t at_s;             // by the true clock
  double size;                   // m, m/s, s or records
};

struct Recording {
  std::vector<Record> records;
  std::vector<std::pair<std::int64_t, std::int64_t>> gaps;  // first and last second without a record
  std::vector<Spoilt> faults;
};

// Open sea, far from any land: nobody lives on these roads.
constexpr double origin_latitude_deg = -30.0;
constexpr double origin_longitude_deg = -20.0;

constexpr double metres_per_degree = 6371008.8 * pi / 180;

//! The records of a ride: the same ride and seed give the same errors whatever else is asked for.
Recording record(const Ride& ride, const Sensors& sensors);

}  // namespace rides
