// SPDX-License-Identifier: Apache-2.0
// Brake power of a ride split second by second: rotors, skid, motor, trailer.                             Layer: answer
#include <algorithm>

#include "internal.hpp"

namespace bw::answer {

parts::Bike with_load(parts::Bike bike, const std::optional<double>& load_kg) {
    if (!load_kg) return bike;
    bike.total_mass_kg.value = mass_with_load_kg(bike, load_kg);
    bike.load_kg.value = *load_kg;
    return bike;
}

Braking& operator+=(Braking& b, const balance::WheelPower& w) {
    b.front_J += w.front_rotor_W;
    b.rear_J += w.rear_rotor_W;
    b.skid_J += w.rear_tyre_W;
    b.motor_J += w.motor_W;
    b.trailer_J += w.trailer_W;
    return b;
}

Braking mean_braking(std::span<const Braking> all) {
    Braking mean;
    const double part = 1 / static_cast<double>(all.size());
    for (const Braking& b : all) {
        mean.front_J += b.front_J * part;
        mean.rear_J += b.rear_J * part;
        mean.skid_J += b.skid_J * part;
        mean.motor_J += b.motor_J * part;
        mean.trailer_J += b.trailer_J * part;
    }
    return mean;
}

balance::Sharing sharing_of(const Case& c, stop::Surface surface) {
    const bool firm = surface == stop::Surface::dry || surface == stop::Surface::wet;
    return {.habit = c.habit, .grip = grip_of(c.stop, surface), .skid_share = firm ? c.balance.skid_firm : c.balance.skid_loose, .motor = balance::motor_of(c.bike, c.balance.battery_room)};
}

WheelRows wheel_rows(const Case& c, const RideTags& tags, const ride::MotionPaths& paths, const ride::MotionPath& path) {
    const std::size_t n = paths.size();
    const bool own = !path.own.speed_mps.empty();
    const std::vector<double>&speed = own ? path.own.speed_mps : paths.speed_mps, &gained = own ? path.own.acceleration_mps2 : paths.acceleration_mps2,
                       &slope = own ? path.own.gradient : paths.gradient, &east = own ? path.own.way_east : paths.way_east, &north = own ? path.own.way_north : paths.way_north;
    const std::optional<ride::WindFrom>& wind = path.parameters.wind_from;
    const balance::Geometry geometry = balance::geometry_of(with_load(c.bike, tags.load_kg), c.balance.trailer_own_share);
    const balance::Sharing sharing = sharing_of(c, tags.surface.value_or(stop::Surface::dry));
    WheelRows out;
    for (auto& rows : out.rows) rows.reserve(n + 1);
    for (std::size_t t = 0; t < n; ++t) {
        const double v = std::max(0.0, speed[t]);
        const double drag_N = ride::air_drag_N(path.parameters, paths.air_density_kgm3[t], v, wind && !east.empty() ? ride::blow_of(*wind, east[t], north[t]) : ride::Blow{}) + ride::rolling_drag_N(path.parameters, slope[t]);
        const balance::WheelPower w = balance::wheel_power(geometry, sharing, path.brake_power_W[t], v, -gained[t], slope[t], drag_N);
        const double at = static_cast<double>(t);
        out.rows[0].push_back({.t_s = at, .speed_mps = v, .power_W = w.front_rotor_W});
        out.rows[1].push_back({.t_s = at, .speed_mps = v, .power_W = w.rear_rotor_W});
        out.sum += w;
    }
    for (auto& rows : out.rows) rows.push_back({.t_s = static_cast<double>(n), .speed_mps = 0, .power_W = 0});
    return out;
}

}  // namespace bw::answer
