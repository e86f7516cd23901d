// SPDX-License-Identifier: Apache-2.0
// The rotor along its radius against a plain two-dimensional solution (radius and thickness, explicit steps) written here
// with its own numbers: it shares neither equations nor constants with src/heat.
#include "heat/engine.hpp"
#include "heat/radius.hpp"

#include <gtest/gtest.h>

#include <cmath>
#include <numbers>
#include <vector>

namespace {

using namespace bw::heat;

struct Case {
    double inner = 0.070, outer = 0.1015, track_in = 0.0840, track_out = 0.1010, half = 0.0009;
    double k = 24, rho = 7800, c = 470, k_per_K = 0, c_per_K = 0, eps = 0.4, a = 6, b = 13, m = 0.5, arms_link = 0.12, arms_C = 14, air = 20;
};

// Largest surface temperature of any ring, by explicit finite volumes on nr × nx cells; half the wheel's power enters over the
// track, evenly per area; what dries takes its heat evenly from all that loses, the rim too. The arms take heat at the inner edge, by its temperature.
struct Answer { double hottest = 0, at_s = 0, spread = 0; };
Answer two_dimensions(const Case& q, const std::vector<PowerRow>& rows, int nr, int nx) {
    const double pi = std::numbers::pi, dr = (q.outer - q.inner) / nr, dx = q.half / nx;
    const auto id = [nx](int i, int j) { return static_cast<std::size_t>(i * nx + j); };
    std::vector<double> t(static_cast<std::size_t>(nr * nx), q.air), flow(t.size());
    std::vector<double> ring(static_cast<std::size_t>(nr)), on_track(ring);
    double track = 0, loses_m2 = 2 * pi * q.outer * q.half;
    for (int i = 0; i < nr; ++i) {
        const double r0 = q.inner + i * dr, r1 = r0 + dr;
        ring[static_cast<std::size_t>(i)] = pi * (r1 * r1 - r0 * r0);
        const double lo = std::fmax(r0, q.track_in), hi = std::fmin(r1, q.track_out);
        on_track[static_cast<std::size_t>(i)] = hi > lo ? pi * (hi * hi - lo * lo) : 0;
        track += on_track[static_cast<std::size_t>(i)];
        loses_m2 += ring[static_cast<std::size_t>(i)];
    }
    const auto k_at = [&](double degC) { return q.k * (1 + q.k_per_K * degC); };
    const double limit = 0.2 * dx * dx * q.rho * q.c / k_at(800);
    double arms = q.air;
    Answer out;
    for (std::size_t n = 0; n + 1 < rows.size(); ++n) {
        const double length = rows[n + 1].t_s - rows[n].t_s, h = q.a + q.b * std::pow(rows[n].speed_mps, q.m);
        const int steps = static_cast<int>(std::ceil(length / limit));
        const double dt = length / steps, half_power = rows[n].power_W / 2;
        double hottest = -1e9, coldest = 1e9;
        for (int s = 0; s < steps; ++s) {
            std::fill(flow.begin(), flow.end(), 0.0);
            hottest = -1e9;
            coldest = 1e9;
            for (int i = 0; i < nr; ++i) {
                const double area = ring[static_cast<std::size_t>(i)];
                for (int j = 0; j < nx; ++j) {
                    if (j + 1 < nx) {
                        const double w = k_at((t[id(i, j + 1)] + t[id(i, j)]) / 2) * area / dx * (t[id(i, j + 1)] - t[id(i, j)]);
                        flow[id(i, j)] += w;
                        flow[id(i, j + 1)] -= w;
                    }
                    if (i + 1 < nr) {
                        const double w = k_at((t[id(i + 1, j)] + t[id(i, j)]) / 2) * 2 * pi * (q.inner + (i + 1) * dr) * dx / dr * (t[id(i + 1, j)] - t[id(i, j)]);
                        flow[id(i, j)] += w;
                        flow[id(i + 1, j)] -= w;
                    }
                }
                const std::size_t top = id(i, nx - 1);
                const double flux = half_power * on_track[static_cast<std::size_t>(i)] / track;
                const auto loses = [&](double degC, double over) {
                    return over * (h * (degC - q.air) + q.eps * 5.670374e-8 * (std::pow(degC + 273.15, 4) - std::pow(q.air + 273.15, 4)));
                };
                const double lost = loses(t[top], area) + rows[n].drying_W * area / loses_m2;
                flow[top] += flux - lost;
                const double surface = t[top] + (flux - lost) / area * dx / 2 / k_at(t[top]);
                hottest = std::fmax(hottest, surface);
                coldest = std::fmin(coldest, surface);
                if (i + 1 == nr)
                    for (int j = 0; j < nx; ++j) flow[id(i, j)] -= loses(t[id(i, j)], 2 * pi * q.outer * dx) + rows[n].drying_W * 2 * pi * q.outer * dx / loses_m2;
            }
            double inner = 0;
            for (int j = 0; j < nx; ++j) inner += t[id(0, j)] / nx;
            const double to_arms = q.arms_link * (inner - arms);
            for (int j = 0; j < nx; ++j) flow[id(0, j)] -= to_arms / nx;
            arms += dt * to_arms / q.arms_C;
            for (int i = 0; i < nr; ++i)
                for (int j = 0; j < nx; ++j) t[id(i, j)] += dt * flow[id(i, j)] / (q.rho * q.c * (1 + q.c_per_K * t[id(i, j)]) * ring[static_cast<std::size_t>(i)] * dx);
        }
        out.spread = std::fmax(out.spread, hottest - coldest);
        if (hottest > out.hottest) out.hottest = hottest, out.at_s = rows[n + 1].t_s;
    }
    return out;
}

// The same rotor as a reference brake: a pad too small and too poor a conductor to matter.
ReferenceBrake brake_of(const Case& q) {
    ReferenceBrake b;
    b.ambient_degC = b.start_degC = q.air;
    b.rotor = {.face_area_m2 = std::numbers::pi * (q.outer * q.outer - q.inner * q.inner), .edge_area_m2 = 2 * std::numbers::pi * q.outer * q.half,
               .half_thickness_m = q.half, .conductivity_W_mK = q.k, .density_kg_m3 = q.rho, .heat_capacity_J_kgK = q.c, .emissivity = q.eps,
               .convection = {q.a, q.b, q.m}};
    b.friction = {.area_m2 = 1e-7, .thickness_m = 0.001, .conductivity_W_mK = 1e-3, .density_kg_m3 = 1, .heat_capacity_J_kgK = 1};
    b.plate = b.friction;
    b.piston_J_K = b.fluid_J_K = b.caliper.heat_capacity_J_K = b.hub.heat_capacity_J_K = 1;
    b.arms.heat_capacity_J_K = q.arms_C;
    b.links_W_K.rotor_arms = q.arms_link;
    if (q.k_per_K != 0) b.rotor.conductivity_over_T = {{{0, q.k}, {1000, q.k * (1 + 1000 * q.k_per_K)}}};
    if (q.c_per_K != 0) b.rotor.heat_capacity_over_T = {{{0, q.c}, {1000, q.c * (1 + 1000 * q.c_per_K)}}};
    return b;
}

void expect_hottest_ring(const std::vector<PowerRow>& rows, double least_spread_K, const Case& q = {}) {
    const ReferenceBrake b = brake_of(q);
    const auto run = solve(b, rows, {.tolerance_K = 0.02});
    ASSERT_TRUE(run);
    const auto radial = along_radius(b, {q.inner, q.outer, q.track_in, q.track_out}, rows, run->rows);
    ASSERT_TRUE(radial) << radial.error().text;
    const Answer exact = two_dimensions(q, rows, 42, 5);
    EXPECT_NEAR(radial->hottest_ring_degC, exact.hottest, 3) << "mean of the radius: " << run->peaks.rotor_surface.degC;   // the aim of the model
    EXPECT_NEAR(radial->hottest_at_s, exact.at_s, 1.01);
    EXPECT_NEAR(radial->largest_spread_K, exact.spread, 0.05 * exact.spread);
    // One value along the radius would not have done.
    EXPECT_GT(exact.spread, least_spread_K);
    EXPECT_GT(exact.hottest - run->peaks.rotor_surface.degC, 4);
}

TEST(HeatRadius, TheHottestRingOfADragIsWithinThreeKelvinOfATwoDimensionalSolution) {
    std::vector<PowerRow> rows;
    for (int t = 0; t <= 150; ++t) rows.push_back({.t_s = double(t), .speed_mps = 5, .power_W = t < 120 ? 400.0 : 0});
    expect_hottest_ring(rows, 20);
}

TEST(HeatRadius, TheHottestRingOfHardStopsIsWithinThreeKelvinOfATwoDimensionalSolution) {
    std::vector<PowerRow> rows;
    for (int i = 0; i <= 400; ++i) {
        const double t = 0.1 * i, in = std::fmod(t, 13.0);
        rows.push_back({.t_s = t, .speed_mps = in < 3 ? 11 - 3 * in : 6, .power_W = in < 3 ? 2600 * (1 - in / 4) : 0});
    }
    expect_hottest_ring(rows, 40);
}

// Properties over temperature (problem B): the plain solver with the pass, and the engine with bands.
TEST(HeatRadius, WithPropertiesOverTemperatureTheHottestRingIsWithinThreeKelvinOfATwoDimensionalSolution) {
    Case q;
    q.k_per_K = 3e-4;
    q.c_per_K = 8e-4;   // a steel on its way to the Curie point gains about half by 600 degC
    std::vector<PowerRow> rows;
    for (int t = 0; t <= 150; ++t) rows.push_back({.t_s = double(t), .speed_mps = 5, .power_W = t < 120 ? 500.0 : 0});
    expect_hottest_ring(rows, 20, q);
    const std::vector<ReferenceBrake> brakes(2, brake_of(q));
    const std::vector<RotorBand> bands(2, RotorBand{q.inner, q.outer, q.track_in, q.track_out});
    const auto many = solve_many({}, brakes, rows, {.bands = bands});
    ASSERT_TRUE(many) << many.error().text;
    const Answer exact = two_dimensions(q, rows, 42, 5), constant = two_dimensions(Case{}, rows, 42, 5);
    EXPECT_NEAR(many->cases[1].hottest_ring_degC, exact.hottest, 3);
    EXPECT_GT(constant.hottest - exact.hottest, 10) << "properties that hardly vary check nothing";
}

// Water that dries cools all that loses heat and not the track alone: both the pass over a run and the engine's shapes.
TEST(HeatRadius, TheHottestRingOfAWetDragIsWithinThreeKelvinOfATwoDimensionalSolution) {
    const Case q;
    std::vector<PowerRow> rows, dry;
    for (int t = 0; t <= 150; ++t) {
        dry.push_back({.t_s = double(t), .speed_mps = 5, .power_W = t < 120 ? 700.0 : 0});
        rows.push_back(dry.back());
        rows.back().drying_W = 180;
    }
    expect_hottest_ring(rows, 20);
    const std::vector<ReferenceBrake> brakes(2, brake_of(q));
    const std::vector<RotorBand> bands(2, RotorBand{q.inner, q.outer, q.track_in, q.track_out});
    const auto many = solve_many({}, brakes, rows, {.bands = bands});
    ASSERT_TRUE(many) << many.error().text;
    const Answer exact = two_dimensions(q, rows, 42, 5);
    EXPECT_NEAR(many->cases[1].hottest_ring_degC, exact.hottest, 3);
    // Water that comes and goes: one against the other, at every row.
    for (std::size_t i = 0; i < rows.size(); ++i) rows[i].drying_W = i % 40 < 25 ? 20.0 + static_cast<double>(i % 7) * 25 : 0;
    const auto rings = solve_many({}, std::span(brakes).first(1), rows, {.precision = Precision::double_precision, .keep = Keep::rows, .bands = std::span(bands).first(1)});
    ASSERT_TRUE(rings) << rings.error().text;
    const auto pass = along_radius(brakes[0], bands[0], rows, rings->cases[0].rows);
    ASSERT_TRUE(pass) << pass.error().text;
    int compared = 0;
    for (std::size_t i = 1; i < rows.size(); ++i)
        if (const double ring = rings->cases[0].ring_rows_degC[i]; std::isfinite(ring) && std::isfinite(pass->ring_rows_degC[i])) {
            EXPECT_NEAR(ring, pass->ring_rows_degC[i], 2) << "row " << i;
            ++compared;
        }
    EXPECT_GT(compared, 100);
    EXPECT_GT(two_dimensions(q, dry, 42, 5).hottest - exact.hottest, 50) << "water that takes little checks nothing";
}

TEST(HeatRadius, OneLongRowGivesTheRingOfItsSeconds) {
    const Case q;
    const ReferenceBrake b = brake_of(q);
    const std::vector<PowerRow> one = {{.t_s = 0, .speed_mps = 5, .power_W = 300}, {.t_s = 200, .speed_mps = 5, .power_W = 0}};
    std::vector<PowerRow> many;
    for (int t = 0; t <= 200; ++t) many.push_back({.t_s = double(t), .speed_mps = 5, .power_W = 300});
    const RotorBand band{q.inner, q.outer, q.track_in, q.track_out};
    const auto a = along_radius(b, band, one, solve(b, one, {})->rows), c = along_radius(b, band, many, solve(b, many, {.tolerance_K = 0.01})->rows);
    ASSERT_TRUE(a && c);
    EXPECT_NEAR(a->hottest_ring_degC, c->hottest_ring_degC, 0.3);   // the engine's own error
}

TEST(HeatRadius, AnEvenTrackOverTheWholeBandGivesTheRunsOwnSurface) {
    Case q;
    q.arms_link = 0;
    ReferenceBrake b = brake_of(q);
    b.rotor.edge_area_m2 = 0;   // no rim: nothing then depends on the radius
    std::vector<PowerRow> rows;
    for (int t = 0; t <= 60; ++t) rows.push_back({.t_s = double(t), .speed_mps = 5, .power_W = t < 40 ? 600.0 : 0});
    const auto run = solve(b, rows, {.tolerance_K = 0.01});
    const auto radial = along_radius(b, {q.inner, q.outer, q.inner, q.outer}, rows, run->rows);
    ASSERT_TRUE(run && radial);
    EXPECT_NEAR(radial->hottest_ring_degC, run->peaks.rotor_surface.degC, 0.2);
    EXPECT_LT(radial->largest_spread_K, 0.2);
}

TEST(HeatRadius, RefusesATrackOutsideTheBandAndARunWithoutRows) {
    const Case q;
    const std::vector<PowerRow> rows = {{.t_s = 0, .speed_mps = 0, .power_W = 0}, {.t_s = 1, .speed_mps = 0, .power_W = 0}};
    const std::vector<HeatState> states(2);
    EXPECT_FALSE(along_radius(brake_of(q), {0.07, 0.1, 0.06, 0.09}, rows, states));
    EXPECT_FALSE(along_radius(brake_of(q), {0.07, 0.1, 0.08, 0.09}, rows, std::span(states).first(1)));
}

}  // namespace
