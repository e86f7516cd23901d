// SPDX-License-Identifier: Apache-2.0
#include "parts/bike.hpp"

#include <gtest/gtest.h>

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
