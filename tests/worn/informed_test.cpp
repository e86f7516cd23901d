// SPDX-License-Identifier: Apache-2.0
// The informed forecaster is what README.md says: the generator's own law and distributions, weighted by what was read.   Layer: tests/worn
// Oracles: sums of chances, the oracle where nothing is left to draw, plain draws from the population where nothing was read, coverage.
#include <gtest/gtest.h>

#include <algorithm>
#include <cmath>

#include "histories.hpp"
#include "informed.hpp"
#include "score.hpp"

namespace {
using namespace worn;

constexpr std::uint64_t test_seed = 800002;   // in no set of plan.csv

TEST(WornInformed, ChancesOfAllThatAReadingCanShowSumToOne) {
  for (const int place : {0, 2})
    for (const auto& [sd, step] : {std::pair{0.04, 0.01}, std::pair{0.08, 0.05}, std::pair{0.2, 0.25}, std::pair{0.008, 0.01}})
      for (const double is : {0.03, 0.6, 1.7}) {
        double sum = 0, mean = 0, upper = 0;
        for (int i = 0; i * step < 5; ++i) {
          const Reading r{.ride = 1, .day = 1, .wheel = 0, .place = place, .set = 1, .value_mm = i * step, .true_mm = is, .sd_mm = sd, .resolution_mm = step, .error_sd_mm = sd, .misread = false};
          const double p = reading_chance(r, is);
          sum += p;
          mean += p * r.value_mm;
          upper += p * (r.value_mm > is + (place == 2 ? 0.25 : 0.75));
        }
        EXPECT_NEAR(sum, 1, 2e-3) << place << " " << sd << " " << is;   // tails cut at five and twelve errors, the shift in 16 steps
        if (is > 1.5) { EXPECT_NEAR(mean, is, 2e-3); }
        // Of the 2 % misread half is too thick, and half of that by more than the middle of its range.
        if (sd < 0.05 && is > 0.5) { EXPECT_NEAR(upper, 0.02 / 4, 7e-4) << place << " " << sd << " " << step; }
      }
}

double gap_of(double a, double b, int as_of) { return std::log((a - as_of + 0.5) / (b - as_of + 0.5)); }

TEST(WornInformed, WithNothingLeftToDrawItIsTheOracle) {
  std::array<double, 3> sum{};
  double n = 0;
  for (std::uint64_t seed = test_seed; seed < test_seed + 28; ++seed) {
    if (seed % kinds == static_cast<std::uint64_t>(Kind::commuter)) continue;   // long lives: slow
    History h = make_history(seed, 8);
    // Parts as the usual ones of this rider's brand; nothing seen, for what was seen belongs to other parts.
    for (Fitted& f : h.fitted) {
      if (f.rotor) f.rotor_new = {.quality = 1, .thickness_mm = h.rider.wheels[static_cast<std::size_t>(f.wheel)].rotor_new_mm};
      else f.pads_new = fit_pads(h.rider, f.wheel, f.compound, h.brand[static_cast<std::size_t>(f.compound)], seed, 0);
    }
    h.readings.clear();
    h.looks.clear();
    // When fitted: later the oracle also knows how the pads sway.
    std::erase_if(h.tasks, [&](const Task& t) { return t.as_of_ride != h.fitted[t.fitted].start_ride - 1; });
    const auto a = informed(h, {.futures = 200, .structures = 200, .effective = 50, .spreads = 0});
    const auto b = oracle(h, 200);
    for (std::size_t k = 0; k < h.tasks.size(); ++k) {
      if (b[k].reached > 0 || std::isnan(b[k].limit_ride[5])) continue;
      for (std::size_t q = 0; q < 3; ++q) sum[q] += gap_of(a[k].forecast.limit_ride[1 + 2 * q], b[k].limit_ride[1 + 2 * q], h.tasks[k].as_of_ride);
      n += 1;
    }
  }
  ASSERT_GT(n, 25);
  // Futures scatter lives by 0.13 or so: of 200 draws the median errs by 0.011, the 5 and 95 % points by 0.02, times sqrt 2, over some 20
  // parts that share nothing: 0.004 and 0.006; bounds near 3 of that.
  EXPECT_NEAR(sum[0] / n, 0, 0.02);
  EXPECT_NEAR(sum[1] / n, 0, 0.012);
  EXPECT_NEAR(sum[2] / n, 0, 0.02);
}

TEST(WornInformed, WithNothingReadItIsThePopulation) {
  std::array<double, 3> sum{};
  double n = 0;
  for (std::uint64_t seed = test_seed; seed < test_seed + 28; ++seed) {
    if (seed % kinds == static_cast<std::uint64_t>(Kind::commuter)) continue;   // long lives: slow
    History h = make_history(seed, 18);
    std::erase_if(h.tasks, [&](const Task& t) {
      const Fitted& f = h.fitted[t.fitted];
      return f.rotor || f.set > 1 || f.wheel != 0 || t.as_of_ride != f.start_ride - 1;
    });
    if (h.tasks.empty()) continue;
    h.tasks.resize(1);
    const Task task = h.tasks[0];
    const auto side = static_cast<std::size_t>(task.place);
    const Fitted& f = h.fitted[task.fitted];
    const auto known = informed(h, {.futures = 300, .structures = 300});
    ASSERT_FALSE(known[0].rider_told || known[0].wheel_told || known[0].brand_told);
    std::vector<double> limits;
    Draws d(seed);
    for (int m = 0; m < 300; ++m) {   // another rider's unseen factors on this rider's bike and rides
      const Rider x = make_rider(d.next());
      Rider r = h.rider;
      r.soil = x.soil;
      r.rain_factor = x.rain_factor;
      r.rubbing = x.rubbing;
      Wheel& wheel = r.wheels[0];
      wheel.clamp_pressure = x.wheels[0].clamp_pressure * x.wheels[0].pad_area_mm2 / wheel.pad_area_mm2;
      wheel.wear_factor = x.wheels[0].wear_factor;
      wheel.left_right = x.wheels[0].left_right;
      PadSet p = fit_pads(r, 0, f.compound, d.scatter(0.3), d.next());
      RiderState s = h.states[static_cast<std::size_t>(task.as_of_ride - 1)];
      s.draws = Draws(d.next());
      s.wear_drift = {0.08 * d.normal(), 0.08 * d.normal()};
      while (p.thickness_mm[side] > 0.5 && s.ride < h.observed + horizon_rides) wear_pads(r, 0, next_ride(r, s), p);
      limits.push_back(s.ride);
    }
    std::sort(limits.begin(), limits.end());
    const auto plain = quantiles_of(limits);
    for (std::size_t q = 0; q < 3; ++q) sum[q] += gap_of(known[0].forecast.limit_ride[1 + 2 * q], plain.limit_ride[1 + 2 * q], task.as_of_ride);
    n += 1;
  }
  ASSERT_GE(n, 10);
  // Lives of strangers scatter by 0.5: of 300 draws the median errs by 0.036, the outer points by 0.061, times sqrt 2 over sqrt n; at 3 sd.
  EXPECT_NEAR(sum[1] / n, 0, 0.153 / std::sqrt(n));
  EXPECT_NEAR(sum[0] / n, 0, 0.26 / std::sqrt(n));
  EXPECT_NEAR(sum[2] / n, 0, 0.26 / std::sqrt(n));
}

TEST(WornInformed, HoldsAsOftenAsItSaysAndReadingsNarrowIt) {
  double in90 = 0, in50 = 0, surer = 0, n = 0, read_n = 0, read_in90 = 0, with = 0, without = 0;
  for (std::uint64_t seed = test_seed; seed < test_seed + 126; ++seed) {
    History h = make_history(seed, 1);
    const auto limits = true_limits(h);
    const InformedOptions few{.futures = 99, .structures = 200, .most_structures = 1600, .effective = 60};
    const auto known = informed(h, few);
    History unread = h;
    unread.readings.clear();
    const auto blind = informed(unread, few);
    for (std::size_t k = 0; k < h.tasks.size(); ++k) {
      const Task& t = h.tasks[k];
      const double truth = limits.at({t.fitted, t.place});
      if (truth == 0) continue;
      Quantiles q = known[k].forecast.limit_ride, b = blind[k].forecast.limit_ride;
      const double end = h.observed + horizon_rides, now = t.as_of_ride, life = truth - h.fitted[t.fitted].start_ride + 1;
      for (double& x : q) x = std::max(now, std::isnan(x) ? end : x);
      for (double& x : b) x = std::max(now, std::isnan(x) ? end : x);
      const double was = std::max(truth, now);   // what lies behind counts as now
      in90 += q[1] <= was && was <= q[5];
      in50 += q[2] <= was && was <= q[4];
      const auto nearer = [&](double x) { return q[3] + 0.6 * (x - q[3]); };
      surer += nearer(q[1]) <= was && was <= nearer(q[5]);
      n += 1;
      const bool read = std::any_of(h.readings.begin(), h.readings.end(), [&](const Reading& r) { return r.ride <= t.as_of_ride && r.wheel == t.wheel && r.place == t.place && r.set == t.set; });
      if (!read) continue;
      read_n += 1;
      read_in90 += q[1] <= was && was <= q[5];
      with += 100 * crps(q, was) / life;
      without += 100 * crps(b, was) / life;
    }
  }
  ASSERT_GT(n, 110);
  ASSERT_GT(read_n, 40);
  // One forecast a rider, riders share nothing: standard errors of sqrt(p (1 - p) / n), bounds at 3 and one point for what is behind or drawn.
  EXPECT_NEAR(100 * in90 / n, 90, 1 + 300 * std::sqrt(0.09 / n));
  EXPECT_NEAR(100 * in50 / n, 50, 1 + 300 * std::sqrt(0.25 / n));
  EXPECT_NEAR(100 * read_in90 / read_n, 90, 1 + 300 * std::sqrt(0.09 / read_n));
  EXPECT_LT(100 * surer / n, 81);   // and who is surer than that is found out
  EXPECT_LT(with, 0.8 * without);
}

}  // namespace
