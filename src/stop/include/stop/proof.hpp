// SPDX-License-Identifier: Apache-2.0
// Proof stops: what a few stops from a known speed say about the real brake.                              Layer: stop
// Theory: docs/models/stop.md [EQ stop-21..23].                                        Pure functions: any thread.
#pragma once
#include <optional>
#include <span>
#include <string>
#include <vector>

#include "base/interval.hpp"
#include "base/result.hpp"
#include "stop/stop.hpp"

namespace bw::stop {

//! One recorded stop (INTERFACES: STOPS.csv). The distance runs from the first movement of the lever.
struct ProofStop {
    long day = 0;                          //!< days since 1970-01-01
    std::string stop;                      //!< its name in the file
    Brakes wheel = Brakes::front;
    double from_mps = 0;
    double distance_m = 0;
    std::optional<double> time_s;          //!< from the first movement of the lever
    std::optional<double> lever_force_N;   //!< spring scale at the finger's place
    Surface surface = Surface::dry;
    double grade = 0;
};

//! STOPS.csv: date,stop,wheel,from_mps,distance_m[,time_s][,lever_force_N],surface,grade. Columns by name, any order.
//! Fails with bad_input, naming file, line, column and what was expected.
Result<std::vector<ProofStop>> read_proof_stops(std::string_view csv_text, const std::string& name);

//! What is taken as known about the one who brakes (data rows proof.*, rider.take_up, rider.rise).
struct ProofTerms {
    double take_up_s, rise_s;
    double stop_sd_log;     //!< scatter from stop to stop, to begin with
    double scale_sd_log;    //!< error shared by the stops of one day
};
ProofTerms proof_terms(const parts::Library&);

//! Braking (tyre forces / mass) at full force [m/s^2] that explains the stop, with the rider's take-up and rise. With a
//! time as well, the mean of the two estimates. Nothing if no braking of 0.05 to 30 m/s^2 explains it. [EQ stop-21]
std::optional<double> proof_braking_mps2(const ProofStop&, const ProofTerms&);

//! Gain of one brake: braking per newton at the finger, [m/s^2 per N].
struct ProofGain {
    int stops = 0;                    //!< with a lever force, of the newest day
    int left_out = 0;                 //!< of the newest day: wet, without a lever force, or not to be explained
    std::optional<Interval> gain;     //!< prior and stops together; nothing without a stop with a lever force
    double stops_log = 0, stops_log_sd = 0;   //!< the stops alone: logarithm of the gain, and how well they know it; without a gain: 0
    Interval expected;                //!< from the likely cases, before the stops
    int history_stops = 0;
    bool alarm = false;
    std::string text;                 //!< why the alarm, or why there can be none
};
//! Stops of one wheel with a lever force, on a dry brake (wet ones are counted and left out). The newest day is the proof,
//! earlier days are the history. expected: gains of the likely cases [n] from proof_expected_gain at about the same lever
//! force; weights: [n] or empty. alarm: against history the gain fell by more than a fifth, and by more than chance
//! explains (one-sided 0.5 %). No history, no alarm: then `text` says so. [EQ stop-22] [EQ stop-23]
ProofGain proof_gain(std::span<const ProofStop> stops, parts::End wheel, const ProofTerms&, std::span<const double> expected,
                     std::span<const double> weights);

//! Gain of one case [m/s^2 per N] at a lever force: tyre force / mass / lever force, cold dry pads.
double proof_expected_gain(const parts::Bike& case_bike, parts::End, const StopUnknowns&, double lever_N);

}  // namespace bw::stop
