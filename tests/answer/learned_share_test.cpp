// SPDX-License-Identifier: Apache-2.0
// Likely cases weighed by the learned front share. Oracles: the normal distribution that was handed in, arithmetic, what may not happen.
#include <gtest/gtest.h>

#include <algorithm>
#include <cmath>
#include <numeric>

#include "../../src/answer/learned_share.hpp"
#include "base/sampling.hpp"
#include "inspect/verdict.hpp"
#include "parts/library.hpp"

using namespace bw;
using answer::anchor_cases;

namespace {

constexpr std::size_t n = 1024;
constexpr double middle = 0.4, spread = 0.42;   // logit of a share of 60 %, sd 10 points

double share_at(double z) { return 1 / (1 + std::exp(-middle - spread * z)); }

struct Shares {
    std::vector<double> habits, anchors;
};
// Habits as cases are drawn; what the rotors took follows them, moved by grip, and is the same for all.
const Shares& shares() {
    static const Shares made = [] {
        Shares s;
        for (const double u : shifted_sobol(n, 1, 7)) {
            const double z = normal_quantile(u);
            s.habits.push_back(1 / (1 + std::exp(-0.3 - 0.5 * z)));
            if (s.anchors.size() < anchor_cases) s.anchors.push_back(share_at(z));
        }
        return s;
    }();
    return made;
}
std::optional<answer::CaseWeights> weighed(double z_mean, double z_sd) {
    return answer::weights_of({.logit_mean = middle, .logit_sd = spread, .z_mean = z_mean, .z_sd = z_sd}, shares().anchors, shares().habits);
}

}  // namespace

TEST(CaseWeights, GiveTheSharesOfTheCasesTheDistributionThatWasLearned) {
    for (const auto& [z_mean, z_sd] : {std::pair{0.8, 0.7}, std::pair{-0.6, 0.6}, std::pair{0.3, 0.9}}) {
        const auto w = weighed(z_mean, z_sd);
        ASSERT_TRUE(w);
        EXPECT_TRUE(w->said.whole);
        EXPECT_NEAR(std::accumulate(w->cases.begin(), w->cases.end(), 0.0), static_cast<double>(n), 1e-9);
        EXPECT_NEAR(std::accumulate(w->anchors.begin(), w->anchors.end(), 0.0), static_cast<double>(anchor_cases), 1e-9);
        // Points of a normal sample are known to sqrt(p (1 - p)/effective)/density; Sobol points do better.
        const double half = 1.6449;
        for (const auto& [got, at, error] : {std::tuple{w->said.of_cases.p05, -half, 2.11}, std::tuple{w->said.of_cases.p50, 0.0, 1.25}, std::tuple{w->said.of_cases.p95, half, 2.11}}) {
            const double want = z_mean + at * z_sd, z = (std::log(got / (1 - got)) - middle) / spread;
            EXPECT_NEAR(z, want, 3 * error * z_sd / std::sqrt(w->said.effective_cases)) << z_mean << " " << at;
        }
        EXPECT_NEAR(w->said.now.p50, share_at(z_mean), 1e-12);
        // The same of the anchors, whose shares are those of the rides.
        const Interval a = interval_of(shares().anchors, w->anchors);
        EXPECT_NEAR((std::log(a.p50 / (1 - a.p50)) - middle) / spread, z_mean, 3 * 1.25 * z_sd / std::sqrt(w->said.effective_anchors));
    }
}

TEST(CaseWeights, WhatReadingsDoNotTellWeighsNothing) {
    EXPECT_FALSE(weighed(0, 1));
    EXPECT_FALSE(weighed(0.1, 1.02));   // the noise of some hundred draws that hang together
    EXPECT_FALSE(weighed(0, 3)) << "readings do not widen";
    EXPECT_TRUE(weighed(0.5, 1));
    EXPECT_FALSE(answer::weights_of({.logit_mean = middle, .logit_sd = 0, .z_mean = 1, .z_sd = 1}, shares().anchors, shares().habits));
    EXPECT_FALSE(answer::weights_of({.logit_mean = middle, .logit_sd = spread, .z_mean = 1, .z_sd = 1}, {}, shares().habits)) << "no ride says who braked";
}

TEST(CaseWeights, FarFromAllCasesTheyGoOnlyPartOfTheWayAndThatIsAReasonToMeasure) {
    const auto near = weighed(0.8, 0.7), far = weighed(2.6, 0.2);
    ASSERT_TRUE(near && far);
    EXPECT_FALSE(answer::share_beyond_cases(near->said));
    EXPECT_FALSE(far->said.whole);
    EXPECT_GE(far->said.effective_anchors, 15.99);
    EXPECT_GE(far->said.effective_cases, 199.9);
    EXPECT_GT(far->said.of_cases.p50, far->said.before.p50);
    EXPECT_LT(far->said.of_cases.p50, far->said.now.p50);
    const auto reason = answer::share_beyond_cases(far->said);
    ASSERT_TRUE(reason);
    EXPECT_EQ(reason->state, inspect::State::measure_better);
    EXPECT_NE(reason->text.find("front brake does 82 %"), std::string::npos) << reason->text;
    const auto rear = weighed(-2.6, 0.2);
    EXPECT_NE(answer::share_beyond_cases(rear->said)->text.find("rear brake does 67 %"), std::string::npos) << answer::share_beyond_cases(rear->said)->text;
}

