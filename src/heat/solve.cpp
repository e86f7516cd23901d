// SPDX-License-Identifier: Apache-2.0
// Solver of the reference form: finite volumes through the thickness, TR-BDF2 in time.                    Layer: heat
// Theory: docs/models/heat.md, "The reference form" and "The solver".
//
// Structure that makes a step cheap. The cells of the rotor see only the rotor's face and the arms; the cells of the pad
// only the pad's face and what lies behind the plate. Their tridiagonal matrices depend on the length of the step alone, so
// their factors and influence vectors are kept per step length. What remains is a path of five nodes
//     hub - arms - rotor face - pad face - caliper
// (piston and fluid are eliminated per step length); contact, losses and the Newton iteration for radiation live there.
#include <algorithm>
#include <cassert>
#include <cmath>
#include <cstdint>
#include <memory>
#include <optional>

#include <fmt/format.h>

#include "heat/reference.hpp"
#include "stepping.hpp"

namespace bw::heat {

namespace {

using namespace stepping;

enum Core { HUB, ARMS, RFACE, PFACE, CALIPER, core_n };
enum Lump { L_HUB, L_ARMS, L_CALIPER, L_PISTON, L_FLUID, lump_n };

// The brake in space: [EQ heat-1], [EQ heat-3], [EQ heat-6].
struct Network {
    std::size_t nr = 0, np = 0, nf = 0;         // rotor cells, pad cells, friction cells among them
    std::vector<double> capacity;               // rotor (mid to face), pad (face to rear), lumps
    std::vector<double> rotor_link, pad_link;   // between neighbours [W/K]
    std::vector<double> arms_link;              // rotor cell to arms
    std::vector<double> volume;                 // shares: rotor cells sum to 1, friction cells to 1, plate cells to 1
    double joint_friction = 0;                  // resistance of the friction layer's half cell at the joint [K/W]
    double rotor_face = 0, pad_face = 0;        // half cell to face
    double plate_piston = 0, plate_caliper = 0; // last plate cell to piston, caliper (rear face eliminated)
    double piston_caliper = 0, piston_fluid = 0, fluid_caliper = 0, arms_hub = 0, rotor_arms = 0;
    double mid_0 = 1, mid_1 = 0;                // mid-plane = mid_0·T0 + mid_1·T1
    double loss_area = 0, friction_area = 0;
    std::array<double, core_n> radiation{};     // εσA
    bool radiates = false;
    std::size_t n() const { return nr + np + lump_n; }
    std::size_t lump(Lump l) const { return nr + np + l; }
};

Network build(const ReferenceBrake& b, int refinement) {
    Network net;
    const auto& ro = b.rotor;
    const double rotor_rc = ro.density_kg_m3 * ro.heat_capacity_J_kgK;
    std::vector<double> widths = graded(ro.half_thickness_m, ro.conductivity_W_mK / rotor_rc, 0.05, 0.03, 1.07, refinement);
    std::reverse(widths.begin(), widths.end());
    net.nr = widths.size();
    std::vector<double> edge{0};
    for (const double w : widths) edge.push_back(edge.back() + w);
    edge.back() = ro.half_thickness_m;
    const double kA = ro.conductivity_W_mK * ro.face_area_m2;
    for (std::size_t i = 0; i < net.nr; ++i) {
        const double a = edge[i], e = edge[i + 1];
        net.capacity.push_back(rotor_rc * ro.face_area_m2 * (e - a));
        net.volume.push_back((e - a) / ro.half_thickness_m);
        net.arms_link.push_back(b.links_W_K.rotor_arms * net.volume.back());
        if (i + 1 < net.nr) {
            // Exact for a parabola about the mid-plane, the profile that a heated slab settles to [EQ heat-2].
            const double c = edge[i + 2];
            net.rotor_link.push_back(kA * 6 * e / ((c - a) * (a + e + c)));
        } else {
            net.rotor_face = kA * 6 * e / ((e - a) * (2 * e + a));
        }
    }
    {   // parabola through the means of the first two cells, taken at the mid-plane
        const double q0 = edge[1] * edge[1] / 3, q1 = (edge[1] * edge[1] + edge[1] * edge[2] + edge[2] * edge[2]) / 3;
        net.mid_0 = q1 / (q1 - q0);
        net.mid_1 = -q0 / (q1 - q0);
    }

    const auto layer = [&](const ReferenceBrake::Layer& l, const std::vector<double>& w) {
        for (const double x : w) {
            net.capacity.push_back(l.density_kg_m3 * l.heat_capacity_J_kgK * l.area_m2 * x);
            net.volume.push_back(x / l.thickness_m);
        }
    };
    const auto& fr = b.friction;
    const auto& pl = b.plate;
    const std::vector<double> fw = graded(fr.thickness_m, fr.conductivity_W_mK / (fr.density_kg_m3 * fr.heat_capacity_J_kgK),
                                          0.2, 0.03, 1.05, refinement);
    const std::vector<double> pw(static_cast<std::size_t>(4 * refinement), pl.thickness_m / (4 * refinement));
    layer(fr, fw);
    layer(pl, pw);
    net.nf = fw.size();
    net.np = fw.size() + pw.size();
    const double kf = fr.conductivity_W_mK * fr.area_m2, kp = pl.conductivity_W_mK * pl.area_m2;
    net.pad_face = kf / (fw.front() / 2);
    for (std::size_t i = 0; i + 1 < fw.size(); ++i) net.pad_link.push_back(kf / ((fw[i] + fw[i + 1]) / 2));
    net.joint_friction = fw.back() / 2 / kf;
    net.pad_link.push_back(1 / (fw.back() / 2 / kf + pw.front() / 2 / kp));   // flow continuous though areas differ
    for (std::size_t i = 0; i + 1 < pw.size(); ++i) net.pad_link.push_back(kp / ((pw[i] + pw[i + 1]) / 2));
    // The rear face carries no heat capacity: star of three links to triangle, exact.
    const auto& li = b.links_W_K;
    const double half = kp / (pw.back() / 2), star = half + li.plate_piston + li.plate_caliper;
    net.plate_piston = half * li.plate_piston / star;
    net.plate_caliper = half * li.plate_caliper / star;
    net.piston_caliper = li.piston_caliper + li.plate_piston * li.plate_caliper / star;
    net.piston_fluid = li.piston_fluid;
    net.fluid_caliper = li.fluid_caliper;
    net.arms_hub = li.arms_hub;
    net.rotor_arms = li.rotor_arms;
    net.capacity.insert(net.capacity.end(),
                        {b.hub.heat_capacity_J_K, b.arms.heat_capacity_J_K, b.caliper.heat_capacity_J_K, b.piston_J_K, b.fluid_J_K});
    net.loss_area = ro.face_area_m2 - fr.area_m2 + ro.edge_area_m2;
    net.friction_area = fr.area_m2;
    net.radiation[HUB] = b.hub.emissivity * stefan_boltzmann * b.hub.area_m2;
    net.radiation[ARMS] = b.arms.emissivity * stefan_boltzmann * b.arms.area_m2;
    net.radiation[RFACE] = ro.emissivity * stefan_boltzmann * net.loss_area;
    net.radiation[CALIPER] = b.caliper.emissivity * stefan_boltzmann * b.caliper.area_m2;
    for (const double r : net.radiation) net.radiates = net.radiates || r > 0;
    return net;
}

// What holds over a stretch of rows with the same inputs [EQ heat-4].
struct Drive {
    bool closed = false, perfect = false;
    double exchange = 0;                         // pad face - rotor face [W/K]; contact or gap
    double heat_rotor = 0, heat_pad = 0;         // born at each face [W]
    std::array<double, core_n> convection{};     // h·A [W/K]
    std::array<double, core_n> drying{};         // what evaporating water takes [W]: at the rotor's face
    double made_W() const { return heat_rotor + heat_pad; }
};

Drive drive_of(const ReferenceBrake& b, const Network& net, const PowerRow& row) {
    Drive d;
    const double power = row.power_W * b.power_scale;
    d.closed = power > b.closed_above_W;
    d.perfect = d.closed && std::isinf(b.contact_W_m2K);
    d.exchange = d.perfect ? 0 : net.friction_area * (d.closed ? b.contact_W_m2K : b.gap_W_m2K);
    if (d.closed) d.heat_rotor = d.heat_pad = power / 4;   // half of half the power at each face; perfect: only the sum counts
    d.convection[HUB] = b.hub.convection.at(row.speed_mps) * b.hub.area_m2;
    d.convection[ARMS] = b.arms.convection.at(row.speed_mps) * b.arms.area_m2;
    d.convection[RFACE] = b.rotor.convection.at(row.speed_mps) * net.loss_area;
    d.convection[CALIPER] = b.caliper.convection.at(row.speed_mps) * b.caliper.area_m2;
    d.drying[RFACE] = row.drying_W;
    return d;
}

// Factors of (capacity/(d·h) + conduction) of both chains, and the linear part of the core, for one step length.
struct Factors {
    double h = 0;
    std::vector<double> mass;              // capacity / (d h), all nodes
    std::vector<double> lr, ir, lp, ip;    // multipliers and inverse pivots
    std::vector<double> ur, wr, up, vp;    // influence of rotor face, arms; of pad face, of 1 W at the last plate cell
    std::array<double, core_n> diagonal{};
    double hub_arms = 0, arms_rotor = 0, pad_caliper = 0;   // off the diagonal (added to, so negative)
    // piston and fluid: x = E (r - K_P·T_P - K_C·T_C)
    double e00 = 0, e01 = 0, e11 = 0, kp0 = 0, kc0 = 0, kc1 = 0;
};

// Both chains are eliminated from their two ends at once, meeting in the middle node m = n/2: two short dependent
// recurrences instead of one long one. l[1..m] come from below, l[m+1..n-1] from above.
void factor_chain(const std::vector<double>& diagonal, const std::vector<double>& link, std::vector<double>& l, std::vector<double>& inv) {
    const std::size_t n = diagonal.size(), m = n / 2;
    l.assign(n, 0);
    inv.assign(n, 0);
    double middle = diagonal[m];
    for (std::size_t i = 0; i < m; ++i) {
        const double pivot = diagonal[i] - (i > 0 ? link[i - 1] * l[i] : 0);
        inv[i] = 1 / pivot;
        l[i + 1] = link[i] * inv[i];
    }
    if (m > 0) middle -= link[m - 1] * l[m];
    for (std::size_t i = n - 1; i > m; --i) {
        const double pivot = diagonal[i] - (i + 1 < n ? link[i] * l[i + 1] : 0);
        inv[i] = 1 / pivot;
        l[i] = link[i - 1] * inv[i];
    }
    if (m + 1 < n) middle -= link[m] * l[m + 1];
    inv[m] = 1 / middle;
}

// x: right-hand side in, solution out; n >= 3.
inline void solve_chain(std::size_t n, const double* l, const double* inv, double* x) {
    const std::size_t m = n / 2, both = std::min(m - 1, n - 2 - m);   // steps of each end before the middle
    for (std::size_t k = 1; k <= both; ++k) {
        x[k] += l[k] * x[k - 1];
        x[n - 1 - k] += l[n - k] * x[n - k];
    }
    for (std::size_t i = both + 1; i < m; ++i) x[i] += l[i] * x[i - 1];
    for (std::size_t i = n - 2 - both; i > m; --i) x[i] += l[i + 1] * x[i + 1];
    x[m] = (x[m] + l[m] * x[m - 1] + l[m + 1] * x[m + 1]) * inv[m];
    for (std::size_t k = 1; k <= both; ++k) {
        x[m - k] = x[m - k] * inv[m - k] + l[m - k + 1] * x[m - k + 1];
        x[m + k] = x[m + k] * inv[m + k] + l[m + k] * x[m + k - 1];
    }
    for (std::size_t i = m - both; i-- > 0;) x[i] = x[i] * inv[i] + l[i + 1] * x[i + 1];
    for (std::size_t i = m + both + 1; i < n; ++i) x[i] = x[i] * inv[i] + l[i] * x[i - 1];
}

Factors factor(const Network& net, double h) {
    Factors f;
    f.h = h;
    const double inverse = 1 / (gamma_d * h);
    f.mass.resize(net.n());
    for (std::size_t i = 0; i < net.n(); ++i) f.mass[i] = net.capacity[i] * inverse;

    std::vector<double> diagonal(f.mass.begin(), f.mass.begin() + static_cast<std::ptrdiff_t>(net.nr));
    for (std::size_t i = 0; i < net.nr; ++i) diagonal[i] += net.arms_link[i];
    for (std::size_t i = 0; i + 1 < net.nr; ++i) { diagonal[i] += net.rotor_link[i]; diagonal[i + 1] += net.rotor_link[i]; }
    diagonal[net.nr - 1] += net.rotor_face;
    factor_chain(diagonal, net.rotor_link, f.lr, f.ir);
    f.ur.assign(net.nr, 0);
    f.ur[net.nr - 1] = net.rotor_face;
    solve_chain(net.nr, f.lr.data(), f.ir.data(), f.ur.data());
    f.wr = net.arms_link;
    solve_chain(net.nr, f.lr.data(), f.ir.data(), f.wr.data());

    diagonal.assign(f.mass.begin() + static_cast<std::ptrdiff_t>(net.nr), f.mass.begin() + static_cast<std::ptrdiff_t>(net.nr + net.np));
    for (std::size_t i = 0; i + 1 < net.np; ++i) { diagonal[i] += net.pad_link[i]; diagonal[i + 1] += net.pad_link[i]; }
    diagonal[0] += net.pad_face;
    diagonal[net.np - 1] += net.plate_piston + net.plate_caliper;
    factor_chain(diagonal, net.pad_link, f.lp, f.ip);
    f.up.assign(net.np, 0);
    f.up[0] = net.pad_face;
    solve_chain(net.np, f.lp.data(), f.ip.data(), f.up.data());
    f.vp.assign(net.np, 0);
    f.vp[net.np - 1] = 1;
    solve_chain(net.np, f.lp.data(), f.ip.data(), f.vp.data());

    const auto m = [&](Lump l) { return f.mass[net.lump(l)]; };
    const double gp = net.plate_piston, gc = net.plate_caliper;
    const double u_last = f.up[net.np - 1], v_last = f.vp[net.np - 1], v_first = f.vp[0];
    double arms_arms = 0;
    for (std::size_t i = 0; i < net.nr; ++i) arms_arms += net.arms_link[i] * f.wr[i];
    f.diagonal[HUB] = m(L_HUB) + net.arms_hub;
    f.hub_arms = -net.arms_hub;
    f.diagonal[ARMS] = m(L_ARMS) + net.rotor_arms - arms_arms + net.arms_hub;
    f.arms_rotor = -net.rotor_face * f.wr[net.nr - 1];
    f.diagonal[RFACE] = net.rotor_face * (1 - f.ur[net.nr - 1]);
    f.diagonal[PFACE] = net.pad_face * (1 - f.up[0]);
    f.pad_caliper = -net.pad_face * v_first * gc;
    f.diagonal[CALIPER] = m(L_CALIPER) + gc - gc * v_last * gc + net.piston_caliper + net.fluid_caliper;
    // piston and fluid
    const double a = m(L_PISTON) + gp - gp * v_last * gp + net.piston_caliper + net.piston_fluid;
    const double c = m(L_FLUID) + net.piston_fluid + net.fluid_caliper;
    const double bb = -net.piston_fluid;
    const double det = a * c - bb * bb;
    f.e00 = c / det; f.e01 = -bb / det; f.e11 = a / det;
    f.kp0 = -gp * u_last;
    f.kc0 = -gp * v_last * gc - net.piston_caliper;
    f.kc1 = -net.fluid_caliper;
    f.diagonal[PFACE] -= f.kp0 * f.e00 * f.kp0;
    f.pad_caliper -= f.kp0 * (f.e00 * f.kc0 + f.e01 * f.kc1);
    f.diagonal[CALIPER] -= f.kc0 * (f.e00 * f.kc0 + f.e01 * f.kc1) + f.kc1 * (f.e01 * f.kc0 + f.e11 * f.kc1);
    return f;
}

// Four sums at once: a fixed order, the same bytes everywhere, and no chain of dependent additions.
inline double dot(std::size_t n, const double* a, const double* b) {
    double s0 = 0, s1 = 0, s2 = 0, s3 = 0;
    std::size_t i = 0;
    for (; i + 4 <= n; i += 4) {
        s0 += a[i] * b[i];
        s1 += a[i + 1] * b[i + 1];
        s2 += a[i + 2] * b[i + 2];
        s3 += a[i + 3] * b[i + 3];
    }
    for (; i < n; ++i) s0 += a[i] * b[i];
    return (s0 + s1) + (s2 + s3);
}
inline double largest_of(std::size_t n, const double* a) {
    double m0 = 0, m1 = 0, m2 = 0, m3 = 0;
    std::size_t i = 0;
    for (; i + 4 <= n; i += 4) {
        m0 = std::max(m0, std::abs(a[i]));
        m1 = std::max(m1, std::abs(a[i + 1]));
        m2 = std::max(m2, std::abs(a[i + 2]));
        m3 = std::max(m3, std::abs(a[i + 3]));
    }
    for (; i < n; ++i) m0 = std::max(m0, std::abs(a[i]));
    return std::max(std::max(m0, m1), std::max(m2, m3));
}

using CoreArray = std::array<double, core_n>;

// Path hub - arms - rotor face - pad face - caliper; the two faces are one node in perfect contact.
CoreArray solve_path(const Factors& f, const Drive& d, const CoreArray& diagonal, const CoreArray& rhs) {
    CoreArray x{};
    const double l1 = f.hub_arms / diagonal[HUB];
    const double d1 = diagonal[ARMS] - l1 * f.hub_arms, r1 = rhs[ARMS] - l1 * rhs[HUB];
    const double l2 = f.arms_rotor / d1;
    const double d2 = diagonal[RFACE] - l2 * f.arms_rotor, r2 = rhs[RFACE] - l2 * r1;
    const double l3 = f.pad_caliper / diagonal[CALIPER];
    const double d3 = diagonal[PFACE] - l3 * f.pad_caliper, r3 = rhs[PFACE] - l3 * rhs[CALIPER];
    if (d.perfect) {
        x[RFACE] = x[PFACE] = (r2 + r3) / (d2 + d3);
    } else {
        const double a = d2 + d.exchange, b = d3 + d.exchange, e = d.exchange;
        const double det = d2 * d3 + e * (d2 + d3);   // a·b - e², without the cancellation
        x[RFACE] = (b * r2 + e * r3) / det;
        x[PFACE] = (a * r3 + e * r2) / det;
    }
    x[CALIPER] = (rhs[CALIPER] - f.pad_caliper * x[PFACE]) / diagonal[CALIPER];
    x[ARMS] = (r1 - f.arms_rotor * x[RFACE]) / d1;
    x[HUB] = (rhs[HUB] - f.hub_arms * x[ARMS]) / diagonal[HUB];
    return x;
}

// Everything that a stage of a step knows.
struct Stage {
    std::vector<double> y;    // all nodes
    CoreArray core{};
    double loss_W = 0;
};

class Solver {
public:
    Solver(const ReferenceBrake& brake, const Network& net, double tolerance)
        : b_(brake), net_(net), local_(local_share * tolerance), ambient_(brake.ambient_degC),
          ambient4_(std::pow(brake.ambient_degC + kelvin, 4)) {
        for (Stage* s : {&start_, &inner_, &end_}) s->y.assign(net.n(), brake.start_degC);
        for (Stage* s : {&start_, &inner_, &end_}) s->core.fill(brake.start_degC);
        f1_.assign(net.n(), 0);
        f2_ = f3_ = work_ = f1_;
        varies_ = varies(brake);
        if (varies_) {
            k_rotor_ = factor_of(brake.rotor.conductivity_over_T, brake.rotor.conductivity_W_mK);
            c_rotor_ = factor_of(brake.rotor.heat_capacity_over_T, brake.rotor.heat_capacity_J_kgK);
            k_friction_ = factor_of(brake.friction.conductivity_over_T, brake.friction.conductivity_W_mK);
            c_friction_ = factor_of(brake.friction.heat_capacity_over_T, brake.friction.heat_capacity_J_kgK);
            k_plate_ = factor_of(brake.plate.conductivity_over_T, brake.plate.conductivity_W_mK);
            c_plate_ = factor_of(brake.plate.heat_capacity_over_T, brake.plate.heat_capacity_J_kgK);
            extra_.assign(net.nr + net.np, 0);
            before_.assign(net.n(), 0);
        }
    }

