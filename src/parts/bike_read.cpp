// SPDX-License-Identifier: Apache-2.0
// Bike descriptions in: TOML, format 1.                                                                   Layer: parts
#include <fmt/format.h>

#include <cmath>
#include <functional>
#include <sstream>
#include <toml++/toml.h>

#include "base/text.hpp"
#include "fields.hpp"
#include "words.hpp"

namespace bw::parts {

namespace {

// A key that holds a word, a yes or no, or a count. set: nothing on success, else what was expected.
struct WordKey {
    std::string key;
    std::function<std::optional<std::string>(Bike&, const toml::node&)> set;
};

template <class E>
auto set_word(std::function<E&(Bike&)> at) {
    return [at](Bike& bike, const toml::node& node) -> std::optional<std::string> {
        const auto text = node.value<std::string>();
        const auto value = text ? value_of_word<E>(*text) : std::nullopt;
        if (!value) return "expected " + list_of_words<E>();
        at(bike) = *value;
        return std::nullopt;
    };
}

auto set_bool(std::function<bool&(Bike&)> at) {
    return [at](Bike& bike, const toml::node& node) -> std::optional<std::string> {
        const auto value = node.is_boolean() ? node.value<bool>() : std::nullopt;
        if (!value) return "expected true or false";
        at(bike) = *value;
        return std::nullopt;
    };
}

auto set_count(std::function<int&(Bike&)> at, int least, int most) {
    return [at, least, most](Bike& bike, const toml::node& node) -> std::optional<std::string> {
        const auto value = node.is_integer() ? node.value<int>() : std::nullopt;
        if (!value || *value < least || *value > most) return fmt::format("expected a whole number from {} to {}", least, most);
        at(bike) = *value;
        return std::nullopt;
    };
}

const std::vector<WordKey>& word_keys() {
    static const std::vector<WordKey> keys = [] {
        std::vector<WordKey> k;
        k.push_back({"bike.kind", set_word<BikeKind>([](Bike& b) -> BikeKind& { return b.kind; })});
        k.push_back({"bike.name", [](Bike& b, const toml::node& node) -> std::optional<std::string> {
                         if (!node.is_string()) return "expected a text in quotes";
                         b.name = *node.value<std::string>();
                         return std::nullopt;
                     }});
        k.push_back({"bike.motor_wheel", set_word<MotorWheel>([](Bike& b) -> MotorWheel& { return b.motor_wheel; })});
        k.push_back({"trailer.brake", set_word<TrailerBrake>([](Bike& b) -> TrailerBrake& { return (b.trailer ? *b.trailer : b.trailer.emplace()).brake; })});
        k.push_back({"bike.e_assist", set_bool([](Bike& b) -> bool& { return b.e_assist; })});
        for (const End e : {End::front, End::rear}) {
            const std::string p = std::string(word_of(e)) + ".";
            k.push_back({p + "actuation", set_word<Actuation>([e](Bike& b) -> Actuation& { return b.wheel(e).actuation; })});
            k.push_back({p + "rotor.kind", set_word<RotorKind>([e](Bike& b) -> RotorKind& { return b.wheel(e).rotor.kind; })});
            k.push_back({p + "rotor.material", set_word<RotorMaterial>([e](Bike& b) -> RotorMaterial& { return b.wheel(e).rotor.material; })});
            k.push_back({p + "rotor.anvil", set_word<Anvil>([e](Bike& b) -> Anvil& { return b.wheel(e).rotor.anvil; })});
            k.push_back({p + "rotor.sheltered", set_bool([e](Bike& b) -> bool& { return b.wheel(e).rotor.sheltered; })});
            k.push_back({p + "pads.compound", set_word<Compound>([e](Bike& b) -> Compound& { return b.wheel(e).pads.compound; })});
            k.push_back({p + "pads.condition", set_word<PadCondition>([e](Bike& b) -> PadCondition& { return b.wheel(e).pads.condition; })});
            k.push_back({p + "pads.plate_measured", set_bool([e](Bike& b) -> bool& { return b.wheel(e).pads.plate_measured; })});
            k.push_back({p + "pads.heat_barrier", set_bool([e](Bike& b) -> bool& { return b.wheel(e).pads.heat_barrier; })});
            k.push_back({p + "caliper.pistons_per_side", set_count([e](Bike& b) -> int& { return b.wheel(e).caliper.pistons_per_side; }, 1, 3)});
            k.push_back({p + "caliper.moving_pads", set_count([e](Bike& b) -> int& { return b.wheel(e).caliper.moving_pads; }, 1, 2)});
            k.push_back({p + "fluid.kind", set_word<FluidKind>([e](Bike& b) -> FluidKind& {
                             return (b.wheel(e).fluid ? *b.wheel(e).fluid : b.wheel(e).fluid.emplace()).kind;
                         })});
            k.push_back({p + "housing.kind", set_word<HousingKind>([e](Bike& b) -> HousingKind& { return b.wheel(e).housing.kind; })});
        }
        return k;
    }();
    return keys;
}

std::vector<std::string> known_keys() {
    std::vector<std::string> keys = {"format"};
    for (const WordKey& k : word_keys()) keys.push_back(k.key);
    for (const Field& f : field_table()) keys.push_back(f.key);
    return keys;
}

class Reader {
public:
    Reader(const std::string& name, Bike& bike) : name_(name), bike_(bike), known_(known_keys()) {}

