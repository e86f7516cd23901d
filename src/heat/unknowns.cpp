// SPDX-License-Identifier: Apache-2.0
// Inputs of the heat room, friction over temperature, boiling points.                                     Layer: heat
#include "heat/unknowns.hpp"

#include <algorithm>
#include <cmath>
#include <string>

#include "heat/physics.hpp"

namespace bw::heat {

namespace {

using parts::Actuation;
using parts::End;
using parts::FluidKind;

struct Entry {
    const char* name;                       // key behind "front.heat."
    std::string id;                         // data row
    double& (*at)(HeatUnknowns&);
};

// One table for inputs(), unknowns_of() and median_unknowns(): what applies to this wheel.
std::vector<Entry> entries(const parts::Wheel& w) {
    const std::string rotor = "rotor." + std::string(word_of(w.rotor.material)) + ".";
    const std::string compound = "compound." + std::string(word_of(w.pads.compound)) + ".";
    const std::string caliper = "heat.caliper." + std::string(word_of(w.actuation)) + ".";
    using U = HeatUnknowns;
    std::vector<Entry> e = {
        {"convection", "heat.convection", [](U& u) -> double& { return u.convection; }},
        {"body_convection", "heat.body_convection", [](U& u) -> double& { return u.body_convection; }},
        {"emissivity", "heat.emissivity", [](U& u) -> double& { return u.emissivity; }},
        {"body_emissivity", "heat.body_emissivity", [](U& u) -> double& { return u.body_emissivity; }},
        {"contact", "heat.contact", [](U& u) -> double& { return u.contact_W_m2K; }},
        {"gap", "heat.gap", [](U& u) -> double& { return u.gap_W_m2K; }},
        {"track_share", "heat.track_share", [](U& u) -> double& { return u.track_share; }},
        {"arms_link", "heat.arms_link", [](U& u) -> double& { return u.arms_link; }},
        {"friction_ratio_550K", compound + "friction_ratio_550K", [](U& u) -> double& { return u.friction.ratio_550K; }},
        {"friction_beyond", compound + "friction_beyond_per_100K", [](U& u) -> double& { return u.friction.beyond_per_100K; }},
        {"friction_force", "friction.force_exponent", [](U& u) -> double& { return u.friction.force_exponent; }},
        {"friction_speed", "friction.speed_decade", [](U& u) -> double& { return u.friction.speed_decade; }},
        {"rotor_conductivity", rotor + "conductivity", [](U& u) -> double& { return u.rotor_conductivity_W_mK; }},
        {"rotor_density", rotor + "density", [](U& u) -> double& { return u.rotor_density_kg_m3; }},
        {"rotor_heat_capacity", rotor + "heat_capacity", [](U& u) -> double& { return u.rotor_heat_capacity_J_kgK; }},
        {"friction_conductivity", compound + "conductivity", [](U& u) -> double& { return u.friction_conductivity_W_mK; }},
        {"friction_density", compound + "density", [](U& u) -> double& { return u.friction_density_kg_m3; }},
        {"friction_heat_capacity", compound + "heat_capacity", [](U& u) -> double& { return u.friction_heat_capacity_J_kgK; }},
        {"plate_conductivity", "plate.steel.conductivity", [](U& u) -> double& { return u.plate_conductivity_W_mK; }},
        {"plate_density", "plate.steel.density", [](U& u) -> double& { return u.plate_density_kg_m3; }},
        {"plate_heat_capacity", "plate.steel.heat_capacity", [](U& u) -> double& { return u.plate_heat_capacity_J_kgK; }},
        {"plate_area_ratio", "plate.area_ratio", [](U& u) -> double& { return u.plate_area_ratio; }},
        {"piston_link", "heat.piston.link", [](U& u) -> double& { return u.piston_W_m2K; }},
        {"piston_capacity", "heat.piston.capacity", [](U& u) -> double& { return u.piston_J_m2K; }},
        {"plate_caliper", "heat.plate_caliper", [](U& u) -> double& { return u.plate_caliper_W_K; }},
        {"piston_caliper", "heat.piston_caliper", [](U& u) -> double& { return u.piston_caliper_W_K; }},
        {"caliper_capacity", caliper + "capacity", [](U& u) -> double& { return u.caliper_J_K; }},
        {"caliper_area", caliper + "area", [](U& u) -> double& { return u.caliper_area_m2; }},
        {"hub_capacity", "heat.hub.capacity", [](U& u) -> double& { return u.hub_J_K; }},
        {"hub_area", "heat.hub.area", [](U& u) -> double& { return u.hub_area_m2; }},
        {"arms_hub", "heat.hub.link", [](U& u) -> double& { return u.arms_hub_W_K; }},
        {"hole", "rotor.hole_diameter", [](U& u) -> double& { return u.hole_mm; }},
        {"arm_share", "rotor.arm_share", [](U& u) -> double& { return u.arm_share; }},
        {"hub_seat", "rotor.hub_seat_diameter", [](U& u) -> double& { return u.hub_seat_mm; }},
    };
    if (w.rotor.material == parts::RotorMaterial::aluminium_core) {
        e.push_back({"core_softens", "rotor.aluminium_core.core_softens", [](U& u) -> double& { return u.core_softens_degC; }});
        e.push_back({"core_melts", "rotor.aluminium_core.core_melts", [](U& u) -> double& { return u.core_melts_degC; }});
    }
    e.push_back({"water_spray", "heat.water.spray", [](U& u) -> double& { return u.water.spray_kg_m2s; }});
    e.push_back({"water_cling", "heat.water.cling", [](U& u) -> double& { return u.water.cling_kg_m2; }});
    e.push_back({"water_wipe", "heat.water.wipe", [](U& u) -> double& { return u.water.wipe_per_turn; }});
    e.push_back({"water_mixed", "heat.water.mixed", [](U& u) -> double& { return u.water.mixed_kg_m2; }});
    e.push_back({"water_humidity", "heat.water.humidity", [](U& u) -> double& { return u.water.humidity; }});
    if (w.rotor.sheltered) e.push_back({"shelter", "heat.shelter", [](U& u) -> double& { return u.shelter; }});
    if (w.pads.heat_barrier) e.push_back({"barrier", "heat.barrier", [](U& u) -> double& { return u.barrier_m2K_W; }});
    if (w.rotor.kind == parts::RotorKind::two_piece)
        e.push_back({"carrier_joint", "rotor.two_piece.joint", [](U& u) -> double& { return u.carrier_joint_W_K; }});
    if (w.rotor.kind == parts::RotorKind::vented)
        e.push_back({"vented_extra", "rotor.vented.extra_area", [](U& u) -> double& { return u.vented_extra; }});
    if (w.actuation != Actuation::cable && w.fluid) {
        const bool mineral = w.fluid->kind == FluidKind::mineral;
        e.push_back({"piston_fluid", "heat.fluid.piston_link", [](U& u) -> double& { return u.piston_fluid_W_m2K; }});
        e.push_back({"fluid_depth", "heat.fluid.depth", [](U& u) -> double& { return u.fluid_depth_mm; }});
        e.push_back({"fluid_caliper", "heat.fluid.caliper_link", [](U& u) -> double& { return u.fluid_caliper_W_m2K; }});
        e.push_back({"fluid_capacity", mineral ? "heat.fluid.mineral_capacity" : "heat.fluid.glycol_capacity", [](U& u) -> double& { return u.fluid_J_m3K; }});
        if (!mineral) {
            const std::string fluid = "fluid." + std::string(word_of(w.fluid->kind)) + ".";
            e.push_back({"fluid_dry", fluid + "dry_boiling_point", [](U& u) -> double& { return u.fluid->dry_degC; }});
            e.push_back({"fluid_wet", fluid + "wet_boiling_point", [](U& u) -> double& { return u.fluid->wet_degC; }});
            e.push_back({"fluid_water", "fluid.water_uptake", [](U& u) -> double& { return u.fluid->water_percent_per_month; }});
            e.push_back({"fluid_floor", fluid + "humid_floor", [](U& u) -> double& { return u.fluid->humid_floor_degC; }});
        }
    }
    return e;
}

HeatUnknowns blank(const parts::Wheel& w) {
    HeatUnknowns u;
    if (w.actuation != Actuation::cable && w.fluid && w.fluid->kind != FluidKind::mineral) u.fluid.emplace();
    return u;
}

// Draws past a hard bound are the tail of the log-normal, not a claim.
HeatUnknowns bounded(HeatUnknowns u) {
    u.emissivity = std::min(u.emissivity, 0.95);
    u.body_emissivity = std::min(u.body_emissivity, 0.95);
    u.arm_share = std::min(u.arm_share, 0.9);
    u.shelter = std::min(u.shelter, 1.0);
    u.water.humidity = std::min(u.water.humidity, 0.99);
    if (u.fluid) {
        u.fluid->wet_degC = std::min(u.fluid->wet_degC, u.fluid->dry_degC - 5);
        u.fluid->humid_floor_degC = std::min(u.fluid->humid_floor_degC, u.fluid->wet_degC - 5);
    }
    return u;
}

}  // namespace

bool latest_input(std::string_view key) { return key.find(".heat.water_") != key.npos; }

bool late_input(std::string_view key) {
    for (const char* name : {".heat.friction_force", ".heat.friction_speed", ".heat.core_softens", ".heat.core_melts"})
        if (key.ends_with(name)) return true;
    return latest_input(key);
}

std::vector<Input> inputs(const parts::Library& library, const parts::Bike& bike) {
    std::vector<Input> all;
    for (const End end : {End::front, End::rear})
        for (const Entry& e : entries(bike.wheel(end))) all.push_back(library.input(e.id, std::string(word_of(end)) + ".heat." + e.name));
    std::stable_partition(all.begin(), all.end(), [](const Input& i) { return !late_input(i.key); });
    std::stable_partition(all.begin(), all.end(), [](const Input& i) { return !latest_input(i.key); });
    return all;
}

std::vector<HeatUnknowns> unknowns_of(const parts::Bike& bike, End end, const Cases& drawn) {
    std::vector<HeatUnknowns> all(drawn.size(), blank(bike.wheel(end)));
    for (const Entry& e : entries(bike.wheel(end))) {
        const std::span<const double> column = drawn.column(std::string(word_of(end)) + ".heat." + e.name);
        for (std::size_t i = 0; i < all.size(); ++i) e.at(all[i]) = column[i];
    }
    for (HeatUnknowns& u : all) u = bounded(u);
    return all;
}

HeatUnknowns unknowns_of(const parts::Library&, const parts::Bike& bike, End end, const CaseRow& row) {
    HeatUnknowns u = blank(bike.wheel(end));
    for (const Entry& e : entries(bike.wheel(end))) e.at(u) = row(std::string(word_of(end)) + ".heat." + e.name);
    return bounded(u);
}

HeatUnknowns median_unknowns(const parts::Library& library, const parts::Bike& bike, End end) {
    HeatUnknowns u = blank(bike.wheel(end));
    for (const Entry& e : entries(bike.wheel(end))) e.at(u) = library.value(e.id);
    return bounded(u);
}

// [EQ heat-16]
double friction_factor(const FrictionUnknowns& u, double pad_face_degC) {
    const double span = friction_valid_to_degC - friction_valid_from_degC;
    const double inside = std::clamp((pad_face_degC - friction_valid_from_degC) / span, 0.0, 1.0);
    const double beyond = std::max(pad_face_degC - friction_valid_to_degC, 0.0) / 100;
    return std::max(std::pow(u.ratio_550K, inside) * std::pow(u.beyond_per_100K, beyond), 0.1);
}

// [EQ heat-34]: F ~ K(T) P^a V^b.
double friction_factor(const FrictionUnknowns& u, double pad_face_degC, double clamp_N, double rubbing_mps) {
    const double speed = std::max(rubbing_mps / reference_rubbing_mps, 0.1);
    return friction_factor(u, pad_face_degC) * std::pow(clamp_N / reference_clamp_N, u.force_exponent - 1) * std::pow(u.speed_decade, std::log10(speed));
}

double clamp_for_N(const FrictionUnknowns& u, double cold_friction, double friction_force_N, double pad_degC, double other_degC, double rubbing_mps) {
    const double at_reference = cold_friction * (friction_factor(u, pad_degC, reference_clamp_N, rubbing_mps) + friction_factor(u, other_degC, reference_clamp_N, rubbing_mps)) * reference_clamp_N;
    return friction_force_N > 0 ? reference_clamp_N * std::pow(friction_force_N / at_reference, 1 / u.force_exponent) : 0;
}

double lever_factor(const FrictionUnknowns& u, double pad_degC, double other_degC) {
    const double mean = pad_degC == other_degC ? friction_factor(u, pad_degC) : (friction_factor(u, pad_degC) + friction_factor(u, other_degC)) / 2;
    return u.force_exponent == 1 ? 1 / mean : std::pow(mean, -1 / u.force_exponent);
}

// [EQ heat-18]: convex, through (0, dry) and (3.7 %, wet), tending to the floor. Not below the boiling point of water.
double boiling_point_of_water_content_degC(const FluidUnknowns& u, double water_percent) {
    const double scale = 3.7 / std::log((u.dry_degC - u.humid_floor_degC) / (u.wet_degC - u.humid_floor_degC));
    return std::max(100.0, u.humid_floor_degC + (u.dry_degC - u.humid_floor_degC) * std::exp(-water_percent / scale));
}

constexpr double trouton_J_molK = 88;   // Trouton's rule

// [EQ heat-19]
double boiling_point_at_altitude_degC(double sea_level_degC, double altitude_m) {
    const double t0 = sea_level_degC + 273.15;
    return t0 / (1 - 8.314462618 / trouton_J_molK * std::log(pressure_ratio(altitude_m))) - 273.15;
}

// [EQ heat-43]
double at_sea_level_degC(double degC, double altitude_m) {
    return (degC + 273.15) * (1 - 8.314462618 / trouton_J_molK * std::log(pressure_ratio(altitude_m))) - 273.15;
}

std::optional<double> boiling_point_degC(FluidKind kind, double age_months, const HeatUnknowns& u, double altitude_m) {
    if (kind == FluidKind::mineral || !u.fluid) return std::nullopt;
    const double water = std::min(std::max(age_months, 0.0) * u.fluid->water_percent_per_month, 8.0);
    return boiling_point_at_altitude_degC(boiling_point_of_water_content_degC(*u.fluid, water), altitude_m);
}

std::optional<BoilingLimits> least_boiling_points(const parts::Library& library, FluidKind kind) {
    if (kind == FluidKind::mineral) return std::nullopt;
    const std::string fluid = "fluid." + std::string(word_of(kind)) + ".";
    return BoilingLimits{.dry_degC = library.value(fluid + "least_dry"), .wet_degC = library.value(fluid + "least_wet")};
}

}  // namespace bw::heat
