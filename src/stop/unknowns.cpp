// SPDX-License-Identifier: Apache-2.0
// Inputs of the stop room and their values in one case.                                                   Layer: stop
#include "stop/unknowns.hpp"

#include <algorithm>
#include <string>

namespace bw::stop {

namespace {

using parts::Actuation;
using parts::End;

//! The housing whose rows hold: a hydraulic brake has a hose; a cable brake described with a hose is taken as ordinary.
std::string housing_of(const parts::Wheel& wheel) {
    if (wheel.actuation == Actuation::hydraulic) return "hose";
    return wheel.housing.kind == parts::HousingKind::compressionless ? "compressionless" : "ordinary";
}

struct Row {
    const char* key;
    const char* id;
};
constexpr Row shared_rows[] = {
    {"surface.dry.grip", "surface.dry.grip"},          {"surface.wet.grip", "surface.wet.grip"},
    {"surface.gravel.grip", "surface.gravel.grip"},    {"surface.loose.grip", "surface.loose.grip"},
    {"rider.stop.finger_share", "hand.finger_share"},  {"rider.stop.cold_factor", "hand.cold"},
    {"rider.stop.glove_factor", "hand.gloves"},        {"rider.stop.span_loss", "hand.span_loss"},
    {"rider.stop.bar_diameter", "hand.bar_diameter"},  {"rider.stop.skill", "rider.skill_deceleration"},
    {"rider.stop.test_skill", "rider.test_deceleration"}, {"rider.stop.grip_used", "rider.grip_used"},
    {"rider.stop.caution", "rider.caution"},           {"rider.stop.test_quickness", "rider.test_quickness"},
    {"rider.stop.reaction", "rider.reaction"},         {"rider.stop.reach_extra", "rider.reach_extra"},
    {"rider.stop.take_up", "rider.take_up"},           {"rider.stop.rise", "rider.rise"},
};

BrakeUnknowns brake_of(const parts::Library& library, const parts::Bike& bike, End end, const CaseRow& row) {
    const std::string word(parts::word_of(end)), room = word + ".stop.";
    const parts::Wheel& wheel = bike.wheel(end);
    BrakeUnknowns u;
    u.friction = row(word + ".friction");
    // Worse than bedded in, by a wide factor; a draw above 1 is the tail of the log-normal.
    if (wheel.pads.condition > parts::PadCondition::bedded) u.friction *= std::min(row(word + ".pads.condition_factor"), 1.0);
    // Water never helps here: a draw above 1 is the tail of the log-normal, not a claim.
    u.wet_factor = std::min(row(room + "wet_factor"), 1.0);
    if (wheel.actuation != Actuation::cable) u.loss += row(room + "seal_loss");
    if (wheel.actuation != Actuation::hydraulic) u.loss += row(room + "bend_friction") * row(room + "bend_angle");
    u.threshold_N = row(room + "threshold");
    u.travel_mm = row(room + "travel");
    // The hose or housing's part of the give grows with its length; only where somebody measured it. That part is assumed, so a
    // short one clears nothing: it never takes give away. [EQ stop-31]
    if (bike.given.contains(word + ".housing.length_m")) {
        const std::string housing = "housing." + housing_of(wheel);
        u.travel_mm *= std::max(1.0, 1 + library.value(housing + ".travel_share") * (wheel.housing.length_m.value / library.value("bikes.any." + word + ".housing.length_m") - 1));
    }
    if (wheel.caliper.moving_pads == 1) u.one_pad_kept = std::min(row(room + "one_pad_kept"), 1.0);
    return u;
}

}  // namespace

std::vector<Input> inputs(const parts::Library& library, const parts::Bike& bike) {
    std::vector<Input> all;
    for (const End end : {End::front, End::rear}) {
        const parts::Wheel& wheel = bike.wheel(end);
        const std::string word(parts::word_of(end)), room = word + ".stop.", housing = housing_of(wheel);
        all.push_back(library.input("compound." + std::string(parts::word_of(wheel.pads.compound)) + ".friction_wet_factor",
                                    room + "wet_factor"));
        if (wheel.actuation != Actuation::cable) all.push_back(library.input("housing.hose.loss", room + "seal_loss"));
        if (wheel.actuation != Actuation::hydraulic) {
            all.push_back(library.input("housing." + housing + ".bend_friction", room + "bend_friction"));
            all.push_back(library.input("housing.bend_angle." + word, room + "bend_angle"));
        }
        all.push_back(library.input("actuation." + std::string(parts::word_of(wheel.actuation)) + ".threshold", room + "threshold"));
        all.push_back(library.input("housing." + housing + ".travel", room + "travel"));
        if (wheel.pads.condition > parts::PadCondition::bedded)
            all.push_back(library.input("pads." + std::string(parts::word_of(wheel.pads.condition)) + ".friction_factor", word + ".pads.condition_factor"));
        if (wheel.caliper.moving_pads == 1) all.push_back(library.input("caliper.one_moving_pad.kept", room + "one_pad_kept"));
    }
    for (const Row& r : shared_rows) all.push_back(library.input(r.id, r.key));
    return all;
}

StopUnknowns unknowns_of(const parts::Library& library, const parts::Bike& bike, const CaseRow& row) {
    StopUnknowns u;
    u.front = brake_of(library, bike, End::front, row);
    u.rear = brake_of(library, bike, End::rear, row);
    u.front_share = row("bike.front_share");
    if (bike.trailer && bike.trailer->brake == parts::TrailerBrake::overrun) u.trailer_own_share = std::min(row("sharing.trailer_own"), 1.0);
    u.grip_dry = row("surface.dry.grip");
    u.grip_wet = row("surface.wet.grip");
    u.grip_gravel = row("surface.gravel.grip");
    u.grip_loose = row("surface.loose.grip");
    u.finger_share = std::min(row("rider.stop.finger_share"), 1.0);
    u.cold_factor = std::min(row("rider.stop.cold_factor"), 1.0);
    u.glove_factor = std::min(row("rider.stop.glove_factor"), 1.0);
    u.span_loss = row("rider.stop.span_loss");
    u.bar_diameter_mm = row("rider.stop.bar_diameter");
    u.skill_mps2 = row("rider.stop.skill");
    u.caution = std::min(row("rider.stop.caution"), 1.0);
    u.test_quickness = std::min(row("rider.stop.test_quickness"), 1.0);
    u.test_mps2 = row("rider.stop.test_skill");
    u.grip_used = std::min(row("rider.stop.grip_used"), 0.97);   // an ordinary stop stays below lock
    u.reaction_s = row("rider.stop.reaction");
    u.reach_s = library.value("rider.reach_least") + row("rider.stop.reach_extra");
    u.take_up_s = row("rider.stop.take_up");
    u.rise_s = row("rider.stop.rise");
    return u;
}

}  // namespace bw::stop
