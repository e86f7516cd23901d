// SPDX-License-Identifier: Apache-2.0
// What must hold for any bike, hand, road and brake: thousands of random ones (RapidCheck draws and shrinks them).
#include <gtest/gtest.h>
#include <rapidcheck/gtest.h>

#include <cmath>
#include <cstdlib>

#include "made_bike.hpp"
#include "stop/alike.hpp"
#include "stop/feel.hpp"
#include "stop/stop.hpp"

namespace bw::stop {
namespace {

// Thousands of bikes, the same ones each time.
[[maybe_unused]] const int configured = setenv("RC_PARAMS", "max_success=3000 seed=7", 0);

double in(double least, double most) { return least + (most - least) * *rc::gen::inRange(0, 100001) / 100000.0; }

struct Drawn {
    parts::Bike bike;
    StopUnknowns u;
    StopSetup setup;
};

parts::Wheel any_wheel() {
    parts::Wheel w = made::hydraulic_wheel();
    w.actuation = *rc::gen::element(parts::Actuation::hydraulic, parts::Actuation::cable, parts::Actuation::cable_to_hydraulic);
    w.rotor.diameter_mm = made::exactly(in(140, 223));
    w.rotor.band_inner_mm = made::exactly(w.rotor.diameter_mm.value - in(20, 40));
    w.caliper.pistons_per_side = *rc::gen::inRange(1, 3);
    w.caliper.moving_pads = *rc::gen::inRange(1, 3);
    w.caliper.piston_diameter_mm = made::exactly(in(14, 26));
    w.caliper.arm_ratio = made::exactly(in(1, 8));
    w.lever.ratio = made::exactly(in(2.5, 8));
    w.lever.master_diameter_mm = made::exactly(in(8, 14));
    w.lever.bite_mm = made::exactly(in(5, 60));
    w.lever.reach_mm = made::exactly(w.lever.bite_mm.value + in(5, 30));
    if (*rc::gen::arbitrary<bool>()) w.lever.ratio_at_bar = made::exactly(w.lever.ratio.value * in(1.0 / 3, 3));
    return w;
}

Drawn draw() {
    Drawn d{.bike = made::bike(), .u = made::unknowns(), .setup = {}};
    d.bike.total_mass_kg = made::exactly(in(40, 300));
    d.bike.wheelbase_m = made::exactly(in(0.95, 2.4));
    d.bike.centre_of_mass_height_m = made::exactly(in(0.6, 1.3));
    d.bike.centre_of_mass_from_front_m = made::exactly(in(0.25, 0.8) * d.bike.wheelbase_m.value);
    d.bike.wheel_radius_m = made::exactly(in(0.2, 0.38));
    d.bike.rider.hand = {.size_cm = made::exactly(in(12, 22)), .strength_N = made::exactly(in(60, 700))};
    d.bike.front = any_wheel();
    d.bike.rear = any_wheel();
    for (BrakeUnknowns* b : {&d.u.front, &d.u.rear})
        *b = {.friction = in(0.05, 0.7), .wet_factor = in(0.3, 1), .loss = in(0, 0.8), .threshold_N = *rc::gen::element(0, 1) * in(0, 20), .one_pad_kept = in(0.8, 1), .travel_mm = in(0, 40)};
    for (const parts::End end : {parts::End::front, parts::End::rear})   // as unknowns_of draws it
        if (d.bike.wheel(end).caliper.moving_pads != 1) (end == parts::End::front ? d.u.front : d.u.rear).one_pad_kept = 1;
    d.u.front_share = in(0.05, 0.95);
    d.setup.brakes = *rc::gen::element(Brakes::both, Brakes::front, Brakes::rear);
    d.setup.surface = *rc::gen::element(Surface::dry, Surface::wet, Surface::gravel, Surface::loose);
    d.setup.skill = *rc::gen::element(Skill::ordinary, Skill::test_rider, Skill::unlimited);
    d.setup.from_mps = in(1, 20);
    d.setup.grade = in(-0.35, 0.2);
    return d;
}

class Property : public ::testing::Test {};

//! Energy of one squeeze: at each stage what comes out (force x way) is at most what went in. Ways follow from the ideal ratios,
//! since what a force gains it pays in travel.
RC_GTEST_PROP(Property, NoStageOfTheChainMakesEnergy, ()) {
    const Drawn d = draw();
    for (const parts::End end : {parts::End::front, parts::End::rear}) {
        const double lever_N = in(1, 400);
        const BrakeUnknowns& b = d.u.brake(end);
        const auto stages = chain(d.bike, end, b, b.friction, lever_N);
        // Lever to clamp force: work per millimetre of lever travel.
        double clamp_N = 0;
        for (const ChainStage& s : stages) {
            RC_ASSERT(s.loss >= 0);
            RC_ASSERT(s.loss <= 1);
            if (s.stage == "friction on two faces") break;
            if (s.out_unit == "N") clamp_N = s.out;
        }
        parts::Wheel here = d.bike.wheel(end);   // the lever where this force has it
        if (here.lever.ratio_at_bar) here.lever.bite_mm.value = std::max(lever_distance_mm(here.lever, b, lever_N), 0.0);
        const double ways = travel_per_pad_gap(here);   // lever travel per gap of each pad; two pads share it
        const int moving = d.bike.wheel(end).caliper.moving_pads == 1 && d.bike.wheel(end).actuation == parts::Actuation::cable ? 1 : 2;
        RC_ASSERT(clamp_N * moving <= lever_N * ways * (1 + 1e-9));
        // At the rotor: the torque is friction on two faces at the effective radius, so the power at the tyre is that at the faces.
        const double tyre_N = stages.back().out, face_N = 2 * b.friction * clamp_N;
        RC_ASSERT(std::abs(tyre_N * d.bike.wheel_radius_m.value - face_N * effective_radius_m(d.bike.wheel(end).rotor)) <= 1e-9 * (1 + face_N));
        // Both ways: letting go gives back no more than the squeeze took.
        RC_ASSERT(release_force_for(d.bike, end, b, b.friction, tyre_N) <= lever_N * (1 + 1e-12));
    }
}

//! A whole squeeze, added up in small steps with a ratio of the test's own: the piston or cable gets no more than the finger gave, and
//! all of it where nothing is lost before it. The lever meets the bar where its way is used up.
RC_GTEST_PROP(Property, ASqueezeAlongAChangingRatioMakesNoEnergy, ()) {
    Drawn d = draw();
    const parts::Lever& lever = d.bike.front.lever;
    d.bike.front.lever.ratio_at_bar = made::exactly(lever.ratio.value * in(1.0 / 3, 3));
    BrakeUnknowns& u = d.u.front;
    u.travel_mm = in(1, 40);
    const double at_bar_N = lever_force_at_bar(lever, u);
    RC_ASSERT(std::abs(lever_distance_mm(lever, u, at_bar_N)) <= 1e-6 * lever.bite_mm.value);
    const double most_N = at_bar_N * in(0.1, 1);
    constexpr int steps = 1000;
    double given = 0, got = 0, way = 0, before_mm = lever.bite_mm.value, before_N = 0, before_clamp = 0;
    for (int i = 1; i <= steps; ++i) {
        const double f = most_N * i / steps, at_mm = lever_distance_mm(lever, u, f), dx = before_mm - at_mm;
        RC_ASSERT(dx >= 0);
        const double ratio = lever.ratio_at_bar->value + (lever.ratio.value - lever.ratio_at_bar->value) * (at_mm + before_mm) / 2 / lever.reach_mm.value;
        double pull = 0;
        for (const ChainStage& s : chain(d.bike, parts::End::front, u, u.friction, f))
            if (s.stage.starts_with("lever to ")) pull = s.out;
        given += (f + before_N) / 2 * dx;
        got += (pull + before_clamp) / 2 * dx / ratio;
        way += dx / ratio;
        before_mm = at_mm, before_N = f, before_clamp = pull;
    }
    RC_ASSERT(got <= given * (1 + 1e-3));
    if (u.threshold_N == 0) RC_ASSERT(std::abs(got - given) <= 1e-3 * given);
    // The give belongs to the brake: under a lever with one ratio, that at which its row is meant, the same force on the piston moves it as far.
    const double middle = (lever.ratio.value + lever.ratio_at_bar->value) / 2, last = lever.ratio_at_bar->value + (lever.ratio.value - lever.ratio_at_bar->value) * before_mm / lever.reach_mm.value;
    RC_ASSERT(std::abs(way - give_mm(u, most_N * last / middle) / middle) <= 1e-3 * way);
}

RC_GTEST_PROP(Property, MoreLeverForceNeverLengthensAStop, ()) {
    Drawn d = draw();
    const double weak_N = in(5, 300), strong_N = weak_N + in(0, 200);
    d.setup.lever_force_N = weak_N;
    const StopCase weak = stop_case(d.bike, d.setup, d.u);
    d.setup.lever_force_N = strong_N;
    const StopCase strong = stop_case(d.bike, d.setup, d.u);
    RC_ASSERT(strong.deceleration_mps2 >= weak.deceleration_mps2 - 1e-9);
    if (weak.brake_distance_m) {
        RC_ASSERT(bool(strong.brake_distance_m));
        RC_ASSERT(*strong.brake_distance_m <= *weak.brake_distance_m * (1 + 1e-9));
    }
}

RC_GTEST_PROP(Property, ASteeperDescentNeverShortensAStop, ()) {
    Drawn d = draw();
    d.setup.grade = -in(0, 0.3);
    const StopCase mild = stop_case(d.bike, d.setup, d.u);
    d.setup.grade -= in(0, 0.1);
    const StopCase steep = stop_case(d.bike, d.setup, d.u);
    RC_ASSERT(steep.deceleration_mps2 <= mild.deceleration_mps2 + 1e-9);
    if (steep.brake_distance_m) {
        RC_ASSERT(bool(mild.brake_distance_m));
        RC_ASSERT(*steep.brake_distance_m >= *mild.brake_distance_m * (1 - 1e-9));
    }
}

RC_GTEST_PROP(Property, WheelLoadsSumToTheWeightAcrossTheRoadAndNoWheelIsPulledDown, ()) {
    const Drawn d = draw();
    const StopCase c = stop_case(d.bike, d.setup, d.u);
    const balance::Geometry g = balance::geometry_of(d.bike);
    const balance::Loads loads = balance::wheel_loads(g, c.deceleration_mps2, d.setup.grade);
    const double theta = std::atan(d.setup.grade), weight_N = d.bike.total_mass_kg.value * 9.80665 * std::cos(theta);
    RC_ASSERT(std::abs(loads.front_N + loads.rear_N - weight_N) <= 1e-9 * weight_N);
    RC_ASSERT(loads.rear_N >= -1e-6 * weight_N);
    RC_ASSERT(loads.front_N >= -1e-6 * weight_N);
}

RC_GTEST_PROP(Property, AHandThatGivesLessNeverHasTheBetterStopAndNeverHoldsLonger, ()) {
    Drawn d = draw();
    const StopCase warm = stop_case(d.bike, d.setup, d.u);
    d.setup.hand = HandState::cold_and_gloves;
    const StopCase cold = stop_case(d.bike, d.setup, d.u);
    RC_ASSERT(cold.deceleration_mps2 <= warm.deceleration_mps2 + 1e-9);
    const double share = in(0.01, 1.2);
    RC_ASSERT(hold_min(share * 1.01) <= hold_min(share) + 1e-9);
}

//! Pulled alike, the bike ends where plane statics say: moments about the front tyre's point on the road, by the share of the braking
//! that the front has there. A little more squeeze would be past it, a little less is not.
RC_GTEST_PROP(Property, BothLeversPulledAlikeEndWhereMomentsAboutTheFrontTyreSay, ()) {
    const Drawn d = draw();
    const double hand_N = in(20, 500);
    const AlikeEnd end = alike_end(d.bike, d.setup, d.u, hand_N);
    const double theta = std::atan(d.setup.grade), weight_N = d.bike.total_mass_kg.value * 9.80665 * std::cos(theta);
    const double h = d.bike.centre_of_mass_height_m.value, b = d.bike.centre_of_mass_from_front_m.value, L = d.bike.wheelbase_m.value;
    const double sum_N = end.front_N + end.rear_N, mu = grip_of(d.setup, d.u);
    const double rear_load_N = (weight_N * b - sum_N * h) / L, front_load_N = weight_N - rear_load_N;
    const double slack = 1e-6 * std::max(weight_N, sum_N);
    RC_ASSERT(end.front_N <= mu * front_load_N + slack);
    RC_ASSERT(end.rear_N <= mu * std::max(rear_load_N, 0.0) + slack);
    RC_ASSERT(end.lever_N <= hand_N);
    switch (end.by) {
        case LimitedBy::front_grip: RC_ASSERT(std::abs(end.front_N - mu * front_load_N) <= slack); break;
        case LimitedBy::rear_grip: RC_ASSERT(std::abs(end.rear_N - mu * rear_load_N) <= slack); break;
        case LimitedBy::rear_lift: RC_ASSERT(std::abs(rear_load_N) <= slack); break;
        default: RC_ASSERT(end.by == LimitedBy::lever_force); RC_ASSERT(end.lever_N == hand_N);
    }
    RC_ASSERT(std::abs(end.deceleration_mps2 - (sum_N / d.bike.total_mass_kg.value + 9.80665 * std::sin(theta))) <= 1e-9 * (1 + std::abs(end.deceleration_mps2)));
    RC_CLASSIFY(end.by == LimitedBy::front_grip, "front");
    RC_CLASSIFY(end.by == LimitedBy::rear_grip, "rear");
    RC_CLASSIFY(end.by == LimitedBy::rear_lift, "lift");
}

}  // namespace
}  // namespace bw::stop
