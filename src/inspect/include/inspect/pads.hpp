// SPDX-License-Identifier: Apache-2.0
// Repeats of a reading, and what uneven pads point to.                                                   Layer: inspect
// Theory: docs/models/inspect.md [EQ inspect-13..14].                                      Pure functions: any thread.
#pragma once
#include <span>
#include <string>
#include <string_view>
#include <vector>

#include "inspect/reading.hpp"
#include "parts/library.hpp"

namespace bw::inspect {

//! Do repeats of one place contradict each other: is their range more than chance gives once in a hundred?
//! scatter: standard deviation of a single one [same unit], > 0.   Source: [EQ inspect-13]
bool repeats_contradict(std::span<const double> values, double scatter);

//! One place of a pad. along < 0: the leading edge, where the rotor comes in; > 0: trailing; across < 0: towards the hub.
struct PadPlace {
    enum class Pad { left, right } pad = Pad::left;
    int along = 0, across = 0;                   //!< -1, 0, 1; 0: not told, or the middle
    double friction_mm = 0;
};

//! A way in which pads wear unevenly.
struct PadPattern {
    struct Cause {
        std::string text;
        double share = 0;                        //!< of all such patterns, by common practice; sums to 1
    };
    std::string code;                            //!< "left_right", "leading_trailing", "inner_outer"
    std::string which;                           //!< "left", "right", or "" for both together
    double difference_mm = 0, uncertainty_mm = 0;   //!< left less right, leading less trailing, inner less outer
    double probability = 0;                      //!< that it is more than common practice leaves alone
    std::vector<Cause> causes;                   //!< likeliest first
};
//! The patterns that the places can show, surest first. scatter_mm: standard uncertainty that two places do not share.
//! Source: [EQ inspect-14]; shares: data/inspect.toml, common practice.
std::vector<PadPattern> pad_patterns(std::span<const PadPlace>, double scatter_mm, const parts::Library&);

//! In words; only patterns that are more likely there than not.
std::vector<std::string> words_of(std::span<const PadPattern>);

}  // namespace bw::inspect
