// SPDX-License-Identifier: Apache-2.0
// What the papers say of a bike: rules of DESIGN 3 on a history. Limits and numbers are invented; what is tested is the order
// of the states, not a figure.
#include <fmt/format.h>

#include <algorithm>
#include <chrono>
#include <cmath>
#include <tuple>

#include "../../src/papers/run_outs.hpp"
#include "desk.hpp"
#include "papers/state.hpp"

using namespace bw;
using namespace bw::papers;
using namespace bw::papers::testing;
using inspect::State;

namespace {

class FromThePapers : public ::testing::Test {
protected:
    Folder folder;
    parts::Library library = must(parts::load_library());
    inspect::Practice practice = inspect::practice_of(library);
    std::unique_ptr<Papers> p = must(make_papers(folder.path("a")));
    Sample s = add_sample(*p);
    double at = 1777700000;

    parts::Bike described(const std::string& toml = a_bike("x").description_toml) { return must(parts::read_bike(toml, "x", library)); }
    std::vector<inspect::Check> checks(const Day& today, const parts::Bike& bike) {
        const Book book = must(book_of(*p, s.bike));
        const Bike b = *std::find_if(book.bikes.begin(), book.bikes.end(), [&](const Bike& x) { return x.id == s.bike; });
        return checks_of(book, b, bike, practice, library, today);
    }
    inspect::Verdict verdict(const Day& today = "2026-05-10") { return inspect::combine(checks(today, described())); }
    bool has(const inspect::Verdict& v, const std::string& code) {
        return std::any_of(v.reasons.begin(), v.reasons.end(), [&](const auto& r) { return r.code == code; });
    }
    Id tool(const std::string& name, double resolution_mm, double error_mm) {
        return must(p->put_instrument(deed(), {.id = "", .name = name, .kind = InstrumentKind::micrometer, .anvil = parts::Anvil::pointed, .resolution_mm = resolution_mm, .permitted_error_mm = error_mm, .resolution_degC = {}, .permitted_error_degC = {}, .resolution_g = {}, .permitted_error_g = {}, .note = ""}));
    }
    void pad(const std::vector<double>& left, const Day& day, std::optional<Id> with = {}, bool with_plate = false, std::optional<Side> side = Side::left) {
        Reading r = pad_reading(s, 0);
        r.points.clear();
        for (const double mm : left) r.points.push_back({.side = side, .angle_deg = {}, .radius_mm = {}, .length_mm = mm, .temperature_degC = {}, .mass_g = {}, .age_months = {}});
        r.day = day;
        r.recorded_unix_s = ++at;
        r.with_plate = with_plate;
        if (with) r.instrument_id = with;
        must(p->add_reading(deed(), r));
    }
    void reading(What what, double mm, const Day& day, std::optional<Id> part = {}) {
        Reading r = pad_reading(s, mm);
        r.what = what;
        r.with_plate.reset();
        r.part_id = part;
        r.points[0].side.reset();
        r.day = day;
        r.recorded_unix_s = ++at;
        must(p->add_reading(deed(), r));
    }
    // Squeezes of a lever in their order.
    void squeezes(const std::vector<double>& mm, const Day& day) {
        Reading r = pad_reading(s, 0);
        r.what = What::lever_bite;
        r.with_plate.reset();
        r.part_id.reset();
        r.points.clear();
        for (const double x : mm) r.points.push_back({.side = {}, .angle_deg = 0, .radius_mm = {}, .length_mm = x, .temperature_degC = {}, .mass_g = {}, .age_months = {}});
        r.day = day;
        r.recorded_unix_s = ++at;
        must(p->add_reading(deed(), r));
    }
    void words(What what, const std::string& word, const Day& day) {
        Reading r = pad_reading(s, 0);
        r.what = what;
        r.with_plate.reset();
        r.part_id.reset();
        r.points.clear();
        r.word = word;
        r.day = day;
        r.recorded_unix_s = ++at;
        must(p->add_reading(deed(), r));
    }
    void dial(double bend_mm, int angles, const Day& day) {
        Reading r = pad_reading(s, 0);
        r.what = What::run_out;
        r.with_plate.reset();
        r.part_id = s.rotor;
        r.points.clear();
        for (int i = 0; i < angles; ++i) {
            const double deg = 360.0 * i / angles, off = (deg - 140) / 40;
            r.points.push_back({.side = {}, .angle_deg = deg, .radius_mm = {}, .length_mm = std::round(100 * (1 + bend_mm * std::exp2(-4 * off * off))) / 100, .temperature_degC = {}, .mass_g = {}, .age_months = {}});
        }
        r.day = day;
        r.recorded_unix_s = ++at;
        must(p->add_reading(deed(), r));
    }
    Id part(const std::string& name, PartKind kind, std::optional<double> least_mm = {}) {
        return must(p->add_part(deed(), {.id = "", .name = name, .kind = kind, .compound = {}, .heat_barrier = {}, .new_thickness_mm = {}, .plate_thickness_mm = {}, .plate_measured = {}, .least_thickness_mm = least_mm, .area_mm2 = {}, .diameter_mm = {}, .note = ""}));
    }
    // Noted now, of a day: on the bike of the sample, a rotor on its wheel.
    void on(const Id& part, const Day& from, std::optional<Id> wheel = {}) {
        must(p->put_on(deed("Ada", ++at), {.id = "", .part_id = part, .bike_id = wheel ? std::optional<Id>() : s.bike, .wheel_id = wheel, .place = parts::End::front, .from_day = from, .to_day = {}}));
    }
    void pad_of(const Id& part, double mm, Side side, const Day& day) {
        Reading r = pad_reading(s, mm);
        r.part_id = part, r.points[0].side = side, r.day = day, r.recorded_unix_s = ++at;
        must(p->add_reading(deed(), r));
    }
    void work(WorkKind kind, const Day& day) { work_at(kind, parts::End::front, day); }
    void work_at(WorkKind kind, std::optional<parts::End> place, const Day& day) {
        must(p->add_work(deed(), {.id = "", .bike_id = s.bike, .place = place, .kind = kind, .day = day, .person_id = s.person, .note = "", .recorded_unix_s = ++at}));
    }
    std::optional<ProofRead> proof(const Day& today = "2026-05-31") { return proof_read(must(book_of(*p, s.bike)), s.bike, described(), parts::End::front, library, today); }
    // Stops of the front brake at a share of the gain that such a brake is expected to have. The way is that of steady braking
    // after the lever's take-up and half of the rise (data rows proof.take_up, proof.rise).
    void stops(double share, int n, const Day& day) {
        if (expected == 0) {
            must(p->add_proof(deed(), {proof_stop(s, 0)}));
            expected = proof()->gain->expected.p50;
            must(p->undo(deed()));
        }
        ++at;
        std::vector<ProofStop> set;
        for (int i = 0; i < n; ++i) {
            ProofStop one = proof_stop(s, i, day);
            one.recorded_unix_s = at;
            one.grade = 0;
            one.time_s.reset();
            one.lever_force_N = 55 + 3 * i;
            const double braking = share * expected * *one.lever_force_N;
            one.distance_m = one.from_mps * (library.value("proof.take_up") + library.value("proof.rise") / 2) + one.from_mps * one.from_mps / (2 * braking);
            set.push_back(one);
        }
        must(p->add_proof(deed(), set));
    }
    double expected = 0;
    void tick(Item item, Outcome outcome, const Day& day, std::optional<parts::End> place = {}) {
        must(p->add_ticks(deed(), {{.id = "", .check_id = new_uuid(), .bike_id = s.bike, .item = item, .place = place, .outcome = outcome, .day = day, .recorded_unix_s = ++at, .person_id = s.person, .note = "seen"}}));
    }
    void happening(Happening kind, const Day& day) {
        must(p->add_incident(deed(), {.id = "", .bike_id = s.bike, .place = {}, .kind = kind, .day = day, .recorded_unix_s = ++at, .person_id = s.person, .note = ""}));
    }
};

}  // namespace

TEST_F(FromThePapers, PapersWithoutAReadingNeverGiveBetterThanMeasure) {
    const auto v = verdict();
    EXPECT_EQ(v.state, State::measure_better);
    EXPECT_EQ(v.checks_done, 0);
}

TEST_F(FromThePapers, APlainReadingUnderItsLimitHoldsBackWhateverTheInstrument) {
    pad({0.45}, "2026-05-02", tool("poor", 1, 2));
    const auto v = verdict();
    EXPECT_TRUE(v.do_not_ride);
    EXPECT_EQ(v.state, State::held_back);
    EXPECT_EQ(v.text.rfind("Do not ride", 0), 0u) << v.text;
}

