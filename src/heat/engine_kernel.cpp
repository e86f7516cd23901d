// SPDX-License-Identifier: Apache-2.0
// The engine's inner loops, once per vector target: the matrix exponential and the march over the steps.  Layer: heat
// Theory: docs/models/heat.md, "The engine". Only targets with fused multiply-add: each operation is one IEEE
// operation per lane, so the bytes do not depend on the width.
#undef HWY_TARGET_INCLUDE
#define HWY_TARGET_INCLUDE "engine_kernel.cpp"
#ifdef BW_ONE_VECTOR_TARGET   // the narrower one runs on more machines
#define HWY_DISABLED_TARGETS (HWY_SSSE3 | HWY_SSE4 | HWY_AVX3 | HWY_AVX3_DL)
#else
#define HWY_DISABLED_TARGETS (HWY_SSSE3 | HWY_SSE4 | HWY_AVX3_DL)
#endif
#include "hwy/foreach_target.h"
// after it
#include <cmath>
#include <utility>

#include "hwy/contrib/math/math-inl.h"
#include "hwy/highway.h"

#include "engine_kernel.hpp"

#if HWY_TARGET == HWY_AVX2 || HWY_TARGET == HWY_AVX3 || HWY_TARGET == HWY_NEON
HWY_BEFORE_NAMESPACE();
namespace bw::heat::engine {
namespace HWY_NAMESPACE {

namespace hn = hwy::HWY_NAMESPACE;

// A loop with constant bounds written out by the compiler's front end, so that arrays of vectors live in registers.
#define BW_INLINE HWY_ATTR __attribute__((always_inline))
template <class F, int... I> HWY_INLINE void each_of(F&& f, std::integer_sequence<int, I...>) { (f(std::integral_constant<int, I>{}), ...); }
template <int n, class F> HWY_INLINE void each(F&& f) { each_of(f, std::make_integer_sequence<int, n>{}); }

// R rows of a product at once, [R][N] times b (plus twice `own` where there is one), n of its columns, half the lanes: what is read
// of b is used R times, and two such halves of an operator stand in the nearest memory.
template <int N, int R, int n, class D> HWY_INLINE void multiply_part(D d, const double (*rows)[N + source_n][W], const Generator<N>& b, bool own, double (*out)[N + source_n][W], int j0, int off) {
    using V = hn::Vec<D>;
    V acc[R][n];
    each<R>([&](auto r) BW_INLINE {
        each<n>([&](auto j) BW_INLINE {
            acc[r][j] = hn::Zero(d);
            if (own) acc[r][j] = hn::Load(d, &rows[r][j0 + j][off]), acc[r][j] = hn::Add(acc[r][j], acc[r][j]);
        });
    });
    for (int k = 0; k < N; ++k) {
        V left[R];
        each<R>([&](auto r) BW_INLINE { left[r] = hn::Load(d, &rows[r][k][off]); });
        each<n>([&](auto j) BW_INLINE {
            const V right = hn::Load(d, &b.a[k][j0 + j][off]);
            each<R>([&](auto r) BW_INLINE { acc[r][j] = hn::MulAdd(left[r], right, acc[r][j]); });
        });
    }
    each<R>([&](auto r) BW_INLINE { each<n>([&](auto j) BW_INLINE { hn::Store(acc[r][j], d, &out[r][j0 + j][off]); }); });
}
// Once per N, R and target: inlined it would be most of what there is to compile.
template <int N, int R> HWY_NOINLINE HWY_ATTR void multiply_rows(const double (*rows)[N + source_n][W], const Generator<N>& b, bool own, double (*out)[N + source_n][W], int off) {
    const hn::CappedTag<double, W> d;
    constexpr int columns = N + source_n, wide = 7, rest = columns % wide;
    for (int j0 = 0; j0 + wide <= columns; j0 += wide) multiply_part<N, R, wide>(d, rows, b, own, out, j0, off);
    if constexpr (rest > 0) multiply_part<N, R, rest>(d, rows, b, own, out, columns - rest, off);
}

// c := a·b for all rows (own: + 2·a), and for the rotor's integral where `rotor`.
template <int N> HWY_ATTR void multiply(const Generator<N>& a, const Generator<N>& b, Generator<N>& c, bool own, bool rotor) {
    const hn::CappedTag<double, W> d;
    for (int off = 0; off < W; off += static_cast<int>(hn::MaxLanes(d))) {
        for (int i = 0; i + 2 <= N; i += 2) multiply_rows<N, 2>(a.a + i, b, own, c.a + i, off);
        if (N % 2) multiply_rows<N, 1>(a.a + N - 1, b, own, c.a + N - 1, off);
        if (rotor) multiply_rows<N, 1>(&a.rotor, b, own, &c.rotor, off);
    }
}

// exp(Ah) - 1 over h = base·2^-halvings by a short series, then doubled [EQ heat-23].
template <int N> HWY_ATTR void ladder(const Generator<N>& generator, const Ladder<N>& l) {
    constexpr int columns = N + source_n;
    double h = l.base_s;
    for (int i = 0; i < l.halvings; ++i) h *= 0.5;
    Generator<N> x, square, f, g;
    for (int i = 0; i < N; ++i)
        for (int j = 0; j < columns; ++j)
            for (int k = 0; k < W; ++k) x.a[i][j][k] = generator.a[i][j][k] * h;
    multiply(x, x, square, false, false);
    // x + x²/2 + (x/6 + x²/24) x², sources alike: their integrals.
    for (int i = 0; i < N; ++i)
        for (int j = 0; j < N; ++j)
            for (int k = 0; k < W; ++k) f.a[i][j][k] = x.a[i][j][k] / 6 + square.a[i][j][k] / 24;
    multiply(f, square, g, false, false);
    for (int i = 0; i < N; ++i)
        for (int j = 0; j < columns; ++j)
            for (int k = 0; k < W; ++k) g.a[i][j][k] += x.a[i][j][k] + square.a[i][j][k] / 2;
    // The rotor's integral: h (1 + x/2 + x²/6 + x³/24).
    const hn::CappedTag<double, W> d;
    for (int off = 0; off < W; off += static_cast<int>(hn::MaxLanes(d))) multiply_rows<N, 1>(x.a, square, false, f.a, off);
    for (int j = 0; j < columns; ++j)
        for (int k = 0; k < W; ++k) g.rotor[j][k] = h * (x.a[0][j][k] / 2 + square.a[0][j][k] / 6 + f.a[0][j][k] / 24 + (j == 0 ? 1 : 0));
    Generator<N>* from = &g;
    Generator<N>* to = &f;
    for (int i = 0; i < l.halvings; ++i) {
        Generator<N>* target = i + 1 == l.halvings ? &l.rung[0] : to;
        multiply(*from, *from, *target, true, true);
        to = from;
        from = target;
    }
    if (l.halvings <= 0) l.rung[0] = g;
    for (int i = 1; i <= l.last; ++i) multiply(l.rung[i - 1], l.rung[i - 1], l.rung[i], true, true);
}

// sum, then more: D := D + E + E D, sources and the rotor's integral alike.
template <int N> HWY_ATTR void combine(Generator<N>& sum, const Generator<N>& more) {
    constexpr int columns = N + source_n;
    Generator<N> g;
    multiply(more, sum, g, false, true);
    for (int i = 0; i < N; ++i)
        for (int j = 0; j < columns; ++j)
            for (int k = 0; k < W; ++k) sum.a[i][j][k] = sum.a[i][j][k] + more.a[i][j][k] + g.a[i][j][k];
    for (int j = 0; j < columns; ++j)
        for (int k = 0; k < W; ++k) sum.rotor[j][k] = sum.rotor[j][k] + more.rotor[j][k] + g.rotor[j][k];
}

template <class T, class D> HWY_INLINE hn::Vec<D> constant(D d, double x) { return hn::Set(d, static_cast<T>(x)); }

// One step of the shape modes [EQ heat-31]; in: [ring_input_n] for the lanes at off.
template <class D, class T = hn::TFromD<D>> HWY_NOINLINE HWY_ATTR void ring_step(D d, Rings<T>& r, int length, double h_s, const T* arms_link, bool closed, const T (*in)[W], int off) {
    using V = hn::Vec<D>;
    const auto at = [&](const T* p) BW_INLINE { return hn::Load(d, p + off); };
    const RingLength<T>& l = r.length[length];
    const V half = constant<T>(d, 0.5), one = constant<T>(d, 1.0), h = constant<T>(d, h_s);
    const V heat = hn::Load(d, in[R_HEAT]), loss = hn::Load(d, in[R_LOSS]), slope = hn::Load(d, in[R_SLOPE]), bend = hn::Load(d, in[R_BEND]);
    // Halfway, without losses: the shape that decides about them.
    V rim = hn::Zero(d), inner = hn::Zero(d), track = hn::Zero(d), lost_by_shape = hn::Zero(d), square = hn::Zero(d);
    V middle[ring_modes], end[ring_modes];
    each<ring_modes>([&](auto m) BW_INLINE {
        const V a = at(r.a[m]);
        end[m] = hn::MulAdd(at(l.keep[m]), a, hn::Mul(hn::Mul(at(l.gain[m]), at(r.heat[m])), heat));
        middle[m] = hn::Mul(half, hn::Add(a, end[m]));
        rim = hn::MulAdd(at(r.rim[m]), middle[m], rim);
        inner = hn::MulAdd(at(r.inner[m]), middle[m], inner);
        track = hn::MulAdd(at(r.heat[m]), middle[m], track);
        lost_by_shape = hn::MulAdd(at(r.loss[m]), middle[m], lost_by_shape);
        square = hn::MulAdd(middle[m], middle[m], square);
    });
    // Mean and arms less those of the run: slow, implicit. What flows into the arms cools the inner ring within the step.
    const V link = at(arms_link), gone = at(r.arms), per = hn::Mul(h, at(r.per_J_K)), arms_per = hn::Mul(h, at(r.arms_per_J_K));
    const V flow = hn::Load(d, in[R_FLOW]), ahead = hn::Sub(hn::Add(inner, at(r.mean)), gone);
    inner = hn::NegMulAdd(at(l.sink), hn::Mul(hn::MulAdd(link, ahead, flow), at(l.damped)), inner);
    // Radiation bends upwards: hot places lose more than the mean's slope says.
    const V fall = hn::MulAdd(bend, square, hn::MulAdd(slope, lost_by_shape, hn::Mul(link, hn::Sub(inner, gone))));
    const V mean = hn::Div(hn::NegMulAdd(per, fall, at(r.mean)), hn::MulAdd(per, hn::Add(slope, link), one));
    const V before = hn::Load(d, in[R_ARMS_BEFORE]), after = hn::Load(d, in[R_ARMS_AFTER]);
    const V warm = hn::Mul(half, hn::Add(before, after));
    // Heat that the arms lost, and passed to the hub, over one temperature.
    const V passed = hn::Sub(hn::Mul(arms_per, flow), hn::Sub(after, before));
    const V rate = hn::IfThenElse(hn::Gt(warm, one), hn::Div(passed, hn::Max(warm, one)), hn::Zero(d));
    const V more = hn::Add(inner, mean);
    const V arms = hn::Div(hn::MulAdd(hn::Mul(arms_per, link), more, gone), hn::Add(hn::MulAdd(arms_per, link, one), hn::Max(rate, hn::Zero(d))));
    const V to_arms = hn::MulAdd(link, hn::Sub(more, arms), flow);
    // Shape times area: faces all alike, the rim at the last ring, less what the pad covers of the track, taken at the track's mean.
    const V rim_slope = hn::Mul(slope, at(r.rim_share)), cover_slope = hn::Mul(slope, at(r.cover_share));
    const V face_slope = hn::MulAdd(bend, track, hn::Add(hn::Sub(slope, rim_slope), cover_slope)), rim_loss = hn::Mul(rim_slope, rim), covered = hn::Mul(cover_slope, track);
    V bound = hn::Zero(d);
    each<ring_modes>([&](auto m) BW_INLINE {
        V away = hn::Mul(loss, at(r.loss[m]));
        away = hn::MulAdd(face_slope, middle[m], away);
        away = hn::MulAdd(rim_loss, at(r.rim[m]), away);
        away = hn::NegMulAdd(covered, at(r.heat[m]), away);
        away = hn::MulAdd(to_arms, at(r.inner[m]), away);
        const V a = hn::NegMulAdd(at(l.gain[m]), away, end[m]);
        end[m] = a;
        bound = hn::MulAdd(hn::Abs(a), at(r.most[m]), bound);
        hn::Store(a, d, r.a[m] + off);
    });
    hn::Store(mean, d, r.mean + off);
    hn::Store(arms, d, r.arms + off);
    if (!closed) return;   // while off no ring is hotter than it was
    const V middle_of = hn::Add(hn::Load(d, in[R_MEAN]), mean);
    const V base = hn::MulAdd(at(r.surface_in), heat, hn::NegMulAdd(at(r.surface_loss), loss, middle_of));
    const V so_far = at(r.hottest);
    if (HWY_LIKELY(!r.keep_top && hn::AllFalse(d, hn::Gt(hn::Add(base, bound), so_far)))) return;
    V top = hn::Sub(base, bound);   // under all places
    for (int i = 0; i < ring_places; ++i) {
        V t = base;
        each<ring_modes>([&](auto m) BW_INLINE { t = hn::MulAdd(at(r.at[i][m]), end[m], t); });
        top = hn::Max(top, t);
    }
    hn::Store(top, d, r.top + off);
    hn::Store(hn::Max(so_far, top), d, r.hottest + off);
}

// The whole pass of one case whose march is over.
HWY_ATTR void ring_pass(Rings<double>& r, const Step* steps, int count, const double* arms_link, const double (*inputs)[ring_input_n], double* tops) {
    const hn::CappedTag<double, 1> d;
    alignas(64) double in[ring_input_n][W] = {};
    for (int k = 0; k < count; ++k) {
        for (int i = 0; i < ring_input_n; ++i) in[i][0] = inputs[k][i];
        ring_step(d, r, steps[k].length, steps[k].h_s, arms_link, steps[k].contact != Contact::open, in, 0);
        tops[k] = r.top[0];
    }
}

template <class D, int P, int M, int Q, int S> struct March {
    using L = Layout<P, M, Q, S>;
    using T = hn::TFromD<D>;
    using V = hn::Vec<D>;
    static constexpr int N = L::n, outs = outs_of(S);

    struct Live {
        V t[N];
        V arms, hub, arms_flow, caliper_loss, hub_rate, surface, pad_flow, rotor_loss, apart;   // apart: half of what this face of the rotor is hotter than the other
    };

    static HWY_INLINE V at(D d, const T* p, int off) { return hn::Load(d, p + off); }

    // v^m of each lane; rare, and long enough to stand apart.
    static HWY_NOINLINE HWY_ATTR void raise(D d, const T* exponent, double log_speed, T* out) {
        hn::Store(hn::Exp(d, hn::Mul(hn::Load(d, exponent), constant<T>(d, log_speed))), d, out);
    }

    // Convection [W/K] of one body.
    static HWY_INLINE V convection(D d, const Block<T, N, S>& b, const Step& s, int body, int off) {
        const LaneData<T>& c = *b.lanes;
        V w = constant<T>(d, s.speed_power[static_cast<std::size_t>(body)]);
        if (HWY_UNLIKELY(b.exponents_differ)) {
            alignas(64) T own[W];
            raise(d, c.conv_m[body] + off, s.log_speed, own);
            w = hn::Load(d, own);
        }
        return hn::MulAdd(at(d, c.conv_b[body], off), w, at(d, c.conv_a[body], off));
    }

    // Whether such a top may be higher than what was seen, in any lane.
    static HWY_INLINE bool may_top(D d, V a, V m, V e, V peak) {
        return HWY_UNLIKELY(!hn::AllFalse(d, hn::And(hn::And(hn::Gt(m, a), hn::Gt(m, e)), hn::Gt(hn::Add(m, hn::Max(hn::Sub(m, a), hn::Sub(m, e))), peak))));
    }
    // Of three values h1 and h2 apart: the top of the parabola through them where the middle one is the largest, else the middle one itself, which was seen.
    static HWY_NOINLINE HWY_ATTR V top_of(D d, V a, V m, V e, double h1, double h2) {
        const V up = hn::Sub(m, a), down = hn::Sub(e, m), s1 = hn::Mul(up, constant<T>(d, 1 / h1)), s2 = hn::Mul(down, constant<T>(d, 1 / h2));
        const V per = constant<T>(d, 1 / (h1 + h2));
        const V slope = hn::Mul(hn::MulAdd(s1, constant<T>(d, h2), hn::Mul(s2, constant<T>(d, h1))), per), curve = hn::Mul(hn::Sub(s1, s2), per);   // at the middle
        const V top = hn::Div(hn::Mul(slope, slope), hn::Max(hn::Mul(constant<T>(d, 4.0), curve), constant<T>(d, 1e-12)));
        const auto inside = hn::And(hn::Gt(up, hn::Zero(d)), hn::Lt(down, hn::Zero(d)));
        return hn::IfThenElse(inside, hn::Add(m, hn::Min(top, hn::Max(up, hn::Neg(down)))), m);
    }

    // The same where the slope at the middle one is known: the cubic through all four, so near the top that it need not be long.
    static HWY_NOINLINE HWY_ATTR V top_of_slope(D d, V a, V m, V e, double h1, double h2, V slope) {
        const V zero = hn::Zero(d), up = hn::Sub(m, a), down = hn::Sub(m, e), first = constant<T>(d, -h1), last = constant<T>(d, h2);
        const V c1 = hn::Mul(hn::NegMulAdd(slope, first, hn::Neg(up)), constant<T>(d, 1 / (h1 * h1))), c2 = hn::Mul(hn::NegMulAdd(slope, last, hn::Neg(down)), constant<T>(d, 1 / (h2 * h2)));
        const V third = hn::Mul(hn::Sub(c2, c1), constant<T>(d, 1 / (h1 + h2))), square = hn::NegMulAdd(third, last, c2), least = constant<T>(d, -1e-9);
        V s = zero;
        for (int k = 0; k < 4; ++k) {
            const V bend = hn::Min(hn::MulAdd(hn::Mul(constant<T>(d, 3.0), third), s, hn::Add(square, square)), least);
            s = hn::Min(hn::Max(hn::Neg(hn::Div(slope, bend)), first), last);
        }
        const V more = hn::Mul(s, hn::MulAdd(s, hn::MulAdd(s, third, square), slope));
        return hn::Add(m, hn::IfThenElse(hn::Gt(hn::Min(up, down), zero), hn::Min(hn::Max(more, zero), hn::Max(up, down)), zero));
    }

    // The same of values at t, 2t and 4t behind a release, where a parabola in log t fits: the rise is fast and the fall slow.
    static HWY_NOINLINE HWY_ATTR V top_of_doublings(D d, V a, V m, V e) {
        const V up = hn::Sub(m, a), down = hn::Sub(e, m), across = hn::Sub(e, a);
        const V top = hn::Div(hn::Mul(across, across), hn::Max(hn::Mul(constant<T>(d, 8.0), hn::Sub(up, down)), constant<T>(d, 1e-12)));
        const auto inside = hn::And(hn::Gt(up, hn::Zero(d)), hn::Lt(down, hn::Zero(d)));
        return hn::IfThenElse(inside, hn::Add(m, hn::Min(top, hn::Max(up, hn::Neg(down)))), m);
    }

    // The top of rest - s t - 12/π² (rest - before) exp(-t/τ), with s τ = fall; `before` where it only falls.
    static HWY_NOINLINE HWY_ATTR V settling_top(D d, V rest, V before, V fall) {
        const V one = constant<T>(d, 1.0), bend = hn::Mul(constant<T>(d, 1.2158542), hn::Sub(rest, before)), ratio = hn::Max(hn::Div(bend, fall), one);
        const V top = hn::NegMulAdd(fall, hn::Add(hn::Log(d, ratio), one), rest);
        return hn::IfThenElse(hn::Gt(bend, fall), top, before);
    }

    // Slopes at the start of a step [K/s]; what is slow is taken as it is at the end.
    static HWY_NOINLINE HWY_ATTR V piston_slope(D d, const LaneData<T>& c, int side, int off, const T (*started)[W], V piston, V fluid, V caliper) {
        const T(*rate)[W] = c.piston_rate + side * piston_rates;
        V r = hn::Mul(at(d, rate[3], off), piston);
        for (int i = 0; i < (Q > 0 ? 3 : 2); ++i) r = hn::MulAdd(at(d, rate[i], off), hn::Load(d, started[i]), r);
        return hn::MulAdd(at(d, rate[4], off), fluid, hn::MulAdd(at(d, rate[5], off), caliper, r));
    }
    // The top within one step of these ends and slopes at them [K/s]: of the cubic through them, where it rises at first and falls at last.
    static HWY_NOINLINE HWY_ATTR V top_between(D d, V from, V to, V first, V last, double h_s) {
        const V h = constant<T>(d, h_s), zero = hn::Zero(d), up = hn::Mul(h, first), down = hn::Mul(h, last), rise = hn::Sub(to, from);
        const V third = hn::NegMulAdd(constant<T>(d, 2.0), rise, hn::Add(up, down)), second = hn::MulSub(constant<T>(d, 3.0), rise, hn::Add(hn::Add(up, up), down));
        const V root = hn::Sqrt(hn::Max(hn::MulSub(second, second, hn::Mul(constant<T>(d, 3.0), hn::Mul(third, up))), zero));
        const V u = hn::Div(up, hn::Max(hn::Sub(root, second), constant<T>(d, 1e-12)));
        const V more = hn::Mul(u, hn::MulAdd(u, hn::MulAdd(u, third, second), up));
        return hn::IfThenElse(hn::And(hn::Gt(up, zero), hn::Lt(down, zero)), hn::Add(from, hn::Min(hn::Max(more, zero), up)), from);
    }
    static HWY_NOINLINE HWY_ATTR V arms_slope(D d, const Block<T, N, S>& b, const Step& s, int off, V arms, V rotor, V hub) {
        const LaneData<T>& c = *b.lanes;
        const V kelvin = hn::Add(arms, at(d, c.ambient_K, off)), k2 = hn::Mul(kelvin, kelvin);
        V in = hn::Mul(at(d, c.arms_link, off), hn::Sub(rotor, arms));
        in = hn::MulAdd(at(d, c.hub_link, off), hn::Sub(hub, arms), in);
        in = hn::NegMulAdd(convection(d, b, s, B_ARMS, off), arms, in);
        in = hn::NegMulAdd(at(d, c.radiation[B_ARMS], off), hn::Sub(hn::Mul(k2, k2), at(d, c.ambient4, off)), in);
        return hn::Mul(in, at(d, c.arms_per_J_K, off));
    }

    // The last two values of a temperature, to find a top that stands between the ends of steps.
    struct Watch {
        V earlier, before;
        HWY_INLINE void see(D d, V now, double gap_s, double after_s, bool look, V& peak) {
            if (look && may_top(d, earlier, before, now, peak)) peak = hn::Max(peak, top_of(d, earlier, before, now, gap_s, after_s));
            earlier = before;
            before = now;
        }
        // With the slope at the middle one [K/s], found only where it is needed.
        template <class F> HWY_INLINE void see_slope(D d, V now, double gap_s, double after_s, V& peak, F slope) {
            if (may_top(d, earlier, before, now, peak)) peak = hn::Max(peak, top_of_slope(d, earlier, before, now, gap_s, after_s, slope()));
            earlier = before;
            before = now;
        }
        // Behind a release, at doublings of the time since.
        HWY_INLINE void see_doubled(D d, V now, bool look, V& peak) {
            if (look && may_top(d, earlier, before, now, peak)) peak = hn::Max(peak, top_of_doublings(d, earlier, before, now));
            earlier = before;
            before = now;
        }
    };
    struct Probed {
        Watch watch;
        V peak;
    };
    // The plate within an open step: behind a release at 1/32, 1/16 .. 1/2 of it, later at a quarter, a half and the end. By memory, since it is rare.
    static HWY_NOINLINE HWY_ATTR void probe(D d, const Propagator<T, N, S>& p, int side, const T (*t)[W], int off, const Step& s, double gap_s, Probed& seen) {
        const int state = L::plate + side * L::block;
        const V start = hn::Load(d, t[state]);
        for (int q = s.released ? 0 : probe_n - 2; q < probe_n + (s.released ? 0 : 1); ++q) {
            const T(*row)[W] = q < probe_n ? p.probe[side * probe_n + q] : p.d[state];
            V now = start;
            for (int j = 0; j < N; ++j) now = hn::MulAdd(hn::Load(d, row[j] + off), hn::Load(d, t[j]), now);
            if (q < probe_n) seen.peak = hn::Max(seen.peak, now);
            if (s.released) seen.watch.see_doubled(d, now, q > 1, seen.peak);
            else seen.watch.see(d, now, q == probe_n - 2 ? gap_s : s.h_s / 4, q < probe_n ? s.h_s / 4 : s.h_s / 2, true, seen.peak);
        }
    }

    // The same within a closed step, with its power and its loss, of what these rows and sources make from `start` on: the largest, the end one of them.
    static HWY_NOINLINE HWY_ATTR V probe_closed(D d, const Propagator<T, N, S>& p, const T (*rows)[N][W], const T (*sources)[source_n][W], V start, const T (*t)[W], int off, double h_s, V power, V loss, V arms_flow, V end) {
        V before = start, earlier = start, most = end;
        double before_s = 0, earlier_s = 0;
        const auto see = [&](V now, double now_s) BW_INLINE {
            // Not through the start, from which the face jumps; over doublings, as behind a release.
            if (earlier_s > 0) most = hn::Max(most, now_s < 2.5 * before_s ? top_of_doublings(d, earlier, before, now) : top_of(d, earlier, before, now, before_s - earlier_s, now_s - before_s));
            most = hn::Max(most, now);
            earlier = before, earlier_s = before_s;
            before = now, before_s = now_s;
        };
        for (int q = 0; q < probe_n; ++q) {
            V now = start;
            for (int j = 0; j < N; ++j) now = hn::MulAdd(hn::Load(d, rows[q][j] + off), hn::Load(d, t[j]), now);
            const T(*of)[W] = sources[q];
            now = hn::MulAdd(hn::Load(d, of[POWER] + off), power, now);
            now = hn::NegMulAdd(hn::Load(d, of[ARMS_FLOW] + off), arms_flow, now);
            see(hn::NegMulAdd(hn::Load(d, of[LOSS] + off), loss, now), p.probe_s[q]);
        }
        see(end, h_s);
        return most;
    }

    // ring: null, or where the pass along the radius finds the rotor's loss, its slope and half its second derivative by temperature.
    template <bool closed>
    static HWY_INLINE void step(D d, const Block<T, N, S>& b, const Step& s, int off, Live& x, V& lost_W, T (*ring)[W]) {
        const Propagator<T, N, S>& p = closed ? *b.closed[s.length] : *b.open[s.length];
        const LaneData<T>& c = *b.lanes;
        const Side<T>& side = b.side[s.length];
        const V half = constant<T>(d, 0.5), one = constant<T>(d, 1.0);
        const V ambient = at(d, c.ambient_K, off), ambient4 = at(d, c.ambient4, off);
        // One step waits for the one before it: the rotor's row and what follows from it come first, and all that can be had from the
        // state alone (losses and their slopes where they stand now) is made beside it.
        V power = hn::Zero(d);
        if (closed) power = hn::Mul(at(d, c.half_scale, off), constant<T>(d, s.power_W));
        // Slow losses enter the product as half of what they were in the step before, taken off at its start; so they need no column of
        // their own: the caliper's, and while open what flows into the arms.
        V t[N];
        each<N>([&](auto i) BW_INLINE { t[i] = x.t[i]; });
        const V caliper_half = at(d, p.caliper_half, off), arms_half = at(d, p.arms_half, off);
        t[L::caliper] = hn::NegMulAdd(caliper_half, x.caliper_loss, t[L::caliper]);
        const V start = hn::NegMulAdd(arms_half, x.arms_flow, t[L::rotor]);
        if (!closed) t[L::rotor] = start;
        const auto row_of = [&](const T (*row)[W]) BW_INLINE {
            V a = hn::Mul(at(d, row[0], off), t[0]), e = hn::Mul(at(d, row[1], off), t[1]);
            each<N - 2>([&](auto j) BW_INLINE { (j % 2 ? e : a) = hn::MulAdd(at(d, row[j + 2], off), t[j + 2], j % 2 ? e : a); });
            if (closed) a = hn::MulAdd(at(d, row[N + POWER], off), power, a);
            return hn::Add(a, e);
        };
        V rise[N];
        rise[L::rotor] = row_of(p.d[L::rotor]);
        const V up = rise[L::rotor];
        // Rotor's mean over the step less its start, and how far the surface's is from that start.
        const V ahead = closed ? row_of(p.mean) : hn::Mul(half, up);   // closed, the two may meet from far apart within a fraction of the step
        V away = hn::NegMulAdd(at(d, p.arms_feedback, off), x.arms_flow, hn::MulAdd(at(d, p.mean_of_rise, off), up, ahead));
        struct Loss { V watt, slope, bend; };   // at a temperature above ambient [W], its slope [W/K] and half its second derivative
        const auto loss_at = [&](int body, V t) BW_INLINE {
            const V g = convection(d, b, s, body, off), r = at(d, c.radiation[body], off);
            const V kelvin = hn::Add(t, ambient), k2 = hn::Mul(kelvin, kelvin), rk2 = hn::Mul(r, k2);
            return Loss{hn::MulAdd(r, hn::Sub(hn::Mul(k2, k2), ambient4), hn::Mul(g, t)), hn::MulAdd(constant<T>(d, 4.0), hn::Mul(rk2, kelvin), g), hn::Mul(constant<T>(d, 6.0), rk2)};
        };
        const Loss rotor_now = loss_at(B_ROTOR, x.t[L::rotor]);
        const V feedback = at(d, p.loss_feedback, off), falls = hn::Mul(feedback, rotor_now.slope), part = hn::Div(one, hn::Add(falls, one));
        const V part_bend = hn::Mul(hn::Mul(part, part), hn::Mul(feedback, hn::Add(rotor_now.bend, rotor_now.bend)));
        // Arms and hub [EQ heat-26]: the loss of the arms at their mean over the step, that of the hub at an extrapolated middle. Loss
        // and mean of the arms are straight lines over the rotor's mean.
        const V hub_loss = hn::Mul(convection(d, b, s, B_HUB, off), hn::MulAdd(hn::Mul(half, constant<T>(d, s.h_s)), x.hub_rate, x.hub));
        const Loss arms_now = loss_at(B_ARMS, x.arms);
        const V fall = at(d, side.mla, off), arms_part = hn::Div(one, hn::MulAdd(fall, arms_now.slope, one)), mr = at(d, side.mr, off), link = at(d, c.arms_link, off);
        const V middle_0 = hn::NegMulAdd(at(d, side.mlh, off), hub_loss, hn::MulAdd(at(d, side.mh, off), x.hub, hn::Mul(at(d, side.ma, off), x.arms)));
        const V arms_loss_0 = hn::Mul(arms_part, hn::MulAdd(arms_now.slope, hn::Sub(middle_0, x.arms), arms_now.watt)), arms_loss_1 = hn::Mul(arms_part, hn::Mul(arms_now.slope, mr));
        const V flow_0 = hn::Mul(link, hn::MulSub(fall, arms_loss_0, middle_0)), flow_1 = hn::Mul(link, hn::Sub(hn::MulAdd(fall, arms_loss_1, one), mr));
        const Loss caliper_now = loss_at(B_CALIPER, x.t[L::caliper]);
        V caliper_part;
        {   // 1/(1+e) to second order: e is about a hundredth.
            const V e = hn::Mul(caliper_half, caliper_now.slope);
            caliper_part = hn::Sub(hn::MulAdd(e, e, one), e);
        }

        each<N - 1>([&](auto i) BW_INLINE { rise[i + 1] = hn::Mul(at(d, p.d[i + 1][0], off), t[0]); });
        each<N - 1>([&](auto j) BW_INLINE {
            each<N - 1>([&](auto i) BW_INLINE { rise[i + 1] = hn::MulAdd(at(d, p.d[i + 1][j + 1], off), t[j + 1], rise[i + 1]); });
        });
        if (closed) each<N - 1>([&](auto i) BW_INLINE { rise[i + 1] = hn::MulAdd(at(d, p.d[i + 1][N + POWER], off), power, rise[i + 1]); });

        // Loss at the rotor's mean surface temperature over the step, that loss included [EQ heat-25].
        if (M > 0) away = hn::NegMulAdd(at(d, p.mode_back, off), rise[M > 0 ? 1 : 0], away);
        // A loss that grows over the step cools less of it than its mean does.
        away = hn::MulAdd(hn::Mul(falls, constant<T>(d, 1.0 / 6)), up, away);
        // The mean of a fourth power over a ramp is more than that of its middle: 6 T²·rise²/12.
        V loss = hn::MulAdd(away, hn::MulAdd(rotor_now.bend, away, rotor_now.slope), hn::Add(rotor_now.watt, constant<T>(d, s.drying_W)));
        loss = hn::MulAdd(hn::Mul(constant<T>(d, 1.0 / 12), rotor_now.bend), hn::Mul(up, up), loss);
        loss = hn::Mul(loss, hn::NegMulAdd(part_bend, away, part));
        if (ring) {
            hn::Store(loss, d, ring[R_LOSS]);
            hn::Store(hn::MulAdd(hn::Add(rotor_now.bend, rotor_now.bend), away, rotor_now.slope), d, ring[R_SLOPE]);
            hn::Store(rotor_now.bend, d, ring[R_BEND]);
        }
        const V mean = hn::NegMulAdd(at(d, p.loss_half, off), loss, hn::Add(start, ahead));
        const V flow = hn::MulAdd(flow_1, mean, flow_0), arms_loss = hn::MulAdd(arms_loss_1, mean, arms_loss_0);
        const V caliper_loss = hn::Mul(caliper_part, hn::MulAdd(hn::Mul(half, caliper_now.slope), rise[L::caliper], caliper_now.watt));
        rise[L::caliper] = hn::NegMulAdd(hn::Add(caliper_half, caliper_half), caliper_loss, rise[L::caliper]);
        each<N>([&](auto i) BW_INLINE { rise[i] = hn::NegMulAdd(at(d, p.d[i][N + LOSS], off), loss, rise[i]); });
        if (closed) each<N>([&](auto i) BW_INLINE { rise[i] = hn::NegMulAdd(at(d, p.d[i][N + ARMS_FLOW], off), flow, rise[i]); });
        else rise[L::rotor] = hn::NegMulAdd(hn::Add(arms_half, arms_half), flow, rise[L::rotor]);
        each<N>([&](auto i) BW_INLINE { x.t[i] = hn::Add(x.t[i], rise[i]); });
        x.caliper_loss = caliper_loss;
        V arms_up = hn::Mul(at(d, side.aa, off), x.arms);
        arms_up = hn::MulAdd(at(d, side.ah, off), x.hub, arms_up);
        arms_up = hn::NegMulAdd(at(d, side.alh, off), hub_loss, arms_up);
        arms_up = hn::MulAdd(at(d, side.ar, off), mean, arms_up);
        arms_up = hn::NegMulAdd(at(d, side.ala, off), arms_loss, arms_up);
        V hub_up = hn::Mul(at(d, side.ha, off), x.arms);
        hub_up = hn::MulAdd(at(d, side.hh, off), x.hub, hub_up);
        hub_up = hn::NegMulAdd(at(d, side.hlh, off), hub_loss, hub_up);
        hub_up = hn::MulAdd(at(d, side.hr, off), mean, hub_up);
        hub_up = hn::NegMulAdd(at(d, side.hla, off), arms_loss, hub_up);
        x.hub_rate = hn::Mul(hub_up, constant<T>(d, 1.0 / s.h_s));
        x.arms = hn::Add(x.arms, arms_up);
        x.hub = hn::Add(x.hub, hub_up);
        x.arms_flow = flow;
        lost_W = hn::Add(hn::Add(loss, caliper_loss), hn::Add(arms_loss, hub_loss));
        x.rotor_loss = loss;

        const V rotor = M > 0 ? hn::Add(x.t[L::rotor], x.t[M > 0 ? 1 : 0]) : x.t[L::rotor];
        const V at_face = hn::NegMulAdd(constant<T>(d, 1.0), loss, hn::Mul(half, power));   // of the power half is born at each face
        x.surface = hn::MulAdd(at(d, p.surface_pad, off), x.t[L::face], hn::Mul(at(d, p.surface_rotor, off), rotor));
        if constexpr (S == 2) {
            const V other = x.t[L::face + L::block];
            x.surface = hn::MulAdd(at(d, p.surface_other, off), other, x.surface);
            x.apart = hn::MulAdd(at(d, p.apart_pad, off), x.t[L::face], hn::Mul(at(d, p.apart_other, off), other));
            x.apart = hn::MulAdd(at(d, p.apart_rotor, off), rotor, hn::MulAdd(at(d, p.apart_W, off), at_face, x.apart));
        }
        x.surface = hn::MulAdd(at(d, p.surface_W, off), at_face, x.surface);
        if (closed) x.pad_flow = hn::NegMulAdd(at(d, p.face_link, off), hn::Sub(x.surface, rotor), hn::Sub(power, loss));
        if constexpr (closed && S == 2) x.pad_flow = hn::NegMulAdd(at(d, p.apart_link, off), x.apart, x.pad_flow);   // this side's, twice its half
    }

    // What a step leaves, by way of memory: where lanes differ in contact both kinds of step are made and the lanes choose.
    static constexpr int besides = 7 + S;
    struct Kept { alignas(64) T v[N + besides][W]; };
    static HWY_INLINE void keep(D d, const Live& x, V lost_W, Kept& m) {
        each<N>([&](auto i) BW_INLINE { hn::Store(x.t[i], d, m.v[i]); });
        const V rest[] = {x.arms, x.hub, x.arms_flow, x.caliper_loss, x.hub_rate, x.surface, x.pad_flow, lost_W, x.apart};
        each<besides>([&](auto i) BW_INLINE { hn::Store(rest[i], d, m.v[N + i]); });
    }
    template <class Choose> static HWY_INLINE void take(D d, const Kept& m, Live& x, V& lost_W, Choose choose) {
        each<N>([&](auto i) BW_INLINE { x.t[i] = choose(x.t[i], hn::Load(d, m.v[i])); });
        V* const rest[] = {&x.arms, &x.hub, &x.arms_flow, &x.caliper_loss, &x.hub_rate, &x.surface, &x.pad_flow, &lost_W, &x.apart};
        each<besides>([&](auto i) BW_INLINE { *rest[i] = choose(*rest[i], hn::Load(d, m.v[N + i])); });
    }

    // Within a closed step that may top: what it began and ended with, who asks, and the peaks. By memory, since it is rare.
    struct Within {
        alignas(64) T from[N][W], to[N][W], pad[S][W];   // pad: its mean at the start
        alignas(64) T due[2 * S + 1][W];                 // above 0: yes; plate or face of each side, then the pad's mean of each, then the rotor
        alignas(64) T peak[outs][W];
    };
    static HWY_NOINLINE HWY_ATTR void look_within(D d, const Block<T, N, S>& b, const Step& s, int off, V rotor_loss, V arms_flow, Within& m) {
        const Propagator<T, N, S>& p = *b.closed[s.length];
        const V power = hn::Mul(at(d, b.lanes->half_scale, off), constant<T>(d, s.power_W)), zero = hn::Zero(d);
        const auto due = [&](int which) BW_INLINE { return hn::Gt(hn::Load(d, m.due[which]), zero); };
        const auto most = [&](const T (*rows)[N][W], const T (*sources)[source_n][W], V start, V end) BW_INLINE { return probe_closed(d, p, rows, sources, start, m.from, off, s.h_s, power, rotor_loss, arms_flow, end); };
        const auto raise_peak = [&](int out, int which, V to) BW_INLINE {
            const V peak = hn::Load(d, m.peak[out]);
            hn::Store(hn::IfThenElse(due(which), hn::Max(peak, to), peak), d, m.peak[out]);
        };
        for (int side = 0; side < S; ++side) {
            const int first = side * probe_n, plate = L::plate + side * L::block, face = L::face + side * L::block;
            // In the first step of a hot brake the plate tops where the pad's mean does.
            const int asks = s.fell ? side : S + side;
            if (!hn::AllFalse(d, due(asks)))
                raise_peak(side == 0 ? int(O_PLATE) : int(O_OTHER_PLATE), asks, most(p.probe + first, p.probe_of + first, hn::Load(d, m.from[plate]), hn::Load(d, m.to[plate])));
            if (!s.fell && !hn::AllFalse(d, due(side)))
                raise_peak(side == 0 ? int(O_PAD_FACE) : int(O_OTHER_PAD_FACE), side, most(p.face_probe + first, p.face_of + first, hn::Load(d, m.from[face]), hn::Load(d, m.to[face])));
            if (!hn::AllFalse(d, due(S + side))) {
                V end = hn::Mul(constant<T>(d, b.friction_share[0]), hn::Load(d, m.to[face]));
                for (int i = 1; i <= P; ++i) end = hn::MulAdd(constant<T>(d, b.friction_share[i]), hn::Load(d, m.to[face + i]), end);
                raise_peak(side == 0 ? int(O_PAD_MEAN) : int(O_OTHER_PAD_MEAN), S + side, most(p.pad_probe + first, p.pad_of + first, hn::Load(d, m.pad[side]), end));
            }
        }
        if (s.fell && !hn::AllFalse(d, due(2 * S))) {
            const V end = hn::Load(d, m.to[L::rotor]), top = most(p.rotor_probe, p.rotor_of, hn::Load(d, m.from[L::rotor]), end);
            const auto higher = hn::And(due(2 * S), hn::Gt(top, hn::Max(end, hn::Load(d, m.peak[O_MEAN]))));
            // At a top of its mean the rotor takes up nothing, so its middle is as hot, and its face no cooler.
            for (const int i : {int(O_MEAN), int(O_MID), int(O_SURFACE)}) {
                const V peak = hn::Load(d, m.peak[i]);
                hn::Store(hn::IfThenElse(higher, hn::Max(peak, top), peak), d, m.peak[i]);
            }
        }
    }

    static HWY_ATTR void run(Block<T, N, S>& b, D d, int off) {
        const LaneData<T>& c = *b.lanes;
        Live x;
        const V start = at(d, c.start, off);
        each<N>([&](auto i) BW_INLINE { x.t[i] = start; });
        if (M > 0) x.t[M > 0 ? 1 : 0] = hn::Zero(d);
        if (Q > 0) each<S>([&](auto side) BW_INLINE { x.t[Q > 0 ? L::plate_mode + side * L::block : 0] = hn::Zero(d); });
        x.arms = x.hub = x.surface = start;
        x.arms_flow = x.caliper_loss = x.hub_rate = x.pad_flow = x.rotor_loss = x.apart = hn::Zero(d);
        V peak[outs], fluid_at = hn::Zero(d), mid = start;
        Watch plate[S], piston[S], arms{start, start};
        V rotor_earlier = start;   // at the start of the step before
        alignas(64) T pads[2][S][W];   // the pad's mean at the start of a step and of the one before, in turn; by memory, since it is rarely asked for
        each<S>([&](auto side) BW_INLINE { plate[side] = piston[side] = arms, hn::Store(start, d, pads[0][side]), hn::Store(start, d, pads[1][side]); });
        const V tenth = constant<T>(d, 0.1);
        double last_s = 1, plate_s = 1;   // length of the step before; from the plate's last value but one to its last
        Contact last = Contact::mixed;
        double last_W = 0;
        each<outs>([&](auto i) BW_INLINE { peak[i] = start; });
        V lost = hn::Zero(d), low = hn::Zero(d);
        V share[P + 1];
        each<P + 1>([&](auto i) BW_INLINE { share[i] = constant<T>(d, b.friction_share[i]); });
        const V half = constant<T>(d, 0.5), three_halves = constant<T>(d, 1.5);
        T *trace = b.trace, *ring_trace = b.ring_trace;
        Kept before, closed;
        alignas(64) T started[S][3][W];   // joint, plate and its mode at the start of the step
        alignas(64) T ring_inputs[2 * ring_input_n][W];   // of both kinds of step where lanes differ
        T(*ring)[W] = b.rings ? ring_inputs : nullptr;
        for (std::size_t k = 0; k < b.step_n; ++k) {
            const Step& s = b.steps[k];
            V lost_W = half;
            const V mean_before = x.t[L::rotor], mid_before = mid, arms_before = x.arms;
            // The plate within an open step: behind a release, and in lanes where a straight line from here passes its peak. What one lane
            // does must not depend on the others.
            if (s.probed)
                each<S>([&](auto side) BW_INLINE {
                    V& most = peak[side == 0 ? int(O_PLATE) : int(O_OTHER_PLATE)];
                    Watch& w = plate[side];
                    const V ahead = hn::MulAdd(hn::Sub(w.before, w.earlier), constant<T>(d, s.h_s / plate_s), w.before);
                    const auto due = hn::Gt(ahead, hn::Max(w.before, hn::Add(most, tenth)));
                    // Behind a release no plate gets hotter than what lies before it.
                    const V own = x.t[L::plate + side * L::block];
                    V hottest = own;
                    if (s.released) each<P + 1>([&](auto i) BW_INLINE { hottest = hn::Max(hottest, x.t[L::face + side * L::block + i]); });
                    const auto may = hn::Gt(hottest, most);
                    if (HWY_LIKELY(hn::AllFalse(d, s.released ? may : due))) {
                        if (s.released) w.earlier = w.before = own;
                        return;
                    }
                    alignas(64) T now[N][W];
                    each<N>([&](auto i) BW_INLINE { hn::Store(x.t[i], d, now[i]); });
                    Probed seen{w, most};
                    probe(d, *b.open[s.length], side, now, off, s, plate_s, seen);
                    if (s.released) w.earlier = hn::IfThenElse(may, seen.watch.earlier, own), w.before = hn::IfThenElse(may, seen.watch.before, own), most = hn::IfThenElse(may, seen.peak, most);
                    else most = hn::IfThenElse(due, seen.peak, most);
                });
            each<S>([&](auto side) BW_INLINE {
                hn::Store(x.t[L::joint + side * L::block], d, started[side][0]);
                hn::Store(x.t[L::plate + side * L::block], d, started[side][1]);
                if (Q > 0) hn::Store(x.t[L::plate_mode + side * L::block], d, started[side][2]);
            });
            // Closed: plate, pad's mean and rotor may top where the power fell, the pad's face and mean in the first step. Noted here, looked at behind the step.
            Within within;
            bool look = false;
            if (HWY_UNLIKELY(s.fell || s.began)) {
                V more[2 * S + 1], any = hn::Zero(d);
                const Propagator<T, N, S>& p = *b.closed[s.length];
                const V power = hn::Mul(at(d, c.half_scale, off), constant<T>(d, s.power_W));
                if (s.fell) {
                    const V further = constant<T>(d, s.h_s / last_s), from_first = constant<T>(d, 0.25 * s.h_s / p.probe_s[0]), line_on = constant<T>(d, s.h_s / plate_s);
                    V hotter = hn::Sub(x.t[L::face], mean_before);
                    each<S>([&](auto side) BW_INLINE {
                        const Watch& w = plate[side];
                        const V line = hn::MulAdd(hn::Sub(w.before, w.earlier), line_on, w.before);
                        // What a thick pad holds arrives late: also where it rises at first, whatever it did before.
                        V rise_at_first = hn::Mul(power, at(d, p.probe_of[side * probe_n][POWER], off));
                        each<N>([&](auto j) BW_INLINE { rise_at_first = hn::MulAdd(at(d, p.probe[side * probe_n][j], off), x.t[j], rise_at_first); });
                        const V ahead = hn::Max(line, hn::MulAdd(rise_at_first, from_first, w.before));
                        more[side] = hn::Sub(ahead, hn::Max(w.before, hn::Add(peak[side == 0 ? int(O_PLATE) : int(O_OTHER_PLATE)], tenth)));
                        const V pad = hn::Load(d, pads[k % 2][side]), rise = hn::Sub(pad, hn::Load(d, pads[(k + 1) % 2][side]));
                        more[S + side] = hn::Sub(hn::MulAdd(rise, further, pad), hn::Add(peak[side == 0 ? int(O_PAD_MEAN) : int(O_OTHER_PAD_MEAN)], tenth));
                        if constexpr (side > 0) hotter = hn::Max(hotter, hn::Sub(x.t[L::face + side * L::block], mean_before));
                    });
                    // A hot pad behind a poor contact heats the rotor on.
                    const V ahead = hn::MulAdd(hn::Sub(mean_before, rotor_earlier), further, mean_before);
                    more[2 * S] = hn::Min(hotter, hn::Sub(ahead, hn::Add(peak[O_MEAN], tenth)));
                } else {
                    each<S>([&](auto side) BW_INLINE {
                        constexpr int face = L::face + side * L::block;
                        const V bound = hn::MulAdd(at(d, p.d[face][N + POWER], off), power, hn::Max(x.t[face], hn::Max(x.surface, x.t[L::rotor])));
                        more[side] = hn::Sub(bound, hn::Add(peak[side == 0 ? int(O_PAD_FACE) : int(O_OTHER_PAD_FACE)], tenth));
                        // The pad's mean of a hot brake rises about with the root of the time, and may fall before the step ends; no mean is above the bound of its face.
                        const V seen = hn::Add(peak[side == 0 ? int(O_PAD_MEAN) : int(O_OTHER_PAD_MEAN)], tenth);
                        more[S + side] = hn::Sub(bound, seen);
                        if (hn::AllFalse(d, hn::Gt(more[S + side], hn::Zero(d)))) return;
                        V rise_at_first = hn::Mul(power, at(d, p.pad_of[side * probe_n][POWER], off));
                        each<N>([&](auto j) BW_INLINE { rise_at_first = hn::MulAdd(at(d, p.pad_probe[side * probe_n][j], off), x.t[j], rise_at_first); });
                        const V ahead = hn::MulAdd(rise_at_first, constant<T>(d, 0.25 * s.h_s / p.probe_s[0]), hn::Load(d, pads[k % 2][side]));
                        more[S + side] = hn::Min(more[S + side], hn::Sub(ahead, seen));
                    });
                    more[2 * S] = any;
                }
                each<2 * S + 1>([&](auto i) BW_INLINE { any = hn::Max(any, more[i]); });
                look = !hn::AllFalse(d, hn::Gt(any, hn::Zero(d)));
                if (HWY_UNLIKELY(look)) {
                    each<N>([&](auto i) BW_INLINE { hn::Store(x.t[i], d, within.from[i]); });
                    each<2 * S + 1>([&](auto i) BW_INLINE { hn::Store(more[i], d, within.due[i]); });
                    each<S>([&](auto side) BW_INLINE { hn::Store(hn::Load(d, pads[k % 2][side]), d, within.pad[side]); });
                }
            }
            const bool mixed = s.contact == Contact::mixed;
            if (s.contact != Contact::open) {
                if (HWY_UNLIKELY(mixed)) keep(d, x, x.arms, before);
                step<true>(d, b, s, off, x, lost_W, ring);
                if (HWY_UNLIKELY(mixed)) {
                    keep(d, x, lost_W, closed);
                    take(d, before, x, lost_W, [](V, V kept) BW_INLINE { return kept; });
                }
            }
            if (s.contact != Contact::closed) {
                step<false>(d, b, s, off, x, lost_W, ring ? ring + (mixed ? ring_input_n : 0) : nullptr);
                if (HWY_UNLIKELY(mixed)) {
                    const auto is_closed = hn::Gt(constant<T>(d, s.power_W), at(d, c.closed_above, off));
                    take(d, closed, x, lost_W, [&](V own, V kept) BW_INLINE { return hn::IfThenElse(is_closed, kept, own); });
                    if (ring)
                        for (const int i : {R_LOSS, R_SLOPE, R_BEND}) hn::Store(hn::IfThenElse(is_closed, hn::Load(d, ring[i]), hn::Load(d, ring[ring_input_n + i])), d, ring[i]);
                }
            }
            if (HWY_UNLIKELY(look)) {
                each<N>([&](auto i) BW_INLINE { hn::Store(x.t[i], d, within.to[i]); });
                each<outs>([&](auto i) BW_INLINE { hn::Store(peak[i], d, within.peak[i]); });
                look_within(d, b, s, off, x.rotor_loss, x.arms_flow, within);
                each<outs>([&](auto i) BW_INLINE { peak[i] = hn::Load(d, within.peak[i]); });
            }
            // Sum of the losses with what rounding leaves out carried along (Kahan).
            {
                const V y = hn::MulSub(lost_W, constant<T>(d, s.h_s), low), sum = hn::Add(lost, y);
                low = hn::Sub(hn::Sub(sum, lost), y);
                lost = sum;
            }
            V out[outs];
            out[O_SURFACE] = S == 2 ? hn::Add(x.surface, x.apart) : x.surface;
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
            V pad_mean = hn::Mul(share[0], x.t[L::face]);
            each<P>([&](auto i) BW_INLINE { pad_mean = hn::MulAdd(share[i + 1], x.t[L::face + i + 1], pad_mean); });
            out[O_PAD_MEAN] = pad_mean;
            if constexpr (S == 2) {
                out[O_OTHER_SURFACE] = hn::Sub(x.surface, x.apart);
                out[O_OTHER_PAD_FACE] = x.t[L::face + L::block];
                V other = hn::Mul(share[0], x.t[L::face + L::block]);
                each<P>([&](auto i) BW_INLINE { other = hn::MulAdd(share[i + 1], x.t[L::face + L::block + i + 1], other); });
                out[O_OTHER_PAD_MEAN] = other;
                out[O_OTHER_PLATE] = x.t[L::plate + L::block];
                out[O_OTHER_PISTON] = x.t[L::piston + L::block];
                out[O_OTHER_FLUID] = x.t[L::fluid + L::block];
            }
            out[O_PLATE] = x.t[L::plate];
            out[O_PISTON] = x.t[L::piston];
            out[O_FLUID] = x.t[L::fluid];
            out[O_CALIPER] = x.t[L::caliper];
            out[O_ARMS] = x.arms;
            out[O_HUB] = x.hub;
            fluid_at = hn::IfThenElse(hn::Gt(out[O_FLUID], peak[O_FLUID]), constant<T>(d, s.end_s), fluid_at);
            each<outs>([&](auto i) BW_INLINE { peak[i] = hn::Max(peak[i], out[i]); });
            mid = out[O_MID];
            // When the brake lets go, the mid-plane rises to the mean and to what cooling leaves it above, while the mean falls: the top of
            // m + c - s t - 12/π² A exp(-t/τ).
            // Behind a fall of the power while on, to what the smaller power leaves it above or below.
            const V above = hn::Sub(mid, x.t[L::rotor]);
            if (HWY_UNLIKELY(!hn::AllFalse(d, hn::Gt(hn::Add(mean_before, hn::Max(above, hn::Zero(d))), peak[O_MID])))) {   // no top is above that
                const bool less = s.contact == Contact::closed && last == Contact::closed && s.power_W < last_W;
                const V rest = hn::Add(mean_before, less ? above : hn::Max(above, hn::Zero(d)));
                if ((s.released || less) && !hn::AllFalse(d, hn::Gt(rest, peak[O_MID]))) {
                    const V fall = hn::Mul(at(d, (less ? b.closed : b.open)[s.length]->settle, off), hn::Max(hn::Sub(mean_before, x.t[L::rotor]), constant<T>(d, 1e-6)));   // s τ
                    peak[O_MID] = hn::Max(peak[O_MID], settling_top(d, rest, mid_before, fall));
                }
            }
            // Tops between the ends of steps.
            const double plate_after_s = s.released ? s.h_s / 2 : s.h_s;
            each<S>([&](auto side) BW_INLINE {
                constexpr int plate_out = side == 0 ? int(O_PLATE) : int(O_OTHER_PLATE), piston_out = side == 0 ? int(O_PISTON) : int(O_OTHER_PISTON);
                if (s.released) plate[side].see_doubled(d, out[plate_out], true, peak[plate_out]);
                else plate[side].see(d, out[plate_out], plate_s, plate_after_s, !s.probed && !s.fell && s.contact == last && last != Contact::mixed && (s.contact == Contact::open || s.power_W == last_W), peak[plate_out]);
                piston[side].see_slope(d, out[piston_out], last_s, s.h_s, peak[piston_out], [&]() BW_INLINE { return piston_slope(d, c, side, off, started[side], piston[side].before, x.t[L::fluid + side * L::block], x.t[L::caliper]); });
            });
            // The speed decides about the arms' slope, which jumps with it: each step by its own.
            if (k > 0 && may_top(d, arms.earlier, arms.before, x.arms, peak[O_ARMS])) {
                const auto slope = [&](const Step& at, V temperature, V rotor) BW_INLINE { return arms_slope(d, b, at, off, temperature, rotor, x.hub); };
                const V behind = top_between(d, arms.before, x.arms, slope(s, arms.before, mean_before), slope(s, x.arms, x.t[L::rotor]), s.h_s);
                const Step& past = b.steps[k - 1];
                const V ahead = top_between(d, arms.earlier, arms.before, slope(past, arms.earlier, rotor_earlier), slope(past, arms.before, mean_before), past.h_s);
                // Only in lanes that asked: what one lane does must not depend on the others.
                const V middle = arms.before, more = hn::Max(hn::Sub(middle, arms.earlier), hn::Sub(middle, x.arms));
                const auto inside = hn::And(hn::Gt(middle, arms.earlier), hn::Gt(middle, x.arms));
                peak[O_ARMS] = hn::Max(peak[O_ARMS], hn::IfThenElse(inside, hn::Min(hn::Max(ahead, behind), hn::Add(middle, more)), middle));
            }
            arms.earlier = arms.before;
            arms.before = x.arms;
            rotor_earlier = mean_before;
            each<S>([&](auto side) BW_INLINE { hn::Store(out[side == 0 ? int(O_PAD_MEAN) : int(O_OTHER_PAD_MEAN)], d, pads[(k + 1) % 2][side]); });
            last_s = s.h_s;
            plate_s = plate_after_s;
            last = s.contact;
            last_W = s.power_W;
            if (ring) {
                const V rise_W = hn::Mul(hn::Sub(x.t[L::rotor], mean_before), hn::Div(constant<T>(d, 1.0 / s.h_s), at(d, b.rings->per_J_K, off)));
                hn::Store(hn::Add(hn::Add(rise_W, hn::Load(d, ring[R_LOSS])), x.arms_flow), d, ring[R_HEAT]);
                hn::Store(x.arms_flow, d, ring[R_FLOW]);
                hn::Store(x.t[L::rotor], d, ring[R_MEAN]);
                hn::Store(arms_before, d, ring[R_ARMS_BEFORE]);
                hn::Store(x.arms, d, ring[R_ARMS_AFTER]);
                ring_step(d, *b.rings, s.length, s.h_s, c.arms_link, s.contact != Contact::open, ring, off);
            }
            if (s.row_end && trace) {
                each<outs>([&](auto i) BW_INLINE { hn::Store(out[i], d, trace + i * W + off); });
                hn::Store(x.pad_flow, d, trace + outs * W + off);
                trace += (outs + 1) * W;
                if (ring_trace) {
                    hn::Store(hn::Load(d, b.rings->top + off), d, ring_trace + off);
                    ring_trace += W;
                }
            }
        }
        each<N>([&](auto i) BW_INLINE { hn::Store(x.t[i], d, b.state[i] + off); });
        hn::Store(x.arms, d, b.arms + off);
        hn::Store(x.hub, d, b.hub + off);
        hn::Store(lost, d, b.lost_J + off);
        hn::Store(low, d, b.lost_low_J + off);
        each<outs>([&](auto i) BW_INLINE { hn::Store(peak[i], d, b.peak[i] + off); });
        hn::Store(fluid_at, d, b.fluid_peak_s + off);
    }
};

template <class T, int P, int M, int Q, int S> HWY_ATTR void run(Block<T, Layout<P, M, Q, S>::n, S>& b, int lanes) {
    const hn::CappedTag<T, W> d;
    for (int off = 0; off < lanes; off += static_cast<int>(hn::MaxLanes(d))) March<decltype(d), P, M, Q, S>::run(b, d, off);
}

template <class T, int P, int M, int Q, int S> Functions<T, P, M, Q, S> table() {
    constexpr int N = Layout<P, M, Q, S>::n;
    return {&run<T, P, M, Q, S>, &ladder<N>, &combine<N>};
}

}  // namespace HWY_NAMESPACE
}  // namespace bw::heat::engine
HWY_AFTER_NAMESPACE();
#endif

