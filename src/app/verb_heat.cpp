// SPDX-License-Identifier: Apache-2.0
// `heat`: one brake, one table of power, temperatures out; `heat figures`: data behind the figures.      Layer: app
#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <limits>
#include <filesystem>
#include <nlohmann/json.hpp>

#include "answer/heat_figures.hpp"
#include "answer/wheel_heat.hpp"
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
    double altitude_m = 0;
    std::optional<Cases> cases;
};

Brake brake_of(const parts::Library& library, const Source& s, std::size_t i) {
    if (s.reference) return {s.cases ? heat::with_case(*s.reference, CaseRow(*s.cases, i)) : s.reference->brake, std::nullopt};
    const double air_degC = library.value("riding.air_degC");
    if (!s.cases) {
        const heat::HeatUnknowns u = heat::median_unknowns(library, *s.bike, s.end);
        return {heat::reference_of(library, *s.bike, s.end, u, air_degC, s.altitude_m), u};
    }
    const CaseRow row(*s.cases, i);
    const heat::HeatUnknowns u = heat::unknowns_of(library, *s.bike, s.end, row);
    return {heat::reference_of(library, parts::bike_of_case(*s.bike, row), s.end, u, air_degC, s.altitude_m), u};
}

// The values themselves, without a draw.
Source values_of(const Source& s) { return {.reference = s.reference, .bike = s.bike, .end = s.end, .altitude_m = s.altitude_m, .cases = {}}; }

// Readings that no case comes near, or that leave too few: their weights would make a band of next to no width, the most certain looking
// where least is known. 3: what one in some four hundred good readings passes. 20: fewer cases than that leave less than one beyond each end of a band.
constexpr double worst_fit_sd = 3, least_effective = 20;
std::string why_unfit(const heat::CaseWeights& w, std::size_t readings, std::size_t cases) {
    const std::string one = readings == 1 ? "The reading" : fmt::format("The {} readings", readings), fit = readings == 1 ? "fits" : "fit";
    if (w.best_misfit_sd > worst_fit_sd)
        return fmt::format("{} {} no case: the nearest is {:.1f} times the uncertainty away. The bands below are without {}. Check the time and the place of the reading, whether infra-red looked at bare metal (set_emissivity, spot), "
                           "its sd_K, then the table of power and the brake's description. It may also be that the brake gets hotter than any case: take what was measured as it is.", one, fit, w.best_misfit_sd, readings == 1 ? "it" : "them");
    if (w.effective < least_effective)
        return fmt::format("{} {} too few of the {} cases: those left carry as much as {:.1f} equal ones, and a band of so few says nothing. The bands below are without {}. It may be that the brake gets hotter than most cases: take what was measured as it is. {}", one, fit, cases, w.effective, readings == 1 ? "it" : "them",
                           cases < 65536 ? "Give more --cases, or check whether sd_K is too small." : "Check whether sd_K is too small.");
    return "";
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
                                         heat::WetRide{.wet = all_along, .wet_factor = std::min(factor, 1.0), .wheel_radius_m = bike.wheel_radius_m.value, .altitude_m = s.altitude_m});
}

json interval(const std::vector<double>& values, const std::vector<double>& weights) {
    const Interval i = weights.empty() ? interval_of(values) : interval_of(values, weights);
    return {{"p05", i.p05}, {"p50", i.p50}, {"p95", i.p95}};
}

// Whether the table runs on past the fluid's peak: a minute or more without braking, and the peak before its end.
bool sees_fluid_peak(std::span<const heat::PowerRow> rows, double latest_peak_s) {
    double braked_until_s = rows.front().t_s;
    for (std::size_t i = 0; i + 1 < rows.size(); ++i)
        if (rows[i].power_W > 0) braked_until_s = rows[i + 1].t_s;
    return rows.back().t_s - braked_until_s >= 60 && latest_peak_s < rows.back().t_s - 1;
}

// Cases run on one table.
struct Runs {
    explicit Runs(std::size_t n) : peaks(n), energies(n), factors(n, 1.0) {}
    std::vector<heat::HeatPeaks> peaks;
    std::vector<heat::HeatEnergy> energies;
    std::vector<double> factors, rings;       // rings, the hottest of each case: of a bike only
    std::vector<heat::WheelHeat> of_bike;     // of a bike only: what `answer` reads of a wheel
    std::vector<heat::ReferenceBrake> brakes; // of the engine's runs
    std::string isa = "scalar";
    std::optional<std::size_t> by_plain_solver;   // of many cases
};

