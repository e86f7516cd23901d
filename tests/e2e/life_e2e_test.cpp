// SPDX-License-Identifier: Apache-2.0
// `life` as a person uses it.
#include <gtest/gtest.h>

#include <nlohmann/json.hpp>
#include <sstream>

#include "bw_paths.hpp"
#include "run.hpp"
#include "schema.hpp"

using namespace bw::e2e;
using nlohmann::json;

namespace {

struct Case {
    Folder folder;
    std::string bike, rides, fitted, readings;
    explicit Case(const std::string& reading_rows = "30,2026-04-01,front_left_pad,a,2.0,0.05,0.01\n") {
        bike = folder.write("bike.toml", "format = 1\n[bike]\nkind = \"trail\"\ntotal_mass_kg = 90\n");
        std::string rows = "ride,date,file,distance_m,descent_m,duration_s,front_energy_J,front_energy_sd_J,rear_energy_J,rear_energy_sd_J,front_pad_degC,rear_pad_degC,wet,grit\n";
        for (int i = 1; i <= 40; ++i) rows += std::to_string(i) + ",2026-03-" + (i % 28 + 1 < 10 ? "0" : "") + std::to_string(i % 28 + 1) + ",r.gpx,18000,500,4000,120000,9000,70000,6000,120,90,0,0\n";
        rides = folder.write("rides.csv", rows);
        fitted = folder.write("fitted.csv", "component,set,start_ride,compound,new_mm,limit_mm,friction_area_mm2\nfront_left_pad,a,1,organic,2.5,0.7,300\nfront_right_pad,a,1,organic,2.5,0.7,300\nfront_rotor,r,1,,1.8,1.5,5000\n");
        readings = folder.write("readings.csv", "ride,date,component,set,thickness_mm,sd_mm,resolution_mm\n" + reading_rows);
    }
    Outcome run(std::vector<std::string> more) const {
        std::vector<std::string> words = {"life", bike, "--rides", rides, "--fitted", fitted, "--readings", readings};
        words.insert(words.end(), more.begin(), more.end());
        return brakewright(words);
    }
};

bool keeps_schema(const json& document) { return against_schema("life-1.json", document).empty(); }

}  // namespace

TEST(LifeVerb, GivesTheJsonThatItsSchemaPromises) {
    const Case c;
    const Outcome o = c.run({"--json"});
    ASSERT_EQ(o.status, 0) << o.err;
    json answer = json::parse(o.out);
    EXPECT_TRUE(keeps_schema(answer));
    EXPECT_EQ(answer["parts"].size(), 3u);
    answer["parts"][0].erase("limit_ride");
    EXPECT_FALSE(keeps_schema(answer)) << "a schema that holds nothing";
}

TEST(LifeVerb, ForecastsOfTasksAreTheSameBytesOnAnyNumberOfThreadsAndInOrder) {
    const Case c;
    const std::string tasks = c.folder.write("tasks.csv", "component,set,as_of_ride\nfront_left_pad,a,0\nfront_left_pad,a,20\nfront_right_pad,a,40\nfront_rotor,r,40\n");
    const std::string out = c.folder.path("forecast.csv");
    const Outcome one = c.run({"--tasks", tasks, "--threads", "1"}), two = c.run({"--tasks", tasks, "--threads", "2"}), other = c.run({"--tasks", tasks, "--seed", "2"});
    ASSERT_EQ(one.status, 0) << one.err;
    EXPECT_EQ(one.out, two.out);
    EXPECT_NE(one.out, other.out);
    ASSERT_EQ(c.run({"--tasks", tasks, "--out", out}).status, 0);
    EXPECT_EQ(read(out), one.out);
    std::istringstream lines(one.out);
    std::string line;
    std::getline(lines, line);
    EXPECT_EQ(line, "component,set,as_of_ride,limit_ride_p005,limit_ride_p05,limit_ride_p25,limit_ride_p50,limit_ride_p75,limit_ride_p95,limit_reached_probability");
    int rows = 0;
    for (; std::getline(lines, line); ++rows) {
        std::istringstream cells(line);
        std::string cell;
        double before = -1;
        for (int k = 0; std::getline(cells, cell, ','); ++k) {
            if (k < 3 || k > 8) continue;
            EXPECT_GE(std::stod(cell), before) << line;
            before = std::stod(cell);
        }
    }
    EXPECT_EQ(rows, 4);
}

TEST(LifeVerb, AReadingAtTheLimitIsSaidFirstAndNoLifeFollows) {
    const Case c("40,2026-04-20,front_left_pad,a,0.7,0.05,0.01\n");
    const Outcome o = c.run({"--verdict-status"});
    EXPECT_EQ(o.status, 5);
    EXPECT_EQ(o.out.rfind("Do not ride", 0), 0u) << o.out;
    EXPECT_EQ(o.out.find(" rides ("), std::string::npos) << o.out;
    const json answer = json::parse(c.run({"--json"}).out);
    EXPECT_TRUE(keeps_schema(answer));
    EXPECT_TRUE(answer["verdict"]["do_not_ride"]);
    EXPECT_TRUE(answer["first_due"].is_null());
    for (const json& p : answer["parts"])
        for (const char* key : {"limit_ride", "remaining_rides", "remaining_km", "remaining_descent_m", "remaining_h", "look_by"}) EXPECT_TRUE(p[key].is_null()) << key;
}

