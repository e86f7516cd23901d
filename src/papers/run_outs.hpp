// SPDX-License-Identifier: Apache-2.0
// Run-out tables taken apart once: samples found again in this process and in the papers.               Layer: papers
// Why: docs/decisions/0012-run-out-ways.md.                                                     Any thread, each with its own papers.
#pragma once
#include <memory>
#include <span>
#include <string>
#include <string_view>

#include "inspect/run_out.hpp"
#include "papers/papers.hpp"

namespace bw::papers {

//! What inspect::run_out_of says of these looks. Found again by all that decides it; sampled else, and then kept in `kept_in`
//! where that can be written; after a write that failed none is tried for the next 500 looks. kept_in: may be null. made_unix_s: for what
//! is kept.
std::shared_ptr<const Result<inspect::RunOut>> run_out_of(Papers* kept_in, std::span<const inspect::DialReading> looks, const inspect::RunOutBudget&, double made_unix_s);

//! As a list of numbers in JSON, each to the last bit; empty if one of them is none.
std::string text_of(const inspect::RunOut&);
//! Nothing: this is no such list.
std::optional<inspect::RunOut> run_out_from(std::string_view text);

}  // namespace bw::papers
