// SPDX-License-Identifier: Apache-2.0
// `heat figures DIR`: the data behind the figures that explain, and whether they say what their captions say.
#include <gtest/gtest.h>

#include <cmath>
#include <map>
#include <nlohmann/json.hpp>
#include <sstream>

#include "run.hpp"

using namespace bw::e2e;
using nlohmann::json;

namespace {

struct Figures {
    Folder folder;
    Outcome outcome;
    std::map<std::string, json> words;
    std::map<std::string, std::vector<std::map<std::string, std::string>>> table;   // a row: column -> text
    std::map<std::string, std::vector<std::string>> header;
};

std::vector<std::string> split(const std::string& line) {
    std::vector<std::string> out(1);
    for (const char c : line)
        if (c == ',') out.emplace_back();
        else out.back() += c;
    return out;
}

const Figures& figures() {
    static const Figures all = [] {
        Figures f;
        f.outcome = brakewright({"heat", "figures", "--json", f.folder.path("figures")});
        if (f.outcome.status != 0) return f;
        const json list = json::parse(f.outcome.out);
        for (const json& one : list["figures"]) {
            const std::string name = one["figure"];
            f.words[name] = json::parse(read(f.folder.path("figures/" + one["words"].get<std::string>())));
            std::istringstream csv(read(f.folder.path("figures/" + one["table"].get<std::string>())));
            std::string line;
            std::getline(csv, line);
            f.header[name] = split(line);
            while (std::getline(csv, line)) {
                const auto fields = split(line);
                EXPECT_EQ(fields.size(), f.header[name].size()) << name << ": " << line;
                std::map<std::string, std::string> row;
                for (std::size_t i = 0; i < std::min(fields.size(), f.header[name].size()); ++i) row[f.header[name][i]] = fields[i];
                f.table[name].push_back(std::move(row));
            }
        }
        return f;
    }();
    return all;
}

const json& variant(const std::string& figure, const std::string& name) {
    for (const json& v : figures().words.at(figure)["variants"])
        if (v["name"] == name) return v;
    throw std::runtime_error("no variant " + name + " in " + figure);
}
double middle(const std::string& figure, const std::string& name, const std::string& quantity) { return variant(figure, name)[quantity]["p50"]; }

}  // namespace

TEST(HeatFigures, NineAreThereEachWithTableCaptionAssumptionsAndSources) {
    ASSERT_EQ(figures().outcome.status, 0) << figures().outcome.err;
    for (const char* name : {"compound", "heat_barrier", "style", "rotor_size", "holes", "old_fluid", "e_bike", "heat_resistance", "repeated_stops"}) {
        ASSERT_TRUE(figures().words.contains(name)) << name;
        const json& w = figures().words.at(name);
        EXPECT_EQ(w["schema"], "heat-figure/1");
        EXPECT_GT(w["caption"].get<std::string>().size(), 60U) << name;
        EXPECT_GE(w["assumptions"].size(), 5U) << name;
        EXPECT_GE(w["sources"].size(), 1U) << name;
        for (const json& s : w["sources"]) EXPECT_FALSE(s["grade"].get<std::string>().empty());
        EXPECT_NE(w["caution"].get<std::string>().find("qualified mechanic"), std::string::npos);
        EXPECT_GT(figures().table.at(name).size(), 4U) << name;
        // Each column of the table is explained, in order, by its name or, for intervals, by its stem.
        std::size_t at = 0;
        for (const json& c : w["columns"]) {
            const std::string first = c["name"].get<std::string>().substr(0, c["name"].get<std::string>().find_first_of(",. "));
            ASSERT_LT(at, figures().header.at(name).size()) << name;
            EXPECT_TRUE(figures().header.at(name)[at].starts_with(first)) << name << ": " << figures().header.at(name)[at] << " against " << first;
            at += figures().header.at(name)[at].find("_p05") != std::string::npos ? 3 : 1;
        }
        EXPECT_EQ(at, figures().header.at(name).size()) << name;
    }
}

// Three of four: a sentence under a figure should hold for most of what is likely. How often it does stands in the file.
TEST(HeatFigures, EveryClaimHoldsInThreeOfFourLikelyCasesAndSaysByHowMuch) {
    int claims = 0;
    for (const auto& [name, w] : figures().words)
        for (const json& c : w["claims"]) {
            ++claims;
            EXPECT_GE(c["holds_share"].get<double>(), 0.75) << name << ": " << c["text"];
            EXPECT_GT(c["difference"]["p50"].get<double>(), 0) << name << ": " << c["text"];
            EXPECT_LE(c["difference"]["p05"].get<double>(), c["difference"]["p95"].get<double>());
            std::printf("    %s: %s, by %.3g (%.3g to %.3g), in %.0f %% of the cases\n", name.c_str(), c["text"].get<std::string>().c_str(), c["difference"]["p50"].get<double>(), c["difference"]["p05"].get<double>(),
                        c["difference"]["p95"].get<double>(), 100 * c["holds_share"].get<double>());
        }
    EXPECT_GE(claims, 20);
}

TEST(HeatFigures, TheHottestRingIsHotterThanTheMeanOfTheFace) {
    for (const auto& [figure, variant] : {std::pair{"rotor_size", "180 mm"}, std::pair{"compound", "organic"}})
        EXPECT_GT(middle(figure, variant, "rotor_hottest_ring_degC"), middle(figure, variant, "rotor_peak_degC") + 1) << figure;
}

