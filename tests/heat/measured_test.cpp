// SPDX-License-Identifier: Apache-2.0
// Measured temperatures weigh the cases: the reader, and weights against Bayes by hand.
#include "heat/measured.hpp"

#include <gtest/gtest.h>

#include <cmath>

#include "base/sampling.hpp"
#include "by_cvode.hpp"

namespace {

using namespace bw;
using namespace bw::heat;

TEST(HeatMeasured, ReadsPlacesAndRefusesWhatItDoesNotKnow) {
    const auto r = read_measured_csv("place,t_s,sd_K,value_degC\nrotor,12,15,210\nfluid,40,2,61.5\n", "t.csv");
    ASSERT_TRUE(r) << r.error().text;
    ASSERT_EQ(r->size(), 2U);
    EXPECT_EQ((*r)[1].place, MeasuredPlace::fluid);
    EXPECT_EQ((*r)[1].value_degC, 61.5);
    const auto error = [](const char* text) { const auto e = read_measured_csv(text, "t.csv"); return e ? std::string() : e.error().text; };
    EXPECT_NE(error("t_s,place,value_degC,sd_K\n1,hub,20,1\n").find("t.csv:2: column 2 (place): 'hub'"), std::string::npos);
    EXPECT_NE(error("t_s,place,value_degC,sd_K\n1,rotor,20,0\n").find("t.csv:2: column 4 (sd_K)"), std::string::npos);
    EXPECT_NE(error("t_s,place,value_degC\n").find("'sd_K' is missing"), std::string::npos);
    EXPECT_NE(error("t_s,place,value_degC,sd_K\n").find("no readings"), std::string::npos);
    EXPECT_NE(error("t_s,plaice,value_degC,sd_K\n").find("'place'"), std::string::npos);
}

// Cases whose convection is log-normal; the truth is one more such brake, its caliper and rotor are read with a known error.
// The band of the fluid's peak must move onto the truth and narrow.
TEST(HeatMeasured, ReadingsMoveTheBandOntoTheBrakeThatWasMeasured) {
    if (best_vectors() == "none") GTEST_SKIP();
    const auto rows = test::rough_ride(900, 31);
    std::vector<ReferenceBrake> cases;
    std::vector<double> factor;
    for (std::uint64_t i = 0; i < 512; ++i) {
        ReferenceBrake b = test::ordinary_brake();
        factor.push_back(std::exp(0.35 * normal_of(3, 1, i, 0)));
        b.rotor.convection.b *= factor.back();
        b.links_W_K.plate_caliper *= std::exp(0.4 * normal_of(3, 1, i, 1));
        cases.push_back(b);
    }
    ReferenceBrake truth = test::ordinary_brake();
    truth.rotor.convection.b *= 1.5;
    const auto run = solve(truth, rows, {});
    ASSERT_TRUE(run);
    std::vector<Measured> readings;
    for (const std::size_t k : {300U, 500U, 899U}) {
        readings.push_back({rows[k].t_s, MeasuredPlace::rotor, run->rows[k].rotor_surface_degC, 12});
        readings.push_back({rows[k].t_s, MeasuredPlace::caliper, run->rows[k].caliper_degC, 2});
    }
    const auto w = weigh_cases({}, cases, rows, readings);
    ASSERT_TRUE(w) << w.error().text;
    double mean = 0, square = 0, sum = 0;
    for (std::size_t i = 0; i < cases.size(); ++i) {
        sum += w->weight[i];
        mean += w->weight[i] * std::log(factor[i]);
        square += w->weight[i] * std::log(factor[i]) * std::log(factor[i]);
    }
    EXPECT_NEAR(sum, 1, 1e-12);
    EXPECT_NEAR(mean, std::log(1.5), 0.1);
    EXPECT_LT(std::sqrt(square - mean * mean), 0.12);
    EXPECT_GT(w->effective, 10);
    EXPECT_LT(w->best_misfit_sd, 0.5);
}

TEST(HeatMeasured, TwoCasesAreWeighedByTheNormalErrorsOfTheReadings) {
    if (best_vectors() == "none") GTEST_SKIP();
    std::vector<ReferenceBrake> two(2, test::ordinary_brake());
    two[1].start_degC = 23;   // nothing happens but that one starts 3 K warmer
    for (ReferenceBrake& b : two) b.caliper.area_m2 = b.arms.area_m2 = b.hub.area_m2 = 0, b.rotor.convection = {0, 0, 1}, b.rotor.emissivity = 0;
    const std::vector<PowerRow> rows = {{.t_s = 0, .speed_mps = 0, .power_W = 0}, {.t_s = 10, .speed_mps = 0, .power_W = 0}};
    const std::vector<Measured> readings = {{5, MeasuredPlace::fluid, 21, 2}, {7, MeasuredPlace::plate, 21, 2}};
    const auto w = weigh_cases({}, two, rows, readings);
    ASSERT_TRUE(w);
    // Misfits: 2 × (1/2)² and 2 × (2/2)², so the ratio is exp(-(2 - 0.5)/2).
    EXPECT_NEAR(w->weight[1] / w->weight[0], std::exp(-0.75), 1e-5);
    EXPECT_FALSE(weigh_cases({}, two, rows, std::vector<Measured>{{11, MeasuredPlace::fluid, 21, 2}}));
}

}  // namespace
