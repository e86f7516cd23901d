// SPDX-License-Identifier: Apache-2.0
// Shapes of the rotor's temperature along its radius, and what one brake does to them.                    Layer: heat
// Theory: docs/models/heat.md [EQ heat-31].                                                    Not a public header.
#pragma once
#include <array>
#include <vector>

#include "engine_kernel.hpp"
#include "heat/radius.hpp"

namespace bw::heat::engine {

//! Rings of equal width of a band between `inner` and 1, and the slowest shapes that conduction leaves in them, but for the mean.
struct BandModes {
    double inner = 0;                                     // over the outer radius
    std::vector<std::array<double, ring_modes>> shape;    // [rings], mean square over the band 1
    std::array<double, ring_modes> rate{};                // × diffusivity / outer radius² [1/s]
};
//! Inner over outer radius in steps fine enough not to matter (1/4096), so that cases share their shapes.
int band_key(const RotorBand& band);
BandModes band_modes(int key);

//! One brake in these shapes; names as in Rings.
struct RingShape {
    std::array<double, ring_modes> heat{}, loss{}, rim{}, inner{}, rate{};
    std::array<std::array<double, ring_modes>, ring_places> at{};
    double rim_share = 0, cover_share = 0, surface_in = 0, surface_loss = 0;
};
RingShape ring_shape(const ReferenceBrake& brake, const RotorBand& band, const BandModes& modes);

}  // namespace bw::heat::engine

namespace bw::heat {
Status check_band(const RotorBand& band);
}
