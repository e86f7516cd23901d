// SPDX-License-Identifier: Apache-2.0
// `stop` as a person uses it.
#include <gtest/gtest.h>

#include <algorithm>
#include <cstdio>
#include <fstream>
#include <nlohmann/json.hpp>
#include <sstream>

#include "bw_paths.hpp"
#include "run.hpp"
#include "schema.hpp"

using namespace bw::e2e;
using nlohmann::json;

namespace {

json stop(std::vector<std::string> words, int status = 0) {
    words.insert(words.begin(), {"stop"});
    words.push_back("--json");
    const Outcome o = brakewright(words);
    EXPECT_EQ(o.status, status) << o.err;
    return json::parse(o.out);
}

bool keeps_schema(const json& document) { return against_schema("stop-1.json", document).empty(); }

const std::string trail = demo("bikes/trail.toml");

}  // namespace

TEST(StopVerb, GivesTheJsonThatItsSchemaPromises) {
    json answer = stop({trail, "--grade=-8%"});
    EXPECT_TRUE(keeps_schema(answer));
    EXPECT_TRUE(keeps_schema(stop({demo("bikes/held-back.toml")})));
    EXPECT_TRUE(keeps_schema(stop({demo("bikes/city.toml"), "--brakes", "rear", "--surface", "wet"})));
    answer["stops"][0].erase("limited_by");
    EXPECT_FALSE(keeps_schema(answer)) << "a schema that holds nothing";
}

TEST(StopVerb, SteeperAndWetterAndHotterIsNeverShorter) {
    const auto metres = [](std::vector<std::string> words) { return stop(std::move(words))["stops"][0]["brake_distance_m"]["p50"].get<double>(); };
    const double level = metres({trail}), down = metres({trail, "--grade=-10%"}), wet = metres({trail, "--surface", "wet"});
    EXPECT_GT(down, level);
    EXPECT_GE(wet, level);
    const auto squeeze = [](std::vector<std::string> words) { return stop(std::move(words))["stops"][0]["lever_force_N"]["p50"].get<double>(); };
    EXPECT_GT(squeeze({trail, "--pads-at", "450C"}), squeeze({trail}));
    EXPECT_GT(metres({trail, "--from", "30km/h"}), level);
}

TEST(StopVerb, TheCaseThatStandsForAllLiesInTheMiddleOfThem) {
    const json answer = stop({trail}), & b = answer["balance"];
    const auto inside = [&](const char* of, double value) {
        const json& all = b[of];
        EXPECT_GT(value, all["p50"].get<double>() - 0.35 * (all["p50"].get<double>() - all["p05"].get<double>())) << of;
        EXPECT_LT(value, all["p50"].get<double>() + 0.35 * (all["p95"].get<double>() - all["p50"].get<double>())) << of;
    };
    inside("rear_lift_mps2", b["best"].back()["deceleration_mps2"]);
    inside("alike_mps2", b["alike"].back()["deceleration_mps2"]);
    inside("alike_lever_force_N", b["alike"].back()["lever_force_N"]);
}

TEST(StopVerb, FrontAgainstRearKnowsTheRoadAndGivesNothingOfAHeldBike) {
    const json dry = stop({trail})["balance"], wet = stop({trail, "--surface", "wet"})["balance"], down = stop({trail, "--grade=-15%"})["balance"];
    EXPECT_LT(wet["best_mps2"]["p50"], dry["best_mps2"]["p50"]);
    EXPECT_LT(wet["rear_alone_mps2"]["p50"], dry["rear_alone_mps2"]["p50"]);
    EXPECT_LT(down["alike_mps2"]["p50"], dry["alike_mps2"]["p50"]);
    double shares = 0;
    for (const auto& [by, share] : dry["alike_ends_share"].items()) shares += share.get<double>();
    EXPECT_NEAR(shares, 1, 1e-9);
    EXPECT_TRUE(stop({demo("bikes/held-back.toml")})["balance"].is_null());
}

