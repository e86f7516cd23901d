// SPDX-License-Identifier: Apache-2.0
// Many checks -> one verdict.
#include <set>

#include "practice.hpp"

using namespace bw::inspect;
using bw::parts::End;

namespace {

Check of(CheckId id, State state, std::string code, bool done = true) {
    return {.id = id, .code = std::move(code), .state = state, .done = done, .do_not_ride = state == State::held_back, .text = "Text."};
}

}  // namespace

TEST(Verdict, DoNotRideComesFirstAndTheWorstStateWins) {
    const Verdict v = combine({of(CheckId::front_pad_thickness, State::measure_better, "b"),
                               of(CheckId::other, State::look_by, "d"),
                               of(CheckId::rear_pad_thickness, State::held_back, "a"),
                               of(CheckId::front_rotor_thickness, State::no_reason_found, "e"),
                               of(CheckId::rear_fluid_or_cable, State::replace, "c")});
    EXPECT_TRUE(v.do_not_ride);
    EXPECT_EQ(v.state, State::held_back);
    ASSERT_EQ(v.reasons.size(), 4u);
    EXPECT_EQ(v.reasons[0].code, "a");
    EXPECT_EQ(v.reasons[1].code, "c");
    EXPECT_EQ(v.reasons[2].code, "b");
    EXPECT_EQ(v.reasons[3].code, "d");
    EXPECT_EQ(v.text.rfind("Do not ride", 0), 0u);
}

TEST(Verdict, OfEqualStateTheOrderGivenStays) {
    const Verdict v = combine({of(CheckId::other, State::replace, "first"), of(CheckId::other, State::replace, "second")});
    ASSERT_EQ(v.reasons.size(), 2u);
    EXPECT_EQ(v.reasons[0].code, "first");
}

TEST(Verdict, SaysInHowManyOfTwelveChecksNoReasonWasFound) {
    std::vector<Check> checks;
    for (int i = 0; i < 9; ++i) checks.push_back(of(static_cast<CheckId>(i), State::no_reason_found, "ok"));
    checks.push_back(of(CheckId::bolts_and_cracks, State::no_reason_found, "x", false));
    const Verdict v = combine(checks);
    EXPECT_EQ(v.checks_done, 9);
    EXPECT_EQ(v.checks_total, 12);
    EXPECT_EQ(v.text, "no reason found in 9 of 12 checks");
    EXPECT_EQ(v.state, State::no_reason_found);
    ASSERT_EQ(v.notes.size(), 1u);
    EXPECT_EQ(v.notes[0].code, "x");
}

TEST(Verdict, ACheckOfTwoPadsIsDoneOnlyWhenBothAre) {
    const Verdict v = combine({of(CheckId::front_pad_thickness, State::no_reason_found, "l"),
                               of(CheckId::front_pad_thickness, State::measure_better, "r", false)});
    EXPECT_EQ(v.checks_done, 0);
}

TEST(Verdict, ReasonsBeyondTheTwelveDoNotCountAsChecks) {
    EXPECT_EQ(combine({of(CheckId::other, State::look_by, "l")}).checks_done, 0);
}

TEST(Verdict, NothingCheckedIsNoClearance) {
    EXPECT_EQ(combine({}).state, State::measure_better);
    EXPECT_EQ(combine({check_not_looked(CheckId::bolts_and_cracks)}).state, State::measure_better);
}

TEST(Verdict, HeldBackWithoutItsFlagStillForbidsRiding) {
    Check c = of(CheckId::other, State::held_back, "c");
    c.do_not_ride = false;
    EXPECT_TRUE(combine({c}).do_not_ride);
}

TEST(Verdict, AFlagWithoutItsStateStillHoldsBack) {
    Check c = of(CheckId::other, State::measure_better, "c");
    c.do_not_ride = true;
    EXPECT_EQ(combine({c}).state, State::held_back);
}