#if HWY_ONCE
namespace bw::heat::engine {

bool supported(Isa isa) {
    static const std::int64_t have = hwy::SupportedTargets();   // asking the machine takes microseconds
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

RingPass ring_pass_of(Isa isa) {
    switch (isa) {
#if HWY_TARGETS & HWY_AVX3
        case Isa::avx512: return &N_AVX3::ring_pass;
#endif
#if HWY_TARGETS & HWY_AVX2
        case Isa::avx2: return &N_AVX2::ring_pass;
#endif
#if HWY_TARGETS & HWY_NEON
        case Isa::neon: return &N_NEON::ring_pass;
#endif
        default: return nullptr;
    }
}

template <class T, int P, int M, int Q, int S> Functions<T, P, M, Q, S> functions(Isa isa) {
    switch (isa) {
#if HWY_TARGETS & HWY_AVX3
        case Isa::avx512: return N_AVX3::table<T, P, M, Q, S>();
#endif
#if HWY_TARGETS & HWY_AVX2
        case Isa::avx2: return N_AVX2::table<T, P, M, Q, S>();
#endif
#if HWY_TARGETS & HWY_NEON
        case Isa::neon: return N_NEON::table<T, P, M, Q, S>();
#endif
        default: return {};
    }
}

#define BW_ENGINE_LAYOUT(P, M, Q, S)                           \
    template Functions<float, P, M, Q, S> functions(Isa);      \
    template Functions<double, P, M, Q, S> functions(Isa);
BW_ENGINE_LAYOUTS(BW_ENGINE_LAYOUT)
#undef BW_ENGINE_LAYOUT

}  // namespace bw::heat::engine
#endif
