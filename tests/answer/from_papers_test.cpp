// SPDX-License-Identifier: Apache-2.0
// Answers from the papers: the same as on files, computed once, moved by readings and parts.
#include <fmt/format.h>

#include <cmath>
#include <nlohmann/json.hpp>
#include <utility>

#include "../../src/answer/model_versions.hpp"
#include "../../src/answer/work.hpp"
#include "../papers/desk.hpp"
#include "answer/from_papers.hpp"
#include "answer/life_today.hpp"
#include "answer/stopping.hpp"
#include "base/time.hpp"
#include "heron.hpp"
#include "papers/state.hpp"

using namespace bw;
using namespace bw::papers::testing;
using papers::What;

namespace {

struct Desk {
    Folder folder;
    std::unique_ptr<papers::Papers> papers = must(papers::make_papers(folder.path("p")));
    papers::Id bike, person, pads, rotor;
    std::vector<std::string> files = {ride_csv(240, 0.08), ride_csv(300, 0.06)};
    std::vector<std::string> days = {"2026-04-10", "2026-04-20"};

    Desk() {
        const papers::Deed d = deed();
        person = must(papers->put_person(d, {.id = "", .name = "Ada", .hand_size_cm = {}, .hand_strength_N = {}, .mass_kg = {}, .repeat_sd_mm = {}, .note = ""}));
        papers::Part p;
        p.name = "first pads";
        p.kind = papers::PartKind::pads;
        p.compound = parts::Compound::sintered;
        p.plate_thickness_mm = 1.8;
        p.plate_measured = true;
        p.least_thickness_mm = 0.5;
        papers::Part r;
        r.name = "first rotor";
        r.kind = papers::PartKind::rotor;
        r.diameter_mm = 203;
        r.least_thickness_mm = 1.65;
        papers::Fitting f{.id = "", .part_id = "0", .bike_id = {}, .wheel_id = {}, .place = parts::End::front, .from_day = "2026-05-01", .to_day = {}}, g = f;
        g.part_id = "1";
        bike = must(papers->add_bike(d, {.id = "", .name = "Heron", .description_toml = description, .added_day = "2026-05-01", .retired_day = {}, .note = ""}, {p, r}, {f, g}));
        for (const papers::Part& part : must(papers->parts())) (part.kind == papers::PartKind::pads ? pads : rotor) = part.id;
        read(What::pad_thickness, pads, 1.5, "2026-05-01");
        read(What::rotor_thickness, rotor, 1.84, "2026-05-01");
        for (std::size_t i = 0; i < files.size(); ++i) add_ride(files[i], days[i], fmt::format("r{}.csv", i));
    }
    void add_ride(const std::string& bytes, const std::string& day, const std::string& name) {
        must(papers->add_ride(deed(), {.id = "", .bike_id = bike, .kind = papers::RideKind::recorded, .file_name = name, .start_unix_s = 86400.0 * static_cast<double>(*parse_day(day)), .day = day, .duration_s = {}, .distance_m = {}, .descent_m = {}, .stops_per_km = {}, .surface = "dry", .weather = "dry", .wind_mps = {}, .air_degC = {}, .load_kg = {}, .note = ""}, bytes));
    }
    void add_described(const std::string& day, double distance_m, double descent_m) {
        papers::Ride r{.id = papers::key_of({day, fmt::format("{}", distance_m)}), .bike_id = bike, .kind = papers::RideKind::described, .file_name = "log.csv", .start_unix_s = {}, .day = day, .duration_s = {}, .distance_m = distance_m, .descent_m = descent_m, .stops_per_km = 1.5, .surface = "", .weather = "dry", .wind_mps = {}, .air_degC = {}, .load_kg = {}, .note = ""};
        must(papers->add_ride(deed(), r, ""));
    }
    void read(What what, const papers::Id& part, double value, const std::string& day) {
        papers::Reading x;
        x.bike_id = bike;
        if (!part.empty()) x.part_id = part;
        x.what = what;
        x.day = day;
        x.recorded_unix_s = 86400.0 * static_cast<double>(*parse_day(day)) + 43200;
        x.person_id = person;
        if (what == What::pad_thickness) x.with_plate = false;
        if (what == What::rotor_thickness) x.anvil = parts::Anvil::pointed;
        papers::Point p;
        (what == What::fluid_age ? p.age_months : p.length_mm) = value;
        x.points = {p};
        must(papers->add_reading(deed(), x));
    }
    answer::FromPapers ask(const std::string& today = "2026-05-02") const { return {.bike = bike, .today = today, .made_unix_s = 1, .version = "test", .since = {}, .tags = {}, .planned = {}, .total_mass_kg = {}, .stop_grade = 0, .cases = 256, .altitude = {}, .keep_series = false}; }
    answer::PapersAnswer answered(const answer::FromPapers& a) { return must(answer::answer_from_papers(Context{}, library(), *papers, a)); }
    //! The same papers without anything that was computed: an export without its doses and answers, read again.
    std::string fresh(const answer::FromPapers& a) {
        Files all = exported(*papers);
        Files bare;
        for (const auto& [name, bytes] : all)
            if (name != "papers.json" && !name.starts_with("doses/")) bare[name] = name == "doses.csv" || name == "answers.csv" ? bytes.substr(0, bytes.find('\n') + 1) : bytes;
        Folder other;
        auto p = must(papers::import_papers(other.path("p"), source_of(bare)));
        const answer::PapersAnswer answer = must(answer::answer_from_papers(Context{}, library(), *p, a));
        EXPECT_EQ(answer.rides_found, 0u);
        return answer::json_of(answer.answer, "test");
    }
};

double pad_km(const answer::PapersAnswer& a) { return a.answer.life[0].pad->remaining_km.p50; }
bool has_reason(const inspect::Verdict& v, const std::string& code) {
    return std::any_of(v.reasons.begin(), v.reasons.end(), [&](const inspect::Reason& r) { return r.code == code; });
}

}  // namespace

TEST(FromPapers, WithoutNewsTheAnswerIsThatOfTheSameFilesToTheLastByteButForTheLife) {
    Desk desk;
    answer::Request request;
    request.bike = *parts::read_bike(description, "Heron", library());
    request.cases = 256;
    request.today = parse_day("2026-05-02");
    request.latest_day = *request.today + 1;
    for (std::size_t i = 0; i < desk.files.size(); ++i) {
        ride::Track track = must(ride::read_ride(desk.files[i], fmt::format("r{}.csv", i)));
        request.rides.push_back({std::move(track), {.surface = stop::Surface::dry, .weather = answer::Weather::dry}});
    }
    answer::Answer on_files = must(answer::answer(Context{}, library(), request));
    answer::PapersAnswer from_papers = desk.answered(desk.ask());
    ASSERT_TRUE(on_files.life[0].pad);
    // Two methods, one prior: before a reading has told anything they say much the same of pads. (Sampling, bedding-in and a
    // bootstrap over two rides stand between them.)
    ASSERT_TRUE(from_papers.answer.life[0].pad);
    EXPECT_NEAR(std::log(pad_km(from_papers) / on_files.life[0].pad->remaining_km.p50), 0, 0.25);
    for (answer::Answer* a : {&on_files, &from_papers.answer}) {
        a->life = {}, a->learned.reset(), a->measure_next.reset();
        std::erase_if(a->cautions, [](const std::string& c) { return c.starts_with("How often this bike is ridden"); });   // of look-by days, which the papers know more of
    }
    EXPECT_EQ(answer::json_of(from_papers.answer, "test"), answer::json_of(on_files, "test"));
}

