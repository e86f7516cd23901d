// SPDX-License-Identifier: Apache-2.0
// Temperatures in the papers: those of a moment of a ride narrow its band, all others move nothing and say why.
// Oracle: the curve of the hot end of the cases themselves, read as a probe would read it: the band must go there, and get narrower.
#include <fmt/format.h>

#include <algorithm>
#include <cmath>

#include "../../src/answer/ride_temperatures.hpp"
#include "../papers/desk.hpp"
#include "answer/from_papers.hpp"
#include "base/time.hpp"
#include "heron.hpp"

using namespace bw;
using namespace bw::papers::testing;
using papers::What;

namespace {

constexpr const char* day = "2026-04-10";
double start_unix_s() { return 86400.0 * static_cast<double>(*parse_day(day)) + 36000; }

struct Desk {
    Folder folder;
    std::unique_ptr<papers::Papers> papers = must(papers::make_papers(folder.path("p")));
    papers::Id bike, person;

    explicit Desk(std::vector<papers::Part> parts = {}, std::vector<papers::Fitting> fittings = {}) {
        person = must(papers->put_person(deed(), {.id = "", .name = "Ada", .hand_size_cm = {}, .hand_strength_N = {}, .mass_kg = {}, .repeat_sd_mm = {}, .note = ""}));
        bike = must(papers->add_bike(deed(), {.id = "", .name = "Heron", .description_toml = description, .added_day = "2026-04-01", .retired_day = {}, .note = ""}, std::move(parts), std::move(fittings)));
        ride("down.csv", 0, 300);
    }
    void ride(const std::string& file, double after_start_s, int seconds) {
        must(papers->add_ride(deed(), {.id = "", .bike_id = bike, .kind = papers::RideKind::recorded, .file_name = file, .start_unix_s = start_unix_s() + after_start_s, .day = format_day(*parse_day(day) + static_cast<long>(after_start_s / 86400)), .duration_s = {}, .distance_m = {}, .descent_m = {}, .stops_per_km = {}, .surface = "dry", .weather = "dry", .wind_mps = {}, .air_degC = {}, .load_kg = {}, .note = ""}, ride_csv(seconds, 0.08)));
    }
    void read(What what, double degC, std::optional<double> after_start_s, std::optional<double> set_emissivity = {}, std::optional<papers::Id> part = {}) {
        papers::Reading x;
        x.bike_id = bike;
        x.what = what;
        x.day = day;
        x.recorded_unix_s = start_unix_s() + 40000;
        x.person_id = person;
        if (after_start_s) x.read_unix_s = start_unix_s() + *after_start_s;
        x.set_emissivity = set_emissivity;
        x.part_id = part;
        papers::Point p;
        p.temperature_degC = degC;
        x.points = {p};
        must(papers->add_reading(deed(), x));
    }
    answer::FromPapers asked(bool keep_series = false) const {
        return {.bike = bike, .today = "2026-05-02", .made_unix_s = 1, .version = "test", .since = {}, .tags = {}, .planned = {}, .total_mass_kg = {}, .stop_grade = 0, .cases = 256, .altitude = {}, .keep_series = keep_series};
    }
    answer::Answer answered(bool keep_series = false) { return must(answer::answer_from_papers(Context{}, library(), *papers, asked(keep_series))).answer; }
    papers::Id key() { return must(answer::answer_key_from_papers(Context{}, library(), *papers, asked())); }
};

const answer::WheelHeatAnswer& front(const answer::Answer& a) { return a.rides.at(0).wheels[0]; }
double width(const Interval& i) { return i.p95 - i.p05; }

}  // namespace

TEST(RideTemperatures, AReadingMadeOfTheHotEndsCurvePullsTheBandThereAndNarrowsIt) {
    Desk desk;
    const answer::Answer before = desk.answered(true);
    ASSERT_TRUE(before.temperatures.empty());
    const std::vector<double>& hot = before.rides.at(0).series.rotor_p95_degC[0];
    const auto at = std::max_element(hot.begin(), hot.end());
    desk.read(What::rotor_temperature, *at, static_cast<double>(at - hot.begin()));
    const answer::Answer after = desk.answered();
    const Interval was = front(before).rotor_peak_degC, is = front(after).rotor_peak_degC;
    EXPECT_LT(width(is), 0.8 * width(was));
    EXPECT_GT(is.p50, was.p50 + 0.25 * (*at - was.p50));
    EXPECT_LE(is.p05, *at);
    EXPECT_GE(is.p95, *at - 0.1 * width(was));
    ASSERT_GE(after.temperatures.size(), 1u);
    EXPECT_NE(after.temperatures[0].find("on down.csv narrowed the rotor's band from "), std::string::npos) << after.temperatures[0];
    // What a verdict rests on is never softer for a reading.
    EXPECT_GE(front(after).fade_probability, front(before).fade_probability);
    EXPECT_GE(front(after).judged.pad_face_degC.p95, front(before).judged.pad_face_degC.p95);
}

