// SPDX-License-Identifier: Apache-2.0
// What single likely cases say, kept so that two set-ups can be weighed up case by case.                 Layer: answer
#pragma once
#include <array>
#include <cstdint>
#include <vector>

#include "internal.hpp"

namespace bw::answer {

//! One wheel on one ride. [anchor_cases], but for boils.
struct WheelCases {
    std::vector<double> brake_energy_J, rotor_peak_degC, rotor_hottest_ring_degC, pad_face_peak_degC, fluid_peak_degC, lever_force_factor;
    std::vector<std::uint8_t> fades, hot_stop_beyond_hand;
    std::vector<std::uint8_t> boils;   //!< [cases]; empty: no fluid, or its point is not known
};

struct EachCase {
    std::vector<Input> inputs;                          //!< drawn in place of the request's own
    std::optional<LearnedShare> learned;                //!< told: stops and levers are judged with and without this front share
    std::vector<std::array<WheelCases, 2>> rides;       //!< recorded, then planned, or the descent of the six questions; not described ones
    std::vector<std::vector<stop::StopCase>> stops;     //!< as Answer::stops, [cases]
    std::array<std::vector<stop::LeverView>, 2> levers;   //!< [cases]
    std::vector<std::vector<double>> yardsticks;        //!< [cases][stop::yardsticks_of]
    std::array<std::vector<double>, 2> pad_km, rotor_km;   //!< [4,096]; empty: life is withheld
};

std::array<WheelCases, 2> wheel_cases(const RideWork&, const parts::Bike&, std::span<const Case>);

}  // namespace bw::answer
