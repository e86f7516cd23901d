// SPDX-License-Identifier: Apache-2.0
// Wear of pads and rotor out of a wear dose: volume per work, hotter, wetter, grittier wears more.          Layer: wear
// Theory: docs/models/wear.md [EQ wear-1..8].                                              Pure functions: any thread.
#pragma once
#include <string>
#include <vector>

#include "base/cases.hpp"
#include "heat/dose.hpp"
#include "parts/bike.hpp"
#include "parts/library.hpp"

namespace bw::wear {

enum class Side { left, right };

//! The wear numbers of one wheel in one case. Meaning: docs/formats.md (PRIORS).
struct WearUnknowns {
    double specific_wear_mm3_MJ = 0;   //!< pad volume per MJ of that pad's own work, cold, dry, bedded in
    double rotor_wear_mm3_MJ = 0;      //!< rotor volume, both faces together, per MJ of the wheel's work
    double threshold_degC = 230;
    double growth = 0;                 //!< wear x (1 + growth ((T - threshold)/100 K)^2) above the threshold
    double wet_factor = 1;
    double grit_factor = 1;
    double rotor_exponent = 1;         //!< of the wet and grit factors, for the rotor
    double bedding = 0;                //!< wear x (1 + bedding exp(-work of this pad/bedding_MJ))
    double bedding_MJ = 1;
    double left_right = 0;             //!< left pad does half the wheel's work x (1 + this), right x (1 - this); -0.9..0.9
    double rubbing_N = 0;              //!< brushing of released pads, as a force at the tyre
    double ride_log_sd = 0;            //!< scatter of wear between like rides
    double ride_z = 0;                 //!< where this case's future rides lie in that scatter, standard normal
    double new_friction_mm = 0;        //!< friction thickness of a new pad
    double pad_limit_mm = 0;           //!< limit where the maker's is not known
    double rotor_limit_thin_mm = 0;    //!< common practice for rotors below rotor_thick_from_mm, and for thicker ones
    double rotor_limit_thick_mm = 0;
    double rotor_thick_from_mm = 0;
    double longest_km = 0;             //!< cap of every life
};

//! Unknown wear inputs of both wheels, with their spread, to be drawn with the likely cases. Keys "front.wear.wet", ...
std::vector<Input> inputs(const parts::Library&, const parts::Bike&);

//! The wear numbers of one wheel in one case; the row must hold the columns of inputs().
WearUnknowns unknowns_of(const parts::Library&, const parts::Bike&, parts::End, const CaseRow&);
//! The same at the medians, for a single plain answer and for tests.
WearUnknowns median_unknowns(const parts::Library&, const parts::Bike&, parts::End);

//! Work of a dose, each part weighted by how much its temperature adds to wear [J]. Within a bin the factor is the chord
//! between the bin's edges, taken at the bin's mean temperature: linear in the dose, continuous, never less when hotter;
//! above the law's curve by at most growth x 0.0625 in a bin of 50 K.  Source: [EQ wear-2]
double hot_work_J(const heat::WearDose&, double threshold_degC, double growth);

//! Wear factor of wet and grit for a share of the ride that was so; linear in each share.  Source: [EQ wear-3]
double weather_factor(double share, double factor);

//! Volume that one bedded-in pad loses to one ride [mm3]; linear in energies, energy x temperature sums and distance
//! for like weather; slightly negative if the dose is.  Source: [EQ wear-1..4]
double pad_volume_mm3(const heat::WearDose&, const WearUnknowns&, Side);
//! What bedding-in adds while a pad's own work goes from one value to another [mm3]; 0 <= from <= to.  Source: [EQ wear-5]
double bedding_volume_mm3(double from_work_MJ, double to_work_MJ, const WearUnknowns&);
//! Volume that the rotor loses to one ride, both faces together [mm3].  Source: [EQ wear-6]
double rotor_volume_mm3(const heat::WearDose&, const WearUnknowns&);

//! Friction thickness lost [mm] = volume / friction area.  Source: [EQ wear-7]
double pad_loss_mm(double volume_mm3, double area_mm2);
//! Metal area of one face that the pads sweep [mm2], holes taken off.  Source: [EQ wear-8]
double solid_swept_area_mm2(const parts::Rotor& case_rotor);
//! Total thickness lost [mm] = volume of both faces / solid swept area of one.  Source: [EQ wear-8]
double rotor_loss_mm(double volume_mm3, const parts::Rotor& case_rotor);

//! Specific wear per sliding work from wear per force and way: k [mm3/Nm], friction -> [mm3/MJ].  Source: [EQ wear-1]
double wear_per_MJ(double wear_mm3_Nm, double friction);

}  // namespace bw::wear
