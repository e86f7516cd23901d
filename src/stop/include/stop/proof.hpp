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

enum class WayMeasured { taped, paced, timed, recorded };
std::string_view word_of(WayMeasured);
std::optional<WayMeasured> way_measured_of(std::string_view word);

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
    std::optional<WayMeasured> way = {};           //!< absent: paced if all ways of the day are whole and half metres
    std::optional<double> from_sd_mps = {}, distance_sd_m = {};   //!< standard uncertainty of this stop alone, in place of the usual one
};

//! STOPS.csv: date,stop,wheel,from_mps,distance_m[,time_s][,lever_force_N],surface,grade[,way][,from_sd_mps][,distance_sd_m]. Columns by name, any order.
//! Fails with bad_input, naming file, line, column and what was expected.
Result<std::vector<ProofStop>> read_proof_stops(std::string_view csv_text, const std::string& name);

//! How well a person knows the readings of a proof stop: one standard deviation each (data rows proof.*). `_kept` is the
//! same in all stops of this person and tool, `_day` in those of a day, `_stop` its own in each.
struct ProofTerms {
    double take_up_s = 0, take_up_kept = 0, take_up_stop = 0;   //!< lever from rest to bite in a planned stop; shares of it
    double rise_s = 0, rise_kept = 0, rise_stop = 0;            //!< force from bite to its full value; shares of it
    double speed_kept = 0, speed_stop_mps = 0;                  //!< share; m/s
    double mark_kept_s = 0, mark_stop_s = 0;                    //!< lever moved before or after the mark
    double tape_stop_m = 0;
    double recorder_kept_s = 0, recorded_stop_m = 0;            //!< recordings: smear in time, a way as long as the speed makes of it; a way whose own error is not told
    double pace_kept = 0, pace_stop = 0;                        //!< shares, of distances that are paced
    double clock_kept_s = 0, clock_stop_s = 0;
    double scale_kept = 0, scale_day = 0, scale_stop = 0;       //!< shares; day: another scale now and then
    double place_day = 0;                                       //!< share: where on the lever the scale pulls
    double grade_kept = 0, grade_day = 0;
    double wind_day_mps = 0, wind_stop_mps = 0;
    double drag_kept = 0;                                       //!< share, of air drag and rolling together
    double friction_day = 0, friction_stop = 0;                 //!< log standard deviations of the brake itself
    double new_pads = 0;                                        //!< the same of the first stops ever told: pads may be unbedded
    double new_pads_mean = 0, first_of_day = 0;                 //!< what the first stop ever told, and the first of a day, lack on average, logarithmic
    double other_kept = 0;                                      //!< log standard deviation of what is not listed: a pull that sways, friction that changes on the way
    double unsound_share = 0, unsound = 1, unsound_sd = 0;      //!< brakes with oil, glaze, air: how many, factor on the gain, its log standard deviation
};
ProofTerms proof_terms(const parts::Library&);

//! What slows the bike besides the brake in a proof stop, and the lever of the brake that is proved.
struct ProofBike {
    double mass_kg = 1;              //!< that braking slows, wheels' inertia included
    double air_kg_m = 0;             //!< air drag / (air speed)^2
    double rolling_mps2 = 0;         //!< deceleration by rolling
    double threshold_N = 0, threshold_sd_N = 0;   //!< lever force before the pads clamp
    parts::Lever lever{};            //!< matters where its ratio changes along its travel
    double travel_mm = 0, travel_sd_mm = 0;       //!< its give at 100 N
};
//! threshold and travel of the likely cases, of this wheel: [n] each.
ProofBike proof_bike(const parts::Bike&, parts::End, std::span<const double> threshold_N, std::span<const double> travel_mm);

//! Brake's deceleration (tyre forces / mass) at full force [m/s^2] that explains the way of the stop; nothing if none of
//! 0.05 to 30 m/s^2 does. With a time, proof_braking_by_time_mps2 is a second reading of the same. [EQ stop-21]
std::optional<double> proof_braking_mps2(const ProofStop&, const ProofTerms&, const ProofBike&);
std::optional<double> proof_braking_by_time_mps2(const ProofStop&, const ProofTerms&, const ProofBike&);

//! Deceleration at which the gain of a wheel is stated [m/s^2]: about its part in an ordinary stop. The spring takes the
//! first newtons of a pull, so the gain is a little lower at a lighter one.
double proof_reference_mps2(parts::End);
//! Gain at the reference [m/s^2 per N] of a brake that gives braking_mps2 at lever_N. Of the bike its spring and its lever count.
double proof_gain_at_reference(parts::End, double braking_mps2, double lever_N, const ProofBike&);
//! Gain of one case at the reference: deceleration / lever force, cold dry bedded pads. 0 without friction.
double proof_expected_gain(const parts::Bike& case_bike, parts::End, const StopUnknowns&);

//! One stop as a row of a drawing.
struct ProofRow {
    long day = 0;
    std::string stop;
    double from_mps = 0, distance_m = 0;   //!< as told
    double braking_mps2 = 0;
    std::optional<double> gain;      //!< at the reference; nothing without a lever force
    bool used = false;               //!< in the gain or the history
};
//! Gain of one brake: deceleration per newton at the finger, [m/s^2 per N], at the reference.
struct ProofGain {
    int stops = 0;                    //!< with a lever force, of the newest day that has one
    int left_out = 0;                 //!< of that day and since: wet, without a lever force, with both brakes, or not to be explained
    bool measured = false;            //!< a lever force was read: the gain rests on the stops
    std::optional<Interval> gain;     //!< prior and stops together. Not measured: likely cases whose hand could do the stops;
                                      //!< nothing without any dry stop
    double stops_log = 0, stops_log_sd = 0;   //!< the stops alone: logarithm of the gain, and how well they know it
    Interval expected;                //!< from the likely cases, before the stops
    int history_stops = 0;            //!< of the earlier days it is held against: no alarm stood on them
    std::optional<Interval> change;   //!< gain now / gain of the earlier days
    std::optional<Interval> trend;    //!< factor of the gain from one stop to the next, newest day, four stops or more: bedding-in
    bool alarm = false;
    std::optional<long> fell_on;      //!< day of the newest alarm that was raised, whether it stands or not
    std::optional<long> found_again_on;   //!< newest day that cleared it, or that was no more than a fifth below since then
    std::string text;                 //!< why the alarm, or why there can be none
    std::vector<ProofRow> rows;       //!< of this wheel, in the order told
};
//! What the likely cases say of one brake, each [n], no n = 0.
struct ProofPrior {
    std::span<const double> gain;     //!< proof_expected_gain
    std::span<const double> hand_N;   //!< what the hand has at this lever
};
//! Stops of one wheel on a dry brake (wet ones are counted and left out). The newest day with a lever force is the proof,
//! earlier days are the history. alarm: against history the gain fell by more than a fifth, and by more than chance explains
//! (one-sided 3 %). A day with an alarm is no history; the alarm stands until a day with three stops or more is no more than
//! a fifth below. No history, no alarm: then `text` says so. [EQ stop-22] [EQ stop-23]
ProofGain proof_gain(std::span<const ProofStop> stops, parts::End wheel, const ProofTerms&, const ProofBike&, const ProofPrior&);

}  // namespace bw::stop