TEST(LifeVerb, ABadReadingStandsUntilASurerOneAndOneAfterTheLastRideCounts) {
    const auto held = [](const std::string& rows) { return json::parse(Case(rows).run({"--json"}).out)["verdict"]["do_not_ride"].get<bool>(); };
    EXPECT_TRUE(held("39,,front_rotor,r,1.2,0.01,0.01\n40,,front_rotor,r,1.75,0.4,0.01\n"));
    EXPECT_FALSE(held("39,,front_rotor,r,1.2,0.1,0.01\n40,,front_rotor,r,1.75,0.01,0.01\n"));
    EXPECT_TRUE(held("41,,front_rotor,r,1.2,0.01,0.01\n"));
}

TEST(LifeVerb, AReadingThickerThanNewLengthensNoLifeAndAsksForAnother) {
    const json none = json::parse(Case("").run({"--json"}).out), plate = json::parse(Case("30,2026-04-01,front_left_pad,a,4.3,0.05,0.01\n").run({"--json"}).out);
    EXPECT_TRUE(keeps_schema(plate));
    for (const char* point : {"p05", "p50", "p95"}) EXPECT_LE(plate["parts"][0]["remaining_km"][point].get<double>(), none["parts"][0]["remaining_km"][point].get<double>() * 1.0001) << point;
    EXPECT_GE(plate["parts"][0]["limit_reached_probability"], none["parts"][0]["limit_reached_probability"]);
    EXPECT_NE(plate["verdict"]["reasons"].dump().find("read 4.3 mm after ride 30, and 2.5 mm when it was new"), std::string::npos) << plate["verdict"].dump();
    EXPECT_EQ(plate["verdict"]["state"], "measure_better");
    EXPECT_EQ(none["verdict"]["reasons"].dump().find("when it was new"), std::string::npos);
}

TEST(LifeVerb, AThicknessBelowZeroIsRefusedWithItsLineAndZeroIsNot) {
    const Outcome below = Case("40,2026-04-20,front_left_pad,a,-0.5,0.05,0.01\n").run({});
    EXPECT_EQ(below.status, 3);
    EXPECT_NE(below.err.find(".csv:2: "), std::string::npos) << below.err;
    EXPECT_NE(below.err.find("No thickness is below zero"), std::string::npos) << below.err;
    const Outcome zero = Case("40,2026-04-20,front_left_pad,a,0,0.05,0.01\n").run({});
    EXPECT_EQ(zero.status, 0) << zero.err;
    EXPECT_EQ(zero.out.rfind("Do not ride", 0), 0u) << zero.out;
}

TEST(LifeVerb, APartThatIsToldAtItsLimitHoldsTheBikeBackAndPracticeClearsNothing) {
    const Folder folder;
    const Case c;
    const std::string worn = folder.write("worn.toml", "format = 1\n[bike]\nkind = \"trail\"\ntotal_mass_kg = 90\n[front.rotor]\nthickness_mm = 1.5\nleast_thickness_mm = 1.7\n");
    const Outcome o = brakewright({"life", worn, "--rides", c.rides, "--verdict-status"});
    EXPECT_EQ(o.status, 5);
    EXPECT_EQ(o.out.rfind("Do not ride", 0), 0u) << o.out;
    const json plain = json::parse(brakewright({"life", c.bike, "--rides", c.rides, "--json"}).out);
    EXPECT_EQ(plain["verdict"]["state"], "measure_better");
}

TEST(LifeVerb, WhatIsWrongInATableIsSaidByFileLineAndColumn) {
    const Case c;
    const auto says = [&](std::vector<std::string> words, const std::string& what) {
        const Outcome o = c.run(std::move(words));
        EXPECT_EQ(o.status, 3);
        EXPECT_NE(o.err.find(what), std::string::npos) << o.err;
    };
    says({"--tasks", c.folder.write("t.csv", "component,set,as_of_ride\nfront_pad,a,3\n")}, "t.csv:2: column 1 (component)");
    says({"--tasks", c.folder.write("u.csv", "component,set,as_of_ride\nfront_left_pad,zz,3\n")}, "set 'zz' was never fitted");
    says({"--compounds", c.folder.write("p.toml", "[spread]\nridr = 0.3\n")}, "p.toml:2: [spread] has no key 'ridr', the nearest known one is 'rider'");
    says({"--compounds", c.folder.write("q.toml", "[compound.felt]\ngrowth = 1\n")}, "'specific_wear_mm3_MJ' is missing");
    const Outcome wrong = c.run({"--as-of", "3", "--tasks", "x.csv"});
    EXPECT_EQ(wrong.status, 2);
}

TEST(LifeVerb, WithoutAListOfPartsTheDescriptionsAreTaken) {
    const Case c;
    const Outcome o = brakewright({"life", c.bike, "--rides", c.rides});
    ASSERT_EQ(o.status, 0) << o.err;
    for (const char* word : {"front left pad", "rear rotor", "First due", "qualified mechanic"}) EXPECT_NE(o.out.find(word), std::string::npos) << o.out;
}
