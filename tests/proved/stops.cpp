// SPDX-License-Identifier: Apache-2.0
// The bikes, their stops and the readings of them.   Layer: tests/proved
// Theory and ranges: README.md [P1]..[P7].
// Pure functions of the seed: any thread.
#include "stops.hpp"

#include <algorithm>
#include <cmath>
#include <numbers>

#include "draws.hpp"

namespace proved {
namespace {
using worn::Draws;
using worn::part_of;
constexpr double g_mps2 = 9.81, air_kg_m3 = 1.2;
std::size_t at(int i) { return static_cast<std::size_t>(i); }
double rounded(double x, double step) { return step * std::round(x / step); }

// [P2] Ratio of clamp force on one side to lever force, losses in.
double clamp_ratio(Draws& d, Brake& b) {
  const double lever = d.uniform(3.8, 6.0);
  b.pistons_per_side = 1;
  b.piston_mm = 22;
  if (b.actuation == Actuation::cable) {
    const double cable_lever = lever * 0.85, arm_and_ramp = d.uniform(4.0, 5.6), passes = d.uniform(0.6, 0.85);
    b.threshold_N = d.uniform(4, 12);
    return cable_lever * arm_and_ramp * passes;
  }
  constexpr std::array<double, 3> bores = {20, 21, 22};
  b.piston_mm = bores[at(static_cast<int>(3 * d.uniform()))];
  const double area = b.piston_mm * b.piston_mm;
  if (b.actuation == Actuation::cable_to_hydraulic) {
    const double arm = d.uniform(1.7, 2.4), master = d.uniform(11, 12.5), passes = d.uniform(0.62, 0.85);
    b.threshold_N = d.uniform(5, 13);
    return lever * 0.85 * arm * area / (master * master) * passes;
  }
  const double master = d.uniform(9.5, 11), passes = d.uniform(0.85, 0.95);
  b.threshold_N = d.uniform(2, 7);
  return lever * area / (master * master) * passes;
}

struct KindRange { double mass_lo, mass_hi, base_lo, base_hi, height_lo, height_hi, radius, cda_lo, cda_hi, rotor_front, rotor_rear; };
constexpr std::array<KindRange, 5> ranges = {{{75, 110, 1.12, 1.25, 1.02, 1.18, 0.365, 0.45, 0.60, 180, 180},
                                              {70, 105, 1.00, 1.06, 1.00, 1.14, 0.350, 0.36, 0.48, 160, 160},
                                              {65, 100, 0.97, 1.02, 0.98, 1.10, 0.338, 0.30, 0.42, 160, 140},
                                              {75, 120, 1.05, 1.15, 1.02, 1.18, 0.350, 0.45, 0.62, 160, 160},
                                              {120, 200, 1.30, 2.00, 0.85, 1.05, 0.300, 0.60, 0.85, 180, 180}}};
}  // namespace

Bike make_bike(std::uint64_t seed) {
  Draws d(part_of(seed, 1));
  Bike b{};
  b.seed = seed;
  b.kind = static_cast<Kind>(seed % 5);
  const KindRange& k = ranges[at(static_cast<int>(b.kind))];
  b.mass_kg = d.uniform(k.mass_lo, k.mass_hi);
  b.told_mass_kg = rounded(b.mass_kg * (1 + 0.02 * d.normal()), 0.5);
  b.wheelbase_m = d.uniform(k.base_lo, k.base_hi);
  b.height_m = d.uniform(k.height_lo, k.height_hi);
  b.from_front_m = b.wheelbase_m * d.uniform(0.54, 0.62);
  b.wheel_radius_m = k.radius;
  b.wheel_inertia_kgm2 = d.uniform(0.08, 0.18) * k.radius / 0.35;
  b.drag_area_m2 = d.uniform(k.cda_lo, k.cda_hi);
  b.rolling = d.uniform(0.004, 0.012);
  b.grip = d.uniform(0.8, 1.0);
  const double choice = d.uniform();
  const Actuation actuation = b.kind == Kind::trail ? Actuation::hydraulic
                              : choice < 0.5        ? Actuation::hydraulic
                              : choice < 0.8        ? Actuation::cable
                                                    : Actuation::cable_to_hydraulic;
  const Compound compound = static_cast<Compound>(static_cast<int>(3 * d.uniform()));
  constexpr std::array<double, 3> usual_friction = {0.45, 0.42, 0.40};
  for (int w = 0; w < 2; ++w) {
    Brake& brake = b.brakes[at(w)];
    brake.actuation = actuation;
    brake.compound = compound;
    brake.rotor_mm = (w == 0 ? k.rotor_front : k.rotor_rear) + (d.chance(0.3) ? 20 : 0);
    const double clamp = clamp_ratio(d, brake);
    const double friction = std::clamp(usual_friction[at(static_cast<int>(compound))] * d.scatter(0.13), 0.28, 0.62);
    const double effective_radius_m = (brake.rotor_mm / 2 - d.uniform(7, 9)) / 1000;
    brake.slope = clamp * 2 * friction * effective_radius_m / b.wheel_radius_m * d.scatter(0.05);   // parts of one kind differ
    brake.warm_fall_per_K = d.uniform(0.0001, 0.0006);
    brake.low_speed_rise = d.uniform(-0.03, 0.10);
    brake.rotor_J_K = d.uniform(55, 90) * brake.rotor_mm / 170;
  }
  b.stop_scatter = d.uniform(0.05, 0.08);
  b.new_pads = d.chance(0.15);
  b.new_pads_short = d.uniform(0.10, 0.20);
  return b;
}

double moved_mass_kg(const Bike& b) { return b.mass_kg + 2 * b.wheel_inertia_kgm2 / (b.wheel_radius_m * b.wheel_radius_m); }
double reference_force_N(const Bike& b, int wheel) {
  const Brake& k = b.brakes[at(wheel)];
  return k.threshold_N + reference_decel_mps2[at(wheel)] * moved_mass_kg(b) / k.slope;
}
double sound_gain(const Bike& b, int wheel) { return reference_decel_mps2[at(wheel)] / reference_force_N(b, wheel); }
double lift_limit_mps2(const Bike& b) { return g_mps2 * b.from_front_m / b.height_m; }

Halt run_stop(const Bike& b, const Stop& s, double step_s, std::vector<double>* speed_mps) {
  const double moved = moved_mass_kg(b), slope_cos = 1 / std::sqrt(1 + s.grade * s.grade), slope_sin = s.grade * slope_cos;
  Halt r{};
  double v = s.from_mps, t = 0, slid_s = 0, force_sum = 0, decel = 0;
  int plateau_steps = 0;
  std::array<double, 2> warm = s.warm_K;
  while (t < 60) {
    if (speed_mps) speed_mps->push_back(v);
    const double middle = t + step_s / 2;
    double level = s.rise_s > 0 ? std::clamp((middle - s.free_s) / s.rise_s, 0.0, 1.0) : (middle >= s.free_s ? 1.0 : 0.0);
    if (level >= 1) {
      const double held = middle - s.free_s - s.rise_s;
      const double sway = 1 + s.waver * std::sin(2 * std::numbers::pi * s.waver_Hz * held + s.waver_phase) + s.trend * std::clamp(held - 1, -1.0, 1.0);   // [P4]
      level = std::max(0.0, sway);
      force_sum += level;
      ++plateau_steps;
    }
    // [P1] Loads from the deceleration of the step before: the bike sinks on its tyres within a few steps.
    const double front_load = b.mass_kg * (g_mps2 * slope_cos * (b.wheelbase_m - b.from_front_m) - g_mps2 * slope_sin * b.height_m + std::max(0.0, decel) * b.height_m) / b.wheelbase_m;
    const std::array<double, 2> load = {std::max(0.0, front_load), std::max(0.0, b.mass_kg * g_mps2 * slope_cos - front_load)};
    std::array<double, 2> force{};
    bool slid = false;
    for (int w = 0; w < 2; ++w) {
      const Brake& k = b.brakes[at(w)];
      const double friction = s.friction[at(w)] * (1 - k.warm_fall_per_K * warm[at(w)]) * (1 + k.low_speed_rise * (0.5 - v / s.from_mps));
      force[at(w)] = k.slope * std::max(0.0, level * s.force_N[at(w)] - k.threshold_N) * friction;
      const double most = b.grip * load[at(w)];
      if (force[at(w)] > most) {
        force[at(w)] = 0.9 * most;
        slid = true;
      }
    }
    const double air = 0.5 * air_kg_m3 * b.drag_area_m2 * (v + s.wind_mps) * std::abs(v + s.wind_mps);
    const double rolling = b.rolling * b.mass_kg * g_mps2 * slope_cos, climb = b.mass_kg * g_mps2 * slope_sin;
    decel = (force[0] + force[1] + air + rolling + climb) / moved;
    const double used = decel * step_s >= v ? v / decel : step_s;
    const double way = v * used - decel * used * used / 2;
    for (int w = 0; w < 2; ++w) {
      r.brake_J[at(w)] += force[at(w)] * way;
      warm[at(w)] += force[at(w)] * way / b.brakes[at(w)].rotor_J_K;
    }
    r.air_J += air * way;
    r.rolling_J += rolling * way;
    r.climb_J += climb * way;
    r.distance_m += way;
    r.deepest_mps2 = std::max(r.deepest_mps2, decel);
    t += used;
    if (slid) slid_s += used;
    if (used < step_s || decel * step_s == v) {
      r.halted = true;
      break;
    }
    v -= decel * step_s;
  }
  r.time_s = t;
  r.slid_share = slid_s / t;
  r.plateau_share = plateau_steps > 0 ? force_sum / plateau_steps : 1;
  return r;
}

Case make_case(std::uint64_t seed, Scenario scenario) {
  Case c{};
  c.bike = make_bike(seed);
  c.scenario = scenario;
  const Bike& b = c.bike;
  Draws d(part_of(seed, 10 + static_cast<std::uint64_t>(scenario)));

  // [P5] The person and the instruments.
  double scale_bias = 0.03 * d.normal();
  const double speed_bias = 0.01 * d.normal(), pace_bias = 0.04 * d.normal(), mark_bias_s = 0.04 * d.normal(), thumb_bias_s = 0.05 * d.normal();
  const double thumb_sd_s = d.uniform(0.1, 0.2), free_s = d.uniform(0.06, 0.14), rise_s = d.uniform(0.15, 0.35), waver = d.uniform(0.03, 0.10);
  const bool tape = d.chance(0.5), timed = d.chance(0.4), other_scale = d.chance(0.15);
  const double usual_speed = d.uniform(5.5, 8.0);
  const std::array<double, 2> aim = {d.uniform(1.6, 2.8), d.uniform(0.9, 1.5)};

  struct Day { std::array<int, 2> stops; int both; bool history; };
  std::vector<Day> days;
  const bool mixed = scenario == Scenario::mixed;
  if (scenario == Scenario::again || scenario == Scenario::faded) {
    const double how = d.uniform();
    if (how < 1.0 / 3) days = {{{5, 5}, 0, true}};
    else if (how < 2.0 / 3) days = {{{2, 2}, 0, true}, {{3, 3}, 0, true}};
    else days = {{{1, 1}, 0, true}, {{2, 2}, 0, true}, {{2, 2}, 0, true}};
  }
  const auto count = [&](int lo, int hi) { return lo + static_cast<int>((hi - lo + 1) * d.uniform()); };
  if (mixed) {
    const int earlier = count(0, 2);
    for (int i = 0; i < earlier; ++i) {
      const int front = count(1, 3), rear = count(1, 3);
      days.push_back({{front, rear}, count(0, 1), true});
    }
    const int front = count(1, 4), rear = count(1, 4);
    days.push_back({{front, rear}, count(0, 2), false});
  } else days.push_back({{5, 5}, 0, false});

  c.share = {1, 1};
  if (scenario == Scenario::faded) c.share[d.chance(0.5) ? 0 : 1] = 0.6;
  const bool same_place = d.chance(0.7);
  const auto place = [&] { return d.chance(0.6) ? 0.0 : rounded(d.uniform(-0.04, 0.04), 0.01); };
  double told_grade = place(), grade = told_grade + 0.005 * d.normal();
  std::array<int, 2> of_pads = {0, 0};
  int number = 0;
  for (std::size_t i = 0; i < days.size(); ++i) {
    const Day& day = days[i];
    if (i > 0 && !same_place) {
      told_grade = place();
      grade = told_grade + 0.005 * d.normal();
    }
    if (!day.history && other_scale) scale_bias = 0.03 * d.normal();
    const double wind = 1.2 * d.normal();
    const std::array<double, 2> place_error = {0.025 * d.normal(), 0.025 * d.normal()};
    const std::array<double, 2> of_the_day = {d.scatter(0.03), d.scatter(0.03)};
    for (int w = 0; w < 2; ++w)
      if (!day.history) c.gain[at(w)] = sound_gain(b, w) * c.share[at(w)] * of_the_day[at(w)];
    std::array<double, 2> warm{};
    std::array<int, 2> of_day{};
    std::array<double, 2> first_short = {0.03 * std::abs(d.normal()), 0.03 * std::abs(d.normal())};
    std::vector<Pulled> order(at(day.stops[0]), Pulled::front);
    order.insert(order.end(), at(day.stops[1]), Pulled::rear);
    order.insert(order.end(), at(day.both), Pulled::both);
    for (const Pulled pulled : order) {
      for (int attempt = 0;; ++attempt) {   // who slides does the stop again, more gently
        Stop s;
        s.from_mps = usual_speed * (1 + 0.03 * d.normal());
        s.grade = grade;
        s.wind_mps = wind + 0.4 * d.normal();
        s.free_s = free_s * d.scatter(0.15);
        s.rise_s = rise_s * d.scatter(0.2);
        s.waver = waver;
        s.waver_Hz = d.uniform(0.5, 1.5);
        s.waver_phase = d.uniform(0, 2 * std::numbers::pi);
        s.trend = 0.04 * d.normal();
        for (int w = 0; w < 2; ++w) {
          const double fault = day.history ? 1.0 : c.share[at(w)];
          const double bedding = 1 - (b.new_pads ? b.new_pads_short * std::exp(-of_pads[at(w)] / 3.0) : 0) - first_short[at(w)] * std::exp(-1.1 * of_day[at(w)]);   // [P3]
          s.friction[at(w)] = fault * of_the_day[at(w)] * bedding * d.scatter(b.stop_scatter);
          s.warm_K[at(w)] = warm[at(w)];
          if (pulled != Pulled::both && static_cast<int>(pulled) != w) continue;
          const double gently = std::pow(0.85, attempt) * (pulled == Pulled::both ? 0.8 : 1.0);
          const double wanted = b.brakes[at(w)].threshold_N + aim[at(w)] * moved_mass_kg(b) / b.brakes[at(w)].slope * gently;
          const double harder = fault < 1 ? d.uniform(1.0, 1.4) : 1.0;   // the rider notices, and squeezes more
          s.force_N[at(w)] = std::clamp(wanted * harder * d.scatter(0.10), 12.0, 170.0);
        }
        const Halt run = run_stop(b, s);
        if ((run.slid_share > 0.1 || run.deepest_mps2 > 0.95 * lift_limit_mps2(b)) && attempt < 8) continue;
        Row row{};
        const int main_wheel = pulled == Pulled::rear ? 1 : 0;
        row.pulled = pulled;
        row.day = static_cast<int>(i);
        row.history = day.history;
        row.date = day.history ? "2024-0" + std::to_string(4 + i) + "-12" : "2025-05-20";
        row.stop = ++number;
        row.of_day = of_day[at(main_wheel)];
        row.of_pads = of_pads[at(main_wheel)];
        row.truth = run;
        row.grade = told_grade;
        row.from_mps = rounded((s.from_mps * (1 + speed_bias) + 0.12 * d.normal()) * 3.6, 0.1) / 3.6;
        row.taped = mixed ? d.chance(0.4) : tape;
        const double way = run.distance_m + s.from_mps * (mark_bias_s + 0.06 * d.normal());
        row.distance_m = row.taped ? rounded(way + 0.1 * d.normal(), 0.05) : rounded(way * (1 + pace_bias) * (1 + 0.04 * d.normal()), 0.5);
        row.distance_m = std::max(row.distance_m, 0.5);
        const double thumb = run.time_s + thumb_bias_s + thumb_sd_s * d.normal();
        if (mixed ? d.chance(0.5) : timed) row.time_s = std::max(0.1, rounded(thumb, 0.05));
        const double read = s.force_N[at(main_wheel)] * run.plateau_share * (1 + scale_bias) * (1 + place_error[at(main_wheel)]) * (1 + 0.04 * d.normal());
        const bool scaled = pulled != Pulled::both && (!mixed || d.chance(0.6));
        if (scaled) {
          row.force_N = std::max(5.0, rounded(read, 5));
          ++(day.history ? c.scaled_history : c.scaled)[at(main_wheel)];
        }
        const double rest = std::exp(-d.uniform(60, 180) / 120);
        for (int w = 0; w < 2; ++w) {
          warm[at(w)] = (warm[at(w)] + run.brake_J[at(w)] / b.brakes[at(w)].rotor_J_K) * rest;
          if (pulled == Pulled::both || static_cast<int>(pulled) == w) {
            ++of_day[at(w)];
            ++of_pads[at(w)];
          }
        }
        c.rows.push_back(row);
        break;
      }
    }
  }
  return c;
}

}  // namespace proved
