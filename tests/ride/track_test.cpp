// SPDX-License-Identifier: Apache-2.0
// Cleaning: what is done with each fault, and that good data stays as it is.
#include <gtest/gtest.h>

#include <algorithm>
#include <chrono>
#include <numeric>

#include "base/sampling.hpp"
#include "read_samples.hpp"

using namespace bw;
using namespace bw::ride;
using namespace bw::ride::samples;

namespace {

//! Csv of a made ride with positions but neither distance nor speed.
std::string positions_csv(const std::vector<MadeRecord>& ride) {
    std::string out = "t_s,latitude_deg,longitude_deg,altitude_m\n";
    for (const auto& r : ride) out += fmt::format("{},{:.7f},{:.7f},{:.2f}\n", r.t_s, r.latitude_deg, r.longitude_deg, r.altitude_m);
    return out;
}

}  // namespace

TEST(Cleaning, ACleanFileComesOutUntouchedAndWithoutFaults) {
    const auto ride = made_ride(2000);
    for (const auto& bytes : {as_csv(ride), as_gpx(ride)}) {
        const auto t = read(bytes);
        EXPECT_TRUE(t.faults.empty()) << faults_text(t);
        ASSERT_EQ(t.size(), ride.size());
        for (std::size_t i = 0; i < ride.size(); ++i) {
            // Half a unit of the last digit written.
            ASSERT_EQ(t.t_s[i], ride[i].t_s);
            ASSERT_NEAR(t.latitude_deg[i], ride[i].latitude_deg, 0.51e-7);
            ASSERT_NEAR(t.longitude_deg[i], ride[i].longitude_deg, 0.51e-7);
            ASSERT_NEAR(t.altitude_m[i], ride[i].altitude_m, 0.0051);
        }
        EXPECT_EQ(broken_promise(t), "");
        EXPECT_EQ(t.content_hash, hash_of(bytes));
        EXPECT_TRUE(stretches_of(t).empty());
    }
}

TEST(Cleaning, TenthsOfASecondStayTenths) {
    const auto t = read(as_gpx(made_ride(50, 0.1)));
    ASSERT_EQ(t.size(), 50u);
    for (std::size_t i = 0; i < t.size(); ++i) EXPECT_DOUBLE_EQ(t.t_s[i], 0.1 * static_cast<double>(i));
}

TEST(Cleaning, EqualTimesKeepTheFirstAndTakeWhatItLacks) {
    const auto t = read("t_s,speed_mps,power_W\n0,5,100\n1,6,\n1,9,120\n2,7,110\n");
    ASSERT_EQ(t.size(), 3u);
    EXPECT_EQ(t.speed_mps[1], 6);
    EXPECT_EQ(t.power_W[1], 120);
    EXPECT_EQ(count_of(t, FaultKind::duplicate_time), 1);
}

TEST(Cleaning, TimesCloserThanHalfAMillisecondAreOne) {
    EXPECT_EQ(read("t_s,speed_mps\n0,5\n1,5\n1.0004,5\n1.001,5\n2,5\n").t_s, (std::vector<double>{0, 1, 1.001, 2}));
}

TEST(Cleaning, AllRecordsAtOneTimeIsAnError) { EXPECT_NE(error_of("t_s,speed_mps\n5,1\n5,2\n5,3\n").find("same time"), std::string::npos); }

TEST(Cleaning, ASwappedRecordIsPutInItsPlace) {
    auto ride = made_ride(100);
    const auto straight = read(as_csv(ride));
    std::swap(ride[40], ride[41]);
    const auto t = read(as_csv(ride));
    EXPECT_EQ(t.t_s, straight.t_s);
    EXPECT_EQ(t.altitude_m, straight.altitude_m);
    EXPECT_EQ(count_of(t, FaultKind::clock_jump), 1);
}

TEST(Cleaning, ARideStoredNewestFirstIsTurnedRound) {
    auto ride = made_ride(300);
    const auto straight = read(as_csv(ride));
    std::reverse(ride.begin(), ride.end());
    const auto t = read(as_csv(ride));
    EXPECT_EQ(t.t_s, straight.t_s);
    EXPECT_EQ(t.distance_m, straight.distance_m);
    EXPECT_TRUE(fault_of(t, FaultKind::clock_jump));
}

TEST(Cleaning, SegmentsInTheWrongOrderAreSorted) {
    const auto ride = made_ride(400);
    std::string xml = gpx_head;
    for (std::size_t i = 200; i < 400; ++i) xml += gpx_point(ride[i]);
    xml += "</trkseg><trkseg>";
    for (std::size_t i = 0; i < 200; ++i) xml += gpx_point(ride[i]);
    const auto t = read(xml + gpx_tail);
    ASSERT_EQ(t.size(), 400u);
    EXPECT_NEAR(t.altitude_m[0], ride[0].altitude_m, 0.006);
    EXPECT_TRUE(fault_of(t, FaultKind::clock_jump));
    EXPECT_TRUE(t.break_before[200]);
}

