// SPDX-License-Identifier: Apache-2.0
// A ride not yet ridden: a way without times gets a speed profile and brake power, draw by draw.              Layer: ride
// Theory: docs/models/planned.md.
#pragma once
#include <cstddef>
#include <span>
#include <string_view>
#include <vector>

#include "base/context.hpp"
#include "base/result.hpp"
#include "ride/motion.hpp"
#include "ride/route.hpp"

namespace bw::ride {

//! How the rider brakes on the way down: holding the speed for long, or late, hard and seldom.
enum class Style { dragging, short_hard };
std::string_view word_of(Style);

//! What one likely case says of this rider's habits on this way. All >= 0; top, lateral, braking > 0.
struct PlanHabits {
    double top_mps = 0;             //!< never faster; a dragging rider holds (1 - swing) of it, a short and hard one swings between it and (1 - 2 swing) of it
    double swing = 0.2;             //!< 0..0.4
    double lateral_mps2 = 0;        //!< in bends
    double braking_mps2 = 0;        //!< loss of speed planned for ahead of bends and halts, and in the pulls of short_hard
    double coast_mps2 = 0.3;        //!< loss of speed ahead of them from which on the legs rest
    double pedal_W = 0;             //!< at the wheel, on the level
    double motor_W = 0;             //!< at the wheel, while the rider pedals, up to 25 km/h
    double stops_per_km = 0;        //!< halts that the way itself does not show
    double halt_s = 0;              //!< stay at each of them
};

//! The way as it will be ridden: nodes at equal steps, altitude and bends cleared of what the planner's data add.
struct Profile {
    double step_m = 0;                      //!< along the road
    std::vector<double> altitude_m;         //!< [n] at the nodes
    std::vector<double> gradient;           //!< [n - 1] rise over run of each cell, within -0.45..0.45; agrees with altitude_m
    std::vector<double> curvature_1pm;      //!< [n] turn per metre, left positive; 0 without positions
    std::vector<double> east, north;        //!< [n - 1] unit vector of each cell; empty where has_direction is false
    bool has_altitude = false, has_bends = false;
    double altitude_error_m = 0;            //!< sd of the altitude's own error, as learned from it
    std::vector<Fault> faults;              //!< those of the route and those found here
    std::size_t size() const { return altitude_m.size(); }
};

//! Clears and resamples a way; nodes about 5 m apart.   Source: [EQ planned-1..2]
//! Fails with bad_input if the way is shorter than 20 m or longer than 2,000 km.
Result<Profile> profile_of(const Route& route);

//! Plans a ride. draws, habits: [K], one a path; keys: [K] as in reconstruct. Each path has its own speeds (MotionPath::own)
//! on the common grid of 1 s, standing after its arrival; the series shared by all paths are those of the path in the middle
//! (index `plan_middle`). unexplained is 0 on every path. Deterministic, whatever ctx.threads.
//! Fails with bad_input as profile_of and with out_of_domain on parameters or habits outside their range. A way without
//! altitude is level, with the fault no_altitude; one without positions has no bends, with the fault no_position, and feels no
//! wind_from (ask has_direction beforehand).
Result<MotionPaths> plan(const Context& ctx, const Route& route, Style style, std::span<const MotionParameters> draws,
                         std::span<const PlanHabits> habits, std::span<const std::size_t> keys);

//! Whether the way's positions tell where each part of it leads: no stretch between two of them, or before the first or after the
//! last, is longer than a tenth of the way or 1 km.
bool has_direction(const Route& route);

//! Index of the path nearest the middle of all by duration and by energy: the one that stands for a planned ride in series and drawings.
std::size_t plan_middle(const MotionPaths& planned);

}  // namespace bw::ride
