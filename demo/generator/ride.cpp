// SPDX-License-Identifier: Apache-2.0
// The road, the air and the rider: one step each tenth of a second.   Layer: demo
// Equations: README.md [D1..D5], [D11].
#include "ride.hpp"

#include <algorithm>
#include <cmath>

namespace rides {

double at(const std::vector<double>& table, double s) {
  s = std::clamp(s, 0.0, static_cast<double>(table.size() - 1));
  const auto i = std::min(static_cast<std::size_t>(s), table.size() - 2);
  const double f = s - static_cast<double>(i);
  return table[i] * (1 - f) + table[i + 1] * f;
}

namespace {

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
    if (plan.ground.bumps > 0) gradient[i] += plan.ground.bumps * ripple.wave(50000 + s / plan.ground.bumps_m);
    gradient[i] = plan.ground.steepest * std::tanh(gradient[i] / plan.ground.steepest);
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
  const std::size_t run_out = plan.study ? 40 : 0;  // road behind the last line, for who stops late
  halts.push_back({.at_m = end_m - static_cast<double>(run_out), .stay_s = plan.back_again ? plan.rest_s : 12});
  limit[n - 1 - run_out] = 0;
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

// Wind and air [D2]

struct Weather {
  double east_mps, north_mps, air_degC, base_altitude_m;
  double open_share, shelter_sway;
  double most_mps;               // between gusts; a rider's height is low and hedges are near
  bool even;
  Dice wander, shelter, gust;