TEST(StopVerb, ABikeThatDoesNotStopIsSaidFirstWithoutADistance) {
    // The rear brake alone of a loaded cargo bike on a wet slope steeper than its rear tyre holds.
    const std::vector<std::string> words = {demo("bikes/cargo.toml"), "--brakes", "rear", "--surface", "wet", "--grade=-30%", "--verdict-status"};
    const json answer = stop(words, 5);
    EXPECT_TRUE(answer["verdict"]["do_not_ride"]);
    EXPECT_EQ(answer["stops"][0]["limited_by"], "does_not_stop");
    EXPECT_TRUE(answer["stops"][0]["brake_distance_m"].is_null());
    EXPECT_TRUE(answer["lever"]["front"].is_null());
    EXPECT_TRUE(answer["yardsticks"].empty());
    std::vector<std::string> plain = words;
    plain.insert(plain.begin(), "stop");
    const Outcome o = brakewright(plain);
    EXPECT_EQ(o.status, 5);
    EXPECT_EQ(o.out.find("■ DO NOT RIDE."), 0u) << o.out;
}

TEST(StopVerb, ProofStopsWeighTheCasesAndAFallAgainstTheirHistoryIsAnAlarm) {
    const Folder folder;
    std::string before, weak, sound;
    // Five earlier days at 4 m/s2 per 60 N on the front brake alone: from 6 m/s, take-up and rise of an ordinary hand.
    const auto rows = [](const std::string& date, double distance, int n) {
        std::string out;
        for (int i = 0; i < n; ++i) out += date + "," + std::to_string(i + 1) + ",front,6," + std::to_string(distance + 0.05 * i) + ",60,dry,0\n";
        return out;
    };
    const std::string head = "date,stop,wheel,from_mps,distance_m,lever_force_N,surface,grade\n";
    for (int day = 1; day <= 5; ++day) before += rows("2026-03-0" + std::to_string(day), 6.0, 3);
    sound = folder.write("sound.csv", head + before + rows("2026-04-01", 6.05, 5));
    weak = folder.write("weak.csv", head + before + rows("2026-04-01", 9.2, 5));
    const json fine = stop({trail, "--proof", sound}), bad = stop({trail, "--proof", weak, "--verdict-status"}, 5), plain = stop({trail});
    EXPECT_FALSE(fine["gain"]["front"]["alarm"]);
    EXPECT_TRUE(fine["weighed_by_proof"]);
    EXPECT_LT(fine["effective_cases"], 1024);
    EXPECT_TRUE(fine["gain"]["rear"].is_null());
    const auto width = [](const json& a) { return a["stops"][1]["lever_force_N"]["p95"].get<double>() / a["stops"][1]["lever_force_N"]["p05"].get<double>(); };
    EXPECT_LT(width(fine), width(plain)) << "a proof narrows the squeeze that the front brake needs";
    EXPECT_TRUE(bad["gain"]["front"]["alarm"]);
    EXPECT_TRUE(bad["verdict"]["do_not_ride"]);
    EXPECT_EQ(bad["verdict"]["reasons"][0]["code"], "front_proof_alarm");
}

TEST(StopVerb, WhatItCannotReadIsSaid) {
    const auto says = [](std::vector<std::string> words, int status, const std::string& what) {
        words.insert(words.begin(), {"stop", trail});
        const Outcome o = brakewright(words);
        EXPECT_EQ(o.status, status);
        EXPECT_NE(o.err.find(what), std::string::npos) << o.err;
    };
    says({"--from", "25 furlongs"}, 2, "--from");
    says({"--grade", "-900%"}, 3, "expected -0.5 to 0.5");
    says({"--surface", "ice"}, 2, "expected dry, wet, gravel or loose");
    says({"--pads-at", "3000C"}, 3, "expected -30 to 800");
}

