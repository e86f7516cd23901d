// SPDX-License-Identifier: Apache-2.0
// From the finger to the road: forces and travel of one brake.                                            Layer: stop
#include "stop/actuation.hpp"

#include <algorithm>
#include <cmath>
#include <limits>
#include <numbers>

#include <boost/math/tools/toms748_solve.hpp>

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

//! A lever whose ratio goes in a line with its distance from the bar. [EQ stop-33]
//! "way" is that of the master piston or cable from the bite [mm], "pull" the force on it [N].
class ChangingLever {
public:
    ChangingLever(const parts::Lever& lever, double travel_mm)
        : rest_(lever.ratio.value), bar_(lever.ratio_at_bar->value), reach_mm_(std::max(lever.reach_mm.value, lever.bite_mm.value)), bite_mm_(lever.bite_mm.value),
          slope_((bar_ - rest_) / reach_mm_), middle_((rest_ + bar_) / 2), travel_mm_(travel_mm) {}

    double ratio_at(double distance_mm) const { return bar_ - slope_ * std::clamp(distance_mm, 0.0, reach_mm_); }
    //! From the bite to a distance; the ratio stays that at the bar beyond it, and that at rest further out.
    double way_to(double distance_mm) const { return from_bar(bite_mm_) - from_bar(distance_mm); }
    double distance_after(double way_mm) const { return place_at(from_bar(bite_mm_) - way_mm); }
    //! The bite from which a way ends at a distance.
    double bite_for(double way_mm, double distance_mm) const { return place_at(from_bar(distance_mm) + way_mm); }
    //! The give is the brake's own: on its side of the lever, with the row's travel at the lever's middle ratio. [EQ stop-33]
    double way_of(double pull_N) const { return travel_mm_ <= 0 ? 0 : travel_mm_ / middle_ * std::pow(std::max(pull_N, 0.0) / (100 * middle_), give_power); }
    double pull_after(double way_mm) const {
        return travel_mm_ > 0 ? 100 * middle_ * std::pow(std::max(way_mm, 0.0) * middle_ / travel_mm_, 1 / give_power) : std::numeric_limits<double>::infinity();
    }
    double ratio_under(double pull_N) const { return ratio_at(distance_after(way_of(pull_N))); }
    //! The pull for which pull = fixed_N + per_ratio_N x ratio, where the lever then stands: it lies between those at both ends.
    double pull_for(double fixed_N, double per_ratio_N) const {
        const double low = fixed_N + per_ratio_N * std::min(rest_, bar_), high = fixed_N + per_ratio_N * std::max(rest_, bar_);
        if (!std::isfinite(high)) return high;
        const auto off = [&](double pull) { return pull - fixed_N - per_ratio_N * ratio_under(pull); };
        const double at_low = off(low), at_high = off(high);
        if (at_low >= 0) return low;
        if (at_high <= 0) return high;
        std::uintmax_t most = 100;
        const auto root = boost::math::tools::toms748_solve(off, low, high, at_low, at_high, boost::math::tools::eps_tolerance<double>(50), most);
        return (root.first + root.second) / 2;
    }

private:
    //! Way between the bar and a distance from it [mm], below 0 beyond the bar: integral of 1/ratio; and its inverse.
    double from_bar(double distance_mm) const {
        const double inside_mm = std::clamp(distance_mm, 0.0, reach_mm_);
        const double way = slope_ == 0 ? inside_mm / bar_ : -std::log1p(-slope_ * inside_mm / bar_) / slope_;
        return way + (distance_mm < 0 ? distance_mm / bar_ : distance_mm > reach_mm_ ? (distance_mm - reach_mm_) / rest_ : 0);
    }
    double place_at(double way_mm) const {
        const double whole = from_bar(reach_mm_);
        if (way_mm < 0) return way_mm * bar_;
        if (way_mm > whole) return reach_mm_ + (way_mm - whole) * rest_;
        return slope_ == 0 ? bar_ * way_mm : -bar_ * std::expm1(-slope_ * way_mm) / slope_;
    }

    double rest_, bar_, reach_mm_, bite_mm_, slope_, middle_, travel_mm_;   // slope: per mm of finger travel towards the bar
};

//! Ratio of the lever at a force of the finger [N].
double ratio_under(const parts::Lever& lever, const BrakeUnknowns& u, double lever_N) {
    if (!lever.ratio_at_bar) return lever.ratio.value;
    const ChangingLever l(lever, u.travel_mm);
    return l.ratio_under(l.pull_for(0, std::max(lever_N, 0.0)));
}

//! Pull [N] of the clamp force that lever_N gives now, with the lever at another place: the springs take their part at its ratio there.
double pull_at(const ChangingLever& l, const BrakeUnknowns& u, double lever_N, double distance_mm) {
    const double now_N = l.pull_for(0, std::max(lever_N, 0.0));
    return now_N + u.threshold_N * (l.ratio_at(distance_mm) - l.ratio_under(now_N));
}

//! Ideal clamp force of one side per newton at the finger, at a ratio of the lever. [EQ stop-1] [EQ stop-2]
double ideal_clamp(const parts::Wheel& wheel, double ratio) {
    const double hydraulic = pistons_m2(wheel.caliper) / circle_m2(wheel.lever.master_diameter_mm.value);
    switch (wheel.actuation) {
        case Actuation::hydraulic: return ratio * hydraulic;
        case Actuation::cable: return ratio * wheel.caliper.arm_ratio.value;
        case Actuation::cable_to_hydraulic: return ratio * wheel.caliper.arm_ratio.value * hydraulic;
    }
    return 0;
}

