// SPDX-License-Identifier: Apache-2.0
// Which vector code runs the switching filter, and the draws that it leaves to Eigen.                      Layer: ride
// Theory: docs/models/motion.md [EQ motion-9..12].
#include <Eigen/Dense>
#include <algorithm>
#include <cassert>

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

double switching_evidence(const Switching& shared, const Forces& own) {
    SwitchedPath path;
    switching::kernels().front().run(shared, {&own, 1}, nullptr, {&path, 1});
    return path.log_likelihood;
}

std::size_t paths_at_once() { return switching::kernels().front().lanes; }

void switched_paths(const Switching& shared, std::span<const Forces> own, std::uint64_t seed, std::uint64_t ride, std::span<const std::size_t> keys, std::span<SwitchedPath> out) {
    assert(!out.empty() && out.size() <= paths_at_once() && own.size() == out.size() && keys.size() == out.size());
    const switching::Draws draws{seed, ride, keys};
    switching::kernels().front().run(shared, own, &draws, out);
}

}  // namespace bw::ride::internal