TEST(CaseWeights, AStopByWeightIsNeverBolderThanWithout) {
    // Cases of which those with a small front share need the harder squeeze: a learned large share must not take that away.
    std::vector<stop::StopCase> cases(n);
    for (std::size_t i = 0; i < n; ++i) {
        const double h = shares().habits[i];
        stop::StopCase& c = cases[i];
        c.deceleration_mps2 = 3 + h, c.brake_distance_m = 12 - 8 * h, c.room_needed_m = 20 - 8 * h;
        c.need_N = 100 - 80 * h, c.hand_N = 70, c.cold_hand_N = 60;
    }
    const stop::StopAnswer plain = stop::stop_answer({}, cases, {}, 180);
    const auto more = weighed(1.0, 0.6), less = weighed(-1.0, 0.6);
    ASSERT_TRUE(more && less);
    const stop::StopAnswer up = answer::weigh(plain, cases, *more), down = answer::weigh(plain, cases, *less);
    EXPECT_LT(up.brake_distance_m->p50, plain.brake_distance_m->p50);
    EXPECT_EQ(up.brake_distance_m->p95, plain.brake_distance_m->p95);
    EXPECT_EQ(up.weak_share, plain.weak_share);
    EXPECT_EQ(up.lever_force_N.p95, plain.lever_force_N.p95);
    EXPECT_GT(down.brake_distance_m->p95, plain.brake_distance_m->p95);
    EXPECT_GT(down.weak_share, plain.weak_share);
    // One that does not stop in more than one case in twenty does not stop, whoever brakes.
    std::vector<stop::StopCase> some = cases;
    for (std::size_t i = 0; i < n; ++i)
        if (shares().habits[i] < 0.45) some[i].brake_distance_m.reset(), some[i].room_needed_m.reset(), some[i].limited_by = stop::LimitedBy::does_not_stop;
    const stop::StopAnswer fails = stop::stop_answer({}, some, {}, 180);
    ASSERT_EQ(fails.limited_by, stop::LimitedBy::does_not_stop);
    const stop::StopAnswer still = answer::weigh(fails, some, *more);
    EXPECT_EQ(still.limited_by, stop::LimitedBy::does_not_stop);
    EXPECT_FALSE(still.brake_distance_m);
    EXPECT_EQ(still.not_stopping_share, fails.not_stopping_share);
}

TEST(CaseWeights, ALeverByWeightIsJudgedNoBolderThanWithout) {
    const auto library = parts::load_library();
    ASSERT_TRUE(library);
    const inspect::Practice practice = inspect::practice_of(*library);
    const auto lever = [](Interval full, double bite = 30) {
        stop::LeverAnswer l;
        l.bite_mm = {bite - 5, bite, bite + 5}, l.full_mm = full;
        return l;
    };
    const auto judged = [&](const stop::LeverAnswer& plain, const stop::LeverAnswer& by_weight) {
        const inspect::LeverPoints p = answer::worse_points(plain, by_weight, parts::Actuation::hydraulic, practice);
        return inspect::check_lever({.end = parts::End::front, .actuation = parts::Actuation::hydraulic, .bite_mm = p.bite_mm, .full_mm = p.full_mm, .uncertainty_mm = p.uncertainty_mm, .full_from = p.full_from}, practice);
    };
    // Plain 11 (-1 to 23): 6.6 % under the bar. By weight 12 (4 to 19): hardly any; the nearest points of both, 11 (-1 to 19): 3.5 %.
    const stop::LeverAnswer plain = lever({-1, 11, 23}), weighed_one = lever({4, 12, 19});
    EXPECT_EQ(judged(plain, plain).state, inspect::State::measure_better);
    EXPECT_EQ(judged(weighed_one, weighed_one).state, inspect::State::no_reason_found);
    EXPECT_EQ(judged(plain, weighed_one).state, inspect::State::measure_better);
    EXPECT_EQ(judged(weighed_one, plain).state, inspect::State::measure_better);
    // A lever that bites at the bar, or ends there, by either of the two is held back, and a hold stands over a wide spread.
    EXPECT_TRUE(judged(lever({4, 12, 19}, -1), weighed_one).do_not_ride);
    EXPECT_TRUE(judged(weighed_one, lever({4, 12, 19}, -1)).do_not_ride);
    EXPECT_TRUE(judged(plain, lever({-2, -0.1, 1})).do_not_ride);
    // Neither shows further from the bar than the other.
    const stop::LeverAnswer shown = answer::nearer(lever({-1, 11, 23}, 20), lever({4, 12, 19}, 30));
    EXPECT_EQ(shown.bite_mm.p50, 20);
    EXPECT_EQ(shown.full_mm.p05, -1);
    EXPECT_EQ(shown.full_mm.p95, 19);
    EXPECT_EQ(answer::nearer(lever({4, 12, 19}, 30), lever({-1, 11, 23}, 20)).bite_mm.p50, 20);
}
