// SPDX-License-Identifier: Apache-2.0
// The six questions.                                                                                     Layer: app
#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <cstdio>
#include <iostream>

#include "base/text.hpp"
#include "verbs.hpp"

namespace bw::app {

namespace {

// One question; asked again until `accept` takes the answer or nothing more comes.
template <class F>
Status question(const std::string& text, F&& accept) {
    for (;;) {
        fmt::print(stderr, "{} ", text);
        std::fflush(stderr);
        std::string line;
        if (!std::getline(std::cin, line))
            return Error{Errc::bad_input, "the six questions were not all answered; an empty line means not known"};
        const std::string refusal = accept(std::string(trim(line)));
        if (refusal.empty()) return Done{};
        fmt::print(stderr, "  {}\n", refusal);
    }
}

constexpr double mass_range[] = {25, 700}, rotor_range[] = {100, 260}, pad_range[] = {0.5, 8};

}  // namespace

Result<SixAnswers> ask_six(const parts::Library& library) {
    SixTold told;
    const auto word = [](std::string& into, std::vector<std::string> known, std::string otherwise) {
        return [&into, known = std::move(known), otherwise = std::move(otherwise)](const std::string& line) -> std::string {
            if (line.empty() && !otherwise.empty()) { into = otherwise; return ""; }
            for (const std::string& k : known)
                if (k == line) { into = k; return ""; }
            const auto near = nearest_word(line, known);
            return near ? fmt::format("did you mean {}?", *near) : "one of the words, please";
        };
    };
    const auto number = [](double& into, Unit unit, double least, double most, const char* unit_name) {
        return [=, &into](const std::string& line) -> std::string {
            if (line.empty()) return "";
            std::string text = line;   // a decimal comma is as good as a point
            for (char& c : text) c = c == ',' ? '.' : c;
            const auto value = parse_quantity(text, unit);
            if (!value) return value.error().text;
            if (*value < least || *value > most) return fmt::format("expected {} to {} {}", least, most, unit_name);
            into = *value;
            return "";
        };
    };
    using R = Result<SixAnswers>;
    if (auto s = question("1. Kind of bike: trail, gravel, road, city or cargo?", word(told.kind, {"trail", "gravel", "road", "city", "cargo"}, "")); !s) return R(s.error());
    if (auto s = question("2. Bike, rider and load together [kg]?", number(told.total_mass_kg, Unit::mass_kg, mass_range[0], mass_range[1], "kg")); !s) return R(s.error());
    if (auto s = question("3. Rotor diameter as stamped [mm]?", number(told.rotor_diameter_mm, Unit::length_mm, rotor_range[0], rotor_range[1], "mm")); !s) return R(s.error());
    if (auto s = question("4. Pads: organic, semi_metallic or sintered?", word(told.compound, {"organic", "semi_metallic", "sintered"}, "unknown")); !s) return R(s.error());
    if (auto s = question("5. Thinnest pad, plate and friction material together [mm]?", number(told.pad_total_mm, Unit::length_mm, pad_range[0], pad_range[1], "mm")); !s) return R(s.error());
    if (auto s = question("6. Terrain: flat, rolling, hilly or mountain?", word(told.terrain, {"flat", "rolling", "hilly", "mountain"}, "rolling")); !s) return R(s.error());

    return six_of(library, told, told.kind + " bike");
}

Result<SixAnswers> six_of(const parts::Library& library, const SixTold& told, const std::string& name) {
    const auto [kind, compound, terrain, mass_kg, rotor_mm, pad_mm] = told;
    const auto within = [](double x, const double (&range)[2]) { return x == 0 || (x >= range[0] && x <= range[1]); };
    if (!within(mass_kg, mass_range)) return Error{Errc::bad_input, fmt::format("total_mass_kg {}: expected {} to {}", mass_kg, mass_range[0], mass_range[1])};
    if (!within(rotor_mm, rotor_range)) return Error{Errc::bad_input, fmt::format("rotor_diameter_mm {}: expected {} to {}", rotor_mm, rotor_range[0], rotor_range[1])};
    if (!within(pad_mm, pad_range)) return Error{Errc::bad_input, fmt::format("pad_total_mm {}: expected {} to {}", pad_mm, pad_range[0], pad_range[1])};
    const auto country = answer::terrain_of(terrain.empty() ? "rolling" : terrain);
    if (!country) return Error{Errc::bad_input, fmt::format("terrain '{}': expected flat, rolling, hilly or mountain", terrain)};
    std::vector<std::string> kinds;
    for (const auto k : {parts::BikeKind::trail, parts::BikeKind::gravel, parts::BikeKind::road, parts::BikeKind::city, parts::BikeKind::cargo}) kinds.emplace_back(parts::word_of(k));
    if (std::find(kinds.begin(), kinds.end(), kind) == kinds.end()) return Error{Errc::bad_input, fmt::format("kind '{}': expected one of {}", kind, fmt::join(kinds, ", "))};

    // The same road as a described bike: the same refusals, the same defaults.
    std::string toml = fmt::format("format = 1\nbike.kind = \"{}\"\n", kind);
    if (mass_kg > 0) toml += fmt::format("bike.total_mass_kg = {}\n", mass_kg);
    else {
        const parts::Datum& rider = library.row("bikes.any.rider.mass_kg");
        const parts::Datum& bike = library.row("bikes." + kind + ".bike.mass_kg");
        toml += fmt::format("rider.mass_kg = {{ value = {}, sd = {}, source = \"not told\" }}\nbike.mass_kg = {{ value = {}, sd = {}, source = \"not told\" }}\n",
                            rider.value.value, rider.value.sd, bike.value.value, bike.value.sd);
    }
    const parts::Datum& plate = library.row("bikes.any.wheel.pads.plate_thickness_mm");
    for (const char* end : {"front", "rear"}) {
        if (rotor_mm > 0) toml += fmt::format("{}.rotor.diameter_mm = {}\n", end, rotor_mm);
        if (!compound.empty() && compound != "unknown") toml += fmt::format("{}.pads.compound = \"{}\"\n", end, compound);
        if (pad_mm > 0)
            // 0.05 mm: a calliper held by hand
            toml += fmt::format("{}.pads.friction_thickness_mm = {{ value = {}, sd = {}, source = \"{} mm with the plate, as told, less an assumed plate of {} mm\" }}\n", end,
                                std::max(0.0, pad_mm - plate.value.value), std::sqrt(plate.value.sd * plate.value.sd + 0.05 * 0.05), pad_mm, plate.value.value);
    }
    Result<parts::Bike> bike = parts::read_bike(toml, "the six answers", library);
    if (!bike) return bike.error();
    bike->name = name;
    if (mass_kg <= 0) bike->given.erase("rider.mass_kg"), bike->given.erase("bike.mass_kg");
    return SixAnswers{*std::move(bike), *country, toml};
}

}  // namespace bw::app
