// SPDX-License-Identifier: Apache-2.0
// What any back end of the papers must do (papers.hpp, rules 1 to 5): no word of SQL here. Each claim is tried on papers that
// stay open, on papers that are closed and opened between the steps, and on papers that are exported and imported between them.
#include <cmath>

#include "desk.hpp"

using namespace bw;
using namespace bw::papers;
using namespace bw::papers::testing;

namespace {

enum class Between { nothing, open_again, export_and_import };

class Contract : public ::testing::TestWithParam<Between> {
protected:
    Folder folder;
    std::string path = folder.path("a.papers");
    std::unique_ptr<Papers> p = must(make_papers(path));
    int n = 0;

    void between() {
        if (GetParam() == Between::open_again) {
            p.reset();
            p = must(open_papers(path)).papers;
        } else if (GetParam() == Between::export_and_import) {
            const Files files = exported(*p);
            path = folder.path(std::to_string(++n) + ".papers");
            p = must(import_papers(path, source_of(files)));
            EXPECT_EQ(exported(*p), files);
        }
    }
    std::vector<std::string> history() {
        std::vector<std::string> verbs;
        for (const Event& e : must(p->history(100))) verbs.push_back(e.verb);
        return verbs;
    }
    void expect_sound() { EXPECT_EQ(must(p->sound()).troubles, std::vector<std::string>{}); }
};

}  // namespace

TEST_P(Contract, WhatWasAddedIsThereToTheLastDigit) {
    const Sample s = add_sample(*p);
    must(p->add_reading(deed(), pad_reading(s, 0.1 + 0.2, "line one\nline \"two\", with commas")));
    must(p->add_ride(deed(), a_ride(s, "morning.csv"), "t_s,speed_mps\n0,1\n"));
    must(p->add_work(deed(), {.id = "", .bike_id = s.bike, .place = parts::End::rear, .kind = WorkKind::bleed, .day = "2026-05-03", .person_id = s.person, .note = ""}));
    must(p->add_incident(deed(), {.id = "", .bike_id = s.bike, .place = {}, .kind = Happening::crash, .day = "2026-05-03", .recorded_unix_s = 7, .person_id = s.person, .note = ""}));
    between();
    const auto people = must(p->people());
    ASSERT_EQ(people.size(), 1u);
    EXPECT_EQ(people[0].hand_strength_N, 310.25);
    EXPECT_FALSE(people[0].mass_kg.has_value());
    const auto readings = must(p->readings(s.bike));
    ASSERT_EQ(readings.size(), 1u);
    ASSERT_EQ(readings[0].points.size(), 1u);
    EXPECT_EQ(readings[0].points[0].length_mm, 0.1 + 0.2);
    EXPECT_EQ(readings[0].points[0].side, Side::left);
    EXPECT_EQ(readings[0].note, "line one\nline \"two\", with commas");
    EXPECT_EQ(readings[0].with_plate, false);
    EXPECT_EQ(readings[0].recorded_unix_s, 1777700000.125);
    EXPECT_EQ(must(p->works(s.bike)).at(0).kind, WorkKind::bleed);
    EXPECT_EQ(must(p->incidents({})).at(0).kind, Happening::crash);
    EXPECT_EQ(must(p->ride_content(content_id("t_s,speed_mps\n0,1\n"))), "t_s,speed_mps\n0,1\n");
    EXPECT_EQ(must(p->instruments()).at(0).anvil, parts::Anvil::flat_jaws);
    EXPECT_EQ(must(p->bikes()).at(0).description_toml, a_bike("Heron").description_toml);
    expect_sound();
}

TEST_P(Contract, ARideIsFoundAgainByItsContentAndNotAddedTwice) {
    const Sample s = add_sample(*p);
    const Added first = must(p->add_ride(deed(), a_ride(s, "a.csv"), "content"));
    between();
    const auto before = history();
    const Added second = must(p->add_ride(deed(), a_ride(s, "another name.csv"), "content"));
    EXPECT_FALSE(first.was_there);
    EXPECT_TRUE(second.was_there);
    EXPECT_EQ(second.bike, "Heron");
    EXPECT_EQ(first.id, second.id);
    EXPECT_EQ(must(p->rides({})).size(), 1u);
    EXPECT_EQ(history(), before) << "what changes nothing leaves no event";
}

