// SPDX-License-Identifier: Apache-2.0
// Forecasts by one who knows the generator's law and all its distributions, and more than anybody could read off papers.   Layer: tests/worn
// Theory: README.md, "The informed forecaster". What it scores is a bound from below: no method can do better on average on these riders.
// Pure functions: any thread.
#pragma once
#include "histories.hpp"

namespace worn {

struct InformedOptions {
  int futures = 400;               // rides to come
  int structures = 500;            // draws of what must be ridden through, at first; more until `effective` is reached
  int most_structures = 16000;
  double effective = 300;          // asked effective number of them: (sum w)^2 / sum w^2
  double spreads = 1;              // of what differs from pair to pair and rotor to rotor; 0: as the usual ones
};
struct Informed {
  Oracle forecast;
  double effective = 0;            // reached, structures; of a rotor: of all draws
  int structures = 0;
  bool rider_told = false, wheel_told = false, brand_told = false;   // which factors of the rider were told and not drawn
};
//! One for each task of the history. A spread of nil also takes rider, wheel and brand as told.
std::vector<Informed> informed(const History&, const InformedOptions&);

//! Chance that a reading shows `value_mm` when the part (with what it swelled) is `is_mm` thick: rounding, error and misreads of the generator.
double reading_chance(const Reading&, double is_mm);

}  // namespace worn
