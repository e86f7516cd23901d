// SPDX-License-Identifier: Apache-2.0
// Posterior of the wear parameters: Kalman filters per set inside, a sampler about the mode outside.       Layer: wear
#include "wear/learn.hpp"

#include <fmt/format.h>

#include <Eigen/Dense>
#include <algorithm>
#include <cmath>
#include <map>
#include <mutex>
#include <numbers>
#include <set>
#include <utility>

#include "base/sampling.hpp"

namespace bw::wear {

namespace {

using Vector = Eigen::VectorXd;

// How the variance of the rider's rate is shared out; sums to one. Same roads and habits for all, a make for each compound,
// a caliper for each wheel: assumed.
constexpr double of_rider = 0.45, of_compound = 0.35, of_wheel = 0.20;
constexpr double left_right_of_wheel = 0.8, left_right_of_set = 0.2;
constexpr double shared_noise = 0.8;     // correlation of the scatter of one ride between the two pads of a wheel: assumed
constexpr double drift_rides = 45;       // rides over which wear strays together: chosen on the invented riders of set tune
constexpr double longest_rides = 20000, longest_m = 1e8;
constexpr std::size_t block_rides = 10;  // of the riding to come, drawn from the riding that was
constexpr int simulated_blocks = 60;     // then the mean of these goes on

// Counts of rides between which the blocks of n rides lie: [blocks + 1], from 0 to n; of no rides none.
std::vector<std::size_t> block_bounds(std::size_t n) {
    std::vector<std::size_t> out;
    const std::size_t block = std::min(block_rides, std::max<std::size_t>(1, n / 3)), blocks = n == 0 ? 0 : std::max<std::size_t>(1, n / block);
    for (std::size_t b = 0; n > 0 && b <= blocks; ++b) out.push_back(b * n / blocks);
    return out;
}

struct Ride {
    double distance_m;
    std::optional<double> descent_m, duration_s;
    std::array<double, 2> energy_MJ, degC, rel2;   // rel2: squared relative scatter of the work
    double wet, grit;
    std::optional<long> day;
    long number;
    int weather = -1;   // in Inside::weathers; -1: of its own (a planned ride)
};

// Of the rides that tell it; nothing: fewer than half of them do.   [EQ life-16]
std::optional<double> mean_of_told(const std::vector<Ride>& rides, std::optional<double> Ride::* what) {
    double sum = 0;
    std::size_t told = 0;
    for (const Ride& r : rides)
        if (const std::optional<double>& v = r.*what) sum += *v, ++told;
    return told > 0 && 2 * told >= rides.size() ? std::optional(sum / static_cast<double>(told)) : std::nullopt;
}

struct Event {
    std::size_t rides;   // how many rides had been ridden (index into the prefix sums)
    int side;            // 0 left or rotor, 1 right
    double mm, var;
    // Rides that may have left a swollen layer: prefix index after each, and which part of a full one. Each hotter than all after it.
    std::vector<std::pair<std::size_t, double>> hot;
    std::size_t pieces = 0;   // of Chain::pieces elsewhere: those before this place were over by then
};

// One time that a part was on.
struct Piece {
    std::size_t from, to;   // counts of rides; elsewhere both are the place between them
    int wheel;
    double elsewhere_m = 0;   // > 0: ridden on another bike
};

// One pad set (left and right together) or one rotor on one wheel.
struct Chain {
    int wheel;
    bool rotor;
    std::string set;
    std::size_t from;                 // rides before its first
    int compound;                     // of pads; of a rotor -1
    std::array<int, 2> fitted{-1, -1};   // index in History::fitted, left and right
    std::array<double, 2> new_mm{}, limit_mm{}, area{};
    std::array<double, 2> new_var{}, limit_sd{};
    bool bedded = false;
    double new_shared = 0;            // correlation of the two new thicknesses: of a set of unknown age it is the age that is unknown
    int z_set = -1, z_side = -1, z_swell = -1;      // places of its own parameters
    std::vector<Event> events;
    std::vector<Piece> pieces;        // in order; more than one where it was off between
};

// Where a part is on its way through its pieces.
struct Place {
    std::size_t piece = 0, rides = 0;
};

// Numbers of one stream, one after the other (SplitMix64: Steele, Lea, Flood 2014); normal ones in pairs (Box, Muller 1958). Futures ask
// for millions of them, which numbers by place and the inverse of the normal distribution make slow.
class Stream {
public:
    Stream(std::uint64_t seed, std::uint64_t key, std::uint64_t stream) : state_(mix(seed, key, 0, stream)) {}
    double uniform() {   // in (0, 1), never an end
        std::uint64_t x = state_ += 0x9E3779B97F4A7C15ULL;
        x = (x ^ (x >> 30)) * 0xBF58476D1CE4E5B9ULL;
        x = (x ^ (x >> 27)) * 0x94D049BB133111EBULL;
        return (static_cast<double>((x ^ (x >> 31)) >> 12) + 0.5) * 0x1p-52;
    }
    double normal() {
        if (kept_) {
            kept_ = false;
            return second_;
        }
        const double r = std::sqrt(-2 * std::log(uniform())), angle = 2 * std::numbers::pi * uniform();
        second_ = r * std::sin(angle), kept_ = true;
        return r * std::cos(angle);
    }

private:
    std::uint64_t state_;
    double second_ = 0;
    bool kept_ = false;
};

// The 0.5 % point of lives that hang together: draws come in chains, and several lives share a draw. The sample's own point, or that
// of a log-normal through its 5 and 50 % points where that is sooner; the normal's is further out by what those two are known to,
// from how unlike the chains are. values: [n], >= 0, in the order of the draws; in_order: the same,
// rising; chains: equal parts of them.   Source: [EQ life-9]
double look_point(std::span<const double> values, std::span<const double> in_order, std::size_t chains) {
    const double own = quantile(in_order, 0.005), early = quantile(in_order, 0.05), middle = quantile(in_order, 0.5);
    if (!(own > 0) || !(early > 0)) return own;
    std::vector<double> logs, means;
    for (const double v : values) logs.push_back(std::log(std::max(v, 1e-9)));
    const std::size_t each = logs.size() / std::max<std::size_t>(1, chains);
    for (std::size_t c = 0; c < chains && each > 1; ++c) means.push_back(mean_of(std::span(logs).subspan(c * each, each)));
    const double all = sd_of(logs), between = means.size() > 1 ? sd_of(means) : 0, most = static_cast<double>(logs.size());
    const double independent = between > 0 ? std::clamp(static_cast<double>(means.size()) * all * all / (between * between), 20.0, most) : most;
    const double z05 = normal_quantile(0.95), z005 = normal_quantile(0.995), density = std::exp(-0.5 * z05 * z05) / std::sqrt(2 * std::numbers::pi);
    const double known = (z005 / z05) * (z005 / z05) * 0.05 * 0.95 / (density * density) / independent;   // variance of the point, in units of the spread
    return std::min(own, middle * std::exp(-z005 * std::sqrt(1 + known) * std::log(middle / early) / z05));
}

// Remainder of a day by the year, as std::fmod gives it, which is slow: the whole years and what is left are exact in doubles.
double day_of_year(double day) {
    constexpr double year = 365.25, most = 1e9;
    if (!(day >= 0 && day < most)) return std::fmod(day, year);
    const double left = day - std::floor(day / year) * year;   // the quotient may round up to the next year, never by more
    return left < 0 ? left + year : left;
}

struct Belief {   // about the two thicknesses
    double a = 0, b = 0, aa = 0, bb = 0, ab = 0;
};

}  // namespace

struct Learned::Inside {
    WearPriors priors;
    LearnOptions options;
    TypicalRiding typical;
    std::uint64_t seed = 1;
    long as_of = 0;
    std::vector<Ride> rides;
    double way_m = 0;         // of all of them
    std::vector<std::pair<double, double>> weathers;   // (wet, grit) as rides have them: few kinds, for tags are
    std::array<std::vector<double>, 2> own_MJ;          // work by each count of rides; the parameters do not move it
    std::vector<std::string> compounds;
    std::vector<CompoundPriors> compound_priors;
    std::array<std::vector<int>, 2> compound_at;   // [wheel][ride]
    std::vector<Chain> chains;
    // Places of the parameters in z.
    int bias = 0, rider = 1, wet = 2, grit = 3, rubbing = 4, rotor = 5, wheel = 6, side = 8, rotor_wheel = 10, exponent = 12, per_compound = 13, z_share = -1, size = 0;
    std::vector<Vector> draws;
    double accepted = 0;
    std::unique_ptr<Learned> unswollen;   // the same readings, taken as if nothing swelled; only where something did

    // Prefix sums over the rides: work that counts, its square times the scatter. Only at the counts of rides that anybody asks for
    // (`marks`): at all of them they would be ten times as much memory, whose making cost more than the sums.
    struct Sums {
        std::array<std::vector<double>, 2> pad, pad2, rotor, rotor2;   // [marks]
    };
    std::vector<std::size_t> marks;        // rising; where parts came on, were read, may have swelled, and the ends of blocks
    std::vector<std::uint32_t> mark_at;    // [count of rides] its place in marks
    void set_marks() {
        const std::size_t n = rides.size();
        marks = block_bounds(n);
        marks.insert(marks.end(), {0, n});
        for (const Chain& c : chains) {
            marks.push_back(c.from);
            for (const Piece& p : c.pieces) marks.push_back(p.from), marks.push_back(std::min(p.to, n));
            for (const Event& v : c.events) {
                marks.push_back(v.rides);
                for (const auto& [after, share] : v.hot) marks.push_back(after);
            }
        }
        std::sort(marks.begin(), marks.end());
        marks.erase(std::unique(marks.begin(), marks.end()), marks.end());
        mark_at.assign(n + 1, UINT32_MAX);
        for (std::size_t m = 0; m < marks.size(); ++m) mark_at[marks[m]] = static_cast<std::uint32_t>(m);
    }

