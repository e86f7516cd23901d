// SPDX-License-Identifier: Apache-2.0
// The likely cases weighed by the front share that pads and rotors tell.                                 Layer: answer
// Theory: docs/models/life.md [EQ life-13].                                                Pure functions: any thread.
#pragma once
#include <memory>
#include <optional>
#include <span>
#include <vector>

#include "internal.hpp"

namespace bw::answer {

//! How much each likely case counts: learned density of its front share over the density before.
struct CaseWeights {
    std::vector<double> anchors;   //!< [anchor_cases], mean 1: temperatures, energies of wheels
    std::vector<double> cases;     //!< [cases], mean 1, the anchors first: stops, levers
    ShareWeighed said;
};
//! anchor_shares: [anchor_cases] front's part of what the rotors took over all rides, in 0..1; habits: [cases], 0..1, the anchors first.
//! Nothing where what was learned does not stand out of the noise of its own draws, or where the anchors do not differ.
std::optional<CaseWeights> weights_of(const LearnedShare&, std::span<const double> anchor_shares, std::span<const double> habits);
//! The same of other cases than the anchors that it was learned with: `cases` are these alone, and so is effective_cases.
std::optional<CaseWeights> weights_of(const LearnedShare&, std::span<const Case>);
//! (sum w)^2 / sum w^2: so many alike would tell as much.
double effective(std::span<const double> weights);
//! Front's part of all work of these rides in each anchor; empty where that is not known for all of them.
std::vector<double> anchor_shares(const LearnSay&);

//! What summarise() needs of one ride to do it again.
struct Anchored {
    std::array<std::vector<WheelOutcome>, 2> outcomes;
};
std::shared_ptr<const Anchored> anchored(const RideWork&);

//! A reading may be of another pad, or wrong: what it takes from a brake clears nothing. What a verdict rests on stays where it was worse without.
void keep_worse(WheelHeatAnswer& by_weight, const WheelHeatAnswer& plain);
//! Intervals of the wheels by weight; what a verdict rests on stays where it was worse without. heat: [rides], null where nothing is kept.
void weigh(std::span<RideAnswer> rides, std::span<const std::shared_ptr<const Anchored>> heat, const Doses&, const CaseWeights&, const parts::Library&, const parts::Bike&, std::span<const Case>);
//! The same of stops and levers; both made from the same cases. A stop with one brake alone stays: no share moves it. With both, squeezes
//! are by weight, their long ends the worse; way, room and deceleration are the worse point by point; a hand is that of all cases.
stop::StopAnswer weigh(const stop::StopAnswer& plain, std::span<const stop::StopCase>, const CaseWeights&);
//! Of a lever by weight and without: the nearer to the bar, point by point. Its ends are of no one distribution, so no chance is read off it.
stop::LeverAnswer nearer(const stop::LeverAnswer& plain, const stop::LeverAnswer& by_weight);
//! What is judged: the one of the two whose check is worse (do_not_ride, then state, then the chance of the bar).
inspect::LeverPoints worse_points(const stop::LeverAnswer& plain, const stop::LeverAnswer& by_weight, parts::Actuation, const inspect::Practice&);

//! Point by point.
Interval larger_of(const Interval&, const Interval&);
Interval smaller_of(const Interval&, const Interval&);

}  // namespace bw::answer