TEST(FromPapers, AReadingMovesTheAnswerWithoutRunningAnyRideAgainAndGivesTheBytesOfAFreshComputation) {
    Desk desk;
    desk.add_described("2026-04-25", 9000, 260);
    const answer::PapersAnswer first = desk.answered(desk.ask());
    EXPECT_EQ(first.rides_computed, 3u);   // two recorded rides and the typical descent of the described one
    EXPECT_EQ(first.rides_found, 0u);
    desk.read(What::pad_thickness, desk.pads, 0.9, "2026-05-10");
    desk.read(What::rotor_thickness, desk.rotor, 1.75, "2026-05-10");
    const answer::PapersAnswer second = desk.answered(desk.ask("2026-05-11"));
    EXPECT_EQ(second.rides_computed, 0u);
    EXPECT_EQ(second.rides_found, 3u);
    EXPECT_LT(pad_km(second), 0.75 * pad_km(first));
    const auto thinner = [](const answer::PapersAnswer& a) { return std::any_of(a.answer.verdict.notes.begin(), a.answer.verdict.notes.end(), [](const inspect::Reason& n) { return n.code == "front_rotor_thinner_than_ridden"; }); };
    EXPECT_TRUE(thinner(second));
    EXPECT_FALSE(thinner(first));
    EXPECT_LT(second.answer.life[0].rotor->remaining_km.p50, 0.75 * first.answer.life[0].rotor->remaining_km.p50);
    EXPECT_EQ(answer::json_of(second.answer, "test"), desk.fresh(desk.ask("2026-05-11")));
}

TEST(FromPapers, AnotherSeedBikeOrTagIsAnotherComputation) {
    Desk desk;
    desk.answered(desk.ask());
    answer::FromPapers heavier = desk.ask();
    heavier.total_mass_kg = 120;
    EXPECT_EQ(desk.answered(heavier).rides_computed, 2u);
    answer::FromPapers windy = desk.ask();
    windy.tags.wind_mps = 3;
    EXPECT_EQ(desk.answered(windy).rides_computed, 2u);
    windy.tags.wind_from_deg = 90;
    EXPECT_EQ(desk.answered(windy).rides_computed, 2u);
    windy.tags.wind_from_deg = 100;
    EXPECT_EQ(desk.answered(windy).rides_computed, 2u);
    Context other;
    other.seed = 2;
    EXPECT_EQ(must(answer::answer_from_papers(other, library(), *desk.papers, desk.ask())).rides_computed, 2u);
    // More likely cases ride on the same anchors.
    answer::FromPapers more = desk.ask();
    more.cases = 512;
    EXPECT_EQ(desk.answered(more).rides_computed, 0u);
    EXPECT_EQ(desk.answered(desk.ask()).rides_computed, 0u);
}

TEST(FromPapers, TheWholeAnswerIsFoundAgainUntilSomethingItRestsOnChanges) {
    Desk desk;
    const auto json = [&](const answer::FromPapers& a) { return must(answer::answer_json_from_papers(Context{}, library(), *desk.papers, a)); };
    const answer::PapersJson first = json(desk.ask());
    EXPECT_FALSE(first.found);
    const answer::PapersJson again = json(desk.ask());
    EXPECT_TRUE(again.found);
    EXPECT_EQ(again.json, first.json);
    // An answer that somebody edited in an export is not believed.
    Files edited = exported(*desk.papers);
    edited.erase("papers.json");
    const std::string comfortable = "\"\"remaining_km\"\": {";
    ASSERT_NE(edited["answers.csv"].find(comfortable), std::string::npos);
    edited["answers.csv"].insert(edited["answers.csv"].find(comfortable) + comfortable.size(), " ");
    Folder other;
    const auto papers = must(papers::import_papers(other.path("p"), source_of(edited)));
    const answer::PapersJson honest = must(answer::answer_json_from_papers(Context{}, library(), *papers, desk.ask()));
    EXPECT_FALSE(honest.found);
    EXPECT_EQ(honest.json, first.json);
    EXPECT_FALSE(json(desk.ask("2026-05-03")).found);
    must(desk.papers->hold(deed(), {.id = "", .bike_id = desk.bike, .from_unix_s = 1777620000, .by = "Ada", .why = "a crack", .cleared_unix_s = {}, .cleared_by = "", .cleared_why = ""}));
    const answer::PapersJson held = json(desk.ask());
    EXPECT_FALSE(held.found);
    EXPECT_TRUE(held.do_not_ride);
    EXPECT_TRUE(json(desk.ask()).do_not_ride);
}

TEST(FromPapers, WhatHoldsTheBikeBackInThePapersComesFirstAndTakesTheNumbersAway) {
    Desk desk;
    must(desk.papers->hold(deed(), {.id = "", .bike_id = desk.bike, .from_unix_s = 1777620000, .by = "Ada", .why = "a crack", .cleared_unix_s = {}, .cleared_by = "", .cleared_why = ""}));
    const inspect::Verdict v = desk.answered(desk.ask()).answer.verdict;
    EXPECT_TRUE(v.do_not_ride);
    EXPECT_EQ(v.reasons.front().code, "held_by_a_person");
    // A reading that breaks the limit does the same.
    Desk other;
    other.read(What::pad_thickness, other.pads, 0.4, "2026-05-02");
    EXPECT_TRUE(other.answered(other.ask()).answer.verdict.do_not_ride);
}

