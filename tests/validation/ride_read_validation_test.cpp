// SPDX-License-Identifier: Apache-2.0
// Outside checks of reading rides: distances, height gained, times; and real recordings where they are at hand.
#include <fmt/format.h>
#include <gtest/gtest.h>

#include <GeographicLib/Geodesic.hpp>
#include <algorithm>
#include <cmath>
#include <filesystem>
#include <numbers>
#include <random>
#include <string>
#include <vector>

#include "base/text.hpp"
#include "ride/describe.hpp"
#include "ride/track.hpp"
#include "row.hpp"

using namespace bw;
using bw::validation::Basis;
using bw::validation::check;

TEST(RideReadValidation, ADegreeOfTheEquatorIsItsShareOfTheCircle) {
    check({.id = "rideread-01",
           .what = "0 N 0 E to 0 N 1 E -> distance on the WGS 84 ellipsoid",
           .source = "the equator is a circle of the semi-major axis a = 6378137 m: a * pi / 180",
           .basis = Basis::exact,
           .expected = 6378137.0 * std::numbers::pi / 180,
           .tolerance = 1e-6,
           .unit = "m",
           .why = "rounding of a double at 1e5 m and nanometres of the library",
           .function = "ride::ground_distance_m",
           .used_by_answer = true},
          ride::ground_distance_m(0, 0, 0, 1));
}

TEST(RideReadValidation, TheQuarterMeridianHasItsKnownLength) {
    check({.id = "rideread-02",
           .what = "equator to pole -> distance on the WGS 84 ellipsoid",
           .source = "meridian quadrant of WGS 84, 10 001 965.729 m, as tabulated in geodesy texts; from memory",
           .basis = Basis::from_memory,
           .expected = 10001965.729,
           .tolerance = 0.001,
           .unit = "m",
           .why = "one unit of the last digit given",
           .function = "ride::ground_distance_m",
           .used_by_answer = true},
          ride::ground_distance_m(0, 0, 90, 0));
}

TEST(RideReadValidation, ReproducesThePublishedLineFromFlindersPeakToBuninyong) {
    const auto dms = [](double d, double m, double s) { return d + m / 60 + s / 3600; };
    check({.id = "rideread-03",
           .what = "37 57 03.72030 S 144 25 29.52440 E to 37 39 10.15610 S 143 55 35.38390 E -> ellipsoidal distance",
           .source = "worked example of Vincenty's formulae in the Geocentric Datum of Australia technical manual (GRS 80), 54 972.271 m; from memory",
           .basis = Basis::from_memory,
           .expected = 54972.271,
           .tolerance = 0.001,
           .unit = "m",
           .why = "one unit of the last digit given; GRS 80 and WGS 84 differ by 0.1 mm in the semi-minor axis",
           .function = "ride::ground_distance_m",
           .used_by_answer = true},
          ride::ground_distance_m(-dms(37, 57, 3.72030), dms(144, 25, 29.52440), -dms(37, 39, 10.15610), dms(143, 55, 35.38390)));
}

TEST(RideReadValidation, ShortDistancesAgreeWithTheGeodesicEverywhereBicyclesRide) {
    // The generator's raw words are the same everywhere; only the worst relative difference matters.
    std::mt19937_64 words(20260501);
    const auto uniform = [&](double low, double high) { return low + (high - low) * static_cast<double>(words() >> 11) * 0x1p-53; };
    double worst = 0;
    for (int i = 0; i < 5000; ++i) {
        const double lat = uniform(-79, 79), lon = uniform(-180, 180), reach = std::pow(10, uniform(-5.5, -1.4));
        const double lat2 = lat + uniform(-reach, reach), lon2 = lon + uniform(-reach, reach);
        double d = 0;
        GeographicLib::Geodesic::WGS84().Inverse(lat, lon, lat2, lon2, d);
        if (d < 0.05) continue;   // below, the last bits of the longitudes show
        worst = std::max(worst, std::abs(ride::ground_distance_m(lat, lon, lat2, lon2) / d - 1));
    }
    check({.id = "rideread-04",
           .what = "5 000 pairs of points 0.05 m to 6 km apart, 79 S to 79 N -> largest relative difference from the geodesic",
           .source = "GeographicLib (C. F. F. Karney, Algorithms for geodesics, J. Geodesy 87, 2013, 43-55)",
           .basis = Basis::library,
           .expected = 0,
           .tolerance = 2e-6,
           .unit = "",
           .why = "mean-latitude formula, error (distance/radius)^2 * tan^2(latitude)/24: 1e-6 at 6 km and 79 degrees; a track is known to 1e-3 at best",
           .function = "ride::ground_distance_m",
           .used_by_answer = true},
          worst);
}

