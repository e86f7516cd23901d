// SPDX-License-Identifier: Apache-2.0
// What engine.cpp and the vector code of one_kernel.cpp share: one case, its states in the lanes.        Layer: heat
// Theory: docs/models/heat.md, "The engine", EQ heat-42.                                        Not a public header.
#pragma once
#include <cstddef>
#include <span>

#include "engine_kernel.hpp"
#include "heat/reference.hpp"

namespace bw::heat::engine::one {

// Lanes of a column: the four bodies that lose heat, the means of the same over the step, the other states.
inline constexpr int lanes_most = 24, states_most = 20, rest_at = 8, source_count = 5, looks = 6, row_values = 13, march_most = 64;   // march_most: steps of one call
// What a step is looked into for, in the lanes of a matrix of their own: the bodies that lose heat, then these.
enum Looked { L_FACE = 4, L_PAD, L_PLATE, L_PISTON, L_FLUID, looked, looked_lanes = 16 };
enum Body { ROTOR, CALIPER, ARMS, HUB, bodies };
enum Sources { S_POWER, S_LOSS };   // the losses of the four bodies from S_LOSS on
constexpr int lane_of(int state) { return state < bodies ? state : state + bodies; }
// Of a column: each begins on 64 bytes, for the widest vectors are loaded whole.
template <class T> inline constexpr int stride = sizeof(T) == 4 ? 32 : lanes_most;
static_assert(stride<float> * sizeof(float) % 64 == 0 && stride<double> * sizeof(double) % 64 == 0 && stride<float> >= lanes_most);
constexpr int lanes_for(int states) { return states + bodies <= 16 ? 16 : lanes_most; }

// Columns: the states, the sources. Lanes of states: exp(A h) - 1 and its integrals [K/K, K/W]. Lanes of the means: integral over
// the step [K s] in a rung; in the matrix of a step the mean less the start, for the rotor that of its surface.
template <class T> struct alignas(64) MatrixOf {
    T column[states_most + source_count][stride<T>];
    T feedback[bodies];   // matrix of a step: fall of that mean per W of the body's own loss
};
using Matrix = MatrixOf<double>;

// What a watt lost in one step changes of the product of the next: the columns of the losses, through its matrix.
template <class T> struct alignas(64) Carried {
    T column[bodies][stride<T>];
    T over[bodies][bodies];   // and of the means of that step less what the bodies were before those losses
};

// Lanes of the means hold nothing of worth: the march writes them as it goes.
struct alignas(64) State {
    double lane[lanes_most];
};
// What a step did: losses [W] and means over the step less the start, before its own losses.
struct alignas(64) Done {
    double loss_W[bodies], away[bodies];
};

template <class T> struct alignas(64) Constants {
    T conv_a[bodies], conv_b[bodies], radiation[bodies];   // times area
    T ambient_K;
    double half_scale;
};

// What is not a state itself, of a step: constants, and what becomes of it over the run.
struct Derived {
    double surface_pad[2], surface_rotor[2], surface_W[2];   // rotor's surface of pad face, rotor, W at it; open and closed
    double share[states_most];                               // of the friction layer's nodes in its mean
    double into_rotor_W_K, ambient_degC;
};
struct Tops {
    double surface, mid, pad_mean, fluid, fluid_s, lost_J[bodies];   // temperatures above ambient
};

// The march in a precision; what it hands on is in double precision.
template <class T> using March = void (*)(const Constants<T>& c, const MatrixOf<T>* const* matrix, const Carried<T>* const* carried, const Step* steps, int count, int states, State* state, Done* done, State& peak, unsigned char* top);

// A temperature at many times within a step: what is added to its start, times in the lanes. Column by column: the states, the sources.
struct alignas(64) EightTimes {
    double lane[8];
};

struct Functions {
    // Whether rows hold what check_rows() asks of them, behind one at before_s [s]; without saying where not.
    bool (*in_order)(std::span<const PowerRow> rows, double before_s);
    // In place, of values >= 0.
    void (*roots)(double* v, int count);
    // c := a b over the states (own: + 2 a), all columns.
    void (*multiply)(const Matrix& a, const Matrix& b, Matrix& c, int states, bool own);
    // count steps from state[1] on: state[k + 2] and done[k + 1] are made by steps[k] with matrix[k]; carried[k] leads to step k + 1,
    // any after the last.
    // state[0] is the one before the first. top[k]: of state k, k + 1, k + 2 the middle one is a largest that may stand for a top above
    // the peak. peak: of states at ends of steps.
    March<double> march;
    March<float> march_single;
    // Behind a march, of its steps: rotor's surface, mid-plane and the pad's mean at their ends from [1] on; rows as HeatState has them unless null,
    // as many as are returned. next: steps[count] is there.
    int (*derive)(const Derived& c, double half_scale, const Step* steps, int count, bool next, int states, const State* state, const Done* done, double* surface, double* mid, double* pad_mean, Tops& tops, double* rows);
    // Which of what is looked for may top within a step: where the tangent at its start or at its end passes the peak. slope: of those lanes [1/s];
    // value, end_value, peak: [looked_lanes].
    unsigned (*may_top)(const Matrix& slope, const State& from, const State& to, const double* value, const double* end_value, const double* peak, double power_W, double h_s, const Done& done, int states);
    // The largest rise of one of them over its start within the step, with its power and losses held: eights vectors of times, [states + sources][eights].
    double (*rise_within)(const EightTimes* times, int eights, const State& from, double power_W, const Done& done, int states);
};
Functions functions(Isa isa);

}  // namespace bw::heat::engine::one
