// SPDX-License-Identifier: Apache-2.0
// One wheel of one case: the squeeze that holds its power, and where its fluid comes nearest to boiling. Oracles: Rhee's law by hand, a bisection over all seconds.
#include <gtest/gtest.h>

#include <algorithm>
#include <cmath>
#include <vector>

#include "../../src/answer/internal.hpp"
#include "base/sampling.hpp"
#include "parts/library.hpp"

using namespace bw;

namespace {

const parts::Library& library() {
    static const parts::Library lib = *parts::load_library();
    return lib;
}

answer::Case a_case() {
    answer::Request request;
    request.bike = parts::default_bike(parts::BikeKind::trail, library());
    request.bike.front.fluid = parts::Fluid{.kind = parts::FluidKind::dot4, .age_months = {.value = 24}};
    request.cases = 64;
    const std::vector<Input> inputs = answer::all_inputs(library(), request);
    answer::Case c = answer::cases_of(library(), request.bike, draw_cases(inputs, 64, 1)).front();
    c.heat[0].friction = {};   // friction of one height: what a test moves, it moves alone
    c.bike.front.lever.ratio_at_bar.reset();
    return c;
}

std::vector<heat::PowerRow> drag(double power_W, double speed_mps, int seconds) {
    std::vector<heat::PowerRow> rows;
    for (int t = 0; t <= seconds; ++t) rows.push_back({.t_s = static_cast<double>(t), .speed_mps = t < seconds ? speed_mps : 0, .power_W = t < seconds ? power_W : 0});
    return rows;
}

answer::WheelOutcome outcome(const answer::Case& c, const std::vector<heat::PowerRow>& rows, std::span<const double> altitude_m = {}) {
    Result<answer::WheelOutcome> one = answer::heat_of({}, library(), c, parts::End::front, {.rows = rows, .air_degC = 15, .altitude_rows_m = altitude_m, .mass_kg = 90}, heat::Keep::rows);
    EXPECT_TRUE(one);
    return *std::move(one);
}

}  // namespace

// Friction force ~ P^a V^b (S. K. Rhee 1974, abstract read), so at one power and speed the clamp force goes with F^(1/a) V^(-b/a). What the lever's springs take is none of it.
TEST(HardestHold, GoesWithPowerAndSlidingSpeedByRheesLaw) {
    answer::Case c = a_case();
    const double spent_N = c.stop.brake(parts::End::front).threshold_N;
    const auto squeeze = [&](double power_W, double speed_mps) { return outcome(c, drag(power_W, speed_mps, 30)).hold_cold_N - spent_N; };
    const double at_300 = squeeze(300, 6);
    EXPECT_GT(at_300, 0);
    EXPECT_NEAR(squeeze(600, 6), 2 * at_300, 1e-6 * at_300);
    EXPECT_NEAR(squeeze(600, 12), at_300, 1e-6 * at_300) << "the same force at the tyre";
    c.heat[0].friction.force_exponent = 0.8;
    const double weak = squeeze(300, 6);
    EXPECT_NEAR(squeeze(600, 6), std::pow(2, 1 / 0.8) * weak, 1e-6 * weak);
    c.heat[0].friction = {.speed_decade = 0.7};
    EXPECT_NEAR(squeeze(3000, 20) / squeeze(300, 2), 1 / 0.7, 1e-6);   // ten times the sliding speed, seven tenths of the friction
}

TEST(HardestHold, HeatAsksForAsMuchMoreAsFrictionFalls) {
    answer::Case c = a_case();
    const double spent_N = c.stop.brake(parts::End::front).threshold_N;
    c.heat[0].friction = {.ratio_550K = 0.5, .beyond_per_100K = 0.9};
    const answer::WheelOutcome w = outcome(c, drag(700, 6, 240));
    EXPECT_GT(w.heat.lever_force_factor, 1.5);
    // Over ten seconds at the end the pad's face still warms a little.
    EXPECT_NEAR((w.hold_N - spent_N) / (w.hold_cold_N - spent_N), w.heat.lever_force_factor, 0.02 * w.heat.lever_force_factor);
    EXPECT_TRUE(w.hold_outside_measured);
    EXPECT_FALSE(outcome(c, drag(100, 6, 60)).hold_outside_measured);
}

TEST(HardestHold, IsAMeanOverTenSecondsAndNoughtWithoutBraking) {
    const answer::Case c = a_case();
    const answer::WheelOutcome held = outcome(c, drag(300, 6, 60)), brief = outcome(c, drag(300, 6, 5)), none = outcome(c, drag(0, 6, 60));
    EXPECT_NEAR(brief.hold_cold_N, held.hold_cold_N / 2, 1e-6 * held.hold_cold_N);
    EXPECT_EQ(none.hold_N, 0);
    EXPECT_EQ(none.hold_cold_N, 0);
}

TEST(NearestBoil, IsTheSecondAtWhichAFluidThatJustDoesNotBoilIsAtItsPoint) {
    const answer::Case c = a_case();
    // A climb without brakes behind a hot descent: the fluid cools while its boiling point falls.
    std::vector<heat::PowerRow> rows = drag(900, 8, 400);
    std::vector<double> altitude;
    for (int t = 0; t <= 400; ++t) altitude.push_back(2600 - 5.0 * t);
    for (int t = 401; t <= 800; ++t) {
        rows.push_back({.t_s = static_cast<double>(t), .speed_mps = 8, .power_W = 0});
        altitude.push_back(600 + 6.0 * (t - 400));
    }
    const answer::WheelOutcome w = outcome(c, rows, altitude);
    // The fluid that just does not boil in any row, by bisection; at the second that was told it must be at its boiling point.
    double boils_degC = 20, holds_degC = 300;
    for (int k = 0; k < 60; ++k) {
        const double middle = (boils_degC + holds_degC) / 2;
        bool any = false;
        for (std::size_t i = 0; i < rows.size(); ++i) any = any || w.heat.trace[i].fluid_degC > heat::boiling_point_at_altitude_degC(middle, altitude[i]);
        (any ? boils_degC : holds_degC) = middle;
    }
    EXPECT_NEAR(heat::boiling_point_at_altitude_degC(holds_degC, w.nearest_boil_altitude_m), w.nearest_boil_degC, 0.05) << "a peak between two rows";
    EXPECT_LT(w.nearest_boil_degC, w.heat.peaks.fluid.degC) << "higher up it boils at less";
    // Where the way is level that is the peak.
    const answer::WheelOutcome level = outcome(c, rows);
    EXPECT_EQ(level.nearest_boil_degC, level.heat.peaks.fluid.degC);
    EXPECT_EQ(level.nearest_boil_altitude_m, 0);
}
