// SPDX-License-Identifier: Apache-2.0
// Run-out: harmonics and bends by least squares, over all the ways to explain a turn.                    Layer: inspect
// Theory: docs/models/inspect.md [EQ inspect-6..11, 17]. Reversible-jump sampling: Green, Biometrika 82 (1995) 711.
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
constexpr int shape_step_deg = 2;
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
constexpr int feet = 11;                               // foot -0.6 (a short foot; cosine is about -0.3) to 0.4 (a long one)
double exact_bump(double off_per_width, int foot) {
    const double x = 2 * off_per_width, q = (foot - 6) / 10.0;
    if (foot == 6) return std::exp2(-x * x);
    const double y = 1 + (std::exp2(q) - 1) * x * x;
    return y > 0 ? std::pow(y, -1 / q) : 0.0;
}
// A table, for it is asked for a million times a turn; linear between, within 0.0004.
constexpr int fine = 64, off_most = 15;
struct Bumps {
    std::array<std::array<double, fine * off_most + 2>, feet> at{};
    Bumps() {
        for (int f = 0; f < feet; ++f)
            for (int i = 0; i < fine * off_most + 2; ++i) at[f][i] = exact_bump(static_cast<double>(i) / fine, f);
    }
};
double bump(double off_deg, double width_deg, int foot) {
    static const Bumps bumps;
    const double x = std::min(std::abs(off_deg) / width_deg, static_cast<double>(off_most)) * fine;
    const int i = static_cast<int>(x);
    const auto& row = bumps.at[foot];
    return row[i] + (x - i) * (row[i + 1] - row[i]);
}

// Seats are straight or far from it: the usual size of tilt, saddle and arms is itself one of several.   [EQ inspect-9]
constexpr int groups = 3;
constexpr std::array<double, 4> sizes = {0.15, 0.4, 1, 2};
int group_of(int slot) { return slot < 1 || slot >= first_bend ? -1 : (slot - 1) / 2; }

struct OneBend {
    double angle_deg = 0, width_deg = 0;
    int foot = 4;
};

using Column = std::array<double, angles_most>;

// One way to explain the turn, with everything that its weight needs. Linear parts are integrated out.
struct Way {
    int bends = 0;
    std::array<OneBend, most_bends> bend{};
    bool saddle = true;
    int arms = 0;                                       // 0: none
    int noise = 0;                                      // index of a level
    std::array<int, groups> size = {2, 2, 2};           // index of the usual size of tilt, saddle and arms
    std::array<int, columns_most> column{};             // where in the chain's columns each slot stands
    std::array<std::array<double, columns_most>, columns_most> dot{};   // weighted
    std::array<double, columns_most> with_value{};
    // Of the last weighing: which slots, factor of the precision, mean.
    int active = 0;
    std::array<int, columns_most> of{};
    std::array<double, columns_most * columns_most> factor{};
    std::array<double, columns_most> mean{};
    double log_weight = 0;
};

// What all chains share: the readings, their weights at each level of noise, what is usual.
struct Level {
    double times, prior;
};
// The permitted error is a bound that good dials keep well within; readings that scatter more say so themselves.
constexpr std::array<Level, 7> levels = {{{0, .15}, {.3, .2}, {.6, .25}, {1, .2}, {1.5, .1}, {2.5, .06}, {4, .04}}};

struct Setting {
    const Turn& t;
    const RunOutBudget& b;
    std::array<Column, levels.size()> weight{};
    std::array<double, levels.size()> log_weight{};     // what of a way's weight the level alone decides
    std::array<std::array<double, sizes.size()>, columns_most> precision{};   // 1/sd^2 of the usual sizes of each slot
    std::array<std::array<double, sizes.size()>, columns_most> log_sd2{};
    double narrowest_deg = 0, widest_deg = 0;
    std::vector<int> arms;

