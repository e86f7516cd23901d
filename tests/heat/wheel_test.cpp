// SPDX-License-Identifier: Apache-2.0
// From parts to numbers, friction over temperature, fluid, dose.
#include <gtest/gtest.h>

#include <algorithm>
#include <cmath>
#include <set>

#include "by_cvode.hpp"
#include "heat/physics.hpp"
#include "heat/wheel.hpp"

namespace {

using namespace bw::heat;
namespace parts = bw::parts;
using parts::End;

const parts::Library& library() {
    static const parts::Library lib = *parts::load_library();
    return lib;
}
parts::Bike trail() { return parts::default_bike(parts::BikeKind::trail, library()); }
ReferenceBrake reference(const parts::Bike& bike, double altitude_m = 0) {
    return reference_of(library(), bike, End::front, median_unknowns(library(), bike, End::front), 20, altitude_m);
}
std::vector<PowerRow> drag(double power, double seconds) {
    std::vector<PowerRow> rows;
    for (double t = 0; t <= seconds; t += 1) rows.push_back({.t_s = t, .speed_mps = 6, .power_W = power});
    return rows;
}

TEST(HeatParts, EveryKindOfBikeAndPartGivesABrakeThatTheSolverTakes) {
    for (const auto kind : {parts::BikeKind::trail, parts::BikeKind::gravel, parts::BikeKind::road, parts::BikeKind::city, parts::BikeKind::cargo}) {
        for (const auto rotor : {parts::RotorKind::solid, parts::RotorKind::vented, parts::RotorKind::two_piece}) {
            for (const auto actuation : {parts::Actuation::hydraulic, parts::Actuation::cable, parts::Actuation::cable_to_hydraulic}) {
                parts::Bike bike = parts::default_bike(kind, library());
                bike.front.rotor.kind = rotor;
                bike.front.actuation = actuation;
                bike.front.caliper.moving_pads = actuation == parts::Actuation::cable ? 1 : 2;
                bike.front.pads.heat_barrier = rotor == parts::RotorKind::vented;
                const ReferenceBrake b = reference(bike);
                const auto status = check_reference(b);
                EXPECT_TRUE(status) << status.error().text;
                EXPECT_TRUE(heat_of_wheel(b, median_unknowns(library(), bike, End::front), drag(300, 20), {}));
            }
        }
    }
}

TEST(HeatParts, EveryCaseOfTheDrawsGivesABrakeThatTheSolverTakes) {
    const parts::Bike bike = trail();
    std::vector<bw::Input> all = inputs(library(), bike);
    for (bw::Input& i : parts::inputs_of(bike)) all.push_back(std::move(i));
    std::set<std::string> keys;
    for (const bw::Input& i : all) EXPECT_TRUE(keys.insert(i.key).second) << i.key;
    EXPECT_TRUE(keys.contains("front.heat.convection"));
    EXPECT_TRUE(keys.contains("rear.heat.emissivity"));
    const bw::Cases cases = bw::draw_cases(all, 256, 1);
    for (std::size_t i = 0; i < 256; ++i) {
        const bw::CaseRow row(cases, i);
        const parts::Bike one = parts::bike_of_case(bike, row);
        for (const End end : {End::front, End::rear}) {
            const HeatUnknowns u = unknowns_of(library(), one, end, row);
            const auto status = check_reference(reference_of(library(), one, end, u, 12));
            EXPECT_TRUE(status) << i << " " << status.error().text;
        }
    }
}

TEST(HeatParts, ABiggerRotorRunsCoolerAndABarrierKeepsTheFluidCooler) {
    parts::Bike small = trail(), large = trail(), barrier = trail();
    small.front.rotor.diameter_mm.value = 160;
    small.front.rotor.band_inner_mm.value = 132;
    large.front.rotor.diameter_mm.value = 203;
    large.front.rotor.band_inner_mm.value = 175;
    const auto peak = [](const parts::Bike& b) { return solve(reference(b), drag(500, 600), {.cool_down_s = 600})->peaks; };
    EXPECT_GT(peak(small).rotor_surface.degC, peak(large).rotor_surface.degC + 20);
    barrier.front.pads.heat_barrier = true;
    EXPECT_LT(peak(barrier).fluid.degC, peak(trail()).fluid.degC - 1);
}

TEST(HeatParts, ThinAirCoolsLess) {
    const double low = reference(trail(), 0).rotor.convection.at(10), high = reference(trail(), 2500).rotor.convection.at(10);
    EXPECT_LT(high, 0.92 * low);   // about the root of the density ratio 0.78
    EXPECT_GT(high, 0.82 * low);
}

TEST(HeatParts, ASinteredPadSendsMoreHeatToTheFluidThanAnOrganicOne) {
    parts::Bike organic = trail(), sintered = trail();
    organic.front.pads.compound = parts::Compound::organic;
    sintered.front.pads.compound = parts::Compound::sintered;
    const auto fluid = [](const parts::Bike& b) { return solve(reference(b), drag(400, 600), {.cool_down_s = 600})->peaks.fluid.degC; };
    EXPECT_GT(fluid(sintered), fluid(organic) + 5);
}

TEST(HeatParts, TheSpreadOfConvectionIsThirtyToFortyPercentAndEverySpreadHasAReason) {
    const auto& c = library().row("heat.convection").value;
    EXPECT_GE(c.sd / c.value, 0.30);
    EXPECT_LE(c.sd / c.value, 0.40);
    for (const bw::Input& i : inputs(library(), trail())) {
        EXPECT_GT(i.value.sd, 0) << i.key;
        EXPECT_FALSE(i.value.source.empty()) << i.key;
    }
}

TEST(WearDoseSum, EqualsTheEnergyHandedInWithNegativeRowsInside) {
    auto rows = test::rough_ride(900, 6);
    for (std::size_t i = 5; i < rows.size(); i += 9)
        if (rows[i].power_W > 0) rows[i].power_W = -0.1 * rows[i].power_W;
    double sum = 0, metres = 0;
    for (std::size_t i = 0; i + 1 < rows.size(); ++i) sum += rows[i].power_W, metres += rows[i].speed_mps;
    const auto w = heat_of_wheel(test::ordinary_brake(), {}, rows, {.cool_down_s = 300});
    ASSERT_TRUE(w);
    EXPECT_NEAR(w->dose.total_J(), sum, 1e-9 * sum);
    EXPECT_NEAR(w->dose.distance_m, metres, 1e-6);
}

TEST(WearDoseSum, EachBinsMeanTemperatureLiesInTheBin) {
    const auto w = heat_of_wheel(test::ordinary_brake(), {}, test::rough_ride(1800, 6), {});
    ASSERT_TRUE(w);
    int used = 0;
    for (std::size_t i = 0; i < dose_bins; ++i) {
        if (w->dose.energy_J[i] == 0) continue;
        ++used;
        const double mean = w->dose.energy_temperature_J_degC[i] / w->dose.energy_J[i];
        if (i > 0) { EXPECT_GE(mean, dose_edges_degC[i - 1]); }
        if (i < dose_edges_degC.size()) { EXPECT_LE(mean, dose_edges_degC[i]); }
    }
    EXPECT_GE(used, 4);
}

TEST(WearDoseSum, AnEdgeBelongsToTheBinAboveAndNothingFallsOutside) {
    EXPECT_EQ(dose_bin(-40), 0U);
    EXPECT_EQ(dose_bin(49.999), 0U);
    EXPECT_EQ(dose_bin(50), 1U);
    EXPECT_EQ(dose_bin(549.9), dose_bins - 2);
    EXPECT_EQ(dose_bin(5000), dose_bins - 1);
}

TEST(FrictionOverHeat, IsOneColdMeetsItsRatioAt550KelvinAndKeepsFalling) {
    const FrictionUnknowns u{.ratio_550K = 0.8, .beyond_per_100K = 0.7};
    EXPECT_EQ(friction_factor(u, -5), 1);
    EXPECT_EQ(friction_factor(u, 26.85), 1);
    EXPECT_NEAR(friction_factor(u, 276.85), 0.8, 1e-12);
    EXPECT_NEAR(friction_factor(u, 376.85), 0.56, 1e-12);
    EXPECT_EQ(friction_factor(u, 5000), 0.1);
}

TEST(FrictionOverHeat, TheBandWidensBeyondTheMeasuredRange) {
    for (const char* c : {"organic", "semi_metallic", "sintered"}) {
        const bw::Uncertain& in = library().row(std::string("compound.") + c + ".friction_ratio_550K").value;
        const bw::Uncertain& out = library().row(std::string("compound.") + c + ".friction_beyond_per_100K").value;
        const auto band = [&](double t) {   // log width of the 16 to 84 % band
            const FrictionUnknowns a{in.at(1), out.at(1)}, b{in.at(-1), out.at(-1)};
            return std::log(friction_factor(a, t) / friction_factor(b, t));
        };
        EXPECT_GT(band(376.85), 1.5 * band(276.85)) << c;
        EXPECT_GT(band(276.85), band(150)) << c;
    }
}

TEST(FrictionOverHeat, TheLeverForceFactorIsTheLargestWhileClosed) {
    HeatUnknowns u;
    u.friction = {.ratio_550K = 0.7, .beyond_per_100K = 0.8};
    const auto w = heat_of_wheel(test::ordinary_brake(), u, drag(900, 200), {});
    ASSERT_TRUE(w);
    EXPECT_NEAR(w->lever_force_factor, 1 / friction_factor(u.friction, w->peaks.pad_face.degC), 1e-3);
    EXPECT_EQ(w->factors.size(), w->states.size());
    EXPECT_LE(*std::max_element(w->factors.begin(), w->factors.end()), w->lever_force_factor + 1e-12);
    HeatUnknowns gains;
    gains.friction = {.ratio_550K = 1.2, .beyond_per_100K = 1};
    EXPECT_EQ(heat_of_wheel(test::ordinary_brake(), gains, drag(900, 60), {})->lever_force_factor, 1);
}

TEST(HottestRing, OfAWheelIsThatOfThePassAlongTheRadius) {
    const parts::Bike bike = trail();
    const HeatUnknowns u = median_unknowns(library(), bike, End::front);
    const ReferenceBrake brake = reference_of(library(), bike, End::front, u, 20);
    const RotorBand band = band_of(bike, End::front, u);
    const auto rows = drag(600, 200);
    const auto w = heat_of_wheel(brake, u, rows, {.keep = Keep::peaks_only}, band);
    ASSERT_TRUE(w);
    const auto run = solve(brake, rows, {});
    const auto radial = along_radius(brake, band, rows, run->rows);
    ASSERT_TRUE(radial);
    EXPECT_NEAR(w->rotor_hottest_ring_degC, radial->hottest_ring_degC, 1e-9);
    EXPECT_GT(w->rotor_hottest_ring_degC, w->peaks.rotor_surface.degC + 1);
    HeatUnknowns narrow = u;   // the same heat on less of the pad's height
    narrow.track_share = 0.5;
    EXPECT_GT(heat_of_wheel(brake, u, rows, {}, band_of(bike, End::front, narrow))->rotor_hottest_ring_degC, w->rotor_hottest_ring_degC + 1);
    EXPECT_TRUE(w->states.empty());
    EXPECT_EQ(heat_of_wheel(brake, u, rows, {})->rotor_hottest_ring_degC, w->peaks.rotor_surface.degC);
}

TEST(Boiling, FallsWithAgeAndAltitudeAndIsNotKnownForMineralOil) {
    parts::Bike bike = trail();
    bike.front.actuation = parts::Actuation::hydraulic;
    bike.front.fluid = parts::Fluid{.kind = parts::FluidKind::dot4, .age_months = {}};
    const HeatUnknowns u = median_unknowns(library(), bike, End::front);
    const auto at = [&](double months, double altitude) { return *boiling_point_degC(parts::FluidKind::dot4, months, u, altitude); };
    EXPECT_NEAR(at(0, 0), 238, 1);
    EXPECT_LT(at(12, 0), at(0, 0) - 20);
    EXPECT_LT(at(36, 0), at(12, 0));
    EXPECT_GT(at(500, 0), 99.999);
    EXPECT_LT(at(12, 2500), at(12, 0) - 8);
    EXPECT_FALSE(boiling_point_degC(parts::FluidKind::mineral, 3, u, 0));
    bike.front.fluid->kind = parts::FluidKind::mineral;
    EXPECT_FALSE(boiling_point_degC(parts::FluidKind::dot4, 3, median_unknowns(library(), bike, End::front), 0));
    EXPECT_FALSE(least_boiling_points(library(), parts::FluidKind::mineral));
}

TEST(Ripple, OrderOfSizeIsTensOfKelvinInAHardStopAndNoughtWithoutPower) {
    Ripple r{.power_W = 4000, .speed_mps = 12, .wheel_radius_m = 0.36, .effective_radius_m = 0.083, .pad_area_m2 = 4e-4, .pad_length_m = 0.025, .rotor_share = 0.95, .effusivity_W_s05_m2K = 9452};
    EXPECT_GT(ripple_dK(r), 20);
    EXPECT_LT(ripple_dK(r), 150);
    r.power_W = 0;
    EXPECT_EQ(ripple_dK(r), 0);
    const HeatUnknowns u = median_unknowns(library(), trail(), End::front);
    EXPECT_GT(ripple_of_dK(trail(), End::front, u, 2000, 12), 5);
    EXPECT_GT(ripple_of_dK(trail(), End::front, u, 2000, 6), ripple_of_dK(trail(), End::front, u, 2000, 12));
}

}  // namespace
