// SPDX-License-Identifier: Apache-2.0
// Braking energy end to end: real recordings against the bands published with them, simulated ones against their truth.
// The simulator (demo/make_rides.cpp) was written from the file formats alone, without reading src/.
#include <gtest/gtest.h>

#include <cmath>
#include <filesystem>
#include <nlohmann/json.hpp>
#include <tuple>
#include <vector>

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
double value_of(const std::string& text, const std::string& key) {
    const std::size_t at = text.find("\n" + key + " =");
    return at == std::string::npos ? std::nan("") : std::stod(text.substr(text.find('=', at) + 1));
}

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

TEST(RealRecordings, TheBrakesNeverTakeMoreThanHeightMotionAndRiderGave) {
    if (!std::filesystem::exists(good)) GTEST_SKIP() << "the folder of real recordings is not beside the project";
    const Folder f;
    for (const auto& entry : std::filesystem::directory_iterator(good)) {
        if (entry.path().extension() != ".gpx") continue;
        const json a = ride({f.write("bike.toml", bands_bike), entry.path().string()})["account_J"];
        EXPECT_LE(a["brakes"].get<double>(), a["height"].get<double>() + a["motion"].get<double>() + a["rider"].get<double>()) << entry.path();
    }
}

TEST(SimulatedRides, BrakeEnergyIsNearTheTruthWithDragAndRollingToldOrWithMassAndKindAlone) {
    struct Call {
        const char* kind;
        const char* sensor;
        const char* bike;
        double told, plain;       // relative bounds
    };
    // Seed 301: not used for tuning. Bounds: the worst of nine in ten that a study on other simulated
    // rides gave this kind of estimator is 20 %, with mass and kind alone; twice that is a fault, not scatter. Where there is
    // little braking (under 6 kJ/km) that study gave 0.3 to 1.2 kJ/km; 1.5 is allowed. An altitude read off a terrain model is
    // three times worse there, and must not be taken for a barometer's.
    const std::vector<Call> calls = {{"long_drag", "barometric", "gravel", 0.15, 0.25}, {"late_hard", "barometric", "gravel", 0.25, 0.35}, {"trail", "barometric", "trail", 0.20, 0.35},
                                     {"cargo", "barometric", "cargo", 0.25, 0.40},      {"rolling", "barometric", "gravel", 0.30, 0.40},   {"city", "barometric", "city", 0.30, 0.40},
                                     {"city", "terrain", "city", 0.50, 0.60},           {"cargo", "terrain", "cargo", 0.50, 0.60}};
    const Folder f;
    for (const Call& c : calls) {
        ASSERT_EQ(run(BW_MAKE_RIDES, {f.path("."), "--kind", c.kind, "--sensor", c.sensor, "--seed", "301", "--truth"}).status, 0);
        const std::string stem = std::string(c.kind) + "-" + c.sensor + "-301";
        const std::string truth = read(f.path(stem + ".truth.toml"));
        const double true_J = value_of(truth, "brake_energy_J");
        ASSERT_TRUE(std::isfinite(true_J)) << truth;
        const std::string plain = std::string("format = 1\n[bike]\nkind = \"") + c.bike + "\"\ntotal_mass_kg = " + std::to_string(value_of(truth, "total_mass_kg")) + "\n";
        const std::string told = plain + "drag_area_m2 = { value = " + std::to_string(value_of(truth, "drag_area_m2")) + ", sd = 0.02 }\nrolling_resistance = { value = " +
                                 std::to_string(value_of(truth, "rolling_resistance")) + ", sd = 0.0005 }\n";
        for (const auto& [name, text, within] : {std::tuple{"told", told, c.told}, {"plain", plain, c.plain}}) {
            const json r = ride({f.write("bike.toml", text), f.path(stem + ".gpx")});
            const double ours_J = r["brake_energy_J"]["p50"].get<double>(), km = r["distance_m"].get<double>() / 1000;
            EXPECT_NEAR(ours_J, true_J, std::max(within * true_J, 1500 * km)) << stem << ", " << name << ": true " << true_J / 1000 << " kJ, ours " << ours_J / 1000 << " kJ over " << km << " km";
            std::printf("%-28s %-5s true %7.1f kJ  ours %7.1f (%.1f to %.1f)\n", stem.c_str(), name, true_J / 1000, ours_J / 1000,
                        r["brake_energy_J"]["p05"].get<double>() / 1000, r["brake_energy_J"]["p95"].get<double>() / 1000);
        }
    }
}
