// SPDX-License-Identifier: Apache-2.0
// Front against rear: the best sharing, either brake alone, both levers pulled alike.                    Layer: answer
#include <algorithm>
#include <cmath>

#include "answer/stopping.hpp"
#include "heat/unknowns.hpp"
#include "internal.hpp"
#include "stopping_more.hpp"

namespace bw::answer {

namespace {

constexpr int points = 25;

stop::StopSetup setup_of(const StopQuestion& q, const Case& c) {
    stop::StopSetup s{.brakes = stop::Brakes::both, .surface = q.surface, .from_mps = q.from_mps, .grade = q.grade, .grip = q.grip, .hand = q.hand_state, .skill = stop::Skill::unlimited};
    if (q.pads_at_degC) {
        s.front_friction_factor = heat::friction_factor(c.heat[0].friction, *q.pads_at_degC);
        s.rear_friction_factor = heat::friction_factor(c.heat[1].friction, *q.pads_at_degC);
    }
    return s;
}

double weaker_hand_N(const Case& c, const stop::StopSetup& s) {
    const auto has = [&](parts::End end) { return stop::hand_force_N(c.bike.rider.hand, c.stop, c.bike.wheel(end).lever.bite_mm.value, s.hand); };
    return std::max(1.0, std::min(has(parts::End::front), has(parts::End::rear)));
}

// The line on which a tyre is at its grip is straight in front_N, rear_N: load moves in proportion to their sum [EQ balance-2].
void draw_middle(const Case& c, const stop::StopSetup& s, double grip, Balance& b) {
    const balance::Geometry g = balance::geometry_of(c.bike, c.stop.trailer_own_share);
    const double grade = s.grade;
    const auto slowing = [&](double front_N, double rear_N) { return Balance::Tyres{front_N, rear_N, balance::deceleration_from(g, front_N + rear_N, grade)}; };
    const balance::Loads rest = balance::wheel_loads_at(g, 0, grade);
    b.weight_N = rest.front_N + rest.rear_N;
    b.rear_lifts_N = balance::rear_lift_limit(g, grade).braking_N;
    for (int i = 0; i < points; ++i) {
        const double sum = b.rear_lifts_N * i / (points - 1);
        const double share = balance::ideal_front_share(g, balance::deceleration_from(g, sum, grade), grade);
        b.best.push_back(slowing(share * sum, (1 - share) * sum));
    }
    const double moved = balance::moment_height_m(g) / g.wheelbase_m, tall = b.rear_lifts_N;
    const auto rear_at = [&](double front_N) { return grip * (rest.rear_N - moved * front_N) / (1 + grip * moved); };
    b.rear_skids = {slowing(0, rear_at(0)), slowing(tall, rear_at(tall))};
    // front = grip (rest + moved (front + rear)), as front over rear; where load moves faster than grip can follow there is no such line.
    const double room = 1 - grip * moved;
    if (room > 1e-6) {
        const auto front_at = [&](double rear_N) { return grip * (rest.front_N + moved * rear_N) / room; };
        b.front_locks = {slowing(front_at(0), 0), slowing(front_at(tall), tall)};
    }
    const stop::AlikeEnd end = stop::alike_end(c.bike, s, c.stop, weaker_hand_N(c, s));
    for (int i = 0; i < points; ++i) b.alike.push_back(stop::alike_at(c.bike, s, c.stop, end.lever_N * i / (points - 1)));
    b.alike.back().by = end.by;
}

}  // namespace

void stop_balance(const Context& ctx, const StopQuestion& q, std::span<const Case> cases, const Case& middle, const std::vector<double>& weights, StopReport& r) {
    const std::size_t n = cases.size();
    std::vector<double> grip(n), best(n), front(n), rear(n), lift(n), alike(n), lever(n);
    std::vector<stop::LimitedBy> by(n);
    parallel_for(ctx, n, [&](std::size_t i) {
        const Case& c = cases[i];
        const stop::StopSetup s = setup_of(q, c);
        const balance::Geometry g = balance::geometry_of(c.bike, c.stop.trailer_own_share);
        const auto reached = [&](stop::Brakes brakes) {
            stop::StopSetup one = s;
            one.brakes = brakes;
            return stop::stop_case(c.bike, one, c.stop).deceleration_mps2;
        };
        grip[i] = stop::grip_of(s, c.stop);
        best[i] = balance::both_best_limit(g, grip[i], q.grade).deceleration_mps2;
        front[i] = reached(stop::Brakes::front), rear[i] = reached(stop::Brakes::rear);
        lift[i] = balance::rear_lift_limit(g, q.grade).deceleration_mps2;
        const stop::AlikeEnd end = stop::alike_end(c.bike, s, c.stop, weaker_hand_N(c, s));
        alike[i] = end.deceleration_mps2, lever[i] = end.lever_N, by[i] = end.by;
    });
    const auto over = [&](const std::vector<double>& v) { return weights.empty() ? interval_of(v) : interval_of(v, weights); };
    Balance& b = r.balance;
    b = {};
    b.grip = over(grip), b.best_mps2 = over(best), b.front_alone_mps2 = over(front), b.rear_alone_mps2 = over(rear), b.rear_lift_mps2 = over(lift);
    b.alike_mps2 = over(alike), b.alike_lever_N = over(lever);
    double sum = 0;
    for (std::size_t i = 0; i < n; ++i) {
        const double w = weights.empty() ? 1 : weights[i];
        b.alike_by[static_cast<std::size_t>(by[i])] += w, sum += w;
    }
    for (double& share : b.alike_by) share /= sum;
    const stop::StopSetup shown = setup_of(q, middle);
    draw_middle(middle, shown, stop::grip_of(shown, middle.stop), b);
}

}  // namespace bw::answer
