// SPDX-License-Identifier: Apache-2.0
// Words of the enumerations, both ways.                                                                   Layer: parts
#pragma once
#include <array>
#include <optional>
#include <string>
#include <utility>
#include <vector>

#include "parts/bike.hpp"

namespace bw::parts {

template <class E>
using Words = std::vector<std::pair<E, std::string>>;

const Words<BikeKind>& words(BikeKind);
const Words<Actuation>& words(Actuation);
const Words<Compound>& words(Compound);
const Words<PadCondition>& words(PadCondition);
const Words<FluidKind>& words(FluidKind);
const Words<HousingKind>& words(HousingKind);
const Words<RotorMaterial>& words(RotorMaterial);
const Words<RotorKind>& words(RotorKind);
const Words<End>& words(End);
const Words<Anvil>& words(Anvil);
const Words<MotorWheel>& words(MotorWheel);
const Words<TrailerBrake>& words(TrailerBrake);

template <class E>
std::optional<E> value_of_word(std::string_view word) {
    for (const auto& [value, w] : words(E{}))
        if (w == word) return value;
    return std::nullopt;
}

//! "trail, gravel, road, city or cargo"
template <class E>
std::string list_of_words() {
    std::string text;
    const auto& all = words(E{});
    for (std::size_t i = 0; i < all.size(); ++i)
        text += (i == 0 ? "" : i + 1 == all.size() ? " or " : ", ") + all[i].second;
    return text;
}

}  // namespace bw::parts
