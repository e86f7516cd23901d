// SPDX-License-Identifier: Apache-2.0
// The informed forecaster: importance weights over what nobody could know, then rides to come as the oracle draws them.
// Layer: tests/worn                       Theory: README.md, "The informed forecaster". Pure functions: any thread.
//
// Wear is in proportion to one product Q of all factors that multiply it (brand, batch, the wheel's and the rider's own), and none of the
// states that a pair goes through depends on it. So what bends the path (lean, sway, bedding, decay, soil, rain) is ridden through with Q = 1,
// and many Q and thicknesses when new are tried on each such path.
#include "informed.hpp"

#include <algorithm>
#include <limits>
#include <numeric>
#include <stdexcept>

namespace worn {
namespace {

constexpr double never = std::numeric_limits<double>::infinity();
double phi(double x) { return std::exp(-0.5 * x * x) / std::sqrt(2 * std::numbers::pi); }
double Phi(double x) { return 0.5 * std::erfc(-x / std::numbers::sqrt2); }

// Logarithm of reading_chance by a table of true thicknesses, straight between its steps of a 25th of the error (off by 2e-4 of it at most).
struct ReadingChances {
  double step_mm = 1;
  std::vector<double> log_chance;
  explicit ReadingChances(const Reading& r) {
    const double to_mm = (r.place == 2 ? 2.0 : 3.2) + 2 * r.error_sd_mm;   // thicker than any new part
    step_mm = r.error_sd_mm / 25;
    for (int i = 0; i * step_mm < to_mm + step_mm; ++i) log_chance.push_back(std::log(reading_chance(r, i * step_mm)));
  }
  double at(double is_mm) const {
    const double x = std::clamp(is_mm / step_mm, 0.0, static_cast<double>(log_chance.size()) - 1.001);
    const auto i = static_cast<std::size_t>(x);
    const double low = log_chance[i], high = log_chance[i + 1];
    return std::isfinite(low) && std::isfinite(high) ? low + (x - static_cast<double>(i)) * (high - low) : -never;
  }
};

// What the papers hold of one part up to a ride: its readings, and that it was still on when somebody looked.
struct Evidence {
  std::vector<const Reading*> readings;
  std::vector<ReadingChances> chances;
  std::vector<int> looks;          // rides
  int start = 1, as_of = 0;
  double limit_mm = 0, margin_mm = 0;
};
Evidence evidence_of(const History& h, const Fitted& f, int as_of) {
  Evidence e{{}, {}, {}, f.start_ride, as_of, limit_mm(h.rider, f), h.margin_mm};
  for (const Reading& r : h.readings)
    if (r.ride <= as_of && r.wheel == f.wheel && r.set == f.set && (r.place == 2) == f.rotor) e.readings.push_back(&r);
  if (!f.rotor) {
    for (const Look& l : h.looks)
      if (l.ride <= as_of && l.wheel == f.wheel && l.set == f.set) e.looks.push_back(l.ride);
  } else {   // a rotor is looked at when pads come off
    for (const Fitted& pads : h.fitted)
      if (!pads.rotor && pads.wheel == f.wheel && pads.end_ride > 0 && pads.end_ride <= as_of && pads.end_ride >= f.start_ride) e.looks.push_back(pads.end_ride);
  }
  return e;
}

// Thickness lost per unit of Q after each ride of a pair [mm], and what it swelled; the pair as it then is.
struct Path {
  std::array<std::vector<float>, 2> lost;
  std::vector<float> swell;
  PadSet pads{};
  Rider rider{};
  std::array<double, 2> drift{};
};
constexpr double endless_mm = 1e6;   // so thick that the path is never cut short by the plate

Path ride_through(const Rider& rider, int wheel, PadSet pads, const std::vector<Ride>& rides) {
  Path p{};
  p.rider = rider;
  const double area = rider.wheels[static_cast<std::size_t>(wheel)].pad_area_mm2;
  std::array<double, 2> lost{};
  for (auto& side : p.lost) side.reserve(rides.size());
  p.swell.reserve(rides.size());
  for (const Ride& ride : rides) {
    pads.thickness_mm = {endless_mm, endless_mm};
    const auto worn = wear_pads(rider, wheel, ride, pads);
    for (std::size_t s = 0; s < 2; ++s) p.lost[s].push_back(static_cast<float>(lost[s] += worn[s] / area));
    p.swell.push_back(static_cast<float>(pads.swell_mm));
  }
  p.pads = pads;
  return p;
}

// Logarithm of the chance of what was seen; gives up below FLOOR.
double log_chance(const Evidence& e, const Path& path, double Q, const std::array<double, 2>& new_mm, double floor) {
  const auto at = [&](std::size_t side, int ride) {
    return ride < e.start ? new_mm[side] : new_mm[side] - Q * static_cast<double>(path.lost[side][static_cast<std::size_t>(ride - e.start)]);
  };
  const auto thinnest = [&](int ride) { return std::min(at(0, ride), at(1, ride)); };
  if (thinnest(e.as_of) < grinds_mm) return -never;   // it would have been heard
  double sum = 0;
  for (auto look = e.looks.rbegin(); look != e.looks.rend(); ++look) {
    const double over = (thinnest(*look) - e.limit_mm - e.margin_mm) / look_sd_mm;
    if (over > 5) break;   // earlier looks still less
    sum += std::log(Phi(over));
    if (sum < floor) return -never;
  }
  for (std::size_t i = e.readings.size(); i-- > 0;) {
    const Reading& r = *e.readings[i];
    const double is = at(static_cast<std::size_t>(r.place), r.ride) + static_cast<double>(path.swell[static_cast<std::size_t>(r.ride - e.start)]);
    sum += e.chances[i].at(is);
    if (sum < floor) return -never;
  }
  return sum;
}

struct Sample { std::size_t path; double Q; std::array<double, 2> new_mm; double log_weight; };

double effective_number(const std::vector<double>& weights) {
  double sum = 0, square = 0;
  for (const double w : weights) { sum += w; square += w * w; }
  return square > 0 ? sum * sum / square : 0;
}

// Which pairs and rotors other than this part tell of the rider: read, or taken off.
struct Told { bool rides = false, rider = false, wheel = false, brand = false; };
Told what_is_told(const History& h, const Task& task) {
  const Fitted& f = h.fitted[task.fitted];
  Told told;
  for (std::size_t i = 0; i < h.fitted.size(); ++i) {
    const Fitted& other = h.fitted[i];
    if (i == task.fitted || other.start_ride > task.as_of_ride) continue;
    const bool off = other.end_ride > 0 && other.end_ride <= task.as_of_ride;
    if (!off && evidence_of(h, other, task.as_of_ride).readings.empty()) continue;
    told.rides = true;
    if (other.rotor != f.rotor) continue;
    told.rider = true;
    told.wheel |= other.wheel == f.wheel;
    told.brand |= other.compound == f.compound;
  }
  return told;
}

class PadForecaster {
 public:
  PadForecaster(const History& history, const Task& task, const InformedOptions& options, std::uint64_t seed)
      : h_(history), f_(h_.fitted[task.fitted]), as_of_(task.as_of_ride), o_(options), d_(seed), told_(what_is_told(h_, task)), w_(static_cast<std::size_t>(f_.wheel)) {
    if (o_.spreads == 0) told_ = {true, true, true, true};
    seen_ = evidence_of(h_, f_, as_of_);
    for (const Reading* r : seen_.readings) seen_.chances.emplace_back(*r);
    // Nothing is told of the rider's pads: then no pair came off, and that the other wheel's is still on tells a little.
    for (const Fitted& other : h_.fitted)
      if (!other.rotor && other.wheel != f_.wheel && other.start_ride <= as_of_ && (other.end_ride == 0 || other.end_ride > as_of_)) other_ = &other;
    if (told_.rider && !told_.brand && other_ && other_->compound == f_.compound) told_.brand = true;
    if (told_.rider) other_ = nullptr;
    if (other_) other_seen_ = evidence_of(h_, *other_, as_of_);
    const double s = o_.spreads;
    const auto square = [](double x) { return x * x; };
    shared_var_ = (told_.rider ? 0 : square(spread::harsh) + square(pressure_power * spread::pressing)) + (told_.brand ? 0 : square(spread::brand));
    if (other_ && other_->compound != f_.compound) shared_with_other_var_ = square(spread::harsh) + square(pressure_power * spread::pressing);
    else shared_with_other_var_ = shared_var_;
    wheel_var_ = square(spread::wheel_wear) + square(pressure_power * spread::wheel_pressing);
    own_var_ = square(s * spread::batch) + (told_.wheel ? 0 : wheel_var_);
  }

