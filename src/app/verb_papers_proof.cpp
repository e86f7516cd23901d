// SPDX-License-Identifier: Apache-2.0
// `papers add proof`: proof stops from a table or told one by one; clearing them by name.                Layer: app
#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <nlohmann/json.hpp>
#include <set>

#include "base/text.hpp"
#include "base/time.hpp"
#include "from_ride.hpp"
#include "verb_papers.hpp"

namespace bw::app {

using json = nlohmann::ordered_json;

namespace {

// Further from the mark of the stops before it than this the scale pulls with another leverage.
constexpr double other_place_mm = 5;

bool same_stop(const papers::ProofStop& a, const papers::ProofStop& b) {
    return a.bike_id == b.bike_id && a.brakes == b.brakes && a.name == b.name && a.day == b.day && a.from_mps == b.from_mps && a.distance_m == b.distance_m && a.time_s == b.time_s && a.lever_force_N == b.lever_force_N &&
           a.grade == b.grade && a.surface == b.surface;
}

}  // namespace

const papers::ProofStop* same_cut(const std::vector<papers::ProofStop>& kept, const papers::Id& bike, const stop::ProofStop& s) {
    const auto it = std::find_if(kept.rbegin(), kept.rend(), [&](const papers::ProofStop& o) {
        return o.cleared_by.empty() && o.bike_id == bike && o.way == s.way && o.from_mps == s.from_mps && o.from_sd_mps == s.from_sd_mps && o.distance_m == s.distance_m && o.distance_sd_m == s.distance_sd_m;
    });
    return it == kept.rend() ? nullptr : &*it;
}

KeptProof keep_proof(Desk& d, const ToldProof& told, std::string* asked) {
    const papers::Bike bike = d.bike(told.bike);
    const papers::Book book = must(papers::book_of(*d.papers, bike.id));
    if (told.stops.empty()) stop(Errc::bad_input, "no stop is told");
    if (told.by.empty()) stop(Errc::wrong_usage, "say who rode and read them, with --by NAME");
    for (std::size_t i = 0; i < told.stops.size(); ++i)
        if (const stop::ProofStop& s = told.stops[i]; s.wheel == stop::Brakes::both)
            stop(Errc::bad_input, fmt::format("wheel both{}: a stop with both brakes tells neither. Brake with one alone, front or rear; nothing was kept.",
                                              told.stops.size() == 1 ? "" : s.stop.empty() ? fmt::format(", stop {} of {}", i + 1, format_day(s.day)) : fmt::format(", stop {} '{}' of {}", i + 1, s.stop, format_day(s.day))));
    KeptProof kept{.bike = bike};
    std::optional<papers::Id> scale;
    if (!told.with.empty()) {
        std::vector<std::string> names;
        for (const papers::Instrument& i : book.instruments) {
            names.push_back(i.name);
            if (i.name == told.with || i.id == told.with) scale = i.id;
        }
        if (!scale) stop(Errc::bad_input, fmt::format("there is no instrument '{}' in these papers{}; `papers add instrument` adds it", told.with, nearest(told.with, names)));
    }
    if (told.lever_place_mm && !(*told.lever_place_mm >= 0 && *told.lever_place_mm <= 150)) stop(Errc::bad_input, fmt::format("lever place {} mm: expected 0 to 150 mm from the lever's tip", *told.lever_place_mm));
    if (told.lever_place_mm && !told.sure)
        for (auto old = book.proof_stops.rbegin(); old != book.proof_stops.rend(); ++old) {
            if (old->bike_id != bike.id || !old->lever_place_mm || !old->cleared_by.empty() || std::none_of(told.stops.begin(), told.stops.end(), [&](const stop::ProofStop& s) { return s.wheel == old->brakes && s.lever_force_N; })) continue;
            if (std::abs(*old->lever_place_mm - *told.lever_place_mm) > other_place_mm) {
                const std::string said = fmt::format("The scale pulled {:g} mm from the lever's tip, but {:g} mm on {}: another place has another leverage, and the two do not compare.", *told.lever_place_mm, *old->lever_place_mm, old->day);
                if (!asked) stop(Errc::bad_input, said + " Brake again with the scale at the mark; to keep it as it is, say --sure.");
                *asked = said;
                return kept;
            }
            break;
        }
    // A row of a table like one that is kept is that one; the second like row of one table is another stop. A stop told alone
    // is always another, and what was cleared by name is not there any more.
    std::vector<papers::ProofStop> there = book.proof_stops, fresh;
    papers::ProofStop common;
    common.proof_id = papers::new_uuid();
    for (const stop::ProofStop& s : told.stops) {
        papers::ProofStop one = common;
        one.id = told.id;
        one.bike_id = bike.id;
        one.brakes = s.wheel;
        one.name = s.stop;
        one.day = format_day(s.day);
        if (const auto now = clock_day(); now && s.day > *now + 1) stop(Errc::bad_input, fmt::format("day {}: that lies ahead of today, {}", one.day, format_day(*now)));
        one.recorded_unix_s = d.deed.at_unix_s;
        one.number = static_cast<std::int64_t>(fresh.size());
        one.instrument_id = s.lever_force_N ? scale : std::nullopt;
        one.way = s.way;
        one.from_mps = s.from_mps;
        one.from_sd_mps = s.from_sd_mps;
        one.distance_m = s.distance_m;
        one.distance_sd_m = s.distance_sd_m;
        one.time_s = s.time_s;
        one.lever_force_N = s.lever_force_N;
        if (s.lever_force_N) one.lever_place_mm = told.lever_place_mm;
        one.grade = s.grade;
        one.surface = s.surface;
        one.note = told.note;
        if (s.way == stop::WayMeasured::recorded && s.from_sd_mps && s.distance_sd_m) {
            const papers::ProofStop* old = same_cut(fresh, bike.id, s);
            if (!old) old = same_cut(book.proof_stops, bike.id, s);
            if (old && old->brakes != one.brakes)
                stop(Errc::bad_input, fmt::format("stop '{}' is in the papers as one of the {} brake ('{}' of {}): a stop proves the brake that was pulled alone, not both. Nothing was kept.", one.name, stop::word_of(old->brakes), old->name, old->day));
            // Told otherwise than it is kept, it is a correction, and none is made here: the kept one would go on counting.
            const auto other = [&](const std::string& as) {
                stop(Errc::bad_input, fmt::format("stop '{}' is in the papers {} ('{}' of {}): it counts once, and stays as it is kept. If that is wrong, take it back while it is the last change (undo), or clear the proof stops by name where they hold the bike back (clear --proof). Nothing was kept.", one.name, as, old->name, old->day));
            };
            if (old && old->lever_force_N != one.lever_force_N) other(old->lever_force_N ? fmt::format("with another squeeze, {:g} N", *old->lever_force_N) : "without a squeeze");
            if (old && old->surface != one.surface) other(fmt::format("on another surface, {}", stop::word_of(old->surface)));
            if (old && old->day != one.day) other("on another day");
            if (old) {
                ++kept.there;
                continue;
            }
        }
        if (told.table)
            if (const auto it = std::find_if(there.begin(), there.end(), [&](const papers::ProofStop& o) { return o.cleared_by.empty() && same_stop(o, one); }); it != there.end()) {
                there.erase(it);
                ++kept.there;
                continue;
            }
        fresh.push_back(std::move(one));
    }
    kept.added = static_cast<long>(fresh.size());
    if (fresh.empty()) return kept;
    const papers::Id person = d.person(told.by);
    for (papers::ProofStop& s : fresh) s.person_id = person;
    must(d.papers->add_proof(d.deed, fresh));
    return kept;
}

int clear_proof_of(Desk& d, const papers::Bike& bike, const parts::Library& library, const std::string& why) {
    const papers::Book book = must(papers::book_of(*d.papers, bike.id));
    const parts::Bike described = must(parts::read_bike(bike.description_toml, bike.name, library));
    // Only stops of the bike that was named: what came with a part rests on those of another, and its own alarm may hang on them.
    // Named itself, that bike's stops are cleared for wherever they went as well.
    std::set<papers::Id> stops;
    std::string elsewhere;
    for (const papers::Bike& other : book.bikes) {
        const Result<parts::Bike> read = other.id == bike.id ? described : parts::read_bike(other.description_toml, other.name, library);
        if (!read) continue;
        for (const parts::End end : {parts::End::front, parts::End::rear}) {
            const auto proof = papers::proof_read(book, other.id, *read, end, library, d.today);
            for (const papers::ProofStop& s : book.proof_stops) {
                if (!proof || std::find(proof->rests_on.begin(), proof->rests_on.end(), s.id) == proof->rests_on.end()) continue;
                if (s.bike_id == bike.id) stops.insert(s.id);
                else if (other.id == bike.id) elsewhere = s.bike_id;
            }
        }
    }
    if (stops.empty() && !elsewhere.empty()) {
        const std::string name = std::find_if(book.bikes.begin(), book.bikes.end(), [&](const papers::Bike& b) { return b.id == elsewhere; })->name;
        stop(Errc::bad_input, fmt::format("what holds {} back came with a part from {} and rests on the proof stops of {}. Those may hold {} back too, so they are cleared by its name: brakewright papers clear '{}' --proof. Nothing was changed.", bike.name, name, name, name, name));
    }
    return stops.empty() ? 0 : must(d.papers->clear_proof(d.deed, {stops.begin(), stops.end()}, why));
}

int papers_add_proof(Desk& d) {
    const PapersOptions& o = d.o;
    const parts::Library library = must(parts::load_library());
    std::optional<stop::WayMeasured> way;
    if (!o.kind.empty()) way = stop::way_measured_of(o.kind);
    const auto quantity = [](const std::string& text, Unit unit, const char* name) -> std::optional<double> {
        if (text.empty()) return std::nullopt;
        const Result<double> v = parse_quantity(text, unit);
        if (!v) stop(v.error().code, fmt::format("{}: {}", name, v.error().text));
        return *v;
    };
    ToldProof told{.bike = o.bike, .by = !o.from_ride.empty() && o.which.empty() ? o.by : d.by_or_stop("add proof"), .note = o.note, .with = o.with, .lever_place_mm = quantity(o.lever_place, Unit::length_mm, "--lever-place"), .table = !o.paths.empty(), .sure = o.sure};
    for (const std::string& path : o.paths) {
        const std::vector<stop::ProofStop> rows = must(stop::read_proof_stops(must(read_file(path)), path));
        told.stops.insert(told.stops.end(), rows.begin(), rows.end());
    }
    if (!o.from_ride.empty()) {
        if (!o.paths.empty() || !o.from.empty() || !o.distance.empty()) stop(Errc::wrong_usage, "the stops of a recording, a table, or one told by --from and --distance: not both");
        if (!o.grade.empty()) stop(Errc::wrong_usage, "--grade is of a stop that a person measured: a recording brings its own altitude");
        const StopsOfRide ridden = stops_of_ride(library, {.ride = o.from_ride, .brake = o.place, .which = o.which, .force = o.force, .surface = o.surface, .day = o.day});
        if (ridden.taken.empty()) {   // nothing is kept before somebody says which brake it was
            if (o.common.json) {
                json found = json::array();
                for (const stop::RecordedStop& s : ridden.found) found.push_back({{"start_s", s.start_s}, {"from_mps", s.from_mps}, {"distance_m", s.usable ? json(s.distance_m) : json(nullptr)}, {"usable", s.usable}, {"why_not", s.why_not}});
                fmt::print("{}\n", json({{"schema", "papers/1"}, {"version", version}, {"recorded", {{"file", ridden.file}, {"stops", found}}}}).dump(2, ' ', false, json::error_handler_t::replace));
                return 0;
            }
            fmt::print("Stops in {}:{}\n", ridden.file, ridden.found.empty() ? " none from 11 km/h or more that ends standing." : "");
            for (std::size_t i = 0; i < ridden.found.size(); ++i) fmt::print("{}\n", wrap("  " + stop::words_of(ridden.found[i], i + 1), 80, 5));
            fmt::print("Nothing was kept. Say which brake was pulled alone, and in which of them: --place front --stops all, or --stops 1,3,4; on which surface: --surface dry; --force 60N where a spring scale was read.\n");
            return 0;
        }
        told.stops = ridden.taken;
        told.table = true;   // the same recording twice is the same stops
    } else if (o.paths.empty()) {
        if (o.from.empty() || o.distance.empty()) stop(Errc::wrong_usage, "name a table of stops, or tell one: --from 25km/h --distance 9.4m --place front, and --time, --force where they were read");
        // By the reader of the tables: the same ranges and the same words.
        const auto cell = [](const std::optional<double>& v) { return v ? fmt::format("{}", *v) : std::string(); };
        const std::string row = fmt::format("{},{},{},{},{},{},{},{}\n", d.today, o.place.empty() ? "" : o.place, cell(quantity(o.from, Unit::speed_mps, "--from")), cell(quantity(o.distance, Unit::length_m, "--distance")), cell(o.time_s),
                                            cell(quantity(o.force, Unit::force_N, "--force")), o.surface.empty() ? "dry" : o.surface, quantity(o.grade, Unit::fraction, "--grade").value_or(0));
        if (o.place.empty()) stop(Errc::wrong_usage, "which brake alone? --place front or --place rear");
        Result<std::vector<stop::ProofStop>> one = stop::read_proof_stops("date,wheel,from_mps,distance_m,time_s,lever_force_N,surface,grade\n" + row, "the stop");
        if (!one) stop(one.error().code, one.error().text.substr(one.error().text.find(": ") + 2));
        told.stops = *std::move(one);
    } else if (!o.from.empty() || !o.distance.empty()) {
        stop(Errc::wrong_usage, "name a table, or tell one stop by --from and --distance: not both");
    }
    for (stop::ProofStop& s : told.stops)
        if (way && !s.way) s.way = way;
    KeptProof kept;
    d.together([&] { kept = keep_proof(d, told); });
    const papers::Book book = must(papers::book_of(*d.papers, kept.bike.id));
    // A table of earlier days does not hide what holds the bike back today.
    const std::string day = std::max(d.today, format_day(clock_day().value_or(parse_day(d.today).value_or(0))));
    const inspect::Verdict verdict = judged(*d.papers, book, kept.bike, library, day).verdict;
    if (o.common.json) {
        fmt::print("{}\n", json({{"schema", "papers/1"}, {"version", version}, {"proof", {{"bike", kept.bike.name}, {"added", kept.added}, {"there_already", kept.there}, {"do_not_ride", verdict.do_not_ride}}}}).dump(2, ' ', false, json::error_handler_t::replace));
        return 0;
    }
    if (verdict.do_not_ride) fmt::print("{}\n", wrap(kept.bike.name + ": " + verdict.text, 80, 2));
    fmt::print("{} proof stop{} of {} kept{}.\n", kept.added, kept.added == 1 ? "" : "s", kept.bike.name, kept.there ? fmt::format(", {} there already", kept.there) : "");
    const parts::Bike described = must(parts::read_bike(kept.bike.description_toml, kept.bike.name, library));
    for (const parts::End end : {parts::End::front, parts::End::rear})
        if (const auto proof = papers::proof_read(book, kept.bike.id, described, end, library, day)) fmt::print("{}\n", wrap(fmt::format("- {} brake: {}", papers::word_of(end), papers::words_of(*proof)), 80, 2));
    return 0;
}

}  // namespace bw::app