    // Link between cells i and i + 1 of a chain, face to its cell; conductivity at the mean of both ends.
    double rotor_link(std::size_t i, const double* y) const { return net_.rotor_link[i] * (varies_ ? k_rotor_.at((y[i] + y[i + 1]) / 2) : 1); }
    double pad_link(std::size_t i, const double* p) const {
        if (!varies_) return net_.pad_link[i];
        const double mean = (p[i] + p[i + 1]) / 2;
        if (i + 1 < net_.nf) return net_.pad_link[i] * k_friction_.at(mean);
        if (i + 1 > net_.nf) return net_.pad_link[i] * k_plate_.at(mean);
        // The joint: two halves in series.
        const double whole = 1 / net_.pad_link[i], friction = net_.joint_friction;
        return 1 / (friction / k_friction_.at(mean) + (whole - friction) / k_plate_.at(p[i + 1]));
    }
    double rotor_face(double face, double cell) const { return net_.rotor_face * (varies_ ? k_rotor_.at((face + cell) / 2) : 1); }
    double pad_face(double face, double cell) const { return net_.pad_face * (varies_ ? k_friction_.at((face + cell) / 2) : 1); }
    // Heat in a cell over its constant capacity [°C].
    double taken_up(std::size_t i, double degC) const {
        if (!varies_ || i >= net_.nr + net_.np) return degC;
        return (i < net_.nr ? c_rotor_ : i < net_.nr + net_.nf ? c_friction_ : c_plate_).taken_up(degC);
    }
    // What the true capacities and links add to the right-hand side of the constant ones, at these temperatures [W].
    void deviations(const Factors& f, const Stage& s) {
        const std::size_t nr = net_.nr, np = net_.np;
        const double* y = s.y.data();
        for (std::size_t i = 0; i < nr + np; ++i) extra_[i] = f.mass[i] * (y[i] - taken_up(i, y[i]));
        for (std::size_t i = 0; i + 1 < nr; ++i) {
            const double q = (rotor_link(i, y) - net_.rotor_link[i]) * (y[i + 1] - y[i]);
            extra_[i] += q;
            extra_[i + 1] -= q;
        }
        const double* p = y + nr;
        for (std::size_t i = 0; i + 1 < np; ++i) {
            const double q = (pad_link(i, p) - net_.pad_link[i]) * (p[i + 1] - p[i]);
            extra_[nr + i] += q;
            extra_[nr + i + 1] -= q;
        }
        extra_rotor_face_ = (rotor_face(s.core[RFACE], y[nr - 1]) - net_.rotor_face) * (y[nr - 1] - s.core[RFACE]);
        extra_pad_face_ = (pad_face(s.core[PFACE], p[0]) - net_.pad_face) * (p[0] - s.core[PFACE]);
        extra_[nr - 1] -= extra_rotor_face_;
        extra_[nr] -= extra_pad_face_;
    }