//! Tyre force per newton at the finger above the threshold [N/N], at a ratio of the lever. [EQ stop-1..5]
double tyre_force_per_lever_force(const parts::Bike& bike, parts::End end, const BrakeUnknowns& u, double friction, double ratio) {
    const parts::Wheel& wheel = bike.wheel(end);
    const double clamp = ideal_clamp(wheel, ratio) * std::exp(-u.loss) * u.one_pad_kept;   // [EQ stop-3]
    // Two faces, one clamp force: the other side's pistons are the reaction, not a second force.
    // [EQ stop-5]
    return 2 * friction * clamp * effective_radius_m(wheel.rotor) / bike.wheel_radius_m.value;
}

}  // namespace

double effective_radius_m(const parts::Rotor& rotor) {
    return (rotor.diameter_mm.value + rotor.band_inner_mm.value) / 4 * 1e-3;
}

double tyre_force_from(const parts::Bike& bike, parts::End end, const BrakeUnknowns& u, double friction, double lever_N) {
    return tyre_force_per_lever_force(bike, end, u, friction, ratio_under(bike.wheel(end).lever, u, lever_N)) * std::max(lever_N - u.threshold_N, 0.0);
}

double lever_force_for(const parts::Bike& bike, parts::End end, const BrakeUnknowns& u, double friction, double tyre_N) {
    if (tyre_N <= 0) return 0;
    const parts::Lever& lever = bike.wheel(end).lever;
    if (!lever.ratio_at_bar) {
        const double gain = tyre_force_per_lever_force(bike, end, u, friction, lever.ratio.value);
        if (gain <= 0) return std::numeric_limits<double>::infinity();
        return u.threshold_N + tyre_N / gain;
    }
    const double per_pull = tyre_force_per_lever_force(bike, end, u, friction, 1);
    if (per_pull <= 0) return std::numeric_limits<double>::infinity();
    const ChangingLever l(lever, u.travel_mm);
    const double pull_N = l.pull_for(tyre_N / per_pull, u.threshold_N);
    return pull_N / l.ratio_under(pull_N);
}

double lever_force_for_share(const parts::Lever& lever, const BrakeUnknowns& u, double lever_N, double above_N, double share) {
    if (!lever.ratio_at_bar) return u.threshold_N + share * above_N;
    const ChangingLever l(lever, u.travel_mm);
    const double pull_N = l.pull_for(share * above_N * l.ratio_under(l.pull_for(0, lever_N)), u.threshold_N);
    return pull_N / l.ratio_under(pull_N);
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
    force_step(wheel.actuation == Actuation::hydraulic ? "lever to master piston" : "lever to cable", ratio_under(wheel.lever, u, lever_N), 1);
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
    if (lever.ratio_at_bar) {
        const ChangingLever l(lever, u.travel_mm);
        return l.distance_after(l.way_of(l.pull_for(0, std::max(lever_N, 0.0))));
    }
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
    if (lever.ratio_at_bar) {
        const ChangingLever l(lever, u.travel_mm);
        return l.pull_after(l.way_to(0)) / l.ratio_at(0);
    }
    return 100 * std::pow(lever.bite_mm.value / u.travel_mm, 1 / give_power);
}

double lever_ratio_at(const parts::Lever& lever, double distance_mm) { return lever.ratio_at_bar ? ChangingLever(lever, 0).ratio_at(distance_mm) : lever.ratio.value; }

double travel_per_pad_gap(const parts::Wheel& wheel) {
    // Work in = work out: what a force gains it pays in travel. Two moving pads move twice the gap of one.
    return ideal_clamp(wheel, lever_ratio_at(wheel.lever, wheel.lever.bite_mm.value)) * (wheel.caliper.moving_pads == 1 && wheel.actuation == Actuation::cable ? 1 : 2);
}

double travel_of_gap_mm(const parts::Wheel& wheel, double gap_mm) {
    const double at_bite_mm = travel_per_pad_gap(wheel) * gap_mm;
    if (!wheel.lever.ratio_at_bar) return at_bite_mm;
    const ChangingLever l(wheel.lever, 0);
    return wheel.lever.bite_mm.value - l.distance_after(at_bite_mm / l.ratio_at(wheel.lever.bite_mm.value));
}

double at_bite_ratio_mm(const parts::Lever& lever, double distance_mm) {
    if (!lever.ratio_at_bar) return lever.bite_mm.value - distance_mm;
    const ChangingLever l(lever, 0);
    return l.way_to(distance_mm) * l.ratio_at(lever.bite_mm.value);
}

double left_to_bar_mm(const parts::Lever& lever, const BrakeUnknowns& u, double lever_N) {
    if (!lever.ratio_at_bar) return std::max(lever_distance_mm(lever, u, lever_N), 0.0);
    if (!std::isfinite(lever_N)) return 0;
    const ChangingLever l(lever, u.travel_mm);
    return std::max(l.way_to(0) - l.way_of(pull_at(l, u, lever_N, 0)), 0.0) * l.ratio_at(lever.bite_mm.value);
}

double bite_that_leaves_mm(const parts::Lever& lever, const BrakeUnknowns& u, double lever_N, double left_mm) {
    if (!lever.ratio_at_bar) return left_mm + give_mm(u, lever_N);
    if (!std::isfinite(lever_N)) return std::numeric_limits<double>::infinity();
    const ChangingLever l(lever, u.travel_mm);
    return l.bite_for(l.way_of(pull_at(l, u, lever_N, left_mm)), left_mm);
}

}  // namespace bw::stop
