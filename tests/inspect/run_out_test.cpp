// SPDX-License-Identifier: Apache-2.0
// Run-out: rotors made with known faults, read with a known dial, against what is said of them.
#include "inspect/run_out.hpp"

#include <gtest/gtest.h>

#include <fmt/format.h>

#include <boost/math/distributions/binomial.hpp>
#include <cmath>
#include <cstdio>
#include <cstdlib>
#include <string>

#include "inspect/verdict.hpp"
#include "made_rotor.hpp"
#include "practice.hpp"

using namespace bw::inspect;

namespace {

const RunOutBudget& budget() {
    static const RunOutBudget b = run_out_budget_of(*bw::parts::load_library());
    return b;
}

int seeds(int usual) {
    if (const char* n = std::getenv("BRAKEWRIGHT_RUN_OUT_SEEDS")) return std::max(20, std::atoi(n));
#if defined(__SANITIZE_ADDRESS__)
    return std::min(usual, 20);
#else
    return usual;
#endif
}

// Another set of rotors than the usual one: the usual set also chose constants, a fresh one only scores them.
std::uint64_t set_of_rotors() {
    const char* k = std::getenv("BRAKEWRIGHT_RUN_OUT_SET");
    return k ? std::strtoull(k, nullptr, 10) : 0;
}

std::vector<DialReading> read_of(const made::Rotor& r, int n, std::mt19937_64& g, const made::Dial& dial = {}, int repeats = 1) {
    std::vector<DialReading> out;
    for (const made::Look& l : made::looks(r, dial, n, g, repeats)) out.push_back({l.angle_deg, l.dial_mm});
    return out;
}

bool in(double x, const bw::Interval& i) { return x >= i.p05 && x <= i.p95; }
bool angle_in(double deg, const bw::Interval& i) { return in(i.p50 + made::apart(deg, i.p50), i); }

// hits of n are no reason to doubt a coverage of 85 to 95 %: a true one at either end would give as few or as many in 1 of 200.
testing::AssertionResult covers(const char* what, int hits, int n) {
    using boost::math::binomial_distribution;
    const double few = cdf(binomial_distribution<>(n, 0.85), hits), many = hits == 0 ? 1 : cdf(complement(binomial_distribution<>(n, 0.95), hits - 1));
    if (few >= 0.005 && many >= 0.005) return testing::AssertionSuccess();
    return testing::AssertionFailure() << what << ": 90 % intervals hold " << hits << " of " << n << ", " << 100.0 * hits / n << " %";
}

// Bends of two spacings keep their width, the widest come down to three.
void narrow_to_three_spacings(made::Rotor& r, int n) {
    const double least = 720.0 / n, most = std::max(70.0, 1.4 * least);
    for (made::Bend& b : r.bends) b.width_deg = least + (b.width_deg - least) * std::min(1.0, least / 2 / (most - least));
}

struct Tally {
    int rotors = 0, bends = 0, found = 0, invented = 0, angle = 0, height = 0, total = 0, tilt = 0, near = 0;
    int tilts = 0, tilt_angle = 0, saddles = 0, saddle = 0, saddle_angle = 0, arms = 0, arm = 0, arm_angle = 0;   // those that are told and there
};
// A bend is found if one is told within 40 degrees of it.
void count(Tally& t, const made::Rotor& r, const RunOut& o) {
    ++t.rotors;
    t.total += in(made::total_of(r), *o.total_mm);
    if (o.depth != RunOut::Depth::parts) return;
    t.tilt += in(r.tilt_mm, o.tilt->amplitude_mm);
    const auto top_in = [](double deg, const TurnPattern& p) { return in(p.angle_deg.p50 + made::apart(p.per_turn * deg, p.per_turn * p.angle_deg.p50) / p.per_turn, p.angle_deg); };
    if (r.tilt_mm >= 0.01) ++t.tilts, t.tilt_angle += top_in(r.tilt_deg, *o.tilt);
    if (r.saddle_mm > 0 && o.saddle && o.saddle->probability >= 0.5) ++t.saddles, t.saddle += in(r.saddle_mm, o.saddle->amplitude_mm), t.saddle_angle += top_in(r.saddle_deg, *o.saddle);
    if (r.arms && o.arms && o.arms->probability >= 0.5 && o.arms->per_turn == r.arms) ++t.arms, t.arm += in(r.arms_mm, o.arms->amplitude_mm), t.arm_angle += top_in(r.arms_deg, *o.arms);
    std::vector<bool> used(o.bends.size());
    for (const made::Bend& b : r.bends) {
        ++t.bends;
        int best = -1;
        double nearest = 40;
        for (std::size_t i = 0; i < o.bends.size(); ++i)
            if (const double off = std::fabs(made::apart(b.angle_deg, o.bends[i].angle_deg.p50)); !used[i] && off < nearest) nearest = off, best = static_cast<int>(i);
        if (best < 0) continue;
        used[best] = true;
        ++t.found;
        t.angle += angle_in(b.angle_deg, o.bends[best].angle_deg);
        t.height += in(b.height_mm, o.bends[best].height_mm);
        // 0.0094 mm: the dial of made_rotor.hpp by GUM, 0.01/sqrt 12 with 0.015/sqrt 3; twice that is its expanded uncertainty.
        t.near += nearest <= 8 && std::fabs(b.height_mm - o.bends[best].height_mm.p50) <= 0.02 + 2 * 0.0094;
    }
    for (const bool u : used) t.invented += !u;
}
void print(const char* what, int n, const Tally& t) {
    const auto share = [](int k, int of) { return of ? 100.0 * k / of : 0.0; };
    std::printf("| %s | %d | %d | %.1f | %d | %d | %d | %.1f | %.1f | %.1f | %.1f, %.1f | %.1f, %.1f of %d | %.1f, %.1f of %d |\n", what, n, t.rotors, share(t.total, t.rotors), t.bends, t.found, t.invented, share(t.angle, t.found),
                share(t.height, t.found), share(t.near, t.bends), share(t.tilt, t.rotors), share(t.tilt_angle, t.tilts), share(t.saddle, t.saddles), share(t.saddle_angle, t.saddles), t.saddles,
                share(t.arm, t.arms), share(t.arm_angle, t.arms), t.arms);
}

class ByAngles : public testing::TestWithParam<int> {};

}  // namespace

