// SPDX-License-Identifier: Apache-2.0
// Every address of the service: what it says, held to web/openapi.json, and what it keeps.
#include <gtest/gtest.h>
#include <signal.h>

#include <algorithm>
#include <chrono>
#include <cmath>
#include <filesystem>
#include <fstream>
#include <map>

#include "../e2e/run.hpp"
#include "server.hpp"

using namespace bw::service::testing;
namespace e2e = bw::e2e;

namespace {

const std::string today = "2026-06-15";
const std::vector<std::string> that_day = {"--today", today};

json pad(double mm, int entry, const json& more = {}) {
    json j = {{"place", "front"}, {"quantity", "pad_thickness"}, {"values", {mm}}, {"by", "Ada"}, {"entry_id", uuid(entry)}, {"with_plate", "no"}};
    if (!more.is_null()) j.update(more);
    return j;
}
std::string question(const Reply& r) {
    if (r.status != 200 || !r.parsed().contains("asked")) return std::to_string(r.status) + " " + r.body;
    EXPECT_EQ(against_openapi(r, "POST", "/bikes/{id}/readings"), "");
    return r.parsed()["asked"][0]["code"];
}
std::size_t readings(const Server& server, const std::string& bike) { return server.get("/api/v1/bikes/" + bike).parsed()["readings"].size(); }

}  // namespace

TEST(Service, EveryLookIsAsDescribed) {
    const Papers papers;
    papers.papers({"add", "instrument", "shop caliper", "--kind", "caliper"});
    const Server server(papers.file(), that_day);
    const std::string bike = papers.bike(), at = "/api/v1/bikes/" + bike;
    const Reply about = server.get("/api/v1/about");
    expect_as_described(about, 200, "GET", "/about");
    EXPECT_EQ(about.parsed()["papers"]["bikes"], 1);
    EXPECT_EQ(about.parsed()["papers"]["name"], "papers.sqlite") << "no path of the machine";
    EXPECT_EQ(about.parsed()["today"], today);
    const Reply stand = server.get("/api/v1/stand");
    expect_as_described(stand, 200, "GET", "/stand");
    EXPECT_EQ(stand.parsed()["bikes"][0]["id"], bike);
    EXPECT_EQ(stand.parsed()["bikes"][0]["computed"], false);
    EXPECT_TRUE(stand.parsed()["bikes"][0]["worked_out"].is_null());
    EXPECT_NE(stand.parsed()["bikes"][0]["verdict"]["state"], "no_reason_found") << "nothing was computed: never clean";
    expect_as_described(server.get(at), 200, "GET", "/bikes/{id}");
    expect_as_described(server.get(at + "/brakes"), 200, "GET", "/bikes/{id}/brakes");
    expect_as_described(server.get(at + "/check"), 200, "GET", "/bikes/{id}/check");
    const Reply none = server.get(at + "/answer");
    expect_not_done(none, "GET", "/bikes/{id}/answer", "not_computed");
    for (const char* rest : {"", "/answer", "/brakes", "/check"}) {
        const Reply r = server.get("/api/v1/bikes/" + uuid(9) + rest);
        expect_as_described(r, 404, "GET", std::string("/bikes/{id}") + rest);
        EXPECT_EQ(r.parsed()["error"]["code"], "not_found");
    }
    expect_as_described(server.get("/api/v1/rides/" + uuid(9) + "?bike=" + bike), 404, "GET", "/rides/{id}");
    expect_as_described(server.get("/api/v1/rides/" + uuid(9) + "/series?bike=" + bike), 404, "GET", "/rides/{id}/series");
    expect_as_described(server.get("/api/v1/jobs/" + uuid(9)), 404, "GET", "/jobs/{id}");
    EXPECT_EQ(server.get("/api/v1/nothing").status, 404);
}

// `curl -f` looks at the status alone: only a page of ours, which reads the body, gets 200 for what was not done.
TEST(Service, WhatWasNotDoneIsTwoHundredForAPageAloneAndAnErrorForAnybodyElse) {
    const Papers papers;
    const Server server(papers.file(), that_day);
    const std::string bike = papers.bike(), at = "/api/v1/bikes/" + bike;
    const auto ask = [&](const std::string& method, const std::string& path, const std::string& body, bool page) {
        std::vector<std::string> headers = {"X-Brakewright-Token: " + server.token()};
        if (page) headers.push_back(as_page);
        if (!body.empty() && body.front() == '{') headers.emplace_back("Content-Type: application/json");
        return server.ask(method, path, headers, body);
    };
    struct Case {
        std::string method, address, path, body, key;
        int status;
    };
    const json stop_at = {{"by", "Ada"}, {"wheel", "rear"}, {"from_mps", 6.0}, {"distance_m", 9.0}, {"lever_force_N", 60}};
    json first = stop_at, moved = stop_at;
    first.update({{"entry_id", uuid(1)}, {"lever_place_mm", 20}});
    moved.update({{"entry_id", uuid(2)}, {"lever_place_mm", 40}});
    expect_as_described(server.post(at + "/proof", first), 201, "POST", "/bikes/{id}/proof");
    const std::vector<Case> cases = {
        {"POST", "/bikes/{id}/hold", at + "/hold", json{{"by", "Ada"}, {"why", ""}}.dump(), "not_done", 422},
        {"POST", "/bikes/{id}/clear", at + "/clear", json{{"by", ""}, {"why", "x"}}.dump(), "not_done", 422},
        {"POST", "/bikes/{id}/rides", at + "/rides?name=a.gpx", "this is no ride", "not_done", 422},
        {"POST", "/bikes", "/api/v1/bikes", json{{"toml", "format = 1\nbike.kindd = 2\n"}}.dump(), "not_done", 422},
        {"POST", "/jobs", "/api/v1/jobs", json{{"kind", "weigh"}, {"bike", bike}}.dump(), "not_done", 422},
        {"GET", "/bikes/{id}/answer", at + "/answer", "", "not_done", 404},
        {"POST", "/bikes/{id}/readings", at + "/readings", json{{"place", "rear"}, {"quantity", "pad_thickness"}, {"values", {2.6}}, {"by", "Ada"}, {"entry_id", uuid(3)}}.dump(), "asked", 409},
        {"POST", "/bikes/{id}/proof", at + "/proof", moved.dump(), "asked", 409},
    };
    const auto kept = [&] { return papers.papers({"history", "--most", "1000"})["events"].size(); };
    const std::size_t before = kept();
    for (const Case& c : cases) {
        const Reply page = ask(c.method, c.path, c.body, true), other = ask(c.method, c.path, c.body, false);
        EXPECT_EQ(page.status, 200) << c.path << page.body;
        EXPECT_EQ(against_openapi(page, c.method, c.address), "") << c.path;
        ASSERT_TRUE(page.parsed().contains(c.key)) << c.path << page.body;
        EXPECT_FALSE(page.parsed().contains("error")) << c.path;
        EXPECT_EQ(other.status, c.status) << c.path << other.body;
        EXPECT_EQ(against_openapi(other, c.method, c.address), "") << c.path;
        // The same body, and beside it what the address has always said with that status.
        EXPECT_EQ(other.parsed()[c.key], page.parsed()[c.key]) << c.path;
        if (c.key == "not_done") EXPECT_EQ(other.parsed()["error"], page.parsed()["not_done"]) << c.path;
        else {
            EXPECT_EQ(other.parsed()["error"]["code"], "question") << c.path;
            EXPECT_EQ(other.parsed()["questions"], page.parsed()["asked"]) << c.path;
        }
    }
    EXPECT_EQ(kept(), before) << "nothing of all that was stored";
    EXPECT_EQ(ask("GET", "/api/v1/bikes/" + uuid(9), "", true).status, 404) << "what is not there is an error for a page too";
}

TEST(Service, ASchemaThatMissesAKeyWouldBeNoticed) {
    const Papers papers;
    const Server server(papers.file(), that_day);
    Reply r = server.get("/api/v1/stand");
    ASSERT_EQ(against_openapi(r, "GET", "/stand"), "");
    json j = r.parsed();
    j["bikes"][0]["verdict"].erase("state");
    r.body = j.dump();
    EXPECT_NE(against_openapi(r, "GET", "/stand"), "");
}

TEST(Service, TheBikeIsWhatTheDescriptionSaysAndTheBrakesWhatWasMeasured) {
    const Papers papers;
    const Server server(papers.file(), that_day);
    const std::string at = "/api/v1/bikes/" + papers.bike();
    const json bike = server.get(at).parsed();
    // demo/bikes/trail.toml
    EXPECT_EQ(bike["kind"], "trail");
    EXPECT_EQ(bike["description"]["front"]["rotor"]["diameter_mm"], 203);
    const json brakes = server.get(at + "/brakes").parsed();
    EXPECT_EQ(brakes["front"]["rotor"]["diameter_mm"], 203);
    EXPECT_NEAR(brakes["front"]["rotor"]["thickness_mm"].get<double>(), 1.84, 1e-9);
    EXPECT_NEAR(brakes["front"]["rotor"]["least_thickness_mm"].get<double>(), 1.65, 1e-9);
    EXPECT_EQ(brakes["front"]["rotor"]["measured"], true);
    json left = pad(1.31, 1, {{"sides", {"left"}}});
    ASSERT_EQ(server.post(at + "/readings", left).status, 201);
    const json after = server.get(at + "/brakes").parsed()["front"]["pads"];
    EXPECT_NEAR(after["left"]["friction_thickness_mm"].get<double>(), 1.31, 1e-9);
    EXPECT_EQ(after["left"]["side_known"], true);
    EXPECT_EQ(after["left"]["measured"], true);
    EXPECT_GT(after["left"]["sd_mm"].get<double>(), 0);
    EXPECT_EQ(after["right"]["side_known"], false);
}

