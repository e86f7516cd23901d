// SPDX-License-Identifier: Apache-2.0
// This bike beside the yardsticks.
#include "stop/yardsticks.hpp"

#include <gtest/gtest.h>

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

}  // namespace
}  // namespace bw::stop
