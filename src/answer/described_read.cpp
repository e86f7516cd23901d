// SPDX-License-Identifier: Apache-2.0
// Rides that nobody recorded, a row each: reading the CSV.                                               Layer: answer
#include <fmt/format.h>

#include <algorithm>
#include <map>

#include "answer/answer.hpp"
#include "base/text.hpp"
#include "base/time.hpp"

namespace bw::answer {

namespace {

const char* const columns_known[] = {"date", "bike", "distance_m", "descent_m", "stops_per_km", "surface", "weather", "load_kg"};
// A file with one of these was recorded, or is a way.
const char* const columns_of_tracks[] = {"t_s", "time", "latitude_deg", "longitude_deg", "altitude_m", "speed_mps", "power_W", "temperature_degC", "cadence_rpm"};

template <std::size_t N>
bool among(const std::string& word, const char* const (&list)[N]) {
    return std::any_of(std::begin(list), std::end(list), [&](const char* x) { return word == x; });
}

std::string_view without_mark(std::string_view text) { return text.starts_with("\xEF\xBB\xBF") ? text.substr(3) : text; }

std::string_view first_line(std::string_view text) {
    text = without_mark(text);
    while (!text.empty() && (text.front() == '\n' || text.front() == '\r' || text.front() == ' ')) text.remove_prefix(1);
    return trim(text.substr(0, std::min(text.find('\n'), text.size())));
}

}  // namespace

bool is_described(std::string_view text) {
    const std::string_view header = first_line(text);
    if (header.empty() || header.size() > 4096 || header.front() == '<') return false;
    bool ours = false;
    for (const std::string& f : csv_fields(header, csv_separator(header))) {
        if (among(f, columns_of_tracks)) return false;
        ours = ours || among(f, columns_known);
    }
    return ours;
}

namespace {

// bike_name: absent: rows of all bikes.
Result<Described> read_rows(std::string_view text, const std::string& name, std::optional<std::string_view> bike_name) {
    text = without_mark(text);
    Described out;
    std::vector<std::string> columns;
    char separator = ',';
    long number = 0;
    for (std::size_t at = 0; at < text.size();) {
        const std::size_t end = std::min(text.find('\n', at), text.size());
        const std::string_view line = trim(text.substr(at, end - at));
        at = end + 1;
        ++number;
        if (line.empty()) continue;
        const std::string where = fmt::format("{}:{}", name, number);
        const auto wrong = [&](const std::string& what) { return Error{Errc::bad_input, where + ": " + what}; };
        if (columns.empty()) {
            separator = csv_separator(line);
            columns = csv_fields(line, separator);
            const std::vector<std::string> known(std::begin(columns_known), std::end(columns_known));
            for (std::size_t c = 0; c < columns.size(); ++c) {
                if (!among(columns[c], columns_known)) {
                    const auto near = nearest_word(columns[c], known);
                    return wrong(fmt::format("unknown column '{}'{}", columns[c], near ? "; the nearest known one is '" + *near + "'" : fmt::format("; expected {}", fmt::join(columns_known, ","))));
                }
                if (std::find(columns.begin(), columns.begin() + static_cast<long>(c), columns[c]) != columns.begin() + static_cast<long>(c)) return wrong("the column '" + columns[c] + "' is there twice");
            }
            if (std::find(columns.begin(), columns.end(), "distance_m") == columns.end()) return wrong("the column 'distance_m' is required in described rides");
            continue;
        }
        const std::vector<std::string> fields = csv_fields(line, separator);
        if (fields.size() != columns.size()) return wrong(fmt::format("expected {} fields, found {}", columns.size(), fields.size()));
        if (std::all_of(fields.begin(), fields.end(), [](const std::string& f) { return f.empty(); })) continue;
        std::map<std::string, std::string> cell;
        for (std::size_t i = 0; i < columns.size(); ++i) cell[columns[i]] = fields[i];
        const auto figure = [&](const char* column, double least, double most, std::optional<double>& into) -> Status {
            if (cell[column].empty()) return Done{};
            into = parse_number(cell[column]);
            if (!into || *into < least || *into > most) return wrong(fmt::format("{} '{}': expected a number from {} to {}", column, cell[column], least, most));
            return Done{};
        };
        DescribedRow row;
        row.where = where;
        std::optional<double> distance_m;
        if (Status s = figure("distance_m", 1, 2e6, distance_m); !s) return s.error();
        if (!distance_m) return wrong("distance_m is empty: how far was this ride?");
        row.distance_m = *distance_m;
        if (Status s = figure("descent_m", 0, 3e4, row.descent_m); !s) return s.error();
        if (row.descent_m && *row.descent_m > 0.5 * row.distance_m) return wrong(fmt::format("descent_m '{}': more than half of the distance; both are in metres", cell["descent_m"]));
        if (Status s = figure("stops_per_km", 0, 100, row.stops_per_km); !s) return s.error();
        if (Status s = figure("load_kg", 0, 400, row.tags.load_kg); !s) return s.error();
        if (!cell["surface"].empty()) {
            row.tags.surface = stop::surface_of(cell["surface"]);
            if (!row.tags.surface) return wrong(fmt::format("surface '{}': expected dry, wet, gravel or loose", cell["surface"]));
        }
        if (!cell["weather"].empty()) {
            row.tags.weather = weather_of(cell["weather"]);
            if (!row.tags.weather) return wrong(fmt::format("weather '{}': expected dry, damp, wet or gritty", cell["weather"]));
        }
        if (!cell["date"].empty()) {
            row.day = parse_day(cell["date"]);
            if (!row.day) return wrong(fmt::format("date '{}': expected a day as 2026-05-01", cell["date"]));
        }
        row.bike = cell["bike"];
        if (bike_name && !row.bike.empty() && row.bike != *bike_name) {
            ++out.left_out;
            continue;
        }
        out.rows.push_back(std::move(row));
    }
    if (columns.empty()) return Error{Errc::bad_input, name + ": the file is empty"};
    return out;
}

}  // namespace

Result<Described> read_described(std::string_view text, const std::string& name, std::string_view bike_name) { return read_rows(text, name, bike_name); }
Result<Described> read_described(std::string_view text, const std::string& name) { return read_rows(text, name, std::nullopt); }

}  // namespace bw::answer
