// SPDX-License-Identifier: Apache-2.0
// Terrain in a word: a typical long descent of it, ridden with the brakes on, and a stop at its foot.    Layer: answer
#include <fmt/format.h>

#include <algorithm>
#include <cmath>

#include "balance/balance.hpp"
#include "base/sampling.hpp"
#include "internal.hpp"

namespace bw::answer {

Result<RideWork> descent_work(const Context& ctx, const parts::Library& library, wear::Terrain country, const RideTags& tags, const std::optional<ToldDescent>& told,
                              std::span<const Case> cases) {
    const std::string terrain(wear::word_of(country));
    const std::string surface(stop::word_of(tags.surface.value_or(stop::Surface::dry)));
    const std::uint64_t key = hash_of("terrain " + terrain);
    const auto drawn = [&](const char* name, std::size_t i, std::uint64_t stream) {
        return library.row("terrain." + terrain + "." + name).value.at(normal_of(ctx.seed, key, i, stream));
    };
    const double altitude_m = library.value("terrain." + terrain + ".altitude_m");
    RideWork work;
    RideAnswer& r = work.ride;
    r.file = terrain + " country, described";
    r.planned = true;
    std::array<std::vector<WheelOutcome>, 2>& outcomes = work.outcomes;
    for (auto& o : outcomes) o.resize(anchor_cases);
    std::vector<std::optional<Error>> failed(anchor_cases);
    std::vector<double> energies(anchor_cases), durations(anchor_cases), descents(anchor_cases), distances(anchor_cases);
    std::vector<Account> accounts(anchor_cases);
    std::vector<Braking> went(anchor_cases);
    parallel_for(ctx, anchor_cases, [&](std::size_t i) {
        const Case& c = cases[i];
        double descent_m = drawn("descent_m", i, 1), steep = drawn("grade", i, 2);
        if (told) {
            descent_m = std::min(told->descent_m, std::max(descent_m, std::min(library.value("terrain.longest_m"), std::clamp(drawn("longest_share", i, 6), 0.0, 1.0) * told->descent_m)));
            steep = std::max(steep, told->least_grade);
        }
        descent_m = std::max(1.0, descent_m);
        const double grade = -steep, v = std::clamp(drawn("speed_mps", i, 3), 2.0, 20.0);
        const Uncertain& air = library.row("riding.air_degC").value;
        const double air_degC = tags.air_degC.value_or(std::clamp(air.value + air.sd * normal_of(ctx.seed, key, i, 4), -40.0, 60.0));
        const parts::Bike loaded = with_load(c.bike, tags.load_kg);
        const balance::Whole whole = balance::whole_of(loaded, library.row("surface." + surface + ".rolling_factor").value.at(normal_of(ctx.seed, key, i, 5)));
        const ride::MotionParameters p{.mass_kg = whole.mass_kg,
                                       .rotating_kg = c.bike.wheel_inertia_kgm2.value / (c.bike.wheel_radius_m.value * c.bike.wheel_radius_m.value),
                                       .drag_area_m2 = whole.drag_area_m2, .rolling_resistance = whole.rolling_resistance,
                                       .wind_mps = head_wind_mps(tags), .air_degC = air_degC};
        const double density = ride::air_density(altitude_m, air_degC);
        const double drag_N = ride::air_drag_N(p, density, v), rolling_N = ride::rolling_drag_N(p, grade);
        const double force_N = std::max(0.0, -ride::slope_force_N(p, grade) - drag_N - rolling_N);
        const double distance_m = descent_m / std::abs(balance::sine_of(grade));
        const double down_s = std::max(1.0, std::floor(distance_m / v)), stop_s = std::ceil(v / 3.0);
        const balance::Geometry geometry = balance::geometry_of(loaded, c.balance.trailer_own_share);
        const balance::Sharing sharing = sharing_of(c, tags.surface.value_or(stop::Surface::dry));
        std::array<std::vector<heat::PowerRow>, 2> rows;
        const auto add = [&](double t, double speed, double power, double deceleration) {
            const balance::WheelPower w = balance::wheel_power(geometry, sharing, power, speed, deceleration, grade, drag_N + rolling_N);
            rows[0].push_back({.t_s = t, .speed_mps = speed, .power_W = w.front_rotor_W});
            rows[1].push_back({.t_s = t, .speed_mps = speed, .power_W = w.rear_rotor_W});
            went[i] += w;
        };
        for (double t = 0; t < down_s; t += 1) add(t, v, force_N * v, 0);
        // The stop at the foot: the energy of motion over stop_s seconds, falling in a line.
        const double motion_J = 0.5 * (p.mass_kg + p.rotating_kg) * v * v;
        for (double s = 0; s < stop_s; s += 1) add(down_s + s, v * (1 - (s + 0.5) / stop_s), motion_J / stop_s * 2 * (1 - (s + 0.5) / stop_s), v / stop_s);
        add(down_s + stop_s, 0, 0, 0);
        for (const parts::End end : ends) {
            const auto e = static_cast<std::size_t>(end);
            Result<WheelOutcome> one = heat_of(ctx, library, c, end, {.rows = rows[e], .air_degC = air_degC, .altitude_m = altitude_m, .mass_kg = whole.mass_kg}, heat::Keep::peaks_only);
            if (!one) {
                failed[i] = one.error();
                return;
            }
            outcomes[e][i] = *std::move(one);
        }
        Account& a = accounts[i];
        a.height_J = p.mass_kg * balance::gravity_mps2 * descent_m;
        a.motion_J = motion_J;
        a.air_J = drag_N * distance_m;
        a.rolling_J = rolling_N * distance_m;
        a.brakes_J = force_N * v * down_s + motion_J;
        // Where the slope alone does not hold the speed, the rider pedals.
        a.rider_J = std::max(0.0, a.air_J + a.rolling_J - a.height_J);
        a.unexplained_J = a.height_J + a.motion_J + a.rider_J - a.air_J - a.rolling_J - a.brakes_J;
        energies[i] = a.brakes_J;
        durations[i] = down_s + stop_s;
        descents[i] = descent_m;
        distances[i] = distance_m;
    });
    if (ctx.stopped()) return cancelled();
    for (const auto& f : failed)
        if (f) return *f;
    r.brake_energy_J = interval_of(energies);
    r.duration_s = quantile(durations, 0.5);
    r.descent_m = quantile(descents, 0.5);
    r.distance_m = quantile(distances, 0.5);
    r.braking = mean_braking(went);
    for (const Account& a : accounts) {
        const double k = 1.0 / static_cast<double>(anchor_cases);
        r.account.height_J += a.height_J * k;
        r.account.motion_J += a.motion_J * k;
        r.account.rider_J += a.rider_J * k;
        r.account.air_J += a.air_J * k;
        r.account.rolling_J += a.rolling_J * k;
        r.account.brakes_J += a.brakes_J * k;
        r.account.unexplained_J += a.unexplained_J * k;
    }
    return work;
}

}  // namespace bw::answer
