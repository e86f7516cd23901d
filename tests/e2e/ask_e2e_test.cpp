// SPDX-License-Identifier: Apache-2.0
// The six questions: no ride needed, wide answers, the one measurement that narrows them most.
#include <gtest/gtest.h>

#include <algorithm>
#include <nlohmann/json.hpp>
#include <sstream>

#include "run.hpp"

using namespace bw::e2e;
using nlohmann::json;

namespace {

json ask(const std::string& lines) {
    const Outcome o = brakewright({"answer", "--ask", "--json", "--today", "2026-05-01"}, lines);
    EXPECT_EQ(o.status, 0) << o.err;
    return o.status == 0 ? json::parse(o.out) : json();
}

double width(const json& interval) { return interval["p95"].get<double>() / interval["p05"].get<double>(); }

}  // namespace

TEST(SixQuestions, GiveStopHeatAndLifeWithoutARide) {
    const json a = ask("trail\n100\n180\norganic\n3.5\nhilly\n");
    ASSERT_EQ(a["rides"].size(), 1u);
    EXPECT_TRUE(a["rides"][0]["planned"]);
    EXPECT_FALSE(a["rides"][0]["wheels"]["front"]["rotor_peak_degC"].is_null());
    EXPECT_FALSE(a["stops"][0]["brake_distance_m"].is_null());
    EXPECT_FALSE(a["life"]["front"]["pad"].is_null());
    EXPECT_FALSE(a["measure_next"].is_null());
    EXPECT_EQ(a["verdict"]["state"], "measure_better") << "a total thickness rests on an assumed plate";
}

TEST(SixQuestions, GiveWideAnswers) {
    const json a = ask("gravel\n90\n160\norganic\n3.2\nmountain\n");
    EXPECT_GT(width(a["life"]["front"]["pad"]["remaining_km"]), 5);
    EXPECT_GT(width(a["rides"][0]["brake_energy_J"]), 2);
}

TEST(SixQuestions, AnEmptyLineMeansNotKnown) {
    const json a = ask("city\n\n\n\n\n\n");
    EXPECT_GT(a["bike"]["total_mass_kg"].get<double>(), 60);
    EXPECT_EQ(a["verdict"]["state"], "measure_better");
}

TEST(SixQuestions, APadAlmostAtItsPlateIsHeldBack) {
    EXPECT_TRUE(ask("city\n100\n160\norganic\n2.1\nflat\n")["verdict"]["do_not_ride"]);
}

TEST(SixQuestions, SteeperCountryIsHotterAndWearsFaster) {
    const json flat = ask("trail\n100\n180\norganic\n3.5\nflat\n"), mountain = ask("trail\n100\n180\norganic\n3.5\nmountain\n");
    EXPECT_GT(mountain["rides"][0]["wheels"]["front"]["rotor_peak_degC"]["p50"].get<double>(), flat["rides"][0]["wheels"]["front"]["rotor_peak_degC"]["p50"].get<double>() + 50);
    EXPECT_LT(mountain["life"]["front"]["pad"]["remaining_km"]["p50"].get<double>(), flat["life"]["front"]["pad"]["remaining_km"]["p50"].get<double>());
}

TEST(SixQuestions, AreAskedAgainAfterASlipAndTakeADecimalComma) {
    const Outcome o = brakewright({"answer", "--ask", "--json"}, "trial\ntrail\n100\n180\norganic\n3,5\nhilly\n");
    EXPECT_EQ(o.status, 0);
    EXPECT_NE(o.err.find("did you mean trail?"), std::string::npos) << o.err;
}

TEST(SixQuestions, AreAnsweredWithinEightyColumns) {
    for (const char* terrain : {"flat", "mountain"}) {
        std::istringstream lines(brakewright({"answer", "--ask"}, std::string("cargo\n190\n180\nsintered\n3.5\n") + terrain + "\n").out);
        for (std::string line; std::getline(lines, line);) {
            const auto letters = std::count_if(line.begin(), line.end(), [](char c) { return (static_cast<unsigned char>(c) & 0xC0) != 0x80; });
            EXPECT_LE(letters, 80) << line;
        }
    }
}

TEST(SixQuestions, AMassThatWasNotToldStandsUnderAssumedAndNoRideInTheSummary) {
    const Folder folder;
    const Outcome o = brakewright({"answer", "--ask", "--json", "--summary", folder.path("s.csv")}, "city\n\n\n\n\n\n");
    ASSERT_EQ(o.status, 0) << o.err;
    bool rider = false, rate = false;
    const json a = json::parse(o.out);
    for (const auto& s : a["assumed"]) {
        rider = rider || s["key"] == "rider.mass_kg";
        rate = rate || s["key"] == "riding.rides_per_week";
    }
    EXPECT_TRUE(rider);
    EXPECT_TRUE(rate);
    const std::string summary = read(folder.path("s.csv"));
    EXPECT_EQ(std::count(summary.begin(), summary.end(), '\n'), 1) << "nobody rode it";
    EXPECT_GT(a["life"]["front"]["pad"]["look_by_km"].get<double>() + 1, 0) << "without a date there is still a distance to look by";
}

TEST(SixQuestions, ThatStopHalfWayAreRefused) { EXPECT_EQ(brakewright({"answer", "--ask"}, "trail\n100\n").status, 3); }
