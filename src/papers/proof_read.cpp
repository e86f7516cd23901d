// SPDX-License-Identifier: Apache-2.0
// Proof stops in the papers: which of them are a brake's history, and when they hold a bike back.       Layer: papers
// Rules: docs/formats-papers.md (verdict from the papers), docs/decisions/0017-proof-in-the-papers.md.
#include <fmt/format.h>

#include <algorithm>
#include <array>
#include <cmath>
#include <limits>
#include <set>

#include "balance/balance.hpp"
#include "base/sampling.hpp"
#include "base/time.hpp"
#include "papers/state.hpp"
#include "stop/unknowns.hpp"

namespace bw::papers {

namespace {

using inspect::Check;
using inspect::CheckId;
using inspect::State;
using parts::End;

constexpr std::size_t cases_drawn = 256;
constexpr int enough_stops = 3;   // with a lever force: fewer neither hold a bike back by what is expected nor clear it

// A moment as the papers order them: by day, within a day as they were noted.
struct Moment {
    Day day;
    double recorded_unix_s;
    auto operator<=>(const Moment&) const = default;
};
Moment moment_of(const ProofStop& s) { return {s.day, s.recorded_unix_s}; }
// Work of which only the day is known stands before the stops of that day.
Moment moment_of(const Work& w) { return {w.day, w.recorded_unix_s.value_or(-std::numeric_limits<double>::infinity())}; }

bool starts_history(WorkKind k) { return k == WorkKind::new_pads || k == WorkKind::bleed || k == WorkKind::new_cable; }
bool may_bring_bite_back(WorkKind k) { return starts_history(k) || k == WorkKind::clean || k == WorkKind::bed_in || k == WorkKind::other; }

// Stops between which nobody changed the brake.
struct Era {
    std::vector<ProofStop> stops;
    Id pads, rotor;             // empty: not known
    bool other_parts = false;   // than the era before: pads or rotor
    std::optional<Day> from;    // of the work or change that began it
};

std::vector<Era> eras_of(const Book& book, const Id& bike, End end, const std::vector<ProofStop>& stops, const Day& today) {
    std::vector<Era> eras(1);
    Moment at{"", -std::numeric_limits<double>::infinity()};
    const auto go_to = [&](const Moment& to) {
        const Part* pads = part_at(book, bike, PartKind::pads, end, to.day);
        const Part* rotor = part_at(book, bike, PartKind::rotor, end, to.day);
        const auto other = [](const Id& before, const Part* now) { return now && !before.empty() && before != now->id; };
        bool began = false, other_parts = other(eras.back().pads, pads) || other(eras.back().rotor, rotor);
        Day from = to.day;
        for (const Work& w : book.works) {
            if (w.bike_id != bike || (w.place && *w.place != end) || !starts_history(w.kind)) continue;
            if (const Moment m = moment_of(w); at < m && m <= to) {
                began = true, from = w.day;
                other_parts = other_parts || w.kind == WorkKind::new_pads;
            }
        }
        if (began || other_parts) {
            const Era& old = eras.back();
            eras.push_back({.stops = {}, .pads = old.pads, .rotor = old.rotor, .other_parts = other_parts, .from = from});
        }
        if (pads) eras.back().pads = pads->id;
        if (rotor) eras.back().rotor = rotor->id;
        at = to;
    };
    for (const ProofStop& s : stops) {
        go_to(moment_of(s));
        eras.back().stops.push_back(s);
    }
    go_to({today, std::numeric_limits<double>::infinity()});
    return eras;
}

// What the likely cases say of one brake.
struct Likely {
    std::vector<double> gain, hand_N, threshold_N;
};
Likely likely_of(const parts::Library& library, const parts::Bike& bike, End end) {
    std::vector<Input> inputs = parts::inputs_of(bike);
    const auto add = [&](std::vector<Input> more) { inputs.insert(inputs.end(), more.begin(), more.end()); };
    add(balance::inputs(library, bike));
    add(stop::inputs(library, bike));
    for (const End e : {End::front, End::rear})
        inputs.push_back(library.input(fmt::format("compound.{}.friction", parts::word_of(bike.wheel(e).pads.compound)), fmt::format("{}.friction", parts::word_of(e))));
    add(balance::late_inputs(library, bike));
    const Cases drawn = draw_cases(inputs, cases_drawn, 1);
    Likely out;
    for (std::size_t i = 0; i < drawn.size(); ++i) {
        const CaseRow row(drawn, i);
        const parts::Bike one = parts::bike_of_case(bike, row);
        const stop::StopUnknowns u = stop::unknowns_of(library, bike, row);
        out.gain.push_back(stop::proof_expected_gain(one, end, u));
        out.hand_N.push_back(stop::hand_force_N(one.rider.hand, u, one.wheel(end).lever.bite_mm.value, stop::HandState::warm));
        out.threshold_N.push_back(u.brake(end).threshold_N);
    }
    return out;
}

class Judge {
public:
    Judge(const Book& book, const parts::Bike& described, End end, const parts::Library& library) : book_(book), described_(described), end_(end), library_(library), terms_(stop::proof_terms(library)) {}

