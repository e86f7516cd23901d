// SPDX-License-Identifier: Apache-2.0
// Described rides -> wear dose.                                                                             Layer: wear
#include "wear/described.hpp"

#include <algorithm>
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

}  // namespace bw::wear
