// SPDX-License-Identifier: Apache-2.0
#include "random_brakes.hpp"

#include <algorithm>
#include <cmath>

#include "base/sampling.hpp"

namespace bw::heat::test {

ReferenceBrake random_brake(std::uint64_t i) {
    std::uint64_t at = 0;
    const auto unit = [&] { return uniform_of(77, 4, i, at++); };
    const auto flat = [&](double a, double b) { return a + (b - a) * unit(); };
    const auto log_flat = [&](double a, double b) { return a * std::pow(b / a, unit()); };
    ReferenceBrake b;
    b.ambient_degC = flat(-10, 40);
    b.start_degC = unit() < 0.5 ? b.ambient_degC : b.ambient_degC + flat(0, 150);
    b.power_scale = flat(0.5, 1.2);
    const auto convection = [&] { return Convection{flat(3, 12), flat(4, 25), 0.5 + 0.3 * (unit() < 0.3 ? unit() : 0)}; };
    b.rotor = {.face_area_m2 = log_flat(0.0035, 0.012), .edge_area_m2 = log_flat(5e-4, 4e-3), .half_thickness_m = log_flat(0.0006, 0.0015),
               .conductivity_W_mK = log_flat(14, 60), .density_kg_m3 = flat(6500, 7900), .heat_capacity_J_kgK = flat(430, 620),
               .emissivity = flat(0.1, 0.9), .convection = convection()};
    b.friction = {.area_m2 = log_flat(2e-4, 9e-4), .thickness_m = log_flat(0.0004, 0.0045), .conductivity_W_mK = log_flat(0.4, 30),
                  .density_kg_m3 = flat(1900, 5500), .heat_capacity_J_kgK = flat(450, 1300)};
    b.plate = {.area_m2 = b.friction.area_m2 * flat(1, 1.7), .thickness_m = flat(0.0014, 0.004), .conductivity_W_mK = log_flat(15, 180),
               .density_kg_m3 = flat(2700, 7900), .heat_capacity_J_kgK = flat(440, 900)};
    if (unit() < 0.6) b.contact_W_m2K = log_flat(3e3, 1e6);
    b.gap_W_m2K = log_flat(20, 400);
    b.piston_J_K = log_flat(3, 20);
    b.fluid_J_K = log_flat(2, 12);
    b.caliper = {.heat_capacity_J_K = log_flat(25, 120), .area_m2 = log_flat(0.003, 0.015), .emissivity = flat(0.1, 0.95), .convection = convection()};
    b.arms = {.heat_capacity_J_K = log_flat(5, 40), .area_m2 = log_flat(0.002, 0.012), .emissivity = flat(0.1, 0.9), .convection = convection()};
    b.hub = {.heat_capacity_J_K = log_flat(30, 150), .area_m2 = log_flat(0.004, 0.02), .emissivity = 0, .convection = convection()};
    b.links_W_K = {.plate_piston = log_flat(0.01, 0.6), .plate_caliper = log_flat(0.01, 0.3), .piston_fluid = log_flat(0.02, 0.4),
                   .piston_caliper = log_flat(0.01, 0.3), .fluid_caliper = log_flat(0.02, 0.5), .rotor_arms = log_flat(0.02, 0.6),
                   .arms_hub = log_flat(0.05, 1.5)};
    return b;
}

ReferenceBrake random_varying_brake(std::uint64_t i) {
    ReferenceBrake b = random_brake(i);
    std::uint64_t at = 0;
    const auto unit = [&] { return uniform_of(78, 5, i, at++); };
    const auto table = [&](double constant) {
        PropertyTable t;
        double degC = -20;
        const int n = 2 + static_cast<int>(4 * unit());
        for (int k = 0; k < n; ++k) {
            t.points.push_back({degC, constant * std::pow(2.2, unit() - 0.5)});
            degC += 60 + 300 * unit();
        }
        return t;
    };
    b.power_scale *= 0.6;
    b.rotor.conductivity_over_T = table(b.rotor.conductivity_W_mK);
    b.rotor.heat_capacity_over_T = table(b.rotor.heat_capacity_J_kgK);
    b.friction.conductivity_over_T = table(b.friction.conductivity_W_mK);
    b.friction.heat_capacity_over_T = table(b.friction.heat_capacity_J_kgK);
    if (unit() < 0.5) {
        b.plate.conductivity_over_T = table(b.plate.conductivity_W_mK);
        b.plate.heat_capacity_over_T = table(b.plate.heat_capacity_J_kgK);
    }
    return b;
}

std::vector<PowerRow> random_ride(int kind, std::uint64_t seed, double seconds) {
    std::uint64_t at = 0;
    const auto unit = [&] { return uniform_of(seed, 9, static_cast<std::uint64_t>(kind), at++); };
    std::vector<PowerRow> rows;
    double t = 0, v = 8;
    if (kind == 1) {
        while (t < seconds) {
            const bool halt = t > 0.6 * seconds;
            rows.push_back({.t_s = t, .speed_mps = halt ? 0 : 6 + std::sin(t / 40), .power_W = halt ? 0 : 280 + 120 * std::sin(t / 17) + 60 * unit()});
            t += 1;
        }
    } else if (kind == 4) {
        int left = 0;
        bool on = false;
        while (t < seconds) {
            if (left-- <= 0) {
                on = !on;
                left = static_cast<int>(1 + (on ? 10 : 25) * unit() * unit());
                v = unit() < 0.25 ? 0 : 12 * unit();
            } else if (unit() < 0.1) {
                v = v > 0 ? 0 : 12 * unit();
            }
            rows.push_back({.t_s = t, .speed_mps = v, .power_W = on ? 50 + 2450 * unit() * unit() : 0});
            t += 1;
        }
    } else if (kind == 2) {
        int left = 0;
        bool on = false;
        double power = 0;
        while (t < seconds) {
            if (left-- <= 0) {
                on = !on;
                left = static_cast<int>(on ? 8 + 25 * unit() : 60 + 240 * unit());
                power = on ? 800 + 1700 * unit() : 0;
                if (on) v = 7 + 7 * unit();
            }
            if (on) v = std::max(0.5, v - 0.45);
            else v = std::min(12.0, v + 0.05);
            rows.push_back({.t_s = t, .speed_mps = v, .power_W = on ? power * v / 10 : 0});
            t = 0.1 * static_cast<double>(rows.size());
        }
    } else {
        int left = 0;
        bool on = false;
        double power = 0;
        while (t < seconds) {
            if (left-- <= 0) {
                on = !on;
                left = static_cast<int>(on ? 1 + 12 * unit() * unit() : 2 + 45 * unit() * unit());
                power = on ? 100 + 1900 * unit() * unit() : 0;
            }
            v = std::clamp(v + unit() - 0.5, 1.0, 15.0);
            rows.push_back({.t_s = t, .speed_mps = v, .power_W = on ? power * (0.7 + 0.6 * unit()) : unit() < 0.1 ? -40 * unit() : 0});
            t += kind == 3 ? std::round(1e3 * (0.2 + 2.5 * unit() * unit())) / 1e3 + 1.7e-4 * unit() : 1;
        }
    }
    rows.push_back({.t_s = t, .speed_mps = v, .power_W = 0});
    return rows;
}

}  // namespace bw::heat::test
