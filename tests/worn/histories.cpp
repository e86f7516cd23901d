// SPDX-License-Identifier: Apache-2.0
// Replacement, readings and tasks of one invented rider, the truth behind them, and the oracle.   Layer: tests/worn
// Theory: README.md. The times of tasks are set by what was known then (the rider's riding, the usual wear, the part still on),
// never by the truth: choosing by the truth would make honest forecasts look wrong. Pure functions: any thread.
#include "histories.hpp"

#include <algorithm>
#include <limits>

namespace worn {
namespace {

// Mean volume a ride by the usual wear under this rider's riding -> rides that a new part lasts.
double usual_life(const Rider& rider, int wheel, bool rotor, Compound c) {
  const Rider r = made_usual(rider);
  const Wheel& w = r.wheels[static_cast<std::size_t>(wheel)];
  RiderState s = begin(r);
  s.draws = Draws(part_of(r.seed, 99));
  PadSet pads = usual_pads(r, wheel, c);
  Rotor disc{.quality = 1, .thickness_mm = 1e6};
  double volume = 0;
  constexpr int n = 200;
  for (int i = 0; i < n; ++i) {
    const Ride ride = next_ride(r, s);
    pads.thickness_mm = {1e6, 1e6};
    const auto worn = wear_pads(r, wheel, ride, pads);
    volume += rotor ? wear_rotor(r, wheel, ride, c, disc) : 0.5 * (worn[0] + worn[1]);
  }
  return rotor ? (w.rotor_new_mm - w.rotor_limit_mm) * w.rotor_area_mm2 / (volume / n)
               : (w.pad_new_mm - w.pad_limit_mm) * w.pad_area_mm2 / (volume / n);
}

// How this rider's recorder errs, for good and by the ride.
struct Recorder {
  double energy, share_shift, heat, unseen_grit;
};
double quarters(double x) { return std::round(4 * x) / 4; }

Recorded record(const Ride& ride, const Recorder& by, Draws& d) {
  Recorded out{};
  const double total = ride.work_MJ[0] + ride.work_MJ[1], front = ride.work_MJ[0] / total;
  const double log_sd = d.uniform(0.05, 0.2);
  const double measured = total * by.energy * d.scatter(log_sd);
  const double odds = front / (1 - front) * std::exp(by.share_shift + 0.1 * d.normal());
  const double share = odds / (1 + odds);
  out.MJ = {measured * share, measured * (1 - share)};
  for (std::size_t w = 0; w < 2; ++w) {
    const double other = w == 0 ? 1 - share : share;
    out.sd_MJ[w] = out.MJ[w] * std::hypot(log_sd, 0.09, 0.2 * other);
    out.pad_degC[w] = ride.air_degC + ride.pad_dK[w] * by.heat * d.scatter(0.08) + 4 * d.normal();
  }
  out.km = ride.km * d.scatter(0.004);
  out.descent_m = ride.descent_m * d.scatter(0.05);
  out.duration_s = ride.duration_s;
  out.wet = d.chance(0.04) ? (ride.wet > 0 ? 0.0 : 1.0) : quarters(ride.wet);
  const bool seen = !d.chance(by.unseen_grit), imagined = d.chance(0.02);
  out.grit = ride.grit > 0 ? (seen ? std::max(0.25, quarters(ride.grit)) : 0) : (imagined ? 0.5 : 0);
  return out;
}

// What the rider measures with and how often.
struct Habits {
  double every_rides = 0, every_days = 0, share_of_life = 0;   // the first that is not 0 counts
  double pad_sd_mm, pad_resolution_mm, rotor_sd_mm, rotor_resolution_mm, true_over_stated;
  bool rotors, both_sides, when_off;                       // when_off: measures what comes off
  double looks_every, margin_mm, early_share;
};
Habits draw_habits(Draws& d) {
  Habits h{};
  switch (static_cast<int>(d.uniform(0, 5))) {
    case 0: h.every_rides = 5; break;
    case 1: h.every_rides = 15; break;
    case 2: h.share_of_life = 0.2; break;
    case 3: h.every_days = 30; break;
    default: h.share_of_life = 0.4; break;
  }
  const double tool = d.uniform();   // depth gauge, caliper, ruler; thickness is taken at a few points of the pad
  h.pad_sd_mm = tool < 0.3 ? 0.04 : tool < 0.8 ? 0.07 : 0.2;
  h.pad_resolution_mm = tool < 0.3 ? 0.01 : tool < 0.8 ? 0.05 : 0.25;
  const bool micrometer = d.chance(0.6);
  h.rotor_sd_mm = micrometer ? 0.008 : 0.025;
  h.rotor_resolution_mm = micrometer ? 0.01 : 0.05;
  h.true_over_stated = d.scatter(0.2);
  h.rotors = d.chance(0.7);
  h.both_sides = d.chance(0.8);
  h.when_off = d.chance(0.5);
  h.looks_every = std::round(6 * d.scatter(0.7)) + 1;
  h.margin_mm = 0.03 + 0.08 * d.normal();
  h.early_share = 0.12;
  return h;
}

// What is on one wheel now.
struct Mounted {
  std::size_t pads_index = 0, rotor_index = 0;             // in History::fitted
  PadSet pads{};
  Rotor rotor{};
  double next_reading = 0, next_look = 0, planned_end = 0, life = 0;
};

struct Story {                                             // grows a history ride by ride
  History& h;
  Habits habits;
  Draws d;
  std::array<double, 3> brand;
  std::array<Mounted, 2> wheels{};
  int fittings = 0;

