// SPDX-License-Identifier: Apache-2.0
// Likely cases weighed by the learned front share. Oracles: the normal distribution that was handed in, arithmetic, what may not happen.
#include <gtest/gtest.h>

#include <algorithm>
#include <cmath>
#include <numeric>

#include "../../src/answer/learned_share.hpp"
#include "answer/stopping.hpp"
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
        // Points of a normal sample are known to sqrt(p (1 - p)/effective)/density; evenly spread ones do better.
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
    for (const auto of : {&Interval::p05, &Interval::p50, &Interval::p95}) {   // shorter by weight: stays
        EXPECT_EQ((*up.brake_distance_m).*of, (*plain.brake_distance_m).*of);
        EXPECT_EQ((*up.room_needed_m).*of, (*plain.room_needed_m).*of);
        EXPECT_EQ(down.deceleration_mps2.*of, std::min(down.deceleration_mps2.*of, plain.deceleration_mps2.*of));
        EXPECT_GT((*down.brake_distance_m).*of, (*plain.brake_distance_m).*of);
    }
    EXPECT_LT(up.lever_force_N.p50, plain.lever_force_N.p50) << "the squeeze follows";
    EXPECT_EQ(up.weak_share, plain.weak_share);
    EXPECT_EQ(up.lever_force_N.p95, plain.lever_force_N.p95);
    EXPECT_GT(down.brake_distance_m->p95, plain.brake_distance_m->p95);
    EXPECT_GT(down.weak_share, plain.weak_share);
    // Hands have nothing to do with the share, nor has a stop with one brake: the cases that count differ in them by chance.
    std::vector<stop::StopCase> hands = cases;
    for (std::size_t i = 0; i < n; ++i) hands[i].hand_N = 70 + 20 * shares().habits[i], hands[i].cold_hand_N = 60 + 20 * shares().habits[i];
    const stop::StopAnswer by_hand = stop::stop_answer({}, hands, {}, 180), same = answer::weigh(by_hand, hands, *more);
    EXPECT_EQ(same.hand_force_N.p05, by_hand.hand_force_N.p05);
    EXPECT_EQ(same.cold_hand_force_N.p05, by_hand.cold_hand_force_N.p05);
    for (const stop::Brakes one : {stop::Brakes::front, stop::Brakes::rear}) {
        const stop::StopAnswer alone = stop::stop_answer({.brakes = one}, cases, {}, 180), still = answer::weigh(alone, cases, *more);
        EXPECT_EQ(still.brake_distance_m->p50, alone.brake_distance_m->p50);
        EXPECT_EQ(still.lever_force_N.p50, alone.lever_force_N.p50);
    }
    // What holds back belongs to the deceleration that is given, here that of all cases alike: most of the cases that count are held by the front tyre, most of all by skill.
    std::vector<stop::StopCase> held = cases;
    for (std::size_t i = 0; i < n; ++i) held[i].limited_by = shares().habits[i] > 0.62 ? stop::LimitedBy::front_grip : stop::LimitedBy::skill;
    const stop::StopAnswer all_alike = stop::stop_answer({}, held, {}, 180), leaning = answer::weigh(all_alike, held, *more);
    ASSERT_EQ(all_alike.limited_by, stop::LimitedBy::skill);
    ASSERT_EQ(stop::stop_answer({}, held, more->cases, 180).limited_by, stop::LimitedBy::front_grip);
    ASSERT_EQ(leaning.deceleration_mps2.p50, all_alike.deceleration_mps2.p50);
    EXPECT_EQ(leaning.limited_by, stop::LimitedBy::skill);
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
    // The force that it takes alone: the longer end of the two, else as without; the bite fits no better than without.
    stop::LeverAnswer hard = lever({4, 12, 19}), easy = hard;
    hard.force_03g_N = {50, 70, 90}, hard.force_lock_N = {100, 140, 180}, hard.in_window_share = 0.4;
    easy.force_03g_N = {48, 68, 87}, easy.force_lock_N = {98, 138, 176}, easy.in_window_share = 0.6;
    const stop::LeverAnswer a = answer::nearer(hard, easy), b = answer::nearer(easy, hard);
    EXPECT_EQ(a.force_03g_N.p95, 90);
    EXPECT_EQ(a.force_lock_N.p95, 180);
    EXPECT_EQ(b.force_03g_N.p95, 90);
    EXPECT_EQ(b.force_03g_N.p50, 68);
    EXPECT_EQ(a.in_window_share, 0.4);
    EXPECT_EQ(b.in_window_share, 0.4);
}

TEST(CaseWeights, TheBrakeThatIsNamedIsTheOneThatDoesMoreThanBefore) {
    // Learned 71 %, before it 59: the cases that count have 73, more than was learned. The wear says front.
    const answer::ShareWeighed s{.before = {0.45, 0.59, 0.72}, .now = {0.56, 0.71, 0.83}, .of_cases = {0.6, 0.73, 0.8}, .effective_anchors = 16, .effective_cases = 220, .whole = false};
    const auto c = answer::share_beyond_cases(s);
    ASSERT_TRUE(c);
    EXPECT_NE(c->text.find("front brake does 71 %"), std::string::npos) << c->text;
    EXPECT_EQ(c->text.find("rear"), std::string::npos) << c->text;
    EXPECT_EQ(c->text.find("more than the likely cases reach"), std::string::npos) << "they do reach it: " << c->text;
    EXPECT_EQ(answer::share_weighed_words(s).find("reach only"), std::string::npos);
    answer::ShareWeighed rear = s;
    rear.before.p50 = 0.6, rear.now.p50 = 0.35, rear.of_cases.p50 = 0.4;
    EXPECT_NE(answer::share_beyond_cases(rear)->text.find("rear brake does 65 % of the braking, more than the likely cases reach (60 %)"), std::string::npos) << answer::share_beyond_cases(rear)->text;
    EXPECT_NE(answer::share_weighed_words(rear).find("reach only"), std::string::npos);
}

