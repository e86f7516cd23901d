// SPDX-License-Identifier: Apache-2.0
// The switching filter's vector code against a textbook one: dense matrices by Eigen, every branch, one path at a time. Filter, its
// merging: Kim 1994, J. Econometrics 60, 1-22 (from memory); smoother: Rauch, Tung & Striebel 1965, AIAA J. 3, 1445-1450 (from
// memory). The laws of riding and their odds are what both are given.
#include <gtest/gtest.h>

#include <Eigen/Dense>
#include <algorithm>
#include <cmath>
#include <cstdint>
#include <numeric>
#include <vector>

#include "../../src/ride/switching_kernel.hpp"
#include "noise.hpp"

namespace bw::ride::internal {
namespace {

using namespace switching;
using X = Eigen::Matrix<double, 9, 1>;
using P = Eigen::Matrix<double, 9, 9>;

struct Ride {
    Switching way;
    std::vector<Forces> own;
};

enum What : unsigned { plain = 0, meter = 1, legs = 2, wind = 4, afresh = 8, lagging = 16, smooth_error = 32, level = 64, gaps = 128, motor = 256 };

// Seconds of an invented ride in the filter's own terms; nothing of it need be likely.
Ride ride_of(std::size_t n, unsigned what, std::uint64_t seed, std::size_t paths = 11) {
    Noise z{seed};
    Ride r;
    Switching& s = r.way;
    s.n = n;
    const auto each = [&](auto f) {
        std::vector<double> v(n);
        for (std::size_t i = 0; i < n; ++i) v[i] = f(static_cast<double>(i));
        return v;
    };
    s.speed_at_mps = each([&](double i) { return std::max(0.0, 8 + 4 * std::sin(i / 9) + 0.2 * z.normal()); });
    s.speed_mps = each([&](double i) { return std::max(0.0, 8 + 4 * std::sin((i + 0.5) / 9)); });
    s.gradient = each([&](double i) { return -0.05 + 0.06 * std::sin(i / 31); });
    s.still.assign(n, 0);
    s.left_out.assign(n, 0);
    s.bridged.assign(n, 0);
    if (what & gaps) {
        for (std::size_t i = 0; i < 3; ++i) s.still[i] = 1;
        for (std::size_t i = n / 3; i < n / 3 + 8; ++i) s.still[i] = 1;
        for (std::size_t i = n / 3 + 5; i < n / 3 + 8; ++i) s.left_out[i] = 1;
        for (std::size_t i = n / 2; i < n / 2 + 7; ++i) s.bridged[i] = 1;
    }
    s.ds = s.speed_mps;
    s.start_altitude_m = 700;
    s.error_step = each([&](double) { return 0.05 + 0.1 * z.uniform(); });
    s.wander = what & smooth_error ? Wander::smooth : Wander::rough;
    s.error_var = 2.5;
    if (what & level) s.gradient_length_m = 300, s.gradient_q = 2 * 0.005 * 0.005 / 300;
    s.distance_jump_var = each([&](double) { return z.uniform() < 0.03 ? 1e4 : 0.0; });
    s.height_jump_var = each([&](double) { return z.uniform() < 0.03 ? 100.0 : 0.0; });
    if (what & afresh) {
        for (std::size_t i = 0; i < n; ++i) s.afresh.push_back(z.uniform() < 0.3);
        s.afresh_offset_s = each([&](double) { return 0.4 * z.uniform(); });
    }
    s.first.assign(n + 1, 0);
    double way_m = 0, z_m = s.start_altitude_m;
    for (std::size_t i = 0; i < n; ++i) {
        if (!s.bridged[i] && !(i > 0 && s.bridged[i - 1])) {
            s.readings.push_back({SwitchReading::Kind::distance, z.uniform() < 0.5 ? 0.0 : 0.6 * z.uniform(), way_m + 1.5 * z.normal() + (z.uniform() < 0.03 ? 60 : 0), 2});
            if (what & lagging) s.readings.push_back({SwitchReading::Kind::speed, -0.4, s.speed_at_mps[i] + 0.1 * z.normal(), 0.02});
            if (z.uniform() < 0.8) s.readings.push_back({SwitchReading::Kind::altitude, z.uniform() < 0.5 ? 0.0 : 0.3, z_m + z.normal(), 0.1});
        }
        s.first[i + 1] = s.readings.size();
        way_m += s.speed_mps[i];
        z_m += s.gradient[i] * s.speed_mps[i];
    }
    if (what & meter) s.meter_W = each([&](double) { return z.uniform() < 0.2 ? NAN : 250 * z.uniform(); });
    if (what & legs)
        for (std::size_t i = 0; i < n; ++i) s.legs.push_back(static_cast<Legs>(static_cast<int>(3 * z.uniform())));
    s.e_assist = what & motor;
    s.wind_var = 0.16;
    s.towards_x = each([&](double i) { return std::cos(i / 50); });
    s.towards_y = each([&](double i) { return std::sin(i / 50); });
    for (std::size_t k = 0; k < paths; ++k) {
        Forces f;
        f.effective_mass_kg = 85 + 10 * z.uniform();
        f.weight_N = (f.effective_mass_kg - 1.8) * 9.81;
        f.pedal_W = 100 + 100 * z.uniform();
        f.error_var = s.error_var * (0.3 + z.uniform());
        f.wind_var = s.wind_var;
        const double slope = 0.02 + 0.04 * z.uniform();
        f.rolling = each([&](double) { return 0.05 + 0.01 * z.uniform(); });
        f.air_slope = each([&](double) { return slope * (0.8 + 0.4 * z.uniform()); });
        f.air_at_zero = each([&](double) { return -4 * slope; });
        f.coast_var = each([&](double) { return 1e-4 + 4e-4 * z.uniform(); });
        if (what & wind) f.air_across = each([&](double) { return 0.01 * z.normal(); });
        if (what & meter) {
            f.meter_u = each([&](double i) { return s.meter_W[static_cast<std::size_t>(i)] / (f.effective_mass_kg * std::max(s.speed_mps[static_cast<std::size_t>(i)], 1.5)); });
            f.meter_var = each([&](double i) { return std::isfinite(f.meter_u[static_cast<std::size_t>(i)]) ? 0.0004 : NAN; });
        }
        r.own.push_back(f);
    }
    return r;
}

struct Gauss {
    X x = X::Zero();
    P p = P::Zero();
};

// State: distance, speed, altitude, gradient, altitude error, u, wind east, wind north, pace of the altitude error.
struct Dense {
    const Switching& s;
    const Forces& f;
    P F = P::Zero(), Q = P::Zero();
    X c = X::Zero(), g = X::Zero();

