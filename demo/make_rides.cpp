// SPDX-License-Identifier: Apache-2.0
// Invents bicycle rides whose braking is known: rider and road at 10 Hz, sensors with errors, GPX out.   Layer: demo
// Shares no code and no constants with src/, so that it may judge it. Equations and error models: README.md [D1..D9].
// Every place, rider, bike and number here is invented.
#include <fmt/format.h>

#include <algorithm>
#include <array>
#include <cmath>
#include <cstdint>
#include <cstdio>
#include <filesystem>
#include <fstream>
#include <functional>
#include <optional>
#include <string>
#include <string_view>
#include <vector>

namespace {

constexpr double pi = 3.14159265358979323846;
constexpr double gravity = 9.80665;
constexpr double step_s = 0.1;
constexpr int steps_per_s = 10;

// ---------------------------------------------------------------------------------------------------------------
// Random numbers by counter: draw n of a stream never depends on who asked before. [D9]

constexpr std::uint64_t scramble(std::uint64_t x) {
  x ^= x >> 30;
  x *= 0xbf58476d1ce4e5b9ULL;
  x ^= x >> 27;
  x *= 0x94d049bb133111ebULL;
  return x ^ (x >> 31);
}

// Streams of the ride come before those of the sensors: other sensors never change the ride.
enum class Stream : std::uint64_t {
  machine = 1, hills, ripple, bends, background, junctions, habit, comfort, wind, shelter, gust, drag, rolling,
  legs, hands, pauses,
  position = 100, altitude, speed, power, temperature, sampling, sensor_traits
};

struct Dice {
  std::uint64_t key;
  Dice(std::uint64_t seed, Stream stream)
      : key(scramble(scramble(seed + 0x9e3779b97f4a7c15ULL) + static_cast<std::uint64_t>(stream) * 0xd1342543de82ef95ULL)) {}
  std::uint64_t bits(std::int64_t n) const {
    return scramble(scramble(key ^ (static_cast<std::uint64_t>(n) * 0x9e3779b97f4a7c15ULL)) + key);
  }
  double uniform(std::int64_t n) const { return (static_cast<double>(bits(n) >> 11) + 0.5) * 0x1p-53; }
  double normal(std::int64_t n) const {
    return std::sqrt(-2.0 * std::log(uniform(2 * n))) * std::cos(2.0 * pi * uniform(2 * n + 1));
  }
  //! Smooth noise along x, about unit variance, correlated over about one unit: cubic B-spline over normal knots.
  double wave(double x) const {
    const double whole = std::floor(x);
    const double f = x - whole;
    const auto k = static_cast<std::int64_t>(whole) + 4096;
    const double f2 = f * f;
    const double f3 = f2 * f;
    const double sum = normal(k) * (1 - 3 * f + 3 * f2 - f3) / 6 + normal(k + 1) * (4 - 6 * f2 + 3 * f3) / 6 +
                       normal(k + 2) * (1 + 3 * f + 3 * f2 - 3 * f3) / 6 + normal(k + 3) * f3 / 6;
    return sum / 0.692;  // root of 151/315, the mean of the squared weights
  }
};

class Draw {
public:
  Draw(std::uint64_t seed, Stream stream) : dice_(seed, stream) {}
  double uniform() { return dice_.uniform(n_++); }
  double between(double low, double high) { return low + (high - low) * uniform(); }
  double waiting(double mean) { return -mean * std::log(uniform()); }
  double normal() {
    const double size = std::sqrt(-2.0 * std::log(uniform()));
    return size * std::cos(2.0 * pi * uniform());
  }

private:
  Dice dice_;
  std::int64_t n_ = 0;
};

// A first-order random drift, unit standard deviation.
class Drift {
public:
  Drift(double tau_s, Draw& draw) : tau_s_(tau_s), x_(draw.normal()) {}
  double advance(double dt_s, Draw& draw) {
    const double keep = std::exp(-dt_s / tau_s_);
    x_ = keep * x_ + std::sqrt(1 - keep * keep) * draw.normal();
    return x_;
  }

private:
  double tau_s_;
  double x_;
};

// ---------------------------------------------------------------------------------------------------------------
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

struct Plan {
  std::string name;
  std::vector<Stretch> road;
  bool back_again = false;       // ride the same road home
  Machine machine{};
  Habit habit{};
  double base_altitude_m = 420;
  double air_degC = 16;
  double wind_mps = 1.4;         // typical size at the height of a rider
  double wait_s = 15;            // mean stay at a stop
  double long_stop_share = 0;    // stops that last a few minutes
  double rest_s = 0;             // at the turning point
  std::string start;             // date and hour, UTC
  bool draw_parameters = true;   // vary drag area and rolling resistance by seed
};

enum class Altitude : std::uint8_t { barometric, satellite, terrain };
enum class Sampling : std::uint8_t { each_second, irregular };

struct Sensors {
  Altitude altitude = Altitude::barometric;
  Sampling sampling = Sampling::each_second;
  bool speed = false, power = false, temperature = false;
};

// ---------------------------------------------------------------------------------------------------------------
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

double at(const std::vector<double>& table, double s) {
  s = std::clamp(s, 0.0, static_cast<double>(table.size() - 1));
  const auto i = std::min(static_cast<std::size_t>(s), table.size() - 2);
  const double f = s - static_cast<double>(i);
  return table[i] * (1 - f) + table[i + 1] * f;
}

void box_smooth(std::vector<double>& x, std::size_t half) {
  std::vector<double> sum(x.size() + 1, 0.0);
  for (std::size_t i = 0; i < x.size(); ++i) sum[i + 1] = sum[i] + x[i];
  for (std::size_t i = 0; i < x.size(); ++i) {
    const std::size_t a = i > half ? i - half : 0;
    const std::size_t b = std::min(x.size(), i + half + 1);
    x[i] = (sum[b] - sum[a]) / static_cast<double>(b - a);
  }
}

Road build_road(const Plan& plan, std::uint64_t seed) {
  const Dice hills(seed, Stream::hills);
  const Dice ripple(seed, Stream::ripple);
  const Dice background(seed, Stream::background);
  const Dice comfort(seed, Stream::comfort);
  const Dice habit(seed, Stream::habit);
  Draw bends(seed, Stream::bends);
  Draw junctions(seed, Stream::junctions);

  std::vector<double> gradient, curvature, limit, spread;
  for (const Stretch& part : plan.road) {
    const auto n = static_cast<std::size_t>(part.length_m);
    gradient.insert(gradient.end(), n, part.gradient);
    spread.insert(spread.end(), n, part.hills);
    limit.insert(limit.end(), n, part.comfort_mps);
  }
  for (int pass = 0; pass < 3; ++pass) box_smooth(gradient, 40);
  for (int pass = 0; pass < 2; ++pass) {
    box_smooth(limit, 60);
    box_smooth(spread, 60);
  }
  const std::size_t n = gradient.size();
  curvature.assign(n, 0.0);
  for (std::size_t i = 0; i < n; ++i) {
    const auto s = static_cast<double>(i);
    gradient[i] += spread[i] * (0.75 * hills.wave(s / 650) + 0.55 * hills.wave(9000 + s / 160) + 0.3 * ripple.wave(s / 45));
    gradient[i] = 0.19 * std::tanh(gradient[i] / 0.19);
    curvature[i] = background.wave(s / 180) / 900;
  }

  // Bends: a raised-cosine curvature whose integral is the angle turned.
  double place = 0;
  double turned = 0;
  double reach_m = 0;
  std::vector<Halt> halts;
  for (const Stretch& part : plan.road) {
    double s = place;
    while (part.bends_per_km > 0) {
      s += std::max(reach_m, bends.waiting(1000 / part.bends_per_km));
      if (s >= place + part.length_m - 20) break;
      const double radius = part.radius_low_m * std::pow(part.radius_high_m / part.radius_low_m, bends.uniform());
      // Angles fall with radius, and a turn tends to undo the ones before: roads lead somewhere.
      const double angle = bends.between(0.25, 1.0) * std::min(2.9, 30 / radius + 0.5);
      const double side = bends.uniform() < 0.5 + 0.35 * std::tanh(turned) ? -1.0 : 1.0;
      turned += side * angle;
      const double half = std::max(4.0, angle * radius);  // raised cosine over 2*half has area half*peak
      for (double d = -half; d <= half; d += 1) {
        const auto i = static_cast<std::int64_t>(s + half + d);
        if (i < 0 || i >= static_cast<std::int64_t>(n)) continue;
        curvature[static_cast<std::size_t>(i)] += side * (angle / half) * 0.5 * (1 + std::cos(pi * d / half));
      }
      reach_m = half;
    }
    s = place;
    while (part.junctions_per_km > 0) {
      s += 25 + junctions.waiting(std::max(1.0, 1000 / part.junctions_per_km - 25));
      if (s >= place + part.length_m - 30) break;
      const auto i = static_cast<std::size_t>(s);
      if (junctions.uniform() < part.stop_share) {
        const bool is_long = junctions.uniform() < plan.long_stop_share;
        halts.push_back({.at_m = std::floor(s), .stay_s = is_long ? junctions.between(60, 170) : 3 + junctions.waiting(plan.wait_s)});
        limit[i] = 0;
      } else {
        const double slow = junctions.between(2.2, 4.6);
        for (std::size_t k = i; k < std::min(n, i + 6); ++k) limit[k] = std::min(limit[k], slow);
      }
    }
    place += part.length_m;
  }

  // Home again by the same road: everything mirrored, with a halt at the far end.
  Road road;
  const double end_m = static_cast<double>(n - 1);
  halts.push_back({.at_m = end_m, .stay_s = plan.back_again ? plan.rest_s : 12});
  limit[n - 1] = 0;
  road.sine.resize(n);
  for (std::size_t i = 0; i < n; ++i) road.sine[i] = gradient[i] / std::sqrt(1 + gradient[i] * gradient[i]);
  // A road leads somewhere: its course is drawn back, over half a kilometre, to a direction that changes slowly.
  // Without that the headwind averages out on every ride.
  double off_course = 0;
  for (std::size_t i = 0; i < n; ++i) {
    const double s = static_cast<double>(i);
    const double before = 0.9 * background.wave(20000 + s / 4000);
    const double after = 0.9 * background.wave(20000 + (s + 1) / 4000);
    curvature[i] += after - before - off_course / 500;
    off_course += curvature[i] - (after - before);
  }
  road.bend = curvature;
  road.altitude_m.assign(n, plan.base_altitude_m);
  road.east_m.assign(n, 0.0);
  road.north_m.assign(n, 0.0);
  road.heading.assign(n, 0.0);
  road.heading[0] = 2 * pi * background.uniform(77);
  for (std::size_t i = 1; i < n; ++i) {
    const double sine = 0.5 * (road.sine[i - 1] + road.sine[i]);
    road.altitude_m[i] = road.altitude_m[i - 1] + sine;
    road.heading[i] = road.heading[i - 1] + 0.5 * (curvature[i - 1] + curvature[i]);
    const double middle = 0.5 * (road.heading[i - 1] + road.heading[i]);
    const double flat = std::sqrt(1 - sine * sine);
    road.east_m[i] = road.east_m[i - 1] + flat * std::sin(middle);
    road.north_m[i] = road.north_m[i - 1] + flat * std::cos(middle);
  }
  if (plan.back_again) {
    const std::size_t halts_out = halts.size();
    for (std::size_t k = halts_out - 1; k-- > 0;) {
      halts.push_back({.at_m = 2 * end_m - halts[k].at_m, .stay_s = 3 + junctions.waiting(plan.wait_s)});
    }
    halts.push_back({.at_m = 2 * end_m, .stay_s = 12});
    for (std::size_t k = n - 1; k-- > 0;) {
      road.sine.push_back(-road.sine[k]);
      road.altitude_m.push_back(road.altitude_m[k]);
      road.east_m.push_back(road.east_m[k]);
      road.north_m.push_back(road.north_m[k]);
      road.heading.push_back(road.heading[k] + pi);
      road.bend.push_back(road.bend[k]);
      limit.push_back(limit[k]);
    }
    limit.back() = 0;
  }
  road.halts = halts;
  const std::size_t all = road.sine.size();

  // Comfort: not the same every day or place, lower where it is steep; bends by lateral acceleration. [D3]
  road.limit_mps.resize(all);
  for (std::size_t i = 0; i < all; ++i) {
    const auto s = static_cast<double>(i);
    const double steep = std::max(0.0, -road.sine[i] - 0.05);
    double v = limit[i] * std::exp(0.09 * comfort.wave(s / 260) + 0.04 * comfort.wave(5000 + s / 50)) / (1 + 2.2 * steep);
    const double k = std::abs(road.bend[i]);
    if (k > 1e-4) {
      const double lateral = plan.habit.lateral_mps2 * std::exp(0.22 * comfort.wave(9000 + s / 90));
      v = std::min(v, std::sqrt(lateral / k));
    }
    road.limit_mps[i] = limit[i] <= 0 ? 0.0 : std::max(v, 1.6);
  }
  road.plan_mps = road.limit_mps;
  road.soft_mps = road.limit_mps;
  for (std::size_t i = all - 1; i-- > 0;) {
    const auto s = static_cast<double>(i);
    const double brake = plan.habit.brake_mps2 * std::exp(0.28 * habit.wave(s / 130));
    const double coast = plan.habit.coast_mps2 * std::exp(0.35 * habit.wave(7000 + s / 170));
    road.plan_mps[i] = std::min(road.limit_mps[i], std::sqrt(road.plan_mps[i + 1] * road.plan_mps[i + 1] + 2 * brake));
    road.soft_mps[i] = std::min(0.97 * road.limit_mps[i], std::sqrt(road.soft_mps[i + 1] * road.soft_mps[i + 1] + 2 * coast));
  }
  return road;
}

// ---------------------------------------------------------------------------------------------------------------
// Wind and air [D2]

struct Weather {
  double east_mps, north_mps, air_degC, base_altitude_m;
  Dice wander, shelter, gust;

