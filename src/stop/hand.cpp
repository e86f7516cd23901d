// SPDX-License-Identifier: Apache-2.0
// What this hand can give on a lever.                                                                     Layer: stop
#include "stop/hand.hpp"

#include <algorithm>

namespace bw::stop {

std::string_view word_of(HandState s) { return s == HandState::warm ? "warm" : s == HandState::gloves ? "gloves" : s == HandState::cold ? "cold" : "cold_and_gloves"; }

std::optional<HandState> hand_state_of(std::string_view word) {
    for (const HandState s : {HandState::warm, HandState::gloves, HandState::cold, HandState::cold_and_gloves})
        if (word == word_of(s)) return s;
    return std::nullopt;
}

double best_span_cm(SpanRule rule, double hand_size_cm) { return rule == SpanRule::fixed ? 5.5 : hand_size_cm / 5 + 1.5; }

double hand_force_N(const parts::Hand& hand, const StopUnknowns& u, double lever_mm, HandState state) {
    const double best_mm =
        10 * std::min(best_span_cm(SpanRule::by_hand_size, hand.size_cm.value), best_span_cm(SpanRule::fixed, hand.size_cm.value));
    const double off = (std::max(lever_mm, 0.0) + u.bar_diameter_mm - best_mm) / best_mm;
    double force = hand.strength_N.value * u.finger_share * std::max(1 - u.span_loss * off * off, 0.5);
    if (state == HandState::cold || state == HandState::cold_and_gloves) force *= u.cold_factor;
    if (state == HandState::gloves || state == HandState::cold_and_gloves) force *= u.glove_factor;
    return force;
}

double endurance_min(double share) {
    const double f = std::clamp(share, 0.15, 1.0);
    return std::max(-1.5 + 2.1 / f - 0.6 / (f * f) + 0.1 / (f * f * f), 0.0);
}

}  // namespace bw::stop
