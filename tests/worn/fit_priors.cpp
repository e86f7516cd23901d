// SPDX-License-Identifier: Apache-2.0
// Fits the PRIORS form to riders of the generator by least squares on logs and nested variances.   Layer: tests/worn
// Theory: README.md, "How the priors are fitted". The form cannot follow the law: what it cannot say ends in its spreads.
// Pure functions: any thread.
#include "fit_priors.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <functional>
#include <map>

#include "histories.hpp"

namespace worn {
namespace {

struct Row { double log_rate, degC, wet, grit, done_MJ, weight; };
struct Group { std::size_t compound; int rider, wheel; std::vector<Row> pad; std::vector<Row> rotor; double lean; };

constexpr int riders = 210, sets = 3, rides_kept = 30;

std::vector<Group> simulate() {
  std::vector<Group> out;
  for (int n = 0; n < riders; ++n) {
    const Rider r = make_rider(first_prior_seed + static_cast<unsigned long>(n));
    Draws d(part_of(r.seed, 11));
    std::array<double, 3> brand{};
    for (double& b : brand) b = d.scatter(spread::brand);
    for (int w = 0; w < 2; ++w) {
      RiderState s = begin(r);
      const Wheel& wheel = r.wheels[static_cast<std::size_t>(w)];
      for (int k = 0; k < sets; ++k) {
        Group g{static_cast<std::size_t>(wheel.compound), n, w, {}, {}, 0};
        PadSet p = fit_pads(r, w, wheel.compound, brand[g.compound], part_of(r.seed, 40 + static_cast<std::uint64_t>(2 * k + w)));
        Rotor rotor = fit_rotor(r, w, part_of(r.seed, 60 + static_cast<std::uint64_t>(2 * k + w)));
        std::vector<Row> pad, disc;
        while (p.thickness_mm[0] > wheel.pad_limit_mm && pad.size() < 3000) {
          const Ride ride = next_ride(r, s);
          const double before = p.work_MJ[0], degC = ride.air_degC + ride.pad_dK[static_cast<std::size_t>(w)];
          const double volume = wear_pads(r, w, ride, p)[0], work = p.work_MJ[0] - before;
          if (p.thickness_mm[0] <= 0) break;   // cut short by the plate: not a rate
          pad.push_back({std::log(volume / work), degC, ride.wet, ride.grit, before + work / 2, volume});
          const double all = ride.work_MJ[static_cast<std::size_t>(w)];
          rotor.thickness_mm = wheel.rotor_new_mm;
          const double off = wear_rotor(r, w, ride, wheel.compound, rotor);
          disc.push_back({std::log(off / all), degC, ride.wet, ride.grit, 0, off});
        }
        if (pad.size() < 5) continue;
        g.lean = (p.work_MJ[0] - p.work_MJ[1]) / (p.work_MJ[0] + p.work_MJ[1]);
        // All of the first rides, when bedding acts, and an even choice of the others, each standing for those left out.
        const std::size_t first = std::min<std::size_t>(8, pad.size());
        const std::size_t stride = std::max<std::size_t>(1, (pad.size() - first) / rides_kept);
        for (std::size_t i = 0; i < pad.size(); i += i < first ? 1 : stride) {
          const double stands_for = i < first ? 1 : static_cast<double>(stride);
          pad[i].weight *= stands_for;
          disc[i].weight *= stands_for;
          g.pad.push_back(pad[i]);
          g.rotor.push_back(disc[i]);
        }
        out.push_back(std::move(g));
      }
    }
  }
  for (Group& g : out)
    for (auto* rows : {&g.pad, &g.rotor}) {
      double sum = 0;
      for (const Row& row : *rows) sum += row.weight;
      for (Row& row : *rows) row.weight /= sum;
    }
  return out;
}

double above(double degC, double threshold, double growth) {
  const double x = std::max(0.0, (degC - threshold) / 100);
  return std::log1p(growth * x * x);
}
double tagged(double share, double log_factor) { return std::log1p(share * std::expm1(log_factor)); }

// Least of F by steps along one parameter at a time, halved when none helps.
std::vector<double> descend(std::vector<double> x, std::vector<double> step, const std::function<double(const std::vector<double>&)>& f, int halvings) {
  double best = f(x);
  for (int h = 0; h < halvings;) {
    bool better = false;
    for (std::size_t i = 0; i < x.size(); ++i)
      for (const double sign : {1.0, -1.0}) {
        std::vector<double> y = x;
        y[i] += sign * step[i];
        if (const double v = f(y); v < best) { best = v; x = y; better = true; break; }
      }
    if (better) continue;
    for (double& s : step) s /= 2;
    ++h;
  }
  return x;
}

// Parameters of the shape: per compound threshold and log growth; log wet, log grit, log bedding, log bedding_MJ.
double shape(const std::vector<double>& p, std::size_t c, const Row& r) {
  return above(r.degC, p[2 * c], std::exp(p[2 * c + 1])) + tagged(r.wet, p[6]) + tagged(r.grit, p[7]) +
         std::log1p(std::exp(p[8]) * std::exp(-r.done_MJ / std::exp(p[9])));
}
struct Moments { double mean, within; };
Moments moments(const std::vector<Row>& rows, const std::function<double(const Row&)>& model) {
  double mean = 0, square = 0;
  for (const Row& r : rows) {
    const double e = r.log_rate - model(r);
    mean += r.weight * e;
    square += r.weight * e * e;
  }
  return {mean, square - mean * mean};
}
double median(std::vector<double> x) {
  std::nth_element(x.begin(), x.begin() + static_cast<std::ptrdiff_t>(x.size() / 2), x.end());
  return x[x.size() / 2];
}
double sd(const std::vector<double>& x) {
  double sum = 0, square = 0;
  for (const double v : x) sum += v;
  const double mean = sum / static_cast<double>(x.size());
  for (const double v : x) square += (v - mean) * (v - mean);
  return std::sqrt(square / static_cast<double>(x.size() - 1));
}
// Robust: half the width that holds 68 %, so that a few strange riders do not widen all.
double middle_sd(std::vector<double> x) {
  std::sort(x.begin(), x.end());
  const auto at = [&](double q) { return x[static_cast<std::size_t>(q * static_cast<double>(x.size() - 1))]; };
  return (at(0.8413) - at(0.1587)) / 2;
}

}  // namespace

Priors fit_priors() {
  const std::vector<Group> groups = simulate();
  Priors out{};

  // 1. Shape. Within sets as sharp as rides scatter, between sets as wide as riders differ.
  constexpr double ride_sd = 0.25, between_sd = 0.45;
  std::array<double, 3> level{};
  const auto misfit = [&](const std::vector<double>& p) {
    double sum = 0;
    std::array<double, 3> total{}, count{};
    std::vector<double> means(groups.size());
    for (std::size_t i = 0; i < groups.size(); ++i) {
      const auto c = groups[i].compound;
      const Moments m = moments(groups[i].pad, [&](const Row& r) { return shape(p, c, r); });
      means[i] = m.mean;
      total[c] += m.mean;
      count[c] += 1;
      sum += static_cast<double>(groups[i].pad.size()) * m.within / (ride_sd * ride_sd);
    }
    for (std::size_t c = 0; c < 3; ++c) level[c] = total[c] / count[c];
    for (std::size_t i = 0; i < groups.size(); ++i) sum += std::pow((means[i] - level[groups[i].compound]) / between_sd, 2);
    // A threshold below what a pad has on any ride says nothing; growth then counts from there.
    for (std::size_t c = 0; c < 3; ++c) sum += std::pow(std::max(0.0, 60 - p[2 * c]), 2);
    return sum;
  };
  const std::vector<double> p = descend({150, -1, 150, -1, 150, -1, 0.8, 1.0, -0.5, -0.5}, {40, 0.5, 40, 0.5, 40, 0.5, 0.3, 0.3, 0.5, 0.5}, misfit, 5);
  misfit(p);

  // 2. Levels and nested spreads.
  std::array<std::vector<double>, 3> means, rotor_means;
  std::map<std::pair<int, int>, std::vector<double>> by_wheel;
  std::vector<double> leans;
  double within = 0;
  for (const Group& g : groups) {
    const Moments m = moments(g.pad, [&](const Row& r) { return shape(p, g.compound, r); });
    means[g.compound].push_back(m.mean);
    by_wheel[{g.rider, g.wheel}].push_back(m.mean - level[g.compound]);
    within += m.within / static_cast<double>(groups.size());
    leans.push_back(g.lean);
  }
  double set_variance = 0, wheels = 0;
  std::vector<double> wheel_means;
  for (const auto& [key, x] : by_wheel) {
    if (x.size() < 2) continue;
    const double s = sd(x);
    set_variance += s * s;
    wheels += 1;
    double sum = 0;
    for (const double v : x) sum += v;
    wheel_means.push_back(sum / static_cast<double>(x.size()));
  }
  set_variance /= wheels;
  out.set = std::sqrt(set_variance);
  out.rider = std::sqrt(std::max(0.01, std::pow(sd(wheel_means), 2) - set_variance / sets));
  out.ride = std::sqrt(within);
  out.left_right = sd(leans);

  // 3. Wet and grit by rider: how far the factors of single riders lie apart.
  std::map<int, std::vector<const Group*>> by_rider;
  for (const Group& g : groups) by_rider[g.rider].push_back(&g);
  std::vector<double> wets, grits;
  for (const auto& [rider, own] : by_rider) {
    double wet = 0, grit = 0, n = 0;
    for (const Group* g : own)
      for (const Row& r : g->pad) { wet += r.wet > 0; grit += r.grit > 0; n += 1; }
    const auto only = [&](const std::vector<double>& q) {
      std::vector<double> full = p;
      full[6] = q[0];
      full[7] = q[1];
      double sum = 0;
      for (const Group* g : own)
        sum += moments(g->pad, [&](const Row& r) { return shape(full, g->compound, r); }).within * static_cast<double>(g->pad.size());
      // A rider with few such rides stays near the others: their own factor is not known better than that.
      return sum / (ride_sd * ride_sd) + std::pow((q[0] - p[6]) / 1.0, 2) + std::pow((q[1] - p[7]) / 1.0, 2);
    };
    const auto q = descend({p[6], p[7]}, {0.2, 0.2}, only, 4);
    if (wet >= 15 && wet <= n - 15) wets.push_back(q[0]);
    if (grit >= 10 && grit <= n - 15) grits.push_back(q[1]);
  }
  out.wet = std::exp(p[6]);
  out.grit = std::exp(p[7]);
  out.wet_sd = middle_sd(wets);
  out.grit_sd = middle_sd(grits);
  out.bedding = std::exp(p[8]);
  out.bedding_MJ = std::exp(p[9]);

  // 4. How sets differ in heat: the law's curve of each set, from 60 to 420 degC, against the form with a threshold and growth of its own.
  std::vector<double> growths, thresholds;
  Draws d(part_of(first_prior_seed, 12));
  for (std::size_t c = 0; c < 3; ++c)
    for (int i = 0; i < 40; ++i) {
      const PadSet set = fit_pads(make_rider(first_prior_seed), 0, static_cast<Compound>(c), 1, d.next());
      const auto curve = [&](const std::vector<double>& q) {
        double sum = 0, mean = 0, n = 0;
        std::vector<double> e;
        for (double T = 60; T <= 420; T += 20) {
          e.push_back(std::log(hot_factor(set.compound, set.decay_degC, set.activation_kJ_mol, T)) - above(T, q[0], std::exp(q[1])));
          mean += e.back();
          n += 1;
        }
        for (const double v : e) sum += std::pow(v - mean / n, 2);
        return sum + std::pow(std::max(0.0, 60 - q[0]), 2);
      };
      const auto q = descend({p[2 * c], p[2 * c + 1]}, {30, 0.4}, curve, 6);
      thresholds.push_back(q[0]);
      growths.push_back(q[1]);
    }
  std::vector<double> dT, dg;
  for (std::size_t c = 0; c < 3; ++c) {
    const auto part = [&](const std::vector<double>& x) { return std::vector<double>(x.begin() + static_cast<std::ptrdiff_t>(40 * c), x.begin() + static_cast<std::ptrdiff_t>(40 * c + 40)); };
    dT.push_back(middle_sd(part(thresholds)));
    dg.push_back(middle_sd(part(growths)));
  }
  out.threshold_dK = median(dT);
  out.growth = median(dg);

  // 5. Rotors: the exponent that wet and grit take, then level and spread.
  const auto rotor_model = [&](double exponent, const Row& r) { return exponent * (tagged(r.wet, p[6]) + tagged(r.grit, p[7])); };
  const auto rotor_misfit = [&](const std::vector<double>& q) {
    double sum = 0;
    for (const Group& g : groups) sum += moments(g.rotor, [&](const Row& r) { return rotor_model(q[0], r); }).within;
    return sum;
  };
  out.rotor_exponent = descend({0.5}, {0.2}, rotor_misfit, 6)[0];
  for (const Group& g : groups) rotor_means[g.compound].push_back(moments(g.rotor, [&](const Row& r) { return rotor_model(out.rotor_exponent, r); }).mean);
  std::vector<double> rotor_spread;
  for (std::size_t c = 0; c < 3; ++c) {
    const double middle = median(rotor_means[c]);
    out.compound[c] = {std::exp(median(means[c])), std::exp(middle), p[2 * c], std::exp(p[2 * c + 1])};
    for (const double m : rotor_means[c]) rotor_spread.push_back(m - middle);
  }
  out.rotor_rider = sd(rotor_spread);

  // 6. Papers against truth.
  std::vector<double> biases, scatter, heat, new_pad, new_rotor, misreads;
  double wet_wrong = 0, all_rides = 0, gritty = 0, unseen = 0, readings = 0, misread = 0;
  for (int n = 0; n < 70; ++n) {
    const History h = make_history(first_prior_seed + static_cast<unsigned long>(n), 0);
    for (std::size_t w = 0; w < 2; ++w) {
      double told = 0, was = 0;
      for (std::size_t i = 0; i < h.recorded.size(); ++i) { told += h.recorded[i].MJ[w]; was += h.rides[i].work_MJ[w]; }
      biases.push_back(std::log(told / was));
      for (std::size_t i = 0; i < h.recorded.size(); ++i) {
        scatter.push_back(std::log(h.recorded[i].MJ[w] / h.rides[i].work_MJ[w]) - biases.back());
        heat.push_back(h.recorded[i].pad_degC[w] - h.rides[i].air_degC - h.rides[i].pad_dK[w]);
      }
    }
    for (std::size_t i = 0; i < h.recorded.size(); ++i) {
      wet_wrong += (h.recorded[i].wet > 0) != (h.rides[i].wet > 0);
      all_rides += 1;
      gritty += h.rides[i].grit > 0;
      unseen += h.rides[i].grit > 0 && h.recorded[i].grit == 0;
    }
    for (const Fitted& f : h.fitted) {
      const Wheel& w = h.rider.wheels[static_cast<std::size_t>(f.wheel)];
      if (f.rotor) new_rotor.push_back(f.rotor_new.thickness_mm - w.rotor_new_mm);
      else for (const double mm : f.pads_new.thickness_mm) new_pad.push_back(mm - w.pad_new_mm);
    }
    for (const Reading& r : h.readings) {
      readings += 1;
      misread += r.misread;
      if (r.misread && r.place != 2) misreads.push_back(r.value_mm - r.true_mm);
    }
  }
  out.energy_bias = sd(biases);
  out.energy_ride = sd(scatter);
  out.pad_temperature_dK = sd(heat);
  out.wet_wrong = wet_wrong / all_rides;
  out.grit_unseen = unseen / gritty;
  out.misread_share = misread / readings;
  out.misread_mm = sd(misreads);
  out.new_pad_sd_mm = sd(new_pad);
  out.new_rotor_sd_mm = sd(new_rotor);
  return out;
}

std::string as_toml(const Priors& p) {
  std::string out;
  for (std::size_t c = 0; c < 3; ++c)
    out += fmt::format("[compound.{}]\nspecific_wear_mm3_MJ = {:.4g}\nrotor_wear_mm3_MJ = {:.4g}\nthreshold_degC = {:.4g}\ngrowth = {:.4g}\n\n", compound_names[c],
                       p.compound[c].specific_wear_mm3_MJ, p.compound[c].rotor_wear_mm3_MJ, p.compound[c].threshold_degC, p.compound[c].growth);
  out += fmt::format("[spread]\nrider = {:.4g}\nset = {:.4g}\ngrowth = {:.4g}\nthreshold_dK = {:.4g}\nleft_right = {:.4g}\nrotor_rider = {:.4g}\nride = {:.4g}\n\n", p.rider, p.set,
                     p.growth, p.threshold_dK, p.left_right, p.rotor_rider, p.ride);
  out += fmt::format("[factor]\nwet = {:.4g}\nwet_sd = {:.4g}\ngrit = {:.4g}\ngrit_sd = {:.4g}\nrotor_exponent = {:.4g}\nbedding = {:.4g}\nbedding_MJ = {:.4g}\n\n", p.wet, p.wet_sd,
                     p.grit, p.grit_sd, p.rotor_exponent, p.bedding, p.bedding_MJ);
  out += fmt::format(
      "[observation]\nenergy_bias = {:.4g}\nenergy_ride = {:.4g}\npad_temperature_dK = {:.4g}\nwet_wrong = {:.4g}\ngrit_unseen = {:.4g}\nmisread_share = {:.4g}\n"
      "misread_mm = {:.4g}\nnew_pad_sd_mm = {:.4g}\nnew_rotor_sd_mm = {:.4g}\n",
      p.energy_bias, p.energy_ride, p.pad_temperature_dK, p.wet_wrong, p.grit_unseen, p.misread_share, p.misread_mm, p.new_pad_sd_mm, p.new_rotor_sd_mm);
  return out;
}

}  // namespace worn