    // The stage with properties over temperature: the constant operator, corrected until nothing moves. Converges while the
    // properties stay within about a factor of two of their constants.
    bool varying_stage(const Factors& f, const Drive& d, const std::vector<double>& base, const CoreArray& guess, Stage& out) {
        if (!varies_) return implicit_stage(f, d, base, guess, out);
        out.y = start_.y;
        out.core = guess;
        for (int it = 0; it < 200; ++it) {
            deviations(f, out);
            before_ = out.y;
            const CoreArray core = out.core;
            if (!implicit_stage(f, d, base, out.core, out)) return false;
            double change = std::max(std::abs(core[RFACE] - out.core[RFACE]), std::abs(core[PFACE] - out.core[PFACE]));
            for (std::size_t i = 0; i < net_.nr + net_.np; ++i) change = std::max(change, std::abs(before_[i] - out.y[i]));
            if (!(change < 1e6)) return false;
            if (change < 1e-9) return true;
        }
        return false;
    }

    const Factors& factors(double h) {
        for (std::size_t i = 0; i < cache_.size(); ++i) {
            if (cache_[i]->h == h) {
                if (i > 0) std::swap(cache_[i], cache_[i - 1]);
                return *cache_[i > 0 ? i - 1 : 0];
            }
        }
        if (cache_.size() >= 48) cache_.pop_back();
        cache_.push_back(std::make_unique<Factors>(factor(net_, h)));
        return *cache_.back();
    }

