// SPDX-License-Identifier: Apache-2.0
// Words of this room's enumerations, in the order of their values.                                      Layer: papers
#include "papers/values.hpp"

namespace bw::papers {

using W = std::string_view;
#define BW_WORDS(E, ...)                               \
    std::span<const std::string_view> words(E) {       \
        static constexpr W list[] = {__VA_ARGS__};     \
        return list;                                   \
    }

BW_WORDS(PartKind, "wheel", "rotor", "pads", "caliper", "lever", "housing", "other")
BW_WORDS(RideKind, "recorded", "described")
BW_WORDS(What, "pad_thickness", "plate_thickness", "rotor_thickness", "rotor_ridge", "run_out", "lever_reach", "lever_bite", "lever_full",
         "gap", "pad_mass", "caliper_temperature", "rotor_temperature", "fluid_age", "fluid_colour", "cable_state",
         "bearing_play")
BW_WORDS(Side, "left", "right")
BW_WORDS(WorkKind, "new_pads", "bleed", "true_rotor", "clean", "new_cable", "bolts", "bed_in", "other")
BW_WORDS(Happening, "overheat", "crash", "wet_grit", "spray", "transport")
BW_WORDS(Outcome, "ok", "fault")
BW_WORDS(Item, "function", "lever", "pad_wear", "gap", "rotor_straight", "bolts", "leaks", "cable")
BW_WORDS(InstrumentKind, "caliper", "micrometer", "depth_gauge", "dial", "feeler", "ruler", "scale", "thermometer", "eye")
BW_WORDS(parts::End, "front", "rear")
BW_WORDS(parts::Anvil, "not_told", "pointed", "flat_jaws")
BW_WORDS(parts::Compound, "organic", "semi_metallic", "sintered")
BW_WORDS(stop::Brakes, "both", "front", "rear")
BW_WORDS(stop::Surface, "dry", "wet", "gravel", "loose")
BW_WORDS(stop::WayMeasured, "taped", "paced", "timed", "recorded")

}  // namespace bw::papers
