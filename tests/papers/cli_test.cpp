// SPDX-License-Identifier: Apache-2.0
// `brakewright papers` as a person uses it.
#include <algorithm>
#include <chrono>
#include <cmath>
#include <filesystem>
#include <nlohmann/json.hpp>
#include <random>
#include <set>
#include <sstream>

#include "../e2e/run.hpp"
#include "../e2e/schema.hpp"
#include "bw_paths.hpp"

#include <gtest/gtest.h>

using namespace bw::e2e;
using nlohmann::json;
namespace fs = std::filesystem;

namespace {

const char* ride_csv = "t_s,distance_m,altitude_m\n0,0,100\n1,5,99\n2,10,98\n3,15,97\n";

const json& schema() {
    static const json read_once = json::parse(read(std::string(BW_ROOT) + "/docs/schema/papers-1.json"));
    return read_once;
}
//! {"add", "bike", ...} -> "verb_add_bike"
std::string definition_of(const std::vector<std::string>& words) {
    return "verb_" + words[0] + (words[0] == "add" || words[0] == "part" ? "_" + words[1] : "");
}
//! What is wrong with the output of a verb by docs/schema/papers-1.json, and keys that it does not tell of; empty: nothing.
std::string against_verb(const std::string& definition, const json& document) {
    json one = {{"definitions", schema()["definitions"]}, {"allOf", {{{"$ref", "#/definitions/" + definition}}}}};
    std::string why = bw::e2e::against_schema(one, document);
    if (!why.empty()) why = definition + ": " + why;
    const json& told = schema()["definitions"][definition];
    for (const auto& [key, value] : document.items()) {
        bool known = told.contains("properties") && told["properties"].contains(key);
        if (told.contains("anyOf"))
            for (const json& form : told["anyOf"]) known = known || form["properties"].contains(key);
        if (!known) why += definition + ": the schema does not tell of '" + key + "'\n";
    }
    return why;
}
std::set<std::string> verbs_held;

class Cli : public ::testing::Test {
protected:
    Folder f;
    std::string file = f.path("p.papers");

    void SetUp() override { ASSERT_EQ(brakewright({"papers", "make", file}).status, 0); }
    Outcome papers(std::vector<std::string> words, const std::string& input = "") {
        words.insert(words.begin(), "papers");
        words.insert(words.end(), {"--papers", file});
        return brakewright(words, input);
    }
    json ok(std::vector<std::string> words, const std::string& input = "") {
        const std::string definition = definition_of(words);
        words.push_back("--json");
        const Outcome o = papers(words, input);
        EXPECT_EQ(o.status, 0) << o.err;
        const json j = json::parse(o.out, nullptr, false);
        EXPECT_EQ(against_verb(definition, j), "") << o.out;
        verbs_held.insert(definition);
        return j;
    }
    void add_bike() { ok({"add", "bike", demo("bikes/trail.toml"), "--by", "Ada", "--day", "2026-05-01"}); }
};

}  // namespace

TEST_F(Cli, ABikeComesInWithItsPartsAndReadings) {
    add_bike();
    const json bike = ok({"show"})["bikes"][0];
    EXPECT_EQ(bike["parts"].size(), 6u);
    EXPECT_EQ(bike["readings"], 10);
    const json v = ok({"verdict", "--day", "2026-05-02"})["bikes"][0]["verdict"];
    EXPECT_FALSE(v["do_not_ride"].get<bool>());
    ok({"undo"});
    EXPECT_TRUE(ok({"show"})["bikes"].empty());
}

TEST_F(Cli, SixtyBikesPastedAsRowsAreInWithinAMinute) {
    std::string rows = "name\tkind\ttotal_mass_kg\tfront.rotor.diameter_mm\tfront.pads.friction_thickness_mm\tfront.pads.plate_measured\r\n";
    for (int i = 1; i <= 60; ++i) rows += "Hire " + std::to_string(i) + "\tcity\t105\t160\t1.5\ttrue\r\n";
    const auto start = std::chrono::steady_clock::now();
    const json j = ok({"add", "bike", "-", "--by", "Ada"}, rows);
    const double s = std::chrono::duration<double>(std::chrono::steady_clock::now() - start).count();
    EXPECT_EQ(j["added"].size(), 60u);
    EXPECT_EQ(j["failed"], 0);
    EXPECT_LT(s, 60);
    std::printf("60 bikes in %.2f s\n", s);
    // A row that is wrong stops no other.
    const Outcome o = papers({"add", "bike", "-", "--by", "Ada", "--json"}, "name,kind,total_mass_kg\nA,city,100\nB,citty,100\nC,city,100\n");
    EXPECT_EQ(o.status, 3);
    EXPECT_EQ(json::parse(o.out)["added"].size(), 2u);
    EXPECT_NE(o.err.find("standard input:3"), std::string::npos) << o.err;
    // Today's list: held-back bikes first, then by the mechanic's minutes.
    ok({"hold", "Hire 40", "--why", "crack", "--by", "Ada"});
    ok({"check", "Hire 7", "--ok", "all", "--by", "Ada", "--day", "2026-05-02"});
    const json list = ok({"check", "--day", "2026-05-02"});
    EXPECT_EQ(list["bikes"].size(), 62u);
    EXPECT_EQ(list["bikes"][0]["bike"], "Hire 40");
    for (std::size_t i = 1; i < list["bikes"].size(); ++i) {
        const json &before = list["bikes"][i - 1], &now = list["bikes"][i];
        EXPECT_GE(before["do_not_ride"].get<bool>(), now["do_not_ride"].get<bool>()) << i;
        EXPECT_TRUE(before["do_not_ride"] != now["do_not_ride"] || before["minutes"].get<double>() >= now["minutes"].get<double>()) << i;
    }
    EXPECT_GT(list["minutes"].get<double>(), 60);
}

TEST_F(Cli, ARunOutTableIsTakenApartOnceForEveryCommand) {
    add_bike();
    const auto timed = [&](const std::vector<std::string>& words) {
        const auto start = std::chrono::steady_clock::now();
        const json j = ok(words);
        return std::pair(std::chrono::duration<double>(std::chrono::steady_clock::now() - start).count(), j.dump());
    };
    constexpr int tables = 8;   // all over half of what holds back, so that each is asked for by every verdict
    double adding = 0;
    for (int k = 0; k < tables; ++k) {
        std::string rows = "angle_deg,dial_mm\n";
        for (int deg = 0; deg < 360; deg += 30) rows += std::to_string(deg) + "," + std::to_string(1 + std::round(100 * (0.15 + 0.003 * k) * std::cos((deg + 7 * k) * 0.0174533)) / 100) + "\n";
        adding += timed({"add", "reading", "run_out", "--csv", f.write("dial.csv", rows), "--place", "front", "--by", "Ada"}).first;
    }
    const auto [once, said] = timed({"verdict"});
    const auto [again, said_again] = timed({"verdict"});
    // The adds sampled eight times; no look does.
    EXPECT_LT(std::min(again, once), adding / 3) << "eight tables, no sample";
    EXPECT_EQ(said_again, said);
    ok({"export", f.path("out")});
    const std::string answers = read(f.path("out/answers.csv"));
    int kept = 0;
    for (std::size_t at = answers.find("run_out/1"); at != std::string::npos; at = answers.find("run_out/1", at + 1)) ++kept;
    EXPECT_EQ(kept, tables);
}

