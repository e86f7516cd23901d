// SPDX-License-Identifier: Apache-2.0
// The rotor resolved along its radius, as a pass over a run that knew only its mean: the hottest ring.    Layer: heat
// Theory: docs/models/heat.md [EQ heat-30].                                             Pure functions: any thread.
#pragma once
#include <span>
#include <vector>

#include "heat/reference.hpp"
#include "heat/unknowns.hpp"

namespace bw::heat {

//! Band of the rotor and the track that the pads rub on it; inner < outer, the track inside the band.
struct RotorBand {
    double inner_m = 0, outer_m = 0;
    double track_inner_m = 0, track_outer_m = 0;
    double pad_length_m = 0;           //!< along the way; 0: not known, so the rise under the pad is not asked
    double wheel_radius_m = 0;         //!< > 0 where there is a pad's length
};
//! Of one wheel: pads 1.5 times as long as high, their outer edge half a millimetre inside the rotor's; of their height the
//! share that carries, about the middle.
RotorBand band_of(const parts::Bike& case_bike, parts::End end, const HeatUnknowns& u);

struct RadialRun {
    double hottest_ring_degC = 0;      //!< largest surface temperature of any ring (mean over a turn)
    double hottest_at_s = 0, hottest_radius_m = 0;
    double largest_spread_K = 0;       //!< hottest less coldest ring, surfaces, at one instant
    std::vector<double> radius_m;      //!< [rings] middles
    std::vector<double> profile_degC;  //!< [rings] surfaces at hottest_at_s
    std::vector<double> ring_rows_degC;   //!< [rows] hottest ring's surface at that time; NaN unless the brake was closed up to it
};

//! rows, states: [n] of one run of solve() or solve_many() with Keep::rows. The heat that entered the rotor is read off its
//! mean; heat comes in over the track evenly, leaves at each ring by its own temperature and to the arms by that of the inner ring.
//! Contact is taken as the run had it: what a hotter ring gives the pad is not fed back.
//! Rows longer than 2 s are cut and the run repeated by solve_many, since what entered within a row is taken as even.
//! Fails with bad_input if band, rows and states do not fit.
Result<RadialRun> along_radius(const ReferenceBrake& brake, const RotorBand& band, std::span<const PowerRow> rows, std::span<const HeatState> states);

}  // namespace bw::heat