  struct Wind {
    double east_mps, north_mps;
  };
  Wind wind(double s, double t) const {
    const double size = std::exp(0.3 * wander.wave(s / 1500)) * (0.72 + 0.28 * std::tanh(shelter.wave(s / 320))) *
                        (1 + 0.18 * gust.wave(t / 7));
    const double turn = 0.35 * wander.wave(4000 + s / 2200);
    return {.east_mps = size * (east_mps * std::cos(turn) - north_mps * std::sin(turn)),
            .north_mps = size * (east_mps * std::sin(turn) + north_mps * std::cos(turn))};
  }
  double density_kg_m3(double altitude_m) const {
    const double kelvin = 273.15 + air_degC - 0.0065 * (altitude_m - base_altitude_m);
    return 101325.0 * std::pow(1 - 2.25577e-5 * altitude_m, 5.25588) / (287.05 * kelvin);
  }
};

// ---------------------------------------------------------------------------------------------------------------
// The ride, ten states a second

struct State {
  double s_m, v_mps, altitude_m, gradient;
  double pedal_W;                // at the crank, over the step that follows
  double brake_J;                // over the step that follows
  double brake_N, wheel_N;       // forces of that step: the check that they never meet
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
  double wind_mps = 0, wind_from_deg = 0, mean_headwind_mps = 0, effective_drag_area_m2 = 0;
  double braking_s = 0, coasting_s = 0;
  int applications = 0;
  bool arrived = false;
};

enum class Doing : std::uint8_t { pedal, coast, brake, stand };

Machine draw_machine(const Plan& plan, std::uint64_t seed) {
  Machine m = plan.machine;
  if (plan.draw_parameters) {
    Draw draw(seed, Stream::machine);
    m.drag_area_m2 *= std::exp(0.12 * draw.normal());
    m.rolling_resistance *= std::exp(0.18 * draw.normal());
  }
  return m;
}

Ride simulate(const Plan& plan, std::uint64_t seed) {
  Ride ride;
  ride.plan = plan;
  ride.seed = seed;
  ride.machine = draw_machine(plan, seed);
  ride.road = build_road(plan, seed);
  const Machine& bike = ride.machine;
  const Habit& habit = plan.habit;
  const Road& road = ride.road;
  Draw wind_draw(seed, Stream::wind);
  const double wind_east = plan.wind_mps * wind_draw.normal();
  const double wind_north = plan.wind_mps * wind_draw.normal();
  const Weather weather{.east_mps = wind_east, .north_mps = wind_north, .air_degC = plan.air_degC,
                        .base_altitude_m = plan.base_altitude_m, .wander = Dice(seed, Stream::wind),
                        .shelter = Dice(seed, Stream::shelter), .gust = Dice(seed, Stream::gust)};
  ride.wind_mps = std::hypot(wind_east, wind_north);
  ride.wind_from_deg = std::fmod(360 + std::atan2(-wind_east, -wind_north) * 180 / pi, 360.0);
  const Dice drag(seed, Stream::drag);
  const Dice rolling(seed, Stream::rolling);
  Draw legs(seed, Stream::legs);
  Draw hands(seed, Stream::hands);
  Draw pauses(seed, Stream::pauses);
  Drift effort(25, legs), stroke(1.6, legs), day(240, legs);
  Drift feather(0.9, hands), squeeze(4.5, hands);

  const double inertia_kg = bike.mass_kg + bike.rotating_kg;
  const bool drags = habit.style == Style::dragging;
  struct Forces {
    double air_N, rolling_N, height_N, relative_mps;
  };
  const auto forces = [&](double s, double v, double t) {
    const double sine = at(road.sine, s);
    const double heading = at(road.heading, s);
    const Weather::Wind w = weather.wind(s, t);
    const double ahead = v - (w.east_mps * std::sin(heading) + w.north_mps * std::cos(heading));
    const double across = w.east_mps * std::cos(heading) - w.north_mps * std::sin(heading);
    const double area = bike.drag_area_m2 * (1 + 0.05 * drag.wave(t / 25));
    const double rho = weather.density_kg_m3(at(road.altitude_m, s));
    const double crr = bike.rolling_resistance * (1 + 0.14 * rolling.wave(s / 240));
    return Forces{.air_N = 0.5 * rho * area * std::hypot(ahead, across) * ahead,
                  .rolling_N = crr * bike.mass_kg * gravity * std::sqrt(1 - sine * sine),
                  .height_N = bike.mass_kg * gravity * sine,
                  .relative_mps = ahead};
  };

  double s = 0;
  double v = 0;
  double t = 0;
  double crank_W = 0;
  double brake_N = 0;
  double seen_mps2 = 0;          // the rider's own idea of how the bike would roll on, a moment late
  Doing doing = Doing::stand;
  double stay_s = 8;
  double dwell_s = 0;
  double lazy_s = 0;
  double launch = 0;
  std::size_t next_halt = 0;
  double drag_weight = 0;
  double head_sum = 0;
  const double longest_s = 5 * 3600;
  double left_halt_m = -100;
  bool last_stay = false;

  while (t < longest_s) {
    const Forces now = forces(s, v, t);
    const double gradient = at(road.sine, s) / std::sqrt(1 - std::pow(at(road.sine, s), 2));
    const double roll_on = -(now.air_N + now.rolling_N + now.height_N) / inertia_kg;
    seen_mps2 += (roll_on - seen_mps2) * step_s / 0.6;
    // A halt that is behind in time is behind in mind, though the wheel may still stand before its line.
    const double look = std::max(s + 0.35 * v, left_halt_m + 2);
    const double target = at(road.plan_mps, look);
    const double soft = std::max(0.3, at(road.soft_mps, std::max(s + 0.8 * v, left_halt_m + 2)));
    const double effort_now = 1 + 0.16 * effort.advance(step_s, legs) + 0.10 * day.advance(step_s, legs);
    const double stroke_now = stroke.advance(step_s, legs);
    const double feather_now = feather.advance(step_s, hands);
    const double squeeze_now = squeeze.advance(step_s, hands);
    dwell_s += step_s;
    const double halt_m = next_halt < road.halts.size() ? road.halts[next_halt].at_m : 1e9;

    // Arrived at a halt? People stop anywhere in the last few metres.
    if (doing != Doing::stand && v < 0.05 && s > halt_m - 8) {
      doing = Doing::stand;
      stay_s = road.halts[next_halt].stay_s;
      last_stay = next_halt + 1 == road.halts.size();
      left_halt_m = halt_m;
      ++next_halt;
      dwell_s = 0;
    }

    // What the rider does next [D4]
    const double thrust_wish_W = [&] {
      double f = gradient > 0 ? std::min(1.5, 1 + 6.0 * gradient) : std::max(0.0, 1 + 9 * gradient);
      if (gradient < -0.008 && v < habit.easy_mps) f = std::max(f, 0.22);  // soft pedalling on gentle slopes
      f *= std::clamp((1.22 * habit.easy_mps - v) / (0.4 * habit.easy_mps), 0.0, 1.0);
      f *= std::clamp(4 * (soft - v) / soft, 0.0, 1.0);
      return habit.pedal_W * f * std::max(0.25, effort_now) * std::max(0.2, 1 + 0.10 * stroke_now);
    }();
    switch (doing) {
      case Doing::stand:
        stay_s -= step_s;
        if (stay_s <= 0) {
          if (last_stay) {
            ride.arrived = true;
          } else {
            doing = Doing::pedal;
            dwell_s = 0;
            launch = 0;
          }
        }
        break;
      case Doing::pedal:
        lazy_s -= step_s;
        if (v > soft || thrust_wish_W < 6 || v > 1.02 * target) {
          doing = Doing::coast;
          dwell_s = 0;
        } else if (v > 4 && gradient < 0.03 && pauses.uniform() < step_s / 110) {
          doing = Doing::coast;
          dwell_s = 0;
          lazy_s = pauses.between(2, 9);
        }
        break;
      case Doing::coast: {
        lazy_s -= step_s;
        const double tolerance = (drags ? 1.03 : 1.06) + 0.03 * squeeze_now;
        const bool crawling = v < 1.3 && s > halt_m - 6;
        if ((v > std::max(0.4, target * tolerance) || crawling || s > halt_m - 0.8) && crank_W == 0) {
          doing = Doing::brake;
          dwell_s = 0;
          ++ride.applications;
        } else if (dwell_s > 0.9 && lazy_s <= 0 && brake_N == 0) {
          const bool stalling = v < 1.8 && v < 0.8 * soft;
          if (stalling || (v < 0.90 * soft && v < 1.1 * habit.easy_mps && thrust_wish_W > 20 && pauses.uniform() < step_s / 0.8)) {
            doing = Doing::pedal;
            dwell_s = 0;
          }
        }
        break;
      }
      case Doing::brake: {
        const double release = drags ? 0.95 : 0.88;
        const bool at_halt = s > halt_m - 8 && v < 2.5;
        if (!at_halt && dwell_s > 0.5 && v < release * target && v > 0.7) {
          doing = Doing::coast;
          dwell_s = 0;
        } else if (!at_halt && v <= 0.05) {
          doing = Doing::coast;
          dwell_s = 0;
        }
        break;
      }
    }
    if (ride.arrived) break;

    // Legs: they come in over a second, and are off before a hand closes.
    double wish_W = doing == Doing::pedal ? thrust_wish_W : 0.0;
    if (doing == Doing::pedal && v < 1.8 && v < 0.8 * soft) wish_W = std::max(wish_W, 0.35 * habit.pedal_W);
    launch = doing == Doing::pedal ? std::min(1.0, launch + step_s / 2.2) : launch;
    crank_W += (wish_W - crank_W) * step_s / (wish_W > crank_W ? 0.8 : 0.22);
    if (wish_W == 0 && crank_W < 6) crank_W = 0;
    if (doing == Doing::stand) crank_W = 0;
    double motor_W = 0;
    if (bike.motor_W > 0 && crank_W > 15) {
      motor_W = std::min(bike.motor_W, 1.6 * crank_W) * std::clamp((bike.motor_ends_mps - v) / 0.6, 0.0, 1.0);
    }
    const double low_gear_N = (bike.motor_W > 0 ? 1.1 : 0.85) * bike.mass_kg * launch + 0.19 * bike.mass_kg * gravity * (gradient > 0.02);
    double wheel_N = 0;
    if (crank_W > 0) wheel_N = std::min(bike.efficiency * (crank_W + motor_W) / std::max(v, 0.3), low_gear_N);

    // Hands: hold the plan, a little late, never quite even. [D5]
    double squeeze_N = 0;
    if (doing == Doing::brake) {
      const double ahead = at(road.plan_mps, look + 2);
      const double planned = std::max(0.0, (target * target - ahead * ahead) / 4);
      const double settle_s = drags ? 2.2 : 0.9;
      double need = seen_mps2 + planned + (v - (drags ? 0.985 : 0.93) * target) / settle_s;
      if (s > halt_m - 3 || (v < 1.0 && s > halt_m - 8)) need = std::max(need, 0.5 + std::max(0.0, seen_mps2));
      need *= std::max(0.15, 1 + (drags ? 0.20 : 0.14) * feather_now + (drags ? 0.22 : 0.10) * squeeze_now);
      squeeze_N = inertia_kg * std::clamp(need, 0.0, habit.most_mps2);
    }
    brake_N += (squeeze_N - brake_N) * step_s / (squeeze_N > brake_N ? 0.35 : 0.2);
    if (doing != Doing::brake && brake_N < 3) brake_N = 0;
    if (doing == Doing::stand) brake_N = 0;

    State state{.s_m = s, .v_mps = v, .altitude_m = at(road.altitude_m, s), .gradient = gradient,
                .pedal_W = 0, .brake_J = 0, .brake_N = brake_N, .wheel_N = wheel_N};
    if (doing == Doing::stand) {
      ride.states.push_back(state);
      t += step_s;
      continue;
    }

    // One midpoint step. Forces of rider and brakes are constant in it. [D1]
    const double a1 = (wheel_N - brake_N) / inertia_kg + roll_on;
    const double v_mid = std::max(0.0, v + 0.5 * a1 * step_s);
    const Forces mid = forces(s + 0.5 * v * step_s, v_mid, t + 0.5 * step_s);
    const double others_N = mid.air_N + mid.rolling_N + mid.height_N;
    const double a2 = (wheel_N - brake_N - others_N) / inertia_kg;
    double v_new = v + a2 * step_s;
    double ds = v_mid * step_s;
    double brake_J = brake_N * ds;
    if (v_new <= 0) {
      // The bike stops within the step: what is left of its motion goes into the other resistances' way, the rest
      // into the brakes if a hand is on them.
      v_new = 0;
      ds = 0.5 * v * (v / std::max(1e-6, -a2));
      const double left_J = 0.5 * inertia_kg * v * v + (wheel_N - others_N) * ds;
      brake_J = brake_N > 0 ? std::max(0.0, left_J) : 0.0;
    }
    ride.account.air_J += mid.air_N * ds;
    ride.account.rolling_J += mid.rolling_N * ds;
    ride.account.rider_J += wheel_N * ds;
    ride.account.brakes_J += brake_J;
    state.brake_J = brake_J;
    state.pedal_W = wheel_N * ds / step_s / bike.efficiency;
    if (motor_W > 0) state.pedal_W *= crank_W / (crank_W + motor_W);
    drag_weight += mid.relative_mps * mid.relative_mps;
    ride.effective_drag_area_m2 += bike.drag_area_m2 * (1 + 0.05 * drag.wave((t + 0.5 * step_s) / 25)) * mid.relative_mps * mid.relative_mps;
    head_sum += (v_mid - mid.relative_mps) * -1 * ds;
    ride.braking_s += brake_N > 0 ? step_s : 0;
    ride.coasting_s += brake_N == 0 && wheel_N == 0 ? step_s : 0;
    ride.states.push_back(state);
    v = v_new;
    s = std::min(s + ds, road.length_m());
    t += step_s;
  }
  ride.effective_drag_area_m2 /= std::max(drag_weight, 1e-9);
  ride.mean_headwind_mps = head_sum / std::max(s, 1.0);
  ride.account.height_J = bike.mass_kg * gravity * (road.altitude_m.front() - at(road.altitude_m, s));
  ride.account.motion_J = -0.5 * inertia_kg * v * v;
  return ride;
}

// ---------------------------------------------------------------------------------------------------------------
// Sensors and files

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

// Open sea, far from any land: nobody lives on these roads.
constexpr double origin_latitude_deg = -30.0;
constexpr double origin_longitude_deg = -20.0;

std::string_view name_of(Altitude a) {
  return a == Altitude::barometric ? "barometric" : a == Altitude::satellite ? "satellite" : "terrain";
}

//! The altitude a recorder would write at each whole second [m]. [D6]
std::vector<double> recorded_altitude(const Ride& ride, Altitude kind, std::uint64_t seed, const std::vector<double>& along_error_m) {
  Draw traits(seed, Stream::sensor_traits);
  Draw draw(seed, Stream::altitude);
  const std::size_t seconds = ride.states.size() / steps_per_s;
  std::vector<double> out(seconds);
  if (kind == Altitude::barometric) {
    const double sigma = traits.between(1.0, 2.6);
    const double offset = 4 * traits.normal();
    const double lag_s = traits.between(0.05, 0.9);
    const double ram = traits.between(-0.04, 0.04);   // share of the stagnation pressure that reaches the port
    Drift slow(1200, draw);
    double shown = ride.states.front().altitude_m;
    double drift = 0;
    for (std::size_t i = 0; i < ride.states.size(); ++i) {
      const State& x = ride.states[i];
      shown += (x.altitude_m - ram * x.v_mps * x.v_mps / (2 * gravity) - shown) * step_s / (lag_s + step_s);
      if (i % steps_per_s == 0) {
        drift = sigma * slow.advance(1, draw);
        if (i / steps_per_s < seconds) {
          out[i / steps_per_s] = std::round((shown + offset + drift + 0.08 * draw.normal()) / 0.2) * 0.2;
        }
      }
    }
  } else if (kind == Altitude::satellite) {
    const double sigma = traits.between(3.0, 6.5);
    const double tau_s = traits.between(35, 80);
    Drift slow(tau_s, draw), quick(5, draw), offset(3600, draw);
    for (std::size_t i = 0; i < seconds; ++i) {
      const double z = ride.states[i * steps_per_s].altitude_m;
      out[i] = std::round((z + sigma * slow.advance(1, draw) + 0.35 * quick.advance(1, draw) + 5 * offset.advance(1, draw)) * 10) / 10;
    }
  } else {
    // A height model with cells along the road: node errors, straight between nodes, read at the recorded position.
    const double cell_m = traits.between(25, 40);
    const double sigma = traits.between(1.0, 2.4);
    const double home_m = ride.road.length_m() / 2;
    const Dice nodes(seed, Stream::altitude);
    const auto node = [&](std::int64_t k) {
      const double s = static_cast<double>(k) * cell_m;
      const double mirrored = ride.plan.back_again && s > home_m ? 2 * home_m - s : s;   // the same hill both ways
      return at(ride.road.altitude_m, s) + sigma * nodes.wave(mirrored / cell_m / 1.3);
    };
    for (std::size_t i = 0; i < seconds; ++i) {
      const double s = std::max(0.0, ride.states[i * steps_per_s].s_m + along_error_m[i]);
      const auto k = static_cast<std::int64_t>(s / cell_m);
      const double f = s / cell_m - static_cast<double>(k);
      out[i] = std::round((node(k) * (1 - f) + node(k + 1) * f) * 10) / 10;
    }
  }
  return out;
}

std::string gpx_of(const Ride& ride, const Sensors& sensors) {
  const std::uint64_t seed = ride.seed;
  const std::size_t seconds = ride.states.size() / steps_per_s;
  Draw traits(seed + 1, Stream::sensor_traits);
  Draw position(seed, Stream::position);
  Draw speed_draw(seed, Stream::speed);
  Draw power_draw(seed, Stream::power);
  Draw temperature_draw(seed, Stream::temperature);
  Draw sampling(seed, Stream::sampling);

  // Position: a slow wander of 2 to 4 m (both axes together) and a little that changes quickly. [D7]
  const double wander_m = traits.between(2, 4) / std::sqrt(2.0);
  const double wander_s = traits.between(30, 70);
  const double power_scale = 1 + 0.015 * traits.normal();
  Drift east_slow(wander_s, position), north_slow(wander_s, position), east_quick(2.5, position), north_quick(2.5, position);
  std::vector<double> east(seconds), north(seconds), along(seconds);
  for (std::size_t i = 0; i < seconds; ++i) {
    const double s = ride.states[i * steps_per_s].s_m;
    const double de = wander_m * east_slow.advance(1, position) + 0.22 * east_quick.advance(1, position);
    const double dn = wander_m * north_slow.advance(1, position) + 0.22 * north_quick.advance(1, position);
    const double heading = at(ride.road.heading, s);
    along[i] = de * std::sin(heading) + dn * std::cos(heading);
    east[i] = at(ride.road.east_m, s) + de;
    north[i] = at(ride.road.north_m, s) + dn;
  }
  const std::vector<double> altitude = recorded_altitude(ride, sensors.altitude, seed, along);

  const Clock clock = clock_of(ride.plan.start);
  const double metres_per_degree = 6371008.8 * pi / 180;
  const double shrink = std::cos(origin_latitude_deg * pi / 180);
  std::string out = fmt::format(
      "<?xml version=\"1.0\" encoding=\"UTF-8\"?>\n"
      "<gpx version=\"1.1\" creator=\"make_rides: an invented ride\" xmlns=\"http://www.topografix.com/GPX/1/1\""
      " xmlns:r=\"urn:invented:ride:1\">\n"
      "<metadata><desc>Invented ride, seed {}. The coordinates lie in open sea.</desc><time>{}</time></metadata>\n"
      "<trk><name>{}</name><trkseg>\n",
      seed, clock.stamp(0), ride.plan.name);

  double shown_mps = 0;
  double shown_degC = ride.plan.air_degC + 3;   // the case comes out of a warm room
  double last_heading = 0;
  double last_speed = 0;
  std::size_t last_record = 0;
  for (std::size_t i = 0; i < seconds; ++i) {
    const State& x = ride.states[i * steps_per_s];
    // The other channels. [D8]
    shown_mps += (x.v_mps - shown_mps) / 1.35;   // a second's reading, a third of a second late
    const double air = ride.plan.air_degC - 0.0065 * (x.altitude_m - ride.plan.base_altitude_m);
    shown_degC += (air - shown_degC) / 240 + 0.02 * temperature_draw.normal();
    double work_J = 0;
    for (std::size_t k = i * steps_per_s; k > 0 && k + steps_per_s > i * steps_per_s; --k) work_J += ride.states[k - 1].pedal_W * step_s;
    const double noise_W = 3 * power_draw.normal() + 0.02 * work_J * power_draw.normal();
    const double watts = work_J > 1 ? std::max(0.0, power_scale * work_J + noise_W) : 0.0;
    const double speed_noise = speed_draw.normal();

    if (sensors.sampling == Sampling::irregular && i > 0 && i + 1 < seconds) {
      // A frugal recorder: a point when the course or the speed has changed, or after a while.
      const double heading = at(ride.road.heading, x.s_m);
      const double turned = std::abs(std::remainder(heading - last_heading, 2 * pi));
      const bool due = turned > 0.14 || std::abs(x.v_mps - last_speed) > 0.9 ||
                       static_cast<double>(i - last_record) >= 4 + std::floor(4 * sampling.uniform());
      if (!due) continue;
    }
    last_heading = at(ride.road.heading, x.s_m);
    last_speed = x.v_mps;
    last_record = i;

    out += fmt::format("<trkpt lat=\"{:.6f}\" lon=\"{:.6f}\"><ele>{:.1f}</ele><time>{}</time>",
                       origin_latitude_deg + north[i] / metres_per_degree,
                       origin_longitude_deg + east[i] / (metres_per_degree * shrink), altitude[i],
                       clock.stamp(static_cast<int>(i)));
    if (sensors.speed || sensors.power || sensors.temperature) {
      out += "<extensions>";
      if (sensors.speed) {
        const double v = shown_mps < 0.15 ? 0.0 : std::max(0.0, shown_mps * 1.002 + 0.04 * speed_noise);
        out += fmt::format("<r:speed>{:.2f}</r:speed>", v);
      }
      if (sensors.power) out += fmt::format("<r:power>{:.0f}</r:power>", watts);
      if (sensors.temperature) out += fmt::format("<r:atemp>{:.0f}</r:atemp>", shown_degC);
      out += "</extensions>";
    }
    out += "</trkpt>\n";
  }
  out += "</trkseg></trk>\n</gpx>\n";
  return out;
}

//! The truth at each whole second: distance and altitude at that moment, the rest as means over half a second to
//! either side, so that the sum of brake_power_W is the whole braking energy (a ride starts and ends at rest).
std::string truth_csv(const Ride& ride) {
  std::string out = "t_s,distance_m,altitude_m,speed_mps,gradient,brake_power_W\n";
  const std::size_t n = ride.states.size();
  for (std::size_t i = 0; i < n / steps_per_s; ++i) {
    const std::size_t middle = i * steps_per_s;
    const std::size_t a = middle >= steps_per_s / 2 ? middle - steps_per_s / 2 : 0;
    const std::size_t b = std::min(n, middle + steps_per_s / 2);
    double v = 0, gradient = 0, brake_J = 0;
    for (std::size_t k = a; k < b; ++k) {
      v += ride.states[k].v_mps;
      gradient += ride.states[k].gradient;
      brake_J += ride.states[k].brake_J;
    }
    const auto count = static_cast<double>(b - a);
    out += fmt::format("{},{:.2f},{:.3f},{:.4f},{:.5f},{:.2f}\n", i, ride.states[middle].s_m, ride.states[middle].altitude_m,
                       v / count, gradient / count, brake_J);
  }
  return out;
}

double kilometres(const Ride& ride) { return ride.states.back().s_m / 1000; }

std::string truth_toml(const Ride& ride, const Sensors& sensors, const std::string& gpx_name) {
  double down_m = 0, up_m = 0;
  for (std::size_t i = 1; i < ride.states.size(); ++i) {
    const double dz = ride.states[i].altitude_m - ride.states[i - 1].altitude_m;
    (dz > 0 ? up_m : down_m) += std::abs(dz);
  }
  const Account& a = ride.account;
  return fmt::format(
      "# The truth behind {}, an invented ride. Written by make_rides; units are in the names.\n"
      "format = 1\nfile = \"{}\"\nkind = \"{}\"\nseed = {}\nsensor = \"{}\"\nsampling = \"{}\"\n"
      "duration_s = {}\ndistance_m = {:.1f}\nascent_m = {:.1f}\ndescent_m = {:.1f}\n"
      "brake_energy_J = {:.1f}\nbrake_energy_J_per_km = {:.1f}\nbraking_s = {:.1f}\ncoasting_s = {:.1f}\napplications = {}\n\n"
      "[bike]\ntotal_mass_kg = {}\nrotating_mass_kg = {}\nefficiency = {}\n"
      "drag_area_m2 = {:.4f}             # the middle value; it sways by 5 % in the ride\n"
      "drag_area_effective_m2 = {:.4f}   # its mean, weighted with the square of the wind on the rider\n"
      "rolling_resistance = {:.5f}       # the middle value; it changes by 14 % along the road\n\n"
      "[weather]\nair_degC = {}\nwind_mps = {:.3f}\nwind_from_deg = {:.1f}\nmean_headwind_mps = {:.3f}\n\n"
      "[account_J]   # height + motion + rider = air + rolling + brakes\n"
      "height = {:.1f}\nmotion = {:.1f}\nrider = {:.1f}\nair = {:.1f}\nrolling = {:.1f}\nbrakes = {:.1f}\n",
      gpx_name, gpx_name, ride.plan.name, ride.seed, name_of(sensors.altitude),
      sensors.sampling == Sampling::irregular ? "irregular" : "1", ride.states.size() / steps_per_s, ride.states.back().s_m, up_m, down_m,
      a.brakes_J, a.brakes_J / kilometres(ride), ride.braking_s, ride.coasting_s, ride.applications, ride.machine.mass_kg,
      ride.machine.rotating_kg, ride.machine.efficiency, ride.machine.drag_area_m2, ride.effective_drag_area_m2,
      ride.machine.rolling_resistance, ride.plan.air_degC, ride.wind_mps, ride.wind_from_deg, ride.mean_headwind_mps,
      a.height_J, a.motion_J, a.rider_J, a.air_J, a.rolling_J, a.brakes_J);
}

// ---------------------------------------------------------------------------------------------------------------
// The kinds of ride, and the three rides of the demo

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

std::optional<Plan> plan_of(std::string_view kind, std::uint64_t seed) {
  const std::string start = fmt::format("2025-05-{:02}T{:02}:00:00Z", 1 + seed % 28, 6 + seed % 11);
  Plan p;
  p.name = std::string(kind);
  p.machine = road_bike;
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

constexpr std::array<std::string_view, 6> kinds = {"long_drag", "late_hard", "city", "trail", "rolling", "cargo"};

struct DemoRide {
  std::string_view name;
  Sensors sensors;
};
const std::array<DemoRide, 3> demo_rides = {{
    {.name = "pass-and-back", .sensors = {}},
    {.name = "valley-deliveries", .sensors = {.speed = true}},
    {.name = "town-and-ridge", .sensors = {.power = true, .temperature = true}},
}};

// ---------------------------------------------------------------------------------------------------------------
// Self-check

//! Empty if every tag closes in order and every track point has one position, then ele, time, extensions in that order.
std::string xml_fault(const std::string& text) {
  std::vector<std::string> open;
  std::vector<std::string> inside_point;
  std::size_t i = 0;
  while ((i = text.find('<', i)) != std::string::npos) {
    const std::size_t end = text.find('>', i);
    if (end == std::string::npos) return "a tag has no end";
    std::string tag = text.substr(i + 1, end - i - 1);
    i = end + 1;
    if (tag.starts_with("?")) continue;
    if (std::count(tag.begin(), tag.end(), '"') % 2 != 0) return "odd quotes in <" + tag + ">";
    if (tag.starts_with("/")) {
      if (open.empty() || open.back() != tag.substr(1)) return "</" + tag.substr(1) + "> closes nothing";
      open.pop_back();
      if (tag == "/trkpt") {
        const std::vector<std::string> two = {"ele", "time"};
        const std::vector<std::string> three = {"ele", "time", "extensions"};
        if (inside_point != two && inside_point != three) return "children of a track point are out of order";
        inside_point.clear();
      }
    } else {
      std::string name = tag.substr(0, tag.find(' '));
      if (!open.empty() && open.back() == "trkpt") inside_point.push_back(name);
      open.push_back(std::move(name));
    }
  }
  return open.empty() ? "" : "<" + open.back() + "> stays open";
}

int self_check() {
  int faults = 0;
  const auto expect = [&](bool good, const std::string& what) {
    if (!good) {
      ++faults;
      fmt::print(stderr, "FAULT {}\n", what);
    }
  };
  const auto look_at = [&](std::string_view kind, std::uint64_t seed) {
    const std::string who = fmt::format("{} seed {}", kind, seed);
    const Ride ride = simulate(*plan_of(kind, seed), seed);
    expect(ride.arrived, who + ": the rider never arrived");
    const double gap = std::abs(ride.account.gap_J()) / ride.account.turnover_J();
    expect(gap < 1e-3, fmt::format("{}: the energy account is open by {:.3g}", who, gap));
    expect(ride.account.brakes_J > 0, who + ": nobody braked");
    double hardest = 0;
    double summed_J = 0;
    bool both = false, negative = false, jump = false;
    for (std::size_t i = 0; i < ride.states.size(); ++i) {
      const State& x = ride.states[i];
      both = both || (x.brake_N > 0 && x.wheel_N > 0);
      negative = negative || !(x.brake_J >= 0) || !(x.v_mps >= 0);
      summed_J += x.brake_J;
      if (i > 0) {
        const double a = (x.v_mps - ride.states[i - 1].v_mps) / step_s;
        hardest = std::max(hardest, -a);
        jump = jump || !(std::abs(a) < 8) || x.s_m < ride.states[i - 1].s_m;
      }
    }
    expect(!both, who + ": braking while pedalling");
    expect(!negative, who + ": a brake that gives energy, or a speed below zero");
    expect(!jump, who + ": a jump in speed or place");
    expect(std::abs(summed_J - ride.account.brakes_J) < 1e-6 * ride.account.brakes_J, who + ": brake energy of states and account differ");

    // The files say the same as the states. 0.005 W is half the last digit of a row.
    const std::string csv = truth_csv(ride);
    double rows = 0, csv_J = 0;
    for (std::size_t line = csv.find('\n') + 1; line < csv.size();) {
      const std::size_t end = csv.find('\n', line);
      csv_J += std::stod(csv.substr(csv.rfind(',', end) + 1, end));
      rows += 1;
      line = end + 1;
    }
    expect(std::abs(csv_J - ride.account.brakes_J) < 0.005 * rows + 1e-6 * ride.account.brakes_J, who + ": truth CSV loses energy");
    for (const Sensors& sensors : {Sensors{}, Sensors{.altitude = Altitude::satellite, .speed = true, .power = true, .temperature = true},
                                   Sensors{.altitude = Altitude::terrain, .sampling = Sampling::irregular}}) {
      const std::string gpx = gpx_of(ride, sensors);
      const std::string fault = xml_fault(gpx);
      expect(fault.empty(), who + ": GPX: " + fault);
      std::string before;
      std::size_t points = 0;
      bool forward = true;
      for (std::size_t k = gpx.find("<trkpt"); k != std::string::npos; k = gpx.find("<trkpt", k + 1)) {
        const std::size_t stamp = gpx.find("<time>", k) + 6;
        const std::string now = gpx.substr(stamp, 20);
        forward = forward && now > before;
        before = now;
        ++points;
      }
      expect(forward, who + ": times do not rise");
      expect(gpx.find("nan") == std::string::npos, who + ": not a number in the GPX");
      expect(sensors.sampling == Sampling::irregular ? points > ride.states.size() / 80 : points == ride.states.size() / steps_per_s,
             who + ": wrong number of points");
    }
    const Ride again = simulate(*plan_of(kind, seed), seed);
    expect(truth_csv(again) == csv && gpx_of(again, {}) == gpx_of(ride, {}), who + ": the same seed gave another ride");
    expect(truth_csv(simulate(*plan_of(kind, seed), seed + 1)) != csv, who + ": another seed gave the same ride");
    fmt::print("{:<18} seed {}  {:5.1f} km {:5.0f} s  brakes {:6.1f} kJ ({:4.1f} kJ/km, {:4.1f} % of the time)  account open by {:.1e}  hardest {:.1f} m/s2\n",
               kind, seed, kilometres(ride), static_cast<double>(ride.states.size()) * step_s, ride.account.brakes_J / 1e3,
               ride.account.brakes_J / 1e3 / kilometres(ride), 100 * ride.braking_s / (static_cast<double>(ride.states.size()) * step_s), gap, hardest);
  };
  for (const std::string_view kind : kinds) {
    for (std::uint64_t seed = 1; seed <= 4; ++seed) look_at(kind, seed);
  }
  for (const DemoRide& demo : demo_rides) look_at(demo.name, 1);
  // The checker itself must be able to fail.
  expect(!xml_fault("<a><b></a></b>").empty(), "crossed tags pass");
  expect(!xml_fault("<trkpt><time>1</time><ele>2</ele></trkpt>").empty(), "children in the wrong order pass");
  fmt::print("{} faults\n", faults);
  return faults == 0 ? 0 : 1;
}

// ---------------------------------------------------------------------------------------------------------------
// Command line

struct Wish {
  std::string out_dir, kind;
  std::optional<std::uint64_t> seed;
  Sensors sensors;
  std::optional<double> mass_kg, drag_area_m2, rolling_resistance, wind_mps;
  bool truth = false, check = false, help = false;
};

constexpr std::string_view usage =
    "make_rides OUTDIR [--seed N]                  the three rides of the demo, each with its truth\n"
    "make_rides OUTDIR --kind K [--seed N] [...]   one ride: OUTDIR/K-SENSOR-N.gpx\n"
    "make_rides --self-check\n"
    "  --kind      long_drag late_hard city trail rolling cargo, or a ride of the demo:\n"
    "              pass-and-back valley-deliveries town-and-ridge\n"
    "  --sensor    barometric (default), satellite or terrain altitude\n"
    "  --sampling  1 (each second, default) or irregular\n"
    "  --channels  speed,power,temperature: extra channels, default none\n"
    "  --mass KG --cda M2 --crr C --wind MPS       instead of the kind's own\n"
    "  --truth     also write NAME.truth.csv and NAME.truth.toml\n";

std::optional<double> number(const std::string& text) {
  try {
    std::size_t used = 0;
    const double x = std::stod(text, &used);
    if (used == text.size() && std::isfinite(x)) return x;
  } catch (const std::exception&) {
  }
  return std::nullopt;
}

//! Empty on success, else what is wrong.
std::string read_wish(const std::vector<std::string>& args, Wish& wish) {
  for (std::size_t i = 0; i < args.size(); ++i) {
    const std::string& a = args[i];
    if (a == "--truth") { wish.truth = true; continue; }
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
      for (std::size_t k = 0; k <= value.size();) {
        const std::size_t end = std::min(value.find(',', k), value.size());
        const std::string one = value.substr(k, end - k);
        if (one == "speed") wish.sensors.speed = true;
        else if (one == "power") wish.sensors.power = true;
        else if (one == "temperature") wish.sensors.temperature = true;
        else return "--channels: speed, power, temperature, not " + one;
        k = end + 1;
      }
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
  std::optional<Plan> plan = plan_of(kind, seed);
  if (!plan) {
    fmt::print(stderr, "no such kind of ride: {}\n{}", kind, usage);
    return 2;
  }
  // A value that was asked for is the value: only what was not asked for is drawn.
  plan->machine = draw_machine(*plan, seed);
  plan->draw_parameters = false;
  if (wish.mass_kg) plan->machine.mass_kg = *wish.mass_kg;
  if (wish.drag_area_m2) plan->machine.drag_area_m2 = *wish.drag_area_m2;
  if (wish.rolling_resistance) plan->machine.rolling_resistance = *wish.rolling_resistance;
  if (wish.wind_mps) plan->wind_mps = *wish.wind_mps;
  const Ride ride = simulate(*plan, seed);
  if (!ride.arrived) {
    fmt::print(stderr, "{}: the rider never arrived (too heavy, too much drag?)\n", stem);
    return 3;
  }
  const std::filesystem::path dir(wish.out_dir);
  const std::string gpx_name = stem + ".gpx";
  bool written = write_file(dir / gpx_name, gpx_of(ride, sensors));
  if (truth) {
    written = written && write_file(dir / (stem + ".truth.csv"), truth_csv(ride)) &&
              write_file(dir / (stem + ".truth.toml"), truth_toml(ride, sensors, gpx_name));
  }
  if (!written) {
    fmt::print(stderr, "cannot write to {}\n", wish.out_dir);
    return 3;
  }
  fmt::print("{}: {:.1f} km, {} s, brakes {:.1f} kJ, {:.2f} kJ/km\n", gpx_name, kilometres(ride), ride.states.size() / steps_per_s,
             ride.account.brakes_J / 1e3, ride.account.brakes_J / 1e3 / kilometres(ride));
  return 0;
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
  if (wish.check) return self_check();
  std::error_code ignored;
  std::filesystem::create_directories(wish.out_dir, ignored);
  if (wish.kind.empty()) {
    for (const DemoRide& demo : demo_rides) {
      if (const int code = make_one(wish, std::string(demo.name), std::string(demo.name), demo.sensors, true); code != 0) return code;
    }
    return 0;
  }
  const std::string stem = fmt::format("{}-{}-{}{}", wish.kind, name_of(wish.sensors.altitude), wish.seed.value_or(1),
                                       wish.sensors.sampling == Sampling::irregular ? "-irregular" : "");
  return make_one(wish, wish.kind, stem, wish.sensors, wish.truth);
}
