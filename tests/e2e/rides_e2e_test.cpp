// SPDX-License-Identifier: Apache-2.0
// Braking energy end to end: real recordings against the bands published with them, simulated ones against their truth.
// The simulator (demo/make_rides.cpp) was written from the file formats alone, without reading src/.
#include <gtest/gtest.h>

#include <algorithm>
#include <cmath>
#include <filesystem>
#include <nlohmann/json.hpp>
#include <tuple>
#include <vector>

#include "bw_paths.hpp"
#include "run.hpp"

using namespace bw::e2e;
using nlohmann::json;

namespace {

json ride(const std::vector<std::string>& words) {
    std::vector<std::string> all = {"answer", "--json"};
    all.insert(all.end(), words.begin(), words.end());
    const Outcome o = brakewright(all);
    EXPECT_EQ(o.status, 0) << o.err;
    return o.status == 0 ? json::parse(o.out)["rides"][0] : json();
}

// A number of a flat TOML file's top level.
const std::string good = std::string(BW_ROOT) + "/../shared/rides/good/";

// The bike for which the recordings' bands were made: 90 kg, drag area 0.40, rolling resistance 0.006.
const char* bands_bike = "format = 1\n[bike]\nkind = \"road\"\ntotal_mass_kg = 90\ndrag_area_m2 = 0.40\nrolling_resistance = 0.006\n";

}  // namespace

TEST(RealRecordings, BrakeEnergyLiesWithinAFactorOfOnePointFiveOfTheirBand) {
    if (!std::filesystem::exists(good)) GTEST_SKIP() << "the folder of real recordings is not beside the project";
    const Folder f;
    const std::string bike = f.write("bike.toml", bands_bike);
    const double a = ride({bike, good + "short-steep-hills-a.gpx"})["brake_energy_J"]["p50"].get<double>() / 1000;
    const double b = ride({bike, good + "short-steep-hills-b-power.gpx"})["brake_energy_J"]["p50"].get<double>() / 1000;
    // Bands: ../shared/rides/README.md, a coarse balance in 10 s blocks for drag areas of 0.30 to 0.50.
    EXPECT_GE(a, 139 / 1.5);
    EXPECT_LE(a, 295 * 1.5);
    EXPECT_GE(b, 135 / 1.5);
    EXPECT_LE(b, 266 * 1.5);
    EXPECT_NEAR(a / b, 1, 0.10) << "two recordings of one ride";
    std::printf("short-steep-hills: a %.0f kJ, b %.0f kJ\n", a, b);
}

// Asked: within 5 % of one another. Files differ, so the draws do too (64 paths leave about 2 %).
TEST(RealRecordings, ThreeRecordingsOfOneRideAgreeWithinFivePercent) {
    if (!std::filesystem::exists(good)) GTEST_SKIP() << "the folder of real recordings is not beside the project";
    const Folder f;
    const std::string bike = f.write("bike.toml", bands_bike);
    std::vector<double> kJ;
    for (const char* name : {"short-steep-hills-a.gpx", "short-steep-hills-b-power.gpx", "short-steep-hills-power.fit"}) kJ.push_back(ride({bike, good + name})["brake_energy_J"]["p50"].get<double>() / 1000);
    const auto [least, most] = std::minmax_element(kJ.begin(), kJ.end());
    std::printf("three recordings of one ride: %.1f, %.1f and %.1f kJ\n", kJ[0], kJ[1], kJ[2]);
    EXPECT_LE(*most, 1.05 * *least);
}

// What differencing and clipping at zero makes of ripple, dips and spikes is in ../shared/rides/README.md, column naive.
TEST(RealRecordings, RippleDipsAndSpikesAreNotBraking) {
    if (!std::filesystem::exists(good)) GTEST_SKIP() << "the folder of real recordings is not beside the project";
    const Folder f;
    const std::string bike = f.write("bike.toml", bands_bike);
    for (const auto& [name, naive_kJ] : {std::tuple{"rolling-altitude-ripple-power.fit", 210.0}, std::tuple{"rolling-pressure-dips-power.fit", 233.0}, std::tuple{"hilly-speed-spikes-power.tcx", 4499.0}}) {
        const double kJ = ride({bike, good + name})["brake_energy_J"]["p50"].get<double>() / 1000;
        std::printf("%s: %.1f kJ, naive %.0f\n", name, kJ, naive_kJ);
        EXPECT_LE(kJ, 0.6 * naive_kJ) << name;
        EXPECT_GT(kJ, 0) << name;
    }
}

TEST(RealRecordings, TheBrakesNeverTakeMoreThanHeightMotionAndRiderGave) {
    if (!std::filesystem::exists(good)) GTEST_SKIP() << "the folder of real recordings is not beside the project";
    const Folder f;
    for (const auto& entry : std::filesystem::directory_iterator(good)) {
        if (entry.path().extension() != ".gpx") continue;
        const json a = ride({f.write("bike.toml", bands_bike), entry.path().string()})["account_J"];
        EXPECT_LE(a["brakes"].get<double>(), a["height"].get<double>() + a["motion"].get<double>() + a["rider"].get<double>()) << entry.path();
    }
}
