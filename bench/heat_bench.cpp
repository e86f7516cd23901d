// SPDX-License-Identifier: Apache-2.0
// Work against precision of the heat engine: fast engine, plain solver, CVODE, Boost.odeint on one ride and one brake, in one
// run on one machine. Every figure stands beside its error; the program fails if an answer is wrong. Times are CPU times, the
// best of a few. Errors: largest over all rows at rotor surface / pad face / fluid, against the plain solver at a hundredth
// of its tolerance on four times the cells.
#include <fmt/format.h>
#if defined(__x86_64__)
#include <immintrin.h>
#endif

#include <algorithm>
#include <chrono>
#include <cmath>
#include <cstdlib>
#include <ctime>
#include <functional>

#include "heat/engine.hpp"
#include "heat_problem.hpp"
#include "random_brakes.hpp"

namespace {

using namespace bw;
using namespace bw::heat;

double cpu_s() {
    timespec t{};
    clock_gettime(CLOCK_PROCESS_CPUTIME_ID, &t);
    return static_cast<double>(t.tv_sec) + 1e-9 * static_cast<double>(t.tv_nsec);
}
double wall_s() { return std::chrono::duration<double>(std::chrono::steady_clock::now().time_since_epoch()).count(); }
double best_of(int n, const std::function<void()>& f) {
    double best = 1e300;
    for (int i = 0; i < n; ++i) {
        const double a = cpu_s();
        f();
        best = std::min(best, cpu_s() - a);
    }
    return best;
}

// An invented brake of ordinary size.
ReferenceBrake ordinary() {
    ReferenceBrake b;
    b.rotor = {.face_area_m2 = 0.0048, .edge_area_m2 = 0.0015, .half_thickness_m = 0.0009, .conductivity_W_mK = 24, .density_kg_m3 = 7750,
               .heat_capacity_J_kgK = 465, .emissivity = 0.35, .convection = {6, 12, 0.5}};
    b.friction = {.area_m2 = 3.8e-4, .thickness_m = 0.0019, .conductivity_W_mK = 1.1, .density_kg_m3 = 2300, .heat_capacity_J_kgK = 1050};
    b.plate = {.area_m2 = 5e-4, .thickness_m = 0.0019, .conductivity_W_mK = 48, .density_kg_m3 = 7850, .heat_capacity_J_kgK = 485};
    b.contact_W_m2K = 5e4;
    b.gap_W_m2K = 100;
    b.piston_J_K = 7;
    b.fluid_J_K = 5;
    b.caliper = {.heat_capacity_J_K = 50, .area_m2 = 0.0065, .emissivity = 0.7, .convection = {6, 14, 0.5}};
    b.arms = {.heat_capacity_J_K = 14, .area_m2 = 0.0055, .emissivity = 0.35, .convection = {6, 12, 0.5}};
    b.hub = {.heat_capacity_J_K = 65, .area_m2 = 0.01, .emissivity = 0, .convection = {6, 13, 0.5}};
    b.links_W_K = {.plate_piston = 0.07, .plate_caliper = 0.08, .piston_fluid = 0.06, .piston_caliper = 0.06, .fluid_caliper = 0.1,
                   .rotor_arms = 0.12, .arms_hub = 0.4};
    return b;
}

bench_heat::Problem problem_of(const ReferenceBrake& b) {
    bench_heat::Problem p;
    p.ambient_degC = b.ambient_degC;
    p.start_degC = b.start_degC;
    p.rotor_m = b.rotor.half_thickness_m;
    p.rotor_kA = b.rotor.conductivity_W_mK * b.rotor.face_area_m2;
    p.rotor_C_m = b.rotor.density_kg_m3 * b.rotor.heat_capacity_J_kgK * b.rotor.face_area_m2;
    p.rotor_loss_area = b.rotor.face_area_m2 - b.friction.area_m2 + b.rotor.edge_area_m2;
    p.rotor_emissivity = b.rotor.emissivity;
    p.friction_m = b.friction.thickness_m;
    p.friction_area = b.friction.area_m2;
    p.friction_kA = b.friction.conductivity_W_mK * b.friction.area_m2;
    p.friction_C_m = b.friction.density_kg_m3 * b.friction.heat_capacity_J_kgK * b.friction.area_m2;
    p.plate_m = b.plate.thickness_m;
    p.plate_kA = b.plate.conductivity_W_mK * b.plate.area_m2;
    p.plate_C_m = b.plate.density_kg_m3 * b.plate.heat_capacity_J_kgK * b.plate.area_m2;
    p.contact_W_m2K = b.contact_W_m2K;
    p.gap_W_m2K = b.gap_W_m2K;
    p.piston_C = b.piston_J_K;
    p.fluid_C = b.fluid_J_K;
    p.caliper_C = b.caliper.heat_capacity_J_K;
    p.arms_C = b.arms.heat_capacity_J_K;
    p.hub_C = b.hub.heat_capacity_J_K;
    p.caliper_area = b.caliper.area_m2;
    p.arms_area = b.arms.area_m2;
    p.hub_area = b.hub.area_m2;
    p.caliper_emissivity = b.caliper.emissivity;
    p.arms_emissivity = b.arms.emissivity;
    const auto h = [](const Convection& c) { return std::array<double, 3>{c.a, c.b, c.m}; };
    p.rotor_h = h(b.rotor.convection);
    p.caliper_h = h(b.caliper.convection);
    p.arms_h = h(b.arms.convection);
    p.hub_h = h(b.hub.convection);
    const auto& l = b.links_W_K;
    p.plate_piston = l.plate_piston;
    p.plate_caliper = l.plate_caliper;
    p.piston_fluid = l.piston_fluid;
    p.piston_caliper = l.piston_caliper;
    p.fluid_caliper = l.fluid_caliper;
    p.rotor_arms = l.rotor_arms;
    p.arms_hub = l.arms_hub;
    return p;
}

struct Error3 { double rotor = 0, pad = 0, fluid = 0; double largest() const { return std::max({rotor, pad, fluid}); } };

// Multiply-adds of a core in registers [1/s, two operations each]; 0 where this is not an x86 with AVX-512.
#if defined(__x86_64__)
__attribute__((target("avx512f"), noinline)) float multiply_adds(int n) {
    const __m512 x = _mm512_set1_ps(0.999F), y = _mm512_set1_ps(0.001F);
    // Enough in flight to hide the latency; all different, else the compiler makes one of them.
    __m512 a = _mm512_set1_ps(1), b = _mm512_set1_ps(2), c = _mm512_set1_ps(3), d = _mm512_set1_ps(4), e = _mm512_set1_ps(5), f = _mm512_set1_ps(6);
    __m512 g = _mm512_set1_ps(7), h = _mm512_set1_ps(8), i = _mm512_set1_ps(9), j = _mm512_set1_ps(10), k = _mm512_set1_ps(11), l = _mm512_set1_ps(12);
    for (int t = 0; t < n; ++t)
        for (__m512* v : {&a, &b, &c, &d, &e, &f, &g, &h, &i, &j, &k, &l}) *v = _mm512_fmadd_ps(*v, x, y);
    __m512 sum = a;
    for (const __m512& v : {b, c, d, e, f, g, h, i, j, k, l}) sum = _mm512_add_ps(sum, v);
    return _mm512_cvtss_f32(sum);
}
double peak_avx512() {
    constexpr int n = 10000000;
    float out = 0;
    const double seconds = best_of(3, [&] { out += multiply_adds(n); });
    return out > 0 ? 2.0 * 16 * 12 * n / seconds : 0;
}
double peak_of_a_core() { return best_vectors() == "avx512" ? peak_avx512() : 0; }
#else
double peak_of_a_core() { return 0; }
#endif

bool good = true;
void line(const std::string& method, const Error3& e, double each_s, double cvode_s, double limit_K) {
    fmt::print("| {:<58} | {:.2f} / {:.2f} / {:.2f} | {:>10} | {:>8} |\n", method, e.rotor, e.pad, e.fluid,
               each_s >= 1e-3 ? fmt::format("{:.3g} ms", each_s * 1e3) : fmt::format("{:.3g} us", each_s * 1e6), cvode_s > 0 ? fmt::format("{:.3g}", cvode_s / each_s) : "");
    if (!(e.largest() <= limit_K)) {
        fmt::print("WRONG: {} is off by {:.3g} K, more than {:g} K\n", method, e.largest(), limit_K);
        good = false;
    }
}

}  // namespace

