// SPDX-License-Identifier: Apache-2.0
// The bike as the papers know it: description, then the parts that are on it, then the readings.          Layer: answer
// Theory: docs/decisions/0013-answers-from-papers.md.
#include <fmt/format.h>

#include <algorithm>
#include <cmath>

#include "answer/from_papers.hpp"
#include "base/time.hpp"
#include "papers/state.hpp"

namespace bw::answer {

namespace {

using papers::PartKind;
using papers::What;
using parts::End;

//! Takes values into a bike as a description would state them.
class Teller {
public:
    Teller(const parts::Library& library, parts::Bike& bike) : library_(library), bike_(bike) {}

    //! A figure without a spread: it has the spread that the same figure has in a description. One that the bike states already stays.
    void figure(const std::string& key, double value, const std::string& source) {
        Uncertain* at = find(bike_, key);
        if (!at || (bike_.given.contains(key) && std::abs(at->value - value) < 1e-9)) return;
        const std::string least = fmt::format("format = 1\nbike.kind = \"{}\"\nbike.total_mass_kg = 90\n{} = {}\n", parts::word_of(bike_.kind), key, value);
        Result<parts::Bike> told = parts::read_bike(least, key, library_);
        if (!told) return;   // out of the range of a description: the papers' checks judge it
        const Uncertain* as_told = find(*told, key);
        if (!as_told) return;
        *at = *as_told;
        at->source = source;
        bike_.given.insert(key);
    }
    void reading(const std::string& key, double value, double sd, const std::string& source) {
        Uncertain* at = find(bike_, key);
        if (!at) return;
        *at = {.value = value, .sd = sd, .grade = Grade::measured, .source = source};
        bike_.given.insert(key);
    }
    //! Back to what is assumed of a bike of this kind.
    void forget(const std::string& key) {
        parts::Bike plain = parts::default_bike(bike_.kind, library_);
        Uncertain* at = find(bike_, key);
        const Uncertain* assumed = find(plain, key);
        if (at && assumed) *at = *assumed;
        bike_.given.erase(key);
    }

private:
    static Uncertain* find(parts::Bike& bike, const std::string& key) {
        for (const parts::FieldRef& f : parts::fields_of(bike))
            if (f.key == key) return f.value;
        return nullptr;
    }
    const parts::Library& library_;
    parts::Bike& bike_;
};

std::string at(End end, const char* key) { return fmt::format("{}.{}", parts::word_of(end), key); }

//! First day on which a part was anywhere.
std::optional<papers::Day> fitted_first(const papers::Book& book, const papers::Id& part) {
    std::optional<papers::Day> first;
    for (const papers::Fitting& f : book.fittings)
        if (f.part_id == part && (!first || f.from_day < *first)) first = f.from_day;
    return first;
}

void fit_pads(Teller& tell, parts::Bike& bike, const parts::Library& library, End end, const papers::Part& pads, bool first_set) {
    parts::Pads& p = bike.wheel(end).pads;
    const std::string source = fmt::format("papers: {}", pads.name);
    if (!first_set) {   // the description speaks of others; the caliper, and with it the outline, is the same
        tell.forget(at(end, "pads.friction_thickness_mm"));
        tell.forget(at(end, "pads.plate_thickness_mm"));
        p.other_friction_thickness_mm.reset();
        const parts::Bike plain = parts::default_bike(bike.kind, library);
        p.compound = plain.wheel(end).pads.compound;
        p.heat_barrier = plain.wheel(end).pads.heat_barrier;
        p.plate_measured = false;
        p.least_friction_mm.reset();
        for (const char* key : {"pads.compound", "pads.heat_barrier", "pads.plate_measured", "pads.least_friction_mm", "pads.other_friction_thickness_mm"}) bike.given.erase(at(end, key));
    }
    if (pads.compound && (*pads.compound != p.compound || !bike.given.contains(at(end, "pads.compound")))) {
        p.compound = *pads.compound;
        bike.given.insert(at(end, "pads.compound"));
    }
    if (pads.heat_barrier && *pads.heat_barrier != p.heat_barrier) {
        p.heat_barrier = *pads.heat_barrier;
        bike.given.insert(at(end, "pads.heat_barrier"));
    }
    if (pads.plate_thickness_mm) tell.figure(at(end, "pads.plate_thickness_mm"), *pads.plate_thickness_mm, source);
    if (pads.plate_measured) p.plate_measured = *pads.plate_measured;
    if (pads.area_mm2) tell.figure(at(end, "pads.area_mm2"), *pads.area_mm2, source);
    if (pads.least_thickness_mm) {
        if (!p.least_friction_mm) p.least_friction_mm.emplace();
        tell.figure(at(end, "pads.least_friction_mm"), *pads.least_thickness_mm, source);
        if (!bike.given.contains(at(end, "pads.least_friction_mm"))) p.least_friction_mm.reset();
    }
    if (pads.new_thickness_mm && !bike.given.contains(at(end, "pads.friction_thickness_mm"))) tell.figure(at(end, "pads.friction_thickness_mm"), *pads.new_thickness_mm, source);
}

void fit_rotor(Teller& tell, parts::Bike& bike, End end, const papers::Part& rotor, bool first_one) {
    parts::Rotor& r = bike.wheel(end).rotor;
    const std::string source = fmt::format("papers: {}", rotor.name);
    if (!first_one) {
        tell.forget(at(end, "rotor.thickness_mm"));
        r.least_thickness_mm.reset();
        r.run_out_limit_mm.reset();
        r.ridge_mm.reset();
        r.anvil = parts::Anvil::not_told;
        for (const char* key : {"rotor.least_thickness_mm", "rotor.run_out_limit_mm", "rotor.ridge_mm", "rotor.anvil"}) bike.given.erase(at(end, key));
    }
    if (rotor.diameter_mm) tell.figure(at(end, "rotor.diameter_mm"), *rotor.diameter_mm, source);
    if (rotor.least_thickness_mm) {
        if (!r.least_thickness_mm) r.least_thickness_mm.emplace();
        tell.figure(at(end, "rotor.least_thickness_mm"), *rotor.least_thickness_mm, source);
        if (!bike.given.contains(at(end, "rotor.least_thickness_mm"))) r.least_thickness_mm.reset();
    }
    if (rotor.new_thickness_mm && !bike.given.contains(at(end, "rotor.thickness_mm"))) tell.figure(at(end, "rotor.thickness_mm"), *rotor.new_thickness_mm, source);
}

//! What the description itself stated on the day it came in is no news: it keeps the description's spread.
bool is_description(const papers::Bike& bike, const papers::Day& day, const Uncertain& stated, bool given, double value) {
    return given && day == bike.added_day && std::abs(stated.value - value) < 1e-9;
}

void read_pads(Teller& tell, BikeOfPapers& b, const papers::Book& book, const papers::Bike& bike, const inspect::Practice& practice, End end, const papers::Part& pads, double assumed_plate_mm,
               const papers::Day& today) {
    // Newest first until both pads are spoken of; a reading of no side is of the thinner pad, and so of both.
    struct Side { double mm, sd; inspect::Plate plate; papers::Day day; };
    std::optional<Side> left, right;
    for (auto r = book.readings.rbegin(); r != book.readings.rend() && !(left && right); ++r) {
        if (r->part_id != pads.id || r->what != What::pad_thickness || r->day > today) continue;
        std::optional<Side> l, m, t;
        for (const papers::Point& p : r->points) {
            if (!p.length_mm) continue;
            const inspect::Reading f = papers::friction_of(book, *r, *p.length_mm, assumed_plate_mm, practice);
            auto& to = !p.side ? m : *p.side == papers::Side::left ? l : t;
            if (!to || f.value < to->mm) to = Side{f.value, f.uncertainty, f.plate, r->day};
        }
        if (!left) left = l ? l : m;
        if (!right) right = t ? t : m;
    }
    const std::optional<Side>& thin = !left ? right : !right ? left : left->mm <= right->mm ? left : right;
    const auto e = static_cast<std::size_t>(end);
    if (!thin) {
        if (pads.new_thickness_mm) b.pads_since[e] = fitted_first(book, pads.id);
        return;
    }
    parts::Pads& p = b.today.wheel(end).pads;
    const std::string key = at(end, "pads.friction_thickness_mm");
    if (!is_description(bike, thin->day, parts::least_friction(p), b.today.given.contains(key), thin->mm)) {
        tell.reading(key, std::max(thin->mm, 0.0), thin->sd, fmt::format("papers: read on {}", thin->day));
        p.other_friction_thickness_mm.reset();   // as described, of another day: the reading speaks of the thinner
        b.today.given.erase(at(end, "pads.other_friction_thickness_mm"));
    }
    p.plate_measured = thin->plate != inspect::Plate::assumed;
    b.pads_since[e] = left && right ? std::min(left->day, right->day) : thin->day;
}

void read_rotor(Teller& tell, BikeOfPapers& b, const parts::Library& library, const papers::Book& book, const papers::Bike& bike, const inspect::Practice& practice, End end, const papers::Part& rotor,
                const papers::Day& today) {
    parts::Rotor& r = b.today.wheel(end).rotor;
    const auto e = static_cast<std::size_t>(end);
    const papers::Reading *newest = nullptr, *ridge = nullptr;
    for (const papers::Reading& x : book.readings) {
        if (x.part_id != rotor.id || x.day > today || x.points.empty()) continue;
        if (x.what == What::rotor_thickness) newest = &x;
        if (x.what == What::rotor_ridge) ridge = &x;
    }
    if (ridge && ridge->points.front().length_mm) {
        const double mm = *ridge->points.front().length_mm;
        const bool told = r.ridge_mm.has_value();
        if (!told) r.ridge_mm.emplace();
        if (!is_description(bike, ridge->day, *r.ridge_mm, told, mm)) tell.reading(at(end, "rotor.ridge_mm"), mm, papers::uncertainty_mm(book, *ridge, practice), fmt::format("papers: read on {}", ridge->day));
    }
    double thinnest = INFINITY;
    if (newest)
        for (const papers::Point& p : newest->points)
            if (p.length_mm) thinnest = std::min(thinnest, *p.length_mm);
    if (!std::isfinite(thinnest)) {
        if (rotor.new_thickness_mm) b.rotor_since[e] = fitted_first(book, rotor.id);
        return;
    }
    parts::Anvil anvil = newest->anvil.value_or(parts::Anvil::not_told);
    for (const papers::Instrument& i : book.instruments)
        if (!newest->anvil && newest->instrument_id == i.id && i.anvil) anvil = *i.anvil;
    r.anvil = anvil;
    const std::string key = at(end, "rotor.thickness_mm");
    // Under flat jaws the band is what was read less the ridge; once that is off, the figure is as of a point on the band.
    if (const std::optional<inspect::Band> band = papers::band_of(book, *newest, practice, library, today); band && band->thickness_mm < thinnest) {
        tell.reading(key, std::max(band->thickness_mm, 0.0), band->uncertainty_mm, fmt::format("papers: read on {}, without the ridge", newest->day));
        r.anvil = parts::Anvil::pointed;
        r.ridge_mm.reset();
        b.today.given.erase(at(end, "rotor.ridge_mm"));
    } else if (!is_description(bike, newest->day, r.thickness_mm, b.today.given.contains(key), thinnest))
        tell.reading(key, thinnest, papers::uncertainty_mm(book, *newest, practice), fmt::format("papers: read on {}", newest->day));
    b.rotor_since[e] = newest->day;
}

void read_lever_and_fluid(Teller& tell, BikeOfPapers& b, const papers::Book& book, const papers::Bike& bike, const inspect::Practice& practice, End end, const papers::Day& today) {
    const auto mine = [&](const papers::Work& w) { return w.bike_id == bike.id && w.day <= today && (!w.place || *w.place == end); };
    papers::Day moved, bled;   // the last work that moved the bite point; the last fluid
    for (const papers::Work& w : book.works) {
        if (!mine(w)) continue;
        if (w.kind == papers::WorkKind::bleed || w.kind == papers::WorkKind::new_pads || w.kind == papers::WorkKind::new_cable) moved = std::max(moved, w.day);
        if (w.kind == papers::WorkKind::bleed) bled = std::max(bled, w.day);
    }
    parts::Lever& lever = b.today.wheel(end).lever;
    const auto take = [&](What what, const char* name, const Uncertain& stated, const papers::Day& not_before) {
        const std::string key = at(end, name);
        const papers::Reading* newest = nullptr;
        for (const papers::Reading& r : book.readings)
            if (r.bike_id == bike.id && r.place == end && r.what == what && r.day <= today && !r.points.empty() && r.points.front().length_mm) newest = &r;
        if (newest && newest->day >= not_before) {
            const double mm = *newest->points.front().length_mm;
            if (!is_description(bike, newest->day, stated, b.today.given.contains(key), mm))
                tell.reading(key, mm, papers::uncertainty_mm(book, *newest, practice), fmt::format("papers: read on {}", newest->day));
        } else if (b.today.given.contains(key) && bike.added_day < not_before) tell.forget(key);   // said before that work
    };
    take(What::lever_reach, "lever.reach_mm", lever.reach_mm, {});
    take(What::lever_bite, "lever.bite_mm", lever.bite_mm, moved);

    auto& fluid = b.today.wheel(end).fluid;
    if (!fluid) return;
    const std::string key = at(end, "fluid.age_months");
    constexpr double days_a_month = 365.25 / 12;
    const auto months_since = [&](const papers::Day& day) { return static_cast<double>(parse_day(today).value_or(0) - parse_day(day).value_or(0)) / days_a_month; };
    const papers::Reading* newest = nullptr;
    for (const papers::Reading& r : book.readings)
        if (r.bike_id == bike.id && r.place == end && r.what == What::fluid_age && r.day <= today && !r.points.empty() && r.points.front().age_months) newest = &r;
    if (!bled.empty() && (!newest || bled >= newest->day)) tell.reading(key, months_since(bled), 0.1 * months_since(bled), fmt::format("papers: bled on {}", bled));
    else if (newest) {
        const double months = *newest->points.front().age_months;
        // As unsure of its age as the description was, and older by the days since.
        const double sd = is_description(bike, newest->day, fluid->age_months, b.today.given.contains(key), months) ? fluid->age_months.sd : 0.1 * months;
        if (newest->day != today || !is_description(bike, newest->day, fluid->age_months, b.today.given.contains(key), months))
            tell.reading(key, months + months_since(newest->day), sd, fmt::format("papers: told on {}", newest->day));
    }
}

//! True if the part was on another bike or on none for some time after a day.
bool elsewhere_since(const papers::Book& book, const papers::Id& bike, PartKind kind, End end, const papers::Part& part, const papers::Day& since, const papers::Day& today) {
    for (long day = parse_day(since).value_or(0), last = parse_day(today).value_or(0); day <= last; ++day) {
        const papers::Part* there = papers::part_at(book, bike, kind, end, format_day(day));
        if (there && there->id == part.id) continue;
        for (const papers::Bike& other : book.bikes)
            for (const End place : {End::front, End::rear})
                if (const papers::Part* p = papers::part_at(book, other.id, kind, place, format_day(day)); p && p->id == part.id) return true;
    }
    return false;
}

}  // namespace

Result<BikeOfPapers> bike_of_papers(const parts::Library& library, papers::Papers& papers, const papers::Id& id, const papers::Day& today) {
    Result<papers::Book> book = papers::book_of(papers, id);
    if (!book) return book.error();
    const auto bike = std::find_if(book->bikes.begin(), book->bikes.end(), [&](const papers::Bike& b) { return b.id == id; });
    if (bike == book->bikes.end()) return Error{Errc::bad_input, fmt::format("there is no bike {} in these papers", id)};
    Result<parts::Bike> described = parts::read_bike(bike->description_toml, bike->name, library);
    if (!described) return described.error();
    const inspect::Practice practice = inspect::practice_of(library);

    BikeOfPapers b;
    b.checks = papers::checks_of(*book, *bike, *described, practice, library, today);
    b.ridden = *described;
    b.ridden.name = bike->name;
    Teller tell_ridden(library, b.ridden);
    std::array<const papers::Part*, 2> pads{}, rotors{};
    for (const End end : {End::front, End::rear}) {
        const auto e = static_cast<std::size_t>(end);
        pads[e] = papers::part_at(*book, id, PartKind::pads, end, today);
        rotors[e] = papers::part_at(*book, id, PartKind::rotor, end, today);
        const papers::Part *first_pads = papers::part_at(*book, id, PartKind::pads, end, bike->added_day), *first_rotor = papers::part_at(*book, id, PartKind::rotor, end, bike->added_day);
        if (pads[e]) fit_pads(tell_ridden, b.ridden, library, end, *pads[e], first_pads && first_pads->id == pads[e]->id);
        if (rotors[e]) fit_rotor(tell_ridden, b.ridden, end, *rotors[e], first_rotor && first_rotor->id == rotors[e]->id);
    }
    b.today = b.ridden;
    Teller tell(library, b.today);
    for (const End end : {End::front, End::rear}) {
        const auto e = static_cast<std::size_t>(end);
        const double plate_mm = described->wheel(end).pads.plate_thickness_mm.value;   // as the papers' own checks take it
        if (pads[e]) read_pads(tell, b, *book, *bike, practice, end, *pads[e], plate_mm, today);
        if (rotors[e]) read_rotor(tell, b, library, *book, *bike, practice, end, *rotors[e], today);
        read_lever_and_fluid(tell, b, *book, *bike, practice, end, today);
        // Temperatures are those of the bike as ridden; its rotor had more metal to warm.
        if (const double now_mm = b.today.wheel(end).rotor.thickness_mm.value, then_mm = b.ridden.wheel(end).rotor.thickness_mm.value; now_mm < 0.97 * then_mm && now_mm > 0)
            b.checks.push_back({.id = inspect::CheckId::other, .code = fmt::format("{}_rotor_thinner_than_ridden", parts::word_of(end)), .state = inspect::State::no_reason_found, .done = false,
                                .do_not_ride = false,
                                .text = fmt::format("The {} rotor is {:.2f} mm now; temperatures of past rides are given for {:.2f} mm. In one hard stop the thinner one warms about {:.0f} % more.",
                                                    parts::word_of(end), now_mm, then_mm, 100 * (then_mm / now_mm - 1))});
        const auto moved = [&](const papers::Part* part, const std::optional<papers::Day>& since, PartKind kind, const char* word) {
            if (!part || !since || !elsewhere_since(*book, id, kind, end, *part, *since, today)) return;
            b.checks.push_back({.id = inspect::CheckId::other, .code = fmt::format("{}_{}_elsewhere", parts::word_of(end), word), .state = inspect::State::measure_better, .done = true,
                                .do_not_ride = false,
                                .text = fmt::format("Measure the {} {}: since the last reading, {}, {} on another bike, and what was worn there is not counted.", parts::word_of(end), word, *since,
                                                    kind == PartKind::pads ? "they were" : "it was")});
        };
        moved(pads[e], b.pads_since[e], PartKind::pads, "pads");
        moved(rotors[e], b.rotor_since[e], PartKind::rotor, "rotor");
    }
    return b;
}

}  // namespace bw::answer
