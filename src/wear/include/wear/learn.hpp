// SPDX-License-Identifier: Apache-2.0
// Learning wear from readings, and the forecast that follows.                                             Layer: wear
// Theory: docs/models/life.md [EQ life-1..9].                                              Pure functions: any thread.
#pragma once
#include <array>
#include <cstdint>
#include <memory>
#include <string>
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
    std::array<double, 6> limit_ride{};        //!< at p = 0.005, 0.05, 0.25, 0.5, 0.75, 0.95
    double limit_reached_probability = 0;      //!< at the ride asked about
    Interval thickness_mm;                     //!< then
    Interval remaining_rides, remaining_km, remaining_descent_m, remaining_h;   //!< 0 where the limit is passed
    double look_by_rides = 0, look_by_km = 0;  //!< 0.5 % of the lives end before
    double capped_share = 0;                   //!< lives that were cut at the cap
    int readings = 0;                          //!< of this set, used
    // What explains the spread of the logarithm of the remaining rides: shares of its variance, first order.
    double share_now = 0, share_rate = 0, share_riding = 0;
};
inline constexpr std::array<double, 6> forecast_points = {0.005, 0.05, 0.25, 0.5, 0.75, 0.95};

struct LearnOptions {
    int chains = 8, steps = 300, keep_every = 4;   //!< of the sampler; a fifth of the steps is left out at the start
    int futures = 4096;
    bool use_readings = true;                      //!< false: what the prior alone says
};

//! What is believed of one rider after a ride: draws of the parameters given the readings up to then.
class Learned {
public:
    ~Learned();
    Learned(Learned&&) noexcept;
    Learned& operator=(Learned&&) noexcept;
    //! Forecast of one part. Fails with bad_input if this set was never fitted.
    Result<LifeForecast> forecast(const Context&, const TaskRow&) const;
    //! Draws [kept] of the logarithm of a pad's or rotor's wear over its median prior; for tests of calibration.
    std::vector<double> log_rate(Component, const std::string& set) const;
    //! Draws [kept] of a set's thickness at the ride asked about.
    std::vector<double> thickness_mm(const Context&, Component, const std::string& set) const;
    double accepted_share() const;   //!< of the sampler's proposals

private:
    friend Result<Learned> learn(const Context&, const History&, const WearPriors&, long, const TypicalRiding&, const LearnOptions&);
    struct Inside;
    explicit Learned(std::unique_ptr<Inside>);
    std::unique_ptr<Inside> in_;
};

//! Looks at rides and readings up to and with `as_of_ride` and at nothing later. Deterministic for the seed of the context.
//! Fails with bad_input if a compound has no priors.
Result<Learned> learn(const Context&, const History&, const WearPriors&, long as_of_ride, const TypicalRiding&, const LearnOptions&);

}  // namespace bw::wear
