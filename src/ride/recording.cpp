// SPDX-License-Identifier: Apache-2.0
// Any ride file: what it is by its content, a ride or a planned way.                                         Layer: ride
// Formats and limits: docs/formats-rides.md.
#include <fmt/format.h>

#include <algorithm>
#include <cmath>

#include "base/sampling.hpp"
#include "fit_decode.hpp"
#include "readers.hpp"
#include "ride/describe.hpp"
#include "ride/route.hpp"

namespace bw::ride {

using namespace readers;

namespace {

// A parsed file takes a few times its size in memory; this is about a week of riding at a record a second.
constexpr std::size_t largest_file = std::size_t{256} << 20, largest_unpacked = std::size_t{200} << 20;

struct Read {
    Reading reading;
    std::uint64_t hash = 0;   // of the bytes, unpacked
};

bool contains_word(std::string_view text, std::string_view word) { return text.find(word) != std::string_view::npos; }

Result<Read> read_any(std::string_view bytes, const std::string& name) {
    const auto bad = [&](std::string_view text) { return Error{Errc::bad_input, fmt::format("{}: {}", name, text)}; };
    if (bytes.size() > largest_file)
        return bad(fmt::format("the file has {} MB; a ride is read up to {} MB. Split it into its rides.", bytes.size() >> 20, largest_file >> 20));
    std::string unpacked;
    std::vector<Fault> faults;
    if (bytes.starts_with("\x1f\x8b")) {
        auto all = unpack_gzip(bytes, largest_unpacked, name, faults);
        if (!all) return all.error();
        unpacked = *std::move(all);
        bytes = unpacked;
    }
    if (bytes.starts_with("PK\x03\x04")) return bad("this is a zip archive; take the ride file out of it first.");

    const auto dispatch = [&]() -> Result<Reading> {
        std::string_view head = bytes.substr(0, 4096);
        const bool wide = head.size() >= 2 && ((head[0] == '\xff' && head[1] == '\xfe') || (head[0] == '\xfe' && head[1] == '\xff'));
        if (head.starts_with("\xef\xbb\xbf")) head.remove_prefix(3);
        const auto first = head.find_first_not_of(std::string_view(" \t\r\n\0", 5));
        if (first == std::string_view::npos && !wide) return bad("the file is empty; expected FIT, TCX, GPX or a ride CSV. Copy it from the recorder again.");
        if (fit::header_at(bytes, 0)) return read_fit(bytes, name);
        const bool xml = wide ? head.substr(2, 2).find('<') != std::string_view::npos : head[first] == '<';
        if (wide && !xml) return bad("the text is in UTF-16; save the CSV as UTF-8.");
        if (xml) {
            // By the names that only one of the two has; a file that was cut at its start may lack the first element.
            std::string narrow;
            for (const char c : bytes.substr(0, 65536))
                if (c != '\0') narrow += c;
            const bool gpx = contains_word(narrow, "<gpx") || contains_word(narrow, "trkpt") || contains_word(narrow, "rtept");
            const bool tcx = contains_word(narrow, "TrainingCenterDatabase") || contains_word(narrow, "Trackpoint");
            return tcx && !gpx ? read_tcx(bytes, name) : read_gpx(bytes, name);
        }
        // A FIT file whose beginning is damaged.
        if (head.find('\0') != std::string_view::npos && bytes.find(".FIT") != std::string_view::npos) return read_fit(bytes, name);
        return read_csv(bytes, name);
    };
    auto reading = dispatch();
    if (!reading) return reading.error();
    reading->faults.insert(reading->faults.begin(), faults.begin(), faults.end());
    return Read{*std::move(reading), hash_of(bytes)};
}

bool one_time(const std::vector<Record>& r) {
    return std::all_of(r.begin(), r.end(), [&](const Record& x) { return std::abs(x.time_s - r.front().time_s) < 0.0005; });
}

}  // namespace

Error readers::too_many_records(const std::string& name) {
    return {Errc::bad_input, fmt::format("{}: more than {} records; a ride has fewer. Split the file into its rides.", name, most_records)};
}

Result<Track> read_ride(std::string_view bytes, const std::string& name) {
    auto read = read_any(bytes, name);
    if (!read) return read.error();
    if (read->reading.records.size() < 2) return Error{Errc::bad_input, read->reading.no_ride};
    return track_of(std::move(read->reading), read->hash, name);
}

Result<Recording> read_recording(std::string_view bytes, const std::string& name) {
    auto read = read_any(bytes, name);
    if (!read) return read.error();
    auto& reading = read->reading;
    // Planners that must write times write the same one everywhere.
    if (reading.records.size() >= 2 && one_time(reading.records)) {
        reading.no_ride = fmt::format("all {} have the same time.", counted(reading.records.size(), "record", "records"));
        reading.way = std::move(reading.records);
        reading.records.clear();
    }
    if (reading.records.size() >= 2) {
        auto track = track_of(std::move(reading), read->hash, name);
        if (!track) return track.error();
        return Recording{*std::move(track)};
    }
    auto route = route_of(std::move(reading), read->hash, name);
    if (!route) return route.error();
    return Recording{*std::move(route)};
}

// ---- planned ways --------------------------------------------------------------------------------------------------------

namespace {

constexpr double same_point_m = 0.01, joined_m = 200, far_apart_m = 1000, longest_way_m = 5e6;

double between_m(const Record& a, const Record& b) {
    return ground_distance_m(a.value[latitude], a.value[longitude], b.value[latitude], b.value[longitude]);
}

//! Values that cannot be are not known; half a position is none.
void clean_points(std::vector<Record>& points, std::vector<Fault>& faults) {
    std::size_t off = 0, high = 0, far = 0;
    bool all_zero = true;
    for (auto& p : points) {
        double &lat = p.value[latitude], &lon = p.value[longitude], &z = p.value[altitude], &d = p.value[distance];
        const bool cannot_be = std::abs(lat) > 90 || std::abs(lon) > 180 || (lat == 0 && lon == 0);
        off += cannot_be;
        if (cannot_be || std::isnan(lat) || std::isnan(lon)) lat = lon = unknown;
        if (z < -500 || z > 9000) z = unknown, ++high;
        if (d < 0 || d > 1e7) d = unknown, ++far;
        all_zero = all_zero && (std::isnan(z) || z == 0);
    }
    if (off)
        faults.push_back({FaultKind::position_jump, static_cast<int>(off), 0,
                          fmt::format("{} off the globe or at exactly 0, 0 {} taken as not known.", counted(off, "position", "positions"), off == 1 ? "is" : "are")});
    if (high)
        faults.push_back({FaultKind::altitude_spike, static_cast<int>(high), 0,
                          fmt::format("{} outside -500 to 9,000 m {} taken as not known.", counted(high, "altitude", "altitudes"), high == 1 ? "is" : "are")});
    if (far)
        faults.push_back({FaultKind::other, static_cast<int>(far), 0,
                          fmt::format("{} outside 0 to 10,000 km {} taken as not known.", counted(far, "distance", "distances"), far == 1 ? "is" : "are")});
    // Planners that know no altitude write 0 all along; a way that is at 0 m all along is level, as one without altitude is.
    if (all_zero)
        for (auto& p : points) p.value[altitude] = unknown;
}

struct Way {
    std::vector<Record> points;       // value[distance] counts from 0, strictly rising
    std::size_t merged = 0;
    double length_m() const { return points.empty() ? 0 : points.back().value[distance]; }
    //! A point that is `step_m` further on; one at the same place only fills what is not known there.
    void add(const Record& p, double step_m) {
        if (!points.empty() && step_m < same_point_m) {
            ++merged;
            for (const auto c : {latitude, longitude, altitude})
                if (std::isnan(points.back().value[c])) points.back().value[c] = p.value[c];
            return;
        }
        const double reached = points.empty() ? 0 : length_m() + step_m;
        points.push_back(p);
        points.back().value[distance] = reached;
    }
};

//! By the distances that the file states. Points without one, and points that step back, are left out.
Way by_distance(const std::vector<Record>& points, std::vector<Fault>& faults) {
    Way way;
    double reached = unknown;
    std::size_t back = 0, without = 0;
    for (const auto& p : points) {
        const double d = p.value[distance];
        if (std::isnan(d)) {
            ++without;
            continue;
        }
        if (d < reached - 1) {
            ++back;
            continue;
        }
        way.add(p, std::isnan(reached) ? 0 : std::max(0.0, d - reached));
        // Points that lie closer together than one point is wide must not be lost for good.
        if (std::isnan(reached) || d - reached >= same_point_m) reached = d;
    }
    if (back)
        faults.push_back({FaultKind::other, static_cast<int>(back), 0,
                          fmt::format("{} where the distance steps back {} left out.", counted(back, "point", "points"), back == 1 ? "was" : "were")});
    if (without)
        faults.push_back({FaultKind::other, static_cast<int>(without), 0,
                          fmt::format("{} without a distance {} left out.", counted(without, "point", "points"), without == 1 ? "was" : "were")});
    return way;
}

//! By positions. Parts that begin where another ends are one way; of several ways the longest is taken.
Way by_position(const std::vector<Record>& points, std::vector<Fault>& faults) {
    std::vector<Way> ways;
    const Record* last = nullptr;
    std::size_t without = 0;
    bool new_part = true;
    for (const auto& p : points) {
        new_part = new_part || p.new_segment;
        if (std::isnan(p.value[latitude])) {
            ++without;
            continue;
        }
        const double step = last ? between_m(*last, p) : 0;
        if (!last || (new_part && step > joined_m)) {
            ways.emplace_back();
            ways.back().add(p, 0);
            last = &p;
        } else {
            ways.back().add(p, step);
            if (step >= same_point_m) last = &p;
        }
        new_part = false;
    }
    if (without)
        faults.push_back({FaultKind::no_position, static_cast<int>(without), 0,
                          fmt::format("{} without a position {} left out.", counted(without, "point", "points"), without == 1 ? "was" : "were")});
    if (ways.empty()) return {};
    const auto longest = std::max_element(ways.begin(), ways.end(), [](const Way& a, const Way& b) { return a.length_m() < b.length_m(); });
    if (ways.size() > 1)
        faults.push_back({FaultKind::other, static_cast<int>(ways.size() - 1), 0,
                          fmt::format("The file holds {} ways apart from each other. The longest, {:.1f} km, was taken; to plan another, put it in a file of its own.",
                                      ways.size(), longest->length_m() / 1000)});
    return std::move(*longest);
}

//! Altitudes that no road climbs to and back from are not known: over 30 m and as much as the way on both sides, up to 3 points;
//! and runs of exactly 0 that start or end so, which planners write where they know no altitude.
void clean_heights(std::vector<Record>& r, std::vector<Fault>& faults) {
    std::size_t n = 0;
    std::vector<std::size_t> known;
    for (std::size_t i = 0; i < r.size(); ++i)
        if (!std::isnan(r[i].value[altitude])) known.push_back(i);
    const auto far = [&](std::size_t a, std::size_t b) {
        return std::abs(r[known[b]].value[altitude] - r[known[a]].value[altitude]) > 30 + std::abs(r[known[b]].value[distance] - r[known[a]].value[distance]);
    };
    for (std::size_t k = 0; k < known.size();) {
        std::size_t end = k + 1;
        const bool zero = r[known[k]].value[altitude] == 0;
        if (zero)
            while (end < known.size() && r[known[end]].value[altitude] == 0) ++end;
        else
            while (end < known.size() && end < k + 4 && !(k > 0 && !far(k - 1, end))) ++end;
        const bool before = k > 0 && far(k - 1, k), after = end < known.size() && far(end - 1, end);
        const bool stray = zero ? (before || after) && (before || k == 0) && (after || end == known.size())
                                : before && after && end - k <= 3 && !far(k - 1, end);
        if (!stray) {
            k = zero ? end : k + 1;
            continue;
        }
        for (std::size_t q = k; q < end; ++q) r[known[q]].value[altitude] = unknown, ++n;
        k = end;
    }
    if (n)
        faults.push_back({FaultKind::altitude_spike, static_cast<int>(n), 0,
                          fmt::format("{} far above or below the points beside {} taken as not known.", counted(n, "altitude", "altitudes"), n == 1 ? "it is" : "them are")});
}

}  // namespace

Result<Route> readers::route_of(Reading&& reading, std::uint64_t hash, const std::string& name) {
    const auto bad = [&](std::string_view text) { return Error{Errc::bad_input, fmt::format("{}: {}", name, text)}; };
    auto faults = std::move(reading.faults);
    std::erase_if(faults, [](const Fault& f) { return f.kind == FaultKind::no_time; });   // a way needs none
    auto& points = reading.way;
    clean_points(points, faults);
    std::size_t counts = 0, places = 0, unused = 0;
    for (const auto& p : points) {
        counts += !std::isnan(p.value[distance]);
        places += !std::isnan(p.value[latitude]);
        unused += !std::isnan(p.value[speed]) || !std::isnan(p.value[power]);
    }
    const bool has_distance = counts >= 2 && 10 * counts >= 9 * points.size();
    if (!has_distance && places < 2 && counts < 2) return bad(fmt::format("no two points say where they are; a planned way needs positions, or distances with altitudes.{}{}", reading.no_ride.empty() ? "" : " As a ride: ", reading.no_ride));
    auto way = has_distance || places < 2 ? by_distance(points, faults) : by_position(points, faults);
    if (way.points.size() < 2) return bad("no part of it has two different places; a planned way needs two or more. Plan it again.");
    if (way.length_m() > longest_way_m) return bad(fmt::format("the way is {:.0f} km long; one is read up to {:.0f} km. Split it.", way.length_m() / 1000, longest_way_m / 1000));
    clean_heights(way.points, faults);

    Route route;
    route.file = base_name(name);
    route.content_hash = hash;
    const auto channel = [&](Channel c) {
        std::vector<double> v;
        if (std::all_of(way.points.begin(), way.points.end(), [c](const Record& x) { return std::isnan(x.value[c]); })) return v;
        v.reserve(way.points.size());
        for (const auto& x : way.points) v.push_back(x.value[c]);
        return v;
    };
    route.distance_m = channel(distance);
    route.latitude_deg = channel(latitude);
    route.longitude_deg = channel(longitude);
    route.altitude_m = channel(altitude);

    double longest = 0, longest_unknown = 0, since = 0;
    std::size_t without = 0;
    for (std::size_t i = 0; i < route.size(); ++i) {
        if (i) longest = std::max(longest, route.distance_m[i] - route.distance_m[i - 1]);
        if (route.altitude_m.empty()) continue;
        if (std::isnan(route.altitude_m[i])) ++without;
        else since = route.distance_m[i];
        longest_unknown = std::max(longest_unknown, route.distance_m[i] - since);
    }
    if (route.altitude_m.empty())
        faults.push_back({FaultKind::no_altitude, static_cast<int>(route.size()), 0,
                          "The way states no altitude: it is taken as level, and nothing can be said of its descents. Add the altitude from a map."});
    else if (longest_unknown > joined_m)
        faults.push_back({FaultKind::no_altitude, static_cast<int>(without), 0,
                          fmt::format("{} without altitude, for up to {:.0f} m at a time; it is bridged from what lies around.", counted(without, "point", "points"), longest_unknown)});
    if (route.latitude_deg.empty())
        faults.push_back({FaultKind::no_position, static_cast<int>(route.size()), 0, "The way states no positions: bends are not known."});
    if (longest > far_apart_m)
        faults.push_back({FaultKind::other, 1, 0,
                          fmt::format("Points lie up to {:.1f} km apart; the way between them is taken as straight, its slope as even. Hills and bends between are not seen.", longest / 1000)});
    if (unused)
        faults.push_back({FaultKind::other, static_cast<int>(unused), 0, "Speeds or powers without times are not used."});
    route.faults = std::move(faults);
    return route;
}

}  // namespace bw::ride
