// SPDX-License-Identifier: Apache-2.0
// Stages of the reconstruction, each a function of plain vectors on the 1-s grid. Internal to ride.       Layer: ride
// Theory: docs/models/motion.md.
#pragma once
#include <cstddef>
#include <cstdint>
#include <optional>
#include <vector>

#include "ride/motion.hpp"
#include "ride/track.hpp"

namespace bw::ride::internal {

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
    bool moved = false;
    std::vector<SwitchReading> readings;                        //!< of distance and speed, in order of the seconds
    std::vector<std::size_t> first;                             //!< [n + 1]
    std::vector<double> jump_var, reading_distance_m;           //!< [n]; the smoothed distance in the readings' own count
    double position_sd_m = 0, jerk_sd_mps2 = 0, speed_lag = 0;  //!< as learned
    std::vector<Fault> faults;
};
Result<Along> along_of(const Track& track, const Grid& grid);

//! Smoothed altitude. gradient_*: over the second that follows, per unit of Along's distance.
struct Altitude {
    AltitudeSource source = AltitudeSource::none;
    std::vector<double> altitude_m, gradient;          //!< [n]
    double error_sd_m = 0, error_time_s = 0, gradient_q = 0, lag = 0;   //!< as learned
    std::vector<SwitchReading> readings;
    std::vector<std::size_t> first;
    std::vector<double> jump_var, error_memory;                 //!< [n]
    std::vector<Fault> faults;
};
Altitude altitude_of(const Track& track, const Grid& grid, const Along& along, std::optional<AltitudeSource> forced);

//! Smallest step in which a channel was written, e.g. 0.2; 0 if it looks continuous.
double resolution_of(const std::vector<double>& values);

enum class Mode : std::uint8_t { coasting, pedalling, braking_hard, braking_drag, sprinting, standing };

//! What the switching filter needs for one path. Vectors [n]: over the second that follows unless said.
struct Switching {
    std::size_t n = 0;
    std::vector<double> speed_mps, gradient, ds;      //!< of the first smoother: what the steps are linearised about
    double start_speed_mps = 0, start_altitude_m = 0;
    std::vector<std::uint8_t> still, left_out;
    std::vector<double> error_memory;                 //!< of the altitude error
    double error_var = 1, gradient_q = 2.5e-5;
    double gradient_length_m = 1e9;                   //!< over which the gradient falls back to level; far unless altitude is missing
    std::vector<double> distance_jump_var, height_jump_var;
    std::vector<SwitchReading> readings;              //!< in order of the seconds
    std::vector<std::size_t> first;                   //!< [n + 1]
    std::vector<double> meter_u, meter_var, meter_W;  //!< empty without a power channel; NaN variance = no reading
    bool e_assist = false;
    // of the path's own parameters, per effective mass [m/s²]: air force = air_at_zero + air_slope · speed at the second
    double effective_mass_kg = 0, weight_N = 0;
    double pedal_W = 140;                             //!< centre of the prior of the rider's power
    std::vector<double> rolling, air_slope, air_at_zero;
    std::vector<double> coast_var;                    //!< spread of u when nothing acts: drag that is not exactly known
};

//! One draw from the joint posterior of modes and states.
struct SwitchedPath {
    std::vector<Mode> mode;                           //!< [n] of the second that follows
    std::vector<double> u, speed_mps, altitude_m;     //!< [n] rider minus brake per effective mass over the second; at the second
};
SwitchedPath switched_path(const Switching& s, std::uint64_t seed, std::uint64_t ride, std::uint64_t key);

}  // namespace bw::ride::internal
