// SPDX-License-Identifier: Apache-2.0
// The rotor in radius and thickness (by_radius.cpp) against closed forms: it judges the model, so it is judged first.
#include "by_radius.hpp"

#include <gtest/gtest.h>

#include <Eigen/Dense>
#include <boost/math/quadrature/gauss_kronrod.hpp>
#include <boost/math/special_functions/bessel.hpp>
#include <cmath>
#include <numbers>

#include "closed_forms.hpp"

namespace {

using namespace bw::heat::test;
using boost::math::cyl_bessel_i;
using boost::math::cyl_bessel_j;
using boost::math::cyl_bessel_k;
using boost::math::cyl_neumann;
constexpr double pi = std::numbers::pi;

constexpr double k = 24.9, rho = 7800, c = 460, half = 0.0009, inner = 0.066, outer = 0.080;

// A ring of 410 steel of 160 mm, alone: no losses, no arms, everything at nought.
Annulus bare() {
    Annulus a;
    a.inner_m = inner;
    a.outer_m = outer;
    a.half_thickness_m = half;
    a.density_kg_m3 = rho;
    a.conductivity_W_mK = {{0, k}};
    a.heat_capacity_J_kgK = {{0, c}};
    a.pad_inner_m = inner;
    a.pad_outer_m = outer;
    a.coverage = straight_pad(0.03);
    a.ambient_degC = a.start_degC = a.arms.start_degC = a.hub.start_degC = 0;
    return a;
}
double area(double from, double to) { return pi * (to * to - from * from); }
std::size_t index_of(const AnnulusRun& run, double radius) {
    std::size_t best = 0;
    for (std::size_t i = 0; i < run.radius_m.size(); ++i)
        if (std::abs(run.radius_m[i] - radius) < std::abs(run.radius_m[best] - radius)) best = i;
    return best;
}

TEST(ByRadiusClosedForm, AnEvenFluxGivesTheSlabSeriesAtEveryRadius) {
    const double q = 1e6;
    const auto series = [&](double t, double x) { return slab_rise_dK(q, k, rho * c, half, t, x); };
    const double heat = q * area(inner, outer);
    const auto run = solve_by_radius(bare(), {{0, 0, heat}, {0.05, 0, heat}, {0.2, 0, heat}, {1, 0, heat}}, {.radial_cells = 20, .thickness_cells = 16});
    for (const AnnulusRow& row : run.rows) {
        if (row.t_s == 0) continue;
        for (std::size_t i = 0; i < run.radius_m.size(); ++i) {
            // 0.3 K: half a cell of the thickness early on, where the profile is steepest
            EXPECT_NEAR(row.face_degC[i], series(row.t_s, 1), 0.3) << row.t_s << " s, radius " << i;
            EXPECT_NEAR(row.mid_degC[i], series(row.t_s, 0), 0.3) << row.t_s << " s, radius " << i;
        }
    }
    EXPECT_NEAR(run.rows.back().face_degC[3], 321.722, 0.02);   // late the profile is a parabola, which the nodes hold exactly
}

// Heat on part of the band: eigenfunctions of the insulated ring, roots of J1(l ri) Y1(l ro) = J1(l ro) Y1(l ri), by Boost.Math.
TEST(ByRadiusClosedForm, AFluxOnPartOfTheBandSpreadsAsTheBesselSeriesOfTheRing) {
    const double from = 0.071, to = 0.079, q = 4e5, alpha = k / (rho * c);
    const auto cross = [&](double l) { return cyl_bessel_j(1, l * inner) * cyl_neumann(1, l * outer) - cyl_bessel_j(1, l * outer) * cyl_neumann(1, l * inner); };
    std::vector<double> roots;
    for (double l = 20; roots.size() < 60; l += 10)
        if (cross(l) * cross(l + 10) < 0) {
            double a = l, b = l + 10;
            for (int i = 0; i < 60; ++i) (cross(a) * cross((a + b) / 2) <= 0 ? b : a) = (a + b) / 2;
            roots.push_back(a);
        }
    EXPECT_NEAR(roots[0], pi / (outer - inner), 5);   // none was missed
    EXPECT_NEAR(roots[59], 60 * pi / (outer - inner), 5);
    const auto shape = [&](double l, double r) { return cyl_bessel_j(0, l * r) * cyl_neumann(1, l * inner) - cyl_neumann(0, l * r) * cyl_bessel_j(1, l * inner); };
    const auto integral = [](auto&& f, double a, double b) { return boost::math::quadrature::gauss_kronrod<double, 31>::integrate(f, a, b, 8, 1e-10); };
    std::vector<double> factor;
    for (const double l : roots)
        factor.push_back(q / (rho * c * half) * integral([&](double r) { return shape(l, r) * r; }, from, to) / integral([&](double r) { return shape(l, r) * shape(l, r) * r; }, inner, outer));
    const auto exact = [&](double r, double t) {
        double sum = q / (rho * c * half) * t * area(from, to) / area(inner, outer);
        for (std::size_t n = 0; n < roots.size(); ++n) sum += factor[n] * (1 - std::exp(-alpha * roots[n] * roots[n] * t)) / (alpha * roots[n] * roots[n]) * shape(roots[n], r);
        return sum;
    };
    Annulus a = bare();
    a.pad_inner_m = from;
    a.pad_outer_m = to;
    const double heat = q * area(from, to);
    const auto run = solve_by_radius(a, {{0, 0, heat}, {1, 0, heat}, {3, 0, heat}, {12, 0, heat}}, {.radial_cells = 112});
    for (const AnnulusRow& row : run.rows) {
        if (row.t_s == 0) continue;
        for (const double r : {0.066, 0.068, 0.070, 0.072, 0.075, 0.078, 0.080}) {
            const std::size_t i = index_of(run, r);
            // Mean through the thickness of the settled parabola; near a step of the flux it is not one, so not there.
            const double mean = row.mid_degC[i] + (row.face_degC[i] - row.mid_degC[i]) / 3;
            EXPECT_NEAR(mean, exact(run.radius_m[i], row.t_s), 0.1) << row.t_s << " s, " << r << " m";
        }
    }
    EXPECT_GT(exact(0.075, 12) - exact(0.066, 12), 25) << "the ring must not be even, or nothing is checked";
}

// Insulated ring, sector pad over the whole face: all rises at one rate, over a profile that is a polynomial and a logarithm.
TEST(ByRadiusClosedForm, RubbingThatGrowsWithTheRadiusHeatsTheRimMoreByTheClosedForm) {
    Annulus a = bare();
    a.coverage = sector_pad(0.3);
    const double heat = 200, q0 = heat / (2 * pi * (std::pow(outer, 3) - std::pow(inner, 3)) / 3), rate = heat / (rho * c * half * area(inner, outer));
    const auto profile = [&](double r) {
        return rho * c * rate / (2 * k) * (r * r / 2 - inner * inner * std::log(r)) - q0 / (3 * k * half) * (r * r * r / 3 - std::pow(inner, 3) * std::log(r)) + q0 * r * half / (3 * k);
    };
    const auto run = solve_by_radius(a, {{0, 0, heat}, {60, 0, heat}}, {.radial_cells = 60});
    const AnnulusRow& end = run.rows.back();
    EXPECT_NEAR(end.face_degC.back() - end.face_degC.front(), profile(outer) - profile(inner), 0.01);
    EXPECT_GT(end.face_degC.back() - end.face_degC.front(), 1);
    EXPECT_NEAR(end.mean_degC, rate * 60, 1e-3);
}

// Steady fin: modified Bessel functions in three rings, matched in temperature and flow (thin: Biot number 1e-3).
TEST(ByRadiusClosedForm, ASteadyRingWithFilmAndAnArmsSinkIsTheAnnularFin) {
    const double from = 0.070, to = 0.079, q = 20e3, h = 45, h_outer = 80, arms_W_K = 0.4;
    Annulus a = bare();
    a.pad_inner_m = from;
    a.pad_outer_m = to;
    a.coverage = straight_pad(1e-9);   // covers nothing of the film
    a.face = {.a = h};
    a.outer_rim = {.a = h_outer};
    a.arms_W_K = arms_W_K;
    const double m = std::sqrt(h / (k * half)), hot = q / h, g_inner = arms_W_K / (2 * pi * inner * half);
    const auto i0 = [&](double r) { return cyl_bessel_i(0, m * r); };
    const auto k0 = [&](double r) { return cyl_bessel_k(0, m * r); };
    const auto di = [&](double r) { return m * cyl_bessel_i(1, m * r); };
    const auto dk = [&](double r) { return -m * cyl_bessel_k(1, m * r); };
    // T = A I0 + B K0 (+ q/h in the middle ring)
    Eigen::Matrix<double, 6, 6> e = Eigen::Matrix<double, 6, 6>::Zero();
    Eigen::Matrix<double, 6, 1> y = Eigen::Matrix<double, 6, 1>::Zero();
    e.row(0) << k * di(inner) - g_inner * i0(inner), k * dk(inner) - g_inner * k0(inner), 0, 0, 0, 0;
    e.row(1) << i0(from), k0(from), -i0(from), -k0(from), 0, 0;
    y(1) = hot;
    e.row(2) << di(from), dk(from), -di(from), -dk(from), 0, 0;
    e.row(3) << 0, 0, i0(to), k0(to), -i0(to), -k0(to);
    y(3) = -hot;
    e.row(4) << 0, 0, di(to), dk(to), -di(to), -dk(to);
    e.row(5) << 0, 0, 0, 0, k * di(outer) + h_outer * i0(outer), k * dk(outer) + h_outer * k0(outer);
    const Eigen::Matrix<double, 6, 1> x = e.fullPivLu().solve(y);
    const auto exact = [&](double r) {
        const int s = r <= from ? 0 : r <= to ? 2 : 4;
        return x(s) * i0(r) + x(s + 1) * k0(r) + (s == 2 ? hot : 0);
    };
    const double heat = q * area(from, to);
    const auto run = solve_by_radius(a, {{0, 0, heat}, {20000, 0, heat}}, {.radial_cells = 140});
    const AnnulusRow& end = run.rows.back();
    double spread = 0;
    for (std::size_t i = 0; i < run.radius_m.size(); ++i) {
        const double r = run.radius_m[i], mean = end.mid_degC[i] + (end.face_degC[i] - end.mid_degC[i]) / 3;
        // 0.5 K: near the pad's edge the flow is not radial within half a thickness (q L/(3k) = 0.24 K)
        EXPECT_NEAR(mean, exact(r), std::min(std::abs(r - from), std::abs(r - to)) < half ? 0.5 : 0.15) << r;
        spread = std::max(spread, std::abs(exact(r) - exact(inner)));
    }
    EXPECT_GT(spread, 30);
}

// A ring of one temperature cools by radiation alone; with surroundings at absolute zero T^-3 = T0^-3 + 3 e s A t/(m c).
TEST(ByRadiusClosedForm, AThinRingRadiatingIntoTheColdFollowsTheInverseCube) {
    Annulus a = bare();
    a.emissivity = 0.6;
    a.ambient_degC = -273.15;
    a.start_degC = 500;
    a.coverage = straight_pad(1e-12);
    a.conductivity_W_mK = {{0, 5000}};
    const double radiating = area(inner, outer) + 2 * pi * (inner + outer) * half, capacity = rho * c * half * area(inner, outer);
    const auto run = solve_by_radius(a, {{0, 0, 0}, {120, 0, 0}, {600, 0, 0}}, {.radial_cells = 20});
    for (const AnnulusRow& row : run.rows) {
        const double exact = std::pow(std::pow(773.15, -3) + 3 * 0.6 * 5.670374419e-8 * radiating * row.t_s / capacity, -1.0 / 3) - 273.15;
        EXPECT_NEAR(row.mean_degC, exact, 0.05) << row.t_s;
    }
}

// Conductivity and heat capacity that rise together: the Kirchhoff transform makes the slab series exact again.
TEST(ByRadiusClosedForm, PropertiesThatRiseTogetherGiveTheSlabSeriesInKirchhoffsVariable) {
    constexpr double q = 1e6, beta = 1e-3;
    Annulus a = bare();
    a.conductivity_W_mK = {{0, k}, {1000, k * (1 + 1000 * beta)}};
    a.heat_capacity_J_kgK = {{0, c}, {1000, c * (1 + 1000 * beta)}};
    const double heat = q * area(inner, outer);
    const auto run = solve_by_radius(a, {{0, 0, heat}, {0.2, 0, heat}, {1, 0, heat}, {2, 0, heat}}, {.radial_cells = 10, .thickness_cells = 16});
    for (const AnnulusRow& row : run.rows) {
        if (row.t_s == 0) continue;
        const auto exact = [&](double x) { return temperature_of_kirchhoff_degC(slab_rise_dK(q, k, rho * c, half, row.t_s, x), beta); };
        EXPECT_NEAR(row.face_degC[5], exact(1), 0.1) << row.t_s;
        EXPECT_NEAR(row.mid_degC[5], exact(0), 0.1) << row.t_s;
    }
    EXPECT_LT(run.rows.back().mean_degC, 0.9 * q * 2 / (rho * c * half)) << "properties that hardly vary check nothing";
}

Annulus with_everything() {
    Annulus a = bare();
    a.ambient_degC = a.start_degC = a.arms.start_degC = a.hub.start_degC = 20;
    a.pad_inner_m = 0.067;
    a.pad_outer_m = 0.079;
    a.coverage = sector_pad(0.35);
    a.emissivity = 0.3;
    a.face = a.inner_rim = a.outer_rim = {.a = 7, .b = 12, .m = 0.5};
    a.arms_W_K = 0.12;
    a.arms_hub_W_K = 0.4;
    a.arms = {.heat_capacity_J_K = 14, .area_m2 = 0.0055, .emissivity = 0.3, .film = {6, 12, 0.5}};
    a.hub = {.heat_capacity_J_K = 65, .area_m2 = 0.01, .film = {6, 13, 0.5}};
    return a;
}
std::vector<AnnulusInput> hard_stops(int stops) {
    std::vector<AnnulusInput> rows;
    for (int n = 0; n < stops; ++n)
        for (int i = 0; i < 100; ++i) rows.push_back({.t_s = 10.0 * n + 0.1 * i, .speed_mps = i < 20 ? 12 * (1 - (i + 0.5) / 20) : 6, .heat_W = i < 20 ? 1800 * (1 - (i + 0.5) / 20) : 0});
    rows.push_back({10.0 * stops, 0, 0});
    return rows;
}

TEST(ByRadiusIdentity, MadeIsStoredAndLost) {
    const auto run = solve_by_radius(with_everything(), hard_stops(1));
    EXPECT_GT(run.lost_J, 0.02 * run.made_J);
    EXPECT_NEAR(run.made_J, run.stored_J + run.lost_J, 1e-6 * run.made_J);
}

TEST(ByRadiusOrder, TwiceTheCellsMoveTheHottestRingByLessThanATenthOfAKelvin) {
    const auto a = solve_by_radius(with_everything(), hard_stops(1));
    const auto b = solve_by_radius(with_everything(), hard_stops(1), {.radial_cells = 160, .thickness_cells = 16});
    double worst = 0, hottest = 0;
    for (std::size_t i = 0; i < a.rows.size(); ++i) {
        worst = std::max(worst, std::abs(a.rows[i].hottest_degC - b.rows[i].hottest_degC));
        hottest = std::max(hottest, b.rows[i].hottest_degC);
    }
    std::printf("    hottest ring %.1f degC, twice the cells move it by at most %.3f K\n", hottest, worst);
    EXPECT_LT(worst, 0.1);
}

TEST(ByRadiusOrder, TheImplicitEulerStepsConvergeWithOrderOneToCvode) {
    const Annulus a = with_everything();
    const std::vector<AnnulusInput> rows = {{0, 6, 400}, {4, 6, 0}, {8, 6, 0}};
    const auto end = [&](double step) { return solve_by_radius(a, rows, {.radial_cells = 40, .step_s = step}).rows.back().hottest_degC; };
    const double exact = solve_by_radius(a, rows, {.radial_cells = 40, .relative = 1e-9}).rows.back().hottest_degC;
    const double e1 = end(0.2) - exact, e2 = end(0.1) - exact;
    EXPECT_NEAR(std::log2(e1 / e2), 1, 0.1);
}

TEST(ByRadiusIdentity, PropertiesThatVaryAreThoseOfTheTable) {
    Annulus constant = with_everything(), table = with_everything();
    table.conductivity_W_mK = {{0, k}, {800, k}};
    table.heat_capacity_J_kgK = {{0, c}, {800, c}};
    EXPECT_NEAR(solve_by_radius(table, hard_stops(1)).rows.back().hottest_degC, solve_by_radius(constant, hard_stops(1)).rows.back().hottest_degC, 1e-6);
    // An insulated ring without a gradient: the heat is the integral of c over temperature. c = 400 + T: 400 T + T^2/2 = Q/m.
    Annulus lump = bare();
    lump.conductivity_W_mK = {{0, 5000}};
    lump.heat_capacity_J_kgK = {{0, 400}, {800, 1200}};
    const double mass = rho * half * area(inner, outer), heat = 300, seconds = 50, per_kg = heat * seconds / mass;
    const auto run = solve_by_radius(lump, {{0, 0, heat}, {seconds, 0, 0}, {seconds + 20, 0, 0}}, {.radial_cells = 10, .thickness_cells = 4});
    EXPECT_NEAR(run.rows.back().mean_degC, -400 + std::sqrt(160000 + 2 * per_kg), 0.05);
}

}  // namespace
