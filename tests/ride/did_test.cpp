// SPDX-License-Identifier: Apache-2.0
// What the brakes did: made rides whose answer is known by arithmetic, and sums that hold on any ride.
#include "ride/did.hpp"

#include <gtest/gtest.h>

#include <algorithm>
#include <cmath>
#include <numbers>

namespace bw::ride {
namespace {

// A ride second by second: speed and brake power of each cell [t, t+1), curvature, falling road.
struct Second {
    double speed_mps = 10, power_W = 0, curvature_1pm = 0, gradient = 0;
};

MotionPaths ride_of(const std::vector<Second>& seconds, std::size_t paths = 1) {
    MotionPaths m;
    double distance = 0, altitude = 1000;
    for (std::size_t i = 0; i <= seconds.size(); ++i) {
        const Second s = i < seconds.size() ? seconds[i] : Second{.speed_mps = seconds.back().speed_mps};
        m.distance_m.push_back(distance);
        m.altitude_m.push_back(altitude);
        m.speed_mps.push_back(s.speed_mps);
        m.gradient.push_back(s.gradient);
        m.curvature_1pm.push_back(s.curvature_1pm);
        m.paused.push_back(0);
        if (i == seconds.size()) break;
        distance += s.speed_mps;
        altitude += s.speed_mps * s.gradient;
    }
    m.acceleration_mps2.assign(m.size(), 0.0);
    m.duration_s = static_cast<double>(seconds.size());
    m.total_distance_m = distance;
    for (std::size_t k = 0; k < paths; ++k) {
        MotionPath p;
        for (const Second& s : seconds) p.brake_power_W.push_back(s.power_W * (1 + 0.1 * static_cast<double>(k)));
        p.brake_power_W.push_back(0);
        for (const double W : p.brake_power_W) p.brakes_J += W;
        m.paths.push_back(std::move(p));
    }
    return m;
}

// A pseudo-random number of its own, so that the test shares nothing with the program's sampling.
struct Dice {
    std::uint64_t state = 88172645463325252ULL;
    double operator()(double low, double high) {
        state ^= state << 13;
        state ^= state >> 7;
        state ^= state << 17;
        return low + (high - low) * static_cast<double>(state >> 11) / 9007199254740992.0;
    }
};

// Any ride: hills, bends, halts, braking with signed noise; own motion if asked.
MotionPaths any_ride(Dice& dice, bool own) {
    std::vector<Second> seconds;
    const auto n = static_cast<std::size_t>(dice(3, 900));
    double speed = dice(0, 12), grade = 0, curve = 0, power = 0;
    for (std::size_t i = 0; i < n; ++i) {
        if (dice(0, 1) < 0.05) grade = dice(-0.2, 0.15);
        if (dice(0, 1) < 0.1) curve = dice(-0.1, 0.1);
        if (dice(0, 1) < 0.1) power = dice(0, 1) < 0.5 ? 0 : dice(-200, 2500);
        speed = std::max(0.0, speed + dice(-2, 2));
        seconds.push_back({.speed_mps = dice(0, 1) < 0.05 ? 0 : speed, .power_W = power, .curvature_1pm = curve, .gradient = grade});
    }
    MotionPaths m = ride_of(seconds, 5);
    if (own)
        for (MotionPath& p : m.paths) {
            // The same way at another pace: later, with a wait at the end.
            const double pace = dice(0.7, 1.0);
            p.own.duration_s = m.duration_s;
            for (std::size_t i = 0; i < m.size(); ++i) {
                const double at = pace * static_cast<double>(i);
                const auto cell = std::min(m.size() - 2, static_cast<std::size_t>(at));
                const double part = std::min(1.0, at - static_cast<double>(cell));
                p.own.distance_m.push_back(m.distance_m[cell] + part * (m.distance_m[cell + 1] - m.distance_m[cell]));
                p.own.altitude_m.push_back(m.altitude_m[cell] + part * (m.altitude_m[cell + 1] - m.altitude_m[cell]));
                p.own.speed_mps.push_back(pace * m.speed_mps[cell]);
                p.own.acceleration_mps2.push_back(0);
                p.own.gradient.push_back(m.gradient[cell]);
            }
        }
    return m;
}

MotionPaths one_path(MotionPaths m, std::size_t k) {
    m.paths = {m.paths[k]};
    return m;
}

constexpr double rounding_J = 1e-6;   // sums of at most 900 terms of a few kilojoules

TEST(DidWindows, SumToTheRidesBrakeEnergyOnEveryPath) {
    Dice dice;
    for (int i = 0; i < 400; ++i) {
        const MotionPaths m = any_ride(dice, i % 2 == 1);
        for (std::size_t k = 0; k < m.paths.size(); ++k) {
            double sum = 0;
            for (const Window& w : windows_of(one_path(m, k), dice(1, 400))) sum += w.took.mean_J;
            EXPECT_NEAR(sum, m.paths[k].brakes_J, rounding_J) << i;
        }
    }
}

TEST(DidWindows, MeansOfTheWindowsSumToTheMeanOfTheRide) {
    Dice dice;
    const MotionPaths m = any_ride(dice, false);
    double sum = 0, ride = 0;
    for (const Window& w : windows_of(m)) sum += w.took.mean_J;
    for (const MotionPath& p : m.paths) ride += p.brakes_J / 5;
    EXPECT_NEAR(sum, ride, rounding_J);
}

TEST(DidWindows, AreFiveMinutesLongAndTheLastEndsWithTheRide) {
    const auto w = windows_of(ride_of(std::vector<Second>(700)));
    ASSERT_EQ(w.size(), 3u);
    EXPECT_EQ(w[1].start_s, 300);
    EXPECT_EQ(w[2].end_s, 700);
}

TEST(DidWindows, OfAPlannedRideEndWithItThoughSlowerCasesArriveLater) {
    MotionPaths m = ride_of(std::vector<Second>(1000));
    MotionPath& p = m.paths.front();
    p.own = {.distance_m = m.distance_m, .altitude_m = m.altitude_m, .speed_mps = m.speed_mps, .acceleration_mps2 = m.acceleration_mps2, .gradient = m.gradient, .duration_s = 700.5};
    m.paths.resize(1);
    m.duration_s = 700.5;   // the grid runs on to the slowest case
    std::fill(m.paths[0].brake_power_W.begin(), m.paths[0].brake_power_W.end(), 10.0);
    const auto windows = windows_of(m);
    ASSERT_EQ(windows.size(), 3u);
    EXPECT_EQ(windows.back().start_s, 600);
    EXPECT_EQ(windows.back().end_s, 700.5);
    double sum = 0;
    for (const Window& w : windows) sum += w.took.mean_J;
    EXPECT_NEAR(sum, 10.0 * static_cast<double>(m.paths[0].brake_power_W.size()), 1e-6) << "nothing is left out";
}

// Both cases brake on the first 3 km alone, with 50 J a metre: the slow one takes twice as long for them and passes 300 s with half of it to come.
TEST(DidWindows, OfAPlannedRideAreTheWayTheRideInTheMiddleMakesInThem) {
    const std::size_t n = 1300;
    MotionPaths m = ride_of(std::vector<Second>(n));
    m.paths.clear();
    for (const double mps : {10.0, 10.0, 5.0}) {
        MotionPath p;
        std::vector<double> way, speed, level(n + 1, 1000), flat(n + 1, 0);
        for (std::size_t i = 0; i <= n; ++i) {
            way.push_back(std::min(6000.0, mps * static_cast<double>(i)));
            speed.push_back(way.back() < 6000 ? mps : 0);
            p.brake_power_W.push_back(way.back() < 3000 ? 50 * mps : 0);
        }
        for (const double W : p.brake_power_W) p.brakes_J += W;
        p.own = {.distance_m = way, .altitude_m = level, .speed_mps = speed, .acceleration_mps2 = flat, .gradient = flat, .duration_s = 6000 / mps};
        m.paths.push_back(std::move(p));
    }
    m.distance_m = m.paths[0].own.distance_m;
    m.speed_mps = m.paths[0].own.speed_mps;
    m.duration_s = 600;
    const auto windows = windows_of(m);
    ASSERT_EQ(windows.size(), 2u);
    EXPECT_NEAR(windows[0].took.mean_J, 150e3, 1);
    EXPECT_NEAR(windows[1].took.mean_J, 0, 1) << "what a slow case brakes later on the same way is in the same window";
}

TEST(DidWindows, HoldWhatWasBrakedInThem) {
    std::vector<Second> s(650);
    for (std::size_t i = 290; i < 320; ++i) s[i].power_W = 1000;
    const auto w = windows_of(ride_of(s));
    EXPECT_NEAR(w[0].took.mean_J, 10000, rounding_J);
    EXPECT_NEAR(w[1].took.mean_J, 20000, rounding_J);
    EXPECT_NEAR(w[2].took.mean_J, 0, rounding_J);
}

// A left-hand bend of 120 degrees and radius 12 m at 6 m/s, braked for from 14 m/s over 40 m. All by arithmetic.
std::vector<Second> one_bend() {
    std::vector<Second> s(20, Second{.speed_mps = 14});
    for (const double v : {13.0, 11.0, 9.0, 7.0}) s.push_back({.speed_mps = v, .power_W = 1000});
    const double length = 12 * 120 * std::numbers::pi / 180;   // 25.13 m
    for (int i = 0; i < 4; ++i) s.push_back({.speed_mps = length / 4, .power_W = i < 2 ? 300.0 : 0.0, .curvature_1pm = 1.0 / 12});
    for (int i = 0; i < 30; ++i) s.push_back({.speed_mps = 10});
    return s;
}

TEST(DidBends, FindsTheBendWithItsTurnRadiusAndSide) {
    const auto bends = bends_of(ride_of(one_bend()));
    ASSERT_EQ(bends.size(), 1u);
    EXPECT_NEAR(bends[0].turn_deg, 120, 1e-9);
    EXPECT_NEAR(bends[0].radius_m, 12, 1e-9);
    EXPECT_NEAR(bends[0].start_m, 20 * 14 + 40, 1e-9);
    EXPECT_EQ(bends[0].start_s, 24);
    EXPECT_EQ(bends[0].end_s, 28);
}

TEST(DidBends, TheApproachAndTheBendItselfCount) {
    const auto bends = bends_of(ride_of(one_bend()));
    ASSERT_EQ(bends.size(), 1u);
    EXPECT_NEAR(bends[0].took.mean_J, 4000 + 600, rounding_J);
    EXPECT_NEAR(bends[0].approach_m, 20 * 14, 1e-9);
    EXPECT_NEAR(bends[0].approach_mps, 13, 1e-9);
    EXPECT_NEAR(bends[0].slowest_mps, 12 * 120 * std::numbers::pi / 180 / 4, 1e-9);
}

TEST(DidBends, ARightHandBendTurnsNegative) {
    std::vector<Second> s = one_bend();
    for (Second& x : s) x.curvature_1pm = -x.curvature_1pm;
    const auto bends = bends_of(ride_of(s));
    ASSERT_EQ(bends.size(), 1u);
    EXPECT_NEAR(bends[0].turn_deg, -120, 1e-9);
}

TEST(DidBends, BrakingLongBeforeTheBendIsNotItsApproach) {
    std::vector<Second> s = one_bend();
    s[5].power_W = 5000;   // 15 s of rolling lie between
    EXPECT_NEAR(bends_of(ride_of(s)).at(0).took.mean_J, 4600, rounding_J);
}

TEST(DidBends, ADragAtASteadySpeedBeforeTheBendIsNotItsApproach) {
    std::vector<Second> s(60, Second{.speed_mps = 6.3, .power_W = 400});
    for (int i = 0; i < 4; ++i) s.push_back({.speed_mps = 6.2, .power_W = 400, .curvature_1pm = 1.0 / 12});
    s.resize(100, Second{.speed_mps = 6.2, .power_W = 400});
    const auto bends = bends_of(ride_of(s));
    ASSERT_EQ(bends.size(), 1u);
    EXPECT_NEAR(bends[0].took.mean_J, 1600, rounding_J);
}

TEST(DidBends, AGentleCurveIsNoBend) {
    std::vector<Second> s(60, Second{.speed_mps = 10, .power_W = 100, .curvature_1pm = 1.0 / 100});
    EXPECT_TRUE(bends_of(ride_of(s)).empty());
}

TEST(DidBends, AShortStraightDoesNotCutABendInTwo) {
    std::vector<Second> s = one_bend();
    s.insert(s.begin() + 26, Second{.speed_mps = 6});
    const auto bends = bends_of(ride_of(s));
    ASSERT_EQ(bends.size(), 1u);
    EXPECT_NEAR(bends[0].turn_deg, 120, 1e-9);
}

TEST(DidBends, LeftThenRightAreTwoBends) {
    std::vector<Second> s(10, Second{.speed_mps = 8});
    for (int i = 0; i < 5; ++i) s.push_back({.speed_mps = 4, .power_W = 500, .curvature_1pm = 0.1});
    for (int i = 0; i < 5; ++i) s.push_back({.speed_mps = 4, .power_W = 700, .curvature_1pm = -0.1});
    s.resize(40);
    const auto bends = bends_of(ride_of(s));
    ASSERT_EQ(bends.size(), 2u);
    EXPECT_NEAR(bends[0].took.mean_J, 2500, rounding_J);
    EXPECT_NEAR(bends[1].took.mean_J, 3500, rounding_J);
}

TEST(DidBends, WithoutPlacesThereAreNone) {
    MotionPaths m = ride_of(one_bend());
    m.curvature_1pm.clear();
    EXPECT_TRUE(bends_of(m).empty());
    m.curvature_1pm.assign(m.size(), std::nan(""));
    EXPECT_TRUE(bends_of(m).empty());
}

TEST(DidBends, NoMetreCountsForTwoBends) {
    Dice dice;
    for (int i = 0; i < 400; ++i) {
        const MotionPaths m = any_ride(dice, i % 2 == 1);
        double end = -1;
        for (const Bend& b : bends_of(m)) {
            EXPECT_GE(b.approach_m, end);
            EXPECT_GE(b.start_m, b.approach_m);
            EXPECT_GT(b.end_m, b.start_m);
            EXPECT_GE(b.entry_mps, b.slowest_mps);
            EXPECT_GE(std::abs(b.turn_deg), 30);
            EXPECT_LE(b.radius_m, 80);
            end = b.end_m;
        }
    }
}

// 30 s at 10 m/s, then 2 m/s less every second with 800, 600, 400, 200, 0 W, then 20 s standing.
std::vector<Second> one_stop() {
    std::vector<Second> s(30);
    for (int i = 0; i < 5; ++i) s.push_back({.speed_mps = 10.0 - 2 * i, .power_W = 800 - 200.0 * i});
    for (int i = 0; i < 20; ++i) s.push_back({.speed_mps = 0});
    return s;
}

TEST(DidHalts, FindsTheStopWithItsSpeedTimeAndEnergy) {
    const auto halts = halts_of(ride_of(one_stop()));
    ASSERT_EQ(halts.size(), 1u);
    EXPECT_EQ(halts[0].start_s, 30);
    EXPECT_EQ(halts[0].end_s, 35);
    EXPECT_NEAR(halts[0].from_mps, 10, 1e-12);
    EXPECT_NEAR(halts[0].mean_deceleration_mps2, 2, 1e-12);
    EXPECT_NEAR(halts[0].took.mean_J, 2000, rounding_J);
}

TEST(DidHalts, RollingOutWithoutBrakesIsNoBrakedStop) {
    std::vector<Second> s = one_stop();
    for (Second& x : s) x.power_W = 0;
    EXPECT_TRUE(halts_of(ride_of(s)).empty());
}

TEST(DidHalts, SlowingWithoutStandingIsNone) {
    std::vector<Second> s = one_stop();
    for (Second& x : s) x.speed_mps = std::max(x.speed_mps, 1.5);
    EXPECT_TRUE(halts_of(ride_of(s)).empty());
}

TEST(DidHalts, ARecorderThatPausesInTheLastMetresStillShowsTheStop) {
    MotionPaths m = ride_of(one_stop());
    for (std::size_t i = 35; i < m.size(); ++i) {
        m.speed_mps[i] = 2;   // the last speed it wrote
        m.paused[i] = 1;
    }
    EXPECT_EQ(halts_of(m).size(), 1u);
}

TEST(DidHalts, TwoStopsDoNotShareTheirBraking) {
    std::vector<Second> s = one_stop(), more = one_stop();
    s.insert(s.end(), more.begin(), more.end());
    const auto halts = halts_of(ride_of(s));
    ASSERT_EQ(halts.size(), 2u);
    EXPECT_NEAR(halts[0].took.mean_J + halts[1].took.mean_J, 4000, rounding_J);
}

TEST(DidHalts, OfOwnMotionCountThePathThatHaltsThere) {
    // The other path does not halt here; half of a stop would be nobody's.
    MotionPaths m = ride_of(one_stop(), 2);
    for (MotionPath& p : m.paths)
        p.own = {.distance_m = m.distance_m, .altitude_m = m.altitude_m, .speed_mps = m.speed_mps, .acceleration_mps2 = m.acceleration_mps2, .gradient = m.gradient, .duration_s = m.duration_s};
    m.paths[1].own.duration_s += 10;
    m.paths[1].brake_power_W.assign(m.size(), 0.0);
    const auto halts = halts_of(m);
    ASSERT_EQ(halts.size(), 1u);
    EXPECT_NEAR(halts[0].took.mean_J, 2000, rounding_J);
}

TEST(DidDescent, StepsOfAHundredMetresHoldWhatWasBrakedInThem) {
    // 250 m down at 1 m a second with 500 W, then level with 50 W for a while, then up.
    std::vector<Second> s(250, Second{.speed_mps = 10, .power_W = 500, .gradient = -0.1});
    for (int i = 0; i < 60; ++i) s.push_back({.speed_mps = 10, .power_W = 50});
    for (int i = 0; i < 50; ++i) s.push_back({.speed_mps = 3, .gradient = 0.1});
    const Descent d = descent_of(ride_of(s));
    ASSERT_EQ(d.steps.size(), 3u);
    EXPECT_NEAR(d.steps[0].took.mean_J, 50000, 1e-3);   // altitudes of a thousand metres in doubles: 1e-13 of a second's share
    EXPECT_NEAR(d.steps[1].took.mean_J, 50000, 1e-3);
    EXPECT_NEAR(d.steps[2].took.mean_J, 25000, 1e-3);
    EXPECT_NEAR(d.steps[2].to_m, 250, 1e-9);
    EXPECT_NEAR(d.rest.mean_J, 3000, rounding_J);
}

TEST(DidDescent, AltitudeNoiseOnTheLevelMakesNoDescent) {
    Dice dice;
    std::vector<Second> s(600, Second{.power_W = 20});
    MotionPaths m = ride_of(s);
    for (double& a : m.altitude_m) a += dice(-0.9, 0.9);
    const Descent d = descent_of(m);
    EXPECT_TRUE(d.steps.empty());
    EXPECT_NEAR(d.rest.mean_J, 12000, rounding_J);
}

TEST(DidDescent, ALiftDownIsNoDescent) {
    std::vector<Second> s(200, Second{.gradient = -0.1});
    MotionPaths m = ride_of(s);
    m.paused.assign(m.size(), 1);
    EXPECT_TRUE(descent_of(m).steps.empty());
}

TEST(DidDescent, StepsAndRestSumToTheRidesBrakeEnergyOnEveryPath) {
    Dice dice;
    for (int i = 0; i < 400; ++i) {
        const MotionPaths m = any_ride(dice, i % 2 == 1);
        for (std::size_t k = 0; k < m.paths.size(); ++k) {
            const Descent d = descent_of(one_path(m, k), dice(20, 200));
            double sum = d.rest.mean_J;
            for (const DescentStep& s : d.steps) sum += s.took.mean_J;
            EXPECT_NEAR(sum, m.paths[k].brakes_J, rounding_J) << i;
        }
    }
}

TEST(DidDescent, MetresOfTheStepsAreTheHeightLostBetweenTurns) {
    std::vector<Second> s(100, Second{.speed_mps = 10, .gradient = -0.1});   // 100 m down
    for (int i = 0; i < 100; ++i) s.push_back({.speed_mps = 5, .gradient = 0.1});   // 50 m up
    for (int i = 0; i < 40; ++i) s.push_back({.speed_mps = 10, .gradient = -0.1});  // 40 m down
    EXPECT_NEAR(descent_of(ride_of(s)).steps.back().to_m, 140, 1e-9);
}

TEST(DidHardest, FindsTheTenSecondsWithTheMostPower) {
    std::vector<Second> s(300, Second{.power_W = 100});
    for (std::size_t i = 200; i < 210; ++i) s[i] = {.speed_mps = 8, .power_W = 3000, .gradient = -0.15};
    const auto e = hardest_of(ride_of(s), 10);
    ASSERT_TRUE(e);
    EXPECT_EQ(e->start_s, 200);
    EXPECT_NEAR(e->power_W.p50, 3000, 1e-9);
    EXPECT_NEAR(e->gradient, -0.15, 1e-12);
    EXPECT_NEAR(e->distance_m, 2040, 1e-9);
    EXPECT_NEAR(hardest_of(ride_of(s), 60)->power_W.p50, (10 * 3000 + 50 * 100) / 60.0, 1e-9);
}

TEST(DidHardest, IsNothingWithoutBraking) { EXPECT_FALSE(hardest_of(ride_of(std::vector<Second>(100)), 10)); }

TEST(DidHardest, OfAShortRideIsTheRide) {
    const auto e = hardest_of(ride_of(std::vector<Second>(5, Second{.power_W = 70})), 10);
    ASSERT_TRUE(e);
    EXPECT_EQ(e->over_s, 5);
    EXPECT_NEAR(e->power_W.p50, 70, 1e-9);
}

TEST(DidHardest, NoisyPathsDoNotRaiseIt) {
    // 64 paths of pure noise about 100 W: each path's own largest ten seconds would be far above.
    Dice dice;
    MotionPaths m = ride_of(std::vector<Second>(1000, Second{.power_W = 100}), 64);
    for (MotionPath& p : m.paths)
        for (double& W : p.brake_power_W) W = 100 + dice(-300, 300);
    EXPECT_LT(hardest_of(m, 10)->power_W.p50, 130);
}

TEST(DidHardest, OwnMotionCountsEachPathsOwnHardestTime) {
    // The same brake pull of 10 s, later on the slower path: their mean second by second would show half of it twice.
    MotionPaths m = ride_of(std::vector<Second>(200), 3);
    for (std::size_t k = 0; k < 3; ++k) {
        MotionPath& p = m.paths[k];
        p.own = {.distance_m = m.distance_m, .altitude_m = m.altitude_m, .speed_mps = m.speed_mps, .acceleration_mps2 = m.acceleration_mps2, .gradient = m.gradient, .duration_s = 200};
        for (std::size_t i = 50 + 20 * k; i < 60 + 20 * k; ++i) p.brake_power_W[i] = 900;
    }
    const auto e = hardest_of(m, 10);
    ASSERT_TRUE(e);
    EXPECT_NEAR(e->power_W.p05, 900, 1e-9);
    EXPECT_NEAR(e->power_W.p95, 900, 1e-9);
}

TEST(Did, OwnMotionSpendsTheEnergyAtTheSamePlaceWhateverTheTime) {
    // Every path brakes 1,000 J in each of the ten metres before the bend and reaches them at its own time.
    MotionPaths m = ride_of(one_bend(), 2);
    const MotionPaths plain = m;
    for (std::size_t k = 0; k < 2; ++k) {
        MotionPath& p = m.paths[k];
        p.own = {.distance_m = m.distance_m, .altitude_m = m.altitude_m, .speed_mps = m.speed_mps, .acceleration_mps2 = m.acceleration_mps2, .gradient = m.gradient, .duration_s = m.duration_s};
        if (k == 1) {   // waits three seconds at the start
            const auto late = [](std::vector<double>& v, double first) {
                v.insert(v.begin(), 3, first);
                v.erase(v.end() - 3, v.end());
            };
            late(p.own.distance_m, 0);
            late(p.own.altitude_m, 1000);
            late(p.own.speed_mps, 0);
            late(p.own.gradient, 0);
            late(p.brake_power_W, 0);
        }
    }
    const auto a = bends_of(plain), b = bends_of(m);
    ASSERT_EQ(a.size(), b.size());
    EXPECT_NEAR(a[0].took.mean_J, b[0].took.mean_J, rounding_J);
    EXPECT_NEAR(a[0].took.energy_J.p95, b[0].took.energy_J.p95, rounding_J);
}

TEST(Did, EveryPartIsFiniteOnAnyRide) {
    Dice dice;
    for (int i = 0; i < 200; ++i) {
        const MotionPaths m = any_ride(dice, i % 2 == 1);
        const BrakesDid d = brakes_did(m);
        for (const Window& w : d.windows) EXPECT_TRUE(std::isfinite(w.took.energy_J.p95) && w.took.energy_J.p05 <= w.took.energy_J.p95);
        for (const Bend& b : d.bends) EXPECT_TRUE(std::isfinite(b.took.mean_J) && std::isfinite(b.approach_mps) && std::isfinite(b.radius_m));
        for (const Halt& h : d.halts) EXPECT_TRUE(std::isfinite(h.took.mean_J) && h.mean_deceleration_mps2 > 0);
    }
}

TEST(DidHardest, AMinuteIsNeverHarderThanItsHardestTenSeconds) {
    Dice dice;
    for (int i = 0; i < 200; ++i) {
        const MotionPaths m = one_path(any_ride(dice, i % 2 == 1), 0);
        const auto ten = hardest_of(m, 10), minute = hardest_of(m, 60);
        if (ten && minute && minute->over_s == 60) { EXPECT_GE(ten->power_W.p50, minute->power_W.p50 - 1e-9); }
    }
}

}  // namespace
}  // namespace bw::ride
