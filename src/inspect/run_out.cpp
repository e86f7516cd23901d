// SPDX-License-Identifier: Apache-2.0
// Run-out: harmonics and bends by least squares, over all the ways to explain a turn.                    Layer: inspect
// Theory: docs/models/inspect.md [EQ inspect-6..11]. Reversible-jump sampling: Green, Biometrika 82 (1995) 711.
#include "inspect/run_out.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <map>
#include <numbers>

#include "base/sampling.hpp"

namespace bw::inspect {

namespace {

constexpr double pi = std::numbers::pi;
constexpr double radians = pi / 180;
constexpr int most_bends = 5;
constexpr int first_bend = 7;                          // columns: mean, tilt 2, saddle 2, arms 2, bends
constexpr int columns_most = first_bend + most_bends;
constexpr int angles_most = 72;
constexpr double short_foot = -0.6, long_foot = 0.4;  // cosine about -0.3, sech^2 about 0.2
constexpr int shape_step_deg = 5;
constexpr int shape_points = 360 / shape_step_deg;

double turned(double deg) {   // -180..180
    return deg - 360 * std::round(deg / 360);
}

struct Random {
    std::uint64_t seed, at = 0;
    double uniform() { return uniform_of(seed, 0x52756e4f7574, at++, 0); }
    double normal() { return normal_quantile(uniform()); }
    int below(int n) { return std::min(n - 1, static_cast<int>(uniform() * n)); }
};

// Lower triangle in place; false if the matrix is not positive definite.
bool cholesky(double* a, int n, int stride) {
    for (int j = 0; j < n; ++j) {
        double d = a[j * stride + j];
        for (int k = 0; k < j; ++k) d -= a[j * stride + k] * a[j * stride + k];
        if (!(d > 0)) return false;
        d = std::sqrt(d);
        a[j * stride + j] = d;
        for (int i = j + 1; i < n; ++i) {
            double s = a[i * stride + j];
            for (int k = 0; k < j; ++k) s -= a[i * stride + k] * a[j * stride + k];
            a[i * stride + j] = s / d;
        }
    }
    return true;
}

// The readings, one value an angle.
struct Turn {
    int n = 0;
    std::array<double, angles_most> angle_deg{}, value{}, repeats{};
    double widest_hole_deg = 360;
};

// 1 in the middle, 1/2 at half the width to each side; foot < 0 ends short, 0 is the bell, > 0 runs out long: nobody knows how
// metal bends here.   [EQ inspect-8]
double bump(double off_deg, double width_deg, double foot) {
    const double x = 2 * off_deg / width_deg;
    if (std::abs(foot) < 1e-3) return std::exp2(-x * x);
    const double y = 1 + (std::exp2(foot) - 1) * x * x;
    return y > 0 ? std::pow(y, -1 / foot) : 0.0;
}

struct OneBend {
    double angle_deg = 0, width_deg = 0;
    double foot = 0;
};

// One way to explain the turn, with everything that its weight needs. Linear parts are integrated out.
struct Way {
    int bends = 0;
    std::array<OneBend, most_bends> bend{};
    bool saddle = true;
    int arms = 0;                                       // 0: none
    int noise = 0;                                      // index of a level
    std::array<std::array<double, angles_most>, columns_most> column{};
    std::array<std::array<double, columns_most>, columns_most> dot{};   // weighted
    std::array<double, columns_most> with_value{};
    // Of the last weighing: which columns, factor of the precision, mean.
    int active = 0;
    std::array<int, columns_most> of{};
    std::array<double, columns_most * columns_most> factor{};
    std::array<double, columns_most> mean{};
    double log_weight = 0;
};

class Sampler {
public:
    Sampler(const Turn& t, const RunOutBudget& b, std::uint64_t seed) : t_(t), b_(b), r_{seed} {
        const double scatter2 = b.dial.resolution * b.dial.resolution / 12 + b.dial.repeat_sd * b.dial.repeat_sd;
        const double extra2 = b.dial.permitted_error * b.dial.permitted_error / 3 + b.bearing_play_mm * b.bearing_play_mm / 12;
        const double floor2 = 1e-6 * 1e-6;
        for (std::size_t k = 0; k < levels_.size(); ++k)   // [EQ inspect-7]
            for (int i = 0; i < t.n; ++i)
                weight_[k][i] = 1 / (scatter2 / t.repeats[i] + levels_[k].times * levels_[k].times * (extra2 > 0 ? extra2 : scatter2) + floor2);
        const double spacing = 360.0 / t.n;
        narrowest_ = std::max(spacing, 12.0);
        widest_ = std::max(b.widest_bend_deg, 2.5 * spacing);
        for (int m = 3; m <= t.n / 2 && m <= 12; ++m) arms_.push_back(m);
        first();
    }