  Informed run(std::array<std::vector<double>, 2>& limits, double& reached0, double& reached1) {
    Informed out;
    out.rider_told = told_.rider;
    out.wheel_told = told_.wheel;
    out.brand_told = told_.brand;
    while (true) {
      draw_structures();
      weigh();
      out.structures = static_cast<int>(paths_.size());
      out.effective = effective_number(path_weights_);
      if (out.effective >= o_.effective || out.structures >= o_.most_structures) break;
    }
    if (samples_.empty()) throw std::runtime_error("informed: no draw agrees with what was read");
    futures(limits, reached0, reached1);
    return out;
  }

 private:
  // The rider with what is not told drawn anew, and with nothing of what multiplies all wear that is not told.
  Rider draw_rider() {
    Rider r = h_.rider;
    const Rider x = make_rider(d_.next());
    if (!told_.rides) r.soil = x.soil;
    if (!told_.rider) { r.rain_factor = x.rain_factor; r.rubbing = x.rubbing; }
    for (std::size_t i = 0; i < 2; ++i) {
      Wheel& wheel = r.wheels[i];
      const bool own_told = told_.wheel && i == w_;
      if (!own_told) wheel.left_right = x.wheels[i].left_right;
      const double own_pressing = wheel.clamp_pressure * wheel.pad_area_mm2 / (300 * h_.rider.pressing), own_wear = wheel.wear_factor / h_.rider.harsh;
      wheel.clamp_pressure = 300 / wheel.pad_area_mm2 * (told_.rider ? h_.rider.pressing : 1) * (own_told ? own_pressing : 1);
      wheel.wear_factor = (told_.rider ? h_.rider.harsh : 1) * (own_told ? own_wear : 1);
    }
    return r;
  }

