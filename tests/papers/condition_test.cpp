// SPDX-License-Identifier: Apache-2.0
// Readings of several places, repeats, run-out tables and what `papers verdict` makes of them.
#include <cmath>
#include <nlohmann/json.hpp>

#include "../e2e/run.hpp"

#include <gtest/gtest.h>

using namespace bw::e2e;
using nlohmann::json;

namespace {

class Condition : public ::testing::Test {
protected:
    Folder f;
    std::string file = f.path("p.papers");

    void SetUp() override {
        ASSERT_EQ(brakewright({"papers", "make", file}).status, 0);
        ok({"add", "bike", demo("bikes/trail.toml"), "--by", "Ada", "--day", "2026-05-01"});
    }
    Outcome papers(std::vector<std::string> words) {
        words.insert(words.begin(), "papers");
        words.insert(words.end(), {"--papers", file});
        return brakewright(words);
    }
    json ok(std::vector<std::string> words) {
        words.push_back("--json");
        const Outcome o = papers(words);
        EXPECT_EQ(o.status, 0) << o.err;
        return json::parse(o.out, nullptr, false);
    }
    Outcome reading(const std::string& what, std::vector<std::string> words, const std::string& day = "2026-05-10") {
        words.insert(words.begin(), {"add", "reading", what});
        words.insert(words.end(), {"--place", "front", "--by", "Ada", "--day", day});
        return papers(words);
    }
    json judged(const std::string& day = "2026-05-10") { return ok({"verdict", "--day", day})["bikes"][0]; }
    // A bend of 0.25 mm towards the dial at 140 degrees on a tilt of 0.1 mm.
    std::string table(int n, double bend_mm = 0.25, int repeats = 1) {
        std::string rows = "angle_deg,dial_mm\n";
        for (int i = 0; i < n * repeats; ++i) {
            const double deg = 360.0 * (i % n) / n, off = (deg - 140) / 40;
            const double mm = 1 + 0.05 * std::cos(deg * 3.141592653589793 / 180) + bend_mm * std::exp2(-4 * off * off);
            rows += std::to_string(deg) + "," + std::to_string(std::round(mm * 100) / 100) + "\n";
        }
        f.write("turn.csv", rows);
        return f.path("turn.csv");
    }
};

}  // namespace

TEST_F(Condition, ARunOutTableIsTakenApartAndAPlanIsGiven) {
    ASSERT_EQ(reading("run_out", {"--csv", table(36)}).status, 0);
    const json r = judged()["run_out"]["front"];
    EXPECT_EQ(r["depth"], "parts");
    EXPECT_EQ(r["read"].size(), 36u);
    EXPECT_EQ(r["shape"].size(), 180u);
    ASSERT_EQ(r["bends"].size(), 1u) << r.dump(1);
    EXPECT_NEAR(r["bends"][0]["angle_deg"]["p50"].get<double>(), 140, 8);
    EXPECT_NEAR(r["bends"][0]["height_mm"]["p50"].get<double>(), 0.25, 0.02 + 0.019);
    EXPECT_EQ(r["bends"][0]["push"], "away_from_dial");
    EXPECT_LT(r["bends"][0]["total_after_mm"]["p50"].get<double>(), r["total_mm"]["p05"].get<double>());
    const std::string text = papers({"verdict", "--day", "2026-05-10"}).out;
    EXPECT_NE(text.find("push away from the dial"), std::string::npos) << text;
    EXPECT_NE(text.find("qualified mechanic"), std::string::npos);
    // A rotor under its limit is replaced: no plan.
    ok({"add", "reading", "rotor_thickness", "1.2", "--place", "front", "--by", "Ada", "--anvil", "pointed", "--day", "2026-05-10"});
    std::string thin = papers({"verdict", "--day", "2026-05-10"}).out;
    for (std::size_t at = 0; (at = thin.find("\n  ", at)) != std::string::npos;) thin.replace(at, 3, " ");   // as one line
    EXPECT_EQ(thin.find("push away from the dial"), std::string::npos) << thin;
    EXPECT_NE(thin.find("not straightened but replaced"), std::string::npos) << thin;
    // Straightened since: the table says nothing any more.
    ok({"add", "work", "true_rotor", "--place", "front", "--by", "Ada", "--day", "2026-05-11"});
    EXPECT_FALSE(judged("2026-05-12").contains("run_out"));
}

