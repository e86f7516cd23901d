// SPDX-License-Identifier: Apache-2.0
// Proof stops in the papers: which of them are a brake's history, and when they hold a bike back.       Layer: papers
// Rules: docs/formats-papers.md (verdict from the papers), docs/decisions/0017-proof-in-the-papers.md.
#include <fmt/format.h>

#include <algorithm>
#include <array>
#include <cmath>
#include <limits>
#include <map>
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
    std::vector<double> gain, hand_N, threshold_N, travel_mm;
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
        out.travel_mm.push_back(u.brake(end).travel_mm);
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
        return stop::proof_gain(stops_of(stops), end_, terms_, stop::proof_bike(bike, end_, likely->threshold_N, likely->travel_mm), {.gain = likely->gain, .hand_N = likely->hand_N});
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
    std::vector<ProofStop> stops;   // of its era and of those before with the same pads and rotor
    std::vector<Id> rests_on;
    long fell = 0;                  // day of the fall
    bool alarm = false;
    bool worked = false;            // work on the brake came after it
};

// What was in the papers at a moment of noting. What has no such moment was always there.
Book as_known(const Book& book, double at_unix_s) {
    Book known = book;
    std::erase_if(known.proof_stops, [&](const ProofStop& s) { return s.recorded_unix_s > at_unix_s; });
    std::erase_if(known.works, [&](const Work& w) { return w.recorded_unix_s.value_or(at_unix_s) > at_unix_s; });
    std::erase_if(known.fittings, [&](const Fitting& f) { return f.noted_unix_s.value_or(at_unix_s) > at_unix_s; });
    return known;
}

// The stops of one brake that count, in the order ridden.
std::vector<ProofStop> counting(const Book& book, const Id& bike, End end, const Day& today) {
    std::vector<ProofStop> stops;
    for (const ProofStop& s : book.proof_stops)
        if (s.bike_id == bike && s.day <= today && s.cleared_by.empty() && s.brakes == (end == End::front ? stop::Brakes::front : stop::Brakes::rear)) stops.push_back(s);
    std::stable_sort(stops.begin(), stops.end(), [](const ProofStop& a, const ProofStop& b) { return moment_of(a) < moment_of(b); });
    return stops;
}

// Day by day, with what the book knows.
struct Walked {
    std::vector<Era> eras;
    std::optional<stop::ProofGain> gain;   // of the last era
    std::optional<Open> open;
};
Walked walk(const Book& book, const Id& bike, End end, const std::vector<ProofStop>& stops, const Day& today, Judge& judge) {
    Walked out{.eras = eras_of(book, bike, end, stops, today), .gain = {}, .open = {}};
    const std::vector<Era>& eras = out.eras;
    std::optional<Open>& open = out.open;
    std::vector<ProofStop> before;   // of the eras before with the same pads and rotor
    const std::string wheel(word_of(end));
    const auto from = [](const std::vector<ProofStop>& set, long day) {
        std::vector<Id> ids;
        for (const ProofStop& s : set)
            if (parse_day(s.day).value_or(0) >= day) ids.push_back(s.id);
        return ids;
    };
    for (std::size_t k = 0; k < eras.size(); ++k) {
        const Era& era = eras[k];
        if (k > 0 && open) open->worked = true;
        if (era.other_parts) before.clear();
        if (era.stops.empty()) continue;
        const stop::ProofGain own = judge.gain(era.stops, era.pads);
        if (k + 1 == eras.size()) out.gain = own;
        // The same pads on the same rotor should give what they gave, whatever was done: held against those days too.
        // A day on which it was changed would be judged whole: of that day the stops before the change are left out, or stand for
        // the day before where there are no others.
        std::vector<ProofStop> all;
        for (const ProofStop& s : before)
            if (s.day < era.stops.front().day) all.push_back(s);
        if (all.empty()) {
            all = before;
            for (ProofStop& s : all) s.day = format_day(parse_day(era.stops.front().day).value_or(0) - 1);
        }
        all.insert(all.end(), era.stops.begin(), era.stops.end());
        const stop::ProofGain g = before.empty() || own.alarm ? own : judge.gain(all, era.pads);
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
            open = Open{wheel + "_proof_alarm", g.text, all, from(all, *g.fell_on), *g.fell_on, true};
        else if (g.fell_on && (!g.found_again_on || !worked_between(*g.fell_on, *g.found_again_on)))
            open = Open{wheel + "_proof_alarm",
                        fmt::format("Do not ride: on {} the proof stops found the {} brake biting less than before. It bites again, but no work on it was noted since: what took the bite away may come back. Say what was done (`papers add work`) and brake it {} times or more again, or clear it by name.",
                                    format_day(*g.fell_on), wheel, enough_stops),
                        all, from(all, *g.fell_on), *g.fell_on, true};
        else if (below_expected(g) && g.stops + g.history_stops >= enough_stops)
            open = Open{wheel + "_proof_below_expected",
                        fmt::format("Do not ride: the proof stops find {:.0f} % less at the {} brake than such a brake should give. Look for oil, glaze, air, pads that are not bedded in.", 100 * (1 - g.gain->p50 / g.expected.p50), wheel),
                        all, from(era.stops, std::numeric_limits<long>::min())};
        before.insert(before.end(), era.stops.begin(), era.stops.end());
    }
    return out;
}

