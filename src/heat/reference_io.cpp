// SPDX-License-Identifier: Apache-2.0
// The reference form as text: TOML in, power CSV in, series CSV out.                                       Layer: heat
#include <algorithm>
#include <array>
#include <cmath>
#include <set>

#include <fmt/format.h>
#include <toml++/toml.h>

#include "base/text.hpp"
#include "heat/reference.hpp"
#include "base/table.hpp"

namespace bw::heat {

namespace {

constexpr double inf = std::numeric_limits<double>::infinity();

std::vector<ReferenceField> convection_fields(const std::string& path, Convection& c) {
    return {{path + ".convection.a", "W/(m2 K)", 0, 1e5, &c.a},
            {path + ".convection.b", "W/(m2 K (m/s)^m)", 0, 1e5, &c.b},
            {path + ".convection.m", "", 0, 4, &c.m}};
}

constexpr std::string_view other_side = "thermal.other.";
bool of_other_side(std::string_view key) { return key.starts_with(other_side); }

// What the file does not say of the other side is as on this one, tables over temperature included.
void as_this_side(ReferenceBrake& brake, const std::vector<Input>& given) {
    if (!brake.other) return;
    const ReferenceBrake::OtherSide told = *brake.other;
    brake.other = as_other_side(brake);
    ReferenceBrake source = brake;
    source.other = told;
    const std::vector<ReferenceField> from = fields_of(source), to = fields_of(brake);
    for (std::size_t i = 0; i < to.size(); ++i)
        if (of_other_side(to[i].key) && std::any_of(given.begin(), given.end(), [&](const Input& g) { return g.key == to[i].key; })) *to[i].value = *from[i].value;
    const auto tables = [&](ReferenceBrake::Layer& layer, const ReferenceBrake::Layer& of_file, const std::string& path) {
        for (const Input& g : given) {
            if (g.key == path + ".conductivity_W_mK") layer.conductivity_over_T = of_file.conductivity_over_T;
            if (g.key == path + ".heat_capacity_J_kgK") layer.heat_capacity_over_T = of_file.heat_capacity_over_T;
        }
    };
    tables(brake.other->friction, told.friction, "thermal.other.friction");
    tables(brake.other->plate, told.plate, "thermal.other.plate");
}

// Walks the TOML and takes what the table of fields names.
class Reader {
public:
    Reader(ReferenceFile& out, std::string name) : out_(out), name_(std::move(name)), fields_(fields_of(out.brake)) {
        for (const ReferenceField& f : fields_) known_.push_back(f.key);
        known_.insert(known_.end(), {"format", "thermal.form"});
    }

    Status walk(const std::string& prefix, const toml::table& table) {
        for (const auto& [key, node] : table) {
            const std::string path = prefix.empty() ? std::string(key.str()) : prefix + "." + std::string(key.str());
            if (path == "format") {
                if (node.value<int>() != 1) return wrong(node, "format: expected 1");
                continue;
            }
            if (path == "thermal.form") {
                form_ = true;
                if (node.value<std::string>() != "reference") return wrong(node, "thermal.form: expected \"reference\"");
                continue;
            }
            if (path.ends_with(".convection")) {
                if (Status s = convection(path, node); !s) return s;
                continue;
            }
            const auto field = std::find_if(fields_.begin(), fields_.end(), [&](const ReferenceField& f) { return f.key == path; });
            if (field != fields_.end() && !path.ends_with(".a") && !path.ends_with(".b") && !path.ends_with(".m")) {
                if (Status s = number(*field, node); !s) return s;
                continue;
            }
            const bool inside = std::any_of(known_.begin(), known_.end(), [&](const std::string& k) { return k.starts_with(path + "."); });
            if (inside) {
                if (!node.is_table()) return wrong(node, fmt::format("'{}' must be a table", path));
                if (Status s = walk(path, *node.as_table()); !s) return s;
                continue;
            }
            return unknown(path, node);
        }
        return Done{};
    }

