// SPDX-License-Identifier: Apache-2.0
// Figures that explain the heat of a brake: set-ups side by side on the same likely cases.               Layer: answer
#include "answer/heat_figures.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <functional>
#include <nlohmann/json.hpp>

#include "base/sampling.hpp"
#include "internal.hpp"

namespace bw::answer {

namespace {

using json = nlohmann::ordered_json;
using Rows = std::vector<heat::PowerRow>;

constexpr double air_degC = 15;
constexpr std::size_t sample_s = 10;

json of(const Interval& i) { return {{"p05", i.p05}, {"p50", i.p50}, {"p95", i.p95}}; }

// One set-up of one figure: a bike, its front brake, and what is asked of it in one case.
struct Variant {
    std::string name;
    parts::Bike bike;
    std::function<Rows(const parts::Bike& case_bike, const CaseRow&)> rows;
};

// What one case of one variant gives.
struct Outcome {
    double rotor_degC = 0, hottest_ring_degC = 0, pad_face_degC = 0, fluid_degC = 0, caliper_degC = 0, fluid_at_s = 0;   // peaks
    double lever_force_factor = 1, outside_measured_share = 0;
    double pad_heat_share = 0;       // mean over closed rows, of the heat made
    double caliper_heat_J = 0;       // in pistons, fluid and caliper body when the last braking ended, both sides
    std::optional<double> fluid_point_degC;
    std::vector<heat::HeatState> states;   // a row each sample_s
    std::vector<double> factors;           // the same
    std::vector<double> power_W;           // the same, mean over the sample_s that follow
};
using Outcomes = std::vector<Outcome>;

std::vector<Input> bench_inputs(const parts::Library& library, const parts::Bike& bike) {
    std::vector<Input> list = parts::inputs_of(bike);
    for (std::vector<Input> more : {balance::inputs(library, bike), heat::inputs(library, bike)}) list.insert(list.end(), std::make_move_iterator(more.begin()), std::make_move_iterator(more.end()));
    return list;
}

Result<Outcomes> outcomes_of(const Context& ctx, const parts::Library& library, const Variant& v, std::size_t n) {
    const Cases drawn = draw_cases(bench_inputs(library, v.bike), n, ctx.seed);   // what variants have in common is drawn alike: by its key
    Outcomes out(n);
    std::vector<std::optional<Error>> failed(n);
    parallel_for(ctx, n, [&](std::size_t i) {
        const CaseRow row(drawn, i);
        const parts::Bike bike = parts::bike_of_case(v.bike, row);
        const heat::HeatUnknowns u = heat::unknowns_of(library, bike, parts::End::front, row);
        const heat::ReferenceBrake brake = heat::reference_of(library, bike, parts::End::front, u, air_degC);
        const Rows rows = v.rows(bike, row);
        heat::SolveOptions options;
        options.stop = ctx.stop;
        const Result<heat::WheelHeat> run = heat::heat_of_wheel(brake, u, rows, options, heat::band_of(bike, parts::End::front, u));
        if (!run) {
            failed[i] = run.error();
            return;
        }
        Outcome& o = out[i];
        o.rotor_degC = run->peaks.rotor_surface.degC;
        o.hottest_ring_degC = run->rotor_hottest_ring_degC;
        o.pad_face_degC = run->peaks.pad_face.degC;
        o.fluid_degC = run->peaks.fluid.degC;
        o.fluid_at_s = run->peaks.fluid.t_s;
        o.caliper_degC = run->peaks.caliper.degC;
        o.lever_force_factor = run->lever_force_factor;
        const double total_J = run->dose.total_J();
        o.outside_measured_share = total_J > 0 ? std::clamp(run->beyond_friction_range_J / total_J, 0.0, 1.0) : 0;
        if (bike.front.fluid) o.fluid_point_degC = heat::boiling_point_degC(bike.front.fluid->kind, bike.front.fluid->age_months.value, u, 0);
        double shares = 0, counted = 0;
        std::size_t last_closed = 0;
        for (std::size_t r = 0; r < rows.size(); ++r) {
            const heat::HeatState& s = run->states[r];
            if (!std::isnan(s.pad_heat_share)) {
                shares += s.pad_heat_share * rows[r].power_W;
                counted += rows[r].power_W;
            }
            if (rows[r].power_W > brake.closed_above_W) last_closed = r + 1;
            if (r % sample_s == 0) {
                o.states.push_back(s);
                o.factors.push_back(run->factors[r]);
                double mean = 0;
                for (std::size_t k = r; k < r + sample_s && k + 1 < rows.size(); ++k) mean += rows[k].power_W / double(sample_s);
                o.power_W.push_back(mean);
            }
        }
        o.pad_heat_share = counted > 0 ? shares / counted : 0;
        const heat::HeatState& end = run->states[std::min(last_closed, rows.size() - 1)];
        o.caliper_heat_J = 2 * (brake.piston_J_K * (end.piston_degC - brake.start_degC) + brake.fluid_J_K * (end.fluid_degC - brake.start_degC) +
                                brake.caliper.heat_capacity_J_K * (end.caliper_degC - brake.start_degC));
    });
    if (ctx.stopped()) return cancelled();
    for (const auto& f : failed)
        if (f) return *f;
    return out;
}

template <class F>
Interval over(const Outcomes& outcomes, F&& of_case) {
    std::vector<double> v;
    for (const Outcome& o : outcomes) v.push_back(of_case(o));
    return interval_of(v);
}

// Quantities of a variant as intervals: names are those of the files.
struct Quantity {
    const char* name;
    double Outcome::*of;
};
constexpr Quantity quantities[] = {{"rotor_peak_degC", &Outcome::rotor_degC},       {"rotor_hottest_ring_degC", &Outcome::hottest_ring_degC},
                                   {"pad_face_peak_degC", &Outcome::pad_face_degC}, {"fluid_peak_degC", &Outcome::fluid_degC},
                                   {"fluid_peak_at_s", &Outcome::fluid_at_s},       {"caliper_peak_degC", &Outcome::caliper_degC},
                                   {"pad_heat_share", &Outcome::pad_heat_share},    {"caliper_heat_J", &Outcome::caliper_heat_J},
                                   {"lever_force_factor", &Outcome::lever_force_factor}, {"outside_measured_share", &Outcome::outside_measured_share}};

json summary_of(const std::string& name, const Outcomes& o) {
    json j = {{"name", name}};
    for (const Quantity& q : quantities) j[q.name] = of(over(o, [&](const Outcome& c) { return c.*q.of; }));
    return j;
}

// "b has more of it than a", case by case.
json claim_of(const std::string& text, const Quantity& q, const std::string& less, const Outcomes& a, const std::string& more, const Outcomes& b) {
    std::vector<double> difference;
    double holds = 0;
    for (std::size_t i = 0; i < a.size(); ++i) {
        difference.push_back(b[i].*q.of - a[i].*q.of);
        holds += difference.back() > 0 ? 1 : 0;
    }
    return {{"text", text}, {"quantity", q.name}, {"more", more}, {"less", less}, {"difference", of(interval_of(difference))}, {"holds_share", holds / static_cast<double>(a.size())}};
}
constexpr const Quantity& quantity(std::string_view name) {
    for (const Quantity& q : quantities)
        if (name == q.name) return q;
    return quantities[0];
}

struct Source {
    std::string text;
    Grade grade;
};

// What every figure says beside its table.
struct Words {
    std::string name, title, caption;
    std::vector<std::string> assumptions;
    std::vector<Source> sources;
    json variants = json::array(), claims = json::array();
};

const std::vector<std::string> common_assumptions = {
    "Half a brake is computed: rotor, pad, plate, piston, fluid and caliper; both sides alike; the hottest ring is computed along the radius behind the run, and heats neither pad nor fluid more.",
    "Air of 15 °C at sea level; everything starts at it.",
    "Convection, emissivity, contact and what lies behind the pad are not measured on this brake: they are drawn with wide spreads (data/heat.toml), so the intervals are model error, 5 to 95 %.",
    "Friction over temperature was measured up to 277 °C; outside_measured_share is the share of the energy made beyond it.",
    "The bikes are made of defaults by kind (data/bikes.toml), not of any product."};
const std::vector<Source> common_sources = {{"docs/models/heat.md (equations), data/heat.toml (each number with its source)", Grade::assumed}};

HeatFigure finish(const Context& ctx, const std::string& version, std::size_t cases, const Words& w, std::string csv, const std::vector<std::array<std::string, 3>>& columns) {
    json j = {{"schema", "heat-figure/1"}, {"version", version}, {"figure", w.name}, {"title", w.title}, {"caption", w.caption}, {"seed", ctx.seed}, {"cases", cases}, {"table", w.name + ".csv"}};
    j["columns"] = json::array();
    for (const auto& [name, unit, text] : columns) j["columns"].push_back({{"name", name}, {"unit", unit}, {"text", text}});
    j["assumptions"] = w.assumptions;
    for (const std::string& a : common_assumptions) j["assumptions"].push_back(a);
    j["sources"] = json::array();
    for (const std::vector<Source>* list : {&w.sources, &common_sources})
        for (const Source& s : *list) j["sources"].push_back({{"text", s.text}, {"grade", name_of(s.grade)}});
    j["variants"] = w.variants;
    j["claims"] = w.claims;
    j["caution"] = "An estimate does not replace an inspection. The maker's instructions and local rules come first. If in doubt do not ride, and see a qualified mechanic.";
    return {w.name, std::move(csv), j.dump(2) + "\n"};
}

std::string cells(const Interval& i, int decimals) { return fmt::format(",{:.{}f},{:.{}f},{:.{}f}", i.p05, decimals, i.p50, decimals, i.p95, decimals); }
std::string header(std::string_view stem, std::string_view unit) { return fmt::format(",{0}_p05{1},{0}_p50{1},{0}_p95{1}", stem, unit); }

// Temperatures over time, a row a variant and sample, as 5, 50 and 95 % points over the cases.
void add_series(std::string& csv, const std::string& name, const Outcomes& o) {
    if (csv.empty()) csv = "variant,t_s,power_W" + header("rotor", "_degC") + header("pad_face", "_degC") + header("fluid", "_degC") + header("caliper", "_degC") + header("lever_force_factor", "") + "\n";
    for (std::size_t k = 0; k < o.front().states.size(); ++k) {
        csv += fmt::format("{},{:g},{:.1f}", name, o.front().states[k].t_s, over(o, [&](const Outcome& c) { return c.power_W[k]; }).p50);
        for (double heat::HeatState::*of_state : {&heat::HeatState::rotor_surface_degC, &heat::HeatState::pad_face_degC, &heat::HeatState::fluid_degC, &heat::HeatState::caliper_degC})
            csv += cells(over(o, [&](const Outcome& c) { return c.states[k].*of_state; }), 2);
        csv += cells(over(o, [&](const Outcome& c) { return c.factors[k]; }), 4) + "\n";
    }
}
const std::vector<std::array<std::string, 3>> series_columns = {
    {"variant", "", "the set-up, as in variants[].name"},
    {"t_s", "s", "from the start"},
    {"power_W", "W", "braking power of the wheel, mean over the 10 s that follow"},
    {"rotor_p05_degC, _p50_, _p95_", "°C", "surface of the rotor, mean over radius and turn"},
    {"pad_face_...", "°C", "face of the pad"},
    {"fluid_...", "°C", "fluid behind the piston"},
    {"caliper_...", "°C", "body of the caliper"},
    {"lever_force_factor_p05, _p50, _p95", "", "lever force for this braking over that of the same brake cold; 1 while open"}};

// A row a variant: peaks as intervals.
std::string peaks_csv(std::string_view first_columns, const std::vector<std::pair<std::string, const Outcomes*>>& rows) {
    std::string csv(first_columns);
    csv += header("rotor_peak", "_degC") + header("rotor_hottest_ring", "_degC") + header("pad_face_peak", "_degC") + header("fluid_peak", "_degC") + header("lever_force_factor", "") + "\n";
    for (const auto& [first, o] : rows) {
        csv += first;
        for (const char* name : {"rotor_peak_degC", "rotor_hottest_ring_degC", "pad_face_peak_degC", "fluid_peak_degC"}) csv += cells(over(*o, [&](const Outcome& c) { return c.*quantity(name).of; }), 2);
        csv += cells(over(*o, [&](const Outcome& c) { return c.lever_force_factor; }), 4) + "\n";
    }
    return csv;
}
std::vector<std::array<std::string, 3>> peaks_columns(std::vector<std::array<std::string, 3>> first) {
    for (const auto& [name, text] : {std::pair{"rotor_peak", "hottest surface of the rotor, mean over radius and turn"}, std::pair{"rotor_hottest_ring", "the same on the hottest ring"},
                                     std::pair{"pad_face_peak", "hottest pad face"}, std::pair{"fluid_peak", "hottest fluid, minutes after the halt included"}})
        first.push_back({fmt::format("{}_p05_degC, _p50_, _p95_", name), "°C", text});
    first.push_back({"lever_force_factor_p05, _p50, _p95", "", "largest lever force over that of the same brake cold"});
    return first;
}

// A drag at a steady power, then standing: the fluid peaks there.
Rows drag(double power_W, double speed_mps, int seconds, int standing_s) {
    Rows rows;
    for (int t = 0; t <= seconds + standing_s; ++t) rows.push_back({.t_s = double(t), .speed_mps = t < seconds ? speed_mps : 0, .power_W = t < seconds ? power_W : 0});
    return rows;
}

constexpr double drag_W = 400, drag_mps = 6;
constexpr int drag_s = 600, standing_s = 900;
const char* drag_words = "A hill held at 6 m/s with 400 W at the front wheel for ten minutes, then fifteen minutes standing.";

Variant dragged(std::string name, parts::Bike bike) {
    return {std::move(name), std::move(bike), [](const parts::Bike&, const CaseRow&) { return drag(drag_W, drag_mps, drag_s, standing_s); }};
}

void tell(Uncertain& u, double value, const char* source) { u = {.value = value, .sd = 0, .grade = Grade::assumed, .source = source}; }

class Drawer {
public:
    Drawer(const Context& ctx, const parts::Library& library, const std::string& version, std::size_t cases) : ctx_(ctx), library_(library), version_(version), n_(cases) {}

