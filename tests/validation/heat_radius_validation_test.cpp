// SPDX-License-Identifier: Apache-2.0
// The rotor's hottest ring against the rotor in radius and thickness on CVODE (tests/heat/by_radius.hpp), which shares no code and
// no constants with src/heat and is itself judged by closed forms and by a finite-element program.
#include <gtest/gtest.h>

#include <algorithm>

#include "brake_like.hpp"
#include "heat/engine.hpp"
#include "heat/radius.hpp"
#include "row.hpp"

namespace {

using namespace bw::heat;
using namespace bw::heat::test;
using bw::validation::Basis;
using bw::validation::check;

enum class Arms { there, none };

// A pad with straight sides: what it rubs faster further out it covers less of, so that its heat is even over the track.
void ring(const char* id, const char* engine_id, const char* what, const std::vector<AnnulusInput>& rows, Arms arms) {
    Annulus a = ordinary_annulus();
    a.coverage = straight_pad(0.025);
    if (arms == Arms::none) a.arms_W_K = 0;
    double hottest = 0;
    for (const AnnulusRow& r : solve_by_radius(a, rows, {.radial_cells = 56}).rows) hottest = std::max(hottest, r.hottest_degC);
    const ReferenceBrake brake = brake_like(a);
    const std::vector<PowerRow> power = power_of(rows);
    const auto run = solve(brake, power, {.tolerance_K = 0.02});
    ASSERT_TRUE(run);
    const auto pass = along_radius(brake, {a.inner_m, a.outer_m, a.pad_inner_m, a.pad_outer_m}, power, run->rows);
    ASSERT_TRUE(pass) << pass.error().text;
    check({.id = id, .what = what, .source = "SUNDIALS CVODE, the rotor in radius and thickness, equations and nodes of the test's own; judged by CalculiX 2.20 and closed forms",
           .basis = Basis::library, .expected = hottest, .tolerance = 3, .unit = "degC", .why = "asked for: 3 K", .function = "heat::along_radius"}, pass->hottest_ring_degC);
    const RotorBand band{a.inner_m, a.outer_m, a.pad_inner_m, a.pad_outer_m};
    const auto modes = solve_many({}, std::span(&brake, 1), power, {.precision = Precision::double_precision, .bands = std::span(&band, 1)});
    ASSERT_TRUE(modes) << modes.error().text;
    check({.id = engine_id, .what = std::string(what) + ", by the engine's shape modes", .source = "as the row before", .basis = Basis::library, .expected = hottest, .tolerance = 3, .unit = "degC",
           .why = "asked for: 3 K", .function = "heat::solve_many", .used_by_answer = true}, modes->cases.front().hottest_ring_degC);
}

TEST(HeatValidation, TheHottestRingIsThatOfARotorInRadiusAndThickness) {
    ring("heat-51", "heat-55", "hottest ring on a drag, 300 W of the wheel for ten minutes", annulus_drag(), Arms::there);
    ring("heat-52", "heat-56", "hottest ring on eight hard stops, rows of 0.1 s", annulus_stops(8), Arms::there);
    ring("heat-53", "heat-57", "the drag, no heat into the arms", annulus_drag(), Arms::none);
    ring("heat-54", "heat-58", "the stops, no heat into the arms", annulus_stops(8), Arms::none);
}

}  // namespace