namespace {

//! The one thing said of a bike that must not be ridden: first line, no distance, status 5.
void says_do_not_ride_and_no_distance(std::vector<std::string> words) {
    words.push_back("--verdict-status");
    std::vector<std::string> plain = words;
    plain.insert(plain.begin(), "stop");
    const Outcome o = brakewright(plain);
    EXPECT_EQ(o.status, 5) << o.err;
    EXPECT_EQ(o.out.find("■ DO NOT RIDE."), 0u) << o.out.substr(0, 200);
    const json answer = stop(words, 5);
    EXPECT_TRUE(keeps_schema(answer));
    EXPECT_TRUE(answer["verdict"]["do_not_ride"]);
    for (const json& s : answer["stops"])
        for (const char* key : {"brake_distance_m", "room_needed_m", "deceleration_mps2", "expert_deceleration_mps2"}) EXPECT_TRUE(s[key].is_null()) << key;
    for (const json& t : answer["top_speed"]) {
        EXPECT_TRUE(t["within_room_mps"].is_null());
        EXPECT_TRUE(t["at_all_mps"].is_null());
    }
    for (const char* wheel : {"front", "rear"}) {
        EXPECT_TRUE(answer["lever"][wheel].is_null());
        EXPECT_TRUE(answer["bedding"][wheel].is_null());
        for (const char* key : {"km_in_window", "km_to_bar", "km_per_turn", "mm_per_km"}) EXPECT_TRUE(answer["feel"][wheel][key].is_null()) << key;
    }
    EXPECT_TRUE(answer["hold_speed"].is_null());
    EXPECT_TRUE(answer["yardsticks"].empty());
}

}  // namespace

TEST(StopVerb, AnUndersizedBrakeIsHeldBack) {
    // A child's hand on worn-out friction of small rotors under a loaded cargo bike.
    const Folder folder;
    const std::string bike = folder.write("small.toml", "format = 1\n[rider]\nhand = { size_cm = 14, strength_N = 90 }\n[bike]\nkind = \"cargo\"\ntotal_mass_kg = 220\n[front]\nactuation = \"cable\"\nrotor.diameter_mm = 140\n[rear]\nactuation = \"cable\"\nrotor.diameter_mm = 140\n");
    says_do_not_ride_and_no_distance({bike, "--grade=-12%"});
}

TEST(StopVerb, ALeverThatMeetsTheBarIsHeldBack) {
    const Folder folder;
    const std::string bike = folder.write("bar.toml", "format = 1\n[bike]\nkind = \"city\"\ntotal_mass_kg = 95\n[front]\nactuation = \"cable\"\nlever.bite_mm = 4\n");
    says_do_not_ride_and_no_distance({bike});
}

TEST(StopVerb, APadAtThePlateIsHeldBack) {
    const Folder folder;
    const std::string bike = folder.write("plate.toml", "format = 1\n[bike]\nkind = \"trail\"\ntotal_mass_kg = 95\n[rear]\npads.friction_thickness_mm = 0.1\n");
    says_do_not_ride_and_no_distance({bike});
}

TEST(StopVerb, ARearOnlyCargoBikeOnAHillSteeperThanItsRearTyreHoldsIsHeldBack) {
    says_do_not_ride_and_no_distance({demo("bikes/cargo.toml"), "--brakes", "rear", "--surface", "loose", "--grade=-35%"});
}

TEST(StopVerb, HoldingASlopeInTheWetTakesAHarderPullForAShorterTime) {
    const auto held = [](const std::string& surface) { return stop({trail, "--grade=-15%", "--surface", surface})["hold_speed"]; };
    const json dry = held("dry"), wet = held("wet");
    ASSERT_TRUE(dry.is_object() && wet.is_object());
    EXPECT_GT(wet["held_force_N"]["p50"], dry["held_force_N"]["p50"]);
    EXPECT_LT(wet["minutes"]["p50"], dry["minutes"]["p50"]);
}

TEST(StopVerb, AHandFromItsGroupAndItsStateChangeWhatItHas) {
    const auto hand = [](std::vector<std::string> words) {
        words.insert(words.begin(), trail);
        return stop(std::move(words))["stops"][0]["hand_force_N"]["p50"].get<double>();
    };
    const double men = hand({"--hand", "men"}), weak = hand({"--hand", "women:5"}), child = hand({"--hand", "child_10"});
    EXPECT_GT(men, weak);
    EXPECT_GT(weak, child);
    EXPECT_LT(hand({"--hand", "men", "--hand-is", "cold"}), men);
    EXPECT_LT(hand({"--hand", "men", "--fingers", "one"}), men);
    const Outcome wrong = brakewright({"stop", trail, "--hand", "men:200"});
    EXPECT_EQ(wrong.status, 2);
    EXPECT_NE(wrong.err.find("percentile"), std::string::npos);
}

