// SPDX-License-Identifier: Apache-2.0
// Writers, each by its public format description.   Layer: demo
// README.md [D13].
#include "files.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <array>
#include <cmath>

namespace rides {

namespace {

struct Clock {
  // Days are counted from a plan's own start; a ride never crosses a month here, so the calendar stays simple.
  int year, month, day, hour, minute;
  std::string stamp(int t_s) const {
    const int all = (hour * 60 + minute) * 60 + t_s;
    return fmt::format("{:04}-{:02}-{:02}T{:02}:{:02}:{:02}Z", year, month, day, all / 3600, all / 60 % 60, all % 60);
  }
};

Clock clock_of(const std::string& text) {
  return {.year = std::stoi(text.substr(0, 4)), .month = std::stoi(text.substr(5, 2)), .day = std::stoi(text.substr(8, 2)),
          .hour = std::stoi(text.substr(11, 2)), .minute = std::stoi(text.substr(14, 2))};
}

//! Days since 1970-01-01 of a date of the usual calendar.
std::int64_t days_of(int year, int month, int day) {
  std::int64_t days = 0;
  const auto leap = [](int y) { return (y % 4 == 0 && y % 100 != 0) || y % 400 == 0; };
  for (int y = 1970; y < year; ++y) days += leap(y) ? 366 : 365;
  constexpr std::array<int, 12> lengths = {31, 28, 31, 30, 31, 30, 31, 31, 30, 31, 30, 31};
  for (int m = 1; m < month; ++m) days += lengths[static_cast<std::size_t>(m - 1)] + (m == 2 && leap(year) ? 1 : 0);
  return days + day - 1;
}

std::string gpx_of(const Ride& ride, const Sensors& sensors, const Recording& recording) {
  const Clock clock = clock_of(ride.plan.start);
  std::string out = fmt::format(
      "<?xml version=\"1.0\" encoding=\"UTF-8\"?>\n"
      "<gpx version=\"1.1\" creator=\"make_rides: an invented ride\" xmlns=\"http://www.topografix.com/GPX/1/1\""
      " xmlns:r=\"urn:invented:ride:1\">\n"
      "<metadata><desc>Invented ride, seed {}. The coordinates lie in open sea.</desc><time>{}</time></metadata>\n"
      "<trk><name>{}</name><trkseg>\n",
      ride.seed, clock.stamp(0), ride.plan.name);
  for (const Record& r : recording.records) {
    out += fmt::format("<trkpt lat=\"{:.6f}\" lon=\"{:.6f}\"><ele>{:.1f}</ele><time>{}</time>", r.latitude_deg, r.longitude_deg,
                       r.altitude_m, clock.stamp(static_cast<int>(r.t_s)));
    if (sensors.speed || sensors.power || sensors.temperature || sensors.distance) {
      out += "<extensions>";
      if (sensors.speed) out += fmt::format("<r:speed>{:.2f}</r:speed>", r.speed_mps);
      if (sensors.power) out += fmt::format("<r:power>{:.0f}</r:power>", r.power_W);
      if (sensors.temperature) out += fmt::format("<r:atemp>{:.0f}</r:atemp>", r.temperature_degC);
      if (sensors.distance) out += fmt::format("<r:distance>{:.1f}</r:distance>", r.distance_m);
      out += "</extensions>";
    }
    out += "</trkpt>\n";
  }
  out += "</trkseg></trk>\n</gpx>\n";
  return out;
}

std::string csv_of(const Ride& ride, const Sensors& sensors, const Recording& recording) {
  const Clock clock = clock_of(ride.plan.start);
  std::string out = "time,latitude_deg,longitude_deg,altitude_m";
  if (sensors.speed) out += ",speed_mps";
  if (sensors.power) out += ",power_W";
  if (sensors.temperature) out += ",temperature_degC";
  if (sensors.distance) out += ",distance_m";
  out += "\n";
  for (const Record& r : recording.records) {
    out += fmt::format("{},{:.6f},{:.6f},{:.1f}", clock.stamp(static_cast<int>(r.t_s)), r.latitude_deg, r.longitude_deg, r.altitude_m);
    if (sensors.speed) out += fmt::format(",{:.2f}", r.speed_mps);
    if (sensors.power) out += fmt::format(",{:.0f}", r.power_W);
    if (sensors.temperature) out += fmt::format(",{:.0f}", r.temperature_degC);
    if (sensors.distance) out += fmt::format(",{:.1f}", r.distance_m);
    out += "\n";
  }
  return out;
}

//! Training Center XML, version 2: one activity, one lap. [D13]
std::string tcx_of(const Ride& ride, const Sensors& sensors, const Recording& recording) {
  const Clock clock = clock_of(ride.plan.start);
  const std::vector<Record>& all = recording.records;
  const std::string begin = clock.stamp(static_cast<int>(all.front().t_s));
  std::string out = fmt::format(
      "<?xml version=\"1.0\" encoding=\"UTF-8\"?>\n"
      "<TrainingCenterDatabase xmlns=\"http://www.garmin.com/xmlschemas/TrainingCenterDatabase/v2\""
      " xmlns:x=\"http://www.garmin.com/xmlschemas/ActivityExtension/v2\">\n"
      "<Activities><Activity Sport=\"Biking\"><Id>{}</Id>\n<Lap StartTime=\"{}\"><TotalTimeSeconds>{}</TotalTimeSeconds>"
      "<DistanceMeters>{:.1f}</DistanceMeters><Calories>0</Calories><Intensity>Active</Intensity><TriggerMethod>Manual</TriggerMethod>\n<Track>\n",
      begin, begin, all.back().t_s - all.front().t_s, all.back().distance_m);
  for (const Record& r : all) {
    out += fmt::format("<Trackpoint><Time>{}</Time><Position><LatitudeDegrees>{:.7f}</LatitudeDegrees><LongitudeDegrees>{:.7f}</LongitudeDegrees></Position>"
                       "<AltitudeMeters>{:.1f}</AltitudeMeters>", clock.stamp(static_cast<int>(r.t_s)), r.latitude_deg, r.longitude_deg, r.altitude_m);
    if (sensors.distance) out += fmt::format("<DistanceMeters>{:.1f}</DistanceMeters>", r.distance_m);
    if (sensors.speed || sensors.power) {
      out += "<Extensions><x:TPX>";
      if (sensors.speed) out += fmt::format("<x:Speed>{:.3f}</x:Speed>", r.speed_mps);
      if (sensors.power) out += fmt::format("<x:Watts>{:.0f}</x:Watts>", r.power_W);
      out += "</x:TPX></Extensions>";
    }
    out += "</Trackpoint>\n";
  }
  out += "</Track>\n</Lap>\n</Activity></Activities>\n</TrainingCenterDatabase>\n";
  return out;
}

constexpr std::int64_t fit_epoch_s = 631065600;  // 1989-12-31T00:00:00Z, in seconds since 1970

}  // namespace

std::int64_t start_of(const Ride& ride) {
  const Clock clock = clock_of(ride.plan.start);
  return days_of(clock.year, clock.month, clock.day) * 86400 + (clock.hour * 60 + clock.minute) * 60;
}

std::uint16_t fit_checksum(std::string_view bytes) {
  // CRC-16 with polynomial 0x8005, reflected (0xA001), begun at zero: the one that the format asks for.
  std::uint16_t crc = 0;
  for (const char c : bytes) {
    crc = static_cast<std::uint16_t>(crc ^ static_cast<unsigned char>(c));
    for (int bit = 0; bit < 8; ++bit) crc = static_cast<std::uint16_t>((crc & 1) != 0 ? (crc >> 1) ^ 0xA001 : crc >> 1);
  }
  return crc;
}

namespace {

//! The least that makes a FIT activity: file_id, events, records, lap, session, activity, checksum. Altitude has fifths
//! of a metre there. [D13]
std::string fit_of(const Ride& ride, const Sensors& sensors, const Recording& recording) {
  const std::int64_t start_s = start_of(ride) - fit_epoch_s;
  const bool big = sensors.fit_style == FitStyle::big_endian;
  std::string data;
  const auto put = [&](std::uint64_t value, int bytes) {
    for (int i = 0; i < bytes; ++i) data += static_cast<char>((value >> (8 * (big ? bytes - 1 - i : i))) & 0xff);
  };
  struct Field {
    int number, bytes, type;
  };
  const auto define = [&](int local, int message, const std::vector<Field>& fields) {
    data += static_cast<char>(0x40 | local);
    data += '\0';
    data += static_cast<char>(big ? 1 : 0);
    put(static_cast<std::uint64_t>(message), 2);
    data += static_cast<char>(fields.size());
    for (const Field& f : fields) {
      data += static_cast<char>(f.number);
      data += static_cast<char>(f.bytes);
      data += static_cast<char>(f.type);
    }
  };
  const auto head = [&](int local) { data += static_cast<char>(local); };
  constexpr int t_enum = 0x00, t_sint8 = 0x01, t_uint16 = 0x84, t_sint32 = 0x85, t_uint32 = 0x86, t_uint32z = 0x8C;
  const auto time_of = [&](const Record& r) { return static_cast<std::uint64_t>(start_s + r.t_s); };
  const auto semicircles = [](double degrees) { return static_cast<std::uint64_t>(static_cast<std::int64_t>(std::llround(degrees / 180 * 2147483648.0))); };
  const std::vector<Record>& all = recording.records;
  const std::uint64_t begin = time_of(all.front()), end = time_of(all.back());

  define(0, 0, {{0, 1, t_enum}, {1, 2, t_uint16}, {2, 2, t_uint16}, {3, 4, t_uint32z}, {4, 4, t_uint32}});
  head(0); put(4, 1); put(255, 2); put(0, 2); put(1 + ride.seed % 1000000, 4); put(begin, 4);   // activity; maker: development
  define(1, 21, {{253, 4, t_uint32}, {0, 1, t_enum}, {1, 1, t_enum}});
  head(1); put(begin, 4); put(0, 1); put(0, 1);                                                 // timer starts

  const bool short_times = sensors.fit_style == FitStyle::short_times;
  std::vector<Field> fields;
  if (!short_times) fields.push_back({253, 4, t_uint32});
  fields.insert(fields.end(), {{0, 4, t_sint32}, {1, 4, t_sint32}, {2, 2, t_uint16}});
  if (sensors.speed) fields.push_back({6, 2, t_uint16});
  if (sensors.power) fields.push_back({7, 2, t_uint16});
  if (sensors.distance) fields.push_back({5, 4, t_uint32});
  if (sensors.temperature) fields.push_back({13, 1, t_sint8});
  define(2, 20, fields);
  std::vector<Field> timed = fields;
  timed.insert(timed.begin(), {253, 4, t_uint32});
  if (short_times) define(3, 20, timed);
  std::uint64_t last = 0;
  for (const Record& r : all) {
    const std::uint64_t t = time_of(r);
    if (short_times) {
      // Five bits of time in the head, counted on from the last full stamp; that must be near and before.
      if (last != 0 && t >= last && t - last < 32) {
        data += static_cast<char>(0x80 | (2 << 5) | static_cast<int>(t & 31));
      } else {
        head(3); put(t, 4);
      }
      last = t;
    } else {
      head(2); put(t, 4);
    }
    put(semicircles(r.latitude_deg), 4);
    put(semicircles(r.longitude_deg), 4);
    put(static_cast<std::uint64_t>(std::llround((r.altitude_m + 500) * 5)), 2);
    if (sensors.speed) put(static_cast<std::uint64_t>(std::llround(r.speed_mps * 1000)), 2);
    if (sensors.power) put(static_cast<std::uint64_t>(std::llround(r.power_W)), 2);
    if (sensors.distance) put(static_cast<std::uint64_t>(std::llround(r.distance_m * 100)), 4);
    if (sensors.temperature) put(static_cast<std::uint64_t>(std::llround(r.temperature_degC)), 1);
  }
  const std::uint64_t elapsed_ms = (end - begin) * 1000;
  const auto metres = static_cast<std::uint64_t>(std::llround(all.back().distance_m * 100));
  head(1); put(end, 4); put(0, 1); put(4, 1);                                                   // timer stops
  define(0, 19, {{253, 4, t_uint32}, {2, 4, t_uint32}, {7, 4, t_uint32}, {8, 4, t_uint32}, {9, 4, t_uint32}});
  head(0); put(end, 4); put(begin, 4); put(elapsed_ms, 4); put(elapsed_ms, 4); put(metres, 4);
  define(0, 18, {{253, 4, t_uint32}, {2, 4, t_uint32}, {7, 4, t_uint32}, {8, 4, t_uint32}, {9, 4, t_uint32}, {5, 1, t_enum}});
  head(0); put(end, 4); put(begin, 4); put(elapsed_ms, 4); put(elapsed_ms, 4); put(metres, 4); put(2, 1);   // cycling
  define(0, 34, {{253, 4, t_uint32}, {0, 4, t_uint32}, {1, 2, t_uint16}, {2, 1, t_enum}});
  head(0); put(end, 4); put(elapsed_ms, 4); put(1, 2); put(0, 1);

  const auto little = [](std::string& to, std::uint64_t value, int bytes) {
    for (int i = 0; i < bytes; ++i) to += static_cast<char>((value >> (8 * i)) & 0xff);
  };
  std::string file;
  file += static_cast<char>(14);
  file += static_cast<char>(0x20);   // protocol 2.0
  little(file, 2132, 2);             // profile 21.32
  little(file, data.size(), 4);
  file += ".FIT";
  little(file, fit_checksum(file), 2);
  file += data;
  little(file, fit_checksum(file), 2);
  return file;
}

}  // namespace

std::string_view name_of(Altitude a) {
  return a == Altitude::barometric ? "barometric" : a == Altitude::satellite ? "satellite" : "terrain";
}

std::string_view name_of(Format f) { return f == Format::csv ? "csv" : f == Format::fit ? "fit" : f == Format::tcx ? "tcx" : "gpx"; }

std::string file_of(const Ride& ride, const Sensors& sensors, const Recording& recording) {
  switch (sensors.format) {
    case Format::csv: return csv_of(ride, sensors, recording);
    case Format::fit: return fit_of(ride, sensors, recording);
    case Format::tcx: return tcx_of(ride, sensors, recording);
    case Format::gpx: break;
  }
  return gpx_of(ride, sensors, recording);
}
std::string file_of(const Ride& ride, const Sensors& sensors) { return file_of(ride, sensors, record(ride, sensors)); }

//! The truth at each whole second: distance and altitude at that moment, the rest as means over half a second to
//! either side, so that the sum of brake_power_W is the whole braking energy (a ride starts and ends at rest).
std::string truth_csv(const Ride& ride) {
  std::string out = "t_s,distance_m,altitude_m,speed_mps,gradient,brake_power_W,pedal_power_W,brake_on\n";
  const std::size_t n = ride.states.size();
  for (std::size_t i = 0; i < n / steps_per_s; ++i) {
    const std::size_t middle = i * steps_per_s;
    const std::size_t a = middle >= steps_per_s / 2 ? middle - steps_per_s / 2 : 0;
    const std::size_t b = std::min(n, middle + steps_per_s / 2);
    double v = 0, gradient = 0, brake_J = 0, pedal_W = 0;
    for (std::size_t k = a; k < b; ++k) {
      v += ride.states[k].v_mps;
      gradient += ride.states[k].gradient;
      brake_J += ride.states[k].brake_J;
      pedal_W += ride.states[k].pedal_W;
    }
    const auto count = static_cast<double>(b - a);
    out += fmt::format("{},{:.2f},{:.3f},{:.4f},{:.5f},{:.2f},{:.1f},{:d}\n", i, ride.states[middle].s_m, ride.states[middle].altitude_m,
                       v / count, gradient / count, brake_J, pedal_W / count, ride.states[middle].brake_N > 0);
  }
  return out;
}

std::string applications_csv(const std::vector<Application>& all) {
  std::string out = "start_s,end_s,energy_J\n";
  for (const Application& x : all) out += fmt::format("{:.1f},{:.1f},{:.1f}\n", x.start_s, x.end_s, x.energy_J);
  return out;
}

std::string truth_toml(const Ride& ride, const Sensors& sensors, const Recording& recording, const std::string& file_name) {
  double down_m = 0, up_m = 0;
  for (std::size_t i = 1; i < ride.states.size(); ++i) {
    const double dz = ride.states[i].altitude_m - ride.states[i - 1].altitude_m;
    (dz > 0 ? up_m : down_m) += std::abs(dz);
  }
  const Account& a = ride.account;
  double hardest_W = 0, second_J = 0;
  for (std::size_t i = 0; i < ride.states.size(); ++i) {
    second_J += ride.states[i].brake_J;
    if (i >= steps_per_s) second_J -= ride.states[i - steps_per_s].brake_J;
    hardest_W = std::max(hardest_W, second_J);
  }
  const auto held = [](double sway, std::string_view how, std::string_view where) {
    return sway > 0 ? fmt::format("the middle value; it {} by {:.0f} % {}", how, 100 * sway, where) : std::string("the same all through the ride");
  };
  const Manners& manners = ride.plan.manners;
  std::string out = fmt::format(
      "# The truth behind {}, an invented ride. Written by make_rides; units are in the names.\n"
      "format = 1\nfile = \"{}\"\nkind = \"{}\"\nbike_kind = \"{}\"\nseed = {}\nsensor = \"{}\"\nsampling = \"{}\"\n"
      "duration_s = {}\ndistance_m = {:.1f}\nascent_m = {:.1f}\ndescent_m = {:.1f}\n"
      "brake_energy_J = {:.1f}\nbrake_energy_J_per_km = {:.1f}\nbraking_s = {:.1f}\ncoasting_s = {:.1f}\n"
      "applications = {}                 # mean brake power over a second above {:.0f} W, joined over pauses under {:.0f} s\n"
      "squeezes = {}                     # times a hand closed\npedalling_while_braking_s = {:.1f}\nbehind_somebody_s = {:.1f}\npeak_brake_power_W = {:.1f}       # over a second\n\n"
      "[bike]\ntold_mass_kg = {}\ntotal_mass_kg = {:.8g}\nrotating_mass_kg = {:.4g}\nefficiency = {:.4g}\n"
      "drag_area_m2 = {:.4f}             # {}\n"
      "drag_area_effective_m2 = {:.4f}   # its mean, weighted with the square of the wind on the rider\n"
      "rolling_resistance = {:.5f}       # {}\n\n"
      "[weather]\nair_degC = {}\nwind_mps = {:.3f}\nwind_from_deg = {:.1f}\nfelt_wind_mps = {:.3f}             # its mean size where the rider was\nmean_headwind_mps = {:.3f}\n\n"
      "[account_J]   # height + motion + rider = air + rolling + brakes\n"
      "height = {:.1f}\nmotion = {:.1f}\nrider = {:.1f}\nair = {:.1f}\nrolling = {:.1f}\nbrakes = {:.1f}\n",
      file_name, file_name, ride.plan.name, ride.plan.bike_kind, ride.seed, name_of(sensors.altitude),
      sensors.sampling == Sampling::irregular ? "irregular" : "1", ride.states.size() / steps_per_s, ride.states.back().s_m, up_m, down_m,
      a.brakes_J, a.brakes_J / kilometres(ride), ride.braking_s, ride.coasting_s, applications_of(ride).size(), application_W,
      application_pause_s, ride.squeezes, ride.both_s, ride.company_s, hardest_W, ride.plan.told_mass_kg > 0 ? ride.plan.told_mass_kg : ride.machine.mass_kg, ride.machine.mass_kg,
      ride.machine.rotating_kg, ride.machine.efficiency, ride.machine.drag_area_m2,
      held(manners.area_sway, "sways", "in the ride"), ride.effective_drag_area_m2, ride.machine.rolling_resistance,
      held(manners.rolling_sway, "changes", "along the road"), ride.plan.air_degC, ride.wind_mps, ride.wind_from_deg, ride.felt_wind_mps, ride.mean_headwind_mps,
      a.height_J, a.motion_J, a.rider_J, a.air_J, a.rolling_J, a.brakes_J);
  for (const auto& g : recording.gaps) {
    const auto joules = [&](std::int64_t from_s, std::int64_t to_s) {
      double sum = 0;
      for (std::int64_t k = from_s * steps_per_s; k < to_s * steps_per_s; ++k) sum += ride.states[static_cast<std::size_t>(k)].brake_J;
      return sum;
    };
    out += fmt::format("\n[[gap]]   # no record from first to last\nfirst_s = {}\nlast_s = {}\nbrake_energy_J = {:.1f}\n", g.first, g.second, joules(g.first, g.second + 1));
  }
  for (const Spoilt& x : recording.faults) {
    out += fmt::format("\n[[fault]]   # at_s by the true clock; size in m, m/s, s or records\nkind = \"{}\"\nat_s = {}\nsize = {:.1f}\n", x.kind, x.at_s, x.size);
  }
  return out;
}

}  // namespace rides