  // The rides since START as they were, or with mud and the scatter of wear drawn anew.
  std::vector<Ride> draw_rides(int start, const Rider& r, std::array<double, 2>& drift) {
    std::vector<Ride> rides(h_.rides.begin() + start - 1, h_.rides.begin() + as_of_);
    if (told_.rides) {
      drift = h_.states[static_cast<std::size_t>(as_of_ - 1)].wear_drift;
      return rides;
    }
    drift = {spread::drift * d_.normal(), spread::drift * d_.normal()};
    const double keep = std::exp(-1 / spread::drift_rides);
    for (Ride& ride : rides) {
      ride.mud = r.soil * d_.scatter(spread::mud);
      for (std::size_t i = 0; i < 2; ++i) {
        drift[i] = keep * drift[i] + spread::drift * std::sqrt(1 - keep * keep) * d_.normal();
        ride.wear_scatter[i] = std::exp(drift[i]) * d_.scatter(spread::ride);
      }
    }
    return rides;
  }

  PadSet draw_pads(const Rider& r, const Fitted& f, double brand) {
    PadSet p = fit_pads(r, f.wheel, f.compound, 1, d_.next(), o_.spreads);
    p.quality = brand;
    return p;
  }

  void draw_structures() {
    const std::size_t more = paths_.empty() ? static_cast<std::size_t>(o_.structures) : paths_.size();
    for (std::size_t i = 0; i < more; ++i) {
      std::array<double, 2> drift{};
      const Rider r = draw_rider();
      // Rides from the earlier of the two pairs on, so that both wear by the same.
      const int start = other_ ? std::min(f_.start_ride, other_->start_ride) : f_.start_ride;
      const auto rides = draw_rides(start, r, drift);
      const auto since = [&](const Fitted& f) { return std::vector<Ride>(rides.begin() + (f.start_ride - start), rides.end()); };
      const double brand = told_.brand ? h_.brand[static_cast<std::size_t>(f_.compound)] : 1;
      paths_.push_back(ride_through(r, f_.wheel, draw_pads(r, f_, brand), since(f_)));
      paths_.back().drift = drift;
      if (other_) {
        const bool same = other_->compound == f_.compound;
        others_.push_back(ride_through(r, other_->wheel, draw_pads(r, *other_, same ? brand : 1), since(*other_)));
        others_.back().pads = {};
      }
    }
  }