TEST(StopVerb, ACableBrakeSaysWhenTheCableWantsATurnAndMountainGritBringsItSooner) {
    const std::string city = demo("bikes/city.toml");
    const json hilly = stop({city}), rough = stop({city, "--terrain", "mountain", "--gritty"}), hydraulic = stop({trail});
    const auto turn = [](const json& a) { return a["feel"]["front"]["km_per_turn"]["p50"].get<double>(); };
    EXPECT_FALSE(hilly["feel"]["front"]["follows_wear"]);
    EXPECT_LT(turn(rough), turn(hilly));
    // Trade: down to one ride (common practice, no source); a ride here is 20 km.
    EXPECT_LT(rough["feel"]["front"]["km_per_turn"]["p05"], rough["feel"]["front"]["ride_km"]);
    EXPECT_TRUE(hydraulic["feel"]["front"]["follows_wear"]);
    EXPECT_TRUE(hydraulic["feel"]["front"]["km_per_turn"].is_null());
}

TEST(StopVerb, TheTopSpeedFallsWithTheSlopeAndRisesWithTheRoom) {
    const auto within = [](std::vector<std::string> words) {
        words.insert(words.begin(), trail);
        return stop(std::move(words))["top_speed"][0]["within_room_mps"].get<double>();
    };
    EXPECT_GT(within({"--room", "30m"}), within({"--room", "10m"}));
    EXPECT_GT(within({}), within({"--grade=-12%"}));
    for (const json& t : stop({trail, "--grade=-10%"})["top_speed"]) EXPECT_LE(t["within_room_mps"], t["at_all_mps"]) << t;
}

namespace {

//! Stops of a front brake that is far too weak, all of one day.
std::string weak_stops(const Folder& folder, int n) {
    std::string rows = "date,stop,wheel,from_mps,distance_m,lever_force_N,surface,grade\n";
    for (int i = 0; i < n; ++i) rows += "2026-04-01," + std::to_string(i) + ",front,6," + std::to_string(16.0 + 0.2 * i) + ",110,dry,0\n";
    return folder.write("weak" + std::to_string(n) + ".csv", rows);
}

}  // namespace

TEST(StopVerb, AWeakBrakeWithoutHistoryIsHeldBackAndComputedAsItIs) {
    const Folder folder;
    for (const int n : {3, 5}) {
        const std::string proof = weak_stops(folder, n);
        const json answer = stop({trail, "--proof", proof});
        EXPECT_TRUE(answer["gain"]["front"]["measured"]);
        EXPECT_FALSE(answer["gain"]["front"]["alarm"]);
        EXPECT_LT(answer["gain"]["front"]["p95"], answer["gain"]["front"]["expected"]["p05"]);
        EXPECT_EQ(answer["verdict"]["reasons"][0]["code"], "front_proof_below_expected");
        EXPECT_EQ(answer["verdict"]["text"].get<std::string>().find("Do not ride this bike. front brake: the proof stops find"), 0u) << answer["verdict"]["text"];
        EXPECT_TRUE(answer["weighed_by_proof"].get<bool>() || answer["scaled_by_proof"].get<bool>());
        EXPECT_GT(answer["stops"][1]["lever_force_N"]["p50"], stop({trail})["stops"][1]["lever_force_N"]["p50"].get<double>());
        EXPECT_EQ(answer["proof"].size(), static_cast<std::size_t>(n));
        says_do_not_ride_and_no_distance({trail, "--proof", proof});
    }
}

TEST(StopVerb, TwoWeakStopsAskForMoreAndTheVerdictSaysSo) {
    const Folder folder;
    const json answer = stop({trail, "--proof", weak_stops(folder, 2)});
    ASSERT_LT(answer["gain"]["front"]["p95"], answer["gain"]["front"]["expected"]["p05"]);
    EXPECT_FALSE(answer["verdict"]["do_not_ride"]);
    EXPECT_EQ(answer["verdict"]["state"], "measure_better");
    EXPECT_EQ(answer["verdict"]["text"].get<std::string>().find("Measure again or better"), 0u) << answer["verdict"]["text"];
}

