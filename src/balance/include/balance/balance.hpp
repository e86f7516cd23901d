// SPDX-License-Identifier: Apache-2.0
// Statics of two braked wheels on a slope: loads, grip, rear lift, who brakes how much.                Layer: balance
// Theory: docs/models/stop.md [EQ balance-1..7].                                          Pure functions: any thread.
//
// Signs. `deceleration_mps2` is the loss of speed along the road, positive when slowing. `grade` is rise over run,
// negative downhill. `braking_N` is the sum of the tyres' rearward forces, positive when braking. Downhill a part of
// the braking only holds the weight back: braking_N = m (deceleration - g sin(theta)).  [EQ balance-1]
// Left out: air drag (it acts near the centre of mass, so it changes the deceleration but not the loads), rolling
// resistance, the wheels' own inertia (under 2 % of the mass), dive of a fork, a rider who moves back.
#pragma once
#include <vector>

#include "base/cases.hpp"
#include "parts/bike.hpp"
#include "parts/library.hpp"

namespace bw::balance {

//! Standard acceleration of free fall [m/s^2], exact by definition (3rd CGPM, 1901).
inline constexpr double gravity_mps2 = 9.80665;

//! What the statics need of a bike with its rider. All > 0; from_front_m < wheelbase_m.
struct Geometry {
    double mass_kg;
    double wheelbase_m;
    double height_m;       //!< centre of mass above the ground
    double from_front_m;   //!< centre of mass behind the front axle, along the road
};
//! The values (`.value`) of a bike, or of one case of it. from_front_m is held within 5..95 % of the wheelbase.
Geometry geometry_of(const parts::Bike& case_bike);

double sine_of(double grade);     //!< sin(theta) of a grade = tan(theta); negative downhill
double cosine_of(double grade);

//! Sum of the tyres' braking forces [N] that gives a deceleration on a grade. [EQ balance-1]
double braking_for(const Geometry&, double deceleration_mps2, double grade);
//! Deceleration [m/s^2] from a sum of braking forces; negative: the bike gains speed. [EQ balance-1]
double deceleration_from(const Geometry&, double braking_N, double grade);

struct Loads {
    double front_N, rear_N;   //!< normal to the road; rear_N < 0: more than the rear lift limit, no steady state
};
//! Wheel loads [N] for a deceleration; they sum to m g cos(theta). [EQ balance-2]
Loads wheel_loads(const Geometry&, double deceleration_mps2, double grade);
//! The same from the sum of braking forces.
Loads wheel_loads_at(const Geometry&, double braking_N, double grade);

//! Largest sums of braking forces [N] and the decelerations [m/s^2] they give. grip > 0. [EQ balance-3..6]
struct Limit {
    double braking_N;
    double deceleration_mps2;
};
//! The rear wheel leaves the ground (pitch-over); independent of grip. [EQ balance-3]
Limit rear_lift_limit(const Geometry&, double grade);
//! Rear brake alone, rear wheel about to skid. [EQ balance-4]
Limit rear_only_limit(const Geometry&, double grip, double grade);
//! Front brake alone, front wheel about to lock; infinite when the rear lifts before grip can run out. [EQ balance-5]
Limit front_lock_limit(const Geometry&, double grip, double grade);
//! Front brake alone: the lower of lock and lift.
Limit front_only_limit(const Geometry&, double grip, double grade);
//! Both brakes shared in the best way: the lower of full grip on both wheels and lift. [EQ balance-6]
Limit both_best_limit(const Geometry&, double grip, double grade);

//! Front share of the braking at which both tyres use the same part of their grip [-]; 1 at or past lift. [EQ balance-6]
double ideal_front_share(const Geometry&, double deceleration_mps2, double grade);

//! Front share that a rider takes [-]: the habit, moved only as far as grip makes it: the rear cannot give more than
//! grip x rear load, the front not more than grip x front load. Where both are used up, the ideal share.
//! habit: 0..1, a draw of "bike.front_share" (a draw beyond 0.02..0.98 is brought to it: nobody keeps that up for a ride).
//! With no braking the habit is returned. [EQ balance-7]
double front_share_at(const Geometry&, double habit, double grip, double deceleration_mps2, double grade);

//! Inputs of the likely cases that belong here: "bike.front_share", the habit, by kind of bike (data/stop.toml).
std::vector<Input> inputs(const parts::Library&, const parts::Bike&);

}  // namespace bw::balance