    void step(std::size_t i) {
        F = P::Identity();
        Q.setZero();
        c.setZero();
        g.setZero();
        const double across = f.air_across.empty() ? 0.0 : f.air_across[i];
        F(1, 1) = 1 - f.air_slope[i];
        F(1, 3) = -f.weight_N / f.effective_mass_kg;
        F(1, 6) = -f.air_slope[i] * s.towards_x[i] - across * s.towards_y[i];
        F(1, 7) = -f.air_slope[i] * s.towards_y[i] + across * s.towards_x[i];
        c(1) = -f.rolling[i] - f.air_at_zero[i];
        g(1) = 1;
        if (s.still[i]) F.row(1).setZero(), c(1) = 0, g(1) = 0;
        F.row(0) = 0.5 * F.row(1);   // way of the second: the mean of both speeds
        F(0, 1) += s.still[i] ? 0.0 : 0.5;
        F(0, 0) = 1;
        c(0) = 0.5 * c(1);
        g(0) = 0.5 * g(1);
        if (!s.afresh.empty() && s.afresh[i]) F(0, 0) = 0, F(0, 1) -= s.still[i] ? 0.0 : s.afresh_offset_s[i];
        g(5) = 1;
        F(2, 3) = s.ds[i];
        F(3, 3) = std::exp(-s.ds[i] / s.gradient_length_m);
        F(5, 5) = 0;
        // [EQ motion-5]; noise that keeps the variance of error and pace alike.
        const double h = s.error_step[i], e = std::exp(-h);
        Eigen::Matrix2d A;
        if (s.wander == Wander::smooth) A << e * (1 + h), e * h, -e * h, e * (1 - h);
        else A << e, 0, 0, 0;
        const Eigen::Matrix2d noise = Eigen::Matrix2d::Identity() - A * A.transpose();
        const int at[2] = {4, 8};
        for (int r = 0; r < 2; ++r)
            for (int k = 0; k < 2; ++k) F(at[r], at[k]) = A(r, k), Q(at[r], at[k]) = f.error_var * noise(r, k);
        Q(4, 4) += 1e-8;
        Q(8, 8) += 1e-8;
        Q(0, 0) = 1e-4 + s.distance_jump_var[i];
        Q(1, 1) = s.still[i] ? (s.left_out[i] ? 9 : 0.04) : 0.0025;
        Q(2, 2) = 1e-5 + s.height_jump_var[i];
        Q(3, 3) = s.gradient_q * s.ds[i] + 1e-8;
        Q(6, 6) = Q(7, 7) = 1e-9;
    }
    Gauss predicted(const Gauss& q, double keep, double mean, double var) const {
        P A = F;
        A.col(5) += keep * g;
        return {A * q.x + c + mean * g, A * q.p * A.transpose() + Q + var * g * g.transpose()};
    }
    //! u = keep · u + N(mean, var); mean and var of one that starts, and of one that goes on.
    struct Law {
        double keep, fresh_mean, fresh_var, stay_mean, stay_var;
    };
    static Law law(double mean, double sd, double memory) { return {memory, mean, sd * sd, (1 - memory) * mean, sd * sd * (1 - memory * memory)}; }
    bool metered(std::size_t i) const { return !s.meter_W.empty() && std::isfinite(s.meter_W[i]); }
    Law law_of(std::size_t i, std::size_t m) const {
        const double per_W = 1 / (f.effective_mass_kg * std::max(s.speed_mps[i], 2.5));
        Law l;
        if (m == 0 || (metered(i) && (m == 1 || m == 4))) l = law(0, std::sqrt(0.02 * 0.02 + f.coast_var[i]), 0.95);
        else if (m == 1) l = law(f.pedal_W * per_W, (s.e_assist ? 220 : 90) * per_W, 0.9);
        else if (m == 4) l = law(450 * per_W, 300 * per_W, 0.8);
        else if (m == 2) l = law(-1.5, 1.4, 0.5);
        else l = law(-0.5, 0.4, 0.995);
        if (metered(i)) {
            const double before = i > 0 && metered(i - 1) ? f.meter_u[i - 1] : f.meter_u[i];
            l.fresh_var += f.meter_var[i];
            l.stay_var += (1 - l.keep * l.keep) * f.meter_var[i];
            l.fresh_mean += f.meter_u[i];
            l.stay_mean += f.meter_u[i] - l.keep * before;
        }
        return l;
    }
    static double below(double z) { return 1 / (1 + std::exp(-z * (1.5957691 + 0.0713548 * z * z))); }   // Page 1977
    static double log_below(double z) { return z > -4 ? std::log(below(z)) : -z * z / 2 - std::log(-z) - std::log(std::sqrt(2 * M_PI)) - 1 / (z * z); }
    double chance(std::size_t i, std::size_t a, std::size_t b) const {
        const double steep = std::clamp((-s.gradient[i] - 0.02) / 0.04, 0.0, 1.0) * std::clamp((s.speed_mps[i] - 5) / 5, 0.0, 1.0);
        double p = a < 5 ? (1 - steep) * usual[a][b] + steep * downhill[a][b] : i > 0 && !s.still[i - 1] ? after_unseen[b] : after_standing[b];
        const bool drives = b == 1 || b == 4, m = metered(i);
        if (m) {
            const double W = s.meter_W[i], working = below((W - 25) / 10);
            p *= b == 0 ? 0.02 + 0.98 * (1 - working) : b == 1 ? 0.02 + 0.98 * working : b == 4 ? 0.0 : std::max(0.002, std::exp(-std::max(0.0, W) / 30));
        }
        if (!s.legs.empty() && s.legs[i] == Legs::turn && (m ? (b == 2 || b == 3) && s.meter_W[i] > 25 : !drives)) p *= 0.1 + 0.4 * steep;
        if (!s.legs.empty() && s.legs[i] == Legs::rest && drives && !m) p *= 0.03;
        return p;
    }
    double measured(Gauss& q, const X& h, double y, double variance) const {
        double v = h.dot(q.p * h) + variance;
        const double nu = y - h.dot(q.x), ratio = nu * nu / v;
        double l = -0.5 * (std::log(v) + ratio);
        if (ratio > 25) {
            l = -0.5 * (std::log(v) + 25 * (1 + std::log(ratio / 25)));
            v = nu * nu / 25;
        }
        const X ph = q.p * h;
        q.x += ph * nu / v;
        q.p -= ph * ph.transpose() / v;
        return l;
    }
    double read(Gauss& q, std::size_t i) const {
        double l = 0;
        for (std::size_t r = s.first[i]; r < s.first[i + 1]; ++r) {
            const SwitchReading& z = s.readings[r];
            X h = X::Zero();
            double y = z.y;
            if (z.kind == SwitchReading::Kind::distance) {
                h(0) = 1, h(1) = z.offset_s;
            } else if (z.kind == SwitchReading::Kind::speed) {
                h(1) = 1, h(5) = z.offset_s;
                if (i > 0) y += z.offset_s * (f.rolling[i - 1] + f.air_at_zero[i - 1] + f.air_slope[i - 1] * s.speed_at_mps[i - 1] + f.weight_N / f.effective_mass_kg * s.gradient[i - 1]);
            } else {
                h(2) = h(4) = 1, h(3) = s.speed_mps[i] * z.offset_s;
            }
            l += measured(q, h, y, z.variance);
        }
        if (i > 0 && s.still[i - 1] && !s.left_out[i - 1]) {
            X h = X::Zero();
            h(1) = 1;
            (void)measured(q, h, 0, 0.01);
        }
        return l;
    }
    Gauss start() const {
        Gauss q;
        q.x(1) = s.speed_at_mps[0], q.x(2) = s.start_altitude_m, q.x(3) = s.gradient[0];
        const double gradient_var = s.gradient_length_m < 1e6 ? 0.5 * s.gradient_q * s.gradient_length_m : 0.0036;
        q.p.diagonal() << 4, 1, 25 + f.error_var, gradient_var, f.error_var, 0.1, f.wind_var, f.wind_var, f.error_var;
        (void)read(q, 0);
        return q;
    }
    static Gauss merged(const std::vector<Gauss>& parts, const std::vector<double>& w) {
        Gauss m;
        for (std::size_t k = 0; k < parts.size(); ++k) m.x += w[k] * parts[k].x;
        for (std::size_t k = 0; k < parts.size(); ++k) m.p += w[k] * (parts[k].p + (parts[k].x - m.x) * (parts[k].x - m.x).transpose());
        return m;
    }
    std::vector<std::vector<Gauss>> states;   // of each second, one a mode or one alone, with their weights
    std::vector<std::vector<double>> weights;
    double log_likelihood() {
        std::vector<Gauss> now = {start()};
        std::vector<double> weight = {1};
        double all = 0;
        for (std::size_t i = 0;; ++i) {
            states.push_back(now);
            weights.push_back(weight);
            if (i + 1 == s.n) break;
            step(i);
            if (s.still[i] || s.bridged[i]) {
                const bool stays = !s.still[i] && i > 0 && !s.still[i - 1];
                const Law unseen_law = law(0, 0.4, 0.95);
                Gauss q = merged(now, weight);
                q = s.still[i] ? predicted(q, 0, 0, 4e-4) : stays ? predicted(q, 0.95, 0, unseen_law.stay_var) : predicted(q, 0, 0, unseen_law.fresh_var);
                all += read(q, i + 1);
                now = {q};
                weight = {1};
                continue;
            }
            const bool fresh = now.size() == 1;
            std::vector<Gauss> next;
            std::vector<double> next_weight;
            std::vector<std::vector<double>> lw(5);
            std::vector<std::vector<Gauss>> branches(5);
            double top = -1e300;
            for (std::size_t b = 0; b < 5; ++b) {
                const Law l = law_of(i, b);
                for (std::size_t a = 0; a < now.size(); ++a) {
                    const double odds = weight[a] * chance(i, fresh ? 5 : a, b);
                    if (odds < 1e-5) continue;
                    const bool stays = !fresh && (a == b || (a >= 2 && a <= 3 && b >= 2 && b <= 3));
                    Gauss q = stays ? predicted(now[a], l.keep, l.stay_mean, l.stay_var) : predicted(now[a], 0, l.fresh_mean, l.fresh_var);
                    double w = std::log(odds) + read(q, i + 1);
                    const double sd = std::sqrt(std::max(1e-8, q.p(5, 5)));
                    if (b == 2 || b == 3) w += log_below(((metered(i) ? f.meter_u[i] : 0.0) - q.x(5)) / sd);
                    if ((b == 1 || b == 4) && !metered(i)) w += log_below(q.x(5) / sd);
                    branches[b].push_back(q);
                    lw[b].push_back(w);
                    top = std::max(top, w);
                }
            }
            double total = 0;
            for (std::size_t b = 0; b < 5; ++b) {
                double sum = 0;
                for (double& w : lw[b]) sum += w = std::exp(w - top);
                total += sum;
                next_weight.push_back(sum);
                Gauss q = predicted(now[0], 0, 0, 1);   // of no weight
                if (sum >= 1e-14) {
                    double heavy = 0;   // what is under a millionth is left out
                    for (double& w : lw[b]) heavy += w = w > 1e-6 * sum ? w : 0;
                    for (double& w : lw[b]) w /= heavy;
                    q = merged(branches[b], lw[b]);
                }
                next.push_back(q);
            }
            for (double& w : next_weight) w /= total;
            all += top + std::log(total);
            now = next;
            weight = next_weight;
        }
        return all;
    }
    static X drawn(const Gauss& q, Noise& noise) {
        const Eigen::SelfAdjointEigenSolver<P> e(q.p);
        X z;
        for (double& x : z) x = noise.normal();
        return q.x + e.eigenvectors() * e.eigenvalues().cwiseMax(0).cwiseSqrt().cwiseProduct(z);
    }
    static std::size_t picked(const std::vector<double>& w, Noise& noise) {
        double left = noise.uniform() * std::accumulate(w.begin(), w.end(), 0.0);
        std::size_t k = 0;
        while (k + 1 < w.size() && left >= w[k]) left -= w[k++];
        return k;
    }
    // Backwards: mode and state of each second given the next; after log_likelihood(). Modes [n - 1] of the seconds that follow, states [n].
    void draw(Noise& noise, std::vector<std::size_t>& mode, std::vector<X>& x) {
        const std::size_t n = s.n;
        x.resize(n);
        mode.resize(n - 1);
        std::size_t m = picked(weights[n - 1], noise);
        x[n - 1] = drawn(states[n - 1][m], noise);
        for (std::size_t i = n - 1; i-- > 0;) {
            step(i);
            mode[i] = m;
            const Law l = law_of(i, m);
            const std::vector<Gauss>& now = states[i];
            std::vector<double> lw;
            std::vector<Gauss> ahead;
            std::vector<P> A;
            for (std::size_t a = 0; a < now.size(); ++a) {
                const bool stays = now.size() > 1 && (a == m || (a >= 2 && a <= 3 && m >= 2 && m <= 3));
                ahead.push_back(stays ? predicted(now[a], l.keep, l.stay_mean, l.stay_var) : predicted(now[a], 0, l.fresh_mean, l.fresh_var));
                A.push_back(F);
                A.back().col(5) += (stays ? l.keep : 0) * g;
                const X off = x[i + 1] - ahead[a].x;
                lw.push_back(std::log(weights[i][a] * chance(i, now.size() > 1 ? a : 5, m)) - 0.5 * std::log(ahead[a].p.determinant()) - 0.5 * off.dot(ahead[a].p.ldlt().solve(off)));
            }
            const double top = *std::max_element(lw.begin(), lw.end());
            for (double& w : lw) w = std::exp(w - top);
            m = picked(lw, noise);
            const P G = ahead[m].p.ldlt().solve(A[m] * now[m].p).transpose();
            x[i] = drawn({now[m].x + G * (x[i + 1] - ahead[m].x), now[m].p - G * A[m] * now[m].p}, noise);
        }
    }
};

const unsigned kinds_of_ride[] = {plain, meter, legs, meter | legs, wind, afresh, lagging, smooth_error, level, motor, gaps, gaps | lagging | afresh | wind | smooth_error, gaps | meter | legs | wind};

std::vector<double> likelihoods(const Kernel& k, const Ride& r, std::size_t from, std::size_t count) {
    std::vector<SwitchedPath> out(count);
    const Switching* const way = &r.way;
    k.run({&way, 1}, std::span(r.own).subspan(from, count), nullptr, out);
    std::vector<double> l;
    for (const SwitchedPath& p : out) l.push_back(p.log_likelihood);
    return l;
}

std::vector<SwitchedPath> paths_of(const Kernel& k, const Ride& r, std::size_t from, std::size_t count, std::uint64_t seed = 5) {
    std::vector<SwitchedPath> out(count);
    std::vector<std::size_t> keys;
    for (std::size_t j = 0; j < count; ++j) keys.push_back(from + j);
    const Draws draws{seed, 77, keys};
    const Switching* const way = &r.way;
    k.run({&way, 1}, std::span(r.own).subspan(from, count), &draws, out);
    return out;
}

void expect_same_bytes(const SwitchedPath& a, const SwitchedPath& b) {
    EXPECT_EQ(a.log_likelihood, b.log_likelihood);
    EXPECT_EQ(a.mode, b.mode);
    EXPECT_EQ(a.u, b.u);
    EXPECT_EQ(a.speed_mps, b.speed_mps);
    EXPECT_EQ(a.altitude_m, b.altitude_m);
    EXPECT_EQ(a.head_wind_mps, b.head_wind_mps);
    EXPECT_EQ(a.across_wind_mps, b.across_wind_mps);
}

TEST(SwitchingKernel, LikelihoodIsThatOfATextbookFilterOnEveryKindOfReading) {
    for (const unsigned what : kinds_of_ride) {
        const Ride r = ride_of(150, what, 11 + what, 3);
        for (const Kernel& k : kernels()) {
            for (std::size_t j = 0; j < r.own.size(); ++j) {
                const double reference = Dense{r.way, r.own[j]}.log_likelihood(), got = likelihoods(k, r, j, 1).front();
                EXPECT_NEAR(got, reference, 1e-6 * std::max(1.0, std::abs(reference))) << k.name << ", kind " << what << ", path " << j;
            }
        }
    }
}

// One force of either sign, no choice of mode: then the drawn states are those of a smoother in closed form.
TEST(SwitchingKernel, DrawnStatesHaveTheMeanAndSpreadOfTheSmootherWhereThereIsNoChoiceOfMode) {
    Ride r = ride_of(60, plain, 4, 1);
    r.way.bridged.assign(r.way.n, 1);
    const std::size_t n = r.way.n;
    Dense d{r.way, r.own[0]};
    std::vector<Gauss> filtered = {d.start()}, ahead;
    std::vector<P> F;
    for (std::size_t i = 0; i + 1 < n; ++i) {
        d.step(i);
        const double var = 0.16 * (i > 0 ? 1 - 0.95 * 0.95 : 1);
        ahead.push_back(d.predicted(filtered.back(), i > 0 ? 0.95 : 0, 0, var));
        P A = d.F;
        A.col(5) += (i > 0 ? 0.95 : 0) * d.g;
        F.push_back(A);
        Gauss q = ahead.back();
        (void)d.read(q, i + 1);
        filtered.push_back(q);
    }
    std::vector<Gauss> smoothed = filtered;
    for (std::size_t i = n - 1; i-- > 0;) {
        const P G = ahead[i].p.ldlt().solve(F[i] * filtered[i].p).transpose();
        smoothed[i].x = filtered[i].x + G * (smoothed[i + 1].x - ahead[i].x);
        smoothed[i].p = filtered[i].p + G * (smoothed[i + 1].p - ahead[i].p) * G.transpose();
    }
    const Kernel& k = kernels().front();
    const std::size_t rounds = 4000 / k.lanes + 1;
    std::vector<double> sum(n, 0.0), square(n, 0.0), height(n, 0.0);
    double count = 0;
    r.own.assign(k.lanes, r.own.front());
    for (std::size_t round = 0; round < rounds; ++round) {
        for (const SwitchedPath& p : paths_of(k, r, 0, k.lanes, 100 + round)) {
            ++count;
            for (std::size_t i = 0; i < n; ++i) {
                const double off = p.speed_mps[i] - smoothed[i].x(1);
                sum[i] += off;
                square[i] += off * off;
                height[i] += p.altitude_m[i] - smoothed[i].x(2);
            }
        }
    }
    for (std::size_t i = 0; i < n; ++i) {
        const double sd = std::sqrt(smoothed[i].p(1, 1)), of_mean = 1 / std::sqrt(count);
        EXPECT_NEAR(sum[i] / count, 0, 4.5 * sd * of_mean) << i;
        EXPECT_NEAR(std::sqrt(square[i] / count) / sd, 1, 4.5 * of_mean / std::sqrt(2)) << i;
        EXPECT_NEAR(height[i] / count, 0, 4.5 * std::sqrt(smoothed[i].p(2, 2)) * of_mean) << i;
    }
}

// The way back with its choice of modes, over a dozen seconds: shares of the modes and means of what is drawn, as often as chance has it.
TEST(SwitchingKernel, DrawnModesAndStatesAreThoseOfATextbookDraw) {
    for (const unsigned what : {unsigned{plain}, unsigned{meter | wind}, unsigned{legs | motor}, unsigned{wind | lagging | smooth_error}}) {
        Ride r = ride_of(12, what, 61 + what, 1);
        r.way.gradient.assign(r.way.n, what & smooth_error ? -0.1 : -0.03);   // where several modes are likely; the steeper, both brakes
        r.way.towards_x.assign(r.way.n, 0.6);
        r.way.towards_y.assign(r.way.n, 0.8);
        r.own[0].wind_var = 9;
        r.own[0].coast_var.assign(r.way.n, 0.01);
        const std::size_t n = r.way.n;
        const Kernel& k = kernels().front();
        r.own.assign(k.lanes, r.own.front());
        constexpr std::size_t wanted = 8000, values = 6;
        struct Sums {
            double count = 0;
            std::vector<std::array<double, modes>> mode;
            std::vector<std::array<double, values>> mean, square;   // u, speed, head wind, wind across, whether the mode goes on, u by the one before
            explicit Sums(std::size_t seconds) : mode(seconds), mean(seconds), square(seconds) {}
            void add(std::size_t i, std::size_t m, const std::array<double, values>& x) {
                ++mode[i][m];
                for (std::size_t c = 0; c < values; ++c) mean[i][c] += x[c], square[i][c] += x[c] * x[c];
            }
        } ours(n - 1), textbook(n - 1);
        for (std::size_t round = 0; ours.count < wanted; ++round)
            for (const SwitchedPath& p : paths_of(k, r, 0, k.lanes, 1000 + round)) {
                ++ours.count;
                for (std::size_t i = 0; i + 1 < n; ++i)
                    ours.add(i, static_cast<std::size_t>(p.mode[i]), {p.u[i], p.speed_mps[i], p.head_wind_mps[i], p.across_wind_mps.empty() ? 0.0 : p.across_wind_mps[i],
                                                                 i > 0 && p.mode[i] == p.mode[i - 1] ? 1.0 : 0.0, i > 0 ? p.u[i] * p.u[i - 1] : 0.0});
            }
        Dense d{r.way, r.own[0]};
        (void)d.log_likelihood();
        Noise noise{99 + what};
        std::vector<std::size_t> mode;
        std::vector<X> x;
        for (; textbook.count < wanted; ++textbook.count) {
            d.draw(noise, mode, x);
            for (std::size_t i = 0; i + 1 < n; ++i) {
                const double to_x = r.way.towards_x[i], to_y = r.way.towards_y[i];
                textbook.add(i, mode[i], {x[i + 1](5), x[i](1), to_x * x[i](6) + to_y * x[i](7), what & wind ? to_y * x[i](6) - to_x * x[i](7) : 0.0,
                                          i > 0 && mode[i] == mode[i - 1] ? 1.0 : 0.0, i > 0 ? x[i + 1](5) * x[i](5) : 0.0});
            }
        }
        std::array<double, modes> seen{};
        for (std::size_t i = 0; i + 1 < n; ++i) {
            for (std::size_t m = 0; m < modes; ++m) {
                const double a = ours.mode[i][m] / ours.count, b = textbook.mode[i][m] / textbook.count;
                seen[m] += b;
                EXPECT_NEAR(a, b, 4.5 * std::sqrt((a * (1 - a) + b * (1 - b)) / wanted) + 1e-3) << "kind " << what << ", second " << i << ", mode " << m;
            }
            for (std::size_t c = 0; c < values; ++c) {
                const double a = ours.mean[i][c] / ours.count, b = textbook.mean[i][c] / textbook.count, var = textbook.square[i][c] / textbook.count - b * b;
                EXPECT_NEAR(a, b, 4.5 * std::sqrt(2 * std::max(var, 0.0) / wanted) + 1e-9) << "kind " << what << ", second " << i << ", value " << c;
            }
        }
        int modes_seen = 0;
        for (const double share : seen) modes_seen += share > 0.1;
        EXPECT_GE(modes_seen, 3) << "kind " << what << ": the ride leaves hardly a choice";
    }
}

TEST(SwitchingKernel, APathDoesNotDependOnWhatGoesBesideIt) {
    for (const unsigned what : kinds_of_ride) {
        const Ride r = ride_of(200, what, 23 + what);
        for (const Kernel& k : kernels()) {
            const std::size_t count = std::min(k.lanes, r.own.size());
            const std::vector<SwitchedPath> together = paths_of(k, r, 0, count);
            for (std::size_t j = 0; j < count; ++j) expect_same_bytes(together[j], paths_of(k, r, j, 1).front());
        }
    }
}

// Targets with fused multiply-add; each operation is one operation a lane, so the width does not matter.
TEST(SwitchingKernel, TheBytesDoNotDependOnTheWidthOfTheVectors) {
    std::vector<Kernel> fused;
    for (const Kernel& k : kernels())
        if (k.lanes >= 4) fused.push_back(k);
    if (fused.size() < 2) GTEST_SKIP() << "this machine, or this build, has one width";
    for (const unsigned what : kinds_of_ride) {
        const Ride r = ride_of(1800, what, 37 + what);   // the wider one has more stretches
        const std::vector<SwitchedPath> wide = paths_of(fused[0], r, 0, 4), narrow = paths_of(fused[1], r, 0, 4);
        for (std::size_t j = 0; j < 4; ++j) expect_same_bytes(wide[j], narrow[j]);
    }
}

// The forward pass alone goes by short stretches, the one that keeps states for the way back by longer ones, several on a ride of half an hour.
TEST(SwitchingKernel, TheStretchesInWhichStatesAreKeptDoNotShow) {
    for (const unsigned what : {unsigned{plain}, unsigned{gaps}}) {
        const Ride r = ride_of(1800, what, 41 + what);
        const Kernel& k = kernels().front();
        const std::vector<SwitchedPath> paths = paths_of(k, r, 0, k.lanes);
        const std::vector<double> alone = likelihoods(k, r, 0, k.lanes);
        for (std::size_t j = 0; j < k.lanes; ++j) EXPECT_EQ(paths[j].log_likelihood, alone[j]);
        // Where two stretches meet the path goes on: no speed jumps by more than the noise of a second and what acts on it.
        for (std::size_t j = 0; j < k.lanes; ++j)
            for (std::size_t i = 0; i + 1 < r.way.n; ++i) {
                if (r.way.still[i]) continue;
                ASSERT_NEAR(paths[j].speed_mps[i + 1] - paths[j].speed_mps[i] - paths[j].u[i], 0, 2.0) << j << ", second " << i;
            }
    }
}

TEST(SwitchingKernel, WaysBesideEachOtherHaveTheLikelihoodOfEachAlone) {
    const Context ctx{};
    std::vector<Ride> rides;
    for (std::uint64_t k = 0; k < 11; ++k) {
        Ride r = ride_of(200, gaps | legs, 3, 1);
        Noise z{k + 1};
        for (double& x : r.way.gradient) x += 0.01 * z.normal();
        for (double& x : r.way.error_step) x *= 1 + z.uniform();
        for (SwitchReading& x : r.way.readings) x.variance *= 0.5 + z.uniform();
        r.way.wander = k % 2 ? Wander::smooth : Wander::rough;
        r.way.gradient_q *= 1 + static_cast<double>(k);
        rides.push_back(r);
    }
    rides[4] = ride_of(150, gaps | legs, 3, 1);   // of other seconds: cannot go beside them
    std::vector<const Switching*> ways;
    std::vector<Forces> own;
    for (const Ride& r : rides) ways.push_back(&r.way), own.push_back(r.own[0]);
    const std::vector<double> together = switching_evidence(ctx, ways, own);
    for (std::size_t k = 0; k < rides.size(); ++k) {
        EXPECT_EQ(together[k], switching_evidence(ctx, std::span(&ways[k], 1), std::span(&own[k], 1))[0]) << k;
        const double reference = Dense{*ways[k], own[k]}.log_likelihood();
        EXPECT_NEAR(together[k], reference, 1e-6 * std::abs(reference)) << k;
    }
}

TEST(SwitchingKernel, WhatIsNoNumberInOnePathTouchesNoOtherAndCountsForNothingEvenWhereNoReadingTellsIt) {
    for (const bool read_on : {true, false}) {
        Ride r = ride_of(120, plain, 9, paths_at_once());
        if (r.own.size() < 2) GTEST_SKIP() << "one path at a time";
        for (std::size_t i = 41; i <= r.way.n && !read_on; ++i) r.way.first[i] = r.way.first[40];
        std::vector<std::size_t> keys(r.own.size());
        std::iota(keys.begin(), keys.end(), std::size_t{0});
        std::vector<SwitchedPath> before(r.own.size()), after(r.own.size());
        switched_paths(r.way, r.own, 5, 77, keys, before);
        r.own[1].rolling[40] = NAN;
        switched_paths(r.way, r.own, 5, 77, keys, after);
        EXPECT_TRUE(std::isfinite(before[1].log_likelihood));
        EXPECT_FALSE(std::isfinite(after[1].log_likelihood));
        for (std::size_t j = 0; j < r.own.size(); ++j)
            if (j != 1) expect_same_bytes(before[j], after[j]);
    }
}

}  // namespace
}  // namespace bw::ride::internal
