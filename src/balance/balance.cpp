// SPDX-License-Identifier: Apache-2.0
// Statics of two braked wheels on a slope.                                                             Layer: balance
#include "balance/balance.hpp"

#include <algorithm>
#include <cmath>
#include <limits>
#include <string>

namespace bw::balance {

namespace {

double weight_N(const Geometry& g, double grade) { return g.mass_kg * gravity_mps2 * cosine_of(grade); }

Limit limit_of(const Geometry& g, double braking_N, double grade) {
    return {.braking_N = braking_N, .deceleration_mps2 = deceleration_from(g, braking_N, grade)};
}

}  // namespace

Geometry geometry_of(const parts::Bike& bike) {
    const double wheelbase = bike.wheelbase_m.value;
    return {.mass_kg = bike.total_mass_kg.value,
            .wheelbase_m = wheelbase,
            .height_m = bike.centre_of_mass_height_m.value,
            .from_front_m = std::clamp(bike.centre_of_mass_from_front_m.value, 0.05 * wheelbase, 0.95 * wheelbase)};
}

double sine_of(double grade) { return grade / std::sqrt(1 + grade * grade); }
double cosine_of(double grade) { return 1 / std::sqrt(1 + grade * grade); }

double braking_for(const Geometry& g, double deceleration_mps2, double grade) {
    return g.mass_kg * (deceleration_mps2 - gravity_mps2 * sine_of(grade));
}

double deceleration_from(const Geometry& g, double braking_N, double grade) {
    return braking_N / g.mass_kg + gravity_mps2 * sine_of(grade);
}

Loads wheel_loads_at(const Geometry& g, double braking_N, double grade) {
    const double weight = weight_N(g, grade);
    const double moved = braking_N * g.height_m / g.wheelbase_m;
    return {.front_N = weight * (g.wheelbase_m - g.from_front_m) / g.wheelbase_m + moved,
            .rear_N = weight * g.from_front_m / g.wheelbase_m - moved};
}

Loads wheel_loads(const Geometry& g, double deceleration_mps2, double grade) {
    return wheel_loads_at(g, braking_for(g, deceleration_mps2, grade), grade);
}

Limit rear_lift_limit(const Geometry& g, double grade) {
    return limit_of(g, weight_N(g, grade) * g.from_front_m / g.height_m, grade);
}

Limit rear_only_limit(const Geometry& g, double grip, double grade) {
    return limit_of(g, grip * weight_N(g, grade) * g.from_front_m / (g.wheelbase_m + grip * g.height_m), grade);
}

Limit front_lock_limit(const Geometry& g, double grip, double grade) {
    const double room = g.wheelbase_m - grip * g.height_m;
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
    const double kept = std::clamp(habit, 0.02, 0.98);
    const double braking = braking_for(g, deceleration_mps2, grade);
    if (braking <= 0) return kept;
    const Loads loads = wheel_loads_at(g, braking, grade);
    const double most = grip * loads.front_N / braking;
    const double least = 1 - grip * std::max(loads.rear_N, 0.0) / braking;
    if (least > most) return ideal_front_share(g, deceleration_mps2, grade);   // beyond all grip: both wheels slide
    return std::clamp(kept, std::max(least, 0.0), std::min(most, 1.0));
}

std::vector<Input> inputs(const parts::Library& library, const parts::Bike& bike) {
    return {library.input("balance.front_share." + std::string(parts::word_of(bike.kind)), "bike.front_share")};
}

}  // namespace bw::balance