    Setting(const Turn& turn, const RunOutBudget& budget) : t(turn), b(budget) {
        const double scatter2 = b.dial.resolution * b.dial.resolution / 12 + b.dial.repeat_sd * b.dial.repeat_sd;
        const double extra2 = b.dial.permitted_error * b.dial.permitted_error / 3 + b.bearing_play_mm * b.bearing_play_mm / 12;
        const double floor2 = 1e-6 * 1e-6;
        for (std::size_t k = 0; k < levels.size(); ++k) {   // [EQ inspect-7]
            log_weight[k] = std::log(levels[k].prior);
            for (int i = 0; i < t.n; ++i) {
                const double w = 1 / (scatter2 / t.repeats[i] + levels[k].times * levels[k].times * (extra2 > 0 ? extra2 : scatter2) + floor2);
                weight[k][i] = w;
                log_weight[k] += 0.5 * (std::log(w) - w * t.value[i] * t.value[i]);
            }
        }
        for (int slot = 0; slot < columns_most; ++slot) {
            const double sd = slot == 0 ? 1 : slot < 3 ? b.tilt_sd_mm : slot < 5 ? b.saddle_sd_mm : slot < first_bend ? b.arms_sd_mm : b.bend_sd_mm;
            for (std::size_t k = 0; k < sizes.size(); ++k) {
                const double usual = group_of(slot) < 0 ? sd : sd * sizes[k];
                precision[slot][k] = 1 / (usual * usual);
                log_sd2[slot][k] = 2 * std::log(usual);
            }
        }
        const double spacing = 360.0 / t.n;
        narrowest_deg = std::max(spacing, 12.0);
        widest_deg = std::max(b.widest_bend_deg, 2.5 * spacing);
        for (int m = 3; m <= t.n / 2 && m <= 12; ++m) arms.push_back(m);
    }
};

// A chain of ways, each with its chance to the power 1/heat. Hot ones cross the valleys between ways.
class Chain {
public:
    Chain(const Setting& s, double heat, Random r) : s_(s), heat_(heat), r_(r) {
        for (int slot = 0; slot < columns_most; ++slot) w_.column[slot] = slot;
        w_.noise = 3;
        columns_[0].fill(1);
        dots(w_, 0);
        set_harmonic(w_, 1, 1);
        set_harmonic(w_, 3, 2);
        set_harmonic(w_, 5, s_.arms.empty() ? 3 : s_.arms.front());
        weigh(w_);
    }

    const Way& now() const { return w_; }
    Random& random() { return r_; }
    double form_sd() const { return s_.b.form_sd; }
    double mark_within_deg() const { return s_.b.mark_within_deg; }
    double noise_mm() const { return 1 / std::sqrt(s_.weight[w_.noise][0]); }

    void step() {
        const double u = r_.uniform();
        if (u < 0.5 && w_.bends > 0) move_bend();
        else if (u < 0.8) r_.uniform() < 0.5 ? birth() : death();
        else if (u < 0.86) toggle_saddle();
        else if (u < 0.94) change_arms();
        else if (u < 0.97) change_noise();
        else change_size();
    }

    // Two chains change places by their weights (Geyer 1991).
    static void swap_now_and_then(Chain& a, Chain& b, double u) {
        if (std::log(u) >= (1 / a.heat_ - 1 / b.heat_) * (b.w_.log_weight - a.w_.log_weight)) return;
        std::swap(a.w_, b.w_);
        std::swap(a.columns_, b.columns_);
        std::swap(a.spare_, b.spare_);
    }