TEST(Cleaning, AClockThatStepsBackAnHourMidRideIsMovedOnAndNoRecordIsLost) {
    auto ride = made_ride(9000);
    for (std::size_t i = 5000; i < ride.size(); ++i) ride[i].t_s -= 3600;
    const auto t = read(as_csv(ride));
    ASSERT_EQ(t.size(), ride.size());
    EXPECT_EQ(t.t_s.back(), 8999);
    EXPECT_NEAR(t.distance_m.back(), ride.back().distance_m, 0.006);
    ASSERT_TRUE(fault_of(t, FaultKind::clock_jump));
    EXPECT_NE(fault_of(t, FaultKind::clock_jump)->text.find("60 minutes"), std::string::npos) << faults_text(t);
}

TEST(Cleaning, AStartWithAWrongDateJoinsTheRideThatFollows) {
    auto ride = made_ride(1000);
    for (std::size_t i = 0; i < 150; ++i) ride[i].t_s -= 7000.0 * 86400;
    const auto t = read(as_csv(ride));
    ASSERT_EQ(t.size(), 1000u);
    EXPECT_EQ(t.t_s.back(), 999);
    EXPECT_NE(fault_of(t, FaultKind::clock_jump)->text.find("7000 days"), std::string::npos) << faults_text(t);
}

TEST(Cleaning, ALastRecordDecadesAheadIsLeftOut) {
    auto ride = made_ride(500);
    ride.back().t_s += 64 * 365.25 * 86400;
    const auto t = read(as_csv(ride));
    EXPECT_EQ(t.size(), 499u);
    EXPECT_EQ(t.t_s.back(), 498);
    EXPECT_TRUE(fault_of(t, FaultKind::clock_jump));
}

TEST(Cleaning, ALoneStrayTimeMidRideIsLeftOutAndTheRestStays) {
    for (const double stray : {10800.0, -10800.0, 1e8, -1e8}) {
        auto ride = made_ride(6000);
        ride[3000].t_s += stray;
        const auto t = read(as_csv(ride));
        EXPECT_EQ(t.size(), 5999u) << stray;
        EXPECT_EQ(t.t_s.back(), 5999) << stray;
        EXPECT_TRUE(fault_of(t, FaultKind::clock_jump));
    }
}

TEST(Cleaning, OfTwoRidesDaysApartTheLongerIsReadAndTheOtherIsNamed) {
    auto ride = made_ride(1000);
    for (std::size_t i = 700; i < ride.size(); ++i) ride[i].t_s += 3 * 86400, ride[i].latitude_deg += 1;
    std::string csv = positions_csv(ride);
    const auto t = read(csv);
    EXPECT_EQ(t.size(), 700u);
    EXPECT_NE(fault_of(t, FaultKind::clock_jump)->text.find("300 records"), std::string::npos) << faults_text(t);
}

TEST(Cleaning, TheSameRideTwiceInOneFileIsReadOnce) {
    const auto ride = made_ride(500);
    std::string xml = as_gpx(ride);
    xml.insert(xml.find("</trk>") + 6, "<trk><trkseg>" + xml.substr(gpx_head.size(), xml.find("</trkseg>") - gpx_head.size()) + "</trkseg></trk>");
    const auto t = read(xml);
    EXPECT_EQ(t.size(), 500u);
    EXPECT_EQ(t.t_s.back(), 499);
    EXPECT_EQ(count_of(t, FaultKind::duplicate_time), 500);
}

TEST(Cleaning, RowsOfTwoSensorsOneAfterTheOtherAreWovenTogether) {
    const auto ride = made_ride(300);
    std::string csv = "t_s,latitude_deg,longitude_deg,altitude_m,power_W\n";
    for (const auto& r : ride) csv += fmt::format("{},{:.7f},{:.7f},{:.2f},\n", r.t_s, r.latitude_deg, r.longitude_deg, r.altitude_m);
    for (const auto& r : ride) csv += fmt::format("{},,,,150\n", r.t_s);
    const auto t = read(csv);
    ASSERT_EQ(t.size(), 300u) << faults_text(t);
    for (std::size_t i = 0; i < 300; ++i) EXPECT_EQ(t.power_W[i], 150);
    EXPECT_EQ(count_of(t, FaultKind::duplicate_time), 300);
}

TEST(Cleaning, APositionThatLeapsAwayAndBackIsNotKnown) {
    for (const std::size_t i : {0, 1, 500, 998, 999}) {
        auto ride = made_ride(1000);
        ride[i].latitude_deg += 0.002;   // 222 m
        const auto t = read(positions_csv(ride));
        ASSERT_EQ(t.size(), 1000u);
        for (std::size_t k = 0; k < 1000; ++k) EXPECT_EQ(std::isnan(t.latitude_deg[k]), k == i) << i << ' ' << k;
        EXPECT_EQ(count_of(t, FaultKind::position_jump), 1) << i;
        EXPECT_EQ(broken_promise(t), "");
    }
}

