// SPDX-License-Identifier: Apache-2.0
// What is thought of wear before anything of this rider was measured.                                      Layer: wear
// Meaning of each: docs/formats-life.md; theory: docs/models/life.md.                      Pure functions: any thread.
#pragma once
#include <map>
#include <string>
#include <string_view>

#include "base/result.hpp"
#include "parts/library.hpp"

namespace bw::wear {

struct CompoundPriors {
    double specific_wear_mm3_MJ = 0, rotor_wear_mm3_MJ = 0, threshold_degC = 0, growth = 0;
};

//! Medians and spreads. Spreads are log standard deviations, but for threshold_dK [K] and left_right.
struct WearPriors {
    std::map<std::string, CompoundPriors, std::less<>> compound;
    struct {
        double rider = 0, set = 0, growth = 0, threshold_dK = 0, left_right = 0, rotor_rider = 0, ride = 0;
    } spread;
    struct {
        double wet = 1, wet_sd = 0, grit = 1, grit_sd = 0, rotor_exponent = 1, bedding = 0, bedding_MJ = 1;
    } factor;
    struct {
        double energy_bias = 0, energy_ride = 0;                       //!< log standard deviations
        double pad_temperature_dK = 0;                                 //!< of this rider's temperatures as a whole [K]
        double wet_wrong = 0, grit_unseen = 0, misread_share = 0;      //!< probabilities
        double misread_mm = 0, new_pad_sd_mm = 0, new_rotor_sd_mm = 0;
    } observation;
    // Ours alone: not in the file of priors.
    double rubbing_N = 0, rubbing_log_sd = 0;   //!< brushing of released pads, as a force at the tyre
    double place_mm = 1e-4;                     //!< sd of a pad's thickness from place to place, in a reading
    double rotor_exponent_sd = 0;               //!< of factor.rotor_exponent, from rider to rider
    double swell_mm = 0, swell_from_degC = 150, swell_full_degC = 250;   //!< of a resin-bonded pad that was hot, fully from the second (mean of the ride at the pad face)
    double drift = 0;                           //!< log standard deviation by which the wear of neighbouring rides strays together
};

//! From data/wear.toml.
WearPriors default_priors(const parts::Library&);

//! PRIORS.toml over the defaults: what the file does not say stays. Fails with bad_input, naming file, line and the nearest
//! known key, on an unknown key or a value that is not a number in range.
Result<WearPriors> read_priors(std::string_view toml_text, const std::string& file, WearPriors defaults);

}  // namespace bw::wear
