// SPDX-License-Identifier: Apache-2.0
// Is there a reason not to ride: the rules of every check, and the verdict that they add up to.          Layer: inspect
// Theory: docs/models/inspect.md.                                                          Pure functions: any thread.
#pragma once
#include <array>
#include <cstddef>
#include <optional>
#include <span>
#include <string>
#include <string_view>
#include <vector>

#include "inspect/reading.hpp"
#include "inspect/run_out.hpp"
#include "parts/bike.hpp"
#include "parts/library.hpp"

namespace bw::inspect {

//! Best first. The words are those of INTERFACES (verdict.state).
enum class State { no_reason_found, look_by, measure_better, replace, held_back };
std::string_view word_of(State);

//! The checks of one bike; `other` is for reasons that other rooms add, it is not one of the twelve.
enum class CheckId {
    front_pad_thickness, rear_pad_thickness,
    front_rotor_thickness, rear_rotor_thickness,
    front_lever_travel, rear_lever_travel,
    front_fluid_or_cable, rear_fluid_or_cable,
    front_rotor_run_out, rear_rotor_run_out,
    bolts_and_cracks, leaks_and_oil,
    other
};
inline constexpr std::size_t checks_total = static_cast<std::size_t>(CheckId::other);
std::string_view word_of(CheckId);
//! For people: "run-out of the front rotor".
std::string name_of_check(CheckId);

//! Does a later reading do away with what an earlier one says: good to as little or less at no fewer places, and better in one of
//! the two. What holds a bike back ends by such a reading, never by another one or by a computation.
bool betters(double later_uncertainty, int later_places, double uncertainty, int places);

//! The outcome of one check. Invariant: held_back <=> do_not_ride. done = false: nobody looked or nobody can, so it never
//! counts as one in which no reason was found.
struct Check {
    CheckId id = CheckId::other;
    std::string code;                      //!< for programs: "front_pad_near_plate"
    State state = State::no_reason_found;
    bool done = false;
    bool do_not_ride = false;
    std::string text;                      //!< for people: what is, why, what to do
};

struct Reason { std::string code, text; };

struct Verdict {
    bool do_not_ride = false;
    State state = State::no_reason_found;
    std::vector<Reason> reasons;           //!< worst first
    std::vector<Reason> notes;             //!< what was not looked at or cannot be known; changes no state
    int checks_done = 0;
    int checks_total = static_cast<int>(inspect::checks_total);
    std::string text;                      //!< "Do not ride ..." or "no reason found in 9 of 12 checks"
};

//! Worst state first, reasons in that order; a check counts as done when all its parts (both pads) are.
//! Nothing checked at all gives measure_better, never no_reason_found.
Verdict combine(std::vector<Check> checks);

//! Numbers of common practice that the rules use, from data/inspect.toml; lengths [mm].
struct Practice {
    double near_plate_mm;           //!< at or below: no riding, whatever the maker's limit
    double pad_least_mm;            //!< common practice: low and high end of the limit
    double pad_replace_mm;
    double rotor_least_thin_mm;     //!< limit of a rotor that was new below rotor_thick_from_mm
    double rotor_least_thick_mm;    //!< limit of a thicker one
    double rotor_thick_from_mm;
    double lever_near_mm;           //!< lever this near the bar at the needed force
    double run_out_high_mm;         //!< common practice: straighten from here; hold: more than the usual gap of both sides
    double run_out_hold_mm;
    double fluid_months;            //!< change interval
    std::array<double, 3> dry_point_degC;   //!< least dry boiling point of DOT 3, 4, 5.1; nobody publishes one for mineral oil
    double doubt;                   //!< chance of being past a limit above which a reading is not good enough
    Instrument caliper;             //!< when nobody says what it was measured with
};
Practice practice_of(const parts::Library&);

//! Published least dry boiling point of a grade of fluid [degC], if there is one.
std::optional<double> published_dry_point_degC(const Practice&, parts::FluidKind);

//! The limit of a rotor of which no maker's limit is known, by its thickness when new (or as described) [mm].
double practice_rotor_least_mm(const Practice&, double thickness_mm);

//! One pad. The thinnest corner counts. A reading at or below the limit holds the bike back whatever its uncertainty; an
//! assumed plate or a limit that is not known never gives better than measure_better. No readings: never measured.
struct PadCheck {
    parts::End end = parts::End::front;
    std::string_view which = {};                 //!< "left", "right" or "" = the thinner
    std::span<const double> corners_mm = {};     //!< friction thickness, one or several places
    double uncertainty_mm = 0;
    Plate plate = Plate::assumed;
    std::optional<double> least_mm = {};         //!< the maker's limit
};
Check check_pad(const PadCheck&, const Practice&);

using Anvil = parts::Anvil;

//! One rotor. The thinnest place counts. Flat jaws rest on the unworn rim: the ridge is taken off the reading, and without
//! it, or with an anvil that nobody named, the check is never better than measure_better. No maker's limit: never better than measure_better.
struct RotorCheck {
    parts::End end = parts::End::front;
    std::span<const double> places_mm = {};      //!< thickness, one or several places
    double uncertainty_mm = 0;
    Anvil anvil = Anvil::not_told;
    std::optional<double> ridge_mm = {};         //!< both sides together: rim thickness less band thickness
    double ridge_uncertainty_mm = 0;             //!< standard
    std::optional<double> least_mm = {};         //!< the maker's limit
};
//! What such a reading says of the band itself.
struct Band {
    double thickness_mm = 0;                     //!< at the thinnest place, without a known ridge under flat jaws
    double uncertainty_mm = 0;                   //!< standard, with that of the ridge that was taken off
    bool too_thick = false;                      //!< flat jaws and no ridge known, or an anvil that nobody named: the band may be thinner
};
//! Nothing without a reading, or with one that is no number. check_rotor goes by it, and so must whatever learns from a reading.
std::optional<Band> band_of(const RotorCheck&);
Check check_rotor(const RotorCheck&, const Practice&);

//! Run-out of one rotor. What was read, or the likeliest total, over the maker's limit holds the bike back; so does what is
//! over the usual gap of both sides by common practice, whatever the maker's limit. Without one: never better than measure_better.
struct RunOutCheck {
    parts::End end = parts::End::front;
    const RunOut* run_out = nullptr;             //!< null: never measured
    std::optional<double> limit_mm = {};         //!< the maker's limit of the total
};
Check check_run_out(const RunOutCheck&, const Practice&);

//! One lever: distances between finger contact and bar at the bite point and at the force that is needed [mm]; the latter
//! may be negative (the bar is in the way).
struct LeverCheck {
    parts::End end = parts::End::front;
    parts::Actuation actuation = parts::Actuation::hydraulic;
    std::optional<double> bite_mm = {};
    std::optional<double> full_mm = {};
    double uncertainty_mm = 0;              //!< of full_mm
    //! reading: somebody squeezed and measured. estimate: computed; it can hold back, never clear.
    enum class From { reading, estimate } full_from = From::reading;
};
Check check_lever(const LeverCheck&, const Practice&);

//! Fluid of one brake, or its cable when there is no fluid. A fluid without a published boiling point never counts as done.
struct FluidCheck {
    parts::End end = parts::End::front;
    std::optional<parts::FluidKind> kind = {};   //!< none: a cable brake
    bool kind_told = true;                       //!< false: the kind is an assumption, of which nothing is said as a fact
    std::optional<double> age_months = {};       //!< none: not known
    std::optional<double> dry_point_degC = {};   //!< published least boiling point of its grade; none: nobody published one
};
Check check_fluid(const FluidCheck&, const Practice&);

//! What eyes and hands found; `nothing_seen` makes the check done.
enum class Seen { not_looked, nothing_seen, crack, loose_bolt, leak, oil_on_pads, soft_lever_after_heat };
Check check_seen(CheckId, Seen);

//! Pads with oil or brake fluid on them are held back; of any other condition no check is made.
std::optional<Check> check_condition(parts::End, parts::PadCondition);

//! A check that needs a reading nobody took: measure_better, not done.
Check check_never_measured(CheckId);
//! A check that this bike's description cannot answer: a note, not done.
Check check_not_looked(CheckId);

//! How the bite of this kind of brake is put right.
std::string bite_advice(parts::Actuation);

//! Lever points of one wheel as the stop room computes them [mm].
struct LeverPoints {
    std::optional<double> bite_mm = {}, full_mm = {};
    double uncertainty_mm = 0;
    LeverCheck::From full_from = LeverCheck::From::estimate;
};
//! All twelve checks as far as a bike's own description answers them (keys in bike.given are readings, defaults are not), and
//! one `other` for each end whose pads are told as oiled.
std::vector<Check> checks_of(const parts::Bike&, const Practice&, const LeverPoints& front, const LeverPoints& rear);

}  // namespace bw::inspect