TEST(Cleaning, PositionsOffTheGlobeAndAtZeroZeroAreNotKnown) {
    auto ride = made_ride(100);
    ride[10].latitude_deg = 91;
    ride[20].longitude_deg = -180.5;
    ride[30].latitude_deg = ride[30].longitude_deg = 0;
    const auto t = read(positions_csv(ride));
    for (const std::size_t i : {10, 20, 30}) EXPECT_TRUE(std::isnan(t.latitude_deg[i]) && std::isnan(t.longitude_deg[i]));
    EXPECT_EQ(count_of(t, FaultKind::position_jump), 2);
    EXPECT_EQ(count_of(t, FaultKind::no_position), 1);
}

TEST(Cleaning, ALoneAltitudeSpikeIsNotKnownAndASteepDescentStays) {
    auto ride = made_ride(600);
    ride[300].altitude_m += 60;
    const auto t = read(as_csv(ride));
    EXPECT_TRUE(std::isnan(t.altitude_m[300]));
    EXPECT_EQ(std::count_if(t.altitude_m.begin(), t.altitude_m.end(), [](double z) { return std::isnan(z); }), 1);
    EXPECT_EQ(count_of(t, FaultKind::altitude_spike), 1);
    auto steep = made_ride(600);
    for (auto& r : steep) r.altitude_m = 2500 - 3.5 * r.t_s;   // half as steep as it is long
    EXPECT_TRUE(read(as_csv(steep)).faults.empty());
}

TEST(Cleaning, ALoneCrestBetweenSparseRecordsIsNoSpike) {
    auto ride = made_ride(200, 30);
    for (std::size_t i = 0; i < ride.size(); ++i) ride[i].altitude_m = i % 2 ? 540 : 500;
    const auto t = read(as_csv(ride));
    EXPECT_EQ(count_of(t, FaultKind::altitude_spike), 0);
}

TEST(Cleaning, ZerosBeforeTheFirstAltitudeAreNotKnown) {
    auto ride = made_ride(600);
    for (std::size_t i = 0; i < 40; ++i) ride[i].altitude_m = 0;
    const auto t = read(as_csv(ride));
    for (std::size_t i = 0; i < 600; ++i) EXPECT_EQ(std::isnan(t.altitude_m[i]), i < 40) << i;
    EXPECT_TRUE(fault_of(t, FaultKind::altitude_spike));
    EXPECT_TRUE(fault_of(t, FaultKind::no_altitude));
}

TEST(Cleaning, SpeedSpikesUpAndDropsToZeroAreNotKnownAndHardBrakingStays) {
    auto ride = made_ride(600);
    ride[100].speed_mps = 63;
    ride[200].speed_mps = ride[201].speed_mps = 40;
    const auto t = read(as_csv(ride));
    EXPECT_TRUE(std::isnan(t.speed_mps[100]) && std::isnan(t.speed_mps[200]) && std::isnan(t.speed_mps[201]));
    EXPECT_EQ(count_of(t, FaultKind::speed_spike), 3);
    auto braking = made_ride(600);
    for (std::size_t i = 300; i < 303; ++i) braking[i].speed_mps = 0;   // 7 m/s to rest within a second and off again
    EXPECT_TRUE(read(as_csv(braking)).faults.empty());
}

TEST(Cleaning, ADistanceThatStartsAgainIsJoinedAndALeapIsTakenOut) {
    const auto ride = made_ride(600);
    auto reset = ride, leap = ride;
    for (std::size_t i = 300; i < 600; ++i) reset[i].distance_m -= ride[299].distance_m;
    const auto t = read(as_csv(reset));
    EXPECT_NEAR(t.distance_m.back(), ride.back().distance_m, 0.03);   // three roundings to a centimetre
    EXPECT_EQ(count_of(t, FaultKind::other), 1) << faults_text(t);
    for (std::size_t i = 300; i < 600; ++i) leap[i].distance_m += 65;
    const auto u = read(as_csv(leap));
    EXPECT_NEAR(u.distance_m.back(), ride.back().distance_m, 1);   // mended from positions of 1e-7 degrees and a sine's bend
    EXPECT_EQ(count_of(u, FaultKind::speed_spike), 1);
}

TEST(Cleaning, WheelTurnsCountedTooManyAreTakenOutWherePositionsDenyThem) {
    const auto ride = made_ride(600);
    auto leaps = ride;
    for (std::size_t i = 0; i < 600; ++i) leaps[i].distance_m += 20.0 * static_cast<double>((i >= 200) + (i >= 202) + (i >= 400));
    const auto t = read(as_csv(leaps));
    EXPECT_NEAR(t.distance_m.back(), ride.back().distance_m, 1);   // each mended with the speed of the step before: 0.1 m off
    EXPECT_EQ(count_of(t, FaultKind::speed_spike), 3);
}

