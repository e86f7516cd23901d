// SPDX-License-Identifier: Apache-2.0
// Water on a brake: budgets, limits, and engine against plain solver with heat taken by evaporation.
#include "heat/water.hpp"

#include <gtest/gtest.h>

#include <cmath>

#include "by_cvode.hpp"
#include "heat/engine.hpp"
#include "heat/wheel_engine.hpp"

namespace {

using namespace bw::heat;

ReferenceBrake used_brake() {
    ReferenceBrake b = test::ordinary_brake();
    b.power_scale = 0.4;   // temperatures of use
    return b;
}

std::vector<PowerRow> sprinkled(std::vector<PowerRow> rows) {
    for (std::size_t i = 0; i < rows.size(); ++i) rows[i].drying_W = i % 400 < 250 ? 25 + 20 * std::sin(0.05 * double(i)) : 0;
    return rows;
}

TEST(Water, HeatTakenByEvaporationIsTheSameInEngineAndPlainSolverOfOneSideAndOfTwo) {
    for (const bool two : {false, true}) {
        ReferenceBrake b = used_brake();
        if (two) {
            b.other = as_other_side(b);
            b.other->friction.thickness_m *= 0.5;
        }
        const auto rows = sprinkled(test::rough_ride(1200, 5));
        const auto plain = solve(b, rows, {.tolerance_K = 0.02});
        const auto fast = solve_many({}, std::span(&b, 1), rows, {.precision = Precision::double_precision, .keep = Keep::rows});
        auto dry = rows;
        for (PowerRow& r : dry) r.drying_W = 0;
        const auto without = solve(b, dry, {.tolerance_K = 0.02});
        ASSERT_TRUE(plain && fast && without);
        double worst = 0, cooled = 0;
        for (std::size_t i = 0; i < rows.size(); ++i) {
            worst = std::max(worst, std::abs(plain->rows[i].rotor_surface_degC - fast->cases[0].rows[i].rotor_surface_degC));
            cooled = std::max(cooled, without->rows[i].rotor_surface_degC - plain->rows[i].rotor_surface_degC);
        }
        EXPECT_LT(worst, 0.5) << two;
        EXPECT_GT(cooled, 20) << two;
        for (const HeatEnergy& e : {plain->energy_J, fast->cases[0].energy_J}) EXPECT_LT(std::abs(e.error), 1e-9 * e.made);
    }
}

TEST(Water, TablesOverTemperatureTakeItToo) {
    ReferenceBrake b = used_brake();
    b.rotor.conductivity_over_T.points = {{0, b.rotor.conductivity_W_mK}, {500, 1.2 * b.rotor.conductivity_W_mK}};
    const auto rows = sprinkled(test::rough_ride(300, 6));
    const auto plain = solve(b, rows, {.tolerance_K = 0.05});
    const auto fast = solve_many({}, std::span(&b, 1), rows, {.keep = Keep::rows});
    ASSERT_TRUE(plain && fast);
    for (std::size_t i = 0; i < rows.size(); ++i) EXPECT_NEAR(fast->cases[0].rows[i].rotor_surface_degC, plain->rows[i].rotor_surface_degC, 0.5);
}

TEST(Water, JoinedRowsOfAPeaksOnlyRunKeepTheHeatTaken) {
    const ReferenceBrake b = used_brake();
    const auto rows = sprinkled(test::rough_ride(1200, 5));
    const auto kept = solve_many({}, std::span(&b, 1), rows, {.precision = Precision::double_precision, .keep = Keep::rows});
    const auto peaks = solve_many({}, std::span(&b, 1), rows, {.precision = Precision::double_precision});
    ASSERT_TRUE(kept && peaks);
    EXPECT_NEAR(peaks->cases[0].energy_J.lost, kept->cases[0].energy_J.lost, 1e-3 * kept->cases[0].energy_J.lost);
    EXPECT_NEAR(peaks->cases[0].peaks.rotor_surface.degC, kept->cases[0].peaks.rotor_surface.degC, 0.3);
}

TEST(Water, NegativeHeatOfDryingIsRefused) {
    auto rows = test::rough_ride(10, 1);
    rows[3].drying_W = -1;
    EXPECT_FALSE(solve(used_brake(), rows, {}));
}

WetBrake wet_brake() { return wet_brake_of(used_brake(), {}, 0.7, 0.34, 0); }

TEST(Water, WhatIsBroughtDriesOrGoesOrStays) {
    const auto rows = test::rough_ride(1500, 9);
    std::vector<std::uint8_t> wet(rows.size());
    for (std::size_t i = 0; i < wet.size(); ++i) wet[i] = i % 500 < 300;
    const std::vector<double> at(rows.size(), 60.0);
    const Drying d = dry_along(wet_brake(), rows, wet, at);
    EXPECT_NEAR(d.brought_kg_m2, d.evaporated_kg_m2 + d.wiped_and_spun_kg_m2 + d.film_kg_m2.back(), 1e-12);
    EXPECT_GT(d.evaporated_kg_m2, 0.1 * d.brought_kg_m2);
    for (std::size_t i = 0; i < rows.size(); ++i) {
        EXPECT_GE(d.film_kg_m2[i], 0);
        EXPECT_LE(d.film_kg_m2[i], wet_brake().water.cling_kg_m2);
        EXPECT_GE(d.friction[i], 0.7 - 1e-12);
        EXPECT_LE(d.friction[i], 1);
    }
}

TEST(Water, TheHeatTakenIsThatOfTheWaterThatDried) {
    const auto rows = test::rough_ride(600, 9);
    const std::vector<std::uint8_t> wet(rows.size(), 1);
    const std::vector<double> hot(rows.size(), 100.0);
    WetBrake b = wet_brake();
    b.rotor_J_K = 1e12;   // its temperature stays
    const Drying d = dry_along(b, rows, wet, hot);
    double taken = 0;
    for (std::size_t i = 0; i + 1 < rows.size(); ++i) taken += d.drying_W[i] * (rows[i + 1].t_s - rows[i].t_s);
    // Steam of 100 °C less water of the air's temperature: 2675.6 kJ/kg less 4.19 kJ/(kg K) (steam tables, from memory).
    EXPECT_NEAR(taken / (d.evaporated_kg_m2 * b.face_m2), 2675.6e3 - 4190 * b.air_degC, 5e3);
}

TEST(Water, NoRotorIsHotterThanBoilingWhileWaterIsOnIt) {
    // A soaked rotor at rest in a run at 100 to 140 °C: the film holds it near the boiling point until it is gone.
    std::vector<PowerRow> rows;
    std::vector<double> run;
    for (int i = 0; i <= 60; ++i) rows.push_back({.t_s = double(i), .speed_mps = 0.1}), run.push_back(60 + 2.0 * i);
    std::vector<std::uint8_t> wet(rows.size(), 1);
    WetBrake b = wet_brake();
    b.water.spray_kg_m2s = 0.05;   // a hose
    const Drying d = dry_along(b, rows, wet, run);
    double delta = 0;
    for (std::size_t i = 0; i + 1 < rows.size(); ++i) {
        delta -= d.drying_W[i] / b.rotor_J_K;
        if (d.film_kg_m2[i + 1] > 0) {
            EXPECT_LT(run[i + 1] + delta, 106) << i;
        }
    }
}

TEST(Water, WipingAloneDriesInTheTurnsOfItsClosedForm) {
    WetBrake b = wet_brake();
    b.water.humidity = 0.999;
    b.water.cling_kg_m2 = 0.006;   // thin, so that turning flings little
    const double dry = -b.water.mixed_kg_m2 * std::log(1 - 0.05 / (1 - b.wet_factor));
    const double turns = std::log(b.water.cling_kg_m2 / dry) / b.water.wipe_per_turn;
    EXPECT_NEAR(turns_to_dry(b, 1), turns, 0.15);
    b.water.cling_kg_m2 = 0.05;
    EXPECT_GT(turns_to_dry(b, 5), turns);
    b.wet_factor = 0.97;
    EXPECT_EQ(turns_to_dry(b, 5), 0);
}

TEST(Water, FilmAndTemperaturesSettleWithinHalfAKelvin) {
    ReferenceBrake b = used_brake();
    b.contact_W_m2K = 5e4;
    const auto rows = test::rough_ride(1500, 21);
    std::vector<std::uint8_t> wet(rows.size());
    for (std::size_t i = 0; i < wet.size(); ++i) wet[i] = i % 300 < 250;
    HeatUnknowns u;
    const WetRide ride{.wet = wet, .wet_factor = 0.7};
    for (const double spray : {1e-4, 1e-3, 5e-3}) {
        u.water.spray_kg_m2s = spray;
        const auto got = heat_of_wheel_by_engine(b, u, rows, 900, std::nullopt, nullptr, ride);
        ASSERT_TRUE(got);
        ASSERT_TRUE(got->water);
        // The same going on for many turns.
        const WetBrake w = wet_brake_of(b, u.water, 0.7, 0.34, 0);
        std::vector<PowerRow> on(rows.begin(), rows.end());
        std::vector<double> face(rows.size());
        for (int k = 0; k < 16; ++k) {
            const auto run = solve_many({}, std::span(&b, 1), on, {.precision = Precision::double_precision, .keep = Keep::rows});
            ASSERT_TRUE(run);
            for (std::size_t i = 0; i < face.size(); ++i) face[i] = run->cases[0].rows[i].rotor_surface_degC;
            const Drying d = dry_along(w, on, wet, face);
            for (std::size_t i = 0; i < on.size(); ++i) on[i].drying_W = d.drying_W[i];
        }
        double worst = 0;
        for (std::size_t i = 0; i < face.size(); ++i) worst = std::max(worst, std::abs(face[i] - got->states[i].rotor_surface_degC));
        EXPECT_LT(worst, 0.5) << spray;
        if (spray > 2e-4) {
            EXPECT_LT(got->water->least_friction, 0.97) << spray;
        }
        EXPECT_GT(got->water->drying_J, 0);
        const auto dry = heat_of_wheel_by_engine(b, u, rows, 900, std::nullopt, nullptr);
        ASSERT_TRUE(dry);
        EXPECT_FALSE(dry->water);
        EXPECT_GT(dry->peaks.rotor_surface.degC, got->peaks.rotor_surface.degC);
    }
}

}  // namespace