TEST_F(FromThePapers, MeasuringAgainWithTheSameDoesNotClearMeasuringBetterDoes) {
    const Id poor = tool("poor", 0.1, 0.1), good = tool("good", 0.001, 0.002);
    pad({0.45}, "2026-05-02", poor);
    pad({1.5}, "2026-05-03", poor);
    EXPECT_TRUE(verdict().do_not_ride) << "the same instrument again clears nothing";
    pad({1.5}, "2026-05-04", good);
    EXPECT_FALSE(verdict().do_not_ride);
    pad({0.45}, "2026-05-05", poor);
    EXPECT_TRUE(verdict().do_not_ride) << "the newest counts, however it was taken";
}

TEST_F(FromThePapers, AReadingOfBothPadsBettersOneOfNoSide) {
    pad({0.45}, "2026-05-02", tool("poor", 0.1, 0.1), false, std::nullopt);
    ASSERT_TRUE(verdict().do_not_ride);
    Reading r = pad_reading(s, 1.5);
    r.points.push_back(r.points[0]);
    r.points[1].side = Side::right;
    r.instrument_id = tool("good", 0.001, 0.002);
    r.day = "2026-05-03";
    r.recorded_unix_s = ++at;
    must(p->add_reading(deed(), r));
    EXPECT_FALSE(verdict().do_not_ride);
    pad({0.45}, "2026-05-04", {}, false, Side::right);
    EXPECT_TRUE(verdict().do_not_ride);
}

TEST_F(FromThePapers, TheThinnestPlaceCounts) {
    pad({1.9, 0.4, 1.8}, "2026-05-02");
    EXPECT_TRUE(verdict().do_not_ride);
}

TEST_F(FromThePapers, AnAssumedPlateClearsNothingAMeasuredOneCounts) {
    // Part with a plate that nobody measured.
    Part q{.id = "", .name = "other pads", .kind = PartKind::pads, .compound = {}, .heat_barrier = {}, .new_thickness_mm = {}, .plate_thickness_mm = {}, .plate_measured = {}, .least_thickness_mm = 0.5, .area_mm2 = {}, .diameter_mm = {}, .note = ""};
    s.pads = must(p->add_part(deed(), q));
    must(p->put_on(deed(), {.id = "", .part_id = s.pads, .bike_id = s.bike, .wheel_id = {}, .place = parts::End::front, .from_day = "2026-05-01", .to_day = {}}));
    pad({4.0}, "2026-05-02", {}, true);
    const auto v = verdict();
    EXPECT_TRUE(has(v, "front_pad_plate_assumed")) << v.text;
    reading(What::plate_thickness, 1.8, "2026-05-02", s.pads);
    EXPECT_FALSE(has(verdict(), "front_pad_plate_assumed"));
    EXPECT_FALSE(verdict().do_not_ride);
    // The plate is taken off: 2.2 with a plate of 1.8 is 0.4.
    pad({2.2}, "2026-05-03", {}, true);
    EXPECT_TRUE(verdict().do_not_ride);
}

TEST_F(FromThePapers, PadsTakeTheirReadingsAlongToAnotherBike) {
    pad({0.45}, "2026-05-02");
    const Sample other = add_sample(*p, "Wren");
    must(p->put_on(deed(), {.id = "", .part_id = s.pads, .bike_id = other.bike, .wheel_id = {}, .place = parts::End::front, .from_day = "2026-05-05", .to_day = {}}));
    EXPECT_FALSE(verdict().do_not_ride) << "the thin pads are gone";
    EXPECT_TRUE(verdict("2026-05-04").do_not_ride) << "as of the day before";
    s.bike = other.bike;
    EXPECT_TRUE(verdict().do_not_ride);
}

TEST_F(FromThePapers, FlatJawsNeverClearARotorWithoutItsRidge) {
    reading(What::rotor_thickness, 1.80, "2026-05-02", s.rotor);   // the shop caliper has flat jaws
    EXPECT_TRUE(has(verdict(), "front_rotor_ridge_not_measured"));
    reading(What::rotor_ridge, 0.2, "2026-05-02", s.rotor);
    EXPECT_TRUE(has(verdict(), "front_rotor_under_limit")) << "1.80 less the ridge of 0.2 is under 1.65";
}

TEST_F(FromThePapers, ARotorGoesWithItsWheel) {
    const Sample other = add_sample(*p, "Wren");
    must(p->put_on(deed(), {.id = "", .part_id = s.wheel, .bike_id = other.bike, .wheel_id = {}, .place = parts::End::front, .from_day = "2026-05-05", .to_day = {}}));
    const Book book = must(book_of(*p, {}));
    ASSERT_NE(part_at(book, other.bike, PartKind::rotor, parts::End::front, "2026-05-06"), nullptr);
    EXPECT_EQ(part_at(book, other.bike, PartKind::rotor, parts::End::front, "2026-05-06")->id, s.rotor);
    EXPECT_EQ(part_at(book, s.bike, PartKind::rotor, parts::End::front, "2026-05-06"), nullptr);
    EXPECT_EQ(part_at(book, s.bike, PartKind::rotor, parts::End::front, "2026-05-04")->id, s.rotor);
}

TEST_F(FromThePapers, APersonsHoldHoldsUntilANamedPersonClearsItAndReadingsStillCount) {
    must(p->hold(deed(), {.id = "", .bike_id = s.bike, .from_unix_s = 1777700000, .by = "Ada", .why = "crack at an arm", .cleared_unix_s = {}, .cleared_by = "", .cleared_why = ""}));
    EXPECT_TRUE(has(verdict(), "held_by_a_person"));
    EXPECT_NE(verdict().text.find("crack at an arm"), std::string::npos);
    pad({0.45}, "2026-05-02");
    must(p->clear(deed("Ben"), s.bike, "new rotor"));
    EXPECT_FALSE(has(verdict(), "held_by_a_person"));
    EXPECT_TRUE(verdict().do_not_ride) << "clearing a hold clears no reading";
}

TEST_F(FromThePapers, ACrashHoldsBackUntilACheckCameAfterIt) {
    tick(Item::function, Outcome::ok, "2026-05-02");
    happening(Happening::crash, "2026-05-02");
    EXPECT_TRUE(has(verdict("2026-05-02"), "unchecked_crash")) << "the tick came before";
    tick(Item::function, Outcome::ok, "2026-05-03");
    EXPECT_FALSE(verdict("2026-05-03").do_not_ride);
    happening(Happening::transport, "2026-05-04");
    EXPECT_TRUE(has(verdict("2026-05-04"), "unchecked_transport"));
    EXPECT_FALSE(verdict("2026-05-04").do_not_ride);
}

TEST_F(FromThePapers, AFaultHoldsBackUntilTheSameItemIsTickedAgain) {
    tick(Item::rotor_straight, Outcome::fault, "2026-05-02", parts::End::rear);
    EXPECT_TRUE(has(verdict(), "fault_rotor_straight"));
    tick(Item::rotor_straight, Outcome::ok, "2026-05-03", parts::End::front);
    EXPECT_TRUE(has(verdict(), "fault_rotor_straight")) << "the other wheel";
    tick(Item::rotor_straight, Outcome::ok, "2026-05-03", parts::End::rear);
    EXPECT_FALSE(has(verdict(), "fault_rotor_straight"));
}

TEST_F(FromThePapers, ATickCountsThatDayAndTheNextAndNotAfterAHappening) {
    const int before = verdict("2026-05-02").checks_done;
    tick(Item::leaks, Outcome::ok, "2026-05-02");
    EXPECT_EQ(verdict("2026-05-02").checks_done, before + 1);
    EXPECT_EQ(verdict("2026-05-03").checks_done, before + 1);
    EXPECT_EQ(verdict("2026-05-04").checks_done, before);
    happening(Happening::wet_grit, "2026-05-02");
    EXPECT_EQ(verdict("2026-05-02").checks_done, before);
}

TEST_F(FromThePapers, ALeverReadBeforeABleedSaysNothingAfterIt) {
    reading(What::lever_full, -1, "2026-05-02");
    EXPECT_TRUE(verdict().do_not_ride);
    must(p->add_work(deed(), {.id = "", .bike_id = s.bike, .place = parts::End::front, .kind = WorkKind::bleed, .day = "2026-05-03", .person_id = s.person, .note = ""}));
    EXPECT_FALSE(verdict().do_not_ride);
    EXPECT_TRUE(has(verdict(), "front_lever_travel_never_measured")) << verdict().text;
}