    Result<HeatFigure> compound() const {
        const parts::Bike base = trail();
        std::vector<Variant> variants;
        for (const auto c : {parts::Compound::organic, parts::Compound::semi_metallic, parts::Compound::sintered}) {
            parts::Bike bike = base;
            bike.front.pads.compound = c;
            variants.push_back(dragged(std::string(parts::word_of(c)), std::move(bike)));
        }
        Words w{.name = "compound", .title = "Organic against sintered pads: heat into the caliper",
                .caption = "The better a pad conducts, the more of the heat goes through it into pistons, fluid and caliper, and the less stays in the rotor. " + std::string(drag_words),
                .assumptions = {"Only the friction material differs: conductivity, density, heat capacity and friction over temperature by compound."},
                .sources = {{"Organic and sintered friction material: conductivity, density and heat capacity, railway and aircraft literature, from memory", Grade::published_from_memory}}};
        return side_by_side(std::move(w), variants,
                            {{"A sintered pad sends more heat into the caliper than an organic one", "caliper_heat_J", 0, 2},
                             {"A sintered pad makes the fluid hotter", "fluid_peak_degC", 0, 2},
                             {"An organic pad leaves the rotor hotter", "rotor_peak_degC", 2, 0}});
    }

    Result<HeatFigure> heat_barrier() const {
        const parts::Bike base = sintered();
        parts::Bike with = base;
        with.front.pads.heat_barrier = true;
        Words w{.name = "heat_barrier", .title = "A heat barrier between plate and piston",
                .caption = "A poorly conducting layer behind the plate keeps the fluid cooler; pad and rotor grow hardly hotter. " + std::string(drag_words),
                .assumptions = {"Sintered pads. The barrier acts between plate and piston only, about 1 mm with 0.3 W/(m K); its spread is wide."},
                .sources = {{"Resistance of a heat barrier: assumed, no source", Grade::assumed}}};
        return side_by_side(std::move(w), {dragged("without", base), dragged("with", with)},
                            {{"Without a barrier the fluid is hotter", "fluid_peak_degC", 1, 0}, {"With a barrier the pad face is hotter", "pad_face_peak_degC", 0, 1}});
    }

