// SPDX-License-Identifier: Apache-2.0
// Wear dose of riding that nobody recorded: terrain class, kilometres, weight.                              Layer: wear
// Theory: docs/models/wear.md [EQ wear-12].                                                Pure functions: any thread.
#pragma once
#include <string_view>
#include <vector>

#include "base/cases.hpp"
#include "heat/dose.hpp"
#include "parts/bike.hpp"
#include "parts/library.hpp"

namespace bw::wear {

enum class Terrain { flat, rolling, hilly, mountain };
std::string_view word_of(Terrain);

//! A ride in words. All >= 0, shares 0..1.
struct DescribedRide {
    double distance_m = 0;
    double descent_m = 0;
    double stops_per_km = 0;
    double total_mass_kg = 0;
    double wet_share = 0, grit_share = 0;
};

//! What a description leaves open, in one case.
struct DescribedUnknowns {
    double braked_share = 0;        //!< of the height's energy; the rest goes into air and rolling; 0..1
    double stop_speed_mps = 0;
    double pad_degC = 0;            //!< energy-weighted mean of the pad face
    double descent_m_km = 0;        //!< of the terrain class, for whoever gives only kilometres
    double stops_per_km = 0;        //!< of the terrain class
};

//! Inputs of the likely cases for a terrain class; keys "described.braked_share", ...
std::vector<Input> described_inputs(const parts::Library&, Terrain);
DescribedUnknowns described_unknowns_of(const CaseRow&);

//! A ride of this many metres in the terrain class of the unknowns.
DescribedRide typical_ride(const DescribedUnknowns&, double distance_m, double total_mass_kg);

//! Brake energy of both wheels [J]: the braked share of the height's energy, and the stops.  Source: [EQ wear-12]
double described_energy_J(const DescribedRide&, const DescribedUnknowns&);

//! Dose of one wheel; front_share: the front brake's share of the brake energy, 0..1.
heat::WearDose described_dose(const DescribedRide&, const DescribedUnknowns&, parts::End, double front_share);

}  // namespace bw::wear
