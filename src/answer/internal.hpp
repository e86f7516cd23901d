// SPDX-License-Identifier: Apache-2.0
// What the files of this room share.                                                                     Layer: answer
#pragma once
#include <array>
#include <span>
#include <vector>

#include "answer/answer.hpp"
#include "heat/wheel.hpp"
#include "stop/unknowns.hpp"
#include "wear/law.hpp"

namespace bw::answer {

inline constexpr std::array<parts::End, 2> ends = {parts::End::front, parts::End::rear};

//! One likely case, ready for the rooms.
struct Case {
    parts::Bike bike;
    stop::StopUnknowns stop;
    std::array<heat::HeatUnknowns, 2> heat;
    std::array<wear::WearUnknowns, 2> wear;
    double habit = 0.6;                  //!< front share of the braking, before grip
    double untold_wet = 0, untold_grit = 0;
};

//! The dose of every ride, per wheel and anchor case: [ride][wheel][anchor].
using Doses = std::vector<std::array<std::vector<heat::WearDose>, 2>>;

struct HeatInput {
    std::span<const heat::PowerRow> rows;
    double air_degC = 15, altitude_m = 0;
};

//! Heat of one wheel in one case, and whether the lever force needed outgrows the hand or 1.5 times its cold value.
struct WheelOutcome {
    heat::WheelHeat heat;
    bool fades = false;
};
Result<WheelOutcome> heat_of(const Context&, const parts::Library&, const Case&, parts::End, const HeatInput&, heat::Keep keep);

//! Fills intervals, boiling and fading of one wheel from its anchors; cases: all likely cases, case i rides on anchor i % anchors.
void summarise(WheelHeatAnswer&, const parts::Library&, const parts::Bike&, parts::End, std::span<const Case> cases, std::span<const WheelOutcome> anchors, double altitude_m);

//! One recorded ride. doses: appended. Fails as ride::reconstruct, naming the file.
Result<RideAnswer> ride_answer(const Context&, const parts::Library&, const Request&, const RideInput&, const Cases&, std::span<const Case>, Doses& doses,
                               double share_from, double share_to);
//! A typical descent of a terrain class, planned = true.
Result<RideAnswer> described_descent(const Context&, const parts::Library&, const Request&, const Cases&, std::span<const Case>);

Result<std::vector<Yardstick>> yardsticks(const Context&, const parts::Library&, const parts::Bike&, std::span<const Case>);

std::vector<Assumption> assumptions(const parts::Library&, const Request&, const Cases&, const Answer&);
//! life_km: per wheel, per case of `cases`.
std::optional<Measurement> next_measurement(const parts::Library&, const Answer&, const Cases& cases, std::span<const std::vector<double>> life_km);
std::vector<std::string> cautions(const Answer&);

inline Error cancelled() { return {Errc::cancelled, "stopped; nothing was written"}; }

//! Total mass with the load told for a ride in place of the bike's own [kg].
double mass_with_load_kg(const parts::Bike& case_bike, const std::optional<double>& load_kg);

}  // namespace bw::answer