TEST_F(Condition, FewAnglesSayLessAndSaySo) {
    ASSERT_EQ(reading("run_out", {"--csv", table(8)}).status, 0);
    json r = judged()["run_out"]["front"];
    EXPECT_EQ(r["depth"], "total");
    EXPECT_TRUE(r["tilt"].is_null());
    EXPECT_TRUE(r["bends"].empty());
    ASSERT_EQ(reading("run_out", {"--csv", table(4)}, "2026-05-11").status, 0);
    r = judged("2026-05-11")["run_out"]["front"];
    EXPECT_EQ(r["depth"], "only_seen");
    EXPECT_TRUE(r["total_mm"].is_null());
    EXPECT_NE(papers({"verdict", "--day", "2026-05-11"}).out.find("cannot tell a tilted seat from bends"), std::string::npos);
}

TEST_F(Condition, RepeatsThatContradictEachOtherAreAskedAbout) {
    const Outcome odd = reading("rotor_thickness", {"0=1.80/1.81/1.62", "--anvil", "pointed"});
    EXPECT_EQ(odd.status, 3);
    EXPECT_NE(odd.err.find("--sure"), std::string::npos) << odd.err;
    EXPECT_EQ(reading("rotor_thickness", {"0=1.78/1.79/1.78", "90=1.77/1.78/1.77", "180=1.78/1.78/1.79", "270=1.79/1.78/1.78", "--anvil", "pointed"}).status, 0);
    const json r = judged()["rotor_thickness"]["front"];
    EXPECT_EQ(r["places"], 4);
    EXPECT_LT(r["least_mm"]["p05"].get<double>(), r["least_mm"]["p95"].get<double>());
    EXPECT_EQ(reading("rotor_thickness", {"1.78/1.79"}).status, 2) << "repeats of a rotor need their angle";
}

TEST_F(Condition, UnevenPadsPointToWhatTheyMayComeFrom) {
    ASSERT_EQ(reading("pad_thickness", {"left.leading=1.4", "left.trailing=1.9", "right.leading=0.9", "right.trailing=1.4", "--with-plate", "no"}).status, 0);
    const json p = judged()["uneven_pads"]["front"]["patterns"];
    ASSERT_EQ(p.size(), 3u) << p.dump(1);
    for (const json& x : p) {
        EXPECT_GT(x["probability"].get<double>(), 0.9) << x.dump(1);
        EXPECT_FALSE(x["causes"].empty());
    }
    EXPECT_NE(papers({"verdict", "--day", "2026-05-10"}).out.find("by common practice"), std::string::npos);
    const Outcome odd = reading("pad_thickness", {"left.upper=1.4", "--with-plate", "no"});
    EXPECT_EQ(odd.status, 2);
    EXPECT_NE(odd.err.find("leading"), std::string::npos) << odd.err;
}

TEST_F(Condition, APadThatGrowsAfterAHotRideIsAskedAboutWithThatAsAReason) {
    ok({"part", "new", "soft pads", "--kind", "pads", "--compound", "organic", "--by", "Ada", "--day", "2026-05-02"});
    ok({"part", "on", "soft pads", "--place", "front", "--by", "Ada", "--day", "2026-05-02"});
    ASSERT_EQ(reading("pad_thickness", {"left=1.00", "right=1.00", "--with-plate", "no"}).status, 0);
    const Outcome cold = reading("pad_thickness", {"left=1.12", "right=1.12", "--with-plate", "no"}, "2026-05-15");
    EXPECT_EQ(cold.status, 3);
    EXPECT_EQ(cold.err.find("overheated"), std::string::npos) << cold.err;
    ok({"add", "happening", "overheat", "--by", "Ada", "--day", "2026-05-14"});
    const Outcome hot = reading("pad_thickness", {"left=1.12", "right=1.12", "--with-plate", "no"}, "2026-05-15");
    EXPECT_EQ(hot.status, 3);
    EXPECT_NE(hot.err.find("overheated on 2026-05-14"), std::string::npos) << hot.err;
    EXPECT_NE(hot.err.find("no wear taken back"), std::string::npos) << hot.err;
    // More than such a layer can be is not put down to it.
    const Outcome far = reading("pad_thickness", {"left=1.30", "right=1.30", "--with-plate", "no"}, "2026-05-15");
    EXPECT_EQ(far.status, 3);
    EXPECT_EQ(far.err.find("overheated"), std::string::npos) << far.err;
    EXPECT_EQ(reading("pad_thickness", {"left=1.30", "right=1.30", "--with-plate", "no", "--sure"}, "2026-05-15").status, 0);
}

