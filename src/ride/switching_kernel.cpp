// SPDX-License-Identifier: Apache-2.0
// One switching Kalman filter over motion, altitude and the rider's force, and paths drawn backwards from it; a lane is a path.
// Layer: ride
// Theory: docs/models/motion.md [EQ motion-9..12, 17, 18]. Lanes never meet, so a path does not depend on what goes beside it.
#undef HWY_TARGET_INCLUDE
#define HWY_TARGET_INCLUDE "switching_kernel.cpp"
#ifdef BW_ONE_VECTOR_TARGET
#define HWY_DISABLED_TARGETS (HWY_SSSE3 | HWY_SSE4 | HWY_AVX3 | HWY_AVX3_DL)
#else
#define HWY_DISABLED_TARGETS (HWY_SSSE3 | HWY_SSE4 | HWY_AVX3_DL)
#endif
#include "hwy/foreach_target.h"
// after it
#include <algorithm>
#include <array>
#include <cassert>
#include <cmath>
#include <new>
#include <vector>

#include "base/sampling.hpp"
#include "hwy/aligned_allocator.h"
#include "hwy/contrib/math/math-inl.h"
#include "hwy/highway.h"
#include "switching_kernel.hpp"

// Loops over the state are written out, so that what they turn over lives in registers.
#ifndef BW_UNROLL
#define BW_UNROLL _Pragma("GCC unroll 64")
#endif

// Those whose vectors have a known size; the last two are what is left where there is none of the others.
#if HWY_TARGET == HWY_AVX2 || HWY_TARGET == HWY_AVX3 || HWY_TARGET == HWY_NEON || HWY_TARGET == HWY_EMU128 || HWY_TARGET == HWY_SCALAR
HWY_BEFORE_NAMESPACE();
namespace bw::ride::internal::switching {
namespace HWY_NAMESPACE {
namespace {

namespace hn = hwy::HWY_NAMESPACE;
using Tag = hn::CappedTag<double, widest>;
using Vd = hn::Vec<Tag>;
constexpr Tag tag;
constexpr std::size_t L = HWY_MAX_BYTES / sizeof(double) < widest ? HWY_MAX_BYTES / sizeof(double) : widest;
using Values = std::array<double, L>;
constexpr std::size_t most_kept_bytes = std::size_t{4} << 20;   // of one filter: some four minutes of riding, which stay near the processor

HWY_INLINE Vd same(double x) { return hn::Set(tag, x); }
HWY_INLINE Vd zero() { return hn::Zero(tag); }
HWY_INLINE Vd load(const Values& v) { return hn::LoadU(tag, v.data()); }
HWY_INLINE void store(Vd x, Values& v) { hn::StoreU(x, tag, v.data()); }
HWY_INLINE Vd square(Vd x) { return hn::Mul(x, x); }
// What is no number stays none, so that it counts for nothing in the end.
HWY_INLINE Vd exp_of(Vd x) { return hn::IfThenElse(hn::IsNaN(x), x, hn::Exp(tag, x)); }
HWY_INLINE Vd log_of(Vd x) { return hn::IfThenElse(hn::IsNaN(x), x, hn::Log(tag, x)); }

// Logarithm of the standard normal distribution function, without a floor: a brake never drives the bike. Within 2e-4 above z = -4
// (logistic with a cubic term; Page 1977, Appl. Statist. 26, 75). It comes as l - log(under), so that one logarithm serves several.
HWY_INLINE void add_log_share_below(Vd z, Vd& l, Vd& under) {
    const Vd above = hn::IfThenElse(hn::Lt(z, same(-4)), same(-4), z);   // lets through what is no number
    const Vd e = exp_of(hn::Neg(hn::Mul(above, hn::MulAdd(same(0.0713548), square(above), same(1.5957691)))));
    under = hn::Add(same(1), e);
    const auto far = hn::Lt(z, same(-4));
    if (HWY_LIKELY(hn::AllFalse(tag, far))) return;
    const Vd y = hn::Max(hn::Neg(z), same(4));
    l = hn::IfThenElse(far, hn::Add(l, hn::Sub(hn::Sub(hn::Mul(same(-0.5), square(y)), log_of(y)), hn::Add(same(0.9189385), hn::Div(same(1), square(y))))), l);
    under = hn::IfThenElse(far, same(1), under);
}

struct Gauss {
    Vd x[N];
    Vd p[cov_n];
};

HWY_INLINE void copy(const Gauss& from, Gauss& to) {
    BW_UNROLL
    for (int k = 0; k < N; ++k) to.x[k] = from.x[k];
    BW_UNROLL
    for (int k = 0; k < cov_n; ++k) to.p[k] = from.p[k];
}

//! u_new = keep · u_old + mean + N(0, var), keep only if the mode went on.
struct Law {
    Vd keep, fresh_mean, fresh_var, stay_mean, stay_var;
};
HWY_INLINE Law law(Vd mean, Vd var, double memory) {
    return {same(memory), mean, var, hn::Mul(same(1 - memory), mean), hn::Mul(same(1 - memory * memory), var)};
}
HWY_INLINE Law law(const Riding& r) { return law(same(r.mean), same(r.sd * r.sd), r.memory); }

//! The linear step of second i -> i+1 apart from u: of F, c and Q what is not fixed.
struct Step {
    Vd dd, dv, vv, vg, ve, vs, ds, g, bb, br, rb, rr, d0, v0, qdd, qvv, qzz, qgg, qbb, qbr, qrr;
    double pushes;                 // 1; 0 at a standstill: no force, no motion
    Vd chance[modes + 1][modes];   // of modes a -> b; the last row: after a standstill or a gap
    bool metered;
};

// Beside each other go paths of one reading of the altitude, or readings of it with the same seconds.
class Filter {
public:
    HWY_ATTR Filter(std::span<const Switching* const> ways, std::span<const Forces> own, const Draws* draws, std::span<SwitchedPath> out)
        : s(*ways.front()), n(s.n), one_way_(ways.size() == 1), draws_(draws), out_(out) {
        for (std::size_t k = 0; k < L; ++k) {
            own_[k] = &own[std::min(k, own.size() - 1)];
            ways_[k] = ways[std::min(k, ways.size() - 1)];
            across_ = across_ || !own_[k]->air_across.empty();
        }
        Values me, kg;
        for (std::size_t k = 0; k < L; ++k) {
            me[k] = own_[k]->effective_mass_kg;
            kg[k] = own_[k]->weight_N / own_[k]->effective_mass_kg;
        }
        me_ = load(me);
        kg_ = load(kg);
        pedal_W_ = scalar(&Forces::pedal_W);
        error_var_ = scalar(&Forces::error_var);
    }
    HWY_ATTR void run();

private:
    const Switching& s;   // what all have in common: seconds, and which of them stand, are bridged, or have a meter
    std::size_t n;
    bool one_way_, across_ = false;
    std::array<const Switching*, L> ways_{};
    const Draws* draws_;
    std::span<SwitchedPath> out_;
    std::array<const Forces*, L> own_{};
    Vd me_, kg_, pedal_W_, error_var_;