namespace {
const std::vector<double> worked_series{12, 17, 15, 20, 22, 18, 15, 16, 14, 12};
const char* const worked_source = "worked example of a public page on elevation gain (low grade), series read there; sums by hand (SOURCES 11.4: the page prints 14 for 13)";
}  // namespace

TEST(RideReadValidation, HeightGainedAndLostOfTheWorkedSeries) {
    const auto [gain, loss] = ride::gain_loss(worked_series, 0);
    check({.id = "rideread-05", .what = "12, 17, 15, 20, 22, 18, 15, 16, 14, 12 m -> height gained, every step counted", .source = worked_source,
           .basis = Basis::source_read, .expected = 13, .tolerance = 0, .unit = "m", .why = "whole numbers", .function = "ride::gain_loss", .used_by_answer = true},
          gain);
    check({.id = "rideread-06", .what = "the same -> height lost", .source = worked_source, .basis = Basis::source_read, .expected = 13, .tolerance = 0, .unit = "m",
           .why = "whole numbers", .function = "ride::gain_loss", .used_by_answer = true},
          loss);
}

TEST(RideReadValidation, HeightGainedOfTheWorkedSeriesWithADeadBandOfFiveMetres) {
    check({.id = "rideread-07", .what = "12, 17, 15, 20, 22, 18, 15, 16, 14, 12 m, dead band 5 m -> height gained (12 to 17, 17 to 22)", .source = worked_source,
           .basis = Basis::exact, .expected = 10, .tolerance = 0, .unit = "m", .why = "whole numbers", .function = "ride::gain_loss", .used_by_answer = true},
          ride::gain_loss(worked_series, 5).first);
}

TEST(RideReadValidation, ATimeStampIsItsSecondsSinceNineteenSeventy) {
    const std::string xml =
        "<gpx version=\"1.1\" xmlns=\"http://www.topografix.com/GPX/1/1\"><trk><trkseg>"
        "<trkpt lat=\"1\" lon=\"1\"><time>2021-09-08T01:46:40Z</time></trkpt><trkpt lat=\"1\" lon=\"1\"><time>2021-09-08T04:46:41+03:00</time></trkpt>"
        "</trkseg></trk></gpx>";
    const auto track = ride::read_ride(xml, "two.gpx");
    ASSERT_TRUE(track) << track.error().text;
    check({.id = "rideread-08", .what = "GPX time 2021-09-08T01:46:40Z -> seconds since 1970",
           .source = "1 000 000 000 s after the FIT epoch 1989-12-31 = 631 065 600 s (public package documentation, SOURCES 11.3 and 12 no. 9)",
           .basis = Basis::source_read, .expected = 1631065600, .tolerance = 0, .unit = "s", .why = "whole seconds", .function = "ride::read_ride", .used_by_answer = true},
          track->start_unix_s.value_or(0));
    EXPECT_EQ(track->t_s.back(), 1) << "a time zone is applied";
}

// ---- real recordings: at hand only beside the project ------------------------------------------------------------------------

