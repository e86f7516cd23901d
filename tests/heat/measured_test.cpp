// SPDX-License-Identifier: Apache-2.0
// Measured temperatures weigh the cases: the reader, and weights against Bayes by hand.
#include "heat/measured.hpp"

#include <gtest/gtest.h>

#include <array>
#include <cmath>

#include "base/interval.hpp"
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
    const auto spots = read_measured_csv("t_s,place,value_degC,sd_K,set_emissivity,spot\n12,rotor,110,5,0.95,bare\n14,arms,150,5,0.95,painted\n15,arms,90,5,0.95,\n", "t.csv");
    ASSERT_TRUE(spots) << spots.error().text;
    EXPECT_EQ((*spots)[0].spot, Spot::bare);
    EXPECT_EQ((*spots)[1].place, MeasuredPlace::arms);
    EXPECT_EQ((*spots)[1].spot, Spot::painted);
    EXPECT_FALSE((*spots)[2].spot);
    EXPECT_NE(error("t_s,place,value_degC,sd_K,set_emissivity,spot\n1,rotor,20,1,0.95,shiny\n").find("t.csv:2: column 6 (spot): 'shiny'"), std::string::npos);
    EXPECT_NE(error("t_s,place,value_degC,sd_K,set_emissivity,spot\n1,rotor,20,1,,bare\n").find("t.csv:2: column 6 (spot)"), std::string::npos);
    EXPECT_NE(error("t_s,place,value_degC,sd_K,set_emissivity,spot\n1,caliper,20,1,0.95,painted\n").find("t.csv:2: column 6 (spot)"), std::string::npos);
}

