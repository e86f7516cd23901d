// SPDX-License-Identifier: Apache-2.0
// Words that no text may hold: comfort that nobody can give, and advice that has hurt people.
#include <algorithm>
#include <cctype>
#include <string>
#include <vector>

#include "inspect/pads.hpp"
#include "practice.hpp"

using namespace bw::inspect;
using bw::parts::Actuation;
using bw::parts::End;
using bw::parts::FluidKind;

namespace {

// Every text the module can emit: all branches of all checks over a grid, and what they combine to.
std::vector<std::string> all_texts() {
    const Practice p = practice();
    std::vector<Check> checks;
    const std::optional<double> none;
    for (const End end : {End::front, End::rear}) {
        for (double mm = -0.1; mm < 3; mm += 0.05)
            for (const double u : {0.0, 0.05, 1.0})
                for (const std::optional<double> limit : {none, std::optional<double>(0.8), std::optional<double>(1.5)}) {
                    for (const Plate plate : {Plate::measured, Plate::assumed, Plate::not_in_the_reading}) {
                        const std::vector<double> corners = {mm, mm + 0.1};
                        checks.push_back(check_pad({.end = end, .which = "left", .corners_mm = corners, .uncertainty_mm = u,
                                                    .plate = plate, .least_mm = limit}, p));
                        checks.push_back(check_pad({.end = end, .corners_mm = {corners.data(), 1}, .uncertainty_mm = u,
                                                    .plate = plate, .least_mm = limit}, p));
                    }
                    for (const Anvil anvil : {Anvil::not_told, Anvil::pointed, Anvil::flat_jaws})
                        for (const std::optional<double> ridge : {none, std::optional<double>(0.05)})
                            checks.push_back(check_rotor({.end = end, .places_mm = {&mm, 1}, .uncertainty_mm = u, .anvil = anvil,
                                                          .ridge_mm = ridge, .least_mm = limit}, p));
                }
        for (const Actuation actuation : {Actuation::hydraulic, Actuation::cable, Actuation::cable_to_hydraulic})
            for (const std::optional<double> bite : {none, std::optional<double>(-1), std::optional<double>(30)})
                for (const std::optional<double> full : {none, std::optional<double>(-1), std::optional<double>(5), std::optional<double>(40)})
                    for (const double u : {0.0, 30.0})
                        checks.push_back(check_lever({.end = end, .actuation = actuation, .bite_mm = bite, .full_mm = full,
                                                      .uncertainty_mm = u}, p));
        for (const std::optional<FluidKind> kind : {std::optional<FluidKind>(), std::optional<FluidKind>(FluidKind::dot4),
                                                    std::optional<FluidKind>(FluidKind::mineral)})
            for (const std::optional<double> age : {none, std::optional<double>(1), std::optional<double>(50)})
                for (const std::optional<double> point : {none, std::optional<double>(230)})
                    checks.push_back(check_fluid({.end = end, .kind = kind, .age_months = age, .dry_point_degC = point}, p));
    }
    for (std::size_t i = 0; i <= checks_total; ++i) {
        const auto id = static_cast<CheckId>(i);
        checks.push_back(check_never_measured(id));
        checks.push_back(check_not_looked(id));
        for (const Seen seen : {Seen::not_looked, Seen::nothing_seen, Seen::crack, Seen::loose_bolt, Seen::leak, Seen::oil_on_pads,
                                Seen::soft_lever_after_heat})
            checks.push_back(check_seen(id, seen));
    }

    for (const End end : {End::front, End::rear}) {
        checks.push_back(check_condition(end, bw::parts::PadCondition::oiled).value());
        const Pattern sinks{.code = "lever_sinks", .which = "", .difference_mm = -9, .uncertainty_mm = 1, .probability = 0.99, .causes = {{"a leak", 1}}};
        checks.push_back(check_sinking(end, {&sinks, 1}).value());
    }

    std::vector<std::string> texts;
    for (const Actuation actuation : {Actuation::hydraulic, Actuation::cable, Actuation::cable_to_hydraulic})
        texts.push_back(bite_advice(actuation));
    for (const State state : {State::no_reason_found, State::look_by, State::measure_better, State::replace, State::held_back}) {
        texts.emplace_back(word_of(state));
        texts.push_back(combine({{.id = CheckId::other, .code = "x", .state = state, .done = true, .text = ""}}).text);
    }
    texts.push_back(combine({}).text);
    for (const Reason& r : combine({}).reasons) texts.push_back(r.text);
    for (const Check& c : checks) {
        texts.push_back(c.text);
        texts.push_back(c.code);
    }
    return texts;
}

std::string lower(std::string s) {
    std::transform(s.begin(), s.end(), s.begin(), [](unsigned char c) { return static_cast<char>(std::tolower(c)); });
    return s;
}

}  // namespace

TEST(Texts, NeverCallABikeSafeOrFitToRide) {
    for (const std::string& text : all_texts())
        for (const char* word : {"safe", "fit to ride", "roadworthy", "good to go", "no danger", "harmless", "status", "health"})
            EXPECT_EQ(lower(text).find(word), std::string::npos) << word << " in: " << text;
}

TEST(Texts, NeverAdviseToCorrectTheBiteByTheArmOrTheCable) {
    for (const std::string& text : all_texts())
        for (const char* word : {"preload", "pre-load", "preten", "tighten the cable", "shorten the cable", "tension the cable",
                                 "cable tension", "pull the arm", "advance the arm", "move the arm", "set the arm", "barrel"})
            EXPECT_EQ(lower(text).find(word), std::string::npos) << word << " in: " << text;
}

TEST(Texts, WhatForbidsRidingSaysSoInItsFirstWords) {
    const Practice p = practice();
    for (double mm = 0; mm < 3; mm += 0.05) {
        const Check c = check_pad({.end = End::front, .corners_mm = {&mm, 1}, .plate = Plate::measured, .least_mm = 0.8}, p);
        EXPECT_EQ(c.do_not_ride, c.text.rfind("Do not ride", 0) == 0) << c.text;
        EXPECT_EQ(c.do_not_ride, c.state == State::held_back);
    }
}

TEST(Texts, NoneIsEmpty) {
    for (const std::string& text : all_texts()) EXPECT_FALSE(text.empty());
}