TEST(RideTemperatures, ACoolOneLowersTheBandAndClearsNothing) {
    Desk desk;
    const answer::Answer before = desk.answered(true);
    const std::vector<double>& cool = before.rides.at(0).series.rotor_p05_degC[0];
    const auto at = std::max_element(cool.begin(), cool.end());
    desk.read(What::rotor_temperature, *at, static_cast<double>(at - cool.begin()));
    const answer::Answer after = desk.answered();
    EXPECT_LT(front(after).rotor_peak_degC.p50, front(before).rotor_peak_degC.p50);
    EXPECT_GE(front(after).judged.rotor_peak_degC.p50, front(before).judged.rotor_peak_degC.p50);
    EXPECT_GE(front(after).fade_probability, front(before).fade_probability);
    EXPECT_GE(front(after).gap_taken_mm, front(before).gap_taken_mm);
}

TEST(RideTemperatures, AReadingOfNoMomentOfARideMovesNothingAndSaysWhy) {
    const answer::Answer before = Desk().answered();
    const std::tuple<double, std::optional<double>, const char*> all[] = {{60, std::nullopt, "nobody said when it was read"}, {60, -3600, "no recorded ride"}, {60, 300 + 960, "no recorded ride"}, {900, 200, "fits no likely case"}};
    for (const auto& [degC, after_s, why] : all) {
        Desk desk;
        desk.read(What::caliper_temperature, degC, after_s);
        const answer::Answer after = desk.answered();
        ASSERT_EQ(after.temperatures.size(), 1u) << why;
        EXPECT_NE(after.temperatures[0].find(why), std::string::npos) << after.temperatures[0];
        EXPECT_EQ(front(after).rotor_peak_degC.p05, front(before).rotor_peak_degC.p05) << why;
        EXPECT_EQ(front(after).rotor_peak_degC.p95, front(before).rotor_peak_degC.p95) << why;
    }
}

TEST(RideTemperatures, BareMetalReadByInfraRedIsNotTakenAtItsWord) {
    Desk desk, probe;
    const answer::Answer before = desk.answered(true);
    const std::vector<double>& middle = before.rides.at(0).series.rotor_degC[0];
    const auto at = std::max_element(middle.begin(), middle.end());
    const double shown = std::max(0.5 * *at, before.rides.at(0).series.rotor_p05_degC[0][static_cast<std::size_t>(at - middle.begin())]);
    desk.read(What::rotor_temperature, shown, static_cast<double>(at - middle.begin()), 0.95);
    probe.read(What::rotor_temperature, shown, static_cast<double>(at - middle.begin()));
    EXPECT_GT(front(desk.answered()).rotor_peak_degC.p50, front(probe.answered()).rotor_peak_degC.p50);
}

// Each ride is computed from a cold brake, so only of the first of two that follow each other a temperature can tell.
TEST(RideTemperatures, OfTwoRidesTwoMinutesApartAReadingGoesToTheOneThatGoesOnAndOfAWarmStartItIsIdle) {
    Desk desk;
    desk.ride("again.csv", 420, 310);
    const answer::Answer before = desk.answered(true);
    ASSERT_EQ(before.rides.size(), 2u);
    const auto bands = [](const answer::Answer& a) { return std::array{a.rides.at(0).wheels[0].rotor_peak_degC, a.rides.at(1).wheels[0].rotor_peak_degC}; };
    const std::size_t first = before.rides[0].file == "down.csv" ? 0 : 1;
    for (const double after_start_s : {420.0 + 200, 420.0 + 310 + 100}) {   // on the second, and after it: the first ended less than 15 minutes before either
        Desk two;
        two.ride("again.csv", 420, 310);
        two.read(What::rotor_temperature, before.rides[first].series.rotor_degC[0].at(200), after_start_s);
        const answer::Answer after = two.answered();
        ASSERT_EQ(after.temperatures.size(), 1u);
        EXPECT_NE(after.temperatures[0].find("down.csv ended less than 15 minutes before again.csv began"), std::string::npos) << after.temperatures[0];
        for (std::size_t i = 0; i < 2; ++i) {
            EXPECT_EQ(bands(after)[i].p50, bands(before)[i].p50);
            EXPECT_EQ(bands(after)[i].p95, bands(before)[i].p95);
        }
    }
    // Between the two it tells of the first.
    desk.read(What::rotor_temperature, before.rides[first].series.rotor_degC[0].back() - 5, 300 + 60);
    const answer::Answer after = desk.answered();
    ASSERT_EQ(after.temperatures.size(), 2u);
    EXPECT_NE(after.temperatures[0].find(" on down.csv "), std::string::npos) << after.temperatures[0];
    // More than 15 minutes apart each has its own.
    Desk apart;
    apart.ride("again.csv", 300 + 960, 310);
    apart.read(What::rotor_temperature, before.rides[first].series.rotor_degC[0].at(200), 300 + 960 + 200);
    const answer::Answer of_second = apart.answered();
    ASSERT_EQ(of_second.temperatures.size(), 2u);
    EXPECT_NE(of_second.temperatures[0].find(" on again.csv "), std::string::npos) << of_second.temperatures[0];
}

