// SPDX-License-Identifier: Apache-2.0
// A plan of a ride (ground, bike, rider, weather) and the ride that comes of it, ten states a second.   Layer: demo
// Equations: README.md [D1..D5], [D11].
#pragma once

#include <cstdint>
#include <optional>
#include <string>
#include <vector>

#include "random.hpp"

namespace rides {

// What a ride is made of

// A stretch of road as its builder would describe it.
struct Stretch {
  double length_m;
  double gradient;
  double hills = 0.008;          // sd of the random part of the gradient
  double bends_per_km = 2;
  double radius_low_m = 25, radius_high_m = 120;
  double junctions_per_km = 0;
  double stop_share = 0.4;       // of the junctions; at the others the rider only slows
  double comfort_mps = 10;       // speed this rider lets happen here
};

enum class Style : std::uint8_t { dragging, short_hard };

struct Machine {
  double mass_kg, rotating_kg, drag_area_m2, rolling_resistance, efficiency;
  double motor_W = 0, motor_ends_mps = 6.9;
};

struct Habit {
  double pedal_W;
  double easy_mps;               // from about here on the legs rest
  double lateral_mps2;           // in bends
  double brake_mps2;             // planned deceleration
  double coast_mps2;             // deceleration planned for when the legs stop
  double most_mps2;              // never more
  Style style;
};

// What real riders do besides; the defaults are the plain rider, who does none of it. [D11]
struct Manners {
  double soft_share = 0;         // of the squeezes: the legs turn on softly for a while
  double dab_share = 0;          // of the bends: a touch of the brake ahead though the speed is right
  double rest_every_s = 110, rest_low_s = 2, rest_high_s = 9;  // coasts for no reason
  double standing_per_min = 0;   // out of the saddle, on climbs
  double sprints_per_min = 0;
  double company_share = 0;      // of the way, behind somebody
  double company_area = 1;       // what is left of the drag area there
  double tuck = 0;               // share of the drag area saved on fast descents
  double standing_area = 1.15;   // drag area out of the saddle, and with a hand on the brake, over that of sitting
  double braking_area = 1.04;
  double area_sway = 0.05;       // of the drag area, in time
  double surprises_per_km = 0;   // somebody steps out, a car turns: seen late
  double rolling_sway = 0.14;    // of the rolling resistance, along the road
  double lively = 1;             // how unevenly the legs push, over the plain rider
};

// What the ground has besides; the defaults are those of a road.
struct Ground {
  double bumps = 0;              // sd of the gradient over bumps_m: rollers, steps, roots; ramps and dips of a road
  double bumps_m = 12;
  double steepest = 0.19;        // gradients approach this and never pass it
};

struct Plan {
  std::string name;
  std::vector<Stretch> road;
  bool back_again = false;       // ride the same road home
  Machine machine{};
  Habit habit{};
  Manners manners{};
  Ground ground{};
  double base_altitude_m = 420;
  double air_degC = 16;
  double wind_mps = 1.4;         // typical size at the height of a rider
  double wait_s = 15;            // mean stay at a stop
  double long_stop_share = 0;    // stops that last a few minutes
  double rest_s = 0;             // at the turning point
  std::string start;             // date and hour, UTC
  bool draw_parameters = true;   // vary drag area and rolling resistance by seed
  bool study = false;            // a ride of the study: ground, rider, bike, mass and wind all drawn by seed
  std::string bike_kind;         // trail, gravel, road, city, cargo
  double wanted_s = 0;           // of a study's ride
  double told_mass_kg = 0;       // what its owner would write down
  std::optional<double> wind_exact_mps;  // in open country; its direction is drawn
  double open_share = 0.72, shelter_sway = 0.28;
  bool even_wind = false;        // as in open country, everywhere and all the time
};

// The road, one entry a metre along it [D1]

struct Halt {
  double at_m;
  double stay_s;
};

struct Road {
  std::vector<double> sine;      // dz/ds
  std::vector<double> altitude_m;
  std::vector<double> east_m, north_m, heading;
  std::vector<double> bend;      // curvature, 1/m, absolute
  std::vector<double> limit_mps; // what bends, comfort and junctions leave
  std::vector<double> plan_mps;  // the same, with braking ahead of it
  std::vector<double> soft_mps;  // the same, with the legs stopped ahead of it
  std::vector<Halt> halts;
  double length_m() const { return static_cast<double>(sine.size() - 1); }
};

// The ride, ten states a second

struct State {
  double s_m, v_mps, altitude_m, gradient;
  double pedal_W;                // at the crank, over the step that follows
  double brake_J;                // over the step that follows
  double brake_N, wheel_N;       // forces of that step: the check that they never meet
  double relative_mps;           // air on the rider's face
};

struct Account {
  double height_J = 0, motion_J = 0, rider_J = 0, air_J = 0, rolling_J = 0, brakes_J = 0;
  double gap_J() const { return height_J + motion_J + rider_J - air_J - rolling_J - brakes_J; }
  double turnover_J() const { return air_J + rolling_J + brakes_J; }
};

struct Ride {
  Plan plan;
  std::uint64_t seed = 0;
  Machine machine{};             // as drawn
  Road road;
  std::vector<State> states;
  Account account;
  double wind_mps = 0, wind_from_deg = 0, mean_headwind_mps = 0, felt_wind_mps = 0, effective_drag_area_m2 = 0;
  double braking_s = 0, coasting_s = 0;
  int squeezes = 0;              // times a hand closed
  double both_s = 0, company_s = 0;
  bool arrived = false;
};

//! The plan's bike, with drag area and rolling resistance drawn by seed unless the plan gives them.
Machine draw_machine(const Plan& plan, std::uint64_t seed);

//! Rides the plan. `arrived` is false if the rider gave up after five hours.
Ride simulate(const Plan& plan, std::uint64_t seed);

//! Value at s, a place in metres, of a table with an entry a metre; held beyond its ends.
double at(const std::vector<double>& table, double s);

double kilometres(const Ride& ride);

// One use of the brakes: a stretch of which the mean brake power over the second around each moment exceeds 50 W, joined
// with the next over pauses of less than 2 s.
struct Application {
  double start_s, end_s, energy_J;
};

constexpr double application_W = 50;
constexpr double application_pause_s = 2;

std::vector<Application> applications_of(const Ride& ride);

}  // namespace rides
