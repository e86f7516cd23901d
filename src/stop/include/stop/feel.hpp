// SPDX-License-Identifier: Apache-2.0
// Where the lever bites for this hand, what moves it, and what wear, heat and rough ground do to it.     Layer: stop
// Theory: docs/models/stop.md [EQ stop-24..27].                                        Pure functions: any thread.
#pragma once
#include <optional>
#include <string>
#include <string_view>
#include <vector>

#include "parts/library.hpp"
#include "stop/stop.hpp"

namespace bw::stop {

//! Whose hand it may be: data rows hand.GROUP.size_cm and hand.GROUP.strength_N.
enum class HandGroup { women, men, child_7, child_10, child_13 };
std::string_view word_of(HandGroup);
std::optional<HandGroup> hand_group_of(std::string_view word);
//! A hand of that group, strength and size both at this percentile (0.1..99.9); no spread is left. Men's and women's figures are of adults.
parts::Hand hand_of(const parts::Library&, HandGroup, double percentile);

enum class Fingers { one, two, three };
std::string_view word_of(Fingers);
std::optional<Fingers> fingers_of(std::string_view word);
//! Share of a whole grip that these fingers have on a lever (data rows hand.fingers.*).
double finger_share(const parts::Library&, Fingers);

//! Lever to bar [mm] at which this hand pulls hardest; 0 if that is inside the bar. [EQ stop-8]
double strongest_mm(const parts::Hand&, const StopUnknowns&);

//! Minutes that a share of the largest force can be held without a break [EQ stop-24]: Rohmert's curve from 0.15 up, an hour at
//! 0.079 and below (Bjorkstén and Jonsson 1977, continuous), a straight line in logarithms between. At most 60.
double hold_min(double share);
//! Share of the largest force that can be given for an hour on average, with pauses: 0.14 (Bjorkstén and Jonsson 1977).
inline constexpr double hour_with_pauses_share = 0.14;

//! Lever force [N] that holds a bike's speed on a slope with both brakes, and its harder worked hand. Air and rolling help.
struct Hold {
    double lever_N = 0;       //!< to bring the force up; infinite: tyres or brake cannot hold this slope
    double held_N = 0;        //!< to which the finger may go back while the brake still holds (friction of seals and cable)
    double hand_N = 0;
};
//! Nothing where air and rolling hold the speed by themselves. Infinite forces where no share of the brakes in use holds it
//! within the grip that a rider uses, or a lever meets the bar first. Whether the hand has that force is the caller's to compare.
std::optional<Hold> hold_of(const parts::Bike& case_bike, const StopSetup&, const StopUnknowns&);

enum class BitePlace { in_window, too_far_out, too_near, no_window };
std::string_view word_of(BitePlace);
BitePlace place_of(double bite_mm, const double window_mm[2]);

//! One thing that can be turned or done, the safest first. No text asks for the arm of a cable-to-hydraulic caliper to be moved
//! off its stop: the fluid would have no way back.
struct Adjustment {
    std::string what;     //!< "reach screw", "pads", "cable", "bleeding", "lever"
    std::string text;
};
std::vector<Adjustment> adjustments_for(const parts::Wheel&, BitePlace);

//! True if nothing follows the pads as they wear: then the bite comes nearer to the bar.
bool follows_no_wear(const parts::Wheel&);
//! Lever travel [mm] that this loss takes at the bite's ratio [EQ stop-25]; losses of the pads [mm each], of the rotor's whole thickness [mm].
double travel_of_wear_mm(const parts::Wheel& case_wheel, double left_pad_mm, double right_pad_mm, double rotor_mm);
//! Lever travel [mm] for a turn of the cable's adjuster; 0 without a cable. [EQ stop-25]
double travel_of_turn_mm(const parts::Wheel& case_wheel, double thread_mm);
//! Lever travel [mm] for pads that were knocked back by that much each: the first pull after rough ground. [EQ stop-26]
double travel_of_knock_mm(const parts::Wheel& case_wheel, double knock_mm);
//! Lever travel [mm] before the bite that closes this gap of each pad: outwards from the bite, so along the ratios there. [EQ stop-7]
double travel_to_bite_mm(const parts::Wheel& case_wheel, double gap_mm);
//! Lever travel [mm] for each mm of total run-out of the rotor: each pad is pushed back by half of it. [EQ stop-29]
double travel_per_run_out(const parts::Wheel& case_wheel);
//! How much warmer [K] the fluid behind the pistons must get to take up the gap of each pad, if it cannot flow back: a held lever,
//! an overfilled reservoir, an arm off its stop. Infinite without expansion. [EQ stop-27]
double warming_that_takes_gap_dK(double gap_mm, double expansion_per_K, double fluid_depth_mm);

}  // namespace bw::stop
