// SPDX-License-Identifier: Apache-2.0
// A wind told as speed and direction: an invented bike coasts down a valley and never brakes; its motion is integrated here, by
// equations of the test's own (Newton, drag by the size of the air's velocity past the rider, Wilson et al., Bicycling Science, from
// memory), with no code and no constant of src/ride.
#include <gtest/gtest.h>

#include <algorithm>
#include <cmath>
#include <numeric>

#include "base/interval.hpp"
#include "base/sampling.hpp"
#include "ride/motion.hpp"
#include "ride/plan.hpp"

namespace bw::ride {
namespace {

constexpr double mass_kg = 88, wheels_kg = 1.7, area_m2 = 0.45, crr = 0.0065, earth_m = 6371000.0;

//! A caller who is never told less of the work than before, however often it is done again.
Context forward_only() {
    Context ctx;
    ctx.progress = [furthest = 0.0](double share, std::string_view text) mutable {
        EXPECT_GE(share, furthest) << text;
        furthest = share;
    };
    return ctx;
}

struct Air {
    double east_mps = 0, north_mps = 0;   // velocity of the air over the ground
};
//! The air of a wind as weather reports state it.
Air air_from(double speed_mps, double from_deg) {
    const double towards = (from_deg + 180) / 57.29577951308232;
    return {speed_mps * std::sin(towards), speed_mps * std::cos(towards)};
}

//! Ten minutes of coasting towards a compass course: slopes of 2 to 6 % in turn; positions, a barometer in steps of 0.2 m, a speed
//! sensor that is 0.03 m/s off now and then. air_J: what the air took; without_side_J: by its part along the way alone.
struct Coasted {
    Track track;
    double air_J = 0, without_side_J = 0;
};
Coasted coasted(double course_deg, const Air& air) {
    Coasted out;
    Track& t = out.track;
    t.file = "coasting";
    t.content_hash = 4711 + static_cast<std::uint64_t>(course_deg);
    const double east = std::sin(course_deg / 57.29577951308232), north = std::cos(course_deg / 57.29577951308232);
    double v = 4, way = 0, level_m = 0, height = 900;
    for (int second = 0; second <= 600; ++second) {
        t.t_s.push_back(second);
        t.latitude_deg.push_back(46 + level_m * north / earth_m * 57.29577951308232);
        t.longitude_deg.push_back(8 + level_m * east / (earth_m * std::cos(46 / 57.29577951308232)) * 57.29577951308232);
        t.altitude_m.push_back(std::round(height * 5) / 5);
        t.speed_mps.push_back(v + 0.03 * std::sin(2.399963 * second * second));
        for (int k = 0; k < 50; ++k) {
            const double slope = 0.04 + 0.02 * std::sin(way / 130), sine = slope / std::sqrt(1 + slope * slope), cosine = 1 / std::sqrt(1 + slope * slope);
            const double past_east = v * east - air.east_mps, past_north = v * north - air.north_mps;   // the rider's velocity through the air
            const double density = 101325 * std::exp(-height / 8434) / (287.05 * 288.15);
            const double along = past_east * east + past_north * north, size = std::sqrt(past_east * past_east + past_north * past_north);
            const double drag = 0.5 * density * area_m2 * size * along, force = mass_kg * 9.81 * (sine - crr * cosine) - drag;
            const double before = v;
            v = std::max(0.5, v + 0.02 * force / (mass_kg + wheels_kg));
            const double step = 0.01 * (before + v);
            way += step;
            out.air_J += drag * step;
            out.without_side_J += 0.5 * density * area_m2 * std::abs(along) * along * step;
            height -= sine * step;
            level_m += cosine * step;
        }
    }
    return out;
}

struct Found {
    double brakes_J = 0, height_J = 0, air_J = 0, unexplained_J = 0;
};
//! What the reconstruction makes of it; told: what the rider said, nothing: nobody said anything.
Found found(const Track& track, std::optional<Air> told) {
    MotionParameters p{.mass_kg = mass_kg, .rotating_kg = wheels_kg, .drag_area_m2 = area_m2, .rolling_resistance = crr, .efficiency = 0.97, .wind_mps = 0, .air_degC = 15};
    if (told) p.wind_from = WindFrom{.east_mps = -told->east_mps, .north_mps = -told->north_mps};
    const std::vector<MotionParameters> draws(16, p);
    std::vector<std::size_t> keys(16);
    std::iota(keys.begin(), keys.end(), std::size_t{0});
    Context ctx;
    ctx.threads = 2;
    const auto m = reconstruct(ctx, track, {.altitude = AltitudeSource::barometric, .wind_from_sd_mps = 0.4}, draws, keys);
    EXPECT_TRUE(m) << (m ? "" : m.error().text);
    Found f;
    for (const MotionPath& path : m->paths) {
        f.brakes_J += path.brakes_J / 16;
        f.height_J += path.height_J / 16;
        f.air_J += path.air_J / 16;
        f.unexplained_J += path.unexplained_J / 16;
    }
    return f;
}

class Course : public ::testing::TestWithParam<int> {};

// 7 m/s against the rider: who takes the told direction the wrong way round, or north for east, finds a brake that was never touched.
TEST_P(Course, AToldHeadWindIsNoBraking) {
    const Air air = air_from(7, GetParam());
    const auto [track, air_J, unused] = coasted(GetParam(), air);
    const Found right = found(track, air), wrong = found(track, Air{-air.east_mps, -air.north_mps}), nobody = found(track, std::nullopt);
    EXPECT_LT(std::abs(right.brakes_J), 0.03 * right.height_J);
    EXPECT_LT(std::abs(right.unexplained_J), 0.04 * right.height_J);
    EXPECT_NEAR(right.air_J, air_J, 0.04 * right.height_J);
    EXPECT_GT(wrong.brakes_J, 0.3 * wrong.height_J);
    EXPECT_GT(nobody.brakes_J, right.brakes_J + 0.1 * right.height_J);
}

// A wind from the side slows too: 9 m/s across a bike that goes about as fast.
TEST_P(Course, AToldSideWindIsNoBrakingEither) {
    for (const int side : {90, 270}) {
        const Air air = air_from(9, GetParam() + side);
        const auto [track, air_J, without_side_J] = coasted(GetParam(), air);
        const Found right = found(track, air);
        EXPECT_LT(std::abs(right.brakes_J), 0.03 * right.height_J) << side;
        EXPECT_LT(std::abs(right.unexplained_J), 0.04 * right.height_J) << side;
        EXPECT_NEAR(right.air_J, air_J, 0.04 * right.height_J) << side;
        EXPECT_GT(air_J - without_side_J, 0.15 * right.height_J) << "or the line above could not fail";
    }
}
INSTANTIATE_TEST_SUITE_P(Wind, Course, ::testing::Values(0, 90, 200, 315));

TEST(ToldWind, IsLeftAsideWithAWordWhereTheRecordingHasNoPositions) {
    const Air air = air_from(7, 90);
    Track track = coasted(90, air).track;
    track.latitude_deg.clear();
    track.longitude_deg.clear();
    MotionParameters p{.mass_kg = mass_kg, .rotating_kg = wheels_kg, .drag_area_m2 = area_m2, .rolling_resistance = crr, .efficiency = 0.97, .wind_mps = 0, .air_degC = 15}, told = p;
    told.wind_from = WindFrom{.east_mps = 7, .north_mps = 0};
    const std::size_t key = 3;
    const auto without = reconstruct({}, track, {}, {&p, 1}, {&key, 1}), with = reconstruct({}, track, {}, {&told, 1}, {&key, 1});
    ASSERT_TRUE(without && with);
    EXPECT_EQ(with->paths[0].brake_power_W, without->paths[0].brake_power_W);
    EXPECT_TRUE(with->way_east.empty());
    EXPECT_EQ(with->faults.size(), without->faults.size() + 1);
    EXPECT_TRUE(std::any_of(with->faults.begin(), with->faults.end(), [](const Fault& f) { return f.text.find("no positions") != std::string::npos; }));
}

// A few positions do not tell which way a bike went: then the wind of any direction is as one that nobody told.
TEST(ToldWind, IsLeftAsideWithAWordWhereTooFewSecondsHaveAPosition) {
    const Track whole = coasted(90, air_from(7, 90)).track;
    MotionParameters p{.mass_kg = mass_kg, .rotating_kg = wheels_kg, .drag_area_m2 = area_m2, .rolling_resistance = crr, .efficiency = 0.97, .wind_mps = 0, .air_degC = 15}, told = p;
    told.wind_from = WindFrom{.east_mps = 7, .north_mps = 0};
    const std::size_t key = 3;
    const auto counts = [&](auto&& has_position, bool stuck = false) {
        Track track = whole;
        for (std::size_t k = 0; k < track.size(); ++k) {
            if (!has_position(k)) track.latitude_deg[k] = track.longitude_deg[k] = std::nan("");
            else if (stuck) track.latitude_deg[k] = 46, track.longitude_deg[k] = 8;
        }
        const auto without = reconstruct({}, track, {}, {&p, 1}, {&key, 1}), with = reconstruct({}, track, {}, {&told, 1}, {&key, 1});
        EXPECT_TRUE(without && with);
        const bool said = std::any_of(with->faults.begin(), with->faults.end(), [](const Fault& f) { return f.text.find("told with its direction") != std::string::npos; });
        EXPECT_EQ(with->paths[0].air_J == without->paths[0].air_J, said);
        EXPECT_EQ(with->way_east.empty(), said);
        return !said;
    };
    EXPECT_TRUE(counts([](std::size_t) { return true; }));
    EXPECT_TRUE(counts([](std::size_t k) { return k % 15 == 0; }));
    EXPECT_TRUE(counts([](std::size_t k) { return k < 200 || k > 270; })) << "51 of 600 s are further than 10 s from a position";
    EXPECT_FALSE(counts([](std::size_t k) { return k < 200 || k > 285; })) << "66 of 600 s are";
    EXPECT_FALSE(counts([](std::size_t k) { return k < 10; }));
    EXPECT_FALSE(counts([](std::size_t k) { return k >= 500; }));
    EXPECT_FALSE(counts([](std::size_t) { return true; }, true)) << "a place that stands still";
}

// The meter is evidence, the told wind hearsay. The rider's power on this bike, in still air, is that of Newton's law again: 180 W at
// the crank, 0.97 of it at the wheel, up and down over gentle slopes.
TEST(ToldWind, ThatDoesNotFitThePowerMeterIsLeftAsideInPlaceOfTheMeter) {
    Track t;
    t.file = "metered";
    t.content_hash = 815;
    double v = 7, way = 0, level_m = 0, height = 500;
    for (int second = 0; second <= 900; ++second) {
        t.t_s.push_back(second);
        t.latitude_deg.push_back(46);
        t.longitude_deg.push_back(8 - level_m / (earth_m * std::cos(46 / 57.29577951308232)) * 57.29577951308232);   // due west
        t.altitude_m.push_back(std::round(height * 5) / 5);
        t.speed_mps.push_back(v + 0.03 * std::sin(2.399963 * second * second));
        t.power_W.push_back(180 + 3 * std::sin(1.7 * second * second));
        for (int k = 0; k < 50; ++k) {
            const double slope = 0.012 * std::sin(way / 200), sine = slope / std::sqrt(1 + slope * slope), cosine = 1 / std::sqrt(1 + slope * slope);
            const double density = 101325 * std::exp(-height / 8434) / (287.05 * 288.15);
            const double force = 0.97 * 180 / v - 0.5 * density * area_m2 * v * v - mass_kg * 9.81 * (sine + crr * cosine), before = v;
            v = std::max(1.0, v + 0.02 * force / (mass_kg + wheels_kg));
            const double step = 0.01 * (before + v);
            way += step;
            height += sine * step;
            level_m += cosine * step;
        }
    }
    MotionParameters p{.mass_kg = mass_kg, .rotating_kg = wheels_kg, .drag_area_m2 = area_m2, .rolling_resistance = crr, .efficiency = 0.97, .wind_mps = 0, .air_degC = 15};
    const auto with = [&](const MotionParameters& told, double meter_factor = 1) {
        Track track = t;
        for (double& W : track.power_W) W *= meter_factor;
        const std::vector<MotionParameters> draws(4, told);
        const std::vector<std::size_t> keys = {0, 1, 2, 3};
        auto m = reconstruct(forward_only(), track, {.altitude = AltitudeSource::barometric}, draws, keys);
        EXPECT_TRUE(m);
        return *std::move(m);
    };
    const auto doubted = [](const MotionPaths& m) { return std::any_of(m.faults.begin(), m.faults.end(), [](const Fault& f) { return f.text.find("does not fit the power meter") != std::string::npos; }); };
    const MotionPaths untold = with(p);
    ASSERT_FALSE(untold.meter_left_aside);
    MotionParameters gale = p, head = p, breath = p;
    gale.wind_from = WindFrom{.east_mps = -9, .north_mps = 0};   // from the west, ahead
    head.wind_mps = 9;
    breath.wind_from = WindFrom{.east_mps = 0.3, .north_mps = 0};
    for (const MotionParameters& told : {gale, head}) {
        const MotionPaths m = with(told);
        EXPECT_FALSE(m.meter_left_aside);
        EXPECT_TRUE(doubted(m));
        EXPECT_EQ(m.paths[0].brake_power_W, untold.paths[0].brake_power_W);
        EXPECT_EQ(m.paths[0].air_J, untold.paths[0].air_J);
        EXPECT_TRUE(m.way_east.empty());
        EXPECT_EQ(m.faults.size(), untold.faults.size() + 1);
    }
    EXPECT_FALSE(doubted(with(breath)));
    // A meter that reads a third fits neither with nor without: then it is the meter.
    const MotionPaths third = with(gale, 0.3);
    EXPECT_TRUE(third.meter_left_aside);
    EXPECT_FALSE(doubted(third));
}

// The same without a meter: rounds of a level kilometre in still air at the pace of 150 W, while a gale was told. Nobody rides so against it.
TEST(ToldWind, ThatTheMotionDoesNotAccountForIsLeftAside) {
    const auto rounds = [](double blows_mps) {   // from the west
        Track t;
        t.file = "rounds";
        t.content_hash = 816;
        const double density = 101325 * std::exp(-500 / 8434.0) / (287.05 * 288.15), radius_m = 1000 / 6.283185307179586;
        double v = 7, way = 0;
        for (int second = 0; second <= 1200; ++second) {
            const double x = radius_m * std::sin(way / radius_m), y = radius_m * std::cos(way / radius_m);
            t.t_s.push_back(second);
            t.latitude_deg.push_back(46 + y / earth_m * 57.29577951308232);
            t.longitude_deg.push_back(8 + x / (earth_m * std::cos(46 / 57.29577951308232)) * 57.29577951308232);
            t.altitude_m.push_back(500 + 0.2 * std::round(0.6 * std::sin(0.37 * second)));
            t.speed_mps.push_back(v + 0.03 * std::sin(2.399963 * second * second));
            for (int k = 0; k < 50; ++k) {
                // Towards the east at the top of the round, where a wind from the west pushes.
                const double east = std::cos(way / radius_m), north = -std::sin(way / radius_m), past_east = v * east - blows_mps, past_north = v * north;
                const double drag = 0.5 * density * area_m2 * std::hypot(past_east, past_north) * (past_east * east + past_north * north);
                const double force = 0.97 * 150 / v - drag - mass_kg * 9.81 * crr, before = v;
                v = std::max(1.0, v + 0.02 * force / (mass_kg + wheels_kg));
                way += 0.01 * (before + v);
            }
        }
        return t;
    };
    MotionParameters p{.mass_kg = mass_kg, .rotating_kg = wheels_kg, .drag_area_m2 = area_m2, .rolling_resistance = crr, .efficiency = 0.97, .wind_mps = 0, .air_degC = 15};
    const auto with = [&](const MotionParameters& told, const Track& track) {
        const std::vector<MotionParameters> draws(8, told);
        const std::vector<std::size_t> keys = {0, 1, 2, 3, 4, 5, 6, 7};
        auto m = reconstruct(forward_only(), track, {.altitude = AltitudeSource::barometric}, draws, keys);
        EXPECT_TRUE(m);
        return *std::move(m);
    };
    const auto doubted = [](const MotionPaths& m) { return std::any_of(m.faults.begin(), m.faults.end(), [](const Fault& f) { return f.text.find("does not fit this recording") != std::string::npos; }); };
    const Track still = rounds(0);
    const MotionPaths untold = with(p, still);
    EXPECT_FALSE(doubted(untold));
    MotionParameters gale = p, head = p, breath = p;
    gale.wind_from = WindFrom{.east_mps = -14, .north_mps = 0};   // from the west
    head.wind_mps = 12;
    breath.wind_from = WindFrom{.east_mps = -0.3, .north_mps = 0};
    for (const MotionParameters& told : {gale, head}) {
        const MotionPaths m = with(told, still);
        EXPECT_TRUE(doubted(m)) << (told.wind_from ? "gale" : "head wind");
        EXPECT_EQ(m.paths[0].brake_power_W, untold.paths[0].brake_power_W);
        EXPECT_EQ(m.paths[0].air_J, untold.paths[0].air_J);
        EXPECT_TRUE(m.way_east.empty());
    }
    EXPECT_FALSE(doubted(with(breath, still)));
    // A wind that did blow is kept.
    MotionParameters blew = p;
    blew.wind_from = WindFrom{.east_mps = -5, .north_mps = 0};
    EXPECT_FALSE(doubted(with(blew, rounds(5))));
}

// A planned way along a compass course: the part of the wind along it is what a told head wind would have been. The side wind's part
// counts by hypot(v, w)/v; at 11 m/s and 6 m/s across that is 1.14 of the air.
Route way_towards(double course_deg) {
    Route r;
    r.file = "way";
    r.content_hash = 99;
    for (int k = 0; k <= 300; ++k) {
        const double s = 20.0 * k;
        r.distance_m.push_back(s);
        r.latitude_deg.push_back(46 + s * std::cos(course_deg / 57.29577951308232) / earth_m * 57.29577951308232);
        r.longitude_deg.push_back(8 + s * std::sin(course_deg / 57.29577951308232) / (earth_m * std::cos(46 / 57.29577951308232)) * 57.29577951308232);
        r.altitude_m.push_back(900 - 0.06 * s);
    }
    return r;
}
double braked_J(const Route& route, const MotionParameters& p) {
    const PlanHabits habits{.top_mps = 11, .swing = 0.2, .lateral_mps2 = 2.5, .braking_mps2 = 1.5, .coast_mps2 = 0.3, .pedal_W = 120, .motor_W = 0, .stops_per_km = 0, .halt_s = 0};
    const std::size_t key = 0;
    const auto m = plan({}, route, Style::dragging, {&p, 1}, {&habits, 1}, {&key, 1});
    EXPECT_TRUE(m);
    return m->paths[0].brakes_J;
}
TEST_P(Course, APlannedWayFeelsThePartOfTheWindAlongIt) {
    const Route route = way_towards(GetParam());
    MotionParameters p{.mass_kg = mass_kg, .rotating_kg = wheels_kg, .drag_area_m2 = area_m2, .rolling_resistance = crr, .efficiency = 0.97, .wind_mps = 0, .air_degC = 15};
    const auto blown = [&](double speed_mps, double from_deg) {
        MotionParameters q = p;
        const Air air = air_from(speed_mps, from_deg);
        q.wind_from = WindFrom{.east_mps = -air.east_mps, .north_mps = -air.north_mps};
        return braked_J(route, q);
    };
    const auto head = [&](double head_mps) {
        MotionParameters q = p;
        q.wind_mps = head_mps;
        return braked_J(route, q);
    };
    const double still = head(0), against = head(5), behind = head(-5);
    ASSERT_LT(against, 0.9 * still);
    EXPECT_NEAR(blown(5, GetParam()), against, 1e-3 * still);
    EXPECT_NEAR(blown(5, GetParam() + 180), behind, 1e-3 * still);
    EXPECT_NEAR(blown(5, GetParam() + 90), blown(5, GetParam() + 270), 1e-3 * still);
    EXPECT_LT(blown(6, GetParam() + 90), still);
    EXPECT_GT(blown(6, GetParam() + 90), against);
}

// Where the way leads is known only if no long part of it is without positions; then what blows makes no difference.
TEST(ToldWind, OfAPlannedWayCountsOnlyWhereItLeadsSomewhereKnown) {
    const Route whole = way_towards(90);   // 301 points, 20 m apart
    MotionParameters p{.mass_kg = mass_kg, .rotating_kg = wheels_kg, .drag_area_m2 = area_m2, .rolling_resistance = crr, .efficiency = 0.97, .wind_mps = 0, .air_degC = 15};
    const auto counts = [&](auto&& has_position, double stretched = 1) {
        Route route = whole;
        for (std::size_t k = 0; k < route.size(); ++k) {
            route.distance_m[k] *= stretched;
            if (!has_position(k)) route.latitude_deg[k] = route.longitude_deg[k] = std::nan("");
        }
        MotionParameters east = p, west = p;
        east.wind_from = WindFrom{.east_mps = 5, .north_mps = 0};
        west.wind_from = WindFrom{.east_mps = -5, .north_mps = 0};
        const bool differs = braked_J(route, east) != braked_J(route, west);
        EXPECT_EQ(has_direction(route), differs);
        return differs;
    };
    EXPECT_TRUE(counts([](std::size_t) { return true; }));
    EXPECT_TRUE(counts([](std::size_t k) { return k % 25 == 0; })) << "500 m of 6 km";
    EXPECT_FALSE(counts([](std::size_t k) { return k <= 100 || k > 131; })) << "640 m of 6 km";
    EXPECT_FALSE(counts([](std::size_t k) { return k == 0 || k == 300; }));
    EXPECT_FALSE(counts([](std::size_t k) { return k < 2; })) << "20 m at the start";
    EXPECT_FALSE(counts([](std::size_t k) { return k >= 35; })) << "the first 700 m";
    EXPECT_FALSE(counts([](std::size_t k) { return k <= 265; })) << "the last 700 m";
    EXPECT_FALSE(counts([](std::size_t k) { return k % 25 == 0; }, 5)) << "2.5 km of 30 km";
    Route loop = whole;
    for (std::size_t k = 0; k < loop.size(); ++k) loop.latitude_deg[k] = loop.longitude_deg[k] = k == 0 || k == 300 ? 46 : std::nan("");
    EXPECT_FALSE(has_direction(loop));
}
// A start told twice over 20 m leads where the way goes on, not east.
TEST(ToldWind, OfAPlannedWayThatStandsAtItsStart) {
    Route plain = way_towards(0), twice = plain;
    twice.latitude_deg[1] = twice.latitude_deg[0];
    twice.longitude_deg[1] = twice.longitude_deg[0];
    const auto profile = profile_of(twice);
    ASSERT_TRUE(profile && !profile->north.empty());
    EXPECT_NEAR(profile->north[0], 1, 1e-6);
    EXPECT_NEAR(profile->east[0], 0, 1e-3);
}

}  // namespace
}  // namespace bw::ride
