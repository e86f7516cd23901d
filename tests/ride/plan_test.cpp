// SPDX-License-Identifier: Apache-2.0
// Planned rides: speeds that nobody rode, and what they ask of the brakes.
#include "ride/plan.hpp"

#include <gtest/gtest.h>

#include <algorithm>
#include <cmath>
#include <functional>

#include "base/interval.hpp"
#include "base/sampling.hpp"

using namespace bw;
using namespace bw::ride;

namespace {

constexpr double g = 9.80665;   // standard value, ISO 80000-3
constexpr double pi = 3.14159265358979323846;

// A way by its heights and headings along it, a point each `every` metres (on the map).
Route way(double length_m, double every_m, const std::function<double(double)>& height, const std::function<double(double)>& heading = {}) {
    Route r;
    r.file = "way.gpx";
    r.content_hash = 42;
    double x = 0, y = 0;
    for (double s = 0; s <= length_m + 1e-9; s += every_m) {
        r.distance_m.push_back(s);
        r.altitude_m.push_back(height(s));
        if (heading) {
            r.latitude_deg.push_back(-30 + y / 111195);
            r.longitude_deg.push_back(-20 + x / (111195 * std::cos(30 * pi / 180)));
            for (double d = 0; d < every_m - 1e-9; d += 0.25) {   // a fine line: the points lie on the arc
                x += 0.25 * std::sin(heading(s + d + 0.125));
                y += 0.25 * std::cos(heading(s + d + 0.125));
            }
        }
    }
    return r;
}

double straight(double) { return 0.7; }
double level(double) { return 100; }

const MotionParameters rider{.mass_kg = 90, .rotating_kg = 1.8, .drag_area_m2 = 0.40, .rolling_resistance = 0.006, .air_degC = 15};
const PlanHabits habits{.top_mps = 14, .swing = 0.2, .lateral_mps2 = 2.5, .braking_mps2 = 1.2, .coast_mps2 = 0.3, .pedal_W = 150};

MotionPaths planned(const Route& route, Style style, const MotionParameters& p = rider, const PlanHabits& h = habits) {
    const std::size_t key = 0;
    Result<MotionPaths> r = plan({}, route, style, {&p, 1}, {&h, 1}, {&key, 1});
    EXPECT_TRUE(r) << (r ? "" : r.error().text);
    return *r;
}

double fastest(const MotionPaths& m) { return *std::max_element(m.speed_mps.begin(), m.speed_mps.end()); }
double hardest_W(const MotionPaths& m) { return *std::max_element(m.paths[0].brake_power_W.begin(), m.paths[0].brake_power_W.end()); }
long braking_s(const MotionPaths& m) { return std::count(m.paths[0].braking.begin(), m.paths[0].braking.end(), 1); }

// A pass: 8 % over 4 km, rounded at both ends, and a level run-out.
double pass(double s) {
    if (s < 300) return 500;
    if (s > 4300) return 180;
    return 500 - 0.08 * (s - 300);
}
double pass_bends(double s) { return 0.9 * std::sin(s / 60) + 0.5 * std::sin(s / 23); }

Route with_noise(Route r, double sd_m, double length_m, double step_m, std::uint64_t seed) {
    double e = sd_m * normal_of(seed, 1, 0, 0);
    for (std::size_t i = 0; i < r.size(); ++i) {
        if (i > 0) {
            const double keep = std::exp(-(r.distance_m[i] - r.distance_m[i - 1]) / length_m);
            e = keep * e + std::sqrt(1 - keep * keep) * sd_m * normal_of(seed, 1, i, 0);
        }
        r.altitude_m[i] += e;
        if (step_m > 0) r.altitude_m[i] = step_m * std::round(r.altitude_m[i] / step_m);
    }
    return r;
}

}  // namespace

TEST(Plan, TheAccountOfEveryPathClosesWithNothingUnexplained) {
    for (const Style style : {Style::dragging, Style::short_hard}) {
        const MotionPaths m = planned(way(5000, 12, pass, pass_bends), style);
        const MotionPath& p = m.paths[0];
        EXPECT_NEAR(p.height_J + p.motion_J + p.rider_J, p.air_J + p.rolling_J + p.brakes_J, 1e-6 * p.height_J) << word_of(style);
        EXPECT_EQ(p.unexplained_J, 0);
        double sum = 0;
        for (const double W : p.brake_power_W) sum += W;
        EXPECT_NEAR(sum, p.brakes_J, 1e-6 * p.brakes_J) << "the grid of 1 s loses nothing";
    }
}