    Status complete() const {
        if (!form_) return missing("thermal.form");
        for (const ReferenceField& f : fields_) {
            const bool optional = f.key == "thermal.power_scale" || f.key == "thermal.hub.emissivity" || of_other_side(f.key);
            if (!optional && !seen_.contains(f.key))
                return missing(f.key.ends_with(".a") || f.key.ends_with(".b") || f.key.ends_with(".m") ? f.key.substr(0, f.key.size() - 2) : f.key);
        }
        return Done{};
    }

private:
    Error wrong(const toml::node& node, const std::string& text) const {
        return {Errc::bad_input, fmt::format("{}:{}: {}", name_, node.source().begin.line, text)};
    }
    Error missing(const std::string& key) const {
        return {Errc::bad_input, fmt::format("{}: '{}' is missing; the reference form needs every key of its tables", name_, key)};
    }
    Error unknown(const std::string& path, const toml::node& node) const {
        std::vector<std::string> words = known_;
        for (std::string& w : words)
            if (w.ends_with(".convection.a")) w.resize(w.size() - 2);
        const auto near = nearest_word(path, words);
        return wrong(node, fmt::format("unknown key '{}'{}", path, near ? fmt::format("; the nearest known one is '{}'", *near) : std::string()));
    }

    Status convection(const std::string& path, const toml::node& node) {
        const bool known = std::find(known_.begin(), known_.end(), path + ".a") != known_.end();
        if (!known) return unknown(path, node);
        const toml::array* list = node.as_array();
        if (!list || list->size() != 3) return wrong(node, fmt::format("{}: expected three numbers [a, b, m] of h = a + b v^m", path));
        for (std::size_t i = 0; i < 3; ++i) {
            const std::string key = path + "." + std::string(1, "abm"[i]);
            const auto field = std::find_if(fields_.begin(), fields_.end(), [&](const ReferenceField& f) { return f.key == key; });
            if (Status s = number(*field, *list->get(i)); !s) return s;
        }
        return Done{};
    }

    Status number(const ReferenceField& field, const toml::node& node) {
        Uncertain u;
        u.grade = Grade::measured;
        u.source = name_;
        const toml::node* value = &node;
        if (const toml::table* table = node.as_table()) {
            value = nullptr;
            for (const auto& [key, part] : *table) {
                if (key == "value") value = &part;
                else if (key == "sd") {
                    const auto sd = part.value<double>();
                    if (!sd || !(*sd >= 0) || !std::isfinite(*sd)) return wrong(part, fmt::format("{}.sd: expected a number >= 0", field.key));
                    u.sd = *sd;
                } else if (key == "source") {
                    if (!part.is_string()) return wrong(part, fmt::format("{}.source: expected a text in quotes", field.key));
                    u.source = *part.value<std::string>();
                } else return wrong(part, fmt::format("{}: unknown key '{}'; known are value, sd, source", field.key, std::string(key.str())));
            }
            if (!value) return wrong(node, fmt::format("{}: expected 'value'", field.key));
        }
        if (value->is_array()) {
            PropertyTable* over_T = table_of(field.key);
            if (!over_T) return wrong(*value, fmt::format("{}: a table over temperature is known for conductivity_W_mK and heat_capacity_J_kgK only; expected a number", field.key));
            if (u.sd > 0) return wrong(*value, fmt::format("{}: a table over temperature cannot carry an sd; give one number with an sd, or the table alone", field.key));
            if (Status s = over_temperature(field, *value->as_array(), *over_T); !s) return s;
            // The constant beside a table is what the solver's operator is built from: the table's mean over its span.
            const double low = over_T->points.front().degC, high = over_T->points.back().degC;
            u.value = high > low ? over_T->integral(low, high) / (high - low) : over_T->points.front().value;
            *field.value = u.value;
            seen_.insert(field.key);
            out_.inputs.push_back({.key = field.key, .unit = field.unit, .value = u});
            return Done{};
        }
        const bool text_inf = field.most == inf && value->value<std::string>() == std::string("inf");
        const double got = text_inf ? inf : value->is_number() ? value->value<double>().value_or(std::nan("")) : std::nan("");
        const std::string unit = field.unit.empty() ? "" : " " + field.unit;
        if (!(got >= field.least && got <= field.most))
            return wrong(*value, field.most == inf ? fmt::format("{}: expected a number above 0{} or inf", field.key, unit)
                                                   : fmt::format("{}: expected a number from {:g} to {:g}{}", field.key, field.least, field.most, unit));
        u.value = got;
        *field.value = got;
        seen_.insert(field.key);
        out_.inputs.push_back({.key = field.key, .unit = field.unit, .value = u});
        return Done{};
    }

