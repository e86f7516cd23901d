// SPDX-License-Identifier: Apache-2.0
// Two set-ups case by case.                                                                              Layer: answer
#include "answer/weigh.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <map>
#include <nlohmann/json.hpp>
#include <set>

#include "each_case.hpp"
#include "stop/yardsticks.hpp"

namespace bw::answer {

using json = nlohmann::ordered_json;

std::array<WheelCases, 2> wheel_cases(const RideWork& work, const parts::Bike& bike, std::span<const Case> cases) {
    std::array<WheelCases, 2> out;
    for (const parts::End end : ends) {
        const auto e = static_cast<std::size_t>(end);
        WheelCases& w = out[e];
        for (const WheelOutcome& o : work.outcomes[e]) {
            w.brake_energy_J.push_back(o.heat.dose.total_J());
            w.rotor_peak_degC.push_back(o.heat.peaks.rotor_surface.degC);
            w.rotor_hottest_ring_degC.push_back(o.heat.rotor_hottest_ring_degC);
            w.pad_face_peak_degC.push_back(o.heat.peaks.pad_face.degC);
            if (bike.wheel(end).fluid) w.fluid_peak_degC.push_back(o.heat.peaks.fluid.degC);
            w.lever_force_factor.push_back(o.heat.lever_force_factor);
            w.fades.push_back(o.fades);
            w.hot_stop_beyond_hand.push_back(o.hot_stop_beyond_hand);
        }
        for (std::size_t i = 0; i < cases.size() && !work.outcomes[e].empty(); ++i) {
            const auto b = boils(cases[i], end, work.outcomes[e][i % work.outcomes[e].size()]);
            if (!b) break;
            w.boils.push_back(*b);
        }
    }
    return out;
}

namespace {

// What both have, in their order; then what only one has, by name: the same whichever of the two comes first.
std::vector<Input> common_inputs(const std::vector<Input>& own, const std::vector<Input>& other) {
    std::map<std::string, const Input*> mine, theirs;
    for (const Input& i : own) mine[i.key] = &i;
    for (const Input& i : other) theirs[i.key] = &i;
    std::vector<Input> all;
    for (const Input& i : own)
        if (theirs.contains(i.key)) all.push_back(i);
    std::map<std::string, Input> rest;
    for (const auto* list : {&own, &other})
        for (const Input& i : *list)
            if (!mine.contains(i.key) || !theirs.contains(i.key)) rest.emplace(i.key, i);
    for (auto& [key, i] : rest) all.push_back(std::move(i));
    return all;
}

// Symmetric to the last bit: the interval of -d is the negative of that of d. + 0.0: no negative zero.
Interval interval_of_difference(const std::vector<double>& d) {
    std::vector<double> turned(d.size());
    std::transform(d.begin(), d.end(), turned.begin(), [](double x) { return -x; });
    return {quantile(d, 0.05) + 0.0, 0.5 * (quantile(d, 0.5) - quantile(turned, 0.5)) + 0.0, -quantile(turned, 0.05) + 0.0};
}

// Differences of the cases in which both have a number; nothing where more than 5 % have none.
void compare(WeighedFigure& f, const std::vector<double>& a, const std::vector<double>& b) {
    if (a.size() != b.size() || a.empty()) return;
    std::vector<double> d;
    double larger = 0, smaller = 0;
    for (std::size_t i = 0; i < a.size(); ++i) {
        if (!std::isfinite(a[i]) || !std::isfinite(b[i])) continue;
        d.push_back(b[i] - a[i]);
        larger += d.back() > 0;
        smaller += d.back() < 0;
    }
    if (static_cast<double>(d.size()) < 0.95 * static_cast<double>(a.size())) return;
    f.difference = interval_of_difference(d);
    f.b_larger_share = larger / static_cast<double>(d.size());
    f.b_smaller_share = smaller / static_cast<double>(d.size());
}

std::optional<Interval> spread(const std::vector<double>& values) {
    if (values.empty()) return std::nullopt;
    std::vector<double> known;
    for (const double v : values)
        if (std::isfinite(v)) known.push_back(v);
    if (static_cast<double>(known.size()) < 0.95 * static_cast<double>(values.size())) return std::nullopt;
    return interval_of(known);
}

class Scales {
public:
    Scales(Weighed& w, bool a_held, bool b_held) : w_(w), a_held_(a_held), b_held_(b_held) {}