    stop::ProofGain gain(const std::vector<ProofStop>& stops, const Id& pads) {
        parts::Bike bike = described_;
        for (const Part& p : book_.parts)
            if (p.id == pads && p.compound) bike.wheel(end_).pads.compound = *p.compound;
        const parts::Compound compound = bike.wheel(end_).pads.compound;
        std::optional<Likely>& likely = likely_[static_cast<std::size_t>(compound)];
        if (!likely) likely = likely_of(library_, bike, end_);
        return stop::proof_gain(stops_of(stops), end_, terms_, stop::proof_bike(bike, likely->threshold_N), {.gain = likely->gain, .hand_N = likely->hand_N});
    }

private:
    const Book& book_;
    const parts::Bike& described_;
    End end_;
    const parts::Library& library_;
    stop::ProofTerms terms_;
    std::array<std::optional<Likely>, 3> likely_;   // by compound
};

bool below_expected(const stop::ProofGain& g) { return g.measured && g.gain && g.gain->p95 < g.expected.p05; }

// An alarm, or a finding far below what is expected, and what it rests on.
struct Open {
    std::string code, text;
    std::vector<ProofStop> stops;   // of its era
    std::vector<Id> rests_on;
    bool worked = false;            // work on the brake came after it
};

}  // namespace

stop::ProofStop stop_of(const ProofStop& s) {
    return {.day = parse_day(s.day).value_or(0), .stop = s.name, .wheel = s.brakes, .from_mps = s.from_mps, .distance_m = s.distance_m, .time_s = s.time_s, .lever_force_N = s.lever_force_N,
            .surface = s.surface, .grade = s.grade, .way = s.way, .from_sd_mps = s.from_sd_mps, .distance_sd_m = s.distance_sd_m};
}
std::vector<stop::ProofStop> stops_of(const std::vector<ProofStop>& stops) {
    std::vector<stop::ProofStop> out;
    for (const ProofStop& s : stops) out.push_back(stop_of(s));
    return out;
}

std::optional<ProofRead> proof_read(const Book& book, const Id& bike, const parts::Bike& described, End end, const parts::Library& library, const Day& today) {
    std::vector<ProofStop> stops;
    for (const ProofStop& s : book.proof_stops)
        if (s.bike_id == bike && s.day <= today && s.cleared_by.empty() && s.brakes == (end == End::front ? stop::Brakes::front : stop::Brakes::rear)) stops.push_back(s);
    if (stops.empty()) return std::nullopt;
    std::stable_sort(stops.begin(), stops.end(), [](const ProofStop& a, const ProofStop& b) { return moment_of(a) < moment_of(b); });
    const std::vector<Era> eras = eras_of(book, bike, end, stops, today);
    Judge judge(book, described, end, library);
    ProofRead out;
    const std::string wheel(word_of(end));
    const auto from = [&](const Era& era, long day) {
        std::vector<Id> ids;
        for (const ProofStop& s : era.stops)
            if (parse_day(s.day).value_or(0) >= day) ids.push_back(s.id);
        return ids;
    };
    std::optional<Open> open;
    for (std::size_t k = 0; k < eras.size(); ++k) {
        const Era& era = eras[k];
        if (k > 0 && open) open->worked = true;
        if (era.stops.empty()) continue;
        const stop::ProofGain g = judge.gain(era.stops, era.pads);
        // After work a set of enough stops that finds what such a brake should give ends what stood before it. Where pads and
        // rotor are the same it must also be back near what they gave.
        if (open) {
            std::set<Day> days;
            for (const ProofStop& s : era.stops) days.insert(s.day);
            for (const Day& day : days) {
                std::vector<ProofStop> until;
                for (const ProofStop& s : era.stops)
                    if (s.day <= day) until.push_back(s);
                const stop::ProofGain then = judge.gain(until, era.pads);
                if (!then.measured || then.stops < enough_stops || then.alarm || below_expected(then)) continue;
                if (!era.other_parts) {
                    std::vector<ProofStop> both = open->stops;
                    both.insert(both.end(), until.begin(), until.end());
                    if (judge.gain(both, era.pads).alarm) continue;
                }
                open.reset();
                break;
            }
        }
        const auto worked_between = [&](long first, long last) {
            return std::any_of(book.works.begin(), book.works.end(), [&](const Work& w) {
                const long day = parse_day(w.day).value_or(0);
                return w.bike_id == bike && (!w.place || *w.place == end) && may_bring_bite_back(w.kind) && day >= first && day <= last;
            });
        };
        if (g.alarm)
            open = Open{wheel + "_proof_alarm", g.text, era.stops, from(era, *g.fell_on)};
        else if (g.fell_on && (!g.found_again_on || !worked_between(*g.fell_on, *g.found_again_on)))
            open = Open{wheel + "_proof_alarm",
                        fmt::format("Do not ride: on {} the proof stops found the {} brake biting less than before. It bites again, but no work on it was noted since: what took the bite away may come back. Say what was done (`papers add work`) and brake it {} times or more again, or clear it by name.",
                                    format_day(*g.fell_on), wheel, enough_stops),
                        era.stops, from(era, *g.fell_on)};
        else if (below_expected(g) && g.stops + g.history_stops >= enough_stops)
            open = Open{wheel + "_proof_below_expected",
                        fmt::format("Do not ride: the proof stops find {:.0f} % less at the {} brake than such a brake should give. Look for oil, glaze, air, pads that are not bedded in.", 100 * (1 - g.gain->p50 / g.expected.p50), wheel),
                        era.stops, from(era, std::numeric_limits<long>::min())};
        if (k + 1 == eras.size()) out.gain = g;
    }
    out.stops = eras.back().stops;
    out.since = eras.back().from;
    if (open) {
        std::string text = open->text;
        if (open->worked) text += fmt::format(" Work on it was noted since: {} stops or more of one day with a lever force, near what it gave before, end this.", enough_stops);
        out.check = Check{.id = CheckId::other, .code = open->code, .state = State::held_back, .done = true, .do_not_ride = true, .text = text};
        out.rests_on = open->rests_on;
    } else if (out.gain && below_expected(*out.gain)) {
        out.check = Check{.id = CheckId::other, .code = wheel + "_proof_below_expected", .state = State::measure_better, .done = true, .do_not_ride = false,
                          .text = fmt::format("{} brake: so few proof stops, and they find {:.0f} % less than such a brake should give. Brake {} times or more with a lever force read before it is relied on.", end == End::front ? "Front" : "Rear", 100 * (1 - out.gain->gain->p50 / out.gain->expected.p50), enough_stops)};
    }
    return out;
}

std::string words_of(const ProofRead& read) {
    std::string text;
    if (read.stops.empty()) {
        text = fmt::format("the brake was changed on {}; no proof stops since.", read.since.value_or("?"));
    } else if (!read.gain || !read.gain->gain) {
        text = fmt::format("{} stops, the last on {}: {}", read.stops.size(), read.stops.back().day, read.gain ? read.gain->text : "");
    } else {
        const stop::ProofGain& g = *read.gain;
        text = fmt::format("{} stops, the last on {}: {:.1f} m/s² for each 100 N at the lever ({:.1f} to {:.1f}); expected {:.1f} ({:.1f} to {:.1f}). {}", read.stops.size(), read.stops.back().day,
                           100 * g.gain->p50, 100 * g.gain->p05, 100 * g.gain->p95, 100 * g.expected.p50, 100 * g.expected.p05, 100 * g.expected.p95, g.text);
    }
    return text;
}

}  // namespace bw::papers