TEST_F(Condition, AFrayedCableHoldsTheBikeBackUntilANewOneIsIn) {
    ASSERT_EQ(reading("cable_state", {"frayed", "at", "the", "lever"}).status, 0);
    EXPECT_TRUE(judged()["verdict"]["do_not_ride"].get<bool>());
    ok({"add", "work", "new_cable", "--place", "front", "--by", "Ada", "--day", "2026-05-11"});
    EXPECT_FALSE(judged("2026-05-12")["verdict"]["do_not_ride"].get<bool>());
}

TEST_F(Condition, EachKindOfReadingGoesInWithItsUncertainty) {
    const std::pair<const char*, std::vector<std::string>> all[] = {
        {"rotor_ridge", {"0.05"}}, {"gap", {"left.leading.outer=0.2", "left.trailing.inner=0.25", "right.leading.outer=0.2", "right.trailing.inner=0.2"}},
        {"caliper_temperature", {"81"}}, {"rotor_temperature", {"180"}}, {"pad_mass", {"left=14.2/14.2/14.3"}}, {"lever_full", {"31"}}, {"bearing_play", {"0.04/0.05/0.05"}}};
    for (const auto& [what, values] : all) {
        std::vector<std::string> words = values;
        words.push_back("--json");
        const Outcome o = reading(what, words);
        ASSERT_EQ(o.status, 0) << what << o.err;
        EXPECT_GT(json::parse(o.out)["reading"]["uncertainty"].get<double>(), 0) << what;
    }
    EXPECT_EQ(reading("fluid_colour", {"dark"}).status, 0);
}

TEST_F(Condition, ARunOutThatHoldsBackIsClearedByABetterTableOrByWorkNeverByALikeOne) {
    ok({"add", "instrument", "good dial", "--kind", "dial", "--resolution_mm", "0.001", "--permitted_error_mm", "0.003", "--by", "Ada"});
    const auto held = [&](const std::string& day) { return judged(day)["verdict"]["do_not_ride"].get<bool>(); };
    ASSERT_EQ(reading("run_out", {"--csv", table(24, 0.8)}).status, 0);
    EXPECT_TRUE(held("2026-05-10"));
    ASSERT_EQ(reading("run_out", {"--csv", table(24, 0.1)}, "2026-05-11").status, 0);
    EXPECT_TRUE(held("2026-05-11")) << "the same dial at as many angles again clears nothing";
    ASSERT_EQ(reading("run_out", {"--csv", table(12, 0.1), "--with", "good dial"}, "2026-05-12").status, 0);
    EXPECT_TRUE(held("2026-05-12")) << "a better dial at fewer angles may have missed it";
    ASSERT_EQ(reading("run_out", {"--csv", table(24, 0.1), "--with", "good dial"}, "2026-05-13").status, 0);
    EXPECT_FALSE(held("2026-05-13"));
    // What bettered it goes on doing so, whatever comes after.
    ASSERT_EQ(reading("run_out", {"--csv", table(8, 0.1)}, "2026-05-14").status, 0);
    EXPECT_FALSE(held("2026-05-14"));
    // Repeats better a reading as well, and so do more angles.
    ASSERT_EQ(reading("run_out", {"--csv", table(24, 0.8)}, "2026-05-15").status, 0);
    EXPECT_TRUE(held("2026-05-15"));
    ASSERT_EQ(reading("run_out", {"--csv", table(24, 0.1, 3)}, "2026-05-16").status, 0);
    EXPECT_FALSE(held("2026-05-16"));
    ASSERT_EQ(reading("run_out", {"--csv", table(24, 0.8)}, "2026-05-17").status, 0);
    ASSERT_EQ(reading("run_out", {"--csv", table(36, 0.1)}, "2026-05-18").status, 0);
    EXPECT_FALSE(held("2026-05-18"));
    // Straightened and read again on the same day: the day alone does not tell the order, the papers do.
    ASSERT_EQ(reading("run_out", {"--csv", table(36, 0.8)}, "2026-05-19").status, 0);
    EXPECT_TRUE(held("2026-05-19"));
    ok({"add", "work", "true_rotor", "--place", "front", "--by", "Ada", "--day", "2026-05-19"});
    ASSERT_EQ(reading("run_out", {"--csv", table(12, 0.1)}, "2026-05-19").status, 0);
    EXPECT_FALSE(held("2026-05-19"));
}