// What holds: a person, a reading at the limit, oil on the pads, a hand too weak for any stop.
TEST(FromPapers, WhateverHoldsTheBikeBackNoLifeAndNoDateIsPrintedOfWhatWasLearned) {
    const auto learned_of = [](Desk& desk) { return nlohmann::json::parse(answer::json_of(desk.answered(desk.ask()).answer, "test")).at("learned"); };
    Desk free;
    ASSERT_FALSE(learned_of(free).at("verdict").at("do_not_ride").get<bool>());
    ASSERT_TRUE(learned_of(free).at("parts").at(0).at("remaining_km").is_object());
    ASSERT_TRUE(learned_of(free).at("measure_next").is_object());
    Desk person, limit, oil, hand;
    must(person.papers->hold(deed(), {.id = "", .bike_id = person.bike, .from_unix_s = 1777620000, .by = "Ada", .why = "a leak", .cleared_unix_s = {}, .cleared_by = "", .cleared_why = ""}));
    limit.read(What::pad_thickness, limit.pads, 0.4, "2026-05-02");
    for (auto& [desk, line] : {std::pair<Desk&, const char*>{oil, "front.pads.condition = \"oiled\"\n"}, {hand, "rider.hand.strength_N = 40\n"}}) {
        papers::Bike b = must(desk.papers->bikes()).front();
        b.description_toml += line;
        must(desk.papers->change_bike(deed(), b));
    }
    for (Desk* desk : {&person, &limit, &oil, &hand}) {
        const nlohmann::json out = learned_of(*desk);
        const std::string which = desk == &person ? "a person" : desk == &limit ? "a reading" : desk == &oil ? "oil" : "a hand";
        EXPECT_TRUE(out.at("verdict").at("do_not_ride").get<bool>()) << which;
        EXPECT_EQ(out.at("verdict").at("state"), "held_back") << which;
        EXPECT_FALSE(out.at("verdict").at("reasons").empty()) << which;
        EXPECT_TRUE(out.at("first_due").is_null()) << which;
        EXPECT_TRUE(out.at("measure_next").is_null()) << which;
        for (const nlohmann::json& part : out.at("parts"))
            for (const char* key : {"limit_ride", "remaining_rides", "remaining_km", "remaining_descent_m", "remaining_h", "look_by", "buy_by"}) EXPECT_TRUE(part.at(key).is_null()) << which << " " << key;
    }
}

TEST(FromPapers, RidesAfterAReadingWoreWhatWasRead) {
    // The same rides and readings twice; only the day of one ride differs, before or after the reading.
    Desk before, desk;
    before.add_ride(ride_csv(260, 0.07), "2026-04-25", "one.csv");
    desk.add_ride(ride_csv(260, 0.07), "2026-05-20", "one.csv");
    const answer::PapersAnswer a = before.answered(before.ask("2026-05-21")), b = desk.answered(desk.ask("2026-05-21"));
    // Friction work stands for wear at like temperatures: that ride's share of the mean ride is gone.
    double mean_J = 0, one_J = 0;
    for (const answer::RideAnswer& r : b.answer.rides) {
        mean_J += r.wheel_energy_J[0].p50 / 3;
        if (r.file == "one.csv") one_J = r.wheel_energy_J[0].p50;
    }
    const double gone = a.answer.life[0].pad->remaining_rides.p50 - b.answer.life[0].pad->remaining_rides.p50;
    EXPECT_NEAR(gone, one_J / mean_J, 0.3 * one_J / mean_J);   // temperature moves the wear of a ride by less than that here
    // Ridden down until the estimate is at the limit: the chance of being past it says measure, whatever the last reading said.
    for (int i = 0; i < 180; ++i) desk.add_described(fmt::format("2026-{:02d}-{:02d}", 6 + i / 28, 1 + i % 28), 60000 + i, 3000);
    const answer::PapersAnswer late = desk.answered(desk.ask("2027-02-01"));
    EXPECT_EQ(late.answer.life[0].pad->remaining_km.p05, 0);
    EXPECT_TRUE(has_reason(late.answer.verdict, "front_pads_look_now"));
}

TEST(FromPapers, NewPadsOfUnknownThicknessAreNotTakenForTheOldOnesNorForFresh) {
    Desk desk;
    papers::Part p;
    p.name = "other pads";
    p.kind = papers::PartKind::pads;
    p.compound = parts::Compound::organic;
    const papers::Id id = must(desk.papers->add_part(deed(), p));
    must(desk.papers->put_on(deed(), {.id = "", .part_id = id, .bike_id = desk.bike, .wheel_id = {}, .place = parts::End::front, .from_day = "2026-05-10", .to_day = {}}));
    const answer::BikeOfPapers b = must(answer::bike_of_papers(library(), *desk.papers, desk.bike, "2026-05-11"));
    EXPECT_EQ(b.today.front.pads.compound, parts::Compound::organic);
    EXPECT_FALSE(b.today.given.contains("front.pads.friction_thickness_mm"));
    EXPECT_FALSE(b.today.front.pads.plate_measured);
    EXPECT_FALSE(b.today.front.pads.least_friction_mm);
    EXPECT_GT(b.today.front.pads.friction_thickness_mm.sd, 0.3);
    EXPECT_FALSE(b.pads_since[0]);
    // The day before they were not there.
    EXPECT_EQ(must(answer::bike_of_papers(library(), *desk.papers, desk.bike, "2026-05-09")).today.front.pads.friction_thickness_mm.value, 1.5);
    // The rotor stayed.
    EXPECT_EQ(b.today.front.rotor.thickness_mm.value, 1.84);
    EXPECT_EQ(b.rotor_since[0], "2026-05-01");
}

TEST(FromPapers, NewPadsOfKnownThicknessWereWornSinceTheyCameOn) {
    Desk desk;
    papers::Part p;
    p.name = "new pads";
    p.kind = papers::PartKind::pads;
    p.compound = parts::Compound::sintered;
    p.new_thickness_mm = 2.4;
    const papers::Id id = must(desk.papers->add_part(deed(), p));
    must(desk.papers->put_on(deed(), {.id = "", .part_id = id, .bike_id = desk.bike, .wheel_id = {}, .place = parts::End::front, .from_day = "2026-05-10", .to_day = {}}));
    const answer::BikeOfPapers b = must(answer::bike_of_papers(library(), *desk.papers, desk.bike, "2026-05-11"));
    EXPECT_EQ(b.today.front.pads.friction_thickness_mm.value, 2.4);
    EXPECT_EQ(b.pads_since[0], "2026-05-10");
}

TEST(FromPapers, PadsThatWereOnAnotherBikeSinceTheirReadingAskToBeMeasured) {
    Desk desk;
    const papers::Id other = must(desk.papers->add_bike(deed(), {.id = "", .name = "Crane", .description_toml = description, .added_day = "2026-05-01", .retired_day = {}, .note = ""}, {}, {}));
    must(desk.papers->put_on(deed(), {.id = "", .part_id = desk.pads, .bike_id = other, .wheel_id = {}, .place = parts::End::front, .from_day = "2026-05-05", .to_day = {}}));
    must(desk.papers->put_on(deed(), {.id = "", .part_id = desk.pads, .bike_id = desk.bike, .wheel_id = {}, .place = parts::End::front, .from_day = "2026-05-08", .to_day = {}}));
    EXPECT_TRUE(has_reason(desk.answered(desk.ask("2026-05-09")).answer.verdict, "front_pads_elsewhere"));
    desk.read(What::pad_thickness, desk.pads, 1.4, "2026-05-09");
    EXPECT_FALSE(has_reason(desk.answered(desk.ask("2026-05-09")).answer.verdict, "front_pads_elsewhere"));
}

