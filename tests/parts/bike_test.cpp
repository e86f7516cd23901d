// SPDX-License-Identifier: Apache-2.0
#include "parts/bike.hpp"

#include <gtest/gtest.h>

#include <algorithm>

using namespace bw;
using namespace bw::parts;

namespace {

const Library& library() {
    static const Library l = *load_library();
    return l;
}

Result<Bike> read(const std::string& text) { return read_bike(text, "my.toml", library()); }

// The error's text, or "" if there was none.
std::string refusal(const std::string& text) {
    const auto r = read(text);
    return r ? "" : r.error().text;
}

bool has(const std::string& text, const std::string& part) { return text.find(part) != std::string::npos; }

const std::string least = "format = 1\n[bike]\nkind = \"gravel\"\ntotal_mass_kg = 90\n";

}  // namespace

TEST(BikeDescription, NeedsOnlyKindAndMass) {
    const auto bike = read(least);
    ASSERT_TRUE(bike) << bike.error().text;
    EXPECT_EQ(bike->total_mass_kg.value, 90);
    EXPECT_EQ(bike->front.actuation, Actuation::hydraulic);
    EXPECT_TRUE(bike->front.fluid);
}

TEST(BikeDescription, EveryDefaultHasASpreadAndASource) {
    for (const BikeKind kind : {BikeKind::trail, BikeKind::gravel, BikeKind::road, BikeKind::city, BikeKind::cargo}) {
        Bike bike = default_bike(kind, library());
        for (const FieldRef& f : fields_of(bike)) {
            EXPECT_FALSE(f.value->source.empty()) << word_of(kind) << " " << f.key;
            EXPECT_GE(f.value->value, f.least) << word_of(kind) << " " << f.key;
            EXPECT_LE(f.value->value, f.most) << word_of(kind) << " " << f.key;
            if (!f.key.ends_with("caliper.arm_ratio")) { EXPECT_GT(f.value->sd, 0) << word_of(kind) << " " << f.key; }
        }
    }
}

TEST(BikeDescription, TheMakersLimitsAreNeverFilledByADefault) {
    const auto bike = read(least);
    EXPECT_FALSE(bike->front.rotor.least_thickness_mm);
    EXPECT_FALSE(bike->rear.pads.least_friction_mm);
}

TEST(BikeDescription, RefusesAnUnknownKeyWithItsLineAndTheNearestKnownOne) {
    const std::string text = refusal(least + "[front]\nrotor = { thicknes_mm = 1.8 }\n");
    EXPECT_TRUE(has(text, "my.toml:6")) << text;
    EXPECT_TRUE(has(text, "front.rotor.thickness_mm")) << text;
}

TEST(BikeDescription, RefusesAValueOutsideItsRangeAndAsksForTheUnit) {
    const std::string text = refusal(least + "[front.rotor]\nthickness_mm = 0.18\n");
    EXPECT_TRUE(has(text, "my.toml:6")) << text;
    EXPECT_TRUE(has(text, "0.5 to 5 mm")) << text;
    EXPECT_TRUE(has(refusal(least + "[rear.rotor]\ndiameter_mm = \"160 mm\"\n"), "expected a number in mm"));
    EXPECT_TRUE(has(refusal(least + "[rear.rotor]\ndiameter_mm = nan\n"), "my.toml:6"));
}

TEST(BikeDescription, RefusesAWordThatIsNotOneOfTheList) {
    EXPECT_TRUE(has(refusal("format = 1\nbike.kind = \"tandem\"\nbike.total_mass_kg = 90\n"), "trail, gravel, road, city or cargo"));
}

TEST(BikeDescription, RefusesWhatIsNotTomlWithTheLine) { EXPECT_TRUE(has(refusal("format = 1\n[bike\nkind = 3"), "my.toml:2")); }

TEST(BikeDescription, RefusesAnotherFormat) { EXPECT_TRUE(has(refusal("format = 2\n"), "format must be 1")); }

TEST(BikeDescription, AsksForAMass) { EXPECT_TRUE(has(refusal("format = 1\nbike.kind = \"road\"\n"), "a mass is required")); }

TEST(BikeDescription, AsksAboutMassesThatContradictEachOther) {
    EXPECT_TRUE(has(refusal("format = 1\n[rider]\nmass_kg = 75\n[bike]\nkind = \"road\"\nmass_kg = 9\ntotal_mass_kg = 120\n"), "leave one of them out"));
}

