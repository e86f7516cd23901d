// SPDX-License-Identifier: Apache-2.0
// Method of lines with nodes at the surfaces (linear elements, lumped mass), CVODE restarted at every change of input, band matrix.
#include "by_cvode.hpp"

#include <algorithm>
#include <cmath>
#include <numbers>

#include "banded_cvode.hpp"

namespace bw::heat::test {

namespace {

constexpr double sigma = 5.670374e-8;
constexpr int band = 4;   // widest coupling of neighbours in the order of the nodes, but for rotor to arms
double power_law(const Convection& c, double v) { return c.a + c.b * std::pow(v, c.m); }

struct Link {
    int i, j;
    double W_K;                          // where k is given: per W/(m K)
    const Property* k = nullptr;
    double at(const double* y) const { return k ? W_K * value_at(*k, (y[i] + y[j]) / 2) : W_K; }
};
struct Store {
    int i;
    double J_K;                          // per J/(kg K)
    const Property* c;
};
struct Surface {
    int i;
    double area_m2, emissivity;
    const Convection* convection;
};

// Nodes in order: rotor from mid to face, pad face to plate rear, then the five bodies. What does not depend on the inputs is
// gathered once; contact, source and film are set at every change of input.
struct Problem {
    const ReferenceBrake* b;
    int nr, nf, np;
    Varying varying = {};
    std::vector<Store> stores = {};
    std::vector<double> constant = {};   // J/K that do not vary
    std::vector<double> capacity = {};   // at the temperatures of the moment
    std::vector<Link> links = {};
    std::vector<Surface> surfaces = {};
    std::vector<double> film_W_K = {};   // of each surface, at the speed of the moment
    double source_W = 0, contact_W_K = 0;
    bool one_face = false;          // closed in perfect contact: the faces share their temperature
    int rotor_face() const { return nr - 1; }
    int pad_face() const { return nr; }
    int plate_front() const { return nr + nf - 1; }
    int plate_rear() const { return nr + nf + np - 2; }
    int piston() const { return plate_rear() + 1; }
    int fluid() const { return piston() + 1; }
    int caliper() const { return piston() + 2; }
    int arms() const { return piston() + 3; }
    int hub() const { return piston() + 4; }
    int n() const { return piston() + 5; }
    void update_capacity(const double* y) {
        for (const Store& s : stores) capacity[s.i] = constant[s.i];
        for (const Store& s : stores) capacity[s.i] += s.J_K * value_at(*s.c, y[s.i]);
    }
};

// p.varying must be complete; p must not move afterwards, since links and stores point into it.
void set_up(Problem& p) {
    const ReferenceBrake& b = *p.b;
    p.capacity.assign(static_cast<std::size_t>(p.n()), 0.0);
    const auto layer = [&](int first, int nodes, double thickness, double area, const Property& k, double rho, const Property& c) {
        const double d = thickness / (nodes - 1);
        for (int i = first; i + 1 < first + nodes; ++i) {
            p.stores.push_back({i, rho * area * d / 2, &c});
            p.stores.push_back({i + 1, rho * area * d / 2, &c});
            p.links.push_back({i, i + 1, area / d, &k});
        }
    };
    layer(0, p.nr, b.rotor.half_thickness_m, b.rotor.face_area_m2, p.varying.rotor_k, b.rotor.density_kg_m3, p.varying.rotor_c);
    layer(p.pad_face(), p.nf, b.friction.thickness_m, b.friction.area_m2, p.varying.friction_k, b.friction.density_kg_m3, p.varying.friction_c);
    layer(p.plate_front(), p.np, b.plate.thickness_m, b.plate.area_m2, p.varying.plate_k, b.plate.density_kg_m3, p.varying.plate_c);
    for (int i = 0; i < p.nr; ++i) p.links.push_back({i, p.arms(), b.links_W_K.rotor_arms * (i == 0 || i == p.nr - 1 ? 0.5 : 1.0) / (p.nr - 1)});
    const auto& l = b.links_W_K;
    p.links.insert(p.links.end(), {{p.plate_rear(), p.piston(), l.plate_piston}, {p.plate_rear(), p.caliper(), l.plate_caliper}, {p.piston(), p.fluid(), l.piston_fluid},
                                   {p.piston(), p.caliper(), l.piston_caliper}, {p.fluid(), p.caliper(), l.fluid_caliper}, {p.arms(), p.hub(), l.arms_hub}});
    p.capacity[p.piston()] = b.piston_J_K;
    p.capacity[p.fluid()] = b.fluid_J_K;
    p.surfaces.push_back({p.rotor_face(), b.rotor.face_area_m2 - b.friction.area_m2 + b.rotor.edge_area_m2, b.rotor.emissivity, &b.rotor.convection});
    for (const auto& [node, body] : {std::pair{p.caliper(), &b.caliper}, std::pair{p.arms(), &b.arms}, std::pair{p.hub(), &b.hub}}) {
        p.capacity[node] = body->heat_capacity_J_K;
        p.surfaces.push_back({node, body->area_m2, body->emissivity, &body->convection});
    }
    p.film_W_K.assign(p.surfaces.size(), 0.0);
    // What is constant is worked out once.
    const std::vector<double> any(static_cast<std::size_t>(p.n()), 0.0);
    for (const Store& s : p.stores)
        if (s.c->size() == 1) p.capacity[s.i] += s.J_K * s.c->front().second;
    p.constant = p.capacity;
    std::erase_if(p.stores, [](const Store& s) { return s.c->size() == 1; });
    for (Link& link : p.links)
        if (link.k && link.k->size() == 1) link = {link.i, link.j, link.at(any.data())};
}

int rhs(sunrealtype, N_Vector y_, N_Vector f_, void* data) {
    Problem& p = *static_cast<Problem*>(data);
    const double* y = N_VGetArrayPointer(y_);
    p.update_capacity(y);
    double* f = N_VGetArrayPointer(f_);
    std::fill(f, f + p.n(), 0.0);
    const auto flow = [&](int i, int j, double g) {
        const double w = g * (y[i] - y[j]);
        f[i] -= w;
        f[j] += w;
    };
    for (const Link& l : p.links) flow(l.i, l.j, l.at(y));
    const double ta = p.b->ambient_degC, ta4 = std::pow(ta + 273.15, 4);
    for (std::size_t s = 0; s < p.surfaces.size(); ++s) {
        const Surface& a = p.surfaces[s];
        f[a.i] -= p.film_W_K[s] * (y[a.i] - ta) + a.emissivity * sigma * a.area_m2 * (std::pow(y[a.i] + 273.15, 4) - ta4);
    }
    const int rf = p.rotor_face(), pf = p.pad_face();
    f[rf] += p.source_W / 2;
    f[pf] += p.source_W / 2;
    if (!p.one_face) flow(pf, rf, p.contact_W_K);
    const double both = f[rf] + f[pf];
    for (int i = 0; i < p.n(); ++i) f[i] /= p.capacity[i];
    if (p.one_face) f[rf] = f[pf] = both / (p.capacity[rf] + p.capacity[pf]);
    return 0;
}

// Within the band; the weak coupling of rotor and arms outside it is left out, which costs Newton nothing to speak of.
int jacobian(sunrealtype, N_Vector y_, N_Vector, SUNMatrix j_, void* data, N_Vector, N_Vector, N_Vector) {
    Problem& p = *static_cast<Problem*>(data);
    const double* y = N_VGetArrayPointer(y_);
    p.update_capacity(y);
    SUNMatZero(j_);
    const int rf = p.rotor_face(), pf = p.pad_face();
    const double shared = p.capacity[rf] + p.capacity[pf];
    // d(flow into i)/dT_j
    const auto add = [&](int i, int j, double g) {
        if (p.one_face && (i == rf || i == pf)) {
            SM_ELEMENT_B(j_, rf, j) += g / shared;
            SM_ELEMENT_B(j_, pf, j) += g / shared;
            return;
        }
        SM_ELEMENT_B(j_, i, j) += g / p.capacity[i];
    };
    const auto flow = [&](int i, int j, double g) {
        add(i, i, -g);
        add(j, j, -g);
        if (std::abs(i - j) >= band) return;
        add(i, j, g);
        add(j, i, g);
    };
    for (const Link& l : p.links) flow(l.i, l.j, l.at(y));
    for (std::size_t s = 0; s < p.surfaces.size(); ++s) {
        const Surface& a = p.surfaces[s];
        add(a.i, a.i, -p.film_W_K[s] - 4 * a.emissivity * sigma * a.area_m2 * std::pow(y[a.i] + 273.15, 3));
    }
    if (!p.one_face) flow(pf, rf, p.contact_W_K);
    return 0;
}

}  // namespace

std::vector<CvodeRow> solve_by_cvode(const ReferenceBrake& brake, const std::vector<PowerRow>& rows, int rotor_nodes, int pad_nodes, int plate_nodes) {
    return solve_by_cvode(brake, {}, rows, rotor_nodes, pad_nodes, plate_nodes);
}

std::vector<CvodeRow> solve_by_cvode(const ReferenceBrake& brake, const Varying& varying, const std::vector<PowerRow>& rows, int rotor_nodes, int pad_nodes, int plate_nodes) {
    Problem p{.b = &brake, .nr = rotor_nodes, .nf = pad_nodes, .np = plate_nodes, .varying = varying};
    const auto fill = [](Property& table, double constant) {
        if (table.empty()) table = {{0.0, constant}};
    };
    fill(p.varying.rotor_k, brake.rotor.conductivity_W_mK);
    fill(p.varying.rotor_c, brake.rotor.heat_capacity_J_kgK);
    fill(p.varying.friction_k, brake.friction.conductivity_W_mK);
    fill(p.varying.friction_c, brake.friction.heat_capacity_J_kgK);
    fill(p.varying.plate_k, brake.plate.conductivity_W_mK);
    fill(p.varying.plate_c, brake.plate.heat_capacity_J_kgK);
    set_up(p);
    BandedCvode cvode(p.n(), band, rhs, &p, rows.front().t_s, brake.start_degC, 1e-8, 1e-5, jacobian);
    double* v = cvode.state();
    std::vector<CvodeRow> out;
    const auto keep = [&] {
        double plate = 0;
        for (int i = p.plate_front(); i < p.plate_rear(); ++i) plate += (v[i] + v[i + 1]) / 2 / (p.np - 1);
        out.push_back({v[p.rotor_face()], v[0], v[p.pad_face()], plate, v[p.piston()], v[p.fluid()], v[p.caliper()], v[p.arms()], v[p.hub()]});
    };
    keep();
    for (std::size_t i = 0; i + 1 < rows.size(); ++i) {
        const double power_W = rows[i].power_W * brake.power_scale;
        const bool closed = power_W > brake.closed_above_W;
        p.source_W = closed ? power_W / 2 : 0;
        p.one_face = closed && std::isinf(brake.contact_W_m2K);
        p.contact_W_K = (closed ? (p.one_face ? 0 : brake.contact_W_m2K) : brake.gap_W_m2K) * brake.friction.area_m2;
        for (std::size_t s = 0; s < p.surfaces.size(); ++s) p.film_W_K[s] = power_law(*p.surfaces[s].convection, rows[i].speed_mps) * p.surfaces[s].area_m2;
        if (p.one_face) {   // faces meet: energy of the two half cells is kept
            const int rf = p.rotor_face(), pf = p.pad_face();
            p.update_capacity(v);
            v[rf] = v[pf] = (p.capacity[rf] * v[rf] + p.capacity[pf] * v[pf]) / (p.capacity[rf] + p.capacity[pf]);
        }
        cvode.restart(rows[i].t_s);
        cvode.run_to(rows[i + 1].t_s);
        keep();
    }
    return out;
}

std::vector<PowerRow> long_drag(int seconds) {
    std::vector<PowerRow> rows;
    for (int t = 0; t <= seconds; ++t) {
        // The road steepens and eases over six minutes, the hand breathes over fifteen seconds; let go for 4 s in every 300 s.
        const double v = 5 + 1.5 * std::sin(2 * std::numbers::pi * t / 360.0);
        const double power = 450 * (1 + 0.5 * std::sin(2 * std::numbers::pi * t / 360.0 + 1)) * (1 + 0.1 * std::sin(2 * std::numbers::pi * t / 15.0));
        rows.push_back({.t_s = double(t), .speed_mps = v, .power_W = t % 300 < 296 ? power : 0});
    }
    return rows;
}

std::vector<PowerRow> stop_and_go(int stops) {
    std::vector<PowerRow> rows;
    const auto add = [&](double v, double power) { rows.push_back({.t_s = double(rows.size()), .speed_mps = v, .power_W = power}); };
    for (int k = 0; k < stops; ++k) {
        const double top = 6 + k % 4;                       // 6..9 m/s
        const int gain = 12, cruise = 10 + 7 * (k % 5), brake = 3 + k % 3, stand = 5 + 11 * (k % 3);
        for (int i = 0; i < gain; ++i) add(top * (i + 0.5) / gain, 0);
        for (int i = 0; i < cruise; ++i) add(top, 0);
        // 0.65 of the energy of 95 kg at this wheel, power falling in a line with the speed
        for (int i = 0; i < brake; ++i) add(top * (1 - (i + 0.5) / brake), 0.65 * 0.5 * 95 * top * top / brake * 2 * (1 - (i + 0.5) / brake));
        for (int i = 0; i < stand; ++i) add(0, 0);
    }
    add(0, 0);
    return rows;
}

std::vector<PowerRow> hard_stops(int stops) {
    std::vector<PowerRow> rows;
    const auto add = [&](double t, double v, double power) { rows.push_back({.t_s = t, .speed_mps = v, .power_W = power}); };
    double t = 0;
    for (int k = 0; k < stops; ++k) {
        // 100 kg from 12 m/s in 2.5 s, 0.75 of it at this wheel: up to 4.2 kW; the last tenth of a second nearly stands
        for (int i = 0; i < 25; ++i) {
            const double v = 12 * (1 - (i + 0.5) / 25);
            add(t + 0.1 * i, v, 0.75 * 100 * (12 / 2.5) * v);
        }
        for (int i = 0; i < 75; ++i) add(t + 2.5 + 0.1 * i, 12 * (i + 0.5) / 75, 0);
        t += 10;
    }
    add(t, 0, 0);
    return rows;
}

std::vector<PowerRow> power_of_series(const std::string& csv, const std::string& wheel, std::size_t first, std::size_t count) {
    std::vector<PowerRow> rows;
    std::size_t speed = 0, power = 0, line_number = 0;
    for (std::size_t at = 0; at < csv.size();) {
        const std::size_t end = std::min(csv.find('\n', at), csv.size());
        std::vector<std::string> fields(1);
        for (std::size_t i = at; i < end; ++i)
            if (csv[i] == ',') fields.emplace_back();
            else fields.back() += csv[i];
        at = end + 1;
        if (line_number++ == 0) {
            for (std::size_t i = 0; i < fields.size(); ++i) {
                if (fields[i] == "speed_mps") speed = i;
                if (fields[i] == wheel + "_brake_power_W") power = i;
            }
            if (speed == 0 || power == 0) throw std::runtime_error("no speed or power column in the series");
            continue;
        }
        const std::size_t i = line_number - 2;
        if (i < first || rows.size() > count) continue;
        rows.push_back({.t_s = double(rows.size()), .speed_mps = std::max(0.0, std::stod(fields.at(speed))), .power_W = std::stod(fields.at(power))});
    }
    return rows;
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
