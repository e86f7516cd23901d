// SPDX-License-Identifier: Apache-2.0
// Where the lever bites for this hand, and what moves it.                                                 Layer: stop
#include "stop/feel.hpp"

#include <algorithm>
#include <array>
#include <cmath>
#include <limits>

#include "base/sampling.hpp"

namespace bw::stop {

using parts::Actuation;

namespace {

constexpr std::array<std::string_view, 5> group_words = {"women", "men", "child_7", "child_10", "child_13"};
constexpr std::array<std::string_view, 3> finger_words = {"one", "two", "three"};
constexpr std::array<std::string_view, 4> place_words = {"in_window", "too_far_out", "too_near", "no_window"};

}  // namespace

std::string_view word_of(HandGroup g) { return group_words[static_cast<std::size_t>(g)]; }
std::string_view word_of(Fingers f) { return finger_words[static_cast<std::size_t>(f)]; }
std::string_view word_of(BitePlace p) { return place_words[static_cast<std::size_t>(p)]; }
std::optional<HandGroup> hand_group_of(std::string_view word) {
    for (std::size_t i = 0; i < group_words.size(); ++i)
        if (word == group_words[i]) return static_cast<HandGroup>(i);
    return std::nullopt;
}
std::optional<Fingers> fingers_of(std::string_view word) {
    for (std::size_t i = 0; i < finger_words.size(); ++i)
        if (word == finger_words[i]) return static_cast<Fingers>(i);
    return std::nullopt;
}

parts::Hand hand_of(const parts::Library& library, HandGroup group, double percentile) {
    const double z = normal_quantile(std::clamp(percentile, 0.1, 99.9) / 100);
    const auto figure = [&](const char* name) {
        const parts::Datum& d = library.row("hand." + std::string(word_of(group)) + "." + name);
        return Uncertain{.value = d.value.at(z), .sd = 0, .grade = d.value.grade, .source = d.value.source};
    };
    return {.size_cm = figure("size_cm"), .strength_N = figure("strength_N")};
}

double finger_share(const parts::Library& library, Fingers f) { return library.value("hand.fingers." + std::string(word_of(f))); }

double strongest_mm(const parts::Hand& hand, const StopUnknowns& u) {
    const double best_mm = 10 * std::min(best_span_cm(SpanRule::by_hand_size, hand.size_cm.value), best_span_cm(SpanRule::fixed, hand.size_cm.value));
    return std::max(best_mm - u.bar_diameter_mm, 0.0);
}

double hold_min(double share) {
    constexpr double hour_share = 0.079, curve_from = 0.15;
    if (share <= hour_share) return 60;
    if (share >= curve_from) return std::min(endurance_min(share), 60.0);
    const double at = std::log(share / hour_share) / std::log(curve_from / hour_share);
    return std::exp(std::log(60.0) + at * (std::log(endurance_min(curve_from)) - std::log(60.0)));
}

std::optional<Hold> hold_of(const parts::Bike& bike, const StopSetup& setup, const StopUnknowns& u) {
    constexpr double density_kg_m3 = 1.2;
    const balance::Geometry g = balance::geometry_of(bike, u.trailer_own_share);
    const balance::Whole whole = balance::whole_of(bike, 1);
    const double drag_N = 0.5 * density_kg_m3 * whole.drag_area_m2 * setup.from_mps * setup.from_mps +
                          whole.rolling_resistance * balance::whole_kg(g) * balance::gravity_mps2 * balance::cosine_of(setup.grade);
    const double braking_N = balance::braking_for(g, 0, setup.grade) - drag_N * balance::slowed_kg(g) / balance::whole_kg(g);
    if (!(braking_N > 0)) return std::nullopt;
    constexpr double cannot = std::numeric_limits<double>::infinity();
    // What each tyre holds, below lock as in a stop; the habit's share moves only as far as grip forces it.
    const double grip = grip_of(setup, u) * (setup.skill == Skill::ordinary ? u.grip_used : 1.0);
    const balance::Loads loads = balance::wheel_loads_at(g, braking_N, setup.grade);
    const double front_most = setup.brakes == Brakes::rear ? 0.0 : grip * loads.front_N / braking_N;
    const double rear_most = setup.brakes == Brakes::front ? 0.0 : grip * std::max(loads.rear_N, 0.0) / braking_N;
    const bool gripped = loads.rear_N >= 0 && front_most + rear_most >= 1;
    const double front = std::clamp(std::max(std::min(u.front_share, front_most), 1 - rear_most), 0.0, 1.0);
    Hold worst;
    double worst_share = -1;
    for (const parts::End end : {parts::End::front, parts::End::rear}) {
        const double tyre_N = braking_N * (end == parts::End::front ? front : 1 - front);
        if (!(tyre_N > 0)) continue;
        const BrakeUnknowns& b = u.brake(end);
        const double friction = friction_of(setup, b, end == parts::End::front ? setup.front_friction_factor : setup.rear_friction_factor);
        Hold h{.lever_N = lever_force_for(bike, end, b, friction, tyre_N), .held_N = release_force_for(bike, end, b, friction, tyre_N),
               .hand_N = hand_force_N(bike.rider.hand, u, bike.wheel(end).lever.bite_mm.value, setup.hand)};
        if (!gripped || !std::isfinite(h.lever_N) || h.lever_N > lever_force_at_bar(bike.wheel(end).lever, b)) h.lever_N = h.held_N = cannot;
        if (const double share = h.held_N / h.hand_N; share > worst_share) {
            worst_share = share;
            worst = h;
        }
    }
    return worst;
}

BitePlace place_of(double bite_mm, const double window_mm[2]) {
    if (window_mm[0] > window_mm[1]) return BitePlace::no_window;
    return bite_mm < window_mm[0] ? BitePlace::too_near : bite_mm > window_mm[1] ? BitePlace::too_far_out : BitePlace::in_window;
}

std::vector<Adjustment> adjustments_for(const parts::Wheel& wheel, BitePlace place) {
    if (place == BitePlace::in_window) return {};
    if (place == BitePlace::no_window)
        return {{"lever", "This brake gives so much under the hand that no bite point suits: a stiffer brake (compressionless housing, a bleed, fresh pads, a larger "
                          "rotor that needs less squeeze) helps, turning the lever does not."}};
    const bool far = place == BitePlace::too_far_out;
    std::vector<Adjustment> list;
    switch (wheel.actuation) {
        case Actuation::hydraulic:
            if (far) {
                list.push_back({"reach screw", "Turn the reach screw in: lever and bite come nearer to the bar together. Check afterwards that the lever still stays clear of the bar under a hard squeeze."});
                list.push_back({"bite screw", "If the lever has a screw for free travel, give it more: the bite comes nearer and the lever at rest stays."});
            } else {
                list.push_back({"pads", "Look at the pads and the rotor first: worn pads that the pistons did not follow, or pads knocked back, bring the bite in. Squeeze several times."});
                list.push_back({"bleeding", "If it stays soft or comes back in, bleed the brake as its maker says."});
                list.push_back({"reach screw", "Turn the reach screw out: lever and bite go away from the bar together, if the hand still reaches the lever."});
            }
            break;
        case Actuation::cable:
            if (far) {
                list.push_back({"reach screw", "Turn the reach screw in: lever and bite come nearer to the bar together. It draws the cable too: give back as much slack at the cable's adjuster, or the arm starts part way along its ramp."});
                list.push_back({"pads", "Set the pads a little further from the rotor with the caliper's own adjusters."});
            } else {
                list.push_back({"pads", "Set the pads nearer to the rotor with the caliper's own adjusters, the fixed one first. The arm keeps its full way."});
                list.push_back({"cable", "What is left, take up at the cable's adjuster; not more than that, or the arm starts part way along its ramp."});
            }
            break;
        case Actuation::cable_to_hydraulic:
            list.push_back({"arm", "Check first that the arm lies on its stop with the lever released, with slack in the cable. Bite is never put right with the cable here: "
                                   "off its stop the arm shuts the port, the brake follows no wear and the fluid has no room."});
            if (far) {
                list.push_back({"slack", "Give the cable more slack at its adjuster: the bite comes nearer to the bar. Check again that the arm lies on its stop with the lever released, and that the lever stays clear of the bar under a hard squeeze. "
                                         "The reach screw stays as it is: screwed in it draws the cable and may lift the arm off its stop."});
            } else {
                list.push_back({"pads", "Look at the pads; use the caliper's own pad adjustment if it has one."});
                list.push_back({"bleeding", "Bleed the caliper as its maker says."});
                list.push_back({"housing", "Compressionless housing gives less under the hand: the lever ends further from the bar."});
            }
            break;
    }
    return list;
}

bool follows_no_wear(const parts::Wheel& wheel) { return wheel.actuation == Actuation::cable; }

double travel_of_wear_mm(const parts::Wheel& wheel, double left_pad_mm, double right_pad_mm, double rotor_mm) {
    const double for_both = travel_per_pad_gap(wheel) * (wheel.caliper.moving_pads == 1 && wheel.actuation == Actuation::cable ? 2 : 1);
    return for_both / 2 * (left_pad_mm + right_pad_mm + rotor_mm);
}

double travel_of_turn_mm(const parts::Wheel& wheel, double thread_mm) {
    return wheel.actuation == Actuation::hydraulic ? 0 : thread_mm * lever_ratio_at(wheel.lever, wheel.lever.bite_mm.value);
}

double travel_of_knock_mm(const parts::Wheel& wheel, double knock_mm) { return travel_of_gap_mm(wheel, knock_mm); }

double travel_to_bite_mm(const parts::Wheel& wheel, double gap_mm) { return -travel_of_gap_mm(wheel, -gap_mm); }

double travel_per_run_out(const parts::Wheel& wheel) { return travel_per_pad_gap(wheel) / 2; }

double warming_that_takes_gap_dK(double gap_mm, double expansion_per_K, double fluid_depth_mm) {
    const double per_K = expansion_per_K * fluid_depth_mm;
    return per_K > 0 ? gap_mm / per_K : std::numeric_limits<double>::infinity();
}

}  // namespace bw::stop
