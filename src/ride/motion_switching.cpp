// SPDX-License-Identifier: Apache-2.0
// One switching Kalman filter over motion, altitude and the rider's force, and paths drawn backwards from it. Layer: ride
// Theory: docs/models/motion.md [EQ motion-9..12].
#include <Eigen/Dense>
#include <algorithm>
#include <array>
#include <cmath>

#include "base/sampling.hpp"
#include "motion_parts.hpp"

namespace bw::ride::internal {
namespace {

// State: distance, speed, altitude, gradient, altitude error, u = (rider - brake) / effective mass over the second that ends
// here, the wind over the land in two components, and the pace of the altitude error.
constexpr int N = 9;
enum : int { D = 0, V = 1, Z = 2, G = 3, B = 4, U = 5, E = 6, S = 7, R = 8 };
using X = Eigen::Matrix<double, N, 1>;
using P = Eigen::Matrix<double, N, N>;
constexpr std::size_t modes = 5;   // in the order of enum class Mode, without standing
constexpr bool is_brake(std::size_t m) { return m == 2 || m == 3; }
using Odds = std::array<double, modes>;

double sq(double x) { return x * x; }
//! Standard normal distribution function, within 2e-4 (logistic with a cubic term; Page 1977, Appl. Statist. 26, 75).
double share_below(double z) { return 1.0 / (1.0 + std::exp(-z * (1.5957691 + 0.0713548 * z * z))); }

//! Its logarithm, without a floor: a brake never drives the bike.
double log_share_below(double z) {
    if (z > -4) return std::log(share_below(z));
    return -0.5 * z * z - std::log(-z) - 0.9189385 - 1 / (z * z);
}

constexpr double negligible = 1e-5;   // prior odds below which a branch is not followed
// Chance to stay and where to if not, per second: coasting, pedalling, braking hard, dragging, sprinting.
constexpr Odds after_standing = {0.09, 0.82, 0.03, 0.03, 0.03};
constexpr std::array<Odds, modes> usual = {{{0.87, 0.068, 0.03, 0.03, 0.002},
                                            {0.035, 0.926, 0.020, 0.015, 0.004},
                                            {0.15, 0.05, 0.70, 0.10, 0.0},
                                            {0.025, 0.005, 0.02, 0.95, 0.0},
                                            {0.10, 0.20, 0.01, 0.0, 0.69}}};
// Steep and fast downhill hardly anybody pedals.
constexpr std::array<Odds, modes> downhill = {{{0.90, 0.019, 0.04, 0.04, 0.001},
                                               {0.10, 0.798, 0.05, 0.05, 0.002},
                                               {0.15, 0.01, 0.70, 0.14, 0.0},
                                               {0.025, 0.002, 0.023, 0.95, 0.0},
                                               {0.10, 0.20, 0.01, 0.0, 0.69}}};

// How often legs that turn drive nothing (soft pedalling, turning on while braking), on the flat and steep downhill, and how often legs
// that are said to rest drive: counted on recordings with a meter, per second, taken more careful since such seconds follow each
// other.   [EQ motion-18]
constexpr double turning_in_vain = 0.1, turning_in_vain_downhill = 0.5, driving_unseen = 0.03, driving_W = 25;

//! Law of u in one mode on one second: u_new = keep · u_old + mean + N(0, var), keep only if the mode went on.
struct Law {
    double keep = 0, fresh_mean = 0, fresh_var = 0, stay_mean = 0, stay_var = 0;
};
Law autoregressive(double mean, double sd, double memory) {
    return {memory, mean, sq(sd), (1 - memory) * mean, sq(sd) * (1 - sq(memory))};
}

struct Gauss {
    X x;
    P p;
};

constexpr Law at_rest = {0, 0, 4e-4, 0, 4e-4};
// Inside a gap nothing tells pedalling from braking: one force of either sign.   [EQ motion-8]
constexpr Law unseen = {0.95, 0, 0.16, 0, 0.16 * (1 - 0.95 * 0.95)};
constexpr Odds after_unseen = {0.25, 0.55, 0.04, 0.15, 0.01};

Gauss merged(const Gauss* parts, const Odds& weight) {
    Gauss m;
    m.x.setZero();
    m.p.setZero();
    for (std::size_t a = 0; a < modes; ++a) m.x += weight[a] * parts[a].x;
    for (std::size_t a = 0; a < modes; ++a) {
        const X d = parts[a].x - m.x;
        m.p += weight[a] * (parts[a].p + d * d.transpose());
    }
    return m;
}

//! The linear step of second i -> i+1 apart from u: x+ = F x + c + g u_new + N(0, Q).
struct Step {
    P F, Q;
    X c, g;
};

enum class Pass : std::uint8_t { forward, both };
SwitchedPath run(const Switching& s, Pass pass, std::uint64_t seed, std::uint64_t ride, std::uint64_t key) {
    const std::size_t n = s.n;
    SwitchedPath out;
    // Where there is no choice of mode one Gaussian is kept, else one a mode: a night by the road must not fill the memory.
    std::vector<Gauss> pool;
    std::vector<std::size_t> first_kept(n + 1, 0);
    const auto single_at = [&](std::size_t i) { return i == 0 || s.still[i - 1] || s.bridged[i - 1]; };
    for (std::size_t i = 0; i < n; ++i) first_kept[i + 1] = first_kept[i] + (single_at(i) ? 1 : modes);
    pool.resize(first_kept[n]);
    const auto kept = [&](std::size_t i, std::size_t m) -> Gauss& { return pool[first_kept[i] + (single_at(i) ? 0 : m)]; };
    std::vector<Odds> weight(n);
    std::vector<double> steep(n, 0.0);
    const double kg = s.weight_N / s.effective_mass_kg;
    const double me = s.effective_mass_kg;

    const auto step_of = [&](std::size_t i, Step& t) {
        // a = u - kg·γ - rolling - (air_at_zero + air_slope·v), per effective mass
        const double av = -s.air_slope[i], ag = -kg, a0 = -s.rolling[i] - s.air_at_zero[i];
        t.F.setZero();
        t.F(D, D) = 1;
        t.F(D, V) = 1 + 0.5 * av;
        t.F(D, G) = 0.5 * ag;
        t.F(V, V) = 1 + av;
        t.F(V, G) = ag;
        t.F(Z, Z) = 1;
        t.F(Z, G) = s.ds[i];
        t.F(G, G) = std::exp(-s.ds[i] / s.gradient_length_m);
        const WanderStep w = wander_step(s.wander, s.error_step[i]);
        t.F(B, B) = w.bb;
        t.F(B, R) = w.br;
        t.F(R, B) = w.rb;
        t.F(R, R) = w.rr;
        t.F(E, E) = t.F(S, S) = 1;
        t.F(V, E) = -s.air_slope[i] * s.towards_x[i];
        t.F(V, S) = -s.air_slope[i] * s.towards_y[i];
        if (!s.air_across.empty()) {   // [EQ motion-17]
            t.F(V, E) -= s.air_across[i] * s.towards_y[i];
            t.F(V, S) += s.air_across[i] * s.towards_x[i];
        }
        t.F(D, E) = 0.5 * t.F(V, E);
        t.F(D, S) = 0.5 * t.F(V, S);
        t.c.setZero();
        t.c(D) = 0.5 * a0;
        t.c(V) = a0;
        t.g.setZero();
        t.g(D) = 0.5;
        t.g(V) = 1;
        t.g(U) = 1;
        t.Q.setZero();
        t.Q(D, D) = 1e-4 + s.distance_jump_var[i];
        t.Q(V, V) = sq(0.05);
        t.Q(Z, Z) = 1e-5 + s.height_jump_var[i];
        t.Q(G, G) = s.gradient_q * s.ds[i] + 1e-8;
        t.Q(B, B) = s.error_var * w.q_bb + 1e-8;
        t.Q(B, R) = t.Q(R, B) = s.error_var * w.q_br;
        t.Q(R, R) = s.error_var * w.q_rr + 1e-8;
        t.Q(E, E) = t.Q(S, S) = 1e-9;
        if (!s.afresh.empty() && s.afresh[i]) {
            t.F(D, D) = 0;
            t.F(D, V) -= s.afresh_offset_s[i];
        }
        if (s.still[i]) {
            // Standing: no force, no motion.
            t.F(V, V) = t.F(D, V) = 0;
            t.F(V, G) = t.F(D, G) = 0;
            t.F(V, E) = t.F(V, S) = t.F(D, E) = t.F(D, S) = 0;
            t.c.setZero();
            t.g(D) = t.g(V) = 0;
            t.Q(V, V) = sq(s.left_out[i] ? 3.0 : 0.2);
        }
    };
    //! Seconds without a choice of mode: one component.
    const auto alone = [&](std::size_t i) { return s.still[i] || s.bridged[i]; };
    const auto metered = [&](std::size_t i) { return !s.meter_u.empty() && std::isfinite(s.meter_var[i]); };
    // [EQ motion-9] and, with a meter, [EQ motion-11]
    const auto law_of = [&](std::size_t i, std::size_t m) {
        const double v = std::max(s.speed_mps[i], 2.5);
        const double per_W = 1 / (me * v);
        // What drag and wind are off by changes slowly: it is carried from second to second.
        Law l;
        if (m == 0) l = autoregressive(0, std::sqrt(sq(0.02) + s.coast_var[i]), 0.95);
        else if (m == 1 && !metered(i)) l = autoregressive(s.pedal_W * per_W, (s.e_assist ? 220 : 90) * per_W, 0.9);
        else if (m == 4 && !metered(i)) l = autoregressive(450 * per_W, 300 * per_W, 0.8);
        else if (m == 1 || m == 4) l = autoregressive(0, std::sqrt(sq(0.02) + s.coast_var[i]), 0.95);
        else if (m == 2) l = autoregressive(-1.5, 1.4, 0.5);
        else l = autoregressive(-0.5, 0.4, 0.995);
        if (metered(i)) {
            l.fresh_var += s.meter_var[i];
            l.stay_var += (1 - sq(l.keep)) * s.meter_var[i];
        }
        if (metered(i)) {
            // u - rider is what the law is about; the rider's part comes from the meter.
            const double before = i > 0 && metered(i - 1) ? s.meter_u[i - 1] : s.meter_u[i];
            l.fresh_mean += s.meter_u[i];
            l.stay_mean += s.meter_u[i] - l.keep * before;
        }
        return l;
    };
    //! Chance of modes a -> b over second i, with what a meter says about the rider.
    const auto chance = [&](std::size_t i, std::size_t a, std::size_t b) {
        double p = a == modes ? (i > 0 && !s.still[i - 1] ? after_unseen[b] : after_standing[b]) : (1 - steep[i]) * usual[a][b] + steep[i] * downhill[a][b];
        if (metered(i)) {
            const double W = s.meter_W[i], working = share_below((W - 25) / 10);
            if (b == 0) p *= 0.02 + 0.98 * (1 - working);
            else if (b == 1) p *= 0.02 + 0.98 * working;
            else if (b == 4) p = 0;   // with a meter a sprint is no surprise
            else p *= std::max(0.002, std::exp(-std::max(0.0, W) / 30));
        }
        if (!s.legs.empty()) {   // [EQ motion-18]
            const bool drives = b == 1 || b == 4;
            // Beside a meter it adds that the legs drive now, not before or after: a meter is timed loosely. Of soft pedalling the meter knows more.
            if (s.legs[i] == Legs::turn && (metered(i) ? is_brake(b) && s.meter_W[i] > driving_W : !drives))
                p *= turning_in_vain + steep[i] * (turning_in_vain_downhill - turning_in_vain);
            if (s.legs[i] == Legs::rest && drives && !metered(i)) p *= driving_unseen;
        }
        return p;
    };

    Step t;
    // Only what is not zero in F, g and Q is multiplied: F is nearly the identity, its rows D and V share what pushes.
    const auto add_fresh = [&](Gauss& q, double mean, double var) {
        q.x(D) += mean * t.g(D);
        q.x(V) += mean * t.g(V);
        q.x(U) += mean * t.g(U);
        for (const int k : {D, V, U}) {
            const double by = var * t.g(k);
            q.p(D, k) += by * t.g(D);
            q.p(V, k) += by * t.g(V);
            q.p(U, k) += by * t.g(U);
        }
    };
    //! to: the state a second on; half: Cov(state now, state then) = P Fᵀ.
    const auto predict_with = [&](const Gauss& from, const Law& l, bool stays, Gauss& to, P& half) {
        const P& F = t.F;
        const double keep = stays ? l.keep : 0.0, on = keep * t.g(V);   // g(D) is half of g(V), as all that pushes
        const X& x = from.x;
        const double pushed = F(V, G) * x(G) + on * x(U) + F(V, E) * x(E) + F(V, S) * x(S);
        to.x(D) = F(D, D) * x(D) + F(D, V) * x(V) + 0.5 * pushed + t.c(D);
        to.x(V) = F(V, V) * x(V) + pushed + t.c(V);
        to.x(Z) = x(Z) + F(Z, G) * x(G);
        to.x(G) = F(G, G) * x(G);
        to.x(B) = F(B, B) * x(B) + F(B, R) * x(R);
        to.x(R) = F(R, B) * x(B) + F(R, R) * x(R);
        to.x(U) = keep * x(U);
        to.x(E) = F(E, E) * x(E);
        to.x(S) = F(S, S) * x(S);
        const auto times_F = [&](const P& in, P& out_cols) {   // in · Fᵀ
            const X push = F(V, G) * in.col(G) + on * in.col(U) + F(V, E) * in.col(E) + F(V, S) * in.col(S);
            out_cols.col(D) = F(D, D) * in.col(D) + F(D, V) * in.col(V) + 0.5 * push;
            out_cols.col(V) = F(V, V) * in.col(V) + push;
            out_cols.col(Z) = in.col(Z) + F(Z, G) * in.col(G);
            out_cols.col(G) = F(G, G) * in.col(G);
            out_cols.col(B) = F(B, B) * in.col(B) + F(B, R) * in.col(R);
            out_cols.col(R) = F(R, B) * in.col(B) + F(R, R) * in.col(R);
            out_cols.col(U) = keep * in.col(U);
            out_cols.col(E) = F(E, E) * in.col(E);
            out_cols.col(S) = F(S, S) * in.col(S);
        };
        times_F(from.p, half);
        const P half_t = half.transpose();
        times_F(half_t, to.p);
        for (int k = 0; k < N; ++k) to.p(k, k) += t.Q(k, k);
        to.p(B, R) += t.Q(B, R);
        to.p(R, B) += t.Q(R, B);
        add_fresh(to, stays ? l.stay_mean : l.fresh_mean, stays ? l.stay_var : l.fresh_var);
    };
    P across;
    const auto predict = [&](const Gauss& from, const Law& l, bool stays, Gauss& to) { predict_with(from, l, stays, to, across); };
    // One scalar measurement; returns the log likelihood. Gated as in motion_filter.hpp.
    // One logarithm for all readings of a second: `product` gathers the variances.
    const auto measure = [](Gauss& q, int h1, double w1, int h2, double w2, int h3, double w3, double y, double variance, double& product) {
        X ph = w1 * q.p.col(h1);
        double hx = w1 * q.x(h1);
        if (w2 != 0) ph += w2 * q.p.col(h2), hx += w2 * q.x(h2);
        if (w3 != 0) ph += w3 * q.p.col(h3), hx += w3 * q.x(h3);
        double v = w1 * ph(h1) + w2 * ph(h2) + w3 * ph(h3) + variance;
        const double nu = y - hx;
        const double ratio = nu * nu / v;
        double l;
        product *= v;
        constexpr double gate = 25;
        if (ratio > gate) {
            l = -0.5 * gate * (1 + std::log(ratio / gate));
            v = nu * nu / gate;
        } else {
            l = -0.5 * ratio;
        }
        q.x += ph * (nu / v);
        const X g = ph / v;
        for (int k = 0; k < N; ++k) q.p.col(k) -= ph * g(k);
        return l;
    };
    const auto measure_all = [&](Gauss& q, std::size_t i) {
        double l = 0, product = 1, aside = 1;
        for (std::size_t r = s.first[i]; r < s.first[i + 1]; ++r) {
            const SwitchReading& z = s.readings[r];
            switch (z.kind) {
                case SwitchReading::Kind::distance: l += measure(q, D, 1, V, z.offset_s, 0, 0, z.y, z.variance, product); break;
                case SwitchReading::Kind::speed: l += measure(q, V, 1, U, z.offset_s, 0, 0, z.y, z.variance, product); break;
                case SwitchReading::Kind::altitude: l += measure(q, Z, 1, B, 1, G, s.speed_mps[i] * z.offset_s, z.y, z.variance, product); break;
            }
        }
        if (i > 0 && s.still[i - 1] && !s.left_out[i - 1]) {
            (void)measure(q, V, 1, 0, 0, 0, 0, 0, 0.01, aside);
        }
        return l - 0.5 * std::log(product);
    };

    Gauss start;
    start.x.setZero();
    start.x(V) = s.start_speed_mps;
    start.x(Z) = s.start_altitude_m;
    start.x(G) = s.gradient[0];
    start.p.setZero();
    const double gradient_var = s.gradient_length_m < 1e6 ? 0.5 * s.gradient_q * s.gradient_length_m : sq(0.06);
    start.p.diagonal() << 4, 1, 25 + s.error_var, gradient_var, s.error_var, 0.1, s.wind_var, s.wind_var, s.error_var;
    (void)measure_all(start, 0);
    kept(0, 0) = start;
    weight[0] = after_standing;

    std::array<std::array<Gauss, modes>, modes> branch;
    std::array<Gauss, modes> base;
    std::array<std::array<double, modes>, modes> w;
    for (std::size_t i = 0; i + 1 < n; ++i) {
        step_of(i, t);
        steep[i] = std::clamp((-s.gradient[i] - 0.02) / 0.04, 0.0, 1.0) * std::clamp((s.speed_mps[i] - 5) / 5, 0.0, 1.0);
        const bool fresh = i == 0 || alone(i - 1);
        if (alone(i)) {
            Gauss q;
            predict(fresh ? kept(i, 0) : merged(&kept(i, 0), weight[i]), s.still[i] ? at_rest : unseen, !s.still[i] && i > 0 && !s.still[i - 1], q);
            out.log_likelihood += measure_all(q, i + 1);
            kept(i + 1, 0) = q;
            weight[i + 1] = s.still[i] ? after_standing : after_unseen;
            continue;
        }
        const std::size_t froms = fresh ? 1 : modes;
        double top = -1e300;
        for (std::size_t a = 0; a < froms; ++a) predict(kept(i, a), Law{}, false, base[a]);
        for (std::size_t b = 0; b < modes; ++b) {
            const Law l = law_of(i, b);
            for (std::size_t a = 0; a < froms; ++a) {
                const bool stays = !fresh && (a == b || (is_brake(a) && is_brake(b)));
                Gauss& q = branch[a][b];
                const double prior = (fresh ? 1.0 : weight[i][a]) * chance(i, fresh ? modes : a, b);
                if (prior < negligible) {
                    w[a][b] = -1e300;
                    continue;
                }
                if (stays) {
                    predict(kept(i, a), l, true, q);
                } else {
                    q = base[a];   // a fresh force only adds to it
                    add_fresh(q, l.fresh_mean, l.fresh_var);
                }
                double lw = measure_all(q, i + 1);
                const double rider = metered(i) ? s.meter_u[i] : 0.0;
                const double sd = std::sqrt(std::max(1e-8, q.p(U, U)));
                // [EQ motion-10] a brake never drives, a pedalling rider never holds back
                if (is_brake(b)) lw += log_share_below((rider - q.x(U)) / sd);
                if ((b == 1 || b == 4) && !metered(i)) lw += log_share_below(q.x(U) / sd);
                w[a][b] = lw + std::log(prior);
                top = std::max(top, w[a][b]);
            }
        }
        double total = 0;
        for (std::size_t b = 0; b < modes; ++b) {
            double sum = 0;
            for (std::size_t a = 0; a < froms; ++a) sum += w[a][b] = std::exp(w[a][b] - top);
            weight[i + 1][b] = sum;
            total += sum;
            Gauss& m = kept(i + 1, b);
            if (sum < 1e-14) {
                // No branch of any weight: kept only so that the state stays finite.
                m = base[0];
                m.p(U, U) += 1;
                continue;
            }
            m.x.setZero();
            for (std::size_t a = 0; a < froms; ++a)
                if (w[a][b] > 1e-6 * sum) m.x += (w[a][b] / sum) * branch[a][b].x;
            m.p.setZero();
            for (std::size_t a = 0; a < froms; ++a) {
                if (w[a][b] <= 1e-6 * sum) continue;
                const X d = branch[a][b].x - m.x;
                m.p += (w[a][b] / sum) * branch[a][b].p;
                const X wd = (w[a][b] / sum) * d;
                for (int k = 0; k < N; ++k) m.p.col(k) += wd * d(k);
            }
            for (int r = 0; r < N; ++r)
                for (int k = 0; k < r; ++k) m.p(r, k) = m.p(k, r);
        }
        for (double& q : weight[i + 1]) q /= total;
        out.log_likelihood += top + std::log(total);
    }

    if (pass == Pass::forward) return out;

    // Backwards: mode and state of each second given those of the next (Kim's smoother, as a draw).   [EQ motion-12]
    out.mode.assign(n, Mode::standing);
    out.speed_mps.assign(n, 0.0);
    out.altitude_m.assign(n, 0.0);
    out.u.assign(n, 0.0);
    out.head_wind_mps.assign(n, 0.0);
    if (!s.air_across.empty()) out.across_wind_mps.assign(n, 0.0);
    const auto draw = [&](const X& mean, const P& cov, std::size_t i) {
        Eigen::LDLT<P> f(cov);
        X z;
        for (int k = 0; k < N; k += 2) {   // Box & Muller: a pair of normals for a pair of uniforms
            const std::uint64_t stream = 5'000'000 + static_cast<std::uint64_t>(i) * (N + 1) + static_cast<std::uint64_t>(k);
            const double r = std::sqrt(-2 * std::log(uniform_of(seed, ride, key, stream)));
            const double angle = 6.283185307179586 * uniform_of(seed, ride, key, stream + 1);
            z(k) = r * std::cos(angle);
            if (k + 1 < N) z(k + 1) = r * std::sin(angle);
        }
        const X d = f.vectorD().cwiseMax(0.0).cwiseSqrt();
        X y = d.cwiseProduct(z);
        y = f.matrixL() * y;
        y = f.transpositionsP().transpose() * y;
        return X(mean + y);
    };
    std::array<Gauss, modes> pred;
    std::array<P, modes> halves;
    std::array<X, modes> rest;   // L⁻¹ (x - predicted)
    std::array<Eigen::LLT<P>, modes> factor;
    std::size_t mode = 0;
    {
        double left = uniform_of(seed, ride, key, 1000 + n);
        while (mode + 1 < modes && left >= weight[n - 1][mode]) left -= weight[n - 1][mode++];
    }
    X x = draw(kept(n - 1, mode).x, kept(n - 1, mode).p, n - 1);
    out.speed_mps[n - 1] = x(V);
    out.altitude_m[n - 1] = x(Z);
    for (std::size_t i = n - 1; i-- > 0;) {
        // `mode` is that of second i, in force from i to i+1; x is the state at i+1.
        step_of(i, t);
        const bool still = alone(i);
        const bool single = i == 0 || alone(i - 1);   // before it one component
        out.u[i] = s.still[i] ? 0.0 : x(U);
        out.mode[i] = s.still[i] ? Mode::standing : still ? Mode::unseen : static_cast<Mode>(mode);
        const Law l = s.still[i] ? at_rest : still ? unseen : law_of(i, mode);
        const auto goes_on = [&](std::size_t a) {
            if (still) return !s.still[i] && i > 0 && !s.still[i - 1];
            return !single && (a == mode || (is_brake(a) && is_brake(mode)));
        };
        Odds lw{};
        double top = -1e300;
        const std::size_t froms = single ? 1 : modes;
        for (std::size_t a = 0; a < froms; ++a) {
            lw[a] = -1e300;
            const double odds = single ? 1.0 : weight[i][a] * (still ? 1.0 : chance(i, a, mode));
            if (odds < 1e-12) continue;
            predict_with(kept(i, a), l, goes_on(a), pred[a], halves[a]);
            factor[a].compute(pred[a].p);
            const P& L = factor[a].matrixLLT();
            X& r = rest[a];
            r = x - pred[a].x;
            for (int k = 0; k < N; ++k) {
                r(k) /= L(k, k);
                for (int j = k + 1; j < N; ++j) r(j) -= L(j, k) * r(k);
            }
            double root_det = 1;
            for (int k = 0; k < N; ++k) root_det *= L(k, k);
            lw[a] = std::log(odds / root_det) - 0.5 * r.squaredNorm();
            top = std::max(top, lw[a]);
        }
        double sum = 0;
        for (std::size_t a = 0; a < froms; ++a) sum += lw[a] = std::exp(lw[a] - top);
        double left = uniform_of(seed, ride, key, 1000 + i) * sum;
        std::size_t pick = 0;
        while (pick + 1 < froms && left >= lw[pick]) left -= lw[pick++];
        while (pick > 0 && lw[pick] <= 0) --pick;
        while (lw[pick] <= 0 && pick + 1 < froms) ++pick;
        const Gauss& k = kept(i, pick);
        // L Aᵀ = F P: mean and covariance given the next state are x + A r and P - A Aᵀ.
        const P& L = factor[pick].matrixLLT();
        P A = halves[pick];
        for (int c = 0; c < N; ++c) {
            A.col(c) /= L(c, c);
            for (int j = c + 1; j < N; ++j) A.col(j) -= L(j, c) * A.col(c);
        }
        X mean = k.x;
        P cov = k.p;
        for (int c = 0; c < N; ++c) {
            mean += A.col(c) * rest[pick](c);
            for (int j = 0; j < N; ++j) cov.col(j) -= A.col(c) * A(j, c);
        }
        cov = (0.5 * (cov + cov.transpose())).eval();
        x = draw(mean, cov, i);
        mode = pick;
        out.speed_mps[i] = x(V);
        out.altitude_m[i] = x(Z);
        out.head_wind_mps[i] = s.towards_x[i] * x(E) + s.towards_y[i] * x(S);
        if (!out.across_wind_mps.empty()) out.across_wind_mps[i] = s.towards_y[i] * x(E) - s.towards_x[i] * x(S);
    }
    return out;
}

}  // namespace

double switching_evidence(const Switching& s) { return run(s, Pass::forward, 0, 0, 0).log_likelihood; }
SwitchedPath switched_path(const Switching& s, std::uint64_t seed, std::uint64_t ride, std::uint64_t key) { return run(s, Pass::both, seed, ride, key); }

}  // namespace bw::ride::internal
