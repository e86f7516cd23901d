// SPDX-License-Identifier: Apache-2.0
// `weigh` as a person uses it: two set-ups on the same cases and rides.
#include <gtest/gtest.h>

#include <cmath>
#include <nlohmann/json.hpp>

#include "bw_paths.hpp"
#include "run.hpp"
#include "schema.hpp"

using namespace bw::e2e;
using nlohmann::json;

namespace {

const std::string trail = demo("bikes/trail.toml"), ride = demo("rides/valley-deliveries.gpx");

std::string with(const Folder& folder, const std::string& name, const std::string& from, const std::string& what, const std::string& instead) {
    std::string text = read(from);
    const std::size_t at = text.find(what);
    EXPECT_NE(at, std::string::npos) << what;
    text.replace(at, what.size(), instead);
    return folder.write(name, text);
}

json weigh(const std::string& a, const std::string& b, const std::vector<std::string>& more = {ride}) {
    std::vector<std::string> words = {"weigh", "--json", a, b, "--cases", "256"};
    words.insert(words.end(), more.begin(), more.end());
    const Outcome o = brakewright(words);
    EXPECT_EQ(o.status, 0) << o.err;
    const json document = json::parse(o.out);
    EXPECT_EQ(against_schema("weigh-1.json", document), "");
    return document;
}

const json& figure(const json& w, const std::string& key) {
    for (const json& f : w["figures"])
        if (f["key"] == key) return f;
    static const json none;
    ADD_FAILURE() << key << " is not there";
    return none;
}

}  // namespace

TEST(Weigh, TheSameSetUpTwiceDiffersByExactlyNothing) {
    const json w = weigh(trail, trail);
    EXPECT_TRUE(w["changed"].empty());
    EXPECT_TRUE(w["withheld"].is_null());
    ASSERT_GT(w["figures"].size(), 30u);
    for (const json& f : w["figures"]) {
        EXPECT_EQ(f["difference"], json({{"p05", 0.0}, {"p50", 0.0}, {"p95", 0.0}})) << f["key"];
        EXPECT_EQ(f["a"], f["b"]) << f["key"];
        EXPECT_EQ(f["b_larger_share"], 0.0);
    }
    for (const json& s : w["shares"]) {
        EXPECT_EQ(s["a"], s["b"]) << s["key"];
        EXPECT_TRUE(s["a"].is_null() || s["only_a"] == 0.0) << s["key"];
    }
}

TEST(Weigh, ExchangedSetUpsGiveEveryDifferenceWithTheOtherSignToTheLastBit) {
    const Folder folder;
    // Other kinds of brake have other inputs: what only one has must not move what both have.
    for (const std::string& other : {with(folder, "small.toml", trail, "diameter_mm = 203", "diameter_mm = 180"), demo("bikes/gravel.toml")}) {
        const json there = weigh(trail, other), back = weigh(other, trail);
        ASSERT_EQ(there["figures"].size(), back["figures"].size());
        for (std::size_t i = 0; i < there["figures"].size(); ++i) {
            const json &f = there["figures"][i], &g = back["figures"][i];
            ASSERT_EQ(f["key"], g["key"]);
            EXPECT_EQ(f["a"], g["b"]) << f["key"];
            EXPECT_EQ(f["b_larger_share"], g["b_smaller_share"]) << f["key"];
            if (f["difference"].is_null()) continue;
            EXPECT_EQ(f["difference"]["p05"].get<double>(), -g["difference"]["p95"].get<double>()) << f["key"];
            EXPECT_EQ(f["difference"]["p50"].get<double>(), -g["difference"]["p50"].get<double>()) << f["key"];
            EXPECT_EQ(f["difference"]["p95"].get<double>(), -g["difference"]["p05"].get<double>()) << f["key"];
        }
    }
}