    // States that are kept for the way back: one Gaussian where there is no choice of mode, else one a mode, for a stretch of seconds.
    hwy::AlignedFreeUniquePtr<Gauss[]> pool_;
    std::vector<std::size_t> first_kept_;
    std::size_t pool_places_ = 0, pool_from_ = 0;
    std::vector<std::array<Values, modes>> weight_;
    Vd likelihood_;

    HWY_ATTR Vd scalar(double Forces::*what) const {
        Values v;
        for (std::size_t k = 0; k < L; ++k) v[k] = own_[k]->*what;
        return load(v);
    }
    HWY_ATTR Vd of_second(std::vector<double> Forces::*what, std::size_t i) const {
        Values v;
        for (std::size_t k = 0; k < L; ++k) v[k] = (own_[k]->*what)[i];
        return load(v);
    }
    HWY_ATTR Vd of_way(std::vector<double> Switching::*what, std::size_t i) const {
        if (one_way_) return same((s.*what)[i]);
        Values v;
        for (std::size_t k = 0; k < L; ++k) v[k] = (ways_[k]->*what)[i];
        return load(v);
    }
    //! One number of each lane's own way.
    template <class F> HWY_ATTR Vd by_way(F&& f) const {
        if (one_way_) return same(f(s));
        Values v;
        for (std::size_t k = 0; k < L; ++k) v[k] = f(*ways_[k]);
        return load(v);
    }
    bool alone(std::size_t i) const { return s.still[i] || s.bridged[i]; }   // a second without a choice of mode
    bool single_at(std::size_t i) const { return i == 0 || alone(i - 1); }
    bool metered(std::size_t i) const { return !s.meter_W.empty() && std::isfinite(s.meter_W[i]); }
    Gauss& kept(std::size_t i, std::size_t m) {
        const std::size_t place = first_kept_[i] - first_kept_[pool_from_] + (single_at(i) ? 0 : m);
        assert(place < pool_places_);
        return pool_[place];
    }

    HWY_ATTR void step_of(std::size_t i, Step& t) const;
    HWY_ATTR void chances(std::size_t i, Step& t) const;
    HWY_ATTR Law law_of(std::size_t i, std::size_t m) const;
    HWY_ATTR void predict(const Step& t, const Gauss& from, Vd keep, Vd mean, Vd var, Gauss& to, Vd (*half)[N]) const;
    HWY_ATTR Vd measure_all(Gauss& q, std::size_t i, Vd& product) const;
    HWY_ATTR void start(Gauss& q) const;
    HWY_ATTR void forward(std::size_t from, std::size_t to, bool count);
    HWY_ATTR void forward_second(std::size_t i, bool count);
    HWY_ATTR void backward(std::size_t from, std::size_t to);
    HWY_ATTR void draw(const Gauss& q, std::size_t i);

