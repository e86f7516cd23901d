// SPDX-License-Identifier: Apache-2.0
// The hardware as values: bike, rider, hand, rotor, pads, caliper, lever, fluid, housing.                 Layer: parts
// Keys, units and enumerations are those of docs/formats.md; a field's name is the key in the TOML.
#pragma once
#include <memory>
#include <optional>
#include <set>
#include <string>
#include <string_view>
#include <vector>

#include "base/cases.hpp"
#include "base/evidence.hpp"
#include "base/result.hpp"
#include "parts/library.hpp"

namespace bw::parts {

enum class BikeKind { trail, gravel, road, city, cargo };
enum class Actuation { hydraulic, cable, cable_to_hydraulic };
enum class Compound { organic, semi_metallic, sintered };
enum class PadCondition { not_told, bedded, unbedded, glazed, oiled };
enum class FluidKind { dot3, dot4, dot5_1, mineral };
enum class HousingKind { hose, ordinary, compressionless };
enum class RotorMaterial { stainless_410, stainless_420, aluminium_core };
enum class RotorKind { solid, vented, two_piece };
enum class End { front, rear };
//! What the rotor was measured with: flat jaws rest on the unworn rim and bridge the worn band.
enum class Anvil { not_told, pointed, flat_jaws };
//! Where an e-bike's motor acts: a crank motor is let go by the freewheel when the bike coasts, a hub motor turns with its wheel.
enum class MotorWheel { crank, front, rear };
//! overrun: the trailer's push at the hitch works a brake of its own.
enum class TrailerBrake { none, overrun };

//! The word of an enumeration value as in the files, e.g. "semi_metallic".
std::string_view word_of(BikeKind);
std::string_view word_of(Actuation);
std::string_view word_of(Compound);
std::string_view word_of(PadCondition);
std::string_view word_of(FluidKind);
std::string_view word_of(HousingKind);
std::string_view word_of(RotorMaterial);
std::string_view word_of(RotorKind);
std::string_view word_of(End);
std::string_view word_of(Anvil);
std::string_view word_of(MotorWheel);
std::string_view word_of(TrailerBrake);

//! A set of keys that copies share until one of them changes its own: a bike is copied for each likely case.
class Keys {
public:
    using Set = std::set<std::string, std::less<>>;
    bool contains(std::string_view key) const { return set_ && set_->contains(key); }
    Set::const_iterator begin() const { return set().begin(); }
    Set::const_iterator end() const { return set().end(); }
    void insert(std::string key) { own().insert(std::move(key)); }
    void insert(std::initializer_list<std::string> keys) { own().insert(keys); }
    void erase(const std::string& key) { own().erase(key); }
    bool operator==(const Keys& other) const { return set() == other.set(); }

private:
    const Set& set() const {
        static const Set none;
        return set_ ? *set_ : none;
    }
    Set& own() { return *(set_ = set_ ? std::make_shared<Set>(*set_) : std::make_shared<Set>()); }
    std::shared_ptr<Set> set_;
};

struct Hand {
    Uncertain size_cm;       //!< wrist crease to middle finger tip
    Uncertain strength_N;    //!< largest force of the whole hand's grip; the fingers on a lever have a part of it
};
struct Rider {
    Uncertain mass_kg;
    Hand hand;
};
struct Rotor {
    RotorKind kind = RotorKind::solid;
    RotorMaterial material = RotorMaterial::stainless_410;
    Uncertain diameter_mm;        //!< outside, as stamped
    Uncertain band_inner_mm;      //!< inside diameter of the swept band
    Uncertain thickness_mm;
    std::optional<Uncertain> least_thickness_mm;   //!< the maker's limit; never filled by a default
    std::optional<Uncertain> run_out_limit_mm;     //!< the maker's limit of the total run-out; never filled by a default
    Anvil anvil = Anvil::not_told;                 //!< of the thickness reading
    std::optional<Uncertain> ridge_mm;             //!< rim thickness less band thickness, both sides together; never filled by a default
    bool sheltered = false;       //!< behind a box, a guard or a bag: little of the wind reaches it
    Uncertain solid_share;        //!< metal over area of the swept band (1 = no holes)
};
struct Pads {
    Compound compound = Compound::organic;
    PadCondition condition = PadCondition::not_told;
    bool heat_barrier = false;
    bool plate_measured = false;       //!< the plate's thickness was measured, so friction thickness does not rest on an assumption
    Uncertain friction_thickness_mm;   //!< friction material of one pad, plate not counted
    std::optional<Uncertain> other_friction_thickness_mm;   //!< of the other pad where the two are unevenly worn; absent: both are alike
    Uncertain plate_thickness_mm;
    std::optional<Uncertain> least_friction_mm;    //!< the maker's limit; never filled by a default
    Uncertain area_mm2;                //!< friction face of one pad
};
//! Friction thickness of the thinner of the two pads: what verdicts, wear and lives take.
const Uncertain& least_friction(const Pads&);
struct Caliper {
    int pistons_per_side = 1;
    int moving_pads = 2;               //!< 1: only one pad moves (many cable calipers)
    Uncertain piston_diameter_mm;      //!< of each piston; equal-area diameter if they differ
    Uncertain arm_ratio;               //!< cable calipers: clamp force per pad / cable force; cable-to-hydraulic: force on its master piston / cable force
};
struct Lever {
    Uncertain ratio;                   //!< force on master piston (or cable) / force at the finger; of the lever at rest where ratio_at_bar is told
    std::optional<Uncertain> ratio_at_bar;   //!< the same with the lever at the bar, in a line with its distance; absent: one ratio all along
    Uncertain reach_mm;                //!< finger contact to bar, lever at rest
    Uncertain bite_mm;                 //!< finger contact to bar when the pads touch
    Uncertain master_diameter_mm;      //!< master piston, at the lever or (cable-to-hydraulic) at the caliper
};
struct Fluid {
    FluidKind kind = FluidKind::mineral;
    Uncertain age_months;
};
struct Housing {
    HousingKind kind = HousingKind::hose;
    Uncertain length_m;
};
struct Wheel {
    Actuation actuation = Actuation::hydraulic;
    Rotor rotor;
    Pads pads;
    Caliper caliper;
    Lever lever;
    std::optional<Fluid> fluid;        //!< none for a cable brake
    Housing housing;
};
//! One axle, behind a hitch that carries no weight worth counting.
struct Trailer {
    Uncertain mass_kg;                 //!< with what it carries
    Uncertain drag_area_m2;            //!< what it adds behind the rider
    Uncertain rolling_resistance;
    Uncertain push_height_m;           //!< of the hitch above the ground: there the trailer pushes
    TrailerBrake brake = TrailerBrake::none;
};
struct Bike {
    BikeKind kind = BikeKind::trail;
    std::string name;
    bool e_assist = false;
    Rider rider;
    Uncertain mass_kg;                 //!< the bike itself
    Uncertain load_kg;
    Uncertain total_mass_kg;           //!< rider + bike + load, or as given
    Uncertain drag_area_m2;
    Uncertain rolling_resistance;
    Uncertain efficiency;              //!< drive train
    Uncertain wheelbase_m;
    Uncertain centre_of_mass_height_m;       //!< rider and load included, above the ground
    Uncertain centre_of_mass_from_front_m;   //!< horizontal, from the front axle
    Uncertain wheel_radius_m;
    Uncertain wheel_inertia_kgm2;      //!< of both wheels together
    //! Middle of the load. Told either: centre_of_mass_* are those of bike and rider without the load.
    std::optional<Uncertain> load_from_front_m, load_height_m;
    MotorWheel motor_wheel = MotorWheel::crank;
    std::optional<Uncertain> regeneration_W, regeneration_N;   //!< most that the motor takes back while the bike is braked
    std::optional<Uncertain> overrun_N;   //!< drag at the tyre of a motor that is turned without current
    std::optional<Trailer> trailer;
    Wheel front, rear;
    Keys given;                        //!< keys that the description states itself; all others are defaults