TEST(Cleaning, PulsesThatAWheelSensorMissedAreGivenBackWherePositionsGoOnAndHardBrakingStays) {
    const auto ride = made_ride(600);
    auto missed = ride;
    double lost_m = 0;
    for (std::size_t i = 1; i < 600; ++i) {
        const bool dip = i > 50 && i % 40 < 2 && i < 590;   // two records of forty, a dozen times
        if (dip) missed[i].speed_mps = 0.5 * ride[i].speed_mps, lost_m += 0.5 * ride[i].speed_mps;
        missed[i].distance_m = ride[i].distance_m - lost_m;
    }
    const auto t = read(as_csv(missed));
    EXPECT_EQ(count_of(t, FaultKind::speed_spike), 13) << faults_text(t);
    EXPECT_NEAR(t.distance_m.back(), ride.back().distance_m, 13 * 1.0);   // a metre each: the speed before and after stands for it
    EXPECT_LT(missed.back().distance_m, ride.back().distance_m - 80);
    for (std::size_t i = 0; i < t.size(); ++i) ASSERT_TRUE(std::isnan(t.speed_mps[i]) || std::abs(t.speed_mps[i] - ride[i].speed_mps) < 0.01) << i;
    // The same dips ridden: the positions say so, and nothing is touched.
    auto braked = ride;
    double d = 0;
    for (std::size_t i = 0; i < 600; ++i) {
        braked[i].speed_mps = missed[i].speed_mps;
        braked[i].distance_m = d;
        braked[i].latitude_deg = 46.5 + d / 111170;
        d += braked[i].speed_mps;
    }
    EXPECT_EQ(count_of(read(as_csv(braked)), FaultKind::speed_spike), 0);
}

TEST(Cleaning, AFixThatComesASecondLateTakesNoDistanceAway) {
    auto fast = made_ride(600);
    for (std::size_t i = 0; i < 600; ++i) {
        const double d = 20.0 * static_cast<double>(i);
        fast[i].distance_m = d, fast[i].speed_mps = 20, fast[i].altitude_m = 1200;
        fast[i].latitude_deg = 46.5 + 20.0 * static_cast<double>(i % 10 == 5 ? i - 1 : i) / 111170;
    }
    const auto t = read(as_csv(fast));
    EXPECT_NEAR(t.distance_m.back(), 20 * 599.0, 0.006);
    EXPECT_EQ(count_of(t, FaultKind::speed_spike), 0) << faults_text(t);
}

// Straight lines between positions are shorter than a way that bends: hairpins and a helix contradict no wheel.
TEST(Cleaning, BendsContradictNoSpeedAndNoDistance) {
    for (const double radius_m : {16.0, 25.0, 35.0, 60.0})
        for (const bool serpentine : {false, true}) {
            auto ride = made_ride(900);
            double east_m = 0, north_m = 0, heading = 0, way_m = 0;
            for (auto& r : ride) {
                r.latitude_deg = 46 + north_m / 111195.0;
                r.longitude_deg = 8 + east_m / (111195.0 * std::cos(46 * std::numbers::pi / 180));
                r.speed_mps = 6, r.distance_m = way_m;
                for (int piece = 0; piece < 20; ++piece) {
                    const double ds = 0.3, way = way_m + ds * piece;
                    heading += (serpentine && std::fmod(way, 50) > 25 ? -1 : 1) * ds / radius_m;
                    east_m += ds * std::sin(heading), north_m += ds * std::cos(heading);
                }
                way_m += 6;
            }
            const auto t = read(as_csv(ride));
            EXPECT_TRUE(t.faults.empty()) << radius_m << serpentine << faults_text(t);
            EXPECT_NEAR(t.speed_mps[100], 6, 1e-3);
            EXPECT_EQ(t.latitude_deg.size(), ride.size());
        }
}

TEST(Cleaning, ASpeedInKilometresAnHourIsFoundByThePositionsAndConverted) {
    auto ride = made_ride(600);
    for (auto& r : ride) r.speed_mps *= 3.6;
    const auto t = read(as_csv(ride));
    EXPECT_NEAR(t.speed_mps[30], made_ride(600)[30].speed_mps, 0.001);
    ASSERT_EQ(t.faults.size(), 1u) << faults_text(t);
    EXPECT_NE(t.faults[0].text.find("km/h"), std::string::npos);
}

// Units by their definition: 1 mile = 1609.344 m, 1 ft = 0.3048 m, 1 knot = 1852 m/h, 1 km/h = 1/3.6 m/s.
TEST(Cleaning, AnOddUnitIsFoundByTheOtherChannelsAndConverted) {
    struct Wrong {
        double speed, distance;
        const char* said;
    };
    const auto made = made_ride(900);
    for (const Wrong& w : {Wrong{3.6, 1, "km/h"}, Wrong{3600 / 1609.344, 1, "miles an hour"}, Wrong{3600.0 / 1852, 1, "knots"}, Wrong{1, 0.001, "kilometres"}, Wrong{1, 1 / 1609.344, "miles"}, Wrong{1, 1 / 0.3048, "feet"}})
        for (const char* channels : {"all", "no positions", "positions and the odd one"}) {
            auto ride = made;
            for (auto& r : ride) r.speed_mps *= w.speed, r.distance_m *= w.distance;
            std::string csv = "t_s,latitude_deg,longitude_deg,altitude_m,distance_m,speed_mps\n";
            const bool positions = std::string_view(channels) != "no positions", only_odd = std::string_view(channels) == "positions and the odd one";
            for (const auto& r : ride)
                csv += fmt::format("{},{},{},{:.2f},{},{}\n", r.t_s, positions ? fmt::format("{:.7f}", r.latitude_deg) : "", positions ? fmt::format("{:.7f}", r.longitude_deg) : "", r.altitude_m,
                                   only_odd && w.distance == 1 ? "" : fmt::format("{:.5f}", r.distance_m), only_odd && w.speed == 1 ? "" : fmt::format("{:.3f}", r.speed_mps));
            const auto t = read(csv);
            EXPECT_NE(faults_text(t).find(w.said), std::string::npos) << w.said << ", " << channels << ": " << faults_text(t);
            EXPECT_EQ(count_of(t, FaultKind::other), 900) << w.said << ", " << channels << ": " << faults_text(t);
            if (!t.speed_mps.empty()) { EXPECT_NEAR(t.speed_mps[30], made[30].speed_mps, 0.01) << w.said << ", " << channels; }
            if (!t.distance_m.empty()) { EXPECT_NEAR(t.distance_m.back() / made.back().distance_m, 1, 0.005) << w.said << ", " << channels; }
        }
}