TEST(Service, HoldingBackComesFirstAndClearingIsByName) {
    const Papers papers;
    papers.papers({"add", "bike", e2e::demo("bikes/city.toml"), "--by", "Ada", "--day", "2026-05-01"});
    const Server server(papers.file(), that_day);
    const json before = server.get("/api/v1/stand").parsed();
    ASSERT_EQ(before["bikes"].size(), 2u);
    const std::string last = before["bikes"][1]["id"], at = "/api/v1/bikes/" + last;
    const json entry = {{"by", "Ada"}, {"why", "noise"}, {"entry_id", uuid(1)}};
    const Reply held = server.post(at + "/hold", entry);
    expect_as_described(held, 200, "POST", "/bikes/{id}/hold");
    EXPECT_EQ(held.parsed()["verdict"]["do_not_ride"], true);
    EXPECT_EQ(held.parsed()["held"]["why"], "noise");
    expect_as_described(server.post(at + "/hold", entry), 200, "POST", "/bikes/{id}/hold");
    const json stand = server.get("/api/v1/stand").parsed();
    EXPECT_EQ(stand["bikes"][0]["id"], last);
    EXPECT_TRUE(stand["bikes"][0]["look_by"].is_null());
    // It is not undone without being sure; a person clears it.
    const Reply cleared = server.post(at + "/clear", {{"by", "Ben"}, {"why", "was a leaf"}});
    expect_as_described(cleared, 200, "POST", "/bikes/{id}/clear");
    EXPECT_EQ(cleared.parsed()["cleared"], 1) << "the entry sent twice held it once";
    EXPECT_TRUE(cleared.parsed()["held"].is_null());
    expect_not_done(server.post(at + "/hold", {{"by", ""}, {"why", "x"}}), "POST", "/bikes/{id}/hold");
}

TEST(Service, ProofStopsAreKeptOnceAndASinkingBrakeComesFirstOnTheStand) {
    const Papers papers;
    papers.papers({"add", "bike", e2e::demo("bikes/city.toml"), "--by", "Ada", "--day", "2026-05-01"});
    const Server server(papers.file(), that_day);
    const std::string bike = server.get("/api/v1/stand").parsed()["bikes"][1]["id"], at = "/api/v1/bikes/" + bike;
    const json none = server.get(at + "/proof").parsed();
    EXPECT_TRUE(none["stops"].empty());
    EXPECT_TRUE(none["brakes"]["front"].is_null());
    int n = 100;
    const auto count = [&](const char* date, double metres) {
        const json entry = {{"entry_id", uuid(++n)}, {"by", "Ada"}, {"date", date}, {"wheel", "front"}, {"from_mps", 6.0}, {"distance_m", metres}, {"time_s", nullptr}, {"lever_force_N", 60}, {"lever_place_mm", 20}, {"way", "taped"}};
        const Reply kept = server.post(at + "/proof", entry);
        expect_as_described(kept, 201, "POST", "/bikes/{id}/proof");
        expect_as_described(server.post(at + "/proof", entry), 201, "POST", "/bikes/{id}/proof");
        return kept.parsed();
    };
    for (const double m : {6.3, 6.4, 6.2, 6.35, 6.25}) count("2026-05-01", m);
    json page;
    for (const double m : {10.3, 10.4, 10.2, 10.35, 10.25}) page = count("2026-05-02", m);
    EXPECT_EQ(page["stops"].size(), 10u) << "an entry sent twice is kept once";
    EXPECT_EQ(page["brakes"]["front"]["alarm"], true);
    EXPECT_EQ(page["verdict"]["reasons"][0]["code"], "front_proof_alarm");
    expect_as_described(server.get(at + "/proof"), 200, "GET", "/bikes/{id}/proof");
    const json stand = server.get("/api/v1/stand").parsed();
    EXPECT_EQ(stand["bikes"][0]["id"], bike);
    EXPECT_EQ(stand["bikes"][0]["verdict"]["do_not_ride"], true);
    // Out of range: said, and nothing kept.
    EXPECT_TRUE(not_done(server.post(at + "/proof", {{"entry_id", uuid(99)}, {"by", "Ada"}, {"wheel", "front"}, {"from_mps", 6.0}, {"distance_m", -1}})));
    expect_as_described(server.post(at + "/clear", {{"by", "Ben"}, {"why", "looked"}}), 200, "POST", "/bikes/{id}/clear");
    EXPECT_EQ(server.get(at + "/proof").parsed()["brakes"]["front"]["alarm"], true) << "a hold by hand is another thing";
    // Another place on the lever has another leverage: asked before anything is kept.
    const auto at_place = [&](int entry, double mm, const json& answers) {
        return server.post(at + "/proof", {{"entry_id", uuid(entry)}, {"by", "Ada"}, {"wheel", "rear"}, {"from_mps", 6.0}, {"distance_m", 9.0}, {"lever_force_N", 60}, {"lever_place_mm", mm}, {"answers", answers}});
    };
    expect_as_described(at_place(90, 20, nullptr), 201, "POST", "/bikes/{id}/proof");
    const Reply elsewhere = at_place(91, 40, nullptr);
    EXPECT_EQ(against_openapi(elsewhere, "POST", "/bikes/{id}/proof"), "");
    ASSERT_TRUE(elsewhere.parsed().contains("asked")) << elsewhere.status << elsewhere.body;
    EXPECT_EQ(elsewhere.parsed()["asked"][0]["code"], "lever_place");
    EXPECT_EQ(elsewhere.parsed()["asked"][0]["choices"].size(), 2u);
    expect_not_done(at_place(91, 40, {{"lever_place", "again"}}), "POST", "/bikes/{id}/proof");
    EXPECT_EQ(server.get(at + "/proof").parsed()["stops"].size(), 11u) << "neither the question nor the answer keeps it";
    expect_as_described(at_place(91, 40, {{"lever_place", "keep"}}), 201, "POST", "/bikes/{id}/proof");
    EXPECT_EQ(server.get(at + "/proof").parsed()["stops"].size(), 12u);
    EXPECT_TRUE(not_done(server.post(at + "/proof", {{"entry_id", uuid(98)}, {"by", "Ada"}, {"wheel", "both"}, {"from_mps", 6.0}, {"distance_m", 6.3}}))) << "such a stop tells neither brake";
    EXPECT_EQ(server.get(at + "/proof").parsed()["stops"].size(), 12u);
    server.post(at + "/hold", {{"by", "Ada"}, {"why", "a noise"}});
    EXPECT_TRUE(not_done(server.post(at + "/clear", {{"by", "Ben"}, {"why", "x"}, {"what", "prooof"}})));
    EXPECT_FALSE(server.get("/api/v1/bikes/" + bike).parsed()["held"].is_null()) << "a word that is not known ends no hold";
    const Reply cleared = server.post(at + "/clear", {{"by", "Ben"}, {"why", "the scale slipped"}, {"what", "proof"}});
    EXPECT_EQ(cleared.parsed()["cleared"], 5);
    EXPECT_EQ(server.get(at + "/proof").parsed()["brakes"]["front"]["alarm"], false);
}

namespace {

//! A trial: five stops, and one too gentle.
std::string trial_gpx() { return e2e::trial_gpx({2.5, 2.5, 2.5, 2.5, 2.5, 0.5}, 45); }

}  // namespace

