// SPDX-License-Identifier: Apache-2.0
// Finding stops in a recording and fitting a planned stop to each.                                        Layer: stop
// Theory: docs/models/stop.md [EQ stop-32].
#include "stop/recorded.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <array>
#include <cmath>
#include <numbers>
#include <optional>

#include "balance/balance.hpp"
#include "base/sampling.hpp"
#include "ride/describe.hpp"

namespace bw::stop {

namespace {

// Recorders smooth over up to this; how much none of them says.
constexpr std::array<double, 6> smear_s = {0, 0.4, 0.8, 1.2, 1.6, 2.0};
constexpr double longest_step_s = 2.01, held_s = 3, least_mps2 = 0.8, least_from_mps = 3, most_turn_deg = 25, most_grade = 0.02, road_grade_sd = 0.015, altitude_end_m = 0.5, looked_back_s = 25, smear_over_kept = 1.4;

enum class Source { speed, way };   // the recorder's own speed, or the way between two records

//! A speed at a time, or the mean speed since the record before.
struct Sample {
    double t_s = 0, step_s = 0, speed_mps = 0;
};

//! A planned stop with speed 1 before it: a rise of the force, then constant, halting at 0.
class Shape {
public:
    Shape(double length_s, double rise_s) : length_(length_s), rise_(std::min(rise_s, length_s)), decel_(1 / (length_s - rise_ / 2)) {
        const double rest = length_ - rise_;
        way_ = length_ - decel_ * (rise_ * rise_ / 6 + rise_ * rest / 2 + rest * rest / 2);
    }
    double way() const { return way_; }
    double at(double t) const {   // place, 0 where it halts
        if (t >= 0) return 0;
        if (-t <= length_ - rise_) return -decel_ * t * t / 2;
        const double in = length_ + t;   // since the braking began
        return in < 0 ? in - way_ : in - decel_ * in * in * in / (6 * rise_) - way_;
    }

private:
    double length_, rise_, decel_, way_ = 0;
};

// Place as a recorder that smears over w sees it.
double smeared(const Shape& shape, double t, double w) {
    if (w <= 0) return shape.at(t);
    double sum = 0;
    for (const double part : {-0.4, -0.2, 0.0, 0.2, 0.4}) sum += shape.at(t + part * w);
    return sum / 5;
}

double seen(const Shape& shape, const Sample& s, double halt_s, double w, Source source) {
    constexpr double short_s = 0.05;
    const double back = source == Source::way ? s.step_s : short_s, to = s.t_s - halt_s + (source == Source::way ? 0.0 : short_s / 2);
    return (smeared(shape, to, w) - smeared(shape, to - back, w)) / back;
}

struct Moments {
    double weight = 0, way = 0, way2 = 0, from = 0, from2 = 0, length = 0, halt = 0;
};

//! Sums over stop length and moment of halting, for each smear. way: per speed before [s].
std::array<Moments, smear_s.size()> fit(const std::vector<Sample>& samples, double length_s, double halt_s, const ProofTerms& terms, Source source) {
    // Noise of a sample as thought beforehand, worth so many samples.
    const double noise_mps = source == Source::speed ? 0.15 : 0.4, worth = 4;
    const double n = static_cast<double>(samples.size());
    struct Point {
        std::size_t smear;
        double rss, way, from, from_var, length, halt;
    };
    std::vector<Point> points;
    double least = 1e300;
    for (std::size_t k = 0; k < smear_s.size(); ++k)
        for (int i = 0; i < 48; ++i) {
            const double length = 0.5 * std::pow((2.5 * length_s + 2) / 0.5, i / 47.0);
            const Shape shape(length, terms.rise_s);
            for (double halt = halt_s - length_s / 2 - 2; halt <= halt_s + 1.5; halt += 0.1) {
                double uu = 0, uv = 0, vv = 0;
                for (const Sample& s : samples) {
                    const double u = seen(shape, s, halt, smear_s[k], source);
                    uu += u * u, uv += u * s.speed_mps, vv += s.speed_mps * s.speed_mps;
                }
                if (!(uu > 0)) continue;
                const double from = uv / uu, rss = std::max(vv - uv * uv / uu, 0.0);
                points.push_back({k, rss, terms.take_up_s + shape.way(), from, 1 / uu, length, halt});
                least = std::min(least, rss);
            }
        }
    std::array<Moments, smear_s.size()> out{};
    const double prior = worth * noise_mps * noise_mps, power = (n - 1 + worth) / 2;
    for (const Point& p : points) {
        const double noise2 = (p.rss + prior) / (n - 1 + worth), w = std::pow((p.rss + prior) / (least + prior), -power);
        Moments& m = out[p.smear];
        m.weight += w, m.way += w * p.way, m.way2 += w * p.way * p.way, m.from += w * p.from, m.from2 += w * (p.from * p.from + p.from_var * noise2), m.length += w * p.length, m.halt += w * p.halt;
    }
    return out;
}

double turn_deg(const ride::Track& track, std::size_t from, std::size_t middle, std::size_t to) {
    const auto heading = [&](std::size_t a, std::size_t b) -> std::optional<double> {
        const double lat = track.latitude_deg[a], north = track.latitude_deg[b] - lat, east = (track.longitude_deg[b] - track.longitude_deg[a]) * std::cos(lat * std::numbers::pi / 180);
        if (!(std::hypot(north, east) > 3 / 111000.0)) return std::nullopt;   // shorter than a position's error
        return std::atan2(east, north);
    };
    const auto a = heading(from, middle), b = heading(middle, to);
    return a && b ? std::abs(std::remainder(*b - *a, 2 * std::numbers::pi)) * 180 / std::numbers::pi : 0;
}

}  // namespace

std::vector<RecordedStop> recorded_stops(const ride::Track& track, const ProofTerms& terms) {
    const std::size_t n = track.size();
    const bool has_speed = !track.speed_mps.empty(), has_place = !track.latitude_deg.empty(), has_way = !track.distance_m.empty();
    const Source source = has_speed ? Source::speed : Source::way;
    std::vector<Sample> all(n);
    for (std::size_t i = 0; i < n; ++i) {
        all[i] = {.t_s = track.t_s[i], .step_s = i > 0 ? track.t_s[i] - track.t_s[i - 1] : 0, .speed_mps = std::nan("")};
        const bool broken = i == 0 || (!track.break_before.empty() && track.break_before[i]);
        if (has_speed) all[i].speed_mps = track.speed_mps[i];
        else if (!broken && has_place) all[i].speed_mps = ride::ground_distance_m(track.latitude_deg[i - 1], track.longitude_deg[i - 1], track.latitude_deg[i], track.longitude_deg[i]) / all[i].step_s;
        else if (!broken && has_way) all[i].speed_mps = (track.distance_m[i] - track.distance_m[i - 1]) / all[i].step_s;
        if (broken) all[i].step_s = 1e9;   // nothing is known of the time before
    }
    const double standing_mps = source == Source::speed ? 0.5 : 1.0;
    std::vector<RecordedStop> out;
    std::vector<std::array<Moments, smear_s.size()>> fits;   // of out, empty weights where there is none
    std::size_t since = 0;   // the halt before this one
    bool rode = false;       // since then
    for (std::size_t h = 1; h < n; ++h) {
        rode = rode || all[h].speed_mps >= least_from_mps;
        if (!rode || !(all[h].speed_mps < standing_mps)) continue;
        rode = false;
        // The speed before: the largest of the medians of three of late; where it was last held.
        double cruise = 0;
        std::size_t first = h;
        while (first > since && all[first].step_s <= longest_step_s && all[h].t_s - all[first - 1].t_s <= looked_back_s) --first;
        const auto middle_of = [&](std::size_t i) {
            std::array<double, 3> v = {all[i - 1].speed_mps, all[i].speed_mps, all[i + 1].speed_mps};
            std::sort(v.begin(), v.end());
            return v[1];
        };
        for (std::size_t i = std::max<std::size_t>(first, 1); i + 1 < h; ++i)
            if (std::isfinite(all[i - 1].speed_mps) && std::isfinite(all[i].speed_mps) && std::isfinite(all[i + 1].speed_mps)) cruise = std::max(cruise, middle_of(i));
        since = h;
        if (!(cruise >= least_from_mps)) {
            if (h - first < 3) {   // else it was one wild reading
                out.push_back({.start_s = all[h].t_s, .end_s = all[h].t_s, .from_mps = all[h - 1].speed_mps, .why_not = "The recording breaks off, or has records more than two seconds apart."});
                fits.push_back({});
            }
            continue;
        }
        std::size_t last = h;   // stands on until here
        while (last + 1 < n && all[last + 1].step_s <= longest_step_s && all[last + 1].speed_mps < 1.5 * standing_mps && all[last + 1].t_s - all[h].t_s < 4) ++last;
        std::size_t on = h;
        while (on > first && !(all[on].speed_mps >= 0.9 * cruise)) --on;
        RecordedStop r{.start_s = all[on].t_s, .end_s = all[h].t_s, .from_mps = cruise, .grade_sd = road_grade_sd, .why_not = {}};
        fits.push_back({});
        const double length = std::max(all[h].t_s - all[on].t_s, 1.0);
        std::size_t begin = on;
        while (begin > first && all[on].t_s - all[begin - 1].t_s <= held_s + 2) --begin;
        std::vector<double> before;
        for (std::size_t i = begin; i <= on; ++i)
            if (std::isfinite(all[i].speed_mps)) before.push_back(all[i].speed_mps);   // on itself always is, unless nothing was held
        const double rough_mps2 = cruise / length;
        double grade = 0;
        if (!track.altitude_m.empty()) {
            double way = 0;
            for (std::size_t i = begin + 1; i <= h; ++i) way += std::max(all[i].speed_mps, 0.0) * all[i].step_s;
            if (way > 20 && std::isfinite(track.altitude_m[begin]) && std::isfinite(track.altitude_m[h])) {
                grade = (track.altitude_m[h] - track.altitude_m[begin]) / way;
                // Two normal laws: what the altitude says over this short way, and what the road of a stop is anyway.
                const double error = std::sqrt(2.0) * altitude_end_m / way, road2 = road_grade_sd * road_grade_sd, both2 = road2 + error * error;
                r.grade = grade * road2 / both2, r.grade_sd = std::sqrt(road2 / both2) * error;
            }
        }
        const double turned = has_place ? turn_deg(track, begin, on, h) : 0;
        if (before.empty() || all[on].t_s - all[begin].t_s < held_s) r.why_not = "The recording breaks off or the bike had only just got going: three seconds of even speed before the stop are needed.";
        else if (last == h || all[last].t_s - all[h].t_s < 1) r.why_not = "The bike did not stand for a second, or the recording pauses there: stand until it goes on.";
        else if (*std::max_element(before.begin(), before.end()) - *std::min_element(before.begin(), before.end()) > (source == Source::speed ? 0.2 : 0.35) * cruise) r.why_not = "The speed was not held before the stop.";
        else if (rough_mps2 < least_mps2) r.why_not = fmt::format("Too gentle: about {:.1f} m/s²; air and road do too much of it.", rough_mps2);
        else if (turned > most_turn_deg) r.why_not = fmt::format("Not straight: the way turns by {:.0f} degrees.", turned);
        else if (std::abs(grade) > most_grade) r.why_not = fmt::format("Not level: the recorded altitude says {:+.0f} %.", 100 * grade);
        else {
            std::vector<Sample> part;   // a record without a speed is left out
            for (std::size_t i = begin; i <= last; ++i)
                if (std::isfinite(all[i].speed_mps)) part.push_back(all[i]);
            fits.back() = fit(part, length, all[h].t_s, terms, source);
        }
        out.push_back(std::move(r));
    }
    // One recorder, one smear: what all stops together say of it, at half weight, for no recorder is as simple.
    std::array<double, smear_s.size()> log_weight{};
    for (const auto& f : fits)
        for (std::size_t k = 0; k < smear_s.size(); ++k)
            if (f[0].weight > 0) log_weight[k] += 0.5 * std::log(std::max(f[k].weight, 1e-300));
    const double most = *std::max_element(log_weight.begin(), log_weight.end());
    for (std::size_t i = 0; i < out.size(); ++i) {
        RecordedStop& r = out[i];
        if (!(fits[i][0].weight > 0)) continue;
        double sum = 0, way = 0, own = 0, shared = 0, from = 0, from2 = 0, length = 0, halt = 0;
        for (std::size_t k = 0; k < smear_s.size(); ++k) {
            const Moments& m = fits[i][k];
            if (!(m.weight > 0)) continue;
            const double w = std::exp(log_weight[k] - most), mean = m.way / m.weight;
            sum += w, way += w * mean, own += w * std::max(m.way2 / m.weight - mean * mean, 0.0), shared += w * mean * mean, from += w * m.from / m.weight, from2 += w * m.from2 / m.weight, length += w * m.length / m.weight, halt += w * m.halt / m.weight;
        }
        way /= sum, from /= sum;
        r.from_mps = from;
        r.from_sd_mps = std::max(std::sqrt(std::max(from2 / sum - from * from, 0.0)), 0.05);
        r.end_s = halt / sum;
        r.start_s = r.end_s - length / sum;
        r.distance_m = from * way;
        r.distance_sd_m = std::max(from * std::sqrt(own / sum), 0.1);
        const double smeared_s = std::sqrt(std::max(shared / sum - way * way, 0.0)), share = std::hypot(r.distance_sd_m, from * std::max(smeared_s, terms.recorder_kept_s)) / r.distance_m;
        r.shared_sd_m = from * terms.recorder_kept_s;
        // The estimator knows one smear for all recorders: a stop that this recording smears more is left out.
        const bool short_one = smeared_s > smear_over_kept * terms.recorder_kept_s;
        r.usable = share < 1.0 / 3 && !short_one;
        if (short_one) r.why_not = fmt::format("Too short for this recording: {:.1f} s, and nobody knows how far the recorder smears it. Stop from a higher speed, or measure with a tape.", r.end_s - r.start_s);
        else if (!r.usable) r.why_not = fmt::format("The recording knows the distance only to {:.0f} %: stop from a higher speed, or measure with a tape.", 100 * share);
    }
    return out;
}

std::string words_of(const RecordedStop& r, std::size_t number, bool with_distance) {
    const int at = static_cast<int>(std::lround(r.start_s));
    std::string text = fmt::format("{}. after {}:{:02}:{:02}, from {:.0f} km/h", number, at / 3600, at / 60 % 60, at % 60, 3.6 * r.from_mps);
    if (!r.usable) return text + ": cannot stand as a proof stop. " + r.why_not;
    if (!with_distance) return text + ": can stand as a proof stop; no distance is given for a bike that is held back.";
    return text + fmt::format(" over {:.1f} m, known to {:.1f} m (one standard deviation; {:.1f} m of it alike in all stops of this recorder).", r.distance_m, std::hypot(r.distance_sd_m, r.shared_sd_m), r.shared_sd_m);
}

ProofStop proof_stop_of(const RecordedStop& r, long day, std::string name, Brakes wheel, std::optional<double> lever_force_N, Surface surface) {
    ProofStop s;
    s.day = day;
    s.stop = std::move(name);
    s.wheel = wheel;
    s.from_mps = r.from_mps;
    s.distance_m = r.distance_m;
    s.lever_force_N = lever_force_N;
    s.surface = surface;
    s.way = WayMeasured::recorded;
    s.from_sd_mps = r.from_sd_mps;
    s.grade = r.grade;
    // What the slope may be beside that lengthens or shortens the stop by g sd / b of its way.
    const double b_mps2 = r.from_mps * r.from_mps / (2 * r.distance_m);
    s.distance_sd_m = std::hypot(r.distance_sd_m, r.distance_m * balance::gravity_mps2 * r.grade_sd / b_mps2);
    return s;
}

}  // namespace bw::stop
