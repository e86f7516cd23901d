// SPDX-License-Identifier: Apache-2.0
// What the papers say of a bike today.                                                                  Layer: papers
#include "papers/state.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <functional>
#include <iterator>
#include <map>

#include "base/interval.hpp"
#include "base/time.hpp"
#include "run_outs.hpp"

namespace bw::papers {

namespace {

using inspect::Check;
using inspect::CheckId;
using inspect::Plate;
using inspect::State;
using parts::End;

template <class T>
const T* by_id(const std::vector<T>& list, const Id& id) {
    const auto it = std::find_if(list.begin(), list.end(), [&](const T& x) { return x.id == id; });
    return it == list.end() ? nullptr : &*it;
}

std::string name_of(const Book& book, const Id& person) {
    const Person* p = by_id(book.people, person);
    return p ? p->name : "somebody";
}

// Words of a person inside a sentence of ours: the pages leave what stands in these marks as it was written.
std::string quoted(const std::string& words) { return "\u201C" + words + "\u201D"; }

long days_between(const Day& from, const Day& to) { return parse_day(to).value_or(0) - parse_day(from).value_or(0); }

constexpr double days_a_month = 365.25 / 12;

Check held(std::string code, std::string text) { return {.id = CheckId::other, .code = std::move(code), .state = State::held_back, .done = true, .do_not_ride = true, .text = std::move(text)}; }
Check look(std::string code, std::string text) { return {.id = CheckId::other, .code = std::move(code), .state = State::measure_better, .done = true, .do_not_ride = false, .text = std::move(text)}; }

// What one reading says: the check that it alone would give, and how good it is.
struct Said {
    Check check;
    double uncertainty = 0;
    bool own = true;   // false: stands here only as one that may better earlier ones
    int places = 1;    // how much of the thing was read: fewer places never better more
    bool betters = true;   // false: it may be off by more than its uncertainty, so it does away with no other
};

// The newest counts. An earlier one that holds back counts as well until a later one is better than it.
void keep_standing(std::vector<Check>& out, const std::vector<Said>& in_order) {
    for (std::size_t i = 0; i < in_order.size(); ++i) {
        const bool newest = i + 1 == in_order.size();
        const bool bettered = std::any_of(in_order.begin() + static_cast<long>(i) + 1, in_order.end(), [&](const Said& later) {
            return later.betters && inspect::betters(later.uncertainty, later.places, in_order[i].uncertainty, in_order[i].places);
        });
        if ((newest && in_order[i].own) || (in_order[i].check.do_not_ride && !bettered)) out.push_back(in_order[i].check);
    }
}

void pad_checks(std::vector<Check>& out, const Book& book, const Bike& bike, const parts::Bike& described, End end, const inspect::Practice& practice, const parts::Library& library, const Day& today) {
    const Part* pads = part_at(book, bike.id, PartKind::pads, end, today);
    const CheckId id = end == End::front ? CheckId::front_pad_thickness : CheckId::rear_pad_thickness;
    if (!pads) {
        out.push_back(inspect::check_never_measured(id));
        return;
    }
    const double plate_mm = described.wheel(end).pads.plate_thickness_mm.value;
    bool any = false;
    // A reading of no named side is of the thinner pad, so it stands beside those of both sides.
    for (const std::optional<Side> side : {std::optional<Side>(), std::optional<Side>(Side::left), std::optional<Side>(Side::right)}) {
        std::vector<Said> said;
        for (const Reading& r : book.readings) {
            if (r.part_id != pads->id || r.what != What::pad_thickness || r.day > today) continue;
            std::vector<double> corners;
            inspect::Reading worst;
            Plate plate = Plate::not_in_the_reading;
            // A reading of both pads betters one of "the pad", whichever that was.
            const auto has = [&](const std::optional<Side>& s) { return std::any_of(r.points.begin(), r.points.end(), [&](const Point& p) { return p.side == s && p.length_mm; }); };
            const bool own = has(side), of_both = !side && has(Side::left) && has(Side::right);
            for (const Place& at : places_of(r, scatter_of(book, r, library))) {
                const Point& p = at.point;
                if (!(own ? p.side == side : of_both) || !p.length_mm) continue;
                const inspect::Reading f = friction_of(book, r, *p.length_mm, plate_mm, practice, at.contradict ? 1 : static_cast<int>(at.repeats.size()));
                corners.push_back(f.value);
                worst.uncertainty = std::max(worst.uncertainty, f.uncertainty);
                plate = f.plate;
            }
            if (corners.empty()) continue;
            said.push_back({inspect::check_pad({.end = end, .which = side ? word_of(*side) : "", .corners_mm = corners, .uncertainty_mm = worst.uncertainty, .plate = plate, .least_mm = pads->least_thickness_mm}, practice), worst.uncertainty, own});
        }
        any = any || !said.empty();
        keep_standing(out, said);
    }
    if (!any) out.push_back(inspect::check_never_measured(id));
}

// A thickness reading of a rotor with its anvil, and the ridge as it was last read up to today. places_mm: filled, and looked at
// by what is returned.
inspect::RotorCheck rotor_asked(const Book& book, const Reading& r, const inspect::Practice& practice, const parts::Library& library, const Day& today, std::vector<double>& places_mm) {
    inspect::RotorCheck c;
    for (const Reading& x : book.readings)
        if (x.part_id == r.part_id && x.what == What::rotor_ridge && x.day <= today)
            for (const Point& p : x.points)
                if (p.length_mm) c.ridge_mm = *p.length_mm, c.ridge_uncertainty_mm = uncertainty_mm(book, x, practice);
    int repeats = 1000;
    for (const Place& at : places_of(r, scatter_of(book, r, library))) {
        if (at.point.length_mm) places_mm.push_back(*at.point.length_mm);
        repeats = std::min(repeats, at.contradict ? 1 : static_cast<int>(at.repeats.size()));
    }
    const Instrument* tool = r.instrument_id ? by_id(book.instruments, *r.instrument_id) : nullptr;
    c.anvil = r.anvil ? *r.anvil : tool && tool->anvil ? *tool->anvil : parts::Anvil::not_told;
    c.uncertainty_mm = uncertainty_mm(book, r, practice, repeats);
    c.places_mm = places_mm;
    return c;
}

void rotor_check(std::vector<Check>& out, const Book& book, const Bike& bike, End end, const inspect::Practice& practice, const parts::Library& library, const Day& today) {
    const Part* rotor = part_at(book, bike.id, PartKind::rotor, end, today);
    std::vector<Said> said;
    if (rotor) {
        for (const Reading& r : book.readings) {
            if (r.part_id != rotor->id || r.what != What::rotor_thickness || r.day > today) continue;
            std::vector<double> places;
            inspect::RotorCheck c = rotor_asked(book, r, practice, library, today, places);
            c.end = end, c.least_mm = rotor->least_thickness_mm;
            const std::optional<inspect::Band> band = inspect::band_of(c);
            said.push_back({.check = inspect::check_rotor(c, practice), .uncertainty = band ? band->uncertainty_mm : c.uncertainty_mm, .own = true, .places = 1, .betters = band && !band->too_thick});
        }
    }
    if (said.empty()) out.push_back(inspect::check_never_measured(end == End::front ? CheckId::front_rotor_thickness : CheckId::rear_rotor_thickness));
    keep_standing(out, said);
}

// Readings of this end that were noted before this part was said to have been there all the while: then they are of this part, or
// that day is wrong. Which, only a reading that is noted afterwards tells, of that day or later, each pad by itself. Until then
// they are judged as they were known, by the numbers of the part that was thought to be there, and as they are now, by those of this
// one; what either finds stands.
void told_before(std::vector<Check>& out, const Book& book, const Bike& bike, End end, PartKind kind, What what, const Day& today, const std::function<void(std::vector<Check>&, const Book&)>& judge) {
    const Part* part = part_at(book, bike.id, kind, end, today);
    if (!part) return;
    const std::vector<PartStay> stays = stays_of_part(book, part->id, today);
    // When it was noted that this part was there on the day of a reading that was noted as of another.
    const auto noted_after = [&](const Reading& r) -> std::optional<double> {
        if (r.bike_id != bike.id || r.place != end || !r.part_id || *r.part_id == part->id || r.day > today) return std::nullopt;
        for (const PartStay& stay : stays)
            if (stay.bike == bike.id && stay.end == end && stay.noted_unix_s && *stay.noted_unix_s > r.recorded_unix_s && stay.from < r.day && (!stay.to || r.day < *stay.to)) return stay.noted_unix_s;
        return std::nullopt;
    };
    const auto answers = [&](const Reading& q, const std::optional<Side>& side) {
        const auto has = [&](const std::optional<Side>& s) { return std::any_of(q.points.begin(), q.points.end(), [&](const Point& p) { return p.side == s; }); };
        return has(std::nullopt) || (side ? has(side) : has(Side::left) && has(Side::right));
    };
    std::vector<Reading> doubtful;
    for (const Reading& r : book.readings) {
        const std::optional<double> noted = r.what == what ? noted_after(r) : std::nullopt;
        if (!noted) continue;
        Reading open = r;
        std::erase_if(open.points, [&](const Point& p) {
            return std::any_of(book.readings.begin(), book.readings.end(), [&](const Reading& q) {
                return q.what == what && q.part_id == part->id && q.day >= r.day && q.day <= today && q.recorded_unix_s > *noted && answers(q, p.side);
            });
        });
        if (!open.points.empty()) doubtful.push_back(std::move(open));
    }
    if (doubtful.empty()) return;
    std::vector<Check> said;
    const auto judged = [&](Book told, const std::vector<Reading>& readings) {
        std::erase_if(told.readings, [&](const Reading& r) { return r.what == what; });
        told.readings.insert(told.readings.end(), readings.begin(), readings.end());
        judge(said, told);
    };
    std::vector<Id> thought;
    for (const Reading& r : doubtful)
        if (std::find(thought.begin(), thought.end(), *r.part_id) == thought.end()) thought.push_back(*r.part_id);
    for (const Id& old : thought) {
        Book known = book;
        std::erase_if(known.fittings, [&](const Fitting& f) { return f.part_id == part->id; });
        known.fittings.push_back({.id = {}, .part_id = old, .bike_id = bike.id, .wheel_id = {}, .place = end, .from_day = {}, .to_day = {}});
        std::vector<Reading> of_old;
        std::copy_if(doubtful.begin(), doubtful.end(), std::back_inserter(of_old), [&](const Reading& r) { return r.part_id == old; });
        judged(std::move(known), of_old);
    }
    // What was read beside them (plate, ridge) goes along.
    Book now = book;
    for (Reading& r : now.readings)
        if (noted_after(r)) r.part_id = part->id;
    for (Reading& r : doubtful) r.part_id = part->id;
    judged(std::move(now), doubtful);
    std::stable_sort(said.begin(), said.end(), [](const Check& a, const Check& b) { return a.do_not_ride > b.do_not_ride; });
    for (auto c = said.begin(); c != said.end(); ++c) {
        if (!c->done || c->state < State::measure_better || std::any_of(said.begin(), c, [&](const Check& o) { return o.code == c->code; })) continue;
        Check one = *c;
        one.text += fmt::format(" That was read before it was noted that '{}' had been there by then. Read what is there now{} and note it: then this is over.", part->name, kind == PartKind::pads ? ", both pads," : "");
        out.push_back(std::move(one));
    }
}

// Was the reading taken after this work? Of one day by the time at which each was noted; a work of which only the day is
// known leaves a reading of that day standing.
bool after(const Reading& r, const Work& w) { return r.day > w.day || (r.day == w.day && (!w.recorded_unix_s || r.recorded_unix_s >= *w.recorded_unix_s)); }

// How a reading stands to the work on this bike's end, up to today. A work that was noted after it on its day may all the
// same have been done before it: in doubt until the same is read again after that work.
enum class Since { work, in_doubt, before };
Since since(const Book& book, const Id& bike, End end, const Reading& r, std::initializer_list<WorkKind> kinds, const Day& today) {
    Since out = Since::work;
    for (const Work& w : book.works) {
        if (w.bike_id != bike || w.day > today || (w.place && *w.place != end) || std::find(kinds.begin(), kinds.end(), w.kind) == kinds.end() || after(r, w)) continue;
        const auto again = [&](const Reading& q) { return q.what == r.what && (r.part_id ? q.part_id == r.part_id : q.bike_id == r.bike_id && q.place == r.place) && q.day <= today && after(q, w); };
        if (r.day < w.day || std::any_of(book.readings.begin(), book.readings.end(), again)) return Since::before;
        out = Since::in_doubt;
    }
    return out;
}
bool since_work(const Book& book, const Id& bike, End end, const Reading& r, std::initializer_list<WorkKind> kinds, const Day& today) { return since(book, bike, end, r, kinds, today) == Since::work; }

// A reading in doubt holds back and clears nothing.
Said in_doubt(Said said) {
    said.own = false;
    said.check.text += " Work on this brake was noted later on the day of this reading. If the work came after it, read it again now and note that: then this is over.";
    return said;
}

// Does a reading that is in doubt or stands count, and how.
Said as_it_stands(Since since, Said said) { return since == Since::in_doubt ? in_doubt(std::move(said)) : said; }

bool is_table(const Reading& r) {
    return r.what == What::run_out && std::any_of(r.points.begin(), r.points.end(), [](const Point& p) { return p.angle_deg && p.length_mm; });
}

// Tables of the rotor that is there, in order. A rotor that was straightened since is another rotor. doubtful: with those
// that may have been read before it was.
std::vector<const Reading*> run_out_tables(const Book& book, const Id& bike, End end, const Day& today, bool doubtful = false) {
    std::vector<const Reading*> out;
    const Part* rotor = part_at(book, bike, PartKind::rotor, end, today);
    if (!rotor) return out;
    for (const Reading& r : book.readings)
        if (r.part_id == rotor->id && is_table(r) && r.day <= today && since(book, bike, end, r, {WorkKind::true_rotor}, today) <= (doubtful ? Since::in_doubt : Since::work)) out.push_back(&r);
    return out;
}

// The wheel that carried the rotor of a reading on its day; empty: not known.
Id wheel_of(const Book& book, const Reading& r) {
    for (const Fitting& f : book.fittings)
        if (f.part_id == r.part_id && f.wheel_id && f.from_day <= r.day && (!f.to_day || *f.to_day > r.day)) return *f.wheel_id;
    const Part* wheel = part_at(book, r.bike_id, PartKind::wheel, r.place, r.day);
    return wheel ? wheel->id : Id();
}

// How a play reading stands to work on the bearings: bolts at the end of the bike where this wheel then was, noted after it
// came there. Work on another wheel, at no named end or of no named kind sets no bearing.
Since since_bearings(const Book& book, const Reading& r, const Day& today) {
    Since out = Since::work;
    for (const Work& w : book.works) {
        if (w.kind != WorkKind::bolts || !w.place || w.day > today || after(r, w)) continue;
        const auto there = [&](const Fitting& f) {
            return f.part_id == r.part_id && f.bike_id == w.bike_id && f.place == *w.place && f.from_day <= w.day && (!f.to_day || w.day < *f.to_day) &&
                   (f.from_day < w.day || !w.recorded_unix_s || f.noted_unix_s.value_or(0) <= *w.recorded_unix_s);
        };
        if (std::none_of(book.fittings.begin(), book.fittings.end(), there)) continue;
        const auto again = [&](const Reading& q) { return q.what == r.what && q.part_id == r.part_id && q.day <= today && !q.points.empty() && after(q, w); };
        if (r.day < w.day || std::any_of(book.readings.begin(), book.readings.end(), again)) return Since::before;
        out = Since::in_doubt;
    }
    return out;
}

// Bearing play of one reading: the most that was felt, for play that is once there is there; and how well that is known.
inspect::Reading play_of_reading(const Book& book, const Reading& r, const inspect::Practice& practice, const parts::Library& library) {
    inspect::Reading most;
    for (const Place& at : places_of(r, scatter_of(book, r, library)))
        if (at.point.length_mm) {
            const double mm = *std::max_element(at.repeats.begin(), at.repeats.end());
            if (mm >= most.value) most = {.value = mm, .uncertainty = uncertainty_mm(book, r, practice, 1)};
        }
    return most;
}

// The play of the wheel as it was when its rotor was read: the newest of that day or before. Its square has its own
// uncertainty in it: what was read as none may be a little.   [EQ inspect-7]
std::optional<inspect::Reading> play_of(const Book& book, const Reading& table, const inspect::Practice& practice, const parts::Library& library) {
    const Id wheel = wheel_of(book, table);
    std::optional<inspect::Reading> out;
    for (const Reading& r : book.readings) {
        if (wheel.empty() || r.part_id != wheel || r.what != What::bearing_play || r.day > table.day || r.points.empty()) continue;
        inspect::Reading play = play_of_reading(book, r, practice, library);
        play.value = std::hypot(play.value, play.uncertainty);
        out = play;
    }
    return out;
}

struct Table {
    std::vector<inspect::DialReading> looks;
    inspect::RunOutBudget budget;   // of its instrument and person; dial.repeats: the fewest at an angle
    double seen_mm = 0;
};
Table table_of(const Book& book, const Reading& r, const parts::Library& library) {
    Table t{.looks = {}, .budget = inspect::run_out_budget_of(library)};
    const Instrument* tool = r.instrument_id ? by_id(book.instruments, *r.instrument_id) : nullptr;
    if (tool && tool->resolution_mm) t.budget.dial.resolution = *tool->resolution_mm;
    if (tool && tool->permitted_error_mm) t.budget.dial.permitted_error = *tool->permitted_error_mm;
    if (const Person* person = by_id(book.people, r.person_id); person && person->repeat_sd_mm) t.budget.dial.repeat_sd = *person->repeat_sd_mm;
    std::map<double, int> at;
    double low = 1e300, high = -1e300;
    for (const Point& p : r.points) {
        if (!p.angle_deg || !p.length_mm) continue;
        t.looks.push_back({*p.angle_deg, *p.length_mm});
        ++at[*p.angle_deg];
        low = std::min(low, *p.length_mm), high = std::max(high, *p.length_mm);
    }
    t.seen_mm = high - low;
    const auto fewest = std::min_element(at.begin(), at.end(), [](const auto& a, const auto& b) { return a.second < b.second; });
    if (fewest != at.end()) t.budget.dial.repeats = fewest->second;
    if (const auto play = play_of(book, r, inspect::practice_of(library), library)) t.budget.bearing_play_mm = play->value, t.budget.play_measured = true;
    return t;
}

void run_out_check(std::vector<Check>& out, const Book& book, const Bike& bike, End end, const inspect::Practice& practice, const parts::Library& library, const Day& today, bool ticked) {
    const CheckId id = end == End::front ? CheckId::front_rotor_run_out : CheckId::rear_rotor_run_out;
    std::vector<Said> said;
    const Part* rotor = part_at(book, bike.id, PartKind::rotor, end, today);
    const std::optional<double> limit_mm = rotor ? rotor->run_out_limit_mm : std::nullopt;
    const std::vector<const Reading*> tables = run_out_tables(book, bike.id, end, today, true);
    for (const Reading* r : tables) {
        const Table t = table_of(book, *r, library);
        // Better is a better dial or more repeats, at no fewer angles; or more angles with as good a dial.
        Said one{.check = inspect::check_not_looked(id), .uncertainty = inspect::standard_uncertainty(t.budget.dial), .own = true, .places = inspect::even_angles_of(t.looks)};
        // Of the older ones only those that hold back matter, and none holds back that was seen to move less than half of its limit.
        if (r == tables.back() || t.seen_mm >= 0.5 * std::min(practice.run_out_hold_mm, limit_mm.value_or(practice.run_out_hold_mm))) {
            const auto x = run_out_of(book.kept_in, t.looks, t.budget, r->recorded_unix_s);
            if (!*x) continue;
            one.check = inspect::check_run_out({.end = end, .run_out = &**x, .limit_mm = limit_mm}, practice);
        }
        said.push_back(as_it_stands(since(book, bike.id, end, *r, {WorkKind::true_rotor}, today), std::move(one)));
    }
    std::vector<Check> standing;
    keep_standing(standing, said);
    // Who looked at it between the pads has answered what no limit answers; a reading past practice stands all the same.
    if (ticked) std::erase_if(standing, [](const Check& c) { return c.state <= State::measure_better; });
    out.insert(out.end(), standing.begin(), standing.end());
    if (ticked) out.push_back(inspect::check_seen(id, inspect::Seen::nothing_seen));
    else if (standing.empty()) out.push_back(inspect::check_not_looked(id));
}

// A rotor on a loose hub stands aside as one that runs out does, and by the same gap.
void play_check(std::vector<Check>& out, const Book& book, const Bike& bike, End end, const inspect::Practice& practice, const parts::Library& library, const Day& today) {
    const Part* wheel = part_at(book, bike.id, PartKind::wheel, end, today);
    if (!wheel) return;
    std::vector<Said> said;
    std::optional<Check> unread;   // rocked, was worked on, and nobody has read it since
    for (const Reading& r : book.readings) {
        if (r.part_id != wheel->id || r.what != What::bearing_play || r.day > today || r.points.empty()) continue;
        const Since stands = since_bearings(book, r, today);
        const inspect::Reading play = play_of_reading(book, r, practice, library);
        if (stands == Since::before) {
            if (play.value >= practice.run_out_high_mm)
                unread = look(fmt::format("{}_bearing_play", word_of(end)), fmt::format("The {} wheel rocked by {:.2f} mm at its rotor on {}. It was worked on since, but its play was not read again: read it with the dial.", word_of(end), play.value, r.day));
            continue;
        }
        if (stands == Since::work) unread.reset();
        Check c{.id = CheckId::other, .code = fmt::format("{}_bearing_play", word_of(end)), .state = State::no_reason_found, .done = false, .do_not_ride = false, .text = {}};
        if (play.value >= practice.run_out_hold_mm)
            c = held(c.code, fmt::format("Do not ride: the {} wheel rocks by {:.2f} mm at its rotor. Common practice leaves about {:.1f} mm of gap on both sides together, so a rotor like this pushes the pads back and the next pull may find nothing. Have the bearings set or replaced, note that with its end (`papers add work bolts --place {}`) and read the play again.", word_of(end), play.value, practice.run_out_hold_mm, word_of(end)));
        else if (play.value >= practice.run_out_high_mm)
            c.state = State::replace, c.done = true, c.text = fmt::format("The {} wheel rocks by {:.2f} mm at its rotor, as much as a rotor that common practice straightens or replaces. Have the bearings set or replaced, then read the run-out again.", word_of(end), play.value);
        said.push_back(as_it_stands(stands, {.check = std::move(c), .uncertainty = play.uncertainty}));
    }
    std::vector<Check> standing;
    keep_standing(standing, said);
    for (Check& c : standing)
        if (!c.text.empty() && c.state != State::no_reason_found) out.push_back(std::move(c));
    if (unread) out.push_back(*std::move(unread));
}

bool has_word(std::string text, std::initializer_list<const char*> words) {
    std::transform(text.begin(), text.end(), text.begin(), [](unsigned char c) { return static_cast<char>(std::tolower(c)); });
    return std::any_of(words.begin(), words.end(), [&](const char* w) { return text.find(w) != std::string::npos; });
}

// Words that somebody read off a cable or the fluid; the newest since it was changed.
void word_checks(std::vector<Check>& out, const Book& book, const Bike& bike, End end, const Day& today) {
    for (const What what : {What::cable_state, What::fluid_colour}) {
        const Reading* newest = nullptr;
        Since stands = Since::work;
        for (const Reading& r : book.readings) {
            if (r.bike_id != bike.id || r.place != end || r.what != what || r.day > today) continue;
            const bool broken = what == What::cable_state && has_word(r.word, {"fray", "broken", "strand"});
            const Since now = since(book, bike.id, end, r, {what == What::cable_state ? WorkKind::new_cable : WorkKind::bleed}, today);
            if (now == Since::before || (now == Since::in_doubt && !broken)) continue;
            newest = &r, stands = now;
            // Broken strands do not grow together: only a new cable ends that.
            if (broken) break;
        }
        if (!newest) continue;
        const auto says = [&](std::initializer_list<const char*> words) { return has_word(newest->word, words); };
        const std::string told = fmt::format("'{}', read by {} on {}", newest->word, name_of(book, newest->person_id), newest->day);
        const std::string code = fmt::format("{}_{}", word_of(end), word_of(what));
        if (what == What::cable_state && says({"fray", "broken", "strand"})) out.push_back(as_it_stands(stands, {.check = held(code, fmt::format("Do not ride: the cable of the {} brake is {}. A cable with broken strands can part at the next hard pull. Put a new one in.", word_of(end), told))}).check);
        else if (what == What::cable_state && says({"kink", "rust", "corro", "stiff", "crack"})) out.push_back({.id = CheckId::other, .code = code, .state = State::replace, .done = true, .do_not_ride = false, .text = fmt::format("The cable or housing of the {} brake is {}. Replace it.", word_of(end), told)});
        else if (what == What::fluid_colour && says({"milk", "cloud", "black", "dark", "flake"})) out.push_back({.id = CheckId::other, .code = code, .state = State::replace, .done = true, .do_not_ride = false, .text = fmt::format("The fluid of the {} brake is {}. By common practice fluid that looks so is changed, whatever its age.", word_of(end), told)});
    }
}

void lever_check(std::vector<Check>& out, const Book& book, const Bike& bike, const parts::Bike& described, End end, const inspect::Practice& practice, const parts::Library& library, const Day& today) {
    inspect::LeverCheck c{.end = end, .actuation = described.wheel(end).actuation};
    c.full_from = inspect::LeverCheck::From::reading;
    // Each reading with what is known beside it by then. One that reaches the bar holds until a better one, or work on the brake.
    std::vector<Said> bites, fulls, sinks;
    for (const Reading& r : book.readings) {
        if (r.bike_id != bike.id || r.place != end || r.day > today || (r.what != What::lever_bite && r.what != What::lever_full)) continue;
        // Work on the brake moves the lever: what was read before it says nothing any more.
        const Since stands = since(book, bike.id, end, r, {WorkKind::bleed, WorkKind::new_pads, WorkKind::new_cable}, today);
        if (stands == Since::before) continue;
        if (r.what == What::lever_bite) {
            // Each look of three squeezes or more; one of no more squeezes than the look that sank betters nothing.
            inspect::LeverLook look{.bite_mm = {}, .pads_mm = {}};
            for (const Point& p : r.points)
                if (p.length_mm) look.bite_mm.push_back(*p.length_mm);
            const double scatter = std::hypot(scatter_of(book, r, library), uncertainty_mm(book, r, practice));
            const auto patterns = inspect::lever_patterns(std::span(&look, 1), described.wheel(end).actuation, scatter, library);
            if (look.bite_mm.size() >= 3) sinks.push_back(as_it_stands(stands, {.check = inspect::check_sinking(end, patterns).value_or(Check{}), .uncertainty = scatter, .own = false, .places = static_cast<int>(look.bite_mm.size())}));
        }
        for (const Place& at : places_of(r, scatter_of(book, r, library))) {
            if (!at.point.length_mm) continue;
            const double n = at.contradict ? 1 : static_cast<double>(at.repeats.size());
            const double u = std::hypot(uncertainty_mm(book, r, practice, static_cast<int>(n)), scatter_of(book, r, library) / std::sqrt(n));
            const bool bite = r.what == What::lever_bite;
            inspect::LeverCheck alone = c;
            (bite ? alone.bite_mm : alone.full_mm) = *at.point.length_mm;
            (bite ? alone.full_mm : alone.bite_mm).reset();
            if (!bite) alone.uncertainty_mm = u;
            (bite ? bites : fulls).push_back(as_it_stands(stands, {.check = inspect::check_lever(alone, practice), .uncertainty = u}));
            if (stands == Since::in_doubt) continue;
            (bite ? c.bite_mm : c.full_mm) = *at.point.length_mm;
            if (!bite) c.uncertainty_mm = u;
        }
    }
    const inspect::Check now = inspect::check_lever(c, practice);
    std::vector<Check> standing;
    keep_standing(standing, bites);
    keep_standing(standing, fulls);
    if (!now.do_not_ride && std::any_of(standing.begin(), standing.end(), [](const Check& s) { return s.do_not_ride; })) std::erase_if(standing, [](const Check& s) { return !s.do_not_ride; });
    else standing = {now};
    keep_standing(standing, sinks);
    out.insert(out.end(), standing.begin(), standing.end());
}

void fluid_check(std::vector<Check>& out, const Book& book, const Bike& bike, const parts::Bike& described, End end, const inspect::Practice& practice, const Day& today) {
    const parts::Wheel& wheel = described.wheel(end);
    inspect::FluidCheck c{.end = end};
    if (wheel.fluid) {
        c.kind = wheel.fluid->kind;
        c.kind_told = described.given.contains(fmt::format("{}.fluid.kind", parts::word_of(end)));
        c.dry_point_degC = inspect::published_dry_point_degC(practice, wheel.fluid->kind);
        Day at;
        for (const Reading& r : book.readings)
            if (r.bike_id == bike.id && r.place == end && r.what == What::fluid_age && r.day <= today && r.day >= at)
                for (const Point& p : r.points)
                    if (p.age_months) at = r.day, c.age_months = *p.age_months + static_cast<double>(days_between(r.day, today)) / days_a_month;
        for (const Work& w : book.works)
            if (w.bike_id == bike.id && w.kind == WorkKind::bleed && (!w.place || *w.place == end) && w.day <= today && w.day >= at)
                at = w.day, c.age_months = static_cast<double>(days_between(w.day, today)) / days_a_month;
    }
    out.push_back(inspect::check_fluid(c, practice));
}

// The newest tick of an item at a place; a tick of no place is of both.
const Tick* newest_tick(const Book& book, const Id& bike, Item item, std::optional<End> place, const Day& today) {
    const Tick* newest = nullptr;
    for (const Tick& t : book.ticks)
        if (t.bike_id == bike && t.item == item && t.day <= today && (!t.place || !place || t.place == place)) newest = &t;
    return newest;
}

// A happening is over when a check came after it in which the function was ticked and nothing was found.
bool is_open(const Book& book, const Incident& i, const Day& today) {
    for (const Tick& t : book.ticks) {
        if (t.bike_id != i.bike_id || t.item != Item::function || t.outcome != Outcome::ok || t.day < i.day || t.day > today || t.recorded_unix_s <= i.recorded_unix_s) continue;
        if (std::none_of(book.ticks.begin(), book.ticks.end(), [&](const Tick& o) { return o.check_id == t.check_id && o.outcome == Outcome::fault; })) return false;
    }
    return true;
}

const char* words_of(Happening kind) {
    switch (kind) {
        case Happening::overheat: return "the brakes were overheated";
        case Happening::crash: return "it crashed";
        case Happening::wet_grit: return "it was ridden through wet grit";
        case Happening::spray: return "something was sprayed near a rotor";
        case Happening::transport: return "it was transported";
    }
    return "something happened";
}

const char* words_of(Item item) {
    switch (item) {
        case Item::function: return "both brakes work: roll, brake each wheel by itself";
        case Item::lever: return "squeeze the lever hard and hold: firm, and clear of the bar";
        case Item::pad_wear: return "pads thick enough, and worn evenly left and right";
        case Item::gap: return "a gap on both sides of the rotor, nothing rubs";
        case Item::rotor_straight: return "rotor runs straight between the pads";
        case Item::bolts: return "bolts of rotors and calipers tight, no cracks";
        case Item::leaks: return "no fluid at levers, hoses, calipers; no oil on rotors or pads";
        case Item::cable: return "cable strands, housing ends and clamp bolt sound";
    }
    return "";
}

bool of_each_wheel(Item item) { return item == Item::lever || item == Item::pad_wear || item == Item::gap || item == Item::rotor_straight || item == Item::cable; }

std::string at_the(std::optional<End> place) { return place ? fmt::format("{}: ", word_of(*place)) : std::string(); }

}  // namespace

Result<Book> book_of(Papers& p, const std::optional<Id>& bike) {
    Book b;
    const auto get = [](auto& into, auto&& result) -> std::optional<Error> {
        if (!result) return result.error();
        into = *std::move(result);
        return std::nullopt;
    };
    if (auto e = get(b.people, p.people())) return *e;
    if (auto e = get(b.instruments, p.instruments())) return *e;
    if (auto e = get(b.bikes, p.bikes())) return *e;
    if (auto e = get(b.parts, p.parts())) return *e;
    if (auto e = get(b.fittings, p.fittings())) return *e;
    // A part's readings follow it from bike to bike, so readings are never those of one bike alone.
    if (auto e = get(b.readings, p.readings({}))) return *e;
    // And what was found of a brake follows its pads and its rotor, with the work that ended it.
    if (auto e = get(b.works, p.works({}))) return *e;
    if (auto e = get(b.incidents, p.incidents(bike))) return *e;
    if (auto e = get(b.holds, p.holds(bike))) return *e;
    if (auto e = get(b.ticks, p.ticks(bike))) return *e;
    if (auto e = get(b.proof_stops, p.proof_stops({}))) return *e;
    b.kept_in = &p;
    return b;
}

const Part* part_at(const Book& book, const Id& bike, PartKind kind, End end, const Day& day) {
    const auto there = [&](const Fitting& f) { return f.place == end && f.from_day <= day && (!f.to_day || *f.to_day > day); };
    const Part* found = nullptr;
    for (const Fitting& f : book.fittings) {
        if (f.bike_id != bike || !there(f)) continue;
        const Part* part = by_id(book.parts, f.part_id);
        if (!part) continue;
        if (part->kind == kind) found = part;
        if (part->kind != PartKind::wheel) continue;
        for (const Fitting& g : book.fittings) {
            // What a wheel carries goes where the wheel goes, whichever end it was at before.
            if (g.wheel_id != part->id || g.from_day > day || (g.to_day && *g.to_day <= day)) continue;
            const Part* carried = by_id(book.parts, g.part_id);
            if (carried && carried->kind == kind) found = carried;
        }
    }
    return found;
}

std::vector<PartStay> stays_of_part(const Book& book, const Id& part, const Day& today) {
    std::vector<PartStay> out;
    for (const Fitting& f : book.fittings) {
        if (f.part_id != part || f.from_day > today) continue;
        if (f.bike_id) out.push_back({*f.bike_id, f.place, f.from_day, f.to_day, f.noted_unix_s});
        else if (f.wheel_id)
            for (const Fitting& g : book.fittings) {
                if (g.part_id != *f.wheel_id || !g.bike_id) continue;
                const Day from = std::max(f.from_day, g.from_day);
                std::optional<Day> to = f.to_day;
                if (g.to_day && (!to || *g.to_day < *to)) to = g.to_day;
                if (from <= today && (!to || from <= *to)) out.push_back({*g.bike_id, g.place, from, to, std::max(f.noted_unix_s, g.noted_unix_s)});   // an absent one is the least
            }
    }
    std::stable_sort(out.begin(), out.end(), [](const PartStay& a, const PartStay& b) { return a.from != b.from ? a.from < b.from : a.to.value_or("9") < b.to.value_or("9"); });
    return out;
}

double uncertainty_mm(const Book& book, const Reading& r, const inspect::Practice& practice, int repeats) {
    inspect::Instrument i = practice.caliper;
    const Instrument* tool = r.instrument_id ? by_id(book.instruments, *r.instrument_id) : nullptr;
    if (tool && tool->resolution_mm) i.resolution = *tool->resolution_mm;
    if (tool && tool->permitted_error_mm) i.permitted_error = *tool->permitted_error_mm;
    i.repeats = repeats;
    if (const Person* person = by_id(book.people, r.person_id); person && person->repeat_sd_mm) i.repeat_sd = *person->repeat_sd_mm;
    return inspect::standard_uncertainty(i);
}

double scatter_of(const Book& book, const Reading& r, const parts::Library& library) {
    const Person* person = by_id(book.people, r.person_id);
    const auto own = [&](std::optional<double> Person::*sd, const char* row) { return person && person->*sd && *(person->*sd) > 0 ? *(person->*sd) : library.value(row); };
    if (r.what == What::caliper_temperature || r.what == What::rotor_temperature) return own(&Person::repeat_sd_degC, "inspect.repeat.sd_degC");
    if (r.what == What::pad_mass) return own(&Person::repeat_sd_g, "inspect.repeat.sd_g");
    if (r.what == What::gap) return library.value("inspect.repeat.sd_gap_mm");
    // How a hand squeezes scatters more than how an eye reads.
    if (r.what == What::lever_reach || r.what == What::lever_bite || r.what == What::lever_full) return library.value("inspect.repeat.sd_lever_mm");
    return own(&Person::repeat_sd_mm, "inspect.repeat.sd_mm");
}

double uncertainty_of(const Book& book, const Reading& r, const inspect::Practice& practice, const parts::Library& library, int repeats) {
    if (r.what == What::fluid_age) return 0;
    const bool hot = r.what == What::caliper_temperature || r.what == What::rotor_temperature;
    if (!hot && r.what != What::pad_mass) return uncertainty_mm(book, r, practice, repeats);
    const Instrument* tool = r.instrument_id ? by_id(book.instruments, *r.instrument_id) : nullptr;
    const auto told = [&](const std::optional<double>& x, const char* row) { return x ? *x : library.value(row); };
    inspect::Instrument i{.resolution = 0, .permitted_error = 0, .repeat_sd = scatter_of(book, r, library), .repeats = repeats};
    i.resolution = hot ? told(tool ? tool->resolution_degC : std::nullopt, "inspect.thermometer.resolution_degC") : told(tool ? tool->resolution_g : std::nullopt, "inspect.scale.resolution_g");
    i.permitted_error = hot ? told(tool ? tool->permitted_error_degC : std::nullopt, "inspect.thermometer.permitted_error_degC") : told(tool ? tool->permitted_error_g : std::nullopt, "inspect.scale.permitted_error_g");
    return inspect::standard_uncertainty(i);
}

double value_of(const Point& p) { return p.length_mm ? *p.length_mm : p.temperature_degC ? *p.temperature_degC : p.mass_g ? *p.mass_g : p.age_months.value_or(0); }

std::vector<Place> places_of(const Reading& r, double scatter) {
    std::vector<Place> out;
    for (const Point& p : r.points) {
        const auto same = std::find_if(out.begin(), out.end(), [&](const Place& o) { return p.angle_deg && o.point.side == p.side && o.point.angle_deg == p.angle_deg && o.point.radius_mm == p.radius_mm; });
        if (same == out.end()) out.push_back({.point = p, .repeats = {value_of(p)}, .contradict = false});
        else same->repeats.push_back(value_of(p));
    }
    for (Place& place : out) {
        place.contradict = inspect::repeats_contradict(place.repeats, scatter);
        const double value = place.contradict ? *std::min_element(place.repeats.begin(), place.repeats.end()) : mean_of(place.repeats);
        Point& p = place.point;
        (p.length_mm ? p.length_mm : p.temperature_degC ? p.temperature_degC : p.mass_g ? p.mass_g : p.age_months) = value;
    }
    return out;
}

inspect::Reading friction_of(const Book& book, const Reading& r, double value_mm, double assumed_plate_mm, const inspect::Practice& practice, int repeats) {
    const inspect::Reading total{.value = value_mm, .uncertainty = uncertainty_mm(book, r, practice, repeats), .plate = Plate::not_in_the_reading};
    if (!r.with_plate.value_or(false)) return total;
    inspect::Reading plate{.value = assumed_plate_mm, .uncertainty = 0, .plate = Plate::assumed};
    Plate known = Plate::assumed;
    if (const Part* part = r.part_id ? by_id(book.parts, *r.part_id) : nullptr) {
        if (part->plate_thickness_mm) plate.value = *part->plate_thickness_mm;
        if (part->plate_thickness_mm && part->plate_measured.value_or(false)) known = Plate::measured, plate.uncertainty = inspect::standard_uncertainty(practice.caliper);
        for (const Reading& p : book.readings) {
            if (p.part_id != part->id || p.what != What::plate_thickness || p.points.empty() || !p.points.front().length_mm) continue;
            // The thickest plate leaves the least friction material.
            double thickest = 0;
            for (const Point& q : p.points) thickest = std::max(thickest, q.length_mm.value_or(0));
            plate.value = thickest;
            plate.uncertainty = uncertainty_mm(book, p, practice);
            known = Plate::measured;
        }
    }
    return inspect::friction_of_total(total, plate, known);
}

std::optional<inspect::Band> band_of(const Book& book, const Reading& r, const inspect::Practice& practice, const parts::Library& library, const Day& today) {
    std::vector<double> places;
    return inspect::band_of(rotor_asked(book, r, practice, library, today, places));
}

inspect::Check rotor_check_of(const Book& book, const Reading& r, const inspect::Practice& practice, const parts::Library& library) {
    std::vector<double> places;
    inspect::RotorCheck c = rotor_asked(book, r, practice, library, r.day, places);
    const Part* rotor = r.part_id ? by_id(book.parts, *r.part_id) : nullptr;
    c.end = r.place;
    if (rotor) c.least_mm = rotor->least_thickness_mm;
    return inspect::check_rotor(c, practice);
}

std::optional<PadsRead> pads_read(const Book& book, const Id& bike, const parts::Bike& described, End end, const parts::Library& library, const Day& today) {
    const Part* pads = part_at(book, bike, PartKind::pads, end, today);
    if (!pads) return std::nullopt;
    const inspect::Practice practice = inspect::practice_of(library);
    const parts::Wheel& wheel = described.wheel(end);
    const double middle_mm = (wheel.rotor.diameter_mm.value + wheel.rotor.band_inner_mm.value) / 4;
    std::optional<PadsRead> out;
    for (const Reading& r : book.readings) {
        if (r.part_id != pads->id || r.what != What::pad_thickness || r.day > today) continue;
        std::vector<inspect::PadPlace> places;
        std::vector<double> u;
        for (const Place& at : places_of(r, scatter_of(book, r, library))) {
            const Point& p = at.point;
            if (!p.side || !p.length_mm) continue;
            const auto sign = [](double x) { return x < 0 ? -1 : x > 0 ? 1 : 0; };
            places.push_back({.pad = *p.side == Side::left ? inspect::PadPlace::Pad::left : inspect::PadPlace::Pad::right, .along = sign(p.angle_deg.value_or(0)), .across = p.radius_mm ? sign(*p.radius_mm - middle_mm) : 0,
                              .friction_mm = friction_of(book, r, *p.length_mm, wheel.pads.plate_thickness_mm.value, practice).value});
            u.push_back(uncertainty_mm(book, r, practice, static_cast<int>(at.repeats.size())));
        }
        if (places.size() < 2) continue;
        // Two places of one reading share the instrument's error in part; taken as their own it makes the pattern less sure, not more.
        std::vector<inspect::Pattern> patterns = inspect::pad_patterns(places, std::hypot(*std::max_element(u.begin(), u.end()), library.value("inspect.repeat.sd_mm")), library);
        if (!patterns.empty()) out = PadsRead{.reading = r, .patterns = std::move(patterns)};
    }
    return out;
}

std::optional<GapsRead> gaps_read(const Book& book, const Id& bike, End end, const parts::Library& library, const Day& today) {
    std::optional<GapsRead> out;
    for (const Reading& r : book.readings) {
        // Gaps are set by hand and by the pads that are in: what was read before such work says nothing any more.
        if (r.bike_id != bike || r.place != end || r.what != What::gap || r.day > today || !since_work(book, bike, end, r, {WorkKind::new_pads, WorkKind::bleed, WorkKind::new_cable}, today)) continue;
        const double scatter = scatter_of(book, r, library);
        const Instrument* tool = r.instrument_id ? by_id(book.instruments, *r.instrument_id) : nullptr;
        const double step = tool && tool->resolution_mm ? *tool->resolution_mm : library.value("inspect.feeler.resolution_mm");
        std::vector<inspect::GapPlace> places;
        GapsRead one{.reading = r, .least_mm = 1e300, .both_sides_mm = {}, .patterns = {}};
        // Corners of a pad have a radius out from or in from the others'.
        double low = 1e300, high = -1e300, sum[2] = {};
        int n[2] = {};
        for (const Point& p : r.points)
            if (p.radius_mm) low = std::min(low, *p.radius_mm), high = std::max(high, *p.radius_mm);
        for (const Place& at : places_of(r, scatter)) {
            const Point& p = at.point;
            if (!p.length_mm) continue;
            one.least_mm = std::min(one.least_mm, *p.length_mm);
            if (!p.side) continue;
            const auto sign = [](double x) { return x < 0 ? -1 : x > 0 ? 1 : 0; };
            places.push_back({.pad = *p.side == Side::left ? inspect::PadPlace::Pad::left : inspect::PadPlace::Pad::right, .along = sign(p.angle_deg.value_or(0)), .across = p.radius_mm ? sign(*p.radius_mm - (low + high) / 2) : 0, .gap_mm = *p.length_mm});
            sum[*p.side == Side::right] += *p.length_mm, ++n[*p.side == Side::right];
        }
        if (places.size() < 2) continue;
        if (n[0] && n[1]) one.both_sides_mm = sum[0] / n[0] + sum[1] / n[1];
        one.patterns = inspect::gap_patterns(places, std::hypot(scatter, step / std::sqrt(12.0)), library);
        out = std::move(one);
    }
    return out;
}

std::optional<LeverRead> lever_read(const Book& book, const Id& bike, const parts::Bike& described, End end, const parts::Library& library, const Day& today) {
    const Part* pads = part_at(book, bike, PartKind::pads, end, today);
    const inspect::Practice practice = inspect::practice_of(library);
    // Both pads together by the reading of them that is nearest in time, within a month.
    const auto pads_on = [&](const Day& day) -> std::optional<double> {
        std::optional<double> found;
        long nearest = 31;
        for (const Reading& r : book.readings) {
            if (!pads || r.part_id != pads->id || r.what != What::pad_thickness || r.day > today) continue;
            double sum[2] = {};
            int n[2] = {};
            for (const Point& p : r.points)
                if (p.side && p.length_mm) sum[*p.side == Side::right] += friction_of(book, r, *p.length_mm, described.wheel(end).pads.plate_thickness_mm.value, practice).value, ++n[*p.side == Side::right];
            if (const long off = std::abs(days_between(r.day, day)); n[0] && n[1] && off < nearest) nearest = off, found = sum[0] / n[0] + sum[1] / n[1];
        }
        return found;
    };
    std::vector<inspect::LeverLook> looks;
    std::optional<LeverRead> out;
    double scatter = 0;
    for (const Reading& r : book.readings) {
        if (r.bike_id != bike || r.place != end || r.what != What::lever_bite || r.day > today || !since_work(book, bike, end, r, {WorkKind::new_pads, WorkKind::bleed, WorkKind::new_cable}, today)) continue;
        inspect::LeverLook look{.bite_mm = {}, .pads_mm = pads_on(r.day)};
        for (const Point& p : r.points)
            if (p.length_mm) look.bite_mm.push_back(*p.length_mm);
        if (look.bite_mm.empty()) continue;
        scatter = std::max(scatter, std::hypot(scatter_of(book, r, library), uncertainty_mm(book, r, practice)));
        looks.push_back(std::move(look));
        if (!out) out = LeverRead{.first = r, .last = r, .patterns = {}};
        else out->last = r;
    }
    if (out) out->patterns = inspect::lever_patterns(looks, described.wheel(end).actuation, scatter, library);
    return out && !out->patterns.empty() ? out : std::nullopt;
}

std::vector<WeighedRead> weighed_read(const Book& book, const Id& bike, const parts::Bike& described, End end, const parts::Library& library, const Day& today) {
    std::vector<WeighedRead> out;
    const Part* pads = part_at(book, bike, PartKind::pads, end, today);
    if (!pads) return out;
    const inspect::Practice practice = inspect::practice_of(library);
    const parts::Pads& told = described.wheel(end).pads;
    const Uncertain& density = library.row(fmt::format("compound.{}.density", parts::word_of(pads->compound.value_or(told.compound)))).value;
    const double area_mm2 = pads->area_mm2.value_or(told.area_mm2.value), area_share = pads->area_mm2 ? 0.02 : told.area_mm2.sd / told.area_mm2.value;
    for (const Side side : {Side::left, Side::right}) {
        std::optional<WeighedRead> w;
        double first_g = 0, first_u = 0;
        for (const Reading& r : book.readings) {
            if (r.part_id != pads->id || r.what != What::pad_mass || r.day > today) continue;
            for (const Place& at : places_of(r, scatter_of(book, r, library))) {
                if (at.point.side != side || !at.point.mass_g) continue;
                const double u = uncertainty_of(book, r, practice, library, at.contradict ? 1 : static_cast<int>(at.repeats.size()));
                if (!w) {
                    w = WeighedRead{.side = side, .first = r, .last = r, .lost_mm = {}};
                    first_g = *at.point.mass_g, first_u = u;
                }
                w->last = r;
                w->lost_g = first_g - *at.point.mass_g;
                w->uncertainty_g = std::hypot(first_u, u);
            }
        }
        if (!w || w->first.id == w->last.id) continue;
        const double mm = w->lost_g / (density.value * 1e-6 * area_mm2);
        const double u = std::hypot(w->uncertainty_g / (density.value * 1e-6 * area_mm2), mm * std::hypot(density.sd / density.value, area_share));
        w->lost_mm = {mm - 1.645 * u, mm, mm + 1.645 * u};
        out.push_back(std::move(*w));
    }
    return out;
}

std::optional<RotorRead> rotor_read(const Book& book, const Id& bike, End end, const parts::Library& library, const Day& today) {
    const Part* rotor = part_at(book, bike, PartKind::rotor, end, today);
    if (!rotor) return std::nullopt;
    const inspect::Practice practice = inspect::practice_of(library);
    std::optional<RotorRead> out;
    for (const Reading& r : book.readings) {
        if (r.part_id != rotor->id || r.what != What::rotor_thickness || r.day > today) continue;
        const double scatter = scatter_of(book, r, library);
        std::vector<double> thickness;
        std::size_t repeats = 1000;
        for (const Place& at : places_of(r, scatter))
            if (at.point.angle_deg && at.point.length_mm) thickness.push_back(*at.point.length_mm), repeats = std::min(repeats, at.repeats.size());
        if (thickness.size() < 2) continue;
        const Instrument* tool = r.instrument_id ? by_id(book.instruments, *r.instrument_id) : nullptr;
        const double step = tool && tool->resolution_mm ? *tool->resolution_mm : practice.caliper.resolution, error = tool && tool->permitted_error_mm ? *tool->permitted_error_mm : practice.caliper.permitted_error;
        out = RotorRead{.reading = r, .around = inspect::thickness_around(thickness, std::sqrt((scatter * scatter + step * step / 12) / static_cast<double>(repeats)), error / std::sqrt(3.0))};
    }
    return out;
}

RunOutRead run_out_read(const Book& book, const Reading& r, const parts::Library& library) {
    const Table t = table_of(book, r, library);
    RunOutRead out{.reading = r, .run_out = {}, .budget = t.budget, .why_not = {}};
    if (const auto x = run_out_of(book.kept_in, t.looks, t.budget, r.recorded_unix_s); *x) out.run_out = **x;
    else out.why_not = x->error().text;
    return out;
}

std::optional<RunOutRead> run_out_read(const Book& book, const Id& bike, End end, const parts::Library& library, const Day& today) {
    const std::vector<const Reading*> tables = run_out_tables(book, bike, end, today);
    return tables.empty() ? std::nullopt : std::optional(run_out_read(book, *tables.back(), library));
}

void keep_run_outs(const Book& book, const Id& of, const parts::Library& library) {
    const Reading* told = by_id(book.readings, of);
    const auto decided = [&](const Reading& r) { return r.id == of || r.person_id == of || r.instrument_id == of || (told && told->what == What::bearing_play && told->part_id && wheel_of(book, r) == *told->part_id); };
    for (const Reading& r : book.readings)
        if (is_table(r) && decided(r)) (void)run_out_read(book, r, library);
}

std::vector<Check> checks_of(const Book& book, const Bike& bike, const parts::Bike& described, const inspect::Practice& practice, const parts::Library& library, const Day& today) {
    std::vector<Check> out;
    const long tick_days = static_cast<long>(library.value("papers.tick_days"));
    const auto counts = [&](const Tick* t) { return t && t->outcome == Outcome::ok && days_between(t->day, today) <= tick_days; };
    const auto open = [&](const Tick* t) {
        // A happening after the tick makes it old.
        return t && std::none_of(book.incidents.begin(), book.incidents.end(), [&](const Incident& i) { return i.bike_id == bike.id && i.day <= today && i.day >= t->day && i.recorded_unix_s >= t->recorded_unix_s; });
    };
    const auto seen = [&](CheckId id, const Tick* t) { out.push_back(counts(t) && open(t) ? inspect::check_seen(id, inspect::Seen::nothing_seen) : inspect::check_not_looked(id)); };

    for (const Hold& h : book.holds)
        if (h.bike_id == bike.id && h.cleared_by.empty())
            out.push_back(held("held_by_a_person", fmt::format("Do not ride: held back by {} on {}: {}. {} or another named person clears it.", h.by, format_day(static_cast<long>(std::floor(h.from_unix_s / 86400))), quoted(h.why), h.by)));
    for (const End end : {End::front, End::rear})
        if (std::optional<ProofRead> proof = proof_read(book, bike.id, described, end, library, today); proof && proof->check) out.push_back(*std::move(proof->check));
    for (const Incident& i : book.incidents) {
        if (i.bike_id != bike.id || i.day > today || !is_open(book, i, today)) continue;
        const bool hard = i.kind == Happening::crash || i.kind == Happening::overheat || i.kind == Happening::spray;
        const std::string what = fmt::format("{} on {} (told by {}), and no check has come after it", words_of(i.kind), i.day, name_of(book, i.person_id));
        if (hard) out.push_back(held(fmt::format("unchecked_{}", word_of(i.kind)), fmt::format("Do not ride: {}. Make the check before a ride, all of it.", what)));
        else out.push_back(look(fmt::format("unchecked_{}", word_of(i.kind)), fmt::format("Check it first: {}.", what)));
    }
    for (std::size_t k = 0; k < words(Item{}).size(); ++k) {
        const Item item = static_cast<Item>(k);
        std::vector<const Tick*> told;
        for (const std::optional<End> place : {std::optional<End>(), std::optional<End>(End::front), std::optional<End>(End::rear)}) {
            const Tick* t = newest_tick(book, bike.id, item, place, today);
            if (!t || t->outcome != Outcome::fault || std::find(told.begin(), told.end(), t) != told.end()) continue;
            told.push_back(t);
            out.push_back(held(fmt::format("fault_{}", word_of(item)), fmt::format("Do not ride: {} found a fault on {} ({}{}){}. Mend it, then tick it again.", name_of(book, t->person_id), t->day, at_the(t->place), words_of(item), t->note.empty() ? "" : ": " + quoted(t->note))));
        }
    }
    for (const End end : {End::front, End::rear}) {
        if (std::optional<Check> oiled = inspect::check_condition(end, described.wheel(end).pads.condition)) {
            oiled->text += " Once that is done, say so in the bike's description: it tells these pads as oiled.";
            out.push_back(*std::move(oiled));
        }
        pad_checks(out, book, bike, described, end, practice, library, today);
        told_before(out, book, bike, end, PartKind::pads, What::pad_thickness, today, [&](std::vector<Check>& said, const Book& told) { pad_checks(said, told, bike, described, end, practice, library, today); });
        rotor_check(out, book, bike, end, practice, library, today);
        told_before(out, book, bike, end, PartKind::rotor, What::rotor_thickness, today, [&](std::vector<Check>& said, const Book& told) { rotor_check(said, told, bike, end, practice, library, today); });
        word_checks(out, book, bike, end, today);
        lever_check(out, book, bike, described, end, practice, library, today);
        const CheckId fluid_or_cable = end == End::front ? CheckId::front_fluid_or_cable : CheckId::rear_fluid_or_cable;
        if (described.wheel(end).actuation == parts::Actuation::cable) seen(fluid_or_cable, newest_tick(book, bike.id, Item::cable, end, today));
        else fluid_check(out, book, bike, described, end, practice, today);
        const Tick* straight = newest_tick(book, bike.id, Item::rotor_straight, end, today);
        run_out_check(out, book, bike, end, practice, library, today, counts(straight) && open(straight));
        told_before(out, book, bike, end, PartKind::rotor, What::run_out, today, [&](std::vector<Check>& said, const Book& told) { run_out_check(said, told, bike, end, practice, library, today, counts(straight) && open(straight)); });
        play_check(out, book, bike, end, practice, library, today);
        told_before(out, book, bike, end, PartKind::wheel, What::bearing_play, today, [&](std::vector<Check>& said, const Book& told) { play_check(said, told, bike, end, practice, library, today); });
    }
    seen(CheckId::bolts_and_cracks, newest_tick(book, bike.id, Item::bolts, std::nullopt, today));
    seen(CheckId::leaks_and_oil, newest_tick(book, bike.id, Item::leaks, std::nullopt, today));
    return out;
}

std::vector<ToDo> before_ride(const Book& book, const Bike& bike, const parts::Bike& described, const parts::Library& library, const Day& today) {
    std::vector<ToDo> list;
    const long tick_days = static_cast<long>(library.value("papers.tick_days"));
    const Incident* happened = nullptr;
    for (const Incident& i : book.incidents)
        if (i.bike_id == bike.id && i.day <= today && is_open(book, i, today)) happened = &i;
    for (std::size_t k = 0; k < words(Item{}).size(); ++k) {
        const Item item = static_cast<Item>(k);
        std::vector<std::optional<End>> places = {std::nullopt};
        if (of_each_wheel(item)) places = {End::front, End::rear};
        for (const std::optional<End> place : places) {
            if (item == Item::cable && described.wheel(*place).actuation == parts::Actuation::hydraulic) continue;
            ToDo t{.item = item, .place = place, .why = ToDo::Why::routine, .text = at_the(place) + words_of(item), .minutes = library.value(fmt::format("papers.minutes.{}", word_of(item))), .last_ok = {}};
            const Tick* last = newest_tick(book, bike.id, item, place, today);
            if (last && last->outcome == Outcome::ok) t.last_ok = last->day;
            if (last && last->outcome == Outcome::fault) {
                t.why = ToDo::Why::fault;
                t.text += fmt::format(" (fault found on {}{})", last->day, last->note.empty() ? "" : ": " + quoted(last->note));
            } else if (happened) {
                t.why = ToDo::Why::after_happening;
                t.text += fmt::format(" ({} on {})", words_of(happened->kind), happened->day);
            } else if (!last) {
                t.why = ToDo::Why::never;
                t.text += " (never ticked)";
            } else if (days_between(last->day, today) > tick_days) {
                t.why = ToDo::Why::overdue;
                t.text += fmt::format(" (last on {})", last->day);
            }
            list.push_back(std::move(t));
        }
    }
    std::stable_sort(list.begin(), list.end(), [](const ToDo& a, const ToDo& b) {
        if (a.why != b.why) return a.why < b.why;
        return a.last_ok.value_or("") < b.last_ok.value_or("");
    });
    return list;
}

}  // namespace bw::papers