TEST_P(ByAngles, NinetyPercentIntervalsOnAngleAndHeightHoldEightyFiveToNinetyFive) {
    const int n = GetParam();
    std::mt19937_64 g(4000 + n + 1'000'000 * set_of_rotors());
    Tally t, narrow, wide;
    for (int s = 0; s < seeds(50); ++s) {
        made::Rotor r = made::any_rotor(g, n);
        if (s % 2) narrow_to_three_spacings(r, n);
        const auto o = run_out_of(read_of(r, n, g), budget());
        ASSERT_TRUE(o) << o.error().text;
        count(t, r, *o);
        count(s % 2 ? narrow : wide, r, *o);
        // The papers leave an older table out that was seen to move less than half of its limit.
        EXPECT_LT(o->total_mm->p50, 2 * o->seen_mm);
    }
    print("two to three spacings wide", n, narrow);
    print("from two spacings to 70 degrees", n, wide);
    print("both", n, t);
    EXPECT_TRUE(covers("total", t.total, t.rotors));
    if (n < 12) return;
    EXPECT_TRUE(covers("angle", t.angle, t.found));
    EXPECT_TRUE(covers("height", t.height, t.found));
    EXPECT_TRUE(covers("tilt", t.tilt, t.rotors));
    EXPECT_TRUE(covers("angle of the tilt", t.tilt_angle, t.tilts));
    EXPECT_TRUE(covers("saddle", t.saddle, t.saddles));
    EXPECT_TRUE(covers("angle of the saddle", t.saddle_angle, t.saddles));
    EXPECT_TRUE(covers("pattern of the arms", t.arm, t.arms));
    EXPECT_TRUE(covers("angle of the arms", t.arm_angle, t.arms));
    if (n < 36) return;
    // Nine in ten of all bends of two spacings or more, told or not, are told within 8 degrees and 0.02 mm plus the instrument.
    EXPECT_GE(cdf(boost::math::binomial_distribution<>(t.bends, 0.9), t.near), 0.005) << t.near << " of " << t.bends;
}
INSTANTIATE_TEST_SUITE_P(RunOut, ByAngles, testing::Values(8, 12, 18, 24, 36), [](const auto& i) { return std::to_string(i.param); });

TEST(RunOut, AtThirtySixAnglesBendsAreWithinEightDegreesAndTwoHundredthsPlusTheInstrument) {
    std::mt19937_64 g(77);
    Tally t;
    for (int s = 0; s < seeds(40); ++s) {
        made::Rotor r = made::any_rotor(g, 36);
        narrow_to_three_spacings(r, 36);
        count(t, r, *run_out_of(read_of(r, 36, g), budget()));
    }
    print("20 to 30 degrees wide", 36, t);
    EXPECT_GE(t.near, 0.95 * t.found);
    EXPECT_GE(t.found, 0.95 * t.bends);
}

