// SPDX-License-Identifier: Apache-2.0
// The data behind the figures of remaining life: five invented riders, and how readings narrow.          Layer: answer
#pragma once
#include <string>
#include <vector>

#include "base/context.hpp"
#include "parts/library.hpp"
#include "wear/learn.hpp"

namespace bw::answer {

//! An invented rider, from a bike park in the wet to a flat town. Nobody is meant.
struct InventedRider {
    std::string name, words, compound;
    double ride_m = 0, descent_m = 0, energy_J = 0, pad_degC = 0, wet = 0, grit = 0, rides_a_year = 0;
};
const std::vector<InventedRider>& invented_riders();
//! Sixty rides of that rider (energies of one ride scatter by a third) with front pads of 280 mm2 and 1.5 mm to go, never read.
wear::History history_of(const InventedRider&, bool dry);
//! What the prior alone says of the front pads after those rides, from new.
Result<wear::LifeForecast> prior_life(const Context&, const parts::Library&, const InventedRider&, bool dry);

struct LifeFigure {
    std::string name, title, csv, caption;
    std::vector<std::string> assumptions, sources;
};
//! "riders": prior-only lives; "readings": width against the number of readings (0, 1, 2, 5, 10) of one set in use;
//! "movers_*": first-order and total shares of what moves the life of a new set.
Result<std::vector<LifeFigure>> life_figures(const Context&, const parts::Library&);

}  // namespace bw::answer
