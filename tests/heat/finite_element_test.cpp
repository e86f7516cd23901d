// SPDX-License-Identifier: Apache-2.0
// The rotor in radius and thickness, and the solver of the reference form, against stored results of a general-purpose
// finite-element program (tests/heat/finite_element). With BRAKEWRIGHT_FINITE_ELEMENT_RESULTS=FOLDER the results there are used.
#include <gtest/gtest.h>

#include <cmath>
#include <cstdio>
#include <cstdlib>
#include <fstream>
#include <map>
#include <numbers>
#include <sstream>

#include "bw_paths.hpp"
#include "by_radius.hpp"
#include "heat/reference.hpp"

namespace {

using namespace bw::heat::test;

struct Stored {
    std::map<std::string, std::string> words;
    std::vector<AnnulusInput> heat;
    std::vector<double> radius_m;
    struct Row {
        double t_s, hottest_degC;
        std::vector<double> face_degC;
    };
    std::vector<Row> rows;
    double of(const std::string& key) const { return std::stod(words.at(key)); }
};

Stored read_stored(const std::string& name) {
    const char* folder = std::getenv("BRAKEWRIGHT_FINITE_ELEMENT_RESULTS");
    std::ifstream in((folder ? std::string(folder) : std::string(BW_ROOT) + "/tests/heat/finite_element") + "/" + name + ".csv");
    EXPECT_TRUE(in) << name;
    Stored s;
    for (std::string line; std::getline(in, line);) {
        std::istringstream words(line);
        std::string cell;
        if (line.starts_with("# ")) {
            if (const auto at = line.find(" = "); at != std::string::npos) s.words[line.substr(2, at - 2)] = line.substr(at + 3);
        } else if (line.starts_with("t_s")) {
            for (int i = 0; std::getline(words, cell, ','); ++i)
                if (i >= 2) s.radius_m.push_back(std::stod(cell.substr(1)) / 1000);
        } else {
            Stored::Row r{};
            for (int i = 0; std::getline(words, cell, ','); ++i) {
                const double x = std::stod(cell);
                if (i == 0) r.t_s = x;
                else if (i == 1) r.hottest_degC = x;
                else r.face_degC.push_back(x);
            }
            s.rows.push_back(std::move(r));
        }
    }
    std::istringstream rows(s.words.at("heat_W"));
    for (std::string pair; rows >> pair;) s.heat.push_back({.t_s = std::stod(pair), .heat_W = std::stod(pair.substr(pair.find(':') + 1))});
    return s;
}

Annulus annulus_of(const Stored& s) {
    const bool even = s.of("even") != 0;
    Annulus a;
    a.inner_m = s.of("inner_m");
    a.outer_m = s.of("outer_m");
    a.half_thickness_m = s.of("half_thickness_m");
    a.density_kg_m3 = s.of("density_kg_m3");
    a.conductivity_W_mK = {{0, s.of("conductivity_W_mK")}};
    a.heat_capacity_J_kgK = {{0, s.of("heat_capacity_J_kgK")}};
    a.emissivity = s.of("emissivity");
    a.face.a = s.of("film_W_m2K");
    a.inner_rim.a = a.outer_rim.a = s.of("film_W_m2K");
    a.pad_inner_m = s.of("pad_inner_m");
    a.pad_outer_m = s.of("pad_outer_m");
    a.coverage = sector_pad(s.of("pad_angle_rad"));
    a.arms_W_K = s.of("arms_W_K");
    a.arms.start_degC = s.of("arms_degC");
    a.ambient_degC = s.of("ambient_degC");
    a.start_degC = s.of("start_degC");
    EXPECT_FALSE(even) << "the even case has no rims; it is for the model through the thickness";
    return a;
}

// The rows of the stored heat, cut so that every kept time is one.
std::vector<AnnulusInput> cut_at_kept_times(const Stored& s) {
    std::vector<AnnulusInput> rows;
    std::size_t k = 0;
    double t = 0;
    for (std::size_t i = 0; i + 1 < s.heat.size(); ++i) {
        t = s.heat[i].t_s;
        while (t < s.heat[i + 1].t_s - 1e-9) {
            rows.push_back({t, 0, s.heat[i].heat_W});
            while (k < s.rows.size() && s.rows[k].t_s <= t + 1e-9) ++k;
            t = k < s.rows.size() ? std::min(s.rows[k].t_s, s.heat[i + 1].t_s) : s.heat[i + 1].t_s;
        }
    }
    rows.push_back({s.heat.back().t_s, 0, 0});
    return rows;
}

struct Difference {
    double hottest = 0, ring = 0, peak = -1e9, spread = 0;
    std::size_t compared = 0;
};
Difference compare(const Stored& s, const AnnulusRun& run) {
    Difference d;
    for (const Stored::Row& want : s.rows) {
        const AnnulusRow* got = nullptr;
        for (const AnnulusRow& r : run.rows)
            if (std::abs(r.t_s - want.t_s) < 1e-6) got = &r;
        if (!got) continue;
        ++d.compared;
        d.hottest = std::max(d.hottest, std::abs(got->hottest_degC - want.hottest_degC));
        d.peak = std::max(d.peak, want.hottest_degC);
        for (std::size_t k = 0; k < s.radius_m.size(); ++k) {
            const double at = (s.radius_m[k] - run.radius_m.front()) / (run.radius_m[1] - run.radius_m[0]);
            const auto i = std::min(run.radius_m.size() - 2, static_cast<std::size_t>(at));
            const double here = got->face_degC[i] + (at - static_cast<double>(i)) * (got->face_degC[i + 1] - got->face_degC[i]);
            d.ring = std::max(d.ring, std::abs(here - want.face_degC[k]));
            d.spread = std::max(d.spread, want.hottest_degC - want.face_degC[k]);
        }
    }
    return d;
}

void radius_agrees(const std::string& name) {
    const Stored s = read_stored(name);
    EXPECT_NE(s.words.at("program").find("2."), std::string::npos);
    const auto rows = cut_at_kept_times(s);
    const auto same_step = compare(s, solve_by_radius(annulus_of(s), rows, {.radial_cells = 112, .step_s = s.of("step_s")}));
    const auto converged = compare(s, solve_by_radius(annulus_of(s), rows, {.radial_cells = 56}));
    std::printf("    %s, %s: peak %.1f degC, spread over the radius %.1f K; largest difference at the same step: hottest ring %.3f, any ring %.3f K; from converged steps: hottest ring %.3f, any ring %.3f K\n",
                s.words.at("program").c_str(), name.c_str(), same_step.peak, same_step.spread, same_step.hottest, same_step.ring, converged.hottest, converged.ring);
    EXPECT_EQ(same_step.compared, s.rows.size());
    EXPECT_LT(same_step.hottest, 0.3);   // asked for: 0.3 K at the same step
    EXPECT_LT(same_step.ring, 0.3);
    EXPECT_GT(same_step.spread, 10) << "a band without a gradient checks no radius";
}

TEST(FiniteElement, ADragAgreesWithTheRotorInRadiusAndThicknessWithinThreeTenthsOfAKelvin) { radius_agrees("drag"); }
TEST(FiniteElement, HardStopsAgreeWithTheRotorInRadiusAndThicknessWithinThreeTenthsOfAKelvin) { radius_agrees("stops"); }

// The solver of the reference form, on an even ring without rims: film and radiation on the face, stops in rows of 0.1 s.
TEST(FiniteElement, StopsOnAnEvenRingAgreeWithTheSolverOfTheReferenceFormWithinThreeTenthsOfAKelvin) {
    const Stored s = read_stored("even");
    const double area = std::numbers::pi * (std::pow(s.of("outer_m"), 2) - std::pow(s.of("inner_m"), 2));
    bw::heat::ReferenceBrake b;
    b.ambient_degC = s.of("ambient_degC");
    b.start_degC = s.of("start_degC");
    b.rotor = {.face_area_m2 = area, .edge_area_m2 = 0, .half_thickness_m = s.of("half_thickness_m"), .conductivity_W_mK = s.of("conductivity_W_mK"),
               .density_kg_m3 = s.of("density_kg_m3"), .heat_capacity_J_kgK = s.of("heat_capacity_J_kgK"), .emissivity = s.of("emissivity"), .convection = {s.of("film_W_m2K"), 0, 1}};
    b.friction = {.area_m2 = 1e-7, .thickness_m = 0.001, .conductivity_W_mK = 1e-3, .density_kg_m3 = 1, .heat_capacity_J_kgK = 1};   // a pad too small to matter
    b.plate = b.friction;
    b.piston_J_K = b.fluid_J_K = b.caliper.heat_capacity_J_K = b.arms.heat_capacity_J_K = b.hub.heat_capacity_J_K = 1;
    std::vector<bw::heat::PowerRow> rows;
    for (const AnnulusInput& r : cut_at_kept_times(s)) rows.push_back({.t_s = r.t_s, .speed_mps = 0, .power_W = 2 * r.heat_W});
    const auto run = bw::heat::solve(b, rows, {});
    ASSERT_TRUE(run);
    double worst = 0;
    std::size_t compared = 0;
    for (const Stored::Row& want : s.rows)
        for (const bw::heat::HeatState& got : run->rows)
            if (std::abs(got.t_s - want.t_s) < 1e-6) {
                worst = std::max(worst, std::abs(got.rotor_surface_degC - want.hottest_degC));
                ++compared;
            }
    std::printf("    %s, even: largest difference of the face over %zu times %.3f K\n", s.words.at("program").c_str(), compared, worst);
    EXPECT_EQ(compared, s.rows.size());
    EXPECT_LT(worst, 0.3);
}

}  // namespace