TEST_F(Cli, WhatDecidesARunOutTableIsWhatTakesItApartNotTheNextLook) {
    add_bike();
    auto kept = [&, n = 0]() mutable {
        const std::string out = f.path("out" + std::to_string(n++));
        ok({"export", out});
        const std::string answers = read(out + "/answers.csv");
        int all = 0;
        for (std::size_t at = answers.find("run_out/1"); at != std::string::npos; at = answers.find("run_out/1", at + 1)) ++all;
        return all;
    };
    ok({"add", "instrument", "dial", "--kind", "dial", "--resolution_mm", "0.01"});
    std::string rows = "angle_deg,dial_mm\n";
    for (int deg = 0; deg < 360; deg += 30) rows += std::to_string(deg) + "," + std::to_string(1 + std::round(100 * 0.2 * std::cos((deg + 11) * 0.0174533)) / 100) + "\n";
    // The older one is not the newest: only a look at that day, or a bearing that is set, would ask for it.
    int then = 0;
    for (const auto& [words, more] : std::vector<std::pair<std::vector<std::string>, int>>{
             {{"add", "reading", "run_out", "--csv", f.write("dial.csv", rows), "--place", "front", "--by", "Ada", "--with", "dial", "--day", "2026-05-20"}, 1},
             {{"add", "reading", "bearing_play", "0.06", "--place", "front", "--by", "Ada", "--day", "2026-05-10"}, 1},
             {{"add", "readings", f.write("play.csv", "place,what,value,by,date\nfront,bearing_play,0.08,Ada,2026-05-11\nrear,bearing_play,0.08,Ada,2026-05-11\n")}, 1},
             {{"add", "person", "Ada", "--repeat_sd_mm", "0.004"}, 1},
             {{"add", "person", "Ben", "--repeat_sd_mm", "0.004"}, 0},
             {{"add", "instrument", "dial", "--kind", "dial", "--permitted_error_mm", "0.012"}, 1},
             {{"add", "reading", "lever_bite", "31", "--place", "rear", "--by", "Ben"}, 0},
             {{"verdict"}, 0},
             {{"undo"}, 0},
             {{"verdict"}, 0}}) {
        ok(words);
        const int now = kept();
        EXPECT_EQ(now - then, more) << words[0] << ' ' << words[1 % words.size()];
        then = now;
    }
}

TEST_F(Cli, AReadingOfBeforeThePartsWereKnownIsToldSinceWhen) {
    add_bike();
    const Outcome o = papers({"add", "reading", "bearing_play", "0.05mm", "--place", "front", "--by", "Ada", "--day", "2020-01-01"});
    EXPECT_EQ(o.status, 3);
    EXPECT_NE(o.err.find("parts are known from the day on which they were added"), std::string::npos) << o.err;
    const std::size_t at = o.err.find("--part '"), end = o.err.find('\'', at + 8);
    ASSERT_NE(at, std::string::npos) << o.err;
    ok({"add", "reading", "bearing_play", "0.05mm", "--place", "front", "--by", "Ada", "--day", "2020-01-01", "--part", o.err.substr(at + 8, end - at - 8)});
}

TEST_F(Cli, RidesComeInOnceAndABadFileStopsNoOther) {
    add_bike();
    fs::create_directories(f.path("rides/deep"));
    f.write("rides/a.csv", ride_csv);
    f.write("rides/deep/b.csv", std::string(ride_csv) + "4,20,96\n");
    f.write("rides/deep/same.csv", ride_csv);
    f.write("rides/bad.gpx", "<gpx><nothing/></gpx>");
    f.write("rides/log.csv", "date,distance_m,descent_m\n2026-05-01,5000,100\n2026-05-01,5000,100\n");
    const Outcome o = papers({"add", "rides", f.path("rides"), f.path("not there"), "--json"});
    EXPECT_EQ(o.status, 3);
    const json j = json::parse(o.out);
    EXPECT_EQ(j["added"], 4) << "two files and two like rows of a log";
    EXPECT_EQ(j["there_already"], 1);
    EXPECT_EQ(j["failed"], 2);
    EXPECT_NE(o.err.find("bad.gpx"), std::string::npos);
    fs::remove(f.path("rides/bad.gpx"));
    const json again = ok({"add", "rides", f.path("rides")});
    EXPECT_EQ(again["added"], 0);
    EXPECT_EQ(again["there_already"], 5);
    const json bike = ok({"show"})["bikes"][0];
    EXPECT_EQ(bike["rides"], 4);
    // A planned way is no ride.
    const Outcome way = papers({"add", "rides", demo("routes/over-ostrel.gpx")});
    EXPECT_EQ(way.status, 3);
    EXPECT_NE(way.err.find("planned way"), std::string::npos) << way.err;
    // What one command added, undo takes back as one.
    ok({"undo"});
    EXPECT_EQ(ok({"show"})["bikes"][0]["rides"], 0);
}

TEST_F(Cli, AWindIsKeptAsAHeadWindOrWithItsDirection) {
    add_bike();
    ok({"add", "rides", f.write("head.csv", ride_csv), "--wind_mps", "-2.5"});
    ok({"add", "rides", f.write("log.csv", "date,distance_m,descent_m\n2026-05-01,5000,100\n"), "--wind_mps", "6", "--wind_from_deg", "360"});
    const Outcome alone = papers({"add", "rides", f.path("head.csv"), "--wind_from_deg", "90"}), behind = papers({"add", "rides", f.path("head.csv"), "--wind_mps", "-1", "--wind_from_deg", "90"});
    EXPECT_EQ(alone.status, 2);
    EXPECT_NE(alone.err.find("tell wind_mps too"), std::string::npos) << alone.err;
    EXPECT_EQ(behind.status, 2);
    EXPECT_NE(behind.err.find("0 or more"), std::string::npos) << behind.err;
    ok({"export", f.path("out")});
    const json rides = json::parse(read(f.path("out/papers.json")))["tables"]["ride"];
    ASSERT_EQ(rides.size(), 2u);
    for (const json& r : rides) {
        const bool described = r["kind"] == "described";
        EXPECT_EQ(r["wind_mps"], described ? 6.0 : -2.5);
        EXPECT_EQ(r["wind_from_deg"], described ? json(0.0) : json());
    }
}

TEST_F(Cli, ALogOfManyBikesGoesToEachOfThem) {
    ok({"add", "bike", "-", "--by", "Ada"}, "name,kind,total_mass_kg\nA,city,100\nB,city,100\n");
    const std::string log = f.write("log.csv", "date,bike,distance_m\n2026-05-01,A,5000\n2026-05-01,B,6000\n2026-05-02,C,1000\n2026-05-03,B,7000\n2026-05-03,,7000\n");
    const Outcome o = papers({"add", "rides", log, "--json"});
    EXPECT_EQ(json::parse(o.out)["added"], 3);
    EXPECT_NE(o.err.find("log.csv:4: there is no bike 'C'"), std::string::npos) << o.err;
    EXPECT_NE(o.err.find("log.csv:6: this row names no bike"), std::string::npos) << o.err;
    EXPECT_EQ(o.status, 3);
}