    // Loss of node k and its derivative by temperature [EQ heat-5].
    double loss(std::size_t k, const Drive& d, double degC) const {
        const double t2 = (degC + kelvin) * (degC + kelvin);
        return d.convection[k] * (degC - ambient_) + net_.radiation[k] * (t2 * t2 - ambient4_) + d.drying[k];
    }
    double loss_slope(std::size_t k, const Drive& d, double degC) const {
        const double t = degC + kelvin;
        return d.convection[k] + 4 * net_.radiation[k] * t * t * t;
    }

    // Faces (no heat capacity) and rates at the start of a stretch, for the inputs that hold from here on.
    void begin(const Drive& d) {
        const double* y = start_.y.data();
        const double* p = y + net_.nr;
        double tr = start_.core[RFACE], tp = start_.core[PFACE];
        for (int i = 0; i < (varies_ ? 100 : 30); ++i) {
            const double gr = rotor_face(tr, y[net_.nr - 1]), gp = pad_face(tp, p[0]), pad_before = tp;
            const double slope = loss_slope(RFACE, d, tr);
            const double rr = d.heat_rotor + gr * y[net_.nr - 1] - loss(RFACE, d, tr) + slope * tr;
            const double rp = d.heat_pad + gp * p[0];
            const double before = tr;
            if (d.perfect) {
                tr = tp = (rr + rp) / (gr + slope + gp);
            } else {
                const double a = gr + slope, e = d.exchange, det = a * gp + e * (a + gp);
                tr = ((gp + e) * rr + e * rp) / det;
                tp = ((a + e) * rp + e * rr) / det;
            }
            if (std::abs(tr - before) < 1e-6 && (!varies_ || std::abs(tp - pad_before) < 1e-6)) break;
        }
        start_.core[RFACE] = tr;
        start_.core[PFACE] = tp;
        start_.core[HUB] = y[net_.lump(L_HUB)];
        start_.core[ARMS] = y[net_.lump(L_ARMS)];
        start_.core[CALIPER] = y[net_.lump(L_CALIPER)];
        start_.loss_W = losses(d, start_.core);
        rates(d, start_, f1_);
    }

