// SPDX-License-Identifier: Apache-2.0
// Repeats of a reading; what uneven pads, uneven gaps and a lever that moves point to.                   Layer: inspect
// Theory: docs/models/inspect.md [EQ inspect-13..16].                                      Pure functions: any thread.
#pragma once
#include <optional>
#include <span>
#include <string>
#include <string_view>
#include <vector>

#include "inspect/reading.hpp"
#include "inspect/verdict.hpp"
#include "parts/bike.hpp"
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

//! A way in which readings lie, and what it points to.
struct Pattern {
    struct Cause {
        std::string text;
        double share = 0;                        //!< of all such patterns, by common practice; sums to 1
    };
    std::string code;                            //!< pads: "left_right", "leading_trailing", "inner_outer"; gaps: "gap_left_right", "gap_along", "gap_across", "gap_wedge"; lever: "lever_nearer", "lever_pumps_up", "lever_sinks"
    std::string which;                           //!< "left", "right", or "" for both together
    double difference_mm = 0, uncertainty_mm = 0;   //!< left less right, leading less trailing, inner less outer
    double probability = 0;                      //!< that it is more than common practice leaves alone
    std::vector<Cause> causes;                   //!< likeliest first
};
//! The patterns that the places can show, surest first. scatter_mm: standard uncertainty that two places do not share.
//! Source: [EQ inspect-14]; shares: data/inspect.toml, common practice.
std::vector<Pattern> pad_patterns(std::span<const PadPlace>, double scatter_mm, const parts::Library&);

//! One corner of the gap between pad and rotor, by feeler. along, across: as of PadPlace.
struct GapPlace {
    PadPlace::Pad pad = PadPlace::Pad::left;
    int along = 0, across = 0;
    double gap_mm = 0;
};
//! What uneven gaps show, surest first: a caliper off the middle (gap_left_right), turned or leaning against the rotor (gap_along,
//! gap_across: the two sides open towards opposite ends), or pads worn to wedges (gap_wedge: both towards the same end).
//! scatter_mm: standard uncertainty of one corner.   Source: [EQ inspect-15]; shares: data/inspect.toml, common practice.
std::vector<Pattern> gap_patterns(std::span<const GapPlace>, double scatter_mm, const parts::Library&);

//! A lever's bite distance (lever to bar when the pads touch) on one day: its squeezes in order, with no work between the days.
struct LeverLook {
    std::vector<double> bite_mm;                 //!< repeats in the order in which they were squeezed
    std::optional<double> pads_mm;               //!< friction material of both pads together around that day
};
//! What a lever does: from the first to the last day it comes nearer to the bar; within the last day's squeezes it pumps up or sinks.
//! With pads that did not wear meanwhile no cause that rests on wear is named.   Source: [EQ inspect-16]
std::vector<Pattern> lever_patterns(std::span<const LeverLook>, parts::Actuation, double scatter_mm, const parts::Library&);

//! A lever that sinks with each squeeze, if that is as likely there as not: held back, whatever the cause. Patterns of one day's look.
std::optional<Check> check_sinking(parts::End, std::span<const Pattern>);

//! In words; only patterns that are more likely there than not.
std::vector<std::string> words_of(std::span<const Pattern>);

}  // namespace bw::inspect