// Handbook tables of black-body radiation, share below λT (from memory): 2400 µm K 0.140256, 3200 0.318102, 4000 0.480877, 4200 0.516014,
// 5600 0.701046, 7000 0.808109. So a body emits from 8 to 14 µm: at 300 K 0.375758 σT⁴, at 400 K 0.382944, at 500 K 0.327232.
TEST(InfraRed, ShowsWhatTheTablesOfBlackBodiesSay) {
    const double at_300 = (0.516014 - 0.140256) * 81, at_400 = (0.701046 - 0.318102) * 256, at_500 = (0.808109 - 0.480877) * 625;
    EXPECT_NEAR(infra_red_shows_degC(226.85, 0.95 * (at_400 - at_300) / (at_500 - at_300), 0.95, 26.85), 126.85, 0.01);
    EXPECT_NEAR(infra_red_shows_degC(126.85, 0.5 * (at_500 - at_300) / (at_400 - at_300), 0.5, 26.85), 226.85, 0.01);
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

// Truths whose band has another emissivity than the rotors of the cases: taken as it stands, or with the emissivity of the whole rotor,
// the reading speaks for a brake that is much colder; with that of a bare spot it does not rule the true one out, and a painted spot tells.
TEST(HeatMeasured, AnInfraRedReadingIsTakenWithTheEmissivityOfTheSpot) {
    if (best_vectors() == "none") GTEST_SKIP();
    const auto rows = test::rough_ride(300, 31);
    std::vector<ReferenceBrake> cases;
    std::vector<double> factor;
    for (int i = 0; i < 65; ++i) {   // the true one in the middle
        ReferenceBrake b = test::ordinary_brake();
        factor.push_back(std::exp(0.05 * (i - 32)));
        b.rotor.convection.b *= factor.back(), b.arms.convection.b *= factor.back();
        b.rotor.emissivity = 0.45;
        cases.push_back(b);
    }
    const auto run = solve(cases[32], rows, {});
    ASSERT_TRUE(run);
    const HeatState& then = run->rows[250];
    const auto seen = [&](std::span<const Measured> readings) {   // how likely a convection of a third more or above, and of the true one within a tenth
        const auto w = weigh_cases({}, cases, rows, readings);
        EXPECT_TRUE(w);
        std::array<double, 2> out{};
        for (std::size_t i = 0; i < cases.size(); ++i) {
            if (factor[i] > 1.33) out[0] += w->weight[i];
            if (std::abs(std::log(factor[i])) < 0.11) out[1] += w->weight[i];
        }
        return out;
    };
    for (const double emissivity : {0.14, 0.2, 0.3}) {
        Measured band{.t_s = then.t_s, .place = MeasuredPlace::rotor, .value_degC = infra_red_shows_degC(then.rotor_surface_degC, emissivity, 0.95, cases[0].ambient_degC), .sd_K = 2};
        EXPECT_GT(seen(std::span(&band, 1))[0], 0.99) << "as it stands: for the cold brake";
        band.set_emissivity = 0.95, band.spot = Spot::tinted;
        EXPECT_GT(seen(std::span(&band, 1))[0], 0.9) << "with the emissivity of the whole rotor too, " << emissivity;
        band.spot.reset();
        EXPECT_GT(seen(std::span(&band, 1))[1], 0.02) << emissivity;
        // A painted spot of the arms beside it.
        const std::vector<Measured> both = {band, {.t_s = then.t_s, .place = MeasuredPlace::arms, .value_degC = infra_red_shows_degC(then.arms_degC, 0.94, 0.95, cases[0].ambient_degC), .sd_K = 0.5, .set_emissivity = 0.95, .spot = Spot::painted}};
        const auto told = seen(both);
        EXPECT_GT(told[1], 0.3) << emissivity;
        EXPECT_LT(told[0], 0.1) << emissivity;
    }
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

// Strips whose fields turn every 5 K, on brakes whose truth is known: each is one more brake out of the same lot, its peak by the plain solver, the caliper's
// minutes after the halt at the end of the table. The bands by weight must hold the truth as often as they say, and be narrower than those before.
TEST(HeatMeasured, AStripNarrowsTheBandOntoTheTruthAndHoldsItAsOftenAsItSays) {
    if (best_vectors() == "none") GTEST_SKIP();
    std::vector<PowerRow> rows = test::rough_ride(300, 31);
    const auto brake = [](std::uint64_t stream, std::uint64_t i) {
        ReferenceBrake b = test::ordinary_brake();
        b.rotor.convection.b *= std::exp(0.35 * normal_of(3, stream, i, 0));
        b.links_W_K.plate_caliper *= std::exp(0.4 * normal_of(3, stream, i, 1));
        b.caliper.convection.b *= std::exp(0.3 * normal_of(3, stream, i, 2));
        return b;
    };
    std::vector<ReferenceBrake> cases;
    for (std::uint64_t i = 0; i < 512; ++i) cases.push_back(brake(1, i));
    const auto prior = solve_many({}, cases, rows, {.cool_down_s = cooling_s});
    ASSERT_TRUE(prior);
    std::vector<double> peaks;
    for (const CaseRun& c : prior->cases) peaks.push_back(c.peaks.caliper.degC);
    const Interval before = interval_of(peaks);
    constexpr int truths = 100;
    constexpr double step_K = 5;
    int held = 0, narrower = 0, late = 0;
    for (std::uint64_t k = 0; k < truths; ++k) {
        const ReferenceBrake truth = brake(2, k);
        const auto run = solve(truth, rows, {.cool_down_s = cooling_s});
        ASSERT_TRUE(run);
        const double peak = run->peaks.caliper.degC;
        late += peak > run->rows.back().caliper_degC + 1 ? 1 : 0;
        const Measured strip{.place = MeasuredPlace::caliper, .value_degC = std::floor(peak / step_K) * step_K + step_K / 2, .sd_K = step_K / std::sqrt(12.0), .highest = true};
        const auto w = weigh_cases({}, cases, rows, std::span(&strip, 1));
        ASSERT_TRUE(w) << w.error().text;
        const Interval after = interval_of(peaks, w->weight);
        held += peak >= after.p05 && peak <= after.p95 ? 1 : 0;
        narrower += after.p95 - after.p05 < 0.5 * (before.p95 - before.p05) ? 1 : 0;
    }
    EXPECT_GT(late, truths / 2) << "the table ends while calipers still warm: a strip sees more than it";
    EXPECT_GE(held, 81);   // of 100 at 90 %: three standard deviations
    EXPECT_LE(held, 99);
    EXPECT_GT(narrower, 90);
}

TEST(HeatMeasured, ReadsTheHighestMarkOfAStrip) {
    const auto r = read_measured_csv("t_s,place,value_degC,sd_K,set_emissivity\npeak,caliper,92.5,2,\n12,rotor,110,5,\n", "t.csv");
    ASSERT_TRUE(r) << r.error().text;
    EXPECT_TRUE((*r)[0].highest);
    EXPECT_FALSE((*r)[1].highest);
    const auto error = [](const char* text) { const auto e = read_measured_csv(text, "t.csv"); return e ? std::string() : e.error().text; };
    EXPECT_NE(error("t_s,place,value_degC,sd_K\nlate,caliper,92.5,2\n").find("t.csv:2: column 1 (t_s): 'late' found, expected seconds, or peak"), std::string::npos);
    EXPECT_NE(error("t_s,place,value_degC,sd_K,set_emissivity\npeak,caliper,92.5,2,0.95\n").find("t.csv:2: column 5"), std::string::npos);
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
