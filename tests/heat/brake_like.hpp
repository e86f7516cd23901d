// SPDX-License-Identifier: Apache-2.0
// The reference form's brake that stands beside an annulus of by_radius.hpp: same metal, film, arms and hub, a pad that takes
// (almost) nothing. For holding a model of a brake against the rotor in radius and thickness.
#pragma once
#include <boost/math/quadrature/gauss.hpp>
#include <cmath>
#include <numbers>
#include <stdexcept>
#include <vector>

#include "by_radius.hpp"
#include "heat/reference.hpp"

namespace bw::heat::test {

//! Half a brake with the annulus' face (full ring), rims as edge area, the pad's covered area as friction area. One film for face
//! and rims and constant properties are required of the annulus: throws std::invalid_argument otherwise.
inline ReferenceBrake brake_like(const Annulus& a) {
    const auto same = [](const Film& x, const Film& y) { return x.a == y.a && x.b == y.b && x.m == y.m; };
    if (!same(a.face, a.inner_rim) || !same(a.face, a.outer_rim) || a.conductivity_W_mK.size() != 1 || a.heat_capacity_J_kgK.size() != 1)
        throw std::invalid_argument("brake_like: one film and constant properties");
    const auto film = [](const Film& f) { return Convection{f.a, f.b, f.m}; };
    ReferenceBrake b;
    b.ambient_degC = a.ambient_degC;
    b.start_degC = a.start_degC;
    b.rotor = {.face_area_m2 = std::numbers::pi * (a.outer_m * a.outer_m - a.inner_m * a.inner_m), .edge_area_m2 = 2 * std::numbers::pi * (a.outer_m + a.inner_m) * a.half_thickness_m,
               .half_thickness_m = a.half_thickness_m, .conductivity_W_mK = a.conductivity_W_mK[0].second, .density_kg_m3 = a.density_kg_m3, .heat_capacity_J_kgK = a.heat_capacity_J_kgK[0].second,
               .emissivity = a.emissivity, .convection = film(a.face)};
    const double covered = boost::math::quadrature::gauss<double, 20>::integrate([&](double r) { return 2 * std::numbers::pi * r * a.coverage(r); }, a.pad_inner_m, a.pad_outer_m);
    b.friction = {.area_m2 = covered, .thickness_m = 0.002, .conductivity_W_mK = 1e-3, .density_kg_m3 = 1, .heat_capacity_J_kgK = 1};
    b.plate = {.area_m2 = covered, .thickness_m = 0.002, .conductivity_W_mK = 1, .density_kg_m3 = 1, .heat_capacity_J_kgK = 1};
    b.piston_J_K = b.fluid_J_K = b.caliper.heat_capacity_J_K = 1;
    b.arms = {.heat_capacity_J_K = a.arms.heat_capacity_J_K, .area_m2 = a.arms.area_m2, .emissivity = a.arms.emissivity, .convection = film(a.arms.film)};
    b.hub = {.heat_capacity_J_K = a.hub.heat_capacity_J_K, .area_m2 = a.hub.area_m2, .emissivity = 0, .convection = film(a.hub.film)};
    b.links_W_K.rotor_arms = a.arms_W_K;
    b.links_W_K.arms_hub = a.arms_hub_W_K;
    return b;
}

//! The wheel's power rows that put an annulus' heat into that half brake.
inline std::vector<PowerRow> power_of(const std::vector<AnnulusInput>& rows) {
    std::vector<PowerRow> out;
    for (const AnnulusInput& r : rows) out.push_back({.t_s = r.t_s, .speed_mps = r.speed_mps, .power_W = 2 * r.heat_W});
    return out;
}

//! Rotor of 160 mm, 1.8 mm thick, full band of 14 mm, pad on 12 mm of it over 20 degrees; everything that cools switched on.
inline Annulus ordinary_annulus() {
    Annulus a;
    a.inner_m = 0.066;
    a.outer_m = 0.080;
    a.half_thickness_m = 0.0009;
    a.density_kg_m3 = 7800;
    a.conductivity_W_mK = {{0, 26}};
    a.heat_capacity_J_kgK = {{0, 480}};
    a.emissivity = 0.3;
    a.face = a.inner_rim = a.outer_rim = {.a = 7, .b = 12, .m = 0.5};
    a.pad_inner_m = 0.067;
    a.pad_outer_m = 0.079;
    a.coverage = sector_pad(0.35);
    a.arms_W_K = 0.12;
    a.arms_hub_W_K = 0.4;
    a.arms = {.heat_capacity_J_K = 14, .area_m2 = 0.0055, .emissivity = 0.3, .film = {6, 12, 0.5}, .start_degC = 20};
    a.hub = {.heat_capacity_J_K = 65, .area_m2 = 0.01, .emissivity = 0, .film = {6, 13, 0.5}, .start_degC = 20};
    return a;
}
//! 150 W into the half at 6 m/s for ten minutes, then standing for five; a row each five seconds.
inline std::vector<AnnulusInput> annulus_drag() {
    std::vector<AnnulusInput> rows;
    for (int t = 0; t <= 900; t += 5) rows.push_back({.t_s = double(t), .speed_mps = t < 600 ? 6.0 : 0.0, .heat_W = t < 600 ? 150.0 : 0.0});
    return rows;
}
//! Stops from 12 m/s in 2 s, heat from 1.8 kW falling to nought in rows of 0.1 s, eight seconds at 6 m/s in rows of 1 s between.
inline std::vector<AnnulusInput> annulus_stops(int stops) {
    std::vector<AnnulusInput> rows;
    for (int n = 0; n < stops; ++n) {
        for (int i = 0; i < 20; ++i) rows.push_back({.t_s = 10.0 * n + 0.1 * i, .speed_mps = 12 * (1 - (i + 0.5) / 20), .heat_W = 1800 * (1 - (i + 0.5) / 20)});
        for (int i = 0; i < 8; ++i) rows.push_back({.t_s = 10.0 * n + 2 + i, .speed_mps = 6, .heat_W = 0});
    }
    rows.push_back({.t_s = 10.0 * stops, .speed_mps = 0, .heat_W = 0});
    return rows;
}

}  // namespace bw::heat::test
