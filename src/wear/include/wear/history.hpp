// SPDX-License-Identifier: Apache-2.0
// What a rider's pads and rotors have done: rides, parts fitted, readings, and their tables.               Layer: wear
// Formats: docs/formats-life.md.                                                           Pure functions: any thread.
#pragma once
#include <array>
#include <optional>
#include <string>
#include <string_view>
#include <vector>

#include "base/result.hpp"

namespace bw::wear {

enum class Component { front_left_pad, front_right_pad, front_rotor, rear_left_pad, rear_right_pad, rear_rotor };
inline constexpr std::array<std::string_view, 6> component_words = {"front_left_pad", "front_right_pad", "front_rotor", "rear_left_pad", "rear_right_pad", "rear_rotor"};
constexpr std::string_view word_of(Component c) { return component_words[static_cast<std::size_t>(c)]; }
//! 0 front, 1 rear.
constexpr int wheel_of(Component c) { return static_cast<int>(c) / 3; }
constexpr bool is_rotor(Component c) { return static_cast<int>(c) % 3 == 2; }

//! A row a ride (INTERFACES: --summary). Energies are of one wheel's brake; what is absent is not known.
struct RiddenRow {
    long ride = 0;                          //!< its number, > 0, rising
    std::optional<long> day;                //!< since 1970-01-01
    double distance_m = 0;
    std::optional<double> descent_m, duration_s;   //!< absent: not known
    std::array<std::optional<double>, 2> energy_J;
    std::array<double, 2> energy_sd_J{};
    std::array<std::optional<double>, 2> pad_degC;   //!< energy-weighted mean of the pad face
    double wet = 0, grit = 0;               //!< shares of the ride, 0..1
};

//! One time that a part was on: at a wheel of this bike, or on another bike, whose rides are known by their way alone.
struct StayRow {
    long first_ride = 0, end_ride = 0;   //!< rides of this bike, first_ride <= ride < end_ride; elsewhere: the first ride here after it, twice
    int wheel = 0;                       //!< 0 front, 1 rear
    double elsewhere_m = 0;              //!< > 0: ridden on another bike
};

struct FittedRow {
    Component component{};
    std::string set;
    long start_ride = 0;         //!< its first ride; with stays: of the last of them
    std::string compound;        //!< of a rotor: empty, or that of the pads run on it
    double new_mm = 0, limit_mm = 0;   //!< friction thickness of a pad, total thickness of a rotor
    double area_mm2 = 0;         //!< friction area of a pad, solid swept area of one face of a rotor
    // Not in the file: where the papers know less than it does.
    double new_sd_mm = -1;       //!< of new_mm; negative: that of the priors
    double limit_sd_mm = 0;      //!< of a limit that nobody stated
    bool limit_stated = true;    //!< by the maker or whoever keeps the list; else it is common practice
    std::string part;            //!< id in the papers; empty: none
    bool bedded = false;         //!< it was ridden before: no bedding-in is to come
    long heated_from_ride = 0;   //!< the pad was on since this ride, where it is followed anew from a later one: its heat since then counts; 0: start_ride
    std::vector<StayRow> stays = {};   //!< of a part that was off and came back: all its stays in order, the last one at this component; empty: on since start_ride
    bool moved = false;          //!< it is at the other wheel of this bike now: nothing is read or forecast of it here
    bool off = false;            //!< it has left this bike and nothing took its place: what it did here is learned from, no life of it is forecast
};

struct ThicknessRow {
    long ride = 0;               //!< taken after this ride
    std::optional<long> day;
    Component component{};
    std::string set;
    double thickness_mm = 0, sd_mm = 0, resolution_mm = 0;
    // Not in the file.
    std::optional<double> own_sd_mm = {};   //!< of the reading by itself, where sd_mm holds more; absent: sd_mm
    int places = 1;              //!< how many the least was taken of: fewer never better more
    bool any_time = false;       //!< rides of its day may have come before it, whatever their number
    bool too_thick = false;      //!< the part may be thinner than that by something nobody measured: learn() is not to see it
    std::size_t stays_before = 0;   //!< of FittedRow::stays elsewhere: those before this place in the list were over by then
};

struct TaskRow {
    Component component{};
    std::string set;
    long as_of_ride = 0;
};

struct History {
    std::vector<RiddenRow> rides;          //!< by number
    std::vector<FittedRow> fitted;
    std::vector<ThicknessRow> readings;    //!< by ride
};

//! Tables as text; `file` names them in errors. Each fails with bad_input, naming file, line, column and what was expected.
Result<std::vector<RiddenRow>> read_summary(std::string_view text, const std::string& file);
Result<std::vector<FittedRow>> read_fitted(std::string_view text, const std::string& file);
Result<std::vector<ThicknessRow>> read_thicknesses(std::string_view text, const std::string& file);
Result<std::vector<TaskRow>> read_tasks(std::string_view text, const std::string& file);

//! Sorted, and held together: fails with bad_input where a reading or task is of a set that was never fitted.
Result<History> history_of(std::vector<RiddenRow>, std::vector<FittedRow>, std::vector<ThicknessRow>);

//! The first ride that the part was on for, in its first stay.
long first_ride_of(const FittedRow&);
//! The part as if it had come on with what this reading of it says; rides before it no longer count, its heat does.
FittedRow followed_from(const FittedRow&, const ThicknessRow&, const std::string& set);
//! What it was ridden by the end of each count of rides: [rides + 1], in all its stays.
std::vector<double> way_on_m(const History&, const FittedRow&);

//! A reading that cannot be: thicker than new, thicker than before, in another unit, left and right changed over.
struct Question {
    std::size_t reading = 0;   //!< index in History::readings
    std::string text;
    enum class Why { unit, when, thicker_than_new, grew } why = Why::unit;
    std::optional<std::size_t> before = {};   //!< of one that grew: the earlier reading
};
//! The readings that a person should look at again; the model allows for a share of misreads all the same.
std::vector<Question> questions_of(const History&);

}  // namespace bw::wear
