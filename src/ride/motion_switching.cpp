// SPDX-License-Identifier: Apache-2.0
// Which vector code runs the switching filter, and the draws that it leaves to Eigen.                      Layer: ride
// Theory: docs/models/motion.md [EQ motion-9..12].
#include <Eigen/Dense>
#include <algorithm>
#include <cassert>
#include <cmath>

#include "motion_parts.hpp"
#include "switching_kernel.hpp"

namespace bw::ride::internal {

void switching::gaussian_draw(const double* mean, const double* cov, const double* z, double* x) {
    using X = Eigen::Matrix<double, N, 1>;
    using P = Eigen::Matrix<double, N, N>;
    const P covariance = Eigen::Map<const P>(cov);
    const Eigen::LDLT<P> f(covariance);
    X y = f.vectorD().cwiseMax(0.0).cwiseSqrt().cwiseProduct(Eigen::Map<const X>(z));
    y = f.matrixL() * y;
    y = f.transpositionsP().transpose() * y;
    Eigen::Map<X>(x, N) = Eigen::Map<const X>(mean) + y;
}

bool switching::go_together(const Switching& a, const Switching& b) {
    const auto same_kind = [](const SwitchReading& x, const SwitchReading& y) { return x.kind == y.kind; };
    const auto both_known = [](double x, double y) { return std::isfinite(x) == std::isfinite(y); };
    return a.n == b.n && a.still == b.still && a.bridged == b.bridged && a.left_out == b.left_out && a.afresh == b.afresh && a.afresh_offset_s == b.afresh_offset_s &&
           a.distance_jump_var == b.distance_jump_var && a.height_jump_var == b.height_jump_var && a.towards_x == b.towards_x && a.towards_y == b.towards_y && a.e_assist == b.e_assist &&
           a.first == b.first && std::equal(a.readings.begin(), a.readings.end(), b.readings.begin(), b.readings.end(), same_kind) &&
           std::equal(a.meter_W.begin(), a.meter_W.end(), b.meter_W.begin(), b.meter_W.end(), both_known);
}

std::vector<double> switching_evidence(const Context& ctx, std::span<const Switching* const> ways, std::span<const Forces> own) {
    assert(ways.size() == own.size());
    std::vector<std::vector<std::size_t>> groups;
    for (std::size_t k = 0; k < ways.size(); ++k) {
        const auto fits = [&](const std::vector<std::size_t>& g) { return g.size() < paths_at_once() && switching::go_together(*ways[g.front()], *ways[k]); };
        const auto group = std::find_if(groups.begin(), groups.end(), fits);
        if (group != groups.end()) group->push_back(k);
        else groups.push_back({k});
    }
    std::vector<double> evidence(ways.size());
    parallel_for(ctx, groups.size(), [&](std::size_t g) {
        std::vector<const Switching*> of;
        std::vector<Forces> forces;
        for (const std::size_t k : groups[g]) {
            of.push_back(ways[k]);
            forces.push_back(own[k]);
        }
        std::vector<SwitchedPath> out(of.size());
        switching::kernels().front().run(of, forces, nullptr, out);
        for (std::size_t j = 0; j < of.size(); ++j) evidence[groups[g][j]] = out[j].log_likelihood;
    });
    return evidence;
}

std::size_t paths_at_once() { return switching::kernels().front().lanes; }

void switched_paths(const Switching& shared, std::span<const Forces> own, std::uint64_t seed, std::uint64_t ride, std::span<const std::size_t> keys, std::span<SwitchedPath> out) {
    assert(!out.empty() && out.size() <= paths_at_once() && own.size() == out.size() && keys.size() == out.size());
    const switching::Draws draws{seed, ride, keys};
    const Switching* const way = &shared;
    switching::kernels().front().run({&way, 1}, own, &draws, out);
    // What is no number somewhere counts for nothing, also where no reading tells it.
    for (SwitchedPath& p : out)
        if (!std::all_of(p.speed_mps.begin(), p.speed_mps.end(), [](double v) { return std::isfinite(v); })) p.log_likelihood = NAN;
}

}  // namespace bw::ride::internal
