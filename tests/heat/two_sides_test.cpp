// SPDX-License-Identifier: Apache-2.0
// Brakes whose two sides differ: the plain solver against CVODE and against the half brake, the engine against the plain solver.
#include <gtest/gtest.h>

#include <array>
#include <cmath>

#include "by_cvode_two_sides.hpp"
#include "heat/engine.hpp"
#include "random_brakes.hpp"

namespace {

using namespace bw;
using namespace bw::heat;

// A caliper that moves one pad: the other pad rests on the body, without piston and fluid, is worn and of sintered metal.
ReferenceBrake one_moving_pad() {
    ReferenceBrake b = test::ordinary_brake();
    b.contact_W_m2K = 5e4;
    b.other = as_other_side(b);
    b.other->friction.thickness_m = 0.0009;
    b.other->friction.conductivity_W_mK = 12;
    b.other->friction.density_kg_m3 = 5000;
    b.other->friction.heat_capacity_J_kgK = 480;
    b.other->contact_W_m2K = 3e4;
    b.other->gap_W_m2K = 60;
    b.other->plate.thickness_m = 0.0025;
    b.other->piston_J_K = b.other->fluid_J_K = 0.1;
    b.other->links_W_K = {.plate_piston = 0, .plate_caliper = 0.35, .piston_fluid = 0.01, .piston_caliper = 0.05, .fluid_caliper = 0.05};
    return b;
}

constexpr std::array<const char*, 14> places = {"rotor face", "pad face", "plate", "piston", "fluid", "other rotor face", "other pad face", "other plate",
                                                "other piston", "other fluid", "rotor middle", "caliper", "arms", "hub"};
std::array<double, 14> row_of(const HeatState& s, const OtherSideState& o) {
    return {s.rotor_surface_degC, s.pad_face_degC, s.plate_degC, s.piston_degC, s.fluid_degC, o.rotor_surface_degC, o.pad_face_degC, o.plate_degC,
            o.piston_degC, o.fluid_degC, s.rotor_mid_degC, s.caliper_degC, s.arms_degC, s.hub_degC};
}

// 0.2 K at every place in every row, the bound of the half brake (tests/heat/cvode_test.cpp).
void agrees(const ReferenceBrake& brake, const std::vector<PowerRow>& rows, double apart_K) {
    const auto outside = test::two_sides_by_cvode(brake, rows, 81, 161, 11);
    const auto ours = solve(brake, rows, {});
    ASSERT_TRUE(ours) << ours.error().text;
    ASSERT_EQ(ours->rows.size(), rows.size());
    ASSERT_EQ(ours->other_rows.size(), rows.size());
    std::array<double, 14> worst{};
    double apart = 0;
    for (std::size_t i = 0; i < rows.size(); ++i) {
        const auto got = row_of(ours->rows[i], ours->other_rows[i]);
        for (std::size_t k = 0; k < got.size(); ++k) {
            const double off = std::abs(got[k] - outside[i][k]);
            worst[k] = off >= worst[k] ? off : std::isnan(off) ? 1e9 : worst[k];
        }
        apart = std::max(apart, std::abs(outside[i][1] - outside[i][6]));
    }
    for (std::size_t k = 0; k < places.size(); ++k) EXPECT_LT(worst[k], 0.2) << places[k];
    EXPECT_GT(apart, apart_K) << "two sides that hardly differ check nothing";
    EXPECT_LT(std::abs(ours->energy_J.error), 1e-9 * ours->energy_J.made);
    std::printf("    pad faces up to %.0f K apart; largest difference:", apart);
    for (std::size_t k = 0; k < places.size(); ++k) std::printf(" %s %.3f", places[k], worst[k]);
    std::printf(" K\n");
}

TEST(HeatTwoSides, ARoughRideAgreesWithCvodeWithinAFifthOfAKelvin) { agrees(one_moving_pad(), test::rough_ride(240, 11), 30); }
TEST(HeatTwoSides, ALongDragAgreesWithCvodeWithinAFifthOfAKelvin) { agrees(one_moving_pad(), test::long_drag(500), 10); }
TEST(HeatTwoSides, HardStopsInRowsOfATenthOfASecondAgreeWithCvodeWithinAFifthOfAKelvin) { agrees(one_moving_pad(), test::hard_stops(5), 30); }
TEST(HeatTwoSides, UnevenlyWornPadsAgreeWithCvodeWithinAFifthOfAKelvin) {
    ReferenceBrake b = test::ordinary_brake();
    b.contact_W_m2K = 5e4;
    b.other = as_other_side(b);
    b.other->friction.thickness_m = 0.0005;
    agrees(b, test::stop_and_go(10), 3);
}

TEST(HeatTwoSides, AlikeSidesGiveTheHalfBrakeOnBothSides) {
    for (const bool perfect : {true, false}) {
        ReferenceBrake half = test::ordinary_brake();
        if (!perfect) half.contact_W_m2K = 3e4;
        ReferenceBrake whole = half;
        whole.other = as_other_side(half);
        const auto rows = test::rough_ride(200, 5);
        const auto a = solve(half, rows, {.tolerance_K = 0.02}), b = solve(whole, rows, {.tolerance_K = 0.02});
        ASSERT_TRUE(a && b);
        for (std::size_t i = 0; i < rows.size(); ++i) {
            const HeatState &s = a->rows[i], &t = b->rows[i];
            const OtherSideState& o = b->other_rows[i];
            // Each within its tolerance of the same answer; a perfect contact is 1e9 W/(m2 K) here.
            for (const double off : {t.rotor_surface_degC - s.rotor_surface_degC, t.rotor_mid_degC - s.rotor_mid_degC, t.rotor_mean_degC - s.rotor_mean_degC, t.pad_face_degC - s.pad_face_degC,
                                     t.pad_mean_degC - s.pad_mean_degC, t.plate_degC - s.plate_degC, t.fluid_degC - s.fluid_degC, t.caliper_degC - s.caliper_degC, t.hub_degC - s.hub_degC,
                                     o.rotor_surface_degC - s.rotor_surface_degC, o.pad_face_degC - s.pad_face_degC, o.plate_degC - s.plate_degC, o.fluid_degC - s.fluid_degC})
                EXPECT_NEAR(off, 0, 0.05) << "row " << i << (perfect ? ", perfect contact" : "");
        }
        EXPECT_NEAR(b->energy_J.made, a->energy_J.made, 1e-9 * a->energy_J.made);
        EXPECT_NEAR(b->energy_J.lost, a->energy_J.lost, 1e-3 * a->energy_J.lost);
        EXPECT_LT(std::abs(b->energy_J.error), 1e-9 * b->energy_J.made);
        EXPECT_NEAR(b->peaks.fluid.degC, a->peaks.fluid.degC, 0.05);
        EXPECT_NEAR(b->peaks.other_fluid.degC, b->peaks.fluid.degC, 1e-6);
    }
}

TEST(HeatTwoSides, SidesThatAreSwappedGiveTheSameBrake) {
    const ReferenceBrake a = one_moving_pad();
    const ReferenceBrake b = mirrored(a);
    const auto rows = test::stop_and_go(6);
    const auto one = solve(a, rows, {}), two = solve(b, rows, {});
    ASSERT_TRUE(one && two);
    for (std::size_t i = 0; i < rows.size(); ++i) {
        EXPECT_NEAR(one->rows[i].pad_face_degC, two->other_rows[i].pad_face_degC, 1e-3);
        EXPECT_NEAR(one->other_rows[i].plate_degC, two->rows[i].plate_degC, 1e-3);
        EXPECT_NEAR(one->rows[i].caliper_degC, two->rows[i].caliper_degC, 1e-3);
    }
}

TEST(HeatTwoSides, ASideOutsideItsRangesIsRefusedByName) {
    ReferenceBrake b = one_moving_pad();
    b.other->friction.thickness_m = -1;
    const auto run = solve(b, test::stop_and_go(1), {});
    ASSERT_FALSE(run);
    EXPECT_NE(run.error().text.find("other"), std::string::npos) << run.error().text;
}

// Sides of two random brakes on one rotor.
ReferenceBrake random_two_sides(std::uint64_t i) {
    ReferenceBrake b = test::random_brake(i);
    const ReferenceBrake o = test::random_brake(i + 1000);
    b.other = as_other_side(o);
    if (i % 3 == 0) {   // one moving pad
        b.other->piston_J_K = b.other->fluid_J_K = 0.1;
        b.other->links_W_K = {.plate_piston = 0, .plate_caliper = 0.02 + 0.02 * static_cast<double>(i % 20), .piston_fluid = 0.01, .piston_caliper = 0.05, .fluid_caliper = 0.05};
    }
    return b;
}

// The engine's own bounds: 1 K at every row, 0.5 K in the peaks.
void engine_agrees(std::size_t first, std::size_t n, int kind, double seconds, double largest_off_K = 0.5) {
    std::vector<ReferenceBrake> brakes;
    for (std::size_t i = first; i < first + n; ++i) brakes.push_back(random_two_sides(i));
    const std::vector<PowerRow> rows = test::random_ride(kind, 3, seconds);
    const auto traced = solve_many({}, brakes, rows, {.keep = Keep::rows}), peaks = solve_many({}, brakes, rows, {});
    ASSERT_TRUE(traced && peaks);
    double worst_of_all = 0, peak_of_all = 0;
    for (std::size_t i = 0; i < n; ++i) {
        const auto exact = solve(brakes[i], rows, {.tolerance_K = 0.05});
        ASSERT_TRUE(exact);
        const CaseRun& run = traced->cases[i];
        ASSERT_EQ(run.rows.size(), rows.size());
        ASSERT_EQ(run.other_rows.size(), rows.size());
        std::array<double, 14> worst{};
        for (std::size_t k = 0; k < rows.size(); ++k) {
            const auto a = row_of(exact->rows[k], exact->other_rows[k]), b = row_of(run.rows[k], run.other_rows[k]);
            for (std::size_t q = 0; q < a.size(); ++q) {
                const double off = std::abs(a[q] - b[q]);
                if (!(off <= worst[q])) worst[q] = off;
            }
        }
        for (std::size_t q = 0; q < worst.size(); ++q) {
            EXPECT_LT(worst[q], 1.0) << places[q] << " of brake " << first + i << " on ride " << kind;
            worst_of_all = std::max(worst_of_all, worst[q]);
        }
        const HeatPeaks &a = exact->peaks, &b = peaks->cases[i].peaks;
        for (const auto p : {&HeatPeaks::rotor_surface, &HeatPeaks::rotor_mid, &HeatPeaks::rotor_mean, &HeatPeaks::pad_face, &HeatPeaks::plate, &HeatPeaks::piston, &HeatPeaks::fluid,
                             &HeatPeaks::caliper, &HeatPeaks::arms, &HeatPeaks::hub, &HeatPeaks::other_rotor_surface, &HeatPeaks::other_pad_face, &HeatPeaks::other_pad_mean,
                             &HeatPeaks::other_plate, &HeatPeaks::other_piston, &HeatPeaks::other_fluid}) {
            const double off = std::abs((a.*p).degC - (b.*p).degC);
            EXPECT_LT(off, largest_off_K) << "a peak of brake " << first + i << " on ride " << kind;
            peak_of_all = std::max(peak_of_all, off);
        }
        for (const CaseRun* run_of : {&run, &peaks->cases[i]}) EXPECT_LT(std::abs(run_of->energy_J.error), 1e-5 * std::max(1.0, run_of->energy_J.made));
    }
    std::printf("    worst row %.2f K, worst peak %.2f K\n", worst_of_all, peak_of_all);
}

#define NEEDS_VECTORS() \
    if (best_vectors() == "none") GTEST_SKIP() << "no fused multiply-add on this machine: solve_many runs the plain solver"

TEST(HeatTwoSidesEngine, RandomSidesAgreeWithThePlainSolverOnAHillyRide) { NEEDS_VECTORS(); engine_agrees(0, 20, 0, 400); }
TEST(HeatTwoSidesEngine, RandomSidesAgreeWithThePlainSolverOnADragAndAHalt) { NEEDS_VECTORS(); engine_agrees(20, 20, 1, 900); }
TEST(HeatTwoSidesEngine, SidesInRowsOfATenthOfASecondGoToThePlainSolver) { engine_agrees(40, 2, 2, 40); }

TEST(HeatTwoSidesEngine, AlikeSidesGiveTheHalfBrake) {
    NEEDS_VECTORS();
    ReferenceBrake half = test::ordinary_brake(), whole = half;
    half.contact_W_m2K = 3e4;
    whole = half;
    whole.other = as_other_side(half);
    const auto rows = test::rough_ride(200, 5);
    const auto runs = solve_many({}, std::vector<ReferenceBrake>{half, whole}, rows, {.precision = Precision::double_precision, .keep = Keep::rows, .friction_order = 4});
    ASSERT_TRUE(runs);
    const CaseRun &a = runs->cases[0], &b = runs->cases[1];
    for (std::size_t i = 0; i < rows.size(); ++i) {   // rounding
        EXPECT_NEAR(a.rows[i].pad_face_degC, b.rows[i].pad_face_degC, 1e-6);
        EXPECT_NEAR(a.rows[i].pad_face_degC, b.other_rows[i].pad_face_degC, 1e-6);
        EXPECT_NEAR(a.rows[i].rotor_surface_degC, b.other_rows[i].rotor_surface_degC, 1e-6);
        EXPECT_NEAR(a.rows[i].fluid_degC, b.rows[i].fluid_degC, 1e-6);
        if (!std::isnan(a.rows[i].pad_heat_share)) { EXPECT_NEAR(a.rows[i].pad_heat_share, b.rows[i].pad_heat_share, 1e-6); }
    }
    EXPECT_NEAR(a.energy_J.made, b.energy_J.made, 1e-9 * a.energy_J.made);
    EXPECT_LT(std::abs(b.energy_J.error), 1e-9 * b.energy_J.made);
}

TEST(HeatTwoSidesEngine, BytesAreTheSameWithAnyVectorsAndInAnyCompany) {
    NEEDS_VECTORS();
    if (best_vectors() != "avx512") GTEST_SKIP() << "needs both AVX2 and AVX-512";
    std::vector<ReferenceBrake> brakes;
    for (std::size_t i = 60; i < 80; ++i) brakes.push_back(random_two_sides(i));
    const auto rows = test::random_ride(0, 4, 200);
    const auto wide = solve_many({}, brakes, rows, {.vectors = Vectors::avx512}), narrow = solve_many({}, brakes, rows, {.vectors = Vectors::avx2});
    const auto alone = solve_many({}, std::span(brakes).subspan(7, 1), rows, {});
    ASSERT_TRUE(wide && narrow && alone);
    for (std::size_t i = 0; i < brakes.size(); ++i) {
        EXPECT_EQ(wide->cases[i].peaks.other_pad_face.degC, narrow->cases[i].peaks.other_pad_face.degC);
        EXPECT_EQ(wide->cases[i].peaks.fluid.degC, narrow->cases[i].peaks.fluid.degC);
        EXPECT_EQ(wide->cases[i].energy_J.lost, narrow->cases[i].energy_J.lost);
    }
    EXPECT_EQ(wide->cases[7].peaks.other_pad_face.degC, alone->cases[0].peaks.other_pad_face.degC);
}

}  // namespace
