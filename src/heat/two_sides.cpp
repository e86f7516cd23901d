// SPDX-License-Identifier: Apache-2.0
// Solver of a brake whose two sides differ: the whole rotor between two pads, one caliper.                 Layer: heat
// Theory: docs/models/heat.md [EQ heat-33].
//
// A chain from the rear of one plate through both pads and the rotor to the rear of the other plate, and seven bodies beside it
// (hub, arms, caliper, and piston and fluid of each side). Newton on all of it: the chain is eliminated, the bodies are dense.
// Written to be plain, not fast: it judges the engine.
#include <memory>

#include "stepping.hpp"

namespace bw::heat {

namespace {

using namespace stepping;

enum Body { HUB, ARMS, CALIPER, PISTON, FLUID, OTHER_PISTON, OTHER_FLUID, body_n };

// Perfect contact as a conductance: a jump of thousandths of a kelvin at the largest flows.
constexpr double perfect_W_m2K = 1e9;

struct Drive {
    bool closed = false;
    double exchange[2] = {};                 // pad face - rotor face of each side [W/K]
    double born_W = 0;                       // at each of the four faces
    double film[5] = {};                     // W/K: hub, arms, caliper, rotor faces of this and of the other side
    double drying[5] = {};                   // what evaporating water takes of each of them [W]
    double made_W() const { return 4 * born_W; }
};

struct Stage {
    std::vector<double> y;                   // chain, then bodies
    double loss_W = 0;
};

struct Step {
    double h = 0;
};

class TwoSides {
public:
    using State = BothSides;