    Result<HeatFigure> rotor_size() const {
        const parts::Bike base = trail();
        std::vector<double> sizes = {140, 160, 180, 200, 220};
        std::vector<Outcomes> all;
        Words w{.name = "rotor_size", .title = "Rotor size", .caption = "A larger rotor has more metal and more surface: it runs cooler on the same drag. " + std::string(drag_words),
                .assumptions = {"Same pads, same thickness, same band width of 14 mm: the band's inside grows with the outside.", "The diameter is told, the rest of the rotor is drawn."}, .sources = {}};
        std::vector<std::pair<std::string, const Outcomes*>> rows;
        for (const double mm : sizes) {
            parts::Bike bike = base;
            tell(bike.front.rotor.diameter_mm, mm, "the figure's variant");
            tell(bike.front.rotor.band_inner_mm, mm - 28, "the figure's variant");
            Result<Outcomes> o = outcomes_of(ctx_, library_, dragged("", bike), n_);
            if (!o) return o.error();
            all.push_back(*std::move(o));
            w.variants.push_back(summary_of(fmt::format("{:g} mm", mm), all.back()));
        }
        for (std::size_t i = 0; i < sizes.size(); ++i) rows.emplace_back(fmt::format("{:g}", sizes[i]), &all[i]);
        for (std::size_t i = 1; i < sizes.size(); ++i)
            for (const auto& [what, q] : {std::pair{"A rotor", "rotor_peak_degC"}, std::pair{"The fluid with a rotor", "fluid_peak_degC"}})
                w.claims.push_back(claim_of(fmt::format("{} of {:g} mm is cooler than with {:g} mm", what, sizes[i], sizes[i - 1]), quantity(q), fmt::format("{:g} mm", sizes[i]), all[i],
                                            fmt::format("{:g} mm", sizes[i - 1]), all[i - 1]));
        return finish(ctx_, version_, n_, w, peaks_csv("diameter_mm", rows), peaks_columns({{"diameter_mm", "mm", "outside diameter of the rotor, as stamped"}}));
    }

