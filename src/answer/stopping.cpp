// SPDX-License-Identifier: Apache-2.0
// The stops that somebody asks about, the chain behind them, and what proof stops say of the brake.      Layer: answer
#include "answer/stopping.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>

#include "base/sampling.hpp"
#include "heat/unknowns.hpp"
#include "each_case.hpp"
#include "internal.hpp"
#include "learned_share.hpp"
#include "stop/yardsticks.hpp"
#include "stopping_more.hpp"

namespace bw::answer {

namespace {

constexpr double least_effective = 200;  // fewer cases than this make no quantile at 5 %

constexpr double endless = 1e12;         // finite, so that interpolation beside it stays a number
constexpr int least_stops_that_hold = 3; // with a lever force: fewer that fall short ask for more of them

//! The verdict's words must not stay those of a better state (inspect::combine writes them the same way).
void at_least_measure_better(inspect::Verdict& v) {
    if (v.state != inspect::State::no_reason_found && v.state != inspect::State::look_by) return;
    v.state = inspect::State::measure_better;
    const std::size_t at = v.text.find("no reason found in");
    std::string found = at == std::string::npos ? "" : v.text.substr(at);
    if (found.ends_with('.')) found.pop_back();
    v.text = "Measure again or better, see below." + (found.empty() ? "" : " Apart from that, " + found + ".");
}

// The rider's body moves, the bike and its load stay.
void move_rider(parts::Bike& bike, const StopQuestion& q) {
    const double share = std::clamp((bike.total_mass_kg.value - bike.mass_kg.value - bike.load_kg.value) / bike.total_mass_kg.value, 0.0, 1.0);
    bike.centre_of_mass_from_front_m.value += share * q.weight_back_m;
    bike.centre_of_mass_height_m.value -= share * q.weight_low_m;
}

AtStandard at_standard(const parts::Library& library, const parts::Bike& bike, parts::End end, const Interval& gain) {
    const double radius_m = bike.wheel_radius_m.value, mass_kg = bike.total_mass_kg.value + bike.wheel_inertia_kgm2.value / (radius_m * radius_m);
    AtStandard a;
    a.recorded_N = mass_kg * stop::proof_reference_mps2(end);
    a.lever_N = stop::proof_reference_mps2(end) / gain.p50;
    const auto at = [&](double g) {
        const double corrected_N = stop::corrected_braking_force_N(a.recorded_N, library.value("yardstick.lever_force"), stop::proof_reference_mps2(end) / g);
        return stop::braking_performance_N(corrected_N, bike.total_mass_kg.value, library.value("yardstick.track_mass"));
    };
    a.corrected_N = {.p05 = at(gain.p05), .p50 = at(gain.p50), .p95 = at(gain.p95)};
    return a;
}

}  // namespace

Result<StopReport> stop_report(const Context& ctx, const parts::Library& library, const StopQuestion& q) {
    if (!(q.from_mps > 0 && q.from_mps <= 40)) return Error{Errc::out_of_domain, fmt::format("from {} m/s: expected a speed over 0 and up to 40 m/s", q.from_mps)};
    if (!(std::abs(q.grade) <= 0.5)) return Error{Errc::out_of_domain, fmt::format("a grade of {}: expected -0.5 to 0.5, negative downhill (-8% is -0.08)", q.grade)};
    if (q.grip && !(*q.grip > 0 && *q.grip <= 1.5)) return Error{Errc::out_of_domain, fmt::format("a grip of {}: expected over 0 and up to 1.5", *q.grip)};
    if (q.pads_at_degC && !(*q.pads_at_degC >= -30 && *q.pads_at_degC <= 800)) return Error{Errc::out_of_domain, fmt::format("pads at {} degC: expected -30 to 800", *q.pads_at_degC)};
    if (!(q.room_m > 0 && q.room_m <= 1000)) return Error{Errc::out_of_domain, fmt::format("a room of {} m: expected over 0 and up to 1000", q.room_m)};
    if (!(q.weight_back_m >= 0 && q.weight_back_m <= 0.4 && q.weight_low_m >= 0 && q.weight_low_m <= 0.3))
        return Error{Errc::out_of_domain, fmt::format("weight back by {:g} m and down by {:g} m: expected 0 to 0.4 m back and 0 to 0.3 m down", q.weight_back_m, q.weight_low_m)};
    StopReport r;
    r.seed = ctx.seed;
    r.cases = q.cases;
    r.question = q;

    // The bike as described: its verdict, its levers, its yardsticks.
    Request request;
    request.bike = q.bike;
    request.cases = q.cases;
    EachCase each;
    each.inputs = all_inputs(library, request);
    each.learned = q.learned;
    Result<Answer> plain = answer_with(ctx, library, request, nullptr, q.learned ? &each : nullptr);
    if (!plain) return plain.error();
    r.verdict = plain->verdict;
    r.yardsticks = plain->yardsticks;
    r.levers = plain->levers;
    r.cautions = plain->cautions;
    r.share = plain->share;   // by it, levers and verdict are the worse of with and without

    if (const auto both = std::count_if(q.proof.begin(), q.proof.end(), [](const stop::ProofStop& s) { return s.wheel == stop::Brakes::both; }); both > 0)
        r.cautions.push_back(fmt::format("{} proof stop{} with both brakes {} left out: such a stop tells neither brake. Brake with one alone.", both, both == 1 ? "" : "s", both == 1 ? "is" : "are"));

    request.terrain = q.terrain;   // how the brake wears; after the plain answer, which knows no rides
    const Cases drawn = draw_cases(all_inputs(library, request), q.cases, ctx.seed);
    std::vector<Case> cases = cases_of(library, q.bike, drawn);
    for (Case& c : cases) move_rider(c.bike, q);
    if (q.fingers) {   // the spread of a hand's share stays
        const double times = stop::finger_share(library, *q.fingers) / library.value("hand.finger_share");
        for (Case& c : cases) c.stop.finger_share = std::min(c.stop.finger_share * times, 1.0);
    }
    std::array<std::vector<double>, 2> gains;
    std::vector<double> weights;
    for (const parts::End end : ends) {
        const auto e = static_cast<std::size_t>(end);
        const stop::Brakes alone = end == parts::End::front ? stop::Brakes::front : stop::Brakes::rear;
        if (std::none_of(q.proof.begin(), q.proof.end(), [&](const stop::ProofStop& s) { return s.wheel == alone; })) continue;
        std::vector<double> expected, hand, threshold, travel;
        for (const Case& c : cases) {
            expected.push_back(stop::proof_expected_gain(c.bike, end, c.stop));
            hand.push_back(stop::hand_force_N(c.bike.rider.hand, c.stop, c.bike.wheel(end).lever.bite_mm.value, stop::HandState::warm));
            threshold.push_back(c.stop.brake(end).threshold_N);
            travel.push_back(c.stop.brake(end).travel_mm);
        }
        r.gain[e] = stop::proof_gain(q.proof, end, stop::proof_terms(library), stop::proof_bike(q.bike, end, threshold, travel), {.gain = expected, .hand_N = hand});
        if (!r.gain[e]->measured) continue;
        gains[e] = expected;
        // A proof stop tells the brake: cases whose gain it contradicts count less.
        if (weights.empty()) weights.assign(cases.size(), 1.0);
        for (std::size_t i = 0; i < cases.size(); ++i) {
            const double off = expected[i] > 0 ? (std::log(expected[i]) - r.gain[e]->stops_log) / r.gain[e]->stops_log_sd : 40;
            weights[i] *= std::exp(-0.5 * off * off);
        }
    }
    r.effective_cases = weights.empty() ? static_cast<double>(cases.size()) : effective(weights);
    r.weighed = !weights.empty() && r.effective_cases >= least_effective;
    if (!r.weighed) weights.clear();
    // A brake that no likely case is like (oil, glaze, air) still is what it is: friction is brought to what was measured.
    if (!r.weighed)
        for (const parts::End end : ends) {
            const auto e = static_cast<std::size_t>(end);
            if (!r.gain[e] || !r.gain[e]->measured) continue;
            std::vector<double> logs;
            for (const double g : gains[e]) logs.push_back(std::log(std::max(g, 1e-9)));
            const Interval& found = *r.gain[e]->gain;
            const double mean = mean_of(logs), sd = std::max(sd_of(logs), 1e-6), found_sd = std::log(found.p95 / found.p05) / (2 * normal_quantile(0.95));
            for (std::size_t i = 0; i < cases.size(); ++i) {
                const double z = std::clamp((logs[i] - mean) / sd, -3.0, 3.0);
                stop::BrakeUnknowns& u = end == parts::End::front ? cases[i].stop.front : cases[i].stop.rear;
                u.friction *= std::exp(std::log(found.p50) + z * found_sd - logs[i]);
            }
            r.scaled = true;
        }

    // Pads and rotors tell how the braking is shared, as in an answer out of the papers.   [EQ life-13]
    std::optional<CaseWeights> by_share = r.share ? weights_of(*q.learned, cases) : std::nullopt;
    if (by_share) {
        for (std::size_t i = 0; i < weights.size(); ++i) by_share->cases[i] *= weights[i];
        const double count = effective(by_share->cases);
        if (!weights.empty() && count < std::min(least_effective, static_cast<double>(cases.size()) / 4)) by_share.reset();   // the proof stops say otherwise: they stand alone
        else r.share->effective_cases = count;
    }
    r.stops_by_share = by_share.has_value();
    if (r.share) r.cautions.push_back(share_weighed_stop_words(*r.share, q.learned_day, r.stops_by_share, q.brakes && *q.brakes != stop::Brakes::both));
    if (!q.learned_text.empty()) r.cautions.push_back(q.learned_text);

    const std::vector<stop::Brakes> wanted = q.brakes ? std::vector{*q.brakes} : std::vector{stop::Brakes::both, stop::Brakes::front, stop::Brakes::rear};
    for (const stop::Brakes brakes : wanted) {
        std::vector<stop::StopCase> as_ridden(cases.size());
        std::vector<double> expert(cases.size()), expert_room(cases.size());
        const stop::StopSetup setup{.brakes = brakes, .surface = q.surface, .from_mps = q.from_mps, .grade = q.grade, .grip = q.grip, .hand = q.hand_state};
        parallel_for(ctx, cases.size(), [&](std::size_t i) {
            stop::StopSetup s = setup;
            if (q.pads_at_degC) {
                s.front_friction_factor = heat::friction_factor(cases[i].heat[0].friction, *q.pads_at_degC);
                s.rear_friction_factor = heat::friction_factor(cases[i].heat[1].friction, *q.pads_at_degC);
            }
            as_ridden[i] = stop::stop_case(cases[i].bike, s, cases[i].stop);
            s.skill = stop::Skill::unlimited;
            const stop::StopCase most = stop::stop_case(cases[i].bike, s, cases[i].stop);
            expert[i] = most.deceleration_mps2;
            expert_room[i] = most.room_needed_m.value_or(endless);
        });
        if (ctx.stopped()) return cancelled();
        r.stops.push_back(stop::stop_answer(setup, as_ridden, weights, library.value("yardstick.lever_force")));
        if (by_share) r.stops.back() = weigh(r.stops.back(), as_ridden, *by_share);
        Interval expert_mps2 = weights.empty() ? interval_of(expert) : interval_of(expert, weights), room = weights.empty() ? interval_of(expert_room) : interval_of(expert_room, weights);
        if (by_share && brakes == stop::Brakes::both) expert_mps2 = smaller_of(expert_mps2, interval_of(expert, by_share->cases)), room = larger_of(room, interval_of(expert_room, by_share->cases));
        r.expert_mps2.push_back(expert_mps2);
        r.expert_room_m.push_back(room.p95 < endless / 1e3 ? std::optional(room) : std::nullopt);
    }
    // One case stands for all where the chain and the sharing are shown: every input at its middle, the brake as proved.
    Case middle = cases_of(library, q.bike, middle_case(all_inputs(library, request)))[0];
    move_rider(middle.bike, q);
    if (q.fingers) middle.stop.finger_share = std::min(middle.stop.finger_share * stop::finger_share(library, *q.fingers) / library.value("hand.finger_share"), 1.0);
    for (const parts::End end : ends) {
        const auto& found = r.gain[static_cast<std::size_t>(end)];
        const double expected = stop::proof_expected_gain(middle.bike, end, middle.stop);
        if (found && found->measured && (r.weighed || r.scaled) && expected > 0) (end == parts::End::front ? middle.stop.front : middle.stop.rear).friction *= found->gain->p50 / expected;
    }
    for (const parts::End end : ends)
        if (const auto& found = r.gain[static_cast<std::size_t>(end)]; found && found->measured) r.at_standard[static_cast<std::size_t>(end)] = at_standard(library, q.bike, end, *found->gain);
    for (const parts::End end : ends) {
        const auto e = static_cast<std::size_t>(end);
        // The squeeze of an ordinary stop, as the first stop asked about has it.
        const double lever_N = std::clamp(r.stops.front().lever_used_N.p50, 20.0, 300.0);
        const stop::BrakeUnknowns& u = middle.stop.brake(end);
        const double hot = q.pads_at_degC ? heat::friction_factor(middle.heat[e].friction, *q.pads_at_degC) : 1;
        r.release_N[e] = stop::release_force_for(middle.bike, end, u, u.friction * hot, stop::tyre_force_from(middle.bike, end, u, u.friction * hot, lever_N));
        r.half_way_mm[e] = {stop::lever_distance_mm(middle.bike.wheel(end).lever, u, lever_N / 2), stop::lever_distance_back_mm(middle.bike.wheel(end).lever, u, lever_N / 2, lever_N)};
        r.chains[e] = {lever_N, stop::chain(middle.bike, end, u, u.friction * hot, lever_N)};
    }

    stop_balance(ctx, q, cases, middle, weights, r);
    if (Status more = stop_more(ctx, library, q, drawn, cases, weights, by_share ? by_share->cases : std::vector<double>(), r); !more) return more.error();
    std::vector<inspect::Reason> first;   // what holds the bike back
    for (const parts::End end : ends) {
        const auto& g = r.gain[static_cast<std::size_t>(end)];
        if (!g || !g->measured || g->alarm || g->gain->p95 >= g->expected.p05) continue;
        const bool enough = g->stops + g->history_stops >= least_stops_that_hold;
        const std::string what = fmt::format("{} brake: the proof stops find {:.0f} % less than such a brake should give.", parts::word_of(end), 100 * (1 - g->gain->p50 / g->expected.p50));
        const std::string code = fmt::format("{}_proof_below_expected", parts::word_of(end));
        if (enough) first.push_back({code, "Do not ride this bike. " + what + " Look for oil, glaze, air, pads that are not bedded in; ride again when new proof stops find what it should give."});
        else r.verdict.reasons.push_back({code, what + fmt::format(" Look for oil, glaze, air, pads that are not bedded in, before it is relied on, and brake {} times or more with a lever force read.", least_stops_that_hold)});
        if (!enough) at_least_measure_better(r.verdict);
    }

    // What was asked about may itself be a reason not to ride: first, before what the description says.
    for (const parts::End end : ends)
        if (const auto& g = r.gain[static_cast<std::size_t>(end)]; g && g->alarm) first.push_back({fmt::format("{}_proof_alarm", parts::word_of(end)), g->text});
    for (const stop::StopAnswer& s : r.stops)
        if (s.limited_by == stop::LimitedBy::does_not_stop) {
            const bool both = s.setup.brakes == stop::Brakes::both;
            const std::string text = fmt::format("with {} brake{} on {} at {:.0f} % the bike does not stop in {:.0f} % of the likely cases.", stop::word_of(s.setup.brakes), both ? "s" : "",
                                                 stop::word_of(s.setup.surface), 100 * s.setup.grade, 100 * s.not_stopping_share);
            // One brake alone that cannot hold this hill is a reason too, where it is the one asked about.
            if (both || q.brakes) first.push_back({"does_not_stop", "Do not ride this: " + text});
        }
    if (!first.empty()) {
        r.verdict.do_not_ride = true;
        r.verdict.state = inspect::State::held_back;
        r.verdict.text = (first.front().text.starts_with("Do not ride") ? "" : "Do not ride this bike. ") + first.front().text;
        r.verdict.reasons.insert(r.verdict.reasons.begin(), first.begin(), first.end());
    }
    return r;
}

void hold_back(StopReport& r, const inspect::Verdict& of_papers) {
    std::vector<inspect::Reason> reasons = of_papers.reasons;
    for (const inspect::Reason& own : r.verdict.reasons)
        if (std::none_of(reasons.begin(), reasons.end(), [&](const inspect::Reason& x) { return x.code == own.code; })) reasons.push_back(own);
    r.verdict.reasons = std::move(reasons);
    r.verdict.do_not_ride = true;
    r.verdict.state = inspect::State::held_back;
    r.verdict.text = of_papers.text;
}

}  // namespace bw::answer
