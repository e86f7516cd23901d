// SPDX-License-Identifier: Apache-2.0
// `answer`: files in, files and text out.                                                                Layer: app
#include <fmt/format.h>
#include <fmt/ranges.h>

#include <algorithm>
#include <chrono>
#include <cmath>
#include <filesystem>
#include <map>
#include <set>

#include "answer/from_papers.hpp"
#include "base/sampling.hpp"
#include "base/text.hpp"
#include "base/time.hpp"
#include "verb_papers.hpp"
#include "report.hpp"
#include "verbs.hpp"

namespace bw::app {

namespace {

namespace fs = std::filesystem;

Error usage(const std::string& text) { return {Errc::wrong_usage, text}; }

// Words and numbers of one ride's tags; `where` for messages.
Result<answer::RideTags> tags_of(const std::string& where, const std::string& surface, const std::string& weather, const std::string& wind,
                                 const std::string& air, const std::string& load, const std::string& wind_from) {
    answer::RideTags tags;
    if (!surface.empty()) {
        tags.surface = stop::surface_of(surface);
        if (!tags.surface) return Error{Errc::bad_input, fmt::format("{}: surface '{}': expected dry, wet, gravel or loose", where, surface)};
    }
    if (!weather.empty()) {
        tags.weather = answer::weather_of(weather);
        if (!tags.weather) return Error{Errc::bad_input, fmt::format("{}: weather '{}': expected dry, damp, wet or gritty", where, weather)};
    }
    const auto number = [&](const std::string& text, const char* name, double least, double most, std::optional<double>& into) -> Status {
        if (text.empty()) return Done{};
        into = parse_number(text);
        if (!into || *into < least || *into > most)
            return Error{Errc::bad_input, fmt::format("{}: {} '{}': expected a number from {} to {}", where, name, text, least, most)};
        return Done{};
    };
    if (Status s = number(wind, "wind_mps", -30, 30, tags.wind_mps); !s) return s.error();
    if (Status s = number(air, "air_degC", -40, 60, tags.air_degC); !s) return s.error();
    if (Status s = number(load, "load_kg", 0, 400, tags.load_kg); !s) return s.error();
    if (Status s = number(wind_from, "wind_from_deg", 0, 360, tags.wind_from_deg); !s) return s.error();
    if (Status s = answer::settle_wind(where, tags); !s) return s.error();
    return tags;
}

// file,surface,weather,wind_mps,wind_from_deg,air_degC,load_kg, all but the file optional; the file's name without its folder is the key. Byte order mark, semicolons
// (then with decimal commas) and blanks around fields are taken, as in described rides.
Result<std::map<std::string, answer::RideTags>> read_tags(const std::string& path) {
    Result<std::string> text = read_file(path);
    if (!text) return text.error();
    static const std::vector<std::string> known = {"file", "surface", "weather", "wind_mps", "wind_from_deg", "air_degC", "load_kg"};
    std::map<std::string, answer::RideTags> all;
    std::map<std::string, long> line_of;
    std::vector<std::string> columns;
    char separator = ',';
    long number = 0;
    for (std::size_t at = text->starts_with("\xEF\xBB\xBF") ? 3 : 0; at < text->size();) {
        const std::size_t end = std::min(text->find('\n', at), text->size());
        const std::string line(trim(std::string_view(*text).substr(at, end - at)));
        at = end + 1;
        ++number;
        if (line.empty()) continue;
        if (columns.empty()) separator = csv_separator(line);
        const std::vector<std::string> fields = csv_fields(line, separator);
        const std::string where = fmt::format("{}:{}", path, number);
        if (columns.empty()) {
            columns = fields;
            for (std::size_t c = 0; c < columns.size(); ++c) {
                if (std::find(known.begin(), known.end(), columns[c]) == known.end()) {
                    const auto near = nearest_word(columns[c], known);
                    return Error{Errc::bad_input, fmt::format("{}: unknown column '{}'{}", where, columns[c], near ? "; the nearest known one is '" + *near + "'" : "")};
                }
                if (std::find(columns.begin(), columns.begin() + static_cast<long>(c), columns[c]) != columns.begin() + static_cast<long>(c))
                    return Error{Errc::bad_input, fmt::format("{}: the column '{}' is there twice", where, columns[c])};
            }
            if (std::find(columns.begin(), columns.end(), "file") == columns.end()) return Error{Errc::bad_input, where + ": the column 'file' is required"};
            continue;
        }
        if (fields.size() != columns.size())
            return Error{Errc::bad_input, fmt::format("{}: expected {} fields, found {}", where, columns.size(), fields.size())};
        std::map<std::string, std::string> row;
        for (std::size_t i = 0; i < columns.size(); ++i) row[columns[i]] = fields[i];
        Result<answer::RideTags> tags = tags_of(where, row["surface"], row["weather"], row["wind_mps"], row["air_degC"], row["load_kg"], row["wind_from_deg"]);
        if (!tags) return tags.error();
        if (const auto [before, fresh] = line_of.try_emplace(row["file"], number); !fresh)
            return Error{Errc::bad_input, fmt::format("{}: '{}' stands in line {} already; keep one of the two", where, row["file"], before->second)};
        all[row["file"]] = *tags;
    }
    return all;
}

// What the command line says of every ride, under what the tags file says of one.
answer::RideTags merged(const answer::RideTags& all, const answer::RideTags& one) {
    answer::RideTags t = one;
    if (!t.surface) t.surface = all.surface;
    if (!t.weather) t.weather = all.weather;
    answer::fill_wind(t, all);
    if (!t.air_degC) t.air_degC = all.air_degC;
    if (!t.load_kg) t.load_kg = all.load_kg;
    return t;
}

// What both forms of the command ask: cases, altitude, day, tags for every ride.
Status ask_for(answer::Request& request, answer::RideTags& common, const AnswerOptions& o) {
    request.cases = o.cases;
    request.keep_series = !o.series_dir.empty() || !o.report.empty();
    if (o.cases < answer::anchor_cases || o.cases > 65536 || (o.cases & (o.cases - 1)) != 0)
        return usage(fmt::format("--cases {}: expected a power of two from 64 to 65536", o.cases));
    if (!o.altitude.empty() && o.altitude != "auto") {
        for (const auto source : {ride::AltitudeSource::barometric, ride::AltitudeSource::satellite, ride::AltitudeSource::terrain, ride::AltitudeSource::none})
            if (ride::word_of(source) == o.altitude) request.altitude = source;
        if (!request.altitude) return usage(fmt::format("--altitude {}: expected auto, barometric, satellite, terrain or none", o.altitude));
    }
    if (!o.today.empty()) {
        request.today = parse_day(o.today);
        constexpr long first = 7305, last = 84005;   // 1990-01-01 to 2199-12-31
        if (!request.today || *request.today < first || *request.today > last) return usage(fmt::format("--today {}: expected a day as 2026-05-01, from 1990 to 2199", o.today));
    }
    // A ride ends at most a day later than here, wherever it was.
    if (const std::optional<long> day = request.today ? request.today : clock_day()) request.latest_day = *day + 1;
    Result<answer::RideTags> told = tags_of("command line", o.surface, o.weather, "", "", "", "");
    if (!told) return usage(told.error().text);
    common = *told;
    common.wind_mps = o.wind_mps;
    common.air_degC = o.air_degC;
    common.load_kg = o.load_kg;
    common.wind_from_deg = o.wind_from_deg;
    if (Status s = answer::settle_wind("", common); !s) return usage(s.error().text);
    return Done{};
}

std::optional<ride::Style> style_of(const AnswerOptions& o) {
    for (const ride::Style s : {ride::Style::dragging, ride::Style::short_hard})
        if (ride::word_of(s) == o.style) return s;
    return std::nullopt;
}

Status write_tables(const AnswerOptions& o, const answer::Answer& a) {
    if (!o.series_dir.empty()) {
        std::error_code failed;
        fs::create_directories(o.series_dir, failed);
        if (failed) return Error{Errc::cannot_write, fmt::format("{}: cannot be made ({})", o.series_dir, failed.message())};
        std::map<std::string, int> stems;
        for (const answer::RideAnswer& r : a.rides) {
            if (r.series.speed_mps.empty()) continue;   // told in words or figures only
            std::string stem = fs::path(r.file).stem().string();
            if (const int n = ++stems[stem]; n > 1) stem += fmt::format("-{}", n);   // a.gpx and a.csv must not overwrite each other
            if (Status s = write_file((fs::path(o.series_dir) / (stem + ".csv")).string(), answer::series_csv(r)); !s) return s;
        }
    }
    if (!o.report.empty()) {
        const Result<std::string> html = report_html(a, version);
        if (!html) return html.error();
        if (Status s = write_file(o.report, *html); !s) return s;
    }
    return o.summary.empty() ? Status(Done{}) : write_file(o.summary, answer::summary_csv(a));
}

}  // namespace

Status read_request(answer::Request& request, const AnswerOptions& o, const std::vector<std::string>& bikes) {
    answer::RideTags common;
    if (Status s = ask_for(request, common, o); !s) return s;
    std::map<std::string, answer::RideTags> tags;
    if (!o.tags.empty()) {
        Result<std::map<std::string, answer::RideTags>> read = read_tags(o.tags);
        if (!read) return read.error();
        tags = *std::move(read);
    }
    const std::optional<ride::Style> style = style_of(o);
    std::set<std::uint64_t> seen;
    std::set<std::string> tagged;   // names that a row of the tags file may have
    for (const std::string& path : o.rides) {
        Result<std::string> bytes = read_file(path);
        if (!bytes) return bytes.error();
        if (!tagged.insert(fs::path(path).filename().string()).second && tags.contains(fs::path(path).filename().string()))
            fmt::print(stderr, "brakewright: note: {}: the row of '{}' counts for {} too, which has the same name\n", o.tags, fs::path(path).filename().string(), path);
        if (answer::is_described(*bytes)) {
            if (!seen.insert(hash_of(*bytes)).second) {
                fmt::print(stderr, "brakewright: note: {} is the same as a file before it; its rides count once\n", path);
                continue;
            }
            Result<answer::Described> described = answer::read_described(*bytes, path);
            if (!described) return described.error();
            described->left_out = static_cast<int>(std::erase_if(described->rows, [&](const answer::DescribedRow& r) { return !r.bike.empty() && std::find(bikes.begin(), bikes.end(), r.bike) == bikes.end(); }));
            if (described->left_out > 0)
                fmt::print(stderr, "brakewright: note: {}: {} row(s) of other bikes left out; this one is '{}'\n", path, described->left_out, fmt::join(bikes, "', '"));
            request.rows_of_other_bikes += static_cast<std::size_t>(described->left_out);
            if (described->left_out == 0 && described->rows.empty()) return Error{Errc::bad_input, fmt::format("{}: no ride below the header; write one a row, or leave the file out", path)};
            // What a row says of itself counts first, then what the tags file says of its line, of its file, then the command line.
            const std::string name = fs::path(path).filename().string();
            for (answer::DescribedRow& row : described->rows) {
                const std::string line = row.where.substr(row.where.find_last_of("/\\") + 1);
                for (const std::string& key : {line, name}) {
                    tagged.insert(key);
                    if (const auto told = tags.find(key); told != tags.end()) row.tags = merged(told->second, row.tags);
                }
                row.tags = merged(common, row.tags);
                request.described.push_back(std::move(row));
            }
            continue;
        }
        Result<ride::Recording> recording = ride::read_recording(*bytes, path);
        if (!recording) return recording.error();
        const std::uint64_t hash = std::visit([](const auto& r) { return r.content_hash; }, *recording);
        if (!seen.insert(hash).second) {
            fmt::print(stderr, "brakewright: note: {} is the same ride as one before it; it counts once\n", path);
            continue;
        }
        const auto told = tags.find(fs::path(path).filename().string());
        if (!o.tags.empty() && told == tags.end())
            fmt::print(stderr, "brakewright: note: {} has no row for '{}'\n", o.tags, fs::path(path).filename().string());
        const answer::RideTags said = merged(common, told == tags.end() ? answer::RideTags{} : told->second);
        if (auto* track = std::get_if<ride::Track>(&*recording)) request.rides.push_back({std::move(*track), said});
        else request.planned.push_back({std::move(std::get<ride::Route>(*recording)), said, style});
    }
    if (style && request.planned.empty() && !request.terrain) fmt::print(stderr, "brakewright: note: --style {} is for planned ways; of what was ridden the recording tells how it was braked\n", o.style);
    std::string unused;
    for (const auto& [file, tag] : tags)
        if (!tagged.contains(file)) unused += fmt::format("{}'{}'", unused.empty() ? "" : ", ", file);
    if (!unused.empty()) fmt::print(stderr, "brakewright: note: {}: rows of rides that were not given are not used: {}\n", o.tags, unused);
    return Done{};
}

Result<parts::Bike> bike_in(const std::string& path, const parts::Library& library) {
    Result<std::string> text = read_file(path);
    if (!text) return text.error();
    return parts::read_bike(*text, path, library);
}

int run_answer(const AnswerOptions& o) {
    const Context ctx = context_of(o.common);
    Result<parts::Library> library = parts::load_library();
    if (!library) return fail({Errc::internal, library.error().text});

    answer::Request request;
    if (o.ask) {
        Result<SixAnswers> six = ask_six(*library);
        if (!six) return fail(six.error());
        request.bike = six->bike;
        request.terrain = six->terrain;
    } else {
        Result<parts::Bike> bike = bike_in(o.bike, *library);
        if (!bike) return fail(bike.error());
        request.bike = *std::move(bike);
    }
    if (Status s = read_request(request, o, {request.bike.name}); !s) return fail(s.error());
    Result<answer::Answer> result = answer::answer(ctx, *library, request);
    if (!result) return fail(result.error());
    clear_progress();

    if (Status s = write_tables(o, *result); !s) return fail(s.error());
    fmt::print("{}", o.common.json ? answer::json_of(*result, version) : answer::text_of(*result, version));
    return o.verdict_status && result->verdict.do_not_ride ? 5 : 0;
}

int run_answer_from_papers(const AnswerOptions& o) {
    try {
        const Context ctx = context_of(o.common);
        const parts::Library library = must(parts::load_library());
        answer::Request asked;
        answer::FromPapers from;
        must(ask_for(asked, from.tags, o));
        if (!o.tags.empty()) stop(Errc::wrong_usage, "--tags is for ride files: in the papers each ride has its own (`papers add rides --surface ...`)");
        if (!o.since.empty() && !parse_day(o.since)) stop(Errc::wrong_usage, fmt::format("--since {}: expected a day as 2026-05-01", o.since));
        from.made_unix_s = std::chrono::duration<double>(std::chrono::system_clock::now().time_since_epoch()).count();
        from.today = format_day(asked.today ? *asked.today : static_cast<long>(std::floor(from.made_unix_s / 86400)));
        if (!o.since.empty()) from.since = o.since;
        from.version = version;
        from.cases = asked.cases;
        from.altitude = asked.altitude;
        from.keep_series = asked.keep_series;
        std::vector<std::string> ways = o.rides;
        if (!o.bike.empty()) ways.insert(ways.begin(), o.bike);
        for (const std::string& path : ways) {
            ride::Recording read = must(ride::read_recording(must(read_file(path)), path));
            auto* route = std::get_if<ride::Route>(&read);
            if (!route) stop(Errc::wrong_usage, fmt::format("{}: this was ridden: add it with `papers add rides`; beside --papers stand planned routes only", path));
            from.planned.push_back({std::move(*route), from.tags, style_of(o)});
        }

        papers::Opened opened = must(papers::open_papers(o.papers));
        if (!opened.note.empty()) fmt::print(stderr, "brakewright: note: {}\n", opened.note);
        from.bike = bike_named(*opened.papers, o.bike_name).id;
        const auto say = [](const std::vector<std::string>& notes) {
            clear_progress();
            for (const std::string& n : notes) fmt::print(stderr, "brakewright: note: {}\n", n);
        };
        bool held = false;
        if (o.common.json && o.summary.empty() && o.series_dir.empty() && o.report.empty()) {
            const answer::PapersJson found = must(answer::answer_json_from_papers(ctx, library, *opened.papers, from));
            say(found.notes);
            held = found.do_not_ride;
            fmt::print("{}", found.json);
        } else {
            const answer::PapersAnswer found = must(answer::answer_from_papers(ctx, library, *opened.papers, from));
            say(found.notes);
            held = found.answer.verdict.do_not_ride;
            must(write_tables(o, found.answer));
            fmt::print("{}", o.common.json ? answer::json_of(found.answer, version) : answer::text_of(found.answer, version));
        }
        return o.verdict_status && held ? 5 : 0;
    } catch (const Stop& s) {
        return fail(s.error);
    }
}

}  // namespace bw::app