  // Rides to the next reading: who goes by the life of pads goes by the last pair's, the first time by hearsay.
  double gap(const Mounted& m) {
    const double rides = habits.every_rides > 0  ? habits.every_rides
                         : habits.every_days > 0 ? habits.every_days * h.rider.rides_per_year / 365.25
                                                 : habits.share_of_life * m.life;
    return std::max(1.0, rides * d.scatter(0.35));
  }

  void mount_pads(int wheel, int start, int set, Compound c) {
    Mounted& m = wheels[static_cast<std::size_t>(wheel)];
    Fitted f{.wheel = wheel, .rotor = false, .set = set, .start_ride = start, .compound = c};
    f.pads_new = fit_pads(h.rider, wheel, c, brand[static_cast<std::size_t>(c)], part_of(h.rider.seed, 1000 + static_cast<std::uint64_t>(fittings)));
    ++fittings;
    f.usual_life = usual_life(h.rider, wheel, false, c);
    m.pads = f.pads_new;
    m.planned_end = d.chance(habits.early_share) ? start + d.uniform(0.3, 0.8) * f.usual_life : std::numeric_limits<double>::infinity();
    m.life = set == 1 ? f.usual_life : start - h.fitted[m.pads_index].start_ride;
    m.next_reading = start + gap(m);
    m.next_look = start + habits.looks_every;
    m.pads_index = h.fitted.size();
    h.fitted.push_back(f);
  }
  void mount_rotor(int wheel, int start, int set) {
    Mounted& m = wheels[static_cast<std::size_t>(wheel)];
    const Compound c = h.fitted[m.pads_index].compound;
    Fitted f{.wheel = wheel, .rotor = true, .set = set, .start_ride = start, .compound = c};
    f.rotor_new = fit_rotor(h.rider, wheel, part_of(h.rider.seed, 5000 + static_cast<std::uint64_t>(fittings++)));
    f.usual_life = usual_life(h.rider, wheel, true, c);
    m.rotor = f.rotor_new;
    m.rotor_index = h.fitted.size();
    h.fitted.push_back(f);
  }

  double read(const Ride& ride, int wheel, int place, int set, double true_mm, double swell_mm) {
    const double sd = place == 2 ? habits.rotor_sd_mm : habits.pad_sd_mm;
    const double step = place == 2 ? habits.rotor_resolution_mm : habits.pad_resolution_mm;
    const bool misread = d.chance(misread_share);
    double seen = true_mm + swell_mm + sd * habits.true_over_stated * d.normal();
    if (misread) seen += (d.chance(0.5) ? 1 : -1) * (place == 2 ? d.uniform(rotor_misread_mm[0], rotor_misread_mm[1]) : d.uniform(pad_misread_mm[0], pad_misread_mm[1]));
    seen = std::max(0.0, step * std::round(seen / step));
    h.readings.push_back({ride.number, ride.day, wheel, place, set, seen, true_mm, sd, step, sd * habits.true_over_stated, misread});
    return seen;
  }