TEST_F(Cli, AReadingSaysWhoWhatAndWhetherWithThePlate) {
    add_bike();
    const Outcome asked = papers({"add", "reading", "pad_thickness", "1.2", "--place", "front", "--by", "Ada"});
    EXPECT_EQ(asked.status, 2);
    EXPECT_NE(asked.err.find("is that with the plate?"), std::string::npos) << asked.err;
    ok({"add", "instrument", "depth gauge 1", "--kind", "depth_gauge", "--resolution_mm", "0.01", "--permitted_error_mm", "0.02"});
    ok({"add", "reading", "pad_thickness", "left=1.2 mm", "right=1.1,1.15", "--place", "front", "--by", "Ada", "--with", "depth gauge 1", "--with-plate", "no", "--day", "2026-05-02"});
    const Outcome unknown = papers({"add", "reading", "pad_thickness", "1.2", "--place", "front", "--by", "Ada", "--with", "depth gauge 2", "--with-plate", "no"});
    EXPECT_EQ(unknown.status, 3);
    EXPECT_NE(unknown.err.find("nearest known one is 'depth gauge 1'"), std::string::npos) << unknown.err;
    // Pads do not grow: asked about, never averaged.
    const Outcome grown = papers({"add", "reading", "pad_thickness", "left=2.2", "--place", "front", "--by", "Ada", "--with-plate", "no", "--day", "2026-05-03"});
    EXPECT_EQ(grown.status, 3);
    EXPECT_NE(grown.err.find("do not grow"), std::string::npos) << grown.err;
    const auto asked_of = [&](const char* left) { return papers({"add", "reading", "pad_thickness", left, "--place", "front", "--by", "Ada", "--with-plate", "no", "--day", "2026-05-30"}).err; };
    ok({"add", "rides", f.write("hot.csv", "date,distance_m,descent_m\n2026-05-02,9000,900\n")});
    ok({"add", "rides", f.write("later.csv", "date,distance_m,descent_m\n2026-05-04,9000,800\n")});
    // No layer swells on sintered pads, as the description has them.
    EXPECT_NE(asked_of("left=1.3").find("do not grow"), std::string::npos) << asked_of("left=1.3");
    EXPECT_EQ(asked_of("left=1.3").find("swell"), std::string::npos) << asked_of("left=1.3");
    // On organic ones it stays until it is worn away: a hot ride of weeks ago counts, one before the reading that it is compared with does not.
    ok({"part", "new", "soft pads", "--kind", "pads", "--compound", "organic", "--new_thickness_mm", "2", "--least_thickness_mm", "0.5"});
    ok({"part", "on", "soft pads", "--place", "front", "--day", "2026-05-02"});
    // Thicker than new, with nothing read before: a forgotten backing plate.
    EXPECT_NE(asked_of("left=3.9").find("these pads had 2.00 mm when new"), std::string::npos) << asked_of("left=3.9");
    EXPECT_EQ(asked_of("left=2.2").find("when new"), std::string::npos) << "within what makers and a caliper are good to";
    ok({"undo"});   // what was taken
    const auto read_on = [&](const char* day) { ok({"add", "reading", "pad_thickness", "left=1.2", "--place", "front", "--by", "Ada", "--with", "depth gauge 1", "--with-plate", "no", "--day", day}); };
    read_on("2026-05-03");
    EXPECT_NE(asked_of("left=1.3").find("a ride on 2026-05-04 lost 800 m"), std::string::npos) << asked_of("left=1.3");
    EXPECT_NE(asked_of("left=2.2").find("do not grow"), std::string::npos);
    EXPECT_EQ(asked_of("left=2.2").find("swell"), std::string::npos) << "no layer grows by a millimetre: " << asked_of("left=2.2");
    ok({"undo"});
    read_on("2026-05-05");
    EXPECT_EQ(asked_of("left=1.3").find("lost 800 m"), std::string::npos) << asked_of("left=1.3");
    for (int i = 0; i < 5; ++i) ok({"undo"});
    ok({"add", "reading", "pad_thickness", "left=2.2", "--place", "front", "--by", "Ada", "--with-plate", "no", "--day", "2026-05-03", "--sure"});
    EXPECT_EQ(papers({"add", "reading", "pad_thickness", "left=22", "--place", "front", "--by", "Ada", "--with-plate", "no"}).status, 3) << "22 mm is a slip of the point";
    EXPECT_EQ(papers({"add", "reading", "pad_thicknes", "1", "--place", "front"}).status, 2);
    // 0.102 in is 2.59 mm (1 in = 25.4 mm, exact by definition).
    const Outcome inch = papers({"add", "reading", "pad_thickness", "right=1.1,0.102", "--place", "front", "--by", "Ada", "--with-plate", "no", "--day", "2026-05-04"});
    EXPECT_EQ(inch.status, 3);
    EXPECT_NE(inch.err.find("'0.102': is that inches (2.59 mm), or millimetres? Nothing was kept."), std::string::npos) << inch.err;
    EXPECT_EQ(papers({"add", "reading", "pad_thickness", "right=0.1", "--place", "rear", "--by", "Ada", "--with-plate", "no", "--day", "2026-05-04"}).status, 3);
    ok({"add", "reading", "pad_thickness", "right=0.102in", "--place", "rear", "--by", "Ada", "--with-plate", "no", "--day", "2026-05-04"});
    ok({"undo"});
    // One that holds the bike back says so at once.
    const Outcome thin = papers({"add", "reading", "pad_thickness", "right=0.3", "--place", "front", "--by", "Ada", "--with-plate", "no", "--day", "2026-05-04"});
    EXPECT_EQ(thin.status, 0);
    EXPECT_NE(thin.out.find("Do not ride"), std::string::npos) << thin.out;
    EXPECT_EQ(papers({"verdict", "--verdict-status"}).status, 5);
}

TEST_F(Cli, ReadingsComeFromTablesWithTheirLine) {
    add_bike();
    std::string dial = "angle_deg,dial_mm\n";
    for (int i = 0; i < 12; ++i) dial += std::to_string(i * 30) + ",0.0" + std::to_string(i % 10) + "\n";
    EXPECT_EQ(ok({"add", "reading", "run_out", "--csv", f.write("dial.csv", dial), "--place", "front", "--by", "Ada"})["reading"]["values"], 12);
    ok({"add", "reading", "rotor_thickness", "--csv", f.write("t.csv", "angle_deg,radius_mm,thickness_mm,anvil\n0,85,1.78,pointed\n90,85,1.77,pointed\n"), "--place", "front", "--by", "Ada"});
    const Outcome bad = papers({"add", "reading", "run_out", "--csv", f.write("bad.csv", "angle_deg,dial_mm\n0,0.1\n30,x\n"), "--place", "front", "--by", "Ada"});
    EXPECT_EQ(bad.status, 3);
    EXPECT_NE(bad.err.find("bad.csv:3: dial_mm 'x'"), std::string::npos) << bad.err;
}

