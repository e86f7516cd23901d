// SPDX-License-Identifier: Apache-2.0
// One wheel by the engine against the same by the plain solver.
#include "heat/wheel_engine.hpp"

#include <gtest/gtest.h>

#include <cmath>

#include "by_cvode.hpp"

namespace {

using namespace bw::heat;

double mean_degC(const WearDose& d) {
    double sum = 0;
    for (const double x : d.energy_temperature_J_degC) sum += x;
    return sum / d.total_J();
}

TEST(WheelByEngine, GivesTheDoseTheLeverForceTheTraceAndThePeaksOfThePlainSolver) {
    HeatUnknowns u;
    u.friction = {.ratio_550K = 0.7, .beyond_per_100K = 0.8};
    for (const unsigned seed : {3U, 14U, 15U}) {
        for (const double contact : {5e4, std::numeric_limits<double>::infinity()}) {
            const auto rows = test::rough_ride(1500, seed);
            ReferenceBrake b = test::ordinary_brake();
            b.power_scale = 0.4;   // temperatures of use
            b.contact_W_m2K = contact;
            const RotorBand band{0.07, 0.09, 0.075, 0.0895};
            const auto plain = heat_of_wheel(b, u, rows, {.tolerance_K = 0.05, .cool_down_s = 900}, band);
            const auto fast = heat_of_wheel_by_engine(b, u, rows, 900, band, nullptr);
            ASSERT_TRUE(plain && fast);
            EXPECT_NEAR(fast->dose.total_J(), plain->dose.total_J(), 1e-9 * plain->dose.total_J());
            EXPECT_NEAR(fast->dose.distance_m, plain->dose.distance_m, 1e-6 * plain->dose.distance_m);
            EXPECT_NEAR(mean_degC(fast->dose), mean_degC(plain->dose), 1);
            for (std::size_t k = 0; k < dose_bins; ++k)   // a row near an edge may fall into the next bin
                EXPECT_NEAR(fast->dose.energy_J[k], plain->dose.energy_J[k], 0.02 * plain->dose.total_J()) << k;
            EXPECT_NEAR(fast->beyond_friction_range_J, plain->beyond_friction_range_J, 0.02 * plain->dose.total_J());
            EXPECT_NEAR(fast->lever_force_factor, plain->lever_force_factor, 0.003 * plain->lever_force_factor);
            EXPECT_NEAR(fast->rotor_hottest_ring_degC, plain->rotor_hottest_ring_degC, 1);
            EXPECT_NEAR(fast->peaks.fluid.degC, plain->peaks.fluid.degC, 0.2);
            EXPECT_NEAR(fast->peaks.fluid.t_s, plain->peaks.fluid.t_s, 6);   // a flat top, sampled every 4 s
            for (const auto peak : {&HeatPeaks::rotor_surface, &HeatPeaks::rotor_mid, &HeatPeaks::rotor_mean, &HeatPeaks::pad_face, &HeatPeaks::pad_mean,
                                    &HeatPeaks::plate, &HeatPeaks::piston, &HeatPeaks::caliper, &HeatPeaks::arms, &HeatPeaks::hub})
                EXPECT_NEAR((fast->peaks.*peak).degC, (plain->peaks.*peak).degC, 0.5);
            ASSERT_EQ(fast->trace.size(), plain->trace.size());
            for (std::size_t k = 0; k < rows.size(); ++k) {
                EXPECT_NEAR(fast->trace[k].pad_face_degC, plain->trace[k].pad_face_degC, 0.5);
                EXPECT_NEAR(fast->factors[k], plain->factors[k], 0.003);
            }
            EXPECT_LT(std::abs(fast->energy_J.error), 1e-9 * fast->energy_J.made);
        }
    }
}

}  // namespace
