// SPDX-License-Identifier: Apache-2.0
// What forecasts of life say of today: held, to be replaced, to be measured now. One rule for every verdict.   Layer: answer
// Theory: docs/models/life.md (the verdict).                                      life_checks: pure; any thread.
#pragma once
#include <array>
#include <optional>
#include <string>
#include <vector>

#include "answer/life.hpp"
#include "inspect/verdict.hpp"
#include "papers/papers.hpp"
#include "papers/state.hpp"

namespace bw::answer {

//! One part's forecast, as far as a verdict rests on it.
struct ForecastOfPart {
    parts::End place = parts::End::front;
    bool rotor = false;
    std::string name;                            //!< "front left pad", "front pads"
    std::string day;                             //!< of the forecast; empty: of now
    double limit_reached_probability = 0;        //!< on that day
    std::array<double, 6> km{};                  //!< still to go then, at wear::forecast_points
    std::optional<std::string> look_by;          //!< from this day on the chance of being past the limit is over 0.5 %
    std::optional<double> look_by_km;            //!< or after as much more, whichever comes first
    std::optional<double> look_by_rides;         //!< or after as many rides
    std::string at_limit;                        //!< "Do not ride ...", where a reading at the limit stands; else empty
    std::string in_doubt;                        //!< where its newest reading may be too thick; else empty
};
//! Nothing where the forecast gives no reason today. ridden_km: since the forecast. read_since: by a reading that is in no forecast,
//! which silences nothing. Code: {place}_{pads|rotor}_{at_limit|look_now|reading_in_doubt|look_by},
//! the last where its day is within 30 days. A reading holds; a forecast alone never
//! gives more than `replace` (more likely than not at the limit), else measure_better (over 0.5 %).
std::optional<inspect::Check> life_check(const ForecastOfPart&, const std::string& today, double ridden_km, bool read_since);
//! Of all parts and of the pads of each wheel together, on the day of the report (today; "" if not known): the worst of each code.
std::vector<inspect::Check> life_checks(const LifeReport&, const std::string& today);

//! What the kept forecasts say of a bike on a day; nothing is computed.
struct LifeSaid {
    std::optional<papers::Day> worked_out;       //!< day of the newest forecast; absent: nothing was ever worked out
    std::vector<inspect::Check> checks;          //!< of each part that is on, by the newest forecast that speaks of it; notes of what is not known;
                                                 //!< `not_worked_out`, which no verdict is clean with
};
Result<LifeSaid> life_said(papers::Papers&, const papers::Book&, const papers::Id& bike, const papers::Day& today);

//! What a kilometre takes off either pad of a wheel, as the newest forecasts of them have it.
struct PadWear {
    Interval left_mm_km, right_mm_km;
};
//! [front, rear]; absent where no forecast that was kept by that day says it of both pads.
std::array<std::optional<PadWear>, 2> pad_wear_of(papers::Papers&, const papers::Id& bike, const papers::Day& today);
//! The front share as pads and rotors tell it, by the newest forecast that was kept by that day.
struct KeptShare {
    std::optional<LearnedShare> share;           //!< absent: it says none, or what it was learned from, or by, is not what stands now
    std::string day;                             //!< of that forecast
    std::string text;                            //!< a share that is not taken, or a reading that is not in it; else empty
};
KeptShare learned_share_of(papers::Papers&, const papers::Id& bike, const papers::Day& today);

}  // namespace bw::answer