    Status read(const toml::table& table, const std::string& prefix) {
        for (const auto& [key, node] : table) {
            const std::string path = prefix.empty() ? std::string(key.str()) : prefix + "." + std::string(key.str());
            if (Status s = one(path, key.source().begin.line, node); !s) return s;
        }
        return Done{};
    }

    Error wrong(long line, const std::string& text) const { return {Errc::bad_input, fmt::format("{}:{}: {}", name_, line, text)}; }
    long line_of(const std::string& key) const {
        const auto found = lines_.find(key);
        return found == lines_.end() ? 1 : found->second;
    }

private:
    Status one(const std::string& path, long line, const toml::node& node) {
        if (path == "format") {
            if (node.value_or(0) != 1 || !node.is_integer())
                return wrong(line, "format must be 1: this program reads format 1 only; a newer file needs a newer program");
            return Done{};
        }
        for (const WordKey& k : word_keys())
            if (k.key == path) {
                if (const auto expected = k.set(bike_, node)) return wrong(line, fmt::format("{}: {}", path, *expected));
                note(path, line);
                return Done{};
            }
        for (const Field& f : field_table())
            if (f.key == path) return number(f, line, node);
        if (const toml::table* inner = node.as_table())
            for (const std::string& k : known_)
                if (k.starts_with(path + ".")) return read(*inner, path);
        const auto near = nearest_word(path, known_);
        return wrong(line, fmt::format("unknown key '{}'{}; docs/formats.md lists the keys", path,
                                       near ? fmt::format("; the nearest known key is '{}'", *near) : ""));
    }

    Status number(const Field& f, long line, const toml::node& node) {
        Uncertain v{.value = 0, .sd = 0, .grade = Grade::measured, .source = "bike description"};
        std::optional<double> value, sd;
        if (node.is_number()) value = node.value<double>();
        else if (const toml::table* table = node.as_table()) {
            for (const auto& [key, inner] : *table) {
                const std::string_view k = key.str();
                if (k == "value" && inner.is_number()) value = inner.value<double>();
                else if (k == "sd" && inner.is_number()) sd = inner.value<double>();
                else if (k == "source" && inner.is_string()) v.source = *inner.value<std::string>();
                else return wrong(key.source().begin.line, fmt::format("{}.{}: expected value = number, sd = number, source = \"text\"", f.key, k));
            }
        }
        if (!value)
            return wrong(line, fmt::format("{}: expected a number{} or {{ value = , sd = , source = \"\" }}", f.key,
                                           f.unit.empty() ? "" : " in " + f.unit));
        if (!std::isfinite(*value) || *value < f.least || *value > f.most)
            return wrong(line, fmt::format("{} = {}: expected {} to {}{}; is the unit right?", f.key, *value, f.least, f.most,
                                           f.unit.empty() ? "" : " " + f.unit));
        if (sd && (!std::isfinite(*sd) || *sd < 0)) return wrong(line, fmt::format("{}.sd: expected a number of 0 or more", f.key));
        v.value = *value;
        v.sd = sd ? *sd : std::max(f.told_share * *value, f.told_sd);
        f.make(bike_) = v;
        note(f.key, line);
        return Done{};
    }

