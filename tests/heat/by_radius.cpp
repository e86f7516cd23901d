// SPDX-License-Identifier: Apache-2.0
// Finite volumes around nodes that lie on faces and rims too; band Jacobian; CVODE, or implicit Euler with Newton.
#include "by_radius.hpp"

#include <cvode/cvode.h>
#include <nvector/nvector_serial.h>
#include <sunlinsol/sunlinsol_band.h>
#include <sunmatrix/sunmatrix_band.h>

#include <algorithm>
#include <boost/math/quadrature/gauss.hpp>
#include <cmath>
#include <numbers>
#include <stdexcept>

namespace bw::heat::test {

namespace {

constexpr double stefan_boltzmann = 5.670374419e-8, kelvin = 273.15;

double film_of(const Film& f, double speed_mps) { return f.a + f.b * std::pow(speed_mps, f.m); }

// Unknowns: hub, arms, then node (i, j) = radius i, height j (the last on the face) at 2 + i nz + j, then the heat lost so far in kJ.
struct Grid {
    const Annulus* a;
    int nr, nz;
    std::vector<double> radius = {};
    double dr = 0, dz = 0;
    std::vector<double> ring_area = {};            // of the control volume of radius i
    std::vector<double> open_area = {}, weight = {};    // not under the pad; share of the heat
    std::vector<double> height = {};               // of the control volume of height j
    double speed = 0, heat = 0;
    int n() const { return 3 + nr * nz; }
    int node(int i, int j) const { return 2 + i * nz + j; }
    int lost() const { return n() - 1; }
};

Grid grid_of(const Annulus& a, const AnnulusOptions& o) {
    Grid g{.a = &a, .nr = o.radial_cells + 1, .nz = o.thickness_cells + 1};
    g.dr = (a.outer_m - a.inner_m) / o.radial_cells;
    g.dz = a.half_thickness_m / o.thickness_cells;
    double total = 0;
    for (int i = 0; i < g.nr; ++i) {
        const double r = a.inner_m + i * g.dr, from = std::max(a.inner_m, r - g.dr / 2), to = std::min(a.outer_m, r + g.dr / 2);
        g.radius.push_back(r);
        g.ring_area.push_back(std::numbers::pi * (to * to - from * from));
        // The pad's edges may lie inside a control volume.
        const double p = std::max(from, a.pad_inner_m), q = std::min(to, a.pad_outer_m);
        double covered = 0, rubbed = 0;
        if (q > p) {
            using rule = boost::math::quadrature::gauss<double, 10>;
            covered = rule::integrate([&](double x) { return 2 * std::numbers::pi * x * a.coverage(x); }, p, q);
            rubbed = rule::integrate([&](double x) { return 2 * std::numbers::pi * x * x * a.coverage(x); }, p, q);
        }
        g.open_area.push_back(g.ring_area.back() - covered);
        g.weight.push_back(rubbed);
        total += rubbed;
    }
    for (double& w : g.weight) w = total > 0 ? w / total : 0;
    for (int j = 0; j < g.nz; ++j) g.height.push_back(j == 0 || j == g.nz - 1 ? g.dz / 2 : g.dz);
    return g;
}

// Visits every conductance and surface once: flow(i, j, W/K), loses(i, area, film, emissivity), born(i, W).
template <class Flow, class Loses, class Born>
void visit(const Grid& g, const double* y, Flow&& flow, Loses&& loses, Born&& born) {
    const Annulus& a = *g.a;
    const double face = film_of(a.face, g.speed), inner = film_of(a.inner_rim, g.speed), outer = film_of(a.outer_rim, g.speed);
    for (int i = 0; i < g.nr; ++i) {
        for (int j = 0; j < g.nz; ++j) {
            const int here = g.node(i, j);
            if (j + 1 < g.nz) flow(here, here + 1, value_at(a.conductivity_W_mK, (y[here] + y[here + 1]) / 2) * g.ring_area[i] / g.dz);
            if (i + 1 < g.nr) {
                const int next = g.node(i + 1, j);
                flow(here, next, value_at(a.conductivity_W_mK, (y[here] + y[next]) / 2) * 2 * std::numbers::pi * (g.radius[i] + g.dr / 2) * g.height[j] / g.dr);
            }
        }
        loses(g.node(i, g.nz - 1), g.open_area[i], face, a.emissivity);
        born(g.node(i, g.nz - 1), g.heat * g.weight[i]);
    }
    for (int j = 0; j < g.nz; ++j) {
        loses(g.node(0, j), 2 * std::numbers::pi * a.inner_m * g.height[j], inner, a.emissivity);
        loses(g.node(g.nr - 1, j), 2 * std::numbers::pi * a.outer_m * g.height[j], outer, a.emissivity);
        flow(g.node(0, j), 1, a.arms_W_K * g.height[j] / a.half_thickness_m);
    }
    flow(1, 0, a.arms_hub_W_K);
    loses(1, a.arms.area_m2, film_of(a.arms.film, g.speed), a.arms.emissivity);
    loses(0, a.hub.area_m2, film_of(a.hub.film, g.speed), a.hub.emissivity);
}

double capacity_of(const Grid& g, const double* y, int k) {
    const Annulus& a = *g.a;
    if (k == 0) return a.hub.heat_capacity_J_K;
    if (k == 1) return a.arms.heat_capacity_J_K;
    return a.density_kg_m3 * value_at(a.heat_capacity_J_kgK, y[k]) * g.ring_area[(k - 2) / g.nz] * g.height[(k - 2) % g.nz];
}

int rhs(sunrealtype, N_Vector y_, N_Vector f_, void* data) {
    const Grid& g = *static_cast<Grid*>(data);
    const double* y = N_VGetArrayPointer(y_);
    double* f = N_VGetArrayPointer(f_);
    std::fill(f, f + g.n(), 0.0);
    const double ta = g.a->ambient_degC, ta4 = std::pow(ta + kelvin, 4);
    double lost = 0;
    visit(g, y,
          [&](int i, int j, double c) {
              const double w = c * (y[i] - y[j]);
              f[i] -= w;
              f[j] += w;
          },
          [&](int i, double area, double h, double emissivity) {
              const double w = area * (h * (y[i] - ta) + emissivity * stefan_boltzmann * (std::pow(y[i] + kelvin, 4) - ta4));
              f[i] -= w;
              lost += w;
          },
          [&](int i, double w) { f[i] += w; });
    for (int k = 0; k + 1 < g.n(); ++k) f[k] /= capacity_of(g, y, k);
    f[g.lost()] = lost / 1000;
    return 0;
}

int jacobian(sunrealtype, N_Vector y_, N_Vector, SUNMatrix m, void* data, N_Vector, N_Vector, N_Vector) {
    const Grid& g = *static_cast<Grid*>(data);
    const double* y = N_VGetArrayPointer(y_);
    SUNMatZero(m);
    const auto add = [&](int i, int j, double c) { SM_ELEMENT_B(m, i, j) += c / capacity_of(g, y, i); };
    visit(g, y,
          [&](int i, int j, double c) {
              add(i, i, -c);
              add(j, j, -c);
              add(i, j, c);
              add(j, i, c);
          },
          [&](int i, double area, double h, double emissivity) { add(i, i, -area * (h + 4 * emissivity * stefan_boltzmann * std::pow(y[i] + kelvin, 3))); },
          [](int, double) {});
    return 0;
}

void must(int flag) {
    if (flag < 0) throw std::runtime_error("CVODE or its band solver failed");
}

}  // namespace

std::function<double(double)> sector_pad(double angle_rad) {
    return [=](double) { return angle_rad / (2 * std::numbers::pi); };
}
std::function<double(double)> straight_pad(double length_m) {
    return [=](double r) { return length_m / (2 * std::numbers::pi * r); };
}

AnnulusRun solve_by_radius(const Annulus& annulus, const std::vector<AnnulusInput>& rows, const AnnulusOptions& o) {
    Grid g = grid_of(annulus, o);
    SUNContext context;
    must(SUNContext_Create(nullptr, &context));
    N_Vector y = N_VNew_Serial(g.n(), context), f = N_VClone(y), step = N_VClone(y);
    double* v = N_VGetArrayPointer(y);
    std::fill(v, v + g.n(), annulus.start_degC);
    v[0] = annulus.hub.start_degC;
    v[1] = annulus.arms.start_degC;
    v[g.lost()] = 0;
    SUNMatrix m = SUNBandMatrix(g.n(), g.nz, g.nz, context);
    SUNLinearSolver ls = SUNLinSol_Band(y, m, context);
    void* cv = CVodeCreate(CV_BDF, context);
    must(CVodeInit(cv, rhs, rows.front().t_s, y));
    must(CVodeSStolerances(cv, o.relative, o.absolute_K));
    must(CVodeSetLinearSolver(cv, ls, m));
    must(CVodeSetJacFn(cv, jacobian));
    must(CVodeSetUserData(cv, &g));
    must(CVodeSetMaxNumSteps(cv, 200000));

    AnnulusRun run;
    run.radius_m = g.radius;
    const auto keep = [&](double t) {
        AnnulusRow r{.t_s = t, .hottest_degC = -1e9};
        double volume = 0;
        for (int i = 0; i < g.nr; ++i) {
            r.face_degC.push_back(v[g.node(i, g.nz - 1)]);
            r.mid_degC.push_back(v[g.node(i, 0)]);
            if (r.face_degC.back() > r.hottest_degC) {
                r.hottest_degC = r.face_degC.back();
                r.hottest_radius_m = g.radius[i];
            }
            for (int j = 0; j < g.nz; ++j) {
                r.mean_degC += g.ring_area[i] * g.height[j] * v[g.node(i, j)];
                volume += g.ring_area[i] * g.height[j];
            }
        }
        r.mean_degC /= volume;
        r.arms_degC = v[1];
        r.hub_degC = v[0];
        run.rows.push_back(std::move(r));
    };
    // One step of implicit Euler by Newton: (I - h J) d = -(y - y0 - h f(y)).
    const auto euler = [&](double h) {
        const std::vector<double> before(v, v + g.n());
        for (int k = 0;; ++k) {
            if (k == 20) throw std::runtime_error("Newton of the implicit Euler step does not converge");
            rhs(0, y, f, &g);
            jacobian(0, y, f, m, &g, nullptr, nullptr, nullptr);
            must(SUNMatScaleAddI(-h, m));
            must(SUNLinSolSetup(ls, m));
            const double* fv = N_VGetArrayPointer(f);
            double* d = N_VGetArrayPointer(step);
            for (int i = 0; i < g.n(); ++i) d[i] = before[i] + h * fv[i] - v[i];
            must(SUNLinSolSolve(ls, m, step, step, 0));
            double largest = 0;
            for (int i = 0; i < g.n(); ++i) {
                v[i] += d[i];
                largest = std::max(largest, std::abs(d[i]));
            }
            if (largest < 1e-9) return;
        }
    };
    keep(rows.front().t_s);
    for (std::size_t i = 0; i + 1 < rows.size(); ++i) {
        g.speed = rows[i].speed_mps;
        g.heat = rows[i].heat_W;
        const double from = rows[i].t_s, to = rows[i + 1].t_s;
        run.made_J += g.heat * (to - from);
        if (o.step_s > 0) {
            const int steps = std::max(1, static_cast<int>(std::ceil((to - from) / o.step_s - 1e-9)));
            for (int k = 0; k < steps; ++k) euler((to - from) / steps);
        } else {
            must(CVodeReInit(cv, from, y));
            must(CVodeSetStopTime(cv, to));
            double t = from;
            must(CVode(cv, to, y, &t, CV_NORMAL));
        }
        keep(to);
    }
    run.lost_J = 1000 * v[g.lost()];
    const bool constant = annulus.heat_capacity_J_kgK.size() == 1;
    run.stored_J = constant ? 0 : std::numeric_limits<double>::quiet_NaN();
    for (int k = 0; k + 1 < g.n() && constant; ++k) {
        const double start = k == 0 ? annulus.hub.start_degC : k == 1 ? annulus.arms.start_degC : annulus.start_degC;
        if (const double c = capacity_of(g, v, k); std::isfinite(c)) run.stored_J += c * (v[k] - start);
    }
    CVodeFree(&cv);
    SUNLinSolFree(ls);
    SUNMatDestroy(m);
    N_VDestroy(y);
    N_VDestroy(f);
    N_VDestroy(step);
    SUNContext_Free(&context);
    return run;
}

}  // namespace bw::heat::test
