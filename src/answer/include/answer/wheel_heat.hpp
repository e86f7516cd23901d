// SPDX-License-Identifier: Apache-2.0
// One wheel run by itself on a table of power: what `answer` would say of it, in the same words.         Layer: answer
#pragma once
#include <cstddef>
#include <cstdint>
#include <span>
#include <string>
#include <string_view>
#include <utility>
#include <vector>

#include "answer/answer.hpp"
#include "heat/wheel.hpp"

namespace bw::answer {

//! Inputs of the likely cases of one wheel's heat: first those that enter it, then all others of the bike without a spread, so that
//! bike_of_case finds them and the sample spends nothing on them. wet: water reaches the brake.
struct WheelInputs {
    std::vector<Input> inputs;
    std::size_t entering = 0;   //!< how many of them enter
};
WheelInputs wheel_inputs(const parts::Library&, const parts::Bike&, parts::End, bool wet);

//! What was run. Peaks, times, squeezes and energies in all cases; the rest of a heat run in some of them.
struct WheelRuns {
    std::string file;                        //!< of the table: reasons name it
    parts::End end = parts::End::front;
    double altitude_m = 0;                   //!< of the road: where fluid boils
    const Cases& drawn;
    std::vector<heat::WheelHeat> heat;       //!< [cases], at least 1,024: a verdict rests on them
    std::vector<heat::WheelHeat> whole = {}; //!< [1..cases] with work out of range, the middle of the ring and the rise under the pad; empty: heat has them
    std::vector<double> weights = {};        //!< [cases], or empty: all alike
    std::vector<std::size_t> by_weight = {}; //!< with weights: cases as often as they weigh (`drawn_by_weight`), and the same whole runs of them
    std::vector<heat::WheelHeat> whole_by_weight = {};
};
//! n cases that stand for all of them alike: the first, or drawn by weight ([cases]), one in each n-th of the weight at an even place
//! of its own (a fixed stride would side with some of the cases); none that weighs nothing. what: names the draw.
//! Source: stratified resampling, G. Kitagawa 1996 (from memory).
std::vector<std::size_t> drawn_by_weight(std::size_t n, std::size_t of, std::span<const double> weights, std::uint64_t seed, std::string_view what);

struct WheelSaid {
    Answer answer;             //!< bike, verdict, cautions, and one ride with this wheel. Fading against the hand is not asked
    WheelHeatAnswer heat;
    std::vector<std::string> of_heat = {};   //!< codes of the verdict's reasons that are this heat's
    std::size_t cases = 1, whole_cases = 1;
};
//! What holds this bike back as described, and what this heat adds. Likely cases by weight; a verdict rests on the worse of with
//! weights and without. Fails with cancelled.
Result<WheelSaid> wheel_said(const Context&, const parts::Library&, const parts::Bike&, const WheelRuns&);

//! Whether there is a reason not to ride: held back, every reason, else those of this heat. 80 columns.
std::string verdict_text(const WheelSaid&, bool at_sea_level);
//! Name and cell, as `answer` has them in a column.
std::vector<std::pair<std::string, std::string>> rows_of(const WheelSaid&);
//! Sentences under the table.
std::vector<std::string> remarks_of(const WheelSaid&);
//! JSON { "verdict", "wheel" }: as verdict{} and rides[].wheels.front of answer/1; what was not asked is left out.
std::string json_of(const WheelSaid&);

}  // namespace bw::answer
