// SPDX-License-Identifier: Apache-2.0
// The engine for many cases: the reduced network, the schedule of steps, blocks of cases over threads.    Layer: heat
// Theory: docs/models/heat.md, "The engine".   Vector code: engine_kernel.cpp.
#include "heat/engine.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <bit>
#include <cmath>
#include <map>
#include <memory>
#include <numbers>
#include <optional>

#include "band_modes.hpp"
#include "engine_kernel.hpp"
#include "one_kernel.hpp"
#include "varying.hpp"

namespace bw::heat {

namespace {

using namespace engine;

constexpr double kelvin = 273.15;
constexpr double stefan_boltzmann = 5.670374419e-8;   // W/(m²K⁴), CODATA 2018
constexpr double infinity = std::numeric_limits<double>::infinity();

// Of a row, in the order of Out.
constexpr double HeatState::* fields[] = {&HeatState::rotor_surface_degC, &HeatState::rotor_mid_degC, &HeatState::rotor_mean_degC, &HeatState::pad_face_degC,
                                          &HeatState::pad_mean_degC, &HeatState::plate_degC, &HeatState::piston_degC, &HeatState::fluid_degC,
                                          &HeatState::caliper_degC, &HeatState::arms_degC, &HeatState::hub_degC};

// ---- the friction layer's element -----------------------------------------------------------------------------------

// Legendre polynomial of order n and its derivative.
std::pair<double, double> legendre(int n, double x) {
    double a = 1, b = x;
    if (n == 0) return {1, 0};
    for (int k = 2; k <= n; ++k) {
        const double c = ((2 * k - 1) * x * b - (k - 1) * a) / k;
        a = b;
        b = c;
    }
    return {b, std::abs(x) == 1 ? std::pow(x, n + 1) * n * (n + 1) / 2 : n * (x * b - a) / (x * x - 1)};
}

// Lagrange polynomials on Gauss-Lobatto nodes over a layer of unit thickness [EQ heat-22]: share of the volume of each
// node, conduction matrix and inverse of the (exact) mass matrix.
struct Element {
    int order = 0;
    std::vector<double> share, conduction, mass_inverse;   // [p+1], [(p+1)²], [(p+1)²]
};

Element element(int p) {
    const std::size_t n = static_cast<std::size_t>(p) + 1;
    std::vector<double> node(n), weight(n);
    node[0] = -1;
    node[n - 1] = 1;
    for (std::size_t i = 1; i + 1 < n; ++i) {   // roots of P_p', Newton from the Chebyshev points
        double x = -std::cos(std::numbers::pi * static_cast<double>(i) / p);
        for (int it = 0; it < 100; ++it) {
            const auto [v, d] = legendre(p, x);
            const double second = (2 * x * d - p * (p + 1) * v) / (1 - x * x);
            x -= d / second;
        }
        node[i] = x;
    }
    for (std::size_t i = 0; i < n; ++i) weight[i] = 2.0 / (p * (p + 1) * std::pow(legendre(p, node[i]).first, 2));
    Element e;
    e.order = p;
    for (const double w : weight) e.share.push_back(w / 2);
    // Derivatives at the nodes; the stiffness integrand has order 2p - 2, which the rule integrates exactly.
    std::vector<double> derivative(n * n);
    for (std::size_t i = 0; i < n; ++i)
        for (std::size_t j = 0; j < n; ++j) {
            if (i != j) derivative[i * n + j] = legendre(p, node[i]).first / (legendre(p, node[j]).first * (node[i] - node[j]));
            else if (i == 0) derivative[i * n + j] = -p * (p + 1) / 4.0;
            else if (i + 1 == n) derivative[i * n + j] = p * (p + 1) / 4.0;
        }
    e.conduction.assign(n * n, 0);
    for (std::size_t i = 0; i < n; ++i)
        for (std::size_t j = 0; j < n; ++j)
            for (std::size_t q = 0; q < n; ++q) e.conduction[i * n + j] += 2 * weight[q] * derivative[q * n + i] * derivative[q * n + j];
    // On these nodes the rule's mass matrix W is diagonal and exact but for the product P_p·P_p, which it takes as 2/p
    // instead of 2/(2p+1). So the exact inverse is W⁻¹ + v vᵀ (1/right - 1/wrong), v = P_p at the nodes (Sherman-Morrison).
    const double wrong = 2.0 / p, right = 2.0 / (2 * p + 1);
    std::vector<double> v(n);
    for (std::size_t i = 0; i < n; ++i) v[i] = legendre(p, node[i]).first;
    e.mass_inverse.assign(n * n, 0);
    for (std::size_t i = 0; i < n; ++i)
        for (std::size_t j = 0; j < n; ++j)
            e.mass_inverse[i * n + j] = 2 * ((i == j ? 1 / weight[i] : 0) + v[i] * v[j] * (1 / right - 1 / wrong));
    return e;
}

const Element& element_of(int p) {
    static const std::array<Element, 11> all = [] {
        std::array<Element, 11> a;
        for (int k = 3; k <= 10; ++k) a[static_cast<std::size_t>(k)] = element(k);
        return a;
    }();
    return all[static_cast<std::size_t>(p)];
}

// ---- one case in one lane -------------------------------------------------------------------------------------------

double rotor_capacity(const ReferenceBrake& b) {
    return b.rotor.density_kg_m3 * b.rotor.heat_capacity_J_kgK * b.rotor.face_area_m2 * b.rotor.half_thickness_m;
}
double layer_capacity(const ReferenceBrake::Layer& l) { return l.density_kg_m3 * l.heat_capacity_J_kgK * l.area_m2 * l.thickness_m; }
// First cosine of the rotor's half thickness: its rate [1/s].
double rotor_mode_rate(const ReferenceBrake& b) {
    const double diffusivity = b.rotor.conductivity_W_mK / (b.rotor.density_kg_m3 * b.rotor.heat_capacity_J_kgK);
    return std::numbers::pi * std::numbers::pi * diffusivity / (b.rotor.half_thickness_m * b.rotor.half_thickness_m);
}

double plate_mode_rate(const ReferenceBrake::Layer& plate) {
    const double diffusivity = plate.conductivity_W_mK / (plate.density_kg_m3 * plate.heat_capacity_J_kgK);
    return std::numbers::pi * std::numbers::pi * diffusivity / (plate.thickness_m * plate.thickness_m);
}

// Resistance from the rotor's mean (and mode) to its face [K/W]: the parabola, less what the mode carries [EQ heat-24].
template <int M> double face_resistance(const ReferenceBrake& b) {
    const double parabola = b.rotor.half_thickness_m / (3 * b.rotor.conductivity_W_mK * b.rotor.face_area_m2);
    return M > 0 ? parabola * (1 - 6 / (std::numbers::pi * std::numbers::pi)) : parabola;
}

// One pad and what lies behind it. In a brake of two sides each counts half: the engine computes half of the whole.
struct PadSide {
    const ReferenceBrake::Layer *friction, *plate;
    double plate_piston, plate_caliper, piston_fluid, piston_caliper, fluid_caliper, piston_J_K, fluid_J_K;
    double contact_W_m2K, gap_W_m2K;
};
PadSide pad_side(const ReferenceBrake& b, int side) {
    if (side == 0) {
        const auto& l = b.links_W_K;
        return {&b.friction, &b.plate, l.plate_piston, l.plate_caliper, l.piston_fluid, l.piston_caliper, l.fluid_caliper, b.piston_J_K, b.fluid_J_K, b.contact_W_m2K, b.gap_W_m2K};
    }
    const auto& o = *b.other;
    const auto& l = o.links_W_K;
    return {&o.friction, &o.plate, l.plate_piston, l.plate_caliper, l.piston_fluid, l.piston_caliper, l.fluid_caliper, o.piston_J_K, o.fluid_J_K, o.contact_W_m2K, o.gap_W_m2K};
}
template <int S> constexpr double side_weight = 1.0 / S;
constexpr double perfect_W_m2K = 1e9;   // of two sides: perfect contact as a conductance
// Contact of a side as the half of the whole sees it [W/K].
double side_contact_W_K(const PadSide& p, bool closed) { return std::min(closed ? p.contact_W_m2K : p.gap_W_m2K, perfect_W_m2K) * p.friction->area_m2 / 2; }
// The linear profile between faces that take up heat unevenly: resistance of half the thickness [K/W].
double uneven_resistance(const ReferenceBrake& b) { return b.rotor.half_thickness_m / (b.rotor.conductivity_W_mK * b.rotor.face_area_m2); }

// The rotor's faces of two sides [EQ heat-33]: as sums of the pad faces, the rotor (mean and mode) and the watts at both faces together.
struct TwoFaces {
    double pad[2][2], rotor[2], watt[2];
};
template <int M> TwoFaces two_faces(const ReferenceBrake& b, bool closed) {
    const double even = face_resistance<M>(b), uneven = uneven_resistance(b), common = even - uneven, g = 1 / (2 * uneven);
    const double c[2] = {side_contact_W_K(pad_side(b, 0), closed), side_contact_W_K(pad_side(b, 1), closed)};
    // (c_i + g) f_i - g x = c_i pad_i + W/2;  (1/common + 2g) x - g (f_0 + f_1) = rotor/common
    double x = 1 / common + 2 * g, x_pad[2], x_watt = 0;
    for (const int i : {0, 1}) {
        x -= g * g / (c[i] + g);
        x_pad[i] = g * c[i] / (c[i] + g);
        x_watt += g / 2 / (c[i] + g);
    }
    TwoFaces out{};
    for (const int i : {0, 1}) {
        for (const int j : {0, 1}) out.pad[i][j] = ((i == j ? c[i] : 0) + g * x_pad[j] / x) / (c[i] + g);
        out.rotor[i] = 1 - out.pad[i][0] - out.pad[i][1];
        out.watt[i] = (0.5 + g * x_watt / x) / (c[i] + g);
    }
    return out;
}

template <int P, int M, int Q, int S> void assemble(const ReferenceBrake& b, bool closed, Generator<Layout<P, M, Q, S>::n>& out, int lane) {
    using L = Layout<P, M, Q, S>;
    constexpr int N = L::n;
    double k[N][N] = {}, f[N][source_n] = {};
    const double rotor_J_K = rotor_capacity(b), resistance = face_resistance<M>(b);
    if constexpr (S == 1) {
        const double contact = (closed ? b.contact_W_m2K : b.gap_W_m2K) * b.friction.area_m2;
        const double to_rotor = 1 / (1 + resistance * contact);             // share of a watt at the rotor's face that enters it at once
        const double through = std::isinf(contact) ? 1 / resistance : contact * to_rotor;
        // Pad face to the sum of mean and mode.
        k[L::face][L::face] += through;
        for (int i = 0; i <= M; ++i) {
            k[i][L::face] -= through;
            k[L::face][i] -= through;
            for (int j = 0; j <= M; ++j) k[i][j] += through;
        }
        const auto at_rotor_face = [&](Source s, double share) {
            for (int i = 0; i <= M; ++i) f[i][s] += share * to_rotor;
            f[L::face][s] += share * (1 - to_rotor);
        };
        at_rotor_face(POWER, 0.5);
        f[L::face][POWER] += 0.5;
        at_rotor_face(LOSS, 1);
    } else {
        // Both faces of the rotor carry no heat, nor does the node that its mean sees through what is common to them: eliminated.
        constexpr int x = N, first = N + 1, all = N + 3;
        const double uneven = uneven_resistance(b);
        double net[all][all] = {}, source[all][source_n] = {};
        const auto flow = [&](double g, std::initializer_list<std::pair<int, double>> drop) {
            for (const auto& [i, a] : drop)
                for (const auto& [j, c] : drop) net[i][j] += g * a * c;
        };
        if constexpr (M > 0) flow(1 / (resistance - uneven), {{x, 1}, {L::rotor, -1}, {1, -1}});
        else flow(1 / (resistance - uneven), {{x, 1}, {L::rotor, -1}});
        for (int side = 0; side < 2; ++side) {
            const int face = L::face + side * L::block, own = first + side;
            flow(1 / (2 * uneven), {{own, 1}, {x, -1}});
            flow(side_contact_W_K(pad_side(b, side), closed), {{face, 1}, {own, -1}});
            source[own][POWER] += 0.25;
            source[face][POWER] += 0.25;
            source[own][LOSS] += 0.5;
        }
        for (const int gone : {first + 1, first, x}) {
            for (int i = 0; i < gone; ++i) {
                const double share = net[i][gone] / net[gone][gone];
                if (share == 0) continue;
                for (int j = 0; j < gone; ++j) net[i][j] -= share * net[gone][j];
                for (int s = 0; s < source_n; ++s) source[i][s] -= share * source[gone][s];
            }
        }
        for (int i = 0; i < N; ++i) {
            for (int j = 0; j < N; ++j) k[i][j] += net[i][j];
            for (int s = 0; s < source_n; ++s) f[i][s] += source[i][s];
        }
    }
    if constexpr (M > 0) k[1][1] += rotor_J_K / 2 * rotor_mode_rate(b) + b.links_W_K.rotor_arms / 2;
    f[L::rotor][ARMS_FLOW] = 1;
    const Element& e = element_of(P);
    const auto row = [&](int i, double per_J_K) {
        for (int j = 0; j < N; ++j) out.a[i][j][lane] = -k[i][j] * per_J_K;
        for (int s = 0; s < source_n; ++s) out.a[i][N + s][lane] = f[i][s] * per_J_K;
    };
    constexpr double weight = side_weight<S>;
    for (int side = 0; side < S; ++side) {
        const PadSide pad = pad_side(b, side);
        const int at = side * L::block;
        const double friction = weight * pad.friction->conductivity_W_mK * pad.friction->area_m2 / pad.friction->thickness_m;
        for (int i = 0; i <= P; ++i)
            for (int j = 0; j <= P; ++j) k[at + L::face + i][at + L::face + j] += friction * e.conduction[static_cast<std::size_t>(i * (P + 1) + j)];
        // Plate: mean (and first cosine); the rest of the parabola that both its faces bend follows at once [EQ heat-24]. Two
        // nodes carry no heat and are eliminated: x, which the mean sees through the resistance common to both faces, and the rear.
        constexpr int x = N, rear = N + 1, all = N + 2;
        const double whole = pad.plate->thickness_m / (pad.plate->conductivity_W_mK * pad.plate->area_m2) / weight, pi2 = std::numbers::pi * std::numbers::pi;
        const double own = whole * (1.0 / 3 - (Q > 0 ? 2 / pi2 : 0)), common = whole * (-1.0 / 6 + (Q > 0 ? 2 / pi2 : 0));
        double net[all][all] = {};
        const auto flow = [&](double g, std::initializer_list<std::pair<int, double>> drop) {
            for (const auto& [i, a] : drop)
                for (const auto& [j, c] : drop) net[i][j] += g * a * c;
        };
        flow(1 / common, {{x, 1}, {at + L::plate, -1}});
        if constexpr (Q > 0) {
            flow(1 / (own - common), {{at + L::joint, 1}, {x, -1}, {at + L::plate_mode, -1}});
            flow(1 / (own - common), {{rear, 1}, {x, -1}, {at + L::plate_mode, 1}});
            net[at + L::plate_mode][at + L::plate_mode] += weight * layer_capacity(*pad.plate) / 2 * plate_mode_rate(*pad.plate);
        } else {
            flow(1 / (own - common), {{at + L::joint, 1}, {x, -1}});
            flow(1 / (own - common), {{rear, 1}, {x, -1}});
        }
        flow(weight * pad.plate_piston, {{rear, 1}, {at + L::piston, -1}});
        flow(weight * pad.plate_caliper, {{rear, 1}, {L::caliper, -1}});
        flow(weight * pad.piston_caliper, {{at + L::piston, 1}, {L::caliper, -1}});
        flow(weight * pad.piston_fluid, {{at + L::piston, 1}, {at + L::fluid, -1}});
        flow(weight * pad.fluid_caliper, {{at + L::fluid, 1}, {L::caliper, -1}});
        for (const int gone : {rear, x})
            for (int i = L::joint; i < gone; ++i)
                for (int j = L::joint; j < gone; ++j) net[i][j] -= net[i][gone] * net[gone][j] / net[gone][gone];
        for (int i = L::joint; i < N; ++i)
            for (int j = L::joint; j < N; ++j) k[i][j] += net[i][j];
    }

    row(L::rotor, 1 / rotor_J_K);
    if constexpr (M > 0) row(1, 2 / rotor_J_K);
    row(L::caliper, 1 / b.caliper.heat_capacity_J_K);
    for (int side = 0; side < S; ++side) {
        const PadSide pad = pad_side(b, side);
        const int at = side * L::block;
        row(at + L::plate, 1 / (weight * layer_capacity(*pad.plate)));
        if constexpr (Q > 0) row(at + L::plate_mode, 2 / (weight * layer_capacity(*pad.plate)));
        row(at + L::piston, 1 / (weight * pad.piston_J_K));
        row(at + L::fluid, 1 / (weight * pad.fluid_J_K));
        const double friction_J_K = weight * layer_capacity(*pad.friction);
        for (int i = 0; i <= P; ++i) {
            double sum[N + source_n] = {};
            for (int q = 0; q <= P; ++q) {
                const double m = e.mass_inverse[static_cast<std::size_t>(i * (P + 1) + q)] / friction_J_K;
                for (int j = 0; j < N; ++j) sum[j] -= m * k[at + L::face + q][j];
                for (int s = 0; s < source_n; ++s) sum[N + s] += m * f[at + L::face + q][s];
            }
            for (int j = 0; j < N + source_n; ++j) out.a[at + L::face + i][j][lane] = sum[j];
        }
    }
}

// Arms and hub fed by a rotor held at its mean [EQ heat-26], over one length; series and doublings like the ladder's.
struct Small {
    double d[2][5];   // rows arms, hub; columns arms, hub, rotor, loss of arms, loss of hub
};
Small twice(const Small& a, const Small& b) {   // a then b
    Small s;
    for (int i = 0; i < 2; ++i)
        for (int j = 0; j < 5; ++j) s.d[i][j] = a.d[i][j] + b.d[i][j] + b.d[i][0] * a.d[0][j] + b.d[i][1] * a.d[1][j];
    return s;
}
Small small_base(const ReferenceBrake& b, double h) {
    const double ca = b.arms.heat_capacity_J_K, ch = b.hub.heat_capacity_J_K, g = b.links_W_K.arms_hub, r = b.links_W_K.rotor_arms;
    const double x[2][5] = {{-(g + r) / ca * h, g / ca * h, r / ca * h, h / ca, 0}, {g / ch * h, -g / ch * h, 0, 0, h / ch}};
    Small f{};   // x + x²/2 + x³/6 + x⁴/24
    double term[2][5];
    for (int i = 0; i < 2; ++i)
        for (int j = 0; j < 5; ++j) f.d[i][j] = term[i][j] = x[i][j];
    for (int q = 2; q <= 4; ++q) {
        double next[2][5];
        for (int i = 0; i < 2; ++i)
            for (int j = 0; j < 5; ++j) next[i][j] = (x[i][0] * term[0][j] + x[i][1] * term[1][j]) / q;
        for (int i = 0; i < 2; ++i)
            for (int j = 0; j < 5; ++j) f.d[i][j] += term[i][j] = next[i][j];
    }
    return f;
}

// ---- schedule -------------------------------------------------------------------------------------------------------

double power_of(double v, double m) {
    if (m == 0.5) return std::sqrt(v);
    if (m == 1) return v;
    return std::pow(v, m);
}
float log_speed_of(double speed, double mean_exponent) { return speed > 0 && mean_exponent > 0 ? std::max(-100.0F, static_cast<float>(std::log(speed) / mean_exponent)) : -100.0F; }
// Energy of a row is kept where its times were moved to ticks.
double power_over(const PowerRow& row, double length_s, double ticked_s) {
    return std::abs(length_s - ticked_s) < 1e-9 * ticked_s ? row.power_W : row.power_W * (length_s / ticked_s);
}
struct ClosedAbove {
    double low_W, high_W;                    // of all cases
    Contact of(double power_W) const { return power_W > high_W ? Contact::closed : power_W <= low_W ? Contact::open : Contact::mixed; }
};

// What a step is beside the one before it.
struct Along {
    Contact before = Contact::open;
    double before_W = 0, closed_J = 0;       // closed_J: power × time so far, where all cases are closed
    bool fell = false;
    void set(Step& step, bool single_bit) {
        step.probed = step.contact == Contact::open && single_bit;
        step.released = step.probed && before != Contact::open;
        step.fell = fell = step.contact == Contact::closed && before == Contact::closed && step.power_W <= before_W && (step.power_W < before_W || fell);
        step.began = step.contact == Contact::closed && before != Contact::closed;
        before = step.contact;
        before_W = step.power_W;
    }
};

// Kept rows that are a step each: no more to be said of them.
struct EvenRows {
    std::span<const PowerRow> rows;          // and one that ends the last of them
    std::size_t count = 0;
    double from_s = 0, tick_s = 1, h_s = 0, mean_exponent = 0;
    std::uint32_t ticks = 0;
    ClosedAbove closed{};
    std::array<double, body_n> exponents{};
    bool same = false, exponents_differ = false;   // one exponent for all bodies; exponents differ from case to case
    int length = 0;

