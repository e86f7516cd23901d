// SPDX-License-Identifier: Apache-2.0
// Method of lines with nodes at the surfaces (linear elements, lumped mass), CVODE restarted at every change of input.
#include "by_cvode.hpp"

#include <cvode/cvode.h>
#include <nvector/nvector_serial.h>
#include <sunlinsol/sunlinsol_dense.h>
#include <sunmatrix/sunmatrix_dense.h>

#include <cmath>
#include <stdexcept>

namespace bw::heat::test {

namespace {

struct Problem {
    const ReferenceBrake* b;
    int nr, nf, np;                   // nodes: rotor 0 = mid .. nr-1 = face; friction; plate (its first shares the last friction node)
    double v = 0, power = 0;
    bool closed = false;
    int pad() const { return nr; }
    int plate_end() const { return nr + nf + np - 2; }   // rear node of the plate
    int piston() const { return plate_end() + 1; }
    int n() const { return piston() + 5; }               // piston, fluid, caliper, arms, hub
};

double power_law(const Convection& c, double v) { return c.a + c.b * std::pow(v, c.m); }
double fourth(double degC) { return std::pow(degC + 273.15, 4); }
constexpr double sigma = 5.670374e-8;

int rhs(sunrealtype, N_Vector y_, N_Vector f_, void* data) {
    const Problem& p = *static_cast<Problem*>(data);
    const ReferenceBrake& b = *p.b;
    const double* y = N_VGetArrayPointer(y_);
    double* f = N_VGetArrayPointer(f_);
    std::vector<double> q(static_cast<std::size_t>(p.n()), 0.0), m(q);
    const double ta = b.ambient_degC;
    // rotor
    const double dx = b.rotor.half_thickness_m / (p.nr - 1);
    const int arms = p.piston() + 3, hub = arms + 1, cal = arms - 1, fluid = arms - 2, piston = arms - 3;
    for (int i = 0; i < p.nr; ++i) {
        const double share = (i == 0 || i == p.nr - 1 ? 0.5 : 1.0) / (p.nr - 1);
        m[i] = b.rotor.density_kg_m3 * b.rotor.heat_capacity_J_kgK * b.rotor.face_area_m2 * b.rotor.half_thickness_m * share;
        const double to = b.links_W_K.rotor_arms * share * (y[i] - y[arms]);
        q[i] -= to;
        q[arms] += to;
        if (i + 1 < p.nr) {
            const double w = b.rotor.conductivity_W_mK * b.rotor.face_area_m2 * (y[i + 1] - y[i]) / dx;
            q[i] += w;
            q[i + 1] -= w;
        }
    }
    // pad and plate
    const auto layer = [&](int first, int nodes, const ReferenceBrake::Layer& l) {
        const double d = l.thickness_m / (nodes - 1);
        for (int i = 0; i + 1 < nodes; ++i) {
            const double half = l.density_kg_m3 * l.heat_capacity_J_kgK * l.area_m2 * d / 2;
            m[first + i] += half;
            m[first + i + 1] += half;
            const double w = l.conductivity_W_mK * l.area_m2 * (y[first + i + 1] - y[first + i]) / d;
            q[first + i] += w;
            q[first + i + 1] -= w;
        }
    };
    layer(p.pad(), p.nf, b.friction);
    layer(p.pad() + p.nf - 1, p.np, b.plate);
    // contact
    const int rf = p.nr - 1, pf = p.pad();
    const double area = b.rotor.face_area_m2 - b.friction.area_m2 + b.rotor.edge_area_m2;
    q[rf] -= power_law(b.rotor.convection, p.v) * area * (y[rf] - ta) + b.rotor.emissivity * sigma * area * (fourth(y[rf]) - fourth(ta));
    const bool perfect = p.closed && std::isinf(b.contact_W_m2K);
    if (p.closed) {
        q[rf] += p.power / 4;
        q[pf] += p.power / 4;
    }
    if (!perfect) {
        const double w = (p.closed ? b.contact_W_m2K : b.gap_W_m2K) * b.friction.area_m2 * (y[pf] - y[rf]);
        q[rf] += w;
        q[pf] -= w;
    }
    // lumps
    const auto link = [&](double g, int i, int j) { const double w = g * (y[i] - y[j]); q[i] -= w; q[j] += w; };
    const auto& l = b.links_W_K;
    link(l.plate_piston, p.plate_end(), piston);
    link(l.plate_caliper, p.plate_end(), cal);
    link(l.piston_fluid, piston, fluid);
    link(l.piston_caliper, piston, cal);
    link(l.fluid_caliper, fluid, cal);
    link(l.arms_hub, arms, hub);
    const auto loses = [&](int i, const ReferenceBrake::Body& o) {
        q[i] -= power_law(o.convection, p.v) * o.area_m2 * (y[i] - ta) + o.emissivity * sigma * o.area_m2 * (fourth(y[i]) - fourth(ta));
        m[i] = o.heat_capacity_J_K;
    };
    loses(cal, b.caliper);
    loses(arms, b.arms);
    loses(hub, b.hub);
    m[piston] = b.piston_J_K;
    m[fluid] = b.fluid_J_K;
    for (int i = 0; i < p.n(); ++i) f[i] = q[i] / m[i];
    if (perfect) f[rf] = f[pf] = (q[rf] + q[pf]) / (m[rf] + m[pf]);
    return 0;
}

void must(int flag) {
    if (flag < 0) throw std::runtime_error("CVODE failed");
}

}  // namespace

std::vector<CvodeRow> solve_by_cvode(const ReferenceBrake& brake, const std::vector<PowerRow>& rows, int rotor_nodes, int pad_nodes, int plate_nodes) {
    Problem p{.b = &brake, .nr = rotor_nodes, .nf = pad_nodes, .np = plate_nodes};
    SUNContext context;
    must(SUNContext_Create(nullptr, &context));
    N_Vector y = N_VNew_Serial(p.n(), context);
    double* v = N_VGetArrayPointer(y);
    for (int i = 0; i < p.n(); ++i) v[i] = brake.start_degC;
    SUNMatrix a = SUNDenseMatrix(p.n(), p.n(), context);
    SUNLinearSolver ls = SUNLinSol_Dense(y, a, context);
    void* cv = CVodeCreate(CV_BDF, context);
    must(CVodeInit(cv, rhs, rows.front().t_s, y));
    must(CVodeSStolerances(cv, 1e-8, 1e-5));
    must(CVodeSetLinearSolver(cv, ls, a));
    must(CVodeSetUserData(cv, &p));
    must(CVodeSetMaxNumSteps(cv, 100000));
    std::vector<CvodeRow> out;
    const auto keep = [&] {
        const int plate0 = p.pad() + p.nf - 1;
        double plate = 0;
        for (int i = 0; i + 1 < p.np; ++i) plate += (v[plate0 + i] + v[plate0 + i + 1]) / 2 / (p.np - 1);
        const int k = p.piston();
        out.push_back({v[p.nr - 1], v[0], v[p.pad()], plate, v[k], v[k + 1], v[k + 2], v[k + 3], v[k + 4]});
    };
    keep();
    for (std::size_t i = 0; i + 1 < rows.size(); ++i) {
        p.v = rows[i].speed_mps;
        p.power = rows[i].power_W * brake.power_scale;
        p.closed = p.power > brake.closed_above_W;
        if (p.closed && std::isinf(brake.contact_W_m2K)) {   // faces meet: energy of the two half cells is kept
            const double mr = brake.rotor.density_kg_m3 * brake.rotor.heat_capacity_J_kgK * brake.rotor.face_area_m2 * brake.rotor.half_thickness_m / (p.nr - 1) / 2;
            const double mp = brake.friction.density_kg_m3 * brake.friction.heat_capacity_J_kgK * brake.friction.area_m2 * brake.friction.thickness_m / (p.nf - 1) / 2;
            v[p.nr - 1] = v[p.pad()] = (mr * v[p.nr - 1] + mp * v[p.pad()]) / (mr + mp);
        }
        must(CVodeReInit(cv, rows[i].t_s, y));
        must(CVodeSetStopTime(cv, rows[i + 1].t_s));
        double t = rows[i].t_s;
        must(CVode(cv, rows[i + 1].t_s, y, &t, CV_NORMAL));
        keep();
    }
    CVodeFree(&cv);
    SUNLinSolFree(ls);
    SUNMatDestroy(a);
    N_VDestroy(y);
    SUNContext_Free(&context);
    return out;
}

std::vector<PowerRow> rough_ride(int seconds, unsigned seed) {
    unsigned state = seed;
    const auto uniform = [&] { state = state * 1664525U + 1013904223U; return (state >> 8) / 16777216.0; };
    std::vector<PowerRow> rows;
    bool on = false;
    int left = 0;
    double base = 0, v = 9;
    for (int t = 0; t <= seconds; ++t) {
        if (left-- <= 0) {
            on = !on;
            left = static_cast<int>(1 + uniform() * (on ? 11 : 17));
            base = on ? 150 + 2500 * uniform() * uniform() : 0;
        }
        v = std::fmin(15, std::fmax(0, v + uniform() - 0.5));
        rows.push_back({.t_s = static_cast<double>(t), .speed_mps = v, .power_W = on ? base * (0.7 + 0.6 * uniform()) : 0});
    }
    return rows;
}

ReferenceBrake ordinary_brake() {
    ReferenceBrake b;
    b.rotor = {.face_area_m2 = 0.0050, .edge_area_m2 = 0.0016, .half_thickness_m = 0.0009, .conductivity_W_mK = 25, .density_kg_m3 = 7800,
               .heat_capacity_J_kgK = 470, .emissivity = 0.3, .convection = {6, 12, 0.5}};
    b.friction = {.area_m2 = 3.6e-4, .thickness_m = 0.0018, .conductivity_W_mK = 1.0, .density_kg_m3 = 2250, .heat_capacity_J_kgK = 1075};
    b.plate = {.area_m2 = 4.8e-4, .thickness_m = 0.0019, .conductivity_W_mK = 50, .density_kg_m3 = 7850, .heat_capacity_J_kgK = 490};
    b.contact_W_m2K = std::numeric_limits<double>::infinity();
    b.gap_W_m2K = 110;
    b.piston_J_K = 7;
    b.fluid_J_K = 5;
    b.caliper = {.heat_capacity_J_K = 48, .area_m2 = 0.0065, .emissivity = 0.75, .convection = {6, 14, 0.5}};
    b.arms = {.heat_capacity_J_K = 14, .area_m2 = 0.0055, .emissivity = 0.3, .convection = {6, 12, 0.5}};
    b.hub = {.heat_capacity_J_K = 65, .area_m2 = 0.01, .emissivity = 0, .convection = {6, 13, 0.5}};
    b.links_W_K = {.plate_piston = 0.07, .plate_caliper = 0.08, .piston_fluid = 0.06, .piston_caliper = 0.06, .fluid_caliper = 0.1,
                   .rotor_arms = 0.12, .arms_hub = 0.4};
    return b;
}

}  // namespace bw::heat::test
