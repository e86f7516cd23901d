// SPDX-License-Identifier: Apache-2.0
// The engine's inner loops, once per vector target: the matrix exponential and the march over the steps.  Layer: heat
// Theory: docs/models/heat.md [EQ heat-22..27]. Only targets with fused multiply-add: each operation is one IEEE
// operation per lane, so the bytes do not depend on the width.
#undef HWY_TARGET_INCLUDE
#define HWY_TARGET_INCLUDE "engine_kernel.cpp"
#define HWY_DISABLED_TARGETS (HWY_SSSE3 | HWY_SSE4 | HWY_AVX3_DL)
#include "hwy/foreach_target.h"
// after it
#include "hwy/contrib/math/math-inl.h"
#include "hwy/highway.h"

#include "engine_kernel.hpp"

#if HWY_TARGET == HWY_AVX2 || HWY_TARGET == HWY_AVX3 || HWY_TARGET == HWY_NEON
HWY_BEFORE_NAMESPACE();
namespace bw::heat::engine {
namespace HWY_NAMESPACE {

namespace hn = hwy::HWY_NAMESPACE;

// c := a·[b | sources of b] + 2·b where double_it, else a·b.
template <int N, bool double_it>
HWY_ATTR void multiply(const Generator<N>& a, const Generator<N>& b, Generator<N>& c, double* work) {
    const hn::CappedTag<double, W> d;
    using V = hn::Vec<decltype(d)>;
    constexpr int columns = N + source_n;
    constexpr int width = static_cast<int>(hn::MaxLanes(d));
    const V two = hn::Set(d, 2.0);
    (void)work;
    for (int off = 0; off < W; off += width) {
        for (int i = 0; i < N; ++i) {
            for (int j0 = 0; j0 < columns; j0 += 6) {
                const int j1 = j0 + 6 < columns ? j0 + 6 : columns;
                V acc[6];
                for (int j = j0; j < j1; ++j) acc[j - j0] = hn::Zero(d);
                for (int k = 0; k < N; ++k) {
                    const V left = hn::Load(d, &a.a[i][k][off]);
                    if (j1 - j0 == 6) {
                        for (int j = 0; j < 6; ++j) acc[j] = hn::MulAdd(left, hn::Load(d, &b.a[k][j0 + j][off]), acc[j]);
                    } else {
                        for (int j = j0; j < j1; ++j) acc[j - j0] = hn::MulAdd(left, hn::Load(d, &b.a[k][j][off]), acc[j - j0]);
                    }
                }
                for (int j = j0; j < j1; ++j) {
                    V x = acc[j - j0];
                    if (double_it) x = hn::MulAdd(two, hn::Load(d, &b.a[i][j][off]), x);
                    hn::Store(x, d, &c.a[i][j][off]);
                }
            }
        }
    }
}

// exp(Ah) - 1 over h = base·2^-halvings by a short series, then doubled [EQ heat-23].
template <int N> HWY_ATTR void ladder(const Generator<N>& generator, const Ladder<N>& l) {
    constexpr int columns = N + source_n;
    double h = l.base_s;
    for (int i = 0; i < l.halvings; ++i) h *= 0.5;
    Generator<N> x, f, g;
    for (int i = 0; i < N; ++i)
        for (int j = 0; j < columns; ++j)
            for (int k = 0; k < W; ++k) x.a[i][j][k] = generator.a[i][j][k] * h;
    // f = 1 + x/2 (1 + x/3 (1 + x/4 (1 + x/5)))
    for (int i = 0; i < N; ++i)
        for (int j = 0; j < columns; ++j)
            for (int k = 0; k < W; ++k) f.a[i][j][k] = (j < N ? x.a[i][j][k] / 5 : 0) + (i == j ? 1 : 0);
    for (int q = 4; q >= 2; --q) {
        multiply<N, false>(x, f, g, nullptr);
        const double share = 1.0 / q;
        for (int i = 0; i < N; ++i)
            for (int j = 0; j < columns; ++j)
                for (int k = 0; k < W; ++k) f.a[i][j][k] = (j < N ? g.a[i][j][k] * share : 0) + (i == j ? 1 : 0);
    }
    multiply<N, false>(f, x, g, nullptr);
    Generator<N>* from = &g;
    Generator<N>* to = &f;
    for (int i = 0; i < l.halvings; ++i) {
        Generator<N>* target = i + 1 == l.halvings ? &l.rung[0] : to;
        multiply<N, true>(*from, *from, *target, nullptr);
        to = from;
        from = target;
    }
    if (l.halvings == 0) l.rung[0] = g;
    for (int i = 1; i <= l.last; ++i) multiply<N, true>(l.rung[i - 1], l.rung[i - 1], l.rung[i], nullptr);
}

// D := D + E + D E; sources: S := S_D + S_E + D S_E... the source acts on through both.
template <int N> HWY_ATTR void combine(Generator<N>& sum, const Generator<N>& more) {
    constexpr int columns = N + source_n;
    Generator<N> g;
    multiply<N, false>(more, sum, g, nullptr);
    for (int i = 0; i < N; ++i)
        for (int j = 0; j < columns; ++j)
            for (int k = 0; k < W; ++k) sum.a[i][j][k] = sum.a[i][j][k] + more.a[i][j][k] + g.a[i][j][k];
}

// Of the parabola less its first cosine: mid-plane over face, (6/π² - 1/2)/(1 - 6/π²).
constexpr double mid_of_rest = 0.27527369;

template <class T, class D> HWY_INLINE hn::Vec<D> constant(D d, double x) { return hn::Set(d, static_cast<T>(x)); }

template <class D, int P, int M> struct March {
    using L = Layout<P, M>;
    using T = hn::TFromD<D>;
    using V = hn::Vec<D>;
    static constexpr int N = L::n;

    struct Live {
        V t[N];
        V arms, hub, arms_flow, arms_rate, hub_rate, surface, pad_flow;
    };

    static HWY_INLINE V at(D d, const T* p, int off) { return hn::Load(d, p + off); }

    // Convection [W/K] of one body.
    static HWY_INLINE V convection(D d, const Block<T, N>& b, const Step& s, int body, int off) {
        const LaneData<T>& c = *b.lanes;
        V w;
        if (HWY_UNLIKELY(b.exponents_differ)) {
            w = hn::Exp(d, hn::Mul(at(d, c.conv_m[body], off), constant<T>(d, s.log_speed)));
        } else {
            w = constant<T>(d, s.speed_power[static_cast<std::size_t>(body)]);
        }
        return hn::MulAdd(at(d, c.conv_b[body], off), w, at(d, c.conv_a[body], off));
    }

    template <bool closed>
    static HWY_INLINE void step(D d, const Block<T, N>& b, const Step& s, int off, Live& x, V& lost_W) {
        const Propagator<T, N>& p = closed ? *b.closed[s.length] : *b.open[s.length];
        const LaneData<T>& c = *b.lanes;
        const Side<T>& side = b.side[s.length];
        const V half = constant<T>(d, 0.5);
        V rise[N];
        for (int i = 0; i < N; ++i) rise[i] = hn::Mul(at(d, p.d[i][0], off), x.t[0]);
        for (int j = 1; j < N; ++j)
            for (int i = 0; i < N; ++i) rise[i] = hn::MulAdd(at(d, p.d[i][j], off), x.t[j], rise[i]);
        V power = hn::Zero(d);
        if (closed) {
            power = hn::Mul(at(d, c.half_scale, off), constant<T>(d, s.power_W));
            for (int i = 0; i < N; ++i) rise[i] = hn::MulAdd(at(d, p.d[i][N + POWER], off), power, rise[i]);
        }
        const V ambient = at(d, c.ambient_K, off), ambient4 = at(d, c.ambient4, off);
        const V four = constant<T>(d, 4.0);

        // Loss at the rotor's mean surface temperature over the step, that loss included [EQ heat-25].
        const V up = rise[L::rotor];
        V mean = hn::MulAdd(half, up, x.t[L::rotor]);
        V surface = hn::MulAdd(at(d, p.mean_of_rise, off), up, mean);
        if (M > 0) surface = hn::NegMulAdd(at(d, p.mode_back, off), rise[M > 0 ? 1 : 0], surface);
        surface = hn::NegMulAdd(at(d, p.arms_feedback, off), x.arms_flow, surface);
        V loss;
        {
            const V g = convection(d, b, s, B_ROTOR, off), r = at(d, c.radiation[B_ROTOR], off);
            const V kelvin = hn::Add(surface, ambient), k2 = hn::Mul(kelvin, kelvin);
            const V f = hn::MulAdd(r, hn::Sub(hn::Mul(k2, k2), ambient4), hn::Mul(g, surface));
            const V slope = hn::MulAdd(hn::Mul(four, r), hn::Mul(k2, kelvin), g);
            loss = hn::Div(f, hn::MulAdd(at(d, p.loss_feedback, off), slope, constant<T>(d, 1.0)));
        }
        mean = hn::NegMulAdd(at(d, p.loss_half, off), loss, mean);
        mean = hn::NegMulAdd(at(d, p.arms_half, off), x.arms_flow, mean);

        // Arms and hub [EQ heat-26]; their own losses at a middle extrapolated from the step before.
        V arms_loss, hub_loss;
        const V h = constant<T>(d, s.h_s), half_h = hn::Mul(half, h);
        {
            const V t = hn::MulAdd(half_h, x.arms_rate, x.arms), kelvin = hn::Add(t, ambient), k2 = hn::Mul(kelvin, kelvin);
            arms_loss = hn::MulAdd(at(d, c.radiation[B_ARMS], off), hn::Sub(hn::Mul(k2, k2), ambient4), hn::Mul(convection(d, b, s, B_ARMS, off), t));
            const V u = hn::MulAdd(half_h, x.hub_rate, x.hub);
            hub_loss = hn::Mul(convection(d, b, s, B_HUB, off), u);
        }
        V middle = hn::Mul(at(d, side.ma, off), x.arms);
        middle = hn::MulAdd(at(d, side.mh, off), x.hub, middle);
        middle = hn::MulAdd(at(d, side.mr, off), mean, middle);
        middle = hn::NegMulAdd(at(d, side.mla, off), arms_loss, middle);
        middle = hn::NegMulAdd(at(d, side.mlh, off), hub_loss, middle);
        const V flow = hn::Mul(at(d, c.arms_link, off), hn::Sub(mean, middle));
        V arms_up = hn::Mul(at(d, side.aa, off), x.arms);
        arms_up = hn::MulAdd(at(d, side.ah, off), x.hub, arms_up);
        arms_up = hn::MulAdd(at(d, side.ar, off), mean, arms_up);
        arms_up = hn::NegMulAdd(at(d, side.ala, off), arms_loss, arms_up);
        arms_up = hn::NegMulAdd(at(d, side.alh, off), hub_loss, arms_up);
        V hub_up = hn::Mul(at(d, side.ha, off), x.arms);
        hub_up = hn::MulAdd(at(d, side.hh, off), x.hub, hub_up);
        hub_up = hn::MulAdd(at(d, side.hr, off), mean, hub_up);
        hub_up = hn::NegMulAdd(at(d, side.hla, off), arms_loss, hub_up);
        hub_up = hn::NegMulAdd(at(d, side.hlh, off), hub_loss, hub_up);
        const V per_h = constant<T>(d, 1.0 / s.h_s);
        x.arms_rate = hn::Mul(arms_up, per_h);
        x.hub_rate = hn::Mul(hub_up, per_h);
        x.arms = hn::Add(x.arms, arms_up);
        x.hub = hn::Add(x.hub, hub_up);
        x.arms_flow = flow;

        V caliper_loss;
        {
            const V t = hn::MulAdd(half, rise[L::caliper], x.t[L::caliper]);
            const V g = convection(d, b, s, B_CALIPER, off), r = at(d, c.radiation[B_CALIPER], off);
            const V kelvin = hn::Add(t, ambient), k2 = hn::Mul(kelvin, kelvin);
            const V f = hn::MulAdd(r, hn::Sub(hn::Mul(k2, k2), ambient4), hn::Mul(g, t));
            const V slope = hn::MulAdd(hn::Mul(four, r), hn::Mul(k2, kelvin), g);
            // 1/(1+e) to second order: e is about a hundredth.
            const V e = hn::Mul(at(d, p.caliper_half, off), slope);
            caliper_loss = hn::Mul(f, hn::Sub(hn::MulAdd(e, e, constant<T>(d, 1.0)), e));
        }

        for (int i = 0; i < N; ++i) {
            V r = hn::NegMulAdd(at(d, p.d[i][N + LOSS], off), loss, rise[i]);
            r = hn::NegMulAdd(at(d, p.d[i][N + ARMS_FLOW], off), flow, r);
            r = hn::NegMulAdd(at(d, p.d[i][N + CALIPER_LOSS], off), caliper_loss, r);
            x.t[i] = hn::Add(x.t[i], r);
        }
        lost_W = hn::Add(hn::Add(loss, caliper_loss), hn::Add(arms_loss, hub_loss));

        const V rotor = M > 0 ? hn::Add(x.t[L::rotor], x.t[M > 0 ? 1 : 0]) : x.t[L::rotor];
        const V at_face = hn::NegMulAdd(constant<T>(d, 1.0), loss, hn::Mul(half, power));   // of the power half is born at each face
        x.surface = hn::MulAdd(at(d, p.surface_pad, off), x.t[L::face], hn::Mul(at(d, p.surface_rotor, off), rotor));
        x.surface = hn::MulAdd(at(d, p.surface_W, off), at_face, x.surface);
        if (closed) x.pad_flow = hn::NegMulAdd(at(d, p.face_link, off), hn::Sub(x.surface, rotor), hn::Sub(power, loss));
    }

    static HWY_ATTR void run(Block<T, N>& b, D d, int off) {
        const LaneData<T>& c = *b.lanes;
        Live x;
        const V start = at(d, c.start, off);
        for (int i = 0; i < N; ++i) x.t[i] = start;
        if (M > 0) x.t[M > 0 ? 1 : 0] = hn::Zero(d);
        x.arms = x.hub = x.surface = start;
        x.arms_flow = x.arms_rate = x.hub_rate = x.pad_flow = hn::Zero(d);
        V peak[out_n], fluid_at = hn::Zero(d);
        for (V& p : peak) p = start;
        V lost = hn::Zero(d), low = hn::Zero(d);
        V share[P + 1];
        for (int i = 0; i <= P; ++i) share[i] = constant<T>(d, b.friction_share[i]);
        const V half = constant<T>(d, 0.5), three_halves = constant<T>(d, 1.5);
        T* trace = b.trace;
        for (std::size_t k = 0; k < b.step_n; ++k) {
            const Step& s = b.steps[k];
            V lost_W;
            if (s.contact == Contact::closed) {
                step<true>(d, b, s, off, x, lost_W);
            } else if (s.contact == Contact::open) {
                step<false>(d, b, s, off, x, lost_W);
            } else {
                Live other = x;
                V other_lost;
                step<true>(d, b, s, off, x, lost_W);
                step<false>(d, b, s, off, other, other_lost);
                const auto is_closed = hn::Gt(constant<T>(d, s.power_W), at(d, c.closed_above, off));
                for (int i = 0; i < N; ++i) x.t[i] = hn::IfThenElse(is_closed, x.t[i], other.t[i]);
                for (V Live::*m : {&Live::arms, &Live::hub, &Live::arms_flow, &Live::arms_rate, &Live::hub_rate, &Live::surface, &Live::pad_flow})
                    x.*m = hn::IfThenElse(is_closed, x.*m, other.*m);
                lost_W = hn::IfThenElse(is_closed, lost_W, other_lost);
            }
            // Sum of the losses with what rounding leaves out carried along (Kahan).
            {
                const V y = hn::MulSub(lost_W, constant<T>(d, s.h_s), low), sum = hn::Add(lost, y);
                low = hn::Sub(hn::Sub(sum, lost), y);
                lost = sum;
            }
            V out[out_n];
            out[O_SURFACE] = x.surface;
            out[O_MEAN] = x.t[L::rotor];
            if (M > 0) {
                // mode: cos(πx/L), mid-plane opposite to the face; the rest of the parabola as without it
                const V mode = x.t[M > 0 ? 1 : 0];
                const V rest = hn::Sub(hn::Sub(x.surface, x.t[L::rotor]), mode);
                out[O_MID] = hn::MulAdd(constant<T>(d, mid_of_rest), rest, hn::Sub(x.t[L::rotor], mode));
            } else {
                out[O_MID] = hn::NegMulAdd(half, x.surface, hn::Mul(three_halves, x.t[L::rotor]));
            }
            out[O_PAD_FACE] = x.t[L::face];
            V pad = hn::Mul(share[0], x.t[L::face]);
            for (int i = 1; i <= P; ++i) pad = hn::MulAdd(share[i], x.t[L::face + i], pad);
            out[O_PAD_MEAN] = pad;
            out[O_PLATE] = x.t[L::plate];
            out[O_PISTON] = x.t[L::piston];
            out[O_FLUID] = x.t[L::fluid];
            out[O_CALIPER] = x.t[L::caliper];
            out[O_ARMS] = x.arms;
            out[O_HUB] = x.hub;
            fluid_at = hn::IfThenElse(hn::Gt(out[O_FLUID], peak[O_FLUID]), constant<T>(d, s.end_s), fluid_at);
            for (int i = 0; i < out_n; ++i) peak[i] = hn::Max(peak[i], out[i]);
            if (b.face_trace) hn::Store(x.t[L::face], d, b.face_trace + k * W + static_cast<std::size_t>(off));
            if (trace && s.row_end) {
                for (int i = 0; i < out_n; ++i) hn::Store(out[i], d, trace + i * W + off);
                hn::Store(x.pad_flow, d, trace + out_n * W + off);
                trace += (out_n + 1) * W;
            }
        }
        for (int i = 0; i < N; ++i) hn::Store(x.t[i], d, b.state[i] + off);
        hn::Store(x.arms, d, b.arms + off);
        hn::Store(x.hub, d, b.hub + off);
        hn::Store(lost, d, b.lost_J + off);
        hn::Store(low, d, b.lost_low_J + off);
        for (int i = 0; i < out_n; ++i) hn::Store(peak[i], d, b.peak[i] + off);
        hn::Store(fluid_at, d, b.fluid_peak_s + off);
    }
};

template <class T, int P, int M> HWY_ATTR void run(Block<T, Layout<P, M>::n>& b, int lanes) {
    if (lanes <= 4) {   // a single case: narrow vectors issue more often
        const hn::CappedTag<T, 4> d;
        for (int off = 0; off < lanes; off += static_cast<int>(hn::MaxLanes(d))) March<decltype(d), P, M>::run(b, d, off);
        return;
    }
    const hn::CappedTag<T, W> d;
    for (int off = 0; off < lanes; off += static_cast<int>(hn::MaxLanes(d))) March<decltype(d), P, M>::run(b, d, off);
}

template <class T, int P, int M> Functions<T, P, M> table() {
    constexpr int N = Layout<P, M>::n;
    return {&run<T, P, M>, &ladder<N>, &combine<N>};
}

}  // namespace HWY_NAMESPACE
}  // namespace bw::heat::engine
HWY_AFTER_NAMESPACE();
#endif

