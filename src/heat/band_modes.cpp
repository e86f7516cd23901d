// SPDX-License-Identifier: Apache-2.0
// Shapes along the radius: eigenvectors of the conduction between rings.                                  Layer: heat
#include "band_modes.hpp"

#include <algorithm>
#include <cmath>
#include <numbers>

#include <Eigen/Eigenvalues>

namespace bw::heat::engine {

namespace {
constexpr int rings = 24;
}

int band_key(const RotorBand& band) { return std::clamp(static_cast<int>(std::lround(4096 * band.inner_m / band.outer_m)), 1, 4095); }

BandModes band_modes(int key) {
    BandModes out;
    out.inner = key / 4096.0;
    const double width = (1 - out.inner) / rings;
    Eigen::VectorXd area(rings), diagonal = Eigen::VectorXd::Zero(rings), beside(rings - 1);
    const auto edge = [&](int i) { return out.inner + width * i; };
    for (int i = 0; i < rings; ++i) area[i] = (edge(i + 1) * edge(i + 1) - edge(i) * edge(i)) / 2;
    for (int i = 0; i + 1 < rings; ++i) {
        const double link = edge(i + 1) / width;
        diagonal[i] += link / area[i];
        diagonal[i + 1] += link / area[i + 1];
        beside[i] = -link / std::sqrt(area[i] * area[i + 1]);
    }
    Eigen::SelfAdjointEigenSolver<Eigen::MatrixXd> solver;
    solver.computeFromTridiagonal(diagonal, beside);
    const double whole = area.sum();
    out.shape.resize(rings);
    for (int m = 0; m < ring_modes; ++m) {
        out.rate[static_cast<std::size_t>(m)] = solver.eigenvalues()[m + 1];
        // The sign is the solver's choice: positive at the rim.
        const double scale = std::sqrt(whole) * (solver.eigenvectors()(rings - 1, m + 1) < 0 ? -1 : 1);
        for (int i = 0; i < rings; ++i) out.shape[static_cast<std::size_t>(i)][static_cast<std::size_t>(m)] = scale * solver.eigenvectors()(i, m + 1) / std::sqrt(area[i]);
    }
    return out;
}

RingShape ring_shape(const ReferenceBrake& b, const RotorBand& band, const BandModes& modes) {
    using std::numbers::pi;
    const auto& ro = b.rotor;
    RingShape out;
    const double width = (1 - modes.inner) / rings, outer = band.outer_m;
    const double annulus = pi * (outer * outer - band.inner_m * band.inner_m), solid = ro.face_area_m2 / annulus;
    const double rim = std::min(2 * pi * outer * ro.half_thickness_m, ro.edge_area_m2);
    const double area = ro.face_area_m2 - b.friction.area_m2 + ro.edge_area_m2;
    for (std::size_t m = 0; m < ring_modes; ++m) {
        out.rim[m] = modes.shape.back()[m];
        out.inner[m] = modes.shape.front()[m];
        out.rate[m] = modes.rate[m] * ro.conductivity_W_mK / (ro.density_kg_m3 * ro.heat_capacity_J_kgK) / (outer * outer);
    }
    // A pad of even pressure and even length: more speed and a longer way round cancel, so W per m² of track is even.
    double track = 0;
    std::vector<std::size_t> inside;
    for (std::size_t i = 0; i < rings; ++i) {
        const double a = modes.inner + width * static_cast<double>(i), e = a + width;
        const double part = std::max(0.0, std::min(e, band.track_outer_m / outer) - std::max(a, band.track_inner_m / outer)) * (a + e) / 2;
        if (part <= 0) continue;
        inside.push_back(i);
        track += part;
        for (std::size_t m = 0; m < ring_modes; ++m) out.heat[m] += part * modes.shape[i][m];
    }
    for (double& h : out.heat) h /= track;
    // Each ring loses by its face, less what the pad covers; the rim to the last.
    for (std::size_t m = 0; m < ring_modes; ++m) out.loss[m] = (rim * out.rim[m] - b.friction.area_m2 * out.heat[m]) / area;
    out.rim_share = rim / area;
    out.cover_share = b.friction.area_m2 / area;
    for (std::size_t i = 0; i < ring_places; ++i) out.at[i] = modes.shape[inside[(2 * i + 1) * inside.size() / (2 * ring_places)]];
    const double track_face = solid * 2 * pi * outer * outer * track, bend = ro.half_thickness_m / (3 * ro.conductivity_W_mK);
    out.surface_in = bend / track_face;
    out.surface_loss = bend / area * std::max(0.0, 1 - b.friction.area_m2 / track_face);
    return out;
}

}  // namespace bw::heat::engine
