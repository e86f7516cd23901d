// SPDX-License-Identifier: Apache-2.0
// The page made of the rows of one run.
#pragma once
#include <cstddef>
#include <string>

namespace bw::validation {

//! docs/validation.md: the rows kept so far, then what was measured by hand.
std::string page(const std::string& by_hand);
std::size_t row_count();
//! A line a row: id,function,yes|no (used by answer),yes|no (held).
std::string row_lines();

}  // namespace bw::validation
