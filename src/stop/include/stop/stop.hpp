// SPDX-License-Identifier: Apache-2.0
// One stop in one case, and the answer over all cases.                                                    Layer: stop
// Theory: docs/models/stop.md [EQ stop-10..14].                                        Pure functions: any thread.
//
// Order of use: inputs() -> draw_cases -> per case bike_of_case, unknowns_of, stop_case -> stop_answer.
// Signs as in balance.hpp. Air drag and rolling resistance are left out: they shorten a stop, so the answer errs long.
#pragma once
#include <optional>
#include <span>
#include <string_view>
#include <vector>

#include "balance/balance.hpp"
#include "base/interval.hpp"
#include "parts/bike.hpp"
#include "stop/actuation.hpp"
#include "stop/hand.hpp"
#include "stop/unknowns.hpp"

namespace bw::stop {

enum class Brakes { both, front, rear };
enum class Surface { dry, wet, gravel, loose };
//! What holds the deceleration back (INTERFACES: limited_by).
enum class LimitedBy { lever_force, front_grip, rear_grip, rear_lift, fade, skill, lever_travel, does_not_stop };
inline constexpr int limit_count = 8;
//! Wet pads and rotor: as the surface says (wet surface = wet brake), or told.
enum class PadsWet { as_surface, dry, wet };
//! ordinary: about 0.35 g and below lock; test_rider: largest effort; unlimited: all that grip and brake give.
enum class Skill { ordinary, test_rider, unlimited };

std::string_view word_of(Brakes);
std::string_view word_of(Surface);
std::string_view word_of(LimitedBy);
std::optional<Brakes> brakes_of(std::string_view word);
std::optional<Surface> surface_of(std::string_view word);
//! What the word means, for a person: one sentence of at most 70 letters.
std::string_view reason_text(LimitedBy);

struct StopSetup {
    Brakes brakes = Brakes::both;
    Surface surface = Surface::dry;
    double from_mps = 25 / 3.6;              //!< held until the lever moves; >= 0
    double grade = 0;
    std::optional<double> grip = {};          //!< in place of the surface's grip
    PadsWet pads = PadsWet::as_surface;
    double front_friction_factor = 1;        //!< friction of the hot pads / the same cold; 1 = cold
    double rear_friction_factor = 1;
    HandState hand = HandState::warm;
    Skill skill = Skill::ordinary;
    std::optional<double> lever_force_N = {};   //!< in place of this hand (a standard's test force)
    std::optional<double> mass_kg = {};       //!< in place of the bike's total mass (a standard's test mass)
};

//! Grip of the tyres: as told, or of the surface.
double grip_of(const StopSetup&, const StopUnknowns&);
//! Friction of one brake's pads: cold and dry x wet factor x factor of the temperature.
double friction_of(const StopSetup&, const BrakeUnknowns&, double temperature_factor);

//! One wheel in a stop.
struct WheelStop {
    double tyre_N = 0;             //!< braking force at the road
    double lever_N = 0;            //!< lever force that makes it
    double need_N = 0;             //!< lever force to use all that road and rider allow, whatever the hand
    double hand_N = 0;             //!< what this hand can give at the bite point, in the setup's state
    double cold_hand_N = 0;        //!< the same hand cold and in gloves
    double full_mm = 0;            //!< lever to bar at need_N; <= 0: the lever reaches the bar
};
struct StopCase {
    LimitedBy limited_by = LimitedBy::skill;
    double deceleration_mps2 = 0;                  //!< along the road; <= 0: does not stop
    std::optional<double> brake_distance_m;        //!< from the first movement of the lever
    std::optional<double> room_needed_m;           //!< with reaction and reach at from_mps
    double front_share = 0;                        //!< of the braking [EQ stop-12]
    WheelStop front, rear;
    double lever_N = 0, need_N = 0;                //!< the harder worked of the hands in use
    double hand_N = 0, cold_hand_N = 0;            //!< of that same hand
};

//! One stop of one case. Deceleration is the least of skill, grip (front lock, rear skid), rear lift, lever force and
//! lever travel; the one in force is named. A locked front wheel is a fall, not a stop: braking stays below it.
StopCase stop_case(const parts::Bike& case_bike, const StopSetup&, const StopUnknowns&);

//! A straight stop: speed held for reaction and reach, lever taken up, force rising in a line, then constant. [EQ stop-13]
struct StopMotion {
    double from_mps = 0;
    double braking_mps2 = 0;      //!< tyre forces / mass at full force
    double slope_mps2 = 0;        //!< g sin(theta): negative downhill
    double take_up_s = 0, rise_s = 0;
};
//! Distance from the first movement of the lever [m]; nothing if the bike does not stop.
std::optional<double> brake_distance_m(const StopMotion&);

//! What all cases together say. Quantiles at 5, 50, 95 %. [EQ stop-14]
struct StopAnswer {
    StopSetup setup;
    LimitedBy limited_by = LimitedBy::skill;       //!< the most frequent; does_not_stop if more than 5 % of the cases do not
    double not_stopping_share = 0;
    std::optional<Interval> brake_distance_m, room_needed_m;   //!< nothing with does_not_stop
    Interval deceleration_mps2;
    Interval lever_force_N;        //!< need: to use all that road and rider allow
    Interval lever_used_N;         //!< what is pulled in the stop
    Interval hand_force_N, cold_hand_force_N;      //!< this hand at the bite point: as set up; cold and in gloves
    double standard_force_N = 0;   //!< the standards' lever force, beside it
    double weak_share = 0;         //!< share of the cases in which the need is more than this hand has
    double cold_weak_share = 0;    //!< the same, cold and in gloves
    double bar_share = 0;          //!< share of the cases in which the lever reaches the bar before the need is met
};

//! cases: [n], n >= 1, all of this setup; weights: [n] or empty (all alike).
//! standard_force_N: 180 (yardstick.lever_force).
StopAnswer stop_answer(const StopSetup&, std::span<const StopCase> cases, std::span<const double> weights, double standard_force_N);

//! The lever of one brake as the hand finds it.
struct LeverView {
    double bite_mm = 0;
    double full_mm = 0;              //!< at the lever force for an ordinary dry stop on the level, front and rear by habit
    double full_lever_N = 0;         //!< that force
    double window_mm[2] = {0, 0};    //!< bite points that suit: 8 mm left at full force .. hand keeps 90 % of its best
    bool in_window = false;
    double travel_per_pad_mm_mm = 0;
    double force_03g_N = 0, force_lock_N = 0;   //!< lever force for 0.3 g with this brake alone; at lock (or lift): control
};
LeverView lever_view(const parts::Bike& case_bike, parts::End, const StopSetup&, const StopUnknowns&);

//! reaches_bar means "do not ride"; near_bar: measure and set it before riding.
enum class LeverFinding { none, near_bar, reaches_bar };
//! Bite at or under this is the plain case: the lever is at the bar before it brakes. Common practice, no source. [mm]
inline constexpr double bite_at_bar_mm = 5;

struct LeverAnswer {
    LeverFinding finding = LeverFinding::none;
    Interval bite_mm, full_mm;
    double window_mm[2] = {0, 0};    //!< medians
    double in_window_share = 0;
    double bar_share = 0;            //!< share of cases with full_mm <= 0
    double travel_per_pad_mm_mm = 0;
    Interval force_03g_N, force_lock_N;
};
//! reaches_bar: bite's median at or under bite_at_bar_mm, or full_mm's median at or under 0.
//! near_bar: full_mm <= 0 in more than 0.5 % of the cases. How far a lever gives is assumed: near_bar alone holds nothing.
LeverAnswer lever_answer(std::span<const LeverView> cases, std::span<const double> weights);

}  // namespace bw::stop