TEST_P(Contract, DescribedRidesComeInTogetherOrNotAtAll) {
    const Sample s = add_sample(*p);
    Ride bad = a_described_ride(s, "2");
    bad.bike_id = "nobody's";
    EXPECT_FALSE(p->add_rides(deed(), {a_described_ride(s, "1"), bad}));
    between();
    EXPECT_TRUE(must(p->rides({})).empty());
    const auto added = must(p->add_rides(deed(), {a_described_ride(s, "1"), a_described_ride(s, "2"), a_described_ride(s, "1")}));
    EXPECT_FALSE(added[0].was_there);
    EXPECT_FALSE(added[1].was_there);
    EXPECT_TRUE(added[2].was_there);
    EXPECT_EQ(must(p->rides(s.bike)).size(), 2u);
}

TEST_P(Contract, WhatNamesSomethingThatIsNotThereIsRefusedAndNothingChanges) {
    const Sample s = add_sample(*p);
    between();
    const auto before = exported(*p);
    Reading r = pad_reading(s, 1.5);
    r.bike_id = "x";
    EXPECT_FALSE(p->add_reading(deed(), r));
    r = pad_reading(s, 1.5);
    r.person_id = "x";
    EXPECT_FALSE(p->add_reading(deed(), r));
    r = pad_reading(s, 1.5);
    r.part_id = "x";
    EXPECT_FALSE(p->add_reading(deed(), r));
    Ride ride = a_ride(s, "a.csv");
    ride.bike_id = "x";
    EXPECT_FALSE(p->add_ride(deed(), ride, "content"));
    EXPECT_FALSE(p->hold(deed(), {.id = "", .bike_id = "x", .from_unix_s = 1, .by = "Ada", .why = "crack", .cleared_unix_s = {}, .cleared_by = "", .cleared_why = ""}));
    EXPECT_FALSE(p->keep_dose({.id = key_of({"k"}), .ride_id = key_of({"no ride"}), .made_unix_s = 0, .model_versions = "heat 1", .bytes = "x"}));
    EXPECT_EQ(exported(*p), before);
}

TEST_P(Contract, TwoBikesPartsOrPeopleOfOneNameAreRefused) {
    const Sample s = add_sample(*p);
    between();
    const auto bike = p->add_bike(deed(), a_bike("Heron"), {}, {});
    ASSERT_FALSE(bike);
    EXPECT_NE(bike.error().text.find("Heron"), std::string::npos);
    Person ada{.id = "", .name = "Ada", .hand_size_cm = {}, .hand_strength_N = {}, .mass_kg = {}, .repeat_sd_mm = {}, .note = ""};
    EXPECT_FALSE(p->put_person(deed(), ada));
    ada.id = s.person;
    ada.hand_size_cm = 18;
    must(p->put_person(deed(), ada));
    EXPECT_EQ(must(p->people()).at(0).hand_size_cm, 18);
}

TEST_P(Contract, ABikeIsChangedUnderItsIdAndUndoPutsItBack) {
    const Sample s = add_sample(*p, "Heron");
    add_sample(*p, "Wren");
    Bike b = must(p->bikes()).at(0);
    b.retired_day = "2026-09-01";
    b.name = "Wren";
    EXPECT_FALSE(p->change_bike(deed(), b)) << "that name is taken";
    b.name = "Grey heron";
    must(p->change_bike(deed(), b));
    between();
    EXPECT_EQ(must(p->bikes()).at(0).id, s.bike);
    EXPECT_EQ(must(p->bikes()).at(0).name, "Grey heron");
    EXPECT_EQ(must(p->bikes()).at(0).retired_day, "2026-09-01");
    must(p->undo(deed()));
    EXPECT_EQ(must(p->bikes()).at(0).name, "Heron");
    b.id = "x";
    EXPECT_FALSE(p->change_bike(deed(), b));
    expect_sound();
}

