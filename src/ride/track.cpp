// SPDX-License-Identifier: Apache-2.0
// From records of any format to a clean track: order, spikes, gaps, stretches in a vehicle; each with a sentence.  Layer: ride
// What is done with each fault, and the limits used: docs/formats-rides.md.
#include "ride/track.hpp"

#include <fmt/format.h>

#include <GeographicLib/Geodesic.hpp>
#include <algorithm>
#include <array>
#include <cmath>
#include <numeric>

#include "base/sampling.hpp"
#include "base/text.hpp"
#include "base/time.hpp"
#include "motion_parts.hpp"
#include "readers.hpp"
#include "ride/describe.hpp"

namespace bw::ride {

std::string_view word_of(FaultKind kind) {
    switch (kind) {
        case FaultKind::gap_moving: return "gap_moving";
        case FaultKind::pause: return "pause";
        case FaultKind::clock_jump: return "clock_jump";
        case FaultKind::duplicate_time: return "duplicate_time";
        case FaultKind::altitude_spike: return "altitude_spike";
        case FaultKind::speed_spike: return "speed_spike";
        case FaultKind::position_jump: return "position_jump";
        case FaultKind::no_altitude: return "no_altitude";
        case FaultKind::no_time: return "no_time";
        case FaultKind::no_position: return "no_position";
        case FaultKind::truncated: return "truncated";
        case FaultKind::bad_checksum: return "bad_checksum";
        case FaultKind::vehicle: return "vehicle";
        case FaultKind::other: return "other";
    }
    return "other";
}

namespace readers {

std::optional<double> lenient_number(std::string_view text) {
    text = trim(text);
    if (const auto v = parse_number(text)) return v;
    const auto comma = text.find(',');
    if (comma == std::string_view::npos || text.size() > 40 || text.find('.') != std::string_view::npos) return {};
    std::string pointed(text);
    pointed[comma] = '.';   // a second comma still fails
    return parse_number(pointed);
}

std::optional<double> lenient_time(std::string_view text) {
    text = trim(text);
    if (text.size() > 40) return {};
    auto t = parse_time(text);
    if (!t && text.size() > 10 && text[10] == ' ') {
        std::string joined(text);
        joined[10] = 'T';
        t = parse_time(joined);
    }
    if (t && !(std::abs(*t) <= 1e10)) t.reset();
    return t;
}

std::string shown(std::string_view text) {
    text = trim(text);
    std::string out;
    for (const char c : text.substr(0, 40)) out += (c >= ' ' && c < '\x7f') ? c : '?';
    return text.size() > 40 ? out + "..." : out;
}

std::string counted(std::size_t n, std::string_view one, std::string_view many) {
    return fmt::format("{} {}", n, n == 1 ? one : many);
}

std::string base_name(const std::string& name) {
    const auto slash = name.find_last_of("/\\");
    return slash == std::string::npos ? name : name.substr(slash + 1);
}

void share_out(std::vector<Record>&& points, Reading& into) {
    const auto timed = std::count_if(points.begin(), points.end(), [](const Record& r) { return !std::isnan(r.time_s); });
    if (timed < 2) {
        into.way = std::move(points);
        return;
    }
    // A segment that starts at a record without time starts at the next one with a time.
    bool pending = false;
    std::size_t n = 0;
    for (auto& r : points) {
        pending = pending || r.new_segment;
        if (std::isnan(r.time_s)) continue;
        r.new_segment = pending;
        pending = false;
        points[n++] = r;
    }
    points.resize(n);
    into.records = std::move(points);
}

}  // namespace readers

using namespace readers;

// ---- plain facts -------------------------------------------------------------------------------------------------------

double ground_distance_m(double lat1_deg, double lon1_deg, double lat2_deg, double lon2_deg) {
    constexpr double degree = 3.14159265358979323846 / 180;
    const double dlat = lat2_deg - lat1_deg;
    double dlon = lon2_deg - lon1_deg;
    if (!std::isfinite(dlat) || !std::isfinite(dlon)) return unknown;
    if (std::abs(dlon) > 180) dlon = std::remainder(dlon, 360.0);
    const double lat = 0.5 * (lat1_deg + lat2_deg);
    if (std::abs(dlat) < 0.05 && std::abs(dlon) < 0.05 && std::abs(lat) < 80) {
        constexpr double a = 6378137, f = 1 / 298.257223563, e2 = f * (2 - f);   // WGS 84
        const double s = std::sin(lat * degree), w2 = 1 - e2 * s * s, w = std::sqrt(w2);
        const double north = a * (1 - e2) / (w2 * w) * dlat * degree;
        const double east = a / w * std::cos(lat * degree) * dlon * degree;
        return std::hypot(north, east);
    }
    double d = unknown;
    GeographicLib::Geodesic::WGS84().Inverse(lat1_deg, lon1_deg, lat2_deg, lon2_deg, d);
    return d;
}

std::pair<double, double> gain_loss(std::span<const double> altitude_m, double dead_band_m) {
    double gain = 0, loss = 0, reference = unknown;
    for (const double z : altitude_m) {
        if (std::isnan(z)) continue;
        const double step = z - reference;
        if (std::isnan(reference)) {
            reference = z;
        } else if (std::abs(step) >= dead_band_m) {
            (step > 0 ? gain : loss) += std::abs(step);
            reference = z;
        }
    }
    return {gain, loss};
}

namespace {

constexpr double gap_s = 10, gap_moved_m = 30, still_mps = 1;
constexpr double vehicle_mps = 25, lift_climb_mps = 1.1, vehicle_window_s = 120, vehicle_margin_s = 300, lift_margin_s = 60, vehicle_least_s = 60;

double at(const std::vector<double>& channel, std::size_t i) { return channel.empty() ? unknown : channel[i]; }

bool has_position(const Track& t, std::size_t i) { return !std::isnan(at(t.latitude_deg, i)) && !std::isnan(at(t.longitude_deg, i)); }

double chord_m(const Track& t, std::size_t i, std::size_t j) {
    if (!has_position(t, i) || !has_position(t, j)) return unknown;
    return ground_distance_m(t.latitude_deg[i], t.longitude_deg[i], t.latitude_deg[j], t.longitude_deg[j]);
}

bool says_motion(const Track& t, std::size_t i) {
    return has_position(t, i) || !std::isnan(at(t.distance_m, i)) || !std::isnan(at(t.speed_mps, i));
}

double median_of(std::vector<double> v) {
    if (v.empty()) return unknown;
    const auto mid = v.begin() + static_cast<std::ptrdiff_t>(v.size() / 2);
    std::nth_element(v.begin(), mid, v.end());
    return *mid;
}

//! How far the bike or its bearer came from record i to record j [m]: by position, else recorded distance, else speed. NaN if nothing tells.
double moved_m(const Track& t, std::size_t i, std::size_t j) {
    double d = chord_m(t, i, j);
    if (std::isnan(d)) d = at(t.distance_m, j) - at(t.distance_m, i);
    if (std::isnan(d)) d = 0.5 * (at(t.speed_mps, i) + at(t.speed_mps, j)) * (t.t_s[j] - t.t_s[i]);
    return d;
}

struct Step {
    std::size_t from, to;   // records that say something of motion, next to each other
    double dt_s, path_m;    // path_m NaN = not known
};

std::vector<Step> steps_of(const Track& t) {
    std::vector<Step> steps;
    std::size_t last = t.size();
    for (std::size_t i = 0; i < t.size(); ++i) {
        if (!says_motion(t, i)) continue;
        if (last < t.size()) steps.push_back({last, i, t.t_s[i] - t.t_s[last], moved_m(t, last, i)});
        last = i;
    }
    return steps;
}

}  // namespace

double gap_threshold_s(const Track& track) {
    std::vector<double> dt;
    for (std::size_t i = 1; i < track.size(); ++i) dt.push_back(track.t_s[i] - track.t_s[i - 1]);
    const double usual = median_of(std::move(dt));
    return usual > gap_s / 2 ? 2 * usual : gap_s;
}

std::vector<Stretch> stretches_of(const Track& track) {
    const auto steps = steps_of(track);
    const double limit_s = gap_threshold_s(track);
    std::vector<Stretch> found;
    // Ends of the ride without motion records are no gaps: nothing says that the ride went on.
    std::vector<std::uint8_t> is_gap(steps.size(), 0);
    for (std::size_t k = 0; k < steps.size(); ++k) {
        const auto& s = steps[k];
        if (s.dt_s <= limit_s) continue;
        is_gap[k] = 1;
        const double chord = chord_m(track, s.from, s.to), counted_m = at(track.distance_m, s.to) - at(track.distance_m, s.from);
        bool moving = chord > gap_moved_m || counted_m > gap_moved_m;
        if (std::isnan(chord) && std::isnan(counted_m)) moving = at(track.speed_mps, s.from) > still_mps && at(track.speed_mps, s.to) > still_mps;
        const double climb = at(track.altitude_m, s.to) - at(track.altitude_m, s.from);
        const bool vehicle = std::max(chord > 0 ? chord : 0, counted_m > 0 ? counted_m : 0) > vehicle_mps * s.dt_s ||
                             (s.dt_s >= vehicle_least_s && climb > lift_climb_mps * s.dt_s);
        found.push_back({track.t_s[s.from], track.t_s[s.to], vehicle ? FaultKind::vehicle : moving ? FaultKind::gap_moving : FaultKind::pause});
    }

    // Path and height over windows of two minutes, gaps apart.
    const std::size_t m = steps.size();
    std::vector<double> path(m + 1, 0), rise(m + 1, 0), time(m + 1, 0);
    double last_z = unknown, last_z_s = 0;
    for (std::size_t k = 0; k < m; ++k) {
        const auto& s = steps[k];
        path[k + 1] = path[k] + (std::isnan(s.path_m) ? 0 : std::max(0.0, s.path_m));
        time[k + 1] = time[k] + s.dt_s;
        if (k == 0) last_z = at(track.altitude_m, s.from);
        const double z = at(track.altitude_m, s.to);
        // A step of altitude that no lift makes is a correction by the recorder, not a climb.
        const double dz = z - last_z;
        const double span_s = time[k + 1] - last_z_s;
        rise[k + 1] = rise[k] + (std::isnan(dz) || std::abs(dz) > 8 * span_s ? 0 : dz);
        if (!std::isnan(z)) last_z = z, last_z_s = time[k + 1];
    }
    enum class Seen : std::uint8_t { no, fast, climbing };
    const auto mark = [&](Seen seen) {
        std::vector<std::uint8_t> in(m, 0);
        for (std::size_t i = 0, j = 0; i < m; ++i) {
            if (j < i) j = i;
            while (j < m && time[j] - time[i] < vehicle_window_s) ++j;
            const double span = time[j] - time[i];
            if (span < vehicle_window_s) break;
            bool hit = false;
            if (seen == Seen::fast) {
                hit = path[j] - path[i] > vehicle_mps * span;
            } else {
                // Steady: each half climbs, so that one step of the barometer does not make a lift.
                const auto mid = static_cast<std::size_t>(std::lower_bound(time.begin() + static_cast<std::ptrdiff_t>(i), time.begin() + static_cast<std::ptrdiff_t>(j),
                                                                           0.5 * (time[i] + time[j])) - time.begin());
                const double whole = rise[j] - rise[i], half = rise[mid] - rise[i];
                hit = whole > lift_climb_mps * span && half > 0.35 * whole && half < 0.65 * whole;
            }
            if (hit) std::fill(in.begin() + static_cast<std::ptrdiff_t>(i), in.begin() + static_cast<std::ptrdiff_t>(j), std::uint8_t{1});
        }
        return in;
    };
    const auto fast = mark(Seen::fast), climbing = mark(Seen::climbing);
    const auto is_fast_step = [&](std::size_t k) { return steps[k].path_m > 0.5 * vehicle_mps * steps[k].dt_s; };
    const auto is_climb_step = [&](std::size_t k) { return rise[k + 1] - rise[k] > 0.3 * lift_climb_mps * steps[k].dt_s; };
    const auto is_still = [&](std::size_t k) { return is_gap[k] || steps[k].path_m < still_mps * steps[k].dt_s; };
    for (std::size_t k = 0; k < m;) {
        if (!fast[k] && !climbing[k]) {
            ++k;
            continue;
        }
        std::size_t first = k, last = k;
        while (last + 1 < m && (fast[last + 1] || climbing[last + 1])) ++last;
        k = last + 1;
        while (first < last && !is_fast_step(first) && !is_climb_step(first)) ++first;
        while (last > first && !is_fast_step(last) && !is_climb_step(last)) --last;
        if (time[last + 1] - time[first] < vehicle_least_s) continue;   // a leap of the position, not a stretch
        // Back and on to the standstill where the bike was put in and taken out.
        bool any_fast = false;
        for (std::size_t q = first; q <= last; ++q) any_fast = any_fast || fast[q];
        const double margin_s = any_fast ? vehicle_margin_s : lift_margin_s;
        std::size_t a = first, b = last;
        while (a > 0 && !is_still(a - 1) && time[first] - time[a] < margin_s) --a;
        while (b + 1 < m && !is_still(b + 1) && time[b + 1] - time[last + 1] < margin_s) ++b;
        if (a > 0 && is_still(a - 1)) first = a;
        if (b + 1 < m && is_still(b + 1)) last = b;
        found.push_back({track.t_s[steps[first].from], track.t_s[steps[last].to], FaultKind::vehicle});
    }

    // Vehicle stretches join where they touch and swallow the gaps inside them.
    std::stable_sort(found.begin(), found.end(), [](const Stretch& x, const Stretch& y) { return x.from_s < y.from_s; });
    std::vector<Stretch> vehicles, out;
    for (const auto& s : found) {
        if (s.kind != FaultKind::vehicle) continue;
        if (!vehicles.empty() && s.from_s <= vehicles.back().to_s) vehicles.back().to_s = std::max(vehicles.back().to_s, s.to_s);
        else vehicles.push_back(s);
    }
    for (const auto& s : found) {
        if (s.kind == FaultKind::vehicle) continue;
        const bool swallowed = std::any_of(vehicles.begin(), vehicles.end(), [&](const Stretch& v) { return v.from_s < s.to_s && s.from_s < v.to_s; });
        if (!swallowed) out.push_back(s);
    }
    out.insert(out.end(), vehicles.begin(), vehicles.end());
    std::stable_sort(out.begin(), out.end(), [](const Stretch& x, const Stretch& y) { return x.from_s < y.from_s; });
    return out;
}

// ---- order of time -----------------------------------------------------------------------------------------------------

namespace {

constexpr double day_s = 86400;
constexpr double longest_ride_s = 4 * day_s;   // each second of it is reckoned: memory
constexpr std::size_t few = 5;             // a run of so few records with a stray time is not worth a mended clock
constexpr double same_place_m = 50, joined_place_m = 200;

double between_m(const Record& a, const Record& b) {
    return ground_distance_m(a.value[latitude], a.value[longitude], b.value[latitude], b.value[longitude]);
}

//! Longest subsequence of times that never steps back: 1 = in it.
std::vector<std::uint8_t> longest_rising(const std::vector<Record>& r) {
    std::vector<std::size_t> tails, before(r.size());
    for (std::size_t i = 0; i < r.size(); ++i) {
        const auto it = std::upper_bound(tails.begin(), tails.end(), i, [&](std::size_t x, std::size_t y) { return r[x].time_s < r[y].time_s; });
        before[i] = it == tails.begin() ? r.size() : *(it - 1);
        if (it == tails.end()) tails.push_back(i);
        else *it = i;
    }
    std::vector<std::uint8_t> in(r.size(), 0);
    for (std::size_t i = tails.empty() ? r.size() : tails.back(); i < r.size(); i = before[i]) in[i] = 1;
    return in;
}

double usual_step_s(const std::vector<Record>& r) {
    std::vector<double> dt;
    for (std::size_t i = 1; i < r.size(); ++i) {
        const double d = r[i].time_s - r[i - 1].time_s;
        if (d > 0 && d <= 60) dt.push_back(d);
    }
    const double m = median_of(std::move(dt));
    return std::isnan(m) ? 1 : m;
}

void sort_by_time(std::vector<Record>& r) {
    std::stable_sort(r.begin(), r.end(), [](const Record& a, const Record& b) { return a.time_s < b.time_s; });
}

struct ClockNotes {
    int count = 0;
    std::string text;
    void add(std::string sentence) {
        ++count;
        if (!text.empty()) text += ' ';
        text += sentence;
    }
};

std::string span_text(double s) {
    s = std::abs(s);
    if (s >= 2 * day_s) return fmt::format("{:.0f} days", s / day_s);
    if (s >= 7200) return fmt::format("{:.1f} hours", s / 3600);
    if (s >= 120) return fmt::format("{:.0f} minutes", s / 60);
    return fmt::format("{:.3g} s", s);
}

//! Where the kept track was at time t, or NaN in a gap of more than gap_s.
struct Reached {
    double lat = unknown, lon = unknown, dist = unknown;
    bool covered = false;
    double nearest_s = 1e300;
};
Reached reached(const std::vector<Record>& kept, double t) {
    Reached out;
    const auto it = std::lower_bound(kept.begin(), kept.end(), t, [](const Record& r, double x) { return r.time_s < x; });
    if (it != kept.end()) out.nearest_s = it->time_s - t;
    if (it != kept.begin()) out.nearest_s = std::min(out.nearest_s, t - (it - 1)->time_s);
    if (it == kept.end() || (it == kept.begin() && it->time_s > t)) return out;
    const auto& b = *it;
    const auto& a = it == kept.begin() ? b : *(it - 1);
    const double dt = b.time_s - a.time_s;
    if (dt > gap_s) return out;
    out.covered = true;
    const double w = dt > 0 ? (t - a.time_s) / dt : 1;
    out.lat = a.value[latitude] + w * (b.value[latitude] - a.value[latitude]);
    out.lon = a.value[longitude] + w * (b.value[longitude] - a.value[longitude]);
    out.dist = a.value[distance] + w * (b.value[distance] - a.value[distance]);
    return out;
}

//! Puts records in the order of time and mends what the clock did. Records that cannot be placed are left out.
void order(std::vector<Record>& r, std::vector<Fault>& faults) {
    for (auto& x : r) x.time_s = std::round(x.time_s * 1e6) / 1e6;   // binary noise of subtracted dates is no difference
    const auto in_order = [&] {
        for (std::size_t i = 1; i < r.size(); ++i)
            if (const double d = r[i].time_s - r[i - 1].time_s; d < 0 || d > day_s) return false;
        return true;
    };
    if (r.size() < 2 || in_order()) return;
    ClockNotes notes;
    std::size_t doubled = 0;

    std::size_t back = 0;
    for (std::size_t i = 1; i < r.size(); ++i) back += r[i].time_s < r[i - 1].time_s;
    if (2 * back > r.size()) {
        // The start of a segment is what lies before a record; read backwards it lies before the record that preceded it.
        for (std::size_t i = 0; i + 1 < r.size(); ++i) r[i].new_segment = r[i + 1].new_segment;
        r.back().new_segment = false;
        std::reverse(r.begin(), r.end());
        notes.add("The records were stored newest first and were put in the order of time.");
    }

    // A few records with stray times between good ones: out of turn by seconds they are put in their place, otherwise left out.
    std::vector<Record> swapped;
    {
        const auto in = longest_rising(r);
        std::vector<Record> good;
        std::size_t lost = 0;
        bool pending = false;
        for (std::size_t i = 0; i < r.size();) {
            std::size_t j = i;
            while (j < r.size() && !in[j]) ++j;
            const bool short_run = j > i && j - i <= few;
            for (; i < j; ++i) {
                const bool near_before = !good.empty() && std::abs(r[i].time_s - good.back().time_s) <= gap_s;
                const bool near_after = j < r.size() && std::abs(r[i].time_s - r[j].time_s) <= gap_s;
                if (!short_run) good.push_back(r[i]);
                else if (near_before || near_after) swapped.push_back(r[i]);
                else ++lost, pending = pending || r[i].new_segment;
            }
            if (i < r.size()) {
                good.push_back(r[i++]);
                good.back().new_segment = good.back().new_segment || pending;
                pending = false;
            }
        }
        r = std::move(good);
        if (!swapped.empty())
            notes.add(fmt::format("{} out of turn by seconds {} put in order.", counted(swapped.size(), "record", "records"), swapped.size() == 1 ? "was" : "were"));
        if (lost) notes.add(fmt::format("{} with a stray time {} left out.", counted(lost, "record", "records"), lost == 1 ? "was" : "were"));
    }

    // Runs in which the clock goes on without a step back or a leap of a day.
    struct Run {
        std::size_t from, to;   // [from, to)
        double shift_s = 0;
        bool placed = false;
    };
    std::vector<Run> runs;
    for (std::size_t i = 0; i < r.size(); ++i) {
        const double d = i ? r[i].time_s - r[i - 1].time_s : -1;
        if (d < 0 || d > day_s) runs.push_back({.from = i, .to = i});
        runs.back().to = i + 1;
    }
    if (runs.size() > 1000) {
        sort_by_time(r);
        notes.add(fmt::format("The clock stepped back {} times; the records were put in the order of time.", runs.size() - 1));
    } else if (runs.size() > 1) {
        const double step = usual_step_s(r);
        const auto start = [&](const Run& x) { return r[x.from].time_s + x.shift_s; };
        const auto end = [&](const Run& x) { return r[x.to - 1].time_s + x.shift_s; };
        // The days that hold the most records are the ride's; the clock was wrong in runs more than a day from them.
        std::vector<std::size_t> by_start(runs.size());
        std::iota(by_start.begin(), by_start.end(), std::size_t{0});
        std::stable_sort(by_start.begin(), by_start.end(), [&](std::size_t x, std::size_t y) { return start(runs[x]) < start(runs[y]); });
        std::size_t best_from = 0, best_to = 0, best = 0;
        for (std::size_t i = 0; i < by_start.size();) {
            std::size_t j = i, n = 0;
            double last = start(runs[by_start[i]]);
            while (j < by_start.size() && start(runs[by_start[j]]) - last <= day_s) {
                last = std::max(last, end(runs[by_start[j]]));
                n += runs[by_start[j]].to - runs[by_start[j]].from;
                ++j;
            }
            if (n > best) best = n, best_from = i, best_to = j;
            i = j;
        }
        for (std::size_t i = best_from; i < best_to; ++i) runs[by_start[i]].placed = true;

        // A run with a wrong date that goes on where its neighbour in the file stopped is the same ride.
        const auto joined = [&](const Run& a, const Run& b) {
            double d = between_m(r[a.to - 1], r[b.from]);
            if (std::isnan(d)) d = std::abs(r[b.from].value[distance] - r[a.to - 1].value[distance]);
            return d <= joined_place_m;
        };
        const auto re_date = [&](Run& x, double shift) {
            if (x.placed || x.to - x.from <= few) return;
            x.shift_s = shift;
            x.placed = true;
            notes.add(fmt::format("The date leapt by {}; {} with the wrong date {} moved to join the rest.", span_text(shift),
                                  counted(x.to - x.from, "record", "records"), x.to - x.from == 1 ? "was" : "were"));
        };
        for (std::size_t i = 1; i < runs.size(); ++i)
            if (!runs[i].placed && runs[i - 1].placed && joined(runs[i - 1], runs[i])) re_date(runs[i], end(runs[i - 1]) + step - start(runs[i]));
        for (std::size_t i = runs.size() - 1; i-- > 0;)
            if (!runs[i].placed && runs[i + 1].placed && joined(runs[i], runs[i + 1])) re_date(runs[i], start(runs[i + 1]) - step - end(runs[i]));

        std::vector<Record> kept;
        std::size_t left_out = 0;
        double clock_shift = 0;
        bool sorted_segments = false, pending = false;
        for (auto& run : runs) {
            if (!run.placed) {
                left_out += run.to - run.from;
                pending = true;
                continue;
            }
            std::vector<Record> piece(r.begin() + static_cast<std::ptrdiff_t>(run.from), r.begin() + static_cast<std::ptrdiff_t>(run.to));
            for (auto& x : piece) x.time_s += run.shift_s + clock_shift;
            if (pending) piece.front().new_segment = true;
            pending = false;
            if (kept.empty() || piece.front().time_s >= kept.back().time_s) {
                kept.insert(kept.end(), piece.begin(), piece.end());
                continue;
            }
            // Does it tell of a time that is already told of, and the same story?
            std::vector<double> apart;
            std::size_t covered = 0;
            bool shares_channels = false;
            double covered_from = 0, covered_to = 0;
            for (const auto& x : piece) {
                const auto there = reached(kept, x.time_s);
                if (!there.covered) continue;
                if (!covered++) covered_from = x.time_s;
                covered_to = x.time_s;
                double d = ground_distance_m(there.lat, there.lon, x.value[latitude], x.value[longitude]);
                if (std::isnan(d)) d = std::abs(there.dist - x.value[distance]);
                if (!std::isnan(d)) apart.push_back(d);
            }
            for (std::size_t c = 0; c < channel_count && covered; ++c) {
                const auto knows = [c](const Record& x) { return !std::isnan(x.value[c]); };
                shares_channels = shares_channels || (std::any_of(piece.begin(), piece.end(), knows) && std::any_of(kept.begin(), kept.end(), knows));
            }
            const bool same_story = !covered || !shares_channels || (apart.empty() ? covered_to - covered_from <= gap_s : median_of(apart) <= same_place_m);
            if (!same_story) {
                const double shift = kept.back().time_s + step - piece.front().time_s;
                notes.add(fmt::format("The clock stepped back by {}; the {} after the step were moved on to follow the rest.", span_text(shift - step),
                                      counted(piece.size(), "record", "records")));
                clock_shift += shift;
                for (auto& x : piece) x.time_s += shift;
                kept.insert(kept.end(), piece.begin(), piece.end());
                continue;
            }
            sorted_segments = true;
            const std::size_t so_far = kept.size();
            std::vector<Record> fitting;
            bool carried = false;
            for (auto x : piece) {
                const auto there = reached(kept, x.time_s);
                // Equal times go on to be joined below; so do records of other channels.
                if (there.covered && shares_channels && there.nearest_s > 0 && there.nearest_s < 0.6 * step) {
                    ++doubled;
                    carried = carried || x.new_segment;
                    continue;
                }
                x.new_segment = x.new_segment || carried;
                carried = false;
                fitting.push_back(x);
            }
            kept.insert(kept.end(), fitting.begin(), fitting.end());
            std::inplace_merge(kept.begin(), kept.begin() + static_cast<std::ptrdiff_t>(so_far), kept.end(),
                               [](const Record& a, const Record& b) { return a.time_s < b.time_s; });
        }
        r = std::move(kept);
        if (sorted_segments) notes.add("Parts of the file were not in the order of time and were sorted.");
        if (left_out)
            notes.add(fmt::format("{} dated more than a day from the rest {} left out: another ride, or a wrong clock. To read another ride, "
                                  "put it in a file of its own.",
                                  counted(left_out, "record", "records"), left_out == 1 ? "was" : "were"));
    }
    if (!swapped.empty()) {
        r.insert(r.end(), swapped.begin(), swapped.end());
        sort_by_time(r);
    }
    if (notes.count) faults.push_back({FaultKind::clock_jump, notes.count, 0, notes.text});
    if (doubled)
        faults.push_back({FaultKind::duplicate_time, static_cast<int>(doubled), 0,
                          fmt::format("{} of a time that was already recorded {} left out.", counted(doubled, "record", "records"), doubled == 1 ? "was" : "were")});
}

// Stamps come in milliseconds at the finest; what is closer is one time, and no speed is made of it.
constexpr double same_time_s = 0.0005;

//! Equal times: the first stays and takes from the others only what it lacks.
void join_equal_times(std::vector<Record>& r, std::vector<Fault>& faults) {
    std::size_t n = 0, joined = 0;
    for (std::size_t i = 0; i < r.size(); ++i) {
        if (n && r[i].time_s < r[n - 1].time_s + same_time_s) {
            ++joined;
            for (std::size_t c = 0; c < channel_count; ++c)
                if (std::isnan(r[n - 1].value[c])) r[n - 1].value[c] = r[i].value[c];
            continue;
        }
        r[n++] = r[i];
    }
    r.resize(n);
    if (joined)
        faults.push_back({FaultKind::duplicate_time, static_cast<int>(joined), 0,
                          fmt::format("{} with the time of the record before {} joined to it; where both say something the first counts.",
                                      counted(joined, "record", "records"), joined == 1 ? "was" : "were")});
}

// ---- values ------------------------------------------------------------------------------------------------------------

constexpr std::size_t longest_stray = 3;

//! Stray values: runs of at most longest_stray known values that lie impossibly far from both neighbours while these fit each
//! other; at an end of a stretch, impossibly far from three values that fit each other. Within segments, over at most 30 s.
//! far(i, j): record j cannot follow record i. Returns the indices of strays in `known`'s terms.
template <class Far>
std::vector<std::size_t> strays(const std::vector<Record>& r, const std::vector<std::size_t>& known, Far far) {
    std::vector<std::size_t> out;
    std::size_t i = 0;
    while (i < known.size()) {
        std::size_t end = i + 1;
        const auto segment_between = [&](std::size_t a, std::size_t b) {
            for (std::size_t k = a + 1; k <= b; ++k)
                if (r[k].new_segment) return true;
            return false;
        };
        while (end < known.size() && !segment_between(known[end - 1], known[end])) ++end;
        const auto far_at = [&](std::size_t a, std::size_t b) { return far(known[a], known[b]); };
        const auto calm = [&](std::size_t from, std::size_t to) {   // steps from..to all possible
            for (std::size_t k = from; k < to; ++k)
                if (far_at(k, k + 1)) return false;
            return true;
        };
        std::size_t k = i + 1;
        if (end - i > 4)
            for (std::size_t n = 1; n <= longest_stray && i + n + 3 < end; ++n)
                if (far_at(i + n - 1, i + n)) {
                    if (calm(i + n, i + n + 3) && calm(i, i + n - 1)) {
                        bool returns = false;   // a stray of the middle, seen from its left
                        for (std::size_t q = i + n + 1; q <= i + n + 3; ++q) returns = returns || !far_at(i + n - 1, q);
                        if (!returns) {
                            for (std::size_t q = i; q < i + n; ++q) out.push_back(known[q]);
                            k = i + n + 1;
                        }
                    }
                    break;
                }
        while (k < end) {
            if (!far_at(k - 1, k)) {
                ++k;
                continue;
            }
            std::size_t n = 0;
            for (std::size_t len = 1; len <= longest_stray && k + len < end; ++len)
                if (far_at(k + len - 1, k + len) && !far_at(k - 1, k + len) && r[known[k + len]].time_s - r[known[k - 1]].time_s <= 30) {
                    n = len;
                    break;
                }
            if (!n && end - k <= longest_stray && k >= i + 4 && calm(k - 4, k - 1) && calm(k, end - 1)) n = end - k;
            for (std::size_t q = k; q < k + n; ++q) out.push_back(known[q]);
            k += n + 1;
        }
        i = end;
    }
    return out;
}

std::vector<std::size_t> known_of(const std::vector<Record>& r, Channel c) {
    std::vector<std::size_t> known;
    for (std::size_t i = 0; i < r.size(); ++i)
        if (!std::isnan(r[i].value[c])) known.push_back(i);
    return known;
}

std::string were_not_known(std::size_t n) { return n == 1 ? "is taken as not known" : "are taken as not known"; }

void limit_range(std::vector<Record>& r, Channel c, double low, double high, FaultKind kind, std::string_view what, std::vector<Fault>& faults) {
    std::size_t n = 0;
    for (auto& x : r)
        if (x.value[c] < low || x.value[c] > high) x.value[c] = unknown, ++n;
    if (n)
        faults.push_back({kind, static_cast<int>(n), 0,
                          fmt::format("{} of {} outside {:g} to {:g} {}.", counted(n, "value", "values"), what, low, high, were_not_known(n))});
}

void clean_positions(std::vector<Record>& r, std::vector<Fault>& faults) {
    std::size_t outside = 0, nowhere = 0;
    for (auto& x : r) {
        double &lat = x.value[latitude], &lon = x.value[longitude];
        if (std::isnan(lat) && std::isnan(lon)) continue;
        const bool bad_range = std::abs(lat) > 90 || std::abs(lon) > 180;
        const bool zero = lat == 0 && lon == 0;
        outside += bad_range;
        nowhere += zero;
        if (bad_range || zero || std::isnan(lat) || std::isnan(lon)) lat = lon = unknown;
    }
    if (outside)
        faults.push_back({FaultKind::position_jump, static_cast<int>(outside), 0,
                          fmt::format("{} outside the globe {}.", counted(outside, "position", "positions"), were_not_known(outside))});
    if (nowhere)
        faults.push_back({FaultKind::no_position, static_cast<int>(nowhere), 0,
                          fmt::format("{} at exactly 0, 0 (the recorder had no fix) {}.", counted(nowhere, "position", "positions"), were_not_known(nowhere))});

    const auto far = [&](std::size_t a, std::size_t b) {
        return between_m(r[a], r[b]) > std::max(40 * (r[b].time_s - r[a].time_s), gap_moved_m);
    };
    const auto jumps = strays(r, known_of(r, latitude), far);
    for (const auto i : jumps) r[i].value[latitude] = r[i].value[longitude] = unknown;
    if (!jumps.empty())
        faults.push_back({FaultKind::position_jump, static_cast<int>(jumps.size()), 0,
                          fmt::format("{} that would need more than 40 m/s there and back {}.", counted(jumps.size(), "position", "positions"), were_not_known(jumps.size()))});

    // A receiver without sight repeats its last fix and then leaps: the repeats are no positions, the time was a gap.
    std::size_t stale = 0, leaps = 0;
    const auto known = known_of(r, latitude);
    for (std::size_t k = 0; k + 1 < known.size(); ++k) {
        if (!far(known[k], known[k + 1])) continue;
        bool apart = false;
        for (std::size_t q = known[k] + 1; q <= known[k + 1]; ++q) apart = apart || r[q].new_segment;
        if (apart) continue;
        std::size_t first = k;
        while (first > 0 && r[known[first - 1]].value[latitude] == r[known[k]].value[latitude] &&
               r[known[first - 1]].value[longitude] == r[known[k]].value[longitude])
            --first;
        const double dt = r[known[k + 1]].time_s - r[known[first]].time_s;
        const bool within_reach = k > first && between_m(r[known[k]], r[known[k + 1]]) <= std::max(vehicle_mps * dt, gap_moved_m);
        if (!within_reach) ++leaps;
        if (!within_reach || k - first < few) continue;   // a few repeats are a fix that came late
        for (std::size_t q = first + 1; q <= k; ++q) r[known[q]].value[latitude] = r[known[q]].value[longitude] = unknown, ++stale;
    }
    if (stale)
        faults.push_back({FaultKind::position_jump, static_cast<int>(stale), 0,
                          fmt::format("{} that only repeated the last fix before a leap (no sight of the satellites) {}.", counted(stale, "position", "positions"),
                                      were_not_known(stale))});
    if (leaps)
        faults.push_back({FaultKind::position_jump, static_cast<int>(leaps), 0,
                          fmt::format("The position leapt {} at more than 40 m/s and did not come back; both sides were kept.", counted(leaps, "time", "times"))});
}

void clean_altitude(std::vector<Record>& r, std::vector<Fault>& faults) {
    limit_range(r, altitude, -500, 9000, FaultKind::altitude_spike, "altitude [m]", faults);
    // 8 m/s up or down is a slope of a third at 25 m/s.
    const auto far = [&](std::size_t a, std::size_t b) {
        const double dz = std::abs(r[b].value[altitude] - r[a].value[altitude]);
        return dz > 30 && dz > 8 * (r[b].time_s - r[a].time_s);
    };
    std::vector<std::size_t> bad;
    const auto known = known_of(r, altitude);
    // Exactly 0 is what a recorder writes that does not know its altitude yet.
    for (std::size_t k = 0; k < known.size();) {
        if (r[known[k]].value[altitude] != 0) {
            ++k;
            continue;
        }
        std::size_t e = k;
        while (e < known.size() && r[known[e]].value[altitude] == 0) ++e;
        const bool leap_before = k > 0 && far(known[k - 1], known[k]), leap_after = e < known.size() && far(known[e - 1], known[e]);
        if ((leap_before || leap_after) && (leap_before || k == 0) && (leap_after || e == known.size()))
            for (std::size_t q = k; q < e; ++q) bad.push_back(known[q]);
        k = e;
    }
    for (const auto i : bad) r[i].value[altitude] = unknown;
    const auto spikes = strays(r, known_of(r, altitude), far);
    for (const auto i : spikes) r[i].value[altitude] = unknown;
    const std::size_t n = bad.size() + spikes.size();
    if (n)
        faults.push_back({FaultKind::altitude_spike, static_cast<int>(n), 0,
                          fmt::format("{} more than 30 m off the ones beside {}, faster than a bicycle climbs or falls, {}.", counted(n, "altitude", "altitudes"),
                                      n == 1 ? "it" : "them", were_not_known(n))});
}

// ---- channels that contradict each other ---------------------------------------------------------------------------------

//! How much further the bike came by channel a than by channel b, in the middle of stretches of some 10 s; NaN if too few tell.
double way_ratio(const std::vector<Record>& r, Channel a, Channel b) {
    constexpr double stretch_s = 10, least_m = 30, piece_s = 2.5;   // a receiver's jitter of 4 m adds a tenth to pieces of 12 m
    constexpr std::size_t least = 20;
    std::vector<std::size_t> both;
    for (std::size_t i = 0; i < r.size(); ++i)
        if (!std::isnan(r[i].value[a]) && !std::isnan(r[i].value[b])) both.push_back(i);
    std::vector<double> logs;
    for (std::size_t k = 0; k + 1 < both.size();) {
        std::size_t e = k + 1;
        bool whole = true;
        const auto dt = [&](std::size_t x, std::size_t y) { return r[both[y]].time_s - r[both[x]].time_s; };
        for (; e < both.size(); ++e) {
            whole = whole && dt(e - 1, e) <= stretch_s && !r[both[e]].new_segment;
            if (dt(k, e) >= stretch_s) break;
        }
        if (e == both.size()) break;
        const auto way = [&](Channel c) {
            if (c == latitude) return between_m(r[both[k]], r[both[e]]);
            if (c == distance) return r[both[e]].value[distance] - r[both[k]].value[distance];
            double m = 0;
            for (std::size_t q = k; q < e; ++q) m += 0.5 * (r[both[q]].value[speed] + r[both[q + 1]].value[speed]) * dt(q, q + 1);
            return m;
        };
        // Where it bends the straight line between two positions is shorter than the way: left out.
        const auto bends = [&] {
            double sum_m = 0;
            std::size_t pieces = 0;
            for (std::size_t q = k, from = k; q < e; ++q)
                if (q + 1 == e || dt(from, q + 1) >= piece_s) sum_m += between_m(r[both[from]], r[both[q + 1]]), ++pieces, from = q + 1;
            return pieces < 2 || sum_m > (pieces > 3 ? 1.12 : 1.05) * between_m(r[both[k]], r[both[e]]);
        };
        const double x = way(a), y = way(b);
        if ((a == latitude || b == latitude) && whole && bends()) whole = false;
        if (whole && x > 0 && y > 0 && std::max(x, y) > least_m) logs.push_back(std::log(x / y));
        k = e;
    }
    return logs.size() < least ? unknown : std::exp(median_of(std::move(logs)));
}

struct Unit {
    double factor;             //!< of the number written to the one the formats say
    std::string_view name;
};
constexpr std::array<Unit, 3> speed_units = {{{3.6, "km/h"}, {2.2369, "miles an hour"}, {1.9438, "knots"}}};
constexpr std::array<Unit, 3> distance_units = {{{0.001, "kilometres"}, {1 / 1609.344, "miles"}, {1 / 0.3048, "feet"}}};

//! Speed, distance and positions tell of one way. Where they disagree by far the odd one is mended if it is off by what a unit is, else not
//! believed; of two that disagree so the positions or the count stand. One sentence says which.
void settle_channels(std::vector<Record>& r, std::vector<Fault>& faults) {
    constexpr double disagree = 0.2, unit_within = 0.05;
    struct Held {
        Channel channel;
        std::string_view name;
    };
    std::vector<Held> held;
    for (const Held h : {Held{speed, "speed"}, Held{distance, "distance"}, Held{latitude, "positions"}}) {
        const auto known = known_of(r, h.channel);
        bool moves = false;
        for (const auto i : known) moves = moves || r[i].value[h.channel] != r[known.front()].value[h.channel] || (h.channel == latitude && r[i].value[longitude] != r[known.front()].value[longitude]);
        if (moves) held.push_back(h);
    }
    const auto agree = [](double ratio) { return std::isnan(ratio) || std::abs(std::log(ratio)) <= std::log1p(disagree); };
    const auto unit_of = [](Channel c, double ratio) -> std::optional<Unit> {
        for (const Unit& u : c == speed ? speed_units : distance_units)
            if (c != latitude && std::abs(ratio / u.factor - 1) <= unit_within) return u;
        return {};
    };
    // The odd one, and how much further it goes than what stands.
    const auto doubt = [&](const Held& odd, double ratio, const std::string& beside) {
        const auto known = known_of(r, odd.channel);
        const auto unit = unit_of(odd.channel, ratio);
        for (const auto i : known) {
            if (unit) r[i].value[odd.channel] /= unit->factor;
            else r[i].value[odd.channel] = unknown;
            if (odd.channel == latitude) r[i].value[longitude] = unknown;
        }
        const std::string_view verb = odd.channel == latitude ? "go" : "goes", is = odd.channel == latitude ? "they are" : "it is";
        const std::string how = ratio >= 0.01 ? fmt::format("{:.2f}", ratio) : fmt::format("{:.5f}", ratio);
        faults.push_back({FaultKind::other, static_cast<int>(known.size()), 0,
                          unit ? fmt::format("The recorded {} {} {} times as far as {}: {} taken as {}.", odd.name, verb, how, beside, is, unit->name)
                               : fmt::format("The recorded {} {} {} times as far as {}: {} not believed. {}", odd.name, verb, how, beside, is,
                                             odd.channel == latitude ? "If the wheel sensor is set to the wrong wheel, take its speed and distance out of the file." : "Check what the recorder takes it from (the wheel's size, the unit).")});
    };
    if (held.size() == 3) {
        const double by_speed = way_ratio(r, speed, latitude), by_count = way_ratio(r, distance, latitude), between = way_ratio(r, speed, distance);
        const bool s_p = agree(by_speed), d_p = agree(by_count), s_d = agree(between);
        if (!s_p && d_p) doubt(held[0], by_speed, "positions and distance");
        else if (s_p && !d_p) doubt(held[1], by_count, "positions and speed");
        else if (!s_p && !d_p) {
            // Two sensors of one wheel agree even where both are wrong: a unit, and a way shorter than the positions have it, are their fault.
            const bool units = unit_of(speed, by_speed) && unit_of(distance, by_count);
            if (units || !s_d || std::min(by_speed, by_count) < 1) {
                doubt(held[0], by_speed, "the positions");
                doubt(held[1], by_count, "the positions");
            } else {
                doubt(held[2], 1 / by_count, "speed and distance");
            }
        }
    } else if (held.size() == 2) {
        const double ratio = way_ratio(r, held[0].channel, held[1].channel);
        if (agree(ratio)) return;
        if (held[1].channel == latitude) {
            doubt(held[0], ratio, "the positions");
        } else if (unit_of(speed, ratio) || !unit_of(distance, 1 / ratio)) {
            doubt(held[0], ratio, "the distance");
        } else {
            doubt(held[1], 1 / ratio, "the speed");
        }
    } else if (held.size() == 1 && held[0].channel != latitude) {
        // Nothing to hold it against but what a bicycle goes.
        constexpr double fastest_usual_mps = 15, slowest_usual_mps = 0.05;
        const auto known = known_of(r, held[0].channel);
        std::vector<double> moving;
        for (std::size_t k = 1; k < known.size(); ++k) {
            const auto &a = r[known[k - 1]], &b = r[known[k]];
            const double v = held[0].channel == speed ? b.value[speed] : (b.value[distance] - a.value[distance]) / (b.time_s - a.time_s);
            if (b.time_s - a.time_s <= 30 && v > 0) moving.push_back(v);
        }
        if (moving.size() < 60) return;
        const double usual = median_of(std::move(moving));
        if (usual > fastest_usual_mps || usual < slowest_usual_mps)
            faults.push_back({FaultKind::other, static_cast<int>(known.size()), 0,
                              fmt::format("By the recorded {} the bike moves at {:.3g} m/s ({:.3g} km/h) half of the time, and nothing else in the file says how far it came: hardly a bicycle. If it was written in another unit, "
                                          "write it in {} and give the file again.",
                                          held[0].name, usual, 3.6 * usual, held[0].channel == speed ? "metres a second" : "metres")});
    }
}

void clean_speed(std::vector<Record>& r, std::vector<Fault>& faults) {
    limit_range(r, speed, 0, 150, FaultKind::speed_spike, "speed [m/s]", faults);
    const auto far = [&](std::size_t a, std::size_t b) {
        const double va = r[a].value[speed], vb = r[b].value[speed], dt = std::max(1.0, r[b].time_s - r[a].time_s);
        return std::abs(vb - va) > 15 * dt || (std::max(va, vb) > 35 && std::abs(vb - va) > 5 * dt);
    };
    const auto spikes = strays(r, known_of(r, speed), far);
    for (const auto i : spikes) r[i].value[speed] = unknown;
    if (!spikes.empty())
        faults.push_back({FaultKind::speed_spike, static_cast<int>(spikes.size()), 0,
                          fmt::format("{} far above or below the ones beside {} {}.", counted(spikes.size(), "speed", "speeds"), spikes.size() == 1 ? "it" : "them",
                                      were_not_known(spikes.size()))});
}

//! Distance as a count that never falls: strays out, resets joined, leaps that the rest denies taken out.
void clean_distance(std::vector<Record>& r, std::vector<Fault>& faults) {
    limit_range(r, distance, 0, 1e7, FaultKind::other, "distance [m]", faults);
    const auto far = [&](std::size_t a, std::size_t b) {
        const double d = r[b].value[distance] - r[a].value[distance];
        return d < -1 || d > 40 * (r[b].time_s - r[a].time_s) + gap_moved_m;
    };
    const auto spikes = strays(r, known_of(r, distance), far);
    for (const auto i : spikes) r[i].value[distance] = unknown;
    std::size_t resets = 0, leaps = 0;
    double added = 0, last_step_mps = unknown, reached_m = 0;
    const auto known = known_of(r, distance);
    std::vector<double> raw_m;
    for (const auto i : known) raw_m.push_back(r[i].value[distance]);
    // A wheel sensor that counts a turn too many: the positions of a few seconds around it do not go along. Without
    // positions only what no bicycle rides is taken out.
    const auto denied = [&](std::size_t k, double d, double dt) {
        const std::size_t a = k >= 3 ? k - 3 : 0, b = std::min(k + 2, known.size() - 1);
        const auto &first = r[known[a]], &last = r[known[b]];
        const double chord = between_m(first, last);
        if (std::isnan(chord) || last.time_s - first.time_s > 2 * gap_s) return d > 40 * dt + 10;
        std::vector<double> around;
        for (std::size_t q = std::max<std::size_t>(k, 5) - 5 + 1; q < std::min(k + 6, known.size()); ++q)
            around.push_back((raw_m[q] - raw_m[q - 1]) / (r[known[q]].time_s - r[known[q - 1]].time_s));
        if (d < (2 * median_of(std::move(around)) + 5) * dt) return false;   // a fast ride with a fix that came late
        return chord < raw_m[b] - raw_m[a] - 0.5 * d;
    };
    for (std::size_t k = 0; k < known.size(); ++k) {
        auto& x = r[known[k]];
        const double raw = raw_m[k];
        if (k > 0) {
            const auto& p = r[known[k - 1]];
            const double dt = x.time_s - p.time_s, before_raw = raw_m[k - 1], d = raw - before_raw;
            if (d < -1) {
                ++resets;
                // After a reset the count starts again: what it shows has been ridden since, if that is possible.
                const double ridden = raw <= 25 * dt ? raw : 0;
                added += before_raw + ridden - raw;
            } else if (d < 0) {
                added -= d;
            } else if (d > 15 * dt + 3 && dt <= gap_s && denied(k, d, dt)) {
                double likely = last_step_mps * dt;
                if (std::isnan(likely)) likely = std::min(between_m(p, x), d);
                ++leaps;
                added -= d - (std::isnan(likely) ? 0 : likely);
            } else if (dt > 0) {
                last_step_mps = d / dt;
            }
        }
        reached_m = std::max(reached_m, raw + added);   // rounding must not make the count fall
        x.value[distance] = reached_m;
    }
    if (resets)
        faults.push_back({FaultKind::other, static_cast<int>(resets), 0,
                          fmt::format("The recorded distance started again {}; the counts were joined.", counted(resets, "time", "times"))});
    if (const auto n = spikes.size() + leaps; n)
        faults.push_back({FaultKind::speed_spike, static_cast<int>(n), 0,
                          fmt::format("The recorded distance leapt {} further than the positions or a bicycle go; the leaps were taken out.", counted(n, "time", "times"))});
}

//! A wheel sensor that misses pulses: the speed falls by far for a second or three and is back at once, while the positions go
//! on as before. Told only by many such dips together, since a single one is within what positions scatter. The speeds in them
//! are taken out, and the way that was not counted is given back to the distance.
void mend_missed_pulses(std::vector<Record>& r, std::vector<Fault>& faults) {
    constexpr double fall_mps = 1.5, back_mps = 0.5, longest_s = 4.5;
    constexpr std::size_t least = 8;
    struct Dip { std::size_t before, after; };
    std::vector<Dip> dips;
    std::vector<double> moved_by_counted;
    const auto known = known_of(r, speed);
    for (std::size_t k = 0; k + 2 < known.size(); ++k) {
        const auto& a = r[known[k]];
        if (r[known[k + 1]].value[speed] > a.value[speed] - fall_mps) continue;
        for (std::size_t q = k + 2; q < known.size() && q <= k + 4; ++q) {
            const auto& b = r[known[q]];
            const double dt = b.time_s - a.time_s;
            if (dt > longest_s) break;
            if (b.value[speed] < a.value[speed] - back_mps) continue;
            double counted_m = 0;
            for (std::size_t j = k + 1; j <= q; ++j)
                counted_m += 0.5 * (r[known[j]].value[speed] + r[known[j - 1]].value[speed]) * (r[known[j]].time_s - r[known[j - 1]].time_s);
            const double moved_m = between_m(a, b);
            if (!std::isnan(moved_m) && counted_m > 1) moved_by_counted.push_back(moved_m / counted_m);
            dips.push_back({known[k], known[q]});
            k = q - 1;
            break;
        }
    }
    // As the positions go when nothing is missed: the way along the same dips, had the speed stayed.
    if (moved_by_counted.size() < least || moved_by_counted.size() * 2 < dips.size() || median_of(moved_by_counted) < 1.2) return;
    double added_m = 0;
    std::size_t next = 0;
    for (std::size_t i = 0; i < r.size(); ++i) {
        while (next < dips.size() && i > dips[next].after) ++next;
        if (next < dips.size() && i == dips[next].after) {
            const auto &a = r[dips[next].before], &b = r[i];
            const double counted_m = b.value[distance] + added_m - a.value[distance];
            const double way_m = 0.5 * (a.value[speed] + b.value[speed]) * (b.time_s - a.time_s);
            if (counted_m < way_m) added_m += way_m - counted_m;
        }
        const bool inside = next < dips.size() && i > dips[next].before && i < dips[next].after;
        if (inside) r[i].value[speed] = r[i].value[distance] = unknown;
        else if (!std::isnan(r[i].value[distance])) r[i].value[distance] += added_m;
    }
    faults.push_back({FaultKind::speed_spike, static_cast<int>(dips.size()), 0,
                      fmt::format("The recorded speed fell {} for a second or two and was back at once while the positions went on: a wheel sensor that missed pulses. What it said then {}.",
                                  counted(dips.size(), "time", "times"), were_not_known(1))});
}

//! Channels that say the same all along although the ride denies it.
void drop_dead_channels(std::vector<Record>& r, std::vector<Fault>& faults) {
    const auto constant = [&](Channel c) {
        const auto known = known_of(r, c);
        if (known.size() < 2) return false;
        return std::all_of(known.begin(), known.end(), [&](std::size_t i) { return r[i].value[c] == r[known.front()].value[c]; });
    };
    const auto span = [&](Channel c) {
        const auto known = known_of(r, c);
        return known.empty() ? 0.0 : r[known.back()].value[c] - r[known.front()].value[c];
    };
    const auto drop = [&](Channel c) {
        for (auto& x : r) x.value[c] = unknown;
    };
    const auto note = [&](FaultKind kind, std::string text) { faults.push_back({kind, 1, 0, std::move(text)}); };
    double way = 0;   // path by position
    const auto known = known_of(r, latitude);
    for (std::size_t k = 1; k < known.size(); ++k) way += between_m(r[known[k - 1]], r[known[k]]);
    double run = 0;   // path by speed
    const auto timed = known_of(r, speed);
    for (std::size_t k = 1; k < timed.size(); ++k)
        run += 0.5 * (r[timed[k]].value[speed] + r[timed[k - 1]].value[speed]) * std::min(gap_s, r[timed[k]].time_s - r[timed[k - 1]].time_s);
    const double counted_m = span(distance);
    const double moved = std::max({way, counted_m, run});
    if (moved < 500) return;
    if (constant(latitude) && constant(longitude)) {
        drop(latitude), drop(longitude);
        note(FaultKind::no_position, "The position is the same all along although the bike moved; positions are taken as not known.");
    }
    if (constant(distance)) {
        drop(distance);
        note(FaultKind::other, "The recorded distance is the same all along although the bike moved; it is taken as not known.");
    }
    if (constant(speed) && r[timed.front()].value[speed] == 0) {
        drop(speed);
        note(FaultKind::other, "The recorded speed is 0 all along although the bike moved; it is taken as not known.");
    }
    if (constant(power)) {
        const auto watts = known_of(r, power);
        std::vector<double> z;
        for (const auto& x : r) z.push_back(x.value[altitude]);
        const double gain = gain_loss(z, 5).first;
        // Nobody climbs without pedalling; a hill of 30 m may be taken with the speed from the one before.
        if (r[watts.front()].value[power] == 0 && gain > 60) {
            drop(power);
            note(FaultKind::other, fmt::format("The recorded power is 0 all along although {:.0f} m were climbed; it is taken as not known.", gain));
        }
    }
}

//! How far the bike came up to each record [m]: by its distance, else by positions (in steps that no jitter at a standstill makes), else by speed.
std::vector<double> way_to_each(const std::vector<Record>& r) {
    constexpr double step_m = 30;
    std::vector<double> way(r.size(), 0.0);
    const auto half = [&](Channel c) { return 2 * known_of(r, c).size() >= r.size(); };
    const Channel by = half(distance) ? distance : half(latitude) ? latitude : speed;
    std::size_t last = r.size();
    for (std::size_t i = 0; i < r.size(); ++i) {
        way[i] = i ? way[i - 1] : 0;
        if (std::isnan(r[i].value[by])) continue;
        double d = 0;
        if (last < r.size()) {
            const double dt = r[i].time_s - r[last].time_s;
            d = by == distance ? r[i].value[distance] - r[last].value[distance] : by == latitude ? between_m(r[last], r[i]) : 0.5 * (r[i].value[speed] + r[last].value[speed]) * std::min(gap_s, dt);
            if (by == latitude && d < step_m) continue;
        }
        way[i] += d;
        last = i;
    }
    return way;
}

//! Smallest step in which the altitudes were written [m]; 0 if none shows or they look continuous.
double altitude_step_m(const std::vector<Record>& r, const std::vector<std::size_t>& known) {
    std::vector<double> z, steps;
    for (const auto i : known) z.push_back(r[i].value[altitude]);
    for (std::size_t k = 1; k < z.size(); ++k)
        if (z[k] != z[k - 1]) steps.push_back(std::abs(z[k] - z[k - 1]));
    if (steps.empty()) return 0;
    std::sort(steps.begin(), steps.end());
    const double small = steps[steps.size() / 20];
    const double regular = internal::resolution_of(z);   // up to 1 m
    return regular == 0 && steps.size() < 20 ? small : regular == 1 ? std::max(1.0, small) : regular;
}

//! An altimeter that sticks, or a recorder that writes a number for one that it does not have. On the most level of roads a real one of
//! steps s moves within stuck_m + stuck_share * s. What is written where nothing ever changes is taken for whole metres if it is a whole number.
//! Returns whether nothing is left of the channel.   [EQ motion-16]
bool drop_stuck_altitude(std::vector<Record>& r, std::vector<Fault>& faults) {
    constexpr double stuck_m = 1000, stuck_share = 3000, said_m = 2000, leap_m = 5, leap_slope = 0.3, catches_up_s = 60, surely = 6;
    const auto known = known_of(r, altitude);
    if (known.size() < 2) return false;
    const double first_m = r[known.front()].value[altitude];
    const bool never_changes = std::all_of(known.begin(), known.end(), [&](std::size_t i) { return r[i].value[altitude] == first_m; });
    const double step_m = !never_changes ? altitude_step_m(r, known) : first_m != 0 && first_m == std::round(first_m) ? 1 : 0;
    const double limit_m = stuck_m + stuck_share * step_m;
    const auto way = way_to_each(r);
    std::size_t stuck = 0, runs = 0;
    double sum_m = 0, at_m = 0, longest_m = 0, kept_m = 0, kept_at_m = 0;   // kept: it may be a level road, and that is said
    for (std::size_t k = 0; k < known.size();) {
        std::size_t e = k + 1;
        const double z = r[known[k]].value[altitude];
        while (e < known.size() && r[known[e]].value[altitude] == z) ++e;
        // A figure that goes on from where it stood was right there: one that stuck leaps as it comes free, or never does.
        // It may catch up over some records. So far on one figure as no road is, it stuck whatever comes after.
        const auto leaps = [&] {
            for (std::size_t q = e; q < known.size() && (q == e || r[known[q]].time_s - r[known[e - 1]].time_s <= catches_up_s); ++q)
                if (std::abs(r[known[q]].value[altitude] - z) > std::max(leap_m, leap_slope * (way[known[q]] - way[known[e - 1]]))) return true;
            return false;
        };
        const double run_m = way[known[e - 1]] - way[known[k]];
        if (run_m > limit_m && e < known.size() && run_m <= surely * limit_m && !leaps() && run_m > kept_m) kept_m = run_m, kept_at_m = z;
        if (run_m > limit_m && (e == known.size() || run_m > surely * limit_m || leaps())) {
            ++runs;
            sum_m += run_m;
            if (run_m > longest_m) longest_m = run_m, at_m = z;
            // The first of a run was right when it was written, unless the recorder began so.
            for (std::size_t q = k > 0 ? k + 1 : k; q < e; ++q) r[known[q]].value[altitude] = unknown, ++stuck;
        }
        k = e;
    }
    if (stuck)
        faults.push_back({FaultKind::no_altitude, static_cast<int>(stuck), 0,
                          fmt::format("The altitude stays at exactly {:g} m over {:.1f} km of riding{}: the recorder did not measure it (an altimeter that stuck, or a number written for one that was not known). It is taken as not known there.",
                                      at_m, longest_m / 1000, runs > 1 ? fmt::format(", and again over {:.1f} km more", (sum_m - longest_m) / 1000) : std::string())});
    else if (kept_m > 0)
        faults.push_back({FaultKind::other, 1, 0, fmt::format("The altitude stays at exactly {:g} m over {:.1f} km of riding and goes on from there: a level road, or an altimeter that stood still meanwhile. It was kept; if the way goes down there, its braking is missing.", kept_at_m, kept_m / 1000)});
    else if (never_changes && way.back() > said_m)
        faults.push_back({FaultKind::other, 1, 0, fmt::format("The altitude is {:g} m in every record: a level road, or a recorder that did not measure it. It was kept.", first_m)});
    return stuck == known.size();
}

//! Longest time in which others are recorded but channel c is not [s], and how many records lack it.
std::pair<double, std::size_t> lacking(const std::vector<Record>& r, Channel c) {
    double longest = 0, since = unknown;
    std::size_t n = 0;
    for (std::size_t i = 0; i < r.size(); ++i) {
        if (!std::isnan(r[i].value[c])) {
            since = unknown;
            continue;
        }
        ++n;
        if (std::isnan(since)) since = r[i].time_s;
        longest = std::max(longest, r[i].time_s - since);
    }
    return {longest, n};
}

}  // namespace

Result<Track> readers::track_of(Reading&& reading, std::uint64_t hash, const std::string& name) {
    auto& r = reading.records;
    auto faults = std::move(reading.faults);
    order(r, faults);
    join_equal_times(r, faults);
    if (r.size() < 2)
        return Error{Errc::bad_input, fmt::format("{}: all records carry the same time; a ride needs at least two different times. Export the ride with "
                                                  "its time stamps.",
                                                  name)};
    const double span = r.back().time_s - r.front().time_s;
    if (span > longest_ride_s)
        return Error{Errc::bad_input, fmt::format("{}: the records span {:.0f} days; a ride is read up to {:.0f} days. Split the file into its rides.", name,
                                                  span / day_s, longest_ride_s / day_s)};
    clean_positions(r, faults);
    settle_channels(r, faults);
    clean_altitude(r, faults);
    clean_speed(r, faults);
    clean_distance(r, faults);
    mend_missed_pulses(r, faults);
    limit_range(r, power, 0, 5000, FaultKind::other, "power [W]", faults);
    limit_range(r, temperature, -60, 80, FaultKind::other, "temperature [degC]", faults);
    limit_range(r, cadence, 0, 250, FaultKind::other, "cadence [rpm]", faults);
    drop_dead_channels(r, faults);
    const bool stuck_all_along = drop_stuck_altitude(r, faults);

    Track t;
    t.file = base_name(name);
    t.content_hash = hash;
    const double zero = r.front().time_s;
    if (reading.zero_unix_s) t.start_unix_s = *reading.zero_unix_s + zero;
    const auto channel = [&](Channel c) {
        std::vector<double> v;
        if (std::all_of(r.begin(), r.end(), [c](const Record& x) { return std::isnan(x.value[c]); })) return v;
        v.reserve(r.size());
        for (const auto& x : r) v.push_back(x.value[c]);
        return v;
    };
    t.latitude_deg = channel(latitude);
    t.longitude_deg = channel(longitude);
    t.altitude_m = channel(altitude);
    t.distance_m = channel(distance);
    t.speed_mps = channel(speed);
    t.power_W = channel(power);
    t.temperature_degC = channel(temperature);
    t.cadence_rpm = channel(cadence);
    for (const auto& x : r) {
        t.t_s.push_back(std::round((x.time_s - zero) * 1e6) / 1e6);
        t.break_before.push_back(x.new_segment && !t.break_before.empty());
    }

    if (stuck_all_along) {
        faults.back().seconds = span;
    } else if (t.altitude_m.empty()) {
        faults.push_back({FaultKind::no_altitude, static_cast<int>(r.size()), span,
                          "No altitude was recorded: the road is taken as level and the brakes' share of a descent cannot be seen. Record with altitude, or add it "
                          "from a map."});
    } else if (const auto [longest, n] = lacking(r, altitude); longest > gap_s) {
        faults.push_back({FaultKind::no_altitude, static_cast<int>(n), longest,
                          fmt::format("{} without altitude, for up to {} at a time; it is bridged from what lies around.", counted(n, "record", "records"), span_text(longest))});
    }
    if (t.latitude_deg.empty()) {
        faults.push_back({FaultKind::no_position, static_cast<int>(r.size()), span, "No position was recorded: bends and wind along the way are not known."});
    } else if (const auto [longest, n] = lacking(r, latitude); longest > gap_s) {
        faults.push_back({FaultKind::no_position, static_cast<int>(n), longest,
                          fmt::format("{} without a position, for up to {} at a time.", counted(n, "record", "records"), span_text(longest))});
    }
    struct Sum {
        int n = 0;
        double s = 0;
    } pause, moving, vehicle;
    for (const auto& s : stretches_of(t)) {
        auto& sum = s.kind == FaultKind::pause ? pause : s.kind == FaultKind::gap_moving ? moving : vehicle;
        ++sum.n;
        sum.s += s.to_s - s.from_s;
    }
    if (pause.n)
        faults.push_back({FaultKind::pause, pause.n, pause.s,
                          fmt::format("{} without records in which the bike stayed where it was, {} in all: left out of the account.",
                                      counted(static_cast<std::size_t>(pause.n), "time", "times"), span_text(pause.s))});
    if (moving.n)
        faults.push_back({FaultKind::gap_moving, moving.n, moving.s,
                          fmt::format("{} without records in which the bike moved on (a tunnel, lost signal), {} in all: bridged between the ends, with a wide margin.",
                                      counted(static_cast<std::size_t>(moving.n), "time", "times"), span_text(moving.s))});
    if (vehicle.n)
        faults.push_back({FaultKind::vehicle, vehicle.n, vehicle.s,
                          fmt::format("{} faster or steeper than a bicycle goes (car, train or lift), {} in all: left out of the account.",
                                      counted(static_cast<std::size_t>(vehicle.n), "stretch", "stretches"), span_text(vehicle.s))});
    t.faults = std::move(faults);
    return t;
}

}  // namespace bw::ride