// Of one day the papers know when a thing was noted, not when it was done: who bleeds, reads, and notes the reading first.
TEST_F(FromThePapers, WorkNotedAfterAReadingOfThatDayDoesNotClearWhatTheReadingHolds) {
    reading(What::lever_full, 0, "2026-05-03");
    ASSERT_TRUE(verdict().do_not_ride);
    work(WorkKind::new_pads, "2026-05-03");
    EXPECT_TRUE(has(verdict(), "front_lever_reaches_bar"));
    EXPECT_NE(verdict().text.find("read it again"), std::string::npos) << verdict().text;
    // Read again after the work, by the order of noting: over.
    reading(What::lever_full, 20, "2026-05-03");
    EXPECT_FALSE(verdict().do_not_ride);
    // A good reading of that day that was noted before a work holds nothing and clears nothing.
    work(WorkKind::bleed, "2026-05-03");
    EXPECT_FALSE(verdict().do_not_ride);
    EXPECT_TRUE(has(verdict(), "front_lever_travel_never_measured"));
    // Work of a later day ends it, as ever; and so does a reading of a later day.
    reading(What::lever_full, 0, "2026-05-04");
    work(WorkKind::bleed, "2026-05-04");
    ASSERT_TRUE(verdict().do_not_ride);
    work(WorkKind::bleed, "2026-05-05");
    EXPECT_FALSE(verdict().do_not_ride);
    reading(What::lever_full, 0, "2026-05-06");
    work(WorkKind::bleed, "2026-05-06");
    ASSERT_TRUE(verdict().do_not_ride);
    reading(What::lever_bite, 40, "2026-05-07");
    EXPECT_TRUE(verdict().do_not_ride) << "another distance";
    reading(What::lever_full, 20, "2026-05-07");
    EXPECT_FALSE(verdict().do_not_ride);
}

TEST_F(FromThePapers, ABentRotorOrAFrayedCableReadOnTheDayOfItsWorkIsReadAgain) {
    dial(0.8, 36, "2026-05-03");
    ASSERT_TRUE(verdict().do_not_ride);
    work(WorkKind::true_rotor, "2026-05-03");
    EXPECT_TRUE(verdict().do_not_ride);
    const Book book = must(book_of(*p, s.bike));
    EXPECT_FALSE(run_out_read(book, s.bike, parts::End::front, library, "2026-05-03")) << "no plan from a table that may be of the rotor before";
    dial(0.1, 12, "2026-05-03");
    EXPECT_FALSE(verdict().do_not_ride);
    words(What::cable_state, "frayed", "2026-05-04");
    work(WorkKind::new_cable, "2026-05-04");
    EXPECT_TRUE(has(verdict(), "front_cable_state"));
    words(What::cable_state, "sound", "2026-05-04");
    EXPECT_FALSE(verdict().do_not_ride);
}

TEST_F(FromThePapers, ALeverThatSinksWithEachSqueezeIsHeldBackUntilItIsSqueezedBetterOrMended) {
    squeezes({45, 45, 44.5}, "2026-05-02");
    EXPECT_FALSE(verdict().do_not_ride) << "less than is left alone";
    squeezes({45, 41, 36}, "2026-05-03");
    const auto v = verdict();
    EXPECT_TRUE(v.do_not_ride);
    EXPECT_TRUE(has(v, "front_lever_sinks"));
    EXPECT_EQ(v.text.rfind("Do not ride", 0), 0u) << v.text;
    EXPECT_NE(v.text.find("leak"), std::string::npos) << v.text;
    reading(What::lever_bite, 45, "2026-05-04");
    EXPECT_TRUE(verdict().do_not_ride) << "one squeeze does not show it";
    squeezes({45, 45, 45}, "2026-05-05");
    EXPECT_TRUE(verdict().do_not_ride) << "the same again clears nothing";
    squeezes({45, 45, 45, 45, 45}, "2026-05-06");
    EXPECT_FALSE(verdict().do_not_ride);
    squeezes({45, 41, 36}, "2026-05-07");
    ASSERT_TRUE(verdict().do_not_ride);
    work(WorkKind::bleed, "2026-05-08");
    EXPECT_FALSE(verdict().do_not_ride);
}

TEST_F(FromThePapers, PadsThatAreDescribedAsOiledAreHeldBack) {
    const std::string plain = a_bike("x").description_toml;
    const auto held = [&](const std::string& condition) {
        const auto v = inspect::combine(checks("2026-05-10", described(plain + "front.pads.condition = \"" + condition + "\"\n")));
        EXPECT_EQ(v.do_not_ride, has(v, "front_pads_oiled"));
        return v.do_not_ride;
    };
    EXPECT_TRUE(held("oiled"));
    EXPECT_FALSE(held("bedded"));
}

TEST_F(FromThePapers, FluidIsAsOldAsItsLastBleed) {
    const parts::Bike bike = described("format = 1\nbike.kind = \"trail\"\nbike.total_mass_kg = 95\nfront.fluid.kind = \"dot4\"\nrear.fluid.kind = \"dot4\"\n");
    const auto state_on = [&](const Day& day) {
        for (const auto& c : checks(day, bike))
            if (c.id == inspect::CheckId::front_fluid_or_cable) return c;
        return inspect::Check{};
    };
    EXPECT_FALSE(state_on("2026-05-10").done);
    must(p->add_work(deed(), {.id = "", .bike_id = s.bike, .place = {}, .kind = WorkKind::bleed, .day = "2026-05-03", .person_id = s.person, .note = ""}));
    EXPECT_TRUE(state_on("2026-05-10").done);
    EXPECT_EQ(state_on("2027-05-10").state, State::no_reason_found);
    EXPECT_NE(state_on("2028-06-10").state, State::no_reason_found) << "25 months, common practice is 24";
}

TEST_F(FromThePapers, TheListBeforeARideHasWhatIsUrgentFirstAndOnlyWhatThisBikeHas) {
    const Book empty = must(book_of(*p, s.bike));
    const auto has_cable = [](const std::vector<ToDo>& list) { return std::any_of(list.begin(), list.end(), [](const ToDo& t) { return t.item == Item::cable; }); };
    EXPECT_FALSE(has_cable(before_ride(empty, empty.bikes[0], described(), library, "2026-05-10")));
    EXPECT_TRUE(has_cable(before_ride(empty, empty.bikes[0], described("format = 1\nbike.kind = \"city\"\nbike.total_mass_kg = 95\nfront.actuation = \"cable\"\n"), library, "2026-05-10")));
    tick(Item::function, Outcome::ok, "2026-05-10");
    tick(Item::leaks, Outcome::fault, "2026-05-10");
    const Book book = must(book_of(*p, s.bike));
    const auto list = before_ride(book, book.bikes[0], described(), library, "2026-05-10");
    EXPECT_EQ(list.front().item, Item::leaks);
    EXPECT_EQ(list.front().why, ToDo::Why::fault);
    EXPECT_EQ(list.back().item, Item::function);
    EXPECT_EQ(list.back().why, ToDo::Why::routine);
}

TEST_F(FromThePapers, ABrakeThatSinksAgainstItsOwnProofStopsIsHeldBackFirst) {
    stops(1, 5, "2026-05-02");
    EXPECT_FALSE(has(verdict("2026-05-03"), "front_proof_alarm"));
    pad({0.45}, "2026-05-02");   // another reason, which it stands before
    stops(0.55, 5, "2026-05-10");
    const auto v = verdict("2026-05-11");
    ASSERT_FALSE(v.reasons.empty());
    EXPECT_TRUE(v.do_not_ride);
    EXPECT_EQ(v.reasons.front().code, "front_proof_alarm");
    EXPECT_EQ(v.text.rfind("Do not ride", 0), 0u) << v.text;
    EXPECT_FALSE(has(verdict("2026-05-09"), "front_proof_alarm")) << "as of a day before it";
}

TEST_F(FromThePapers, ABadDayNeverBecomesTheHistoryOfTheNext) {
    stops(1, 5, "2026-05-02");
    stops(0.55, 5, "2026-05-10");
    stops(0.55, 5, "2026-05-11");
    stops(0.55, 5, "2026-05-12");
    EXPECT_TRUE(has(verdict("2026-05-13"), "front_proof_alarm"));
    EXPECT_EQ(proof()->gain->history_stops, 5);
}