  double odd_batch() { return d_.chance(o_.spreads * spread::odd_batch_share) ? d_.uniform(spread::odd_batch[0], spread::odd_batch[1]) : 1; }

  // Logarithm of Q over an odd batch: normal. Once a first look has shown where Q lies, most are proposed there (a fifth still from the prior).
  void weigh() {
    const double var = shared_var_ + own_var_, sd = std::sqrt(var);
    const bool aimed = !samples_.empty() && !seen_.readings.empty() && sd > 0;
    double middle = 0, wide = 0;
    if (aimed) {
      double sum = 0;
      for (const Sample& s : samples_) { const double w = std::exp(s.log_weight - best_); sum += w; middle += w * std::log(s.Q); }
      middle /= sum;
      for (const Sample& s : samples_) wide += std::exp(s.log_weight - best_) * std::pow(std::log(s.Q) - middle, 2) / sum;
      wide = std::max(1.5 * std::sqrt(wide), 0.01);
    }
    samples_.clear();
    best_ = -never;
    const Wheel& wheel = h_.rider.wheels[w_];
    const int tries = seen_.readings.empty() ? 8 : aimed ? 48 : 200;
    for (std::size_t i = 0; i < paths_.size(); ++i)
      for (int k = 0; k < tries; ++k) {
        const double odd = odd_batch();
        double x = sd * d_.normal(), log_ratio = 0;
        if (aimed) {
          if (!d_.chance(0.2)) x = middle - std::log(odd) + wide * d_.normal();
          const double there = phi((x + std::log(odd) - middle) / wide) / wide, prior = phi(x / sd) / sd;
          log_ratio = -std::log(0.2 + 0.8 * there / prior);
        }
        Sample s{i, std::exp(x) * odd, {}, 0};
        for (double& mm : s.new_mm) mm = wheel.pad_new_mm + o_.spreads * spread::pad_new_mm * d_.normal();
        s.log_weight = log_ratio;
        if (other_) {
          // Of x the part shared with the other wheel, given x; then that wheel's own.
          const double part = shared_with_other_var_ / var;
          const double shared = part * x + std::sqrt(shared_with_other_var_ * (1 - part)) * d_.normal();
          const double own = std::sqrt(shared_var_ - shared_with_other_var_ + wheel_var_ + spread::batch * spread::batch) * d_.normal();
          const double new_mm = h_.rider.wheels[1 - w_].pad_new_mm;
          const std::array<double, 2> other_new = {new_mm + spread::pad_new_mm * d_.normal(), new_mm + spread::pad_new_mm * d_.normal()};
          s.log_weight += log_chance(other_seen_, others_[i], std::exp(shared + own) * odd_batch(), other_new, best_ - 30 - s.log_weight);
        }
        if (s.log_weight > -never && as_of_ >= f_.start_ride) s.log_weight += log_chance(seen_, paths_[i], s.Q, s.new_mm, best_ - 30 - s.log_weight);
        if (s.log_weight < best_ - 25) continue;
        best_ = std::max(best_, s.log_weight);
        samples_.push_back(s);
      }
    path_weights_.assign(paths_.size(), 0);
    for (const Sample& s : samples_) path_weights_[s.path] += std::exp(s.log_weight - best_);
  }