TEST(Service, StopsOfAKeptRideAreFoundByAJobAndThoseThatAPersonNamesAreKeptOnce) {
    const Papers papers;
    const std::string bike = papers.bike(), at = "/api/v1/bikes/" + bike, here = at + "/proof/recorded";
    const Server server(papers.file(), that_day);
    const json added = server.ask("POST", at + "/rides?name=trial.gpx&by=Ada", {"X-Brakewright-Token: " + server.token()}, trial_gpx()).parsed();
    const std::string ride = added["id"];
    const json entry = {{"by", "Ada"}, {"ride", ride}, {"wheel", "front"}, {"surface", "dry"}, {"stops", {{{"number", 1}, {"lever_force_N", 60}}, {{"number", 2}, {"lever_force_N", 60}}, {{"number", 4}, {"lever_force_N", 61}, {"surface", "wet"}}}}, {"lever_place_mm", 20}};
    expect_not_done(server.post(here, entry), "POST", "/bikes/{id}/proof/recorded", "not_computed");   // it is looked through first
    const auto look = [&] {
        const Reply begun = server.post("/api/v1/jobs", {{"kind", "recorded_stops"}, {"bike", bike}, {"ride", ride}});
        expect_as_described(begun, 202, "POST", "/jobs");
        const std::string id = begun.parsed()["id"];
        const json done = server.finished(id);
        EXPECT_EQ(done["state"], "done") << done.dump().substr(0, 500);
        expect_as_described(server.get("/api/v1/jobs/" + id), 200, "GET", "/jobs/{id}");
        return done["result"];
    };
    const json found = look();
    ASSERT_EQ(found["stops"].size(), 6u);
    EXPECT_EQ(found["day"], "2026-05-01");
    for (int i = 0; i < 5; ++i) {
        const json& s = found["stops"][i];
        EXPECT_TRUE(s["usable"]) << s["why_not"];
        EXPECT_TRUE(s["kept"].is_null());
        EXPECT_EQ(s["day"], "2026-05-01");
        EXPECT_NEAR(s["from_mps"].get<double>(), 8, 0.2);
        EXPECT_GT(s["distance_sd_m"].get<double>(), 0);
    }
    EXPECT_FALSE(found["stops"][5]["usable"]);
    EXPECT_TRUE(found["stops"][5]["distance_m"].is_null());
    const Reply kept = server.post(here, entry);
    expect_as_described(kept, 201, "POST", "/bikes/{id}/proof/recorded");
    EXPECT_EQ(kept.parsed()["added"], 3);
    EXPECT_EQ(kept.parsed()["recorded"]["stops"][0]["kept"]["wheel"], "front");
    EXPECT_EQ(kept.parsed()["recorded"]["stops"][3]["kept"]["surface"], "wet");
    EXPECT_TRUE(kept.parsed()["recorded"]["stops"][2]["kept"].is_null());
    EXPECT_EQ(server.post(here, entry).parsed()["there_already"], 3) << "sent twice it is kept once";
    const json page = server.get(at + "/proof").parsed();
    ASSERT_EQ(page["stops"].size(), 3u);
    EXPECT_EQ(page["stops"][0]["way"], "recorded");
    EXPECT_EQ(page["stops"][0]["date"], "2026-05-01");
    // The same as the command keeps of that recording: the job has them in its history.
    const json proved = server.finished(server.post("/api/v1/jobs", {{"kind", "stop"}, {"bike", bike}}).parsed()["id"]);
    EXPECT_EQ(proved["result"]["gain"]["front"]["stops"], 2) << "the wet one is no proof of a dry brake";
    const auto refused = [&](const char* key, const json& value) {
        json other = entry;
        other[key] = value;
        const Reply r = server.post(here, other);
        expect_not_done(r, "POST", "/bikes/{id}/proof/recorded");
        return r.body;
    };
    EXPECT_NE(refused("wheel", "rear").find("is in the papers as one of the front brake"), std::string::npos) << "a stop proves one brake";
    EXPECT_NE(refused("surface", "wet").find("on another surface, dry"), std::string::npos) << "a correction is not answered as done";
    EXPECT_NE(refused("day", "2026-04-30").find("on another day"), std::string::npos);
    refused("wheel", "both");
    refused("surface", "ice");
    refused("surface", nullptr);
    refused("stops", json::array());
    refused("stops", {{{"number", 9}}});
    refused("stops", {{{"number", 3}}, {{"number", 3}}});
    EXPECT_NE(refused("stops", {{{"number", 6}}}).find("cannot stand as a proof stop"), std::string::npos);
    refused("stops", {{{"number", 3}, {"lever_force_N", 9000}}});
    // Another place on the lever is asked about, by its code.
    json moved = entry;
    moved["stops"] = {{{"number", 3}, {"lever_force_N", 60}}};
    moved["lever_place_mm"] = 40;
    const Reply asks = server.post(here, moved);
    EXPECT_EQ(against_openapi(asks, "POST", "/bikes/{id}/proof/recorded"), "");
    ASSERT_TRUE(asks.status == 200 && asks.parsed().contains("asked")) << asks.status << asks.body;
    EXPECT_EQ(asks.parsed()["asked"][0]["code"], "lever_place") << asks.body;
    EXPECT_EQ(server.get(at + "/proof").parsed()["stops"].size(), 3u);
    moved["answers"] = {{"lever_place", "again"}};
    expect_not_done(server.post(here, moved), "POST", "/bikes/{id}/proof/recorded");
    EXPECT_EQ(server.get(at + "/proof").parsed()["stops"].size(), 3u) << "asked once, and nothing is stored by the answer";
    moved["answers"] = {{"lever_place", "keep"}};
    EXPECT_EQ(server.post(here, moved).parsed()["added"], 1);
    // Held back: the stops are there, no distance is.
    server.post(at + "/hold", {{"by", "Ada"}, {"why", "the lever sinks"}});
    const json held = look();
    EXPECT_TRUE(held["do_not_ride"]);
    for (const json& s : held["stops"]) EXPECT_TRUE(s["distance_m"].is_null() && s["distance_sd_m"].is_null());
    EXPECT_EQ(server.post("/api/v1/jobs", {{"kind", "recorded_stops"}, {"bike", bike}, {"ride", uuid(7)}}).status, 404);
}

TEST(Service, StopsTakeTheRidersWeightBackAndThisBikesOwnWear) {
    const Papers papers;
    const std::string bike = papers.bike();
    const Server server(papers.file(), that_day);
    const auto stop_of = [&](const json& asked) { return server.finished(server.post("/api/v1/jobs", {{"kind", "stop"}, {"bike", bike}, {"stop", asked}}).parsed()["id"])["result"]; };
    const json plain = stop_of(json::object()), back = stop_of({{"weight_back_m", 0.2}, {"weight_low_m", 0.1}});
    EXPECT_GT(back["balance"]["rear_lift_mps2"]["p50"].get<double>(), 1.1 * plain["balance"]["rear_lift_mps2"]["p50"].get<double>());
    EXPECT_EQ(back["asked"]["weight_back_m"], 0.2);
    expect_not_done(server.post("/api/v1/jobs", {{"kind", "stop"}, {"bike", bike}, {"stop", {{"weight_back_m", 2}}}}), "POST", "/jobs");
}

TEST(Service, StopsOfACableBrakeGoByThisBikesOwnRidesAndWearAsTheCommandDoes) {
    const Papers papers;
    papers.papers({"add", "bike", e2e::demo("bikes/city.toml"), "--by", "Ada", "--day", "2026-05-01"});
    const Server server(papers.file(), that_day);
    const std::string bike = server.get("/api/v1/stand").parsed()["bikes"][1]["id"];
    const auto feel = [&] { return server.finished(server.post("/api/v1/jobs", {{"kind", "stop"}, {"bike", bike}}).parsed()["id"])["result"]["feel"]["front"]; };
    const json before = feel();
    EXPECT_EQ(before["by_own_rides"], false);
    const Reply rides = server.ask("POST", "/api/v1/bikes/" + bike + "/rides?name=log.csv&by=Ada", {"X-Brakewright-Token: " + server.token()}, "date,distance_m,descent_m\n2026-05-03,7000,60\n2026-05-04,9000,80\n");
    ASSERT_EQ(rides.status, 200);
    ASSERT_FALSE(rides.parsed().contains("not_done") || rides.parsed().contains("asked")) << rides.body;
    EXPECT_EQ(server.finished(server.post("/api/v1/jobs", {{"kind", "answer"}, {"bike", bike}}).parsed()["id"])["state"], "done");
    const json after = feel();
    EXPECT_EQ(after["ride_km"], 8.0);
    EXPECT_EQ(after["by_own_rides"], true);
    EXPECT_NE(after["km_per_turn"], before["km_per_turn"]);
    const std::string name = server.get("/api/v1/bikes/" + bike).parsed()["name"];
    const e2e::Outcome command = e2e::brakewright({"stop", "--papers", papers.file(), name, "--today", today, "--json"});
    ASSERT_EQ(command.status, 0) << command.err;
    EXPECT_EQ(json::parse(command.out)["feel"]["front"], after) << "one code for both";
}

