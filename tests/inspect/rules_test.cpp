// SPDX-License-Identifier: Apache-2.0
// The rules that can hurt someone if they are wrong (DESIGN 3): one claim each.
#include <cmath>
#include <limits>
#include <string>
#include <vector>

#include "practice.hpp"

using namespace bw::inspect;
using bw::parts::Actuation;
using bw::parts::End;
using bw::parts::FluidKind;

namespace {

Check pad(std::vector<double> corners_mm, double u, Plate plate, std::optional<double> least_mm) {
    return check_pad({.end = End::front, .which = "left", .corners_mm = corners_mm, .uncertainty_mm = u, .plate = plate,
                      .least_mm = least_mm}, practice());
}
Check rotor(double mm, double u, std::optional<double> least_mm, Anvil anvil = Anvil::pointed, std::optional<double> ridge = {}) {
    return check_rotor({.end = End::rear, .places_mm = {&mm, 1}, .uncertainty_mm = u, .anvil = anvil, .ridge_mm = ridge,
                        .least_mm = least_mm}, practice());
}
bool at_best(State state, State best) { return static_cast<int>(state) >= static_cast<int>(best); }

constexpr double fine = 0.012;   // digital caliper

}  // namespace

TEST(PadRule, APadAtThePlateIsNotRidden) {
    const Check c = pad({0.3}, fine, Plate::measured, 0.2);   // also when the maker's limit would allow it
    EXPECT_EQ(c.state, State::held_back);
    EXPECT_TRUE(c.do_not_ride);
    EXPECT_EQ(c.text.rfind("Do not ride", 0), 0u);
}

TEST(PadRule, AReadingWellOverTheMakersLimitWithAMeasuredPlateGivesNoReason) {
    const Check c = pad({1.6}, fine, Plate::measured, 0.8);
    EXPECT_EQ(c.state, State::no_reason_found);
    EXPECT_TRUE(c.done);
}

TEST(PadRule, AReadingUnderTheMakersLimitHoldsTheBikeBack) {
    const Check c = pad({0.75}, fine, Plate::measured, 0.8);
    EXPECT_EQ(c.state, State::held_back);
    EXPECT_TRUE(c.do_not_ride);
    EXPECT_EQ(pad({0.8}, fine, Plate::measured, 0.8).state, State::held_back);   // at the limit is past it
}

TEST(PadRule, AnAssumedPlateNeverGivesBetterThanMeasureBetterHoweverThickThePad) {
    for (double mm = 0.05; mm < 6; mm += 0.05)
        for (const std::optional<double> least : {std::optional<double>(), std::optional<double>(0.8)})
            EXPECT_TRUE(at_best(pad({mm}, fine, Plate::assumed, least).state, State::measure_better)) << mm;
}

TEST(PadRule, AnAssumedPlateStillHoldsBackAPlainReadingUnderTheLimit) {
    EXPECT_EQ(pad({0.75}, fine, Plate::assumed, 0.8).state, State::held_back);
}

TEST(PadRule, ALargeUncertaintyNeverSoftensAPlainReadingUnderTheLimit) {
    for (const double u : {0.0, 0.01, 0.1, 1.0, 10.0}) {
        EXPECT_EQ(pad({0.75}, u, Plate::measured, 0.8).state, State::held_back) << u;
        EXPECT_EQ(pad({0.45}, u, Plate::measured, {}).state, State::held_back) << u;
    }
}

TEST(PadRule, TheThinnestCornerCounts) {
    EXPECT_EQ(pad({1.8, 1.7, 0.7, 1.8}, fine, Plate::measured, 0.8).state, State::held_back);
    EXPECT_EQ(pad({1.8, 1.7, 1.6, 1.8}, fine, Plate::measured, 0.8).state, State::no_reason_found);
}

TEST(PadRule, ALimitOfPracticeHoldsBackButNeverClears) {
    EXPECT_EQ(pad({0.5}, fine, Plate::measured, {}).state, State::held_back);
    EXPECT_EQ(pad({0.9}, fine, Plate::measured, {}).state, State::replace);
    for (double mm = 1.01; mm < 6; mm += 0.1) EXPECT_TRUE(at_best(pad({mm}, 0.0, Plate::measured, {}).state, State::measure_better)) << mm;
}

TEST(PadRule, AChanceOverFivePercentOfBeingUnderTheLimitAsksForABetterReading) {
    const double u = 0.1, limit = 0.8;
    // 1.6449 standard uncertainties over the limit are 5 %.
    EXPECT_EQ(pad({limit + 1.60 * u}, u, Plate::measured, limit).state, State::measure_better);
    EXPECT_EQ(pad({limit + 1.70 * u}, u, Plate::measured, limit).state, State::no_reason_found);
}

