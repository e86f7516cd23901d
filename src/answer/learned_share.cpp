// SPDX-License-Identifier: Apache-2.0
// Weights of the likely cases by the learned front share, and answers by weight that are never bolder.   Layer: answer
// Theory: docs/models/life.md [EQ life-13].
#include "learned_share.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <tuple>

#include "base/sampling.hpp"

namespace bw::answer {

namespace {

constexpr double least_anchors = anchor_cases / 4.0;   // effective; fewer make no end of an interval
constexpr double least_cases = 200;                    // effective, as after proof stops
constexpr double least_told = 0.02;                    // nat: the draws that it is learned from are not known better

double logit(double share) {
    const double s = std::clamp(share, 0.001, 0.999);
    return std::log(s / (1 - s));
}

std::vector<double> weights_at(std::span<const double> logs, double power) {
    double most = -1e300, sum = 0;
    for (const double l : logs) most = std::max(most, l);
    std::vector<double> w;
    for (const double l : logs) w.push_back(std::exp(power * (l - most))), sum += w.back();
    for (double& x : w) x *= static_cast<double>(logs.size()) / sum;
    return w;
}

std::optional<double> larger(const std::optional<double>& a, const std::optional<double>& b) { return a && b ? std::optional(std::max(*a, *b)) : a ? a : b; }

}  // namespace

double effective(std::span<const double> w) {
    double sum = 0, squares = 0;
    for (const double x : w) sum += x, squares += x * x;
    return squares > 0 ? sum * sum / squares : 0;
}

Interval larger_of(const Interval& a, const Interval& b) { return {std::max(a.p05, b.p05), std::max(a.p50, b.p50), std::max(a.p95, b.p95)}; }
Interval smaller_of(const Interval& a, const Interval& b) { return {std::min(a.p05, b.p05), std::min(a.p50, b.p50), std::min(a.p95, b.p95)}; }

std::vector<double> anchor_shares(const LearnSay& say) {
    std::array<std::vector<double>, 2> total{std::vector<double>(anchor_cases, 0.0), std::vector<double>(anchor_cases, 0.0)};
    for (const RideLine& l : say.lines)
        if (l.energy_J[0].size() >= anchor_cases && l.energy_J[1].size() >= anchor_cases)
            for (std::size_t e = 0; e < 2; ++e)
                for (std::size_t i = 0; i < anchor_cases; ++i) total[e][i] += std::max(0.0, l.energy_J[e][i]);
    std::vector<double> out;
    for (std::size_t i = 0; i < anchor_cases; ++i) {
        if (!(total[0][i] > 0) || !(total[1][i] > 0)) return {};
        out.push_back(total[0][i] / (total[0][i] + total[1][i]));
    }
    return out;
}

std::optional<CaseWeights> weights_of(const LearnedShare& s, std::span<const double> shares, std::span<const double> habits) {
    if (shares.size() < 2 || habits.size() < shares.size() || !(s.logit_sd > 0)) return std::nullopt;
    const double sd = std::clamp(s.z_sd, 1e-3, 1.0);   // readings do not widen
    if (0.5 * (s.z_mean * s.z_mean + sd * sd - 1 - 2 * std::log(sd)) < least_told) return std::nullopt;
    // z of each anchor, standard normal beforehand; of a case that no ride was run for, by its habit as anchors go with theirs.
    std::vector<double> z, x;
    for (std::size_t i = 0; i < shares.size(); ++i) z.push_back((logit(shares[i]) - s.logit_mean) / s.logit_sd), x.push_back(logit(habits[i]));
    const double mx = mean_of(x), mz = mean_of(z);
    double xx = 0, xz = 0;
    for (std::size_t i = 0; i < x.size(); ++i) xx += (x[i] - mx) * (x[i] - mx), xz += (x[i] - mx) * (z[i] - mz);
    if (!(xx > 0) || !(xz > 0)) return std::nullopt;
    for (std::size_t i = shares.size(); i < habits.size(); ++i) z.push_back(mz + xz / xx * (logit(habits[i]) - mx));
    // What was learned over what was taken beforehand there: how likely the readings make this share, whatever the cases' own spread.
    std::vector<double> logs;
    for (const double v : z) logs.push_back(0.5 * v * v - 0.5 * (v - s.z_mean) * (v - s.z_mean) / (sd * sd));
    const std::size_t k = shares.size();
    const std::span<const double> of_anchors(logs.data(), k);
    // Far from all cases only a few would count: then the weights go only part of the way.
    const double floor_anchors = std::min(least_anchors, static_cast<double>(k) / 4), floor_cases = std::min(least_cases, static_cast<double>(logs.size()) / 4);
    const auto enough = [&](double power) { return effective(weights_at(of_anchors, power)) >= floor_anchors && effective(weights_at(logs, power)) >= floor_cases; };
    double power = 1;
    if (!enough(1)) {
        double low = 0, high = 1;
        for (int step = 0; step < 40; ++step) (enough(0.5 * (low + high)) ? low : high) = 0.5 * (low + high);
        power = low;
    }
    CaseWeights w;
    w.anchors = weights_at(of_anchors, power), w.cases = weights_at(logs, power);
    w.said.effective_anchors = effective(w.anchors), w.said.effective_cases = effective(w.cases);
    w.said.whole = power == 1;
    std::vector<double> of_cases;
    for (const double v : z) of_cases.push_back(1 / (1 + std::exp(-s.logit_mean - s.logit_sd * v)));
    w.said.of_cases = interval_of(of_cases, w.cases);
    const double half = normal_quantile(0.95);
    const auto at = [&](double v) { return 1 / (1 + std::exp(-s.logit_mean - s.logit_sd * v)); };
    w.said.before = {at(-half), at(0), at(half)};
    w.said.now = {at(s.z_mean - half * sd), at(s.z_mean), at(s.z_mean + half * sd)};
    return w;
}

std::optional<CaseWeights> weights_of(const LearnedShare& s, std::span<const Case> cases) {
    std::vector<double> habits = s.habits;
    for (const Case& c : cases) habits.push_back(c.habit);
    std::optional<CaseWeights> w = weights_of(s, s.anchors, habits);
    if (!w) return std::nullopt;
    w->cases.erase(w->cases.begin(), w->cases.begin() + static_cast<long>(s.anchors.size()));
    w->said.effective_cases = effective(w->cases);
    return w;
}

std::shared_ptr<const Anchored> anchored(const RideWork& work) {
    auto out = std::make_shared<Anchored>();
    for (std::size_t e = 0; e < 2; ++e)
        for (const WheelOutcome& o : work.outcomes[e]) {
            out->outcomes[e].push_back(o);
            out->outcomes[e].back().heat.trace = decltype(o.heat.trace)();   // of drawings alone
        }
    return out;
}

void keep_worse(WheelHeatAnswer& w, const WheelHeatAnswer& plain) {
    w.judged = {larger_of(w.judged.rotor_peak_degC, plain.judged.rotor_peak_degC), larger_of(w.judged.hottest_ring_degC, plain.judged.hottest_ring_degC), larger_of(w.judged.core_degC, plain.judged.core_degC),
                larger_of(w.judged.pad_face_degC, plain.judged.pad_face_degC), larger_of(w.judged.fluid_degC, plain.judged.fluid_degC)};
    w.fluid_boil_probability = larger(w.fluid_boil_probability, plain.fluid_boil_probability);
    w.core_soft_probability = larger(w.core_soft_probability, plain.core_soft_probability);
    w.core_melt_probability = larger(w.core_melt_probability, plain.core_melt_probability);
    w.fade_probability = std::max(w.fade_probability, plain.fade_probability);
    w.hot_stop_beyond_hand_probability = std::max(w.hot_stop_beyond_hand_probability, plain.hot_stop_beyond_hand_probability);
    w.gap_taken_mm = std::max(w.gap_taken_mm, plain.gap_taken_mm);
}

void weigh(std::span<RideAnswer> rides, std::span<const std::shared_ptr<const Anchored>> heat, const Doses& doses, const CaseWeights& weights, const parts::Library& library, const parts::Bike& bike,
           std::span<const Case> cases) {
    for (std::size_t i = 0; i < rides.size() && i < heat.size(); ++i) {
        if (!heat[i]) continue;
        RideAnswer& r = rides[i];
        std::array<double, 2> into{};
        for (const parts::End end : ends) {
            const auto e = static_cast<std::size_t>(end);
            const WheelHeatAnswer plain = r.wheels[e];
            WheelHeatAnswer& w = r.wheels[e];
            summarise(w, library, bike, end, cases, heat[i]->outcomes[e], weights.anchors);
            std::vector<double> totals;
            for (const heat::WearDose& d : doses[i][e]) totals.push_back(d.total_J());
            const std::size_t n = std::min(totals.size(), weights.cases.size());
            const std::span<const double> by(totals.size() == weights.anchors.size() ? weights.anchors : weights.cases);
            w.brake_energy_J = interval_of(std::span(totals).first(n), by.first(n));
            for (std::size_t k = 0; k < n; ++k) into[e] += totals[k] * by[k];
            keep_worse(w, plain);
        }
        // Their sum stays, so that the account still closes.
        if (const double sum = into[0] + into[1]; sum > 0) {
            const double both_J = r.braking.front_J + r.braking.rear_J;
            r.braking.front_J = both_J * into[0] / sum, r.braking.rear_J = both_J * into[1] / sum;
        }
    }
}

stop::StopAnswer weigh(const stop::StopAnswer& plain, std::span<const stop::StopCase> cases, const CaseWeights& weights) {
    if (plain.setup.brakes != stop::Brakes::both) return plain;   // the cases that count differ in more than the share, by chance
    stop::StopAnswer w = stop::stop_answer(plain.setup, cases, weights.cases, plain.standard_force_N);
    w.not_stopping_share = std::max(w.not_stopping_share, plain.not_stopping_share);
    w.weak_share = std::max(w.weak_share, plain.weak_share);
    w.cold_weak_share = std::max(w.cold_weak_share, plain.cold_weak_share);
    w.bar_share = std::max(w.bar_share, plain.bar_share);
    w.lever_force_N.p95 = std::max(w.lever_force_N.p95, plain.lever_force_N.p95);
    w.lever_used_N.p95 = std::max(w.lever_used_N.p95, plain.lever_used_N.p95);
    w.hand_force_N = plain.hand_force_N, w.cold_hand_force_N = plain.cold_hand_force_N;   // a hand has nothing to do with the share
    const double by_weight_mps2 = w.deceleration_mps2.p50;
    w.deceleration_mps2 = smaller_of(w.deceleration_mps2, plain.deceleration_mps2);
    using enum stop::LimitedBy;
    // What holds back belongs to the deceleration that is given.
    if (by_weight_mps2 > plain.deceleration_mps2.p50) w.limited_by = plain.limited_by;
    if (plain.limited_by == does_not_stop || (plain.limited_by == lever_travel && w.limited_by != does_not_stop)) w.limited_by = plain.limited_by;
    if (w.limited_by == does_not_stop) w.brake_distance_m.reset(), w.room_needed_m.reset();
    if (w.brake_distance_m && plain.brake_distance_m) w.brake_distance_m = larger_of(*w.brake_distance_m, *plain.brake_distance_m);
    if (w.room_needed_m && plain.room_needed_m) w.room_needed_m = larger_of(*w.room_needed_m, *plain.room_needed_m);
    return w;
}

stop::LeverAnswer nearer(const stop::LeverAnswer& plain, const stop::LeverAnswer& by_weight) {
    stop::LeverAnswer w = plain;   // what one brake does alone, and the hand, no share moves
    // The lever bites and ends no further from the bar than it did without.
    w.bite_mm = smaller_of(by_weight.bite_mm, plain.bite_mm), w.full_mm = smaller_of(by_weight.full_mm, plain.full_mm);
    w.window_mm[0] = std::max(by_weight.window_mm[0], plain.window_mm[0]);   // from where there is way left at full force
    w.in_window_share = std::min(by_weight.in_window_share, plain.in_window_share);
    w.force_03g_N.p95 = std::max(by_weight.force_03g_N.p95, plain.force_03g_N.p95);
    w.force_lock_N.p95 = std::max(by_weight.force_lock_N.p95, plain.force_lock_N.p95);
    w.bar_share = std::max(by_weight.bar_share, plain.bar_share);
    w.finding = std::max(by_weight.finding, plain.finding);
    return w;
}

inspect::LeverPoints worse_points(const stop::LeverAnswer& plain, const stop::LeverAnswer& by_weight, parts::Actuation actuation, const inspect::Practice& practice) {
    const auto points = [](const stop::LeverAnswer& l) { return inspect::LeverPoints{.bite_mm = l.bite_mm.p50, .full_mm = l.full_mm.p50, .uncertainty_mm = (l.full_mm.p95 - l.full_mm.p05) / (2 * 1.645)}; };
    // How bad: what is said first, then how many spreads are left.
    const auto badness = [&](const inspect::LeverPoints& p) {
        const inspect::Check c = inspect::check_lever({.end = parts::End::front, .actuation = actuation, .bite_mm = p.bite_mm, .full_mm = p.full_mm, .uncertainty_mm = p.uncertainty_mm, .full_from = p.full_from}, practice);
        return std::tuple(c.do_not_ride, c.state, -*p.full_mm / std::max(p.uncertainty_mm, 1e-9));
    };
    const inspect::LeverPoints a = points(plain), b = points(by_weight);
    return badness(a) < badness(b) ? b : a;
}

namespace {

std::string percent(const Interval& i) { return fmt::format("{:.0f} % ({:.0f} to {:.0f})", 100 * i.p50, 100 * i.p05, 100 * i.p95); }

std::string front_does(const ShareWeighed& s) { return fmt::format("Your pads and rotors say that the front does {} of the braking; without them it would be {}.", percent(s.now), percent(s.before)); }

// The brake that does more than was taken beforehand.
bool front_does_more(const ShareWeighed& s) { return s.now.p50 > s.before.p50; }
// What was learned lies beyond the cases by weight, on its own side.
bool beyond_cases(const ShareWeighed& s) { return front_does_more(s) ? s.now.p50 > s.of_cases.p50 : s.now.p50 < s.of_cases.p50; }

std::string reached(const ShareWeighed& s) {
    if (s.whole) return "";
    return beyond_cases(s) ? fmt::format(" The likely cases reach only {}.", percent(s.of_cases)) : fmt::format(" Few likely cases are like that; those that count have {}.", percent(s.of_cases));
}

}  // namespace

std::string share_weighed_stop_words(const ShareWeighed& s, const std::string& day, bool stops_too, bool one_brake) {
    std::string out = front_does(s);
    if (!day.empty()) out += fmt::format(" (Worked out on {}.)", day);
    out += reached(s);
    if (!stops_too) return out + " The proof stops leave too few likely cases that are like that: stops, holding and speeds go by the proof stops alone, and only levers are judged with it and without.";
    if (one_brake)
        return out + fmt::format(" The stop that is asked about is with one brake alone, and is without it. Of speeds, holding a speed and levers the worse of with and without it is given ({:.0f} likely cases count); front against rear, bedding-in and the "
                                 "yardsticks are without it.", s.effective_cases);
    return out + fmt::format(" Squeezes of stops with both brakes are weighed by it ({:.0f} likely cases count); of ways, rooms, speeds, holding a speed and levers the worse of with and without it is given. What one brake does alone, front against "
                             "rear, bedding-in and the yardsticks are without it.", s.effective_cases);
}

std::string share_weighed_words(const ShareWeighed& s) {
    return front_does(s) + fmt::format(" Temperatures, and squeezes of stops with both brakes, are weighed by it: {:.0f} of {} likely cases count.", s.effective_anchors, anchor_cases) + reached(s) +
           " A reading can be wrong, so the verdict, boiling, fading, levers, the long ends of squeezes, and ways and rooms of stops stay as they are without it where that is worse. What one brake does alone is without it.";
}

std::optional<inspect::Check> share_beyond_cases(const ShareWeighed& s) {
    if (s.whole) return std::nullopt;
    const bool front = front_does_more(s);
    const auto of = [&](const Interval& i) { return 100 * (front ? i.p50 : 1 - i.p50); };
    const char* brake = front ? "front" : "rear";
    const std::string what = beyond_cases(s) ? fmt::format("more than the likely cases reach ({:.0f} %): it may get hotter than is said here", of(s.of_cases))
                                             : fmt::format("before your readings {:.0f} %, and few likely cases are like that: how hot it gets is known badly", of(s.before));
    return inspect::Check{.id = inspect::CheckId::other, .code = "front_share_beyond_cases", .state = inspect::State::measure_better, .done = true, .do_not_ride = false,
                          .text = fmt::format("Your pads and rotors say that the {} brake does {:.0f} % of the braking, {}. Check the readings, the compounds and that no set was left out, and feel the {} lever on the way down: if it needs more than before, "
                                              "let the brake cool rolling.", brake, of(s.now), what, brake)};
}

}  // namespace bw::answer