    // of the way back
    Values mode_{};
    Vd x_[N];
};

// [EQ motion-18] and, with a meter, [EQ motion-11]
void chances_of(const Switching& s, std::size_t i, bool metered, std::array<Odds, modes + 1>& chance) {
    const double steep = std::clamp((-s.gradient[i] - 0.02) / 0.04, 0.0, 1.0) * std::clamp((s.speed_mps[i] - 5) / 5, 0.0, 1.0);
    const double W = metered ? s.meter_W[i] : 0.0;
    const double z = (W - 25) / 10, working = 1 / (1 + std::exp(-z * (1.5957691 + 0.0713548 * z * z)));
    for (std::size_t b = 0; b < modes; ++b) {
        const bool drives = b == pedal || b == sprint;
        double by = 1;
        if (metered) {
            if (b == coast) by = 0.02 + 0.98 * (1 - working);
            else if (b == pedal) by = 0.02 + 0.98 * working;
            else if (b == sprint) by = 0;   // with a meter a sprint is no surprise
            else by = std::max(0.002, std::exp(-std::max(0.0, W) / 30));
        }
        if (!s.legs.empty()) {
            // Beside a meter it adds that the legs drive now, not before or after: a meter is timed loosely. Of soft pedalling the meter knows more.
            if (s.legs[i] == Legs::turn && (metered ? is_brake(b) && W > driving_W : !drives)) by *= turning_in_vain + steep * (turning_in_vain_downhill - turning_in_vain);
            if (s.legs[i] == Legs::rest && drives && !metered) by *= driving_unseen;
        }
        for (std::size_t a = 0; a < modes; ++a) chance[a][b] = by * ((1 - steep) * usual[a][b] + steep * downhill[a][b]);
        chance[modes][b] = by * (i > 0 && !s.still[i - 1] ? after_unseen[b] : after_standing[b]);
    }
}

HWY_ATTR void Filter::chances(std::size_t i, Step& t) const {
    std::array<Odds, modes + 1> of[L];
    const std::size_t different = one_way_ ? 1 : L;
    for (std::size_t k = 0; k < different; ++k) chances_of(*ways_[k], i, t.metered, of[k]);
    for (std::size_t a = 0; a <= modes; ++a)
        for (std::size_t b = 0; b < modes; ++b) {
            Values v;
            for (std::size_t k = 0; k < L; ++k) v[k] = of[std::min(k, different - 1)][a][b];
            t.chance[a][b] = load(v);
        }
}

HWY_ATTR void Filter::step_of(std::size_t i, Step& t) const {
    // a = u - kg·γ - rolling - (air_at_zero + air_slope·v), per effective mass
    const Vd slope = of_second(&Forces::air_slope, i), half = same(0.5);
    const bool still = s.still[i] != 0;
    t.metered = metered(i);
    t.dd = same(1);
    t.ds = of_way(&Switching::ds, i);
    t.g = by_way([&](const Switching& way) { return std::exp(-way.ds[i] / way.gradient_length_m); });
    Values step[7];
    const std::size_t different = one_way_ ? 1 : L;
    for (std::size_t k = 0; k < L; ++k) {
        if (k >= different) {
            for (Values& v : step) v[k] = v[0];
            continue;
        }
        const WanderStep w = wander_step(ways_[k]->wander, ways_[k]->error_step[i]);
        const double all[7] = {w.bb, w.br, w.rb, w.rr, w.q_bb, w.q_br, w.q_rr};
        for (std::size_t j = 0; j < 7; ++j) step[j][k] = all[j];
    }
    t.bb = load(step[0]);
    t.br = load(step[1]);
    t.rb = load(step[2]);
    t.rr = load(step[3]);
    t.dv = hn::NegMulAdd(half, slope, same(1));
    if (!s.afresh.empty() && s.afresh[i]) {
        t.dd = zero();
        t.dv = hn::Sub(t.dv, same(s.afresh_offset_s[i]));
    }
    t.qdd = same(1e-4 + s.distance_jump_var[i]);
    t.qzz = same(1e-5 + s.height_jump_var[i]);
    t.qgg = by_way([&](const Switching& way) { return way.gradient_q * way.ds[i] + 1e-8; });
    t.qbb = hn::MulAdd(error_var_, load(step[4]), same(1e-8));
    t.qbr = hn::Mul(error_var_, load(step[5]));
    t.qrr = hn::MulAdd(error_var_, load(step[6]), same(1e-8));
    if (still) {
        t.dv = t.vv = t.vg = t.ve = t.vs = t.d0 = t.v0 = zero();
        t.pushes = 0;
        t.qvv = same(s.left_out[i] ? 9.0 : 0.04);
        return;
    }
    t.pushes = 1;
    t.qvv = same(0.0025);
    t.vv = hn::Sub(same(1), slope);
    t.vg = hn::Neg(kg_);
    t.ve = hn::Neg(hn::Mul(slope, same(s.towards_x[i])));
    t.vs = hn::Neg(hn::Mul(slope, same(s.towards_y[i])));
    if (across_) {   // [EQ motion-17]
        Values v;
        for (std::size_t k = 0; k < L; ++k) v[k] = own_[k]->air_across.empty() ? 0.0 : own_[k]->air_across[i];
        const Vd across = load(v);
        t.ve = hn::NegMulAdd(across, same(s.towards_y[i]), t.ve);
        t.vs = hn::MulAdd(across, same(s.towards_x[i]), t.vs);
    }
    t.v0 = hn::Neg(hn::Add(of_second(&Forces::rolling, i), of_second(&Forces::air_at_zero, i)));
    t.d0 = hn::Mul(half, t.v0);
}

// [EQ motion-9] and, with a meter, [EQ motion-11]
HWY_ATTR Law Filter::law_of(std::size_t i, std::size_t m) const {
    const bool meter = metered(i);
    // What drag and wind are off by changes slowly: it is carried from second to second.
    Law l;
    if (m == coast || (meter && (m == pedal || m == sprint))) {
        l = law(zero(), hn::Add(same(riding[coast].sd * riding[coast].sd), of_second(&Forces::coast_var, i)), riding[coast].memory);
    } else if (m == pedal || m == sprint) {
        const Vd per_W = hn::Div(same(1), hn::Mul(me_, hn::Max(of_way(&Switching::speed_mps, i), same(2.5))));
        const Vd sd = hn::Mul(same(m == pedal && s.e_assist ? motor_sd_W : riding[m].sd), per_W);
        l = law(hn::Mul(m == pedal ? pedal_W_ : same(riding[m].mean), per_W), square(sd), riding[m].memory);
    } else {
        l = law(riding[m]);
    }
    if (meter) {
        // u - rider is what the law is about; the rider's part comes from the meter.
        const Vd u = of_second(&Forces::meter_u, i), var = of_second(&Forces::meter_var, i);
        const Vd before = i > 0 && metered(i - 1) ? of_second(&Forces::meter_u, i - 1) : u;
        l.fresh_var = hn::Add(l.fresh_var, var);
        l.stay_var = hn::MulAdd(hn::NegMulAdd(l.keep, l.keep, same(1)), var, l.stay_var);
        l.fresh_mean = hn::Add(l.fresh_mean, u);
        l.stay_mean = hn::Add(l.stay_mean, hn::NegMulAdd(l.keep, before, u));
    }
    return l;
}

HWY_INLINE void add_fresh(Gauss& q, Vd mean, Vd var, double pushes) {
    q.x[U] = hn::Add(q.x[U], mean);
    q.p[at(U, U)] = hn::Add(q.p[at(U, U)], var);
    if (pushes == 0) return;
    const Vd half = hn::Mul(same(0.5), var);
    q.x[D] = hn::MulAdd(same(0.5), mean, q.x[D]);
    q.x[V] = hn::Add(q.x[V], mean);
    q.p[at(D, D)] = hn::MulAdd(same(0.25), var, q.p[at(D, D)]);
    q.p[at(V, D)] = hn::Add(q.p[at(V, D)], half);
    q.p[at(V, V)] = hn::Add(q.p[at(V, V)], var);
    q.p[at(U, D)] = hn::Add(q.p[at(U, D)], half);
    q.p[at(U, V)] = hn::Add(q.p[at(U, V)], var);
}

// to: the state a second on; half: Cov(state now, state then) = P Fᵀ. Only what is not zero in F and Q is multiplied: F is nearly the
// identity, its rows D and V share what pushes.
HWY_ATTR void Filter::predict(const Step& t, const Gauss& from, Vd keep, Vd mean, Vd var, Gauss& to, Vd (*half)[N]) const {
    const Vd on = hn::Mul(keep, same(t.pushes)), h = same(0.5), dd = t.dd, ds = t.ds, fg = t.g, bb = t.bb, br = t.br, rb = t.rb, rr = t.rr;
    const Vd* x = from.x;
    const Vd pushed = hn::MulAdd(t.vs, x[S], hn::MulAdd(t.ve, x[E], hn::MulAdd(on, x[U], hn::Mul(t.vg, x[G]))));
    to.x[D] = hn::Add(hn::MulAdd(dd, x[D], hn::MulAdd(t.dv, x[V], hn::Mul(h, pushed))), t.d0);
    to.x[V] = hn::Add(hn::MulAdd(t.vv, x[V], pushed), t.v0);
    to.x[Z] = hn::MulAdd(ds, x[G], x[Z]);
    to.x[G] = hn::Mul(fg, x[G]);
    to.x[B] = hn::MulAdd(bb, x[B], hn::Mul(br, x[R]));
    to.x[R] = hn::MulAdd(rb, x[B], hn::Mul(rr, x[R]));
    to.x[U] = hn::Mul(keep, x[U]);
    to.x[E] = x[E];
    to.x[S] = x[S];
    const Vd* p = from.p;
    BW_UNROLL
    for (int r = 0; r < N; ++r) {
        const Vd push = hn::MulAdd(t.vs, p[at(r, S)], hn::MulAdd(t.ve, p[at(r, E)], hn::MulAdd(on, p[at(r, U)], hn::Mul(t.vg, p[at(r, G)]))));
        half[r][D] = hn::MulAdd(dd, p[at(r, D)], hn::MulAdd(t.dv, p[at(r, V)], hn::Mul(h, push)));
        half[r][V] = hn::MulAdd(t.vv, p[at(r, V)], push);
        half[r][Z] = hn::MulAdd(ds, p[at(r, G)], p[at(r, Z)]);
        half[r][G] = hn::Mul(fg, p[at(r, G)]);
        half[r][B] = hn::MulAdd(bb, p[at(r, B)], hn::Mul(br, p[at(r, R)]));
        half[r][R] = hn::MulAdd(rb, p[at(r, B)], hn::Mul(rr, p[at(r, R)]));
        half[r][U] = hn::Mul(keep, p[at(r, U)]);
        half[r][E] = p[at(r, E)];
        half[r][S] = p[at(r, S)];
    }
    BW_UNROLL
    for (int c = 0; c <= V; ++c) {
        const Vd push = hn::MulAdd(t.vs, half[S][c], hn::MulAdd(t.ve, half[E][c], hn::MulAdd(on, half[U][c], hn::Mul(t.vg, half[G][c]))));
        if (c == D) to.p[at(D, D)] = hn::MulAdd(dd, half[D][D], hn::MulAdd(t.dv, half[V][D], hn::Mul(h, push)));
        to.p[at(V, c)] = hn::MulAdd(t.vv, half[V][c], push);
    }
    BW_UNROLL
    for (int c = 0; c < N; ++c) {
        if (c <= Z) to.p[at(Z, c)] = hn::MulAdd(ds, half[G][c], half[Z][c]);
        if (c <= G) to.p[at(G, c)] = hn::Mul(fg, half[G][c]);
        if (c <= B) to.p[at(B, c)] = hn::MulAdd(bb, half[B][c], hn::Mul(br, half[R][c]));
        if (c <= U) to.p[at(U, c)] = hn::Mul(keep, half[U][c]);
        if (c <= E) to.p[at(E, c)] = half[E][c];
        if (c <= S) to.p[at(S, c)] = half[S][c];
        to.p[at(R, c)] = hn::MulAdd(rb, half[B][c], hn::Mul(rr, half[R][c]));
    }
    const auto add = [&](int r, int c, Vd v) HWY_ATTR { to.p[at(r, c)] = hn::Add(to.p[at(r, c)], v); };
    add(D, D, t.qdd);
    add(V, V, t.qvv);
    add(Z, Z, t.qzz);
    add(G, G, t.qgg);
    add(B, B, t.qbb);
    add(R, B, t.qbr);
    add(R, R, t.qrr);
    add(E, E, same(1e-9));
    add(S, S, same(1e-9));
    add_fresh(to, mean, var, t.pushes);
}

// One scalar measurement of x[h1] + w2·x[h2] + w3·x[h3]; returns the log likelihood without its logarithm of the variance, which
// `product` gathers: one logarithm for all readings of a second. Gated as in motion_filter.hpp.
template <int h1, int h2, int h3> HWY_ATTR Vd measure(Gauss& q, Vd w2, Vd w3, Vd y, Vd variance, Vd& product) {
    constexpr double gate = 25;
    Vd ph[N];
    BW_UNROLL
    for (int k = 0; k < N; ++k) {
        ph[k] = q.p[at(k, h1)];
        if constexpr (h2 >= 0) ph[k] = hn::MulAdd(w2, q.p[at(k, h2)], ph[k]);
        if constexpr (h3 >= 0) ph[k] = hn::MulAdd(w3, q.p[at(k, h3)], ph[k]);
    }
    Vd hx = q.x[h1], v = hn::Add(ph[h1], variance);
    if constexpr (h2 >= 0) hx = hn::MulAdd(w2, q.x[h2], hx), v = hn::MulAdd(w2, ph[h2], v);
    if constexpr (h3 >= 0) hx = hn::MulAdd(w3, q.x[h3], hx), v = hn::MulAdd(w3, ph[h3], v);
    const Vd nu = hn::Sub(y, hx);
    Vd inverse = hn::Div(same(1), v);
    const Vd ratio = hn::Mul(square(nu), inverse);
    product = hn::Mul(product, v);
    Vd l = hn::Mul(same(-0.5), ratio);
    const auto beyond = hn::Gt(ratio, same(gate));
    if (HWY_UNLIKELY(!hn::AllFalse(tag, beyond))) {
        const Vd over = log_of(hn::Max(hn::Mul(ratio, same(1 / gate)), same(1)));
        l = hn::IfThenElse(beyond, hn::Mul(same(-0.5 * gate), hn::Add(same(1), over)), l);
        inverse = hn::IfThenElse(beyond, hn::Div(same(gate), square(nu)), inverse);
    }
    const Vd gain = hn::Mul(nu, inverse);
    BW_UNROLL
    for (int r = 0; r < N; ++r) {
        q.x[r] = hn::MulAdd(ph[r], gain, q.x[r]);
        const Vd g = hn::Mul(ph[r], inverse);
        BW_UNROLL
        for (int c = 0; c <= r; ++c) q.p[at(r, c)] = hn::NegMulAdd(g, ph[c], q.p[at(r, c)]);
    }
    return l;
}

// The log likelihood of the readings is what comes back less half the logarithm of `product`.
HWY_ATTR Vd Filter::measure_all(Gauss& q, std::size_t i, Vd& product) const {
    Vd l = zero(), aside = same(1);
    product = same(1);
    for (std::size_t r = s.first[i]; r < s.first[i + 1]; ++r) {
        const SwitchReading& z = s.readings[r];
        const Vd offset = by_way([r](const Switching& way) { return way.readings[r].offset_s; }), variance = by_way([r](const Switching& way) { return way.readings[r].variance; });
        const bool at_the_second = hn::AllTrue(tag, hn::Eq(offset, zero()));
        Vd y = by_way([r](const Switching& way) { return way.readings[r].y; });
        switch (z.kind) {
            case SwitchReading::Kind::distance:
                l = hn::Add(l, at_the_second ? measure<D, -1, -1>(q, offset, offset, y, variance, product) : measure<D, V, -1>(q, offset, offset, y, variance, product));
                break;
            case SwitchReading::Kind::speed:
                if (!at_the_second && i > 0) {
                    // What road, air and slope did since the moment of a lagging reading; the rest is u.
                    const Vd slowed = hn::Add(of_second(&Forces::rolling, i - 1), hn::MulAdd(of_second(&Forces::air_slope, i - 1), of_way(&Switching::speed_at_mps, i - 1), of_second(&Forces::air_at_zero, i - 1)));
                    y = hn::MulAdd(offset, hn::MulAdd(kg_, of_way(&Switching::gradient, i - 1), slowed), y);
                }
                l = hn::Add(l, at_the_second ? measure<V, -1, -1>(q, offset, offset, y, variance, product) : measure<V, U, -1>(q, offset, offset, y, variance, product));
                break;
            case SwitchReading::Kind::altitude:
                l = hn::Add(l, at_the_second ? measure<Z, B, -1>(q, same(1), offset, y, variance, product)
                                             : measure<Z, B, G>(q, same(1), hn::Mul(of_way(&Switching::speed_mps, i), offset), y, variance, product));
                break;
        }
    }
    if (i > 0 && s.still[i - 1] && !s.left_out[i - 1]) (void)measure<V, -1, -1>(q, zero(), zero(), zero(), same(0.01), aside);
    return l;
}

HWY_ATTR void Filter::start(Gauss& q) const {
    for (Vd& x : q.x) x = zero();
    for (Vd& p : q.p) p = zero();
    q.x[V] = of_way(&Switching::speed_at_mps, 0);
    q.x[Z] = by_way([](const Switching& way) { return way.start_altitude_m; });
    q.x[G] = of_way(&Switching::gradient, 0);
    const Vd wind = scalar(&Forces::wind_var);
    q.p[at(D, D)] = same(4);
    q.p[at(V, V)] = same(1);
    q.p[at(Z, Z)] = hn::Add(same(25), error_var_);
    q.p[at(G, G)] = by_way([](const Switching& way) { return way.gradient_length_m < 1e6 ? 0.5 * way.gradient_q * way.gradient_length_m : 0.06 * 0.06; });
    q.p[at(B, B)] = q.p[at(R, R)] = error_var_;
    q.p[at(U, U)] = same(0.1);
    q.p[at(E, E)] = q.p[at(S, S)] = wind;
}

// Several Gaussians as one with their mean and covariance. weights sum to one in each lane; those not in `counts` are nought in all lanes.
HWY_ATTR void merge(const Gauss* parts, const Vd* weight, const bool* counts, std::size_t n, Gauss& m) {
    std::size_t with = 0, first = 0;
    for (std::size_t a = n; a-- > 0;)
        if (counts[a]) first = a, ++with;
    if (with <= 1) {
        copy(parts[first], m);
        return;
    }
    BW_UNROLL
    for (int k = 0; k < N; ++k) m.x[k] = hn::Mul(weight[first], parts[first].x[k]);
    for (std::size_t a = first + 1; a < n; ++a) {
        if (!counts[a]) continue;
        BW_UNROLL
        for (int k = 0; k < N; ++k) m.x[k] = hn::MulAdd(weight[a], parts[a].x[k], m.x[k]);
    }
    for (std::size_t a = first; a < n; ++a) {
        if (!counts[a]) continue;
        Vd d[N];
        BW_UNROLL
        for (int r = 0; r < N; ++r) {
            d[r] = hn::Sub(parts[a].x[r], m.x[r]);
            BW_UNROLL
            for (int c = 0; c <= r; ++c) {
                const Vd spread = hn::MulAdd(d[r], d[c], parts[a].p[at(r, c)]);
                m.p[at(r, c)] = a == first ? hn::Mul(weight[a], spread) : hn::MulAdd(weight[a], spread, m.p[at(r, c)]);
            }
        }
    }
}

HWY_ATTR void Filter::forward_second(std::size_t i, bool count) {
    Step t;
    step_of(i, t);
    const bool fresh = single_at(i);
    Vd half[N][N];
    if (alone(i)) {
        Gauss mixed;
        if (!fresh) {
            Vd weight[modes];
            for (std::size_t a = 0; a < modes; ++a) weight[a] = load(weight_[i][a]);
            constexpr bool all[modes] = {true, true, true, true, true};
            merge(&kept(i, 0), weight, all, modes, mixed);
        }
        const Gauss& from = fresh ? kept(i, 0) : mixed;
        Gauss& q = kept(i + 1, 0);
        if (s.still[i]) {
            predict(t, from, zero(), zero(), same(rest_var), q, half);
        } else {
            const bool stays = i > 0 && !s.still[i - 1];
            const Law l = law(unseen);
            predict(t, from, stays ? l.keep : zero(), stays ? l.stay_mean : l.fresh_mean, stays ? l.stay_var : l.fresh_var, q, half);
        }
        Vd product;
        const Vd l = measure_all(q, i + 1, product);
        if (count) likelihood_ = hn::Add(likelihood_, hn::NegMulAdd(same(0.5), log_of(product), l));
        for (std::size_t b = 0; b < modes; ++b) weight_[i + 1][b].fill(s.still[i] ? after_standing[b] : after_unseen[b]);
        return;
    }
    chances(i, t);
    const std::size_t froms = fresh ? 1 : modes;
    Gauss base[modes], branch[modes];
    for (std::size_t a = 0; a < froms; ++a) predict(t, kept(i, a), zero(), zero(), zero(), base[a], half);
    const Vd none = same(-1e300), rider = t.metered ? of_second(&Forces::meter_u, i) : zero();
    Vd sums[modes], tops[modes];
    for (std::size_t b = 0; b < modes; ++b) {
        const Law l = law_of(i, b);
        Vd w[modes];
        bool followed[modes];
        Vd top = none;
        for (std::size_t a = 0; a < froms; ++a) {
            const bool stays = !fresh && (a == b || (is_brake(a) && is_brake(b)));
            const Vd prior = hn::Mul(fresh ? same(1) : load(weight_[i][a]), t.chance[fresh ? modes : a][b]);
            const auto live = hn::Ge(prior, same(negligible));
            w[a] = none;
            followed[a] = !hn::AllFalse(tag, live);
            if (!followed[a]) continue;
            Gauss& q = branch[a];
            if (stays) {
                predict(t, kept(i, a), l.keep, l.stay_mean, l.stay_var, q, half);
            } else {
                copy(base[a], q);   // a fresh force only adds to it
                add_fresh(q, l.fresh_mean, l.fresh_var, t.pushes);
            }
            Vd product, under = same(1), lw = measure_all(q, i + 1, product);
            const Vd sd = hn::Sqrt(hn::Max(same(1e-8), q.p[at(U, U)]));
            // [EQ motion-10] a brake never drives, a pedalling rider never holds back
            if (is_brake(b)) add_log_share_below(hn::Div(hn::Sub(rider, q.x[U]), sd), lw, under);
            if ((b == pedal || b == sprint) && !t.metered) add_log_share_below(hn::Div(q.x[U], sd), lw, under);
            const Vd odds = hn::Div(hn::Max(prior, same(negligible)), under);
            w[a] = hn::IfThenElse(live, hn::MulAdd(same(0.5), log_of(hn::Div(square(odds), product)), lw), none);
            top = hn::IfThenElse(hn::Gt(w[a], top), w[a], top);
        }
        // Branches that lead to one mode become one Gaussian, by weights beside the best of them.
        Vd sum = zero();
        for (std::size_t a = 0; a < froms; ++a) sum = hn::Add(sum, w[a] = followed[a] ? exp_of(hn::Sub(w[a], top)) : zero());
        tops[b] = top;
        sums[b] = sum;
        Gauss& m = kept(i + 1, b);
        // A millionth of the whole is left out; the others sum to one in each lane, so that a lane with one of them is that one.
        const Vd least = hn::Mul(same(1e-6), sum);
        Vd heavy_sum = zero();
        bool counts[modes];
        for (std::size_t a = 0; a < froms; ++a) {
            const auto heavy = hn::Not(hn::Le(w[a], least));
            counts[a] = followed[a] && !hn::AllFalse(tag, heavy);
            heavy_sum = hn::Add(heavy_sum, w[a] = hn::IfThenElseZero(heavy, w[a]));
        }
        for (std::size_t a = 0; a < froms; ++a) w[a] = hn::Div(w[a], heavy_sum);
        merge(branch, w, counts, froms, m);
    }
    Vd top = tops[0];
    for (std::size_t b = 1; b < modes; ++b) top = hn::IfThenElse(hn::Gt(tops[b], top), tops[b], top);
    Vd total = zero();
    for (std::size_t b = 0; b < modes; ++b) {
        sums[b] = hn::Mul(sums[b], exp_of(hn::Sub(tops[b], top)));
        total = hn::Add(total, sums[b]);
        const auto dead = hn::Lt(sums[b], same(1e-14));
        if (HWY_LIKELY(hn::AllFalse(tag, dead))) continue;
        // No branch of any weight: kept only so that the state stays finite.
        Gauss& m = kept(i + 1, b);
        BW_UNROLL
        for (int k = 0; k < N; ++k) m.x[k] = hn::IfThenElse(dead, base[0].x[k], m.x[k]);
        BW_UNROLL
        for (int k = 0; k < cov_n; ++k) m.p[k] = hn::IfThenElse(dead, base[0].p[k], m.p[k]);
        m.p[at(U, U)] = hn::Add(m.p[at(U, U)], hn::IfThenElseZero(dead, same(1)));
    }
    for (std::size_t b = 0; b < modes; ++b) store(hn::Div(sums[b], total), weight_[i + 1][b]);
    if (count) likelihood_ = hn::Add(likelihood_, hn::Add(top, log_of(total)));
}

HWY_ATTR void Filter::forward(std::size_t from, std::size_t to, bool count) {
    for (std::size_t i = from; i < to; ++i) forward_second(i, count);
}

HWY_ATTR void Filter::draw(const Gauss& q, std::size_t i) {
    Values z[N], mean[N], cov[cov_n], drawn[N];
    BW_UNROLL
    for (int k = 0; k < N; k += 2) {   // Box & Muller: a pair of normals for a pair of uniforms
        const std::uint64_t stream = 5'000'000 + static_cast<std::uint64_t>(i) * (N + 1) + static_cast<std::uint64_t>(k);
        Values first, second;
        for (std::size_t lane = 0; lane < L; ++lane) {
            const std::size_t key = draws_->keys[std::min(lane, out_.size() - 1)];
            first[lane] = uniform_of(draws_->seed, draws_->ride, key, stream);
            second[lane] = uniform_of(draws_->seed, draws_->ride, key, stream + 1);
        }
        const Vd r = hn::Sqrt(hn::Mul(same(-2), hn::Log(tag, load(first))));
        const Vd angle = hn::Mul(same(6.283185307179586), load(second));
        store(hn::Mul(r, hn::Cos(tag, angle)), z[k]);
        if (k + 1 < N) store(hn::Mul(r, hn::Sin(tag, angle)), z[k + 1]);
    }
    BW_UNROLL
    for (int k = 0; k < N; ++k) store(q.x[k], mean[k]);
    BW_UNROLL
    for (int k = 0; k < cov_n; ++k) store(q.p[k], cov[k]);
    for (std::size_t lane = 0; lane < L; ++lane) {
        if (lane >= out_.size()) {
            BW_UNROLL
            for (int k = 0; k < N; ++k) drawn[k][lane] = drawn[k][0];
            continue;
        }
        double m[N], c[N * N], normal[N], x[N];
        BW_UNROLL
        for (int r = 0; r < N; ++r) {
            m[r] = mean[r][lane];
            normal[r] = z[r][lane];
            BW_UNROLL
            for (int k = 0; k < N; ++k) c[r * N + k] = cov[at(r, k)][lane];
        }
        gaussian_draw(m, c, normal, x);
        BW_UNROLL
        for (int k = 0; k < N; ++k) drawn[k][lane] = x[k];
    }
    BW_UNROLL
    for (int k = 0; k < N; ++k) x_[k] = load(drawn[k]);
}

// Mode and state of each second given those of the next (Kim's smoother, as a draw).   [EQ motion-12]
HWY_ATTR void Filter::backward(std::size_t from, std::size_t to) {
    Step t;
    Gauss pred, k;
    Vd half[N][N], factor[cov_n], inverse[N], rest[N];
    Values chance[modes][modes];
    for (std::size_t i = to; i-- > from;) {
        // mode_ is that of second i, in force from i to i+1; x_ is the state at i+1.
        step_of(i, t);
        const bool still = alone(i), single = single_at(i);   // single: before it one component
        if (!still) {
            chances(i, t);
            for (std::size_t a = 0; a < modes; ++a)
                for (std::size_t b = 0; b < modes; ++b) store(t.chance[a][b], chance[a][b]);
        }
        Values u;
        store(x_[U], u);
        for (std::size_t lane = 0; lane < out_.size(); ++lane) {
            out_[lane].u[i] = s.still[i] ? 0.0 : u[lane];
            out_[lane].mode[i] = s.still[i] ? Mode::standing : still ? Mode::unseen : static_cast<Mode>(static_cast<int>(mode_[lane]));
        }
        // The law of each lane's mode.
        const Vd mode = load(mode_);
        Law l;
        if (s.still[i]) {
            l = {zero(), zero(), same(rest_var), zero(), same(rest_var)};
        } else if (still) {
            l = law(unseen);
        } else {
            l = law_of(i, 0);
            for (std::size_t b = 1; b < modes; ++b) {
                const auto is = hn::Eq(mode, same(static_cast<double>(b)));
                if (hn::AllFalse(tag, is)) continue;
                const Law o = law_of(i, b);
                l = {hn::IfThenElse(is, o.keep, l.keep), hn::IfThenElse(is, o.fresh_mean, l.fresh_mean), hn::IfThenElse(is, o.fresh_var, l.fresh_var),
                     hn::IfThenElse(is, o.stay_mean, l.stay_mean), hn::IfThenElse(is, o.stay_var, l.stay_var)};
            }
        }
        const auto goes_on = [&](std::size_t a, int m) {
            if (still) return !s.still[i] && i > 0 && !s.still[i - 1];
            return !single && (a == static_cast<std::size_t>(m) || (is_brake(a) && is_brake(static_cast<std::size_t>(m))));
        };
        // State a second on from q, whose lanes go on or not; factor: of its covariance; rest = L⁻¹ (x - predicted).
        const auto predict_from = [&](const Gauss& q, const Values& goes) HWY_ATTR {
            const auto on = hn::Gt(load(goes), zero());
            predict(t, q, hn::IfThenElseZero(on, l.keep), hn::IfThenElse(on, l.stay_mean, l.fresh_mean), hn::IfThenElse(on, l.stay_var, l.fresh_var), pred, half);
            BW_UNROLL
            for (int c = 0; c < N; ++c) {
                BW_UNROLL
                for (int r = c; r < N; ++r) {
                    Vd sum = pred.p[at(r, c)];
                    BW_UNROLL
                    for (int j = 0; j < c; ++j) sum = hn::NegMulAdd(factor[at(r, j)], factor[at(c, j)], sum);
                    if (r == c) {
                        factor[at(c, c)] = hn::Sqrt(hn::Max(sum, same(1e-300)));
                        inverse[c] = hn::Div(same(1), factor[at(c, c)]);
                    } else {
                        factor[at(r, c)] = hn::Mul(sum, inverse[c]);
                    }
                }
            }
            BW_UNROLL
            for (int r = 0; r < N; ++r) {
                Vd sum = hn::Sub(x_[r], pred.x[r]);
                BW_UNROLL
                for (int j = 0; j < r; ++j) sum = hn::NegMulAdd(factor[at(r, j)], rest[j], sum);
                rest[r] = hn::Mul(sum, inverse[r]);
            }
        };
        const std::size_t froms = single ? 1 : modes;
        Values w[modes], picked{};
        if (!single) {
            Vd lw[modes], top = same(-1e300);
            for (std::size_t a = 0; a < froms; ++a) {
                Values odds, goes;
                for (std::size_t lane = 0; lane < L; ++lane) {
                    odds[lane] = weight_[i][a][lane] * (still ? 1.0 : chance[a][static_cast<std::size_t>(mode_[lane])][lane]);
                    goes[lane] = goes_on(a, static_cast<int>(mode_[lane])) ? 1 : 0;
                }
                const auto live = hn::Not(hn::Lt(load(odds), same(1e-12)));
                lw[a] = same(-1e300);
                if (hn::AllFalse(tag, live)) continue;
                predict_from(kept(i, a), goes);
                Vd root_det = factor[0], squares = square(rest[0]);
                BW_UNROLL
                for (int c = 1; c < N; ++c) {
                    root_det = hn::Mul(root_det, factor[at(c, c)]);
                    squares = hn::MulAdd(rest[c], rest[c], squares);
                }
                lw[a] = hn::IfThenElse(live, hn::NegMulAdd(same(0.5), squares, log_of(hn::Div(load(odds), root_det))), lw[a]);
                top = hn::IfThenElse(hn::Gt(lw[a], top), lw[a], top);
            }
            for (std::size_t a = 0; a < froms; ++a) store(exp_of(hn::Sub(lw[a], top)), w[a]);
            for (std::size_t lane = 0; lane < L; ++lane) {
                double sum = 0;
                for (std::size_t a = 0; a < froms; ++a) sum += w[a][lane];
                double left = uniform_of(draws_->seed, draws_->ride, draws_->keys[std::min(lane, out_.size() - 1)], 1000 + i) * sum;
                std::size_t pick = 0;
                while (pick + 1 < froms && left >= w[pick][lane]) left -= w[pick++][lane];
                while (pick > 0 && w[pick][lane] <= 0) --pick;
                while (w[pick][lane] <= 0 && pick + 1 < froms) ++pick;
                picked[lane] = static_cast<double>(pick);
            }
        }
        k = kept(i, 0);
        const Vd chosen = load(picked);
        for (std::size_t a = 1; a < froms; ++a) {
            const auto is = hn::Eq(chosen, same(static_cast<double>(a)));
            if (hn::AllFalse(tag, is)) continue;
            const Gauss& o = kept(i, a);
            BW_UNROLL
            for (int c = 0; c < N; ++c) k.x[c] = hn::IfThenElse(is, o.x[c], k.x[c]);
            BW_UNROLL
            for (int c = 0; c < cov_n; ++c) k.p[c] = hn::IfThenElse(is, o.p[c], k.p[c]);
        }
        Values goes;
        for (std::size_t lane = 0; lane < L; ++lane) goes[lane] = goes_on(static_cast<std::size_t>(picked[lane]), static_cast<int>(mode_[lane])) ? 1 : 0;
        predict_from(k, goes);
        // L Aᵀ = F P: mean and covariance given the next state are x + A r and P - A Aᵀ.
        BW_UNROLL
        for (int r = 0; r < N; ++r)
            BW_UNROLL
            for (int c = 0; c < N; ++c) {
                Vd sum = half[r][c];
                BW_UNROLL
                for (int j = 0; j < c; ++j) sum = hn::NegMulAdd(factor[at(c, j)], half[r][j], sum);
                half[r][c] = hn::Mul(sum, inverse[c]);
            }
        BW_UNROLL
        for (int r = 0; r < N; ++r) {
            BW_UNROLL
            for (int c = 0; c < N; ++c) k.x[r] = hn::MulAdd(half[r][c], rest[c], k.x[r]);
            BW_UNROLL
            for (int j = 0; j <= r; ++j) {
                Vd sum = k.p[at(r, j)];
                BW_UNROLL
                for (int c = 0; c < N; ++c) sum = hn::NegMulAdd(half[r][c], half[j][c], sum);
                k.p[at(r, j)] = sum;
            }
        }
        draw(k, i);
        mode_ = picked;
        Values speed, altitude, east, north;
        store(x_[V], speed);
        store(x_[Z], altitude);
        store(x_[E], east);
        store(x_[S], north);
        for (std::size_t lane = 0; lane < out_.size(); ++lane) {
            SwitchedPath& o = out_[lane];
            o.speed_mps[i] = speed[lane];
            o.altitude_m[i] = altitude[lane];
            o.head_wind_mps[i] = s.towards_x[i] * east[lane] + s.towards_y[i] * north[lane];
            if (!o.across_wind_mps.empty()) o.across_wind_mps[i] = s.towards_y[i] * east[lane] - s.towards_x[i] * north[lane];
        }
    }
}

HWY_ATTR void Filter::run() {
    first_kept_.assign(n + 1, 0);
    for (std::size_t i = 0; i < n; ++i) first_kept_[i + 1] = first_kept_[i] + (single_at(i) ? 1 : modes);
    // Stretches whose states fit the pool; where a ride has more than one, all but the last are gone through twice.
    const std::size_t places = draws_ ? most_kept_bytes / sizeof(Gauss) : 64 * modes;
    std::vector<std::size_t> cuts = {0};
    for (std::size_t i = 1; i < n; ++i)
        if (first_kept_[i + 1] - first_kept_[cuts.back()] > places) cuts.push_back(i - 1);
    cuts.push_back(n - 1);
    pool_places_ = 1;
    for (std::size_t c = 0; c + 1 < cuts.size(); ++c) pool_places_ = std::max(pool_places_, first_kept_[cuts[c + 1] + 1] - first_kept_[cuts[c]]);
    pool_ = hwy::AllocateAligned<Gauss>(pool_places_);
    if (!pool_) throw std::bad_alloc();
    // Where each stretch begins, for the way back; without one, where the last and the next do.
    const auto start_of = [&](std::size_t c) { return (draws_ ? c : c % 2) * modes; };
    const auto starts = hwy::AllocateAligned<Gauss>((draws_ ? cuts.size() : 2) * modes);
    if (!starts) throw std::bad_alloc();
    weight_.resize(n);
    for (std::size_t b = 0; b < modes; ++b) weight_[0][b].fill(after_standing[b]);
    likelihood_ = zero();
    start(starts[0]);
    Vd aside;
    (void)measure_all(starts[0], 0, aside);
    const auto enter = [&](std::size_t c) HWY_ATTR {
        pool_from_ = cuts[c];
        const std::size_t have = single_at(cuts[c]) ? 1 : modes;
        for (std::size_t m = 0; m < have; ++m) kept(cuts[c], m) = starts[start_of(c) + m];
    };
    for (std::size_t c = 0; c + 1 < cuts.size(); ++c) {
        enter(c);
        forward(cuts[c], cuts[c + 1], true);
        if (c + 2 < cuts.size())
            for (std::size_t m = 0; m < (single_at(cuts[c + 1]) ? 1 : modes); ++m) starts[start_of(c + 1) + m] = kept(cuts[c + 1], m);
    }
    Values likelihood;
    store(likelihood_, likelihood);
    for (std::size_t lane = 0; lane < out_.size(); ++lane) out_[lane].log_likelihood = likelihood[lane];
    if (!draws_) return;

    for (std::size_t lane = 0; lane < out_.size(); ++lane) {
        SwitchedPath& o = out_[lane];
        o.mode.assign(n, Mode::standing);
        o.speed_mps.assign(n, 0.0);
        o.altitude_m.assign(n, 0.0);
        o.u.assign(n, 0.0);
        o.head_wind_mps.assign(n, 0.0);
        if (!own_[lane]->air_across.empty()) o.across_wind_mps.assign(n, 0.0);
    }
    Gauss last = kept(n - 1, 0);
    for (std::size_t lane = 0; lane < L; ++lane) {
        double left = uniform_of(draws_->seed, draws_->ride, draws_->keys[std::min(lane, out_.size() - 1)], 1000 + n);
        std::size_t mode = 0;
        while (mode + 1 < modes && left >= weight_[n - 1][mode][lane]) left -= weight_[n - 1][mode++][lane];
        mode_[lane] = static_cast<double>(mode);
    }
    for (std::size_t a = 1; a < modes; ++a) {
        const auto is = hn::Eq(load(mode_), same(static_cast<double>(a)));
        BW_UNROLL
        for (int c = 0; c < N; ++c) last.x[c] = hn::IfThenElse(is, kept(n - 1, a).x[c], last.x[c]);
        BW_UNROLL
        for (int c = 0; c < cov_n; ++c) last.p[c] = hn::IfThenElse(is, kept(n - 1, a).p[c], last.p[c]);
    }
    draw(last, n - 1);
    Values speed, altitude;
    store(x_[V], speed);
    store(x_[Z], altitude);
    for (std::size_t lane = 0; lane < out_.size(); ++lane) {
        out_[lane].speed_mps[n - 1] = speed[lane];
        out_[lane].altitude_m[n - 1] = altitude[lane];
    }
    for (std::size_t c = cuts.size() - 1; c-- > 0;) {
        if (c + 2 < cuts.size()) {
            enter(c);
            forward(cuts[c], cuts[c + 1], false);
        }
        backward(cuts[c], cuts[c + 1]);
    }
}

HWY_ATTR void run(std::span<const Switching* const> ways, std::span<const Forces> own, const Draws* draws, std::span<SwitchedPath> out) { Filter(ways, own, draws, out).run(); }

}  // namespace

Kernel kernel() { return {hwy::TargetName(HWY_TARGET), L, &run}; }

}  // namespace HWY_NAMESPACE
}  // namespace bw::ride::internal::switching
HWY_AFTER_NAMESPACE();
#endif

#if HWY_ONCE
namespace bw::ride::internal::switching {

std::span<const Kernel> kernels() {
    static const std::vector<Kernel> known = [] {
        std::vector<Kernel> k;
        [[maybe_unused]] const auto have = hwy::SupportedTargets();
#define BW_KERNEL(TARGET, NAMESPACE) \
    if (have & TARGET) k.push_back(NAMESPACE::kernel());
#if HWY_TARGETS & HWY_AVX3
        BW_KERNEL(HWY_AVX3, N_AVX3)
#endif
#if HWY_TARGETS & HWY_AVX2
        BW_KERNEL(HWY_AVX2, N_AVX2)
#endif
#if HWY_TARGETS & HWY_NEON
        BW_KERNEL(HWY_NEON, N_NEON)
#endif
#if HWY_TARGETS & HWY_EMU128
        k.push_back(N_EMU128::kernel());
#endif
#if HWY_TARGETS & HWY_SCALAR
        k.push_back(N_SCALAR::kernel());
#endif
#undef BW_KERNEL
        return k;
    }();
    return known;
}

}  // namespace bw::ride::internal::switching
#endif
