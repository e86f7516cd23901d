// SPDX-License-Identifier: Apache-2.0
// Scores of forecasts given as quantiles, and the straight line that they must beat.   Layer: tests/worn
// Sources: Gneiting & Raftery, J. Am. Stat. Assoc. 102 (2007) 359-378 (CRPS, interval score; from memory); Theil 1950, Sen 1968 (line; from memory).
// Pure functions: any thread.
#pragma once
#include <array>
#include <cstdint>
#include <optional>
#include <vector>

namespace worn {

using Quantiles = std::array<double, 6>;   // at 0.5, 5, 25, 50, 75, 95 %

//! CRPS = 2 x the integral of the pinball loss over all levels. Between the six quantiles, and beyond the outer two, the quantile function runs
//! straight in the normal score of the level: exact for a normal forecast (tested), an approximation for others.
double crps(const Quantiles&, double truth);
//! Expected CRPS in shares of the life (from start_ride on) when the truth is drawn from TRUE_ONES: no luck of the truth in it.
double expected_share(const Quantiles& forecast, const Quantiles& true_ones, double start_ride);
//! What scores best by CRPS / life, for that is no proper score: quantiles of the same beliefs weighted by 1 / life. Shorter than honest ones.
Quantiles leaning(const Quantiles&, double start_ride);
//! Width plus 2/alpha times what the truth lies outside of the central 1 - alpha interval.
double interval_score(double low, double high, double alpha, double truth);

struct Point { double work_MJ, thickness_mm, sd_mm; };
struct LineInput {
  std::vector<Point> points;               // readings of this part so far
  double new_mm, new_sd_mm, limit_mm, work_now_MJ;
  double usual_mm_MJ;                      // where readings give no slope: of earlier sets on this wheel, or the usual wear
  double usual_log_sd;
  std::vector<double> ride_MJ;             // measured, of this wheel, all rides so far
  int as_of_ride;
};
//! Theil-Sen line through the new thickness and the readings against measured work, run on with this rider's mean work a ride.
//! A slope within two standard errors of none is not used: the usual rate is.
//! Its interval: scatter about the line, slope and level by least squares' formulas, 15 % for wear to come that differs from wear so far,
//! and the spread of the mean of rides to come.
Quantiles line_forecast(const LineInput&);
//! Median of the slopes of all pairs [mm/MJ], negative while the part wears; none with fewer than two different work values.
std::optional<double> theil_sen(const std::vector<Point>&);

}  // namespace worn