    // What the parameters make of heat and weather, the same for every ride.
    struct Heat {
        double threshold_degC, growth;   // growth per square kelvin
    };
    struct Weather {
        double wet, grit, rub, exponent;   // exponent: of water and grit, on rotors
        std::array<double, 2> part;   // of the work of each wheel, over what it was reckoned with
        std::vector<Heat> heat;       // [compound]
        std::vector<std::array<double, 2>> factor;   // [weathers] on pads, on rotors
        std::array<double, 2> factor_of(const Ride& r) const {
            const double m = (1 + r.wet * wet) * (1 + r.grit * grit);
            return {m, exponent == 1 || m == 1 ? m : std::exp(exponent * std::log(m))};
        }
    };
    double front_share_of(const Vector& z) const {   // [EQ life-10]
        const double s = options.front_share, odds = s / (1 - s) * std::exp(z_share >= 0 ? options.front_share_sd * z[z_share] : 0);
        return odds / (1 + odds);
    }
    Weather weather_of(const Vector& z) const {
        Weather w{priors.factor.wet * std::exp(priors.factor.wet_sd * z[wet]) - 1, priors.factor.grit * std::exp(priors.factor.grit_sd * z[grit]) - 1,
                  priors.rubbing_N * 1e-6 * std::exp(priors.rubbing_log_sd * z[rubbing]), std::max(0.0, priors.factor.rotor_exponent + priors.rotor_exponent_sd * z[exponent]),
                  z_share < 0 ? std::array{1.0, 1.0} : std::array{front_share_of(z) / options.front_share, (1 - front_share_of(z)) / (1 - options.front_share)}, {}, {}};
        // An error of this rider's temperatures moves what counts as the threshold.
        const double off_K = std::sqrt(priors.spread.threshold_dK * priors.spread.threshold_dK + priors.observation.pad_temperature_dK * priors.observation.pad_temperature_dK);
        for (std::size_t c = 0; c < compound_priors.size(); ++c) {
            const int at = per_compound + 3 * static_cast<int>(c);
            w.heat.push_back({compound_priors[c].threshold_degC + off_K * z[at + 1], 1e-4 * std::max(0.0, compound_priors[c].growth) * std::exp(priors.spread.growth * z[at + 2])});
        }
        for (const auto& [is_wet, is_grit] : weathers) {
            Ride r{};
            r.wet = is_wet, r.grit = is_grit;
            w.factor.push_back(w.factor_of(r));
        }
        return w;
    }
    // What one ride does to a wheel's pads [MJ that count] and rotor [mm3], in this rider's weather.   Source: [EQ life-1]
    struct RideWear {
        double pad, rotor;
    };
    RideWear wear_of(const Ride& r, std::size_t e, int compound, const Weather& w) const {
        const Heat& heat = w.heat[static_cast<std::size_t>(compound)];
        const double over = std::max(0.0, r.degC[e] - heat.threshold_degC);
        const auto [m, me] = r.weather >= 0 ? w.factor[static_cast<std::size_t>(r.weather)] : w.factor_of(r);
        const double hot_MJ = r.energy_MJ[e] * w.part[e] * (1 + heat.growth * over * over);
        return {(hot_MJ + w.rub * r.distance_m) * m, hot_MJ * me * compound_priors[static_cast<std::size_t>(compound)].rotor_wear_mm3_MJ};
    }
    void sums(const Vector& z, Sums& s) const {
        const Weather w = weather_of(z);
        for (std::size_t e = 0; e < 2; ++e) {
            for (auto* v : {&s.pad[e], &s.pad2[e], &s.rotor[e], &s.rotor2[e]}) v->resize(marks.size());
            double pad_sum = 0, pad2_sum = 0, rotor_sum = 0, rotor2_sum = 0;
            std::size_t i = 0;
            for (std::size_t m = 0; m < marks.size(); ++m) {
                for (; i < marks[m]; ++i) {
                    const Ride& r = rides[i];
                    const auto [pad, rot] = wear_of(r, e, compound_at[e][i], w);
                    pad_sum += pad;
                    pad2_sum += pad * pad * r.rel2[e];
                    rotor_sum += rot;
                    rotor2_sum += rot * rot * r.rel2[e];
                }
                s.pad[e][m] = pad_sum, s.pad2[e][m] = pad2_sum, s.rotor[e][m] = rotor_sum, s.rotor2[e][m] = rotor2_sum;
            }
        }
    }
    // Sums of all draws [draw], which every forecast needs: kept from the second question on, where they are not too large; else null.
    using OfDraws = std::shared_ptr<const std::vector<Sums>>;
    OfDraws sums_of_draws() const {
        constexpr std::size_t most = 1 << 23;   // numbers, 64 MB
        const std::lock_guard lock(mutex);
        if (!std::exchange(asked_before, true) || of_draws || draws.size() * 8 * marks.size() > most) return of_draws;
        auto all = std::make_shared<std::vector<Sums>>(draws.size());
        for (std::size_t k = 0; k < draws.size(); ++k) sums(draws[k], (*all)[k]);
        return of_draws = std::move(all);
    }
    const Sums& sums_of(const OfDraws& kept, std::size_t draw, Sums& made) const {
        if (kept) return (*kept)[draw];
        sums(draws[draw], made);
        return made;
    }
    mutable std::mutex mutex;
    mutable bool asked_before = false;
    mutable OfDraws of_draws;

    // Log standard deviation of one pad set or rotor about others of its wheel.
    double own_sd(const Chain& c) const { return c.rotor ? std::sqrt(std::max(0.0, 1 - priors.rotor_share.rider - priors.rotor_share.wheel)) * priors.spread.rotor_rider : priors.spread.set; }
    // Logarithm of this set's wear over its median prior.
    double log_rate(const Chain& c, const Vector& z) const {
        const double all = priors.observation.energy_bias * z[bias];
        if (c.rotor) {
            const double own = c.z_set >= 0 ? own_sd(c) * z[c.z_set] : 0;
            return all + priors.spread.rotor_rider * (std::sqrt(priors.rotor_share.rider) * z[rotor] + std::sqrt(priors.rotor_share.wheel) * z[rotor_wheel + c.wheel]) + own;
        }
        double v = all + priors.spread.rider * (std::sqrt(of_rider) * z[rider] + std::sqrt(of_compound) * z[per_compound + 3 * c.compound] + std::sqrt(of_wheel) * z[wheel + c.wheel]);
        if (c.z_set >= 0) v += priors.spread.set * z[c.z_set];
        return v;
    }
    // mm per unit of the sums, left and right.   Source: [EQ life-1]
    std::array<double, 2> rates(const Chain& c, const Vector& z, double extra_set = 0, double extra_side = 0) const {
        const double scatter = std::exp(0.5 * priors.spread.ride * priors.spread.ride);   // mean of a log-normal about its median
        const double k = std::exp(log_rate(c, z) + extra_set) * scatter;
        if (c.rotor) return {k / c.area[0], 0};
        const double lr = priors.spread.left_right * (std::sqrt(left_right_of_wheel) * z[side + c.wheel] + (c.z_side >= 0 ? std::sqrt(left_right_of_set) * z[c.z_side] : extra_side));
        const double a = std::clamp(lr, -0.9, 0.9), half = 0.5 * k * compound_priors[static_cast<std::size_t>(c.compound)].specific_wear_mm3_MJ;
        return {c.fitted[0] >= 0 ? half * (1 + a) / c.area[0] : 0, c.fitted[1] >= 0 ? half * (1 - a) / c.area[1] : 0};
    }

