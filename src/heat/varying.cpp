// SPDX-License-Identifier: Apache-2.0
// Brakes with properties over temperature: cells, steps and books around varying_kernel.cpp.               Layer: heat
#include "varying.hpp"

#include <algorithm>
#include <cmath>
#include <limits>
#include <memory>

#include "varying_kernel.hpp"

namespace bw::heat::engine {

namespace {

using namespace varying;

constexpr double kelvin = 273.15;
constexpr double stefan_boltzmann = 5.670374419e-8;   // W/(m²K⁴), CODATA 2018
constexpr double perfect_W_m2K = 1e9;                 // stands for infinite: a thousandth of a kelvin at a megawatt per m²

// n widths from a face inwards that grow by one ratio; the first is a share of the diffusion depth in a twentieth of a second.
std::vector<double> widths_of(double length_m, double diffusivity, int n, double share) {
    const double first = std::min(length_m / n, share * std::sqrt(diffusivity * 0.05));
    double low = 1, high = 4;
    for (int i = 0; i < 60; ++i) {
        const double mid = (low + high) / 2, sum = first * (std::pow(mid, n) - 1) / (mid - 1);
        (sum < length_m ? low : high) = mid;
    }
    std::vector<double> w;
    double sum = 0;
    for (int i = 0; i < n; ++i) sum += w.emplace_back(first * std::pow(low, i));
    for (double& x : w) x *= length_m / sum;
    return w;
}

void set_property(Property& p, int& points, int lane, const PropertyTable& table, double constant, double ambient_degC, double start) {
    double value = constant;
    p.first[lane] = constant;
    double integral = 0;
    const auto& t = table.points;
    if (!t.empty()) p.first[lane] = value = t.front().value;
    integral = value * start;
    double slope = 0;
    for (std::size_t j = 0; j < most_points; ++j) {
        p.at[j][lane] = p.bend[j][lane] = 0;
        if (j >= t.size()) continue;
        const double next = j + 1 < t.size() ? (t[j + 1].value - t[j].value) / (t[j + 1].degC - t[j].degC) : 0;
        p.at[j][lane] = t[j].degC - ambient_degC;
        p.bend[j][lane] = next - slope;
        slope = next;
        const double over = std::max(start - p.at[j][lane], 0.0);
        integral += p.bend[j][lane] / 2 * over * over;
    }
    points = std::max(points, static_cast<int>(t.size()));
    p.zero_J[lane] = integral;
}

void set_brake(Brakes& out, int k, const ReferenceBrake& b) {
    const auto& ro = b.rotor;
    const double start = b.start_degC - b.ambient_degC;
    const auto property = [&](int l, const PropertyTable& kt, double kc, const PropertyTable& ct, double cc) {
        set_property(out.conductivity[l], out.points[0][l], k, kt, kc, b.ambient_degC, start);
        set_property(out.heat_capacity[l], out.points[1][l], k, ct, cc, b.ambient_degC, start);
    };
    property(L_ROTOR, ro.conductivity_over_T, ro.conductivity_W_mK, ro.heat_capacity_over_T, ro.heat_capacity_J_kgK);
    property(L_FRICTION, b.friction.conductivity_over_T, b.friction.conductivity_W_mK, b.friction.heat_capacity_over_T, b.friction.heat_capacity_J_kgK);
    property(L_PLATE, b.plate.conductivity_over_T, b.plate.conductivity_W_mK, b.plate.heat_capacity_over_T, b.plate.heat_capacity_J_kgK);
    const auto w = [](std::size_t i) { return static_cast<int>(i); };
    for (int i = 0; i < chain_n; ++i) out.mass[i][k] = out.volume[i][k] = 0;
    for (int i = 0; i + 1 < chain_n; ++i) out.link[i][k] = 0;
    {
        std::vector<double> widths = widths_of(ro.half_thickness_m, ro.conductivity_W_mK / (ro.density_kg_m3 * ro.heat_capacity_J_kgK), rotor_n, 0.3);
        std::vector<double> edge{0};
        for (std::size_t i = widths.size(); i-- > 0;) edge.push_back(edge.back() + widths[i]);
        for (std::size_t i = 0; i < rotor_n; ++i) {
            const double a = edge[i], e = edge[i + 1];
            out.mass[i][k] = ro.density_kg_m3 * ro.face_area_m2 * (e - a);
            out.volume[i][k] = (e - a) / ro.half_thickness_m;
            // Exact for a parabola about the mid-plane [EQ heat-2].
            const double c = i + 1 < rotor_n ? edge[i + 2] : e;
            out.link[i][k] = ro.face_area_m2 * 6 * e / ((c - a) * (a + e + c));
        }
        const double q0 = edge[1] * edge[1] / 3, q1 = (edge[1] * edge[1] + edge[1] * edge[2] + edge[2] * edge[2]) / 3;
        out.mid_0[k] = q1 / (q1 - q0);
        out.mid_1[k] = -q0 / (q1 - q0);
    }
    {
        const std::vector<double> f = widths_of(b.friction.thickness_m, b.friction.conductivity_W_mK / (b.friction.density_kg_m3 * b.friction.heat_capacity_J_kgK), friction_n, 0.3);
        const double p = b.plate.thickness_m / plate_n;
        out.link[pad_face][k] = b.friction.area_m2 / (f[0] / 2);
        for (std::size_t i = 0; i < friction_n; ++i) {
            const int at = friction_0 + w(i);
            out.mass[at][k] = b.friction.density_kg_m3 * b.friction.area_m2 * f[i];
            out.volume[at][k] = f[i] / b.friction.thickness_m;
            if (i + 1 < friction_n) out.link[at][k] = b.friction.area_m2 / ((f[i] + f[i + 1]) / 2);
        }
        out.joint_friction[k] = f.back() / 2 / b.friction.area_m2;
        out.joint_plate[k] = p / 2 / b.plate.area_m2;
        for (int i = 0; i < plate_n; ++i) {
            out.mass[plate_0 + i][k] = b.plate.density_kg_m3 * b.plate.area_m2 * p;
            out.volume[plate_0 + i][k] = 1.0 / plate_n;
            if (i + 1 < plate_n) out.link[plate_0 + i][k] = b.plate.area_m2 / p;
        }
        // The rear face carries no heat: star of three links to triangle; its half cell keeps the constant conductivity.
        const auto& li = b.links_W_K;
        const double half = b.plate.conductivity_W_mK * b.plate.area_m2 / (p / 2), star = half + li.plate_piston + li.plate_caliper;
        out.plate_piston[k] = half * li.plate_piston / star;
        out.plate_caliper[k] = half * li.plate_caliper / star;
        out.piston_caliper[k] = li.piston_caliper + li.plate_piston * li.plate_caliper / star;
        out.piston_fluid[k] = li.piston_fluid;
        out.fluid_caliper[k] = li.fluid_caliper;
        out.rotor_arms[k] = li.rotor_arms;
        out.arms_hub[k] = li.arms_hub;
    }
    out.contact[k] = std::min(b.contact_W_m2K, perfect_W_m2K) * b.friction.area_m2;
    out.gap[k] = b.gap_W_m2K * b.friction.area_m2;
    out.half_scale[k] = b.power_scale / 2;
    out.closed_above[k] = b.power_scale > 0 ? b.closed_above_W / b.power_scale : 1e30;
    const auto body = [&](int i, const Convection& v, double area, double emissivity) {
        out.conv_a[i][k] = v.a * area;
        out.conv_b[i][k] = v.b * area;
        out.radiation[i][k] = emissivity * stefan_boltzmann * area;
    };
    body(B_ROTOR, ro.convection, ro.face_area_m2 - b.friction.area_m2 + ro.edge_area_m2, ro.emissivity);
    body(B_CALIPER, b.caliper.convection, b.caliper.area_m2, b.caliper.emissivity);
    body(B_ARMS, b.arms.convection, b.arms.area_m2, b.arms.emissivity);
    body(B_HUB, b.hub.convection, b.hub.area_m2, 0);
    out.ambient_K[k] = b.ambient_degC + kelvin;
    out.ambient4[k] = std::pow(out.ambient_K[k], 4);
    out.start[k] = start;
    out.piston[k] = b.piston_J_K;
    out.fluid[k] = b.fluid_J_K;
    out.caliper[k] = b.caliper.heat_capacity_J_K;
    out.arms[k] = b.arms.heat_capacity_J_K;
    out.hub[k] = b.hub.heat_capacity_J_K;
}

// Short behind a change of contact, where the faces move fastest, and behind a jump of power by its size.
std::vector<varying::Step> steps_of(std::span<const PowerRow> rows, const ManyOptions& o, double threshold_W) {
    std::vector<varying::Step> out;
    double since = 0;
    const double ease = 1.0 / 3;
    for (std::size_t i = 0; i + 1 < rows.size(); ++i) {
        const bool on = rows[i].power_W > threshold_W, was = i > 0 && rows[i - 1].power_W > threshold_W;
        if (i == 0 || on != was) since = 0;
        else if (on) since = std::min(since, 0.06 * rows[i].power_W / std::max(std::abs(rows[i].power_W - rows[i - 1].power_W), 1e-9));
        const double most = on ? std::min(0.25, o.longest_closed_s) : std::min(2.0, o.longest_open_s);
        double left = rows[i + 1].t_s - rows[i].t_s;
        while (left > 0) {
            const double want = std::clamp(since * ease, 1.0 / 40, most);
            const double n = std::ceil(left / want - 1e-9);
            const double h = n <= 1 ? left : n <= 2 ? left / 2 : want;
            left = n <= 1 ? 0 : left - h;
            since += h;
            out.push_back({.h_s = h, .end_s = rows[i + 1].t_s - left, .power_W = rows[i].power_W, .row = i, .row_end = left <= 0});
        }
    }
    return out;
}

}  // namespace

bool can_vary(const ReferenceBrake& b) {
    for (const PropertyTable* t : {&b.rotor.conductivity_over_T, &b.rotor.heat_capacity_over_T, &b.friction.conductivity_over_T, &b.friction.heat_capacity_over_T,
                                   &b.plate.conductivity_over_T, &b.plate.heat_capacity_over_T})
        if (t->points.size() > most_points) return false;
    return true;
}

std::size_t run_varying(const Context& ctx, std::span<const ReferenceBrake> brakes, std::span<const std::size_t> members, std::span<const PowerRow> given,
                        const ManyOptions& o, Isa isa, std::vector<CaseRun>& out) {
    std::vector<PowerRow> rows(given.begin(), given.end());
    if (o.cool_down_s > 0) {
        rows.back().speed_mps = rows.back().power_W = 0;
        rows.push_back({.t_s = rows.back().t_s + o.cool_down_s, .speed_mps = 0, .power_W = 0});
    }
    double threshold = std::numeric_limits<double>::infinity();
    for (const std::size_t i : members) threshold = std::min(threshold, brakes[i].power_scale > 0 ? brakes[i].closed_above_W / brakes[i].power_scale : 1e30);
    const std::vector<varying::Step> steps = steps_of(rows, o, threshold);
    const Run run = run_of(isa);
    const bool keep = o.keep == Keep::rows;
    const std::size_t blocks = (members.size() + W - 1) / W;
    parallel_for(ctx, blocks, [&](std::size_t at) {
        const std::size_t first = at * W, n = std::min<std::size_t>(W, members.size() - first);
        const auto brake = [&](int k) -> const ReferenceBrake& { return brakes[members[first + std::min(static_cast<std::size_t>(k), n - 1)]]; };
        auto lanes = std::make_unique<Brakes>();
        for (int k = 0; k < W; ++k) set_brake(*lanes, k, brake(k));
        auto speeds = std::make_unique<Speeds[]>(rows.size());
        for (std::size_t i = 0; i < rows.size(); ++i)
            for (int k = 0; k < W; ++k) {
                const ReferenceBrake& b = brake(k);
                const double m[body_n] = {b.rotor.convection.m, b.caliper.convection.m, b.arms.convection.m, b.hub.convection.m};
                for (int body = 0; body < body_n; ++body)
                    speeds[i].power[body][k] = body > 0 && m[body] == m[body - 1] ? speeds[i].power[body - 1][k] : m[body] == 0.5 ? std::sqrt(rows[i].speed_mps) : std::pow(rows[i].speed_mps, m[body]);
            }
        auto block = std::make_unique<varying::Block>();
        block->brakes = lanes.get();
        block->steps = steps.data();
        block->step_n = steps.size();
        block->speeds = speeds.get();
        std::unique_ptr<double[], void (*)(double*)> trace(nullptr, [](double* p) { ::operator delete[](p, std::align_val_t{64}); });
        if (keep) trace.reset(static_cast<double*>(::operator new[](sizeof(double) * (rows.size() - 1) * (out_n + 1) * W, std::align_val_t{64})));
        block->trace = trace.get();
        run(*block);
        for (std::size_t lane = 0; lane < n; ++lane) {
            const ReferenceBrake& b = brake(static_cast<int>(lane));
            CaseRun& c = out[members[first + lane]];
            const double nan = std::numeric_limits<double>::quiet_NaN();
            HeatPeaks::Peak HeatPeaks::* const peaks[out_n] = {&HeatPeaks::rotor_surface, &HeatPeaks::rotor_mid, &HeatPeaks::rotor_mean, &HeatPeaks::pad_face,
                                                               &HeatPeaks::pad_mean, &HeatPeaks::plate, &HeatPeaks::piston, &HeatPeaks::fluid,
                                                               &HeatPeaks::caliper, &HeatPeaks::arms, &HeatPeaks::hub};
            double HeatState::* const places[out_n] = {&HeatState::rotor_surface_degC, &HeatState::rotor_mid_degC, &HeatState::rotor_mean_degC, &HeatState::pad_face_degC,
                                                       &HeatState::pad_mean_degC, &HeatState::plate_degC, &HeatState::piston_degC, &HeatState::fluid_degC,
                                                       &HeatState::caliper_degC, &HeatState::arms_degC, &HeatState::hub_degC};
            for (int i = 0; i < out_n; ++i) {
                c.peaks.*peaks[i] = {block->peak[i][lane] + b.ambient_degC, nan};
                c.end.*places[i] = block->end[i][lane] + b.ambient_degC;
            }
            c.end.t_s = rows.back().t_s;
            c.peaks.fluid.t_s = block->peak[O_FLUID][lane] > lanes->start[lane] ? block->fluid_peak_s[lane] : rows.front().t_s;
            c.energy_J = {.made = block->made_J[lane], .stored = block->stored_J[lane], .lost = block->lost_J[lane],
                          .error = block->made_J[lane] - block->stored_J[lane] - block->lost_J[lane]};
            c.hottest_ring_degC = nan;
            if (!keep) continue;
            c.rows.resize(given.size(), HeatState{});
            for (int i = 0; i < out_n; ++i) c.rows[0].*places[i] = b.start_degC;
            c.rows[0].t_s = rows.front().t_s;
            const auto closed = [&](std::size_t i) { return rows[i].power_W > lanes->closed_above[lane]; };
            for (std::size_t i = 1; i < given.size(); ++i) {
                const double* p = trace.get() + (i - 1) * (out_n + 1) * W + lane;
                for (int q = 0; q < out_n; ++q) c.rows[i].*places[q] = p[q * W] + b.ambient_degC;
                c.rows[i].t_s = rows[i].t_s;
                if (closed(i - 1) && closed(i) && i + 1 < rows.size()) c.rows[i].pad_heat_share = p[out_n * W] / (rows[i - 1].power_W * b.power_scale / 2);
            }
        }
    });
    return steps.size();
}

}  // namespace bw::heat::engine