    Result<HeatFigure> holes() const {
        const parts::Bike base = trail();
        const std::vector<double> shares = {1.0, 0.85, 0.7, 0.55};
        const auto name_of_share = [](double s) { return fmt::format("solid share {:g}", s); };
        // One stop from 40 km/h at 5 m/s² with the case's own mass and the habit's front share.
        const auto one_stop = [](const parts::Bike& bike, const CaseRow& row) { return stops_rows(bike, row, 40 / 3.6, 5, 1, 60); };
        std::vector<Outcomes> drags, stops;
        Words w{.name = "holes", .title = "Holes in the band",
                .caption = "Holes take away metal that stores heat, so one hard stop heats a pierced band more. They also take away face that cools and give back their edges: a round hole wider than twice the thickness takes more than it gives, "
                           "so with holes of 5 mm in 1.8 mm the pierced band is hotter on the drag too. What holes are for (water, dirt, weight, stirred air) is not in this figure. stop: 40 km/h to nought at 5 m/s². drag: " + std::string(drag_words),
                .assumptions = {"Holes of about 5 mm; they add their edges and take away face and metal. That they stir the air is in the drawn convection at most."}, .sources = {{"Hole diameter 4 to 6 mm: common practice, no source", Grade::common_practice}, {"Face against edge of a round hole: pi d^2/4 each face against pi d t/2 each half; geometry", Grade::published}}};
        for (const double s : shares) {
            parts::Bike bike = base;
            tell(bike.front.rotor.solid_share, s, "the figure's variant");
            Result<Outcomes> d = outcomes_of(ctx_, library_, dragged("", bike), n_), one = outcomes_of(ctx_, library_, {"", bike, one_stop}, n_);
            if (!d) return d.error();
            if (!one) return one.error();
            drags.push_back(*std::move(d));
            stops.push_back(*std::move(one));
            w.variants.push_back(summary_of("drag, " + name_of_share(s), drags.back()));
            w.variants.push_back(summary_of("stop, " + name_of_share(s), stops.back()));
        }
        std::vector<std::pair<std::string, const Outcomes*>> rows;
        for (std::size_t i = 0; i < shares.size(); ++i) {
            rows.emplace_back(fmt::format("{:g},drag", shares[i]), &drags[i]);
            rows.emplace_back(fmt::format("{:g},stop", shares[i]), &stops[i]);
        }
        w.claims.push_back(claim_of("One hard stop heats a band with holes (0.7 of the metal) more than a full one", quantity("rotor_peak_degC"), name_of_share(1), stops[0], name_of_share(0.7), stops[2]));
        w.claims.push_back(claim_of("On the drag a band with holes of 5 mm (0.7 of the metal) is hotter than a full one", quantity("rotor_peak_degC"), name_of_share(1), drags[0], name_of_share(0.7), drags[2]));
        return finish(ctx_, version_, n_, w, peaks_csv("solid_share,braking", rows),
                      peaks_columns({{"solid_share", "", "metal over area of the band; 1: no holes"}, {"braking", "", "drag: the ten minutes; stop: one stop from 40 km/h at 5 m/s²"}}));
    }

    Result<HeatFigure> old_fluid() const {
        Words w{.name = "old_fluid", .title = "Old fluid",
                .caption = "Glycol fluid takes up water and its boiling point falls with age; the fluid's temperature on the drag does not. Where the bands meet, the lever may go soft. " + std::string(drag_words),
                .assumptions = {"Sintered pads, 160 mm rotor: a small brake on purpose.", "Water uptake by age is wide: cars' figures, a bicycle's hose may take up less or more.", "Boiling is judged at released pressure at sea level.",
                                "Mineral oil: nobody published a boiling point, so none is shown and no share is given: not known."},
                .sources = {{"Least dry and wet boiling points: 49 CFR 571.116 (FMVSS 116) S5.1.1 and S5.1.2", Grade::published},
                            {"About 2 % of water in 12 and 3 % in 18 months in cars: a workshop article, low grade", Grade::assumed}}};
        std::string csv = "kind,age_months" + header("boiling_point", "_degC") + header("fluid_peak", "_degC") + ",boils_share\n";
        std::vector<Outcomes> dot4;
        for (const auto kind : {parts::FluidKind::dot3, parts::FluidKind::dot4, parts::FluidKind::dot5_1, parts::FluidKind::mineral}) {
            for (const double months : {0.0, 6.0, 12.0, 24.0, 36.0, 48.0}) {
                parts::Bike bike = small_glycol(kind);
                tell(bike.front.fluid->age_months, months, "the figure's variant");
                Result<Outcomes> o = outcomes_of(ctx_, library_, dragged("", bike), n_);
                if (!o) return o.error();
                double boils = 0;
                bool known = true;
                for (const Outcome& c : *o) {
                    known = known && c.fluid_point_degC.has_value();
                    boils += known && c.fluid_degC > *c.fluid_point_degC ? 1.0 / static_cast<double>(n_) : 0;
                }
                csv += fmt::format("{},{:g}", parts::word_of(kind), months) + (known ? cells(over(*o, [](const Outcome& c) { return *c.fluid_point_degC; }), 2) : ",,,") +
                       cells(over(*o, [](const Outcome& c) { return c.fluid_degC; }), 2) + (known ? fmt::format(",{:.4f}\n", boils) : ",\n");
                const std::string name = fmt::format("{} {:g} months", parts::word_of(kind), months);
                json j = {{"name", name}, {"fluid_peak_degC", of(over(*o, [](const Outcome& c) { return c.fluid_degC; }))}};
                j["boiling_point_degC"] = known ? of(over(*o, [](const Outcome& c) { return *c.fluid_point_degC; })) : json(nullptr);
                j["boils_share"] = known ? json(boils) : json(nullptr);
                w.variants.push_back(std::move(j));
                if (kind == parts::FluidKind::dot4) dot4.push_back(*std::move(o));
            }
        }
        std::vector<double> fall;
        double holds = 0;
        for (std::size_t i = 0; i < n_; ++i) {
            fall.push_back(*dot4[0][i].fluid_point_degC - *dot4[3][i].fluid_point_degC);
            holds += fall.back() > 0 ? 1 : 0;
        }
        w.claims.push_back({{"text", "dot4 fluid of two years boils sooner than new fluid"}, {"quantity", "boiling_point_degC"}, {"more", "dot4 0 months"}, {"less", "dot4 24 months"}, {"difference", of(interval_of(fall))},
                            {"holds_share", holds / static_cast<double>(n_)}});
        return finish(ctx_, version_, n_, w, std::move(csv),
                      {{"kind", "", "grade of the fluid"}, {"age_months", "month", "since it was changed"}, {"boiling_point_p05_degC, _p50_, _p95_", "°C", "at released pressure; empty: not known"},
                       {"fluid_peak_...", "°C", "hottest fluid on the drag"}, {"boils_share", "", "share of the likely cases in which the fluid passes its point; empty: not known"}});
    }

