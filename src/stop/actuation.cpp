// SPDX-License-Identifier: Apache-2.0
// From the finger to the road: forces and travel of one brake.                                            Layer: stop
#include "stop/actuation.hpp"

#include <algorithm>
#include <cmath>
#include <limits>
#include <numbers>

namespace bw::stop {

namespace {

using parts::Actuation;

//! Stiffening of hose, housing and pads under load: travel grows slower than force. Assumed, see docs/models/stop.md.
constexpr double give_power = 0.7;

double circle_m2(double diameter_mm) {
    const double d_m = diameter_mm * 1e-3;
    return std::numbers::pi / 4 * d_m * d_m;
}

double pistons_m2(const parts::Caliper& caliper) {
    return caliper.pistons_per_side * circle_m2(caliper.piston_diameter_mm.value);
}

//! Ideal clamp force of one side per newton at the finger. [EQ stop-1] [EQ stop-2]
double ideal_clamp(const parts::Wheel& wheel) {
    const double ratio = wheel.lever.ratio.value;
    const double hydraulic = pistons_m2(wheel.caliper) / circle_m2(wheel.lever.master_diameter_mm.value);
    switch (wheel.actuation) {
        case Actuation::hydraulic: return ratio * hydraulic;
        case Actuation::cable: return ratio * wheel.caliper.arm_ratio.value;
        case Actuation::cable_to_hydraulic: return ratio * wheel.caliper.arm_ratio.value * hydraulic;
    }
    return 0;
}

//! Tyre force per newton at the finger above the threshold [N/N]. [EQ stop-1..5]
double tyre_force_per_lever_force(const parts::Bike& bike, parts::End end, const BrakeUnknowns& u, double friction) {
    const parts::Wheel& wheel = bike.wheel(end);
    const double clamp = ideal_clamp(wheel) * std::exp(-u.loss) * u.one_pad_kept;   // [EQ stop-3]
    // Two faces, one clamp force: the other side's pistons are the reaction, not a second force.
    // [EQ stop-5]
    return 2 * friction * clamp * effective_radius_m(wheel.rotor) / bike.wheel_radius_m.value;
}

}  // namespace

double effective_radius_m(const parts::Rotor& rotor) {
    return (rotor.diameter_mm.value + rotor.band_inner_mm.value) / 4 * 1e-3;
}

double tyre_force_from(const parts::Bike& bike, parts::End end, const BrakeUnknowns& u, double friction, double lever_N) {
    return tyre_force_per_lever_force(bike, end, u, friction) * std::max(lever_N - u.threshold_N, 0.0);
}

double lever_force_for(const parts::Bike& bike, parts::End end, const BrakeUnknowns& u, double friction, double tyre_N) {
    if (tyre_N <= 0) return 0;
    const double gain = tyre_force_per_lever_force(bike, end, u, friction);
    if (gain <= 0) return std::numeric_limits<double>::infinity();
    return u.threshold_N + tyre_N / gain;
}

double release_force_for(const parts::Bike& bike, parts::End end, const BrakeUnknowns& u, double friction, double tyre_N) {
    const double rising = lever_force_for(bike, end, u, friction, tyre_N);
    if (rising <= u.threshold_N || !std::isfinite(rising)) return rising;
    return u.threshold_N + (rising - u.threshold_N) * std::exp(-2 * u.loss);
}

std::vector<ChainStage> chain(const parts::Bike& bike, parts::End end, const BrakeUnknowns& u, double friction, double lever_N) {
    const parts::Wheel& wheel = bike.wheel(end);
    std::vector<ChainStage> stages;
    double force = lever_N;
    const auto force_step = [&](std::string name, double ideal_gain, double kept) {
        const double out = force * ideal_gain * kept;
        stages.push_back({.stage = std::move(name), .in = force, .in_unit = "N", .out = out, .out_unit = "N", .loss = 1 - kept});
        force = out;
    };
    const double above = std::max(lever_N - u.threshold_N, 0.0);
    force_step("springs and seals", 1, lever_N > 0 ? above / lever_N : 1);
    force_step(wheel.actuation == Actuation::hydraulic ? "lever to master piston" : "lever to cable", wheel.lever.ratio.value, 1);
    force_step(wheel.actuation == Actuation::hydraulic ? "seals and hose"
               : wheel.actuation == Actuation::cable   ? "cable in its housing"
                                                       : "cable in its housing, seals",
               1, std::exp(-u.loss));
    if (wheel.actuation == Actuation::cable) {
        force_step("arm to clamp force", wheel.caliper.arm_ratio.value, 1);
    } else {
        if (wheel.actuation == Actuation::cable_to_hydraulic) force_step("arm to master piston", wheel.caliper.arm_ratio.value, 1);
        const double pressure_Pa = force / circle_m2(wheel.lever.master_diameter_mm.value);
        stages.push_back({.stage = "master piston to pressure", .in = force, .in_unit = "N", .out = pressure_Pa, .out_unit = "Pa"});
        const double clamp = pressure_Pa * pistons_m2(wheel.caliper);
        stages.push_back({.stage = "pressure to clamp force", .in = pressure_Pa, .in_unit = "Pa", .out = clamp, .out_unit = "N"});
        force = clamp;
    }
    if (wheel.caliper.moving_pads == 1) force_step("rotor bent to the fixed pad", 1, u.one_pad_kept);
    // Friction is what the brake is for, not a loss: the stages below lose nothing.
    force_step("friction on two faces", 2 * friction, 1);
    const double torque_Nm = force * effective_radius_m(wheel.rotor);
    stages.push_back({.stage = "torque at the rotor", .in = force, .in_unit = "N", .out = torque_Nm, .out_unit = "N m"});
    stages.push_back({.stage = "torque to tyre force", .in = torque_Nm, .in_unit = "N m",
                      .out = torque_Nm / bike.wheel_radius_m.value, .out_unit = "N"});
    return stages;
}

double give_mm(const BrakeUnknowns& u, double lever_N) { return u.travel_mm * std::pow(std::max(lever_N, 0.0) / 100, give_power); }

double lever_distance_mm(const parts::Lever& lever, const BrakeUnknowns& u, double lever_N) {
    return lever.bite_mm.value - give_mm(u, lever_N);
}

double lever_distance_back_mm(const parts::Lever& lever, const BrakeUnknowns& u, double lever_N, double peak_N) {
    // Rising force that clamps as this falling one does: the inverse of release_force_for.
    const double rising_N = lever_N <= u.threshold_N ? lever_N : u.threshold_N + (lever_N - u.threshold_N) * std::exp(2 * u.loss);
    return lever_distance_mm(lever, u, std::min(rising_N, peak_N));
}

double lever_force_at_bar(const parts::Lever& lever, const BrakeUnknowns& u) {
    if (lever.bite_mm.value <= 0) return 0;
    if (u.travel_mm <= 0) return std::numeric_limits<double>::infinity();
    return 100 * std::pow(lever.bite_mm.value / u.travel_mm, 1 / give_power);
}

double travel_per_pad_gap(const parts::Wheel& wheel) {
    // Work in = work out: what a force gains it pays in travel. Two moving pads move twice the gap of one.
    return ideal_clamp(wheel) * (wheel.caliper.moving_pads == 1 && wheel.actuation == Actuation::cable ? 1 : 2);
}

}  // namespace bw::stop