TEST(RunOut, ARotorWithoutBendsIsSeldomToldToHaveOne) {
    std::mt19937_64 g(78);
    Tally t;
    for (int s = 0; s < seeds(60); ++s) {
        made::Rotor r = made::any_rotor(g, 36);
        r.bends.clear();
        count(t, r, *run_out_of(read_of(r, 36, g), budget()));
    }
    print("no bends", 36, t);
    EXPECT_LE(t.invented, 0.1 * t.rotors);
}

TEST(RunOut, FewerAnglesSayLess) {
    std::mt19937_64 g(5);
    const made::Rotor r = made::any_rotor(g, 36);
    for (const int n : {4, 6, 7, 8, 11, 12, 36}) {
        const RunOut o = *run_out_of(read_of(r, n, g), budget());
        EXPECT_EQ(o.depth, n < 8 ? RunOut::Depth::only_seen : n < 12 ? RunOut::Depth::total : RunOut::Depth::parts) << n;
        EXPECT_EQ(o.total_mm.has_value(), n >= 8) << n;
        EXPECT_EQ(o.tilt.has_value(), n >= 12) << n;
        if (n < 12) {
            EXPECT_TRUE(o.bends.empty() && o.perhaps.empty() && !o.saddle && !o.arms) << n;
            EXPECT_NE(words_of(o, budget()).back().find("cannot tell a tilted seat from bends"), std::string::npos);
        }
    }
    // Twelve that leave half of the turn out are no twelve.
    std::vector<DialReading> half = read_of(r, 24, g);
    half.resize(12);
    EXPECT_EQ(run_out_of(half, budget())->depth, RunOut::Depth::only_seen);
}

TEST(RunOut, WhatIsNoTurnIsRefused) {
    EXPECT_FALSE(run_out_of(std::vector<DialReading>{{0, 1}, {90, 1}, {180, 1}}, budget()));
    EXPECT_FALSE(run_out_of(std::vector<DialReading>{{0, 1}, {90, 1}, {180, 1}, {540, 1}}, budget())) << "540 is 180 again";
    EXPECT_FALSE(run_out_of(std::vector<DialReading>{{0, 1}, {90, std::nan("")}, {180, 1}, {270, 1}}, budget()));
}

TEST(RunOut, TheSameReadingsGiveTheSameBytes) {
    std::mt19937_64 g(6);
    const std::vector<DialReading> read = read_of(made::any_rotor(g, 24), 24, g);
    const RunOut a = *run_out_of(read, budget()), b = *run_out_of(read, budget());
    EXPECT_EQ(*a.total_mm, *b.total_mm);
    ASSERT_EQ(a.bends.size(), b.bends.size());
    for (std::size_t i = 0; i < a.bends.size(); ++i) EXPECT_EQ(a.bends[i].angle_deg, b.bends[i].angle_deg);
}

// What one table says, figure for figure: who moves it raises run_out_model and writes the new ones here.
TEST(RunOutModel, TheNumberGoesWithWhatOneTableSays) {
    made::Rotor r;
    r.tilt_mm = 0.1, r.tilt_deg = 30, r.saddle_mm = 0.06, r.saddle_deg = 100, r.bends = {{200, -0.25, 50, 1}};
    std::vector<DialReading> read;
    for (int i = 0; i < 12; ++i) read.push_back({i * 30.0, std::round(100 * (2 + made::height_at(r, i * 30.0))) / 100});
    const RunOut o = *run_out_of(read, budget());
    std::string figures;
    for (const double x : {o.total_mm->p50, o.tilt->amplitude_mm.p50, o.saddle->amplitude_mm.p05, o.saddle->angle_deg.p95, o.shape[50].dial_mm.p05}) figures += fmt::format("{:.6g} ", x);
    EXPECT_EQ(run_out_model, 1);
    EXPECT_EQ(figures, "0.528106 0.0966234 0.0289472 123.619 0.124254 ");
}

