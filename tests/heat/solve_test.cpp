// SPDX-License-Identifier: Apache-2.0
// The solver against closed forms, its own order, and its books.
#include <gtest/gtest.h>

#include <atomic>
#include <cmath>
#include <cstring>
#include <numbers>

#include "base/context.hpp"
#include "by_cvode.hpp"

namespace {

using namespace bw::heat;
using test::ordinary_brake;
using test::rough_ride;

// A rotor alone: a pad too small and too poor a conductor to matter, no links, no losses.
ReferenceBrake bare_rotor(double half_thickness_m) {
    ReferenceBrake b;
    b.ambient_degC = b.start_degC = 0;
    b.rotor = {.face_area_m2 = 0.01, .edge_area_m2 = 0, .half_thickness_m = half_thickness_m, .conductivity_W_mK = 24.9,
               .density_kg_m3 = 7800, .heat_capacity_J_kgK = 460};
    b.friction = {.area_m2 = 1e-7, .thickness_m = 0.001, .conductivity_W_mK = 1e-3, .density_kg_m3 = 1, .heat_capacity_J_kgK = 1};
    b.plate = b.friction;
    b.piston_J_K = b.fluid_J_K = 1;
    b.caliper.heat_capacity_J_K = b.arms.heat_capacity_J_K = b.hub.heat_capacity_J_K = 1;
    return b;
}
constexpr double one_MW_m2 = 2 * 0.01 * 1e6;   // power of the wheel for 1 MW/m² on that face

TEST(HeatClosedForm, ASemiInfiniteBodyUnderConstantFluxFollowsTheSquareRootOfTime) {
    std::vector<PowerRow> rows;
    for (double t = 0; t < 1.05; t += 0.1) rows.push_back({.t_s = t, .speed_mps = 0, .power_W = one_MW_m2});
    const auto run = solve(bare_rotor(0.03), rows, {.tolerance_K = 0.02});
    ASSERT_TRUE(run);
    const double b = std::sqrt(24.9 * 7800 * 460);
    for (std::size_t i = 2; i < rows.size(); ++i) {
        const double exact = 2 * 1e6 * std::sqrt(rows[i].t_s / std::numbers::pi) / b;
        EXPECT_NEAR(run->rows[i].rotor_surface_degC, exact, 0.001 * exact) << rows[i].t_s;
    }
}

TEST(HeatClosedForm, AFluxOfAMicrosecondRowsRunKeepsTheAnswerOfOneLongRow) {
    const std::vector<PowerRow> one = {{.t_s = 0, .speed_mps = 0, .power_W = one_MW_m2}, {.t_s = 1, .speed_mps = 0, .power_W = 0}};
    std::vector<PowerRow> many;
    for (int i = 0; i <= 1000; ++i) many.push_back({.t_s = i * 1e-3, .speed_mps = 0, .power_W = one_MW_m2 * (1 + 1e-9 * (i % 2))});
    const auto a = solve(bare_rotor(0.0009), one, {}), b = solve(bare_rotor(0.0009), many, {});
    ASSERT_TRUE(a && b);
    EXPECT_NEAR(a->end.rotor_surface_degC, b->end.rotor_surface_degC, 0.1);   // the default tolerance
}

// Conductivity and heat capacity that rise alike keep the diffusivity: in the transformed temperature θ = T + βT²/2
// (Kirchhoff) the body is linear. Source: Carslaw & Jaeger, Conduction of Heat in Solids, 2.16, from memory.
TEST(HeatClosedForm, ABodyWhoseConductivityAndHeatCapacityRiseAlikeFollowsTheSquareRootInKirchhoffsTemperature) {
    ReferenceBrake b = bare_rotor(0.03);
    const double beta = 5e-4;   // per kelvin
    b.rotor.conductivity_over_T.points = {{0, 24.9}, {1000, 24.9 * (1 + beta * 1000)}};
    b.rotor.heat_capacity_over_T.points = {{0, 460}, {1000, 460 * (1 + beta * 1000)}};
    std::vector<PowerRow> rows;
    for (double t = 0; t < 1.05; t += 0.1) rows.push_back({.t_s = t, .speed_mps = 0, .power_W = 3 * one_MW_m2});
    const auto run = solve(b, rows, {.tolerance_K = 0.02, .grid_refinement = 2});
    ASSERT_TRUE(run);
    for (std::size_t i = 2; i < rows.size(); ++i) {
        const double theta = 2 * 3e6 * std::sqrt(rows[i].t_s / std::numbers::pi) / std::sqrt(24.9 * 7800 * 460);
        const double exact = (std::sqrt(1 + 2 * beta * theta) - 1) / beta;
        EXPECT_NEAR(run->rows[i].rotor_surface_degC, exact, 0.0015 * exact) << rows[i].t_s;
    }
    EXPECT_LT(std::abs(run->energy_J.error), 1e-9 * run->energy_J.made);
}

TEST(HeatIdentity, WithPropertiesOverTemperatureEverythingEndsWhereTheIntegralsOfTheHeatCapacitiesSayAndTheBooksClose) {
    ReferenceBrake b = ordinary_brake();
    b.rotor.emissivity = b.caliper.emissivity = b.arms.emissivity = 0;
    for (Convection* c : {&b.rotor.convection, &b.caliper.convection, &b.arms.convection, &b.hub.convection}) *c = {0, 0, 1};
    b.rotor.heat_capacity_over_T.points = {{20, 460}, {220, 560}, {600, 700}};
    b.rotor.conductivity_over_T.points = {{20, 22}, {600, 28}};
    b.friction.heat_capacity_over_T.points = {{20, 900}, {400, 1300}};
    b.friction.conductivity_over_T.points = {{20, 1.4}, {300, 0.8}};
    b.plate.heat_capacity_over_T.points = {{20, 470}, {420, 590}};
    b.plate.conductivity_over_T.points = {{0, 52}, {400, 42}};
    const std::vector<PowerRow> rows = {{.t_s = 0, .speed_mps = 5, .power_W = 1000}, {.t_s = 60, .speed_mps = 0, .power_W = 0}, {.t_s = 3e5, .speed_mps = 0, .power_W = 0}};
    for (const double contact : {std::numeric_limits<double>::infinity(), 2e4}) {
        b.contact_W_m2K = contact;
        const auto run = solve(b, rows, {});
        ASSERT_TRUE(run) << run.error().text;
        // x: end above 20 °C, below the second point of each table, so that each mean heat capacity is that at x/2.
        const auto energy = [](double x) {
            const double rotor = 7800 * 0.005 * 0.0009 * x * (460 + 100.0 / 200 * x / 2);
            const double friction = 2250 * 3.6e-4 * 0.0018 * x * (900 + 400.0 / 380 * x / 2);
            const double plate = 7850 * 4.8e-4 * 0.0019 * x * (470 + 120.0 / 400 * x / 2);
            return rotor + friction + plate + (7 + 5 + 48 + 14 + 65) * x;
        };
        double low = 0, high = 200;
        for (int i = 0; i < 100; ++i) (energy((low + high) / 2) < 30000 ? low : high) = (low + high) / 2;
        for (const double t : {run->end.rotor_mean_degC, run->end.pad_mean_degC, run->end.plate_degC, run->end.fluid_degC, run->end.hub_degC}) EXPECT_NEAR(t, 20 + low, 2e-3);
        EXPECT_NEAR(run->energy_J.stored, 30000, 3e-4);
    }
}

TEST(HeatIdentity, TablesThatDoNotVaryGiveTheConstantsAnswer) {
    ReferenceBrake b = ordinary_brake();
    const auto rows = rough_ride(300, 12);
    const auto constant = solve(b, rows, {});
    b.rotor.heat_capacity_over_T.points = {{20, 470}};
    b.friction.conductivity_over_T.points = {{0, 1.0}, {500, 1.0}};
    const auto table = solve(b, rows, {});
    ASSERT_TRUE(constant && table);
    for (std::size_t i = 0; i < rows.size(); ++i) {
        EXPECT_NEAR(constant->rows[i].pad_face_degC, table->rows[i].pad_face_degC, 1e-6);
        EXPECT_NEAR(constant->rows[i].fluid_degC, table->rows[i].fluid_degC, 1e-6);
    }
}

TEST(HeatIdentity, WithoutLossesEverythingEndsAtTheEnergyOverTheCapacity) {
    ReferenceBrake b = ordinary_brake();
    b.rotor.emissivity = b.caliper.emissivity = b.arms.emissivity = 0;
    for (Convection* c : {&b.rotor.convection, &b.caliper.convection, &b.arms.convection, &b.hub.convection}) *c = {0, 0, 1};
    const std::vector<PowerRow> rows = {{.t_s = 0, .speed_mps = 5, .power_W = 1000}, {.t_s = 60, .speed_mps = 0, .power_W = 0}, {.t_s = 3e5, .speed_mps = 0, .power_W = 0}};
    const auto run = solve(b, rows, {});
    ASSERT_TRUE(run);
    const double capacity = 7800 * 470 * 0.005 * 0.0009 + 2250 * 1075 * 3.6e-4 * 0.0018 + 7850 * 490 * 4.8e-4 * 0.0019 + 7 + 5 + 48 + 14 + 65;
    const double end = 20 + 500.0 * 60 / capacity;
    for (const double t : {run->end.rotor_mean_degC, run->end.pad_mean_degC, run->end.plate_degC, run->end.piston_degC, run->end.fluid_degC,
                           run->end.caliper_degC, run->end.arms_degC, run->end.hub_degC})
        EXPECT_NEAR(t, end, 1e-3);   // what is left of the slowest exponential
    EXPECT_EQ(run->energy_J.lost, 0);
    EXPECT_NEAR(run->energy_J.stored, 30000, 3e-4);   // rounding of flows (1e-10 W) over the days of the hold
}

TEST(HeatIdentity, EnergyClosesToABillionthOnARoughRideInBothKindsOfContact) {
    ReferenceBrake b = ordinary_brake();
    for (const double contact : {std::numeric_limits<double>::infinity(), 2e4}) {
        b.contact_W_m2K = contact;
        const auto run = solve(b, rough_ride(3000, 3), {.cool_down_s = 900});
        ASSERT_TRUE(run);
        EXPECT_GT(run->energy_J.made, 1e4);
        EXPECT_LT(std::abs(run->energy_J.error), 1e-9 * run->energy_J.made);
    }
}

TEST(HeatIdentity, TheHeatMadeIsHalfTheEnergyOfTheClosedRows) {
    const auto rows = rough_ride(500, 9);
    double sum = 0;
    for (std::size_t i = 0; i + 1 < rows.size(); ++i) sum += rows[i].power_W > 1 ? rows[i].power_W / 2 : 0;
    const auto run = solve(ordinary_brake(), rows, {});
    ASSERT_TRUE(run);
    EXPECT_NEAR(run->energy_J.made, sum, 1e-9 * sum);
}

TEST(HeatOrder, TheStepConvergesWithOrderTwoWhileABodyCoolsByRadiation) {
    ReferenceBrake b = ordinary_brake();
    b.start_degC = 600;
    const std::vector<PowerRow> rows = {{.t_s = 0, .speed_mps = 4, .power_W = 0}, {.t_s = 200, .speed_mps = 4, .power_W = 0}};
    const auto at = [&](double h) { return solve(b, rows, {.fixed_step_s = h})->end; };
    const HeatState exact = at(0.05);
    std::vector<double> error;
    for (const double h : {8.0, 4.0, 2.0, 1.0}) error.push_back(std::abs(at(h).rotor_mean_degC - exact.rotor_mean_degC));
    // 0.15: seen over these halvings, the first still feels the start of the run.
    EXPECT_NEAR(std::log2(error[1] / error[2]), 2.0, 0.15);
    EXPECT_NEAR(std::log2(error[2] / error[3]), 2.0, 0.15);
}

TEST(HeatTolerance, TheDefaultToleranceHoldsATenthOfAKelvinAgainstAHundredthOfIt) {
    const auto rows = rough_ride(1500, 21);
    const auto a = solve(ordinary_brake(), rows, {}), fine = solve(ordinary_brake(), rows, {.tolerance_K = 0.001});
    ASSERT_TRUE(a && fine);
    double worst = 0;
    for (std::size_t i = 0; i < rows.size(); ++i) {
        worst = std::max({worst, std::abs(a->rows[i].rotor_surface_degC - fine->rows[i].rotor_surface_degC),
                          std::abs(a->rows[i].pad_face_degC - fine->rows[i].pad_face_degC), std::abs(a->rows[i].fluid_degC - fine->rows[i].fluid_degC)});
    }
    EXPECT_LT(worst, 0.1);
    EXPECT_LT(fine->steps, 20 * a->steps);
}

TEST(HeatTolerance, TheGridIsGoodToAThirdOfAKelvinAtThePadFaceAndATenthInTheRotor) {
    const auto rows = rough_ride(1500, 21);
    const auto a = solve(ordinary_brake(), rows, {.tolerance_K = 0.005}), fine = solve(ordinary_brake(), rows, {.tolerance_K = 0.005, .grid_refinement = 8});
    ASSERT_TRUE(a && fine);
    double pad = 0, rotor = 0;
    for (std::size_t i = 0; i < rows.size(); ++i) {
        pad = std::max(pad, std::abs(a->rows[i].pad_face_degC - fine->rows[i].pad_face_degC));
        rotor = std::max(rotor, std::abs(a->rows[i].rotor_surface_degC - fine->rows[i].rotor_surface_degC));
    }
    EXPECT_LT(pad, 0.3);
    EXPECT_LT(rotor, 0.1);
}

TEST(HeatRows, TenRowsASecondGiveTheStateOfOneRowASecond) {
    const auto one = rough_ride(300, 4);
    std::vector<PowerRow> ten;
    for (std::size_t i = 0; i + 1 < one.size(); ++i)
        for (int k = 0; k < 10; ++k) ten.push_back({.t_s = one[i].t_s + 0.1 * k, .speed_mps = one[i].speed_mps, .power_W = one[i].power_W});
    ten.push_back(one.back());
    const auto a = solve(ordinary_brake(), one, {}), b = solve(ordinary_brake(), ten, {});
    ASSERT_TRUE(a && b);
    ASSERT_EQ(b->rows.size(), ten.size());
    // Equal rows are joined, so that the steps are the same; rows inside are on a parabola.
    for (std::size_t i = 0; i < one.size(); ++i) EXPECT_NEAR(a->rows[i].pad_face_degC, b->rows[10 * i].pad_face_degC, 1e-6);
    // Unequal in the last digits: not joined. Both stand within the tolerance of the other.
    for (std::size_t i = 0; i < ten.size(); ++i) ten[i].speed_mps += 1e-9 * static_cast<double>(i % 2);
    const auto c = solve(ordinary_brake(), ten, {});
    ASSERT_TRUE(c);
    double worst = 0, fluid = 0;
    for (std::size_t i = 0; i < ten.size(); ++i) {
        worst = std::max(worst, std::abs(c->rows[i].rotor_surface_degC - b->rows[i].rotor_surface_degC));
        fluid = std::max(fluid, std::abs(c->rows[i].fluid_degC - b->rows[i].fluid_degC));
    }
    EXPECT_LT(worst, 0.2);   // twice the tolerance: both err
    EXPECT_LT(fluid, 0.02);
}

TEST(HeatRows, IrregularRowsAreTakenAsTheyStand) {
    std::vector<PowerRow> rows;
    double t = 3.7;
    for (int i = 0; i < 400; ++i) {
        rows.push_back({.t_s = t, .speed_mps = 5.0 + i % 3, .power_W = i % 7 < 3 ? 400.0 + i : 0});
        t += 0.037 + 0.41 * (i % 5);
    }
    const auto run = solve(ordinary_brake(), rows, {});
    ASSERT_TRUE(run);
    EXPECT_EQ(run->rows.size(), rows.size());
    for (std::size_t i = 0; i < rows.size(); ++i) EXPECT_EQ(run->rows[i].t_s, rows[i].t_s);
    EXPECT_LT(std::abs(run->energy_J.error), 1e-9 * run->energy_J.made);
}

TEST(HeatRows, ARowAtOrBelowTheThresholdMakesNoHeatAndANegativeOneIsOpen) {
    ReferenceBrake b = ordinary_brake();
    b.closed_above_W = 5;
    const std::vector<PowerRow> rows = {{.t_s = 0, .speed_mps = 5, .power_W = 5}, {.t_s = 10, .speed_mps = 5, .power_W = -300}, {.t_s = 20, .speed_mps = 5, .power_W = 0}};
    const auto run = solve(b, rows, {});
    ASSERT_TRUE(run);
    EXPECT_EQ(run->energy_J.made, 0);
    for (const HeatState& s : run->rows) {
        EXPECT_NEAR(s.rotor_surface_degC, 20, 1e-9);
        EXPECT_TRUE(std::isnan(s.pad_heat_share));
    }
}

TEST(HeatRows, PowerScaleActsBeforeTheThreshold) {
    ReferenceBrake b = ordinary_brake();
    b.closed_above_W = 100;
    const std::vector<PowerRow> rows = {{.t_s = 0, .speed_mps = 5, .power_W = 80}, {.t_s = 10, .speed_mps = 5, .power_W = 0}};
    b.power_scale = 2;
    EXPECT_NEAR(solve(b, rows, {})->energy_J.made, 800, 1e-9);
    b.power_scale = 1;
    EXPECT_EQ(solve(b, rows, {})->energy_J.made, 0);
}

TEST(HeatRows, PadHeatShareIsEmptyWhileOpenAndBetweenNoughtAndOneInSteadyBraking) {
    std::vector<PowerRow> rows;
    for (int i = 0; i <= 60; ++i) rows.push_back({.t_s = double(i), .speed_mps = 6, .power_W = i >= 10 && i < 50 ? 600.0 + i : 0});
    const auto run = solve(ordinary_brake(), rows, {});
    ASSERT_TRUE(run);
    for (int i = 0; i <= 60; ++i) {
        const double share = run->rows[i].pad_heat_share;
        if (i > 10 && i < 50) {
            EXPECT_GT(share, 0) << i;
            EXPECT_LT(share, 0.5) << i;
        } else {
            EXPECT_TRUE(std::isnan(share)) << i;
        }
    }
}

TEST(HeatPeak, TheFluidRisesAfterTheHaltAndItsPeakIsFoundThere) {
    std::vector<PowerRow> rows;
    for (int i = 0; i <= 300; ++i) rows.push_back({.t_s = double(i), .speed_mps = 6, .power_W = i < 300 ? 900.0 : 0});
    const auto without = solve(ordinary_brake(), rows, {}), with = solve(ordinary_brake(), rows, {.cool_down_s = 900});
    ASSERT_TRUE(without && with);
    EXPECT_EQ(with->rows.size(), rows.size());
    EXPECT_GT(with->peaks.fluid.degC, without->peaks.fluid.degC + 1);
    EXPECT_GT(with->peaks.fluid.t_s, 300);
    EXPECT_LT(with->peaks.fluid.t_s, 1200);
    // The same on rows of a second: the peak between long steps is found to a tenth of a kelvin.
    std::vector<PowerRow> longer = rows;
    for (int i = 301; i <= 1200; ++i) longer.push_back({.t_s = double(i), .speed_mps = 1e-7 * (i % 2), .power_W = 0});
    longer[300].speed_mps = 0;
    const auto fine = solve(ordinary_brake(), longer, {.tolerance_K = 0.005});
    ASSERT_TRUE(fine);
    EXPECT_NEAR(with->peaks.fluid.degC, fine->peaks.fluid.degC, 0.1);
}

TEST(HeatPeak, NoRowStandsAboveThePeak) {
    const auto run = solve(ordinary_brake(), rough_ride(1200, 8), {});
    ASSERT_TRUE(run);
    for (const HeatState& s : run->rows) {
        EXPECT_LE(s.rotor_surface_degC, run->peaks.rotor_surface.degC);
        EXPECT_LE(s.pad_face_degC, run->peaks.pad_face.degC);
        EXPECT_LE(s.fluid_degC, run->peaks.fluid.degC);
        EXPECT_LE(s.hub_degC, run->peaks.hub.degC);
    }
}

TEST(HeatRepeat, TheSameRunGivesTheSameBytesWhateverTheThread) {
    const auto rows = rough_ride(400, 2);
    const auto first = solve(ordinary_brake(), rows, {});
    ASSERT_TRUE(first);
    std::vector<HeatRun> runs(6);
    bw::Context ctx;
    ctx.threads = 2;
    bw::parallel_for(ctx, runs.size(), [&](std::size_t i) { runs[i] = *solve(ordinary_brake(), rows, {}); });
    for (const HeatRun& r : runs) {
        EXPECT_EQ(series_csv(r.rows), series_csv(first->rows));
        EXPECT_EQ(std::memcmp(&r.energy_J, &first->energy_J, sizeof(HeatEnergy)), 0);
        EXPECT_EQ(std::memcmp(&r.peaks, &first->peaks, sizeof(HeatPeaks)), 0);
    }
}

TEST(HeatRepeat, KeepingNoRowsLeavesPeaksAndEnergyAsTheyAre) {
    const auto rows = rough_ride(400, 2);
    std::size_t seen = 0;
    double steps_energy = 0;
    const auto a = solve(ordinary_brake(), rows, {});
    const auto b = solve(ordinary_brake(), rows, {.keep = Keep::peaks_only, .each_row = [&](std::size_t i, const HeatState&) { EXPECT_EQ(i, seen++); },
                                                  .each_step = [&](const HeatStep& s) { if (s.closed) steps_energy += s.power_W * s.h_s; }});
    ASSERT_TRUE(a && b);
    EXPECT_TRUE(b->rows.empty());
    EXPECT_EQ(seen, rows.size());
    EXPECT_EQ(a->peaks.fluid.degC, b->peaks.fluid.degC);
    EXPECT_NEAR(steps_energy, 2 * a->energy_J.made, 1e-9 * a->energy_J.made);
}

TEST(HeatRefusal, ACancelledRunSaysSo) {
    const std::atomic<bool> stop{true};
    const auto run = solve(ordinary_brake(), rough_ride(400, 2), {.stop = &stop});
    ASSERT_FALSE(run);
    EXPECT_EQ(run.error().code, bw::Errc::cancelled);
}

TEST(HeatRefusal, RowsThatDoNotIncreaseOrAreNoNumbersAreRefusedWithTheirPlace) {
    const double nan = std::numeric_limits<double>::quiet_NaN();
    const std::vector<std::vector<PowerRow>> bad = {
        {}, {{.t_s = 0}}, {{.t_s = 0}, {.t_s = 0}}, {{.t_s = 1}, {.t_s = 0}}, {{.t_s = 0, .speed_mps = -1}, {.t_s = 1}}, {{.t_s = 0, .power_W = nan}, {.t_s = 1}}};
    for (const auto& rows : bad) {
        const auto run = solve(ordinary_brake(), rows, {});
        ASSERT_FALSE(run);
        EXPECT_EQ(run.error().code, bw::Errc::bad_input);
    }
}

TEST(HeatRefusal, ABrakeOutsideItsRangesIsRefusedByName) {
    ReferenceBrake b = ordinary_brake();
    b.rotor.half_thickness_m = -1;
    const auto run = solve(b, rough_ride(10, 1), {});
    ASSERT_FALSE(run);
    EXPECT_NE(run.error().text.find("thermal.rotor.half_thickness_m"), std::string::npos);
}

TEST(HeatYardstick, TheHeatResistanceDragPutsIn270KilojoulesAndIsHotterInASmallerBrake) {
    const auto run = heat_resistance(ordinary_brake(), {});
    ASSERT_TRUE(run);
    EXPECT_NEAR(2 * run->energy_J.made, 75 * 3600, 1e-6);   // 75 Wh
    ReferenceBrake small = ordinary_brake();
    small.rotor.face_area_m2 *= 0.8;
    EXPECT_GT(heat_resistance(small, {})->peaks.rotor_surface.degC, run->peaks.rotor_surface.degC);
}

}  // namespace
