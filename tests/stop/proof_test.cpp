// SPDX-License-Identifier: Apache-2.0
// Proof stops: reading, gain, alarm.
#include "stop/proof.hpp"

#include <gtest/gtest.h>

#include <cmath>
#include <tuple>

#include "base/sampling.hpp"
#include "made_bike.hpp"
#include "stop/actuation.hpp"

namespace bw::stop {
namespace {

//! Readings that err as the data rows say; the motion itself as in stop_of.
ProofTerms made_terms() {
    ProofTerms t = proof_terms(*parts::load_library());
    t.take_up_s = 0.1;
    t.rise_s = 0.3;
    t.new_pads_mean = t.first_of_day = 0;
    return t;
}
const ProofTerms terms = made_terms();
//! No drag and no spring, so that the closed form of the motion is the truth.
const ProofBike bare{.mass_kg = 100, .air_kg_m = 0, .rolling_mps2 = 0, .threshold_N = 0, .threshold_sd_N = 0};

//! A stop of a brake whose gain is known: distance by the motion in closed form.
ProofStop stop_of(long day, double gain, double lever_N, double grade = 0) {
    const double braking = gain * lever_N, slope = balance::gravity_mps2 * balance::sine_of(grade);
    ProofStop s{.day = day, .stop = "", .wheel = Brakes::front, .from_mps = 6, .lever_force_N = lever_N, .grade = grade};
    s.distance_m = *brake_distance_m({.from_mps = 6, .braking_mps2 = braking, .slope_mps2 = slope, .take_up_s = 0.1, .rise_s = 0.3});
    return s;
}

ProofGain gain_of(const std::vector<ProofStop>& stops, const std::vector<double>& expected = {0.06, 0.08}, double hand_N = 200) {
    const std::vector<double> hand(expected.size(), hand_N);
    return proof_gain(stops, parts::End::front, terms, bare, {.gain = expected, .hand_N = hand});
}

TEST(Proof, TheBrakingIsFoundBackFromTheDistance) {
    // 0.001: the steps of 0.01 s against the closed form.
    for (const double grade : {-0.08, 0.0, 0.05}) EXPECT_NEAR(*proof_braking_mps2(stop_of(0, 0.07, 50, grade), terms, bare), 3.5, 0.001) << grade;
}

TEST(Proof, TheTimeOfTheSameStopAgrees) {
    ProofStop s = stop_of(0, 0.07, 50);
    s.time_s = 0.1 + 0.15 + 6 / 3.5;
    EXPECT_NEAR(*proof_braking_by_time_mps2(s, terms, bare), 3.5, 0.001);
}

TEST(Proof, AirAndRollingAreNotTheBrakes) {
    // Steady drag of 0.2 m/s2 is a slope of the same size.
    ProofBike rolls = bare;
    rolls.rolling_mps2 = 0.2;
    EXPECT_NEAR(*proof_braking_mps2(stop_of(0, 0.07, 50, 0.2 / std::sqrt(balance::gravity_mps2 * balance::gravity_mps2 - 0.04)), terms, bare), 3.5, 0.001);
    ProofStop s = stop_of(0, 0.07, 50);
    s.distance_m = *brake_distance_m({.from_mps = 6, .braking_mps2 = 3.5, .slope_mps2 = 0.2, .take_up_s = 0.1, .rise_s = 0.3});
    EXPECT_NEAR(*proof_braking_mps2(s, terms, rolls), 3.5, 0.001);
    ProofBike windy = bare;
    windy.air_kg_m = 0.3;
    EXPECT_LT(*proof_braking_mps2(s, terms, windy), *proof_braking_mps2(s, terms, bare));
}

TEST(Proof, TheGainAtItsReferenceDoesNotDependOnThePull) {
    // A brake of 0.07 m/s2 per newton above a spring of 10 N gives 2 m/s2 at 38.57 N.
    ProofBike spring = bare;
    spring.threshold_N = 10;
    for (const double lever_N : {30.0, 45.0, 90.0}) EXPECT_NEAR(proof_gain_at_reference(parts::End::front, 0.07 * (lever_N - 10), lever_N, spring), 2 / (10 + 2 / 0.07), 1e-12);
}

TEST(Proof, NeitherDoesThatOfALeverWhoseRatioChanges) {
    // Light pulls once, hard ones the next time: what the stops say is what the brake itself gives at the reference, sound or not.
    for (const auto& [at_rest, at_bar] : {std::pair{4.0, 8.0}, {3.0, 9.0}, {8.0, 4.0}})
        for (const double travel_mm : {9.0, 18.0})
            for (const double kept : {1.0, 0.75}) {
                parts::Bike b = made::bike();
                b.front.lever.ratio = made::exactly(at_rest), b.front.lever.ratio_at_bar = made::exactly(at_bar);
                StopUnknowns u = made::unknowns();
                u.front.travel_mm = travel_mm, u.front.friction = 0.4 * kept;
                const std::vector<double> threshold(4, u.front.threshold_N), travel(4, travel_mm);
                const ProofBike bike = proof_bike(b, parts::End::front, threshold, travel);
                for (const double lever_N : {30.0, 45.0, 60.0, 100.0}) {
                    const double braking = tyre_force_from(b, parts::End::front, u.front, u.front.friction, lever_N) / bike.mass_kg;
                    EXPECT_NEAR(proof_gain_at_reference(parts::End::front, braking, lever_N, bike), proof_expected_gain(b, parts::End::front, u), 1e-9) << at_rest << " to " << at_bar << ", " << lever_N << " N";
                }
            }
}

TEST(Proof, ALossIsSeenWholeThoughTheLaterPullsAreHarder) {
    parts::Bike b = made::bike();
    b.front.lever.ratio = made::exactly(3), b.front.lever.ratio_at_bar = made::exactly(9);
    const StopUnknowns u = made::unknowns();
    const std::vector<double> spring(4, u.front.threshold_N), travel(4, 18.0);
    const ProofBike bike = proof_bike(b, parts::End::front, spring, travel);
    BrakeUnknowns brake = u.front;
    brake.travel_mm = 18;
    std::vector<ProofStop> stops;
    for (const auto& [day, lever_N, friction] : {std::tuple{1L, 40.0, 0.4}, {9L, 80.0, 0.25}})
        for (int i = 0; i < 4; ++i) {
            const double braking = tyre_force_from(b, parts::End::front, brake, friction, lever_N) / bike.mass_kg;
            ProofStop s{.day = day, .stop = "", .wheel = Brakes::front, .from_mps = 6, .lever_force_N = lever_N};
            s.distance_m = *brake_distance_m({.from_mps = 6, .braking_mps2 = braking, .slope_mps2 = 0, .take_up_s = 0.1, .rise_s = 0.3});
            stops.push_back(s);
        }
    const std::vector<double> gain{0.04, 0.05, 0.06}, hand(3, 200.0);
    const ProofGain g = proof_gain(stops, parts::End::front, terms, bike, {.gain = gain, .hand_N = hand});
    StopUnknowns before = u, now = u;
    before.front = now.front = brake;
    before.front.friction = 0.4, now.front.friction = 0.25;
    const double true_change = proof_expected_gain(b, parts::End::front, now) / proof_expected_gain(b, parts::End::front, before);
    ASSERT_TRUE(g.change);
    EXPECT_NEAR(g.change->p50, true_change, 0.02);
    EXPECT_TRUE(g.alarm) << g.text;
}

TEST(Proof, AStopShorterThanAnythingOnTwoWheelsIsRefused) {
    ProofStop s = stop_of(0, 0.07, 50);
    s.distance_m = 1.0;
    EXPECT_FALSE(proof_braking_mps2(s, terms, bare));
}

TEST(Proof, StopsPullTheGainFromThePriorTowardsWhatTheyShow) {
    const ProofGain g = gain_of(std::vector<ProofStop>(4, stop_of(10, 0.09, 45)), {0.04, 0.05, 0.06, 0.07, 0.08});
    ASSERT_TRUE(g.gain);
    EXPECT_TRUE(g.measured);
    EXPECT_EQ(g.stops, 4);
    EXPECT_GT(g.gain->p50, g.expected.p50);
    EXPECT_LT(g.gain->p50, 0.09);
    EXPECT_LT(std::log(g.gain->p95 / g.gain->p05), std::log(g.expected.p95 / g.expected.p05));
}

TEST(Proof, MoreStopsNeverWidenTheIntervalAndSharedErrorsStay) {
    const auto width = [](int n) {
        const ProofGain g = gain_of(std::vector<ProofStop>(static_cast<std::size_t>(n), stop_of(10, 0.07, 45)));
        return std::log(g.gain->p95 / g.gain->p05);
    };
    EXPECT_GT(width(1), width(5));
    EXPECT_GT(width(5), width(50));
    EXPECT_GT(width(50), 0.5 * width(5)) << "speed, mark, scale and place err alike in every stop";
}

TEST(Proof, AGainThatFellByHalfRaisesTheAlarmAndSaysDoNotRide) {
    std::vector<ProofStop> stops(5, stop_of(10, 0.08, 45));
    stops.insert(stops.end(), 4, stop_of(40, 0.04, 80));
    const ProofGain g = gain_of(stops);
    EXPECT_TRUE(g.alarm);
    EXPECT_EQ(g.text.find("Do not ride: the front brake has lost bite. It bites 50 % less"), 0u) << g.text;
    EXPECT_EQ(g.text.find("o not ride", 5), std::string::npos) << "once: " << g.text;
    ASSERT_TRUE(g.change);
    EXPECT_NEAR(g.change->p50, 0.5, 0.01);
}

std::vector<ProofStop> five_good_and_five_bad() {
    std::vector<ProofStop> stops(5, stop_of(10, 0.08, 45));
    stops.insert(stops.end(), 5, stop_of(40, 0.04, 80));
    return stops;
}

TEST(Proof, StopsThatMeasureNothingDoNotClearAnAlarm) {
    for (const bool wet : {true, false}) {
        std::vector<ProofStop> stops = five_good_and_five_bad();
        stops.push_back(stop_of(41, 0.08, 45));
        if (wet) stops.back().surface = Surface::wet;
        else stops.back().lever_force_N.reset();
        const ProofGain g = gain_of(stops);
        EXPECT_TRUE(g.alarm) << wet << g.text;
        EXPECT_TRUE(g.measured);
        EXPECT_EQ(g.stops, 5);
        EXPECT_EQ(g.left_out, 1);
        EXPECT_EQ(g.text.find("Do not ride"), 0u) << g.text;
    }
}

TEST(Proof, ABadDayThatRepeatsStaysAnAlarm) {
    std::vector<ProofStop> stops = five_good_and_five_bad();
    for (const long day : {41L, 42L, 43L, 44L}) {
        stops.insert(stops.end(), 5, stop_of(day, 0.04, 80));
        const ProofGain g = gain_of(stops);
        EXPECT_TRUE(g.alarm) << day << g.text;
        EXPECT_EQ(g.history_stops, 5) << "bad days are no history";
        ASSERT_TRUE(g.change);
        EXPECT_NEAR(g.change->p50, 0.5, 0.01);
    }
}

TEST(Proof, AnAlarmIsClearedByAMeasuredDayOfThreeStopsAndByNoFewer) {
    std::vector<ProofStop> stops = five_good_and_five_bad();
    stops.insert(stops.end(), 2, stop_of(41, 0.08, 45));
    EXPECT_TRUE(gain_of(stops).alarm) << "two stops";
    EXPECT_NE(gain_of(stops).text.find("Do not ride"), std::string::npos);
    stops.push_back(stop_of(41, 0.08, 45));
    EXPECT_FALSE(gain_of(stops).alarm) << "three stops";
    stops.insert(stops.end(), 5, stop_of(42, 0.08, 45));
    EXPECT_FALSE(gain_of(stops).alarm);
    EXPECT_EQ(gain_of(stops).history_stops, 8);
}

TEST(Proof, WithoutHistoryThereIsNoAlarmAndItSaysSo) {
    const ProofGain g = gain_of(std::vector<ProofStop>(4, stop_of(10, 0.02, 80)));
    EXPECT_FALSE(g.alarm);
    EXPECT_FALSE(g.change);
    EXPECT_NE(g.text.find("nothing to compare"), std::string::npos);
}

TEST(Proof, ABrakeThatDidNotChangeRaisesTheAlarmInFewerThanOneOfTwentyComparisons) {
    int alarms = 0;
    const int trials = 200;
    for (int k = 0; k < trials; ++k) {
        std::vector<ProofStop> stops;
        for (long day : {10L, 40L}) {
            const double scale = std::exp(0.04 * normal_of(5, k, day, 0));
            for (int i = 0; i < 4; ++i) stops.push_back(stop_of(day, 0.07 * scale * std::exp(0.10 * normal_of(5, k, day, 1 + i)), 45));
        }
        alarms += gain_of(stops).alarm;
    }
    EXPECT_LT(alarms, trials / 20);   // designed for 3 %; scatter of a day 4 %, of a stop 10 %
}

TEST(Proof, WetStopsAndStopsWithoutAScaleAreLeftOutAndCounted) {
    std::vector<ProofStop> stops(3, stop_of(10, 0.07, 45));
    stops[0].surface = Surface::wet;
    stops[1].lever_force_N.reset();
    const ProofGain g = gain_of(stops);
    EXPECT_EQ(g.stops, 1);
    EXPECT_EQ(g.left_out, 2);
}

TEST(Proof, StopsWithBothBrakesAreLeftOutAndCounted) {
    std::vector<ProofStop> stops(4, stop_of(10, 0.07, 45));
    stops[2].wheel = stops[3].wheel = Brakes::both;
    const ProofGain g = gain_of(stops);
    EXPECT_EQ(g.stops, 2);
    EXPECT_EQ(g.left_out, 2);
}

TEST(Proof, WithoutAScaleAStopSaysOnlyThatThisHandCouldDoIt) {
    std::vector<ProofStop> stops(3, stop_of(10, 0.07, 50));   // 3.5 m/s2
    for (ProofStop& s : stops) s.lever_force_N.reset();
    const ProofGain g = gain_of(stops, {0.01, 0.02, 0.04, 0.08}, 100);   // of these brakes the first two cannot
    EXPECT_FALSE(g.measured);
    EXPECT_EQ(g.stops, 0);
    ASSERT_TRUE(g.gain);
    EXPECT_GT(g.gain->p05, g.expected.p05);
    EXPECT_GT(g.gain->p50, 0.04);
    EXPECT_NE(g.text.find("spring scale"), std::string::npos);
}

TEST(Proof, PadsThatBedInShowAsATrendFromStopToStop) {
    std::vector<ProofStop> stops;
    for (int i = 0; i < 8; ++i) stops.push_back(stop_of(10, 0.05 * std::pow(1.05, i), 60));
    const ProofGain g = gain_of(stops);
    ASSERT_TRUE(g.trend);
    EXPECT_NEAR(g.trend->p50, 1.05, 1e-3);
    EXPECT_FALSE(gain_of(std::vector<ProofStop>(3, stop_of(10, 0.05, 60))).trend);
}

TEST(Proof, EveryTermOfTheReadingsWidensTheIntervalOrLeavesIt) {
    const std::vector<ProofStop> stops = [] {
        std::vector<ProofStop> all(3, stop_of(10, 0.07, 45));
        for (ProofStop& s : all) s.time_s = 0.25 + 6 / 3.15;
        return all;
    }();
    const std::vector<double> expected = {0.06, 0.08}, hand = {200, 200};
    const auto sd_with = [&](const ProofTerms& t) { return proof_gain(stops, parts::End::front, t, bare, {.gain = expected, .hand_N = hand}).stops_log_sd; };
    const double plain = sd_with(terms);
    for (double ProofTerms::*term : {&ProofTerms::take_up_kept, &ProofTerms::rise_kept, &ProofTerms::speed_kept, &ProofTerms::speed_stop_mps, &ProofTerms::mark_kept_s, &ProofTerms::mark_stop_s,
                                     &ProofTerms::tape_stop_m, &ProofTerms::clock_kept_s, &ProofTerms::clock_stop_s, &ProofTerms::scale_kept, &ProofTerms::scale_day, &ProofTerms::scale_stop,
                                     &ProofTerms::place_day, &ProofTerms::grade_kept, &ProofTerms::grade_day, &ProofTerms::friction_stop}) {
        ProofTerms worse = terms;
        worse.*term = 3 * (worse.*term) + 1e-3;
        EXPECT_GE(sd_with(worse), plain * (1 - 1e-9));
    }
}

TEST(Proof, ASpeedOrAWayThatIsKnownWorseWidensTheIntervalOfTheGain) {
    const std::vector<double> expected = {0.04, 0.05, 0.06, 0.07, 0.08};
    const auto width = [&](std::optional<double> from_sd_mps, std::optional<double> distance_sd_m) {
        std::vector<ProofStop> stops(4, stop_of(10, 0.07, 45));
        for (ProofStop& s : stops) s.from_sd_mps = from_sd_mps, s.distance_sd_m = distance_sd_m;
        const ProofGain g = gain_of(stops, expected);
        return std::log(g.gain->p95 / g.gain->p05);
    };
    EXPECT_LT(width(0.05, {}), width(0.3, {}));
    EXPECT_LT(width(0.3, {}), width(0.9, {}));
    EXPECT_LT(width({}, 0.05), width({}, 0.4));
    EXPECT_DOUBLE_EQ(width(terms.speed_stop_mps, {}), width({}, {})) << "it stands in place of the usual one";
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
