// SPDX-License-Identifier: Apache-2.0
// The generator's own population and wear law. All medians and spreads are invented within the ranges that README.md cites.
// Layer: tests/worn                                        Theory: README.md [W1..W8]
// Pure functions: any thread.
#include "law.hpp"

#include <algorithm>

namespace worn {
namespace {

// Stands for what one wheel's contact is rubbed with, by compound.
struct Material {
  double cold_mm3_MJ;                         // [W1] K / (H mu)
  double decay_degC, activation_kJ_mol;       // [W4] where decay doubles the wear; slope of it
  double decay_share;                         // how much of the pad is resin
  double softening_per_K;                     // [W2] hardness
  double fade, fade_degC;                     // [W3] friction falls by this share around this temperature
  double wet, grit_energy;                    // [W5], [W6]
  double glazing;                             // [W7]
  double bedding;                             // [W8]
  double rotor_mm3_MJ, rotor_wet, rotor_grit;
};
constexpr std::array<Material, 3> materials = {{
    {17.0, 305, 62, 1.00, 3.0e-4, 0.22, 290, 2.5, 2.8, 0.30, 0.9, 2.6, 1.25, 1.6},
    {12.5, 345, 58, 0.55, 5.0e-4, 0.16, 330, 2.1, 2.2, 0.25, 0.7, 3.6, 1.25, 1.8},
    {7.5, 420, 50, 0.15, 9.0e-4, 0.08, 420, 1.5, 1.4, 0.10, 0.6, 5.5, 1.20, 2.0},
}};
const Material& material(Compound c) { return materials[static_cast<std::size_t>(c)]; }

constexpr double grit_rubbing_mm3_km = 0.06;  // each pad, gritty, brakes open [W6]
constexpr double dry_rubbing_mm3_km = 0.0015; // each pad, dry
constexpr double rotor_grit_mm3_km = 0.025;
constexpr double gas_constant = 8.314462;     // J/(mol K)

// One kind of riding: medians. Energies are of the order of tests/simulated/README.md, which this project measured.
struct Habit {
  double km, kJ_per_km, descent_m_per_km, front_share, rides_per_year, heat_dK, wet, grit, light, mass_kg, bike_mass_kg;
  std::array<double, 3> compound_odds;        // cumulative at organic, semi_metallic
};
constexpr std::array<Habit, kinds> habits = {{
    {17, 55, 95, 0.57, 75, 165, 0.50, 0.45, 0.20, 82, 17, {0.35, 0.60, 1}},      // park, much of it in the wet
    {22, 26, 38, 0.60, 95, 110, 0.25, 0.30, 0.25, 78, 14, {0.45, 0.75, 1}},      // trail
    {20, 2.4, 4, 0.57, 300, 22, 0.20, 0.05, 0.45, 76, 12, {0.60, 0.80, 1}},      // commuter on the flat
    {52, 11, 14, 0.55, 80, 75, 0.20, 0.12, 0.60, 77, 30, {0.55, 0.80, 1}},       // touring
    {9, 13, 9, 0.62, 250, 70, 0.25, 0.06, 0.50, 78, 75, {0.40, 0.70, 1}},        // cargo
    {7.5, 5, 7, 0.60, 280, 35, 0.22, 0.06, 0.45, 74, 16, {0.70, 0.85, 1}},       // city
    {24, 13, 16, 0.60, 150, 80, 0.20, 0.20, 0.40, 84, 24, {0.50, 0.75, 1}},      // e-bike
}};

double logistic(double x) { return 1 / (1 + std::exp(-x)); }

}  // namespace

double usual_pad_wear(Compound c) { return material(c).cold_mm3_MJ; }
std::array<double, 2> usual_decay(Compound c) { return {material(c).decay_degC, material(c).activation_kJ_mol}; }

double hot_factor(Compound c, double decay_degC, double activation_kJ_mol, double pad_degC) {
  const Material& m = material(c);
  const double softer = std::exp(m.softening_per_K * (pad_degC - 20));
  const double friction = 1 - m.fade * logistic((pad_degC - m.fade_degC) / 45);
  // Above some 700 degC nothing is left to decay faster.
  const double T = std::min(pad_degC, 700.0) + 273.15, T0 = decay_degC + 273.15;
  const double decay = m.decay_share * std::exp(activation_kJ_mol * 1000 / gas_constant * (1 / T0 - 1 / T));
  return softer / friction + decay;
}

Rider make_rider(std::uint64_t seed) {
  Draws d(part_of(seed, 1));
  Rider r{};
  r.seed = seed;
  r.kind = static_cast<Kind>(seed % kinds);
  const Habit& h = habits[seed % kinds];
  r.mass_kg = h.mass_kg * d.scatter(0.15);
  r.bike_mass_kg = h.bike_mass_kg * d.scatter(0.08);
  r.km = std::clamp(h.km * d.scatter(0.25), 5.5, 55.0);
  r.log_km_sd = d.uniform(0.15, 0.4);
  r.kJ_per_km = h.kJ_per_km * d.scatter(0.3) * (r.mass_kg + r.bike_mass_kg) / (h.mass_kg + h.bike_mass_kg);
  r.log_kJ_sd = d.uniform(0.2, 0.4);
  r.descent_m_per_km = h.descent_m_per_km * d.scatter(0.2);
  r.front_share = std::clamp(h.front_share + 0.07 * d.normal(), 0.35, 0.8);
  r.rides_per_year = h.rides_per_year * d.scatter(0.25);
  r.air_degC = d.uniform(8, 17);
  r.season_dK = d.uniform(5, 10);
  r.heat_dK = h.heat_dK * d.scatter(0.2);
  r.heat_spread = d.uniform(0.25, 0.45);
  r.wet = std::clamp(h.wet * d.scatter(0.4), 0.03, 0.75);
  r.grit = std::clamp(h.grit * d.scatter(0.4), 0.01, 0.7);
  r.light = std::clamp(h.light + 0.12 * d.normal(), 0.02, 0.95);
  r.soil = d.scatter(spread::soil);
  r.rain_factor = d.scatter(spread::rain);
  r.rubbing = d.scatter(spread::rubbing);
  r.changes_compound = d.chance(0.25);
  r.pressing = d.scatter(spread::pressing);
  r.harsh = d.scatter(spread::harsh);
  for (std::size_t w = 0; w < 2; ++w) {
    const double u = d.uniform();
    Wheel& wheel = r.wheels[w];
    wheel.compound = u < h.compound_odds[0] ? Compound::organic : u < h.compound_odds[1] ? Compound::semi_metallic : Compound::sintered;
    if (w == 1 && d.chance(0.85)) wheel.compound = r.wheels[0].compound;
    wheel.pad_area_mm2 = w == 1 && d.chance(0.8) ? r.wheels[0].pad_area_mm2 : std::round(d.uniform(240, 420));
    wheel.pad_new_mm = w == 1 ? r.wheels[0].pad_new_mm : 0.1 * std::round(10 * d.uniform(1.7, 2.6));
    wheel.pad_limit_mm = 0.5;
    const double diameters[] = {140, 160, 180, 203};
    const double least = r.kind == Kind::commuter ? 0 : r.kind == Kind::park ? 2 : 1;
    wheel.rotor_diameter_mm = diameters[static_cast<std::size_t>(std::min(3.0, least + std::floor(d.uniform(0, 2))))];
    const double outer = wheel.rotor_diameter_mm / 2, inner = outer - d.uniform(13, 16);
    wheel.rotor_area_mm2 = std::round(std::numbers::pi * (outer * outer - inner * inner) * d.uniform(0.6, 0.8));
    wheel.rotor_new_mm = 1.8;
    wheel.rotor_limit_mm = 1.5;
    wheel.clamp_pressure = r.pressing * d.scatter(spread::wheel_pressing) * 300 / wheel.pad_area_mm2;
    wheel.wear_factor = r.harsh * d.scatter(spread::wheel_wear);
    wheel.rotor_factor = d.scatter(spread::wheel_rotor);
    wheel.left_right = spread::wheel_lean * d.normal();
  }
  return r;
}

RiderState begin(const Rider& r) {
  RiderState s;
  s.draws = Draws(part_of(r.seed, 2));
  s.day = s.draws.uniform(0, 365);
  s.habit_energy = 0.12 * s.draws.normal();
  s.habit_km = 0.10 * s.draws.normal();
  s.habit_front = 0.12 * s.draws.normal();
  s.wear_drift = {spread::drift * s.draws.normal(), spread::drift * s.draws.normal()};
  return s;
}

Ride next_ride(const Rider& r, RiderState& s) {
  Draws& d = s.draws;
  // Habits wander and come back (an Ornstein-Uhlenbeck walk, one step a ride).
  const auto walk = [&](double& x, double sd, double rides) {
    const double keep = std::exp(-1 / rides);
    x = keep * x + sd * std::sqrt(1 - keep * keep) * d.normal();
  };
  walk(s.habit_energy, 0.12, 180);
  walk(s.habit_km, 0.10, 120);
  walk(s.habit_front, 0.12, 150);
  for (double& x : s.wear_drift) walk(x, spread::drift, spread::drift_rides);
  s.day += -std::log(d.uniform()) * 365.25 / r.rides_per_year;

  Ride ride{};
  ride.number = ++s.ride;
  ride.day = s.day;
  const double summer = -std::cos(2 * std::numbers::pi * (s.day - 20) / 365.25);   // 1 in July, -1 in January
  ride.air_degC = r.air_degC + r.season_dK * summer + 4 * d.normal();
  ride.km = std::clamp(r.km * std::exp(s.habit_km + r.log_km_sd * d.normal()), 5.0, 60.0);
  const double rain = std::clamp(r.wet * (1 - 0.5 * summer), 0.01, 0.9);
  const bool wet = d.chance(rain);
  ride.wet = wet ? std::min(1.0, d.uniform(0.3, 1.4)) : 0;
  const bool gritty = d.chance(std::min(0.95, r.grit * (wet ? 1.6 : 0.7)));
  ride.grit = gritty ? std::min(1.0, d.uniform(0.2, 1.3)) : 0;
  ride.mud = r.soil * d.scatter(spread::mud);
  ride.light = std::clamp(r.light + 0.15 * d.normal(), 0.0, 1.0);
  const double lively = std::exp(s.habit_energy + r.log_kJ_sd * d.normal()) * (1 - 0.12 * ride.wet);
  const double total_MJ = 1e-3 * r.kJ_per_km * lively * ride.km;
  const double logit = std::log(r.front_share / (1 - r.front_share)) + s.habit_front + 0.15 * d.normal();
  const double front = logistic(logit);
  ride.work_MJ = {total_MJ * front, total_MJ * (1 - front)};
  const double shares[] = {front, 1 - front};
  for (std::size_t w = 0; w < 2; ++w) {
    ride.pad_dK[w] = r.heat_dK * std::pow(lively, 0.7) * std::pow(2 * shares[w], 0.6) * d.scatter(0.12) * (1 - 0.3 * ride.wet);
    ride.wear_scatter[w] = std::exp(s.wear_drift[w]) * d.scatter(spread::ride);
  }
  ride.heat_spread = r.heat_spread;
  ride.descent_m = r.descent_m_per_km * std::sqrt(lively) * ride.km;
  ride.duration_s = ride.km * 1000 / (r.kind == Kind::park || r.kind == Kind::trail ? 4.2 : 5.5) * d.scatter(0.1);
  return ride;
}

PadSet fit_pads(const Rider& r, int wheel, Compound c, double brand_factor, std::uint64_t seed, double spreads) {
  Draws d(seed);
  const Wheel& w = r.wheels[static_cast<std::size_t>(wheel)];
  const Material& m = material(c);
  PadSet p{};
  p.compound = c;
  p.quality = brand_factor * d.scatter(spreads * spread::batch) * (d.chance(spreads * spread::odd_batch_share) ? d.uniform(spread::odd_batch[0], spread::odd_batch[1]) : 1);
  p.decay_degC = m.decay_degC + spreads * spread::decay_degC * d.normal();
  p.activation_kJ_mol = m.activation_kJ_mol * d.scatter(spreads * spread::activation);
  p.bedding = m.bedding * d.scatter(spreads * spread::bedding);
  p.bedding_MJ = 0.5 * d.scatter(spreads * spread::bedding_MJ);
  p.lean = w.left_right + spreads * spread::lean * d.normal();
  p.sway = spreads * spread::sway * d.normal();
  p.thickness_mm = {w.pad_new_mm + spreads * spread::pad_new_mm * d.normal(), w.pad_new_mm + spreads * spread::pad_new_mm * d.normal()};
  p.draws = Draws(part_of(seed, 7));
  return p;
}

std::array<double, 2> wear_pads(const Rider& r, int wheel, const Ride& ride, PadSet& p) {
  const auto w = static_cast<std::size_t>(wheel);
  const Wheel& brake = r.wheels[w];
  const Material& m = material(p.compound);
  Draws& d = p.draws;

  // Left and right: a slow sway, and now and then a piston that sticks, sooner in grit and rain, until the pads come off.
  const double keep = std::exp(-1.0 / 80);
  p.sway = keep * p.sway + spread::sway * std::sqrt(1 - keep * keep) * d.normal();
  const double sticks = d.uniform(), how = d.normal();
  if (sticks < (1 + 3 * ride.wet * ride.grit) / 1500) p.stuck = how < 0 ? -0.12 : 0.12;
  const double lean = std::clamp(p.lean + p.sway + p.stuck, -0.6, 0.6);

  // The work falls at five temperatures around the ride's mean: normal scores of five equal shares.
  constexpr std::array<double, 5> scores = {-1.282, -0.524, 0, 0.524, 1.282};
  std::array<double, 5> spread{};
  double mean = 0;
  for (std::size_t k = 0; k < 5; ++k) mean += (spread[k] = std::exp(ride.heat_spread * scores[k])) / 5;
  double hot = 0, hottest = 0;
  for (const double s : spread) {
    hottest = ride.air_degC + ride.pad_dK[w] * s / mean;
    hot += hot_factor(p.compound, p.decay_degC, p.activation_kJ_mol, hottest) / 5;
  }
  // Wear per work falls a little with pressure and with speed (here: with harder, later braking).
  const double pressure = std::pow(brake.clamp_pressure, pressure_power) * (1 + 0.15 * (ride.light - 0.4));
  const double glazed = 1 - m.glazing * p.glaze;
  const double wet = 1 + ride.wet * (m.wet - 1) * r.rain_factor;
  const double slurry = ride.grit * ride.mud * (1 + 0.5 * ride.wet);

  std::array<double, 2> worn{};
  for (std::size_t side = 0; side < 2; ++side) {
    const double work = 0.5 * ride.work_MJ[w] * (1 + (side == 0 ? lean : -lean));
    const double done = p.work_MJ[side] / p.bedding_MJ;
    const double bedding = 1 + p.bedding / ((1 + done) * (1 + done));
    const double rubbed = m.cold_mm3_MJ * work * pressure * (hot * glazed * wet * bedding + slurry * m.grit_energy);
    const double passing = ride.km * (dry_rubbing_mm3_km + slurry * grit_rubbing_mm3_km * r.rubbing) * m.cold_mm3_MJ / 17;
    const double volume = (rubbed + passing) * p.quality * brake.wear_factor * ride.wear_scatter[w] * d.scatter(0.05);
    worn[side] = std::min(volume, p.thickness_mm[side] * brake.pad_area_mm2);
    p.thickness_mm[side] = std::max(0.0, p.thickness_mm[side] - volume / brake.pad_area_mm2);
    p.work_MJ[side] += work;
  }
  // Long light braking glazes; hard braking, water and grit wear the glaze off.
  const double own = 0.5 * ride.work_MJ[w];
  p.glaze += (1 - p.glaze) * (1 - std::exp(-0.10 * own * ride.light)) - p.glaze * (1 - std::exp(-0.15 * own * (1 - ride.light) - 0.5 * slurry));
  p.glaze = std::clamp(p.glaze, 0.0, 1.0);
  // Resin pads swell in a layer after heat; the next cold rides wear it off.
  p.swell_mm = std::max(0.7 * p.swell_mm, 0.04 * m.decay_share * std::clamp((hottest - 230) / 150, 0.0, 1.0));
  return worn;
}

Rotor fit_rotor(const Rider& r, int wheel, std::uint64_t seed) {
  Draws d(seed);
  return {.quality = d.scatter(spread::rotor), .thickness_mm = r.wheels[static_cast<std::size_t>(wheel)].rotor_new_mm + spread::rotor_new_mm * d.normal()};
}

double wear_rotor(const Rider& r, int wheel, const Ride& ride, Compound c, Rotor& rotor) {
  const auto w = static_cast<std::size_t>(wheel);
  const Wheel& brake = r.wheels[w];
  const Material& m = material(c);
  const double slurry = ride.grit * ride.mud * (1 + 0.5 * ride.wet);
  const double factor = 1 + ride.wet * (m.rotor_wet - 1) + slurry * m.rotor_grit + 8e-4 * ride.pad_dK[w];
  const double volume = (m.rotor_mm3_MJ * ride.work_MJ[w] * factor + ride.km * slurry * rotor_grit_mm3_km) * rotor.quality * brake.rotor_factor *
                        std::sqrt(ride.wear_scatter[w]);
  const double worn = std::min(volume, rotor.thickness_mm * brake.rotor_area_mm2);
  rotor.thickness_mm = std::max(0.0, rotor.thickness_mm - volume / brake.rotor_area_mm2);
  return worn;
}

Rider made_usual(Rider r) {
  r.soil = r.rain_factor = r.rubbing = r.pressing = r.harsh = 1;
  for (Wheel& w : r.wheels) {
    w.clamp_pressure = w.wear_factor = w.rotor_factor = 1;
    w.left_right = 0;
  }
  return r;
}

PadSet usual_pads(const Rider& r, int wheel, Compound c) {
  const Material& m = material(c);
  PadSet p{};
  p.compound = c;
  p.quality = 1;
  p.decay_degC = m.decay_degC;
  p.activation_kJ_mol = m.activation_kJ_mol;
  p.bedding = m.bedding;
  p.bedding_MJ = 0.5;
  p.lean = 0;
  p.thickness_mm = {r.wheels[static_cast<std::size_t>(wheel)].pad_new_mm, r.wheels[static_cast<std::size_t>(wheel)].pad_new_mm};
  return p;
}

}  // namespace worn
