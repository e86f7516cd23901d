// SPDX-License-Identifier: Apache-2.0
// One rider's papers: rides as recorded, parts fitted, readings, tasks; and the truth of each task.   Layer: tests/worn
// Theory: README.md. What is written out is what a rider could know; the truth goes on beyond replacement with the rider's own rides.
// Pure functions: any thread.
#pragma once
#include <map>
#include <string>
#include <vector>

#include "law.hpp"

namespace worn {

constexpr int places = 3;                                  // left pad, right pad, rotor
std::string component_name(int wheel, int place);          // front_left_pad ... rear_rotor

struct Fitted {                                            // a pair of pads, or a rotor, and when it was on
  int wheel = 0;
  bool rotor = false;
  int set = 1, start_ride = 1, end_ride = 0;               // last ride on it; 0: still on
  Compound compound{};
  bool mixed = false;                                      // rotor that met more than one compound
  PadSet pads_new{};
  Rotor rotor_new{};
  double usual_life = 0;                                   // rides, from this rider's riding and the usual wear: no truth in it
};
double limit_mm(const Rider&, const Fitted&);
struct Reading { int ride; double day; int wheel, place, set; double value_mm, true_mm, sd_mm, resolution_mm, error_sd_mm; bool misread; };   // error_sd_mm: how it really errs
struct Look { int ride, wheel, set; };                   // by eye; pads thinner than the limit and the rider's margin come off
struct Task { int wheel, place, set, as_of_ride; std::size_t fitted; int stage; };   // stage: 0 early .. 2 late by the usual life, 3 a rotor
struct Recorded { double km, descent_m, duration_s; std::array<double, 2> MJ, sd_MJ, pad_degC; double wet, grit; };

inline constexpr double misread_share = 0.02, look_sd_mm = 0.08, grinds_mm = 0.15, rotor_look_sd_mm = 0.03, rotor_margin_mm = 0.03;
inline constexpr std::array<double, 2> pad_misread_mm = {0.3, 1.2}, rotor_misread_mm = {0.1, 0.4};   // off by, either way

struct History {
  Rider rider{};
  int observed = 0;                                        // rides that the papers hold
  std::vector<Ride> rides;                                 // true, and on beyond `observed` as far as was asked
  std::vector<RiderState> states;                          // after ride i + 1, i < observed
  std::vector<Recorded> recorded;
  std::vector<std::array<Compound, 2>> on;                 // compound on each wheel at ride i + 1, i < observed
  std::vector<Fitted> fitted;
  std::vector<Reading> readings;
  std::vector<Look> looks;
  std::array<double, 3> brand{};                           // wear of this rider's brand of each compound
  double margin_mm = 0;                                    // above the limit, at which this rider takes pads off
  std::vector<Task> tasks;
  RiderState tip;                                          // where `rides` ends
};

constexpr int horizon_rides = 20000;                       // beyond the papers; a truth further out is not known
History make_history(std::uint64_t seed, int most_tasks);

//! Thickness after each ride from start_ride on, by side (a rotor fills side 0), until all are at or below their limit or the horizon.
//! Lengthens history.rides where that is needed.
std::vector<std::array<double, 2>> true_path(History&, const Fitted&);
//! Ride after which a component is at or below its limit; 0 if that lies beyond the horizon.
std::map<std::pair<std::size_t, int>, int> true_limits(History&);

//! Quantiles of the limit ride by one who knows the law, the rider and the part as it is, but not the rides to come.
//! In the order of `levels`; when pads come off under a rotor is known to it. NaN beyond the horizon.
inline constexpr std::array levels = {0.005, 0.05, 0.25, 0.5, 0.75, 0.95};
struct Oracle { std::array<double, levels.size()> limit_ride; double reached; };
//! SORTED: drawn limit rides, those beyond the horizon last and not finite.
Oracle quantiles_of(const std::vector<double>& sorted);
std::vector<Oracle> oracle(const History&, int draws);      // one for each task

}  // namespace worn