namespace {

const std::string rides = std::string(BW_ROOT) + "/../shared/rides/good/";

struct Plain {
    std::size_t points = 0;
    std::string first_time, last_time;
    std::vector<double> lat, lon, ele;
};
//! By plain text search, without the XML library and without our reader.
Plain plain_reading(const std::string& xml) {
    Plain p;
    const auto number_after = [&](const char* mark, std::size_t from) {
        const auto at = xml.find(mark, from);
        return std::strtod(xml.c_str() + at + std::string(mark).size(), nullptr);
    };
    for (auto at = xml.find("<trkpt"); at != xml.npos; at = xml.find("<trkpt", at + 1)) {
        ++p.points;
        p.lat.push_back(number_after("lat=\"", at));
        p.lon.push_back(number_after("lon=\"", at));
        p.ele.push_back(number_after("<ele>", at));
        const auto t = xml.find("<time>", at) + 6;
        p.last_time = xml.substr(t, 19);
        if (p.points == 1) p.first_time = p.last_time;
    }
    return p;
}

long seconds_of_day(const std::string& stamp) { return std::stol(stamp.substr(11, 2)) * 3600 + std::stol(stamp.substr(14, 2)) * 60 + std::stol(stamp.substr(17, 2)); }

}  // namespace

TEST(RealRecordings, EveryPointOfTheGpxFilesIsReadAsAPlainTextSearchFindsIt) {
    if (!std::filesystem::exists(rides)) GTEST_SKIP() << "the real recordings are not there";
    int files = 0;
    for (const auto& e : std::filesystem::directory_iterator(rides)) {
        if (e.path().extension() != ".gpx") continue;
        ++files;
        const auto xml = read_file(e.path().string());
        ASSERT_TRUE(xml);
        const auto plain = plain_reading(*xml);
        const auto track = ride::read_ride(*xml, e.path().string());
        ASSERT_TRUE(track) << track.error().text;
        ASSERT_EQ(track->size(), plain.points);
        EXPECT_EQ(track->t_s.back(), static_cast<double>(seconds_of_day(plain.last_time) - seconds_of_day(plain.first_time)));
        EXPECT_TRUE(std::is_sorted(track->t_s.begin(), track->t_s.end(), std::less_equal<>{})) << "times rise";
        for (std::size_t i = 0; i < plain.points; ++i) {
            ASSERT_EQ(track->latitude_deg[i], plain.lat[i]) << i;
            ASSERT_EQ(track->longitude_deg[i], plain.lon[i]) << i;
            ASSERT_EQ(track->altitude_m[i], plain.ele[i]) << i;
        }
        EXPECT_TRUE(track->faults.empty()) << "a clean recording has no faults: " << track->faults.front().text;
    }
    EXPECT_EQ(files, 2);
}

TEST(RealRecordings, TwoExportsOfOneRideAgreeInPositionAndAltitude) {
    if (!std::filesystem::exists(rides)) GTEST_SKIP() << "the real recordings are not there";
    const auto a_bytes = read_file(rides + "short-steep-hills-a.gpx"), b_bytes = read_file(rides + "short-steep-hills-b-power.gpx");
    ASSERT_TRUE(a_bytes && b_bytes);
    const auto a = ride::read_ride(*a_bytes, "a"), b = ride::read_ride(*b_bytes, "b");
    ASSERT_TRUE(a && b);
    ASSERT_EQ(a->t_s, b->t_s);
    EXPECT_EQ(a->start_unix_s, b->start_unix_s);
    EXPECT_TRUE(a->power_W.empty());
    EXPECT_EQ(b->power_W.size(), b->size());
    // b is rounded to 1e-6 or 1e-7 degrees and to 0.1 m: at most 0.5e-6 degrees each way, 8 cm, and 5 cm of height.
    for (std::size_t i = 0; i < a->size(); ++i) {
        ASSERT_LT(ride::ground_distance_m(a->latitude_deg[i], a->longitude_deg[i], b->latitude_deg[i], b->longitude_deg[i]), 0.08) << i;
        ASSERT_NEAR(a->altitude_m[i], b->altitude_m[i], 0.0501) << i;
    }
    EXPECT_NE(a->content_hash, b->content_hash);
}
