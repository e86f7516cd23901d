// SPDX-License-Identifier: Apache-2.0
// Planned rides: what a way without times asks of the brakes, once for each likely case.                   Layer: ride
// Theory: docs/models/planned.md [EQ planned-1..7].
#include "ride/plan.hpp"

#include <algorithm>
#include <array>
#include <cassert>
#include <cmath>
#include <fmt/format.h>
#include <numeric>
#include <tuple>

#include "base/sampling.hpp"
#include "motion_filter.hpp"
#include "motion_parts.hpp"
#include "ride/describe.hpp"

namespace bw::ride {
namespace {

constexpr double g_mps2 = 9.80665;
constexpr double wanted_step_m = 5;
constexpr double earth_m_deg = 111195;           // mean metres in a degree of latitude: only for the shape of bends
constexpr double walking_mps = 1.2;              // uphill the rider finds the power for this, if need be on foot
constexpr double most_braking_mps2 = 4.5;        // at the tyres with the slope: short of the rear lift near 0.56 g
constexpr double assist_ends_mps = 25 / 3.6;

double sq(double x) { return x * x; }

//! Altitude along the way: height, gradient and an error that fades along the road.
struct HeightModel {
    std::size_t n = 0;
    double step_m = 0, error_sd_m = 1, error_length_m = 40, q = 2.5e-5, variance = 0.05;
    struct Row {
        double offset_m, y;
    };
    const std::vector<Row>* rows;
    const std::vector<std::size_t>* first;   // [n + 1]
    std::size_t size() const { return n; }
    void start(internal::Vec<3>& m, internal::Mat<3>& P) const {
        m.setZero();
        m(0) = rows->front().y;
        P.setZero();
        P(0, 0) = sq(error_sd_m) + 400;
        P(1, 1) = sq(0.15);
        P(2, 2) = sq(error_sd_m);
    }
    void step(std::size_t, internal::Mat<3>& F, internal::Mat<3>& Q) const {
        const double phi = std::exp(-step_m / error_length_m);
        F.setIdentity();
        F(0, 1) = step_m;
        F(2, 2) = phi;
        Q.setZero();
        Q(0, 0) = 1e-7;
        Q(1, 1) = q * step_m;
        Q(2, 2) = sq(error_sd_m) * (1 - phi * phi);
    }
    int readings(std::size_t i, internal::Reading<3>* out) const {
        int count = 0;
        for (std::size_t r = (*first)[i]; r < (*first)[i + 1] && count < 8; ++r, ++count) {
            out[count].h.setZero();
            out[count].h(0) = 1;
            out[count].h(1) = (*rows)[r].offset_m;
            out[count].h(2) = 1;
            out[count].y = (*rows)[r].y;
            out[count].variance = variance;
        }
        return count;
    }
};

//! Smoothed heights at n nodes, step_m apart on the map; what the file's own roughness says of its error.   [EQ planned-1]
void put_heights(const Route& route, double step_m, Profile& out) {
    const std::size_t n = out.altitude_m.size();
    std::vector<HeightModel::Row> rows;
    std::vector<std::size_t> first(n + 1, 0);
    std::vector<double> seen;
    for (std::size_t k = 0; k < route.size(); ++k) {
        if (!std::isfinite(route.altitude_m[k])) continue;
        const std::size_t node = std::min(n - 1, static_cast<std::size_t>(std::floor(route.distance_m[k] / step_m + 0.5)));
        rows.push_back({route.distance_m[k] - step_m * static_cast<double>(node), route.altitude_m[k]});
        seen.push_back(route.altitude_m[k]);
        ++first[node + 1];
    }
    for (std::size_t i = 0; i < n; ++i) first[i + 1] += first[i];
    HeightModel model;
    model.n = n;
    model.step_m = step_m;
    model.rows = &rows;
    model.first = &first;
    model.variance = sq(internal::resolution_of(seen)) / 12 + 0.02;
    constexpr double gate = 25;
    // Errors of terrain models and what their nodes do to a road; q: how fast roads change their slope.
    constexpr std::array<std::pair<double, double>, 5> errors = {{{0.1, 30}, {0.8, 30}, {2, 40}, {4, 60}, {8, 90}}};
    double best = -1e300;
    HeightModel kept = model;
    for (const auto& [sd, length] : errors)
        for (const double q : {8e-6, 2.5e-5, 8e-5}) {
            model.error_sd_m = sd;
            model.error_length_m = length;
            model.q = q;
            const double l = internal::filter<3>(model, gate, nullptr);
            if (l > best) {
                best = l;
                kept = model;
            }
        }
    const internal::Smoothed<3> s = internal::smooth<3>(kept, gate);
    out.altitude_error_m = kept.error_sd_m;
    for (std::size_t i = 0; i < n; ++i) out.altitude_m[i] = s.mean[i](0);
}

//! Turn per metre at n nodes: each corner of the drawn line spread over a bell as long as its data are sparse.   [EQ planned-2]
void put_bends(const Route& route, double step_m, Profile& out) {
    struct Point {
        double s, x, y;
    };
    std::vector<Point> line;
    double lat0 = 0, lon0 = 0;   // of the first point that has a position
    for (std::size_t k = 0; k < route.size(); ++k) {
        if (!std::isfinite(route.latitude_deg[k]) || !std::isfinite(route.longitude_deg[k])) continue;
        if (line.empty()) {
            lat0 = route.latitude_deg[k];
            lon0 = route.longitude_deg[k];
        }
        const double turn = std::remainder(route.longitude_deg[k] - lon0, 360.0);
        const Point p{route.distance_m[k], turn * earth_m_deg * std::cos(lat0 * 3.14159265358979323846 / 180), (route.latitude_deg[k] - lat0) * earth_m_deg};
        // Points nearer than the step say more of their own rounding than of the road.
        if (!line.empty() && p.s - line.back().s < 4.5 && k + 1 < route.size()) continue;
        line.push_back(p);
    }
    const std::size_t n = out.size();
    for (std::size_t k = 1; k + 1 < line.size(); ++k) {
        const double before = std::hypot(line[k].x - line[k - 1].x, line[k].y - line[k - 1].y);
        const double after = std::hypot(line[k + 1].x - line[k].x, line[k + 1].y - line[k].y);
        if (before < 0.5 || after < 0.5) continue;
        const double angle = std::remainder(std::atan2(line[k + 1].y - line[k].y, line[k + 1].x - line[k].x) -
                                                std::atan2(line[k].y - line[k - 1].y, line[k].x - line[k - 1].x),
                                            2 * 3.14159265358979323846);
        // A sharp corner is one, however sparse the line; a small angle between far points is a long bend.
        const double spread = std::abs(angle) > 0.8 ? 6.0 : std::clamp(0.5 * 0.5 * (before + after), 6.0, 60.0);
        const auto reach = static_cast<long>(std::ceil(3.5 * spread / step_m));
        const long middle = std::lround(line[k].s / step_m);
        double sum = 0;
        for (long i = -reach; i <= reach; ++i) sum += std::exp(-0.5 * sq((static_cast<double>(middle + i) * step_m - line[k].s) / spread));
        for (long i = std::max(-reach, -middle); i <= reach && middle + i < static_cast<long>(n); ++i)
            out.curvature_1pm[static_cast<std::size_t>(middle + i)] +=
                angle / step_m * std::exp(-0.5 * sq((static_cast<double>(middle + i) * step_m - line[k].s) / spread)) / sum;
    }
}

//! Direction of each cell: that of the line between the positions before and after its middle.
void put_directions(const Route& route, double step_m, Profile& out) {
    std::vector<std::size_t> at;
    for (std::size_t k = 0; k < route.size(); ++k) {
        if (!std::isfinite(route.latitude_deg[k]) || !std::isfinite(route.longitude_deg[k])) continue;
        // Nearer than the step a position says more of its own rounding than of the road.
        if (at.size() > 1 && route.distance_m[k] - route.distance_m[at.back()] < 4.5) continue;
        at.push_back(k);
    }
    const std::size_t cells = out.size() - 1;
    double east = 0, north = 0;   // none yet: a start told twice leads nowhere
    std::size_t to = 1, led = cells;
    for (std::size_t i = 0; i < cells; ++i) {
        while (to + 1 < at.size() && route.distance_m[at[to]] < (static_cast<double>(i) + 0.5) * step_m) ++to;
        const std::size_t p = at[to - 1], q = at[to];
        const double x = std::remainder(route.longitude_deg[q] - route.longitude_deg[p], 360.0) * std::cos(0.5 * (route.latitude_deg[p] + route.latitude_deg[q]) * 3.14159265358979323846 / 180);
        const double y = route.latitude_deg[q] - route.latitude_deg[p], size = std::hypot(x, y);
        if (size > 0) {
            east = x / size;
            north = y / size;
            if (led == cells) {
                led = i;
                std::fill(out.east.begin(), out.east.end(), east);
                std::fill(out.north.begin(), out.north.end(), north);
            }
        }
        out.east.push_back(east);
        out.north.push_back(north);
    }
}

//! One path on the nodes: speed at them, and what each cell asks of legs and brakes.
struct Ridden {
    std::vector<double> v_mps;                        // [n]
    std::vector<double> stay_s;                       // [n] standing at a node
    std::vector<double> brake_J, rider_J, air_J, rolling_J;   // [n - 1]
};

double sine_of(double gradient) { return gradient / std::sqrt(1 + gradient * gradient); }

Ridden ride_of(const Profile& road, const std::vector<double>& density, Style style, const MotionParameters& p, const PlanHabits& h, std::uint64_t seed,
               std::uint64_t route, std::uint64_t key) {
    const std::size_t n = road.size();
    const double ds = road.step_m, me = p.mass_kg + p.rotating_kg;
    // [EQ motion-17]
    const auto air_of = [&](std::size_t i, double v) {
        return air_drag_N(p, density[i], v, p.wind_from && !road.east.empty() ? blow_of(*p.wind_from, road.east[i], road.north[i]) : Blow{});
    };
    Ridden r;
    r.v_mps.assign(n, 0.0);
    r.stay_s.assign(n, 0.0);
    r.brake_J.assign(n - 1, 0.0);
    r.rider_J = r.air_J = r.rolling_J = r.brake_J;

    // [EQ planned-3] ceilings: top speed, bends, halts. Halts fall evenly over the way, at places of the case's own.
    const double held = (1 - h.swing) * h.top_mps, low = (1 - 2 * h.swing) * h.top_mps;
    std::vector<double> ceiling(n, style == Style::dragging ? held : h.top_mps);
    for (std::size_t i = 0; i < n; ++i) {
        const double k = std::abs(road.curvature_1pm[i]);
        if (k > 0) ceiling[i] = std::min(ceiling[i], std::max(walking_mps, std::sqrt(h.lateral_mps2 / k)));
    }
    const double wanted = h.stops_per_km * ds * static_cast<double>(n - 1) / 1000;
    const auto halts = static_cast<std::size_t>(std::floor(wanted + uniform_of(seed, route, key, 910)));
    for (std::size_t k = 0; k < halts; ++k) {
        const double share = (static_cast<double>(k) + uniform_of(seed, route, mix(key, k, 1, 0), 911)) / static_cast<double>(halts);
        const auto at = static_cast<std::size_t>(share * static_cast<double>(n));
        bool free = at > 8 && at + 8 < n;
        for (std::size_t j = free ? at - 3 : 0; free && j <= at + 3; ++j) free = ceiling[j] > 0;
        if (!free) continue;
        ceiling[at] = 0;
        r.stay_s[at] = h.halt_s;
    }
    ceiling[n - 1] = 0;

    // [EQ planned-4] backward: what speed leaves room to lose it in. Uphill the slope helps; a steep descent leaves less grip for it.
    std::vector<double> most = ceiling, soft(n);
    soft[n - 1] = 0;
    for (std::size_t i = n - 1; i-- > 0;) {
        const double known = (air_of(i, most[i + 1]) + rolling_drag_N(p, road.gradient[i]) + slope_force_N(p, road.gradient[i])) / me;
        const double room = std::max(0.2, most_braking_mps2 + g_mps2 * std::min(0.0, sine_of(road.gradient[i])));
        most[i] = std::min(ceiling[i], std::sqrt(sq(most[i + 1]) + 2 * ds * std::max(std::min(h.braking_mps2, room), known)));
        soft[i] = std::min(std::min(ceiling[i], held), std::sqrt(sq(soft[i + 1]) + 2 * ds * std::max(h.coast_mps2, known)));
    }

    // [EQ planned-5] forward: legs and slope, then the style.
    bool pulling = false;
    for (std::size_t i = 0; i + 1 < n; ++i) {
        const double v = r.v_mps[i], gradient = road.gradient[i];
        const double rolling_N = rolling_drag_N(p, gradient), slope_N = slope_force_N(p, gradient);
        // More on a climb, none where it falls by 3 %; the legs rest ahead of braking and above the speed that is held.
        double legs_W = h.pedal_W * (gradient > 0 ? 1 + 2.0 / 3 * std::min(1.0, gradient / 0.05) : std::max(0.0, 1 + gradient / 0.03));
        legs_W *= std::clamp(8 * (1 - v / std::max(soft[i], 0.1)), 0.0, 1.0);
        double motor_W = legs_W > 0 ? h.motor_W * std::clamp((assist_ends_mps - v) / 0.6, 0.0, 1.0) : 0.0;
        const double push_N = std::min((legs_W + motor_W) / std::max(v, 1.5), 0.3 * p.mass_kg * g_mps2);
        // The air of the cell is that of its mean speed; the iteration shrinks its error about twentyfold each time.
        double next = v;
        for (int k = 0; k < 10; ++k)
            next = std::sqrt(std::max(0.0, v * v + 2 * ds * (push_N - air_of(i, 0.5 * (v + next)) - rolling_N - slope_N) / me));
        if (next < walking_mps) next = walking_mps;   // whatever it takes
        bool held_back = false;
        if (pulling) {
            const bool approach = most[i + 1] < 0.999 * most[i];
            const double goal = most[i + 1] >= 0.999 * h.top_mps ? low : (1 - 0.5 * h.swing) * most[i + 1];
            const double room = std::max(0.2, most_braking_mps2 + g_mps2 * std::min(0.0, sine_of(gradient)));
            const double slowed = std::sqrt(std::max(0.0, v * v - 2 * ds * std::min(h.braking_mps2, room)));
            if (!approach) {
                if (next <= goal) pulling = false;
                else {
                    held_back = std::max(slowed, goal) < next;
                    next = std::min(next, std::max(slowed, goal));
                    if (next <= goal) pulling = false;
                }
            }
        }
        if (next > most[i + 1]) {
            next = most[i + 1];
            held_back = true;
            pulling = style == Style::short_hard;
        }
        r.v_mps[i + 1] = next;

        // [EQ planned-6] the account of the cell: what the forces leave over is legs if it pushes, brakes if it holds.
        const double mean = 0.5 * (v + next);
        const double air_N = air_of(i, mean);
        const double left_N = me * (next * next - v * v) / (2 * ds) + air_N + rolling_N + slope_N;
        r.air_J[i] = air_N * ds;
        r.rolling_J[i] = rolling_N * ds;
        if (held_back && left_N < 0) r.brake_J[i] = -left_N * ds;
        else r.rider_J[i] = left_N * ds;
    }
    return r;
}

//! Onto the grid of 1 s.   [EQ planned-7]
MotionPath path_of(const Profile& road, const Ridden& r, const MotionParameters& p) {
    MotionPath out;
    out.parameters = p;
    const std::size_t n = road.size();
    const double ds = road.step_m, me = p.mass_kg + p.rotating_kg;
    double total_s = 0;
    for (std::size_t i = 0; i + 1 < n; ++i) total_s += r.stay_s[i] + 2 * ds / (r.v_mps[i] + r.v_mps[i + 1]);
    out.own.duration_s = total_s;
    const auto cells = static_cast<std::size_t>(std::ceil(total_s)) + 1;
    OwnMotion& own = out.own;
    for (auto* x : {&own.distance_m, &own.altitude_m, &own.speed_mps, &own.acceleration_mps2, &own.gradient}) x->assign(cells, 0.0);
    const bool blown = p.wind_from && !road.east.empty();
    if (blown)
        for (auto* x : {&own.way_east, &own.way_north}) x->assign(cells, 0.0);
    out.brake_power_W.assign(cells, 0.0);
    out.braking.assign(cells, 0);
    double t = 0;
    std::size_t mark = 0;   // next second to be written
    const auto write = [&](std::size_t i, double s_in, double v) {
        own.distance_m[mark] = ds * static_cast<double>(i) + s_in;
        own.altitude_m[mark] = i + 1 < n ? road.altitude_m[i] + (road.altitude_m[i + 1] - road.altitude_m[i]) * s_in / ds : road.altitude_m[n - 1];
        own.speed_mps[mark] = v;
        own.gradient[mark] = road.gradient[std::min(i, n - 2)];
        if (blown) {
            own.way_east[mark] = road.east[std::min(i, n - 2)];
            own.way_north[mark] = road.north[std::min(i, n - 2)];
        }
        ++mark;
    };
    for (std::size_t i = 0; i + 1 < n; ++i) {
        const double v0 = r.v_mps[i], v1 = r.v_mps[i + 1];
        while (static_cast<double>(mark) < t + r.stay_s[i]) write(i, 0, 0);
        t += r.stay_s[i];
        const double dt = 2 * ds / (v0 + v1), a = (v1 - v0) / dt;
        while (mark < cells && static_cast<double>(mark) < t + dt) {
            const double in = static_cast<double>(mark) - t;
            write(i, v0 * in + 0.5 * a * in * in, v0 + a * in);
        }
        if (r.brake_J[i] > 0)   // in proportion to the way: the force is even over the cell
            for (double from = t; from < t + dt;) {
                const double to = std::min(t + dt, std::floor(from) + 1);
                const double x0 = from - t, x1 = to - t;
                const double way = v0 * (x1 - x0) + 0.5 * a * (x1 * x1 - x0 * x0);
                const auto second = std::min(cells - 1, static_cast<std::size_t>(from));
                out.brake_power_W[second] += r.brake_J[i] * way / ds;
                out.braking[second] = 1;
                from = to;
            }
        t += dt;
        out.height_J -= p.mass_kg * g_mps2 * (road.altitude_m[i + 1] - road.altitude_m[i]);
        out.motion_J += 0.5 * me * (v0 * v0 - v1 * v1);
        out.air_J += r.air_J[i];
        out.rolling_J += r.rolling_J[i];
        out.rider_J += r.rider_J[i];
        out.brakes_J += r.brake_J[i];
    }
    while (mark < cells) write(n - 1, 0, 0);
    for (std::size_t i = 0; i + 1 < cells; ++i) own.acceleration_mps2[i] = own.speed_mps[i + 1] - own.speed_mps[i];
    return out;
}

}  // namespace

std::string_view word_of(Style style) { return style == Style::dragging ? "dragging" : "short_hard"; }

Result<Profile> profile_of(const Route& route) {
    const std::size_t k = route.size();
    if (k < 2 || !(route.distance_m.back() - route.distance_m.front() >= 20))
        return Error{Errc::bad_input, fmt::format("{}: this way is {:.0f} m long; a planned ride needs at least 20 m", route.file, k < 2 ? 0.0 : route.distance_m.back() - route.distance_m.front())};
    if (!(route.distance_m.back() < 2e6)) return Error{Errc::bad_input, fmt::format("{}: this way is {:.0f} km long; split it into days", route.file, route.distance_m.back() / 1000)};
    Profile out;
    out.faults = route.faults;
    const auto say = [&](FaultKind kind, const char* text) {
        const auto same = std::find_if(out.faults.begin(), out.faults.end(), [&](const Fault& f) { return f.kind == kind; });
        if (same == out.faults.end()) out.faults.push_back({kind, 1, 0, text});
        else same->text = text;
    };
    const double length_m = route.distance_m.back();
    const auto cells = static_cast<std::size_t>(std::max(4.0, std::round(length_m / wanted_step_m)));
    const double step_m = length_m / static_cast<double>(cells);
    const std::size_t n = cells + 1;
    out.altitude_m.assign(n, 0.0);
    out.curvature_1pm.assign(n, 0.0);
    const auto heights = std::count_if(route.altitude_m.begin(), route.altitude_m.end(), [](double z) { return std::isfinite(z); });
    out.has_altitude = route.altitude_m.size() == k && heights >= 2;
    if (out.has_altitude) put_heights(route, step_m, out);
    else say(FaultKind::no_altitude, "This way has no altitudes: it is reckoned as level, so hills are missing and the braking is far too little on any that there are.");
    const auto places = route.latitude_deg.size() == k ? std::count_if(route.latitude_deg.begin(), route.latitude_deg.end(), [](double x) { return std::isfinite(x); }) : 0;
    out.has_bends = places >= 3;
    if (has_direction(route)) put_directions(route, step_m, out);
    if (out.has_bends) put_bends(route, step_m, out);
    else if (places == 2) say(FaultKind::no_position, "Only two points of this way have positions: it is taken as straight, and nothing is braked for bends.");
    else say(FaultKind::no_position, "This way has no positions: its bends are not known, and nothing is braked for them.");
    // From the map to the road, cell by cell; the steps become equal again in the mean.
    const bool on_the_map = places >= 2;
    out.gradient.resize(n - 1);
    double road_m = 0;
    for (std::size_t i = 0; i + 1 < n; ++i) {
        const double rise = out.altitude_m[i + 1] - out.altitude_m[i];
        const double run = on_the_map ? step_m : std::sqrt(std::max(sq(0.9 * step_m), sq(step_m) - sq(rise)));
        out.gradient[i] = std::clamp(rise / run, -0.45, 0.45);
        road_m += std::sqrt(1 + sq(out.gradient[i])) * run;
    }
    out.step_m = road_m / static_cast<double>(n - 1);
    // Heights and gradients must agree on these steps: the account is made of them.
    for (std::size_t i = 0; i + 1 < n; ++i) {
        const double sine = std::clamp((out.altitude_m[i + 1] - out.altitude_m[i]) / out.step_m, -0.41, 0.41);
        out.gradient[i] = sine / std::sqrt(1 - sine * sine);
    }
    const double start_m = out.altitude_m[0];
    double z = start_m;
    for (std::size_t i = 0; i + 1 < n; ++i) {
        const double sine = out.gradient[i] / std::sqrt(1 + sq(out.gradient[i]));
        out.altitude_m[i] = z;
        z += sine * out.step_m;
    }
    out.altitude_m[n - 1] = z;
    return out;
}

bool has_direction(const Route& route) {
    if (route.latitude_deg.size() != route.size() || route.longitude_deg.size() != route.size() || route.size() < 2) return false;
    // The heading of a longer stretch without positions is anybody's guess; so is that before the first and after the last.   [EQ motion-17]
    const double length_m = route.distance_m.back() - route.distance_m.front(), longest_m = std::min(1000.0, 0.1 * length_m);
    double last_m = route.distance_m.front();
    std::size_t places = 0;
    bool same = true;   // all at one place so far
    double latitude_deg = 0, longitude_deg = 0;
    for (std::size_t k = 0; k < route.size(); ++k) {
        if (!std::isfinite(route.latitude_deg[k]) || !std::isfinite(route.longitude_deg[k])) continue;
        if (places > 0) same = same && route.latitude_deg[k] == latitude_deg && route.longitude_deg[k] == longitude_deg;
        latitude_deg = route.latitude_deg[k];
        longitude_deg = route.longitude_deg[k];
        ++places;
        if (route.distance_m[k] - last_m > longest_m) return false;
        last_m = route.distance_m[k];
    }
    return places >= 2 && !same && route.distance_m.back() - last_m <= longest_m;
}

Result<MotionPaths> plan(const Context& ctx, const Route& route, Style style, std::span<const MotionParameters> draws, std::span<const PlanHabits> habits,
                         std::span<const std::size_t> keys) {
    assert(draws.size() == keys.size() && draws.size() == habits.size() && !draws.empty());
    for (std::size_t k = 0; k < draws.size(); ++k) {
        const MotionParameters& p = draws[k];
        const PlanHabits& h = habits[k];
        if (!(p.mass_kg > 0) || !(p.rotating_kg >= 0) || !(p.drag_area_m2 >= 0) || !(p.rolling_resistance >= 0) || !std::isfinite(p.wind_mps) ||
            (p.wind_from && !(std::isfinite(p.wind_from->east_mps) && std::isfinite(p.wind_from->north_mps))) || !(p.air_degC > -90 && p.air_degC < 90))
            return Error{Errc::out_of_domain, fmt::format("{}: mass {} kg, drag area {} m², rolling resistance {}, wind {} m/s, air {} °C: one is outside its range", route.file, p.mass_kg,
                                                          p.drag_area_m2, p.rolling_resistance, p.wind_mps, p.air_degC)};
        if (!(h.top_mps >= 2) || !(h.swing >= 0 && h.swing <= 0.4) || !(h.lateral_mps2 > 0.1) || !(h.braking_mps2 > 0.1) || !(h.coast_mps2 > 0) || !(h.pedal_W >= 0) || !(h.motor_W >= 0) ||
            !(h.stops_per_km >= 0) || !(h.halt_s >= 0))
            return Error{Errc::out_of_domain, fmt::format("{}: top speed {} m/s, lateral {} m/s², braking {} m/s², {} W, {} stops/km: one is outside its range", route.file, h.top_mps,
                                                          h.lateral_mps2, h.braking_mps2, h.pedal_W, h.stops_per_km)};
    }
    Result<Profile> profile = profile_of(route);
    if (!profile) return profile.error();
    const Profile& road = *profile;
    const std::size_t n = road.size();

    MotionPaths out;
    out.altitude_source = road.has_altitude ? AltitudeSource::terrain : AltitudeSource::none;
    out.faults = road.faults;
    out.total_distance_m = road.step_m * static_cast<double>(n - 1);
    std::tie(out.ascent_m, out.descent_m) = gain_loss(road.altitude_m, 1.0);
    out.paths.resize(draws.size());
    parallel_for(ctx, draws.size(), [&](std::size_t k) {
        std::vector<double> density(n);
        for (std::size_t i = 0; i < n; ++i) density[i] = air_density(std::clamp(road.altitude_m[i], -500.0, 6000.0), draws[k].air_degC);
        out.paths[k] = path_of(road, ride_of(road, density, style, draws[k], habits[k], ctx.seed, route.content_hash, keys[k]), draws[k]);
    });
    if (ctx.stopped()) return Error{Errc::cancelled, "stopped"};

    std::size_t longest = 0;
    for (const MotionPath& p : out.paths) longest = std::max(longest, p.brake_power_W.size());
    for (MotionPath& p : out.paths) {
        p.brake_power_W.resize(longest, 0.0);
        p.braking.resize(longest, 0);
        for (auto* x : {&p.own.distance_m, &p.own.altitude_m, &p.own.gradient, &p.own.way_east, &p.own.way_north}) {
            if (x->empty()) continue;
            const double last = x->back();
            x->resize(longest, last);
        }
        p.own.speed_mps.resize(longest, 0.0);
        p.own.acceleration_mps2.resize(longest, 0.0);
    }
    const MotionPath& middle = out.paths[plan_middle(out)];
    out.duration_s = middle.own.duration_s;
    out.distance_m = middle.own.distance_m;
    out.altitude_m = middle.own.altitude_m;
    out.speed_mps = middle.own.speed_mps;
    out.acceleration_mps2 = middle.own.acceleration_mps2;
    out.gradient = middle.own.gradient;
    out.way_east = middle.own.way_east;
    out.way_north = middle.own.way_north;
    out.bridged.assign(longest, 0);
    out.paused.assign(longest, 0);
    out.air_density_kgm3.assign(longest, 0.0);
    if (road.has_bends) out.curvature_1pm.assign(longest, 0.0);
    for (std::size_t i = 0; i < longest; ++i) {
        out.paused[i] = out.speed_mps[i] <= 0 && (i + 1 >= longest || out.speed_mps[i + 1] <= 0);
        out.air_density_kgm3[i] = air_density(std::clamp(out.altitude_m[i], -500.0, 6000.0), middle.parameters.air_degC);
        if (road.has_bends) out.curvature_1pm[i] = road.curvature_1pm[std::min(n - 1, static_cast<std::size_t>(out.distance_m[i] / road.step_m + 0.5))];
    }
    return out;
}

std::size_t plan_middle(const MotionPaths& planned) {
    const std::size_t K = planned.paths.size();
    std::vector<double> away(K, 0.0);   // of the middle of both orders, in places
    const auto rank_by = [&](auto&& of) {
        std::vector<std::size_t> order(K);
        std::iota(order.begin(), order.end(), std::size_t{0});
        std::sort(order.begin(), order.end(), [&](std::size_t a, std::size_t b) {
            const double x = of(planned.paths[a]), y = of(planned.paths[b]);
            return x < y || (x == y && a < b);
        });
        for (std::size_t place = 0; place < K; ++place) away[order[place]] += std::abs(static_cast<double>(place) - 0.5 * static_cast<double>(K - 1));
    };
    rank_by([](const MotionPath& p) { return p.own.duration_s; });
    rank_by([](const MotionPath& p) { return p.brakes_J; });
    return static_cast<std::size_t>(std::min_element(away.begin(), away.end()) - away.begin());
}

}  // namespace bw::ride
