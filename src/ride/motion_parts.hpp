// SPDX-License-Identifier: Apache-2.0
// Stages of the reconstruction, each a function of plain vectors on the 1-s grid. Internal to ride.       Layer: ride
// Theory: docs/models/motion.md.
#pragma once
#include <cstddef>
#include <cstdint>
#include <optional>
#include <span>
#include <vector>

#include "ride/motion.hpp"
#include "ride/track.hpp"

namespace bw::ride::internal {

//! What a cadence channel says of the legs over a second.
enum class Legs : std::uint8_t { not_known, turn, rest };

//! What is known of each second before any filter: which seconds stand, are bridged, or are left out. All [n].
struct Grid {
    double t0_s = 0;                      //!< time of second 0
    std::size_t n = 0;
    std::vector<std::uint8_t> standing;   //!< paused: speed is zero
    std::vector<std::uint8_t> bridged;    //!< inside a gap in which the bike moved
    std::vector<std::uint8_t> left_out;   //!< outside the account (vehicle, or carried while the recorder was off)
    std::vector<Fault> faults;
};
Grid grid_of(const Track& track);

//! One reading for the switching filter. offset_s: time since the second, through the speed (distance), the force of the
//! second before (speed, negative: a lagging channel) or the gradient (altitude).
struct SwitchReading {
    enum class Kind : std::uint8_t { distance, speed, altitude } kind = Kind::distance;
    double offset_s = 0, y = 0, variance = 1;
};

//! Smoothed motion along the way. Speeds along the road if a speed or distance channel made them, along the map if positions did.
struct Along {
    std::vector<double> distance_m, speed_mps;                  //!< [n] at the second
    bool on_the_map = false;                                    //!< horizontal distances
    bool increments = false;                                    //!< readings of distance count from the reading before
    std::vector<std::uint8_t> afresh;                           //!< [n] or empty: counting starts anew after this second's reading ..
    std::vector<double> afresh_offset_s;                        //!< [n] .. which was taken so long after the second
    bool moved = false;
    std::vector<SwitchReading> readings;                        //!< of distance and speed, in order of the seconds
    std::vector<std::size_t> first;                             //!< [n + 1]
    std::vector<double> jump_var, reading_distance_m;           //!< [n]; the smoothed distance in the readings' own count
    std::vector<double> east, north;                            //!< [n] unit vector of the way; empty without positions
    std::vector<double> curvature_1pm;                          //!< [n]; empty without positions
    double position_sd_m = 0, jerk_sd_mps2 = 0, speed_lag = 0;  //!< as learned
    std::vector<Fault> faults;
};
Result<Along> along_of(const Track& track, const Grid& grid);

//! How long the step between two records is in which a second of the recording lies, on the mean over the seconds: 1 for a record a second.
//! Gaps are left out.   [EQ motion-20]
double mean_step_s(const Track& track);

//! How an altitude's error wanders: steps of h = way or time over its scale. rough: it forgets at once (first order); smooth: it
//! has a pace of its own (critically damped second order), as what a receiver or a terrain model has filtered. State: error and
//! its pace in errors a scale, both with the variance of the error.   [EQ motion-5]
enum class Wander : std::uint8_t { rough, smooth };
struct WanderStep {
    double bb, br, rb, rr;      //!< transition
    double q_bb, q_br, q_rr;    //!< noise per unit variance
};
WanderStep wander_step(Wander wander, double h);

//! Smoothed altitude. gradient_*: over the second that follows, per unit of Along's distance.
struct Altitude {
    AltitudeSource source = AltitudeSource::none;
    std::vector<double> altitude_m, gradient;          //!< [n]
    double error_sd_m = 0, error_scale = 0, gradient_q = 0, lag = 0;    //!< as learned; scale: seconds, or metres of a terrain model
    double reading_var = 0;                            //!< of one reading
    double evidence = 0;                               //!< log likelihood of the altitude alone
    Wander wander = Wander::rough;
    std::vector<SwitchReading> readings;
    std::vector<std::size_t> first;
    std::vector<double> jump_var, error_step;          //!< [n]; step: h of wander_step
    std::vector<Fault> faults;
};
//! What the altitude may be, the likeliest by itself first; those far behind are left out. One at least.
std::vector<Altitude> altitudes_of(const Track& track, const Grid& grid, const Along& along, std::optional<AltitudeSource> forced);

//! Smallest step in which a channel was written, e.g. 0.2; 0 if it looks continuous.
double resolution_of(const std::vector<double>& values);

enum class Mode : std::uint8_t { coasting, pedalling, braking_hard, braking_drag, sprinting, standing, unseen };

//! What the switching filter needs that all paths share. Vectors [n]: over the second that follows unless said.
struct Switching {
    std::size_t n = 0;
    std::vector<double> speed_mps, gradient, ds;      //!< of the first smoother: what the steps are linearised about
    std::vector<double> speed_at_mps;                 //!< the same at the second
    double start_altitude_m = 0;
    std::vector<std::uint8_t> afresh;                 //!< as in Along
    std::vector<double> afresh_offset_s;
    std::vector<std::uint8_t> still, left_out;
    std::vector<std::uint8_t> bridged;                //!< nothing was recorded while the bike moved
    std::vector<double> error_step;                   //!< of the altitude's error, h of wander_step
    Wander wander = Wander::rough;
    double error_var = 1, gradient_q = 2.5e-5;
    double gradient_length_m = 1e9;                   //!< over which the gradient falls back to level; far unless altitude is missing
    std::vector<double> distance_jump_var, height_jump_var;
    std::vector<SwitchReading> readings;              //!< in order of the seconds
    std::vector<std::size_t> first;                   //!< [n + 1]
    std::vector<double> meter_W;                      //!< NaN = no reading; empty without a power channel
    std::vector<Legs> legs;                           //!< [n] over the second that follows; empty without a cadence channel
    double legs_doubted_s = 0;                        //!< how long the cadence was not believed
    bool e_assist = false;
    double wind_var = 1;                              //!< of each component of the wind beyond the told one
    std::vector<double> towards_x, towards_y;         //!< unit vector of the way: a wind component along it is a head wind
};

//! What is a path's own, by its parameters, per effective mass [m/s²]: air force = air_at_zero + air_slope · speed at the second.
struct Forces {
    double effective_mass_kg = 0, weight_N = 0;
    double pedal_W = 140;                             //!< centre of the prior of the rider's power
    double error_var = 1, wind_var = 1;               //!< as in Switching, where a path does not take another share of them
    std::vector<double> rolling, air_slope, air_at_zero;
    std::vector<double> air_across;                   //!< change of the air force with what blows from the right, as air_slope is with what blows from ahead; empty: none
    std::vector<double> coast_var;                    //!< spread of u when nothing acts: drag that is not exactly known
    std::vector<double> meter_u, meter_var;           //!< empty without a power channel
};

//! One draw from the joint posterior of modes and states.
struct SwitchedPath {
    std::vector<Mode> mode;                           //!< [n] of the second that follows
    std::vector<double> u, speed_mps, altitude_m;     //!< [n] rider minus brake per effective mass over the second; at the second
    std::vector<double> head_wind_mps;                //!< [n] over the second, beyond the told one
    std::vector<double> across_wind_mps;              //!< the same from the right; empty without Forces::air_across
    double log_likelihood = 0;                        //!< of the readings, given the parameters of this path
};
//! How often each of some equally likely draws is kept, by the log likelihoods of what was read under them; the sum is their number.
//! A draw whose likelihood is not a number counts for nothing; if all are so, each is kept once.   [EQ motion-15]
std::vector<std::size_t> copies_by_likelihood(std::span<const double> log_likelihood);
//! Forward passes alone: log likelihood of the readings of each way with its forces. They do not depend on each other.
std::vector<double> switching_evidence(const Context& ctx, std::span<const Switching* const> ways, std::span<const Forces> own);
//! How many paths go side by side on this machine. A path does not depend on what goes beside it.
std::size_t paths_at_once();
//! As many paths as out has places, at most paths_at_once(); each is drawn by its own key.
void switched_paths(const Switching& shared, std::span<const Forces> own, std::uint64_t seed, std::uint64_t ride, std::span<const std::size_t> keys, std::span<SwitchedPath> out);

}  // namespace bw::ride::internal
