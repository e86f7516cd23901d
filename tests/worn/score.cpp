// SPDX-License-Identifier: Apache-2.0
// Scores of forecasts given as quantiles, and the straight line that they must beat.   Layer: tests/worn
// Theory: score.hpp. Pure functions: any thread.
#include "score.hpp"

#include <algorithm>
#include <cmath>
#include <numbers>

#include "draws.hpp"

namespace worn {
namespace {

double median(std::vector<double> x) {
  std::sort(x.begin(), x.end());
  const std::size_t n = x.size();
  return n % 2 ? x[n / 2] : 0.5 * (x[n / 2 - 1] + x[n / 2]);
}

}  // namespace

double crps(const Quantiles& q, double truth) {
  constexpr std::array<double, 6> score = {-2.5758293, -1.6448536, -0.6744898, 0, 0.6744898, 1.6448536};   // of the six levels
  constexpr double end = 6, step = 0.02;   // what lies beyond 6 weighs 1e-9
  double sum = 0;
  std::size_t k = 0;
  for (double z = -end + step / 2; z < end; z += step) {
    while (k + 2 < score.size() && z > score[k + 1]) ++k;
    const double value = q[k] + (z - score[k]) / (score[k + 1] - score[k]) * (q[k + 1] - q[k]);
    const double level = 0.5 * std::erfc(-z / std::numbers::sqrt2), miss = truth - value;
    sum += (miss >= 0 ? level * miss : (level - 1) * miss) * std::exp(-z * z / 2) * step;
  }
  return 2 * sum / std::sqrt(2 * std::numbers::pi);
}

double expected_share(const Quantiles& forecast, const Quantiles& q, double start_ride) {
  constexpr std::array<double, 6> score = {-2.5758293, -1.6448536, -0.6744898, 0, 0.6744898, 1.6448536};
  constexpr double end = 4, step = 0.1;
  double sum = 0, weight = 0;
  std::size_t k = 0;
  for (double z = -end + step / 2; z < end; z += step) {
    while (k + 2 < score.size() && z > score[k + 1]) ++k;
    const double truth = std::max(q[0], q[k] + (z - score[k]) / (score[k + 1] - score[k]) * (q[k + 1] - q[k]));   // no life before the 0.5 % point
    sum += std::exp(-z * z / 2) * crps(forecast, truth) / std::max(1.0, truth - start_ride + 1);
    weight += std::exp(-z * z / 2);
  }
  return sum / weight;
}

Quantiles leaning(const Quantiles& q, double start_ride) {
  constexpr std::array<double, 6> score = {-2.5758293, -1.6448536, -0.6744898, 0, 0.6744898, 1.6448536}, level = {0.005, 0.05, 0.25, 0.5, 0.75, 0.95};
  constexpr double end = 4, step = 0.01;
  std::vector<double> value, sum;
  std::size_t k = 0;
  double all = 0;
  for (double z = -end + step / 2; z < end; z += step) {
    while (k + 2 < score.size() && z > score[k + 1]) ++k;
    value.push_back(std::max(q[0], q[k] + (z - score[k]) / (score[k + 1] - score[k]) * (q[k + 1] - q[k])));
    sum.push_back(all += std::exp(-z * z / 2) / std::max(1.0, value.back() - start_ride + 1));
  }
  Quantiles out{};
  for (std::size_t i = 0; i < out.size(); ++i) out[i] = value[static_cast<std::size_t>(std::lower_bound(sum.begin(), sum.end(), level[i] * all) - sum.begin())];
  return out;
}

double interval_score(double low, double high, double alpha, double truth) {
  return high - low + 2 / alpha * (std::max(0.0, low - truth) + std::max(0.0, truth - high));
}

std::optional<double> theil_sen(const std::vector<Point>& points) {
  std::vector<double> slopes;
  for (std::size_t i = 0; i < points.size(); ++i)
    for (std::size_t j = i + 1; j < points.size(); ++j)
      if (points[j].work_MJ != points[i].work_MJ)
        slopes.push_back((points[j].thickness_mm - points[i].thickness_mm) / (points[j].work_MJ - points[i].work_MJ));
  if (slopes.empty()) return std::nullopt;
  return median(slopes);
}

Quantiles line_forecast(const LineInput& in) {
  std::vector<Point> points = in.points;
  points.insert(points.begin(), {0, in.new_mm, in.new_sd_mm});
  const auto n = static_cast<double>(points.size());

  // Rate of wear, and the height of the line at the middle of its points.
  double rate = in.usual_mm_MJ, rate_sd = 0, middle = 0, height = in.new_mm, height_sd = in.new_sd_mm;
  const std::optional<double> slope = theil_sen(points);
  bool own = slope && *slope < 0;
  if (own) {
    std::vector<double> levels, misses, stated;
    for (const Point& p : points) levels.push_back(p.thickness_mm - *slope * p.work_MJ);
    const double level = median(levels);
    for (const Point& p : points) {
      misses.push_back(std::abs(p.thickness_mm - *slope * p.work_MJ - level));
      stated.push_back(p.sd_mm);
      middle += p.work_MJ / n;
    }
    const double sd = std::max(median(stated), 1.4826 * median(misses));
    double spread = 0;
    for (const Point& p : points) spread += (p.work_MJ - middle) * (p.work_MJ - middle);
    // A slope that noise alone could make is none: then the usual rate goes on from the new thickness.
    own = -*slope > 2 * sd / std::sqrt(spread);
    if (own) {
      rate = -*slope;
      rate_sd = sd / std::sqrt(spread);
      height = level - rate * middle;
      height_sd = sd / std::sqrt(n);
    } else middle = 0;
  }

  double mean = 0, square = 0;
  for (const double x : in.ride_MJ) mean += x;
  mean /= static_cast<double>(in.ride_MJ.size());
  for (const double x : in.ride_MJ) square += (x - mean) * (x - mean);
  const double ride_sd = in.ride_MJ.size() > 1 ? std::sqrt(square / static_cast<double>(in.ride_MJ.size() - 1)) : mean;

  Draws d(static_cast<std::uint64_t>(in.as_of_ride) + 1);
  std::vector<double> limits;
  constexpr int draws = 999;
  for (int i = 0; i < draws; ++i) {
    const double drawn = own ? std::max(0.1 * rate, rate + rate_sd * d.normal()) : rate * d.scatter(in.usual_log_sd);
    const double now = height + height_sd * d.normal() - drawn * (in.work_now_MJ - middle);
    const double work_left = (now - in.limit_mm) / (drawn * d.scatter(own ? 0.15 : 0.0));
    const double rides = std::max(1.0, std::abs(work_left) / mean);
    const double relative = std::sqrt(ride_sd * ride_sd / (mean * mean) * (1 / rides + 1 / static_cast<double>(in.ride_MJ.size())));
    limits.push_back(in.as_of_ride + work_left / mean * d.scatter(std::min(1.0, relative)));
  }
  std::sort(limits.begin(), limits.end());
  const auto at = [&](double p) { return limits[static_cast<std::size_t>(p * draws)]; };
  return {at(0.005), at(0.05), at(0.25), at(0.5), at(0.75), at(0.95)};
}

}  // namespace worn
