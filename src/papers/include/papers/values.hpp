// SPDX-License-Identifier: Apache-2.0
// What the papers hold, as plain values: people, bikes, parts, rides, readings, work, events, holds, ticks. Layer: papers
// A field's name is the column in the store and in the exported tables. Days are "2026-05-01"; instants seconds since 1970 UTC.
#pragma once
#include <cstdint>
#include <optional>
#include <span>
#include <string>
#include <string_view>
#include <vector>

#include "parts/bike.hpp"
#include "stop/proof.hpp"

namespace bw::papers {

//! A UUID, or the SHA-256 of a content in hexadecimal digits. Never a row number.
using Id = std::string;
//! "2026-05-01".
using Day = std::string;

enum class PartKind { wheel, rotor, pads, caliper, lever, housing, other };
enum class RideKind { recorded, described };
//! What a reading is a reading of. Thicknesses, distances and gaps in mm.
enum class What {
    pad_thickness,        //!< friction material, or with the plate (with_plate)
    plate_thickness,      //!< of the pads' plates
    rotor_thickness, rotor_ridge,   //!< ridge: rim less band, both sides together
    run_out,              //!< by dial, at angles
    lever_reach, lever_bite, lever_full,   //!< lever to bar: at rest, when the pads touch, at full force
    gap,                  //!< pad to rotor by feeler, at corners
    pad_mass,
    caliper_temperature, rotor_temperature,
    fluid_age, fluid_colour, cable_state,
    bearing_play          //!< of a wheel: what the rotor moves at its band, end to end, as the wheel is rocked
};
enum class Side { left, right };
enum class WorkKind { new_pads, bleed, true_rotor, clean, new_cable, bolts, bed_in, other };
//! Happenings after which the brake is looked at before the next ride.
enum class Happening { overheat, crash, wet_grit, spray, transport };
enum class Outcome { ok, fault };
//! Items of the check before a ride.
enum class Item { function, lever, pad_wear, gap, rotor_straight, bolts, leaks, cable };
enum class InstrumentKind { caliper, micrometer, depth_gauge, dial, feeler, ruler, scale, thermometer, eye };

//! The words of an enumeration in the order of its values, as in files and on the command line.
std::span<const std::string_view> words(PartKind);
std::span<const std::string_view> words(RideKind);
std::span<const std::string_view> words(What);
std::span<const std::string_view> words(Side);
std::span<const std::string_view> words(WorkKind);
std::span<const std::string_view> words(Happening);
std::span<const std::string_view> words(Outcome);
std::span<const std::string_view> words(Item);
std::span<const std::string_view> words(InstrumentKind);
std::span<const std::string_view> words(parts::End);
std::span<const std::string_view> words(parts::Anvil);
std::span<const std::string_view> words(parts::Compound);
std::span<const std::string_view> words(stop::Brakes);
std::span<const std::string_view> words(stop::Surface);
std::span<const std::string_view> words(stop::WayMeasured);

template <class E>
std::string_view word_of(E value) { return words(value)[static_cast<std::size_t>(value)]; }
template <class E>
std::optional<E> value_of(std::string_view word) {
    const auto list = words(E{});
    for (std::size_t i = 0; i < list.size(); ++i)
        if (list[i] == word) return static_cast<E>(i);
    return std::nullopt;
}

struct Person {
    Id id;
    std::string name;                        //!< no two people have the same
    std::optional<double> hand_size_cm, hand_strength_N, mass_kg;
    std::optional<double> repeat_sd_mm;      //!< scatter of this person's single readings about their mean
    std::string note;
    std::optional<double> repeat_sd_degC = {}, repeat_sd_g = {};
};

struct Instrument {
    Id id;
    std::string name;                        //!< no two instruments have the same
    InstrumentKind kind = InstrumentKind::caliper;
    std::optional<parts::Anvil> anvil;
    std::optional<double> resolution_mm, permitted_error_mm, resolution_degC, permitted_error_degC, resolution_g, permitted_error_g;
    std::string note;
};

struct Bike {
    Id id;
    std::string name;                        //!< no two bikes have the same
    std::string description_toml;            //!< as given: parts::read_bike reads it
    Day added_day;
    std::optional<Day> retired_day;
    std::string note;
};

//! A part that outlives its place: a set of two pads, a rotor, a wheel.
struct Part {
    Id id;
    std::string name;                        //!< no two parts have the same
    PartKind kind = PartKind::other;
    std::optional<parts::Compound> compound;
    std::optional<bool> heat_barrier;
    std::optional<double> new_thickness_mm;      //!< pads: friction material of one pad; rotor: total
    std::optional<double> plate_thickness_mm;    //!< pads
    std::optional<bool> plate_measured;
    std::optional<double> least_thickness_mm;    //!< the maker's limit; pads: friction material
    std::optional<double> area_mm2, diameter_mm;
    std::string note;
    std::optional<double> run_out_limit_mm = {};   //!< the maker's limit; rotor
};

//! Where a part is from one day to another: on a bike, or on a wheel that itself is on a bike.
struct Fitting {
    Id id;
    Id part_id;
    std::optional<Id> bike_id, wheel_id;     //!< one of the two
    parts::End place = parts::End::front;    //!< on a wheel: that of the wheel when it was fitted
    Day from_day;
    std::optional<Day> to_day;               //!< absent: still there. The day belongs to the next place
    std::optional<double> noted_unix_s = {}; //!< when `part on` told it, out of the history; absent: with the bike itself. Not a column
};

struct Ride {
    Id id;                                   //!< SHA-256 of the content
    Id bike_id;
    RideKind kind = RideKind::recorded;
    std::string file_name;                   //!< without its folder; of a described ride the table's
    std::optional<double> start_unix_s;
    std::optional<Day> day;
    std::optional<double> duration_s, distance_m, descent_m, stops_per_km;
    std::string surface, weather;            //!< words as in the files; empty: not told
    std::optional<double> wind_mps, air_degC, load_kg;   //!< wind_mps: mean head wind along the way; with wind_from_deg the wind's speed as a weather report has it
    std::string note;
    std::optional<double> wind_from_deg = {};   //!< clockwise from true north, 0 <= x < 360; only beside a wind_mps of 0 or more
};

//! One number of a reading, or one of many points. One of the four quantities is there.
struct Point {
    std::optional<Side> side;                //!< pads: left or right of the rotor, seen in riding direction
    std::optional<double> angle_deg, radius_mm;
    std::optional<double> length_mm, temperature_degC, mass_g, age_months;
};

struct Reading {
    Id id;
    Id bike_id;
    std::optional<Id> part_id;               //!< the pads or rotor that was read
    parts::End place = parts::End::front;
    What what = What::pad_thickness;
    Day day;
    double recorded_unix_s = 0;              //!< when it came into the papers: order of readings of one day
    Id person_id;
    std::optional<Id> instrument_id;
    std::optional<bool> with_plate;          //!< pad_thickness: asked for, never guessed
    std::optional<parts::Anvil> anvil;       //!< rotor_thickness
    std::string word;                        //!< fluid_colour, cable_state; temperatures: peak, the highest mark of a strip, beside its value
    std::string note;
    std::vector<Point> points;
    std::optional<double> read_unix_s = {};    //!< temperatures: the moment; absent: only the day is known
    std::optional<double> set_emissivity = {}; //!< temperatures: as set on an infra-red thermometer, 0.05..1; absent: not by infra-red
    std::string spot = {};                     //!< rotor by infra-red: bare, tinted or painted; empty: not told
};

struct Work {
    Id id;
    Id bike_id;
    std::optional<parts::End> place;
    WorkKind kind = WorkKind::other;
    Day day;
    Id person_id;
    std::string note;
    std::optional<double> recorded_unix_s = {};   //!< when it came into the papers; absent: only the day is known
};

struct Incident {
    Id id;
    Id bike_id;
    std::optional<parts::End> place;
    Happening kind = Happening::crash;
    Day day;
    double recorded_unix_s = 0;
    Id person_id;
    std::string note;
};

struct Hold {
    Id id;
    Id bike_id;
    double from_unix_s = 0;
    std::string by, why;                     //!< who and why: never empty
    std::optional<double> cleared_unix_s;
    std::string cleared_by, cleared_why;     //!< empty while it holds
};

//! One item of one check before a ride.
struct Tick {
    Id id;
    Id check_id;                             //!< the same for all items ticked together
    Id bike_id;
    Item item = Item::function;
    std::optional<parts::End> place;
    Outcome outcome = Outcome::ok;
    Day day;
    double recorded_unix_s = 0;
    Id person_id;
    std::string note;
};

//! One stop from a known speed. The way runs from the first movement of the lever.
struct ProofStop {
    Id id;
    Id proof_id;                             //!< the same for all stops told together
    Id bike_id;
    stop::Brakes brakes = stop::Brakes::front;
    std::string name;                        //!< as the table called it
    Day day;
    double recorded_unix_s = 0;
    std::int64_t number = 0;                 //!< order of those told together
    Id person_id;
    std::optional<Id> instrument_id;         //!< the spring scale
    std::optional<Id> ride_id;               //!< the recording that it was cut out of
    std::optional<stop::WayMeasured> way;
    double from_mps = 0;
    std::optional<double> from_sd_mps;       //!< where it is known better than from a bike computer, or worse
    double distance_m = 0;
    std::optional<double> distance_sd_m, time_s, lever_force_N;
    std::optional<double> lever_place_mm;    //!< the marked place at which the scale pulled, from the lever's tip
    double grade = 0;
    stop::Surface surface = stop::Surface::dry;
    std::string note;
    std::optional<double> cleared_unix_s;    //!< a named person said that this stop counts for nothing
    std::string cleared_by, cleared_why;     //!< empty while it counts
};

//! What was computed once. id: hash of canonical inputs, the data rows used, model versions, seed, N and K (answer_key).
struct KeptAnswer {
    Id id;
    std::optional<Id> bike_id;
    double made_unix_s = 0;
    std::string kind;                        //!< the schema of the JSON, "answer/1"
    std::string model_versions;
    std::string json;
    std::optional<Day> day = {};             //!< of which it speaks, where it speaks of one
};

//! Wear dose of one ride: bytes as the computing room wrote them. id: as for answers, but without readings.
struct KeptDose {
    Id id;
    Id ride_id;
    double made_unix_s = 0;
    std::string model_versions;
    std::string bytes;
};

//! One line of the history.
struct Event {
    Id id;
    Id batch;                                //!< the same for all that one command did: undone together
    double at_unix_s = 0;
    std::string by, verb, text;
    std::optional<Id> undoes;                //!< the batch that this one took back
};

}  // namespace bw::papers
