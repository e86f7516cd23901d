// SPDX-License-Identifier: Apache-2.0
// Invents bicycle rides whose braking is known: command line of the generator.   Layer: demo
// Shares no code and no constants with src/, so that it may judge it. Equations and error models: generator/README.md.
// Every place, rider, bike and number here is invented.
#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <cstdint>
#include <cstdio>
#include <filesystem>
#include <fstream>
#include <map>
#include <optional>
#include <string>
#include <string_view>
#include <vector>

#include "files.hpp"
#include "plans.hpp"
#include "self_check.hpp"

using namespace rides;

namespace {

struct Wish {
  std::string out_dir, kind, name, plan_file, set;
  std::optional<std::uint64_t> seed;
  Sensors sensors;
  std::optional<double> mass_kg, drag_area_m2, rolling_resistance, wind_mps;
  bool truth = false, check = false, help = false;
  std::optional<Study> study;
};

constexpr std::string_view usage =
    "make_rides OUTDIR [--seed N]                  the three rides of the demo, each with its truth\n"
    "make_rides OUTDIR --kind K [--seed N] [...]   one ride: OUTDIR/K-SENSOR-N.gpx\n"
    "make_rides OUTDIR --plan FILE [--set SET]     the rides of a plan (tests/simulated/plan.csv)\n"
    "make_rides --self-check [--plan FILE]         checks the generator, and a plan\n"
    "  --kind      long_drag late_hard city trail rolling cargo, or a ride of the demo:\n"
    "              pass-and-back valley-deliveries town-and-ridge\n"
    "  --study     ground, rider, bike, mass and wind drawn by seed, worse sensors: rides that judge an estimate\n"
    "  --study_as_listed   the same, but one drag area, rolling resistance and wind a ride, and no legs under a brake\n"
    "  --sensor    barometric (default), satellite or terrain altitude\n"
    "  --altitude_step M   written altitudes are multiples of this; default 0.2 (barometric) or 0.1\n"
    "  --sampling  1 (each second, default) or irregular\n"
    "  --channels  speed,power,temperature,distance (or joined by +): extra channels, default none\n"
    "  --gaps      one to three gaps of 60 to 100 s without a record, on the move\n"
    "  --faults    altitude,speed,position,clock,duplicates (or +): spikes and jumps, chosen apart\n"
    "  --spikes    all of these faults\n"
    "  --format    gpx (default), csv, fit or tcx; times are whole seconds\n"
    "  --fit_style plain (default), big_endian or short_times (five bits of time a record)\n"
    "  --mass KG --cda M2 --crr C --wind MPS       instead of the kind's own\n"
    "  --name STEM instead of K-SENSOR-N\n"
    "  --truth     also write NAME.truth.csv, NAME.truth.applications.csv and NAME.truth.toml\n";

std::optional<double> number(const std::string& text) {
  try {
    std::size_t used = 0;
    const double x = std::stod(text, &used);
    if (used == text.size() && std::isfinite(x)) return x;
  } catch (const std::exception&) {
  }
  return std::nullopt;
}

// Lists are joined by commas, or by + where commas part columns.
std::vector<std::string> listed(const std::string& text) {
  std::vector<std::string> all(1);
  for (const char c : text) {
    if (c == ',' || c == '+') all.emplace_back();
    else all.back() += c;
  }
  return all;
}

//! Empty on success, else what is wrong.
std::string read_wish(const std::vector<std::string>& args, Wish& wish) {
  for (std::size_t i = 0; i < args.size(); ++i) {
    const std::string& a = args[i];
    if (a == "--truth") { wish.truth = true; continue; }
    if (a == "--study") { wish.study = Study::whole; continue; }
    if (a == "--study_as_listed") { wish.study = Study::as_listed; continue; }
    if (a == "--gaps") { wish.sensors.gaps = true; continue; }
    if (a == "--spikes") {
      wish.sensors.faults = {.altitude = true, .speed = true, .position = true, .clock = true, .duplicates = true};
      continue;
    }
    if (a == "--self-check") { wish.check = true; continue; }
    if (a == "--help" || a == "-h") { wish.help = true; continue; }
    if (!a.starts_with("--")) {
      if (!wish.out_dir.empty()) return "two output folders: " + wish.out_dir + " and " + a;
      wish.out_dir = a;
      continue;
    }
    if (i + 1 == args.size()) return a + " needs a value, or is not known";
    const std::string& value = args[++i];
    if (a == "--kind") {
      wish.kind = value;
    } else if (a == "--seed") {
      const auto x = number(value);
      if (!x || *x < 0 || *x > 1e15 || *x != std::floor(*x)) return "--seed takes a whole number, 0 or more";
      wish.seed = static_cast<std::uint64_t>(*x);
    } else if (a == "--sensor") {
      if (value == "barometric") wish.sensors.altitude = Altitude::barometric;
      else if (value == "satellite") wish.sensors.altitude = Altitude::satellite;
      else if (value == "terrain") wish.sensors.altitude = Altitude::terrain;
      else return "--sensor: barometric, satellite or terrain, not " + value;
    } else if (a == "--sampling") {
      if (value != "1" && value != "irregular") return "--sampling: 1 or irregular, not " + value;
      wish.sensors.sampling = value == "1" ? Sampling::each_second : Sampling::irregular;
    } else if (a == "--channels") {
      for (const std::string& one : listed(value)) {
        if (one == "speed") wish.sensors.speed = true;
        else if (one == "power") wish.sensors.power = true;
        else if (one == "temperature") wish.sensors.temperature = true;
        else if (one == "distance") wish.sensors.distance = true;
        else return "--channels: speed, power, temperature, distance, not " + one;
      }
    } else if (a == "--faults") {
      Faults& f = wish.sensors.faults;
      for (const std::string& one : listed(value)) {
        if (one == "altitude") f.altitude = true;
        else if (one == "speed") f.speed = true;
        else if (one == "position") f.position = true;
        else if (one == "clock") f.clock = true;
        else if (one == "duplicates") f.duplicates = true;
        else return "--faults: altitude, speed, position, clock, duplicates, not " + one;
      }
    } else if (a == "--format") {
      if (value == "gpx") wish.sensors.format = Format::gpx;
      else if (value == "csv") wish.sensors.format = Format::csv;
      else if (value == "fit") wish.sensors.format = Format::fit;
      else if (value == "tcx") wish.sensors.format = Format::tcx;
      else return "--format: gpx, csv, fit or tcx, not " + value;
    } else if (a == "--fit_style") {
      if (value == "plain") wish.sensors.fit_style = FitStyle::plain;
      else if (value == "big_endian") wish.sensors.fit_style = FitStyle::big_endian;
      else if (value == "short_times") wish.sensors.fit_style = FitStyle::short_times;
      else return "--fit_style: plain, big_endian or short_times, not " + value;
    } else if (a == "--altitude_step") {
      const auto x = number(value);
      if (!x || *x < 0.1 || *x > 20) return "--altitude_step takes metres, 0.1 to 20";
      wish.sensors.altitude_step_m = *x;
    } else if (a == "--name") {
      if (value.empty() || value.find('/') != std::string::npos) return "--name takes a file name without ending";
      wish.name = value;
    } else if (a == "--plan") {
      wish.plan_file = value;
    } else if (a == "--set") {
      wish.set = value;
    } else {
      std::optional<double>* slot = a == "--mass" ? &wish.mass_kg : a == "--cda" ? &wish.drag_area_m2 :
                                    a == "--crr" ? &wish.rolling_resistance : a == "--wind" ? &wish.wind_mps : nullptr;
      if (slot == nullptr) return "not known: " + a;
      *slot = number(value);
      if (!*slot || **slot < 0 || (a == "--mass" && (**slot < 30 || **slot > 400))) return a + ": not a plausible number: " + value;
    }
  }
  if (!wish.check && !wish.help && wish.out_dir.empty()) return "where to? name an output folder";
  return "";
}

bool write_file(const std::filesystem::path& path, const std::string& text) {
  std::ofstream file(path, std::ios::binary);
  file.write(text.data(), static_cast<std::streamsize>(text.size()));
  return static_cast<bool>(file.flush());
}

int make_one(const Wish& wish, const std::string& kind, const std::string& stem, const Sensors& sensors, bool truth) {
  const std::uint64_t seed = wish.seed.value_or(1);
  std::optional<Plan> plan = wish.study ? study_plan(kind, seed, *wish.study) : plan_of(kind, seed);
  if (!plan) {
    fmt::print(stderr, "no such kind of ride: {}\n{}", kind, usage);
    return 2;
  }
  // A value that was asked for is the value: only what was not asked for is drawn.
  plan->machine = draw_machine(*plan, seed);
  plan->draw_parameters = false;
  if (wish.mass_kg) plan->machine.mass_kg = plan->told_mass_kg = *wish.mass_kg;
  if (wish.drag_area_m2) plan->machine.drag_area_m2 = *wish.drag_area_m2;
  if (wish.rolling_resistance) plan->machine.rolling_resistance = *wish.rolling_resistance;
  if (wish.wind_mps) (wish.study ? plan->wind_exact_mps.emplace() : plan->wind_mps) = *wish.wind_mps;
  const Ride ride = simulate(*plan, seed);
  if (!ride.arrived) {
    fmt::print(stderr, "{}: the rider never arrived (too heavy, too much drag?)\n", stem);
    return 3;
  }
  const std::filesystem::path dir(wish.out_dir);
  const std::string file_name = stem + "." + std::string(name_of(sensors.format));
  const Recording recording = record(ride, sensors);
  bool written = write_file(dir / file_name, file_of(ride, sensors, recording));
  if (truth) {
    written = written && write_file(dir / (stem + ".truth.csv"), truth_csv(ride)) &&
              write_file(dir / (stem + ".truth.applications.csv"), applications_csv(applications_of(ride))) &&
              write_file(dir / (stem + ".truth.toml"), truth_toml(ride, sensors, recording, file_name));
  }
  if (!written) {
    fmt::print(stderr, "cannot write to {}\n", wish.out_dir);
    return 3;
  }
  fmt::print("{}: {:.1f} km, {} s, brakes {:.1f} kJ, {:.2f} kJ/km\n", file_name, kilometres(ride), ride.states.size() / steps_per_s,
             ride.account.brakes_J / 1e3, ride.account.brakes_J / 1e3 / kilometres(ride));
  return 0;
}

int make_wished(const Wish& wish) {
  std::error_code ignored;
  std::filesystem::create_directories(wish.out_dir, ignored);
  if (wish.kind.empty()) {
    for (const DemoRide& demo : demo_rides) {
      if (const int code = make_one(wish, std::string(demo.name), std::string(demo.name), demo.sensors, true); code != 0) return code;
    }
    return 0;
  }
  std::string stem = fmt::format("{}-{}-{}{}", wish.kind, name_of(wish.sensors.altitude), wish.seed.value_or(1),
                                 wish.sensors.sampling == Sampling::irregular ? "-irregular" : "");
  if (!wish.name.empty()) stem = wish.name;
  return make_one(wish, wish.kind, stem, wish.sensors, wish.truth);
}

struct PlannedRide {
  std::string name, set, group, kind;
  std::vector<std::string> args;
};

//! The rows of a plan: a CSV file without quotes with the columns name, set, group, kind and arguments, in any order.
std::vector<PlannedRide> read_plan(const std::string& plan_file) {
  std::ifstream file(plan_file);
  std::string line;
  std::vector<std::string> head;
  std::vector<PlannedRide> rides;
  const auto cells = [](const std::string& row, char separator) {
    std::vector<std::string> out(1);
    for (const char c : row) {
      if (c == separator) out.emplace_back();
      else if (c != '\r') out.back() += c;
    }
    return out;
  };
  while (std::getline(file, line)) {
    if (line.empty() || line.starts_with("#")) continue;
    const std::vector<std::string> row = cells(line, ',');
    if (head.empty()) {
      head = row;
      continue;
    }
    const auto cell = [&](std::string_view name) {
      const auto column = static_cast<std::size_t>(std::find(head.begin(), head.end(), name) - head.begin());
      return column < row.size() ? row[column] : std::string();
    };
    PlannedRide ride{.name = cell("name"), .set = cell("set"), .group = cell("group"), .kind = cell("kind"), .args = {}};
    for (const std::string& word : cells(cell("arguments"), ' ')) {
      if (!word.empty()) ride.args.push_back(word);
    }
    rides.push_back(std::move(ride));
  }
  return rides;
}

int make_planned(const Wish& wish) {
  int made = 0;
  for (const PlannedRide& ride : read_plan(wish.plan_file)) {
    if (!wish.set.empty() && ride.set != wish.set) continue;
    std::vector<std::string> args = {wish.out_dir, "--name", ride.name};
    args.insert(args.end(), ride.args.begin(), ride.args.end());
    Wish one;
    const std::string fault = read_wish(args, one);
    if (!fault.empty() || one.kind.empty()) {
      fmt::print(stderr, "{}: {}\n", ride.name, fault.empty() ? "no kind" : fault);
      return 2;
    }
    if (const int code = make_wished(one); code != 0) return code;
    ++made;
  }
  if (made == 0) fmt::print(stderr, "{}: no ride to make\n", wish.plan_file);
  return made > 0 ? 0 : 2;
}

//! Is the plan what it says? Every row can be made, says the truth about itself, and no seed serves two sets.
int check_plan(const std::string& plan_file) {
  int faults = 0;
  const auto expect = [&](bool good, const std::string& what) {
    if (!good) {
      ++faults;
      fmt::print(stderr, "FAULT {}: {}\n", plan_file, what);
    }
  };
  std::vector<std::string> names;
  std::vector<std::uint64_t> seeds;
  struct Set {
    std::uint64_t first_seed;
    int rides;
    Study study;
  };
  const std::map<std::string, Set> sets = {{"check", {1001, 40, Study::whole}}, {"tune", {3001, 40, Study::whole}},
                                           {"wide", {3041, 240, Study::whole}}, {"long", {5001, 216, Study::whole}},
                                           {"listed-tune", {6001, 120, Study::as_listed}}, {"listed-check", {7001, 40, Study::as_listed}},
                                           {"listed-long", {9001, 216, Study::as_listed}}};
  std::map<std::string, int> of_set, barometric_of_set;
  for (const PlannedRide& ride : read_plan(plan_file)) {
    std::vector<std::string> args = ride.args;
    args.insert(args.begin(), "somewhere");
    Wish one;
    const std::string fault = read_wish(args, one);
    expect(fault.empty(), ride.name + ": " + fault);
    expect(one.study && one.truth && one.kind == ride.kind && study_plan(one.kind, 1, 1).has_value(), ride.name + ": not a ride of the study, or of another kind");
    const bool barometric = one.sensors.altitude == Altitude::barometric;
    expect(ride.group == (barometric ? "barometric" : "other_altitude"), ride.name + ": of another group");
    expect(std::find(names.begin(), names.end(), ride.name) == names.end(), ride.name + ": named twice");
    names.push_back(ride.name);
    const std::uint64_t seed = one.seed.value_or(0);
    expect(std::find(seeds.begin(), seeds.end(), seed) == seeds.end(), ride.name + ": its seed is used twice");
    seeds.push_back(seed);
    const auto set = sets.find(ride.set);
    expect(set != sets.end(), ride.name + ": of no set");
    if (set == sets.end()) continue;
    expect(seed >= set->second.first_seed && seed < set->second.first_seed + static_cast<std::uint64_t>(set->second.rides), ride.name + ": a seed of another set");
    expect(one.study == set->second.study, ride.name + ": of another study than its set");
    ++of_set[ride.set];
    barometric_of_set[ride.set] += barometric ? 1 : 0;
  }
  for (const auto& [name, set] : sets) expect(of_set[name] == set.rides, name + ": another number of rides");
  for (const auto& [set, barometric] : barometric_of_set) {
    expect(std::abs(barometric - 0.6 * of_set[set]) < 0.02 * of_set[set], set + ": three in five are not barometric");
  }
  fmt::print("plan: {} rides, {} faults\n", names.size(), faults);
  return faults == 0 ? 0 : 1;
}

}  // namespace

int main(int argc, char** argv) {
  Wish wish;
  const std::string fault = read_wish({argv + 1, argv + argc}, wish);
  if (!fault.empty()) {
    fmt::print(stderr, "{}\n{}", fault, usage);
    return 2;
  }
  if (wish.help) {
    fmt::print("{}", usage);
    return 0;
  }
  if (wish.check) {
    const int code = self_check();
    return wish.plan_file.empty() ? code : std::max(code, check_plan(wish.plan_file));
  }
  return wish.plan_file.empty() ? make_wished(wish) : make_planned(wish);
}
