// SPDX-License-Identifier: Apache-2.0
// The one table of a bike's numeric fields: reading, defaults, inputs and writing all go through it.      Layer: parts
#pragma once
#include <string>
#include <vector>

#include "parts/bike.hpp"

namespace bw::parts {

//! A lever's ratio at the bar over that at rest: at most this, at least its inverse. Assumed; told figures beyond it are taken for a slip.
inline constexpr double most_ratio_change = 3;

//! plain: every bike has it. limit: a maker's limit, optional, never filled by a default, never drawn. extra: only some bikes
//! have it (trailer, motor that brakes, load whose place was told); drawn last, so that the draws of all else stay.
enum class Role { plain, limit, extra };

struct Field {
    std::string key;       //!< "front.rotor.thickness_mm"
    std::string unit;
    double least, most;    //!< physical range; outside is refused
    //! Spread of a value that the description states as a bare number: share of the value, and in the unit.
    double told_share, told_sd;
    Role role;
    Uncertain* (*at)(Bike&);   //!< null if the bike has no such part, limit or extra
    Uncertain& (*make)(Bike&); //!< the field, created if it is optional
};

const std::vector<Field>& field_table();

}  // namespace bw::parts
