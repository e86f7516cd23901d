// SPDX-License-Identifier: Apache-2.0
// Facts of the trade that more than one room answers for; reported, never tuned to.
#include <gtest/gtest.h>

#include "heat/wheel.hpp"
#include "row.hpp"

using namespace bw;

TEST(Trade, SinteredPadsSendMoreHeatToTheCaliper) {
    const auto library = parts::load_library();
    ASSERT_TRUE(library) << library.error().text;
    const auto rise = [&](parts::Compound compound) {
        parts::Bike bike = parts::default_bike(parts::BikeKind::trail, *library);
        bike.front.pads.compound = compound;
        const auto run = heat::heat_resistance(heat::reference_of(*library, bike, parts::End::front, heat::median_unknowns(*library, bike, parts::End::front), 20), {});
        EXPECT_TRUE(run) << run.error().text;
        return run ? run->peaks.caliper.degC - 20 : 0;
    };
    const double ratio = rise(parts::Compound::sintered) / rise(parts::Compound::organic);
    validation::report("heat-trade-01", "sintered over organic: rise of the caliper in the drag of 300 W for 15 min", 1.05, 10, "", ratio,
                       "the trade says only: more heat to the caliper; friction material of copper conducts some thirty times better");
    EXPECT_GT(ratio, 1);
}