    const Way& now() const { return w_; }
    Random& random() { return r_; }
    double noise_mm() const { return 1 / std::sqrt(weight_[w_.noise][0]); }

    // Sharp readings leave deep valleys between ways to explain them: cools down from several starts, goes on from the best.
    void settle(int starts, int steps) {
        const Way begin = w_;
        Way best = begin;
        for (int k = 0; k < starts; ++k) {
            w_ = begin;
            for (int i = 0; i < steps; ++i) {
                heat_ = std::pow(hottest, 1 - static_cast<double>(i) / (0.8 * steps));
                if (heat_ < 1) heat_ = 1;
                step();
            }
            if (w_.log_weight > best.log_weight) best = w_;
        }
        w_ = best;
        heat_ = 1;
    }

    void step() {
        const double u = r_.uniform();
        if (u < 0.45 && w_.bends > 0) move_bend();
        else if (u < 0.75) r_.uniform() < 0.5 ? birth() : death();
        else if (u < 0.82) toggle_saddle();
        else if (u < 0.92) change_arms();
        else change_noise();
    }

private:
    static constexpr double hottest = 200;
    struct Level {
        double times, prior;
    };
    // The permitted error is a bound that good dials keep well within; readings that scatter more say so themselves.
    static constexpr std::array<Level, 7> levels_ = {{{0, .15}, {.3, .2}, {.6, .25}, {1, .2}, {1.5, .1}, {2.5, .06}, {4, .04}}};

    void set(Way& w, int slot, const std::array<double, angles_most>& column) const {
        w.column[slot] = column;
        dots(w, slot);
    }
    void dots(Way& w, int slot) const {
        const auto& weight = weight_[w.noise];
        std::array<double, angles_most> c;
        double y = 0;
        for (int i = 0; i < t_.n; ++i) c[i] = w.column[slot][i] * weight[i], y += c[i] * t_.value[i];
        w.with_value[slot] = y;
        for (int k = 0; k < first_bend + w.bends; ++k) {
            double s = 0;
            for (int i = 0; i < t_.n; ++i) s += c[i] * w.column[k][i];
            w.dot[slot][k] = w.dot[k][slot] = s;
        }
    }
    void set_harmonic(Way& w, int slot, int per_turn) const {
        std::array<double, angles_most> c{}, s{};
        for (int i = 0; i < t_.n; ++i) {
            c[i] = std::cos(per_turn * t_.angle_deg[i] * radians);
            s[i] = std::sin(per_turn * t_.angle_deg[i] * radians);
        }
        set(w, slot, c);
        set(w, slot + 1, s);
    }
    void set_bend(Way& w, int k, const OneBend& bend) const {
        w.bend[k] = bend;
        std::array<double, angles_most> c{};
        for (int i = 0; i < t_.n; ++i) c[i] = bump(turned(t_.angle_deg[i] - bend.angle_deg), bend.width_deg, bend.foot);
        set(w, first_bend + k, c);
    }

    double prior_sd(int slot) const {
        if (slot == 0) return 1;
        if (slot < 3) return b_.tilt_sd_mm;
        if (slot < 5) return b_.saddle_sd_mm;
        if (slot < first_bend) return b_.arms_sd_mm;
        return b_.bend_sd_mm;
    }