TEST_P(Contract, ValuesThatAreNoneAreRefused) {
    const Sample s = add_sample(*p);
    EXPECT_FALSE(p->add_reading(deed(), pad_reading(s, std::nan(""))));
    EXPECT_FALSE(p->add_reading(deed(), pad_reading(s, HUGE_VAL)));
    Reading r = pad_reading(s, 1);
    r.day = "2026-02-30";
    EXPECT_FALSE(p->add_reading(deed(), r));
    r = pad_reading(s, 1);
    r.with_plate.reset();
    EXPECT_FALSE(p->add_reading(deed(), r)) << "with or without the plate is never guessed";
    r = pad_reading(s, 1);
    r.points.clear();
    EXPECT_FALSE(p->add_reading(deed(), r));
    r = pad_reading(s, 1, "\xff\xfe");
    EXPECT_FALSE(p->add_reading(deed(), r));
    between();
    EXPECT_TRUE(must(p->readings({})).empty());
}

TEST_P(Contract, APartIsInOnePlaceAtATimeAndKeepsItsPast) {
    const Sample a = add_sample(*p, "Heron"), b = add_sample(*p, "Wren");
    between();
    // Heron's pads go to Wren: Wren's own come off, Heron is left without.
    must(p->put_on(deed(), {.id = "", .part_id = a.pads, .bike_id = b.bike, .wheel_id = {}, .place = parts::End::front, .from_day = "2026-06-01", .to_day = {}}));
    between();
    int open_of_a = 0, open_of_b = 0;
    for (const Fitting& f : must(p->fittings())) {
        if ((f.part_id == a.pads && f.bike_id == a.bike) || f.part_id == b.pads) {
            EXPECT_EQ(f.to_day, "2026-06-01");
        }
        if (f.part_id == a.pads && !f.to_day) {
            ++open_of_a;
            EXPECT_EQ(f.bike_id, b.bike);
        }
        if (f.part_id == b.pads && !f.to_day) ++open_of_b;
    }
    EXPECT_EQ(open_of_a, 1);
    EXPECT_EQ(open_of_b, 0);
    EXPECT_FALSE(p->put_on(deed(), {.id = "", .part_id = a.pads, .bike_id = a.bike, .wheel_id = {}, .place = parts::End::front, .from_day = "2026-05-15", .to_day = {}})) << "before the day it left";
    EXPECT_FALSE(p->put_on(deed(), {.id = "", .part_id = a.pads, .bike_id = b.bike, .wheel_id = {}, .place = parts::End::front, .from_day = "2026-07-01", .to_day = {}})) << "is there already";
    EXPECT_FALSE(p->put_on(deed(), {.id = "", .part_id = a.pads, .bike_id = {}, .wheel_id = b.rotor, .place = parts::End::front, .from_day = "2026-07-01", .to_day = {}})) << "a rotor carries nothing";
    must(p->take_off(deed(), a.pads, "2026-07-01"));
    EXPECT_FALSE(p->take_off(deed(), a.pads, "2026-07-02"));
    expect_sound();
}

TEST_P(Contract, UndoTakesBackTheNewestBatchWhole) {
    const Sample s = add_sample(*p);
    const auto before = must(p->readings({})).size();
    const Deed one = deed();
    must(p->add_ride(one, a_ride(s, "a.csv"), "content a"));
    must(p->add_ride(one, a_ride(s, "b.csv"), "content b"));
    must(p->add_reading(deed(), pad_reading(s, 1.2)));
    between();
    EXPECT_EQ(must(p->undo(deed())).events, 1);
    EXPECT_EQ(must(p->readings({})).size(), before);
    EXPECT_EQ(must(p->rides({})).size(), 2u);
    between();
    EXPECT_EQ(must(p->undo(deed())).events, 2);
    EXPECT_TRUE(must(p->rides({})).empty());
    EXPECT_FALSE(p->ride_content(content_id("content a")));
    between();
    expect_sound();
    // Taken back, it can be added again.
    EXPECT_FALSE(must(p->add_ride(deed(), a_ride(s, "a.csv"), "content a")).was_there);
    // The bike goes last: its people and instruments were of the same batch.
    must(p->undo(deed()));
    must(p->undo(deed()));
    EXPECT_TRUE(must(p->bikes()).empty());
    EXPECT_TRUE(must(p->people()).empty());
    const auto nothing = p->undo(deed());
    ASSERT_FALSE(nothing);
    EXPECT_NE(nothing.error().text.find("nothing to take back"), std::string::npos);
    expect_sound();
}