TEST(Cleaning, OfThreeChannelsTheOddOneIsNotBelievedAndOfAWheelThatIsWrongThePositionsStand) {
    const auto made = made_ride(900);
    const auto read_with = [&](double speed, double distance, double north) {
        auto ride = made;
        for (auto& r : ride) r.speed_mps *= speed, r.distance_m *= distance, r.latitude_deg = 46.5 + (r.latitude_deg - 46.5) * north;
        return read(as_csv(ride));
    };
    for (const double most : {1.0, 1.15, 0.9}) EXPECT_TRUE(read_with(most, 1, 1).faults.empty()) << most;
    const auto odd_speed = read_with(1.4, 1, 1);
    EXPECT_TRUE(odd_speed.speed_mps.empty() && !odd_speed.distance_m.empty() && !odd_speed.latitude_deg.empty()) << faults_text(odd_speed);
    const auto odd_count = read_with(1, 0.7, 1);
    EXPECT_TRUE(odd_count.distance_m.empty() && !odd_count.speed_mps.empty()) << faults_text(odd_count);
    const auto wrong_wheel = read_with(0.6, 0.6, 1);
    EXPECT_TRUE(wrong_wheel.distance_m.empty() && wrong_wheel.speed_mps.empty() && !wrong_wheel.latitude_deg.empty()) << faults_text(wrong_wheel);
    // Positions with less way than both others: bends cut short by a receiver, or a map of another scale.
    const auto short_positions = read_with(1, 1, 0.6);
    EXPECT_TRUE(short_positions.latitude_deg.empty() && !short_positions.distance_m.empty()) << faults_text(short_positions);
}

TEST(Cleaning, ASpeedAloneThatNoBicycleGoesIsSaid) {
    std::string csv = "t_s,altitude_m,speed_mps\n";
    for (int i = 0; i < 600; ++i) csv += fmt::format("{},{},{}\n", i, 1000 - 0.5 * i, 3.6 * (8 + i % 3));
    EXPECT_NE(faults_text(read(csv)).find("hardly a bicycle"), std::string::npos);
    EXPECT_EQ(faults_text(read(as_csv(made_ride(600)))).find("hardly"), std::string::npos);
}

TEST(Cleaning, AMissingAltitudeIsSaidAndTheRideIsRead) {
    const auto t = read("t_s,speed_mps\n0,5\n1,5\n2,5\n");
    EXPECT_TRUE(t.altitude_m.empty());
    EXPECT_TRUE(fault_of(t, FaultKind::no_altitude));
    EXPECT_TRUE(fault_of(t, FaultKind::no_position));
}

TEST(Cleaning, ChannelsThatNeverMoveAreDroppedOnlyIfTheRideDeniesThem) {
    const auto ride = made_ride(600);
    std::string zeros = "t_s,latitude_deg,longitude_deg,altitude_m,distance_m,speed_mps,power_W\n", up = zeros;
    for (const auto& r : ride) {
        zeros += fmt::format("{},{:.7f},{:.7f},{:.2f},0,0,0\n", r.t_s, r.latitude_deg, r.longitude_deg, r.altitude_m);
        up += fmt::format("{},{:.7f},{:.7f},{:.2f},,,0\n", r.t_s, r.latitude_deg, r.longitude_deg, 3000 - r.altitude_m);
    }
    const auto t = read(zeros);
    EXPECT_TRUE(t.distance_m.empty() && t.speed_mps.empty());
    EXPECT_EQ(t.power_W.size(), t.size()) << "coasting downhill is possible";
    EXPECT_TRUE(read(up).power_W.empty()) << "nobody climbs 250 m without pedalling";
}

