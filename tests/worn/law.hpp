// SPDX-License-Identifier: Apache-2.0
// An invented rider, their rides one after the other, and how pads and rotors truly wear.   Layer: tests/worn
// Theory: README.md (law [W1..W8], sources). Shares no code and no constant with src/.
// Values and pure functions: any thread.
#pragma once
#include <array>
#include <string_view>
#include <vector>

#include "draws.hpp"

namespace worn {

enum class Compound { organic, semi_metallic, sintered };
inline constexpr std::array compound_names = {"organic", "semi_metallic", "sintered"};
enum class Kind { park, trail, commuter, touring, cargo, city, e_bike };
inline constexpr std::array kind_names = {"park", "trail", "commuter", "touring", "cargo", "city", "e_bike"};
inline constexpr int kinds = 7;

// Spreads of what nobody can read off papers: sd of the logarithm of a factor, or in the unit of the name. README.md: assumed.
namespace spread {
inline constexpr double soil = 0.3, rain = 0.25, rubbing = 0.4, mud = 0.4;                       // of a rider; mud of a ride
inline constexpr double pressing = 0.25, harsh = 0.2;                                            // of a rider, both wheels
inline constexpr double wheel_pressing = 0.1, wheel_wear = 0.12, wheel_rotor = 0.35, wheel_lean = 0.06;   // of a wheel
inline constexpr double brand = 0.3, batch = 0.13, odd_batch_share = 0.06;                       // of a compound's brand; of a pair
inline constexpr std::array<double, 2> odd_batch = {1.2, 1.6};
inline constexpr double decay_degC = 18, activation = 0.08, bedding = 0.4, bedding_MJ = 0.5, lean = 0.04, sway = 0.03, pad_new_mm = 0.05;
inline constexpr double rotor = 0.12, rotor_new_mm = 0.012;
inline constexpr double drift = 0.08, drift_rides = 120, ride = 0.14;                            // wear that wanders; of one ride
}  // namespace spread
inline constexpr double pressure_power = -0.2;   // wear by clamp pressure [W1]

// What one wheel's brake is like, fixed while the rider lives. Lengths mm, areas mm2, volumes mm3.
struct Wheel {
  double pad_area_mm2, pad_new_mm, pad_limit_mm;
  double rotor_area_mm2, rotor_new_mm, rotor_limit_mm, rotor_diameter_mm;
  Compound compound;
  double clamp_pressure;      // against the usual one
  double wear_factor;         // of this wheel beyond what the law explains
  double rotor_factor;
  double left_right;          // lasting lean of the caliper
};

struct Rider {
  std::uint64_t seed;
  Kind kind;
  double mass_kg, bike_mass_kg;
  double km, log_km_sd, kJ_per_km, log_kJ_sd, descent_m_per_km, front_share;
  double rides_per_year, air_degC, season_dK, heat_dK, heat_spread;   // heat: pad above the air for a ride of usual energy
  double wet, grit;           // chance of a wet ride over the year; chance that a ride has grit when dry
  double light;               // share of the work done by long light braking
  double soil, rain_factor, rubbing;
  double pressing, harsh;     // of both wheels: part of their clamp_pressure and wear_factor
  std::array<Wheel, 2> wheels;
  bool changes_compound;
};

//! The rider of a seed. Kinds go round with the seed so that every seven seeds hold each once.
Rider make_rider(std::uint64_t seed);

// What moves on from ride to ride.
struct RiderState {
  int ride = 0;               // number of the last ride
  double day = 0;             // since 1 January of year 0
  double habit_energy = 0, habit_km = 0, habit_front = 0;
  std::array<double, 2> wear_drift{};
  Draws draws{1};
};
RiderState begin(const Rider&);

struct Ride {
  int number;
  double day, km, descent_m, duration_s;
  double wet, grit, mud;      // shares of the ride; how abrasive the mud is
  double light;
  std::array<double, 2> work_MJ, pad_dK;   // per wheel, both pads; energy-weighted mean of pad above air
  std::array<double, 2> wear_scatter;      // of this ride on this wheel, slow drift included
  double air_degC, heat_spread;
};
Ride next_ride(const Rider&, RiderState&);

// A pair of pads on a wheel.
struct PadSet {
  // drawn when fitted
  Compound compound;
  double quality;             // wear against the compound's usual one: brand and batch
  double decay_degC, activation_kJ_mol;
  double bedding, bedding_MJ;
  double lean;                // left-right of this pair
  // state
  std::array<double, 2> thickness_mm, work_MJ{};
  double glaze = 0, sway = 0, stuck = 0, swell_mm = 0;
  Draws draws{1};
};
//! SPREADS scales what differs from pair to pair; 0: the usual pair of that brand.
PadSet fit_pads(const Rider&, int wheel, Compound, double brand_factor, std::uint64_t seed, double spreads = 1);
//! Volume worn off left and right [mm3]; thickness never falls below 0 (then the plate runs on the rotor).
std::array<double, 2> wear_pads(const Rider&, int wheel, const Ride&, PadSet&);

struct Rotor { double quality, thickness_mm; };
Rotor fit_rotor(const Rider&, int wheel, std::uint64_t seed);
//! Volume worn off both faces together [mm3].
double wear_rotor(const Rider&, int wheel, const Ride&, Compound, Rotor&);

//! Wear per work at a pad temperature against that at 20 degC. [W2..W4]
double hot_factor(Compound, double decay_degC, double activation_kJ_mol, double pad_degC);
//! The usual decay temperature [degC] and activation energy [kJ/mol] of a compound.
std::array<double, 2> usual_decay(Compound);
//! mm3 per MJ of the pad's own work: cold, dry, clean, bedded, at the usual pressure. [W1]
double usual_pad_wear(Compound);
//! The rider with nothing of their own left: what somebody knows who has the rides but no readings.
Rider made_usual(Rider);
PadSet usual_pads(const Rider&, int wheel, Compound);

}  // namespace worn
