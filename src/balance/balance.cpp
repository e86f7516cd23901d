// SPDX-License-Identifier: Apache-2.0
// Statics of two braked wheels on a slope.                                                             Layer: balance
#include "balance/balance.hpp"

#include <algorithm>
#include <cmath>
#include <limits>

namespace bw::balance {

namespace {

double weight_N(const Geometry& g, double grade) { return g.mass_kg * gravity_mps2 * cosine_of(grade); }

Limit limit_of(const Geometry& g, double braking_N, double grade) {
    return {.braking_N = braking_N, .deceleration_mps2 = deceleration_from(g, braking_N, grade)};
}

// Front shares between which neither tyre is asked for more than it holds.
struct Bounds {
    double least, most;
};
Bounds bounds_at(const Geometry& g, double grip, double braking_N, double grade) {
    const Loads loads = wheel_loads_at(g, braking_N, grade);
    return {.least = 1 - grip * std::max(loads.rear_N, 0.0) / braking_N, .most = grip * loads.front_N / braking_N};
}

double held(double habit) { return std::clamp(habit, 0.02, 0.98); }

Hold hold_for(const Geometry& g, double habit, double grip, double braking_N, double grade) {
    if (braking_N <= 0) return Hold::none;
    const Bounds b = bounds_at(g, grip, braking_N, grade);
    if (b.least > b.most) return Hold::both_grips;
    if (b.least >= 1) return Hold::rear_lift;
    if (held(habit) < b.least) return Hold::rear_grip;
    if (held(habit) > b.most) return Hold::front_grip;
    return Hold::none;
}

double front_share_for(const Geometry& g, double habit, double grip, double braking_N, double grade) {
    const double kept = held(habit);
    if (braking_N <= 0) return kept;
    const Bounds b = bounds_at(g, grip, braking_N, grade);
    if (b.least > b.most) {   // beyond all grip: both wheels slide
        const Loads loads = wheel_loads_at(g, braking_N, grade);
        return std::clamp(loads.front_N / (loads.front_N + loads.rear_N), 0.0, 1.0);
    }
    return std::clamp(kept, std::max(b.least, 0.0), std::min(b.most, 1.0));
}

}  // namespace

Geometry geometry_of(const parts::Bike& bike, double trailer_own_share) {
    const double wheelbase = bike.wheelbase_m.value;
    Geometry g{.mass_kg = bike.total_mass_kg.value,
               .wheelbase_m = wheelbase,
               .height_m = bike.centre_of_mass_height_m.value,
               .from_front_m = bike.centre_of_mass_from_front_m.value};
    // [EQ balance-8] the load where it was told to be, the rest where it was.
    const double load = std::clamp(bike.load_kg.value / g.mass_kg, 0.0, 0.9);
    if (bike.load_height_m) g.height_m += load * (bike.load_height_m->value - g.height_m);
    if (bike.load_from_front_m) g.from_front_m += load * (bike.load_from_front_m->value - g.from_front_m);
    g.from_front_m = std::clamp(g.from_front_m, 0.05 * wheelbase, 0.95 * wheelbase);
    if (bike.trailer) {
        g.trailer_kg = bike.trailer->mass_kg.value;
        g.push_height_m = bike.trailer->push_height_m.value;
        if (bike.trailer->brake == parts::TrailerBrake::overrun) g.trailer_own_share = std::clamp(trailer_own_share, 0.0, 1.0);
    }
    return g;
}

double whole_kg(const Geometry& g) { return g.mass_kg + g.trailer_kg; }
double slowed_kg(const Geometry& g) { return g.mass_kg + (1 - g.trailer_own_share) * g.trailer_kg; }
double moment_height_m(const Geometry& g) {
    const double pushing_kg = (1 - g.trailer_own_share) * g.trailer_kg;
    return pushing_kg > 0 ? (g.mass_kg * g.height_m + pushing_kg * g.push_height_m) / (g.mass_kg + pushing_kg) : g.height_m;
}
double trailer_share(const Geometry& g) { return g.trailer_own_share * g.trailer_kg / whole_kg(g); }

double sine_of(double grade) { return grade / std::sqrt(1 + grade * grade); }
double cosine_of(double grade) { return 1 / std::sqrt(1 + grade * grade); }

double braking_for(const Geometry& g, double deceleration_mps2, double grade) {
    return slowed_kg(g) * (deceleration_mps2 - gravity_mps2 * sine_of(grade));
}

double deceleration_from(const Geometry& g, double braking_N, double grade) {
    return braking_N / slowed_kg(g) + gravity_mps2 * sine_of(grade);
}

Loads wheel_loads_at(const Geometry& g, double braking_N, double grade) {
    const double weight = weight_N(g, grade);
    const double moved = braking_N * moment_height_m(g) / g.wheelbase_m;
    return {.front_N = weight * (g.wheelbase_m - g.from_front_m) / g.wheelbase_m + moved,
            .rear_N = weight * g.from_front_m / g.wheelbase_m - moved};
}

Loads wheel_loads(const Geometry& g, double deceleration_mps2, double grade) {
    return wheel_loads_at(g, braking_for(g, deceleration_mps2, grade), grade);
}

Limit rear_lift_limit(const Geometry& g, double grade) {
    return limit_of(g, weight_N(g, grade) * g.from_front_m / moment_height_m(g), grade);
}

Limit rear_only_limit(const Geometry& g, double grip, double grade) {
    return limit_of(g, grip * weight_N(g, grade) * g.from_front_m / (g.wheelbase_m + grip * moment_height_m(g)), grade);
}

Limit front_lock_limit(const Geometry& g, double grip, double grade) {
    const double room = g.wheelbase_m - grip * moment_height_m(g);
    if (room <= 0) {
        // Each newton of braking brings more grip than it uses: the wheel cannot lock, the bike pitches over.
        const double inf = std::numeric_limits<double>::infinity();
        return {.braking_N = inf, .deceleration_mps2 = inf};
    }
    return limit_of(g, grip * weight_N(g, grade) * (g.wheelbase_m - g.from_front_m) / room, grade);
}

Limit front_only_limit(const Geometry& g, double grip, double grade) {
    const Limit lock = front_lock_limit(g, grip, grade), lift = rear_lift_limit(g, grade);
    return lock.braking_N < lift.braking_N ? lock : lift;
}

Limit both_best_limit(const Geometry& g, double grip, double grade) {
    const Limit lift = rear_lift_limit(g, grade);
    const double full = grip * weight_N(g, grade);
    return full < lift.braking_N ? limit_of(g, full, grade) : lift;
}

double ideal_front_share(const Geometry& g, double deceleration_mps2, double grade) {
    const Loads loads = wheel_loads(g, deceleration_mps2, grade);
    return std::clamp(loads.front_N / (loads.front_N + loads.rear_N), 0.0, 1.0);
}

double front_share_at(const Geometry& g, double habit, double grip, double deceleration_mps2, double grade) {
    return front_share_for(g, habit, grip, braking_for(g, deceleration_mps2, grade), grade);
}

Hold hold_at(const Geometry& g, double habit, double grip, double deceleration_mps2, double grade) {
    return hold_for(g, habit, grip, braking_for(g, deceleration_mps2, grade), grade);
}

std::optional<Motor> motor_of(const parts::Bike& bike, double battery_room) {
    if (!bike.regeneration_W || !bike.regeneration_N || bike.motor_wheel == parts::MotorWheel::crank) return std::nullopt;
    return Motor{.wheel = bike.motor_wheel == parts::MotorWheel::front ? parts::End::front : parts::End::rear,
                 .most_W = battery_room * bike.regeneration_W->value, .most_N = battery_room * bike.regeneration_N->value};
}

WheelPower wheel_power(const Geometry& g, const Sharing& s, double brake_power_W, double speed_mps, double deceleration_mps2, double grade, double drag_N) {
    WheelPower w;
    w.trailer_W = trailer_share(g) * brake_power_W;   // [EQ balance-11]
    const double tyres_W = brake_power_W - w.trailer_W;
    if (!(brake_power_W > 0)) {
        w.front_rotor_W = held(s.habit) * tyres_W;
        w.rear_rotor_W = tyres_W - w.front_rotor_W;
        return w;
    }
    const double braking_N = braking_for(g, deceleration_mps2, grade) - drag_N * slowed_kg(g) / whole_kg(g);
    const double share = front_share_for(g, s.habit, s.grip, braking_N, grade);
    const Hold hold = hold_for(g, s.habit, s.grip, braking_N, grade);
    const double slides = hold == Hold::rear_grip || hold == Hold::both_grips ? std::clamp(s.skid_share, 0.0, 1.0) : 0;   // [EQ balance-9]
    const double front_W = share * tyres_W, rear_W = tyres_W - front_W;
    w.rear_tyre_W = slides * rear_W;
    w.front_rotor_W = front_W;
    w.rear_rotor_W = rear_W - w.rear_tyre_W;
    if (s.motor) {   // [EQ balance-10] it takes first; a wheel that slides turns no motor
        const bool front = s.motor->wheel == parts::End::front;
        const double most_W = std::min(s.motor->most_W, s.motor->most_N * std::max(speed_mps, 0.0));
        double& rotor_W = front ? w.front_rotor_W : w.rear_rotor_W;
        w.motor_W = front ? std::min(front_W, most_W) : (1 - slides) * std::min(rear_W, most_W);
        rotor_W -= w.motor_W;
    }
    return w;
}

Whole whole_of(const parts::Bike& bike, double surface_factor) {
    const double own_kg = bike.total_mass_kg.value;
    Whole w{.mass_kg = own_kg, .drag_area_m2 = bike.drag_area_m2.value, .rolling_resistance = bike.rolling_resistance.value * surface_factor};
    if (bike.trailer) {
        const parts::Trailer& t = *bike.trailer;
        w.mass_kg += t.mass_kg.value;
        w.drag_area_m2 += t.drag_area_m2.value;
        w.rolling_resistance = surface_factor * (own_kg * bike.rolling_resistance.value + t.mass_kg.value * t.rolling_resistance.value) / w.mass_kg;
    }
    if (bike.overrun_N) w.rolling_resistance += bike.overrun_N->value / (w.mass_kg * gravity_mps2);
    return w;
}

std::vector<Input> inputs(const parts::Library& library, const parts::Bike& bike) {
    return {library.input("balance.front_share." + std::string(parts::word_of(bike.kind)), "bike.front_share")};
}

std::vector<Input> late_inputs(const parts::Library& library, const parts::Bike& bike) {
    std::vector<Input> all = {library.input("balance.skid_share.firm", "sharing.skid_firm"), library.input("balance.skid_share.loose", "sharing.skid_loose")};
    if (bike.trailer && bike.trailer->brake == parts::TrailerBrake::overrun) all.push_back(library.input("balance.trailer_own_share", "sharing.trailer_own"));
    if (bike.regeneration_W) all.push_back(library.input("balance.battery_room", "sharing.battery_room"));
    return all;
}

BalanceUnknowns unknowns_of(const parts::Bike& bike, const CaseRow& row) {
    const bool own = bike.trailer && bike.trailer->brake == parts::TrailerBrake::overrun;
    return {.skid_firm = std::clamp(row("sharing.skid_firm"), 0.0, 1.0), .skid_loose = std::clamp(row("sharing.skid_loose"), 0.0, 1.0),
            .trailer_own_share = own ? std::clamp(row("sharing.trailer_own"), 0.0, 1.0) : 0.0,
            .battery_room = bike.regeneration_W ? std::clamp(2 * row("sharing.battery_room") - 1, 0.0, 1.0) : 1.0};
}

}  // namespace bw::balance