    TwoSides(const ReferenceBrake& b, double tolerance, int refinement) : b_(b), other_(*b.other), local_(local_share * tolerance) {
        const auto layer = [&](const ReferenceBrake::Layer& l, const std::vector<double>& widths, bool from_rear) {
            std::vector<double> w = widths;
            if (from_rear) std::reverse(w.begin(), w.end());
            for (const double x : w) {
                add_cell(l.density_kg_m3 * l.heat_capacity_J_kgK * l.area_m2 * x, factor_of(l.heat_capacity_over_T, l.heat_capacity_J_kgK),
                         factor_of(l.conductivity_over_T, l.conductivity_W_mK), x / 2 / (l.conductivity_W_mK * l.area_m2), x / l.thickness_m);
            }
            return w.size();
        };
        const auto friction = [&](const ReferenceBrake::Layer& l) {
            return graded(l.thickness_m, l.conductivity_W_mK / (l.density_kg_m3 * l.heat_capacity_J_kgK), 0.2, 0.03, 1.05, refinement);
        };
        // Ten cells: with four a thick plate behind a thin sintered layer was 0.25 K off on hard stops.
        const auto plate = [&](const ReferenceBrake::Layer& l) { return std::vector<double>(static_cast<std::size_t>(10 * refinement), l.thickness_m / (10 * refinement)); };
        np_[0] = layer(b.plate, plate(b.plate), true);
        nf_[0] = layer(b.friction, friction(b.friction), true);
        pad_face_[0] = add_face();
        rotor_face_[0] = add_face();
        const auto& ro = b.rotor;
        const double rc = ro.density_kg_m3 * ro.heat_capacity_J_kgK;
        const std::vector<double> half = graded(ro.half_thickness_m, ro.conductivity_W_mK / rc, 0.05, 0.03, 1.07, refinement);
        nr_ = 2 * half.size();
        first_rotor_ = capacity_.size();
        const ReferenceBrake::Layer rotor{.area_m2 = ro.face_area_m2, .thickness_m = 2 * ro.half_thickness_m, .conductivity_W_mK = ro.conductivity_W_mK, .density_kg_m3 = ro.density_kg_m3,
                                          .heat_capacity_J_kgK = ro.heat_capacity_J_kgK, .conductivity_over_T = ro.conductivity_over_T, .heat_capacity_over_T = ro.heat_capacity_over_T};
        layer(rotor, half, false);
        layer(rotor, half, true);
        rotor_face_[1] = add_face();
        pad_face_[1] = add_face();
        nf_[1] = layer(other_.friction, friction(other_.friction), false);
        np_[1] = layer(other_.plate, plate(other_.plate), false);
        n_ = capacity_.size();
        link_.assign(n_ - 1, 0);
        for (std::size_t i = 0; i + 1 < n_; ++i) link_[i] = 1 / (resistance_[i] + resistance_[i + 1]);
        // Inside the rotor's halves: exact for the parabola about the mid-plane, as in the half brake [EQ heat-2].
        {
            const double kA = ro.conductivity_W_mK * ro.face_area_m2;
            std::vector<double> edge{0};
            for (std::size_t i = half.size(); i-- > 0;) edge.push_back(edge.back() + half[i]);
            const std::size_t middle = first_rotor_ + half.size();
            for (std::size_t i = 0; i < half.size(); ++i) {
                const double a = edge[i], e = edge[i + 1];
                const double g = i + 1 < half.size() ? kA * 6 * e / ((edge[i + 2] - a) * (a + e + edge[i + 2])) : kA * 6 * e / ((e - a) * (2 * e + a));
                link_[middle + i] = g;
                link_[middle - 2 - i] = g;
            }
            const double q0 = edge[1] * edge[1] / 3, q1 = (edge[1] * edge[1] + edge[1] * edge[2] + edge[2] * edge[2]) / 3;
            mid_0_ = q1 / (q1 - q0);
            mid_1_ = -q0 / (q1 - q0);
        }
        arms_link_.assign(n_, 0);
        for (std::size_t i = first_rotor_; i < first_rotor_ + nr_; ++i) arms_link_[i] = 2 * b.links_W_K.rotor_arms * share_[i];
        for (const double c : {2 * b.hub.heat_capacity_J_K, 2 * b.arms.heat_capacity_J_K, 2 * b.caliper.heat_capacity_J_K, b.piston_J_K, b.fluid_J_K, other_.piston_J_K, other_.fluid_J_K})
            capacity_.push_back(c);
        // Rear faces carry no heat: star of three links to triangle.
        const auto& l0 = b.links_W_K;
        const auto& l1 = other_.links_W_K;
        const auto rear = [&](int side, std::size_t cell, double to_piston, double to_caliper, double piston_caliper, double piston_fluid, double fluid_caliper) {
            const double half_cell = 1 / resistance_[cell], star = half_cell + to_piston + to_caliper;
            plate_piston_[side] = half_cell * to_piston / star;
            plate_caliper_[side] = half_cell * to_caliper / star;
            piston_caliper_[side] = piston_caliper + to_piston * to_caliper / star;
            piston_fluid_[side] = piston_fluid;
            fluid_caliper_[side] = fluid_caliper;
        };
        rear(0, 0, l0.plate_piston, l0.plate_caliper, l0.piston_caliper, l0.piston_fluid, l0.fluid_caliper);
        rear(1, n_ - 1, l1.plate_piston, l1.plate_caliper, l1.piston_caliper, l1.piston_fluid, l1.fluid_caliper);
        loss_area_[0] = ro.face_area_m2 - b.friction.area_m2 + ro.edge_area_m2;
        loss_area_[1] = ro.face_area_m2 - other_.friction.area_m2 + ro.edge_area_m2;
        losers_ = {{{n_ + HUB, b.hub.emissivity * stefan_boltzmann * 2 * b.hub.area_m2}, {n_ + ARMS, b.arms.emissivity * stefan_boltzmann * 2 * b.arms.area_m2},
                    {n_ + CALIPER, b.caliper.emissivity * stefan_boltzmann * 2 * b.caliper.area_m2}, {rotor_face_[0], ro.emissivity * stefan_boltzmann * loss_area_[0]},
                    {rotor_face_[1], ro.emissivity * stefan_boltzmann * loss_area_[1]}}};
        ambient4_ = std::pow(b.ambient_degC + kelvin, 4);
        varies_ = varies(b);
        all_ = n_ + body_n;
        for (Stage* s : {&start_, &inner_, &end_}) s->y.assign(all_, b.start_degC);
        f1_.assign(all_, 0);
        f2_ = f3_ = work_ = flow_ = diagonal_ = f1_;
        for (auto& c : column_) c.assign(n_, 0);
        off_.assign(n_ - 1, 0);
    }

    std::size_t unknowns() const { return all_; }

