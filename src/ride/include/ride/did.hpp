// SPDX-License-Identifier: Apache-2.0
// What the brakes did on a ride: by time, by bend, by stop, by metres descended, and where they worked hardest.   Layer: ride
// Theory: docs/models/did.md.                                                            Pure functions: any thread.
//
// Every energy comes twice: its mean over the paths (means add up) and its interval over the paths (intervals do not). Places
// and times are those of the motion that the paths share. Where paths carry their own motion (planned rides) a stretch of
// way is the same for all of them, at each path's own time.
#pragma once
#include <optional>
#include <span>
#include <vector>

#include "base/interval.hpp"
#include "ride/motion.hpp"

namespace bw::ride {

//! Brake energy [J]; signed as the power is, so an hour without braking may show some joules below zero.
struct Took {
    double mean_J = 0;
    Interval energy_J;
};

//! A window of time, start_s <= t < end_s; the windows of a ride add up to its brake energy on every path.
struct Window {
    double start_s = 0, end_s = 0;
    Took took = {};
};
std::vector<Window> windows_of(const MotionPaths&, double window_s = 300);

//! One bend: the way along which the road turns to one side with a radius under 80 m, by at least 30 degrees in all.
struct Bend {
    double start_s = 0, end_s = 0;            //!< of the bend itself
    double start_m = 0, end_m = 0;
    double approach_m = 0;                    //!< where the braking for it began; start_m if it was not braked for
    double turn_deg = 0;                      //!< left positive
    double radius_m = 0;                      //!< the tightest
    double approach_mps = 0, entry_mps = 0, slowest_mps = 0;   //!< at approach_m, at start_m, inside; means over the paths
    Took took = {};                                //!< from approach_m to end_m; no metre counts for two bends
};
//! In order of the way; none if the places are not known. [EQ did-2]
std::vector<Bend> bends_of(const MotionPaths&);

//! A halt that the brakes made: from the first braking of the last slowing down to standing (under 0.5 m/s, or the recorder paused).
struct Halt {
    double start_s = 0, end_s = 0, distance_m = 0;   //!< distance: where it stands
    double from_mps = 0, mean_deceleration_mps2 = 0;
    Took took = {};
};
//! In order of time; without those that took less than 100 J. With own motion the halts of the path that the shared series
//! follow, and its energy alone. [EQ did-3]
std::vector<Halt> halts_of(const MotionPaths&);

//! Braking between from_m and to_m metres of descent, counted from the start of the ride.
struct DescentStep {
    double from_m = 0, to_m = 0;
    Took took = {};
};
struct Descent {
    std::vector<DescentStep> steps;   //!< empty under 20 m of descent; the last one is shorter
    Took rest = {};                        //!< braked on the level or uphill; steps and rest add up to the ride's energy on every path
};
//! Rises under turn_m between two descents do not end one: the recording knows no better. [EQ did-4]
Descent descent_of(const MotionPaths&, double step_m = 100, double turn_m = 2);

//! The hardest stretch of over_s seconds (shorter if the ride is): the largest mean power.
struct Effort {
    double over_s = 0, start_s = 0, distance_m = 0, gradient = 0, speed_mps = 0;   //!< distance: its middle; the others: means
    Interval power_W = {};   //!< over the paths: of that stretch, or with own motion of each path's own hardest
};
//! Nothing if the brakes did no work. [EQ did-5]
std::optional<Effort> hardest_of(const MotionPaths&, double over_s);

//! All of it.
struct BrakesDid {
    std::vector<Window> windows;
    std::vector<Bend> bends;
    std::vector<Halt> halts;
    Descent descent;
    std::optional<Effort> hardest_10s, hardest_60s;
};
BrakesDid brakes_did(const MotionPaths&);

//! Brake power [n] of the typical ride: the mean over the paths; with own motion that of the path which the shared series follow.
std::vector<double> typical_power_W(const MotionPaths&);

}  // namespace bw::ride
