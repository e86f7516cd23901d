// SPDX-License-Identifier: Apache-2.0
// Learning wear from readings, and the forecast that follows.                                             Layer: wear
// Theory: docs/models/life.md [EQ life-1..10].                                              Pure functions: any thread.
#pragma once
#include <array>
#include <cstdint>
#include <memory>
#include <optional>
#include <string>
#include <utility>
#include <vector>

#include "base/context.hpp"
#include "base/interval.hpp"
#include "wear/history.hpp"
#include "wear/priors.hpp"

namespace bw::wear {

//! What a rider who has ridden nothing yet may ride: medians, for a forecast before the first ride.
struct TypicalRiding {
    double distance_m = 20000, energy_J = 60000, pad_degC = 80;   //!< energy of both wheels
    double log_sd = 1.0;                                          //!< of the energy, from rider to rider
};

//! When a part comes to its limit, as absolute ride numbers; and from the ride asked about on.
struct LifeForecast {
    std::array<double, 6> limit_ride{};        //!< at p = 0.005 (the look-by point, no quantile of the sample), 0.05, 0.25, 0.5, 0.75, 0.95
    double limit_reached_probability = 0;      //!< at the ride asked about
    Interval thickness_mm;                     //!< then
    Interval remaining_rides, remaining_km;    //!< 0 where the limit is passed
    //! Likewise. A ride that does not tell it counts as the mean of those that do; absent: fewer than half of them do (house rule).   [EQ life-16]
    std::optional<Interval> remaining_descent_m, remaining_h;
    std::optional<Interval> wear_mm_km;        //!< what a kilometre to come takes off on average, drawn with each life that has not ended; nothing: all have
    double look_by_rides = 0, look_by_km = 0;  //!< 0.5 % of the lives end before: the sooner of the sample's point and a log-normal's   [EQ life-9]
    double look_by_days = 0, days_p05 = 0;     //!< 0.5 and 5 % points of the days to go, the rate of riding drawn with each life; of several rates the sooner; 0 without one
    double capped_share = 0;                   //!< lives that were cut at the cap
    int readings = 0;                          //!< of this set, used
    std::array<double, 6> km{};                //!< remaining, at the points of limit_ride, the first the look-by point
    std::optional<Interval> plan_loss_mm;      //!< with a plan: what riding it once takes off
    std::vector<double> share_of;              //!< of ForecastOptions::readings
    // What explains the spread of the logarithm of the remaining rides: shares of its variance, first order.
    double share_now = 0, share_rate = 0, share_riding = 0;
    std::vector<std::pair<std::string, double>> share_parameters;   //!< of what the rate is made of (Learned::parameters)
};
inline constexpr std::array<double, 6> forecast_points = {0.005, 0.05, 0.25, 0.5, 0.75, 0.95};

struct LearnOptions {
    int chains = 8, steps = 300, keep_every = 4;   //!< of the sampler; a fifth of the steps is left out at the start
    int futures = 4096;
    bool use_readings = true;                      //!< false: what the prior alone says
    //! Share of the work that the rides were reckoned with for the front, and the sd of its logit; 0: not learned.   [EQ life-10]
    double front_share = 0.6, front_share_sd = 0;
    bool unswollen_too = true;                     //!< where pads swelled: learned a second time as if none had, for ForecastOptions::sooner
};

//! Days from one ride to the next: median, and spread of its logarithm.
struct Pace {
    double days_a_ride = 0, log_sd = 0;
};

struct ForecastOptions {
    bool whole_set = false;                        //!< of a pad: the first of the two to come to its limit
    bool sooner = true;                            //!< where pads swelled: the sooner of that and of taking readings as they stand   [EQ life-14]
    std::vector<RiddenRow> plan = {};              //!< the riding to come, in place of riding that was
    std::vector<Pace> paces = {};                  //!< ways to reckon how often it is ridden: of each point of the days the soonest; empty: no days are given
    std::vector<TaskRow> readings = {};            //!< thicknesses whose share of the spread is asked about; as_of_ride is not read
};

//! At every point the sooner of two forecasts of one part, and the faster wear. Shares of the spread: of the one whose middle comes first.
LifeForecast sooner_of(const LifeForecast&, const LifeForecast&);

//! What is believed of one rider after a ride: draws of the parameters given the readings up to then.
class Learned {
public:
    ~Learned();
    Learned(Learned&&) noexcept;
    Learned& operator=(Learned&&) noexcept;
    //! Forecast of one part. Fails with bad_input if this set was never fitted.
    Result<LifeForecast> forecast(const Context&, const TaskRow&, const ForecastOptions& = {}) const;
    //! Draws [kept] of the logarithm of a pad's or rotor's wear over its median prior; for tests of calibration.
    std::vector<double> log_rate(Component, const std::string& set) const;
    //! Draws [kept] of a set's thickness at the ride asked about.
    std::vector<double> thickness_mm(const Context&, Component, const std::string& set) const;
    //! By how much the newest reading of a resin-bonded pad (organic, semi_metallic) is too thick [mm], since rides before it left a
    //! swollen layer that is not worn away: draws [kept]; empty where none did.   [EQ life-14]
    std::vector<double> swelling_mm(Component, const std::string& set) const;
    //! Front share of the braking work, draws [kept]; empty where it is not learned.
    std::vector<double> front_share() const;
    //! Share of a set's wear that its left pad takes, draws [kept]; empty without both pads.
    std::vector<double> left_share(Component, const std::string& set) const;
    //! What moves the wear of this rider, by name: draws [kept] of each parameter, standard normal beforehand.
    std::vector<std::pair<std::string, std::vector<double>>> parameters(Component, const std::string& set) const;
    double accepted_share() const;   //!< of the sampler's proposals

private:
    friend Result<Learned> learn(const Context&, const History&, const WearPriors&, long, const TypicalRiding&, const LearnOptions&);
    struct Inside;
    static Result<Learned> learn_as_told(const Context&, const History&, const WearPriors&, long, const TypicalRiding&, const LearnOptions&);
    Result<LifeForecast> forecast_as_told(const Context&, const TaskRow&, const ForecastOptions&) const;
    explicit Learned(std::unique_ptr<Inside>);
    std::unique_ptr<Inside> in_;
};

//! Looks at rides and readings up to and with `as_of_ride` and at nothing later. Deterministic for the seed of the context.
//! Fails with bad_input if a compound has no priors.
Result<Learned> learn(const Context&, const History&, const WearPriors&, long as_of_ride, const TypicalRiding&, const LearnOptions&);

}  // namespace bw::wear
