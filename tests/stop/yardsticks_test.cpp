// SPDX-License-Identifier: Apache-2.0
// This bike beside the yardsticks.
#include "stop/yardsticks.hpp"

#include <gtest/gtest.h>

#include <algorithm>
#include <limits>
#include <set>

#include "made_bike.hpp"

namespace bw::stop {
namespace {

struct Yardsticks : testing::Test {
    Result<parts::Library> library = parts::load_library();
    void SetUp() override { ASSERT_TRUE(library) << library.error().text; }
};

TEST_F(Yardsticks, HaveDistinctIdsAndASourceForEveryKindOfBike) {
    for (const auto kind : {parts::BikeKind::trail, parts::BikeKind::gravel, parts::BikeKind::road, parts::BikeKind::city, parts::BikeKind::cargo}) {
        parts::Bike b = made::bike();
        b.kind = kind;
        b.e_assist = true;
        std::set<std::string> ids;
        for (const Yardstick& y : yardsticks_of(*library, b)) {
            EXPECT_TRUE(ids.insert(y.id).second) << y.id;
            EXPECT_FALSE(y.source.empty());
            EXPECT_GT(y.need, 0);
        }
        EXPECT_GE(ids.size(), 12u);
    }
}

TEST_F(Yardsticks, AreNeverWordedAsAnApproval) {
    const auto ys = yardsticks_of(*library, made::bike());
    const std::vector<std::vector<double>> figures(3, yardstick_case(ys, made::bike(), made::unknowns()));
    for (const YardstickResult& r : stop_yardsticks(ys, figures, {})) {
        EXPECT_NE(r.remark.find("not an approval"), std::string::npos);
        for (const char* word : {"pass", "certif", "approved", "compl", "safe"}) EXPECT_EQ(r.what.find(word), std::string::npos) << r.what;
    }
}

TEST_F(Yardsticks, TheNeedIsMetByABrakeThatIsStrongEnoughAndNotByAWeakOne) {
    parts::Bike b = made::bike();
    const auto ys = yardsticks_of(*library, b);
    const auto share = [&](const char* id) {
        const std::vector<std::vector<double>> figures(2, yardstick_case(ys, b, made::unknowns()));
        for (const YardstickResult& r : stop_yardsticks(ys, figures, {}))
            if (r.id == id) return r.met_share;
        return -1.0;
    };
    EXPECT_EQ(share("machine_dry_front"), 1);
    b.front.caliper.piston_diameter_mm.value = 8;
    EXPECT_EQ(share("machine_dry_front"), 0);
}

TEST_F(Yardsticks, ABikeThatDoesNotStopHasNoFigure) {
    const auto ys = yardsticks_of(*library, made::bike());
    std::vector<std::vector<double>> figures(10, yardstick_case(ys, made::bike(), made::unknowns()));
    figures[3][0] = std::numeric_limits<double>::infinity();
    const auto r = stop_yardsticks(ys, figures, {});
    EXPECT_FALSE(r[0].have);
    EXPECT_TRUE(r[1].have);
}

TEST_F(Yardsticks, TheMachineFigureIsScaledDownForAHeavierBike) {
    parts::Bike b = made::bike();
    const auto ys = yardsticks_of(*library, b);
    const auto figure = [&] { return yardstick_case(ys, b, made::unknowns())[2]; };
    ASSERT_EQ(ys[2].id, "machine_dry_front");
    const double light = figure();
    b.total_mass_kg.value = 125;
    EXPECT_NEAR(figure(), light * 100 / 125, 1e-9);
}

TEST_F(Yardsticks, ACargoBikeAndAnEBikeAlwaysStandBesideAMopedAndOthersDoNot) {
    const auto has = [&](parts::BikeKind kind, bool e_assist, const char* id) {
        parts::Bike b = made::bike();
        b.kind = kind;
        b.e_assist = e_assist;
        const auto ys = yardsticks_of(*library, b);
        return std::any_of(ys.begin(), ys.end(), [&](const Yardstick& y) { return y.id == id; });
    };
    for (const char* id : {"moped_front", "moped_rear"}) {
        EXPECT_TRUE(has(parts::BikeKind::cargo, false, id));
        EXPECT_TRUE(has(parts::BikeKind::city, true, id));
        EXPECT_FALSE(has(parts::BikeKind::city, false, id));
    }
    EXPECT_TRUE(has(parts::BikeKind::cargo, false, "cargo_track_dry_both"));
    EXPECT_FALSE(has(parts::BikeKind::cargo, false, "epac_track_dry_both"));
    EXPECT_TRUE(has(parts::BikeKind::trail, true, "epac_track_dry_both"));
}

TEST_F(Yardsticks, ABikeIsMeasuredAtItsLimitsWhateverARiderDares) {
    // Two riders who differ only in what they dare: the bike's figure is the same. Grip, lift and lever force do move it.
    const auto ys = yardsticks_of(*library, made::bike());
    ASSERT_EQ(ys[0].id, "track_dry_both");
    StopUnknowns bold = made::unknowns(), timid = bold, slippery = bold;
    timid.skill_mps2 = timid.test_mps2 = 1.5;
    slippery.grip_dry = 0.4;
    EXPECT_DOUBLE_EQ(yardstick_case(ys, made::bike(), timid)[0], yardstick_case(ys, made::bike(), bold)[0]);
    EXPECT_GT(yardstick_case(ys, made::bike(), slippery)[0], yardstick_case(ys, made::bike(), bold)[0]);
}

TEST_F(Yardsticks, TheWetRatioIsAskedOnlyOfABrakeThatBitesInTheDry) {
    // TBIS 4210-4 p. 31 g): wet over dry wherever dry is above 200 N.
    parts::Bike b = made::bike();
    StopUnknowns u = made::unknowns();
    u.front.wet_factor = 0.3;
    const auto ys = yardsticks_of(*library, b);
    const auto result = [&] {
        const std::vector<std::vector<double>> figures(4, yardstick_case(ys, b, u));
        for (const YardstickResult& r : stop_yardsticks(ys, figures, {}))
            if (r.id == "wet_ratio_front") return r;
        return YardstickResult{};
    };
    EXPECT_EQ(result().met_share, 0);
    ASSERT_TRUE(result().have);
    EXPECT_NEAR(result().have->p50, 0.3, 1e-12);
    b.front.caliper.piston_diameter_mm.value = 6;   // far under 200 N
    EXPECT_TRUE(std::isnan(result().met_share)) << "not asked is not met";
    EXPECT_FALSE(result().have);
    EXPECT_NE(result().remark.find("not asked"), std::string::npos);
    // Asked of half of them, and met by none of those.
    std::vector<std::vector<double>> half(2, yardstick_case(ys, b, u));
    b.front.caliper.piston_diameter_mm.value = made::bike().front.caliper.piston_diameter_mm.value;
    half.resize(4, yardstick_case(ys, b, u));
    for (const YardstickResult& r : stop_yardsticks(ys, half, {}))
        if (r.id == "wet_ratio_front") {
            EXPECT_EQ(r.met_share, 0);
            EXPECT_NE(r.remark.find("in 50 % of the cases"), std::string::npos) << r.remark;
        }
}

TEST_F(Yardsticks, LimitsOfElectricAndCargoBikesAreFromMemorySaySoAndAreNamedAsNoVerdict) {
    parts::Bike b = made::bike();
    b.e_assist = true;
    b.kind = parts::BikeKind::cargo;
    int seen = 0;
    for (const Yardstick& y : yardsticks_of(*library, b)) {
        const bool in_question = y.id.starts_with("epac") || y.id.starts_with("cargo");
        seen += in_question;
        if (!in_question) continue;
        EXPECT_EQ(y.grade, Grade::published_from_memory) << y.id;
        EXPECT_NE(y.source.find("memory"), std::string::npos) << y.id << ": " << y.source;
    }
    EXPECT_EQ(seen, 2);
}

}  // namespace
}  // namespace bw::stop
