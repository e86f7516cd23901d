// SPDX-License-Identifier: Apache-2.0
// `heat`: one brake, one table of power, temperatures out; `heat figures`: data behind the figures.      Layer: app
#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <limits>
#include <filesystem>
#include <nlohmann/json.hpp>

#include "answer/heat_figures.hpp"
#include "base/text.hpp"
#include "heat/engine.hpp"
#include "heat/measured.hpp"
#include "heat/wheel_engine.hpp"
#include "heat/wheel.hpp"
#include "verbs.hpp"

namespace bw::app {

namespace {

using json = nlohmann::ordered_json;

struct Brake {
    heat::ReferenceBrake brake;
    std::optional<heat::HeatUnknowns> unknowns;   // of a bike's wheel: friction over temperature
};

// Largest lever force factor that pad faces can have asked for on their way up to their peaks: friction falls on one slope up to
// the end of the measured range and on another beyond it, so the largest stands at the peak or at that end.
double largest_factor(const heat::FrictionUnknowns& u, const heat::HeatPeaks& p) {
    const double pad = p.pad_face.degC, other = p.other_pad_face.degC > -300 ? p.other_pad_face.degC : pad, end = heat::friction_valid_to_degC;
    return std::max({1.0, heat::lever_factor(u, pad, other), heat::lever_factor(u, std::min(pad, end), std::min(other, end))});
}

// The cases of a file: the brake of case i, the values themselves where only one case is asked for.
struct Source {
    std::optional<heat::ReferenceFile> reference;
    std::optional<parts::Bike> bike;
    parts::End end = parts::End::front;
    std::optional<Cases> cases;
};

Brake brake_of(const parts::Library& library, const Source& s, std::size_t i) {
    if (s.reference) return {s.cases ? heat::with_case(*s.reference, CaseRow(*s.cases, i)) : s.reference->brake, std::nullopt};
    const double air_degC = library.value("riding.air_degC");
    if (!s.cases) {
        const heat::HeatUnknowns u = heat::median_unknowns(library, *s.bike, s.end);
        return {heat::reference_of(library, *s.bike, s.end, u, air_degC), u};
    }
    const CaseRow row(*s.cases, i);
    const heat::HeatUnknowns u = heat::unknowns_of(library, *s.bike, s.end, row);
    return {heat::reference_of(library, parts::bike_of_case(*s.bike, row), s.end, u, air_degC), u};
}

// Friction of the soaked pair over that of the dry one.
std::string wet_factor_key(parts::End end) { return std::string(parts::word_of(end)) + ".stop.wet_factor"; }
std::string wet_factor_row(const Source& s) { return "compound." + std::string(parts::word_of(s.bike->wheel(s.end).pads.compound)) + ".friction_wet_factor"; }

// Case i with water all along.
Result<heat::WheelHeat> wet_run(const Context& ctx, const parts::Library& library, const Source& s, std::size_t i, std::span<const heat::PowerRow> rows) {
    const Brake b = brake_of(library, s, i);
    const parts::Bike bike = s.cases ? parts::bike_of_case(*s.bike, CaseRow(*s.cases, i)) : *s.bike;
    const std::vector<std::uint8_t> all_along(rows.size(), 1);
    const double factor = s.cases ? CaseRow(*s.cases, i)(wet_factor_key(s.end)) : library.value(wet_factor_row(s));
    return heat::heat_of_wheel_by_engine(b.brake, *b.unknowns, rows, 0, heat::band_of(bike, s.end, *b.unknowns), ctx.stop,
                                         heat::WetRide{.wet = all_along, .wet_factor = std::min(factor, 1.0), .wheel_radius_m = bike.wheel_radius_m.value});
}

json interval(const std::vector<double>& values, const std::vector<double>& weights) {
    const Interval i = weights.empty() ? interval_of(values) : interval_of(values, weights);
    return {{"p05", i.p05}, {"p50", i.p50}, {"p95", i.p95}};
}

struct Named {
    const char* name;
    heat::HeatPeaks::Peak heat::HeatPeaks::*peak;
};
constexpr Named places[] = {{"rotor_surface", &heat::HeatPeaks::rotor_surface}, {"rotor_mid", &heat::HeatPeaks::rotor_mid}, {"rotor_mean", &heat::HeatPeaks::rotor_mean},
                            {"pad_face", &heat::HeatPeaks::pad_face}, {"pad_mean", &heat::HeatPeaks::pad_mean}, {"plate", &heat::HeatPeaks::plate},
                            {"piston", &heat::HeatPeaks::piston}, {"fluid", &heat::HeatPeaks::fluid}, {"caliper", &heat::HeatPeaks::caliper},
                            {"arms", &heat::HeatPeaks::arms}, {"hub", &heat::HeatPeaks::hub}};

}  // namespace

int run_heat(const HeatOptions& o) {
    const Context ctx = context_of(o.common);
    Result<parts::Library> library = parts::load_library();
    if (!library) return fail({Errc::internal, library.error().text});
    if (o.cases == 0 || o.cases > 65536 || (o.cases & (o.cases - 1)) != 0) return fail({Errc::wrong_usage, fmt::format("--cases {}: expected 1, or a power of two up to 65536", o.cases)});

    Result<std::string> text = read_file(o.brake);
    if (!text) return fail(text.error());
    Result<std::string> table = read_file(o.power);
    if (!table) return fail(table.error());
    Result<std::vector<heat::PowerRow>> rows = heat::read_power_csv(*table, o.power);
    if (!rows) return fail(rows.error());

    Source source;
    source.end = o.wheel == "front" ? parts::End::front : parts::End::rear;
    std::vector<Input> inputs;
    if (text->find("[thermal") != std::string::npos || text->find("thermal.") != std::string::npos) {
        Result<heat::ReferenceFile> file = heat::read_reference(*text, o.brake);
        if (!file) return fail(file.error());
        source.reference = *std::move(file);
        inputs = source.reference->inputs;
    } else {
        Result<parts::Bike> bike = parts::read_bike(*text, o.brake, *library);
        if (!bike) return fail(bike.error());
        source.bike = *std::move(bike);
        inputs = parts::inputs_of(*source.bike);
        std::vector<Input> more = heat::inputs(*library, *source.bike);
        inputs.insert(inputs.end(), more.begin(), more.end());
        if (o.wet) inputs.push_back(library->input(wet_factor_row(source), wet_factor_key(source.end)));
    }
    if (o.wet && source.reference) return fail({Errc::wrong_usage, "--wet needs a bike description: the reference form says nothing of water"});
    if (o.wet && !o.measured.empty()) return fail({Errc::wrong_usage, "--wet and --measured: readings weigh the cases of dry brakes only"});
    if (o.cases > 1) source.cases = draw_cases(inputs, o.cases, o.common.seed);

    std::vector<heat::Measured> measured;
    if (!o.measured.empty()) {
        if (o.cases < 64) return fail({Errc::wrong_usage, fmt::format("--measured weighs likely cases: give --cases 1024, not {}", o.cases)});
        Result<std::string> readings = read_file(o.measured);
        if (!readings) return fail(readings.error());
        Result<std::vector<heat::Measured>> read = heat::read_measured_csv(*readings, o.measured);
        if (!read) return fail(read.error());
        measured = *std::move(read);
    }

    std::vector<heat::HeatPeaks> peaks(o.cases);
    std::vector<heat::HeatEnergy> energies(o.cases);
    std::vector<double> factors(o.cases, 1.0), weights;
    std::optional<heat::CaseWeights> weighed;
    std::string isa = "scalar";
    std::optional<std::size_t> by_plain_solver;   // of many cases
    std::vector<double> rings;   // hottest ring; of a bike only
    std::vector<double> under_pad;   // the same where it leaves the pad; of many cases of the first 64, since it needs their rows
    constexpr std::size_t most_under_pad = 64;
    // One case: the plain solver, to a hundredth of a kelvin. More: the engine.
    const auto one = [&](heat::Keep keep) -> Result<heat::WheelHeat> {
        const Brake b = brake_of(*library, source, 0);
        heat::SolveOptions options;
        options.keep = keep;
        options.tolerance_K = 0.01;
        options.stop = ctx.stop;
        std::optional<heat::RotorBand> band;
        if (source.bike) band = heat::band_of(*source.bike, source.end, *b.unknowns);
        return heat::heat_of_wheel(b.brake, b.unknowns.value_or(heat::HeatUnknowns{}), *rows, options, band);
    };
    std::vector<heat::WheelHeat> wet(o.wet ? o.cases : 0);
    const double started = cpu_s();
    if (o.wet) {
        std::vector<Status> status(o.cases, Done{});
        parallel_for(ctx, o.cases, [&](std::size_t i) {
            if (ctx.stopped()) return;
            Result<heat::WheelHeat> run = wet_run(ctx, *library, source, i, *rows);
            if (!run) {
                status[i] = run.error();
                return;
            }
            peaks[i] = run->peaks;
            energies[i] = run->energy_J;
            factors[i] = run->lever_force_factor;
            wet[i] = *std::move(run);
            if (i > 0) wet[i].states.clear(), wet[i].trace.clear(), wet[i].factors.clear(), wet[i].as_dry->factors.clear();
        });
        for (const Status& s : status)
            if (!s) return fail({s.error().code, fmt::format("{}: {}", o.brake, s.error().text)});
        for (const heat::WheelHeat& w : wet) rings.push_back(w.rotor_hottest_ring_degC), under_pad.push_back(w.rotor_under_pad_degC);
    } else if (o.cases == 1) {
        Result<heat::WheelHeat> run = one(heat::Keep::peaks_only);
        if (!run) return fail({run.error().code, fmt::format("{}: {}", o.brake, run.error().text)});
        peaks[0] = run->peaks;
        energies[0] = run->energy_J;
        if (source.bike) factors[0] = run->lever_force_factor, rings.push_back(run->rotor_hottest_ring_degC), under_pad.push_back(run->rotor_under_pad_degC);
    } else {
        std::vector<heat::ReferenceBrake> brakes(o.cases);
        std::vector<heat::FrictionUnknowns> friction(o.cases);
        std::vector<heat::RotorBand> bands(source.bike ? o.cases : 0);
        parallel_for(ctx, o.cases, [&](std::size_t i) {
            const Brake b = brake_of(*library, source, i);
            brakes[i] = b.brake;
            if (!b.unknowns) return;
            friction[i] = b.unknowns->friction;
            bands[i] = heat::band_of(parts::bike_of_case(*source.bike, CaseRow(*source.cases, i)), source.end, *b.unknowns);
        });
        heat::ManyOptions how;
        how.bands = bands;
        Result<heat::ManyRuns> runs = heat::solve_many(ctx, brakes, *rows, how);
        if (!runs) return fail({runs.error().code, fmt::format("{}: {}", o.brake, runs.error().text)});
        isa = runs->isa;
        by_plain_solver = runs->by_plain_solver;
        for (std::size_t i = 0; i < o.cases; ++i) {
            heat::HeatPeaks& p = peaks[i] = runs->cases[i].peaks;
            energies[i] = runs->cases[i].energy_J;
            if (source.bike) factors[i] = largest_factor(friction[i], peaks[i]), rings.push_back(runs->cases[i].hottest_ring_degC);
            heat::hotter_side(p, brakes[i]);
        }
        if (source.bike && measured.empty()) {
            under_pad.resize(std::min(o.cases, most_under_pad), std::numeric_limits<double>::quiet_NaN());
            parallel_for(ctx, under_pad.size(), [&](std::size_t i) {
                if (const Result<heat::WheelHeat> run = heat::heat_of_wheel_by_engine(brakes[i], {}, *rows, 0, bands[i], ctx.stop)) under_pad[i] = run->rotor_under_pad_degC;
            });
        }
        if (!measured.empty()) {
            Result<heat::CaseWeights> w = heat::weigh_cases(ctx, brakes, *rows, measured);
            if (!w) return fail({w.error().code, fmt::format("{}: {}", o.measured, w.error().text)});
            weighed = *std::move(w);
            weights = weighed->weight;
        }
    }
    if (ctx.stopped()) return fail({Errc::cancelled, "stopped; nothing was written"});
    const double solve_cpu_s = cpu_s() - started;

    if (!o.series.empty()) {
        source.cases.reset();   // the series is that of the values themselves
        Result<heat::WheelHeat> run = o.wet ? wet_run(ctx, *library, source, 0, *rows) : one(heat::Keep::rows);
        if (!run) return fail(run.error());
        const std::string csv = source.bike ? heat::series_csv(run->states, run->factors) : heat::series_csv(run->states);
        if (Status s = write_file(o.series, csv); !s) return fail(s.error());
    }

    json out = {{"schema", "heat/1"}, {"version", version}, {"seed", o.common.seed}, {"cases", o.cases}};
    for (const Named& p : places) {
        std::vector<double> v;
        for (const heat::HeatPeaks& k : peaks) v.push_back((k.*p.peak).degC);
        out[std::string(p.name) + "_peak_degC"] = interval(v, weights);
    }
    // The side that does not move, or whose pad is thinner; null where both are alike.
    const bool other_fluid = heat::both_sides_have_fluid(brake_of(*library, source, 0).brake);
    for (const auto& [name, peak] : {std::pair{"other_pad_face_peak_degC", &heat::HeatPeaks::other_pad_face}, std::pair{"other_plate_peak_degC", &heat::HeatPeaks::other_plate},
                                     std::pair{"other_fluid_peak_degC", &heat::HeatPeaks::other_fluid}}) {
        std::vector<double> v;
        if (peak == &heat::HeatPeaks::other_fluid && !other_fluid) {
            out[name] = nullptr;
            continue;
        }
        for (const heat::HeatPeaks& k : peaks)
            if ((k.*peak).degC > -300) v.push_back((k.*peak).degC);
        out[name] = v.size() == peaks.size() ? interval(v, weights) : json(nullptr);
    }
    out["rotor_hottest_ring_peak_degC"] = rings.empty() ? json(nullptr) : interval(rings, weights);
    const bool under_pad_known = !under_pad.empty() && std::all_of(under_pad.begin(), under_pad.end(), [](double x) { return std::isfinite(x); });
    out["rotor_under_pad_peak_degC"] = under_pad_known ? interval(under_pad, {}) : json(nullptr);
    out["water"] = nullptr;
    if (o.wet) {
        const auto over = [&](const auto& of) {
            std::vector<double> v;
            for (const heat::WheelHeat& w : wet) v.push_back(of(w));
            return interval(v, {});
        };
        out["water"] = {{"least_friction", over([](const heat::WheelHeat& w) { return w.water->least_friction; })},
                        {"lever_force_factor", over([](const heat::WheelHeat& w) { return w.water->lever_force_factor; })},
                        {"drying_J", over([](const heat::WheelHeat& w) { return w.water->drying_J; })},
                        {"turns_to_dry", over([](const heat::WheelHeat& w) { return w.water->turns_to_dry; })},
                        {"as_dry", {{"rotor_surface_peak_degC", over([](const heat::WheelHeat& w) { return w.as_dry->rotor_surface_degC; })},
                                    {"pad_face_peak_degC", over([](const heat::WheelHeat& w) { return w.as_dry->pad_face_degC; })},
                                    {"fluid_peak_degC", over([](const heat::WheelHeat& w) { return w.as_dry->fluid_degC; })},
                                    {"lever_force_factor", over([](const heat::WheelHeat& w) { return w.as_dry->lever_force_factor; })}}}};
    }
    std::vector<double> at;
    for (const heat::HeatPeaks& k : peaks) at.push_back(k.fluid.t_s);
    out["fluid_peak_at_s"] = interval(at, weights);
    out["lever_force_factor"] = interval(factors, weights);
    heat::HeatEnergy mean;
    double worst = 0;
    for (const heat::HeatEnergy& e : energies) {
        const double k = 1.0 / static_cast<double>(o.cases);
        mean.made += e.made * k;
        mean.stored += e.stored * k;
        mean.lost += e.lost * k;
        if (std::abs(e.error) > std::abs(worst)) worst = e.error;
    }
    out["energy_J"] = {{"made", mean.made}, {"stored", mean.stored}, {"lost", mean.lost}, {"error", worst}};
    if (weighed) out["measured"] = {{"readings", measured.size()}, {"effective_cases", weighed->effective}, {"best_misfit_sd", weighed->best_misfit_sd}};
    // How much of each band's variance each unknown explains alone, before any reading; needs a sample of some size.
    json shares = nullptr;
    if (source.cases && o.cases >= 1024) {
        shares = json::array();
        struct Share { std::string key; double rotor, pad, fluid; };
        std::vector<Share> list;
        const auto column = [&](heat::HeatPeaks::Peak heat::HeatPeaks::*p) {
            std::vector<double> v;
            for (const heat::HeatPeaks& k : peaks) v.push_back((k.*p).degC);
            return v;
        };
        const std::vector<double> rotor = column(&heat::HeatPeaks::rotor_surface), pad = column(&heat::HeatPeaks::pad_face), fluid = column(&heat::HeatPeaks::fluid);
        for (const Input& input : source.cases->inputs()) {
            const auto x = source.cases->column(input.key);
            const Share share{input.key, first_order_share(x, rotor), first_order_share(x, pad), first_order_share(x, fluid)};
            if (std::max({share.rotor, share.pad, share.fluid}) >= 0.01) list.push_back(share);
        }
        std::stable_sort(list.begin(), list.end(), [](const Share& a, const Share& b) { return std::max({a.rotor, a.pad, a.fluid}) > std::max({b.rotor, b.pad, b.fluid}); });
        for (const Share& x : list) shares.push_back({{"key", x.key}, {"rotor_surface_peak", x.rotor}, {"pad_face_peak", x.pad}, {"fluid_peak", x.fluid}});
    }
    out["shares"] = shares;
    out["by_plain_solver"] = by_plain_solver ? json(*by_plain_solver) : json(nullptr);
    out["solve_cpu_s"] = solve_cpu_s;
    out["isa"] = isa;
    out["threads"] = ctx.threads;
    clear_progress();
    if (o.common.json) {
        fmt::print("{}\n", out.dump(2));
        return 0;
    }
    fmt::print("{:<16}{:>22}\n", "peak", o.cases == 1 ? "°C" : "°C (5 to 95 %)");
    for (const Named& p : places) {
        const auto& i = out[std::string(p.name) + "_peak_degC"];
        std::string name = p.name;
        std::replace(name.begin(), name.end(), '_', ' ');
        if (o.cases == 1) fmt::print("{:<16}{:>20.1f}\n", name, i["p50"].get<double>());
        else fmt::print("{:<16}{:>20}\n", name, fmt::format("{:.0f} ({:.0f} to {:.0f})", i["p50"].get<double>(), i["p05"].get<double>(), i["p95"].get<double>()));
    }
    if (o.wet) {
        const json& w = out["water"];
        fmt::print("{}\n", wrap(fmt::format("With water all along: friction falls to {:.2f} of dry, and {:.0f} turns of the wheel, lightly braked, dry it. What water takes from a brake was never measured, so it makes nothing "
                                            "cooler that counts: dry the rotor would reach {:.0f} °C, the pad {:.0f} and the fluid {:.0f}.", w["least_friction"]["p50"].get<double>(), w["turns_to_dry"]["p50"].get<double>(),
                                            w["as_dry"]["rotor_surface_peak_degC"]["p50"].get<double>(), w["as_dry"]["pad_face_peak_degC"]["p50"].get<double>(),
                                            w["as_dry"]["fluid_peak_degC"]["p50"].get<double>()), 80, 0));
    }
    if (weighed) {
        fmt::print("Weighed by {} {}: the cases left carry as much as {:.0f} equal ones.\n", measured.size(), measured.size() == 1 ? "reading" : "readings", weighed->effective);
        if (weighed->best_misfit_sd > 3)
            fmt::print("{}\n", wrap(fmt::format("No case comes near the readings: the best is {:.1f} times their uncertainty away. Look at the readings, then at the brake's description.", weighed->best_misfit_sd), 80, 0));
        else if (weighed->effective < 50) fmt::print("Few cases fit: give more --cases for a band that can be relied on.\n");
    }
    if (shares.is_array() && !shares.empty()) {
        fmt::print("What the bands are made of (share of the variance: rotor, pad face, fluid):\n");
        for (std::size_t i = 0; i < std::min<std::size_t>(shares.size(), 6); ++i)
            fmt::print("  {:<48}{:>5.0f} %{:>5.0f} %{:>5.0f} %\n", shares[i]["key"].get<std::string>(), 100 * shares[i]["rotor_surface_peak"].get<double>(),
                       100 * shares[i]["pad_face_peak"].get<double>(), 100 * shares[i]["fluid_peak"].get<double>());
    }
    if (by_plain_solver.value_or(0) > 0)
        fmt::print("{}\n", wrap(fmt::format("{} of {} cases went to the slower solver: they grew hotter than any brake stands, their account did not close, or the fast one does not take such brakes or this machine.", *by_plain_solver, o.cases), 80, 0));
    fmt::print("Half a brake: {:.4g} kJ made, {:.4g} kJ stored, {:.4g} kJ lost;\nthe account closes to {:.1e} J. A fluid peaks minutes after the halt: let the table\nrun on at speed 0 to see it.\n",
               mean.made / 1000, mean.stored / 1000, mean.lost / 1000, std::abs(worst));
    fmt::print("{}\n", wrap("An estimate does not replace an inspection. The maker's instructions and local rules come first. If in doubt do not ride, and see a qualified mechanic.", 80, 0));
    return 0;
}

int run_heat_figures(const HeatFiguresOptions& o) {
    const Context ctx = context_of(o.common);
    Result<parts::Library> library = parts::load_library();
    if (!library) return fail({Errc::internal, library.error().text});
    if (o.cases < 64 || o.cases > 65536 || (o.cases & (o.cases - 1)) != 0) return fail({Errc::wrong_usage, fmt::format("--cases {}: expected a power of two from 64 to 65536", o.cases)});
    std::error_code ec;
    std::filesystem::create_directories(o.folder, ec);
    if (ec) return fail({Errc::cannot_write, fmt::format("{}: {}", o.folder, ec.message())});
    Result<std::vector<answer::HeatFigure>> figures = answer::heat_figures(ctx, *library, version, o.cases);
    if (!figures) return fail(figures.error());
    json list = json::array();
    for (const answer::HeatFigure& f : *figures) {
        const auto file = [&](const char* extension) { return (std::filesystem::path(o.folder) / (f.name + extension)).string(); };
        if (Status s = write_file(file(".csv"), f.csv); !s) return fail(s.error());
        if (Status s = write_file(file(".json"), f.json); !s) return fail(s.error());
        list.push_back({{"figure", f.name}, {"table", f.name + ".csv"}, {"words", f.name + ".json"}});
    }
    clear_progress();
    if (o.common.json) {
        fmt::print("{}\n", json{{"schema", "heat-figures/1"}, {"version", version}, {"seed", o.common.seed}, {"cases", o.cases}, {"figures", list}}.dump(2));
        return 0;
    }
    for (const answer::HeatFigure& f : *figures) {
        const json words = json::parse(f.json);
        fmt::print("{}.csv, {}.json: {}\n", f.name, f.name, words["title"].get<std::string>());
        for (const json& c : words["claims"])
            fmt::print("{}\n", wrap("  " + c["text"].get<std::string>() + fmt::format(": in {:.0f} % of the likely cases.", 100 * c["holds_share"].get<double>()), 80, 4));
    }
    fmt::print("{}\n", wrap("An estimate does not replace an inspection. The maker's instructions and local rules come first. If in doubt do not ride, and see a qualified mechanic.", 80, 0));
    return 0;
}

}  // namespace bw::app
