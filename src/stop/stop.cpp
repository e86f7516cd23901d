// SPDX-License-Identifier: Apache-2.0
// One stop in one case, and the answer over all cases.                                                    Layer: stop
#include "stop/stop.hpp"

#include <algorithm>
#include <array>
#include <cassert>
#include <cmath>
#include <limits>

namespace bw::stop {

namespace {

using balance::Geometry;
using parts::End;

constexpr double infinite = std::numeric_limits<double>::infinity();

constexpr std::array<std::string_view, limit_count> limit_words = {
    "lever_force", "front_grip", "rear_grip", "rear_lift", "fade", "skill", "lever_travel", "does_not_stop"};

//! Most braking force that one brake can put on the road by itself, and what ends it. [EQ stop-10]
struct Cap {
    double tyre_N = 0;
    LimitedBy by = LimitedBy::lever_force;
};

Cap cap_of(const parts::Bike& bike, End end, const BrakeUnknowns& u, double friction, double pull_N) {
    const double bar_N = lever_force_at_bar(bike.wheel(end).lever, u);
    return {.tyre_N = tyre_force_from(bike, end, u, friction, std::min(pull_N, bar_N)),
            .by = bar_N < pull_N ? LimitedBy::lever_travel : LimitedBy::lever_force};
}

struct Reached {
    double braking_N = 0;
    double front_share = 0;
    LimitedBy by = LimitedBy::skill;
};

//! Largest sum of braking forces [EQ stop-11]. Each wheel can give the lesser of its brake's cap and its grip, and its grip
//! moves with the sum F through load transfer: F <= min(A, Nf0 + kF) + min(B, Nr0 - kF), with loads times grip, k = grip h/L.
//! The sum of two minima is the least of four lines, so the largest F is the least of four roots.
Reached reach(const Geometry& g, const StopSetup& setup, const StopUnknowns& u, const Cap& front, const Cap& rear) {
    const bool ordinary = setup.skill == Skill::ordinary;
    const double used = ordinary ? u.grip_used : 1.0;
    const double grip = used * grip_of(setup, u);
    const double k = grip * balance::moment_height_m(g) / g.wheelbase_m;
    const balance::Loads rest = balance::wheel_loads_at(g, 0, setup.grade);
    const double front_rest = grip * rest.front_N, rear_rest = grip * rest.rear_N;
    const bool front_used = setup.brakes != Brakes::rear, rear_used = setup.brakes != Brakes::front;

    Reached r;
    const auto lower = [&r](double braking_N, LimitedBy by) {
        if (braking_N < r.braking_N) {
            r.braking_N = braking_N;
            r.by = by;
        }
    };
    const double asked_mps2 = setup.surface == Surface::dry ? u.skill_mps2 : u.caution * u.skill_mps2;
    const double skill_mps2 = setup.skill == Skill::unlimited ? infinite : ordinary ? asked_mps2 : u.test_mps2;
    // The rider pulls as for the bike alone: neither a slope nor a trailer that pushes is felt in the lever.
    r = {.braking_N = skill_mps2 * g.mass_kg, .by = LimitedBy::skill};
    lower(used * balance::rear_lift_limit(g, setup.grade).braking_N, LimitedBy::rear_lift);
    lower(front_rest + rear_rest, front_used ? LimitedBy::front_grip : LimitedBy::rear_grip);
    if (front_used && k < 1) lower((rear.tyre_N + front_rest) / (1 - k), LimitedBy::front_grip);
    lower((front.tyre_N + rear_rest) / (1 + k), front_used ? front.by : LimitedBy::rear_grip);
    lower(front.tyre_N + rear.tyre_N, front_used ? front.by : rear.by);

    if (r.braking_N <= 0) return r;
    const balance::Loads loads = balance::wheel_loads_at(g, r.braking_N, setup.grade);
    const double front_most = std::min(front.tyre_N, grip * loads.front_N) / r.braking_N;
    const double rear_most = rear_used ? std::min(rear.tyre_N, grip * std::max(loads.rear_N, 0.0)) / r.braking_N : 0;
    r.front_share = std::clamp(std::max(std::min(u.front_share, front_most), 1 - rear_most), 0.0, 1.0);
    return r;
}

}  // namespace

double grip_of(const StopSetup& setup, const StopUnknowns& u) {
    if (setup.grip) return *setup.grip;
    switch (setup.surface) {
        case Surface::dry: return u.grip_dry;
        case Surface::wet: return u.grip_wet;
        case Surface::gravel: return u.grip_gravel;
        case Surface::loose: return u.grip_loose;
    }
    return u.grip_dry;
}

static bool wet_brake(const StopSetup& setup) {
    return setup.pads == PadsWet::wet || (setup.pads == PadsWet::as_surface && setup.surface == Surface::wet);
}

double friction_of(const StopSetup& setup, const BrakeUnknowns& u, double temperature_factor) {
    return u.friction * (wet_brake(setup) ? u.wet_factor : 1.0) * temperature_factor;
}

std::string_view word_of(Brakes b) { return b == Brakes::both ? "both" : b == Brakes::front ? "front" : "rear"; }

std::string_view word_of(Surface s) {
    switch (s) {
        case Surface::dry: return "dry";
        case Surface::wet: return "wet";
        case Surface::gravel: return "gravel";
        case Surface::loose: return "loose";
    }
    return "dry";
}

std::string_view word_of(LimitedBy by) { return limit_words[static_cast<std::size_t>(by)]; }

std::optional<Brakes> brakes_of(std::string_view word) {
    for (const Brakes b : {Brakes::both, Brakes::front, Brakes::rear})
        if (word == word_of(b)) return b;
    return std::nullopt;
}

std::optional<Surface> surface_of(std::string_view word) {
    for (const Surface s : {Surface::dry, Surface::wet, Surface::gravel, Surface::loose})
        if (word == word_of(s)) return s;
    return std::nullopt;
}

std::string_view reason_text(LimitedBy by) {
    switch (by) {
        case LimitedBy::lever_force: return "The hand runs out: this brake needs a harder squeeze than it has.";
        case LimitedBy::front_grip: return "The front tyre runs out of grip. Harder means a fall.";
        case LimitedBy::rear_grip: return "The rear tyre runs out of grip. Harder only makes it skid.";
        case LimitedBy::rear_lift: return "The rear wheel would lift. Harder means over the bars.";
        case LimitedBy::fade: return "The pads are too hot to bite. Let them cool, ride slower.";
        case LimitedBy::skill: return "The rider: ordinary braking, not the brake, sets the distance.";
        case LimitedBy::lever_travel: return "The lever meets the bar first. Do not ride; set or bleed it.";
        case LimitedBy::does_not_stop: return "It does not stop: the slope pulls harder than this braking.";
    }
    return "";
}

std::optional<double> brake_distance_m(const StopMotion& m) {
    double speed = m.from_mps, way = 0;
    if (speed <= 0) return 0.0;
    // Lever taken up: only the slope acts.
    if (m.take_up_s > 0) {
        if (m.slope_mps2 > 0 && m.slope_mps2 * m.take_up_s >= speed) return speed * speed / (2 * m.slope_mps2);
        way += speed * m.take_up_s - m.slope_mps2 * m.take_up_s * m.take_up_s / 2;
        speed -= m.slope_mps2 * m.take_up_s;
    }
    // Force rises in a line: loss of speed = slope t + (braking/rise) t^2/2.
    if (m.rise_s > 0) {
        const double jerk = m.braking_mps2 / m.rise_s;
        const double lost = m.slope_mps2 * m.rise_s + jerk * m.rise_s * m.rise_s / 2;
        const auto way_at = [&](double t) { return speed * t - m.slope_mps2 * t * t / 2 - jerk * t * t * t / 6; };
        if (lost >= speed) {
            const double root = std::sqrt(m.slope_mps2 * m.slope_mps2 + 2 * jerk * speed);
            // Citardauq's form, so that a vanishing jerk divides nothing by zero.
            return way + way_at(2 * speed / (m.slope_mps2 + root));
        }
        way += way_at(m.rise_s);
        speed -= lost;
    }
    const double deceleration = m.braking_mps2 + m.slope_mps2;
    if (deceleration <= 0) return std::nullopt;
    return way + speed * speed / (2 * deceleration);
}

StopCase stop_case(const parts::Bike& bike, const StopSetup& setup, const StopUnknowns& u) {
    Geometry g = balance::geometry_of(bike, u.trailer_own_share);
    if (setup.mass_kg) {   // a standard tests the bike alone
        g.mass_kg = *setup.mass_kg;
        g.trailer_kg = 0;
    }
    StopCase c;
    const auto brake_caps = [&](bool cold, bool endless) {
        std::array<Cap, 2> caps;
        for (const End end : {End::front, End::rear}) {
            const bool front = end == End::front;
            if (setup.brakes == (front ? Brakes::rear : Brakes::front)) continue;
            const double factor = cold ? 1.0 : front ? setup.front_friction_factor : setup.rear_friction_factor;
            const double friction = friction_of(setup, u.brake(end), factor);
            Cap& cap = caps[front ? 0 : 1];
            if (endless) cap = {.tyre_N = friction > 0 ? infinite : 0.0, .by = LimitedBy::lever_force};
            else cap = cap_of(bike, end, u.brake(end), friction, front ? c.front.hand_N : c.rear.hand_N);
        }
        return caps;
    };
    for (const End end : {End::front, End::rear}) {
        WheelStop& w = end == End::front ? c.front : c.rear;
        const double bite_mm = bike.wheel(end).lever.bite_mm.value;
        w.hand_N = setup.lever_force_N.value_or(hand_force_N(bike.rider.hand, u, bite_mm, setup.hand));
        w.cold_hand_N = hand_force_N(bike.rider.hand, u, bite_mm, HandState::cold_and_gloves);
    }
    const auto hot = brake_caps(false, false), endless = brake_caps(false, true);
    Reached reached = reach(g, setup, u, hot[0], hot[1]);
    const Reached wanted = reach(g, setup, u, endless[0], endless[1]);
    if (reached.by == LimitedBy::lever_force && (setup.front_friction_factor < 1 || setup.rear_friction_factor < 1)) {
        const auto cold = brake_caps(true, false);
        if (reach(g, setup, u, cold[0], cold[1]).by != LimitedBy::lever_force) reached.by = LimitedBy::fade;
    }

    const auto lever = [&](End end, double tyre_N) {
        const double factor = end == End::front ? setup.front_friction_factor : setup.rear_friction_factor;
        return lever_force_for(bike, end, u.brake(end), friction_of(setup, u.brake(end), factor), tyre_N);
    };
    c.front_share = reached.front_share;
    for (const End end : {End::front, End::rear}) {
        WheelStop& w = end == End::front ? c.front : c.rear;
        const auto part = [end](const Reached& r) { return r.braking_N * (end == End::front ? r.front_share : 1 - r.front_share); };
        w.tyre_N = part(reached);
        w.lever_N = lever(end, w.tyre_N);
        w.need_N = lever(end, part(wanted));
        w.full_mm = lever_distance_mm(bike.wheel(end).lever, u.brake(end), w.need_N);
    }
    const bool front_leads = setup.brakes == Brakes::front || (setup.brakes == Brakes::both && c.front.need_N >= c.rear.need_N);
    const WheelStop& hard = front_leads ? c.front : c.rear;
    c.lever_N = hard.lever_N;
    c.need_N = hard.need_N;
    c.hand_N = hard.hand_N;
    c.cold_hand_N = hard.cold_hand_N;

    c.limited_by = reached.by;
    c.deceleration_mps2 = balance::deceleration_from(g, reached.braking_N, setup.grade);
    const double quickness = setup.skill == Skill::ordinary ? 1.0 : u.test_quickness;
    c.brake_distance_m = brake_distance_m({.from_mps = setup.from_mps,
                                           .braking_mps2 = reached.braking_N / balance::slowed_kg(g),
                                           .slope_mps2 = balance::gravity_mps2 * balance::sine_of(setup.grade),
                                           .take_up_s = quickness * u.take_up_s,
                                           .rise_s = quickness * u.rise_s});
    // A brake that cannot hold the bike on the slope does not stop it, though speed may run out while the lever moves.
    if (c.deceleration_mps2 <= 0) c.brake_distance_m.reset();
    if (c.brake_distance_m) c.room_needed_m = *c.brake_distance_m + setup.from_mps * (u.reaction_s + u.reach_s);
    else c.limited_by = LimitedBy::does_not_stop;
    return c;
}

namespace {

template <class Case, class Get>
std::vector<double> column(std::span<const Case> cases, Get get) {
    std::vector<double> values;
    values.reserve(cases.size());
    for (const Case& c : cases) values.push_back(get(c));
    return values;
}

Interval quantiles(const std::vector<double>& values, std::span<const double> weights) {
    return weights.empty() ? interval_of(values) : interval_of(values, weights);
}

double share_of(std::span<const double> weights, std::size_t n, auto is) {
    double all = 0, part = 0;
    for (std::size_t i = 0; i < n; ++i) {
        const double w = weights.empty() ? 1.0 : weights[i];
        all += w;
        if (is(i)) part += w;
    }
    return part / all;
}

// Stands for "never" in a quantile: finite, so that interpolation beside it stays a number.
constexpr double never = 1e12;

}  // namespace

StopAnswer stop_answer(const StopSetup& setup, std::span<const StopCase> cases, std::span<const double> weights,
                       double standard_force_N) {
    assert(!cases.empty() && (weights.empty() || weights.size() == cases.size()));
    StopAnswer a;
    a.setup = setup;
    a.standard_force_N = standard_force_N;
    std::array<double, limit_count> times{};
    for (int k = 0; k < limit_count; ++k)
        times[k] = share_of(weights, cases.size(), [&](std::size_t i) { return static_cast<int>(cases[i].limited_by) == k; });
    a.not_stopping_share = times[static_cast<int>(LimitedBy::does_not_stop)];
    a.limited_by = static_cast<LimitedBy>(std::max_element(times.begin(), times.end()) - times.begin());
    if (a.not_stopping_share > 0.05) a.limited_by = LimitedBy::does_not_stop;

    const auto interval = [&](auto get) { return quantiles(column(cases, get), weights); };
    const auto finite = [](double v) { return std::isfinite(v) ? v : never; };
    a.deceleration_mps2 = interval([](const StopCase& c) { return c.deceleration_mps2; });
    a.lever_force_N = interval([&](const StopCase& c) { return finite(c.need_N); });
    a.lever_used_N = interval([&](const StopCase& c) { return finite(c.lever_N); });
    a.hand_force_N = interval([](const StopCase& c) { return c.hand_N; });
    a.cold_hand_force_N = interval([](const StopCase& c) { return c.cold_hand_N; });
    a.weak_share = share_of(weights, cases.size(), [&](std::size_t i) { return cases[i].need_N > cases[i].hand_N; });
    a.cold_weak_share = share_of(weights, cases.size(), [&](std::size_t i) { return cases[i].need_N > cases[i].cold_hand_N; });
    a.bar_share = share_of(weights, cases.size(), [&](std::size_t i) {
        const StopCase& c = cases[i];
        return (c.front.need_N > 0 && c.front.full_mm <= 0) || (c.rear.need_N > 0 && c.rear.full_mm <= 0);
    });
    if (a.limited_by != LimitedBy::does_not_stop) {
        const Interval brake = interval([](const StopCase& c) { return c.brake_distance_m.value_or(never); });
        const Interval room = interval([](const StopCase& c) { return c.room_needed_m.value_or(never); });
        // The quantile's own rule may reach into the cases that do not stop, although they are no more than 5 %.
        if (room.p95 < never / 1e3) {
            a.brake_distance_m = brake;
            a.room_needed_m = room;
        } else {
            a.limited_by = LimitedBy::does_not_stop;
        }
    }
    return a;
}

LeverView lever_view(const parts::Bike& bike, End end, const StopSetup& setup, const StopUnknowns& u) {
    constexpr double left_mm = 8;   // room for a finger's breadth of slack between lever and bar, common practice
    const BrakeUnknowns& brake = u.brake(end);
    const parts::Lever& lever = bike.wheel(end).lever;
    const Geometry g = balance::geometry_of(bike, u.trailer_own_share);
    const double friction = friction_of(setup, brake, end == End::front ? setup.front_friction_factor : setup.rear_friction_factor);

    const StopCase ordinary = stop_case(bike, {.brakes = Brakes::both, .pads = PadsWet::dry}, u);
    LeverView v;
    v.bite_mm = lever.bite_mm.value;
    const WheelStop& full = end == End::front ? ordinary.front : ordinary.rear;
    v.full_mm = full.full_mm;
    v.full_lever_N = full.need_N;
    v.window_mm[0] = bite_that_leaves_mm(lever, brake, full.need_N, left_mm);
    const double best_mm = 10 * std::min(best_span_cm(SpanRule::by_hand_size, bike.rider.hand.size_cm.value), 5.5);
    const double keeps = u.span_loss > 0 ? std::sqrt(0.1 / u.span_loss) : 1.0;
    v.window_mm[1] = best_mm * (1 + keeps) - u.bar_diameter_mm;
    v.in_window = v.bite_mm >= v.window_mm[0] && v.bite_mm <= v.window_mm[1];
    v.travel_per_pad_mm_mm = travel_per_pad_gap(bike.wheel(end));
    const double tyre_03g_N = balance::braking_for(g, 0.3 * balance::gravity_mps2, 0);
    const double grip = grip_of(setup, u);
    const double lock_N = (end == End::front ? balance::front_only_limit(g, grip, setup.grade)
                                             : balance::rear_only_limit(g, grip, setup.grade)).braking_N;
    v.force_03g_N = lever_force_for(bike, end, brake, friction, tyre_03g_N);
    v.force_lock_N = lever_force_for(bike, end, brake, friction, lock_N);
    return v;
}

LeverAnswer lever_answer(std::span<const LeverView> cases, std::span<const double> weights) {
    assert(!cases.empty() && (weights.empty() || weights.size() == cases.size()));
    LeverAnswer a;
    const auto interval = [&](auto get) { return quantiles(column(cases, get), weights); };
    const auto finite = [](double v) { return std::isfinite(v) ? v : never; };
    a.bite_mm = interval([](const LeverView& v) { return v.bite_mm; });
    a.full_mm = interval([&](const LeverView& v) { return std::isfinite(v.full_mm) ? v.full_mm : -never; });
    a.window_mm[0] = interval([&](const LeverView& v) { return finite(v.window_mm[0]); }).p50;
    a.window_mm[1] = interval([](const LeverView& v) { return v.window_mm[1]; }).p50;
    a.in_window_share = share_of(weights, cases.size(), [&](std::size_t i) { return cases[i].in_window; });
    a.bar_share = share_of(weights, cases.size(), [&](std::size_t i) { return !(cases[i].full_mm > 0); });
    a.travel_per_pad_mm_mm = interval([](const LeverView& v) { return v.travel_per_pad_mm_mm; }).p50;
    a.force_03g_N = interval([&](const LeverView& v) { return finite(v.force_03g_N); });
    a.force_lock_N = interval([&](const LeverView& v) { return finite(v.force_lock_N); });
    if (a.bite_mm.p50 <= bite_at_bar_mm || a.full_mm.p50 <= 0) a.finding = LeverFinding::reaches_bar;
    else if (a.bar_share > 0.005) a.finding = LeverFinding::near_bar;
    return a;
}

}  // namespace bw::stop