// A real altimeter moves: of eleven real recordings written in steps of 0.2 m none shows the same figure over more than 155 m, one in steps of 1 m over
// no more than 594 m (measured 2026-11-28); rides of the generator in steps of 5 m over 1.2 km.
TEST(Cleaning, AnAltitudeThatStuckIsNotKnownFromThereOn) {
    for (const double step_m : {0.2, 1.0}) {
        auto ride = made_ride(3000);
        for (auto& r : ride) r.altitude_m = step_m * std::round(r.altitude_m / step_m);
        const auto whole = read(as_csv(ride));
        EXPECT_TRUE(whole.faults.empty()) << faults_text(whole);
        for (std::size_t i = 1501; i < ride.size(); ++i) ride[i].altitude_m = ride[1500].altitude_m;
        const auto t = read(as_csv(ride));
        for (std::size_t i = 0; i < ride.size(); ++i) EXPECT_EQ(std::isnan(t.altitude_m[i]), i > 1500) << i;
        ASSERT_TRUE(fault_of(t, FaultKind::no_altitude)) << faults_text(t);
        EXPECT_NE(faults_text(t).find("10.4 km"), std::string::npos) << faults_text(t);
    }
}

TEST(Cleaning, AnAltitudeThatNeverChangesIsNoneAtAll) {
    for (const double z : {0.0, 512.4, 500.0}) {
        auto ride = made_ride(900);   // 6.3 km
        for (auto& r : ride) r.altitude_m = z;
        const auto t = read(as_csv(ride));
        EXPECT_TRUE(t.altitude_m.empty()) << z;
        EXPECT_EQ(count_of(t, FaultKind::no_altitude), 900) << faults_text(t);
    }
}

TEST(Cleaning, ALevelRoadInCoarseStepsKeepsItsAltitude) {
    auto ride = made_ride(3000);   // 21 km that rise and fall by 4 m, written in steps of 5 m: 10 km without a change
    for (auto& r : ride) r.altitude_m = 5 * std::round((4 * std::sin(r.distance_m / 4000)) / 5);
    const auto t = read(as_csv(ride));
    EXPECT_EQ(t.altitude_m.size(), ride.size());
    EXPECT_TRUE(t.faults.empty()) << faults_text(t);
    // A long level stretch after which the road goes on from there: the figure was right.
    ride = made_ride(3000);
    for (auto& r : ride) r.altitude_m = r.distance_m < 6000 ? 800 : 800 - 0.05 * (r.distance_m - 6000);
    const auto shore = read(as_csv(ride));
    EXPECT_EQ(shore.altitude_m.size(), ride.size());
    EXPECT_EQ(std::count_if(shore.altitude_m.begin(), shore.altitude_m.end(), [](double z) { return std::isnan(z); }), 0);
    EXPECT_NE(faults_text(shore).find("exactly 800 m over 6.0 km of riding and goes on from there"), std::string::npos) << faults_text(shore);
    // But no road is so level for 10 km, whatever comes after.
    ride = made_ride(3000);
    for (auto& r : ride) r.altitude_m = r.distance_m < 10000 ? 800 : 800 - 0.05 * (r.distance_m - 10000);
    EXPECT_TRUE(fault_of(read(as_csv(ride)), FaultKind::no_altitude));
    // Stuck, and free again: it catches up over some records.
    ride = made_ride(3000);
    for (std::size_t i = 1001; i < 1500; ++i) ride[i].altitude_m = ride[1000].altitude_m;
    const double behind_m = ride[1000].altitude_m - ride[1530].altitude_m;
    ASSERT_GT(std::abs(behind_m), 60);
    for (std::size_t i = 1500; i < 1530; ++i) ride[i].altitude_m = ride[1000].altitude_m - behind_m * static_cast<double>(i - 1499) / 30;
    EXPECT_TRUE(fault_of(read(as_csv(ride)), FaultKind::no_altitude)) << faults_text(read(as_csv(ride)));
    // Stuck, and free again with a leap.
    ride = made_ride(3000);
    for (std::size_t i = 1001; i < 1500; ++i) ride[i].altitude_m = ride[1000].altitude_m;
    const auto freed = read(as_csv(ride));
    EXPECT_EQ(count_of(freed, FaultKind::no_altitude), 2 * 499) << faults_text(freed);   // that it stuck, and that it is missing
    ride.resize(500);
    for (auto& r : ride) r.altitude_m = 12;   // 3.5 km of towpath in whole metres
    const auto path = read(as_csv(ride));
    EXPECT_EQ(path.altitude_m.size(), ride.size());
    EXPECT_NE(faults_text(path).find("kept"), std::string::npos) << faults_text(path);
}

TEST(Cleaning, ARideOfMonthsIsRefused) {
    std::string csv = "t_s,speed_mps\n";
    for (int i = 0; i < 100; ++i) csv += fmt::format("{},5\n", 80000 * i);
    EXPECT_NE(error_of(csv).find("days"), std::string::npos);
}

// ---- stretches -----------------------------------------------------------------------------------------------------------