    Belief fresh(const Chain& c) const {
        const bool both = c.fitted[0] >= 0 && c.fitted[1] >= 0;
        return {c.new_mm[0], c.new_mm[1], c.new_var[0], c.fitted[1] >= 0 ? c.new_var[1] : 0, both ? c.new_shared * std::sqrt(c.new_var[0] * c.new_var[1]) : 0};
    }
    // Rides and work of a part up to a count of rides, all its stays on this bike together.
    double worked_MJ(const Chain& c, std::size_t to) const {
        double sum = 0;
        for (const Piece& p : c.pieces)
            if (to > p.from) sum += own_MJ[static_cast<std::size_t>(p.wheel)][std::min(to, p.to)] - own_MJ[static_cast<std::size_t>(p.wheel)][p.from];
        return sum;
    }
    // Squared relative spread of the wear at a wheel that is not the part's now.   Source: [EQ life-17]
    double other_wheel2(const Chain& c) const {
        if (c.rotor) return 2 * priors.rotor_share.wheel * priors.spread.rotor_rider * priors.spread.rotor_rider;
        return 2 * (of_wheel * priors.spread.rider * priors.spread.rider + left_right_of_wheel * priors.spread.left_right * priors.spread.left_right);
    }
    // Thickness lost between two counts of rides of one stay.   Source: [EQ life-2]
    void wear_in(const Chain& c, const Piece& p, const Sums& s, const std::array<double, 2>& k, std::size_t from, std::size_t to, Belief& b) const {
        if (to <= from) return;
        const auto e = static_cast<std::size_t>(p.wheel);
        const std::vector<double>&one = c.rotor ? s.rotor[e] : s.pad[e], &two = c.rotor ? s.rotor2[e] : s.pad2[e];
        const std::uint32_t m0 = mark_at[from], m1 = mark_at[to];
        double sum = one[m1] - one[m0];
        const double n = static_cast<double>(to - from);
        double var = two[m1] - two[m0] + priors.drift * priors.drift * sum * sum * std::min(1.0, drift_rides / n);
        if (p.wheel != c.wheel) var += sum * sum * other_wheel2(c);
        if (!c.rotor && !c.bedded && priors.factor.bedding > 0) {
            // Share of the work done while bedding in counts more; own work of one pad is half the wheel's.
            const double w0 = 0.5 * worked_MJ(c, from), w1 = 0.5 * worked_MJ(c, to), B = priors.factor.bedding_MJ;
            if (w1 > w0) sum *= 1 + priors.factor.bedding * B * (std::exp(-w0 / B) - std::exp(-w1 / B)) / (w1 - w0);
        }
        b.a -= k[0] * sum;
        b.b -= k[1] * sum;
        b.aa += k[0] * k[0] * var;
        b.bb += k[1] * k[1] * var;
        b.ab += shared_noise * k[0] * k[1] * var;
    }
    // And on another bike: as this one wears it by the metre, as far off as one rider is from another.   Source: [EQ life-17]
    void wear_elsewhere(const Chain& c, const Piece& p, const Sums& s, const std::array<double, 2>& k, Belief& b) const {
        const auto e = static_cast<std::size_t>(c.wheel);
        double a_metre = 0;
        if (way_m > 0) a_metre = (c.rotor ? s.rotor[e] : s.pad[e]).back() / way_m;
        else a_metre = 0.5e-6 * typical.energy_J / typical.distance_m * (c.rotor ? compound_priors[static_cast<std::size_t>(std::max(0, c.compound))].rotor_wear_mm3_MJ : 1.0);
        const double v = typical.log_sd * typical.log_sd, sum = a_metre * p.elsewhere_m * std::exp(0.5 * v), var = sum * sum * std::expm1(v);
        b.a -= k[0] * sum;
        b.b -= k[1] * sum;
        b.aa += k[0] * k[0] * var;
        b.bb += k[1] * k[1] * var;
        b.ab += k[0] * k[1] * var;
    }
    // Thickness lost up to a count of rides; what was ridden elsewhere only where it was over by then.
    void wear_on(const Chain& c, const Sums& s, const std::array<double, 2>& k, Place& at, std::size_t to, std::size_t elsewhere, Belief& b) const {
        for (; at.piece < c.pieces.size(); ++at.piece) {
            const Piece& p = c.pieces[at.piece];
            if (p.elsewhere_m > 0) {
                if (at.piece >= elsewhere) return;
                wear_elsewhere(c, p, s, k, b);
                continue;
            }
            const std::size_t from = std::max(at.rides, p.from), until = std::min(to, p.to);
            wear_in(c, p, s, k, from, until, b);
            at.rides = std::max(from, until);
            if (p.to > to) return;
        }
    }
    // What pads lost in the sums between two counts of rides, while they were on.
    double pad_between(const Chain& c, const Sums& s, std::size_t from, std::size_t to) const {
        const std::vector<double>& here = s.pad[static_cast<std::size_t>(c.wheel)];
        double sum = from < c.from ? here[mark_at[std::min(to, c.from)]] - here[mark_at[from]] : 0;   // of a set that is followed from a reading on, before that
        for (const Piece& p : c.pieces) {
            const std::size_t a = std::max(from, p.from), z = std::min(to, p.to);
            if (z <= a) continue;
            const std::vector<double>& pad = s.pad[static_cast<std::size_t>(p.wheel)];
            sum += pad[mark_at[z]] - pad[mark_at[a]];
        }
        return sum;
    }
    // A reading, right or misread; returns the logarithm of its likelihood.   Source: [EQ life-3]
    double take(const Event& v, double swollen_mm, Belief& b) const {
        const double m = v.side ? b.b : b.a, p = v.side ? b.bb : b.aa, d = v.mm - swollen_mm - m;
        const double wrong = priors.observation.misread_share, wide = priors.observation.misread_mm * priors.observation.misread_mm;
        const double s1 = p + v.var, s2 = s1 + wide;
        const double l1 = (1 - wrong) * std::exp(-0.5 * d * d / s1) / std::sqrt(s1), l2 = wrong * std::exp(-0.5 * d * d / s2) / std::sqrt(s2);
        const double l = l1 + l2;
        double w1 = 1, log_l;
        if (l > 1e-280) w1 = l1 / l, log_l = std::log(l);
        else {   // far out: the wider one alone
            w1 = wrong > 0 ? 0 : 1;
            log_l = wrong > 0 ? std::log(wrong) - 0.5 * d * d / s2 - 0.5 * std::log(s2) : -0.5 * d * d / s1 - 0.5 * std::log(s1);
        }
        const double w2 = 1 - w1;
        // Gains of the state seen and of the other; the mixture is brought together by its first two moments.
        const double own = p, cross = b.ab, other = v.side ? b.aa : b.bb;
        const double g = w1 / s1 + w2 / s2, q = w1 / (s1 * s1) + w2 / (s2 * s2);
        const double spread = (q - g * g) * d * d;   // variance of the mixture's means, per covariance squared
        const double own_new = own - own * own * (g - spread), cross_new = cross - own * cross * (g - spread), other_new = other - cross * cross * (g - spread);
        (v.side ? b.b : b.a) += own * g * d;
        (v.side ? b.a : b.b) += cross * g * d;
        (v.side ? b.bb : b.aa) = own_new;
        (v.side ? b.aa : b.bb) = other_new;
        b.ab = cross_new;
        return log_l;
    }
    // By how much a set's pads swell where a layer was heated through [mm]: an exponential number, from a standard normal one.
    double full_swelling_mm(const Chain& c, const Vector& z) const {
        return c.z_swell < 0 ? 0 : -priors.swell_mm * std::log(0.5 * std::erfc(std::min(8.0, z[c.z_swell]) / std::numbers::sqrt2));
    }
    // What of it is left in a reading: the layer goes by wear alone.   Source: [EQ life-14]
    double swelling_mm(const Chain& c, const Sums& s, const std::array<double, 2>& k, const Event& v, double full_mm) const {
        double part = 0;
        for (const auto& [after, share] : v.hot) part = std::max(part, share * std::exp(-k[static_cast<std::size_t>(v.side)] * std::max(0.0, pad_between(c, s, after, v.rides)) / priors.swell_layer_mm));
        return full_mm * part;
    }
    // From when it came on through all that was read of it; now: to the last ride as well.
    double run(const Chain& c, const Sums& s, const std::array<double, 2>& k, double full_swelling, Belief& b, bool now = false) const {
        double log_l = 0;
        Place at;
        for (const Event& v : c.events) {
            wear_on(c, s, k, at, v.rides, v.pieces, b);
            log_l += take(v, v.hot.empty() ? 0 : swelling_mm(c, s, k, v, full_swelling), b);
        }
        if (now) wear_on(c, s, k, at, rides.size(), c.pieces.size(), b);
        return log_l;
    }
    double chain_log(const Chain& c, const Sums& s, const Vector& z) const {
        if (c.events.empty()) return 0;
        Belief b = fresh(c);
        return run(c, s, rates(c, z), full_swelling_mm(c, z), b);
    }
    double log_posterior(const Vector& z, Sums& s) const {
        sums(z, s);
        double l = -0.5 * z.squaredNorm();
        for (const Chain& c : chains) l += chain_log(c, s, z);
        return std::isfinite(l) ? l : -1e300;
    }
    bool moves_sums(int i) const { return i == wet || i == grit || i == rubbing || i == exponent || i == z_share || (i >= per_compound && i < per_compound + 3 * static_cast<int>(compounds.size()) && (i - per_compound) % 3 != 0); }

    double gradient(const Vector& z, Sums& s, Sums& other, Vector& g) const {
        const double l = log_posterior(z, s);
        constexpr double h = 1e-4;
        Vector y = z;
        for (int i = 0; i < size; ++i) {
            double two[2];
            for (int d = 0; d < 2; ++d) {
                y[i] = z[i] + (d ? h : -h);
                const bool all = moves_sums(i);
                if (all) sums(y, other);
                double sum = -0.5 * y[i] * y[i];
                for (const Chain& c : chains) {
                    if (c.events.empty()) continue;
                    // A parameter of one set alone moves that set alone.
                    if (i >= first_of_sets && c.z_set != i && c.z_side != i && c.z_swell != i) continue;
                    sum += chain_log(c, all ? other : s, y);
                }
                two[d] = sum;
            }
            y[i] = z[i];
            g[i] = (two[1] - two[0]) / (2 * h);
        }
        return l;
    }
    int first_of_sets = 0;

