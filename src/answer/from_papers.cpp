// SPDX-License-Identifier: Apache-2.0
// The answers from the papers: rides computed once, kept, and found again.                               Layer: answer
// Theory: docs/decisions/0013-answers-from-papers.md.
#include "answer/from_papers.hpp"

#include <fmt/format.h>
#include <fmt/ranges.h>

#include <algorithm>
#include <bit>
#include <cmath>

#include "base/sampling.hpp"
#include "base/time.hpp"
#include "forecasts.hpp"
#include "learned_share.hpp"
#include "life_of_papers.hpp"
#include "model_versions.hpp"
#include "papers/state.hpp"
#include "ride_temperatures.hpp"
#include "work.hpp"

namespace bw::answer {

namespace {

std::string said(const std::optional<double>& x) { return x ? fmt::format("{}", *x) : std::string("-"); }
std::string said(const RideTags& t) {
    return fmt::format("surface {} weather {} wind {} air {} load {}", t.surface ? static_cast<int>(*t.surface) : -1, t.weather ? static_cast<int>(*t.weather) : -1, said(t.wind_mps),
                       said(t.air_degC), said(t.load_kg)) + (t.wind_from_deg ? fmt::format(" from {}", *t.wind_from_deg) : std::string());
}

// Every value that the bike has, told or assumed, and which are told: some rooms ask.
std::string canonical(parts::Bike bike) {
    const std::string given = fmt::format("{}", fmt::join(bike.given, " "));
    bike.name.clear();
    return parts::write_bike(bike) + given;
}

// All data rows of the program: more than any answer reads, so nothing is found again that rested on another one.
std::string canonical(const parts::Library& library) {
    std::string all;
    for (const auto& [id, row] : library.rows()) all += fmt::format("{} {} {} {}\n", id, row.value.value, row.value.sd, row.unit);
    return papers::content_id(all);
}

// The rows of the anchor cases, but for inputs that the work of a ride does not read: a described ride in the papers must not
// make the recorded ones be computed again.
std::string canonical(const Cases& drawn) {
    std::string all;
    for (const Input& input : drawn.inputs()) {
        if (input.key.starts_with("told.") || input.key.starts_with("plan.") || input.key.starts_with("described.")) continue;
        all += input.key;
        for (std::size_t i = 0; i < anchor_cases; ++i) all += fmt::format(" {}", drawn.at(input.key, i));
        all += '\n';
    }
    return papers::content_id(all);
}

RideTags tags_of(const papers::Ride& r, const RideTags& common) {
    RideTags t{.surface = stop::surface_of(r.surface), .weather = weather_of(r.weather), .wind_mps = r.wind_mps, .air_degC = r.air_degC, .load_kg = r.load_kg, .wind_from_deg = r.wind_from_deg};
    if (!t.surface) t.surface = common.surface;
    if (!t.weather) t.weather = common.weather;
    fill_wind(t, common);
    if (!t.air_degC) t.air_degC = common.air_degC;
    if (!t.load_kg) t.load_kg = common.load_kg;
    return t;
}

//! Which rides the answer rests on, and what it is asked.
struct Question {
    BikeOfPapers bike;
    std::vector<papers::Ride> recorded, described;
    std::vector<papers::Ride> all;    // rides up to today, by day: the lines of request.papers->learn
    std::vector<std::size_t> older;   // in all: recorded ones that only the learning asks for
    Request request;                  // of the bike today; tracks are left empty
    std::vector<std::string> notes;
};

std::string said(const inspect::Check& c) { return fmt::format("{} {} {} {} {} {}", static_cast<int>(c.id), c.code, static_cast<int>(c.state), c.done, c.do_not_ride, c.text); }

Result<Question> question_of(const parts::Library& library, papers::Papers& papers, const FromPapers& ask) {
    const std::optional<long> today = parse_day(ask.today);
    if (!today) return Error{Errc::bad_input, fmt::format("'{}' is no day: expected one as 2026-05-01", ask.today)};
    Result<BikeOfPapers> bike = bike_of_papers(library, papers, ask.bike, ask.today);
    if (!bike) return bike.error();
    if (ask.total_mass_kg)
        for (parts::Bike* b : {&bike->ridden, &bike->today}) {
            b->total_mass_kg = {.value = *ask.total_mass_kg, .sd = 0.015 * *ask.total_mass_kg, .grade = Grade::measured, .source = "as asked"};
            b->given.insert("bike.total_mass_kg");
        }
    Result<std::vector<papers::Ride>> rides = papers.rides(ask.bike);
    if (!rides) return rides.error();

    // The riding of the year before today stands for what comes; whatever wore a part since it was read counts as well.
    papers::Day from = ask.since.value_or(format_day(*today - 365));
    for (const auto* since : {&bike->pads_since, &bike->rotor_since})
        for (const std::optional<papers::Day>& day : *since)
            if (day) from = std::min(from, *day);
    std::erase_if(*rides, [&](const papers::Ride& r) { const auto day = day_of(r); return day && *day > ask.today; });
    const auto recent = [&](const papers::Ride& r) { const auto day = day_of(r); return !day || *day >= from; };
    if (!ask.since && std::none_of(rides->begin(), rides->end(), recent)) from.clear();   // nothing in that time: all there is

    Question q;
    q.all = *rides;
    std::stable_sort(q.all.begin(), q.all.end(), [](const papers::Ride& a, const papers::Ride& b) {
        const auto x = day_of(a), y = day_of(b);
        if (x.has_value() != y.has_value()) return x.has_value();
        if (x && *x != *y) return *x < *y;
        return a.start_unix_s.value_or(0) < b.start_unix_s.value_or(0);
    });
    for (papers::Ride& r : *rides) {
        if (!from.empty() && !recent(r)) continue;
        (r.kind == papers::RideKind::recorded ? q.recorded : q.described).push_back(std::move(r));
    }
    Request& request = q.request;
    request.bike = bike->today;
    request.cases = ask.cases;
    request.altitude = ask.altitude;
    request.today = today;
    request.latest_day = *today + 1;
    request.keep_series = ask.keep_series;
    request.stop_grade = ask.stop_grade;
    request.planned = ask.planned;
    for (const papers::Ride& r : q.described) {
        DescribedRow row;
        row.where = r.file_name;   // the table's, so the day tells which of its rides
        if (const auto day = day_of(r)) {
            row.day = parse_day(*day);
            row.where += " of " + *day;
        }
        row.distance_m = r.distance_m.value_or(0);
        row.descent_m = r.descent_m;
        row.stops_per_km = r.stops_per_km;
        row.tags = tags_of(r, ask.tags);
        request.described.push_back(std::move(row));
    }
    request.papers = PapersSay{.checks = bike->checks, .wore_pads = {}, .wore_rotor = {}, .learn = {}};
    Result<papers::Book> book = papers::book_of(papers, ask.bike);
    if (!book) return book.error();
    const auto own = std::find_if(book->bikes.begin(), book->bikes.end(), [&](const papers::Bike& b) { return b.id == ask.bike; });
    Result<parts::Bike> described = parts::read_bike(own->description_toml, own->name, library);
    if (!described) return described.error();
    const Result<RidesElsewhere> elsewhere = rides_elsewhere_of(papers, *book, ask.bike, ask.today);
    if (!elsewhere) return elsewhere.error();
    LearnSay learn = learn_of_papers(library, *book, *own, *described, bike->ridden, q.all, ask.today, *elsewhere);
    learn.from = learned_from(*book, *own, q.all, ask.today);   // now: what is noted while rides are computed is not in it
    learn.as_asked = ask.since.has_value() || !ask.planned.empty();
    // Readings tell of the rides before them: these are wanted back to the first set that was read, three years at most.
    papers::Day learn_from = ask.today;
    for (const wear::FittedRow& f : learn.ask.history.fitted)
        if (std::any_of(learn.ask.history.readings.begin(), learn.ask.history.readings.end(), [&](const wear::ThicknessRow& r) { return r.component == f.component && r.set == f.set; })) {
            const auto n = static_cast<std::size_t>(wear::first_ride_of(f) - 1);
            if (n < q.all.size())
                if (const auto day = day_of(q.all[n])) learn_from = std::min(learn_from, *day);
        }
    learn_from = std::max(learn_from, format_day(*today - 3 * 365));
    for (std::size_t i = 0; i < q.all.size(); ++i) {
        const papers::Ride& r = q.all[i];
        if (r.kind != papers::RideKind::recorded || std::any_of(q.recorded.begin(), q.recorded.end(), [&](const papers::Ride& x) { return x.id == r.id; })) continue;
        if (const auto day = day_of(r); day && *day >= learn_from) q.older.push_back(i);
    }
    request.papers->learn = std::move(learn);
    q.bike = *std::move(bike);
    return q;
}

// Once it is known which recorded rides count.
void say_what_wore(Question& q) {
    PapersSay& say = *q.request.papers;
    for (std::size_t e = 0; e < 2; ++e) {
        const auto fill = [&](std::vector<std::uint8_t>& wore, const std::optional<papers::Day>& since) {
            wore.clear();
            // A ride of the day of the reading may have come after it, and a ride of no day at any time.
            const auto after = [&](const papers::Ride& r) { const auto day = day_of(r); return std::uint8_t{since && (!day || *day >= *since)}; };
            for (const papers::Ride& r : q.recorded) wore.push_back(after(r));
            wore.resize(wore.size() + q.request.planned.size(), 0);
            for (const papers::Ride& r : q.described) wore.push_back(after(r));
        };
        fill(say.wore_pads[e], q.bike.pads_since[e]);
        fill(say.wore_rotor[e], q.bike.rotor_since[e]);
    }
}

//! Work that is kept in the papers.
class Keeper {
public:
    Keeper(papers::Papers& papers, const FromPapers& ask, PapersAnswer& told) : papers_(papers), ask_(ask), told_(told) {}

