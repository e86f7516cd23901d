// SPDX-License-Identifier: Apache-2.0
// What the pages enter: bikes, rides, readings, ticks, holds, undo. Keys: web/openapi.json.               Layer: app
#include <fmt/format.h>

#include <algorithm>
#include <cctype>
#include <cmath>
#include <filesystem>
#include <nlohmann/json.hpp>

#include "../verbs.hpp"
#include "answer/answer.hpp"
#include "base/text.hpp"
#include "base/time.hpp"
#include "body.hpp"
#include "room.hpp"

namespace bw::app::service {

using papers::What;

namespace {

std::string day_of(const json& body) {
    const std::string day = text_of(body, "day");
    if (!day.empty() && !parse_day(day)) stop(Errc::bad_input, fmt::format("day '{}': expected a day as 2026-05-01", day));
    return day;
}

// The id of what one entry stores: that of the entry, so that it is stored once however often it comes.
papers::Id entry_of(const json& body) {
    papers::Id id = text_of(body, "entry_id");
    for (char& c : id) c = static_cast<char>(std::tolower(static_cast<unsigned char>(c)));
    const auto at = [](std::size_t i) { return i == 8 || i == 13 || i == 18 || i == 23; };
    bool good = id.size() == 36;
    for (std::size_t i = 0; good && i < id.size(); ++i) good = at(i) ? id[i] == '-' : std::isxdigit(static_cast<unsigned char>(id[i])) != 0;
    if (!id.empty() && !good) stop(Errc::bad_input, fmt::format("entry_id '{}': expected a UUID", id));
    return id;
}


// As somebody says it.
std::string plain_word(What what) {
    std::string word(papers::word_of(what));
    std::replace(word.begin(), word.end(), '_', ' ');
    return word;
}

// A value as it came: a number in the unit of the quantity, or text as typed with a decimal comma or point and maybe a unit.
std::string typed(const json& v) {
    if (v.is_number()) return fmt::format("{}", v.get<double>());
    if (!v.is_string()) stop(Errc::bad_input, "values: expected numbers, or text as \"2,6\" or \"0.1 in\"");
    std::string text = v.get<std::string>();
    if (std::count(text.begin(), text.end(), ',') == 1 && text.find('.') == std::string::npos) std::replace(text.begin(), text.end(), ',', '.');
    return text;
}

// Thicknesses and distances in mm with the slips that can be told: a point one place off, inches for millimetres.
double value_of(What what, const std::string& text, bool with_plate, const json& body, std::vector<Question>& ask) {
    const Range range = range_of(what);
    const auto bare = parse_number(trim(text));   // a unit that was typed is believed
    if (range.unit != std::string_view("mm") || !bare) return number_of(what, text);
    double x = *bare;
    const bool outside = !(x >= range.least && x <= range.most);
    const std::string inch = answer_to(body, "inch"), point = answer_to(body, "decimal_point");
    if (inch == "in") x *= mm_per_inch;
    else if (const auto in_mm = taken_for_inches_mm(what, x, with_plate); inch.empty() && in_mm)
        ask.push_back({"inch", fmt::format("{} was typed. Is that inches ({:.2f} mm), or millimetres?", text, *in_mm), {{"in", fmt::format("inches: {:.2f} mm", *in_mm)}, {"mm", fmt::format("{} mm", text)}}});
    else if (point == "yes") x /= 10;
    else if (point.empty() && outside && plausible_mm(what, x / 10, with_plate))
        ask.push_back({"decimal_point", fmt::format("{} mm cannot be a {}. Was it {:g} mm?", text, plain_word(what), x / 10), {{"yes", fmt::format("yes: {:g} mm", x / 10)}, {"no", "no: I will measure again"}}});
    return ask.empty() ? number_of(what, fmt::format("{}", x)) : x;
}

json reading_reply(Room& room, Desk& d, const papers::Id& bike, const papers::Id& id, bool already) {
    const papers::Book book = must(papers::book_of(*d.papers, bike));
    // As of today, whatever day the reading is of: what holds the bike back now is said now.
    return {{"id", id}, {"verdict", json_of(judged(*d.papers, book, bike_of(book, bike), room.library, room.today()).verdict)}, {"questions", json::array()}, {"already_there", already}};
}

std::optional<double> thinnest_mm(const papers::Reading& r) {
    std::optional<double> least;
    for (const papers::Point& p : r.points)
        if (p.length_mm && (!least || *p.length_mm < *least)) least = p.length_mm;
    return least;
}

// The newest reading of its kind at that wheel, up to that day.
const papers::Reading* newest_of_kind(const papers::Book& book, const papers::Reading& like, parts::End place) {
    const papers::Reading* newest = nullptr;
    for (const papers::Reading& r : book.readings)
        if (r.bike_id == like.bike_id && r.what == like.what && r.place == place && r.day <= like.day && r.anvil == like.anvil && thinnest_mm(r)) newest = &r;
    return newest;
}

parts::End other_end(parts::End e) { return e == parts::End::front ? parts::End::rear : parts::End::front; }

// A rotor that has lost more since its last reading than readings are wrong by, and now reads as the other wheel's rotor did:
// rotors wear so slowly that the wheels may have been mixed up.
std::optional<std::string> rotor_of_the_other(const Room& room, const papers::Book& book, const papers::Reading& r) {
    if (r.what != What::rotor_thickness) return std::nullopt;
    const papers::Reading *own = newest_of_kind(book, r, r.place), *other = newest_of_kind(book, r, other_end(r.place));
    const std::optional<double> now = thinnest_mm(r);
    if (!own || !other || !now) return std::nullopt;
    // What holds the bike back where it was said to be is stored as it is: no question delays that.
    const inspect::Practice practice = inspect::practice_of(room.library);
    if (papers::rotor_check_of(book, r, practice, room.library).do_not_ride) return std::nullopt;
    const auto doubt_mm = [&](const papers::Reading& then) { return 3 * std::hypot(papers::uncertainty_mm(book, r, practice, 1), papers::uncertainty_mm(book, then, practice, 1)); };
    const double lost_mm = *thinnest_mm(*own) - *now, apart_mm = std::abs(*thinnest_mm(*other) - *now);
    if (lost_mm <= doubt_mm(*own) || apart_mm > doubt_mm(*other) || 2 * apart_mm > lost_mm) return std::nullopt;
    return fmt::format("This reads {:.2f} mm. The {} rotor was {:.2f} mm on {}, the {} one {:.2f} mm on {}. Which wheel is it?", *now, parts::word_of(r.place), *thinnest_mm(*own), own->day, parts::word_of(other_end(r.place)), *thinnest_mm(*other), other->day);
}

// Front and rear changed over: this one does not fit, but without the one read at the other wheel on the same day each would fit the other's place.
template <class Against>
std::optional<std::string> swapped_pair(Room& room, Desk& d, const papers::Book& book, const papers::Bike& bike, const Told& told, const Against& against) {
    const papers::Reading now = reading_of(d, room.library, book, bike, told);
    const papers::Reading* last = newest_of_kind(book, now, other_end(now.place));
    if (!last || last->day != now.day || last->id.empty() || last->with_plate != now.with_plate) return std::nullopt;
    papers::Book before = book;
    std::erase_if(before.readings, [&](const papers::Reading& r) { return r.id == last->id; });
    Told there = told, back = told;
    there.place = std::string(parts::word_of(last->place));
    back.points = last->points;
    try {
        if (against(before, reading_of(d, room.library, before, bike, there)) || against(before, reading_of(d, room.library, before, bike, back))) return std::nullopt;
    } catch (const Stop&) {
        return std::nullopt;
    }
    return fmt::format("It looks as if front and rear were changed over: {:.2f} mm, read at the {} on this day, fits the {}, and {:.2f} mm fits the {}.", *thinnest_mm(*last), parts::word_of(last->place), parts::word_of(now.place),
                       thinnest_mm(now).value_or(0), parts::word_of(last->place));
}

std::string file_name_only(const std::string& name) {
    std::string out;
    for (const char c : std::filesystem::path(name).filename().string())
        if (static_cast<unsigned char>(c) >= 0x20 && c != 0x7f) out += c;
    if (out.size() > 200) out = out.substr(out.size() - 200);   // the ending says what it is
    return out.empty() || out == "." || out == ".." ? "ride" : out;
}

}  // namespace

json body_of(const std::string& text) {
    try {
        json j = json::parse(text);
        if (!j.is_object()) throw Malformed{"expected a JSON object in the body"};
        return j;
    } catch (const json::parse_error& e) {
        throw Malformed{fmt::format("the body is not JSON (at byte {}): expected an object as web/openapi.json describes it", e.byte)};
    }
}

std::string text_of(const json& j, const char* key) {
    const auto it = j.is_object() ? j.find(key) : j.end();
    if (!j.is_object() || it == j.end() || it->is_null()) return {};
    if (!it->is_string()) stop(Errc::bad_input, fmt::format("{}: expected text", key));
    return it->get<std::string>();
}

std::string needed_text(const json& j, const char* key) {
    std::string text = text_of(j, key);
    if (trim(text).empty()) stop(Errc::bad_input, fmt::format("{}: this is needed", key));
    return text;
}

std::optional<double> number_in(const json& j, const char* key) {
    const auto it = j.find(key);
    if (it == j.end() || it->is_null()) return std::nullopt;
    if (!it->is_number()) stop(Errc::bad_input, fmt::format("{}: expected a number", key));
    return it->get<double>();
}

std::string answer_to(const json& body, const char* code) {
    const auto it = body.find("answers");
    return it == body.end() || it->is_null() ? std::string() : text_of(*it, code);
}

SixTold six_told(const json& j) {
    if (!j.is_object()) stop(Errc::bad_input, "six: expected an object with the answers to the six questions");
    return {.kind = needed_text(j, "kind"), .compound = text_of(j, "compound"), .terrain = text_of(j, "terrain"), .total_mass_kg = number_in(j, "total_mass_kg").value_or(0), .rotor_diameter_mm = number_in(j, "rotor_diameter_mm").value_or(0), .pad_total_mm = number_in(j, "pad_total_mm").value_or(0)};
}

std::string code_of_pairing(const std::string& body) { return text_of(body_of(body), "code"); }

json new_bike(Room& room, const std::string& text) {
    const json body = body_of(text);
    const papers::Id entry = entry_of(body);
    std::string toml = text_of(body, "toml"), name = text_of(body, "name");
    if (body.contains("six")) {
        const SixTold told = six_told(body["six"]);
        toml = must(six_of(room.library, told, name)).toml;
    }
    if (trim(toml).empty()) stop(Errc::bad_input, "expected toml (a bike description) or six (the answers to the six questions)");
    const std::string by = text_of(body, "by");
    PapersOptions o;
    o.name = name;
    return room.at_desk(by, o, [&](Desk& d) -> json {
        for (const papers::Bike& b : must(d.papers->bikes()))
            if (!entry.empty() && b.id == entry) return {{"id", b.id}, {"name", b.name}};
        if (d.deed.by.empty()) d.deed.by = "the stand";
        const papers::Bike bike = add_bike(d, room.library, toml, "the description", name, entry);
        return {{"id", bike.id}, {"name", bike.name}};
    });
}

json new_rides(Room& room, const papers::Id& bike, const std::string& name, const std::string& by, const std::string& file) {
    std::string bytes = must(read_file(file));
    const std::string shown = file_name_only(name);
    PapersOptions o;
    o.bike = bike;
    return room.at_desk(by, o, [&](Desk& d) -> json {
        bike_of(must(papers::book_of(*d.papers, bike)), bike);
        Tally tally;
        std::optional<AddedRide> ride;
        const bool table = answer::is_described(bytes);
        if (table) add_described(d, bytes, shown, tally);
        else ride = add_recorded(d, std::move(bytes), shown, tally);
        if (!table && !ride) stop(Errc::bad_input, tally.troubles.empty() ? shown + ": nothing could be made of it" : tally.troubles.front());
        json refused = json::array();
        for (const std::string& trouble : tally.troubles) {
            long line = 0;
            std::string said = trouble;
            if (const std::string lead = shown + ":"; trouble.starts_with(lead)) {
                const std::size_t end = trouble.find(':', lead.size());
                if (const auto n = parse_number(trouble.substr(lead.size(), end - lead.size())); n && end != std::string::npos) {
                    line = static_cast<long>(*n);
                    said = std::string(trim(trouble.substr(end + 1)));
                }
            }
            refused.push_back({{"line", line}, {"text", said}});
        }
        if (table && tally.added + tally.there == 0 && !tally.troubles.empty()) stop(Errc::bad_input, tally.troubles.front());
        const bool there = ride ? ride->added.was_there : tally.added == 0;
        return {{"id", ride ? json(ride->added.id) : json()},
                {"already_there", there},
                {"summary", ride ? service::json_of(ride->ride) : json()},
                {"faults", ride ? fault_list(ride->faults) : json::array()},
                {"added", tally.added},
                {"there", tally.there},
                {"refused", refused},
                {"bike", ride && there ? json(ride->added.bike) : json()}};
    });
}

json new_reading(Room& room, const papers::Id& bike_id, const std::string& text) {
    const json body = body_of(text);
    const papers::Id entry = entry_of(body);
    if (entry.empty()) stop(Errc::bad_input, "entry_id: this is needed, so that an entry sent twice is stored once");
    PapersOptions o;
    o.bike = bike_id;
    o.day = day_of(body);
    return room.at_desk(needed_text(body, "by"), o, [&](Desk& d) -> json {
        const papers::Book book = must(papers::book_of(*d.papers, bike_id));
        const papers::Bike bike = bike_of(book, bike_id);
        for (const papers::Reading& r : book.readings)
            if (r.id == entry) return reading_reply(room, d, bike_id, entry, true);

        Told told{.what = needed_text(body, "quantity"), .bike = bike_id, .place = needed_text(body, "place"), .part = "", .with = text_of(body, "instrument"), .with_plate = text_of(body, "with_plate"),
                  .anvil = text_of(body, "anvil"), .csv = "", .by = d.deed.by, .day = d.today, .note = text_of(body, "note"), .values = {}, .points = {}, .sure = answer_to(body, "thicker") == "keep" || answer_to(body, "wheel") == "keep" || answer_to(body, "swapped") == "keep"};
        const auto what = papers::value_of<What>(told.what);
        std::vector<Question> ask;
        if (what == What::pad_thickness && told.with_plate.empty()) told.with_plate = answer_to(body, "with_plate");
        if (what == What::pad_thickness && told.with_plate.empty())
            ask.push_back({"with_plate", "Is that with the plate?", {{"yes", "pad and plate together"}, {"no", "friction material alone"}}});
        if (!ask.empty()) throw MustAsk{ask};
        const bool with_plate = told.with_plate == "yes";
        const json values = body.value("values", json::array());
        if (!values.is_array() || values.size() > 1000) stop(Errc::bad_input, "values: expected a list of numbers, at most 1,000");
        const bool in_words = what && range_of(*what).unit == std::string_view();
        if (what && !in_words && values.empty()) stop(Errc::bad_input, "values: expected at least one");
        if (const auto day = parse_day(told.day), now = parse_day(room.today()); day && now && *day > *now + 1) stop(Errc::bad_input, fmt::format("day {}: that lies ahead of today", told.day));
        if (in_words) {
            told.values = {text_of(body, "word")};
            if (told.values.front().empty() && !values.empty() && values.front().is_string()) told.values = {values.front().get<std::string>()};
            if (told.values.front().empty()) stop(Errc::bad_input, "word: this is needed");
        } else if (what) {
            const auto list = [&](const char* key) -> const json* {
                const auto it = body.find(key);
                if (it == body.end() || it->is_null()) return nullptr;
                if (!it->is_array() || it->size() != values.size()) stop(Errc::bad_input, fmt::format("{}: expected one for each value", key));
                return &*it;
            };
            const json *sides = list("sides"), *angles = list("angles_deg"), *radii = list("radii_mm");
            for (std::size_t i = 0; i < values.size(); ++i) {
                papers::Point p;
                put_value(p, *what, value_of(*what, typed(values[i]), with_plate, body, ask));
                if (!ask.empty()) break;
                if (sides && !(*sides)[i].is_null()) {
                    p.side = papers::value_of<papers::Side>((*sides)[i].is_string() ? (*sides)[i].get<std::string>() : "");
                    if (!p.side) stop(Errc::bad_input, "sides: expected left, right or null");
                }
                if (angles) {
                    if (!(*angles)[i].is_number()) stop(Errc::bad_input, "angles_deg: expected numbers");
                    p.angle_deg = (*angles)[i].get<double>();
                    if (!(*p.angle_deg >= -360 && *p.angle_deg <= 720)) stop(Errc::bad_input, "angles_deg: expected degrees of one turn");
                }
                if (radii && (*radii)[i].is_number()) {
                    p.radius_mm = (*radii)[i].get<double>();
                    if (!(*p.radius_mm >= 20 && *p.radius_mm <= 200)) stop(Errc::bad_input, "radii_mm: expected 20 to 200");
                }
                told.points.push_back(p);
            }
        }
        if (what == What::pad_thickness && with_plate && ask.empty() && answer_to(body, "thin_for_a_plate").empty()) {
            const double least = std::min_element(told.points.begin(), told.points.end(), [](const auto& a, const auto& b) { return a.length_mm < b.length_mm; })->length_mm.value_or(0);
            if (least < 1) ask.push_back({"thin_for_a_plate", fmt::format("{:g} mm is thinner than any plate. Is it the friction material alone?", least), {{"alone", "yes: friction material alone"}, {"together", "no: pad and plate together"}}});
        }
        if (!ask.empty()) throw MustAsk{ask};
        if (answer_to(body, "thin_for_a_plate") == "alone") told.with_plate = "no";
        if (const std::string wheel = answer_to(body, "wheel"); wheel == "front" || wheel == "rear") told.place = wheel;

        const parts::Bike described = must(parts::read_bike(bike.description_toml, bike.name, room.library));
        const auto against = [&](const papers::Book& of, const papers::Reading& r) { return contradiction_of(*d.papers, of, r, described.wheel(r.place).pads, room.library); };
        const auto contradiction = [&](const Told& t) { return against(book, reading_of(d, room.library, book, bike, t)); };
        for (const char* code : {"thicker", "swapped"})
            if (answer_to(body, code) == "again") stop(Errc::bad_input, "nothing of this was stored: measure again, and type what it reads");
        if (!told.sure) {
            if (const auto said = contradiction(told)) {
                std::string sentence = *said;
                sentence[0] = static_cast<char>(std::toupper(static_cast<unsigned char>(sentence[0])));
                Told other = told;
                other.place = told.place == "front" ? "rear" : "front";
                bool fits_there = false;
                try {
                    fits_there = !contradiction(other);
                } catch (const Stop&) {
                }
                if (const auto pair = fits_there ? std::nullopt : swapped_pair(room, d, book, bike, told, against)) ask.push_back({"swapped", *pair, {{"again", "I will take the last one back and type both again"}, {"keep", "keep both as they are"}}});
                else if (fits_there) ask.push_back({"wheel", sentence + fmt::format(" It would fit the {} wheel.", other.place), {{other.place, fmt::format("it is the {} wheel", other.place)}, {"keep", "keep it as it is"}}});
                else ask.push_back({"thicker", sentence, {{"keep", "keep it as it is"}, {"again", "I will measure again"}}});
                throw MustAsk{ask};
            } else if (const auto fits = answer_to(body, "wheel").empty() ? rotor_of_the_other(room, book, reading_of(d, room.library, book, bike, told)) : std::nullopt) {
                const std::string other = told.place == "front" ? "rear" : "front";
                throw MustAsk{{{"wheel", *fits, {{other, fmt::format("it is the {} wheel", other)}, {"keep", fmt::format("it is the {} wheel, keep it", told.place)}}}}};
            }
        }
        Kept kept;
        d.together([&] { kept = keep(d, room.library, told, entry); });
        keep_run_outs(d, room.library, kept);
        return reading_reply(room, d, bike_id, entry, false);
    });
}

json new_rows(Room& room, const papers::Id& bike, const std::string& text) {
    const json body = body_of(text);
    const papers::Id entry = entry_of(body);
    PapersOptions o;
    o.bike = bike;
    const auto sure = body.find("sure");
    o.sure = sure != body.end() && sure->is_boolean() && sure->get<bool>();
    return room.at_desk(text_of(body, "by"), o, [&](Desk& d) -> json {
        const papers::Book before = must(papers::book_of(*d.papers, bike));
        bike_of(before, bike);
        Rows rows;
        for (const papers::Reading& r : before.readings) rows.have.insert(r.id);
        add_rows(d, room.library, needed_text(body, "text"), [&](long line) { return entry.empty() ? papers::Id() : papers::key_of({"row of an entry", entry, std::to_string(line)}); }, rows);
        json refused = json::array();
        for (const auto& [line, said] : rows.refused) refused.push_back({{"line", line}, {"text", said}});
        const papers::Book now = must(papers::book_of(*d.papers, bike));
        return {{"stored", rows.added}, {"already_there", rows.there}, {"refused", refused}, {"verdict", json_of(judged(*d.papers, now, bike_of(now, bike), room.library, d.today).verdict)}};
    });
}

json check_done(Room& room, const papers::Id& bike_id, const std::string& text) {
    const json body = body_of(text);
    const papers::Id entry = entry_of(body);
    const json ticks = body.value("ticks", json::array());
    if (!ticks.is_array() || ticks.empty()) stop(Errc::bad_input, "ticks: expected a list of items with what was found");
    room.at_desk(needed_text(body, "by"), {}, [&](Desk& d) -> json {
        const papers::Book book = must(papers::book_of(*d.papers, bike_id));
        const papers::Bike bike = bike_of(book, bike_id);
        const papers::Id check = entry.empty() ? papers::new_uuid() : entry;
        for (const papers::Tick& t : book.ticks)
            if (t.check_id == check) return {};
        const std::vector<papers::ToDo> list = judged(*d.papers, book, bike, room.library, d.today).list;
        std::vector<papers::Tick> done;
        std::set<std::string> seen;
        for (const json& j : ticks) {
            const std::string code = needed_text(j, "code"), result = needed_text(j, "result");
            const auto item = std::find_if(list.begin(), list.end(), [&](const papers::ToDo& t) { return name_of(t) == code; });
            if (item == list.end()) stop(Errc::bad_input, fmt::format("'{}' is no item of this bike's list", code));
            if (!seen.insert(code).second) stop(Errc::bad_input, fmt::format("'{}' is ticked twice", code));
            if (result != "fine" && result != "not_fine" && result != "skipped") stop(Errc::bad_input, fmt::format("result '{}': expected fine, not_fine or skipped", result));
            if (result == "skipped") continue;   // nobody looked: as before
            papers::Tick t;
            t.check_id = check;
            t.bike_id = bike.id;
            t.item = item->item;
            t.place = item->place;
            t.outcome = result == "fine" ? papers::Outcome::ok : papers::Outcome::fault;
            t.day = d.today;
            t.recorded_unix_s = d.deed.at_unix_s;
            t.note = text_of(j, "note");
            done.push_back(std::move(t));
        }
        if (done.empty()) return {};
        d.together([&] {
            const papers::Id person = d.person(d.deed.by);
            for (papers::Tick& t : done) t.person_id = person;
            must(d.papers->add_ticks(d.deed, done));
        });
        return {};
    });
    return check_list(room, bike_id);
}

json hold_back(Room& room, const papers::Id& bike, const std::string& text) {
    const json body = body_of(text);
    const papers::Id entry = entry_of(body);
    const std::string why = needed_text(body, "why");
    return room.at_desk(needed_text(body, "by"), {}, [&](Desk& d) -> json {
        const papers::Book before = must(papers::book_of(*d.papers, bike));
        bike_of(before, bike);
        const bool there = std::any_of(before.holds.begin(), before.holds.end(), [&](const papers::Hold& h) { return !entry.empty() && h.id == entry; });
        if (!there) {
            papers::Hold h;
            h.id = entry;
            h.bike_id = bike;
            h.from_unix_s = d.deed.at_unix_s;
            h.by = d.deed.by;
            h.why = why;
            must(d.papers->hold(d.deed, h));
        }
        const papers::Book now = must(papers::book_of(*d.papers, bike));
        return {{"verdict", json_of(judged(*d.papers, now, bike_of(now, bike), room.library, d.today).verdict)}, {"held", held_of(now, bike)}};
    });
}

json clear_holds(Room& room, const papers::Id& bike, const std::string& text) {
    const json body = body_of(text);
    const std::string why = needed_text(body, "why"), what = text_of(body, "what");
    if (!what.empty() && what != "holds" && what != "proof") stop(Errc::bad_input, fmt::format("what: '{}' is not known; expected \"holds\" (those by hand) or \"proof\"", what));
    return room.at_desk(needed_text(body, "by"), {}, [&](Desk& d) -> json {
        const papers::Bike named = bike_of(must(papers::book_of(*d.papers, bike)), bike);
        const int n = what == "proof" ? clear_proof_of(d, named, room.library, why) : must(d.papers->clear(d.deed, bike, why));
        const papers::Book now = must(papers::book_of(*d.papers, bike));
        return {{"verdict", json_of(judged(*d.papers, now, bike_of(now, bike), room.library, d.today).verdict)}, {"held", held_of(now, bike)}, {"cleared", n}};
    });
}

KeptProof keep_asking(Desk& d, const ToldProof& told) {
    std::string asked;
    KeptProof kept;
    d.together([&] { kept = keep_proof(d, told, &asked); });
    if (!asked.empty()) throw MustAsk{{{"lever_place", asked, {{"again", "I will brake again with the scale at the mark"}, {"keep", "the place is another on purpose: keep it as it is"}}}}};
    return kept;
}

json new_proof(Room& room, const papers::Id& bike_id, const std::string& text) {
    const json body = body_of(text);
    const papers::Id entry = entry_of(body);
    if (entry.empty()) stop(Errc::bad_input, "entry_id: this is needed, so that a stop sent twice is stored once");
    if (answer_to(body, "lever_place") == "again") stop(Errc::bad_input, "nothing of this was stored: brake again with the scale at the mark, and count that stop");
    const std::string by = needed_text(body, "by"), way = text_of(body, "way"), date = text_of(body, "date"), surface = text_of(body, "surface");
    if (!date.empty() && !parse_day(date)) stop(Errc::bad_input, fmt::format("date '{}': expected a day as 2026-05-01", date));
    PapersOptions o;
    o.bike = bike_id;
    o.day = date;
    room.at_desk(by, o, [&](Desk& d) -> json {
        const papers::Book book = must(papers::book_of(*d.papers, bike_id));
        bike_of(book, bike_id);
        if (std::any_of(book.proof_stops.begin(), book.proof_stops.end(), [&](const papers::ProofStop& s) { return s.id == entry; })) return {};
        const auto figure = [&](const char* key) {
            const std::optional<double> v = number_in(body, key);
            return v ? fmt::format("{}", *v) : std::string();
        };
        // By the reader of the tables: the same ranges and the same words.
        const std::string row = fmt::format("{},{},{},{},{},{},{},{},{}\n", d.today, csv_field(needed_text(body, "wheel")), figure("from_mps"), figure("distance_m"), figure("time_s"), figure("lever_force_N"), csv_field(surface.empty() ? "dry" : surface),
                                            number_in(body, "grade").value_or(0), csv_field(way));
        ToldProof told{.bike = bike_id, .by = by, .note = text_of(body, "note"), .with = "", .lever_place_mm = number_in(body, "lever_place_mm"), .id = entry, .sure = answer_to(body, "lever_place") == "keep"};
        Result<std::vector<stop::ProofStop>> one = stop::read_proof_stops("date,wheel,from_mps,distance_m,time_s,lever_force_N,surface,grade,way\n" + row, "the stop");
        if (!one) stop(one.error().code, one.error().text.substr(one.error().text.find(": ") + 2));
        told.stops = *std::move(one);
        keep_asking(d, told);
        return {};
    });
    return proof_page(room, bike_id);
}

json undo(Room& room, const std::string& text) {
    const json body = trim(text).empty() ? json::object() : body_of(text);
    const std::string by = text_of(body, "by");
    return room.at_desk(by.empty() ? "the stand" : by, {}, [&](Desk& d) -> json {
        const bool sure = answer_to(body, "holds_back") == "yes";
        std::string asked;
        const papers::Undone u = take_back(d, room.library, sure, &asked);
        if (!asked.empty()) throw MustAsk{{{"holds_back", asked, {{"yes", "yes, it was a slip"}, {"no", "no, leave it"}}}}};
        return {{"text", u.text}};
    });
}

}  // namespace bw::app::service