    void figure(WeighedFigure f, const std::vector<double>& a, const std::vector<double>& b) {
        if (!a_held_) f.a = spread(a);
        if (!b_held_) f.b = spread(b);
        if (f.a && f.b) compare(f, a, b);
        w_.figures.push_back(std::move(f));
    }
    void share(WeighedShare s, const std::vector<std::uint8_t>& a, const std::vector<std::uint8_t>& b) {
        const auto of = [](const std::vector<std::uint8_t>& v) { return static_cast<double>(std::count(v.begin(), v.end(), 1)) / static_cast<double>(v.size()); };
        if (!a_held_ && !a.empty()) s.a = of(a);
        if (!b_held_ && !b.empty()) s.b = of(b);
        if (s.a && s.b && a.size() == b.size()) {
            double only_a = 0, only_b = 0;
            for (std::size_t i = 0; i < a.size(); ++i) {
                only_a += a[i] && !b[i];
                only_b += b[i] && !a[i];
            }
            s.only_a = only_a / static_cast<double>(a.size());
            s.only_b = only_b / static_cast<double>(b.size());
        }
        w_.shares.push_back(std::move(s));
    }

private:
    Weighed& w_;
    bool a_held_, b_held_;
};

template <class T, class F>
std::vector<double> column(const std::vector<T>& rows, F&& of) {
    std::vector<double> out;
    out.reserve(rows.size());
    for (const T& r : rows) out.push_back(of(r));
    return out;
}

void flatten(const json& j, const std::string& lead, std::map<std::string, json>& out) {
    for (const auto& [key, value] : j.items()) {
        const std::string name = lead.empty() ? key : lead + "." + key;
        if (value.is_object() && !value.contains("value")) flatten(value, name, out);
        else if (!value.is_array()) out[name] = value;
    }
}

Changed::Value value_of(const json& j) {
    const json& v = j.is_object() ? j.at("value") : j;
    if (v.is_number()) return v.get<double>();
    if (v.is_boolean()) return v.get<bool>();
    if (v.is_string()) return v.get<std::string>();
    return std::monostate();
}

std::vector<Changed> changes(const parts::Bike& a, const parts::Bike& b) {
    std::map<std::string, std::string> units;
    for (const parts::Bike* bike : {&a, &b}) {
        parts::Bike copy = *bike;
        for (const parts::FieldRef& f : parts::fields_of(copy)) units[f.key] = f.unit;
    }
    std::map<std::string, json> left, right;
    for (const auto& [bike, into] : {std::pair(&a, &left), std::pair(&b, &right)})
        if (const Result<std::string> text = parts::description_json(parts::write_bike(*bike))) flatten(json::parse(*text), "", *into);
    std::set<std::string> keys;
    for (const auto* one : {&left, &right})
        for (const auto& [key, value] : *one) keys.insert(key);
    std::vector<Changed> out;
    const auto sd = [](const json& j) -> std::optional<double> {
        if (!j.is_object() || !j.contains("sd")) return std::nullopt;
        return j.at("sd").get<double>();
    };
    for (const std::string& key : keys) {
        if (key == "bike.name" || key == "format") continue;
        const json l = left.contains(key) ? left[key] : json(), r = right.contains(key) ? right[key] : json();
        Changed c{.key = key, .unit = units.contains(key) ? units[key] : "", .a = value_of(l), .b = value_of(r), .a_sd = sd(l), .b_sd = sd(r)};
        if (c.a != c.b || c.a_sd != c.b_sd) out.push_back(std::move(c));
    }
    return out;
}

void weigh_stops(Scales& scales, const Weighed& w, const EachCase& a, const EachCase& b) {
    for (std::size_t s = 0; s < std::min(a.stops.size(), b.stops.size()); ++s) {
        const stop::StopSetup& setup = w.a.stops[s].setup;
        const std::string lead = fmt::format("stop.{}.{}.", stop::word_of(setup.brakes), stop::word_of(setup.surface));
        const std::string name = fmt::format("{} brake{}, {}", stop::word_of(setup.brakes), setup.brakes == stop::Brakes::both ? "s" : "", stop::word_of(setup.surface));
        const auto put = [&](const char* key, const std::string& text, const char* unit, auto&& of) {
            scales.figure({.key = lead + key, .text = name + ": " + text, .unit = unit, .about = About::stop, .wheel = {}, .ride = {}, .wanted = Wanted::less, .a = {}, .b = {}, .difference = {}, .b_larger_share = {}, .b_smaller_share = {}},
                          column(a.stops[s], of), column(b.stops[s], of));
        };
        put("brake_distance_m", fmt::format("braking distance from {:.0f} km/h", setup.from_mps * 3.6), "m", [](const stop::StopCase& c) { return c.brake_distance_m.value_or(std::nan("")); });
        put("room_needed_m", "room with reaction", "m", [](const stop::StopCase& c) { return c.room_needed_m.value_or(std::nan("")); });
        put("lever_force_N", "squeeze needed", "N", [](const stop::StopCase& c) { return c.need_N; });
        const auto not_stopping = [](const std::vector<stop::StopCase>& cases) {
            std::vector<std::uint8_t> out;
            for (const stop::StopCase& c : cases) out.push_back(!c.brake_distance_m);
            return out;
        };
        scales.share({.key = lead + "does_not_stop", .text = name + ": does not stop", .source = "", .about = About::stop, .wheel = {}, .ride = {}, .wanted = Wanted::less, .a = {}, .b = {}, .only_a = {}, .only_b = {}, .grade = {}}, not_stopping(a.stops[s]),
                     not_stopping(b.stops[s]));
    }
    for (const parts::End end : ends) {
        const auto e = static_cast<std::size_t>(end);
        const std::string wheel(parts::word_of(end));
        const auto put = [&](const char* key, const char* text, auto&& of) {
            scales.figure({.key = "lever." + wheel + "." + key, .text = wheel + " lever: " + text, .unit = "mm", .about = About::lever, .wheel = end, .ride = {}, .wanted = Wanted::more, .a = {}, .b = {}, .difference = {}, .b_larger_share = {}, .b_smaller_share = {}},
                          column(a.levers[e], of), column(b.levers[e], of));
        };
        put("bite_mm", "from the bar at the bite", [](const stop::LeverView& v) { return v.bite_mm; });
        put("full_mm", "left at the squeeze of an ordinary stop", [](const stop::LeverView& v) { return v.full_mm; });
    }
}

void weigh_heat(Scales& scales, const Weighed& w, const EachCase& a, const EachCase& b) {
    for (std::size_t k = 0; k < std::min(a.rides.size(), b.rides.size()); ++k) {
        if (!w.a.rides[k].heat_withheld.empty() || !w.b.rides[k].heat_withheld.empty()) continue;
        for (const parts::End end : ends) {
            const auto e = static_cast<std::size_t>(end);
            const std::string wheel(parts::word_of(end)), lead = "heat." + wheel + ".";
            const WheelCases &x = a.rides[k][e], &y = b.rides[k][e];
            const auto put = [&](const char* key, const char* text, const char* unit, std::vector<double> WheelCases::*of) {
                if ((x.*of).empty() && (y.*of).empty()) return;
                scales.figure({.key = lead + key, .text = wheel + ": " + text, .unit = unit, .about = About::heat, .wheel = end, .ride = k, .wanted = Wanted::less, .a = {}, .b = {}, .difference = {}, .b_larger_share = {}, .b_smaller_share = {}}, x.*of, y.*of);
            };
            put("brake_energy_J", "into the brake", "J", &WheelCases::brake_energy_J);
            put("rotor_peak_degC", "rotor, mean of the band, hottest", "°C", &WheelCases::rotor_peak_degC);
            put("rotor_hottest_ring_degC", "rotor, hottest ring", "°C", &WheelCases::rotor_hottest_ring_degC);
            put("pad_face_peak_degC", "pad face, hottest", "°C", &WheelCases::pad_face_peak_degC);
            put("fluid_peak_degC", "fluid, hottest", "°C", &WheelCases::fluid_peak_degC);
            put("lever_force_factor", "squeeze hot over cold", "", &WheelCases::lever_force_factor);
            const auto share = [&](const char* key, const char* text, std::vector<std::uint8_t> WheelCases::*of) {
                if ((x.*of).empty() && (y.*of).empty()) return;
                scales.share({.key = lead + key, .text = wheel + ": " + text, .source = "", .about = About::heat, .wheel = end, .ride = k, .wanted = Wanted::less, .a = {}, .b = {}, .only_a = {}, .only_b = {}, .grade = {}}, x.*of, y.*of);
            };
            share("fluid_boils", "fluid boils", &WheelCases::boils);
            share("fades", "fades", &WheelCases::fades);
            share("hot_stop_beyond_hand", "hot, an ordinary stop needs more than this hand has", &WheelCases::hot_stop_beyond_hand);
        }
    }
}

void weigh_life(Scales& scales, const EachCase& a, const EachCase& b) {
    for (const parts::End end : ends) {
        const auto e = static_cast<std::size_t>(end);
        const std::string wheel(parts::word_of(end));
        const auto put = [&](const char* what, const char* text, const std::vector<double>& x, const std::vector<double>& y) {
            if (x.empty() || y.empty()) return;   // life is withheld
            scales.figure({.key = fmt::format("life.{}.{}.remaining_km", wheel, what), .text = fmt::format("{} {}", wheel, text), .unit = "km", .about = About::life, .wheel = end, .ride = {}, .wanted = Wanted::more, .a = {}, .b = {}, .difference = {}, .b_larger_share = {}, .b_smaller_share = {}}, x, y);
        };
        put("pad", "pads: riding left", a.pad_km[e], b.pad_km[e]);
        put("rotor", "rotor: riding left", a.rotor_km[e], b.rotor_km[e]);
    }
}

void weigh_yardsticks(Scales& scales, const parts::Library& library, const Weighed& w, const EachCase& a, const EachCase& b) {
    const std::vector<stop::Yardstick> left = stop::yardsticks_of(library, w.a.bike), right = stop::yardsticks_of(library, w.b.bike);
    for (std::size_t i = 0; i < left.size(); ++i) {
        const auto same = std::find_if(right.begin(), right.end(), [&](const stop::Yardstick& y) { return y.id == left[i].id && y.need == left[i].need; });
        if (same == right.end()) continue;   // a standard for another kind of bike
        const auto j = static_cast<std::size_t>(same - right.begin());
        const auto met = [&](const std::vector<std::vector<double>>& each, std::size_t column) {
            std::vector<std::uint8_t> out;
            for (const std::vector<double>& c : each) out.push_back(left[i].sense == stop::Sense::at_most ? c[column] <= left[i].need : c[column] >= left[i].need);
            return out;
        };
        scales.share({.key = "yardstick." + left[i].id, .text = left[i].what + ": figure met", .source = left[i].source, .about = About::yardstick, .wheel = {}, .ride = {}, .wanted = Wanted::more, .a = {}, .b = {}, .only_a = {}, .only_b = {}, .grade = left[i].grade},
                     met(a.yardsticks, i), met(b.yardsticks, j));
    }
}

}  // namespace

Result<Weighed> weigh(const Context& ctx, const parts::Library& library, const parts::Bike& bike_a, const parts::Bike& bike_b, const Request& rides) {
    Weighed w;
    std::array<EachCase, 2> each;
    std::array<Request, 2> requests = {rides, rides};
    requests[0].bike = bike_a;
    requests[1].bike = bike_b;
    const std::vector<Input> a = all_inputs(library, requests[0]), b = all_inputs(library, requests[1]);
    each[0].inputs = common_inputs(a, b);
    each[1].inputs = common_inputs(b, a);
    for (std::size_t i = 0; i < 2; ++i) {
        Context half = ctx;
        if (ctx.progress) half.progress = [&, i](double share, std::string_view text) { ctx.progress(0.5 * (static_cast<double>(i) + share), text); };
        Result<Answer> answer = answer_with(half, library, requests[i], nullptr, &each[i]);
        if (!answer) return answer.error();
        (i == 0 ? w.a : w.b) = *std::move(answer);
    }
    const bool a_held = w.a.verdict.do_not_ride, b_held = w.b.verdict.do_not_ride;
    if (a_held && b_held) w.withheld = "Both set-ups are held back: nothing of them is weighed up.";
    else if (a_held || b_held) w.withheld = fmt::format("{} is held back: nothing is weighed up against it, and the other is not better for that alone.", a_held ? "A" : "B");
    w.changed = changes(bike_a, bike_b);
    Scales scales(w, a_held, b_held);
    weigh_stops(scales, w, each[0], each[1]);
    weigh_heat(scales, w, each[0], each[1]);
    weigh_life(scales, each[0], each[1]);
    weigh_yardsticks(scales, library, w, each[0], each[1]);
    return w;
}

std::vector<std::string> cautions_of(const Weighed& w, bool with_reasons) {
    const bool named = w.a.bike.name != w.b.bike.name;
    const auto has = [](const Answer& a, const std::string& c) { return std::find(a.cautions.begin(), a.cautions.end(), c) != a.cautions.end(); };
    // A word about look-by days wants such a day beside it: the reasons give them, where they are shown.
    const auto wanted = [&](const Answer& a, const std::string& c) {
        return c != a.few_rides || (with_reasons && std::any_of(a.verdict.reasons.begin(), a.verdict.reasons.end(), [](const auto& r) { return r.code.ends_with("_look_by") && r.text.find(", by ") != std::string::npos; }));
    };
    std::vector<std::string> out;
    for (const std::string& c : w.a.cautions)
        if (wanted(w.a, c)) out.push_back(has(w.b, c) && wanted(w.b, c) ? c : fmt::format("{}: {}", named ? w.a.bike.name : "The first", c));
    for (const std::string& c : w.b.cautions)
        if (wanted(w.b, c) && !(has(w.a, c) && wanted(w.a, c))) out.push_back(fmt::format("{}: {}", named ? w.b.bike.name : "The second", c));
    return out;
}

// ---- JSON ----

namespace {

json of(double v) { return std::isfinite(v) ? json(v) : json(); }
json of(const Interval& i) { return {{"p05", of(i.p05)}, {"p50", of(i.p50)}, {"p95", of(i.p95)}}; }
template <class T>
json of(const std::optional<T>& v) {
    return v ? of(*v) : json();
}
json of(const Changed::Value& v) {
    return std::visit([](const auto& x) -> json {
        if constexpr (std::is_same_v<std::decay_t<decltype(x)>, std::monostate>) return nullptr;
        else return x;
    }, v);
}

const char* word_of(About about) {
    switch (about) {
        case About::stop: return "stop";
        case About::heat: return "heat";
        case About::life: return "life";
        case About::lever: return "lever";
        case About::yardstick: return "yardstick";
    }
    return "stop";
}

json side(const Answer& a) {
    json reasons = json::array(), notes = json::array();
    for (const auto& r : a.verdict.reasons) reasons.push_back({{"code", r.code}, {"text", r.text}});
    for (const auto& r : a.verdict.notes) notes.push_back({{"code", r.code}, {"text", r.text}});
    return {{"name", a.bike.name},
            {"kind", parts::word_of(a.bike.kind)},
            {"total_mass_kg", of(a.bike.total_mass_kg.value)},
            {"verdict",
             {{"do_not_ride", a.verdict.do_not_ride},
              {"state", inspect::word_of(a.verdict.state)},
              {"text", a.verdict.text},
              {"reasons", reasons},
              {"notes", notes},
              {"checks_done", a.verdict.checks_done},
              {"checks_total", a.verdict.checks_total}}}};
}

}  // namespace

std::string json_of(const Weighed& w, const std::string& version) {
    json figures = json::array(), shares = json::array(), changed = json::array(), rides = json::array(), assumed = json::array(), cautions = json::array();
    const auto wheel = [](const std::optional<parts::End>& e) { return e ? json(parts::word_of(*e)) : json(); };
    const auto place = [](const std::optional<std::size_t>& k) { return k ? json(*k) : json(); };
    const auto wanted = [](Wanted x) { return x == Wanted::less ? "less" : "more"; };
    for (const WeighedFigure& f : w.figures)
        figures.push_back({{"key", f.key}, {"about", word_of(f.about)}, {"wheel", wheel(f.wheel)}, {"ride", place(f.ride)}, {"text", f.text}, {"unit", f.unit}, {"wanted", wanted(f.wanted)}, {"a", of(f.a)}, {"b", of(f.b)},
                           {"difference", of(f.difference)}, {"b_larger_share", of(f.b_larger_share)}, {"b_smaller_share", of(f.b_smaller_share)}});
    for (const WeighedShare& s : w.shares) {
        shares.push_back({{"key", s.key}, {"about", word_of(s.about)}, {"wheel", wheel(s.wheel)}, {"ride", place(s.ride)}, {"text", s.text}, {"wanted", wanted(s.wanted)}, {"a", of(s.a)}, {"b", of(s.b)}, {"only_a", of(s.only_a)}, {"only_b", of(s.only_b)}});
        if (s.grade) shares.back()["grade"] = name_of(*s.grade), shares.back()["source"] = s.source;
    }
    for (const Changed& c : w.changed) changed.push_back({{"key", c.key}, {"unit", c.unit}, {"a", of(c.a)}, {"b", of(c.b)}, {"a_sd", of(c.a_sd)}, {"b_sd", of(c.b_sd)}});
    for (const RideAnswer& r : w.a.rides) rides.push_back({{"file", r.file}, {"distance_m", of(r.distance_m)}, {"descent_m", of(r.descent_m)}, {"heat_withheld", r.heat_withheld.empty() ? json() : json(r.heat_withheld)}});
    std::set<std::string> told;
    for (const Answer* a : {&w.a, &w.b})
        for (const Assumption& s : a->assumed)
            if (told.insert(s.key).second) assumed.push_back({{"key", s.key}, {"value", s.value ? of(*s.value) : json(s.text)}, {"sd", of(s.sd)}, {"unit", s.unit}, {"grade", name_of(s.grade)}, {"source", s.source}});
    for (const std::string& c : cautions_of(w, true)) cautions.push_back(c);
    const json out = {{"schema", "weigh/1"}, {"version", version}, {"seed", w.a.seed}, {"cases", w.a.cases}, {"withheld", w.withheld.empty() ? json() : json(w.withheld)}, {"a", side(w.a)}, {"b", side(w.b)},
                      {"changed", changed}, {"figures", figures}, {"shares", shares}, {"rides", rides}, {"assumed", assumed}, {"cautions", cautions}};
    return out.dump(2, ' ', false, json::error_handler_t::replace) + "\n";
}

}  // namespace bw::answer
