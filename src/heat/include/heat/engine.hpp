// SPDX-License-Identifier: Apache-2.0
// Many brakes on one path at once: a reduced network, propagated exactly, cases in the vector lanes.       Layer: heat
// Theory: docs/models/heat.md, "The engine". Verifier: solve() of heat/reference.hpp.       Pure functions: any thread.
#pragma once
#include <cstdint>
#include <span>
#include <string>
#include <vector>

#include "base/context.hpp"
#include "heat/radius.hpp"
#include "heat/reference.hpp"

namespace bw::heat {

enum class Precision : std::uint8_t { single_precision, double_precision };
//! Vector instructions: the best of this machine, or one kind. The bytes do not depend on it.
enum class Vectors : std::uint8_t { best, avx2, avx512, neon };

struct ManyOptions {
    Precision precision = Precision::single_precision;
    Vectors vectors = Vectors::best;
    Keep keep = Keep::peaks_only;      //!< rows: states of every case at every row
    double cool_down_s = 0;            //!< as in SolveOptions
    double longest_closed_s = 1;       //!< longest step while the brake is on, > 0
    double longest_open_s = 4;         //!< and while it is off, where but for a second no step is longer than the time since; rows are joined up to it unless they are kept
    std::span<const RotorBand> bands = {};   //!< [brakes]: the rotor along its radius too; empty = not. With properties over temperature found from the rows [EQ heat-30]
    int friction_order = 0;            //!< order of the friction layer's element: 3, 4, 6 or 10; 0 = by the layer and the rows
};

struct CaseRun {
    HeatPeaks peaks;                   //!< at the ends of steps; t_s is NaN but for the fluid
    HeatEnergy energy_J;
    HeatState end;
    double hottest_ring_degC = 0;      //!< with a band: largest surface temperature of any ring, at the ends of steps [EQ heat-31]; NaN without
    HeatRows rows;                     //!< [rows] with Keep::rows
    std::vector<OtherSideState> other_rows;   //!< [rows] with Keep::rows where the brake's sides differ
    std::vector<double> ring_rows_degC;       //!< [rows] with Keep::rows and a band: hottest ring at that time, NaN unless the brake was closed up to it
};
struct ManyRuns {
    std::vector<CaseRun> cases;        //!< [brakes]
    std::string isa;                   //!< what ran: "avx2" (on any x86 for up to four brakes), "avx512", "neon"
    std::size_t steps = 0;             //!< of the longest schedule
    std::size_t by_plain_solver = 0;   //!< cases that solve() took: account not closed, past 2500 degC (some 20 kW for seconds), no layout, or no such vectors here
};

//! Temperatures of every brake on the same rows. brakes: [n], n >= 1; rows as for solve().
//! Within 1 K of solve() (on thirds of its cells) at every row of up to a second and 0.5 K in the peaks (tests/heat/engine_test.cpp). Not held: where power
//! jumps while braking goes on (five thousand rides, brakes drawn wide), among others some twenty peaks, mostly of pad's mean, plate and piston (0.9 K off at most; alone 0.5 K
//! in two thousand); behind a hot start a piston among others (0.75 K too high) or a plate alone (0.64 K); 25 m/s in steps of 4 s (2.8 K in a row or peak).
//! A single brake of two like sides runs a program of its own [EQ heat-42], within 0.3 K in every row of what it gets among others.
//! A case whose account does not close (account_closes), or that passes 2500 degC, is not handed out: solve()
//! takes it. Just below, the pad's mean was seen 2 K too low (15 kW for 5 s). Tables over temperature have no such guard.
//! Energy closes to 1e-9 of what was made in double precision, 1e-5 in single (of a hot start: of what was stored or lost, if that is more).
//! Row times are taken to a common tick, 1 ms or more where there is one; energy of a row is kept.
//! A case gets the same bytes on any number of threads, with any vector instructions, and (among at least two) in any company in which the same
//! rows are braked and the exponents of convection differ in at most eight ways.
//! Fails with bad_input (also where the machine lacks the vector instructions asked for) or cancelled.
Result<ManyRuns> solve_many(const Context& ctx, std::span<const ReferenceBrake> brakes, std::span<const PowerRow> rows, const ManyOptions& options);

//! Whether made, stored and lost close to what solve_many promises: 1e-9 of the largest of the three in double precision, 1e-5 in single, of a kilojoule
//! at least.
bool account_closes(const HeatEnergy&, Precision);

//! What `Vectors::best` means here: "avx512", "avx2", "neon", or "none" (solve_many then runs solve() for each case).
std::string best_vectors();

}  // namespace bw::heat
