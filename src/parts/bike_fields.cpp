// SPDX-License-Identifier: Apache-2.0
// The table of a bike's numeric fields, and what is derived from it.                                      Layer: parts
#include <fmt/format.h>

#include <algorithm>

#include "fields.hpp"

namespace bw::parts {

namespace {

// A bare number is not exact: a mass comes from a household scale, a thickness from a calliper held by hand, a drag area
// from a table. `{ value = , sd = 0 }` says that it is.
constexpr double by_scale = 0.015, from_table = 0.10, by_tape = 0.01;

#define BW_BIKE(name, unit, least, most, share, sd, path)                                            \
    Field{name, unit, least, most, share, sd, Role::plain, [](Bike& b) -> Uncertain* { return &b.path; },  \
          [](Bike& b) -> Uncertain& { return b.path; }}
#define BW_WHEEL(end, name, unit, least, most, share, sd, path) BW_BIKE(#end "." name, unit, least, most, share, sd, end.path)
#define BW_LIMIT(end, name, unit, least, most, path)                                                                   \
    Field{#end "." name, unit, least, most, 0, 0, Role::limit, [](Bike& b) -> Uncertain* { return b.end.path ? &*b.end.path : nullptr; }, \
          [](Bike& b) -> Uncertain& { return b.end.path ? *b.end.path : b.end.path.emplace(); }}
// Optional, in a bike (path) or in its trailer (BW_TRAILER).
#define BW_EXTRA(name, unit, least, most, share, sd, path)                                                                          \
    Field{name, unit, least, most, share, sd, Role::extra, [](Bike& b) -> Uncertain* { return b.path ? &*b.path : nullptr; },       \
          [](Bike& b) -> Uncertain& { return b.path ? *b.path : b.path.emplace(); }}
#define BW_TRAILER(name, unit, least, most, share, sd, path)                                                                         \
    Field{"trailer." name, unit, least, most, share, sd, Role::extra,                                                                \
          [](Bike& b) -> Uncertain* { return b.trailer ? &b.trailer->path : nullptr; },                                              \
          [](Bike& b) -> Uncertain& { return b.trailer ? b.trailer->path : b.trailer.emplace().path; }}
#define BW_ONE_END(end)                                                                                        \
    BW_WHEEL(end, "rotor.diameter_mm", "mm", 100, 260, 0, 0.3, rotor.diameter_mm),                             \
    BW_WHEEL(end, "rotor.band_inner_mm", "mm", 60, 250, 0, 0.5, rotor.band_inner_mm),                          \
    BW_WHEEL(end, "rotor.thickness_mm", "mm", 0.5, 5, 0, 0.02, rotor.thickness_mm),                            \
    BW_WHEEL(end, "rotor.solid_share", "", 0.3, 1, 0.05, 0, rotor.solid_share),                                \
    BW_WHEEL(end, "pads.friction_thickness_mm", "mm", 0, 6, 0, 0.05, pads.friction_thickness_mm),              \
    BW_WHEEL(end, "pads.plate_thickness_mm", "mm", 0.5, 4, 0, 0.05, pads.plate_thickness_mm),                  \
    BW_WHEEL(end, "pads.area_mm2", "mm2", 80, 1500, 0.05, 0, pads.area_mm2),                                   \
    BW_WHEEL(end, "caliper.piston_diameter_mm", "mm", 8, 45, 0, 0.1, caliper.piston_diameter_mm),              \
    BW_WHEEL(end, "caliper.arm_ratio", "", 0.5, 20, 0.05, 0, caliper.arm_ratio),                               \
    BW_WHEEL(end, "lever.ratio", "", 1, 15, 0.05, 0, lever.ratio),                                             \
    BW_WHEEL(end, "lever.reach_mm", "mm", 20, 150, 0, 1, lever.reach_mm),                                      \
    BW_WHEEL(end, "lever.bite_mm", "mm", 0, 150, 0, 2, lever.bite_mm),                                         \
    BW_WHEEL(end, "lever.master_diameter_mm", "mm", 5, 25, 0, 0.1, lever.master_diameter_mm),                  \
    Field{#end ".fluid.age_months", "month", 0, 600, 0.1, 0, Role::plain,                                            \
          [](Bike& b) -> Uncertain* { return b.end.fluid ? &b.end.fluid->age_months : nullptr; },              \
          [](Bike& b) -> Uncertain& { return b.end.fluid ? b.end.fluid->age_months : b.end.fluid.emplace().age_months; }}, \
    BW_WHEEL(end, "housing.length_m", "m", 0.1, 6, 0.05, 0, housing.length_m)

}  // namespace

const std::vector<Field>& field_table() {
    static const std::vector<Field> table = {
        BW_BIKE("rider.mass_kg", "kg", 20, 250, by_scale, 0, rider.mass_kg),
        BW_BIKE("rider.hand.size_cm", "cm", 10, 30, by_tape, 0, rider.hand.size_cm),
        BW_BIKE("rider.hand.strength_N", "N", 30, 1200, 0.1, 0, rider.hand.strength_N),
        BW_BIKE("bike.mass_kg", "kg", 4, 200, by_scale, 0, mass_kg),
        BW_BIKE("bike.load_kg", "kg", 0, 400, 0.05, 0, load_kg),
        BW_BIKE("bike.total_mass_kg", "kg", 25, 700, by_scale, 0, total_mass_kg),
        BW_BIKE("bike.drag_area_m2", "m2", 0.1, 2.5, from_table, 0, drag_area_m2),
        BW_BIKE("bike.rolling_resistance", "", 0.001, 0.1, 0.15, 0, rolling_resistance),
        BW_BIKE("bike.efficiency", "", 0.7, 1, 0.01, 0, efficiency),
        BW_BIKE("bike.wheelbase_m", "m", 0.7, 3.5, by_tape, 0, wheelbase_m),
        BW_BIKE("bike.centre_of_mass_height_m", "m", 0.3, 1.8, 0.04, 0, centre_of_mass_height_m),
        BW_BIKE("bike.centre_of_mass_from_front_m", "m", 0.1, 3, 0.04, 0, centre_of_mass_from_front_m),
        BW_BIKE("bike.wheel_radius_m", "m", 0.15, 0.5, by_tape, 0, wheel_radius_m),
        BW_BIKE("bike.wheel_inertia_kgm2", "kg m2", 0.01, 3, 0.15, 0, wheel_inertia_kgm2),
        BW_ONE_END(front),
        BW_ONE_END(rear),
        BW_LIMIT(front, "rotor.least_thickness_mm", "mm", 0.5, 5, rotor.least_thickness_mm),
        BW_LIMIT(front, "pads.least_friction_mm", "mm", 0.1, 4, pads.least_friction_mm),
        BW_LIMIT(front, "rotor.run_out_limit_mm", "mm", 0.02, 2, rotor.run_out_limit_mm),
        BW_LIMIT(rear, "rotor.run_out_limit_mm", "mm", 0.02, 2, rotor.run_out_limit_mm),
        BW_LIMIT(front, "rotor.ridge_mm", "mm", 0, 1, rotor.ridge_mm),
        BW_LIMIT(rear, "rotor.ridge_mm", "mm", 0, 1, rotor.ridge_mm),
        BW_LIMIT(rear, "rotor.least_thickness_mm", "mm", 0.5, 5, rotor.least_thickness_mm),
        BW_LIMIT(rear, "pads.least_friction_mm", "mm", 0.1, 4, pads.least_friction_mm),
        // Where a load's middle is, somebody judged by eye; what a motor takes back is a figure of its maker at best.
        BW_EXTRA("front.pads.other_friction_thickness_mm", "mm", 0, 6, 0, 0.05, front.pads.other_friction_thickness_mm),
        BW_EXTRA("rear.pads.other_friction_thickness_mm", "mm", 0, 6, 0, 0.05, rear.pads.other_friction_thickness_mm),
        BW_EXTRA("front.lever.ratio_at_bar", "", 1, 15, 0.05, 0, front.lever.ratio_at_bar),
        BW_EXTRA("rear.lever.ratio_at_bar", "", 1, 15, 0.05, 0, rear.lever.ratio_at_bar),
        BW_EXTRA("bike.load_from_front_m", "m", -1, 4, 0, 0.05, load_from_front_m),
        BW_EXTRA("bike.load_height_m", "m", 0.1, 2, 0, 0.05, load_height_m),
        BW_EXTRA("bike.regeneration_W", "W", 10, 3000, 0.2, 0, regeneration_W),
        BW_EXTRA("bike.regeneration_N", "N", 5, 500, 0.2, 0, regeneration_N),
        BW_EXTRA("bike.overrun_N", "N", 0.2, 80, 0.2, 0, overrun_N),
        BW_TRAILER("mass_kg", "kg", 2, 300, 0.05, 0, mass_kg),
        BW_TRAILER("drag_area_m2", "m2", 0, 1.5, 0.2, 0, drag_area_m2),
        BW_TRAILER("rolling_resistance", "", 0.001, 0.1, 0.2, 0, rolling_resistance),
        BW_TRAILER("push_height_m", "m", 0.1, 1.3, 0, 0.03, push_height_m),
    };
    return table;
}

const Uncertain& least_friction(const Pads& pads) {
    const auto& other = pads.other_friction_thickness_mm;
    return other && other->value < pads.friction_thickness_mm.value ? *other : pads.friction_thickness_mm;
}

std::vector<FieldRef> fields_of(Bike& bike) {
    std::vector<FieldRef> fields;
    for (const Field& f : field_table())
        if (Uncertain* value = f.at(bike)) fields.push_back({f.key, f.unit, f.least, f.most, value});
    return fields;
}

std::vector<Input> inputs_of(const Bike& bike) {
    Bike copy = bike;
    std::vector<Input> inputs;
    for (const Field& f : field_table()) {
        if (f.role == Role::limit) continue;
        const Uncertain* value = f.at(copy);
        if (f.role == Role::extra && !value) continue;
        inputs.push_back({.key = f.key, .unit = f.unit, .value = value ? *value : Uncertain{}});
    }
    return inputs;
}

bool extra_input(std::string_view key) {
    for (const Field& f : field_table())
        if (f.key == key) return f.role == Role::extra;
    return false;
}

Bike bike_of_case(const Bike& bike, const CaseRow& row) {
    Bike one = bike;
    for (const Field& f : field_table()) {
        if (f.role == Role::limit) continue;
        if (Uncertain* value = f.at(one)) {
            value->value = row(f.key);
            // A draw may leave the field's range only where the spread is wide; the range is physical.
            value->value = value->value < f.least ? f.least : value->value > f.most ? f.most : value->value;
        }
    }
    if (!bike.given.contains("bike.total_mass_kg"))
        one.total_mass_kg.value = one.rider.mass_kg.value + one.mass_kg.value + one.load_kg.value;
    for (const End end : {End::front, End::rear}) {
        // The band of a rotor whose diameter is uncertain moves with its rim; likewise the bite with the lever's reach.
        Rotor& rotor = one.wheel(end).rotor;
        const Rotor& middle = bike.wheel(end).rotor;
        if (!bike.given.contains(fmt::format("{}.rotor.band_inner_mm", word_of(end))))
            rotor.band_inner_mm.value += rotor.diameter_mm.value - middle.diameter_mm.value;
        Lever& lever = one.wheel(end).lever;
        if (!bike.given.contains(fmt::format("{}.lever.bite_mm", word_of(end))))
            lever.bite_mm.value = std::min(lever.bite_mm.value, 0.95 * lever.reach_mm.value);
        // Two wide draws must not make a lever that nobody builds, and whose force would fall as it is pulled on.
        if (auto& at_bar = lever.ratio_at_bar)
            at_bar->value = std::clamp(at_bar->value, lever.ratio.value / most_ratio_change, lever.ratio.value * most_ratio_change);
    }
    return one;
}

}  // namespace bw::parts