TEST(RunOut, ASaddleIsLessSureWhereBendsStayUntold) {
    made::Rotor r;
    r.tilt_mm = 0.1, r.saddle_mm = 0.07, r.saddle_deg = 40;
    RunOutBudget told = budget();
    told.untold_at_12 = 0;
    const auto width = [&](int n, const RunOutBudget& b) {
        std::mt19937_64 g(15);
        const RunOut o = *run_out_of(read_of(r, n, g), b);
        return o.saddle->angle_deg.p95 - o.saddle->angle_deg.p05;
    };
    EXPECT_GT(width(12, budget()), 1.5 * width(12, told));
    EXPECT_LT(width(36, budget()), 1.2 * width(36, told)) << "at 36 angles bends are told";
}

TEST(RunOut, MoreTurnsOfAShakyHandNarrowTheInterval) {
    made::Rotor r;
    r.bends = {{100, 0.2, 45, 0}};
    std::mt19937_64 g(8);
    RunOutBudget shaky = budget();
    shaky.dial.repeat_sd = 0.03;
    const made::Dial dial{.permitted_mm = 0, .scatter_mm = 0.03, .play_mm = 0};
    const auto width = [&](int repeats) {
        const RunOut o = *run_out_of(read_of(r, 24, g, dial, repeats), shaky);
        return o.bends.size() == 1 ? o.bends[0].height_mm.p95 - o.bends[0].height_mm.p05 : 1;
    };
    const double once = width(1), often = width(9);
    EXPECT_LT(often, 0.6 * once);   // the scatter alone would be a third
}

TEST(RunOut, MeasuredBearingPlayIsInTheIntervals) {
    std::mt19937_64 g(14);
    RunOutBudget loose = budget();
    loose.bearing_play_mm = 0.1, loose.play_measured = true;
    const made::Dial dial{.play_mm = 0.1};
    Tally t;
    double tight_mm = 0, loose_mm = 0;
    for (int s = 0; s < seeds(40); ++s) {
        const made::Rotor r = made::any_rotor(g, 24);
        const RunOut o = *run_out_of(read_of(r, 24, g, dial), loose), firm = *run_out_of(read_of(r, 24, g), budget());
        count(t, r, o);
        loose_mm += o.total_mm->p95 - o.total_mm->p05, tight_mm += firm.total_mm->p95 - firm.total_mm->p05;
    }
    print("play of 0.1 mm", 24, t);
    EXPECT_TRUE(covers("total", t.total, t.rotors));
    EXPECT_TRUE(covers("angle", t.angle, t.found));
    EXPECT_TRUE(covers("height", t.height, t.found));
    EXPECT_GT(loose_mm, 1.5 * tight_mm);
    made::Rotor bent;
    bent.bends = {{100, 0.2, 45, 0}};
    const RunOut o = *run_out_of(read_of(bent, 36, g), loose);
    EXPECT_NE(words_of(o, loose)[1].find("Bearing play of 0.10 mm, as measured"), std::string::npos);
    EXPECT_NE(words_of(o, budget())[1].find("To measure it"), std::string::npos);
}

TEST(RunOut, PushedAsToldTheRotorRunsAsStraightAsExpected) {
    std::mt19937_64 g(9);
    int rotors = 0, as_told = 0, straighter = 0;
    for (int s = 0; s < seeds(25); ++s) {
        made::Rotor r = made::any_rotor(g, 36);
        const RunOut o = *run_out_of(read_of(r, 36, g), budget());
        if (o.bends.empty()) continue;
        bw::Interval after = *o.total_mm;
        const auto without_tilt = [&] {
            made::Rotor flat = r;
            flat.tilt_mm = 0;
            return made::total_of(flat);
        };
        const double before_mm = without_tilt();
        std::normal_distribution<double> miss(0, budget().push_sd);
        for (const Bend& b : o.bends) {
            if (std::fabs(b.height_mm.p50) < budget().worth_mm) continue;
            r.bends.push_back({b.angle_deg.p50, -b.height_mm.p50 * (1 + miss(g)), b.width_deg.p50, 1});
            after = b.after_mm;
        }
        ++rotors;
        as_told += made::total_of(r) <= after.p95;
        straighter += without_tilt() < before_mm;
    }
    EXPECT_GE(as_told, 0.85 * rotors) << rotors;
    EXPECT_GE(straighter, 0.9 * rotors) << "a seat that is put right leaves the bends alone";
}