TEST_F(Cli, ATableOfReadingsComesInRowByRow) {
    add_bike();
    const std::string table = f.write("r.csv", "date,place,what,side,value,with_plate,by,note\n2026-05-02,front,pad_thickness,left,1.2,no,Ada,\n2026-05-02,front,pad_thickness,left,1.2,,Ada,\n2026-05-02,rear,lever_bite,,31 mm,,Ben,\"a, b\"\n2026-05-02,middle,lever_bite,,31,,Ben,\n");
    const Outcome o = papers({"add", "readings", table, "--json"});
    EXPECT_EQ(o.status, 3);
    EXPECT_EQ(json::parse(o.out)["added"], 2);
    EXPECT_NE(o.err.find("r.csv:3: is that with the plate?"), std::string::npos) << o.err;
    EXPECT_NE(o.err.find("r.csv:5: place 'middle'"), std::string::npos) << o.err;
}

// Any bytes where a table is expected: refused with its line, or taken, never a crash, and the papers stay sound.
TEST_F(Cli, TablesOfWrongBytesAreRefusedByTheirLineOrTakenAndNeverACrash) {
    add_bike();
    std::mt19937 g(20261127);
    const auto mutated = [&](std::string text) {
        static const std::string pieces[] = {",", ";", "\t", "\n", "\r\n", "\"", "\xEF\xBB\xBF", "nan", "1e999", "-", "/", "=", ".", "left.leading.outer=", std::string("\0", 1), "\xFF", "999999999999999999999", "value"};
        for (int n = 1 + static_cast<int>(g() % 4); n > 0; --n) {
            const std::size_t at = g() % (text.size() + 1), length = std::min<std::size_t>(g() % 9, text.size() - at);
            switch (g() % 4) {
                case 0: text.erase(at, length); break;
                case 1: text.insert(at, pieces[g() % std::size(pieces)]); break;
                case 2: text.insert(at, text.substr(at, length)); break;
                default: if (at < text.size()) text[at] = static_cast<char>(g());
            }
        }
        return text;
    };
    const std::string tables[] = {"date,place,what,side,value,with_plate,by,note\n2026-05-02,front,pad_thickness,left,1.2,no,Ada,\n2026-05-02,rear,lever_bite,,31 mm,,Ben,\"a, b\"\n2026-05-03,front,bearing_play,,0.04/0.05,,Ada,\n",
                                  "place\twhat\tvalue\tby\nfront\tgap\tleft.leading.outer=0,2\tAda\nrear\tcable_state\tfrayed\tAda\n"};
    std::vector<std::string> words = {"add", "readings", "--sure"};
    for (int i = 0; i < 150; ++i) words.push_back(f.write("t" + std::to_string(i) + ".csv", mutated(tables[i % 2])));
    words.push_back("--json");
    const Outcome all = papers(words);
    EXPECT_TRUE(all.status == 3 || all.status == 0) << all.status << all.err.substr(0, 500);
    const json j = json::parse(all.out);
    EXPECT_GT(j["added"], 50) << "rows that are whole come in beside those that are not";
    EXPECT_GT(j["failed"], 50);
    for (const json& t : j["troubles"]) EXPECT_NE(t.get<std::string>().find(".csv:"), std::string::npos) << t;
    std::string dial = "angle_deg,dial_mm\n";
    for (int i = 0; i < 12; ++i) dial += std::to_string(i * 30) + ",0.0" + std::to_string(i % 10) + "\n";
    int refused = 0;
    for (int i = 0; i < 40; ++i) {
        const Outcome o = papers({"add", "reading", "run_out", "--csv", f.write("d.csv", mutated(dial)), "--place", "front", "--by", "Ada", "--sure"});
        EXPECT_TRUE(o.status == 0 || o.status == 2 || o.status == 3) << o.status << o.err;
        EXPECT_TRUE(o.status == 0 || !o.err.empty());
        refused += o.status != 0;
    }
    EXPECT_GT(refused, 5);
    EXPECT_TRUE(ok({"sound"})["sound"].get<bool>());
    EXPECT_EQ(papers({"verdict", "--day", "2026-05-04"}).status, 0);
}

TEST_F(Cli, WhatHoldsABikeBackIsNotTakenBackByASlip) {
    add_bike();
    ok({"add", "happening", "crash", "--by", "Ada"});
    const Outcome o = papers({"undo"});
    EXPECT_EQ(o.status, 3);
    EXPECT_NE(o.err.find("--sure"), std::string::npos) << o.err;
    EXPECT_EQ(papers({"verdict", "--verdict-status"}).status, 5);
    ok({"undo", "--sure", "--by", "Ada"});
    EXPECT_EQ(papers({"verdict", "--verdict-status"}).status, 0);
}

TEST_F(Cli, ABrakeThatSinksIsHeldBackByItsProofStopsUntilAPersonClearsIt) {
    add_bike();
    const auto table = [&](const char* name, const std::string& day, const std::vector<double>& metres) {
        std::string csv = "date,wheel,from_mps,distance_m,lever_force_N,surface,grade\n";
        for (const double m : metres) csv += day + ",front,6.94," + std::to_string(m) + ",60,dry,0\n";
        return f.write(name, csv);
    };
    const std::string good = table("good.csv", "2026-05-02", {8.2, 8.4, 8.3, 8.25, 8.35}), bad = table("bad.csv", "2026-05-10", {13.2, 13.4, 13.3, 13.5, 13.1});
    EXPECT_EQ(ok({"add", "proof", good, "--by", "Ada"})["proof"]["added"], 5);
    EXPECT_EQ(ok({"add", "proof", good, "--by", "Ada"})["proof"]["there_already"], 5) << "a table given twice";
    const json sunk = ok({"add", "proof", bad, "--by", "Ada"});
    EXPECT_EQ(sunk["proof"]["do_not_ride"], true);
    for (const std::string verb : {"show", "check", "verdict"}) {
        const Outcome o = papers({verb, "--day", "2026-05-11"});
        EXPECT_NE(o.out.find("lost bite"), std::string::npos) << o.out;
        EXPECT_LT(o.out.find("o not ride"), 90u) << verb << " says it first: " << o.out;
    }
    EXPECT_EQ(papers({"verdict", "--day", "2026-05-11", "--verdict-status"}).status, 5);
    // `stop` takes the kept stops as the history of this brake: no file is needed for the alarm.
    const Outcome stop = brakewright({"stop", "--papers", file, "--today", "2026-05-11", "--json", "--cases", "64", "--verdict-status"});
    EXPECT_EQ(stop.status, 5) << stop.err;
    const json j = json::parse(stop.out);
    EXPECT_EQ(j["gain"]["front"]["alarm"], true);
    EXPECT_EQ(j["verdict"]["reasons"][0]["code"], "front_proof_alarm");
    EXPECT_TRUE(j["stops"][0]["brake_distance_m"].is_null());
    EXPECT_EQ(std::count_if(j["verdict"]["reasons"].begin(), j["verdict"]["reasons"].end(), [](const json& r) { return r["code"] == "front_proof_alarm"; }), 1);
    // A wheel of another file's rows: line and column are named and nothing is kept.
    const Outcome wrong = papers({"add", "proof", f.write("w.csv", "date,wheel,from_mps,distance_m,surface,grade\n2026-05-12,front,7,9,dry,0\n2026-05-12,front,7,-9,dry,0\n"), "--by", "Ada"});
    EXPECT_EQ(wrong.status, 3);
    EXPECT_NE(wrong.err.find("w.csv:3: distance_m"), std::string::npos) << wrong.err;
    EXPECT_EQ(ok({"show"})["bikes"][0]["proof_stops"], 10);
    EXPECT_EQ(ok({"clear", "--by", "Ben", "--why", "looked at"})["cleared"], 0);
    EXPECT_EQ(ok({"verdict", "--day", "2026-05-11"})["bikes"][0]["verdict"]["reasons"][0]["code"], "front_proof_alarm") << "a hold by hand is another thing";
    EXPECT_EQ(ok({"clear", "--proof", "--by", "Ben", "--why", "the scale slipped"})["cleared"], 5);
    EXPECT_EQ(papers({"verdict", "--day", "2026-05-11"}).out.find("lost bite"), std::string::npos);
    EXPECT_NE(papers({"show"}).out.find("counts for nothing, says Ben"), std::string::npos);
}

