// SPDX-License-Identifier: Apache-2.0
// `brakewright papers` as a person uses it.
#include <chrono>
#include <filesystem>
#include <nlohmann/json.hpp>

#include "../e2e/run.hpp"

#include <gtest/gtest.h>

using namespace bw::e2e;
using nlohmann::json;
namespace fs = std::filesystem;

namespace {

const char* ride_csv = "t_s,distance_m,altitude_m\n0,0,100\n1,5,99\n2,10,98\n3,15,97\n";

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
        words.push_back("--json");
        const Outcome o = papers(words, input);
        EXPECT_EQ(o.status, 0) << o.err;
        const json j = json::parse(o.out, nullptr, false);
        EXPECT_EQ(j["schema"], "papers/1") << o.out;
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
    const json list = ok({"check", "--day", "2026-05-02"});
    EXPECT_EQ(list["bikes"].size(), 62u);
    EXPECT_GT(list["minutes"].get<double>(), 60);
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
    ok({"add", "reading", "pad_thickness", "left=2.2", "--place", "front", "--by", "Ada", "--with-plate", "no", "--day", "2026-05-03", "--sure"});
    EXPECT_EQ(papers({"add", "reading", "pad_thickness", "left=22", "--place", "front", "--by", "Ada", "--with-plate", "no"}).status, 3) << "22 mm is a slip of the point";
    EXPECT_EQ(papers({"add", "reading", "pad_thicknes", "1", "--place", "front"}).status, 2);
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
    EXPECT_EQ(ok({"clear", "--why", "new rotor", "--by", "Ben"})["cleared"], 1);
    EXPECT_EQ(papers({"verdict", "--verdict-status"}).status, 0);
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
    EXPECT_EQ(files, 19);
    EXPECT_EQ(papers({"export", f.path("out")}).status, 3) << "nothing is written over";
    EXPECT_EQ(papers({"import", f.path("out")}).status, 3) << "nothing is imported over";
    ok({"backup", f.path("copy")});
    file = f.path("copy");
    EXPECT_TRUE(ok({"sound"})["sound"].get<bool>());
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
