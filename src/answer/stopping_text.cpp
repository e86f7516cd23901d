// SPDX-License-Identifier: Apache-2.0
// `stop` in JSON and for a terminal.                                                                     Layer: answer
#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <nlohmann/json.hpp>

#include "answer/stopping.hpp"
#include "stop/yardsticks.hpp"
#include "base/text.hpp"
#include "base/time.hpp"
#include "describe.hpp"

namespace bw::answer {

namespace {

using json = nlohmann::ordered_json;

// What can end two levers pulled alike.
constexpr stop::LimitedBy alike_ends[] = {stop::LimitedBy::front_grip, stop::LimitedBy::rear_grip, stop::LimitedBy::rear_lift, stop::LimitedBy::lever_force};

json of(double v) { return std::isfinite(v) ? json(v) : json(nullptr); }
json of(const Interval& i) { return {{"p05", of(i.p05)}, {"p50", of(i.p50)}, {"p95", of(i.p95)}}; }
json of(const std::optional<Interval>& i) { return i ? of(*i) : json(nullptr); }

// As a standard brings a way to its own speed: only from near it (ISO 4210-4, from memory: within 1.5 km/h).
json nominal(const stop::ProofRow& row) {
    constexpr double nominal_mps = 25 / 3.6, near_mps = 1.5 / 3.6;
    return std::abs(row.from_mps - nominal_mps) <= near_mps ? of(stop::distance_at_nominal_speed_m(row.distance_m, nominal_mps, row.from_mps)) : json(nullptr);
}

std::string span(const Interval& i, int digits = 2) { return fmt::format("{} ({} to {})", significant(i.p50, digits), significant(i.p05, digits), significant(i.p95, digits)); }
json control(const LeverFeel::Window& w, bool hold) { return hold ? json(nullptr) : json{{"force_03g_N", of(w.force_03g_N)}, {"force_lock_N", of(w.force_lock_N)}}; }
std::string brakes_words(stop::Brakes b) { return b == stop::Brakes::both ? "both brakes" : fmt::format("the {} brake alone", stop::word_of(b)); }

}  // namespace

std::string json_of(const StopReport& r, const std::string& version) {
    const bool hold = r.verdict.do_not_ride;
    json reasons = json::array(), stops = json::array(), chain = json::array(), yardsticks = json::array();
    for (const auto& x : r.verdict.reasons) reasons.push_back({{"code", x.code}, {"text", x.text}});
    for (std::size_t i = 0; i < r.stops.size(); ++i) {
        const stop::StopAnswer& s = r.stops[i];
        stops.push_back({{"brakes", stop::word_of(s.setup.brakes)}, {"surface", stop::word_of(s.setup.surface)}, {"from_mps", of(s.setup.from_mps)}, {"grade", of(s.setup.grade)},
                         {"brake_distance_m", hold ? json(nullptr) : of(s.brake_distance_m)}, {"room_needed_m", hold ? json(nullptr) : of(s.room_needed_m)},
                         {"deceleration_mps2", hold ? json(nullptr) : of(s.deceleration_mps2)}, {"expert_deceleration_mps2", hold ? json(nullptr) : of(r.expert_mps2[i])}, {"expert_room_m", hold ? json(nullptr) : of(r.expert_room_m[i])}, {"lever_force_N", of(s.lever_force_N)},
                         {"hand_force_N", of(s.hand_force_N)}, {"cold_hand_force_N", of(s.cold_hand_force_N)}, {"standard_force_N", of(s.standard_force_N)},
                         {"limited_by", stop::word_of(s.limited_by)}, {"not_stopping_share", of(s.not_stopping_share)}, {"weak_share", of(s.weak_share)},
                         {"bar_share", of(s.bar_share)}});
    }
    json gain, lever;
    for (std::size_t e = 0; e < 2; ++e) {
        const char* wheel = e == 0 ? "front" : "rear";
        if (const auto& g = r.gain[e])
            gain[wheel] = {{"p05", g->gain ? of(g->gain->p05) : json(nullptr)}, {"p50", g->gain ? of(g->gain->p50) : json(nullptr)}, {"p95", g->gain ? of(g->gain->p95) : json(nullptr)},
                           {"expected", of(g->expected)}, {"alarm", g->alarm}, {"measured", g->measured}, {"at_mps2", stop::proof_reference_mps2(e == 0 ? parts::End::front : parts::End::rear)},
                           {"change", of(g->change)}, {"trend", of(g->trend)}, {"stops", g->stops}, {"history_stops", g->history_stops}, {"left_out", g->left_out}, {"text", g->text},
                           {"at_standard", hold || !r.at_standard[e] ? json(nullptr) : json{{"recorded_N", of(r.at_standard[e]->recorded_N)}, {"lever_force_N", of(r.at_standard[e]->lever_N)}, {"corrected_N", of(r.at_standard[e]->corrected_N)}}}};
        else gain[wheel] = nullptr;
        const stop::LeverAnswer& l = r.levers[e];
        lever[wheel] = hold ? json(nullptr)
                            : json{{"bite_mm", of(l.bite_mm)}, {"full_mm", of(l.full_mm)}, {"window_mm", {of(l.window_mm[0]), of(l.window_mm[1])}}, {"in_window", l.in_window_share >= 0.5},
                                   {"in_window_share", of(l.in_window_share)}, {"travel_per_pad_mm_mm", of(l.travel_per_pad_mm_mm)}, {"force_03g_N", of(l.force_03g_N)}, {"force_lock_N", of(l.force_lock_N)}};
        for (const stop::ChainStage& c : r.chains[e].stages)
            chain.push_back({{"wheel", wheel}, {"stage", c.stage}, {"in", of(c.in)}, {"in_unit", c.in_unit}, {"out", of(c.out)}, {"out_unit", c.out_unit}, {"loss", of(c.loss)}});
    }
    for (const Yardstick& y : hold ? std::vector<Yardstick>{} : r.yardsticks)
        yardsticks.push_back({{"id", y.id}, {"text", y.text}, {"need", of(y.need)}, {"have", of(y.have)}, {"at_most", y.at_most}, {"met_share", of(y.met_share)},
                              {"met", std::isnan(y.need) ? json(nullptr) : y.met_share >= 0.95 ? json(true) : y.met_share <= 0.05 ? json(false) : json(nullptr)}, {"unit", y.unit},
                              {"grade", name_of(y.grade)}, {"source", y.source}, {"remark", y.remark}});
    json proof = json::array(), feel, bedding, top_speed = json::array(), hysteresis;
    for (std::size_t e = 0; e < 2; ++e) {
        const char* wheel = e == 0 ? "front" : "rear";
        if (r.gain[e])
            for (const stop::ProofRow& row : r.gain[e]->rows)
                proof.push_back({{"wheel", wheel}, {"date", format_day(row.day)}, {"stop", row.stop}, {"braking_mps2", row.braking_mps2 > 0 ? of(row.braking_mps2) : json(nullptr)},
                                 {"mean_deceleration_mps2", hold ? json(nullptr) : of(stop::mean_deceleration_mps2(row.from_mps, 0, row.distance_m))}, {"at_25_kmh_m", hold ? json(nullptr) : nominal(row)}, {"gain", row.gain ? of(*row.gain) : json(nullptr)}, {"used", row.used}});
        const LeverFeel& f = r.feel[e];
        json adjustments = json::array();
        for (const stop::Adjustment& a : f.adjustments) adjustments.push_back({{"what", a.what}, {"text", a.text}});
        // Forecasts of a lever are comfort too: none for a bike that is held back. What to do about it stays.
        feel[wheel] = {{"strongest_mm", of(f.strongest_mm)}, {"strongest_N", of(f.strongest_N)}, {"at_bite_N", of(f.at_bite_N)},
                       {"place", hold ? json(nullptr) : json(stop::word_of(f.place))}, {"adjustments", adjustments}, {"knocked_back_mm", of(f.knocked_back_mm)},
                       {"gap_mm", of(f.gap_mm)}, {"gap_travel_mm", hold ? json(nullptr) : of(f.gap_travel_mm)}, {"run_out_mm_mm", hold ? json(nullptr) : of(f.run_out_mm_mm)},
                       {"control", {{"dry", control(f.dry, hold)}, {"wet", control(f.wet, hold)}}}, {"first_wet_bite", hold ? json(nullptr) : of(f.first_wet_bite)}, {"turns_to_dry", hold ? json(nullptr) : of(f.turns_to_dry)}, {"metres_to_dry", hold ? json(nullptr) : of(f.metres_to_dry)}, {"warming_that_takes_gap_dK", of(f.warming_that_takes_gap_dK)},
                       {"follows_wear", f.follows_wear}, {"mm_per_km", hold ? json(nullptr) : of(f.mm_per_km)}, {"km_in_window", hold ? json(nullptr) : of(f.km_in_window)},
                       {"km_to_bar", hold ? json(nullptr) : of(f.km_to_bar)}, {"km_per_turn", hold ? json(nullptr) : of(f.km_per_turn)}, {"by_own_rides", f.by_own_rides}, {"ride_km", f.follows_wear ? json(nullptr) : of(f.ride_km)}};
        const BeddingPlan& b = r.bedding[e];
        bedding[wheel] = hold ? json(nullptr)
                              : json{{"from_mps", of(b.from_mps)}, {"to_mps", of(b.to_mps)}, {"rest_s", b.rest_s}, {"window_degC", {of(b.least_degC), of(b.most_degC)}},
                                     {"stops_to_window", b.reached ? of(b.stops_to_window) : json(nullptr)}, {"reached", b.reached}, {"stays_under", b.stays_under},
                                     {"last_peak_degC", of(b.last_peak_degC)}, {"most_stops", b.most_stops}, {"cases", b.cases}};
        hysteresis[wheel] = {{"rising_N", of(r.chains[e].lever_N)}, {"release_N", of(r.release_N[e])}, {"half_way_in_mm", hold ? json(nullptr) : of(r.half_way_mm[e][0])}, {"half_way_back_mm", hold ? json(nullptr) : of(r.half_way_mm[e][1])}};
    }
    for (const TopSpeed& t : r.top_speed)
        top_speed.push_back({{"brakes", stop::word_of(t.brakes)}, {"within_room_mps", hold ? json(nullptr) : of(t.within_room_mps)}, {"at_all_mps", hold ? json(nullptr) : of(t.at_all_mps)},
                             {"limited_by", t.limited_by}});
    const json hold_speed = r.hold && !hold ? json{{"lever_force_N", of(r.hold->lever_N)}, {"held_force_N", of(r.hold->held_N)}, {"hand_share", of(r.hold->hand_share)}, {"minutes", of(r.hold->minutes)},
                                          {"hour_share", stop::hour_with_pauses_share}}
                                   : json(nullptr);
    json balance;
    if (!hold) {
        const Balance& b = r.balance;
        const auto tyres = [](const Balance::Tyres& t) { return json{{"front_N", of(t.front_N)}, {"rear_N", of(t.rear_N)}, {"deceleration_mps2", of(t.deceleration_mps2)}}; };
        json best = json::array(), alike = json::array(), by;
        for (const Balance::Tyres& t : b.best) best.push_back(tyres(t));
        for (const stop::AlikeEnd& a : b.alike)
            alike.push_back({{"lever_force_N", of(a.lever_N)}, {"front_N", of(a.front_N)}, {"rear_N", of(a.rear_N)}, {"deceleration_mps2", of(a.deceleration_mps2)}});
        for (const stop::LimitedBy l : alike_ends) by[std::string(stop::word_of(l))] = of(b.alike_by[static_cast<std::size_t>(l)]);
        balance = {{"weight_N", of(b.weight_N)}, {"best", best}, {"alike", alike}, {"alike_ends_by", stop::word_of(b.alike.back().by)}, {"alike_ends_share", by},
                   {"front_locks", b.front_locks[0].front_N > 0 ? json{tyres(b.front_locks[0]), tyres(b.front_locks[1])} : json(nullptr)}, {"rear_skids", {tyres(b.rear_skids[0]), tyres(b.rear_skids[1])}},
                   {"rear_lifts_N", of(b.rear_lifts_N)}, {"grip", of(b.grip)}, {"best_mps2", of(b.best_mps2)}, {"front_alone_mps2", of(b.front_alone_mps2)}, {"rear_alone_mps2", of(b.rear_alone_mps2)},
                   {"rear_lift_mps2", of(b.rear_lift_mps2)}, {"alike_mps2", of(b.alike_mps2)}, {"alike_lever_force_N", of(b.alike_lever_N)}};
    }
    json recorded = json::array();
    for (const stop::RecordedStop& s : r.recorded)
        recorded.push_back({{"start_s", of(s.start_s)}, {"end_s", of(s.end_s)}, {"from_mps", of(s.from_mps)}, {"from_sd_mps", s.usable ? of(s.from_sd_mps) : json(nullptr)}, {"distance_m", s.usable && !hold ? of(s.distance_m) : json(nullptr)},
                            {"distance_sd_m", s.usable && !hold ? of(s.distance_sd_m) : json(nullptr)}, {"shared_sd_m", s.usable && !hold ? of(s.shared_sd_m) : json(nullptr)}, {"usable", s.usable}, {"why_not", s.why_not}});
    const StopQuestion& q = r.question;
    const json out = {{"schema", "stop/1"}, {"version", version}, {"seed", r.seed}, {"cases", r.cases},
                      {"bike", {{"name", q.bike.name}, {"kind", parts::word_of(q.bike.kind)}, {"total_mass_kg", of(q.bike.total_mass_kg.value)}}},
                      {"asked", {{"from_mps", q.from_mps}, {"surface", stop::word_of(q.surface)}, {"grip", q.grip ? of(*q.grip) : json(nullptr)}, {"grade", q.grade},
                                 {"pads_at_degC", q.pads_at_degC ? of(*q.pads_at_degC) : json(nullptr)},
                                 {"room_m", of(q.room_m)}, {"weight_back_m", of(q.weight_back_m)}, {"weight_low_m", of(q.weight_low_m)}, {"terrain", wear::word_of(q.terrain)}, {"terrain_told", q.terrain_told}, {"gritty", q.gritty},
                                 {"hand", {{"size_cm", of(q.bike.rider.hand.size_cm.value)}, {"strength_N", of(q.bike.rider.hand.strength_N.value)}, {"is", stop::word_of(q.hand_state)},
                                           {"fingers", q.fingers ? json(stop::word_of(*q.fingers)) : json(nullptr)}}}}},
                      {"verdict", {{"do_not_ride", hold}, {"state", inspect::word_of(r.verdict.state)}, {"text", r.verdict.text}, {"reasons", reasons},
                                   {"checks_done", r.verdict.checks_done}, {"checks_total", r.verdict.checks_total}}},
                      {"stops", stops}, {"gain", gain}, {"proof", proof}, {"weighed_by_proof", r.weighed}, {"scaled_by_proof", r.scaled}, {"effective_cases", of(r.effective_cases)},
                      {"front_share", r.share ? json{{"now", of(r.share->now)}, {"before", of(r.share->before)}, {"of_cases", of(r.share->of_cases)}, {"effective_cases", r.stops_by_share ? of(r.share->effective_cases) : json(nullptr)}, {"whole", r.share->whole},
                                                     {"stops_too", r.stops_by_share}, {"day", q.learned_day.empty() ? json(nullptr) : json(q.learned_day)}, {"text", share_weighed_stop_words(*r.share, q.learned_day, r.stops_by_share, q.brakes && *q.brakes != stop::Brakes::both)}} : json(nullptr)},
                      {"lever", lever}, {"feel", feel}, {"hold_speed", hold_speed}, {"top_speed", top_speed},
                      {"recorded", r.recorded_file.empty() ? json(nullptr) : json{{"file", r.recorded_file}, {"stops", recorded}}}, {"balance", balance}, {"bedding", bedding}, {"chain", chain}, {"hysteresis", hysteresis},
                      {"yardsticks", yardsticks}, {"cautions", r.cautions}};
    return out.dump(2, ' ', false, json::error_handler_t::replace) + "\n";
}

namespace {

std::string rides(const Interval& km, double ride_km) { return span({km.p05 / ride_km, km.p50 / ride_km, km.p95 / ride_km}); }

std::string balance_words(const Balance& b) {
    const auto most = std::max_element(b.alike_by.begin(), b.alike_by.end());
    const auto by = static_cast<stop::LimitedBy>(most - b.alike_by.begin());
    std::string text = fmt::format("Front against rear, as far as road, brake and hand allow: both shared in the best way {} m/s², front alone {}, rear alone {}; the rear wheel lifts at {}.", span(b.best_mps2),
                                   span(b.front_alone_mps2), span(b.rear_alone_mps2), span(b.rear_lift_mps2));
    text += fmt::format(" Both levers pulled alike end at {} m/s², with {} N on each: {} ({:.0f} % of the likely cases).", span(b.alike_mps2), span(b.alike_lever_N),
                        by == stop::LimitedBy::front_grip ? "the front tyre is at its grip, more is a fall" : by == stop::LimitedBy::rear_grip ? "the rear tyre starts to skid" : by == stop::LimitedBy::rear_lift ? "the rear wheel lifts" : "the hand has no more",
                        100 * *most);
    return text + " These are limits, not aims: an ordinary rider stays well below them.";
}

}  // namespace

std::string text_of(const StopReport& r) {
    constexpr int width = 96;
    std::string out;
    const auto line = [&](const std::string& text, int indent = 2) { out += wrap(text, width, indent) + "\n"; };
    const StopQuestion& q = r.question;
    if (r.verdict.do_not_ride) {
        out += "■ DO NOT RIDE.\n";
        for (const auto& x : r.verdict.reasons)
            if (!x.code.ends_with("never_measured")) line("- " + x.text);
        out += "\n";
    } else {
        std::string text = r.verdict.text;
        if (!text.empty()) text[0] = static_cast<char>(std::toupper(static_cast<unsigned char>(text[0])));
        line(text + (text.ends_with('.') ? "" : "."));
        for (const auto& x : r.verdict.reasons)
            if (!x.code.ends_with("never_measured")) line("- " + x.text);
        out += "\n";
    }
    std::string about = fmt::format("From {} km/h, {}{}, {}", significant(q.from_mps * 3.6, 3), stop::word_of(q.surface), q.grip ? fmt::format(" (grip {:g})", *q.grip) : "",
                                    q.grade == 0 ? std::string("on the level") : fmt::format("{:g} % {}", std::abs(q.grade) * 100, q.grade < 0 ? "downhill" : "uphill"));
    about += q.pads_at_degC ? fmt::format(", pads at {:g} °C", *q.pads_at_degC) : ", pads cold";
    if (q.weight_back_m > 0 || q.weight_low_m > 0) about += fmt::format(", the rider's weight {:g} cm back and {:g} cm down", 100 * q.weight_back_m, 100 * q.weight_low_m);
    line(about + fmt::format(", {} kg in all, ordinary skill. Intervals: 5 to 95 %.", significant(q.bike.total_mass_kg.value, 3)));
    if (r.weighed) line(fmt::format("The likely cases were weighed by the proof stops: {:.0f} of {} count.", r.effective_cases, r.cases));
    else if (r.scaled) line("Too few likely cases are like the brake that the proof stops show to weigh them: friction was brought to what the stops measured. Few or none: something may be wrong with the brake, or with what is told of it.");
    else if (r.gain[0] || r.gain[1]) line("The proof stops do not fit what is likely for this brake, or say too little: the figures below are those without them.");
    out += "\n";
    for (std::size_t i = 0; i < r.stops.size(); ++i) {
        const stop::StopAnswer& s = r.stops[i];
        std::string text = fmt::format("With {}: ", brakes_words(s.setup.brakes));
        if (s.limited_by == stop::LimitedBy::does_not_stop) text += fmt::format("does not stop in {} % of the likely cases.", significant(100 * s.not_stopping_share, 2));
        else if (r.verdict.do_not_ride) text += "no distance is given for a bike that is held back.";
        else
            text += fmt::format("brakes over {} m, room with reaction {} m. {} Needs {} N at the lever; this hand has {} N, cold and in gloves {} N.", span(*s.brake_distance_m), span(*s.room_needed_m),
                                stop::reason_text(s.limited_by), span(s.lever_force_N), span(s.hand_force_N), span(s.cold_hand_force_N));
        line(text);
        if (!r.verdict.do_not_ride && s.limited_by != stop::LimitedBy::does_not_stop)
            line(fmt::format("{} m/s² as asked of an ordinary rider; road and brake would allow {} m/s² to an expert{}.", span(s.deceleration_mps2), span(r.expert_mps2[i]),
                             r.expert_room_m[i] ? fmt::format(", who would need {} m with the same reaction", span(*r.expert_room_m[i])) : ""));
    }
    if (!r.verdict.do_not_ride) out += "\n", line("Judge the room by the long end. A front wheel that locks is a fall, not a distance.");
    for (std::size_t e = 0; e < 2; ++e) {
        const char* wheel = e == 0 ? "Front" : "Rear";
        if (const auto& g = r.gain[e]) {
            out += "\n";
            if (g->gain) line(fmt::format("{} brake, by {} proof stop{}: {} mm/s² per newton at the lever; expected {}. {}", wheel, g->stops, g->stops == 1 ? "" : "s",
                                          span({g->gain->p05 * 1000, g->gain->p50 * 1000, g->gain->p95 * 1000}), span({g->expected.p05 * 1000, g->expected.p50 * 1000, g->expected.p95 * 1000}), g->text));
            else line(fmt::format("{} brake: {}", wheel, g->text));
            if (g->trend && !g->alarm && !r.verdict.do_not_ride)
                line(fmt::format("From one stop of that day to the next its bite changed by {:+.0f} % ({:+.0f} to {:+.0f}). {}", 100 * (g->trend->p50 - 1), 100 * (g->trend->p05 - 1), 100 * (g->trend->p95 - 1),
                                 g->trend->p05 > 1 ? "It grows: pads that bed in do that. Go on until it no longer does." : g->trend->p95 < 1 ? "It falls: pads that get hot, or glaze, do that. Let them cool, and look." : "No change beyond chance: if it is being bedded in, it is done, or hardly begun."));
            if (r.at_standard[e] && !r.verdict.do_not_ride)
                line(fmt::format("As a machine test would write it down: {} N at {} N on the lever, brought in proportion to {:g} N: {} N (laden as a standard's bike).", significant(r.at_standard[e]->recorded_N, 2), significant(r.at_standard[e]->lever_N, 2),
                                 r.stops.front().standard_force_N, span(r.at_standard[e]->corrected_N)));
        }
    }
    if (!r.recorded_file.empty()) {
        out += "\n";
        line(fmt::format("Stops in {}:{}", r.recorded_file, r.recorded.empty() ? " none from 11 km/h or more that ends standing." : ""));
        for (std::size_t i = 0; i < r.recorded.size(); ++i) line(stop::words_of(r.recorded[i], i + 1, !r.verdict.do_not_ride), 5);
        line("No recording says which brake was pulled: only stops with one brake alone, told as such, prove anything. A tape measure knows the distance several times better.");
    }
    if (!r.verdict.do_not_ride) out += "\n", line(balance_words(r.balance));
    out += "\nFrom hand to road, middle case:\n";
    const auto with_unit = [](double value, std::string_view unit) { return unit == "Pa" ? significant(value / 1e5, 3) + " bar" : fmt::format("{} {}", significant(value, 3), unit); };
    for (std::size_t e = 0; e < 2; ++e) {
        out += fmt::format("  {} lever at {} N\n", e == 0 ? "front" : "rear", significant(r.chains[e].lever_N, 2));
        for (const stop::ChainStage& c : r.chains[e].stages)
            out += fmt::format("    {:<34} {:>14} -> {:<14} {:>5} lost\n", c.stage, with_unit(c.in, c.in_unit), with_unit(c.out, c.out_unit), fmt::format("{:.0f} %", 100 * c.loss));
    }
    if (!r.verdict.do_not_ride) {
        out += "\n";
        for (std::size_t e = 0; e < 2; ++e) {
            const stop::LeverAnswer& l = r.levers[e];
            const std::string suits = l.window_mm[0] > l.window_mm[1] ? fmt::format("no bite suits this hand: under {} mm there is too little way left, beyond {} mm it loses strength; the bite lies where both hold in {:.0f} % of the likely cases", significant(l.window_mm[0], 2), significant(l.window_mm[1], 2), 100 * l.in_window_share)
                                                                      : fmt::format("bites between {} and {} mm suit this hand; it does so in {:.0f} % of the likely cases", significant(l.window_mm[0], 2), significant(l.window_mm[1], 2), 100 * l.in_window_share);
            line(fmt::format("{} lever: bites {} mm from the bar, {} mm left at the squeeze of an ordinary stop; {}.", e == 0 ? "Front" : "Rear", span(l.bite_mm),
                             span({std::max(0.0, l.full_mm.p05), std::max(0.0, l.full_mm.p50), std::max(0.0, l.full_mm.p95)}), suits));
        }
        out += "\n";
        for (std::size_t e = 0; e < 2; ++e) {
            const LeverFeel& f = r.feel[e];
            const std::string wheel = e == 0 ? "Front" : "Rear";
            std::string text = fmt::format("{} lever: this hand is strongest {} mm from the bar ({} N there, {} N at the bite).", wheel, span(f.strongest_mm), span(f.strongest_N), span(f.at_bite_N));
            const auto window = [&](const auto& road, const char* words) {
                std::string of = fmt::format("slows by 0.3 g at {} N and locks or lifts at {} N in the {}", span(road.force_03g_N), span(road.force_lock_N), words);
                // Then 0.3 g is past what this wheel holds.
                return road.force_lock_N.p50 < road.force_03g_N.p50 ? of + ", before 0.3 g" : of;
            };
            text += fmt::format(" Alone it {}; it {}. What lies between is there to control it.", window(f.dry, "dry"), window(f.wet, "wet"));
            text += fmt::format(" Let go to {} N of {} N before the pads let go; half let go the lever stands {} mm from the bar, on its way in it stood at {} mm.", significant(r.release_N[e], 2), significant(r.chains[e].lever_N, 2), significant(r.half_way_mm[e][1], 2),
                                significant(r.half_way_mm[e][0], 2));
            text += fmt::format(" Of its way the pads' gap of {:g} mm a side takes {} mm each time, and each 0.1 mm of run-out {} mm more.", f.gap_mm, span(f.gap_travel_mm), span({0.1 * f.run_out_mm_mm.p05, 0.1 * f.run_out_mm_mm.p50, 0.1 * f.run_out_mm_mm.p95}));
            if (f.first_wet_bite)
                text += fmt::format(" Soaked, it bites with {} of its dry force; light braking dries it within {} m once no more water comes.", span(*f.first_wet_bite), span(*f.metres_to_dry));
            text += fmt::format(" Pads knocked back on rough ground cost {} mm once: squeeze before you need it.", span(f.knocked_back_mm));
            if (f.warming_that_takes_gap_dK) text += fmt::format(" Fluid that cannot flow back (held lever, overfilled reservoir) takes up the gap of {:g} mm when it is {} K warmer.", f.gap_mm, span(*f.warming_that_takes_gap_dK));
            if (!f.follows_wear)
                text += fmt::format(" Nothing follows the pads as they wear: {} the bite leaves the window after {} km or {} rides of {:g} km, the cable wants a turn every {} km or {} rides, the lever is at the bar before full force after {} km.",
                                    (f.by_own_rides ? "by its own rides and readings" : fmt::format("in {} country", wear::word_of(q.terrain))) + (q.gritty ? ", wet and gritty," : q.surface == stop::Surface::wet ? ", wet all the way," : ""), span(*f.km_in_window), rides(*f.km_in_window, f.ride_km), f.ride_km, span(*f.km_per_turn), rides(*f.km_per_turn, f.ride_km), span(*f.km_to_bar));
            line(text);
            for (const stop::Adjustment& a : f.adjustments) line("- " + a.text);
        }
        if (r.hold && r.hold->cannot_share > 0)
            line(fmt::format("Holding this speed down this slope: in {} % of the likely cases hand, brake or tyres cannot do it.", significant(100 * r.hold->cannot_share, 2)));
        if (r.hold && std::isfinite(r.hold->held_N.p95))
            line(fmt::format("Holding this speed down this slope takes {} N at the lever, {} % of this hand: about {} minutes without a pause. For an hour on average, with pauses, a hand has {:.0f} %.", span(r.hold->held_N),
                             span({100 * r.hold->hand_share.p05, 100 * r.hold->hand_share.p50, 100 * r.hold->hand_share.p95}), span(r.hold->minutes), 100 * stop::hour_with_pauses_share));
        for (const TopSpeed& t : r.top_speed) {
            const auto kmh = [](double v) { return v >= TopSpeed::most_mps ? fmt::format("{:.0f} km/h or more", 3.6 * v) : fmt::format("{:.0f} km/h", std::floor(3.6 * v)); };
            line(fmt::format("With {} here: within {:g} m from at most {}; at all from {}{}.", brakes_words(t.brakes), q.room_m, t.within_room_mps > 0 ? kmh(t.within_room_mps) : "no speed",
                             t.at_all_mps > 0 ? "at most " + kmh(t.at_all_mps) : "no speed", t.limited_by == "heat" ? ", then the rotor passes what is known of rotors" : t.limited_by == "fade" ? ", then hot pads no longer hold it" : ""));
        }
        for (std::size_t e = 0; e < 2; ++e) {
            const BeddingPlan& b = r.bedding[e];
            std::string text = fmt::format("Bedding-in, {} brake alone: slow from {:.0f} to {:.0f} km/h, not to a halt, {} s of rolling between; ", e == 0 ? "front" : "rear", 3.6 * b.from_mps, 3.6 * b.to_mps, b.rest_s);
            text += b.reached ? fmt::format("the rotor ends a slowing at {:g} °C or more after {} of them", b.least_degC, span(b.stops_to_window))
                              : fmt::format("even {} of them leave the rotor under {:g} °C in some cases ({} °C): go faster or downhill", b.most_stops, b.least_degC, span(b.last_peak_degC));
            text += b.stays_under ? "." : fmt::format("; watch that it stays under {:g} °C.", b.most_degC);
            line(text + fmt::format(" Computed for {} cases: 5 and 95 % are rough. The maker of the pads comes first.", b.cases));
        }
        out += "\nBeside the standards (yardsticks, not approvals):\n";
        line(fmt::format("their {:g} N at the lever beside this hand: {} N, cold and in gloves {} N.", r.stops.front().standard_force_N, span(r.stops.front().hand_force_N), span(r.stops.front().cold_hand_force_N)));
        for (const Yardstick& y : r.yardsticks) {
            if (std::isnan(y.need)) continue;
            const std::string unit = y.unit.empty() ? "" : " " + y.unit;
            line(fmt::format("{}: {} {}{}; this bike {}.{}", y.text, y.at_most ? "at most" : "at least", significant(y.need, 3), unit, std::isnan(y.met_share) ? "is not asked for it" : y.have ? span(*y.have) + unit : y.at_most ? "does not stop" : "has no figure here",
                             y.grade == Grade::published_from_memory ? " From memory." : ""));
        }
    }
    out += "\n";
    for (const std::string& c : r.cautions) line(c);
    if (r.cautions.empty()) line(caution);
    return out;
}

}  // namespace bw::answer