    void sample(const Context& ctx) {
        Sums s, other;
        const bool nothing = std::all_of(chains.begin(), chains.end(), [](const Chain& c) { return c.events.empty(); });
        const int kept = options.chains * ((options.steps - options.steps / 5) / options.keep_every);
        if (nothing) {   // the prior itself
            for (int k = 0; k < kept; ++k) {
                Vector z(size);
                for (int i = 0; i < size; ++i) z[i] = normal_of(seed, hash_of("life prior"), static_cast<std::uint64_t>(k), static_cast<std::uint64_t>(i));
                draws.push_back(std::move(z));
            }
            accepted = 1;
            return;
        }
        // The mode, by BFGS.
        Vector z = Vector::Zero(size), g(size), g_new(size);
        Eigen::MatrixXd inverse = Eigen::MatrixXd::Identity(size, size);
        double l = gradient(z, s, other, g);
        for (int step = 0; step < 80 && !ctx.stopped(); ++step) {
            Vector d = inverse * g;
            if (d.dot(g) <= 0) inverse.setIdentity(), d = g;
            if (const double longest = d.norm(); longest > 3) d *= 3 / longest;
            double t = 1, l_new = l;
            Vector y = z;
            for (; t > 1e-4; t *= 0.5) {
                y = z + t * d;
                l_new = log_posterior(y, s);
                if (l_new >= l + 1e-4 * t * d.dot(g)) break;
            }
            if (t <= 1e-4) break;
            l_new = gradient(y, s, other, g_new);
            const Vector dz = y - z, dg = g - g_new;   // of minus the logarithm
            const double rho = dz.dot(dg);
            if (rho > 1e-10) {
                const Eigen::MatrixXd left = Eigen::MatrixXd::Identity(size, size) - dz * dg.transpose() / rho;
                inverse = left * inverse * left.transpose() + dz * dz.transpose() / rho;
            }
            const double gained = l_new - l;
            z = y, g = g_new, l = l_new;
            if (gained < 1e-4 && g.norm() < 0.05) break;
        }
        // The curvature there.
        Eigen::MatrixXd H(size, size);
        constexpr double h = 1e-2;
        for (int i = 0; i < size; ++i) {
            Vector y = z;
            y[i] += h;
            gradient(y, s, other, g_new);
            Vector g_low(size);
            y[i] -= 2 * h;
            gradient(y, s, other, g_low);
            H.col(i) = (g_low - g_new) / (2 * h);
        }
        const Eigen::MatrixXd H_even = 0.5 * (H + H.transpose());
        Eigen::SelfAdjointEigenSolver<Eigen::MatrixXd> eig(H_even);
        // Never narrower than a tenth of a part in the prior's unit... nor wider than the prior itself, a little loosened.
        Vector scale = eig.eigenvalues().cwiseMax(0.7).cwiseInverse().cwiseSqrt();
        const Eigen::MatrixXd L = eig.eigenvectors() * scale.asDiagonal();
        const Eigen::MatrixXd back = scale.cwiseInverse().asDiagonal() * eig.eigenvectors().transpose();   // to the sphere
        // Chains about it; the step leaves the normal approximation itself unchanged, and is accepted by how the posterior differs.
        long tried = 0, taken = 0;
        for (int c = 0; c < options.chains; ++c) {
            Stream stream(seed, mix(hash_of("life chain"), static_cast<std::uint64_t>(as_of), static_cast<std::uint64_t>(c), 1), 7);
            const auto normal = [&] { return stream.normal(); };
            Vector u(size), v(size);
            for (int i = 0; i < size; ++i) u[i] = normal();
            double l_now = log_posterior(z + L * u, s);
            double beta = 0.6;
            const int burn = options.steps / 5;
            for (int step = 0; step < options.steps && !ctx.stopped(); ++step) {
                // One step in six leaves the prior unchanged instead: where a reading may be a misread there is posterior far from the mode.
                const bool by_prior = step % 6 == 5;
                double log_share = 0, l_then = 0;
                if (by_prior) {
                    const double b = stream.uniform(), keep = std::sqrt(1 - b * b);
                    const Vector from = z + L * u;
                    Vector to(size);
                    for (int i = 0; i < size; ++i) to[i] = keep * from[i] + b * normal();
                    l_then = log_posterior(to, s);
                    log_share = (l_then + 0.5 * to.squaredNorm()) - (l_now + 0.5 * from.squaredNorm());
                    v = back * (to - z);
                } else {
                    const double keep = std::sqrt(1 - beta * beta);
                    for (int i = 0; i < size; ++i) v[i] = keep * u[i] + beta * normal();
                    l_then = log_posterior(z + L * v, s);
                    log_share = (l_then + 0.5 * v.squaredNorm()) - (l_now + 0.5 * u.squaredNorm());
                }
                const double share = std::exp(std::min(0.0, log_share));
                const bool take = stream.uniform() < share;
                if (take) u = v, l_now = l_then;
                if (!by_prior) {
                    if (step >= burn) ++tried, taken += take ? 1 : 0;
                    else beta = std::clamp(beta * std::exp((share - 0.4) * 0.15), 0.05, 0.95);
                }
                if (step >= burn && (step - burn) % options.keep_every == options.keep_every - 1) draws.push_back(z + L * u);
            }
        }
        accepted = tried > 0 ? static_cast<double>(taken) / static_cast<double>(tried) : 1;
    }