    Drive drive_of(const PowerRow& row) const {
        Drive d;
        const double power = row.power_W * b_.power_scale;
        d.closed = power > b_.closed_above_W;
        d.exchange[0] = b_.friction.area_m2 * (d.closed ? std::min(b_.contact_W_m2K, perfect_W_m2K) : b_.gap_W_m2K);
        d.exchange[1] = other_.friction.area_m2 * (d.closed ? std::min(other_.contact_W_m2K, perfect_W_m2K) : other_.gap_W_m2K);
        if (d.closed) d.born_W = power / 4;
        d.film[0] = b_.hub.convection.at(row.speed_mps) * 2 * b_.hub.area_m2;
        d.film[1] = b_.arms.convection.at(row.speed_mps) * 2 * b_.arms.area_m2;
        d.film[2] = b_.caliper.convection.at(row.speed_mps) * 2 * b_.caliper.area_m2;
        for (const int side : {0, 1}) d.film[3 + side] = b_.rotor.convection.at(row.speed_mps) * loss_area_[side], d.drying[3 + side] = row.drying_W;
        return d;
    }

    Step factors(double h) const { return {h}; }

    // Faces for the inputs that hold from here on, and the rates.
    void begin(const Drive& d) {
        double* y = start_.y.data();
        for (const int side : {0, 1}) {
            const std::size_t p = pad_face_[side], r = rotor_face_[side];
            const std::size_t pad = side == 0 ? p - 1 : p + 1, rotor = side == 0 ? r + 1 : r - 1;
            for (int it = 0; it < 100; ++it) {
                const double gr = link(std::min(r, rotor), y), gp = link(std::min(p, pad), y), e = d.exchange[side];
                const double slope = loss_slope(3 + side, d, y[r]);
                const double rr = d.born_W + gr * y[rotor] - loss(3 + side, d, y[r]) + slope * y[r], rp = d.born_W + gp * y[pad];
                const double a = gr + slope, det = a * gp + e * (a + gp);
                const double tr = ((gp + e) * rr + e * rp) / det, tp = ((a + e) * rp + e * rr) / det;
                const double change = std::max(std::abs(tr - y[r]), std::abs(tp - y[p]));
                y[r] = tr;
                y[p] = tp;
                if (change < 1e-9) break;
            }
        }
        flows(d, start_.y.data());
        start_.loss_W = losses(d, start_.y.data());
        for (std::size_t i = 0; i < all_; ++i) f1_[i] = capacity_[i] > 0 ? flow_[i] / capacity_[i] : 0;
    }

    std::optional<double> step(const Step& s, const Drive& d) {
        const double h = s.h, dh = gamma_d * h, wh = gamma_w * h;
        for (std::size_t i = 0; i < all_; ++i) work_[i] = taken_up(i, start_.y[i]) + dh * f1_[i];
        inner_.y = start_.y;
        if (!newton(d, dh, inner_)) return std::nullopt;
        for (std::size_t i = 0; i < all_; ++i) f2_[i] = capacity_[i] > 0 ? (taken_up(i, inner_.y[i]) - work_[i]) / dh : 0;
        for (std::size_t i = 0; i < all_; ++i) work_[i] = taken_up(i, start_.y[i]) + wh * (f1_[i] + f2_[i]);
        end_.y = inner_.y;
        if (!newton(d, dh, end_)) return std::nullopt;
        for (std::size_t i = 0; i < all_; ++i) f3_[i] = capacity_[i] > 0 ? (taken_up(i, end_.y[i]) - work_[i]) / dh : 0;
        // The estimate [EQ heat-8], passed once through the matrix of the last stage.
        for (std::size_t i = 0; i < all_; ++i) flow_[i] = capacity_[i] / dh * h * (error_1 * f1_[i] + error_2 * f2_[i] + error_3 * f3_[i]);
        if (!solve_linear()) return std::nullopt;
        double largest = 0, slow = 0, mean = 0;
        for (std::size_t i = 0; i < n_; ++i) largest = std::max(largest, std::abs(flow_[i]));
        for (std::size_t i = n_; i < all_; ++i) slow = std::max(slow, std::abs(flow_[i]));
        for (std::size_t i = first_rotor_; i < first_rotor_ + nr_; ++i) mean += share_[i] * flow_[i];
        slow = std::max(slow, std::abs(mean));
        // A thin pad that conducts well and its plate are a body too.
        for (const int side : {0, 1}) {
            double plate = 0;
            const std::size_t first = side == 0 ? 0 : n_ - np_[1];
            for (std::size_t i = first; i < first + np_[side]; ++i) plate += share_[i] * flow_[i];
            slow = std::max(slow, std::abs(plate));
        }
        return std::max(largest * std::min(1.0, std::sqrt(h / layer_s)), slow / slow_share) / local_;
    }

