// SPDX-License-Identifier: Apache-2.0
// How much of a ride its altitude covers: lengths and times that can be counted by hand.
#include <gtest/gtest.h>

#include <cmath>
#include <functional>

#include "ride/cover.hpp"

using namespace bw::ride;

namespace {

// 10 m/s, a record a second.
struct Ride {
    Track track;
    MotionPaths motion;
};
Ride ride(std::size_t n, const std::function<bool(std::size_t)>& known) {
    Ride r;
    r.motion.altitude_source = AltitudeSource::barometric;
    for (std::size_t i = 0; i < n; ++i) {
        r.track.t_s.push_back(static_cast<double>(i));
        r.track.altitude_m.push_back(known(i) ? 100.0 : std::nan(""));
        r.motion.distance_m.push_back(10.0 * static_cast<double>(i));
        r.motion.speed_mps.push_back(10);
        r.motion.paused.push_back(0);
    }
    return r;
}
double share(std::size_t n, const std::function<bool(std::size_t)>& known) {
    const Ride r = ride(n, known);
    return altitude_cover(r.track, r.motion).share;
}

Route route(std::size_t n, const std::function<bool(std::size_t)>& known) {
    Route r;
    for (std::size_t i = 0; i < n; ++i) {
        r.distance_m.push_back(10.0 * static_cast<double>(i));
        r.altitude_m.push_back(known(i) ? 100.0 : std::nan(""));
    }
    return r;
}

}  // namespace

TEST(AltitudeCover, IsAllWhereEveryRecordHasOne) { EXPECT_DOUBLE_EQ(share(1001, [](std::size_t) { return true; }), 1); }

TEST(AltitudeCover, IsNothingWithoutAny) {
    EXPECT_DOUBLE_EQ(share(1001, [](std::size_t) { return false; }), 0);
    Ride r = ride(1001, [](std::size_t) { return true; });
    r.motion.altitude_source = AltitudeSource::none;   // there, but not used
    EXPECT_DOUBLE_EQ(altitude_cover(r.track, r.motion).share, 0);
}

TEST(AltitudeCover, EndsAHundredMetresBeyondTheLastKnownHeight) {
    EXPECT_NEAR(share(1001, [](std::size_t i) { return i <= 90; }), 0.1, 1e-3);    // 900 m + 100 m of 10 km
    EXPECT_NEAR(share(1001, [](std::size_t i) { return i >= 910; }), 0.1, 1e-3);
}

TEST(AltitudeCover, HolesUnderAKilometreAreBridgedAndLongerOnesAreNot) {
    EXPECT_DOUBLE_EQ(share(1001, [](std::size_t i) { return i % 90 == 0; }), 1);
    EXPECT_NEAR(share(1001, [](std::size_t i) { return i <= 200 || i >= 700; }), 0.52, 1e-3);   // 5 of 10 km, less 100 m at each end
}

TEST(AltitudeCover, AStretchWithoutAnyRecordIsBridgedByItsEnds) {
    Ride r = ride(1001, [](std::size_t) { return true; });
    Track gap;
    for (std::size_t i = 0; i < r.track.size(); ++i) {
        if (i > 200 && i < 700) continue;
        gap.t_s.push_back(r.track.t_s[i]);
        gap.altitude_m.push_back(100);
    }
    EXPECT_DOUBLE_EQ(altitude_cover(gap, r.motion).share, 1);
}

TEST(AltitudeCover, CountsMovingSecondsOnly) {
    Ride r = ride(1001, [](std::size_t i) { return i <= 490; });
    for (std::size_t i = 600; i < 1001; ++i) {   // stands from 6 km on
        r.motion.paused[i] = 1;
        r.motion.distance_m[i] = 6000;
    }
    EXPECT_NEAR(altitude_cover(r.track, r.motion).share, 5.0 / 6, 2e-3);
}

TEST(AltitudeCover, OfAWayGoesByMetres) {
    EXPECT_NEAR(altitude_cover(route(1001, [](std::size_t i) { return i < 2; })).share, 0.011, 1e-3);
    EXPECT_DOUBLE_EQ(altitude_cover(route(1001, [](std::size_t) { return true; })).share, 1);
    Route sparse;   // written by hand: three heights, kilometres apart
    sparse.distance_m = {0, 5000, 12000};
    sparse.altitude_m = {1200, 900, 500};
    EXPECT_DOUBLE_EQ(altitude_cover(sparse).share, 1);
}
