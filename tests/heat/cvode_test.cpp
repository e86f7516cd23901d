// SPDX-License-Identifier: Apache-2.0
// The solver against a second one: SUNDIALS CVODE on its own nodes (by_cvode.cpp).
#include <gtest/gtest.h>

#include <cmath>

#include "by_cvode.hpp"

namespace {

using namespace bw::heat;

// Largest difference over the rows, place by place.
std::vector<double> differences(const ReferenceBrake& brake) {
    const auto rows = test::rough_ride(240, 11);
    const auto other = test::solve_by_cvode(brake, rows, 41, 121, 7);
    const auto ours = solve(brake, rows, {});
    EXPECT_TRUE(ours);
    std::vector<double> worst(9, 0.0);
    for (std::size_t i = 0; i < rows.size(); ++i) {
        const HeatState& s = ours->rows[i];
        const double got[] = {s.rotor_surface_degC, s.rotor_mid_degC, s.pad_face_degC, s.plate_degC, s.piston_degC, s.fluid_degC, s.caliper_degC, s.arms_degC, s.hub_degC};
        for (std::size_t k = 0; k < 9; ++k) {
            const double d = std::abs(got[k] - other[i][k]);
            worst[k] = d >= worst[k] ? d : std::isnan(d) ? 1e9 : worst[k];
        }
    }
    return worst;
}

// 0.2 K: solver tolerance 0.1 K here, the nodes of the other side are good to about 0.05 K.
TEST(HeatReference, PerfectContactAgreesWithCvodeWithinAFifthOfAKelvinOnARoughRide) {
    const std::vector<double> worst = differences(test::ordinary_brake());
    for (std::size_t k = 0; k < worst.size(); ++k) EXPECT_LT(worst[k], 0.2) << "place " << k;
    RecordProperty("worst_K", std::to_string(worst[2]));
}

TEST(HeatReference, FiniteContactAgreesWithCvodeWithinAFifthOfAKelvinOnARoughRide) {
    ReferenceBrake brake = test::ordinary_brake();
    brake.contact_W_m2K = 2e4;
    const std::vector<double> worst = differences(brake);
    for (std::size_t k = 0; k < worst.size(); ++k) EXPECT_LT(worst[k], 0.2) << "place " << k;
}

TEST(HeatReference, ASinteredPadWithConductingPlateAgreesWithCvodeWithinAFifthOfAKelvin) {
    ReferenceBrake brake = test::ordinary_brake();
    brake.friction.conductivity_W_mK = 30;
    brake.friction.density_kg_m3 = 5700;
    brake.friction.heat_capacity_J_kgK = 450;
    const std::vector<double> worst = differences(brake);
    for (std::size_t k = 0; k < worst.size(); ++k) EXPECT_LT(worst[k], 0.2) << "place " << k;
}

}  // namespace