    PropertyTable* table_of(const std::string& key) {
        ReferenceBrake& b = out_.brake;
        const std::pair<const char*, PropertyTable*> all[] = {
            {"thermal.rotor.conductivity_W_mK", &b.rotor.conductivity_over_T},       {"thermal.rotor.heat_capacity_J_kgK", &b.rotor.heat_capacity_over_T},
            {"thermal.friction.conductivity_W_mK", &b.friction.conductivity_over_T}, {"thermal.friction.heat_capacity_J_kgK", &b.friction.heat_capacity_over_T},
            {"thermal.plate.conductivity_W_mK", &b.plate.conductivity_over_T},       {"thermal.plate.heat_capacity_J_kgK", &b.plate.heat_capacity_over_T}};
        for (const auto& [name, table] : all)
            if (key == name) return table;
        if (b.other) {
            const std::pair<const char*, PropertyTable*> more[] = {
                {"thermal.other.friction.conductivity_W_mK", &b.other->friction.conductivity_over_T}, {"thermal.other.friction.heat_capacity_J_kgK", &b.other->friction.heat_capacity_over_T},
                {"thermal.other.plate.conductivity_W_mK", &b.other->plate.conductivity_over_T},       {"thermal.other.plate.heat_capacity_J_kgK", &b.other->plate.heat_capacity_over_T}};
            for (const auto& [name, table] : more)
                if (key == name) return table;
        }
        return nullptr;
    }
    Status over_temperature(const ReferenceField& field, const toml::array& list, PropertyTable& out) const {
        const std::string expected = fmt::format("{}: expected [[T_degC, value], ...] with rising temperatures from -273 to 3000 and values from {:g} to {:g} {}", field.key,
                                                 field.least, field.most, field.unit);
        if (list.empty()) return wrong(list, expected);
        for (const toml::node& node : list) {
            const toml::array* pair = node.as_array();
            if (!pair || pair->size() != 2 || !pair->get(0)->is_number() || !pair->get(1)->is_number()) return wrong(node, expected);
            const double degC = *pair->get(0)->value<double>(), value = *pair->get(1)->value<double>();
            const bool rising = out.points.empty() || degC > out.points.back().degC;
            if (!rising || !(degC >= -273 && degC <= 3000) || !(value >= field.least && value <= field.most)) return wrong(node, expected);
            out.points.push_back({degC, value});
        }
        const auto [low, high] = std::minmax_element(out.points.begin(), out.points.end(), [](const auto& a, const auto& b) { return a.value < b.value; });
        if (high->value > 4 * low->value)
            return wrong(list, fmt::format("{}: the values span {:g} to {:g}; expected the largest at most four times the smallest", field.key, low->value, high->value));
        return Done{};
    }