TEST(PadRule, EveryPadTextSaysThatAThicknessSaysNothingAboutTheBond) {
    for (double mm = 0.05; mm < 3; mm += 0.05)
        for (const Plate plate : {Plate::measured, Plate::assumed})
            for (const std::optional<double> least : {std::optional<double>(), std::optional<double>(0.8)})
                EXPECT_NE(pad({mm}, fine, plate, least).text.find("cracked or lifting bond"), std::string::npos) << mm;
}

TEST(PadRule, NoReadingOrNoNumberIsNeverMeasured) {
    EXPECT_EQ(pad({}, fine, Plate::measured, 0.8).state, State::measure_better);
    EXPECT_FALSE(pad({}, fine, Plate::measured, 0.8).done);
    const double none = std::numeric_limits<double>::quiet_NaN();
    EXPECT_FALSE(pad({2.0, none}, fine, Plate::measured, 0.8).done);
    EXPECT_FALSE(pad({2.0}, none, Plate::measured, 0.8).done);
}

TEST(PadRule, AThickerReadingIsNeverJudgedWorse) {
    for (const Plate plate : {Plate::measured, Plate::assumed})
        for (const std::optional<double> least : {std::optional<double>(), std::optional<double>(0.8)}) {
            State before = State::held_back;
            for (double mm = 0.0; mm < 3; mm += 0.01) {
                const State state = pad({mm}, 0.05, plate, least).state;
                EXPECT_LE(static_cast<int>(state), static_cast<int>(before)) << mm;
                before = state;
            }
        }
}

TEST(RotorRule, UnderItsLimitIsNotRiddenWhateverTheUncertainty) {
    for (const double u : {0.0, 0.01, 1.0}) {
        const Check c = rotor(1.49, u, 1.5);
        EXPECT_EQ(c.state, State::held_back);
        EXPECT_TRUE(c.do_not_ride);
    }
}

TEST(RotorRule, WithoutAKnownLimitNeverBetterThanMeasureBetter) {
    for (double mm = 1.0; mm < 3; mm += 0.01) EXPECT_TRUE(at_best(rotor(mm, 0.001, {}).state, State::measure_better)) << mm;
}

TEST(RotorRule, ALimitOfPracticeHoldsBack) {
    EXPECT_EQ(rotor(1.48, 0.003, {}).state, State::held_back);
    EXPECT_EQ(rotor(1.60, 0.003, {}).state, State::measure_better);
}

TEST(RotorRule, WellOverTheMakersLimitGivesNoReason) { EXPECT_EQ(rotor(1.75, fine, 1.5).state, State::no_reason_found); }

TEST(RotorRule, FlatJawsWithoutARidgeNeverClear) {
    EXPECT_EQ(rotor(1.80, fine, 1.5, Anvil::flat_jaws).state, State::measure_better);
}

TEST(RotorRule, TheRidgeIsTakenOffAReadingWithFlatJaws) {
    EXPECT_EQ(rotor(1.60, fine, 1.5, Anvil::flat_jaws, 0.15).state, State::held_back);   // 1.45 in the band
    EXPECT_EQ(rotor(1.75, fine, 1.5, Anvil::flat_jaws, 0.05).state, State::no_reason_found);
    EXPECT_EQ(rotor(1.60, fine, 1.5, Anvil::pointed, 0.15).state, State::no_reason_found);   // a point reads the band itself
}

TEST(RotorRule, AnAnvilThatNobodyNamedClearsNothing) {
    EXPECT_EQ(rotor(1.75, fine, 1.5, Anvil::not_told).state, State::measure_better);
    EXPECT_NE(rotor(1.75, fine, 1.5, Anvil::not_told).text.find("anvil"), std::string::npos);
}

TEST(LeverRule, ALeverAtTheBarIsNotRidden) {
    const Practice p = practice();
    EXPECT_EQ(check_lever({.end = End::front, .bite_mm = 20, .full_mm = -1}, p).state, State::held_back);
    EXPECT_EQ(check_lever({.end = End::front, .bite_mm = 0, .full_mm = {}}, p).state, State::held_back);
    EXPECT_TRUE(check_lever({.end = End::front, .bite_mm = 20, .full_mm = 0}, p).do_not_ride);
}

