// SPDX-License-Identifier: Apache-2.0
// From the parts of a bike to the heat of one wheel on one path of braking power.                         Layer: heat
// Theory: docs/models/heat.md, "From parts to numbers".                                 Pure functions: any thread.
//
// Order of use: inputs() -> draw_cases -> per case bike_of_case, unknowns_of, reference_of, heat_of_wheel, boiling_point_degC.
#pragma once
#include <limits>
#include <optional>
#include <span>
#include <vector>

#include "heat/dose.hpp"
#include "heat/physics.hpp"
#include "heat/radius.hpp"
#include "heat/reference.hpp"
#include "heat/unknowns.hpp"

namespace bw::heat {

//! Half of one brake as a thermal network. case_bike: values of one case. Started at the air's temperature.
//! What is simplified is listed in docs/models/heat.md, "From parts to numbers".
ReferenceBrake reference_of(const parts::Library& library, const parts::Bike& case_bike, parts::End end, const HeatUnknowns& u,
                            double air_degC, double altitude_m = 0);

//! Temperatures that are drawn for a ride, a point a row.
struct TracePoint {
    double t_s = 0, rotor_degC = 0, pad_face_degC = 0, fluid_degC = 0;
    double wet_friction = 1;   //!< friction under the film of water over that without
};

//! What water did to a brake on a ride.
struct WheelWater {
    double least_friction = 1;      //!< smallest friction of the wet pair over that of the dry one, while the brake was closed
    double lever_force_factor = 1;  //!< largest lever force for the braking that was done over that of the same brake cold and dry, while it was wet
    double wet_work_J = 0;          //!< braking, of the whole wheel, while friction was more than 5 % under dry
    double drying_J = 0;            //!< heat that evaporating water took from the whole rotor
    double turns_to_dry = 0;        //!< from soaked, lightly braked [turns of the wheel]
};

//! The same run taken as dry: what water takes was never measured, so a verdict may not rest on it. Peaks as in WheelHeat.
struct AsDry {
    double rotor_surface_degC = 0, rotor_hottest_ring_degC = 0, middle_of_ring_degC = 0, pad_face_degC = 0, fluid_degC = 0;
    double lever_force_factor = 1;
    double fluid_peak_at_s = 0;
    std::vector<double> factors;           //!< [rows] as WheelHeat::factors
    std::vector<double> fluid_rows_degC;   //!< [rows]
};

struct WheelHeat {
    HeatPeaks peaks;                       //!< radial means, mean over a turn, of both sides the hotter (fluid and piston: where both have them); peaks.fluid.t_s is the time of the fluid's peak
    double rotor_hottest_ring_degC = 0;    //!< peak of the hottest ring [EQ heat-30]; without a band that of the radial mean
    //! Peak of the hottest ring where it leaves the pad: the ring at a row's end and the rise of that row's power and speed [EQ heat-15].
    //! NaN without a band, and of a rotor with an aluminium core
    double rotor_under_pad_degC = std::numeric_limits<double>::quiet_NaN();
    double middle_of_ring_degC = 0;        //!< peak at the mid-plane of the hottest ring: the core of a rotor that has one
    double lever_force_factor = 1;         //!< largest mu(cold)/mu(pad face) while the brake was closed; >= its cold value 1
    double beyond_friction_range_J = 0;    //!< friction work at pad temperatures above the measured range (550 K)
    double above_friction_power_J = 0;     //!< friction work at more than the largest measured power (400 W)
    WearDose dose;                         //!< sums to the energy handed in; wet_share and grit_share are the caller's
    HeatEnergy energy_J;                   //!< of the half brake
    std::vector<TracePoint> trace;         //!< [rows] with Keep::rows
    HeatRows states;                       //!< [rows] with Keep::rows
    std::vector<OtherSideState> other_states;   //!< the same where the sides differ
    std::vector<double> factors;           //!< [rows] with Keep::rows: lever force factor of the row that begins there, the larger of its two ends; 1 while open
    std::size_t steps = 0;
    double air_degC = 0;                   //!< as the brake was started
    std::optional<WheelWater> water = {};  //!< where the run was asked to be wet; lever_force_factor above is heat's alone
    std::optional<AsDry> as_dry = {};      //!< where the run was asked to be wet
};

//! Whether there is fluid behind the other side's pad too: a pad that rests on the body has nodes of no weight in its place.
bool both_sides_have_fluid(const ReferenceBrake& brake);
//! Peaks of places that stand on both sides become those of the hotter one.
void hotter_side(HeatPeaks& peaks, const ReferenceBrake& brake);

//! How far each pad moves [mm] if the fluid behind its pistons warms by excess_dK and cannot flow back (a held lever, an
//! overfilled reservoir): expansion x depth x excess, the volume over the area of the pistons. Calipers do not give. [EQ heat-21]
//! expansion_per_K: cubic, of the fluid; depth_mm: fluid behind a piston; both >= 0. 0 for no excess.
double gap_taken_mm(double expansion_per_K, double depth_mm, double excess_dK);

//! Runs one wheel. rows: braking power of the wheel (both pads), signed inside braking. Rows with power at or below
//! closed_above_W make no heat; their energy is booked in the dose at the pad face's temperature of the moment.
//! With a band the rotor is resolved along its radius for its hottest ring. Callbacks of the options are called too. Fails like solve().
Result<WheelHeat> heat_of_wheel(const ReferenceBrake& brake, const HeatUnknowns& u, std::span<const PowerRow> rows,
                                const SolveOptions& options, const std::optional<RotorBand>& band = std::nullopt);

//! Rotor and pad of the rise under the pad, power, speed and the rotor's share yet to be set. The flux is that of the steel under the
//! carrying height of the pad, so the heat of a turn is the heat that the rings got. band: with a pad's length. [EQ heat-15]
Ripple ripple_of(const ReferenceBrake& brake, const RotorBand& band);

}  // namespace bw::heat
