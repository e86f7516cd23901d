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

TEST(HeatMeasured, ReadsWhatInfraRedWasSetTo) {
    const auto r = read_measured_csv("t_s,place,value_degC,sd_K,set_emissivity\n12,rotor,110,5,0.95\n40,fluid,61.5,2,\n", "t.csv");
    ASSERT_TRUE(r) << r.error().text;
    EXPECT_EQ((*r)[0].set_emissivity, 0.95);
    EXPECT_FALSE((*r)[1].set_emissivity);
    const auto error = [](const char* text) { const auto e = read_measured_csv(text, "t.csv"); return e ? std::string() : e.error().text; };
    EXPECT_NE(error("t_s,place,value_degC,sd_K,set_emissivity\n1,fluid,20,1,0.95\n").find("t.csv:2: column 5 (set_emissivity): infra-red"), std::string::npos);
    EXPECT_NE(error("t_s,place,value_degC,sd_K,set_emissivity\n1,rotor,20,1,1.5\n").find("t.csv:2: column 5"), std::string::npos);
}

// Bare steel of 300 °C read with 0.95 set: far too cold. Planck's law by quadrature of its own: energy in the band.
TEST(InfraRed, OfBareSteelShowsFarLessThanItsTemperature) {
    for (const double emissivity : {0.2, 0.45, 0.9}) {
        const double shown = infra_red_shows_degC(300, emissivity, 0.95, 20);
        const auto radiance = [](double degC) {
            double sum = 0;   // midpoint over frequency c/λ, in units of hν/k
            constexpr int n = 4000;
            const double low = 14387.77 / 14, high = 14387.77 / 8;
            for (int i = 0; i < n; ++i) {
                const double u = low + (high - low) * (i + 0.5) / n;
                sum += u * u * u / (std::exp(u / (degC + 273.15)) - 1) * (high - low) / n;
            }
            return sum;
        };
        EXPECT_NEAR(0.95 * radiance(shown) + 0.05 * radiance(20), emissivity * radiance(300) + (1 - emissivity) * radiance(20), 1e-5 * radiance(300)) << emissivity;
    }
    EXPECT_LT(infra_red_shows_degC(300, 0.2, 0.95, 20), 130);
    EXPECT_NEAR(infra_red_shows_degC(300, 0.95, 0.95, 20), 300, 1e-6);
    EXPECT_NEAR(infra_red_shows_degC(20, 0.3, 0.95, 20), 20, 1e-6);
}

// One truth read by infra-red: taken as it stands, the reading leads away from it; with what was set, it does not.
TEST(HeatMeasured, AnInfraRedReadingIsTakenWithTheEmissivityOfEachCase) {
    if (best_vectors() == "none") GTEST_SKIP();
    const auto rows = test::rough_ride(300, 31);
    std::vector<ReferenceBrake> cases(2, test::ordinary_brake());
    cases[0].rotor.emissivity = 0.25;
    cases[1].rotor.emissivity = 0.25;
    cases[1].rotor.convection.b *= 6;   // much colder
    const auto run = solve(cases[0], rows, {});
    ASSERT_TRUE(run);
    const double shown = infra_red_shows_degC(run->rows[250].rotor_surface_degC, 0.25, 0.95, cases[0].ambient_degC);
    Measured reading{.t_s = rows[250].t_s, .place = MeasuredPlace::rotor, .value_degC = shown, .sd_K = 5};
    EXPECT_LT(weigh_cases({}, cases, rows, std::span(&reading, 1))->weight[0], 0.5) << "taken as it stands it speaks for the cold brake";
    reading.set_emissivity = 0.95;
    EXPECT_GT(weigh_cases({}, cases, rows, std::span(&reading, 1))->weight[0], 0.9);
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
