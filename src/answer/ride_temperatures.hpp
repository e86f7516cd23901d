// SPDX-License-Identifier: Apache-2.0
// Temperatures in the papers that were read on a ride weigh its likely cases.                            Layer: answer
// Theory: docs/models/heat.md [EQ heat-41]; docs/decisions/0008-papers.md.
#pragma once
#include <memory>
#include <span>
#include <string>
#include <vector>

#include "internal.hpp"
#include "learned_share.hpp"
#include "papers/papers.hpp"

namespace bw::answer {

//! A reading belongs to the ride that goes on when it was read, or that ended this long before: so long the heat of a ride is computed.
inline constexpr double after_ride_s = 900;

//! Which temperatures of this bike up to `today` weigh, and how much: motion and heat of the anchors of each ride that has some are run again.
//! recorded, inputs, works: [rides] of the answer; cases: the anchors of the bike as ridden. Fails as ride_work.
Result<ReadTemperatures> temperatures_of(const Context&, const parts::Library&, papers::Papers&, const papers::Id& bike, const papers::Day& today, const Request& ridden, std::span<const papers::Ride> recorded,
                                         std::span<const RideInput> inputs, std::span<const RideWork> works, std::span<const Case> cases);
//! All that temperatures_of reads of the readings themselves: part of an answer's key.
Result<std::string> said_temperatures(papers::Papers&, const papers::Id& bike, const papers::Day& today);

//! Bands of the rides by weight, on top of share (may be null); what a verdict rests on stays where it was worse without. Returns what the readings did, a
//! sentence each. A quarter of the anchors at least goes on counting: where too few are like the readings, the weights go only part of the way.
std::vector<std::string> weigh_by_temperatures(std::span<RideAnswer> rides, std::span<const std::shared_ptr<const Anchored>> heat, const Doses&, const ReadTemperatures&, const CaseWeights* share, const parts::Library&,
                                               const parts::Bike&, std::span<const Case>);

}  // namespace bw::answer
