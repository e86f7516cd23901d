// SPDX-License-Identifier: Apache-2.0
// Motion with its uncertainty, and the braking power that follows from it.                                Layer: ride
// Theory: docs/models.md, part "Motion and braking power".
#pragma once
#include <cstddef>
#include <cstdint>
#include <optional>
#include <span>
#include <string>
#include <string_view>
#include <vector>

#include "base/context.hpp"
#include "base/interval.hpp"
#include "base/result.hpp"
#include "ride/track.hpp"

namespace bw::ride {

enum class AltitudeSource { barometric, satellite, terrain, none };
std::string_view word_of(AltitudeSource);

//! Wind over the land where the rider is, told as speed and direction: how much of it comes from the east and from the north, so that
//! who rides towards there has it ahead. A wind of U m/s from φ (degrees clockwise from true north) is {U·sin φ, U·cos φ}.
struct WindFrom {
    double east_mps = 0, north_mps = 0;
};

//! What one likely case says of bike, rider and air on this ride.
struct MotionParameters {
    double mass_kg = 0;              //!< bike, rider, load
    double rotating_kg = 0;          //!< wheel inertia / radius², added to the mass where it is accelerated
    double drag_area_m2 = 0;
    double rolling_resistance = 0;   //!< of the surface at hand
    double efficiency = 1;           //!< crank to wheel; matters only with a power channel
    double wind_mps = 0;             //!< head wind along the way as told, positive against; 0 if nobody told
    double air_degC = 15;
    std::optional<WindFrom> wind_from = {};   //!< beside wind_mps, and then in place of an untold wind; of no use where the way has no direction
};

struct MotionSettings {
    std::optional<AltitudeSource> altitude;   //!< forced; otherwise learned from the file
    bool e_assist = false;
    double wind_sd_mps = 0.4;                 //!< of each of two components of the wind over the land, beyond the told one
    double wind_from_sd_mps = 1.0;            //!< the same where the draws hold a wind_from
    double slow_share = 0.03;                 //!< spread of the braking as a share, times the root of how many seconds further apart than one the records lie
};

//! Motion of one path where the paths differ in it (planned rides); same grid as MotionPaths, standing after the arrival.
struct OwnMotion {
    std::vector<double> distance_m, altitude_m, speed_mps, acceleration_mps2, gradient;   //!< [n] each, or all empty
    std::vector<double> way_east, way_north;   //!< [n] as in MotionPaths
    double duration_s = 0;
};

//! One posterior path: parameters as drawn, its series of brake power on the grid, and its own energy account.
struct MotionPath {
    MotionParameters parameters;
    std::vector<double> brake_power_W;   //!< [n] mean over [t, t+1 s); signed inside braking, exactly 0 outside
    std::vector<std::uint8_t> braking;   //!< [n] 1: the brake is on
    OwnMotion own;                       //!< empty: the motion shared by all paths holds
    //! The account over the whole ride [J]: height + motion + rider = air + rolling + brakes + unexplained.
    double height_J = 0, motion_J = 0, rider_J = 0, air_J = 0, rolling_J = 0, brakes_J = 0, unexplained_J = 0;
};

//! Smoothed motion on a grid of 1 s from the first record to the last, and K posterior paths of brake power.
struct MotionPaths {
    AltitudeSource altitude_source = AltitudeSource::none;
    std::size_t size() const { return speed_mps.size(); }
    std::vector<double> distance_m, altitude_m, speed_mps, acceleration_mps2, gradient;   //!< [n], gradient rise over run, negative downhill
    std::vector<double> air_density_kgm3;                                                 //!< [n]
    std::vector<double> curvature_1pm;   //!< [n] turn per metre of way, left positive; empty without positions, NaN where unknown
    std::vector<double> way_east, way_north;   //!< [n] unit vector of the way; empty unless the draws hold a wind_from and the way has a direction
    std::vector<std::uint8_t> bridged;   //!< [n] 1: inside a gap in which the bike moved
    std::vector<std::uint8_t> paused;    //!< [n] 1: standing or left out of the account (pause, vehicle)
    std::vector<MotionPath> paths;       //!< [K], in the order of the draws
    double duration_s = 0, total_distance_m = 0, ascent_m = 0, descent_m = 0;
    bool meter_left_aside = false;       //!< the recorded power does not account for the motion and was not used
    std::vector<Fault> faults;           //!< those of the track and those found here
};

//! Reconstructs a ride. draws: [K] one set of parameters a path; keys: [K] indices of the cases they came from (for the
//! counter-based generator: seed, track.content_hash, key). Deterministic, whatever ctx.threads. All draws hold a wind_from or none;
//! where a tenth of the moving seconds or more has no position within 10 s it is left aside, with a fault that says so. So is any told wind with which a power meter
//! does not account for the motion, if without it the meter does.
//! Fails with bad_input if nothing moves or neither speed, distance nor position is there; a ride without altitude is
//! reconstructed as level road, wide, with the fault no_altitude.
Result<MotionPaths> reconstruct(const Context& ctx, const Track& track, const MotionSettings& settings,
                                std::span<const MotionParameters> draws, std::span<const std::size_t> keys);

//! One stretch of braking.
struct Application {
    double start_s = 0, end_s = 0, energy_J = 0, mean_W = 0, peak_W = 0;
};
//! Applications of the mean brake power over paths: stretches above 20 W, joined over pauses under 2 s, of at least 100 J.
std::vector<Application> applications_of(const MotionPaths& paths);

//! ICAO standard atmosphere density [kg/m³] at altitude, corrected to the air temperature told. altitude -500..6000 m.
double air_density(double altitude_m, double air_degC);

//! What blows beside wind_mps: from ahead, and from the right across the way.
struct Blow {
    double ahead_mps = 0, across_mps = 0;
};
//! A wind over the land seen by who rides along the unit vector (east, north).   [EQ motion-17]
Blow blow_of(const WindFrom& wind, double east, double north);

//! Force account at one instant, positive = retards [N]; what blows across counts in the size of the relative wind.
//! Source: Martin et al. 1998, J. Appl. Biomech. 14, 276-291.
double air_drag_N(const MotionParameters& p, double density_kgm3, double speed_mps, const Blow& blow = {});
double rolling_drag_N(const MotionParameters& p, double gradient);
double slope_force_N(const MotionParameters& p, double gradient);   //!< positive uphill

}  // namespace bw::ride