    const Chain* chain_of(const TaskRow& t) const {
        for (const Chain& c : chains)
            if (c.wheel == wheel_of(t.component) && c.rotor == is_rotor(t.component) && c.set == t.set && (c.rotor || c.fitted[side_of(t.component)] >= 0)) return &c;
        return nullptr;
    }
    static std::size_t side_of(Component c) { return is_rotor(c) ? 0 : static_cast<std::size_t>(c) % 3; }
};

Learned::Learned(std::unique_ptr<Inside> in) : in_(std::move(in)) {}
Learned::~Learned() = default;
Learned::Learned(Learned&&) noexcept = default;
Learned& Learned::operator=(Learned&&) noexcept = default;
double Learned::accepted_share() const { return in_->accepted; }

Result<Learned> Learned::learn_as_told(const Context& ctx, const History& h, const WearPriors& priors, long as_of, const TypicalRiding& typical, const LearnOptions& options) {
    auto in = std::make_unique<Learned::Inside>();
    in->priors = priors;
    in->options = options;
    in->typical = typical;
    in->seed = ctx.seed;
    in->as_of = as_of;
    // Rides up to the one asked about. What is not known of one is taken from the others.
    double energy[2] = {0, 0}, way[2] = {0, 0}, heat[2] = {0, 0}, heat_n[2] = {0, 0}, wet = 0, grit = 0;
    std::size_t n = 0;
    for (const RiddenRow& r : h.rides) {
        if (r.ride > as_of) break;
        for (std::size_t e = 0; e < 2; ++e) {
            if (r.energy_J[e]) energy[e] += *r.energy_J[e], way[e] += r.distance_m;
            if (r.pad_degC[e]) heat[e] += *r.pad_degC[e], ++heat_n[e];
        }
        wet += r.wet, grit += r.grit, ++n;
    }
    const double wet_mean = n > 0 ? (wet + 0.3) / (static_cast<double>(n) + 1) : 0.2, grit_mean = n > 0 ? (grit + 0.1) / (static_cast<double>(n) + 1) : 0.1;
    // What a tag says of the ride, where tags are sometimes wrong.   Source: [EQ life-4]
    const auto& o = priors.observation;
    const double wet_true = std::clamp((wet_mean - o.wet_wrong) / std::max(1e-6, 1 - 2 * o.wet_wrong), 0.01, 0.99);
    const double wet_if_wet = wet_true * (1 - o.wet_wrong) / (wet_true * (1 - o.wet_wrong) + (1 - wet_true) * o.wet_wrong);
    const double wet_if_dry = wet_true * o.wet_wrong / (wet_true * o.wet_wrong + (1 - wet_true) * (1 - o.wet_wrong));
    const double grit_true = std::min(0.95, grit_mean / (1 - o.grit_unseen));
    const double grit_if_clean = grit_true * o.grit_unseen / (grit_true * o.grit_unseen + 1 - grit_true);
    const double scatter = std::expm1(priors.spread.ride * priors.spread.ride);
    for (const RiddenRow& r : h.rides) {
        if (r.ride > as_of) break;
        Ride x{};
        x.number = r.ride, x.day = r.day, x.distance_m = r.distance_m, x.descent_m = r.descent_m, x.duration_s = r.duration_s;
        x.wet = r.wet * wet_if_wet + (1 - r.wet) * wet_if_dry;
        x.grit = r.grit + (1 - r.grit) * grit_if_clean;
        const double weather = std::pow(priors.factor.wet - 1, 2) * x.wet * (1 - x.wet) * (o.wet_wrong > 0 ? 1 : 0) / std::pow(1 + x.wet * (priors.factor.wet - 1), 2) +
                               std::pow(priors.factor.grit - 1, 2) * x.grit * (1 - x.grit) * (o.grit_unseen > 0 ? 1 : 0) / std::pow(1 + x.grit * (priors.factor.grit - 1), 2);
        for (std::size_t e = 0; e < 2; ++e) {
            const double told = r.energy_J[e] ? *r.energy_J[e] : way[e] > 0 ? energy[e] / way[e] * r.distance_m : 0.5 * typical.energy_J * r.distance_m / typical.distance_m;
            x.energy_MJ[e] = std::max(0.0, told) * 1e-6;
            x.degC[e] = r.pad_degC[e] ? *r.pad_degC[e] : heat_n[e] > 0 ? heat[e] / heat_n[e] : typical.pad_degC;
            const double rel = r.energy_J[e] ? std::max(o.energy_ride, told > 0 ? std::min(1.0, r.energy_sd_J[e] / told) : 0) : 1.0;
            x.rel2[e] = scatter + rel * rel + weather;
        }
        const std::pair<double, double> weather_of_it{x.wet, x.grit};
        const auto like = std::find(in->weathers.begin(), in->weathers.end(), weather_of_it);
        if (like != in->weathers.end() || in->weathers.size() < 64) {   // else its factors are reckoned for it alone
            x.weather = static_cast<int>(like - in->weathers.begin());
            if (like == in->weathers.end()) in->weathers.push_back(weather_of_it);
        }
        in->rides.push_back(x), in->way_m += x.distance_m;
    }
    for (std::size_t e = 0; e < 2; ++e) {
        in->own_MJ[e].assign(in->rides.size() + 1, 0.0);
        for (std::size_t i = 0; i < in->rides.size(); ++i) in->own_MJ[e][i + 1] = in->own_MJ[e][i] + in->rides[i].energy_MJ[e];
    }
    // Sets, left and right of a wheel together where both carry the name and went on together.
    const auto rides_before = [&](long ride) {
        return static_cast<std::size_t>(std::lower_bound(in->rides.begin(), in->rides.end(), ride, [](const Ride& r, long v) { return r.number < v; }) - in->rides.begin());
    };
    const auto compound_index = [&](const std::string& name) -> int {
        for (std::size_t i = 0; i < in->compounds.size(); ++i)
            if (in->compounds[i] == name) return static_cast<int>(i);
        const auto p = priors.compound.find(name);
        if (p == priors.compound.end()) return -1;
        in->compounds.push_back(name);
        in->compound_priors.push_back(p->second);
        return static_cast<int>(in->compounds.size()) - 1;
    };
    for (std::size_t i = 0; i < h.fitted.size(); ++i) {
        const FittedRow& f = h.fitted[i];
        const std::size_t side = Learned::Inside::side_of(f.component);
        const int wheel = wheel_of(f.component);
        const bool rotor = is_rotor(f.component);
        int compound = -1;
        if (!rotor || !f.compound.empty()) {
            compound = compound_index(f.compound);
            if (compound < 0) return Error{Errc::bad_input, fmt::format("{} set '{}': no priors for compound '{}': add [compound.{}] to the file of priors", word_of(f.component), f.set, f.compound, f.compound)};
        }
        Chain* chain = nullptr;
        for (Chain& c : in->chains)
            if (!rotor && !c.rotor && c.wheel == wheel && c.set == f.set && c.fitted[side] < 0 && c.compound == compound && c.from == rides_before(first_ride_of(f))) chain = &c;
        if (!chain) {
            in->chains.push_back({});
            chain = &in->chains.back();
            chain->wheel = wheel, chain->rotor = rotor, chain->set = f.set, chain->from = rides_before(first_ride_of(f)), chain->compound = compound;
            for (const StayRow& stay : f.stays)   // the last one goes on: whoever asks about a part that is off asks about the time it was on
                chain->pieces.push_back({rides_before(stay.first_ride), rides_before(stay.end_ride), stay.wheel, stay.first_ride <= as_of + 1 ? stay.elsewhere_m : 0});
            if (f.stays.empty()) chain->pieces = {{chain->from, in->rides.size(), wheel, 0}};
        }
        const double sd = f.new_sd_mm >= 0 ? f.new_sd_mm : rotor ? o.new_rotor_sd_mm : o.new_pad_sd_mm;
        chain->bedded = f.bedded, chain->new_shared = f.new_sd_mm >= 0 ? 0.9 : 0, chain->new_var[side] = sd * sd, chain->limit_sd[side] = f.limit_sd_mm;
        chain->fitted[side] = static_cast<int>(i);
        chain->new_mm[side] = f.new_mm, chain->limit_mm[side] = f.limit_mm, chain->area[side] = f.area_mm2;
    }
    if (in->compounds.empty()) compound_index("organic");
    // The compound on each wheel at each ride: that of its newest pads; before any, that of the first.
    for (std::size_t e = 0; e < 2; ++e) {
        int now = -1, told = -1;
        for (const Chain& c : in->chains) {
            if (c.wheel != static_cast<int>(e) || c.compound < 0) continue;
            if (told < 0 || !c.rotor) told = told < 0 ? c.compound : told;
        }
        if (told < 0) told = 0;
        now = told;
        for (std::size_t i = 0; i < in->rides.size(); ++i) {
            for (const Chain& c : in->chains)
                for (const Piece& p : c.pieces)
                    if (!c.rotor && p.wheel == static_cast<int>(e) && p.from == i && !(p.elsewhere_m > 0) && (p.to > i || c.pieces.size() == 1)) now = c.compound;
            in->compound_at[e].push_back(now);
        }
    }
    in->size = in->per_compound + 3 * static_cast<int>(in->compounds.size());
    if (options.front_share_sd > 0) in->z_share = in->size++;
    in->first_of_sets = in->size;
    // Of the rides on a pad set up to a reading, those that may have left a swollen layer which no later and hotter one replaced.   Source: [EQ life-14]
    const auto hot_before = [&](const Chain& c, const ThicknessRow& r) {
        std::vector<std::pair<std::size_t, double>> hot;
        const FittedRow& pad = h.fitted[static_cast<std::size_t>(c.fitted[Learned::Inside::side_of(r.component)])];
        if (!(priors.swell_mm > 0) || !(priors.swell_layer_mm > 0) || (pad.compound != "organic" && pad.compound != "semi_metallic")) return hot;
        for (std::size_t i = pad.heated_from_ride > 0 ? std::min(c.from, rides_before(pad.heated_from_ride)) : c.from; i < in->rides.size(); ++i) {
            const Ride& ride = in->rides[i];
            if (ride.number > r.ride && !(r.any_time && r.day && ride.day == r.day)) break;
            const auto on = std::find_if(c.pieces.begin(), c.pieces.end(), [&](const Piece& p) { return p.from <= i && i < p.to; });
            if (on == c.pieces.end() && i >= c.from) continue;   // it was off; before a time it is followed from it may have been on
            const double share = std::clamp((ride.degC[static_cast<std::size_t>(on == c.pieces.end() ? c.wheel : on->wheel)] - priors.swell_from_degC) / (priors.swell_full_degC - priors.swell_from_degC), 0.0, 1.0);
            if (!(share > 0)) continue;
            while (!hot.empty() && hot.back().second <= share) hot.pop_back();
            hot.emplace_back(i + 1, share);
        }
        return hot;
    };
    if (options.use_readings) {
        for (const ThicknessRow& r : h.readings) {
            if (r.ride > as_of) break;
            for (Chain& c : in->chains) {
                if (c.wheel != wheel_of(r.component) || c.rotor != is_rotor(r.component) || c.set != r.set) continue;
                const std::size_t side = Learned::Inside::side_of(r.component);
                if (c.fitted[side] < 0) continue;
                const std::size_t rides = std::max(c.from, rides_before(r.ride + 1));
                c.events.push_back({rides, static_cast<int>(side), r.thickness_mm, r.sd_mm * r.sd_mm + r.resolution_mm * r.resolution_mm / 12 + (c.rotor ? 1e-8 : priors.place_mm * priors.place_mm),
                                    c.rotor ? std::vector<std::pair<std::size_t, double>>{} : hot_before(c, r), r.stays_before});
                break;
            }
        }
        for (Chain& c : in->chains) {
            std::stable_sort(c.events.begin(), c.events.end(), [](const Event& a, const Event& b) { return a.rides < b.rides; });
            // Only a set that was read needs parameters of its own here; another one's are drawn when it is asked about.
            if (c.events.empty()) continue;
            c.z_set = in->size++;
            if (!c.rotor) c.z_side = in->size++;
            if (std::any_of(c.events.begin(), c.events.end(), [](const Event& v) { return !v.hot.empty(); })) c.z_swell = in->size++;
        }
    }
    in->set_marks();
    in->sample(ctx);
    if (ctx.stopped()) return Error{Errc::cancelled, "stopped"};
    return Learned(std::move(in));
}

Result<Learned> learn(const Context& ctx, const History& h, const WearPriors& priors, long as_of, const TypicalRiding& typical, const LearnOptions& options) {
    Result<Learned> learned = Learned::learn_as_told(ctx, h, priors, as_of, typical, options);
    const auto swollen = [&](const Chain& c) {
        constexpr double least_mm = 0.001;   // on average, fresh: no reading knows less, and all of it would be learned twice for nothing
        return std::any_of(c.events.begin(), c.events.end(), [&](const Event& v) { return !v.hot.empty() && v.hot.front().second * priors.swell_mm >= least_mm; });
    };
    if (!learned || !options.unswollen_too || std::none_of(learned->in_->chains.begin(), learned->in_->chains.end(), swollen)) return learned;
    WearPriors flat = priors;   // a layer at the first of two readings hides wear between them, one at the last adds some
    flat.swell_mm = 0;
    Result<Learned> other = Learned::learn_as_told(ctx, h, flat, as_of, typical, options);
    if (!other) return other;
    learned->in_->unswollen = std::make_unique<Learned>(*std::move(other));
    return learned;
}

LifeForecast sooner_of(const LifeForecast& a, const LifeForecast& b) {
    LifeForecast f = a.limit_ride[3] <= b.limit_ride[3] ? a : b;
    const auto least = [](const Interval& x, const Interval& y) { return Interval{std::min(x.p05, y.p05), std::min(x.p50, y.p50), std::min(x.p95, y.p95)}; };
    for (std::size_t i = 0; i < f.km.size(); ++i) f.km[i] = std::min(a.km[i], b.km[i]), f.limit_ride[i] = std::min(a.limit_ride[i], b.limit_ride[i]);
    f.limit_reached_probability = std::max(a.limit_reached_probability, b.limit_reached_probability);
    f.thickness_mm = least(a.thickness_mm, b.thickness_mm);
    const auto most = [](const std::optional<Interval>& x, const std::optional<Interval>& y) -> std::optional<Interval> {
        if (!x || !y) return x ? x : y;
        return Interval{std::max(x->p05, y->p05), std::max(x->p50, y->p50), std::max(x->p95, y->p95)};
    };
    f.wear_mm_km = most(a.wear_mm_km, b.wear_mm_km), f.plan_loss_mm = most(a.plan_loss_mm, b.plan_loss_mm);
    f.remaining_rides = least(a.remaining_rides, b.remaining_rides), f.remaining_km = least(a.remaining_km, b.remaining_km);
    const auto least_of = [&](const std::optional<Interval>& x, const std::optional<Interval>& y) { return x && y ? std::optional(least(*x, *y)) : std::nullopt; };
    f.remaining_descent_m = least_of(a.remaining_descent_m, b.remaining_descent_m), f.remaining_h = least_of(a.remaining_h, b.remaining_h);
    f.look_by_rides = std::min(a.look_by_rides, b.look_by_rides), f.look_by_km = std::min(a.look_by_km, b.look_by_km);
    f.look_by_days = std::min(a.look_by_days, b.look_by_days), f.days_p05 = std::min(a.days_p05, b.days_p05);
    return f;
}

std::vector<double> Learned::log_rate(Component component, const std::string& set) const {
    std::vector<double> out;
    const Chain* c = in_->chain_of({component, set, 0});
    if (!c) return out;
    std::uint64_t k = 0;
    for (const Vector& z : in_->draws) {
        out.push_back(in_->log_rate(*c, z) + (c->z_set < 0 ? in_->own_sd(*c) * normal_of(in_->seed, hash_of(set), k, 11) : 0));
        ++k;
    }
    return out;
}

std::vector<double> Learned::thickness_mm(const Context&, Component component, const std::string& set) const {
    std::vector<double> out;
    const Chain* c = in_->chain_of({component, set, 0});
    if (!c) return out;
    Inside::Sums made;
    const Inside::OfDraws kept = in_->sums_of_draws();
    const std::size_t side = Inside::side_of(component);
    std::uint64_t k = 0;
    for (const Vector& z : in_->draws) {
        const Inside::Sums& s = in_->sums_of(kept, k, made);
        const double extra = c->z_set < 0 ? in_->own_sd(*c) * normal_of(in_->seed, hash_of(set), k, 11) : 0;
        const double extra_side = std::sqrt(left_right_of_set) * normal_of(in_->seed, hash_of(set), k, 12);
        const auto rate = in_->rates(*c, z, extra, extra_side);
        Belief b = in_->fresh(*c);
        in_->run(*c, s, rate, in_->full_swelling_mm(*c, z), b, true);
        out.push_back((side ? b.b : b.a) + std::sqrt(std::max(0.0, side ? b.bb : b.aa)) * normal_of(in_->seed, hash_of(set), k, 13));
        ++k;
    }
    return out;
}

std::vector<double> Learned::swelling_mm(Component component, const std::string& set) const {
    std::vector<double> out;
    const Chain* c = in_->chain_of({component, set, 0});
    const Event* last = nullptr;
    if (c)
        for (const Event& v : c->events)
            if (v.side == static_cast<int>(Inside::side_of(component))) last = &v;
    if (!last || last->hot.empty()) return out;
    Inside::Sums made;
    const Inside::OfDraws kept = in_->sums_of_draws();
    for (const Vector& z : in_->draws) {
        const Inside::Sums& s = in_->sums_of(kept, out.size(), made);
        out.push_back(in_->swelling_mm(*c, s, in_->rates(*c, z), *last, in_->full_swelling_mm(*c, z)));
    }
    return out;
}

std::vector<double> Learned::front_share() const {
    std::vector<double> out;
    if (in_->z_share >= 0)
        for (const Vector& z : in_->draws) out.push_back(in_->front_share_of(z));
    return out;
}

std::vector<double> Learned::left_share(Component component, const std::string& set) const {
    std::vector<double> out;
    const Chain* c = in_->chain_of({component, set, 0});
    if (!c || c->rotor || c->fitted[0] < 0 || c->fitted[1] < 0) return out;
    std::uint64_t k = 0;
    for (const Vector& z : in_->draws) {
        const auto rate = in_->rates(*c, z, 0, std::sqrt(left_right_of_set) * normal_of(in_->seed, hash_of(set), k++, 14));
        const double left = rate[0] * c->area[0], right = rate[1] * c->area[1];
        out.push_back(left + right > 0 ? left / (left + right) : 0.5);
    }
    return out;
}

std::vector<std::pair<std::string, std::vector<double>>> Learned::parameters(Component component, const std::string& set) const {
    std::vector<std::pair<std::string, std::vector<double>>> out;
    const Inside& in = *in_;
    const Chain* c = in.chain_of({component, set, 0});
    if (!c) return out;
    const int heat = in.per_compound + 3 * std::max(0, c->compound);
    const auto add = [&](const char* name, int at) {
        if (at < 0) return;
        out.emplace_back(name, std::vector<double>());
        for (const Vector& z : in.draws) out.back().second.push_back(z[at]);
    };
    add("energy_bias", in.bias), add("front_share", in.z_share), add("wet", in.wet), add("grit", in.grit);
    if (!c->rotor) add("rubbing", in.rubbing);
    add("threshold_degC", heat + 1), add("growth", heat + 2);
    if (!c->rotor) add("left_right", in.side + c->wheel);
    return out;
}

Result<LifeForecast> Learned::forecast(const Context& ctx, const TaskRow& task, const ForecastOptions& asked) const {
    Result<LifeForecast> f = forecast_as_told(ctx, task, asked);
    if (!f || !asked.sooner || !in_->unswollen) return f;
    const Result<LifeForecast> other = in_->unswollen->forecast_as_told(ctx, task, asked);
    if (!other) return other;
    return sooner_of(*f, *other);   // nobody knows by how much it swelled: a swollen layer lengthens no life and hides no wear
}

Result<LifeForecast> Learned::forecast_as_told(const Context& ctx, const TaskRow& task, const ForecastOptions& asked) const {
    const Inside& in = *in_;
    const Chain* found = in.chain_of(task);
    if (!found) return Error{Errc::bad_input, fmt::format("{} set '{}' was never fitted: add its row to the fitted parts", word_of(task.component), task.set)};
    const Chain& c = *found;
    std::size_t side = Inside::side_of(task.component);
    const std::size_t asked_side = side, e = static_cast<std::size_t>(c.wheel), ridden = in.rides.size();
    const bool first_of_two = asked.whole_set && !c.rotor && c.fitted[0] >= 0 && c.fitted[1] >= 0;
    // Riding to come is drawn from a plan, or from riding that was.
    std::vector<Ride> planned;
    for (const RiddenRow& r : asked.plan) {
        Ride x{};
        x.distance_m = r.distance_m, x.descent_m = r.descent_m, x.duration_s = r.duration_s, x.wet = r.wet, x.grit = r.grit;
        for (std::size_t w = 0; w < 2; ++w) {
            const double J = std::max(0.0, r.energy_J[w].value_or(0)), rel = std::max(in.priors.observation.energy_ride, J > 0 ? std::min(1.0, r.energy_sd_J[w] / J) : 0);
            x.energy_MJ[w] = J * 1e-6, x.degC[w] = r.pad_degC[w].value_or(in.typical.pad_degC);
            x.rel2[w] = std::expm1(in.priors.spread.ride * in.priors.spread.ride) + rel * rel;
        }
        planned.push_back(x);
    }
    const std::vector<Ride>& pool = planned.empty() ? in.rides : planned;
    const std::size_t n = pool.size();
    std::vector<const Chain*> others;
    for (const TaskRow& t : asked.readings) others.push_back(in.chain_of(t));
    std::vector<std::vector<double>> read(others.size());
    std::vector<double> plan_loss;
    const std::size_t per_draw = std::max<std::size_t>(1, static_cast<std::size_t>(in.options.futures) / std::max<std::size_t>(1, in.draws.size()));
    const std::uint64_t key = mix(in.seed, hash_of(word_of(task.component)), hash_of(task.set), static_cast<std::uint64_t>(task.as_of_ride));
    // Riding to come, as blocks of riding that was. Seasons: a block comes more often about its own time of the year.
    const std::vector<std::size_t> bounds = block_bounds(n);
    const std::size_t blocks = bounds.empty() ? 0 : bounds.size() - 1;
    double days_a_ride = 0;
    std::vector<double> day_of(blocks, 0.0);
    // Eight seasons side by side, so that their sums are made together: [season/8][block][season%8].
    constexpr std::size_t seasons = 24, lanes = 8;
    std::vector<double> nearness(blocks * seasons, 1.0);
    const auto at_season = [&](std::size_t q, std::size_t b) { return (q / lanes * blocks + b) * lanes + q % lanes; };
    // Beyond the last block stands more than any sum, for the search looks ahead.
    const std::size_t rows = 2 * blocks + 8;
    std::vector<double> cumulated(rows * seasons, INFINITY);
    const auto sum_at = [&](std::size_t q, std::size_t b) { return (q / lanes * rows + b) * lanes + q % lanes; };
    const bool dated = planned.empty() && n >= 60 && in.rides.front().day && in.rides.back().day && *in.rides.back().day - *in.rides.front().day > 270;
    if (planned.empty() && n > 1 && in.rides.front().day && in.rides.back().day) days_a_ride = static_cast<double>(*in.rides.back().day - *in.rides.front().day) / static_cast<double>(n - 1);
    if (dated) {
        for (std::size_t b = 0; b < blocks; ++b) {
            const Ride& r = in.rides[(bounds[b] + bounds[b + 1]) / 2];
            if (!r.day) continue;
            for (std::size_t q = 0; q < seasons; ++q) {
                double off = std::fmod(std::abs(static_cast<double>(*r.day) - (static_cast<double>(q) + 0.5) * 365.25 / seasons), 365.25);
                off = std::min(off, 365.25 - off);
                nearness[at_season(q, b)] = 0.1 + std::exp(-0.5 * off * off / (40.0 * 40.0));
            }
        }
    }
    std::vector<double> recent(blocks, 1.0);   // habits change: half the weight at 200 rides' age
    if (planned.empty())
        for (std::size_t b = 0; b < blocks; ++b) recent[b] = std::exp2(-static_cast<double>(n - bounds[b]) / 200);

    std::vector<double> limit, rides_left, km, descent, hours, now, log_rate, log_riding, a_km;
    for (auto* v : {&limit, &rides_left, &km, &descent, &hours, &now, &log_rate, &log_riding, &a_km}) v->reserve(in.draws.size() * per_draw);
    for (std::vector<double>& v : read) v.reserve(in.draws.size() * per_draw);
    Inside::Sums made;
    const Inside::OfDraws kept = in.sums_of_draws();
    std::vector<double> d1(n + 1), h1(n + 1), t1(n + 1), weights(blocks), a_ride(blocks), log_var(blocks), log_sd(blocks);
    const std::optional<double> mean_descent_m = mean_of_told(pool, &Ride::descent_m), mean_duration_s = mean_of_told(pool, &Ride::duration_s);
    for (std::size_t i = 0; i < n; ++i) d1[i + 1] = d1[i] + pool[i].distance_m, h1[i + 1] = h1[i] + pool[i].descent_m.value_or(mean_descent_m.value_or(0)), t1[i + 1] = t1[i] + pool[i].duration_s.value_or(mean_duration_s.value_or(0));
    // Of each block: what it wears in this draw, its rides, its way, height and time.
    struct Block {
        double mean, var, rides, way_m, descent_m, duration_s;
    };
    std::vector<Block> block(blocks);
    for (std::size_t q = 0; q < blocks; ++q) {
        const std::size_t i0 = bounds[q], i1 = bounds[q + 1];
        block[q] = {0, 0, static_cast<double>(i1 - i0), d1[i1] - d1[i0], h1[i1] - h1[i0], t1[i1] - t1[i0]};
    }
    const int compound = c.compound >= 0 ? c.compound : ridden > 0 ? in.compound_at[e][ridden - 1] : 0;
    // The riding that was, on one compound all along: its wear is in the sums already.
    const bool as_ridden = planned.empty() && std::all_of(in.compound_at[e].begin(), in.compound_at[e].end(), [&](int at) { return at == compound; });
    double capped = 0, reached = 0;
    for (std::size_t k = 0; k < in.draws.size(); ++k) {
        if (ctx.stopped()) return Error{Errc::cancelled, "stopped"};
        const Vector& z = in.draws[k];
        const Inside::Sums& s = in.sums_of(kept, k, made);
        const Inside::Weather w = in.weather_of(z);
        const CompoundPriors& cp = in.compound_priors[static_cast<std::size_t>(compound)];
        double all_mean = 0, all_var = 0;   // of the whole pool
        if (as_ridden) {
            const std::vector<double>&f1 = c.rotor ? s.rotor[e] : s.pad[e], &f2 = c.rotor ? s.rotor2[e] : s.pad2[e];
            for (std::size_t q = 0; q < blocks; ++q) {
                const std::uint32_t m0 = in.mark_at[bounds[q]], m1 = in.mark_at[bounds[q + 1]];
                block[q].mean = f1[m1] - f1[m0], block[q].var = f2[m1] - f2[m0];
            }
        } else
            for (std::size_t q = 0, i = 0; q < blocks; ++q) {
                const double mean_before = all_mean, var_before = all_var;
                for (; i < bounds[q + 1]; ++i) {
                    const Ride& r = pool[i];
                    const Inside::RideWear worn = in.wear_of(r, e, compound, w);
                    const double one = c.rotor ? worn.rotor : worn.pad;
                    all_mean += one, all_var += one * one * r.rel2[e];
                }
                block[q].mean = all_mean - mean_before, block[q].var = all_var - var_before;
            }
        for (std::size_t q = 0; q < blocks; ++q) {
            const auto& [mean, var, length, way_m, descent_m, duration_s] = block[q];
            a_ride[q] = mean / length;
            // A log-normal of a block's mean and spread, whatever the rate: wear does not go back.   Source: [EQ life-7]
            log_var[q] = mean > 0 ? std::log1p(var / (mean * mean) + in.priors.drift * in.priors.drift * drift_rides / length * 0.5) : 0;
            log_sd[q] = std::sqrt(log_var[q]);
        }
        // Thicknesses of other parts now, in this draw.
        std::vector<std::pair<double, double>> other(others.size());
        for (std::size_t q = 0; q < others.size(); ++q) {
            if (!others[q] || others[q] == &c) continue;
            const Chain& o = *others[q];
            const std::size_t own = Inside::side_of(asked.readings[q].component);
            const double more = o.z_set < 0 ? in.own_sd(o) * normal_of(key, k, hash_of(o.set), 31) : 0;
            Belief b = in.fresh(o);
            const auto rate = in.rates(o, z, more, std::sqrt(left_right_of_set) * normal_of(key, k, hash_of(o.set), 32));
            in.run(o, s, rate, in.full_swelling_mm(o, z), b, true);
            other[q] = {own ? b.b : b.a, std::sqrt(std::max(0.0, own ? b.bb : b.aa))};
        }
        // Of a set that was read a draw knows all, so its thickness is the same for all futures of the draw.
        std::array<double, 2> rate_of_draw{};
        Belief at_hand;
        const auto follow = [&](double extra, double extra_side) {
            rate_of_draw = in.rates(c, z, extra, extra_side);
            at_hand = in.fresh(c);
            in.run(c, s, rate_of_draw, in.full_swelling_mm(c, z), at_hand, true);
        };
        const bool of_its_own = c.z_set >= 0 && (c.rotor || c.z_side >= 0);
        if (of_its_own) follow(0, 0);
        for (std::size_t j = 0; j < per_draw; ++j) {
            const std::uint64_t which = k * per_draw + j;
            Stream stream(key, which, 21), asides(key, which, 33);   // asides: what does not touch the life itself
            const auto uniform = [&] { return stream.uniform(); };
            const auto normal = [&] { return stream.normal(); };
            const double extra = c.z_set < 0 ? in.own_sd(c) * normal() : 0;
            const double extra_side = std::sqrt(left_right_of_set) * normal();
            if (!of_its_own) follow(extra, extra_side);
            const std::array<double, 2>& rate = rate_of_draw;
            const Belief& b = at_hand;
            const double of_side = normal();
            std::array<double, 2> both_mm{};   // the one that is asked about first: the same draw with and without the other
            {
                const double var[2] = {std::max(0.0, b.aa), std::max(0.0, b.bb)}, sd0 = std::sqrt(var[asked_side]), sd1 = std::sqrt(var[1 - asked_side]);
                both_mm[asked_side] = (asked_side ? b.b : b.a) + sd0 * of_side;
                if (!c.rotor && c.fitted[1 - asked_side] >= 0) {
                    const double rho = sd0 * sd1 > 0 ? std::clamp(b.ab / (sd0 * sd1), -1.0, 1.0) : 0;
                    both_mm[1 - asked_side] = (asked_side ? b.a : b.b) + sd1 * (rho * of_side + std::sqrt(1 - rho * rho) * asides.normal());
                }
            }
            const double of_limit = c.limit_sd[0] > 0 || c.limit_sd[1] > 0 ? normal_of(key, which, 0, 34) : 0;
            const auto limit_of = [&](std::size_t at_side) {
                const double sd = c.limit_sd[at_side], mean = c.limit_mm[at_side];
                return sd > 0 ? std::max(0.2 * mean, mean + sd * of_limit) : mean;
            };
            side = asked_side;
            // Both pads go through the same rides: the sooner one is it all the way.
            if (first_of_two && rate[1 - side] > 0 && (rate[side] <= 0 || (both_mm[1 - side] - limit_of(1 - side)) / rate[1 - side] < (both_mm[side] - limit_of(side)) / rate[side])) side = 1 - side;
            const double mm = both_mm[side];
            const double rate_here = rate[side], to_go = mm - limit_of(side);
            now.push_back(first_of_two ? std::min(both_mm[0], both_mm[1]) : mm);
            for (std::size_t q = 0; q < others.size(); ++q) {
                if (!others[q]) continue;
                if (others[q] == &c) read[q].push_back(both_mm[Inside::side_of(asked.readings[q].component)]);
                else read[q].push_back(other[q].first + other[q].second * asides.normal());
            }
            if (!planned.empty()) {
                const double rel2 = all_mean > 0 ? all_var / (all_mean * all_mean) : 0, sd = std::sqrt(std::log1p(rel2));
                plan_loss.push_back(rate_here * all_mean * std::exp(sd * asides.normal() - 0.5 * sd * sd));
            }
            log_rate.push_back(std::log(rate_here));
            // Weights of the blocks: a Bayesian bootstrap, so that few rides mean a wide future.   Source: [EQ life-6]
            double scale = 1, way = 0, high = 0, time = 0, left = to_go, gone = 0, mean_a_ride;
            if (n == 0) {   // nothing ridden yet: a rider of this kind
                scale = std::exp(in.typical.log_sd * normal());
                const double energy = 0.5 * in.typical.energy_J * 1e-6 * scale;
                mean_a_ride = rate_here * (c.rotor ? cp.rotor_wear_mm3_MJ * energy : energy + w.rub * in.typical.distance_m);
            } else {
                double sum = 0, all = 0;
                for (std::size_t q = 0; q < blocks; ++q) {
                    weights[q] = -std::log(uniform()) * recent[q];
                    sum += weights[q], all += weights[q] * a_ride[q];
                }
                mean_a_ride = rate_here * all / sum;
            }
            log_riding.push_back(mean_a_ride > 0 ? std::log(mean_a_ride / rate_here) : -50);
            if (to_go <= 0) {   // passed already: when, by the mean
                reached += 1;
                const double ago = mean_a_ride > 0 ? -to_go / mean_a_ride : 0;
                limit.push_back(std::max(static_cast<double>(in.as_of) - ago, static_cast<double>(c.from)));
                for (auto* v : {&rides_left, &km, &descent, &hours}) v->push_back(0);
                continue;
            }
            double bed_from = 0, bed = 0;
            if (!c.rotor && !c.bedded && in.priors.factor.bedding > 0) {
                bed_from = 0.5 * in.worked_MJ(c, ridden);
                // What bedding-in still takes, at the start of the riding to come.
                bed = rate_here * in.priors.factor.bedding * in.priors.factor.bedding_MJ * std::exp(-bed_from / in.priors.factor.bedding_MJ);
                left -= std::min(bed, 0.5 * left);
            }
            if (n > 0) {
                double season = planned.empty() && in.rides.back().day ? static_cast<double>(*in.rides.back().day) : 0;
                std::array<bool, seasons / lanes> summed{};
                for (int step = 0; step < simulated_blocks && left > 0 && gone < longest_rides && way < longest_m; ++step) {
                    const auto q = dated ? std::min<std::size_t>(seasons - 1, static_cast<std::size_t>(day_of_year(season) / 365.25 * seasons)) : 0;
                    if (!std::exchange(summed[q / lanes], true)) {
                        std::array<double, lanes> sum{};
                        const double* near = &nearness[at_season(q / lanes * lanes, 0)];
                        double* to = &cumulated[sum_at(q / lanes * lanes, 0)];
                        for (std::size_t p = 0; p < blocks; ++p)
                            for (std::size_t l = 0; l < lanes; ++l) to[p * lanes + l] = sum[l] += weights[p] * near[p * lanes + l];
                    }
                    const double u = uniform() * cumulated[sum_at(q, blocks - 1)];
                    // The first block that reaches u: of eight parts the one that does, of that again; no branch, for none could be guessed.
                    const double* sums = &cumulated[sum_at(q, 0)];
                    std::size_t p = 0;
                    for (std::size_t of = blocks; of > 1;) {
                        of = (of + 7) / 8;
                        std::size_t before = 0;
                        for (std::size_t ahead = 1; ahead < 8; ++ahead) before += sums[(p + ahead * of - 1) * lanes] < u ? 1 : 0;
                        p += before * of;
                    }
                    const Block& drawn = block[p];
                    const double lost = rate_here * drawn.mean * std::exp(log_sd[p] * normal() - 0.5 * log_var[p]);
                    const double part = lost >= left ? left / lost : 1;
                    gone += part * drawn.rides, way += part * drawn.way_m, high += part * drawn.descent_m, time += part * drawn.duration_s;
                    season += part * drawn.rides * days_a_ride;
                    left -= lost;
                }
            }
            if (left > 0) {
                double more = mean_a_ride > 0 ? left / mean_a_ride : longest_rides;
                const double rides_n = n > 0 ? static_cast<double>(n) : 1, way_a_ride = n > 0 ? d1[n] / rides_n : in.typical.distance_m;
                double most = longest_rides - gone;
                if (way_a_ride > 0) most = std::min(most, (longest_m - way) / way_a_ride);
                if (more >= most) more = std::max(0.0, most), capped += 1;
                gone += more;
                way += more * way_a_ride;
                high += more * (n > 0 ? h1[n] / rides_n : 0);
                time += more * (n > 0 ? t1[n] / rides_n : 0);
            }
            if (way > 0) a_km.push_back(to_go * 1000 / way);
            limit.push_back(static_cast<double>(in.as_of) + gone);
            rides_left.push_back(gone), km.push_back(way / 1000), descent.push_back(high), hours.push_back(time / 3600);
        }
    }
    LifeForecast f;
    const auto rising = [](std::vector<double> v) {   // quantiles of what is in order already are cheap
        std::sort(v.begin(), v.end());
        return v;
    };
    const std::vector<double> limit_up = rising(limit), km_up = rising(km), rides_up = rising(rides_left);
    for (std::size_t i = 0; i < forecast_points.size(); ++i) f.limit_ride[i] = quantile(limit_up, forecast_points[i]), f.km[i] = quantile(km_up, forecast_points[i]);
    const double all = static_cast<double>(limit.size());
    f.limit_reached_probability = reached / all;
    f.capped_share = capped / all;
    f.thickness_mm = interval_of(now);
    if (!a_km.empty()) f.wear_mm_km = interval_of(a_km);
    f.remaining_rides = interval_of(rides_up), f.remaining_km = interval_of(km_up);
    if (mean_descent_m) f.remaining_descent_m = interval_of(descent);
    if (mean_duration_s) f.remaining_h = interval_of(hours);
    const auto chains = static_cast<std::size_t>(in.options.chains);
    f.look_by_rides = look_point(rides_left, rides_up, chains), f.look_by_km = f.km[0] = look_point(km, km_up, chains);
    if (f.look_by_rides > 0) f.limit_ride[0] = std::min(f.limit_ride[0], static_cast<double>(in.as_of) + f.look_by_rides);
    std::vector<double> of_pace;   // the same life at every pace
    if (!asked.paces.empty())
        for (std::size_t i = 0; i < rides_left.size(); ++i) of_pace.push_back(normal_of(ctx.seed, hash_of("days a ride"), i, 0));
    for (std::size_t p = 0; p < asked.paces.size(); ++p) {
        std::vector<double> days(rides_left.size());
        for (std::size_t i = 0; i < days.size(); ++i) days[i] = rides_left[i] * asked.paces[p].days_a_ride * std::exp(asked.paces[p].log_sd * of_pace[i]);
        // The sooner day of each, not that of the faster pace: a wide one may be late in the middle and soon at its end.   Source: [EQ life-15]
        const std::vector<double> days_up = rising(days);
        const double look = look_point(days, days_up, chains), early = quantile(days_up, 0.05);
        f.look_by_days = p == 0 ? look : std::min(f.look_by_days, look), f.days_p05 = p == 0 ? early : std::min(f.days_p05, early);
    }
    for (const Event& v : c.events) f.readings += first_of_two || v.side == static_cast<int>(asked_side) ? 1 : 0;
    if (!plan_loss.empty()) f.plan_loss_mm = interval_of(plan_loss);
    std::vector<double> log_left(rides_left.size());
    for (std::size_t i = 0; i < log_left.size(); ++i) log_left[i] = std::log(std::max(0.5, rides_left[i]));
    if (log_left.size() >= 1024) {
        f.share_now = first_order_share(now, log_left);
        f.share_rate = first_order_share(log_rate, log_left);
        f.share_riding = first_order_share(log_riding, log_left);
        for (const auto& [name, of] : parameters(task.component, task.set)) f.share_parameters.emplace_back(name, first_order_share(of, log_left));   // a draw has several futures
        for (const std::vector<double>& x : read) f.share_of.push_back(x.size() == log_left.size() ? first_order_share(x, log_left) : 0);
    }
    return f;
}

}  // namespace bw::wear
