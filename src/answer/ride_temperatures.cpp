// SPDX-License-Identifier: Apache-2.0
// From readings of temperature in the papers to weights of the anchors.                                  Layer: answer
#include "ride_temperatures.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <map>

#include "base/time.hpp"
#include "heat/measured.hpp"
#include "heat/wheel_engine.hpp"
#include "papers/state.hpp"
#include "ride/route.hpp"

namespace bw::answer {

namespace {

bool is_temperature(const papers::Reading& r) { return r.what == papers::What::caliper_temperature || r.what == papers::What::rotor_temperature; }

struct Found {
    const papers::Reading* reading;
    heat::Measured measured;   // t_s: since the start of the ride
    std::string words;
};

// A strip keeps its highest mark over the rides of its day.
bool is_strip(const papers::Reading& r) { return r.word == "peak"; }
std::optional<papers::Day> day_of(const papers::Ride& r) {
    return r.day ? r.day : r.start_unix_s ? std::optional(format_day(static_cast<long>(std::floor(*r.start_unix_s / 86400)))) : std::nullopt;
}

// "The front caliper's 96 °C of 2026-05-12". A strip on a rotor sits on its arms: where the pads run none holds.
std::string words_of(const papers::Reading& r, double value_degC) {
    return fmt::format("The {} {} {:.0f} °C of {}", parts::word_of(r.place), r.what == papers::What::caliper_temperature ? "caliper's" : is_strip(r) ? "rotor arms'" : "rotor's", value_degC, r.day);
}

heat::Measured measured_of(const papers::Book& book, const papers::Reading& r, const inspect::Practice& practice, const parts::Library& library) {
    std::vector<double> values;
    for (const papers::Point& p : r.points)
        if (p.temperature_degC) values.push_back(*p.temperature_degC);
    // Of repeats of a strip the highest counts: a mark does not fall.
    heat::Measured m{.t_s = 0, .place = r.what == papers::What::caliper_temperature ? heat::MeasuredPlace::caliper : is_strip(r) ? heat::MeasuredPlace::arms : heat::MeasuredPlace::rotor,
                     .value_degC = is_strip(r) && !values.empty() ? *std::max_element(values.begin(), values.end()) : mean_of(values),
                     .sd_K = std::max(0.1, papers::uncertainty_of(book, r, practice, library, static_cast<int>(values.size()))), .set_emissivity = r.set_emissivity, .highest = is_strip(r)};
    if (!r.spot.empty()) m.spot = r.spot == "bare" ? heat::Spot::bare : r.spot == "tinted" ? heat::Spot::tinted : heat::Spot::painted;
    return m;
}

// A ride of this bike whose time is known: also those that the answer does not rest on, which warm the brake as well.
struct Timed {
    const papers::Ride* ride;
    double start_s, end_s;
    std::optional<std::size_t> recorded;   // which of the answer's
};

std::vector<Timed> timed_rides(std::span<const papers::Ride> all, std::span<const papers::Ride> recorded, std::span<const RideWork> works) {
    std::vector<Timed> out;
    for (const papers::Ride& r : all) {
        if (!r.start_unix_s) continue;
        Timed t{.ride = &r, .start_s = *r.start_unix_s, .end_s = *r.start_unix_s + r.duration_s.value_or(0), .recorded = std::nullopt};
        for (std::size_t i = 0; i < recorded.size(); ++i)
            if (recorded[i].id == r.id) t.recorded = i, t.end_s = t.start_s + works[i].ride.duration_s;
        out.push_back(t);
    }
    return out;
}

// The ride that goes on at a time (of two, e.g. recorders, the one that began first: it knows more of the heat), else the one that ended last before it; null: none within 15 minutes.
const Timed* ride_at(std::span<const Timed> rides, double unix_s) {
    const Timed* best = nullptr;
    const auto goes_on = [&](const Timed& t) { return unix_s <= t.end_s; };
    for (const Timed& t : rides) {
        if (unix_s < t.start_s || unix_s > t.end_s + after_ride_s) continue;
        if (!best || (goes_on(t) != goes_on(*best) ? goes_on(t) : goes_on(t) ? t.start_s < best->start_s : t.end_s > best->end_s)) best = &t;
    }
    return best;
}

// One that began before this one and had ended for less than 15 minutes, or not at all, when it began: the brake was warm, and the run of this one starts at the air's temperature.
const Timed* ridden_before(std::span<const Timed> rides, const Timed& ride) {
    for (const Timed& t : rides)
        if (t.start_s < ride.start_s && t.end_s > ride.start_s - after_ride_s) return &t;
    return nullptr;
}

// The part of a kind that was there on a day, as far as is known. Before the first day of which parts were told: the first that was there afterwards, since the description speaks of it.
const papers::Part* part_on(const papers::Book& book, const papers::Reading& r, papers::PartKind kind, const papers::Day& today) {
    std::vector<papers::Day> days = {r.day};
    for (const papers::Fitting& f : book.fittings)
        if (f.from_day > r.day && f.from_day <= today) days.push_back(f.from_day);
    std::sort(days.begin(), days.end());
    for (const papers::Day& day : days)
        if (const papers::Part* p = papers::part_at(book, r.bike_id, kind, r.place, day)) return p;
    return nullptr;
}

const papers::Part* named(const papers::Book& book, const std::optional<papers::Id>& id, papers::PartKind kind) {
    for (const papers::Part& p : book.parts)
        if (id == p.id && p.kind == kind) return &p;
    return nullptr;
}

// The part whose heat a reading tells of and the one that is there today; the caliper's heat is that of the rotor too.
struct Change {
    const char* word = "";
    const papers::Part *then = nullptr, *now = nullptr;
};
std::optional<Change> changed_since(const papers::Book& book, const papers::Reading& r, const papers::Day& today) {
    for (const auto& [kind, word] : {std::pair{papers::PartKind::rotor, "rotor"}, std::pair{papers::PartKind::caliper, "caliper"}}) {
        if (kind == papers::PartKind::caliper && r.what != papers::What::caliper_temperature) continue;
        const papers::Part *now = papers::part_at(book, r.bike_id, kind, r.place, today), *said = named(book, r.part_id, kind), *there = part_on(book, r, kind, today);
        // Of a day on which parts were changed, a reading that names none may be of either.
        const papers::Part* before = said ? nullptr : papers::part_at(book, r.bike_id, kind, r.place, format_day(parse_day(r.day).value_or(0) - 1));
        // What the reading names and what the papers say was there: all must be the one of today.
        for (const papers::Part* then : {said, there, before})
            if (then && then != now) return Change{word, then, now};
    }
    return std::nullopt;
}

// The anchors of one ride, and of the quarter of an hour after it: [front, rear][anchor_cases], empty for a wheel that is not asked for.
struct AnchorRuns {
    std::array<std::vector<heat::ReferenceBrake>, 2> brakes;
    std::array<std::vector<heat::HeatRows>, 2> states;
    std::array<std::vector<heat::HeatPeaks>, 2> peaks;
};

Result<AnchorRuns> runs_of(const Context& ctx, const parts::Library& library, const Request& ridden, const RideInput& input, std::span<const Case> cases, std::span<const Found> found, bool keep_states) {
    const std::vector<RideUnknowns> unknowns = ride_unknowns(ctx, library, input.tags, input.track.content_hash, median_of(input.track.temperature_degC), cases);
    Result<ride::MotionPaths> motion = motion_of(ctx, library, ridden, input, unknowns);
    if (!motion) return motion.error();
    const double altitude_m = mean_of(motion->altitude_m);
    AnchorRuns out;
    for (const parts::End end : ends) {
        const auto e = static_cast<std::size_t>(end);
        if (std::none_of(found.begin(), found.end(), [&](const Found& f) { return f.reading->place == end; })) continue;
        out.states[e].resize(anchor_cases), out.brakes[e].resize(anchor_cases), out.peaks[e].resize(anchor_cases);
        std::vector<Status> status(anchor_cases, Done{});
        parallel_for(ctx, anchor_cases, [&](std::size_t i) {
            const Case& c = cases[i];
            std::vector<heat::PowerRow> rows = wheel_rows(c, input.tags, *motion, motion->paths[i]).rows[e];
            constexpr double step_s = 10;
            for (double after = step_s; after <= after_ride_s; after += step_s) rows.push_back({.t_s = static_cast<double>(motion->size()) + after, .speed_mps = 0, .power_W = 0});
            out.brakes[e][i] = heat::reference_of(library, c.bike, end, c.heat[e], motion->paths[i].parameters.air_degC, altitude_m);
            Result<heat::WheelHeat> run = heat::heat_of_wheel_by_engine(out.brakes[e][i], c.heat[e], rows, 0, std::nullopt, ctx.stop);
            if (!run) {
                status[i] = run.error();
                return;
            }
            out.peaks[e][i] = run->peaks;
            if (keep_states) out.states[e][i] = std::move(run->states);
        });
        for (const Status& s : status)
            if (!s) return s.error();
    }
    return out;
}

// Readings beside those runs; misfit: added to. Readings that no anchor comes near are taken out and said. where: the ride's file.
void beside(const AnchorRuns& runs, const std::string& where, std::vector<Found>& found, ReadTemperatures& out) {
    for (const parts::End end : ends) {
        const auto e = static_cast<std::size_t>(end);
        if (runs.brakes[e].empty()) continue;
        // A reading three of its uncertainties beyond what any anchor shows fits no case. Between anchors it may lie further from each: they are few.
        std::erase_if(found, [&](const Found& f) {
            if (f.reading->place != end) return false;
            double least = 1e9, most = -1e9;
            for (std::size_t i = 0; i < anchor_cases; ++i) {
                const auto [low, high] = heat::misfit_of(runs.brakes[e][i], runs.states[e][i], runs.peaks[e][i], std::span(&f.measured, 1)).shows.front();
                least = std::min(least, low), most = std::max(most, high);
            }
            const heat::Measured& m = f.measured;
            if (m.value_degC >= least - 3 * m.sd_K && m.value_degC <= most + 3 * m.sd_K) return false;
            out.idle.push_back(fmt::format("{} fits no likely case of {}: {} {:.0f} to {:.0f} °C would be shown. It weighs nothing. Check {}, then the bike's description; a brake that is hotter than any case is hotter than is said here.", f.words, where,
                                           m.highest ? "at its hottest" : "at that time", least, most, m.highest ? "whether the strip was on for these rides and no others" : "the time, whether infra-red looked at bare metal"));
            return true;
        });
        std::vector<heat::Measured> measured;
        for (const Found& f : found)
            if (f.reading->place == end) measured.push_back(f.measured);
        if (measured.empty()) continue;
        out.misfit.resize(anchor_cases, 0.0);
        for (std::size_t i = 0; i < anchor_cases; ++i) out.misfit[i] += heat::misfit_of(runs.brakes[e][i], runs.states[e][i], runs.peaks[e][i], measured).misfit;
    }
}

// What a strip keeps of two runs.
void take_hotter(std::vector<heat::HeatPeaks>& peaks, const std::vector<heat::HeatPeaks>& other) {
    for (std::size_t i = 0; i < other.size(); ++i)
        for (const auto place : {&heat::HeatPeaks::arms, &heat::HeatPeaks::caliper})
            if ((other[i].*place).degC > (peaks[i].*place).degC) peaks[i].*place = other[i].*place;
}

// In logarithms: far from all cases, or where the share has none left, every factor by itself would be zero.
std::vector<double> weights_at(const std::vector<double>& misfit, const CaseWeights* share, double power) {
    std::vector<double> logs, w;
    double sum = 0;
    for (std::size_t i = 0; i < misfit.size(); ++i) logs.push_back((power > 0 ? -power * misfit[i] / 2 : 0) + (share ? std::log(share->anchors[i]) : 0));
    const double most = *std::max_element(logs.begin(), logs.end());
    for (const double l : logs) w.push_back(std::exp(l - most)), sum += w.back();
    for (double& x : w) x *= static_cast<double>(misfit.size()) / sum;
    return w;
}

}  // namespace

Result<std::string> said_temperatures(papers::Papers& papers, const papers::Id& bike, const papers::Day& today) {
    Result<papers::Book> book = papers::book_of(papers, bike);
    if (!book) return book.error();
    std::string out = "temperatures";
    bool any = false, strip = false;
    for (const papers::Reading& r : book->readings) {
        if (r.bike_id != bike || !is_temperature(r) || r.day > today) continue;
        any = true;
        strip = strip || is_strip(r);
        if (const std::optional<Change> c = changed_since(*book, r, today)) out += fmt::format(" {} {}", c->then->id, c->now ? c->now->id : "-");   // two may be alike in all figures
        out += " " + r.id + " " + r.person_id + " " + r.instrument_id.value_or("-");
        for (const papers::Instrument& i : book->instruments)
            if (i.id == r.instrument_id) out += fmt::format(" {} {}", i.resolution_degC.value_or(-1), i.permitted_error_degC.value_or(-1));
        for (const papers::Person& p : book->people)
            if (p.id == r.person_id) out += fmt::format(" {}", p.repeat_sd_degC.value_or(-1));
    }
    if (!any) return out;
    Result<std::vector<papers::Ride>> rides = papers.rides(bike);
    if (!rides) return rides.error();
    out += " rides";
    for (const papers::Ride& r : *rides)
        if (r.start_unix_s || (strip && r.day)) out += fmt::format(" {} {} {} {}{}", r.id, r.file_name, r.start_unix_s.value_or(-1), r.duration_s.value_or(-1), strip ? " " + r.day.value_or("-") : "");
    return out;
}

Result<ReadTemperatures> temperatures_of(const Context& ctx, const parts::Library& library, papers::Papers& papers, const papers::Id& bike, const papers::Day& today, const Request& ridden, std::span<const papers::Ride> recorded,
                                         std::span<const RideInput> inputs, std::span<const RideWork> works, std::span<const Case> cases) {
    ReadTemperatures out;
    Result<papers::Book> book = papers::book_of(papers, bike);
    if (!book) return book.error();
    const inspect::Practice practice = inspect::practice_of(library);
    Result<std::vector<papers::Ride>> all = papers.rides(bike);
    if (!all) return all.error();
    const std::vector<Timed> timed = timed_rides(*all, recorded, works);
    int without_time = 0, of_others = 0;
    std::vector<std::vector<Found>> of_ride(recorded.size());
    struct Strips {
        std::vector<std::size_t> rides;
        std::vector<Found> found;
    };
    std::map<papers::Day, Strips> of_day;
    for (const papers::Reading& r : book->readings) {
        if (r.bike_id != bike || !is_temperature(r) || r.day > today || r.points.empty()) continue;
        heat::Measured m = measured_of(*book, r, practice, library);
        const std::string words = words_of(r, m.value_degC);
        if (!r.read_unix_s && !is_strip(r)) {
            ++without_time;
            continue;
        }
        std::vector<const Timed*> on;
        if (is_strip(r)) {
            int untimed = 0;
            for (const papers::Ride& ridden_then : *all)
                if (day_of(ridden_then) == r.day) untimed += ridden_then.start_unix_s ? 0 : 1;
            for (const Timed& t : timed)
                if (day_of(*t.ride) == r.day) on.push_back(&t);
            if (on.empty() || untimed > 0) {
                out.idle.push_back(fmt::format("{} weighs nothing: a strip keeps the highest of the rides of its day, and {}.", words, on.empty() ? "no recorded ride of that day is in the papers; --day says on which it was on" : "one of them was not recorded"));
                continue;
            }
        } else if (const Timed* ride = ride_at(timed, *r.read_unix_s)) on.push_back(ride);
        if (on.empty()) {
            out.idle.push_back(fmt::format("{} weighs nothing: no recorded ride of this bike goes on at {} or ended within 15 minutes before. Was the time right (nothing behind it: UTC), and is the ride in the papers?", words, format_time(*r.read_unix_s)));
            continue;
        }
        if (std::any_of(on.begin(), on.end(), [](const Timed* t) { return !t->recorded; })) {
            ++of_others;
            continue;
        }
        if (const std::optional<Change> c = changed_since(*book, r, today)) {
            out.idle.push_back(fmt::format("{} weighs nothing: it was read on another {} ({}) than {}.", words, c->word, c->then->name, c->now ? fmt::format("today's ({})", c->now->name) : std::string("is there today: none is noted")));
            continue;
        }
        const auto idle_for = [&](const Timed& ride) -> std::string {
            if (const Timed* before = ridden_before(timed, ride))
                return fmt::format("{} ended less than 15 minutes before {} began, so the brake was still warm from it, and each ride is computed from a cold brake", before->ride->file_name, ride.ride->file_name);
            const RideWork& work = works[*ride.recorded];
            const RideTags& tags = inputs[*ride.recorded].tags;
            if (!work.ride.heat_withheld.empty() || work.ride.misfit) return "what the brakes did on its ride is not known";
            if ((tags.weather && *tags.weather != Weather::dry) || tags.surface == stop::Surface::wet) return "its ride was told as wet, and what water takes from a brake was never measured";
            return "";
        };
        std::string why;
        for (const Timed* t : on)
            if (why.empty()) why = idle_for(*t);
        if (!why.empty()) {
            out.idle.push_back(fmt::format("{} weighs nothing: {}.", words, why));
            continue;
        }
        if (is_strip(r)) {
            Strips& strips = of_day[r.day];
            strips.rides.clear();
            for (const Timed* t : on) strips.rides.push_back(*t->recorded);
            // A highest mark does not fall: of two of one day and place the lower is of a part of the day, and of which nobody said.
            const auto same = std::find_if(strips.found.begin(), strips.found.end(), [&](const Found& f) { return f.reading->place == r.place && f.measured.place == m.place; });
            if (same == strips.found.end()) {
                strips.found.push_back({&r, m, words});
                continue;
            }
            const bool higher = m.value_degC > same->measured.value_degC;
            out.idle.push_back(fmt::format("{} weighs nothing: another strip of that day and place shows more, so this one was on for a part of it.", higher ? same->words : words));
            if (higher) *same = {&r, m, words};
            continue;
        }
        m.t_s = *r.read_unix_s - on.front()->start_s;
        of_ride[*on.front()->recorded].push_back({&r, m, words});
    }
    // One line for all of them, however many come together over the years.
    const auto weigh_nothing = [](int n) { return n == 1 ? std::string("One temperature weighs nothing") : fmt::format("{} temperatures weigh nothing", n); };
    if (without_time > 0)
        out.idle.push_back(weigh_nothing(without_time) + ": nobody said when it was read. `papers add reading ... --at TIME`, on a recorded ride or within 15 minutes after one, makes a reading count; `--at peak` the highest mark of a strip.");
    if (of_others > 0) out.idle.push_back(weigh_nothing(of_others) + ": read on a ride that this answer does not rest on, since it was ridden before the days that count, has no recording, or could not be used.");
    // Nothing: the ride has no times any more, which is said.
    const auto input_of = [&](std::size_t i, std::span<const Found> found) -> Result<std::optional<RideInput>> {
        if (ctx.stopped()) return cancelled();
        Result<std::string> bytes = papers.ride_content(recorded[i].id);
        if (!bytes) return bytes.error();
        Result<ride::Recording> recording = ride::read_recording(*bytes, recorded[i].file_name);
        if (!recording) return recording.error();
        if (auto* track = std::get_if<ride::Track>(&*recording)) return std::optional(RideInput{std::move(*track), inputs[i].tags});
        for (const Found& f : found) out.idle.push_back(fmt::format("{} weighs nothing: {} has no times any more, so no moment of it is known.", f.words, recorded[i].file_name));
        return std::optional<RideInput>();
    };
    for (std::size_t i = 0; i < recorded.size(); ++i) {
        std::vector<Found>& found = of_ride[i];
        if (found.empty()) continue;
        Result<std::optional<RideInput>> input = input_of(i, found);
        if (!input) return input.error();
        if (!*input) continue;
        Result<AnchorRuns> runs = runs_of(ctx, library, ridden, **input, cases, found, true);
        if (!runs) return runs.error();
        beside(*runs, recorded[i].file_name, found, out);
        for (const Found& f : found) out.tied.push_back({.ride = i, .front = f.reading->place == parts::End::front, .words = f.words});
    }
    for (auto& [day, strips] : of_day) {
        std::optional<AnchorRuns> hottest;
        std::array<std::pair<double, std::size_t>, 2> where{};   // mean peak of the rotor, and on which ride: the band of that one is told
        bool known = true;
        for (const std::size_t i : strips.rides) {
            Result<std::optional<RideInput>> input = input_of(i, strips.found);
            if (!input) return input.error();
            known = known && input->has_value();
            if (!known) break;
            Result<AnchorRuns> runs = runs_of(ctx, library, ridden, **input, cases, strips.found, false);
            if (!runs) return runs.error();
            for (std::size_t e = 0; e < 2; ++e) {
                double mean = 0;
                for (const heat::HeatPeaks& p : runs->peaks[e]) mean += p.rotor_surface.degC / anchor_cases;
                if (!hottest || mean > where[e].first) where[e] = {mean, i};
                if (hottest) take_hotter(hottest->peaks[e], runs->peaks[e]);
            }
            if (!hottest) hottest = *std::move(runs);
        }
        if (!known || !hottest) continue;
        beside(*hottest, strips.rides.size() == 1 ? recorded[strips.rides.front()].file_name : fmt::format("the {} rides of that day", strips.rides.size()), strips.found, out);
        for (const Found& f : strips.found) {
            const bool front = f.reading->place == parts::End::front;
            out.tied.push_back({.ride = where[front ? 0 : 1].second, .front = front, .words = f.words});
        }
    }
    return out;
}

std::vector<std::string> weigh_by_temperatures(std::span<RideAnswer> rides, std::span<const std::shared_ptr<const Anchored>> heat, const Doses& doses, const ReadTemperatures& t, const CaseWeights* share, const parts::Library& library,
                                               const parts::Bike& bike, std::span<const Case> cases) {
    std::vector<std::string> out;
    if (!t.misfit.empty()) {
        // The learned share may have left few already: it is never tempered here.
        const double floor = std::min(anchor_cases / 4.0, share ? effective(share->anchors) * 0.999 : 1e9);
        double power = 1;
        if (!(effective(weights_at(t.misfit, share, 1)) >= floor)) {   // all zero, which is no weight at all, is too few as well
            double low = 0, high = 1;
            for (int step = 0; step < 40; ++step) (effective(weights_at(t.misfit, share, 0.5 * (low + high))) >= floor ? low : high) = 0.5 * (low + high);
            power = low;
        }
        CaseWeights w;
        w.anchors = weights_at(t.misfit, share, power);
        w.cases = share ? share->cases : std::vector<double>(cases.size(), 1.0);
        std::vector<std::array<WheelHeatAnswer, 2>> before;
        for (const RideAnswer& r : rides) before.push_back(r.wheels);
        weigh(rides, heat, doses, w, library, bike, cases);
        const auto band = [](const Interval& i) { return fmt::format("{:.0f} to {:.0f}", i.p05, i.p95); };
        for (const ReadTemperatures::Tied& tied : t.tied) {
            const std::size_t e = tied.front ? 0 : 1;
            const WheelHeatAnswer &was = before[tied.ride][e], &is = rides[tied.ride].wheels[e];
            const Interval &a = was.rotor_peak_degC, &b = is.rotor_peak_degC;
            out.push_back(fmt::format("{} on {} {} the rotor's band from {} to {} °C{}.", tied.words, rides[tied.ride].file, b.p95 - b.p05 < a.p95 - a.p05 ? "narrowed" : "moved", band(a), band(b),
                                      is.has_fluid ? fmt::format(" and the fluid's from {} to {} °C", band(was.fluid_peak_degC), band(is.fluid_peak_degC)) : ""));
        }
        // A wheel nobody read, on the rides that were read: fewer cases may scatter more.
        for (std::size_t i = 0; i < rides.size(); ++i)
            for (std::size_t e = 0; e < 2; ++e) {
                const auto of_ride = [&](const ReadTemperatures::Tied& tied) { return tied.ride == i; };
                const auto of_wheel = [&](const ReadTemperatures::Tied& tied) { return tied.ride == i && tied.front == (e == 0); };
                if (std::none_of(t.tied.begin(), t.tied.end(), of_ride) || std::any_of(t.tied.begin(), t.tied.end(), of_wheel)) continue;
                const Interval &a = before[i][e].rotor_peak_degC, &b = rides[i].wheels[e].rotor_peak_degC;
                if (b.p95 - b.p05 <= a.p95 - a.p05) continue;
                out.push_back(fmt::format("The {} rotor's band on {} went from {} to {} °C though nothing was read there: only {:.0f} of {} likely cases still count, and so few scatter.", parts::word_of(ends[e]), rides[i].file, band(a), band(b),
                                          effective(w.anchors), anchor_cases));
            }
        out.push_back(fmt::format("All rides' temperatures are weighed so: {:.0f} of {} likely cases count.{} A reading can be wrong, so the verdict, boiling and fading stay as they are without it where that is worse; lives do not use it.", effective(w.anchors), anchor_cases,
                                  power < 1 ? " Few are like what was read, so the weights go only part of the way." : ""));
    }
    out.insert(out.end(), t.idle.begin(), t.idle.end());
    return out;
}

}  // namespace bw::answer