  struct Wind {
    double east_mps, north_mps;
  };
  Wind wind(double s, double t) const {
    if (even) return {.east_mps = east_mps, .north_mps = north_mps};
    const double calm = std::exp(0.3 * wander.wave(s / 1500)) * (open_share + shelter_sway * std::tanh(shelter.wave(s / 320)));
    const double size = std::min(calm, most_mps / std::max(1e-9, std::hypot(east_mps, north_mps))) * (1 + 0.18 * gust.wave(t / 7));
    const double turn = 0.35 * wander.wave(4000 + s / 2200);
    return {.east_mps = size * (east_mps * std::cos(turn) - north_mps * std::sin(turn)),
            .north_mps = size * (east_mps * std::sin(turn) + north_mps * std::cos(turn))};
  }
  double density_kg_m3(double altitude_m) const {
    const double kelvin = 273.15 + air_degC - 0.0065 * (altitude_m - base_altitude_m);
    return 101325.0 * std::pow(1 - 2.25577e-5 * altitude_m, 5.25588) / (287.05 * kelvin);
  }
};

enum class Doing : std::uint8_t { pedal, coast, brake, stand };

// Something ahead that is seen late.
struct Surprise {
  double at_m, seen_m, v_mps, brake_mps2;
};

std::vector<Surprise> surprises_of(const Road& road, const Manners& manners, std::uint64_t seed) {
  std::vector<Surprise> all;
  if (manners.surprises_per_km <= 0) return all;
  Draw draw(seed, Stream::surprises);
  for (double s = 60 + draw.waiting(1000 / manners.surprises_per_km); s < road.length_m() - 60; s += 30 + draw.waiting(1000 / manners.surprises_per_km)) {
    all.push_back({.at_m = s, .seen_m = draw.between(6, 22), .v_mps = draw.between(1.2, 4.5), .brake_mps2 = draw.between(1.2, 2.8)});
  }
  return all;
}

// A touch of the brake ahead of a bend that did not need it.
struct Dab {
  double at_m, bend_mps, lasts_s, brake_mps2;
};

std::vector<Dab> dabs_of(const Road& road, const Manners& manners, std::uint64_t seed) {
  std::vector<Dab> all;
  if (manners.dab_share <= 0) return all;
  Draw draw(seed + 1, Stream::surprises);
  const std::size_t n = road.limit_mps.size();
  for (std::size_t i = 40; i + 40 < n; ++i) {
    const double k = std::abs(road.bend[i]);
    if (k < 1.0 / 90 || k < std::abs(road.bend[i - 1]) || k <= std::abs(road.bend[i + 1])) continue;
    const double ahead_m = draw.between(6, 25);
    const double lasts_s = draw.between(0.5, 1.8);
    const double brake_mps2 = draw.between(0.25, 0.9);
    if (draw.uniform() < manners.dab_share) {
      const double at_m = static_cast<double>(i) - 0.5 / k - ahead_m;
      if (at_m > 10) all.push_back({.at_m = at_m, .bend_mps = road.limit_mps[i], .lasts_s = lasts_s, .brake_mps2 = brake_mps2});
    }
  }
  std::sort(all.begin(), all.end(), [](const Dab& a, const Dab& b) { return a.at_m < b.at_m; });
  return all;
}

}  // namespace

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
  double wind_east = plan.wind_mps * wind_draw.normal();
  double wind_north = plan.wind_mps * wind_draw.normal();
  if (plan.wind_exact_mps) {
    const double towards = 2 * pi * wind_draw.uniform();
    wind_east = *plan.wind_exact_mps * std::sin(towards);
    wind_north = *plan.wind_exact_mps * std::cos(towards);
  }
  const Weather weather{.east_mps = wind_east, .north_mps = wind_north, .air_degC = plan.air_degC,
                        .base_altitude_m = plan.base_altitude_m, .open_share = plan.open_share, .shelter_sway = plan.shelter_sway,
                        .most_mps = plan.wind_exact_mps ? 5.0 : 1e9, .even = plan.even_wind, .wander = Dice(seed, Stream::wind),
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

  const Manners& manners = plan.manners;
  Draw extras(seed, Stream::extras);
  const std::vector<Surprise> surprises = surprises_of(road, manners, seed);
  const std::vector<Dab> dabs = dabs_of(road, manners, seed);
  const Dice company(seed, Stream::company);
  std::size_t next_surprise = 0, next_dab = 0;
  double soft_s = 0, soft_W = 0;          // left of the present soft pedalling under the brake
  double dab_s = 0, dab_mps2 = 0;
  double standing_s = 0, sprint_s = 0, sprint_gain = 1;
  double posture = 1;                     // drag area now over drag area as seated alone

  const double inertia_kg = bike.mass_kg + bike.rotating_kg;
  const bool drags = habit.style == Style::dragging;
  const double climbable = plan.study ? plan.ground.steepest + 0.05 : 0.19;  // with the lowest gear
  struct Forces {
    double air_N, rolling_N, height_N, relative_mps, wind_mps;
  };
  const auto forces = [&](double s, double v, double t) {
    const double sine = at(road.sine, s);
    const double heading = at(road.heading, s);
    const Weather::Wind w = weather.wind(s, t);
    const double ahead = v - (w.east_mps * std::sin(heading) + w.north_mps * std::cos(heading));
    const double across = w.east_mps * std::cos(heading) - w.north_mps * std::sin(heading);
    const double area = posture * bike.drag_area_m2 * (1 + manners.area_sway * drag.wave(t / 25));
    const double rho = weather.density_kg_m3(at(road.altitude_m, s));
    const double crr = bike.rolling_resistance * (1 + manners.rolling_sway * rolling.wave(s / 240));
    return Forces{.air_N = 0.5 * rho * area * std::hypot(ahead, across) * ahead,
                  .rolling_N = crr * bike.mass_kg * gravity * std::sqrt(1 - sine * sine),
                  .height_N = bike.mass_kg * gravity * sine,
                  .relative_mps = ahead,
                  .wind_mps = std::hypot(w.east_mps, w.north_mps)};
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
    double target = at(road.plan_mps, look);
    double surprise_mps2 = 0;
    while (next_surprise < surprises.size() && s > surprises[next_surprise].at_m) ++next_surprise;
    if (next_surprise < surprises.size()) {
      const Surprise& x = surprises[next_surprise];
      const double left_m = x.at_m - s;
      const double v_allowed = std::sqrt(x.v_mps * x.v_mps + 2 * x.brake_mps2 * left_m);
      if (left_m < x.seen_m && v_allowed < target) {
        target = v_allowed;
        surprise_mps2 = x.brake_mps2;
      }
    }
    const double soft = std::max(0.3, at(road.soft_mps, std::max(s + 0.8 * v, left_halt_m + 2)));
    const double effort_now = 1 + 0.16 * manners.lively * effort.advance(step_s, legs) + 0.10 * day.advance(step_s, legs);
    const double stroke_now = manners.lively * stroke.advance(step_s, legs);
    const double feather_now = feather.advance(step_s, hands);
    const double squeeze_now = squeeze.advance(step_s, hands);
    dwell_s += step_s;
    soft_s -= step_s;
    dab_s -= step_s;
    standing_s -= step_s;
    sprint_s -= step_s;
    if (manners.standing_per_min > 0 && doing == Doing::pedal && gradient > 0.03 && standing_s < -10 &&
        extras.uniform() < manners.standing_per_min * step_s / 60) {
      standing_s = extras.between(5, 20);
    }
    if (manners.sprints_per_min > 0 && doing == Doing::pedal && gradient > -0.01 && sprint_s < -40 &&
        extras.uniform() < manners.sprints_per_min * step_s / 60) {
      sprint_s = extras.between(4, 12);
      sprint_gain = extras.between(1.7, 2.6);
    }
    while (next_dab < dabs.size() && s > dabs[next_dab].at_m + 6) ++next_dab;
    const bool dab_due = next_dab < dabs.size() && s > dabs[next_dab].at_m && v > 0.7 * dabs[next_dab].bend_mps && v > 2.5 && doing != Doing::brake;
    // Drag of the body as it sits now; it takes two seconds to move.
    if (plan.study) {
      const bool behind = manners.company_share > 0 && v > 5 && std::abs(gradient) < 0.04 && doing != Doing::brake &&
                          company.wave(s / 900) > 2 * (0.5 - manners.company_share);
      ride.company_s += behind ? step_s : 0;
      double wish = behind ? manners.company_area : 1;
      if (standing_s > 0) wish *= manners.standing_area;
      if (doing == Doing::coast && gradient < -0.02) wish *= 1 - manners.tuck * std::clamp((v - 10) / 4, 0.0, 1.0);
      if (doing == Doing::brake) wish *= manners.braking_area;
      posture += (wish - posture) * step_s / 2;
    }
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
      const double easy_mps = habit.easy_mps * (sprint_s > 0 ? 1.2 : 1.0);
      f *= std::clamp((1.22 * easy_mps - v) / (0.4 * easy_mps), 0.0, 1.0);
      if (sprint_s > 0) f *= sprint_gain;
      if (standing_s > 0) f *= 1.25;
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
        if (v > soft || thrust_wish_W < 6 || v > 1.02 * target || dab_due) {
          doing = Doing::coast;
          dwell_s = 0;
        } else if (v > 4 && gradient < 0.03 && pauses.uniform() < step_s / manners.rest_every_s) {
          doing = Doing::coast;
          dwell_s = 0;
          lazy_s = pauses.between(manners.rest_low_s, manners.rest_high_s);
        }
        break;
      case Doing::coast: {
        lazy_s -= step_s;
        const double tolerance = (drags ? 1.03 : 1.06) + 0.03 * squeeze_now;
        const bool crawling = v < 1.3 && s > halt_m - 6;
        const bool too_fast = v > std::max(0.4, target * tolerance) || crawling || s > halt_m - 0.8;
        if ((too_fast || dab_due) && crank_W == 0) {
          doing = Doing::brake;
          dwell_s = 0;
          ++ride.squeezes;
          if (dab_due && !too_fast) {
            dab_s = dabs[next_dab].lasts_s;
            dab_mps2 = dabs[next_dab].brake_mps2;
            ++next_dab;
          }
          if (manners.soft_share > 0 && v > 2.5 && surprise_mps2 == 0 && extras.uniform() < manners.soft_share) {
            soft_s = extras.between(1.5, 8);
            soft_W = habit.pedal_W * extras.between(0.12, 0.4);
          }
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
        // A long squeeze may find its legs again.
        if (manners.soft_share > 0 && soft_s < -6 && v > 2.5 && !at_halt && surprise_mps2 == 0 && extras.uniform() < manners.soft_share * step_s / 8) {
          soft_s = extras.between(1.5, 8);
          soft_W = habit.pedal_W * extras.between(0.12, 0.4);
        }
        if (!at_halt && dab_s <= 0 && dwell_s > 0.5 && v < release * target && v > 0.7) {
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
    if (brake_N > 1.0 * inertia_kg) soft_s = std::min(soft_s, 0.0);  // nobody pedals into a hard squeeze
    if (doing == Doing::brake && soft_s > 0 && v > 2) wish_W = soft_W;
    launch = doing == Doing::pedal ? std::min(1.0, launch + step_s / 2.2) : launch;
    crank_W += (wish_W - crank_W) * step_s / (wish_W > crank_W ? 0.8 : 0.22);
    if (wish_W == 0 && crank_W < 6) crank_W = 0;
    if (doing == Doing::stand) crank_W = 0;
    double motor_W = 0;
    if (bike.motor_W > 0 && crank_W > 15) {
      motor_W = std::min(bike.motor_W, 1.6 * crank_W) * std::clamp((bike.motor_ends_mps - v) / 0.6, 0.0, 1.0);
    }
    const double low_gear_N = (bike.motor_W > 0 ? 1.1 : 0.85) * bike.mass_kg * launch + climbable * bike.mass_kg * gravity * (gradient > 0.02);
    double wheel_N = 0;
    if (crank_W > 0) wheel_N = std::min(bike.efficiency * (crank_W + motor_W) / std::max(v, 0.3), low_gear_N);

    // Hands: hold the plan, a little late, never quite even. [D5]
    double squeeze_N = 0;
    if (doing == Doing::brake) {
      const double ahead = at(road.plan_mps, look + 2);
      const double planned = std::max(0.0, (target * target - ahead * ahead) / 4);
      const double settle_s = drags ? 2.2 : 0.9;
      double need = seen_mps2 + std::max(planned, surprise_mps2) + (v - (drags ? 0.985 : 0.93) * target) / settle_s;
      if (dab_s > 0) need = std::max(need, dab_mps2);
      if (s > halt_m - 3 || (v < 1.0 && s > halt_m - 8)) need = std::max(need, 0.5 + std::max(0.0, seen_mps2));
      need *= std::max(0.15, 1 + (drags ? 0.20 : 0.14) * feather_now + (drags ? 0.22 : 0.10) * squeeze_now);
      squeeze_N = inertia_kg * std::clamp(need, 0.0, habit.most_mps2);
    }
    brake_N += (squeeze_N - brake_N) * step_s / (squeeze_N > brake_N ? 0.35 : 0.2);
    if (doing != Doing::brake && brake_N < 3) brake_N = 0;
    if (doing == Doing::stand) brake_N = 0;

    State state{.s_m = s, .v_mps = v, .altitude_m = at(road.altitude_m, s), .gradient = gradient,
                .pedal_W = 0, .brake_J = 0, .brake_N = brake_N, .wheel_N = wheel_N, .relative_mps = now.relative_mps};
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
    ride.both_s += brake_N > 0 && wheel_N > 0 ? step_s : 0;
    ride.effective_drag_area_m2 += posture * bike.drag_area_m2 * (1 + manners.area_sway * drag.wave((t + 0.5 * step_s) / 25)) * mid.relative_mps * mid.relative_mps;
    ride.felt_wind_mps += mid.wind_mps * ds;
    head_sum += (v_mid - mid.relative_mps) * -1 * ds;
    ride.braking_s += brake_N > 0 ? step_s : 0;
    ride.coasting_s += brake_N == 0 && wheel_N == 0 ? step_s : 0;
    ride.states.push_back(state);
    v = v_new;
    s = std::min(s + ds, road.length_m());
    t += step_s;
  }
  ride.effective_drag_area_m2 /= std::max(drag_weight, 1e-9);
  ride.felt_wind_mps /= std::max(s, 1.0);
  ride.mean_headwind_mps = head_sum / std::max(s, 1.0);
  ride.account.height_J = bike.mass_kg * gravity * (road.altitude_m.front() - at(road.altitude_m, s));
  ride.account.motion_J = -0.5 * inertia_kg * v * v;
  return ride;
}

double kilometres(const Ride& ride) { return ride.states.back().s_m / 1000; }

std::vector<Application> applications_of(const Ride& ride) {
  const std::size_t n = ride.states.size();
  std::vector<double> sum_J(n + 1, 0.0);
  for (std::size_t k = 0; k < n; ++k) sum_J[k + 1] = sum_J[k] + ride.states[k].brake_J;
  struct Span {
    std::size_t first, end;
  };
  std::vector<Span> spans;
  for (std::size_t k = 0; k < n; ++k) {
    const std::size_t a = k >= steps_per_s / 2 ? k - steps_per_s / 2 : 0;
    const double mean_W = (sum_J[std::min(n, k + steps_per_s / 2)] - sum_J[a]) / 1.0;
    if (mean_W <= application_W) continue;
    if (!spans.empty() && static_cast<double>(k - spans.back().end) * step_s < application_pause_s - 1e-9) {
      spans.back().end = k + 1;
    } else {
      spans.push_back({.first = k, .end = k + 1});
    }
  }
  std::vector<Application> out;
  for (const Span& x : spans) {
    out.push_back({.start_s = static_cast<double>(x.first) * step_s, .end_s = static_cast<double>(x.end) * step_s,
                   .energy_J = sum_J[x.end] - sum_J[x.first]});
  }
  return out;
}

}  // namespace rides
