// SPDX-License-Identifier: Apache-2.0
// Words of the enumerations.                                                                              Layer: parts
#include "words.hpp"

namespace bw::parts {

#define BW_WORDS(E, ...)                          \
    const Words<E>& words(E) {                    \
        static const Words<E> all = {__VA_ARGS__}; \
        return all;                               \
    }                                             \
    std::string_view word_of(E value) {           \
        for (const auto& [v, w] : words(value))   \
            if (v == value) return w;             \
        return "";                                \
    }

BW_WORDS(BikeKind, {BikeKind::trail, "trail"}, {BikeKind::gravel, "gravel"}, {BikeKind::road, "road"}, {BikeKind::city, "city"},
         {BikeKind::cargo, "cargo"})
BW_WORDS(Actuation, {Actuation::hydraulic, "hydraulic"}, {Actuation::cable, "cable"}, {Actuation::cable_to_hydraulic, "cable_to_hydraulic"})
BW_WORDS(Compound, {Compound::organic, "organic"}, {Compound::semi_metallic, "semi_metallic"}, {Compound::sintered, "sintered"})
BW_WORDS(PadCondition, {PadCondition::not_told, "not_told"}, {PadCondition::bedded, "bedded"}, {PadCondition::unbedded, "unbedded"}, {PadCondition::glazed, "glazed"},
         {PadCondition::oiled, "oiled"})
BW_WORDS(FluidKind, {FluidKind::dot3, "dot3"}, {FluidKind::dot4, "dot4"}, {FluidKind::dot5_1, "dot5_1"}, {FluidKind::mineral, "mineral"})
BW_WORDS(HousingKind, {HousingKind::hose, "hose"}, {HousingKind::ordinary, "ordinary"}, {HousingKind::compressionless, "compressionless"})
BW_WORDS(RotorMaterial, {RotorMaterial::stainless_410, "stainless_410"}, {RotorMaterial::stainless_420, "stainless_420"},
         {RotorMaterial::aluminium_core, "aluminium_core"})
BW_WORDS(RotorKind, {RotorKind::solid, "solid"}, {RotorKind::vented, "vented"}, {RotorKind::two_piece, "two_piece"})
BW_WORDS(Anvil, {Anvil::not_told, "not_told"}, {Anvil::pointed, "pointed"}, {Anvil::flat_jaws, "flat_jaws"})
BW_WORDS(MotorWheel, {MotorWheel::crank, "crank"}, {MotorWheel::front, "front"}, {MotorWheel::rear, "rear"})
BW_WORDS(TrailerBrake, {TrailerBrake::none, "none"}, {TrailerBrake::overrun, "overrun"})
BW_WORDS(End, {End::front, "front"}, {End::rear, "rear"})

}  // namespace bw::parts