TEST(Plan, TheHeightOfTheAccountIsThatOfTheWay) {
    const MotionPaths m = planned(way(5000, 12, pass, straight), Style::dragging);
    EXPECT_NEAR(m.paths[0].height_J, 90 * g * 320, 0.01 * 90 * g * 320);
    EXPECT_NEAR(m.descent_m, 320, 4);
    EXPECT_LT(m.ascent_m, 2);
}

TEST(Plan, StartsAndArrivesAtAStandAndNeverGoesBack) {
    const MotionPaths m = planned(way(5000, 12, pass, pass_bends), Style::short_hard);
    EXPECT_EQ(m.speed_mps.front(), 0);
    EXPECT_EQ(m.speed_mps.back(), 0);
    for (std::size_t i = 1; i < m.size(); ++i) EXPECT_GE(m.distance_m[i], m.distance_m[i - 1]);
    EXPECT_NEAR(m.distance_m.back(), m.total_distance_m, 1e-6);
    EXPECT_NEAR(static_cast<double>(m.size()), m.duration_s + 1.5, 1);
}

TEST(Plan, TheTopSpeedIsNeverPassed) {
    for (const Style style : {Style::dragging, Style::short_hard})
        for (const double top : {6.0, 11.0, 17.0}) {
            PlanHabits h = habits;
            h.top_mps = top;
            EXPECT_LE(fastest(planned(way(5000, 12, pass, straight), style, rider, h)), top + 1e-9);
        }
}

TEST(Plan, AGentleSlopeIsRolledOutAtItsTerminalSpeedWithoutBrakes) {
    // 4 %: m g sin = air + rolling; found here by bisection, with this test's own equation and the ICAO density at 15 degC and 100 m.
    const double density = 101325 * std::pow(1 - 2.25577e-5 * 100, 5.2559) / (287.05 * 288.15);
    double low = 0, high = 40;
    for (int i = 0; i < 60; ++i) {
        const double v = 0.5 * (low + high);
        (90 * g * (0.04 - 0.006) / std::sqrt(1 + 0.04 * 0.04) > 0.5 * density * 0.40 * v * v ? low : high) = v;
    }
    PlanHabits h = habits;
    h.top_mps = 25;
    h.swing = 0;
    const MotionPaths m = planned(way(6000, 20, [](double s) { return 220 - 0.04 * s; }, straight), Style::dragging, rider, h);
    EXPECT_NEAR(fastest(m), low, 0.01 * low);
    const auto before_the_end = static_cast<std::size_t>(m.duration_s) - 40;
    for (std::size_t i = 0; i < before_the_end; ++i) EXPECT_EQ(m.paths[0].brake_power_W[i], 0) << i;
}

TEST(Plan, DraggingDownAnEvenSlopeTakesWhatHeightLeavesOverAirAndRolling) {
    // 10 % held at 8 m/s: power = v (m g sin - m g cos Crr - 1/2 rho CdA v^2), by this test's own numbers.
    PlanHabits h = habits;
    h.top_mps = 10;   // 0.8 of it is held
    const MotionPaths m = planned(way(3000, 10, [](double s) { return 400 - 0.10 * s; }, straight), Style::dragging, rider, h);
    const std::size_t middle = m.size() / 2;
    const double density = 101325 * std::pow(1 - 2.25577e-5 * m.altitude_m[middle], 5.2559) / (287.05 * 288.15);
    const double cosine = 1 / std::sqrt(1 + 0.10 * 0.10);
    const double power = 8 * (90 * g * cosine * (0.10 - 0.006) - 0.5 * density * 0.40 * 64);
    EXPECT_NEAR(m.speed_mps[middle], 8, 1e-9);
    EXPECT_NEAR(m.paths[0].brake_power_W[middle], power, 0.01 * power);   // heights pass through the smoother: under 1 %
}

