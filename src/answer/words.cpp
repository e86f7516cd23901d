// SPDX-License-Identifier: Apache-2.0
// Words of this room's enumerations.                                                                     Layer: answer
#include "answer/answer.hpp"

namespace bw::answer {

std::optional<Weather> weather_of(std::string_view word) {
    if (word == "dry") return Weather::dry;
    if (word == "damp") return Weather::damp;
    if (word == "wet") return Weather::wet;
    if (word == "gritty") return Weather::gritty;
    return std::nullopt;
}

std::optional<wear::Terrain> terrain_of(std::string_view word) {
    for (const auto t : {wear::Terrain::flat, wear::Terrain::rolling, wear::Terrain::hilly, wear::Terrain::mountain})
        if (wear::word_of(t) == word) return t;
    return std::nullopt;
}

}  // namespace bw::answer
