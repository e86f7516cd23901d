// SPDX-License-Identifier: Apache-2.0
// FIT messages into records of a ride.                                                                       Layer: ride
// Which fields are read: docs/formats-rides.md.
#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <map>
#include <tuple>

#include "fit_decode.hpp"
#include "readers.hpp"
#include "recording_xml.hpp"

namespace bw::ride::readers {
namespace {

// Message numbers of the open profile.
constexpr std::uint16_t file_id = 0, record = 20, event = 21, field_description = 206;
constexpr std::uint16_t power_field = 7;
// The kind of file that is a planned course.
constexpr double course_file = 6;
// Two weeks of riding at a record and a half a second; more is refused so that a file of tiny records cannot ask for much memory.

//! A field of the record message, and value = raw / scale - offset.
struct Source {
    std::uint8_t field;
    Channel channel;
    double scale, offset;
};
constexpr double semicircles = 2147483648.0 / 180;   // per degree
// Where two fields feed one channel the one further up counts: the finer one.
constexpr Source sources[] = {{0, latitude, semicircles, 0}, {1, longitude, semicircles, 0}, {78, altitude, 5, 500}, {2, altitude, 5, 500},
                              {5, distance, 100, 0},         {73, speed, 1000, 0},           {6, speed, 1000, 0},    {7, power, 1, 0},
                              {13, temperature, 1, 0},       {4, cadence, 1, 0}};

//! Speed and distance in 12 bits each, 0.01 m/s and 1/16 m; the distance starts again every 256 m.
struct Compressed {
    double total_m = 0;
    int last_raw = -1;
    bool take(const fit::Field& f, Record& r) {
        if (f.bytes.size() < 3) return false;
        const auto at = [&](std::size_t i) { return static_cast<int>(static_cast<std::uint8_t>(f.bytes[i])); };
        if (at(0) == 0xFF && at(1) == 0xFF && at(2) == 0xFF) return false;
        const int raw_speed = at(0) | (at(1) & 15) << 8, raw = at(1) >> 4 | at(2) << 4;
        if (raw_speed != 0xFFF && std::isnan(r.value[speed])) r.value[speed] = raw_speed / 100.0;
        if (raw == 0xFFF) return true;   // not known; also a true reading once in 256 m
        total_m += (last_raw < 0 ? raw : (raw - last_raw) & 0xFFF) / 16.0;
        last_raw = raw;
        if (std::isnan(r.value[distance])) r.value[distance] = total_m;
        return true;
    }
};

//! How a developer field that holds the rider's power is to be read.
struct Description {
    fit::Base base = fit::Base::byte;
    double scale = 1, offset = 0;
    bool native = false;   //!< it says that it stands for the native field, not only by its name
};
using DeveloperKey = std::pair<std::uint8_t, std::uint8_t>;   // developer data index, field number

//! The description of a developer field, if that field is power.
std::optional<std::pair<DeveloperKey, Description>> power_description(const fit::Message& m) {
    const auto value = [&](std::uint8_t field) {
        const auto* f = m.field(field);
        return f ? fit::number(*f) : std::nullopt;
    };
    const auto text = [&](std::uint8_t field) {
        const auto* f = m.field(field);
        return f ? fit::text_of(*f) : std::string_view();
    };
    const auto developer = value(0), number = value(1), base = value(2);
    for (const auto& v : {developer, number, base})
        if (!v || !(*v >= 0 && *v <= 255)) return {};   // a file may give the field another type than the protocol
    Description d;
    d.base = static_cast<fit::Base>(static_cast<std::uint8_t>(*base));
    if (fit::width_of(d.base) == 0) return {};
    d.scale = value(6).value_or(1);
    if (d.scale == 0) d.scale = 1;
    d.offset = value(7).value_or(0);
    d.native = value(14).value_or(0) == record && value(15).value_or(-1) == power_field;
    const auto units = text(8);
    if (!d.native && !(same_word(text(3), "power") && (same_word(units, "watts") || same_word(units, "watt") || same_word(units, "w")))) return {};
    return std::pair{DeveloperKey{static_cast<std::uint8_t>(*developer), static_cast<std::uint8_t>(*number)}, d};
}

//! Start of the timer after a stop.
struct Restart {
    double stop_s, start_s;
};

//! A new segment where the recorder's timer stood: at the first record from its start on.
void mark_restarts(std::vector<Record>& points, std::size_t from, std::vector<std::tuple<double, bool>>& timer) {
    std::stable_sort(timer.begin(), timer.end(), [](const auto& a, const auto& b) { return std::get<0>(a) < std::get<0>(b); });
    std::vector<Restart> restarts;
    double stopped = unknown;
    for (const auto& [time_s, starts] : timer) {
        if (!starts) {
            if (std::isnan(stopped)) stopped = time_s;
        } else if (!std::isnan(stopped)) {
            if (time_s > stopped) restarts.push_back({stopped, time_s});
            stopped = unknown;
        }
    }
    std::size_t next = 0;
    double last_s = unknown;
    for (std::size_t i = from; i < points.size(); ++i) {
        const double t = points[i].time_s;
        if (std::isnan(t)) continue;
        while (next < restarts.size() && t >= restarts[next].start_s) {
            // Not if the clock was already past it, e.g. in a file whose records are out of turn.
            if (std::isnan(last_s) || last_s < restarts[next].start_s) points[i].new_segment = true;
            ++next;
        }
        last_s = t;
    }
}

std::string place(const fit::Finding& f) { return f.section ? fmt::format("part {} of the file", f.section + 1) : std::string("the file"); }

void note_findings(const fit::Decoded& decoded, std::size_t records, std::vector<Fault>& faults) {
    const auto note = [&](FaultKind kind, std::size_t n, std::string text) { faults.push_back({kind, static_cast<int>(std::min<std::size_t>(n, 1000000000)), 0, std::move(text)}); };
    std::size_t sums = 0, first_sum = 0, heads = 0;
    const fit::Finding* lost = nullptr;
    std::size_t lost_bytes = 0;
    for (const auto& f : decoded.findings) {
        switch (f.kind) {
            case fit::FindingKind::header_checksum: ++heads; break;
            case fit::FindingKind::file_checksum:
                if (!sums++) first_sum = f.section;
                break;
            case fit::FindingKind::no_checksum:
                note(FaultKind::truncated, 1, fmt::format("The file ends at byte {} without its whole checksum; all records before it were kept.", f.at + f.bytes));
                break;
            case fit::FindingKind::cut:
                note(FaultKind::truncated, 1, fmt::format("{} is cut off at byte {}: {}. What came before was kept. Copy the file from the recorder again if you can.",
                                                          f.section ? "Part " + std::to_string(f.section + 1) + " of the file" : "The file", f.at,
                                                          f.bytes ? "the last message is not whole and was left out" : "it is shorter than it says itself"));
                break;
            case fit::FindingKind::wrong_size:
                note(FaultKind::truncated, 1, fmt::format("The size that {} states of itself is wrong; it was read as far as messages follow each other.", place(f)));
                break;
            case fit::FindingKind::lost:
                if (!lost) lost = &f;
                lost_bytes += f.bytes;
                break;
            case fit::FindingKind::not_fit:
                note(FaultKind::truncated, 1, fmt::format("{} from byte {} on {} no FIT part and {} passed over; a further part of the recording may be lost there.",
                                                          counted(f.bytes, "byte", "bytes"), f.at, f.bytes == 1 ? "is" : "are", f.bytes == 1 ? "was" : "were"));
                break;
        }
    }
    if (lost)
        note(FaultKind::truncated, decoded.lost_places,
             fmt::format("The file is damaged {}, the first at byte {} ({}): {} could not be read, and records at each place may be "
                         "lost. {} {} kept: what came before, and what follows where messages follow each other again.",
                         counted(decoded.lost_places, "time", "times"), lost->at, lost->why, counted(lost_bytes, "byte", "bytes"),
                         counted(records, "record", "records"), records == 1 ? "was" : "were"));
    if (heads) note(FaultKind::bad_checksum, heads, "The checksum of the file's header is wrong; the file was read all the same.");
    if (sums)
        note(FaultKind::bad_checksum, sums,
             fmt::format("The checksum of {} is wrong: some of its bytes are not as they were written. It was read all the same; look whether the ride is as you know it.",
                         decoded.sections > 1 ? (sums == 1 ? fmt::format("part {} of the file's {}", first_sum + 1, decoded.sections) : fmt::format("{} of the file's {} parts", sums, decoded.sections))
                                              : std::string("the file")));
}

}  // namespace

Result<Reading> read_fit(std::string_view bytes, const std::string& name) {
    Reading out;
    std::vector<Record> points;
    std::vector<double> developer_power;   // beside points; empty until there is one
    std::map<DeveloperKey, Description> descriptions;
    std::vector<std::tuple<double, bool>> timer;   // of this section: time, starts
    Compressed compressed;
    std::size_t section = 0, section_from = 0, timeless = 0, record_messages = 0;
    bool native_power = false, is_course = false, full = false;
    std::size_t dated = 0, undated = 0;
    std::optional<double> kind;

    const auto end_section = [&] {
        mark_restarts(points, section_from, timer);
        if (section_from > 0 && section_from < points.size()) points[section_from].new_segment = true;
        section_from = points.size();
        timer.clear();
        descriptions.clear();
        compressed = {};
    };
    const auto take_record = [&](const fit::Message& m) {
        ++record_messages;
        Record r;
        if (m.time_s) r.time_s = *m.time_s;
        double developer_W = unknown;
        if (!m.doubtful) {
            for (const auto& s : sources) {
                if (!std::isnan(r.value[s.channel])) continue;
                if (const auto* f = m.field(s.field))
                    if (const auto v = fit::number(*f)) r.value[s.channel] = *v / s.scale - s.offset;
            }
            if (const auto* f = m.field(8)) compressed.take(*f, r);
            bool by_native = false;
            for (fit::Field f : m.developer_fields) {
                const auto d = descriptions.find({f.developer, f.number});
                if (d == descriptions.end() || (by_native && !d->second.native)) continue;
                f.base = d->second.base;
                if (const auto v = fit::number(f)) {
                    developer_W = *v / d->second.scale - d->second.offset;
                    by_native = d->second.native;
                }
            }
        }
        const bool empty = std::isnan(developer_W) && std::all_of(r.value.begin(), r.value.end(), [](double v) { return std::isnan(v); });
        if (std::isnan(r.time_s) && (empty || std::isnan(r.value[latitude]) || std::isnan(r.value[longitude]))) {
            ++timeless;
            return;
        }
        if (empty && !m.doubtful && !m.field(253)) return;   // a compressed header alone says nothing
        if (points.size() >= most_records) {
            full = true;
            return;
        }
        if (!std::isnan(r.time_s)) ++(*m.time_s >= fit::least_dated_s ? dated : undated);
        native_power = native_power || !std::isnan(r.value[power]);
        points.push_back(r);
        if (!std::isnan(developer_W)) developer_power.resize(points.size() - 1, unknown), developer_power.push_back(developer_W);
    };

    const auto decoded = fit::decode(bytes, [&](const fit::Message& m) {
        if (m.section != section) {
            end_section();
            section = m.section;
        }
        const auto value = [&](std::uint8_t field) {
            const auto* f = m.field(field);
            return f ? fit::number(*f) : std::nullopt;
        };
        if (m.global == record) {
            take_record(m);
        } else if (m.doubtful) {
            return;
        } else if (m.global == event && m.time_s && value(0) == 0.0) {   // the timer
            const auto type = value(1);
            if (type == 0.0) timer.push_back({*m.time_s, true});
            else if (type == 1.0 || type == 4.0 || type == 8.0 || type == 9.0) timer.push_back({*m.time_s, false});
        } else if (m.global == field_description) {
            if (const auto d = power_description(m)) descriptions.insert_or_assign(d->first, d->second);
        } else if (m.global == file_id) {
            if (!kind) kind = value(0);
            is_course = is_course || value(0) == course_file;
        }
    });
    end_section();
    if (!native_power)
        for (std::size_t i = 0; i < developer_power.size(); ++i) points[i].value[power] = developer_power[i];

    if (dated >= undated) out.zero_unix_s = fit::epoch_unix_s;
    const std::size_t timed = dated + undated, untimed = points.size() - timed;
    if (timed < 2) {
        std::string cause;
        if (!decoded.findings.empty()) {
            std::vector<Fault> why;
            note_findings(decoded, points.size(), why);
            for (const auto& f : why) cause += " " + f.text;
        }
        if (untimed > 1)
            out.no_ride = fmt::format("{}: {} with a place but no time: it is a planned way, not a ride.{}", name, counted(untimed, "record", "records"), cause);
        else if (decoded.sections == 0)
            out.no_ride = fmt::format("{}: no FIT header was found. Copy the file from the recorder again.", name);
        else
            out.no_ride = fmt::format("{}: the FIT file holds {}; two are needed.{}{}", name, counted(timed, "timed record", "timed records"),
                                      kind && *kind != 4 && *kind != course_file ? fmt::format(" It is not the recording of a ride (kind of file {:.0f}; 4 is a ride).", *kind) : "", cause);
        if (points.size() < 2) return Error{Errc::bad_input, out.no_ride};
    } else if (is_course) {
        out.faults.push_back({FaultKind::other, 1, 0, "The file calls itself a course: its times may be those of a plan or of another rider, not of this ride."});
    }
    share_out(std::move(points), out);
    if (full)
        return too_many_records(name);
    note_findings(decoded, out.records.size(), out.faults);
    if (const std::size_t lost = timeless + (timed < 2 ? 0 : untimed); lost)
        out.faults.push_back({FaultKind::no_time, static_cast<int>(lost), 0,
                              fmt::format("{} without a time {} left out.", counted(lost, "record", "records"), lost == 1 ? "was" : "were")});
    return out;
}

}  // namespace bw::ride::readers