TEST_F(Condition, TheMakersLimitOfRunOutHoldsBackAndMayClear) {
    ok({"part", "new", "rotor two", "--kind", "rotor", "--diameter_mm", "180", "--run_out_limit_mm", "0.3", "--by", "Ada", "--day", "2026-05-02"});
    ok({"part", "on", "rotor two", "--place", "front", "--by", "Ada", "--day", "2026-05-02"});
    const auto said = [&](const std::string& day) {
        const json v = ok({"verdict", "--day", day})["bikes"][0]["verdict"];
        for (const char* list : {"reasons", "notes"})
            for (const json& r : v[list])
                if (r["code"].get<std::string>().rfind("front_run_out", 0) == 0) return r["code"].get<std::string>();
        return std::string();
    };
    ASSERT_EQ(reading("run_out", {"--csv", table(24, 0.3)}).status, 0);
    EXPECT_EQ(said("2026-05-10"), "front_run_out_over_limit");
    ok({"add", "work", "true_rotor", "--place", "front", "--by", "Ada", "--day", "2026-05-11"});
    ASSERT_EQ(reading("run_out", {"--csv", table(24, 0.28)}, "2026-05-12").status, 0);
    EXPECT_EQ(said("2026-05-12"), "front_run_out_too_near_to_tell");
    ASSERT_EQ(reading("run_out", {"--csv", table(24, 0.05)}, "2026-05-13").status, 0);
    EXPECT_EQ(said("2026-05-13"), "") << "under the limit: one more check in which no reason was found";
}

TEST_F(Condition, ALeverThatReachedTheBarHoldsUntilItIsReadBetterOrMended) {
    const auto held = [&](const std::string& day) { return judged(day)["verdict"]["do_not_ride"].get<bool>(); };
    ok({"add", "instrument", "ruler", "--kind", "ruler", "--resolution_mm", "1", "--permitted_error_mm", "0.5", "--by", "Ada"});
    ASSERT_EQ(reading("lever_full", {"0", "--with", "ruler"}).status, 0);
    EXPECT_TRUE(held("2026-05-10"));
    ASSERT_EQ(reading("lever_full", {"20", "--with", "ruler"}, "2026-05-11").status, 0);
    EXPECT_TRUE(held("2026-05-11"));
    ok({"add", "work", "bleed", "--place", "front", "--by", "Ada", "--day", "2026-05-11"});
    ASSERT_EQ(reading("lever_full", {"20", "--with", "ruler"}, "2026-05-11").status, 0);
    EXPECT_FALSE(held("2026-05-11"));
}

