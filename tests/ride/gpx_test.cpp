// SPDX-License-Identifier: Apache-2.0
// Reading GPX 1.0 and 1.1, whole and broken.
#include <gtest/gtest.h>

#include <cstdlib>
#include <filesystem>

#include "bw_paths.hpp"
#include "read_samples.hpp"

using namespace bw;
using namespace bw::ride;
using namespace bw::ride::samples;

TEST(Gpx, ReadsPositionsAltitudeAndTimesOfVersionOneOne) {
    const auto t = read(sample("two_segments_1_1.gpx"), "some/folder/two.gpx");
    ASSERT_EQ(t.size(), 5u);
    EXPECT_EQ(t.file, "two.gpx");
    EXPECT_EQ(t.start_unix_s.value(), 1777627800.0);   // 2026-05-01T09:30:00Z, by `date -u -d`
    EXPECT_EQ(t.t_s, (std::vector<double>{0, 1, 2.5, 8, 9}));
    EXPECT_DOUBLE_EQ(t.latitude_deg[1], 46.500054);
    EXPECT_DOUBLE_EQ(t.longitude_deg[4], 8.5);
    EXPECT_DOUBLE_EQ(t.altitude_m[2], 1199.2);
    EXPECT_TRUE(std::isnan(t.altitude_m[4])) << "no <ele> is not known, not 0";
}

TEST(Gpx, TakesPowerAirTemperatureSpeedAndDistanceFromExtensionsOfAnyPrefix) {
    const auto t = read(sample("two_segments_1_1.gpx"));
    ASSERT_EQ(t.size(), 5u);
    EXPECT_EQ(t.power_W[0], 150);
    EXPECT_EQ(t.power_W[2], 0) << "0 W is a value";
    EXPECT_TRUE(std::isnan(t.power_W[3]));
    EXPECT_EQ(t.temperature_degC[1], 12.5);
    EXPECT_EQ(t.cadence_rpm[0], 84);
    EXPECT_TRUE(std::isnan(t.cadence_rpm[1]));
    EXPECT_EQ(t.speed_mps[2], 6.2);
    EXPECT_EQ(t.distance_m[2], 12.1);
}

TEST(Gpx, APlainPowerOrWattsElementCountsToo) {
    for (const char* tag : {"power", "watts", "x:Watts"}) {
        const auto e = fmt::format("<extensions xmlns:x=\"urn:x\"><{0}>211</{0}></extensions>", tag);
        std::string xml = gpx_head;
        for (int i = 0; i < 3; ++i) xml += fmt::format("<trkpt lat=\"46.5\" lon=\"8.5\"><time>2026-05-01T09:30:0{}Z</time>{}</trkpt>", i, e);
        const auto t = read(xml + gpx_tail);
        ASSERT_EQ(t.power_W.size(), 3u) << tag;
        EXPECT_EQ(t.power_W[1], 211) << tag;
    }
}

TEST(Gpx, ASegmentStartsABreak) {
    const auto t = read(sample("two_segments_1_1.gpx"));
    EXPECT_EQ(t.break_before, (std::vector<std::uint8_t>{0, 0, 0, 1, 0}));
}

TEST(Gpx, ReadsVersionOneZeroWithItsSpeedPrefixesAndDecimalCommas) {
    const auto t = read(sample("speed_1_0.gpx"));
    ASSERT_EQ(t.size(), 3u);
    EXPECT_EQ(t.speed_mps, (std::vector<double>{6, 6.5, 7}));
    EXPECT_EQ(t.altitude_m, (std::vector<double>{100.5, 100, 99.5}));
    EXPECT_TRUE(t.power_W.empty()) << "a channel that was never written is empty";
    EXPECT_TRUE(t.faults.empty()) << faults_text(t);
}

TEST(Gpx, ARouteWithoutTimesIsRefusedInPlainWords) {
    const auto text = error_of(sample("route_only_1_1.gpx"), "way.gpx");
    EXPECT_NE(text.find("way.gpx"), text.npos);
    EXPECT_NE(text.find("3 route points"), text.npos) << text;
    EXPECT_NE(text.find("planned way"), text.npos) << text;
}

TEST(Gpx, ATrackWithoutTimesIsRefusedInPlainWords) {
    EXPECT_NE(error_of(sample("drawn_track_1_1.gpx")).find("no times"), std::string::npos);
}

TEST(Gpx, OtherXmlIsNamedInTheError) {
    EXPECT_NE(error_of("<?xml version=\"1.0\"?><html><body/></html>").find("<html>"), std::string::npos);
}

TEST(Gpx, ATruncatedFileKeepsEveryWholeRecordAndNoCutOne) {
    const auto ride = made_ride(100);
    const std::string whole = as_gpx(ride);
    for (std::size_t cut = gpx_head.size() + 3 * gpx_point(ride[0]).size(); cut < whole.size() - gpx_tail.size(); cut += 37) {
        const std::string part = whole.substr(0, cut);
        std::size_t ends = 0;   // where the end tag has begun, all that the record holds came before the cut
        for (auto at = part.find("</trkpt"); at != part.npos; at = part.find("</trkpt", at + 1)) ++ends;
        const auto t = read(part);
        ASSERT_GE(t.size() + 1, ends) << "cut at " << cut;   // an end tag that is the very last thing may go with the cut
        ASSERT_LE(t.size(), ends) << "cut at " << cut;
        EXPECT_NEAR(t.altitude_m.back(), ride[t.size() - 1].altitude_m, 0.006) << "a cut number was taken; cut at " << cut;
        ASSERT_TRUE(fault_of(t, FaultKind::truncated));
        EXPECT_NE(fault_of(t, FaultKind::truncated)->text.find(fmt::format("{} records", t.size())), std::string::npos);
        EXPECT_EQ(broken_promise(t), "");
    }
}