TEST(FromPapers, TheThinnerPadCountsAndANewerReadingOfOneSideLeavesTheOtherStanding) {
    Desk desk;
    papers::Reading r;
    r.bike_id = desk.bike;
    r.part_id = desk.pads;
    r.what = What::pad_thickness;
    r.with_plate = true;   // the plate of these pads is told as measured: 1.8 mm
    r.day = "2026-05-03";
    r.recorded_unix_s = 1777800000;
    r.person_id = desk.person;
    papers::Point left, right;
    left.side = papers::Side::left;
    left.length_mm = 3.0;
    right.side = papers::Side::right;
    right.length_mm = 3.2;
    r.points = {left, right};
    must(desk.papers->add_reading(deed(), r));
    r.day = "2026-05-04";
    right.length_mm = 3.1;
    r.points = {right};
    must(desk.papers->add_reading(deed(), r));
    const answer::BikeOfPapers b = must(answer::bike_of_papers(library(), *desk.papers, desk.bike, "2026-05-05"));
    EXPECT_NEAR(b.today.front.pads.friction_thickness_mm.value, 1.2, 1e-9);
    // Caliper on the whole and caliper on the plate, independent: the root of two of one reading's uncertainty.
    const inspect::Practice practice = inspect::practice_of(library());
    EXPECT_NEAR(b.today.front.pads.friction_thickness_mm.sd, std::sqrt(2.0) * inspect::standard_uncertainty(practice.caliper), 1e-9);
    EXPECT_EQ(b.pads_since[0], "2026-05-03");   // the older of the two: more rides are taken off, not fewer
}

TEST(FromPapers, WorkOnTheBrakeMakesTheLeverAndTheFluidOtherOnes) {
    Desk desk;
    desk.read(What::lever_bite, "", 31, "2026-05-03");
    desk.read(What::fluid_age, "", 20, "2026-05-03");
    const auto bike = [&](const char* day) { return must(answer::bike_of_papers(library(), *desk.papers, desk.bike, day)).today; };
    EXPECT_EQ(bike("2026-05-03").front.lever.bite_mm.value, 31);
    EXPECT_NEAR(bike("2026-06-03").front.fluid->age_months.value, 20 + 31 / 30.4375, 1e-9);
    must(desk.papers->add_work(deed(), {.id = "", .bike_id = desk.bike, .place = parts::End::front, .kind = papers::WorkKind::bleed, .day = "2026-06-10", .person_id = desk.person, .note = ""}));
    EXPECT_EQ(bike("2026-06-09").front.lever.bite_mm.value, 31);
    EXPECT_FALSE(bike("2026-06-11").given.contains("front.lever.bite_mm"));
    EXPECT_NEAR(bike("2026-06-11").front.fluid->age_months.value, 1 / 30.4375, 1e-9);
    EXPECT_TRUE(bike("2026-06-11").rear.fluid->age_months.value == bike("2026-06-09").rear.fluid->age_months.value);
}

TEST(FromPapers, StoppedHalfWayItGoesOnWhereItWas) {
    Desk desk;
    std::atomic<bool> stop{false};
    Context ctx;
    ctx.stop = &stop;
    ctx.progress = [&](double, std::string_view text) { stop = stop || text.starts_with("r1.csv"); };
    const auto stopped = answer::answer_from_papers(ctx, library(), *desk.papers, desk.ask());
    ASSERT_FALSE(stopped);
    EXPECT_EQ(stopped.error().code, Errc::cancelled);
    const answer::PapersAnswer rest = desk.answered(desk.ask());
    EXPECT_EQ(rest.rides_found, 1u);
    EXPECT_EQ(rest.rides_computed, 1u);
}

TEST(Progress, IsToldInsideMotionAndHeatOfEachRideAndNeverFallsBack) {
    Desk desk;
    std::vector<std::pair<double, std::string>> told;
    Context ctx;
    ctx.progress = [&](double share, std::string_view text) { told.emplace_back(share, text); };
    ASSERT_TRUE(answer::answer_from_papers(ctx, library(), *desk.papers, desk.ask()));
    for (std::size_t i = 1; i < told.size(); ++i) EXPECT_GE(told[i].first, told[i - 1].first - 1e-12) << told[i].second;   // rounding of the sums
    const auto count = [&](std::string_view text) { return std::count_if(told.begin(), told.end(), [&](const auto& t) { return t.second == text; }); };
    for (const char* ride : {"r0.csv", "r1.csv"}) {
        EXPECT_GE(count(fmt::format("{}: motion", ride)), 1);
        EXPECT_GE(count(fmt::format("{}: braking", ride)), 2);
        EXPECT_GE(count(ride), 4);   // heat, in blocks of anchors
    }
}

TEST(FromPapers, ARideOfWhichNothingCanBeMadeIsLeftOutAndNamed) {
    Desk desk;
    desk.add_ride("t_s,altitude_m\n0,100\n1,100\n2,100\n", "2026-04-21", "nothing.csv");
    const answer::PapersAnswer a = desk.answered(desk.ask());
    EXPECT_EQ(a.answer.rides.size(), 2u);
    ASSERT_EQ(a.notes.size(), 1u);
    EXPECT_NE(a.notes.front().find("nothing.csv"), std::string::npos) << a.notes.front();
}

TEST(FromPapers, RidesWithoutAltitudeCountAsTheOthersWhileTheyAreAFifthAtMost) {
    Desk desk;
    const answer::PapersAnswer before = desk.answered(desk.ask());
    std::string flat = "t_s,distance_m,speed_mps\n";
    for (int t = 0; t <= 60; ++t) flat += fmt::format("{},{},6\n", t, 6 * t);
    desk.add_ride(flat, "2026-04-22", "flat.csv");
    const answer::PapersAnswer after = desk.answered(desk.ask());
    ASSERT_TRUE(after.answer.life[0].pad) << after.answer.life_withheld;
    EXPECT_NEAR(std::log(pad_km(after) / pad_km(before)), 0, 0.2);   // the future is drawn from three rides instead of two
    EXPECT_TRUE(std::any_of(after.answer.verdict.notes.begin(), after.answer.verdict.notes.end(), [](const inspect::Reason& n) { return n.code == "rides_not_known"; }));
    // Since the reading, its metres count like those of the others (how they do: tests/wear).
    std::string longer = "t_s,distance_m,speed_mps\n";
    for (int t = 0; t <= 100; ++t) longer += fmt::format("{},{},6\n", t, 6 * t);
    desk.add_ride(longer, "2026-05-01", "since.csv");
    EXPECT_EQ(desk.answered(desk.ask()).answer.learned->as_of, before.answer.learned->as_of + 2);
    // More than a fifth: no life, and why.
    std::string longest = "t_s,distance_m,speed_mps\n";
    for (int t = 0; t <= 200; ++t) longest += fmt::format("{},{},6\n", t, 6 * t);
    desk.add_ride(longest, "2026-04-22", "longest.csv");
    const answer::Answer none = desk.answered(desk.ask()).answer;
    EXPECT_FALSE(none.life[0].pad);
    EXPECT_FALSE(none.life_withheld.empty());
}