    // A start that is not absurd: bends one by one, as long as each makes the way weigh more.
    void start() {
        for (int k = 0; k < most_bends; ++k) {
            OneBend best;
            double weight = w_.log_weight;
            next_ = w_;
            next_.bends = k + 1;
            next_.column[first_bend + k] = spare_[0];
            for (double width = s_.narrowest_deg; width <= s_.widest_deg; width *= 1.5)
                for (double angle = 0; angle < 360; angle += std::max(5.0, s_.narrowest_deg / 2)) {
                    set_bend(next_, k, {angle, width, 4});
                    if (weigh(next_) && next_.log_weight > weight) weight = next_.log_weight, best = next_.bend[k];
                }
            if (best.width_deg == 0) break;
            set_bend(next_, k, best);
            weigh(next_);
            accept();
        }
    }

private:
    void dots(Way& w, int slot) const {
        const Column& weight = s_.weight[w.noise];
        const Column& x = columns_[w.column[slot]];
        const int n = s_.t.n;
        Column c;
        double y = 0;
        for (int i = 0; i < n; ++i) c[i] = x[i] * weight[i];
        for (int i = 0; i < n; ++i) y += c[i] * s_.t.value[i];
        w.with_value[slot] = y;
        for (int k = 0; k < first_bend + w.bends; ++k) {
            const Column& o = columns_[w.column[k]];
            double s = 0;
            for (int i = 0; i < n; ++i) s += c[i] * o[i];
            w.dot[slot][k] = w.dot[k][slot] = s;
        }
    }
    void set_harmonic(Way& w, int slot, int per_turn) {
        for (int i = 0; i < s_.t.n; ++i) {
            columns_[w.column[slot]][i] = std::cos(per_turn * s_.t.angle_deg[i] * radians);
            columns_[w.column[slot + 1]][i] = std::sin(per_turn * s_.t.angle_deg[i] * radians);
        }
        dots(w, slot);
        dots(w, slot + 1);
    }
    // Writes into the column that w names for this bend: a spare one, until the way is taken.
    void set_bend(Way& w, int k, const OneBend& bend) {
        w.bend[k] = bend;
        Column& c = columns_[w.column[first_bend + k]];
        for (int i = 0; i < s_.t.n; ++i) c[i] = bump(turned(s_.t.angle_deg[i] - bend.angle_deg), bend.width_deg, bend.foot);
        dots(w, first_bend + k);
    }

