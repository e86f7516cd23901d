// SPDX-License-Identifier: Apache-2.0
// What this hand can give on a lever, and for how long.                                                   Layer: stop
#pragma once
#include <optional>
#include <string_view>

#include "parts/bike.hpp"
#include "stop/unknowns.hpp"

namespace bw::stop {

enum class HandState { warm, gloves, cold, cold_and_gloves };
std::string_view word_of(HandState);
std::optional<HandState> hand_state_of(std::string_view word);

//! Best grip span [cm]: fixed 5.5 (men of the study), or hand size/5 + 1.5 (women of the study). Size in cm.
//! Source: "Hand size influences optimal grip span in women but not in men", J. Hand Surg. Am. 27(5), 2002. [EQ stop-8]
enum class SpanRule { fixed, by_hand_size };
double best_span_cm(SpanRule, double hand_size_cm);

//! Force of the braking fingers [N] with the lever's contact face `lever_mm` from the bar: whole grip x finger share
//! x (1 - span_loss ((span - best)/best)^2), not under 0.5, x cold and glove factors. The span is lever_mm + the bar's
//! diameter. Sex is not asked for: best span is by hand size, and not above 5.5 cm, where the study's two rules meet.
//! [EQ stop-8]
double hand_force_N(const parts::Hand&, const StopUnknowns&, double lever_mm, HandState);

//! Minutes that a share of the largest force (0.15..1) can be held: Rohmert 1960, from memory. Not below 0. [EQ stop-9]
//! Overestimates below 0.45 of the largest force in shoulder data; a bound on what to ask for, not a promise.
double endurance_min(double share);

}  // namespace bw::stop