TEST(RideTemperatures, AReadingOfARotorOrCaliperThatIsNotThereTodayIsIdleAndTheKeyKnows) {
    const auto part = [](const char* name, papers::PartKind kind) {
        papers::Part p;
        p.name = name, p.kind = kind;
        return p;
    };
    const papers::Fitting from_start{.id = "", .part_id = "0", .bike_id = {}, .wheel_id = {}, .place = parts::End::front, .from_day = "2026-04-01", .to_day = {}};
    for (const auto& [kind, what, word] : {std::tuple{papers::PartKind::rotor, What::rotor_temperature, "another rotor"}, std::tuple{papers::PartKind::rotor, What::caliper_temperature, "another rotor"},
                                           std::tuple{papers::PartKind::caliper, What::caliper_temperature, "another caliper"}}) {
        Desk desk({part("first", kind)}, {from_start});
        desk.read(what, 60, 200);
        const papers::Id key = desk.key();
        for (const std::string& words : desk.answered().temperatures) EXPECT_EQ(words.find("another"), std::string::npos) << words;
        // One like it in all figures, ten days later.
        papers::Fitting f = from_start;
        f.part_id = must(desk.papers->add_part(deed(), part("second", kind)));
        f.bike_id = desk.bike;
        f.from_day = "2026-04-20";
        must(desk.papers->put_on(deed(), f));
        EXPECT_NE(desk.key(), key) << word;
        const answer::Answer after = desk.answered();
        ASSERT_EQ(after.temperatures.size(), 1u) << word;
        EXPECT_NE(after.temperatures[0].find(std::string("read on ") + word + " (first) than today's (second)"), std::string::npos) << after.temperatures[0];
        // Of the new one on its own day it is not.
        Desk same({part("first", kind)}, {from_start});
        f.part_id = must(same.papers->add_part(deed(), part("second", kind)));
        f.bike_id = same.bike;
        f.from_day = "2026-04-05";
        must(same.papers->put_on(deed(), f));
        same.read(what, 60, 200);
        for (const std::string& words : same.answered().temperatures) EXPECT_EQ(words.find("another"), std::string::npos) << words;
    }
    // On the day of the change a reading that names no part may be of either; one that names today's is of that.
    for (const bool named : {false, true}) {
        Desk desk({part("first", papers::PartKind::rotor)}, {from_start});
        papers::Fitting f = from_start;
        f.part_id = must(desk.papers->add_part(deed(), part("second", papers::PartKind::rotor)));
        f.bike_id = desk.bike;
        f.from_day = day;
        must(desk.papers->put_on(deed(), f));
        desk.read(What::rotor_temperature, 60, 200, {}, named ? std::optional(f.part_id) : std::nullopt);
        EXPECT_EQ(desk.answered().temperatures.at(0).find("another rotor") == std::string::npos, named);
    }
}

// exp(-2000) is zero in a double, and the share has no weight left for the only cases that are like what was read: the ratios of the others still tell.
TEST(RideTemperatures, FarFromEveryCaseThatTheShareLeftTheirRatiosStillCount) {
    constexpr std::size_t n = answer::anchor_cases;
    for (const double step : {0.0, 100.0}) {
        answer::ReadTemperatures read;
        answer::CaseWeights share;
        for (std::size_t i = 0; i < n; ++i) read.misfit.push_back(i < n / 2 ? 0 : 4000 + step * static_cast<double>(i)), share.anchors.push_back(i < n / 2 ? 0 : 2);
        share.cases = share.anchors;
        const std::vector<std::string> said = answer::weigh_by_temperatures({}, {}, {}, read, &share, library(), parts::default_bike(parts::BikeKind::trail, library()), {});
        ASSERT_EQ(said.size(), 1u);
        // Alike: the half that the share left. Unlike: tempered to a quarter of all, 16.
        EXPECT_NE(said[0].find(fmt::format("{} of {} likely cases count", step > 0 ? n / 4 : n / 2, n)), std::string::npos) << said[0];
        EXPECT_EQ(said[0].find("only part of the way") != std::string::npos, step > 0) << said[0];
    }
}

TEST(RideTemperatures, ThoseWithoutATimeAndThoseOfOlderRidesAreOneLineEach) {
    Desk desk;
    desk.ride("later.csv", 86400, 310);
    for (int i = 0; i < 3; ++i) desk.read(What::rotor_temperature, 60 + i, {});
    for (int i = 0; i < 2; ++i) desk.read(What::caliper_temperature, 30 + i, 100 + 10 * i);
    answer::FromPapers ask = desk.asked();
    ask.since = "2026-04-11";
    const answer::Answer a = must(answer::answer_from_papers(Context{}, library(), *desk.papers, ask)).answer;
    ASSERT_EQ(a.rides.size(), 1u);
    ASSERT_EQ(a.temperatures.size(), 2u);
    EXPECT_EQ(a.temperatures[0].find("3 temperatures weigh nothing: nobody said when"), 0u) << a.temperatures[0];
    EXPECT_EQ(a.temperatures[1].find("2 temperatures weigh nothing: read on a ride that this answer does not rest on"), 0u) << a.temperatures[1];
}
