// SPDX-License-Identifier: Apache-2.0
// `life`: what is left of pads and rotors, out of rides and readings; forecasts for many tasks at once.    Layer: app
#include <fmt/format.h>

#include <algorithm>
#include <chrono>
#include <cmath>
#include <filesystem>
#include <map>
#include <nlohmann/json.hpp>

#include "answer/answer.hpp"
#include "answer/from_papers.hpp"
#include "answer/life.hpp"
#include "answer/life_figures.hpp"
#include "base/text.hpp"
#include "base/time.hpp"
#include "verb_papers.hpp"
#include "verbs.hpp"
#include "wear/law.hpp"
#include "wear/learn.hpp"

namespace bw::app {

namespace {

using json = nlohmann::ordered_json;
using wear::Component;

// The maker's limit, or that of common practice.
double stated_limit(const parts::Library& library, const parts::Wheel& wheel, bool rotor) {
    if (!rotor) return wheel.pads.least_friction_mm ? wheel.pads.least_friction_mm->value : library.value("wear.pad_limit_mm");
    if (wheel.rotor.least_thickness_mm) return wheel.rotor.least_thickness_mm->value;
    return library.value(wheel.rotor.thickness_mm.value >= library.value("inspect.rotor.thick_from_mm") ? "inspect.rotor.practice_least_thick_mm" : "inspect.rotor.practice_least_thin_mm");
}

// Sets as the description has them, on since the first ride: for who keeps no list of parts.
std::vector<wear::FittedRow> fitted_of(const parts::Library& library, const parts::Bike& bike, const wear::History& h) {
    std::vector<wear::FittedRow> out;
    const long first = h.rides.empty() ? 1 : h.rides.front().ride;
    for (int w = 0; w < 2; ++w) {
        const parts::End end = w == 0 ? parts::End::front : parts::End::rear;
        const parts::Wheel& wheel = bike.wheel(end);
        const double pad_limit = stated_limit(library, wheel, false);
        const bool told = bike.given.contains(std::string(w == 0 ? "front" : "rear") + ".pads.friction_thickness_mm");
        const double pad_new = std::max(told ? parts::least_friction(wheel.pads).value : library.value("wear.new_friction_mm"), pad_limit + 0.05);
        for (int side = 0; side < 2; ++side)
            out.push_back({static_cast<Component>(3 * w + side), "1", first, std::string(parts::word_of(wheel.pads.compound)), pad_new, pad_limit, wheel.pads.area_mm2.value, -1, 0, wheel.pads.least_friction_mm.has_value(), ""});
        const double thickness = wheel.rotor.thickness_mm.value;
        // A part that is told at its limit holds the bike back (run_life); the forecast behind it only needs something to lose.
        const double rotor_limit = std::min(stated_limit(library, wheel, true), thickness - 0.01);
        out.push_back({static_cast<Component>(3 * w + 2), "1", first, "", thickness, rotor_limit, wear::solid_swept_area_mm2(wheel.rotor), -1, 0, wheel.rotor.least_thickness_mm.has_value(), ""});
    }
    return out;
}

}  // namespace

int run_life(const LifeOptions& o) {
    const Context ctx = context_of(o.common);
    const Result<parts::Library> library = parts::load_library();
    if (!library) return fail({Errc::internal, library.error().text});
    const auto text_of = [](const std::string& path) { return read_file(path); };

    const Result<std::string> bike_text = text_of(o.bike);
    if (!bike_text) return fail(bike_text.error());
    const Result<parts::Bike> bike = parts::read_bike(*bike_text, o.bike, *library);
    if (!bike) return fail(bike.error());

    const Result<std::string> rides_text = text_of(o.rides);
    if (!rides_text) return fail(rides_text.error());
    Result<std::vector<wear::RiddenRow>> rides = wear::read_summary(*rides_text, o.rides);
    if (!rides) return fail(rides.error());
    std::vector<wear::ThicknessRow> readings;
    if (!o.readings.empty()) {
        const Result<std::string> text = text_of(o.readings);
        if (!text) return fail(text.error());
        Result<std::vector<wear::ThicknessRow>> read = wear::read_thicknesses(*text, o.readings);
        if (!read) return fail(read.error());
        readings = *std::move(read);
    }
    std::vector<wear::FittedRow> fitted;
    wear::History bare;
    bare.rides = *rides;
    if (!o.fitted.empty()) {
        const Result<std::string> text = text_of(o.fitted);
        if (!text) return fail(text.error());
        Result<std::vector<wear::FittedRow>> read = wear::read_fitted(*text, o.fitted);
        if (!read) return fail(read.error());
        fitted = *std::move(read);
    } else {
        fitted = fitted_of(*library, *bike, bare);
    }
    const Result<wear::History> history = wear::history_of(*std::move(rides), std::move(fitted), std::move(readings));
    if (!history) return fail({history.error().code, fmt::format("{}: {}", o.readings, history.error().text)});
    wear::WearPriors priors = wear::default_priors(*library);
    if (!o.compounds.empty()) {
        const Result<std::string> text = text_of(o.compounds);
        if (!text) return fail(text.error());
        Result<wear::WearPriors> read = wear::read_priors(*text, o.compounds, priors);
        if (!read) return fail(read.error());
        priors = *std::move(read);
    }
    const wear::TypicalRiding typical = answer::typical_riding(*library, *bike);
    const wear::LearnOptions options{.use_readings = !o.prior_alone};

    if (!o.tasks.empty()) {
        const Result<std::string> text = text_of(o.tasks);
        if (!text) return fail(text.error());
        const Result<std::vector<wear::TaskRow>> tasks = wear::read_tasks(*text, o.tasks);
        if (!tasks) return fail(tasks.error());
        std::map<long, std::vector<std::size_t>> by_ride;
        for (std::size_t i = 0; i < tasks->size(); ++i) by_ride[(*tasks)[i].as_of_ride].push_back(i);
        if (const long last = history->rides.empty() ? 0 : history->rides.back().ride; !by_ride.empty() && by_ride.rbegin()->first > last)
            fmt::print(stderr, "brakewright: note: {}: as_of_ride {} lies beyond the last ride, {}: answered with what is known by ride {}\n", o.tasks, by_ride.rbegin()->first, last, last);
        std::vector<const std::pair<const long, std::vector<std::size_t>>*> groups;
        for (const auto& g : by_ride) groups.push_back(&g);
        std::vector<wear::LifeForecast> forecasts(tasks->size());
        std::vector<Error> errors(groups.size(), Error{Errc::internal, ""});
        Context inner = ctx;
        inner.progress = nullptr, inner.threads = 1;
        const auto at_once = static_cast<std::size_t>(4 * std::max(1, ctx.threads));   // so that progress shows within a second
        for (std::size_t from = 0; from < groups.size(); from += at_once) {
            const std::size_t some = std::min(at_once, groups.size() - from);
            parallel_for(ctx, some, [&](std::size_t j) {
                const auto& [as_of, which] = *groups[from + j];
                Result<wear::Learned> learned = wear::learn(inner, *history, priors, as_of, typical, options);
                if (!learned) {
                    errors[from + j] = learned.error();
                    return;
                }
                for (std::size_t i : which) {
                    Result<wear::LifeForecast> f = learned->forecast(inner, (*tasks)[i]);
                    if (!f) {
                        errors[from + j] = {f.error().code, fmt::format("{}: {}", o.tasks, f.error().text)};
                        return;
                    }
                    forecasts[i] = *f;
                }
            });
            if (ctx.stopped()) return fail({Errc::cancelled, "stopped; nothing was written"});
            if (ctx.progress) ctx.progress(static_cast<double>(from + some) / static_cast<double>(groups.size()), "forecasts");
        }
        clear_progress();
        for (const Error& e : errors)
            if (!e.text.empty()) return fail(e);
        std::string out = "component,set,as_of_ride,limit_ride_p005,limit_ride_p05,limit_ride_p25,limit_ride_p50,limit_ride_p75,limit_ride_p95,limit_reached_probability\n";
        json rows = json::array();
        for (std::size_t i = 0; i < tasks->size(); ++i) {
            const wear::TaskRow& t = (*tasks)[i];
            const wear::LifeForecast& f = forecasts[i];
            out += fmt::format("{},{},{}", word_of(t.component), csv_field(t.set), t.as_of_ride);
            for (double v : f.limit_ride) out += fmt::format(",{:.8g}", v);
            out += fmt::format(",{:.6g}\n", f.limit_reached_probability);
            rows.push_back({{"component", word_of(t.component)}, {"set", t.set}, {"as_of_ride", t.as_of_ride},
                            {"limit_ride", {{"p005", f.limit_ride[0]}, {"p05", f.limit_ride[1]}, {"p25", f.limit_ride[2]}, {"p50", f.limit_ride[3]}, {"p75", f.limit_ride[4]}, {"p95", f.limit_ride[5]}}},
                            {"limit_reached_probability", f.limit_reached_probability}});
        }
        if (!o.out.empty()) {
            if (Status s = write_file(o.out, out); !s) return fail(s.error());
            return 0;
        }
        if (o.common.json) fmt::print("{}\n", json{{"schema", "life/1"}, {"version", version}, {"seed", o.common.seed}, {"forecasts", rows}}.dump(2));
        else fmt::print("{}", out);
        return 0;
    }

    // One bike, now or after a ride: every part that is on it.
    const long last = history->rides.empty() ? 0 : history->rides.back().ride;
    const long last_read = history->readings.empty() ? 0 : history->readings.back().ride;
    answer::LifeAsk ask{.history = *history, .priors = priors, .typical = typical, .options = options, .as_of = o.as_of.value_or(std::max(last, last_read)),   // a reading after the last ride counts as well
                        .today = {}, .plan = {}, .plan_words = {}, .reasons = {}, .rides_per_day = 0};
    // What the description itself says is at its limit, where it stands for the parts.
    if (o.fitted.empty())
        for (const wear::FittedRow& f : history->fitted) {
            const int w = wheel_of(f.component);
            const parts::Wheel& wheel = bike->wheel(w == 0 ? parts::End::front : parts::End::rear);
            const std::string at(w == 0 ? "front" : "rear");
            const bool rotor = is_rotor(f.component);
            const double limit = stated_limit(*library, wheel, rotor), told = rotor ? wheel.rotor.thickness_mm.value : parts::least_friction(wheel.pads).value;
            std::string name(word_of(f.component));
            std::replace(name.begin(), name.end(), '_', ' ');
            const bool said = bike->given.contains(at + (rotor ? ".rotor.thickness_mm" : ".pads.friction_thickness_mm")) || (!rotor && wheel.pads.other_friction_thickness_mm);
            if (said && told <= limit)
                ask.reasons.push_back(fmt::format("Do not ride: the {} is told as {:g} mm, its limit is {:g} mm.", name, told, limit));
        }
    const Result<answer::LifeReport> report = answer::life_report(ctx, *library, ask);
    if (!report) return fail(report.error());
    clear_progress();
    fmt::print("{}", o.common.json ? answer::json_of(*report, o.common.seed, version) + "\n" : answer::text_of(*report));
    return report->hold && o.verdict_status ? 5 : 0;
}

int run_life_from_papers(const LifeOptions& o) {
    try {
        for (const auto& [word, there] : {std::pair{"--rides", !o.rides.empty()}, {"--readings", !o.readings.empty()}, {"--fitted", !o.fitted.empty()}, {"--compounds", !o.compounds.empty()}, {"--tasks", !o.tasks.empty()},
                                          {"--as-of", o.as_of.has_value()}, {"--prior-alone", o.prior_alone}})
            if (there) stop(Errc::wrong_usage, fmt::format("{} is for tables in files: the papers hold their own", word));
        const Context ctx = context_of(o.common);
        const parts::Library library = must(parts::load_library());
        answer::FromPapers from;
        from.made_unix_s = std::chrono::duration<double>(std::chrono::system_clock::now().time_since_epoch()).count();
        for (const std::string* day : {&o.today, &o.since})
            if (!day->empty() && !parse_day(*day)) stop(Errc::wrong_usage, fmt::format("'{}': expected a day as 2026-05-01", *day));
        from.today = o.today.empty() ? format_day(static_cast<long>(std::floor(from.made_unix_s / 86400))) : o.today;
        if (!o.since.empty()) from.since = o.since;
        from.version = version;
        std::vector<std::string> ways = o.ways;
        if (!o.bike.empty()) ways.insert(ways.begin(), o.bike);
        for (const std::string& path : ways) {
            ride::Recording read = must(ride::read_recording(must(read_file(path)), path));
            auto* route = std::get_if<ride::Route>(&read);
            if (!route) stop(Errc::wrong_usage, fmt::format("{}: this was ridden: add it with `papers add rides`; beside --papers stand planned routes only", path));
            from.planned.push_back({std::move(*route), {}, {}});
        }
        papers::Opened opened = must(papers::open_papers(o.papers));
        if (!opened.note.empty()) fmt::print(stderr, "brakewright: note: {}\n", opened.note);
        from.bike = bike_named(*opened.papers, o.bike_name).id;
        const answer::PapersLife life = must(answer::life_from_papers(ctx, library, *opened.papers, from));
        clear_progress();
        for (const std::string& n : life.notes) fmt::print(stderr, "brakewright: note: {}\n", n);
        if (!life.report) {
            if (o.common.json) fmt::print("{}\n", json{{"schema", "life/1"}, {"version", version}, {"seed", o.common.seed}, {"life_withheld", life.withheld}}.dump(2));
            else fmt::print("{}\n", wrap(life.withheld, 96, 2));
            return 0;
        }
        fmt::print("{}", o.common.json ? answer::json_of(*life.report, o.common.seed, version) + "\n" : answer::text_of(*life.report));
        return life.report->hold && o.verdict_status ? 5 : 0;
    } catch (const Stop& s) {
        return fail(s.error);
    }
}

int run_life_figures(const HeatFiguresOptions& o) {
    const Context ctx = context_of(o.common);
    const Result<parts::Library> library = parts::load_library();
    if (!library) return fail({Errc::internal, library.error().text});
    const Result<std::vector<answer::LifeFigure>> figures = answer::life_figures(ctx, *library);
    if (!figures) return fail(figures.error());
    clear_progress();
    std::error_code failed;
    std::filesystem::create_directories(o.folder, failed);
    if (failed) return fail({Errc::cannot_write, fmt::format("{}: cannot be made ({})", o.folder, failed.message())});
    json list = json::array();
    for (const answer::LifeFigure& f : *figures) {
        const std::string path = (std::filesystem::path(o.folder) / (f.name + ".csv")).string();
        if (Status s = write_file(path, f.csv); !s) return fail(s.error());
        list.push_back({{"figure", f.name}, {"file", f.name + ".csv"}, {"title", f.title}, {"caption", f.caption}, {"assumptions", f.assumptions}, {"sources", f.sources}});
        if (!o.common.json) fmt::print("{}\n", wrap(fmt::format("{}: {}", path, f.caption), 96, 2));
    }
    if (o.common.json) fmt::print("{}\n", json{{"schema", "life_figures/1"}, {"version", version}, {"figures", list}}.dump(2));
    return 0;
}

}  // namespace bw::app
