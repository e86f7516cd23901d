// SPDX-License-Identifier: Apache-2.0
// The reference form where a closed form is at hand beyond the textbook's slab: two bodies in a contact of finite conductance,
// the partition in the first hundredths of a second, hard stops in rows of 0.1 s, an even ring by finite elements.
#include <gtest/gtest.h>

#include <algorithm>
#include <cmath>
#include <map>
#include <numbers>

#include "bw_paths.hpp"
#include "base/text.hpp"
#include "by_cvode.hpp"
#include "by_cvode_two_sides.hpp"
#include "heat/engine.hpp"
#include "heat/wheel.hpp"
#include "row.hpp"

namespace {

using namespace bw::heat;
using bw::validation::Basis;
using bw::validation::check;

// Rotor and pad alone: nothing behind the pad, no losses, both at 0 °C.
ReferenceBrake two_bodies(double rotor_m, double rotor_area_m2, double pad_m, double pad_area_m2) {
    ReferenceBrake b;
    b.ambient_degC = b.start_degC = 0;
    b.rotor = {.face_area_m2 = rotor_area_m2, .edge_area_m2 = 0, .half_thickness_m = rotor_m, .conductivity_W_mK = 24.9, .density_kg_m3 = 7800, .heat_capacity_J_kgK = 460};
    b.friction = {.area_m2 = pad_area_m2, .thickness_m = pad_m, .conductivity_W_mK = 0.8, .density_kg_m3 = 2200, .heat_capacity_J_kgK = 1100};
    b.plate = {.area_m2 = 1e-7, .thickness_m = 0.001, .conductivity_W_mK = 1e-3, .density_kg_m3 = 1, .heat_capacity_J_kgK = 1};
    b.piston_J_K = b.fluid_J_K = b.caliper.heat_capacity_J_K = b.arms.heat_capacity_J_K = b.hub.heat_capacity_J_K = 1;
    return b;
}

// Two deep bodies, half of P/2 born on each face, h between them. Laplace: with effusivities b and D = pad face - rotor face,
// D(s) = p (1/b_p - 1/b_r)/(s (sqrt s + g)), g = h (1/b_p + 1/b_r), whose original is (1 - exp(g^2 t) erfc(g sqrt t))/g; the mean
// weighted by b follows 2 p 2 sqrt(t/pi)/(b_p + b_r).
TEST(HeatValidation, TwoDeepBodiesInAContactOfFiniteConductance) {
    constexpr double area = 0.01, h = 2000, power = 10000, p = power / 4 / area;
    const double b_r = std::sqrt(24.9 * 7800 * 460), b_p = std::sqrt(0.8 * 2200 * 1100), g = h * (1 / b_p + 1 / b_r);
    const auto gap = [&](double t) { return p * (1 / b_p - 1 / b_r) / g * (1 - std::exp(g * g * t) * std::erfc(g * std::sqrt(t))); };
    const auto rotor = [&](double t) { return (4 * p * std::sqrt(t / std::numbers::pi) - b_p * gap(t)) / (b_p + b_r); };
    ReferenceBrake b = two_bodies(0.02, area, 0.02, area);
    b.contact_W_m2K = h;
    std::vector<PowerRow> rows;
    for (int i = 0; i <= 10; ++i) rows.push_back({.t_s = 0.1 * i, .speed_mps = 0, .power_W = power + 1e-6 * i});
    const auto run = solve(b, rows, {.tolerance_K = 0.02});
    ASSERT_TRUE(run) << run.error().text;
    const char* source = "Laplace transform of two half-spaces with a contact conductance (H. S. Carslaw, J. C. Jaeger 1959, ch. XII, method from memory): D = p(1/b_p - 1/b_r)/g (1 - exp(g²t) erfc(g√t)); derived here, by std::erfc";
    check({.id = "heat-40", .what = "410 rotor, organic pad, deep, equal areas, 2000 W/(m² K) between, 0.5 MW/m² made, 0.1 s -> pad face above rotor face", .source = source, .expected = gap(0.1), .tolerance = 0.001 * gap(0.1) + 0.02,
           .unit = "K", .why = "0.1 % and the tolerance of the solver", .function = "heat::solve", .used_by_answer = true}, run->rows[1].pad_face_degC - run->rows[1].rotor_surface_degC);
    check({.id = "heat-41", .what = "the same, 0.9 s", .source = source, .expected = gap(0.9), .tolerance = 0.001 * gap(0.9) + 0.02, .unit = "K", .why = "as before", .function = "heat::solve", .used_by_answer = true},
          run->rows[9].pad_face_degC - run->rows[9].rotor_surface_degC);
    check({.id = "heat-42", .what = "the same, 0.9 s -> rotor face", .source = source, .expected = rotor(0.9), .tolerance = 0.001 * rotor(0.9) + 0.02, .unit = "K", .why = "as before", .function = "heat::solve", .used_by_answer = true},
          run->rows[9].rotor_surface_degC);
    check({.id = "heat-43", .what = "the same, 0.9 s -> share of the heat into the pad", .source = source, .expected = 0.5 - h * gap(0.9) / (2 * p), .tolerance = 0.01 * (0.5 - h * gap(0.9) / (2 * p)), .unit = "1", .why = "1 %",
           .function = "heat::solve", .used_by_answer = true}, run->rows[9].pad_heat_share);
}

// Two well conducting lumps: D tends to p (1/C_p - 1/C_r)/(G (1/C_p + 1/C_r)) with one time constant; after release the gap's.
TEST(HeatValidation, TwoLumpsInAContactOfFiniteConductance) {
    constexpr double area = 4e-4, h = 3000, gap_h = 400, power = 800, p = power / 4;
    ReferenceBrake b = two_bodies(0.0009, 0.005, 0.002, area);
    b.rotor.conductivity_W_mK = b.friction.conductivity_W_mK = 5000;
    b.contact_W_m2K = h;
    b.gap_W_m2K = gap_h;
    const double c_r = 7800 * 460 * 0.005 * 0.0009, c_p = 2200 * 1100 * area * 0.002, sum = 1 / c_p + 1 / c_r;
    const double closed = 1 / (h * area * sum), open = 1 / (gap_h * area * sum);
    const auto apart = [&](double t) { return p * (1 / c_p - 1 / c_r) * closed * (1 - std::exp(-t / closed)); };
    const std::vector<PowerRow> rows = {{.t_s = 0, .power_W = power}, {.t_s = 1, .power_W = power + 1e-6}, {.t_s = 4, .power_W = 0}, {.t_s = 9, .power_W = 0}};
    const auto run = solve(b, rows, {.tolerance_K = 0.02});
    ASSERT_TRUE(run) << run.error().text;
    const char* source = "two lumped bodies joined by a conductance: one time constant 1/(G(1/C1 + 1/C2)); elementary";
    const auto d = [&](std::size_t i) { return run->rows[i].pad_mean_degC - run->rows[i].rotor_mean_degC; };
    check({.id = "heat-44", .what = "rotor of 16 J/K and pad of 2 J/K, 1.2 W/K between, 200 W born on each, 1 s -> pad above rotor", .source = source, .expected = apart(1), .tolerance = 0.1, .unit = "K",
           .why = "default tolerance; bodies conduct well but not perfectly", .function = "heat::solve", .used_by_answer = true}, d(1));
    check({.id = "heat-45", .what = "the same, 4 s", .source = source, .expected = apart(4), .tolerance = 0.1, .unit = "K", .why = "as before", .function = "heat::solve", .used_by_answer = true}, d(2));
    check({.id = "heat-46", .what = "the same, let go after 4 s: 5 s later across a gap of 0.16 W/K", .source = source, .expected = apart(4) * std::exp(-5 / open), .tolerance = 0.1, .unit = "K", .why = "as before", .function = "heat::solve",
           .used_by_answer = true}, d(3));
}

// Not deep bodies on purpose: a brake of ordinary size in the first 20 ms, before heat has crossed half the rotor.
TEST(HeatValidation, EarlyPartitionInABrakeOfOrdinarySize) {
    const ReferenceBrake b = two_bodies(0.0009, 0.005, 0.0018, 4e-4);
    std::vector<PowerRow> rows;
    for (int i = 0; i <= 6; ++i) rows.push_back({.t_s = 0.004 * i, .speed_mps = 0, .power_W = 2000 + 1e-6 * i});
    const auto run = solve(b, rows, {});
    ASSERT_TRUE(run) << run.error().text;
    const double e_r = 0.005 * std::sqrt(24.9 * 7800 * 460), e_p = 4e-4 * std::sqrt(0.8 * 2200 * 1100);
    check({.id = "heat-47", .what = "rotor of 1.8 mm, organic pad of 1.8 mm, areas 50 and 4 cm², 2 kW, 20 ms -> share of the heat into the pad", .source = "Charron: equal surface temperature, b_p A_p/(b_r A_r + b_p A_p); form from memory",
           .expected = e_p / (e_r + e_p), .tolerance = 0.01 * e_p / (e_r + e_p), .unit = "1", .why = "1 %", .function = "heat::solve", .used_by_answer = true}, run->rows[5].pad_heat_share);
}

TEST(HeatValidation, HardStopsInRowsOfATenthOfASecondAgainstCvode) {
    const auto rows = test::hard_stops(3);
    const ReferenceBrake brake = test::ordinary_brake();
    const auto other = test::solve_by_cvode(brake, rows, 41, 161, 11);
    const auto w = heat_of_wheel(brake, {}, rows, {});
    ASSERT_TRUE(w);
    double pad = 0, rest = 0;
    for (std::size_t i = 0; i < rows.size(); ++i) {
        const HeatState& s = w->states[i];
        const double got[] = {s.rotor_surface_degC, s.rotor_mid_degC, s.pad_face_degC, s.plate_degC, s.piston_degC, s.fluid_degC, s.caliper_degC, s.arms_degC, s.hub_degC};
        for (std::size_t k = 0; k < 9; ++k) {
            double& worst = k == 2 ? pad : rest;
            worst = std::isnan(got[k]) ? 1e9 : std::max(worst, std::abs(got[k] - other[i][k]));
        }
    }
    const char* source = "SUNDIALS CVODE, BDF, rtol 1e-8, restarted at each change of input, nodes and equations of the test's own";
    check({.id = "heat-48", .what = "three stops from 12 m/s in 2.5 s, rows of 0.1 s, up to 4.2 kW, largest difference in any row: pad face", .source = source, .basis = Basis::library, .expected = 0, .tolerance = 0.2, .unit = "K",
           .why = "asked for: 0.2 K everywhere", .function = "heat::heat_of_wheel"}, pad);
    check({.id = "heat-49", .what = "the same: any other place", .source = source, .basis = Basis::library, .expected = 0, .tolerance = 0.2, .unit = "K", .why = "asked for: 0.2 K everywhere",
           .function = "heat::heat_of_wheel"}, rest);
}

// A caliper that moves one pad: both sides and the whole rotor, by the plain solver and by the engine.
TEST(HeatValidation, TwoUnlikeSidesAgainstCvode) {
    ReferenceBrake b = test::ordinary_brake();
    b.contact_W_m2K = 5e4;
    b.other = as_other_side(b);
    b.other->friction.thickness_m = 0.0009;
    b.other->piston_J_K = b.other->fluid_J_K = 0.1;
    b.other->links_W_K = {.plate_piston = 0, .plate_caliper = 0.35, .piston_fluid = 0.01, .piston_caliper = 0.05, .fluid_caliper = 0.05};
    const auto rows = test::rough_ride(180, 23);
    const auto outside = test::two_sides_by_cvode(b, rows, 81, 161, 11);
    const auto plain = solve(b, rows, {});
    const auto engine = solve_many({}, std::span(&b, 1), rows, {.keep = Keep::rows});
    ASSERT_TRUE(plain && engine);
    const auto worst = [&](const HeatRows& states, const std::vector<OtherSideState>& others) {
        double most = 0;
        for (std::size_t i = 0; i < rows.size(); ++i) {
            const HeatState& s = states[i];
            const OtherSideState& o = others[i];
            const double got[] = {s.rotor_surface_degC, s.pad_face_degC, s.plate_degC, s.piston_degC, s.fluid_degC, o.rotor_surface_degC, o.pad_face_degC, o.plate_degC,
                                  o.piston_degC, o.fluid_degC, s.rotor_mid_degC, s.caliper_degC, s.arms_degC, s.hub_degC};
            for (std::size_t k = 0; k < 14; ++k) most = std::isnan(got[k]) ? 1e9 : std::max(most, std::abs(got[k] - outside[i][k]));
        }
        return most;
    };
    const char* source = "SUNDIALS CVODE, BDF, rtol 1e-7, restarted at each change of input, both sides and the whole rotor on nodes of the test's own";
    check({.id = "heat-59", .what = "one moving pad, rough ride of 180 s, largest difference in any second at any place of both sides", .source = source, .basis = Basis::library, .expected = 0,
           .tolerance = 0.2, .unit = "K", .why = "asked for: 0.2 K everywhere", .function = "heat::solve"}, worst(plain->rows, plain->other_rows));
    check({.id = "heat-60", .what = "the same by the engine", .source = source, .basis = Basis::library, .expected = 0, .tolerance = 1, .unit = "K", .why = "asked for: 1 K at every second",
           .function = "heat::solve_many"}, worst(engine->cases.front().rows, engine->cases.front().other_rows));
}

// The stored result of a general-purpose finite-element program; its deck: tests/heat/finite_element/make_results.
TEST(HeatValidation, StopsOnAnEvenRingAgainstFiniteElements) {
    const auto text = bw::read_file(std::string(BW_ROOT) + "/tests/heat/finite_element/even.csv");
    ASSERT_TRUE(text);
    std::map<std::string, std::string> said;
    std::vector<std::pair<double, double>> face;   // time, degC
    for (std::size_t at = 0; at < text->size();) {
        const std::size_t end = text->find('\n', at);
        const std::string line = text->substr(at, end - at);
        at = end + 1;
        if (const auto is = line.find(" = "); line.starts_with("# ") && is != std::string::npos) said[line.substr(2, is - 2)] = line.substr(is + 3);
        else if (const auto fields = bw::csv_fields(line); bw::parse_number(fields[0])) face.emplace_back(*bw::parse_number(fields[0]), *bw::parse_number(fields[1]));
    }
    const auto of = [&](const char* key) { return std::stod(said.at(key)); };
    ReferenceBrake b = two_bodies(of("half_thickness_m"), std::numbers::pi * (std::pow(of("outer_m"), 2) - std::pow(of("inner_m"), 2)), 0.001, 1e-7);
    b.friction.conductivity_W_mK = 1e-3;
    b.rotor.conductivity_W_mK = of("conductivity_W_mK");
    b.rotor.density_kg_m3 = of("density_kg_m3");
    b.rotor.heat_capacity_J_kgK = of("heat_capacity_J_kgK");
    b.rotor.emissivity = of("emissivity");
    b.rotor.convection = {of("film_W_m2K"), 0, 1};
    b.ambient_degC = of("ambient_degC");
    b.start_degC = of("start_degC");
    std::vector<PowerRow> rows;
    for (std::size_t at = 0; at < said["heat_W"].size();) {   // t:W t:W ...
        const std::size_t end = std::min(said["heat_W"].find(' ', at), said["heat_W"].size());
        const std::string pair = said["heat_W"].substr(at, end - at);
        rows.push_back({.t_s = std::stod(pair), .speed_mps = 0, .power_W = 2 * std::stod(pair.substr(pair.find(':') + 1))});
        at = end + 1;
    }
    const auto run = solve(b, rows, {});
    ASSERT_TRUE(run) << run.error().text;
    double worst = 0, hottest = 0;
    int compared = 0;
    for (const HeatState& s : run->rows)
        for (const auto& [t, degC] : face)
            if (std::abs(s.t_s - t) < 1e-6) {
                worst = std::isnan(s.rotor_surface_degC) ? 1e9 : std::max(worst, std::abs(s.rotor_surface_degC - degC));
                hottest = std::max(hottest, degC);
                ++compared;
            }
    EXPECT_GT(compared, 25);
    EXPECT_GT(hottest, 200);
    check({.id = "heat-50", .what = "three stops on an even ring with film and radiation, rows of 0.1 s, largest difference of the face", .source = said["program"] + ", stored result of " + said["date"] + ", steps of 0.02 s",
           .basis = Basis::library, .expected = 0, .tolerance = 0.3, .unit = "K", .why = "asked for: 0.3 K; implicit Euler of 0.02 s errs by some hundredths", .function = "heat::solve", .used_by_answer = true}, worst);
}

}  // namespace
