// SPDX-License-Identifier: Apache-2.0
// GPX 1.0 and 1.1 into records: recorded tracks, drawn tracks and routes.                                    Layer: ride
// Formats: docs/formats-rides.md.
#include <fmt/format.h>

#include <cmath>

#include "base/text.hpp"
#include "recording_xml.hpp"

namespace bw::ride::readers {
namespace {

constexpr int deepest_extension = 4;

void take_extensions(const pugi::xml_node& parent, Record& r, double& other_temperature, Tally& tally, int depth) {
    for (const auto& node : parent.children()) {
        if (node.type() != pugi::node_element) continue;
        const auto name = local_name(node);
        if (same_word(name, "power") || same_word(name, "powerinwatts") || same_word(name, "watts"))
            take_number(r.value[power], node.child_value(), tally);
        else if (same_word(name, "cad") || same_word(name, "cadence"))
            take_number(r.value[cadence], node.child_value(), tally);
        else if (same_word(name, "atemp"))
            take_number(r.value[temperature], node.child_value(), tally);
        else if (same_word(name, "temp"))
            take_number(other_temperature, node.child_value(), tally);
        else if (same_word(name, "speed"))
            take_number(r.value[speed], node.child_value(), tally);
        else if (same_word(name, "distance"))
            take_number(r.value[distance], node.child_value(), tally);
        else if (depth < deepest_extension)
            take_extensions(node, r, other_temperature, tally, depth + 1);
    }
}

//! One trkpt. Its time stays unknown if it has none that can be read.
Record track_point(const pugi::xml_node& point, Tally& tally) {
    Record r;
    ++tally.points;
    bool readable = true;
    double other_temperature = unknown;
    take_number(r.value[latitude], point.attribute("lat").value(), tally);
    take_number(r.value[longitude], point.attribute("lon").value(), tally);
    for (const auto& node : point.children()) {
        if (node.type() != pugi::node_element) continue;
        const auto name = local_name(node);
        if (name == "ele")
            take_number(r.value[altitude], node.child_value(), tally);
        else if (name == "time")
            readable = take_time(r.time_s, node.child_value(), tally) && readable;
        else if (name == "speed")
            take_number(r.value[speed], node.child_value(), tally);
        else if (name == "extensions")
            take_extensions(node, r, other_temperature, tally, 0);
    }
    if (std::isnan(r.value[temperature])) r.value[temperature] = other_temperature;
    if (!readable) r.time_s = unknown;
    else if (std::isnan(r.time_s)) ++tally.timeless;
    return r;
}

//! Points of the way that some planners put between two route points: <rpt lat= lon=> somewhere in the extensions.
void take_between(const pugi::xml_node& parent, std::vector<Record>& into, Tally& tally, int depth) {
    for (const auto& node : parent.children()) {
        if (node.type() != pugi::node_element) continue;
        if (local_name(node) == "rpt" && node.attribute("lat") && node.attribute("lon")) {
            Record r;
            take_number(r.value[latitude], node.attribute("lat").value(), tally);
            take_number(r.value[longitude], node.attribute("lon").value(), tally);
            into.push_back(r);
        } else if (depth < deepest_extension) {
            take_between(node, into, tally, depth + 1);
        }
    }
}

Error bad(std::string text) { return {Errc::bad_input, std::move(text)}; }

}  // namespace

Result<Reading> read_gpx(std::string_view bytes, const std::string& name) {
    Reading out;
    out.zero_unix_s = 0;
    Tally tally, route_tally;
    std::size_t waypoints = 0, route_points = 0, timed = 0;
    std::vector<Record> points, route;
    bool segment_pending = false, route_pending = false;
    struct Last {
        bool track = false;
        std::size_t route_size = 0;
        Tally before;
        bool pending = false;
    } last;

    static const PointTag tags[] = {{"trkpt", {"gpx", "trk", "trkseg"}}, {"rtept", {"gpx", "rte"}}};
    XmlHooks hooks;
    bool full = false;
    hooks.element = [&](const pugi::xml_node& node, std::string_view local) {
        full = full || points.size() + route.size() >= most_records;
        if (full) return Visit::skip;
        if (local == "trkpt") {
            last = {true, 0, tally, segment_pending};
            points.push_back(track_point(node, tally));
            points.back().new_segment = segment_pending;
            segment_pending = false;
            timed += !std::isnan(points.back().time_s);
            return Visit::point;
        }
        if (local == "rtept") {
            last = {false, route.size(), route_tally, route_pending};
            Record r;
            ++route_points;
            take_number(r.value[latitude], node.attribute("lat").value(), route_tally);
            take_number(r.value[longitude], node.attribute("lon").value(), route_tally);
            r.new_segment = route_pending;
            route_pending = false;
            for (const auto& child : node.children())
                if (local_name(child) == "ele") take_number(r.value[altitude], child.child_value(), route_tally);
            route.push_back(r);
            for (const auto& child : node.children())
                if (local_name(child) == "extensions") take_between(child, route, route_tally, 0);
            return Visit::point;
        }
        if (local == "wpt") {
            ++waypoints;
            return Visit::skip;
        }
        if (local == "trkseg" || local == "trk") segment_pending = true;
        if (local == "rte") route_pending = true;
        return local == "extensions" || local == "metadata" ? Visit::skip : Visit::descend;
    };
    hooks.take_back = [&] {
        if (full) return;
        if (last.track) {
            timed -= !std::isnan(points.back().time_s);
            points.pop_back();
            tally = last.before;
            segment_pending = last.pending;
        } else {
            --route_points;
            route.resize(last.route_size);
            route_tally = last.before;
            route_pending = last.pending;
        }
    };
    hooks.count = [&] { return points.size() + route_points; };
    const auto xml = read_xml(bytes, tags, hooks);
    if (full) return too_many_records(name);

    if (tally.points == 0 && route_points == 0 && xml.root != "gpx") {
        if (xml.root.empty())
            return bad(fmt::format("{}: expected GPX, but found no XML element ({}). Export the ride again as GPX.", name,
                                   xml.complaint.empty() ? "the file ends too early" : xml.complaint));
        return bad(fmt::format("{}: expected a <gpx> or a TCX element first, found <{}>. Export the ride as GPX, TCX, FIT or ride CSV.", name, shown(xml.root)));
    }
    if (timed < 2) {
        if (tally.points > 1 && tally.timeless + tally.bad_times + 1 >= tally.points) {
            const std::string why = tally.bad_times ? fmt::format(" ({} could not be read, the first was \"{}\")",
                                                                  counted(tally.bad_times, "time", "times"), tally.first_bad)
                                                    : "";
            out.no_ride = fmt::format("{}: the track has {} but no times{}. It shows where, not when: it is a planned or drawn way, not a ride. "
                                      "Give a recording with a <time> in each point.",
                                      name, counted(tally.points, "point", "points"), why);
        } else if (tally.points == 0 && route_points + waypoints > 0) {
            out.no_ride = fmt::format("{}: holds {} and {} but no recorded track: it is a planned way, not a ride. Give a recording "
                                      "with a <time> in each <trkpt>.",
                                      name, counted(route_points, "route point", "route points"), counted(waypoints, "waypoint", "waypoints"));
        } else if (xml.breaks) {
            out.no_ride = fmt::format("{}: the file breaks off at byte {} ({}) with {}; two are needed. Copy it from the recorder again.",
                                      name, xml.first_break, xml.complaint, counted(timed, "timed record", "timed records"));
        } else {
            out.no_ride = fmt::format("{}: the GPX file holds {}; two <trkpt> with a <time> are needed.", name,
                                      counted(timed, "timed record", "timed records"));
        }
        if (points.size() < 2) {
            points = std::move(route);
            tally = std::move(route_tally);
        }
        if (points.size() < 2) return bad(out.no_ride);
    }
    share_out(std::move(points), out);
    note_xml_faults(xml, tally, bytes, out.faults);
    return out;
}

}  // namespace bw::ride::readers