// Work is booked by the pad's temperature row by row, and where a row begins and ends: a row of minutes would have it at the mean of a cold
// pad and a hot one. The same table in rows of at most two seconds wherever it brakes.
std::vector<heat::PowerRow> short_rows(std::span<const heat::PowerRow> rows) {
    constexpr double longest_s = 2;
    std::vector<heat::PowerRow> out;
    for (std::size_t i = 0; i < rows.size(); ++i) {
        out.push_back(rows[i]);
        if (i + 1 == rows.size() || !(rows[i].power_W > 0)) continue;
        const double length_s = rows[i + 1].t_s - rows[i].t_s;
        const double parts = std::ceil(length_s / longest_s);
        for (double k = 1; k < parts; ++k) {
            out.push_back(rows[i]);
            out.back().t_s += k * length_s / parts;
        }
    }
    return out;
}

Error named(const std::string& file, const Error& e) { return {e.code, fmt::format("{}: {}", file, e.text)}; }

// The values themselves, by the plain solver, to a hundredth of a kelvin.
Result<heat::WheelHeat> run_of_values(const Context& ctx, const parts::Library& library, const Source& source, std::span<const heat::PowerRow> rows, heat::Keep keep) {
    const Brake b = brake_of(library, values_of(source), 0);
    heat::SolveOptions options;
    options.keep = keep;
    options.tolerance_K = 0.01;
    options.stop = ctx.stop;
    std::optional<heat::RotorBand> band;
    if (source.bike) band = heat::band_of(*source.bike, source.end, *b.unknowns);
    return heat::heat_of_wheel(b.brake, b.unknowns.value_or(heat::HeatUnknowns{}), rows, options, band);
}

void take(Runs& out, std::size_t i, heat::WheelHeat run, bool bike) {
    out.peaks[i] = run.peaks;
    out.energies[i] = run.energy_J;
    if (!bike) return;
    out.factors[i] = run.lever_force_factor;
    out.rings[i] = run.rotor_hottest_ring_degC;
    run.states.clear(), run.trace.clear(), run.factors.clear();
    if (run.as_dry) run.as_dry->factors.clear();
    out.of_bike[i] = std::move(run);
}

Result<Runs> values_run(const Context& ctx, const parts::Library& library, const Source& source, std::span<const heat::PowerRow> rows, bool wet) {
    Runs out(1);
    if (source.bike) out.rings.resize(1), out.of_bike.resize(1);
    Result<heat::WheelHeat> run = wet ? wet_run(ctx, library, values_of(source), 0, rows) : run_of_values(ctx, library, source, rows, heat::Keep::peaks_only);
    if (!run) return run.error();
    take(out, 0, *std::move(run), source.bike.has_value());
    return out;
}

Result<Runs> wet_runs(const Context& ctx, const parts::Library& library, const Source& source, std::size_t n, std::span<const heat::PowerRow> rows) {
    Runs out(n);
    out.rings.resize(n), out.of_bike.resize(n);
    std::vector<Status> status(n, Done{});
    parallel_for(ctx, n, [&](std::size_t i) {
        if (ctx.stopped()) return;
        Result<heat::WheelHeat> run = wet_run(ctx, library, source, i, rows);
        if (run) take(out, i, *std::move(run), true);
        else status[i] = run.error();
    });
    for (const Status& s : status)
        if (!s) return s.error();
    return out;
}