    double losses(const Drive& d, const CoreArray& t) const {
        return loss(HUB, d, t[HUB]) + loss(ARMS, d, t[ARMS]) + loss(RFACE, d, t[RFACE]) + loss(CALIPER, d, t[CALIPER]);
    }

    void rates(const Drive& d, const Stage& s, std::vector<double>& f) const {
        const double* y = s.y.data();
        const double arms = s.core[ARMS];
        const std::size_t nr = net_.nr, np = net_.np;
        double to_arms = 0;
        for (std::size_t i = 0; i < nr; ++i) {
            const double q = net_.arms_link[i] * (y[i] - arms);
            to_arms += q;
            f[i] = -q;
        }
        for (std::size_t i = 0; i + 1 < nr; ++i) {
            const double q = rotor_link(i, y) * (y[i + 1] - y[i]);
            f[i] += q;
            f[i + 1] -= q;
        }
        f[nr - 1] += rotor_face(s.core[RFACE], y[nr - 1]) * (s.core[RFACE] - y[nr - 1]);
        const double* p = y + nr;
        double* g = f.data() + nr;
        for (std::size_t i = 0; i < np; ++i) g[i] = 0;
        for (std::size_t i = 0; i + 1 < np; ++i) {
            const double q = pad_link(i, p) * (p[i + 1] - p[i]);
            g[i] += q;
            g[i + 1] -= q;
        }
        g[0] += pad_face(s.core[PFACE], p[0]) * (s.core[PFACE] - p[0]);
        const double hub = y[net_.lump(L_HUB)], cal = y[net_.lump(L_CALIPER)], pi = y[net_.lump(L_PISTON)], fl = y[net_.lump(L_FLUID)];
        const double q_pi = net_.plate_piston * (p[np - 1] - pi), q_pc = net_.plate_caliper * (p[np - 1] - cal);
        g[np - 1] -= q_pi + q_pc;
        const double q_pica = net_.piston_caliper * (pi - cal), q_pifl = net_.piston_fluid * (pi - fl), q_flca = net_.fluid_caliper * (fl - cal);
        const double q_ah = net_.arms_hub * (arms - hub);
        f[net_.lump(L_HUB)] = q_ah - loss(HUB, d, hub);
        f[net_.lump(L_ARMS)] = to_arms - q_ah - loss(ARMS, d, arms);
        f[net_.lump(L_CALIPER)] = q_pc + q_pica + q_flca - loss(CALIPER, d, cal);
        f[net_.lump(L_PISTON)] = q_pi - q_pica - q_pifl;
        f[net_.lump(L_FLUID)] = q_pifl - q_flca;
        for (std::size_t i = 0; i < net_.n(); ++i) f[i] /= net_.capacity[i];
    }

