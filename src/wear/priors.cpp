// SPDX-License-Identifier: Apache-2.0
// Priors of the wear law: from the data rows, or from a file.                                              Layer: wear
#include "wear/priors.hpp"

#include <fmt/format.h>
#include <toml++/toml.h>

#include <cmath>
#include <vector>

#include "base/text.hpp"

namespace bw::wear {

namespace {

struct Field {
    std::string key;
    double least, most;
    double* into;
};

std::vector<Field> fields_of(WearPriors& p) {
    constexpr double wide = 5;   // a log standard deviation beyond this is a slip of the pen
    return {{"spread.rider", 0, wide, &p.spread.rider}, {"spread.set", 0, wide, &p.spread.set}, {"spread.growth", 0, wide, &p.spread.growth},
            {"spread.threshold_dK", 0, 300, &p.spread.threshold_dK}, {"spread.left_right", 0, 0.9, &p.spread.left_right},
            {"spread.rotor_rider", 0, wide, &p.spread.rotor_rider}, {"spread.ride", 0, wide, &p.spread.ride},
            {"factor.wet", 0.01, 1000, &p.factor.wet}, {"factor.wet_sd", 0, wide, &p.factor.wet_sd}, {"factor.grit", 0.01, 1000, &p.factor.grit},
            {"factor.grit_sd", 0, wide, &p.factor.grit_sd}, {"factor.rotor_exponent", 0, 10, &p.factor.rotor_exponent}, {"factor.bedding", 0, 100, &p.factor.bedding},
            {"factor.bedding_MJ", 1e-6, 1000, &p.factor.bedding_MJ},
            {"observation.energy_bias", 0, wide, &p.observation.energy_bias}, {"observation.energy_ride", 0, wide, &p.observation.energy_ride},
            {"observation.pad_temperature_dK", 0, 500, &p.observation.pad_temperature_dK}, {"observation.wet_wrong", 0, 0.5, &p.observation.wet_wrong},
            {"observation.grit_unseen", 0, 0.99, &p.observation.grit_unseen}, {"observation.misread_share", 0, 0.5, &p.observation.misread_share},
            {"observation.misread_mm", 0, 50, &p.observation.misread_mm}, {"observation.new_pad_sd_mm", 0, 5, &p.observation.new_pad_sd_mm},
            {"observation.new_rotor_sd_mm", 0, 5, &p.observation.new_rotor_sd_mm}};
}

std::vector<Field> fields_of(CompoundPriors& c) {
    return {{"specific_wear_mm3_MJ", 1e-6, 1e6, &c.specific_wear_mm3_MJ}, {"rotor_wear_mm3_MJ", 1e-9, 1e6, &c.rotor_wear_mm3_MJ},
            {"threshold_degC", -50, 2000, &c.threshold_degC}, {"growth", 0, 1000, &c.growth}};
}

double log_sd(const Uncertain& u) { return u.value > 0 ? std::sqrt(std::log1p((u.sd / u.value) * (u.sd / u.value))) : 0; }

}  // namespace

WearPriors default_priors(const parts::Library& library) {
    WearPriors p;
    for (const char* name : {"organic", "semi_metallic", "sintered"}) {
        const auto value = [&](const char* key) { return library.value(fmt::format("compound.{}.{}", name, key)); };
        p.compound[name] = {value("specific_wear_mm3_MJ"), value("rotor_wear_mm3_MJ"), value("wear_threshold_degC"), value("wear_growth")};
    }
    for (const Field& f : fields_of(p))
        if (f.key != "factor.wet_sd" && f.key != "factor.grit_sd") *f.into = library.value("wear." + f.key);
    p.factor.wet_sd = log_sd(library.row("wear.factor.wet").value);
    p.factor.grit_sd = log_sd(library.row("wear.factor.grit").value);
    p.rubbing_N = library.value("wear.rubbing_N");
    p.rubbing_log_sd = log_sd(library.row("wear.rubbing_N").value);
    p.rotor_exponent_sd = library.row("wear.factor.rotor_exponent").value.sd;
    p.swell_mm = library.value("wear.swell_mm"), p.swell_from_degC = library.value("wear.swell_from_degC"), p.swell_full_degC = library.value("wear.swell_full_degC");
    p.drift = library.value("wear.drift");
    p.place_mm = library.value("wear.place_mm");
    return p;
}

Result<WearPriors> read_priors(std::string_view text, const std::string& file, WearPriors p) {
    const auto wrong = [&](const toml::source_region& at, const std::string& what) { return Error{Errc::bad_input, fmt::format("{}:{}: {}", file, at.begin.line, what)}; };
    toml::table parsed;
    try {
        parsed = toml::parse(text, file);
    } catch (const toml::parse_error& e) {
        return wrong(e.source(), std::string(e.description()));
    }
    const auto take = [&](const std::string& where, const toml::table& table, const std::vector<Field>& fields, std::size_t cut) -> Status {
        for (const auto& [key, node] : table) {
            const std::string word(key.str());
            const Field* field = nullptr;
            std::vector<std::string> known;
            for (const Field& f : fields) {
                if (cut > 0 && !f.key.starts_with(where + ".")) continue;
                known.push_back(f.key.substr(cut));
                if (known.back() == word) field = &f;
            }
            if (!field) {
                const auto near = nearest_word(word, known);
                return wrong(node.source(), fmt::format("[{}] has no key '{}'{}", where, word, near ? fmt::format(", the nearest known one is '{}'", *near) : std::string()));
            }
            const auto v = node.value<double>();
            if (!v || !(*v >= field->least && *v <= field->most)) return wrong(node.source(), fmt::format("{}.{}: expected a number from {:g} to {:g}", where, word, field->least, field->most));
            *field->into = *v;
        }
        return Done{};
    };
    for (const auto& [key, node] : parsed) {
        const std::string word(key.str());
        if (word == "format") continue;
        const toml::table* table = node.as_table();
        if (!table) return wrong(node.source(), fmt::format("'{}': expected the tables [compound.NAME], [spread], [factor], [observation]", word));
        if (word == "compound") {
            for (const auto& [name, one] : *table) {
                if (!one.is_table()) return wrong(one.source(), fmt::format("compound.{}: expected a table", std::string(name.str())));
                const std::string compound(name.str());
                if (p.compound.find(compound) == p.compound.end()) {   // a compound of their own says all four
                    for (const char* needed : {"specific_wear_mm3_MJ", "rotor_wear_mm3_MJ", "threshold_degC", "growth"})
                        if (!one.as_table()->contains(needed)) return wrong(one.source(), fmt::format("compound.{}: '{}' is missing", compound, needed));
                }
                if (Status s = take("compound." + compound, *one.as_table(), fields_of(p.compound[compound]), 0); !s) return s.error();
            }
        } else if (word == "spread" || word == "factor" || word == "observation") {
            if (Status s = take(word, *table, fields_of(p), word.size() + 1); !s) return s.error();
        } else {
            return wrong(node.source(), fmt::format("unknown table [{}]: expected [compound.NAME], [spread], [factor], [observation]", word));
        }
    }
    return p;
}

}  // namespace bw::wear
