// SPDX-License-Identifier: Apache-2.0
// Writes invented riders' papers and their truth, a folder each.   Layer: tests/worn
// Formats: `life` in docs/formats.md; truth.csv and oracle.csv in README.md.
#include <fmt/format.h>

#include <charconv>
#include <filesystem>
#include <fstream>
#include <iostream>
#include <sstream>

#include "fit_priors.hpp"
#include "histories.hpp"
#include "informed.hpp"

namespace {
using namespace worn;

std::string date_of(double day) {   // day 0 is 1 January 2021; civil date from days, years of the proleptic calendar
  int left = static_cast<int>(day), year = 2021;
  const auto leap = [](int y) { return y % 4 == 0 && (y % 100 != 0 || y % 400 == 0); };
  for (; left >= (leap(year) ? 366 : 365); ++year) left -= leap(year) ? 366 : 365;
  const int months[] = {31, leap(year) ? 29 : 28, 31, 30, 31, 30, 31, 31, 30, 31, 30, 31};
  int m = 0;
  for (; left >= months[m]; ++m) left -= months[m];
  return fmt::format("{:04d}-{:02d}-{:02d}", year, m + 1, left + 1);
}

std::string limit_text(double ride) { return std::isnan(ride) ? std::string() : fmt::format("{:.7g}", ride); }

void write(const std::filesystem::path& path, const std::string& text) {
  std::ofstream out(path, std::ios::binary);
  out << text;
  if (!out.flush()) throw std::runtime_error("cannot write " + path.string());
}

void write_rider(const std::filesystem::path& dir, std::uint64_t seed, int most_tasks, int oracle_draws, int informed_futures) {
  History h = make_history(seed, most_tasks);
  const Rider& r = h.rider;
  std::filesystem::create_directories(dir);

  std::string rides = "ride,date,file,distance_m,descent_m,duration_s,front_energy_J,front_energy_sd_J,rear_energy_J,rear_energy_sd_J,front_pad_degC,rear_pad_degC,wet,grit\n";
  for (std::size_t i = 0; i < h.recorded.size(); ++i) {
    const Recorded& x = h.recorded[i];
    rides += fmt::format("{},{},ride-{:04d}.fit,{:.6g},{:.6g},{:.6g},{:.6g},{:.6g},{:.6g},{:.6g},{:.4g},{:.4g},{:.6g},{:.6g}\n", i + 1, date_of(h.rides[i].day), i + 1, 1000 * x.km,
                         x.descent_m, x.duration_s, 1e6 * x.MJ[0], 1e6 * x.sd_MJ[0], 1e6 * x.MJ[1], 1e6 * x.sd_MJ[1], x.pad_degC[0], x.pad_degC[1], x.wet, x.grit);
  }
  write(dir / "rides.csv", rides);

  std::string fitted = "component,set,start_ride,compound,new_mm,limit_mm,friction_area_mm2\n";
  for (const Fitted& f : h.fitted) {
    const Wheel& w = r.wheels[static_cast<std::size_t>(f.wheel)];
    const char* compound = f.mixed ? "" : compound_names[static_cast<std::size_t>(f.compound)];
    if (f.rotor) fitted += fmt::format("{},{},{},{},{},{},{}\n", component_name(f.wheel, 2), f.set, f.start_ride, compound, w.rotor_new_mm, w.rotor_limit_mm, w.rotor_area_mm2);
    else
      for (int side = 0; side < 2; ++side)
        fitted += fmt::format("{},{},{},{},{},{},{}\n", component_name(f.wheel, side), f.set, f.start_ride, compound, w.pad_new_mm, w.pad_limit_mm, w.pad_area_mm2);
  }
  write(dir / "fitted.csv", fitted);

  std::string readings = "ride,date,component,set,thickness_mm,sd_mm,resolution_mm\n";
  const std::string no_readings = readings;
  for (const Reading& x : h.readings)
    readings += fmt::format("{},{},{},{},{:.6g},{},{}\n", x.ride, date_of(x.day), component_name(x.wheel, x.place), x.set, x.value_mm, x.sd_mm, x.resolution_mm);
  write(dir / "readings.csv", readings);
  write(dir / "no-readings.csv", no_readings);

  const auto limits = true_limits(h);
  std::string tasks = "component,set,as_of_ride\n", truth = "component,set,as_of_ride,limit_ride,simulated_to_ride\n";
  for (const Task& t : h.tasks) {
    const int limit = limits.at({t.fitted, t.place});
    const std::string key = fmt::format("{},{},{}", component_name(t.wheel, t.place), t.set, t.as_of_ride);
    tasks += key + "\n";
    truth += fmt::format("{},{},{}\n", key, limit > 0 ? std::to_string(limit) : "", h.observed + horizon_rides);
  }
  write(dir / "tasks.csv", tasks);
  write(dir / "truth.csv", truth);

  const auto quantiles = [&](const std::string& name, const auto& known) {
    std::string text = "component,set,as_of_ride,limit_ride_p005,limit_ride_p05,limit_ride_p25,limit_ride_p50,limit_ride_p75,limit_ride_p95,limit_reached_probability\n";
    for (std::size_t k = 0; k < known.size(); ++k) {
      const Task& t = h.tasks[k];
      text += fmt::format("{},{},{}", component_name(t.wheel, t.place), t.set, t.as_of_ride);
      for (const double q : known[k].limit_ride) text += "," + limit_text(q);
      text += fmt::format(",{:.6g}\n", known[k].reached);
    }
    write(dir / name, text);
  };
  if (oracle_draws > 0) quantiles("oracle.csv", oracle(h, oracle_draws));
  if (informed_futures > 0) {
    const auto all = informed(h, {.futures = informed_futures});
    std::vector<Oracle> known;
    std::string how = "component,set,as_of_ride,rider_told,wheel_told,brand_told,structures,effective\n";
    for (std::size_t k = 0; k < all.size(); ++k) {
      const Task& t = h.tasks[k];
      known.push_back(all[k].forecast);
      how += fmt::format("{},{},{},{:d},{:d},{:d},{},{:.0f}\n", component_name(t.wheel, t.place), t.set, t.as_of_ride, all[k].rider_told, all[k].wheel_told, all[k].brand_told,
                         all[k].structures, all[k].effective);
    }
    quantiles("informed.csv", known);
    write(dir / "informed_how.csv", how);
  }

  constexpr const char* bike_kinds[] = {"trail", "trail", "road", "gravel", "cargo", "city", "trail"};
  std::string bike = fmt::format("format = 1\n\n[rider]\nmass_kg = {:.1f}\n\n[bike]\nname = \"{} {}\"\nkind = \"{}\"\nmass_kg = {:.1f}\n", r.mass_kg,
                                 kind_names[static_cast<std::size_t>(r.kind)], seed, bike_kinds[static_cast<std::size_t>(r.kind)], r.bike_mass_kg);
  if (r.kind == Kind::e_bike) bike += "e_assist = true\n";
  for (std::size_t w = 0; w < 2; ++w) {
    const Wheel& x = r.wheels[w];
    bike += fmt::format("\n[{}]\nactuation = \"hydraulic\"\nrotor.diameter_mm = {}\nrotor.least_thickness_mm = {}\npads.compound = \"{}\"\npads.least_friction_mm = {}\npads.area_mm2 = {}\n",
                        w == 0 ? "front" : "rear", x.rotor_diameter_mm, x.rotor_limit_mm, compound_names[static_cast<std::size_t>(x.compound)], x.pad_limit_mm, x.pad_area_mm2);
  }
  write(dir / "bike.toml", bike);
}

long number(const std::string& text, const std::string& what) {
  long value = 0;
  const auto [end, error] = std::from_chars(text.data(), text.data() + text.size(), value);
  if (error != std::errc() || end != text.data() + text.size() || value < 0) throw std::invalid_argument(fmt::format("{}: '{}' is not a whole number of at least 0", what, text));
  return value;
}

}  // namespace