TEST(Gpx, WhatFollowsABrokenRecordIsReadToo) {
    const auto ride = made_ride(60);
    std::string xml = gpx_head;
    for (std::size_t i = 0; i < ride.size(); ++i) xml += i == 20 || i == 40 ? "<trkpt lat=\"46.5\" lon=\"8.5\"><ele>12</tim></trkpt>\n" : gpx_point(ride[i]);
    const auto t = read(xml + gpx_tail);
    EXPECT_EQ(t.size(), 58u);
    ASSERT_TRUE(fault_of(t, FaultKind::truncated));
    EXPECT_EQ(fault_of(t, FaultKind::truncated)->count, 2);
    for (const auto b : t.break_before) EXPECT_EQ(b, 0) << "a broken record is no new segment";
}

TEST(Gpx, ATimeThatCannotBeReadCostsItsRecordOnly) {
    auto ride = made_ride(50);
    std::string xml = gpx_head;
    for (std::size_t i = 0; i < ride.size(); ++i)
        xml += i == 7 ? "<trkpt lat=\"46.5\" lon=\"8.5\"><time>yesterday</time></trkpt>" : i == 9 ? "<trkpt lat=\"46.5\" lon=\"8.5\"/>" : gpx_point(ride[i]);
    const auto t = read(xml + gpx_tail);
    EXPECT_EQ(t.size(), 48u);
    EXPECT_EQ(count_of(t, FaultKind::no_time), 2);
}

TEST(Gpx, ZeroBytesLeftByALossOfPowerAreReported) {
    const auto ride = made_ride(30);
    std::string xml = gpx_head;
    for (const auto& r : ride) xml += gpx_point(r);
    const auto t = read(xml + std::string(512, '\0'));
    EXPECT_EQ(t.size(), 30u);
    EXPECT_EQ(count_of(t, FaultKind::other), 512);
    EXPECT_TRUE(fault_of(t, FaultKind::truncated));
}

TEST(Gpx, EntitiesAreNeverExpanded) {
    std::string xml = "<?xml version=\"1.0\"?><!DOCTYPE gpx [<!ENTITY a \"aaaaaaaaaa\">";
    for (char c = 'b'; c <= 'z'; ++c) xml += fmt::format("<!ENTITY {} \"&{};&{};&{};&{};&{};&{};&{};&{};&{};&{};\">", c, c - 1, c - 1, c - 1, c - 1, c - 1, c - 1, c - 1, c - 1, c - 1, c - 1);
    xml += "]><gpx version=\"1.1\"><trk><name>&z;</name><trkseg>";
    const auto ride = made_ride(3);
    for (const auto& r : ride) xml += gpx_point(r);
    EXPECT_EQ(read(xml + gpx_tail).size(), 3u);
}

TEST(Gpx, DeepNestingIsReadWithoutRecursion) {
    std::string xml = "<gpx>";
    for (int i = 0; i < 200000; ++i) xml += "<a>";
    EXPECT_FALSE(read_ride(xml, "deep"));
    std::string tail = "<trk><trkseg>" + gpx_point(made_ride(2)[0]) + gpx_point(made_ride(2)[1]) + "</trkseg></trk>";
    for (int i = 0; i < 200000; ++i) tail += "</a>";
    EXPECT_EQ(read(xml + tail + "</gpx>").size(), 2u);
}

TEST(Gpx, AFileInUtf16IsRead) {
    const std::string xml = as_gpx(made_ride(10));
    std::string wide = "\xff\xfe";
    for (const char c : xml.substr(xml.find("<gpx"))) wide += c, wide += '\0';
    const auto t = read(wide);
    EXPECT_EQ(t.size(), 10u);
    EXPECT_TRUE(t.faults.empty()) << faults_text(t);
}

TEST(Gpx, AFileOfMoreThanAQuarterGigabyteIsRefusedAndNotParsed) {
    const std::string big((std::size_t{256} << 20) + 1, ' ');
    EXPECT_NE(error_of(big).find("256 MB"), std::string::npos);
}

TEST(Gpx, TheSamplesOfVersionOneOneFollowTheOpenSchema) {
    const std::string schema = std::string(BW_ROOT) + "/../shared/rides/schema/gpx-1.1.xsd";
    if (!std::filesystem::exists(schema)) GTEST_SKIP() << "the GPX 1.1 schema is not there";
    if (std::system("xmllint --version > /dev/null 2>&1") != 0) GTEST_SKIP() << "xmllint is not there";
    int seen = 0;
    for (const auto& e : std::filesystem::directory_iterator(std::string(BW_ROOT) + "/tests/ride/data")) {
        const std::string file = e.path().string();
        if (!file.ends_with("_1_1.gpx")) continue;
        ++seen;
        EXPECT_EQ(std::system(fmt::format("xmllint --noout --nonet --schema '{}' '{}' > /dev/null 2>&1", schema, file).c_str()), 0) << file;
    }
    EXPECT_GE(seen, 3);
}
