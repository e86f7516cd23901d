// SPDX-License-Identifier: Apache-2.0
// Proof stops: reading their table.                                                                       Layer: stop
#include <fmt/format.h>

#include <algorithm>
#include <map>

#include "base/text.hpp"
#include "base/time.hpp"
#include "stop/proof.hpp"

namespace bw::stop {

namespace {
constexpr std::string_view ways[] = {"taped", "paced", "timed", "recorded"};
}

std::string_view word_of(WayMeasured way) { return ways[static_cast<std::size_t>(way)]; }
std::optional<WayMeasured> way_measured_of(std::string_view word) {
    for (std::size_t i = 0; i < std::size(ways); ++i)
        if (ways[i] == word) return static_cast<WayMeasured>(i);
    return std::nullopt;
}

Result<std::vector<ProofStop>> read_proof_stops(std::string_view text, const std::string& name) {
    const std::vector<std::string> known = {"date", "stop", "wheel", "from_mps", "distance_m", "time_s", "lever_force_N", "surface", "grade", "way", "from_sd_mps", "distance_sd_m"};
    std::vector<ProofStop> stops;
    std::vector<std::string> columns;
    int number = 0;
    while (!text.empty()) {
        const std::size_t end = text.find('\n');
        const std::string_view line = trim(text.substr(0, end));
        text.remove_prefix(end == std::string_view::npos ? text.size() : end + 1);
        ++number;
        if (line.empty()) continue;
        const std::vector<std::string> fields = csv_fields(line);
        if (columns.empty()) {
            for (const std::string& f : fields) {
                const std::string column(trim(f));
                if (std::find(known.begin(), known.end(), column) == known.end()) {
                    const auto near = nearest_word(column, known);
                    return Error{Errc::bad_input, fmt::format("{}:{}: unknown column '{}'{}", name, number, column,
                                                              near ? fmt::format("; did you mean '{}'?", *near) : "")};
                }
                columns.push_back(column);
            }
            for (const char* needed : {"date", "wheel", "from_mps", "distance_m", "surface", "grade"})
                if (std::find(columns.begin(), columns.end(), needed) == columns.end())
                    return Error{Errc::bad_input, fmt::format("{}:{}: the column '{}' is missing", name, number, needed)};
            continue;
        }
        if (fields.size() != columns.size())
            return Error{Errc::bad_input, fmt::format("{}:{}: {} fields, the first line has {}", name, number, fields.size(), columns.size())};
        std::map<std::string, std::string, std::less<>> cells;
        for (std::size_t i = 0; i < columns.size(); ++i) cells[columns[i]] = std::string(trim(fields[i]));
        const auto wrong = [&](const char* column, const char* expected) {
            return Error{Errc::bad_input, fmt::format("{}:{}: {} = '{}': {}", name, number, column, cells[column], expected)};
        };
        const auto within = [&](const char* column, double least, double most) -> std::optional<double> {
            const auto v = parse_number(cells[column]);
            return v && *v >= least && *v <= most ? v : std::nullopt;
        };
        ProofStop s;
        s.stop = cells["stop"];
        const auto day = parse_day(cells["date"]);
        if (!day) return wrong("date", "expected a day such as 2026-05-01");
        s.day = *day;
        const auto wheel = brakes_of(cells["wheel"]);
        if (!wheel) return wrong("wheel", "expected both, front or rear");
        s.wheel = *wheel;
        const auto surface = surface_of(cells["surface"]);
        if (!surface) return wrong("surface", "expected dry, wet, gravel or loose");
        s.surface = *surface;
        const auto from = within("from_mps", 0.5, 40), distance = within("distance_m", 0.1, 500), grade = within("grade", -0.5, 0.5);
        if (!from) return wrong("from_mps", "expected a speed of 0.5 to 40 m/s");
        if (!distance) return wrong("distance_m", "expected 0.1 to 500 m");
        if (!grade) return wrong("grade", "expected a fraction of -0.5 to 0.5, negative downhill");
        s.from_mps = *from;
        s.distance_m = *distance;
        s.grade = *grade;
        if (!cells["time_s"].empty()) {
            s.time_s = within("time_s", 0.1, 100);
            if (!s.time_s) return wrong("time_s", "expected 0.1 to 100 s, or nothing");
        }
        if (!cells["lever_force_N"].empty()) {
            s.lever_force_N = within("lever_force_N", 1, 500);
            if (!s.lever_force_N) return wrong("lever_force_N", "expected 1 to 500 N, or nothing");
        }
        if (!cells["way"].empty()) {
            s.way = way_measured_of(cells["way"]);
            if (!s.way) return wrong("way", "expected taped, paced, timed or recorded, or nothing");
        }
        if (!cells["from_sd_mps"].empty()) {
            s.from_sd_mps = within("from_sd_mps", 0.001, 10);
            if (!s.from_sd_mps) return wrong("from_sd_mps", "expected 0.001 to 10 m/s, or nothing");
        }
        if (!cells["distance_sd_m"].empty()) {
            s.distance_sd_m = within("distance_sd_m", 0.001, 50);
            if (!s.distance_sd_m) return wrong("distance_sd_m", "expected 0.001 to 50 m, or nothing");
        }
        stops.push_back(std::move(s));
    }
    if (columns.empty()) return Error{Errc::bad_input, fmt::format("{}: empty; expected a first line with the columns", name)};
    return stops;
}

}  // namespace bw::stop
