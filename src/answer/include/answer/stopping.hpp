// SPDX-License-Identifier: Apache-2.0
// `stop`: from the hand on the lever to metres of road, for one bike as asked.                           Layer: answer
#pragma once
#include "answer/answer.hpp"
#include "stop/proof.hpp"

namespace bw::answer {

struct StopQuestion {
    parts::Bike bike;
    double from_mps = 25 / 3.6;
    stop::Surface surface = stop::Surface::dry;
    std::optional<double> grip;            //!< of the tyres, in place of the surface's
    double grade = 0;                      //!< negative: downhill
    std::optional<double> pads_at_degC;    //!< absent: cold
    std::optional<stop::Brakes> brakes;    //!< absent: both, front alone, rear alone
    std::vector<stop::ProofStop> proof;
    std::size_t cases = 1024;              //!< a power of two, 64..65536
};

//! The chain from finger to tyre of one wheel, in the middle case, at the squeeze of the first stop.
struct WheelChain {
    double lever_N = 0;
    std::vector<stop::ChainStage> stages;
};

struct StopReport {
    std::uint64_t seed = 1;
    std::size_t cases = 0;
    StopQuestion question;
    inspect::Verdict verdict;                        //!< of the bike as described, and of the stops asked about
    std::vector<stop::StopAnswer> stops;
    std::vector<Interval> expert_mps2;               //!< [stops] deceleration up to what grip, lift and brake allow, without the cap of skill
    std::array<stop::LeverAnswer, 2> levers;
    std::array<WheelChain, 2> chains;
    std::array<std::optional<stop::ProofGain>, 2> gain;   //!< absent: no stop of that wheel was told
    bool weighed = false;                            //!< the cases were weighed by the proof stops
    double effective_cases = 0;                      //!< that many count, then
    std::vector<Yardstick> yardsticks;
    std::vector<std::string> cautions;
};

//! Fails with out_of_domain on a speed, grip or grade out of range, with cancelled.
Result<StopReport> stop_report(const Context&, const parts::Library&, const StopQuestion&);

//! Schema stop/1 (docs/schema/stop-1.json). With do_not_ride distances, levers and yardsticks are null or empty.
std::string json_of(const StopReport&, const std::string& version);
std::string text_of(const StopReport&);

}  // namespace bw::answer
