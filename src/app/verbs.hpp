// SPDX-License-Identifier: Apache-2.0
// The verbs of the command line.                                                                         Layer: app
#pragma once
#include <optional>
#include <string>
#include <vector>

#include "answer/answer.hpp"
#include "console.hpp"

namespace bw::app {

struct AnswerOptions {
    Common common;
    std::string bike;
    std::vector<std::string> rides;
    std::string papers, bike_name, since;   //!< with papers: `bike` and `rides` are planned routes
    std::string series_dir, summary, report, tags, altitude, surface, weather, today, style;
    std::optional<double> wind_mps, wind_from_deg, air_degC, load_kg;
    std::size_t cases = 1024;
    bool ask = false, verdict_status = false;
};
int run_answer(const AnswerOptions&);
Result<parts::Bike> bike_in(const std::string& path, const parts::Library&);
//! Cases, altitude, day, rides and their tags; bikes: the names whose described rides count. Notes go to standard error.
Status read_request(answer::Request&, const AnswerOptions&, const std::vector<std::string>& bikes);

//! Options as of `answer`; `bike` is A.
struct WeighOptions {
    AnswerOptions common;
    std::string other;
};
int run_weigh(const WeighOptions&);
int run_answer_from_papers(const AnswerOptions&);

struct OpenOptions {
    Common common;
    std::string papers, listen, today;
    std::optional<double> patience_s;   //!< with a client that is slow
};
int run_open(const OpenOptions&);

struct HeatOptions {
    Common common;
    std::string brake, power, series, measured, wheel = "front";
    std::optional<std::size_t> cases;   //!< not told: 1024 of a bike, 1 of the reference form
    std::optional<double> altitude_m;   //!< of the road; of a bike only
    bool wet = false, verdict_status = false;
};
int run_heat(const HeatOptions&);

struct HeatFiguresOptions {
    Common common;
    std::string folder;
    std::size_t cases = 64;
};
int run_heat_figures(const HeatFiguresOptions&);

struct LifeOptions {
    Common common;
    std::string bike, rides, readings, fitted, compounds, tasks, out;
    std::string papers, bike_name, today, since;
    std::vector<std::string> ways;   //!< planned routes: riding to come is nothing but these
    std::optional<long> as_of;
    bool prior_alone = false, verdict_status = false;
};
int run_life(const LifeOptions&);
int run_life_from_papers(const LifeOptions&);
int run_life_figures(const HeatFiguresOptions&);

struct StopOptions {
    Common common;
    std::string bike, from, surface, grade, pads_at, brakes, proof, hand, hand_is, fingers, room, terrain, papers, today, weight_back, weight_low, from_ride, proof_brake, proof_stops, proof_force, proof_surface, proof_day;   //!< with papers: bike is its name there
    bool gritty = false;
    std::optional<double> grip;
    std::size_t cases = 1024;
    bool verdict_status = false;
};
int run_stop(const StopOptions&);
struct StopFiguresOptions {
    Common common;
    std::string folder;
    std::size_t cases = 256;
};
int run_stop_figures(const StopFiguresOptions&);

//! The answers to the six questions; 0 or empty: not known.
struct SixTold {
    std::string kind, compound, terrain;
    double total_mass_kg = 0, rotor_diameter_mm = 0, pad_total_mm = 0;
};
struct SixAnswers {
    parts::Bike bike;
    wear::Terrain terrain;
    std::string toml;   //!< the same as a description
};
//! Fails with bad_input: an answer that cannot be.
Result<SixAnswers> six_of(const parts::Library&, const SixTold&, const std::string& name);
//! Asked on standard error and answered on standard input; an empty line: not known.
Result<SixAnswers> ask_six(const parts::Library&);

}  // namespace bw::app