TEST_F(FromThePapers, ASinkingBrakeStandsUntilWorkAndALaterSoundSet) {
    stops(1, 5, "2026-05-02");
    stops(0.55, 5, "2026-05-10");
    work(WorkKind::clean, "2026-05-11");
    EXPECT_TRUE(has(verdict("2026-05-12"), "front_proof_alarm")) << "work alone shows nothing";
    stops(1, 2, "2026-05-12");
    EXPECT_TRUE(has(verdict("2026-05-13"), "front_proof_alarm")) << "two stops are too few";
    stops(1, 4, "2026-05-14");
    EXPECT_FALSE(has(verdict("2026-05-15"), "front_proof_alarm"));
    stops(1, 1, "2026-05-16");
    EXPECT_FALSE(has(verdict("2026-05-17"), "front_proof_alarm")) << "what was ended stays ended";
}

TEST_F(FromThePapers, ABiteThatComesBackByItselfHoldsUntilSomebodySaysWhy) {
    stops(1, 5, "2026-05-02");
    stops(0.55, 5, "2026-05-10");
    stops(1, 5, "2026-05-12");
    const auto v = verdict("2026-05-13");
    EXPECT_TRUE(has(v, "front_proof_alarm"));
    EXPECT_NE(v.text.find("no work"), std::string::npos) << v.text;
    work(WorkKind::clean, "2026-05-11");
    EXPECT_FALSE(has(verdict("2026-05-13"), "front_proof_alarm")) << "noted later, done before the sound set";
}

TEST_F(FromThePapers, OtherPadsStartANewHistoryAndABleedMustBringTheBiteBack) {
    stops(1.25, 5, "2026-05-02");
    stops(0.6, 5, "2026-05-10");
    work(WorkKind::bleed, "2026-05-11");
    EXPECT_TRUE(has(verdict("2026-05-11"), "front_proof_alarm")) << "a bleed without new stops";
    EXPECT_TRUE(proof("2026-05-11")->stops.empty());
    stops(0.8, 5, "2026-05-12");
    EXPECT_TRUE(has(verdict("2026-05-13"), "front_proof_alarm")) << "the same pads at two thirds of what they gave";
    work(WorkKind::new_pads, "2026-05-14");
    stops(0.9, 4, "2026-05-15");
    EXPECT_FALSE(has(verdict("2026-05-16"), "front_proof_alarm")) << "other pads need not give what the old ones gave";
    EXPECT_EQ(proof()->stops.size(), 4u);
    EXPECT_EQ(proof()->since, "2026-05-14");
    EXPECT_EQ(proof()->gain->history_stops, 0);
    stops(0.9, 4, "2026-05-17");
    EXPECT_EQ(proof()->gain->history_stops, 4);
}

TEST_F(FromThePapers, WorkOrARotorOfAnEarlierDayNotedLaterDoesNotWashAnAlarmAway) {
    stops(1.25, 5, "2026-05-02");
    stops(0.75, 5, "2026-05-10");
    ASSERT_TRUE(has(verdict("2026-05-11"), "front_proof_alarm"));
    work(WorkKind::bleed, "2026-05-06");
    EXPECT_TRUE(has(verdict("2026-05-11"), "front_proof_alarm")) << "a bleed dated before the fall";
    must(p->undo(deed()));
    work(WorkKind::new_pads, "2026-05-06");
    EXPECT_TRUE(has(verdict("2026-05-11"), "front_proof_alarm")) << "pads dated before the fall";
    must(p->undo(deed()));
    const Part other = {.id = "", .name = "other rotor", .kind = PartKind::rotor, .compound = {}, .heat_barrier = {}, .new_thickness_mm = {}, .plate_thickness_mm = {}, .plate_measured = {}, .least_thickness_mm = {}, .area_mm2 = {}, .diameter_mm = {}, .note = ""};
    const Id rotor = must(p->add_part(deed("Ada", ++at), other));
    must(p->put_on(deed("Ada", ++at), {.id = "", .part_id = rotor, .bike_id = s.bike, .wheel_id = {}, .place = parts::End::front, .from_day = "2026-05-06", .to_day = {}}));
    ASSERT_EQ(part_at(must(book_of(*p, s.bike)), s.bike, PartKind::rotor, parts::End::front, "2026-05-07")->id, rotor);
    EXPECT_TRUE(has(verdict("2026-05-11"), "front_proof_alarm")) << "a rotor dated before the fall";
    stops(0.8, 5, "2026-05-12");
    EXPECT_TRUE(has(verdict("2026-05-13"), "front_proof_alarm")) << "no work since the fall";
    work(WorkKind::new_pads, "2026-05-14");
    stops(1, 5, "2026-05-15");
    EXPECT_FALSE(has(verdict("2026-05-16"), "front_proof_alarm")) << "work since the fall and a sound day end it";
}

TEST_F(FromThePapers, ABrakeThatSinksOverABleedIsHeldAgainstTheDaysBeforeIt) {
    stops(1.25, 5, "2026-05-02");
    work(WorkKind::bleed, "2026-05-06");
    stops(0.75, 5, "2026-05-10");
    EXPECT_TRUE(has(verdict("2026-05-11"), "front_proof_alarm")) << "fluid on the pads";
    work(WorkKind::clean, "2026-05-11");
    stops(1.2, 5, "2026-05-12");
    EXPECT_FALSE(has(verdict("2026-05-13"), "front_proof_alarm"));
}

TEST_F(FromThePapers, AnAlarmThatWasRaisedIsNotDissolvedByStopsNotedLaterWithTheSameOrAnEarlierDay) {
    stops(1, 4, "2026-05-02");
    stops(0.63, 4, "2026-05-10");
    ASSERT_TRUE(has(verdict("2026-05-11"), "front_proof_alarm"));
    stops(1, 4, "2026-05-10");
    EXPECT_TRUE(has(verdict("2026-05-11"), "front_proof_alarm")) << "good stops of the alarm's own day";
    must(p->undo(deed()));
    stops(0.63, 4, "2026-04-20");
    EXPECT_TRUE(has(verdict("2026-05-11"), "front_proof_alarm")) << "bad stops of an earlier day";
    work(WorkKind::clean, "2026-05-11");
    EXPECT_TRUE(has(verdict("2026-05-11"), "front_proof_alarm")) << "work alone";
    stops(1, 4, "2026-05-12");
    EXPECT_FALSE(has(verdict("2026-05-13"), "front_proof_alarm"));
}

TEST_F(FromThePapers, APadSetThatIsPutOnStartsANewHistoryToo) {
    stops(1.25, 5, "2026-05-02");
    const Part other = {.id = "", .name = "other pads", .kind = PartKind::pads, .compound = parts::Compound::sintered, .heat_barrier = {}, .new_thickness_mm = {}, .plate_thickness_mm = {}, .plate_measured = {}, .least_thickness_mm = {}, .area_mm2 = {}, .diameter_mm = {}, .note = ""};
    const Id pads = must(p->add_part(deed(), other));
    must(p->put_on(deed(), {.id = "", .part_id = pads, .bike_id = s.bike, .wheel_id = {}, .place = parts::End::front, .from_day = "2026-05-05", .to_day = {}}));
    stops(0.85, 5, "2026-05-06");
    EXPECT_FALSE(has(verdict("2026-05-07"), "front_proof_alarm"));
    EXPECT_EQ(proof()->stops.size(), 5u);
}

TEST_F(FromThePapers, FarBelowWhatIsExpectedHoldsBackWithoutAHistoryAndFewStopsAskForMore) {
    stops(0.2, 2, "2026-05-02");
    EXPECT_TRUE(has(verdict("2026-05-03"), "front_proof_below_expected"));
    EXPECT_FALSE(verdict("2026-05-03").do_not_ride);
    stops(0.2, 5, "2026-05-04");
    EXPECT_TRUE(verdict("2026-05-05").do_not_ride);
    work(WorkKind::bed_in, "2026-05-06");
    stops(1, 5, "2026-05-07");
    EXPECT_FALSE(has(verdict("2026-05-08"), "front_proof_below_expected"));
}

TEST_F(FromThePapers, ANamedPersonClearsTheStopsAndTheyAreNeitherAlarmNorHistory) {
    stops(1, 5, "2026-05-02");
    stops(0.55, 5, "2026-05-10");
    const auto held = proof();
    ASSERT_TRUE(held && held->check);
    EXPECT_EQ(held->rests_on.size(), 5u) << "the bad day alone";
    EXPECT_EQ(must(p->clear(deed("Ben"), s.bike, "looked at")), 0);
    EXPECT_TRUE(has(verdict("2026-05-11"), "front_proof_alarm")) << "clearing a hold clears no proof";
    must(p->clear_proof(deed("Ben"), held->rests_on, "the scale slipped"));
    EXPECT_FALSE(has(verdict("2026-05-11"), "front_proof_alarm"));
    stops(0.55, 5, "2026-05-20");
    EXPECT_TRUE(has(verdict("2026-05-21"), "front_proof_alarm")) << "the next bad day is judged by the sound ones";
}