    // Weight of this way, its linear parts integrated out [EQ inspect-9]; what bends are like belongs to it.
    bool weigh(Way& w) const {
        for (int k = 0; k < w.bends; ++k)
            for (int j = 0; j < k; ++j)   // two bends that share their half are one
                if (std::abs(turned(w.bend[k].angle_deg - w.bend[j].angle_deg)) < 0.5 * (w.bend[k].width_deg + w.bend[j].width_deg)) return false;
        int p = 0;
        for (int slot = 0; slot < first_bend + w.bends; ++slot) {
            if ((slot == 3 || slot == 4) && !w.saddle) continue;
            if ((slot == 5 || slot == 6) && w.arms == 0) continue;
            w.of[p++] = slot;
        }
        w.active = p;
        double log_det = 0;
        for (int i = 0; i < p; ++i) {
            for (int j = 0; j <= i; ++j) w.factor[i * columns_most + j] = w.dot[w.of[i]][w.of[j]];
            const double sd = prior_sd(w.of[i]);
            w.factor[i * columns_most + i] += 1 / (sd * sd);
            log_det += 2 * std::log(sd);
        }
        if (!cholesky(w.factor.data(), p, columns_most)) return false;
        std::array<double, columns_most> z{};
        double explained = 0;
        for (int i = 0; i < p; ++i) {
            double s = w.with_value[w.of[i]];
            for (int j = 0; j < i; ++j) s -= w.factor[i * columns_most + j] * z[j];
            z[i] = s / w.factor[i * columns_most + i];
            explained += z[i] * z[i];
            log_det += 2 * std::log(w.factor[i * columns_most + i]);
        }
        for (int i = p - 1; i >= 0; --i) {
            double s = z[i];
            for (int j = i + 1; j < p; ++j) s -= w.factor[j * columns_most + i] * w.mean[j];
            w.mean[i] = s / w.factor[i * columns_most + i];
        }
        double all = 0, log_noise = 0;
        for (int i = 0; i < t_.n; ++i) {
            all += weight_[w.noise][i] * t_.value[i] * t_.value[i];
            log_noise += std::log(weight_[w.noise][i]);
        }
        w.log_weight = 0.5 * (log_noise - log_det - all + explained) + std::log(levels_[w.noise].prior);
        w.log_weight += std::log(w.saddle ? b_.saddle_probability : 1 - b_.saddle_probability);
        if (!arms_.empty()) w.log_weight += std::log(w.arms ? b_.arms_probability / static_cast<double>(arms_.size()) : 1 - b_.arms_probability);
        for (int k = 0; k < w.bends; ++k) w.log_weight += std::log(b_.bends_mean / (k + 1));   // Poisson
        return true;
    }

    void try_(Way& w, double log_ratio = 0) {
        if (weigh(w) && std::log(r_.uniform()) < (w.log_weight - w_.log_weight) / heat_ + log_ratio) w_ = w;
    }

    OneBend any_bend() {
        return {r_.uniform() * 360, narrowest_ * std::pow(widest_ / narrowest_, r_.uniform()), short_foot + (long_foot - short_foot) * r_.uniform()};
    }

    void first() {
        w_.noise = 3;
        w_.column[0].fill(1);
        for (int slot : {0}) dots(w_, slot);
        set_harmonic(w_, 1, 1);
        set_harmonic(w_, 3, 2);
        set_harmonic(w_, 5, arms_.empty() ? 3 : arms_.front());
        weigh(w_);
        // From a good way: bends one by one, as long as each makes the way weigh more.
        for (int k = 0; k < most_bends; ++k) {
            Way best = w_, at = w_;
            at.bends = k + 1;
            for (double width = narrowest_; width <= widest_; width *= 1.4)
                for (double angle = 0; angle < 360; angle += std::min(7.5, narrowest_ / 2)) {
                    set_bend(at, k, {angle, width, -0.2});
                    if (weigh(at) && at.log_weight > best.log_weight) best = at;
                }
            if (best.bends == w_.bends) break;
            w_ = best;
        }
    }

