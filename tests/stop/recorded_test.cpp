// SPDX-License-Identifier: Apache-2.0
// Stops found in a recording: what can stand, what cannot and why, and how well speed and way are known.
// Oracle: recordings sampled from a motion in closed form (force rising in a line, then constant deceleration b).
#include "stop/recorded.hpp"

#include <gtest/gtest.h>

#include <algorithm>
#include <cmath>
#include <functional>

#include "base/sampling.hpp"

namespace bw::stop {
namespace {

const ProofTerms& terms() {
    static const ProofTerms t = proof_terms(*parts::load_library());
    return t;
}

struct Told {
    double from_mps = 8, braking_mps2 = 2.5, phase_s = 0.3, noise_mps = 0, stand_s = 10, step_s = 1, turn_rad = 0, grade = 0, smear_s = 0;
    bool speed = true, place = true;
};
constexpr double begins_s = 30;   // seven to get going, then even
// Of the invented rider, not of the data: a lever taken up in a tenth of a second (no recording shows it; a person's finger does it in
// 0.05 to 0.2 s, our judgement) and a force that then rises for a quarter.
constexpr double take_up_s = 0.1, rise_s = 0.25;
// A bound that an estimator cannot widen for itself: half a metre, and of long stops 3 % of the way, which is what friction itself
// differs by from day to day (tests/proved, assumed).
double apart_m(double way_m) { return std::max(0.5, 0.03 * way_m); }
double speed_at(const Told& t, double s) {
    if (s < 7) return t.from_mps * s / 7;
    const double in = s - begins_s, rise = rise_s;
    return in < 0 ? t.from_mps : std::max(0.0, t.from_mps - t.braking_mps2 * (in < rise ? in * in / (2 * rise) : in - rise / 2));
}
double seen_at(const Told& t, double s) {   // a recorder that shows the mean of the last seconds
    if (t.smear_s <= 0) return speed_at(t, s);
    double sum = 0;
    for (int i = 0; i < 100; ++i) sum += speed_at(t, s - t.smear_s * (i + 0.5) / 100) / 100;
    return sum;
}
ride::Track track_of(const Told& t) {
    ride::Track out;
    out.file = "made";
    double north = 0, east = 0, way = 0, at = 0;
    const double end = begins_s + t.from_mps / t.braking_mps2 + t.stand_s;
    std::uint64_t n = 0;
    for (double s = t.phase_s; s < end; s += t.step_s, ++n) {
        for (; at < s; at += 0.01) {
            const double step = speed_at(t, at) * 0.01, heading = at > begins_s ? t.turn_rad : 0;
            north += step * std::cos(heading), east += step * std::sin(heading), way += step;
        }
        out.t_s.push_back(s - t.phase_s);
        if (t.speed) out.speed_mps.push_back(seen_at(t, s) + t.noise_mps * normal_quantile(uniform_of(1, 2, n, 3)));
        if (t.place) {
            out.latitude_deg.push_back(north / 111132.0);   // on the equator a degree of latitude is 110,574 m and one of longitude 111,320 m
            out.longitude_deg.push_back(east / 111320.0);
        }
        out.altitude_m.push_back(100 + t.grade * way);
    }
    if (t.place)
        for (double& lat : out.latitude_deg) lat *= 111132.0 / 110574.0;
    return out;
}
// From the first movement of the lever: take-up and half of the rise at full speed, then v^2/(2 b), less what the rise bends off.
double way_of(const Told& t) { return t.from_mps * (take_up_s + rise_s / 2) + t.from_mps * t.from_mps / (2 * t.braking_mps2) - t.braking_mps2 * rise_s * rise_s / 24; }

TEST(Recorded, AStopUphillGivesNoBolderBrakeThanTheSameOneOnTheLevel) {
    // Newton: the same braking force uphill by g slows by 9.81 g more; what is not laid to the slope must lie in the distance's error.
    for (const double grade : {-0.015, 0.015}) {
        const auto stops = recorded_stops(track_of({.from_mps = 9, .grade = grade}), terms());
        ASSERT_EQ(stops.size(), 1u);
        ASSERT_TRUE(stops[0].usable) << stops[0].why_not;
        EXPECT_GT(stops[0].grade / grade, 0.2);
        EXPECT_LT(stops[0].grade / grade, 1);
        const ProofStop s = proof_stop_of(stops[0], 20000, "1", Brakes::front, 60, Surface::dry);
        EXPECT_EQ(s.grade, stops[0].grade);
        const double left = std::abs(grade - s.grade) * 9.81, braking = s.from_mps * s.from_mps / (2 * s.distance_m);
        EXPECT_LT(s.distance_m * left / braking, 1.5 * *s.distance_sd_m);
        EXPECT_GT(*s.distance_sd_m, 1.1 * stops[0].distance_sd_m);
    }
    // Without an altitude the road is as such roads are.
    ride::Track blind = track_of({.from_mps = 9});
    blind.altitude_m.clear();
    const auto stops = recorded_stops(blind, terms());
    ASSERT_EQ(stops.size(), 1u);
    EXPECT_EQ(stops[0].grade, 0);
    EXPECT_NEAR(stops[0].grade_sd, 0.015, 1e-12);
}

TEST(Recorded, AStopInTheRecordersOwnSpeedIsFoundWithItsSpeedAndItsWay) {
    for (const double braking : {1.2, 2.0, 2.8})
        for (const double phase : {0.0, 0.35, 0.7}) {
            const Told t{.braking_mps2 = braking, .phase_s = phase};
            const auto stops = recorded_stops(track_of(t), terms());
            ASSERT_EQ(stops.size(), 1u);
            const RecordedStop& r = stops[0];
            EXPECT_TRUE(r.usable) << r.why_not;
            EXPECT_NEAR(r.from_mps, 8, 2 * r.from_sd_mps + 0.1);
            EXPECT_NEAR(r.distance_m, way_of(t), 2 * std::hypot(r.distance_sd_m, r.shared_sd_m)) << braking << " " << phase;
            EXPECT_NEAR(r.distance_m, way_of(t), apart_m(way_of(t))) << braking << " " << phase;
            EXPECT_NEAR(r.from_mps, 8, 0.1);
            EXPECT_LT(std::hypot(r.distance_sd_m, r.shared_sd_m), 0.2 * way_of(t)) << "known well enough to be of use";
            EXPECT_NEAR(r.end_s + phase, begins_s + 8 / braking, 1.5);
            EXPECT_GT(r.distance_sd_m, 0);
        }
}

TEST(Recorded, PlacesASecondApartKnowTheWayWorseThanASpeedOfItsOwn) {
    const Told with{}, without{.speed = false};
    const auto a = recorded_stops(track_of(with), terms()), b = recorded_stops(track_of(without), terms());
    ASSERT_EQ(a.size(), 1u);
    ASSERT_EQ(b.size(), 1u);
    EXPECT_TRUE(b[0].usable) << b[0].why_not;
    EXPECT_GT(b[0].distance_sd_m, a[0].distance_sd_m);
    EXPECT_NEAR(b[0].distance_m, way_of(without), 2 * std::hypot(b[0].distance_sd_m, b[0].shared_sd_m));
}

TEST(Recorded, WhatCannotStandIsListedWithTheReason) {
    const auto why = [](const Told& t) {
        const auto stops = recorded_stops(track_of(t), terms());
        EXPECT_EQ(stops.size(), 1u);
        if (stops.empty()) return std::string();
        EXPECT_FALSE(stops[0].usable);
        return stops[0].why_not;
    };
    EXPECT_NE(why({.braking_mps2 = 0.5}).find("Too gentle"), std::string::npos);
    EXPECT_NE(why({.from_mps = 5, .braking_mps2 = 4.5, .noise_mps = 0.2, .smear_s = 1.2}).find("from a higher speed"), std::string::npos);
    EXPECT_NE(why({.turn_rad = 1.0}).find("Not straight"), std::string::npos);
    EXPECT_NE(why({.grade = -0.08}).find("Not level"), std::string::npos);
    EXPECT_NE(why({.stand_s = 0.4}).find("did not stand"), std::string::npos);
    EXPECT_NE(why({.step_s = 5}).find("breaks off"), std::string::npos);
    ride::Track uneven = track_of({});
    for (std::size_t i = 0; i < uneven.size(); ++i)
        if (uneven.t_s[i] < 29 && uneven.t_s[i] > 8) uneven.speed_mps[i] = 5 + 3 * (uneven.t_s[i] - 8) / 21 - (uneven.t_s[i] > 25 && uneven.t_s[i] < 27 ? 3 : 0);
    ASSERT_EQ(recorded_stops(uneven, terms()).size(), 1u);
    EXPECT_FALSE(recorded_stops(uneven, terms())[0].usable);
}

TEST(Recorded, ARecordWithoutASpeedIsLeftOut) {
    const auto without_two = [](const Told& told) {
        ride::Track t = track_of(told);
        t.speed_mps[26] = t.speed_mps[31] = std::nan("");
        return recorded_stops(t, terms());
    };
    const Told gentle{.braking_mps2 = 1.2};
    const auto stops = without_two(gentle);
    ASSERT_EQ(stops.size(), 1u);
    EXPECT_TRUE(stops[0].usable) << stops[0].why_not;
    EXPECT_NEAR(stops[0].distance_m, way_of(gentle), 2 * std::hypot(stops[0].distance_sd_m, stops[0].shared_sd_m));
    // A third of a short stop is not there: refused, and told why.
    const auto thin = without_two({});
    ASSERT_EQ(thin.size(), 1u);
    EXPECT_FALSE(thin[0].usable);
    EXPECT_FALSE(thin[0].why_not.empty());
}

TEST(Recorded, ARideWithoutAHaltHasNone) {
    ride::Track t = track_of({});
    t.t_s.resize(20), t.speed_mps.resize(20), t.latitude_deg.resize(20), t.longitude_deg.resize(20), t.altitude_m.resize(20);
    EXPECT_TRUE(recorded_stops(t, terms()).empty());
    EXPECT_TRUE(recorded_stops({}, terms()).empty());
}

TEST(Recorded, TheRecordersSmearStaysHoweverManyStopsThereAre) {
    // Twenty stops of a recorder know the gain no better than its smear lets them: shared by all of them.
    const auto width = [](int n, double shared_s) {
        ProofTerms t = terms();
        t.recorder_kept_s = shared_s;
        std::vector<ProofStop> stops;
        for (int i = 0; i < n; ++i) {
            stops.push_back(proof_stop_of({.from_mps = 8, .from_sd_mps = 0.1, .distance_m = 14, .distance_sd_m = 1, .why_not = {}}, 20000, "", Brakes::front, 60, Surface::dry));
        }
        const ProofBike bike{.mass_kg = 90, .air_kg_m = 0.3, .rolling_mps2 = 0.06, .threshold_N = 6, .threshold_sd_N = 2};
        const std::vector<double> gain(64, 0.04), hand(64, 150);
        return proof_gain(stops, parts::End::front, t, bike, {.gain = gain, .hand_N = hand}).stops_log_sd;
    };
    EXPECT_LT(width(5, 0.1), width(1, 0.1));
    EXPECT_GT(width(20, 0.3), 1.5 * width(20, 0.0));
    EXPECT_GT(width(20, 0.3), 0.8 * width(5, 0.3));
}

}  // namespace
}  // namespace bw::stop