// An alarm goes with the pads and the rotor: what took the bite away may be on them.
TEST_F(FromThePapers, AnAlarmGoesWithThePadsToAnotherBikeUntilWorkAndASoundDayThere) {
    const Sample heron = s, wren = add_sample(*p, "Wren");
    stops(1, 5, "2026-05-02");
    stops(0.55, 5, "2026-05-10");
    must(p->put_on(deed("Ada", ++at), {.id = "", .part_id = heron.pads, .bike_id = wren.bike, .wheel_id = {}, .place = parts::End::front, .from_day = "2026-05-12", .to_day = {}}));
    s = wren;
    EXPECT_FALSE(has(verdict("2026-05-11"), "front_proof_came_with_pads")) << "not yet there";
    const auto v = verdict("2026-05-12");
    ASSERT_TRUE(has(v, "front_proof_came_with_pads"));
    EXPECT_TRUE(v.do_not_ride);
    EXPECT_EQ(v.text.rfind("Do not ride", 0), 0u) << v.text;
    EXPECT_NE(v.text.find("Heron"), std::string::npos) << v.text;
    stops(1, 4, "2026-05-13");
    EXPECT_TRUE(has(verdict("2026-05-14"), "front_proof_came_with_pads")) << "sound stops without work: oil burns off and comes back";
    work(WorkKind::clean, "2026-05-14");
    EXPECT_TRUE(has(verdict("2026-05-15"), "front_proof_came_with_pads")) << "work alone shows nothing";
    stops(1, 2, "2026-05-15");
    EXPECT_TRUE(has(verdict("2026-05-15"), "front_proof_came_with_pads")) << "two stops are too few";
    stops(1, 4, "2026-05-16");
    EXPECT_FALSE(has(verdict("2026-05-16"), "front_proof_came_with_pads"));
    EXPECT_TRUE(has(verdict("2026-05-15"), "front_proof_came_with_pads")) << "as of the day before";
    // And on to a third bike: it was ended, so nothing goes along.
    s = add_sample(*p, "Teal");
    must(p->put_on(deed("Ada", ++at), {.id = "", .part_id = heron.pads, .bike_id = s.bike, .wheel_id = {}, .place = parts::End::front, .from_day = "2026-05-20", .to_day = {}}));
    EXPECT_FALSE(has(verdict("2026-05-21"), "front_proof_came_with_pads"));
}

TEST_F(FromThePapers, OtherPadsThatAreNotedLaterAsThereBeforeAThinReadingDoNotTakeItAway) {
    pad({0.3}, "2026-05-10");
    const Id fresh = must(p->add_part(deed(), {.id = "", .name = "fresh", .kind = PartKind::pads, .compound = {}, .heat_barrier = {}, .new_thickness_mm = {}, .plate_thickness_mm = {}, .plate_measured = {}, .least_thickness_mm = {}, .area_mm2 = {}, .diameter_mm = {}, .note = ""}));
    const auto on = [&](const Day& from) { must(p->put_on(deed("Ada", ++at), {.id = "", .part_id = fresh, .bike_id = s.bike, .wheel_id = {}, .place = parts::End::front, .from_day = from, .to_day = {}})); };
    on("2026-05-05");
    const auto v = verdict("2026-05-11");
    EXPECT_TRUE(v.do_not_ride) << v.text;
    EXPECT_NE(v.text.find("'fresh' had been there by then"), std::string::npos) << v.text;
    must(p->undo(deed()));
    on("2026-05-10");
    EXPECT_FALSE(verdict("2026-05-11").do_not_ride) << "measured, then changed on that day";
    must(p->undo(deed()));
    on("2026-05-05");
    Reading r = pad_reading(s, 2.4);
    r.part_id = fresh, r.day = "2026-05-12", r.recorded_unix_s = ++at;
    must(p->add_reading(deed(), r));
    EXPECT_FALSE(verdict("2026-05-12").do_not_ride) << verdict("2026-05-12").text;
}

TEST_F(FromThePapers, WhatWasReadBesideAThinReadingStaysWithItWhenOtherPartsAreNotedLaterAsThereBefore) {
    reading(What::rotor_thickness, 1.71, "2026-05-10", s.rotor);
    ASSERT_FALSE(verdict("2026-05-11").do_not_ride) << "flat jaws, no ridge known";
    reading(What::rotor_ridge, 0.1, "2026-05-10", s.rotor);
    ASSERT_TRUE(has(verdict("2026-05-11"), "front_rotor_under_limit"));
    on(part("like it", PartKind::rotor, 1.65), "2026-05-05", s.wheel);
    EXPECT_TRUE(has(verdict("2026-05-11"), "front_rotor_under_limit")) << "the ridge";
    must(p->undo(deed()));
    on(part("may be thinner", PartKind::rotor, 1.4), "2026-05-05", s.wheel);
    EXPECT_TRUE(has(verdict("2026-05-11"), "front_rotor_under_limit")) << "as it was known";
    must(p->undo(deed()));
    pad({2.6}, "2026-05-10", {}, true);
    reading(What::plate_thickness, 2.3, "2026-05-10", s.pads);
    on(part("fresh", PartKind::pads), "2026-05-05");
    const auto v = verdict("2026-05-11");
    EXPECT_TRUE(std::any_of(v.reasons.begin(), v.reasons.end(), [](const auto& r) { return r.text.find("Do not ride") == 0 && r.text.find("'fresh' had been there by then") != std::string::npos; })) << v.text;
}

TEST_F(FromThePapers, AReadingThatMayBeOfPadsNotedLaterAsThereIsAnsweredByOneOfItsDayOrLaterOfTheSamePad) {
    pad({0.3}, "2026-05-10", {}, false, Side::right);
    const Id fresh = part("fresh", PartKind::pads);
    on(fresh, "2026-05-05");
    pad_of(fresh, 2.4, Side::right, "2026-05-06");
    EXPECT_TRUE(verdict("2026-05-11").do_not_ride) << "of a day before the thin one";
    pad_of(fresh, 2.4, Side::left, "2026-05-11");
    EXPECT_TRUE(verdict("2026-05-11").do_not_ride) << "the other pad";
    pad_of(fresh, 2.4, Side::right, "2026-05-11");
    EXPECT_FALSE(verdict("2026-05-11").do_not_ride) << verdict("2026-05-11").text;
}

TEST_F(FromThePapers, ARunOutTableAndBearingPlayAreNotTakenAwayByALateNoteEither) {
    dial(0.6, 12, "2026-05-10");
    ASSERT_TRUE(verdict("2026-05-11").do_not_ride);
    on(part("other", PartKind::rotor), "2026-05-05", s.wheel);
    EXPECT_TRUE(verdict("2026-05-11").do_not_ride);
    on(part("third", PartKind::rotor), "2026-05-11", s.wheel);
    EXPECT_FALSE(verdict("2026-05-11").do_not_ride) << "changed after it was read: " << verdict("2026-05-11").text;
    reading(What::bearing_play, 0.6, "2026-05-12", s.wheel);
    ASSERT_TRUE(has(verdict("2026-05-13"), "front_bearing_play"));
    const Id other = part("other wheel", PartKind::wheel);
    on(other, "2026-05-08");
    EXPECT_TRUE(verdict("2026-05-13").do_not_ride);
    reading(What::bearing_play, 0.02, "2026-05-13", other);
    EXPECT_FALSE(has(verdict("2026-05-13"), "front_bearing_play"));
}

TEST_F(FromThePapers, PadsNotedLaterAsOnAnotherBikeThrowNoDoubtOnReadingsOfThisOne) {
    pad({0.3}, "2026-05-10");
    const Sample heron = s, wren = add_sample(*p, "Wren");
    const Id fresh = part("fresh", PartKind::pads);
    s = wren;
    on(fresh, "2026-05-05");
    s = heron;
    on(fresh, "2026-05-12");
    EXPECT_FALSE(verdict("2026-05-13").do_not_ride) << verdict("2026-05-13").text;
}

