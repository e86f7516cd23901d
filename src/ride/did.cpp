// SPDX-License-Identifier: Apache-2.0
// What the brakes did on a ride.                                                                          Layer: ride
// Theory: docs/models/did.md.
#include "ride/did.hpp"

#include <algorithm>
#include <cmath>
#include <numbers>
#include <utility>

#include "ride/plan.hpp"

namespace bw::ride {
namespace {

constexpr double on_W = 20;          // as in applications_of: below it the mean power is noise about zero
constexpr double least_J = 100;
constexpr double bend_radius_m = 80, bend_least_deg = 30, bend_gap_m = 15, radius_over_m = 5;
constexpr double approach_most_m = 150, steady_mps = 0.4;
constexpr std::size_t approach_gap = 2;   // seconds without braking that an approach may hold
constexpr double standing_mps = 0.5, rolling_mps = 2, paused_mps = 4;

bool own_motion(const MotionPath& p) { return !p.own.distance_m.empty(); }
const std::vector<double>& distance_of(const MotionPaths& m, const MotionPath& p) { return own_motion(p) ? p.own.distance_m : m.distance_m; }
const std::vector<double>& altitude_of(const MotionPaths& m, const MotionPath& p) { return own_motion(p) ? p.own.altitude_m : m.altitude_m; }
const std::vector<double>& speed_of(const MotionPaths& m, const MotionPath& p) { return own_motion(p) ? p.own.speed_mps : m.speed_mps; }
const std::vector<double>& gradient_of(const MotionPaths& m, const MotionPath& p) { return own_motion(p) ? p.own.gradient : m.gradient; }

Took took_of(const std::vector<double>& energies) {
    if (energies.empty()) return {};
    return {.mean_J = mean_of(energies), .energy_J = interval_of(energies)};
}

//! Brake energy of one path up to a time or a place; both telescope.   [EQ did-1]
class Spent {
public:
    Spent(const MotionPaths& m, const MotionPath& p) : at_m_(distance_of(m, p)), sum_J_(p.brake_power_W.size() + 1, 0.0) {
        for (std::size_t i = 0; i < p.brake_power_W.size(); ++i) sum_J_[i + 1] = sum_J_[i] + p.brake_power_W[i];
    }
    double to_cell(std::size_t i) const { return sum_J_[std::min(i, sum_J_.size() - 1)]; }
    //! A second spreads evenly over its metres; what was braked standing at a place counts as soon as the place is reached.
    double to_place(double s) const {
        const std::size_t n = at_m_.size();
        const auto above = static_cast<std::size_t>(std::upper_bound(at_m_.begin(), at_m_.end(), s) - at_m_.begin());
        if (above == 0) return 0;
        if (above == n) return sum_J_[n];
        const double share = (s - at_m_[above - 1]) / (at_m_[above] - at_m_[above - 1]);
        return sum_J_[above - 1] + share * (sum_J_[above] - sum_J_[above - 1]);
    }

private:
    const std::vector<double>& at_m_;
    std::vector<double> sum_J_;
};

std::vector<Spent> spent_of(const MotionPaths& m) {
    std::vector<Spent> all;
    all.reserve(m.paths.size());
    for (const MotionPath& p : m.paths) all.emplace_back(m, p);
    return all;
}

Took between_m(const std::vector<Spent>& all, double from_m, double to_m) {
    std::vector<double> energies;
    for (const Spent& s : all) energies.push_back(s.to_place(to_m) - s.to_place(from_m));
    return took_of(energies);
}

//! The path that the shared series follow.
const MotionPath& typical_path(const MotionPaths& m) { return m.paths[own_motion(m.paths.front()) ? plan_middle(m) : 0]; }

//! Of the paths' speeds: at a place, and the lowest between two places. One path stands for all if they share the motion.
template <class Of>
double over_motions(const MotionPaths& m, Of&& of) {
    if (m.paths.empty() || !own_motion(m.paths.front())) return of(m.distance_m, m.speed_mps);
    double sum = 0;
    for (const MotionPath& p : m.paths) sum += of(distance_of(m, p), speed_of(m, p));
    return sum / static_cast<double>(m.paths.size());
}

//! At a place; where the bike stood there, as it leaves it.
double speed_in(const std::vector<double>& d, const std::vector<double>& v, double place_m) {
    const auto above = static_cast<std::size_t>(std::upper_bound(d.begin(), d.end(), place_m) - d.begin());
    if (above == 0) return v.front();
    if (above == d.size()) return v.back();
    return v[above - 1] + (v[above] - v[above - 1]) * (place_m - d[above - 1]) / (d[above] - d[above - 1]);
}

double speed_at(const MotionPaths& m, double place_m) {
    return over_motions(m, [&](const std::vector<double>& d, const std::vector<double>& v) { return speed_in(d, v, place_m); });
}

double slowest_between(const MotionPaths& m, double from_m, double to_m) {
    return over_motions(m, [&](const std::vector<double>& d, const std::vector<double>& v) {
        double least = std::min(speed_in(d, v, from_m), speed_in(d, v, to_m));
        for (std::size_t i = 0; i < d.size(); ++i)
            if (d[i] >= from_m && d[i] <= to_m) least = std::min(least, v[i]);
        return least;
    });
}

struct Turn {
    std::size_t from = 0, to = 0;   // cells [from, to)
    double turn = 0, tightest = 0;  // radians, 1/m
};

//! Runs of one side with a radius under bend_radius_m, joined over short straights.   [EQ did-2]
std::vector<Turn> turns_of(const MotionPaths& m) {
    std::vector<Turn> found;
    const std::size_t n = m.curvature_1pm.size();
    if (n != m.size()) return found;
    double straight_m = 0;   // since the last cell of the last run
    bool open = false;
    for (std::size_t i = 0; i + 1 < n; ++i) {
        const double ds = m.distance_m[i + 1] - m.distance_m[i], c = m.curvature_1pm[i];
        if (!std::isfinite(c) || (i < m.paused.size() && m.paused[i])) {
            open = false;
            continue;
        }
        if (!(ds > 0)) continue;
        if (std::abs(c) < 1 / bend_radius_m) {
            straight_m += ds;
            continue;
        }
        if (open && straight_m < bend_gap_m && found.back().turn * c > 0) {
            found.back().to = i + 1;
        } else {
            found.push_back({.from = i, .to = i + 1});
            open = true;
        }
        found.back().turn += c * ds;
        straight_m = 0;
    }
    std::erase_if(found, [](const Turn& t) { return std::abs(t.turn) < bend_least_deg * std::numbers::pi / 180; });
    // The tightest over a few metres: at walking pace the turn of one second is mostly noise.
    for (Turn& t : found)
        for (std::size_t i = t.from; i < t.to; ++i) {
            double turn = 0, way_m = 0;
            for (std::size_t k = i; k < t.to && way_m < radius_over_m; ++k) {
                const double ds = m.distance_m[k + 1] - m.distance_m[k];
                if (!(ds > 0)) continue;
                turn += m.curvature_1pm[k] * ds;
                way_m += ds;
            }
            if (way_m >= radius_over_m || t.tightest == 0) t.tightest = std::max(t.tightest, std::abs(turn) / std::max(way_m, 1e-9));
        }
    return found;
}

//! Metres descended so far at each grid point, and whether the way goes down there.   [EQ did-4]
struct Down {
    std::vector<double> metres;        // [n]
    std::vector<std::uint8_t> falls;   // [n] of the cell after the point
};

Down down_of(const std::vector<double>& altitude_m, const std::vector<std::uint8_t>& left_out, double turn_m) {
    const std::size_t n = altitude_m.size();
    Down down{.metres = std::vector<double>(n, 0.0), .falls = std::vector<std::uint8_t>(n, 0)};
    if (n < 2) return down;
    // What a lift or a car did is no descent.
    std::vector<double> a(n, 0.0);
    for (std::size_t i = 1; i < n; ++i) {
        const bool out = i - 1 < left_out.size() && left_out[i - 1];
        const double step = altitude_m[i] - altitude_m[i - 1];
        a[i] = a[i - 1] + (out || !std::isfinite(step) ? 0.0 : step);
    }
    // Turning points: a high counts once the way lies turn_m below it, a low once it lies turn_m above.
    std::size_t high = 0, low = 0;
    enum class Way { unknown, rises, falls } way = Way::unknown;
    std::vector<std::pair<std::size_t, std::size_t>> runs;   // high, low
    for (std::size_t i = 1; i < n; ++i) {
        if (way != Way::falls && a[i] > a[high]) high = i;
        if (way != Way::rises && a[i] < a[low]) low = i;
        if (way != Way::falls && a[high] - a[i] >= turn_m) {
            way = Way::falls;
            low = i;
            runs.emplace_back(high, i);
        } else if (way != Way::rises && a[i] - a[low] >= turn_m) {
            if (way == Way::falls) runs.back().second = low;
            way = Way::rises;
            high = i;
        }
    }
    if (way == Way::falls) runs.back().second = low;
    double done = 0;
    std::size_t at = 0;
    for (const auto& [from, to] : runs) {
        for (; at <= from; ++at) down.metres[at] = done;
        double lowest = a[from];
        for (std::size_t i = from; i < to; ++i) {
            down.falls[i] = 1;
            lowest = std::min(lowest, a[i + 1]);
            down.metres[i + 1] = done + (a[from] - lowest);
        }
        done = down.metres[to];
        at = to + 1;
    }
    for (; at < n; ++at) down.metres[at] = done;
    return down;
}

Effort effort_at(const std::vector<double>& distance, const std::vector<double>& speed, const std::vector<double>& gradient, std::size_t from, std::size_t cells) {
    Effort e{.over_s = static_cast<double>(cells), .start_s = static_cast<double>(from)};
    const std::size_t last = std::min(from + cells, distance.size() - 1);
    e.distance_m = 0.5 * (distance[from] + distance[last]);
    for (std::size_t i = from; i < from + cells; ++i) {
        e.gradient += gradient[i] / static_cast<double>(cells);
        e.speed_mps += speed[i] / static_cast<double>(cells);
    }
    return e;
}

//! First cell of the `cells` cells with the most energy, and that energy.
std::pair<std::size_t, double> most_in(const std::vector<double>& power_W, std::size_t cells) {
    double sum = 0;
    for (std::size_t i = 0; i < cells; ++i) sum += power_W[i];
    double most = sum;
    std::size_t at = 0;
    for (std::size_t i = cells; i < power_W.size(); ++i) {
        sum += power_W[i] - power_W[i - cells];
        if (sum > most) {
            most = sum;
            at = i + 1 - cells;
        }
    }
    return {at, most};
}

}  // namespace

std::vector<double> typical_power_W(const MotionPaths& m) {
    std::vector<double> power(m.size(), 0.0);
    if (m.paths.empty()) return power;
    if (own_motion(m.paths.front())) return typical_path(m).brake_power_W;
    for (const MotionPath& p : m.paths)
        for (std::size_t i = 0; i < power.size(); ++i) power[i] += p.brake_power_W[i] / static_cast<double>(m.paths.size());
    return power;
}

std::vector<Window> windows_of(const MotionPaths& m, double window_s) {
    std::vector<Window> windows;
    const std::size_t n = m.size();
    if (n < 2 || m.paths.empty()) return windows;
    const auto length = static_cast<std::size_t>(std::max(1.0, window_s));
    const std::vector<Spent> spent = spent_of(m);
    // Paths with their own motion come to a place at different times: a window is the way that the ride in the middle makes in it.
    const bool own = own_motion(m.paths.front()) && m.duration_s > 0;
    const std::size_t end = own ? std::min(n - 1, static_cast<std::size_t>(std::ceil(std::max(m.duration_s, 1.0)))) : n - 1;
    for (std::size_t from = 0; from < end; from += length) {
        const bool last = from + length >= end;
        const std::size_t to = last ? n : from + length;   // the last second of the grid belongs to the last window
        std::vector<double> energies;
        for (const Spent& s : spent) {
            if (own) energies.push_back((last ? s.to_cell(n) : s.to_place(m.distance_m[to])) - (from == 0 ? 0.0 : s.to_place(m.distance_m[from])));
            else energies.push_back(s.to_cell(to) - s.to_cell(from));
        }
        windows.push_back({.start_s = static_cast<double>(from), .end_s = last ? (own ? std::max(m.duration_s, static_cast<double>(from)) : static_cast<double>(n - 1)) : static_cast<double>(to), .took = took_of(energies)});
    }
    return windows;
}

std::vector<Bend> bends_of(const MotionPaths& m) {
    std::vector<Bend> bends;
    if (m.paths.empty()) return bends;
    const std::vector<double> power = typical_power_W(m);
    const std::vector<Spent> spent = spent_of(m);
    std::size_t taken = 0;   // cells up to here belong to an earlier bend
    for (const Turn& t : turns_of(m)) {
        // Back to where this slowing down began: a drag at a steady speed before the bend is the slope's, not the bend's.
        std::size_t approach = t.from, quiet = 0;
        double fastest = m.speed_mps[t.from];
        for (std::size_t i = t.from; i-- > taken && quiet <= approach_gap && m.distance_m[t.from] - m.distance_m[i] <= approach_most_m;) {
            if (m.speed_mps[i] < fastest - steady_mps) break;
            quiet = power[i] > on_W ? 0 : quiet + 1;
            if (quiet > 0 || m.speed_mps[i] < fastest + 0.5 * steady_mps) continue;
            approach = i;
            fastest = m.speed_mps[i];
        }
        taken = t.to;
        Bend b{.start_s = static_cast<double>(t.from), .end_s = static_cast<double>(t.to), .start_m = m.distance_m[t.from], .end_m = m.distance_m[t.to],
               .approach_m = m.distance_m[approach], .turn_deg = t.turn * 180 / std::numbers::pi, .radius_m = 1 / t.tightest};
        b.approach_mps = speed_at(m, b.approach_m);
        b.entry_mps = speed_at(m, b.start_m);
        b.slowest_mps = slowest_between(m, b.start_m, b.end_m);
        b.took = between_m(spent, b.approach_m, b.end_m);
        bends.push_back(b);
    }
    return bends;
}

std::vector<Halt> halts_of(const MotionPaths& m) {
    std::vector<Halt> halts;
    const std::size_t n = m.size();
    if (m.paths.empty() || n < 3) return halts;
    const std::vector<double> power = typical_power_W(m);
    const std::vector<Spent> spent = spent_of(m);
    const Spent typical(m, typical_path(m));
    const auto paused = [&](std::size_t i) { return i < m.paused.size() && m.paused[i] != 0; };
    bool rolls = m.speed_mps[0] > rolling_mps;
    for (std::size_t i = 1; i < n; ++i) {
        const bool stands = m.speed_mps[i] < standing_mps || (paused(i) && m.speed_mps[i - 1] < paused_mps);
        if (!stands || !rolls) {
            rolls = paused(i) ? false : rolls || m.speed_mps[i] > rolling_mps;
            continue;
        }
        rolls = false;
        // Back along the last slowing down, then to its first braking.
        std::size_t from = i;
        while (from > 0 && i - from < 60 && !paused(from - 1) && m.speed_mps[from - 1] >= m.speed_mps[from] - 0.05) --from;
        while (from < i && power[from] <= on_W) ++from;
        if (from == i) continue;
        Halt h{.start_s = static_cast<double>(from), .end_s = static_cast<double>(i), .distance_m = m.distance_m[i], .from_mps = m.speed_mps[from]};
        h.mean_deceleration_mps2 = (m.speed_mps[from] - m.speed_mps[i]) / (h.end_s - h.start_s);
        // Halts of a planned ride lie elsewhere on every path: this is what the path that halts here took.
        h.took = own_motion(m.paths.front()) ? took_of({typical.to_place(m.distance_m[i]) - typical.to_place(m.distance_m[from])}) : between_m(spent, m.distance_m[from], m.distance_m[i]);
        if (h.took.mean_J >= least_J) halts.push_back(h);
    }
    return halts;
}

Descent descent_of(const MotionPaths& m, double step_m, double turn_m) {
    Descent d;
    const std::size_t n = m.size();
    if (n < 2 || m.paths.empty()) return d;
    const bool own = own_motion(m.paths.front());
    const Down shared = down_of(m.altitude_m, m.paused, turn_m);
    double total_m = shared.metres.back();
    std::vector<Down> each;
    if (own)
        for (const MotionPath& p : m.paths) {
            each.push_back(down_of(altitude_of(m, p), {}, turn_m));
            total_m = std::max(total_m, each.back().metres.back());
        }
    const std::size_t steps = total_m < 20 ? 0 : static_cast<std::size_t>(std::ceil(total_m / step_m - 1e-9));
    std::vector<std::vector<double>> energies(steps, std::vector<double>(m.paths.size(), 0.0));
    std::vector<double> rest(m.paths.size(), 0.0);
    for (std::size_t k = 0; k < m.paths.size(); ++k) {
        const Down& down = own ? each[k] : shared;
        const std::vector<double>& power = m.paths[k].brake_power_W;
        for (std::size_t i = 0; i < n; ++i) {
            if (steps == 0 || !down.falls[i]) {
                rest[k] += power[i];
                continue;
            }
            const double from = down.metres[i], to = down.metres[i + 1];
            const auto step_of = [&](double metres) { return std::min(steps - 1, static_cast<std::size_t>(metres / step_m)); };
            if (!(to > from)) {
                energies[step_of(from)][k] += power[i];
                continue;
            }
            for (std::size_t s = step_of(from); s <= step_of(to); ++s) {
                const double low = std::max(from, step_m * static_cast<double>(s));
                const double high = s + 1 == steps ? to : std::min(to, step_m * static_cast<double>(s + 1));
                energies[s][k] += power[i] * std::max(0.0, high - low) / (to - from);
            }
        }
    }
    for (std::size_t s = 0; s < steps; ++s)
        d.steps.push_back({.from_m = step_m * static_cast<double>(s), .to_m = std::min(total_m, step_m * static_cast<double>(s + 1)), .took = took_of(energies[s])});
    d.rest = took_of(rest);
    return d;
}

std::optional<Effort> hardest_of(const MotionPaths& m, double over_s) {
    const std::size_t n = m.size();
    if (n < 2 || m.paths.empty()) return std::nullopt;
    const std::size_t cells = std::min(n - 1, static_cast<std::size_t>(std::max(1.0, over_s)));
    const auto length = static_cast<double>(cells);
    std::vector<double> powers;
    Effort e;
    if (!own_motion(m.paths.front())) {
        // One stretch for all paths: the largest of each path's own noise would be larger than anything that was braked.
        const auto [at, most] = most_in(typical_power_W(m), cells);
        if (!(most > 0)) return std::nullopt;
        e = effort_at(m.distance_m, m.speed_mps, m.gradient, at, cells);
        for (const MotionPath& p : m.paths) {
            double sum = 0;
            for (std::size_t i = at; i < at + cells; ++i) sum += p.brake_power_W[i];
            powers.push_back(sum / length);
        }
    } else {
        std::vector<std::size_t> from;
        for (const MotionPath& p : m.paths) {
            const auto [at, most] = most_in(p.brake_power_W, cells);
            from.push_back(at);
            powers.push_back(most / length);
        }
        std::vector<std::size_t> order(powers.size());
        for (std::size_t k = 0; k < order.size(); ++k) order[k] = k;
        std::stable_sort(order.begin(), order.end(), [&](std::size_t a, std::size_t b) { return powers[a] < powers[b]; });
        const std::size_t middle = order[order.size() / 2];
        if (!(powers[middle] > 0)) return std::nullopt;
        const MotionPath& p = m.paths[middle];
        e = effort_at(p.own.distance_m, p.own.speed_mps, gradient_of(m, p), from[middle], cells);
    }
    e.power_W = interval_of(powers);
    return e;
}

BrakesDid brakes_did(const MotionPaths& m) {
    return {.windows = windows_of(m), .bends = bends_of(m), .halts = halts_of(m), .descent = descent_of(m),
            .hardest_10s = hardest_of(m, 10), .hardest_60s = hardest_of(m, 60)};
}

}  // namespace bw::ride