TEST_F(Cli, WhatCameWithPadsIsClearedByTheNameOfTheBikeThatItCameFrom) {
    add_bike();
    ok({"add", "bike", demo("bikes/gravel.toml"), "--by", "Ada", "--day", "2026-05-01"});
    const json bikes = ok({"show"})["bikes"];
    std::string from, to, pads;
    for (const json& b : bikes) {
        const std::string name = b["name"];
        (name.find("trail") != std::string::npos ? from : to) = name;
        if (name.find("trail") != std::string::npos)
            for (const json& part : b["parts"])
                if (part["kind"] == "pads" && part["place"] == "front") pads = part["name"];
    }
    std::string csv = "date,wheel,from_mps,distance_m,lever_force_N,surface,grade\n";
    for (const char* row : {"2026-05-02,front,6.94,8.2", "2026-05-02,front,6.94,8.4", "2026-05-02,front,6.94,8.3", "2026-05-02,front,6.94,8.25", "2026-05-10,front,6.94,13.2", "2026-05-10,front,6.94,13.4", "2026-05-10,front,6.94,13.3", "2026-05-10,front,6.94,13.5"})
        csv += std::string(row) + ",60,dry,0\n";
    ok({"add", "proof", f.write("stops.csv", csv), "--by", "Ada", "--bike", from});
    ok({"part", "on", pads, "--bike", to, "--place", "front", "--day", "2026-05-12"});
    const auto code = [&](const std::string& bike) { return ok({"verdict", bike, "--day", "2026-05-13"})["bikes"][0]["verdict"]["reasons"][0]["code"]; };
    ASSERT_EQ(code(from), "front_proof_alarm");
    ASSERT_EQ(code(to), "front_proof_came_with_pads");
    const Outcome refused = papers({"clear", "--proof", to, "--by", "Ben", "--why", "looked"});
    EXPECT_EQ(refused.status, 3) << refused.err;
    EXPECT_NE(refused.err.find(from), std::string::npos) << refused.err;
    EXPECT_EQ(code(from), "front_proof_alarm") << "nobody named that bike";
    EXPECT_EQ(code(to), "front_proof_came_with_pads");
    EXPECT_EQ(ok({"clear", "--proof", from, "--by", "Ben", "--why", "the scale slipped"})["cleared"], 4);
    EXPECT_NE(code(from), "front_proof_alarm");
    EXPECT_NE(code(to), "front_proof_came_with_pads");
}

TEST_F(Cli, EqualProofStopsToldOneByOneAreEachKeptAndClearedOnesAreNotThere) {
    add_bike();
    const std::vector<std::string> one = {"add", "proof", "--place", "front", "--from", "25km/h", "--distance", "15m", "--time", "4.4", "--force", "60N", "--by", "Ada", "--day", "2026-05-02"};
    for (int i = 0; i < 3; ++i) EXPECT_EQ(ok(one)["proof"]["added"], 1) << "a stop told alone is another stop";
    EXPECT_EQ(ok({"show"})["bikes"][0]["proof_stops"], 3);
    EXPECT_TRUE(ok({"verdict", "--day", "2026-05-03"})["bikes"][0]["verdict"]["do_not_ride"]) << "three stops of 15 m at 60 N";
    EXPECT_EQ(ok({"clear", "--proof", "--by", "Ben", "--why", "the scale slipped"})["cleared"], 3);
    const std::string row = "2026-05-02,front,6.94,15,4.4,60,dry,0\n", table = f.write("t.csv", "date,wheel,from_mps,distance_m,time_s,lever_force_N,surface,grade\n" + row + row + row);
    EXPECT_EQ(ok({"add", "proof", table, "--by", "Ada"})["proof"]["added"], 3) << "like rows of one table";
    EXPECT_EQ(ok({"add", "proof", table, "--by", "Ada"})["proof"]["there_already"], 3);
    EXPECT_EQ(ok({"clear", "--proof", "--by", "Ben", "--why", "the scale slipped"})["cleared"], 3);
    EXPECT_EQ(ok({"add", "proof", table, "--by", "Ada"})["proof"]["added"], 3) << "what was cleared is not there any more";
}

TEST_F(Cli, AStopWithBothBrakesIsRefused) {
    add_bike();
    const Outcome told = papers({"add", "proof", "--place", "both", "--from", "25km/h", "--distance", "9m", "--force", "60N", "--by", "Ada", "--day", "2026-05-02"});
    EXPECT_NE(told.status, 0);
    const Outcome table = papers({"add", "proof", f.write("b.csv", "date,wheel,from_mps,distance_m,lever_force_N,surface,grade\n2026-05-02,front,6.94,9,60,dry,0\n2026-05-02,both,6.94,6,60,dry,0\n"), "--by", "Ada"});
    EXPECT_EQ(table.status, 3);
    EXPECT_NE(table.err.find("stop 2 of 2026-05-02: a stop with both brakes tells neither"), std::string::npos) << table.err;
    EXPECT_EQ(ok({"show"})["bikes"][0]["proof_stops"], 0) << "all or none";
}

TEST_F(Cli, ProofStopsAtAnotherPlaceOfTheLeverAreAskedAbout) {
    add_bike();
    const std::vector<std::string> one = {"add", "proof", "--place", "front", "--from", "25km/h", "--distance", "9m", "--force", "60N", "--by", "Ada", "--lever-place"};
    const auto at = [&](const char* mm, std::vector<std::string> more) {
        std::vector<std::string> words = one;
        words.emplace_back(mm);
        words.insert(words.end(), more.begin(), more.end());
        return papers(words);
    };
    EXPECT_EQ(at("20mm", {"--day", "2026-05-02"}).status, 0);
    const Outcome asked = at("40mm", {"--day", "2026-05-03"});
    EXPECT_EQ(asked.status, 3);
    EXPECT_NE(asked.err.find("another leverage"), std::string::npos) << asked.err;
    EXPECT_EQ(at("40mm", {"--day", "2026-05-03", "--sure"}).status, 0);
    EXPECT_EQ(papers({"add", "proof", "--from", "25km/h", "--distance", "9m", "--by", "Ada"}).status, 2) << "of which brake?";
    EXPECT_EQ(papers({"add", "proof", "--place", "front", "--from", "25km/h", "--distance", "9km", "--by", "Ada"}).status, 2 + 1) << "out of range";
}