bool on_brake(const Work& w, const Id& bike, End end) { return w.bike_id == bike && (!w.place || *w.place == end) && may_bring_bite_back(w.kind); }

// An alarm that was raised, and when the papers came to know it.
struct Fact {
    Open open;
    double noted_unix_s = 0;
    Id pads, rotor;
};

// Ended by work or another part that was noted after the alarm and done no earlier, and stops of one day after it that are sound.
bool ended(const Fact& fact, const Book& book, const Id& bike, End end, const std::vector<ProofStop>& stops, const Day& today, Judge& judge) {
    std::vector<Moment> works;
    for (const Work& w : book.works)
        if (on_brake(w, bike, end) && w.day <= today && parse_day(w.day).value_or(0) >= fact.open.fell && (w.recorded_unix_s ? *w.recorded_unix_s > fact.noted_unix_s : parse_day(w.day).value_or(0) > fact.open.fell)) works.push_back(moment_of(w));
    // A part that is said to have been there before the fall is no other part since.
    const Day before = format_day(fact.open.fell - 1);
    const auto other = [&](PartKind kind, const Id& then, const Day& day) {
        const Part* now = part_at(book, bike, kind, end, day);
        const Part* old = part_at(book, bike, kind, end, before);
        return now && !then.empty() && then != now->id && !(old && old->id == now->id);
    };
    for (const Fitting& f : book.fittings)
        if (f.from_day <= today && f.noted_unix_s.value_or(0) > fact.noted_unix_s && parse_day(f.from_day).value_or(0) >= fact.open.fell && (other(PartKind::pads, fact.pads, f.from_day) || other(PartKind::rotor, fact.rotor, f.from_day)))
            works.push_back({f.from_day, *f.noted_unix_s});
    if (works.empty()) return false;
    const Moment work = *std::min_element(works.begin(), works.end());
    std::map<Day, std::vector<ProofStop>> days;
    for (const ProofStop& s : stops)
        if (work < moment_of(s)) days[s.day].push_back(s);
    for (const auto& [day, set] : days) {
        const Part* pads = part_at(book, bike, PartKind::pads, end, day);
        const bool other_parts = other(PartKind::pads, fact.pads, day) || other(PartKind::rotor, fact.rotor, day) ||
                                 std::any_of(book.works.begin(), book.works.end(), [&](const Work& w) { return on_brake(w, bike, end) && w.kind == WorkKind::new_pads && w.recorded_unix_s.value_or(0) > fact.noted_unix_s && parse_day(w.day).value_or(0) >= fact.open.fell && moment_of(w) < moment_of(set.front()); });
        const stop::ProofGain alone = judge.gain(set, pads ? pads->id : fact.pads);
        if (!alone.measured || alone.stops < enough_stops || below_expected(alone)) continue;
        if (other_parts) return true;
        std::vector<ProofStop> both;
        for (const ProofStop& s : fact.open.stops)
            if (s.day < day) both.push_back(s);
        both.insert(both.end(), set.begin(), set.end());
        if (!judge.gain(both, fact.pads).alarm) return true;
    }
    return false;
}

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