TEST_F(FromThePapers, AnotherRotorOrWheelThatIsNotedLaterAsThereBeforeAThinReadingDoesNotTakeItAway) {
    reading(What::rotor_thickness, 1.5, "2026-05-10", s.rotor);
    ASSERT_TRUE(has(verdict("2026-05-11"), "front_rotor_under_limit")) << verdict("2026-05-11").text;
    const auto part = [&](const std::string& name, PartKind kind) {
        return must(p->add_part(deed(), {.id = "", .name = name, .kind = kind, .compound = {}, .heat_barrier = {}, .new_thickness_mm = {}, .plate_thickness_mm = {}, .plate_measured = {}, .least_thickness_mm = kind == PartKind::rotor ? std::optional(1.65) : std::nullopt, .area_mm2 = {}, .diameter_mm = {}, .note = ""}));
    };
    const auto on = [&](const Id& what, std::optional<Id> bike, std::optional<Id> wheel, const Day& from) { must(p->put_on(deed("Ada", ++at), {.id = "", .part_id = what, .bike_id = bike, .wheel_id = wheel, .place = parts::End::front, .from_day = from, .to_day = {}})); };
    const auto thick = [&](const Id& rotor, double mm) { reading(What::rotor_thickness, mm, "2026-05-12", rotor); };
    const auto held_by = [&](const Day& day, const std::string& name) {
        const auto v = verdict(day);
        return v.do_not_ride && v.text.find("'" + name + "' had been there by then") != std::string::npos;
    };
    // A rotor on the wheel that was there.
    const Id fresh = part("fresh", PartKind::rotor);
    on(fresh, {}, s.wheel, "2026-05-05");
    EXPECT_TRUE(held_by("2026-05-11", "fresh")) << verdict("2026-05-11").text;
    thick(s.rotor, 1.85);
    EXPECT_TRUE(held_by("2026-05-12", "fresh")) << "the rotor that is not there any more was read";
    must(p->undo(deed()));
    thick(fresh, 1.85);
    EXPECT_FALSE(verdict("2026-05-12").do_not_ride) << verdict("2026-05-12").text;
    must(p->undo(deed()));
    must(p->undo(deed()));
    on(fresh, {}, s.wheel, "2026-05-10");
    EXPECT_FALSE(verdict("2026-05-11").do_not_ride) << "measured, then changed on that day";
    must(p->undo(deed()));
    // A wheel that brings its own rotor.
    const Id wheel = part("other wheel", PartKind::wheel), its = part("its rotor", PartKind::rotor);
    on(its, {}, wheel, "2026-05-02");
    on(wheel, s.bike, {}, "2026-05-05");
    EXPECT_TRUE(held_by("2026-05-11", "its rotor")) << verdict("2026-05-11").text;
    thick(its, 1.5);
    EXPECT_TRUE(has(verdict("2026-05-12"), "front_rotor_under_limit"));
    EXPECT_EQ(verdict("2026-05-12").text.find("had been there by then"), std::string::npos) << "the rotor that is there holds back by itself";
    must(p->undo(deed()));
    thick(its, 1.85);
    EXPECT_FALSE(verdict("2026-05-12").do_not_ride) << verdict("2026-05-12").text;
}

// Two thirds of a brake that bit a fifth better than most lies within what is expected of any.
TEST_F(FromThePapers, WhatEndsACarriedAlarmIsNoWeakerThanWhatRaisedIt) {
    const Sample heron = s, wren = add_sample(*p, "Wren");
    stops(1.2, 5, "2026-05-02");
    stops(0.75, 5, "2026-05-10");
    must(p->put_on(deed("Ada", ++at), {.id = "", .part_id = heron.pads, .bike_id = wren.bike, .wheel_id = {}, .place = parts::End::front, .from_day = "2026-05-12", .to_day = {}}));
    s = wren;
    ASSERT_TRUE(has(verdict("2026-05-12"), "front_proof_came_with_pads"));
    work(WorkKind::clean, "2026-05-14");
    stops(0.78, 5, "2026-05-15");
    EXPECT_TRUE(has(verdict("2026-05-15"), "front_proof_came_with_pads")) << "as little as where they fell";
    stops(1.1, 5, "2026-05-16");
    EXPECT_FALSE(has(verdict("2026-05-16"), "front_proof_came_with_pads"));
}

// A bleed after the fall, or between the good days and the fall, begins a history; what the pads gave before is what it was.
TEST_F(FromThePapers, ABleedBesideTheFallMakesWhatEndsACarriedAlarmNoWeaker) {
    for (const Day bleed : {"2026-05-11", "2026-05-06"}) {
        const Sample heron = s = add_sample(*p, "Heron " + bleed), wren = add_sample(*p, "Wren " + bleed);
        stops(1.2, 5, "2026-05-02");
        if (bleed < "2026-05-10") work(WorkKind::bleed, bleed);
        stops(0.75, 5, "2026-05-10");
        if (bleed > "2026-05-10") work(WorkKind::bleed, bleed);
        ASSERT_TRUE(has(verdict("2026-05-11"), "front_proof_alarm")) << bleed;
        s = wren;
        on(heron.pads, "2026-05-12");
        work(WorkKind::clean, "2026-05-14");
        stops(0.92, 5, "2026-05-15");
        EXPECT_TRUE(has(verdict("2026-05-15"), "front_proof_came_with_pads")) << bleed;
        stops(1.1, 5, "2026-05-16");
        EXPECT_FALSE(has(verdict("2026-05-16"), "front_proof_came_with_pads")) << bleed;
    }
}

// What is likely beforehand draws a fall back, and would draw what stood before it up.
TEST_F(FromThePapers, WhatABrakeGaveBeforeItFellIsReadOffItsStopsAlone) {
    const Sample heron = s, wren = add_sample(*p, "Wren");
    stops(1.14, 5, "2026-05-02");
    stops(0.5, 5, "2026-05-10");
    s = wren;
    on(heron.pads, "2026-05-12");
    const auto v = verdict("2026-05-12");
    ASSERT_TRUE(has(v, "front_proof_came_with_pads"));
    EXPECT_EQ(v.text.find("times what such a brake should give"), std::string::npos) << v.text;
    work(WorkKind::clean, "2026-05-14");
    stops(0.92, 5, "2026-05-15");
    EXPECT_FALSE(has(verdict("2026-05-15"), "front_proof_came_with_pads")) << verdict("2026-05-15").text;
}

TEST_F(FromThePapers, AMilderHoldOnTheWayTakesNothingFromAnAlarmThatCameAlong) {
    const Sample heron = s, wren = add_sample(*p, "Wren"), teal = add_sample(*p, "Teal");
    stops(1, 5, "2026-05-02");
    stops(0.55, 5, "2026-05-10");
    s = wren;
    on(heron.pads, "2026-05-12");
    stops(0.2, 5, "2026-05-13");
    ASSERT_TRUE(has(verdict("2026-05-13"), "front_proof_below_expected"));
    s = teal;
    on(heron.pads, "2026-05-14");
    stops(1, 5, "2026-05-15");
    const auto v = verdict("2026-05-15");
    EXPECT_TRUE(has(v, "front_proof_came_with_pads")) << "nothing was cleaned";
    EXPECT_NE(v.text.find("Heron and then the front brake of Wren"), std::string::npos) << v.text;
    EXPECT_EQ(proof("2026-05-15")->rests_on.size(), 10u) << "of both";
    work(WorkKind::clean, "2026-05-16");
    stops(1, 5, "2026-05-17");
    EXPECT_FALSE(has(verdict("2026-05-17"), "front_proof_came_with_pads"));
}

TEST_F(FromThePapers, AnAlarmThatWasEndedBeforeThePadsMovedStaysBehindAndOneOfTheDayOfTheMoveGoesAlong) {
    const Sample heron = s, wren = add_sample(*p, "Wren"), teal = add_sample(*p, "Teal");
    stops(1, 5, "2026-05-02");
    stops(0.55, 5, "2026-05-10");
    work(WorkKind::clean, "2026-05-11");
    stops(1, 4, "2026-05-12");
    must(p->put_on(deed("Ada", ++at), {.id = "", .part_id = heron.pads, .bike_id = wren.bike, .wheel_id = {}, .place = parts::End::front, .from_day = "2026-05-13", .to_day = {}}));
    s = wren;
    EXPECT_FALSE(has(verdict("2026-05-14"), "front_proof_came_with_pads"));
    // Braked badly in the morning, moved in the afternoon.
    stops(1, 4, "2026-05-14");
    stops(0.5, 5, "2026-05-20");
    must(p->put_on(deed("Ada", ++at), {.id = "", .part_id = heron.pads, .bike_id = teal.bike, .wheel_id = {}, .place = parts::End::front, .from_day = "2026-05-20", .to_day = {}}));
    s = teal;
    EXPECT_TRUE(has(verdict("2026-05-20"), "front_proof_came_with_pads"));
}

