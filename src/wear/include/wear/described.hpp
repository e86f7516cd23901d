// SPDX-License-Identifier: Apache-2.0
// Wear dose of riding that nobody recorded: terrain class, kilometres, weight.                              Layer: wear
// Theory: docs/models/wear.md [EQ wear-12].                                                Pure functions: any thread.
#pragma once
#include <optional>
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

// ---- A ride told by its own figures: docs/models/planned.md [EQ planned-8..10] ----

//! What somebody writes down of a ride that nobody recorded, with the bike as it was. All >= 0.
struct ToldRide {
    double distance_m = 0;                                 //!< > 0
    std::optional<double> descent_m, stops_per_km;         //!< absent: not told
    double total_mass_kg = 0, drag_area_m2 = 0, rolling_resistance = 0;   //!< mass > 0
    double wind_mps = 0, air_degC = 16;                    //!< mean head wind along the way, positive against
};

//! What such a description leaves open, in one case; the rider's own, the same on all rides.
struct ToldUnknowns {
    double held_mps = 0;          //!< on the way down
    double down_share = 0;        //!< of the way that goes down
    double from_mps = 0;          //!< before a stop
    double kept_share = 0;        //!< of a stop's energy, for the brakes
    double slowing_per_km = 0;    //!< that costs as much as a stop
    double descent_m_km = 0, stops_per_km = 0;   //!< where not told
    double habit = 1;             //!< factor on all of it
    double pad_heat = 1;          //!< factor on the mean pad temperature of the terrain
};

//! Inputs of the likely cases, keys "told.held_mps", ...; by kind of bike.
std::vector<Input> told_inputs(const parts::Library&, parts::BikeKind);
ToldUnknowns told_unknowns_of(const CaseRow&);

//! Metres of descent, told or not.
double told_descent_m(const ToldRide&, const ToldUnknowns&);
//! Share of the height's energy that is left for the brakes [-], 0..1: exp(-s0/s), s the mean slope of what goes down, its
//! slopes exponentially distributed, s0 the slope that air and rolling alone hold at the speed held.   Source: [EQ planned-8]
double told_braked_share(const ToldRide&, const ToldUnknowns&);
//! Brake energy of both wheels [J]; at most that of height and stops together times habit.   Source: [EQ planned-9]
double told_energy_J(const ToldRide&, const ToldUnknowns&);
//! Share of that energy which goes in stops and slowings rather than on slopes [-], 0..1.
double told_stops_share(const ToldRide&, const ToldUnknowns&);
//! The class of country whose typical descent and pad temperature stand for a ride, by metres of descent a kilometre.
Terrain terrain_of_descent(double descent_m_km);

}  // namespace bw::wear
