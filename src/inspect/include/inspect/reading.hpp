// SPDX-License-Identifier: Apache-2.0
// Readings, their uncertainty (GUM), and the chance of being past a limit (JCGM 106).                    Layer: inspect
// Theory: docs/models/inspect.md [EQ inspect-1..5].                                        Pure functions: any thread.
#pragma once

namespace bw::inspect {

//! What is known of how a number was taken. All in the unit of the reading; everything >= 0, repeats >= 1.
struct Instrument {
    double resolution = 0;        //!< smallest step of the display
    double permitted_error = 0;   //!< +- the instrument's permitted error
    double repeat_sd = 0;         //!< standard deviation of one reading about the mean of several, 0 = not known
    int repeats = 1;              //!< number of readings whose mean is the value
};

//! Standard uncertainty of the mean of the repeats [unit of the reading]: resolution and permitted error as rectangular
//! distributions, which repeats do not reduce, and the scatter of the mean, which they do.  Source: [EQ inspect-1..2]
double standard_uncertainty(const Instrument&);

//! Does the friction thickness rest on a plate that somebody measured?
enum class Plate { measured, assumed, not_in_the_reading };

//! One value with its standard uncertainty, in the same unit.
struct Reading {
    double value = 0;
    double uncertainty = 0;
    Plate plate = Plate::not_in_the_reading;
};

//! Friction thickness out of a total thickness and a plate thickness [mm]; the uncertainties add as independent ones.
//! Source: [EQ inspect-3]
Reading friction_of_total(const Reading& total_mm, const Reading& plate_mm, Plate plate);

//! Chance that the true value is at or below the limit, normal about the reading; uncertainty 0 gives 0 or 1, NaN gives 1.
//! Source: [EQ inspect-4]
double probability_below(double limit, double reading, double uncertainty);

//! The least reading that leaves a chance of at most `risk` of being below a lower limit; 0 < risk < 0.5.
//! Source: [EQ inspect-5]
double guarded_limit(double limit, double uncertainty, double risk);

}  // namespace bw::inspect
