// SPDX-License-Identifier: Apache-2.0
#include "base/text.hpp"

#include <gtest/gtest.h>

#include <filesystem>

#include "base/time.hpp"

using namespace bw;

TEST(ParseNumber, TakesNumbersAndNothingElse) {
    EXPECT_EQ(parse_number(" -1.5e3 "), -1500);
    EXPECT_EQ(parse_number("+2"), 2);
    for (const char* bad : {"", "1,5", "1.5mm", "nan", "inf", "1e999", "+-1", "0x10"}) EXPECT_FALSE(parse_number(bad)) << bad;
}

TEST(ParseQuantity, TurnsTheUnitsOfTheBenchIntoSi) {
    EXPECT_NEAR(*parse_quantity("25km/h", Unit::speed_mps), 25 / 3.6, 1e-12);
    EXPECT_NEAR(*parse_quantity("15 mph", Unit::speed_mps), 6.7056, 1e-12);        // 1 mile = 1609.344 m, exact
    EXPECT_NEAR(*parse_quantity("10 lbf", Unit::force_N), 44.482216152605, 1e-9);  // 16 CFR 1512.5(b)(5) prints 44.5 N
    EXPECT_NEAR(*parse_quantity("392 F", Unit::temperature_degC), 200, 1e-9);
    EXPECT_NEAR(*parse_quantity("-8%", Unit::fraction), -0.08, 1e-12);
    EXPECT_NEAR(*parse_quantity("3.5 in", Unit::length_mm), 88.9, 1e-9);
    EXPECT_NEAR(*parse_quantity("2.5", Unit::length_mm), 2.5, 0);
    const auto bad = parse_quantity("25 knots", Unit::speed_mps);
    ASSERT_FALSE(bad);
    EXPECT_NE(bad.error().text.find("km/h"), std::string::npos);
}

TEST(NearestWord, FindsTheSlipOfAFingerAndNotAnythingAtAll) {
    const std::vector<std::string> known = {"front.rotor.thickness_mm", "front.rotor.diameter_mm", "bike.kind"};
    EXPECT_EQ(nearest_word("front.rotor.thicknes_mm", known), "front.rotor.thickness_mm");
    EXPECT_FALSE(nearest_word("zzzz", known));
}

TEST(CsvFields, ReadWhatCsvFieldWrote) {
    const std::string line = csv_field("a,b") + "," + csv_field("say \"no\"") + ",," + csv_field("plain");
    EXPECT_EQ(csv_fields(line), (std::vector<std::string>{"a,b", "say \"no\"", "", "plain"}));
}

TEST(ReadFile, SaysWhichFileCannotBeRead) {
    const auto r = read_file("/nonexistent/ride.gpx");
    ASSERT_FALSE(r);
    EXPECT_NE(r.error().text.find("/nonexistent/ride.gpx"), std::string::npos);
    EXPECT_FALSE(read_file("/"));
}

TEST(WriteFile, ReplacesAFileWholeAndLeavesNothingBeside) {
    const auto dir = std::filesystem::temp_directory_path() / "bw_text_test";
    std::filesystem::create_directories(dir);
    const std::string path = (dir / "a.txt").string();
    ASSERT_TRUE(write_file(path, "one"));
    ASSERT_TRUE(write_file(path, "two"));
    EXPECT_EQ(*read_file(path), "two");
    EXPECT_EQ(std::distance(std::filesystem::directory_iterator(dir), std::filesystem::directory_iterator{}), 1);
    std::filesystem::remove_all(dir);
}

TEST(Significant, RoundsForPeopleWithoutExponents) {
    EXPECT_EQ(significant(1234.5, 2), "1200");
    EXPECT_EQ(significant(0.012345, 3), "0.0123");
    EXPECT_EQ(significant(9.96, 2), "10");
    EXPECT_EQ(significant(-3.14159, 3), "-3.14");
    EXPECT_EQ(significant(0, 3), "0");
    EXPECT_EQ(significant(std::numeric_limits<double>::quiet_NaN(), 3), "not known");
}

TEST(Significant, LongWholeNumbersAreReadInThrees) {
    EXPECT_EQ(in_threes("100000"), "100,000");
    EXPECT_EQ(in_threes("1700"), "1,700");
    EXPECT_EQ(in_threes("999"), "999");
    EXPECT_EQ(in_threes("0.00125"), "0.00125");
    EXPECT_EQ(in_threes("not known"), "not known");
}

TEST(Wrap, KeepsEveryLineWithinTheWidthAndEveryWord) {
    const std::string text = wrap("one two three four five six seven eight nine ten", 14, 2);
    std::size_t at = 0, words = 0;
    while (at < text.size()) {
        const std::size_t end = std::min(text.find('\n', at), text.size());
        EXPECT_LE(end - at, 14u);
        at = end + 1;
    }
    for (std::size_t i = 0; i < text.size(); ++i) words += text[i] != ' ' && text[i] != '\n' && (i == 0 || text[i - 1] == ' ' || text[i - 1] == '\n');
    EXPECT_EQ(words, 10u);
}

TEST(ParseTime, KnowsOffsetsFractionsAndLeapDays) {
    EXPECT_EQ(parse_time("1970-01-01T00:00:00Z"), 0.0);
    // 2021-09-08T01:46:40Z = 1631065600: FIT time stamp 1000000000 + 631065600 (FIT epoch, public package documentation).
    EXPECT_EQ(parse_time("2021-09-08T01:46:40Z"), 1631065600.0);
    EXPECT_EQ(parse_time("2021-09-08T03:46:40+02:00"), 1631065600.0);
    EXPECT_EQ(parse_time("2021-09-08T01:46:40"), 1631065600.0);
    EXPECT_NEAR(*parse_time("2021-09-08T01:46:40.250Z"), 1631065600.25, 1e-6);
    EXPECT_TRUE(parse_day("2024-02-29"));
    for (const char* bad : {"2023-02-29", "2023-13-01", "2023-1-1", "yesterday", ""}) EXPECT_FALSE(parse_day(bad)) << bad;
    for (const char* bad : {"2023-01-01T25:00:00Z", "2023-01-01", "2023-01-01T10:00:00Zx"}) EXPECT_FALSE(parse_time(bad)) << bad;
    EXPECT_EQ(format_time(1631065600.9), "2021-09-08T01:46:40Z");
    EXPECT_EQ(format_day(*parse_day("1999-12-31") + 1), "2000-01-01");
}