TEST_P(Contract, UndoOfAPartThatMovedPutsBothPlacesBack) {
    const Sample a = add_sample(*p, "Heron"), b = add_sample(*p, "Wren");
    const auto before = exported(*p)["fittings.csv"];
    must(p->put_on(deed(), {.id = "", .part_id = a.pads, .bike_id = b.bike, .wheel_id = {}, .place = parts::End::front, .from_day = "2026-06-01", .to_day = {}}));
    between();
    EXPECT_NE(exported(*p)["fittings.csv"], before);
    must(p->undo(deed()));
    EXPECT_EQ(exported(*p)["fittings.csv"], before);
}

TEST_P(Contract, AHoldIsNeverUndoneAndIsClearedByANamedPersonOnly) {
    const Sample s = add_sample(*p);
    Hold h{.id = "", .bike_id = s.bike, .from_unix_s = 1777700000, .by = "Ada", .why = "crack at the arm", .cleared_unix_s = {}, .cleared_by = "", .cleared_why = ""};
    for (const char* nobody : {"", " ", "\t"}) {
        h.by = nobody;
        EXPECT_FALSE(p->hold(deed(), h));
        h.by = "Ada";
        h.why = nobody;
        EXPECT_FALSE(p->hold(deed(), h));
        h.why = "crack at the arm";
    }
    must(p->hold(deed(), h));
    between();
    const auto undone = p->undo(deed());
    ASSERT_FALSE(undone);
    EXPECT_NE(undone.error().text.find("papers clear"), std::string::npos);
    for (const char* nobody : {"", " ", "\t"}) {
        EXPECT_FALSE(p->clear(deed(nobody), s.bike, "new rotor"));
        EXPECT_FALSE(p->clear(deed("Ben"), s.bike, nobody));
    }
    EXPECT_FALSE(p->clear(deed("Ben"), "no such bike", "new rotor"));
    EXPECT_EQ(must(p->clear(deed("Ben"), add_sample(*p, "Wren").bike, "another bike")), 0);
    must(p->undo(deed()));
    EXPECT_EQ(must(p->clear(deed("Ben"), s.bike, "new rotor")), 1);
    between();
    EXPECT_EQ(must(p->holds(s.bike)).at(0).cleared_by, "Ben");
    EXPECT_EQ(must(p->clear(deed("Ben"), s.bike, "again")), 0);
    // Taking back a clearing brings the hold back into force.
    must(p->undo(deed()));
    EXPECT_EQ(must(p->holds(s.bike)).at(0).cleared_by, "");
    EXPECT_FALSE(p->undo(deed())) << "next would be the hold, and a clearing that was taken back does not come again";
    EXPECT_EQ(must(p->holds(s.bike)).at(0).cleared_by, "");
    EXPECT_EQ(must(p->clear(deed("Cleo"), s.bike, "seen again")), 1);
    EXPECT_EQ(must(p->holds(s.bike)).at(0).cleared_by, "Cleo");
    expect_sound();
}

