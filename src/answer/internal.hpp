// SPDX-License-Identifier: Apache-2.0
// What the files of this room share.                                                                     Layer: answer
#pragma once
#include <array>
#include <functional>
#include <memory>
#include <optional>
#include <span>
#include <vector>

#include "answer/answer.hpp"
#include "balance/balance.hpp"
#include "heat/wheel.hpp"
#include "ride/cover.hpp"
#include "ride/plan.hpp"
#include "stop/unknowns.hpp"
#include "wear/law.hpp"
#include "wear/life.hpp"

namespace bw::answer {

inline constexpr std::array<parts::End, 2> ends = {parts::End::front, parts::End::rear};

//! One likely case, ready for the rooms.
struct Case {
    parts::Bike bike;
    stop::StopUnknowns stop;
    std::array<heat::HeatUnknowns, 2> heat;
    std::array<wear::WearUnknowns, 2> wear;
    double habit = 0.6;                  //!< front share of the braking, before grip
    balance::BalanceUnknowns balance = {};
    double untold_wet = 0, untold_grit = 0;
};

//! Every input that the rooms draw for this request, in a fixed order; what only some bikes have comes last.
std::vector<Input> all_inputs(const parts::Library&, const Request&);
//! The rows of the draws, ready for the rooms.
std::vector<Case> cases_of(const parts::Library&, const parts::Bike&, const Cases& drawn);

//! What one anchor case says of one ride only.
struct RideUnknowns {
    ride::MotionParameters motion;   //!< wind as told (of a direction: as drawn at the rider): what is not known beyond it is a state of the motion
    double wet_share = 0, grit_share = 0;
    double spray_share = 0;          //!< of the way on which water reaches the brakes: 0 unless somebody said that the ride was wet
    double spray_phase = 0;          //!< 0..1: where wet stretches lie
};
//! Which draws of a ride: each has streams (columns) of its own.
enum class RideColumns : std::uint64_t { weather = 0, plan = 1, wind_from = 2, wind_beyond = 3 };
//! Standard normals [anchor_cases], evenly spread (`even_column`); unrelated to any other stream, ride or input of the bike.
std::vector<double> ride_column(std::uint64_t seed, std::uint64_t ride_hash, RideColumns, std::uint64_t stream);
//! [anchor_cases]; recorded_degC: NaN = the recorder felt no air. Pure in ctx.seed, the ride's hash and the cases.
std::vector<RideUnknowns> ride_unknowns(const Context&, const parts::Library&, const RideTags&, std::uint64_t ride_hash, double recorded_degC, std::span<const Case>);
//! Of each component of the wind over the land beyond the drawn one, where it was told with its direction.   [EQ motion-17]
double wind_from_sd_mps(const parts::Library&, const RideTags&);
//! Says of a ride whose paths felt a wind told with its direction what that wind did; nothing of others. The ride's faults keep it.
void say_wind_taken(const RideTags&, ride::MotionPaths&);
//! Whether it was said, or that a told wind was of no use: by the faults, since they are kept with the work.
bool wind_was_taken(const RideAnswer&);
bool wind_counts_as_untold(const RideAnswer&);
//! Head wind of the told wind as the paths felt it, mean along the way; 0 where none was told or it was left aside.
double told_head_wind_mps(const ride::MotionPaths&);
//! Motion of a recorded ride for those unknowns; fails as ride::reconstruct.
Result<ride::MotionPaths> motion_of(const Context&, const parts::Library&, const Request&, const RideInput&, std::span<const RideUnknowns>);
//! Median of the finite values; NaN if there is none.
double median_of(std::vector<double> values);

//! The dose of every ride, per wheel: [ride][wheel][case]; anchor_cases of them, or (described) one for each case.
using Doses = std::vector<std::array<std::vector<heat::WearDose>, 2>>;

struct HeatInput {
    std::span<const heat::PowerRow> rows;
    double air_degC = 15, altitude_m = 0;   //!< altitude: mean, of the air
    std::span<const double> altitude_rows_m = {};   //!< [rows] or fewer (the last holds on): of the boiling point; empty: altitude_m
    double mass_kg = 0;   //!< all that an ordinary stop has to slow
    std::span<const std::uint8_t> wet = {};   //!< [rows] where water reaches the brake; empty: nowhere
};

//! Heat of one wheel in one case, and whether the lever force needed outgrows the hand or 1.5 times its cold value.
struct WheelOutcome {
    heat::WheelHeat heat;
    bool fades = false;
    //! The fluid where it comes nearest to its boiling point, whatever the fluid [EQ heat-43]: its temperature and the height there.
    double nearest_boil_degC = 0, nearest_boil_altitude_m = 0;
    //! Lever force of the hardest ten seconds of braking, as a mean over them, and of the same braking with a cold and dry brake [EQ heat-44].
    double hold_N = 0, hold_cold_N = 0;
    bool hold_outside_measured = false;   //!< in them more than 400 W at the wheel, or a pad above 277 °C
    bool hot_stop_beyond_hand = false;   //!< at its hottest an ordinary stop needs a quarter more squeeze or worse, and more than this hand has; cold it does not
};
//! Peaks that a verdict rests on: of a wet ride the worse of the run with the water and of the run taken as dry (docs/decisions/0007).
struct JudgedHeat {
    double rotor_surface_degC = 0, rotor_hottest_ring_degC = 0, middle_of_ring_degC = 0, pad_face_degC = 0, fluid_degC = 0, lever_force_factor = 1;
};
JudgedHeat judged_heat(const heat::WheelHeat&);
Result<WheelOutcome> heat_of(const Context&, const parts::Library&, const Case&, parts::End, const HeatInput&, heat::Keep keep);

//! Fills intervals, boiling and fading of one wheel from its anchors; cases: all likely cases, case i rides on anchor i % anchors.
//! weights: [anchors] or empty (all alike).
void summarise(WheelHeatAnswer&, const parts::Library&, const parts::Bike&, parts::End, std::span<const Case> cases, std::span<const WheelOutcome> anchors,
               std::span<const double> weights = {});

//! Whether this wheel's fluid boils in a case on such an outcome; nothing: there is none, or nobody published its point.
std::optional<bool> boils(const Case&, parts::End, const WheelOutcome&);

//! Says in r that energies, temperatures and life cannot be given where the altitude covers less than altitude.least_share of
//! the ride (docs/decisions/0011): a road reckoned level brakes next to nothing, and that is the comfortable side.
void withhold_without_altitude(RideAnswer& r, const parts::Library&, const ride::AltitudeCover&, bool left_aside);
//! The fault of a ride whose altitude was not to be used.
ride::Fault altitude_left_aside(double seconds);

//! What computing one ride gives: its answer but for the wheels' summaries, and the heat of every anchor. Rests on the bike as it
//! was ridden; a later reading leaves it as it is.
struct RideWork {
    RideAnswer ride;
    std::array<std::vector<WheelOutcome>, 2> outcomes;   //!< [anchor_cases]
};
//! One recorded ride. Fails as ride::reconstruct, naming the file.
Result<RideWork> ride_work(const Context&, const parts::Library&, const Request&, const RideInput&, std::span<const Case>, double share_from, double share_to);
//! The same for motion at hand, recorded or planned; known: what is known of the ride beforehand (file, date, planned, style).
Result<RideWork> work_of_paths(const Context&, const parts::Library&, const Request&, const ride::MotionPaths&, std::span<const RideUnknowns>, const RideTags&, RideAnswer known,
                               std::span<const Case>, double share_from, double share_to);
//! The ride's answer for these likely cases; doses: appended.
RideAnswer answer_of_work(RideWork, const parts::Library&, const parts::Bike&, std::span<const Case>, Doses& doses);

//! Inputs of the likely cases that a planned ride needs: the rider's habits, keys "plan.top_mps", ...
std::vector<Input> plan_inputs(const parts::Library&, const parts::Bike&);
//! Motion of one planned route for the anchor cases; unknowns: written. Fails as ride::plan.
Result<ride::MotionPaths> planned_motion(const Context&, const parts::Library&, const Request&, const PlannedInput&, const Cases&, std::span<const Case>, std::vector<RideUnknowns>& unknowns);
//! One planned route, planned = true. Fails as ride::plan, naming the file.
Result<RideWork> planned_work(const Context&, const parts::Library&, const Request&, const PlannedInput&, const Cases&, std::span<const Case>, double share_from, double share_to);
//! Applications of the path in the middle: those of the mean over paths would be smeared.
std::vector<ride::Application> planned_applications(const ride::MotionPaths&);
//! Peak grip of the tyres on a surface in one case [-].
double grip_of(const stop::StopUnknowns&, stop::Surface);

//! What was told of the ride that a descent stands for.
struct ToldDescent {
    double descent_m = 0;     //!< all metres down
    double least_grade = 0;   //!< of what goes down: metres down over the whole way
};
//! A typical descent of a terrain class, planned = true; with told: no longer than all metres down of the ride, no shorter
//! than the share of them that its longest descent has in such country, and no flatter than the ride.
Result<RideWork> descent_work(const Context&, const parts::Library&, wear::Terrain, const RideTags&, const std::optional<ToldDescent>& told, std::span<const Case>);

//! Where work comes from that was done before, and on which bike (from_papers.cpp). Each gives what computing it would give.
struct WorkSource {
    std::function<Result<RideWork>(const Context&, std::size_t ride, double share_from, double share_to)> ride;
    std::function<Result<RideWork>(const Context&, std::size_t described, wear::Terrain, const RideTags&, const ToldDescent&)> descent;
};
struct EachCase;   // each_case.hpp
//! A 0.5 % tail is asked of the life, so it gets more cases; the first rows are the same.
inline constexpr std::size_t tail_cases = 4096;
//! Which rides say what the brakes did.
struct Known {
    std::vector<std::uint8_t> ride;   //!< [rides]
    bool partly = false;              //!< some do not, and the others stand for them
};
Known known_rides(const Answer&, const parts::Library&, bool of_papers);
//! Why no life can be given; empty: it can.
std::string life_withheld_of(const Answer&, const Request&, const Known&, const wear::RidingTotals&);
//! Energies and weather of the answer's rides go to their lines; doses: of its rides, in their order.
void fill_lines(LearnSay&, std::span<const RideAnswer> rides, const Doses& doses, const std::vector<std::uint8_t>& known);
//! answer(); with a source the rides of the request need no tracks. each: filled, if it is there.
Result<Answer> answer_with(const Context&, const parts::Library&, const Request&, const WorkSource*, EachCase* each = nullptr);

//! Dry and wet always, and whatever surface was told for a ride. each: filled, if it is there.
std::vector<stop::StopAnswer> stops_of(const Context&, const parts::Library&, const Request&, std::span<const Case>, EachCase* each);
stop::LeverAnswer lever_of(std::span<const Case>, parts::End, EachCase* each);
//! Reasons that come out of the computed stops and temperatures. What is told of the bike may hold it back; where the lever
//! or the hand is only assumed, the reason is to measure.
std::vector<inspect::Check> computed_reasons(const Answer&, const parts::Library&, const parts::Bike&, const Known&);

struct Anchored;   // learned_share.hpp
//! The described rides of the request, in their order, after the recorded ones in `recorded` narrowed what they say. doses:
//! appended, one for each case of `all`. heat: if it is there, appended, what each ride's temperatures were summarised from.
Result<std::vector<RideAnswer>> described_answers(const Context&, const parts::Library&, const Request&, const Cases& drawn, std::span<const Case> all,
                                                  std::span<const RideAnswer> recorded, Doses& doses, const WorkSource*, std::vector<std::shared_ptr<const Anchored>>* heat = nullptr);

//! each: [case][figure], filled if it is there.
Result<std::vector<Yardstick>> yardsticks(const Context&, const parts::Library&, const parts::Bike&, std::span<const Case>, std::vector<std::vector<double>>* each = nullptr);

std::vector<Assumption> assumptions(const parts::Library&, const Request&, const Cases&, const Answer&);
//! What the verdict waits for, or else what narrows the learned life.
std::optional<Measurement> next_measurement(const parts::Library&, const Answer&, const LifeReport&);
//! life_km: per wheel, per case of `cases`.
std::optional<Measurement> next_measurement(const parts::Library&, const Answer&, const Cases& cases, std::span<const std::vector<double>> life_km);
std::vector<std::string> cautions(const Answer&);

//! True if `of` holds for the tags of any ride of the request, recorded, planned or described.
template <class F>
bool any_tags(const Request& request, F&& of) {
    for (const RideInput& r : request.rides)
        if (of(r.tags)) return true;
    for (const PlannedInput& r : request.planned)
        if (of(r.tags)) return true;
    for (const DescribedRow& r : request.described)
        if (of(r.tags)) return true;
    return false;
}

inline Error cancelled() { return {Errc::cancelled, "stopped; nothing was written"}; }

//! Total mass with the load told for a ride in place of the bike's own [kg].
double mass_with_load_kg(const parts::Bike& case_bike, const std::optional<double>& load_kg);
//! The bike of a case with that load, where it is told: mass and centre of mass follow.
parts::Bike with_load(parts::Bike case_bike, const std::optional<double>& load_kg);

Braking& operator+=(Braking&, const balance::WheelPower& one_second);
Braking mean_braking(std::span<const Braking>);

//! Who takes how much on a surface, in one case.
balance::Sharing sharing_of(const Case&, stop::Surface);
//! Power of both rotors, a row a second and one that only ends the run, and where the brake energy of the ride went.
struct WheelRows {
    std::array<std::vector<heat::PowerRow>, 2> rows;
    Braking sum;
};
WheelRows wheel_rows(const Case&, const RideTags&, const ride::MotionPaths&, const ride::MotionPath&);

}  // namespace bw::answer