TEST(Plan, TheSameHillInTheTwoStylesCostsNearlyTheSameEnergyButPeaksAndSecondsDiffer) {
    for (const double grade : {0.07, 0.09, 0.12}) {
        const Route hill = way(5000, 12, [&](double s) { return 700 - grade * std::clamp(s - 300, 0.0, 4000.0); }, straight);
        PlanHabits h = habits;
        h.top_mps = 12;
        // As the answer sets them: a dragging rider loses speed gently, a short and hard one firmly.
        PlanHabits hard = h;
        hard.braking_mps2 = 2.2;
        const MotionPaths drag = planned(hill, Style::dragging, rider, h), pulls = planned(hill, Style::short_hard, rider, hard);
        EXPECT_NEAR(pulls.paths[0].brakes_J / drag.paths[0].brakes_J, 1, 0.12) << grade;
        EXPECT_NEAR(pulls.duration_s / drag.duration_s, 1, 0.10) << grade;
        EXPECT_GT(hardest_W(pulls), 2 * hardest_W(drag)) << grade;
        EXPECT_LT(static_cast<double>(braking_s(pulls)), 0.6 * static_cast<double>(braking_s(drag))) << grade;
        std::printf("%.0f %%: dragging %.1f kJ, peak %.0f W, %ld s of %.0f; short and hard %.1f kJ, peak %.0f W, %ld s of %.0f\n", grade * 100, drag.paths[0].brakes_J / 1000, hardest_W(drag),
                    braking_s(drag), drag.duration_s, pulls.paths[0].brakes_J / 1000, hardest_W(pulls), braking_s(pulls), pulls.duration_s);
    }
}

TEST(Plan, BendsAreTakenAtTheSpeedOfTheLateralAcceleration) {
    // A bend of 20 m radius over a half turn, points each 5 m: sqrt(2.5 x 20) = 7.07 m/s.
    const auto heading = [](double s) { return s < 800 ? 0.0 : std::min(pi, (s - 800) / 20); };
    const MotionPaths m = planned(way(1600, 5, [](double s) { return 200 - 0.08 * s; }, heading), Style::dragging);
    double slowest = 1e9;
    for (std::size_t i = 0; i < m.size(); ++i)
        if (m.distance_m[i] > 815 && m.distance_m[i] < 850) slowest = std::min(slowest, m.speed_mps[i]);
    EXPECT_NEAR(slowest, std::sqrt(2.5 * 20), 0.04 * std::sqrt(2.5 * 20));
}

TEST(Plan, ABendIsFoundInSparsePointsToo) {
    const auto heading = [](double s) { return s < 2000 ? 0.0 : std::min(pi, (s - 2000) / 60); };
    for (const double every : {5.0, 20.0, 40.0}) {
        const MotionPaths m = planned(way(4000, every, [](double s) { return 400 - 0.08 * s; }, heading), Style::dragging);
        double tightest = 0;
        for (const double k : m.curvature_1pm) tightest = std::max(tightest, std::abs(k));
        EXPECT_NEAR(tightest * 60, 1, 0.35) << every << " m";
    }
}

TEST(Plan, PointsThatShakeByAMetreMakeNoBendsOnAStraightRoad) {
    Route r = way(4000, 10, [](double s) { return 400 - 0.08 * s; }, straight);
    for (std::size_t i = 0; i < r.size(); ++i) {
        r.latitude_deg[i] += 0.7 * normal_of(5, 2, i, 0) / 111195;
        r.longitude_deg[i] += 0.7 * normal_of(5, 2, i, 1) / 96300;
    }
    const MotionPaths m = planned(r, Style::dragging), clean = planned(way(4000, 10, [](double s) { return 400 - 0.08 * s; }, straight), Style::dragging);
    EXPECT_NEAR(m.duration_s / clean.duration_s, 1, 0.02);
    EXPECT_NEAR(m.paths[0].brakes_J / clean.paths[0].brakes_J, 1, 0.02);
}

TEST(PlanAltitude, NoiseOfAPlannersHeightsMakesNoBrakingOnALevelRoad) {
    // Errors as terrain models have them, and heights rounded to a metre. A level way brakes only at its end: 1/2 m v^2.
    const double stop_J = planned(way(10000, 25, level, straight), Style::dragging).paths[0].brakes_J;
    for (const auto& [sd, length, step] : {std::tuple{0.0, 30.0, 1.0}, {1.5, 30.0, 0.0}, {1.5, 30.0, 1.0}, {3.0, 40.0, 0.1}})
        for (const std::uint64_t seed : {1u, 2u, 3u}) {
            const MotionPaths m = planned(with_noise(way(10000, 25, level, straight), sd, length, step, seed), Style::dragging);
            EXPECT_LT(m.paths[0].brakes_J, stop_J + 1500) << sd << " m over " << length << " m, steps of " << step << " m, seed " << seed;
        }
}

TEST(PlanAltitude, NoiseOfAPlannersHeightsMovesTheEnergyOfAPassByFewPerCent) {
    const double clean_J = planned(way(5000, 12, pass, pass_bends), Style::dragging).paths[0].brakes_J;
    for (const auto& [sd, length, step] : {std::tuple{0.0, 30.0, 1.0}, {1.5, 30.0, 0.0}, {2.5, 40.0, 1.0}})
        for (const std::uint64_t seed : {1u, 2u, 3u}) {
            const MotionPaths m = planned(with_noise(way(5000, 12, pass, pass_bends), sd, length, step, seed), Style::dragging);
            EXPECT_NEAR(m.paths[0].brakes_J / clean_J, 1, 0.05) << sd << " m, seed " << seed;
        }
}

