// SPDX-License-Identifier: Apache-2.0
// Outside checks of the sharing between wheels, skid and trailer: mechanics worked by hand, none of our constants.
#include <gtest/gtest.h>

#include <cmath>

#include "balance/balance.hpp"
#include "row.hpp"

using namespace bw;
using validation::Basis;
using validation::check;

namespace {

constexpr double g = 9.80665;   // 3rd CGPM, 1901
const balance::Geometry alone{.mass_kg = 100, .wheelbase_m = 1.05, .height_m = 1.1, .from_front_m = 0.6};
const balance::Geometry towing{.mass_kg = 100, .wheelbase_m = 1.05, .height_m = 1.1, .from_front_m = 0.6, .trailer_kg = 50, .push_height_m = 0.4};

}  // namespace

TEST(BalanceValidation, ForceOfABikeWithATrailerDownhill) {
    check({.id = "balance-01", .what = "100 kg with a trailer of 50 kg, 2 m/s2 down 8 % -> force of the bike's tyres", .source = "Newton: F = (m + M)(a - g sin theta), by hand 150 x (2 + 9.80665 x 0.0797452)",
           .basis = Basis::exact, .expected = 417.305, .tolerance = 0.001, .unit = "N", .why = "worked with 6 digits", .function = "balance::braking_for", .used_by_answer = true},
          balance::braking_for(towing, 2, -0.08));
}

TEST(BalanceValidation, PitchOverWithAPushAtTheHitch) {
    // Moments about the front contact, two bodies: m g b = m a h + M a h_hitch.
    check({.id = "balance-02", .what = "the same on the level, hitch 0.4 m high -> deceleration at which the rear wheel lifts", .source = "moments about the front contact: g m b/(m h + M h_hitch), worked by hand",
           .basis = Basis::exact, .expected = 9.80665 * 60 / 130, .tolerance = 1e-9, .unit = "m/s2", .why = "rounding only", .function = "balance::rear_lift_limit", .used_by_answer = true},
          balance::rear_lift_limit(towing, 0).deceleration_mps2);
}

TEST(BalanceValidation, LoadOnTheFrontWheelWithAPushAtTheHitch) {
    check({.id = "balance-03", .what = "the same at 3 m/s2 -> front wheel load", .source = "moments about the rear contact: (m g (L - b) + m a h + M a h_hitch)/L, worked by hand", .basis = Basis::exact,
           .expected = (100 * g * 0.45 + 100 * 3 * 1.1 + 50 * 3 * 0.4) / 1.05, .tolerance = 1e-9, .unit = "N", .why = "rounding only", .function = "balance::wheel_loads", .used_by_answer = true},
          balance::wheel_loads(towing, 3, 0).front_N);
}

TEST(BalanceValidation, ARearWheelAskedForMoreThanItHolds) {
    // 4 m/s2, grip 0.8: the rear tyre holds 0.8 (m g b - m a h)/L = 113.07 N of the 280 N that a habit of 0.3 asks.
    const std::string source = "Coulomb friction and moments, worked by hand; a locked wheel turns no rotor, so its work is the tyre's";
    const balance::WheelPower w = balance::wheel_power(alone, {.habit = 0.3, .grip = 0.8, .skid_share = 0.25}, 2000, 5, 4, 0, 0);
    check({.id = "balance-04", .what = "100 kg at 5 m/s, 2 kW, habit 0.3, grip 0.8, sliding a quarter of the time -> front rotor", .source = source, .basis = Basis::exact, .expected = 2000 - 565.33,
           .tolerance = 0.01, .unit = "W", .why = "worked with 5 digits", .function = "balance::wheel_power", .used_by_answer = true}, w.front_rotor_W);
    check({.id = "balance-05", .what = "the same -> rear tyre and road", .source = source, .basis = Basis::exact, .expected = 0.25 * 565.33, .tolerance = 0.01, .unit = "W", .why = "worked with 5 digits",
           .function = "balance::wheel_power", .used_by_answer = true}, w.rear_tyre_W);
}

TEST(BalanceValidation, ATrailerThatBrakesItself) {
    balance::Geometry own = towing;
    own.trailer_own_share = 0.6;
    // The whole needs F = 150 a; the trailer 50 a of it, and it does 0.6 of that itself: 30/150.
    check({.id = "balance-06", .what = "trailer of 50 kg behind 100 kg, 0.6 of its own need braked by itself, 1 kW -> trailer's brake", .source = "Newton, shares by mass: 0.6 x 50/150", .basis = Basis::exact,
           .expected = 200, .tolerance = 1e-9, .unit = "W", .why = "rounding only", .function = "balance::wheel_power", .used_by_answer = true},
          balance::wheel_power(own, {.habit = 0.6, .grip = 0.9}, 1000, 5, 1, 0, 0).trailer_W);
}
