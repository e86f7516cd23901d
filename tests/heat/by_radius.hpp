// SPDX-License-Identifier: Apache-2.0
// A rotor's band in radius and thickness, by general means: finite volumes and SUNDIALS CVODE. Knows nothing of src/heat.
//
// What it solves: half the thickness of a full ring, inner_m <= r <= outer_m, 0 (mid-plane) <= z <= half_thickness_m, in the
// frame that turns with it, everything averaged over the turn:
//   rho c dT/dt = (1/r) d/dr (k r dT/dr) + d/dz (k dT/dz)
//   mid-plane   insulated (both faces are heated alike)
//   face        k dT/dz = q(r) - (1 - coverage(r)) (h (T - Ta) + emissivity sigma (T^4 - Ta^4))
//               q(r) = heat_W r coverage(r) / integral of 2 pi r^2 coverage dr over the pad: even pressure, rubbing speed ~ r
//   outer rim   film and radiation;   inner rim the same, and arms_W_K, spread evenly over it, to the arms
//   arms, hub   bodies: C dT/dt = conductances - film - radiation (the hub without); arms_hub_W_K between them
// heat_W is what goes into this half through its face: half of the wheel's power if the pad takes nothing.
//
// To check a model of a brake against it: give that model a pad that conducts (almost) nothing, a full ring (solid share 1), the
// same film on faces and rims, and heat_W = power/2; or feed it the model's own flow into the rotor as heat_W. Compare
// AnnulusRow::hottest_degC (the ring of the face with the highest temperature) row by row, or `face_degC` at a radius.
//
// Accuracy: second order in the cells; ByRadius tests hold it against closed forms. CVODE runs at rtol 1e-7, restarted at every
// row; with step_s > 0 it is implicit Euler of that step instead (to compare with programs of fixed steps).
#pragma once
#include <cstddef>
#include <functional>
#include <limits>
#include <vector>

#include "property.hpp"

namespace bw::heat::test {

//! h = a + b v^m [W/(m2 K)], v in m/s.
struct Film {
    double a = 0, b = 0, m = 1;
};

struct Annulus {
    double inner_m = 0, outer_m = 0, half_thickness_m = 0;
    double density_kg_m3 = 0;
    Property conductivity_W_mK, heat_capacity_J_kgK;
    double emissivity = 0;
    Film face, inner_rim, outer_rim;
    //! Where the pad rubs; coverage: share of the turn that it covers at a radius, 0..1.
    double pad_inner_m = 0, pad_outer_m = 0;
    std::function<double(double radius_m)> coverage;
    double arms_W_K = 0, arms_hub_W_K = 0;
    struct Body {
        double heat_capacity_J_K = std::numeric_limits<double>::infinity();   //!< infinite: stays at its start
        double area_m2 = 0, emissivity = 0;
        Film film;
        double start_degC = 20;
    } arms, hub;
    double ambient_degC = 20, start_degC = 20;
};

//! Coverage of a pad whose sides lie on radii: the same angle at every radius.
std::function<double(double)> sector_pad(double angle_rad);
//! Coverage of a pad of the same length along the turn at every radius; the heat per area is then the same everywhere.
std::function<double(double)> straight_pad(double length_m);

//! Held on [t_s, t_s of the next row); the last row only ends the run.
struct AnnulusInput {
    double t_s = 0, speed_mps = 0, heat_W = 0;
};

struct AnnulusOptions {
    int radial_cells = 80, thickness_cells = 8;
    double step_s = 0;   //!< > 0: implicit Euler, rows cut into equal steps of at most this length
    double relative = 1e-7, absolute_K = 1e-4;
};

//! State at a row, just before its input begins to act.
struct AnnulusRow {
    double t_s = 0;
    double hottest_degC = 0, hottest_radius_m = 0;   //!< of the face's rings
    double mean_degC = 0;                            //!< by heat capacity at constant c: the mean over the volume
    double arms_degC = 0, hub_degC = 0;
    std::vector<double> face_degC = {}, mid_degC = {};   //!< [radial_cells + 1] at AnnulusRun::radius_m
};

struct AnnulusRun {
    std::vector<double> radius_m;
    std::vector<AnnulusRow> rows;
    double made_J = 0, lost_J = 0, stored_J = 0;     //!< stored: with constant heat capacity only, else NaN; heat into a body that is held is in neither
};

//! Throws std::runtime_error if CVODE or Newton gives up.
AnnulusRun solve_by_radius(const Annulus& annulus, const std::vector<AnnulusInput>& rows, const AnnulusOptions& options = {});

}  // namespace bw::heat::test