TEST(PlanAltitude, ABridgeOrTunnelThatTheTerrainModelDoesNotKnowIsNoHill) {
    Route r = way(4000, 20, level, straight);
    for (std::size_t i = 90; i < 94; ++i) r.altitude_m[i] -= 35;   // a bridge of 80 m over a gorge
    const MotionPaths m = planned(r, Style::dragging), clean = planned(way(4000, 20, level, straight), Style::dragging);
    EXPECT_LT(m.paths[0].brakes_J - clean.paths[0].brakes_J, 90 * g * 12) << "most of the 35 m must not become a descent";
}

TEST(PlanAltitude, AWayWithoutItIsLevelAndSaysSo) {
    Route r = way(3000, 20, level, straight);
    r.altitude_m.clear();
    const MotionPaths m = planned(r, Style::dragging);
    EXPECT_EQ(m.altitude_source, AltitudeSource::none);
    EXPECT_EQ(m.descent_m, 0);
    EXPECT_TRUE(std::any_of(m.faults.begin(), m.faults.end(), [](const Fault& f) { return f.kind == FaultKind::no_altitude; }));
}

TEST(Plan, AWayWithoutPositionsHasNoBendsAndSaysSo) {
    const MotionPaths m = planned(way(3000, 20, [](double s) { return 300 - 0.06 * s; }), Style::dragging);
    EXPECT_TRUE(m.curvature_1pm.empty());
    EXPECT_TRUE(std::any_of(m.faults.begin(), m.faults.end(), [](const Fault& f) { return f.kind == FaultKind::no_position; }));
    EXPECT_NEAR(m.paths[0].height_J, 90 * g * 180, 0.02 * 90 * g * 180) << "distances of such a way are along the road";
}

TEST(Plan, AWayOfTwoPlacesIsStraightAndItsDistanceIsThatOfTheMap) {
    Route r;
    r.file = "two";
    r.distance_m = {0, 5000};
    r.latitude_deg = {-30, -30 + 5000 / 111195.0};
    r.longitude_deg = {-20, -20};
    r.altitude_m = {900, 400};
    const Profile p = *profile_of(r);
    EXPECT_NEAR(p.step_m * static_cast<double>(p.size() - 1), std::hypot(5000.0, 500.0), 1) << "along the road";
    const auto said = std::find_if(p.faults.begin(), p.faults.end(), [](const Fault& f) { return f.kind == FaultKind::no_position; });
    ASSERT_NE(said, p.faults.end());
    EXPECT_NE(said->text.find("two points"), std::string::npos) << said->text;
}

TEST(Plan, AWayWhoseFirstPointHasNoPositionKeepsItsBends) {
    const Route whole = way(5000, 12, pass, pass_bends);
    Route part = whole;
    part.latitude_deg[0] = part.longitude_deg[0] = std::nan("");
    const Profile a = *profile_of(whole), b = *profile_of(part);
    ASSERT_EQ(a.curvature_1pm.size(), b.curvature_1pm.size());
    double most = 0;
    for (const double c : a.curvature_1pm) most = std::max(most, std::abs(c));
    ASSERT_GT(most, 0.01) << "bends tighter than 100 m";
    for (std::size_t i = 60; i < a.size(); ++i) EXPECT_NEAR(b.curvature_1pm[i], a.curvature_1pm[i], 1e-3 * most) << i;
}

TEST(Plan, HaltsCostTheEnergyOfMotionEach) {
    PlanHabits with = habits;
    with.stops_per_km = 1;
    with.halt_s = 10;
    with.coast_mps2 = 5;   // legs to the last, so that the speed is known
    PlanHabits without = with;
    without.stops_per_km = 0;
    const Route r = way(10000, 25, level, straight);
    const MotionPaths a = planned(r, Style::dragging, rider, with), b = planned(r, Style::dragging, rider, without);
    const double v = fastest(b);
    // Air and rolling take part of it on the way to each halt (v^2 / 2a of them), and the rider reaches that speed again in a kilometre.
    const double lost_N = 0.5 * 1.2 * 0.40 * 0.5 * v * v + 90 * g * 0.006;
    const double each_J = 0.5 * 91.8 * v * v - lost_N * v * v / (2 * 1.2);
    EXPECT_NEAR((a.paths[0].brakes_J - b.paths[0].brakes_J) / 10 / each_J, 1, 0.10);
    EXPECT_GT(a.duration_s, b.duration_s + 10 * 10);
}