    const Wheel& wheel(End end) const { return end == End::front ? front : rear; }
    Wheel& wheel(End end) { return end == End::front ? front : rear; }
};

//! One numeric field of a bike, as the table in bike_fields.cpp lists it.
struct FieldRef {
    std::string key;          //!< "front.rotor.thickness_mm"
    std::string unit;
    double least, most;       //!< a value outside is refused
    Uncertain* value;
};
//! Every numeric field of the bike (limits and extras only where they are known), in a fixed order.
std::vector<FieldRef> fields_of(Bike& bike);

//! Reads a bike description (TOML, format = 1). name: for messages. Fields that are absent get the defaults of the kind
//! (data/bikes.toml) with their spread. Fails with bad_input and file:line, what was expected, the nearest known key.
Result<Bike> read_bike(std::string_view toml_text, const std::string& name, const Library& library);
//! What a description states, as JSON text with the same keys. Fails with bad_input where it is no TOML.
Result<std::string> description_json(std::string_view toml_text);
//! The description as TOML with every value, spread and source written out; read_bike reads it back to the same values.
std::string write_bike(const Bike& bike);
//! A bike of defaults only, for the six questions.
Bike default_bike(BikeKind kind, const Library& library);

//! All numeric fields as inputs of the likely cases (keys as in the TOML), in the order of fields_of; what only some bikes have
//! (extra_input) comes last.
std::vector<Input> inputs_of(const Bike& bike);
//! True for what only some bikes have: to be drawn after everything else, so that a trailer leaves the other draws alone.
bool extra_input(std::string_view key);
//! The bike of one case: every numeric field's value replaced by its draw. The rooms take such a bike and use `.value`.
Bike bike_of_case(const Bike& bike, const CaseRow& row);

}  // namespace bw::parts
