// SPDX-License-Identifier: Apache-2.0
// An invented bike and an invented ride of it, for tests of answers from papers.
#pragma once
#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <string>

#include "parts/library.hpp"

namespace bw::papers::testing {

inline constexpr const char* description =
    "format = 1\nbike.kind = \"trail\"\nbike.name = \"Heron\"\nbike.total_mass_kg = 95\nfront.rotor.diameter_mm = 203\nfront.rotor.thickness_mm = 1.84\n"
    "front.rotor.least_thickness_mm = 1.65\nfront.rotor.anvil = \"pointed\"\nfront.pads.friction_thickness_mm = 1.5\nfront.pads.plate_thickness_mm = 1.8\nfront.pads.plate_measured = true\n"
    "front.pads.least_friction_mm = 0.5\nfront.pads.compound = \"sintered\"\n";

// Down a slope with bends that are braked for, and a stop: an invented ride.
inline std::string ride_csv(int seconds, double slope) {
    std::string out = "t_s,distance_m,speed_mps,altitude_m\n";
    double x = 0;
    for (int t = 0; t <= seconds; ++t) {
        const double v = t + 8 > seconds ? std::max(0.0, (seconds - t) * 1.0) : 8 + 2.5 * std::sin(t / 7.0);
        out += fmt::format("{},{:.2f},{:.2f},{:.2f}\n", t, x, v, 900 - slope * x);
        x += v;
    }
    return out;
}

inline const parts::Library& library() {
    static const parts::Library loaded = *parts::load_library();
    return loaded;
}

}  // namespace bw::papers::testing
