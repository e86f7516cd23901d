// SPDX-License-Identifier: Apache-2.0
// Many checks -> one verdict.                                                                            Layer: inspect
#include "inspect/verdict.hpp"

#include <algorithm>
#include <fmt/format.h>

namespace bw::inspect {

std::string_view word_of(State state) {
    switch (state) {
        case State::no_reason_found: return "no_reason_found";
        case State::look_by: return "look_by";
        case State::measure_better: return "measure_better";
        case State::replace: return "replace";
        case State::held_back: return "held_back";
    }
    return "held_back";
}

std::string_view word_of(CheckId id) {
    switch (id) {
        case CheckId::front_pad_thickness: return "front_pad_thickness";
        case CheckId::rear_pad_thickness: return "rear_pad_thickness";
        case CheckId::front_rotor_thickness: return "front_rotor_thickness";
        case CheckId::rear_rotor_thickness: return "rear_rotor_thickness";
        case CheckId::front_lever_travel: return "front_lever_travel";
        case CheckId::rear_lever_travel: return "rear_lever_travel";
        case CheckId::front_fluid_or_cable: return "front_fluid_or_cable";
        case CheckId::rear_fluid_or_cable: return "rear_fluid_or_cable";
        case CheckId::front_rotor_run_out: return "front_rotor_run_out";
        case CheckId::rear_rotor_run_out: return "rear_rotor_run_out";
        case CheckId::bolts_and_cracks: return "bolts_and_cracks";
        case CheckId::leaks_and_oil: return "leaks_and_oil";
        case CheckId::other: return "other";
    }
    return "other";
}

Verdict combine(std::vector<Check> checks) {
    std::stable_sort(checks.begin(), checks.end(), [](const Check& a, const Check& b) {
        if (a.do_not_ride != b.do_not_ride) return a.do_not_ride;
        return static_cast<int>(a.state) > static_cast<int>(b.state);
    });

    Verdict v;
    std::array<bool, checks_total> seen{}, done{}, reason{};
    done.fill(true);
    for (const Check& c : checks) {
        v.do_not_ride = v.do_not_ride || c.do_not_ride || c.state == State::held_back;
        v.state = std::max(v.state, c.state);
        if (c.state != State::no_reason_found) v.reasons.push_back({c.code, c.text});
        else if (!c.done) v.notes.push_back({c.code, c.text});
        if (c.id == CheckId::other) continue;
        const auto i = static_cast<std::size_t>(c.id);
        seen[i] = true;
        done[i] = done[i] && c.done;
        // A look-by date is a date, not a reason against riding today.
        reason[i] = reason[i] || static_cast<int>(c.state) > static_cast<int>(State::look_by);
    }
    if (v.do_not_ride) v.state = State::held_back;

    int clear = 0;
    for (std::size_t i = 0; i < checks_total; ++i) {
        if (!seen[i] || !done[i]) continue;
        ++v.checks_done;
        if (!reason[i]) ++clear;
    }
    if (v.checks_done == 0 && v.state < State::measure_better) {
        v.state = State::measure_better;
        v.reasons.push_back({"nothing_checked", "Nothing was checked on this bike. Measure pads and rotors, then ask again."});
    }

    const std::string found = fmt::format("no reason found in {} of {} checks", clear, v.checks_total);
    switch (v.state) {
        case State::held_back: v.text = (v.reasons.front().text.starts_with("Do not ride") ? "" : "Do not ride this bike. ") + v.reasons.front().text; break;
        case State::replace: v.text = "Replace before the next ride. Apart from that, " + found + "."; break;
        case State::measure_better: v.text = "Measure again or better, see below. Apart from that, " + found + "."; break;
        case State::look_by: v.text = "Look again by the date given; " + found + "."; break;
        case State::no_reason_found: v.text = found; break;
    }
    return v;
}

}  // namespace bw::inspect