TEST(FromPapers, OldRidesCountOnlyWhereNothingNewerIsThereOrAReadingIsThatOld) {
    Desk desk;
    desk.add_ride(ride_csv(200, 0.05), "2024-01-10", "old.csv");
    EXPECT_EQ(desk.answered(desk.ask()).answer.rides.size(), 2u);
    answer::FromPapers all = desk.ask();
    all.since = "2020-01-01";
    EXPECT_EQ(desk.answered(all).answer.rides.size(), 3u);
    answer::FromPapers later = desk.ask("2027-06-01");   // more than a year after the rides, but the readings are older than that too
    EXPECT_EQ(desk.answered(later).answer.rides.size(), 3u);
}

TEST(RideWorkBytes, ComeBackToTheLastBitAndDamagedOnesAreNothing) {
    Desk desk;
    desk.answered(desk.ask());
    std::string bytes;
    for (const auto& [name, content] : exported(*desk.papers))
        if (name.starts_with("doses/")) bytes = content;
    const auto work = answer::work_of(bytes);
    ASSERT_TRUE(work);
    EXPECT_EQ(answer::bytes_of(*work), bytes);
    for (std::size_t n = 0; n < bytes.size(); n += 1 + n / 40) EXPECT_FALSE(answer::work_of(std::string_view(bytes).substr(0, n))) << n;
    EXPECT_FALSE(answer::work_of(bytes + "x"));
    for (std::size_t at = 0; at < bytes.size(); at += 97) {
        std::string other = bytes;
        other[at] = static_cast<char>(other[at] ^ 0x80);
        EXPECT_FALSE(answer::work_of(other)) << at;
        // With a hash that fits: nothing or work, never a crash, never more than there is.
        other.resize(other.size() - 64);
        (void)answer::work_of(other + papers::content_id(other));
    }
}

TEST(LifeFromPapers, IsTheLifeOfTheAnswerAndRunsNoRideAgain) {
    Desk desk;
    desk.add_described("2026-04-25", 9000, 260);
    desk.read(What::pad_thickness, desk.pads, 1.4, "2026-05-10");
    const answer::PapersAnswer a = desk.answered(desk.ask("2026-05-11"));
    const answer::PapersLife life = must(answer::life_from_papers(Context{}, library(), *desk.papers, desk.ask("2026-05-11")));
    EXPECT_EQ(life.rides_computed, 0u);
    ASSERT_TRUE(life.report) << life.withheld;
    ASSERT_TRUE(a.answer.learned);
    const answer::WheelLife& w = a.answer.life[0];
    ASSERT_TRUE(w.pad && w.rotor && life.report->pads[0]);
    EXPECT_EQ(w.pad->remaining_km.p50, life.report->pads[0]->forecast.remaining_km.p50);
    EXPECT_EQ(w.pad->look_by, life.report->pads[0]->look_by);
    EXPECT_FALSE(life.report->pads[1]);
    EXPECT_TRUE(a.answer.life[1].pad) << "of an end without parts in the papers: as on files";
    EXPECT_EQ(life.report->parts.size(), 3u) << "two pads and a rotor in front: the papers know of no others";
}

TEST(LifeFromPapers, ReadingsAfterRidingTellTheWearAndNarrow) {
    Desk desk;
    for (int i = 0; i < 30; ++i) desk.add_described(fmt::format("2026-05-{:02d}", 2 + i % 27), 12000 + i, 400);
    const auto life = [&](const char* today) { return *must(answer::life_from_papers(Context{}, library(), *desk.papers, desk.ask(today))).report; };
    const answer::LifeReport blind = life("2026-06-01");
    const double used_mm = 1.5 - blind.pads[0]->forecast.thickness_mm.p50;
    desk.read(What::pad_thickness, desk.pads, 1.5 - 0.4 * used_mm, "2026-06-01");   // hardly worn: it lasts longer than was thought
    const answer::LifeReport told = life("2026-06-02");
    const auto width = [](const answer::LifeReport& r) { const Interval& i = r.pads[0]->forecast.remaining_km; return std::log(i.p95 / i.p05); };
    EXPECT_LT(width(told), 0.9 * width(blind));
    EXPECT_GT(told.pads[0]->forecast.remaining_km.p50, 1.2 * blind.pads[0]->forecast.remaining_km.p50);
    EXPECT_FALSE(answer::next_words(told).empty());
    ASSERT_TRUE(told.front_share);
}

// New sintered pads at the rear, read on their first day.
papers::Id new_rear_pads(Desk& desk) {
    papers::Part p;
    p.name = "rear pads", p.kind = papers::PartKind::pads, p.compound = parts::Compound::sintered, p.plate_thickness_mm = 1.8, p.plate_measured = true, p.least_thickness_mm = 0.5, p.new_thickness_mm = 1.5;
    const papers::Id rear = must(desk.papers->add_part(deed(), p));
    must(desk.papers->put_on(deed(), {.id = "", .part_id = rear, .bike_id = desk.bike, .wheel_id = {}, .place = parts::End::rear, .from_day = "2026-05-01", .to_day = {}}));
    desk.read(What::pad_thickness, rear, 1.5, "2026-05-01");
    return rear;
}

