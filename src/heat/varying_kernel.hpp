// SPDX-License-Identifier: Apache-2.0
// What varying.cpp and the vector code of varying_kernel.cpp share: brakes with properties over temperature.  Layer: heat
// Theory: docs/models/heat.md [EQ heat-32].                                                    Not a public header.
#pragma once
#include <cstddef>

#include "engine_kernel.hpp"

namespace bw::heat::engine::varying {

inline constexpr int rotor_n = 10, friction_n = 18, plate_n = 4;           // cells
inline constexpr int rotor_face = rotor_n, pad_face = rotor_n + 1, friction_0 = rotor_n + 2, plate_0 = friction_0 + friction_n;
inline constexpr int chain_n = plate_0 + plate_n;
inline constexpr int most_points = 16;

// value(T) = first + Σ bend·max(T - at, 0): linear between the points of a table, constant beyond. T above ambient.
struct Property {
    double first[W];
    double at[most_points][W], bend[most_points][W];
    double zero_J[W];                        // integral up to the start temperature
};

enum Layer { L_ROTOR, L_FRICTION, L_PLATE, layer_n };

struct alignas(64) Brakes {
    Property conductivity[layer_n], heat_capacity[layer_n];
    double mass[chain_n][W];                 // of cells [kg]; faces 0
    double link[chain_n - 1][W];             // to the next node over the conductivity [m]; the contact's place is not used
    double joint_friction[W], joint_plate[W];   // half cells at the joint: resistance × conductivity [1/m]
    double volume[chain_n][W];               // shares: rotor cells sum to 1, friction cells to 1, plate cells to 1
    double contact[W], gap[W];               // [W/K]
    double half_scale[W], closed_above[W];
    double conv_a[body_n][W], conv_b[body_n][W], radiation[body_n][W];
    double ambient_K[W], ambient4[W], start[W];   // start above ambient
    double piston[W], fluid[W], caliper[W], arms[W], hub[W];   // [J/K]
    double plate_piston[W], plate_caliper[W], piston_caliper[W], piston_fluid[W], fluid_caliper[W], rotor_arms[W], arms_hub[W];
    double mid_0[W], mid_1[W];
    int points[2][layer_n];                  // most of any lane; [0] conductivity, [1] heat capacity
};

struct Step {
    double h_s = 0, end_s = 0, power_W = 0;
    std::size_t row = 0;
    bool row_end = false;
};

struct alignas(64) Speeds { double power[body_n][W]; };   // v^m of each lane

struct alignas(64) Block {
    const Brakes* brakes;
    const Step* steps;
    std::size_t step_n;
    const Speeds* speeds;                    // [rows]
    double* trace;                           // [row ends][out_n + 1][W] or null; the last is the pad's flow [W]
    // results
    alignas(64) double end[out_n][W];
    double made_J[W], lost_J[W], stored_J[W];
    double peak[out_n][W], fluid_peak_s[W];
};

using Run = void (*)(Block&);
Run run_of(Isa isa);   // null where the machine lacks it

}  // namespace bw::heat::engine::varying