Result<Runs> engine_runs(const Context& ctx, const parts::Library& library, const Source& source, std::size_t n, std::span<const heat::PowerRow> rows) {
    Runs out(n);
    out.brakes.resize(n);
    std::vector<heat::FrictionUnknowns> friction(n);
    std::vector<heat::RotorBand> bands(source.bike ? n : 0);
    parallel_for(ctx, n, [&](std::size_t i) {
        const Brake b = brake_of(library, source, i);
        out.brakes[i] = b.brake;
        if (!b.unknowns) return;
        friction[i] = b.unknowns->friction;
        bands[i] = heat::band_of(parts::bike_of_case(*source.bike, CaseRow(*source.cases, i)), source.end, *b.unknowns);
    });
    heat::ManyOptions how;
    how.bands = bands;
    Result<heat::ManyRuns> runs = heat::solve_many(ctx, out.brakes, rows, how);
    if (!runs) return runs.error();
    out.isa = runs->isa;
    out.by_plain_solver = runs->by_plain_solver;
    if (source.bike) out.of_bike.resize(n);
    double table_J = 0;
    for (std::size_t i = 0; i + 1 < rows.size(); ++i) table_J += rows[i].power_W * (rows[i + 1].t_s - rows[i].t_s);
    for (std::size_t i = 0; i < n; ++i) {
        heat::HeatPeaks& p = out.peaks[i] = runs->cases[i].peaks;
        out.energies[i] = runs->cases[i].energy_J;
        if (source.bike) out.factors[i] = largest_factor(friction[i], p), out.rings.push_back(runs->cases[i].hottest_ring_degC);
        heat::hotter_side(p, out.brakes[i]);
        if (!source.bike) continue;
        heat::WheelHeat& w = out.of_bike[i];
        w.peaks = p, w.energy_J = out.energies[i], w.rotor_hottest_ring_degC = out.rings[i], w.lever_force_factor = out.factors[i], w.air_degC = out.brakes[i].ambient_degC;
        heat::add(w.dose, table_J, p.pad_face.degC);
    }
    return out;
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

namespace {

// As many as `answer` draws: one brake in two hundred shows.
constexpr std::size_t judged_cases = 1024;

}  // namespace

int run_heat(const HeatOptions& o) {
    const Context ctx = context_of(o.common);
    Result<parts::Library> library = parts::load_library();
    if (!library) return fail({Errc::internal, library.error().text});
    if (o.cases && (*o.cases == 0 || *o.cases > 65536 || (*o.cases & (*o.cases - 1)) != 0)) return fail({Errc::wrong_usage, fmt::format("--cases {}: expected 1, or a power of two up to 65536", *o.cases)});

    Result<std::string> text = read_file(o.brake);
    if (!text) return fail({text.error().code, text.error().text + "; expected first the brake, a TOML file: a bike description, or the reference form (docs/formats.md)"});
    Result<std::string> table = read_file(o.power);
    if (!table) return fail({table.error().code, table.error().text + "; expected behind the brake a table of power, a CSV t_s,speed_mps,power_W of one wheel (docs/formats.md)"});
    Result<std::vector<heat::PowerRow>> rows = heat::read_power_csv(*table, o.power);
    if (!rows) return fail(rows.error());

    Source source;
    source.end = o.wheel == "front" ? parts::End::front : parts::End::rear;
    std::vector<Input> inputs;
    std::size_t entering = 0;   // of them, the first: those that reach this brake's heat
    if (text->find("[thermal") != std::string::npos || text->find("thermal.") != std::string::npos) {
        Result<heat::ReferenceFile> file = heat::read_reference(*text, o.brake);
        if (!file) return fail(file.error());
        source.reference = *std::move(file);
        inputs = source.reference->inputs;
        entering = inputs.size();
    } else {
        Result<parts::Bike> bike = parts::read_bike(*text, o.brake, *library);
        if (!bike) return fail(bike.error());
        source.bike = *std::move(bike);
        answer::WheelInputs of_wheel = answer::wheel_inputs(*library, *source.bike, source.end, o.wet);
        inputs = std::move(of_wheel.inputs);
        entering = of_wheel.entering;
        if (o.wet) inputs.insert(inputs.begin() + static_cast<long>(entering++), library->input(wet_factor_row(source), wet_factor_key(source.end)));
    }
    if (o.wet && source.reference) return fail({Errc::wrong_usage, "--wet needs a bike description: the reference form says nothing of water"});
    if (o.wet && !o.measured.empty()) return fail({Errc::wrong_usage, "--wet and --measured: readings weigh the cases of dry brakes only"});
    if (o.altitude_m && source.reference) return fail({Errc::wrong_usage, "--altitude_m needs a bike description: the reference form states its convection, and boils nothing"});
    source.altitude_m = o.altitude_m.value_or(0);
    // What is judged of a bike is judged by its likely cases, whatever is shown: one brake in two hundred counts (DESIGN 3).
    const std::size_t asked = o.cases.value_or(source.bike ? judged_cases : 1), judged = source.bike ? std::max(asked, judged_cases) : asked, shown = asked == 1 ? 1 : judged;
    if (shown > asked) fmt::print(stderr, "--cases {}: of a bike at least {} are drawn; fewer say nothing of one brake in two hundred. 1 shows the values themselves.\n", asked, judged);
    if (judged > 1) source.cases = draw_cases(inputs, judged, o.common.seed);

    std::vector<heat::Measured> measured;
    if (!o.measured.empty()) {
        if (shown < 64) return fail({Errc::wrong_usage, fmt::format("--measured weighs likely cases: give --cases 1024, not {}", shown)});
        Result<std::string> readings = read_file(o.measured);
        if (!readings) return fail(readings.error());
        Result<std::vector<heat::Measured>> read = heat::read_measured_csv(*readings, o.measured);
        if (!read) return fail(read.error());
        measured = *std::move(read);
    }

    const double started = cpu_s();
    std::optional<Runs> of_cases, of_values;
    if (judged > 1) {
        Result<Runs> runs = o.wet ? wet_runs(ctx, *library, source, judged, short_rows(*rows)) : engine_runs(ctx, *library, source, judged, *rows);
        if (!runs) return fail(named(o.brake, runs.error()));
        of_cases = *std::move(runs);
    }
    if (shown == 1) {
        Result<Runs> run = values_run(ctx, *library, source, *rows, o.wet);
        if (!run) return fail(named(o.brake, run.error()));
        of_values = *std::move(run);
    }
    const auto& [peaks, energies, factors, rings, wheels, brakes, isa, by_plain_solver] = of_values ? *of_values : *of_cases;
    std::vector<double> weights;
    std::optional<heat::CaseWeights> weighed;
    std::string unfit;   // why the readings weigh nothing
    if (!measured.empty()) {
        Result<heat::CaseWeights> w = heat::weigh_cases(ctx, brakes, *rows, measured);
        if (!w) return fail(named(o.measured, w.error()));
        weighed = *std::move(w);
        unfit = why_unfit(*weighed, measured.size(), shown);
        if (unfit.empty()) weights = weighed->weight;
    }
    if (ctx.stopped()) return fail({Errc::cancelled, "stopped; nothing was written"});
    const double solve_cpu_s = cpu_s() - started;

    std::optional<answer::WheelSaid> said;
    if (source.bike) {
        answer::WheelRuns of_bike{.file = std::filesystem::path(o.power).filename().string(), .end = source.end, .altitude_m = source.altitude_m, .drawn = *source.cases, .heat = of_cases->of_bike, .weights = weights};
        if (!o.wet) {
            // Work by pad temperature and the core ask for whole runs: as many as `answer` makes, of a core as many as its far tail needs.
            const bool core = source.bike->wheel(source.end).rotor.material == parts::RotorMaterial::aluminium_core;
            const std::size_t n = core ? judged_cases : answer::anchor_cases;
            const std::vector<heat::PowerRow> booked = short_rows(*rows);
            const auto run_whole = [&](std::vector<heat::WheelHeat>& whole, const auto& case_of) -> Status {
                whole.resize(n);
                std::vector<Status> status(n, Done{});
                parallel_for(ctx, n, [&](std::size_t k) {
                    if (ctx.stopped()) return;
                    const std::size_t i = case_of(k);
                    const Brake b = brake_of(*library, source, i);
                    const heat::RotorBand band = heat::band_of(parts::bike_of_case(*source.bike, CaseRow(*source.cases, i)), source.end, *b.unknowns);
                    Result<heat::WheelHeat> run = heat::heat_of_wheel_by_engine(b.brake, *b.unknowns, booked, 0, band, ctx.stop);
                    if (!run) {
                        status[k] = run.error();
                        return;
                    }
                    whole[k] = *std::move(run);
                    whole[k].states = {}, whole[k].trace = {}, whole[k].factors = {};
                });
                for (const Status& s : status)
                    if (!s) return s;
                return Done{};
            };
            Status done = run_whole(of_bike.whole, [](std::size_t k) { return k; });
            if (done && !weights.empty()) {
                of_bike.by_weight = answer::drawn_by_weight(n, judged, weights, ctx.seed, "whole runs");
                done = run_whole(of_bike.whole_by_weight, [&](std::size_t k) { return of_bike.by_weight[k]; });
            }
            if (!done) return fail(named(o.brake, done.error()));
        }
        Result<answer::WheelSaid> says = answer::wheel_said(ctx, *library, *source.bike, of_bike);
        if (!says) return fail(says.error());
        said = *std::move(says);
    }
    const bool has_fluid = !said || said->heat.has_fluid;
    const int status = o.verdict_status && said && said->answer.verdict.do_not_ride ? 5 : 0;

    if (!o.series.empty()) {   // of the values themselves
        Result<heat::WheelHeat> run = o.wet ? wet_run(ctx, *library, values_of(source), 0, *rows) : run_of_values(ctx, *library, source, *rows, heat::Keep::rows);
        if (!run) return fail(run.error());
        const std::string csv = source.bike ? heat::series_csv(run->states, run->factors) : heat::series_csv(run->states);
        if (Status s = write_file(o.series, csv); !s) return fail(s.error());
    }

    json out = {{"schema", "heat/1"}, {"version", version}, {"seed", o.common.seed}, {"cases", shown}};
    out["judged_cases"] = source.bike ? json(judged) : json(nullptr);
    out["altitude_m"] = source.bike ? json(source.altitude_m) : json(nullptr);
    out["altitude_told"] = source.bike ? json(o.altitude_m.has_value()) : json(nullptr);
    out["verdict"] = said ? json::parse(answer::json_of(*said))["verdict"] : json(nullptr);
    for (const Named& p : places) {
        std::vector<double> v;
        for (const heat::HeatPeaks& k : peaks) v.push_back((k.*p.peak).degC);
        out[std::string(p.name) + "_peak_degC"] = p.peak == &heat::HeatPeaks::fluid && !has_fluid ? json(nullptr) : interval(v, weights);
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
    std::optional<Interval> under_pad = said ? said->heat.rotor_under_pad_peak_degC : std::nullopt;
    if (under_pad && of_values) under_pad = interval_of(std::vector{wheels.front().rotor_under_pad_degC});
    out["rotor_under_pad_peak_degC"] = under_pad ? json{{"p05", under_pad->p05}, {"p50", under_pad->p50}, {"p95", under_pad->p95}} : json(nullptr);
    out["water"] = nullptr;
    if (o.wet) {
        const auto over = [&](const auto& of) {
            std::vector<double> v;
            for (const heat::WheelHeat& w : wheels) v.push_back(of(w));
            return interval(v, {});
        };
        out["water"] = {{"least_friction", over([](const heat::WheelHeat& w) { return w.water->least_friction; })},
                        {"lever_force_factor", over([](const heat::WheelHeat& w) { return w.water->lever_force_factor; })},
                        {"drying_J", over([](const heat::WheelHeat& w) { return w.water->drying_J; })},
                        {"turns_to_dry", over([](const heat::WheelHeat& w) { return w.water->turns_to_dry; })},
                        {"as_dry", {{"rotor_surface_peak_degC", over([](const heat::WheelHeat& w) { return w.as_dry->rotor_surface_degC; })},
                                    {"pad_face_peak_degC", over([](const heat::WheelHeat& w) { return w.as_dry->pad_face_degC; })},
                                    {"fluid_peak_degC", has_fluid ? over([](const heat::WheelHeat& w) { return w.as_dry->fluid_degC; }) : json(nullptr)},
                                    {"lever_force_factor", over([](const heat::WheelHeat& w) { return w.as_dry->lever_force_factor; })}}}};
    }
    std::vector<double> at;
    for (const heat::HeatPeaks& k : peaks) at.push_back(k.fluid.t_s);
    out["fluid_peak_at_s"] = has_fluid ? interval(at, weights) : json(nullptr);
    out["lever_force_factor"] = interval(factors, weights);
    heat::HeatEnergy mean;
    double worst = 0;
    for (const heat::HeatEnergy& e : energies) {
        const double k = 1.0 / static_cast<double>(shown);
        mean.made += e.made * k;
        mean.stored += e.stored * k;
        mean.lost += e.lost * k;
        if (std::abs(e.error) > std::abs(worst)) worst = e.error;
    }
    out["energy_J"] = {{"made", mean.made}, {"stored", mean.stored}, {"lost", mean.lost}, {"error", worst}};
    out["wheel"] = said ? json::parse(answer::json_of(*said))["wheel"] : json(nullptr);
    if (weighed)
        out["measured"] = {{"readings", measured.size()}, {"effective_cases", weighed->effective}, {"best_misfit_sd", weighed->best_misfit_sd}, {"weighed", unfit.empty()}, {"unfit", unfit.empty() ? json(nullptr) : json(unfit)}};
    // How much of each band's variance each unknown explains alone, before any reading; needs a sample of some size.
    json shares = nullptr;
    if (shown >= 1024) {
        shares = json::array();
        struct Share { std::string key; double rotor, pad, fluid; };
        std::vector<Share> list;
        const auto column = [&](heat::HeatPeaks::Peak heat::HeatPeaks::*p) {
            std::vector<double> v;
            for (const heat::HeatPeaks& k : peaks) v.push_back((k.*p).degC);
            return v;
        };
        const std::vector<double> rotor = column(&heat::HeatPeaks::rotor_surface), pad = column(&heat::HeatPeaks::pad_face), fluid = column(&heat::HeatPeaks::fluid);
        const double seen = std::max(0.01, 32.0 / static_cast<double>(shown));   // four standard errors of the share of an input that does nothing: 8/n over 32 slices
        for (const Input& input : std::span(source.cases->inputs()).first(entering)) {
            const auto x = source.cases->column(input.key);
            const Share share{input.key, first_order_share(x, rotor), first_order_share(x, pad), first_order_share(x, fluid)};
            if (std::max({share.rotor, share.pad, share.fluid}) >= seen) list.push_back(share);
        }
        std::stable_sort(list.begin(), list.end(), [](const Share& a, const Share& b) { return std::max({a.rotor, a.pad, a.fluid}) > std::max({b.rotor, b.pad, b.fluid}); });
        for (const Share& x : list) shares.push_back({{"key", x.key}, {"rotor_surface_peak", x.rotor}, {"pad_face_peak", x.pad}, {"fluid_peak", has_fluid ? json(x.fluid) : json(nullptr)}});
    }
    out["shares"] = shares;
    out["by_plain_solver"] = by_plain_solver ? json(*by_plain_solver) : json(nullptr);
    out["solve_cpu_s"] = solve_cpu_s;
    out["isa"] = isa;
    out["threads"] = ctx.threads;
    clear_progress();
    if (o.common.json) {
        fmt::print("{}\n", out.dump(2));
        return status;
    }
    if (said) fmt::print("{}", answer::verdict_text(*said, !o.altitude_m));
    if (!unfit.empty()) fmt::print("{}\n", wrap(unfit, 80, 0));
    const auto row = [&](const std::string& name, const std::string& cell) { fmt::print("{:<20}{:>20}\n", name, cell); };
    row("peak", shown == 1 ? "°C" : "°C (5 to 95 %)");
    const auto degrees = [&](const json& i) {
        if (i.is_null()) return std::string("no fluid");
        return shown == 1 ? fmt::format("{:.1f}", i["p50"].get<double>()) : fmt::format("{:.0f} ({:.0f} to {:.0f})", i["p50"].get<double>(), i["p05"].get<double>(), i["p95"].get<double>());
    };
    for (const Named& p : places) {
        std::string name = p.name;
        std::replace(name.begin(), name.end(), '_', ' ');
        row(name, degrees(out[std::string(p.name) + "_peak_degC"]));
        if (p.peak == &heat::HeatPeaks::rotor_mean && !rings.empty()) row("rotor, hottest ring", degrees(out["rotor_hottest_ring_peak_degC"]));
        if (p.peak == &heat::HeatPeaks::rotor_mean && under_pad) row("rotor, under the pad", degrees(out["rotor_under_pad_peak_degC"]));
    }
    if (said)
        for (const auto& [name, cell] : answer::rows_of(*said)) row(name, cell);
    if (said && shown == 1)
        fmt::print("{}\n", wrap(fmt::format("The temperatures above are those of the values as they are. The verdict, boiling, squeeze{} and what follows are of {} likely cases.",
                                            said->heat.core_peak_degC ? ", core" : "", judged), 80, 0));
    if (said)
        fmt::print("{}\n", wrap(o.altitude_m ? fmt::format("At {:.0f} m above the sea.", *o.altitude_m) : "Taken as at sea level; higher up fluid boils sooner and air cools less: --altitude_m tells the height of the road.", 80, 0));
    if (said)
        for (const std::string& words : answer::remarks_of(*said)) fmt::print("{}\n", wrap(words, 80, 0));
    if (o.wet) {
        const json& w = out["water"];
        const double least = w["least_friction"]["p50"];
        const std::string falls = least > 0.995 ? std::string("friction stays that of the dry brake, since what comes is wiped and driven off at once; soaked and cold,") : fmt::format("friction falls to {:.2f} of dry, and", least);
        fmt::print("{}\n", wrap(fmt::format("With water all along: {} {:.0f} turns of the wheel, lightly braked, dry it. What water takes from a brake was never measured, so it makes nothing "
                                            "cooler that counts: dry the rotor would reach {:.0f} °C, the pad {:.0f}{}.", falls, w["turns_to_dry"]["p50"].get<double>(),
                                            w["as_dry"]["rotor_surface_peak_degC"]["p50"].get<double>(), w["as_dry"]["pad_face_peak_degC"]["p50"].get<double>(),
                                            has_fluid ? fmt::format(" and the fluid {:.0f}", w["as_dry"]["fluid_peak_degC"]["p50"].get<double>()) : ""), 80, 0));
    }
    if (weighed && unfit.empty()) {
        fmt::print("Weighed by {} {}: the cases left carry as much as {:.0f} equal ones.\n", measured.size(), measured.size() == 1 ? "reading" : "readings", weighed->effective);
        if (weighed->effective < 50) fmt::print("Few cases fit: give more --cases for a band that can be relied on.\n");
    }
    if (shares.is_array() && !shares.empty()) {
        fmt::print("{}\n", wrap(fmt::format("What the bands are made of{} (share of the variance: rotor, pad face{}):", weighed ? ", before any reading" : "", has_fluid ? ", fluid" : ""), 80, 0));
        for (std::size_t i = 0; i < std::min<std::size_t>(shares.size(), 6); ++i)
            fmt::print("  {:<48}{:>5.0f} %{:>5.0f} %{}\n", shares[i]["key"].get<std::string>(), 100 * shares[i]["rotor_surface_peak"].get<double>(), 100 * shares[i]["pad_face_peak"].get<double>(),
                       has_fluid ? fmt::format("{:>5.0f} %", 100 * shares[i]["fluid_peak"].get<double>()) : "");
    }
    if (by_plain_solver.value_or(0) > 0)
        fmt::print("{}\n", wrap(fmt::format("{} of {} cases went to the slower solver: they grew hotter than any brake stands, their account did not close, or the fast one does not take such brakes or this machine.", *by_plain_solver, shown), 80, 0));
    fmt::print("Half a brake: {:.4g} kJ made, {:.4g} kJ stored, {:.4g} kJ lost;\nthe account closes to {:.1e} J.\n", mean.made / 1000, mean.stored / 1000, mean.lost / 1000, std::abs(worst));
    if (has_fluid && !sees_fluid_peak(*rows, interval_of(at).p95)) fmt::print("{}\n", wrap("A fluid peaks minutes after the halt: let the table run on at speed 0 to see it.", 80, 0));
    if (said)
        for (const std::string& words : said->answer.cautions) fmt::print("{}\n", wrap(words, 80, 0));
    else fmt::print("{}\n", wrap("An estimate does not replace an inspection. The maker's instructions and local rules come first. If in doubt do not ride, and see a qualified mechanic.", 80, 0));
    return status;
}

int run_heat_figures(const HeatFiguresOptions& o) {
    const Context ctx = context_of(o.common);
    Result<parts::Library> library = parts::load_library();
    if (!library) return fail({Errc::internal, library.error().text});
    if (o.cases < 64 || o.cases > 65536 || (o.cases & (o.cases - 1)) != 0) return fail({Errc::wrong_usage, fmt::format("--cases {}: expected a power of two from 64 to 65536", o.cases)});
    std::error_code ec;
    std::filesystem::create_directories(o.folder, ec);
    if (ec) return fail({Errc::cannot_write, fmt::format("{}: {}; name a folder that can be made or written to", o.folder, ec.message())});
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
