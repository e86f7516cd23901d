// SPDX-License-Identifier: Apache-2.0
// The engine for many cases against the plain solver, its books, and the sameness of its bytes.
// The plain solver shares no discretisation and no time stepping with the engine; it is itself held to CVODE and closed
// forms (solve_test.cpp, cvode_test.cpp).
#include "heat/engine.hpp"

#include <gtest/gtest.h>
#ifdef __GLIBC__
#include <malloc.h>
#endif

#include <algorithm>
#include <cmath>
#include <cstdio>
#include <cstdlib>
#include <numbers>
#include <string>

#include "by_cvode.hpp"
#include "random_brakes.hpp"

namespace {

using namespace bw;
using namespace bw::heat;
using test::ordinary_brake;
using test::random_brake;
using test::random_ride;

struct Place {
    const char* name;
    double HeatState::*value;
    HeatPeaks::Peak HeatPeaks::*peak;
};
constexpr Place places[] = {{"rotor_surface", &HeatState::rotor_surface_degC, &HeatPeaks::rotor_surface},
                            {"rotor_mid", &HeatState::rotor_mid_degC, &HeatPeaks::rotor_mid},
                            {"rotor_mean", &HeatState::rotor_mean_degC, &HeatPeaks::rotor_mean},
                            {"pad_face", &HeatState::pad_face_degC, &HeatPeaks::pad_face},
                            {"pad_mean", &HeatState::pad_mean_degC, &HeatPeaks::pad_mean},
                            {"plate", &HeatState::plate_degC, &HeatPeaks::plate},
                            {"piston", &HeatState::piston_degC, &HeatPeaks::piston},
                            {"fluid", &HeatState::fluid_degC, &HeatPeaks::fluid},
                            {"caliper", &HeatState::caliper_degC, &HeatPeaks::caliper},
                            {"arms", &HeatState::arms_degC, &HeatPeaks::arms},
                            {"hub", &HeatState::hub_degC, &HeatPeaks::hub}};

constexpr HeatPeaks::Peak HeatPeaks::* other_peaks[] = {&HeatPeaks::other_rotor_surface, &HeatPeaks::other_pad_face, &HeatPeaks::other_pad_mean,
                                                      &HeatPeaks::other_plate, &HeatPeaks::other_piston, &HeatPeaks::other_fluid};

bool machine_can() { return best_vectors() != "none"; }
#define NEEDS_VECTORS() \
    if (!machine_can()) GTEST_SKIP() << "no fused multiply-add on this machine: solve_many runs the plain solver"

// Everything that a run returns, as bytes.
std::string bytes_of(const ManyRuns& r, std::size_t i) {
    std::string out;
    const auto put = [&](double v) { out.append(reinterpret_cast<const char*>(&v), sizeof v); };
    const CaseRun& c = r.cases[i];
    for (const Place& p : places) put((c.peaks.*p.peak).degC), put(c.end.*p.value);
    for (const auto peak : other_peaks) put((c.peaks.*peak).degC);
    for (const double v : {c.peaks.fluid.t_s, c.hottest_ring_degC, c.energy_J.made, c.energy_J.stored, c.energy_J.lost, c.energy_J.error}) put(v);
    for (const HeatState& s : c.rows)
        for (const Place& p : places) put(s.*p.value);
    for (const OtherSideState& s : c.other_rows)
        for (const double v : {s.rotor_surface_degC, s.pad_face_degC, s.pad_mean_degC, s.plate_degC, s.piston_degC, s.fluid_degC}) put(v);
    return out;
}

std::vector<ReferenceBrake> brakes_of(std::size_t first, std::size_t n) {
    std::vector<ReferenceBrake> out;
    for (std::size_t i = first; i < first + n; ++i) out.push_back(random_brake(i));
    return out;
}

// A band of that face: the outer radius, the solid share, the track's height and place all vary from brake to brake.
RotorBand band_like(const ReferenceBrake& b, std::size_t i) {
    const auto share = [&](std::size_t step) { return static_cast<double>(i * step % 40) / 40; };
    const double solid_face = b.rotor.face_area_m2 / (0.7 + 0.3 * share(11)) / std::numbers::pi;
    const double outer = std::max(0.07 + 0.045 * share(37), std::sqrt(solid_face + 0.0016)), inner = std::sqrt(outer * outer - solid_face);
    const double height = outer - 0.0005 - inner, carries = 0.4 + 0.6 * share(23), top = outer - 0.0005 - height * (1 - carries) * 0.2;
    return {inner, outer, std::max(inner, top - height * carries), top};
}

// Largest difference seen [K]: in a row, in a peak.
struct Off {
    double row_K = 0, peak_K = 0;
    void see(const Off& o) { row_K = std::max(row_K, o.row_K), peak_K = std::max(peak_K, o.peak_K); }
};

double peaks_off(const HeatPeaks& ours, const HeatPeaks& exact, const std::string& what, double bound_K = 0.5) {
    double most = 0;
    for (const Place& p : places) {
        const double off = std::abs((ours.*p.peak).degC - (exact.*p.peak).degC);
        EXPECT_LT(off, bound_K) << "peak of " << p.name << " of " << what;
        most = std::max(most, off);
    }
    return most;
}

// A third of the brakes starts hot, by up to 300 K.
ReferenceBrake cold_or_hot(std::size_t i) {
    ReferenceBrake b = random_brake(i);
    if (i % 3 == 0) b.start_degC = b.ambient_degC + 30.0 * static_cast<double>(i % 11);
    return b;
}

double rows_off(const HeatRows& ours, const HeatRows& exact, const std::string& what) {
    double most = 0;
    EXPECT_EQ(ours.size(), exact.size());
    for (const Place& p : places) {
        double worst = 0, at = 0;
        for (std::size_t k = 0; k < std::min(ours.size(), exact.size()); ++k) {
            const double e = std::abs(exact[k].*p.value - ours[k].*p.value);
            if (!(e <= worst)) worst = e, at = exact[k].t_s;
        }
        EXPECT_LT(worst, 1.0) << p.name << " of " << what << " at " << at << " s";
        most = std::max(most, worst);
    }
    return most;
}

// 1 K at every row and 0.5 K in the peaks (the accuracy that the engine promises): peaks with joined rows and long steps, with
// rows kept, and of one brake in double precision with rows kept, as every answer runs it.
// grid: of the plain solver, whose own cells are worth up to 0.64 K in a peak and 0.91 K in a row of the pad face of a few of these brakes (brake 44 on ride 2/7); long rides judge by thirds of them.
Off expect_close(std::span<const ReferenceBrake> brakes, std::span<const PowerRow> rows, const std::string& ride, std::size_t first = 0, int grid = 1) {
    const auto traced = solve_many({}, brakes, rows, {.keep = Keep::rows}), peaks = solve_many({}, brakes, rows, {});
    EXPECT_TRUE(traced && peaks);
    Off most;
    for (std::size_t i = 0; i < brakes.size() && traced && peaks; ++i) {
        const auto exact = solve(brakes[i], rows, {.tolerance_K = 0.02, .grid_refinement = grid});
        const auto one = solve_many({}, brakes.subspan(i, 1), rows, {.precision = Precision::double_precision, .keep = Keep::rows});
        EXPECT_TRUE(exact && one);
        if (!exact || !one) break;
        const std::string what = "brake " + std::to_string(first + i) + " on " + ride;
        for (const CaseRun* run : {&traced->cases[i], &one->cases[0]}) most.see({rows_off(run->rows, exact->rows, what), peaks_off(run->peaks, exact->peaks, what + ", rows kept")});
        most.see({0, peaks_off(peaks->cases[i].peaks, exact->peaks, what)});
        for (const CaseRun* run : {&traced->cases[i], &peaks->cases[i]}) EXPECT_LT(std::abs(run->energy_J.error), 1e-5 * std::max(1.0, run->energy_J.made));
    }
    return most;
}
Off expect_close(std::size_t first, std::size_t n, int kind, std::uint64_t seed, double seconds) {
    return expect_close(brakes_of(first, n), random_ride(kind, seed, seconds), "ride " + std::to_string(kind) + "/" + std::to_string(seed), first);
}

TEST(HeatEngine, RandomBrakesAgreeWithThePlainSolverOnAHillyRide) { NEEDS_VECTORS(); expect_close(0, 25, 0, 1, 700); }
TEST(HeatEngine, RandomBrakesAgreeWithThePlainSolverOnADragAndAHalt) { NEEDS_VECTORS(); expect_close(25, 25, 1, 1, 1500); }
TEST(HeatEngine, RandomBrakesAgreeWithThePlainSolverOnHardStopsInTenthsOfASecond) { NEEDS_VECTORS(); expect_close(50, 20, 2, 1, 150); }
TEST(HeatEngine, RandomBrakesAgreeWithThePlainSolverOnRowsOfUnevenLength) { NEEDS_VECTORS(); expect_close(70, 20, 3, 1, 400); }
// Rows of 8 and 10 s while off, which are cut like joined ones: squeezes of a few seconds, pauses of one to nine such rows.
// Rows are looked through by the vector code; which one is wrong, and how, the plain solver says.
TEST(HeatEngine, ARowThatIsWrongIsRefusedWhereverItStandsAndInTheWordsOfThePlainSolver) {
    NEEDS_VECTORS();
    const ReferenceBrake brake = test::random_brake(1);
    std::vector<PowerRow> good;
    for (int t = 0; t <= 130; ++t) good.push_back({.t_s = double(t), .speed_mps = 8, .power_W = t % 7 < 3 ? 200.0 : -20});
    const double nan = std::numeric_limits<double>::quiet_NaN(), infinite = std::numeric_limits<double>::infinity();
    const std::vector<std::pair<double PowerRow::*, std::vector<double>>> wrong = {
        {&PowerRow::t_s, {nan, infinite, -1e9}}, {&PowerRow::speed_mps, {nan, -0.1, 100.1}}, {&PowerRow::power_W, {nan, 1.1e6, -1.1e6}}, {&PowerRow::drying_W, {nan, -1, 1.1e6}}};
    for (const Vectors vectors : {Vectors::best, Vectors::avx2, Vectors::avx512})
        for (const std::size_t at : {std::size_t{1}, std::size_t{63}, std::size_t{64}, good.size() - 1})
            for (const auto& [field, values] : wrong)
                for (const double v : values) {
                    std::vector<PowerRow> rows = good;
                    rows[at].*field = v;
                    const auto run = solve_many({}, std::span(&brake, 1), rows, {.vectors = vectors, .keep = Keep::rows});
                    ASSERT_FALSE(run) << at << ' ' << v;
                    if (vectors == Vectors::best) {
                        EXPECT_EQ(run.error().text, solve(brake, rows, {}).error().text) << at << ' ' << v;
                    }
                }
    for (const std::size_t at : {std::size_t{1}, std::size_t{64}, good.size() - 1}) {
        std::vector<PowerRow> rows = good;
        rows[at].t_s = rows[at - 1].t_s;
        EXPECT_FALSE(solve_many({}, std::span(&brake, 1), rows, {.keep = Keep::rows})) << at;
    }
    EXPECT_TRUE(solve_many({}, std::span(&brake, 1), good, {.keep = Keep::rows}));
}

TEST(HeatEngine, LongRowsThatAreKeptAgreeWithThePlainSolver) {
    NEEDS_VECTORS();
    for (const double length_s : {3.0, 7.0, 8.0, 10.0}) {
        std::vector<PowerRow> rows;
        double t = 0;
        for (int squeeze = 0; squeeze < 40; ++squeeze) {
            for (int k = 0; k < 1 + squeeze % 4; ++k) rows.push_back({.t_s = t++, .speed_mps = 11.0 - squeeze % 7, .power_W = 400.0 + 60 * (squeeze * 7 % 20)});
            for (int k = 0; k < 1 + squeeze * 5 % 9; ++k, t += length_s) rows.push_back({.t_s = t, .speed_mps = 3.0 + squeeze % 6, .power_W = 0});
        }
        rows.push_back({.t_s = t, .speed_mps = 5, .power_W = 0});
        const Off off = expect_close(brakes_of(0, 40), rows, "rows of " + std::to_string(length_s) + " s");
        std::printf("    rows of %.0f s: largest difference %.3f K in a row, %.3f K in a peak\n", length_s, off.row_K, off.peak_K);
    }
}
// Tops that stand between the ends of steps, behind a release, while the power falls, in the first step with a hot brake, in long steps while off.
TEST(HeatEngine, PeaksWithinAStepAreFound) {
    NEEDS_VECTORS();
    for (const auto& [brake, kind, seed, until_s] : {std::tuple{3U, 0, 7U, 1960.0}, {58U, 0, 7U, 1960.0}, {92U, 3, 7U, 2585.0}, {78U, 0, 7U, 1945.0}, {83U, 0, 7U, 1960.0},
                                                     {60U, 3, 7U, 1600.0}, {0U, 0, 7U, 1960.0}, {7U, 0, 11U, 765.0}, {93U, 0, 11U, 765.0}, {44U, 2, 7U, 346.0},
                                                     {95U, 0, 202U, 60.0}, {7U, 3, 202U, 122.0}, {75U, 0, 303U, 2760.0}, {75U, 3, 101U, 3020.0}}) {
        const ReferenceBrake b = random_brake(brake);
        auto rows = random_ride(kind, seed, kind == 2 ? 600 : 3600);
        std::erase_if(rows, [&](const PowerRow& r) { return r.t_s > until_s; });
        const auto exact = solve(b, rows, {.tolerance_K = 0.02, .grid_refinement = 3});
        ASSERT_TRUE(exact);
        const std::vector<ReferenceBrake> both(2, b);   // two go the way of many
        for (const std::size_t n : {1U, 2U})
            for (const ManyOptions& o : {ManyOptions{}, ManyOptions{.keep = Keep::rows}}) {
                const auto fast = solve_many({}, std::span(both).first(n), rows, o);
                ASSERT_TRUE(fast);
                peaks_off(fast->cases[0].peaks, exact->peaks, std::to_string(n) + " of brake " + std::to_string(brake) + (o.keep == Keep::rows ? ", rows kept" : ""));
            }
    }
}
// The same rides in rows that are no power of two of the tick: of 0.9 s, of 0.75 s, of 1 s where the last is a millisecond longer.
TEST(HeatEngine, PeaksWithinAStepOfAnyLengthAreFound) {
    NEEDS_VECTORS();
    for (const auto& [brake, seed, until_s] : {std::tuple{95U, 202U, 60.0}, {7U, 11U, 765.0}, {93U, 11U, 765.0}, {78U, 7U, 1945.0}})
        for (const double stretch : {0.9, 0.75, 1.0}) {
            const ReferenceBrake b = random_brake(brake);
            auto rows = random_ride(0, seed, 3600);
            std::erase_if(rows, [&](const PowerRow& r) { return r.t_s > until_s; });
            for (PowerRow& r : rows) r.t_s *= stretch;
            if (stretch == 1) rows.back().t_s += 0.001;
            const auto exact = solve(b, rows, {.tolerance_K = 0.02, .grid_refinement = 3});
            ASSERT_TRUE(exact);
            for (const Keep keep : {Keep::peaks_only, Keep::rows}) {
                const auto fast = solve_many({}, std::span(&b, 1), rows, {.keep = keep});
                ASSERT_TRUE(fast);
                peaks_off(fast->cases[0].peaks, exact->peaks, "brake " + std::to_string(brake) + ", times x " + std::to_string(stretch));
            }
        }
}
// Inputs that jump while the brake is on, or beside it: behind a top a fall that is steep at first or ends in a rise, a pad's face that jumps at
// contact, arms whose slope jumps with the speed. Each of these was off by more than a kelvin somewhere.
TEST(HeatEngine, PeaksBehindJumpsOfPowerAndSpeedAreFound) {
    NEEDS_VECTORS();
    struct Case {
        const char* what;
        std::vector<double> power_W;   // a second each, then off
        double speed_mps, then_mps;
        std::vector<unsigned> brakes;
    };
    const std::vector<double> drag(20, 800.0);
    for (const Case& c : {Case{"300, 300, 2500, 100, 100 W", {300, 300, 2500, 100, 100}, 8, 8, {180, 682, 769, 866}},
                          Case{"2 x 1500, 2000, 1000, 1000 W", {1500, 1500, 2000, 1000, 1000}, 8, 8, {967, 499}},
                          Case{"4 s of 1200 W, 2 s off, 2 s of 300 W", {1200, 1200, 1200, 1200, 0, 0, 300, 300}, 8, 8, {39, 758}},
                          Case{"20 s of 800 W standing, then 12 m/s and off", drag, 0, 12, {596, 331}}})
        for (const unsigned brake : c.brakes) {
            std::vector<PowerRow> rows;
            for (const double power_W : c.power_W) rows.push_back({.t_s = double(rows.size()), .speed_mps = c.speed_mps, .power_W = power_W});
            for (int k = 0; k < 5; ++k) rows.push_back({.t_s = double(rows.size()), .speed_mps = c.then_mps, .power_W = 0});
            const std::vector<ReferenceBrake> both(2, random_brake(brake));
            const auto exact = solve(both[0], rows, {.tolerance_K = 0.02, .grid_refinement = 3});
            ASSERT_TRUE(exact);
            for (const std::size_t n : {1U, 2U})
                for (const Keep keep : {Keep::peaks_only, Keep::rows}) {
                    const auto fast = solve_many({}, std::span(both).first(n), rows, {.precision = Precision::double_precision, .keep = keep});
                    ASSERT_TRUE(fast);
                    peaks_off(fast->cases[0].peaks, exact->peaks, std::to_string(n) + " of brake " + std::to_string(brake) + ", " + c.what);
                }
        }
}
// Peaks of one case, alone and beside another, with and without rows kept, within 0.5 K of the plain solver; of the other side too, where it is unlike.
void every_way_finds_the_peaks(const ReferenceBrake& b, std::span<const PowerRow> rows, std::initializer_list<Precision> precisions, const std::string& what) {
    const auto exact = solve(b, rows, {.tolerance_K = 0.02, .grid_refinement = 3});
    ASSERT_TRUE(exact);
    const std::vector<ReferenceBrake> both(2, b);
    for (const Precision precision : precisions)
        for (const std::size_t n : {1U, 2U})
            for (const Keep keep : {Keep::peaks_only, Keep::rows}) {
                const auto fast = solve_many({}, std::span(both).first(n), rows, {.precision = precision, .keep = keep});
                ASSERT_TRUE(fast);
                const HeatPeaks& peaks = fast->cases[0].peaks;
                const std::string way = std::to_string(n) + " of " + what + (precision == Precision::single_precision ? ", single" : "");
                peaks_off(peaks, exact->peaks, way);
                if (!b.other) continue;
                EXPECT_LT(std::abs(peaks.other_pad_mean.degC - exact->peaks.other_pad_mean.degC), 0.5) << way;
                EXPECT_LT(std::abs(peaks.other_pad_face.degC - exact->peaks.other_pad_face.degC), 0.5) << way;
                EXPECT_LT(std::abs(peaks.other_plate.degC - exact->peaks.other_plate.degC), 0.5) << way;
            }
}
// Behind a fall of power: the pad's mean goes on to rise where the rotor is hot, the plate where a thick pad's heat comes late, the rotor by a hot pad. Each
// was off by 0.6 K to 2.3 K among others while only a straight line from the steps before asked for them.
TEST(HeatEngine, WhatGoesOnToRiseBehindAFallOfPowerIsFound) {
    NEEDS_VECTORS();
    for (const auto& [brake, seed, until_s] : {std::tuple{936U, 30000U, 95.0}, {936U, 20000U, 101.0}, {84U, 30000U, 99.0}, {774U, 5000U, 162.0}, {495U, 5000U, 161.0}, {179U, 5000U, 13.0}, {860U, 5000U, 139.0}, {296U, 5000U, 179.0}}) {
        const ReferenceBrake b = cold_or_hot(brake);
        auto rows = random_ride(4, seed + brake, 200);
        std::erase_if(rows, [&](const PowerRow& r) { return r.t_s > until_s; });
        every_way_finds_the_peaks(b, rows, {Precision::double_precision}, "brake " + std::to_string(brake) + " on ride 4/" + std::to_string(seed + brake));
    }
}
// A hot brake under steady power: the pad's mean tops within the first closed second. Among others it was 1.2 K to 2.5 K too low while only the face was
// looked for there.
TEST(HeatEngine, APadsMeanThatTopsInTheFirstSecondOfAHotStartIsFound) {
    NEEDS_VECTORS();
    struct Case { unsigned brake; double over_air_K, power_W; int off_s; };
    for (const Case& c : {Case{985, 300, 235, 0}, {775, 300, 288, 0}, {276, 300, 196, 0}, {19, 300, 238, 0}, {191, 300, 69, 0}, {44, 500, 106, 1}, {978, 500, 157, 1}, {140, 500, 185, 1}})
        for (const bool unlike : {false, true}) {
            ReferenceBrake b = random_brake(c.brake);
            b.start_degC = b.ambient_degC + c.over_air_K;
            if (unlike) {
                b.other = as_other_side(b);
                b.other->friction.thickness_m *= 0.9;
            }
            std::vector<PowerRow> rows;
            for (int k = 0; k <= 8; ++k) rows.push_back({.t_s = double(k), .speed_mps = 8, .power_W = k < c.off_s ? 0 : c.power_W});
            every_way_finds_the_peaks(b, rows, {Precision::double_precision, Precision::single_precision}, "brake " + std::to_string(c.brake) + (unlike ? ", sides unlike" : ""));
        }
}
// The same rides with two unlike sides, each of its own drawn brake.
TEST(HeatEngine, UnlikeSidesOnRidesWhosePowerJumpsAgreeWithThePlainSolver) {
    NEEDS_VECTORS();
    double most = 0;
    int by_engine = 0;
    for (std::size_t i = 0; i < 60; ++i) {
        ReferenceBrake b = random_brake(i);
        b.other = as_other_side(random_brake(i + 1000));
        const auto rows = random_ride(4, 9000 + i, 100);
        const auto exact = solve(b, rows, {.tolerance_K = 0.02, .grid_refinement = 3});
        ASSERT_TRUE(exact);
        for (const Keep keep : {Keep::peaks_only, Keep::rows}) {
            const auto fast = solve_many({}, std::span(&b, 1), rows, {.precision = Precision::double_precision, .keep = keep});
            ASSERT_TRUE(fast);
            if (keep == Keep::rows) by_engine += fast->by_plain_solver == 0;
            const std::string what = "unlike sides " + std::to_string(i);
            most = std::max(most, peaks_off(fast->cases[0].peaks, exact->peaks, what));
            for (const auto peak : other_peaks) {
                const double off = std::abs((fast->cases[0].peaks.*peak).degC - (exact->peaks.*peak).degC);
                EXPECT_LT(off, 0.5) << what;
                most = std::max(most, off);
            }
            if (keep == Keep::rows) rows_off(fast->cases[0].rows, exact->rows, what);
        }
    }
    EXPECT_GE(by_engine, 20);   // thick layers are the plain solver's
    std::printf("    %d by the engine, largest difference %.3f K in a peak\n", by_engine, most);
}
// Power anew each second, speeds that jump, hot starts.
Off jumping_rides(std::size_t first, std::size_t n, std::uint64_t seed, double seconds, bool thousand = false) {
    Off most;
    for (std::size_t i = first; i < first + n; ++i) {
        const ReferenceBrake b = cold_or_hot(i);
        const auto rows = random_ride(4, seed + i, seconds);
        const auto exact = solve(b, rows, {.tolerance_K = 0.02, .grid_refinement = 3});
        EXPECT_TRUE(exact);
        const std::vector<ReferenceBrake> both(2, b);
        for (const std::size_t count : {1U, 2U})
            for (const Keep keep : {Keep::peaks_only, Keep::rows}) {
                const auto fast = solve_many({}, std::span(both).first(count), rows, {.precision = Precision::double_precision, .keep = keep});
                EXPECT_TRUE(fast);
                if (!exact || !fast) return most;
                const std::string what = std::to_string(count) + " of brake " + std::to_string(i) + " on ride 4/" + std::to_string(seed + i);
                const CaseRun& run = fast->cases[0];
                EXPECT_LT(std::abs(run.energy_J.error), 1e-9 * std::max(1.0, run.energy_J.made));
                most.see({keep == Keep::rows ? rows_off(run.rows, exact->rows, what) : 0, peaks_off(run.peaks, exact->peaks, what, thousand && count > 1 ? 0.75 : 0.5)});
            }
    }
    std::printf("    largest difference %.3f K in a row, %.3f K in a peak\n", most.row_K, most.peak_K);
    return most;
}
TEST(HeatEngine, BrakesOnRidesWhosePowerJumpsAgreeWithThePlainSolver) { NEEDS_VECTORS(); jumping_rides(0, 60, 1, 100); }
TEST(HeatEngine, LongBrakesOnRidesWhosePowerJumpsAgreeWithThePlainSolver) {
    NEEDS_VECTORS();
    if (!std::getenv("BRAKEWRIGHT_LONG")) GTEST_SKIP() << "only with BRAKEWRIGHT_LONG=1 (check --long)";
    jumping_rides(0, 1000, 5000, 200, true);
}
// Rows that are microseconds apart: the tick is so short that the series starts far below what its norm asks for.
TEST(HeatEngine, RowsThatAreMicrosecondsApartAgreeWithThePlainSolver) {
    NEEDS_VECTORS();
    for (const double shortest_s : {1e-3, 5e-4, 1e-4, 1e-5, 1e-6})
        for (const unsigned brake : {0U, 3U, 20U, 44U}) {
            std::vector<PowerRow> rows;
            double t = 0;
            for (int k = 0; k < 13; ++k, t += k == 7 ? shortest_s : 1) rows.push_back({.t_s = t, .speed_mps = 8, .power_W = k < 7 ? 600.0 : 0.0});
            rows.push_back({.t_s = t, .speed_mps = 8, .power_W = 0});
            const std::vector<ReferenceBrake> both(2, random_brake(brake));
            const auto exact = solve(both[0], rows, {.tolerance_K = 0.02, .grid_refinement = 3});
            ASSERT_TRUE(exact);
            for (const std::size_t n : {1U, 2U}) {
                const auto fast = solve_many({}, std::span(both).first(n), rows, {.precision = Precision::double_precision, .keep = Keep::rows});
                ASSERT_TRUE(fast);
                const std::string what = std::to_string(n) + " of brake " + std::to_string(brake) + ", a row of " + std::to_string(1e6 * shortest_s) + " us";
                rows_off(fast->cases[0].rows, exact->rows, what);
                peaks_off(fast->cases[0].peaks, exact->peaks, what);
                EXPECT_LT(std::abs(fast->cases[0].energy_J.error), 1e-9 * fast->cases[0].energy_J.made) << what;
                EXPECT_EQ(fast->by_plain_solver, 0U) << what;
            }
        }
}
// Of two unlike sides the hotter one decides: behind a contact that hardly conducts, one pad alone passes what no brake stands.
TEST(HeatEngine, AnUnlikeSideThatRunsAwayIsThePlainSolvers) {
    NEEDS_VECTORS();
    ReferenceBrake brake = random_brake(3);
    brake.other = as_other_side(brake);
    brake.other->contact_W_m2K = 1000;
    std::size_t taken = 0, handed_out = 0;
    for (int kW = 1; kW < 40; ++kW) {
        std::vector<PowerRow> rows;
        for (int k = 0; k < 8; ++k) rows.push_back({.t_s = double(k), .speed_mps = 8, .power_W = k < 5 ? 1000.0 * kW : 0.0});
        const auto many = solve_many({}, std::span(&brake, 1), rows, {});
        ASSERT_TRUE(many);
        (many->by_plain_solver > 0 ? taken : handed_out) += 1;
        if (many->by_plain_solver > 0) continue;
        EXPECT_LT(std::max(many->cases[0].peaks.pad_face.degC, many->cases[0].peaks.other_pad_face.degC), 2500) << kW << " kW";
    }
    EXPECT_GT(taken, 0U);
    EXPECT_GT(handed_out, 0U);
}
// A megawatt, which the rows may hold: the losses run away from their parabola, and the plain solver takes such cases.
TEST(HeatEngine, ARunThatRunsAwayIsThePlainSolvers) {
    NEEDS_VECTORS();
    std::vector<PowerRow> rows;
    for (int k = 0; k < 12; ++k) rows.push_back({.t_s = double(k), .speed_mps = 8, .power_W = k < 5 ? 1e6 : 0.0});
    std::size_t taken = 0;
    for (const std::size_t n : {1U, 2U})
        for (const unsigned brake : {0U, 3U, 20U, 44U}) {
            const std::vector<ReferenceBrake> both(n, random_brake(brake));
            const auto exact = solve(both[0], rows, {});
            const auto many = solve_many({}, both, rows, {.keep = Keep::rows});
            ASSERT_TRUE(exact && many);
            taken += many->by_plain_solver;
            for (const CaseRun& c : many->cases) {
                ASSERT_EQ(c.rows.size(), rows.size());
                EXPECT_LT(std::abs(c.energy_J.error), 1e-5 * c.energy_J.made);
                for (std::size_t k = 0; k < rows.size(); ++k)
                    for (const Place& p : places) EXPECT_NEAR(c.rows[k].*p.value, exact->rows[k].*p.value, 1) << p.name << " of brake " << brake << " at " << k << " s";
            }
        }
    EXPECT_GT(taken, 0U);
}
// The same beside a brake that stays cool, with bands, with two unlike sides, on one thread and on three: those that run away are handed out as solve() has
// them, and the others alike on any number of threads.
TEST(HeatEngine, RunsThatRunAwayArePickedOutOfAnyCompany) {
    NEEDS_VECTORS();
    std::vector<PowerRow> rows;
    for (int k = 0; k < 12; ++k) rows.push_back({.t_s = double(k), .speed_mps = 8, .power_W = k < 5 ? 4e5 : 0.0});
    std::vector<ReferenceBrake> brakes;
    std::vector<RotorBand> bands;
    std::vector<bool> runs_away;
    for (std::size_t i = 0; i < 40; ++i) {
        ReferenceBrake b = random_brake(i);
        if (i % 3 == 1) b.other = as_other_side(random_brake(i + 1000));
        runs_away.push_back(i % 4 == 0);
        if (!runs_away.back()) b.power_scale *= 0.002;
        brakes.push_back(b);
        bands.push_back(band_like(b, i));
    }
    // Thick layers of unlike sides have no layout and are the plain solver's too.
    std::size_t taken = 0;
    for (std::size_t i = 0; i < brakes.size(); ++i) {
        const auto alone = solve_many({}, std::span(&brakes[i], 1), rows, {});
        ASSERT_TRUE(alone);
        taken += alone->by_plain_solver;
        if (runs_away[i]) { EXPECT_EQ(alone->by_plain_solver, 1U) << i; }
    }
    EXPECT_LT(taken, 20U);
    Context three;
    three.threads = 3;
    for (const bool ringed : {false, true})
        for (const Keep keep : {Keep::peaks_only, Keep::rows}) {
            ManyOptions o{.keep = keep};
            if (ringed) o.bands = bands;
            const auto one = solve_many({}, brakes, rows, o), more = solve_many(three, brakes, rows, o);
            ASSERT_TRUE(one && more);
            EXPECT_EQ(one->by_plain_solver, taken);
            EXPECT_EQ(more->by_plain_solver, taken);
            for (std::size_t i = 0; i < brakes.size(); ++i) {
                EXPECT_EQ(bytes_of(*one, i), bytes_of(*more, i)) << i;
                const CaseRun& c = one->cases[i];
                EXPECT_EQ(std::isnan(c.hottest_ring_degC), !ringed) << i;
                EXPECT_EQ(c.rows.size(), keep == Keep::rows ? rows.size() : 0U) << i;
                if (!runs_away[i]) continue;
                const auto exact = solve(brakes[i], rows, {});
                ASSERT_TRUE(exact);
                for (const Place& p : places) EXPECT_EQ((c.peaks.*p.peak).degC, (exact->peaks.*p.peak).degC) << p.name << " of " << i;
                for (const auto peak : other_peaks) EXPECT_EQ((c.peaks.*peak).degC, (exact->peaks.*peak).degC) << i;
                if (!ringed) continue;
                EXPECT_GE(c.hottest_ring_degC, exact->peaks.rotor_surface.degC) << i;
            }
        }
}
// A rotor that gains 100 K a second near 700 degC: a loss held over the step without regard to its growth is worth 0.5 K there.
TEST(HeatEngine, ALossThatGrowsOverAStepIsKnownToGrow) {
    NEEDS_VECTORS();
    const std::vector<ReferenceBrake> both(2, random_brake(78));
    auto rows = random_ride(0, 202, 3600);
    std::erase_if(rows, [](const PowerRow& r) { return r.t_s > 484; });
    const auto exact = solve(both[0], rows, {.tolerance_K = 0.01, .grid_refinement = 3});
    ASSERT_TRUE(exact);
    EXPECT_GT(exact->peaks.rotor_surface.degC, 700);
    for (const std::size_t n : {1U, 2U}) {
        const auto fast = solve_many({}, std::span(both).first(n), rows, {.keep = Keep::rows});
        ASSERT_TRUE(fast);
        EXPECT_NEAR(fast->cases[0].peaks.rotor_surface.degC, exact->peaks.rotor_surface.degC, 0.25) << n;
    }
}
// A brake alone has its states in the lanes, a brake among others one lane: two programs, one answer. Seen: 0.21 K in a row of the rides of an hour.
TEST(HeatEngine, ABrakeAloneAgreesWithTheSameAmongOthers) {
    NEEDS_VECTORS();
    const auto brakes = brakes_of(0, 100);
    std::vector<RotorBand> bands;
    for (std::size_t i = 0; i < brakes.size(); ++i) bands.push_back(band_like(brakes[i], i));
    double most = 0;
    for (const int kind : {0, 1, 2, 3}) {
        const auto rows = random_ride(kind, 3, kind == 2 ? 100 : 600);
        const auto among = solve_many({}, brakes, rows, {.precision = Precision::double_precision, .keep = Keep::rows, .cool_down_s = 300, .bands = bands});
        ASSERT_TRUE(among);
        for (std::size_t i = 0; i < brakes.size(); ++i) {
            const auto alone = solve_many({}, std::span(&brakes[i], 1), rows, {.precision = Precision::double_precision, .keep = Keep::rows, .cool_down_s = 300, .bands = std::span(&bands[i], 1)});
            ASSERT_TRUE(alone);
            const CaseRun &a = alone->cases[0], &b = among->cases[i];
            EXPECT_NEAR(a.hottest_ring_degC, b.hottest_ring_degC, 0.3) << "ring of brake " << i << " on ride " << kind;
            ASSERT_EQ(a.rows.size(), rows.size());
            ASSERT_EQ(b.rows.size(), rows.size());
            EXPECT_LT(std::abs(a.energy_J.error), 1e-9 * std::max(1.0, a.energy_J.made));
            EXPECT_NEAR(a.energy_J.made, b.energy_J.made, 1e-9 * a.energy_J.made);
            for (const Place& p : places) {
                for (std::size_t k = 0; k < rows.size(); ++k) most = std::max(most, std::abs(a.rows[k].*p.value - b.rows[k].*p.value));
                EXPECT_NEAR((a.peaks.*p.peak).degC, (b.peaks.*p.peak).degC, 0.5) << p.name << " of brake " << i << " on ride " << kind;
                EXPECT_NEAR(a.end.*p.value, b.end.*p.value, 0.2) << p.name << " of brake " << i;
            }
            for (std::size_t k = 0; k < rows.size(); ++k) ASSERT_EQ(std::isnan(a.rows[k].pad_heat_share), std::isnan(b.rows[k].pad_heat_share)) << k;
        }
    }
    EXPECT_LT(most, 0.2);
    std::printf("    largest difference %.3f K in a row\n", most);
}
// All of it takes minutes: every brake on every ride, an hour long. Steps and the search for tops were chosen on seeds 7, 11, 101, 202 and 303
// (404 was looked at on the way); 505 and 606 scored them once. Power varies by a third within a squeeze here; where it jumps: jumping_rides.
void long_rides(std::uint64_t seed) {
    if (!machine_can()) GTEST_SKIP() << "no fused multiply-add on this machine: solve_many runs the plain solver";
    if (!std::getenv("BRAKEWRIGHT_LONG")) GTEST_SKIP() << "only with BRAKEWRIGHT_LONG=1 (check --long)";
    Off most;
    for (int kind = 0; kind < 4; ++kind) most.see(expect_close(brakes_of(0, 100), random_ride(kind, seed, kind == 2 ? 600 : 3600), "ride " + std::to_string(kind) + "/" + std::to_string(seed), 0, 3));
    std::printf("    seed %d: largest difference %.3f K in a row, %.3f K in a peak\n", static_cast<int>(seed), most.row_K, most.peak_K);
}
TEST(HeatEngine, LongAHundredRandomBrakesAgreeWithThePlainSolverOnFourRidesOfAnHour) { long_rides(7); }
TEST(HeatEngine, LongAHundredRandomBrakesAgreeWithThePlainSolverOnRidesOfASecondSeed) { long_rides(11); }
TEST(HeatEngine, LongAHundredRandomBrakesAgreeWithThePlainSolverOnRidesOfAThirdSeed) { long_rides(202); }
TEST(HeatEngine, LongAHundredRandomBrakesAgreeWithThePlainSolverOnRidesThatChoseNothing) { long_rides(505); }
TEST(HeatEngine, LongAHundredRandomBrakesAgreeWithThePlainSolverOnMoreRidesThatChoseNothing) { long_rides(606); }

// The measure itself, where it is weakest: a poor contact, up to 3.2 kW in rows of 0.1 s. On thirds of its cells the plain solver stays within 0.3 K of
// CVODE (161 nodes in the pad; seen 0.23 K); on its usual ones 0.91 K were seen in a row, so this brake is not judged by them.
TEST(HeatEngine, LongThePlainSolverOnThirdsOfItsCellsIsThatOfCvodeWhereItsUsualOnesAreNotEnough) {
    NEEDS_VECTORS();
    if (!std::getenv("BRAKEWRIGHT_LONG")) GTEST_SKIP() << "only with BRAKEWRIGHT_LONG=1 (check --long)";
    const ReferenceBrake b = random_brake(44);
    auto rows = random_ride(2, 7, 600);
    std::erase_if(rows, [](const PowerRow& r) { return r.t_s > 346; });
    const auto thirds = solve(b, rows, {.tolerance_K = 0.02, .grid_refinement = 3});
    const auto alone = solve_many({}, std::span(&b, 1), rows, {.precision = Precision::double_precision, .keep = Keep::rows});
    ASSERT_TRUE(thirds && alone);
    const auto exact = test::solve_by_cvode(b, rows, 41, 161, 11);
    double most = 0, engine = 0;
    for (std::size_t k = 0; k < rows.size(); ++k) {
        most = std::max(most, std::abs(thirds->rows[k].pad_face_degC - exact[k][2]));
        engine = std::max(engine, std::abs(alone->cases[0].rows[k].pad_face_degC - exact[k][2]));
    }
    EXPECT_LT(most, 0.3);
    EXPECT_LT(engine, 1);
    std::printf("    pad face, largest difference from CVODE in a row: plain solver on thirds %.3f K, engine %.3f K\n", most, engine);
}

TEST(HeatEngine, TheOrdinaryBrakeAgreesWithinAFifthOfAKelvinOnARoughRideInBothKindsOfContact) {
    NEEDS_VECTORS();
    const auto rows = test::rough_ride(1500, 3);
    ReferenceBrake b = ordinary_brake();
    for (const double contact : {std::numeric_limits<double>::infinity(), 2e4}) {
        b.contact_W_m2K = contact;
        const auto exact = solve(b, rows, {.tolerance_K = 0.01});
        const std::vector<ReferenceBrake> both(2, b);
        for (const std::size_t n : {1U, 2U}) {
            const auto fast = solve_many({}, std::span(both).first(n), rows, {.precision = Precision::double_precision, .keep = Keep::rows});
            ASSERT_TRUE(exact && fast);
            for (const Place& p : places)
                for (std::size_t k = 0; k < rows.size(); ++k)
                    ASSERT_NEAR(exact->rows[k].*p.value, fast->cases[0].rows[k].*p.value, 0.2) << p.name << " at " << k << " s, " << n;
        }
    }
}

TEST(HeatEngine, ThePadsShareOfTheHeatAgreesWhereItIsDefined) {
    NEEDS_VECTORS();
    const auto rows = test::rough_ride(600, 8);
    const std::vector<ReferenceBrake> both(2, ordinary_brake());
    const auto exact = solve(both[0], rows, {.tolerance_K = 0.01});
    for (const std::size_t n : {1U, 2U}) {
        const auto fast = solve_many({}, std::span(both).first(n), rows, {.precision = Precision::double_precision, .keep = Keep::rows});
        ASSERT_TRUE(exact && fast);
        int seen = 0;
        for (std::size_t k = 0; k < rows.size(); ++k) {
            const double a = exact->rows[k].pad_heat_share, c = fast->cases[0].rows[k].pad_heat_share;
            EXPECT_EQ(std::isnan(a), std::isnan(c)) << k;
            // Where little power is made the share is a small flow over a small power: 2 W.
            if (std::isnan(a)) continue;
            ++seen;
            EXPECT_NEAR(a, c, 0.01 + 2 / (rows[k - 1].power_W / 2)) << k;
        }
        EXPECT_GT(seen, 100);
    }
}

TEST(HeatEngineIdentity, EnergyClosesToABillionthInDoublePrecisionAndAHundredThousandthInSingle) {
    NEEDS_VECTORS();
    const auto brakes = brakes_of(0, 32);
    for (const int kind : {0, 2}) {
        const auto rows = random_ride(kind, 5, kind == 2 ? 300 : 3600);
        for (const Precision p : {Precision::double_precision, Precision::single_precision}) {
            const auto run = solve_many({}, brakes, rows, {.precision = p, .cool_down_s = 900});
            ASSERT_TRUE(run);
            const double allowed = p == Precision::double_precision ? 1e-9 : 1e-5;
            for (const CaseRun& c : run->cases) {
                EXPECT_GT(c.energy_J.made, 1e3);
                EXPECT_LT(std::abs(c.energy_J.error), allowed * c.energy_J.made);
            }
        }
    }
    // Alone: many short steps, in which a slow body gains less than the last digit of its temperature.
    const auto rows = random_ride(2, 5, 600);
    for (const ReferenceBrake& b : brakes_of(0, 100))
        for (const Precision p : {Precision::double_precision, Precision::single_precision}) {
            const auto run = solve_many({}, std::span(&b, 1), rows, {.precision = p});
            ASSERT_TRUE(run);
            EXPECT_LT(std::abs(run->cases[0].energy_J.error), (p == Precision::double_precision ? 1e-9 : 1e-5) * run->cases[0].energy_J.made);
        }
}

TEST(HeatEngineGuard, AnAccountOpenByMoreThanIsPromisedDoesNotClose) {
    const auto open_by = [](double share, double made) { return HeatEnergy{.made = made, .stored = 0.3 * made, .lost = 0.7 * made - share * made, .error = share * made}; };
    EXPECT_TRUE(account_closes(open_by(0.9e-5, 2e5), Precision::single_precision));
    EXPECT_FALSE(account_closes(open_by(1.1e-5, 2e5), Precision::single_precision));
    EXPECT_FALSE(account_closes(open_by(-1.1e-5, 2e5), Precision::single_precision));
    EXPECT_TRUE(account_closes(open_by(0.9e-9, 2e5), Precision::double_precision));
    EXPECT_FALSE(account_closes(open_by(1.1e-9, 2e5), Precision::double_precision));
    // Next to no heat: a hundredth of a joule, a millionth in double precision.
    EXPECT_TRUE(account_closes({.made = 1, .stored = 0.5, .lost = 0.495, .error = 0.005}, Precision::single_precision));
    EXPECT_FALSE(account_closes({.made = 1, .stored = 0.5, .lost = 0.485, .error = 0.015}, Precision::single_precision));
    EXPECT_FALSE(account_closes({.made = 0, .stored = 0, .lost = 2e-6, .error = -2e-6}, Precision::double_precision));
    EXPECT_FALSE(account_closes({.made = 1e5, .stored = std::nan(""), .lost = 0, .error = std::nan("")}, Precision::double_precision));
}

// Heavy bodies far above the air lose by less than the last digit of single precision in a step: their account opens, and they go to the plain solver.
TEST(HeatEngineGuard, NoBrakeIsHandedOutWhoseAccountIsOpen) {
    NEEDS_VECTORS();
    auto brakes = brakes_of(0, 16);
    for (ReferenceBrake& b : brakes) {
        b.start_degC = b.ambient_degC + 400;
        b.caliper.heat_capacity_J_K *= 300;
        b.hub.heat_capacity_J_K *= 300;
    }
    const auto rows = random_ride(2, 5, 600);
    const auto run = solve_many({}, brakes, rows, {});
    ASSERT_TRUE(run);
    EXPECT_GT(run->by_plain_solver, 0u) << "none was open: this test asks nothing";
    for (const CaseRun& c : run->cases) EXPECT_LE(std::abs(c.energy_J.error), 1e-5 * std::max({c.energy_J.made, std::abs(c.energy_J.stored), std::abs(c.energy_J.lost), 1000.0}));
}

TEST(HeatEngineIdentity, TheHeatMadeIsThatOfThePlainSolver) {
    NEEDS_VECTORS();
    const auto brakes = brakes_of(0, 20);
    for (const int kind : {0, 2, 3}) {
        const auto rows = random_ride(kind, 2, 200);
        const auto run = solve_many({}, brakes, rows, {.precision = Precision::double_precision});
        ASSERT_TRUE(run);
        for (std::size_t i = 0; i < brakes.size(); ++i) {
            const auto exact = solve(brakes[i], rows, {.tolerance_K = 1});
            EXPECT_NEAR(run->cases[i].energy_J.made, exact->energy_J.made, 1e-6 * exact->energy_J.made);
        }
    }
}

TEST(HeatEngineIdentity, ABrakeAtTheAirsTemperatureThatMakesNoHeatStaysThere) {
    NEEDS_VECTORS();
    ReferenceBrake b = ordinary_brake();
    const std::vector<PowerRow> rows = {{.t_s = 0, .speed_mps = 8, .power_W = -50}, {.t_s = 600, .speed_mps = 0, .power_W = 0}};
    const std::vector<ReferenceBrake> both(2, b);
    for (const std::size_t n : {1U, 2U}) {
        const auto run = solve_many({}, std::span(both).first(n), rows, {.keep = Keep::rows});
        ASSERT_TRUE(run);
        for (const Place& p : places) EXPECT_EQ(run->cases[0].end.*p.value, 20) << n;
        EXPECT_EQ(run->cases[0].energy_J.made, 0);
    }
}

TEST(HeatEngineIdentity, WithoutLossesEverythingEndsAtTheEnergyOverTheCapacity) {
    NEEDS_VECTORS();
    ReferenceBrake b = ordinary_brake();
    b.rotor.emissivity = b.caliper.emissivity = b.arms.emissivity = 0;
    for (Convection* c : {&b.rotor.convection, &b.caliper.convection, &b.arms.convection, &b.hub.convection}) *c = {0, 0, 1};
    const std::vector<PowerRow> rows = {{.t_s = 0, .speed_mps = 5, .power_W = 1000}, {.t_s = 60, .speed_mps = 0, .power_W = 0}, {.t_s = 2e4, .speed_mps = 0, .power_W = 0}};
    const double capacity = 7800 * 470 * 0.005 * 0.0009 + 2250 * 1075 * 3.6e-4 * 0.0018 + 7850 * 490 * 4.8e-4 * 0.0019 + 7 + 5 + 48 + 14 + 65;
    const double end = 20 + 500.0 * 60 / capacity;
    const std::vector<ReferenceBrake> both(2, b);
    for (const std::size_t n : {1U, 2U}) {
        const auto run = solve_many({}, std::span(both).first(n), rows, {.precision = Precision::double_precision, .keep = Keep::rows});
        ASSERT_TRUE(run);
        for (const Place& p : places) EXPECT_NEAR(run->cases[0].end.*p.value, end, 1e-3) << p.name << ", " << n;
        EXPECT_EQ(run->cases[0].energy_J.lost, 0);
    }
}

TEST(HeatEngineBytes, AreTheSameWithAnyVectorInstructions) {
    const auto brakes = brakes_of(0, 40);
    std::vector<RotorBand> bands;
    for (std::size_t i = 0; i < brakes.size(); ++i) bands.push_back(band_like(brakes[i], i));
    for (const int kind : {0, 2}) {
        const auto rows = random_ride(kind, 3, 120);
        for (const Precision p : {Precision::single_precision, Precision::double_precision}) {
            const auto a = solve_many({}, brakes, rows, {.precision = p, .vectors = Vectors::avx2, .keep = Keep::rows, .bands = bands});
            const auto b = solve_many({}, brakes, rows, {.precision = p, .vectors = Vectors::avx512, .keep = Keep::rows, .bands = bands});
            if (!a || !b) GTEST_SKIP() << "this machine lacks AVX2 or AVX-512";
            EXPECT_NE(a->isa, b->isa);
            for (std::size_t i = 0; i < brakes.size(); ++i) ASSERT_EQ(bytes_of(*a, i), bytes_of(*b, i)) << i;
        }
    }
}

TEST(HeatEngineBytes, AreTheSameOnAnyNumberOfThreadsAndInAnyCompany) {
    NEEDS_VECTORS();
    auto brakes = brakes_of(0, 70);
    // Where exponents of the convection differ in more than eight ways, the lanes raise the speed by other arithmetic.
    for (ReferenceBrake& b : brakes) b.rotor.convection.m = b.caliper.convection.m = b.arms.convection.m = b.hub.convection.m = 0.5;
    for (std::size_t i = 0; i < 5; ++i) {   // two unlike sides among them
        brakes.push_back(brakes[i]);
        brakes.back().other = as_other_side(random_brake(i + 1000));
    }
    Context three;
    three.threads = 3;
    for (const int kind : {0, 3}) {
        const auto rows = random_ride(kind, 3, 300);
        for (const Precision p : {Precision::single_precision, Precision::double_precision}) {
            const auto a = solve_many({}, brakes, rows, {.precision = p}), b = solve_many(three, brakes, rows, {.precision = p});
            ASSERT_TRUE(a && b);
            for (std::size_t i = 0; i < brakes.size(); ++i) ASSERT_EQ(bytes_of(*a, i), bytes_of(*b, i)) << i;
            // With one other; contact thresholds alike, since they decide which rows are joined. Tops are looked for where any lane has one, so each lane counts.
            for (std::size_t i = 0; i < brakes.size(); ++i) {
                const std::vector<ReferenceBrake> two = {brakes[i], brakes[(i + 31) % brakes.size()]};
                const auto pair = solve_many({}, two, rows, {.precision = p});
                ASSERT_TRUE(pair);
                EXPECT_EQ(bytes_of(*a, i), bytes_of(*pair, 0)) << i << " on ride " << kind;
            }
        }
    }
}

// A brake alone, states in the lanes: all layouts of one side (brakes of any thickness, rows of 1 s and of 0.1 s), rows kept, joined and cut.
TEST(HeatEngineBytes, OfABrakeAloneAreTheSameWithAnyVectorInstructionsAndThreads) {
    NEEDS_VECTORS();
    const auto brakes = brakes_of(0, 70);
    Context three;
    three.threads = 3;
    for (const int kind : {0, 2, 3}) {
        const auto rows = random_ride(kind, 3, kind == 2 ? 60 : 300);
        for (std::size_t i = 0; i < brakes.size(); ++i)
            for (const Keep keep : {Keep::rows, Keep::peaks_only}) {
                const RotorBand band = band_like(brakes[i], i);
                ManyOptions o{.precision = i / 2 % 2 ? Precision::double_precision : Precision::single_precision, .keep = keep, .cool_down_s = i % 2 ? 700.0 : 0.0};
                if (i % 3) o.bands = std::span(&band, 1);
                o.vectors = Vectors::avx2;
                const auto a = solve_many({}, std::span(&brakes[i], 1), rows, o);
                o.vectors = Vectors::avx512;
                const auto b = solve_many(three, std::span(&brakes[i], 1), rows, o);
                if (!a || !b) GTEST_SKIP() << "this machine lacks AVX2 or AVX-512";
                ASSERT_NE(a->isa, b->isa);
                ASSERT_EQ(bytes_of(*a, 0), bytes_of(*b, 0)) << i << " on ride " << kind;
            }
    }
}

#ifdef __GLIBC__
// Rows are not filled before they are written: whatever the storage held must not show. All numbers of a row, the pad's share too.
TEST(HeatEngineBytes, OfRowsDoNotDependOnWhatTheirStorageHeld) {
    NEEDS_VECTORS();
    std::vector<ReferenceBrake> brakes = brakes_of(30, 4);
    ReferenceBrake varying = brakes[0], unlike = brakes[1];
    varying.friction.conductivity_over_T.points = {{20, 1.5}, {250, 1.0}};
    unlike.other = as_other_side(brakes[2]);
    brakes.push_back(varying);
    brakes.push_back(unlike);
    const auto bytes = [](const HeatRows& rows) {
        std::string out;
        for (const HeatState& s : rows) {
            static_assert(sizeof(HeatState) == 13 * sizeof(double));   // no gaps
            out.append(reinterpret_cast<const char*>(&s), sizeof s);
        }
        return out;
    };
    for (const int kind : {0, 3, 4})
        for (const double cool_down_s : {0.0, 90.0})
            for (const std::size_t n : {std::size_t{1}, brakes.size()})
                for (std::size_t first = 0; first + n <= brakes.size(); ++first) {
                    std::vector<std::string> seen[2];
                    for (const int poison : {0, 1}) {
                        mallopt(M_PERTURB, poison ? 0x15 : 0x6A);   // glibc: what memory that is handed out is filled with
                        const auto run = solve_many({}, std::span(brakes).subspan(first, n), random_ride(kind, 40, 150), {.keep = Keep::rows, .cool_down_s = cool_down_s});
                        mallopt(M_PERTURB, 0);
                        ASSERT_TRUE(run);
                        for (const CaseRun& c : run->cases) {
                            EXPECT_FALSE(c.rows.empty());
                            seen[poison].push_back(bytes(c.rows));
                        }
                    }
                    EXPECT_EQ(seen[0], seen[1]) << "brake " << first << " of " << n << ", ride " << kind;
                }
    // The poison is there: else this could not fail.
    for (const int poison : {0x15, 0x6A}) {
        mallopt(M_PERTURB, poison);
        HeatRows rows;
        rows.resize(100);   // small ones come from a store of their own that is not filled
        mallopt(M_PERTURB, 0);
        const std::string held = bytes(rows);
#if !defined(__SANITIZE_ADDRESS__)   // which has an allocator of its own
        EXPECT_EQ(held, std::string(held.size(), static_cast<char>(poison ^ 0xFF)));
#endif
    }
}
#endif
TEST(HeatEngineBytes, OfPeaksAloneAreTheSameWithAnyVectorInstructions) {
    auto brakes = brakes_of(0, 70);
    for (std::size_t i = 0; i < 5; ++i) {
        brakes.push_back(brakes[i]);
        brakes.back().other = as_other_side(random_brake(i + 1000));
    }
    for (const int kind : {0, 3}) {
        const auto rows = random_ride(kind, 3, 300);
        for (const Precision p : {Precision::single_precision, Precision::double_precision}) {
            const auto a = solve_many({}, brakes, rows, {.precision = p, .vectors = Vectors::avx2}), b = solve_many({}, brakes, rows, {.precision = p, .vectors = Vectors::avx512});
            if (!a || !b) GTEST_SKIP() << "this machine lacks AVX2 or AVX-512";
            for (std::size_t i = 0; i < brakes.size(); ++i) EXPECT_EQ(bytes_of(*a, i), bytes_of(*b, i)) << i << " on ride " << kind;
        }
    }
}

TEST(HeatEngine, CasesThatDifferInContactOrExponentAgreeWithThePlainSolverToo) {
    NEEDS_VECTORS();
    std::vector<ReferenceBrake> brakes;
    for (int i = 0; i < 20; ++i) {
        ReferenceBrake b = ordinary_brake();
        b.closed_above_W = 20.0 * i;          // rows of 100 to 300 W: closed for some, open for others
        b.rotor.convection.m = 0.4 + 0.02 * i;   // more exponents than there are groups
        brakes.push_back(b);
    }
    std::vector<PowerRow> rows;
    for (int t = 0; t <= 400; ++t) rows.push_back({.t_s = double(t), .speed_mps = 4 + 3 * std::sin(t / 9.0), .power_W = t % 40 < 25 ? 200 + 100 * std::sin(t / 5.0) : 0});
    const auto run = solve_many({}, brakes, rows, {.keep = Keep::rows});
    ASSERT_TRUE(run);
    for (std::size_t i = 0; i < brakes.size(); ++i) {
        const auto exact = solve(brakes[i], rows, {.tolerance_K = 0.02});
        EXPECT_NEAR(run->cases[i].energy_J.made, exact->energy_J.made, 1e-6 * exact->energy_J.made + 1e-9);
        for (const Place& p : places)
            for (std::size_t k = 0; k < rows.size(); ++k) ASSERT_NEAR(exact->rows[k].*p.value, run->cases[i].rows[k].*p.value, 0.3) << p.name << " case " << i << " at " << k;
    }
}

// 2 K is what is asked of the ring; seen on 160 pairs of brake and ride: 1.0 K where it stood 97 K over the mean.
TEST(HeatEngine, TheHottestRingByShapeModesIsThatOfTheRingsOfThePlainSolver) {
    NEEDS_VECTORS();
    for (const int kind : {0, 1, 2, 3}) {
        const std::size_t first = static_cast<std::size_t>(kind) * 10;
        const std::vector<ReferenceBrake> brakes = brakes_of(first, 10);
        std::vector<RotorBand> bands;
        for (std::size_t i = 0; i < brakes.size(); ++i) bands.push_back(band_like(brakes[i], first + i));
        const auto rows = random_ride(kind, 5, kind == 2 ? 100 : 500);
        const auto fast = solve_many({}, brakes, rows, {.bands = bands}), bare = solve_many({}, brakes, rows, {});
        ASSERT_TRUE(fast && bare);
        double most = 0;
        for (std::size_t i = 0; i < brakes.size(); ++i) {
            const auto exact = solve(brakes[i], rows, {.tolerance_K = 0.1});
            const auto radial = along_radius(brakes[i], bands[i], rows, exact->rows);
            ASSERT_TRUE(radial) << radial.error().text;
            const double ring = std::max(radial->hottest_ring_degC, exact->peaks.rotor_surface.degC);
            EXPECT_NEAR(fast->cases[i].hottest_ring_degC, ring, 2) << "brake " << first + i << " on ride " << kind;
            most = std::max(most, ring - exact->peaks.rotor_surface.degC);
            EXPECT_EQ(fast->cases[i].peaks.pad_face.degC, bare->cases[i].peaks.pad_face.degC);   // looking does not disturb
            EXPECT_TRUE(std::isnan(bare->cases[i].hottest_ring_degC));
        }
        EXPECT_GT(most, 10);   // else one value along the radius would have done
    }
}

// 1 K at every row, 0.5 K in the peaks, 1e-9 in the books. Seen on a hundred brakes and four rides of 240 s: 0.35 K and 0.28 K.
void expect_varying_close(std::size_t first, std::size_t n, int kind, double seconds) {
    std::vector<ReferenceBrake> brakes;
    for (std::size_t i = first; i < first + n; ++i) brakes.push_back(test::random_varying_brake(i));
    const auto rows = random_ride(kind, 5, seconds);
    const auto fast = solve_many({}, brakes, rows, {.keep = Keep::rows});
    ASSERT_TRUE(fast);
    EXPECT_NE(fast->isa, "scalar");
    for (std::size_t i = 0; i < n; ++i) {
        const auto exact = solve(brakes[i], rows, {.tolerance_K = 0.05});
        ASSERT_TRUE(exact) << exact.error().text;
        const CaseRun& c = fast->cases[i];
        EXPECT_NEAR(c.energy_J.made, exact->energy_J.made, 1e-6 * exact->energy_J.made);
        EXPECT_LT(std::abs(c.energy_J.error), 1e-9 * c.energy_J.made);
        for (const Place& p : places) {
            for (std::size_t k = 0; k < rows.size(); ++k)
                ASSERT_NEAR(exact->rows[k].*p.value, c.rows[k].*p.value, 1) << p.name << " of brake " << first + i << " on ride " << kind << " at " << rows[k].t_s << " s";
            EXPECT_NEAR((exact->peaks.*p.peak).degC, (c.peaks.*p.peak).degC, 0.5) << "peak of " << p.name << " of brake " << first + i << " on ride " << kind;
        }
    }
}
TEST(HeatEngine, BrakesWithPropertiesOverTemperatureAgreeWithThePlainSolverOnFourRides) {
    NEEDS_VECTORS();
    for (const int kind : {0, 1, 2, 3}) expect_varying_close(static_cast<std::size_t>(kind) * 25 + (kind == 2 ? 5 : 0), 9, kind, kind == 2 ? 25 : 90);
}
TEST(HeatEngine, LongAHundredBrakesWithPropertiesOverTemperatureAgreeWithThePlainSolverOnFourRides) {
    NEEDS_VECTORS();
    if (!std::getenv("BRAKEWRIGHT_LONG")) GTEST_SKIP() << "only with BRAKEWRIGHT_LONG=1 (check --long)";
    for (const int kind : {0, 1, 2, 3}) expect_varying_close(0, 100, kind, kind == 2 ? 120 : 600);
}

TEST(HeatEngineBytes, OfBrakesWithPropertiesOverTemperatureAreTheSameWithAnyVectorsAndInAnyCompany) {
    NEEDS_VECTORS();
    std::vector<ReferenceBrake> brakes;
    for (std::size_t i = 0; i < 20; ++i) brakes.push_back(i % 3 == 1 ? random_brake(i) : test::random_varying_brake(i));   // some of constants among them
    const auto rows = random_ride(0, 3, 60);
    const auto all = solve_many({}, brakes, rows, {.keep = Keep::rows});
    ASSERT_TRUE(all);
    for (const std::size_t i : {0U, 1U, 18U}) {
        const std::vector<ReferenceBrake> two = {brakes[i], brakes[0]};
        const auto pair = solve_many({}, two, rows, {.keep = Keep::rows});
        ASSERT_TRUE(pair);
        EXPECT_EQ(bytes_of(*all, i), bytes_of(*pair, 0)) << i;
    }
    const auto a = solve_many({}, brakes, rows, {.vectors = Vectors::avx2, .keep = Keep::rows}), b = solve_many({}, brakes, rows, {.vectors = Vectors::avx512, .keep = Keep::rows});
    if (!a || !b) GTEST_SKIP() << "this machine lacks AVX2 or AVX-512";
    for (std::size_t i = 0; i < brakes.size(); ++i) ASSERT_EQ(bytes_of(*a, i), bytes_of(*b, i)) << i;
}

TEST(HeatEngine, RefusesWhatThePlainSolverRefuses) {
    NEEDS_VECTORS();
    std::vector<ReferenceBrake> brakes = {ordinary_brake(), ordinary_brake()};
    const auto rows = test::rough_ride(10, 1);
    EXPECT_FALSE(solve_many({}, {}, rows, {}));
    EXPECT_FALSE(solve_many({}, brakes, std::span(rows).first(1), {}));
    EXPECT_FALSE(solve_many({}, brakes, rows, {.longest_open_s = 0}));
    const RotorBand upside_down{0.09, 0.07, 0.075, 0.08};
    EXPECT_FALSE(solve_many({}, brakes, rows, {.bands = std::span(&upside_down, 1)}));   // one for two
    EXPECT_FALSE(solve_many({}, std::span(brakes).first(1), rows, {.bands = std::span(&upside_down, 1)}));
    brakes[1].rotor.density_kg_m3 = std::nan("");
    const auto bad = solve_many({}, brakes, rows, {});
    ASSERT_FALSE(bad);
    EXPECT_NE(bad.error().text.find("thermal.rotor.density_kg_m3"), std::string::npos);
}

}  // namespace
