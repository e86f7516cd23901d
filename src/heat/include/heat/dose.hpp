// SPDX-License-Identifier: Apache-2.0
// Wear dose: friction work of one wheel in bins of pad face temperature.                                  Layer: heat
#pragma once
#include <array>
#include <cstddef>
#include <vector>

namespace bw::heat {

//! Upper edges of the bins [°C]; the last bin has no upper edge.
inline constexpr std::array<double, 11> dose_edges_degC = {50, 100, 150, 200, 230, 260, 300, 350, 400, 450, 550};
inline constexpr std::size_t dose_bins = dose_edges_degC.size() + 1;

//! Friction work of one wheel (both pads) over one ride for one anchor case.
//! The energies are net (signed inside braking), so a bin may be slightly negative.
struct WearDose {
    std::array<double, dose_bins> energy_J{};
    std::array<double, dose_bins> energy_temperature_J_degC{};   //!< sum of energy x temperature: the bin's own mean temperature
    double distance_m = 0;
    double wet_share = 0, grit_share = 0;                        //!< of the ride, 0..1

    double total_J() const { double s = 0; for (double e : energy_J) s += e; return s; }
};

std::size_t dose_bin(double pad_face_degC);

//! Adds work done at a pad face temperature.
inline void add(WearDose& dose, double energy_J, double pad_face_degC) {
    const std::size_t b = dose_bin(pad_face_degC);
    dose.energy_J[b] += energy_J;
    dose.energy_temperature_J_degC[b] += energy_J * pad_face_degC;
}

}  // namespace bw::heat
