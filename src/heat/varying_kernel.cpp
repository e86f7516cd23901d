// SPDX-License-Identifier: Apache-2.0
// Brakes whose properties depend on temperature, one in each lane: two implicit stages a step.             Layer: heat
// Theory: docs/models/heat.md [EQ heat-32]. Each operation is one IEEE operation per lane: bytes do not depend on the width.
#undef HWY_TARGET_INCLUDE
#define HWY_TARGET_INCLUDE "varying_kernel.cpp"
#ifdef BW_ONE_VECTOR_TARGET
#define HWY_DISABLED_TARGETS (HWY_SSSE3 | HWY_SSE4 | HWY_AVX3 | HWY_AVX3_DL)
#else
#define HWY_DISABLED_TARGETS (HWY_SSSE3 | HWY_SSE4 | HWY_AVX3_DL)
#endif
#include "hwy/foreach_target.h"
// after it
#include "hwy/highway.h"

#include "varying_kernel.hpp"

#if HWY_TARGET == HWY_AVX2 || HWY_TARGET == HWY_AVX3 || HWY_TARGET == HWY_NEON
HWY_BEFORE_NAMESPACE();
namespace bw::heat::engine::varying {
namespace HWY_NAMESPACE {

namespace hn = hwy::HWY_NAMESPACE;
using D = hn::CappedTag<double, W>;
using V = hn::Vec<D>;

HWY_INLINE V at(const double* p, int off) { return hn::Load(D(), p + off); }
HWY_INLINE V set(double x) { return hn::Set(D(), x); }

HWY_INLINE V value(const Property& p, int points, int off, V t) {
    V v = at(p.first, off);
    for (int j = 0; j < points; ++j) v = hn::MulAdd(at(p.bend[j], off), hn::Max(hn::Sub(t, at(p.at[j], off)), hn::Zero(D())), v);
    return v;
}
// Value and integral from the start temperature.
HWY_INLINE V value_and_integral(const Property& p, int points, int off, V t, V& integral) {
    V v = at(p.first, off);
    V sum = hn::MulSub(v, t, at(p.zero_J, off));
    for (int j = 0; j < points; ++j) {
        const V over = hn::Max(hn::Sub(t, at(p.at[j], off)), hn::Zero(D())), bent = hn::Mul(at(p.bend[j], off), over);
        v = hn::Add(v, bent);
        sum = hn::MulAdd(hn::Mul(set(0.5), bent), over, sum);
    }
    integral = sum;
    return v;
}

constexpr int layer_of(int node) { return node < rotor_n ? L_ROTOR : node < plate_0 ? L_FRICTION : L_PLATE; }
constexpr double gamma_d = 0.29289321881345254;   // 1 - √2/2

struct State {
    V t[chain_n];         // temperatures, faces too
    V heat[chain_n];      // of cells [J], from the start
    V piston, fluid, caliper;
};
struct Loss {
    V convection, radiation;   // [W/K], [W/K⁴]
};

HWY_ATTR V loss_of(const Loss& l, V ambient, V ambient4, V t, V& slope) {
    const V kelvin = hn::Add(t, ambient), k2 = hn::Mul(kelvin, kelvin);
    slope = hn::MulAdd(hn::Mul(set(4), l.radiation), hn::Mul(k2, kelvin), l.convection);
    return hn::MulAdd(l.radiation, hn::Sub(hn::Mul(k2, k2), ambient4), hn::Mul(l.convection, t));
}

struct Inputs {
    V contact, power, flow;   // of the half; flow into the arms
    Loss rotor, caliper;
};

// Solves heat(T) = base + γh·flows(T): Newton for the heat, the conductivities of the last guess. In y: the guess; out: the stage. What a
// cell holds is what flowed, so that the account closes.
HWY_NOINLINE HWY_ATTR void stage(const Brakes& b, int off, double gh, const Inputs& in, const State& base, State& y, V& lost_W) {
    const V per = set(1 / gh), zero = hn::Zero(D());
    V m[chain_n], s[chain_n], capacity[chain_n], held[chain_n];
    const V ambient = at(b.ambient_K, off), ambient4 = at(b.ambient4, off);
    for (int iteration = 0; iteration < 2; ++iteration) {
        // Forward: x_i = s_i + m_i x_{i+1}.
        V diagonal = zero, rhs = zero, face_loss = zero, face_slope = zero;
        for (int i = 0; i < chain_n; ++i) {
            if (i == rotor_face) {
                face_loss = loss_of(in.rotor, ambient, ambient4, y.t[i], face_slope);
                diagonal = hn::Add(diagonal, face_slope);
                rhs = hn::Add(rhs, hn::MulAdd(set(0.5), in.power, hn::MulSub(face_slope, y.t[i], face_loss)));
            } else if (i == pad_face) {
                rhs = hn::MulAdd(set(0.5), in.power, rhs);
            } else {
                const int l = layer_of(i);
                const V mass = at(b.mass[i], off);
                V integral;
                capacity[i] = hn::Mul(mass, value_and_integral(b.heat_capacity[l], b.points[1][l], off, y.t[i], integral));
                held[i] = hn::Mul(mass, integral);
                diagonal = hn::MulAdd(capacity[i], per, diagonal);
                V r = hn::Mul(hn::Add(hn::Sub(base.heat[i], held[i]), hn::Mul(capacity[i], y.t[i])), per);
                if (i < rotor_n) r = hn::NegMulAdd(at(b.volume[i], off), in.flow, r);
                rhs = hn::Add(rhs, r);
            }
            if (i + 1 == chain_n) break;
            V g;
            if (i == rotor_face) {
                g = in.contact;
            } else if (i + 1 == plate_0) {
                const V mean = hn::Mul(set(0.5), hn::Add(y.t[i], y.t[i + 1]));
                const V friction = value(b.conductivity[L_FRICTION], b.points[0][L_FRICTION], off, mean), plate = value(b.conductivity[L_PLATE], b.points[0][L_PLATE], off, y.t[i + 1]);
                g = hn::Div(hn::Mul(friction, plate), hn::MulAdd(at(b.joint_friction, off), plate, hn::Mul(at(b.joint_plate, off), friction)));
            } else {
                const int l = layer_of(i < rotor_face ? i : i + 1);
                g = hn::Mul(at(b.link[i], off), value(b.conductivity[l], b.points[0][l], off, hn::Mul(set(0.5), hn::Add(y.t[i], y.t[i + 1]))));
            }
            const V inverse = hn::Div(set(1), hn::Add(diagonal, g));
            m[i] = hn::Mul(g, inverse);
            s[i] = hn::Mul(rhs, inverse);
            diagonal = hn::Mul(m[i], diagonal);   // g - g²/(diagonal + g), without the cancellation
            rhs = hn::Mul(m[i], rhs);
        }
        // Behind the plate: piston, caliper, fluid.
        const V gp = at(b.plate_piston, off), gc = at(b.plate_caliper, off), pc = at(b.piston_caliper, off), pf = at(b.piston_fluid, off), fc = at(b.fluid_caliper, off);
        const V inverse = hn::Div(set(1), hn::Add(diagonal, hn::Add(gp, gc)));
        V caliper_slope;
        const V caliper_loss = loss_of(in.caliper, ambient, ambient4, y.caliper, caliper_slope);
        const V cp = hn::Mul(at(b.piston, off), per), cf = hn::Mul(at(b.fluid, off), per), cc = hn::Mul(at(b.caliper, off), per);
        const V plate = hn::Mul(rhs, inverse);
        V pp = hn::Sub(hn::Add(hn::Add(cp, gp), hn::Add(pc, pf)), hn::Mul(hn::Mul(gp, gp), inverse));
        V kk = hn::Sub(hn::Add(hn::Add(hn::Add(cc, gc), hn::Add(pc, fc)), caliper_slope), hn::Mul(hn::Mul(gc, gc), inverse));
        V pk = hn::Sub(hn::Neg(pc), hn::Mul(hn::Mul(gp, gc), inverse));
        V rp = hn::MulAdd(cp, base.piston, hn::Mul(gp, plate)), rk = hn::MulAdd(cc, base.caliper, hn::MulAdd(gc, plate, hn::MulSub(caliper_slope, y.caliper, caliper_loss)));
        const V ff = hn::Div(set(1), hn::Add(cf, hn::Add(pf, fc))), rf = hn::Mul(cf, base.fluid);
        pp = hn::Sub(pp, hn::Mul(hn::Mul(pf, pf), ff));
        kk = hn::Sub(kk, hn::Mul(hn::Mul(fc, fc), ff));
        pk = hn::Sub(pk, hn::Mul(hn::Mul(pf, fc), ff));
        rp = hn::MulAdd(hn::Mul(pf, ff), rf, rp);
        rk = hn::MulAdd(hn::Mul(fc, ff), rf, rk);
        const V determinant = hn::Div(set(1), hn::Sub(hn::Mul(pp, kk), hn::Mul(pk, pk)));
        const V piston = hn::Mul(hn::Sub(hn::Mul(kk, rp), hn::Mul(pk, rk)), determinant), caliper = hn::Mul(hn::Sub(hn::Mul(pp, rk), hn::Mul(pk, rp)), determinant);
        y.fluid = hn::Mul(hn::MulAdd(pf, piston, hn::MulAdd(fc, caliper, rf)), ff);
        lost_W = hn::MulAdd(caliper_slope, hn::Sub(caliper, y.caliper), caliper_loss);
        y.piston = piston;
        y.caliper = caliper;
        // Backward.
        V x = hn::Mul(hn::MulAdd(gp, piston, hn::MulAdd(gc, caliper, rhs)), inverse);
        for (int i = chain_n - 1; i >= 0; --i) {
            if (i < chain_n - 1) x = hn::MulAdd(m[i], x, s[i]);
            if (i == rotor_face) lost_W = hn::Add(lost_W, hn::MulAdd(face_slope, hn::Sub(x, y.t[i]), face_loss));
            else if (i != pad_face) y.heat[i] = hn::MulAdd(capacity[i], hn::Sub(x, y.t[i]), held[i]);
            y.t[i] = x;
        }
    }
}

HWY_INLINE V weighted(const Brakes& b, int off, const State& y, int from, int n) {
    V sum = hn::Zero(D());
    for (int i = from; i < from + n; ++i) sum = hn::MulAdd(at(b.volume[i], off), y.t[i], sum);
    return sum;
}

HWY_ATTR void run_lanes(Block& block, int off) {
    const Brakes& b = *block.brakes;
    const D d;
    const V start = at(b.start, off), zero = hn::Zero(d), half = set(0.5);
    const V ambient = at(b.ambient_K, off), ambient4 = at(b.ambient4, off);
    State now, inner, next;
    for (int i = 0; i < chain_n; ++i) now.t[i] = start, now.heat[i] = zero;
    now.piston = now.fluid = now.caliper = start;
    V arms = start, hub = start, made = zero, lost = zero, lost_low = zero, fluid_at = zero, flow_before = zero;
    V peak[out_n], out[out_n];
    for (V& p : peak) p = start;
    double h_before = 1;
    double* trace = block.trace;
    for (std::size_t k = 0; k < block.step_n; ++k) {
        const Step& step = block.steps[k];
        const double h = step.h_s;
        const auto& speed = block.speeds[step.row].power;
        const auto loss = [&](int body) HWY_ATTR { return Loss{hn::MulAdd(at(b.conv_b[body], off), at(speed[body], off), at(b.conv_a[body], off)), at(b.radiation[body], off)}; };
        const auto closed = hn::Gt(set(step.power_W), at(b.closed_above, off));
        Inputs in;
        in.rotor = loss(B_ROTOR);
        in.caliper = loss(B_CALIPER);
        in.contact = hn::IfThenElse(closed, at(b.contact, off), at(b.gap, off));
        in.power = hn::IfThenElse(closed, hn::Mul(at(b.half_scale, off), set(step.power_W)), zero);
        // Into the arms: slow, extrapolated to the middle of the step.
        const V rotor_mean = weighted(b, off, now, 0, rotor_n), flow = hn::Mul(at(b.rotor_arms, off), hn::Sub(rotor_mean, arms));
        in.flow = k == 0 ? flow : hn::MulAdd(set(h / (2 * h_before)), hn::Sub(flow, flow_before), flow);
        flow_before = flow;
        h_before = h;

        inner = now;
        V lost_1, lost_2;
        stage(b, off, gamma_d * h, in, now, inner, lost_1);
        // base := now + (1-γ)h·rate of the first stage
        const double on = (1 - gamma_d) / gamma_d;
        State base = now;
        for (int i = 0; i < chain_n; ++i)
            if (i != rotor_face && i != pad_face) base.heat[i] = hn::MulAdd(set(on), hn::Sub(inner.heat[i], now.heat[i]), now.heat[i]);
        base.piston = hn::MulAdd(set(on), hn::Sub(inner.piston, now.piston), now.piston);
        base.fluid = hn::MulAdd(set(on), hn::Sub(inner.fluid, now.fluid), now.fluid);
        base.caliper = hn::MulAdd(set(on), hn::Sub(inner.caliper, now.caliper), now.caliper);
        next = inner;
        stage(b, off, gamma_d * h, in, base, next, lost_2);
        now = next;

        // Arms and hub: trapezoidal, fed by the same flow.
        V slope_arms, slope_hub;
        const V lost_arms = loss_of(loss(B_ARMS), ambient, ambient4, arms, slope_arms), lost_hub = loss_of(loss(B_HUB), ambient, ambient4, hub, slope_hub);
        const V link = at(b.arms_hub, off), between = hn::Mul(link, hn::Sub(arms, hub)), per_h = set(1 / h);
        const V aa = hn::MulAdd(at(b.arms, off), per_h, hn::Mul(half, hn::Add(link, slope_arms))), hh = hn::MulAdd(at(b.hub, off), per_h, hn::Mul(half, hn::Add(link, slope_hub)));
        const V ah = hn::Mul(half, link);
        const V ra = hn::Sub(hn::Sub(in.flow, between), lost_arms), rh = hn::Sub(between, lost_hub);
        const V one_over = hn::Div(set(1), hn::Sub(hn::Mul(aa, hh), hn::Mul(ah, ah)));
        const V arms_up = hn::Mul(hn::MulAdd(hh, ra, hn::Mul(ah, rh)), one_over), hub_up = hn::Mul(hn::MulAdd(aa, rh, hn::Mul(ah, ra)), one_over);
        const V outside = hn::Add(hn::MulAdd(hn::Mul(half, slope_arms), arms_up, lost_arms), hn::MulAdd(hn::Mul(half, slope_hub), hub_up, lost_hub));
        arms = hn::Add(arms, arms_up);
        hub = hn::Add(hub, hub_up);

        made = hn::MulAdd(in.power, set(h), made);
        {
            const V lost_W = hn::Add(outside, hn::MulAdd(set(gamma_d), lost_2, hn::Mul(set(1 - gamma_d), lost_1)));
            const V add = hn::MulSub(lost_W, set(h), lost_low), sum = hn::Add(lost, add);
            lost_low = hn::Sub(hn::Sub(sum, lost), add);
            lost = sum;
        }
        out[O_SURFACE] = now.t[rotor_face];
        out[O_MID] = hn::MulAdd(at(b.mid_0, off), now.t[0], hn::Mul(at(b.mid_1, off), now.t[1]));
        out[O_MEAN] = weighted(b, off, now, 0, rotor_n);
        out[O_PAD_FACE] = now.t[pad_face];
        out[O_PAD_MEAN] = weighted(b, off, now, friction_0, friction_n);
        out[O_PLATE] = weighted(b, off, now, plate_0, plate_n);
        out[O_PISTON] = now.piston;
        out[O_FLUID] = now.fluid;
        out[O_CALIPER] = now.caliper;
        out[O_ARMS] = arms;
        out[O_HUB] = hub;
        fluid_at = hn::IfThenElse(hn::Gt(out[O_FLUID], peak[O_FLUID]), set(step.end_s), fluid_at);
        for (int i = 0; i < out_n; ++i) peak[i] = hn::Max(peak[i], out[i]);
        if (trace && step.row_end) {
            for (int i = 0; i < out_n; ++i) hn::Store(out[i], d, trace + i * W + off);
            const V k_face = value(b.conductivity[L_FRICTION], b.points[0][L_FRICTION], off, hn::Mul(half, hn::Add(now.t[pad_face], now.t[friction_0])));
            hn::Store(hn::Mul(hn::Mul(at(b.link[pad_face], off), k_face), hn::Sub(now.t[pad_face], now.t[friction_0])), d, trace + out_n * W + off);
            trace += (out_n + 1) * W;
        }
    }
    V stored = zero;
    for (int i = 0; i < chain_n; ++i)
        if (i != rotor_face && i != pad_face) stored = hn::Add(stored, now.heat[i]);
    stored = hn::MulAdd(at(b.piston, off), hn::Sub(now.piston, start), stored);
    stored = hn::MulAdd(at(b.fluid, off), hn::Sub(now.fluid, start), stored);
    stored = hn::MulAdd(at(b.caliper, off), hn::Sub(now.caliper, start), stored);
    stored = hn::MulAdd(at(b.arms, off), hn::Sub(arms, start), stored);
    stored = hn::MulAdd(at(b.hub, off), hn::Sub(hub, start), stored);
    hn::Store(stored, d, block.stored_J + off);
    hn::Store(made, d, block.made_J + off);
    hn::Store(lost, d, block.lost_J + off);
    for (int i = 0; i < out_n; ++i) hn::Store(peak[i], d, block.peak[i] + off);
    for (int i = 0; i < out_n; ++i) hn::Store(out[i], d, block.end[i] + off);
    hn::Store(fluid_at, d, block.fluid_peak_s + off);
}

HWY_ATTR void run(Block& b) {
    for (int off = 0; off < W; off += static_cast<int>(hn::MaxLanes(D()))) run_lanes(b, off);
}

}  // namespace HWY_NAMESPACE
}  // namespace bw::heat::engine::varying
HWY_AFTER_NAMESPACE();
#endif

#if HWY_ONCE
namespace bw::heat::engine::varying {

Run run_of(Isa isa) {
    if (!supported(isa)) return nullptr;
    switch (isa) {
#if HWY_TARGETS & HWY_AVX3
        case Isa::avx512: return &N_AVX3::run;
#endif
#if HWY_TARGETS & HWY_AVX2
        case Isa::avx2: return &N_AVX2::run;
#endif
#if HWY_TARGETS & HWY_NEON
        case Isa::neon: return &N_NEON::run;
#endif
        default: return nullptr;
    }
}

}  // namespace bw::heat::engine::varying
#endif
