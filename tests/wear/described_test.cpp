// SPDX-License-Identifier: Apache-2.0
// Described rides.
#include "wear/described.hpp"

#include <gtest/gtest.h>
#include <set>

#include "base/interval.hpp"

using namespace bw::wear;
using bw::parts::End;

namespace {

const DescribedUnknowns half{.braked_share = 0.5, .stop_speed_mps = 6, .pad_degC = 120};
const DescribedRide ride{.distance_m = 20000, .descent_m = 600, .stops_per_km = 0.5, .total_mass_kg = 100, .wet_share = 0.2, .grit_share = 0.1};

}  // namespace

TEST(DescribedRide, BrakesTheirShareOfTheHeightAndTheStops) {
    // 0.5 x 100 x 9.80665 x 600 + 10 stops x 1/2 x 100 x 36
    EXPECT_NEAR(described_energy_J(ride, half), 0.5 * 100 * 9.80665 * 600 + 10 * 1800, 1e-6);
}

TEST(DescribedRide, TheWheelsShareTheEnergyAndKeepTheWeather) {
    const auto front = described_dose(ride, half, End::front, 0.7), rear = described_dose(ride, half, End::rear, 0.7);
    EXPECT_NEAR(front.total_J() + rear.total_J(), described_energy_J(ride, half), 1e-6);
    EXPECT_NEAR(front.total_J() / rear.total_J(), 7.0 / 3, 1e-12);
    EXPECT_EQ(front.wet_share, 0.2);
    EXPECT_EQ(rear.grit_share, 0.1);
    EXPECT_EQ(front.distance_m, 20000);
}

TEST(DescribedRide, SteeperTerrainBrakesMoreAKilometreAndEveryClassIsWide) {
    const auto library = bw::parts::load_library();
    ASSERT_TRUE(library) << library.error().text;
    double before = 0;
    for (const Terrain terrain : {Terrain::flat, Terrain::rolling, Terrain::hilly, Terrain::mountain}) {
        const auto inputs = described_inputs(*library, terrain);
        std::set<std::string> keys;
        for (const bw::Input& i : inputs) EXPECT_TRUE(keys.insert(i.key).second);
        const bw::Cases cases = bw::draw_cases(inputs, 1024, 1);
        std::vector<double> energy_J;
        for (std::size_t i = 0; i < 1024; ++i) {
            const DescribedUnknowns u = described_unknowns_of(bw::CaseRow(cases, i));
            EXPECT_LE(u.braked_share, 1);
            energy_J.push_back(described_energy_J(typical_ride(u, 1000, 100), u));
        }
        const bw::Interval i = bw::interval_of(energy_J);
        EXPECT_GT(i.p95 / i.p05, 3) << word_of(terrain);   // nobody knows a described ride to better than x1.7
        if (terrain == Terrain::hilly || terrain == Terrain::mountain) {   // flat has more stops than rolling
            EXPECT_GT(i.p50, before) << word_of(terrain);
        }
        before = i.p50;
    }
}