TEST(Stretches, AGapOverWhichTheBikeStayedIsAPauseAndOneOverWhichItMovedIsAMovingGap) {
    auto ride = made_ride(1000);
    for (std::size_t i = 300; i < ride.size(); ++i) ride[i].t_s += 600;   // ten minutes at the café
    ride.erase(ride.begin() + 600, ride.begin() + 660);                   // a tunnel of 60 s
    for (const auto& bytes : {positions_csv(ride), as_csv(ride)}) {
        const auto t = read(bytes);
        const auto s = stretches_of(t);
        ASSERT_EQ(s.size(), 2u) << faults_text(t);
        EXPECT_EQ(s[0], (Stretch{299, 900, FaultKind::pause}));
        EXPECT_EQ(s[1], (Stretch{1199, 1260, FaultKind::gap_moving}));
        EXPECT_EQ(fault_of(t, FaultKind::pause)->seconds, 601);
        EXPECT_EQ(fault_of(t, FaultKind::gap_moving)->seconds, 61);
    }
}

TEST(Stretches, TenSecondsAreNoGapAndElevenAre) {
    auto ride = made_ride(100);
    auto ten = ride, eleven = ride;
    ten.erase(ten.begin() + 50, ten.begin() + 59);
    eleven.erase(eleven.begin() + 50, eleven.begin() + 60);
    EXPECT_TRUE(stretches_of(read(as_csv(ten))).empty());
    EXPECT_EQ(stretches_of(read(as_csv(eleven))).size(), 1u);
}

TEST(Stretches, RecordsWithoutPositionSpeedOrDistanceAreAGapToo) {
    const auto ride = made_ride(300);
    std::string csv = "t_s,latitude_deg,longitude_deg,altitude_m\n";
    for (const auto& r : ride)
        csv += r.t_s > 100 && r.t_s < 150 ? fmt::format("{},,,\n", r.t_s) : fmt::format("{},{:.7f},{:.7f},{:.2f}\n", r.t_s, r.latitude_deg, r.longitude_deg, r.altitude_m);
    const auto s = stretches_of(read(csv));
    ASSERT_EQ(s.size(), 1u);
    EXPECT_EQ(s[0], (Stretch{100, 150, FaultKind::gap_moving}));
}

TEST(Stretches, AFixThatOnlyRepeatsThroughATunnelIsAMovingGap) {
    auto ride = made_ride(300);
    for (std::size_t i = 101; i < 160; ++i) ride[i].latitude_deg = ride[100].latitude_deg, ride[i].longitude_deg = ride[100].longitude_deg;
    const auto t = read(positions_csv(ride));
    const auto s = stretches_of(t);
    ASSERT_EQ(s.size(), 1u) << faults_text(t);
    EXPECT_EQ(s[0], (Stretch{100, 160, FaultKind::gap_moving}));
    EXPECT_TRUE(fault_of(t, FaultKind::position_jump));
}

TEST(Stretches, ASlowRecorderHasNoGapsAtItsUsualStep) {
    const auto t = read(as_csv(made_ride(200, 15)));
    EXPECT_EQ(gap_threshold_s(t), 30);
    EXPECT_TRUE(stretches_of(t).empty());
}

TEST(Stretches, ACarRideBetweenTwoStandstillsIsAVehicleFromStopToStop) {
    std::vector<MadeRecord> ride = made_ride(600);
    double d = ride.back().distance_m, t = ride.back().t_s;
    const auto go = [&](double v, int seconds) {
        for (int i = 0; i < seconds; ++i) d += v, t += 1, ride.push_back({t, 46.5 + d / 111170, 8.5, 1400, d, v});
    };
    go(0, 30);
    const double in = t;
    go(12, 60), go(31, 400), go(14, 60);
    const double out = t;
    go(0, 30), go(6, 500);
    const auto track = read(positions_csv(ride));
    const auto s = stretches_of(track);
    ASSERT_EQ(s.size(), 1u) << faults_text(track);
    EXPECT_EQ(s[0], (Stretch{in, out, FaultKind::vehicle}));
    EXPECT_TRUE(fault_of(track, FaultKind::vehicle));
}

TEST(Stretches, ALiftIsAVehicleAndAHardClimbIsNot) {
    for (const double climb_mps : {0.6, 2.0}) {   // 0.6 m/s is 2,160 m an hour; 100 kg at 2 m/s take 2 kW
        std::vector<MadeRecord> ride;
        for (int i = 0; i < 900; ++i) {
            const double up = i < 300 ? 0 : i < 600 ? i - 300 : 300, d = i < 300 ? 6.0 * i : i < 600 ? 1800 + 5.0 * (i - 300) : 3300 + 6.0 * (i - 600);
            ride.push_back({static_cast<double>(i), 46.5 + d / 111170, 8.5, 800 + climb_mps * up - (i < 600 ? 0 : 0.4 * (i - 600)), d, 5});
        }
        const auto s = stretches_of(read(positions_csv(ride)));
        if (climb_mps < 1) {
            EXPECT_TRUE(s.empty());
        } else {
            ASSERT_EQ(s.size(), 1u);
            EXPECT_EQ(s[0].kind, FaultKind::vehicle);
            EXPECT_NEAR(s[0].from_s, 300, 30);
            EXPECT_NEAR(s[0].to_s, 600, 30);
        }
    }
}