TEST_F(FromThePapers, PadsThatCameAfterTheFallTakeNothingAlongButTheRotorDoes) {
    const Sample heron = s, wren = add_sample(*p, "Wren"), teal = add_sample(*p, "Teal");
    stops(1, 5, "2026-05-02");
    stops(0.55, 5, "2026-05-10");
    must(p->put_on(deed("Ada", ++at), {.id = "", .part_id = wren.pads, .bike_id = heron.bike, .wheel_id = {}, .place = parts::End::front, .from_day = "2026-05-12", .to_day = {}}));
    ASSERT_TRUE(has(verdict("2026-05-13"), "front_proof_alarm")) << "no sound day yet";
    must(p->put_on(deed("Ada", ++at), {.id = "", .part_id = wren.pads, .bike_id = teal.bike, .wheel_id = {}, .place = parts::End::front, .from_day = "2026-05-14", .to_day = {}}));
    s = teal;
    EXPECT_FALSE(has(verdict("2026-05-15"), "front_proof_came_with_pads"));
    must(p->put_on(deed("Ada", ++at), {.id = "", .part_id = heron.rotor, .bike_id = {}, .wheel_id = teal.wheel, .place = parts::End::front, .from_day = "2026-05-16", .to_day = {}}));
    EXPECT_TRUE(has(verdict("2026-05-17"), "front_proof_came_with_rotor"));
}

TEST_F(FromThePapers, AnAlarmGoesWithARotorToTheOtherWheelAndIsClearedByName) {
    const Sample heron = s, wren = add_sample(*p, "Wren");
    stops(1, 5, "2026-05-02");
    stops(0.55, 5, "2026-05-10");
    must(p->put_on(deed("Ada", ++at), {.id = "", .part_id = heron.rotor, .bike_id = wren.bike, .wheel_id = {}, .place = parts::End::rear, .from_day = "2026-05-12", .to_day = {}}));
    s = wren;
    ASSERT_TRUE(has(verdict("2026-05-13"), "rear_proof_came_with_rotor"));
    const auto held = proof_read(must(book_of(*p, s.bike)), s.bike, described(), parts::End::rear, library, "2026-05-13");
    ASSERT_TRUE(held);
    EXPECT_EQ(held->rests_on.size(), 5u);
    must(p->clear_proof(deed("Ben"), held->rests_on, "the scale slipped"));
    EXPECT_FALSE(has(verdict("2026-05-13"), "rear_proof_came_with_rotor"));
    s = heron;
    EXPECT_FALSE(has(verdict("2026-05-13"), "front_proof_alarm")) << "the same stops: they count for nothing here either";
}

TEST_F(FromThePapers, FarBelowWhatIsExpectedGoesWithThePadsUntilASoundDay) {
    const Sample heron = s, wren = add_sample(*p, "Wren");
    stops(0.2, 5, "2026-05-04");
    ASSERT_TRUE(verdict("2026-05-05").do_not_ride);
    must(p->put_on(deed("Ada", ++at), {.id = "", .part_id = heron.pads, .bike_id = wren.bike, .wheel_id = {}, .place = parts::End::front, .from_day = "2026-05-06", .to_day = {}}));
    s = wren;
    EXPECT_TRUE(has(verdict("2026-05-07"), "front_proof_came_with_pads"));
    stops(1, 4, "2026-05-08");
    EXPECT_FALSE(verdict("2026-05-09").do_not_ride) << verdict("2026-05-09").text;
}

TEST_F(FromThePapers, BearingPlayIsOfTheWheelAndIsInTheRunOutThatWasReadWithIt) {
    const auto budget = [&](const Day& today) { return run_out_read(must(book_of(*p, s.bike)), s.bike, parts::End::front, library, today)->budget; };
    dial(0.1, 12, "2026-05-02");
    EXPECT_FALSE(budget("2026-05-02").play_measured);
    EXPECT_DOUBLE_EQ(budget("2026-05-02").bearing_play_mm, library.value("inspect.run_out.bearing_play_mm"));
    reading(What::bearing_play, 0.06, "2026-05-03", s.wheel);
    EXPECT_FALSE(budget("2026-05-03").play_measured) << "read after that table: the bearings may have been others then";
    dial(0.1, 12, "2026-05-03");
    const Book book = must(book_of(*p, s.bike));
    const double u = uncertainty_mm(book, *std::find_if(book.readings.begin(), book.readings.end(), [](const Reading& r) { return r.what == What::bearing_play; }), practice);
    EXPECT_TRUE(budget("2026-05-03").play_measured);
    EXPECT_DOUBLE_EQ(budget("2026-05-03").bearing_play_mm, std::hypot(0.06, u));
    // On another wheel it is another play.
    const Sample wren = add_sample(*p, "Wren");
    must(p->put_on(deed("Ada", ++at), {.id = "", .part_id = s.rotor, .bike_id = {}, .wheel_id = wren.wheel, .place = parts::End::front, .from_day = "2026-05-04", .to_day = {}}));
    s = {wren.bike, s.person, s.instrument, s.pads, s.rotor, wren.wheel};
    dial(0.1, 12, "2026-05-05");
    EXPECT_FALSE(budget("2026-05-05").play_measured);
}

TEST_F(FromThePapers, AWheelThatRocksAsFarAsTheGapHoldsBackUntilItIsMendedOrReadBetter) {
    reading(What::bearing_play, 0.1, "2026-05-02", s.wheel);
    EXPECT_FALSE(has(verdict("2026-05-02"), "front_bearing_play"));
    reading(What::bearing_play, practice.run_out_high_mm, "2026-05-03", s.wheel);
    EXPECT_TRUE(has(verdict("2026-05-03"), "front_bearing_play"));
    EXPECT_FALSE(verdict("2026-05-03").do_not_ride);
    reading(What::bearing_play, practice.run_out_hold_mm, "2026-05-04", s.wheel);
    EXPECT_TRUE(verdict("2026-05-04").do_not_ride);
    reading(What::bearing_play, 0.02, "2026-05-05", s.wheel);
    EXPECT_TRUE(verdict("2026-05-05").do_not_ride) << "measuring again with the same clears nothing";
    work(WorkKind::other, "2026-05-06");
    EXPECT_TRUE(verdict("2026-05-06").do_not_ride) << "any other work sets no bearing";
    work_at(WorkKind::bolts, std::nullopt, "2026-05-06");
    EXPECT_TRUE(verdict("2026-05-06").do_not_ride) << "bolts of no named end";
    work_at(WorkKind::bolts, parts::End::rear, "2026-05-06");
    EXPECT_TRUE(verdict("2026-05-06").do_not_ride) << "bolts of the other end";
    work_at(WorkKind::bolts, parts::End::front, "2026-05-07");
    EXPECT_FALSE(verdict("2026-05-07").do_not_ride);
    EXPECT_TRUE(has(verdict("2026-05-07"), "front_bearing_play")) << "worked on, not read since";
    reading(What::bearing_play, 0.02, "2026-05-08", s.wheel);
    EXPECT_FALSE(has(verdict("2026-05-08"), "front_bearing_play"));
}

TEST_F(FromThePapers, WorkOnAnotherWheelBeforeTheRockingOneCameEndsNothing) {
    const Sample heron = s, wren = add_sample(*p, "Wren");
    reading(What::bearing_play, 1.2 * practice.run_out_hold_mm, "2026-05-02", heron.wheel);
    s = wren;
    work_at(WorkKind::bolts, parts::End::front, "2026-05-03");
    work_at(WorkKind::bolts, parts::End::front, "2026-05-05");   // in the morning, on Wren's own wheel
    must(p->put_on(deed("Ada", ++at), {.id = "", .part_id = heron.wheel, .bike_id = wren.bike, .wheel_id = {}, .place = parts::End::front, .from_day = "2026-05-05", .to_day = {}}));
    EXPECT_TRUE(has(verdict("2026-05-05"), "front_bearing_play"));
    EXPECT_TRUE(verdict("2026-05-05").do_not_ride);
    work_at(WorkKind::bolts, parts::End::front, "2026-05-05");
    EXPECT_FALSE(verdict("2026-05-05").do_not_ride);
}