    ReferenceFile& out_;
    std::string name_;
    std::vector<ReferenceField> fields_;
    std::vector<std::string> known_;
    std::set<std::string> seen_;
    bool form_ = false;
};

}  // namespace

std::vector<ReferenceField> fields_of(ReferenceBrake& b) {
    std::vector<ReferenceField> f = {
        {"thermal.ambient_degC", "degC", -60, 80, &b.ambient_degC},
        {"thermal.start_degC", "degC", -60, 1000, &b.start_degC},
        {"thermal.closed_above_W", "W", 0, 1e4, &b.closed_above_W},
        {"thermal.power_scale", "", 0, 100, &b.power_scale},
        {"thermal.rotor.face_area_m2", "m2", 1e-6, 10, &b.rotor.face_area_m2},
        {"thermal.rotor.edge_area_m2", "m2", 0, 10, &b.rotor.edge_area_m2},
        {"thermal.rotor.half_thickness_m", "m", 1e-5, 1, &b.rotor.half_thickness_m},
        {"thermal.rotor.conductivity_W_mK", "W/(m K)", 1e-3, 5000, &b.rotor.conductivity_W_mK},
        {"thermal.rotor.density_kg_m3", "kg/m3", 1, 3e4, &b.rotor.density_kg_m3},
        {"thermal.rotor.heat_capacity_J_kgK", "J/(kg K)", 1, 1e5, &b.rotor.heat_capacity_J_kgK},
        {"thermal.rotor.emissivity", "", 0, 1, &b.rotor.emissivity},
    };
    const auto add = [&](std::vector<ReferenceField> more) { f.insert(f.end(), more.begin(), more.end()); };
    add(convection_fields("thermal.rotor", b.rotor.convection));
    const auto layer = [&](const std::string& path, ReferenceBrake::Layer& l) {
        add({{path + ".area_m2", "m2", 1e-7, 10, &l.area_m2},
             {path + ".thickness_m", "m", 1e-5, 1, &l.thickness_m},
             {path + ".conductivity_W_mK", "W/(m K)", 1e-3, 5000, &l.conductivity_W_mK},
             {path + ".density_kg_m3", "kg/m3", 1, 3e4, &l.density_kg_m3},
             {path + ".heat_capacity_J_kgK", "J/(kg K)", 1, 1e5, &l.heat_capacity_J_kgK}});
    };
    // What each side has of its own; `at` without its last point.
    const auto side = [&](const std::string& at, auto& x) {
        layer(at + ".friction", x.friction);
        layer(at + ".plate", x.plate);
        add({{at + ".contact.conductance_W_m2K", "W/(m2 K)", 1e-3, inf, &x.contact_W_m2K},
             {at + ".gap.conductance_W_m2K", "W/(m2 K)", 0, 1e6, &x.gap_W_m2K},
             {at + ".piston.heat_capacity_J_K", "J/K", 1e-6, 1e6, &x.piston_J_K},
             {at + ".fluid.heat_capacity_J_K", "J/K", 1e-6, 1e6, &x.fluid_J_K}});
    };
    const auto links = [&](const std::string& at, auto& l) {
        for (const auto& [name, value] : {std::pair<const char*, double*>{"plate_piston", &l.plate_piston}, {"plate_caliper", &l.plate_caliper}, {"piston_fluid", &l.piston_fluid}, {"piston_caliper", &l.piston_caliper},
                                          {"fluid_caliper", &l.fluid_caliper}})
            f.push_back({at + ".links_W_K." + name, "W/K", 0, 1e5, value});
    };
    side("thermal", b);
    const auto body = [&](const std::string& path, ReferenceBrake::Body& o, double most_emissivity) {
        add({{path + ".heat_capacity_J_K", "J/K", 1e-6, 1e7, &o.heat_capacity_J_K},
             {path + ".area_m2", "m2", 0, 100, &o.area_m2},
             {path + ".emissivity", "", 0, most_emissivity, &o.emissivity}});
        add(convection_fields(path, o.convection));
    };
    body("thermal.caliper", b.caliper, 1);
    body("thermal.arms", b.arms, 1);
    body("thermal.hub", b.hub, 0);   // the hub convects only
    links("thermal", b.links_W_K);
    f.push_back({"thermal.links_W_K.rotor_arms", "W/K", 0, 1e5, &b.links_W_K.rotor_arms});
    f.push_back({"thermal.links_W_K.arms_hub", "W/K", 0, 1e5, &b.links_W_K.arms_hub});
    if (b.other) side("thermal.other", *b.other), links("thermal.other", b.other->links_W_K);
    return f;
}

Status check_reference(const ReferenceBrake& brake) {
    ReferenceBrake copy = brake;
    for (const ReferenceField& f : fields_of(copy))
        if (!(*f.value >= f.least && *f.value <= f.most))
            return Error{Errc::bad_input, fmt::format("{} = {} is outside {:g} to {:g} {}", f.key, *f.value, f.least, f.most, f.unit)};
    if (brake.friction.area_m2 > brake.rotor.face_area_m2 + brake.rotor.edge_area_m2)
        return Error{Errc::bad_input, fmt::format("thermal.friction.area_m2 = {} is more than face and edge of the rotor together ({}): no area is left to cool",
                                                  brake.friction.area_m2, brake.rotor.face_area_m2 + brake.rotor.edge_area_m2)};
    if (brake.other) {
        ReferenceBrake other = mirrored(brake);
        other.other.reset();
        if (Status s = check_reference(other); !s) return Error{s.error().code, "the other side: " + s.error().text};
    }
    return Done{};
}

Result<ReferenceFile> read_reference(std::string_view text, const std::string& name) {
    ReferenceFile file;
    try {
        const toml::table table = toml::parse(text, name);
        if (table["thermal"]["other"].is_table()) file.brake.other.emplace();
        Reader reader(file, name);
        if (Status s = reader.walk("", table); !s) return s.error();
        if (Status s = reader.complete(); !s) return s.error();
        as_this_side(file.brake, file.inputs);
    } catch (const toml::parse_error& e) {
        return Error{Errc::bad_input, fmt::format("{}:{}: {}", name, e.source().begin.line, std::string(e.description()))};
    }
    if (Status s = check_reference(file.brake); !s) return Error{s.error().code, name + ": " + s.error().text};
    // toml++ iterates by key; the order of fields_of is the order of the draws, whatever the order in the file.
    std::vector<Input> ordered;
    ReferenceBrake scratch = file.brake;
    for (const ReferenceField& f : fields_of(scratch)) {
        const auto found = std::find_if(file.inputs.begin(), file.inputs.end(), [&](const Input& i) { return i.key == f.key; });
        if (found != file.inputs.end()) ordered.push_back(*found);
    }
    file.inputs = std::move(ordered);
    return file;
}

ReferenceBrake with_case(const ReferenceFile& file, const CaseRow& row) {
    ReferenceBrake brake = file.brake;
    const std::vector<ReferenceField> fields = fields_of(brake);
    for (const Input& input : file.inputs) {
        if (input.value.sd <= 0) continue;
        const auto field = std::find_if(fields.begin(), fields.end(), [&](const ReferenceField& f) { return f.key == input.key; });
        // A log-normal tail past a hard bound (emissivity 1) sits at the bound.
        if (field != fields.end()) *field->value = std::clamp(row(input.key), field->least, field->most);
    }
    as_this_side(brake, file.inputs);
    return brake;
}

Result<std::vector<PowerRow>> read_power_csv(std::string_view text, const std::string& name) {
    static constexpr std::array<const char*, 3> names = {"t_s", "speed_mps", "power_W"};
    std::vector<PowerRow> rows;
    const auto lines = read_table(text, name, names, [&](const TableRow& row) -> Status {
        const auto t_s = row.number(0, -1e9, 1e12), speed_mps = row.number(1, 0, 100), power_W = row.number(2, -1e6, 1e6);
        for (const auto* v : {&t_s, &speed_mps, &power_W})
            if (!*v) return v->error();
        if (!rows.empty() && *t_s - rows.back().t_s < 1e-6) return row.wrong(0, fmt::format("{} does not come after {}; expected increasing times", *t_s, rows.back().t_s));
        rows.push_back({.t_s = *t_s, .speed_mps = *speed_mps, .power_W = *power_W});
        return Done{};
    });
    if (!lines) return lines.error();
    if (rows.size() < 2) return Error{Errc::bad_input, fmt::format("{}:{}: {}; expected at least two rows (the last only ends the run)", name, *lines, rows.empty() ? "no row" : "one row")};
    return rows;
}

std::string series_csv(std::span<const HeatState> rows) { return series_csv(rows, {}); }

std::string series_csv(std::span<const HeatState> rows, std::span<const double> lever_force_factor) {
    std::string out = "t_s,rotor_surface_degC,rotor_mid_degC,rotor_mean_degC,pad_face_degC,pad_mean_degC,plate_degC,piston_degC,"
                      "fluid_degC,caliper_degC,arms_degC,hub_degC,pad_heat_share,lever_force_factor\n";
    for (std::size_t i = 0; i < rows.size(); ++i) {
        const HeatState& s = rows[i];
        fmt::format_to(std::back_inserter(out), "{:.3f},{:.3f},{:.3f},{:.3f},{:.3f},{:.3f},{:.3f},{:.3f},{:.3f},{:.3f},{:.3f},{:.3f},", s.t_s,
                       s.rotor_surface_degC, s.rotor_mid_degC, s.rotor_mean_degC, s.pad_face_degC, s.pad_mean_degC, s.plate_degC, s.piston_degC,
                       s.fluid_degC, s.caliper_degC, s.arms_degC, s.hub_degC);
        if (std::isfinite(s.pad_heat_share)) fmt::format_to(std::back_inserter(out), "{:.3f}", s.pad_heat_share);
        fmt::format_to(std::back_inserter(out), ",{:.3f}\n", lever_force_factor.empty() ? 1.0 : lever_force_factor[i]);
    }
    return out;
}

}  // namespace bw::heat