TEST(Weigh, ALargerRotorIsCoolerInNearlyEveryCaseAndPairingShowsIt) {
    const Folder folder;
    const json w = weigh(with(folder, "small.toml", trail, "diameter_mm = 203", "diameter_mm = 180"), trail);
    ASSERT_EQ(w["changed"].size(), 2u) << w["changed"] << "the diameter, and the band that goes with it";
    EXPECT_EQ(w["changed"][1]["key"], "front.rotor.diameter_mm");
    EXPECT_EQ(w["changed"][1]["a"], 180.0);
    const json& f = figure(w, "heat.front.rotor_peak_degC");
    EXPECT_LT(f["difference"]["p95"].get<double>(), 0) << "more steel and more face: cooler";
    EXPECT_GT(f["b_smaller_share"].get<double>(), 0.95);
    // Were the two drawn by themselves, variances would add: sd(b - a) = hypot(sd a, sd b).
    const auto wide = [](const json& i) { return i["p95"].get<double>() - i["p05"].get<double>(); };
    EXPECT_LT(wide(f["difference"]), 0.3 * std::hypot(wide(f["a"]), wide(f["b"])));
    // A caution with a figure of one of the two says of which; both have the demo's name.
    std::size_t of_one = 0;
    for (const std::string caution : w["cautions"]) {
        const bool first = caution.starts_with("The first: "), second = caution.starts_with("The second: ");
        of_one += first || second;
        EXPECT_EQ(caution.find("The front fluid gets hot enough") != std::string::npos, first || second) << caution;
    }
    EXPECT_EQ(of_one, 2u) << w["cautions"];
    // What a rotor at the front has nothing to do with.
    EXPECT_EQ(figure(w, "heat.rear.rotor_peak_degC")["difference"], json({{"p05", 0.0}, {"p50", 0.0}, {"p95", 0.0}}));
    // Lever force falls with the radius at which it acts: F = mu r N, so at 203 it is less.
    EXPECT_LT(figure(w, "stop.front.dry.lever_force_N")["difference"]["p95"].get<double>(), 0);
}

TEST(Weigh, AloneASetUpIsWhatAnswerSaysOfIt) {
    const Outcome o = brakewright({"answer", "--json", trail, ride, "--cases", "256"});
    ASSERT_EQ(o.status, 0);
    const json answer = json::parse(o.out), w = weigh(trail, trail);
    for (const char* end : {"front", "rear"}) {
        const json& wheel = answer["rides"][0]["wheels"][end];
        for (const char* key : {"brake_energy_J", "rotor_peak_degC", "rotor_hottest_ring_degC", "pad_face_peak_degC", "fluid_peak_degC", "lever_force_factor"}) EXPECT_EQ(figure(w, std::string("heat.") + end + "." + key)["a"], wheel[key]) << end << key;
        EXPECT_EQ(figure(w, std::string("lever.") + end + ".bite_mm")["a"], answer["levers"][end]["bite_mm"]);
        for (const auto& [key, same] : {std::pair(".fades", "fade_probability"), std::pair(".fluid_boils", "fluid_boil_probability")})
            for (const json& s : w["shares"]) EXPECT_TRUE(s["key"] != std::string("heat.") + end + key || s["a"] == wheel[same]) << end << key;
    }
    EXPECT_EQ(figure(w, "stop.both.dry.brake_distance_m")["a"], answer["stops"][0]["brake_distance_m"]);
    EXPECT_EQ(figure(w, "stop.both.wet.lever_force_N")["a"], answer["stops"][1]["lever_force_N"]);
    EXPECT_EQ(figure(w, "life.front.pad.remaining_km")["a"], answer["life"]["front"]["pad"]["remaining_km"]);
}

TEST(Weigh, ASetUpThatIsHeldBackHasNoNumberAndNothingIsWeighedAgainstIt) {
    const json w = weigh(trail, demo("bikes/held-back.toml"));
    EXPECT_EQ(w["b"]["verdict"]["do_not_ride"], true);
    EXPECT_FALSE(w["withheld"].is_null());
    for (const json& f : w["figures"]) {
        EXPECT_TRUE(f["b"].is_null()) << f["key"];
        EXPECT_TRUE(f["difference"].is_null()) << f["key"];
        EXPECT_TRUE(f["b_larger_share"].is_null()) << f["key"];
    }
    for (const json& s : w["shares"]) EXPECT_TRUE(s["b"].is_null() && s["only_a"].is_null()) << s["key"];
    const Outcome text = brakewright({"weigh", trail, demo("bikes/held-back.toml"), "--cases", "256"});
    EXPECT_LT(text.out.find("DO NOT RIDE"), text.out.find("What differs")) << "first";
    EXPECT_NE(text.out.find("DO NOT RIDE"), std::string::npos);
    EXPECT_NE(text.out.find("Caution"), std::string::npos);
}

TEST(Weigh, TheSameBytesOnAnyNumberOfThreads) {
    const std::vector<std::string> words = {"weigh", "--json", trail, demo("bikes/cargo.toml"), ride, "--cases", "64", "--threads"};
    auto one = words, three = words;
    one.push_back("1");
    three.push_back("3");
    EXPECT_EQ(brakewright(one).out, brakewright(three).out);
}

TEST(Weigh, SaysWhatIsWrongWithItsWords) {
    EXPECT_EQ(brakewright({"weigh", trail}).status, 2);
    const Outcome none = brakewright({"weigh", trail, "nothing.toml"});
    EXPECT_EQ(none.status, 3);
    EXPECT_NE(none.err.find("nothing.toml"), std::string::npos);
}