    // Solves (mass)(y - base) = flows(y) for the stage. `base` is left untouched. slopes: of the losses, kept for the error filter.
    bool implicit_stage(const Factors& f, const Drive& d, const std::vector<double>& base, const CoreArray& guess, Stage& out) {
        const std::size_t nr = net_.nr, np = net_.np;
        double* y = out.y.data();
        for (std::size_t i = 0; i < nr + np; ++i) y[i] = f.mass[i] * base[i];
        if (varies_)
            for (std::size_t i = 0; i < nr + np; ++i) y[i] += extra_[i];
        solve_chain(nr, f.lr.data(), f.ir.data(), y);
        solve_chain(np, f.lp.data(), f.ip.data(), y + nr);
        const auto force = [&](Lump l) { return f.mass[net_.lump(l)] * base[net_.lump(l)]; };
        const double last = y[nr + np - 1];
        const double r_pi = force(L_PISTON) + net_.plate_piston * last, r_fl = force(L_FLUID);
        const double x_pi = f.e00 * r_pi + f.e01 * r_fl, x_fl = f.e01 * r_pi + f.e11 * r_fl;
        const double to_arms = dot(nr, net_.arms_link.data(), y);
        CoreArray rhs;
        rhs[HUB] = force(L_HUB);
        rhs[ARMS] = force(L_ARMS) + to_arms;
        rhs[RFACE] = d.heat_rotor + net_.rotor_face * y[nr - 1];
        rhs[PFACE] = d.heat_pad + net_.pad_face * y[nr] - f.kp0 * x_pi;
        rhs[CALIPER] = force(L_CALIPER) + net_.plate_caliper * last - (f.kc0 * x_pi + f.kc1 * x_fl);

        if (varies_) {
            rhs[RFACE] += extra_rotor_face_;
            rhs[PFACE] += extra_pad_face_;
        }

        CoreArray t = guess;
        bool converged = false;
        for (int it = 0; it < 25 && !converged; ++it) {
            CoreArray diagonal = f.diagonal, r = rhs;
            for (const std::size_t k : {std::size_t{HUB}, std::size_t{ARMS}, std::size_t{RFACE}, std::size_t{CALIPER}}) {
                slope_[k] = loss_slope(k, d, t[k]);
                diagonal[k] += slope_[k];
                r[k] += slope_[k] * t[k] - loss(k, d, t[k]);
            }
            const CoreArray next = solve_path(f, d, diagonal, r);
            double change = 0;
            for (std::size_t k = 0; k < core_n; ++k)
                if (net_.radiation[k] > 0) change = std::max(change, std::abs(next[k] - t[k]));
            t = next;
            // Newton: what is left after a change of 1e-3 K is its square times the curvature: 1e-9 W.
            converged = change < 1e-3;
        }
        if (!converged || !std::isfinite(t[RFACE])) return false;
        out.core = t;
        expand(f, t, x_pi, x_fl, out.y);
        out.loss_W = losses(d, t);
        return true;
    }

    void expand(const Factors& f, const CoreArray& t, double x_pi, double x_fl, std::vector<double>& y) const {
        const std::size_t nr = net_.nr, np = net_.np;
        const double k0 = f.kp0 * t[PFACE] + f.kc0 * t[CALIPER], k1 = f.kc1 * t[CALIPER];
        const double pi = x_pi - (f.e00 * k0 + f.e01 * k1), fl = x_fl - (f.e01 * k0 + f.e11 * k1);
        for (std::size_t i = 0; i < nr; ++i) y[i] += f.ur[i] * t[RFACE] + f.wr[i] * t[ARMS];
        const double behind = net_.plate_piston * pi + net_.plate_caliper * t[CALIPER];
        for (std::size_t i = 0; i < np; ++i) y[nr + i] += f.up[i] * t[PFACE] + f.vp[i] * behind;
        y[net_.lump(L_HUB)] = t[HUB];
        y[net_.lump(L_ARMS)] = t[ARMS];
        y[net_.lump(L_CALIPER)] = t[CALIPER];
        y[net_.lump(L_PISTON)] = pi;
        y[net_.lump(L_FLUID)] = fl;
    }