    // Weight of this way, its linear parts integrated out [EQ inspect-9].
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
        double log_det = 0, det = 1, explained = 0;
        std::array<double, columns_most> z;
        for (int i = 0; i < p; ++i) {
            const auto& row = w.dot[w.of[i]];
            double* f = &w.factor[i * columns_most];
            const int group = group_of(w.of[i]), size = group < 0 ? 0 : w.size[static_cast<std::size_t>(group)];
            double y = w.with_value[w.of[i]], d = row[w.of[i]] + s_.precision[w.of[i]][size];
            for (int j = 0; j < i; ++j) {
                const double* g = &w.factor[j * columns_most];
                double v = row[w.of[j]];
                for (int k = 0; k < j; ++k) v -= f[k] * g[k];
                f[j] = v * g[j];   // the diagonal holds reciprocals until the end
                d -= f[j] * f[j];
                y -= f[j] * z[j];
            }
            if (!(d > 0)) return false;
            f[i] = 1 / std::sqrt(d);
            z[i] = y * f[i];
            explained += z[i] * z[i];
            det *= d;
            log_det += s_.log_sd2[w.of[i]][size];
            if (det > 1e200 || det < 1e-200) log_det += std::log(det), det = 1;
        }
        log_det += std::log(det);
        for (int i = p - 1; i >= 0; --i) {
            double v = z[i];
            for (int j = i + 1; j < p; ++j) v -= w.factor[j * columns_most + i] * w.mean[j];
            w.mean[i] = v * w.factor[i * columns_most + i];
        }
        w.log_weight = s_.log_weight[w.noise] + 0.5 * (explained - log_det);
        w.log_weight += std::log(w.saddle ? s_.b.saddle_probability : 1 - s_.b.saddle_probability);
        if (!s_.arms.empty()) w.log_weight += std::log(w.arms ? s_.b.arms_probability / static_cast<double>(s_.arms.size()) : 1 - s_.b.arms_probability);
        for (int k = 0; k < w.bends; ++k) w.log_weight += std::log(s_.b.bends_mean / (k + 1));   // Poisson
        return true;
    }

    // Columns that next_ took from the spare ones change hands with those it gave up.
    void accept() {
        for (int& spare : spare_)
            for (int slot = 0; slot < columns_most; ++slot)
                if (next_.column[slot] == spare) {
                    spare = w_.column[slot];
                    break;
                }
        w_ = next_;
    }
    void try_next(double log_ratio = 0) {
        if (weigh(next_) && std::log(r_.uniform()) < (next_.log_weight - w_.log_weight) / heat_ + log_ratio) accept();
    }

    void move_bend() {
        const int k = r_.below(w_.bends);
        OneBend bend = w_.bend[k];
        const double u = r_.uniform();
        const double reach = u < 0.5 ? 0.04 : u < 0.85 ? 0.15 : 0.5;
        bend.angle_deg += reach * bend.width_deg * r_.normal();
        bend.angle_deg -= 360 * std::floor(bend.angle_deg / 360);
        const double width = bend.width_deg * std::exp(1.5 * reach * r_.normal());   // even in its logarithm
        if (width < s_.narrowest_deg || width > s_.widest_deg) return;
        // The step in angle goes with the width, so there and back are not equally likely.
        const double step = turned(bend.angle_deg - w_.bend[k].angle_deg) / reach;
        const double back = std::log(bend.width_deg / width) - 0.5 * step * step * (1 / (width * width) - 1 / (bend.width_deg * bend.width_deg));
        bend.width_deg = width;
        bend.foot += r_.below(5) - 2;
        if (bend.foot < 0 || bend.foot >= feet) return;
        next_ = w_;
        next_.column[first_bend + k] = spare_[0];
        set_bend(next_, k, bend);
        try_next(back);
    }
    void toggle_now_and_then() {
        if (r_.uniform() < 0.3) next_.saddle = !next_.saddle;
    }
    void birth() {
        if (w_.bends == most_bends) return;
        next_ = w_;
        next_.bends++;
        next_.column[first_bend + w_.bends] = spare_[0];
        const double angle = r_.uniform() * 360, width = s_.narrowest_deg * std::pow(s_.widest_deg / s_.narrowest_deg, r_.uniform());
        set_bend(next_, w_.bends, {angle, width, r_.below(feet)});
        toggle_now_and_then();
        try_next();
    }
    void death() {
        if (w_.bends == 0) return;
        next_ = w_;
        const int k = first_bend + r_.below(w_.bends), last = first_bend + w_.bends - 1;
        next_.bends--;
        // The last takes the place of the one that goes.
        std::swap(next_.column[k], next_.column[last]);
        next_.bend[k - first_bend] = w_.bend[last - first_bend];
        next_.with_value[k] = w_.with_value[last];
        for (int j = 0; j < last; ++j) next_.dot[k][j] = next_.dot[j][k] = w_.dot[last][j];
        next_.dot[k][k] = w_.dot[last][last];
        toggle_now_and_then();
        try_next();
    }
    void toggle_saddle() {
        next_ = w_;
        next_.saddle = !w_.saddle;
        try_next();
    }
    void change_arms() {
        if (s_.arms.empty()) return;
        next_ = w_;
        // To none and back: half of all tries from a number, spread over the numbers from none.
        const double back = std::log(0.5 * static_cast<double>(s_.arms.size()));
        if (w_.arms == 0 || r_.uniform() < 0.5) {
            next_.arms = s_.arms[r_.below(static_cast<int>(s_.arms.size()))];
            next_.column[5] = spare_[0];
            next_.column[6] = spare_[1];
            set_harmonic(next_, 5, next_.arms);
            try_next(w_.arms == 0 ? back : 0);
        } else {
            next_.arms = 0;
            try_next(-back);
        }
    }
    void change_size() {
        next_ = w_;
        int& size = next_.size[static_cast<std::size_t>(r_.below(groups))];
        size += r_.uniform() < 0.5 ? 1 : -1;
        if (size < 0 || size >= static_cast<int>(sizes.size())) return;
        try_next();
    }
    void change_noise() {
        next_ = w_;
        next_.noise += r_.uniform() < 0.5 ? 1 : -1;
        if (next_.noise < 0 || next_.noise >= static_cast<int>(levels.size())) return;
        for (int slot = 0; slot < first_bend + next_.bends; ++slot) dots(next_, slot);
        try_next();
    }

    const Setting& s_;
    double heat_;
    Random r_;
    std::array<Column, columns_most + 2> columns_{};
    std::array<int, 2> spare_ = {columns_most, columns_most + 1};
    Way w_, next_;
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
    double share = 0;                              // how the dial's own error lies, standard normal
    std::array<double, 2> slip{};                  // what the forms of bends may have put into the tilt
    double mark_deg = 0;                           // how the mark is off
};