TEST(StopVerb, AQuantileRestsOnTwoHundredCasesAndBeddingOnTheWeighedOnes) {
    const Folder folder;
    const auto stops = [&](const std::string& name, double distance_m) {
        std::string rows = "date,stop,wheel,from_mps,distance_m,lever_force_N,surface,grade\n";
        for (int i = 0; i < 5; ++i) rows += "2026-04-01," + std::to_string(i) + ",front,6," + std::to_string(distance_m + 0.03 * i) + ",60,dry,0\n";
        return folder.write(name, rows);
    };
    const json plain = stop({trail}), usual = stop({trail, "--proof", stops("usual.csv", 6.0)}), rare = stop({trail, "--proof", stops("rare.csv", 4.6)});
    ASSERT_TRUE(usual["weighed_by_proof"]);
    EXPECT_NE(usual["bedding"]["front"]["last_peak_degC"], plain["bedding"]["front"]["last_peak_degC"]);
    // DESIGN: 200 effective cases or more for a quantile.
    ASSERT_GT(rare["effective_cases"], 50);
    ASSERT_LT(rare["effective_cases"], 200);
    EXPECT_FALSE(rare["weighed_by_proof"]);
    EXPECT_TRUE(rare["scaled_by_proof"]);
    EXPECT_NE(brakewright({"stop", trail}).out.find("Computed for 64 cases"), std::string::npos);
}

TEST(StopVerb, ProofStopsWithBothBrakesAreSaidToBeLeftOut) {
    const Folder folder;
    const std::string rows = "date,stop,wheel,from_mps,distance_m,lever_force_N,surface,grade\n2026-04-01,1,both,6,6,60,dry,0\n2026-04-01,2,both,6,6,60,dry,0\n";
    const json answer = stop({trail, "--proof", folder.write("both.csv", rows)});
    bool said = false;
    for (const json& c : answer["cautions"]) said = said || c.get<std::string>().find("2 proof stops with both brakes are left out") == 0;
    EXPECT_TRUE(said) << answer["cautions"];
}

namespace {

//! Five stops of one brake in a recording.
std::string recorded(double braking_mps2, int from_minute = 10 * 60) { return trial_gpx(std::vector(5, braking_mps2), 40, from_minute); }

}  // namespace

TEST(StopVerb, StopsOfARecordingAreListedAndThoseOfOneBrakeAreProof) {
    const Folder folder;
    const std::string ride = folder.write("trial.gpx", recorded(2.5));
    const json listed = stop({trail, "--from-ride", ride, "--cases", "64"});
    EXPECT_TRUE(keeps_schema(listed));
    ASSERT_EQ(listed["recorded"]["stops"].size(), 5u);
    for (const json& s : listed["recorded"]["stops"]) EXPECT_TRUE(s["usable"]) << s["why_not"];
    EXPECT_TRUE(listed["gain"]["front"].is_null()) << "no recording says which brake it was";
    const json proved = stop({trail, "--from-ride", ride, "--proof-brake", "front", "--proof-stops", "all", "--proof-surface", "dry", "--proof-force", "60N"});
    EXPECT_TRUE(keeps_schema(proved));
    EXPECT_EQ(proved["gain"]["front"]["stops"], 5);
    EXPECT_TRUE(proved["gain"]["front"]["measured"]);
    // Air and rolling take some 0.2 of the 2.5 m/s2; the rest by 60 N.
    EXPECT_LT(proved["gain"]["front"]["p05"], 2.3 / 60);
    EXPECT_GT(proved["gain"]["front"]["p95"], 2.3 / 60);
    EXPECT_FALSE(proved["gain"]["front"]["at_standard"].is_null());
    EXPECT_EQ(proved["proof"].size(), 5u);
    EXPECT_TRUE(proved["gain"]["rear"].is_null());
    const auto says = [&](std::vector<std::string> words, int status, const std::string& what) {
        words.insert(words.begin(), {"stop", trail, "--from-ride", ride});
        const Outcome o = brakewright(words);
        EXPECT_EQ(o.status, status);
        EXPECT_NE(o.err.find(what), std::string::npos) << o.err;
    };
    says({"--proof-stops", "all"}, 2, "no recording says which brake");
    says({"--proof-brake", "both", "--proof-stops", "all"}, 2, "no recording says which brake");
    says({"--proof-brake", "front"}, 2, "all, or their numbers");
    says({"--proof-brake", "front", "--proof-stops", "1,9"}, 2, "stop '9'");
    says({"--proof-brake", "front", "--proof-stops", "1,2", "--proof-force", "60N,60N,60N"}, 2, "3 squeezes for 2 stops");
    says({"--proof-brake", "front", "--proof-stops", "1,2"}, 2, "on which surface were these stops? --proof-surface dry, wet, gravel or loose");
    says({"--proof-brake", "front", "--proof-stops", "1,2", "--proof-surface", "icy"}, 2, "surface 'icy'");
    says({"--proof-brake", "front", "--proof-stops", "1,2", "--proof-surface", "dry,wet,dry"}, 2, "3 surfaces for 2 stops");
    says({"--proof-brake", "front", "--proof-stops", "1,2", "--proof-surface", "dry", "--proof-day", "yesterday"}, 2, "day 'yesterday'");
}