    void accept() {
        std::swap(start_, end_);
        std::swap(f1_, f3_);
    }

    State state(const Stage& s, double t_s) const {
        State out;
        const double* y = s.y.data();
        out.t_s = t_s;
        const std::size_t middle = first_rotor_ + nr_ / 2;
        out.rotor_mid_degC = (mid_0_ * (y[middle] + y[middle - 1]) + mid_1_ * (y[middle + 1] + y[middle - 2])) / 2;
        const auto mean = [&](std::size_t first, std::size_t count) {
            double sum = 0;
            for (std::size_t i = first; i < first + count; ++i) sum += share_[i] * y[i];
            return sum;
        };
        out.rotor_mean_degC = mean(first_rotor_, nr_);
        HeatState& one = out;
        OtherSideState& two = out;
        one.rotor_surface_degC = y[rotor_face_[0]];
        one.pad_face_degC = y[pad_face_[0]];
        one.plate_degC = mean(0, np_[0]);
        one.pad_mean_degC = mean(np_[0], nf_[0]);
        two.rotor_surface_degC = y[rotor_face_[1]];
        two.pad_face_degC = y[pad_face_[1]];
        two.pad_mean_degC = mean(pad_face_[1] + 1, nf_[1]);
        two.plate_degC = mean(n_ - np_[1], np_[1]);
        one.piston_degC = y[n_ + PISTON];
        one.fluid_degC = y[n_ + FLUID];
        two.piston_degC = y[n_ + OTHER_PISTON];
        two.fluid_degC = y[n_ + OTHER_FLUID];
        one.caliper_degC = y[n_ + CALIPER];
        one.arms_degC = y[n_ + ARMS];
        one.hub_degC = y[n_ + HUB];
        return out;
    }
    void put_faces(const Stage& s, State& out) const {
        static_cast<HeatState&>(out).rotor_surface_degC = s.y[rotor_face_[0]];
        static_cast<HeatState&>(out).pad_face_degC = s.y[pad_face_[0]];
        static_cast<OtherSideState&>(out).rotor_surface_degC = s.y[rotor_face_[1]];
        static_cast<OtherSideState&>(out).pad_face_degC = s.y[pad_face_[1]];
    }
    double pad_face_degC(const Stage& s) const { return s.y[pad_face_[0]]; }
    double other_pad_face_degC(const Stage& s) const { return s.y[pad_face_[1]]; }
    // Flow into this side's pad over half of the power.
    double share_of_pad(const Stage& s, const Drive& d) const {
        const std::size_t p = pad_face_[0];
        return link(p - 1, s.y.data()) * (s.y[p] - s.y[p - 1]) / (2 * d.born_W);
    }
    double stored_J() const {
        double sum = 0;
        for (std::size_t i = 0; i < all_; ++i) sum += capacity_[i] * (taken_up(i, start_.y[i]) - taken_up(i, b_.start_degC));
        return sum;
    }
    static double account_share() { return 0.5; }   // of the half brake