  void futures(std::array<std::vector<double>, 2>& limits, double& reached0, double& reached1) {
    // Systematic resampling: as many futures, spread evenly over the weights.
    std::vector<double> sums;
    double sum = 0;
    for (const Sample& s : samples_) sums.push_back(sum += std::exp(s.log_weight - best_));
    const double first = d_.uniform();
    const double limit = limit_mm(h_.rider, f_);
    for (int m = 0; m < o_.futures; ++m) {
      const auto at = std::lower_bound(sums.begin(), sums.end(), sum * (m + first) / o_.futures);
      const Sample& s = samples_[static_cast<std::size_t>(std::min(at - sums.begin(), static_cast<std::ptrdiff_t>(sums.size()) - 1))];
      const Path& path = paths_[s.path];
      PadSet p = path.pads;
      p.quality *= s.Q;
      p.draws = Draws(d_.next());
      std::array<double, 2> reached{};
      for (std::size_t side = 0; side < 2; ++side) {
        const auto& lost = path.lost[side];
        const auto when = std::find_if(lost.begin(), lost.end(), [&](float mm) { return s.new_mm[side] - s.Q * static_cast<double>(mm) <= limit; });
        if (when != lost.end()) reached[side] = static_cast<double>(f_.start_ride + (when - lost.begin()));
        p.thickness_mm[side] = std::max(0.0, s.new_mm[side] - (lost.empty() ? 0.0 : s.Q * static_cast<double>(lost.back())));
      }
      reached0 += (reached[0] > 0) / static_cast<double>(o_.futures);
      reached1 += (reached[1] > 0) / static_cast<double>(o_.futures);
      RiderState state = h_.states[static_cast<std::size_t>(as_of_ - 1)];
      state.wear_drift = path.drift;
      state.draws = Draws(d_.next());
      while ((reached[0] == 0 || reached[1] == 0) && state.ride < h_.observed + horizon_rides) {
        const Ride ride = next_ride(path.rider, state);
        wear_pads(path.rider, f_.wheel, ride, p);
        for (std::size_t side = 0; side < 2; ++side)
          if (reached[side] == 0 && p.thickness_mm[side] <= limit) reached[side] = ride.number;
      }
      for (std::size_t side = 0; side < 2; ++side) limits[side].push_back(reached[side] == 0 ? never : reached[side]);
    }
  }