    Result<HeatFigure> heat_resistance() const {
        Words w{.name = "heat_resistance", .title = "The heat-resistance drag of the cycle standard as a yardstick",
                .caption = "300 W for 15 minutes at 12.5 km/h into one brake, then fifteen minutes standing: by kind of bike, as built of defaults. A yardstick, not an approval: the standard's own pass is a force measured on a machine. "
                           "Most of the energy is made at pad temperatures beyond the range in which friction was measured, so the shares that keep 60 or 70 % of their force say how little is known, not how brakes do.",
                .assumptions = {"Cooling air of the rolling speed while braking, still air afterwards. One run; the standard runs it twice."},
                .sources = {{"ISO 4210-4 heat resistance: 75 Wh in 15 min at 12.5 km/h, from memory", Grade::published_from_memory},
                            {"TBIS 4210-2:2018 4.6.9 (an industry adoption, some limits tightened): at least 70 % of the cold braking force afterwards, 60 to 115 N throughout; read. ISO 4210-2 itself 60 %, from memory", Grade::published}}};
        std::string csv;
        for (const auto kind : {parts::BikeKind::trail, parts::BikeKind::gravel, parts::BikeKind::road, parts::BikeKind::city, parts::BikeKind::cargo}) {
            const parts::Bike bike = parts::default_bike(kind, library_);
            const Variant v{std::string(parts::word_of(kind)), bike, [](const parts::Bike&, const CaseRow&) { return drag(300, 12.5 / 3.6, 900, 900); }};
            Result<Outcomes> o = outcomes_of(ctx_, library_, v, n_);
            if (!o) return o.error();
            add_series(csv, v.name, *o);
            json j = summary_of(v.name, *o);
            // Braking force at one lever force, hot over cold, at its least.
            j["hot_over_cold_force"] = of(over(*o, [](const Outcome& c) { return 1 / c.lever_force_factor; }));
            const auto kept = [&](double least) { return static_cast<double>(std::count_if(o->begin(), o->end(), [&](const Outcome& c) { return 1 / c.lever_force_factor >= least; })) / static_cast<double>(n_); };
            j["kept_60_percent_share"] = kept(0.60);
            j["kept_70_percent_share"] = kept(0.70);
            w.variants.push_back(std::move(j));
        }
        return finish(ctx_, version_, n_, w, std::move(csv), series_columns);
    }

