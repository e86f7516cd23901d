// SPDX-License-Identifier: Apache-2.0
// The data behind the figures that explain the lever: `stop figures DIR`.                                Layer: answer
// Files: docs/formats.md, "Figures of the lever".                                       Pure functions: any thread.
#pragma once
#include "answer/heat_figures.hpp"

namespace bw::answer {

//! All figures, in a fixed order (schema stop-figure/1). cases: a power of two from 64 on; set-ups of a figure share their cases.
//! Deterministic for ctx.seed, whatever ctx.threads. Fails with cancelled.
Result<std::vector<HeatFigure>> stop_figures(const Context&, const parts::Library&, const std::string& version, std::size_t cases);

}  // namespace bw::answer
