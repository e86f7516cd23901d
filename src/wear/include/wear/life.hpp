// SPDX-License-Identifier: Apache-2.0
// Remaining life of pads and rotor over the likely cases, and the look-by point at 0.5 % risk.              Layer: wear
// Theory: docs/models/wear.md [EQ wear-9..11].                                             Pure functions: any thread.
#pragma once
#include <optional>
#include <span>
#include <string>

#include "base/interval.hpp"
#include "base/result.hpp"
#include "inspect/verdict.hpp"
#include "wear/law.hpp"

namespace bw::wear {

//! What the given rides come to; the future is like them. rides >= 1, distance_m > 0, descent_m >= 0.
struct RidingTotals {
    double rides = 0, distance_m = 0, descent_m = 0;
};

enum class LimitFrom { maker, common_practice };

//! One wheel in one case: what is left, and what the given rides took, together.
struct LifeCase {
    double pad_usable_mm = 0;       //!< friction thickness down to the limit; <= 0: past it
    double pad_loss_mm = 0;         //!< of the pad that wears faster, over all given rides
    double rotor_allowance_mm = 0;  //!< thickness down to the limit
    double rotor_loss_mm = 0;       //!< over all given rides
    double new_pad_usable_mm = 0;   //!< of a new pad of this kind
    double ride_cv2 = 0;            //!< squared relative scatter of the wear of one ride
    double ride_z = 0;
    double longest_km = 0;
    RidingTotals totals;
    LimitFrom pad_limit_from = LimitFrom::common_practice;
    LimitFrom rotor_limit_from = LimitFrom::common_practice;
};

//! One wheel of one case (parts::bike_of_case). rides: the dose of each given ride in this case, at least one.
LifeCase life_case(const parts::Bike& case_bike, parts::End, const WearUnknowns&, std::span<const heat::WearDose> rides,
                   const RidingTotals&);

struct Remaining {
    Interval km, rides;
    std::optional<Interval> descent_m;   //!< none if the rides do not descend
    double capped_share = 0;             //!< cases whose life was cut at the cap: say "over", not "about"
};

//! The riding after which the chance of being past the limit reaches 0.5 %.
struct LookBy {
    double km = 0, rides = 0;
    std::optional<double> descent_m;
    std::optional<double> days;          //!< if the days per ride were given
    bool capped = false;
};

struct PadLife {
    Remaining remaining;
    LookBy look_by;
    LimitFrom limit_from = LimitFrom::common_practice;
    double past_limit_probability = 0;   //!< now
};
struct RotorLife {
    Remaining remaining;
    std::optional<Interval> pad_sets;    //!< sets of new pads that the rotor still outlives; none if nothing wears
    LimitFrom limit_from = LimitFrom::common_practice;
    double past_limit_probability = 0;
};
struct LifeAnswer {
    PadLife pad;
    RotorLife rotor;
};

//! Lives over the cases of one wheel. cases: 1,024 or more; below 1,000 the look-by point is the worst case, not a quantile.
//! Every life lies in [0, cap]. Fails with out_of_domain if there are no cases, no rides or no distance.
Result<LifeAnswer> life_of(std::span<const LifeCase> cases, std::optional<double> days_per_ride = {});

//! Number of rides until `usable_mm` is gone [rides, not rounded]; mean_loss_mm per ride with squared relative scatter cv2,
//! z standard normal. Infinite if nothing wears; 0 if nothing is left.  Source: [EQ wear-9]
double rides_left(double usable_mm, double mean_loss_mm, double cv2, double z);

//! "about 800 km (300 to 2,100)", or "over 100,000 km".
std::string km_words(const Remaining&);
//! What is left of pads and rotor, in plain words. Null lives (a bike that is held back) are the caller's business.
std::string pad_text(parts::End, const PadLife&);
std::string rotor_text(parts::End, const RotorLife&);

//! The pads' look-by point as one more reason for the verdict (inspect::combine). date: already written out, or empty.
inspect::Check look_by_check(parts::End, const PadLife&, const std::string& date);

}  // namespace bw::wear