TEST(ChecksOfABike, CoverAllTwelveEachOnceAndTakeDefaultsForNoReading) {
    const auto library = bw::parts::load_library();
    ASSERT_TRUE(library) << library.error().text;
    const bw::parts::Bike bike = bw::parts::default_bike(bw::parts::BikeKind::trail, *library);
    const auto checks = checks_of(bike, practice_of(*library), {}, {});
    std::set<CheckId> ids;
    for (const Check& c : checks) {
        EXPECT_TRUE(ids.insert(c.id).second);
        EXPECT_FALSE(c.done) << c.code;
    }
    EXPECT_EQ(ids.size(), checks_total);
    EXPECT_EQ(combine(checks).state, State::measure_better);
}

TEST(ChecksOfABike, JudgeTheReadingsThatTheDescriptionStates) {
    const auto library = bw::parts::load_library();
    ASSERT_TRUE(library) << library.error().text;
    bw::parts::Bike bike = bw::parts::default_bike(bw::parts::BikeKind::trail, *library);
    bike.rear.pads.friction_thickness_mm = {.value = 0.3, .sd = 0.02, .grade = bw::Grade::measured, .source = "test"};
    bike.given.insert("rear.pads.friction_thickness_mm");
    const Verdict v = combine(checks_of(bike, practice_of(*library), {.bite_mm = 40, .full_mm = 30, .uncertainty_mm = 2, .full_from = LeverCheck::From::reading}, {}));
    EXPECT_TRUE(v.do_not_ride);
    ASSERT_FALSE(v.reasons.empty());
    EXPECT_EQ(v.reasons.front().code, "rear_pad_near_plate");
    EXPECT_EQ(v.checks_done, 2);   // the rear pads and the front lever
}

TEST(ChecksOfABike, TheThinnerOfTheTwoPadsCounts) {
    const auto library = bw::parts::load_library();
    ASSERT_TRUE(library) << library.error().text;
    const auto reading = [](double mm) { return bw::Uncertain{.value = mm, .sd = 0.02, .grade = bw::Grade::measured, .source = "test"}; };
    const auto judged = [&](std::optional<double> one_mm, std::optional<double> other_mm) {
        bw::parts::Bike bike = bw::parts::default_bike(bw::parts::BikeKind::trail, *library);
        bw::parts::Pads& pads = bike.front.pads;
        pads.least_friction_mm = reading(0.5);
        pads.plate_measured = true;
        if (one_mm) pads.friction_thickness_mm = reading(*one_mm), bike.given.insert("front.pads.friction_thickness_mm");
        if (other_mm) pads.other_friction_thickness_mm = reading(*other_mm), bike.given.insert("front.pads.other_friction_thickness_mm");
        return combine(checks_of(bike, practice_of(*library), {}, {}));
    };
    EXPECT_FALSE(judged(2.0, {}).do_not_ride);
    EXPECT_TRUE(judged(2.0, 0.1).do_not_ride);
    EXPECT_TRUE(judged(0.1, 2.0).do_not_ride);
    EXPECT_FALSE(judged(2.0, 1.9).do_not_ride);
    EXPECT_EQ(judged(2.0, 1.9).checks_done, 1);
    // One pad alone can hold back; it clears nothing for the pad that nobody told.
    EXPECT_TRUE(judged({}, 0.1).do_not_ride);
    EXPECT_EQ(judged({}, 1.9).checks_done, 0);
}

TEST(ChecksOfABike, OiledPadsAreHeldBack) {
    const auto library = bw::parts::load_library();
    ASSERT_TRUE(library) << library.error().text;
    using bw::parts::PadCondition;
    for (const PadCondition condition : {PadCondition::not_told, PadCondition::bedded, PadCondition::unbedded, PadCondition::glazed, PadCondition::oiled}) {
        bw::parts::Bike bike = bw::parts::default_bike(bw::parts::BikeKind::trail, *library);
        bike.rear.pads.condition = condition;
        const Verdict v = combine(checks_of(bike, practice_of(*library), {}, {}));
        EXPECT_EQ(v.do_not_ride, condition == PadCondition::oiled);
        EXPECT_EQ(v.reasons.front().code == "rear_pads_oiled", condition == PadCondition::oiled);
    }
}