TEST(FromPapers, UnevenPadsMoveTheHeatToTheWheelThatDoesTheBrakingAndClearNothing) {
    Desk desk;
    const papers::Id rear = new_rear_pads(desk);
    for (int i = 0; i < 20; ++i) desk.add_described(fmt::format("2026-05-{:02d}", 2 + i), 12000 + i, 400);
    const answer::PapersAnswer before = desk.answered(desk.ask("2026-05-30"));
    EXPECT_FALSE(before.answer.share) << "no ride lies between the readings";
    const auto mm = [&](std::size_t e) { return before.answer.learned->pads[e]->forecast.thickness_mm.p50; };
    // Twice and a quarter of what was thought.
    desk.read(What::pad_thickness, desk.pads, 1.5 - 2 * (1.5 - mm(0)), "2026-05-30");
    desk.read(What::pad_thickness, rear, 1.5 - 0.25 * (1.5 - mm(1)), "2026-05-30");
    const answer::PapersAnswer after = desk.answered(desk.ask("2026-05-31"));
    EXPECT_EQ(after.rides_computed, 0u);
    ASSERT_TRUE(after.answer.share);
    EXPECT_GT(after.answer.share->now.p50, before.answer.learned->front_share_before->p50 + 0.03);
    EXPECT_NE(answer::text_of(after.answer, "test").find("Your pads and rotors say that the front does"), std::string::npos);
    for (std::size_t i = 0; i < after.answer.rides.size(); ++i) {
        const answer::RideAnswer &was = before.answer.rides[i], &is = after.answer.rides[i];
        EXPECT_GT(is.wheels[0].rotor_peak_degC.p50, was.wheels[0].rotor_peak_degC.p50) << is.file;
        EXPECT_LT(is.wheels[1].rotor_peak_degC.p50, was.wheels[1].rotor_peak_degC.p50) << is.file;
        EXPECT_GT(is.wheels[0].brake_energy_J.p50, was.wheels[0].brake_energy_J.p50) << is.file;
        EXPECT_NEAR(is.braking.front_J + is.braking.rear_J, was.braking.front_J + was.braking.rear_J, 1e-6 * was.braking.front_J);
        EXPECT_EQ(is.brake_energy_J, was.brake_energy_J) << "all of the braking is what motion says";
        for (std::size_t e = 0; e < 2; ++e) {
            EXPECT_GE(is.wheels[e].judged.rotor_peak_degC.p95, was.wheels[e].judged.rotor_peak_degC.p95);
            EXPECT_GE(is.wheels[e].fade_probability, was.wheels[e].fade_probability);
            EXPECT_GE(is.wheels[e].fluid_boil_probability.value_or(0), was.wheels[e].fluid_boil_probability.value_or(0));
        }
    }
    for (std::size_t s = 0; s < after.answer.stops.size(); ++s) EXPECT_GE(after.answer.stops[s].weak_share, before.answer.stops[s].weak_share);
    // To the last byte on any number of threads.
    Context four;
    four.threads = 4;
    EXPECT_EQ(answer::json_of(must(answer::answer_from_papers(four, library(), *desk.papers, desk.ask("2026-05-31"))).answer, "test"), answer::json_of(after.answer, "test"));
}

TEST(FromPapers, StopsAreWeighedByTheShareThatAnAnswerLearned) {
    Desk desk;
    const papers::Id rear = new_rear_pads(desk);
    for (int i = 0; i < 20; ++i) desk.add_described(fmt::format("2026-05-{:02d}", 2 + i), 12000 + i, 400);
    const answer::PapersAnswer before = desk.answered(desk.ask("2026-05-30"));
    const auto mm = [&](std::size_t e) { return before.answer.learned->pads[e]->forecast.thickness_mm.p50; };
    desk.read(What::pad_thickness, desk.pads, 1.5 - 2 * (1.5 - mm(0)), "2026-05-30");
    desk.read(What::pad_thickness, rear, 1.5 - 0.25 * (1.5 - mm(1)), "2026-05-30");
    const answer::PapersAnswer after = desk.answered(desk.ask("2026-05-31"));
    ASSERT_TRUE(after.answer.share);
    // What was kept is what was learned, and a day before it nothing was.
    const answer::KeptShare of_papers = answer::learned_share_of(*desk.papers, desk.bike, "2026-05-31");
    const auto kept = of_papers.share;
    ASSERT_TRUE(kept) << of_papers.text;
    EXPECT_EQ(of_papers.day, "2026-05-31");
    EXPECT_EQ(of_papers.text, "");
    EXPECT_NEAR(kept->z_mean, after.answer.learned->share->z_mean, 1e-12);
    EXPECT_EQ(kept->anchors.size(), answer::anchor_cases);
    EXPECT_FALSE(answer::learned_share_of(*desk.papers, desk.bike, "2026-05-29").share);
    answer::StopQuestion q;
    q.bike = must(answer::bike_of_papers(library(), *desk.papers, desk.bike, "2026-05-31")).today;
    const answer::StopReport alike = must(answer::stop_report(Context{}, library(), q));
    q.learned = kept, q.learned_day = of_papers.day;
    const answer::StopReport by_share = must(answer::stop_report(Context{}, library(), q));
    EXPECT_FALSE(alike.share);
    ASSERT_TRUE(by_share.share);
    EXPECT_NEAR(by_share.share->now.p50, after.answer.share->now.p50, 1e-12);
    EXPECT_GT(by_share.share->of_cases.p50, by_share.share->before.p50) << "the cases of the stops lean to the front too";
    EXPECT_NE(answer::text_of(by_share).find("Your pads and rotors say"), std::string::npos);
    EXPECT_NE(answer::text_of(by_share).find("Worked out on 2026-05-31"), std::string::npos);
    const auto told = nlohmann::json::parse(answer::json_of(by_share, "test")), untold = nlohmann::json::parse(answer::json_of(alike, "test"));
    EXPECT_TRUE(untold["front_share"].is_null());
    EXPECT_EQ(told["front_share"]["day"], "2026-05-31");
    EXPECT_NEAR(told["front_share"]["now"]["p50"].get<double>(), by_share.share->now.p50, 1e-12);
    EXPECT_TRUE(told["front_share"]["stops_too"].get<bool>());
    ASSERT_EQ(by_share.stops.size(), alike.stops.size());
    bool moved = false;
    for (std::size_t s = 0; s < alike.stops.size(); ++s) {
        const stop::StopAnswer &was = alike.stops[s], &is = by_share.stops[s];
        moved = moved || is.lever_force_N.p50 != was.lever_force_N.p50;
        EXPECT_GE(is.weak_share, was.weak_share);
        EXPECT_GE(is.lever_force_N.p95, was.lever_force_N.p95);
        if (is.brake_distance_m && was.brake_distance_m) {
            EXPECT_GE(is.brake_distance_m->p95, was.brake_distance_m->p95);
        }
    }
    EXPECT_TRUE(moved);
    for (std::size_t e = 0; e < 2; ++e) EXPECT_LE(by_share.levers[e].full_mm.p05, alike.levers[e].full_mm.p05);
    for (std::size_t s = 1; s < alike.stops.size(); ++s) EXPECT_EQ(by_share.stops[s].lever_force_N.p50, alike.stops[s].lever_force_N.p50) << "one brake alone";
}