TEST_F(Cli, TagsSayWhatIsHeldBackFirst) {
    ok({"add", "bike", "-", "--by", "Ada"}, "name,kind,total_mass_kg\nA & B,city,100\nZ,city,100\n");
    ok({"hold", "Z", "--by", "Ada", "--why", "crack <here>"});
    ok({"check", "--tags", f.path("tags.html")});
    const std::string page = read(f.path("tags.html"));
    EXPECT_LT(page.find("Do not ride"), page.find("A &amp; B"));
    EXPECT_NE(page.find("crack &lt;here&gt;"), std::string::npos);
    EXPECT_NE(page.find("qualified mechanic"), std::string::npos);
}

TEST_F(Cli, ABikeIsRenamedAndRetired) {
    add_bike();
    ok({"change", "Ostrel trail bike", "--name", "Old trail bike", "--retired", "2026-06-01"});
    EXPECT_EQ(ok({"show"})["bikes"][0]["name"], "Old trail bike");
    EXPECT_EQ(papers({"change", "Old trail bike"}).status, 2);
    EXPECT_EQ(papers({"change", "Old trail bike", "--retired", "soon"}).status, 2);
}

TEST_F(Cli, PartsGoOnAndOff) {
    add_bike();
    ok({"part", "new", "winter pads", "--kind", "pads", "--compound", "sintered", "--new_thickness_mm", "2", "--least_thickness_mm", "0.5"});
    ok({"part", "on", "winter pads", "--place", "front", "--day", "2026-06-01"});
    const std::string shown = papers({"show", "--day", "2026-06-02"}).out;
    EXPECT_NE(shown.find("winter pads"), std::string::npos);
    EXPECT_EQ(papers({"show", "--day", "2026-05-20"}).out.find("winter pads"), std::string::npos);
    const Outcome wrong = papers({"part", "on", "winter pad", "--place", "front"});
    EXPECT_EQ(wrong.status, 3);
    EXPECT_NE(wrong.err.find("nearest known one is 'winter pads'"), std::string::npos);
    ok({"part", "off", "winter pads", "--day", "2026-07-01"});
}

TEST_F(Cli, AHoldNeedsANameAndIsClearedByOne) {
    add_bike();
    EXPECT_EQ(papers({"hold", "--why", "crack"}).status, 2);
    ok({"hold", "--why", "crack", "--by", "Ada"});
    EXPECT_EQ(papers({"verdict", "--verdict-status"}).status, 5);
    EXPECT_NE(papers({"undo"}).err.find("papers clear"), std::string::npos);
    EXPECT_EQ(papers({"clear", "--why", "new rotor"}).status, 2);
    setenv("USER", "login", 1);
    for (const auto& [by, why] : std::vector<std::pair<std::string, std::string>>{{"", "new rotor"}, {" ", "new rotor"}, {"Ben", ""}, {"Ben", "  "}}) EXPECT_NE(papers({"clear", "--why", why, "--by", by}).status, 0);
    EXPECT_EQ(papers({"clear", "Ostrel trail bik", "--why", "new rotor", "--by", "Ben"}).status, 3) << "a near name is no name";
    EXPECT_EQ(ok({"clear", "--proof", "--why", "new rotor", "--by", "Ben"})["cleared"], 0);
    EXPECT_EQ(papers({"verdict", "--verdict-status"}).status, 5) << "none of these cleared it";
    EXPECT_EQ(ok({"clear", "--why", "new rotor", "--by", "Ben"})["cleared"], 1);
    EXPECT_EQ(papers({"verdict", "--verdict-status"}).status, 0);
    EXPECT_EQ(ok({"clear", "--why", "new rotor", "--by", "Ben"})["cleared"], 0) << "twice";
    // Taken back, it holds again; the hold itself is never taken back.
    EXPECT_EQ(papers({"undo"}).status, 0);
    EXPECT_EQ(papers({"verdict", "--verdict-status"}).status, 5);
    EXPECT_NE(papers({"undo", "--sure"}).status, 0);
    EXPECT_EQ(papers({"verdict", "--verdict-status"}).status, 5);
    // What ended is told, all of it.
    ok({"hold", "--why", "soft lever", "--by", "Cleo"});
    const std::string said = papers({"clear", "--why", "new rotor", "--by", "Ben"}).out;
    EXPECT_NE(said.find("held back by Ada"), std::string::npos) << said;
    EXPECT_NE(said.find("soft lever"), std::string::npos) << said;
}

TEST_F(Cli, TheCheckBeforeARideIsTickedAndKept) {
    add_bike();
    ok({"add", "happening", "crash", "--by", "Ada", "--day", "2026-05-02"});
    EXPECT_EQ(papers({"verdict", "--verdict-status", "--day", "2026-05-02"}).status, 5);
    const json faulty = ok({"check", "--ok", "all", "--fault", "rear.rotor_straight=rubs at one place", "--by", "Ben", "--day", "2026-05-02"});
    EXPECT_TRUE(faulty["verdict"]["do_not_ride"].get<bool>());
    EXPECT_EQ(faulty["items"][0]["why"], "fault");
    const json good = ok({"check", "--ok", "all", "--by", "Ben", "--day", "2026-05-02"});
    EXPECT_FALSE(good["verdict"]["do_not_ride"].get<bool>()) << good["verdict"].dump(1);
    for (const json& item : good["items"]) EXPECT_EQ(item["why"], "routine");
    EXPECT_EQ(papers({"check", "--ok", "brakes", "--by", "Ben"}).status, 2);
}

TEST_F(Cli, ExportWipeImportGivesTheSameFilesAndTheSameVerdict) {
    add_bike();
    ok({"add", "rides", f.write("a.csv", ride_csv)});
    ok({"hold", "--why", "a, \"quoted\" reason", "--by", "Ada"});
    const std::string verdict = papers({"verdict", "--day", "2026-05-02", "--json"}).out;
    ok({"export", f.path("out")});
    fs::remove(file);
    ok({"import", f.path("out")});
    EXPECT_EQ(papers({"verdict", "--day", "2026-05-02", "--json"}).out, verdict);
    ok({"export", f.path("again")});
    int files = 0;
    for (const auto& e : fs::recursive_directory_iterator(f.path("out"))) {
        if (!e.is_regular_file()) continue;
        ++files;
        EXPECT_EQ(read(e.path().string()), read(f.path("again") + "/" + fs::relative(e.path(), f.path("out")).string())) << e.path();
    }
    EXPECT_EQ(files, 20);
    EXPECT_EQ(papers({"export", f.path("out")}).status, 3) << "nothing is written over";
    EXPECT_EQ(papers({"import", f.path("out")}).status, 3) << "nothing is imported over";
    ok({"backup", f.path("copy")});
    file = f.path("copy");
    EXPECT_TRUE(ok({"sound"})["sound"].get<bool>());
}

