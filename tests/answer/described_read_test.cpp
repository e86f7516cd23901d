// SPDX-License-Identifier: Apache-2.0
// Described rides: what is read, and what is refused with file and line.
#include <gtest/gtest.h>

#include "answer/answer.hpp"

using namespace bw;
using namespace bw::answer;

namespace {

Described read(const std::string& text) {
    Result<Described> r = read_described(text, "diary.csv", "mine");
    EXPECT_TRUE(r) << (r ? "" : r.error().text);
    return r ? *r : Described{};
}

void expect_refused(const std::string& text, const std::vector<std::string>& words) {
    const Result<Described> r = read_described(text, "diary.csv", "mine");
    ASSERT_FALSE(r) << text;
    EXPECT_EQ(r.error().code, Errc::bad_input);
    for (const std::string& w : words) EXPECT_NE(r.error().text.find(w), std::string::npos) << r.error().text << " lacks " << w;
}

}  // namespace

TEST(DescribedCsv, IsToldByItsHeaderFromRecordedAndPlannedOnes) {
    EXPECT_TRUE(is_described("date,bike,distance_m,descent_m,stops_per_km,surface,weather,load_kg\n"));
    EXPECT_TRUE(is_described("\xEF\xBB\xBF" "descent_m,distance_m\r\n10,1000\r\n"));
    EXPECT_TRUE(is_described("distance_m;descent_m\n"));
    EXPECT_TRUE(is_described("descent_m,length\n")) << "so that the error names the column";
    EXPECT_FALSE(is_described("t_s,distance_m,altitude_m\n"));
    EXPECT_FALSE(is_described("distance_m,altitude_m\n")) << "a way";
    EXPECT_FALSE(is_described("time,latitude_deg,longitude_deg\n"));
    EXPECT_FALSE(is_described("<?xml version=\"1.0\"?><gpx/>"));
    EXPECT_FALSE(is_described(""));
}

TEST(DescribedCsv, TakesColumnsInAnyOrderAndEmptyOnes) {
    const Described d = read("load_kg,distance_m,weather,date,descent_m\n,12000,wet,2025-05-01,\n20,9000,,,150\n\n");
    ASSERT_EQ(d.rows.size(), 2u);
    EXPECT_EQ(d.rows[0].distance_m, 12000);
    EXPECT_FALSE(d.rows[0].descent_m);
    EXPECT_EQ(d.rows[0].tags.weather, Weather::wet);
    EXPECT_EQ(d.rows[0].day, 20209);   // 55 years, 14 leap days, and 120 days of 2025
    EXPECT_EQ(d.rows[1].tags.load_kg, 20);
    EXPECT_EQ(*d.rows[1].descent_m, 150);
    EXPECT_EQ(d.rows[1].where, "diary.csv:3");
}

TEST(DescribedCsv, ReadsSemicolonsWithDecimalCommas) {
    const Described d = read("distance_m;stops_per_km\n12000,5;0,8\n");
    ASSERT_EQ(d.rows.size(), 1u);
    EXPECT_EQ(d.rows[0].distance_m, 12000.5);
    EXPECT_EQ(*d.rows[0].stops_per_km, 0.8);
}

TEST(DescribedCsv, LeavesOutTheRowsOfOtherBikesAndCountsThem) {
    const Described d = read("bike,distance_m\nmine,1000\nhers,2000\n,3000\n");
    ASSERT_EQ(d.rows.size(), 2u);
    EXPECT_EQ(d.rows[1].distance_m, 3000);
    EXPECT_EQ(d.left_out, 1);
}

TEST(DescribedCsv, RefusesAnUnknownColumnAndNamesTheNearest) { expect_refused("distance_m,decent_m\n1000,10\n", {"diary.csv:1", "'decent_m'", "'descent_m'"}); }
TEST(DescribedCsv, RefusesAFileWithoutDistances) { expect_refused("date,descent_m\n2025-05-01,10\n", {"diary.csv:1", "distance_m"}); }
TEST(DescribedCsv, RefusesAnEmptyDistance) { expect_refused("distance_m,descent_m\n1000,10\n,20\n", {"diary.csv:3", "distance_m"}); }
TEST(DescribedCsv, RefusesAWordThatIsNoNumber) { expect_refused("distance_m\nfar\n", {"diary.csv:2", "'far'"}); }
TEST(DescribedCsv, RefusesKilometresInAColumnOfMetres) { expect_refused("distance_m,descent_m\n24,560\n", {"diary.csv:2", "metres"}); }
TEST(DescribedCsv, RefusesASurfaceThatNobodyKnows) { expect_refused("distance_m,surface\n1000,muddy\n", {"diary.csv:2", "gravel"}); }
TEST(DescribedCsv, RefusesAWeatherThatNobodyKnows) { expect_refused("distance_m,weather\n1000,sunny\n", {"diary.csv:2", "gritty"}); }
TEST(DescribedCsv, RefusesAWrongDate) { expect_refused("distance_m,date\n1000,1.5.2025\n", {"diary.csv:2", "2026-05-01"}); }
TEST(DescribedCsv, RefusesARowOfAnotherLength) { expect_refused("distance_m,descent_m\n1000\n", {"diary.csv:2", "2 fields"}); }
TEST(DescribedCsv, RefusesAColumnThatIsThereTwice) { expect_refused("distance_m,distance_m\n1,2\n", {"diary.csv:1", "twice"}); }
TEST(DescribedCsv, RefusesLoadsAndSlopesBeyondReason) {
    expect_refused("distance_m,load_kg\n1000,4000\n", {"diary.csv:2", "load_kg"});
    expect_refused("distance_m,stops_per_km\n1000,-1\n", {"diary.csv:2", "stops_per_km"});
}
