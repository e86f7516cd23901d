// SPDX-License-Identifier: Apache-2.0
// Numbers drawn by counter from (seed, stream, n), and drifts made of them.   Layer: demo
#pragma once

#include <cmath>
#include <cstdint>

namespace rides {

constexpr double pi = 3.14159265358979323846;
constexpr double gravity = 9.80665;
constexpr double step_s = 0.1;
constexpr int steps_per_s = 10;

// Random numbers by counter: draw n of a stream never depends on who asked before. [D9]

constexpr std::uint64_t scramble(std::uint64_t x) {
  x ^= x >> 30;
  x *= 0xbf58476d1ce4e5b9ULL;
  x ^= x >> 27;
  x *= 0x94d049bb133111ebULL;
  return x ^ (x >> 31);
}

// Streams of the ride come before those of the sensors: other sensors never change the ride.
enum class Stream : std::uint64_t {
  machine = 1, hills, ripple, bends, background, junctions, habit, comfort, wind, shelter, gust, drag, rolling,
  legs, hands, pauses, study, mass, extras, surprises, company,
  position = 100, altitude, speed, power, temperature, sampling, sensor_traits,
  gaps, bad_altitude, bad_speed, bad_position, bad_clock, bad_duplicates, hillside, altitude_smooth, position_smooth
};

struct Dice {
  std::uint64_t key;
  Dice(std::uint64_t seed, Stream stream)
      : key(scramble(scramble(seed + 0x9e3779b97f4a7c15ULL) + static_cast<std::uint64_t>(stream) * 0xd1342543de82ef95ULL)) {}
  std::uint64_t bits(std::int64_t n) const {
    return scramble(scramble(key ^ (static_cast<std::uint64_t>(n) * 0x9e3779b97f4a7c15ULL)) + key);
  }
  double uniform(std::int64_t n) const { return (static_cast<double>(bits(n) >> 11) + 0.5) * 0x1p-53; }
  double normal(std::int64_t n) const {
    return std::sqrt(-2.0 * std::log(uniform(2 * n))) * std::cos(2.0 * pi * uniform(2 * n + 1));
  }
  //! Smooth noise along x, about unit variance, correlated over about one unit: cubic B-spline over normal knots.
  double wave(double x) const {
    const double whole = std::floor(x);
    const double f = x - whole;
    const auto k = static_cast<std::int64_t>(whole) + 4096;
    const double f2 = f * f;
    const double f3 = f2 * f;
    const double sum = normal(k) * (1 - 3 * f + 3 * f2 - f3) / 6 + normal(k + 1) * (4 - 6 * f2 + 3 * f3) / 6 +
                       normal(k + 2) * (1 + 3 * f + 3 * f2 - 3 * f3) / 6 + normal(k + 3) * f3 / 6;
    return sum / 0.692;  // root of 151/315, the mean of the squared weights
  }
};

class Draw {
public:
  Draw(std::uint64_t seed, Stream stream) : dice_(seed, stream) {}
  double uniform() { return dice_.uniform(n_++); }
  double between(double low, double high) { return low + (high - low) * uniform(); }
  double waiting(double mean) { return -mean * std::log(uniform()); }
  double normal() {
    const double size = std::sqrt(-2.0 * std::log(uniform()));
    return size * std::cos(2.0 * pi * uniform());
  }

private:
  Dice dice_;
  std::int64_t n_ = 0;
};

// A first-order random drift, unit standard deviation.
class Drift {
public:
  Drift(double tau_s, Draw& draw) : tau_s_(tau_s), x_(draw.normal()) {}
  double advance(double dt_s, Draw& draw) {
    const double keep = std::exp(-dt_s / tau_s_);
    x_ = keep * x_ + std::sqrt(1 - keep * keep) * draw.normal();
    return x_;
  }

private:
  double tau_s_;
  double x_;
};

//! Critically damped second-order drift, unit standard deviation: a wander without steps.
class SmoothDrift {
public:
  SmoothDrift(double tau_s, Draw& draw) : tau_s_(tau_s), first_(tau_s, draw) { x_ = 0.7 * draw.normal(); }
  double advance(double dt_s, Draw& draw) {
    x_ += (first_.advance(dt_s, draw) - x_) * dt_s / tau_s_;
    return x_ * std::sqrt(2.0);  // the cascade halves the variance
  }

private:
  double tau_s_;
  Drift first_;
  double x_;
};

}  // namespace rides
