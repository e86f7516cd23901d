// SPDX-License-Identifier: Apache-2.0
// What `stop` says around the stops themselves.                                                          Layer: answer
#pragma once
#include <span>
#include <vector>

#include "answer/stopping.hpp"
#include "internal.hpp"

namespace bw::answer {

//! Fills feel, bedding, hold and top_speed. drawn: must hold wear::described_inputs of the terrain; weights: [cases] or empty;
//! by_share: [cases], those with the learned front share, or empty. What a share moves is the worse of the two.
Status stop_more(const Context&, const parts::Library&, const StopQuestion&, const Cases& drawn, std::span<const Case>, const std::vector<double>& weights, const std::vector<double>& by_share, StopReport&);

//! Fills balance, which no front share moves. middle: the case whose lines are shown. weights: [cases] or empty.
void stop_balance(const Context&, const StopQuestion&, std::span<const Case>, const Case& middle, const std::vector<double>& weights, StopReport&);

}  // namespace bw::answer