TEST(BikeDescription, RefusesFluidInACableBrake) {
    EXPECT_TRUE(has(refusal(least + "[front]\nactuation = \"cable\"\nfluid = { kind = \"dot4\" }\n"), "a cable brake has no fluid"));
}

TEST(BikeDescription, RefusesALeverThatBitesBeforeItMoves) {
    EXPECT_TRUE(has(refusal(least + "[front.lever]\nreach_mm = 60\nbite_mm = 70\n"), "both are distances from the bar"));
}

TEST(BikeDescription, ALeverRatioThatChangesIsToldWithThatAtRestAndNotBeyondThreeTimesIt) {
    const auto bike = read(least + "[front.lever]\nratio = 4\nratio_at_bar = 7\n");
    ASSERT_TRUE(bike) << bike.error().text;
    ASSERT_TRUE(bike->front.lever.ratio_at_bar);
    EXPECT_EQ(bike->front.lever.ratio_at_bar->value, 7);
    EXPECT_FALSE(bike->rear.lever.ratio_at_bar) << "never filled by a default";
    const auto again = read_bike(write_bike(*bike), "again.toml", library());
    ASSERT_TRUE(again) << again.error().text;
    EXPECT_EQ(again->front.lever.ratio_at_bar->value, 7);
    EXPECT_EQ(again->front.lever.ratio_at_bar->sd, bike->front.lever.ratio_at_bar->sd);
    EXPECT_TRUE(has(refusal(least + "[front.lever]\nratio_at_bar = 7\n"), "my.toml:6"));
    EXPECT_TRUE(has(refusal(least + "[front.lever]\nratio_at_bar = 7\n"), "add front.lever.ratio, the ratio with the lever at rest"));
    const std::string far = refusal(least + "[front.lever]\nratio = 2\nratio_at_bar = 7\n");
    EXPECT_TRUE(has(far, "my.toml:7")) << far;
    EXPECT_TRUE(has(far, "expected 0.667 to 6")) << far;
    EXPECT_TRUE(has(refusal(least + "[front.lever]\nratio = 2\nratio_at_bar = 70\n"), "1 to 15"));
}

TEST(BikeOfCase, ADrawnLeverRatioChangesByThreeTimesAtMostAndLeavesTheOtherDrawsAlone) {
    const auto plain = read(least + "[front.lever]\nratio = { value = 4, sd = 1 }\n"), changing = read(least + "[front.lever]\nratio = { value = 4, sd = 1 }\nratio_at_bar = { value = 11, sd = 2 }\n");
    ASSERT_TRUE(plain && changing);
    const Cases a = draw_cases(inputs_of(*plain), 256, 1), b = draw_cases(inputs_of(*changing), 256, 1);
    bool met = false;
    for (std::size_t i = 0; i < 256; ++i) {
        const Bike one = bike_of_case(*changing, CaseRow(b, i));
        EXPECT_LE(one.front.lever.ratio_at_bar->value, 3 * one.front.lever.ratio.value);
        EXPECT_GE(one.front.lever.ratio_at_bar->value, one.front.lever.ratio.value / 3);
        met = met || one.front.lever.ratio_at_bar->value == 3 * one.front.lever.ratio.value;
        EXPECT_EQ(one.rear.rotor.thickness_mm.value, bike_of_case(*plain, CaseRow(a, i)).rear.rotor.thickness_mm.value);
        EXPECT_EQ(one.total_mass_kg.value, bike_of_case(*plain, CaseRow(a, i)).total_mass_kg.value);
    }
    EXPECT_TRUE(met);
}

TEST(BikeDescription, ReadsBackWhatItWrote) {
    const auto bike = read(least + "[front]\nactuation = \"cable_to_hydraulic\"\npads = { compound = \"sintered\", friction_thickness_mm = { value = 1.2, sd = 0.03, source = \"a \\\"calliper\\\"\" }, plate_measured = true, least_friction_mm = 0.5 }\n");
    ASSERT_TRUE(bike) << bike.error().text;
    const auto again = read_bike(write_bike(*bike), "again.toml", library());
    ASSERT_TRUE(again) << again.error().text << "\n" << write_bike(*bike);
    Bike a = *bike, b = *again;
    const auto fa = fields_of(a), fb = fields_of(b);
    ASSERT_EQ(fa.size(), fb.size());
    for (std::size_t i = 0; i < fa.size(); ++i) {
        EXPECT_EQ(fa[i].key, fb[i].key);
        EXPECT_EQ(fa[i].value->value, fb[i].value->value) << fa[i].key;
        EXPECT_EQ(fa[i].value->sd, fb[i].value->sd) << fa[i].key;
    }
    EXPECT_EQ(b.front.pads.compound, Compound::sintered);
    EXPECT_TRUE(b.front.pads.plate_measured);
    EXPECT_EQ(b.front.actuation, Actuation::cable_to_hydraulic);
}

