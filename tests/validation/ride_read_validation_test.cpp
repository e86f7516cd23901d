// SPDX-License-Identifier: Apache-2.0
// Outside checks of reading rides: distances, height gained, times; and real recordings where they are at hand.
#include <fmt/format.h>
#include <gtest/gtest.h>

#include <GeographicLib/Geodesic.hpp>
#include <algorithm>
#include <array>
#include <cmath>
#include <cstdio>
#include <cstdlib>
#include <ctime>
#include <filesystem>
#include <numbers>
#include <random>
#include <string>
#include <vector>

#include "bw_paths.hpp"
#include "../../src/ride/fit_decode.hpp"
#include "../../src/ride/readers.hpp"
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

TEST(RideReadValidation, AFitFileOfTwoRecordsIsReadAsTheProtocolDefinesIt) {
    // Written out by hand, checksum 0: header; definition of message 20 with fields 253, 0, 1; two records.
    const std::string bytes("\x0c\x10\x64\x00\x29\x00\x00\x00.FIT"
                            "\x40\x00\x00\x14\x00\x03\xfd\x04\x86\x00\x04\x85\x01\x04\x85"
                            "\x00\x00\xca\x9a\x3b\x00\x00\x00\x20\x00\x00\x00\x40"
                            "\x00\x01\xca\x9a\x3b\x00\x00\x00\x20\x00\x00\x00\x40\x00\x00",
                            12 + 15 + 13 + 13 + 2);
    const auto track = ride::read_ride(bytes, "two.fit");
    ASSERT_TRUE(track) << track.error().text;
    ASSERT_EQ(track->size(), 2u);
    const char* const source = "FIT epoch 1989-12-31 = 631 065 600 s, factor 180/2^31 (public package documentation, SOURCES 11.3 and 12 no. 9)";
    check({.id = "rideread-09", .what = "FIT time 1 000 000 000 -> seconds since 1970", .source = source, .basis = Basis::source_read, .expected = 1631065600, .tolerance = 0,
           .unit = "s", .why = "whole seconds", .function = "ride::read_ride", .used_by_answer = true},
          track->start_unix_s.value_or(0));
    check({.id = "rideread-10", .what = "FIT longitude 2^30 semicircles -> degrees", .source = source, .basis = Basis::source_read, .expected = 90, .tolerance = 0,
           .unit = "deg", .why = "a power of two", .function = "ride::read_ride", .used_by_answer = true},
          track->longitude_deg[0]);
    EXPECT_EQ(track->latitude_deg[0], 45);
}