    Stage start_, inner_, end_;

private:
    void add_cell(double J_K, const Factor& c, const Factor& k, double half_resistance, double share) {
        capacity_.push_back(J_K);
        c_.push_back(c);
        k_.push_back(k);
        resistance_.push_back(half_resistance);
        share_.push_back(share);
    }
    std::size_t add_face() {
        add_cell(0, {}, {}, 0, 0);
        return capacity_.size() - 1;
    }
    double taken_up(std::size_t i, double degC) const { return varies_ && i < n_ ? c_[i].taken_up(degC) : degC; }
    bool across_contact(std::size_t i) const { return i == pad_face_[0] || i == rotor_face_[1]; }   // between i and i + 1
    double link(std::size_t i, const double* y) const {
        if (!varies_) return link_[i];
        const double mean = (y[i] + y[i + 1]) / 2;
        const Factor &a = k_[i], &b = k_[i + 1];
        if (a.table == b.table) return link_[i] * a.at(mean);
        if (resistance_[i] == 0) return link_[i] * b.at(mean);
        if (resistance_[i + 1] == 0) return link_[i] * a.at(mean);
        return 1 / (resistance_[i] / a.at(mean) + resistance_[i + 1] / b.at(mean));   // the joint of friction layer and plate
    }
    double loss(std::size_t k, const Drive& d, double degC) const {
        const double t2 = (degC + kelvin) * (degC + kelvin);
        return d.film[k] * (degC - b_.ambient_degC) + losers_[k].second * (t2 * t2 - ambient4_) + d.drying[k];
    }
    double loss_slope(std::size_t k, const Drive& d, double degC) const {
        const double t = degC + kelvin;
        return d.film[k] + 4 * losers_[k].second * t * t * t;
    }
    double losses(const Drive& d, const double* y) const {
        double sum = 0;
        for (std::size_t k = 0; k < losers_.size(); ++k) sum += loss(k, d, y[losers_[k].first]);
        return sum;
    }

    // Flows into every node [W], into flow_.
    void flows(const Drive& d, const double* y) {
        double* f = flow_.data();
        std::fill(flow_.begin(), flow_.end(), 0.0);
        const auto flow = [&](std::size_t i, std::size_t j, double g) {
            const double q = g * (y[j] - y[i]);
            f[i] += q;
            f[j] -= q;
        };
        for (std::size_t i = 0; i + 1 < n_; ++i) flow(i, i + 1, across_contact(i) ? d.exchange[i == pad_face_[0] ? 0 : 1] : link(i, y));
        for (std::size_t i = first_rotor_; i < first_rotor_ + nr_; ++i) flow(i, n_ + ARMS, arms_link_[i]);
        for (const int side : {0, 1}) {
            const std::size_t last = side == 0 ? 0 : n_ - 1, piston = n_ + (side == 0 ? PISTON : OTHER_PISTON), fluid = piston + 1;
            flow(last, piston, plate_piston_[side]);
            flow(last, n_ + CALIPER, plate_caliper_[side]);
            flow(piston, n_ + CALIPER, piston_caliper_[side]);
            flow(piston, fluid, piston_fluid_[side]);
            flow(fluid, n_ + CALIPER, fluid_caliper_[side]);
            f[pad_face_[side]] += d.born_W;
            f[rotor_face_[side]] += d.born_W;
        }
        flow(n_ + ARMS, n_ + HUB, 2 * b_.links_W_K.arms_hub);
        for (std::size_t k = 0; k < losers_.size(); ++k) f[losers_[k].first] -= loss(k, d, y[losers_[k].first]);
    }

    // The matrix of a stage at these temperatures: diagonal_, off_, dense_, and the chain's columns to the bodies.
    void assemble(const Drive& d, double dh, const double* y) {
        for (std::size_t i = 0; i < all_; ++i) {
            double c = capacity_[i];
            if (varies_ && i < n_ && c_[i].table) c *= c_[i].at(y[i]);
            diagonal_[i] = c / dh;
        }
        for (auto& row : dense_)
            for (double& x : row) x = 0;
        for (std::size_t i = 0; i + 1 < n_; ++i) {
            const double g = across_contact(i) ? d.exchange[i == pad_face_[0] ? 0 : 1] : link(i, y);
            off_[i] = -g;
            diagonal_[i] += g;
            diagonal_[i + 1] += g;
        }
        const auto bodies = [&](Body a, Body c, double g) {
            diagonal_[n_ + a] += g;
            diagonal_[n_ + c] += g;
            dense_[a][c] -= g;
            dense_[c][a] -= g;
        };
        for (std::size_t i = first_rotor_; i < first_rotor_ + nr_; ++i) {
            diagonal_[i] += arms_link_[i];
            diagonal_[n_ + ARMS] += arms_link_[i];
        }
        for (const int side : {0, 1}) {
            const std::size_t last = side == 0 ? 0 : n_ - 1;
            const Body piston = side == 0 ? PISTON : OTHER_PISTON, fluid = side == 0 ? FLUID : OTHER_FLUID;
            diagonal_[last] += plate_piston_[side] + plate_caliper_[side];
            diagonal_[n_ + piston] += plate_piston_[side];
            diagonal_[n_ + CALIPER] += plate_caliper_[side];
            bodies(piston, CALIPER, piston_caliper_[side]);
            bodies(piston, fluid, piston_fluid_[side]);
            bodies(fluid, CALIPER, fluid_caliper_[side]);
        }
        bodies(ARMS, HUB, 2 * b_.links_W_K.arms_hub);
        for (std::size_t k = 0; k < losers_.size(); ++k) diagonal_[losers_[k].first] += loss_slope(k, d, y[losers_[k].first]);
    }