#if HWY_ONCE
namespace bw::heat::engine {

bool supported(Isa isa) {
    const std::int64_t have = hwy::SupportedTargets();
    switch (isa) {
#if HWY_TARGETS & HWY_AVX3
        case Isa::avx512: return (have & HWY_AVX3) != 0;
#endif
#if HWY_TARGETS & HWY_AVX2
        case Isa::avx2: return (have & HWY_AVX2) != 0;
#endif
#if HWY_TARGETS & HWY_NEON
        case Isa::neon: return (have & HWY_NEON) != 0;
#endif
        default: return false;
    }
}

template <class T, int P, int M> Functions<T, P, M> functions(Isa isa) {
    switch (isa) {
#if HWY_TARGETS & HWY_AVX3
        case Isa::avx512: return N_AVX3::table<T, P, M>();
#endif
#if HWY_TARGETS & HWY_AVX2
        case Isa::avx2: return N_AVX2::table<T, P, M>();
#endif
#if HWY_TARGETS & HWY_NEON
        case Isa::neon: return N_NEON::table<T, P, M>();
#endif
        default: return {};
    }
}

#define BW_ENGINE_LAYOUT(P, M)                              \
    template Functions<float, P, M> functions(Isa);         \
    template Functions<double, P, M> functions(Isa);
BW_ENGINE_LAYOUT(3, 0)
BW_ENGINE_LAYOUT(4, 0)
BW_ENGINE_LAYOUT(6, 0)
BW_ENGINE_LAYOUT(4, 1)
BW_ENGINE_LAYOUT(8, 1)
#undef BW_ENGINE_LAYOUT

}  // namespace bw::heat::engine
#endif
