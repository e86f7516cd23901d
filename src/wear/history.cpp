// SPDX-License-Identifier: Apache-2.0
// Tables of rides, parts fitted, readings and tasks.                                                       Layer: wear
#include "wear/history.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <limits>
#include <tuple>

#include "base/table.hpp"
#include "base/text.hpp"
#include "base/time.hpp"

namespace bw::wear {

namespace {

constexpr double largest_ride = 1e7;

Result<Component> component_at(const TableRow& row, std::size_t k) {
    const std::string_view word = row.word(k);
    const auto at = std::find(component_words.begin(), component_words.end(), word);
    if (at != component_words.end()) return static_cast<Component>(at - component_words.begin());
    const std::vector<std::string> known(component_words.begin(), component_words.end());
    const auto near = nearest_word(word, known);
    return row.wrong(k, fmt::format("'{}' found, expected one of front_left_pad, front_right_pad, front_rotor, rear_left_pad, rear_right_pad, rear_rotor{}", word,
                                    near ? fmt::format(" (nearest: {})", *near) : std::string()));
}

Result<std::optional<long>> day_at(const TableRow& row, std::size_t k) {
    const std::string_view word = row.word(k);
    if (word.empty()) return std::optional<long>();
    if (const auto day = parse_day(word.substr(0, 10))) return std::optional<long>(*day);
    return row.wrong(k, fmt::format("'{}' found, expected a day such as 2026-05-01, or nothing", word));
}

// A number, or `missing` where the cell is empty.
Result<double> number_or(const TableRow& row, std::size_t k, double least, double most, double missing) {
    if (row.word(k).empty()) return missing;
    return row.number(k, least, most);
}

Result<long> ride_at(const TableRow& row, std::size_t k) {
    const Result<double> v = row.number(k, 0, largest_ride);
    if (!v) return v.error();
    if (*v != std::floor(*v)) return row.wrong(k, fmt::format("'{}' found, expected a whole number", row.word(k)));
    return static_cast<long>(*v);
}

}  // namespace

Result<std::vector<RiddenRow>> read_summary(std::string_view text, const std::string& file) {
    static constexpr const char* names[] = {"ride", "distance_m", "front_energy_J", "rear_energy_J", "date", "file", "descent_m", "duration_s", "front_energy_sd_J",
                                            "rear_energy_sd_J", "front_pad_degC", "rear_pad_degC", "wet", "grit"};
    std::vector<RiddenRow> out;
    std::vector<std::size_t> unknown;   // of no known length
    const auto lines = read_table(text, file, names, [&](const TableRow& row) -> Status {
        RiddenRow r;
        const Result<long> ride = ride_at(row, 0);
        if (!ride) return ride.error();
        r.ride = *ride;
        if (!out.empty() && r.ride <= out.back().ride) return row.wrong(0, fmt::format("ride {} after ride {}: expected rising numbers", r.ride, out.back().ride));
        const Result<std::optional<long>> day = day_at(row, 4);
        if (!day) return day.error();
        r.day = *day;
        struct Cell {
            std::size_t k;
            double most;
            double* into;
        };
        for (const auto& [k, most, into] : {std::tuple(std::size_t{6}, 1e5, &r.descent_m), std::tuple(std::size_t{7}, 1e7, &r.duration_s)}) {
            const Result<double> v = number_or(row, k, 0, most, 0);
            if (!v) return v.error();
            if (!row.word(k).empty() && (k != 7 || *v > 0)) *into = *v;   // no ride takes no time
        }
        for (const Cell& c : {Cell{1, 1e7, &r.distance_m}, Cell{8, 1e10, &r.energy_sd_J[0]}, Cell{9, 1e10, &r.energy_sd_J[1]},
                              Cell{12, 1, &r.wet}, Cell{13, 1, &r.grit}}) {
            const Result<double> v = number_or(row, c.k, 0, c.most, 0);
            if (!v) return v.error();
            *c.into = *v;
        }
        for (std::size_t w = 0; w < 2; ++w) {
            if (!row.word(2 + w).empty()) {
                const Result<double> v = row.number(2 + w, -1e9, 1e10);   // a ride without braking may read slightly negative
                if (!v) return v.error();
                r.energy_J[w] = *v;
            }
            if (!row.word(10 + w).empty()) {
                const Result<double> v = row.number(10 + w, -60, 1500);
                if (!v) return v.error();
                r.pad_degC[w] = *v;
            }
        }
        if (row.word(1).empty()) unknown.push_back(out.size());
        out.push_back(r);
        return Done{};
    }, std::size(names) - 4);
    if (!lines) return lines.error();
    // One of no known length is as long as the others: it wears as they do.   [EQ life-16]
    double way_m = 0;
    for (const RiddenRow& r : out) way_m += r.distance_m;
    if (unknown.size() < out.size())
        for (const std::size_t i : unknown) out[i].distance_m = way_m / static_cast<double>(out.size() - unknown.size());
    return out;
}

Result<std::vector<FittedRow>> read_fitted(std::string_view text, const std::string& file) {
    static constexpr const char* names[] = {"component", "set", "start_ride", "compound", "new_mm", "limit_mm", "friction_area_mm2"};
    std::vector<FittedRow> out;
    const auto lines = read_table(text, file, names, [&](const TableRow& row) -> Status {
        FittedRow f;
        const Result<Component> c = component_at(row, 0);
        if (!c) return c.error();
        f.component = *c;
        f.set = std::string(row.word(1));
        const Result<long> ride = ride_at(row, 2);
        if (!ride) return ride.error();
        f.start_ride = *ride;
        f.compound = std::string(row.word(3));
        if (f.compound.empty() && !is_rotor(f.component)) return row.wrong(3, "empty, expected the compound of the pads");
        for (const auto& [k, most, into] : {std::tuple{std::size_t{4}, 50.0, &f.new_mm}, std::tuple{std::size_t{5}, 50.0, &f.limit_mm}, std::tuple{std::size_t{6}, 1e6, &f.area_mm2}}) {
            const Result<double> v = row.number(k, k == 5 ? 0 : 0.01, most);
            if (!v) return v.error();
            *into = *v;
        }
        if (f.limit_mm >= f.new_mm) return row.wrong(5, fmt::format("a limit of {:g} mm, and new it has {:g} mm: expected a limit below that", f.limit_mm, f.new_mm));
        for (const FittedRow& o : out)
            if (o.component == f.component && o.set == f.set) return row.wrong(1, fmt::format("set '{}' of {} is there twice", f.set, word_of(f.component)));
        out.push_back(std::move(f));
        return Done{};
    });
    if (!lines) return lines.error();
    return out;
}

Result<std::vector<ThicknessRow>> read_thicknesses(std::string_view text, const std::string& file) {
    static constexpr const char* names[] = {"ride", "component", "set", "thickness_mm", "sd_mm", "resolution_mm", "date"};
    std::vector<ThicknessRow> out;
    const auto lines = read_table(text, file, names, [&](const TableRow& row) -> Status {
        ThicknessRow r;
        const Result<long> ride = ride_at(row, 0);
        if (!ride) return ride.error();
        r.ride = *ride;
        const Result<Component> c = component_at(row, 1);
        if (!c) return c.error();
        r.component = *c;
        r.set = std::string(row.word(2));
        const Result<std::optional<long>> day = day_at(row, 6);
        if (!day) return day.error();
        r.day = *day;
        if (const Result<double> below = row.number(3, -1e9, 1e9); below && *below < 0)
            return row.wrong(3, fmt::format("{:g} mm: expected 0 to 50. No thickness is below zero: zero the instrument and measure again; what is worn into its plate reads 0", *below));
        const Result<double> mm = row.number(3, 0, 50);
        if (!mm) return mm.error();
        r.thickness_mm = *mm + 0.0;   // -0 is 0
        const Result<double> sd = number_or(row, 4, 0, 50, 0.1);
        if (!sd) return sd.error();
        r.sd_mm = *sd;
        const Result<double> step = number_or(row, 5, 0, 50, 0);
        if (!step) return step.error();
        r.resolution_mm = *step;
        out.push_back(std::move(r));
        return Done{};
    }, 3);
    if (!lines) return lines.error();
    return out;
}

Result<std::vector<TaskRow>> read_tasks(std::string_view text, const std::string& file) {
    static constexpr const char* names[] = {"component", "set", "as_of_ride"};
    std::vector<TaskRow> out;
    const auto lines = read_table(text, file, names, [&](const TableRow& row) -> Status {
        const Result<Component> c = component_at(row, 0);
        if (!c) return c.error();
        const Result<long> ride = ride_at(row, 2);
        if (!ride) return ride.error();
        out.push_back({*c, std::string(row.word(1)), *ride});
        return Done{};
    });
    if (!lines) return lines.error();
    return out;
}

Result<History> history_of(std::vector<RiddenRow> rides, std::vector<FittedRow> fitted, std::vector<ThicknessRow> readings) {
    History h{std::move(rides), std::move(fitted), std::move(readings)};
    std::stable_sort(h.fitted.begin(), h.fitted.end(), [](const FittedRow& a, const FittedRow& b) { return a.start_ride < b.start_ride; });
    std::stable_sort(h.readings.begin(), h.readings.end(), [](const ThicknessRow& a, const ThicknessRow& b) { return a.ride < b.ride; });
    for (const ThicknessRow& r : h.readings) {
        const bool known = std::any_of(h.fitted.begin(), h.fitted.end(), [&](const FittedRow& f) { return f.component == r.component && f.set == r.set; });
        if (!known) return Error{Errc::bad_input, fmt::format("a reading after ride {} is of {} set '{}', which was never fitted: add its row to the fitted parts", r.ride, word_of(r.component), r.set)};
    }
    return h;
}

long first_ride_of(const FittedRow& f) { return f.stays.empty() ? f.start_ride : f.stays.front().first_ride; }

FittedRow followed_from(const FittedRow& part, const ThicknessRow& reading, const std::string& set) {
    FittedRow f = part;
    f.heated_from_ride = part.heated_from_ride > 0 ? part.heated_from_ride : first_ride_of(part);
    f.set = set, f.start_ride = std::max(part.start_ride, reading.ride + 1), f.new_mm = reading.thickness_mm, f.new_sd_mm = 0.5, f.bedded = true;
    for (std::size_t i = 0; i < f.stays.size(); ++i) {   // each keeps its place in the list, for readings name it
        StayRow& s = f.stays[i];
        if (s.elsewhere_m > 0 && i < reading.stays_before) s.elsewhere_m = 0;
        s.first_ride = std::max(s.first_ride, reading.ride + 1), s.end_ride = std::max(s.end_ride, s.first_ride);
    }
    return f;
}

std::vector<double> way_on_m(const History& h, const FittedRow& f) {
    const std::vector<StayRow> since_start = {{f.start_ride, std::numeric_limits<long>::max(), wheel_of(f.component), 0}};
    const std::vector<StayRow>& stays = f.stays.empty() ? since_start : f.stays;
    std::vector<double> way(h.rides.size() + 1, 0.0);
    for (std::size_t i = 0; i < h.rides.size(); ++i)
        if (std::any_of(stays.begin(), stays.end(), [&](const StayRow& s) { return s.first_ride <= h.rides[i].ride && h.rides[i].ride < s.end_ride; })) way[i + 1] = h.rides[i].distance_m;
    for (const StayRow& s : stays)
        if (s.elsewhere_m > 0) way[static_cast<std::size_t>(std::count_if(h.rides.begin(), h.rides.end(), [&](const RiddenRow& r) { return r.ride < s.first_ride; }))] += s.elsewhere_m;
    for (std::size_t i = 1; i < way.size(); ++i) way[i] += way[i - 1];
    return way;
}

namespace {
// Out of the papers nobody knows the numbers of rides.
std::string when(const ThicknessRow& r) { return r.any_time && r.day ? "on " + format_day(*r.day) : fmt::format("after ride {}", r.ride); }
}  // namespace

std::vector<Question> questions_of(const History& h) {
    constexpr long long_after_days = 3 * 365;   // a house rule, as for dates of rides
    std::vector<Question> out;
    // The newest reading of a part before a ride, or of an earlier day with no ride between.
    const auto last = [&](Component c, const ThicknessRow& now) -> const ThicknessRow* {
        const ThicknessRow* found = nullptr;
        for (const ThicknessRow& r : h.readings)
            if (r.component == c && r.set == now.set && (r.ride < now.ride || (r.ride == now.ride && r.day && now.day && *r.day < *now.day)) &&
                std::none_of(out.begin(), out.end(), [&](const Question& q) { return &h.readings[q.reading] == &r && q.why == Question::Why::thicker_than_new; })) found = &r;   // one that was thicker than new hides no growth
        return found;
    };
    const auto fitted = [&](const ThicknessRow& r) {
        return *std::find_if(h.fitted.begin(), h.fitted.end(), [&](const FittedRow& f) { return f.component == r.component && f.set == r.set; });
    };
    const auto spread = [](const ThicknessRow& r) { return std::hypot(r.sd_mm, r.resolution_mm / std::sqrt(12.0)); };
    for (std::size_t i = 0; i < h.readings.size(); ++i) {
        const ThicknessRow& r = h.readings[i];
        const FittedRow f = fitted(r);
        std::string part(word_of(r.component));
        std::replace(part.begin(), part.end(), '_', ' ');
        const std::string what = fmt::format("{}, set '{}', {}: {:g} mm", part, r.set, when(r), r.thickness_mm);
        // An inch figure in a column of millimetres reads 25.4 times too small; 3: three standard uncertainties.
        if (const double in_mm = r.thickness_mm * 25.4; r.thickness_mm > 0 && r.thickness_mm < 0.2 * f.limit_mm && in_mm <= f.new_mm * 1.1)
            out.push_back({i, fmt::format("{}; is that in inches? It would be {:.2f} mm.", what, in_mm), Question::Why::unit});
        else if (r.thickness_mm > f.new_mm + 3 * std::hypot(spread(r), f.new_sd_mm >= 0 ? f.new_sd_mm : is_rotor(r.component) ? 0.03 : 0.15))
            out.push_back({i, fmt::format("{}, and new it had {:g} mm. {}", what, f.new_mm,
                                          is_rotor(r.component) ? "Is the place and the unit right?" : "Is that with the plate, or another set?"), Question::Why::thicker_than_new});
        else if (r.thickness_mm > 0 && r.thickness_mm < f.limit_mm && std::any_of(h.readings.begin(), h.readings.end(), [&](const ThicknessRow& o) {
                     // Others of its kind that day, or it before, read some ten times as much.
                     const bool beside = o.ride == r.ride && is_rotor(o.component) == is_rotor(r.component), of_it = o.component == r.component && o.set == r.set && o.ride < r.ride;
                     return (beside || of_it) && o.thickness_mm > 5 * r.thickness_mm && o.thickness_mm < 20 * r.thickness_mm;
                 }))
            out.push_back({i, fmt::format("{}, and others read some ten times as much; is that in centimetres? It would be {:g} mm.", what, 10 * r.thickness_mm), Question::Why::unit});
        if (!h.rides.empty() && r.ride > h.rides.back().ride)
            out.push_back({i, fmt::format("{}, and the last ride is {}: are rides missing, or is the number wrong?", what, h.rides.back().ride), Question::Why::when});
        else if (const auto ridden = std::find_if(h.rides.rbegin(), h.rides.rend(), [](const RiddenRow& x) { return x.day.has_value(); });
                 ridden != h.rides.rend() && r.day && *r.day > *ridden->day + long_after_days)
            out.push_back({i, fmt::format("{} on {}, and the last ride is of {}: is the date right?", what, format_day(*r.day), format_day(*ridden->day)), Question::Why::when});
        const ThicknessRow* before = last(r.component, r);
        if (before && r.thickness_mm > before->thickness_mm + 3 * std::hypot(spread(r), spread(*before))) {
            std::string text = fmt::format("{}, and {:g} mm {}. A part does not grow: measure again", what, before->thickness_mm, when(*before));
            // Left and right changed over: both jump, and each fits where the other was.
            const int c = static_cast<int>(r.component);
            if (!is_rotor(r.component)) {
                const auto other = static_cast<Component>(c % 3 == 0 ? c + 1 : c - 1);
                const ThicknessRow* theirs = last(other, r);
                if (theirs && r.thickness_mm <= theirs->thickness_mm + 3 * std::hypot(spread(r), spread(*theirs)))
                    text += "; it would fit the pad on the other side: are left and right changed over?";
                else text += "; a resin pad that was hot swells for good, so its growth is no wear taken back.";
            } else text += ".";
            out.push_back({i, text, Question::Why::grew, static_cast<std::size_t>(before - h.readings.data())});
        }
    }
    return out;
}

}  // namespace bw::wear