TEST(Service, TheCheckBeforeARideIsTickedOnceAndAFaultHoldsBack) {
    const Papers papers;
    const Server server(papers.file(), that_day);
    const std::string at = "/api/v1/bikes/" + papers.bike();
    json ticks = json::array();
    const json list = server.get(at + "/check").parsed(), cautions = list["cautions"];
    EXPECT_FALSE(cautions.empty());
    for (const json& item : list["items"]) {
        EXPECT_EQ(item["overdue"], true) << "never ticked";
        ticks.push_back({{"code", item["code"]}, {"result", item["code"] == "leaks" ? "skipped" : item["code"] == "rear.gap" ? "not_fine" : "fine"}, {"note", item["code"] == "rear.gap" ? "rubs" : ""}});
    }
    const json entry = {{"ticks", ticks}, {"by", "Ada"}, {"entry_id", uuid(1)}};
    const Reply done = server.post(at + "/check", entry);
    expect_as_described(done, 200, "POST", "/bikes/{id}/check");
    const json after = done.parsed();
    for (const json& item : after["items"]) EXPECT_EQ(item["overdue"], item["code"] == "leaks" || item["code"] == "rear.gap") << item;
    EXPECT_EQ(done.parsed()["verdict"]["do_not_ride"], true);
    EXPECT_NE(done.body.find("rubs"), std::string::npos);
    const auto events = [&] { return papers.papers({"history", "--most", "1000"})["events"].size(); };
    const std::size_t before = events();
    expect_as_described(server.post(at + "/check", entry), 200, "POST", "/bikes/{id}/check");
    EXPECT_EQ(events(), before);
    EXPECT_TRUE(not_done(server.post(at + "/check", {{"ticks", {{{"code", "nose"}, {"result", "fine"}}}}, {"by", "Ada"}})));
}

TEST(Service, AReadingIsAskedAboutBeforeItIsKept) {
    const Papers papers;
    const Server server(papers.file(), that_day);
    const std::string bike = papers.bike(), at = "/api/v1/bikes/" + bike + "/readings";
    const std::size_t before = readings(server, bike);
    json typed = {{"place", "rear"}, {"quantity", "pad_thickness"}, {"values", {"2,6"}}, {"by", "Ada"}, {"entry_id", uuid(1)}};
    EXPECT_EQ(question(server.post(at, typed)), "with_plate") << "2,6 with or without the plate?";
    EXPECT_EQ(readings(server, bike), before) << "nothing is stored until it is answered";
    typed["answers"] = {{"with_plate", "yes"}};
    const Reply kept = server.post(at, typed);
    expect_as_described(kept, 201, "POST", "/bikes/{id}/readings");
    EXPECT_EQ(readings(server, bike), before + 1);
    const json newest = server.get("/api/v1/bikes/" + bike).parsed()["readings"][0];
    EXPECT_EQ(newest["id"], uuid(1));
    EXPECT_NEAR(newest["values"][0].get<double>(), 2.6, 1e-12);
    EXPECT_EQ(newest["with_plate"], true);

    EXPECT_EQ(question(server.post(at, pad(26, 2))), "decimal_point");
    const Reply tenth = server.post(at, pad(26, 2, {{"answers", {{"decimal_point", "yes"}}}, {"place", "rear"}, {"with_plate", "yes"}}));
    EXPECT_EQ(tenth.status, 201) << tenth.body;
    EXPECT_TRUE(not_done(server.post(at, pad(26, 3, {{"answers", {{"decimal_point", "no"}}}}))));
    EXPECT_EQ(question(server.post(at, pad(0.07, 4, {{"quantity", "rotor_thickness"}, {"with_plate", nullptr}}))), "inch");
    EXPECT_EQ(question(server.post(at, pad(0.8, 5, {{"with_plate", "yes"}}))), "thin_for_a_plate");
    // Pads do not grow: the front ones were 1.9 mm at the start (demo/bikes/trail.toml).
    EXPECT_TRUE((std::set<std::string>{"thicker", "wheel"}).contains(question(server.post(at, pad(3.9, 6)))));
    EXPECT_EQ(server.post(at, pad(3.9, 6, {{"answers", {{"thicker", "keep"}, {"wheel", "keep"}}}})).status, 201);
    for (const json& wrong : {pad(1, 7, {{"place", "left"}}), pad(1, 7, {{"quantity", "nose"}}), pad(1, 7, {{"values", {"one"}}}), pad(1, 7, {{"values", json::array()}}), pad(1, 7, {{"by", ""}}), pad(1, 7, {{"entry_id", "7"}}),
                              pad(1, 7, {{"sides", {"left", "right"}}}), pad(1, 7, {{"day", "yesterday"}}), pad(99, 7)}) {
        const Reply r = server.post(at, wrong);
        EXPECT_TRUE(not_done(r)) << wrong << r.status << r.body;
        EXPECT_EQ(against_openapi(r, "POST", "/bikes/{id}/readings"), "");
    }
}

TEST(Service, FrontAndRearChangedOverAreAskedAbout) {
    // demo/bikes/trail.toml: front rotor 1.84 mm, rear 1.77 mm; front pads 1.55 mm, rear 1.90 mm.
    const auto rotor = [](const char* place, double mm, int entry, const json& more = {}) {
        json j = {{"place", place}, {"quantity", "rotor_thickness"}, {"values", {mm}}, {"anvil", "pointed"}, {"by", "Ada"}, {"entry_id", uuid(entry)}};
        if (!more.is_null()) j.update(more);
        return j;
    };
    const Papers papers;
    const Server server(papers.file(), that_day);
    const std::string bike = papers.bike(), at = "/api/v1/bikes/" + bike + "/readings";
    papers.papers({"add", "instrument", "shop micrometer", "--kind", "micrometer"});
    const json with = {{"instrument", "shop micrometer"}};
    const std::size_t before = readings(server, bike);
    // The thin one at the thick wheel, then the thick one at the thin wheel: both orders.
    const Reply thin = server.post(at, rotor("front", 1.77, 1, with));
    EXPECT_EQ(question(thin), "wheel") << thin.body;
    EXPECT_EQ(question(server.post(at, rotor("rear", 1.84, 2, with))), "wheel");
    EXPECT_EQ(readings(server, bike), before) << "nothing is stored until it is answered";
    // Flat jaws stand on the rim's ridge: less the ridge this is under the maker's limit, and what holds back waits for no question.
    {
        const Papers ridged;
        ridged.papers({"add", "instrument", "shop micrometer", "--kind", "micrometer"});
        const Server other(ridged.file(), that_day);
        const std::string there = "/api/v1/bikes/" + ridged.bike() + "/readings";
        const auto flat = [&](const char* place, double mm, int entry, const json& answers) {
            return other.post(there, {{"place", place}, {"quantity", "rotor_thickness"}, {"values", {mm}}, {"anvil", "flat_jaws"}, {"instrument", "shop micrometer"}, {"by", "Ada"}, {"entry_id", uuid(entry)}, {"answers", answers}});
        };
        const json keep = {{"wheel", "keep"}, {"swapped", "keep"}, {"thicker", "keep"}};
        EXPECT_EQ(flat("front", 1.84, 11, keep).status, 201);
        EXPECT_EQ(flat("rear", 1.77, 12, keep).status, 201);
        EXPECT_EQ(question(flat("front", 1.77, 13, json::object())), "wheel");
        EXPECT_EQ(other.post(there, {{"place", "front"}, {"quantity", "rotor_ridge"}, {"values", {0.3}}, {"by", "Ada"}, {"entry_id", uuid(14)}}).status, 201);
        const Reply held = flat("front", 1.77, 15, json::object());
        EXPECT_EQ(held.status, 201) << held.body;
    }
    // Said to be the other wheel, it is stored there.
    json moved = rotor("front", 1.77, 3, with);
    moved["answers"] = {{"wheel", "rear"}};
    EXPECT_EQ(server.post(at, moved).status, 201);
    EXPECT_EQ(server.get("/api/v1/bikes/" + bike).parsed()["readings"][0]["place"], "rear");
    // Kept at the wrong wheel all the same, the second of the pair tells.
    json kept = rotor("front", 1.77, 4, with);
    kept["answers"] = {{"wheel", "keep"}};
    EXPECT_EQ(server.post(at, kept).status, 201);
    const Reply pair = server.post(at, rotor("rear", 1.84, 5, with));
    EXPECT_EQ(question(pair), "swapped") << pair.body;
    json again = rotor("rear", 1.84, 5, with);
    again["answers"] = {{"swapped", "again"}};
    EXPECT_TRUE(not_done(server.post(at, again)));
    // Under the limit of 1.65 mm nothing is asked first, though it reads as the other wheel's rotor does: it holds the bike back.
    const Papers worn;
    worn.papers({"add", "instrument", "shop micrometer", "--kind", "micrometer"});
    const Server last(worn.file(), that_day);
    const std::string to = "/api/v1/bikes/" + worn.bike() + "/readings";
    EXPECT_EQ(last.post(to, rotor("rear", 1.60, 10, with)).parsed()["verdict"]["do_not_ride"], true);
    EXPECT_EQ(last.post(to, rotor("front", 1.60, 11, with)).status, 201);
    // Wear that fits its own wheel is not asked about.
    const Papers other;
    const Server plain(other.file(), that_day);
    EXPECT_EQ(plain.post("/api/v1/bikes/" + other.bike() + "/readings", rotor("front", 1.82, 6)).status, 201);
    EXPECT_EQ(plain.post("/api/v1/bikes/" + other.bike() + "/readings", rotor("rear", 1.75, 7)).status, 201);
    // Pads, the friction material alone: the first wears down to what the other had, the second would have grown.
    EXPECT_EQ(plain.post("/api/v1/bikes/" + other.bike() + "/readings", pad(1.3, 8, {{"place", "rear"}})).status, 201);
    EXPECT_EQ(question(plain.post("/api/v1/bikes/" + other.bike() + "/readings", pad(1.85, 9))), "swapped");
}