int main(int argc, char** argv) {
  try {
    std::string dir, plan, set;
    long from = -1, to = -1, tasks = 18, oracle_draws = 0, informed_futures = 0;
    for (int i = 1; i < argc; ++i) {
      const std::string arg = argv[i];
      const auto value = [&]() -> std::string {
        if (i + 1 >= argc) throw std::invalid_argument(arg + " needs a value");
        return argv[++i];
      };
      if (arg == "--priors") {
        write(value(), as_toml(fit_priors()));
        return 0;
      } else if (arg == "--plan") plan = value();
      else if (arg == "--set") set = value();
      else if (arg == "--from") from = number(value(), arg);
      else if (arg == "--to") to = number(value(), arg);
      else if (arg == "--tasks") tasks = number(value(), arg);
      else if (arg == "--oracle") oracle_draws = number(value(), arg);
      else if (arg == "--informed") informed_futures = number(value(), arg);
      else if (!arg.starts_with("--") && dir.empty()) dir = arg;
      else throw std::invalid_argument("unknown argument '" + arg + "'");
    }
    if (!plan.empty()) {
      std::ifstream in(plan);
      std::string line;
      for (int n = 1; std::getline(in, line); ++n) {
        std::stringstream fields(line);
        std::string name, first, last, most;
        std::getline(fields, name, ',');
        std::getline(fields, first, ',');
        std::getline(fields, last, ',');
        std::getline(fields, most, ',');
        if (name != set) continue;
        const std::string where = fmt::format("{} line {}", plan, n);
        from = number(first, where);
        to = number(last, where);
        tasks = number(most, where);
      }
      if (from < 0) throw std::invalid_argument(fmt::format("{}: no set '{}'", plan, set));
    }
    if (dir.empty() || from < 0 || to < from)
      throw std::invalid_argument("make_histories DIR (--plan PLAN.csv --set NAME | --from SEED --to SEED [--tasks N]) [--oracle DRAWS] [--informed FUTURES], or make_histories --priors OUT.toml");
    for (long seed = from; seed <= to; ++seed)
      write_rider(std::filesystem::path(dir) / fmt::format("{}-{}", kind_names[static_cast<std::size_t>(seed % kinds)], seed), static_cast<std::uint64_t>(seed), static_cast<int>(tasks),
                  static_cast<int>(oracle_draws), static_cast<int>(informed_futures));
    return 0;
  } catch (const std::exception& e) {
    std::cerr << "make_histories: " << e.what() << "\n";
    return 2;
  }
}
