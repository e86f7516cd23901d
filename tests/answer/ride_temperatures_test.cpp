// SPDX-License-Identifier: Apache-2.0
// Temperatures in the papers: those of a moment of a ride narrow its band, all others move nothing and say why.
// Oracle: the curve of the hot end of the cases themselves, read as a probe would read it: the band must go there, and get narrower.
#include <fmt/format.h>

#include <algorithm>
#include <cmath>

#include "../papers/desk.hpp"
#include "answer/from_papers.hpp"
#include "base/time.hpp"

using namespace bw;
using namespace bw::papers::testing;
using papers::What;

namespace {

constexpr const char* description =
    "format = 1\nbike.kind = \"trail\"\nbike.name = \"Heron\"\nbike.total_mass_kg = 95\nfront.rotor.diameter_mm = 203\nfront.rotor.thickness_mm = 1.84\n"
    "front.rotor.least_thickness_mm = 1.65\nfront.rotor.anvil = \"pointed\"\nfront.pads.friction_thickness_mm = 1.5\nfront.pads.plate_thickness_mm = 1.8\nfront.pads.plate_measured = true\n"
    "front.pads.least_friction_mm = 0.5\nfront.pads.compound = \"sintered\"\n";

// Down a slope with bends that are braked for, and a stop: an invented ride.
std::string ride_csv(int seconds, double slope) {
    std::string out = "t_s,distance_m,speed_mps,altitude_m\n";
    double x = 0;
    for (int t = 0; t <= seconds; ++t) {
        const double v = t + 8 > seconds ? std::max(0.0, (seconds - t) * 1.0) : 8 + 2.5 * std::sin(t / 7.0);
        out += fmt::format("{},{:.2f},{:.2f},{:.2f}\n", t, x, v, 900 - slope * x);
        x += v;
    }
    return out;
}

const parts::Library& library() {
    static const parts::Library loaded = *parts::load_library();
    return loaded;
}

constexpr const char* day = "2026-04-10";
double start_unix_s() { return 86400.0 * static_cast<double>(*parse_day(day)) + 36000; }

struct Desk {
    Folder folder;
    std::unique_ptr<papers::Papers> papers = must(papers::make_papers(folder.path("p")));
    papers::Id bike, person;

    Desk() {
        person = must(papers->put_person(deed(), {.id = "", .name = "Ada", .hand_size_cm = {}, .hand_strength_N = {}, .mass_kg = {}, .repeat_sd_mm = {}, .note = ""}));
        bike = must(papers->add_bike(deed(), {.id = "", .name = "Heron", .description_toml = description, .added_day = "2026-04-01", .retired_day = {}, .note = ""}, {}, {}));
        must(papers->add_ride(deed(), {.id = "", .bike_id = bike, .kind = papers::RideKind::recorded, .file_name = "down.csv", .start_unix_s = start_unix_s(), .day = day, .duration_s = {}, .distance_m = {}, .descent_m = {}, .stops_per_km = {}, .surface = "dry", .weather = "dry", .wind_mps = {}, .air_degC = {}, .load_kg = {}, .note = ""}, ride_csv(300, 0.08)));
    }
    void read(What what, double degC, std::optional<double> after_start_s, std::optional<double> set_emissivity = {}) {
        papers::Reading x;
        x.bike_id = bike;
        x.what = what;
        x.day = day;
        x.recorded_unix_s = start_unix_s() + 40000;
        x.person_id = person;
        if (after_start_s) x.read_unix_s = start_unix_s() + *after_start_s;
        x.set_emissivity = set_emissivity;
        papers::Point p;
        p.temperature_degC = degC;
        x.points = {p};
        must(papers->add_reading(deed(), x));
    }
    answer::Answer answered(bool keep_series = false) {
        return must(answer::answer_from_papers(Context{}, library(), *papers, {.bike = bike, .today = "2026-05-02", .made_unix_s = 1, .version = "test", .since = {}, .tags = {}, .planned = {}, .total_mass_kg = {}, .stop_grade = 0, .cases = 256, .altitude = {}, .keep_series = keep_series})).answer;
    }
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
