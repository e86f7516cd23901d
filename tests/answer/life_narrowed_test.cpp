// SPDX-License-Identifier: Apache-2.0
// How a part's forecast narrowed: each moment uses only what was known by then.
#include <gtest/gtest.h>

#include <algorithm>
#include <nlohmann/json.hpp>

#include "answer/life.hpp"
#include "answer/life_figures.hpp"

using namespace bw;

namespace {

const parts::Library& library() {
    static const parts::Library loaded = *parts::load_library();
    return loaded;
}

// Sixty rides of an invented rider, front pads that lose 0.01 mm a ride, read after rides 15, 30 and 45.
answer::LifeAsk ask_of(std::size_t readings) {
    answer::LifeAsk ask;
    ask.history = answer::history_of(answer::invented_riders()[1], true);
    for (wear::FittedRow& f : ask.history.fitted) f.start_ride = 1;
    ask.priors = wear::default_priors(library());
    ask.as_of = ask.history.rides.back().ride;
    const wear::FittedRow& pad = ask.history.fitted.front();
    for (std::size_t i = 0; i < readings; ++i) {
        const long ride = 15 * static_cast<long>(i + 1);
        ask.history.readings.push_back({.ride = ride, .day = {}, .component = pad.component, .set = pad.set, .thickness_mm = pad.new_mm - 0.01 * static_cast<double>(ride), .sd_mm = 0.05, .resolution_mm = 0.01});
    }
    return ask;
}

answer::PartLife pad_of(const answer::LifeAsk& ask) {
    answer::PartLife part;
    part.fitted = ask.history.fitted.front();
    part.name = "front left pad";
    return part;
}

}  // namespace

TEST(LifeNarrowed, StartsWhenThePartWentOnAndNarrowsWithReadings) {
    const answer::LifeAsk ask = ask_of(3);
    const auto list = answer::life_narrowed({}, ask, pad_of(ask));
    ASSERT_TRUE(list) << list.error().text;
    ASSERT_EQ(list->size(), 4u);
    for (std::size_t i = 0; i < 4; ++i) {
        EXPECT_EQ((*list)[i].readings, static_cast<int>(i));
        EXPECT_EQ((*list)[i].as_of, 15 * static_cast<long>(i));
        EXPECT_LE((*list)[i].life_km.p05, (*list)[i].life_km.p50);
        EXPECT_LE((*list)[i].life_km.p50, (*list)[i].life_km.p95);
    }
    const auto width = [](const answer::Narrowed& n) { return n.life_km.p95 / n.life_km.p05; };
    EXPECT_LT(width(list->back()), 0.5 * width(list->front()));
}

TEST(LifeNarrowed, WhatCameLaterChangesNothing) {
    const answer::LifeAsk all = ask_of(3), cut = ask_of(2);
    const auto a = answer::life_narrowed({}, all, pad_of(all)), b = answer::life_narrowed({}, cut, pad_of(cut));
    ASSERT_TRUE(a && b);
    ASSERT_EQ(b->size(), 3u);
    for (std::size_t i = 0; i < 3; ++i) {
        EXPECT_EQ((*a)[i].life_km.p50, (*b)[i].life_km.p50) << i;
        EXPECT_EQ((*a)[i].life_km.p95, (*b)[i].life_km.p95) << i;
    }
}

TEST(LifeNarrowed, TheNewestAreTakenWhereThereAreMany) {
    const answer::LifeAsk ask = ask_of(3);
    const auto list = answer::life_narrowed({}, ask, pad_of(ask), 2);
    ASSERT_TRUE(list);
    ASSERT_EQ(list->size(), 3u);
    EXPECT_EQ((*list)[1].as_of, 30);
    EXPECT_EQ((*list)[2].as_of, 45);
}