TEST(Plan, ADifferentSeedPutsTheHaltsElsewhereAndTheSameSeedGivesTheSameBytes) {
    PlanHabits h = habits;
    h.stops_per_km = 0.7;
    h.halt_s = 8;
    const Route r = way(6000, 25, level, straight);
    const std::vector<MotionParameters> draws(8, rider);
    const std::vector<PlanHabits> hs(8, h);
    const std::vector<std::size_t> keys = {0, 1, 2, 3, 4, 5, 6, 7};
    Context one, two, other;
    one.threads = 1;
    two.threads = 2;
    other.seed = 2;
    const auto a = plan(one, r, Style::dragging, draws, hs, keys), b = plan(two, r, Style::dragging, draws, hs, keys), c = plan(other, r, Style::dragging, draws, hs, keys);
    ASSERT_TRUE(a && b && c);
    for (std::size_t k = 0; k < 8; ++k) {
        EXPECT_EQ(a->paths[k].brake_power_W, b->paths[k].brake_power_W);
        EXPECT_EQ(a->paths[k].own.speed_mps, b->paths[k].own.speed_mps);
    }
    EXPECT_NE(a->paths[0].own.speed_mps, c->paths[0].own.speed_mps);
    EXPECT_NE(a->paths[0].own.speed_mps, a->paths[1].own.speed_mps);
}

TEST(Plan, MoreMassMeansMoreBrakingAndMoreDragLess) {
    const Route r = way(5000, 12, pass, pass_bends);
    MotionParameters heavy = rider, wide = rider;
    heavy.mass_kg = 130;
    wide.drag_area_m2 = 0.7;
    const double base = planned(r, Style::dragging).paths[0].brakes_J;
    EXPECT_GT(planned(r, Style::dragging, heavy).paths[0].brakes_J, 1.3 * base);
    EXPECT_LT(planned(r, Style::dragging, wide).paths[0].brakes_J, 0.95 * base);
}

TEST(Plan, AHeadWindTakesFromTheBrakes) {
    const Route r = way(5000, 12, pass, straight);
    MotionParameters against = rider, behind = rider;
    against.wind_mps = 4;
    behind.wind_mps = -4;
    EXPECT_LT(planned(r, Style::dragging, against).paths[0].brakes_J, planned(r, Style::dragging, behind).paths[0].brakes_J - 10e3);
}

TEST(Plan, AWallIsClimbedSomehow) {
    const MotionPaths m = planned(way(1500, 10, [](double s) { return 100 + 0.25 * s; }, straight), Style::dragging);
    EXPECT_GT(m.total_distance_m, 1500);
    for (const double W : m.paths[0].brake_power_W) EXPECT_LT(W, 200);
    EXPECT_GT(m.paths[0].rider_J, 90 * g * 370);
}

TEST(Plan, TooShortAWayAndImpossibleHabitsAreRefused) {
    const std::size_t key = 0;
    PlanHabits none = habits;
    none.top_mps = 0;
    EXPECT_FALSE(plan({}, way(15, 5, level, straight), Style::dragging, {&rider, 1}, {&habits, 1}, {&key, 1}));
    EXPECT_FALSE(plan({}, way(1500, 5, level, straight), Style::dragging, {&rider, 1}, {&none, 1}, {&key, 1}));
}

TEST(Plan, TheSharedSeriesAreThoseOfThePathInTheMiddle) {
    std::vector<MotionParameters> draws;
    std::vector<PlanHabits> hs;
    std::vector<std::size_t> keys;
    for (std::size_t k = 0; k < 9; ++k) {
        draws.push_back(rider);
        hs.push_back(habits);
        hs.back().top_mps = 8 + static_cast<double>((5 * k) % 9);
        keys.push_back(k);
    }
    const auto m = plan({}, way(5000, 12, pass, straight), Style::dragging, draws, hs, keys);
    ASSERT_TRUE(m);
    const MotionPath& middle = m->paths[plan_middle(*m)];
    EXPECT_EQ(m->speed_mps, middle.own.speed_mps);
    int slower = 0;
    for (const MotionPath& p : m->paths) slower += p.own.duration_s > middle.own.duration_s ? 1 : 0;
    EXPECT_EQ(slower, 4);
    for (const MotionPath& p : m->paths) EXPECT_EQ(p.brake_power_W.size(), m->size());
}