    Result<HeatFigure> repeated_stops() const {
        constexpr int stops = 10;
        constexpr double from_mps = 40 / 3.6, deceleration_mps2 = 3, apart_m = 1000;
        const int apart_s = static_cast<int>(std::lround(apart_m / from_mps));
        Words w{.name = "repeated_stops", .title = "Ten stops in a row, in the manner of the moped rules' heat fade",
                .caption = "Ten stops from 40 km/h at 3 m/s², one after each 1 km ridden at 40 km/h, both brakes: the front brake just before and at its hottest in each stop. A yardstick in the manner of the rules for powered two-wheelers, not one of them: those begin at higher "
                           "speeds and ask for a hot stop of at least 60 % of the cold deceleration at the same lever force.",
                .assumptions = {"The mass is that of the kind of bike with rider; the front wheel takes the habit's share as far as grip lets it; no drag is taken off, so the brakes get all the energy of motion.",
                                "Chosen for a bicycle: 40 km/h, the test speed of small mopeds, in place of 60 to 100 km/h."},
                .sources = {{"UN GTR No. 3 / FMVSS 122 heat fade: ten stops, 1000 m apart, at least 60 % afterwards; 40 km/h for category 3-1; from memory", Grade::published_from_memory},
                            {"ISO 8709:1995 covers a heat-fade test of mopeds: catalogue text read, figures not", Grade::published}}};
        std::string csv = "variant,stop,t_s" + header("rotor_before", "_degC") + header("rotor_peak", "_degC") + header("pad_face_peak", "_degC") + header("fluid", "_degC") + header("hot_over_cold_force", "") + "\n";
        for (const auto& [name, base] : {std::pair{std::string("road"), parts::default_bike(parts::BikeKind::road, library_)}, std::pair{std::string("trail"), trail()},
                                         std::pair{std::string("cargo"), parts::default_bike(parts::BikeKind::cargo, library_)}}) {
            const Variant v{name, base, [&](const parts::Bike& bike, const CaseRow& row) { return stops_rows(bike, row, from_mps, deceleration_mps2, stops, apart_s); }};
            // The rows of the stops themselves: one second apart is too coarse for a peak within a stop, so peaks come from the run stop by stop.
            const Cases drawn = draw_cases(bench_inputs(library_, base), n_, ctx_.seed);
            struct Stop {
                double before = 0, peak = -1e9, pad = -1e9, fluid = 0, kept = 1, t = 0;
            };
            std::vector<std::array<Stop, stops>> all(n_);
            std::vector<std::optional<Error>> failed(n_);
            parallel_for(ctx_, n_, [&](std::size_t i) {
                const CaseRow row(drawn, i);
                const parts::Bike bike = parts::bike_of_case(v.bike, row);
                const heat::HeatUnknowns u = heat::unknowns_of(library_, bike, parts::End::front, row);
                const Rows rows = v.rows(bike, row);
                heat::SolveOptions options;
                options.stop = ctx_.stop;
                const Result<heat::WheelHeat> run = heat::heat_of_wheel(heat::reference_of(library_, bike, parts::End::front, u, air_degC), u, rows, options);
                if (!run) {
                    failed[i] = run.error();
                    return;
                }
                int k = -1;
                bool braking = false;
                for (std::size_t r = 0; r < rows.size(); ++r) {
                    const bool now = rows[r].power_W > 1;
                    if (now && !braking && ++k < stops) all[i][k].before = run->states[r].rotor_surface_degC, all[i][k].t = rows[r].t_s;
                    braking = now;
                    if (k < 0 || k >= stops) continue;
                    Stop& s = all[i][k];
                    s.peak = std::max(s.peak, run->states[r].rotor_surface_degC);
                    if (run->states[r].pad_face_degC > s.pad) {
                        s.pad = run->states[r].pad_face_degC;
                        s.kept = heat::friction_factor(u.friction, s.pad);
                    }
                    s.fluid = run->states[r].fluid_degC;
                }
            });
            if (ctx_.stopped()) return cancelled();
            for (const auto& f : failed)
                if (f) return *f;
            json last;
            for (int k = 0; k < stops; ++k) {
                const auto quantiles = [&](double Stop::*of_stop) {
                    std::vector<double> x;
                    for (const auto& c : all) x.push_back(c[k].*of_stop);
                    return interval_of(x);
                };
                csv += fmt::format("{},{},{:g}", name, k + 1, all[0][k].t);
                for (double Stop::*of_stop : {&Stop::before, &Stop::peak, &Stop::pad, &Stop::fluid}) csv += cells(quantiles(of_stop), 2);
                csv += cells(quantiles(&Stop::kept), 4) + "\n";
                if (k == 0) last["rotor_peak_first_degC"] = of(quantiles(&Stop::peak));
                if (k + 1 == stops) {
                    last["rotor_peak_last_degC"] = of(quantiles(&Stop::peak));
                    last["pad_face_peak_last_degC"] = of(quantiles(&Stop::pad));
                    last["hot_over_cold_force"] = of(quantiles(&Stop::kept));
                }
            }
            double kept = 0;
            std::vector<double> rise;
            double holds = 0;
            for (const auto& c : all) {
                kept += c[stops - 1].kept >= 0.6 ? 1.0 / static_cast<double>(n_) : 0;
                rise.push_back(c[stops - 1].peak - c[0].peak);
                holds += rise.back() > 0 ? 1.0 / static_cast<double>(n_) : 0;
            }
            last["kept_60_percent_share"] = kept;
            json j = {{"name", name}};
            j.update(last);
            w.variants.push_back(std::move(j));
            w.claims.push_back({{"text", name + ": the tenth stop is hotter than the first"}, {"quantity", "rotor_peak_degC"}, {"more", "stop 10"}, {"less", "stop 1"}, {"difference", of(interval_of(rise))}, {"holds_share", holds}});
        }
        return finish(ctx_, version_, n_, w, std::move(csv),
                      {{"variant", "", "kind of bike"}, {"stop", "", "1 to 10"}, {"t_s", "s", "when the stop begins"}, {"rotor_before_p05_degC, _p50_, _p95_", "°C", "surface of the front rotor when the stop begins"},
                       {"rotor_peak_...", "°C", "its hottest row until the next stop"}, {"pad_face_peak_...", "°C", "the same of the pad face"}, {"fluid_...", "°C", "fluid when the next stop begins"},
                       {"hot_over_cold_force_p05, _p50, _p95", "", "braking force at one lever force, at the hottest pad face over cold"}});
    }

    // Dragging against short hard braking, and e-bike against plain: planned rides down one hill, through the whole walk.
    Result<HeatFigure> style() const {
        Words w{.name = "style", .title = "Dragging against short, hard braking on the same hill",
                .caption = "The same bike and rider down the same straight hill of 9 % over 5 km: held at one speed, or let run and braked hard in turns. The energy is nearly the same; power and time on the brakes differ.",
                .assumptions = {"Both styles have the same mean speed where the slope is steep enough (docs/models/planned.md). Whoever lets it run faster leaves more to the air: that is another figure.",
                                "The series is one likely case, the middle one of the first ride by time and braking, in both rides; intervals are over the cases."},
                .sources = {{"Habits of riders down hill: assumed, no study found", Grade::assumed}}};
        return planned(std::move(w), {{"dragging", trail(), ride::Style::dragging}, {"short_hard", trail(), ride::Style::short_hard}},
                       {{"Short and hard has the larger power", "largest_power_W", 0, 1},
                        {"Dragging has the brakes on for longer", "braking_s", 1, 0},
                        {"Dragging brakes more energy away", "brake_energy_J", 1, 0},
                        {"Dragging makes the fluid hotter", "fluid_peak_degC", 1, 0},
                        {"Short and hard makes the pad face hotter", "pad_face_peak_degC", 0, 1}});
    }
    Result<HeatFigure> e_bike() const {
        parts::Bike plain = trail(), electric = trail();
        tell(plain.mass_kg, 15, "the figure's variant");
        tell(electric.mass_kg, 25, "the figure's variant");
        electric.e_assist = true;
        for (parts::Bike* b : {&plain, &electric}) {
            b->total_mass_kg.value = b->rider.mass_kg.value + b->mass_kg.value + b->load_kg.value;
            b->given.insert("bike.mass_kg");
        }
        Words w{.name = "e_bike", .title = "E-bike against plain bike",
                .caption = "The same rider, the same brakes, the same hill of 9 % over 5 km, dragged: ten kilograms of motor and battery are ten kilograms more to hold.",
                .assumptions = {"The series is one likely case, the middle one of the first ride by time and braking, in both rides; intervals are over the cases.", "15 kg against 25 kg of bike; a motor at the cranks, which does not brake. What else differs in practice (more hills ridden, more speed uphill) is not in it."},
                .sources = {{"Masses of plain and e-bikes: assumed", Grade::assumed}}};
        return planned(std::move(w), {{"plain", plain, ride::Style::dragging}, {"e_bike", electric, ride::Style::dragging}},
                       {{"The e-bike brakes more energy away", "brake_energy_J", 0, 1},
                        {"The e-bike's front rotor is hotter", "rotor_peak_degC", 0, 1},
                        {"The e-bike's front pad face is hotter", "pad_face_peak_degC", 0, 1},
                        {"The e-bike's front fluid is hotter", "fluid_peak_degC", 0, 1}});
    }

private:
    parts::Bike trail() const { return parts::default_bike(parts::BikeKind::trail, library_); }
    parts::Bike sintered() const {
        parts::Bike b = trail();
        b.front.pads.compound = parts::Compound::sintered;
        return b;
    }
    parts::Bike small_glycol(parts::FluidKind kind) const {
        parts::Bike b = sintered();
        tell(b.front.rotor.diameter_mm, 160, "the figure's variant");
        tell(b.front.rotor.band_inner_mm, 132, "the figure's variant");
        const Uncertain age = b.front.fluid ? b.front.fluid->age_months : Uncertain{.value = 12, .sd = 0, .grade = Grade::assumed, .source = "the figure's variant"};
        b.front.fluid = parts::Fluid{.kind = kind, .age_months = age};
        return b;
    }

