// SPDX-License-Identifier: Apache-2.0
// `papers add bike`, `papers add rides`: files in, rows out; one bad file never stops the rest.          Layer: app
#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <filesystem>
#include <iostream>
#include <nlohmann/json.hpp>
#include <set>

#include "answer/answer.hpp"
#include "base/text.hpp"
#include "base/time.hpp"
#include "ride/describe.hpp"
#include "ride/route.hpp"
#include "verb_papers.hpp"

namespace bw::app {

namespace fs = std::filesystem;
using json = nlohmann::ordered_json;

namespace {

void complain(const std::string& text) {
    clear_progress();
    fmt::print(stderr, "brakewright: {}\n", text);
}

// ---- bikes ----

struct Described {
    std::string where, toml;
};

// A value of a table as TOML: numbers and true or false bare, all else as text.
std::string toml_value(const std::string& text) {
    if (parse_number(text) || text == "true" || text == "false") return text;
    std::string out = "\"";
    for (const char c : text) {
        if (c == '"' || c == '\\') out += '\\';
        if (static_cast<unsigned char>(c) >= 0x20 || c == '\t') out += c;
    }
    return out + "\"";
}

// Rows of a table whose columns are keys of the description.
std::vector<Described> bikes_of_table(const std::string& text, const std::string& name) {
    std::vector<Described> all;
    std::vector<std::string> columns;
    char separator = ',';
    long number = 0;
    for (std::size_t at = 0; at < text.size();) {
        const std::size_t end = std::min(text.find('\n', at), text.size());
        std::string line(trim(std::string_view(text).substr(at, end - at)));
        // A pasted row may end in empty cells, which are tabs.
        const std::string raw = text.substr(at, end - at);
        at = end + 1;
        ++number;
        if (line.starts_with("\xEF\xBB\xBF")) line = line.substr(3);
        if (line.empty()) continue;
        if (columns.empty()) separator = line.find('\t') != std::string::npos ? '\t' : line.find(';') != std::string::npos ? ';' : ',';
        std::vector<std::string> fields;
        if (separator == ',') fields = csv_fields(line);
        else {
            std::string source = columns.empty() ? line : raw;
            while (!source.empty() && (source.back() == '\r' || source.back() == '\n')) source.pop_back();
            fields.emplace_back();
            for (const char c : source)
                if (c == separator) fields.emplace_back();
                else fields.back() += c;
        }
        for (std::string& f : fields) f = std::string(trim(f));
        if (columns.empty()) {
            columns = fields;
            for (std::string& c : columns)
                if (c.find('.') == std::string::npos) c = "bike." + c;   // name, kind, total_mass_kg
            continue;
        }
        while (fields.size() > columns.size() && fields.back().empty()) fields.pop_back();
        fields.resize(std::max(fields.size(), columns.size()));
        Described d{fmt::format("{}:{}", name, number), "format = 1\n"};
        if (fields.size() != columns.size()) {
            d.toml.clear();
            complain(fmt::format("{}: expected {} fields, found {}; this row was left out", d.where, columns.size(), fields.size()));
        }
        for (std::size_t i = 0; i < columns.size() && !d.toml.empty(); ++i)
            if (!fields[i].empty()) d.toml += fmt::format("{} = {}\n", columns[i], toml_value(fields[i]));
        all.push_back(std::move(d));
    }
    return all;
}

papers::Part part_of(const std::string& bike, const parts::Bike& b, parts::End end, papers::PartKind kind) {
    const parts::Wheel& w = b.wheel(end);
    const auto given = [&](const char* key) { return b.given.contains(fmt::format("{}.{}", parts::word_of(end), key)); };
    papers::Part p;
    p.kind = kind;
    p.name = fmt::format("{} {} {}", bike, parts::word_of(end), papers::word_of(kind));
    if (kind == papers::PartKind::rotor) {
        if (given("rotor.diameter_mm")) p.diameter_mm = w.rotor.diameter_mm.value;
        if (w.rotor.least_thickness_mm) p.least_thickness_mm = w.rotor.least_thickness_mm->value;
        if (w.rotor.run_out_limit_mm) p.run_out_limit_mm = w.rotor.run_out_limit_mm->value;
    }
    if (kind == papers::PartKind::pads) {
        if (given("pads.compound")) p.compound = w.pads.compound;
        if (given("pads.heat_barrier")) p.heat_barrier = w.pads.heat_barrier;
        if (given("pads.plate_thickness_mm")) p.plate_thickness_mm = w.pads.plate_thickness_mm.value;
        p.plate_measured = w.pads.plate_measured;
        if (given("pads.area_mm2")) p.area_mm2 = w.pads.area_mm2.value;
        if (w.pads.least_friction_mm) p.least_thickness_mm = w.pads.least_friction_mm->value;
    }
    return p;
}

// What the description states as measured becomes readings, so that the papers judge them as they judge all others.
void readings_of(Desk& d, const papers::Bike& bike, const parts::Bike& b, const std::map<std::string, papers::Id>& part_ids) {
    for (const parts::End end : {parts::End::front, parts::End::rear}) {
        const parts::Wheel& w = b.wheel(end);
        const std::string at(parts::word_of(end));
        const auto reading = [&](const char* key, papers::What what, const char* kind, double value, const std::string& source) {
            // Of two pads that differ, also the one that alone was told.
            const bool pads = what == papers::What::pad_thickness, told = b.given.contains(at + "." + key);
            if (!told && !(pads && w.pads.other_friction_thickness_mm)) return;
            papers::Reading r;
            r.bike_id = bike.id;
            r.place = end;
            r.what = what;
            r.day = d.today;
            r.recorded_unix_s = d.deed.at_unix_s;
            r.person_id = d.person(d.by_or_stop("add bike"));
            r.note = "from the description" + (source.empty() ? "" : ": " + source);
            if (kind) r.part_id = part_ids.at(fmt::format("{} {} {}", bike.name, at, kind));
            papers::Point p;
            if (what == papers::What::fluid_age) p.age_months = value;
            else p.length_mm = value;
            if (what == papers::What::rotor_thickness) r.anvil = w.rotor.anvil;
            if (what == papers::What::pad_thickness) {
                // A friction thickness that rests on a plate nobody measured is kept as what it is: a total.
                r.with_plate = !w.pads.plate_measured;
                if (*r.with_plate) *p.length_mm += w.pads.plate_thickness_mm.value;
            }
            if (told) r.points.push_back(p);
            if (const auto& other = w.pads.other_friction_thickness_mm; other && pads) {
                p.length_mm = other->value + (*r.with_plate ? w.pads.plate_thickness_mm.value : 0);
                r.points.push_back(p);   // which of the two is left and which right a description does not tell
            }
            must(d.papers->add_reading(d.deed, r));
        };
        reading("pads.friction_thickness_mm", papers::What::pad_thickness, "pads", w.pads.friction_thickness_mm.value, w.pads.friction_thickness_mm.source);
        reading("rotor.thickness_mm", papers::What::rotor_thickness, "rotor", w.rotor.thickness_mm.value, w.rotor.thickness_mm.source);
        if (w.rotor.ridge_mm) reading("rotor.ridge_mm", papers::What::rotor_ridge, "rotor", w.rotor.ridge_mm->value, w.rotor.ridge_mm->source);
        reading("lever.reach_mm", papers::What::lever_reach, nullptr, w.lever.reach_mm.value, w.lever.reach_mm.source);
        reading("lever.bite_mm", papers::What::lever_bite, nullptr, w.lever.bite_mm.value, w.lever.bite_mm.source);
        if (w.fluid) reading("fluid.age_months", papers::What::fluid_age, nullptr, w.fluid->age_months.value, w.fluid->age_months.source);
    }
}

// ---- rides ----

std::vector<std::string> files_under(const std::string& path, Tally& tally) {
    std::error_code failed;
    if (!fs::is_directory(path, failed)) return {path};
    std::vector<std::string> all;
    fs::recursive_directory_iterator it(path, fs::directory_options::skip_permission_denied, failed), end;
    if (failed) tally.trouble(fmt::format("{}: cannot be read ({})", path, failed.message()));
    for (; !failed && it != end; it.increment(failed)) {
        std::error_code ignored;
        const std::string name = it->path().filename().string();
        if (name.starts_with(".")) {
            if (it->is_directory(ignored)) it.disable_recursion_pending();
            continue;
        }
        if (it->is_regular_file(ignored)) all.push_back(it->path().string());
    }
    if (failed) tally.trouble(fmt::format("{}: reading the folder stopped half way ({})", path, failed.message()));
    std::sort(all.begin(), all.end());
    return all;
}

double distance_of(const ride::Track& t) {
    double first = std::nan(""), last = std::nan("");
    for (const double x : t.distance_m)
        if (std::isfinite(x)) {
            if (!std::isfinite(first)) first = x;
            last = x;
        }
    if (std::isfinite(first) && last > first) return last - first;
    double sum = 0, lat = std::nan(""), lon = std::nan("");
    for (std::size_t i = 0; i < t.latitude_deg.size(); ++i) {
        if (!std::isfinite(t.latitude_deg[i]) || !std::isfinite(t.longitude_deg[i])) continue;
        if (std::isfinite(lat)) sum += ride::ground_distance_m(lat, lon, t.latitude_deg[i], t.longitude_deg[i]);
        lat = t.latitude_deg[i];
        lon = t.longitude_deg[i];
    }
    return sum;
}

void tag(papers::Ride& r, const PapersOptions& o) {
    if (r.surface.empty()) r.surface = o.surface;
    if (r.weather.empty()) r.weather = o.weather;
    if (!r.wind_mps && !r.wind_from_deg) {   // they go together
        r.wind_mps = o.wind_mps;
        r.wind_from_deg = o.wind_from_deg == 360 ? 0 : o.wind_from_deg;
    }
    if (!r.air_degC) r.air_degC = o.air_degC;
    if (!r.load_kg) r.load_kg = o.load_kg;
    if (r.note.empty()) r.note = o.note;
}

}  // namespace

void add_described(Desk& d, const std::string& text, const std::string& path, Tally& tally) {
    Result<answer::Described> read = answer::read_described(text, path);
    if (!read) return tally.trouble(read.error().text);
    static constexpr const char* surfaces[] = {"dry", "wet", "gravel", "loose"};
    static constexpr const char* weathers[] = {"dry", "damp", "wet", "gritty"};
    std::map<std::string, papers::Bike> bikes;
    for (const papers::Bike& b : must(d.papers->bikes())) bikes[b.name] = b;
    std::map<std::string, int> seen;
    std::vector<papers::Ride> rides;
    for (const answer::DescribedRow& row : read->rows) {
        papers::Ride r;
        if (row.bike.empty() && d.o.bike.empty() && bikes.size() != 1) {
            tally.trouble(fmt::format("{}: this row names no bike, and there are {} in these papers: add the column 'bike', or say --bike NAME; this row was left out", row.where, bikes.size()));
            continue;
        }
        if (row.bike.empty()) r.bike_id = d.bike().id;
        else if (const auto it = bikes.find(row.bike); it != bikes.end()) r.bike_id = it->second.id;
        else {
            std::vector<std::string> names;
            for (const auto& [name, b] : bikes) names.push_back(name);
            tally.trouble(fmt::format("{}: there is no bike '{}' in these papers{}; this row was left out", row.where, row.bike, nearest(row.bike, names)));
            continue;
        }
        r.kind = papers::RideKind::described;
        r.file_name = fs::path(path).filename().string();
        if (row.day) r.day = format_day(*row.day);
        r.distance_m = row.distance_m;
        r.descent_m = row.descent_m;
        r.stops_per_km = row.stops_per_km;
        if (row.tags.surface) r.surface = surfaces[static_cast<std::size_t>(*row.tags.surface)];
        if (row.tags.weather) r.weather = weathers[static_cast<std::size_t>(*row.tags.weather)];
        r.load_kg = row.tags.load_kg;
        // Two like rides of a day are two rides: the second like row of a table has another id than the first.
        const auto say = [](const std::optional<double>& x) { return x ? fmt::format("{}", *x) : std::string(); };
        std::vector<std::string> content = {"described", r.bike_id, r.day.value_or(""), say(r.distance_m), say(r.descent_m), say(r.stops_per_km), r.surface, r.weather, say(r.load_kg)};
        content.push_back(fmt::format("{}", ++seen[papers::key_of(content)]));
        r.id = papers::key_of(content);
        tag(r, d.o);
        rides.push_back(std::move(r));
    }
    for (std::size_t from = 0; from < rides.size(); from += 1000) {
        const std::vector<papers::Ride> some(rides.begin() + static_cast<long>(from), rides.begin() + static_cast<long>(std::min(rides.size(), from + 1000)));
        for (const papers::Added& a : must(d.papers->add_rides(d.deed, some))) ++(a.was_there ? tally.there : tally.added);
    }
}

std::optional<AddedRide> add_recorded(Desk& d, std::string bytes, const std::string& path, Tally& tally) {
    bytes = papers::unwrapped(std::move(bytes));
    if (const papers::Id id = papers::content_id(bytes); must(d.papers->has_ride(id))) {   // known by its content: no need to read it again
        ++tally.there;
        for (papers::Ride& r : must(d.papers->rides({})))
            if (r.id == id) return AddedRide{.added = {.id = id, .was_there = true, .bike = r.bike_id}, .ride = std::move(r), .faults = {}};
        return std::nullopt;
    }
    Result<ride::Recording> recording = ride::read_recording(bytes, path);
    if (!recording) {
        tally.trouble(recording.error().text);
        return std::nullopt;
    }
    const auto* track = std::get_if<ride::Track>(&*recording);
    if (!track) {
        tally.trouble(fmt::format("{}: this is a planned way without times, not a ride; `answer` reads it", path));
        return std::nullopt;
    }
    papers::Ride r;
    r.bike_id = d.bike().id;
    r.kind = papers::RideKind::recorded;
    r.file_name = fs::path(path).filename().string();
    r.start_unix_s = track->start_unix_s;
    if (track->start_unix_s) r.day = format_day(static_cast<long>(std::floor(*track->start_unix_s / 86400)));
    else if (!d.o.day.empty()) r.day = d.o.day;
    r.duration_s = track->t_s.back();
    r.distance_m = distance_of(*track);
    if (!track->altitude_m.empty()) r.descent_m = ride::gain_loss(track->altitude_m, 3).second;
    tag(r, d.o);
    const papers::Added a = must(d.papers->add_ride(d.deed, r, bytes));
    ++(a.was_there ? tally.there : tally.added);
    r.id = a.id;
    return AddedRide{.added = a, .ride = std::move(r), .faults = track->faults};
}

papers::Bike add_bike(Desk& d, const parts::Library& library, const std::string& toml, const std::string& where, const std::string& name, const papers::Id& id) {
    const parts::Bike b = must(parts::read_bike(toml, where, library));
    papers::Bike bike;
    bike.id = id;
    bike.name = !name.empty() ? name : b.name.empty() ? fs::path(where).stem().string() : b.name;
    bike.description_toml = toml;
    bike.added_day = d.today;
    bike.note = d.o.note;
    std::vector<papers::Part> parts;
    std::vector<papers::Fitting> fittings;
    for (const parts::End end : {parts::End::front, parts::End::rear}) {
        std::string wheel;
        for (const papers::PartKind kind : {papers::PartKind::wheel, papers::PartKind::rotor, papers::PartKind::pads}) {
            papers::Fitting f;
            f.part_id = std::to_string(parts.size());
            if (kind == papers::PartKind::wheel) wheel = f.part_id;
            if (kind == papers::PartKind::rotor) f.wheel_id = wheel;
            f.place = end;
            f.from_day = d.today;
            parts.push_back(part_of(bike.name, b, end, kind));
            fittings.push_back(f);
        }
    }
    d.together([&] {   // the bike with its readings, or neither
        bike.id = must(d.papers->add_bike(d.deed, bike, parts, fittings));
        std::map<std::string, papers::Id> part_ids;
        for (const papers::Part& p : must(d.papers->parts())) part_ids[p.name] = p.id;
        readings_of(d, bike, b, part_ids);
    });
    return bike;
}

int papers_add_bikes(Desk& d) {
    const parts::Library library = must(parts::load_library());
    std::vector<Described> all;
    long failed = 0;
    for (const std::string& path : d.o.paths) {
        std::string text;
        if (path == "-") text.assign(std::istreambuf_iterator<char>(std::cin), {});
        else {
            Result<std::string> bytes = read_file(path);
            if (!bytes) {
                complain(bytes.error().text);
                ++failed;
                continue;
            }
            text = *std::move(bytes);
        }
        if (path != "-" && fs::path(path).extension() == ".toml") all.push_back({path, text});
        else for (Described& row : bikes_of_table(text, path == "-" ? "standard input" : path)) all.push_back(std::move(row));
    }
    json list = json::array();
    std::string said;
    for (const Described& one : all) {
        if (one.toml.empty()) {
            ++failed;
            continue;
        }
        papers::Bike bike;
        try {
            bike = add_bike(d, library, one.toml, one.where, "", {});
        } catch (const Stop& s) {
            if (s.error.code != Errc::bad_input) throw;
            complain(s.error.text.starts_with(one.where) ? s.error.text : fmt::format("{}: {}", one.where, s.error.text));
            ++failed;
            continue;
        }
        list.push_back({{"id", bike.id}, {"name", bike.name}});
        said += fmt::format("{} is in the papers.\n", bike.name);
    }
    clear_progress();
    if (d.o.common.json) fmt::print("{}\n", json({{"schema", "papers/1"}, {"version", version}, {"added", list}, {"failed", failed}}).dump(2, ' ', false, json::error_handler_t::replace));
    else fmt::print("{}", list.size() > 5 ? fmt::format("{} bikes are in the papers.\n", list.size()) : said);
    return failed ? exit_status(Errc::bad_input) : 0;
}

// Rides of the bikes by their time: two that were recorded at once are one ride, most likely by two recorders, and would count twice.
class SameTime {
public:
    //! Notes on standard error what the ride shares more than half of its time, or of the other's, with; then knows it too.
    void look(Desk& d, const papers::Ride& ride) {
        if (!ride.start_unix_s || !ride.duration_s || !(*ride.duration_s > 0)) return;
        if (!known_) {
            known_ = true;
            for (const papers::Ride& r : must(d.papers->rides({})))
                if (r.id != ride.id) add(r);
        }
        const double from = *ride.start_unix_s, to = from + *ride.duration_s;
        const auto& mine = spans_[ride.bike_id];
        for (auto at = mine.lower_bound(from - longest_s_); at != mine.end() && at->first < to; ++at)
            if (const double shared = std::min(to, at->second.to_unix_s) - std::max(from, at->first); shared > 0.5 * std::min(to - from, at->second.to_unix_s - at->first)) {
                complain(fmt::format("note: {} was recorded at the same time as {}. If two recorders saw one ride, its braking counts twice: `papers undo` takes back this whole command, then add the rides without it",
                                     ride.file_name, at->second.file_name));
                break;
            }
        add(ride);
    }

private:
    struct Span {
        double to_unix_s;
        std::string file_name;
    };
    void add(const papers::Ride& r) {
        if (!r.start_unix_s || !r.duration_s || !(*r.duration_s > 0)) return;
        spans_[r.bike_id].emplace(*r.start_unix_s, Span{*r.start_unix_s + *r.duration_s, r.file_name});
        longest_s_ = std::max(longest_s_, *r.duration_s);
    }
    bool known_ = false;
    double longest_s_ = 0;
    std::map<papers::Id, std::multimap<double, Span>> spans_;   // by the bike, then the start
};

int papers_add_rides(Desk& d) {
    SameTime same_time;
    Tally tally{.say = complain, .troubles = {}};
    if (!d.o.bike.empty()) d.bike();   // a wrong name is told before anything is read
    answer::RideTags wind;   // and so is a wind that cannot be
    wind.wind_mps = d.o.wind_mps;
    wind.wind_from_deg = d.o.wind_from_deg;
    if (const Status s = answer::settle_wind("", wind); !s) stop(Errc::wrong_usage, s.error().text);
    std::vector<std::string> files;
    for (const std::string& path : d.o.paths)
        for (std::string& f : files_under(path, tally)) files.push_back(std::move(f));
    bool stopped = false;
    for (std::size_t i = 0; i < files.size() && !stopped; ++i) {
        if (d.ctx.stopped()) {
            stopped = true;
            break;
        }
        if (d.ctx.progress) d.ctx.progress(static_cast<double>(i) / static_cast<double>(files.size()), fmt::format("{} of {}: {}", i + 1, files.size(), fs::path(files[i]).filename().string()));
        Result<std::string> bytes = read_file(files[i]);
        if (!bytes) {
            tally.trouble(bytes.error().text);
            continue;
        }
        try {
            if (answer::is_described(*bytes)) add_described(d, *bytes, files[i], tally);
            else {
                // Nobody asks here which ride it was that is there: of thousands of files that takes longer than the rest.
                std::string ride = papers::unwrapped(*std::move(bytes));
                if (must(d.papers->has_ride(papers::content_id(ride)))) ++tally.there;
                else if (const std::optional<AddedRide> added = add_recorded(d, std::move(ride), files[i], tally)) same_time.look(d, added->ride);
            }
        } catch (const Stop& s) {
            // A disk that is full or a file that is locked stops all; anything else is about this one file.
            if (s.error.code != Errc::bad_input) throw;
            tally.trouble(s.error.text.starts_with(files[i]) ? s.error.text : fmt::format("{}: {}", files[i], s.error.text));
        }
    }
    clear_progress();
    const std::string rest = stopped ? " Stopped: the same command goes on where it was." : "";
    if (d.o.common.json)
        fmt::print("{}\n", json({{"schema", "papers/1"}, {"version", version}, {"added", tally.added}, {"there_already", tally.there}, {"failed", tally.failed}, {"stopped", stopped}, {"troubles", tally.troubles}}).dump(2, ' ', false, json::error_handler_t::replace));
    else fmt::print("{} rides added, {} there already, {} not taken.{}\n", tally.added, tally.there, tally.failed, rest);
    if (stopped) return exit_status(Errc::cancelled);
    return tally.failed ? exit_status(Errc::bad_input) : 0;
}

}  // namespace bw::app