TEST(RunOut, WordsSaySeatFirstAndCallNothingSafe) {
    made::Rotor r;
    r.tilt_mm = 0.1, r.tilt_deg = 30, r.bends = {{200, -0.25, 40, 1}};
    std::mt19937_64 g(10);
    const RunOut o = *run_out_of(read_of(r, 36, g), budget());
    std::string all;
    for (const std::string& line : words_of(o, budget())) all += line + "\n";
    EXPECT_NE(all.find("1. The seat first"), std::string::npos) << all;
    EXPECT_NE(all.find("push towards the dial"), std::string::npos) << all;
    EXPECT_NE(all.find("qualified mechanic"), std::string::npos);
    EXPECT_NE(all.find("maker"), std::string::npos);
    for (const char* word : {"safe", "fit to ride", "harmless", "no danger"}) EXPECT_EQ(all.find(word), std::string::npos) << word;
}

TEST(RunOutRule, WhatWasReadHoldsBackAndNothingClears) {
    for (const double tilt_mm : {0.01, 0.1, 0.2, 0.3, 0.6})
        for (const int n : {4, 8, 36}) {
            made::Rotor r;
            r.tilt_mm = tilt_mm;
            std::mt19937_64 g(11);
            const RunOut o = *run_out_of(read_of(r, n, g), budget());
            const Check c = check_run_out({.end = bw::parts::End::front, .run_out = &o}, practice());
            EXPECT_EQ(c.do_not_ride, 2 * tilt_mm > practice().run_out_hold_mm) << c.text;
            EXPECT_EQ(c.do_not_ride, c.text.rfind("Do not ride", 0) == 0);
            EXPECT_GE(static_cast<int>(c.state), static_cast<int>(State::measure_better)) << c.text;
        }
    EXPECT_EQ(check_run_out({}, practice()).state, State::measure_better);
}

TEST(RunOutRule, TheMakersLimitHoldsBackClearsWithRoomAndNeverOutranksTheUsualGap) {
    const auto said = [](double total_mm, int n, double limit_mm) {
        made::Rotor r;
        r.tilt_mm = total_mm / 2;
        std::mt19937_64 g(13);
        const RunOut o = *run_out_of(read_of(r, n, g), budget());
        return check_run_out({.end = bw::parts::End::rear, .run_out = &o, .limit_mm = limit_mm}, practice());
    };
    EXPECT_EQ(said(0.2, 24, 0.15).state, State::held_back);
    EXPECT_EQ(said(0.2, 4, 0.15).state, State::held_back) << "what was seen is enough";
    EXPECT_EQ(said(0.2, 24, 0.3).state, State::no_reason_found);
    EXPECT_TRUE(said(0.2, 24, 0.3).done);
    EXPECT_EQ(said(0.2, 4, 0.3).state, State::measure_better) << "4 angles do not clear";
    EXPECT_EQ(said(0.6, 24, 1.0).state, State::held_back) << "common practice may hold back whatever the maker says";
    EXPECT_EQ(said(0.4, 24, 0.6).state, State::no_reason_found) << "the maker's limit stands in place of the lower figure of common practice";
}

TEST(RunOut, HolesCountAsFewerAngles) {
    const auto even = [](std::vector<double> deg) {
        std::vector<DialReading> looks;
        for (const double d : deg) looks.push_back({d, 1});
        return even_angles_of(looks);
    };
    EXPECT_EQ(even({0, 90, 180, 270}), 4);
    EXPECT_EQ(even({0, 90, 180, 270, 360, 90}), 4) << "repeats are no more angles";
    EXPECT_EQ(even({0, 10, 20, 30, 180}), 2);
    EXPECT_EQ(even({0}), 0);
}

TEST(ThicknessAround, NinetyPercentIntervalsOfLeastAndVariationHold) {
    std::mt19937_64 g(12);
    std::normal_distribution<double> normal(0, 1);
    int least = 0, variation = 0;
    const int rounds = seeds(400);
    for (int s = 0; s < rounds; ++s) {
        const int n = 4 + s % 13;
        const double spread = std::pow(10, -2.5 + 1.2 * (s % 7) / 6), shared = 0.005 * normal(g);
        std::vector<double> read;
        double low = 1e9, high = -1e9;
        for (int i = 0; i < n; ++i) {
            const double t = 1.8 + spread * normal(g);
            low = std::min(low, t), high = std::max(high, t);
            read.push_back(t + shared + 0.004 * normal(g));
        }
        const ThicknessAround a = thickness_around(read, 0.004, 0.005);
        EXPECT_EQ(a.places, n);
        least += in(low, a.least_mm);
        variation += in(high - low, a.variation_mm);
    }
    EXPECT_TRUE(covers("least thickness", least, rounds));
    EXPECT_TRUE(covers("variation", variation, rounds));
}
