// SPDX-License-Identifier: Apache-2.0
// The kinds of ride, the rides of the demo, and the study whose every choice is drawn.   Layer: demo
#pragma once

#include <array>
#include <cstdint>
#include <optional>
#include <string_view>

#include "recording.hpp"
#include "ride.hpp"

namespace rides {

constexpr std::array<std::string_view, 6> kinds = {"long_drag", "late_hard", "city", "trail", "rolling", "cargo"};

struct DemoRide {
  std::string_view name;
  Sensors sensors;
};
inline const std::array<DemoRide, 3> demo_rides = {{
    {.name = "pass-and-back", .sensors = {}},
    {.name = "valley-deliveries", .sensors = {.speed = true}},
    {.name = "town-and-ridge", .sensors = {.power = true, .temperature = true}},
}};

//! A plain ride of a kind or of the demo; nothing if there is no such kind.
std::optional<Plan> plan_of(std::string_view kind, std::uint64_t seed);

// Whole: with all that real riders and winds do. As listed: what the aims list is uncertain, and nothing more: one drag
// area, one rolling resistance and one wind a ride, and no legs under a brake. [D14]
enum class Study : std::uint8_t { whole, as_listed };

//! A ride of the study, 20 to 45 minutes long: every choice by seed. [D10]
std::optional<Plan> study_plan(std::string_view kind, std::uint64_t seed, Study study = Study::whole);

//! The same before its length is looked at: `pace` corrects the guess of how long it takes.
std::optional<Plan> study_plan(std::string_view kind, std::uint64_t seed, double pace, Study study = Study::whole);

//! The typical bike of a kind (trail, gravel, road, city, cargo) with its rider, around which the study draws.
Machine typical(std::string_view bike);

}  // namespace rides