TEST(FromPapers, AShareStandsOnlyWhileWhatItWasLearnedFromDoes) {
    Desk desk;
    const papers::Id rear = new_rear_pads(desk);
    for (int i = 0; i < 20; ++i) desk.add_described(fmt::format("2026-05-{:02d}", 2 + i), 12000 + i, 400);
    desk.read(What::pad_thickness, desk.pads, 1.2, "2026-05-30");
    const auto said = [&](const char* today) { return answer::learned_share_of(*desk.papers, desk.bike, today); };
    EXPECT_NE(said("2026-05-31").text.find("Not yet worked out since the reading of 2026-05-30"), std::string::npos) << "noted, and nothing was computed yet";
    desk.read(What::pad_thickness, rear, 1.48, "2026-05-30");
    must(answer::life_from_papers(Context{}, library(), *desk.papers, desk.ask("2026-05-31")));
    ASSERT_TRUE(said("2026-05-31").share) << said("2026-05-31").text;
    // A ride of that day or later takes nothing from what was read before it.
    desk.add_described("2026-05-31", 9000, 200);
    desk.add_described("2026-06-02", 9100, 200);
    EXPECT_TRUE(said("2026-06-03").share);
    EXPECT_EQ(said("2026-06-03").text, "");
    // A reading more: what was learned stands, and that there is more is said.
    desk.read(What::pad_thickness, rear, 1.47, "2026-06-03");
    EXPECT_TRUE(said("2026-06-04").share);
    EXPECT_NE(said("2026-06-04").text.find("since the reading of 2026-06-03"), std::string::npos);
    // A ride noted later of a day before: what the readings tell is another thing, until it is worked out again.
    desk.add_described("2026-05-10", 20000, 900);
    EXPECT_FALSE(said("2026-06-04").share);
    EXPECT_NE(said("2026-06-04").text.find("worked out on 2026-05-31) is not used: rides"), std::string::npos) << said("2026-06-04").text;
    must(desk.papers->undo(deed()));
    EXPECT_TRUE(said("2026-06-04").share);
    // Other models: not theirs.
    papers::KeptAnswer row = must(desk.papers->newest_answers(desk.bike, answer::forecast_kind, "2026-06-04", 1)).front();
    const std::string versions = std::exchange(row.model_versions, "wear 0");
    must(desk.papers->keep_answer(row));
    EXPECT_FALSE(said("2026-06-04").share);
    row.model_versions = versions;
    must(desk.papers->keep_answer(row));
    // Taken back one by one, newest first: that reading and the two rides leave it, a reading that it was learned from takes it along.
    for (int i = 0; i < 3; ++i) must(desk.papers->undo(deed()));
    EXPECT_TRUE(said("2026-06-04").share);
    must(desk.papers->undo(deed()));
    EXPECT_FALSE(said("2026-06-04").share);
    EXPECT_NE(said("2026-06-04").text.find("a reading that it rests on was taken back"), std::string::npos) << said("2026-06-04").text;
}

TEST(FromPapers, AShareIsTiedToTheDescriptionThePartsAndTheRidesOfItsOwnDay) {
    Desk desk;
    const papers::Id rear = new_rear_pads(desk);
    for (int i = 0; i < 20; ++i) desk.add_described(fmt::format("2026-05-{:02d}", 2 + i), 12000 + i, 400);
    desk.read(What::pad_thickness, desk.pads, 1.2, "2026-05-30");
    desk.read(What::pad_thickness, rear, 1.48, "2026-05-30");
    desk.add_described("2026-05-31", 8000, 150);
    const auto said = [&] { return answer::learned_share_of(*desk.papers, desk.bike, "2026-05-31"); };
    must(answer::life_from_papers(Context{}, library(), *desk.papers, desk.ask("2026-05-31")));
    ASSERT_TRUE(said().share) << said().text;
    // Another mass in the description.
    papers::Bike heron = must(desk.papers->bikes()).front();
    std::string heavier = heron.description_toml;
    heavier.replace(heavier.find("total_mass_kg = 95"), 18, "total_mass_kg = 99");
    heron.description_toml = heavier;
    must(desk.papers->change_bike(deed(), heron));
    EXPECT_FALSE(said().share);
    EXPECT_NE(said().text.find("the bike's description"), std::string::npos) << said().text;
    must(desk.papers->undo(deed()));
    EXPECT_TRUE(said().share) << said().text;
    // Another ride of that very day in place of the one: as many rides, not the same.
    must(desk.papers->undo(deed()));
    desk.add_described("2026-05-31", 30000, 1500);
    EXPECT_FALSE(said().share);
    EXPECT_NE(said().text.find("rides, pads or rotors that it rests on"), std::string::npos) << said().text;
    desk.add_described("2026-05-31", 8000, 150);   // one more takes nothing from it, once the one is there again
    EXPECT_TRUE(said().share) << said().text;
}

TEST(FromPapers, AReadingNotedWhileRidesWereComputedIsNotTakenAsKnown) {
    Desk desk;
    const papers::Id rear = new_rear_pads(desk);
    for (int i = 0; i < 20; ++i) desk.add_described(fmt::format("2026-05-{:02d}", 2 + i), 12000 + i, 400);
    desk.read(What::pad_thickness, desk.pads, 1.2, "2026-05-30");
    bool noted = false;
    Context ctx;
    ctx.progress = [&](double, std::string_view) {
        if (!std::exchange(noted, true)) desk.read(What::pad_thickness, rear, 1.48, "2026-05-30");
    };
    must(answer::life_from_papers(ctx, library(), *desk.papers, desk.ask("2026-05-31")));
    ASSERT_TRUE(noted);
    EXPECT_NE(answer::learned_share_of(*desk.papers, desk.bike, "2026-05-31").text.find("Not yet worked out since the reading of 2026-05-30"), std::string::npos);
}

TEST(FromPapers, WhereNoLifeIsGivenAShareIsNotCalledNotYetWorkedOut) {
    Desk desk;
    std::string flat = "t_s,distance_m,speed_mps\n";
    for (int t = 0; t <= 900; ++t) flat += fmt::format("{},{},6\n", t, 6 * t);
    desk.add_ride(flat, "2026-05-20", "flat.csv");
    desk.read(What::pad_thickness, desk.pads, 1.4, "2026-05-30");
    const auto said = [&] { return answer::learned_share_of(*desk.papers, desk.bike, "2026-05-31"); };
    EXPECT_NE(said().text.find("Not yet worked out"), std::string::npos);
    const answer::PapersLife life = must(answer::life_from_papers(Context{}, library(), *desk.papers, desk.ask("2026-05-31")));
    ASSERT_FALSE(life.report);
    EXPECT_FALSE(said().share);
    EXPECT_EQ(said().text.find("Not yet worked out"), std::string::npos) << said().text;
    EXPECT_NE(said().text.find(life.withheld), std::string::npos) << "why: " << said().text;
    EXPECT_EQ(said().text.find("Work it out"), std::string::npos) << "it would say no more: " << said().text;
    // Rides that were noted since, of that day or a later one, can be those that were wanting: then it is to be worked out again.
    desk.add_described("2026-05-31", 12000, 400);
    EXPECT_NE(said().text.find("rides were noted since. Work it out"), std::string::npos) << said().text;
    EXPECT_EQ(said().text.find(life.withheld), std::string::npos) << "no longer why: " << said().text;
    must(desk.papers->undo(deed()));
    EXPECT_NE(said().text.find(life.withheld), std::string::npos) << said().text;
    desk.add_described("2026-06-02", 12000, 400);
    EXPECT_NE(said().text.find(life.withheld), std::string::npos) << "of a day to come: " << said().text;
    EXPECT_NE(answer::learned_share_of(*desk.papers, desk.bike, "2026-06-03").text.find("rides were noted since. Work it out"), std::string::npos);
    // One of an earlier day, and another description.
    desk.add_described("2026-05-21", 12000, 400);
    EXPECT_NE(said().text.find("noted later. Work it out"), std::string::npos) << said().text;
    must(desk.papers->undo(deed()));
    papers::Bike heron = must(desk.papers->bikes()).front();
    heron.description_toml.replace(heron.description_toml.find("total_mass_kg = 95"), 18, "total_mass_kg = 99");
    must(desk.papers->change_bike(deed(), heron));
    EXPECT_NE(said().text.find("has changed since. Work it out"), std::string::npos) << said().text;
    must(desk.papers->undo(deed()));
    // One more reading is in none of it.
    desk.read(What::pad_thickness, desk.pads, 1.39, "2026-05-31");
    EXPECT_NE(said().text.find("Not yet worked out since the reading of 2026-05-31"), std::string::npos) << said().text;
}

