// SPDX-License-Identifier: Apache-2.0
// One ride through motion and heat: power per case, temperatures, doses, and their summary.              Layer: answer
#include <fmt/format.h>

#include <algorithm>
#include <cctype>
#include <cmath>
#include <numbers>

#include "balance/balance.hpp"
#include "heat/wheel_engine.hpp"
#include "internal.hpp"
#include "stop/actuation.hpp"

namespace bw::answer {

double grip_of(const stop::StopUnknowns& u, stop::Surface surface) {
    switch (surface) {
        case stop::Surface::dry: return u.grip_dry;
        case stop::Surface::wet: return u.grip_wet;
        case stop::Surface::gravel: return u.grip_gravel;
        case stop::Surface::loose: return u.grip_loose;
    }
    return u.grip_dry;
}

namespace {

// Seconds in which water reaches the brakes: stretches of the way, since rain and puddles come and go; at halts what held there. Empty: none.
std::vector<std::uint8_t> sprayed(const RideUnknowns& u, std::span<const heat::PowerRow> rows) {
    constexpr double stretch_m = 1000;   // assumed: a shower, or a wet part of the road, and a dry one
    if (u.spray_share <= 0) return {};
    std::vector<std::uint8_t> wet;
    wet.reserve(rows.size());
    double way_m = u.spray_phase * stretch_m;
    for (std::size_t i = 0; i < rows.size(); ++i) {
        wet.push_back(std::fmod(way_m, stretch_m) < u.spray_share * stretch_m ? 1 : 0);
        if (i + 1 < rows.size()) way_m += rows[i].speed_mps * (rows[i + 1].t_s - rows[i].t_s);
    }
    return wet;
}

// Mean power and energy in equal steps of metres descended, for the drawing.
void along_descent(RideAnswer& r, const ride::MotionPaths& paths, const std::vector<double>& power_W) {
    constexpr std::size_t steps = 48;
    double total = 0;
    for (std::size_t i = 1; i < paths.size(); ++i) total += std::max(0.0, paths.altitude_m[i - 1] - paths.altitude_m[i]);
    if (total < 20) return;
    std::vector<double> energy(steps, 0.0), seconds(steps, 0.0);
    double down = 0;
    for (std::size_t i = 1; i < paths.size(); ++i) {
        const double drop = std::max(0.0, paths.altitude_m[i - 1] - paths.altitude_m[i]);
        down += drop;
        const auto at = std::min(steps - 1, static_cast<std::size_t>(down / total * static_cast<double>(steps)));
        energy[at] += power_W[i - 1];
        if (drop > 0) seconds[at] += 1;
    }
    r.power_by_descent_W.resize(steps);
    for (std::size_t k = 0; k < steps; ++k) r.power_by_descent_W[k] = seconds[k] > 0 ? std::max(0.0, energy[k] / seconds[k]) : 0;
}

}  // namespace

JudgedHeat judged_heat(const heat::WheelHeat& h) {
    JudgedHeat j{.rotor_surface_degC = h.peaks.rotor_surface.degC, .rotor_hottest_ring_degC = h.rotor_hottest_ring_degC, .middle_of_ring_degC = h.middle_of_ring_degC,
                 .pad_face_degC = h.peaks.pad_face.degC, .fluid_degC = h.peaks.fluid.degC, .lever_force_factor = h.lever_force_factor};
    if (!h.as_dry) return j;
    j.rotor_surface_degC = std::max(j.rotor_surface_degC, h.as_dry->rotor_surface_degC);
    j.rotor_hottest_ring_degC = std::max(j.rotor_hottest_ring_degC, h.as_dry->rotor_hottest_ring_degC);
    j.middle_of_ring_degC = std::max(j.middle_of_ring_degC, h.as_dry->middle_of_ring_degC);
    j.pad_face_degC = std::max(j.pad_face_degC, h.as_dry->pad_face_degC);
    j.fluid_degC = std::max(j.fluid_degC, h.as_dry->fluid_degC);
    j.lever_force_factor = std::max(j.lever_force_factor, h.as_dry->lever_force_factor);
    return j;
}

double mass_with_load_kg(const parts::Bike& bike, const std::optional<double>& load_kg) {
    if (!load_kg) return bike.total_mass_kg.value;
    // A total mass told as one figure holds no load that we know of unless the load was told too.
    const bool load_inside = !bike.given.contains("bike.total_mass_kg") || bike.given.contains("bike.load_kg");
    return bike.total_mass_kg.value - (load_inside ? bike.load_kg.value : 0) + *load_kg;
}

namespace {

// Where the fluid comes nearest to its boiling point, of the run and of the run taken as dry [EQ heat-43]. Taken to sea level a boiling point is one
// number, so the fluid's own temperature is taken there.
void nearest_boil(WheelOutcome& out, const HeatInput& input) {
    out.nearest_boil_degC = judged_heat(out.heat).fluid_degC, out.nearest_boil_altitude_m = input.altitude_m;   // stands where no height is known
    double most = -1e300;
    const auto altitude_at = [&](std::size_t row) { return input.altitude_rows_m.empty() ? input.altitude_m : input.altitude_rows_m[std::min(row, input.altitude_rows_m.size() - 1)]; };
    const auto look = [&](double degC, double altitude_m) {
        const double sea_level = heat::at_sea_level_degC(degC, altitude_m);
        if (sea_level > most) most = sea_level, out.nearest_boil_degC = degC, out.nearest_boil_altitude_m = altitude_m;
    };
    const auto look_at_peak = [&](double degC, double t_s) {   // inside a row, or while it cools after the last
        std::size_t row = 0;
        while (row + 1 < input.rows.size() && input.rows[row + 1].t_s <= t_s) ++row;
        look(degC, altitude_at(row));
    };
    for (std::size_t i = 0; i < out.heat.trace.size(); ++i) look(out.heat.trace[i].fluid_degC, altitude_at(i));
    look_at_peak(out.heat.peaks.fluid.degC, out.heat.peaks.fluid.t_s);
    if (!out.heat.as_dry) return;
    for (std::size_t i = 0; i < out.heat.as_dry->fluid_rows_degC.size(); ++i) look(out.heat.as_dry->fluid_rows_degC[i], altitude_at(i));
    look_at_peak(out.heat.as_dry->fluid_degC, out.heat.as_dry->fluid_peak_at_s);
}

// Lever force that holds the power of a row, over sliding speed, clamp force and temperature [EQ heat-34, 44]; 0 while open and below walking pace.
class HoldForce {
public:
    HoldForce(const Case& c, parts::End end) : case_(c), end_(end), u_(c.stop.brake(end)), law_(c.heat[static_cast<std::size_t>(end)].friction),
        arm_(c.bike.wheel_radius_m.value / stop::effective_radius_m(c.bike.wheel(end).rotor)) {}
    // factor: clamp force over that of the same brake cold; wet: friction under water over dry.
    double of(const heat::PowerRow& row, double factor, double wet = 1) const {
        if (!(row.power_W > 0) || row.speed_mps < slowest_mps) return 0;
        const double braked_N = row.power_W / row.speed_mps, friction_N = braked_N * arm_;
        const double clamp_N = factor * heat::clamp_for_N(law_, u_.friction, friction_N / wet, heat::friction_valid_from_degC, heat::friction_valid_from_degC, row.speed_mps / arm_);
        return stop::lever_force_for(case_.bike, end_, u_, friction_N / (2 * clamp_N), braked_N);
    }
    static constexpr double slowest_mps = 1.5;

private:
    const Case& case_;
    parts::End end_;
    const stop::BrakeUnknowns& u_;
    const heat::FrictionUnknowns& law_;
    double arm_;
};

void hardest_hold(WheelOutcome& out, const HoldForce& force, const HeatInput& input) {
    constexpr double window_s = 10;
    const std::size_t n = input.rows.size();
    std::vector<double> impulse(n, 0.0);   // of the lever, up to a row
    const auto length = [&](std::size_t i) { return input.rows[i + 1].t_s - input.rows[i].t_s; };
    for (std::size_t i = 0; i + 1 < n; ++i) impulse[i + 1] = impulse[i] + length(i) * force.of(input.rows[i], out.heat.factors[i], out.heat.trace[i].wet_friction);
    std::size_t from = 0, best_from = 0, best_to = 0;
    for (std::size_t to = 1; to < n; ++to) {
        while (from + 1 < to && input.rows[to].t_s - input.rows[from].t_s > window_s + 1e-9) ++from;
        const double held_N = (impulse[to] - impulse[from]) / std::max(window_s, input.rows[to].t_s - input.rows[from].t_s);
        if (held_N > out.hold_N) out.hold_N = held_N, best_from = from, best_to = to;
    }
    for (std::size_t i = best_from; i < best_to; ++i) {
        out.hold_cold_N += length(i) * force.of(input.rows[i], 1) / std::max(window_s, input.rows[best_to].t_s - input.rows[best_from].t_s);
        const double other = out.heat.other_states.empty() ? out.heat.states[i + 1].pad_face_degC : out.heat.other_states[i + 1].pad_face_degC;
        out.hold_outside_measured = out.hold_outside_measured || (input.rows[i].power_W > 0 && (input.rows[i].power_W > heat::friction_valid_to_W ||
                                    std::max(out.heat.states[i + 1].pad_face_degC, other) > heat::friction_valid_to_degC));
    }
}

}  // namespace

Result<WheelOutcome> heat_of(const Context& ctx, const parts::Library& library, const Case& c, parts::End end, const HeatInput& input, heat::Keep keep) {
    const auto e = static_cast<std::size_t>(end);
    const heat::ReferenceBrake brake = heat::reference_of(library, c.bike, end, c.heat[e], input.air_degC, input.altitude_m);
    constexpr double cool_down_s = 900;   // the fluid peaks minutes after the halt
    std::optional<heat::WetRide> wet;   // the same friction under water as that of stops
    if (!input.wet.empty())
        wet = heat::WetRide{.wet = input.wet, .wet_factor = c.stop.brake(end).wet_factor, .wheel_radius_m = c.bike.wheel_radius_m.value, .altitude_m = input.altitude_m};
    Result<heat::WheelHeat> run = heat::heat_of_wheel_by_engine(brake, c.heat[e], input.rows, cool_down_s, heat::band_of(c.bike, end, c.heat[e]), ctx.stop, wet);
    if (!run) return run.error();
    WheelOutcome out{.heat = *std::move(run)};
    // Fade (docs/formats.md): hot, the braking that was done needs 1.5 times the cold lever force, or more than this hand has.
    out.fades = judged_heat(out.heat).lever_force_factor > 1.5;
    const stop::BrakeUnknowns& u = c.stop.brake(end);
    const double hand_N = stop::hand_force_N(c.bike.rider.hand, c.stop, c.bike.wheel(end).lever.bite_mm.value, stop::HandState::warm);
    // This wheel's part of an ordinary stop, which whoever rides must have at any moment (docs/decisions/0007).
    const double stop_N = (end == parts::End::front ? c.habit : 1 - c.habit) * c.stop.skill_mps2 * input.mass_kg;
    const HoldForce force(c, end);
    const bool cold_enough = stop::lever_force_for(c.bike, end, u, u.friction, stop_N) <= hand_N;
    for (std::size_t i = 0; i < out.heat.factors.size(); ++i) {
        const double factor = std::max(out.heat.factors[i], out.heat.as_dry ? out.heat.as_dry->factors[i] : 1.0);
        if (factor < 1.05) continue;
        const double friction = u.friction / factor;
        // A hand with next to nothing to spare is the hand's reason, not the heat's: a quarter more squeeze is felt as fade.
        out.hot_stop_beyond_hand = out.hot_stop_beyond_hand || (cold_enough && factor >= 1.25 && stop::lever_force_for(c.bike, end, u, friction, stop_N) > hand_N);
        if (out.fades) continue;
        const double hot_N = force.of(input.rows[i], factor);
        // The factor is of clamp force: a lever that loses leverage towards the bar wants more than that of the finger.
        out.fades = hot_N > hand_N || (c.bike.wheel(end).lever.ratio_at_bar && hot_N > 1.5 * force.of(input.rows[i], 1));
    }
    hardest_hold(out, force, input);
    nearest_boil(out, input);
    // Assigning {} would keep the memory, and 128 of these are alive at once.
    out.heat.states = decltype(out.heat.states)();
    out.heat.other_states = decltype(out.heat.other_states)();
    out.heat.factors = decltype(out.heat.factors)();
    if (out.heat.as_dry) out.heat.as_dry->factors = out.heat.as_dry->fluid_rows_degC = std::vector<double>();
    if (keep == heat::Keep::peaks_only) out.heat.trace = decltype(out.heat.trace)();
    return out;
}

namespace {

std::optional<double> fluid_point_degC(const Case& c, parts::End end, double altitude_m) {
    const auto& fluid = c.bike.wheel(end).fluid;
    if (!fluid) return std::nullopt;
    return heat::boiling_point_degC(fluid->kind, fluid->age_months.value, c.heat[static_cast<std::size_t>(end)], altitude_m);
}

}  // namespace

std::optional<bool> boils(const Case& c, parts::End end, const WheelOutcome& o) {
    const auto point = fluid_point_degC(c, end, o.nearest_boil_altitude_m);
    return point ? std::optional(o.nearest_boil_degC > *point) : std::nullopt;
}

void summarise(WheelHeatAnswer& w, const parts::Library& library, const parts::Bike& bike, parts::End end, std::span<const Case> cases, std::span<const WheelOutcome> anchors,
               std::span<const double> weights) {
    const auto e = static_cast<std::size_t>(end);
    const auto by_weight = [&](const std::vector<double>& values) { return weights.empty() ? interval_of(values) : interval_of(values, weights); };
    const auto weight = [&](std::size_t i) { return weights.empty() ? 1.0 : weights[i]; };
    double all = 0;
    for (std::size_t i = 0; i < anchors.size(); ++i) all += weight(i);
    const auto over = [&](auto&& of) {
        std::vector<double> values;
        for (const WheelOutcome& a : anchors) values.push_back(of(a.heat));
        return by_weight(values);
    };
    w.brake_energy_J = over([](const heat::WheelHeat& h) { return h.dose.total_J(); });
    w.rotor_peak_degC = over([](const heat::WheelHeat& h) { return h.peaks.rotor_surface.degC; });
    w.rotor_hottest_ring_degC = over([](const heat::WheelHeat& h) { return h.rotor_hottest_ring_degC; });
    w.pad_face_peak_degC = over([](const heat::WheelHeat& h) { return h.peaks.pad_face.degC; });
    w.lever_force_factor = over([](const heat::WheelHeat& h) { return h.lever_force_factor; });
    if (bike.wheel(end).rotor.material != parts::RotorMaterial::aluminium_core) w.rotor_under_pad_peak_degC = over([](const heat::WheelHeat& h) { return h.rotor_under_pad_degC; });
    std::vector<double> hold, cold;
    double outside_hold = 0;
    for (std::size_t i = 0; i < anchors.size(); ++i) {
        hold.push_back(anchors[i].hold_N);
        cold.push_back(anchors[i].hold_cold_N);
        outside_hold += anchors[i].hold_outside_measured ? weight(i) : 0;
    }
    w.hold_lever_force_N = by_weight(hold);
    w.hold_lever_force_cold_N = by_weight(cold);
    w.hold_outside_measured_probability = outside_hold / all;
    w.judged.rotor_peak_degC = over([](const heat::WheelHeat& h) { return judged_heat(h).rotor_surface_degC; });
    w.judged.hottest_ring_degC = over([](const heat::WheelHeat& h) { return judged_heat(h).rotor_hottest_ring_degC; });
    w.judged.core_degC = over([](const heat::WheelHeat& h) { return judged_heat(h).middle_of_ring_degC; });
    w.judged.pad_face_degC = over([](const heat::WheelHeat& h) { return judged_heat(h).pad_face_degC; });
    w.judged.fluid_degC = over([](const heat::WheelHeat& h) { return judged_heat(h).fluid_degC; });
    if (bike.wheel(end).rotor.material == parts::RotorMaterial::aluminium_core) {
        w.core_peak_degC = over([](const heat::WheelHeat& h) { return h.middle_of_ring_degC; });
        double soft = 0, melts = 0;
        for (std::size_t i = 0; i < anchors.size(); ++i) {
            const double core_degC = judged_heat(anchors[i].heat).middle_of_ring_degC;
            soft += core_degC > cases[i].heat[e].core_softens_degC ? weight(i) : 0;
            melts += core_degC > cases[i].heat[e].core_melts_degC ? weight(i) : 0;
        }
        w.core_soft_probability = soft / all;
        w.core_melt_probability = melts / all;
    }
    if (!anchors.empty() && anchors.front().heat.water) {
        WaterAnswer& water = w.water.emplace();
        water.least_friction = over([](const heat::WheelHeat& h) { return h.water->least_friction; });
        water.lever_force_factor = over([](const heat::WheelHeat& h) { return h.water->lever_force_factor; });
        water.drying_J = over([](const heat::WheelHeat& h) { return h.water->drying_J; });
        std::vector<double> turns, metres;
        double wet_J = 0, all_J = 0;
        for (std::size_t i = 0; i < anchors.size(); ++i) {
            turns.push_back(anchors[i].heat.water->turns_to_dry);
            metres.push_back(turns.back() * 2 * std::numbers::pi * cases[i].bike.wheel_radius_m.value);
            wet_J += weight(i) * anchors[i].heat.water->wet_work_J;
            all_J += weight(i) * anchors[i].heat.dose.total_J();
        }
        water.turns_to_dry = by_weight(turns);
        water.metres_to_dry = by_weight(metres);
        water.wet_work_share = all_J > 0 ? std::clamp(wet_J / all_J, 0.0, 1.0) : 0;
    }
    w.has_fluid = bike.wheel(end).fluid.has_value();
    w.fluid_told = bike.given.contains(fmt::format("{}.fluid.kind", parts::word_of(end)));
    if (w.has_fluid) {
        w.fluid_peak_degC = over([](const heat::WheelHeat& h) { return h.peaks.fluid.degC; });
        std::vector<double> taken;
        const double per_K = library.value(std::string("fluid.") + (bike.wheel(end).fluid->kind == parts::FluidKind::mineral ? "mineral" : "glycol") + ".expansion");
        for (std::size_t i = 0; i < anchors.size(); ++i)
            taken.push_back(heat::gap_taken_mm(per_K, cases[i].heat[e].fluid_depth_mm, judged_heat(anchors[i].heat).fluid_degC - anchors[i].heat.air_degC));
        w.gap_taken_mm = by_weight(taken).p95;
        w.fluid_peak_at_s = over([](const heat::WheelHeat& h) { return h.peaks.fluid.t_s; });
        std::vector<double> points;
        double boiling = 0, counted = 0;
        for (std::size_t i = 0; i < cases.size(); ++i) {
            const WheelOutcome& on = anchors[i % anchors.size()];
            const auto point = fluid_point_degC(cases[i], end, on.nearest_boil_altitude_m);
            if (!point) break;
            points.push_back(*point);
            counted += weight(i % anchors.size());
            boiling += on.nearest_boil_degC > *point ? weight(i % anchors.size()) : 0;
        }
        if (!points.empty()) {
            w.fluid_point_degC = interval_of(points);
            w.fluid_boil_probability = boiling / counted;
        }
    }
    double fading = 0, beyond = 0, outside = 0, above = 0, energy = 0;
    for (std::size_t i = 0; i < anchors.size(); ++i) {
        const WheelOutcome& a = anchors[i];
        fading += a.fades ? weight(i) : 0;
        beyond += a.hot_stop_beyond_hand ? weight(i) : 0;
        outside += weight(i) * a.heat.beyond_friction_range_J;
        above += weight(i) * a.heat.above_friction_power_J;
        energy += weight(i) * a.heat.dose.total_J();
    }
    w.fade_probability = fading / all;
    w.hot_stop_beyond_hand_probability = beyond / all;
    w.above_measured_power_share = energy > 0 ? std::clamp(above / energy, 0.0, 1.0) : 0;
    w.outside_measured_share = energy > 0 ? std::clamp(outside / energy, 0.0, 1.0) : 0;
}

namespace {

// A ride that cannot be reckoned at all: what the reader left out may be why.
Error with_reasons(Error error, const std::vector<ride::Fault>& faults) {
    for (const ride::Fault& f : faults)
        if (f.kind == ride::FaultKind::no_time || f.kind == ride::FaultKind::truncated || f.kind == ride::FaultKind::bad_checksum) error.text += fmt::format(". {}", f.text.ends_with('.') ? f.text.substr(0, f.text.size() - 1) : f.text);
    return error;
}

// What a ride tells of drag area and rolling resistance: the paths' parameters beside those they were drawn with.
ParametersAfter narrowed_by(const ride::MotionPaths& paths, std::span<const RideUnknowns> unknowns) {
    const auto compare = [&](double ride::MotionParameters::*of, Interval& after) {
        std::vector<double> values, logs, before;
        for (const ride::MotionPath& p : paths.paths) values.push_back(p.parameters.*of), logs.push_back(std::log(p.parameters.*of));
        for (const RideUnknowns& u : unknowns) before.push_back(std::log(u.motion.*of));
        after = interval_of(values);
        const double open = sd_of(before);
        return open > 1e-9 ? sd_of(logs) / open : std::nan("");
    };
    ParametersAfter n;
    n.drag_area_spread = compare(&ride::MotionParameters::drag_area_m2, n.drag_area_m2);
    n.rolling_resistance_spread = compare(&ride::MotionParameters::rolling_resistance, n.rolling_resistance);
    return n;
}

}  // namespace

ride::Fault altitude_left_aside(double seconds) {
    return {.kind = ride::FaultKind::no_altitude, .count = 1, .seconds = seconds, .text = "Its altitude is left aside, as --altitude none asks: reckoned as level road."};
}

void withhold_without_altitude(RideAnswer& r, const parts::Library& library, const ride::AltitudeCover& cover, bool left_aside) {
    if (cover.share >= library.value("altitude.least_share")) return;
    const std::string how_much = left_aside          ? std::string("its altitude was left aside (--altitude none)")
                                 : cover.share <= 0  ? std::string("it has no altitude")
                                                     : fmt::format("its altitude covers {:.0f} % of the riding; {:.1f} km are without", 100 * cover.share, cover.unknown_m / 1000);
    r.heat_withheld = fmt::format("What its brakes did is not given: {}, so how far it goes down is not known. Give a file with altitude, or describe the ride "
                                  "(kilometres and metres of descent, docs/formats.md).", how_much);
}

Result<RideWork> ride_work(const Context& ctx, const parts::Library& library, const Request& request, const RideInput& input, std::span<const Case> cases, double share_from,
                           double share_to) {
    if (ctx.progress) ctx.progress(share_from, input.track.file);
    const std::vector<RideUnknowns> unknowns = ride_unknowns(ctx, library, input.tags, input.track.content_hash, median_of(input.track.temperature_degC), cases);
    const double motion_to = share_from + 0.4 * (share_to - share_from);
    Context within = ctx;   // motion tells its own share of the work
    if (ctx.progress)
        within.progress = [&](double share, std::string_view what) { ctx.progress(share_from + share * (motion_to - share_from), fmt::format("{}: {}", input.track.file, what)); };
    Result<ride::MotionPaths> motion = motion_of(within, library, request, input, unknowns);
    if (!motion) return with_reasons(motion.error(), input.track.faults);
    RideAnswer r;
    r.file = input.track.file;
    r.start_unix_s = input.track.start_unix_s;
    const bool left_aside = request.altitude == ride::AltitudeSource::none && !input.track.altitude_m.empty();
    if (left_aside) motion->faults.push_back(altitude_left_aside(motion->duration_s));
    withhold_without_altitude(r, library, ride::altitude_cover(input.track, *motion), left_aside);
    if (r.heat_withheld.empty()) r.narrowed = narrowed_by(*motion, unknowns);
    return work_of_paths(ctx, library, request, *motion, unknowns, input.tags, std::move(r), cases, motion_to, share_to);
}

Result<RideWork> work_of_paths(const Context& ctx, const parts::Library& library, const Request& request, const ride::MotionPaths& paths, std::span<const RideUnknowns> unknowns,
                               const RideTags& tags, RideAnswer known, std::span<const Case> cases, double share_from, double share_to) {
    RideWork work{.ride = std::move(known), .outcomes = {}};
    RideAnswer& r = work.ride;
    const std::string& file = r.file;
    const auto tell = [&](double share) {
        if (ctx.progress) ctx.progress(share_from + (share_to - share_from) * share, file);
    };
    tell(0);
    const std::size_t n = paths.size();
    const double mean_altitude_m = mean_of(paths.altitude_m);   // of the air that cools

    r.duration_s = paths.duration_s;
    r.distance_m = paths.total_distance_m;
    r.ascent_m = paths.ascent_m;
    r.descent_m = paths.descent_m;
    r.altitude_source = paths.altitude_source;
    if (!r.planned) r.head_wind_mps = told_head_wind_mps(paths);
    for (std::size_t i = 1; i < n; ++i) r.halts += paths.speed_mps[i - 1] >= 0.5 && paths.speed_mps[i] < 0.5 ? 1 : 0;
    r.applications = r.planned ? planned_applications(paths) : ride::applications_of(paths);
    r.did = ride::brakes_did(paths);
    r.faults = paths.faults;
    std::vector<double> energies;
    for (const ride::MotionPath& p : paths.paths) {
        r.account.height_J += p.height_J;
        r.account.motion_J += p.motion_J;
        r.account.rider_J += p.rider_J;
        r.account.air_J += p.air_J;
        r.account.rolling_J += p.rolling_J;
        r.account.brakes_J += p.brakes_J;
        r.account.unexplained_J += p.unexplained_J;
        energies.push_back(p.brakes_J);
    }
    const auto k = static_cast<double>(paths.paths.size());
    for (double* v : {&r.account.height_J, &r.account.motion_J, &r.account.rider_J, &r.account.air_J, &r.account.rolling_J, &r.account.brakes_J, &r.account.unexplained_J}) *v /= k;
    r.brake_energy_J = interval_of(energies);
    // More unexplained than a quarter of what there was: this bike did not ride this, or is not described right. Too much drag
    // assumed means too little braking found, so nothing is forecast from it.
    const double given_J = std::max(r.account.rider_J + std::max(r.account.height_J, 0.0), 1.0);
    // A meter that contradicts the bike says the same, but where a motor drives that no meter sees.
    const bool contradicted = paths.meter_left_aside && !request.bike.e_assist;
    const bool unexplained = std::abs(r.account.unexplained_J) > 0.25 * given_J;
    if (contradicted || unexplained || r.brake_energy_J.p50 < 0) {
        r.misfit = true;
        const char* todo = tags.wind_mps.value_or(0) != 0 && !wind_counts_as_untold(r) ? "Tell them in the description, or check the wind that was told and that the ride is this bike's." : "Tell them in the description, or check that the ride is this bike's.";
        const std::string why =
            contradicted && !unexplained
                ? fmt::format("The power recorded and this bike's mass, drag and rolling resistance contradict each other. Check the meter; {}{}", static_cast<char>(std::tolower(todo[0])), todo + 1)
            : unexplained ? fmt::format("Mass, drag or rolling resistance of this bike do not fit this recording: {:.0f} kJ {}. {}", std::abs(r.account.unexplained_J) / 1000,
                                        r.account.unexplained_J < 0 ? "more went into air, rolling and brakes than height and rider gave" : "stay unexplained", todo)
                          : fmt::format("Mass, drag or rolling resistance of this bike do not fit this recording: nothing is left over for the brakes. {}", todo);
        r.faults.push_back({.kind = ride::FaultKind::other, .count = 1, .seconds = paths.duration_s, .text = why});
    } else if (!r.planned && r.heat_withheld.empty() && std::abs(r.account.unexplained_J) > std::max({0.25 * r.account.brakes_J, 0.1 * given_J, 10e3})) {
        r.faults.push_back({.kind = ride::FaultKind::other, .count = 1, .seconds = paths.duration_s,
                            .text = fmt::format("{:.0f} kJ {} beside {:.0f} kJ in the brakes: much for an account that should close. A lift, a car or a tow in the recording, a meter that reads wrong, or another mass, drag or rolling resistance "
                                                "than told do this; take what the brakes did with care until it is found.",
                                                std::abs(r.account.unexplained_J) / 1000, r.account.unexplained_J < 0 ? "more went into air, rolling and brakes than height and rider gave," : "stay unexplained", r.account.brakes_J / 1000)});
    }

    // Power of each wheel, then its heat. Each anchor writes only its own slots: any number of threads, the same bytes.
    const heat::Keep keep = request.keep_series ? heat::Keep::rows : heat::Keep::peaks_only;
    std::array<std::vector<WheelOutcome>, 2>& outcomes = work.outcomes;
    std::array<std::vector<std::vector<double>>, 2> wheel_power;
    for (auto& o : outcomes) o.resize(anchor_cases);
    for (auto& p : wheel_power) p.resize(anchor_cases);
    std::vector<std::optional<Error>> failed(anchor_cases);
    std::vector<Braking> went(anchor_cases);
    const auto heat_anchor = [&](std::size_t i) {
        const Case& c = cases[i];
        const ride::MotionPath& path = paths.paths[i];
        const auto [rows, sum] = wheel_rows(c, tags, paths, path);
        went[i] = sum;
        const std::vector<std::uint8_t> wet = sprayed(unknowns[i], rows[0]);
        for (const parts::End end : ends) {
            const auto e = static_cast<std::size_t>(end);
            Result<WheelOutcome> one = heat_of(ctx, library, c, end, {.rows = rows[e], .air_degC = path.parameters.air_degC, .altitude_m = mean_altitude_m, .altitude_rows_m = path.own.altitude_m.empty() ? std::span<const double>(paths.altitude_m) : path.own.altitude_m,
                                                                                       .mass_kg = path.parameters.mass_kg, .wet = wet}, keep);
            if (!one) {
                failed[i] = one.error();
                return;
            }
            one->heat.dose.distance_m = paths.total_distance_m;
            one->heat.dose.wet_share = unknowns[i].wet_share;
            one->heat.dose.grit_share = unknowns[i].grit_share;
            outcomes[e][i] = *std::move(one);
            if (request.keep_series) {
                wheel_power[e][i].reserve(n);
                for (std::size_t t = 0; t < n; ++t) wheel_power[e][i].push_back(rows[e][t].power_W);
            }
        }
    };
    // In blocks, so that progress is told from the calling thread.
    constexpr std::size_t block = 16;
    for (std::size_t from = 0; from < anchor_cases && !ctx.stopped(); from += block) {
        parallel_for(ctx, block, [&](std::size_t one) { heat_anchor(from + one); });
        tell(0.95 * static_cast<double>(from + block) / static_cast<double>(anchor_cases));
    }
    static_assert(anchor_cases % block == 0);
    if (ctx.stopped()) return cancelled();
    for (const auto& f : failed)
        if (f) return Error{f->code, fmt::format("{}: {}", file, f->text)};
    r.braking = mean_braking(went);

    for (const RideUnknowns& u : unknowns) {
        r.wet_share += u.wet_share / static_cast<double>(anchor_cases);
        r.grit_share += u.grit_share / static_cast<double>(anchor_cases);
    }

    // Grid cell i is a mean over [i, i+1); a row of the series over +-0.5 s is the mean of two cells.
    const auto centred = [n](auto&& of, std::size_t t) { return 0.5 * ((t > 0 ? of(t - 1) : 0.0) + (t < n ? of(t) : 0.0)); };
    // A planned ride is drawn by the likely case in the middle by time and braking: its pulls lie elsewhere in each case, and means would smear them.
    const bool planned = r.planned;
    const std::size_t middle = planned ? ride::plan_middle(paths) : 0;
    std::vector<double> mean_W(n, 0.0);
    if (planned) mean_W = paths.paths[middle].brake_power_W;
    else
        for (const ride::MotionPath& p : paths.paths)
            for (std::size_t t = 0; t < n; ++t) mean_W[t] += p.brake_power_W[t] / k;
    along_descent(r, paths, mean_W);
    if (request.keep_series) {
        Series& s = r.series;
        s.distance_m = paths.distance_m;
        s.altitude_m = paths.altitude_m;
        s.speed_mps = paths.speed_mps;
        s.gradient = paths.gradient;
        s.bridged = paths.bridged;
        std::vector<double> at(paths.paths.size());
        std::vector<std::size_t> place(paths.paths.size(), 0);   // planned: the second in which each path is where the middle one is
        const auto over_anchors = [&](auto&& of) {
            if (planned) return of(middle);
            for (std::size_t i = 0; i < anchor_cases; ++i) at[i] = of(i);
            return quantile(at, 0.5);
        };
        const auto with_band = [&](auto&& of, std::size_t t, std::vector<double>& low, std::vector<double>& mid, std::vector<double>& high) {
            for (std::size_t i = 0; i < anchor_cases; ++i) at[i] = of(i, planned ? place[i] : t);
            low.push_back(quantile(at, 0.05));
            mid.push_back(planned ? of(middle, t) : quantile(at, 0.5));
            high.push_back(quantile(at, 0.95));
        };
        const std::size_t rows = planned ? std::min(n, static_cast<std::size_t>(std::ceil(paths.duration_s)) + 1) : n;
        for (std::size_t t = 0; t < rows; ++t) {
            for (std::size_t i = 0; i < at.size(); ++i) {
                if (planned)
                    while (place[i] + 1 < n && paths.paths[i].own.distance_m[place[i]] < s.distance_m[t]) ++place[i];
                at[i] = centred([&](std::size_t x) { return paths.paths[i].brake_power_W[x]; }, planned ? place[i] : t);
            }
            s.power_W.push_back(planned ? centred([&](std::size_t x) { return mean_W[x]; }, t) : mean_of(at));
            s.power_p05_W.push_back(quantile(at, 0.05));
            s.power_p95_W.push_back(quantile(at, 0.95));
            for (std::size_t e = 0; e < 2; ++e) {
                double sum = 0;
                if (planned) sum = static_cast<double>(anchor_cases) * centred([&](std::size_t x) { return wheel_power[e][middle][x]; }, t);
                else
                    for (std::size_t i = 0; i < anchor_cases; ++i) sum += centred([&](std::size_t x) { return wheel_power[e][i][x]; }, t);
                s.wheel_power_W[e].push_back(sum / static_cast<double>(anchor_cases));
                const auto trace = [&](std::size_t i, std::size_t x) -> const auto& { return outcomes[e][i].heat.trace[x]; };
                with_band([&](std::size_t i, std::size_t x) { return trace(i, x).rotor_degC; }, t, s.rotor_p05_degC[e], s.rotor_degC[e], s.rotor_p95_degC[e]);
                s.wet_friction[e].push_back(over_anchors([&](std::size_t i) { return outcomes[e][i].heat.trace[t].wet_friction; }));
                s.pad_face_degC[e].push_back(over_anchors([&](std::size_t i) { return outcomes[e][i].heat.trace[t].pad_face_degC; }));
                if (request.bike.wheel(ends[e]).fluid) with_band([&](std::size_t i, std::size_t x) { return trace(i, x).fluid_degC; }, t, s.fluid_p05_degC[e], s.fluid_degC[e], s.fluid_p95_degC[e]);
                else
                    for (auto* x : {&s.fluid_p05_degC[e], &s.fluid_degC[e], &s.fluid_p95_degC[e]}) x->push_back(std::nan(""));
            }
        }
        for (auto* x : {&s.distance_m, &s.altitude_m, &s.speed_mps, &s.gradient}) x->resize(rows);
        s.bridged.resize(rows);
    }
    tell(1);
    return work;
}

RideAnswer answer_of_work(RideWork work, const parts::Library& library, const parts::Bike& bike, std::span<const Case> cases, Doses& doses) {
    RideAnswer& r = work.ride;
    doses.emplace_back();
    for (const parts::End end : ends) {
        const auto e = static_cast<std::size_t>(end);
        summarise(r.wheels[e], library, bike, end, cases, work.outcomes[e]);
        std::vector<double> totals, temperatures;
        for (const WheelOutcome& o : work.outcomes[e]) {
            doses.back()[e].push_back(o.heat.dose);
            totals.push_back(o.heat.dose.total_J());
            double sum = 0;
            for (const double b : o.heat.dose.energy_temperature_J_degC) sum += b;
            temperatures.push_back(o.heat.dose.total_J() > 1 ? sum / o.heat.dose.total_J() : o.heat.peaks.pad_face.degC);
        }
        r.wheel_energy_J[e] = interval_of(totals);
        r.wheel_energy_mean_J[e] = mean_of(totals);
        r.wheel_energy_sd_J[e] = sd_of(totals);
        r.pad_mean_degC[e] = quantile(temperatures, 0.5);
    }
    return std::move(r);
}

}  // namespace bw::answer
