// SPDX-License-Identifier: Apache-2.0
// TCX into records: activities with laps and tracks, and courses.                                            Layer: ride
// Formats: docs/formats-rides.md.
#include <fmt/format.h>

#include <cmath>

#include "base/text.hpp"
#include "recording_xml.hpp"

namespace bw::ride::readers {
namespace {

constexpr int deepest_extension = 4;

void take_extensions(const pugi::xml_node& parent, Record& r, Tally& tally, int depth) {
    for (const auto& node : parent.children()) {
        if (node.type() != pugi::node_element) continue;
        const auto name = local_name(node);
        if (same_word(name, "speed")) take_number(r.value[speed], node.child_value(), tally);
        else if (same_word(name, "watts")) take_number(r.value[power], node.child_value(), tally);
        else if (same_word(name, "temperature") || same_word(name, "temp")) take_number(r.value[temperature], node.child_value(), tally);
        else if (depth < deepest_extension) take_extensions(node, r, tally, depth + 1);
    }
}

//! One Trackpoint. Its time stays unknown if it has none that can be read.
Record track_point(const pugi::xml_node& point, Tally& tally) {
    Record r;
    ++tally.points;
    bool readable = true;
    for (const auto& node : point.children()) {
        if (node.type() != pugi::node_element) continue;
        const auto name = local_name(node);
        if (name == "Time") readable = take_time(r.time_s, node.child_value(), tally) && readable;
        else if (name == "AltitudeMeters") take_number(r.value[altitude], node.child_value(), tally);
        else if (name == "Cadence") take_number(r.value[cadence], node.child_value(), tally);
        else if (name == "DistanceMeters") take_number(r.value[distance], node.child_value(), tally);
        else if (name == "Extensions") take_extensions(node, r, tally, 0);
        else if (name == "Position")
            for (const auto& part : node.children()) {
                if (local_name(part) == "LatitudeDegrees") take_number(r.value[latitude], part.child_value(), tally);
                if (local_name(part) == "LongitudeDegrees") take_number(r.value[longitude], part.child_value(), tally);
            }
    }
    if (!readable) r.time_s = unknown;
    else if (std::isnan(r.time_s)) ++tally.timeless;
    return r;
}

Error bad(std::string text) { return {Errc::bad_input, std::move(text)}; }

}  // namespace

Result<Reading> read_tcx(std::string_view bytes, const std::string& name) {
    Reading out;
    out.zero_unix_s = 0;
    Tally tally, before_last;
    std::vector<Record> points;
    std::size_t timed = 0, laps = 0, tracks_in_lap = 0, courses = 0, activities = 0;
    bool segment_pending = false, pending_before_last = false;

    static const PointTag tags[] = {{"Trackpoint", {"TrainingCenterDatabase", "Activities", "Activity", "Lap", "Track"}}};
    XmlHooks hooks;
    bool full = false;
    hooks.element = [&](const pugi::xml_node& node, std::string_view local) {
        full = full || points.size() >= most_records;
        if (full) return Visit::skip;
        if (local == "Trackpoint") {
            before_last = tally;
            pending_before_last = segment_pending;
            points.push_back(track_point(node, tally));
            points.back().new_segment = segment_pending;
            segment_pending = false;
            timed += !std::isnan(points.back().time_s);
            return Visit::point;
        }
        // A lap is a press of a button, not a pause: the recorder goes on. A second track in a lap is one.
        if (local == "Lap") ++laps, tracks_in_lap = 0;
        else if (local == "Track") segment_pending = tracks_in_lap++ > 0 || segment_pending;
        else if (local == "Activity") ++activities, segment_pending = true, tracks_in_lap = 0;
        else if (local == "Course") ++courses, segment_pending = true, tracks_in_lap = 0;
        return local == "Extensions" || local == "Author" || local == "Creator" ? Visit::skip : Visit::descend;
    };
    hooks.take_back = [&] {
        if (full) return;
        timed -= !std::isnan(points.back().time_s);
        points.pop_back();
        tally = before_last;
        segment_pending = pending_before_last;
    };
    hooks.count = [&] { return points.size(); };
    const auto xml = read_xml(bytes, tags, hooks);
    if (full) return too_many_records(name);

    if (tally.points == 0 && !same_word(xml.root, "trainingcenterdatabase"))
        return bad(fmt::format("{}: expected TCX, but found {}. Export the ride again.", name,
                               xml.root.empty() ? "no XML element" : fmt::format("<{}>", shown(xml.root))));
    if (timed < 2) {
        if (tally.points > 1 && tally.timeless + tally.bad_times + 1 >= tally.points)
            out.no_ride = fmt::format("{}: {} with {} but no times{}. It shows where, not when: it is a planned way, not a ride. Give a recording "
                                      "with a <Time> in each Trackpoint.",
                                      name, courses ? "a course" : "a track", counted(tally.points, "point", "points"),
                                      tally.bad_times ? fmt::format(" ({} could not be read, the first was \"{}\")",
                                                                    counted(tally.bad_times, "time", "times"), tally.first_bad)
                                                      : "");
        else if (xml.breaks)
            out.no_ride = fmt::format("{}: the file breaks off at byte {} ({}) with {}; two are needed. Copy it from the recorder again.", name,
                                      xml.first_break, xml.complaint, counted(timed, "timed record", "timed records"));
        else if (laps && !tally.points)
            out.no_ride = fmt::format("{}: the TCX file holds {} but no track: sums of the ride, not the ride. Two Trackpoint with a Time are needed; "
                                      "export the ride with its track.",
                                      name, counted(laps, "lap", "laps"));
        else
            out.no_ride = fmt::format("{}: the TCX file holds {}; two Trackpoint with a Time are needed.", name,
                                      counted(timed, "timed record", "timed records"));
        if (points.size() < 2) return bad(out.no_ride);
    } else if (courses && !activities) {
        out.faults.push_back({FaultKind::other, 1, 0,
                              "The file calls itself a course: its times may be those of a plan or of another rider, not of this ride."});
    }
    share_out(std::move(points), out);
    note_xml_faults(xml, tally, bytes, out.faults);
    return out;
}

}  // namespace bw::ride::readers