// What comes first is a part of which somebody knows where it stands; of the other the reasons ask for a reading.
TEST(LifeReport, APartThatNobodyMeasuredAndThatMayBeWornOutIsAskedForAndDoesNotComeFirst) {
    answer::LifeAsk ask = ask_of(3);
    wear::FittedRow rotor{wear::Component::rear_rotor, "1", 1, "", 1.8, 1.75, 6000};
    rotor.new_sd_mm = 0.15;
    ask.history.fitted.push_back(rotor);
    const auto report = answer::life_report({}, library(), ask);
    ASSERT_TRUE(report) << report.error().text;
    const auto at = std::find_if(report->parts.begin(), report->parts.end(), [](const answer::PartLife& p) { return p.fitted.component == wear::Component::rear_rotor; });
    ASSERT_NE(at, report->parts.end());
    ASSERT_GT(at->forecast.limit_reached_probability, 0.05);
    EXPECT_NE(report->parts[report->first].fitted.component, wear::Component::rear_rotor);
    EXPECT_TRUE(std::any_of(report->reasons.begin(), report->reasons.end(), [](const std::string& r) { return r.find("rear rotor") != std::string::npos; }));
    EXPECT_TRUE(report->doubt || report->replace);
    // It is measured before anything is said of the others.
    EXPECT_EQ(report->unread, std::vector{wear::Component::rear_rotor});
    ASSERT_FALSE(report->next.empty());
    EXPECT_EQ(report->next.front().component, wear::Component::rear_rotor);
    EXPECT_EQ(answer::next_words(*report).rfind("Measure next: the rear rotor (3 minutes). ", 0), 0u) << answer::next_words(*report);
    const std::string text = answer::text_of(*report);
    EXPECT_LT(text.find("Measure next: the rear rotor"), text.find("First due of the others: ")) << text;
    EXPECT_NE(text.find("First due of the others: "), std::string::npos) << text;
    EXPECT_NE(answer::json_of(*report, 1, "test").find("\"unread\": [\n    \"rear_rotor\"\n  ]"), std::string::npos);
    // Each with the minutes of its own look, and never measured is said of what was never read alone.
    EXPECT_NE(answer::next_words(*report).find("the rear rotor (3 minutes). Nobody has measured the rear rotor, and"), std::string::npos) << answer::next_words(*report);
    answer::LifeAsk slip = ask;
    slip.history.readings.push_back({.ride = ask.as_of, .day = {}, .component = rotor.component, .set = rotor.set, .thickness_mm = 3.2, .sd_mm = 0.003, .resolution_mm = 0.001});
    const auto slipped = answer::life_report({}, library(), slip);
    ASSERT_TRUE(slipped) << slipped.error().text;
    EXPECT_EQ(answer::text_of(*slipped).find("Nobody has measured"), std::string::npos) << answer::text_of(*slipped);
    EXPECT_NE(answer::text_of(*slipped).find("Measure the rear rotor again"), std::string::npos);
    // Under a reason not to ride nothing speaks of another order.
    answer::LifeReport held = *report;
    held.shortened = {"what is said of it may be too short."}, held.questions = held.shortened;
    answer::hold_back(held, "Do not ride: for a test.");
    EXPECT_TRUE(held.unread.empty() && held.shortened.empty() && held.questions.empty());
    // Once read it is known, and comes first where it does.
    ask.history.readings.push_back({.ride = ask.as_of, .day = {}, .component = rotor.component, .set = rotor.set, .thickness_mm = 1.752, .sd_mm = 0.003, .resolution_mm = 0.001});
    const auto read = answer::life_report({}, library(), ask);
    ASSERT_TRUE(read);
    EXPECT_EQ(read->parts[read->first].fitted.component, wear::Component::rear_rotor);
    EXPECT_TRUE(read->unread.empty());
    // What a reason asks to measure is never one whose reading would change nothing; where no reading narrows much, the reasons' comes first.
    answer::LifeReport idle = *read;
    for (answer::NextReading& n : idle.next) n.narrows = n.component == idle.next.front().component ? 0.5 : 0.99;
    for (const auto& [chance, named] : {std::pair{0.0, true}, {0.01, false}}) {
        for (answer::PartLife& p : idle.parts) p.forecast.limit_reached_probability = 0, p.forecast.look_by_rides = 100;
        for (auto& p : idle.pads)
            if (p) p->forecast.limit_reached_probability = 0, p->forecast.look_by_rides = 100;
        const answer::NextReading& other = idle.next.back();
        for (answer::PartLife& p : idle.parts)
            if (p.fitted.component == other.component) p.forecast.limit_reached_probability = chance;
        const std::string said = answer::next_words(idle);
        const std::size_t at_idle = said.find(" Measuring ");
        EXPECT_EQ(at_idle != std::string::npos && said.find(other.name, at_idle) != std::string::npos, named) << said;
    }
    for (answer::NextReading& n : idle.next) n.narrows = 0.95;
    EXPECT_EQ(answer::next_words(idle).rfind("Measure what the reasons ask for. Beyond that no thickness", 0), 0u) << answer::next_words(idle);
    EXPECT_EQ(answer::next_words(idle).find("would tell more than one today"), std::string::npos);
    EXPECT_EQ(answer::text_of(*read).find("of the others"), std::string::npos);
}

