// SPDX-License-Identifier: Apache-2.0
// Proof stops: reading them, the gain, the alarm.                                                         Layer: stop
#include "stop/proof.hpp"

#include <algorithm>
#include <boost/math/distributions/students_t.hpp>
#include <cassert>
#include <cmath>
#include <fmt/format.h>
#include <map>

#include "base/sampling.hpp"
#include "base/text.hpp"
#include "base/time.hpp"

namespace bw::stop {

namespace {

// Degrees of freedom that the assumed scatter from stop to stop is worth.
constexpr double scatter_dof = 6;

struct Spread {
    double mean = 0, sd = 0;
};
Spread log_spread(std::span<const double> values, std::span<const double> weights) {
    double all = 0, sum = 0, square = 0;
    for (std::size_t i = 0; i < values.size(); ++i) {
        const double w = weights.empty() ? 1.0 : weights[i], x = std::log(values[i]);
        all += w;
        sum += w * x;
        square += w * x * x;
    }
    const double mean = sum / all;
    return {.mean = mean, .sd = std::sqrt(std::max(square / all - mean * mean, 0.0))};
}

double sum_of_squares(const std::vector<double>& x) {
    if (x.size() < 2) return 0;
    const double mean = mean_of(x);
    double sum = 0;
    for (const double v : x) sum += (v - mean) * (v - mean);
    return sum;
}

}  // namespace

Result<std::vector<ProofStop>> read_proof_stops(std::string_view text, const std::string& name) {
    const std::vector<std::string> known = {"date", "stop", "wheel", "from_mps", "distance_m", "time_s", "lever_force_N", "surface", "grade"};
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
        stops.push_back(std::move(s));
    }
    if (columns.empty()) return Error{Errc::bad_input, fmt::format("{}: empty; expected a first line with the columns", name)};
    return stops;
}

ProofTerms proof_terms(const parts::Library& library) {
    return {.take_up_s = library.value("rider.take_up"),
            .rise_s = library.value("rider.rise"),
            .stop_sd_log = library.value("proof.stop_scatter"),
            .scale_sd_log = library.value("proof.scale_error")};
}

std::optional<double> proof_braking_mps2(const ProofStop& stop, const ProofTerms& terms) {
    const double slope = balance::gravity_mps2 * balance::sine_of(stop.grade);
    const auto distance = [&](double braking) {
        return brake_distance_m({.from_mps = stop.from_mps, .braking_mps2 = braking, .slope_mps2 = slope,
                                 .take_up_s = terms.take_up_s, .rise_s = terms.rise_s});
    };
    double low = 0.05, high = 30;   // outside nothing on two wheels brakes
    const auto longest = distance(low), shortest = distance(high);
    if (!shortest || *shortest > stop.distance_m || (longest && *longest < stop.distance_m)) return std::nullopt;
    for (int i = 0; i < 60; ++i) {
        const double middle = std::sqrt(low * high);
        const auto d = distance(middle);
        (!d || *d > stop.distance_m ? low : high) = middle;
    }
    const double by_distance = std::sqrt(low * high);
    if (!stop.time_s) return by_distance;
    const double full_s = *stop.time_s - terms.take_up_s - terms.rise_s / 2;
    if (full_s <= 0) return by_distance;
    const double by_time = (stop.from_mps - slope * *stop.time_s) / full_s;
    return by_time > 0 ? (by_distance + by_time) / 2 : by_distance;
}

double proof_expected_gain(const parts::Bike& bike, parts::End end, const StopUnknowns& u, double lever_N) {
    const BrakeUnknowns& brake = u.brake(end);
    return tyre_force_from(bike, end, brake, brake.friction, lever_N) / bike.total_mass_kg.value / lever_N;
}

