// SPDX-License-Identifier: Apache-2.0
// One wheel on one path by the engine: what heat_of_wheel gives, tens of times faster.                    Layer: heat
#pragma once
#include <cstdint>

#include "heat/wheel.hpp"

namespace bw::heat {

//! Where rain or spray reaches the brake, and what it meets.
struct WetRide {
    std::span<const std::uint8_t> wet;   //!< [rows]
    double wet_factor = 1;               //!< friction of the soaked pair over that of the dry one, 0..1
    double wheel_radius_m = 0.34, altitude_m = 0;
};
//! Speed of the light braking of WheelWater::turns_to_dry.
inline constexpr double light_braking_mps = 5;

//! As heat_of_wheel with Keep::rows, temperatures by solve_many in double precision: within 1 K at every row, 0.5 K in nearly all peaks (engine.hpp),
//! the dose's mean temperatures within 1 K (tests/heat/wheel_engine_test.cpp). peaks carry times for the fluid only.
//! wet: water comes and goes on the way, and evaporating takes heat from the rotor [EQ heat-39]: film and temperatures in turns, each
//! row within 0.5 K of going on with it (tests/heat/water_test.cpp). stop may be null. Fails like solve_many and along_radius.
Result<WheelHeat> heat_of_wheel_by_engine(const ReferenceBrake& brake, const HeatUnknowns& u, std::span<const PowerRow> rows, double cool_down_s,
                                          const std::optional<RotorBand>& band, const std::atomic<bool>* stop, const std::optional<WetRide>& wet = std::nullopt);

}  // namespace bw::heat