    Result<RideWork> get(const papers::Id& key, const papers::Id& ride, const std::function<Result<RideWork>()>& compute) {
        if (!ask_.keep_series) {
            Result<std::optional<papers::KeptDose>> kept = papers_.dose(key);
            if (!kept) return kept.error();
            if (*kept)
                if (std::optional<RideWork> work = work_of((*kept)->bytes)) {
                    ++told_.rides_found;
                    return *std::move(work);
                }
        }
        Result<RideWork> work = compute();
        if (!work) return work;
        ++told_.rides_computed;
        if (!ask_.keep_series && keeping_) {
            const Status kept = papers_.keep_dose({.id = key, .ride_id = ride, .made_unix_s = ask_.made_unix_s, .model_versions = std::string(work_models), .bytes = bytes_of(*work)});
            if (!kept) {   // papers that cannot be written can be answered from
                keeping_ = false;
                told_.notes.push_back(fmt::format("the work of the rides could not be kept, it will be done again: {}", kept.error().text));
            }
        }
        return work;
    }

private:
    papers::Papers& papers_;
    const FromPapers& ask_;
    PapersAnswer& told_;
    bool keeping_ = true;
};

// Kept with an answer: one that decayed or was edited does not fit it, and is computed again.
std::string stamp_of(const std::string& json) { return fmt::format("{}; {}; content {}", work_models, answer_models, papers::content_id(json)); }

std::string settings_of(const FromPapers& ask) { return ask.altitude ? std::string(ride::word_of(*ask.altitude)) : "auto"; }

Result<RideWork> compute_ride(const Context& ctx, const parts::Library& library, papers::Papers& papers, const Request& ridden, const papers::Ride& r, const RideTags& tags,
                              std::span<const Case> cases, double from, double to) {
    Result<std::string> bytes = papers.ride_content(r.id);
    if (!bytes) return bytes.error();
    Result<ride::Recording> recording = ride::read_recording(*bytes, r.file_name);
    if (!recording) return recording.error();
    auto* track = std::get_if<ride::Track>(&*recording);
    if (!track) return Error{Errc::bad_input, fmt::format("{}: a way without times is no ride", r.file_name)};
    return ride_work(ctx, library, ridden, {std::move(*track), tags}, cases, from, to);
}

RideLine& line_in(Question& q, const papers::Id& ride) {
    const auto at = std::find_if(q.all.begin(), q.all.end(), [&](const papers::Ride& r) { return r.id == ride; });
    return q.request.papers->learn->lines[static_cast<std::size_t>(at - q.all.begin())];
}

// Which line each ride of the answer is: recorded, planned, described.
void name_lines(Question& q) {
    auto& line_of = q.request.papers->learn->line_of;
    line_of.clear();
    const auto add = [&](const papers::Ride& r) {
        line_of.push_back(static_cast<std::size_t>(std::find_if(q.all.begin(), q.all.end(), [&](const papers::Ride& x) { return x.id == r.id; }) - q.all.begin()));
    };
    for (const papers::Ride& r : q.recorded) add(r);
    for (std::size_t i = 0; i < q.request.planned.size(); ++i) line_of.push_back(std::nullopt);
    for (const papers::Ride& r : q.described) add(r);
}

using KeyWith = std::function<papers::Id(std::vector<std::string>)>;

// Keys of the work of rides on this bike.
KeyWith key_maker(const Context& ctx, const parts::Library& library, const Request& ridden, const Cases& drawn, const FromPapers& ask) {
    const std::vector<std::string> of_all = {std::string(work_models), canonical(library), canonical(ridden.bike), canonical(drawn), fmt::format("seed {} K {}", ctx.seed, anchor_cases), settings_of(ask)};
    return [of_all](std::vector<std::string> more) {
        more.insert(more.begin(), of_all.begin(), of_all.end());
        return papers::key_of(more);
    };
}

// The anchors of the bike as it was ridden: draws go by the name of an input, so that case i is the same rider on both.
struct AsRidden {
    Request request;
    std::vector<Case> cases;
    KeyWith key_with;
};
AsRidden as_ridden(const Context& ctx, const parts::Library& library, const Question& q, const FromPapers& ask) {
    Request ridden = q.request;
    ridden.bike = q.bike.ridden;
    const Cases drawn = draw_cases(all_inputs(library, ridden), anchor_cases, ctx.seed);
    std::vector<Case> cases = cases_of(library, ridden.bike, drawn);
    KeyWith key_with = key_maker(ctx, library, ridden, drawn, ask);
    return {std::move(ridden), std::move(cases), std::move(key_with)};
}

// Rides before those of the answer that wore sets which were read since.
Status work_of_older(const Context& ctx, const parts::Library& library, papers::Papers& papers, const FromPapers& ask, Question& q, const Request& ridden, std::span<const Case> cases,
                     Keeper& keeper, const KeyWith& key_with) {
    for (const std::size_t i : q.older) {
        if (ctx.stopped()) return cancelled();
        const papers::Ride& r = q.all[i];
        const RideTags tags = tags_of(r, ask.tags);
        Result<RideWork> work = keeper.get(key_with({"ride", r.id, r.file_name, said(tags)}), r.id, [&] { return compute_ride(ctx, library, papers, ridden, r, tags, cases, 0.85, 0.9); });
        if (work) take_work(line_in(q, r.id), *work);   // of one that cannot be read, its way alone counts
        else if (work.error().code != Errc::bad_input && work.error().code != Errc::out_of_domain) return work.error();
    }
    return Done{};
}

}  // namespace

Result<PapersAnswer> answer_from_papers(const Context& ctx, const parts::Library& library, papers::Papers& papers, const FromPapers& ask) {
    Result<Question> asked = question_of(library, papers, ask);
    if (!asked) return asked.error();
    Question& q = *asked;
    PapersAnswer out;
    out.notes = q.notes;

    const AsRidden before = as_ridden(ctx, library, q, ask);
    const Request& ridden = before.request;
    const std::vector<Case>& cases = before.cases;
    const KeyWith& key_with = before.key_with;

    Keeper keeper(papers, ask, out);
    std::vector<RideWork> works;
    std::vector<papers::Ride> counted;
    for (std::size_t i = 0; i < q.recorded.size(); ++i) {
        if (ctx.stopped()) return cancelled();
        const papers::Ride& r = q.recorded[i];
        const RideTags tags = tags_of(r, ask.tags);
        const double step = 0.85 / static_cast<double>(q.recorded.size()), from = step * static_cast<double>(i);
        Result<RideWork> work = keeper.get(key_with({"ride", r.id, r.file_name, said(tags)}), r.id, [&] { return compute_ride(ctx, library, papers, ridden, r, tags, cases, from, from + step); });
        if (!work && work.error().code != Errc::bad_input && work.error().code != Errc::out_of_domain) return work.error();
        if (!work) {
            out.notes.push_back(fmt::format("left out: {}", work.error().text));
            continue;
        }
        take_work(line_in(q, r.id), *work);
        works.push_back(*std::move(work));
        counted.push_back(r);
        q.request.rides.push_back({.track = {}, .tags = tags});
    }
    q.recorded = std::move(counted);
    say_what_wore(q);
    if (Status s = work_of_older(ctx, library, papers, ask, q, ridden, cases, keeper, key_with); !s) return s.error();
    name_lines(q);
    Result<ReadTemperatures> temperatures = temperatures_of(ctx, library, papers, ask.bike, ask.today, ridden, q.recorded, q.request.rides, works, cases);
    if (!temperatures) return temperatures.error();
    q.request.papers->temperatures = *std::move(temperatures);

    const WorkSource source{
        .ride = [&](const Context&, std::size_t i, double, double) -> Result<RideWork> { return std::move(works[i]); },
        .descent = [&](const Context& c, std::size_t k, wear::Terrain country, const RideTags& tags, const ToldDescent& told) -> Result<RideWork> {
            const papers::Id key = key_with({"descent", std::string(wear::word_of(country)), said(tags), fmt::format("{} {}", told.descent_m, told.least_grade)});
            return keeper.get(key, q.described[k].id, [&] { return descent_work(c, library, country, tags, told, cases); });
        },
    };
    Result<Answer> answer = answer_with(ctx, library, q.request, &source);
    if (!answer) return answer.error();
    out.answer = *std::move(answer);
    if (out.answer.learned || !out.answer.life_withheld.empty())
        keep_forecast(papers, ask, *q.request.papers->learn, q.all, out.answer.learned ? &*out.answer.learned : nullptr, out.answer.life_withheld, &out.answer.computed, ctx.seed, out.notes);
    return out;
}

Result<PapersLife> life_from_papers(const Context& ctx, const parts::Library& library, papers::Papers& papers, const FromPapers& ask) {
    Result<Question> asked = question_of(library, papers, ask);
    if (!asked) return asked.error();
    Question& q = *asked;
    PapersAnswer told;
    told.notes = q.notes;
    const AsRidden before = as_ridden(ctx, library, q, ask);
    const Request& ridden = before.request;
    const std::vector<Case>& cases = before.cases;
    const KeyWith& key_with = before.key_with;
    Keeper keeper(papers, ask, told);
    Answer a;
    Doses doses;
    std::vector<papers::Ride> counted;
    // Described and planned rides need the likely cases of today's bike; recorded ones only their work.
    const bool more = !q.request.described.empty() || !q.request.planned.empty();
    std::optional<Cases> drawn_today;
    std::vector<Case> all;
    if (more) {
        drawn_today = draw_cases(all_inputs(library, q.request), std::max(q.request.cases, tail_cases), ctx.seed);
        all = cases_of(library, q.request.bike, *drawn_today);
    }
    a.rides.reserve(q.recorded.size() + q.request.planned.size());
    for (std::size_t i = 0; i < q.recorded.size(); ++i) {
        if (ctx.stopped()) return cancelled();
        const papers::Ride& r = q.recorded[i];
        const RideTags tags = tags_of(r, ask.tags);
        const double step = 0.85 / static_cast<double>(q.recorded.size()), from = step * static_cast<double>(i);
        Result<RideWork> work = keeper.get(key_with({"ride", r.id, r.file_name, said(tags)}), r.id, [&] { return compute_ride(ctx, library, papers, ridden, r, tags, cases, from, from + step); });
        if (!work && work.error().code != Errc::bad_input && work.error().code != Errc::out_of_domain) return work.error();
        if (!work) {
            told.notes.push_back(fmt::format("left out: {}", work.error().text));
            continue;
        }
        take_work(line_in(q, r.id), *work);
        counted.push_back(r);
        q.request.rides.push_back({.track = {}, .tags = tags});
        if (more) a.rides.push_back(answer_of_work(*std::move(work), library, q.request.bike, std::span(all).first(q.request.cases), doses));
        else a.rides.push_back(std::move(work->ride)), doses.emplace_back();
    }
    q.recorded = std::move(counted);
    if (Status s = work_of_older(ctx, library, papers, ask, q, ridden, cases, keeper, key_with); !s) return s.error();
    name_lines(q);
    for (std::size_t i = 0; i < q.request.planned.size(); ++i) {
        Result<RideWork> w = planned_work(ctx, library, q.request, q.request.planned[i], *drawn_today, std::span(all).first(q.request.cases), 0.9, 0.92);
        if (!w) return w.error();
        a.rides.push_back(answer_of_work(*std::move(w), library, q.request.bike, std::span(all).first(q.request.cases), doses));
    }
    const WorkSource source{.ride = {}, .descent = [&](const Context& c, std::size_t k, wear::Terrain country, const RideTags& tags, const ToldDescent& down) -> Result<RideWork> {
        const papers::Id key = key_with({"descent", std::string(wear::word_of(country)), said(tags), fmt::format("{} {}", down.descent_m, down.least_grade)});
        return keeper.get(key, q.described[k].id, [&] { return descent_work(c, library, country, tags, down, cases); });
    }};
    if (!q.request.described.empty()) {
        Result<std::vector<RideAnswer>> diary = described_answers(ctx, library, q.request, *drawn_today, all, std::span(a.rides).first(q.request.rides.size()), doses, &source);
        if (!diary) return diary.error();
        for (RideAnswer& r : *diary) a.rides.push_back(std::move(r));
    }
    PapersLife out;
    const Known known = known_rides(a, library, true);
    wear::RidingTotals totals;
    for (std::size_t i = 0; i < a.rides.size(); ++i)
        if (known.ride[i]) totals.rides += 1, totals.distance_m += a.rides[i].distance_m, totals.descent_m += a.rides[i].descent_m;
    out.withheld = life_withheld_of(a, q.request, known, totals);
    if (out.withheld.empty()) {
        LearnSay& learn = *q.request.papers->learn;
        // A plan that was told stands alone here: what it would use up is the question.
        if (!q.request.planned.empty()) {
            std::vector<std::pair<std::string, int>> times;   // each, in the order told
            for (std::size_t i = 0; i < q.request.planned.size(); ++i) {
                const std::string& file = q.request.planned[i].route.file;
                if (known.ride[q.recorded.size() + i]) {
                    const auto at = std::find_if(times.begin(), times.end(), [&](const auto& t) { return t.first == file; });
                    if (at == times.end()) times.emplace_back(file, 1);
                    else ++at->second;
                } else told.notes.push_back(fmt::format("left out of the riding to come: {}: {}", file, a.rides[q.recorded.size() + i].heat_withheld));
            }
            for (const auto& [file, n] : times) learn.ask.plan_words += fmt::format("{}{}{}", learn.ask.plan_words.empty() ? "" : ", ", n > 1 ? fmt::format("{} times ", n) : "", file);
            learn.plan_alone = true;
        }
        fill_lines(learn, a.rides, doses, known.ride);
        if (learn.plan_alone && learn.ask.plan.empty()) {
            out.withheld = fmt::format("Not given: nothing is known of the braking on {}.", q.request.planned.front().route.file);
            out.notes = std::move(told.notes);
            return out;
        }
        if (ask.once) {
            const auto at = static_cast<std::size_t>(std::find_if(q.all.begin(), q.all.end(), [&](const papers::Ride& r) { return r.id == *ask.once; }) - q.all.begin());
            if (at >= q.all.size() || at >= learn.ask.history.rides.size()) return Error{Errc::bad_input, "this ride is none of this bike's by that day"};
            learn.ask.plan = {learn.ask.history.rides[at]};
            learn.ask.plan_words = q.all[at].file_name.empty() ? "this ride" : q.all[at].file_name;
        }
        for (const inspect::Check& c : q.bike.checks)
            if (c.do_not_ride) learn.ask.reasons.push_back(c.text);
        Result<LifeReport> report = life_report(ctx, library, learn.ask);
        if (!report) return report.error();
        const std::vector<KeptForecast> kept = kept_forecasts(papers, ask.bike);
        Result<ForecastScore> score = score_of(ctx, learn.ask, kept);
        if (!score) return score.error();
        report->score = *std::move(score);
        if (report->share) {
            report->share->anchors = anchor_shares(learn);
            if (!report->share->anchors.empty())
                for (std::size_t i = 0; i < anchor_cases; ++i) report->share->habits.push_back(cases[i].habit);
        }
        keep_forecast(papers, ask, learn, q.all, &*report, "", nullptr, ctx.seed, told.notes);
        out.report = *std::move(report);
        out.asked = learn.ask;
    } else keep_forecast(papers, ask, *q.request.papers->learn, q.all, nullptr, out.withheld, nullptr, ctx.seed, told.notes);
    out.rides_computed = told.rides_computed, out.rides_found = told.rides_found, out.notes = std::move(told.notes);
    return out;
}

namespace {

Result<papers::Id> key_of_answer(const Context& ctx, const parts::Library& library, papers::Papers& papers, const FromPapers& ask) {
    Result<Question> asked = question_of(library, papers, ask);
    if (!asked) return asked.error();
    const Question& q = *asked;
    std::vector<std::string> inputs = {"answer/1", ask.version, std::string(work_models), std::string(answer_models), canonical(library), canonical(q.bike.ridden), canonical(q.bike.today),
                                       q.bike.today.name, fmt::format("seed {} K {} N {}", ctx.seed, anchor_cases, ask.cases), settings_of(ask), ask.today, said(ask.tags), said(ask.total_mass_kg),
                                       fmt::format("{}", ask.stop_grade)};
    for (const inspect::Check& c : q.bike.checks) inputs.push_back(said(c));
    for (const auto* since : {&q.bike.pads_since, &q.bike.rotor_since})
        for (const auto& day : *since) inputs.push_back(day.value_or("-"));
    for (const wear::FittedRow& f : q.request.papers->learn->ask.history.fitted) {
        for (const wear::StayRow& s : f.stays) inputs.push_back(fmt::format("stay {} {} {} {}", s.first_ride, s.end_ride, s.wheel, s.elsewhere_m));
        inputs.push_back(fmt::format("set {} {} {} {} {} {} {} {}", word_of(f.component), f.set, f.start_ride, f.compound, f.new_mm, f.limit_mm, f.area_mm2, f.new_sd_mm));
    }
    for (const wear::ThicknessRow& r : q.request.papers->learn->ask.history.readings)
        inputs.push_back(fmt::format("read {} {} {} {} {} {} {}", word_of(r.component), r.set, r.ride, r.day.value_or(0), r.thickness_mm, r.sd_mm, r.stays_before));
    for (const papers::Ride& r : q.all) inputs.push_back(fmt::format("line {} {} {} {}", r.id, day_of(r).value_or("-"), said(r.distance_m), r.weather));
    for (const auto* list : {&q.recorded, &q.described})
        for (const papers::Ride& r : *list) inputs.push_back(fmt::format("{} {} {} {}", r.id, r.file_name, day_of(r).value_or("-"), said(tags_of(r, ask.tags))));
    const Result<std::string> temperatures = said_temperatures(papers, ask.bike, ask.today);
    if (!temperatures) return temperatures.error();
    inputs.push_back(*temperatures);
    for (const PlannedInput& p : ask.planned) inputs.push_back(fmt::format("planned {} {} {} {}", p.route.file, p.route.content_hash, said(p.tags), p.style ? static_cast<int>(*p.style) : -1));
    return papers::key_of(inputs);
}

Result<std::optional<PapersJson>> kept_under(const papers::Id& key, papers::Papers& papers) {
    Result<std::optional<papers::KeptAnswer>> kept = papers.answer(key);
    if (!kept) return kept.error();
    if (!*kept || (*kept)->model_versions != stamp_of((*kept)->json)) return std::optional<PapersJson>();   // none, or it decayed or was edited: to be computed again
    PapersJson out;
    out.key = key;
    out.json = std::move((*kept)->json);
    out.found = true;
    // Written by json_of; inside a text its quotes would be escaped.
    out.do_not_ride = out.json.find("\"do_not_ride\": true") != std::string::npos;
    return std::optional(std::move(out));
}

}  // namespace

Result<papers::Id> answer_key_from_papers(const Context& ctx, const parts::Library& library, papers::Papers& papers, const FromPapers& ask) { return key_of_answer(ctx, library, papers, ask); }

Result<std::optional<PapersJson>> kept_answer_from_papers(const Context& ctx, const parts::Library& library, papers::Papers& papers, const FromPapers& ask) {
    const Result<papers::Id> key = key_of_answer(ctx, library, papers, ask);
    if (!key) return key.error();
    return kept_under(*key, papers);
}

Result<PapersJson> answer_json_from_papers(const Context& ctx, const parts::Library& library, papers::Papers& papers, const FromPapers& ask) {
    const Result<papers::Id> found = key_of_answer(ctx, library, papers, ask);
    if (!found) return found.error();
    const papers::Id key = *found;
    Result<std::optional<PapersJson>> kept = kept_under(key, papers);
    if (!kept) return kept.error();
    if (*kept) return **std::move(kept);

    PapersJson out;
    out.key = key;
    Result<PapersAnswer> fresh = answer_from_papers(ctx, library, papers, ask);
    if (!fresh) return fresh.error();
    out.json = json_of(fresh->answer, ask.version);
    out.do_not_ride = fresh->answer.verdict.do_not_ride;
    out.rides_computed = fresh->rides_computed;
    out.rides_found = fresh->rides_found;
    out.notes = std::move(fresh->notes);
    // An answer without a ride that could not be read is not kept: its note would be lost.
    if (out.notes.empty())
        if (const Status s = papers.keep_answer({.id = key, .bike_id = ask.bike, .made_unix_s = ask.made_unix_s, .kind = "answer/1", .model_versions = stamp_of(out.json), .json = out.json}); !s)
            out.notes.push_back(fmt::format("the answer could not be kept: {}", s.error().text));
    return out;
}

}  // namespace bw::answer