TEST(StopByShare, JudgesLeversWithAndWithoutAndSaysWhatCasesDoNotReach) {
    const auto library = parts::load_library();
    ASSERT_TRUE(library);
    answer::StopQuestion q;
    q.cases = 256;
    q.bike = parts::default_bike(parts::BikeKind::trail, *library);
    q.bike.given.insert("front.lever.bite_mm");
    const answer::LearnedShare far{.logit_mean = middle, .logit_sd = spread, .z_mean = 2.6, .z_sd = 0.2, .anchors = shares().anchors, .habits = {shares().habits.begin(), shares().habits.begin() + anchor_cases}};
    const auto asked = [&](double bite_mm, bool learned) {
        q.bike.front.lever.bite_mm.value = bite_mm;
        q.learned = learned ? std::optional(far) : std::nullopt;
        const auto r = answer::stop_report(Context{}, *library, q);
        EXPECT_TRUE(r);
        return *r;
    };
    const auto has = [](const answer::StopReport& r, const char* code) { return std::any_of(r.verdict.reasons.begin(), r.verdict.reasons.end(), [&](const inspect::Reason& x) { return x.code == code; }); };
    const double bite_mm = 12;
    const answer::StopReport plain = asked(bite_mm, false), by_share = asked(bite_mm, true);
    EXPECT_FALSE(has(plain, "front_share_beyond_cases"));
    EXPECT_TRUE(has(by_share, "front_share_beyond_cases"));
    ASSERT_TRUE(by_share.share);
    EXPECT_TRUE(by_share.stops_by_share);
    EXPECT_LE(by_share.share->effective_cases, 256) << "of the cases of stops alone, not of those that it was learned with";
    const auto says = [](const answer::StopReport& r, const char* words) { return std::any_of(r.cautions.begin(), r.cautions.end(), [&](const std::string& c) { return c.find(words) != std::string::npos; }); };
    EXPECT_TRUE(says(by_share, "Squeezes of stops with both brakes"));
    // Asked about one brake alone: nothing that is shown of the stop is by weight, and no sentence says so.
    q.brakes = stop::Brakes::front;
    const answer::StopReport front = asked(bite_mm, true);
    q.brakes.reset();
    ASSERT_TRUE(front.share);
    EXPECT_FALSE(says(front, "Squeezes of stops with both brakes"));
    EXPECT_TRUE(says(front, "with one brake alone, and is without it"));
    const double without_mm = plain.levers[0].full_mm.p50, with_mm = by_share.levers[0].full_mm.p50;
    ASSERT_LT(with_mm, without_mm - 0.1);
    // Set so that its middle ends before the bar without the share and at it with.
    const double between_mm = bite_mm - 0.5 * (without_mm + with_mm);
    ASSERT_GT(between_mm, 5);
    EXPECT_FALSE(has(asked(between_mm, false), "front_lever_reaches_bar"));
    const answer::StopReport held = asked(between_mm, true);
    EXPECT_TRUE(has(held, "front_lever_reaches_bar"));
    EXPECT_TRUE(held.verdict.do_not_ride);
}

TEST(StopByShare, HoldsAndSpeedsAreNoBolderThanWithout) {
    const auto library = parts::load_library();
    ASSERT_TRUE(library);
    answer::StopQuestion q;
    q.cases = 256, q.grade = -0.12, q.room_m = 25;
    q.bike = parts::default_bike(parts::BikeKind::trail, *library);
    for (const double z : {1.5, -1.5}) {
        q.learned.reset();
        const auto plain = answer::stop_report(Context{}, *library, q);
        q.learned = answer::LearnedShare{.logit_mean = middle, .logit_sd = spread, .z_mean = z, .z_sd = 0.5, .anchors = shares().anchors, .habits = {shares().habits.begin(), shares().habits.begin() + anchor_cases}};
        const auto with = answer::stop_report(Context{}, *library, q);
        ASSERT_TRUE(plain && with && plain->hold && with->hold && with->stops_by_share);
        for (const auto of : {&Interval::p05, &Interval::p50, &Interval::p95}) {
            EXPECT_GE(with->hold->held_N.*of, plain->hold->held_N.*of);
            EXPECT_LE(with->hold->minutes.*of, plain->hold->minutes.*of);
            EXPECT_LE(with->expert_mps2[0].*of, plain->expert_mps2[0].*of);
        }
        EXPECT_GE(with->hold->cannot_share, plain->hold->cannot_share);
        for (std::size_t b = 0; b < 3; ++b) {
            EXPECT_LE(with->top_speed[b].at_all_mps, plain->top_speed[b].at_all_mps);
            EXPECT_LE(with->top_speed[b].within_room_mps, plain->top_speed[b].within_room_mps);
            if (b > 0) {
                EXPECT_EQ(with->top_speed[b].at_all_mps, plain->top_speed[b].at_all_mps) << "of one brake no share moves it";
            }
        }
        if (z > 0) {
            EXPECT_LT(with->top_speed[0].at_all_mps, plain->top_speed[0].at_all_mps) << "the front rotor takes more";
            EXPECT_GT(with->hold->held_N.p50, plain->hold->held_N.p50);
        }
        EXPECT_NE(answer::text_of(*with).find("the worse of with and without it is given"), std::string::npos);
    }
}
