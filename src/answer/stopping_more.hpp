// SPDX-License-Identifier: Apache-2.0
// What `stop` says around the stops themselves.                                                          Layer: answer
#pragma once
#include <span>
#include <vector>

#include "answer/stopping.hpp"
#include "internal.hpp"

namespace bw::answer {

//! Fills feel, bedding, hold and top_speed. drawn: must hold wear::described_inputs of the terrain; weights: [cases] or empty.
Status stop_more(const Context&, const parts::Library&, const StopQuestion&, const Cases& drawn, std::span<const Case>, const std::vector<double>& weights, StopReport&);

//! Fills balance. middle: the case whose lines are shown. weights: [cases] or empty.
void stop_balance(const Context&, const StopQuestion&, std::span<const Case>, const Case& middle, const std::vector<double>& weights, StopReport&);

}  // namespace bw::answer
