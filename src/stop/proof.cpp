// SPDX-License-Identifier: Apache-2.0
// Proof stops: the gain and the alarm, out of readings that err in known ways.                            Layer: stop
#include "stop/proof.hpp"

#include <Eigen/Dense>
#include <algorithm>
#include <boost/math/distributions/students_t.hpp>
#include <boost/math/tools/toms748_solve.hpp>
#include <cassert>
#include <cmath>
#include <fmt/format.h>
#include <limits>
#include <map>
#include <set>

#include "base/sampling.hpp"

namespace bw::stop {

namespace {

// Degrees of freedom that the assumed scatter from stop to stop is worth.
constexpr double scatter_dof = 12;
constexpr double air_density_kg_m3 = 1.2;

//! All that decides how long a stop is.
struct Conditions {
    double from_mps, distance_m, time_s;
    double slope_mps2, wind_mps, take_up_s, rise_s, drag;
};

struct Run {
    double way_m, time_s;
};
//! Motion from the first movement of the lever to the halt, by small steps. Endless: beyond any way that is told.
Run run_of(const Conditions& c, const ProofBike& bike, double braking_mps2) {
    constexpr double step_s = 0.01;
    const auto loss = [&](double t, double v) {
        const double share = c.rise_s > 0 ? std::clamp((t - c.take_up_s) / c.rise_s, 0.0, 1.0) : t >= c.take_up_s ? 1.0 : 0.0;
        const double air = v + c.wind_mps;
        return share * braking_mps2 + c.slope_mps2 + c.drag * (bike.rolling_mps2 + bike.air_kg_m * air * std::abs(air) / bike.mass_kg);
    };
    double t = 0, v = c.from_mps, way = 0;
    while (t < 200 && way < 1000) {
        const double half = v - loss(t, v) * step_s / 2;
        const double a = loss(t + step_s / 2, half);
        if (v - a * step_s <= 0 && a > 0) return {way + v * v / (2 * a), t + v / a};
        way += v * step_s - a * step_s * step_s / 2;
        v -= a * step_s;
        t += step_s;
    }
    return {1000, 200};
}

enum class Reading { way, time };

std::optional<double> braking_of(const Conditions& c, const ProofBike& bike, Reading reading) {
    // Way and time are nearly straight lines in 1/braking.
    const auto off = [&](double inverse) {
        const Run r = run_of(c, bike, 1 / inverse);
        return reading == Reading::way ? r.way_m - c.distance_m : r.time_s - c.time_s;
    };
    const double low = 1 / 30.0, high = 1 / 0.05;   // outside nothing on two wheels brakes
    const double at_low = off(low), at_high = off(high);
    if (!(at_low <= 0 && at_high >= 0)) return std::nullopt;
    std::uintmax_t most = 60;
    const auto root = boost::math::tools::toms748_solve(off, low, high, at_low, at_high, boost::math::tools::eps_tolerance<double>(40), most);
    return 2 / (root.first + root.second);
}

Conditions conditions_of(const ProofStop& s, const ProofTerms& terms) {
    return {.from_mps = s.from_mps, .distance_m = s.distance_m, .time_s = s.time_s.value_or(0),
            .slope_mps2 = balance::gravity_mps2 * balance::sine_of(s.grade), .wind_mps = 0,
            .take_up_s = terms.take_up_s, .rise_s = terms.rise_s, .drag = 1};
}

bool all_multiples(const std::vector<double>& values, double of) {
    return !values.empty() && std::all_of(values.begin(), values.end(), [of](double v) { return std::abs(v / of - std::round(v / of)) < 1e-6; });
}

//! One reading of one stop: logarithm of the gain, and where its error comes from. [EQ stop-22]
struct Observation {
    std::size_t stop = 0;
    long day = 0;
    bool now = false;
    double log_gain = 0;
    std::map<std::string, double> shared;   //!< error source -> error in log_gain at one standard deviation
    std::map<std::string, double> own;      //!< the same, of this stop alone
};

struct Habits {
    bool paced = false;        //!< ways in whole and half metres
    double force_step_N = 0;   //!< the scale is read to this
};

std::optional<Observation> observation_of(const ProofStop& s, parts::End end, const ProofTerms& t, const ProofBike& bike, Reading reading, const Habits& habits) {
    if (reading == Reading::time && !s.time_s) return std::nullopt;
    const Conditions c = conditions_of(s, t);
    const auto braking = braking_of(c, bike, reading);
    if (!braking) return std::nullopt;
    Observation o;
    o.day = s.day;
    const double lever_N = *s.lever_force_N, above_N = std::max(lever_N - bike.threshold_N, 0.3 * lever_N);
    o.log_gain = std::log(proof_gain_at_reference(end, *braking, lever_N, bike));
    const double reference = proof_reference_mps2(end), x = reference * above_N / *braking, whole = bike.threshold_N + x;
    double by_braking = x / whole, by_force = -reference * lever_N / *braking / whole, by_threshold = -(1 - reference / *braking) / whole;
    if (bike.lever.ratio_at_bar) {   // no closed form: the slopes by differences
        const auto slope = [&](auto at) { return (at(1e-3) - at(-1e-3)) / 2e-3; };
        const auto with = [&](auto change, double d) {
            ProofBike other = bike;
            change(other, d);
            return std::log(proof_gain_at_reference(end, *braking, lever_N, other));
        };
        by_braking = slope([&](double d) { return std::log(proof_gain_at_reference(end, *braking * std::exp(d), lever_N, bike)); });
        by_force = slope([&](double d) { return std::log(proof_gain_at_reference(end, *braking, lever_N * std::exp(d), bike)); });
        by_threshold = slope([&](double d) { return with([](ProofBike& b, double to) { b.threshold_N += to; }, d); });
        o.shared["give"] = bike.travel_sd_mm * slope([&](double d) { return with([](ProofBike& b, double to) { b.travel_mm += to; }, d); });
    }
    // How the braking moves when one thing of the stop is not as told.
    const auto moved = [&](auto change, double sd) {
        Conditions other = c;
        change(other, sd);
        const auto b = braking_of(other, bike, reading);
        return b ? by_braking * std::log(*b / *braking) : by_braking * sd;
    };
    const auto speed = [](Conditions& k, double d) { k.from_mps += d; };
    const auto mark = [](Conditions& k, double d) { k.distance_m += k.from_mps * d; };
    const auto way = [](Conditions& k, double d) { k.distance_m += d; };
    const auto clock = [](Conditions& k, double d) { k.time_s += d; };
    const auto take_up = [](Conditions& k, double d) { k.take_up_s += d; };
    const auto rise = [](Conditions& k, double d) { k.rise_s += d; };
    const auto slope = [](Conditions& k, double d) { k.slope_mps2 += balance::gravity_mps2 * d; };
    const auto wind = [](Conditions& k, double d) { k.wind_mps += d; };
    const auto drag = [](Conditions& k, double d) { k.drag += d; };
    const std::string day = "/" + std::to_string(s.day);
    o.shared["speed"] = moved(speed, t.speed_kept * s.from_mps);
    o.own["speed"] = moved(speed, s.from_sd_mps.value_or(t.speed_stop_mps));
    if (reading == Reading::way) {
        const bool recorded = s.way == WayMeasured::recorded;
        if (recorded) {   // no mark was passed; the recorder smears all stops alike
            o.shared["recorder"] = moved(mark, t.recorder_kept_s);
        } else {
            o.shared["mark"] = moved(mark, t.mark_kept_s);
            o.own["mark"] = moved(mark, t.mark_stop_s);
        }
        if (recorded) {
            o.own["recorded"] = moved(way, s.distance_sd_m.value_or(t.recorded_stop_m));
        } else if (s.distance_sd_m) {
            o.own["tape"] = moved(way, *s.distance_sd_m);
        } else if (s.way ? *s.way == WayMeasured::paced : habits.paced) {
            o.shared["pace"] = moved(way, t.pace_kept * s.distance_m);
            o.own["pace"] = moved(way, std::hypot(t.pace_stop * s.distance_m, 0.5 / std::sqrt(12.0)));
        } else {
            o.own["tape"] = moved(way, t.tape_stop_m);
        }
    } else {
        o.shared["clock"] = moved(clock, t.clock_kept_s);
        o.own["clock"] = moved(clock, t.clock_stop_s);
    }
    o.shared["take_up"] = moved(take_up, t.take_up_kept * t.take_up_s);
    o.own["take_up"] = moved(take_up, t.take_up_stop * t.take_up_s);
    o.shared["rise"] = moved(rise, t.rise_kept * t.rise_s);
    o.own["rise"] = moved(rise, t.rise_stop * t.rise_s);
    o.shared["grade"] = moved(slope, t.grade_kept);
    o.shared["grade" + day] = moved(slope, t.grade_day);
    o.shared["wind" + day] = moved(wind, t.wind_day_mps);
    o.own["wind"] = moved(wind, t.wind_stop_mps);
    o.shared["drag"] = moved(drag, t.drag_kept);
    o.shared["scale"] = by_force * t.scale_kept;
    o.shared["scale" + day] = by_force * t.scale_day;
    o.shared["place" + day] = by_force * t.place_day;
    o.own["scale"] = by_force * std::hypot(t.scale_stop, habits.force_step_N / std::sqrt(12.0) / lever_N);
    o.shared["other"] = t.other_kept;
    o.shared["threshold"] = by_threshold * bike.threshold_sd_N;
    o.own["friction"] = by_braking * t.friction_stop;
    return o;
}

//! Generalised least squares of a mean now and a mean before; own_scale: on the variances of single stops.
struct Fit {
    double now = 0, now_var = 0, drop = 0, drop_var = 0;
    Eigen::Matrix2d spread = Eigen::Matrix2d::Zero();   //!< of now and before, without what changes from day to day now
    double chi2 = 0;
    int free = 0;
};
Fit fit_of(const std::vector<Observation>& all, double friction_day, double own_scale) {
    const auto n = static_cast<Eigen::Index>(all.size());
    std::map<std::string, Eigen::VectorXd> shared;
    Eigen::MatrixXd covariance = Eigen::MatrixXd::Zero(n, n);
    Eigen::VectorXd z(n);
    bool before = false;
    for (Eigen::Index i = 0; i < n; ++i) {
        const Observation& o = all[static_cast<std::size_t>(i)];
        z(i) = o.log_gain;
        before = before || !o.now;
        for (const auto& [name, error] : o.shared) shared.try_emplace(name, Eigen::VectorXd::Zero(n)).first->second(i) = error;
        if (!o.now) shared.try_emplace("friction/" + std::to_string(o.day), Eigen::VectorXd::Zero(n)).first->second(i) = friction_day;
        for (Eigen::Index j = 0; j < n; ++j) {
            const Observation& p = all[static_cast<std::size_t>(j)];
            if (p.stop != o.stop) continue;
            for (const auto& [name, error] : o.own)
                if (const auto same = p.own.find(name); same != p.own.end()) covariance(i, j) += own_scale * error * same->second;
        }
    }
    for (const auto& [name, column] : shared) covariance += column * column.transpose();
    const int means = before ? 2 : 1;
    Eigen::MatrixXd h = Eigen::MatrixXd::Zero(n, means);
    for (Eigen::Index i = 0; i < n; ++i) h(i, all[static_cast<std::size_t>(i)].now ? 0 : 1) = 1;
    const Eigen::LDLT<Eigen::MatrixXd> solver(covariance);
    const Eigen::MatrixXd weighted = solver.solve(h);
    const Eigen::MatrixXd spread = (h.transpose() * weighted).inverse();
    const Eigen::VectorXd mean = spread * (weighted.transpose() * z);
    const Eigen::VectorXd rest = z - h * mean;
    Fit f{.now = mean(0), .now_var = spread(0, 0), .chi2 = rest.dot(solver.solve(rest)), .free = static_cast<int>(n) - means};
    if (before) {
        f.spread = spread;
        f.drop = mean(1) - mean(0);
        f.drop_var = spread(0, 0) + spread(1, 1) - 2 * spread(0, 1) + friction_day * friction_day;
    }
    return f;
}

Interval log_interval(double mean, double sd) {
    const double z = normal_quantile(0.95);
    return {.p05 = std::exp(mean - z * sd), .p50 = std::exp(mean), .p95 = std::exp(mean + z * sd)};
}

//! Straight line through the log gains of one day, in the order ridden.
std::optional<Interval> trend_of(const std::vector<Observation>& all, double own_scale) {
    std::vector<double> y, error2;
    for (const Observation& o : all) {
        if (!o.now || o.own.contains("clock")) continue;   // one reading a stop
        y.push_back(o.log_gain);
        double e2 = 0;
        for (const auto& [name, e] : o.own) e2 += e * e;
        error2.push_back(own_scale * e2);
    }
    if (y.size() < 4) return std::nullopt;
    const double n = static_cast<double>(y.size()), middle = (n - 1) / 2;
    double sxx = 0, sxy = 0, var = 0;
    for (std::size_t i = 0; i < y.size(); ++i) {
        const double x = static_cast<double>(i) - middle;
        sxx += x * x;
        sxy += x * y[i];
        var += x * x * error2[i];
    }
    return log_interval(sxy / sxx, std::sqrt(var) / sxx);
}

enum class Alarm { none, raised, stands };
constexpr int clearing_stops = 3;            // stops of a day that may clear an alarm
constexpr std::size_t days_compared = 40;    // settled days that a day is held against, the newest

//! The newest day, held against the days before it on which no alarm stood. [EQ stop-23]
struct Judged {
    std::vector<Observation> seen;   //!< of the newest day and the settled ones
    std::vector<long> settled;       //!< days it is held against, oldest first
    Fit fit;
    double own_scale = 1, bound = 0;
    Alarm alarm = Alarm::none;
    std::optional<long> fell_on, found_again_on;
};
//! Day by day: a bad day must not become the level that the next one is held against. used: stops by day, every day of `all`.
Judged judge(const std::vector<Observation>& all, const std::map<long, int>& used, const ProofTerms& terms) {
    const double fifth = -std::log(0.8);
    std::vector<long> settled;
    Judged j;
    for (const auto& [day, stops] : used) {
        const Alarm before = j.alarm;
        const std::optional<long> fell_on = j.fell_on, found_again_on = j.found_again_on;
        j = {};
        j.fell_on = fell_on, j.found_again_on = found_again_on;
        j.settled.assign(settled.size() > days_compared ? settled.end() - static_cast<std::ptrdiff_t>(days_compared) : settled.begin(), settled.end());
        for (const Observation& o : all)
            if (o.day == day || std::binary_search(j.settled.begin(), j.settled.end(), o.day)) {
                j.seen.push_back(o);
                j.seen.back().now = o.day == day;
            }
        if (j.settled.empty() && day != used.rbegin()->first) {
            settled.push_back(day);
            continue;
        }
        const Fit first = fit_of(j.seen, terms.friction_day, 1);
        j.own_scale = (scatter_dof + first.chi2) / (scatter_dof + first.free);
        j.fit = fit_of(j.seen, terms.friction_day, j.own_scale);
        if (j.settled.empty()) continue;
        j.bound = boost::math::quantile(boost::math::students_t(scatter_dof + first.free), 0.97) * std::sqrt(j.fit.drop_var);
        if (j.fit.drop > j.bound && j.fit.drop > fifth) j.alarm = Alarm::raised;
        else if (before != Alarm::none && (j.fit.drop > fifth || stops < clearing_stops)) j.alarm = Alarm::stands;
        if (j.alarm == Alarm::raised) j.fell_on = day, j.found_again_on.reset();
        if (j.alarm == Alarm::none && j.fell_on && stops >= clearing_stops && j.fit.drop <= fifth) j.found_again_on = day;
        if (j.alarm == Alarm::none) settled.push_back(day);
    }
    return j;
}

//! Prior and stops together [EQ stop-22]: a mixture of normal distributions in the logarithm. The likely cases are sound
//! brakes and some are not; with a history they speak of the brake as it was, and since then it stayed or it fell.
Interval posterior_of(const Fit& fit, const std::vector<double>& likely_logs, const ProofTerms& t, bool history) {
    struct Part {
        double share, mean, var;
    };
    const double sound_mean = likely_logs.empty() ? fit.now : mean_of(likely_logs);
    const double sound_var = likely_logs.size() < 2 ? 1.0 : std::max(sd_of(likely_logs) * sd_of(likely_logs), 1e-4);
    const double fall = std::log(t.unsound), fall_var = t.unsound_sd * t.unsound_sd;
    const Part was[] = {{1 - t.unsound_share, sound_mean, sound_var}, {t.unsound_share, sound_mean + fall, sound_var + fall_var}};
    const Part since[] = {{1 - t.unsound_share, 0, t.friction_day * t.friction_day}, {t.unsound_share, fall, fall_var}};
    std::vector<Part> parts;
    for (const Part& w : was) {
        if (!history) {
            const double all = w.var + fit.now_var, off = fit.now - w.mean;
            parts.push_back({w.share * std::exp(-0.5 * off * off / all) / std::sqrt(all), w.mean + w.var / all * off, w.var * fit.now_var / all});
            continue;
        }
        for (const Part& c : since) {
            Eigen::Matrix2d prior;
            prior << w.var + c.var, w.var, w.var, w.var;
            const Eigen::Vector2d mean(w.mean + c.mean, w.mean), off = Eigen::Vector2d(fit.now, fit.now + fit.drop) - mean;
            const Eigen::Matrix2d all = prior + fit.spread, inverse = all.inverse();
            const Eigen::Matrix2d rest = prior - prior * inverse * prior;
            parts.push_back({w.share * c.share * std::exp(-0.5 * off.dot(inverse * off)) / std::sqrt(all.determinant()), (mean + prior * inverse * off)(0), std::max(rest(0, 0), 1e-8)});
        }
    }
    double low = 1e300, high = -1e300, whole = 0;
    for (const Part& p : parts) {
        whole += p.share;
        low = std::min(low, p.mean - 6 * std::sqrt(p.var));
        high = std::max(high, p.mean + 6 * std::sqrt(p.var));
    }
    if (!(whole > 0)) return log_interval(fit.now, std::sqrt(fit.now_var));   // beyond all that was thought likely
    const auto point = [&](double share) {
        double from = low, to = high;
        for (int i = 0; i < 80; ++i) {
            const double middle = (from + to) / 2;
            double below = 0;
            for (const Part& p : parts) below += p.share / whole * normal_cdf((middle - p.mean) / std::sqrt(p.var));
            (below < share ? from : to) = middle;
        }
        return std::exp((from + to) / 2);
    };
    return {.p05 = point(0.05), .p50 = point(0.50), .p95 = point(0.95)};
}

}  // namespace

ProofTerms proof_terms(const parts::Library& l) {
    const auto v = [&](const char* name) { return l.value(std::string("proof.") + name); };
    return {.take_up_s = v("take_up"), .take_up_kept = v("take_up_kept"), .take_up_stop = v("take_up_stop"),
            .rise_s = v("rise"), .rise_kept = v("rise_kept"), .rise_stop = v("rise_stop"),
            .speed_kept = v("speed_kept"), .speed_stop_mps = v("speed_stop"),
            .mark_kept_s = v("mark_kept"), .mark_stop_s = v("mark_stop"), .tape_stop_m = v("tape_stop"), .recorder_kept_s = v("recorder_kept"), .recorded_stop_m = v("recorded_stop"),
            .pace_kept = v("pace_kept"), .pace_stop = v("pace_stop"),
            .clock_kept_s = v("clock_kept"), .clock_stop_s = v("clock_stop"),
            .scale_kept = v("scale_kept"), .scale_day = v("scale_day"), .scale_stop = v("scale_stop"), .place_day = v("place_day"),
            .grade_kept = v("grade_kept"), .grade_day = v("grade_day"), .wind_day_mps = v("wind_day"), .wind_stop_mps = v("wind_stop"),
            .drag_kept = v("drag_kept"), .friction_day = v("friction_day"), .friction_stop = v("friction_stop"), .new_pads = v("new_pads"), .new_pads_mean = v("new_pads_mean"), .first_of_day = v("first_of_day"), .other_kept = v("other_kept"),
            .unsound_share = v("unsound_share"), .unsound = v("unsound"), .unsound_sd = v("unsound_sd")};
}

ProofBike proof_bike(const parts::Bike& bike, parts::End end, std::span<const double> threshold_N, std::span<const double> travel_mm) {
    ProofBike b;
    const double radius_m = bike.wheel_radius_m.value;
    b.mass_kg = bike.total_mass_kg.value + bike.wheel_inertia_kgm2.value / (radius_m * radius_m);
    b.air_kg_m = 0.5 * air_density_kg_m3 * bike.drag_area_m2.value;
    b.rolling_mps2 = balance::gravity_mps2 * bike.rolling_resistance.value;
    b.threshold_N = quantile(threshold_N, 0.5);
    b.threshold_sd_N = sd_of(threshold_N);
    b.lever = bike.wheel(end).lever;
    b.travel_mm = quantile(travel_mm, 0.5);
    b.travel_sd_mm = sd_of(travel_mm);
    return b;
}

std::optional<double> proof_braking_mps2(const ProofStop& stop, const ProofTerms& terms, const ProofBike& bike) {
    return braking_of(conditions_of(stop, terms), bike, Reading::way);
}
std::optional<double> proof_braking_by_time_mps2(const ProofStop& stop, const ProofTerms& terms, const ProofBike& bike) {
    if (!stop.time_s) return std::nullopt;
    return braking_of(conditions_of(stop, terms), bike, Reading::time);
}

double proof_reference_mps2(parts::End end) { return end == parts::End::front ? 2.0 : 1.2; }

double proof_gain_at_reference(parts::End end, double braking_mps2, double lever_N, const ProofBike& bike) {
    const double reference = proof_reference_mps2(end), above_N = std::max(lever_N - bike.threshold_N, 0.3 * lever_N);
    return reference / lever_force_for_share(bike.lever, {.threshold_N = bike.threshold_N, .travel_mm = bike.travel_mm}, lever_N, above_N, reference / braking_mps2);
}

double proof_expected_gain(const parts::Bike& bike, parts::End end, const StopUnknowns& u) {
    const double radius_m = bike.wheel_radius_m.value;
    const double mass_kg = bike.total_mass_kg.value + bike.wheel_inertia_kgm2.value / (radius_m * radius_m);
    const double reference = proof_reference_mps2(end);
    const double lever_N = lever_force_for(bike, end, u.brake(end), u.brake(end).friction, mass_kg * reference);
    return std::isfinite(lever_N) ? reference / lever_N : 0;
}

ProofGain proof_gain(std::span<const ProofStop> stops, parts::End wheel, const ProofTerms& terms, const ProofBike& bike, const ProofPrior& likely) {
    assert(!likely.gain.empty() && likely.hand_N.size() == likely.gain.size());
    ProofGain answer;
    answer.expected = interval_of(likely.gain);
    const Brakes brakes = wheel == parts::End::front ? Brakes::front : Brakes::rear;
    // The proof is the newest day that measures: what says nothing of the brake (wet, no lever force) takes no day's place.
    constexpr long never = std::numeric_limits<long>::min();
    const auto braking_at = [&](const ProofStop& s) { return s.surface == Surface::wet ? std::nullopt : proof_braking_mps2(s, terms, bike); };
    long newest = never, measured = never;
    std::map<long, std::pair<std::vector<double>, std::vector<double>>> readings;   // by day: ways, forces
    for (const ProofStop& s : stops) {
        if (s.wheel != brakes) continue;
        newest = std::max(newest, s.day);
        if (s.lever_force_N && s.day > measured && braking_at(s)) measured = s.day;
        readings[s.day].first.push_back(s.distance_m);
        if (s.lever_force_N) readings[s.day].second.push_back(*s.lever_force_N);
    }
    // With both brakes a stop tells neither.
    for (const ProofStop& s : stops) answer.left_out += s.wheel == Brakes::both && s.day >= std::max(measured, never + 1);
    const bool later = measured != never && newest > measured;   // stops since then that measure nothing
    if (measured != never) newest = measured;
    std::vector<Observation> all;
    double most_mps2 = 0;   // of the newest day, whatever the squeeze
    std::set<long> seen;    // days
    std::map<long, int> used;   // stops with a lever force by day
    int told = 0;           // stops of this wheel so far
    for (std::size_t k = 0; k < stops.size(); ++k) {
        const ProofStop& s = stops[k];
        if (s.wheel != brakes) continue;
        const bool now = s.day == newest, first_of_day = !seen.contains(s.day);
        seen.insert(s.day);
        const auto braking = braking_at(s);
        ProofRow row{.day = s.day, .stop = s.stop, .from_mps = s.from_mps, .distance_m = s.distance_m, .braking_mps2 = braking.value_or(0), .gain = {}};
        if (braking && now) most_mps2 = std::max(most_mps2, *braking);
        if (braking && s.lever_force_N) {
            row.gain = proof_gain_at_reference(wheel, *braking, *s.lever_force_N, bike);
            row.used = true;
            const Habits habits{.paced = all_multiples(readings[s.day].first, 0.5), .force_step_N = all_multiples(readings[s.day].second, 5) ? 5.0 : 1.0};
            for (const Reading reading : {Reading::way, Reading::time}) {
                auto o = observation_of(s, wheel, terms, bike, reading, habits);
                if (!o) continue;
                o->stop = k;
                // The first stops ever told may be on pads that were not bedded yet; the first of a day finds them cold.
                if (told < 3) {
                    o->own["new pads"] = terms.new_pads / (told + 1);
                    o->log_gain += terms.new_pads_mean / (told + 1);
                }
                if (first_of_day) o->log_gain += terms.first_of_day;
                all.push_back(*std::move(o));
            }
            ++used[s.day];
        } else if (s.day >= newest) {
            ++answer.left_out;
        }
        ++told;
        if (braking || s.surface == Surface::wet) answer.rows.push_back(std::move(row));
    }
    if (measured == never) {
        if (most_mps2 <= 0) {
            answer.text = "No dry stop on the newest day: no gain.";
            return answer;
        }
        // Without a scale a stop says only that this hand was strong enough for it.
        std::vector<double> weights(likely.gain.size());
        for (std::size_t i = 0; i < weights.size(); ++i)
            weights[i] = 1e-9 + (likely.gain[i] > 0 ? normal_cdf(std::log(likely.gain[i] * likely.hand_N[i] / most_mps2) / 0.15) : 0);
        answer.gain = interval_of(likely.gain, weights);
        answer.text = "No lever force was read on the newest day: the stops say only that this hand could do them. A spring scale on the lever tells the brake.";
        return answer;
    }
    answer.measured = true;
    answer.stops = used[newest];
    const Judged last = judge(all, used, terms);
    for (const long day : last.settled) answer.history_stops += used[day];
    const Fit& fit = last.fit;
    answer.stops_log = fit.now;
    answer.stops_log_sd = std::sqrt(fit.now_var);
    answer.trend = trend_of(last.seen, last.own_scale);

    std::vector<double> logs;
    for (const double g : likely.gain)
        if (g > 0) logs.push_back(std::log(g));
    answer.gain = posterior_of(fit, logs, terms, !last.settled.empty());

    const std::string since = later ? " Stops since that day had no lever force or were wet: they change nothing in this." : "";
    if (last.settled.empty()) {
        answer.text = "No earlier proof stops with a lever force: nothing to compare with yet." + since;
        return answer;
    }
    answer.change = log_interval(-fit.drop, std::sqrt(fit.drop_var));
    answer.alarm = last.alarm != Alarm::none;
    answer.fell_on = last.fell_on, answer.found_again_on = last.found_again_on;
    const double percent = 100 * (1 - std::exp(-fit.drop));
    const std::string look = "Look for oil, glazing, air, a worn pad.";
    const std::string_view name = parts::word_of(wheel);
    if (last.alarm == Alarm::raised) answer.text = fmt::format("Do not ride: the {} brake has lost bite. It bites {:.0f} % less than before. {}", name, percent, look);
    else if (last.alarm == Alarm::stands)
        answer.text = fmt::format("Do not ride: the {} brake has lost bite on an earlier day, and the newest does not clear it. {} {} stops with a lever force on one day that are no more than a fifth below clear it; these {} are at {:+.0f} %.",
                                  name, look, clearing_stops, answer.stops, -percent);
    else answer.text = fmt::format("{:+.0f} % against earlier stops; chance alone explains up to {:.0f} % less.", -percent, 100 * (1 - std::exp(-last.bound)));
    answer.text += since;
    return answer;
}

}  // namespace bw::stop