    // flow_ := matrix⁻¹ flow_.
    bool solve_linear() {
        // Columns of the chain: the right-hand side, the arms, the two ends. The ends reach pistons and caliper.
        auto& [x, arms, low, high] = column_;
        for (std::size_t i = 0; i < n_; ++i) x[i] = flow_[i], arms[i] = arms_link_[i], low[i] = high[i] = 0;
        low[0] = 1;
        high[n_ - 1] = 1;
        std::vector<double>& pivot = pivot_;
        pivot.resize(n_);
        pivot[0] = diagonal_[0];
        for (std::size_t i = 1; i < n_; ++i) {
            const double m = off_[i - 1] / pivot[i - 1];
            pivot[i] = diagonal_[i] - m * off_[i - 1];
            for (auto* c : {&x, &arms, &low, &high}) (*c)[i] -= m * (*c)[i - 1];
        }
        for (auto* c : {&x, &arms, &low, &high}) {
            (*c)[n_ - 1] /= pivot[n_ - 1];
            for (std::size_t i = n_ - 1; i-- > 0;) (*c)[i] = ((*c)[i] - off_[i] * (*c)[i + 1]) / pivot[i];
        }
        // Each body's coupling to the chain as a combination of the three columns.
        double couple[body_n][3] = {};   // arms, low, high
        couple[ARMS][0] = 1;
        couple[PISTON][1] = plate_piston_[0];
        couple[OTHER_PISTON][2] = plate_piston_[1];
        couple[CALIPER][1] = plate_caliper_[0];
        couple[CALIPER][2] = plate_caliper_[1];
        const auto seen = [&](const std::vector<double>& c) {   // what the three couplings read of a column
            double a = 0;
            for (std::size_t i = first_rotor_; i < first_rotor_ + nr_; ++i) a += arms_link_[i] * c[i];
            return std::array<double, 3>{a, c[0], c[n_ - 1]};
        };
        const std::array<std::array<double, 3>, 3> read = {seen(arms), seen(low), seen(high)};
        const std::array<double, 3> of_x = seen(x);
        double m[body_n][body_n + 1];
        for (int i = 0; i < body_n; ++i) {
            for (int j = 0; j < body_n; ++j) {
                m[i][j] = dense_[i][j] + (i == j ? diagonal_[n_ + static_cast<std::size_t>(i)] : 0);
                for (std::size_t p = 0; p < 3; ++p)
                    for (std::size_t q = 0; q < 3; ++q) m[i][j] -= couple[i][p] * read[q][p] * couple[j][q];
            }
            m[i][body_n] = flow_[n_ + static_cast<std::size_t>(i)];
            for (std::size_t p = 0; p < 3; ++p) m[i][body_n] += couple[i][p] * of_x[p];
        }
        for (int k = 0; k < body_n; ++k)
            for (int i = k + 1; i < body_n; ++i) {
                const double f = m[i][k] / m[k][k];
                for (int j = k; j <= body_n; ++j) m[i][j] -= f * m[k][j];
            }
        for (int i = body_n; i-- > 0;) {
            double sum = m[i][body_n];
            for (int j = i + 1; j < body_n; ++j) sum -= m[i][j] * flow_[n_ + static_cast<std::size_t>(j)];
            flow_[n_ + static_cast<std::size_t>(i)] = sum / m[i][i];
        }
        std::array<double, 3> pull{};
        for (int j = 0; j < body_n; ++j)
            for (std::size_t q = 0; q < 3; ++q) pull[q] += couple[j][q] * flow_[n_ + static_cast<std::size_t>(j)];
        for (std::size_t i = 0; i < n_; ++i) flow_[i] = x[i] + pull[0] * arms[i] + pull[1] * low[i] + pull[2] * high[i];
        return std::isfinite(flow_[n_ + CALIPER]);
    }