TEST_F(Cli, EveryVerbKeepsToTheSchemaAndTheSchemaTellsOfEveryVerb) {
    verbs_held.clear();
    add_bike();
    ok({"add", "person", "Ben", "--mass_kg", "80"});
    ok({"add", "instrument", "dial", "--kind", "dial", "--resolution_mm", "0.01"});
    ok({"add", "rides", f.write("a.csv", ride_csv)});
    ok({"add", "reading", "lever_bite", "31", "--place", "rear", "--by", "Ben"});
    ok({"add", "readings", f.write("r.csv", "place,what,value,by\nrear,lever_full,20,Ada\n")});
    ok({"add", "work", "bleed", "--place", "rear", "--by", "Ada"});
    ok({"add", "happening", "transport", "--by", "Ada"});
    ok({"add", "proof", "--place", "front", "--from", "25km/h", "--distance", "9.4m", "--force", "60N", "--by", "Ada", "--day", "2026-05-02"});
    ok({"part", "new", "winter pads", "--kind", "pads"});
    ok({"part", "on", "winter pads", "--place", "front"});
    ok({"part", "off", "winter pads"});
    ok({"hold", "--why", "crack", "--by", "Ada"});
    ok({"verdict"});
    ok({"clear", "--why", "new rotor", "--by", "Ada"});
    ok({"check"});
    ok({"change", "Ostrel trail bike", "--name", "Trail"});
    ok({"show"});
    ok({"history"});
    ok({"sound"});
    ok({"backup", f.path("copy")});
    ok({"export", f.path("out")});
    ok({"undo"});
    ok({"add", "bike", "-", "--by", "Ada"}, "name,kind,total_mass_kg\nA,city,100\n");
    ok({"check"});   // of all bikes
    file = f.path("new");
    ok({"import", f.path("out")});
    const Outcome made = brakewright({"papers", "make", f.path("other"), "--json"});
    EXPECT_EQ(against_verb("verb_make", json::parse(made.out)), "");
    verbs_held.insert("verb_make");

    std::set<std::string> told;
    for (const auto& [key, value] : schema()["definitions"].items())
        if (key.starts_with("verb_")) told.insert(key);
    EXPECT_EQ(verbs_held, told);
    // The command's own list.
    std::set<std::string> offered;
    for (const std::string group : {"", "add", "part"}) {
        std::vector<std::string> words = {"papers"};
        if (!group.empty()) words.push_back(group);
        words.push_back("--help");
        std::istringstream help(brakewright(words).out);
        bool list = false;
        for (std::string line; std::getline(help, line);) {
            if (line.starts_with("Subcommands:")) list = true;
            else if (line.empty() || line[0] != ' ') list = false;
            else if (list && line.size() > 2 && line[2] != ' ') offered.insert("verb_" + (group.empty() ? "" : group + "_") + line.substr(2, line.find(' ', 2) - 2));
        }
    }
    offered.erase("verb_add"), offered.erase("verb_part");
    EXPECT_EQ(offered, told);
}

TEST_F(Cli, ASchemaThatMissesAKeyOrAVerdictThatContradictsItselfWouldBeNoticed) {
    add_bike();
    json v = ok({"verdict"});
    json broken = v;
    broken["bikes"][0].erase("day");
    EXPECT_NE(against_verb("verb_verdict", broken), "");
    broken = v;
    broken["bikes"][0]["verdict"]["do_not_ride"] = true;   // with a state that is not held_back
    EXPECT_NE(against_verb("verb_verdict", broken), "");
    broken = v;
    broken["cautions"] = json::array();
    EXPECT_NE(against_verb("verb_verdict", broken), "");
    broken = v;
    broken["untold"] = 1;
    EXPECT_NE(against_verb("verb_verdict", broken), "");
}

// Down a slope, braked: invented, and long enough for heat.
std::string descent_csv(int seconds) {
    std::string out = "t_s,distance_m,speed_mps,altitude_m\n";
    double x = 0;
    for (int t = 0; t <= seconds; ++t) {
        const double v = t + 8 > seconds ? std::max(0.0, (seconds - t) * 1.0) : 8 + 2.5 * std::sin(t / 7.0);
        out += std::to_string(t) + "," + std::to_string(x) + "," + std::to_string(v) + "," + std::to_string(900 - 0.07 * x) + "\n";
        x += v;
    }
    return out;
}

TEST_F(Cli, ExportWipeImportGivesTheSameAnswersToTheLastDigit) {
    add_bike();
    ok({"add", "rides", f.write("a.csv", descent_csv(200)), "--surface", "dry"});
    ok({"add", "rides", f.write("log.csv", "date,distance_m,descent_m\n2026-04-20,9000,220\n"), "--weather", "wet"});
    ok({"add", "reading", "pad_thickness", "left=1.2", "right=1.1,1.15", "--place", "front", "--by", "Ada", "--with-plate", "no", "--day", "2026-05-02"});
    const std::vector<std::string> ask = {"--today", "2026-05-03", "--cases", "256", "--json"};
    const auto answered = [&](std::vector<std::string> more = {}) {
        std::vector<std::string> words = {"answer", "--papers", file};
        words.insert(words.end(), ask.begin(), ask.end());
        words.insert(words.end(), more.begin(), more.end());
        const Outcome o = brakewright(words);
        EXPECT_EQ(o.status, 0) << o.err;
        EXPECT_EQ(o.err, "");
        return o.out;
    };
    const std::string before = answered({"--summary", f.path("before.csv")});
    ASSERT_NE(json::parse(before)["life"]["front"]["pad"], nullptr);
    EXPECT_EQ(answered(), before) << "kept";
    EXPECT_EQ(answered(), before) << "found";
    ok({"export", f.path("out")});
    fs::remove(file);
    ok({"import", f.path("out")});
    EXPECT_EQ(answered(), before);
    EXPECT_EQ(answered({"--summary", f.path("after.csv")}), before);
    EXPECT_EQ(read(f.path("after.csv")), read(f.path("before.csv")));
    EXPECT_NE(read(f.path("after.csv")).find("log.csv"), std::string::npos);

    // And computed anew: without anything that was kept.
    fs::remove(file);
    fs::remove_all(f.path("out/doses"));
    fs::remove(f.path("out/papers.json"));
    for (const char* table : {"doses.csv", "answers.csv"}) {
        const std::string csv = read(f.path(std::string("out/") + table));
        f.write(std::string("out/") + table, csv.substr(0, csv.find('\n') + 1));
    }
    ok({"import", f.path("out")});
    EXPECT_EQ(answered(), before);
}

