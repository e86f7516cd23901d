// SPDX-License-Identifier: Apache-2.0
// What the plain solvers of one side and of two unlike sides share: the method, the grid, the march over the rows.   Layer: heat
// Theory: docs/models/heat.md, "The solver" [EQ heat-7, 8, 9].                                   Not a public header.
#pragma once
#include <algorithm>
#include <array>
#include <cmath>
#include <cstdint>
#include <optional>
#include <type_traits>
#include <vector>

#include <fmt/format.h>

#include "heat/reference.hpp"

namespace bw::heat::stepping {

inline constexpr double kelvin = 273.15;
inline constexpr double stefan_boltzmann = 5.670374419e-8;   // W/(m²K⁴), CODATA 2018 (exact constants)

// TR-BDF2 as a Runge-Kutta method and its third-order companion (Hosea & Shampine 1996).
inline const double root2 = std::sqrt(2.0);
inline const double gamma_d = 1 - root2 / 2;         // coefficient of both implicit stages
inline const double gamma_w = root2 / 4;
inline const double error_1 = (4 * gamma_w - 1) / 3;   // b - b̂
inline const double error_2 = -1.0 / 3;
inline const double error_3 = 2 * gamma_d / 3;

// A local error of this share of the tolerance per step. Measured: docs/models/heat.md, "What was measured".
inline constexpr double local_share = 1.0;
inline constexpr double layer_s = 0.05;      // below this step an error in a layer is allowed to grow as it will spread
inline constexpr double slow_share = 0.1;   // of that, for the rotor's mean and the bodies behind it

// Cell widths from a face inwards: the first is a share of the diffusion depth √(α·depth_s), the next ones grow by `ratio`.
// Chosen by the grid error of docs/models/heat.md: it follows (ln ratio)² deep inside and the first cell just after a change.
inline std::vector<double> graded(double length_m, double diffusivity, double first_share, double depth_s, double ratio, int refinement) {
    const double first = std::min(length_m / 6, first_share * std::sqrt(diffusivity * depth_s));
    int n = 1;
    double sum = first, width = first;
    while (sum < length_m) { width *= ratio; sum += width; ++n; }
    // Stretch the ratio so that n cells fill the length exactly.
    double low = 1.0, high = ratio;
    for (int i = 0; i < 200; ++i) {
        const double mid = (low + high) / 2;
        const double s = mid == 1.0 ? first * n : first * (std::pow(mid, n) - 1) / (mid - 1);
        (s < length_m ? low : high) = mid;
    }
    const double r = (low + high) / 2;
    std::vector<double> widths;
    double w = first;
    for (int i = 0; i < n; ++i, w *= r)
        for (int k = 0; k < refinement; ++k) widths.push_back(w / refinement);
    double total = 0;
    for (const double x : widths) total += x;
    for (double& x : widths) x *= length_m / total;
    return widths;
}

// A property over temperature as a factor on its constant, and what a cell has taken up as a temperature that it would have
// at constant heat capacity [EQ heat-28].
struct Factor {
    const PropertyTable* table = nullptr;
    double reference = 1;
    double at(double degC) const { return table ? table->at(degC) / reference : 1; }
    double taken_up(double degC) const { return table ? reference_degC + table->integral(reference_degC, degC) / reference : degC; }
    static constexpr double reference_degC = 0;
};
inline Factor factor_of(const PropertyTable& table, double reference) { return table.varies() ? Factor{&table, reference} : Factor{}; }

template <class State> struct PeakField {
    HeatPeaks::Peak HeatPeaks::*peak;
    double State::*value;
};
// The other side beside this one, where they differ.
struct BothSides : HeatState, OtherSideState {};
constexpr std::array<PeakField<HeatState>, 11> peak_fields_of(const HeatState&) { return {{
    {&HeatPeaks::rotor_surface, &HeatState::rotor_surface_degC}, {&HeatPeaks::rotor_mid, &HeatState::rotor_mid_degC},
    {&HeatPeaks::rotor_mean, &HeatState::rotor_mean_degC},       {&HeatPeaks::pad_face, &HeatState::pad_face_degC},
    {&HeatPeaks::pad_mean, &HeatState::pad_mean_degC},           {&HeatPeaks::plate, &HeatState::plate_degC},
    {&HeatPeaks::piston, &HeatState::piston_degC},               {&HeatPeaks::fluid, &HeatState::fluid_degC},
    {&HeatPeaks::caliper, &HeatState::caliper_degC},             {&HeatPeaks::arms, &HeatState::arms_degC},
    {&HeatPeaks::hub, &HeatState::hub_degC},
}}; }
constexpr std::array<PeakField<BothSides>, 17> peak_fields_of(const BothSides&) {
    std::array<PeakField<BothSides>, 17> all{};
    std::size_t n = 0;
    for (const PeakField<HeatState>& f : peak_fields_of(HeatState{})) all[n++] = {f.peak, f.value};
    all[n++] = {&HeatPeaks::other_rotor_surface, static_cast<double BothSides::*>(&OtherSideState::rotor_surface_degC)};
    all[n++] = {&HeatPeaks::other_pad_face, static_cast<double BothSides::*>(&OtherSideState::pad_face_degC)};
    all[n++] = {&HeatPeaks::other_pad_mean, static_cast<double BothSides::*>(&OtherSideState::pad_mean_degC)};
    all[n++] = {&HeatPeaks::other_plate, static_cast<double BothSides::*>(&OtherSideState::plate_degC)};
    all[n++] = {&HeatPeaks::other_piston, static_cast<double BothSides::*>(&OtherSideState::piston_degC)};
    all[n++] = {&HeatPeaks::other_fluid, static_cast<double BothSides::*>(&OtherSideState::fluid_degC)};
    return all;
}

// Parabola through the three stages of a step, at share x of it (0, 2d, 1 are the nodes).
inline double between(double a, double b, double c, double x) {
    const double g = 2 * gamma_d;
    return a * (x - g) * (x - 1) / g + b * x * (x - 1) / (g * (g - 1)) + c * x * (x - g) / (1 - g);
}

template <class State> void note_peaks(HeatPeaks& peaks, const State& a, const State& b, const State& c) {
    for (const auto& f : peak_fields_of(a)) {
        HeatPeaks::Peak& p = peaks.*f.peak;
        const double va = a.*f.value, vb = b.*f.value, vc = c.*f.value;
        if (vc > p.degC) p = {vc, c.t_s};
        if (vb < p.degC && va < p.degC) continue;
        if (vb > p.degC) p = {vb, b.t_s};
        if (vb > va && vb > vc) {   // the largest lies inside
            const double g = 2 * gamma_d;
            const double s1 = (vb - va) / g, s2 = (vc - vb) / (1 - g), curve = s2 - s1;   // divided differences on (0, g, 1)
            const double x = g / 2 - s1 / (2 * curve);
            if (x > 0 && x < 1) {
                const double top = between(va, vb, vc, x);
                if (top > p.degC) p = {top, a.t_s + x * (c.t_s - a.t_s)};
            }
        }
    }
}

// The march over the rows. Solver: begin, factors, step, state, accept ...; drive_of(row): what holds over a stretch.
template <class Solver, class DriveOf>
Result<HeatRun> march(const ReferenceBrake& brake, Solver& solver, std::span<const PowerRow> rows, const SolveOptions& options, std::size_t unknowns, const DriveOf& drive_of) {
    using State = typename Solver::State;
    HeatRun run;
    run.unknowns = unknowns;
    if (options.keep == Keep::rows) run.rows.reserve(rows.size());
    const auto emit = [&](std::size_t row, const State& s) {
        if (options.keep == Keep::rows) {
            run.rows.push_back(s);
            if constexpr (!std::is_same_v<State, HeatState>) run.other_rows.push_back(s);
        }
        if (options.each_row) options.each_row(row, s);
    };

    State now = solver.state(solver.start_, rows.front().t_s);
    for (const auto& f : peak_fields_of(now)) run.peaks.*f.peak = {now.*f.value, now.t_s};
    emit(0, now);

    const std::size_t last = rows.size() - 1;
    const std::size_t stretches_end = last + (options.cool_down_s > 0 ? 1 : 0);
    // First step of a stretch by kind of change, from the last time that it happened: 2·(was closed) + is closed.
    struct First { double h = 0.02, shock = 100; };
    std::array<First, 4> firsts;
    double natural = 0.05;   // step that the last error estimate asked for, not cut at the end of a row
    bool was_closed = false;
    double was_made = 0;

    for (std::size_t i = 0; i < stretches_end;) {
        std::size_t j = i + 1;   // rows [i, j) hold the same inputs
        PowerRow input = i < last ? rows[i] : PowerRow{.t_s = rows[last].t_s};
        if (i < last)
            while (j < last && rows[j].speed_mps == input.speed_mps && rows[j].power_W == input.power_W && rows[j].drying_W == input.drying_W) ++j;
        const double t0 = input.t_s;
        const double t1 = i < last ? rows[j].t_s : t0 + options.cool_down_s;
        // To 1e-10 s, so that rows "0.1 s apart" share their factors.
        const double length = std::round((t1 - t0) * 1e10) / 1e10;
        const auto drive = drive_of(input);
        solver.begin(drive);

        const std::size_t kind = 2 * static_cast<std::size_t>(was_closed) + static_cast<std::size_t>(drive.closed);
        const double shock = std::abs(drive.made_W() - was_made) + 0.5;
        First& first = firsts[kind];
        double want = natural;
        if (kind != 0 || i == 0) {
            const double r = first.shock / shock;
            want = first.h * std::clamp(r * r, 1.0 / 64, 64.0);
        }
        constexpr int deepest = 44;
        const std::uint64_t whole = std::uint64_t{1} << deepest;
        const auto level_for = [&](double h) {
            int k = 0;
            double step = length;
            while (step > h * 1.0001 && k < deepest) { step /= 2; ++k; }
            return k;
        };
        std::uint64_t at = 0;
        int level = level_for(want);
        bool is_first = true;
        std::size_t next_row = i + 1;
        // Fixed steps: as many equal ones as the stretch needs.
        const std::size_t fixed_n = options.fixed_step_s > 0 ? static_cast<std::size_t>(std::ceil(length / options.fixed_step_s - 1e-9)) : 0;
        std::size_t fixed_done = 0;
        int tries = 0;
        while (fixed_n > 0 ? fixed_done < fixed_n : at < whole) {
            if ((run.steps & 63U) == 0 && options.stop && options.stop->load(std::memory_order_relaxed))
                return Error{Errc::cancelled, "the temperature run was cancelled"};
            double begin_share = 0, end_share = 0, h = 0;
            if (fixed_n > 0) {
                begin_share = static_cast<double>(fixed_done) / static_cast<double>(fixed_n);
                end_share = static_cast<double>(fixed_done + 1) / static_cast<double>(fixed_n);
                h = length / static_cast<double>(fixed_n);
            } else {
                begin_share = static_cast<double>(at) / static_cast<double>(whole);
                end_share = static_cast<double>(at + (whole >> level)) / static_cast<double>(whole);
                h = std::ldexp(length, -level);
            }
            const std::optional<double> error = solver.step(solver.factors(h), drive);
            const bool good = error && (fixed_n > 0 || *error <= 1);
            if (!good) {
                if (fixed_n > 0 || level >= deepest || ++tries > 60)
                    return Error{Errc::not_converged, fmt::format("temperatures: no step found at t = {} s", t0 + begin_share * length)};
                ++run.rejected;
                level += !error || *error > 30 ? 3 : *error > 4 ? 2 : 1;
                level = std::min(level, deepest);
                continue;
            }
            tries = 0;
            ++run.steps;
            // The books [EQ heat-9].
            run.energy_J.made += drive.made_W() * h;
            run.energy_J.lost += h * (gamma_w * (solver.start_.loss_W + solver.inner_.loss_W) + gamma_d * solver.end_.loss_W);
            const double ta = t0 + begin_share * length, tc = end_share >= 1 ? t1 : t0 + end_share * length;
            State a = now;
            if (is_first) solver.put_faces(solver.start_, a);
            const State b = solver.state(solver.inner_, ta + 2 * gamma_d * (tc - ta));
            State c = solver.state(solver.end_, tc);
            if (drive.closed) c.pad_heat_share = solver.share_of_pad(solver.end_, drive);
            note_peaks(run.peaks, a, b, c);
            if (options.each_step) {
                const double fa = solver.pad_face_degC(solver.start_), fb = solver.pad_face_degC(solver.inner_), fc = solver.pad_face_degC(solver.end_);
                const double oa = solver.other_pad_face_degC(solver.start_), ob = solver.other_pad_face_degC(solver.inner_), oc = solver.other_pad_face_degC(solver.end_);
                // A step may span several equal rows; it is booked under the first of them.
                options.each_step({.row = i, .t_s = ta, .h_s = h, .speed_mps = input.speed_mps, .power_W = input.power_W,
                                   .closed = drive.closed, .pad_face_degC = {fa, fb, fc},
                                   .pad_face_mean_degC = gamma_w * (fa + fb) + gamma_d * fc,
                                   .other_pad_face_degC = {oa, ob, oc}, .other_pad_face_mean_degC = gamma_w * (oa + ob) + gamma_d * oc});
            }
            // Rows inside the step: a parabola through its stages, of the order of the method.
            const double share_a = drive.closed ? solver.share_of_pad(solver.start_, drive) : 0;
            const double share_b = drive.closed ? solver.share_of_pad(solver.inner_, drive) : 0;
            while (i < last && next_row < j && rows[next_row].t_s < tc - 1e-9) {
                const double x = (rows[next_row].t_s - ta) / (tc - ta);
                State s;
                s.t_s = rows[next_row].t_s;
                for (const auto& f : peak_fields_of(now)) s.*f.value = between(a.*f.value, b.*f.value, c.*f.value, x);
                if (drive.closed) s.pad_heat_share = between(share_a, share_b, c.pad_heat_share, x);
                emit(next_row++, s);
            }
            solver.accept();
            now = c;
            if (i < last && next_row < j && std::abs(rows[next_row].t_s - tc) <= 1e-9) {
                State s = c;
                s.t_s = rows[next_row].t_s;
                emit(next_row++, s);
            }
            if (fixed_n > 0) { ++fixed_done; is_first = false; continue; }
            const double growth = std::clamp(0.85 / std::cbrt(std::max(*error, 1e-9)), 0.3, 8.0);
            if (is_first && kind != 0) {
                // Behind a jump of flux the error grows like the square root of the step.
                first.h = h * std::clamp(0.36 / (*error * *error + 1e-9), 0.25, 16.0);
                first.shock = shock;
            }
            is_first = false;
            natural = h * growth;
            at += whole >> level;
            while (level > 0 && std::ldexp(length, -(level - 1)) <= natural && at % (whole >> (level - 1)) == 0) --level;
            while (level < deepest && std::ldexp(length, -level) > natural * 1.2) ++level;
        }
        if (i < last) {
            const bool stays = j < last && drive.closed && rows[j].power_W * brake.power_scale > brake.closed_above_W;
            State s = now;
            s.t_s = rows[j].t_s;
            if (!stays && j < last) s.pad_heat_share = std::numeric_limits<double>::quiet_NaN();
            emit(j, s);
        }
        was_closed = drive.closed;
        was_made = drive.made_W();
        i = j;
    }
    run.end = now;
    run.energy_J.made *= solver.account_share();
    run.energy_J.lost *= solver.account_share();
    run.energy_J.stored = solver.stored_J() * solver.account_share();
    run.energy_J.error = run.energy_J.made - run.energy_J.stored - run.energy_J.lost;
    return run;
}

}  // namespace bw::heat::stepping

namespace bw::heat {

//! solve() for a brake whose sides differ; checked beforehand.
Result<HeatRun> solve_two_sides(const ReferenceBrake& brake, std::span<const PowerRow> rows, const SolveOptions& options);

}  // namespace bw::heat
