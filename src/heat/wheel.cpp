// SPDX-License-Identifier: Apache-2.0
// Parts to a reference brake; one wheel on one path of braking power.                                     Layer: heat
#include "heat/wheel.hpp"

#include <algorithm>
#include <cmath>
#include <limits>
#include <numbers>

#include "heat/engine.hpp"
#include "heat/physics.hpp"
#include "heat/water.hpp"
#include "heat/wheel_engine.hpp"

namespace bw::heat {

using parts::Actuation;
using parts::End;

ReferenceBrake reference_of(const parts::Library& library, const parts::Bike& case_bike, End end, const HeatUnknowns& u, double air_degC,
                            double altitude_m) {
    using std::numbers::pi;
    const parts::Wheel& w = case_bike.wheel(end);
    const Air air = air_at(air_degC, altitude_m);
    const double diameter = w.rotor.diameter_mm.value / 1000;
    const double inner = std::min(w.rotor.band_inner_mm.value / 1000, diameter - 0.004);
    const double half_thickness = std::max(w.rotor.thickness_mm.value, 0.2) / 2000;
    const double solid = std::clamp(w.rotor.solid_share.value, 0.2, 1.0);
    const double annulus = pi / 4 * (diameter * diameter - inner * inner);

    ReferenceBrake b;
    b.ambient_degC = b.start_degC = air_degC;
    b.closed_above_W = 1;   // below it a pad rubs rather than brakes
    // Rotor: the swept band; its holes only add edges.
    b.rotor.face_area_m2 = annulus * solid;
    b.rotor.edge_area_m2 = pi * diameter * half_thickness + 4 * annulus * (1 - solid) / (u.hole_mm / 1000) * half_thickness;
    if (w.rotor.kind == parts::RotorKind::vented) b.rotor.edge_area_m2 += u.vented_extra * b.rotor.face_area_m2;
    b.rotor.half_thickness_m = half_thickness;
    b.rotor.conductivity_W_mK = u.rotor_conductivity_W_mK;
    b.rotor.density_kg_m3 = u.rotor_density_kg_m3;
    b.rotor.heat_capacity_J_kgK = u.rotor_heat_capacity_J_kgK;
    b.rotor.emissivity = u.emissivity;
    b.rotor.convection = rotor_convection(diameter, inner, case_bike.wheel_radius_m.value, air_degC, air);
    b.rotor.convection.a *= u.convection;
    b.rotor.convection.b *= u.convection * u.shelter;   // at rest there is no wind to be kept away
    // Pad
    const double pad_area = std::min(w.pads.area_mm2.value * 1e-6, 0.6 * b.rotor.face_area_m2);
    b.friction = {.area_m2 = pad_area, .thickness_m = std::max(w.pads.friction_thickness_mm.value, 0.1) / 1000,
                  .conductivity_W_mK = u.friction_conductivity_W_mK, .density_kg_m3 = u.friction_density_kg_m3,
                  .heat_capacity_J_kgK = u.friction_heat_capacity_J_kgK};
    b.plate = {.area_m2 = pad_area * u.plate_area_ratio, .thickness_m = std::max(w.pads.plate_thickness_mm.value, 0.2) / 1000,
               .conductivity_W_mK = u.plate_conductivity_W_mK, .density_kg_m3 = u.plate_density_kg_m3,
               .heat_capacity_J_kgK = u.plate_heat_capacity_J_kgK};
    b.contact_W_m2K = u.contact_W_m2K;
    b.gap_W_m2K = u.gap_W_m2K;
    // Behind the pad.
    const double piston_area = pi / 4 * std::pow(w.caliper.piston_diameter_mm.value / 1000, 2) * w.caliper.pistons_per_side;
    const double joint = 1 / (1 / (u.piston_W_m2K * piston_area) + u.barrier_m2K_W / piston_area);   // [EQ heat-20]
    b.links_W_K.plate_piston = joint;
    b.links_W_K.plate_caliper = u.plate_caliper_W_K;
    b.links_W_K.piston_caliper = u.piston_caliper_W_K;
    b.piston_J_K = u.piston_J_m2K * piston_area;
    if (w.actuation != Actuation::cable && w.fluid) {
        b.fluid_J_K = piston_area * u.fluid_depth_mm / 1000 * u.fluid_J_m3K;
        b.links_W_K.piston_fluid = u.piston_fluid_W_m2K * piston_area;
        b.links_W_K.fluid_caliper = u.fluid_caliper_W_m2K * piston_area;
    } else {   // no fluid: a node of no weight that follows the caliper
        b.fluid_J_K = 0.1;
        b.links_W_K.fluid_caliper = 0.1;
    }
    b.caliper = {.heat_capacity_J_K = u.caliper_J_K / 2, .area_m2 = u.caliper_area_m2 / 2, .emissivity = u.body_emissivity,
                 .convection = body_convection(library.value("heat.caliper.length"), air_degC, air)};
    // Arms or carrier: from the seat on the hub to the band.
    const bool two_piece = w.rotor.kind == parts::RotorKind::two_piece;
    const double seat = std::min(u.hub_seat_mm / 1000, 0.9 * inner);
    const double arms_face = pi / 4 * (inner * inner - seat * seat) * u.arm_share;
    const double arms_rc = two_piece ? library.value("carrier.aluminium.density") * library.value("carrier.aluminium.heat_capacity")
                                     : u.rotor_density_kg_m3 * u.rotor_heat_capacity_J_kgK;
    const double arms_k = two_piece ? library.value("carrier.aluminium.conductivity") : u.rotor_conductivity_W_mK;
    b.arms = {.heat_capacity_J_K = arms_rc * arms_face * half_thickness, .area_m2 = arms_face * library.value("rotor.arm_area_factor"),
              .emissivity = u.emissivity, .convection = b.rotor.convection};
    const double section = u.arm_share * pi * (inner + seat) / 2 * half_thickness;
    double to_arms = u.arms_link * arms_k * section / ((inner - seat) / 2 / 2 + (diameter - inner) / 4);   // middle of band to middle of arms
    if (two_piece) to_arms = 1 / (1 / to_arms + 1 / u.carrier_joint_W_K);
    b.links_W_K.rotor_arms = to_arms;
    b.hub = {.heat_capacity_J_K = u.hub_J_K, .area_m2 = u.hub_area_m2, .emissivity = 0,
             .convection = body_convection(library.value("heat.hub.length"), air_degC, air)};
    for (ReferenceBrake::Body* body : {&b.caliper, &b.hub}) {
        body->convection.a *= u.body_convection;
        body->convection.b *= u.body_convection;
    }
    b.links_W_K.arms_hub = 1 / (1 / u.arms_hub_W_K + ((inner - seat) / 4) / (arms_k * section));
    // Where one pad moves, the other rests on the body through a joint like that of the piston, with neither piston nor fluid (nodes of
    // no weight that follow the caliper). Where one pad was told to be thinner, it is the other side's.
    const bool one_moves = w.caliper.moving_pads == 1;
    if (one_moves || w.pads.other_friction_thickness_mm) {
        b.other = as_other_side(b);
        if (w.pads.other_friction_thickness_mm) b.other->friction.thickness_m = std::max(w.pads.other_friction_thickness_mm->value, 0.1) / 1000;
        if (one_moves) {
            b.other->piston_J_K = b.other->fluid_J_K = 0.1;
            b.other->links_W_K = {.plate_piston = 0, .plate_caliper = u.plate_caliper_W_K + joint, .piston_fluid = 0, .piston_caliper = 0.1, .fluid_caliper = 0.1};
        }
    }
    return b;
}

Ripple ripple_of(const ReferenceBrake& brake, const RotorBand& band) {
    using std::numbers::pi;
    const auto& ro = brake.rotor;
    const double solid = ro.face_area_m2 / (pi * (band.outer_m * band.outer_m - band.inner_m * band.inner_m));
    return {.wheel_radius_m = band.wheel_radius_m, .effective_radius_m = (band.track_inner_m + band.track_outer_m) / 2,
            .pad_area_m2 = band.pad_length_m * (band.track_outer_m - band.track_inner_m) * solid, .pad_length_m = band.pad_length_m,
            .half_thickness_m = ro.half_thickness_m, .conductivity_W_mK = ro.conductivity_W_mK, .heat_capacity_J_m3K = ro.density_kg_m3 * ro.heat_capacity_J_kgK};
}

bool both_sides_have_fluid(const ReferenceBrake& brake) { return brake.other && brake.other->links_W_K.piston_fluid > 0; }

void hotter_side(HeatPeaks& p, const ReferenceBrake& brake) {
    p.rotor_surface = hotter(p.rotor_surface, p.other_rotor_surface);
    p.pad_face = hotter(p.pad_face, p.other_pad_face);
    p.pad_mean = hotter(p.pad_mean, p.other_pad_mean);
    p.plate = hotter(p.plate, p.other_plate);
    if (!both_sides_have_fluid(brake)) return;
    p.piston = hotter(p.piston, p.other_piston);
    p.fluid = hotter(p.fluid, p.other_fluid);
}

double gap_taken_mm(double expansion_per_K, double depth_mm, double excess_dK) {
    return expansion_per_K * depth_mm * std::max(excess_dK, 0.0);   // [EQ heat-21]
}

namespace {

// Largest of the hottest ring as it leaves the pad, over the rows: the ring at a row's end and the rise in that row. NaN where no pad's length is known.
double under_pad_degC(const ReferenceBrake& brake, const std::optional<RotorBand>& band, std::span<const PowerRow> rows, const HeatRows& states, std::span<const double> ring_degC,
                      double hottest_ring_degC) {
    if (!band || !(band->pad_length_m > 0)) return std::numeric_limits<double>::quiet_NaN();
    Ripple r = ripple_of(brake, *band);
    // The heat of a pass spread through the thickness at once, and its parabola: no rise is more, and nearly every row is done with it.
    const double a_turn_J = r.pad_length_m / (2 * r.pad_area_m2 * r.heat_capacity_J_m3K * r.half_thickness_m) * r.wheel_radius_m / r.effective_radius_m / 2;
    const double bent = r.half_thickness_m / (3 * r.conductivity_W_mK) / (2 * r.pad_area_m2);
    double most = hottest_ring_degC;
    for (std::size_t i = 0; i + 1 < rows.size() && i + 1 < ring_degC.size(); ++i) {
        const double ring = ring_degC[i + 1];
        r.power_W = rows[i].power_W * brake.power_scale;
        if (!(r.power_W > brake.closed_above_W) || !std::isfinite(ring)) continue;
        r.speed_mps = rows[i].speed_mps;
        if (ring + r.power_W * (a_turn_J / std::max(r.speed_mps, 0.5) + bent) <= most) continue;
        const double into_pad = states[i + 1].pad_heat_share;   // not known where a row begins or ends a closed stretch: then all of it is the rotor's
        r.rotor_share = std::isfinite(into_pad) ? 1 - std::clamp(into_pad, 0.0, 1.0) : 1;
        most = std::max(most, ring + ripple_dK(r));
    }
    return most;
}

// Energy of both pads, half of it each.
void book(WheelHeat& out, double energy_J, double power_W, double pad_degC, double other_degC) {
    if (power_W > friction_valid_to_W) out.above_friction_power_J += energy_J;
    if (pad_degC == other_degC) {
        add(out.dose, energy_J, pad_degC);
    } else {
        add(out.dose, energy_J / 2, pad_degC);
        add(out.dose, energy_J / 2, other_degC);
    }
    for (const double t : {pad_degC, other_degC})
        if (t > friction_valid_to_degC) out.beyond_friction_range_J += energy_J / 2;
}

// What is drawn of a run's rows.
void take_states(WheelHeat& out, const ReferenceBrake& brake, const HeatUnknowns& u, std::span<const PowerRow> rows) {
    out.trace.reserve(out.states.size());
    out.factors.reserve(out.states.size());
    for (std::size_t i = 0; i < out.states.size(); ++i) {
        const HeatState& s = out.states[i];
        const double fluid = both_sides_have_fluid(brake) && !out.other_states.empty() ? std::max(s.fluid_degC, out.other_states[i].fluid_degC) : s.fluid_degC;
        out.trace.push_back({.t_s = s.t_s, .rotor_degC = s.rotor_surface_degC, .pad_face_degC = s.pad_face_degC, .fluid_degC = fluid});
        const bool closed = i + 1 < rows.size() && rows[i].power_W * brake.power_scale > brake.closed_above_W;
        const auto factor = [&](std::size_t k) {
            const double pad_degC = out.states[k].pad_face_degC;
            return lever_factor(u.friction, pad_degC, out.other_states.empty() ? pad_degC : out.other_states[k].pad_face_degC);
        };
        out.factors.push_back(closed ? std::max(factor(i), i + 1 < out.states.size() ? factor(i + 1) : 1.0) : 1.0);
    }
}

}  // namespace

Result<WheelHeat> heat_of_wheel(const ReferenceBrake& brake, const HeatUnknowns& u, std::span<const PowerRow> rows, const SolveOptions& options,
                                const std::optional<RotorBand>& band) {
    WheelHeat out;
    SolveOptions with = options;
    if (band) with.keep = Keep::rows;   // the radius is resolved from the rows
    with.each_step = [&](const HeatStep& s) {
        const double energy = s.power_W * brake.power_scale * s.h_s;
        if (energy != 0) book(out, energy, s.power_W * brake.power_scale, s.pad_face_mean_degC, s.other_pad_face_mean_degC);
        out.dose.distance_m += s.speed_mps * s.h_s;
        if (s.closed)
            for (std::size_t k = 0; k < 3; ++k) out.lever_force_factor = std::max(out.lever_force_factor, lever_factor(u.friction, s.pad_face_degC[k], s.other_pad_face_degC[k]));
        if (options.each_step) options.each_step(s);
    };
    Result<HeatRun> run = solve(brake, rows, with);
    if (!run) return run.error();
    out.air_degC = brake.ambient_degC;
    out.peaks = run->peaks;
    hotter_side(out.peaks, brake);
    out.energy_J = run->energy_J;
    out.steps = run->steps;
    out.rotor_hottest_ring_degC = out.peaks.rotor_surface.degC;
    if (band) {
        Result<RadialRun> radial = along_radius(brake, *band, rows, run->rows);
        if (!radial) return radial.error();
        out.rotor_hottest_ring_degC = std::max(out.peaks.rotor_surface.degC, radial->hottest_ring_degC);
        out.rotor_under_pad_degC = under_pad_degC(brake, band, rows, run->rows, radial->ring_rows_degC, out.rotor_hottest_ring_degC);
        if (options.keep == Keep::peaks_only) run->rows.clear(), run->other_rows.clear();
    }
    out.states = std::move(run->rows);
    out.other_states = std::move(run->other_rows);
    out.middle_of_ring_degC = out.peaks.rotor_mid.degC + std::max(0.0, out.rotor_hottest_ring_degC - out.peaks.rotor_surface.degC);
    take_states(out, brake, u, rows);
    return out;
}

namespace {

// What water did, from its film along a run.
WheelWater water_of(const WetBrake& brake, const HeatUnknowns& u, const Drying& d, const WheelHeat& heat, std::span<const PowerRow> rows, double power_scale) {
    WheelWater w{.turns_to_dry = turns_to_dry(brake, light_braking_mps)};
    for (std::size_t i = 0; i + 1 < rows.size(); ++i) {
        const double length = rows[i + 1].t_s - rows[i].t_s;
        w.drying_J += 2 * d.drying_W[i] * length;
        if (!(rows[i].power_W > brake.closed_above_W)) continue;
        w.least_friction = std::min(w.least_friction, d.friction[i]);
        if ((d.friction[i] + d.friction[i + 1]) / 2 < 0.95) w.wet_work_J += rows[i].power_W * power_scale * length;
        if (d.friction[i] < 1) w.lever_force_factor = std::max(w.lever_force_factor, heat.factors[i] * std::pow(d.friction[i], -1 / u.friction.force_exponent));
    }
    return w;
}

// What a run of the engine gives, the water aside.
WheelHeat heat_of_run(const ReferenceBrake& brake, const HeatUnknowns& u, std::span<const PowerRow> rows, const std::optional<RotorBand>& band, CaseRun run, std::size_t steps) {
    WheelHeat out;
    const auto closed = [&](std::size_t i) { return rows[i].power_W * brake.power_scale > brake.closed_above_W; };
    for (std::size_t i = 0; i + 1 < rows.size(); ++i) {
        const double length = rows[i + 1].t_s - rows[i].t_s, energy = rows[i].power_W * brake.power_scale * length;
        // Where the brake has just closed, the pad's face meets the rotor's within milliseconds.
        const bool on = closed(i), met = on && (i == 0 || !closed(i - 1));
        const double begin = met ? run.rows[i].rotor_surface_degC : run.rows[i].pad_face_degC, end = run.rows[i + 1].pad_face_degC;
        const double mean = (begin + end) / 2;
        double other_begin = begin, other_end = end;
        if (brake.other) {
            other_begin = met ? run.other_rows[i].rotor_surface_degC : run.other_rows[i].pad_face_degC;
            other_end = run.other_rows[i + 1].pad_face_degC;
        }
        const double other_mean = (other_begin + other_end) / 2;
        if (energy != 0) book(out, energy, rows[i].power_W * brake.power_scale, mean, other_mean);
        out.dose.distance_m += rows[i].speed_mps * length;
        if (on)
            for (const auto& [t, other] : {std::pair{begin, other_begin}, std::pair{mean, other_mean}, std::pair{end, other_end}})
                out.lever_force_factor = std::max(out.lever_force_factor, lever_factor(u.friction, t, other));
    }
    out.air_degC = brake.ambient_degC;
    out.peaks = run.peaks;
    hotter_side(out.peaks, brake);
    out.energy_J = run.energy_J;
    out.steps = steps;
    out.rotor_hottest_ring_degC = band ? run.hottest_ring_degC : out.peaks.rotor_surface.degC;
    out.rotor_under_pad_degC = under_pad_degC(brake, band, rows, run.rows, run.ring_rows_degC, out.rotor_hottest_ring_degC);
    out.states = std::move(run.rows);
    out.other_states = std::move(run.other_rows);
    out.middle_of_ring_degC = out.peaks.rotor_mid.degC + std::max(0.0, out.rotor_hottest_ring_degC - out.peaks.rotor_surface.degC);
    take_states(out, brake, u, rows);
    return out;
}

}  // namespace

Result<WheelHeat> heat_of_wheel_by_engine(const ReferenceBrake& brake, const HeatUnknowns& u, std::span<const PowerRow> given, double cool_down_s,
                                          const std::optional<RotorBand>& band, const std::atomic<bool>* stop, const std::optional<WetRide>& wet) {
    Context ctx;
    ctx.stop = stop;
    ManyOptions o{.precision = Precision::double_precision, .keep = Keep::rows, .cool_down_s = cool_down_s};
    if (band) o.bands = std::span(&*band, 1);
    std::span<const PowerRow> rows = given;
    Result<ManyRuns> many = solve_many(ctx, std::span(&brake, 1), rows, o);
    if (!many) return many.error();
    std::vector<PowerRow> dried;
    WetBrake wet_brake;
    Drying drying;
    std::optional<AsDry> as_dry;
    if (wet) {
        WheelHeat dry = heat_of_run(brake, u, rows, band, many->cases.front(), many->steps);
        as_dry = AsDry{.rotor_surface_degC = dry.peaks.rotor_surface.degC, .rotor_hottest_ring_degC = dry.rotor_hottest_ring_degC, .middle_of_ring_degC = dry.middle_of_ring_degC,
                       .pad_face_degC = dry.peaks.pad_face.degC, .fluid_degC = dry.peaks.fluid.degC, .lever_force_factor = dry.lever_force_factor,
                       .fluid_peak_at_s = dry.peaks.fluid.t_s, .factors = std::move(dry.factors), .fluid_rows_degC = {}};
        for (const TracePoint& p : dry.trace) as_dry->fluid_rows_degC.push_back(p.fluid_degC);
        wet_brake = wet_brake_of(brake, u.water, wet->wet_factor, wet->wheel_radius_m, wet->altitude_m);
        dried.assign(given.begin(), given.end());
        rows = dried;
        // Two to four turns in rain, up to nine under a hose: each is nearer by the rotor's own answer to the heat taken.
        constexpr int most_turns = 20;
        constexpr double settled_dK = 0.1;
        std::vector<double> face(rows.size());
        double moved = 1e9;
        for (int k = 0; k < most_turns && moved > settled_dK; ++k) {
            moved = 0;
            for (std::size_t i = 0; i < face.size(); ++i) {
                moved = std::max(moved, std::abs(many->cases.front().rows[i].rotor_surface_degC - face[i]));
                face[i] = many->cases.front().rows[i].rotor_surface_degC;
            }
            if (k > 0 && moved <= settled_dK) break;
            drying = dry_along(wet_brake, rows, wet->wet, face);
            for (std::size_t i = 0; i < dried.size(); ++i) dried[i].drying_W = drying.drying_W[i];
            many = solve_many(ctx, std::span(&brake, 1), rows, o);
            if (!many) return many.error();
        }
    }
    WheelHeat out = heat_of_run(brake, u, rows, band, std::move(many->cases.front()), many->steps);
    if (wet) {
        out.water = water_of(wet_brake, u, drying, out, rows, brake.power_scale);
        for (std::size_t i = 0; i < out.trace.size(); ++i) out.trace[i].wet_friction = drying.friction[i];
        out.as_dry = std::move(as_dry);
    }
    return out;
}

}  // namespace bw::heat
