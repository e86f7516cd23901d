// SPDX-License-Identifier: Apache-2.0
// Invented bikes whose brakes' gain is known, and what a person with simple instruments reads of their stops.   Layer: tests/proved
// Theory and ranges: README.md [P1]..[P7].
// Pure functions of the seed: any thread.
#pragma once
#include <array>
#include <cstdint>
#include <optional>
#include <string>
#include <vector>

namespace proved {

enum class Kind : std::uint8_t { trail, gravel, road, city, cargo };
enum class Actuation : std::uint8_t { hydraulic, cable, cable_to_hydraulic };
enum class Compound : std::uint8_t { organic, semi_metallic, sintered };
enum class Scenario : std::uint8_t { first, again, faded, mixed };
enum class Pulled : std::uint8_t { front, rear, both };
inline constexpr int scenarios = 4;
inline constexpr std::array<const char*, scenarios> scenario_names = {"first", "again", "faded", "mixed"};
inline constexpr std::array<const char*, 5> kind_names = {"trail", "gravel", "road", "city", "cargo"};
inline constexpr std::array<const char*, 3> actuation_names = {"hydraulic", "cable", "cable_to_hydraulic"};
inline constexpr std::array<const char*, 3> compound_names = {"organic", "semi_metallic", "sintered"};
inline constexpr std::array<const char*, 3> wheel_names = {"front", "rear", "both"};

//! Brake deceleration [m/s2] at which the gain is defined: what one brake gives in an ordinary stop. Front, rear.
inline constexpr std::array<double, 2> reference_decel_mps2 = {2.0, 1.2};

struct Brake {
  Actuation actuation;
  Compound compound;
  double rotor_mm;
  int pistons_per_side;
  double piston_mm;
  double slope;               // tyre force per newton on the lever above the threshold, sound, cold and bedded
  double threshold_N;         // lever force that springs, seals and housing take
  double warm_fall_per_K;     // loss of friction per kelvin of rotor
  double low_speed_rise;      // friction at the halt over that at the start, minus 1
  double rotor_J_K;
};

struct Bike {
  std::uint64_t seed;
  Kind kind;
  double mass_kg, told_mass_kg, wheelbase_m, height_m, from_front_m, wheel_radius_m, wheel_inertia_kgm2, drag_area_m2, rolling, grip;
  std::array<Brake, 2> brakes;
  double stop_scatter;        // log sd of friction from stop to stop
  bool new_pads;
  double new_pads_short;
};

Bike make_bike(std::uint64_t seed);
//! Mass with the wheels' inertia [kg].
double moved_mass_kg(const Bike&);
//! Lever force [N] at the reference deceleration, sound.
double reference_force_N(const Bike&, int wheel);
//! The sound gain [m/s2 per N]: reference deceleration over reference force.
double sound_gain(const Bike&, int wheel);
//! Largest deceleration on the level before the rear wheel lifts [m/s2].
double lift_limit_mps2(const Bike&);

//! One stop as it is.
struct Stop {
  double from_mps = 7, grade = 0, wind_mps = 0, free_s = 0, rise_s = 0;
  std::array<double, 2> force_N = {0, 0};        // plateau on each lever
  double waver = 0, waver_Hz = 1, waver_phase = 0, trend = 0;
  std::array<double, 2> friction = {1, 1};       // over the cold, bedded brake
  std::array<double, 2> warm_K = {0, 0};
};
struct Halt {
  double distance_m, time_s;                     // from the lever's first movement
  double plateau_share;                          // mean of the lever force once it has risen, over its plateau
  double slid_share;                             // of the time
  double deepest_mps2;
  std::array<double, 2> brake_J;
  double air_J, rolling_J, climb_J;
  bool halted;
};
//! Steps of step_s, each with constant deceleration; how far the rear unloads follows one step behind.
//! speed_mps: gets the speed before each step.
Halt run_stop(const Bike&, const Stop&, double step_s = 0.001, std::vector<double>* speed_mps = nullptr);

//! One row of STOPS.csv, and what the oracle may know beside it.
struct Row {
  std::string date;
  int stop;
  Pulled pulled;
  double from_mps, distance_m;
  std::optional<double> time_s, force_N;
  double grade;
  int day;                    // 0 = earliest
  int of_day, of_pads;        // stops of this brake before, on that day and on these pads; of `both` unused
  bool taped, history;
  Halt truth;
};

struct Case {
  Bike bike;
  Scenario scenario;
  std::vector<Row> rows;
  std::array<double, 2> gain;         // true, on the day in question
  std::array<double, 2> share;        // of the sound gain that the fault left: 1 or 0.6
  std::array<int, 2> scaled{}, scaled_history{};
};

Case make_case(std::uint64_t seed, Scenario);

}  // namespace proved
