// SPDX-License-Identifier: Apache-2.0
// Both levers pulled alike.                                                                               Layer: stop
#include "stop/alike.hpp"

#include <algorithm>

namespace bw::stop {

namespace {

// Nothing, or what this braking runs into; rear lift before the rear's grip, which is nought there.
LimitedBy in_the_way(const balance::Geometry& g, double grip, const StopSetup& setup, const AlikeEnd& at) {
    const balance::Loads loads = balance::wheel_loads_at(g, at.front_N + at.rear_N, setup.grade);
    if (at.front_N > grip * loads.front_N) return LimitedBy::front_grip;
    if (loads.rear_N <= 0) return LimitedBy::rear_lift;
    if (at.rear_N > grip * loads.rear_N) return LimitedBy::rear_grip;
    return LimitedBy::lever_force;
}

}  // namespace

AlikeEnd alike_at(const parts::Bike& bike, const StopSetup& setup, const StopUnknowns& u, double lever_N) {
    const auto tyre = [&](parts::End end) {
        const double factor = end == parts::End::front ? setup.front_friction_factor : setup.rear_friction_factor;
        return tyre_force_from(bike, end, u.brake(end), friction_of(setup, u.brake(end), factor), lever_N);
    };
    AlikeEnd a{.by = LimitedBy::lever_force, .lever_N = lever_N, .front_N = tyre(parts::End::front), .rear_N = tyre(parts::End::rear), .deceleration_mps2 = 0};
    a.deceleration_mps2 = balance::deceleration_from(balance::geometry_of(bike, u.trailer_own_share), a.front_N + a.rear_N, setup.grade);
    return a;
}

AlikeEnd alike_end(const parts::Bike& bike, const StopSetup& setup, const StopUnknowns& u, double hand_N) {
    const balance::Geometry g = balance::geometry_of(bike, u.trailer_own_share);
    const double grip = grip_of(setup, u);
    const auto met = [&](double lever_N) { return in_the_way(g, grip, setup, alike_at(bike, setup, u, lever_N)); };
    LimitedBy by = met(hand_N);
    if (by == LimitedBy::lever_force) return alike_at(bike, setup, u, hand_N);
    double below = 0, above = hand_N;   // forces grow with the squeeze: what is in the way once stays in the way
    while (above - below > 1e-10 * hand_N) {
        const double middle = (below + above) / 2;
        if (const LimitedBy here = met(middle); here == LimitedBy::lever_force) below = middle;
        else above = middle, by = here;
    }
    AlikeEnd end = alike_at(bike, setup, u, below);
    end.by = by;
    return end;
}

}  // namespace bw::stop
