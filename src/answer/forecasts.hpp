// SPDX-License-Identifier: Apache-2.0
// Forecasts as they are kept in the papers: for their score, and for the verdict of later days.           Layer: answer
#pragma once
#include <span>
#include <string>
#include <vector>

#include "answer/from_papers.hpp"
#include "answer/life.hpp"

namespace bw::answer {

//! Every forecast of a part of this bike that was kept; one that decayed counts as not kept.
std::vector<KeptForecast> kept_forecasts(papers::Papers&, const papers::Id& bike);

//! Keeps what was worked out, once a day and state of the papers; report null: nothing of the life is known, and why. A question
//! with other mass, tags or heights than the papers' own leaves none. rides: all of the bike by that day. computed: what the stops
//! and temperatures of the whole answer come to; null: they were not looked at. Papers that cannot be
//! written lose the forecast alone, with a note.
void keep_forecast(papers::Papers&, const FromPapers&, const LearnSay&, std::span<const papers::Ride> rides, const LifeReport* report, const std::string& withheld, const std::vector<inspect::Check>* computed, std::uint64_t seed,
                   std::vector<std::string>& notes);

}  // namespace bw::answer
