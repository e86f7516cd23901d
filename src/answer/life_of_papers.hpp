// SPDX-License-Identifier: Apache-2.0
// The papers as learning reads them.                                                                     Layer: answer
#pragma once
#include <map>
#include <span>
#include <vector>

#include "internal.hpp"
#include "papers/papers.hpp"
#include "papers/state.hpp"

namespace bw::answer {

//! Rides up to today of other bikes that parts of this one were on.
using RidesElsewhere = std::map<papers::Id, std::vector<papers::Ride>>;
//! Of these papers, for learn_of_papers.
Result<RidesElsewhere> rides_elsewhere_of(papers::Papers&, const papers::Book&, const papers::Id& bike, const papers::Day& today);
//! rides: all of this bike up to today, by day, those without one last. described: the bike as its description says; ridden:
//! with the parts that are on it.
LearnSay learn_of_papers(const parts::Library&, const papers::Book&, const papers::Bike&, const parts::Bike& described, const parts::Bike& ridden, std::span<const papers::Ride> rides,
                         const papers::Day& today, const RidesElsewhere&);
std::optional<papers::Day> day_of(const papers::Ride&);
//! Readings that learning of this bike goes by, up to a day, in order of day and time. They point into the book.
std::vector<const papers::Reading*> readings_of_wear(const papers::Book&, const papers::Id& bike, const papers::Day& today);
//! What a forecast of this day is learned from. rides: of this bike; those of later days do not count.
LearnedFrom learned_from(const papers::Book&, const papers::Bike&, std::span<const papers::Ride> rides, const papers::Day& day);
//! What a ride did, for learning.
void take_work(RideLine&, const RideWork&);

}  // namespace bw::answer