    void note(const std::string& key, long line) {
        bike_.given.insert(key);
        lines_[key] = line;
    }

    const std::string& name_;
    Bike& bike_;
    std::vector<std::string> known_;
    std::map<std::string, long> lines_;
};

// A default: the most particular row of data/bikes.toml, from this kind and end to any kind and any end.
const Datum* default_row(const Library& library, const Bike& bike, const std::string& key) {
    const bool at_wheel = key.starts_with("front.") || key.starts_with("rear.");
    const std::string kind(word_of(bike.kind));
    std::vector<std::string> ids = {"bikes." + kind + "." + key};
    if (at_wheel) {
        const std::string part = "wheel." + key.substr(key.find('.') + 1);
        const End end = key.starts_with("front.") ? End::front : End::rear;
        const std::string actuation(word_of(bike.wheel(end).actuation));
        ids.push_back("bikes." + actuation + "." + key);
        ids.push_back("bikes." + actuation + "." + part);
        ids.push_back("bikes." + kind + "." + part);
        ids.push_back("bikes.any." + key);
        ids.push_back("bikes.any." + part);
    } else ids.push_back("bikes.any." + key);
    for (const std::string& id : ids)
        if (library.has(id)) return &library.row(id);
    return nullptr;
}

void start_by_kind(Bike& bike) {
    for (const End e : {End::front, End::rear}) {
        Wheel& w = bike.wheel(e);
        const bool given = bike.given.contains(fmt::format("{}.actuation", word_of(e)));
        if (!given) w.actuation = bike.kind == BikeKind::city ? Actuation::cable : Actuation::hydraulic;
        const std::string p(word_of(e));
        if (!bike.given.contains(p + ".housing.kind"))
            w.housing.kind = w.actuation == Actuation::hydraulic ? HousingKind::hose : HousingKind::ordinary;
        if (!bike.given.contains(p + ".caliper.moving_pads")) w.caliper.moving_pads = w.actuation == Actuation::cable ? 1 : 2;
        if (!bike.given.contains(p + ".pads.compound"))
            w.pads.compound = bike.kind == BikeKind::cargo ? Compound::semi_metallic : Compound::organic;
        if (w.actuation != Actuation::cable && !w.fluid) w.fluid.emplace();
    }
}

void fill_defaults(Bike& bike, const Library& library) {
    start_by_kind(bike);
    for (const Field& f : field_table()) {
        if (f.role == Role::limit || bike.given.contains(f.key)) continue;
        Uncertain* value = f.at(bike);
        if (!value) continue;
        if (const Datum* row = default_row(library, bike, f.key)) *value = row->value;
    }
    for (const End e : {End::front, End::rear}) {
        Rotor& r = bike.wheel(e).rotor;
        // A limit that was told says what kind of rotor it is: never measured, it lies somewhere between new and that limit.
        if (r.least_thickness_mm && !bike.given.contains(fmt::format("{}.rotor.thickness_mm", word_of(e)))) {
            const Uncertain& above = library.row("bikes.rotor_above_limit_mm").value;
            r.thickness_mm = {.value = r.least_thickness_mm->value + above.value, .sd = above.sd, .grade = above.grade, .source = above.source};
        }
        if (bike.given.contains(fmt::format("{}.rotor.band_inner_mm", word_of(e)))) continue;
        // data/bikes.toml gives the width of the band; the field is its inner diameter.
        const Uncertain& width = library.row("bikes.band_width_mm").value;
        r.band_inner_mm = {.value = r.diameter_mm.value - 2 * width.value, .sd = 2 * width.sd, .grade = width.grade, .source = width.source};
    }
    if (!bike.given.contains("bike.total_mass_kg")) {
        const double sum = bike.rider.mass_kg.value + bike.mass_kg.value + bike.load_kg.value;
        const double sd = std::hypot(bike.rider.mass_kg.sd, bike.mass_kg.sd, bike.load_kg.sd);
        bike.total_mass_kg = {.value = sum, .sd = sd, .grade = bike.mass_kg.grade, .source = "rider + bike + load"};
    }
}

using Trouble = std::optional<std::pair<std::string, std::string>>;   // key, and what is wrong with it

// Motor, trailer and load: keys that say nothing without another, or against it.
Trouble contradiction(const Bike& bike) {
    const auto has = [&](const char* key) { return bike.given.contains(key); };
    for (const char* key : {"bike.regeneration_W", "bike.overrun_N", "bike.regeneration_N"}) {
        if (!has(key)) continue;
        if (!bike.e_assist) return {{key, fmt::format("{} belongs to a motor: add bike.e_assist = true, or leave it out", key)}};
        if (bike.motor_wheel == MotorWheel::crank)
            return {{key, fmt::format("{}: a crank motor stands still when the bike coasts, so it neither takes back nor drags; for a motor in a hub add bike.motor_wheel = \"front\" or \"rear\"", key)}};
    }
    if (has("bike.motor_wheel") && !bike.e_assist) return {{"bike.motor_wheel", "bike.motor_wheel: a motor needs bike.e_assist = true"}};
    if (has("bike.regeneration_N") && !has("bike.regeneration_W"))
        return {{"bike.regeneration_N", "bike.regeneration_N is the most force of a motor that takes back: add bike.regeneration_W, its most power"}};
    if (bike.trailer && !has("trailer.mass_kg")) {
        for (const std::string& key : bike.given)
            if (key.starts_with("trailer.")) return {{key, "[trailer] needs mass_kg, with what the trailer carries"}};
    }
    for (const char* key : {"bike.load_from_front_m", "bike.load_height_m"})
        if (has(key) && has("bike.total_mass_kg") && !has("bike.load_kg"))
            return {{key, fmt::format("{} says where the load is, but not how heavy it is: add bike.load_kg", key)}};
    return std::nullopt;
}

// A load so far out that a wheel carries nothing before the brakes are touched.
Trouble load_tips_over(const Bike& bike) {
    if (!bike.load_from_front_m) return std::nullopt;
    const double total = bike.total_mass_kg.value, load = bike.load_kg.value;
    const double at = ((total - load) * bike.centre_of_mass_from_front_m.value + load * bike.load_from_front_m->value) / total;
    const double part = at / bike.wheelbase_m.value;
    if (part > 0.05 && part < 0.95) return std::nullopt;
    return {{"bike.load_from_front_m", fmt::format("bike.load_from_front_m = {} with {} kg puts the common centre of mass {:.2f} m behind the front axle of a wheelbase of {} m: the {} wheel "
                                                   "would carry nothing; is the place or the load right?", bike.load_from_front_m->value, load, at, bike.wheelbase_m.value, part < 0.5 ? "rear" : "front")}};
}

}  // namespace

Result<Bike> read_bike(std::string_view toml_text, const std::string& name, const Library& library) {
    Bike bike;
    Reader reader(name, bike);
    try {
        const toml::table table = toml::parse(toml_text, name);
        if (!table.contains("format"))
            return reader.wrong(1, "expected 'format = 1' at the top of a bike description");
        if (Status s = reader.read(table, ""); !s) return s.error();
    } catch (const toml::parse_error& e) {
        return reader.wrong(e.source().begin.line, fmt::format("this is not TOML ({})", std::string(e.description())));
    }
    const auto has = [&](const char* key) { return bike.given.contains(key); };
    if (!has("bike.kind")) return reader.wrong(1, "bike.kind is required: " + list_of_words<BikeKind>());
    if (!has("bike.total_mass_kg") && !(has("rider.mass_kg") && has("bike.mass_kg")))
        return reader.wrong(1, "a mass is required: bike.total_mass_kg (bike, rider, load), or rider.mass_kg and bike.mass_kg");
    if (has("bike.total_mass_kg") && has("rider.mass_kg") && has("bike.mass_kg")) {
        const double sum = bike.rider.mass_kg.value + bike.mass_kg.value + bike.load_kg.value;
        if (std::abs(sum - bike.total_mass_kg.value) > 0.1 * sum)
            return reader.wrong(reader.line_of("bike.total_mass_kg"),
                                fmt::format("bike.total_mass_kg = {} but rider, bike and load add up to {}; leave one of them out",
                                            bike.total_mass_kg.value, sum));
    }
    if (has("bike.total_mass_kg") && has("bike.load_kg") && bike.load_kg.value >= bike.total_mass_kg.value)
        return reader.wrong(reader.line_of("bike.load_kg"), fmt::format("bike.load_kg = {} is not less than bike.total_mass_kg = {}, which holds bike, rider and load",
                                                                        bike.load_kg.value, bike.total_mass_kg.value));
    if (const auto trouble = contradiction(bike)) return reader.wrong(reader.line_of(trouble->first), trouble->second);
    if (bike.regeneration_W && !bike.regeneration_N) bike.regeneration_N.emplace();
    start_by_kind(bike);
    for (const End e : {End::front, End::rear}) {
        const std::string p(word_of(e));
        const Wheel& w = bike.wheel(e);
        if (w.actuation == Actuation::cable && w.fluid) {
            const std::string key = has((p + ".fluid.kind").c_str()) ? p + ".fluid.kind" : p + ".fluid.age_months";
            return reader.wrong(reader.line_of(key), fmt::format("{}: a cable brake has no fluid; is {}.actuation right?", key, p));
        }
        if (w.actuation == Actuation::hydraulic && w.housing.kind != HousingKind::hose)
            return reader.wrong(reader.line_of(p + ".housing.kind"), fmt::format("{}.housing.kind: a hydraulic brake has a hose", p));
        if (w.actuation != Actuation::hydraulic && w.housing.kind == HousingKind::hose)
            return reader.wrong(reader.line_of(p + ".housing.kind"), fmt::format("{}.housing.kind: a cable runs in ordinary or compressionless housing", p));
    }
    fill_defaults(bike, library);
    if (const auto trouble = load_tips_over(bike)) return reader.wrong(reader.line_of(trouble->first), trouble->second);
    for (const End e : {End::front, End::rear}) {
        const std::string p(word_of(e));
        const Rotor& r = bike.wheel(e).rotor;
        if (r.band_inner_mm.value + 4 > r.diameter_mm.value)
            return reader.wrong(reader.line_of(p + ".rotor.band_inner_mm"),
                                fmt::format("{}.rotor.band_inner_mm = {} leaves no band inside the diameter of {} mm", p, r.band_inner_mm.value, r.diameter_mm.value));
        const Lever& l = bike.wheel(e).lever;
        if (l.bite_mm.value > l.reach_mm.value)
            return reader.wrong(reader.line_of(p + ".lever.bite_mm"),
                                fmt::format("{}.lever.bite_mm = {} is farther from the bar than the lever at rest ({} mm); both are distances from the bar", p,
                                            l.bite_mm.value, l.reach_mm.value));
        if (!l.ratio_at_bar) continue;
        const std::string key = p + ".lever.ratio_at_bar";
        if (!has((p + ".lever.ratio").c_str()))
            return reader.wrong(reader.line_of(key), fmt::format("{} says how the ratio changes along the lever's travel: add {}.lever.ratio, the ratio with the lever at rest", key, p));
        if (l.ratio_at_bar->value > most_ratio_change * l.ratio.value || l.ratio_at_bar->value * most_ratio_change < l.ratio.value)
            return reader.wrong(reader.line_of(key), fmt::format("{} = {} beside {}.lever.ratio = {}: expected {:.3g} to {:.3g}, a third of it to three times as much; is each the force on master piston or cable over the force at the finger?",
                                                                 key, l.ratio_at_bar->value, p, l.ratio.value, l.ratio.value / most_ratio_change, l.ratio.value * most_ratio_change));
    }
    if (bike.name.empty()) bike.name = std::string(word_of(bike.kind)) + " bike";
    return bike;
}

Bike default_bike(BikeKind kind, const Library& library) {
    Bike bike;
    bike.kind = kind;
    bike.name = std::string(word_of(kind)) + " bike";
    fill_defaults(bike, library);
    return bike;
}

Result<std::string> description_json(std::string_view toml_text) {
    try {
        const toml::table table = toml::parse(toml_text);
        std::ostringstream out;
        out << toml::json_formatter{table};
        return out.str();
    } catch (const toml::parse_error& e) {
        return Error{Errc::bad_input, std::string(e.description())};
    }
}

}  // namespace bw::parts