TEST(StopVerb, SurfaceAndDayOfRecordedStopsAreThosesThatThePersonTells) {
    const Folder folder;
    const std::string ride = folder.write("trial.gpx", recorded(2.5));
    const auto told = [&](std::vector<std::string> more) {
        std::vector<std::string> words = {trail, "--from-ride", ride, "--proof-brake", "front", "--proof-stops", "1,2,4", "--proof-force", "60N", "--cases", "64"};
        words.insert(words.end(), more.begin(), more.end());
        return stop(words);
    };
    const json dry = told({"--proof-surface", "dry"}), mixed = told({"--proof-surface", "dry,wet,dry", "--proof-day", "2026-04-17"}), wet = told({"--proof-surface", "wet"});
    EXPECT_EQ(dry["proof"][0]["date"], "2026-05-01") << "by the recording's clock";
    EXPECT_EQ(mixed["proof"][0]["date"], "2026-04-17");
    const auto used = [](const json& report) {
        int n = 0;
        for (const json& p : report["proof"]) n += p["used"].get<bool>();
        return n;
    };
    EXPECT_EQ(used(dry), 3);
    EXPECT_EQ(used(mixed), 2) << "a wet stop is no proof of a dry brake";
    EXPECT_EQ(used(wet), 0);
    EXPECT_TRUE(dry["weighed_by_proof"].get<bool>() || !dry["scaled_by_proof"].is_null());
    EXPECT_FALSE(wet["weighed_by_proof"].get<bool>());
}

TEST(StopVerb, MidnightUtcDoesNotPartATrial) {
    // An evening in the west: the clock passes 0:00 UTC between the second and the third stop. Five of one day are one proof.
    const Folder folder;
    const json proved = stop({trail, "--from-ride", folder.write("trial.gpx", recorded(2.5, 24 * 60 - 1)), "--proof-brake", "front", "--proof-stops", "all", "--proof-surface", "dry", "--proof-force", "60N", "--cases", "64"});
    EXPECT_EQ(proved["gain"]["front"]["stops"], 5);
    ASSERT_EQ(proved["proof"].size(), 5u);
    for (const json& p : proved["proof"]) EXPECT_EQ(p["date"], "2026-05-01");
}

