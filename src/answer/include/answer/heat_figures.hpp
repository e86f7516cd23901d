// SPDX-License-Identifier: Apache-2.0
// The data behind the figures that explain the heat of a brake: `heat figures DIR`.                      Layer: answer
// Files: docs/formats.md, "Figures of the heat".                                        Pure functions: any thread.
#pragma once
#include <cstddef>
#include <string>
#include <vector>

#include "base/context.hpp"
#include "base/result.hpp"
#include "parts/library.hpp"

namespace bw::answer {

//! One figure: a table, and what it says with assumptions and sources (schema heat-figure/1).
struct HeatFigure {
    std::string name;   //!< stem of both files
    std::string csv, json;
};

//! All figures, in a fixed order. cases: a power of two from 64 on. Variants of a figure share their likely cases, draw by draw, so
//! differences are intervals of their own. Deterministic for ctx.seed, whatever ctx.threads. Fails with cancelled, or as the solver.
Result<std::vector<HeatFigure>> heat_figures(const Context& ctx, const parts::Library& library, const std::string& version, std::size_t cases);

}  // namespace bw::answer