    // capacity/dh (taken up - work_) = flows, for s.y.
    bool newton(const Drive& d, double dh, Stage& s) {
        for (int it = 0; it < 60; ++it) {
            flows(d, s.y.data());
            for (std::size_t i = 0; i < all_; ++i) flow_[i] -= capacity_[i] / dh * (taken_up(i, s.y[i]) - work_[i]);
            assemble(d, dh, s.y.data());
            if (!solve_linear()) return false;
            double change = 0;
            for (std::size_t i = 0; i < all_; ++i) {
                s.y[i] += flow_[i];
                change = std::max(change, std::abs(flow_[i]));
            }
            if (!(change < 1e6)) return false;
            // Quadratic but for conductivities, which are those of the last guess.
            if (change < (varies_ ? 1e-8 : 1e-4)) {
                s.loss_W = losses(d, s.y.data());
                return true;
            }
        }
        return false;
    }

    const ReferenceBrake& b_;
    const ReferenceBrake::OtherSide& other_;
    double local_, ambient4_ = 0;
    bool varies_ = false;
    std::size_t n_ = 0, all_ = 0, nr_ = 0, first_rotor_ = 0, np_[2] = {}, nf_[2] = {}, pad_face_[2] = {}, rotor_face_[2] = {};
    std::vector<double> capacity_, resistance_, share_, link_, arms_link_;   // resistance: of a half cell [K/W]
    std::vector<Factor> c_, k_;
    double plate_piston_[2] = {}, plate_caliper_[2] = {}, piston_caliper_[2] = {}, piston_fluid_[2] = {}, fluid_caliper_[2] = {}, loss_area_[2] = {};
    std::array<std::pair<std::size_t, double>, 5> losers_{};   // node, εσA
    double mid_0_ = 1, mid_1_ = 0;
    std::vector<double> f1_, f2_, f3_, work_, flow_, diagonal_, off_, pivot_;
    std::array<std::vector<double>, 4> column_;
    double dense_[body_n][body_n] = {};
};

}  // namespace

ReferenceBrake::OtherSide as_other_side(const ReferenceBrake& b) {
    const auto& l = b.links_W_K;
    return {.friction = b.friction, .plate = b.plate, .contact_W_m2K = b.contact_W_m2K, .gap_W_m2K = b.gap_W_m2K, .piston_J_K = b.piston_J_K, .fluid_J_K = b.fluid_J_K,
            .links_W_K = {l.plate_piston, l.plate_caliper, l.piston_fluid, l.piston_caliper, l.fluid_caliper}};
}

ReferenceBrake mirrored(const ReferenceBrake& brake) {
    const ReferenceBrake::OtherSide& o = *brake.other;
    ReferenceBrake b = brake;
    b.other = as_other_side(brake);
    b.friction = o.friction;
    b.plate = o.plate;
    b.contact_W_m2K = o.contact_W_m2K;
    b.gap_W_m2K = o.gap_W_m2K;
    b.piston_J_K = o.piston_J_K;
    b.fluid_J_K = o.fluid_J_K;
    ReferenceBrake::Links& l = b.links_W_K;
    l.plate_piston = o.links_W_K.plate_piston;
    l.plate_caliper = o.links_W_K.plate_caliper;
    l.piston_fluid = o.links_W_K.piston_fluid;
    l.piston_caliper = o.links_W_K.piston_caliper;
    l.fluid_caliper = o.links_W_K.fluid_caliper;
    return b;
}

HeatPeaks::Peak hotter(const HeatPeaks::Peak& a, const HeatPeaks::Peak& b) { return b.degC > a.degC ? b : a; }

Result<HeatRun> solve_two_sides(const ReferenceBrake& brake, std::span<const PowerRow> rows, const SolveOptions& options) {
    TwoSides solver(brake, options.tolerance_K, options.grid_refinement);
    return march(brake, solver, rows, options, solver.unknowns(), [&](const PowerRow& row) { return solver.drive_of(row); });
}

}  // namespace bw::heat