TEST_F(Condition, UnevenGapsTellACaliperThatIsTurnedFromOneOffTheMiddleAndFromWedges) {
    const auto surest = [&](const std::vector<std::string>& gaps, const std::string& day) {
        EXPECT_EQ(reading("gap", gaps, day).status, 0);
        return judged(day)["uneven_gaps"]["front"]["patterns"][0];
    };
    json p = surest({"left.leading.outer=0.35", "left.leading.inner=0.35", "left.trailing.outer=0.1", "left.trailing.inner=0.1", "right.leading.outer=0.1", "right.leading.inner=0.1", "right.trailing.outer=0.35", "right.trailing.inner=0.35"}, "2026-05-10");
    EXPECT_EQ(p["code"], "gap_along");
    EXPECT_NEAR(p["difference_mm"].get<double>(), 0.25, 1e-9);
    EXPECT_GT(p["probability"].get<double>(), 0.99);
    p = surest({"left.leading=0.4", "left.trailing=0.4", "right.leading=0.1", "right.trailing=0.1"}, "2026-05-11");
    EXPECT_EQ(p["code"], "gap_left_right");
    p = surest({"left.leading=0.4", "left.trailing=0.1", "right.leading=0.4", "right.trailing=0.1"}, "2026-05-12");
    EXPECT_EQ(p["code"], "gap_wedge");
    p = surest({"left.outer=0.4", "left.inner=0.1", "right.outer=0.1", "right.inner=0.4"}, "2026-05-13");
    EXPECT_EQ(p["code"], "gap_across");
    // Even gaps point to nothing, and a gap of nothing rubs.
    p = surest({"left.leading=0.1", "left.trailing=0.1", "right.leading=0.1", "right.trailing=0"}, "2026-05-14");
    EXPECT_LT(p["probability"].get<double>(), 0.5) << p.dump(1);
    for (const char* verb : {"verdict", "check", "show"}) EXPECT_NE(papers({verb, "--day", "2026-05-14"}).out.find("rubs"), std::string::npos) << verb;
}

TEST_F(Condition, ALeverThatComesNearerWithPadsThatDidNotWearPointsToTheFluid) {
    ok({"add", "work", "bleed", "--place", "front", "--by", "Ada", "--day", "2026-05-01"});   // the description told a bite point too
    ASSERT_EQ(reading("pad_thickness", {"left=1.5", "right=1.5", "--with-plate", "no"}, "2026-05-02").status, 0);
    ASSERT_EQ(reading("lever_bite", {"45"}, "2026-05-02").status, 0);
    ASSERT_EQ(reading("lever_bite", {"33"}, "2026-06-10").status, 0);
    const auto causes = [&](const std::string& day) {
        const json p = judged(day)["lever_travel"]["front"]["patterns"][0];
        EXPECT_EQ(p["code"], "lever_nearer") << p.dump(1);
        EXPECT_GT(p["probability"].get<double>(), 0.9);
        double sum = 0;
        for (const json& c : p["causes"]) sum += c["share"].get<double>();
        EXPECT_NEAR(sum, 1, 1e-9);
        return p["causes"].dump();
    };
    EXPECT_NE(causes("2026-06-10").find("worn pads"), std::string::npos) << "nobody measured the pads again";
    ASSERT_EQ(reading("pad_thickness", {"left=1.5", "right=1.48", "--with-plate", "no"}, "2026-06-10").status, 0);
    EXPECT_EQ(causes("2026-06-10").find("worn pads"), std::string::npos);
    // Within one reading: each squeeze bites further out. Asked about, then kept in its order.
    const Outcome odd = reading("lever_bite", {"30/35/41"}, "2026-06-11");
    EXPECT_EQ(odd.status, 3);
    EXPECT_NE(odd.err.find("pump up"), std::string::npos) << odd.err;
    ASSERT_EQ(reading("lever_bite", {"30/35/41", "--sure"}, "2026-06-11").status, 0);
    EXPECT_NE(judged("2026-06-11")["lever_travel"].dump().find("lever_pumps_up"), std::string::npos);
    ok({"add", "work", "bleed", "--place", "front", "--by", "Ada", "--day", "2026-06-12"});
    EXPECT_FALSE(judged("2026-06-12").contains("lever_travel"));
}

TEST_F(Condition, WhatPadsLostInWeightIsAThicknessByTheirAreaAndDensity) {
    ok({"part", "new", "weighed pads", "--kind", "pads", "--compound", "organic", "--area_mm2", "500", "--by", "Ada", "--day", "2026-05-02"});
    ok({"part", "on", "weighed pads", "--place", "front", "--by", "Ada", "--day", "2026-05-02"});
    ASSERT_EQ(reading("pad_mass", {"left=14.20"}, "2026-05-10").status, 0);
    ASSERT_EQ(reading("pad_mass", {"left=12.95"}, "2026-06-10").status, 0);
    const json w = judged("2026-06-10")["pads_weighed"];
    ASSERT_EQ(w.size(), 1u) << w.dump(1);
    EXPECT_NEAR(w[0]["lost_g"].get<double>(), 1.25, 1e-9);
    // By hand: 1.25 g over 500 mm2 at 1.9 to 2.6 g/cm3 (the range in data/heat.toml) is 1.32 to 0.96 mm.
    EXPECT_GT(w[0]["lost_mm"]["p50"].get<double>(), 0.96);
    EXPECT_LT(w[0]["lost_mm"]["p50"].get<double>(), 1.32);
    EXPECT_LT(w[0]["lost_mm"]["p05"].get<double>(), 1.0);
    EXPECT_GT(w[0]["lost_mm"]["p95"].get<double>(), 1.25);
}