Draw draw_of(Chain& s) {
    const Way& w = s.now();
    Draw d{.harmonic = {}, .saddle = w.saddle, .arms = w.arms, .bends = w.bends, .bend = {}, .noise_mm = s.noise_mm(), .share = s.random().normal(), .slip = {}, .mark_deg = (2 * s.random().uniform() - 1) * s.mark_within_deg()};
    std::array<double, columns_most> z{}, x{};
    for (int i = 0; i < w.active; ++i) z[i] = s.random().normal();
    for (int i = w.active - 1; i >= 0; --i) {
        double v = z[i];
        for (int j = i + 1; j < w.active; ++j) v -= w.factor[j * columns_most + i] * x[j];
        x[i] = v * w.factor[i * columns_most + i];
    }
    for (int i = 0; i < w.active; ++i) {
        const double v = w.mean[i] + x[i];
        if (w.of[i] < first_bend) d.harmonic[w.of[i]] = v;
        else d.bend[w.of[i] - first_bend] = {w.bend[w.of[i] - first_bend], v};
    }
    // A bend of another form than ours is as high as told or not quite, and what it has beside goes where the smooth parts are:
    // into the tilt as the first harmonic of its area.
    for (int k = 0; k < d.bends; ++k) {
        DrawnBend& b = d.bend[k];
        const double beside_mm = s.form_sd() * s.random().normal() * b.height_mm * 2 * b.bend.width_deg / 360;
        d.slip[0] += beside_mm * std::cos(b.bend.angle_deg * radians);
        d.slip[1] += beside_mm * std::sin(b.bend.angle_deg * radians);
        b.height_mm *= 1 + s.form_sd() * s.random().normal();
    }
    return d;
}

