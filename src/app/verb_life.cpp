// SPDX-License-Identifier: Apache-2.0
// `life`: what is left of pads and rotors, out of rides and readings; forecasts for many tasks at once.    Layer: app
#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <map>
#include <nlohmann/json.hpp>

#include "answer/answer.hpp"
#include "base/text.hpp"
#include "base/time.hpp"
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
        const double pad_new = std::max(told ? wheel.pads.friction_thickness_mm.value : library.value("wear.new_friction_mm"), pad_limit + 0.05);
        for (int side = 0; side < 2; ++side)
            out.push_back({static_cast<Component>(3 * w + side), "1", first, std::string(parts::word_of(wheel.pads.compound)), pad_new, pad_limit, wheel.pads.area_mm2.value});
        const double thickness = wheel.rotor.thickness_mm.value;
        // A part that is told at its limit holds the bike back (run_life); the forecast behind it only needs something to lose.
        const double rotor_limit = std::min(stated_limit(library, wheel, true), thickness - 0.01);
        out.push_back({static_cast<Component>(3 * w + 2), "1", first, "", thickness, rotor_limit, wear::solid_swept_area_mm2(wheel.rotor)});
    }
    return out;
}

json interval(const Interval& i) { return {{"p05", i.p05}, {"p50", i.p50}, {"p95", i.p95}}; }

std::string rides_words(const Interval& i) { return fmt::format("about {} rides ({} to {})", significant(i.p50, 2), significant(i.p05, 2), significant(i.p95, 2)); }

std::string part_name(Component c) {
    std::string word(word_of(c));
    std::replace(word.begin(), word.end(), '_', ' ');
    return word;
}