TEST(RideReadValidation, TheChecksumOfFitHasItsPublishedValues) {
    check({.id = "rideread-11", .what = "FIT checksum of the text 123456789", .source = "table of public package documentation, equal to CRC-16/ARC, whose check value is 0xBB3D (SOURCES 11.3 and 12 no. 8)",
           .basis = Basis::source_read, .expected = 0xBB3D, .tolerance = 0, .unit = "", .why = "a whole number", .function = "ride::fit::checksum", .used_by_answer = true},
          ride::fit::checksum("123456789"));
    check({.id = "rideread-12", .what = "FIT checksum of the header 0E 10 64 08 00 00 00 00 2E 46 49 54", .source = "worked out from the same table (SOURCES 12 no. 8)",
           .basis = Basis::source_read, .expected = 0x2E46, .tolerance = 0, .unit = "", .why = "a whole number", .function = "ride::fit::checksum", .used_by_answer = true},
          ride::fit::checksum(std::string_view("\x0e\x10\x64\x08\x00\x00\x00\x00.FIT", 12)));
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

namespace {

//! Text that a command prints; empty if it fails.
std::string output_of(const std::string& command) {
    std::string text;
    std::FILE* pipe = popen(command.c_str(), "r");
    if (!pipe) return {};
    std::array<char, 65536> piece;
    for (std::size_t n; (n = std::fread(piece.data(), 1, piece.size(), pipe)) > 0;) text.append(piece.data(), n);
    return pclose(pipe) == 0 ? text : std::string();
}

//! Track points of TCX as libxml2 lays them out, an element a line, found by plain text search: without our XML library and
//! without our reader. Order of values: that of readers::Channel.
std::vector<ride::readers::Record> laid_out_points(const std::string& file) {
    std::vector<ride::readers::Record> points;
    const std::string text = output_of(fmt::format("xmllint --nonet --format '{}'", file));
    bool inside = false;
    for (std::size_t from = 0; from < text.size();) {
        const auto to = std::min(text.find('\n', from), text.size());
        const auto start = std::min(text.find('<', from), to);
        const std::string line = text.substr(start, to - start);
        from = to + 1;
        const auto name_end = line.find_first_of(" >");
        if (name_end == line.npos) continue;
        std::string name = line.substr(1, name_end - 1);
        if (const auto colon = name.find(':'); colon != name.npos && name[0] != '/') name.erase(0, colon + 1);
        if (name == "Trackpoint") points.emplace_back(), inside = true;
        if (name == "/Trackpoint") inside = false;
        if (!inside) continue;
        const std::string content = line.substr(line.find('>') + 1);
        auto& p = points.back();
        const auto number = [&] { return std::strtod(content.c_str(), nullptr); };
        if (name == "Time") {
            // The C library's calendar, not ours.
            int y = 0, mo = 0, d = 0, h = 0, mi = 0;
            double s = 0;
            if (std::sscanf(content.c_str(), "%d-%d-%dT%d:%d:%lf", &y, &mo, &d, &h, &mi, &s) == 6) {
                std::tm tm{};
                tm.tm_year = y - 1900, tm.tm_mon = mo - 1, tm.tm_mday = d, tm.tm_hour = h, tm.tm_min = mi;
                p.time_s = static_cast<double>(timegm(&tm)) + s;
            }
        }
        if (name == "LatitudeDegrees") p.value[ride::readers::latitude] = number();
        if (name == "LongitudeDegrees") p.value[ride::readers::longitude] = number();
        if (name == "AltitudeMeters") p.value[ride::readers::altitude] = number();
        if (name == "DistanceMeters") p.value[ride::readers::distance] = number();
        if (name == "Speed") p.value[ride::readers::speed] = number();
        if (name == "Watts") p.value[ride::readers::power] = number();
        if (name == "Cadence") p.value[ride::readers::cadence] = number();
    }
    return points;
}

}  // namespace

TEST(RealRecordings, EveryPointOfTheTcxFilesIsReadAsLibxml2LaysItOut) {
    if (!std::filesystem::exists(rides)) GTEST_SKIP() << "the real recordings are not there";
    if (output_of("xmllint --version 2>&1").empty()) GTEST_SKIP() << "xmllint is not there; tools/install test gets it";
    int files = 0;
    std::size_t values = 0;
    for (const auto& e : std::filesystem::directory_iterator(rides)) {
        if (e.path().extension() != ".tcx") continue;
        ++files;
        const auto xml = read_file(e.path().string());
        ASSERT_TRUE(xml);
        const auto ours = ride::readers::read_tcx(*xml, e.path().string());   // before the cleaning
        ASSERT_TRUE(ours) << ours.error().text;
        const auto laid_out = laid_out_points(e.path().string());
        ASSERT_EQ(ours->records.size(), laid_out.size()) << e.path();
        for (std::size_t i = 0; i < laid_out.size(); ++i) {
            ASSERT_NEAR(ours->records[i].time_s, laid_out[i].time_s, 1e-6) << e.path() << " " << i;   // milliseconds; doubles of 1e9 step in 1e-7
            for (std::size_t c = 0; c < ride::readers::channel_count; ++c) {
                const double a = ours->records[i].value[c], b = laid_out[i].value[c];
                ASSERT_TRUE(a == b || (std::isnan(a) && std::isnan(b))) << e.path() << ", point " << i << ", channel " << c << ": " << a << " and " << b;
                values += !std::isnan(a);
            }
        }
        // Files without faults come out of the cleaning untouched.
        const auto track = ride::read_ride(*xml, e.path().string());
        ASSERT_TRUE(track);
        if (!track->faults.empty()) continue;
        ASSERT_EQ(track->size(), laid_out.size());
        for (std::size_t i = 0; i < laid_out.size(); ++i) {
            ASSERT_EQ(track->latitude_deg[i], laid_out[i].value[ride::readers::latitude]);
            ASSERT_EQ(track->altitude_m[i], laid_out[i].value[ride::readers::altitude]);
            ASSERT_EQ(track->distance_m[i], laid_out[i].value[ride::readers::distance]);
        }
    }
    EXPECT_EQ(files, 4);
    EXPECT_GT(values, 70000u);
    std::printf("TCX: %zu values agree\n", values);
}
