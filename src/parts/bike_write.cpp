// SPDX-License-Identifier: Apache-2.0
// Bike descriptions out.                                                                                  Layer: parts
#include <fmt/format.h>

#include "fields.hpp"

namespace bw::parts {

namespace {

std::string quoted(std::string_view text) {
    std::string out = "\"";
    for (const char c : text) {
        if (c == '"' || c == '\\') out += '\\';
        if (static_cast<unsigned char>(c) < 0x20) out += fmt::format("\\u{:04x}", static_cast<unsigned>(c));
        else out += c;
    }
    return out + "\"";
}

}  // namespace

std::string write_bike(const Bike& bike) {
    std::string out = "format = 1\n";
    out += fmt::format("bike.kind = {}\nbike.name = {}\nbike.e_assist = {}\n", quoted(word_of(bike.kind)), quoted(bike.name), bike.e_assist);
    for (const End e : {End::front, End::rear}) {
        const Wheel& w = bike.wheel(e);
        const std::string p(word_of(e));
        out += fmt::format("{}.actuation = {}\n", p, quoted(word_of(w.actuation)));
        out += fmt::format("{}.rotor.kind = {}\n{}.rotor.material = {}\n", p, quoted(word_of(w.rotor.kind)), p, quoted(word_of(w.rotor.material)));
        out += fmt::format("{}.rotor.anvil = {}\n", p, quoted(word_of(w.rotor.anvil)));
        out += fmt::format("{}.pads.compound = {}\n{}.pads.plate_measured = {}\n{}.pads.heat_barrier = {}\n", p, quoted(word_of(w.pads.compound)), p,
                           w.pads.plate_measured, p, w.pads.heat_barrier);
        if (w.rotor.sheltered) out += fmt::format("{}.rotor.sheltered = true\n", p);
        if (w.pads.condition != PadCondition::not_told) out += fmt::format("{}.pads.condition = {}\n", p, quoted(word_of(w.pads.condition)));
        out += fmt::format("{}.caliper.pistons_per_side = {}\n{}.caliper.moving_pads = {}\n", p, w.caliper.pistons_per_side, p, w.caliper.moving_pads);
        if (w.fluid) out += fmt::format("{}.fluid.kind = {}\n", p, quoted(word_of(w.fluid->kind)));
        out += fmt::format("{}.housing.kind = {}\n", p, quoted(word_of(w.housing.kind)));
    }
    if (bike.given.contains("bike.motor_wheel")) out += fmt::format("bike.motor_wheel = {}\n", quoted(word_of(bike.motor_wheel)));
    if (bike.trailer) out += fmt::format("trailer.brake = {}\n", quoted(word_of(bike.trailer->brake)));
    Bike copy = bike;
    for (const FieldRef& f : fields_of(copy)) {
        // The sum is written only where it was told: otherwise it follows from its parts.
        if (f.key == "bike.total_mass_kg" && !bike.given.contains(f.key)) continue;
        out += fmt::format("{} = {{ value = {}, sd = {}, source = {} }}\n", f.key, f.value->value, f.value->sd, quoted(f.value->source));
    }
    return out;
}

}  // namespace bw::parts
