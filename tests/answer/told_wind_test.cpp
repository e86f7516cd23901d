// SPDX-License-Identifier: Apache-2.0
// What becomes of a wind told as a weather report has it. Oracles: the compass, and the logarithmic profile of the wind over level ground
// (textbook; EN 1991-1-4 has it down to z_min) with figures of the test's own: 10 m, 1.2 m, z0 0.03 m, shelter 0.7 and 0.25 of spread, direction 20 degrees.
#include <gtest/gtest.h>

#include <algorithm>
#include <cmath>

#include "../../src/answer/internal.hpp"
#include "parts/library.hpp"

namespace bw::answer {
namespace {

struct Drawn {
    std::vector<double> size_mps, from_deg;   // the latter against what was told
    double east_mps = 0, north_mps = 0;
};
Drawn drawn(double speed_mps, double from_deg) {
    const auto library = parts::load_library();
    const auto bike = parts::read_bike("format = 1\n[bike]\nkind = \"trail\"\ntotal_mass_kg = 90\n", "bike.toml", *library);
    EXPECT_TRUE(bike) << bike.error().text;
    Request request;
    request.bike = *bike;
    const std::vector<Case> cases = cases_of(*library, *bike, draw_cases(all_inputs(*library, request), anchor_cases, 1));
    Drawn d;
    for (const RideUnknowns& u : ride_unknowns({}, *library, {.wind_mps = speed_mps, .wind_from_deg = from_deg}, 12345, 15, cases)) {
        EXPECT_TRUE(u.motion.wind_from);
        EXPECT_EQ(u.motion.wind_mps, 0);
        const double east = u.motion.wind_from->east_mps, north = u.motion.wind_from->north_mps;
        d.size_mps.push_back(std::sqrt(east * east + north * north));
        d.from_deg.push_back(std::remainder(57.29577951308232 * std::atan2(east, north) - from_deg, 360.0));
        d.east_mps += east / anchor_cases;
        d.north_mps += north / anchor_cases;
    }
    return d;
}
double middle(std::vector<double> x) {
    std::sort(x.begin(), x.end());
    return 0.5 * (x[x.size() / 2 - 1] + x[x.size() / 2]);
}
double spread(const std::vector<double>& x) {
    double sum = 0, squares = 0;
    for (const double v : x) sum += v, squares += v * v;
    const auto n = static_cast<double>(x.size());
    return std::sqrt(squares / n - sum / n * (sum / n));
}

}  // namespace

TEST(ToldWind, ComesFromWhereTheReportSays) {
    struct Point { double deg, east, north; };
    for (const auto& [deg, east, north] : {Point{0, 0, 1}, Point{90, 1, 0}, Point{180, 0, -1}, Point{270, -1, 0}, Point{225, -0.70711, -0.70711}}) {
        const Drawn d = drawn(10, deg);
        const double size = std::hypot(d.east_mps, d.north_mps);
        EXPECT_GT(size, 2) << deg;
        EXPECT_NEAR(d.east_mps / size, east, 0.03) << deg;
        EXPECT_NEAR(d.north_mps / size, north, 0.03) << deg;
    }
}

TEST(ToldWind, ReachesTheRiderWithItsSpread) {
    const double profile = std::log(1.2 / 0.03) / std::log(10 / 0.03);   // 0.635
    for (const double speed_mps : {4.0, 12.0}) {
        const Drawn d = drawn(speed_mps, 130);
        double mean = 0;
        for (const double s : d.size_mps) mean += s / static_cast<double>(d.size_mps.size());
        // A log-normal's middle lies under its mean by a few percent: 0.7/sqrt(1 + (0.25/0.7)^2) = 0.66; either reading of the row is allowed for.
        EXPECT_NEAR(middle(d.size_mps) / (profile * speed_mps), 0.68, 0.035);
        EXPECT_NEAR(mean / (profile * speed_mps), 0.72, 0.035);
        EXPECT_NEAR(spread(d.size_mps) / (profile * speed_mps), 0.25, 0.04);
        EXPECT_NEAR(middle(d.from_deg), 0, 2);
        EXPECT_NEAR(spread(d.from_deg), 20, 1.5);
    }
    // Beyond what is drawn: 0.4 m/s and a fifth of the middle wind, both at right angles.
    const auto library = parts::load_library();
    for (const double speed_mps : {0.0, 4.0, 12.0}) {
        const double share = 0.2 * profile * 0.7 * speed_mps;
        EXPECT_NEAR(wind_from_sd_mps(*library, {.wind_mps = speed_mps, .wind_from_deg = 130}), std::sqrt(0.16 + share * share), 1e-3);
    }
}

TEST(ToldWind, OfAGaleIsRefusedWithWhatToDo) {
    RideTags wild{.wind_mps = 25, .wind_from_deg = 270}, strong{.wind_mps = 20, .wind_from_deg = 270}, head{.wind_mps = 25};
    const Status s = settle_wind("x.csv:2", wild);
    ASSERT_FALSE(s);
    for (const char* word : {"x.csv:2", "gale", "km/h by 3.6"}) EXPECT_NE(s.error().text.find(word), std::string::npos) << s.error().text;
    EXPECT_TRUE(settle_wind("", strong));
    EXPECT_TRUE(settle_wind("", head));
}

// A way due west at a steady pace: told from the west it has half the wind ahead, from the east behind, from the north neither.
TEST(ToldWind, IsSaidOfTheRide) {
    ride::MotionPaths m;
    m.distance_m = {0, 5, 10, 15};
    m.way_east.assign(4, -1.0);
    m.way_north.assign(4, 0.0);
    const auto said = [&](double east_mps, double north_mps) {
        ride::MotionPaths one = m;
        one.paths.resize(1);
        one.paths[0].parameters.wind_from = ride::WindFrom{.east_mps = east_mps, .north_mps = north_mps};
        EXPECT_NEAR(told_head_wind_mps(one), -east_mps, 1e-12);   // which described rides are compared with
        say_wind_taken({.wind_mps = 6, .wind_from_deg = 270}, one);
        RideAnswer r;
        r.faults = one.faults;
        EXPECT_TRUE(wind_was_taken(r));
        return one.faults.empty() ? std::string() : one.faults[0].text;
    };
    EXPECT_NE(said(-3, 0).find("3.0 m/s from ahead"), std::string::npos) << said(-3, 0);
    EXPECT_NE(said(3, 0).find("3.0 m/s from behind"), std::string::npos) << said(3, 0);
    EXPECT_NE(said(0, 4).find("0.0 m/s"), std::string::npos) << said(0, 4);
    EXPECT_NE(said(-3, 0).find("6 m/s from 270 degrees"), std::string::npos);
    EXPECT_NE(said(-3, 0).find("cooler"), std::string::npos);
    ride::MotionPaths none = m;
    none.paths.resize(1);
    say_wind_taken({.wind_mps = 6, .wind_from_deg = 270}, none);
    EXPECT_TRUE(none.faults.empty());
    EXPECT_EQ(told_head_wind_mps(none), 0);   // none told, or left aside
    none.paths[0].parameters.wind_mps = 2;
    EXPECT_EQ(told_head_wind_mps(none), 2);
}

}  // namespace bw::answer