TEST(Service, AReadingBelowTheLimitHoldsTheBikeBackAtOnce) {
    const Papers papers;
    const Server server(papers.file(), that_day);
    const std::string at = "/api/v1/bikes/" + papers.bike() + "/readings";
    const Reply thin = server.post(at, pad(0.4, 1));
    expect_as_described(thin, 201, "POST", "/bikes/{id}/readings");
    EXPECT_EQ(thin.parsed()["verdict"]["do_not_ride"], true);
    const Reply rotor = server.post(at, {{"place", "front"}, {"quantity", "rotor_thickness"}, {"values", {1.45}}, {"by", "Ada"}, {"entry_id", uuid(2)}, {"anvil", "pointed"}});
    expect_as_described(rotor, 201, "POST", "/bikes/{id}/readings");
    EXPECT_NE(rotor.body.find("rotor"), std::string::npos);
    EXPECT_EQ(rotor.parsed()["verdict"]["do_not_ride"], true);
    // Undo asks first, since this is what holds the bike back.
    const Reply asked = server.post("/api/v1/undo", json::object());
    EXPECT_TRUE(asked.parsed().contains("text")) << "the pad still holds it back, so this one may go";
    const Reply last = server.post("/api/v1/undo", json::object());
    EXPECT_EQ(last.status, 200);
    EXPECT_EQ(against_openapi(last, "POST", "/undo"), "");
    EXPECT_EQ(last.parsed()["asked"][0]["code"], "holds_back");
    expect_as_described(server.post("/api/v1/undo", {{"by", "Ada"}, {"answers", {{"holds_back", "yes"}}}}), 200, "POST", "/undo");
    EXPECT_EQ(server.get("/api/v1/stand").parsed()["bikes"][0]["verdict"]["do_not_ride"], false);
}

TEST(Service, DialReadingsKeepTheirAngles) {
    const Papers papers;
    const Server server(papers.file(), that_day);
    const std::string bike = papers.bike();
    json dial = {{"place", "front"}, {"quantity", "run_out"}, {"by", "Ada"}, {"entry_id", uuid(1)}, {"values", json::array()}, {"angles_deg", json::array()}};
    for (int i = 0; i < 12; ++i) {
        dial["values"].push_back(0.05 * std::sin(i));
        dial["angles_deg"].push_back(30 * i);
    }
    expect_as_described(server.post("/api/v1/bikes/" + bike + "/readings", dial), 201, "POST", "/bikes/{id}/readings");
    const json kept = server.get("/api/v1/bikes/" + bike).parsed()["readings"][0];
    ASSERT_EQ(kept["points"].size(), 12u);
    EXPECT_EQ(kept["points"][3]["angle_deg"], 90);
    EXPECT_NEAR(kept["points"][3]["value"].get<double>(), 0.05 * std::sin(3), 1e-12);
    EXPECT_EQ(kept["unit"], "mm");
}

TEST(Service, ATurnReadWithADialIsTakenApartForTheDrawing) {
    const Papers papers;
    const Server server(papers.file(), that_day);
    const std::string bike = papers.bike(), at = "/api/v1/bikes/" + bike;
    const auto send = [&](const char* place, int places, int entry) {
        json dial = {{"place", place}, {"quantity", "run_out"}, {"by", "Ada"}, {"entry_id", uuid(entry)}, {"values", json::array()}, {"angles_deg", json::array()}};
        for (int i = 0; i < places; ++i) {
            const double deg = 360.0 * i / places;
            dial["angles_deg"].push_back(deg);
            dial["values"].push_back(std::round(100 * (0.05 * std::cos((deg - 70) * 3.14159265358979 / 180) + 0.16 * std::exp(-std::pow((deg - 200) / 22, 2)))) / 100);
        }
        expect_as_described(server.post(at + "/readings", dial), 201, "POST", "/bikes/{id}/readings");
    };
    EXPECT_TRUE(server.get(at + "/brakes").parsed()["front"]["run_out"].is_null());
    send("front", 24, 1);
    send("rear", 4, 2);
    const Reply r = server.get(at + "/brakes");
    expect_as_described(r, 200, "GET", "/bikes/{id}/brakes");
    // What was put in: a bend of 0.16 mm towards the dial at 200 degrees, on a seat that tilts by 0.10 mm.
    const json front = r.parsed()["front"]["run_out"];
    EXPECT_EQ(front["depth"], "parts");
    EXPECT_NEAR(2 * front["tilt"]["amplitude_mm"]["p50"].get<double>(), 0.10, 0.03);
    ASSERT_EQ(front["bends"].size(), 1u);
    EXPECT_NEAR(front["bends"][0]["angle_deg"]["p50"].get<double>(), 200, 5);
    EXPECT_NEAR(front["bends"][0]["height_mm"]["p50"].get<double>(), 0.16, 0.03);
    EXPECT_EQ(front["bends"][0]["push"], "away_from_dial");
    EXPECT_GT(front["worth_mm"].get<double>(), 0);
    EXPECT_LT(front["bends"][0]["total_after_mm"]["p50"].get<double>(), front["total_mm"]["p50"].get<double>());
    EXPECT_EQ(front["read"].size(), 24u);
    // Four places tell nothing apart, and no place to push is named.
    const json rear = r.parsed()["rear"]["run_out"];
    EXPECT_EQ(rear["depth"], "only_seen");
    EXPECT_TRUE(rear["bends"].empty());
    EXPECT_TRUE(rear["shape"].empty());
    // What decides a table is what takes it apart; looks find it in the papers.
    auto kept = [&, n = 0]() mutable {
        const std::string out = papers.folder() + "/out" + std::to_string(n++);
        papers.papers({"export", out});
        const std::string answers = e2e::read(out + "/answers.csv");
        int all = 0;
        for (std::size_t i = answers.find("run_out/1"); i != std::string::npos; i = answers.find("run_out/1", i + 1)) ++all;
        return all;
    };
    EXPECT_EQ(kept(), 2);
    expect_as_described(server.post(at + "/readings", {{"place", "front"}, {"quantity", "bearing_play"}, {"by", "Ada"}, {"entry_id", uuid(3)}, {"values", {0.06}}}), 201, "POST", "/bikes/{id}/readings");
    EXPECT_EQ(kept(), 3) << "the same table by the play that was felt";
    server.get("/api/v1/stand");
    server.get(at + "/brakes");
    EXPECT_EQ(kept(), 3);
}

TEST(Service, AnEntrySentTwiceIsStoredOnce) {
    const Papers papers;
    const Server server(papers.file(), that_day);
    const std::string bike = papers.bike(), at = "/api/v1/bikes/" + bike;
    const std::size_t before = readings(server, bike);
    EXPECT_EQ(server.post(at + "/readings", pad(1.5, 1)).parsed()["already_there"], false);
    EXPECT_EQ(server.post(at + "/readings", pad(1.5, 1)).parsed()["already_there"], true);
    EXPECT_EQ(readings(server, bike), before + 1);
    // 60 rows as pasted out of a spreadsheet, two of them wrong.
    std::string rows = "date\tplace\twhat\tside\tvalue\twith_plate\n";
    for (int i = 0; i < 60; ++i) rows += "2026-05-" + std::to_string(10 + i % 20) + "\trear\t" + (i == 20 ? "nose" : "lever_bite") + "\t\t" + (i == 40 ? "x" : "45,5") + "\t\n";
    std::size_t there = 0;
    for (const int stored : {58, 0}) {
        const Reply r = server.post(at + "/readings/rows", {{"text", rows}, {"by", "Ada"}, {"entry_id", uuid(2)}});
        expect_as_described(r, 200, "POST", "/bikes/{id}/readings/rows");
        EXPECT_EQ(r.parsed()["stored"], stored) << r.body.substr(0, 600);
        ASSERT_EQ(r.parsed()["refused"].size(), 2u) << r.body.substr(0, 600);
        EXPECT_EQ(r.parsed()["refused"][0]["line"], 22);
        there = r.parsed()["already_there"];
    }
    EXPECT_EQ(there, 58u);
    EXPECT_EQ(readings(server, bike), before + 59);
    // A ride, by what is in it.
    const std::string gpx = e2e::read(e2e::demo("rides/pass-and-back.gpx"));
    for (const bool again : {false, true}) {
        const Reply r = server.ask("POST", at + "/rides?name=pass.gpx", {as_page, "X-Brakewright-Token: " + server.token()}, gpx);
        expect_as_described(r, 200, "POST", "/bikes/{id}/rides");
        EXPECT_EQ(r.parsed()["already_there"], again);
        EXPECT_GT(r.parsed()["summary"]["distance_m"].get<double>(), 1000);
    }
    EXPECT_EQ(server.get(at).parsed()["rides"].size(), 1u);
    // A bike.
    const json city = {{"toml", e2e::read(e2e::demo("bikes/city.toml"))}, {"by", "Ada"}, {"entry_id", uuid(3)}};
    const Reply made = server.post("/api/v1/bikes", city), again = server.post("/api/v1/bikes", city);
    expect_as_described(made, 201, "POST", "/bikes");
    EXPECT_EQ(again.body, made.body);
    EXPECT_EQ(server.get("/api/v1/stand").parsed()["bikes"].size(), 2u);
}