// One rule for every verdict: what life says of today is said by answer, show, check and verdict alike.
TEST_F(Cli, WhatLifeSaysOfTodayReachesEveryVerdictAndItsWords) {
    add_bike();
    ok({"add", "rides", f.write("a.csv", descent_csv(200)), "--surface", "dry"});
    // Before anything was computed no verdict is clean and each text says so.
    for (const std::string verb : {"show", "check", "verdict"}) {
        const Outcome o = papers({verb, "--day", "2026-05-04"});
        EXPECT_NE((verb == "show" ? o.out : o.out.substr(0, 400)).find(verb == "show" ? "not yet worked out" : "Not yet worked out"), std::string::npos) << verb << ": " << o.out;
    }
    // A tenth over its limit by a calliper: as a reading no reason, but the chance that it is at the limit is past 0.5 %.
    ok({"add", "reading", "pad_thickness", "left=0.60", "right=0.62", "--place", "front", "--by", "Ada", "--with-plate", "no", "--day", "2026-05-02", "--sure"});
    const auto says = [](const json& verdict) {
        return std::any_of(verdict["reasons"].begin(), verdict["reasons"].end(), [](const json& r) { return r["code"] == "front_pads_look_now" && r["text"].get<std::string>().find("Measure the front pads before the next ride") == 0; });
    };
    // The answer learns for itself and keeps nothing: its own verdict takes the checks.
    const Outcome answered = brakewright({"answer", "--papers", file, "--today", "2026-05-04", "--cases", "64", "--json"});
    ASSERT_EQ(answered.status, 0) << answered.err;
    const json a = json::parse(answered.out);
    EXPECT_TRUE(says(a["verdict"])) << a["verdict"].dump(1);
    EXPECT_EQ(a["verdict"]["state"], "measure_better");
    ASSERT_EQ(brakewright({"life", "--papers", file, "--today", "2026-05-04"}).status, 0);
    EXPECT_TRUE(says(ok({"verdict", "--day", "2026-05-04"})["bikes"][0]["verdict"]));
    EXPECT_TRUE(says(ok({"check", "--day", "2026-05-04"})["verdict"]));
    for (const std::string verb : {"show", "check", "verdict"}) {
        const Outcome o = papers({verb, "--day", "2026-05-04"});
        std::string words;   // as one line
        for (const char c : o.out) words += c == '\n' || (c == ' ' && !words.empty() && words.back() == ' ') ? (words.empty() || words.back() == ' ' ? "" : " ") : std::string(1, c);
        EXPECT_NE(words.find("Measure the front pads before the next ride: by the forecast of 2026-05-04"), std::string::npos) << verb << ": " << o.out;
        EXPECT_EQ(words.find("ot yet worked out"), std::string::npos) << verb << ": " << o.out;
    }
}

TEST_F(Cli, APlannedWayWhoseBrakingIsNotKnownIsLeftOutOfTheRidingToComeAndNamed) {
    add_bike();
    ok({"add", "rides", f.write("a.csv", descent_csv(200)), "--surface", "dry"});
    const auto way = [&](const std::string& name, int places, bool heights) {
        std::string gpx = "<?xml version=\"1.0\"?><gpx version=\"1.1\" creator=\"x\" xmlns=\"http://www.topografix.com/GPX/1/1\"><trk><trkseg>";
        for (int i = 0; i < places; ++i) gpx += "<trkpt lat=\"" + std::to_string(47 - 0.0009 * i) + "\" lon=\"10\">" + (heights ? "<ele>" + std::to_string(900 - 6 * i) + "</ele>" : "") + "</trkpt>";
        return f.write(name, gpx + "</trkseg></trk></gpx>");
    };
    const std::string known = way("known.gpx", 40, true), blind = way("blind.gpx", 6, false);
    const auto life = [&](const std::vector<std::string>& ways) {
        std::vector<std::string> words = {"life", "--papers", file, "--today", "2026-05-03", "--json"};
        words.insert(words.end(), ways.begin(), ways.end());
        return brakewright(words);
    };
    const Outcome alone = life({known}), with = life({known, blind});
    ASSERT_EQ(alone.status, 0) << alone.err;
    ASSERT_EQ(with.status, 0) << with.err;
    EXPECT_NE(with.err.find("left out of the riding to come: blind.gpx"), std::string::npos) << with.err;
    EXPECT_EQ(alone.err.find("left out"), std::string::npos) << alone.err;
    const json a = json::parse(alone.out), w = json::parse(with.out);
    EXPECT_EQ(w["plan"], "known.gpx");
    EXPECT_EQ(w["parts"], a["parts"]) << "a way of which nothing is known moves nothing";
    // Nor does it take the lives away from the whole answer: its own question stays open.
    const Outcome answered = brakewright({"answer", "--papers", file, "--today", "2026-05-03", "--cases", "64", "--json", blind});
    ASSERT_EQ(answered.status, 0) << answered.err;
    const json whole = json::parse(answered.out);
    EXPECT_NE(whole["life"]["front"]["pad"], nullptr) << answered.out;
    EXPECT_TRUE(std::any_of(whole["verdict"]["reasons"].begin(), whole["verdict"]["reasons"].end(), [](const json& r) { return r["code"] == "heat_not_known" && r["text"].get<std::string>().find("blind.gpx") == 0; })) << whole["verdict"].dump(1);
}

TEST_F(Cli, AnswersFromThePapersSayWhatIsWrongAndHoldBack) {
    add_bike();
    ok({"add", "rides", f.write("a.csv", descent_csv(120))});
    const auto ask = [&](std::vector<std::string> more) {
        std::vector<std::string> words = {"answer", "--papers", file, "--today", "2026-05-03", "--cases", "64"};
        words.insert(words.end(), more.begin(), more.end());
        return brakewright(words);
    };
    const Outcome unknown = ask({"--bike", "Ostrel trail bik"});
    EXPECT_EQ(unknown.status, 3);
    EXPECT_NE(unknown.err.find("nearest known one is 'Ostrel trail bike'"), std::string::npos) << unknown.err;
    EXPECT_EQ(brakewright({"answer", "--papers", f.path("none")}).status, 3);
    EXPECT_EQ(ask({"--since", "soon"}).status, 2);
    EXPECT_EQ(brakewright({"answer", demo("bikes/trail.toml"), "--bike", "x"}).status, 2);
    const Outcome ridden = ask({f.path("a.csv")});
    EXPECT_EQ(ridden.status, 2);
    EXPECT_NE(ridden.err.find("papers add rides"), std::string::npos) << ridden.err;
    const Outcome planned = ask({demo("routes/over-ostrel.gpx"), "--json"});
    EXPECT_EQ(planned.status, 0) << planned.err;
    const json j = json::parse(planned.out);
    EXPECT_EQ(j["rides"].size(), 2u);
    EXPECT_TRUE(j["rides"][1]["planned"].get<bool>());
    ok({"hold", "--why", "crack", "--by", "Ada"});
    for (int times = 0; times < 2; ++times) {   // computed, then found
        const Outcome held = ask({"--verdict-status", "--json"});
        EXPECT_EQ(held.status, 5) << held.err;
        const json h = json::parse(held.out);
        EXPECT_EQ(h["verdict"]["reasons"][0]["code"], "held_by_a_person");
        EXPECT_EQ(h["life"]["front"], nullptr);
        EXPECT_EQ(h["stops"][0]["brake_distance_m"], nullptr);
    }
    const Outcome text = ask({"--verdict-status"});
    EXPECT_EQ(text.status, 5);
    EXPECT_NE(text.out.find("DO NOT RIDE"), std::string::npos);
    // Papers that cannot be written can be answered from.
    fs::permissions(file, fs::perms::owner_read);
    EXPECT_EQ(ask({"--seed", "3"}).status, 0);
    fs::permissions(file, fs::perms::owner_read | fs::perms::owner_write);
}

TEST_F(Cli, TheUsersOwnPapersAreInTheXdgDataFolder) {
    const std::string home = f.path("xdg");
    setenv("XDG_DATA_HOME", home.c_str(), 1);
    EXPECT_EQ(brakewright({"papers", "show"}).status, 3);
    EXPECT_EQ(brakewright({"papers", "make"}).status, 0);
    EXPECT_EQ(brakewright({"papers", "show"}).status, 0);
    EXPECT_TRUE(fs::exists(home + "/brakewright/papers.sqlite"));
    unsetenv("XDG_DATA_HOME");
}