    // Stops at a constant deceleration in rows of 0.1 s, then rolling at the speed before; the front wheel's share by habit and grip.
    static Rows stops_rows(const parts::Bike& bike, const CaseRow& row, double from_mps, double deceleration_mps2, int stops, int apart_s) {
        const balance::Geometry g = balance::geometry_of(bike);
        const double habit = std::clamp(row("bike.front_share"), 0.02, 0.98);
        const double share = balance::front_share_at(g, habit, 0.8, deceleration_mps2, 0);   // 0.8: dry road
        Rows rows;
        double t = 0;
        const int n = std::max(1, static_cast<int>(std::lround(10 * from_mps / deceleration_mps2)));
        for (int k = 0; k < stops; ++k) {
            for (int i = 0; i < n; ++i) {
                const double v = from_mps * (1 - (i + 0.5) / n);
                rows.push_back({.t_s = t + 0.1 * i, .speed_mps = v, .power_W = share * balance::whole_kg(g) * deceleration_mps2 * v});
            }
            t += 0.1 * n;
            for (int i = 0; i < apart_s; ++i) rows.push_back({.t_s = t + i, .speed_mps = from_mps, .power_W = 0});
            t += apart_s;
        }
        rows.push_back({.t_s = t, .speed_mps = 0, .power_W = 0});
        return rows;
    }

    struct Claim {
        const char* text;
        const char* quantity;
        std::size_t less, more;
    };
    Result<HeatFigure> side_by_side(Words w, const std::vector<Variant>& variants, const std::vector<Claim>& claims) const {
        std::vector<Outcomes> all;
        std::string csv;
        for (const Variant& v : variants) {
            Result<Outcomes> o = outcomes_of(ctx_, library_, v, n_);
            if (!o) return o.error();
            add_series(csv, v.name, *o);
            w.variants.push_back(summary_of(v.name, *o));
            all.push_back(*std::move(o));
        }
        for (const Claim& c : claims) w.claims.push_back(claim_of(c.text, quantity(c.quantity), variants[c.less].name, all[c.less], variants[c.more].name, all[c.more]));
        return finish(ctx_, version_, n_, w, std::move(csv), series_columns);
    }

    struct Ridden {
        std::string name;
        parts::Bike bike;
        ride::Style style;
    };
    static ride::Route hill() {
        ride::Route r;
        r.file = "straight hill, 9 % over 5 km";
        r.content_hash = hash_of(r.file);
        for (double x = 0; x <= 5200; x += 20) {
            r.distance_m.push_back(x);
            r.altitude_m.push_back(500 - 0.09 * std::min(x, 5000.0));
        }
        return r;
    }
    // What one case of one planned ride gives. Names are those of the files.
    struct Down {
        double energy_J = 0, front_energy_J = 0, braking_s = 0, power_W = 0, duration_s = 0, rotor = 0, ring = 0, pad = 0, fluid = 0, factor = 1, outside = 0;
    };
    struct DownQuantity {
        const char* name;
        double Down::*of;
    };
    static constexpr DownQuantity down_quantities[] = {{"brake_energy_J", &Down::energy_J}, {"front_brake_energy_J", &Down::front_energy_J}, {"braking_s", &Down::braking_s}, {"largest_power_W", &Down::power_W},
                                                       {"duration_s", &Down::duration_s}, {"rotor_peak_degC", &Down::rotor}, {"rotor_hottest_ring_degC", &Down::ring}, {"pad_face_peak_degC", &Down::pad},
                                                       {"fluid_peak_degC", &Down::fluid}, {"lever_force_factor", &Down::factor}, {"outside_measured_share", &Down::outside}};