TEST(Service, BikesComeFromADescriptionOrFromSixAnswers) {
    const Papers papers;
    const Server server(papers.file(), that_day);
    const Reply six = server.post("/api/v1/bikes", {{"name", "Kestrel"}, {"six", {{"kind", "gravel"}, {"total_mass_kg", 92}, {"rotor_diameter_mm", 160}, {"pad_total_mm", 3.4}, {"compound", nullptr}, {"terrain", nullptr}}}});
    expect_as_described(six, 201, "POST", "/bikes");
    const json bike = server.get("/api/v1/bikes/" + six.parsed()["id"].get<std::string>()).parsed();
    EXPECT_EQ(bike["name"], "Kestrel");
    EXPECT_EQ(bike["description"]["front"]["rotor"]["diameter_mm"], 160);
    ASSERT_FALSE(bike["readings"].empty());
    EXPECT_NEAR(bike["readings"][0]["values"][0].get<double>(), 3.4, 1e-9) << "kept as what it is: a total";
    EXPECT_EQ(bike["readings"][0]["with_plate"], true);
    // What nobody read has no number that could pass for a reading: not on the drawing either.
    const Reply seen = server.get("/api/v1/bikes/" + six.parsed()["id"].get<std::string>() + "/brakes");
    expect_as_described(seen, 200, "GET", "/bikes/{id}/brakes");
    const json rear = seen.parsed()["rear"];
    EXPECT_TRUE(rear["rotor"]["thickness_mm"].is_null()) << rear["rotor"].dump();
    EXPECT_TRUE(rear["rotor"]["thickness_sd_mm"].is_null());
    EXPECT_FALSE(seen.parsed()["front"]["pads"]["left"]["friction_thickness_mm"].is_null());
    const Reply wrong = server.post("/api/v1/bikes", {{"toml", "format = 1\nbike.kindd = \"trail\"\n"}});
    expect_not_done(wrong, "POST", "/bikes");
    EXPECT_EQ(wrong.parsed()["not_done"]["line"], 2) << wrong.body;
    for (const json& bad : {json{{"six", {{"kind", "boat"}}}}, json{{"six", {{"kind", "road"}, {"total_mass_kg", 5}}}}, json::object(), json{{"six", 6}}}) expect_not_done(server.post("/api/v1/bikes", bad), "POST", "/bikes");
}

TEST(Service, RidesThatCannotBeReadSayWhy) {
    const Papers papers;
    const Server server(papers.file(), that_day);
    const std::string at = "/api/v1/bikes/" + papers.bike() + "/rides";
    const auto up = [&](const std::string& name, const std::string& bytes) { return server.ask("POST", at + "?name=" + name, {as_page, "X-Brakewright-Token: " + server.token()}, bytes); };
    const Reply bad = up("nonsense.gpx", "this is no ride");
    expect_not_done(bad, "POST", "/bikes/{id}/rides");
    EXPECT_NE(bad.body.find("nonsense.gpx"), std::string::npos);
    EXPECT_EQ(bad.body.find("/tmp"), std::string::npos) << "the name is the person's, not that of our temporary file";
    expect_not_done(up("none.gpx", ""), "POST", "/bikes/{id}/rides");
    const Reply table = up("diary.csv", "date,distance_m,descent_m\n2026-05-03,12000,240\n2026-05-04,x,10\n");
    EXPECT_EQ(against_openapi(table, "POST", "/bikes/{id}/rides"), "") << table.body;
    const Reply good = up("diary.csv", "date,distance_m,descent_m\n2026-05-03,12000,240\n2026-05-04,9000,10\n");
    expect_as_described(good, 200, "POST", "/bikes/{id}/rides");
    EXPECT_EQ(good.parsed()["added"], 2);
    EXPECT_TRUE(good.parsed()["id"].is_null());
}

TEST(Service, AnAnswerIsAJobAndIsFoundAgain) {
    const Papers papers;
    papers.papers({"add", "rides", e2e::demo("rides/valley-deliveries.gpx"), "--by", "Ada"});
    const Server server(papers.file(), that_day);
    const std::string bike = papers.bike(), at = "/api/v1/bikes/" + bike;
    const Reply begun = server.post("/api/v1/jobs", {{"kind", "answer"}, {"bike", bike}});
    expect_as_described(begun, 202, "POST", "/jobs");
    const std::string id = begun.parsed()["id"];
    expect_as_described(server.get("/api/v1/jobs/" + id), 200, "GET", "/jobs/{id}");
    const json done = server.finished(id);
    ASSERT_EQ(done["state"], "done") << done.dump().substr(0, 500);
    EXPECT_EQ(done["share"], 1.0);
    EXPECT_EQ(done["result"]["schema"], "answer/1");
    expect_as_described(server.get("/api/v1/jobs/" + id), 200, "GET", "/jobs/{id}");
    const Reply answer = server.get(at + "/answer");
    expect_as_described(answer, 200, "GET", "/bikes/{id}/answer");
    EXPECT_EQ(answer.parsed(), done["result"]);
    EXPECT_EQ(server.get("/api/v1/stand").parsed()["bikes"][0]["computed"], true);
    EXPECT_FALSE(server.get(at).parsed()["answer_key"].is_null());

    // What somebody tries alters no papers and is not the bike's answer.
    const std::string tried = server.post("/api/v1/jobs", {{"kind", "answer"}, {"bike", bike}, {"settings", {{"total_mass_kg", 180}, {"grade", -0.15}, {"surface", "wet"}}}}).parsed()["id"];
    const json heavy = server.finished(tried);
    ASSERT_EQ(heavy["state"], "done") << heavy.dump().substr(0, 500);
    EXPECT_EQ(heavy["result"]["bike"]["total_mass_kg"], 180);
    EXPECT_EQ(heavy["result"]["stops"][0]["grade"], -0.15);
    EXPECT_EQ(server.get(at + "/answer").parsed(), done["result"]);
    expect_not_done(server.post("/api/v1/jobs", {{"kind", "answer"}, {"bike", bike}, {"settings", {{"total_mass_kg", 1}}}}), "POST", "/jobs");
    // A wind told as a weather report has it needs its speed.
    const std::string blown = server.post("/api/v1/jobs", {{"kind", "answer"}, {"bike", bike}, {"settings", {{"wind_mps", 6}, {"wind_from_deg", 270}}}}).parsed()["id"];
    EXPECT_EQ(server.finished(blown)["state"], "done");
    expect_not_done(server.post("/api/v1/jobs", {{"kind", "answer"}, {"bike", bike}, {"settings", {{"wind_from_deg", 270}}}}), "POST", "/jobs");
    expect_not_done(server.post("/api/v1/jobs", {{"kind", "dance"}}), "POST", "/jobs");

    // The ride by itself, with its traces.
    const std::string ride = server.get(at).parsed()["rides"][0]["id"];
    const std::string look = "/api/v1/rides/" + ride;
    expect_as_described(server.get(look + "?bike=" + bike), 200, "GET", "/rides/{id}");
    EXPECT_EQ(server.get(look + "?bike=" + bike).parsed()["ride"], done["result"]["rides"][0]);
    const Reply not_yet = server.get(look + "/series?bike=" + bike);
    expect_not_done(not_yet, "GET", "/rides/{id}/series", "not_computed");
    const json page = server.finished(server.post("/api/v1/jobs", {{"kind", "ride"}, {"bike", bike}, {"rides", {ride}}}).parsed()["id"]);
    ASSERT_EQ(page["state"], "done") << page.dump().substr(0, 500);
    const Reply series = server.get(look + "/series?bike=" + bike), few = server.get(look + "/series?points=200&bike=" + bike);
    expect_as_described(series, 200, "GET", "/rides/{id}/series");
    const json columns = series.parsed()["columns"], thin = few.parsed()["columns"];
    EXPECT_LE(columns["t_s"].size(), 2000u);
    EXPECT_LE(thin["t_s"].size(), 200u);
    EXPECT_GT(thin["t_s"].size(), 50u);
    // The peaks are kept however few the points are.
    for (const auto& [name, values] : columns.items()) {
        EXPECT_EQ(values.size(), columns["t_s"].size()) << name;
        const auto most = [](const json& list) {
            double m = -1e9;
            for (const json& v : list)
                if (!v.is_null()) m = std::max(m, v.get<double>());
            return m;
        };
        EXPECT_EQ(most(values), most(thin[name])) << name;
    }
    // The interval lies about the middle, and the way is where the recording was.
    for (const char* wheel : {"front", "rear"})
        for (std::size_t i = 0; i < columns["t_s"].size(); ++i) {
            const auto degrees = [&](const char* what) { return columns[std::string(wheel) + what][i].get<double>(); };
            EXPECT_LE(degrees("_rotor_p05_degC"), degrees("_rotor_degC") + 1e-9);
            EXPECT_LE(degrees("_rotor_degC"), degrees("_rotor_p95_degC") + 1e-9);
        }
    const std::string gpx = e2e::read(e2e::demo("rides/valley-deliveries.gpx"));
    const std::size_t first = gpx.find("<trkpt");
    ASSERT_NE(first, std::string::npos);
    const auto attribute = [&](const std::string& name) { return std::stod(gpx.substr(gpx.find(name + "=\"", first) + name.size() + 2)); };
    EXPECT_NEAR(columns["latitude_deg"][0].get<double>(), attribute("lat"), 1e-9);
    EXPECT_NEAR(columns["longitude_deg"][0].get<double>(), attribute("lon"), 1e-9);
}

