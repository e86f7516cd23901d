// SPDX-License-Identifier: Apache-2.0
// Water on a brake.                                                                                       Layer: heat
#include "heat/water.hpp"

#include <algorithm>
#include <array>
#include <cmath>
#include <numbers>

#include "heat/physics.hpp"

namespace bw::heat {

namespace {

constexpr double kelvin = 273.15;
constexpr double density = 1000, viscosity = 1.0e-3;   // of cold water [kg/m³], [Pa s]
constexpr double gas_constant = 461.5;                 // of steam [J/(kg K)]
constexpr double lewis_factor = 0.904;                 // 0.86^(2/3), diffusivity of heat over that of steam in air, from memory
constexpr double boiling_W_m2K = 2e4, boiling_most_W_m2 = 1e6;   // nucleate boiling and its crisis, from memory
constexpr double least_kg_m2 = 1e-7;                   // a film of 0.1 nm is none
constexpr double light_step_s = 1, closed_step_s = 0.25;

}  // namespace

// [EQ heat-35]
double saturation_pressure_Pa(double degC) {
    constexpr double critical_K = 647.096, critical_Pa = 22.064e6;
    const double t = std::clamp(degC, 0.0, 370.0) + kelvin, s = 1 - t / critical_K, root = std::sqrt(s), s3 = s * s * s;
    const double sum = s * (-7.85951783 + 1.84408259 * root) + s3 * (-11.7866497 + 22.6807411 * root + s * (-15.9618719 + 1.80122502 * s3 * root));
    return critical_Pa * std::exp(critical_K / t * sum);
}

double latent_heat_J_kg(double degC) { return 2.5012e6 - 2372 * degC - 0.73 * degC * degC; }

// [EQ heat-36]
double evaporation_kg_m2s(double convection_W_m2K, double face_degC, double air_degC, double humidity, double pressure_Pa) {
    const double film_K = (face_degC + air_degC) / 2 + kelvin;
    const double air_J_m3K = pressure_Pa / (287.05 * film_K) * 1006;   // density times heat capacity of the air
    const double transfer_mps = convection_W_m2K / (air_J_m3K * lewis_factor);
    const double at_face = saturation_pressure_Pa(face_degC), far = humidity * saturation_pressure_Pa(air_degC);
    if (at_face <= far) return 0;
    constexpr double most = 0.98;   // of the pressure: from there on boiling takes over
    const double rate = transfer_mps * pressure_Pa / (gas_constant * film_K) * std::log((pressure_Pa - far) / (pressure_Pa - std::min(at_face, most * pressure_Pa)));
    if (at_face < most * pressure_Pa) return rate;
    // The boiling point by Clausius-Clapeyron from where the face is.
    const double latent = latent_heat_J_kg(std::min(face_degC, 150.0)), face_K = face_degC + kelvin;
    const double boils_K = 1 / (1 / face_K + gas_constant / latent * std::log(at_face / (most * pressure_Pa)));
    return rate + std::min(boiling_W_m2K * std::max(face_K - boils_K, 0.0), boiling_most_W_m2) / latent;
}

// [EQ heat-37]
double spun_film_kg_m2(double film_kg_m2, double turning_rad_s, double seconds) {
    const double thickness_m = film_kg_m2 / density;
    return film_kg_m2 / std::sqrt(1 + 4 * density * turning_rad_s * turning_rad_s * thickness_m * thickness_m * seconds / (3 * viscosity));
}

// [EQ heat-38]
double wet_friction(const WaterUnknowns& u, double wet_factor, double film_kg_m2) {
    return 1 - (1 - wet_factor) * -std::expm1(-film_kg_m2 / u.mixed_kg_m2);
}

WetBrake wet_brake_of(const ReferenceBrake& b, const WaterUnknowns& u, double wet_factor, double wheel_radius_m, double altitude_m) {
    const auto& ro = b.rotor;
    return {.water = u, .wet_factor = wet_factor, .wheel_radius_m = wheel_radius_m, .face_m2 = ro.face_area_m2,
            .rotor_J_K = ro.face_area_m2 * ro.half_thickness_m * ro.density_kg_m3 * ro.heat_capacity_J_kgK, .loss_m2 = ro.face_area_m2 - b.friction.area_m2 + ro.edge_area_m2,
            .convection = ro.convection, .air_degC = b.ambient_degC, .pressure_Pa = 101325 * pressure_ratio(altitude_m),
            .closed_above_W = b.power_scale > 0 ? b.closed_above_W / b.power_scale : 1e30};
}

namespace {

struct Film {
    double kg_m2 = 0;
    double delta_K = 0;                          // rotor less that of the run it is laid over
    double brought = 0, gone = 0, dried = 0;     // [kg/m²]
};

struct Moment {
    double h_s = 0, speed_mps = 0, convection_W_m2K = 0, run_degC = 0, run_drying_W = 0;
    bool closed = false, wet = false;
};

// What comes and what pads and turning take away, each exactly, one after the other.
void bring_wipe_spin(const WetBrake& b, const Moment& m, Film& f) {
    const double turning = m.speed_mps / b.wheel_radius_m;
    const double wipe = m.closed ? b.water.wipe_per_turn * turning / (2 * std::numbers::pi) : 0;   // per second
    const double spray = m.wet ? b.water.spray_kg_m2s : 0, came = spray * m.h_s;
    double left = wipe > 0 ? f.kg_m2 * std::exp(-wipe * m.h_s) - spray * std::expm1(-wipe * m.h_s) / wipe : f.kg_m2 + came;
    left = spun_film_kg_m2(std::min(left, b.water.cling_kg_m2), turning, m.h_s);
    f.brought += came;
    f.gone += f.kg_m2 + came - left;
    f.kg_m2 = left;
}

// Implicit in the rotor's own temperature, which the heat taken lowers [EQ heat-39]. Gives the heat taken [J] of the half brake.
double evaporate(const WetBrake& b, const Moment& m, Film& f) {
    const double per_W = m.h_s / b.rotor_J_K, stiff = 1 + per_W * m.convection_W_m2K * b.loss_m2;
    const auto delta_of = [&](double taken_W) { return (f.delta_K - per_W * (taken_W - m.run_drying_W)) / stiff; };
    // From the water's own temperature, that of the air.
    const auto heat_J_kg = [&](double degC) { return latent_heat_J_kg(std::clamp(degC, 0.0, 150.0)) + 4190 * std::max(std::min(degC, 100.0) - b.air_degC, 0.0); };
    const auto rate = [&](double delta) { return evaporation_kg_m2s(m.convection_W_m2K, m.run_degC + delta, b.air_degC, b.water.humidity, b.pressure_Pa); };
    if (f.kg_m2 < least_kg_m2) {
        f.gone += f.kg_m2;
        f.kg_m2 = 0;
        f.delta_K = delta_of(0);
        return 0;
    }
    const auto taken_W = [&](double rate_kg_m2s, double delta) { return rate_kg_m2s * b.face_m2 * heat_J_kg(m.run_degC + delta); };
    double low = delta_of(taken_W(f.kg_m2 / m.h_s, delta_of(0))), dried = f.kg_m2, delta = low;
    if (rate(low) * m.h_s < f.kg_m2) {   // not all of it: rate and temperature that agree
        double high = delta_of(0);
        const auto error = [&](double d) { return d - delta_of(taken_W(rate(d), d)); };
        double below = error(low), above = error(high);
        for (int i = 0; i < 60 && high - low > 1e-6; ++i) {
            double d = i % 3 == 2 ? (low + high) / 2 : low - below * (high - low) / (above - below);
            if (!(d > low && d < high)) d = (low + high) / 2;
            const double e = error(d);
            (e < 0 ? low : high) = d;
            (e < 0 ? below : above) = e;
            if (std::abs(e) < 1e-6) {
                low = high = d;
            }
        }
        delta = (low + high) / 2;
        dried = std::min(rate(delta) * m.h_s, f.kg_m2);
    }
    const double taken_J = taken_W(dried, delta);
    f.delta_K = delta_of(taken_J / m.h_s);
    f.dried += dried;
    f.kg_m2 -= dried;
    return taken_J;
}

}  // namespace

Drying dry_along(const WetBrake& b, std::span<const PowerRow> rows, std::span<const std::uint8_t> wet, std::span<const double> rotor_degC) {
    Drying out;
    const std::size_t n = rows.size();
    out.film_kg_m2.assign(n, 0.0);
    out.friction.assign(n, 1.0);
    out.drying_W.assign(n, 0.0);
    Film film;
    for (std::size_t i = 0; i + 1 < n; ++i) {
        out.film_kg_m2[i] = film.kg_m2;
        if (film.kg_m2 > 0) out.friction[i] = wet_friction(b.water, b.wet_factor, film.kg_m2);
        const double length = rows[i + 1].t_s - rows[i].t_s;
        Moment m{.speed_mps = rows[i].speed_mps, .convection_W_m2K = b.convection.at(rows[i].speed_mps), .run_drying_W = rows[i].drying_W,
                 .closed = rows[i].power_W > b.closed_above_W, .wet = wet[i] != 0};
        const double pieces = film.kg_m2 > 0 || m.wet ? std::ceil(length / (m.closed ? closed_step_s : light_step_s) - 1e-9) : 1;
        m.h_s = length / pieces;
        double taken_J = 0;
        for (double k = 0; k < pieces; ++k) {
            m.run_degC = rotor_degC[i] + (k + 0.5) / pieces * (rotor_degC[i + 1] - rotor_degC[i]);
            bring_wipe_spin(b, m, film);
            taken_J += evaporate(b, m, film);
        }
        out.drying_W[i] = taken_J / length;
    }
    if (n > 0) {
        out.film_kg_m2[n - 1] = film.kg_m2;
        out.friction[n - 1] = wet_friction(b.water, b.wet_factor, film.kg_m2);
    }
    out.brought_kg_m2 = film.brought;
    out.evaporated_kg_m2 = film.dried;
    out.wiped_and_spun_kg_m2 = film.gone;
    return out;
}

double turns_to_dry(const WetBrake& b, double speed_mps) {
    constexpr double near = 0.95, most = 1000, step = 0.1;
    Film film{.kg_m2 = b.water.cling_kg_m2};
    const double turn_s = 2 * std::numbers::pi * b.wheel_radius_m / speed_mps;
    // A rotor that keeps the temperature of the air: what evaporates cools it, the light braking warms it.
    WetBrake steady = b;
    steady.rotor_J_K = 1e9;
    const Moment m{.h_s = step * turn_s, .speed_mps = speed_mps, .convection_W_m2K = b.convection.at(speed_mps), .run_degC = b.air_degC, .closed = true};
    double turns = 0, before = wet_friction(b.water, b.wet_factor, film.kg_m2);
    if (before >= near) return 0;
    while (turns < most) {
        bring_wipe_spin(steady, m, film);
        evaporate(steady, m, film);
        const double now = wet_friction(b.water, b.wet_factor, film.kg_m2);
        if (now >= near) return turns + step * (near - before) / (now - before);
        before = now;
        turns += step;
    }
    return most;
}

}  // namespace bw::heat