// The dial's own error goes with what it shows, once a turn of its pointer: two readings a height apart feel it the more, the
// further apart they are. The readings' scatter says nothing of it.   [EQ inspect-10]
double shared(double h, const Draw& d, const RunOutBudget& budget) {
    const double turn = std::min(0.5, std::abs(h) / budget.dial_turn_mm);
    return h + d.share * budget.dial.permitted_error / std::sqrt(3.0) * std::numbers::sqrt2 * std::sin(pi * turn);
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

// Bends that stay untold have gone into saddle and arms, as their harmonics of that order: cosine and sine of one draw of
// them. The fewer angles, the more of them; they are wide. A bell's harmonic is a bell.   [EQ inspect-17]
std::array<double, 2> untold(Random& r, double number, int per_turn, const RunOutBudget& budget) {
    std::array<double, 2> out{};
    double u = r.uniform(), chance = std::exp(-number);
    for (int k = 0; k < most_bends && u > chance; ++k) {   // Poisson
        u -= chance, chance *= number / (k + 1);
        const double width = budget.untold_width_deg * std::pow(budget.widest_bend_deg / budget.untold_width_deg, r.uniform()) * radians;
        const double waves = per_turn * width, angle = 2 * pi * r.uniform();
        const double height = budget.bend_sd_mm * r.normal() * width / std::sqrt(4 * pi * std::numbers::ln2) * std::exp(-waves * waves / (16 * std::numbers::ln2));
        out[0] += height * std::cos(angle), out[1] += height * std::sin(angle);
    }
    return out;
}

TurnPattern pattern_of(const std::vector<const Draw*>& draws, int slot, int per_turn, std::size_t of, const RunOutBudget& budget, Random& random, double untold_number = 0) {
    TurnPattern p{.per_turn = per_turn, .probability = static_cast<double>(draws.size()) / static_cast<double>(of), .amplitude_mm = {}, .angle_deg = {}};
    if (draws.empty()) return p;
    std::vector<double> amplitude, angle;
    double c = 0, s = 0;
    for (const Draw* d : draws) {
        const auto [more_cosine, more_sine] = slot == 1 ? d->slip : untold(random, untold_number, per_turn, budget);
        const double cosine = d->harmonic[slot] + more_cosine, sine = d->harmonic[slot + 1] + more_sine;
        amplitude.push_back(shared(2 * std::hypot(cosine, sine), *d, budget) / 2);
        angle.push_back(std::atan2(sine, cosine) / radians / per_turn + d->mark_deg);
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

int even_angles_of(std::span<const DialReading> readings) {
    std::vector<double> angles;
    for (const DialReading& r : readings)
        if (std::isfinite(r.angle_deg)) angles.push_back(r.angle_deg - 360 * std::floor(r.angle_deg / 360));
    std::sort(angles.begin(), angles.end());
    if (angles.size() < 2) return 0;
    double widest = angles.front() + 360 - angles.back();
    for (std::size_t i = 1; i < angles.size(); ++i) widest = std::max(widest, angles[i] - angles[i - 1]);
    return static_cast<int>(std::floor(360 / widest + 0.1));   // angles are told to a tenth of a degree at best
}

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

    const Setting setting(t, budget);
    // The parts are told apart only by a sample that has been to all ways, and few angles leave more of them. docs/decisions/0012.
    constexpr int heats = 5, between = 8;
    const int settle = out.depth == RunOut::Depth::total ? 1000 : t.n < 24 ? 4000 : 2000, steps = out.depth == RunOut::Depth::total ? 4800 : t.n < 24 ? 32000 : 16000;
    std::vector<Chain> chains;
    for (int k = 0; k < heats; ++k) chains.emplace_back(setting, std::pow(2.1, k), Random{mix(seed, 3, static_cast<std::uint64_t>(k), 0)});
    chains.front().start();
    Random random{mix(seed, 7, 0, 0)};
    std::vector<Draw> draws;
    draws.reserve(static_cast<std::size_t>(steps / between));
    for (int i = 0; i < settle + steps; i += between) {
        for (Chain& c : chains)
            for (int k = 0; k < between; ++k) c.step();
        for (int k = heats - 1; k > 0; --k) Chain::swap_now_and_then(chains[static_cast<std::size_t>(k) - 1], chains[static_cast<std::size_t>(k)], random.uniform());
        if (i >= settle) draws.push_back(draw_of(chains.front()));
    }

    std::vector<Shape> shapes(draws.size());
    std::vector<double> totals, noise, without_tilt;
    for (std::size_t i = 0; i < draws.size(); ++i) {
        const Draw& d = draws[i];
        Shape& s = shapes[i];
        s.fill(0);
        if (d.saddle) add_harmonic(s, d.harmonic[3], d.harmonic[4], 2);
        if (d.arms) add_harmonic(s, d.harmonic[5], d.harmonic[6], d.arms);
        for (int k = 0; k < d.bends; ++k) add_bend(s, d.bend[k], 1);
        without_tilt.push_back(shared(total(s), d, budget));
        add_harmonic(s, d.harmonic[1], d.harmonic[2], 1);
        totals.push_back(shared(total(s), d, budget));
        noise.push_back(d.noise_mm);
    }
    out.total_mm = interval_of(totals);
    out.totals_mm = totals;
    for (double& x : out.totals_mm) x = std::round(x * 1e6) / 1e6;   // far below any dial, and short where it is kept
    std::sort(out.totals_mm.begin(), out.totals_mm.end());
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
    // A hole between the angles hides as much as fewer angles would.
    const double even = std::min<double>(t.n, 360 / t.widest_hole_deg);
    out.untold_share = std::min(1.0, budget.untold_at_12 * std::pow(12 / even, 3));
    Random hidden{mix(seed, 9, 0, 0)};
    out.tilt = pattern_of(all, 1, 1, draws.size(), budget, hidden);
    out.saddle = pattern_of(saddles, 3, 2, draws.size(), budget, hidden, budget.bends_mean * out.untold_share);
    for (const auto& [m, list] : arms)
        if (!out.arms || static_cast<double>(list.size()) / static_cast<double>(draws.size()) > out.arms->probability) out.arms = pattern_of(list, 5, m, draws.size(), budget, hidden, budget.bends_mean * out.untold_share);

    // Bends of the draws -> bends of the rotor: where most of them are, as far as a spacing to each side, each draw's nearest.
    const double window = std::max(20.0, 360.0 / t.n);
    std::vector<std::array<bool, most_bends>> taken(draws.size());
    std::vector<Bend> found;
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
        Bend f;
        std::vector<double> angle, height, width;
        for (std::size_t i = 0; i < draws.size(); ++i) {
            double nearest = window;
            int mine = -1;
            for (int k = 0; k < draws[i].bends; ++k)
                if (const double off = std::abs(turned(draws[i].bend[k].bend.angle_deg - where)); !taken[i][k] && off < nearest) nearest = off, mine = k;
            if (mine < 0) continue;
            taken[i][mine] = true;
            const DrawnBend& b = draws[i].bend[mine];
            angle.push_back(b.bend.angle_deg + draws[i].mark_deg);
            height.push_back(shared(b.height_mm, draws[i], budget));
            width.push_back(b.bend.width_deg);
        }
        f.probability = static_cast<double>(angle.size()) / static_cast<double>(draws.size());
        if (f.probability < 0.2) break;
        f.angle_deg = angle_interval(angle, where, 360);
        f.height_mm = interval_of(height);
        f.width_deg = interval_of(width);
        found.push_back(f);
    }
    std::stable_sort(found.begin(), found.end(), [](const Bend& a, const Bend& b) { return std::abs(a.height_mm.p50) > std::abs(b.height_mm.p50); });
    for (Bend& f : found) {
        if (f.probability < 0.5) {
            f.after_mm = *out.total_mm;
            out.perhaps.push_back(f);
            continue;
        }
        // Pushed as told, whatever the bend truly is, and not quite as far as meant.   [EQ inspect-11]
        if (std::abs(f.height_mm.p50) >= budget.worth_mm)
            for (Shape& shape : shapes)
                add_bend(shape, {{f.angle_deg.p50, f.width_deg.p50, 4}, f.height_mm.p50}, -1 + budget.push_sd * random.normal());
        std::vector<double> after;
        for (std::size_t i = 0; i < draws.size(); ++i) after.push_back(shared(total(shapes[i]), draws[i], budget));
        f.after_mm = interval_of(after);
        out.bends.push_back(f);
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
            .untold_at_12 = l.value("inspect.run_out.untold_at_12"), .untold_width_deg = l.value("inspect.run_out.untold_width_deg"),
            .mark_within_deg = l.value("inspect.run_out.mark_within_deg"), .form_sd = l.value("inspect.run_out.form_sd"), .push_sd = l.value("inspect.run_out.push_sd"), .worth_mm = l.value("inspect.run_out.worth_mm")};
}

}  // namespace bw::inspect
