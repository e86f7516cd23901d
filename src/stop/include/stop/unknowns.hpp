// SPDX-License-Identifier: Apache-2.0
// What nobody has measured on this brake, hand and rider: the inputs of the stop room.                    Layer: stop
#pragma once
#include <vector>

#include "base/cases.hpp"
#include "parts/bike.hpp"
#include "parts/library.hpp"

namespace bw::stop {

//! Unknowns of one brake in one case.
struct BrakeUnknowns {
    double friction = 0;           //!< cold, dry, bedded pads [-]
    double wet_factor = 1;         //!< friction of the wet pair / dry [-]
    double loss = 0;               //!< rising force keeps exp(-loss) of itself between finger and pads [-]
    double threshold_N = 0;        //!< lever force spent on springs and seals
    double one_pad_kept = 1;       //!< share of the clamp force kept when one pad only moves [-]
    double travel_mm = 0;          //!< lever travel from bite to 100 N at the finger
};

//! Unknowns of one case: both brakes, road, hand, rider.
struct StopUnknowns {
    BrakeUnknowns front, rear;
    double front_share = 0.6;      //!< habit, see balance::front_share_at
    double trailer_own_share = 0;  //!< see balance::Geometry; 0 without a trailer that brakes itself
    double grip_dry = 0, grip_wet = 0, grip_gravel = 0, grip_loose = 0;
    double finger_share = 0;       //!< braking fingers / whole hand
    double cold_factor = 1, glove_factor = 1;
    double span_loss = 0;          //!< see hand_force_N
    double bar_diameter_mm = 0;
    double skill_mps2 = 0;         //!< braking that this rider asks for in an ordinary stop, tyre force / mass
    double caution = 1;            //!< times skill_mps2 wherever the road is not dry and firm
    double test_mps2 = 0;          //!< the same at largest effort
    double test_quickness = 1;     //!< times take-up and rise for a prepared test rider
    double grip_used = 1;          //!< share of grip and of the lift limit that an ordinary stop uses
    double reaction_s = 0, reach_s = 0;   //!< until the hand moves; until the lever moves
    double take_up_s = 0, rise_s = 0;     //!< lever from rest to bite; force from bite to its full value

    const BrakeUnknowns& brake(parts::End end) const { return end == parts::End::front ? front : rear; }
};

//! The inputs to draw, keys "front.stop.*", "rear.stop.*", "surface.*.grip", "rider.stop.*". Not among them, drawn
//! elsewhere: "front.friction", "rear.friction" (heat), "bike.front_share" (balance::inputs) and, with an overrun brake,
//! "sharing.trailer_own" (balance::late_inputs).
std::vector<Input> inputs(const parts::Library&, const parts::Bike&);

//! The unknowns of one case; the row must also hold what is drawn elsewhere.
StopUnknowns unknowns_of(const parts::Library&, const parts::Bike&, const CaseRow&);

}  // namespace bw::stop
