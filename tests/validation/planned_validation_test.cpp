// SPDX-License-Identifier: Apache-2.0
// Planned and described rides against the outside: design figures of bicycle paths, closed forms, a quadrature.
#include <gtest/gtest.h>

#include <algorithm>
#include <boost/math/quadrature/exp_sinh.hpp>
#include <cmath>

#include "ride/plan.hpp"
#include "row.hpp"
#include "wear/described.hpp"

using namespace bw::ride;
using bw::validation::Basis;
using bw::validation::check;

namespace {

constexpr double pi = 3.14159265358979323846;

// A way down from `top_m` at one slope (rise over run, negative down), with one bend in its middle, a point each 5 m.
Route way(double length_m, double top_m, double slope, double bend_radius_m, double bend_rad) {
    Route r;
    r.file = "way";
    r.content_hash = 7;
    double x = 0, y = 0, heading = 0;
    const double from = length_m / 2;
    for (double s = 0; s <= length_m + 1e-9; s += 5) {
        r.distance_m.push_back(s);
        r.altitude_m.push_back(top_m + slope * s);
        r.latitude_deg.push_back(-30 + y / 111195);
        r.longitude_deg.push_back(-20 + x / (111195 * std::cos(pi / 6)));
        for (int k = 0; k < 20; ++k) {
            const double at = s + 0.25 * k + 0.125;
            heading = bend_radius_m > 0 ? std::clamp((at - from) / bend_radius_m, 0.0, bend_rad) : 0.0;
            x += 0.25 * std::sin(heading);
            y += 0.25 * std::cos(heading);
        }
    }
    return r;
}

MotionPaths planned(const Route& route, const MotionParameters& p, const PlanHabits& h) {
    const std::size_t key = 0;
    auto m = plan({}, route, Style::dragging, {&p, 1}, {&h, 1}, {&key, 1});
    EXPECT_TRUE(m) << (m ? "" : m.error().text);
    return *m;
}

double slowest_in_bend(const MotionPaths& m, double length_m, double radius_m) {
    double slowest = 1e9;
    for (std::size_t i = 0; i < m.size(); ++i)
        if (std::abs(m.distance_m[i] - length_m / 2 - radius_m * pi / 2) < radius_m) slowest = std::min(slowest, m.speed_mps[i]);
    return slowest;
}

// SOURCES, worked check 19: 100 kg, 10 %, drag area 0.4, rolling resistance 0.006, air 1.225 (sea level, 15 degC).
const MotionParameters coaster{.mass_kg = 100, .rotating_kg = 0, .drag_area_m2 = 0.4, .rolling_resistance = 0.006, .air_degC = 15};

}  // namespace

TEST(PlannedValidation, StoppingDistanceOfTheBicycleGuide) {
    const MotionParameters p{.mass_kg = 90, .rotating_kg = 1.5, .drag_area_m2 = 0.4, .rolling_resistance = 0.006, .air_degC = 15};
    const PlanHabits h{.top_mps = 30 / 3.6, .swing = 0, .lateral_mps2 = 3, .braking_mps2 = 0.25 * 9.81, .coast_mps2 = 20, .pedal_W = 300};
    const MotionPaths m = planned(way(2000, 100, 0, 0, 0), p, h);
    // Speed and place one whole second before the last moving one: how much way the plan gives that speed, scaled to 30 km/h.
    std::size_t i = m.size() - 1;
    while (m.speed_mps[i] <= 0) --i;
    const double left_m = m.total_distance_m - m.distance_m[i - 1], v = m.speed_mps[i - 1];
    check({.id = "planned-01", .what = "way that a planned stop from 30 km/h takes at f = 0.25, level", .source = "AASHTO bicycle guide, p. 40 to 42 (a reproduction read): V^2/(254 f)", .basis = Basis::source_read,
           .expected = 30.0 * 30 / (254 * 0.25), .tolerance = 0.05, .unit = "m", .why = "254 is 2 g 3.6^2 rounded (254.3)", .function = "ride::plan", .used_by_answer = true},
          left_m * (30 / 3.6) * (30 / 3.6) / (v * v));
}

TEST(PlannedValidation, BendSpeedsOfPathDesign) {
    const MotionParameters p{.mass_kg = 90, .rotating_kg = 1.5, .drag_area_m2 = 0.4, .rolling_resistance = 0.006, .air_degC = 15};
    PlanHabits h{.top_mps = 15, .swing = 0, .lateral_mps2 = 9.80665 * std::tan(15 * pi / 180), .braking_mps2 = 2, .coast_mps2 = 0.3, .pedal_W = 150};
    check({.id = "planned-02", .what = "speed in a bend of 27 m radius at a lean of 15 degrees, down 8 %",
           .source = "FHWA-HRT-04-103 (2004), table 23 and design speed: 27 m belong to 30 km/h (AASHTO); the lean of 15 degrees from memory", .basis = Basis::from_memory, .expected = 30 / 3.6,
           .tolerance = 0.25, .unit = "m/s", .why = "the radius is rounded to a metre (0.08 m/s), and bends are spread over some metres", .function = "ride::plan", .used_by_answer = true},
          slowest_in_bend(planned(way(1200, 300, -0.08, 27, pi), p, h), 1200, 27));
    h.lateral_mps2 = 0.36 * 9.80665;
    check({.id = "planned-03", .what = "speed in a bend of 9.2 m radius at 0.36 g, down 8 %", .source = "exact: sqrt(f g R); f and R as observed, FHWA-HRT-04-103 (2004), table 19, 142 bicyclists, 85th percentile",
           .basis = Basis::exact, .expected = std::sqrt(0.36 * 9.80665 * 9.2), .tolerance = 0.35, .unit = "m/s", .why = "a corner is spread over a bell of 6 m, which rounds so tight a bend off by some per cent",
           .function = "ride::plan", .used_by_answer = true},
          slowest_in_bend(planned(way(1200, 300, -0.08, 9.2, pi), p, h), 1200, 9.2));
}

