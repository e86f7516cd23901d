// SPDX-License-Identifier: Apache-2.0
// Words of this room's enumerations, and the tags of a ride that belong together.                        Layer: answer
#include <fmt/format.h>

#include "answer/answer.hpp"

namespace bw::answer {

std::optional<Weather> weather_of(std::string_view word) {
    if (word == "dry") return Weather::dry;
    if (word == "damp") return Weather::damp;
    if (word == "wet") return Weather::wet;
    if (word == "gritty") return Weather::gritty;
    return std::nullopt;
}

Status settle_wind(const std::string& where, RideTags& tags) {
    if (!tags.wind_from_deg) return Done{};
    const auto wrong = [&](const std::string& text) { return Error{Errc::bad_input, where.empty() ? text : where + ": " + text}; };
    if (!(*tags.wind_from_deg >= 0 && *tags.wind_from_deg <= 360))
        return wrong(fmt::format("wind_from_deg {}: expected 0 to 360, degrees clockwise from true north from which the wind blows (90: from the east)", *tags.wind_from_deg));
    if (!tags.wind_mps)
        return wrong(fmt::format("wind_from_deg {} without wind_mps: a direction needs the wind's speed, as the weather report gives it; tell wind_mps too, or leave the direction out", *tags.wind_from_deg));
    if (!(*tags.wind_mps >= 0))
        return wrong(fmt::format("wind_mps {} with wind_from_deg {}: beside a direction wind_mps is the wind's speed as the weather report gives it, 0 or more; a mean head wind along the way, negative from behind, is told without wind_from_deg", *tags.wind_mps, *tags.wind_from_deg));
    constexpr double most_mps = 20;   // our judgement: who rides in more has no need of a forecast, and km/h typed as m/s ends here
    if (!(*tags.wind_mps <= most_mps))
        return wrong(fmt::format("wind_mps {} with wind_from_deg {}: over {:.0f} m/s ({:.0f} km/h) is a gale; wind_mps is in metres a second: divide km/h by 3.6, mph by 2.24, knots by 1.94", *tags.wind_mps, *tags.wind_from_deg, most_mps, 3.6 * most_mps));
    if (*tags.wind_from_deg == 360) tags.wind_from_deg = 0;
    return Done{};
}

void fill_wind(RideTags& tags, const RideTags& all) {
    if (tags.wind_mps || tags.wind_from_deg) return;
    tags.wind_mps = all.wind_mps;
    tags.wind_from_deg = all.wind_from_deg;
}

double head_wind_mps(const RideTags& tags) { return tags.wind_from_deg ? 0.0 : tags.wind_mps.value_or(0.0); }

std::optional<wear::Terrain> terrain_of(std::string_view word) {
    for (const auto t : {wear::Terrain::flat, wear::Terrain::rolling, wear::Terrain::hilly, wear::Terrain::mountain})
        if (wear::word_of(t) == word) return t;
    return std::nullopt;
}

}  // namespace bw::answer