ProofGain proof_gain(std::span<const ProofStop> stops, parts::End wheel, const ProofTerms& terms, std::span<const double> expected,
                     std::span<const double> weights) {
    assert(!expected.empty() && (weights.empty() || weights.size() == expected.size()));
    ProofGain answer;
    answer.expected = weights.empty() ? interval_of(expected) : interval_of(expected, weights);
    const Brakes brakes = wheel == parts::End::front ? Brakes::front : Brakes::rear;
    long newest = 0;
    bool any = false;
    for (const ProofStop& s : stops) {
        if (s.wheel != brakes) continue;
        newest = any ? std::max(newest, s.day) : s.day;
        any = true;
    }
    std::vector<double> now;
    std::map<long, std::vector<double>> before;   // by day: the scale's error is shared within one
    for (const ProofStop& s : stops) {
        if (s.wheel != brakes) continue;
        const auto braking = proof_braking_mps2(s, terms);
        if (!braking || !s.lever_force_N || s.surface == Surface::wet) {
            if (s.day == newest) ++answer.left_out;
            continue;
        }
        (s.day == newest ? now : before[s.day]).push_back(std::log(*braking / *s.lever_force_N));
    }
    answer.stops = static_cast<int>(now.size());
    for (const auto& [day, gains] : before) answer.history_stops += static_cast<int>(gains.size());
    if (now.empty()) {
        answer.text = "No dry stop with a lever force on the newest day: no gain.";
        return answer;
    }

    double squares = sum_of_squares(now), dof = static_cast<double>(now.size()) - 1;
    for (const auto& [day, gains] : before) {
        squares += sum_of_squares(gains);
        dof += static_cast<double>(gains.size()) - 1;
    }
    const double s2 = (scatter_dof * terms.stop_sd_log * terms.stop_sd_log + squares) / (scatter_dof + dof);
    const double day2 = terms.scale_sd_log * terms.scale_sd_log;
    const double mean = mean_of(now), mean2 = s2 / static_cast<double>(now.size()) + day2;
    answer.stops_log = mean;
    answer.stops_log_sd = std::sqrt(mean2);
    Spread prior;
    std::vector<double> positive, positive_weights;
    for (std::size_t i = 0; i < expected.size(); ++i) {
        if (expected[i] <= 0) continue;   // the lever force stays under that case's threshold
        positive.push_back(expected[i]);
        positive_weights.push_back(weights.empty() ? 1.0 : weights[i]);
    }
    double log_mean = mean, log_sd = std::sqrt(mean2);
    if (!positive.empty()) {
        prior = log_spread(positive, positive_weights);
        if (prior.sd > 0) {
            const double trust = prior.sd * prior.sd / (prior.sd * prior.sd + mean2);
            log_mean = prior.mean + trust * (mean - prior.mean);
            log_sd = std::sqrt(trust * mean2);
        }
    }
    const double z = normal_quantile(0.95);
    answer.gain = Interval{.p05 = std::exp(log_mean - z * log_sd), .p50 = std::exp(log_mean), .p95 = std::exp(log_mean + z * log_sd)};

    if (before.empty()) {
        answer.text = "No earlier proof stops: nothing to compare with yet.";
        return answer;
    }
    // Mean of the days, each with its own scale error.
    double weight = 0, history = 0;
    for (const auto& [day, gains] : before) {
        const double w = 1 / (s2 / static_cast<double>(gains.size()) + day2);
        weight += w;
        history += w * mean_of(gains);
    }
    history /= weight;
    const double drop = history - mean, sd = std::sqrt(mean2 + 1 / weight);
    const double bound = boost::math::quantile(boost::math::students_t(scatter_dof + dof), 0.995) * sd;
    answer.alarm = drop > bound && drop > -std::log(0.8);
    const double percent = 100 * (1 - std::exp(-drop));
    answer.text = answer.alarm
                      ? fmt::format("The brake bites {:.0f} % less than before. Do not ride; look for oil, glazing, air, a worn pad.", percent)
                      : fmt::format("{:+.0f} % against earlier stops; chance alone explains up to {:.0f} % less.", -percent,
                                    100 * (1 - std::exp(-bound)));
    return answer;
}

}  // namespace bw::stop
