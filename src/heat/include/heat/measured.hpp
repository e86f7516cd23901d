// SPDX-License-Identifier: Apache-2.0
// Temperatures somebody measured on a run re-weight its likely cases.                                     Layer: heat
// Theory: docs/models/heat.md [EQ heat-29], [EQ heat-41].                                             Pure functions: any thread.
#pragma once
#include <optional>
#include <span>
#include <string>
#include <string_view>
#include <utility>
#include <vector>

#include "heat/engine.hpp"

namespace bw::heat {

enum class MeasuredPlace { rotor, arms, plate, caliper, fluid };   //!< rotor: the surface of its band
enum class Spot { bare, tinted, painted };   //!< what infra-red looked at: rubbed by the pads, heat colours, dull paint or tape

struct Measured {
    double t_s = 0;
    MeasuredPlace place = MeasuredPlace::rotor;
    double value_degC = 0, sd_K = 0;   //!< sd_K > 0: of the reading, what the instrument does to it included
    std::optional<double> set_emissivity = {};   //!< 0.05..1: read by infra-red with this emissivity set; rotor, arms and caliper only
    std::optional<Spot> spot = {};     //!< with set_emissivity, of rotor and arms; nothing: bare on the band, tinted on the arms
    bool highest = false;              //!< the highest mark of a strip: of the whole run and cooling_s after it; t_s says nothing, no set_emissivity
};

//! A strip stays on while the brake cools: a caliper is hottest minutes after the halt.
inline constexpr double cooling_s = 900;

//! Reads t_s,place,value_degC,sd_K (t_s: seconds, or peak for the highest mark of a strip) and, if they are there, set_emissivity (empty: not by infra-red) and spot; any order of rows and columns.
//! Fails with bad_input: name:line, column, what was expected.
Result<std::vector<Measured>> read_measured_csv(std::string_view text, const std::string& name);

//! What an infra-red thermometer (8 to 14 µm) with an emissivity set shows of a grey surface [°C]: bare steel gives off little and
//! mirrors the surroundings, so it shows far too little of it. Temperatures -200..1500 °C, emissivities 0.01..1. [EQ heat-41]
double infra_red_shows_degC(double surface_degC, double emissivity, double set_emissivity, double surroundings_degC);

//! One case beside readings.
struct CaseMisfit {
    double misfit = 0;    //!< -2 ln likelihood, up to a constant, over the emissivities of spots
    double closest = 0;   //!< sum of squares of (case - reading)/sd_K with the emissivities that fit best
    std::vector<std::pair<double, double>> shows = {};   //!< [readings] least and most that the instrument would show
};
//! states: of the case, in order of time; a reading before or behind them is compared with the nearest. peaks: of all that a highest mark
//! stands for, cooling included; states may be empty where every reading is one. Readings as in weigh_cases.
CaseMisfit misfit_of(const ReferenceBrake& brake, const HeatRows& states, const HeatPeaks& peaks, std::span<const Measured> measured);

struct CaseWeights {
    std::vector<double> weight;   //!< [cases], sum 1
    double effective = 0;         //!< (sum w)² / sum w²: how many equal cases carry as much
    double best_misfit_sd = 0;    //!< root mean square of (case - reading)/sd_K of the case that fits best
};
//! Weight of each case given the readings, normal errors, all readings independent but for the emissivity: bare spots share one that
//! is not known (0.10 to 0.35 alike likely), painted ones another (0.90 to 0.97), tinted ones have the case's. Readings must lie within the rows,
//! but for highest marks: those are compared with each case's own peak over the rows and cooling_s after them. [EQ heat-29]
//! A temperature between rows is taken on the line between them. Fails with bad_input if a reading lies outside.
Result<CaseWeights> weigh_cases(const Context& ctx, std::span<const ReferenceBrake> brakes, std::span<const PowerRow> rows,
                                std::span<const Measured> measured);

}  // namespace bw::heat