TEST_F(FromThePapers, OfRepeatsOfPlayTheMostCounts) {
    Reading r = pad_reading(s, 1);
    r.what = What::bearing_play;
    r.part_id = s.wheel;
    r.day = "2026-05-02";
    r.with_plate.reset();
    r.points.clear();
    for (const double off : {-0.02, 0.01}) r.points.push_back({.side = {}, .angle_deg = 0.0, .radius_mm = {}, .length_mm = practice.run_out_hold_mm + off});
    ASSERT_EQ(places_of(r, scatter_of(must(book_of(*p, s.bike)), r, library)).size(), 1u);
    must(p->add_reading(deed("Ada", ++at), r));
    EXPECT_TRUE(verdict("2026-05-02").do_not_ride) << "their mean is under the limit";
}

// What was braked and done on the day of the move before the pads came was with the brake's own pads.
TEST_F(FromThePapers, StopsAndWorkOfTheDayBeforeThePadsCameEndNoCarriedAlarmAndNewPadsMendNone) {
    const Sample heron = s, wren = add_sample(*p, "Wren");
    stops(1, 5, "2026-05-02");
    stops(0.55, 5, "2026-05-10");
    s = wren;
    work(WorkKind::clean, "2026-05-12");
    stops(1, 4, "2026-05-12");
    must(p->put_on(deed("Ada", ++at), {.id = "", .part_id = heron.pads, .bike_id = wren.bike, .wheel_id = {}, .place = parts::End::front, .from_day = "2026-05-12", .to_day = {}}));
    EXPECT_TRUE(has(verdict("2026-05-12"), "front_proof_came_with_pads"));
    work(WorkKind::new_pads, "2026-05-13");
    stops(1, 4, "2026-05-14");
    EXPECT_TRUE(has(verdict("2026-05-14"), "front_proof_came_with_pads")) << "other pads are not these mended";
    work(WorkKind::clean, "2026-05-15");
    stops(1, 4, "2026-05-15");
    EXPECT_FALSE(has(verdict("2026-05-15"), "front_proof_came_with_pads"));
}

TEST_F(FromThePapers, StopsOfTheMorningEndNoFindingBelowExpectedThatCameInTheAfternoon) {
    const Sample heron = s, wren = add_sample(*p, "Wren");
    stops(0.2, 5, "2026-05-04");
    s = wren;
    stops(1, 4, "2026-05-06");
    must(p->put_on(deed("Ada", ++at), {.id = "", .part_id = heron.pads, .bike_id = wren.bike, .wheel_id = {}, .place = parts::End::front, .from_day = "2026-05-06", .to_day = {}}));
    EXPECT_TRUE(has(verdict("2026-05-06"), "front_proof_came_with_pads"));
}

TEST_F(FromThePapers, ARunOutTableIsSampledOnceAndAnotherBudgetAnew) {
    dial(0.1137, 13, "2026-05-02");   // of no other test: what is kept is kept for the whole process
    Book book = must(book_of(*p, s.bike));
    const auto timed = [&](const Book& b, inspect::RunOut& out) {
        const auto began = std::chrono::steady_clock::now();
        out = *run_out_read(b, s.bike, parts::End::front, library, "2026-05-02")->run_out;
        return std::chrono::duration<double>(std::chrono::steady_clock::now() - began).count();
    };
    inspect::RunOut first, again, other;
    const double once = timed(book, first), twice = timed(book, again);
    EXPECT_EQ(first.totals_mm, again.totals_mm);
    EXPECT_LT(twice, once / 4);
    for (Person& person : book.people) person.repeat_sd_mm = 0.08;
    timed(book, other);
    EXPECT_NE(first.totals_mm, other.totals_mm) << "another person's repeatability is another sample";
}

TEST_F(FromThePapers, WhatWasSampledComesBackFromItsTextToTheLastBit) {
    for (const int n : {6, 8, 12}) {
        std::vector<inspect::DialReading> looks;
        for (int i = 0; i < n; ++i) looks.push_back({360.0 * i / n, 1 + 0.01 * std::round(12 * std::cos(i) + 7 * std::cos(2.0 * i))});
        const inspect::RunOut o = *inspect::run_out_of(looks, inspect::run_out_budget_of(library));
        const std::string text = text_of(o);
        const std::optional<inspect::RunOut> back = run_out_from(text);
        ASSERT_TRUE(back) << n;
        EXPECT_EQ(text_of(*back), text);
        EXPECT_EQ(back->totals_mm, o.totals_mm);
        EXPECT_EQ(inspect::words_of(*back, inspect::run_out_budget_of(library)), inspect::words_of(o, inspect::run_out_budget_of(library)));
        for (const std::string& wrong : {text.substr(0, text.size() - 2), text + "1]", "[" + text, std::string("[9"), std::string()}) EXPECT_FALSE(run_out_from(wrong)) << wrong.substr(0, 20);
    }
    EXPECT_FALSE(run_out_from("[2,12,0.1,1,0,0,0,1e9]")) << "a list longer than its text";
}

TEST_F(FromThePapers, ATableWhoseKeepingWasTakenBackIsKeptAnotherTime) {
    dial(0.61, 8, "2026-05-02");
    const auto kept = [&] { return exported(*p)["answers.csv"].find("run_out/1") != std::string::npos; };
    EXPECT_FALSE(p->together([&]() -> Status {
        verdict();
        return Error{.code = Errc::bad_input, .text = "taken back"};
    }));
    EXPECT_FALSE(kept());
    verdict();
    EXPECT_TRUE(kept()) << "though this process had it at hand";
}

// What eight tables say, figure for figure: who moves any of it raises inspect::run_out_model, for kept tables decide as long as
// the papers live, and writes the new ones here.
TEST_F(FromThePapers, TheNumberOfTheRunOutModelGoesWithAllThatTablesSay) {
    std::string all;
    for (const auto& [n, hole, play] : {std::tuple(6, 0, false), std::tuple(8, 0, false), std::tuple(9, 0, false), std::tuple(12, 0, false), std::tuple(12, 0, true), std::tuple(18, 4, false), std::tuple(24, 0, false), std::tuple(36, 0, false)}) {
        std::vector<inspect::DialReading> looks;
        for (int i = hole; i < n; ++i) {
            const double deg = 360.0 * i / n, off = (deg - 200) / 35;
            looks.push_back({deg, std::round(100 * (2 + 0.1 * std::cos(deg * 0.0174533) + 0.05 * std::cos(2 * (deg - 100) * 0.0174533) - 0.2 * std::exp2(-4 * off * off))) / 100});
        }
        inspect::RunOutBudget budget = inspect::run_out_budget_of(library);
        if (play) budget.bearing_play_mm = 0.05, budget.play_measured = true;
        // To six digits: another machine's last bits are no other model.
        const std::string text = text_of(*inspect::run_out_of(looks, budget));
        for (std::size_t from = 1; from < text.size();) {
            const std::size_t end = text.find_first_of(",]", from);
            all += fmt::format("{:.6g} ", std::stod(text.substr(from, end - from)));
            from = end + 1;
        }
    }
    EXPECT_EQ(inspect::run_out_model, 1);
    EXPECT_EQ(content_id(all), "a15b90ea679565888c2eb826160018665e288254746e5193d25701a0ae65fa8a") << all.size();
}

TEST_F(FromThePapers, EachPersonsRepeatabilityIsThatOfTheQuantity) {
    Reading r = pad_reading(s, 1);
    const Id cleo = must(p->put_person(deed(), {.id = "", .name = "Cleo", .hand_size_cm = {}, .hand_strength_N = {}, .mass_kg = {}, .repeat_sd_mm = 0.05, .note = "", .repeat_sd_degC = 7, .repeat_sd_g = 0.4}));
    const Book book = must(book_of(*p, s.bike));
    r.instrument_id.reset();
    const std::tuple<What, double, const char*> all[] = {{What::pad_thickness, 0.05, "inspect.repeat.sd_mm"}, {What::caliper_temperature, 7, "inspect.repeat.sd_degC"}, {What::pad_mass, 0.4, "inspect.repeat.sd_g"}};
    for (const auto& [what, sd, row] : all) {
        r.what = what;
        r.person_id = cleo;
        EXPECT_DOUBLE_EQ(scatter_of(book, r, library), sd);
        const double once = uncertainty_of(book, r, practice, library), often = uncertainty_of(book, r, practice, library, 4);
        EXPECT_NEAR(once * once - often * often, sd * sd * 3 / 4, 1e-12) << "repeats reduce the person's part alone: JCGM 100:2008, 4.2.3";
        r.person_id = "nobody";
        EXPECT_DOUBLE_EQ(scatter_of(book, r, library), library.value(row));
    }
}
