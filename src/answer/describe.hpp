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

//! Cells and sentences of one wheel's heat. cases: how many likely cases a chance is read off.
std::string fluid_words(const WheelHeatAnswer&);
std::string boils_words(const WheelHeatAnswer&, std::size_t cases);
std::string squeeze_words(const WheelHeatAnswer&);
//! Why the boiling of a fluid is not known. told: which fluid it is was told.
const char* boiling_unknown_words(bool told);
//! Of a rotor whose aluminium core may have softened; empty: there is none, or it hardly may.
std::string core_words(const WheelHeatAnswer&, std::size_t cases);
//! What of the braking lies beyond what anybody measured; a sentence each, or none.
std::vector<std::string> outside_measured_words(double above_power_share, double outside_share);
//! The head of the page: whether there is a reason not to ride, and every reason. 80 columns.
std::string verdict_text(const inspect::Verdict&);
//! verdict{} and rides[].wheels.front of answer/1, as JSON.
std::string json_of(const inspect::Verdict&);
std::string json_of(const WheelHeatAnswer&);

//! "; planned, not ridden; style ..." for the line under a ride's name; empty for a recorded ride.
std::string planned_words(const RideAnswer&);
//! How many of the rides behind a life nobody recorded; empty if all were.
std::string ridden_words(const Answer&);
//! A line a described ride, at most a dozen; empty if there are none. 80 columns.
std::vector<std::string> described_lines(const Answer&);
//! The described ride whose typical descent is the hottest, or null.
const RideAnswer* hottest_described(const Answer&);

}  // namespace bw::answer
