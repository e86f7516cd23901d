// SPDX-License-Identifier: Apache-2.0
// Grounds, bikes and riders, all invented.   Layer: demo
// README.md [D10], [D11].
#include "plans.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <string>
#include <vector>

namespace rides {

namespace {

const Machine road_bike{.mass_kg = 92, .rotating_kg = 1.7, .drag_area_m2 = 0.40, .rolling_resistance = 0.0060, .efficiency = 0.97};
const Machine city_bike{.mass_kg = 95, .rotating_kg = 1.9, .drag_area_m2 = 0.50, .rolling_resistance = 0.0075, .efficiency = 0.96};
const Machine trail_bike{.mass_kg = 96, .rotating_kg = 2.4, .drag_area_m2 = 0.50, .rolling_resistance = 0.0230, .efficiency = 0.96};
const Machine cargo_bike{.mass_kg = 170, .rotating_kg = 3.0, .drag_area_m2 = 0.72, .rolling_resistance = 0.0090, .efficiency = 0.95,
                         .motor_W = 330};

std::vector<Stretch> repeated(int times, std::vector<Stretch> part) {
  std::vector<Stretch> all;
  for (int i = 0; i < times; ++i) all.insert(all.end(), part.begin(), part.end());
  return all;
}

// A road whose stretches vary by seed around their description, so that two seeds are two roads.
std::vector<Stretch> varied(std::vector<Stretch> road, std::uint64_t seed) {
  Draw draw(seed, Stream::hills);
  for (Stretch& part : road) {
    part.length_m = std::floor(part.length_m * draw.between(0.75, 1.3));
    part.gradient *= draw.between(0.8, 1.2);
    part.comfort_mps *= draw.between(0.92, 1.08);
  }
  return road;
}

//! Seconds that a rider takes for a stretch, roughly: what is needed to make a ride of a given length in time.
double guess_s(const Stretch& part, const Machine& bike, const Habit& habit, double wait_s) {
  const double watts = bike.efficiency * habit.pedal_W * (part.gradient > 0 ? 1 + 6 * part.gradient : 1) + 0.9 * bike.motor_W;
  double v = part.comfort_mps * 0.8;
  if (part.gradient > -0.01) {
    for (int i = 0; i < 40; ++i) {
      const double force = bike.mass_kg * gravity * (part.gradient + bike.rolling_resistance) + 0.6 * bike.drag_area_m2 * v * v;
      v = 0.5 * v + 0.5 * std::clamp(watts / std::max(5.0, force), 0.8, part.comfort_mps * 0.92);
    }
  }
  const double stops = part.junctions_per_km * part.length_m / 1000 * part.stop_share;
  const double bends = part.bends_per_km * part.length_m / 1000 * (part.gradient < -0.02 ? 1.6 : 0.6);
  return part.length_m / v + stops * (wait_s + 11) + bends;
}

}  // namespace

std::optional<Plan> plan_of(std::string_view kind, std::uint64_t seed) {
  const std::string start = fmt::format("2025-05-{:02}T{:02}:00:00Z", 1 + seed % 28, 6 + seed % 11);
  Plan p;
  p.name = std::string(kind);
  p.machine = road_bike;
  p.bike_kind = kind == "city" || kind == "trail" || kind == "cargo" ? std::string(kind)
                : kind == "pass-and-back" ? "trail" : kind == "valley-deliveries" ? "cargo" : "gravel";
  p.start = start;
  if (kind == "long_drag") {
    p.road = varied({{.length_m = 900, .gradient = 0.01, .comfort_mps = 9},
              {.length_m = 2600, .gradient = -0.075, .hills = 0.012, .bends_per_km = 5, .radius_low_m = 12, .comfort_mps = 8.4},
              {.length_m = 700, .gradient = -0.01, .bends_per_km = 3, .comfort_mps = 8.6},
              {.length_m = 3400, .gradient = -0.085, .hills = 0.014, .bends_per_km = 6, .radius_low_m = 10, .comfort_mps = 7.6},
              {.length_m = 1100, .gradient = -0.008, .junctions_per_km = 1.2, .comfort_mps = 8.5}}, seed);
    p.habit = {.pedal_W = 165, .easy_mps = 8.2, .lateral_mps2 = 1.9, .brake_mps2 = 0.75, .coast_mps2 = 0.22, .most_mps2 = 3.5, .style = Style::dragging};
    p.base_altitude_m = 980;
  } else if (kind == "late_hard") {
    p.road = varied({{.length_m = 1200, .gradient = 0.02, .comfort_mps = 12},
              {.length_m = 3600, .gradient = -0.07, .hills = 0.014, .bends_per_km = 6, .radius_low_m = 9, .radius_high_m = 70, .comfort_mps = 15.5},
              {.length_m = 1300, .gradient = 0.015, .bends_per_km = 3, .comfort_mps = 13},
              {.length_m = 3000, .gradient = -0.06, .hills = 0.012, .bends_per_km = 5, .radius_low_m = 11, .radius_high_m = 90, .comfort_mps = 16},
              {.length_m = 1000, .gradient = 0.0, .junctions_per_km = 1, .comfort_mps = 12}}, seed);
    p.habit = {.pedal_W = 215, .easy_mps = 11, .lateral_mps2 = 3.6, .brake_mps2 = 2.3, .coast_mps2 = 0.45, .most_mps2 = 5.2, .style = Style::short_hard};
    p.base_altitude_m = 900;
  } else if (kind == "city") {
    p.machine = city_bike;
    p.road = varied(repeated(3, {{.length_m = 1300, .gradient = 0.006, .hills = 0.007, .bends_per_km = 3, .radius_low_m = 5, .radius_high_m = 40, .junctions_per_km = 4.5, .stop_share = 0.45, .comfort_mps = 6.9},
                          {.length_m = 900, .gradient = -0.02, .hills = 0.010, .bends_per_km = 2, .radius_low_m = 6, .radius_high_m = 50, .junctions_per_km = 3, .stop_share = 0.4, .comfort_mps = 7.8},
                          {.length_m = 900, .gradient = 0.012, .hills = 0.008, .bends_per_km = 3, .radius_low_m = 5, .radius_high_m = 40, .junctions_per_km = 5, .stop_share = 0.5, .comfort_mps = 6.4}}), seed);
    p.habit = {.pedal_W = 135, .easy_mps = 7.2, .lateral_mps2 = 1.8, .brake_mps2 = 1.15, .coast_mps2 = 0.55, .most_mps2 = 3.8, .style = Style::short_hard};
    p.wind_mps = 1.0;
    p.base_altitude_m = 310;
  } else if (kind == "trail") {
    p.machine = trail_bike;
    p.road = varied({{.length_m = 2300, .gradient = 0.075, .hills = 0.02, .bends_per_km = 6, .radius_low_m = 6, .radius_high_m = 40, .comfort_mps = 6},
              {.length_m = 1500, .gradient = -0.12, .hills = 0.035, .bends_per_km = 24, .radius_low_m = 3, .radius_high_m = 18, .comfort_mps = 8.5},
              {.length_m = 1200, .gradient = 0.05, .hills = 0.025, .bends_per_km = 8, .radius_low_m = 5, .radius_high_m = 40, .comfort_mps = 6},
              {.length_m = 1500, .gradient = -0.095, .hills = 0.035, .bends_per_km = 20, .radius_low_m = 3, .radius_high_m = 22, .comfort_mps = 9},
              {.length_m = 500, .gradient = 0.0, .hills = 0.01, .bends_per_km = 4, .radius_low_m = 10, .comfort_mps = 6.5}}, seed);
    p.habit = {.pedal_W = 200, .easy_mps = 6.8, .lateral_mps2 = 2.7, .brake_mps2 = 1.5, .coast_mps2 = 0.5, .most_mps2 = 4.2, .style = Style::short_hard};
    p.wind_mps = 0.6;
    p.base_altitude_m = 640;
  } else if (kind == "rolling") {
    p.road = varied(repeated(4, {{.length_m = 1500, .gradient = 0.03, .hills = 0.016, .bends_per_km = 2, .radius_low_m = 15, .junctions_per_km = 0.3, .comfort_mps = 12.5},
                          {.length_m = 1200, .gradient = -0.04, .hills = 0.016, .bends_per_km = 3, .radius_low_m = 15, .junctions_per_km = 0.5, .comfort_mps = 13},
                          {.length_m = 1400, .gradient = 0.002, .hills = 0.012, .bends_per_km = 2, .radius_low_m = 15, .junctions_per_km = 0.8, .comfort_mps = 12.5}}), seed);
    p.habit = {.pedal_W = 185, .easy_mps = 10, .lateral_mps2 = 2.3, .brake_mps2 = 1.2, .coast_mps2 = 0.4, .most_mps2 = 4.0, .style = Style::short_hard};
    p.base_altitude_m = 380;
  } else if (kind == "cargo") {
    p.machine = cargo_bike;
    p.road = varied(repeated(3, {{.length_m = 1200, .gradient = 0.005, .hills = 0.008, .bends_per_km = 3, .radius_low_m = 6, .radius_high_m = 50, .junctions_per_km = 2.5, .stop_share = 0.5, .comfort_mps = 6.6},
                          {.length_m = 800, .gradient = 0.045, .hills = 0.012, .bends_per_km = 2, .radius_low_m = 8, .junctions_per_km = 1, .comfort_mps = 6.6},
                          {.length_m = 900, .gradient = -0.048, .hills = 0.012, .bends_per_km = 3, .radius_low_m = 7, .junctions_per_km = 1.5, .stop_share = 0.5, .comfort_mps = 6.8},
                          {.length_m = 700, .gradient = -0.003, .hills = 0.006, .bends_per_km = 3, .radius_low_m = 6, .junctions_per_km = 3, .stop_share = 0.5, .comfort_mps = 6.2}}), seed);
    p.habit = {.pedal_W = 120, .easy_mps = 6.7, .lateral_mps2 = 1.6, .brake_mps2 = 0.9, .coast_mps2 = 0.22, .most_mps2 = 3.0, .style = Style::dragging};
    p.wind_mps = 0.9;
    p.wait_s = 18;
    p.base_altitude_m = 330;
  } else if (kind == "pass-and-back") {
    p.machine = {.mass_kg = 96, .rotating_kg = 2.3, .drag_area_m2 = 0.46, .rolling_resistance = 0.0110, .efficiency = 0.96};
    p.road = {{.length_m = 3000, .gradient = 0.008, .bends_per_km = 2, .junctions_per_km = 0.7, .comfort_mps = 9},
              {.length_m = 3700, .gradient = 0.064, .hills = 0.012, .bends_per_km = 4, .radius_low_m = 10, .comfort_mps = 8.6},
              {.length_m = 700, .gradient = 0.015, .bends_per_km = 3, .comfort_mps = 9.5},
              {.length_m = 4000, .gradient = 0.078, .hills = 0.014, .bends_per_km = 6, .radius_low_m = 8, .comfort_mps = 8.0},
              {.length_m = 500, .gradient = 0.01, .bends_per_km = 2, .comfort_mps = 9}};
    p.back_again = true;
    p.rest_s = 260;
    p.habit = {.pedal_W = 180, .easy_mps = 8.2, .lateral_mps2 = 2.3, .brake_mps2 = 1.0, .coast_mps2 = 0.3, .most_mps2 = 4.0, .style = Style::dragging};
    p.base_altitude_m = 430;
    p.air_degC = 17;
    p.start = "2025-05-10T07:20:00Z";
    p.draw_parameters = false;
  } else if (kind == "valley-deliveries") {
    p.machine = cargo_bike;
    p.road = repeated(3, {{.length_m = 1500, .gradient = 0.006, .hills = 0.008, .bends_per_km = 3, .radius_low_m = 6, .radius_high_m = 50, .junctions_per_km = 2.6, .stop_share = 0.55, .comfort_mps = 6.5},
                          {.length_m = 700, .gradient = 0.05, .hills = 0.012, .bends_per_km = 3, .radius_low_m = 8, .junctions_per_km = 1.4, .comfort_mps = 6.4},
                          {.length_m = 850, .gradient = -0.052, .hills = 0.012, .bends_per_km = 4, .radius_low_m = 7, .junctions_per_km = 1.2, .stop_share = 0.5, .comfort_mps = 6.7},
                          {.length_m = 750, .gradient = -0.003, .hills = 0.006, .bends_per_km = 4, .radius_low_m = 5, .radius_high_m = 30, .junctions_per_km = 4, .stop_share = 0.6, .comfort_mps = 5.9}});
    p.habit = {.pedal_W = 115, .easy_mps = 6.6, .lateral_mps2 = 1.6, .brake_mps2 = 0.9, .coast_mps2 = 0.22, .most_mps2 = 3.0, .style = Style::dragging};
    p.wind_mps = 0.9;
    p.wait_s = 20;
    p.long_stop_share = 0.3;
    p.base_altitude_m = 340;
    p.air_degC = 12;
    p.start = "2025-05-13T06:40:00Z";
    p.draw_parameters = false;
  } else if (kind == "town-and-ridge") {
    p.machine = {.mass_kg = 88, .rotating_kg = 1.8, .drag_area_m2 = 0.43, .rolling_resistance = 0.0072, .efficiency = 0.97};
    p.road = {{.length_m = 1900, .gradient = 0.004, .hills = 0.008, .bends_per_km = 3, .radius_low_m = 7, .radius_high_m = 60, .junctions_per_km = 2.5, .stop_share = 0.4, .comfort_mps = 7.5},
              {.length_m = 2700, .gradient = 0.044, .hills = 0.014, .bends_per_km = 3, .radius_low_m = 15, .junctions_per_km = 0.3, .comfort_mps = 9},
              {.length_m = 3200, .gradient = 0.003, .hills = 0.026, .bends_per_km = 4, .radius_low_m = 15, .comfort_mps = 9},
              {.length_m = 2500, .gradient = -0.052, .hills = 0.014, .bends_per_km = 5, .radius_low_m = 10, .radius_high_m = 70, .comfort_mps = 8.2},
              {.length_m = 3300, .gradient = -0.002, .hills = 0.010, .bends_per_km = 2.5, .radius_low_m = 7, .radius_high_m = 60, .junctions_per_km = 2.0, .stop_share = 0.45, .comfort_mps = 7.5}};
    p.habit = {.pedal_W = 165, .easy_mps = 8.6, .lateral_mps2 = 1.6, .brake_mps2 = 0.85, .coast_mps2 = 0.42, .most_mps2 = 2.8, .style = Style::short_hard};
    p.base_altitude_m = 365;
    p.air_degC = 9;
    p.start = "2025-05-16T05:50:00Z";
    p.draw_parameters = false;
  } else {
    return std::nullopt;
  }
  return p;
}

// Rides of the study: ground, rider, bike, mass and wind drawn by seed [D10]

// Typical figures of each kind of bike with its rider, ours: usual figures for the position and the tyres, from memory.
// The study draws drag area (12 %) and rolling resistance (18 %) around them.
Machine typical(std::string_view bike) {
  if (bike == "road") return {.mass_kg = 86, .rotating_kg = 1.5, .drag_area_m2 = 0.37, .rolling_resistance = 0.0052, .efficiency = 0.97};
  if (bike == "gravel") return {.mass_kg = 90, .rotating_kg = 1.8, .drag_area_m2 = 0.42, .rolling_resistance = 0.0078, .efficiency = 0.97};
  if (bike == "city") return {.mass_kg = 95, .rotating_kg = 2.0, .drag_area_m2 = 0.52, .rolling_resistance = 0.0075, .efficiency = 0.96};
  if (bike == "trail") return {.mass_kg = 96, .rotating_kg = 2.4, .drag_area_m2 = 0.50, .rolling_resistance = 0.0200, .efficiency = 0.96};
  return cargo_bike;
}

std::optional<Plan> study_plan(std::string_view kind, std::uint64_t seed, double pace, Study study) {
  Draw d(seed, Stream::study);
  const auto either = [&](double share) { return d.uniform() < share; };
  Plan p;
  p.study = true;
  p.name = std::string(kind);
  p.start = fmt::format("2025-{:02}-{:02}T{:02}:{:02}:00Z", 3 + seed % 7, 1 + seed % 28, 6 + seed % 11, seed % 60);
  p.air_degC = std::round(d.between(4, 27));
  p.wanted_s = 60 * d.between(22, 43);
  const double wanted_s = p.wanted_s * pace;

  // Bike, and rider on it.
  const bool on_road = kind == "long_drag" || kind == "late_hard" || kind == "rolling";
  if (on_road) p.bike_kind = either(kind == "late_hard" ? 0.65 : 0.45) ? "road" : "gravel";
  else p.bike_kind = std::string(kind);
  p.machine = typical(p.bike_kind);
  const double heavy = p.bike_kind == "cargo" ? d.between(-45, 45) : std::clamp(11 * d.normal(), -22.0, 24.0);
  p.told_mass_kg = std::round(p.machine.mass_kg + heavy);
  Draw mass(seed, Stream::mass);
  double wrong = 0;
  do wrong = 0.0075 * mass.normal(); while (std::abs(wrong) > 0.015);
  p.machine.mass_kg = p.told_mass_kg * (1 + wrong);
  p.machine.rotating_kg *= d.between(0.85, 1.2);
  p.machine.efficiency = d.between(0.95, 0.98) - (p.bike_kind == "cargo" ? 0.015 : 0);
  const double fit = d.between(0.8, 1.2);       // legs
  const double bold = d.between(0.85, 1.15);    // and nerve
  p.wind_exact_mps = 5 * d.uniform();
  // Manners: most riders do a little of everything, some a lot.
  Manners& m = p.manners;
  m.soft_share = either(0.5) ? d.between(0.03, 0.2) : 0;
  m.dab_share = d.between(0, 0.3);
  m.rest_every_s = d.between(35, 180);
  m.rest_low_s = 1.5;
  m.rest_high_s = d.between(6, 20);
  m.lively = d.between(1, 2.2);
  m.standing_per_min = d.between(0, 1.0);
  p.long_stop_share = either(0.3) ? d.between(0.1, 0.6) : 0;  // a rest, a view, a telephone
  m.sprints_per_min = either(0.4) ? d.between(0.05, 0.35) : 0;
  m.tuck = either(0.4) ? d.between(0.04, 0.18) : 0;
  if (on_road && either(0.25)) {
    m.company_share = d.between(0.15, 0.45);
    m.company_area = d.between(0.66, 0.85);
  }

  p.ground = {.bumps = d.between(0.002, 0.016), .bumps_m = d.between(20, 45), .steepest = 0.19};

  // Ground: parts are laid one after the other until the ride is long enough.
  double seconds = 0;
  double rise_m = 0, lowest_m = 0;
  const auto lay = [&](Stretch part) {
    part.length_m = std::floor(part.length_m);
    seconds += guess_s(part, p.machine, p.habit, p.wait_s);
    rise_m += part.gradient * part.length_m;
    lowest_m = std::min(lowest_m, rise_m);
    p.road.push_back(part);
  };
  if (kind == "long_drag") {
    p.habit = {.pedal_W = 165 * fit, .easy_mps = d.between(7.2, 9), .lateral_mps2 = 1.9 * bold, .brake_mps2 = d.between(0.6, 1.0), .coast_mps2 = d.between(0.15, 0.35), .most_mps2 = 3.5, .style = Style::dragging};
    const double steep = d.between(0.05, 0.11);
    const double held_mps = d.between(4.6, 9.2);  // some creep all the way down
    lay({.length_m = d.between(300, 1300), .gradient = d.between(0.0, 0.03), .comfort_mps = 9});
    while (seconds < wanted_s) {
      lay({.length_m = d.between(900, 3600), .gradient = -steep * d.between(0.75, 1.25), .hills = d.between(0.008, 0.018), .bends_per_km = d.between(2, 8), .radius_low_m = d.between(8, 15), .radius_high_m = d.between(70, 140), .comfort_mps = held_mps * d.between(0.88, 1.14)});
      if (seconds > wanted_s) break;
      const double then = d.uniform();
      if (then < 0.5) lay({.length_m = d.between(300, 1200), .gradient = d.between(-0.015, 0.01), .bends_per_km = 3, .junctions_per_km = d.between(0, 1.5), .comfort_mps = 8.6});
      else if (then < 0.8) lay({.length_m = d.between(300, 1000), .gradient = d.between(0.02, 0.06), .bends_per_km = 3, .comfort_mps = 8.6});
    }
    lay({.length_m = d.between(300, 900), .gradient = -0.006, .junctions_per_km = 1.2, .comfort_mps = 8.4});
    p.open_share = 0.65;
    p.shelter_sway = 0.3;
  } else if (kind == "late_hard") {
    p.habit = {.pedal_W = 215 * fit, .easy_mps = d.between(9.5, 12.5), .lateral_mps2 = 3.6 * bold, .brake_mps2 = d.between(1.7, 2.9), .coast_mps2 = d.between(0.35, 0.6), .most_mps2 = 5.2, .style = Style::short_hard};
    lay({.length_m = d.between(500, 1500), .gradient = d.between(0.0, 0.04), .comfort_mps = 12});
    while (seconds < wanted_s) {
      lay({.length_m = d.between(1400, 4200), .gradient = -d.between(0.04, 0.09), .hills = d.between(0.010, 0.018), .bends_per_km = d.between(3.5, 8), .radius_low_m = d.between(8, 13), .radius_high_m = d.between(60, 110), .comfort_mps = d.between(12.5, 17.5) * bold});
      if (seconds > wanted_s) break;
      if (either(0.75)) lay({.length_m = d.between(400, 1500), .gradient = d.between(0.0, 0.06), .bends_per_km = 3, .comfort_mps = 13});
    }
    lay({.length_m = d.between(400, 1100), .gradient = 0.0, .junctions_per_km = 1, .comfort_mps = 12});
    p.open_share = 0.7;
  } else if (kind == "city") {
    p.habit = {.pedal_W = 135 * fit, .easy_mps = d.between(6.4, 8.2), .lateral_mps2 = 1.8 * bold, .brake_mps2 = d.between(0.9, 1.6), .coast_mps2 = d.between(0.35, 0.75), .most_mps2 = 3.8, .style = either(0.3) ? Style::dragging : Style::short_hard};
    p.wait_s = d.between(8, 22);
    p.long_stop_share *= 0.2;                    // there are many stops
    const double brisk = d.between(0.9, 1.25);
    p.habit.pedal_W *= brisk * brisk;
    p.habit.easy_mps *= brisk;
    const double hilly = d.between(0.004, 0.03);
    const double busy = d.between(2.2, 5.5);
    while (seconds < wanted_s) {
      lay({.length_m = d.between(400, 1400), .gradient = std::clamp(hilly * d.normal(), -0.06, 0.06), .hills = d.between(0.004, 0.010), .bends_per_km = d.between(1.5, 4), .radius_low_m = d.between(4, 8), .radius_high_m = 45, .junctions_per_km = busy * d.between(0.6, 1.4), .stop_share = d.between(0.35, 0.6), .comfort_mps = d.between(5.8, 8.0) * brisk});
    }
    m.surprises_per_km = d.between(0.2, 1.5);
    p.open_share = 0.5;
    p.shelter_sway = 0.35;
  } else if (kind == "trail") {
    p.habit = {.pedal_W = 195 * fit, .easy_mps = d.between(6, 7.5), .lateral_mps2 = 3.0 * bold, .brake_mps2 = d.between(1.2, 3.0), .coast_mps2 = d.between(0.35, 0.65), .most_mps2 = 4.8, .style = either(0.35) ? Style::dragging : Style::short_hard};
    const bool carried = either(0.3);
    const double up_share = carried ? d.between(0.0, 0.2) : d.between(0.6, 1.0);  // some were carried up
    if (carried) p.wanted_s = 60 * d.between(20.5, 27);  // few hills are longer
    const double until_s = p.wanted_s * pace;
    while (seconds < until_s) {
      const double climb = d.between(0.035, 0.10);
      if (either(up_share)) lay({.length_m = d.between(350, 1500), .gradient = climb, .hills = d.between(0.015, 0.03), .bends_per_km = d.between(5, 10), .radius_low_m = 5, .radius_high_m = 40, .comfort_mps = 6});
      lay({.length_m = d.between(450, 1700), .gradient = -d.between(0.06, 0.15), .hills = d.between(0.025, 0.04), .bends_per_km = d.between(12, 26), .radius_low_m = d.between(2.8, 4.5), .radius_high_m = d.between(15, 28), .comfort_mps = d.between(6.5, 10.8) * bold});
      if (either(0.4)) lay({.length_m = d.between(200, 700), .gradient = d.between(-0.01, 0.015), .hills = 0.015, .bends_per_km = 8, .radius_low_m = 5, .radius_high_m = 40, .comfort_mps = 6.5});
    }
    m.dab_share = d.between(0.1, 0.6);
    m.rolling_sway = 0.2;
    p.ground = {.bumps = d.between(0.02, 0.075), .steepest = 0.33};
    p.open_share = 0.35;
    p.shelter_sway = 0.25;
  } else if (kind == "rolling") {
    p.habit = {.pedal_W = 185 * fit, .easy_mps = d.between(9, 11), .lateral_mps2 = 2.3 * bold, .brake_mps2 = d.between(0.9, 1.7), .coast_mps2 = d.between(0.25, 0.5), .most_mps2 = 4.0, .style = either(0.25) ? Style::dragging : Style::short_hard};
    while (seconds < wanted_s) {
      const double g = d.between(0.012, 0.06);
      lay({.length_m = d.between(500, 2100), .gradient = g, .hills = d.between(0.010, 0.028), .bends_per_km = 2, .radius_low_m = 15, .junctions_per_km = 0.3, .comfort_mps = 12.5});
      lay({.length_m = d.between(500, 2100), .gradient = -g * d.between(0.8, 1.2), .hills = d.between(0.010, 0.028), .bends_per_km = d.between(1.5, 4), .radius_low_m = 14, .junctions_per_km = 0.5, .comfort_mps = d.between(11, 14.5) * bold});
      if (either(0.6)) lay({.length_m = d.between(500, 2000), .gradient = d.between(-0.006, 0.006), .hills = 0.010, .bends_per_km = 2, .radius_low_m = 12, .junctions_per_km = d.between(0.3, 1.4), .comfort_mps = 12.5});
    }
    p.open_share = 0.75;
  } else if (kind == "cargo") {
    p.machine.motor_W = d.between(220, 420);
    p.habit = {.pedal_W = 120 * fit, .easy_mps = d.between(6.1, 7.2), .lateral_mps2 = 1.6 * bold, .brake_mps2 = d.between(0.7, 1.2), .coast_mps2 = d.between(0.18, 0.4), .most_mps2 = 3.0, .style = either(0.6) ? Style::dragging : Style::short_hard};
    p.wait_s = d.between(10, 25);
    p.long_stop_share = d.between(0, 0.25);
    while (seconds < wanted_s) {
      lay({.length_m = d.between(500, 1500), .gradient = d.between(-0.008, 0.012), .hills = 0.008, .bends_per_km = 3, .radius_low_m = 6, .radius_high_m = 50, .junctions_per_km = d.between(1.5, 3.5), .stop_share = 0.5, .comfort_mps = 6.6});
      const double g = d.between(0.02, 0.065);
      const bool up_first = either(0.5);
      lay({.length_m = d.between(300, 1000), .gradient = up_first ? g : -g, .hills = 0.012, .bends_per_km = 3, .radius_low_m = 7, .junctions_per_km = 1.2, .stop_share = 0.5, .comfort_mps = d.between(6.2, 7.6) * std::sqrt(bold)});
      lay({.length_m = d.between(200, 700), .gradient = d.between(-0.004, 0.004), .hills = 0.006, .bends_per_km = 3, .radius_low_m = 6, .junctions_per_km = 3, .stop_share = 0.5, .comfort_mps = 6.2});
      lay({.length_m = d.between(300, 1000), .gradient = up_first ? -g : g, .hills = 0.012, .bends_per_km = 3, .radius_low_m = 7, .junctions_per_km = 1.2, .stop_share = 0.5, .comfort_mps = d.between(6.2, 7.6) * std::sqrt(bold)});
    }
    m.surprises_per_km = d.between(0.1, 0.7);
    p.open_share = 0.55;
    p.shelter_sway = 0.35;
  } else {
    return std::nullopt;
  }
  // Rides end where it is nearly flat.
  lay({.length_m = d.between(150, 400), .gradient = d.between(-0.012, 0.006), .hills = 0.006, .bends_per_km = 1, .comfort_mps = std::min(7.5, p.road.back().comfort_mps)});
  p.base_altitude_m = std::round(d.between(180, 420) - lowest_m);
  if (study == Study::as_listed) {
    // Set after every draw, so that ground, rider, bike, mass and wind are those of the whole study by the same seed.
    p.even_wind = true;
    m.soft_share = 0;
    m.company_share = 0;
    m.company_area = 1;
    m.tuck = 0;
    m.standing_area = 1;
    m.braking_area = 1;
    m.area_sway = 0;
    m.rolling_sway = 0;
  }
  return p;
}

std::optional<Plan> study_plan(std::string_view kind, std::uint64_t seed, Study study) {
  double pace = 1;
  std::optional<Plan> plan = study_plan(kind, seed, pace, study);
  for (int attempt = 0; plan && attempt < 6; ++attempt) {
    const double took_s = static_cast<double>(simulate(*plan, seed).states.size()) * step_s;
    if (took_s >= 20 * 60 && took_s <= 45 * 60) break;
    pace *= std::clamp(plan->wanted_s / took_s, 0.5, 2.0);
    plan = study_plan(kind, seed, pace, study);
  }
  return plan;
}

}  // namespace rides