TEST_P(Contract, ProofStopsAreKeptToTheLastDigitInTheOrderRiddenAndUndone) {
    const Sample s = add_sample(*p);
    std::vector<ProofStop> set = {proof_stop(s, 0, "2026-05-03"), proof_stop(s, 1, "2026-05-03")};
    set[1].proof_id = set[0].proof_id;
    set[0].distance_m = 1.0 / 3;
    set[1].way.reset(), set[1].time_s.reset(), set[1].lever_force_N.reset();
    must(p->add_proof(deed(), set));
    must(p->add_proof(deed("Ben"), {proof_stop(s, 0, "2026-05-02")}));
    between();
    std::vector<ProofStop> kept = must(p->proof_stops(s.bike));
    ASSERT_EQ(kept.size(), 3u);
    EXPECT_EQ(kept[0].day, "2026-05-02");
    EXPECT_EQ(kept[1].distance_m, 1.0 / 3);
    EXPECT_EQ(kept[1].proof_id, set[0].proof_id);
    EXPECT_EQ(kept[1].lever_place_mm, 20.0);
    EXPECT_FALSE(kept[2].way || kept[2].time_s || kept[2].lever_force_N);
    must(p->undo(deed()));
    EXPECT_EQ(must(p->proof_stops({})).size(), 2u);
    ProofStop nobody = proof_stop(s, 0);
    nobody.person_id = new_uuid();
    EXPECT_FALSE(p->add_proof(deed(), {proof_stop(s, 0), nobody}));
    ProofStop backwards = proof_stop(s, 0);
    backwards.distance_m = -1;
    EXPECT_FALSE(p->add_proof(deed(), {backwards}));
    EXPECT_EQ(must(p->proof_stops({})).size(), 2u) << "all of a set or none";
    // Only a named person says that stops count for nothing, and each stop once.
    EXPECT_FALSE(p->clear_proof(deed(""), {kept[1].id}, "scale slipped"));
    EXPECT_EQ(must(p->clear_proof(deed("Ben", 1777900000), {kept[1].id}, "scale slipped")), 1);
    EXPECT_EQ(must(p->clear_proof(deed("Ada"), {kept[1].id, kept[2].id}, "both")), 1);
    between();
    kept = must(p->proof_stops(s.bike));
    EXPECT_EQ(kept[0].cleared_by, "Ben");
    EXPECT_EQ(kept[0].cleared_why, "scale slipped");
    EXPECT_EQ(kept[0].cleared_unix_s, 1777900000.0);
    EXPECT_EQ(must(p->sound()).troubles, std::vector<std::string>{});
}

TEST_P(Contract, AnswersAndDosesAreKeptByTheirKeyAndGoWithTheirRide) {
    const Sample s = add_sample(*p);
    const Id ride = must(p->add_ride(deed(), a_ride(s, "a.csv"), "content")).id;
    const Id key = key_of({"inputs", "heat 1", "seed 1"}), other = key_of({"inputs", "heat 2", "seed 1"});
    ASSERT_NE(key, other);
    must(p->keep_dose({.id = key, .ride_id = ride, .made_unix_s = 5, .model_versions = "heat 1", .bytes = std::string("\0\1\2", 3)}));
    must(p->keep_answer({.id = key, .bike_id = s.bike, .made_unix_s = 6, .kind = "answer/1", .model_versions = "heat 1", .json = "{\"x\": 0.1}"}));
    between();
    EXPECT_EQ(must(p->dose(key))->bytes, std::string("\0\1\2", 3));
    EXPECT_FALSE(must(p->dose(other)).has_value());
    EXPECT_EQ(must(p->answer(key))->json, "{\"x\": 0.1}");
    // A new reading leaves the ride's dose alone: its key has no reading in it.
    must(p->add_reading(deed(), pad_reading(s, 1.1)));
    EXPECT_TRUE(must(p->dose(key)).has_value());
    must(p->undo(deed()));
    must(p->undo(deed()));
    EXPECT_FALSE(must(p->dose(key)).has_value());
    expect_sound();
}

TEST_P(Contract, KeptAnswersAreFoundNewestDayFirstWheneverTheyWereMade) {
    const Sample s = add_sample(*p);
    const auto keep = [&](const char* day, double made) {
        must(p->keep_answer({.id = key_of({day, std::to_string(made)}), .bike_id = s.bike, .made_unix_s = made, .kind = "forecast/1", .model_versions = "", .json = "{}", .day = day}));
    };
    keep("2026-05-01", 9), keep("2026-05-03", 1), keep("2026-05-03", 2), keep("2026-05-02", 3);
    must(p->keep_answer({.id = key_of({"of no day"}), .bike_id = s.bike, .made_unix_s = 10, .kind = "forecast/1", .model_versions = "", .json = "{}"}));
    must(p->keep_answer({.id = key_of({"other"}), .bike_id = s.bike, .made_unix_s = 10, .kind = "answer/1", .model_versions = "", .json = "{}", .day = "2026-05-03"}));
    between();
    const auto told = [&](const Day& day, std::size_t most, std::size_t skip) {
        std::string all;
        for (const KeptAnswer& a : must(p->newest_answers(s.bike, "forecast/1", day, most, skip))) all += a.day.value_or("?").substr(8) + "/" + std::to_string(static_cast<int>(a.made_unix_s)) + " ";
        return all;
    };
    EXPECT_EQ(told("2026-05-03", 9, 0), "03/2 03/1 02/3 01/9 ");
    EXPECT_EQ(told("2026-05-03", 2, 1), "03/1 02/3 ");
    EXPECT_EQ(told("2026-05-02", 9, 0), "02/3 01/9 ");
    EXPECT_EQ(told("2026-04-30", 9, 0), "");
}

