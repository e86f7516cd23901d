// SPDX-License-Identifier: Apache-2.0
// Reading TCX, whole and broken.
#include <gtest/gtest.h>

#include <filesystem>
#include <map>

#include "bw_paths.hpp"
#include "read_samples.hpp"
#include "tcx_writer.hpp"

using namespace bw;
using namespace bw::ride;
using namespace bw::ride::samples;

TEST(Tcx, ReadsEveryChannelOfATrackpoint) {
    const auto t = read(sample("two_laps.tcx"), "some/folder/two.tcx");
    ASSERT_EQ(t.size(), 6u);
    EXPECT_EQ(t.file, "two.tcx");
    EXPECT_EQ(t.start_unix_s.value(), 1777627800.0);
    EXPECT_EQ(t.t_s, (std::vector<double>{0, 1, 2.5, 8, 9, 10}));
    EXPECT_DOUBLE_EQ(t.latitude_deg[1], 46.500054);
    EXPECT_DOUBLE_EQ(t.longitude_deg[4], 8.5);
    EXPECT_DOUBLE_EQ(t.altitude_m[2], 1199.2);
    EXPECT_TRUE(std::isnan(t.altitude_m[4])) << "no altitude is not known, not 0";
    EXPECT_EQ(t.distance_m[2], 15.2);
    EXPECT_EQ(t.speed_mps[2], 6.2);
    EXPECT_EQ(t.power_W[0], 150);
    EXPECT_EQ(t.power_W[2], 0) << "0 W is a value";
    EXPECT_TRUE(std::isnan(t.power_W[3]));
    EXPECT_TRUE(t.faults.empty()) << faults_text(t);
}

TEST(Tcx, ASecondTrackInALapIsABreakAndANewLapIsNone) {
    // Track 1 of lap 1: three points; track 2 of lap 1: two; lap 2: one.
    EXPECT_EQ(read(sample("two_laps.tcx")).break_before, (std::vector<std::uint8_t>{0, 0, 0, 1, 0, 0}));
}

TEST(Tcx, ExtensionsAreReadWithWhateverPrefix) {
    for (const char* prefix : {"", "ns3:", "x:"}) {
        const auto t = read(as_tcx(made_ride(5), prefix));
        ASSERT_EQ(t.size(), 5u) << prefix;
        EXPECT_EQ(t.power_W.size(), 5u) << prefix;
        EXPECT_EQ(t.speed_mps.size(), 5u) << prefix;
    }
}

TEST(Tcx, AWholeMadeRideComesOutUntouched) {
    const auto ride = made_ride(1000);
    const auto bytes = as_tcx(ride);
    const auto t = read(bytes);
    ASSERT_EQ(t.size(), ride.size());
    EXPECT_TRUE(t.faults.empty()) << faults_text(t);
    EXPECT_EQ(broken_promise(t), "");
    for (std::size_t i = 0; i < ride.size(); ++i) {
        ASSERT_EQ(t.t_s[i], ride[i].t_s);
        ASSERT_NEAR(t.latitude_deg[i], ride[i].latitude_deg, 0.51e-7);
        ASSERT_NEAR(t.altitude_m[i], ride[i].altitude_m, 0.0051);
        ASSERT_NEAR(t.distance_m[i], ride[i].distance_m, 0.0051);
        ASSERT_NEAR(t.speed_mps[i], ride[i].speed_mps, 0.00051);
    }
}

TEST(Tcx, ALapWithoutATrackBesideOneWithATrackCostsNothing) {
    auto xml = as_tcx(made_ride(20));
    xml.insert(xml.find("<Lap"), "<Lap StartTime=\"2026-05-01T09:00:00Z\"><TotalTimeSeconds>0</TotalTimeSeconds><DistanceMeters>0</DistanceMeters></Lap>");
    const auto t = read(xml);
    EXPECT_EQ(t.size(), 20u);
    EXPECT_TRUE(t.faults.empty()) << faults_text(t);
}

TEST(Tcx, LapsWithoutAnyTrackAreRefusedInPlainWords) {
    auto xml = as_tcx(made_ride(20));
    xml.erase(xml.find("<Track>"), xml.find("</Lap>") - xml.find("<Track>"));
    const auto text = error_of(xml, "sums.tcx");
    EXPECT_NE(text.find("sums.tcx"), text.npos) << text;
    EXPECT_NE(text.find("1 lap but no track"), text.npos) << text;
}

TEST(Tcx, ATruncatedFileKeepsEveryWholeRecordAndNoCutOne) {
    const auto ride = made_ride(60);
    const std::string whole = as_tcx(ride);
    for (std::size_t cut = whole.find("</Trackpoint>") + 800; cut < whole.size() - 60; cut += 37) {
        const std::string part = whole.substr(0, cut);
        std::size_t ends = 0;
        for (auto at = part.find("</Trackpoint"); at != part.npos; at = part.find("</Trackpoint", at + 1)) ++ends;
        const auto t = read(part);
        ASSERT_GE(t.size() + 1, ends) << "cut at " << cut;
        ASSERT_LE(t.size(), ends) << "cut at " << cut;
        EXPECT_NEAR(t.distance_m.back(), ride[t.size() - 1].distance_m, 0.0051) << "a cut number was taken; cut at " << cut;
        ASSERT_TRUE(fault_of(t, FaultKind::truncated));
        EXPECT_EQ(broken_promise(t), "");
    }
}