TEST(HeatFigures, ALargerRotorIsCoolerAndASinteredPadSendsMoreHeatToTheCaliper) {
    double before = 1e9;
    for (const char* size : {"140 mm", "160 mm", "180 mm", "200 mm", "220 mm"}) {
        EXPECT_LT(middle("rotor_size", size, "rotor_peak_degC"), before - 5) << size;
        before = middle("rotor_size", size, "rotor_peak_degC");
    }
    EXPECT_GT(middle("compound", "sintered", "caliper_heat_J"), 1.1 * middle("compound", "organic", "caliper_heat_J"));
    EXPECT_GT(middle("compound", "semi_metallic", "caliper_heat_J"), middle("compound", "organic", "caliper_heat_J"));
    EXPECT_GT(middle("compound", "sintered", "caliper_heat_J"), middle("compound", "semi_metallic", "caliper_heat_J"));
}

// 10 kg more down 450 m: m g h and the energy of motion bound it from above; what air and rolling take of the rest is the same or less.
TEST(HeatFigures, TheEBikesExtraEnergyIsThatOfItsExtraWeight) {
    for (const json& c : figures().words.at("e_bike")["claims"]) {
        if (c["quantity"] != "brake_energy_J") continue;
        const double weight_J = 10 * 9.80665 * 450;
        EXPECT_LT(c["difference"]["p95"].get<double>(), 1.02 * weight_J);
        EXPECT_GT(c["difference"]["p05"].get<double>(), 0.6 * weight_J);
    }
}

TEST(HeatFigures, TheHeatResistanceDragPutsIn75WattHours) {
    std::map<std::string, double> sum;
    for (const auto& row : figures().table.at("heat_resistance")) sum[row.at("variant")] += 10 * std::stod(row.at("power_W"));
    EXPECT_EQ(sum.size(), 5U);
    for (const auto& [name, joule] : sum) EXPECT_NEAR(joule, 75 * 3600, 0.05 * 75 * 3600) << name;   // the standard's own 5 %
    EXPECT_NE(figures().words.at("heat_resistance")["sources"].dump().find("from memory"), std::string::npos);
    EXPECT_NE(figures().words.at("repeated_stops")["sources"].dump().find("from memory"), std::string::npos);
    EXPECT_NE(figures().words.at("heat_resistance")["caption"].get<std::string>().find("not an approval"), std::string::npos);
}

// Least boiling points of new fluid: 49 CFR 571.116 S5.1.1. Mineral oil: not known.
TEST(HeatFigures, NewGlycolFluidMeetsItsGradeOldFluidDoesNotAndMineralOilIsNotKnown) {
    for (const auto& [kind, least] : {std::pair{"dot3", 205.0}, std::pair{"dot4", 230.0}, std::pair{"dot5_1", 260.0}}) {
        EXPECT_GT(middle("old_fluid", std::string(kind) + " 0 months", "boiling_point_degC"), least);
        EXPECT_LT(middle("old_fluid", std::string(kind) + " 24 months", "boiling_point_degC"), least);
    }
    int mineral = 0;
    for (const auto& row : figures().table.at("old_fluid")) {
        if (row.at("kind") == "mineral") {
            ++mineral;
            EXPECT_TRUE(row.at("boiling_point_p50_degC").empty());
            EXPECT_TRUE(row.at("boils_share").empty());
        } else {
            EXPECT_FALSE(row.at("boils_share").empty());
        }
    }
    EXPECT_EQ(mineral, 6);
    EXPECT_TRUE(variant("old_fluid", "mineral 0 months")["boils_share"].is_null());
}

// The rise of one stop from 40 km/h is at most that of all the front's energy in the band's metal; ten of them never fall.
TEST(HeatFigures, RepeatedStopsRiseAndLevelOff) {
    std::map<std::string, std::vector<double>> before;
    for (const auto& row : figures().table.at("repeated_stops")) before[row.at("variant")].push_back(std::stod(row.at("rotor_before_p50_degC")));
    for (const auto& [name, t] : before) {
        ASSERT_EQ(t.size(), 10U) << name;
        EXPECT_NEAR(t[0], 15, 0.1);
        for (std::size_t i = 1; i < t.size(); ++i) EXPECT_GT(t[i], t[i - 1] - 0.01) << name;
        EXPECT_LT(t[9] - t[8], 0.5 * (t[1] - t[0])) << name << ": the geometric series levels off";
    }
}

TEST(HeatFigures, TheFilesAreTheSameOnOneThreadAndOnTwoAndAnotherSeedMovesThem) {
    const Folder f;
    ASSERT_EQ(brakewright({"heat", "figures", "--threads", "1", f.path("one")}).status, 0);
    ASSERT_EQ(brakewright({"heat", "figures", "--seed", "2", f.path("other")}).status, 0);
    for (const auto& [name, w] : figures().words) {
        EXPECT_EQ(read(f.path("one/" + name + ".csv")), read(figures().folder.path("figures/" + name + ".csv"))) << name;
        EXPECT_EQ(read(f.path("one/" + name + ".json")), read(figures().folder.path("figures/" + name + ".json"))) << name;
        EXPECT_NE(read(f.path("other/" + name + ".csv")), read(f.path("one/" + name + ".csv"))) << name;
    }
}

TEST(HeatFigures, RefusesAWrongNumberOfCasesAndAFolderThatIsAFile) {
    const Folder f;
    EXPECT_EQ(brakewright({"heat", "figures", "--cases", "100", f.path("x")}).status, 2);
    EXPECT_EQ(brakewright({"heat", "figures", f.write("file", "text")}).status, 3);
    EXPECT_EQ(brakewright({"heat"}).status, 2);
}
