// SPDX-License-Identifier: Apache-2.0
// Many brakes at once whose properties depend on temperature.                                             Layer: heat
// Theory: docs/models/heat.md [EQ heat-32].                                                    Not a public header.
#pragma once
#include <array>
#include <span>
#include <vector>

#include "engine_kernel.hpp"
#include "heat/engine.hpp"

namespace bw::heat::engine {

//! True if the vector code takes this brake's tables (at most 16 points each); else the plain solver has to.
bool can_vary(const ReferenceBrake& brake);
//! Runs brakes[i] for i in members into out[i]. Checked beforehand: brakes, rows, options. Returns the number of steps; fewer cases than
//! asked where the context was stopped.
std::size_t run_varying(const Context& ctx, std::span<const ReferenceBrake> brakes, std::span<const std::size_t> members, std::span<const PowerRow> rows,
                        const ManyOptions& options, Isa isa, std::vector<CaseRun>& out);

}  // namespace bw::heat::engine