    Result<HeatFigure> planned(Words w, const std::vector<Ridden>& rides, const std::vector<Claim>& claims) const {
        std::string csv = "variant,t_s,distance_m,altitude_m,speed_mps,brake_power_W,front_brake_power_W,front_rotor_degC,front_pad_face_degC,front_fluid_degC\n";
        std::vector<std::vector<Down>> all;
        std::optional<std::size_t> shown;   // the case in the middle of the first ride stands for all of them
        const auto request_of = [&](const Ridden& r) {
            Request request;
            request.bike = r.bike;
            request.cases = anchor_cases;
            request.planned.push_back({.route = hill(), .tags = {.surface = stop::Surface::dry, .weather = Weather::dry, .wind_mps = 0.0, .air_degC = air_degC, .load_kg = {}}, .style = r.style});
            return request;
        };
        for (const Ridden& r : rides) {
            const Request request = request_of(r);
            const RideTags& tags = request.planned.front().tags;
            const Cases drawn = draw_cases(all_inputs(library_, request), anchor_cases, ctx_.seed);
            const std::vector<Case> cases = cases_of(library_, r.bike, drawn);
            std::vector<RideUnknowns> unknowns;
            Result<ride::MotionPaths> motion = planned_motion(ctx_, library_, request, request.planned.front(), drawn, cases, unknowns);
            if (!motion) return motion.error();
            if (!shown) shown = ride::plan_middle(*motion);
            std::vector<Down> down(anchor_cases);
            std::vector<std::optional<Error>> failed(anchor_cases);
            std::vector<heat::TracePoint> trace;
            parallel_for(ctx_, anchor_cases, [&](std::size_t i) {
                const ride::MotionPath& path = motion->paths[i];
                const WheelRows wheels = wheel_rows(cases[i], tags, *motion, path);
                Result<WheelOutcome> one = heat_of(ctx_, library_, cases[i], parts::End::front, {.rows = wheels.rows[0], .air_degC = air_degC, .altitude_m = 0}, heat::Keep::rows);
                if (!one) {
                    failed[i] = one.error();
                    return;
                }
                Down& d = down[i];
                const heat::WheelHeat& h = one->heat;
                d.energy_J = path.brakes_J;
                d.front_energy_J = h.dose.total_J();
                for (const double p : path.brake_power_W) {
                    d.braking_s += p > 20 ? 1 : 0;
                    d.power_W = std::max(d.power_W, p);
                }
                d.duration_s = path.own.duration_s;
                d.rotor = h.peaks.rotor_surface.degC;
                d.ring = h.rotor_hottest_ring_degC;
                d.pad = h.peaks.pad_face.degC;
                d.fluid = h.peaks.fluid.degC;
                d.factor = h.lever_force_factor;
                d.outside = d.front_energy_J > 0 ? std::clamp(h.beyond_friction_range_J / d.front_energy_J, 0.0, 1.0) : 0;
                if (i == *shown) trace = h.trace;
            });
            if (ctx_.stopped()) return cancelled();
            for (const auto& f : failed)
                if (f) return *f;
            const ride::MotionPath& path = motion->paths[*shown];
            const WheelRows wheels = wheel_rows(cases[*shown], tags, *motion, path);
            const std::size_t rows = std::min(path.brake_power_W.size(), static_cast<std::size_t>(std::ceil(path.own.duration_s)) + 1);
            for (std::size_t t = 0; t < rows; ++t)
                csv += fmt::format("{},{},{:.1f},{:.2f},{:.3f},{:.1f},{:.1f},{:.2f},{:.2f},{:.2f}\n", r.name, t, path.own.distance_m[t], path.own.altitude_m[t], path.own.speed_mps[t], path.brake_power_W[t],
                                   wheels.rows[0][t].power_W, trace[t].rotor_degC, trace[t].pad_face_degC, trace[t].fluid_degC);
            json j = {{"name", r.name}};
            for (const DownQuantity& q : down_quantities) {
                std::vector<double> v;
                for (const Down& d : down) v.push_back(d.*q.of);
                j[q.name] = of(interval_of(v));
            }
            w.variants.push_back(std::move(j));
            all.push_back(std::move(down));
        }
        for (const Claim& c : claims)
            for (const DownQuantity& q : down_quantities) {
                if (std::string_view(q.name) != c.quantity) continue;
                std::vector<double> difference;
                double holds = 0;
                for (std::size_t i = 0; i < anchor_cases; ++i) {
                    difference.push_back(all[c.more][i].*q.of - all[c.less][i].*q.of);
                    holds += difference.back() > 0 ? 1.0 / static_cast<double>(anchor_cases) : 0;
                }
                w.claims.push_back({{"text", c.text}, {"quantity", q.name}, {"more", rides[c.more].name}, {"less", rides[c.less].name}, {"difference", of(interval_of(difference))}, {"holds_share", holds}});
            }
        return finish(ctx_, version_, anchor_cases, w, std::move(csv),
                      {{"variant", "", "the set-up, as in variants[].name"}, {"t_s", "s", "from the start"}, {"distance_m", "m", "way"}, {"altitude_m", "m", ""}, {"speed_mps", "m/s", ""}, {"brake_power_W", "W", "both wheels, mean over the second that follows"},
                       {"front_brake_power_W", "W", "front wheel, the same"}, {"front_rotor_degC", "°C", "surface of the rotor, mean over radius and turn"}, {"front_pad_face_degC", "°C", ""}, {"front_fluid_degC", "°C", ""}});
    }

    const Context& ctx_;
    const parts::Library& library_;
    const std::string& version_;
    std::size_t n_;
};

}  // namespace

Result<std::vector<HeatFigure>> heat_figures(const Context& ctx, const parts::Library& library, const std::string& version, std::size_t cases) {
    const Drawer draw(ctx, library, version, cases);
    std::vector<HeatFigure> figures;
    using Of = Result<HeatFigure> (Drawer::*)() const;
    const std::pair<const char*, Of> all[] = {{"compound", &Drawer::compound},     {"heat barrier", &Drawer::heat_barrier}, {"style", &Drawer::style},
                                              {"rotor size", &Drawer::rotor_size}, {"holes", &Drawer::holes},               {"old fluid", &Drawer::old_fluid},
                                              {"e-bike", &Drawer::e_bike},         {"heat resistance", &Drawer::heat_resistance}, {"repeated stops", &Drawer::repeated_stops}};
    for (const auto& [what, figure] : all) {
        if (ctx.progress) ctx.progress(static_cast<double>(figures.size()) / std::size(all), what);
        Result<HeatFigure> f = (draw.*figure)();
        if (!f) return f.error();
        figures.push_back(*std::move(f));
    }
    return figures;
}

}  // namespace bw::answer