TEST(Tcx, WhatFollowsABrokenRecordIsReadToo) {
    auto xml = as_tcx(made_ride(60));
    for (int broken = 0; broken < 2; ++broken) {
        std::size_t at = 0;
        for (int i = 0; i <= 20 + 20 * broken; ++i) at = xml.find("<AltitudeMeters>", at + 1);
        xml.replace(at, 3, "<AltitudeMetre>");
    }
    const auto t = read(xml);
    EXPECT_EQ(t.size(), 58u);
    ASSERT_TRUE(fault_of(t, FaultKind::truncated));
    EXPECT_EQ(fault_of(t, FaultKind::truncated)->count, 2);
    for (const auto b : t.break_before) EXPECT_EQ(b, 0) << "a broken record is no new segment";
}

TEST(Tcx, ATimeThatCannotBeReadCostsItsRecordOnly) {
    auto xml = as_tcx(made_ride(50));
    auto at = xml.find("<Time>", xml.find("<Time>") + 1);
    xml.replace(at + 6, 24, "yesterday");
    at = xml.find("<Time>", at + 10);
    xml.erase(at, xml.find("</Time>", at) + 7 - at);
    const auto t = read(xml);
    EXPECT_EQ(t.size(), 48u) << faults_text(t);
    EXPECT_EQ(count_of(t, FaultKind::no_time), 2);
}

TEST(Tcx, ACourseWithTimesIsReadAsARideAndSaid) {
    const auto t = read(as_tcx_course(made_ride(30), Times::with));
    EXPECT_EQ(t.size(), 30u);
    ASSERT_TRUE(fault_of(t, FaultKind::other));
    EXPECT_NE(fault_of(t, FaultKind::other)->text.find("course"), std::string::npos);
}

TEST(Tcx, PlacesToStopOnACourseAreNoRecords) {
    auto xml = as_tcx_course(made_ride(30), Times::with);
    xml.insert(xml.find("</Course>"),
               "<CoursePoint><Name>well</Name><Time>2026-05-01T09:30:05Z</Time><Position><LatitudeDegrees>46</LatitudeDegrees><LongitudeDegrees>8</LongitudeDegrees>"
               "</Position><PointType>Water</PointType></CoursePoint>");
    EXPECT_EQ(read(xml).size(), 30u);
}

// ---- real recordings: at hand only beside the project -----------------------------------------------------------------------

TEST(RealTcx, EveryFileGivesTheRecordsAndFaultsThatItHolds) {
    const std::string rides = std::string(BW_ROOT) + "/../shared/rides/";
    if (!std::filesystem::exists(rides)) GTEST_SKIP() << "the real recordings are not there";
    using enum FaultKind;
    struct Expected {
        const char* file;
        std::size_t kept;
        double duration_s, distance_m;
        std::map<FaultKind, int> faults;
    };
    // Distances: that of the laps in the file, or the last of the points.
    const std::vector<Expected> all{
        {"good/descent-658m-power.tcx", 1454, 1453, 10227.69, {}},
        {"good/road-hilly-power.tcx", 4792, 4791, 27371.96, {}},
        // The wheel sensor missed pulses: 20,093.5 m counted; every fifth position alone, chord by chord, gives 20,622 m.
        {"good/hilly-speed-spikes-power.tcx", 4134, 4217, 20635.57, {{speed_spike, 112 + 147}, {no_altitude, 17}, {no_position, 22}, {pause, 1}}},
        // 3,524 points, of which the last of the first lap and the first of the second have one time.
        {"good/rolling-irregular-sampling.tcx", 3523, 12127, 55722.9, {{duplicate_time, 1}, {pause, 9}, {gap_moving, 13}}},
    };
    std::size_t files = 0;
    for (const auto& e : std::filesystem::directory_iterator(rides + "good")) files += e.path().extension() == ".tcx";
    EXPECT_EQ(files, all.size()) << "a file without an expectation";
    for (const auto& x : all) {
        const auto bytes = read_file(rides + x.file);
        ASSERT_TRUE(bytes) << x.file;
        const auto t = read(*bytes, x.file);
        EXPECT_EQ(t.size(), x.kept) << x.file;
        EXPECT_EQ(t.t_s.back(), x.duration_s) << x.file;
        EXPECT_NEAR(t.distance_m.back(), x.distance_m, 0.06) << x.file;
        EXPECT_EQ(broken_promise(t), "") << x.file;
        std::map<FaultKind, int> faults;
        for (const auto& f : t.faults) faults[f.kind] += f.count;
        EXPECT_EQ(faults, x.faults) << x.file << "\n" << faults_text(t);
    }
    const auto sums = read_file(rides + "odd/tcx-no-track.tcx");
    ASSERT_TRUE(sums);
    EXPECT_NE(error_of(*sums).find("1 lap but no track"), std::string::npos);
}
