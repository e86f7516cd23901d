// SPDX-License-Identifier: Apache-2.0
// Rise under the pad [EQ heat-15] against the equation of heat on a ring that turns under a source, by finite volumes.
#include <gtest/gtest.h>

#include <algorithm>
#include <cmath>
#include <cstddef>
#include <vector>

#include "heat/physics.hpp"

namespace bw::heat {
namespace {

// dT/dt = a (T_xx + T_zz) on a ring unrolled to `way` m and `half` m deep, insulated below; flux where the pad lies, which moves at `rubbing`.
// Explicit, cells of a millimetre along the way and geometric ones through the depth. Returns the hottest spot of the face less its mean over the ring,
// as the mean over the last turn: without losses, spots that the source met once more stand out by a whole pass behind the place where it began, and
// half of that over a turn. Written from that equation alone; numbers of its own.
struct TurningRing {
    double way = 0.5, half = 9e-4, pad = 0.025, rubbing = 6, flux = 1e6, k = 25, rc = 7800 * 470.0;
    int turns = 3;
    double rise_K() const {
        const std::size_t n = 500;
        const double dx = way / static_cast<double>(n), a = k / rc;
        std::vector<double> dz;
        for (double z = 0, d = 2.5e-5; z < half - 1e-12; d *= 1.25) {
            const double rest = half - z;
            dz.push_back(rest < 1.8 * d ? rest : d);
            z += dz.back();
        }
        const std::size_t m = dz.size();
        const double limit = 0.4 * dz[0] * dz[0] / a, turn = way / rubbing;
        const auto steps = static_cast<std::size_t>(std::ceil(turn / limit));
        const double dt = turn / static_cast<double>(steps);
        std::vector<double> t(n * m, 0.0), next(n * m), down(m, 0.0);   // down[j]: coefficient between j and j + 1
        for (std::size_t j = 0; j + 1 < m; ++j) down[j] = 2 * a / (dz[j] + dz[j + 1]);
        double sum = 0;
        for (std::size_t s = 0; s < steps * static_cast<std::size_t>(turns); ++s) {
            const double from = std::fmod(static_cast<double>(s) * dt * rubbing, way);
            double mean = 0, hottest = -1e300;
            for (std::size_t i = 0; i < n; ++i) {
                // Share of this cell under the pad, which may lie across the joint of the ring.
                const double left = dx * static_cast<double>(i);
                double covered = 0;
                for (const double shift : {0.0, -way}) covered += std::max(0.0, std::min(left + dx, from + shift + pad) - std::max(left, from + shift));
                const double in = flux * covered / dx;
                const double *c = &t[i * m], *w = &t[(i + n - 1) % n * m], *e = &t[(i + 1) % n * m];
                double* o = &next[i * m];
                for (std::size_t j = 0; j < m; ++j) {
                    double rate = a * (w[j] - 2 * c[j] + e[j]) / (dx * dx);
                    if (j > 0) rate += down[j - 1] * (c[j - 1] - c[j]) / dz[j];
                    if (j + 1 < m) rate += down[j] * (c[j + 1] - c[j]) / dz[j];
                    if (j == 0) rate += in / (rc * dz[0]);
                    o[j] = c[j] + dt * rate;
                }
                const double face = c[0] + in * dz[0] / 2 / k;
                mean += face / static_cast<double>(n);
                hottest = std::max(hottest, face);
            }
            if (s >= steps * static_cast<std::size_t>(turns - 1)) sum += (hottest - mean) / static_cast<double>(steps);
            t.swap(next);
        }
        return sum;
    }
    double ours_K() const {
        const double radius = way / (2 * 3.14159265358979), area = 3e-4;
        return ripple_dK({.power_W = 2 * flux * area, .speed_mps = rubbing, .wheel_radius_m = radius, .effective_radius_m = radius, .pad_area_m2 = area, .pad_length_m = pad,
                          .half_thickness_m = half, .conductivity_W_mK = k, .heat_capacity_J_m3K = rc});
    }
};

// 3 %: a millimetre of the way and of the leaving edge, 25 mm of pad, is 2 % of a rise that goes with the root of the way.
TEST(RippleReference, IsThatOfAFiniteVolumeRingUnderAMovingSourceWithinThreePercent) {
    for (const TurningRing& ring : {TurningRing{}, TurningRing{.half = 6e-4, .pad = 0.022, .rubbing = 2.5}, TurningRing{.half = 1.2e-3, .pad = 0.03, .rubbing = 3, .k = 18}}) {
        const double expected = ring.rise_K();
        EXPECT_NEAR(ring.ours_K(), expected, 0.03 * expected) << ring.half << " m, " << ring.rubbing << " m/s";
    }
}

TEST(RippleReference, OfAShortPadOnAThickRingIsJaegersMovingBand) {
    // 2 q sqrt(t)/(sqrt(pi) b) (Jaeger 1942, from memory; SOURCES 6.1 item 8), for a pad of a thousandth of the way: what the passes before leave is some 2 %.
    const TurningRing ring{.way = 30, .half = 0.02, .pad = 0.03, .rubbing = 3};
    const double jaeger = 2 * ring.flux * std::sqrt(ring.pad / ring.rubbing) / (std::sqrt(3.14159265358979) * std::sqrt(ring.k * ring.rc));
    EXPECT_NEAR(ring.ours_K(), jaeger, 0.03 * jaeger);
    EXPECT_LT(ring.ours_K(), jaeger);
}

TEST(RippleInvariant, GrowsWithPowerAndDwellAndVanishesWithoutPowerAndUnderAPadAllRound) {
    Ripple r{.power_W = 2000, .speed_mps = 12, .wheel_radius_m = 0.35, .effective_radius_m = 0.08, .pad_area_m2 = 3e-4, .pad_length_m = 0.022, .half_thickness_m = 9e-4,
             .conductivity_W_mK = 25, .heat_capacity_J_m3K = 3.7e6};
    const double at_12 = ripple_dK(r);
    r.power_W = 4000;
    EXPECT_NEAR(ripple_dK(r), 2 * at_12, 1e-9 * at_12);   // linear
    r.power_W = 2000, r.speed_mps = 6;
    EXPECT_GT(ripple_dK(r), at_12);
    r.pad_length_m = 2 * 3.14159265358979 * r.effective_radius_m;
    EXPECT_NEAR(ripple_dK(r), 0, 1e-9);
    r.power_W = 0;
    EXPECT_EQ(ripple_dK(r), 0);
    r.power_W = -300;
    EXPECT_EQ(ripple_dK(r), 0);
}

}  // namespace
}  // namespace bw::heat
