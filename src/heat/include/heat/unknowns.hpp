// SPDX-License-Identifier: Apache-2.0
// What is not known about heat in one brake, and how each is drawn.                                       Layer: heat
// Values, spreads and sources: data/heat.toml.
#pragma once
#include <optional>
#include <string_view>
#include <vector>

#include "base/cases.hpp"
#include "parts/bike.hpp"
#include "parts/library.hpp"

namespace bw::heat {

//! Dry friction over temperature relative to cold, in one case [EQ heat-16].
struct FrictionUnknowns {
    double ratio_550K = 1;        //!< mu(550 K)/mu(300 K): the end of the range in which bicycle pads were measured
    double beyond_per_100K = 1;   //!< further factor per 100 K above 550 K: nobody published it, so it is wide
    double force_exponent = 1;    //!< friction force ~ (clamp force)^this
    double speed_decade = 1;      //!< friction at ten times the rubbing speed over that at one
    bool operator==(const FrictionUnknowns&) const = default;
};

//! A glycol fluid in one case [EQ heat-18].
struct FluidUnknowns {
    double dry_degC = 0, wet_degC = 0;        //!< boiling point without water, and at 3.7 % of water
    double water_percent_per_month = 0;
    double humid_floor_degC = 0;              //!< what the boiling point tends to with much water
    bool operator==(const FluidUnknowns&) const = default;
};

//! Water on one brake in one case [EQ heat-37, 38]. A film of 1 kg/m2 is 1 mm.
struct WaterUnknowns {
    double spray_kg_m2s = 1e-3;     //!< what rain and tyre bring on a face of the rotor while the way is wet
    double cling_kg_m2 = 0.05;      //!< film that stays on a face at rest; more drips off
    double wipe_per_turn = 0.35;    //!< a closed pad leaves exp(-this) of the film each turn
    double mixed_kg_m2 = 0.005;     //!< film at which all but 1/e of what water does to friction is there
    double humidity = 0.9;          //!< of the air on wet ways
    bool operator==(const WaterUnknowns&) const = default;
};

struct HeatUnknowns {
    // Model error: nobody has measured these on this brake.
    double convection = 1, body_convection = 1;   //!< factors on the textbook coefficients: rotor and arms; caliper and hub
    double shelter = 1;                           //!< what a box or guard leaves of the convection in the wind: rotor and arms
    double emissivity = 0.3, body_emissivity = 0.7;
    double contact_W_m2K = 5e4, gap_W_m2K = 100;
    double track_share = 0.8;                     //!< share of the pad's height that carries, about its middle
    double arms_link = 1;                         //!< factor on the conduction from band to arms
    // Materials
    double rotor_conductivity_W_mK = 0, rotor_density_kg_m3 = 0, rotor_heat_capacity_J_kgK = 0;
    double friction_conductivity_W_mK = 0, friction_density_kg_m3 = 0, friction_heat_capacity_J_kgK = 0;
    double plate_conductivity_W_mK = 0, plate_density_kg_m3 = 0, plate_heat_capacity_J_kgK = 0;
    // Parts behind the pad, and the rotor's inside
    double plate_area_ratio = 1;                  //!< plate over friction area
    double piston_W_m2K = 0, piston_J_m2K = 0;    //!< plate to piston, and capacity, per piston area
    double piston_fluid_W_m2K = 0, fluid_depth_mm = 0, fluid_J_m3K = 0, fluid_caliper_W_m2K = 0;
    double plate_caliper_W_K = 0, piston_caliper_W_K = 0;   //!< of half the brake
    double caliper_J_K = 0, caliper_area_m2 = 0;            //!< of the whole caliper
    double barrier_m2K_W = 0;                     //!< resistance of a heat barrier behind the plate
    double hub_J_K = 0, hub_area_m2 = 0, arms_hub_W_K = 0;  //!< of the half
    double hole_mm = 5, arm_share = 0.3, hub_seat_mm = 44, carrier_joint_W_K = 0, vented_extra = 0;
    double core_softens_degC = 0, core_melts_degC = 0;      //!< of a rotor with an aluminium core
    FrictionUnknowns friction;
    WaterUnknowns water;
    std::optional<FluidUnknowns> fluid;           //!< none for a cable brake and for mineral oil
    bool operator==(const HeatUnknowns&) const = default;
};

//! Every unknown of both ends as an input of the likely cases, keys "front.heat.convection" ...; what does not apply to
//! this bike is left out.
std::vector<Input> inputs(const parts::Library& library, const parts::Bike& bike);
//! Keys of inputs that came later: drawn behind all others, so that these keep their draws.
bool late_input(std::string_view key);
//! And of those the ones that are drawn behind what only some bikes have, too.
bool latest_input(std::string_view key);
//! The unknowns of one end in one case; `bike` decides materials, compound and kinds.
HeatUnknowns unknowns_of(const parts::Library& library, const parts::Bike& bike, parts::End end, const CaseRow& row);
//! The same for all cases at once [drawn.size()]: each key is looked up once instead of once a case.
std::vector<HeatUnknowns> unknowns_of(const parts::Bike& bike, parts::End end, const Cases& drawn);
//! The same at the medians of the data rows, without a draw.
HeatUnknowns median_unknowns(const parts::Library& library, const parts::Bike& bike, parts::End end);

//! mu(T)/mu(cold), 1 at 27 °C and below. Log-linear to 550 K, then falling by its own factor; never under 0.1. [EQ heat-16]
double friction_factor(const FrictionUnknowns& u, double pad_face_degC);
//! Friction over that of a cold pad at the reference clamp force and rubbing speed, at this clamp force per pad and this rubbing
//! speed [EQ heat-34]; friction force = 2 mu N. clamp_N, rubbing_mps > 0; slower than a tenth of the reference speed counts as a tenth.
double friction_factor(const FrictionUnknowns& u, double pad_face_degC, double clamp_N, double rubbing_mps);
//! Clamp force [N] of each pad for a friction force of both pads [N] at these temperatures of both pads and this rubbing speed.
//! cold_friction: at the reference. The inverse of the law above.
double clamp_for_N(const FrictionUnknowns& u, double cold_friction, double friction_force_N, double pad_degC, double other_degC, double rubbing_mps);
//! Clamp force for the same braking over that of the same brake cold: (mean friction of both pads)^(-1/force exponent).
double lever_factor(const FrictionUnknowns& u, double pad_degC, double other_degC);
//! What "cold friction" of data/heat.toml belongs to: an ordinary squeeze at an ordinary speed.
inline constexpr double reference_clamp_N = 500, reference_rubbing_mps = 3;
//! Largest power at which pads were measured in the source of the range below [W].
inline constexpr double friction_valid_to_W = 400;
//! Range of pad temperature in which published fits were measured: 27..277 °C (300..550 K).
//! Source: Feier, Way & Redfield 2020 (read; the coefficients were not readable).
inline constexpr double friction_valid_from_degC = 26.85, friction_valid_to_degC = 276.85;

//! Boiling point at released pressure [°C] of a fluid of that age, at that altitude; nothing for mineral oil and for a brake
//! without fluid (no published point). [EQ heat-18, 19]
std::optional<double> boiling_point_degC(parts::FluidKind kind, double age_months, const HeatUnknowns& u, double altitude_m);
//! The same from the fluid's own numbers. water_percent >= 0.
double boiling_point_of_water_content_degC(const FluidUnknowns& u, double water_percent);
//! A boiling point at sea level taken to altitude: 1/T = (1 - R/88 · ln(p/p0))/T0, Trouton's 88 J/(mol K). [EQ heat-19]
double boiling_point_at_altitude_degC(double sea_level_degC, double altitude_m);
//! The inverse: what a temperature at that altitude is at sea level, measured by any boiling point. [EQ heat-43]
double at_sea_level_degC(double degC, double altitude_m);
//! Least dry and wet boiling points of a grade [°C]; nothing for mineral oil.   Source: 49 CFR 571.116 S5.1.1-S5.1.2 (FMVSS 116).
struct BoilingLimits {
    double dry_degC = 0, wet_degC = 0;
};
std::optional<BoilingLimits> least_boiling_points(const parts::Library& library, parts::FluidKind kind);

}  // namespace bw::heat
