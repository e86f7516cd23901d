// SPDX-License-Identifier: Apache-2.0
// Words that text and JSON share.                                                                         Layer: answer
#pragma once
#include <string>
#include <vector>

#include "answer/answer.hpp"

namespace bw::answer {

//! The short caution of every page and report (DESIGN 3, rule 11).
inline constexpr const char* caution =
    "An estimate does not replace an inspection. The maker's instructions and local rules come first. If in doubt do not ride, and see a qualified "
    "mechanic.";

//! What the brakes did on a ride, a sentence or two each; empty if they did next to nothing.
std::vector<std::string> did_lines(const RideAnswer&);

//! "; planned, not ridden; style ..." for the line under a ride's name; empty for a recorded ride.
std::string planned_words(const RideAnswer&);
//! How many of the rides behind a life nobody recorded; empty if all were.
std::string ridden_words(const Answer&);
//! A line a described ride, at most a dozen; empty if there are none. 80 columns.
std::vector<std::string> described_lines(const Answer&);
//! The described ride whose typical descent is the hottest, or null.
const RideAnswer* hottest_described(const Answer&);

}  // namespace bw::answer
