// SPDX-License-Identifier: Apache-2.0
// Proof stops: reading, gain, alarm.
#include "stop/proof.hpp"

#include <gtest/gtest.h>

#include <cmath>

#include "base/sampling.hpp"
#include "made_bike.hpp"

namespace bw::stop {
namespace {

const ProofTerms terms{.take_up_s = 0.1, .rise_s = 0.3, .stop_sd_log = 0.10, .scale_sd_log = 0.08};

//! A stop of a brake whose gain is known: distance and time by the motion itself.
ProofStop stop_of(long day, double gain, double lever_N, double grade = 0) {
    const double braking = gain * lever_N, slope = balance::gravity_mps2 * balance::sine_of(grade);
    ProofStop s{.day = day, .stop = "", .wheel = Brakes::front, .from_mps = 6, .lever_force_N = lever_N, .grade = grade};
    s.distance_m = *brake_distance_m({.from_mps = 6, .braking_mps2 = braking, .slope_mps2 = slope, .take_up_s = 0.1, .rise_s = 0.3});
    return s;
}

TEST(Proof, TheBrakingIsFoundBackFromTheDistance) {
    for (const double grade : {-0.08, 0.0, 0.05})
        EXPECT_NEAR(*proof_braking_mps2(stop_of(0, 0.07, 50, grade), terms), 3.5, 1e-9) << grade;
}

TEST(Proof, TheTimeOfTheSameStopAgrees) {
    ProofStop s = stop_of(0, 0.07, 50);
    s.time_s = 0.1 + 0.15 + 6 / 3.5;
    EXPECT_NEAR(*proof_braking_mps2(s, terms), 3.5, 1e-9);
}

TEST(Proof, AStopShorterThanAnythingOnTwoWheelsIsRefused) {
    ProofStop s = stop_of(0, 0.07, 50);
    s.distance_m = 1.0;
    EXPECT_FALSE(proof_braking_mps2(s, terms));
}

TEST(Proof, StopsPullTheGainFromThePriorTowardsWhatTheyShow) {
    const std::vector<double> expected = {0.04, 0.05, 0.06, 0.07, 0.08};
    const std::vector<ProofStop> stops(4, stop_of(10, 0.09, 45));
    const ProofGain g = proof_gain(stops, parts::End::front, terms, expected, {});
    ASSERT_TRUE(g.gain);
    EXPECT_EQ(g.stops, 4);
    EXPECT_GT(g.gain->p50, g.expected.p50);
    EXPECT_LT(g.gain->p50, 0.09);
    EXPECT_LT(std::log(g.gain->p95 / g.gain->p05), std::log(g.expected.p95 / g.expected.p05));
}

TEST(Proof, AGainThatFellByHalfRaisesTheAlarmAndSaysDoNotRide) {
    std::vector<ProofStop> stops(5, stop_of(10, 0.08, 45));
    stops.insert(stops.end(), 4, stop_of(40, 0.04, 80));
    const ProofGain g = proof_gain(stops, parts::End::front, terms, std::vector<double>{0.06, 0.08}, {});
    EXPECT_TRUE(g.alarm);
    EXPECT_EQ(g.text.find("The brake bites 50 % less"), 0u) << g.text;
    EXPECT_NE(g.text.find("Do not ride"), std::string::npos);
}

TEST(Proof, WithoutHistoryThereIsNoAlarmAndItSaysSo) {
    const std::vector<ProofStop> stops(4, stop_of(10, 0.02, 80));
    const ProofGain g = proof_gain(stops, parts::End::front, terms, std::vector<double>{0.06, 0.08}, {});
    EXPECT_FALSE(g.alarm);
    EXPECT_NE(g.text.find("nothing to compare"), std::string::npos);
}

TEST(Proof, ABrakeThatDidNotChangeRaisesTheAlarmInFewerThanOneOfFiftyComparisons) {
    int alarms = 0;
    const int trials = 2000;
    for (int k = 0; k < trials; ++k) {
        std::vector<ProofStop> stops;
        for (long day : {10L, 40L}) {
            const double scale = std::exp(0.08 * normal_of(5, k, day, 0));
            for (int i = 0; i < 4; ++i) stops.push_back(stop_of(day, 0.07 * scale * std::exp(0.10 * normal_of(5, k, day, 1 + i)), 45));
        }
        alarms += proof_gain(stops, parts::End::front, terms, std::vector<double>{0.06, 0.08}, {}).alarm;
    }
    EXPECT_LT(alarms, trials / 50);   // designed for 0.5 %; 2 % leaves room for the assumed scatter
}

TEST(Proof, WetStopsAndStopsWithoutAScaleAreLeftOutAndCounted) {
    std::vector<ProofStop> stops(3, stop_of(10, 0.07, 45));
    stops[0].surface = Surface::wet;
    stops[1].lever_force_N.reset();
    const ProofGain g = proof_gain(stops, parts::End::front, terms, std::vector<double>{0.06, 0.08}, {});
    EXPECT_EQ(g.stops, 1);
    EXPECT_EQ(g.left_out, 2);
}

TEST(ProofFile, ReadsItsColumnsInAnyOrderAndEmptyAsNotKnown) {
    const auto stops = read_proof_stops("wheel,date,stop,from_mps,distance_m,lever_force_N,surface,grade\nrear,2026-05-01,1,5.5,7.2,,dry,-0.01\n", "stops.csv");
    ASSERT_TRUE(stops) << stops.error().text;
    ASSERT_EQ(stops->size(), 1u);
    EXPECT_EQ((*stops)[0].wheel, Brakes::rear);
    EXPECT_FALSE((*stops)[0].lever_force_N);
    EXPECT_DOUBLE_EQ((*stops)[0].grade, -0.01);
}

TEST(ProofFile, NamesTheNearestColumnOfAnUnknownOne) {
    const auto stops = read_proof_stops("date,wheel,from_mps,distance,surface,grade\n", "stops.csv");
    ASSERT_FALSE(stops);
    EXPECT_NE(stops.error().text.find("stops.csv:1"), std::string::npos);
    EXPECT_NE(stops.error().text.find("distance_m"), std::string::npos) << stops.error().text;
}

TEST(ProofFile, NamesLineAndColumnOfABadCell) {
    for (const char* cell : {"fast", "nan", "-3", "1e9", ""}) {
        const auto stops = read_proof_stops(std::string("date,wheel,from_mps,distance_m,surface,grade\n2026-05-01,front,") + cell + ",7,dry,0\n", "stops.csv");
        ASSERT_FALSE(stops) << cell;
        EXPECT_NE(stops.error().text.find("stops.csv:2: from_mps"), std::string::npos) << stops.error().text;
    }
}

}  // namespace
}  // namespace bw::stop
