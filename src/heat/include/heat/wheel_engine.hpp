// SPDX-License-Identifier: Apache-2.0
// One wheel on one path by the engine: what heat_of_wheel gives, tens of times faster.                    Layer: heat
#pragma once
#include "heat/wheel.hpp"

namespace bw::heat {

//! As heat_of_wheel with Keep::rows, temperatures by solve_many in double precision: within 1 K at every row, 0.5 K in peaks,
//! the dose's mean temperatures within 1 K (tests/heat/wheel_engine_test.cpp). peaks carry times for the fluid only.
//! stop may be null. Fails like solve_many and along_radius.
Result<WheelHeat> heat_of_wheel_by_engine(const ReferenceBrake& brake, const HeatUnknowns& u, std::span<const PowerRow> rows, double cool_down_s,
                                          const std::optional<RotorBand>& band, const std::atomic<bool>* stop);

}  // namespace bw::heat
