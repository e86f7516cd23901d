// SPDX-License-Identifier: Apache-2.0
// One bike, its rides, what is known of it -> the answers: will it stop, how hot, how much riding is left.  Layer: answer
#pragma once
#include <array>
#include <optional>
#include <string>
#include <vector>

#include "answer/life.hpp"
#include "base/cases.hpp"
#include "base/context.hpp"
#include "base/interval.hpp"
#include "base/result.hpp"
#include "inspect/verdict.hpp"
#include "parts/bike.hpp"
#include "parts/library.hpp"
#include "ride/did.hpp"
#include "ride/motion.hpp"
#include "ride/plan.hpp"
#include "ride/route.hpp"
#include "ride/track.hpp"
#include "stop/stop.hpp"
#include "wear/described.hpp"

namespace bw::answer {

inline constexpr std::size_t anchor_cases = 64;   //!< K: cases whose motion and heat are computed ride by ride

enum class Weather { dry, damp, wet, gritty };

//! What somebody says of a ride; absent = not told.
struct RideTags {
    std::optional<stop::Surface> surface;
    std::optional<Weather> weather;
    std::optional<double> wind_mps;   //!< without wind_from_deg: head wind along the way, as a mean; negative: from behind. With it: the wind's speed as a weather report has it, 10 m above open ground, >= 0
    std::optional<double> air_degC;
    std::optional<double> load_kg;    //!< in place of the bike's own load
    std::optional<double> wind_from_deg = {};   //!< where the wind comes from, clockwise from true north, 0 <= x < 360
};
//! A direction of 360 becomes 0. Fails with bad_input, `where` in front, if a direction stands without a speed, lies outside 0..360,
//! or with a negative speed.
Status settle_wind(const std::string& where, RideTags&);
//! What nobody told of the wind of this ride is that of all: speed and direction go together, since wind_mps means another thing without the direction.
void fill_wind(RideTags&, const RideTags& all);
//! Mean head wind along the way, where one was told; 0 else.
double head_wind_mps(const RideTags&);

struct RideInput {
    ride::Track track;
    RideTags tags;
};

//! A way that somebody means to ride.
struct PlannedInput {
    ride::Route route;
    RideTags tags;
    std::optional<ride::Style> style;   //!< absent: dragging
};

//! A ride that nobody recorded, as somebody wrote it down.
struct DescribedRow {
    std::string where;                  //!< file:line, for messages
    std::string bike;                   //!< as the row says; empty: not told
    std::optional<long> day;            //!< since 1970-01-01
    double distance_m = 0;
    std::optional<double> descent_m, stops_per_km;
    RideTags tags;
};

//! Temperatures in the papers that were read at a moment of a recorded ride.
struct ReadTemperatures {
    struct Tied {
        std::size_t ride = 0;            //!< of the request's recorded ones
        bool front = true;
        std::string words;               //!< "The front caliper's 96 °C of 2026-05-12"
    };
    std::vector<Tied> tied;              //!< those that weigh
    std::vector<double> misfit;          //!< [anchor_cases] -2 ln likelihood of all of them, up to a constant; empty: none weighs
    std::vector<std::string> idle;       //!< a sentence for each that weighs nothing: why, and what would make it count
};

//! What the papers add to a description (from_papers.hpp).
struct PapersSay {
    std::vector<inspect::Check> checks;              //!< in place of those that a description answers
    //! [front, rear][ride], recorded, then planned, then described: 1 if it wore the pads (the rotor) after they were read.
    std::array<std::vector<std::uint8_t>, 2> wore_pads, wore_rotor;
    std::optional<ReadTemperatures> temperatures = {};
    std::optional<LearnSay> learn;                   //!< life is learned from readings; absent: it is that of the likely cases
};

struct Request {
    parts::Bike bike;
    std::vector<RideInput> rides;
    std::vector<PlannedInput> planned;
    std::vector<DescribedRow> described;
    std::optional<wear::Terrain> terrain;        //!< with no rides: the six questions
    std::size_t cases = 1024;                    //!< a power of two, 64..65536
    std::optional<ride::AltitudeSource> altitude;
    std::optional<long> today;                   //!< days since 1970-01-01; default: the day of the last ride
    std::optional<long> latest_day;              //!< no ride can be dated after it; default: none is known (this room reads no clock)
    std::size_t rows_of_other_bikes = 0;         //!< described rides that were left out, for the sentence when none is left
    bool keep_series = false;
    double stop_grade = 0;                       //!< of the stops, rise over run
    std::optional<PapersSay> papers;
};

//! What water did to a brake on a ride told as damp, wet or gritty, or on a wet surface.
struct WaterAnswer {
    Interval least_friction;       //!< smallest friction under water over that of the dry pair, while braking
    Interval lever_force_factor;   //!< largest squeeze for the braking that was done over that of the same brake cold and dry, while it was wet
    double wet_work_share = 0;     //!< share of the braking energy made while friction was more than 5 % under dry
    Interval drying_J;             //!< heat that evaporating water took from the rotor
    Interval turns_to_dry, metres_to_dry;   //!< from soaked to within 5 % of dry, lightly braked, once no more water comes
};

//! Peaks that a verdict rests on, for its words: those that are shown, but on a wet ride taken as dry where that is hotter.
struct JudgedPeaks {
    Interval rotor_peak_degC, hottest_ring_degC, core_degC, pad_face_degC, fluid_degC;
};

//! Peaks are with the water of a wet ride; probabilities and gap_taken_mm take it as dry where that is worse (docs/decisions/0007).
struct WheelHeatAnswer {
    double gap_taken_mm = 0;             //!< 95 % point of what the fluid's expansion moves each pad if it cannot flow back
    Interval brake_energy_J, rotor_peak_degC, rotor_hottest_ring_degC, pad_face_peak_degC, fluid_peak_degC, fluid_peak_at_s;
    std::optional<Interval> rotor_under_pad_peak_degC;   //!< hottest ring where it leaves the pad; absent: a rotor with an aluminium core
    Interval lever_force_factor;
    //! Lever force of the hardest ten seconds of braking, as a mean over them, with heat and water; the same braking with a cold, dry brake.
    Interval hold_lever_force_N, hold_lever_force_cold_N;
    double hold_outside_measured_probability = 0;        //!< in them more than 400 W at the wheel, or a pad above 277 °C
    std::optional<double> fluid_boil_probability;   //!< absent: the fluid's point is not known, or there is no fluid
    std::optional<Interval> fluid_point_degC;       //!< at the height where the fluid comes nearest to it
    bool has_fluid = false, fluid_told = false;     //!< fluid_told: which fluid it is stands in the description
    double fade_probability = 0;
    double hot_stop_beyond_hand_probability = 0;   //!< at its hottest this wheel's part of an ordinary stop needs more than this hand has, and cold it does not
    //! Rotors with an aluminium core alone: peak of the core in the hottest ring, and the chances that it passed where the alloy softens and begins to melt.
    std::optional<Interval> core_peak_degC;
    std::optional<double> core_soft_probability, core_melt_probability;
    JudgedPeaks judged;
    std::optional<WaterAnswer> water;    //!< absent: a dry ride, or nobody said
    double above_measured_power_share = 0;   //!< share of the braking energy made at more power than the friction source measured (400 W)
    double outside_measured_share = 0;   //!< share of the braking energy made at pad temperatures beyond the friction source's range
};

//! One row a second of `--series`.
struct Series {
    std::vector<double> distance_m, altitude_m, speed_mps, gradient, power_W, power_p05_W, power_p95_W;
    std::vector<std::uint8_t> bridged;
    //! [front, rear]: medians over the anchor cases
    std::array<std::vector<double>, 2> wheel_power_W, rotor_degC, pad_face_degC, fluid_degC;
    //! [front, rear]: 5 and 95 % over the anchor cases, second by second; of a planned route, over the cases at the same place
    std::array<std::vector<double>, 2> rotor_p05_degC, rotor_p95_degC, fluid_p05_degC, fluid_p95_degC;
    std::array<std::vector<double>, 2> wet_friction;   //!< [front, rear]: friction under water over that of the dry pair, median; 1 on a dry ride
};

struct Account {
    double height_J = 0, motion_J = 0, rider_J = 0, air_J = 0, rolling_J = 0, brakes_J = 0, unexplained_J = 0;
};

//! Where the brake energy went [J]; sums to the brakes' part of the account.
struct Braking {
    double front_J = 0, rear_J = 0;   //!< into the rotors
    double skid_J = 0;                //!< into the rear tyre and the road
    double motor_J = 0, trailer_J = 0;   //!< taken back; the trailer's own brake
};

//! Drag area and rolling resistance as a recorded ride leaves them, over the anchor cases, and the spread (sd of the logarithm) over that
//! before it: 1 if it told nothing, NaN where nothing was open.   [EQ motion-15]
struct ParametersAfter {
    Interval drag_area_m2, rolling_resistance;
    double drag_area_spread = 1, rolling_resistance_spread = 1;
};

struct RideAnswer {
    std::string file;
    std::optional<double> start_unix_s;
    bool date_left_aside = false;                   //!< the date cannot be right, or lies years from the others: no look-by date rests on it
    bool planned = false;
    std::optional<ride::Style> style;               //!< of a planned route
    bool style_told = true;
    bool described = false;                         //!< ridden, but told in figures only: no duration, no track
    double duration_s = 0, distance_m = 0, ascent_m = 0, descent_m = 0;
    ride::AltitudeSource altitude_source = ride::AltitudeSource::none;
    std::optional<ParametersAfter> narrowed;        //!< of a recorded ride with altitude
    Account account;
    Interval brake_energy_J;
    Braking braking;                                //!< means over the anchor cases
    ride::BrakesDid did;                            //!< empty for a descent in words
    std::vector<ride::Application> applications;
    std::array<WheelHeatAnswer, 2> wheels;          //!< front, rear
    std::vector<double> power_by_descent_W;         //!< mean brake power in 48 equal steps of metres descended, for the drawing
    std::vector<ride::Fault> faults;
    std::string heat_withheld;                      //!< why energies, temperatures and what follows are not given; empty: they are
    bool misfit = false;                            //!< the recording and this bike's mass, drag and rolling do not fit each other
    int halts = 0;                                  //!< times it came to a stand
    double head_wind_mps = 0;                       //!< of the told wind as it counted, mean along the way and over the cases; 0: nobody told, or left aside
    double wet_share = 0, grit_share = 0;           //!< means over the cases
    std::array<Interval, 2> wheel_energy_J;
    std::array<double, 2> wheel_energy_mean_J{}, wheel_energy_sd_J{}, pad_mean_degC{};   //!< pad: energy-weighted mean
    Series series;                                  //!< empty unless asked for
};

struct LifeSpan {
    Interval remaining_km, remaining_rides;
    std::optional<Interval> remaining_descent_m;    //!< absent: the rides do not descend
    double look_by_km = 0, look_by_rides = 0;       //!< 0.5 % chance to be past the limit after that riding
    std::optional<long> look_by;                    //!< the same as a day
    bool capped = false;                            //!< the upper end is a cap, not a forecast
    std::string limit_text;                         //!< which limit, from where
};
struct RotorLife {
    Interval remaining_km;
    std::optional<Interval> pad_sets;               //!< absent: nothing wears
    double look_by_km = 0, look_by_rides = 0;
    std::optional<long> look_by;
    bool capped = false;
    std::string limit_text;
};
struct WheelLife {
    std::optional<LifeSpan> pad;                    //!< absent: nothing to forecast from, or held back
    std::optional<RotorLife> rotor;
};

struct Assumption {
    std::string key, unit, source;
    std::optional<double> value, sd;
    std::string text;                               //!< the word, where the value is one
    Grade grade = Grade::assumed;
};

struct Measurement {
    std::string what;                               //!< the key that a reading would fill
    double minutes = 0;
    std::string text;
};

//! This bike beside a standard's figure: never an approval.
struct Yardstick {
    std::string id, text, unit, source;
    double need = 0;
    bool at_most = true;                            //!< have must be at most (or at least) need
    std::optional<Interval> have;                   //!< absent: in more than 5 % of the cases it does not stop
    double met_share = 0;   //!< of the cases of which it is asked; NaN: nothing is asked
    std::string remark;
    Grade grade = Grade::published_from_memory;
};

//! The likely cases weighed by the front share that pads and rotors tell.   [EQ life-13]
struct ShareWeighed {
    Interval before, now, of_cases;                 //!< front share: of the cases alike; as learned; of the cases by weight
    double effective_anchors = 0, effective_cases = 0;
    bool whole = true;                              //!< false: too few cases are like what was learned, so the weights go only part of the way
};

struct Answer {
    std::uint64_t seed = 1;
    std::size_t cases = 0;
    parts::Bike bike;
    inspect::Verdict verdict;
    std::vector<inspect::Check> computed;   //!< reasons of the verdict that come out of the computed stops and temperatures
    std::vector<RideAnswer> rides;
    std::array<WheelLife, 2> life;
    std::optional<LifeReport> learned;              //!< from the papers: what `life` says
    std::vector<std::string> temperatures;          //!< what temperatures in the papers did to the bands, or why nothing
    std::optional<ShareWeighed> share;              //!< absent: all likely cases count alike
    std::vector<stop::StopAnswer> stops;
    std::array<stop::LeverAnswer, 2> levers;
    std::vector<Yardstick> yardsticks;
    std::vector<Assumption> assumed;
    std::string life_withheld;                      //!< why no life is given, if that is not a bike that is held back
    std::optional<Measurement> measure_next;
    std::vector<std::string> cautions;
    std::string few_rides;   //!< that of the cautions which speaks of look-by days (few_rides_words), or empty
    std::optional<long> today;                      //!< what look-by dates count from; absent: no ride has a date and none was told
    double stop_mass_kg = 0;                        //!< median mass of the stops: with the heaviest load told for a ride
    double rides_per_day = 0;
    bool rides_per_day_assumed = false;
    std::string dates_left_aside;                   //!< which dates no look-by rests on, and what to do; empty: none
};

//! Everything at once. Deterministic for ctx.seed, whatever ctx.threads. Fails with bad_input (a ride that nothing can be
//! made of, named), cancelled.
Result<Answer> answer(const Context& ctx, const parts::Library& library, const Request& request);

//! Motion of the request's rides alone, [ride], with the same draws as answer(): what studies and benchmarks of the braking
//! energy call. Fails as answer().
Result<std::vector<ride::MotionPaths>> motion_alone(const Context& ctx, const parts::Library& library, const Request& request);

//! The whole answer as JSON, schema answer/1 (docs/schema/answer-1.json). With do_not_ride distances and lives are null.
std::string json_of(const Answer&, const std::string& version);
std::string share_weighed_words(const ShareWeighed&);
//! The same where only stops and levers are at hand. day: of the forecast that it is from; stops_too: not where proof stops stand alone.
std::string share_weighed_stop_words(const ShareWeighed&, const std::string& day, bool stops_too, bool one_brake);
//! A reason to measure where the likely cases do not reach what was learned.
std::optional<inspect::Check> share_beyond_cases(const ShareWeighed&);
//! For a terminal, at most 80 columns; what matters first.
std::string text_of(const Answer&, const std::string& version);
//! What is to be said beside a ride's temperatures: why boiling is not known, a core that may soften, what lies outside what was measured. A sentence each.
std::vector<std::string> heat_remarks(const RideAnswer&);
//! What the brakes did on a ride, a sentence or two each; empty if they did next to nothing.
std::vector<std::string> did_lines(const RideAnswer&);
//! `--series`: one ride, a row a second.
std::string series_csv(const RideAnswer&);
//! `--summary`: a row a ride.
std::string summary_csv(const Answer&);

//! True if the header of this text is that of described rides (docs/formats.md) rather than of a recorded or planned one.
bool is_described(std::string_view text);
//! Rows of a described-rides CSV that are this bike's. `left_out`: how many rows name another bike.
struct Described {
    std::vector<DescribedRow> rows;
    int left_out = 0;
};
//! name: for messages; bike_name: rows of another bike are left out, rows without one are this bike's. Fails with bad_input
//! (file:line, what was expected) on an unknown column (nearest known one named), a missing distance_m, or a value out of range.
Result<Described> read_described(std::string_view text, const std::string& name, std::string_view bike_name);
//! The same for rows of all bikes.
Result<Described> read_described(std::string_view text, const std::string& name);

std::optional<Weather> weather_of(std::string_view word);
std::optional<wear::Terrain> terrain_of(std::string_view word);

}  // namespace bw::answer
