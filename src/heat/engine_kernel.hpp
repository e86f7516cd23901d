// SPDX-License-Identifier: Apache-2.0
// What engine.cpp and the vector code of engine_kernel.cpp share: plain tables, cases in the lanes.       Layer: heat
// Theory: docs/models/heat.md, "The engine".                                                    Not a public header.
#pragma once
#include <array>
#include <cstddef>
#include <cstdint>

namespace bw::heat::engine {

inline constexpr int W = 16;   // cases in a block: the same for every target, so that bytes do not depend on it

// Right-hand sides of the operator besides the state itself [W].
enum Source { POWER, LOSS, ARMS_FLOW, source_n };
enum Bodies { B_ROTOR, B_CALIPER, B_ARMS, B_HUB, body_n };

inline constexpr int probe_n = 5;
// Of the parabola less its first cosine: mid-plane over face, (6/π² - 1/2)/(1 - 6/π²).
inline constexpr double mid_of_rest = 0.27527369;

// Where the states stand for friction order P, M rotor modes and Q plate modes besides the means, S sides (1: both alike). Of the other
// side each stands `block` behind that of this side.
template <int P, int M, int Q, int S> struct Layout {
    static constexpr int block = P + 4 + Q, n = 2 + M + S * block;
    static constexpr int rotor = 0, face = 1 + M, joint = face + P, plate = joint + 1, plate_mode = plate + Q, piston = plate_mode + 1;
    static constexpr int fluid = piston + 1, caliper = n - 1;
};

// The operator before the exponential: rates [1/s] and sources [K/J] of one contact state, [row][column][lane].
template <int N> struct alignas(64) Generator {
    double a[N][N + source_n][W];
    double rotor[N + source_n][W];   // propagators only: integral of the rotor's mean over the step [K s]
};

// exp(A h) - 1 and its integrals for one contact state and step length.
template <class T, int N, int S> struct alignas(64) Propagator {
    T d[N][N + source_n][W];
    T mean[N + POWER + 1][W];   // rotor's mean over the step less its start
    T mean_of_rise[W];      // rotor: mean of the surface = mean over the step + this × rise of the mean
    T mode_back[W];         // minus this × rise of the mode
    T loss_feedback[W];     // fall of the mean surface per W of loss
    T loss_half[W], arms_half[W], arms_feedback[W];
    T caliper_half[W];      // half the step over the caliper's capacity [K/W]; of arms_half the same while open, of the rotor's
    T probe[S * probe_n][N][W];  // plate within the step, for the step behind a release: at 1/32, 1/16 .. 1/2 of it
    T probe_of[S * probe_n][source_n][W];   // closed: of a watt made, lost at the rotor, gone into the arms
    T face_probe[S * probe_n][N][W], face_of[S * probe_n][source_n][W];   // closed: the pad's face at the same times
    T pad_probe[S * probe_n][N][W], pad_of[S * probe_n][source_n][W];     // and the pad's mean
    T rotor_probe[probe_n][N][W], rotor_of[probe_n][source_n][W];         // and the rotor's
    T settle[W];            // time constant of the rotor's thickness over the step
    T face_link[W];         // rotor's face to its mean [W/K]
    T surface_pad[W], surface_rotor[W], surface_W[W];   // surface = pad face, rotor mean, W at the face
    // Two sides: the mean of both faces takes the other pad too; half their difference, and the watts that differ per kelvin of it.
    T surface_other[W], apart_pad[W], apart_other[W], apart_rotor[W], apart_W[W], apart_link[W];
    double probe_s[probe_n];     // times of the probes; while open 1/32 to 1/2 of the step. Last, since vectors are aligned
};

// Arms and hub over one step length; both fed by the rotor's mean over the step.
template <class T> struct alignas(64) Side {
    T aa[W], ah[W], ar[W], ala[W], alh[W];   // rise of the arms by arms, hub, rotor, losses of arms and hub
    T ha[W], hh[W], hr[W], hla[W], hlh[W];
    T ma[W], mh[W], mr[W], mla[W], mlh[W];   // mean of the arms over the step
};

inline constexpr int piston_rates = 6;
template <class T> struct alignas(64) LaneData {
    T half_scale[W];                        // power of the wheel to power of the half
    T closed_above[W];                      // power of the wheel above which the lane is closed
    T conv_a[body_n][W], conv_b[body_n][W], conv_m[body_n][W];   // times area
    T radiation[body_n][W];
    T ambient_K[W], ambient4[W];
    T arms_link[W], hub_link[W], arms_per_J_K[W];
    T piston_rate[2 * piston_rates][W];     // of the joint, plate, its mode, piston, fluid, caliper [1/s]; of the other side behind them
    T start[W];                             // above ambient
};

// The rotor along its radius, as shape modes of its deviation from the mean [EQ heat-31].
inline constexpr int ring_modes = 8, ring_places = 12;
template <class T> struct alignas(64) RingLength {
    T keep[ring_modes][W];                   // what is left of a mode after the step
    T gain[ring_modes][W];                   // rise of a mode per W [K/W]
    T sink[W];                               // fall of the inner ring, halfway, per W into the arms [K/W]
    T damped[W];                             // 1/(1 + arms' link × that)
};
template <class T> struct alignas(64) Rings {
    T heat[ring_modes][W];                   // of a watt at the track
    T loss[ring_modes][W];                   // of a watt lost at the mean temperature
    T rim[ring_modes][W], inner[ring_modes][W];   // the mode at the rim and at the arms
    T most[ring_modes][W];                   // largest of the mode at the places
    T at[ring_places][ring_modes][W];        // the mode at places over the track
    T rim_share[W], cover_share[W];          // rim, and what the pad covers, over the losing area
    T per_J_K[W], arms_per_J_K[W];           // 1/capacity of rotor and arms [K/J]
    T surface_in[W], surface_loss[W];        // ring's surface over its mean [K/W]
    // state and result
    T a[ring_modes][W], mean[W], arms[W];    // of the modes; mean and arms less those of the run
    T hottest[W];
    T top[W];                                // hottest place at the end of the step, of closed ones alone; made where keep_top
    bool keep_top;
    const RingLength<T>* length;             // [lengths]
};

// What a step of the run hands to the pass along the radius; by memory, so that the pass stands apart.
enum RingInput { R_HEAT, R_LOSS, R_SLOPE, R_BEND, R_FLOW, R_MEAN, R_ARMS_BEFORE, R_ARMS_AFTER, ring_input_n };

enum class Contact : std::uint8_t { open, closed, mixed };

struct Step {
    int length = 0;              // index of its step length
    Contact contact = Contact::open;
    bool row_end = false;        // a row of the input ends with this step
    bool released = false;       // the first open one behind a closed one
    bool probed = false;         // open for all, and its propagator can look within it
    bool fell = false, began = false;   // closed for all: behind a fall of the power, no other change since; the first one
    double h_s = 0, end_s = 0, power_W = 0;
    float drying_W = 0;          // of the half brake, mean over joined rows
    float log_speed = 0;         // used where exponents differ from case to case
    std::array<float, body_n> speed_power{};   // v^m, mean over joined rows
};

enum Out { O_SURFACE, O_MID, O_MEAN, O_PAD_FACE, O_PAD_MEAN, O_PLATE, O_PISTON, O_FLUID, O_CALIPER, O_ARMS, O_HUB, out_n,
           O_OTHER_SURFACE = out_n, O_OTHER_PAD_FACE, O_OTHER_PAD_MEAN, O_OTHER_PLATE, O_OTHER_PISTON, O_OTHER_FLUID, both_n };
constexpr int outs_of(int sides) { return sides == 1 ? int(out_n) : int(both_n); }

template <class T, int N, int S> struct alignas(64) Block {
    const Propagator<T, N, S>* const* open;     // [lengths]
    const Propagator<T, N, S>* const* closed;   // [lengths]
    const Side<T>* side;                     // [lengths]
    const LaneData<T>* lanes;
    const double* friction_share;            // [P + 1]
    const Step* steps;
    std::size_t step_n;
    bool exponents_differ;
    T* trace;                                // [row ends][outs + 1][W] or null; the last is the pad's flow [W]
    T* ring_trace;                           // [row ends][W] or null: the hottest place of the rings
    Rings<T>* rings;                         // or null
    // results
    alignas(64) T state[N][W];
    T arms[W], hub[W];
    T lost_J[W], lost_low_J[W];              // sum and what rounding left out of it
    T peak[outs_of(S)][W], fluid_peak_s[W];
};

enum class Isa : std::uint8_t { avx2, avx512, neon };

// Base step and doublings: ladder[k] is the generator's propagator over base_s·2^k, k = first .. last.
template <int N> struct Ladder {
    double base_s;                           // shortest step that is written
    int halvings;                            // of base_s before the series
    int last;
    Generator<N>* rung;                      // [last + 1]
};

// One table of functions per target and precision; null where the machine lacks it.
template <class T, int P, int M, int Q, int S> struct Functions {
    void (*run)(Block<T, Layout<P, M, Q, S>::n, S>&, int lanes);
    void (*ladder)(const Generator<Layout<P, M, Q, S>::n>&, const Ladder<Layout<P, M, Q, S>::n>&);
    void (*combine)(Generator<Layout<P, M, Q, S>::n>& sum, const Generator<Layout<P, M, Q, S>::n>& more);   // sum := sum then more
};
template <class T, int P, int M, int Q, int S> Functions<T, P, M, Q, S> functions(Isa isa);
// The pass along the radius of one case, lane 0 of r: inputs of each step. tops: [count], written where r.keep_top; of closed steps.
using RingPass = void (*)(Rings<double>& r, const Step* steps, int count, const double* arms_link, const double (*inputs)[ring_input_n], double* tops);
RingPass ring_pass_of(Isa isa);
bool supported(Isa isa);

// What is compiled. A thicker or poorer layer, or shorter rows, take a richer one.
#define BW_ENGINE_LAYOUTS(X) X(3, 0, 0, 1) X(4, 0, 0, 1) X(6, 0, 1, 1) X(10, 1, 1, 1) X(4, 0, 0, 2)

}  // namespace bw::heat::engine