    void move_bend() {
        next_ = w_;
        const int k = r_.below(w_.bends);
        OneBend bend = w_.bend[k];
        const double u = r_.uniform();
        const double reach = u < 0.5 ? 0.04 : u < 0.85 ? 0.15 : 0.5;
        bend.angle_deg += reach * bend.width_deg * r_.normal();
        bend.angle_deg -= 360 * std::floor(bend.angle_deg / 360);
        const double width = bend.width_deg * std::exp(1.5 * reach * r_.normal());   // even in its logarithm, as any_bend
        if (width < narrowest_ || width > widest_) return;
        // The step in angle goes with the width, so there and back are not equally likely.
        const double step = turned(bend.angle_deg - w_.bend[k].angle_deg) / reach;
        const double back = std::log(bend.width_deg / width) - 0.5 * step * step * (1 / (width * width) - 1 / (bend.width_deg * bend.width_deg));
        bend.width_deg = width;
        bend.foot += std::min(1.0, 3 * reach) * (long_foot - short_foot) * (r_.uniform() - 0.5);
        if (bend.foot < short_foot || bend.foot > long_foot) return;
        set_bend(next_, k, bend);
        try_(next_, back);
    }
    void toggle_now_and_then(Way& w) {
        if (r_.uniform() < 0.3) w.saddle = !w.saddle;
    }
    void birth() {
        if (w_.bends == most_bends) return;
        next_ = w_;
        next_.bends++;
        set_bend(next_, w_.bends, any_bend());
        toggle_now_and_then(next_);
        try_(next_);
    }
    void death() {
        if (w_.bends == 0) return;
        next_ = w_;
        const int k = r_.below(w_.bends), last = w_.bends - 1;
        next_.bends = last;
        if (k != last) set_bend(next_, k, w_.bend[last]);
        toggle_now_and_then(next_);
        try_(next_);
    }
    void toggle_saddle() {
        next_ = w_;
        next_.saddle = !w_.saddle;
        try_(next_);
    }
    void change_arms() {
        if (arms_.empty()) return;
        next_ = w_;
        if (w_.arms == 0 || r_.uniform() < 0.5) {
            const int m = arms_[r_.below(static_cast<int>(arms_.size()))];
            // To none and back: half of all tries from a number, spread over the numbers from none.
            const double back = w_.arms == 0 ? std::log(0.5 * static_cast<double>(arms_.size())) : 0;
            next_.arms = m;
            set_harmonic(next_, 5, m);
            try_(next_, back);
        } else {
            next_.arms = 0;
            try_(next_, -std::log(0.5 * static_cast<double>(arms_.size())));
        }
    }
    void change_noise() {
        next_ = w_;
        next_.noise += r_.uniform() < 0.5 ? 1 : -1;
        if (next_.noise < 0 || next_.noise >= static_cast<int>(levels_.size())) return;
        for (int slot = 0; slot < first_bend + next_.bends; ++slot) dots(next_, slot);
        try_(next_);
    }

