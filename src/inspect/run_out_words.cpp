// SPDX-License-Identifier: Apache-2.0
// Run-out in words: what it is, what to do in which order, and its check. DESIGN 3 binds every sentence.   Layer: inspect
#include <fmt/format.h>

#include <algorithm>
#include <cmath>

#include "inspect/run_out.hpp"
#include "inspect/verdict.hpp"

namespace bw::inspect {

namespace {

std::string mm(const Interval& i) { return fmt::format("{:.2f} mm ({:.2f} to {:.2f})", i.p50, i.p05, i.p95); }
std::string twice_mm(const Interval& i) { return mm({2 * i.p05, 2 * i.p50, 2 * i.p95}); }
std::string deg(const Interval& i) { return fmt::format("{:.0f}° ({:+.0f}, {:+.0f})", i.p50, i.p05 - i.p50, i.p95 - i.p50); }
std::string percent(double p) { return p < 0.995 ? fmt::format("{:.0f} %", 100 * p) : "over 99 %"; }

}  // namespace

std::string said_of(const RunOut& r) {
    if (!r.total_mm)
        return fmt::format("The dial moved {:.2f} mm over {} angles. That is what these places show; between them it may be more.", r.seen_mm, r.angles);
    return fmt::format("Total run-out {} over the whole turn, read at {} angles.", mm(*r.total_mm), r.angles);
}

std::vector<std::string> words_of(const RunOut& r, const RunOutBudget& budget, bool done_for) {
    std::vector<std::string> out = {said_of(r)};
    if (r.depth != RunOut::Depth::parts) {
        out.push_back(fmt::format("{} angles cannot tell a tilted seat from bends, so nothing is said of where to push: read at 12 or more angles, evenly "
                                  "spread, better 24 to 36.", r.angles));
        return out;
    }
    const TurnPattern& tilt = *r.tilt;
    out.push_back(budget.play_measured ? fmt::format("Bearing play of {:.2f} mm, as measured, is in every interval.", budget.bearing_play_mm)
                                       : fmt::format("Bearing play was not measured; {:.2f} mm, which nobody feels, is in every interval. To measure it: dial on the band, hold the wheel by the rotor and rock it across; what "
                                                     "the pointer moves from end to end is the play.", budget.bearing_play_mm));
    out.push_back(fmt::format("Seat tilt, once a turn: {} from top to bottom, nearest to the dial at {}.", twice_mm(tilt.amplitude_mm), deg(tilt.angle_deg)));
    if (r.saddle && r.saddle->probability >= 0.5)
        out.push_back(fmt::format("Saddle, twice a turn: {} from top to bottom, nearest to the dial at {} and opposite; sure to {}.",
                                  twice_mm(r.saddle->amplitude_mm), deg(r.saddle->angle_deg), percent(r.saddle->probability)));
    if (r.arms && r.arms->probability >= 0.5)
        out.push_back(fmt::format("A pattern {} times a turn, as arms or fixings make it: {} from top to bottom; sure to {}. {} angles would show {} times a "
                                  "turn just so.", r.arms->per_turn, twice_mm(r.arms->amplitude_mm), percent(r.arms->probability), r.angles, r.angles - r.arms->per_turn));
    for (const Bend& b : r.bends)
        out.push_back(fmt::format("Bend at {}: {} {} the dial, about {:.0f}° wide; sure to {}.", deg(b.angle_deg),
                                  mm(b.height_mm.p50 < 0 ? Interval{-b.height_mm.p95, -b.height_mm.p50, -b.height_mm.p05} : b.height_mm),
                                  b.height_mm.p50 < 0 ? "away from" : "towards", b.width_deg.p50, percent(b.probability)));
    for (const Bend& b : r.perhaps)
        out.push_back(fmt::format("Perhaps a bend at {:.0f}°, {:.2f} mm {} the dial; the chance is {}: read at more angles there before anything is done.",
                                  b.angle_deg.p50, std::abs(b.height_mm.p50), b.height_mm.p50 < 0 ? "away from" : "towards", percent(b.probability)));

    if (done_for) {
        out.push_back("Nothing is said of where to push: this rotor is not straightened but replaced.");
        return out;
    }
    int step = 0;
    std::vector<std::string> plan;
    if (2 * tilt.amplitude_mm.p50 >= budget.worth_mm)
        plan.push_back(fmt::format("{}. The seat first, nothing is bent for it: rotor off, seat and rotor clean, bolts tightened in steps and in the order and with "
                                   "the torque that the maker names, play out of the bearings. Without the tilt about {} would be left. Read again.",
                                   ++step, mm(*r.total_without_tilt_mm)));
    for (const Bend& b : r.bends)
        if (std::abs(b.height_mm.p50) >= budget.worth_mm)
            plan.push_back(fmt::format("{}. At {}: push {} the dial by {:.2f} mm, over about {:.0f}°, a little at a time, and read again after each push. "
                                       "Expected total afterwards, with the seat as it is: {}.", ++step, deg(b.angle_deg), b.height_mm.p50 < 0 ? "towards" : "away from",
                                       std::abs(b.height_mm.p50), b.width_deg.p50, mm(b.after_mm)));
    if (plan.empty()) {
        out.push_back("No place stands out that pushing would better.");
        return out;
    }
    out.push_back("Plan, only where the rotor's maker allows straightening; a qualified mechanic does it if you have not done it before:");
    out.insert(out.end(), plan.begin(), plan.end());
    out.push_back("Cold rotor, clean tool, no oil or bare fingers on the band. A rotor that is cracked, under its limit, blue from heat or riveted loose is "
                  "not straightened but replaced. A saddle or a pattern of the arms is not cured by a push at one place.");
    return out;
}

Check check_run_out(const RunOutCheck& c, const Practice& p) {
    const CheckId id = c.end == parts::End::front ? CheckId::front_rotor_run_out : CheckId::rear_rotor_run_out;
    const std::string_view end = parts::word_of(c.end);
    if (!c.run_out) return check_never_measured(id);
    const RunOut& r = *c.run_out;
    const auto check = [&](std::string_view what, State state, std::string text) {
        return Check{.id = id, .code = fmt::format("{}_run_out_{}", end, what), .state = state, .done = true, .do_not_ride = state == State::held_back, .text = std::move(text)};
    };
    if (!std::isfinite(r.seen_mm)) return check_never_measured(id);
    // What was read is enough to hold back; what the whole turn may have besides can only add to it.
    const double likely = r.total_mm ? r.total_mm->p50 : r.seen_mm;
    const double plain = std::max(r.seen_mm, likely);
    const std::string rotor = fmt::format("{} rotor: ", c.end == parts::End::front ? "Front" : "Rear");
    if (c.limit_mm && plain >= *c.limit_mm)
        return check("over_limit", State::held_back,
                     fmt::format("Do not ride: the {} rotor runs out by {:.2f} mm, over the maker's limit of {:.2f} mm. Have it straightened or replaced.", end, plain, *c.limit_mm));
    if (plain >= p.run_out_hold_mm)
        return check("over_practice", State::held_back,
                     fmt::format("Do not ride: the {} rotor runs out by {:.2f} mm. Common practice leaves about {:.1f} mm of gap on both sides together, so a rotor "
                                 "like this pushes the pads back and the next pull may find nothing. Have it straightened or replaced.", end, plain, p.run_out_hold_mm));
    if (c.limit_mm) {
        if (!r.total_mm) return check("few_angles", State::measure_better, fmt::format("{}{} The maker's limit is {:.2f} mm: read it at 8 or more angles.", rotor, said_of(r), *c.limit_mm));
        const auto over = r.totals_mm.end() - std::lower_bound(r.totals_mm.begin(), r.totals_mm.end(), *c.limit_mm);
        const double chance = r.totals_mm.empty() ? 1 : static_cast<double>(over) / static_cast<double>(r.totals_mm.size());   // [EQ inspect-4], by the draws
        if (chance > p.doubt)
            return check("too_near_to_tell", State::measure_better, fmt::format("{}{} The chance that it is over the maker's limit of {:.2f} mm is {}: read it at more angles, or more often at each.", rotor, said_of(r), *c.limit_mm, percent(chance)));
        return check("under_limit", State::no_reason_found, fmt::format("{}{} The maker's limit is {:.2f} mm.", rotor, said_of(r), *c.limit_mm));
    }
    if (plain >= p.run_out_high_mm)
        return check("in_practice_band", State::replace,
                     fmt::format("The {} rotor runs out by {:.2f} mm; common practice straightens or replaces from {:.1f} mm. The maker's limit is not known.",
                                 end, plain, p.run_out_high_mm));
    if (!r.total_mm)
        return check("few_angles", State::measure_better, fmt::format("{}{} Read it at 8 or more angles.", rotor, said_of(r)));
    if (r.total_mm->p95 >= p.run_out_high_mm)
        return check("too_near_to_tell", State::measure_better,
                     fmt::format("{}{} That may be over the {:.1f} mm of common practice: read it at more angles.", rotor, said_of(r), p.run_out_high_mm));
    return check("limit_not_known", State::measure_better,
                 fmt::format("{}{} Under the {:.1f} mm of common practice, which clears nothing: the maker's limit is not known. Look at it run "
                             "between the pads and tick it in the check before a ride.", rotor, said_of(r), p.run_out_high_mm));
}

}  // namespace bw::inspect