TEST(StopVerb, StopsOfARecordingGoIntoThePapersOnceAndListingKeepsNothing) {
    const Folder folder;
    const std::string ride = folder.write("trial.gpx", recorded(2.5)), file = folder.write("x", "") + ".papers";
    ASSERT_EQ(brakewright({"papers", "make", file}).status, 0);
    ASSERT_EQ(brakewright({"papers", "add", "bike", trail, "--papers", file, "--by", "Ines"}).status, 0);
    const Outcome listed = brakewright({"papers", "add", "proof", "--from-ride", ride, "--papers", file});
    EXPECT_EQ(listed.status, 0) << listed.err;
    EXPECT_NE(listed.out.find("Nothing was kept"), std::string::npos) << listed.out;
    const auto add = [&] { return brakewright({"papers", "add", "proof", "--from-ride", ride, "--place", "front", "--stops", "1,2,4", "--surface", "dry", "--force", "60N", "--by", "Ines", "--papers", file, "--json"}); };
    const Outcome first = add();
    ASSERT_EQ(first.status, 0) << first.err;
    EXPECT_EQ(json::parse(first.out)["proof"]["added"], 3);
    EXPECT_EQ(json::parse(add().out)["proof"]["there_already"], 3);
    // A stop proves one brake, with one squeeze, whatever the file is called.
    const auto again = [&](const std::string& file_of, const char* brake, const char* squeeze) { return brakewright({"papers", "add", "proof", "--from-ride", file_of, "--place", brake, "--stops", "1,2,4", "--surface", "dry", "--force", squeeze, "--by", "Ines", "--papers", file, "--json"}); };
    EXPECT_EQ(again(ride, "rear", "60N").status, 3);
    EXPECT_EQ(again(ride, "front", "50N").status, 3);
    // A surface or a day that is told otherwise later is not answered as done: the kept one would go on counting.
    const auto corrected = [&](const char* surface, const char* day) { return brakewright({"papers", "add", "proof", "--from-ride", ride, "--place", "front", "--stops", "1,2,4", "--surface", surface, "--day", day, "--force", "60N", "--by", "Ines", "--papers", file}); };
    const Outcome wet = corrected("wet", "2026-05-01"), later = corrected("dry", "2026-05-02");
    EXPECT_EQ(wet.status, 3) << wet.out;
    EXPECT_NE(wet.err.find("on another surface, dry"), std::string::npos) << wet.err;
    EXPECT_EQ(later.status, 3) << later.out;
    EXPECT_NE(later.err.find("on another day"), std::string::npos) << later.err;
    EXPECT_EQ(corrected("dry", "2026-05-01").status, 0);
    EXPECT_EQ(json::parse(again(folder.write("other.gpx", recorded(2.5)), "front", "60N").out)["proof"]["there_already"], 3);
    EXPECT_EQ(brakewright({"papers", "add", "proof", "--from-ride", ride, "--place", "front", "--by", "Ines", "--papers", file}).status, 2) << "which of them must be told";
    // Surface and day are the person's to tell, and a recording without a date asks for it.
    const auto fifth = [&](const std::string& of, std::vector<std::string> more) {
        std::vector<std::string> words = {"papers", "add", "proof", "--from-ride", of, "--place", "front", "--stops", "5", "--by", "Ines", "--papers", file};
        words.insert(words.end(), more.begin(), more.end());
        return brakewright(words);
    };
    const Outcome unsaid = fifth(ride, {});
    EXPECT_EQ(unsaid.status, 2);
    EXPECT_NE(unsaid.err.find("on which surface were these stops? --surface"), std::string::npos) << unsaid.err;
    EXPECT_EQ(fifth(ride, {"--surface", "wet", "--day", "2026-05-03"}).status, 0);
    const json known = stop({"--papers", file, "--today", "2026-05-04", "--cases", "64"});
    EXPECT_EQ(known["proof"].back()["date"], "2026-05-03");
    EXPECT_FALSE(known["proof"].back()["used"]) << "wet";
}

TEST(StopVerb, WeightBackBrakesHarderBeforeTheRearLiftsAndAHosesLengthMovesTheLever) {
    const auto lift = [](std::vector<std::string> words) {
        words.insert(words.begin(), trail);
        return stop(std::move(words))["balance"]["rear_lift_mps2"]["p50"].get<double>();
    };
    const double plain = lift({"--cases", "64"}), back = lift({"--cases", "64", "--weight-back", "20cm"});
    EXPECT_GT(back, plain * 1.1);
    EXPECT_EQ(brakewright({"stop", trail, "--weight-back", "2m"}).status, 3);
    const Folder folder;
    const auto left = [&](const char* length) {
        return stop({folder.write(std::string("h") + length + ".toml", std::string("format = 1\n[bike]\nkind = \"city\"\ntotal_mass_kg = 95\n[rear]\nactuation = \"cable\"\nhousing.length_m = ") + length + "\n"), "--cases", "64"})["lever"]["rear"]["full_mm"]["p50"].get<double>();
    };
    EXPECT_LT(left("2.6"), left("1.2")) << "more housing gives more";
    EXPECT_EQ(left("0.5"), left("1.6")) << "an assumed share clears nothing";
}

