// SPDX-License-Identifier: Apache-2.0
// GPX 1.0 and 1.1 into records, with salvage of broken files.                                              Layer: ride
// Formats: docs/formats-rides.md. Names are compared without their namespace prefix: recorders choose prefixes freely.
#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <pugixml.hpp>

#include "base/text.hpp"
#include "readers.hpp"

namespace bw::ride::readers {
namespace {

// A break costs one more pass over the rest of the file; a file with more breaks than this is not worth more.
constexpr int most_breaks = 32;
constexpr int deepest_extension = 4;

std::string_view local_name(const pugi::xml_node& node) {
    const std::string_view name = node.name();
    const auto colon = name.rfind(':');
    return colon == std::string_view::npos ? name : name.substr(colon + 1);
}

bool same_word(std::string_view a, std::string_view lower_case) {
    return std::equal(a.begin(), a.end(), lower_case.begin(), lower_case.end(), [](char x, char y) {
        return (x >= 'A' && x <= 'Z' ? static_cast<char>(x - 'A' + 'a') : x) == y;
    });
}

struct Tally {
    std::size_t points = 0, timeless = 0, bad_times = 0, bad_values = 0, route_points = 0, waypoints = 0;
    std::string first_bad;
};

void take(double& into, std::string_view text, Tally& tally) {
    if (trim(text).empty()) return;
    if (const auto v = lenient_number(text)) {
        into = *v;
    } else if (tally.bad_values++ == 0) {
        tally.first_bad = shown(text);
    }
}

void take_extensions(const pugi::xml_node& parent, Record& r, double& other_temperature, Tally& tally, int depth) {
    for (const auto& node : parent.children()) {
        if (node.type() != pugi::node_element) continue;
        const auto name = local_name(node);
        if (same_word(name, "power") || same_word(name, "powerinwatts") || same_word(name, "watts"))
            take(r.value[power], node.child_value(), tally);
        else if (same_word(name, "atemp"))
            take(r.value[temperature], node.child_value(), tally);
        else if (same_word(name, "temp"))
            take(other_temperature, node.child_value(), tally);
        else if (same_word(name, "speed"))
            take(r.value[speed], node.child_value(), tally);
        else if (same_word(name, "distance"))
            take(r.value[distance], node.child_value(), tally);
        else if (depth < deepest_extension)
            take_extensions(node, r, other_temperature, tally, depth + 1);
    }
}

//! One trkpt; false if it has no usable time.
bool take_point(const pugi::xml_node& point, Record& r, Tally& tally) {
    ++tally.points;
    bool timed = false;
    double other_temperature = unknown;
    take(r.value[latitude], point.attribute("lat").value(), tally);
    take(r.value[longitude], point.attribute("lon").value(), tally);
    for (const auto& node : point.children()) {
        if (node.type() != pugi::node_element) continue;
        const auto name = local_name(node);
        if (name == "ele") {
            take(r.value[altitude], node.child_value(), tally);
        } else if (name == "time") {
            const std::string_view text = node.child_value();
            if (const auto t = lenient_time(text)) {
                r.time_s = *t;
                timed = true;
            } else if (!trim(text).empty()) {
                if (tally.bad_times++ == 0 && tally.first_bad.empty()) tally.first_bad = shown(text);
                return false;
            }
        } else if (name == "speed") {
            take(r.value[speed], node.child_value(), tally);
        } else if (name == "extensions") {
            take_extensions(node, r, other_temperature, tally, 0);
        }
    }
    if (std::isnan(r.value[temperature])) r.value[temperature] = other_temperature;
    if (!timed) ++tally.timeless;
    return timed;
}

//! All track points of a document in order. Walks without recursion: nesting is up to the file.
//! Returns the last trkpt, whole or not, and whether it gave a record.
struct Last {
    pugi::xml_node node;
    bool recorded = false;
};
Last take_points(const pugi::xml_document& doc, std::vector<Record>& records, bool& segment_pending, Tally& tally) {
    Last last;
    pugi::xml_node node = doc.first_child();
    while (node) {
        bool descend = false;
        if (node.type() == pugi::node_element) {
            const auto name = local_name(node);
            if (name == "trkpt") {
                Record r;
                last = {node, take_point(node, r, tally)};
                if (last.recorded) {
                    r.new_segment = segment_pending;
                    segment_pending = false;
                    records.push_back(r);
                }
            } else if (name == "rtept") {
                ++tally.route_points;
            } else if (name == "wpt") {
                ++tally.waypoints;
            } else {
                if (name == "trkseg" || name == "trk") segment_pending = true;
                descend = name != "extensions" && name != "metadata";
            }
        }
        if (descend && node.first_child()) {
            node = node.first_child();
        } else {
            while (node && !node.next_sibling()) node = node.parent();
            if (node) node = node.next_sibling();
        }
    }
    return last;
}

//! Prefix of the trkpt tags with its colon ("" for none).
std::string prefix_of_points(std::string_view bytes) {
    const auto at = bytes.find("trkpt");
    if (at == std::string_view::npos || at == 0 || bytes[at - 1] != ':') return "";
    auto start = at - 1;
    while (start > 0 && bytes[start - 1] != '<' && at - start < 64) --start;
    const auto prefix = bytes.substr(start, at - start);
    if (start == 0 || bytes[start - 1] != '<') return "";
    const bool word = std::all_of(prefix.begin(), prefix.end() - 1, [](char c) {
        return (c >= 'a' && c <= 'z') || (c >= 'A' && c <= 'Z') || (c >= '0' && c <= '9') || c == '_' || c == '-';
    });
    return word ? std::string(prefix) : "";
}

bool is_wide(std::string_view b) {
    return b.size() >= 2 && ((b[0] == '\xff' && b[1] == '\xfe') || (b[0] == '\xfe' && b[1] == '\xff') || b[0] == '\0' ||
                             (b[0] == '<' && b[1] == '\0'));
}

Error bad(std::string text) { return {Errc::bad_input, std::move(text)}; }

}  // namespace

Result<Recording> read_gpx(std::string_view bytes, const std::string& name) {
    Recording out;
    out.zero_unix_s = 0;
    Tally tally;
    const bool wide = is_wide(bytes);
    // Tags and numbers are ASCII in every byte-wise encoding, and other text is not read: no conversion, so that places
    // of errors are places in the file.
    const auto encoding = wide ? pugi::encoding_auto : pugi::encoding_utf8;
    const std::string prefix = prefix_of_points(bytes);
    const std::string open = fmt::format("<{}trkpt", prefix), close = fmt::format("</{}trkpt", prefix);
    const std::string head = fmt::format("<{0}gpx><{0}trk><{0}trkseg>", prefix);

    std::size_t zeros = 0, from = 0, breaks = 0, first_break = 0, before_break = 0;
    bool segment_pending = false, given_up = false;
    std::string root, complaint;
    for (;;) {
        std::string buffer = breaks ? head : std::string();
        const std::size_t added = buffer.size();
        buffer += bytes.substr(from);
        if (!wide) {
            // Zero bytes would end the parse; recorders leave them after a loss of power.
            const auto n = static_cast<std::size_t>(std::count(buffer.begin(), buffer.end(), '\0'));
            if (!breaks) zeros = n;
            if (n) std::replace(buffer.begin(), buffer.end(), '\0', ' ');
        }
        pugi::xml_document doc;
        const auto parsed =
            doc.load_buffer_inplace(buffer.data(), buffer.size(), pugi::parse_minimal | pugi::parse_escapes | pugi::parse_cdata, encoding);
        if (!breaks) {
            for (const auto& n : doc.children())
                if (n.type() == pugi::node_element) {
                    root = std::string(local_name(n));
                    break;
                }
        }
        // The head's own segment is the one that the break interrupted, not a new one.
        const bool pending_before = segment_pending;
        const std::size_t old = out.records.size();
        const auto last = take_points(doc, out.records, segment_pending, tally);
        if (breaks && out.records.size() > old) out.records[old].new_segment = pending_before;
        else if (breaks) segment_pending = pending_before;
        if (parsed || parsed.status == pugi::status_no_document_element) {
            if (!parsed && !breaks) complaint = parsed.description();
            break;
        }

        if (!breaks) complaint = parsed.description();
        const auto offset = std::max<std::ptrdiff_t>(parsed.offset, 0);
        std::size_t break_at = from + (static_cast<std::size_t>(offset) > added ? static_cast<std::size_t>(offset) - added : 0);
        break_at = std::min(break_at, bytes.size());
        // A point that the break cut in two may hold cut numbers: it counts only if its end tag came before the break.
        if (last.node) {
            bool whole = false;
            const auto at = last.node.offset_debug();
            if (!wide && at >= static_cast<std::ptrdiff_t>(added)) {
                const std::size_t start = from + static_cast<std::size_t>(at) - added;
                const auto end = bytes.find(close, start);
                whole = end != std::string_view::npos && end < break_at;
            }
            if (!whole) {
                --tally.points;
                if (last.recorded) {
                    segment_pending = segment_pending || out.records.back().new_segment;
                    out.records.pop_back();
                }
            }
        }
        if (!breaks++) {
            first_break = break_at;
            before_break = out.records.size();
        }
        const auto next = wide ? std::string_view::npos : bytes.find(open, std::max(break_at, from + 1));
        if (next == std::string_view::npos) break;
        if (breaks > most_breaks) {
            given_up = true;
            break;
        }
        from = next;
    }

    if (tally.points == 0 && root != "gpx") {
        if (same_word(root, "trainingcenterdatabase"))
            return bad(fmt::format("{}: this is a TCX recording; this version reads GPX and ride CSV. Export the ride as GPX.", name));
        if (root.empty())
            return bad(fmt::format("{}: expected GPX, but found no XML element ({}). Export the ride again as GPX.", name,
                                   complaint.empty() ? "the file ends too early" : complaint));
        return bad(fmt::format("{}: expected a <gpx> element first, found <{}>. Export the ride as GPX or as ride CSV.", name, shown(root)));
    }
    if (out.records.size() < 2) {
        if (tally.points > 1 && tally.timeless + tally.bad_times + 1 >= tally.points) {
            std::string why = tally.bad_times ? fmt::format(" ({} could not be read, the first was \"{}\")",
                                                            counted(tally.bad_times, "time", "times"), tally.first_bad)
                                              : "";
            return bad(fmt::format("{}: the track has {} but no times{}. It shows where, not when: a planned or drawn way is "
                                   "not read yet. Give a recording with a <time> in each point.",
                                   name, counted(tally.points, "point", "points"), why));
        }
        if (tally.points == 0 && tally.route_points + tally.waypoints > 0)
            return bad(fmt::format("{}: holds {} and {} but no recorded track. Planned rides are not read yet. Give a recording "
                                   "with a <time> in each <trkpt>.",
                                   name, counted(tally.route_points, "route point", "route points"),
                                   counted(tally.waypoints, "waypoint", "waypoints")));
        if (breaks)
            return bad(fmt::format("{}: the file breaks off at byte {} ({}) with {}; two are needed. Copy it from the recorder again.",
                                   name, first_break, complaint, counted(out.records.size(), "timed record", "timed records")));
        return bad(fmt::format("{}: the GPX file holds {}; two <trkpt> with a <time> are needed.", name,
                               counted(out.records.size(), "timed record", "timed records")));
    }

    if (breaks) {
        const std::size_t after = out.records.size() - before_break;
        const auto line = 1 + std::count(bytes.begin(), bytes.begin() + static_cast<std::ptrdiff_t>(first_break), '\n');
        std::string text = fmt::format("The file is broken or cut off at byte {} (line {}): {} before it {} kept", first_break, line,
                                       counted(before_break, "record", "records"), before_break == 1 ? "was" : "were");
        if (after) text += fmt::format(", and {} after it", after);
        if (breaks > 1) text += fmt::format("; {} places in all are broken, a record at each may be lost", breaks);
        if (given_up) text += fmt::format("; what comes after the {}rd break was not read", most_breaks + 1);
        out.faults.push_back({FaultKind::truncated, static_cast<int>(breaks), 0, text + ". Copy the file from the recorder again if you can."});
    }
    if (zeros)
        out.faults.push_back({FaultKind::other, static_cast<int>(std::min<std::size_t>(zeros, 1000000000)), 0,
                              fmt::format("The file holds {} (a recorder that lost power leaves them); they were read as blanks.",
                                          counted(zeros, "zero byte", "zero bytes"))});
    if (const auto lost = tally.timeless + tally.bad_times; lost)
        out.faults.push_back({FaultKind::no_time, static_cast<int>(lost), 0,
                              fmt::format("{} without a readable time {} left out.", counted(lost, "record", "records"), lost == 1 ? "was" : "were")});
    if (tally.bad_values)
        out.faults.push_back({FaultKind::other, static_cast<int>(tally.bad_values), 0,
                              fmt::format("{} could not be read as a number (the first: \"{}\") and {} taken as not known.",
                                          counted(tally.bad_values, "value", "values"), tally.first_bad, tally.bad_values == 1 ? "is" : "are")});
    return out;
}

}  // namespace bw::ride::readers
