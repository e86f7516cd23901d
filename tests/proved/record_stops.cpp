// SPDX-License-Identifier: Apache-2.0
// Recordings of invented bikes' proof stops, a second a record, and what `stop --from-ride` makes of them.   Layer: tests/proved
// record_stops make DIR FIRST LAST writes bikes, rides, squeezes and truth; record_stops judge DIR scores front.json and rear.json.
// Law of the recorders: README.md [P8].
#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <filesystem>
#include <fstream>
#include <iostream>
#include <nlohmann/json.hpp>
#include <numbers>

#include "../worn/draws.hpp"
#include "score.hpp"
#include "stops.hpp"

namespace {
using namespace proved;
using worn::Draws;
namespace fs = std::filesystem;

constexpr double tick_s = 0.01, metres_per_degree = 110852.4;   // of latitude at 30 degrees (length of an arc of the meridian, from memory)

void write(const fs::path& path, const std::string& text) {
  std::ofstream out(path, std::ios::binary);
  out << text;
  if (!out.flush()) throw std::runtime_error("cannot write " + path.string());
}

std::string stamp(double s) {   // 2025-05-20 from ten o'clock on
  const int whole = static_cast<int>(s), ms = static_cast<int>(std::lround(1000 * (s - whole)));
  return fmt::format("2025-05-20T{:02}:{:02}:{:02}.{:03}Z", 10 + whole / 3600, whole / 60 % 60, whole % 60, std::min(ms, 999));
}

//! [P8] What kind of recorder: places alone, places and a speed of their own, places and the speed of a wheel's sensor.
struct Recorder {
  int kind;
  double smear_s, late_s, white_m, slow_m, speed_noise_mps, wheel_bias;
};
Recorder any_recorder(Draws& d) {
  return {.kind = static_cast<int>(3 * d.uniform()), .smear_s = d.uniform(0, 1.6), .late_s = d.uniform(0, 1.5), .white_m = d.uniform(0.1, 0.4), .slow_m = d.uniform(1.5, 3.5), .speed_noise_mps = d.uniform(0.05, 0.2),
          .wheel_bias = 0.01 * d.normal()};
}

// The mean over the smear, late; a recorder's filter is no box but falls off, and one must not be built into the estimator.
double smeared(const std::vector<double>& of, double t, const Recorder& r) {
  const auto at = [&](double s) { return of[static_cast<std::size_t>(std::clamp(s / tick_s, 0.0, static_cast<double>(of.size() - 1)))]; };
  if (r.smear_s < tick_s) return at(t - r.late_s);
  double sum = 0, weights = 0;
  for (double back = 0; back < 3 * r.smear_s; back += tick_s) {   // sd of an exponential of length smear/sqrt(12) is that of the box
    const double w = std::exp(-back * std::sqrt(12.0) / r.smear_s);
    sum += w * at(t - r.late_s - back), weights += w;
  }
  return sum / weights;
}

void make(const fs::path& root, std::uint64_t seed) {
  const Bike b = make_bike(seed);
  const fs::path dir = root / fmt::format("recorded-{}", seed);
  fs::create_directories(dir);
  std::string bike = fmt::format("format = 1\n\n[bike]\nkind = \"{}\"\ntotal_mass_kg = {{ value = {:.1f}, sd = {:.1f} }}\nwheelbase_m = {:.2f}\n", kind_names[static_cast<std::size_t>(b.kind)], b.told_mass_kg, 0.02 * b.told_mass_kg, b.wheelbase_m);
  for (std::size_t w = 0; w < 2; ++w) {
    const Brake& k = b.brakes[w];
    bike += fmt::format("\n[{}]\nactuation = \"{}\"\nrotor.diameter_mm = {}\npads.compound = \"{}\"\n", wheel_names[w], actuation_names[static_cast<std::size_t>(k.actuation)], k.rotor_mm, compound_names[static_cast<std::size_t>(k.compound)]);
    if (k.actuation != Actuation::cable) bike += fmt::format("caliper.pistons_per_side = {}\ncaliper.piston_diameter_mm = {}\n", k.pistons_per_side, k.piston_mm);
  }
  write(dir / "bike.toml", bike);

  Draws d(worn::part_of(seed, 40));
  const Recorder r = any_recorder(d);
  const double scale_bias = 0.03 * d.normal(), wind = 1.2 * d.normal(), grade = 0.005 * d.normal();
  const double free_s = d.uniform(0.06, 0.14), rise_s = d.uniform(0.15, 0.35), waver = d.uniform(0.03, 0.10), usual = d.uniform(6.0, 9.0);
  std::string truth = "wheel,gain_mps2_N,recorder,smear_s\n";
  for (int w = 0; w < 2; ++w) {
    const std::size_t i = static_cast<std::size_t>(w);
    const double of_day = d.scatter(0.03), aim = w == 0 ? d.uniform(1.6, 2.8) : d.uniform(0.9, 1.5), place_error = 0.025 * d.normal();
    std::vector<double> speed;
    std::string forces;
    double warm = 0;
    const double first_short = 0.03 * std::abs(d.normal());
    for (int n = 0; n < 5; ++n) {
      Stop s;
      Halt run{};
      std::vector<double> trace;
      for (int attempt = 0; attempt < 9; ++attempt) {   // who slides does the stop again, more gently
        s = {};
        s.from_mps = usual * (1 + 0.03 * d.normal());
        s.grade = grade, s.wind_mps = wind + 0.4 * d.normal();
        s.free_s = free_s * d.scatter(0.15), s.rise_s = rise_s * d.scatter(0.2);
        s.waver = waver, s.waver_Hz = d.uniform(0.5, 1.5), s.waver_phase = d.uniform(0, 2 * std::numbers::pi), s.trend = 0.04 * d.normal();
        const double bedding = 1 - (b.new_pads ? b.new_pads_short * std::exp(-n / 3.0) : 0) - first_short * std::exp(-1.1 * n);
        s.friction[i] = of_day * bedding * d.scatter(b.stop_scatter);
        s.warm_K[i] = warm;
        s.force_N[i] = std::clamp((b.brakes[i].threshold_N + aim * moved_mass_kg(b) / b.brakes[i].slope * std::pow(0.85, attempt)) * d.scatter(0.10), 12.0, 170.0);
        trace.clear();
        run = run_stop(b, s, tick_s / 10, &trace);
        if (run.slid_share <= 0.1 && run.deepest_mps2 <= 0.95 * lift_limit_mps2(b)) break;
      }
      const auto steady = [&](double seconds) { for (double t = 0; t < seconds; t += tick_s) speed.push_back(s.from_mps * (1 + 0.01 * std::sin(0.9 * t))); };
      for (double t = 0; t < 7; t += tick_s) speed.push_back(s.from_mps * t / 7);
      steady(d.uniform(6, 12));
      for (std::size_t k = 0; k < trace.size(); k += 10) speed.push_back(trace[k]);
      for (double t = d.uniform(8, 20); t > 0; t -= tick_s) speed.push_back(0);
      warm = (warm + run.brake_J[i] / b.brakes[i].rotor_J_K) * std::exp(-0.8);
      forces += fmt::format("{}{:.0f}N", n ? "," : "", std::max(5.0, 5 * std::round(s.force_N[i] * run.plateau_share * (1 + scale_bias) * (1 + place_error) * (1 + 0.04 * d.normal()) / 5)));
    }
    std::vector<double> way(speed.size());
    for (std::size_t k = 1; k < way.size(); ++k) way[k] = way[k - 1] + speed[k - 1] * tick_s;
    std::string gpx = "<?xml version=\"1.0\"?>\n<gpx version=\"1.1\" creator=\"invented\" xmlns=\"http://www.topografix.com/GPX/1/1\" xmlns:i=\"urn:invented\"><trk><trkseg>\n";
    double slow_north = r.slow_m * d.normal(), slow_east = r.slow_m * d.normal();
    const double keep = std::exp(-1.0 / 60), kick = r.slow_m * std::sqrt(1 - keep * keep), whole = tick_s * static_cast<double>(way.size());
    for (double t = d.uniform(); t < whole; t += 1) {
      slow_north = keep * slow_north + kick * d.normal(), slow_east = keep * slow_east + kick * d.normal();
      const double north = smeared(way, t, r) + slow_north + r.white_m * d.normal(), east = slow_east + r.white_m * d.normal();
      double v = smeared(speed, t, r);
      v = r.kind == 2 ? v * (1 + r.wheel_bias) + 0.03 * d.normal() : v + r.speed_noise_mps * d.normal() * std::min(1.0, v);
      gpx += fmt::format("<trkpt lat=\"{:.8f}\" lon=\"{:.8f}\"><ele>{:.1f}</ele><time>{}</time>", -30 + north / metres_per_degree, -20 + east / (metres_per_degree * std::cos(std::numbers::pi / 6)), 100 + 0.2 * d.normal(), stamp(t));
      if (r.kind > 0) gpx += fmt::format("<extensions><i:speed>{:.2f}</i:speed></extensions>", std::max(v, 0.0));
      gpx += "</trkpt>\n";
    }
    write(dir / (std::string(wheel_names[i]) + ".gpx"), gpx + "</trkseg></trk></gpx>\n");
    write(dir / (std::string(wheel_names[i]) + ".forces"), forces);
    truth += fmt::format("{},{:.8g},{},{:.2f}\n", wheel_names[i], sound_gain(b, w) * of_day, r.kind == 0 ? "places" : r.kind == 1 ? "speed" : "wheel", r.smear_s);
  }
  write(dir / "truth.csv", truth);
}

int judge(const fs::path& root) {
  struct Row {
    Share ninety;
    double bias = 0, squares = 0;
    std::vector<double> width;
    int n = 0, none = 0, found = 0;
  };
  std::map<std::string, Row> rows;
  std::vector<fs::path> dirs;
  for (const auto& e : fs::directory_iterator(root)) dirs.push_back(e.path());
  std::sort(dirs.begin(), dirs.end());
  for (const fs::path& dir : dirs) {
    std::ifstream in(dir / "truth.csv");
    std::string line;
    std::getline(in, line);
    while (std::getline(in, line)) {
      std::vector<std::string> f(1);
      for (const char c : line)
        if (c == ',') f.emplace_back();
        else f.back() += c;
      std::ifstream answer(dir / (f[0] + ".json"));
      const nlohmann::json j = nlohmann::json::parse(answer, nullptr, false);
      for (const std::string& key : {std::string("all"), f[0], f[2]}) {
        Row& row = rows[key];
        if (j.is_discarded() || !j.contains("gain") || j["gain"][f[0]].is_null() || !j["gain"][f[0]]["p50"].is_number() || !j["gain"][f[0]]["measured"].get<bool>()) {
          ++row.none;
          continue;
        }
        const auto& g = j["gain"][f[0]];
        const double truth = std::stod(f[1]), p05 = g["p05"], p50 = g["p50"], p95 = g["p95"], off = std::log(p50 / truth);
        ++row.n, row.found += g["stops"].get<int>();
        row.ninety.add(dir.filename(), p05 <= truth && truth <= p95);
        row.bias += off, row.squares += off * off;
        row.width.push_back(p95 / p05);
      }
    }
  }
  fmt::print("{:<8} {:>5} {:>5} {:>6}  {:>12}  {:>16}  {:>6}\n", "of", "n", "none", "stops", "90 %", "ln bias, sd", "width");
  for (auto& [key, r] : rows) {
    if (r.n == 0) continue;
    std::nth_element(r.width.begin(), r.width.begin() + r.n / 2, r.width.end());
    const double mean = r.bias / r.n;
    fmt::print("{:<8} {:>5} {:>5} {:>6.1f}  {:5.1f} ± {:4.1f}  {:>+7.3f}, {:>6.3f}  {:>6.3f}\n", key, r.n, r.none, static_cast<double>(r.found) / r.n, 100 * r.ninety.value(), 100 * r.ninety.standard_error(), mean,
               std::sqrt(std::max(0.0, r.squares / r.n - mean * mean)), r.width[static_cast<std::size_t>(r.n / 2)]);
  }
  const double cover = rows["all"].ninety.value();
  fmt::print("{}  90 % intervals of recorded stops cover {:.1f} % (asked at least 85)\n", cover >= 0.85 ? "kept  " : "MISSED", 100 * cover);
  return cover >= 0.85 ? 0 : 1;
}

}  // namespace

int main(int argc, char** argv) {
  try {
    const std::string verb = argc > 1 ? argv[1] : "";
    if (verb == "make" && argc == 5) {
      for (std::uint64_t seed = std::stoull(argv[3]); seed <= std::stoull(argv[4]); ++seed) make(argv[2], seed);
      return 0;
    }
    if (verb == "judge" && argc == 3) return judge(argv[2]);
    throw std::invalid_argument("record_stops make DIR FIRST LAST, or record_stops judge DIR");
  } catch (const std::exception& e) {
    std::cerr << "record_stops: " << e.what() << "\n";
    return 2;
  }
}