TEST(StopVerb, AHeldBikeHasNoDistanceOfARecordingNorOfDrying) {
    const Folder folder;
    const std::string ride = folder.write("trial.gpx", recorded(2.5)), bike = folder.write("held.toml", "format = 1\n[bike]\nkind = \"trail\"\ntotal_mass_kg = 95\n[front]\npads.friction_thickness_mm = 0\n");
    const json held = stop({bike, "--from-ride", ride, "--proof-brake", "front", "--proof-stops", "all", "--proof-surface", "dry", "--proof-force", "60N", "--surface", "wet", "--cases", "64"});
    EXPECT_TRUE(keeps_schema(held));
    ASSERT_TRUE(held["verdict"]["do_not_ride"]);
    for (const json& s : held["recorded"]["stops"]) EXPECT_TRUE(s["distance_m"].is_null() && s["usable"]);
    for (const json& p : held["proof"]) EXPECT_TRUE(p["mean_deceleration_mps2"].is_null() && p["at_25_kmh_m"].is_null());
    for (const char* wheel : {"front", "rear"})
        for (const char* key : {"first_wet_bite", "turns_to_dry", "metres_to_dry"}) EXPECT_TRUE(held["feel"][wheel][key].is_null()) << key;
    EXPECT_EQ(brakewright({"stop", bike, "--from-ride", ride, "--cases", "64"}).out.find(" over "), std::string::npos);
}

TEST(StopFigures, ClaimsHoldAndTheTradesIntervalDownToOneRideIsReached) {
    const Folder folder;
    const std::string out = folder.write("x", "") + "-figures";
    const Outcome o = brakewright({"stop", "figures", out, "--json"});
    ASSERT_EQ(o.status, 0) << o.err;
    EXPECT_EQ(json::parse(o.out)["figures"].size(), 4u);
    for (const char* name : {"cable_turns", "housing_give", "hand_on_lever", "control_on_lever"}) {
        std::ifstream in(out + "/" + name + ".json");
        const json figure = json::parse(in);
        EXPECT_FALSE(figure["claims"].empty());
        const auto trade = [](const json& source) { return source["grade"] == "common_practice" && source["text"].get<std::string>().find("no source") != std::string::npos; };
        EXPECT_TRUE(std::any_of(figure["sources"].begin(), figure["sources"].end(), trade)) << name;
        for (const json& c : figure["claims"]) EXPECT_GT(c["holds_share"], 0.5) << c;
        if (std::string(name) == "hand_on_lever" || std::string(name) == "control_on_lever") {   // the peak lies part of the way in, at neither end
            std::ifstream table(out + "/" + name + ".csv");
            std::vector<double> middle;
            std::string line;
            std::getline(table, line);
            while (std::getline(table, line)) {
                std::stringstream cells(line);
                std::string cell;
                for (int i = 0; i < 4; ++i) std::getline(cells, cell, ',');
                middle.push_back(std::stod(cell));
            }
            const auto peak = std::string(name) == "hand_on_lever" ? std::max_element(middle.begin(), middle.end()) : std::min_element(middle.begin(), middle.end());
            EXPECT_GT(peak - middle.begin(), 0);
            EXPECT_LT(peak - middle.begin(), static_cast<long>(middle.size()) - 3);
        }
        if (std::string(name) == "cable_turns") {
            EXPECT_LT(figure["variants"].back()["km_per_turn"]["p05"], 20) << "a ride of 20 km, common practice, no source";
        }
    }
    EXPECT_EQ(brakewright({"stop"}).status, 2);
}
