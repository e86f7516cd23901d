// SPDX-License-Identifier: Apache-2.0
// Writes invented bikes' descriptions, proof stops, their truth and the oracle's answer, a folder each.   Layer: tests/proved
// Formats: `stop` in docs/formats.md; truth.csv and oracle.csv in README.md.
#include <fmt/format.h>

#include <charconv>
#include <filesystem>
#include <fstream>
#include <iostream>
#include <sstream>

#include "oracle.hpp"

namespace {
using namespace proved;

void write(const std::filesystem::path& path, const std::string& text) {
  std::ofstream out(path, std::ios::binary);
  out << text;
  if (!out.flush()) throw std::runtime_error("cannot write " + path.string());
}

void write_case(const std::filesystem::path& dir, const Case& c) {
  std::filesystem::create_directories(dir);
  const Bike& b = c.bike;
  std::string bike = fmt::format("format = 1\n\n[bike]\nname = \"{} {}\"\nkind = \"{}\"\ntotal_mass_kg = {{ value = {:.1f}, sd = {:.1f} }}\nwheelbase_m = {:.2f}\n", kind_names[static_cast<std::size_t>(b.kind)],
                                 b.seed, kind_names[static_cast<std::size_t>(b.kind)], b.told_mass_kg, 0.02 * b.told_mass_kg, b.wheelbase_m);
  for (std::size_t w = 0; w < 2; ++w) {
    const Brake& k = b.brakes[w];
    bike += fmt::format("\n[{}]\nactuation = \"{}\"\nrotor.diameter_mm = {}\npads.compound = \"{}\"\n", wheel_names[w], actuation_names[static_cast<std::size_t>(k.actuation)], k.rotor_mm,
                        compound_names[static_cast<std::size_t>(k.compound)]);
    if (k.actuation != Actuation::cable) bike += fmt::format("caliper.pistons_per_side = {}\ncaliper.piston_diameter_mm = {}\n", k.pistons_per_side, k.piston_mm);
  }
  write(dir / "bike.toml", bike);

  std::string stops = "date,stop,wheel,from_mps,distance_m,time_s,lever_force_N,surface,grade\n";
  for (const Row& r : c.rows)
    stops += fmt::format("{},{},{},{:.6g},{:.6g},{},{},dry,{:.6g}\n", r.date, r.stop, wheel_names[static_cast<std::size_t>(r.pulled)], r.from_mps, r.distance_m,
                         r.time_s ? fmt::format("{:.6g}", *r.time_s) : "", r.force_N ? fmt::format("{:.6g}", *r.force_N) : "", r.grade + 0.0);
  write(dir / "stops.csv", stops);

  std::string truth = "wheel,gain_mps2_N,share_of_sound,scaled_stops,scaled_history\n", known = "wheel,p05,p25,p50,p75,p95,alarm\n";
  for (std::size_t w = 0; w < 2; ++w) {
    truth += fmt::format("{},{:.8g},{:.3g},{},{}\n", wheel_names[w], c.gain[w], c.share[w], c.scaled[w], c.scaled_history[w]);
    const Known k = oracle(c, static_cast<int>(w));
    known += wheel_names[w];
    for (const double q : quantiles(k)) known += fmt::format(",{:.8g}", q);
    known += fmt::format(",{}\n", k.alarm ? 1 : 0);
  }
  write(dir / "truth.csv", truth);
  write(dir / "oracle.csv", known);
}

std::uint64_t number(const std::string& text, const std::string& what) {
  std::uint64_t value = 0;
  const auto [end, error] = std::from_chars(text.data(), text.data() + text.size(), value);
  if (error != std::errc() || end != text.data() + text.size()) throw std::invalid_argument(fmt::format("{}: '{}' is not a whole number of at least 0", what, text));
  return value;
}

}  // namespace

int main(int argc, char** argv) {
  try {
    if (argc != 4) throw std::invalid_argument("make_stops DIR PLAN.csv SET");
    std::ifstream in(argv[2]);
    if (!in) throw std::runtime_error(fmt::format("cannot read {}", argv[2]));
    std::string line;
    bool found = false;
    for (int n = 1; std::getline(in, line); ++n) {
      std::stringstream fields(line);
      std::string name, first, last;
      std::getline(fields, name, ',');
      std::getline(fields, first, ',');
      std::getline(fields, last, ',');
      if (name != argv[3]) continue;
      found = true;
      const std::string where = fmt::format("{} line {}", argv[2], n);
      for (std::uint64_t seed = number(first, where); seed <= number(last, where); ++seed)
        for (int s = 0; s < scenarios; ++s)
          write_case(std::filesystem::path(argv[1]) / fmt::format("{}-{}", scenario_names[static_cast<std::size_t>(s)], seed), make_case(seed, static_cast<Scenario>(s)));
    }
    if (!found) throw std::invalid_argument(fmt::format("{}: no set '{}'", argv[2], argv[3]));
    return 0;
  } catch (const std::exception& e) {
    std::cerr << "make_stops: " << e.what() << "\n";
    return 2;
  }
}