    // One step of length h from start_ [EQ heat-7]; leaves inner_, end_, f3_. Returns the error estimate over the allowed local error,
    // or nothing if Newton fails.
    std::optional<double> step(const Factors& f, const Drive& d) {
        const std::size_t n = net_.n();
        const double h = f.h, dh = gamma_d * h, wh = gamma_w * h;
        const double* y0 = start_.y.data();
        for (std::size_t i = 0; i < n; ++i) work_[i] = taken_up(i, y0[i]) + dh * f1_[i];
        if (!varying_stage(f, d, work_, start_.core, inner_)) return std::nullopt;
        const double inverse = 1 / dh;
        for (std::size_t i = 0; i < n; ++i) f2_[i] = (taken_up(i, inner_.y[i]) - work_[i]) * inverse;
        for (std::size_t i = 0; i < n; ++i) work_[i] = taken_up(i, y0[i]) + wh * (f1_[i] + f2_[i]);
        CoreArray guess;
        const double on = (1 - 2 * gamma_d) / (2 * gamma_d);   // from start and inner stage on to the end
        for (std::size_t k = 0; k < core_n; ++k) guess[k] = inner_.core[k] + on * (inner_.core[k] - start_.core[k]);
        if (!varying_stage(f, d, work_, guess, end_)) return std::nullopt;
        for (std::size_t i = 0; i < n; ++i) f3_[i] = (taken_up(i, end_.y[i]) - work_[i]) * inverse;
        // Filtered estimate [EQ heat-8]: (mass + conduction + loss slopes) e = mass·h·Σ(b - b̂)f, so that stiff cells do not shout.
        double* e = work_.data();
        for (std::size_t i = 0; i < n; ++i) e[i] = h * (error_1 * f1_[i] + error_2 * f2_[i] + error_3 * f3_[i]);
        return filter(f, d) / local_;
    }

    double filter(const Factors& f, const Drive& d) {
        const std::size_t nr = net_.nr, np = net_.np;
        double* y = work_.data();
        for (std::size_t i = 0; i < net_.n(); ++i) y[i] *= f.mass[i];
        solve_chain(nr, f.lr.data(), f.ir.data(), y);
        solve_chain(np, f.lp.data(), f.ip.data(), y + nr);
        const auto force = [&](Lump l) { return y[net_.lump(l)]; };
        const double last = y[nr + np - 1];
        const double r_pi = force(L_PISTON) + net_.plate_piston * last, r_fl = force(L_FLUID);
        const double x_pi = f.e00 * r_pi + f.e01 * r_fl, x_fl = f.e01 * r_pi + f.e11 * r_fl;
        const double to_arms = dot(nr, net_.arms_link.data(), y);
        const CoreArray rhs = {force(L_HUB), force(L_ARMS) + to_arms, net_.rotor_face * y[nr - 1],
                               net_.pad_face * y[nr] - f.kp0 * x_pi,
                               force(L_CALIPER) + net_.plate_caliper * last - (f.kc0 * x_pi + f.kc1 * x_fl)};
        CoreArray diagonal = f.diagonal;
        for (const std::size_t k : {std::size_t{HUB}, std::size_t{ARMS}, std::size_t{RFACE}, std::size_t{CALIPER}}) diagonal[k] += slope_[k];
        const CoreArray t = solve_path(f, d, diagonal, rhs);
        expand(f, t, x_pi, x_fl, work_);
        // An error made in a layer as thin as the step is short spreads into the body: after a time t the face keeps √(h/t)
        // of it. Errors of whole bodies add up over the steps instead, so they are held tighter.
        double largest = std::max(std::abs(t[RFACE]), std::abs(t[PFACE]));
        largest = std::max(largest, largest_of(nr + np, y));
        const double slow = std::max(largest_of(lump_n, y + nr + np), std::abs(dot(nr, net_.volume.data(), y)));
        return std::max(largest * std::min(1.0, std::sqrt(f.h / layer_s)), slow / slow_share);
    }

    void accept() {
        std::swap(start_, end_);
        std::swap(f1_, f3_);
    }

    HeatState state(const Stage& s, double t_s) const {
        HeatState out;
        const double* y = s.y.data();
        out.t_s = t_s;
        out.rotor_surface_degC = s.core[RFACE];
        out.rotor_mid_degC = net_.mid_0 * y[0] + net_.mid_1 * y[1];
        const double* share = net_.volume.data();
        out.rotor_mean_degC = dot(net_.nr, share, y);
        out.pad_mean_degC = dot(net_.nf, share + net_.nr, y + net_.nr);
        out.plate_degC = dot(net_.np - net_.nf, share + net_.nr + net_.nf, y + net_.nr + net_.nf);
        out.pad_face_degC = s.core[PFACE];
        out.piston_degC = y[net_.lump(L_PISTON)];
        out.fluid_degC = y[net_.lump(L_FLUID)];
        out.caliper_degC = y[net_.lump(L_CALIPER)];
        out.arms_degC = y[net_.lump(L_ARMS)];
        out.hub_degC = y[net_.lump(L_HUB)];
        return out;
    }
    double pad_flow_W(const Stage& s) const { return pad_face(s.core[PFACE], s.y[net_.nr]) * (s.core[PFACE] - s.y[net_.nr]); }
    double stored_J() const {
        double sum = 0;
        for (std::size_t i = 0; i < net_.n(); ++i) sum += net_.capacity[i] * (taken_up(i, start_.y[i]) - taken_up(i, b_.start_degC));
        return sum;
    }

