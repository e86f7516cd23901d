// SPDX-License-Identifier: Apache-2.0
// Statics of two braked wheels on a slope: loads, grip, rear lift, who brakes how much.                Layer: balance
// Theory: docs/models/balance.md [EQ balance-1..11].                                      Pure functions: any thread.
//
// Signs. `deceleration_mps2` is the loss of speed along the road, positive when slowing. `grade` is rise over run,
// negative downhill. `braking_N` is the sum of the rearward forces of the bike's two tyres, positive when braking. Downhill
// a part of the braking only holds the weight back: braking_N = m (deceleration - g sin(theta)).  [EQ balance-1]
// Left out: air drag (it acts near the centre of mass, so it changes the deceleration but not the loads), rolling
// resistance, the wheels' own inertia (under 2 % of the mass), dive of a fork, a rider who moves back.
#pragma once
#include <optional>
#include <vector>

#include "base/cases.hpp"
#include "parts/bike.hpp"
#include "parts/library.hpp"

namespace bw::balance {

//! Standard acceleration of free fall [m/s^2], exact by definition (3rd CGPM, 1901).
inline constexpr double gravity_mps2 = 9.80665;

//! What the statics need of a bike with its rider. The first four > 0; from_front_m < wheelbase_m.
struct Geometry {
    double mass_kg;            //!< on the bike's two wheels: bike, rider, load
    double wheelbase_m;
    double height_m;           //!< centre of that mass above the ground
    double from_front_m;       //!< behind the front axle, along the road
    //! A trailer, 0 = none. Its hitch is taken to carry no weight, and its own wheels bear it on the slope.
    double trailer_kg = 0;
    double trailer_own_share = 0;   //!< of the braking that the trailer needs, done by a brake of its own; 0..1
    double push_height_m = 0;       //!< of the hitch above the ground
};
//! The values (`.value`) of a bike, or of one case of it, with its load where it is told to be [EQ balance-8]. from_front_m is
//! held within 5..95 % of the wheelbase. trailer_own_share: a draw of "sharing.trailer_own"; ignored without an overrun brake.
Geometry geometry_of(const parts::Bike& case_bike, double trailer_own_share = 0);

//! Bike, rider, load and trailer [kg]: what height and speed give energy to.
double whole_kg(const Geometry&);
//! The part of it that the bike's own brakes must hold [kg]. [EQ balance-8]
double slowed_kg(const Geometry&);
//! Height [m] at which all that they hold pushes: the bike's mass at its centre, the trailer at the hitch. [EQ balance-8]
double moment_height_m(const Geometry&);
//! Share of all braking that a trailer's own brake does [-].
double trailer_share(const Geometry&);

double sine_of(double grade);     //!< sin(theta) of a grade = tan(theta); negative downhill
double cosine_of(double grade);

//! Sum of the bike's tyres' braking forces [N] that gives a deceleration on a grade. [EQ balance-1]
double braking_for(const Geometry&, double deceleration_mps2, double grade);
//! Deceleration [m/s^2] from a sum of braking forces; negative: the bike gains speed. [EQ balance-1]
double deceleration_from(const Geometry&, double braking_N, double grade);

struct Loads {
    double front_N, rear_N;   //!< normal to the road; rear_N < 0: more than the rear lift limit, no steady state
};
//! Wheel loads [N] for a deceleration; they sum to m g cos(theta) of the mass on the bike's wheels. [EQ balance-2]
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

//! What ends the habit at this braking: nothing, or the first of these that it runs into. [EQ balance-7]
enum class Hold { none, rear_grip, front_grip, rear_lift, both_grips };
Hold hold_at(const Geometry&, double habit, double grip, double deceleration_mps2, double grade);

//! A motor in a hub that takes part of the braking of its wheel.
struct Motor {
    parts::End wheel = parts::End::rear;
    double most_W = 0, most_N = 0;   //!< most that it takes back; the lower of the two
};
//! The motor of a case; nothing if the bike has none that takes back. battery_room: 0..1, how much of its most it takes: a full or
//! cold battery takes nothing, and then the brakes must do it all.
std::optional<Motor> motor_of(const parts::Bike& case_bike, double battery_room);

//! Who takes how much, in one case and on one surface.
struct Sharing {
    double habit = 0.6;        //!< front share, see front_share_at
    double grip = 0.8;
    double skid_share = 0;     //!< of the time the rear wheel slides, once it is asked for more than grip holds; 0..1
    std::optional<Motor> motor;
};

//! Where the power of all the brakes goes [W]; the five sum to it. A sliding rear wheel stands still: its work heats tyre and road,
//! its rotor gets nothing.
struct WheelPower {
    double front_rotor_W = 0, rear_rotor_W = 0;
    double rear_tyre_W = 0;    //!< skid
    double motor_W = 0;        //!< taken back
    double trailer_W = 0;      //!< the trailer's own brake
    double sum_W() const { return front_rotor_W + rear_rotor_W + rear_tyre_W + motor_W + trailer_W; }
};
//! Splits the brake power of an instant. brake_power_W: of bike and trailer together; where it is not positive (noise about zero
//! while the brake is on) it goes by habit alone. drag_N: air drag and rolling resistance of bike and trailer, which slow
//! without braking. speed_mps >= 0. [EQ balance-7, 9..11]
WheelPower wheel_power(const Geometry&, const Sharing&, double brake_power_W, double speed_mps, double deceleration_mps2, double grade, double drag_N);

//! What bike and trailer ask of air and road together.
struct Whole {
    double mass_kg;               //!< bike, rider, load, trailer
    double drag_area_m2;
    double rolling_resistance;    //!< of the whole mass: bike's and trailer's x surface_factor, and the drag of a motor turned without current
};
//! surface_factor: rolling resistance of this surface over that of the usual road.
Whole whole_of(const parts::Bike& case_bike, double surface_factor);

//! Inputs of the likely cases that belong here: "bike.front_share", the habit, by kind of bike (data/stop.toml).
std::vector<Input> inputs(const parts::Library&, const parts::Bike&);
//! To be drawn after everything else: "sharing.skid_firm", "sharing.skid_loose", with an overrun brake "sharing.trailer_own", with
//! a motor that takes back "sharing.battery_room" (data/balance.toml).
std::vector<Input> late_inputs(const parts::Library&, const parts::Bike&);

//! Draws of late_inputs, held within 0..1. battery_room: 0 where the draw is under a half, 1 where it is over one.
struct BalanceUnknowns {
    double skid_firm = 0, skid_loose = 0, trailer_own_share = 0, battery_room = 1;
};
BalanceUnknowns unknowns_of(const parts::Bike&, const CaseRow&);

}  // namespace bw::balance
