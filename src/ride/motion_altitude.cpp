// SPDX-License-Identifier: Apache-2.0
// Altitude and gradient along the smoothed way; what kind of altitude it is, learned from the file.       Layer: ride
// Theory: docs/models/motion.md [EQ motion-5..6].
#include <algorithm>
#include <array>
#include <cmath>
#include <fmt/format.h>

#include "motion_filter.hpp"
#include "motion_parts.hpp"

namespace bw::ride::internal {
namespace {

constexpr double gate = 25;
constexpr std::array<double, 4> roughness = {4e-6, 1e-5, 2.5e-5, 6e-5};   // of roads, gradient variance a metre
constexpr double far_behind = 1500;      // nats of the altitude alone: a kind further behind is not tried on the motion
double sq(double x) { return x * x; }

//! One hypothesis about the altitude channel.
struct Kind {
    AltitudeSource source;
    double error_sd_m;
    double error_scale;   // seconds, or metres of road for terrain
    Wander wander;
    double noise_m;       // sd of a reading beside its rounding
};
// A smooth wander is down to 1/e after 2.15 scales.
constexpr std::array<Kind, 19> kinds = {{{AltitudeSource::barometric, 1.5, 1200, Wander::rough, 0.05},
                                         {AltitudeSource::barometric, 1.5, 1200, Wander::rough, 0.1},
                                         {AltitudeSource::barometric, 1.5, 1200, Wander::rough, 0.2},
                                         {AltitudeSource::barometric, 1.5, 1200, Wander::rough, 0.35},
                                         {AltitudeSource::barometric, 0.3, 5, Wander::smooth, 0.05},
                                         {AltitudeSource::barometric, 0.6, 5, Wander::smooth, 0.1},
                                         {AltitudeSource::satellite, 4, 20, Wander::smooth, 0.12},
                                         {AltitudeSource::satellite, 4, 20, Wander::smooth, 0.4},
                                         {AltitudeSource::satellite, 8, 30, Wander::smooth, 0.12},
                                         {AltitudeSource::satellite, 8, 30, Wander::smooth, 0.4},
                                         {AltitudeSource::satellite, 4, 40, Wander::rough, 0.2},
                                         {AltitudeSource::satellite, 9, 60, Wander::rough, 0.2},
                                         {AltitudeSource::terrain, 1.5, 25, Wander::rough, 0.4},
                                         {AltitudeSource::terrain, 3.5, 40, Wander::rough, 0.4},
                                         {AltitudeSource::terrain, 1.5, 20, Wander::smooth, 0.04},
                                         {AltitudeSource::terrain, 1.5, 35, Wander::smooth, 0.04},
                                         {AltitudeSource::terrain, 3, 60, Wander::smooth, 0.04},
                                         {AltitudeSource::terrain, 1.5, 20, Wander::smooth, 0.15},
                                         {AltitudeSource::terrain, 3, 35, Wander::smooth, 0.15}}};

double reading_var(const Kind& k, double resolution_m) { return sq(resolution_m) / 12 + sq(k.noise_m); }

double step_of(const Kind& k, double ds_m) { return (k.source == AltitudeSource::terrain ? ds_m : 1.0) / k.error_scale; }

struct Row {
    std::size_t second;
    double offset_s, y;
};

// State (z, gradient, error, its pace) and, N = 5, the altitude that a lagging barometer shows.
template <int N> struct AltitudeModel {
    const std::vector<double>* ds;         // [n] metres of road over the second that follows
    const std::vector<double>* speed;
    const std::vector<double>* jump_var;   // [n]
    const std::vector<Row>* rows;
    const std::vector<std::size_t>* first;
    Kind kind;
    double q = 2.5e-5, variance = 0.02, lag = 0;
    std::size_t size() const { return ds->size(); }
    void start(Vec<N>& m, Mat<N>& P) const {
        m.setZero();
        m(0) = rows->front().y;
        P.setZero();
        P(0, 0) = sq(kind.error_sd_m) + 400;
        P(1, 1) = sq(0.06);
        P(2, 2) = P(3, 3) = sq(kind.error_sd_m);
        if constexpr (N == 5) {
            m(4) = m(0);
            P(4, 4) = P(0, 0) + 0.01;
            P(0, 4) = P(4, 0) = P(0, 0);
        }
    }
    void step(std::size_t i, Mat<N>& F, Mat<N>& Q) const {
        const WanderStep w = wander_step(kind.wander, step_of(kind, (*ds)[i]));
        const double var = sq(kind.error_sd_m);
        F.setIdentity();
        F(0, 1) = (*ds)[i];
        F(2, 2) = w.bb;
        F(2, 3) = w.br;
        F(3, 2) = w.rb;
        F(3, 3) = w.rr;
        Q.setZero();
        Q(0, 0) = 1e-7 + (*jump_var)[i];
        Q(1, 1) = q * (*ds)[i] + 1e-9;
        Q(2, 2) = var * w.q_bb + 1e-9;
        Q(2, 3) = Q(3, 2) = var * w.q_br;
        Q(3, 3) = var * w.q_rr + 1e-9;
        if constexpr (N == 5) {
            F(4, 4) = lag;
            F(4, 0) = 1 - lag;
            F(4, 1) = (1 - lag) * (*ds)[i];
            Q(4, 4) = 1e-6 + (*jump_var)[i];
            Q(0, 4) = Q(4, 0) = (*jump_var)[i];
        }
    }
    int readings(std::size_t i, Reading<N>* out) const {
        int count = 0;
        for (std::size_t r = (*first)[i]; r < (*first)[i + 1] && count < 4; ++r, ++count) {
            const Row& z = (*rows)[r];
            out[count].h.setZero();
            out[count].h(N == 5 ? 4 : 0) = 1;
            out[count].h(1) = (*speed)[i] * z.offset_s;
            out[count].h(2) = 1;
            out[count].y = z.y;
            out[count].variance = variance;
        }
        return count;
    }
};

template <int N> void keep(const Smoothed<N>& s, Altitude& out) {
    const std::size_t n = s.mean.size();
    out.altitude_m.resize(n);
    out.gradient.resize(n);
    for (std::size_t i = 0; i < n; ++i) {
        out.altitude_m[i] = s.mean[i](0);
        out.gradient[i] = s.mean[i](1);
    }
}

}  // namespace

WanderStep wander_step(Wander wander, double h) {
    const double e = std::exp(-h);
    if (wander == Wander::rough) return {e, 0, 0, 0, 1 - e * e, 0, 1};
    // e^-h [[1 + h, h], [-h, 1 - h]]; the noise keeps the variance of both at 1.
    const double bb = e * (1 + h), br = e * h, rb = -e * h, rr = e * (1 - h);
    return {bb, br, rb, rr, std::max(0.0, 1 - bb * bb - br * br), -(bb * rb + br * rr), std::max(0.0, 1 - rb * rb - rr * rr)};
}

std::vector<Altitude> altitudes_of(const Track& track, const Grid& grid, const Along& along, std::optional<AltitudeSource> forced) {
    const std::size_t n = grid.n;
    std::vector<Row> rows;
    if (track.altitude_m.size() == track.size() && forced != AltitudeSource::none)
        for (std::size_t k = 0; k < track.size(); ++k) {
            if (!std::isfinite(track.altitude_m[k])) continue;
            const double since = track.t_s[k] - grid.t0_s;
            const std::size_t second = std::min(n - 1, static_cast<std::size_t>(std::max(0.0, std::floor(since + 0.5))));
            rows.push_back({second, since - static_cast<double>(second), track.altitude_m[k]});
        }
    if (rows.size() < 10) {
        Altitude out;
        out.source = AltitudeSource::none;
        out.altitude_m.assign(n, 0.0);
        out.gradient.assign(n, 0.0);
        out.first.assign(n + 1, 0);
        out.jump_var.assign(n, 0.0);
        out.error_step.assign(n, 1.0);
        if (forced != AltitudeSource::none)
            out.faults.push_back({FaultKind::no_altitude, 1, track.t_s.back() - track.t_s.front(), "no altitude recorded: reckoned as level road, and wide"});
        return {out};
    }
    std::vector<std::size_t> first(n + 1, 0);
    for (const Row& r : rows) ++first[r.second + 1];
    for (std::size_t i = 0; i < n; ++i) first[i + 1] += first[i];
    std::vector<double> ds(n, 0.0), jump_var(n, 0.0);
    for (std::size_t i = 0; i + 1 < n; ++i) {
        ds[i] = grid.standing[i] ? 0.0 : along.distance_m[i + 1] - along.distance_m[i];
        if (grid.left_out[i]) jump_var[i] = 100;   // carried: the height may have changed by any amount
    }
    const double resolution = resolution_of(track.altitude_m);

    // Each kind with the roughness of road that suits it best. Kinds are told apart by how they wander, not by what is assumed of
    // their noise.
    std::vector<Altitude> all;
    for (const Kind& kind : kinds) {
        if (forced && kind.source != *forced) continue;
        AltitudeModel<4> model{&ds, &along.speed_mps, &jump_var, &rows, &first, kind};
        model.variance = reading_var(kind, resolution);
        Altitude out;
        double best = -1e300, q = 0;
        for (double qq : roughness) {
            model.q = qq;
            const double l = filter<4>(model, gate, nullptr);
            if (l > best) {
                best = l;
                q = qq;
            }
        }
        double lag = 0;
        AltitudeModel<5> lagging{&ds, &along.speed_mps, &jump_var, &rows, &first, kind};
        lagging.variance = model.variance;
        if (kind.source == AltitudeSource::barometric) {
            double need = best + 10;
            for (double qq : roughness) {
                lagging.lag = 0.37;
                lagging.q = qq;
                const double l = filter<5>(lagging, gate, nullptr);
                if (l > need) {
                    need = best = l;
                    lag = 0.37;
                    q = qq;
                }
            }
        }
        out.evidence = best;
        out.source = kind.source;
        out.error_sd_m = kind.error_sd_m;
        out.error_scale = kind.error_scale;
        out.wander = kind.wander;
        out.gradient_q = q;
        out.lag = lag;
        out.reading_var = model.variance;
        all.push_back(std::move(out));
    }
    std::sort(all.begin(), all.end(), [](const Altitude& x, const Altitude& y) { return x.evidence > y.evidence; });
    while (all.size() > 1 && all.back().evidence < all.front().evidence - far_behind) all.pop_back();
    for (Altitude& out : all) {
        const Kind kind{out.source, out.error_sd_m, out.error_scale, out.wander, 0};
        const double variance = out.reading_var;
        const double delay_s = out.lag > 0 ? out.lag / (1 - out.lag) : 0;
        out.error_step.assign(n, 0.0);
        for (std::size_t i = 0; i < n; ++i) out.error_step[i] = step_of(kind, ds[i]);
        for (const Row& r : rows) out.readings.push_back({SwitchReading::Kind::altitude, r.offset_s - delay_s, r.y, variance});
        out.first = first;
        out.jump_var = jump_var;
        if (out.lag > 0) {
            AltitudeModel<5> lagging{&ds, &along.speed_mps, &jump_var, &rows, &first, kind, out.gradient_q, variance, out.lag};
            keep<5>(smooth<5>(lagging, gate), out);
        } else {
            AltitudeModel<4> model{&ds, &along.speed_mps, &jump_var, &rows, &first, kind, out.gradient_q, variance};
            keep<4>(smooth<4>(model, gate), out);
        }
    }
    return all;
}

}  // namespace bw::ride::internal
