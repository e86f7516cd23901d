// SPDX-License-Identifier: Apache-2.0
// `papers`: the file, its parts, holds, history, export and import.                                     Layer: app
#include "answer/from_papers.hpp"
#include "answer/life_today.hpp"
#include "verb_papers.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <chrono>
#include <cmath>
#include <cstdlib>
#include <filesystem>
#include <nlohmann/json.hpp>

#include "base/text.hpp"
#include "base/time.hpp"

namespace bw::app {

namespace fs = std::filesystem;
using json = nlohmann::ordered_json;

void stop(Errc code, std::string text) { throw Stop{{code, std::move(text)}}; }

std::string nearest(const std::string& word, std::vector<std::string> known) {
    const auto near = nearest_word(word, known);
    return near ? fmt::format("; the nearest known one is '{}'", *near) : std::string();
}

std::string Desk::by_or_stop(const char* what) const {
    if (deed.by.empty()) stop(Errc::wrong_usage, fmt::format("{}: say who, with --by NAME", what));
    return deed.by;
}

papers::Bike Desk::bike(const std::string& named) const { return bike_named(*papers, named); }

papers::Bike bike_named(papers::Papers& papers, const std::string& named) {
    const std::vector<papers::Bike> all = must(papers.bikes());
    if (all.empty()) stop(Errc::bad_input, "there is no bike in these papers yet; `brakewright papers add bike BIKE.toml` adds one");
    if (named.empty()) {
        if (all.size() == 1) return all.front();
        stop(Errc::wrong_usage, fmt::format("there are {} bikes in these papers: say which with --bike NAME", all.size()));
    }
    std::vector<std::string> names;
    for (const papers::Bike& b : all) {
        if (b.name == named || b.id == named) return b;
        names.push_back(b.name);
    }
    stop(Errc::bad_input, fmt::format("there is no bike '{}' in these papers{}", named, nearest(named, names)));
}

parts::End Desk::place() const {
    if (o.place.empty()) stop(Errc::wrong_usage, "say which wheel with --place front or --place rear");
    return *papers::value_of<parts::End>(o.place);
}

void Desk::together(const std::function<void()>& verbs) {
    must(papers->together([&]() -> Status {
        try {
            verbs();
        } catch (const Stop& s) {
            return s.error;
        }
        return Done{};
    }));
}

papers::Id Desk::person(const std::string& name) {
    for (const papers::Person& p : must(papers->people()))
        if (p.name == name) return p.id;
    papers::Person p;
    p.name = name;
    return must(papers->put_person(deed, p));
}

namespace {

std::string own_file() {
    const char* data = std::getenv("XDG_DATA_HOME");
    const char* home = std::getenv("HOME");
    // The XDG standard takes absolute paths only.
    if (data && *data == '/') return std::string(data) + "/brakewright/papers.sqlite";
    if (home && *home) return std::string(home) + "/.local/share/brakewright/papers.sqlite";
    stop(Errc::wrong_usage, "there is no home folder here: name the papers with --papers FILE");
}

void say_note(const std::string& note) {
    if (!note.empty()) fmt::print(stderr, "brakewright: note: {}\n", note);
}

void print(const PapersOptions& o, const json& j, const std::string& text) {
    clear_progress();
    if (o.common.json) {
        json out = {{"schema", "papers/1"}, {"version", version}};
        out.update(j);
        fmt::print("{}\n", out.dump(2, ' ', false, json::error_handler_t::replace));
    } else {
        fmt::print("{}", text);
    }
}

template <class E>
E word_or_stop(const std::string& word, const char* what) {
    const auto value = papers::value_of<E>(word);
    if (value) return *value;
    std::vector<std::string> known;
    for (const std::string_view w : papers::words(E{})) known.emplace_back(w);
    stop(Errc::wrong_usage, fmt::format("{} '{}': expected one of {}{}", what, word, fmt::join(known, ", "), nearest(word, known)));
}

papers::Part part_or_stop(Desk& d, const std::string& name) {
    std::vector<std::string> names;
    for (const papers::Part& p : must(d.papers->parts())) {
        if (p.name == name || p.id == name) return p;
        names.push_back(p.name);
    }
    stop(Errc::bad_input, fmt::format("there is no part '{}' in these papers{}", name, nearest(name, names)));
}

std::optional<double> figure(const PapersOptions& o, const char* column) {
    const auto it = o.numbers.find(column);
    return it == o.numbers.end() ? std::nullopt : std::optional<double>(it->second);
}

int make(const PapersOptions& o) {
    std::string path = o.paths.empty() ? own_file() : o.paths.front();
    if (o.paths.empty()) {
        std::error_code failed;
        fs::create_directories(fs::path(path).parent_path(), failed);
        if (failed) stop(Errc::cannot_write, fmt::format("{}: its folder cannot be made ({})", path, failed.message()));
    }
    must(papers::make_papers(path));
    print(o, {{"papers", path}}, fmt::format("New papers: {}\n", path));
    return 0;
}

int add_person(Desk& d) {
    papers::Person p;
    for (const papers::Person& known : must(d.papers->people()))
        if (known.name == d.o.name) p = known;
    p.name = d.o.name;
    if (auto x = figure(d.o, "hand_size_cm")) p.hand_size_cm = x;
    if (auto x = figure(d.o, "hand_strength_N")) p.hand_strength_N = x;
    if (auto x = figure(d.o, "mass_kg")) p.mass_kg = x;
    if (auto x = figure(d.o, "repeat_sd_mm")) p.repeat_sd_mm = x;
    if (auto x = figure(d.o, "repeat_sd_degC")) p.repeat_sd_degC = x;
    if (auto x = figure(d.o, "repeat_sd_g")) p.repeat_sd_g = x;
    if (!d.o.note.empty()) p.note = d.o.note;
    const papers::Id id = must(d.papers->put_person(d.deed, p));
    papers::keep_run_outs(must(papers::book_of(*d.papers, std::nullopt)), id, must(parts::load_library()));
    print(d.o, {{"person", {{"id", id}, {"name", p.name}}}}, fmt::format("{} is in the papers.\n", p.name));
    return 0;
}

int add_instrument(Desk& d) {
    papers::Instrument i;
    for (const papers::Instrument& known : must(d.papers->instruments()))
        if (known.name == d.o.name) i = known;
    i.name = d.o.name;
    i.kind = word_or_stop<papers::InstrumentKind>(d.o.kind, "--kind");
    if (!d.o.anvil.empty()) i.anvil = papers::value_of<parts::Anvil>(d.o.anvil);
    for (const auto& [column, member] : {std::pair{"resolution_mm", &papers::Instrument::resolution_mm}, {"permitted_error_mm", &papers::Instrument::permitted_error_mm},
                                         {"resolution_degC", &papers::Instrument::resolution_degC}, {"permitted_error_degC", &papers::Instrument::permitted_error_degC},
                                         {"resolution_g", &papers::Instrument::resolution_g}, {"permitted_error_g", &papers::Instrument::permitted_error_g}})
        if (auto x = figure(d.o, column)) i.*member = x;
    if (!d.o.note.empty()) i.note = d.o.note;
    const papers::Id id = must(d.papers->put_instrument(d.deed, i));
    papers::keep_run_outs(must(papers::book_of(*d.papers, std::nullopt)), id, must(parts::load_library()));
    print(d.o, {{"instrument", {{"id", id}, {"name", i.name}}}}, fmt::format("{} is in the papers.\n", i.name));
    return 0;
}

int add_work(Desk& d) {
    papers::Work w;
    w.kind = word_or_stop<papers::WorkKind>(d.o.what, "work");
    w.bike_id = d.bike().id;
    if (!d.o.place.empty()) w.place = d.place();
    w.day = d.today;
    w.recorded_unix_s = d.deed.at_unix_s;
    w.note = d.o.note;
    papers::Id id;
    d.together([&] {
        w.person_id = d.person(d.by_or_stop("add work"));
        id = must(d.papers->add_work(d.deed, w));
    });
    print(d.o, {{"work", {{"id", id}}}}, fmt::format("Noted: {} on {}, {}.\n", d.o.what, d.bike().name, d.today));
    return 0;
}

int add_happening(Desk& d) {
    papers::Incident i;
    i.kind = word_or_stop<papers::Happening>(d.o.what, "happening");
    const papers::Bike bike = d.bike();
    i.bike_id = bike.id;
    if (!d.o.place.empty()) i.place = d.place();
    i.day = d.today;
    i.recorded_unix_s = d.deed.at_unix_s;
    i.note = d.o.note;
    papers::Id id;
    d.together([&] {
        i.person_id = d.person(d.by_or_stop("add happening"));
        id = must(d.papers->add_incident(d.deed, i));
    });
    print(d.o, {{"happening", {{"id", id}}}}, fmt::format("Noted: {} on {}, {}. Make the check before its next ride: brakewright papers check '{}'\n", d.o.what, bike.name, d.today, bike.name));
    return 0;
}

int part_new(Desk& d) {
    papers::Part p;
    p.name = d.o.name;
    p.kind = word_or_stop<papers::PartKind>(d.o.kind, "--kind");
    if (!d.o.compound.empty()) p.compound = papers::value_of<parts::Compound>(d.o.compound);
    if (p.kind == papers::PartKind::pads) {
        p.heat_barrier = d.o.heat_barrier;
        p.plate_measured = d.o.plate_measured;
    }
    p.new_thickness_mm = figure(d.o, "new_thickness_mm");
    p.plate_thickness_mm = figure(d.o, "plate_thickness_mm");
    p.least_thickness_mm = figure(d.o, "least_thickness_mm");
    p.run_out_limit_mm = figure(d.o, "run_out_limit_mm");
    if (p.run_out_limit_mm && p.kind != papers::PartKind::rotor) stop(Errc::wrong_usage, "--run_out_limit_mm is of a rotor");
    p.area_mm2 = figure(d.o, "area_mm2");
    p.diameter_mm = figure(d.o, "diameter_mm");
    p.note = d.o.note;
    if (d.o.plate_measured && !p.plate_thickness_mm) stop(Errc::wrong_usage, "--plate-measured needs --plate_thickness_mm: how thick was it?");
    const papers::Id id = must(d.papers->add_part(d.deed, p));
    print(d.o, {{"part", {{"id", id}, {"name", p.name}}}}, fmt::format("{} is in the papers, on no bike yet.\n", p.name));
    return 0;
}

int part_on(Desk& d) {
    const papers::Part part = part_or_stop(d, d.o.name);
    papers::Fitting f;
    f.part_id = part.id;
    std::string where;
    if (!d.o.wheel.empty()) {
        f.wheel_id = part_or_stop(d, d.o.wheel).id;
        where = d.o.wheel;
        if (!d.o.place.empty()) f.place = d.place();
    } else {
        const papers::Bike bike = d.bike();
        where = bike.name;
        f.place = d.place();
        f.bike_id = bike.id;
        // A rotor belongs to the wheel that is there, if one is.
        if (part.kind == papers::PartKind::rotor) {
            const papers::Book book = must(papers::book_of(*d.papers, bike.id));
            if (const papers::Part* wheel = papers::part_at(book, bike.id, papers::PartKind::wheel, f.place, d.today)) {
                f.wheel_id = wheel->id;
                f.bike_id.reset();
                where = wheel->name;
            }
        }
    }
    f.from_day = d.today;
    const papers::Id id = must(d.papers->put_on(d.deed, f));
    print(d.o, {{"fitting", {{"id", id}, {"part", part.name}, {"on", where}, {"from_day", f.from_day}}}}, fmt::format("{} is on {} from {}.\n", part.name, where, f.from_day));
    return 0;
}

int part_off(Desk& d) {
    const papers::Part part = part_or_stop(d, d.o.name);
    must(d.papers->take_off(d.deed, part.id, d.today));
    print(d.o, {{"part", {{"id", part.id}, {"name", part.name}, {"to_day", d.today}}}}, fmt::format("{} is off from {}.\n", part.name, d.today));
    return 0;
}

int hold(Desk& d) {
    const papers::Bike bike = d.bike();
    papers::Hold h;
    h.bike_id = bike.id;
    h.from_unix_s = d.deed.at_unix_s;
    h.by = d.o.by;
    h.why = d.o.why;
    const papers::Id id = must(d.papers->hold(d.deed, h));
    print(d.o, {{"hold", {{"id", id}, {"bike", bike.name}}}}, fmt::format("Do not ride {}: held back by {}: {}\n", bike.name, h.by, h.why));
    return 0;
}

int clear(Desk& d) {
    // Never in the name of whoever is logged in.
    if (trim(d.o.by).empty()) stop(Errc::wrong_usage, "clear: say who clears it, with --by NAME");
    const papers::Bike bike = d.bike();
    if (d.o.proof) {
        const int stops = clear_proof_of(d, bike, must(parts::load_library()), d.o.why);
        print(d.o, {{"cleared", stops}, {"bike", bike.name}},
              stops == 0 ? fmt::format("No proof stops hold {} back; nothing was changed.\n", bike.name)
                         : fmt::format("{} proof stop(s) of {} count for nothing, says {}. All else still counts: brakewright papers verdict '{}'\n", stops, bike.name, d.o.by, bike.name));
        return 0;
    }
    // Whoever clears sees what ended: one of the holds may be new to them.
    std::string ended;
    int n = 0;
    d.together([&] {
        for (const papers::Hold& h : must(d.papers->holds(bike.id)))
            if (h.cleared_by.empty()) ended += fmt::format("  held back by {} on {}: {}\n", h.by, format_day(static_cast<long>(std::floor(h.from_unix_s / 86400))), h.why);
        n = must(d.papers->clear(d.deed, bike.id, d.o.why));
    });
    print(d.o, {{"cleared", n}, {"bike", bike.name}},
          n == 0 ? fmt::format("Nobody holds {} back by hand; nothing was changed. What its readings say: brakewright papers verdict '{}'\n", bike.name, bike.name)
                 : fmt::format("{} ended {} hold(s) of {}:\n{}Its readings and checks still count: brakewright papers verdict '{}'\n", d.o.by, n, bike.name, ended, bike.name));
    return 0;
}

json json_of_part(const papers::Part& p, const char* place) {
    json j = {{"id", p.id}, {"name", p.name}, {"kind", papers::word_of(p.kind)}, {"place", place}};
    j["least_thickness_mm"] = p.least_thickness_mm ? json(*p.least_thickness_mm) : json();
    if (p.kind == papers::PartKind::rotor) j["run_out_limit_mm"] = p.run_out_limit_mm ? json(*p.run_out_limit_mm) : json();
    return j;
}

int show(Desk& d) {
    std::vector<papers::Bike> bikes = must(d.papers->bikes());
    if (!d.o.bike.empty()) bikes = {d.bike()};
    const papers::Book book = must(papers::book_of(*d.papers, std::nullopt));
    const parts::Library library = must(parts::load_library());
    json list = json::array();
    std::string text;
    for (const papers::Bike& b : bikes) {
        const std::vector<papers::Ride> rides = must(d.papers->rides(b.id));
        double distance_m = 0, descent_m = 0;
        std::string last;
        for (const papers::Ride& r : rides) {
            distance_m += r.distance_m.value_or(0);
            descent_m += r.descent_m.value_or(0);
            if (r.day) last = std::max(last, *r.day);
        }
        long readings = 0;
        std::string last_reading;
        for (const papers::Reading& r : book.readings)
            if (r.bike_id == b.id) ++readings, last_reading = std::max(last_reading, r.day);
        bool held = false;
        for (const papers::Hold& h : book.holds) held = held || (h.bike_id == b.id && h.cleared_by.empty());
        json parts = json::array();
        // What the proof stops hold back stands first here too.
        const parts::Bike described = must(parts::read_bike(b.description_toml, b.name, library));
        json proof = json::array();
        std::string sinks;
        long stops = 0;
        for (const papers::ProofStop& s : book.proof_stops) stops += s.bike_id == b.id;
        for (const parts::End end : {parts::End::front, parts::End::rear})
            if (const auto read = papers::proof_read(book, b.id, described, end, library, d.today)) {
                proof.push_back({{"place", papers::word_of(end)}, {"stops", read->stops.size()}, {"since_day", read->since ? json(*read->since) : json()}, {"alarm", read->check && read->check->do_not_ride}, {"text", papers::words_of(*read)}});
                if (read->check && read->check->do_not_ride) sinks += "  " + read->check->text + "\n";
            }
        text += fmt::format("{}{}\n", b.name, held ? "  DO NOT RIDE: held back by a person" : !sinks.empty() ? "  DO NOT RIDE: held back by its proof stops" : "");
        if (!sinks.empty()) text += wrap(sinks, 80, 2) + (sinks.ends_with("\n") ? "" : "\n");
        text += fmt::format("  rides     {}{}\n", rides.size(), rides.empty() ? "" : fmt::format(", {:.0f} km, {:.0f} m down, the last {}", distance_m / 1000, descent_m, last.empty() ? "without a day" : "on " + last));
        text += fmt::format("  readings  {}{}\n", readings, last_reading.empty() ? "" : ", the last on " + last_reading);
        if (stops) text += fmt::format("  proof     {} stop{}\n", stops, stops == 1 ? "" : "s");
        for (const papers::ProofStop& s : book.proof_stops)
            if (s.bike_id == b.id && !s.cleared_by.empty() && bikes.size() == 1) text += fmt::format("            {} {}: counts for nothing, says {} ({})\n", s.day, papers::word_of(s.brakes), s.cleared_by, s.cleared_why);
        for (const parts::End end : {parts::End::front, parts::End::rear})
            for (const papers::PartKind kind : {papers::PartKind::wheel, papers::PartKind::rotor, papers::PartKind::pads})
                if (const papers::Part* p = papers::part_at(book, b.id, kind, end, d.today)) {
                    text += fmt::format("  {:<9} {} ({})\n", papers::word_of(end), p->name, papers::word_of(kind));
                    parts.push_back(json_of_part(*p, end == parts::End::front ? "front" : "rear"));
                }
        const answer::LifeSaid life = must(answer::life_said(*d.papers, book, b.id, d.today));
        if (!life.worked_out) text += "  not yet worked out: nothing has been computed for this bike; work it out by `answer --papers`\n";
        else text += fmt::format("  worked out on {}\n", *life.worked_out);
        for (const inspect::Check& c : life.checks)
            if (c.code != "not_worked_out" && c.state != inspect::State::no_reason_found) text += wrap("  " + c.text, 80, 4) + "\n";
        std::vector<papers::KeptAnswer> forecasts = must(d.papers->answers(b.id, answer::forecast_kind));
        std::erase_if(forecasts, [](const papers::KeptAnswer& a) { return a.json.find("\"parts\": []") != std::string::npos; });   // nothing was forecast
        const json newest = forecasts.empty() ? json() : json::parse(forecasts.back().json, nullptr, false);
        const std::string score = newest.is_object() && newest.contains("score") && newest["score"].is_string() ? newest["score"].get<std::string>() : "";
        if (!forecasts.empty()) text += fmt::format("  forecasts {} kept. {}\n", forecasts.size(), score);
        json condition = json::array();
        if (bikes.size() == 1) {   // of many it would hide what matters: papers verdict
            Judged j = judged(*d.papers, book, b, library, d.today);
            look_behind(j, book, library, d.today);
            for (const Line& l : lines_of(j, Length::short_one)) {
                text += wrap(fmt::format("  {:<9} {}: {}", papers::word_of(l.place), l.what == "run_out" ? "run-out" : l.what, l.text), 80, 12) + "\n";
                condition.push_back({{"place", papers::word_of(l.place)}, {"what", l.what}, {"text", l.text}});
            }
        }
        list.push_back({{"id", b.id}, {"name", b.name}, {"worked_out", life.worked_out ? json(*life.worked_out) : json()}, {"forecasts_kept", forecasts.size()}, {"forecast_score", score.empty() ? json() : json(score)}, {"added_day", b.added_day}, {"held_by_a_person", held}, {"rides", rides.size()}, {"distance_m", distance_m}, {"descent_m", descent_m},
                        {"last_ride_day", last.empty() ? json() : json(last)}, {"readings", readings}, {"last_reading_day", last_reading.empty() ? json() : json(last_reading)}, {"parts", parts}, {"condition", condition}, {"proof_stops", stops}, {"proof", proof}});
    }
    if (bikes.empty()) text = "No bike yet: brakewright papers add bike BIKE.toml\n";
    print(d.o, {{"bikes", list}}, text);
    return 0;
}

int history(Desk& d) {
    json list = json::array();
    std::string text;
    for (const papers::Event& e : must(d.papers->history(d.o.most))) {
        list.push_back({{"id", e.id}, {"batch", e.batch}, {"at", format_time(e.at_unix_s)}, {"by", e.by.empty() ? json() : json(e.by)}, {"verb", e.verb}, {"text", e.text}});
        text += fmt::format("{}  {:<12} {}\n", format_time(e.at_unix_s), e.by, e.text);
    }
    print(d.o, {{"events", list}}, text);
    return 0;
}

int export_all(Desk& d) {
    const std::string folder = d.o.paths.front();
    std::error_code failed;
    if (fs::exists(folder, failed) && !(fs::is_directory(folder, failed) && fs::is_empty(folder, failed)))
        stop(Errc::bad_input, fmt::format("{}: there is something of that name already; it was left as it is. Name a new or empty folder.", folder));
    fs::create_directories(folder, failed);
    if (failed) stop(Errc::cannot_write, fmt::format("{}: cannot be made ({})", folder, failed.message()));
    long files = 0;
    must(d.papers->export_to([&](const std::string& name, std::string_view bytes) -> Status {
        if (d.ctx.stopped()) return Error{Errc::cancelled, fmt::format("stopped; the export in {} is not whole", folder)};
        const fs::path path = fs::path(folder) / name;
        fs::create_directories(path.parent_path(), failed);
        if (failed) return Error{Errc::cannot_write, fmt::format("{}: cannot be made ({})", path.parent_path().string(), failed.message())};
        ++files;
        return write_file(path.string(), bytes);
    }));
    print(d.o, {{"folder", folder}, {"files", files}}, fmt::format("{} files in {}\n", files, folder));
    return 0;
}

int import_all(const PapersOptions& o, const std::string& path) {
    const std::string folder = o.paths.front();
    std::error_code ignored;
    if (!fs::is_directory(folder, ignored)) stop(Errc::cannot_read, fmt::format("{}: expected the folder that `papers export` wrote", folder));
    must(papers::import_papers(path, [&](const std::string& name) -> Result<std::optional<std::string>> {
        const std::string file = (fs::path(folder) / name).string();
        if (!fs::exists(file, ignored)) return std::optional<std::string>();
        Result<std::string> bytes = read_file(file);
        if (!bytes) return bytes.error();
        return std::optional<std::string>(*std::move(bytes));
    }));
    print(o, {{"papers", path}}, fmt::format("New papers from {}: {}\n", folder, path));
    return 0;
}

int sound(Desk& d) {
    const papers::Soundness s = must(d.papers->sound());
    std::string text = s.troubles.empty() ? "Sound: " : "NOT SOUND. Keep this file, and go back to the newest backup.\n";
    for (const std::string& t : s.troubles) text += "  " + t + "\n";
    text += fmt::format("{} bikes, {} rides ({} files read and compared), {} readings, {} events\n", s.bikes, s.rides, s.ride_files_read, s.readings, s.events);
    print(d.o, {{"sound", s.troubles.empty()}, {"troubles", s.troubles}, {"bikes", s.bikes}, {"rides", s.rides}, {"ride_files_read", s.ride_files_read}, {"readings", s.readings}, {"events", s.events}}, text);
    return s.troubles.empty() ? 0 : exit_status(Errc::bad_input);
}

int undo(Desk& d) {
    std::string asked;
    const papers::Undone u = take_back(d, must(parts::load_library()), d.o.sure, &asked);
    if (!asked.empty()) stop(Errc::bad_input, asked + " Nothing was changed. If it was a slip, take it back with --sure --by NAME.");
    print(d.o, {{"batch", u.batch}, {"events", u.events}, {"text", u.text}}, fmt::format("Taken back: {}\n", u.text));
    return 0;
}

int change(Desk& d) {
    papers::Bike b = d.bike();
    const std::string before = b.name;
    if (d.o.name.empty() && d.o.csv.empty() && d.o.what.empty() && d.o.note.empty()) stop(Errc::wrong_usage, "what is to be changed? --name, --description, --retired or --note");
    if (!d.o.name.empty()) b.name = d.o.name;
    if (!d.o.what.empty()) {
        if (!parse_day(d.o.what)) stop(Errc::wrong_usage, fmt::format("--retired {}: expected a day as 2026-05-01", d.o.what));
        b.retired_day = d.o.what;
    }
    if (!d.o.note.empty()) b.note = d.o.note;
    if (!d.o.csv.empty()) {
        b.description_toml = must(read_file(d.o.csv));
        must(parts::read_bike(b.description_toml, d.o.csv, must(parts::load_library())));
    }
    must(d.papers->change_bike(d.deed, b));
    print(d.o, {{"bike", {{"id", b.id}, {"name", b.name}}}}, fmt::format("Changed: {}.\n", before == b.name ? b.name : before + ", now " + b.name));
    return 0;
}

int backup(Desk& d) {
    must(d.papers->backup(d.o.paths.front()));
    print(d.o, {{"backup", d.o.paths.front()}}, fmt::format("Copied to {}\n", d.o.paths.front()));
    return 0;
}

}  // namespace

std::string papers_file(const std::string& told) { return told.empty() ? own_file() : told; }

// What holds bikes back must not go away with a slip of the finger.
papers::Undone take_back(Desk& d, const parts::Library& library, bool sure, std::string* asked) {
    const auto held = [&] {
        std::map<std::string, std::string> all;
        const papers::Book book = must(papers::book_of(*d.papers, std::nullopt));
        for (const papers::Bike& b : book.bikes)
            if (const inspect::Verdict v = judged(*d.papers, book, b, library, d.today).verdict; v.do_not_ride) all[b.id] = b.name + ": " + v.text;
        return all;
    };
    papers::Undone u;
    const Status done = d.papers->together([&]() -> Status {
        const auto before = held();
        Result<papers::Undone> taken = d.papers->undo(d.deed);
        if (!taken) return taken.error();
        u = *std::move(taken);
        if (sure) return Done{};
        const auto after = held();
        for (const auto& [id, text] : before)
            if (!after.contains(id)) *asked = fmt::format("'{}' is what holds a bike back ({}).", u.text, text);
        return asked->empty() ? Status(Done{}) : Status(Error{Errc::cancelled, *asked});
    });
    if (asked->empty()) must(done);
    return u;
}

int run_papers(const PapersOptions& o) {
    try {
        if (o.verb == "make") return make(o);
        const std::string path = papers_file(o.papers);
        if (o.verb == "import") return import_all(o, path);
        papers::Opened opened = must(papers::open_papers(path));
        say_note(opened.note);
        papers::Deed deed;
        deed.at_unix_s = std::chrono::duration<double>(std::chrono::system_clock::now().time_since_epoch()).count();
        deed.batch = papers::new_uuid();
        deed.by = o.by;
        const char* login = std::getenv("USER");
        if (deed.by.empty() && login) deed.by = login;
        Desk d{.o = o, .ctx = context_of(o.common), .papers = opened.papers.get(), .deed = std::move(deed), .today = o.day};
        if (d.today.empty()) d.today = format_day(static_cast<long>(std::floor(d.deed.at_unix_s / 86400)));
        else if (!parse_day(d.today)) stop(Errc::wrong_usage, fmt::format("--day {}: expected a day as 2026-05-01", o.day));
        static const std::map<std::string, int (*)(Desk&)> verbs = {
            {"add bike", papers_add_bikes}, {"add rides", papers_add_rides}, {"add reading", papers_add_reading}, {"add person", add_person}, {"add instrument", add_instrument},
            {"add work", add_work}, {"add happening", add_happening}, {"part new", part_new}, {"part on", part_on}, {"part off", part_off}, {"hold", hold}, {"clear", clear},
            {"add readings", papers_add_readings}, {"add proof", papers_add_proof}, {"change", change}, {"show", show}, {"history", history}, {"export", export_all}, {"backup", backup}, {"sound", sound}, {"undo", undo}, {"verdict", papers_verdict}, {"check", papers_check}};
        return verbs.at(o.verb)(d);
    } catch (const Stop& s) {
        return fail(s.error);
    }
}

}  // namespace bw::app