namespace {

// What the stops of this brake say of it, wherever its parts came from.
std::optional<ProofRead> own_read(const Book& book, const Id& bike, const parts::Bike& described, End end, const parts::Library& library, const Day& today) {
    const std::vector<ProofStop> stops = counting(book, bike, end, today);
    if (stops.empty()) return std::nullopt;
    Judge judge(book, described, end, library);
    ProofRead out;
    const std::string wheel(word_of(end));
    Walked now = walk(book, bike, end, stops, today, judge);
    const std::vector<Era>& eras = now.eras;
    std::optional<Open>& open = now.open;
    out.gain = now.gain;
    // What is noted later with an earlier day may take an alarm out of that walk, not out of the world: it is looked for as the
    // papers knew the brake before each such note.
    std::set<double> noted;
    for (const ProofStop& s : stops) noted.insert(s.recorded_unix_s);
    for (const double at : noted) {
        Day newest;
        for (const ProofStop& s : stops)
            if (s.recorded_unix_s <= at) newest = std::max(newest, s.day);
        const bool back_dated = std::any_of(stops.begin(), stops.end(), [&](const ProofStop& s) { return s.recorded_unix_s > at && s.day <= newest; }) ||
                                std::any_of(book.works.begin(), book.works.end(), [&](const Work& w) { return on_brake(w, bike, end) && w.recorded_unix_s.value_or(at) > at && w.day <= newest; }) ||
                                std::any_of(book.fittings.begin(), book.fittings.end(), [&](const Fitting& f) { return f.noted_unix_s.value_or(at) > at && f.from_day <= newest; });
        if (!back_dated) continue;
        const Book known = as_known(book, at);
        Walked then = walk(known, bike, end, counting(known, bike, end, today), newest, judge);
        if (!then.open || !then.open->alarm) continue;
        const Fact fact{.open = *then.open, .noted_unix_s = at, .pads = then.eras.back().pads, .rotor = then.eras.back().rotor};
        if (ended(fact, book, bike, end, stops, today, judge)) continue;
        std::vector<Id> rests_on;
        for (const ProofStop& s : stops)
            if (parse_day(s.day).value_or(0) >= fact.open.fell) rests_on.push_back(s.id);
        const bool alone = !open || !open->alarm;
        if (alone) {
            open = fact.open;
            open->worked = std::any_of(book.works.begin(), book.works.end(), [&](const Work& w) { return on_brake(w, bike, end) && w.recorded_unix_s.value_or(0) > at && w.day <= today; });
            open->text += " What was noted since with the same or an earlier day does not end this.";
        } else {
            for (const Id& id : open->rests_on)
                if (std::find(rests_on.begin(), rests_on.end(), id) == rests_on.end()) rests_on.push_back(id);
        }
        open->rests_on = std::move(rests_on);
        break;
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

// A brake that was held back by its proof stops when this part left it: the part may be why, wherever it is now.
struct Carried {
    std::string text;
    std::vector<Id> rests_on;
};
// When a stay was noted; of a time that nobody kept nothing of its first day can be said to be later.
double came_noted(const Book& book, const Id& part, const PartStay& stay) {
    double noted = -std::numeric_limits<double>::infinity();
    const auto began = [&](const Fitting& f) {
        if (f.from_day == stay.from) noted = std::max(noted, f.noted_unix_s.value_or(std::numeric_limits<double>::infinity()));
    };
    for (const Fitting& f : book.fittings) {
        if (f.part_id != part) continue;
        if (f.bike_id == stay.bike && f.place == stay.end) began(f);
        if (!f.wheel_id) continue;
        for (const Fitting& g : book.fittings)
            if (g.part_id == *f.wheel_id && g.bike_id == stay.bike && g.place == stay.end && std::max(f.from_day, g.from_day) == stay.from) began(f), began(g);
    }
    return noted;
}

// Work that may rid the carried part of what took the bite away. New pads are other pads, not these mended.
bool mends(WorkKind k, PartKind carried) { return k == WorkKind::clean || k == WorkKind::other || (k == WorkKind::new_pads && carried == PartKind::rotor); }

std::optional<Carried> carried_by(const Book& book, const Part& part, const Id& bike, End end, const parts::Library& library, const Day& today) {
    const std::vector<PartStay> stays = stays_of_part(book, part.id, today);
    if (stays.size() < 2) return std::nullopt;
    struct From {
        Id bike;
        End end;
        bool alarm;
        std::vector<Id> rests_on;
        double before;   // what it gave before it fell / what such a brake should give; 1 where that is not known or less
    };
    std::optional<From> from;
    for (std::size_t k = 0; k < stays.size(); ++k) {
        const PartStay& stay = stays[k];
        const auto home = std::find_if(book.bikes.begin(), book.bikes.end(), [&](const Bike& b) { return b.id == stay.bike; });
        if (home == book.bikes.end()) continue;
        const Result<parts::Bike> described = parts::read_bike(home->description_toml, home->name, library);
        if (!described) continue;
        const bool here = k + 1 == stays.size() && stay.bike == bike && stay.end == end && (!stay.to || *stay.to > today);
        const Day last = here ? today : stay.to && *stay.to <= today ? format_day(parse_day(*stay.to).value_or(0) - 1) : today;
        const std::vector<ProofStop> stops = counting(book, stay.bike, stay.end, last);
        if (from) {
            // Ended here by work on what came, and then a sound day: both after it was noted as there, for before that on that day
            // the brake had its own.
            Judge judge(book, *described, stay.end, library);
            const Moment came{stay.from, came_noted(book, part.id, stay)};
            std::optional<Moment> work;
            for (const Work& w : book.works)
                if (on_brake(w, stay.bike, stay.end) && mends(w.kind, part.kind) && came < moment_of(w) && w.day <= last && (!work || moment_of(w) < *work)) work = moment_of(w);
            std::map<Day, std::vector<ProofStop>> days;
            for (const ProofStop& s : stops)
                if (came < moment_of(s) && (!from->alarm || (work && *work < moment_of(s)))) days[s.day].push_back(s);
            const Part* pads = part_at(book, stay.bike, PartKind::pads, stay.end, last);
            for (const auto& [day, set] : days) {
                const stop::ProofGain alone = judge.gain(set, pads ? pads->id : Id());
                // As on its own brake no more than a fifth below what stood before, which here is what such a brake should give, and
                // as much more as it gave there.
                const bool near = !from->alarm || std::exp(alone.stops_log) >= 0.8 * from->before * alone.expected.p50;
                if (alone.measured && alone.stops >= enough_stops && !alone.alarm && !below_expected(alone) && near) {
                    from.reset();
                    break;
                }
            }
        }
        if (here) break;   // what the stops found here this brake's own read says
        // As the papers know it of the last day there; and of the day of the change as they knew it before that was noted.
        // A part that came when the brake had fallen already is not why.
        const auto holds = [&](const std::optional<ProofRead>& read) {
            return read && read->check && read->check->do_not_ride && std::none_of(book.proof_stops.begin(), book.proof_stops.end(), [&](const ProofStop& s) {
                       return s.day < stay.from && std::find(read->rests_on.begin(), read->rests_on.end(), s.id) != read->rests_on.end();
                   });
        };
        std::optional<ProofRead> then;
        if (last >= stay.from) then = own_read(book, stay.bike, *described, stay.end, library, last);
        if (!holds(then) && stay.to) {
            double noted = std::numeric_limits<double>::infinity();
            for (const Fitting& f : book.fittings)
                if (f.from_day == *stay.to && f.noted_unix_s && (f.part_id == part.id || (f.bike_id == stay.bike && f.place == stay.end))) noted = std::min(noted, *f.noted_unix_s);
            if (std::isfinite(noted)) then = own_read(as_known(book, std::nextafter(noted, 0)), stay.bike, *described, stay.end, library, std::min(*stay.to, today));
        }
        if (holds(then)) {
            const std::optional<stop::ProofGain>& fell = then->gain;
            const bool known = fell && fell->gain && fell->change && fell->change->p50 > 0;
            from = From{stay.bike, stay.end, then->check->code.ends_with("alarm"), then->rests_on, known ? std::max(1.0, fell->gain->p50 / fell->expected.p50 / fell->change->p50) : 1.0};
        }
    }
    if (!from) return std::nullopt;
    const auto name = std::find_if(book.bikes.begin(), book.bikes.end(), [&](const Bike& b) { return b.id == from->bike; })->name;
    const bool pads = part.kind == PartKind::pads;
    Carried out{.text = fmt::format("Do not ride: the {} '{}' came to the {} brake from the {} brake of {}, and before that the proof stops found that brake giving {}. What took the bite away may have come along.", word_of(part.kind), part.name,
                                    word_of(end), word_of(from->end), name, from->alarm ? "less than before" : "far less than such a brake should"),
                .rests_on = from->rests_on};
    if (from->alarm) out.text += fmt::format(" Clean {} and note that work (`papers add work clean`), or put {} on.", pads ? "them" : "it", pads ? "other pads" : "another rotor");
    out.text += fmt::format(" {} stops or more of one day with a lever force{}, end this. The old stops are of {}: a named person clears them there, and they count for nothing for either.", enough_stops,
                            !from->alarm        ? std::string(", that find what such a brake should give")
                            : from->before < 1.02 ? std::string(" after it, that find no more than a fifth less than such a brake should give")
                                                  : fmt::format(" after it, that find no more than a fifth less than {:.1f} times what such a brake should give (so much more it gave where they came from)", from->before), name);
    return out;
}

}  // namespace

std::optional<ProofRead> proof_read(const Book& book, const Id& bike, const parts::Bike& described, End end, const parts::Library& library, const Day& today) {
    std::optional<ProofRead> out = own_read(book, bike, described, end, library, today);
    if (out && out->check && out->check->do_not_ride) return out;
    for (const PartKind kind : {PartKind::pads, PartKind::rotor}) {
        const Part* part = part_at(book, bike, kind, end, today);
        std::optional<Carried> carried = part ? carried_by(book, *part, bike, end, library, today) : std::nullopt;
        if (!carried) continue;
        if (!out) out.emplace();
        out->check = Check{.id = CheckId::other, .code = fmt::format("{}_proof_came_with_{}", word_of(end), word_of(kind)), .state = State::held_back, .done = true, .do_not_ride = true, .text = std::move(carried->text)};
        out->rests_on = std::move(carried->rests_on);
        break;
    }
    return out;
}

std::string words_of(const ProofRead& read) {
    std::string text;
    const std::string stops = fmt::format("{} stop{}", read.stops.size(), read.stops.size() == 1 ? "" : "s");
    if (read.stops.empty() && !read.since) {
        text = "no proof stops of this brake.";
    } else if (read.stops.empty()) {
        text = fmt::format("the brake was changed on {}; no proof stops since.", read.since.value_or("?"));
    } else if (!read.gain || !read.gain->gain) {
        text = fmt::format("{}, the last on {}: {}", stops, read.stops.back().day, read.gain ? read.gain->text : "");
    } else {
        const stop::ProofGain& g = *read.gain;
        text = fmt::format("{}, the last on {}: {:.1f} m/s² ({:.1f} to {:.1f}) for each 100 N at the lever; expected {:.1f} m/s² ({:.1f} to {:.1f}). {}", stops, read.stops.back().day,
                           100 * g.gain->p50, 100 * g.gain->p05, 100 * g.gain->p95, 100 * g.expected.p50, 100 * g.expected.p05, 100 * g.expected.p95, g.text);
    }
    return text;
}

}  // namespace bw::papers