TEST(PlannedValidation, TerminalSpeedAndHardestHeldSpeed) {
    const PlanHabits free{.top_mps = 40, .swing = 0, .lateral_mps2 = 3, .braking_mps2 = 4, .coast_mps2 = 20, .pedal_W = 0};
    const MotionPaths rolls = planned(way(3000, 300, -0.10, 0, 0), coaster, free);
    std::size_t low = 0;   // 15 m above the sea, before the brakes
    while (rolls.altitude_m[low] > 15) ++low;
    check({.id = "planned-04", .what = "terminal speed: 100 kg, 10 %, drag area 0.4 m2, rolling 0.006, sea level", .source = "exact: m g sin = 1/2 rho CdA v^2 + Crr m g (worked check 19: 19.349 m/s)", .basis = Basis::exact,
           .expected = 19.349, .tolerance = 0.05, .unit = "m/s", .why = "15 m above the sea, coming out of air that is thinner by up to 3 %",
           .function = "ride::plan", .used_by_answer = true},
          rolls.speed_mps[low]);
    PlanHabits held = free;
    held.top_mps = 11.171;
    const MotionPaths drags = planned(way(1200, 120, -0.10, 0, 0), coaster, held);
    check({.id = "planned-05", .what = "brake power at the speed that asks most of it, the same hill", .source = "exact: v (m g sin - 1/2 rho CdA v^2 - Crr m g) (worked check 19: 683.1 W at 11.171 m/s)", .basis = Basis::exact,
           .expected = 683.1, .tolerance = 6, .unit = "W", .why = "half way down at 60 m the air is thinner by 0.6 % (1.6 W); heights pass through a smoother", .function = "ride::plan", .used_by_answer = true},
          drags.paths[0].brake_power_W[drags.size() / 2]);
}

TEST(PlannedValidation, AStopTurnsTheEnergyOfMotionIntoTheBrakes) {
    const MotionParameters p{.mass_kg = 100, .rotating_kg = 0, .drag_area_m2 = 0, .rolling_resistance = 0, .air_degC = 15};
    const PlanHabits h{.top_mps = 10, .swing = 0, .lateral_mps2 = 3, .braking_mps2 = 1.5, .coast_mps2 = 20, .pedal_W = 200};
    check({.id = "planned-06", .what = "energy of one stop: 100 kg from 10 m/s, no drag", .source = "exact: 1/2 m v^2 = 5.0 kJ", .basis = Basis::exact, .expected = 5000, .tolerance = 5, .unit = "J",
           .why = "a way of 2 km: the rider nears 10 m/s from below", .function = "ride::plan", .used_by_answer = true},
          planned(way(2000, 100, 0, 0, 0), p, h).paths[0].brakes_J);
}

TEST(DescribedValidation, ShareOfTheHeightThatIsBraked) {
    // Slopes that are exponentially distributed about their mean, air and rolling holding s0 by themselves: a quadrature.
    const double mass = 90, area = 0.45, rolling = 0.008, held = 9, mean_slope = 0.03, down = 0.5;   // 15 m/km
    const double s0 = 0.5 * 1.19 * area * held * held / (mass * 9.80665) + rolling, s = mean_slope;
    boost::math::quadrature::exp_sinh<double> integral;
    const double braked = integral.integrate([&](double over) { return over * std::exp(-(over + s0) / s) / s; });
    check({.id = "planned-07", .what = "braked share of the height, slopes exponential about 3 %, 9 m/s held", .source = "Boost.Math exp_sinh quadrature of E[(slope - s0)+]/E[slope]", .basis = Basis::library,
           .expected = braked / s, .tolerance = 1e-6, .unit = "", .why = "rounding", .function = "wear::told_braked_share", .used_by_answer = true},
          bw::wear::told_braked_share({.distance_m = 10000, .descent_m = 10000 * mean_slope * down, .stops_per_km = 0, .total_mass_kg = mass, .drag_area_m2 = area, .rolling_resistance = rolling},
                                      {.held_mps = held, .down_share = down}));
    check({.id = "planned-08", .what = "energy of two stops a kilometre over 10 km, level, 100 kg from 6 m/s, all kept", .source = "exact: 20 x 1/2 m v^2", .basis = Basis::exact, .expected = 20 * 0.5 * 100 * 36, .tolerance = 1e-6,
           .unit = "J", .why = "rounding", .function = "wear::told_energy_J", .used_by_answer = true},
          bw::wear::told_energy_J({.distance_m = 10000, .descent_m = 0, .stops_per_km = 2, .total_mass_kg = 100, .drag_area_m2 = 0.4, .rolling_resistance = 0.006}, {.held_mps = 8, .down_share = 0.5, .from_mps = 6, .kept_share = 1}));
}