    const Turn& t_;
    const RunOutBudget& b_;
    Random r_;
    std::array<std::array<double, angles_most>, levels_.size()> weight_{};
    double narrowest_ = 0, widest_ = 0;
    std::vector<int> arms_;
    Way w_, next_;
    double heat_ = 1;
};

struct DrawnBend {
    OneBend bend;
    double height_mm = 0;
};
struct Draw {
    std::array<double, columns_most> harmonic{};   // mean, tilt, saddle, arms; 0 where there is none
    bool saddle = false;
    int arms = 0, bends = 0;
    std::array<DrawnBend, most_bends> bend{};
    double noise_mm = 0;
};

Draw draw_of(Sampler& s) {
    const Way& w = s.now();
    Draw d{.harmonic = {}, .saddle = w.saddle, .arms = w.arms, .bends = w.bends, .bend = {}, .noise_mm = s.noise_mm()};
    std::array<double, columns_most> z{}, x{};
    for (int i = 0; i < w.active; ++i) z[i] = s.random().normal();
    for (int i = w.active - 1; i >= 0; --i) {
        double v = z[i];
        for (int j = i + 1; j < w.active; ++j) v -= w.factor[j * columns_most + i] * x[j];
        x[i] = v / w.factor[i * columns_most + i];
    }
    for (int i = 0; i < w.active; ++i) {
        const double v = w.mean[i] + x[i];
        if (w.of[i] < first_bend) d.harmonic[w.of[i]] = v;
        else d.bend[w.of[i] - first_bend] = {w.bend[w.of[i] - first_bend], v};
    }
    return d;
}

using Shape = std::array<double, shape_points>;
double total(const Shape& s) {
    const auto [low, high] = std::minmax_element(s.begin(), s.end());
    return *high - *low;
}
void add_bend(Shape& s, const DrawnBend& b, double times) {
    for (int i = 0; i < shape_points; ++i) s[i] += times * b.height_mm * bump(turned(i * shape_step_deg - b.bend.angle_deg), b.bend.width_deg, b.bend.foot);
}
void add_harmonic(Shape& s, double cosine, double sine, int per_turn) {
    for (int i = 0; i < shape_points; ++i) {
        const double a = per_turn * i * shape_step_deg * radians;
        s[i] += cosine * std::cos(a) + sine * std::sin(a);
    }
}

// Angles as an interval about their middle, which is in 0..period; the ends may lie outside.
Interval angle_interval(const std::vector<double>& deg, double about, double period) {
    std::vector<double> off;
    for (const double a : deg) off.push_back(a - about - period * std::round((a - about) / period));
    const Interval i = interval_of(off);
    double middle = about + i.p50;
    middle -= period * std::floor(middle / period);
    return {middle + i.p05 - i.p50, middle, middle + i.p95 - i.p50};
}

TurnPattern pattern_of(const std::vector<const Draw*>& draws, int slot, int per_turn, std::size_t of) {
    TurnPattern p{.per_turn = per_turn, .probability = static_cast<double>(draws.size()) / static_cast<double>(of), .amplitude_mm = {}, .angle_deg = {}};
    if (draws.empty()) return p;
    std::vector<double> amplitude, angle;
    double c = 0, s = 0;
    for (const Draw* d : draws) {
        amplitude.push_back(std::hypot(d->harmonic[slot], d->harmonic[slot + 1]));
        angle.push_back(std::atan2(d->harmonic[slot + 1], d->harmonic[slot]) / radians / per_turn);
        c += d->harmonic[slot], s += d->harmonic[slot + 1];
    }
    p.amplitude_mm = interval_of(amplitude);
    p.angle_deg = angle_interval(angle, std::atan2(s, c) / radians / per_turn, 360.0 / per_turn);
    return p;
}

Result<Turn> turn_of(std::span<const DialReading> readings) {
    std::map<long, std::pair<double, int>> at;   // tenths of a degree -> sum, number
    for (const DialReading& r : readings) {
        if (!std::isfinite(r.angle_deg) || !std::isfinite(r.dial_mm)) return Error{Errc::bad_input, "run-out: an angle or a dial value is no number"};
        long tenth = std::lround(std::fmod(r.angle_deg, 360) * 10) % 3600;
        if (tenth < 0) tenth += 3600;
        auto& [sum, n] = at[tenth];
        sum += r.dial_mm, ++n;
    }
    if (at.size() < 4 || at.size() > angles_most)
        return Error{Errc::bad_input, fmt::format("run-out at {} angles: expected 4 to {} different angles of one turn", at.size(), angles_most)};
    Turn t;
    double mean = 0;
    for (const auto& [tenth, sum] : at) {
        t.angle_deg[t.n] = static_cast<double>(tenth) / 10;
        t.value[t.n] = sum.first / sum.second;
        t.repeats[t.n] = sum.second;
        mean += t.value[t.n++];
    }
    mean /= t.n;
    t.widest_hole_deg = t.angle_deg[0] + 360 - t.angle_deg[t.n - 1];
    for (int i = 0; i < t.n; ++i) {
        t.value[i] -= mean;
        if (i > 0) t.widest_hole_deg = std::max(t.widest_hole_deg, t.angle_deg[i] - t.angle_deg[i - 1]);
    }
    return t;
}

}  // namespace

Result<Harmonics> harmonics_of(std::span<const double> angle_deg, std::span<const double> value, std::span<const double> sd, std::span<const int> per_turn) {
    const int p = 1 + 2 * static_cast<int>(per_turn.size());
    std::vector<double> a(static_cast<std::size_t>(p * p), 0.0), b(static_cast<std::size_t>(p), 0.0), row(static_cast<std::size_t>(p));
    for (std::size_t i = 0; i < angle_deg.size(); ++i) {
        row[0] = 1;
        for (std::size_t k = 0; k < per_turn.size(); ++k) {
            row[1 + 2 * k] = std::cos(per_turn[k] * angle_deg[i] * radians);
            row[2 + 2 * k] = std::sin(per_turn[k] * angle_deg[i] * radians);
        }
        const double weight = 1 / (sd[i] * sd[i]);
        for (int j = 0; j < p; ++j) {
            b[j] += weight * row[j] * value[i];
            for (int k = 0; k < p; ++k) a[j * p + k] += weight * row[j] * row[k];
        }
    }
    // A pivot that is all rounding means that these angles do not tell two columns apart.
    std::vector<double> scale(static_cast<std::size_t>(p));
    for (int j = 0; j < p; ++j) scale[j] = std::sqrt(a[j * p + j]);
    std::vector<double> l(a);
    for (int j = 0; j < p; ++j)
        for (int k = 0; k < p; ++k) l[j * p + k] /= scale[j] * scale[k];
    bool told = static_cast<int>(angle_deg.size()) >= p && cholesky(l.data(), p, p);
    for (int j = 0; told && j < p; ++j) told = l[j * p + j] > 1e-5;
    if (!told) return Error{Errc::bad_input, fmt::format("{} angles cannot tell {} harmonics apart", angle_deg.size(), per_turn.size())};
    Harmonics h{.coefficient = std::vector<double>(static_cast<std::size_t>(p)), .covariance = std::vector<double>(static_cast<std::size_t>(p * p))};
    const auto solve = [&](std::vector<double> x) {   // scaled
        for (int i = 0; i < p; ++i) {
            for (int j = 0; j < i; ++j) x[i] -= l[i * p + j] * x[j];
            x[i] /= l[i * p + i];
        }
        for (int i = p - 1; i >= 0; --i) {
            for (int j = i + 1; j < p; ++j) x[i] -= l[j * p + i] * x[j];
            x[i] /= l[i * p + i];
        }
        return x;
    };
    for (int j = 0; j < p; ++j) b[j] /= scale[j];
    const std::vector<double> x = solve(b);
    for (int j = 0; j < p; ++j) h.coefficient[j] = x[j] / scale[j];
    for (int k = 0; k < p; ++k) {
        std::vector<double> unit(static_cast<std::size_t>(p), 0.0);
        unit[k] = 1;
        const std::vector<double> c = solve(unit);
        for (int j = 0; j < p; ++j) h.covariance[j * p + k] = c[j] / scale[j] / scale[k];
    }
    return h;
}

Result<RunOut> run_out_of(std::span<const DialReading> readings, const RunOutBudget& budget, std::uint64_t seed) {
    const Result<Turn> turn = turn_of(readings);
    if (!turn) return turn.error();
    const Turn& t = *turn;
    RunOut out;
    out.angles = t.n;
    const auto [low, high] = std::minmax_element(t.value.begin(), t.value.begin() + t.n);
    out.seen_mm = *high - *low;
    // Holes wider than these hide as much as fewer angles would.
    if (t.n < 8 || t.widest_hole_deg > 90) return out;
    out.depth = t.n < 12 || t.widest_hole_deg > 60 ? RunOut::Depth::total : RunOut::Depth::parts;

    Sampler sampler(t, budget, seed);
    constexpr int steps = 7000, every = 8;
    std::vector<Draw> draws;
    draws.reserve(steps / every);
    sampler.settle(3, 3000);
    for (int i = 0; i < steps; ++i) {
        sampler.step();
        if (i % every == 0) draws.push_back(draw_of(sampler));
    }

    // What all readings share of the dial's error: a difference h of two readings feels it the more, the further apart they are.
    const auto shared = [&](double h, double z) {   // [EQ inspect-10]
        return h + z * budget.dial.permitted_error / std::sqrt(3.0) * std::numbers::sqrt2 * std::min(1.0, std::abs(h) / (budget.dial_turn_mm / 2));
    };
    Random random{mix(seed, 7, 0, 0)};
    std::vector<double> share(draws.size());
    for (double& z : share) z = random.normal();

    std::vector<Shape> shapes(draws.size());
    std::vector<double> totals, noise, without_tilt;
    for (std::size_t i = 0; i < draws.size(); ++i) {
        const Draw& d = draws[i];
        Shape& s = shapes[i];
        s.fill(0);
        if (d.saddle) add_harmonic(s, d.harmonic[3], d.harmonic[4], 2);
        if (d.arms) add_harmonic(s, d.harmonic[5], d.harmonic[6], d.arms);
        for (int k = 0; k < d.bends; ++k) add_bend(s, d.bend[k], 1);
        without_tilt.push_back(shared(total(s), share[i]));
        add_harmonic(s, d.harmonic[1], d.harmonic[2], 1);
        totals.push_back(shared(total(s), share[i]));
        noise.push_back(d.noise_mm);
    }
    out.total_mm = interval_of(totals);
    for (int i = 0; i < shape_points; ++i) {
        std::vector<double> v;
        for (std::size_t k = 0; k < draws.size(); ++k) v.push_back(shapes[k][i] + draws[k].harmonic[0]);
        out.shape.push_back({static_cast<double>(i * shape_step_deg), interval_of(v)});
    }
    if (out.depth != RunOut::Depth::parts) return out;

    out.noise_mm = interval_of(noise);
    out.total_without_tilt_mm = interval_of(without_tilt);
    std::vector<const Draw*> all, saddles;
    std::map<int, std::vector<const Draw*>> arms;
    for (const Draw& d : draws) {
        all.push_back(&d);
        if (d.saddle) saddles.push_back(&d);
        if (d.arms) arms[d.arms].push_back(&d);
    }
    out.tilt = pattern_of(all, 1, 1, draws.size());
    out.saddle = pattern_of(saddles, 3, 2, draws.size());
    for (const auto& [m, list] : arms)
        if (!out.arms || static_cast<double>(list.size()) / static_cast<double>(draws.size()) > out.arms->probability) out.arms = pattern_of(list, 5, m, draws.size());

    // Bends of the draws -> bends of the rotor: where most of them are, as far as a spacing to each side, each draw's nearest.
    const double window = std::max(20.0, 360.0 / t.n);
    std::vector<std::array<bool, most_bends>> taken(draws.size());
    struct Found {
        Bend bend;
        std::vector<int> of;   // per draw: which of its bends, -1 none
    };
    std::vector<Found> found;
    while (found.size() < 2 * most_bends) {
        double best = 0;
        int where = 0;
        for (int a = 0; a < 360; a += 3) {
            double n = 0;
            for (std::size_t i = 0; i < draws.size(); ++i)
                for (int k = 0; k < draws[i].bends; ++k)
                    if (!taken[i][k])
                        if (const double off = std::abs(turned(draws[i].bend[k].bend.angle_deg - a)); off < window) n += 1 - 0.5 * off / window;
            if (n > best) best = n, where = a;
        }
        Found f{.bend = {}, .of = std::vector<int>(draws.size(), -1)};
        std::vector<double> angle, height, width;
        for (std::size_t i = 0; i < draws.size(); ++i) {
            double nearest = window;
            for (int k = 0; k < draws[i].bends; ++k)
                if (const double off = std::abs(turned(draws[i].bend[k].bend.angle_deg - where)); !taken[i][k] && off < nearest) nearest = off, f.of[i] = k;
            if (f.of[i] < 0) continue;
            taken[i][f.of[i]] = true;
            const DrawnBend& b = draws[i].bend[f.of[i]];
            angle.push_back(b.bend.angle_deg);
            height.push_back(shared(b.height_mm, share[i]));
            width.push_back(b.bend.width_deg);
        }
        f.bend.probability = static_cast<double>(angle.size()) / static_cast<double>(draws.size());
        if (f.bend.probability < 0.2) break;
        f.bend.angle_deg = angle_interval(angle, where, 360);
        f.bend.height_mm = interval_of(height);
        f.bend.width_deg = interval_of(width);
        found.push_back(std::move(f));
    }
    std::stable_sort(found.begin(), found.end(), [](const Found& a, const Found& b) { return std::abs(a.bend.height_mm.p50) > std::abs(b.bend.height_mm.p50); });
    for (Found& f : found) {
        if (f.bend.probability < 0.5) {
            f.bend.after_mm = *out.total_mm;
            out.perhaps.push_back(f.bend);
            continue;
        }
        // Push it back, not quite as far as meant, and see what is left.   [EQ inspect-11]
        if (std::abs(f.bend.height_mm.p50) >= budget.worth_mm)
            for (std::size_t i = 0; i < draws.size(); ++i)
                if (f.of[i] >= 0) add_bend(shapes[i], draws[i].bend[f.of[i]], -1 + budget.push_sd * random.normal());
        std::vector<double> after;
        for (std::size_t i = 0; i < draws.size(); ++i) after.push_back(shared(total(shapes[i]), share[i]));
        f.bend.after_mm = interval_of(after);
        out.bends.push_back(f.bend);
    }
    return out;
}

ThicknessAround thickness_around(std::span<const double> thickness_mm, double scatter_mm, double shared_mm, std::uint64_t seed) {
    const std::size_t n = thickness_mm.size();
    ThicknessAround out{.places = static_cast<int>(n), .least_seen_mm = *std::min_element(thickness_mm.begin(), thickness_mm.end()), .least_mm = {}, .variation_mm = {}};
    const double mean = mean_of(thickness_mm);
    double s2 = 0;
    for (const double x : thickness_mm) s2 += (x - mean) * (x - mean);
    // How much places really differ: weighed over a ladder of spreads, even in the logarithm.   [EQ inspect-12]
    const double unit = std::max(scatter_mm, 1e-5);
    std::vector<double> spread, weight;
    double most = -1e300;
    for (double tau = unit / 8; tau < std::max(0.5, 64 * unit); tau *= 1.3) {
        const double v = tau * tau + unit * unit;
        spread.push_back(tau);
        weight.push_back(-0.5 * (static_cast<double>(n) - 1) * std::log(v) - 0.5 * s2 / v);
        most = std::max(most, weight.back());
    }
    double sum = 0;
    for (double& w : weight) sum += w = std::exp(w - most);
    Random random{mix(seed, 11, n, 0)};
    std::vector<double> least, variation;
    for (int draw = 0; draw < 1000; ++draw) {
        double u = random.uniform() * sum;
        std::size_t k = 0;
        while (k + 1 < weight.size() && u > weight[k]) u -= weight[k++];
        const double pull = spread[k] * spread[k] / (spread[k] * spread[k] + unit * unit);
        const double centre = mean + std::sqrt((spread[k] * spread[k] + unit * unit) / static_cast<double>(n)) * random.normal();
        double low = 1e300, high = -1e300;
        for (const double x : thickness_mm) {
            const double t = centre + pull * (x - centre) + std::sqrt(pull) * unit * random.normal();
            low = std::min(low, t), high = std::max(high, t);
        }
        least.push_back(low + shared_mm * random.normal());
        variation.push_back(high - low);
    }
    out.least_mm = interval_of(least);
    out.variation_mm = interval_of(variation);
    return out;
}

RunOutBudget run_out_budget_of(const parts::Library& l) {
    return {.dial = {.resolution = l.value("inspect.dial.resolution_mm"), .permitted_error = l.value("inspect.dial.permitted_error_mm"), .repeat_sd = l.value("inspect.dial.repeat_sd_mm")},
            .bearing_play_mm = l.value("inspect.run_out.bearing_play_mm"), .dial_turn_mm = l.value("inspect.dial.turn_mm"),
            .tilt_sd_mm = l.value("inspect.run_out.tilt_sd_mm"), .saddle_sd_mm = l.value("inspect.run_out.saddle_sd_mm"),
            .arms_sd_mm = l.value("inspect.run_out.arms_sd_mm"), .bend_sd_mm = l.value("inspect.run_out.bend_sd_mm"),
            .saddle_probability = l.value("inspect.run_out.saddle_probability"), .arms_probability = l.value("inspect.run_out.arms_probability"),
            .bends_mean = l.value("inspect.run_out.bends_mean"), .widest_bend_deg = l.value("inspect.run_out.widest_bend_deg"),
            .push_sd = l.value("inspect.run_out.push_sd"), .worth_mm = l.value("inspect.run_out.worth_mm")};
}

}  // namespace bw::inspect