struct Part {
    wear::FittedRow fitted;
    wear::LifeForecast forecast;
    const wear::ThicknessRow* at_limit = nullptr;   // a reading at or under the limit that no later, surer one contradicts
    bool limit_stated = true;                   // by the list of parts or by the maker; else it is common practice
    double narrows = 1;                         // width of the remaining rides after a reading now, over what it is
    double ratio() const { return forecast.remaining_rides.p05 > 0 ? forecast.remaining_rides.p95 / forecast.remaining_rides.p05 : 1e9; }
};

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
    const std::string kind(parts::word_of(bike->kind));
    wear::TypicalRiding typical;
    typical.distance_m = library->value("typical." + kind + ".distance_m");
    typical.energy_J = library->value("typical." + kind + ".energy_J") * bike->total_mass_kg.value / 90;
    typical.pad_degC = library->value("typical." + kind + ".pad_degC");
    const wear::LearnOptions options{.use_readings = !o.prior_alone};

    if (!o.tasks.empty()) {
        const Result<std::string> text = text_of(o.tasks);
        if (!text) return fail(text.error());
        const Result<std::vector<wear::TaskRow>> tasks = wear::read_tasks(*text, o.tasks);
        if (!tasks) return fail(tasks.error());
        std::map<long, std::vector<std::size_t>> by_ride;
        for (std::size_t i = 0; i < tasks->size(); ++i) by_ride[(*tasks)[i].as_of_ride].push_back(i);
        std::vector<const std::pair<const long, std::vector<std::size_t>>*> groups;
        for (const auto& g : by_ride) groups.push_back(&g);
        std::vector<wear::LifeForecast> forecasts(tasks->size());
        std::vector<Error> errors(groups.size(), Error{Errc::internal, ""});
        Context inner = ctx;
        inner.progress = nullptr, inner.threads = 1;
        constexpr std::size_t at_once = 32;   // so that progress shows
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
            if (ctx.stopped()) return fail({Errc::cancelled, "stopped"});
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
    const long as_of = o.as_of.value_or(std::max(last, last_read));   // a reading after the last ride counts as well
    const Result<wear::Learned> learned = wear::learn(ctx, *history, priors, as_of, typical, options);
    if (!learned) return fail(learned.error());
    std::vector<Part> parts_on;
    for (int c = 0; c < 6; ++c) {
        const wear::FittedRow* on = nullptr;
        for (const wear::FittedRow& f : history->fitted)
            if (f.component == static_cast<Component>(c) && f.start_ride <= as_of + 1) on = &f;
        if (!on) continue;
        const Result<wear::LifeForecast> f = learned->forecast(ctx, {on->component, on->set, as_of});
        if (!f) return fail(f.error());
        Part p{*on, *f};
        double noise = is_rotor(on->component) ? 0.01 : 0.05;   // a micrometer and a caliper with ordinary care: common practice
        for (const wear::ThicknessRow& r : history->readings)
            if (r.component == on->component && r.set == on->set && r.ride <= as_of) {
                const double sd = std::hypot(r.sd_mm, r.resolution_mm / std::sqrt(12.0));
                if (r.thickness_mm <= on->limit_mm) p.at_limit = &r;
                else if (p.at_limit && sd < std::hypot(p.at_limit->sd_mm, p.at_limit->resolution_mm / std::sqrt(12.0))) p.at_limit = nullptr;
                noise = sd;
            }
        if (o.fitted.empty()) {
            const parts::Wheel& wheel = bike->wheel(wheel_of(on->component) == 0 ? parts::End::front : parts::End::rear);
            p.limit_stated = is_rotor(on->component) ? wheel.rotor.least_thickness_mm.has_value() : wheel.pads.least_friction_mm.has_value();
        }
        const double width = (f->thickness_mm.p95 - f->thickness_mm.p05) / 3.29, told = width * width / (width * width + noise * noise);
        p.narrows = std::sqrt(std::max(0.0, 1 - f->share_now * told));
        parts_on.push_back(p);
    }
    if (parts_on.empty()) return fail({Errc::bad_input, "no part is on this bike by then: look at the start_ride column of the fitted parts"});
    clear_progress();

    const auto due = [](const Part& a, const Part& b) { return a.forecast.limit_ride[3] < b.forecast.limit_ride[3]; };
    const Part& first = *std::min_element(parts_on.begin(), parts_on.end(), due);
    // What would narrow most of the one that comes due first, or of another that may yet come before it.
    const Part* measure = nullptr;
    for (const Part& p : parts_on)
        if (p.forecast.limit_ride[1] <= first.forecast.limit_ride[5] && (!measure || p.narrows < measure->narrows)) measure = &p;
    const std::vector<wear::Question> questions = wear::questions_of(*history);
    bool hold = false, replace = false, doubt = false;
    std::vector<std::string> reasons;
    // What the description itself says is at its limit, where it stands for the parts.
    if (o.fitted.empty())
        for (const Part& p : parts_on) {
            const int w = wheel_of(p.fitted.component);
            const parts::Wheel& wheel = bike->wheel(w == 0 ? parts::End::front : parts::End::rear);
            const std::string at(w == 0 ? "front" : "rear");
            const double limit = stated_limit(*library, wheel, is_rotor(p.fitted.component));
            const double told = is_rotor(p.fitted.component) ? wheel.rotor.thickness_mm.value : wheel.pads.friction_thickness_mm.value;
            if (bike->given.contains(at + (is_rotor(p.fitted.component) ? ".rotor.thickness_mm" : ".pads.friction_thickness_mm")) && told <= limit) {
                hold = true;
                reasons.push_back(fmt::format("Do not ride: the {} is told as {:g} mm, its limit is {:g} mm.", part_name(p.fitted.component), told, limit));
            }
        }
    for (const Part& p : parts_on) {
        if (p.at_limit) {
            hold = true;
            reasons.push_back(fmt::format("Do not ride: the {} read {:g} mm after ride {}, its limit is {:g} mm, and no better reading since says otherwise.", part_name(p.fitted.component), p.at_limit->thickness_mm,
                                          p.at_limit->ride, p.fitted.limit_mm));
        }
        if (!p.limit_stated) doubt = true;
        if (p.forecast.limit_reached_probability >= 0.5) {
            replace = true;
            reasons.push_back(fmt::format("Replace the {}, or measure it and find it sound, before the next ride: it is more likely than not at its limit.", part_name(p.fitted.component)));
        } else if (p.forecast.limit_reached_probability > 0.005) {
            doubt = true;
            reasons.push_back(fmt::format("Measure the {} before the next ride: the chance that it is at its limit already is {} %.", part_name(p.fitted.component),
                                          significant(100 * p.forecast.limit_reached_probability, 2)));
        }
    }
    long day_now = 0;
    double days_a_ride = 0;
    const auto& all = history->rides;
    std::vector<const wear::RiddenRow*> dated;
    for (const wear::RiddenRow& r : all)
        if (r.ride <= as_of && r.day) dated.push_back(&r);
    if (dated.size() > 1) day_now = *dated.back()->day, days_a_ride = static_cast<double>(*dated.back()->day - *dated.front()->day) / static_cast<double>(dated.size() - 1);
    const auto date_of = [&](double rides_on) -> std::string {
        const double days = rides_on * days_a_ride;
        return days_a_ride > 0 && days < 365 * 30 ? format_day(day_now + static_cast<long>(std::floor(days))) : std::string();
    };
    const std::vector<std::string> cautions = {"An estimate does not replace an inspection: a thickness says nothing about a cracked or lifting bond.",
                                               "The maker's instructions and local rules come first. If in doubt do not ride, and see a qualified mechanic."};
    const char* state = hold ? "held_back" : replace ? "replace" : doubt ? "measure_better" : "look_by";

    if (o.common.json) {
        json out = {{"schema", "life/1"}, {"version", version}, {"seed", o.common.seed}, {"as_of_ride", as_of},
                    {"verdict", {{"do_not_ride", hold}, {"state", state}, {"reasons", reasons}}}};
        // A bike that is held back gets no life.
        const auto given = [hold](json value) { return hold ? json(nullptr) : value; };
        json list = json::array();
        for (const Part& p : parts_on) {
            const wear::LifeForecast& f = p.forecast;
            const std::string date = date_of(f.look_by_rides);
            list.push_back({{"component", word_of(p.fitted.component)}, {"set", p.fitted.set}, {"compound", p.fitted.compound.empty() ? json(nullptr) : json(p.fitted.compound)},
                            {"limit_mm", p.fitted.limit_mm}, {"readings", f.readings}, {"thickness_mm", interval(f.thickness_mm)},
                            {"limit_reached_probability", f.limit_reached_probability},
                            {"limit_stated", p.limit_stated},
                            {"limit_ride", given({{"p005", f.limit_ride[0]}, {"p05", f.limit_ride[1]}, {"p25", f.limit_ride[2]}, {"p50", f.limit_ride[3]}, {"p75", f.limit_ride[4]}, {"p95", f.limit_ride[5]}})},
                            {"remaining_rides", given(interval(f.remaining_rides))}, {"remaining_km", given(interval(f.remaining_km))}, {"remaining_descent_m", given(interval(f.remaining_descent_m))},
                            {"remaining_h", given(interval(f.remaining_h))},
                            {"look_by", given({{"rides", std::floor(f.look_by_rides)}, {"km", f.look_by_km}, {"date", date.empty() ? json(nullptr) : json(date)}})},
                            {"moves", {{"thickness_now", f.share_now}, {"wear_rate", f.share_rate}, {"riding_to_come", f.share_riding}}},
                            {"narrows_to_share", p.narrows}, {"capped_share", f.capped_share}});
        }
        out["parts"] = list;
        out["first_due"] = hold ? json(nullptr) : json(word_of(first.fitted.component));
        if (measure) out["measure_next"] = {{"component", word_of(measure->fitted.component)}, {"minutes", is_rotor(measure->fitted.component) ? 5 : 10}, {"narrows_to_share", measure->narrows}};
        else out["measure_next"] = nullptr;
        json asked = json::array();
        for (const wear::Question& q : questions) asked.push_back(q.text);
        out["questions"] = asked;
        out["cautions"] = cautions;
        fmt::print("{}\n", out.dump(2));
        return hold && o.verdict_status ? 5 : 0;
    }
    for (const std::string& r : reasons) fmt::print("{}\n", wrap(r, 96, 2));
    if (!reasons.empty()) fmt::print("\n");
    for (const wear::Question& q : questions) fmt::print("{}\n", wrap("Asked about: " + q.text, 96, 2));
    if (!questions.empty()) fmt::print("\n");
    fmt::print("After ride {}, {} readings in all. Intervals: 5 to 95 %.\n\n", as_of, std::count_if(history->readings.begin(), history->readings.end(), [&](const auto& r) { return r.ride <= as_of; }));
    for (const Part& p : parts_on) {
        const wear::LifeForecast& f = p.forecast;
        std::string line = fmt::format("{} (set {}): {} mm {} ({} to {}), limit {:g} mm", part_name(p.fitted.component), p.fitted.set, significant(f.thickness_mm.p50, 3),
                                       is_rotor(p.fitted.component) ? "thick" : "of friction material", significant(f.thickness_mm.p05, 3), significant(f.thickness_mm.p95, 3), p.fitted.limit_mm);
        if (!p.limit_stated) line += " by common practice (the maker's is not known, so nothing is cleared)";
        if (hold) line += ".";
        else {
            line += fmt::format("; {}, {} km ({} to {})", rides_words(f.remaining_rides), significant(f.remaining_km.p50, 2), significant(f.remaining_km.p05, 2), significant(f.remaining_km.p95, 2));
            if (f.capped_share > 0.05) line += ", the long end cut at the longest that is reckoned";
            const std::string date = date_of(f.look_by_rides);
            line += fmt::format(". Look by: {} rides from then{}.", fmt::format("{:.0f}", std::floor(f.look_by_rides)), date.empty() ? "" : " (" + date + ")");
        }
        fmt::print("{}\n", wrap(line, 96, 2));
    }
    if (!hold) fmt::print("\n{}\n", wrap(fmt::format("First due: the {}.", part_name(first.fitted.component)), 96, 2));
    if (measure && measure->narrows < 0.9)
        fmt::print("{}\n", wrap(fmt::format("Measure next: the {}, {} minutes; its interval would be about {} % as wide.", part_name(measure->fitted.component),
                                            is_rotor(measure->fitted.component) ? 5 : 10, significant(100 * measure->narrows, 2)), 96, 2));
    fmt::print("\n");
    for (const std::string& c : cautions) fmt::print("{}\n", wrap(c, 96, 2));
    return hold && o.verdict_status ? 5 : 0;
}

}  // namespace bw::app