  void after(const Ride& ride, int wheel) {
    Mounted& m = wheels[static_cast<std::size_t>(wheel)];
    const Wheel& part = h.rider.wheels[static_cast<std::size_t>(wheel)];
    wear_pads(h.rider, wheel, ride, m.pads);
    wear_rotor(h.rider, wheel, ride, m.pads.compound, m.rotor);
    const double thinnest = std::min(m.pads.thickness_mm[0], m.pads.thickness_mm[1]);
    double seen = 1e9, rotor_seen = 1e9;
    const bool reads = ride.number >= m.next_reading;
    if (reads) {
      const Fitted &pads = h.fitted[m.pads_index], &rotor = h.fitted[m.rotor_index];
      for (int side = 0; side < (habits.both_sides ? 2 : 1); ++side)
        seen = std::min(seen, read(ride, wheel, side, pads.set, m.pads.thickness_mm[static_cast<std::size_t>(side)], m.pads.swell_mm));
      if (habits.rotors) rotor_seen = read(ride, wheel, 2, rotor.set, m.rotor.thickness_mm, 0);
      m.next_reading = ride.number + gap(m);
    }
    if (ride.number >= m.next_look) {
      h.looks.push_back({ride.number, wheel, h.fitted[m.pads_index].set});
      seen = std::min(seen, thinnest + look_sd_mm * d.normal());
      m.next_look = ride.number + habits.looks_every * d.scatter(0.3);
    }
    const bool grinds = thinnest < grinds_mm;
    const bool new_pads = seen <= part.pad_limit_mm + habits.margin_mm || ride.number >= m.planned_end || grinds;
    const bool new_rotor = rotor_seen <= part.rotor_limit_mm || (new_pads && m.rotor.thickness_mm + rotor_look_sd_mm * d.normal() <= part.rotor_limit_mm + rotor_margin_mm);
    if (new_pads) {
      if (habits.when_off && !reads)
        for (int side = 0; side < (habits.both_sides ? 2 : 1); ++side)
          read(ride, wheel, side, h.fitted[m.pads_index].set, m.pads.thickness_mm[static_cast<std::size_t>(side)], m.pads.swell_mm);
      h.fitted[m.pads_index].end_ride = ride.number;
      Compound c = m.pads.compound;
      if (h.rider.changes_compound && d.chance(0.4)) c = static_cast<Compound>(static_cast<int>(d.uniform(0, 3)));
      mount_pads(wheel, ride.number + 1, h.fitted[m.pads_index].set + 1, c);
      if (!new_rotor && c != h.fitted[m.rotor_index].compound) h.fitted[m.rotor_index].mixed = true;
    }
    if (new_rotor) {
      h.fitted[m.rotor_index].end_ride = ride.number;
      mount_rotor(wheel, ride.number + 1, h.fitted[m.rotor_index].set + 1);
    }
  }
};

}  // namespace

double limit_mm(const Rider& r, const Fitted& f) {
  const Wheel& w = r.wheels[static_cast<std::size_t>(f.wheel)];
  return f.rotor ? w.rotor_limit_mm : w.pad_limit_mm;
}

std::string component_name(int wheel, int place) {
  constexpr std::array<const char*, places> names = {"left_pad", "right_pad", "rotor"};
  return std::string(wheel == 0 ? "front_" : "rear_") + names[static_cast<std::size_t>(place)];
}

History make_history(std::uint64_t seed, int most_tasks) {
  History h;
  h.rider = make_rider(seed);
  Draws d(part_of(seed, 3));
  Recorder by{};
  by.energy = d.scatter(0.09);
  by.share_shift = 0.18 * d.normal();
  by.heat = d.scatter(0.10);
  by.unseen_grit = d.uniform(0.1, 0.5);
  std::array<double, 3> brand{};
  for (double& b : brand) b = d.scatter(spread::brand);
  Story story{h, draw_habits(d), Draws(part_of(seed, 4)), brand};
  h.brand = brand;
  h.margin_mm = story.habits.margin_mm;

  // The papers begin while an unlisted pair of pads is on: rides are known before the first part is.
  const int before = static_cast<int>(std::clamp(d.uniform(0.4, 1.1) * h.rider.rides_per_year, 30.0, 200.0));
  const double front_life = usual_life(h.rider, 0, false, h.rider.wheels[0].compound);
  h.observed = before + static_cast<int>(std::clamp(d.uniform(1.6, 3.2) * front_life, 120.0, 1500.0));

  h.tip = begin(h.rider);
  for (int i = 0; i < h.observed; ++i) {
    h.rides.push_back(next_ride(h.rider, h.tip));
    h.states.push_back(h.tip);
    h.recorded.push_back(record(h.rides.back(), by, d));
    if (i == before)
      for (int w = 0; w < 2; ++w) {
        story.mount_pads(w, i + 1, 1, h.rider.wheels[static_cast<std::size_t>(w)].compound);
        story.mount_rotor(w, i + 1, 1);
      }
    h.on.push_back({story.wheels[0].pads.compound, story.wheels[1].pads.compound});
    if (i >= before)
      for (int w = 0; w < 2; ++w) story.after(h.rides.back(), w);
  }

  // Tasks: at fitting, and at shares of the usual life while the part is still on. Parts that nobody would wear out are left out.
  Draws t(part_of(seed, 5));
  for (std::size_t i = 0; i < h.fitted.size(); ++i) {
    const Fitted& f = h.fitted[i];
    if (f.usual_life > 4000 || (f.rotor && !story.habits.rotors)) continue;
    int last = -1;
    for (const double share : {0.0, 0.2, 0.45, 0.7, 0.95, 1.25}) {
      const int as_of = f.start_ride - 1 + static_cast<int>(std::lround(share * t.uniform(0.8, 1.2) * f.usual_life));
      if (as_of == last || as_of > h.observed || (f.end_ride > 0 && as_of >= f.end_ride)) continue;
      last = as_of;
      for (int place = f.rotor ? 2 : 0; place < (f.rotor ? 3 : 2); ++place) h.tasks.push_back({f.wheel, place, f.set, as_of, i, f.rotor ? 3 : share < 0.3 ? 0 : share < 0.6 ? 1 : 2});
    }
  }
  // Thinned by lot, from the stage that has most.
  while (static_cast<int>(h.tasks.size()) > most_tasks) {
    std::array<int, 4> count{};
    for (const Task& task : h.tasks) ++count[static_cast<std::size_t>(task.stage)];
    const auto most = std::max_element(count.begin(), count.end()) - count.begin();
    auto skip = static_cast<int>(t.next() % static_cast<std::uint64_t>(count[static_cast<std::size_t>(most)]));
    h.tasks.erase(std::find_if(h.tasks.begin(), h.tasks.end(), [&](const Task& task) { return task.stage == most && skip-- == 0; }));
  }
  return h;
}

std::vector<std::array<double, 2>> true_path(History& h, const Fitted& f) {
  std::vector<std::array<double, 2>> path;
  PadSet pads = f.pads_new;
  Rotor rotor = f.rotor_new;
  const double limit = limit_mm(h.rider, f);
  for (int n = f.start_ride; n <= h.observed + horizon_rides; ++n) {
    const auto i = static_cast<std::size_t>(n - 1);
    while (h.rides.size() <= i) h.rides.push_back(next_ride(h.rider, h.tip));
    if (f.rotor) {
      wear_rotor(h.rider, f.wheel, h.rides[i], h.on[std::min(i, h.on.size() - 1)][static_cast<std::size_t>(f.wheel)], rotor);
      path.push_back({rotor.thickness_mm, rotor.thickness_mm});
    } else {
      wear_pads(h.rider, f.wheel, h.rides[i], pads);
      path.push_back(pads.thickness_mm);
    }
    if (path.back()[0] <= limit && path.back()[1] <= limit) break;
  }
  return path;
}

std::map<std::pair<std::size_t, int>, int> true_limits(History& h) {
  std::map<std::pair<std::size_t, int>, int> out;
  for (std::size_t k = 0; k < h.tasks.size(); ++k) {
    const std::size_t index = h.tasks[k].fitted;
    const Fitted f = h.fitted[index];
    if (out.count({index, f.rotor ? 2 : 0})) continue;
    const auto path = true_path(h, f);
    const double limit = limit_mm(h.rider, f);
    for (int place = f.rotor ? 2 : 0; place < (f.rotor ? 3 : 2); ++place) {
      const auto side = static_cast<std::size_t>(place == 1);
      const auto at = std::find_if(path.begin(), path.end(), [&](const auto& mm) { return mm[side] <= limit; });
      out[{index, place}] = at == path.end() ? 0 : f.start_ride + static_cast<int>(at - path.begin());
    }
  }
  return out;
}

Oracle quantiles_of(const std::vector<double>& sorted) {
  Oracle out{};
  const auto draws = static_cast<double>(sorted.size());
  for (std::size_t q = 0; q < levels.size(); ++q) {
    const double at = std::clamp(levels[q] * draws - 0.5, 0.0, draws - 1.0);
    const auto low = static_cast<std::size_t>(at);
    const std::size_t high = std::min(low + 1, sorted.size() - 1);
    out.limit_ride[q] = std::isfinite(sorted[high]) ? sorted[low] + (at - static_cast<double>(low)) * (sorted[high] - sorted[low]) : std::nan("");
  }
  return out;
}

std::vector<Oracle> oracle(const History& h, int draws) {
  std::vector<Oracle> out(h.tasks.size());
  std::map<std::pair<std::size_t, int>, std::array<std::vector<double>, 2>> done;   // by part and time: limit rides of both sides
  for (std::size_t k = 0; k < h.tasks.size(); ++k) {
    const Task& task = h.tasks[k];
    const Fitted& f = h.fitted[task.fitted];
    const double limit = limit_mm(h.rider, f);
    auto& limits = done[{task.fitted, task.as_of_ride}];
    if (limits[0].empty()) {
      PadSet pads = f.pads_new;
      Rotor rotor = f.rotor_new;
      std::array<double, 2> reached{};
      const auto step = [&](const Ride& ride, PadSet& p, Rotor& r, std::array<double, 2>& at) {
        const auto i = std::min(static_cast<std::size_t>(ride.number - 1), h.on.size() - 1);
        if (f.rotor) wear_rotor(h.rider, f.wheel, ride, h.on[i][static_cast<std::size_t>(f.wheel)], r);
        else wear_pads(h.rider, f.wheel, ride, p);
        for (std::size_t s = 0; s < 2; ++s)
          if (at[s] == 0 && (f.rotor ? r.thickness_mm : p.thickness_mm[s]) <= limit) at[s] = ride.number;
      };
      for (int n = f.start_ride; n <= task.as_of_ride; ++n) step(h.rides[static_cast<std::size_t>(n - 1)], pads, rotor, reached);
      for (int m = 0; m < draws; ++m) {
        RiderState s = h.states[static_cast<std::size_t>(task.as_of_ride - 1)];
        s.draws = Draws(part_of(h.rider.seed, 100000 + static_cast<std::uint64_t>(k) * 4096 + static_cast<std::uint64_t>(m)));
        PadSet p = pads;
        p.draws = Draws(s.draws.next());
        Rotor r = rotor;
        std::array<double, 2> at = reached;
        while ((at[0] == 0 || at[1] == 0) && s.ride < h.observed + horizon_rides) step(next_ride(h.rider, s), p, r, at);
        for (std::size_t side = 0; side < 2; ++side) limits[side].push_back(at[side] == 0 ? std::nan("") : at[side]);
      }
      for (auto& side : limits) std::sort(side.begin(), side.end(), [](double a, double b) { return a < b || (std::isnan(b) && !std::isnan(a)); });
    }
    const auto& sorted = limits[static_cast<std::size_t>(task.place == 1)];
    out[k] = quantiles_of(sorted);
    out[k].reached = static_cast<double>(std::count_if(sorted.begin(), sorted.end(), [&](double x) { return x <= task.as_of_ride; })) / draws;
  }
  return out;
}

}  // namespace worn