// ---- motor, trailer, place of the load --------------------------------------------------------------------------

TEST(Extras, AreAbsentUnlessTold) {
    auto bike = read(least);
    ASSERT_TRUE(bike);
    EXPECT_FALSE(bike->trailer || bike->regeneration_W || bike->overrun_N || bike->load_from_front_m || bike->load_height_m);
    for (const Input& i : inputs_of(*bike)) EXPECT_FALSE(extra_input(i.key)) << i.key;
}

TEST(Extras, ATrailerNeedsOnlyItsMass) {
    const auto bike = read(least + "[trailer]\nmass_kg = 40\n");
    ASSERT_TRUE(bike) << bike.error().text;
    ASSERT_TRUE(bike->trailer);
    EXPECT_EQ(bike->trailer->mass_kg.value, 40);
    EXPECT_EQ(bike->trailer->brake, TrailerBrake::none);
    for (const Uncertain* v : {&bike->trailer->drag_area_m2, &bike->trailer->rolling_resistance, &bike->trailer->push_height_m}) {
        EXPECT_GT(v->sd, 0);
        EXPECT_FALSE(v->source.empty());
    }
}

TEST(Extras, ComeLastAmongTheInputsSoThatTheOtherDrawsStay) {
    const auto plain = read(least), more = read(least + "load_kg = 10\nload_height_m = 0.6\ne_assist = true\nmotor_wheel = \"rear\"\nregeneration_W = 200\noverrun_N = 3\n[trailer]\nmass_kg = 40\nbrake = \"overrun\"\n");
    ASSERT_TRUE(plain && more) << more.error().text;
    const auto a = inputs_of(*plain), b = inputs_of(*more);
    ASSERT_GT(b.size(), a.size());
    for (std::size_t i = 0; i < a.size(); ++i) EXPECT_EQ(a[i].key, b[i].key);
    for (std::size_t i = a.size(); i < b.size(); ++i) EXPECT_TRUE(extra_input(b[i].key)) << b[i].key;
}

TEST(Extras, ReadBackWhatWasWritten) {
    const auto bike = read(least + "load_kg = 10\nload_from_front_m = { value = -0.1, sd = 0.05 }\nload_height_m = 0.6\ne_assist = true\nmotor_wheel = \"front\"\nregeneration_W = 200\noverrun_N = 3\n"
                                   "[trailer]\nmass_kg = { value = 40, sd = 3, source = \"scale\" }\nbrake = \"overrun\"\npush_height_m = 0.8\n");
    ASSERT_TRUE(bike) << bike.error().text;
    const auto again = read_bike(write_bike(*bike), "again.toml", library());
    ASSERT_TRUE(again) << again.error().text << "\n" << write_bike(*bike);
    Bike a = *bike, b = *again;
    const auto fa = fields_of(a), fb = fields_of(b);
    ASSERT_EQ(fa.size(), fb.size());
    for (std::size_t i = 0; i < fa.size(); ++i) {
        EXPECT_EQ(fa[i].key, fb[i].key);
        EXPECT_EQ(fa[i].value->value, fb[i].value->value) << fa[i].key;
        EXPECT_EQ(fa[i].value->sd, fb[i].value->sd) << fa[i].key;
    }
    EXPECT_EQ(b.motor_wheel, MotorWheel::front);
    EXPECT_EQ(b.trailer->brake, TrailerBrake::overrun);
}

TEST(Extras, ACaseDrawsThem) {
    const auto bike = read(least + "[trailer]\nmass_kg = 40\n");
    ASSERT_TRUE(bike);
    const Cases cases = draw_cases(inputs_of(*bike), 64, 1);
    double low = 1e9, high = 0;
    for (std::size_t i = 0; i < 64; ++i) {
        const double kg = bike_of_case(*bike, CaseRow(cases, i)).trailer->mass_kg.value;
        low = std::min(low, kg);
        high = std::max(high, kg);
    }
    EXPECT_LT(low, 38);
    EXPECT_GT(high, 42);
}

