// SPDX-License-Identifier: Apache-2.0
// The simulated stops, what is read of them, the oracle and the judge's scores hold what README.md says of them.   Layer: tests/proved
// Oracles: conservation, closed forms, published decelerations, stated spreads, coverage of one who knows the law.
#include <gtest/gtest.h>

#include <cmath>
#include <cstdlib>
#include <filesystem>
#include <fstream>
#include <regex>
#include <set>
#include <sstream>

#include "../worn/score.hpp"
#include "bw_paths.hpp"
#include "oracle.hpp"
#include "score.hpp"

namespace {
using namespace proved;

constexpr std::uint64_t test_seed = 700001;   // in no set of plan.csv

Bike plain_bike() {   // no air, no rolling, no threshold, no change of friction: closed forms hold
  Bike b = make_bike(test_seed);
  b.drag_area_m2 = 0;
  b.rolling = 0;
  b.grip = 20;
  for (Brake& k : b.brakes) {
    k.threshold_N = 0;
    k.warm_fall_per_K = 0;
    k.low_speed_rise = 0;
  }
  return b;
}

TEST(ProvedStop, WithConstantDecelerationItIsHalfTheSquareOfTheSpeedOverIt) {
  const Bike b = plain_bike();
  for (const double v : {3.0, 6.7, 9.0})
    for (int w = 0; w < 2; ++w) {
      Stop s;
      s.from_mps = v;
      s.force_N[static_cast<std::size_t>(w)] = reference_force_N(b, w);
      const double a = reference_decel_mps2[static_cast<std::size_t>(w)];
      const Halt r = run_stop(b, s);
      ASSERT_TRUE(r.halted);
      EXPECT_NEAR(r.distance_m, v * v / (2 * a), 1e-9);   // each step is exact for a constant deceleration: rounding of some thousand sums
      EXPECT_NEAR(r.time_s, v / a, 1e-9);
    }
}

TEST(ProvedStop, AFreeLeverAndALinearRiseAddTheWayOfTheirClosedForm) {
  const Bike b = plain_bike();
  Stop s;
  s.from_mps = 7;
  s.free_s = 0.1;
  s.rise_s = 0.3;
  s.force_N[0] = reference_force_N(b, 0);
  const double a = reference_decel_mps2[0], after = 7 - a * 0.3 / 2;
  const Halt r = run_stop(b, s);
  // v t - a t^2/6 over the rise. Midpoint of a linear ramp: the error per rise is a rise step^2/24, far under a micrometre.
  EXPECT_NEAR(r.distance_m, 7 * 0.1 + 7 * 0.3 - a * 0.3 * 0.3 / 6 + after * after / (2 * a), 1e-6);
  EXPECT_NEAR(r.time_s, 0.4 + after / a, 1e-9);
}

TEST(ProvedStop, TheSpeedsEnergyAndTheHeightGoIntoBrakesAirAndRolling) {
  for (std::uint64_t seed = test_seed; seed < test_seed + 60; ++seed) {
    const Bike b = make_bike(seed);
    for (const double grade : {-0.04, 0.0, 0.04}) {
      Stop s{.from_mps = 7, .grade = grade, .wind_mps = 1, .free_s = 0.1, .rise_s = 0.25, .force_N = {reference_force_N(b, 0), reference_force_N(b, 1)}, .waver = 0.08, .trend = 0.05};
      s.warm_K = {40, 20};
      const Halt r = run_stop(b, s);
      ASSERT_TRUE(r.halted);
      const double motion = moved_mass_kg(b) * 49 / 2;
      EXPECT_NEAR(r.brake_J[0] + r.brake_J[1] + r.air_J + r.rolling_J + r.climb_J, motion, 1e-9 * motion);   // the step's work is exact
      EXPECT_NEAR(r.climb_J, b.mass_kg * 9.81 * grade / std::sqrt(1 + grade * grade) * r.distance_m, 1e-6 * motion);
    }
  }
}

TEST(ProvedStop, MoreForceStopsShorterSteeperDownLongerAndTheStepHardlyMatters) {
  for (std::uint64_t seed = test_seed; seed < test_seed + 40; ++seed) {
    const Bike b = make_bike(seed);
    double before = 1e9;
    for (double part = 0.5; part < 1.3; part += 0.1) {
      Stop s{.from_mps = 7, .free_s = 0.1, .rise_s = 0.2, .force_N = {part * reference_force_N(b, 0), 0}};
      const double level = run_stop(b, s).distance_m;
      EXPECT_LT(level, before);
      before = level;
      s.grade = -0.03;
      EXPECT_GT(run_stop(b, s).distance_m, level);
      s.grade = 0;
      EXPECT_NEAR(run_stop(b, s, 0.005).distance_m, level, 2e-3 * level);   // the oracle's step
    }
  }
}

TEST(ProvedStop, ARearWheelSlidesAtTheDerivedLimitOfItsGrip) {
  // a = mu g b/(L + mu h), b from the front axle: derived in ../shared/SOURCES.md 8.3, where mu 0.8, L 1.05, b 0.6, h 1.1 give 2.44 m/s2.
  Bike b = plain_bike();
  b.wheelbase_m = 1.05;
  b.from_front_m = 0.6;
  b.height_m = 1.1;
  b.grip = 0.8;
  b.wheel_inertia_kgm2 = 0;
  const double limit = 0.8 * 9.81 * 0.6 / (1.05 + 0.8 * 1.1);
  EXPECT_NEAR(limit, 2.44, 0.005);
  for (const double part : {0.98, 1.02}) {
    Stop s{.from_mps = 7};
    s.force_N[1] = part * limit * b.mass_kg / b.brakes[1].slope;
    // It grips again as soon as the slide unloads the front: about every other step slides.
    EXPECT_EQ(run_stop(b, s).slid_share > 0.1, part > 1) << part;
  }
}

TEST(ProvedBikes, GainsAndStopsLieWhereBicyclesDo) {
  for (std::uint64_t seed = test_seed; seed < test_seed + 500; ++seed) {
    const Bike b = make_bike(seed);
    for (int w = 0; w < 2; ++w) {
      // Tyre force over lever force: 1 to 7; 335 N for 178 N (16 CFR 1512.5's proof on both brakes, derived in SOURCES 3) is 0.94 each at least.
      const double ratio = sound_gain(b, w) * moved_mass_kg(b);
      EXPECT_GT(ratio, 0.94) << seed;
      EXPECT_LT(ratio, 8) << seed;
      EXPECT_LT(reference_force_N(b, w), 180) << seed;
    }
    // Pitch-over of an upright bicycle about 0.56 g (SOURCES 8.3); cargo bikes are longer and lower.
    if (b.kind != Kind::cargo) {
      EXPECT_GT(lift_limit_mps2(b) / 9.81, 0.40) << seed;
      EXPECT_LT(lift_limit_mps2(b) / 9.81, 0.80) << seed;
    }
  }
}

TEST(ProvedBikes, OneBrakeAloneStopsWithAnOrdinaryPersonsDeceleration) {
  // Rear alone at the most 0.25 to 0.37 g, both 0.40 to 0.71 g with the utmost effort (SAE 2020-01-0876): a proof stop is milder.
  for (std::uint64_t seed = test_seed; seed < test_seed + 40; ++seed)
    for (const Row& r : make_case(seed, Scenario::again).rows) {
      EXPECT_TRUE(r.truth.halted);
      EXPECT_LE(r.truth.slid_share, 0.1);
      EXPECT_LT(r.truth.deepest_mps2, r.pulled == Pulled::rear ? 0.37 * 9.81 : 0.71 * 9.81) << seed;
      EXPECT_GT(r.truth.distance_m, 3) << seed;
      EXPECT_LT(r.truth.distance_m, 60) << seed;
    }
}

TEST(ProvedReadings, ErrAsTheReadmeSays) {
  double taped = 0, paced = 0, thumb = 0;
  int tapes = 0, paces = 0, thumbs = 0;
  for (std::uint64_t seed = test_seed; seed < test_seed + 300; ++seed)
    for (const Row& r : make_case(seed, Scenario::mixed).rows) {
      const double off = std::log(r.distance_m / r.truth.distance_m);
      (r.taped ? taped : paced) += off * off;
      ++(r.taped ? tapes : paces);
      if (r.time_s) {
        const double late = *r.time_s - r.truth.time_s;
        thumb += late * late;
        ++thumbs;
      }
      if (r.force_N) {
        EXPECT_NE(r.pulled, Pulled::both);
        EXPECT_NEAR(std::remainder(*r.force_N, 5.0), 0, 1e-9);
      }
      if (!r.taped) {
        EXPECT_NEAR(std::remainder(r.distance_m, 0.5), 0, 1e-9);
      }
    }
  // Tape: mark 0.07 s at 6.8 m/s is 0.5 m of 12 m. Paces: 5.7 % more and 0.14 m of rounding.
  EXPECT_NEAR(std::sqrt(taped / tapes), 0.045, 0.015);
  EXPECT_NEAR(std::sqrt(paced / paces), 0.075, 0.015);
  EXPECT_NEAR(std::sqrt(thumb / thumbs), std::sqrt(0.05 * 0.05 + 0.0233), 0.02);
}

TEST(ProvedCases, OneSeedIsOneCaseAndAFaultLeavesSixTenths) {
  for (std::uint64_t seed = test_seed; seed < test_seed + 30; ++seed) {
    const Case a = make_case(seed, Scenario::faded), b = make_case(seed, Scenario::faded);
    ASSERT_EQ(a.rows.size(), 20u);
    for (std::size_t i = 0; i < a.rows.size(); ++i) EXPECT_EQ(a.rows[i].distance_m, b.rows[i].distance_m);
    EXPECT_NEAR(a.share[0] * a.share[1], 0.6, 1e-12);
    for (int w = 0; w < 2; ++w) {
      const auto i = static_cast<std::size_t>(w);
      EXPECT_EQ(a.scaled[i], 5);
      EXPECT_EQ(a.scaled_history[i], 5);
      EXPECT_NEAR(std::log(a.gain[i] / sound_gain(a.bike, w) / a.share[i]), 0, 5 * 0.03);   // the day's friction, 5 sd
    }
  }
}

TEST(ProvedCases, TheGainIsTheDecelerationThatTheBrakeGivesPerNewton) {
  // A quiet stop of the sound brake at its reference force: speed squared over twice the way is the reference deceleration, air and rolling aside.
  for (std::uint64_t seed = test_seed; seed < test_seed + 40; ++seed) {
    Bike b = make_bike(seed);
    b.drag_area_m2 = b.rolling = 0;
    for (int w = 0; w < 2; ++w) {
      Stop s{.from_mps = 6};
      s.force_N[static_cast<std::size_t>(w)] = reference_force_N(b, w);
      // 3 %: the stop warms the rotor by some 40 K, and friction rises toward the halt.
      EXPECT_NEAR(36 / (2 * run_stop(b, s).distance_m) / reference_force_N(b, w) / sound_gain(b, w), 1, 0.03) << seed;
    }
  }
}

TEST(ProvedCases, SetsHaveSeedsOfTheirOwn) {
  std::ifstream in(std::string(BW_ROOT) + "/tests/proved/plan.csv");
  std::string line;
  std::getline(in, line);
  std::set<int> seen;
  std::size_t sum = 0;
  while (std::getline(in, line)) {
    std::smatch m;
    ASSERT_TRUE(std::regex_match(line, m, std::regex("[a-z]+,(\\d+),(\\d+)"))) << line;
    for (int seed = std::stoi(m[1]); seed <= std::stoi(m[2]); ++seed, ++sum) seen.insert(seed);
  }
  EXPECT_GE(sum, 460u);
  EXPECT_EQ(seen.size(), sum);
}

TEST(ProvedOracle, ItsNinetyAndFiftyPerCentHoldAndItsAlarmIsRight) {
  Share ninety, fifty, found, wrong;
  for (std::uint64_t seed = test_seed; seed < test_seed + 120; ++seed)
    for (const Scenario s : {Scenario::first, Scenario::faded}) {
      const Case c = make_case(seed, s);
      for (int w = 0; w < 2; ++w) {
        const auto i = static_cast<std::size_t>(w);
        const Known k = oracle(c, w);
        const auto q = quantiles(k);
        ninety.add(std::to_string(seed), q[0] <= c.gain[i] && c.gain[i] <= q[4]);
        fifty.add(std::to_string(seed), q[1] <= c.gain[i] && c.gain[i] <= q[3]);
        if (s == Scenario::faded) (c.share[i] < 1 ? found : wrong).add(std::to_string(seed), k.alarm);
      }
    }
  // Three standard errors, and 2 points for a posterior that is taken as normal.
  EXPECT_NEAR(ninety.value(), 0.9, 3 * ninety.standard_error() + 0.02);
  EXPECT_NEAR(fifty.value(), 0.5, 3 * fifty.standard_error() + 0.02);
  EXPECT_GE(found.value(), 0.95);
  EXPECT_LE(wrong.value(), 0.05);
}

TEST(ProvedOracle, DoesNotReadTheTruth) {
  Case c = make_case(test_seed, Scenario::faded);
  const Known before = oracle(c, 0);
  c.gain = {9, 9};
  c.share = {1, 1};
  for (Brake& k : c.bike.brakes) k.slope = k.threshold_N = k.warm_fall_per_K = 99;
  c.bike.mass_kg = c.bike.drag_area_m2 = c.bike.stop_scatter = 77;
  for (Row& r : c.rows) r.truth = Halt{};
  const Known after = oracle(c, 0);
  EXPECT_EQ(before.log_gain, after.log_gain);
  EXPECT_EQ(before.log_sd, after.log_sd);
}

TEST(ProvedOracle, WithoutAScaledStopKnowsWhatSuchBikesHaveAndWithOneMore) {
  Case c = make_case(test_seed, Scenario::first);
  const Known five = oracle(c, 0);
  for (std::size_t i = 0; i < c.rows.size(); ++i)
    if (i > 0) c.rows[i].force_N.reset();
  const Known one = oracle(c, 0);
  c.rows[0].force_N.reset();
  const Known none = oracle(c, 0);
  EXPECT_FALSE(none.weighed);
  EXPECT_LT(five.log_sd, one.log_sd);
  EXPECT_LT(one.log_sd, none.log_sd);
}

TEST(ProvedScore, AShareOfLoneItemsHasTheBinomialErrorAndTwinsHaveMore) {
  Share lone, twins;
  for (int i = 0; i < 50; ++i) {
    lone.add(std::to_string(i), i < 40);
    twins.add(std::to_string(i), i < 40);
    twins.add(std::to_string(i), i < 40);
  }
  EXPECT_DOUBLE_EQ(lone.value(), 0.8);
  EXPECT_NEAR(lone.standard_error(), std::sqrt(0.8 * 0.2 / 50), 1e-12);
  EXPECT_DOUBLE_EQ(twins.value(), 0.8);
  EXPECT_NEAR(twins.standard_error(), std::sqrt(0.8 * 0.2 / 50), 1e-12);   // twins that agree tell nothing more
}

TEST(ProvedScore, TheMiddleHalfOfALognormalIsItsQuartiles) {
  const double mean = -3, sd = 0.2;
  const auto half = middle_half(std::exp(mean - 1.64485363 * sd), std::exp(mean), std::exp(mean + 1.64485363 * sd));
  EXPECT_NEAR(std::log(half[0]), mean - 0.67448975 * sd, 1e-9);
  EXPECT_NEAR(std::log(half[1]), mean + 0.67448975 * sd, 1e-9);
}

TEST(ProvedScore, TheIntervalScoreIsTheWidthAndTwentyTimesWhatLiesOutside) {
  EXPECT_DOUBLE_EQ(worn::interval_score(1, 3, 0.1, 2), 2);
  EXPECT_DOUBLE_EQ(worn::interval_score(1, 3, 0.1, 3.5), 2 + 20 * 0.5);
}

// Writes 20 bikes of each scenario with a true gain of 1, of which `covered` lie inside the program's interval, and judges them. The exit status.
struct Invented { int covered = 18; int found = 20; int wrong = 0; };
int judged(const Invented& x) {
  namespace fs = std::filesystem;
  const fs::path root = fs::path(testing::TempDir()) / "proved_judge";
  fs::remove_all(root);
  for (const char* scenario : scenario_names)
    for (int i = 0; i < 20; ++i) {
      const fs::path dir = root / (std::string(scenario) + "-" + std::to_string(100 + i));
      fs::create_directories(dir);
      const bool faded = std::string(scenario) == "faded", history = faded || std::string(scenario) == "again";
      const std::string earlier = history ? "5" : "0", middle = i < x.covered ? "1" : "2";
      std::ofstream(dir / "truth.csv") << "wheel,gain_mps2_N,share_of_sound,scaled_stops,scaled_history\nfront,1," << (faded ? "0.6" : "1") << ",5," << earlier << "\nrear,1,1,5," << earlier << "\n";
      std::ofstream(dir / "oracle.csv") << "wheel,p05,p25,p50,p75,p95,alarm\nfront,0.8,0.9,1,1.1,1.2,0\nrear,0.8,0.9,1,1.1,1.2,0\n";
      const auto wheel = [&](bool alarm) {
        return "{\"p05\":" + std::string(i < x.covered ? "0.8" : "1.8") + ",\"p50\":" + middle + ",\"p95\":2.2,\"alarm\":" + (alarm ? "true" : "false") + "}";
      };
      std::ofstream(dir / "stop.json") << "{\"gain\":{\"front\":" << wheel(faded && i < x.found) << ",\"rear\":" << wheel(history && i < x.wrong) << "}}";
    }
  const std::string command = "'" BW_BUILD "/tests/proved/judge_stops' '" + root.string() + "' --hold > '" + (root / "table.txt").string() + "'";
  const int status = std::system(command.c_str());
  return status == 0 ? 0 : status / 256;   // as POSIX packs it
}

TEST(ProvedJudge, HoldsToTheAimsFromBothSidesAndSaysSoByItsExitStatus) {
  EXPECT_EQ(judged({}), 0);
  EXPECT_EQ(judged({.covered = 20}), 1);   // 100 %: too wide
  EXPECT_EQ(judged({.covered = 16}), 1);   // 80 %
  EXPECT_EQ(judged({.found = 18}), 1);     // 90 %
  EXPECT_EQ(judged({.wrong = 2}), 1);      // 4 of 60 sound wheels
}

}  // namespace
