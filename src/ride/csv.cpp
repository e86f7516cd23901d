// SPDX-License-Identifier: Apache-2.0
// Ride CSV into records.                                                                                    Layer: ride
// Format: INTERFACES (Rides), docs/formats-rides.md.
#include <fmt/format.h>

#include <algorithm>
#include <array>
#include <cmath>

#include "base/text.hpp"
#include "readers.hpp"

namespace bw::ride::readers {
namespace {

// Columns in the order of Channel, then the two that may hold the time.
constexpr std::size_t column_t_s = channel_count, column_time = channel_count + 1, column_count = channel_count + 2;
const std::array<std::string, column_count>& column_names() {
    static const std::array<std::string, column_count> names{"latitude_deg", "longitude_deg", "altitude_m",       "distance_m", "speed_mps",
                                                             "power_W",      "temperature_degC", "cadence_rpm", "t_s", "time"};
    return names;
}

//! Fields of one line; quotes as in RFC 4180, within the line. `base` has the same for commas only and copies each field.
void split(std::string_view line, char separator, std::vector<std::string_view>& fields, std::vector<std::string>& unquoted) {
    fields.clear();
    unquoted.clear();
    if (line.find('"') == std::string_view::npos) {
        for (std::size_t from = 0;;) {
            const auto to = line.find(separator, from);
            fields.push_back(line.substr(from, to == std::string_view::npos ? to : to - from));
            if (to == std::string_view::npos) return;
            from = to + 1;
        }
    }
    std::string field;
    bool inside = false;
    for (std::size_t i = 0; i < line.size(); ++i) {
        const char c = line[i];
        if (c == '"') {
            if (inside && i + 1 < line.size() && line[i + 1] == '"') field += line[++i];
            else inside = !inside;
        } else if (c == separator && !inside) {
            unquoted.push_back(field);
            field.clear();
        } else {
            field += c;
        }
    }
    unquoted.push_back(field);
    fields.assign(unquoted.begin(), unquoted.end());
}

struct BadValues {
    std::size_t count = 0, first_line = 0;
    std::string first;
    void add(std::size_t line, std::string_view text) {
        if (count++ == 0) {
            first_line = line;
            first = shown(text);
        }
    }
};

Error bad(std::string text) { return {Errc::bad_input, std::move(text)}; }

std::string all_columns() {
    std::string list = "t_s or time";
    for (std::size_t c = 0; c < channel_count; ++c) list += ", " + column_names()[c];
    return list;
}

}  // namespace

Result<Reading> read_csv(std::string_view bytes, const std::string& name) {
    if (bytes.starts_with("\xef\xbb\xbf")) bytes.remove_prefix(3);
    std::size_t line_number = 0, at = 0;
    bool ended_by_newline = true;
    // A lone CR ends a line too: old spreadsheets write it.
    const auto next_line = [&](std::string_view& line) {
        if (at >= bytes.size()) return false;
        const auto end = bytes.find_first_of("\r\n", at);
        ended_by_newline = end != std::string_view::npos;
        line = bytes.substr(at, ended_by_newline ? end - at : end);
        at = ended_by_newline ? end + 1 : bytes.size();
        if (ended_by_newline && bytes[end] == '\r' && at < bytes.size() && bytes[at] == '\n') ++at;
        ++line_number;
        return true;
    };

    std::string_view line;
    bool found = false;
    while (!found && next_line(line)) found = !trim(line).empty();
    if (!found) return bad(fmt::format("{}: the file is empty; expected a ride CSV with a header line, or FIT, TCX or GPX.", name));
    const auto count_of = [&](char c) { return std::count(line.begin(), line.end(), c); };
    const char separator = count_of(';') > count_of(',') ? ';' : count_of('\t') > count_of(',') ? '\t' : ',';

    if (line.find('\0') != std::string_view::npos)
        return bad(fmt::format("{}: this is neither a ride file that is known nor text; expected a recording in FIT, TCX or GPX, or a ride CSV with a header line.", name));

    std::vector<std::string_view> fields;
    std::vector<std::string> unquoted;
    split(line, separator, fields, unquoted);
    while (fields.size() > 1 && trim(fields.back()).empty()) fields.pop_back();
    const std::size_t header_line = line_number;
    std::vector<std::size_t> column_of_field;
    std::array<bool, column_count> there{};
    for (const auto& raw : fields) {
        const auto word = trim(raw);
        const auto& names = column_names();
        const auto it = std::find(names.begin(), names.end(), word);
        if (it == names.end()) {
            const auto near = word.size() > 60 ? std::nullopt : nearest_word(word, names);
            return bad(fmt::format("{}, line {}: unknown column \"{}\"{}. Known columns: {}.", name, header_line, shown(word),
                                   near ? fmt::format("; is \"{}\" meant?", *near) : "", all_columns()));
        }
        const auto column = static_cast<std::size_t>(it - names.begin());
        if (there[column]) return bad(fmt::format("{}, line {}: the column \"{}\" is there twice; leave one out.", name, header_line, *it));
        there[column] = true;
        column_of_field.push_back(column);
    }
    const bool timed = there[column_t_s] || there[column_time];
    const auto no_time = fmt::format("{}, line {}: no time column; one of t_s (seconds) or time (ISO 8601) is needed", name, header_line);
    if (!timed && !there[distance] && !there[latitude]) return bad(no_time + ".");
    if (there[latitude] != there[longitude])
        return bad(fmt::format("{}, line {}: latitude_deg and longitude_deg are needed together; {} is missing.", name, header_line,
                               there[latitude] ? "longitude_deg" : "latitude_deg"));

    Reading out;
    if (!there[column_t_s]) out.zero_unix_s = 0;
    std::array<BadValues, column_count> bad_values;
    BadValues timeless, too_many, too_few;
    bool cut = false;
    while (next_line(line)) {
        if (trim(line).find_first_not_of(separator) == std::string_view::npos) continue;
        split(line, separator, fields, unquoted);
        while (fields.size() > column_of_field.size() && trim(fields.back()).empty()) fields.pop_back();
        if (fields.size() > column_of_field.size()) {
            too_many.add(line_number, line);
            continue;
        }
        if (fields.size() < column_of_field.size()) {
            // The last line of a file that was cut off: its last number may be cut too.
            if (!ended_by_newline) {
                cut = true;
                continue;
            }
            too_few.add(line_number, line);
        }
        Record r;
        std::optional<double> t_s, stamp;
        bool time_given = false;
        for (std::size_t f = 0; f < fields.size(); ++f) {
            const auto text = trim(fields[f]);
            if (text.empty()) continue;
            const auto column = column_of_field[f];
            if (column == column_time) {
                time_given = true;
                stamp = lenient_time(text);
                if (!stamp) bad_values[column].add(line_number, text);
                continue;
            }
            auto number = lenient_number(text);
            if (column == column_t_s) {
                time_given = true;
                if (number && std::abs(*number) > 1e10) number.reset();
                t_s = number;
                if (!t_s) bad_values[column].add(line_number, text);
            } else if (number) {
                r.value[column] = *number;
            } else {
                bad_values[column].add(line_number, text);
            }
        }
        if (out.records.size() + out.way.size() >= most_records) return too_many_records(name);
        if (!timed) {
            out.way.push_back(r);
            continue;
        }
        // With both columns t_s counts the time (it may hold decimals) and `time` gives the date.
        const auto& time = there[column_t_s] ? t_s : stamp;
        if (!time) {
            if (!time_given || there[column_t_s]) timeless.add(line_number, line);
            continue;
        }
        r.time_s = *time;
        if (t_s && stamp && !out.zero_unix_s) out.zero_unix_s = *stamp - *t_s;
        out.records.push_back(r);
    }

    if (!timed) {
        out.no_ride = no_time + ". Without it the file is a planned way, not a ride.";
        if (out.way.size() < 2)
            return bad(fmt::format("{}: {} below the header; two are needed.", name, counted(out.way.size(), "row", "rows")));
    }
    const std::string believed = there[column_t_s] ? "t_s is read from -1e10 to 1e10 s" : "times are read as 2026-05-01T09:30:00Z, from the year 1653 to 2286";
    const auto lost = timeless.count + (there[column_t_s] ? 0 : bad_values[column_time].count);
    if (timed && out.records.size() < 2) {
        if (too_many.count)
            return bad(fmt::format("{}, line {}: more fields than the header has columns ({}). If the numbers have a decimal comma, "
                                   "separate the columns with semicolons.",
                                   name, too_many.first_line, column_of_field.size()));
        if (lost) {
            const auto& first = timeless.count ? timeless : bad_values[there[column_t_s] ? column_t_s : column_time];
            return bad(fmt::format("{}, line {}: no readable time (\"{}\"); {} left with one, two are needed. t_s is a number of "
                                   "seconds, up to 1e10; time is like 2026-05-01T09:30:00Z, from the year 1653 to 2286.",
                                   name, first.first_line, first.first, counted(out.records.size(), "row is", "rows are")));
        }
        return bad(fmt::format("{}: {} below the header; two rows with a time are needed.", name,
                               counted(out.records.size(), "row", "rows")));
    }
    if (cut)
        out.faults.push_back({FaultKind::truncated, 1, 0,
                              fmt::format("The file is cut off in its last line; {} before it were kept.",
                                          counted(std::max(out.records.size(), out.way.size()), "record", "records"))});
    if (lost) {
        const auto& times = bad_values[there[column_t_s] ? column_t_s : column_time];
        const auto first_line = timeless.count && (!times.count || timeless.first_line < times.first_line) ? timeless.first_line : times.first_line;
        out.faults.push_back({FaultKind::no_time, static_cast<int>(lost), 0,
                              fmt::format("{} without a readable time (the first in line {}) {} left out; {}.", counted(lost, "row", "rows"),
                                          first_line, lost == 1 ? "was" : "were", believed)});
    }
    if (too_many.count)
        out.faults.push_back({FaultKind::other, static_cast<int>(too_many.count), 0,
                              fmt::format("{} with more fields than the header has columns (the first in line {}) {} left out.",
                                          counted(too_many.count, "row", "rows"), too_many.first_line, too_many.count == 1 ? "was" : "were")});
    if (too_few.count)
        out.faults.push_back({FaultKind::other, static_cast<int>(too_few.count), 0,
                              fmt::format("{} with fewer fields than the header has columns (the first in line {}): what is missing is "
                                          "taken as not known.",
                                          counted(too_few.count, "row", "rows"), too_few.first_line)});
    for (std::size_t c = 0; c < column_count; ++c) {
        const auto& b = bad_values[c];
        if (!b.count || c == column_t_s || (c == column_time && !there[column_t_s])) continue;
        out.faults.push_back({FaultKind::other, static_cast<int>(b.count), 0,
                              fmt::format("{}: {} could not be read (the first in line {}: \"{}\") and {} taken as not known.",
                                          column_names()[c], counted(b.count, "value", "values"), b.first_line, b.first,
                                          b.count == 1 ? "is" : "are")});
    }
    return out;
}

}  // namespace bw::ride::readers