TEST(Service, LifeIsAJob) {
    const Papers papers;
    papers.papers({"add", "rides", e2e::demo("rides/valley-deliveries.gpx"), "--by", "Ada"});
    const Server server(papers.file(), that_day);
    const std::string bike = papers.bike(), at = "/api/v1/bikes/" + bike;
    const Reply begun = server.post("/api/v1/jobs", {{"kind", "life"}, {"bike", bike}});
    expect_as_described(begun, 202, "POST", "/jobs");
    const std::string id = begun.parsed()["id"];
    const json done = server.finished(id);
    ASSERT_EQ(done["state"], "done") << done.dump().substr(0, 500);
    expect_as_described(server.get("/api/v1/jobs/" + id), 200, "GET", "/jobs/{id}");
    EXPECT_EQ(done["result"]["schema"], "life/1");
    EXPECT_FALSE(done["result"]["narrowed"].is_null());
    EXPECT_FALSE(done["result"]["first_due"].is_null());
    // What one ride takes off, and what a planned way would.
    const std::string ride = server.get(at).parsed()["rides"][0]["id"];
    const json once = server.finished(server.post("/api/v1/jobs", {{"kind", "life"}, {"bike", bike}, {"once", ride}}).parsed()["id"]);
    ASSERT_EQ(once["state"], "done") << once.dump().substr(0, 500);
    for (const json& p : once["result"]["parts"]) {
        ASSERT_FALSE(p["plan_loss_mm"].is_null()) << p.dump();
        EXPECT_GT(p["plan_loss_mm"]["p50"].get<double>(), 0);
        EXPECT_LE(p["plan_loss_mm"]["p05"].get<double>(), p["plan_loss_mm"]["p95"].get<double>());
    }
    EXPECT_TRUE(once["result"]["narrowed"].is_null());
    const json planned = server.finished(server.post("/api/v1/jobs", {{"kind", "life"}, {"bike", bike}, {"plan", {{"name", "over-ostrel.gpx"}, {"text", e2e::read(e2e::demo("routes/over-ostrel.gpx"))}}}}).parsed()["id"]);
    ASSERT_EQ(planned["state"], "done") << planned.dump().substr(0, 500);
    EXPECT_EQ(planned["result"]["plan"], "over-ostrel.gpx");
    for (const json& bad : {json{{"kind", "life"}, {"bike", bike}, {"plan", {{"name", "a.gpx"}, {"text", "no way"}}}}, json{{"kind", "life"}, {"bike", bike}, {"plan", 3}},
                            json{{"kind", "life"}, {"bike", bike}, {"plan", {{"name", "ridden.gpx"}, {"text", e2e::read(e2e::demo("rides/valley-deliveries.gpx"))}}}}})
        expect_not_done(server.post("/api/v1/jobs", bad), "POST", "/jobs");
    expect_as_described(server.post("/api/v1/jobs", {{"kind", "life"}, {"bike", bike}, {"once", uuid(9)}}), 404, "POST", "/jobs");
    // Held back: no life.
    expect_as_described(server.post(at + "/hold", {{"by", "Ada"}, {"why", "the lever sinks"}}), 200, "POST", "/bikes/{id}/hold");
    const json held = server.finished(server.post("/api/v1/jobs", {{"kind", "life"}, {"bike", bike}}).parsed()["id"]);
    EXPECT_EQ(held["state"], "failed");
    EXPECT_NE(held["error"]["text"].get<std::string>().find("held back"), std::string::npos) << held.dump();
}

// Not by the papers, but by what its stops come to: a hand that cannot hold this brake.
TEST(Service, WhatTheAnswerHoldsBackGetsNoDistanceAndNoLife) {
    const Papers papers;
    const Server server(papers.file(), that_day);
    const Reply made = server.post("/api/v1/bikes", {{"toml", "format = 1\n[rider]\nhand = { size_cm = 14, strength_N = 45 }\n[bike]\nkind = \"cargo\"\nname = \"weak hand\"\ntotal_mass_kg = 220\n"}, {"by", "Ada"}});
    ASSERT_EQ(made.status, 201) << made.body;
    const std::string bike = made.parsed()["id"];
    const json answer = server.finished(server.post("/api/v1/jobs", {{"kind", "answer"}, {"bike", bike}}).parsed()["id"]);
    ASSERT_TRUE(answer["result"]["verdict"]["do_not_ride"].get<bool>()) << answer.dump().substr(0, 800);
    for (const char* kind : {"stop", "life"}) {
        const json job = server.finished(server.post("/api/v1/jobs", {{"kind", kind}, {"bike", bike}}).parsed()["id"]);
        EXPECT_EQ(job["state"], "failed") << kind;
        EXPECT_NE(job["error"]["text"].get<std::string>().find("held back"), std::string::npos) << job.dump();
    }
}

TEST(Service, StopsAreAJob) {
    const Papers papers;
    const Server server(papers.file(), that_day);
    const std::string bike = papers.bike();
    const Reply begun = server.post("/api/v1/jobs", {{"kind", "stop"}, {"bike", bike}, {"stop", {{"from_mps", 8}, {"grade", -0.1}, {"surface", "wet"}}}});
    expect_as_described(begun, 202, "POST", "/jobs");
    const std::string id = begun.parsed()["id"];
    const json done = server.finished(id);
    ASSERT_EQ(done["state"], "done") << done.dump().substr(0, 500);
    expect_as_described(server.get("/api/v1/jobs/" + id), 200, "GET", "/jobs/{id}");
    EXPECT_EQ(done["result"]["schema"], "stop/1");
    EXPECT_EQ(done["result"]["asked"]["from_mps"], 8.0);
    EXPECT_EQ(done["result"]["asked"]["grade"], -0.1);
    EXPECT_EQ(done["result"]["asked"]["surface"], "wet");
    EXPECT_TRUE(done["result"]["gain"]["front"].is_null());
    // Proof stops: read with the same ranges as their file.
    json stops = json::array();
    for (const double metres : {8.2, 8.6, 7.9}) stops.push_back({{"wheel", "front"}, {"from_mps", 5.5}, {"distance_m", metres}, {"lever_force_N", 60}});
    const json proved = server.finished(server.post("/api/v1/jobs", {{"kind", "stop"}, {"bike", bike}, {"proof", stops}}).parsed()["id"]);
    ASSERT_EQ(proved["state"], "done") << proved.dump().substr(0, 500);
    EXPECT_EQ(proved["result"]["gain"]["front"]["stops"], 3);
    for (const json& bad : {json{{"kind", "stop"}, {"bike", bike}, {"stop", {{"from_mps", 400}}}}, json{{"kind", "stop"}, {"bike", bike}, {"stop", {{"speed", 4}}}}, json{{"kind", "stop"}, {"bike", bike}, {"stop", {{"surface", "ice"}}}},
                            json{{"kind", "stop"}, {"bike", bike}, {"proof", {{{"wheel", "front"}, {"from_mps", 5}, {"distance_m", -2}}}}}, json{{"kind", "stop"}, {"bike", bike}, {"proof", 3}}})
        expect_not_done(server.post("/api/v1/jobs", bad), "POST", "/jobs");
    // Held back: no distance.
    expect_as_described(server.post("/api/v1/bikes/" + bike + "/hold", {{"by", "Ada"}, {"why", "the lever sinks"}}), 200, "POST", "/bikes/{id}/hold");
    const json held = server.finished(server.post("/api/v1/jobs", {{"kind", "stop"}, {"bike", bike}}).parsed()["id"]);
    EXPECT_EQ(held["state"], "failed");
    EXPECT_NE(held["error"]["text"].get<std::string>().find("held back"), std::string::npos) << held.dump();
}