// No comfortable word about a part that may be at its limit today.
TEST(LifeReport, WhatMayBeAtItsLimitTodayIsBoughtAndLookedAtNowAndWhatIsGoneIsSaidToBe) {
    answer::LifeAsk ask = ask_of(4);   // the last one after the last ride; the right pad is never read
    const wear::FittedRow pad = ask.history.fitted.front();
    for (wear::FittedRow& f : ask.history.fitted)
        if (!is_rotor(f.component) && wear::wheel_of(f.component) == 0) f.limit_mm = pad.new_mm - 0.61;
    auto near = answer::life_report({}, library(), ask);
    ASSERT_TRUE(near) << near.error().text;
    ASSERT_FALSE(near->hold);
    const answer::PartLife& first = near->parts[near->first];
    ASSERT_EQ(first.fitted.component, pad.component);
    ASSERT_GT(first.forecast.limit_reached_probability, 0.05);
    std::string text = answer::text_of(*near);
    for (std::size_t at = 0; (at = text.find("\n  ", at)) != std::string::npos;) text.replace(at, 3, " ");   // lines as they were before they were broken
    EXPECT_EQ(answer::next_words(*near).rfind("Measure next: the front right pad (6 minutes). ", 0), 0u) << "the left one was: " << answer::next_words(*near);
    EXPECT_NE(text.find("Have its successor now: the chance that"), std::string::npos) << text;
    EXPECT_EQ(text.find("one chance in twenty"), std::string::npos) << text;
    EXPECT_NE(text.find("Look at it before the next ride"), std::string::npos) << text;
    EXPECT_EQ(text.find("Look by: 0 rides"), std::string::npos) << text;
    // Due within the time of an order, in text and JSON; a day behind that is told.
    answer::PartLife& due = near->parts[near->first];
    due.forecast.limit_reached_probability = 0.02, due.forecast.days_p05 = 3, due.buy_by = 20'000;
    const auto in_json = [&] {
        const nlohmann::json all = nlohmann::json::parse(answer::json_of(*near, 1, "test"));
        for (const auto& p : all["parts"])
            if (p["component"] == word_of(pad.component)) return p["buy_text"];
        return nlohmann::json();
    };
    EXPECT_EQ(in_json(), "Have its successor now: the chance that it is due within two weeks is one in twenty or more.");
    due.forecast.days_p05 = 40;
    EXPECT_EQ(in_json(), "Have its successor by 2024-10-04: there is one chance in twenty that it is due two weeks later.");
    near->parts[near->first].forecast.thickness_mm = {-0.4, -0.2, -0.1};
    const std::string gone = answer::text_of(*near);
    EXPECT_NE(gone.find("most likely no friction material left, limit"), std::string::npos) << gone;
    EXPECT_EQ(gone.find("0 to 0 mm"), std::string::npos) << gone;
}

// A rough reading at the limit after a sure one does not take its place: what betters the rough one alone clears nothing.
TEST(LifeReport, OfSeveralReadingsAtTheLimitTheSurestStands) {
    answer::LifeAsk ask = ask_of(0);
    const wear::FittedRow pad = ask.history.fitted.front();
    const auto read = [&](double mm, double sd_mm) { ask.history.readings.push_back({.ride = ask.as_of, .day = {}, .component = pad.component, .set = pad.set, .thickness_mm = mm, .sd_mm = sd_mm, .resolution_mm = 0}); };
    read(pad.limit_mm - 0.1, 0.02), read(pad.limit_mm - 0.1, 0.2), read(pad.limit_mm + 0.3, 0.1);
    const auto held = answer::life_report({}, library(), ask);
    ASSERT_TRUE(held) << held.error().text;
    EXPECT_TRUE(held->hold);
    EXPECT_NE(answer::json_of(*held, 1, "test").find("\"measure_next\": null"), std::string::npos);
    read(pad.limit_mm + 0.3, 0.01);
    const auto cleared = answer::life_report({}, library(), ask);
    ASSERT_TRUE(cleared);
    EXPECT_FALSE(cleared->hold);
}
