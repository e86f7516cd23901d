// SPDX-License-Identifier: Apache-2.0
// Figures of standards to hold a bike's estimate against. A yardstick is not an approval.                 Layer: stop
// Formulae: docs/models/stop.md [EQ stop-15..20].                                      Pure functions: any thread.
#pragma once
#include <span>
#include <string>
#include <vector>

#include "base/interval.hpp"
#include "parts/library.hpp"
#include "stop/stop.hpp"

namespace bw::stop {

// ---- formulae of standards and rules -----------------------------------------------------------------------------

//! Braking force brought to the intended lever force [N]: recorded x intended/actual lever force.
//! Source: TBIS 4210-4 p. 31 d). [EQ stop-15]
double corrected_braking_force_N(double recorded_N, double intended_lever_N, double recorded_lever_N);

//! Braking performance value B_p [N]: largest braking force x test mass / permissible total mass, where that is above
//! the test mass (100 kg adult, 60 kg young adult). Source: TBIS 4210-4 Formula (3), p. 31. [EQ stop-16]
double braking_performance_N(double largest_braking_N, double permissible_mass_kg, double test_mass_kg);

//! Mean fully developed deceleration [m/s^2] over the way between 80 and 10 % of the first speed; from memory (R13, R78).
//! way_m: covered while the speed falls from begin_mps to end_mps. [EQ stop-17]
double mean_deceleration_mps2(double begin_mps, double end_mps, double way_m);

//! Distance brought to the nominal speed [m]: S (V_nominal/V_measured)^2; from memory (ISO 4210-4). [EQ stop-18]
double distance_at_nominal_speed_m(double measured_m, double nominal_mps, double measured_mps);

//! Allowed stopping distance of a moped [m]: 0.1 V + V^2/k, V in km/h. Source: 93/14/EEC Annex Appendix 1. [EQ stop-19]
double moped_distance_m(double from_mps, double k);

//! Stopping sight distance [m] of AASHTO's bicycle guide: V^2/(254 (f + G)) + V t/3.6, V in km/h, G negative downhill.
//! Infinite where f + G <= 0. Source: AASHTO Guide pp. 40-42 (reproduction). [EQ stop-20]
double guide_distance_m(double from_mps, double friction, double grade, double reaction_s);

enum class Outcome { pass, fail, not_evaluated };
//! Wet to dry: where the dry force is above `from_dry_N`, wet/dry must be above `ratio`. Source: TBIS 4210-4 p. 31 g).
Outcome wet_ratio_outcome(double dry_N, double wet_N, double ratio, double from_dry_N);

//! One heat-resistance test. Forces in N; drag forces and lever forces are the extremes during the drag.
struct HeatResistance {
    double cold_N, hot_N;
    double drag_least_N, drag_most_N;
    double lever_most_N;
};
//! Limits of it: kept share of the cold force, band of the drag force, lever force. Source: TBIS 4210-2:2018 4.6.9.
struct HeatResistanceLimits {
    double kept, drag_least_N, drag_most_N, lever_most_N;
};
HeatResistanceLimits heat_resistance_limits(const parts::Library&);
Outcome heat_resistance_outcome(const HeatResistance&, const HeatResistanceLimits&);

//! Power [W] of a braking force at a road speed.
double drag_power_W(double braking_N, double speed_mps);

// ---- this bike beside them ---------------------------------------------------------------------------------------

enum class Sense { at_most, at_least };
enum class Measure { brake_distance, room, machine_front, machine_rear, wet_ratio_front, wet_ratio_rear };
//! One yardstick for one bike, and how to find this bike's figure in a case.
struct Yardstick {
    std::string id;            //!< "track_dry_both"
    std::string what;          //!< in words
    std::string unit;
    double need = 0;
    Sense sense = Sense::at_most;
    Grade grade = Grade::assumed;
    std::string source;
    Measure measure = Measure::brake_distance;
    StopSetup setup;
    double asked_above_N = 0;  //!< wet ratio: only of a brake whose dry force is above this
};
//! The yardsticks that make sense for this kind of bike, in a fixed order.
std::vector<Yardstick> yardsticks_of(const parts::Library&, const parts::Bike&);

//! This bike's figures in one case, in the order of the yardsticks; infinite where it does not stop, or (of least
//! figures) where the standard asks nothing.
std::vector<double> yardstick_case(std::span<const Yardstick>, const parts::Bike& case_bike, const StopUnknowns&);

struct YardstickResult {
    std::string id, what, unit;
    double need = 0;
    Sense sense = Sense::at_most;
    std::optional<Interval> have;   //!< nothing if the bike does not stop in more than 5 % of the cases
    double met_share = 0;           //!< share that meets the need, of the cases of which it is asked; NaN: of none
    Grade grade = Grade::assumed;   //!< of the need
    std::string source;
    std::string remark;             //!< always says: a yardstick, not an approval
};
//! figures: per case one vector of yardstick_case; weights: [cases] or empty.
std::vector<YardstickResult> stop_yardsticks(std::span<const Yardstick>, std::span<const std::vector<double>> figures,
                                             std::span<const double> weights);

}  // namespace bw::stop
