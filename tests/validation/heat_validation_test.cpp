// SPDX-License-Identifier: Apache-2.0
// The heat room against the outside: textbook solutions, a second solver (CVODE), standards.
// Expected values stand here as literals of SOURCES section 12 or are computed from the formula named, without our code.
#include <boost/math/quadrature/tanh_sinh.hpp>
#include <gtest/gtest.h>

#include <cmath>
#include <numbers>

#include "by_cvode.hpp"
#include "heat/physics.hpp"
#include "heat/wheel_engine.hpp"
#include "row.hpp"

namespace {

using namespace bw::heat;
using bw::validation::Basis;
using bw::validation::check;

constexpr const char* carslaw = "H. S. Carslaw, J. C. Jaeger, Conduction of Heat in Solids, 2nd ed. 1959, ";

// One face of 0.01 m² of 410 steel (k 24.9, density 7800, c 460); a pad too small to matter; no losses unless set.
ReferenceBrake steel(double half_thickness_m) {
    ReferenceBrake b;
    b.ambient_degC = b.start_degC = 0;
    b.rotor = {.face_area_m2 = 0.01, .edge_area_m2 = 0, .half_thickness_m = half_thickness_m, .conductivity_W_mK = 24.9, .density_kg_m3 = 7800, .heat_capacity_J_kgK = 460};
    b.friction = {.area_m2 = 1e-7, .thickness_m = 0.001, .conductivity_W_mK = 1e-3, .density_kg_m3 = 1, .heat_capacity_J_kgK = 1};
    b.plate = b.friction;
    b.piston_J_K = b.fluid_J_K = b.caliper.heat_capacity_J_K = b.arms.heat_capacity_J_K = b.hub.heat_capacity_J_K = 1;
    return b;
}
constexpr double megawatt_m2 = 2 * 0.01 * 1e6;   // W of the wheel for 1 MW/m² on this face

HeatState after(const ReferenceBrake& b, double seconds, double power_W, double speed_mps = 0, double tolerance_K = 0.1) {
    const std::vector<PowerRow> rows = {{.t_s = 0, .speed_mps = speed_mps, .power_W = power_W}, {.t_s = seconds, .speed_mps = speed_mps, .power_W = power_W}};
    const auto run = solve(b, rows, {.tolerance_K = tolerance_K});
    EXPECT_TRUE(run);
    return run ? run->end : HeatState{};
}

TEST(HeatValidation, SemiInfiniteBodyUnderConstantFlux) {
    check({.id = "heat-01", .what = "410 steel 30 mm deep, 1 MW/m², 1 s -> rise of the surface", .source = std::string(carslaw) + "§2.9 (7): 2q√t/(√π·√(kρc)); form from memory",
           .basis = Basis::exact, .expected = 2e6 / (std::sqrt(std::numbers::pi) * std::sqrt(24.9 * 7800 * 460)), .tolerance = 0.119, .unit = "K",
           .why = "0.1 %: grid and steps at the default tolerance", .function = "heat::solve", .used_by_answer = true},
          after(steel(0.03), 1, megawatt_m2).rotor_surface_degC);
}

TEST(HeatValidation, SlabHeatedOnBothFaces) {
    const char* source = "H. S. Carslaw, J. C. Jaeger, Conduction of Heat in Solids, 2nd ed. 1959, §3.8 (3), series summed; form from memory";
    const auto series = [](double t, double x_over_l) {
        const double l = 0.0009, k = 24.9, rc = 7800.0 * 460, fo = k / rc * t / (l * l);
        double sum = 0;
        for (int n = 1; n < 200; ++n)
            sum += (n % 2 ? -1.0 : 1.0) / (n * n) * std::exp(-n * n * std::numbers::pi * std::numbers::pi * fo) * std::cos(n * std::numbers::pi * x_over_l);
        return 1e6 * t / (rc * l) + 1e6 * l / k * ((3 * x_over_l * x_over_l - 1) / 6 - 2 / (std::numbers::pi * std::numbers::pi) * sum);
    };
    const HeatState one = after(steel(0.0009), 1, megawatt_m2);
    check({.id = "heat-02", .what = "410 steel, half thickness 0.9 mm, 1 MW/m² a face, 1 s -> surface", .source = source, .expected = series(1, 1), .tolerance = 0.32, .unit = "K",
           .why = "0.1 %", .function = "heat::solve", .used_by_answer = true}, one.rotor_surface_degC);
    check({.id = "heat-03", .what = "the same -> mid-plane", .source = source, .expected = series(1, 0), .tolerance = 0.30, .unit = "K", .why = "0.1 %",
           .function = "heat::solve", .used_by_answer = true}, one.rotor_mid_degC);
    EXPECT_NEAR(series(1, 1), 321.722, 1e-3);   // the literals of SOURCES check 11
    EXPECT_NEAR(series(1, 0), 303.650, 1e-3);
    check({.id = "heat-04", .what = "the same slab after 0.02 s -> surface, still nearly semi-infinite", .source = source, .expected = 16.890, .tolerance = 0.034, .unit = "K",
           .why = "0.2 %", .function = "heat::solve", .used_by_answer = true}, after(steel(0.0009), 0.02, megawatt_m2).rotor_surface_degC);
    check({.id = "heat-05", .what = "the same slab after 0.1 s -> surface, no longer semi-infinite (37.751 K)", .source = source, .expected = 43.014, .tolerance = 0.086, .unit = "K",
           .why = "0.2 %", .function = "heat::solve", .used_by_answer = true}, after(steel(0.0009), 0.1, megawatt_m2).rotor_surface_degC);
}

TEST(HeatValidation, StopAtConstantDeceleration) {
    std::vector<PowerRow> rows;
    for (int i = 0; i <= 2000; ++i) rows.push_back({.t_s = i * 1e-3, .speed_mps = 0, .power_W = i < 2000 ? megawatt_m2 * (1 - (i + 0.5) / 2000) : 0});
    const auto run = solve(steel(0.03), rows, {});
    ASSERT_TRUE(run);
    check({.id = "heat-06", .what = "410 steel 30 mm deep, flux falling linearly from 1 MW/m² to nought in 2 s -> peak of the surface",
           .source = std::string(carslaw) + "§2.9 superposed: 0.5319·q0·√ts/√(kρc) at half time; the family of T. P. Newcomb 1958-60, from memory", .expected = 79.586, .tolerance = 0.08,
           .unit = "K", .why = "0.1 %", .function = "heat::solve", .used_by_answer = true},
          run->peaks.rotor_surface.degC);
    check({.id = "heat-07", .what = "the same -> time of the peak", .source = std::string(carslaw) + "§2.9 superposed", .expected = 1.0, .tolerance = 0.03, .unit = "s",
           .why = "the top is flat: 0.03 s from it the curve is 0.02 K lower", .function = "heat::solve", .used_by_answer = true}, run->peaks.rotor_surface.t_s);
}

TEST(HeatValidation, BooksOfABodyWithoutLosses) {
    ReferenceBrake b = steel(0.0009);
    b.rotor.heat_capacity_J_kgK = 500;
    b.rotor.face_area_m2 = 0.075 / (7800 * 0.0009);   // half of 150 g
    check({.id = "heat-08", .what = "100 kg from 10 m/s (5.0 kJ) into 150 g of steel at 0.5 J/(g K) -> mean rise", .source = "energy balance, m v²/2 = M c dT", .expected = 5000 / (150 * 0.5),
           .tolerance = 1e-3, .unit = "K", .why = "rounding, and the little that the small pad takes", .function = "heat::solve", .used_by_answer = true},
          after(b, 2, 2500).rotor_mean_degC);
}

TEST(HeatValidation, LumpedBodyCoolsExponentially) {
    ReferenceBrake b = steel(0.0009);
    b.start_degC = 200;
    b.ambient_degC = 20;
    b.rotor.conductivity_W_mK = 4000;   // Biot number 5e-6: one temperature
    b.rotor.convection = {.a = 10, .b = 5, .m = 0.5};
    const double h = 10 + 5 * std::sqrt(4.0), tau = 7800 * 460 * 0.0009 / h;
    check({.id = "heat-09", .what = "3.23 kJ/(m² K) at 200 °C in air of 20 °C, h = 10 + 5 v^0.5 at 4 m/s, after 120 s -> mean", .source = "lumped body, exp(-t/τ), τ = m c/(h A)",
           .expected = 20 + 180 * std::exp(-120 / tau), .tolerance = 0.05, .unit = "degC", .why = "default tolerance 0.1 K halved", .function = "heat::solve", .used_by_answer = true},
          after(b, 120, 0, 4).rotor_mean_degC);
}

TEST(HeatValidation, SteadyDragWithConvectionAndRadiation) {
    ReferenceBrake b = steel(0.0009);
    b.ambient_degC = b.start_degC = 15;
    b.rotor.edge_area_m2 = 0.002;
    b.rotor.emissivity = 0.4;
    b.rotor.convection = {.a = 6, .b = 9, .m = 0.6};
    // Root of 150 W = (A - friction + edge)(h (T-Ta) + 0.4 σ (T⁴-Ta⁴)) by bisection.
    const double area = 0.01 - 1e-7 + 0.002, h = 6 + 9 * std::pow(5, 0.6);
    double low = 15, high = 2000;
    for (int i = 0; i < 100; ++i) {
        const double t = (low + high) / 2;
        const double out = area * (h * (t - 15) + 0.4 * 5.670374419e-8 * (std::pow(t + 273.15, 4) - std::pow(288.15, 4)));
        (out < 150 ? low : high) = t;
    }
    check({.id = "heat-10", .what = "300 W held for 3 h at 5 m/s, h = 6 + 9 v^0.6, emissivity 0.4 -> surface", .source = "steady balance of convection and Stefan-Boltzmann radiation, root by bisection",
           .expected = low, .tolerance = 0.1, .unit = "degC", .why = "asked for: 0.1 K", .function = "heat::solve", .used_by_answer = true},
          after(b, 3 * 3600, 300, 5).rotor_surface_degC);

    ReferenceBrake black = steel(0.0009);
    black.ambient_degC = black.start_degC = 25;
    black.rotor.emissivity = 1;
    check({.id = "heat-11", .what = "a black face held by 11 194.8 W/m² against 25 °C -> temperature", .source = "Stefan-Boltzmann law, 400 °C to 25 °C", .expected = 400, .tolerance = 0.05, .unit = "degC",
           .why = "the flux is given to 5e-6, its slope is 70 W/(m² K)", .function = "heat::solve", .used_by_answer = true},
          after(black, 5 * 3600, 2 * 11194.8 * (0.01 - 1e-7)).rotor_surface_degC);
}

TEST(HeatValidation, EarlyPartitionByEffusivity) {
    const char* source = "Charron: equal surface temperature, share b_r A_r/(b_r A_r + b_p A_p); form from memory, values of SOURCES check 15";
    ReferenceBrake b = steel(0.02);
    b.friction = {.area_m2 = 0.01, .thickness_m = 0.02, .conductivity_W_mK = 0.8, .density_kg_m3 = 2200, .heat_capacity_J_kgK = 1100};
    std::vector<PowerRow> rows;
    for (int i = 0; i <= 10; ++i) rows.push_back({.t_s = 0.1 * i, .speed_mps = 0, .power_W = 10000 + 1e-6 * i});
    const auto share = [&] { return solve(b, rows, {.tolerance_K = 0.01})->rows[9].pad_heat_share; };
    check({.id = "heat-12", .what = "410 rotor and organic pad of equal area, deep bodies, 0.9 s -> share of the heat into the pad", .source = source, .expected = 1 - 0.8717, .tolerance = 0.0013, .unit = "1",
           .why = "1 %", .function = "heat::solve", .used_by_answer = true}, share());
    b.friction = {.area_m2 = 0.001, .thickness_m = 0.03, .conductivity_W_mK = 30, .density_kg_m3 = 5500, .heat_capacity_J_kgK = 480};
    check({.id = "heat-13", .what = "410 rotor and sintered pad of a tenth of its area -> share of the heat into the pad", .source = source, .expected = 1 - 0.9139, .tolerance = 0.0009, .unit = "1",
           .why = "1 %", .function = "heat::solve", .used_by_answer = true}, share());
}

TEST(HeatValidation, RepeatedStopsAreAGeometricSeries) {
    ReferenceBrake b = steel(0.0009);
    b.rotor.conductivity_W_mK = 4000;
    b.rotor.convection = {.a = 30, .b = 0, .m = 1};
    std::vector<PowerRow> rows;
    for (int n = 0; n < 12; ++n) {
        rows.push_back({.t_s = 40.0 * n, .speed_mps = 0, .power_W = 1e5});          // 2.5 kJ into the half in 50 ms
        rows.push_back({.t_s = 40.0 * n + 0.05, .speed_mps = 0, .power_W = 0});
    }
    const auto run = solve(b, rows, {});
    ASSERT_TRUE(run);
    const double capacity = 7800 * 460 * 0.0009 * 0.01, tau = capacity / (30 * 0.01), q = std::exp(-40 / tau);
    const double one = 5e4 / 0.30 * (1 - std::exp(-0.05 / tau));   // a stop of 50 ms, its own cooling included
    check({.id = "heat-14", .what = "twelve equal stops 40 s apart, lumped body -> rise after the last", .source = "geometric series ΔT1(1-qⁿ)/(1-q); R. Limpert, Brake Design and Safety, from memory",
           .expected = one * (1 - std::pow(q, 12)) / (1 - q), .tolerance = 0.1, .unit = "K", .why = "default tolerance of the solver", .function = "heat::solve",
           .used_by_answer = true}, run->rows[23].rotor_mean_degC);
}

TEST(HeatValidation, ObservedOrderOfTheStep) {
    ReferenceBrake b = test::ordinary_brake();
    b.start_degC = 600;
    const std::vector<PowerRow> rows = {{.t_s = 0, .speed_mps = 4, .power_W = 0}, {.t_s = 200, .speed_mps = 4, .power_W = 0}};
    const auto at = [&](double h) { return solve(b, rows, {.fixed_step_s = h})->end.rotor_mean_degC; };
    const double e2 = at(2) - at(0.05), e1 = at(1) - at(0.05);
    check({.id = "heat-15", .what = "a brake of 600 °C cooling by convection and radiation, steps of 2 and 1 s -> observed order", .source = "order of TR-BDF2: M. Hosea, L. Shampine, Appl. Numer. Math. 20, 1996, from memory",
           .basis = Basis::from_memory, .expected = 2, .tolerance = 0.1, .unit = "1", .why = "still asymptotic to a few percent", .function = "heat::solve", .used_by_answer = true}, std::log2(std::abs(e2 / e1)));
}

TEST(HeatValidation, RoughRideAgainstCvode) {
    const auto rows = test::rough_ride(240, 77);
    const ReferenceBrake brake = test::ordinary_brake();
    const auto other = test::solve_by_cvode(brake, rows, 41, 121, 7);
    const auto w = heat_of_wheel_by_engine(brake, {}, rows, 0, std::nullopt, nullptr);
    ASSERT_TRUE(w);
    double worst[9] = {};
    double peak = -1e9;
    for (std::size_t i = 0; i < rows.size(); ++i) {
        const HeatState& s = w->states[i];
        const double got[] = {s.rotor_surface_degC, s.rotor_mid_degC, s.pad_face_degC, s.plate_degC, s.piston_degC, s.fluid_degC, s.caliper_degC, s.arms_degC, s.hub_degC};
        for (std::size_t k = 0; k < 9; ++k) worst[k] = std::isnan(got[k]) ? 1e9 : std::max(worst[k], std::abs(got[k] - other[i][k]));
        peak = std::max(peak, other[i][5]);
    }
    const char* source = "SUNDIALS CVODE, BDF, rtol 1e-8, restarted at each change of input, nodes and equations of the test's own";
    const auto row = [&](const char* id, const char* what, double got) {
        check({.id = id, .what = std::string("rough ride of 240 s, largest difference in any second: ") + what, .source = source, .basis = Basis::library, .expected = 0, .tolerance = 0.2, .unit = "K",
               .why = "asked for: 0.2 K everywhere", .function = "heat::heat_of_wheel_by_engine", .used_by_answer = true}, got);
    };
    row("heat-16", "rotor surface", worst[0]);
    row("heat-17", "pad face", worst[2]);
    row("heat-18", "plate", worst[3]);
    row("heat-19", "fluid", worst[5]);
    row("heat-20", "caliper, piston, arms, hub", std::max({worst[4], worst[6], worst[7], worst[8]}));
    check({.id = "heat-21", .what = "the same ride -> fluid at its hottest second", .source = source, .basis = Basis::library, .expected = peak, .tolerance = 0.1, .unit = "degC", .why = "tolerance of the solver",
           .function = "heat::heat_of_wheel_by_engine", .used_by_answer = true}, w->peaks.fluid.degC);
}

TEST(HeatValidation, ConvectionOfDiscAndPlate) {
    const Air air{.kinematic_viscosity_m2s = 1.5e-5, .conductivity_W_mK = 0.026, .prandtl = 0.71};
    check({.id = "heat-22", .what = "disc of 80 mm radius at 10 m/s on a wheel of 0.335 m -> coefficient of rotation alone", .source = "Nu = 0.33 Re^½; L. A. Dorfman 1963, E. C. Cobb, O. A. Saunders 1956; from memory (SOURCES check 16)",
           .basis = Basis::from_memory, .expected = 12.10, .tolerance = 0.06, .unit = "W/(m2 K)", .why = "0.5 %", .function = "heat::rotating_disc_W_m2K", .used_by_answer = true},
          rotating_disc_W_m2K(0.08, 10 / 0.335, air));
    check({.id = "heat-23", .what = "flat plate 0.16 m at 10 m/s, laminar", .source = "Nu = 0.664 Re^½ Pr^⅓; J. H. Lienhard V, J. Heat Transfer 142(6) 061805, 2020 (abstract), SOURCES check 17", .expected = 31.4, .tolerance = 0.3,
           .unit = "W/(m2 K)", .why = "1 %", .function = "heat::flat_plate_W_m2K", .used_by_answer = true}, flat_plate_W_m2K(0.16, 10, air, Flow::laminar));
    check({.id = "heat-24", .what = "the same, turbulent (the upper end of the drawn factor)", .source = "Nu = 0.037 Re^0.8 Pr^⅓; as before", .expected = 56.5, .tolerance = 0.6, .unit = "W/(m2 K)", .why = "1 %",
           .function = "heat::flat_plate_W_m2K"}, flat_plate_W_m2K(0.16, 10, air, Flow::turbulent));
    // A whole disc in closed form: mean of l^-½ over it = 2√2 B R^1.5/(πR²), B = integral of (1 - s²)^¼ over 0..1 = √π Γ(5/4)/(2 Γ(7/4)).
    const double radius = 0.08, b = std::sqrt(std::numbers::pi) * std::tgamma(1.25) / (2 * std::tgamma(1.75));
    const double mean = 2 * std::sqrt(2.0) * b * std::pow(radius, 1.5) / (std::numbers::pi * radius * radius);
    check({.id = "heat-86", .what = "whole disc of 160 mm along the wind -> length of the plate that is cooled as well", .source = "strips of flat plate (0.664 Re^½ each), summed in closed form: Nu_R = 0.523 Re_R^½ Pr^⅓", .expected = 1000 / (mean * mean),
           .tolerance = 0.1, .unit = "mm", .why = "0.1 %: quadrature", .function = "heat::ring_length_m", .used_by_answer = true}, 1000 * ring_length_m(0.16, 1e-6));
    // A ring: the local coefficient 0.332 k Pr^⅓ √(U/(ν x)) from each edge on, along every line of air.
    const double outer = 0.08, inner = 0.066;
    boost::math::quadrature::tanh_sinh<double> singular;
    const auto line = [&](double y) {
        const double rim = std::sqrt(outer * outer - y * y), opening = y < inner ? std::sqrt(inner * inner - y * y) : 0;
        const auto from_edge = [&](double length) {
            return singular.integrate([](double x) { return 0.332 * 0.026 * std::cbrt(0.71) * std::sqrt(10 / (1.5e-5 * x)); }, 0.0, length);
        };
        return y < inner ? 2 * from_edge(rim - opening) : from_edge(2 * rim);
    };
    const double plates = 2 * (singular.integrate(line, 0.0, inner) + singular.integrate(line, inner, outer)) / (std::numbers::pi * (outer * outer - inner * inner));
    const Convection c = rotor_convection(outer * 2, inner * 2, 0.335, 20, air);
    check({.id = "heat-25", .what = "rotor of 160 mm, band of 14 mm, at 10 m/s, forced part: laminar plates along the wind and disc, summed in squares",
           .source = "0.332 Re_x^½ Pr^⅓ (J. H. Lienhard V 2020, abstract) integrated along every line of air from each edge on; disc of heat-22", .expected = std::hypot(plates, 12.10), .tolerance = 0.1,
           .unit = "W/(m2 K)", .why = "0.1 %: quadrature", .function = "heat::rotor_convection", .used_by_answer = true}, c.at(10) - c.a);
    bw::validation::report("heat-26", "natural convection at a rotor of 160 mm, 100 K above the air", 5, 10, "W/(m2 K)", c.a, "");
    check({.id = "heat-27", .what = "air of 15 °C at sea level -> kinematic viscosity", .source = "ICAO standard atmosphere, 1.4607e-5 m²/s; from memory", .basis = Basis::from_memory, .expected = 1.4607e-5, .tolerance = 5e-8,
           .unit = "m2/s", .why = "0.3 %", .function = "heat::air_at", .used_by_answer = true}, air_at(15, 0).kinematic_viscosity_m2s);
    check({.id = "heat-28", .what = "pressure at 2500 m over that at sea level", .source = "ICAO standard atmosphere, 74.7 kPa; from memory", .basis = Basis::from_memory, .expected = 74.69 / 101.325, .tolerance = 0.002, .unit = "1",
           .why = "table rounded to 0.1 kPa", .function = "heat::pressure_ratio", .used_by_answer = true}, pressure_ratio(2500));
}

TEST(HeatValidation, RippleUnderThePad) {
    // q of 5 MW/m² on 30 mm at 3 m/s: ripple about 60 K (SOURCES 6.1 item 8).
    check({.id = "heat-29", .what = "30 mm of pad, 3 m/s, 5 MW/m² -> rise of a spot in one pass", .source = "moving band at high speed, J. C. Jaeger 1942, from memory: 2q√t/(√π b)", .basis = Basis::from_memory, .expected = 60, .tolerance = 1, .unit = "K",
           .why = "the source rounds; a long way round and a thick plate, as the source has", .function = "heat::ripple_dK", .used_by_answer = true},
          ripple_dK({.power_W = 2 * 5e6 * 3e-4, .speed_mps = 3, .wheel_radius_m = 100, .effective_radius_m = 100, .pad_area_m2 = 3e-4, .pad_length_m = 0.03, .rotor_share = 1,
                     .half_thickness_m = 0.05, .conductivity_W_mK = 24.9, .heat_capacity_J_m3K = 9452.0 * 9452 / 24.9}));
}

TEST(HeatValidation, BoilingPoints) {
    const bw::parts::Library library = *bw::parts::load_library();
    using bw::parts::FluidKind;
    const struct { const char* id; FluidKind kind; const char* name; double dry, wet; } grades[] = {
        {"heat-30", FluidKind::dot3, "DOT 3", 205, 140}, {"heat-32", FluidKind::dot4, "DOT 4", 230, 155}, {"heat-34", FluidKind::dot5_1, "DOT 5.1", 260, 180}};
    for (const auto& g : grades) {
        const BoilingLimits least = *least_boiling_points(library, g.kind);
        const FluidUnknowns u{.dry_degC = least.dry_degC, .wet_degC = least.wet_degC, .water_percent_per_month = 0, .humid_floor_degC = 100};
        const std::string next = std::string("heat-") + std::to_string(std::atoi(g.id + 5) + 1);
        check({.id = g.id, .what = std::string(g.name) + ", no water -> least boiling point", .source = "49 CFR 571.116 (FMVSS 116) S5.1.1", .basis = Basis::source_read, .expected = g.dry, .tolerance = 1e-9, .unit = "degC",
               .why = "exact", .function = "heat::boiling_point_of_water_content_degC", .used_by_answer = true}, boiling_point_of_water_content_degC(u, 0));
        check({.id = next, .what = std::string(g.name) + ", 3.7 % of water -> least boiling point", .source = "49 CFR 571.116 (FMVSS 116) S5.1.2", .basis = Basis::source_read, .expected = g.wet, .tolerance = 1e-9, .unit = "degC",
               .why = "exact", .function = "heat::boiling_point_of_water_content_degC", .used_by_answer = true}, boiling_point_of_water_content_degC(u, 3.7));
    }
    const FluidUnknowns dot3{.dry_degC = 205, .wet_degC = 140, .water_percent_per_month = 0, .humid_floor_degC = 100};
    check({.id = "heat-36", .what = "DOT 3 with 1 % of water", .source = "a workshop article on cars (low grade): 187 °C", .basis = Basis::source_read, .expected = 187, .tolerance = 10, .unit = "degC",
           .why = "SOURCES 5.2: the trade's triplet lies within 8 °C of such a curve, 2 °C for its rounding", .function = "heat::boiling_point_of_water_content_degC", .used_by_answer = true}, boiling_point_of_water_content_degC(dot3, 1));
    check({.id = "heat-37", .what = "water at 2500 m -> boiling point", .source = "steam tables, 91.6 °C at 74.7 kPa; from memory", .basis = Basis::from_memory, .expected = 91.6, .tolerance = 3, .unit = "degC",
           .why = "Trouton's 88 J/(mol K) instead of water's 109 lowers too much: the careful side", .function = "heat::boiling_point_at_altitude_degC", .used_by_answer = true}, boiling_point_at_altitude_degC(100, 2500));
}

TEST(HeatValidation, ShutInFluidPushesThePads) {
    check({.id = "heat-39", .what = "8 mm of glycol fluid behind each piston, 80 K warmer, nowhere to go -> way of each pad", .source = "V = A·depth grows by β V ΔT, and β V ΔT/A is the way; by hand 1e-3·8·80",
           .basis = Basis::exact, .expected = 0.64, .tolerance = 1e-9, .unit = "mm", .why = "rounding", .function = "heat::gap_taken_mm", .used_by_answer = true},
          gap_taken_mm(1e-3, 8, 80));
}

TEST(HeatValidation, HeatResistanceDrag) {
    const auto run = heat_resistance(test::ordinary_brake(), {});
    ASSERT_TRUE(run);
    check({.id = "heat-38", .what = "heat-resistance drag -> energy of the wheel", .source = "ISO 4210-4: 75 Wh in 15 min at 12.5 km/h; from memory", .basis = Basis::from_memory, .expected = 75 * 3600, .tolerance = 0.05 * 75 * 3600, .unit = "J",
           .why = "the standard's own ± 5 %", .function = "heat::heat_resistance"}, 2 * run->energy_J.made);
}

}  // namespace