TEST(FromPapers, AFrontThatDoesMoreThanAnyCaseReachesIsSaidByThePapersVerdictToo) {
    Desk desk;
    const papers::Id rear = new_rear_pads(desk);
    for (int i = 0; i < 40; ++i) desk.add_described(fmt::format("2026-05-{:02d}", 2 + i % 28), 12000 + i, 1200);
    desk.read(What::pad_thickness, desk.pads, 0.95, "2026-05-30");
    desk.read(What::pad_thickness, rear, 1.5, "2026-05-30");
    const answer::PapersAnswer a = desk.answered(desk.ask("2026-05-31"));
    ASSERT_TRUE(a.answer.share);
    ASSERT_FALSE(a.answer.share->whole);
    EXPECT_TRUE(std::any_of(a.answer.computed.begin(), a.answer.computed.end(), [](const inspect::Check& c) { return c.code == "front_share_beyond_cases"; }));
    const auto& said = a.answer.verdict.reasons;
    EXPECT_EQ(std::count_if(said.begin(), said.end(), [](const inspect::Reason& r) { return r.code == "front_share_beyond_cases"; }), 1);
    const auto kept = must(desk.papers->answers(desk.bike, answer::forecast_kind));
    ASSERT_FALSE(kept.empty());
    EXPECT_TRUE(std::any_of(kept.begin(), kept.end(), [](const papers::KeptAnswer& k) { return k.json.find("front_share_beyond_cases") != std::string::npos; })) << "what every verdict of the papers reads";
}

TEST(LifeFromPapers, AReadingThatNoKnownRideExplainsIsWhereItStartsAgain) {
    Desk desk;   // no ride between the two readings
    desk.read(What::pad_thickness, desk.pads, 0.9, "2026-05-10");
    const answer::LifeReport r = *must(answer::life_from_papers(Context{}, library(), *desk.papers, desk.ask("2026-05-11"))).report;
    EXPECT_NEAR(r.pads[0]->forecast.thickness_mm.p50, 0.9, 0.1);
}

TEST(LifeFromPapers, ForecastsAreKeptAndJudgedOnceTheSetIsOff) {
    Desk desk;
    const auto life = [&](const std::string& today) { return *must(answer::life_from_papers(Context{}, library(), *desk.papers, desk.ask(today))).report; };
    life("2026-05-02");
    EXPECT_EQ(must(desk.papers->answers(desk.bike, answer::forecast_kind)).size(), 1u);
    double mm = 1.5;
    for (int month = 5; month <= 8; ++month) {
        for (int i = 0; i < 20; ++i) desk.add_described(fmt::format("2026-{:02d}-{:02d}", month, 3 + i), 15000 + i + month, 600);
        mm -= 0.23;
        desk.read(What::pad_thickness, desk.pads, mm, fmt::format("2026-{:02d}-26", month));
        const answer::LifeReport r = life(fmt::format("2026-{:02d}-27", month));
        EXPECT_EQ(r.score->judged, 0);
    }
    papers::Part p;
    p.name = "second pads";
    p.kind = papers::PartKind::pads;
    p.compound = parts::Compound::sintered;
    p.new_thickness_mm = 2.2;
    const papers::Id second = must(desk.papers->add_part(deed(), p));
    must(desk.papers->put_on(deed(), {.id = "", .part_id = second, .bike_id = desk.bike, .wheel_id = {}, .place = parts::End::front, .from_day = "2026-08-28", .to_day = {}}));
    const answer::LifeReport r = life("2026-08-29");
    ASSERT_TRUE(r.score);
    EXPECT_EQ(r.score->judged, 10) << "five days, two pads";
    EXPECT_EQ(r.score->held + static_cast<int>(r.score->misses.size()), r.score->judged);
    EXPECT_GE(r.score->held, 5) << answer::score_words(*r.score);
    EXPECT_NE(answer::score_words(*r.score).find("of 10,"), std::string::npos);
}

// Kept work outlives a program. When these figures move, the models have: say so in the changelog, raise the numbers in
// src/answer/model_versions.hpp, and put the new figures here. Tolerance: the last digits of another compiler.
TEST(ModelVersions, AreRaisedWhenTheFiguresOfARideMove) {
    Desk desk;
    const answer::Answer a = desk.answered(desk.ask()).answer;
    const answer::RideAnswer& r = a.rides[0];
    ASSERT_EQ(answer::work_models, "parts 1, balance 1, ride 7, heat 10, stop 1, work 3");
    const auto near = [](double value, double kept) { EXPECT_NEAR(value, kept, 1e-7 * std::abs(kept)) << fmt::format("now {:.10g}", value); };
    near(r.brake_energy_J.p50, 74219.86648);
    near(r.wheel_energy_J[0].p50, 41687.09607);
    near(r.wheels[0].rotor_peak_degC.p50, 173.0505719);
    near(r.wheels[0].rotor_hottest_ring_degC.p95, 267.3143656);
    near(r.wheels[1].pad_face_peak_degC.p50, 161.1420373);
    near(r.wheels[1].fluid_peak_degC.p95, 56.83386822);
    near(r.wheels[0].lever_force_factor.p95, 1.186660107);
    near(r.wheels[0].rotor_under_pad_peak_degC->p50, 200.8347403);
    near(r.wheels[0].hold_lever_force_N.p95, 31.61198355);
    ASSERT_EQ(answer::answer_models, "inspect 3, stop 2, wear 7, papers 2, answer 12");
    near(a.stops[0].brake_distance_m->p50, 8.958106819);
    near(a.life[0].pad->remaining_km.p50, 1823.667638);
    near(a.life[0].rotor->remaining_km.p50, 23652.0959);
}