  const History& h_;
  const Fitted& f_;
  int as_of_;
  InformedOptions o_;
  Draws d_;
  Told told_;
  std::size_t w_;
  Evidence seen_, other_seen_;
  const Fitted* other_ = nullptr;
  double shared_var_ = 0, shared_with_other_var_ = 0, wheel_var_ = 0, own_var_ = 0;
  std::vector<Path> paths_, others_;
  std::vector<Sample> samples_;
  std::vector<double> path_weights_;
  double best_ = -never;
};

// Of a rotor only thickness when new, its own factor and the wheel's are not known; the riding (soil, scatter) always is told.
Informed rotor_forecast(const History& h, const Task& task, const InformedOptions& o, std::uint64_t seed, std::vector<double>& limits, double& reached) {
  const Fitted& f = h.fitted[task.fitted];
  const auto w = static_cast<std::size_t>(f.wheel);
  const Wheel& wheel = h.rider.wheels[w];
  Draws d(seed);
  Told told = what_is_told(h, task);
  if (o.spreads == 0) told = {true, true, true, true};
  Evidence seen = evidence_of(h, f, task.as_of_ride);
  for (const Reading* r : seen.readings) seen.chances.emplace_back(*r);
  Rider rider = h.rider;
  if (!told.wheel) rider.wheels[w].rotor_factor = 1;
  const double sd = std::hypot(o.spreads * spread::rotor, told.wheel ? 0 : spread::wheel_rotor);
  const auto on = [&](int ride) { return h.on[std::min(static_cast<std::size_t>(ride - 1), h.on.size() - 1)][w]; };

  std::vector<double> lost;
  double sum = 0;
  for (int n = f.start_ride; n <= task.as_of_ride; ++n) {
    Rotor one{.quality = 1, .thickness_mm = endless_mm};
    lost.push_back(sum += wear_rotor(rider, f.wheel, h.rides[static_cast<std::size_t>(n - 1)], on(n), one) / wheel.rotor_area_mm2);
  }
  struct Draw { double Q, new_mm, log_weight; };
  std::vector<Draw> draws;
  std::vector<double> weights;
  const auto at = [&](const Draw& x, int ride) { return ride < f.start_ride ? x.new_mm : x.new_mm - x.Q * lost[static_cast<std::size_t>(ride - f.start_ride)]; };
  const int wanted = 5 * o.structures;
  do {
    const std::size_t more = draws.empty() ? static_cast<std::size_t>(wanted) : draws.size();
    for (std::size_t k = 0; k < more; ++k) {
      Draw x{d.scatter(sd), wheel.rotor_new_mm + o.spreads * spread::rotor_new_mm * d.normal(), 0};
      for (std::size_t i = 0; i < seen.readings.size(); ++i) x.log_weight += seen.chances[i].at(at(x, seen.readings[i]->ride));
      for (const int ride : seen.looks) x.log_weight += std::log(Phi((at(x, ride) - seen.limit_mm - rotor_margin_mm) / rotor_look_sd_mm));
      draws.push_back(x);
    }
    double best = -never;
    for (const Draw& x : draws) best = std::max(best, x.log_weight);
    weights.clear();
    for (const Draw& x : draws) weights.push_back(std::exp(x.log_weight - best));
  } while (effective_number(weights) < o.effective && draws.size() < 100 * static_cast<std::size_t>(o.most_structures));

  Informed out{{}, effective_number(weights), static_cast<int>(draws.size()), told.rider, told.wheel, told.brand};
  std::partial_sum(weights.begin(), weights.end(), weights.begin());
  const double first = d.uniform();
  for (int m = 0; m < o.futures; ++m) {
    const auto which = std::lower_bound(weights.begin(), weights.end(), weights.back() * (m + first) / o.futures) - weights.begin();
    const Draw& x = draws[static_cast<std::size_t>(which)];
    const auto when = std::find_if(lost.begin(), lost.end(), [&](double mm) { return x.new_mm - x.Q * mm <= seen.limit_mm; });
    double limit_ride = when == lost.end() ? 0 : static_cast<double>(f.start_ride + (when - lost.begin()));
    reached += (limit_ride > 0) / static_cast<double>(o.futures);
    Rotor rotor{.quality = x.Q, .thickness_mm = x.new_mm - (lost.empty() ? 0 : x.Q * lost.back())};
    RiderState state = h.states[static_cast<std::size_t>(task.as_of_ride - 1)];
    state.draws = Draws(d.next());
    while (limit_ride == 0 && state.ride < h.observed + horizon_rides) {
      const Ride ride = next_ride(rider, state);
      wear_rotor(rider, f.wheel, ride, on(ride.number), rotor);
      if (rotor.thickness_mm <= seen.limit_mm) limit_ride = ride.number;
    }
    limits.push_back(limit_ride == 0 ? never : limit_ride);
  }
  return out;
}

}  // namespace

double reading_chance(const Reading& r, double is_mm) {
  const double half = 0.5 * r.resolution_mm, low = r.value_mm <= 0 ? -never : r.value_mm - half, high = r.value_mm + half, sd = r.error_sd_mm;
  const auto within = [&](double mean) { return Phi((high - mean) / sd) - Phi((low - mean) / sd); };
  const auto& off = r.place == 2 ? rotor_misread_mm : pad_misread_mm;
  double chance = 0;
  const double away = std::abs(r.value_mm - is_mm);
  if (away < half + 12 * sd || r.value_mm <= 0) chance += (1 - misread_share) * within(is_mm);
  if (r.value_mm <= 0 || (away > off[0] - half - 5 * sd && away < off[1] + half + 5 * sd)) {
    constexpr int points = 16;   // the shift is uniform: its midpoints
    double sum = 0;
    for (int i = 0; i < points; ++i) {
      const double shift = off[0] + (off[1] - off[0]) * (i + 0.5) / points, wide = std::max(sd, 0.5 * (off[1] - off[0]) / points);
      for (const double mean : {is_mm + shift, is_mm - shift}) sum += 0.5 * (Phi((high - mean) / wide) - Phi((low - mean) / wide));
    }
    chance += misread_share * sum / points;
  }
  return chance;
}

std::vector<Informed> informed(const History& h, const InformedOptions& o) {
  std::vector<Informed> out(h.tasks.size());
  struct Done { Informed known; std::array<std::vector<double>, 2> limits; std::array<double, 2> reached{}; };
  std::map<std::pair<std::size_t, int>, Done> done;   // both pads of a pair at one time are one question
  for (std::size_t k = 0; k < h.tasks.size(); ++k) {
    const Task& task = h.tasks[k];
    Done& x = done[{task.fitted, task.as_of_ride}];
    if (x.limits[0].empty()) {
      const std::uint64_t seed = part_of(h.rider.seed, 900000 + k);
      if (h.fitted[task.fitted].rotor) x.known = rotor_forecast(h, task, o, seed, x.limits[0], x.reached[0]);
      else x.known = PadForecaster(h, task, o, seed).run(x.limits, x.reached[0], x.reached[1]);
      for (auto& side : x.limits) std::sort(side.begin(), side.end());
    }
    out[k] = x.known;
    const auto side = static_cast<std::size_t>(task.place == 1);
    out[k].forecast = quantiles_of(x.limits[side]);
    out[k].forecast.reached = x.reached[side];
  }
  return out;
}

}  // namespace worn