TEST(Stretches, AFastDescentOfAMinuteIsNoVehicle) {
    std::vector<MadeRecord> ride;
    double d = 0, z = 2000;
    for (int i = 0; i < 600; ++i) {
        const double v = i >= 200 && i < 260 ? 28 : 14;   // a minute at 100 km/h
        ride.push_back({static_cast<double>(i), 46.5 + d / 111170, 8.5, z, d, v});
        d += v, z -= 0.08 * v;
    }
    const auto t = read(as_csv(ride));
    EXPECT_TRUE(t.faults.empty()) << faults_text(t);
}

// ---- facts ---------------------------------------------------------------------------------------------------------------

TEST(GainLoss, PassesOverWhatIsNotKnownAndGivesZeroForNothing) {
    const std::vector<double> z{std::nan(""), 10, std::nan(""), 14, 11};
    EXPECT_EQ(gain_loss(z, 0), (std::pair<double, double>{4, 3}));
    EXPECT_EQ(gain_loss({}, 5), (std::pair<double, double>{0, 0}));
}

TEST(GroundDistance, CrossesTheDateLineTheShortWay) { EXPECT_NEAR(ground_distance_m(0, 179.99, 0, -179.99), ground_distance_m(0, 0, 0, 0.02), 1e-6); }

TEST(GroundDistance, NotKnownGivesNotKnown) { EXPECT_TRUE(std::isnan(ground_distance_m(46, 8, std::nan(""), 8))); }

// ---- robustness and speed ------------------------------------------------------------------------------------------------

TEST(Robustness, TwoThousandMutationsOfEachSampleGiveATrackThatKeepsItsPromisesOrAnErrorWithText) {
    auto few = made_ride(40);
    std::vector<std::string> seeds{as_gpx(few), as_csv(few), sample("two_segments_1_1.gpx"), sample("speed_1_0.gpx"), sample("all_columns.csv"), sample("decimal_comma.csv")};
    const std::string spice = "<>/\"=;,.-:T0123456789\n\r\0\xff e?!&[]";
    std::size_t tracks = 0, errors = 0;
    for (std::size_t s = 0; s < seeds.size(); ++s)
        for (std::size_t k = 0; k < 2000; ++k) {
            std::string bytes = seeds[s];
            const auto any = [&](std::size_t what, std::size_t i, std::size_t below) { return static_cast<std::size_t>(mix(20260501, 1000 * s + what, k, i) % below); };
            const std::size_t changes = 1 + any(0, 0, 8);
            for (std::size_t c = 0; c < changes && !bytes.empty(); ++c) {
                const std::size_t at = any(1, c, bytes.size());
                const std::size_t length = 1 + any(2, c, 40);
                switch (any(3, c, 7)) {
                    case 0: bytes[at] = static_cast<char>(any(4, c, 256)); break;
                    case 1: bytes[at] = spice[any(4, c, spice.size())]; break;
                    case 2: bytes.erase(at, length); break;
                    case 3: bytes.insert(at, bytes.substr(any(4, c, bytes.size()), length)); break;
                    case 4: bytes.insert(at, 1 + any(4, c, 3), spice[any(5, c, spice.size())]); break;
                    case 5: std::swap(bytes[at], bytes[any(4, c, bytes.size())]); break;
                    default:
                        if (any(4, c, 4) == 0) bytes.resize(at);
                        else if (bytes[at] >= '0' && bytes[at] <= '9') bytes[at] = static_cast<char>('0' + any(5, c, 10));
                }
            }
            const auto r = read_ride(bytes, "mutated");
            if (r) {
                ++tracks;
                ASSERT_EQ(broken_promise(*r), "") << "sample " << s << ", mutation " << k << "\n" << faults_text(*r) << bytes;
            } else {
                ++errors;
                ASSERT_FALSE(r.error().text.empty());
            }
        }
    // Both ends are exercised, and salvage is the rule.
    EXPECT_GT(tracks, 6000u);
    EXPECT_GT(errors, 200u);
}

TEST(Robustness, ShuffledTimesAreReadInReasonableTime) {
    auto ride = made_ride(36000);
    for (std::size_t i = ride.size(); i-- > 1;) std::swap(ride[i], ride[mix(7, 0, i, 0) % (i + 1)]);
    const std::string csv = as_csv(ride);
    const auto start = std::chrono::steady_clock::now();
    const auto t = read(csv);
    // 0.2 s on the machine this was written on; a quadratic slip would take minutes.
    EXPECT_LT(std::chrono::duration<double>(std::chrono::steady_clock::now() - start).count(), 10.0);
    EXPECT_EQ(broken_promise(t), "");
    EXPECT_GT(t.size(), 30000u);
}

TEST(Speed, TenHoursAtARecordASecondAreReadWithinSeconds) {
    const std::string xml = as_gpx(made_ride(36000));
    const auto start = std::chrono::steady_clock::now();
    const auto t = read(xml);
    EXPECT_LT(std::chrono::duration<double>(std::chrono::steady_clock::now() - start).count(), 5.0);   // asked: about 1 s in a release build
    EXPECT_EQ(t.size(), 36000u);
    EXPECT_TRUE(t.faults.empty()) << faults_text(t);
}