TEST_P(Contract, TogetherIsAllOrNothing) {
    const Sample s = add_sample(*p);
    const auto before = exported(*p);
    EXPECT_FALSE(p->together([&]() -> Status {
        must(p->add_reading(deed(), pad_reading(s, 1.1)));
        return Error{Errc::bad_input, "no"};
    }));
    EXPECT_EQ(exported(*p), before);
    must(p->together([&]() -> Status {
        must(p->add_reading(deed(), pad_reading(s, 1.1)));
        Reading bad = pad_reading(s, 1.2);
        bad.person_id = "x";
        EXPECT_FALSE(p->add_reading(deed(), bad)) << "what fails inside leaves the rest";
        must(p->add_reading(deed(), pad_reading(s, 1.3)));
        return Done{};
    }));
    between();
    EXPECT_EQ(must(p->readings({})).size(), 2u);
    expect_sound();
}

TEST_P(Contract, TheHistoryTellsWhoDidWhatNewestFirst) {
    const Sample s = add_sample(*p);
    must(p->add_reading(deed("Ben"), pad_reading(s, 1.1)));
    between();
    const auto events = must(p->history(2));
    ASSERT_EQ(events.size(), 2u);
    EXPECT_EQ(events[0].verb, "add_reading");
    EXPECT_EQ(events[0].by, "Ben");
    EXPECT_EQ(events[1].verb, "add_bike");
}

INSTANTIATE_TEST_SUITE_P(Papers, Contract, ::testing::Values(Between::nothing, Between::open_again, Between::export_and_import),
                         [](const auto& i) { return i.param == Between::nothing ? "StayOpen" : i.param == Between::open_again ? "OpenedAgain" : "ExportedAndImported"; });

TEST(Ids, ContentIdIsTheSha256OfFips180) {
    // FIPS 180-4 examples as published by NIST (SHA256.pdf, one-block and two-block message).
    EXPECT_EQ(content_id("abc"), "ba7816bf8f01cfea414140de5dae2223b00361a396177a9cb410ff61f20015ad");
    EXPECT_EQ(content_id("abcdbcdecdefdefgefghfghighijhijkijkljklmklmnlmnomnopnopq"), "248d6a61d20638b8e5c026930c3e6039a33ce45964ff2167f6ecedd419db06c1");
}

TEST(Ids, AUuidHasItsVersionAndVariantAndIsNew) {
    const Id a = new_uuid(), b = new_uuid();
    EXPECT_NE(a, b);
    EXPECT_EQ(a.size(), 36u);
    EXPECT_EQ(a[14], '4');
    EXPECT_NE(std::string("89ab").find(a[19]), std::string::npos);
}

TEST(Ids, NoTwoListsOfPartsHaveOneKey) {
    EXPECT_NE(key_of({"ab", "c"}), key_of({"a", "bc"}));
    EXPECT_NE(key_of({"a"}), key_of({"a", ""}));
}

TEST(Bytes, DeflateAndBackIsTheSameAndDamageIsNoticed) {
    for (const std::string& bytes : {std::string(), std::string("a"), std::string(100000, 'x'), std::string("\0\1", 2)}) {
        const std::string packed = deflated(bytes);
        EXPECT_EQ(must(inflated(packed, bytes.size())), bytes);
        EXPECT_FALSE(inflated(packed, bytes.size() + 1));
        EXPECT_FALSE(inflated(packed, std::size_t{1} << 40)) << "a damaged size asks for no memory";
    }
}
