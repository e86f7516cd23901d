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
double sq(double x) { return x * x; }

//! One hypothesis about the altitude channel.
struct Kind {
    AltitudeSource source;
    double error_sd_m;
    double error_scale;   // correlation: seconds, or metres of road for terrain
};
constexpr std::array<Kind, 5> kinds = {{{AltitudeSource::barometric, 1.5, 1200},
                                        {AltitudeSource::satellite, 4, 40},
                                        {AltitudeSource::satellite, 9, 60},
                                        {AltitudeSource::terrain, 1.5, 25},
                                        {AltitudeSource::terrain, 3.5, 40}}};

double reading_var(AltitudeSource s, double resolution_m) {
    switch (s) {
        case AltitudeSource::barometric: return sq(resolution_m) / 6 + sq(0.1);
        case AltitudeSource::satellite: return sq(0.2) + sq(resolution_m) / 12;
        default: return sq(resolution_m) / 12 + sq(0.4);
    }
}

struct Row {
    std::size_t second;
    double offset_s, y;
};

// State (z, gradient, error) and, N = 4, the altitude that a lagging barometer shows.
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
        P(2, 2) = sq(kind.error_sd_m);
        if constexpr (N == 4) {
            m(3) = m(0);
            P(3, 3) = P(0, 0) + 0.01;
            P(0, 3) = P(3, 0) = P(0, 0);
        }
    }
    void step(std::size_t i, Mat<N>& F, Mat<N>& Q) const {
        const double phi = kind.source == AltitudeSource::terrain ? std::exp(-(*ds)[i] / kind.error_scale) : std::exp(-1 / kind.error_scale);
        F.setIdentity();
        F(0, 1) = (*ds)[i];
        F(2, 2) = phi;
        Q.setZero();
        Q(0, 0) = 1e-7 + (*jump_var)[i];
        Q(1, 1) = q * (*ds)[i] + 1e-9;
        Q(2, 2) = sq(kind.error_sd_m) * (1 - phi * phi) + 1e-9;
        if constexpr (N == 4) {
            F(3, 3) = lag;
            F(3, 0) = 1 - lag;
            F(3, 1) = (1 - lag) * (*ds)[i];
            Q(3, 3) = 1e-6 + (*jump_var)[i];
            Q(0, 3) = Q(3, 0) = (*jump_var)[i];
        }
    }
    int readings(std::size_t i, Reading<N>* out) const {
        int count = 0;
        for (std::size_t r = (*first)[i]; r < (*first)[i + 1] && count < 4; ++r, ++count) {
            const Row& z = (*rows)[r];
            out[count].h.setZero();
            out[count].h(N == 4 ? 3 : 0) = 1;
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

Altitude altitude_of(const Track& track, const Grid& grid, const Along& along, std::optional<AltitudeSource> forced) {
    Altitude out;
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
        out.source = AltitudeSource::none;
        out.altitude_m.assign(n, 0.0);
        out.gradient.assign(n, 0.0);
        out.first.assign(n + 1, 0);
        out.jump_var.assign(n, 0.0);
        out.error_memory.assign(n, 0.0);
        if (forced != AltitudeSource::none)
            out.faults.push_back({FaultKind::no_altitude, 1, track.t_s.back() - track.t_s.front(), "no altitude recorded: reckoned as level road, and wide"});
        return out;
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

    AltitudeModel<3> model{&ds, &along.speed_mps, &jump_var, &rows, &first, kinds[0]};
    double best = 0;
    Kind kind = kinds[0];
    double q = 0;
    const auto learn = [&](std::optional<AltitudeSource> only) {
        best = -1e300;
        for (const Kind& k : kinds) {
            if (only && k.source != *only) continue;
            for (double qq : {1e-5, 2.5e-5, 6e-5, 1.2e-4}) {
                model.kind = k;
                model.q = qq;
                model.variance = reading_var(k.source, resolution);
                const double l = filter<3>(model, gate, nullptr);
                if (l > best) {
                    best = l;
                    kind = k;
                    q = qq;
                }
            }
        }
    };
    learn(forced);
    // A terrain model read between its nodes is as free of noise as a barometer, but its errors make a road far rougher than
    // roads are; a barometer on a rough trail looks like that too, and loses little when it is taken for a terrain model.
    if (!forced && kind.source == AltitudeSource::barometric && q > 4e-5) {
        learn(AltitudeSource::terrain);
        out.faults.push_back({FaultKind::other, 1, track.t_s.back() - track.t_s.front(),
                              "The altitude is rougher than roads are: it is taken as read off a terrain model. If the recorder has a barometer, say --altitude barometric."});
    }
    out.source = kind.source;
    double lag = 0;
    AltitudeModel<4> lagging{&ds, &along.speed_mps, &jump_var, &rows, &first, kind};
    lagging.variance = reading_var(kind.source, resolution);
    if (kind.source == AltitudeSource::barometric) {
        double need = best + 10;
        for (double qq : {1e-5, 2.5e-5, 6e-5}) {
            lagging.lag = 0.37;
            lagging.q = qq;
            const double l = filter<4>(lagging, gate, nullptr);
            if (l > need) {
                need = l;
                lag = 0.37;
                q = qq;
            }
        }
    }
    const double delay_s = lag > 0 ? lag / (1 - lag) : 0;
    out.error_memory.assign(n, 0.0);
    for (std::size_t i = 0; i < n; ++i)
        out.error_memory[i] = kind.source == AltitudeSource::terrain ? std::exp(-ds[i] / kind.error_scale) : std::exp(-1 / kind.error_scale);
    for (const Row& r : rows) out.readings.push_back({SwitchReading::Kind::altitude, r.offset_s - delay_s, r.y, lagging.variance});
    out.first = first;
    out.jump_var = jump_var;
    out.error_sd_m = kind.error_sd_m;
    out.error_time_s = kind.error_scale;
    out.gradient_q = q;
    out.lag = lag;
    model.kind = kind;
    model.q = lagging.q = q;
    model.variance = lagging.variance;
    lagging.lag = lag;
    if (lag > 0) keep<4>(smooth<4>(lagging, gate), out);
    else keep<3>(smooth<3>(model, gate), out);
    return out;
}

}  // namespace bw::ride::internal
