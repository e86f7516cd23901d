// SPDX-License-Identifier: Apache-2.0
// Temperatures somebody measured on a run re-weight its likely cases.                                     Layer: heat
// Theory: docs/models/heat.md [EQ heat-29].                                             Pure functions: any thread.
#pragma once
#include <span>
#include <string>
#include <string_view>
#include <vector>

#include "heat/engine.hpp"

namespace bw::heat {

enum class MeasuredPlace { rotor, plate, caliper, fluid };   //!< rotor: its surface

struct Measured {
    double t_s = 0;
    MeasuredPlace place = MeasuredPlace::rotor;
    double value_degC = 0, sd_K = 0;   //!< sd_K > 0: of the reading, what the instrument does to it included
};

//! Reads t_s,place,value_degC,sd_K; any order of rows. Fails with bad_input: name:line, column, what was expected.
Result<std::vector<Measured>> read_measured_csv(std::string_view text, const std::string& name);

struct CaseWeights {
    std::vector<double> weight;   //!< [cases], sum 1
    double effective = 0;         //!< (sum w)² / sum w²: how many equal cases carry as much
    double best_misfit_sd = 0;    //!< root mean square of (case - reading)/sd_K of the case that fits best
};
//! Weight of each case given the readings, normal errors, all readings independent. Readings must lie within the rows.
//! A temperature between rows is taken on the line between them. Fails with bad_input if a reading lies outside.
Result<CaseWeights> weigh_cases(const Context& ctx, std::span<const ReferenceBrake> brakes, std::span<const PowerRow> rows,
                                std::span<const Measured> measured);

}  // namespace bw::heat
