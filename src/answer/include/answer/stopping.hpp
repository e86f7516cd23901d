// SPDX-License-Identifier: Apache-2.0
// `stop`: from the hand on the lever to metres of road, for one bike as asked.                           Layer: answer
#pragma once
#include "answer/answer.hpp"
#include "stop/alike.hpp"
#include "stop/feel.hpp"
#include "stop/proof.hpp"
#include "stop/recorded.hpp"
#include "wear/described.hpp"

namespace bw::answer {

struct StopQuestion {
    parts::Bike bike;
    double from_mps = 25 / 3.6;
    stop::Surface surface = stop::Surface::dry;
    std::optional<double> grip;            //!< of the tyres, in place of the surface's
    double grade = 0;                      //!< negative: downhill
    std::optional<double> pads_at_degC;    //!< absent: cold
    std::optional<stop::Brakes> brakes;    //!< absent: both, front alone, rear alone
    stop::HandState hand_state = stop::HandState::warm;
    std::optional<stop::Fingers> fingers;  //!< on the lever; absent: two or three
    double room_m = 15;                    //!< for the top speed
    double weight_back_m = 0, weight_low_m = 0;   //!< how far the rider's body goes back and down for these stops: 0..0.4, 0..0.3
    wear::Terrain terrain = wear::Terrain::hilly;   //!< in which the brake wears
    bool terrain_told = false;
    bool gritty = false;                   //!< every kilometre wet and gritty
    struct OwnWear {
        Interval left_mm_km, right_mm_km;  //!< what a kilometre takes off either pad, by this bike's own rides and readings
    };
    std::array<std::optional<OwnWear>, 2> own_wear;   //!< [wheel] in place of the terrain's
    std::optional<double> own_ride_km;     //!< mean of its rides
    std::optional<LearnedShare> learned;   //!< the front share as its pads and rotors tell it
    std::vector<stop::ProofStop> proof;
    std::size_t cases = 1024;              //!< a power of two, 64..65536
};

//! The chain from finger to tyre of one wheel, in the middle case, at the squeeze of the first stop.
struct WheelChain {
    double lever_N = 0;
    std::vector<stop::ChainStage> stages;
};

//! One lever for this hand, and what wear, heat and rough ground do to it.
struct LeverFeel {
    Interval strongest_mm, strongest_N, at_bite_N;   //!< lever to bar where this hand pulls hardest; its force there; its force at the bite
    stop::BitePlace place = stop::BitePlace::in_window;
    bool full_place_near = false;                    //!< at an ordinary stop's squeeze less than 8 mm are left
    std::vector<stop::Adjustment> adjustments;
    Interval knocked_back_mm;                        //!< lever travel lost once after rough ground
    Interval gap_travel_mm;                          //!< lever travel that the pads' gap takes each time: seals roll back, springs push
    Interval run_out_mm_mm;                          //!< lever travel for each mm of total run-out of the rotor
    struct Window {
        Interval force_03g_N, force_lock_N;          //!< lever force for 0.3 g with this brake alone; at lock or lift on that road
    };
    Window dry, wet;                                 //!< what there is to control between
    std::optional<Interval> first_wet_bite, turns_to_dry, metres_to_dry;   //!< wet surface: friction of a soaked brake over dry; light braking until within 5 % of dry
    double gap_mm = 0;
    std::optional<Interval> warming_that_takes_gap_dK;   //!< of fluid that cannot flow back; absent: no fluid
    bool follows_wear = true;                        //!< false: the rest is filled
    std::optional<Interval> mm_per_km, km_in_window, km_to_bar, km_per_turn;
    bool by_own_rides = false;                       //!< those are by this bike's own rides and readings
    double ride_km = 0;                              //!< of the rides that kilometres are divided by
};
//! Holding the speed on this slope, as long as it lasts.
struct HoldAnswer {
    Interval lever_N, held_N, hand_share, minutes;   //!< forces and share: infinite where a point is a case that cannot
    double cannot_share = 0;                         //!< cases in which hand, brake or tyres do not hold it; 0 minutes
};
//! The fastest from which at least 95 % of the cases stop.
struct TopSpeed {
    static constexpr double most_mps = 25;
    stop::Brakes brakes = stop::Brakes::both;
    double within_room_mps = 0;      //!< 0: never
    double at_all_mps = 0;           //!< the brake warms as it brakes; most_mps: at least that
    std::string limited_by;          //!< of at_all: heat (rotor past what is known), fade, does_not_stop, none
};
//! Slowings with one brake alone until the rotor ends them in the window of bedding-in.
struct BeddingPlan {
    static constexpr std::size_t most_cases = 64;
    std::size_t cases = 0;           //!< that the intervals rest on, drawn by weight: their ends are of so many cases, no more
    double from_mps = 0, to_mps = 0, least_degC = 0, most_degC = 0;
    int rest_s = 0, most_stops = 0;
    Interval stops_to_window, last_peak_degC;
    bool reached = false;            //!< within most_stops in 95 % of the cases
    bool stays_under = false;        //!< most_degC, in 95 % of the cases
};

//! What proof stops measured, as a standard's machine test would write it down.
struct AtStandard {
    double recorded_N = 0, lever_N = 0;              //!< braking force at the tyre and squeeze, at the gain's reference
    Interval corrected_N;                            //!< at the standard's lever force, in proportion [EQ stop-15]; laden as a standard's bike [EQ stop-16]
};

//! Front against rear on this road: the best sharing, what each way of braking can reach, and both levers pulled alike.
struct Balance {
    struct Tyres {
        double front_N = 0, rear_N = 0, deceleration_mps2 = 0;
    };
    // The middle case. Forces at the tyres.
    double weight_N = 0;                              //!< square to the road, on the bike's wheels
    std::vector<Tyres> best;                          //!< both tyres use the same part of their grip, nought to rear lift
    std::vector<stop::AlikeEnd> alike;                //!< both levers pulled alike, nought to where that ends
    std::array<Tyres, 2> front_locks{}, rear_skids{};   //!< two points each of a straight line in front_N, rear_N
    double rear_lifts_N = 0;                          //!< sum of both at which the rear wheel lifts
    // All cases [m/s^2]: what grip, lift and hand allow, without the cap of skill.
    Interval grip, best_mps2, front_alone_mps2, rear_alone_mps2, rear_lift_mps2, alike_mps2, alike_lever_N;
    std::array<double, stop::limit_count> alike_by{};   //!< [LimitedBy] share of the cases in which that ends it
};

struct StopReport {
    std::uint64_t seed = 1;
    std::size_t cases = 0;
    StopQuestion question;
    inspect::Verdict verdict;                        //!< of the bike as described, and of the stops asked about
    std::vector<stop::StopAnswer> stops;
    std::vector<std::optional<Interval>> expert_room_m;   //!< [stops] room of such an expert, with this reaction; absent: does not stop
    std::vector<Interval> expert_mps2;               //!< [stops] deceleration up to what grip, lift and brake allow, without the cap of skill
    std::array<stop::LeverAnswer, 2> levers;
    std::array<WheelChain, 2> chains;
    std::array<std::optional<stop::ProofGain>, 2> gain;   //!< absent: no stop of that wheel was told
    std::array<LeverFeel, 2> feel;
    std::array<BeddingPlan, 2> bedding;
    std::optional<HoldAnswer> hold;                  //!< absent: nothing to hold on this grade
    std::vector<TopSpeed> top_speed;                 //!< both, front, rear
    Balance balance;
    std::array<std::optional<AtStandard>, 2> at_standard;   //!< absent: not measured
    std::array<std::array<double, 2>, 2> half_way_mm{};     //!< [wheel] middle case, lever to bar at half of the chain's squeeze: on the way in, on the way back
    std::array<double, 2> release_N{};               //!< middle case: to this the finger may go back before the chain's tyre force falls
    bool scaled = false;                             //!< fewer than 200 cases count by the proof stops: friction was brought to them
    bool weighed = false;                            //!< the cases were weighed by the proof stops
    double effective_cases = 0;                      //!< that many count, then
    std::optional<ShareWeighed> share;               //!< stops and levers were weighed by the learned front share
    std::vector<Yardstick> yardsticks;
    std::vector<stop::RecordedStop> recorded;        //!< halts of a recording that was looked through for proof stops
    std::string recorded_file;
    std::vector<std::string> cautions;
};

//! Fails with out_of_domain on a speed, grip or grade out of range, with cancelled.
Result<StopReport> stop_report(const Context&, const parts::Library&, const StopQuestion&);

//! The verdict of the papers stands before what the report found: its reasons come first.
void hold_back(StopReport&, const inspect::Verdict& of_papers);

//! Schema stop/1 (docs/schema/stop-1.json). With do_not_ride distances, levers and yardsticks are null or empty.
std::string json_of(const StopReport&, const std::string& version);
std::string text_of(const StopReport&);

}  // namespace bw::answer
