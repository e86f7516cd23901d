// SPDX-License-Identifier: Apache-2.0
// What is left of a bike's pads and rotors, learned from readings: one report for `life`, `answer` and the pages.  Layer: answer
// Theory: docs/models/life.md.                                                             Pure functions: any thread.
#pragma once
#include <array>
#include <optional>
#include <span>
#include <string>
#include <vector>

#include "parts/bike.hpp"
#include "parts/library.hpp"
#include "wear/learn.hpp"

namespace bw::answer {

//! What the report is made from.
struct LifeAsk {
    wear::History history;
    wear::WearPriors priors;
    wear::TypicalRiding typical;
    wear::LearnOptions options;
    long as_of = 0;                              //!< ride after which
    std::optional<long> today;                   //!< what dates count from; absent: the day of the last ride
    std::vector<wear::RiddenRow> plan;           //!< the riding to come, in place of riding that was
    std::string plan_words;                      //!< what that is; empty: riding as it was
    std::vector<std::string> reasons;            //!< for which the bike is held back already
    double rides_per_day_log_sd = 0;             //!< of the next: how unlike riders are
    double rides_per_day = 0;                    //!< where the dates of the rides do not tell it; 0: then no date is given
};

//! One ride as learning sees it. energy_J: [front, rear][anchor case]; empty: its braking is not known.
struct RideLine {
    wear::RiddenRow row;
    std::array<std::vector<double>, 2> energy_J;
};
//! What in the papers it is learned from, so that it is known later whether that still stands.
struct LearnedFrom {
    std::vector<std::string> readings;                     //!< ids
    std::vector<std::string> rides_that_day;               //!< of the day itself and of none, to which more may come: id, day and weather
    std::string rides_and_stays;                           //!< hash of the rides before that day, and of where what was read was on
    std::string described;                                 //!< hash of the bike's description, and of what is told of the parts that were read
};
//! What the papers hold for learning; energies are filled in as rides are computed.
struct LearnSay {
    std::vector<RideLine> lines;                           //!< every ride of the bike, by day, numbered from 1
    std::vector<std::optional<std::size_t>> line_of;       //!< [ride of the answer] which line it is; none: nobody rode it
    LifeAsk ask;                                           //!< its rides and plan are still empty
    LearnedFrom from;                                      //!< as the papers were when the lines were made
    bool plan_alone = false;                               //!< with as_asked: only those of them that nobody rode
    bool as_asked = false;                                 //!< the rides of the answer stand for the riding to come, not all that was
};
//! Energies of the lines become rows: their bias and front share, common to all rides, apart from the scatter of each.   [EQ life-10]
void take_lines(LearnSay&);
//! Days from one ride to the next, and the spread of its logarithm.
struct RidingRate {
    double days_a_ride = 0, log_sd = 0;   //!< median; 0: not known
    bool by_rides = false;                //!< the rides say more of it than what was thought beforehand
    bool few = false;                     //!< fewer than six rides, or over less than three days, are behind it (house rule)
    std::size_t rides = 0;                //!< that it was reckoned from
    bool of_late = false;                 //!< these are those of the last 60 days: it was ridden more often then
};
//! Of rides that come by chance: the first ride and `rides` more within `days`. Beforehand their rate is a gamma about
//! usual_per_day (0: nothing is known beforehand; then rides > 0).   [EQ life-15]
RidingRate riding_rate_of(double rides, double days, double usual_per_day, double usual_log_sd);
//! How often a bike is ridden: of the dates that follow from each the sooner counts. days: [rides] of its rides, in order, not
//! decreasing. The first by what was thought beforehand and the rides, of the last 60 days if that is more often; from six rides over
//! three days on a second by plain counting. Empty: not known.   [EQ life-15]
std::vector<RidingRate> riding_rates(std::span<const double> days, double usual_per_day, double usual_log_sd);
//! The one that is printed: of the sooner 0.5 % point from ride to ride.
RidingRate said_rate(std::span<const RidingRate>);
//! The ride and the day from today by which a part is to be looked at.
struct LookBy {
    double rides = 0, days = 0;
};
//! Where few rides, or up to ten, are behind the rate that is printed: that a bike that goes out more often comes to its look-by rides
//! before its look-by day, with the rides a week, rounded down, up to which no part of `looks` does. Else, or without any such part:
//! empty.   [EQ life-15]
std::string few_rides_words(std::span<const RidingRate>, std::span<const LookBy> looks);
//! Usual riding of such a bike, for who has not ridden yet.
wear::TypicalRiding typical_riding(const parts::Library&, const parts::Bike&);

//! One pad or rotor that is on the bike; or both pads of a wheel, of which the sooner one counts.
struct PartLife {
    wear::FittedRow fitted;
    std::string name;                            //!< "front left pad", "front pads"
    wear::LifeForecast forecast;                 //!< of a pad: its own, but for the look-by point, which is that of the pads of its wheel
    std::optional<wear::ThicknessRow> at_limit;  //!< the newest reading at or under the limit that no later one betters
    std::optional<wear::ThicknessRow> in_doubt;  //!< its newest reading, if that may be too thick
    std::optional<wear::ThicknessRow> disbelieved;   //!< its newest reading, if that is much thinner than what is forecast; the forecast is then the sooner of the two
    std::optional<wear::ThicknessRow> cannot_be; //!< its newest reading, if that is thicker than it was new or before; the forecast is then the sooner of with it and without it
    std::optional<wear::ThicknessRow> grew_from; //!< with cannot_be: the earlier reading; absent: it is thicker than new
    double elsewhere_km = 0;                     //!< ridden on other bikes, where its wear is known by the way alone
    double expected_mm = 0;                      //!< with disbelieved: what the rides that are known leave
    bool undated = false;                        //!< no reading that can be relied on, or the newest is not believed: no look-by point is given
    double narrows = 1;                          //!< width of its remaining rides after a reading now, over what it is
    std::optional<long> look_by, buy_by;         //!< days since 1970; absent: no dates are known, or beyond 30 years
};

//! A reading that could be taken, and what it would do to the life that ends first.
struct NextReading {
    wear::Component component{};
    std::string name;
    double minutes = 0, narrows = 1;             //!< width after it over width now
};

//! What moves the life that ends first: share of the variance of its logarithm, first order from the draws.
struct Mover {
    std::string key, words;
    double share = 0;
};

//! Forecasts of sets that have come off since, beside what became of them.
struct ForecastScore {
    int judged = 0, held = 0;                    //!< 90 % intervals
    int too_early = 0;                           //!< of sets that came off long before their limit: not to be judged
    struct Miss {
        std::string part, day;                   //!< and the day of the forecast
        double said_p05_km = 0, said_p95_km = 0, was_km = 0;
    };
    std::vector<Miss> misses;
};

//! The logit of the front share: as the likely cases have it, and what readings make of it, in units of that spread.
struct LearnedShare {
    double logit_mean = 0, logit_sd = 0, z_mean = 0, z_sd = 1;
    std::vector<double> anchors = {}, habits = {};   //!< [anchor_cases] front's part of all that the rotors took, and the case's habit; empty: not known
};

struct LifeReport {
    long as_of = 0;
    std::size_t readings = 0;
    std::vector<PartLife> parts;                 //!< each pad and rotor
    std::array<std::optional<PartLife>, 2> pads; //!< [front, rear] the sooner of the two
    std::size_t first = 0;                       //!< in parts: what comes first, of those of which somebody knows where they stand
    std::vector<wear::Component> unread;         //!< that nobody measured and that may be at their limit already, where first is not one of them: they come before it
    std::vector<NextReading> next;               //!< best first; unread parts before all others
    std::vector<Mover> movers;                   //!< of the first; most first
    std::optional<Interval> front_share, front_share_before;
    std::optional<LearnedShare> share;           //!< with front_share, if anything was read
    std::array<std::optional<Interval>, 2> left_share;   //!< [front, rear] of the wear of the pads that are on
    bool hold = false, replace = false, doubt = false;
    std::vector<std::string> reasons, questions;
    std::size_t holds = 0;                       //!< of reasons, the first ones: for which the bike is held back
    std::vector<RidingRate> riding_rates;        //!< that the dates rest on, on the sooner of each
    RidingRate riding;                           //!< the one of them that is printed
    std::string few_rides;                       //!< few_rides_words of the dates that are given; none where the bike is held back
    std::vector<std::string> swollen;            //!< pads whose newest reading holds a swollen layer: one sentence for all
    std::vector<std::string> shortened;          //!< parts that were read since a reading that cannot be: why their life may be told too short; in questions too
    std::string plan_words;
    std::size_t plan_rides = 0;                  //!< that once over it are
    std::optional<ForecastScore> score;
    std::vector<std::string> cautions;
};

//! The bike is not to be ridden for this reason, wherever it was found: from then on no life and no date is printed.
void hold_back(LifeReport&, const std::string& reason);

//! Why a reading at the limit holds the bike back; empty: none does.
std::string at_limit_words(const PartLife&);
//! Of a part whose newest reading cannot be, is not believed or may be too thick: what to do about it, and what it does not do; else empty.
std::string doubt_words(const PartLife&);

//! What is looked at by one look: the pads of each wheel, then each rotor.
std::vector<const PartLife*> looked_at(const LifeReport&);
//! Sentences of a part or of the pads of a wheel, by its name. by: "", or "by the forecast of DAY ".
std::string replace_words(const std::string& name, const std::string& by);
std::string measure_words(const std::string& name, const std::string& why);
std::string next_ride_words(const std::string& name);   //!< its look-by point lies within the next ride
std::string one_of(const std::string& name);            //!< "it is", of pads "one of them is"

//! Deterministic for ctx.seed. Fails with bad_input if no part is on the bike by then, or as learn().
Result<LifeReport> life_report(const Context&, const parts::Library&, const LifeAsk&);

//! One part's forecast as it was kept.
struct KeptForecast {
    std::string day, part, component, set;       //!< part: its id in the papers
    std::string known;                           //!< which rides and readings it was made from: of the same ones it is the same forecast
    bool all_stays = true;                       //!< km_since counts every stay of the part; false: kept by a version that counted each for itself
    double km_since = 0;                         //!< ridden on it by then
    std::array<double, 6> km{};                  //!< still to go, at forecast_points
    std::optional<Interval> wear_mm_km;          //!< what a kilometre takes off, drawn with each life
};
//! How they did, of parts that are off the bike again: each such part's end is judged by all that was read of it. One that came
//! off so early that its end is not known within a third is not judged.   [EQ life-11]
Result<ForecastScore> score_of(const Context&, const LifeAsk&, const std::vector<KeptForecast>&);

//! What was to be said of one part after each reading of it, with what was known by then.
struct Narrowed {
    long as_of = 0;                              //!< ride
    std::optional<long> day;
    int readings = 0;                            //!< of this part by then; 0: when it went on
    Interval thickness_mm, life_km;              //!< then; and from new to the limit: ridden by then, and to come
};
//! Of the part at this place of report.parts: when it went on, and after its newest `most` readings, oldest first.
Result<std::vector<Narrowed>> life_narrowed(const Context&, const LifeAsk&, const PartLife&, std::size_t most = 8);

//! "held_back", "replace", "measure_better" or "look_by".
const char* state_of(const LifeReport&);
//! The object life/1 (docs/schema/life-1.json), as text without a line end; lives are null where the bike is held back.
std::string json_of(const LifeReport&, std::uint64_t seed, const std::string& version);
//! For a terminal.
std::string text_of(const LifeReport&);
//! What moves it, one sentence.
std::string movers_words(const LifeReport&);
//! The next best reading with its price, one or two sentences; empty: nothing narrows it.
std::string next_words(const LifeReport&);
std::string unread_words(const LifeReport&);   //!< of parts that nobody measured and that come before the first one; empty: none
//! "Your pads say that the front does 68 % of the braking (60 to 75)."; empty: not learned.
std::string front_share_words(const LifeReport&);
std::string score_words(const ForecastScore&);

}  // namespace bw::answer
