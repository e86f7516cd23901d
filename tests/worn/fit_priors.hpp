// SPDX-License-Identifier: Apache-2.0
// The generator's own medians and spreads, said in the form of PRIORS.toml (INTERFACES, `life`).   Layer: tests/worn
// Theory: README.md, "How the priors are fitted". Pure functions: any thread.
#pragma once
#include <array>
#include <string>

namespace worn {

struct Priors {
  struct OfCompound { double specific_wear_mm3_MJ, rotor_wear_mm3_MJ, threshold_degC, growth; };
  std::array<OfCompound, 3> compound{};
  double rider, set, growth, threshold_dK, left_right, rotor_rider, ride;
  double wet, wet_sd, grit, grit_sd, rotor_exponent, bedding, bedding_MJ;
  double energy_bias, energy_ride, pad_temperature_dK, wet_wrong, grit_unseen, misread_share, misread_mm, new_pad_sd_mm, new_rotor_sd_mm;
};
//! Simulates riders of seeds that no set of plan.csv uses, and fits. Some seconds.
Priors fit_priors();
std::string as_toml(const Priors&);

constexpr unsigned long first_prior_seed = 900001;   // and the 210 that follow

}  // namespace worn
