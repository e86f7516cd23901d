// SPDX-License-Identifier: Apache-2.0
// What the pages look at: papers, bikes, brakes, the list before a ride. Keys: web/openapi.json.           Layer: app
#include <fmt/format.h>

#include <algorithm>
#include <chrono>
#include <cmath>
#include <filesystem>
#include <map>
#include <nlohmann/json.hpp>

#include "base/time.hpp"
#include "jobs.hpp"
#include "room.hpp"

namespace bw::app::service {

namespace {

template <class T>
json of(const std::optional<T>& v) {
    return v ? json(*v) : json();
}
json word_or_null(const std::string& word) { return word.empty() ? json() : json(word); }
json instant(const std::optional<double>& unix_s) { return unix_s ? json(format_time(*unix_s)) : json(); }
template <class E>
json word_of_optional(const std::optional<E>& v) {
    return v ? json(papers::word_of(*v)) : json();
}

std::string name_of_person(const papers::Book& book, const papers::Id& id) {
    for (const papers::Person& p : book.people)
        if (p.id == id) return p.name;
    return "";
}

json overdue_of(const std::vector<papers::ToDo>& list) {
    json out = json::array();
    for (const papers::ToDo& t : list)
        if (t.why != papers::ToDo::Why::routine) out.push_back({{"code", name_of(t)}, {"text", t.text}});
    return out;
}

json json_of(const papers::Book& book, const papers::Reading& r) {
    const Range range = range_of(r.what);
    json points = json::array(), values = json::array();
    for (const papers::Point& p : r.points) {
        const std::optional<double> v = p.length_mm ? p.length_mm : p.temperature_degC ? p.temperature_degC : p.mass_g ? p.mass_g : p.age_months;
        if (!v) continue;
        values.push_back(*v);
        points.push_back({{"side", word_of_optional(p.side)}, {"angle_deg", of(p.angle_deg)}, {"radius_mm", of(p.radius_mm)}, {"value", *v}});
    }
    std::optional<std::string> tool;
    for (const papers::Instrument& i : book.instruments)
        if (r.instrument_id == i.id) tool = i.name;
    return {{"id", r.id},
            {"at", format_time(r.recorded_unix_s)},
            {"day", r.day},
            {"place", papers::word_of(r.place)},
            {"quantity", papers::word_of(r.what)},
            {"unit", range.unit == std::string_view("°C") ? "degC" : range.unit},
            {"values", values},
            {"points", points},
            {"word", r.word},
            {"with_plate", of(r.with_plate)},
            {"anvil", word_of_optional(r.anvil)},
            {"instrument", of(tool)},
            {"person", name_of_person(book, r.person_id)},
            {"note", r.note},
            {"part", of(r.part_id)}};
}

struct Newest {
    std::optional<inspect::Reading> value;
    std::optional<papers::Day> day;
};
// The thinnest value of the newest reading of a part, of one side or (nothing) of no named side.
Newest newest_of(const papers::Book& book, const papers::Part* part, papers::What what, std::optional<papers::Side> side, double assumed_plate_mm, const inspect::Practice& practice,
                 const papers::Day& today) {
    Newest out;
    if (!part) return out;
    for (const papers::Reading& r : book.readings) {
        if (r.part_id != part->id || r.what != what || r.day > today) continue;
        std::optional<inspect::Reading> least;
        for (const papers::Point& p : r.points) {
            if (p.side != side || !p.length_mm) continue;
            const inspect::Reading x = what == papers::What::pad_thickness ? papers::friction_of(book, r, *p.length_mm, assumed_plate_mm, practice)
                                                                           : inspect::Reading{.value = *p.length_mm, .uncertainty = papers::uncertainty_mm(book, r, practice)};
            if (!least || x.value < least->value) least = x;
        }
        if (least) out = {least, r.day};
    }
    return out;
}

std::optional<double> newest_lever(const papers::Book& book, const papers::Id& bike, parts::End end, papers::What what, const papers::Day& today) {
    papers::Day since;
    for (const papers::Work& w : book.works)
        if (w.bike_id == bike && w.day <= today && (!w.place || *w.place == end) && (w.kind == papers::WorkKind::bleed || w.kind == papers::WorkKind::new_pads || w.kind == papers::WorkKind::new_cable))
            since = std::max(since, w.day);
    std::optional<double> found;
    for (const papers::Reading& r : book.readings)
        if (r.bike_id == bike && r.place == end && r.what == what && r.day <= today && r.day >= since)
            for (const papers::Point& p : r.points)
                if (p.length_mm) found = p.length_mm;
    return found;
}

json brake(const papers::Book& book, const papers::Bike& bike, const parts::Bike& described, parts::End end, const inspect::Practice& practice, const parts::Library& library, const papers::Day& today) {
    const parts::Wheel& w = described.wheel(end);
    const std::string at(parts::word_of(end));
    const auto given = [&](const char* key) { return described.given.contains(at + "." + key); };
    const papers::Part* pads = papers::part_at(book, bike.id, papers::PartKind::pads, end, today);
    const papers::Part* rotor = papers::part_at(book, bike.id, papers::PartKind::rotor, end, today);

    const Newest thick = newest_of(book, rotor, papers::What::rotor_thickness, {}, 0, practice, today);
    const double diameter_mm = rotor && rotor->diameter_mm ? *rotor->diameter_mm : w.rotor.diameter_mm.value;
    json rotor_json = {{"diameter_mm", diameter_mm},
                       {"band_inner_mm", w.rotor.band_inner_mm.value - w.rotor.diameter_mm.value + diameter_mm},
                       {"thickness_mm", thick.value ? json(thick.value->value) : json()},   // never read: no number stands for it
                       {"thickness_sd_mm", thick.value ? json(thick.value->uncertainty) : json()},
                       {"least_thickness_mm", rotor ? of(rotor->least_thickness_mm) : json()},
                       {"least_from", rotor && rotor->least_thickness_mm ? json("maker") : json()},
                       {"measured", thick.value.has_value()},
                       {"day", of(thick.day)},
                       {"diameter_given", (rotor && rotor->diameter_mm) || given("rotor.diameter_mm")},
                       {"band_inner_given", given("rotor.band_inner_mm")}};

    const double plate_mm = pads && pads->plate_thickness_mm ? *pads->plate_thickness_mm : w.pads.plate_thickness_mm.value;
    const Newest plate = newest_of(book, pads, papers::What::plate_thickness, {}, 0, practice, today);
    const auto pad = [&](papers::Side side) {
        Newest one = newest_of(book, pads, papers::What::pad_thickness, side, plate_mm, practice, today);
        const Newest either = newest_of(book, pads, papers::What::pad_thickness, {}, plate_mm, practice, today);
        const bool side_known = one.value && (!either.day || *either.day <= *one.day);
        if (!side_known && either.value) one = either;
        return json{{"friction_thickness_mm", one.value ? json(one.value->value) : json()},
                    {"sd_mm", one.value ? json(one.value->uncertainty) : json()},
                    {"measured", one.value && one.value->plate != inspect::Plate::assumed},
                    {"day", of(one.day)},
                    {"side_known", side_known}};
    };
    const json pads_json = {{"left", pad(papers::Side::left)},
                            {"right", pad(papers::Side::right)},
                            {"new_mm", pads ? of(pads->new_thickness_mm) : json()},
                            {"plate_thickness_mm", plate.value ? plate.value->value : plate_mm},
                            {"plate_measured", plate.value || (pads && pads->plate_measured.value_or(false))},
                            {"least_friction_mm", pads ? of(pads->least_thickness_mm) : json()},
                            {"least_from", pads && pads->least_thickness_mm ? json("maker") : json()},
                            {"near_plate_mm", practice.near_plate_mm},
                            {"compound", pads && pads->compound ? papers::word_of(*pads->compound) : parts::word_of(w.pads.compound)}};

    const auto reach = newest_lever(book, bike.id, end, papers::What::lever_reach, today), bite = newest_lever(book, bike.id, end, papers::What::lever_bite, today),
               full = newest_lever(book, bike.id, end, papers::What::lever_full, today);
    const auto run_out = papers::run_out_read(book, bike.id, end, library, today);
    return {{"actuation", parts::word_of(w.actuation)},
            {"rotor", rotor_json},
            {"pads", pads_json},
            {"lever",
             {{"reach_mm", reach.value_or(w.lever.reach_mm.value)},
              {"bite_mm", bite.value_or(w.lever.bite_mm.value)},
              {"full_mm", of(full)},
              {"reach_measured", reach.has_value()},
              {"bite_measured", bite.has_value()},
              {"near_mm", practice.lever_near_mm}}},
            {"run_out", run_out ? app::json_of(*run_out) : json()},
            {"pistons_per_side", w.caliper.pistons_per_side},
            {"piston_diameter_mm", w.caliper.piston_diameter_mm.value}};
}

}  // namespace

double Room::now() const { return std::chrono::duration<double>(std::chrono::system_clock::now().time_since_epoch()).count(); }
papers::Day Room::today() const { return today_told.empty() ? format_day(static_cast<long>(std::floor(now() / 86400))) : today_told; }

json Room::at_desk(const std::string& by, const PapersOptions& o, const std::function<json(Desk&)>& f) {
    const std::lock_guard alone(lock);
    const papers::Deed deed{.by = by, .at_unix_s = now(), .batch = papers::new_uuid()};
    const papers::Day day = o.day.empty() ? today() : o.day;
    const Context ctx;
    Desk d{.o = o, .ctx = ctx, .papers = papers.get(), .deed = deed, .today = day};
    return f(d);
}

json Room::at_desk(const std::function<json(Desk&)>& f) { return at_desk("", {}, f); }

papers::Bike bike_of(const papers::Book& book, const papers::Id& id) {
    for (const papers::Bike& b : book.bikes)
        if (b.id == id) return b;
    throw NotThere{"there is no bike with this id in these papers"};
}

json json_of(const inspect::Verdict& v) {
    json reasons = json::array(), notes = json::array();
    for (const auto& r : v.reasons) reasons.push_back({{"code", r.code}, {"text", r.text}});
    for (const auto& r : v.notes) notes.push_back({{"code", r.code}, {"text", r.text}});
    return {{"do_not_ride", v.do_not_ride}, {"state", inspect::word_of(v.state)}, {"text", v.text}, {"reasons", reasons}, {"notes", notes}, {"checks_done", v.checks_done}, {"checks_total", v.checks_total}};
}

json held_of(const papers::Book& book, const papers::Id& bike) {
    for (const papers::Hold& h : book.holds)
        if (h.bike_id == bike && h.cleared_by.empty()) return {{"by", h.by}, {"why", h.why}, {"since", format_time(h.from_unix_s)}};
    return nullptr;
}

json fault_list(const std::vector<ride::Fault>& faults) {
    json out = json::array();
    for (const ride::Fault& f : faults) out.push_back({{"kind", ride::word_of(f.kind)}, {"count", f.count}, {"seconds", std::isfinite(f.seconds) ? f.seconds : 0.0}, {"text", f.text}});
    return out;
}

json json_of(const papers::Ride& r) {
    return {{"id", r.id},
            {"file", r.file_name},
            {"start_time", instant(r.start_unix_s)},
            {"day", of(r.day)},
            {"distance_m", of(r.distance_m)},
            {"duration_s", of(r.duration_s)},
            {"descent_m", of(r.descent_m)},
            {"described", r.kind == papers::RideKind::described},
            {"surface", word_or_null(r.surface)},
            {"weather", word_or_null(r.weather)},
            {"load_kg", of(r.load_kg)},
            {"wind_mps", of(r.wind_mps)},
            {"wind_from_deg", of(r.wind_from_deg)},
            {"air_degC", of(r.air_degC)},
            {"note", r.note}};
}

json about(Room& room) {
    return room.at_desk([&](Desk& d) -> json {
        json people = json::array(), tools = json::array();
        for (const papers::Person& p : must(d.papers->people())) people.push_back(p.name);
        for (const papers::Instrument& i : must(d.papers->instruments())) tools.push_back({{"id", i.id}, {"name", i.name}, {"kind", papers::word_of(i.kind)}});
        return {{"version", version},
                {"today", d.today},
                {"papers",
                 {{"name", std::filesystem::path(room.papers_path).filename().string()},
                  {"bikes", must(d.papers->bikes()).size()},
                  {"rides", must(d.papers->rides({})).size()},
                  {"readings", must(d.papers->readings({})).size()},
                  {"schema", papers::schema_number()}}},
                {"people", people},
                {"instruments", tools},
                {"cautions", {caution}}};
    });
}

json stand(Room& room) {
    return room.at_desk([&](Desk& d) -> json {
        const papers::Book book = must(papers::book_of(*d.papers, std::nullopt));
        struct Sums {
            long rides = 0, readings = 0;
            double distance_m = 0;
            std::optional<papers::Day> last_ride, last_reading;
        };
        std::map<papers::Id, Sums> sums;
        for (const papers::Ride& r : must(d.papers->rides({}))) {
            Sums& s = sums[r.bike_id];
            ++s.rides;
            s.distance_m += r.distance_m.value_or(0);
            if (r.day) s.last_ride = std::max(s.last_ride.value_or(*r.day), *r.day);
        }
        for (const papers::Reading& r : book.readings) {
            Sums& s = sums[r.bike_id];
            ++s.readings;
            s.last_reading = std::max(s.last_reading.value_or(r.day), r.day);
        }
        struct Line {
            Judged judged;
            std::optional<papers::Day> look_by;
            json out;
        };
        std::vector<Line> lines;
        for (const papers::Bike& b : book.bikes) {
            if (b.retired_day && *b.retired_day <= d.today) continue;
            Line line{.judged = judged(*d.papers, book, b, room.library, d.today), .look_by = {}, .out = {}};
            const Sums& s = sums[b.id];
            const KnownAnswer known = known_answer(room, d, b.id);
            if (!line.judged.verdict.do_not_ride) line.look_by = known.look_by;
            line.out = {{"id", b.id},
                        {"name", b.name},
                        {"kind", parts::word_of(line.judged.described.kind)},
                        {"verdict", json_of(line.judged.verdict)},
                        {"look_by", of(line.look_by)},
                        {"overdue", overdue_of(line.judged.list)},
                        {"minutes", line.judged.minutes},
                        {"rides", s.rides},
                        {"last_ride", of(s.last_ride)},
                        {"held", held_of(book, b.id)},
                        {"readings", s.readings},
                        {"last_reading", of(s.last_reading)},
                        {"distance_m", s.distance_m},
                        {"computed", !known.key.empty()},
                        {"worked_out", of(line.judged.worked_out)}};
            lines.push_back(std::move(line));
        }
        std::stable_sort(lines.begin(), lines.end(), [](const Line& a, const Line& b) {
            const auto rank = [](const Line& l) { return std::tuple(!l.judged.verdict.do_not_ride, -static_cast<int>(l.judged.verdict.state), l.look_by.value_or("9999-12-31")); };
            return rank(a) < rank(b);
        });
        json bikes = json::array();
        for (Line& l : lines) bikes.push_back(std::move(l.out));
        return {{"today", d.today}, {"bikes", bikes}};
    });
}

json bike_page(Room& room, const papers::Id& id) {
    return room.at_desk([&](Desk& d) -> json {
        const papers::Book book = must(papers::book_of(*d.papers, id));
        const papers::Bike bike = bike_of(book, id);
        const Judged j = judged(*d.papers, book, bike, room.library, d.today);
        json parts = json::array(), readings = json::array(), rides = json::array(), checks = json::array(), works = json::array(), happenings = json::array();
        const auto add_part = [&](const papers::Part& p, const papers::Fitting& f, parts::End place) {
            parts.push_back({{"id", p.id},
                             {"place", papers::word_of(place)},
                             {"kind", papers::word_of(p.kind)},
                             {"since", f.from_day},
                             {"until", of(f.to_day)},
                             {"text", p.name},
                             {"compound", word_of_optional(p.compound)},
                             {"new_thickness_mm", of(p.new_thickness_mm)},
                             {"plate_thickness_mm", of(p.plate_thickness_mm)},
                             {"plate_measured", of(p.plate_measured)},
                             {"least_thickness_mm", of(p.least_thickness_mm)},
                             {"area_mm2", of(p.area_mm2)},
                             {"diameter_mm", of(p.diameter_mm)}});
        };
        const auto part = [&](const papers::Id& part_id) {
            const auto it = std::find_if(book.parts.begin(), book.parts.end(), [&](const papers::Part& p) { return p.id == part_id; });
            return it == book.parts.end() ? nullptr : &*it;
        };
        for (const papers::Fitting& f : book.fittings) {
            const papers::Part* p = f.bike_id == id ? part(f.part_id) : nullptr;
            if (!p) continue;
            add_part(*p, f, f.place);
            // A wheel's own parts while the wheel is here.
            for (const papers::Fitting& g : book.fittings) {
                if (g.wheel_id != p->id || (f.to_day && g.from_day >= *f.to_day) || (g.to_day && *g.to_day <= f.from_day)) continue;
                if (const papers::Part* carried = part(g.part_id)) add_part(*carried, g, f.place);
            }
        }
        for (auto r = book.readings.rbegin(); r != book.readings.rend(); ++r)
            if (r->bike_id == id) readings.push_back(json_of(book, *r));
        std::vector<papers::Ride> all = must(d.papers->rides(id));
        std::stable_sort(all.begin(), all.end(), [](const papers::Ride& a, const papers::Ride& b) { return a.day.value_or("") > b.day.value_or(""); });
        for (const papers::Ride& r : all) rides.push_back(service::json_of(r));
        for (const inspect::Check& c : j.checks)
            checks.push_back({{"id", inspect::word_of(c.id)}, {"code", c.code}, {"state", inspect::word_of(c.state)}, {"text", c.text}, {"done", c.done}, {"do_not_ride", c.do_not_ride}});
        for (const papers::Work& w : book.works)
            if (w.bike_id == id) works.push_back({{"id", w.id}, {"kind", papers::word_of(w.kind)}, {"place", word_of_optional(w.place)}, {"day", w.day}, {"person", name_of_person(book, w.person_id)}, {"note", w.note}});
        for (const papers::Incident& i : book.incidents)
            happenings.push_back({{"id", i.id}, {"kind", papers::word_of(i.kind)}, {"place", word_of_optional(i.place)}, {"day", i.day}, {"person", name_of_person(book, i.person_id)}, {"note", i.note}});
        const KnownAnswer known = known_answer(room, d, id);
        return {{"id", bike.id},
                {"name", bike.name},
                {"kind", parts::word_of(j.described.kind)},
                {"description", json::parse(must(parts::description_json(bike.description_toml)))},
                {"toml", bike.description_toml},
                {"parts", parts},
                {"readings", readings},
                {"rides", rides},
                {"verdict", json_of(j.verdict)},
                {"checks", checks},
                {"held", held_of(book, id)},
                {"answer_key", known.key.empty() ? json() : json(known.key)},
                {"works", works},
                {"happenings", happenings},
                {"added", bike.added_day},
                {"note", bike.note}};
    });
}

json brakes(Room& room, const papers::Id& id) {
    return room.at_desk([&](Desk& d) -> json {
        const papers::Book book = must(papers::book_of(*d.papers, id));
        const papers::Bike bike = bike_of(book, id);
        const parts::Bike described = must(parts::read_bike(bike.description_toml, bike.name, room.library));
        const inspect::Practice practice = inspect::practice_of(room.library);
        return {{"front", brake(book, bike, described, parts::End::front, practice, room.library, d.today)}, {"rear", brake(book, bike, described, parts::End::rear, practice, room.library, d.today)}};
    });
}

json check_list(Room& room, const papers::Id& id) {
    return room.at_desk([&](Desk& d) -> json {
        const papers::Book book = must(papers::book_of(*d.papers, id));
        const Judged j = judged(*d.papers, book, bike_of(book, id), room.library, d.today);
        json items = json::array();
        for (const papers::ToDo& t : j.list)
            items.push_back({{"code", name_of(t)},
                             {"item", papers::word_of(t.item)},
                             {"place", word_of_optional(t.place)},
                             {"text", t.text},
                             {"overdue", t.why != papers::ToDo::Why::routine},
                             {"why", word_of(t.why)},
                             {"minutes", t.minutes},
                             {"last", of(t.last_ok)}});
        return {{"today", d.today}, {"items", items}, {"minutes", j.minutes}, {"verdict", json_of(j.verdict)}, {"cautions", {caution}}};
    });
}

json proof_page(Room& room, const papers::Id& id) {
    return room.at_desk([&](Desk& d) -> json {
        const papers::Book book = must(papers::book_of(*d.papers, id));
        const Judged j = judged(*d.papers, book, bike_of(book, id), room.library, d.today);
        json stops = json::array(), brakes = json::object();
        for (const papers::ProofStop& s : book.proof_stops)
            if (s.bike_id == id)
                stops.push_back({{"id", s.id}, {"date", s.day}, {"wheel", papers::word_of(s.brakes)}, {"from_mps", s.from_mps}, {"distance_m", s.distance_m}, {"time_s", of(s.time_s)}, {"lever_force_N", of(s.lever_force_N)}, {"lever_place_mm", of(s.lever_place_mm)},
                                 {"surface", papers::word_of(s.surface)}, {"grade", s.grade}, {"way", word_of_optional(s.way)}, {"person", name_of_person(book, s.person_id)}, {"note", s.note}, {"cleared_by", s.cleared_by.empty() ? json() : json(s.cleared_by)}});
        for (const parts::End end : {parts::End::front, parts::End::rear}) {
            const auto read = papers::proof_read(book, id, j.described, end, room.library, d.today);
            brakes[std::string(papers::word_of(end))] = read ? json({{"stops", read->stops.size()}, {"since", of(read->since)}, {"alarm", read->check && read->check->do_not_ride}, {"text", papers::words_of(*read)}}) : json();
        }
        return {{"stops", stops}, {"brakes", brakes}, {"verdict", json_of(j.verdict)}, {"cautions", {caution}}};
    });
}

json ride_row(Room& room, const papers::Id& bike, const papers::Id& ride) {
    return room.at_desk([&](Desk& d) -> json {
        for (const papers::Ride& r : must(d.papers->rides(bike)))
            if (r.id == ride) return service::json_of(r);
        throw NotThere{"there is no such ride of this bike"};
    });
}

}  // namespace bw::app::service