    double share_of_pad(const Stage& s, const Drive& d) const { return pad_flow_W(s) / d.made_W(); }
    static void put_faces(const Stage& s, HeatState& out) { out.rotor_surface_degC = s.core[RFACE], out.pad_face_degC = s.core[PFACE]; }
    static double pad_face_degC(const Stage& s) { return s.core[PFACE]; }
    static double other_pad_face_degC(const Stage& s) { return s.core[PFACE]; }
    static double account_share() { return 1; }

    using State = HeatState;
    Stage start_, inner_, end_;

private:
    const ReferenceBrake& b_;
    const Network& net_;
    double local_, ambient_, ambient4_;
    std::vector<double> f1_, f2_, f3_, work_;   // rates of what cells have taken up [K/s]
    bool varies_ = false;
    Factor k_rotor_, c_rotor_, k_friction_, c_friction_, k_plate_, c_plate_;
    std::vector<double> extra_, before_;
    double extra_rotor_face_ = 0, extra_pad_face_ = 0;
    CoreArray slope_{};
    std::vector<std::unique_ptr<Factors>> cache_;
};

}  // namespace

double Convection::at(double speed_mps) const { return a + (b == 0 ? 0.0 : b * std::pow(speed_mps, m)); }

double PropertyTable::at(double degC) const {
    if (degC <= points.front().degC) return points.front().value;
    if (degC >= points.back().degC) return points.back().value;
    std::size_t i = 1;
    while (points[i].degC < degC) ++i;
    const Point &a = points[i - 1], &b = points[i];
    return a.value + (b.value - a.value) * (degC - a.degC) / (b.degC - a.degC);
}

double PropertyTable::integral(double from_degC, double to_degC) const {
    if (to_degC < from_degC) return -integral(to_degC, from_degC);
    // Between the points it is a line, so that the trapezoid is exact.
    double sum = 0, t = from_degC, v = at(t);
    for (const Point& p : points) {
        if (p.degC <= t || p.degC >= to_degC) continue;
        sum += (p.degC - t) * (v + p.value) / 2;
        t = p.degC;
        v = p.value;
    }
    return sum + (to_degC - t) * (v + at(to_degC)) / 2;
}

bool varies(const ReferenceBrake& b) {
    for (const PropertyTable* t : {&b.rotor.conductivity_over_T, &b.rotor.heat_capacity_over_T, &b.friction.conductivity_over_T,
                                   &b.friction.heat_capacity_over_T, &b.plate.conductivity_over_T, &b.plate.heat_capacity_over_T})
        if (t->varies()) return true;
    return false;
}

Status check_rows(std::span<const PowerRow> rows) {
    if (rows.size() < 2) return Error{Errc::bad_input, fmt::format("{} rows of power: a run needs at least two (the last only ends it)", rows.size())};
    for (std::size_t i = 0; i < rows.size(); ++i) {
        const PowerRow& r = rows[i];
        if (!std::isfinite(r.t_s) || !std::isfinite(r.speed_mps) || !std::isfinite(r.power_W) || r.speed_mps < 0 || r.speed_mps > 100 || std::abs(r.power_W) > 1e6 || !(r.drying_W >= 0 && r.drying_W <= 1e6))
            return Error{Errc::bad_input, fmt::format("row {} of power: t_s = {}, speed_mps = {}, power_W = {}, drying_W = {}: expected numbers, "
                                                      "speed 0..100 m/s, power within 1 MW, drying_W 0..1 MW", i + 1, r.t_s, r.speed_mps, r.power_W, r.drying_W)};
        if (i > 0 && r.t_s - rows[i - 1].t_s < 1e-6)
            return Error{Errc::bad_input, fmt::format("row {} of power: t_s = {} does not come after {}: expected increasing times", i + 1, r.t_s, rows[i - 1].t_s)};
    }
    return Done{};
}

Result<HeatRun> solve(const ReferenceBrake& brake, std::span<const PowerRow> rows, const SolveOptions& options) {
    if (Status s = check_reference(brake); !s) return s.error();
    if (Status checked = check_rows(rows); !checked) return checked.error();
    if (!(options.tolerance_K > 0) || options.grid_refinement < 1 || options.grid_refinement > 16 || options.cool_down_s < 0)
        return Error{Errc::bad_input, fmt::format("solve: tolerance_K = {}, grid_refinement = {}, cool_down_s = {}: expected > 0, 1..16, >= 0",
                                                  options.tolerance_K, options.grid_refinement, options.cool_down_s)};

    if (brake.other) return solve_two_sides(brake, rows, options);
    const Network net = build(brake, options.grid_refinement);
    Solver solver(brake, net, options.tolerance_K);
    return march(brake, solver, rows, options, net.n() + 2, [&](const PowerRow& row) { return drive_of(brake, net, row); });
}

std::vector<PowerRow> heat_resistance_drag() {
    std::vector<PowerRow> rows;
    for (int t = 0; t <= 900; t += 10) rows.push_back({.t_s = double(t), .speed_mps = 12.5 / 3.6, .power_W = 300});
    return rows;
}

Result<HeatRun> heat_resistance(const ReferenceBrake& brake, const SolveOptions& options) {
    SolveOptions with = options;
    if (with.cool_down_s <= 0) with.cool_down_s = 900;
    const std::vector<PowerRow> rows = heat_resistance_drag();
    return solve(brake, rows, with);
}

}  // namespace bw::heat