    double power_W(std::size_t i) const { return power_over(rows[i], rows[i + 1].t_s - rows[i].t_s, h_s); }
    void make(std::size_t i, Step& step) const {
        const PowerRow& r = rows[i];
        step.length = length;
        step.contact = closed.of(r.power_W);
        step.row_end = true;
        step.h_s = h_s;
        step.end_s = from_s + static_cast<double>((i + 1) * ticks) * tick_s;
        step.power_W = power_W(i);
        step.drying_W = static_cast<float>(r.drying_W);
        step.log_speed = exponents_differ ? log_speed_of(power_of(r.speed_mps, mean_exponent), mean_exponent) : -100.0F;
        if (same) step.speed_power.fill(static_cast<float>(power_of(r.speed_mps, exponents[0])));
        else
            for (std::size_t k = 0; k < body_n; ++k) step.speed_power[k] = static_cast<float>(power_of(r.speed_mps, exponents[k]));
    }
    // The same of steps from .. to - 1, at most `most` of them, of one case: nothing branches on what the rows hold. roots: in place, of so many values.
    static constexpr std::size_t most = 72;
    template <class Roots> void make(std::size_t from, std::size_t to, Along& along, const Roots& roots, Step* out) const {
        const std::size_t n = to - from;
        std::array<double, most> speed;
        for (std::size_t i = 0; i < n; ++i) speed[i] = rows[from + i].speed_mps;
        if (same && exponents[0] == 0.5) roots(speed.data(), static_cast<int>(n));
        else if (same && exponents[0] != 1)
            for (std::size_t i = 0; i < n; ++i) speed[i] = power_of(speed[i], exponents[0]);
        bool before = along.before == Contact::closed, fell = along.fell;
        double before_W = along.before_W, closed_J = along.closed_J;
        for (std::size_t i = 0; i < n; ++i) {
            const PowerRow& r = rows[from + i];
            Step& step = out[i];
            const bool on = r.power_W > closed.high_W;
            const double power = power_W(from + i);
            fell = on & before & (power <= before_W) & ((power < before_W) | fell);
            closed_J += on ? power * h_s : 0.0;
            step.length = length;
            step.contact = static_cast<Contact>(on);
            step.row_end = true;
            step.probed = !on;
            step.released = before & !on;
            step.fell = fell;
            step.began = on & !before;
            step.h_s = h_s;
            step.end_s = from_s + static_cast<double>((from + i + 1) * ticks) * tick_s;
            step.power_W = power;
            step.drying_W = static_cast<float>(r.drying_W);
            step.log_speed = -100.0F;
            step.speed_power.fill(static_cast<float>(speed[i]));
            before = on;
            before_W = power;
        }
        along.before = static_cast<Contact>(before), along.before_W = before_W, along.fell = fell, along.closed_J = closed_J;
        if (!same)
            for (std::size_t i = 0; i < n; ++i)
                for (std::size_t k = 0; k < body_n; ++k) out[i].speed_power[k] = static_cast<float>(power_of(rows[from + i].speed_mps, exponents[k]));
    }
    static_assert(static_cast<int>(Contact::open) == 0 && static_cast<int>(Contact::closed) == 1);
};

struct Schedule {
    double tick_s = 1, begin_s = 0;
    EvenRows first;                          // steps that are made when they are asked for; count 0: none
    std::vector<Step> steps;                 // the others, behind them
    std::size_t step_n() const { return first.count + steps.size(); }
    std::vector<std::uint32_t> ticks;        // of each length
    std::vector<char> open_used, closed_used;
    std::size_t row_ends = 0;                // with Keep::rows: one for each row
    double closed_J = 0;                     // power × time over those steps in which every case is closed, without `first`
    std::vector<std::size_t> mixed;          // steps in which cases differ
};

// What the times of the rows are like: found once, since it is a share of what one case takes.
struct Timing {
    double shortest_s = infinity, tick_s = 1;
    double even_s = 0;   // all rows are this long; 0: they differ
};

// The longest of these of which all rows are multiples, else a power of two that no row is shorter than.
double tick_of(std::span<const PowerRow> rows, double shortest, double even_s) {
    const auto off = [](double t, double q) {
        const double n = t / q;
        return std::abs(n - static_cast<double>(static_cast<std::int64_t>(n + 0.5))) * q;
    };
    for (const double q : {1.0, 0.5, 0.25, 0.2, 0.1, 0.05, 0.04, 0.02, 0.01, 0.005, 0.002, 0.001}) {
        if (q > shortest * 1.001) continue;
        bool fits = even_s == 0 || off(even_s, q) * static_cast<double>(rows.size()) < 0.9e-5;
        for (std::size_t i = 1; even_s == 0 && i < rows.size() && fits; ++i) fits = off(rows[i].t_s - rows[0].t_s, q) < 1e-5;
        if (fits) return q;
    }
    double q = 1.0 / 1024;
    while (q * 1.5 > shortest) q /= 2;
    return q;
}

// Fails as check_rows() does: both in one pass, a few rows at a time, since a long ride stands in far memory.
Result<Timing> timing_of(std::span<const PowerRow> rows, const one::Functions& f) {
    if (rows.size() < 2) return check_rows(rows).error();
    Timing t;
    const double from = rows[0].t_s, each = (rows.back().t_s - from) / static_cast<double>(rows.size() - 1);
    bool even = true, in_order = true;
    std::int32_t n = 0;
    double before_s = -std::numeric_limits<double>::max();
    for (std::size_t i = 0; i < rows.size(); i += 64) {
        const auto some = rows.subspan(i, std::min<std::size_t>(64, rows.size() - i));
        in_order = f.in_order(some, before_s) & in_order;
        for (const PowerRow& r : some) even = even & (std::abs(r.t_s - from - each * n++) < 1e-7);
        before_s = some.back().t_s;
    }
    if (!in_order)
        if (Status s = check_rows(rows); !s) return s.error();
    if (even && rows.size() > 2) {
        t.even_s = t.shortest_s = each;
    } else {
        for (std::size_t i = 1; i < rows.size(); ++i) t.shortest_s = std::min(t.shortest_s, rows[i].t_s - rows[i - 1].t_s);
    }
    t.tick_s = tick_of(rows, t.shortest_s, t.even_s);
    return t;
}

// Pieces of a stretch in powers of two, the short ones first: what follows a change moves fastest.
void binary_pieces(std::uint32_t n, std::uint32_t longest, std::vector<std::uint32_t>& out) {
    std::uint32_t top = 1;
    while (top * 2 <= longest) top *= 2;
    const std::uint32_t rest = n % top;
    for (std::uint32_t k = 1; k <= rest; k *= 2)
        if (rest & k) out.push_back(k);
    for (std::uint32_t k = 0; k < n / top; ++k) out.push_back(top);
}

Schedule schedule_of(std::span<const PowerRow> given, const Timing& timing, const ManyOptions& o, double closed_low_W, double closed_high_W,
                     const std::array<double, body_n>& exponents, double mean_exponent, bool exponents_differ, bool alone) {
    Schedule s;
    s.tick_s = timing.tick_s;
    if (o.cool_down_s > 0) {   // the end of the cool-down must fall on a tick too
        const double end_s = given.back().t_s - given[0].t_s + o.cool_down_s, n = end_s / s.tick_s;
        if (o.cool_down_s < timing.shortest_s || std::abs(n - std::round(n)) * s.tick_s >= 1e-5) {
            std::vector<PowerRow> all(given.begin(), given.end());
            all.push_back({.t_s = given.back().t_s + o.cool_down_s});
            s.tick_s = tick_of(all, std::min(timing.shortest_s, o.cool_down_s), 0);
        }
    }
    const double from_s = s.begin_s = given[0].t_s;
    const auto limit = [&](double seconds) { return static_cast<std::uint32_t>(std::clamp(std::floor(seconds / s.tick_s + 1e-6), 1.0, 1e6)); };
    const std::uint32_t closed_most = limit(o.longest_closed_s), open_most = limit(o.longest_open_s);
    std::uint32_t one_second = 1;   // or the next lower power of two
    while (one_second * 2 <= limit(1)) one_second *= 2;
    const bool keep = o.keep == Keep::rows;
    const ClosedAbove closed_above{closed_low_W, closed_high_W};
    const auto contact_of = [&](double power_W) { return closed_above.of(power_W); };
    constexpr std::uint64_t never = std::numeric_limits<std::uint64_t>::max();
    std::uint64_t released = never;   // when the brake was last let go
    Along along;
    const auto finish = [&](Step& step, bool single_bit) __attribute__((always_inline)) {
        if (step.contact == Contact::closed) s.closed_J += step.power_W * step.h_s;
        if (step.contact == Contact::mixed) s.mixed.push_back(s.steps.size() - 1);
        s.row_ends += step.row_end;
        along.set(step, single_bit);
    };

    // Kept rows that are a step each: no more to be said of them.
    const auto even_ticks = timing.even_s > 0 ? static_cast<std::uint32_t>(std::min(timing.even_s / s.tick_s + 0.5, 1e6)) : 0U;
    const bool on_ticks = std::abs(even_ticks * s.tick_s - timing.even_s) * static_cast<double>(given.size()) < 1e-5;
    const std::size_t even = keep && on_ticks && std::has_single_bit(even_ticks) && even_ticks <= std::min({one_second, closed_most, open_most}) ? given.size() - 1 : 0;
    bool even_open = false, even_closed = false;
    EvenRows evenly{.rows = given, .count = even, .from_s = from_s, .tick_s = s.tick_s, .h_s = even_ticks * s.tick_s, .mean_exponent = mean_exponent, .ticks = even_ticks, .closed = closed_above, .exponents = exponents,
                    .exponents_differ = exponents_differ};
    evenly.same = std::all_of(exponents.begin(), exponents.end(), [&](double m) { return m == exponents[0]; });
    if (alone && even > 0) {
        // From the end that has it soon: the rows are read as little as can be.
        const auto on = [&](const PowerRow& r) { return r.power_W > closed_high_W; };
        const auto ones = given.first(even);
        std::size_t last = even;   // behind the last closed one
        while (last > 0 && !on(ones[last - 1])) --last;
        even_closed = last > 0;
        even_open = last < even || !std::all_of(ones.begin(), ones.end(), on);
        if (even_closed) released = last * std::uint64_t{even_ticks};
        along.before = contact_of(given[even - 1].power_W);
        s.row_ends = even;
    } else if (even > 0) {
        s.steps.reserve(given.size() + 16);
        for (std::size_t i = 0; i < even; ++i) {
            Step& step = s.steps.emplace_back();
            evenly.make(i, step);
            if (step.contact != Contact::open) released = (i + 1) * std::uint64_t{even_ticks};
            if (step.contact != Contact::closed) even_open = true;
            if (step.contact != Contact::open) even_closed = true;
            finish(step, true);
        }
    }
    std::vector<PowerRow> longer;
    std::span<const PowerRow> rows = given.subspan(even);
    if (o.cool_down_s > 0) {
        longer.reserve(rows.size() + 1);
        longer.assign(rows.begin(), rows.end());
        longer.back() = {.t_s = longer.back().t_s};
        longer.push_back({.t_s = longer.back().t_s + o.cool_down_s});
        rows = longer;
    }
    const std::size_t n = rows.size() - 1;
    std::vector<std::uint64_t> at(rows.size());
    for (std::size_t i = 0; i <= n; ++i) at[i] = static_cast<std::uint64_t>((rows[i].t_s - from_s) / s.tick_s + 0.5);
    // Powers of the speeds; equal exponents share one column.
    std::array<std::vector<double>, body_n> column;
    std::array<std::size_t, body_n> uses{};
    for (std::size_t k = 0; k < body_n; ++k) {
        uses[k] = k;
        for (std::size_t j = 0; j < k; ++j)
            if (exponents[j] == exponents[k]) { uses[k] = uses[j]; break; }
        if (uses[k] != k) continue;
        column[k].resize(n);
        for (std::size_t i = 0; i < n; ++i)
            column[k][i] = i > 0 && rows[i].speed_mps == rows[i - 1].speed_mps ? column[k][i - 1] : power_of(rows[i].speed_mps, exponents[k]);
    }
    struct Piece {
        std::uint64_t begin;
        std::uint32_t ticks;
        std::uint32_t row;      // where it begins
        Contact contact;
        bool row_end;
    };
    std::vector<Piece> pieces;
    pieces.reserve(n + 16);
    std::vector<std::uint32_t> cut;
    for (std::size_t i = 0; i < n;) {
        const Contact contact = contact_of(rows[i].power_W);
        std::size_t j = i + 1;
        if (!keep) {
            // Where the speed jumps the arms may top: nothing is joined across it.
            const auto jumps = [&](double v) { return std::max(v, rows[i].speed_mps) > 2 * std::min(v, rows[i].speed_mps) + 1; };
            if (contact == Contact::open) while (j < n && contact_of(rows[j].power_W) == Contact::open && !jumps(rows[j].speed_mps)) ++j;
            else while (j < n && rows[j].power_W == rows[i].power_W && rows[j].speed_mps == rows[i].speed_mps && rows[j].drying_W == rows[i].drying_W) ++j;
        }
        const auto length = static_cast<std::uint64_t>(at[j] - at[i]);
        cut.clear();
        const std::uint32_t most = contact == Contact::open ? open_most : closed_most;
        if (contact == Contact::open) {
            // Behind a release the plate may peak within seconds; later all is slower: but for a second no step is longer than the time
            // since. Powers of two, which can be looked into.
            std::uint64_t left = length, since = released == never ? never / 2 : at[i] - released;
            while (left > 0) {
                const std::uint64_t may = std::min({std::uint64_t{most}, std::max(std::uint64_t{one_second}, since), left});
                const auto piece = static_cast<std::uint32_t>(std::bit_floor(may));
                cut.push_back(piece);
                left -= piece;
                since += piece;
            }
        } else {
            const auto rest = static_cast<std::uint32_t>(length % most);
            if (rest > 0) cut.push_back(rest);
            for (std::uint64_t k = 0; k < length / most; ++k) cut.push_back(most);
        }
        if (contact != Contact::open) released = at[j];
        std::uint64_t begin = at[i];
        std::size_t row = i;
        for (std::size_t c = 0; c < cut.size(); ++c) {
            while (at[row + 1] <= begin) ++row;
            pieces.push_back({begin, cut[c], static_cast<std::uint32_t>(row), contact, c + 1 == cut.size()});
            begin += cut[c];
        }
        i = j;
    }
    // Few lengths: the frequent ones stay, the others are cut into powers of two.
    std::map<std::uint32_t, std::size_t> count;
    const auto count_again = [&] {
        count.clear();
        if (even > 0) count[even_ticks] = even;
        std::size_t* last = nullptr;
        std::uint32_t ticks = 0;
        for (const Piece& p : pieces) {
            if (!last || p.ticks != ticks) last = &count[ticks = p.ticks];
            ++*last;
        }
    };
    count_again();
    if (count.size() > 8) {
        std::vector<std::pair<std::size_t, std::uint32_t>> order;
        for (const auto& [ticks, times] : count) order.push_back({times, ticks});
        std::sort(order.rbegin(), order.rend());
        for (std::size_t k = 6; k < order.size(); ++k) count.erase(order[k].second);
        std::vector<Piece> finer;
        for (const Piece& p : pieces) {
            if (count.contains(p.ticks)) { finer.push_back(p); continue; }
            cut.clear();
            binary_pieces(p.ticks, 1U << 30, cut);
            Piece q = p;
            for (std::size_t c = 0; c < cut.size(); ++c) {
                q.ticks = cut[c];
                q.row_end = p.row_end && c + 1 == cut.size();
                while (at[q.row + 1] <= q.begin) ++q.row;
                finer.push_back(q);
                q.begin += cut[c];
            }
        }
        pieces = std::move(finer);
        count_again();
    }
    for (const auto& [ticks, times] : count) s.ticks.push_back(ticks);
    s.open_used.assign(s.ticks.size(), 0);
    s.closed_used.assign(s.ticks.size(), 0);
    if (even > 0) {
        const auto l = static_cast<std::size_t>(std::lower_bound(s.ticks.begin(), s.ticks.end(), even_ticks) - s.ticks.begin());
        s.open_used[l] = even_open, s.closed_used[l] = even_closed;
        evenly.length = static_cast<int>(l);
        for (Step& step : s.steps) step.length = evenly.length;
        if (alone) s.first = evenly;
    }
    s.steps.reserve(s.steps.size() + pieces.size());
    for (const Piece& p : pieces) {
        Step& step = s.steps.emplace_back();
        step.length = static_cast<int>(std::lower_bound(s.ticks.begin(), s.ticks.end(), p.ticks) - s.ticks.begin());
        step.contact = p.contact;
        step.row_end = keep && p.row_end;
        step.h_s = p.ticks * s.tick_s;
        const std::uint64_t end = p.begin + p.ticks;
        step.end_s = from_s + static_cast<double>(end) * s.tick_s;
        double speed = 0, drying_W = 0;
        std::array<double, body_n> powers{};
        std::size_t row = p.row;
        if (at[row + 1] >= end) {
            for (std::size_t k = 0; k < body_n; ++k) powers[k] = column[uses[k]][row];
            drying_W = rows[row].drying_W;
            if (exponents_differ) speed = power_of(rows[row].speed_mps, mean_exponent);
        } else {
            for (std::uint64_t t = p.begin; t < end; ++row) {
                const std::uint64_t to = std::min(end, at[row + 1]);
                const double share = static_cast<double>(to - t) / p.ticks;
                for (std::size_t k = 0; k < body_n; ++k) powers[k] += share * column[uses[k]][row];
                drying_W += share * rows[row].drying_W;
                if (exponents_differ) speed += share * power_of(rows[row].speed_mps, mean_exponent);
                t = to;
            }
            row = p.row;
        }
        step.log_speed = log_speed_of(speed, mean_exponent);
        step.drying_W = static_cast<float>(drying_W);
        for (std::size_t k = 0; k < body_n; ++k) step.speed_power[k] = static_cast<float>(powers[k]);
        step.power_W = power_over(rows[row], rows[row + 1].t_s - rows[row].t_s, static_cast<double>(at[row + 1] - at[row]) * s.tick_s);
        const auto l = static_cast<std::size_t>(step.length);
        if (p.contact != Contact::closed) s.open_used[l] = 1;
        if (p.contact != Contact::open) s.closed_used[l] = 1;
        finish(step, std::has_single_bit(p.ticks));
    }
    return s;
}

// ---- groups of cases that run the same code ---------------------------------------------------------------------------

// The layout that is asked for, or the next richer one.
struct LayoutOf {
    int order, modes, plate_modes, sides;
};
constexpr LayoutOf layouts[] = {
#define BW_ENGINE_LAYOUT(P, M, Q, S) {P, M, Q, S},
    BW_ENGINE_LAYOUTS(BW_ENGINE_LAYOUT)
#undef BW_ENGINE_LAYOUT
};
// Two sides that no layout resolves: the plain solver's, said by sides = 0.
LayoutOf layout_for(int order, int modes, int plate_modes, int sides) {
    for (const LayoutOf& l : layouts)
        if (l.sides == sides && l.order >= order && l.modes >= modes && l.plate_modes >= plate_modes) return l;
    return sides == 1 ? LayoutOf{10, 1, 1, 1} : LayoutOf{0, 0, 0, 0};
}
// What this brake asks of the layers and of the plate, in rows as short as these.
LayoutOf layout_of(const ReferenceBrake& b, double shortest_s, int friction_order) {
    const int sides = b.other ? 2 : 1;
    double depth = 0, plate_rate = infinity;
    for (int side = 0; side < sides; ++side) {
        const PadSide p = pad_side(b, side);
        const double diffusivity = p.friction->conductivity_W_mK / (p.friction->density_kg_m3 * p.friction->heat_capacity_J_kgK);
        depth = std::max(depth, p.friction->thickness_m / std::sqrt(diffusivity * shortest_s));
        plate_rate = std::min(plate_rate, plate_mode_rate(*p.plate));
    }
    return layout_for(friction_order > 0 ? friction_order : depth < 2.5 ? 3 : depth < 5 ? 4 : depth < 9 ? 6 : depth < 14 ? 8 : 10, rotor_mode_rate(b) * shortest_s < 5 ? 1 : 0,
                      plate_rate * shortest_s < 8 ? 1 : 0, sides);
}

struct Group {
    LayoutOf layout{3, 0, 0, 1};
    int halvings = 16;
    std::array<double, body_n> exponents{};
    bool operator<(const Group& o) const {
        return std::tie(layout.order, layout.modes, layout.plate_modes, layout.sides, halvings, exponents) <
               std::tie(o.layout.order, o.layout.modes, o.layout.plate_modes, o.layout.sides, o.halvings, o.exponents);
    }
};

struct Job {
    const ManyOptions* options;
    Isa isa;
    std::span<const ReferenceBrake> brakes;
    std::vector<std::size_t> members;     // of the group, in order
    const Schedule* schedule;
    bool exponents_differ, alone;         // alone: the states of one brake in the lanes
    int halvings;
    const std::vector<const BandModes*>* modes;   // [brakes] with bands
    std::vector<CaseRun>* out;
    std::vector<char>* unsound;           // [brakes]: set where a run must not be handed out
};

template <class T, int P, int M, int Q, int S> class BlockRun {
    using L = Layout<P, M, Q, S>;
    static constexpr int N = L::n, outs = outs_of(S);
    static constexpr std::size_t w = W;

public:
    BlockRun(const Job& job, std::size_t first) : job_(job), first_(first), n_(static_cast<int>(std::min(job.members.size() - first, w))) {}

    void run() {
        const Functions<T, P, M, Q, S> f = functions<T, P, M, Q, S>(job_.isa);
        const Schedule& s = *job_.schedule;
        const std::size_t lengths = s.ticks.size();
        lanes();
        if constexpr (S == 1 && std::is_same_v<T, double>)
            if (job_.alone) return run_alone();
        auto open = propagators(f, false), closed = propagators(f, true);
        auto side = sides();
        std::vector<const Propagator<T, N, S>*> open_at(lengths), closed_at(lengths);
        for (std::size_t l = 0; l < lengths; ++l) {
            open_at[l] = open[l].get();
            closed_at[l] = closed[l].get();
        }
        auto block = std::make_unique<Block<T, N, S>>();
        block->open = open_at.data();
        block->closed = closed_at.data();
        block->side = side.get();
        block->lanes = lanes_.get();
        block->friction_share = element_of(P).share.data();
        block->steps = s.steps.data();
        block->step_n = s.steps.size();
        block->exponents_differ = job_.exponents_differ;
        std::unique_ptr<T[], void (*)(T*)> trace(nullptr, [](T* p) { ::operator delete[](p, std::align_val_t{64}); });
        if (job_.options->keep == Keep::rows) {
            trace.reset(static_cast<T*>(::operator new[](sizeof(T) * s.row_ends * (outs + 1) * w, std::align_val_t{64})));
        }
        block->trace = trace.get();
        std::unique_ptr<Rings<T>> rings;
        std::unique_ptr<RingLength<T>[]> ring_lengths;
        std::vector<T> ring_trace;
        if (!job_.options->bands.empty()) {
            rings = std::make_unique<Rings<T>>();
            ring_lengths = std::make_unique<RingLength<T>[]>(lengths);
            set_rings(*rings, ring_lengths.get());
            if (rings->keep_top) ring_trace.resize(s.row_ends * w + 64 / sizeof(T));   // stores are of whole, aligned vectors
        }
        block->ring_trace = ring_trace.empty() ? nullptr : reinterpret_cast<T*>((reinterpret_cast<std::uintptr_t>(ring_trace.data()) + 63) / 64 * 64);
        block->rings = rings.get();
        f.run(*block, n_);
        for (int k = 0; k < n_; ++k) collect(*block, k);
    }

private:
    const ReferenceBrake& brake(int lane) const { return job_.brakes[job_.members[first_ + static_cast<std::size_t>(std::min(lane, n_ - 1))]]; }

    void lanes() {
        lanes_ = std::make_unique<LaneData<T>>();
        LaneData<T>& c = *lanes_;
        for (int k = 0; k < filled_; ++k) {
            const ReferenceBrake& b = brake(k);
            const auto set = [&](T* p, double v) { p[k] = static_cast<T>(v); };
            set(c.half_scale, b.power_scale / 2);
            set(c.closed_above, b.power_scale > 0 ? b.closed_above_W / b.power_scale : 1e30);
            const double covered = S == 1 ? b.friction.area_m2 : (b.friction.area_m2 + b.other->friction.area_m2) / 2;
            const double rotor_area = b.rotor.face_area_m2 - covered + b.rotor.edge_area_m2;
            const auto body = [&](int i, const Convection& v, double area, double emissivity) {
                set(c.conv_a[i], v.a * area);
                set(c.conv_b[i], v.b * area);
                set(c.conv_m[i], v.m);
                set(c.radiation[i], emissivity * stefan_boltzmann * area);
            };
            body(B_ROTOR, b.rotor.convection, rotor_area, b.rotor.emissivity);
            body(B_CALIPER, b.caliper.convection, b.caliper.area_m2, b.caliper.emissivity);
            body(B_ARMS, b.arms.convection, b.arms.area_m2, b.arms.emissivity);
            body(B_HUB, b.hub.convection, b.hub.area_m2, 0);
            set(c.ambient_K, b.ambient_degC + kelvin);
            c.ambient4[k] = c.ambient_K[k] * c.ambient_K[k] * (c.ambient_K[k] * c.ambient_K[k]);
            set(c.arms_link, b.links_W_K.rotor_arms);
            set(c.hub_link, b.links_W_K.arms_hub);
            set(c.arms_per_J_K, 1 / b.arms.heat_capacity_J_K);
            set(c.start, b.start_degC - b.ambient_degC);
        }
    }

    std::vector<std::unique_ptr<Propagator<T, N, S>>> propagators(const Functions<T, P, M, Q, S>& f, bool closed) {
        const Schedule& s = *job_.schedule;
        const std::vector<char>& used = closed ? s.closed_used : s.open_used;
        std::vector<std::unique_ptr<Propagator<T, N, S>>> out(s.ticks.size());
        std::uint32_t bits = 0;
        for (std::size_t l = 0; l < s.ticks.size(); ++l)
            if (used[l]) bits |= s.ticks[l];
        if (bits == 0) return out;
        auto generator = std::make_unique<Generator<N>>();
        for (int k = 0; k < W; ++k) assemble<P, M, Q, S>(brake(k), closed, *generator, k);
        for (int side = 0; side < S; ++side)   // behind the plate both contact states are alike
            for (int i = 0; i < piston_rates; ++i) {
                const int place[] = {L::joint, L::plate, L::plate_mode, L::piston, L::fluid, L::caliper}, at = i < 5 ? side * L::block : 0;
                for (int k = 0; k < W; ++k) lanes_->piston_rate[side * piston_rates + i][k] = static_cast<T>(generator->a[L::piston + side * L::block][place[i] + at][k]);
            }
        // The lowest bit that is used is the first rung.
        int low = 0, high = 0;
        while (!(bits >> low & 1U)) ++low;
        while (high < 31 && bits >> (high + 1)) ++high;
        low -= probe_n;
        auto rungs = std::make_unique_for_overwrite<Generator<N>[]>(static_cast<std::size_t>(high - low + 1));
        f.ladder(*generator, {.base_s = std::ldexp(s.tick_s, low), .halvings = job_.halvings + low, .last = high - low, .rung = rungs.get()});
        auto sum = std::make_unique_for_overwrite<Generator<N>>();
        for (std::size_t l = 0; l < s.ticks.size(); ++l) {
            if (!used[l]) continue;
            const Generator<N>* whole = nullptr;
            for (int bit = std::max(low, 0); bit <= high; ++bit) {
                if (!(s.ticks[l] >> bit & 1U)) continue;
                if (!whole) {
                    whole = &rungs[static_cast<std::size_t>(bit - low)];
                } else {
                    if (whole != sum.get()) *sum = *whole;
                    whole = sum.get();
                    f.combine(*sum, rungs[static_cast<std::size_t>(bit - low)]);
                }
            }
            out[l] = std::make_unique_for_overwrite<Propagator<T, N, S>>();
            fill(*whole, s.ticks[l] * s.tick_s, closed, *out[l]);
            const int top = static_cast<int>(std::bit_width(s.ticks[l])) - (whole == sum.get() ? 1 : 2);   // the longest rung within the step
            if (closed || whole != sum.get()) probes(&rungs[static_cast<std::size_t>(top + 1 - probe_n - low)], std::ldexp(s.tick_s, top), closed, *out[l]);
        }
        return out;
    }

    // rung: the probe_n longest ones within the step, the last over longest_s.
    static void probes(const Generator<N>* rung, double longest_s, bool closed, Propagator<T, N, S>& p) {
        for (int q = 0; q < probe_n; ++q) {
            p.probe_s[q] = std::ldexp(longest_s, q + 1 - probe_n);
            for (int side = 0; side < S; ++side) {
                const int at = side * probe_n + q;
                const auto row = [&](int state, T (*out)[W], T (*of)[W]) {
                    for (int j = 0; j < N; ++j)
                        for (int k = 0; k < W; ++k) out[j][k] = static_cast<T>(rung[q].a[state][j][k]);
                    for (int j = 0; closed && j < source_n; ++j)
                        for (int k = 0; k < W; ++k) of[j][k] = static_cast<T>(rung[q].a[state][N + j][k]);
                };
                row(L::plate + side * L::block, p.probe[at], p.probe_of[at]);
                if (!closed) continue;
                row(L::face + side * L::block, p.face_probe[at], p.face_of[at]);
                const std::vector<double>& share = element_of(P).share;
                const auto mean = [&](int j, int k) {
                    double sum = 0;
                    for (std::size_t i = 0; i <= P; ++i) sum += share[i] * rung[q].a[L::face + side * L::block + static_cast<int>(i)][j][k];
                    return static_cast<T>(sum);
                };
                for (int j = 0; j < N; ++j)
                    for (int k = 0; k < W; ++k) p.pad_probe[at][j][k] = mean(j, k);
                for (int j = 0; j < source_n; ++j)
                    for (int k = 0; k < W; ++k) p.pad_of[at][j][k] = mean(N + j, k);
                if (side == 0) row(L::rotor, p.rotor_probe[q], p.rotor_of[q]);
            }
        }
    }

    void fill(const Generator<N>& g, double h, bool closed, Propagator<T, N, S>& p) const {
        for (int i = 0; i < N; ++i)
            for (int j = 0; j < N + source_n; ++j)
                for (int k = 0; k < W; ++k) p.d[i][j][k] = static_cast<T>(g.a[i][j][k]);
        const double per_h = 1 / h;
        for (int j = 0; j < N + POWER + 1; ++j)
            for (int k = 0; k < W; ++k) p.mean[j][k] = static_cast<T>(g.rotor[j][k] * per_h - (j == 0 ? 1 : 0));
        for (int k = 0; k < W; ++k) {
            const ReferenceBrake& b = brake(k);
            const double c = rotor_capacity(b), r = face_resistance<M>(b);
            [[maybe_unused]] const double contact = (closed ? b.contact_W_m2K : b.gap_W_m2K) * b.friction.area_m2;
            double to_face = r, back = 0;
            if constexpr (M > 0) {
                const double stiff = c / 2 * rotor_mode_rate(b) + b.links_W_K.rotor_arms / 2;
                to_face += 1 / stiff;
                back = c / 2 / stiff / h;
            }
            const double rise = to_face * c / h;
            const auto set = [&](T* x, double v) { x[k] = static_cast<T>(v); };
            const double loss0 = g.a[0][N + LOSS][k], half_arms = h / (2 * c);
            const double loss1 = M > 0 ? g.a[M > 0 ? 1 : 0][N + LOSS][k] : 0;
            set(p.mean_of_rise, rise);
            set(p.mode_back, back);
            // Open, the rotor's mean over the step is taken as that of its two ends.
            const double loss_mean = closed ? g.rotor[N + LOSS][k] * per_h : loss0 / 2, arms_mean = closed ? g.rotor[N + ARMS_FLOW][k] * per_h : half_arms;
            set(p.loss_feedback, loss_mean + rise * loss0 - back * loss1);
            set(p.loss_half, loss_mean);
            set(p.arms_half, arms_mean);
            set(p.arms_feedback, arms_mean);   // acts on the mean, not through the face
            set(p.caliper_half, h / (2 * b.caliper.heat_capacity_J_K));
            if constexpr (S == 1) {
                const double pad = 1 / (1 + 1 / (r * contact));   // 1 in perfect contact
                set(p.surface_pad, pad);
                set(p.surface_rotor, 1 - pad);
                set(p.surface_W, r * (1 - pad));
            } else {
                const TwoFaces f = two_faces<M>(b, closed);
                set(p.surface_pad, (f.pad[0][0] + f.pad[1][0]) / 2);
                set(p.surface_other, (f.pad[0][1] + f.pad[1][1]) / 2);
                set(p.surface_rotor, (f.rotor[0] + f.rotor[1]) / 2);
                set(p.surface_W, (f.watt[0] + f.watt[1]) / 2);
                set(p.apart_pad, (f.pad[0][0] - f.pad[1][0]) / 2);
                set(p.apart_other, (f.pad[0][1] - f.pad[1][1]) / 2);
                set(p.apart_rotor, (f.rotor[0] - f.rotor[1]) / 2);
                set(p.apart_W, (f.watt[0] - f.watt[1]) / 2);
                set(p.apart_link, 1 / uneven_resistance(b));
            }
            set(p.settle, 1 / (rotor_mode_rate(b) * h));
            set(p.face_link, 1 / r);
        }
    }

    std::unique_ptr<Side<T>[]> sides() const {
        const Schedule& s = *job_.schedule;
        auto out = std::make_unique<Side<T>[]>(s.ticks.size());
        std::uint32_t bits = 0;
        for (const std::uint32_t t : s.ticks) bits |= t;
        std::vector<Small> rung;
        for (int k = 0; k < W; ++k) {
            const ReferenceBrake& b = brake(k);
            const double ca = b.arms.heat_capacity_J_K, ch = b.hub.heat_capacity_J_K, link = b.links_W_K.rotor_arms;
            Small x = small_base(b, std::ldexp(s.tick_s, -job_.halvings));
            for (int i = 0; i < job_.halvings; ++i) x = twice(x, x);
            rung.assign(1, x);
            for (std::uint32_t m = 2; m <= bits && m != 0; m *= 2) rung.push_back(twice(rung.back(), rung.back()));
            for (std::size_t l = 0; l < s.ticks.size(); ++l) {
                std::optional<Small> d;
                for (std::size_t bit = 0; bit < rung.size(); ++bit)
                    if (s.ticks[l] >> bit & 1U) d = d ? twice(*d, rung[bit]) : rung[bit];
                const double h = s.ticks[l] * s.tick_s;
                T* const arms[] = {out[l].aa, out[l].ah, out[l].ar, out[l].ala, out[l].alh};
                T* const hub[] = {out[l].ha, out[l].hh, out[l].hr, out[l].hla, out[l].hlh};
                T* const mean[] = {out[l].ma, out[l].mh, out[l].mr, out[l].mla, out[l].mlh};
                for (int j = 0; j < 5; ++j) {
                    arms[j][k] = static_cast<T>(d->d[0][j]);
                    hub[j][k] = static_cast<T>(d->d[1][j]);
                    // What the arms and the hub gain is what came over the link less the losses: that fixes the mean.
                    const double gain = ca * d->d[0][j] + ch * d->d[1][j];
                    const double m = link > 1e-9 ? (j >= 3 ? h - gain : (j == 2 ? h * link : 0) - gain) / (h * link) : j == 0 ? 1 : 0;
                    mean[j][k] = static_cast<T>(m);
                }
            }
        }
        return out;
    }

    void set_rings(Rings<T>& r, RingLength<T>* length) const {
        const Schedule& s = *job_.schedule;
        r.length = length;
        r.keep_top = job_.options->keep == Keep::rows;
        for (int k = 0; k < filled_; ++k) {
            const ReferenceBrake& b = brake(k);
            const std::size_t index = job_.members[first_ + static_cast<std::size_t>(std::min(k, n_ - 1))];
            const RingShape shape = ring_shape(b, job_.options->bands[index], *job_.modes->at(index));
            const auto set = [&](T* p, double v) { p[k] = static_cast<T>(v); };
            for (std::size_t m = 0; m < ring_modes; ++m) {
                set(r.heat[m], shape.heat[m]);
                set(r.loss[m], shape.loss[m]);
                set(r.rim[m], shape.rim[m]);
                set(r.inner[m], shape.inner[m]);
                double most = 0;
                for (std::size_t i = 0; i < ring_places; ++i) {
                    set(r.at[i][m], shape.at[i][m]);
                    most = std::max(most, std::abs(shape.at[i][m]));
                }
                set(r.most[m], most);
                r.a[m][k] = 0;
                for (std::size_t l = 0; l < s.ticks.size(); ++l) {
                    const double h = s.ticks[l] * s.tick_s, x = shape.rate[m] * h, keep = std::exp(-x);
                    set(length[l].keep[m], keep);
                    set(length[l].gain[m], (1 - keep) / shape.rate[m] / rotor_capacity(b));
                }
            }
            for (std::size_t l = 0; l < s.ticks.size(); ++l) {
                double sink = 0;
                for (std::size_t m = 0; m < ring_modes; ++m) sink += static_cast<double>(length[l].gain[m][k]) * shape.inner[m] * shape.inner[m] / 2;
                set(length[l].sink, sink);
                set(length[l].damped, 1 / (1 + b.links_W_K.rotor_arms * sink));
            }
            set(r.rim_share, shape.rim_share);
            set(r.cover_share, shape.cover_share);
            set(r.per_J_K, 1 / rotor_capacity(b));
            set(r.arms_per_J_K, 1 / b.arms.heat_capacity_J_K);
            set(r.surface_in, shape.surface_in);
            set(r.surface_loss, shape.surface_loss);
            r.mean[k] = r.arms[k] = 0;
            r.hottest[k] = r.top[k] = lanes_->start[k];
        }
    }

    // ---- one case: its states in the lanes [EQ heat-42] ----

    static constexpr int states = N + 2;
    // Lane of a state of the layout.
    static constexpr int lane_at(int i) { return i == L::rotor ? one::ROTOR : i == L::caliper ? one::CALIPER : one::rest_at + i - 1; }
    static constexpr int column_at(int i) { return i == L::rotor ? one::ROTOR : i == L::caliper ? one::CALIPER : one::bodies + i - 1; }

    // Rates [1/s] and sources [K/J] of the network with arms and hub.
    one::Matrix rates(bool closed) const {
        const ReferenceBrake& b = brake(0);
        auto g = std::make_unique_for_overwrite<Generator<N>>();
        assemble<P, M, Q, S>(b, closed, *g, 0);
        one::Matrix m{};
        const double link = b.links_W_K.rotor_arms, to_hub = b.links_W_K.arms_hub, arms = b.arms.heat_capacity_J_K, hub = b.hub.heat_capacity_J_K;
        const auto loss = [&](int body) -> double(&)[one::lanes_most] { return m.column[states + one::S_LOSS + body]; };
        for (int i = 0; i < N; ++i) {
            for (int j = 0; j < N; ++j) m.column[column_at(j)][lane_at(i)] = g->a[i][j][0];
            m.column[states + one::S_POWER][lane_at(i)] = g->a[i][N + POWER][0];
            loss(one::ROTOR)[lane_at(i)] = -g->a[i][N + LOSS][0];
        }
        const double per_rotor = 1 / rotor_capacity(b);
        m.column[one::ROTOR][one::ROTOR] -= link * per_rotor;
        m.column[one::ARMS][one::ROTOR] += link * per_rotor;
        m.column[one::ROTOR][one::ARMS] = link / arms;
        m.column[one::ARMS][one::ARMS] = -(link + to_hub) / arms;
        m.column[one::HUB][one::ARMS] = to_hub / arms;
        m.column[one::ARMS][one::HUB] = to_hub / hub;
        m.column[one::HUB][one::HUB] = -to_hub / hub;
        loss(one::CALIPER)[one::CALIPER] = -1 / b.caliper.heat_capacity_J_K;
        loss(one::ARMS)[one::ARMS] = -1 / arms;
        loss(one::HUB)[one::HUB] = -1 / hub;
        return m;
    }

    // What is looked for at 1/64, 1/32 and the sixteenths of the longest power of two of the tick within a step: what is added to its start.
    struct Within {
        int eights = 0;                                // of times; 0: not made
        std::vector<one::EightTimes> times;            // [looked][states + sources][eights]
    };
    // The rungs of one contact state from 1/64 of the shortest step on, and the matrices of the steps.
    struct Rungs {
        std::vector<one::Matrix> rung, step;           // step: [lengths]
        std::vector<const one::Matrix*> of_length, look;   // [lengths]; look: over 1/64 of the longest power of two of the tick within the step
        one::Matrix rate;                              // [1/s]
        one::Matrix slope;                             // of what is looked for [1/s]
        std::vector<Within> within;                    // [lengths], made when asked for
    };
    // State of what is looked for, but for the pad's mean.
    static constexpr std::array<int, one::looked> lane_looked = {one::ROTOR, one::CALIPER, one::ARMS, one::HUB, lane_at(L::face), -1, lane_at(L::plate), lane_at(L::piston), lane_at(L::fluid)};
    // Of what is looked for the weights of the states, as columns.
    static one::Matrix weights_looked() {
        one::Matrix m{};
        const auto column = [&](int lane) -> double(&)[one::lanes_most] { return m.column[lane < one::bodies ? lane : lane - one::bodies]; };
        for (std::size_t i = 0; i < one::looked; ++i)
            if (lane_looked[i] >= 0) column(lane_looked[i])[i] = 1;
        for (std::size_t q = 0; q <= P; ++q) column(lane_at(L::face) + static_cast<int>(q))[one::L_PAD] = element_of(P).share[q];
        return m;
    }
    void make_within(const one::Functions& f, const one::Matrix* rung, std::uint32_t ticks, Within& out) const {
        const int sixteenths = static_cast<int>(std::uint64_t{16} * ticks / std::bit_floor(ticks)), count = sixteenths + 2;
        constexpr int columns = states + one::source_count;
        out.eights = (count + 7) / 8;
        out.times.resize(static_cast<std::size_t>(one::looked * columns * out.eights));
        const one::Matrix weights = weights_looked();
        one::Matrix sum{}, at = weights, more{};   // sum: what is added; at: with the weights
        for (int k = 0; k < out.eights * 8; ++k) {
            if (k < count) {
                f.multiply(at, rung[k < 2 ? 0 : k == 2 ? 1 : 2], more, states, false);
                for (int j = 0; j < columns; ++j)
                    for (int i = 0; i < one::looked; ++i) {
                        sum.column[j][i] += more.column[j][i];
                        at.column[j][i] = weights.column[j][i] + sum.column[j][i];
                    }
            }
            for (int i = 0; i < one::looked; ++i)
                for (int j = 0; j < columns; ++j) out.times[static_cast<std::size_t>((i * columns + j) * out.eights + k / 8)].lane[k % 8] = sum.column[j][i];
        }
    }
    static void ladder_alone(const one::Functions& f, const one::Matrix& x, double h_s, int halvings, std::vector<one::Matrix>& rung) {
        auto work = std::make_unique_for_overwrite<one::Matrix[]>(3);
        one::Matrix &sum = work[0], &term = work[1], &next = work[2];
        sum = term = x;
        constexpr int columns = states + one::source_count;
        for (int b = 0; b < one::bodies; ++b)
            for (int j = 0; j < columns; ++j) sum.column[j][one::bodies + b] = h_s * ((j == b ? 1 : 0) + x.column[j][b] / 2);
        for (int q = 2; q <= 4; ++q) {
            f.multiply(term, x, next, states, false);
            for (int j = 0; j < columns; ++j)
                for (int i = 0; i < one::lanes_for(states); ++i) {
                    const double t = term.column[j][i] = next.column[j][i] / q;
                    if (i < one::bodies || i >= one::rest_at) sum.column[j][i] += t;
                    if (i < one::bodies && q < 4) sum.column[j][one::bodies + i] += h_s * t / (q + 1);
                }
        }
        for (int i = 0; i < halvings; ++i) {
            f.multiply(sum, sum, i + 1 == halvings ? rung[0] : next, states, true);
            if (i + 1 < halvings) std::swap(sum, next);
        }
        if (halvings <= 0) rung[0] = sum;
        for (std::size_t k = 1; k < rung.size(); ++k) f.multiply(rung[k - 1], rung[k - 1], rung[k], states, true);
    }
    Rungs rungs_alone(const one::Functions& f, bool closed) const {
        const Schedule& s = *job_.schedule;
        const std::vector<char>& used = closed ? s.closed_used : s.open_used;
        Rungs out;
        out.of_length.assign(s.ticks.size(), nullptr);
        out.look.assign(s.ticks.size(), nullptr);
        std::uint32_t bits = 0;
        for (std::size_t l = 0; l < s.ticks.size(); ++l)
            if (used[l]) bits |= s.ticks[l];
        if (bits == 0) return out;
        const int low = std::countr_zero(bits) - one::looks, high = static_cast<int>(std::bit_width(bits)) - 1;
        out.rate = rates(closed);
        out.within.resize(s.ticks.size());
        f.multiply(weights_looked(), out.rate, out.slope, states, false);
        const int doublings = std::max(job_.halvings + low, 0);   // up to the first rung, which may be shorter than what the series needs
        const double shortest_s = std::ldexp(s.tick_s, low - doublings);
        one::Matrix x = out.rate;
        for (auto& column : x.column)
            for (double& v : column) v *= shortest_s;
        out.rung.resize(static_cast<std::size_t>(high - low + 1));
        ladder_alone(f, x, shortest_s, doublings, out.rung);
        out.step.resize(s.ticks.size());
        auto more = std::make_unique_for_overwrite<one::Matrix>();
        for (std::size_t l = 0; l < s.ticks.size(); ++l) {
            if (!used[l]) continue;
            one::Matrix& m = out.step[l];
            bool any = false;
            for (int bit = std::max(low, 0); bit <= high; ++bit) {
                if (!(s.ticks[l] >> bit & 1U)) continue;
                const one::Matrix& r = out.rung[static_cast<std::size_t>(bit - low)];
                if (!any) {
                    m = r;
                } else {   // m, then r: m + r + r m
                    f.multiply(r, m, *more, states, false);
                    for (int j = 0; j < states + one::source_count; ++j)
                        for (int i = 0; i < one::lanes_for(states); ++i) m.column[j][i] += r.column[j][i] + more->column[j][i];
                }
                any = true;
            }
            out.look[l] = &out.rung[static_cast<std::size_t>(static_cast<int>(std::bit_width(s.ticks[l])) - 1 - one::looks - low)];
            means(m, s.ticks[l] * s.tick_s);
            out.of_length[l] = &m;
        }
        return out;
    }
    // Integrals to means less the start; the rotor's to that of its surface, bent by what enters at the face [EQ heat-24].
    void means(one::Matrix& m, double h_s) const {
        const ReferenceBrake& b = brake(0);
        const double c = rotor_capacity(b), link = b.links_W_K.rotor_arms;
        double to_face = face_resistance<M>(b), back = 0;
        if constexpr (M > 0) {
            const double stiff = c / 2 * rotor_mode_rate(b) + link / 2;
            to_face += 1 / stiff;
            back = c / 2 / stiff / h_s;
        }
        for (int j = 0; j < states + one::source_count; ++j) {
            double* lane = m.column[j];
            const double arms_flow = link * (lane[one::bodies + one::ROTOR] - lane[one::bodies + one::ARMS]);   // [J]
            for (int i = 0; i < one::bodies; ++i) lane[one::bodies + i] = lane[one::bodies + i] / h_s - (j == i ? 1 : 0);
            lane[one::bodies + one::ROTOR] += to_face / h_s * (c * lane[one::ROTOR] + arms_flow);
            if constexpr (M > 0) lane[one::bodies + one::ROTOR] -= back * lane[lane_at(1)];
        }
        for (int i = 0; i < one::bodies; ++i) m.feedback[i] = -m.column[states + one::S_LOSS + i][one::bodies + i];
    }

    // What the march takes, in its precision.
    static constexpr int chunk = one::march_most;
    template <class U> struct Walk {
        std::array<const one::MatrixOf<U>*, chunk> matrix{};
        std::array<const one::Carried<U>*, chunk> carried{};
        one::Carried<U> none{};
        one::Constants<U> constants{};
        std::vector<std::unique_ptr<one::MatrixOf<U>>> of_kind;   // of steps: length and contact
        std::vector<std::unique_ptr<one::Carried<U>>> of_pair;

        Walk(const LaneData<T>& d, std::size_t kinds) : of_kind(kinds), of_pair(kinds * kinds) {
            constexpr int body_of[] = {B_ROTOR, B_CALIPER, B_ARMS, B_HUB};
            for (int i = 0; i < one::bodies; ++i) {
                constants.conv_a[i] = static_cast<U>(d.conv_a[body_of[i]][0]);
                constants.conv_b[i] = static_cast<U>(d.conv_b[body_of[i]][0]);
                constants.radiation[i] = static_cast<U>(d.radiation[body_of[i]][0]);
            }
            constants.ambient_K = static_cast<U>(d.ambient_K[0]);
            constants.half_scale = d.half_scale[0];
        }
        // Step i of a chunk, behind one of kind `before`; matrix_of(kind): that of the network.
        template <class MatrixOf> void set(std::size_t i, std::size_t before, std::size_t kind, const MatrixOf& matrix_of) {
            if (!of_kind[kind]) {
                const one::Matrix& m = matrix_of(kind);
                auto& own = of_kind[kind] = std::make_unique<one::MatrixOf<U>>();
                for (int j = 0; j < states + one::source_count; ++j) std::copy_n(m.column[j], one::lanes_for(states), own->column[j]);
                std::copy_n(m.feedback, one::bodies, own->feedback);
            }
            matrix[i] = of_kind[kind].get();
            carried[i] = &none;
            if (i == 0) return;
            auto& pair = of_pair[before * of_kind.size() + kind];
            if (!pair) pair = carried_of(matrix_of(before), matrix_of(kind));
            carried[i - 1] = pair.get();
        }
        static std::unique_ptr<one::Carried<U>> carried_of(const one::Matrix& from, const one::Matrix& to) {
            auto out = std::make_unique<one::Carried<U>>();
            for (int b = 0; b < one::bodies; ++b) {
                double sum[one::lanes_most] = {};
                for (int j = 0; j < states; ++j) {
                    const double x = from.column[states + one::S_LOSS + b][one::lane_of(j)];
                    for (int i = 0; i < one::lanes_for(states); ++i) sum[i] += to.column[j][i] * x;
                }
                std::copy_n(sum, one::lanes_for(states), out->column[b]);
                for (int i = 0; i < one::bodies; ++i) out->over[b][i] = static_cast<U>(sum[one::bodies + i] + from.column[states + one::S_LOSS + b][i]);
            }
            return out;
        }
    };

    void run_alone() {
        static_assert(one::rest_at + N - 2 <= one::lanes_most && states <= one::states_most);
        using one::ROTOR, one::ARMS, one::HUB;
        const one::Functions f = one::functions(job_.isa);
        const Schedule& s = *job_.schedule;
        const ReferenceBrake& b = brake(0);
        CaseRun& out = (*job_.out)[job_.members[first_]];
        Rungs of[2] = {rungs_alone(f, false), rungs_alone(f, true)};
        const double r = face_resistance<M>(b);
        one::Derived derived{};
        for (const bool on : {false, true}) {
            const double pad = 1 / (1 + 1 / (r * (on ? b.contact_W_m2K : b.gap_W_m2K) * b.friction.area_m2));
            derived.surface_pad[on] = pad;
            derived.surface_rotor[on] = 1 - pad;
            derived.surface_W[on] = r * (1 - pad);
        }
        std::copy_n(element_of(P).share.begin(), P + 1, derived.share);
        derived.into_rotor_W_K = 1 / r;
        derived.ambient_degC = b.ambient_degC;
        std::array<one::State, chunk + 2> state;   // two before the first step of a chunk
        std::array<one::Done, chunk + 1> done{};
        std::array<unsigned char, chunk> top{};
        const auto matrix_of = [&](std::size_t kind) -> const one::Matrix& { return *of[kind % 2].of_length[kind / 2]; };   // kind of a step: length and contact
        const auto kind_of = [](const Step& step) { return static_cast<std::size_t>(step.length) * 2 + (step.contact == Contact::closed ? 1 : 0); };
        const std::size_t kinds = 2 * s.ticks.size();
        const bool single = job_.options->precision == Precision::single_precision;
        Walk<float> narrow(*lanes_, single ? kinds : 0);
        Walk<double> full(*lanes_, single ? 0 : kinds);
        const one::Constants<double>& c = full.constants;
        one::State highest{};
        const double start = lanes_->start[0];
        state[0] = {};
        for (int i = 0; i < N; ++i) state[0].lane[lane_at(i)] = start;
        if constexpr (M > 0) state[0].lane[lane_at(1)] = 0;
        if constexpr (Q > 0) state[0].lane[lane_at(L::plate_mode)] = 0;
        state[0].lane[ARMS] = state[0].lane[HUB] = start;
        state[1] = highest = state[0];
        const bool keep = job_.options->keep == Keep::rows;
        const std::size_t rows = keep ? s.row_ends + 1 - (job_.options->cool_down_s > 0 ? 1 : 0) : 0;
        if (keep) {
            out.rows.reserve(s.row_ends + 1);
            HeatState first{.t_s = s.begin_s};
            for (const auto field : fields) first.*field = b.start_degC;
            out.rows.push_back(first);
        }
        std::unique_ptr<Rings<T>> rings;
        std::unique_ptr<RingLength<T>[]> ring_lengths;
        const RingPass ring_pass = ring_pass_of(job_.isa);
        if (!job_.options->bands.empty()) {
            rings = std::make_unique<Rings<T>>();
            ring_lengths = std::make_unique<RingLength<T>[]>(s.ticks.size());
            set_rings(*rings, ring_lengths.get());
        }
        std::array<std::array<double, ring_input_n>, chunk> ring_inputs;
        std::array<double, chunk> tops_of_rings;
        const double nan = std::numeric_limits<double>::quiet_NaN();
        if (keep && rings) {
            out.ring_rows_degC.reserve(s.row_ends + 1);
            out.ring_rows_degC.push_back(nan);
        }
        std::array<double, chunk + 1> surface, mid;   // one before the first step of a chunk
        std::array<double, chunk + 2> pad_mean;        // two
        surface[0] = mid[0] = pad_mean[0] = pad_mean[1] = start;
        one::Tops tops{.surface = start, .mid = start, .pad_mean = start, .fluid = start, .fluid_s = 0, .lost_J = {}};
        static_assert(sizeof(HeatState) == one::row_values * sizeof(double));
        const double rate = rotor_mode_rate(b);
        constexpr int face_lane = lane_at(L::face);
        std::array<Step, chunk + 2> window;   // steps of a chunk where they are made here, with one before and one behind
        Along along;
        const EvenRows first_rows = s.first;   // a copy that no store can change
        const std::size_t all = s.step_n();
        for (std::size_t k0 = 0; k0 < all; k0 += chunk) {
            const std::size_t steps = std::min<std::size_t>(chunk, all - k0), up_to = std::min(k0 + steps + 1, all);
            const int n = static_cast<int>(steps);
            if (s.first.count > 0) {
                if (k0 > 0) window[0] = window[chunk], window[1] = window[chunk + 1];
                const std::size_t from = k0 + (k0 > 0 ? 1 : 0), evenly = std::clamp(first_rows.count, from, up_to);
                first_rows.make(from, evenly, along, f.roots, &window[from - k0 + 1]);
                for (std::size_t k = evenly; k < up_to; ++k) window[k - k0 + 1] = s.steps[k - first_rows.count];
            }
            const Step* const at = s.first.count > 0 ? &window[1] : &s.steps[k0];
            const auto walk = [&](auto& with, auto march) {
                std::size_t before = 0;
                for (std::size_t i = 0; i < steps; ++i) {
                    const std::size_t kind = kind_of(at[i]);
                    with.set(i, before, kind, matrix_of);
                    before = kind;
                }
                march(with.constants, with.matrix.data(), with.carried.data(), at, n, states, state.data(), done.data(), highest, top.data());
            };
            single ? walk(narrow, f.march_single) : walk(full, f.march);
            double* made = nullptr;
            if (keep) {
                const std::size_t so_far = out.rows.size();
                std::size_t ends = 0;
                for (std::size_t i = 0; i < steps; ++i) ends += at[i].row_end;
                out.rows.resize(so_far + ends);
                made = ends > 0 ? &out.rows[so_far].t_s : nullptr;
            }
            f.derive(derived, c.half_scale, at, n, k0 + steps < all, states, state.data(), done.data(), surface.data(), mid.data(), &pad_mean[1], tops, made);
            // Tops within a step: about a middle one of three that is the largest; of the pad's face behind a change of input that may
            // bring it above the peak, of its mean behind a fall of power; of what lies behind it after a release.
            for (std::size_t i = 0; i < steps; ++i) {
                const Step& step = at[i];
                const bool on = step.contact == Contact::closed;
                if (!on && !(step.released | top[i])) continue;
                const double* before = state[i + 1].lane;
                const Step* const last = k0 + i == 0 ? nullptr : &step - 1;
                const bool held = on && last && last->contact == Contact::closed, fell = held && step.power_W < last->power_W;
                if (step.released || fell) {   // the mid-plane's top, as in the march of many
                    const double above = mid[i + 1] - state[i + 2].lane[ROTOR], rest = before[ROTOR] + (on ? above : std::max(above, 0.0));
                    if (rest > tops.mid) {
                        const double fall = std::max(before[ROTOR] - state[i + 2].lane[ROTOR], 1e-6) / (rate * step.h_s), bend = 1.2158542 * (rest - mid[i]);
                        tops.mid = std::max(tops.mid, bend > fall ? rest - fall * (std::log(std::max(bend / fall, 1.0)) + 1) : mid[i]);
                    }
                }
                bool may = step.released || top[i];
                if (on && !may) {
                    const bool changed = !held || last->power_W != step.power_W;
                    may = changed && std::max({before[face_lane], surface[i], before[ROTOR]}) + matrix_of(kind_of(step)).column[states + one::S_POWER][face_lane] * c.half_scale * step.power_W > highest.lane[face_lane];
                    may |= fell && pad_mean[i + 1] + 2 * std::max(pad_mean[i + 1] - pad_mean[i], 0.0) > tops.pad_mean;
                }
                if (!may) continue;
                const auto look = [&](std::size_t j) {   // step j of the chunk; -1: the one before it
                    const Step& q = *(at + static_cast<std::ptrdiff_t>(j));
                    const std::size_t kind = kind_of(q);
                    Rungs& rungs = of[kind % 2];
                    const one::State &from = state[j + 1], &to = state[j + 2];
                    alignas(64) double value[one::looked_lanes] = {}, end_value[one::looked_lanes] = {}, peak[one::looked_lanes] = {};
                    for (std::size_t k = 0; k < one::looked; ++k) {
                        if (k == one::L_PAD) value[k] = pad_mean[j + 1], end_value[k] = pad_mean[j + 2], peak[k] = tops.pad_mean;
                        else value[k] = from.lane[lane_looked[k]], end_value[k] = to.lane[lane_looked[k]], peak[k] = highest.lane[lane_looked[k]];
                    }
                    const double power_W = kind % 2 ? c.half_scale * q.power_W : 0;
                    Within& within = rungs.within[kind / 2];
                    for (unsigned bits = f.may_top(rungs.slope, from, to, value, end_value, peak, power_W, q.h_s, done[j + 1], states); bits != 0; bits &= bits - 1) {
                        if (within.eights == 0) make_within(f, rungs.look[kind / 2], s.ticks[kind / 2], within);
                        const auto k = static_cast<std::size_t>(std::countr_zero(bits));
                        const one::EightTimes* times = &within.times[k * static_cast<std::size_t>((states + one::source_count) * within.eights)];
                        double& most = k == one::L_PAD ? tops.pad_mean : highest.lane[lane_looked[k]];
                        most = std::max(most, value[k] + f.rise_within(times, within.eights, from, power_W, done[j + 1], states));
                    }
                };
                const double mean_before = highest.lane[ROTOR];
                if (top[i] && k0 + i > 0) look(i - 1);
                look(i);
                // At a top of its mean the rotor takes up nothing, so its middle is as hot (a change of contact's own transient may be slower).
                if (step.fell && highest.lane[ROTOR] > mean_before) tops.mid = std::max(tops.mid, highest.lane[ROTOR]), tops.surface = std::max(tops.surface, highest.lane[ROTOR]);
            }
            if (rings) {
                for (std::size_t i = 0; i < steps; ++i) {
                    const Step& step = at[i];
                    const double *z = state[i + 2].lane, *before = state[i + 1].lane;
                    const one::Done& d = done[i + 1];
                    const one::Matrix& m = matrix_of(kind_of(step));
                    const double mean_arms = before[ARMS] + d.away[ARMS] - m.feedback[ARMS] * d.loss_W[ARMS], mean_hub = before[HUB] + d.away[HUB] - m.feedback[HUB] * d.loss_W[HUB];
                    const double flow = (z[ARMS] - before[ARMS]) * b.arms.heat_capacity_J_K / step.h_s + d.loss_W[ARMS] + b.links_W_K.arms_hub * (mean_arms - mean_hub);
                    const double hot_K = before[ROTOR] + c.ambient_K, rk2 = c.radiation[ROTOR] * hot_K * hot_K, slope = 4 * rk2 * hot_K + c.conv_a[ROTOR] + c.conv_b[ROTOR] * static_cast<double>(step.speed_power[B_ROTOR]);
                    auto& in = ring_inputs[i];
                    in[R_HEAT] = (z[ROTOR] - before[ROTOR]) * rotor_capacity(b) / step.h_s + d.loss_W[ROTOR] + flow;
                    in[R_LOSS] = d.loss_W[ROTOR];
                    in[R_SLOPE] = slope + 12 * rk2 * d.away[ROTOR];
                    in[R_BEND] = 6 * rk2;
                    in[R_FLOW] = flow;
                    in[R_MEAN] = z[ROTOR];
                    in[R_ARMS_BEFORE] = before[ARMS];
                    in[R_ARMS_AFTER] = z[ARMS];
                }
                ring_pass(*rings, at, n, lanes_->arms_link, reinterpret_cast<const double(*)[ring_input_n]>(ring_inputs.data()), tops_of_rings.data());
                for (std::size_t i = 0; keep && i < steps; ++i)
                    if (at[i].row_end) out.ring_rows_degC.push_back(at[i].contact == Contact::open ? nan : tops_of_rings[i] + b.ambient_degC);
            }
            surface[0] = surface[steps];
            mid[0] = mid[steps];
            pad_mean[0] = pad_mean[steps];
            pad_mean[1] = pad_mean[steps + 1];
            state[0] = state[static_cast<std::size_t>(n)];
            state[1] = state[static_cast<std::size_t>(n) + 1];
            done[0] = done[static_cast<std::size_t>(n)];
        }
        first_closed_J_ = along.closed_J;
        if (keep) {
            out.end = out.rows.back();
            out.rows.resize(rows);
            if (rings) out.ring_rows_degC.resize(rows);
        }
        auto block = std::make_unique<Block<T, N, S>>();
        const double* z = state[1].lane;
        for (int i = 0; i < N; ++i) block->state[i][0] = z[lane_at(i)];
        block->arms[0] = z[ARMS];
        block->hub[0] = z[HUB];
        block->lost_J[0] = (tops.lost_J[0] + tops.lost_J[1]) + (tops.lost_J[2] + tops.lost_J[3]);
        block->lost_low_J[0] = 0;
        block->fluid_peak_s[0] = tops.fluid_s;
        block->rings = rings.get();
        const double peaks[out_n] = {tops.surface, tops.mid, highest.lane[ROTOR], highest.lane[face_lane], tops.pad_mean, highest.lane[lane_at(L::plate)], highest.lane[lane_at(L::piston)],
                                     highest.lane[lane_at(L::fluid)], highest.lane[one::CALIPER], highest.lane[ARMS], highest.lane[HUB]};
        for (int i = 0; i < out_n; ++i) block->peak[i][0] = peaks[i];
        collect(*block, 0);
    }

    void collect(const Block<T, N, S>& b, int lane) const {
        const std::size_t index = job_.members[first_ + static_cast<std::size_t>(lane)];
        const ReferenceBrake& brake = job_.brakes[index];
        const Schedule& s = *job_.schedule;
        CaseRun& out = (*job_.out)[index];
        const double ambient = brake.ambient_degC, nan = std::numeric_limits<double>::quiet_NaN();
        HeatPeaks::Peak HeatPeaks::* const peaks[out_n] = {&HeatPeaks::rotor_surface, &HeatPeaks::rotor_mid, &HeatPeaks::rotor_mean, &HeatPeaks::pad_face,
                                                           &HeatPeaks::pad_mean, &HeatPeaks::plate, &HeatPeaks::piston, &HeatPeaks::fluid,
                                                           &HeatPeaks::caliper, &HeatPeaks::arms, &HeatPeaks::hub};
        for (int i = 0; i < out_n; ++i) {
            (out.peaks.*peaks[i]).degC = static_cast<double>(b.peak[i][lane]) + ambient;
            (out.peaks.*peaks[i]).t_s = nan;
        }
        if constexpr (S == 2) {
            HeatPeaks::Peak HeatPeaks::* const others[] = {&HeatPeaks::other_rotor_surface, &HeatPeaks::other_pad_face, &HeatPeaks::other_pad_mean,
                                                           &HeatPeaks::other_plate, &HeatPeaks::other_piston, &HeatPeaks::other_fluid};
            for (int i = out_n; i < both_n; ++i) out.peaks.*others[i - out_n] = {static_cast<double>(b.peak[i][lane]) + ambient, nan};
        }
        const double start = brake.start_degC - ambient;
        out.peaks.fluid.t_s = static_cast<double>(b.peak[O_FLUID][lane]) > start ? static_cast<double>(b.fluid_peak_s[lane]) : s.begin_s;
        // The books: made from the rows, lost summed along with the steps, stored read off the end.
        const double scale = brake.power_scale / 2;
        double made = (first_closed_J_ + s.closed_J) * scale;
        for (const std::size_t k : s.mixed)
            if (static_cast<T>(s.steps[k].power_W) > lanes_->closed_above[lane]) made += s.steps[k].power_W * s.steps[k].h_s * scale;
        const auto above = [&](double x) { return x - static_cast<double>(lanes_->start[lane]); };
        double stored = rotor_capacity(brake) * above(static_cast<double>(b.state[L::rotor][lane]));
        const Element& e = element_of(P);
        for (int side = 0; side < S; ++side) {
            const PadSide p = pad_side(brake, side);
            const int at = side * L::block;
            double pad = 0, side_J = 0;
            for (int i = 0; i <= P; ++i) pad += e.share[static_cast<std::size_t>(i)] * static_cast<double>(b.state[at + L::face + i][lane]);
            side_J += layer_capacity(*p.friction) * above(pad);
            side_J += layer_capacity(*p.plate) * above(static_cast<double>(b.state[at + L::plate][lane]));
            side_J += p.piston_J_K * above(static_cast<double>(b.state[at + L::piston][lane]));
            side_J += p.fluid_J_K * above(static_cast<double>(b.state[at + L::fluid][lane]));
            stored += side_weight<S> * side_J;
        }
        stored += brake.caliper.heat_capacity_J_K * above(static_cast<double>(b.state[L::caliper][lane]));
        stored += brake.arms.heat_capacity_J_K * above(static_cast<double>(b.arms[lane]));
        stored += brake.hub.heat_capacity_J_K * above(static_cast<double>(b.hub[lane]));
        const double lost = static_cast<double>(b.lost_J[lane]) - static_cast<double>(b.lost_low_J[lane]);
        out.energy_J = {.made = made, .stored = stored, .lost = lost, .error = made - stored - lost};
        // No answer: an account that is open by more than rounding, no numbers at all, or a heat in which no brake stays solid and no parabola
        // follows the losses.
        constexpr double hottest = 2500;
        bool sound = account_closes(out.energy_J, job_.options->precision);
        for (int i = 0; i < out_n; ++i) sound = sound && (out.peaks.*peaks[i]).degC < hottest;
        if constexpr (S == 2)
            for (const auto other : {&HeatPeaks::other_rotor_surface, &HeatPeaks::other_pad_face, &HeatPeaks::other_plate}) sound = sound && (out.peaks.*other).degC < hottest;
        (*job_.unsound)[index] = !sound;

        // A ring of the mean's own surface at least.
        out.hottest_ring_degC = b.rings ? std::max({static_cast<double>(b.rings->hottest[lane]) + ambient, out.peaks.rotor_surface.degC, out.peaks.other_rotor_surface.degC}) : nan;

        if (job_.options->keep != Keep::rows || job_.alone) return;
        const std::size_t stride = static_cast<std::size_t>(outs + 1) * w;
        const std::size_t ends = s.row_ends, rows = ends + 1 - (job_.options->cool_down_s > 0 ? 1 : 0);
        out.rows.resize(ends + 1);
        out.rows[0] = {.t_s = s.begin_s};
        for (const auto field : fields) out.rows[0].*field = brake.start_degC;
        if constexpr (S == 2) {
            out.other_rows.resize(ends + 1);
            out.other_rows[0] = {brake.start_degC, brake.start_degC, brake.start_degC, brake.start_degC, brake.start_degC, brake.start_degC};
        }
        if (b.ring_trace) out.ring_rows_degC.assign(ends + 1, nan);
        std::size_t row = 0;   // each row of the input ends with a step of its own
        for (std::size_t k = 0; k < s.steps.size(); ++k) {
            const Step& step = s.steps[k];
            if (!step.row_end) continue;
            const T* p = b.trace + row * stride + static_cast<std::size_t>(lane);
            HeatState& st = out.rows[++row];
            const auto value = [&](int i) { return static_cast<double>(p[static_cast<std::size_t>(i) * w]); };
            st.t_s = step.end_s;
            for (int i = 0; i < out_n; ++i) st.*fields[i] = value(i) + ambient;
            const double flow_W = value(outs);
            const auto is_closed = [&](const Step& q) { return static_cast<T>(q.power_W) > lanes_->closed_above[lane]; };
            if (b.ring_trace && is_closed(step)) out.ring_rows_degC[row] = static_cast<double>(b.ring_trace[(row - 1) * w + static_cast<std::size_t>(lane)]) + ambient;
            st.pad_heat_share = is_closed(step) && k + 1 < s.steps.size() && is_closed(s.steps[k + 1]) ? flow_W / (step.power_W * brake.power_scale / 2) : nan;
            if constexpr (S == 2)
                out.other_rows[row] = {.rotor_surface_degC = value(O_OTHER_SURFACE) + ambient, .pad_face_degC = value(O_OTHER_PAD_FACE) + ambient,
                                       .pad_mean_degC = value(O_OTHER_PAD_MEAN) + ambient, .plate_degC = value(O_OTHER_PLATE) + ambient,
                                       .piston_degC = value(O_OTHER_PISTON) + ambient, .fluid_degC = value(O_OTHER_FLUID) + ambient};
        }
        out.end = out.rows.back();
        out.rows.resize(rows);
        if (b.ring_trace) out.ring_rows_degC.resize(rows);
        if constexpr (S == 2) out.other_rows.resize(rows);
    }

    const Job& job_;
    std::size_t first_;
    int n_;
    int filled_ = job_.alone ? 1 : W;   // lanes that are set up
    double first_closed_J_ = 0;         // Along::closed_J of a run of one case
    std::unique_ptr<LaneData<T>> lanes_;
};

template <class T, int P, int M, int Q, int S> void run_blocks(const Context& ctx, const Job& job) {
    const std::size_t blocks = (job.members.size() + W - 1) / W;
    parallel_for(ctx, blocks, [&](std::size_t k) { BlockRun<T, P, M, Q, S>(job, k * W).run(); });
}

template <class T> void run_group(const Context& ctx, const Job& job, const LayoutOf& l) {
#define BW_ENGINE_LAYOUT(P, M, Q, S) \
    if (l.order == P && l.modes == M && l.plate_modes == Q && l.sides == S) return run_blocks<T, P, M, Q, S>(ctx, job);
    BW_ENGINE_LAYOUTS(BW_ENGINE_LAYOUT)
#undef BW_ENGINE_LAYOUT
}

// Ranges without the texts that check_reference makes: offsets of the numbers, found once.
struct Range {
    std::ptrdiff_t offset;
    double least, most;
};
const std::vector<Range>& ranges() {
    static const std::vector<Range> all = [] {
        ReferenceBrake scratch;
        std::vector<Range> out;
        for (const ReferenceField& f : fields_of(scratch))
            out.push_back({reinterpret_cast<const char*>(f.value) - reinterpret_cast<const char*>(&scratch), f.least, f.most});
        return out;
    }();
    return all;
}
bool in_range(const ReferenceBrake& b, const std::vector<Range>& all) {
    bool good = b.friction.area_m2 <= b.rotor.face_area_m2 + b.rotor.edge_area_m2;
    for (const Range& r : all) {
        const double v = *reinterpret_cast<const double*>(reinterpret_cast<const char*>(&b) + r.offset);
        good = good && v >= r.least && v <= r.most;
    }
    return good && (!b.other || check_reference(b).operator bool());
}

std::optional<Isa> pick(Vectors v) {
    const auto have = [](Isa i) { return supported(i) ? std::optional<Isa>(i) : std::nullopt; };
    switch (v) {
        case Vectors::avx2: return have(Isa::avx2);
        case Vectors::avx512: return have(Isa::avx512);
        case Vectors::neon: return have(Isa::neon);
        case Vectors::best: break;
    }
    for (const Isa i : {Isa::avx512, Isa::avx2, Isa::neon})
        if (supported(i)) return i;
    return std::nullopt;
}
const char* name_of(Isa i) { return i == Isa::avx512 ? "avx512" : i == Isa::avx2 ? "avx2" : "neon"; }

// Fastest rate that the operator can hold [1/s], from above.
double fastest_rate(const ReferenceBrake& b, const LayoutOf& layout) {
    const int order = layout.order, modes = layout.modes;
    const double c_face = layer_capacity(b.friction) / (order * (order + 1.0));   // Gauss-Lobatto share of the face node
    const double r = b.rotor.half_thickness_m / (3 * b.rotor.conductivity_W_mK * b.rotor.face_area_m2) * (modes ? 0.39 : 1);
    const double g_rotor = std::max(1 / (r + 1 / (b.contact_W_m2K * b.friction.area_m2)), 1 / (r + 1 / (b.gap_W_m2K * b.friction.area_m2)));
    const double diffusivity = b.friction.conductivity_W_mK / (b.friction.density_kg_m3 * b.friction.heat_capacity_J_kgK);
    const double inner = diffusivity / (b.friction.thickness_m * b.friction.thickness_m) * std::pow(order, 4);
    const double plate = (layout.plate_modes ? 12 : 6) * b.plate.conductivity_W_mK * b.plate.area_m2 / b.plate.thickness_m;
    const auto& l = b.links_W_K;
    return 2 * ((order + 1.0) * g_rotor / c_face + inner + (order + 1.0) * plate / c_face + plate / layer_capacity(b.plate) +
                (l.plate_piston + l.piston_caliper + l.piston_fluid) / b.piston_J_K + (l.piston_fluid + l.fluid_caliper) / b.fluid_J_K +
                (l.plate_caliper + l.piston_caliper + l.fluid_caliper) / b.caliper.heat_capacity_J_K + g_rotor / rotor_capacity(b) +
                (l.rotor_arms + l.arms_hub) / b.arms.heat_capacity_J_K + l.arms_hub / b.hub.heat_capacity_J_K) +
           (modes ? rotor_mode_rate(b) : 0);
}

// A machine without fused multiply-add in its vectors: the plain solver, case by case.
Result<ManyRuns> plainly(const Context& ctx, std::span<const ReferenceBrake> brakes, std::span<const PowerRow> rows, const ManyOptions& o) {
    ManyRuns out;
    out.isa = "scalar";
    out.by_plain_solver = brakes.size();
    out.cases.resize(brakes.size());
    std::vector<std::optional<Error>> failed(brakes.size());
    parallel_for(ctx, brakes.size(), [&](std::size_t i) {
        Result<HeatRun> run = solve(brakes[i], rows, {.keep = o.bands.empty() ? o.keep : Keep::rows, .cool_down_s = o.cool_down_s, .stop = ctx.stop});
        if (!run) {
            failed[i] = run.error();
            return;
        }
        double ring = std::numeric_limits<double>::quiet_NaN();
        if (!o.bands.empty()) {
            const Result<RadialRun> radial = along_radius(brakes[i], o.bands[i], rows, run->rows);
            if (!radial) {
                failed[i] = radial.error();
                return;
            }
            ring = std::max({radial->hottest_ring_degC, run->peaks.rotor_surface.degC, run->peaks.other_rotor_surface.degC});
            if (o.keep == Keep::rows) out.cases[i].ring_rows_degC = radial->ring_rows_degC;
            if (o.keep == Keep::peaks_only) run->rows.clear(), run->other_rows.clear();
        }
        out.cases[i] = {.peaks = run->peaks, .energy_J = run->energy_J, .end = run->end, .hottest_ring_degC = ring, .rows = std::move(run->rows), .other_rows = std::move(run->other_rows),
                        .ring_rows_degC = std::move(out.cases[i].ring_rows_degC)};
    });
    if (ctx.stopped()) return Error{Errc::cancelled, "the temperature run was cancelled"};
    for (const auto& f : failed)
        if (f) return *f;
    return out;
}

Result<ManyRuns> run_many(const Context& ctx, std::span<const ReferenceBrake> brakes, std::span<const PowerRow> rows, const ManyOptions& options, bool alone);

// Those members by that solver, their runs to where they belong.
template <class Solver> Status some_of(std::span<const ReferenceBrake> brakes, const std::vector<std::size_t>& members, const ManyOptions& o, const Solver& solver, ManyRuns& out) {
    if (members.empty()) return Done{};
    std::vector<ReferenceBrake> some;
    std::vector<RotorBand> bands;
    for (const std::size_t i : members) {
        some.push_back(brakes[i]);
        if (!o.bands.empty()) bands.push_back(o.bands[i]);
    }
    ManyOptions with = o;
    with.bands = bands;
    Result<ManyRuns> runs = solver(std::span<const ReferenceBrake>(some), with);
    if (!runs) return runs.error();
    for (std::size_t k = 0; k < members.size(); ++k) out.cases[members[k]] = std::move(runs->cases[k]);
    out.steps = std::max(out.steps, runs->steps);
    out.by_plain_solver += runs->by_plain_solver;
    return Done{};
}

// Brakes with properties over temperature go their own way (wet ones to the plain solver), unlike sides that no layout takes to the plain
// solver, the others as if they were alone.
Result<ManyRuns> some_apart(const Context& ctx, std::span<const ReferenceBrake> brakes, std::span<const PowerRow> rows, double shortest, const ManyOptions& o, Isa isa) {
    ManyRuns out;
    out.isa = name_of(isa);
    out.cases.resize(brakes.size());
    std::vector<std::size_t> own, apart, plain;
    const bool water = std::any_of(rows.begin(), rows.end(), [](const PowerRow& r) { return r.drying_W > 0; });
    for (std::size_t i = 0; i < brakes.size(); ++i) {
        const ReferenceBrake& b = brakes[i];
        if (b.other) (varies(b) || layout_of(b, shortest, o.friction_order).sides == 0 ? plain : apart).push_back(i);
        else (!varies(b) ? apart : can_vary(b) && !water ? own : plain).push_back(i);
    }
    if (!own.empty()) {
        ManyOptions with = o;
        if (!o.bands.empty()) with.keep = Keep::rows;   // the rings are found from the rows
        out.steps = run_varying(ctx, brakes, own, rows, with, isa, out.cases);
        std::vector<std::optional<Error>> failed(own.size());
        if (!o.bands.empty() && !ctx.stopped())
            parallel_for(ctx, own.size(), [&](std::size_t k) {
                CaseRun& c = out.cases[own[k]];
                const Result<RadialRun> radial = along_radius(brakes[own[k]], o.bands[own[k]], rows, c.rows);
                if (!radial) failed[k] = radial.error();
                else c.hottest_ring_degC = std::max(radial->hottest_ring_degC, c.peaks.rotor_surface.degC), c.ring_rows_degC = radial->ring_rows_degC;
                if (o.keep == Keep::peaks_only) c.rows = decltype(c.rows)(), c.ring_rows_degC.clear();
            });
        for (const auto& f : failed)
            if (f) return *f;
    }
    if (Status status = some_of(brakes, apart, o, [&](std::span<const ReferenceBrake> some, const ManyOptions& with) { return run_many(ctx, some, rows, with, false); }, out); !status) return status.error();
    if (Status status = some_of(brakes, plain, o, [&](std::span<const ReferenceBrake> some, const ManyOptions& with) { return plainly(ctx, some, rows, with); }, out); !status) return status.error();
    if (ctx.stopped()) return Error{Errc::cancelled, "the temperature run was cancelled"};
    return out;
}

// alone: one brake, and no other beside it that goes its own way.
Result<ManyRuns> run_many(const Context& ctx, std::span<const ReferenceBrake> brakes, std::span<const PowerRow> rows, const ManyOptions& options, bool alone) {
    if (brakes.empty()) return Error{Errc::bad_input, "solve_many: no brakes"};
    std::optional<Isa> isa = pick(options.vectors);
    if (!isa && options.vectors == Vectors::best) return plainly(ctx, brakes, rows, options);
    if (!isa) return Error{Errc::bad_input, "this machine lacks the vector instructions asked for (fused multiply-add with AVX2, AVX-512 or NEON)"};
    const Result<Timing> timed = timing_of(rows, one::functions(*isa));
    if (!timed) return timed.error();
    const Timing& timing = *timed;
    if (!(options.longest_closed_s > 0) || !(options.longest_open_s > 0) || !(options.cool_down_s >= 0))
        return Error{Errc::bad_input, fmt::format("solve_many: longest_closed_s = {}, longest_open_s = {}, cool_down_s = {}: expected > 0, > 0, >= 0",
                                                  options.longest_closed_s, options.longest_open_s, options.cool_down_s)};
    const std::vector<Range>& all = ranges();
    for (const ReferenceBrake& b : brakes)
        if (!in_range(b, all))
            if (Status s = check_reference(b); !s) return s.error();
    if (!options.bands.empty() && options.bands.size() != brakes.size())
        return Error{Errc::bad_input, fmt::format("solve_many: {} bands for {} brakes: expected one each, or none", options.bands.size(), brakes.size())};
    for (const RotorBand& b : options.bands)
        if (Status s = check_band(b); !s) return s.error();

    alone = alone && !brakes.front().other;
    if (!alone && brakes.size() <= 4 && options.vectors == Vectors::best && *isa == Isa::avx512 && supported(Isa::avx2)) isa = Isa::avx2;   // twice as many of half the width a cycle

    const double shortest = timing.shortest_s;
    if (std::any_of(brakes.begin(), brakes.end(), [&](const ReferenceBrake& b) { return varies(b) || (b.other && layout_of(b, shortest, options.friction_order).sides == 0); }))
        return some_apart(ctx, brakes, rows, shortest, options, *isa);

    // Exponents of the convection: groups of their own while there are few, else each lane raises the speed itself.
    std::map<std::array<double, body_n>, std::size_t> exponents;
    const auto exponents_of = [](const ReferenceBrake& b) {
        return std::array<double, body_n>{b.rotor.convection.m, b.caliper.convection.m, b.arms.convection.m, b.hub.convection.m};
    };
    double mean_exponent = 0;
    for (const ReferenceBrake& b : brakes) {
        if (exponents.size() <= 8) ++exponents[exponents_of(b)];
        mean_exponent += b.rotor.convection.m / static_cast<double>(brakes.size());
    }
    const bool differ = exponents.size() > 8;
    const double tick = timing.tick_s;

    std::map<Group, std::vector<std::size_t>> groups;
    for (std::size_t i = 0; i < brakes.size(); ++i) {
        const ReferenceBrake& b = brakes[i];
        Group g;
        g.layout = layout_of(b, shortest, options.friction_order);
        double fastest = fastest_rate(b, g.layout);
        if (b.other) fastest = 3 * std::max(fastest, fastest_rate(mirrored(b), g.layout));   // contacts meet in two faces, bodies hang on two sides
        const double halvings = std::ceil(std::log2(fastest * tick * 16));
        g.halvings = static_cast<int>(std::clamp(std::ceil(halvings / 2) * 2, 4.0, 52.0));
        if (!differ) g.exponents = exponents_of(b);
        groups[g].push_back(i);
    }

    ManyRuns out;
    out.isa = name_of(*isa);
    out.cases.resize(brakes.size());
    double low = infinity, high = -infinity;
    for (const ReferenceBrake& b : brakes) {
        const double above = b.power_scale > 0 ? b.closed_above_W / b.power_scale : 1e30;
        low = std::min(low, above);
        high = std::max(high, above);
    }
    // Shapes along the radius depend on inner over outer radius alone: few of them, made once.
    std::map<int, BandModes> shapes;
    std::vector<const BandModes*> modes;
    for (const RotorBand& b : options.bands) {
        const int key = band_key(b);
        auto found = shapes.find(key);
        if (found == shapes.end()) found = shapes.emplace(key, band_modes(key)).first;
        modes.push_back(&found->second);
    }
    std::vector<char> unsound(brakes.size());
    std::map<std::array<double, body_n>, Schedule> schedules;
    for (const auto& [g, members] : groups) {
        auto found = schedules.find(g.exponents);
        if (found == schedules.end()) found = schedules.emplace(g.exponents, schedule_of(rows, timing, options, low, high, g.exponents, mean_exponent, differ, alone)).first;
        out.steps = std::max(out.steps, found->second.step_n());
        const Job job{.options = &options, .isa = *isa, .brakes = brakes, .members = members, .schedule = &found->second,
                      .exponents_differ = differ, .alone = alone, .halvings = g.halvings, .modes = &modes, .out = &out.cases, .unsound = &unsound};
        if (options.precision == Precision::single_precision && !alone) run_group<float>(ctx, job, g.layout);
        else run_group<double>(ctx, job, g.layout);
        if (ctx.stopped()) return Error{Errc::cancelled, "the temperature run was cancelled"};
    }
    std::vector<std::size_t> again;
    for (std::size_t i = 0; i < brakes.size(); ++i)
        if (unsound[i]) again.push_back(i);
    if (Status status = some_of(brakes, again, options, [&](std::span<const ReferenceBrake> some, const ManyOptions& with) { return plainly(ctx, some, rows, with); }, out); !status) return status.error();
    return out;
}

}  // namespace

bool account_closes(const HeatEnergy& e, Precision precision) {
    constexpr double least_J = 1000;   // of a ride that makes next to nothing rounding is more than any share of it
    const double share = precision == Precision::single_precision ? 1e-5 : 1e-9;
    return std::abs(e.error) <= share * std::max({e.made, std::abs(e.stored), std::abs(e.lost), least_J});
}

std::string best_vectors() {
    const std::optional<Isa> isa = pick(Vectors::best);
    return isa ? name_of(*isa) : "none";
}

Result<ManyRuns> solve_many(const Context& ctx, std::span<const ReferenceBrake> brakes, std::span<const PowerRow> rows, const ManyOptions& options) {
    return run_many(ctx, brakes, rows, options, brakes.size() == 1);
}

}  // namespace bw::heat
