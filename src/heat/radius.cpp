// SPDX-License-Identifier: Apache-2.0
// Rings of the rotor [EQ heat-30]: finite volumes along the radius, an L-stable step of order two a row.  Layer: heat
#include "heat/radius.hpp"

#include "band_modes.hpp"
#include "heat/engine.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <limits>
#include <numbers>
#include <numeric>

namespace bw::heat {

namespace {

constexpr std::size_t rings = 24;
constexpr double longest_row_s = 2, joined_s = 4;
constexpr double kelvin = 273.15;
constexpr double stefan_boltzmann = 5.670374419e-8;   // W/(m²K⁴), CODATA 2018

Result<RadialRun> resolve(const ReferenceBrake& brake, const RotorBand& band, std::span<const PowerRow> rows, std::span<const HeatState> states);

}  // namespace

RotorBand band_of(const parts::Bike& case_bike, parts::End end, const HeatUnknowns& u) {
    const parts::Wheel& w = case_bike.wheel(end);
    RotorBand b;
    b.outer_m = w.rotor.diameter_mm.value / 2000;
    b.inner_m = std::min(w.rotor.band_inner_mm.value / 2000, b.outer_m - 0.002);
    b.track_outer_m = b.outer_m - 0.0005;
    const double height = std::sqrt(w.pads.area_mm2.value * 1e-6 / 1.5);
    b.track_inner_m = std::clamp(b.track_outer_m - height, b.inner_m, b.track_outer_m - 0.001);
    const double idle = (1 - std::clamp(u.track_share, 0.3, 1.0)) * (b.track_outer_m - b.track_inner_m) / 2;
    b.track_inner_m += idle;
    b.track_outer_m -= idle;
    // Of a rotor with a core only the mean of steel and core is known to the network: no rise of its steel face can be told.
    if (w.rotor.material != parts::RotorMaterial::aluminium_core) {
        b.pad_length_m = 1.5 * height;
        b.wheel_radius_m = case_bike.wheel_radius_m.value;
    }
    return b;
}

Status check_band(const RotorBand& band) {
    if (band.inner_m > 0 && band.inner_m < band.outer_m && band.track_inner_m >= band.inner_m && band.track_inner_m < band.track_outer_m && band.track_outer_m <= band.outer_m)
        return Done{};
    return Error{Errc::bad_input, fmt::format("rotor: band {} to {} m, track {} to {} m: expected a track inside a band", band.inner_m, band.outer_m, band.track_inner_m,
                                              band.track_outer_m)};
}

Result<RadialRun> along_radius(const ReferenceBrake& brake, const RotorBand& band, std::span<const PowerRow> rows, std::span<const HeatState> states) {
    if (Status s = check_rows(rows); !s) return s.error();
    if (states.size() != rows.size())
        return Error{Errc::bad_input, fmt::format("along_radius: {} states for {} rows: expected a run that kept its rows", states.size(), rows.size())};
    if (Status s = check_band(band); !s) return s.error();
    double longest = 0;
    for (std::size_t i = 1; i < rows.size(); ++i) longest = std::max(longest, rows[i].t_s - rows[i - 1].t_s);
    if (longest > longest_row_s) {
        const double piece = std::max(1.0, (rows.back().t_s - rows.front().t_s) / 1e5);   // of a run of days: longer ones
        std::vector<PowerRow> cut;
        for (std::size_t i = 0; i + 1 < rows.size(); ++i) {
            const double length = rows[i + 1].t_s - rows[i].t_s, n = std::ceil(length / piece - 1e-9);
            for (double k = 0; k < n; ++k) cut.push_back({.t_s = rows[i].t_s + k * length / n, .speed_mps = rows[i].speed_mps, .power_W = rows[i].power_W, .drying_W = rows[i].drying_W});
        }
        cut.push_back(rows.back());
        Result<ManyRuns> run = solve_many({}, std::span(&brake, 1), cut, {.precision = Precision::double_precision, .keep = Keep::rows});
        if (!run) return run.error();
        Result<RadialRun> fine = resolve(brake, band, cut, run->cases.front().rows);
        if (!fine) return fine.error();
        std::vector<double> kept(rows.size());   // the cut rows end where the given ones do
        for (std::size_t i = 0, k = 0; i < rows.size(); ++i) {
            while (cut[k].t_s < rows[i].t_s) ++k;
            kept[i] = fine->ring_rows_degC[k];
        }
        fine->ring_rows_degC = std::move(kept);
        return fine;
    }
    return resolve(brake, band, rows, states);
}

namespace {

Result<RadialRun> resolve(const ReferenceBrake& brake, const RotorBand& band, std::span<const PowerRow> rows, std::span<const HeatState> states) {
    using std::numbers::pi;
    const auto& ro = brake.rotor;
    const double half = ro.half_thickness_m, width = (band.outer_m - band.inner_m) / rings;
    const double annulus = pi * (band.outer_m * band.outer_m - band.inner_m * band.inner_m);
    const double solid = ro.face_area_m2 / annulus;      // holes: less mass, less section
    const double rim = std::min(2 * pi * band.outer_m * half, ro.edge_area_m2);
    std::vector<double> middle(rings), face(rings), capacity(rings), share(rings), loss_area(rings), link(rings, 0);
    double track_length = 0;
    for (std::size_t i = 0; i < rings; ++i) {
        const double a = band.inner_m + width * static_cast<double>(i), b = a + width;
        middle[i] = (a + b) / 2;
        face[i] = solid * pi * (b * b - a * a);
        capacity[i] = ro.density_kg_m3 * ro.heat_capacity_J_kgK * half * face[i];
        // A pad of even pressure and even length: more speed and a longer way round cancel, so W per m² of ring is even.
        const double inside = std::max(0.0, std::min(b, band.track_outer_m) - std::max(a, band.track_inner_m));
        share[i] = inside * middle[i];
        track_length += share[i];
        if (i + 1 < rings) link[i] = solid * ro.conductivity_W_mK * half * 2 * pi * b / width;
    }
    for (double& s : share) s /= track_length;
    for (std::size_t i = 0; i < rings; ++i)
        loss_area[i] = std::max(0.0, face[i] - brake.friction.area_m2 * share[i] + (ro.edge_area_m2 - rim) * face[i] / ro.face_area_m2);
    loss_area[rings - 1] += rim;

    const double whole = ro.density_kg_m3 * ro.heat_capacity_J_kgK * half * ro.face_area_m2;
    const double all_loss_area = std::accumulate(loss_area.begin(), loss_area.end(), 0.0);
    const double area = ro.face_area_m2 - brake.friction.area_m2 + ro.edge_area_m2, to_face = half / (3 * ro.conductivity_W_mK * ro.face_area_m2);
    const double ambient = brake.ambient_degC, ambient4 = std::pow(ambient + kelvin, 4);
    const auto loss = [&](double h, double a, double degC) {
        const double t2 = (degC + kelvin) * (degC + kelvin);
        return a * (h * (degC - ambient) + ro.emissivity * stefan_boltzmann * (t2 * t2 - ambient4));
    };
    const auto loss_slope = [&](double h, double a, double degC) {
        const double t1 = degC + kelvin;
        return a * (h + 4 * ro.emissivity * stefan_boltzmann * t1 * t1 * t1);
    };

    RadialRun out;
    out.radius_m = middle;
    std::vector<double> t(rings, states.front().rotor_mean_degC), diagonal(rings), rhs(rings), rate1(rings), stage(rings), surface(rings);
    out.profile_degC = t;
    out.hottest_ring_degC = t.front();
    out.hottest_at_s = rows.front().t_s;
    out.hottest_radius_m = middle.front();
    out.ring_rows_degC.assign(rows.size(), std::numeric_limits<double>::quiet_NaN());
    // Properties over temperature: capacities and links of the rings are those of the moment, held over a step [EQ heat-30].
    const bool over_T = ro.heat_capacity_over_T.varies() || ro.conductivity_over_T.varies();
    const std::vector<double> capacity_0 = capacity, link_0 = link;
    const auto capacity_at = [&](double degC) { return ro.heat_capacity_over_T.varies() ? ro.heat_capacity_over_T.at(degC) / ro.heat_capacity_J_kgK : 1.0; };
    const auto conductivity_at = [&](double degC) { return ro.conductivity_over_T.varies() ? ro.conductivity_over_T.at(degC) / ro.conductivity_W_mK : 1.0; };
    const double gamma = 1 - std::sqrt(0.5);   // SDIRK of order 2, both stages alike (Alexander 1977)
    // The arms hang on the inner edge, which is cooler than the mean that the run gave them: they get a temperature of their own here,
    // and lose in proportion to it what they lost in the run.
    const double to_arms = brake.links_W_K.rotor_arms;
    double arms = states.front().arms_degC;
    // One stage: C x = C base + γh F(x), the losses linear about `about`, the arms held.
    const auto solve_stage = [&](double gh, double h, double in_W, double drying_W_m2, const std::vector<double>& base, const std::vector<double>& about) {
        for (std::size_t i = 0; i < rings; ++i) {
            const double dried_W = drying_W_m2 * loss_area[i];
            // A ring loses by its surface: its mean and its own parabola.
            const double bend = half / (3 * ro.conductivity_W_mK * (over_T ? conductivity_at(about[i]) : 1.0) * face[i]), face_degC = about[i] + bend * (in_W * share[i] - loss(h, loss_area[i], about[i]) - dried_W);
            const double slope = loss_slope(h, loss_area[i], face_degC);
            diagonal[i] = capacity[i] / gh + slope + (i > 0 ? link[i - 1] : to_arms) + link[i];
            rhs[i] = capacity[i] / gh * base[i] + in_W * share[i] - loss(h, loss_area[i], face_degC) - dried_W + slope * about[i] + (i == 0 ? to_arms * arms : 0);
        }
        for (std::size_t i = 1; i < rings; ++i) {
            const double m = link[i - 1] / diagonal[i - 1];
            diagonal[i] -= m * link[i - 1];
            rhs[i] += m * rhs[i - 1];
        }
        stage[rings - 1] = rhs[rings - 1] / diagonal[rings - 1];
        for (std::size_t i = rings - 1; i-- > 0;) stage[i] = (rhs[i] + link[i] * stage[i + 1]) / diagonal[i];
    };
    std::vector<double> base(rings);
    const auto open = [&](std::size_t k) { return rows[k].power_W * brake.power_scale <= brake.closed_above_W; };
    for (std::size_t k = 0, next = 0; k + 1 < rows.size(); k = next) {
        next = k + 1;
        if (open(k))   // while off little happens: rows are joined
            while (next + 1 < rows.size() && open(next) && rows[next + 1].t_s - rows[k].t_s <= joined_s) ++next;
        const double length = rows[next].t_s - rows[k].t_s;
        double h = 0, drying_W = 0;
        for (std::size_t r = k; r < next; ++r) {
            const double part = (rows[r + 1].t_s - rows[r].t_s) / length;
            h += ro.convection.at(rows[r].speed_mps) * part, drying_W += rows[r].drying_W * part;
        }
        const double drying_W_m2 = drying_W / all_loss_area;   // water lies on all that loses heat, not only where the pad runs [EQ heat-39]
        const HeatState &a = states[k], &b = states[next];
        const double rise = b.rotor_mean_degC - a.rotor_mean_degC, mean = (a.rotor_mean_degC + b.rotor_mean_degC) / 2;
        const double arms_mean = (a.arms_degC + b.arms_degC) / 2, arms_W = to_arms * (mean - arms_mean);
        const double arms_lost_W = arms_W - brake.arms.heat_capacity_J_K * (b.arms_degC - a.arms_degC) / length;
        // What came in at the face: rise, losses and the flow to the arms of the run.
        const double taken_J = whole * (ro.heat_capacity_over_T.varies() ? ro.heat_capacity_over_T.integral(a.rotor_mean_degC, b.rotor_mean_degC) / ro.heat_capacity_J_kgK : rise);
        const double in_W = taken_J / length + loss(h, area, mean + to_face / conductivity_at(mean) * taken_J / length) + drying_W + arms_W;
        const auto pieces = static_cast<std::size_t>(std::clamp(std::ceil(length / (open(k) ? joined_s : 1.0)), 1.0, 1e6));
        const double dt = length / static_cast<double>(pieces);
        for (std::size_t p = 0; p < pieces; ++p) {
            const double inner = t.front();
            if (over_T)
                for (std::size_t i = 0; i < rings; ++i) {
                    capacity[i] = capacity_0[i] * capacity_at(t[i]);
                    if (i + 1 < rings) link[i] = link_0[i] * conductivity_at((t[i] + t[i + 1]) / 2);
                }
            solve_stage(gamma * dt, h, in_W, drying_W_m2, t, t);
            for (std::size_t i = 0; i < rings; ++i) {
                rate1[i] = (stage[i] - t[i]) / (gamma * dt);
                base[i] = t[i] + (1 - gamma) * dt * rate1[i];
            }
            const std::vector<double> about = stage;
            solve_stage(gamma * dt, h, in_W, drying_W_m2, base, about);
            t = stage;
            const double warm = std::abs(arms_mean - ambient) > 1 ? (arms - ambient) / (arms_mean - ambient) : 1;
            arms += dt / brake.arms.heat_capacity_J_K * (to_arms * ((inner + t.front()) / 2 - arms) - arms_lost_W * warm);
        }
        double least = 1e300, most = -1e300;
        std::size_t at = 0;
        for (std::size_t i = 0; i < rings; ++i) {
            // The parabola through the thickness of this ring: its own flow through the face.
            const double flow = in_W * share[i] - loss(h, loss_area[i], t[i]) - drying_W_m2 * loss_area[i];
            surface[i] = t[i] + flow * half / (3 * ro.conductivity_W_mK * (over_T ? conductivity_at(t[i]) : 1.0) * face[i]);
            least = std::min(least, surface[i]);
            if (surface[i] > most) most = surface[i], at = i;
        }
        out.largest_spread_K = std::max(out.largest_spread_K, most - least);
        if (!open(k)) out.ring_rows_degC[next] = most;
        if (most > out.hottest_ring_degC) {
            out.hottest_ring_degC = most;
            out.hottest_at_s = rows[next].t_s;
            out.hottest_radius_m = middle[at];
            out.profile_degC = surface;
        }
    }
    return out;
}

}  // namespace

}  // namespace bw::heat