TEST_F(Condition, TheOtherPadOfADescriptionCountsUntilThePadsAreReadAgainOrOthersAreOn) {
    ok({"add", "bike", f.write("two.toml", "format = 1\nbike.name = \"two pads\"\nbike.kind = \"trail\"\nbike.total_mass_kg = 95\nfront.pads.friction_thickness_mm = 2.0\nfront.pads.other_friction_thickness_mm = 0.1\nfront.pads.plate_measured = true\nfront.pads.least_friction_mm = 0.5\n"), "--by", "Ada", "--day", "2026-05-01"});
    const auto held = [&](const std::string& day, const std::string& bike = "two pads") {
        const json all = ok({"verdict", "--day", day});
        for (const json& b : all["bikes"])
            if (b["bike"] == bike) return b["verdict"]["do_not_ride"].get<bool>();
        ADD_FAILURE() << "no such bike";
        return false;
    };
    EXPECT_TRUE(held("2026-05-01"));
    ok({"add", "bike", f.write("one.toml", "format = 1\nbike.name = \"one pad\"\nbike.kind = \"trail\"\nbike.total_mass_kg = 95\nfront.pads.other_friction_thickness_mm = 0.1\n"), "--by", "Ada", "--day", "2026-05-01"});
    EXPECT_TRUE(held("2026-05-01", "one pad"));
    // Others are on: neither the thickness nor the answer remembers the worn one.
    ok({"part", "new", "fresh", "--kind", "pads", "--new_thickness_mm", "2.0", "--least_thickness_mm", "0.5", "--by", "Ada", "--day", "2026-05-03"});
    ok({"part", "on", "fresh", "--bike", "two pads", "--place", "front", "--by", "Ada", "--day", "2026-05-03"});
    EXPECT_FALSE(held("2026-05-03"));
}

TEST_F(Condition, PadsDescribedAsOiledHoldBackVerdictAnswerAndLife) {
    ok({"add", "bike", f.write("oil.toml", "format = 1\nbike.name = \"oily\"\nbike.kind = \"trail\"\nbike.total_mass_kg = 95\nfront.pads.condition = \"oiled\"\n"), "--by", "Ada", "--day", "2026-05-01"});
    std::string ride = "t_s,distance_m,altitude_m\n";   // ten minutes down 8 % at 6 m/s
    for (int t = 0; t <= 600; ++t) ride += std::to_string(t) + "," + std::to_string(6 * t) + "," + std::to_string(600 - 0.48 * t) + "\n";
    ok({"add", "rides", f.write("ride.csv", ride), "--bike", "oily", "--day", "2026-07-18"});
    int held = 0;
    const json all = ok({"verdict", "--day", "2026-07-20"});
    for (const json& b : all["bikes"]) held += b["bike"] == "oily" && b["verdict"]["do_not_ride"].get<bool>();
    EXPECT_EQ(held, 1);
    const Outcome life = brakewright({"life", "--papers", file, "--bike", "oily", "--today", "2026-07-20"});
    EXPECT_EQ(life.status, 0) << life.err;
    EXPECT_NE(life.out.find("oil or brake fluid on the front pads"), std::string::npos) << life.out;
    const Outcome told = brakewright({"answer", "--papers", file, "--bike", "oily", "--today", "2026-07-20", "--json", "--cases", "256"});
    ASSERT_EQ(told.status, 0) << told.err;
    const json a = json::parse(told.out);
    int said = 0;
    for (const json& r : a["verdict"]["reasons"]) said += r["code"] == "front_pads_oiled";
    EXPECT_EQ(said, 1);
    EXPECT_TRUE(a["verdict"]["do_not_ride"].get<bool>());
}
