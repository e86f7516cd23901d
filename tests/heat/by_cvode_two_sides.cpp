// SPDX-License-Identifier: Apache-2.0
// Both sides of a brake on CVODE: nodes at the surfaces (linear elements, lumped mass) from the rear of one plate through the whole
// rotor to the rear of the other, restarted at every change of input, band matrix. Source: docs/models/heat.md [EQ heat-33], read as equations.
#include "by_cvode_two_sides.hpp"

#include <algorithm>
#include <cmath>

#include "banded_cvode.hpp"

namespace bw::heat::test {

namespace {

constexpr double sigma = 5.670374e-8;
constexpr int band = 5;

struct Half {   // one side, whatever its name in the brake
    ReferenceBrake::Layer friction, plate;
    double contact, gap, piston_J_K, fluid_J_K, plate_piston, plate_caliper, piston_fluid, piston_caliper, fluid_caliper;
};
struct Link { int i, j; double W_K; };
struct Surface { int i; double area_m2, emissivity; Convection film; };

struct Problem {
    const ReferenceBrake* b = nullptr;
    std::vector<double> capacity = {};
    std::vector<Link> links = {};
    std::vector<Surface> surfaces = {};
    std::vector<double> film_W_K = {};
    double source_W = 0;                 // of the whole brake
    double exchange_W_K[2] = {};
    int rotor_face[2] = {}, pad_face[2] = {}, piston[2] = {}, rear[2] = {}, front[2] = {};
    int middle = 0, caliper = 0, arms = 0, hub = 0, n = 0;
};

void layer(Problem& p, int first, int step, int nodes, double thickness, double area, double k, double rho, double c) {
    const double d = thickness / (nodes - 1);
    for (int q = 0; q + 1 < nodes; ++q) {
        const int i = first + step * q, j = i + step;
        p.capacity[i] += rho * c * area * d / 2;
        p.capacity[j] += rho * c * area * d / 2;
        p.links.push_back({i, j, k * area / d});
    }
}

void set_up(Problem& p, const ReferenceBrake& b, int rotor_nodes, int pad_nodes, int plate_nodes) {
    p.b = &b;
    const auto& o = *b.other;
    const auto& l = b.links_W_K;
    const auto& m = o.links_W_K;
    const Half sides[2] = {{b.friction, b.plate, b.contact_W_m2K, b.gap_W_m2K, b.piston_J_K, b.fluid_J_K, l.plate_piston, l.plate_caliper, l.piston_fluid, l.piston_caliper, l.fluid_caliper},
                           {o.friction, o.plate, o.contact_W_m2K, o.gap_W_m2K, o.piston_J_K, o.fluid_J_K, m.plate_piston, m.plate_caliper, m.piston_fluid, m.piston_caliper, m.fluid_caliper}};
    // Order: fluid, piston, plate rear .. plate front = pad back .. pad face, rotor face .. rotor face, pad face .. plate rear, piston, fluid, caliper, arms, hub.
    const int pad = pad_nodes + plate_nodes - 1;
    p.piston[0] = 1;
    p.rear[0] = 2;
    p.pad_face[0] = 2 + pad - 1;
    p.rotor_face[0] = p.pad_face[0] + 1;
    p.rotor_face[1] = p.rotor_face[0] + rotor_nodes - 1;
    p.pad_face[1] = p.rotor_face[1] + 1;
    p.rear[1] = p.pad_face[1] + pad - 1;
    p.piston[1] = p.rear[1] + 1;
    p.caliper = p.piston[1] + 2;
    p.arms = p.caliper + 1;
    p.hub = p.caliper + 2;
    p.n = p.caliper + 3;
    p.middle = (p.rotor_face[0] + p.rotor_face[1]) / 2;   // rotor_nodes is odd
    p.capacity.assign(static_cast<std::size_t>(p.n), 0.0);
    layer(p, p.rotor_face[0], 1, rotor_nodes, 2 * b.rotor.half_thickness_m, b.rotor.face_area_m2, b.rotor.conductivity_W_mK, b.rotor.density_kg_m3, b.rotor.heat_capacity_J_kgK);
    for (int i = p.rotor_face[0]; i <= p.rotor_face[1]; ++i)
        p.links.push_back({i, p.arms, 2 * l.rotor_arms * (i == p.rotor_face[0] || i == p.rotor_face[1] ? 0.5 : 1.0) / (rotor_nodes - 1)});
    for (const int side : {0, 1}) {
        const Half& h = sides[side];
        const int inward = side == 0 ? -1 : 1, fluid = p.piston[side] + inward;
        layer(p, p.pad_face[side], inward, pad_nodes, h.friction.thickness_m, h.friction.area_m2, h.friction.conductivity_W_mK, h.friction.density_kg_m3, h.friction.heat_capacity_J_kgK);
        p.front[side] = p.pad_face[side] + inward * (pad_nodes - 1);
        layer(p, p.front[side], inward, plate_nodes, h.plate.thickness_m, h.plate.area_m2, h.plate.conductivity_W_mK, h.plate.density_kg_m3, h.plate.heat_capacity_J_kgK);
        p.capacity[p.piston[side]] = h.piston_J_K;
        p.capacity[fluid] = h.fluid_J_K;
        p.links.insert(p.links.end(), {{p.rear[side], p.piston[side], h.plate_piston}, {p.rear[side], p.caliper, h.plate_caliper}, {p.piston[side], fluid, h.piston_fluid},
                                       {p.piston[side], p.caliper, h.piston_caliper}, {fluid, p.caliper, h.fluid_caliper}});
        p.surfaces.push_back({p.rotor_face[side], b.rotor.face_area_m2 - h.friction.area_m2 + b.rotor.edge_area_m2, b.rotor.emissivity, b.rotor.convection});
    }
    p.links.push_back({p.arms, p.hub, 2 * l.arms_hub});
    for (const auto& [node, body] : {std::pair{p.caliper, &b.caliper}, std::pair{p.arms, &b.arms}, std::pair{p.hub, &b.hub}}) {
        p.capacity[node] = 2 * body->heat_capacity_J_K;
        p.surfaces.push_back({node, 2 * body->area_m2, body->emissivity, body->convection});
    }
    p.film_W_K.assign(p.surfaces.size(), 0.0);
}

int rhs(sunrealtype, N_Vector y_, N_Vector f_, void* data) {
    const Problem& p = *static_cast<Problem*>(data);
    const double* y = N_VGetArrayPointer(y_);
    double* f = N_VGetArrayPointer(f_);
    std::fill(f, f + p.n, 0.0);
    const auto flow = [&](int i, int j, double g) {
        const double w = g * (y[i] - y[j]);
        f[i] -= w;
        f[j] += w;
    };
    for (const Link& l : p.links) flow(l.i, l.j, l.W_K);
    const double ta = p.b->ambient_degC, ta4 = std::pow(ta + 273.15, 4);
    for (std::size_t s = 0; s < p.surfaces.size(); ++s) {
        const Surface& a = p.surfaces[s];
        f[a.i] -= p.film_W_K[s] * (y[a.i] - ta) + a.emissivity * sigma * a.area_m2 * (std::pow(y[a.i] + 273.15, 4) - ta4);
    }
    for (const int side : {0, 1}) {
        f[p.rotor_face[side]] += p.source_W / 4;
        f[p.pad_face[side]] += p.source_W / 4;
        flow(p.pad_face[side], p.rotor_face[side], p.exchange_W_K[side]);
    }
    for (int i = 0; i < p.n; ++i) f[i] /= p.capacity[i];
    return 0;
}

// Within the band; the weak links outside it (arms, caliper to the far side) are left out, which costs Newton little.
int jacobian(sunrealtype, N_Vector y_, N_Vector, SUNMatrix j_, void* data, N_Vector, N_Vector, N_Vector) {
    const Problem& p = *static_cast<Problem*>(data);
    const double* y = N_VGetArrayPointer(y_);
    SUNMatZero(j_);
    const auto flow = [&](int i, int j, double g) {
        SM_ELEMENT_B(j_, i, i) -= g / p.capacity[i];
        SM_ELEMENT_B(j_, j, j) -= g / p.capacity[j];
        if (std::abs(i - j) > band) return;
        SM_ELEMENT_B(j_, i, j) += g / p.capacity[i];
        SM_ELEMENT_B(j_, j, i) += g / p.capacity[j];
    };
    for (const Link& l : p.links) flow(l.i, l.j, l.W_K);
    for (const int side : {0, 1}) flow(p.pad_face[side], p.rotor_face[side], p.exchange_W_K[side]);
    for (std::size_t s = 0; s < p.surfaces.size(); ++s) {
        const Surface& a = p.surfaces[s];
        SM_ELEMENT_B(j_, a.i, a.i) -= (p.film_W_K[s] + 4 * a.emissivity * sigma * a.area_m2 * std::pow(y[a.i] + 273.15, 3)) / p.capacity[a.i];
    }
    return 0;
}

}  // namespace

std::vector<CvodeRow> two_sides_by_cvode(const ReferenceBrake& brake, const std::vector<PowerRow>& rows, int rotor_nodes, int pad_nodes, int plate_nodes) {
    Problem p;
    set_up(p, brake, rotor_nodes, pad_nodes, plate_nodes);
    BandedCvode cvode(p.n, band, rhs, &p, rows.front().t_s, brake.start_degC, 1e-7, 1e-5, jacobian);
    const double* v = cvode.state();
    std::vector<CvodeRow> out;
    const auto keep = [&] {
        CvodeRow r;
        for (const int side : {0, 1}) {
            const int inward = side == 0 ? -1 : 1;
            double plate = 0;
            int nodes = 0;
            for (int i = p.front[side]; i != p.rear[side]; i += inward, ++nodes) plate += (v[i] + v[i + inward]) / 2;
            for (const double x : {v[p.rotor_face[side]], v[p.pad_face[side]], plate / nodes, v[p.piston[side]], v[p.piston[side] + inward]}) r.push_back(x);
        }
        for (const int i : {p.middle, p.caliper, p.arms, p.hub}) r.push_back(v[i]);
        out.push_back(r);
    };
    keep();
    for (std::size_t i = 0; i + 1 < rows.size(); ++i) {
        const double power_W = rows[i].power_W * brake.power_scale;
        const bool closed = power_W > brake.closed_above_W;
        p.source_W = closed ? power_W : 0;
        p.exchange_W_K[0] = (closed ? brake.contact_W_m2K : brake.gap_W_m2K) * brake.friction.area_m2;
        p.exchange_W_K[1] = (closed ? brake.other->contact_W_m2K : brake.other->gap_W_m2K) * brake.other->friction.area_m2;
        for (std::size_t s = 0; s < p.surfaces.size(); ++s) {
            const Convection& c = p.surfaces[s].film;
            p.film_W_K[s] = (c.a + c.b * std::pow(rows[i].speed_mps, c.m)) * p.surfaces[s].area_m2;
        }
        cvode.restart(rows[i].t_s);
        cvode.run_to(rows[i + 1].t_s);
        keep();
    }
    return out;
}

}  // namespace bw::heat::test