TEST(Service, WeighingUpIsAJob) {
    const Papers papers;
    papers.papers({"add", "rides", e2e::demo("rides/valley-deliveries.gpx"), "--by", "Ada"});
    const Server server(papers.file(), that_day);
    const std::string bike = papers.bike();
    const Reply begun = server.post("/api/v1/jobs", {{"kind", "weigh"}, {"bike", bike}, {"changes", {{"front.rotor.diameter_mm", 180}, {"rear.pads.compound", "organic"}}}});
    expect_as_described(begun, 202, "POST", "/jobs");
    const std::string id = begun.parsed()["id"];
    const json done = server.finished(id);
    ASSERT_EQ(done["state"], "done") << done.dump().substr(0, 500);
    expect_as_described(server.get("/api/v1/jobs/" + id), 200, "GET", "/jobs/{id}");
    EXPECT_EQ(done["result"]["schema"], "weigh/1");
    std::set<std::string> changed;
    for (const json& c : done["result"]["changed"]) changed.insert(c["key"]);
    EXPECT_TRUE(changed.contains("front.rotor.diameter_mm"));
    EXPECT_TRUE(changed.contains("rear.pads.compound"));
    EXPECT_EQ(done["result"]["rides"].size(), 1u);
    for (const json& bad : {json{{"kind", "weigh"}, {"bike", bike}}, json{{"kind", "weigh"}, {"bike", bike}, {"changes", {{"front.rotor.diameter_mm", 2}}}}, json{{"kind", "weigh"}, {"bike", bike}, {"changes", {{"front.nose", 2}}}},
                            json{{"kind", "weigh"}, {"bike", bike}, {"changes", {{"front.rotor\nx = 1", 2}}}}})
        expect_not_done(server.post("/api/v1/jobs", bad), "POST", "/jobs");
    expect_as_described(server.post("/api/v1/jobs", {{"kind", "weigh"}, {"bike", bike}, {"other", uuid(9)}}), 404, "POST", "/jobs");
}

TEST(Service, AChangeIsReadBesideTheBikesOwnOtherValue) {
    const Papers papers;
    const Server server(papers.file(), that_day);
    const auto bike = [&](const char* lever) { return server.post("/api/v1/bikes", {{"by", "Ada"}, {"name", lever}, {"toml", std::string("format = 1\nbike.kind = \"trail\"\nbike.total_mass_kg = 95\n") + lever}}).parsed()["id"].get<std::string>(); };
    const std::string rising = bike("front.lever.ratio = 4\nfront.lever.ratio_at_bar = 11\n"), plain = bike("front.lever.ratio = 4\n"), untold = bike("");
    const auto weigh = [&](const std::string& id, const json& changes) { return server.post("/api/v1/jobs", {{"kind", "weigh"}, {"bike", id}, {"changes", changes}}); };
    const Reply far = weigh(rising, {{"front.lever.ratio", 3}});   // 11 is more than three times 3
    expect_not_done(far, "POST", "/jobs");
    EXPECT_NE(far.body.find("three times"), std::string::npos) << far.body;
    expect_not_done(weigh(untold, {{"front.lever.ratio_at_bar", 8}}), "POST", "/jobs");
    for (const Reply& taken : {weigh(plain, {{"front.lever.ratio_at_bar", 8}}), weigh(rising, {{"front.lever.ratio", 5}})}) {
        ASSERT_EQ(taken.status, 202) << taken.body;
        ASSERT_TRUE(taken.parsed().contains("id")) << taken.body;
        server.ask("DELETE", "/api/v1/jobs/" + taken.parsed()["id"].get<std::string>(), {"X-Brakewright-Token: " + server.token()});
    }
}

TEST(Service, SixQuestionsAreAJob) {
    const Papers papers;
    const Server server(papers.file(), that_day);
    const json done = server.finished(server.post("/api/v1/jobs", {{"kind", "six"}, {"six", {{"kind", "city"}, {"total_mass_kg", 100}, {"terrain", "hilly"}}}}).parsed()["id"]);
    ASSERT_EQ(done["state"], "done") << done.dump().substr(0, 500);
    EXPECT_EQ(done["result"]["schema"], "answer/1");
    EXPECT_EQ(done["result"]["bike"]["kind"], "city");
    expect_not_done(server.post("/api/v1/jobs", {{"kind", "six"}}), "POST", "/jobs");
}

TEST(Service, TheFiguresThatExplainAreAJobAndAreKeptForTheRun) {
    const Papers papers;
    const Server server(papers.file(), that_day);
    const Reply begun = server.post("/api/v1/jobs", {{"kind", "explain"}});
    expect_as_described(begun, 202, "POST", "/jobs");
    const std::string id = begun.parsed()["id"];
    const json done = server.finished(id);
    ASSERT_EQ(done["state"], "done") << done.dump().substr(0, 500);
    expect_as_described(server.get("/api/v1/jobs/" + id), 200, "GET", "/jobs/{id}");
    // Every figure whose data `heat figures`, `life figures` and `stop figures` write, with the same columns.
    std::map<std::string, json> told;
    for (const json& f : done["result"]["figures"]) told[f["of"].get<std::string>() + " " + f["name"].get<std::string>()] = f;
    std::size_t written = 0;
    for (const char* verb : {"heat", "life", "stop"}) {
        const std::string folder = papers.folder() + "/" + verb;
        ASSERT_EQ(e2e::brakewright({verb, "figures", folder}).status, 0);
        for (const auto& file : std::filesystem::directory_iterator(folder)) {
            if (file.path().extension() != ".csv") continue;
            ++written;
            const std::string name = std::string(verb) + " " + file.path().stem().string();
            ASSERT_TRUE(told.contains(name)) << name;
            std::ifstream in(file.path());
            std::string head;
            std::getline(in, head);
            std::string columns;
            for (const auto& [column, values] : told[name]["columns"].items()) columns += (columns.empty() ? "" : ",") + column;
            EXPECT_EQ(std::count(head.begin(), head.end(), ','), std::count(columns.begin(), columns.end(), ',')) << name;
            for (const auto& [column, values] : told[name]["columns"].items()) EXPECT_NE(("," + head + ",").find("," + column + ","), std::string::npos) << name << " " << column;
            std::size_t rows = 0;
            for (std::string line; std::getline(in, line);) ++rows;
            for (const auto& [column, values] : told[name]["columns"].items()) EXPECT_EQ(values.size(), rows) << name << " " << column;
            EXPECT_FALSE(told[name]["sources"].empty()) << name;
            EXPECT_FALSE(told[name]["assumptions"].empty()) << name;
        }
    }
    EXPECT_EQ(told.size(), written);
    EXPECT_GE(written, 16u);
    // Asked for again it is the same text, and no work.
    const auto from = std::chrono::steady_clock::now();
    const json again = server.finished(server.post("/api/v1/jobs", {{"kind", "explain"}}).parsed()["id"]);
    EXPECT_EQ(again["result"], done["result"]);
    EXPECT_LT(std::chrono::duration<double>(std::chrono::steady_clock::now() - from).count(), 2);
}

TEST(Service, AJobCanBeCancelled) {
    const Papers papers;
    papers.papers({"add", "rides", e2e::demo("rides/town-and-ridge.gpx"), e2e::demo("rides/pass-and-back.gpx"), "--by", "Ada"});
    const Server server(papers.file(), that_day);
    const std::string bike = papers.bike();
    const json ask = {{"kind", "answer"}, {"bike", bike}, {"settings", {{"total_mass_kg", 140}}}};
    const std::string running = server.post("/api/v1/jobs", ask).parsed()["id"], waiting = server.post("/api/v1/jobs", ask).parsed()["id"];
    for (const std::string& id : {waiting, running}) {
        const Reply r = server.ask("DELETE", "/api/v1/jobs/" + id, {"X-Brakewright-Token: " + server.token()});
        expect_as_described(r, 200, "DELETE", "/jobs/{id}");
    }
    EXPECT_EQ(server.finished(waiting)["state"], "cancelled");
    EXPECT_EQ(server.finished(running)["state"], "cancelled");
    // What was asked after it comes about.
    EXPECT_EQ(server.finished(server.post("/api/v1/jobs", {{"kind", "six"}, {"six", {{"kind", "road"}}}}).parsed()["id"])["state"], "done");
}

TEST(Service, EndsCleanlyAndLeavesThePapersSound) {
    for (const int signal : {SIGINT, SIGTERM}) {
        const Papers papers;
        papers.papers({"add", "rides", e2e::demo("rides/pass-and-back.gpx"), "--by", "Ada"});
        Server server(papers.file(), that_day);
        server.post("/api/v1/jobs", {{"kind", "answer"}, {"bike", papers.bike()}});   // in the middle of work
        EXPECT_EQ(server.stop(signal), 0);
        EXPECT_EQ(papers.papers({"sound"})["sound"], true);
    }
}

TEST(Service, APortThatIsTakenIsNotTakenTwice) {
    const Papers papers;
    const Server first(papers.file());
    const e2e::Outcome second = e2e::brakewright({"open", "--papers", papers.file(), "--listen", first.host()});
    EXPECT_EQ(second.status, 3);
    EXPECT_NE(second.err.find("cannot be taken"), std::string::npos) << second.err;
    const e2e::Outcome none = e2e::brakewright({"open", "--papers", papers.folder() + "/nothing.sqlite"});
    EXPECT_NE(none.status, 0);
    EXPECT_EQ(e2e::brakewright({"open", "--papers", papers.file(), "--listen", "nonsense:port"}).status, 2);
}