TEST(LeverRule, ALeverNearTheBarOrNotSurelyAwayFromItIsMeasuredBetter) {
    const Practice p = practice();
    EXPECT_EQ(check_lever({.end = End::front, .bite_mm = 30, .full_mm = 5}, p).state, State::measure_better);
    EXPECT_EQ(check_lever({.end = End::front, .bite_mm = 30, .full_mm = 15, .uncertainty_mm = 12}, p).state, State::measure_better);
    EXPECT_EQ(check_lever({.end = End::front, .bite_mm = 30, .full_mm = 20, .uncertainty_mm = 3}, p).state, State::no_reason_found);
    EXPECT_FALSE(check_lever({.end = End::front}, p).done);
    const Check estimate = check_lever({.end = End::front, .bite_mm = 30, .full_mm = 20, .uncertainty_mm = 3, .full_from = LeverCheck::From::estimate}, p);
    EXPECT_FALSE(estimate.done) << "an estimate clears nothing";
    EXPECT_TRUE(check_lever({.end = End::front, .bite_mm = 20, .full_mm = -1, .full_from = LeverCheck::From::estimate}, p).do_not_ride) << "but it can hold back";
}

TEST(FluidRule, AFluidWithoutAPublishedPointIsNotKnownAndNeverCountsAsDone) {
    const Check c = check_fluid({.end = End::front, .kind = FluidKind::mineral, .age_months = 3.0}, practice());
    EXPECT_NE(c.text.find("not known"), std::string::npos);
    EXPECT_NE(c.text.find("near 100"), std::string::npos);   // free water
    EXPECT_FALSE(c.done);
}

TEST(FluidRule, OfAFluidThatNobodyToldNothingIsSaidAsAFact) {
    const Practice p = practice();
    for (const std::optional<double> age : {std::optional<double>(), std::optional<double>(3)}) {
        const Check c = check_fluid({.end = End::front, .kind = FluidKind::mineral, .kind_told = false, .age_months = age}, p);
        EXPECT_EQ(c.state, State::measure_better);
        EXPECT_FALSE(c.done);
        EXPECT_NE(c.text.find("was not told"), std::string::npos) << c.text;
        EXPECT_EQ(c.text.find("nobody published"), std::string::npos) << c.text;
    }
    EXPECT_EQ(check_fluid({.end = End::front, .kind = FluidKind::mineral, .kind_told = false, .age_months = 40.0}, p).state, State::replace);
    bw::parts::Bike bike;
    bike.front.fluid.emplace();
    const auto of_front = [&] {
        for (const Check& c : checks_of(bike, p, {}, {}))
            if (c.id == CheckId::front_fluid_or_cable) return c.text;
        return std::string();
    };
    EXPECT_NE(of_front().find("was not told"), std::string::npos) << of_front();
    bike.given.insert("front.fluid.kind");
    EXPECT_EQ(of_front().find("was not told"), std::string::npos) << of_front();
}

TEST(FluidRule, OldFluidIsChangedAndUnknownAgeIsFoundOut) {
    const Practice p = practice();
    EXPECT_EQ(check_fluid({.end = End::front, .kind = FluidKind::dot4, .age_months = 40.0, .dry_point_degC = 230.0}, p).state, State::replace);
    EXPECT_EQ(check_fluid({.end = End::front, .kind = FluidKind::mineral, .age_months = 40.0}, p).state, State::replace);
    EXPECT_EQ(check_fluid({.end = End::front, .kind = FluidKind::dot4, .dry_point_degC = 230.0}, p).state, State::measure_better);
    EXPECT_EQ(check_fluid({.end = End::front, .kind = FluidKind::dot4, .age_months = 6.0, .dry_point_degC = 230.0}, p).state,
              State::no_reason_found);
}

TEST(FluidRule, NobodyPublishesABoilingPointOfMineralOil) {
    EXPECT_FALSE(published_dry_point_degC(practice(), FluidKind::mineral));
    EXPECT_TRUE(published_dry_point_degC(practice(), FluidKind::dot4));
}

TEST(SeenRule, WhatEyesFindHoldsTheBikeBack) {
    for (const Seen seen : {Seen::crack, Seen::loose_bolt, Seen::leak, Seen::oil_on_pads, Seen::soft_lever_after_heat}) {
        EXPECT_EQ(check_seen(CheckId::leaks_and_oil, seen).state, State::held_back);
        EXPECT_TRUE(check_seen(CheckId::leaks_and_oil, seen).do_not_ride);
    }
    EXPECT_FALSE(check_seen(CheckId::leaks_and_oil, Seen::not_looked).done);
}
