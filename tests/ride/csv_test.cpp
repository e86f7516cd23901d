// SPDX-License-Identifier: Apache-2.0
// Reading ride CSV.
#include <gtest/gtest.h>

#include "read_samples.hpp"

using namespace bw;
using namespace bw::ride;
using namespace bw::ride::samples;

TEST(RideCsv, ReadsEveryColumnByItsName) {
    const auto t = read(sample("all_columns.csv"), "all_columns.csv");
    ASSERT_EQ(t.size(), 3u);
    EXPECT_EQ(t.start_unix_s.value(), 1777627800.0);
    EXPECT_EQ(t.t_s, (std::vector<double>{0, 1, 2}));
    EXPECT_EQ(t.latitude_deg[1], 46.500054);
    EXPECT_EQ(t.longitude_deg[1], 8.5);
    EXPECT_EQ(t.altitude_m[2], 1199.2);
    EXPECT_EQ(t.distance_m[2], 12.1);
    EXPECT_EQ(t.speed_mps[0], 6);
    EXPECT_TRUE(std::isnan(t.power_W[1])) << "empty is not known";
    EXPECT_EQ(t.power_W[2], 0);
    EXPECT_EQ(t.temperature_degC[2], 12.4);
    EXPECT_EQ(t.cadence_rpm[0], 84);
    EXPECT_EQ(t.cadence_rpm[2], 0);
    EXPECT_TRUE(t.faults.empty()) << faults_text(t);
}

TEST(RideCsv, ReadsSemicolonsDecimalCommasMarksAndQuotesInAnyOrderOfColumns) {
    const auto t = read(sample("decimal_comma.csv"));
    ASSERT_EQ(t.size(), 3u);
    EXPECT_EQ(t.t_s, (std::vector<double>{0, 1, 2}));
    EXPECT_EQ(t.speed_mps, (std::vector<double>{6, 6.5, 7}));
    EXPECT_EQ(t.altitude_m, (std::vector<double>{1200, 1199.5, 1199}));
    EXPECT_FALSE(t.start_unix_s.has_value()) << "seconds alone state no date";
}

TEST(RideCsv, WithBothTimeColumnsSecondsCountAndTheStampGivesTheDate) {
    const auto t = read("t_s,time,speed_mps\n10.25,2026-05-01T09:30:10Z,5\n10.75,2026-05-01T09:30:10Z,5\n11.25,2026-05-01T09:30:11Z,5\n");
    EXPECT_EQ(t.t_s, (std::vector<double>{0, 0.5, 1}));
    EXPECT_EQ(t.start_unix_s.value(), 1777627810.0);
}

TEST(RideCsv, AnUnknownColumnIsRefusedWithItsLineAndTheNearestName) {
    const auto text = error_of("\nt_s,speed_kmh\n0,20\n1,20\n", "r.csv");
    EXPECT_NE(text.find("r.csv, line 2"), text.npos) << text;
    EXPECT_NE(text.find("\"speed_kmh\""), text.npos) << text;
    EXPECT_NE(text.find("\"speed_mps\" meant"), text.npos) << text;
}

TEST(RideCsv, AMissingTimeColumnADoubledColumnAndHalfAPositionAreRefused) {
    EXPECT_NE(error_of("speed_mps\n1\n2\n").find("no time column"), std::string::npos);
    EXPECT_NE(error_of("t_s,t_s\n1,1\n2,2\n").find("twice"), std::string::npos);
    EXPECT_NE(error_of("t_s,latitude_deg\n1,46\n2,46\n").find("longitude_deg is missing"), std::string::npos);
}

TEST(RideCsv, ABadNumberIsNotKnownAndCountedWithItsFirstLine) {
    const auto t = read("t_s,speed_mps,altitude_m\n0,5,100\n1,fast,100\n2,5,100\n3,12 m,99\n");
    ASSERT_EQ(t.size(), 4u);
    EXPECT_TRUE(std::isnan(t.speed_mps[1]));
    EXPECT_EQ(t.altitude_m[1], 100);
    ASSERT_EQ(t.faults.size(), 2u) << faults_text(t);   // and no_position
    EXPECT_EQ(t.faults[0].kind, FaultKind::other);
    EXPECT_EQ(t.faults[0].count, 2);
    EXPECT_NE(t.faults[0].text.find("speed_mps"), std::string::npos);
    EXPECT_NE(t.faults[0].text.find("line 3"), std::string::npos);
    EXPECT_NE(t.faults[0].text.find("fast"), std::string::npos);
}

TEST(RideCsv, ARowWithoutAReadableTimeIsLeftOutAndCounted) {
    const auto t = read("t_s,speed_mps\n0,5\n,5\nx,5\n3,5\n");
    EXPECT_EQ(t.size(), 2u);
    EXPECT_EQ(count_of(t, FaultKind::no_time), 2);
    EXPECT_NE(fault_of(t, FaultKind::no_time)->text.find("line 3"), std::string::npos);
    EXPECT_NE(error_of("time,speed_mps\nsoon,5\nlater,6\n", "r.csv").find("r.csv, line 2"), std::string::npos);
}

TEST(RideCsv, ADecimalCommaBetweenCommasIsNotReadAsTwoColumns) {
    EXPECT_NE(error_of("t_s,speed_mps\n0,5,25\n1,5,50\n").find("semicolons"), std::string::npos);
}

TEST(RideCsv, ACutLastLineIsLeftOut) {
    const auto t = read("t_s,speed_mps,altitude_m\n0,5,100\n1,5,100\n2,5,100\n3,1");
    EXPECT_EQ(t.size(), 3u);
    EXPECT_TRUE(fault_of(t, FaultKind::truncated));
}

TEST(RideCsv, BlankLinesAndTrailingSeparatorsAreNothing) {
    const auto t = read("t_s,speed_mps,\n\n0,5,\n1,5,\n,,\n\n");
    EXPECT_EQ(t.size(), 2u);
    EXPECT_FALSE(fault_of(t, FaultKind::other));
}

TEST(RideCsv, EmptyAndForeignFilesAreRefused) {
    EXPECT_NE(error_of("").find("empty"), std::string::npos);
    EXPECT_NE(error_of(" \n\n ").find("empty"), std::string::npos);
    EXPECT_NE(error_of(std::string("\x89PNG\r\n\x1a\n\0\0\0\rIHDR", 16)).find("made"), std::string::npos);
    EXPECT_NE(error_of(std::string("\x0e\x10\x64\x08\x00\x00\x00\x00.FIT\x00\x00", 14)).find("FIT"), std::string::npos);
}
