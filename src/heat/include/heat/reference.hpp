// SPDX-License-Identifier: Apache-2.0
// The reference form: half a brake as a thermal network, and its solver.                                   Layer: heat
// Theory: docs/models/heat.md, "The reference form" and "The solver".                    Pure functions: any thread.
#pragma once
#include <array>
#include <atomic>
#include <cstddef>
#include <functional>
#include <limits>
#include <memory>
#include <optional>
#include <span>
#include <string>
#include <string_view>
#include <type_traits>
#include <utility>
#include <vector>

#include "base/cases.hpp"
#include "base/result.hpp"

namespace bw::heat {

//! h(v) = a + b·v^m [W/(m²K)], v in m/s.
struct Convection {
    double a = 0, b = 0, m = 1;
    double at(double speed_mps) const;
};

//! A property over temperature: linear between the points, constant beyond. No points: the constant beside it holds.
struct PropertyTable {
    struct Point { double degC = 0, value = 0; };
    std::vector<Point> points = {};   //!< degC strictly increasing
    bool varies() const { return !points.empty(); }
    double at(double degC) const;
    double integral(double from_degC, double to_degC) const;   //!< exact
};

//! Half a brake: half the rotor's thickness with one face, one pad, half of caliper, arms and hub. All areas and heat
//! capacities are those of the half. Field names are the keys of the [thermal] TOML.
struct ReferenceBrake {
    double ambient_degC = 20, start_degC = 20;
    double closed_above_W = 1;   //!< the brake is closed while power_scale × power is above it
    double power_scale = 1;
    struct Rotor {
        double face_area_m2 = 0, edge_area_m2 = 0, half_thickness_m = 0;
        double conductivity_W_mK = 0, density_kg_m3 = 0, heat_capacity_J_kgK = 0, emissivity = 0;
        Convection convection;
        PropertyTable conductivity_over_T = {}, heat_capacity_over_T = {};   //!< in place of the constants where they have points
    } rotor;
    struct Layer {
        double area_m2 = 0, thickness_m = 0, conductivity_W_mK = 0, density_kg_m3 = 0, heat_capacity_J_kgK = 0;
        PropertyTable conductivity_over_T = {}, heat_capacity_over_T = {};
    } friction, plate;
    double contact_W_m2K = std::numeric_limits<double>::infinity();   //!< infinite = perfect contact
    double gap_W_m2K = 0;
    double piston_J_K = 0, fluid_J_K = 0;
    struct Body {
        double heat_capacity_J_K = 0, area_m2 = 0, emissivity = 0;
        Convection convection;
    } caliper, arms, hub;
    struct Links {
        double plate_piston = 0, plate_caliper = 0, piston_fluid = 0, piston_caliper = 0, fluid_caliper = 0;
        double rotor_arms = 0, arms_hub = 0;
    } links_W_K;
    //! The other side of the brake where it differs (one moving pad, uneven pads); rotor, caliper, arms and hub are common to both.
    //! Empty: both sides are alike. [EQ heat-33]
    struct OtherSide {
        Layer friction, plate;
        double contact_W_m2K = std::numeric_limits<double>::infinity(), gap_W_m2K = 0;
        double piston_J_K = 0, fluid_J_K = 0;
        struct Links {
            double plate_piston = 0, plate_caliper = 0, piston_fluid = 0, piston_caliper = 0, fluid_caliper = 0;
        } links_W_K;
    };
    std::optional<OtherSide> other = {};
};
//! This side as the other: two alike sides, said twice.
ReferenceBrake::OtherSide as_other_side(const ReferenceBrake& brake);
//! The same brake seen from its other side; brake.other must be there.
ReferenceBrake mirrored(const ReferenceBrake& brake);

//! One number of a reference brake under its TOML path, e.g. "thermal.rotor.convection.a".
struct ReferenceField {
    std::string key;
    std::string unit;
    double least, most;   //!< a value outside is refused
    double* value;
};
//! All numbers of a brake, in a fixed order; those of the other side last, where it is there.
std::vector<ReferenceField> fields_of(ReferenceBrake& brake);
//! Fails with bad_input, naming the key, if a number leaves its range or the friction area exceeds face plus edge.
Status check_reference(const ReferenceBrake& brake);

//! What one wheel is asked: speed of the bike and braking power (both pads), held on [t_s, t_s of the next row).
//! The last row only ends the run. Power may be negative (net power inside braking): no heat then.
struct PowerRow {
    double t_s = 0, speed_mps = 0, power_W = 0;
    double drying_W = 0;   //!< heat that evaporating water takes from the rotor's face [EQ heat-39], of the half brake, open or closed; >= 0
};

//! Fails with bad_input unless there are at least two rows, times increase by 1e-6 s or more, speeds are 0..100 m/s, powers
//! within 1 MW and drying_W 0..1 MW.
Status check_rows(std::span<const PowerRow> rows);

//! Temperatures at one instant. Where an input changes they are those just before the change, the limit from the left.
struct HeatState {
    double t_s = 0;
    double rotor_surface_degC = 0, rotor_mid_degC = 0, rotor_mean_degC = 0;
    double pad_face_degC = 0, pad_mean_degC = 0, plate_degC = 0;
    double piston_degC = 0, fluid_degC = 0, caliper_degC = 0, arms_degC = 0, hub_degC = 0;
    //! Flow into the pad / (power/2); NaN unless the brake was closed up to this instant and stays closed after it.
    double pad_heat_share = std::numeric_limits<double>::quiet_NaN();
};

//! Storage that resize(n) makes longer without writing to it: rows are written once, where they stay. What was not written has no value.
template <class T> struct Unwritten : std::allocator<T> {
    template <class U> struct rebind { using other = Unwritten<U>; };
    Unwritten() = default;
    template <class U> Unwritten(const Unwritten<U>&) noexcept {}
    // Without a value nothing is done: an aggregate that can be copied as bytes is there with its storage.
    template <class U> void construct(U*) noexcept {
        static_assert(std::is_aggregate_v<U> && std::is_trivially_copyable_v<U> && std::is_trivially_destructible_v<U>);
    }
    template <class U, class... Values> void construct(U* p, Values&&... values) { std::construct_at(p, std::forward<Values>(values)...); }
};
using HeatRows = std::vector<HeatState, Unwritten<HeatState>>;

//! The other side at the same instant, where it differs.
struct OtherSideState {
    double rotor_surface_degC = 0, pad_face_degC = 0, pad_mean_degC = 0, plate_degC = 0, piston_degC = 0, fluid_degC = 0;
};

//! Largest of each temperature [°C] and when [s]; within steps too (a parabola through the three stages of a step).
struct HeatPeaks {
    struct Peak {
        double degC = -std::numeric_limits<double>::infinity();
        double t_s = 0;
    };
    Peak rotor_surface, rotor_mid, rotor_mean, pad_face, pad_mean, plate, piston, fluid, caliper, arms, hub;
    Peak other_rotor_surface, other_pad_face, other_pad_mean, other_plate, other_piston, other_fluid;   //!< -inf where both sides are alike
};
//! The hotter of both sides.
HeatPeaks::Peak hotter(const HeatPeaks::Peak& a, const HeatPeaks::Peak& b);

//! Of the half brake [J]; error = made - stored - lost. `made` and `lost` are summed along with the steps, `stored` is
//! read off the state at the end.
struct HeatEnergy {
    double made = 0, stored = 0, lost = 0, error = 0;
};

//! One accepted step, for sums along the run (wear dose, fade).
struct HeatStep {
    std::size_t row = 0;         //!< the row whose speed and power hold
    double t_s = 0, h_s = 0;     //!< start and length
    double speed_mps = 0, power_W = 0;
    bool closed = false;
    std::array<double, 3> pad_face_degC{};       //!< at the start (after a change of input), the inner stage, the end
    double pad_face_mean_degC = 0;               //!< over the step, by the step's own quadrature
    std::array<double, 3> other_pad_face_degC{};   //!< of the other side; the same as this where both are alike
    double other_pad_face_mean_degC = 0;
};

enum class Keep { rows, peaks_only };

struct SolveOptions {
    double tolerance_K = 0.1;   //!< aimed at in every temperature that is reported; > 0
    Keep keep = Keep::rows;
    //! Standing still without braking after the last row [s]; peaks and energies include it, rows do not.
    double cool_down_s = 0;
    int grid_refinement = 1;    //!< 1..16: cells per default cell, for checks of the grid
    //! > 0: fixed steps of this length instead (checks of the order; shortened at the end of a row).
    double fixed_step_s = 0;
    std::function<void(std::size_t row, const HeatState&)> each_row = {};   //!< may be empty
    std::function<void(const HeatStep&)> each_step = {};                    //!< may be empty
    const std::atomic<bool>* stop = nullptr;                           //!< set by the owner: the run returns Errc::cancelled
};

struct HeatRun {
    HeatRows rows;                 //!< [rows of the input], empty with Keep::peaks_only
    std::vector<OtherSideState> other_rows;   //!< [rows of the input] with Keep::rows where the sides differ
    HeatPeaks peaks;
    HeatEnergy energy_J;
    HeatState end;                 //!< after the cool-down, if any
    std::size_t steps = 0, rejected = 0, unknowns = 0;
};

//! True if a conductivity or heat capacity is given over temperature (problem B).
bool varies(const ReferenceBrake& brake);

//! Temperatures of a run. rows: [n], n >= 2, t_s strictly increasing, speeds >= 0.
//! TR-BDF2 with an embedded error estimate; steps never cross a change of input; rows with the same inputs are joined.
//! Unlike sides are solved as one brake of full thickness; energies are those of half of it.
//! Energy closes to 1e-9 of what was made. Fails with bad_input (brake or rows), cancelled, not_converged.
//! Source: docs/models/heat.md; Hosea & Shampine, Appl. Numer. Math. 20 (1996) 21-37 (from memory).
Result<HeatRun> solve(const ReferenceBrake& brake, std::span<const PowerRow> rows, const SolveOptions& options);

//! A brake as read, and those of its numbers that carry a spread.
struct ReferenceFile {
    ReferenceBrake brake;
    std::vector<Input> inputs;   //!< every number of the file, keys as in fields_of
};

//! Reads the [thermal] TOML, form = "reference". Each value a number or { value, sd, source }; contact may be inf.
//! Fails with bad_input: name:line, what was expected, the nearest known key.
Result<ReferenceFile> read_reference(std::string_view toml, const std::string& name);
//! The brake with the draws of one case in place of its values.
ReferenceBrake with_case(const ReferenceFile& file, const CaseRow& row);

//! Reads t_s,speed_mps,power_W. Fails with bad_input: name:line, column, what was expected.
Result<std::vector<PowerRow>> read_power_csv(std::string_view text, const std::string& name);

//! The series as CSV, a row a state, three decimals; lever_force_factor is 1 in the reference form.
std::string series_csv(std::span<const HeatState> rows);
//! Same with a lever force factor for each row [n].
std::string series_csv(std::span<const HeatState> rows, std::span<const double> lever_force_factor);

//! ISO 4210 heat-resistance drag as a yardstick: 300 W for 15 min at 12.5 km/h into this brake, standing still after it
//! for 15 min, started at start_degC. Source: ISO 4210-4, from memory (75 Wh in 15 min; the limits 60..115 N were read).
std::vector<PowerRow> heat_resistance_drag();
Result<HeatRun> heat_resistance(const ReferenceBrake& brake, const SolveOptions& options);

}  // namespace bw::heat
