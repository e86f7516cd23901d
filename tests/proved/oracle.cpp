// SPDX-License-Identifier: Apache-2.0
// What a person who knows the simulator's law and spreads, but not the truth, makes of the same papers.   Layer: tests/proved
// Theory: maximum a posteriori by Gauss-Newton, normal posterior in the logarithm of the gain; README.md.
// Pure functions: any thread.
#include "oracle.hpp"

#include <algorithm>
#include <cmath>
#include <vector>

namespace proved {
namespace {

std::size_t at(int i) { return static_cast<std::size_t>(i); }
using Vector = std::vector<double>;

// Unknowns, all but the first in units of their own spread.
enum Unknown : std::size_t { lasting, change, speed_bias, pace_bias, mark_bias, thumb_bias, free_time, rise_time, threshold, low_speed, warm_fall, new_short, scale_common, scale_earlier, scale_now, drag, shared_end };
constexpr std::size_t per_day = 4;      // friction of the day, place on the lever, grade, wind
enum Own : std::size_t { own_friction, own_speed, own_force, own_mark, own_rise, own_free, own_wind, own_sway, own_end };

struct Spread { double mean, sd; };
Spread of_uniform(double lo, double hi) { return {(lo + hi) / 2, (hi - lo) / std::sqrt(12.0)}; }

struct Prior { double mean, sd; };
Prior usual_gain(const Bike& b, int wheel) {
  double sum = 0, squares = 0;
  int n = 0;
  for (std::uint64_t i = 0; i < 600; ++i) {
    const Bike other = make_bike(900000 + 5 * i + static_cast<std::uint64_t>(b.kind));
    if (other.brakes[at(wheel)].actuation != b.brakes[at(wheel)].actuation) continue;
    const double x = std::log(sound_gain(other, wheel) * moved_mass_kg(other) / b.told_mass_kg);   // force per newton differs less than deceleration
    sum += x;
    squares += x * x;
    ++n;
  }
  return {sum / n, std::sqrt(squares / n - sum * sum / n / n)};
}

// A x = b for a symmetric positive A; columns of b are replaced.
void solve(std::vector<Vector> a, std::vector<Vector*> b) {
  const std::size_t n = a.size();
  for (std::size_t k = 0; k < n; ++k)
    for (std::size_t i = k + 1; i < n; ++i) {
      const double f = a[i][k] / a[k][k];
      for (std::size_t j = k; j < n; ++j) a[i][j] -= f * a[k][j];
      for (Vector* column : b) (*column)[i] -= f * (*column)[k];
    }
  for (Vector* column : b)
    for (std::size_t i = n; i-- > 0;) {
      for (std::size_t j = i + 1; j < n; ++j) (*column)[i] -= a[i][j] * (*column)[j];
      (*column)[i] /= a[i][i];
    }
}

}  // namespace

std::array<double, 5> quantiles(const Known& k) {
  std::array<double, 5> q{};
  constexpr std::array<double, 5> z = {-1.6448536, -0.6744898, 0, 0.6744898, 1.6448536};
  for (std::size_t i = 0; i < 5; ++i) q[i] = std::exp(k.log_gain + z[i] * k.log_sd);
  return q;
}

Known oracle(const Case& c, int wheel) {
  const Bike& told = c.bike;
  const Actuation actuation = told.brakes[at(wheel)].actuation;
  Bike nominal{};
  nominal.mass_kg = told.told_mass_kg;
  nominal.wheelbase_m = 1.1;
  nominal.height_m = 1.1;
  nominal.from_front_m = 0.62;
  nominal.wheel_radius_m = 0.345;
  nominal.wheel_inertia_kgm2 = 0.13;
  nominal.rolling = 0.008;
  for (Brake& k : nominal.brakes) k.rotor_J_K = 80;
  nominal.grip = 20;          // who slid did the stop again
  constexpr std::array<double, 5> usual_drag = {0.525, 0.42, 0.36, 0.535, 0.725};
  const Spread threshold_N = actuation == Actuation::hydraulic ? of_uniform(2, 7) : actuation == Actuation::cable ? of_uniform(4, 12) : of_uniform(5, 13);
  const Spread free_s = of_uniform(0.06, 0.14), rise_s = of_uniform(0.15, 0.35), fall = of_uniform(0.0001, 0.0006), rise = of_uniform(-0.03, 0.10);
  const double rotor_J_K = 72.5 * told.brakes[at(wheel)].rotor_mm / 170;
  const Prior prior = usual_gain(told, wheel);

  std::vector<const Row*> rows;
  int days = 0, earlier = 0, now = 0;
  for (const Row& r : c.rows) {
    days = std::max(days, r.day + 1);
    if (static_cast<int>(r.pulled) != wheel || !r.force_N) continue;
    rows.push_back(&r);
    ++(r.history ? earlier : now);
  }
  const std::size_t n = shared_end + per_day * at(days);
  const bool may_differ = earlier > 0;

  const auto predict = [&](const Row& r, const Vector& x, const std::array<double, own_end>& own) -> std::array<double, 2> {
    const std::size_t day = shared_end + per_day * at(r.day);
    Bike b = nominal;
    Brake& k = b.brakes[at(wheel)];
    b.drag_area_m2 = usual_drag[at(static_cast<int>(told.kind))] * (1 + 0.1 * x[drag]);
    const double log_gain = prior.mean + x[lasting] + (r.history ? 0 : x[change]);
    k.threshold_N = std::max(0.0, threshold_N.mean + threshold_N.sd * x[threshold]);
    const double reference_N = std::max(reference_decel_mps2[at(wheel)] / std::exp(prior.mean + x[lasting]), k.threshold_N + 2);
    k.slope = std::exp(log_gain) * reference_N * moved_mass_kg(b) / (reference_N - k.threshold_N);
    k.warm_fall_per_K = fall.mean + fall.sd * x[warm_fall];
    k.low_speed_rise = rise.mean + rise.sd * x[low_speed];
    k.rotor_J_K = rotor_J_K;
    Stop s;
    s.from_mps = r.from_mps / (1 + 0.01 * x[speed_bias]) + 0.12 * own[own_speed];
    s.grade = r.grade + 0.005 * x[day + 2];
    s.wind_mps = 1.2 * x[day + 3] + 0.4 * own[own_wind];
    s.free_s = std::max(0.0, free_s.mean + free_s.sd * x[free_time]) * (1 + 0.15 * own[own_free]);
    s.rise_s = std::max(0.02, rise_s.mean + rise_s.sd * x[rise_time]) * (1 + 0.2 * own[own_rise]);
    const double scale = 0.03 * (std::sqrt(0.85) * x[scale_common] + std::sqrt(0.15) * x[r.history ? scale_earlier : scale_now]);
    const double reading_sd = std::hypot(0.04, 5 / std::sqrt(12.0) / *r.force_N);
    s.force_N[at(wheel)] = *r.force_N * std::exp(-scale - 0.025 * x[day + 1] + reading_sd * own[own_force]);
    const double first = std::exp(-1.1 * r.of_day), pads = std::exp(-r.of_pads / 3.0);
    const double bedding = 1 - 0.024 * first - pads * (0.0225 + 0.055 * x[new_short]);
    s.friction[at(wheel)] = bedding * std::exp(0.03 * x[day] + std::hypot(0.065, 0.018 * first) * own[own_friction] + 0.02 * own[own_sway]);
    double warm = 0;
    for (int i = 0; i < r.of_day; ++i) warm = (warm + 0.93 * b.mass_kg * s.from_mps * s.from_mps / 2 / rotor_J_K) * 0.39;
    s.warm_K[at(wheel)] = warm;
    const Halt run = run_stop(b, s, 0.005);
    const double way = run.distance_m + s.from_mps * (0.04 * x[mark_bias] + 0.06 * own[own_mark]);
    return {std::log(std::max(0.1, way)) + (r.taped ? 0 : 0.04 * x[pace_bias]), run.time_s + 0.05 * x[thumb_bias]};
  };

  Vector x(n, 0.0);
  std::vector<Vector> precision;
  for (int round = 0; round < 5; ++round) {
    precision.assign(n, Vector(n, 0.0));
    Vector right(n, 0.0);
    for (std::size_t i = 0; i < n; ++i) {
      const double sd = i == lasting ? prior.sd : i == change ? (may_differ ? 0.6 : 1e-4) : 1;
      precision[i][i] = 1 / (sd * sd);
    }
    for (const Row* r : rows) {
      constexpr double small = 0.05;
      std::array<double, own_end> none{};
      const auto middle = predict(*r, x, none);
      std::array<Vector, 2> slope = {Vector(n, 0.0), Vector(n, 0.0)};
      for (std::size_t i = 0; i < n; ++i) {
        if (i >= shared_end && (i - shared_end) / per_day != at(r->day)) continue;
        Vector moved = x;
        const double by = i <= change ? 0.2 * small : small;
        moved[i] += by;
        const auto after = predict(*r, moved, none);
        for (std::size_t o = 0; o < 2; ++o) slope[o][i] = (after[o] - middle[o]) / by;
      }
      std::array<std::array<double, 2>, 2> noise{};
      for (std::size_t i = 0; i < own_end; ++i) {
        auto own = none;
        own[i] = small;
        const auto after = predict(*r, x, own);
        for (std::size_t o = 0; o < 2; ++o)
          for (std::size_t p = 0; p < 2; ++p) noise[o][p] += (after[o] - middle[o]) * (after[p] - middle[p]) / (small * small);
      }
      const double d = r->distance_m;
      noise[0][0] += r->taped ? (0.01 + 0.05 * 0.05 / 12) / (d * d) : 0.04 * 0.04 + 0.25 / 12 / (d * d);
      noise[1][1] += 0.0225 + 0.0008 + 0.05 * 0.05 / 12;
      if (!r->time_s) noise[1][1] += 1e6;
      const double det = noise[0][0] * noise[1][1] - noise[0][1] * noise[1][0];
      const std::array<std::array<double, 2>, 2> weight = {{{noise[1][1] / det, -noise[0][1] / det}, {-noise[1][0] / det, noise[0][0] / det}}};
      std::array<double, 2> left = {std::log(d) - middle[0], r->time_s ? *r->time_s - middle[1] : 0.0};
      for (std::size_t o = 0; o < 2; ++o)
        for (std::size_t i = 0; i < n; ++i) left[o] += slope[o][i] * x[i];
      for (std::size_t o = 0; o < 2; ++o)
        for (std::size_t p = 0; p < 2; ++p)
          for (std::size_t i = 0; i < n; ++i) {
            const double part = slope[o][i] * weight[o][p];
            if (part == 0) continue;
            right[i] += part * left[p];
            for (std::size_t j = 0; j < n; ++j) precision[i][j] += part * slope[p][j];
          }
    }
    x = right;
    solve(precision, {&x});
  }

  Vector target(n, 0.0), changed(n, 0.0);
  target[lasting] = target[change] = 1;
  target[shared_end + per_day * at(days - 1)] = 0.03;
  changed[change] = 1;
  Vector spread = target;
  solve(precision, {&spread});
  Known k{prior.mean, 0, now + earlier > 0, false};
  double variance = 0;
  for (std::size_t i = 0; i < n; ++i) {
    k.log_gain += target[i] * x[i];
    variance += target[i] * spread[i];
  }
  k.log_sd = std::sqrt(variance);
  // Halfway between the logarithms of 1 and 0.6: both are missed equally often.
  k.alarm = earlier >= 2 && now >= 1 && x[change] < std::log(0.6) / 2;
  return k;
}

}  // namespace proved
