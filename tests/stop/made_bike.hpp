// SPDX-License-Identifier: Apache-2.0
// A made-up bike with round figures, for the stop room's tests.
#pragma once
#include "parts/bike.hpp"
#include "stop/unknowns.hpp"

namespace bw::stop::made {

inline Uncertain exactly(double value) { return {.value = value, .sd = 0, .grade = Grade::assumed, .source = "made up"}; }

inline parts::Wheel hydraulic_wheel() {
    parts::Wheel w;
    w.rotor.diameter_mm = exactly(180);
    w.rotor.band_inner_mm = exactly(150);
    w.caliper.piston_diameter_mm = exactly(22);
    w.caliper.arm_ratio = exactly(1);
    w.lever.ratio = exactly(5);
    w.lever.reach_mm = exactly(70);
    w.lever.bite_mm = exactly(44);
    w.lever.master_diameter_mm = exactly(10);
    w.fluid = parts::Fluid{.kind = parts::FluidKind::mineral, .age_months = exactly(12)};
    return w;
}
inline parts::Bike bike() {
    parts::Bike b;
    b.rider = {.mass_kg = exactly(80), .hand = {.size_cm = exactly(19), .strength_N = exactly(400)}};
    b.mass_kg = exactly(15);
    b.load_kg = exactly(5);
    b.total_mass_kg = exactly(100);
    b.wheelbase_m = exactly(1.05);
    b.centre_of_mass_height_m = exactly(1.1);
    b.centre_of_mass_from_front_m = exactly(0.6);
    b.wheel_radius_m = exactly(0.35);
    b.front = b.rear = hydraulic_wheel();
    return b;
}
inline BrakeUnknowns brake() {
    return {.friction = 0.42, .wet_factor = 0.7, .loss = 0.07, .threshold_N = 6, .one_pad_kept = 1, .travel_mm = 9};
}
inline StopUnknowns unknowns() {
    StopUnknowns u;
    u.front = u.rear = brake();
    u.front_share = 0.6;
    u.grip_dry = 0.88;
    u.grip_wet = 0.6;
    u.grip_gravel = 0.42;
    u.grip_loose = 0.32;
    u.finger_share = 0.57;
    u.cold_factor = 0.72;
    u.glove_factor = 0.87;
    u.span_loss = 0.9;
    u.bar_diameter_mm = 32;
    u.skill_mps2 = 3.4;
    u.caution = 0.75;
    u.test_mps2 = 5.2;
    u.test_quickness = 0.5;
    u.grip_used = 0.85;
    u.reaction_s = 1.0;
    u.reach_s = 0.27;
    u.take_up_s = 0.1;
    u.rise_s = 0.3;
    return u;
}

}  // namespace bw::stop::made