TEST(Extras, RefusesWhatSaysNothingOrContradicts) {
    const auto says = [](const std::string& more, const std::string& part) {
        const std::string text = refusal(least + more);
        EXPECT_TRUE(has(text, part) && has(text, "my.toml:")) << more << " -> " << text;
    };
    says("regeneration_W = 200\n", "belongs to a motor: add bike.e_assist = true");
    says("overrun_N = 2\n", "belongs to a motor");
    says("e_assist = true\nregeneration_W = 200\n", "crank motor stands still when the bike coasts");
    says("e_assist = true\nmotor_wheel = \"crank\"\noverrun_N = 2\n", "for a motor in a hub");
    says("e_assist = true\nmotor_wheel = \"hub\"\n", "crank, front or rear");
    says("motor_wheel = \"rear\"\n", "e_assist = true");
    says("e_assist = true\nmotor_wheel = \"rear\"\nregeneration_N = 30\n", "add bike.regeneration_W");
    says("[trailer]\npush_height_m = 0.4\n", "[trailer] needs mass_kg");
    says("[trailer]\nbrake = \"overrun\"\n", "[trailer] needs mass_kg");
    says("[trailer]\nmass_kg = 40\nbrake = \"disc\"\n", "none or overrun");
    says("[trailer]\nmass_kg = 4000\n", "2 to 300 kg");
    says("[trailer]\nmass = 40\n", "trailer.mass_kg");
    says("load_height_m = 0.6\n", "not how heavy it is");
    says("load_kg = 40\nload_from_front_m = 3.5\n", "the front wheel would carry nothing");
    says("load_kg = 60\nload_from_front_m = -1\n", "the rear wheel would carry nothing");
}

TEST(BikeOfCase, TheMassOfACaseIsTheSumOfItsPartsAndTheBandFollowsTheRim) {
    const auto bike = read("format = 1\n[rider]\nmass_kg = 75\n[bike]\nkind = \"trail\"\nmass_kg = 15\n");
    ASSERT_TRUE(bike) << bike.error().text;
    const Cases cases = draw_cases(inputs_of(*bike), 256, 1);
    for (std::size_t i = 0; i < 256; ++i) {
        const Bike one = bike_of_case(*bike, CaseRow(cases, i));
        EXPECT_NEAR(one.total_mass_kg.value, one.rider.mass_kg.value + one.mass_kg.value + one.load_kg.value, 1e-9);
        const double band = one.front.rotor.diameter_mm.value - one.front.rotor.band_inner_mm.value;
        EXPECT_GT(band, 14);
        EXPECT_LT(band, 45);
        EXPECT_LT(one.front.lever.bite_mm.value, one.front.lever.reach_mm.value);
    }
}

TEST(Pads, TheThinnerOneIsTheOneThatCounts) {
    Pads pads;
    pads.friction_thickness_mm.value = 1.5;
    EXPECT_EQ(least_friction(pads).value, 1.5);
    pads.other_friction_thickness_mm.emplace().value = 0.4;
    EXPECT_EQ(least_friction(pads).value, 0.4);
    pads.other_friction_thickness_mm->value = 1.9;
    EXPECT_EQ(least_friction(pads).value, 1.5);
}

TEST(Keys, AreSharedByCopiesUntilOneChangesItsOwn) {
    Keys a;
    EXPECT_FALSE(a.contains("x"));
    EXPECT_EQ(a.begin(), a.end());
    a.insert("front.rotor.diameter_mm");
    Keys b = a;
    b.insert({"rider.mass_kg", "bike.mass_kg"});
    EXPECT_EQ(std::vector<std::string>(a.begin(), a.end()), (std::vector<std::string>{"front.rotor.diameter_mm"}));
    EXPECT_TRUE(b.contains("bike.mass_kg") && b.contains("front.rotor.diameter_mm"));
    a.erase("front.rotor.diameter_mm");
    EXPECT_FALSE(a.contains("front.rotor.diameter_mm"));
    EXPECT_TRUE(b.contains("front.rotor.diameter_mm"));
    EXPECT_FALSE(a == b);
}
