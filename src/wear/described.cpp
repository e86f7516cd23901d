// SPDX-License-Identifier: Apache-2.0
// Described rides -> wear dose.                                                                             Layer: wear
#include "wear/described.hpp"

#include <algorithm>
#include <cmath>
#include <fmt/format.h>

namespace bw::wear {

namespace {
constexpr double gravity_mps2 = 9.80665;
}

std::string_view word_of(Terrain terrain) {
    switch (terrain) {
        case Terrain::flat: return "flat";
        case Terrain::rolling: return "rolling";
        case Terrain::hilly: return "hilly";
        case Terrain::mountain: return "mountain";
    }
    return "flat";
}

std::vector<Input> described_inputs(const parts::Library& library, Terrain terrain) {
    std::vector<Input> list;
    for (const char* name : {"descent_m_km", "braked_share", "stops_per_km", "pad_degC"})
        list.push_back(library.input(fmt::format("terrain.{}.{}", word_of(terrain), name), fmt::format("described.{}", name)));
    list.push_back(library.input("terrain.stop_speed_mps", "described.stop_speed_mps"));
    return list;
}

DescribedUnknowns described_unknowns_of(const CaseRow& row) {
    return {.braked_share = std::min(1.0, row("described.braked_share")),
            .stop_speed_mps = row("described.stop_speed_mps"),
            .pad_degC = row("described.pad_degC"),
            .descent_m_km = row("described.descent_m_km"),
            .stops_per_km = row("described.stops_per_km")};
}

DescribedRide typical_ride(const DescribedUnknowns& u, double distance_m, double total_mass_kg) {
    return {.distance_m = distance_m,
            .descent_m = u.descent_m_km * distance_m / 1000,
            .stops_per_km = u.stops_per_km,
            .total_mass_kg = total_mass_kg};
}

double described_energy_J(const DescribedRide& ride, const DescribedUnknowns& u) {
    const double height_J = ride.total_mass_kg * gravity_mps2 * ride.descent_m;
    const double stop_J = 0.5 * ride.total_mass_kg * u.stop_speed_mps * u.stop_speed_mps;
    return u.braked_share * height_J + ride.stops_per_km * ride.distance_m / 1000 * stop_J;   // [EQ wear-12]
}

heat::WearDose described_dose(const DescribedRide& ride, const DescribedUnknowns& u, parts::End end, double front_share) {
    heat::WearDose dose;
    const double share = end == parts::End::front ? front_share : 1 - front_share;
    heat::add(dose, share * described_energy_J(ride, u), u.pad_degC);
    dose.distance_m = ride.distance_m;
    dose.wet_share = ride.wet_share;
    dose.grit_share = ride.grit_share;
    return dose;
}

std::vector<Input> told_inputs(const parts::Library& library, parts::BikeKind kind) {
    std::vector<Input> list;
    for (const char* name : {"held_mps", "from_mps", "slowing_per_km", "descent_m_km", "stops_per_km"})
        list.push_back(library.input(fmt::format("told.{}.{}", parts::word_of(kind), name), fmt::format("told.{}", name)));
    for (const char* name : {"down_share", "kept_share", "habit", "pad_heat"}) list.push_back(library.input(fmt::format("told.{}", name), fmt::format("told.{}", name)));
    return list;
}

ToldUnknowns told_unknowns_of(const CaseRow& row) {
    return {.held_mps = row("told.held_mps"),
            .down_share = std::min(0.95, row("told.down_share")),
            .from_mps = row("told.from_mps"),
            .kept_share = std::min(1.0, row("told.kept_share")),
            .slowing_per_km = row("told.slowing_per_km"),
            .descent_m_km = row("told.descent_m_km"),
            .stops_per_km = row("told.stops_per_km"),
            .habit = row("told.habit"),
            .pad_heat = row("told.pad_heat")};
}

double told_descent_m(const ToldRide& ride, const ToldUnknowns& u) { return ride.descent_m.value_or(u.descent_m_km * ride.distance_m / 1000); }

double told_braked_share(const ToldRide& ride, const ToldUnknowns& u) {
    const double air_density_kgm3 = 1.19 * (16 + 273.15) / (ride.air_degC + 273.15);   // a few hundred metres up: the speed is far less certain
    constexpr double steepest = 0.14;           // mean of all that goes down: roads and trails are hardly steeper
    const double mean_slope = told_descent_m(ride, u) / ride.distance_m;
    if (mean_slope <= 0) return 0;
    const double down = std::clamp(u.down_share, std::min(1.0, mean_slope / steepest), 1.0);
    const double relative_mps = u.held_mps + ride.wind_mps;
    const double rolled_out = std::max(0.0, 0.5 * air_density_kgm3 * ride.drag_area_m2 * relative_mps * std::abs(relative_mps) / (ride.total_mass_kg * gravity_mps2) + ride.rolling_resistance);
    return std::exp(-rolled_out * down / mean_slope);   // [EQ planned-8]
}

namespace {

struct ToldParts {
    double slopes_J = 0, stops_J = 0;
};
ToldParts told_parts(const ToldRide& ride, const ToldUnknowns& u) {
    const double height_J = ride.total_mass_kg * gravity_mps2 * told_descent_m(ride, u);
    const double each_J = 0.5 * ride.total_mass_kg * u.from_mps * u.from_mps * u.kept_share;
    const double stops = (ride.stops_per_km.value_or(u.stops_per_km) + u.slowing_per_km) * ride.distance_m / 1000;
    return {.slopes_J = told_braked_share(ride, u) * height_J, .stops_J = stops * each_J};
}

}  // namespace

double told_energy_J(const ToldRide& ride, const ToldUnknowns& u) {
    const ToldParts parts = told_parts(ride, u);
    return u.habit * (parts.slopes_J + parts.stops_J);   // [EQ planned-9]
}

double told_stops_share(const ToldRide& ride, const ToldUnknowns& u) {
    const ToldParts parts = told_parts(ride, u);
    const double all_J = parts.slopes_J + parts.stops_J;
    return all_J > 0 ? parts.stops_J / all_J : 0;
}

Terrain terrain_of_descent(double descent_m_km) {
    // Geometric middles between the medians of the classes (3, 8, 15, 40 m/km).
    if (descent_m_km < 4.9) return Terrain::flat;
    if (descent_m_km < 11) return Terrain::rolling;
    return descent_m_km < 24.5 ? Terrain::hilly : Terrain::mountain;
}

}  // namespace bw::wear