int main(int argc, char** argv) {
    const int cases = argc > 1 ? std::atoi(argv[1]) : 10000;
    const bool libraries = argc <= 2 || std::string(argv[2]) != "engine";
    if (cases < 8 || argc > 3 || (argc == 3 && libraries)) {
        fmt::print(stderr, "bench_heat: expected [CASES [engine]], CASES at least 8: how many cases of the ride; engine: without the solvers of libraries\n");
        return 2;
    }
    const ReferenceBrake b = ordinary();
    const auto ride_of = [](double seconds) { return test::random_ride(0, 2024, seconds); };
    const std::vector<PowerRow> ride = ride_of(7200);
    double braking = 0, peak = 0;
    int switches = 0;
    for (std::size_t i = 0; i + 1 < ride.size(); ++i) {
        const bool on = ride[i].power_W > b.closed_above_W;
        braking += on ? 1 : 0;
        peak = std::max(peak, ride[i].power_W);
        if (i > 0 && on != (ride[i - 1].power_W > b.closed_above_W)) ++switches;
    }
    const auto exact = solve(b, ride, {.tolerance_K = 0.003, .grid_refinement = 4});
    if (!exact) return 1;
    fmt::print("one synthetic ride of two hours: {:.0f} s of braking, {} switches, up to {:.0f} W; pad face up to {:.0f} degC\n\n", braking, switches, peak, exact->peaks.pad_face.degC);
    const auto error_of = [&](const auto& at) {
        Error3 e;
        for (std::size_t k = 0; k < ride.size(); ++k) {
            const auto [r, p, f] = at(k);
            e.rotor = std::max(e.rotor, std::abs(r - exact->rows[k].rotor_surface_degC));
            e.pad = std::max(e.pad, std::abs(p - exact->rows[k].pad_face_degC));
            e.fluid = std::max(e.fluid, std::abs(f - exact->rows[k].fluid_degC));
        }
        return e;
    };
    using Three = std::tuple<double, double, double>;
    const auto of_states = [](const HeatRows& rows) {
        return [&rows](std::size_t k) { return Three{rows[k].rotor_surface_degC, rows[k].pad_face_degC, rows[k].fluid_degC}; };
    };
    fmt::print("| {:<58} | error, K            | CPU        | x CVODE  |\n|---|---|---|---|\n", "one case");
    double cvode_s = 0;
    if (libraries) {
        const bench_heat::Problem p = problem_of(b);
        std::vector<bench_heat::Input> rows;
        for (const PowerRow& r : ride) rows.push_back({r.t_s, r.speed_mps, r.power_W});
        const auto of_series = [](const bench_heat::Series& s) { return [&s](std::size_t k) { return Three{s.rotor_surface[k], s.pad_face[k], s.fluid[k]}; }; };
        for (const double relative : {1e-4, 3e-5, 1e-5, 1e-6}) {
            bench_heat::Series s;
            const double t = best_of(1, [&] { s = bench_heat::by_cvode(p, rows, b.closed_above_W, b.power_scale, relative); });
            const Error3 e = error_of(of_series(s));
            if (e.largest() <= 1 && cvode_s == 0) cvode_s = t;   // the loosest within a kelvin
            line(fmt::format("CVODE, BDF, banded, restarted at changes, rtol {:g}", relative), e, t, cvode_s, 20);
        }
        for (const double relative : {1e-3, 1e-4}) {
            bench_heat::Series s;
            const double t = best_of(1, [&] { s = bench_heat::by_odeint(p, rows, b.closed_above_W, b.power_scale, relative); });
            line(fmt::format("Boost.odeint rosenbrock4, rtol {:g}", relative), error_of(of_series(s)), t, cvode_s, 20);
        }
    }
    for (const double tolerance : {0.03, 0.1, 0.3, 1.0}) {
        Result<HeatRun> run = Error{Errc::internal, ""};
        const double t = best_of(3, [&] { run = solve(b, ride, {.tolerance_K = tolerance}); });
        line(fmt::format("plain solver (TR-BDF2), tolerance {:g} K", tolerance), error_of(of_states(run->rows)), t, cvode_s, 2 * tolerance + 0.2);
    }
    for (const Precision precision : {Precision::single_precision, Precision::double_precision})
        for (const int order : {3, 4, 6}) {
            Result<ManyRuns> run = Error{Errc::internal, ""};
            // The first ones fill the near memory; a few hundredths of a second in all.
            const double t = best_of(60, [&] { run = solve_many({}, std::span(&b, 1), ride, {.precision = precision, .keep = Keep::rows, .friction_order = order}); });
            line(fmt::format("engine, one ride with traces, order {}, {}", order, precision == Precision::single_precision ? "single" : "double"),
                 error_of(of_states(run->cases[0].rows)), t, cvode_s, 1);
        }

    // Many cases: all thermal numbers vary by a few per cent; case 0 is the brake itself, whose peaks are checked.
    std::vector<ReferenceBrake> many(static_cast<std::size_t>(cases), b);
    for (std::size_t i = 1; i < many.size(); ++i) {
        const double x = static_cast<double>(i) / static_cast<double>(many.size());
        many[i].rotor.convection.b *= 0.7 + 0.6 * x;
        many[i].rotor.emissivity *= 0.5 + x;
        many[i].friction.conductivity_W_mK *= 0.8 + 0.4 * std::fmod(7 * x, 1.0);
        many[i].contact_W_m2K *= 0.5 + std::fmod(13 * x, 1.0);
        many[i].power_scale *= 0.9 + 0.2 * std::fmod(31 * x, 1.0);
    }
    fmt::print("\n| {:<58} | peak error, K       | CPU a case | x CVODE  |\n|---|---|---|---|\n", fmt::format("{} cases of the ride, one thread", cases));
    const auto peaks_of = [&](const CaseRun& c) {
        return Error3{std::abs(c.peaks.rotor_surface.degC - exact->peaks.rotor_surface.degC), std::abs(c.peaks.pad_face.degC - exact->peaks.pad_face.degC),
                      std::abs(c.peaks.fluid.degC - exact->peaks.fluid.degC)};
    };
    double best_each = 0;
    std::size_t best_steps = 0;
    for (const Vectors vectors : {Vectors::avx2, Vectors::avx512})
        for (const Precision precision : {Precision::single_precision, Precision::double_precision})
            for (const double open_s : {1.0, 2.0, 4.0})
                for (const int order : {3, 4}) {
                    if ((precision == Precision::double_precision || order == 3) && open_s != 4) continue;
                    Result<ManyRuns> run = Error{Errc::internal, ""};
                    const double t = best_of(2, [&] { run = solve_many({}, many, ride, {.precision = precision, .vectors = vectors, .longest_open_s = open_s, .friction_order = order}); });
                    if (!run) continue;
                    line(fmt::format("{}, {}, order {}, {:g} s while off ({} steps)", run->isa, precision == Precision::single_precision ? "single" : "double", order, open_s, run->steps),
                         peaks_of(run->cases[0]), t / cases, cvode_s, 0.5);
                    if (order == 4 && precision == Precision::single_precision && open_s == 4) best_each = t / cases, best_steps = run->steps;
                }
    // Arithmetic of a step: n = 10 states at order 4; matrix, sources, the rotor's mean and the losses.
    const double closed_share = braking / static_cast<double>(best_steps);
    const double flops = static_cast<double>(best_steps) * (2 * (100 + 30) + closed_share * 2 * 21 + 110);
    const double peak_flops = peak_of_a_core();
    fmt::print("\nabout {:.3g} GFLOP/s in single precision at order 4 (counted: {:.3g} operations a case), set-up included", flops / best_each / 1e9, flops);
    if (peak_flops > 0) fmt::print("; {:.0f} % of the {:.3g} GFLOP/s that this core gives to multiply-adds in registers", 100 * flops / best_each / peak_flops, peak_flops / 1e9);
    fmt::print("\n");

    fmt::print("\n| cases | length, s | CPU | a case |\n|---|---|---|---|\n");
    for (const auto& [n, seconds] : std::vector<std::pair<int, double>>{{cases / 8, 7200}, {cases / 4, 7200}, {cases / 2, 7200}, {cases, 7200}, {cases / 4, 3600}, {cases / 4, 14400}}) {
        const std::vector<PowerRow> r = ride_of(seconds);
        const double t = best_of(2, [&] { (void)solve_many({}, std::span(many).first(static_cast<std::size_t>(n)), r, {}); });
        fmt::print("| {} | {:.0f} | {:.3g} s | {:.3g} us |\n", n, seconds, t, t / n * 1e6);
    }
    Context two;
    two.threads = 2;
    const auto wall_of = [](int n, const std::function<void()>& f) {
        double best = 1e300;
        for (int i = 0; i < n; ++i) {
            const double a = wall_s();
            f();
            best = std::min(best, wall_s() - a);
        }
        return best;
    };
    const double wall = wall_of(5, [&] { (void)solve_many(two, many, ride, {}); });
    fmt::print("\n{} cases on two threads: {:.3g} s of wall time\n", cases, wall);

    // C: the radius too. A band of that face, pads over two thirds of it.
    const double outer = 0.09, inner = std::sqrt(outer * outer - b.rotor.face_area_m2 / 0.85 / 3.141592653589793), height = outer - inner;
    const RotorBand band{inner, outer, outer - 0.8 * height, outer - 0.1 * height};
    const std::vector<RotorBand> bands(many.size(), band);
    Result<ManyRuns> rings = Error{Errc::internal, ""};
    const double ring_s = best_of(2, [&] { rings = solve_many({}, many, ride, {.bands = bands}); });
    const double ring_wall = wall_of(3, [&] { (void)solve_many(two, many, ride, {.bands = bands}); });
    const auto pass = along_radius(b, band, ride, exact->rows);
    if (!rings || !pass) return 1;
    const double ring_K = std::abs(rings->cases[0].hottest_ring_degC - pass->hottest_ring_degC);
    fmt::print("C, {} cases with the radius: {:.3g} us of CPU a case, {:.3g} s of wall time on two threads; hottest ring {:.0f} degC, {:.0f} K over the mean, off by {:.2f} K\n",
               cases, ring_s / cases * 1e6, ring_wall, pass->hottest_ring_degC, pass->hottest_ring_degC - exact->peaks.rotor_surface.degC, ring_K);
    if (!(ring_K <= 2)) fmt::print("WRONG: hottest ring\n"), good = false;

    // B: properties over temperature; the plain solver is the measure.
    ReferenceBrake varying = b;
    varying.rotor.conductivity_over_T.points = {{20, 22}, {300, 24}, {700, 27}};
    varying.rotor.heat_capacity_over_T.points = {{20, 450}, {250, 540}, {600, 690}};
    varying.friction.conductivity_over_T.points = {{20, 1.5}, {250, 1.0}, {450, 0.8}};
    varying.friction.heat_capacity_over_T.points = {{20, 850}, {400, 1300}};
    varying.plate.heat_capacity_over_T.points = {{20, 460}, {420, 590}};
    Result<HeatRun> plain = Error{Errc::internal, ""};
    const double plain_s = best_of(1, [&] { plain = solve(varying, ride, {.tolerance_K = 0.1}); });
    const std::vector<ReferenceBrake> some(64, varying);
    Result<ManyRuns> varied = Error{Errc::internal, ""};
    const double varied_s = best_of(2, [&] { varied = solve_many({}, some, ride, {.keep = Keep::rows}); });
    if (!plain || !varied) return 1;
    double varied_K = 0;
    for (std::size_t k = 0; k < ride.size(); ++k) varied_K = std::max(varied_K, std::abs(plain->rows[k].pad_face_degC - varied->cases[0].rows[k].pad_face_degC));
    fmt::print("B: plain solver at 0.1 K {:.3g} ms, engine {:.3g} ms a case ({} steps), pad face off by {:.2f} K at most\n", plain_s * 1e3, varied_s / 64 * 1e3, varied->steps, varied_K);
    if (!(varied_K <= 1)) fmt::print("WRONG: properties over temperature\n"), good = false;

    // Two unlike sides: the other pad worn thin and resting on the body.
    ReferenceBrake unlike = b;
    unlike.other = as_other_side(b);
    unlike.other->friction.thickness_m *= 0.5;
    unlike.other->piston_J_K = unlike.other->fluid_J_K = 0.1;
    unlike.other->links_W_K = {.plate_piston = 0, .plate_caliper = 0.15, .piston_fluid = 0, .piston_caliper = 0.1, .fluid_caliper = 0.1};
    Result<HeatRun> both = Error{Errc::internal, ""};
    const double both_s = best_of(1, [&] { both = solve(unlike, ride, {.tolerance_K = 0.1}); });
    const std::vector<ReferenceBrake> sides(static_cast<std::size_t>(std::min(cases, 1024)), unlike);
    Result<ManyRuns> side_peaks = Error{Errc::internal, ""};
    const double sides_s = best_of(2, [&] { side_peaks = solve_many({}, sides, ride, {}); });
    const Result<ManyRuns> side_rows = solve_many({}, std::span(sides).first(16), ride, {.keep = Keep::rows});
    if (!both || !side_peaks || !side_rows) return 1;
    double sides_K = 0;
    for (std::size_t k = 0; k < ride.size(); ++k) {
        sides_K = std::max(sides_K, std::abs(both->rows[k].pad_face_degC - side_rows->cases[0].rows[k].pad_face_degC));
        sides_K = std::max(sides_K, std::abs(both->other_rows[k].pad_face_degC - side_rows->cases[0].other_rows[k].pad_face_degC));
    }
    fmt::print("two unlike sides: plain solver at 0.1 K {:.3g} ms, engine {:.3g} us a case of {}, pad faces off by {:.2f} K at most\n", both_s * 1e3, sides_s / static_cast<double>(sides.size()) * 1e6,
               sides.size(), sides_K);
    if (!(sides_K <= 1)) fmt::print("WRONG: two unlike sides\n"), good = false;

    // A season: 300 rides of half an hour to three hours, 1,024 cases each; the first case of each ride is checked by its heat.
    const std::size_t of_season = std::min<std::size_t>(1024, many.size());
    double season_h = 0, season_J = 0, made_J = 0;
    const double season_from = cpu_s();
    const double season = wall_of(1, [&] {
        for (std::uint64_t k = 0; k < 300; ++k) {
            const double seconds = 1800 + 9000 * std::fmod(0.618 * static_cast<double>(k), 1.0);
            season_h += seconds / 3600;
            const std::vector<PowerRow> r = test::random_ride(0, 300 + k, seconds);
            const Result<ManyRuns> run = solve_many(two, std::span(many).first(of_season), r, {});
            made_J += run ? run->cases[0].energy_J.made : std::nan("");
            for (std::size_t i = 0; i + 1 < r.size(); ++i)
                if (r[i].power_W * b.power_scale > b.closed_above_W) season_J += r[i].power_W * b.power_scale / 2 * (r[i + 1].t_s - r[i].t_s);
        }
    });
    fmt::print("a season of 300 rides, {:.0f} h, x {} cases on two threads: {:.3g} s of wall time, {:.3g} s of CPU\n", season_h, of_season, season, cpu_s() - season_from);
    if (!(std::abs(made_J - season_J) <= 1e-5 * season_J)) fmt::print("WRONG: heat of the season\n"), good = false;
    return good ? 0 : 1;
}
