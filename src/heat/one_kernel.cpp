// SPDX-License-Identifier: Apache-2.0
// One case with its states in the lanes, once per vector target: products, the march, the look into a step.   Layer: heat
// Theory: docs/models/heat.md, EQ heat-42. Each lane's operations and their order do not depend on the width, so bytes do not.
#undef HWY_TARGET_INCLUDE
#define HWY_TARGET_INCLUDE "one_kernel.cpp"
#ifdef BW_ONE_VECTOR_TARGET   // the narrower one runs on more machines
#define HWY_DISABLED_TARGETS (HWY_SSSE3 | HWY_SSE4 | HWY_AVX3 | HWY_AVX3_DL)
#else
#define HWY_DISABLED_TARGETS (HWY_SSSE3 | HWY_SSE4 | HWY_AVX3_DL)
#endif
#include "hwy/foreach_target.h"
// after it
#include <algorithm>
#include <cstddef>
#include <cstdint>
#include <limits>
#include <type_traits>
#include <utility>

#include "hwy/highway.h"

#include "one_kernel.hpp"

#if HWY_TARGET == HWY_AVX2 || HWY_TARGET == HWY_AVX3 || HWY_TARGET == HWY_NEON
HWY_BEFORE_NAMESPACE();
namespace bw::heat::engine::one {
namespace HWY_NAMESPACE {

namespace hn = hwy::HWY_NAMESPACE;

#define BW_INLINE HWY_ATTR __attribute__((always_inline))
template <class F, int... I> HWY_INLINE void each_of(F&& f, std::integer_sequence<int, I...>) { (f(std::integral_constant<int, I>{}), ...); }
template <int n, class F> HWY_INLINE void each(F&& f) { each_of(f, std::make_integer_sequence<int, n>{}); }

template <class T> using BodyLanes = hn::CappedTag<T, bodies>;
template <class Tag> constexpr int wide_of = static_cast<int>(hn::MaxLanes(Tag()));
using D = hn::CappedTag<double, 8>;
constexpr int wide = wide_of<D>;
using B = BodyLanes<double>;
constexpr int body_wide = wide_of<B>, body_parts = bodies / body_wide;

// States stand in memory in double precision.
template <class Tag> HWY_INLINE void put(Tag tag, hn::Vec<Tag> v, double* p) {
    if constexpr (std::is_same_v<hn::TFromD<Tag>, double>) {
        hn::Store(v, tag, p);
    } else if constexpr (wide_of<Tag> <= wide) {
        const hn::Rebind<double, Tag> d;
        hn::Store(hn::PromoteTo(d, v), d, p);
    } else {
        const hn::Half<Tag> half;
        put(half, hn::LowerHalf(half, v), p);
        put(half, hn::UpperHalf(half, v), p + wide_of<Tag> / 2);
    }
}
template <class Tag> HWY_INLINE hn::Vec<Tag> get(Tag tag, const double* p) {
    if constexpr (std::is_same_v<hn::TFromD<Tag>, double>) {
        return hn::Load(tag, p);
    } else if constexpr (wide_of<Tag> <= wide) {
        return hn::DemoteTo(tag, hn::Load(hn::Rebind<double, Tag>(), p));
    } else {
        const hn::Half<Tag> half;
        return hn::Combine(tag, get(half, p + wide_of<Tag> / 2), get(half, p));
    }
}

HWY_ATTR void multiply(const Matrix& a, const Matrix& b, Matrix& c, int states, bool own) {
    const D d;
    const int lanes = lanes_for(states);
    for (int j = 0; j < states + source_count; ++j)
        for (int off = 0; off < lanes; off += 8)
            each<8 / wide>([&](auto part) BW_INLINE {
                const int at = off + part * wide;
                hn::Vec<D> even = hn::Zero(d), odd = hn::Zero(d);
                if (own) even = hn::Load(d, &a.column[j][at]), even = hn::Add(even, even);
                for (int k = 0; k + 1 < states; k += 2) {
                    even = hn::MulAdd(hn::Load(d, &a.column[k][at]), hn::Set(d, b.column[j][lane_of(k)]), even);
                    odd = hn::MulAdd(hn::Load(d, &a.column[k + 1][at]), hn::Set(d, b.column[j][lane_of(k + 1)]), odd);
                }
                if (states % 2) even = hn::MulAdd(hn::Load(d, &a.column[states - 1][at]), hn::Set(d, b.column[j][lane_of(states - 1)]), even);
                hn::Store(hn::Add(even, odd), d, &c.column[j][at]);
            });
}

// Each lane of a vector in all lanes of another. Where the bodies and their means fit one vector they stay in registers.
template <class D> struct Spread {
    using T = hn::TFromD<D>;
    using B = BodyLanes<T>;
    static constexpr int wide = wide_of<D>;
    static constexpr bool in_registers = wide >= 2 * bodies;
    decltype(hn::IndicesFromVec(D(), hn::Zero(hn::RebindToSigned<D>()))) index[in_registers ? wide : 1];
    decltype(hn::IndicesFromVec(B(), hn::Zero(hn::RebindToSigned<B>()))) of_bodies[in_registers ? bodies : 1];
    template <class Tag> static HWY_INLINE auto all(Tag tag, int i) {
        using I = hn::TFromD<hn::RebindToSigned<Tag>>;
        return hn::IndicesFromVec(tag, hn::Set(hn::RebindToSigned<Tag>(), static_cast<I>(i)));
    }
    HWY_INLINE Spread() {
        if constexpr (in_registers) {
            each<wide>([&](auto i) BW_INLINE { index[i] = all(D(), i); });
            each<bodies>([&](auto i) BW_INLINE { of_bodies[i] = all(B(), i); });
        }
    }
    template <int i> HWY_INLINE hn::Vec<D> lane(hn::Vec<D> v) const { return hn::TableLookupLanes(v, index[i]); }
    template <int i> HWY_INLINE hn::Vec<D> lane_of_bodies(hn::Vec<B> v) const {
        if constexpr (wide == 4 * bodies) return hn::TableLookupLanes(hn::ZeroExtendVector(D(), hn::ZeroExtendVector(hn::Half<D>(), v)), index[i]);
        else return hn::TableLookupLanes(hn::ZeroExtendVector(D(), v), index[i]);
    }
    template <int i> HWY_INLINE hn::Vec<B> body(hn::Vec<B> v) const { return hn::TableLookupLanes(v, of_bodies[i]); }
};

// The product of a step: all lanes from the states (state(j): that of column j in all lanes) and the power.
template <class D, int states> struct Product {
    using T = hn::TFromD<D>;
    static constexpr int wide = wide_of<D>, lanes = lanes_for(states), parts = lanes / wide, ways = lanes == 16 ? 4 : 2;
    hn::Vec<D> y[parts];
    template <class State> HWY_INLINE Product(const MatrixOf<T>& m, T power_W, const State& state) {
        const D d;
        hn::Vec<D> sum[ways][parts];
        const hn::Vec<D> power = hn::Set(d, power_W);
        each<parts>([&](auto p) BW_INLINE { sum[0][p] = hn::Mul(hn::Load(d, &m.column[states + S_POWER][p * wide]), power); });
        each<states>([&](auto j) BW_INLINE {
            constexpr int way = (j + 1) % ways;
            const hn::Vec<D> v = state(j);
            each<parts>([&](auto p) BW_INLINE {
                const hn::Vec<D> c = hn::Load(d, &m.column[j][p * wide]);
                if constexpr (j + 1 < ways) sum[way][p] = hn::Mul(c, v);
                else sum[way][p] = hn::MulAdd(c, v, sum[way][p]);
            });
        });
        each<parts>([&](auto p) BW_INLINE {
            if constexpr (ways == 4) y[p] = hn::Add(hn::Add(sum[0][p], sum[1][p]), hn::Add(sum[2][p], sum[3][p]));
            else y[p] = hn::Add(sum[0][p], sum[1][p]);
        });
    }
    HWY_INLINE Product(const MatrixOf<T>& m, const T* z, T power_W) : Product(m, power_W, [&](auto j) BW_INLINE { return hn::Set(D(), z[lane_of(j)]); }) {}
};

// Vectors of the march stand over all lanes of a column; lanes of the means hold nothing of worth in those of states.
template <class T, int states> HWY_ATTR void march_of(const Constants<T>& c, const MatrixOf<T>* const* matrix, const Carried<T>* const* carried, const Step* steps, int count, State* state, Done* done, State& highest,
                                             unsigned char* top) {
    using D = hn::CappedTag<T, lanes_for(states) == 16 ? 16 : 8>;
    using P = Product<D, states>;
    using B = BodyLanes<T>;
    using V = hn::Vec<D>;
    using VB = hn::Vec<B>;
    using S = Spread<D>;
    const D d;
    const B b;
    constexpr int wide = wide_of<D>, body_wide = wide_of<B>, body_parts = bodies / body_wide, parts = P::parts;
    const auto all = [&](double x) BW_INLINE { return hn::Set(b, static_cast<T>(x)); };
    const VB one = all(1), four = all(4), six = all(6), twelfth = all(1.0 / 12), sixth = all(1.0 / 6), ambient = hn::Set(b, c.ambient_K), ambient2 = hn::Set(b, c.ambient_K * c.ambient_K);
    // Of a column the bodies (0) or the means of the same (1).
    const auto of_bodies = [&](const V* v, int p, int which) BW_INLINE {
        if constexpr (wide == 4 * bodies) {
            const auto low = hn::LowerHalf(hn::Half<D>(), v[0]);
            return which ? hn::UpperHalf(b, low) : hn::LowerHalf(b, low);
        } else if constexpr (wide == 2 * bodies) {
            return which ? hn::UpperHalf(b, v[0]) : hn::LowerHalf(b, v[0]);
        } else {
            return v[p + which * (bodies / wide)];
        }
    };
    const auto power_of = [&](const Step& s) BW_INLINE { return static_cast<T>(s.contact == Contact::closed ? c.half_scale * s.power_W : 0); };
    constexpr unsigned of_means = ((1U << bodies) - 1) << bodies;
    const auto rises = [&](const V* from, const V* to) BW_INLINE {   // lanes of states that rise
        unsigned bits = 0;
        each<parts>([&](auto p) BW_INLINE {
            std::uint8_t byte[8] = {};
            hn::StoreMaskBits(d, hn::Gt(to[p], from[p]), byte);
            bits |= (byte[0] | (wide > 8 ? static_cast<unsigned>(byte[1]) << 8 : 0U)) << (p * wide);
        });
        return bits & ~of_means;
    };
    // Losses about a temperature: a parabola, less what of them the step itself takes away [EQ heat-25].
    struct Losses { VB watt, slope, bend, part, part_bend, falls_6; };
    const auto losses_about = [&](auto p, VB about, const MatrixOf<T>& m, const Step& s) BW_INLINE {
        constexpr int at = p * body_wide;
        Losses l;
        VB speed;
        if constexpr (std::is_same_v<T, float>) speed = hn::LoadU(b, s.speed_power.data() + at);
        else speed = hn::PromoteTo(b, hn::LoadU(hn::Rebind<float, B>(), s.speed_power.data() + at));
        const VB g = hn::MulAdd(hn::Load(b, c.conv_b + at), speed, hn::Load(b, c.conv_a + at)), r = hn::Load(b, c.radiation + at);
        const VB kelvin = hn::Add(about, ambient), k2 = hn::Mul(kelvin, kelvin), rk2 = hn::Mul(r, k2);
        // K⁴ less that of the air by its factors: nothing is lost at the air's temperature.
        l.watt = hn::Add(hn::Mul(about, hn::MulAdd(hn::Mul(r, hn::Add(kelvin, ambient)), hn::Add(k2, ambient2), g)), p == 0 ? hn::IfThenElseZero(hn::FirstN(b, 1), hn::Set(b, static_cast<T>(s.drying_W))) : hn::Zero(b));
        l.slope = hn::MulAdd(four, hn::Mul(rk2, kelvin), g), l.bend = hn::Mul(six, rk2);
        const VB feedback = hn::Load(b, m.feedback + at), falls = hn::Mul(feedback, l.slope);
        l.part = hn::Div(one, hn::Add(falls, one));
        l.part_bend = hn::Mul(hn::Mul(l.part, l.part), hn::Mul(feedback, hn::Add(l.bend, l.bend)));
        l.falls_6 = hn::Mul(falls, sixth);   // a loss that grows over the step cools less of it than its mean does
        return l;
    };
    V z[parts], y[parts];
    V left[parts];   // single precision: what rounding left out of a state, since a slow body gains less in a step than its last digit
    Losses losses[body_parts];
    VB over[body_parts];     // mean of the step over what the losses stand about
    unsigned rose = 0;       // lanes whose state rose in the step before
    alignas(64) T ahead[lanes_most];
    const S spread;
    {
        V before[parts];
        each<parts>([&](auto p) BW_INLINE {
            left[p] = hn::Zero(d);
            z[p] = get(d, &state[1].lane[p * wide]);
            before[p] = get(d, &state[0].lane[p * wide]);
            hn::Store(z[p], d, ahead + p * wide);
        });
        rose = rises(before, z);
        const P first(*matrix[0], ahead, power_of(steps[0]));
        each<parts>([&](auto p) BW_INLINE { y[p] = first.y[p]; });
        each<body_parts>([&](auto p) BW_INLINE {
            losses[p] = losses_about(p, of_bodies(z, p, 0), *matrix[0], steps[0]);
            const VB rise = of_bodies(y, p, 0);
            losses[p].watt = hn::MulAdd(hn::Mul(twelfth, losses[p].bend), hn::Mul(rise, rise), losses[p].watt);
            over[p] = hn::MulAdd(losses[p].falls_6, rise, of_bodies(y, p, 1));
        });
    }
    unsigned turned[march_most];   // lanes in which the middle one is the largest
    for (int k = 0; k < count; ++k) {
        const MatrixOf<T>& m = *matrix[k];
        const bool last = k + 1 == count;
        const int then = last ? k : k + 1;
        V now[parts];
        each<parts>([&](auto p) BW_INLINE {
            now[p] = hn::Add(z[p], y[p]);
            if constexpr (!S::in_registers) hn::Store(now[p], d, ahead + p * wide);
        });
        alignas(32) T loss_W[bodies];
        VB loss[body_parts];
        each<body_parts>([&](auto p) BW_INLINE {
            constexpr int at = p * body_wide;
            const Losses& q = losses[p];
            VB l = hn::MulAdd(over[p], hn::MulAdd(q.bend, over[p], q.slope), q.watt);
            loss[p] = l = hn::Mul(l, hn::NegMulAdd(q.part_bend, over[p], q.part));
            if constexpr (!S::in_registers) hn::Store(l, b, loss_W + at);
            put(b, l, done[k + 1].loss_W + at);
            put(b, hn::MulAdd(q.falls_6, of_bodies(y, p, 0), of_bodies(y, p, 1)), done[k + 1].away + at);
        });
        // The next step's product does not wait for this one's losses: what they change of it has columns of its own.
        const P next(*matrix[then], last ? 0 : power_of(steps[then]), [&](auto j) BW_INLINE {
            if constexpr (!S::in_registers) return hn::Set(d, ahead[lane_of(j)]);
            else return spread.template lane<lane_of(j) % wide>(now[lane_of(j) / wide]);
        });
        // Nor do the next losses but for one sum: they stand about what was there before these.
        const Carried<T>& on = *carried[k];
        each<body_parts>([&](auto p) BW_INLINE {
            constexpr int at = p * body_wide;
            Losses& q = losses[p] = losses_about(p, of_bodies(now, p, 0), *matrix[then], steps[then]);
            const VB rise = of_bodies(next.y, p, 0);
            // The mean of a fourth power over a ramp is more than that of its middle.
            q.watt = hn::MulAdd(hn::Mul(twelfth, q.bend), hn::Mul(rise, rise), q.watt);
            const auto by = [&](int i) BW_INLINE { return hn::MulAdd(q.falls_6, hn::Load(b, &on.column[i][at]), hn::Load(b, &on.over[i][at])); };
            const auto of = [&](auto i) BW_INLINE {
                if constexpr (S::in_registers) return spread.template body<i>(loss[0]);
                else return hn::Set(b, loss_W[i]);
            };
            using std::integral_constant;
            const VB base = hn::MulAdd(q.falls_6, rise, of_bodies(next.y, p, 1));
            const VB x = hn::MulAdd(by(1), of(integral_constant<int, 1>()), hn::MulAdd(by(0), of(integral_constant<int, 0>()), base));
            over[p] = hn::Add(x, hn::MulAdd(by(3), of(integral_constant<int, 3>()), hn::Mul(by(2), of(integral_constant<int, 2>()))));
        });
        V each_loss[bodies];
        each<bodies>([&](auto i) BW_INLINE {
            if constexpr (S::in_registers) each_loss[i] = spread.template lane_of_bodies<i>(loss[0]);
            else each_loss[i] = hn::Set(d, loss_W[i]);
        });
        const auto with_losses = [&](V base, const T (*column)[stride<T>], int at) BW_INLINE {
            const V x = hn::MulAdd(hn::Load(d, &column[1][at]), each_loss[1], hn::MulAdd(hn::Load(d, &column[0][at]), each_loss[0], base));
            return hn::Add(x, hn::MulAdd(hn::Load(d, &column[3][at]), each_loss[3], hn::Mul(hn::Load(d, &column[2][at]), each_loss[2])));
        };
        const T(*own)[stride<T>] = &m.column[states + S_LOSS];
        V at_end[parts];
        each<parts>([&](auto p) BW_INLINE {
            constexpr int at = p * wide;
            if constexpr (std::is_same_v<T, float>) {
                const V whole = with_losses(hn::Add(y[p], left[p]), own, at);
                at_end[p] = hn::Add(z[p], whole);
                left[p] = hn::Sub(whole, hn::Sub(at_end[p], z[p]));
            } else {
                at_end[p] = with_losses(now[p], own, at);
            }
            put(d, at_end[p], &state[k + 2].lane[at]);
            y[p] = with_losses(next.y[p], on.column, at);
        });
        // A middle one of three that is the largest: it rose before and falls now. Only there is a peak.
        const unsigned bits = rises(z, at_end);
        turned[k] = rose & ~bits;
        rose = bits;
        each<parts>([&](auto p) BW_INLINE { z[p] = at_end[p]; });
    }
    // Behind the march, since a branch in it costs more than all of this.
    unsigned char at_turn[march_most];
    int turns = 0;
    for (int k = 0; k < count; ++k) {
        top[k] = 0;
        at_turn[turns] = static_cast<unsigned char>(k);
        turns += turned[k] != 0;
    }
    const BodyLanes<double> bd;
    for (int i = 0; i < turns; ++i) {
        const int k = at_turn[i];
        bool found = false;
        for (int at = 0; at < P::lanes; at += at + wide_of<BodyLanes<double>> == bodies ? rest_at - at : wide_of<BodyLanes<double>>) {
            const double *from = &state[k].lane[at], *to = &state[k + 2].lane[at];
            double* most = &highest.lane[at];
            const auto old = hn::Load(bd, most), middle = hn::Load(bd, &state[k + 1].lane[at]), up = hn::Sub(middle, hn::Load(bd, from)), down = hn::Sub(middle, hn::Load(bd, to));
            found |= !hn::AllFalse(bd, hn::And(hn::Gt(up, hn::Zero(bd)), hn::Gt(hn::MulAdd(hn::Set(bd, 0.5), hn::Max(up, down), middle), old)));
            hn::Store(hn::Max(old, middle), bd, most);
        }
        top[k] = found;
    }
    // The end of the chunk counts too: it may be the end of the run, and what is looked into is held against it.
    for (int i = 0; i < P::lanes; ++i)
        if (i < bodies || i >= rest_at) highest.lane[i] = std::max(highest.lane[i], state[count + 1].lane[i]);
}

// Where the states of a layout stand.
template <int P, int M, int Q> struct Places {
    static constexpr int order = P, modes = M, mode = rest_at, face = rest_at + M, plate = face + P + 1, piston = plate + Q + 1, fluid = piston + 1;
};
template <int states> struct PlacesOf;
template <> struct PlacesOf<11> : Places<3, 0, 0> {};
template <> struct PlacesOf<12> : Places<4, 0, 0> {};
template <> struct PlacesOf<15> : Places<6, 0, 1> {};
template <> struct PlacesOf<20> : Places<10, 1, 1> {};
// Each layout of one side has its places, and its case in the tables below.
#define BW_ENGINE_LAYOUT(P, M, Q, S) \
    static_assert(S != 1 || (PlacesOf<(S == 1 ? Layout<P, M, Q, S>::n + 2 : 11)>::order == P && PlacesOf<(S == 1 ? Layout<P, M, Q, S>::n + 2 : 11)>::modes == M));
BW_ENGINE_LAYOUTS(BW_ENGINE_LAYOUT)
#undef BW_ENGINE_LAYOUT

template <int states> HWY_ATTR int derive_of(const Derived& c, double half_scale, const Step* steps, int count, bool next, const State* state, const Done* done, double* surface, double* mid, double* pad_mean, Tops& tops, double* rows) {
    using L = PlacesOf<states>;
    static_assert(L::fluid == rest_at + states - bodies - 1);
    using One = hn::CappedTag<double, 1>;   // vectors of one, since the compiler may join a multiplication and an addition or not
    using Two = hn::CappedTag<double, 2>;
    using V = hn::Vec<One>;
    const One d;
    const Two two;
    const B b;
    const V into_rotor = hn::Set(d, c.into_rotor_W_K), ambient = hn::Set(d, c.ambient_degC), mid_of = hn::Set(d, mid_of_rest), half = hn::Set(d, 0.5), one_half = hn::Set(d, 1.5);
    V top_surface = hn::Set(d, tops.surface), top_mid = hn::Set(d, tops.mid), top_pad = hn::Set(d, tops.pad_mean);
    hn::Vec<B> lost[body_parts];
    each<body_parts>([&](auto p) BW_INLINE { lost[p] = hn::LoadU(b, &tops.lost_J[p * body_wide]); });
    double* row = rows;
    for (int k = 0; k < count; ++k) {
        const Step& step = steps[k];
        const double* z = state[k + 2].lane;
        const double* loss_W = done[k + 1].loss_W;
        const bool on = step.contact == Contact::closed;
        const V power = hn::Set(d, on ? half_scale * step.power_W : 0), net = hn::Sub(power, hn::Load(d, &loss_W[ROTOR])), mean = hn::Load(d, &z[ROTOR]), face = hn::Load(d, &z[L::face]);
        V rotor = mean;
        if constexpr (L::modes > 0) rotor = hn::Add(mean, hn::Load(d, &z[L::mode]));
        const V at_face = hn::MulAdd(hn::Set(d, c.surface_pad[on]), face, hn::MulAdd(hn::Set(d, c.surface_rotor[on]), rotor, hn::Mul(hn::Set(d, c.surface_W[on]), hn::NegMulAdd(half, power, net))));
        const V within = L::modes > 0 ? hn::MulAdd(mid_of, hn::Sub(at_face, rotor), hn::Sub(hn::Add(mean, mean), rotor)) : hn::NegMulAdd(half, at_face, hn::Mul(one_half, mean));
        V even = hn::Mul(hn::Load(d, &c.share[0]), face), odd = hn::Mul(hn::Load(d, &c.share[1]), hn::Load(d, &z[L::face + 1]));
        for (int q = 2; q <= L::order; ++q) {
            V& sum = q % 2 ? odd : even;
            sum = hn::MulAdd(hn::Load(d, &c.share[q]), hn::Load(d, &z[L::face + q]), sum);
        }
        const V pad = hn::Add(even, odd);
        hn::Store(at_face, d, &surface[k + 1]);
        hn::Store(within, d, &mid[k + 1]);
        hn::Store(pad, d, &pad_mean[k + 1]);
        top_surface = hn::Max(top_surface, at_face);
        top_mid = hn::Max(top_mid, within);
        top_pad = hn::Max(top_pad, pad);
        if (z[L::fluid] > tops.fluid) tops.fluid = z[L::fluid], tops.fluid_s = step.end_s;
        each<body_parts>([&](auto p) BW_INLINE { lost[p] = hn::MulAdd(hn::Set(b, step.h_s), hn::Load(b, &loss_W[p * body_wide]), lost[p]); });
        if (!rows || !step.row_end) continue;
        // Bodies from 8 on: the rotor, which is no neighbour of the others there, is overwritten.
        each<body_parts>([&](auto p) BW_INLINE { hn::StoreU(hn::Add(hn::Load(b, &z[p * body_wide]), hn::Set(b, c.ambient_degC)), b, &row[8 + p * body_wide]); });
        hn::StoreU(hn::Add(hn::LoadU(two, &z[L::piston]), hn::Set(two, c.ambient_degC)), two, &row[7]);
        row[0] = step.end_s;
        const V values[] = {at_face, within, mean, face, pad, hn::Load(d, &z[L::plate])};
        each<6>([&](auto i) BW_INLINE { hn::Store(hn::Add(values[i], ambient), d, &row[i + 1]); });
        row[12] = std::numeric_limits<double>::quiet_NaN();
        if (on && (k + 1 < count || next) && steps[k + 1].contact == Contact::closed) hn::Store(hn::Div(hn::NegMulAdd(into_rotor, hn::Sub(at_face, rotor), net), power), d, &row[12]);
        row += row_values;
    }
    tops.surface = hn::GetLane(top_surface);
    tops.mid = hn::GetLane(top_mid);
    tops.pad_mean = hn::GetLane(top_pad);
    each<body_parts>([&](auto p) BW_INLINE { hn::StoreU(lost[p], b, &tops.lost_J[p * body_wide]); });
    return rows ? static_cast<int>((row - rows) / row_values) : 0;
}

HWY_ATTR bool in_order(std::span<const PowerRow> rows, double before_s) {
    using Row = hn::CappedTag<double, 4>;
    const Row d;
    constexpr int row_wide = wide_of<Row>, parts = 4 / row_wide;
    constexpr double most = std::numeric_limits<double>::max(), low[] = {-most, 0, -1e6, 0}, high[] = {most, 100, 1e6, 1e6};
    static_assert(sizeof(PowerRow) == sizeof(low) && offsetof(PowerRow, drying_W) == 3 * sizeof(double));
    hn::Mask<Row> in_range[parts];
    each<parts>([&](auto p) BW_INLINE { in_range[p] = hn::Eq(hn::Zero(d), hn::Zero(d)); });
    double least_s = most;   // between rows
    for (const PowerRow& r : rows) {
        each<parts>([&](auto p) BW_INLINE {
            constexpr int at = p * row_wide;
            const auto x = hn::LoadU(d, &r.t_s + at);
            in_range[p] = hn::And(in_range[p], hn::And(hn::Ge(x, hn::LoadU(d, low + at)), hn::Le(x, hn::LoadU(d, high + at))));
        });
        const double step_s = r.t_s - before_s;
        least_s = step_s < least_s ? step_s : least_s;   // one that is not a number comes of a time out of range
        before_s = r.t_s;
    }
    bool all = least_s >= 1e-6;
    each<parts>([&](auto p) BW_INLINE { all &= hn::AllTrue(d, in_range[p]); });
    return all;
}

HWY_ATTR void roots(double* v, int count) {
    const D d;
    int k = 0;
    for (; k + wide <= count; k += wide) hn::StoreU(hn::Sqrt(hn::LoadU(d, v + k)), d, v + k);
    const hn::CappedTag<double, 1> one;
    for (; k < count; ++k) hn::StoreU(hn::Sqrt(hn::LoadU(one, v + k)), one, v + k);
}

template <int states> HWY_ATTR unsigned may_top_of(const Matrix& slope, const State& from, const State& to, const double* value, const double* end_value, const double* peak, double power_W, double h_s, const Done& done) {
    using P = Product<D, states>;
    using V = hn::Vec<D>;
    const D d;
    const V zero = hn::Zero(d), h = hn::Set(d, h_s), half = hn::Set(d, 0.5);
    const auto with_losses = [&](V x, int at) BW_INLINE {
        for (int i = 0; i < bodies; ++i) x = hn::MulAdd(hn::Load(d, &slope.column[states + S_LOSS + i][at]), hn::Set(d, done.loss_W[i]), x);
        return x;
    };
    // Nothing is asked of the other end: behind a top a fall may be steep at first, or end in another rise. Not those that rise alike at
    // both ends and between them, as slow ones do all the while.
    const P first(slope, from.lane, power_W), second(slope, to.lane, power_W);
    unsigned bits = 0;
    each<looked_lanes / wide>([&](auto p) BW_INLINE {
        constexpr int at = p * wide;
        const V up = hn::Mul(h, with_losses(first.y[p], at)), end = hn::Mul(h, with_losses(second.y[p], at));
        const V z0 = hn::Load(d, value + at), z1 = hn::Load(d, end_value + at), most = hn::Load(d, peak + at);
        const auto alike = hn::Gt(hn::Min(hn::Min(up, end), hn::Sub(z1, z0)), hn::Mul(half, hn::Max(up, end)));
        const auto early = hn::AndNot(alike, hn::And(hn::Gt(up, zero), hn::Gt(hn::Add(z0, up), most)));
        const auto late = hn::And(hn::Lt(end, zero), hn::Gt(hn::Sub(z1, end), most));
        std::uint8_t byte[8] = {};
        hn::StoreMaskBits(d, hn::Or(early, late), byte);
        bits |= static_cast<unsigned>(byte[0]) << at;
    });
    return bits & ((1U << looked) - 1);
}

template <int states> HWY_ATTR double rise_within_of(const EightTimes* times, int eights, const State& from, double power_W, const Done& done) {
    using V = hn::Vec<D>;
    const D d;
    V most = hn::Set(d, -std::numeric_limits<double>::infinity());
    for (int e = 0; e < eights; ++e)
        each<8 / wide>([&](auto part) BW_INLINE {
            const auto column = [&](int j) BW_INLINE { return hn::Load(d, &times[j * eights + e].lane[part * wide]); };
            V way[3] = {hn::Mul(column(states + S_POWER), hn::Set(d, power_W)), hn::Mul(column(0), hn::Set(d, from.lane[lane_of(0)])), hn::Mul(column(1), hn::Set(d, from.lane[lane_of(1)]))};
            each<states - 2>([&](auto j) BW_INLINE { way[j % 3] = hn::MulAdd(column(j + 2), hn::Set(d, from.lane[lane_of(j + 2)]), way[j % 3]); });
            each<bodies>([&](auto i) BW_INLINE { way[i % 3] = hn::MulAdd(column(states + S_LOSS + i), hn::Set(d, done.loss_W[i]), way[i % 3]); });
            most = hn::Max(most, hn::Add(hn::Add(way[0], way[1]), way[2]));
        });
    return hn::GetLane(hn::MaxOfLanes(d, most));
}

template <class T> HWY_ATTR void march(const Constants<T>& c, const MatrixOf<T>* const* matrix, const Carried<T>* const* carried, const Step* steps, int count, int states, State* state, Done* done, State& peak,
                                       unsigned char* top) {
    switch (states) {
#define BW_ONE(n) case n: return march_of<T, n>(c, matrix, carried, steps, count, state, done, peak, top);
        BW_ONE(11) BW_ONE(12) BW_ONE(15) BW_ONE(20)
#undef BW_ONE
        default: HWY_ABORT("no such layout: %d states", states);
    }
}
HWY_ATTR int derive(const Derived& c, double half_scale, const Step* steps, int count, bool next, int states, const State* state, const Done* done, double* surface, double* mid, double* pad_mean, Tops& tops, double* rows) {
    switch (states) {
#define BW_ONE(n) case n: return derive_of<n>(c, half_scale, steps, count, next, state, done, surface, mid, pad_mean, tops, rows);
        BW_ONE(11) BW_ONE(12) BW_ONE(15) BW_ONE(20)
#undef BW_ONE
        default: HWY_ABORT("no such layout: %d states", states);
    }
}
HWY_ATTR unsigned may_top(const Matrix& slope, const State& from, const State& to, const double* value, const double* end_value, const double* peak, double power_W, double h_s, const Done& done, int states) {
    switch (states) {
#define BW_ONE(n) case n: return may_top_of<n>(slope, from, to, value, end_value, peak, power_W, h_s, done);
        BW_ONE(11) BW_ONE(12) BW_ONE(15) BW_ONE(20)
#undef BW_ONE
        default: HWY_ABORT("no such layout: %d states", states);
    }
}
HWY_ATTR double rise_within(const EightTimes* times, int eights, const State& from, double power_W, const Done& done, int states) {
    switch (states) {
#define BW_ONE(n) case n: return rise_within_of<n>(times, eights, from, power_W, done);
        BW_ONE(11) BW_ONE(12) BW_ONE(15) BW_ONE(20)
#undef BW_ONE
        default: HWY_ABORT("no such layout: %d states", states);
    }
}

Functions table() { return {&in_order, &roots, &multiply, &march<double>, &march<float>, &derive, &may_top, &rise_within}; }

}  // namespace HWY_NAMESPACE
}  // namespace bw::heat::engine::one
HWY_AFTER_NAMESPACE();
#endif

#if HWY_ONCE
namespace bw::heat::engine::one {

Functions functions(Isa isa) {
    switch (isa) {
#if HWY_TARGETS & HWY_AVX3
        case Isa::avx512: return N_AVX3::table();
#endif
#if HWY_TARGETS & HWY_AVX2
        case Isa::avx2: return N_AVX2::table();
#endif
#if HWY_TARGETS & HWY_NEON
        case Isa::neon: return N_NEON::table();
#endif
        default: return {};
    }
}

}  // namespace bw::heat::engine::one
#endif
