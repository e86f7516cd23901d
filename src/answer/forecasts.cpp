// SPDX-License-Identifier: Apache-2.0
// Forecasts that are kept, and what they say of later days.                                              Layer: answer
// Theory: docs/models/life.md [EQ life-11], the verdict.
#include "forecasts.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <map>
#include <memory>
#include <nlohmann/json.hpp>

#include "answer/life_today.hpp"
#include "base/text.hpp"
#include "base/time.hpp"
#include "life_of_papers.hpp"
#include "model_versions.hpp"

namespace bw::answer {

namespace {

using json = nlohmann::ordered_json;
constexpr double risk = 0.005;   // DESIGN 3, rule 4
constexpr long soon_days = 30;   // a look-by day so near is said by every verdict

double km_on(const LearnSay& learn, const wear::FittedRow& part, long to) {
    wear::History ridden;
    for (const RideLine& l : learn.lines)
        if (l.row.ride <= to) ridden.rides.push_back(l.row);
    return wear::way_on_m(ridden, part).back() / 1000;
}

// All that this bike was ridden by a day; a ride of no known length counts as the mean of the others.
double bike_km(std::span<const papers::Ride> rides, const papers::Day& today) {
    double m = 0, known = 0, unknown = 0;
    for (const papers::Ride& r : rides) {
        if (r.day && *r.day > today) continue;
        if (r.distance_m) m += *r.distance_m, known += 1;
        else unknown += 1;
    }
    return known > 0 ? m * (1 + unknown / known) / 1000 : 0;
}

std::string which(const ForecastOfPart& p) { return fmt::format("{}_{}", parts::word_of(p.place), p.rotor ? "rotor" : "pads"); }

// Of two that ask for the same the first stands.
bool worse(const ForecastOfPart& a, const ForecastOfPart& b) {
    const auto of = [](const ForecastOfPart& f) { return std::pair(-f.limit_reached_probability, f.look_by_km.value_or(INFINITY)); };
    return of(a) < of(b);
}

// Of one code the worse stands.
void put(std::vector<inspect::Check>& all, inspect::Check c) {
    const auto same = std::find_if(all.begin(), all.end(), [&](const inspect::Check& x) { return x.code == c.code; });
    if (same == all.end()) all.push_back(std::move(c));
    else if (c.state > same->state) *same = std::move(c);
}

// Why a part's reading is doubted; of the two pads of a wheel what is said of either.
std::string doubt_of(const LifeReport& report, const PartLife& p) {
    const bool pair = !is_rotor(p.fitted.component) && p.name.ends_with("pads");
    if (!pair) return doubt_words(p);
    std::string all;
    for (const PartLife& side : report.parts) {
        if (is_rotor(side.fitted.component) || wear::wheel_of(side.fitted.component) != wear::wheel_of(p.fitted.component)) continue;
        if (const std::string words = doubt_words(side); !words.empty()) all += (all.empty() ? "" : " ") + words;
    }
    return all;
}

// What a kilometre takes off; null where nothing is left.
json wear_of(const PartLife& p) {
    const std::optional<Interval>& w = p.forecast.wear_mm_km;
    if (!w || !(w->p05 > 0) || !(p.forecast.thickness_mm.p50 > p.fitted.limit_mm)) return nullptr;
    return {w->p05, w->p50, w->p95};
}

inspect::Check note(std::string code, std::string text) {
    return {.id = inspect::CheckId::other, .code = std::move(code), .state = inspect::State::no_reason_found, .done = false, .do_not_ride = false, .text = std::move(text)};
}

inspect::Check not_worked_out(parts::End place, papers::PartKind kind, const char* since) {
    return {.id = inspect::CheckId::other, .code = fmt::format("{}_{}_not_worked_out", parts::word_of(place), papers::word_of(kind)), .state = inspect::State::measure_better, .done = true, .do_not_ride = false,
            .text = fmt::format("Not yet worked out since the {} {} {}: how much is left. Work it out (`answer --papers`, or the bike's page).", parts::word_of(place), papers::word_of(kind), since)};
}

std::string text_in(const json& j, const char* key) {
    const auto it = j.find(key);
    return it != j.end() && it->is_string() ? it->get<std::string>() : std::string();
}
std::vector<std::string> texts_in(const json& j, const char* key) {
    std::vector<std::string> out;
    if (const auto it = j.find(key); it != j.end() && it->is_array())
        for (const json& v : *it)
            if (v.is_string()) out.push_back(v.get<std::string>());
    return out;
}
std::optional<double> number_in(const json& j, const char* key) {
    const auto it = j.find(key);
    return it != j.end() && it->is_number() ? std::optional(it->get<double>()) : std::nullopt;
}

// Versions before this one took a part that came back for another one, and marked its name so.
bool of_all_stays(const json& p) {
    if (const auto mark = p.find("all_stays"); mark != p.end()) return mark->is_boolean() && mark->get<bool>();
    const std::string set = text_in(p, "set");
    const std::size_t open = set.rfind(" (");
    return open == std::string::npos || set.back() != ')' || set.find_first_not_of("0123456789", open + 2) != set.size() - 1;
}

ForecastOfPart part_of(const json& p, const std::string& day) {
    ForecastOfPart f;
    f.place = text_in(p, "place") == "rear" ? parts::End::rear : parts::End::front;
    f.rotor = p.contains("rotor") && p["rotor"].is_boolean() && p["rotor"].get<bool>();
    f.name = text_in(p, "component");
    std::replace(f.name.begin(), f.name.end(), '_', ' ');
    f.day = day;
    f.limit_reached_probability = number_in(p, "limit_reached_probability").value_or(0);
    f.km.fill(INFINITY);
    if (const auto km = p.find("km"); km != p.end() && km->is_array() && km->size() == f.km.size())
        for (std::size_t i = 0; i < f.km.size(); ++i) f.km[i] = (*km)[i].is_number() ? (*km)[i].get<double>() : INFINITY;
    if (const std::string d = text_in(p, "look_by"); !d.empty()) f.look_by = d;
    f.look_by_km = number_in(p, "look_by_km"), f.look_by_rides = number_in(p, "look_by_rides");
    f.at_limit = text_in(p, "at_limit");
    f.in_doubt = text_in(p, "in_doubt");
    return f;
}

}  // namespace

std::vector<KeptForecast> kept_forecasts(papers::Papers& papers, const papers::Id& bike) {
    std::vector<KeptForecast> out;
    const Result<std::vector<papers::KeptAnswer>> all = papers.answers(bike, forecast_kind);
    if (!all) return out;
    for (const papers::KeptAnswer& a : *all) {
        const json j = json::parse(a.json, nullptr, false);
        if (!j.is_object() || !j.contains("parts") || !j["parts"].is_array()) continue;   // decayed: as if it had not been kept
        std::string known = fmt::format("{}", number_in(j, "rides").value_or(-1));
        if (j.contains("learned_from") && j["learned_from"].is_object()) known += " " + fmt::format("{}", fmt::join(texts_in(j["learned_from"], "readings"), " "));
        else known += " " + a.day.value_or("");   // which readings it was made from is not known
        for (const json& p : j["parts"]) {
            if (!p.is_object() || !p.contains("km") || !p["km"].is_array() || p["km"].size() != wear::forecast_points.size() || !p["km"][0].is_number()) continue;
            KeptForecast k{.day = j.value("day", ""), .part = p.value("part", ""), .component = p.value("component", ""), .set = p.value("set", ""), .known = known, .all_stays = of_all_stays(p), .km_since = p.value("km_since", 0.0), .km = {}, .wear_mm_km = {}};
            for (std::size_t i = 0; i < k.km.size(); ++i) k.km[i] = p["km"][i].is_number() ? p["km"][i].get<double>() : 0;
            if (const auto w = p.find("wear_mm_km"); w != p.end() && w->is_array() && w->size() == 3 && std::all_of(w->begin(), w->end(), [](const json& v) { return v.is_number() && v.get<double>() > 0; }))
                k.wear_mm_km = Interval{.p05 = (*w)[0], .p50 = (*w)[1], .p95 = (*w)[2]};
            out.push_back(std::move(k));
        }
    }
    return out;
}

std::array<std::optional<PadWear>, 2> pad_wear_of(papers::Papers& papers, const papers::Id& bike, const papers::Day& today) {
    std::map<std::string, KeptForecast> newest;
    for (KeptForecast& k : kept_forecasts(papers, bike)) {
        if (k.day > today) continue;
        const auto old = newest.find(k.component);
        if (old == newest.end() || old->second.day <= k.day) newest[k.component] = std::move(k);
    }
    std::array<std::optional<PadWear>, 2> out;
    const Result<papers::Book> book = papers::book_of(papers, bike);
    if (!book) return out;
    for (const parts::End end : {parts::End::front, parts::End::rear}) {
        const std::string place(parts::word_of(end));
        const papers::Part* pads = papers::part_at(*book, bike, papers::PartKind::pads, end, today);
        const auto left = newest.find(place + "_left_pad"), right = newest.find(place + "_right_pad");
        // Of the pads that are on, by their newest forecast alone: an older one, or other pads', says nothing of these.
        const auto of_these = [&](const auto& it) { return it != newest.end() && pads && it->second.part == pads->id && it->second.wear_mm_km; };
        if (of_these(left) && of_these(right)) out[static_cast<std::size_t>(end)] = PadWear{*left->second.wear_mm_km, *right->second.wear_mm_km};
    }
    return out;
}

namespace {

json json_of(const LearnedFrom& f) { return {{"readings", f.readings}, {"rides_and_stays", f.rides_and_stays}, {"rides_that_day", f.rides_that_day}, {"described", f.described}}; }

std::string models_now() { return fmt::format("{}; {}", work_models, answer_models); }

}  // namespace

KeptShare learned_share_of(papers::Papers& papers, const papers::Id& bike, const papers::Day& today) {
    KeptShare out;
    const char* work_it_out = " Work it out (`answer --papers`, or the bike's page).";
    // The newest forecast alone: an older one was learned from fewer readings.
    const Result<std::vector<papers::KeptAnswer>> newest = papers.newest_answers(bike, forecast_kind, today, 1, 0);
    const json j = newest && !newest->empty() ? json::parse(newest->front().json, nullptr, false) : json();
    const json from = j.is_object() && j.contains("learned_from") && j["learned_from"].is_object() ? j["learned_from"] : json::object();
    const std::vector<std::string> readings = texts_in(from, "readings");
    const Result<papers::Book> book = papers::book_of(papers, bike);
    const Result<std::vector<papers::Ride>> rides = papers.rides(bike);
    if (!book || !rides) return out;
    const auto own = std::find_if(book->bikes.begin(), book->bikes.end(), [&](const papers::Bike& b) { return b.id == bike; });
    if (own == book->bikes.end()) return out;
    bool read = false;   // with a ride before it: such a reading tells who brakes
    std::string since;   // and is in no forecast
    for (const papers::Reading* r : readings_of_wear(*book, bike, today)) {
        if (std::none_of(rides->begin(), rides->end(), [&](const papers::Ride& ride) { const auto on = day_of(ride); return on && *on < r->day; })) continue;
        read = true;
        if (std::find(readings.begin(), readings.end(), r->id) == readings.end()) since = r->day;
    }
    if (!since.empty()) out.text = fmt::format("Not yet worked out since the reading of {}: what it tells of who brakes is not in these figures.{}", since, work_it_out);
    if (!j.is_object()) return out;
    out.day = newest->front().day.value_or("");
    // Whether what it rests on is still so.
    const auto changed = [&]() -> std::string {
        if (newest->front().model_versions != models_now()) return "the models have changed since";
        if (from.empty()) return "what it was learned from was not kept with it";
        const LearnedFrom now = learned_from(*book, *own, *rides, out.day);
        const auto all_in = [](const std::vector<std::string>& some, const std::vector<std::string>& all) {
            return std::all_of(some.begin(), some.end(), [&](const std::string& x) { return std::find(all.begin(), all.end(), x) != all.end(); });
        };
        if (!all_in(readings, now.readings)) return "a reading that it rests on was taken back or changed since";
        if (text_in(from, "rides_and_stays") != now.rides_and_stays || !all_in(texts_in(from, "rides_that_day"), now.rides_that_day))
            return "rides, pads or rotors that it rests on were taken back, changed or noted later";
        if (text_in(from, "described") != now.described) return "the bike's description, or what is told of its pads and rotors, has changed since";
        return "";
    };
    if (!j.contains("share") || !j["share"].is_object()) {
        const std::string withheld = text_in(j, "withheld");
        if (read && since.empty() && !withheld.empty()) {
            std::string why = changed();
            // A ride that was noted since can be the one that was wanting.
            const auto later = [&](const papers::Ride& ride) {
                const auto on = day_of(ride);
                return on && *on > out.day && *on <= today;
            };
            if (why.empty() && (texts_in(from, "rides_that_day").size() != learned_from(*book, *own, *rides, out.day).rides_that_day.size() || std::any_of(rides->begin(), rides->end(), later)))
                why = "rides were noted since";
            // Else nothing was learned, and that is why: working it out again says no more.
            out.text = fmt::format("What pads and rotors tell of who brakes is not in these figures. Worked out on {}: {}", out.day,
                                   why.empty() ? withheld : fmt::format("what is left of them could not be given then, but {}.{}", why, work_it_out));
        }
        out.day.clear();
        return out;
    }
    const json& s = j["share"];
    LearnedShare share;
    for (const auto& [key, into] : {std::pair{"logit_mean", &share.logit_mean}, {"logit_sd", &share.logit_sd}, {"z_mean", &share.z_mean}, {"z_sd", &share.z_sd}}) {
        const std::optional<double> v = number_in(s, key);
        if (!v) return out;
        *into = *v;
    }
    for (const auto& [key, into] : {std::pair{"anchors", &share.anchors}, {"habits", &share.habits}}) {
        const auto list = s.find(key);
        if (list == s.end() || !list->is_array() || list->size() != anchor_cases) return out;
        for (const json& v : *list) {
            if (!v.is_number()) return out;
            into->push_back(v.get<double>());
        }
    }
    if (const std::string why = changed(); !why.empty()) {
        out.text = fmt::format("What pads and rotors told of who brakes (worked out on {}) is not used: {}.{}", out.day, why, work_it_out);
        return out;
    }
    out.share = std::move(share);
    return out;
}

void keep_forecast(papers::Papers& papers, const FromPapers& ask, const LearnSay& learn, std::span<const papers::Ride> rides, const LifeReport* report, const std::string& withheld,
                   const std::vector<inspect::Check>* computed, std::uint64_t seed, std::vector<std::string>& notes) {
    const RideTags& t = ask.tags;
    if (learn.as_asked || ask.once || ask.total_mass_kg || ask.altitude || t.surface || t.weather || t.wind_mps || t.air_degC || t.load_kg) return;
    json parts = json::array();
    std::string state = withheld;
    const auto add = [&](const PartLife& p, const std::string& component) {
        const wear::LifeForecast& f = p.forecast;
        const int wheel = wear::wheel_of(p.fitted.component);
        const std::string doubt = doubt_of(*report, p);
        parts.push_back({{"part", p.fitted.part}, {"component", component}, {"set", p.fitted.set}, {"place", wheel == 0 ? "front" : "rear"}, {"rotor", is_rotor(p.fitted.component)},
                         {"km_since", km_on(learn, p.fitted, report->as_of)}, {"all_stays", true}, {"km", f.km}, {"wear_mm_km", wear_of(p)}, {"limit_reached_probability", f.limit_reached_probability},
                         {"look_by", p.look_by ? json(format_day(*p.look_by)) : json(nullptr)}, {"look_by_km", p.undated ? json(nullptr) : json(f.look_by_km)}, {"look_by_rides", p.undated ? json(nullptr) : json(f.look_by_rides)},
                         {"at_limit", p.at_limit ? json(at_limit_words(p)) : json(nullptr)}, {"in_doubt", doubt.empty() ? json(nullptr) : json(doubt)}});
    };
    if (report) {
        for (const auto& p : report->pads)   // a look is at both, and the first of the two comes sooner than either
            if (p) add(*p, wear::wheel_of(p->fitted.component) == 0 ? "front_pads" : "rear_pads");
        for (const PartLife& p : report->parts) {
            state += fmt::format("{} {} {} {} {};", p.fitted.part, word_of(p.fitted.component), p.fitted.start_ride, p.forecast.readings, p.in_doubt.has_value() || p.cannot_be.has_value());
            add(p, std::string(word_of(p.fitted.component)));
        }
    }
    // Reasons of stops and temperatures, so that a verdict out of the papers knows what the whole answer found.
    json reasons;
    if (computed) {
        reasons = json::array();
        for (const inspect::Check& c : *computed)
            if (c.state > inspect::State::look_by) reasons.push_back({{"code", c.code}, {"state", inspect::word_of(c.state)}, {"text", c.text}}), state += c.code + ";";
    }
    const double ridden_km = bike_km(rides, ask.today);
    const long as_of = report ? report->as_of : static_cast<long>(rides.size());
    const json out = {{"schema", forecast_kind}, {"day", ask.today}, {"rides", as_of}, {"bike_km", ridden_km}, {"parts", parts}, {"reasons", reasons}, {"withheld", withheld.empty() ? json(nullptr) : json(withheld)},
                      {"share", report && report->share && !report->share->anchors.empty() ? json{{"logit_mean", report->share->logit_mean}, {"logit_sd", report->share->logit_sd}, {"z_mean", report->share->z_mean}, {"z_sd", report->share->z_sd},
                                                                                                  {"anchors", report->share->anchors}, {"habits", report->share->habits}} : json(nullptr)},
                      {"learned_from", json_of(learn.from)},
                      {"score", report && report->score ? json(score_words(*report->score)) : json(nullptr)},
                      {"judged", report && report->score ? report->score->judged : 0}, {"held", report && report->score ? report->score->held : 0}};
    const papers::Id key = papers::key_of({std::string(forecast_kind), computed ? "answer" : "life", ask.bike, ask.today, fmt::format("{} {} {}", as_of, seed, ridden_km), state, std::string(work_models), std::string(answer_models)});
    if (const Status s = papers.keep_answer({.id = key, .bike_id = ask.bike, .made_unix_s = ask.made_unix_s, .kind = std::string(forecast_kind), .model_versions = models_now(),
                                             .json = out.dump(2, ' ', false, json::error_handler_t::replace), .day = ask.today}); !s)
        notes.push_back(fmt::format("the forecast could not be kept: {}", s.error().text));
}

std::optional<inspect::Check> life_check(const ForecastOfPart& p, const std::string& today, double ridden_km, bool read_since) {
    const auto check = [&](const char* what, inspect::State state, std::string text) {
        if (!p.in_doubt.empty() && state != inspect::State::held_back && text != p.in_doubt) text += " " + p.in_doubt;
        if (read_since) text += " It was read again since, and no forecast knows of that yet: work it out again (`answer --papers`, or the bike's page).";
        return inspect::Check{.id = inspect::CheckId::other, .code = which(p) + what, .state = state, .done = true, .do_not_ride = state == inspect::State::held_back, .text = std::move(text)};
    };
    if (!p.at_limit.empty()) return check("_at_limit", inspect::State::held_back, p.at_limit);
    const std::string by = p.day.empty() ? "" : fmt::format("by the forecast of {} ", p.day);
    if (p.limit_reached_probability >= 0.5 || ridden_km > p.km[3])
        return check("_look_now", inspect::State::replace, replace_words(p.name, by));
    const char* was = p.name.ends_with("pads") ? "they were" : "it was";
    std::string why;
    if (p.limit_reached_probability > risk) why = fmt::format("the chance that {} at its limit{} is {} %", one_of(p.name), p.day.empty() ? " already" : " then", significant(100 * p.limit_reached_probability, 2));
    else if (p.look_by_km && *p.look_by_km < 1) why = "within 1 km of riding" + std::string(p.day.empty() ? "" : " then") + fmt::format(" the chance that {} at its limit passes 0.5 %", one_of(p.name));
    else if (p.look_by_rides && *p.look_by_rides < 1) why = next_ride_words(p.name);
    else if (p.look_by_km && ridden_km >= *p.look_by_km) why = fmt::format("{} to be looked at after {:.0f} km, and {:.0f} km were ridden since", was, *p.look_by_km, ridden_km);
    else if (p.look_by && *p.look_by <= today) why = fmt::format("{} to be looked at by {}", was, *p.look_by);
    if (!why.empty()) return check("_look_now", inspect::State::measure_better, measure_words(p.name, by + why));
    if (!p.in_doubt.empty()) return check("_reading_in_doubt", inspect::State::measure_better, p.in_doubt);
    if (const auto now = parse_day(today), by_day = p.look_by ? parse_day(*p.look_by) : std::nullopt; now && by_day && *by_day - *now <= soon_days)
        return check("_look_by", inspect::State::look_by, fmt::format("Measure the {} by {}{}.", p.name, *p.look_by, p.look_by_km ? fmt::format(", or after {:.0f} km more", std::floor(*p.look_by_km - ridden_km)) : ""));
    return std::nullopt;
}

std::vector<inspect::Check> life_checks(const LifeReport& report, const std::string& today) {
    std::vector<ForecastOfPart> all;
    const auto add = [&](const PartLife& p) {
        all.push_back({.place = wear::wheel_of(p.fitted.component) == 0 ? parts::End::front : parts::End::rear, .rotor = is_rotor(p.fitted.component), .name = p.name, .day = {},
                       .limit_reached_probability = p.forecast.limit_reached_probability, .km = {}, .look_by = p.look_by ? std::optional(format_day(*p.look_by)) : std::nullopt,
                       .look_by_km = p.undated ? std::nullopt : std::optional(p.forecast.look_by_km), .look_by_rides = p.undated ? std::nullopt : std::optional(p.forecast.look_by_rides),
                       .at_limit = p.at_limit ? at_limit_words(p) : "", .in_doubt = doubt_of(report, p)});
        all.back().km.fill(INFINITY);   // nothing was ridden since
    };
    for (const auto& p : report.pads)
        if (p) add(*p);
    for (const PartLife& p : report.parts) add(p);
    std::stable_sort(all.begin(), all.end(), worse);
    std::vector<inspect::Check> out;
    for (const ForecastOfPart& f : all)
        if (auto c = life_check(f, today, 0, false)) put(out, *std::move(c));
    return out;
}

namespace {

// A kept forecast, read.
struct Kept {
    std::string day;
    json told;
    double made_unix_s = 0;
};
// Its parts, the worse first.
std::vector<std::pair<ForecastOfPart, const json*>> told_of(const Kept& k) {
    std::vector<std::pair<ForecastOfPart, const json*>> told;
    for (const json& p : k.told["parts"])
        if (p.is_object()) told.emplace_back(part_of(p, k.day), &p);
    std::stable_sort(told.begin(), told.end(), [](const auto& a, const auto& b) { return worse(a.first, b.first); });
    return told;
}
constexpr std::size_t page = 8;   // kept forecasts that are read at once

// Kept forecasts of a bike up to a day, newest day first, as many as somebody asks for.
class KeptOnes {
public:
    KeptOnes(papers::Papers& papers, papers::Id bike, papers::Day today) : papers_(papers), bike_(std::move(bike)), today_(std::move(today)) {}
    //! The i-th; null: there are no more.
    Result<const Kept*> at(std::size_t i) {
        while (i >= read_.size() && !all_) {
            Result<std::vector<papers::KeptAnswer>> more = papers_.newest_answers(bike_, forecast_kind, today_, page, skip_);
            if (!more) return more.error();
            skip_ += more->size();
            all_ = more->size() < page;
            for (const papers::KeptAnswer& a : *more) {
                json j = json::parse(a.json, nullptr, false);
                if (!j.is_object() || !j.contains("parts") || !j["parts"].is_array() || text_in(j, "day") != a.day.value_or("")) continue;   // decayed: as if it had not been kept
                read_.push_back(std::make_unique<Kept>(Kept{*a.day, std::move(j), a.made_unix_s}));
            }
        }
        return i < read_.size() ? read_[i].get() : nullptr;
    }

private:
    papers::Papers& papers_;
    papers::Id bike_;
    papers::Day today_;
    std::size_t skip_ = 0;
    bool all_ = false;
    std::vector<std::unique_ptr<Kept>> read_;
};

// What a part was ridden on other bikes than this one (empty: on all) from a day on, that day with it; a ride of no known length counts as the mean of that
// bike's others, one of no known day as if it had been in that time.
struct Elsewhere {
    double km = 0;
    std::vector<papers::Id> bikes;
};
Result<Elsewhere> elsewhere_since(papers::Papers& papers, const papers::Book& book, const papers::Id& part, const papers::Id& bike, const papers::Day& from, const papers::Day& today) {
    Elsewhere out;
    std::vector<papers::PartStay> others;
    for (const papers::PartStay& s : papers::stays_of_part(book, part, today))
        if (s.bike != bike && (!s.to || *s.to >= from)) others.push_back(s);
    for (const papers::PartStay& s : others)
        if (std::find(out.bikes.begin(), out.bikes.end(), s.bike) == out.bikes.end()) out.bikes.push_back(s.bike);
    for (const papers::Id& other : out.bikes) {
        Result<std::vector<papers::Ride>> rides = papers.rides(other);
        if (!rides) return rides.error();
        std::vector<papers::Ride> with_it;
        double all_m = 0, known = 0;
        for (const papers::Ride& r : *rides) {
            if (r.distance_m) all_m += *r.distance_m, known += 1;
            const auto day = day_of(r);
            if (!day || (*day >= from && *day <= today && std::any_of(others.begin(), others.end(), [&](const papers::PartStay& s) { return s.bike == other && *day >= s.from && (!s.to || *day <= *s.to); }))) with_it.push_back(r);
        }
        for (const papers::Ride& r : with_it) out.km += (r.distance_m ? *r.distance_m : known > 0 ? all_m / known : 0) / 1000;
    }
    return out;
}

// The km ridden since, by what the bike had been ridden when the forecast was made.
double km_since(const Kept& k, std::span<const papers::Ride> rides, const papers::Day& today) {
    if (const std::optional<double> then_km = number_in(k.told, "bike_km")) return std::max(0.0, bike_km(rides, today) - *then_km);
    double km = 0;   // one of an earlier version: only the days tell
    for (const papers::Ride& r : rides)
        if (r.day && *r.day > k.day && *r.day <= today) km += r.distance_m.value_or(0) / 1000;
    return km;
}

}  // namespace

Result<LifeSaid> life_said(papers::Papers& papers, const papers::Book& book, const papers::Id& bike, const papers::Day& today) {
    LifeSaid said;
    // What is on today and no forecast has spoken of yet.
    struct On {
        parts::End place;
        papers::PartKind kind;
        const papers::Part* part;
        bool done = false;
        std::string day = {};   // of the forecast that spoke of it
    };
    std::vector<On> on;
    for (const parts::End place : {parts::End::front, parts::End::rear})
        for (const papers::PartKind kind : {papers::PartKind::pads, papers::PartKind::rotor})
            if (const papers::Part* part = papers::part_at(book, bike, kind, place, today)) on.push_back({place, kind, part});
    // Of the newest day first, whenever it was made: looking back at an earlier day takes nothing from a later forecast.
    KeptOnes kept(papers, bike, today);
    const auto unseen = [&](const On& o, const Kept& k) {   // a reading that is in no forecast
        return std::any_of(book.readings.begin(), book.readings.end(), [&](const papers::Reading& r) {
            const bool of_it = r.part_id == o.part->id && (r.what == papers::What::pad_thickness || r.what == papers::What::rotor_thickness || r.what == papers::What::rotor_ridge || r.what == papers::What::plate_thickness);
            return of_it && r.day <= today && (r.day > k.day || r.recorded_unix_s > k.made_unix_s);
        });
    };
    std::vector<papers::Ride> rides;
    std::string withheld;
    bool looked = false;
    for (std::size_t i = 0;; ++i) {
        const Result<const Kept*> next = kept.at(i);
        if (!next) return next.error();
        if (!*next) break;
        const Kept& k = **next;
        if (!said.worked_out) {
            said.worked_out = k.day, withheld = text_in(k.told, "withheld");
            Result<std::vector<papers::Ride>> all = papers.rides(bike);
            if (!all) return all.error();
            rides = *std::move(all);
        }
        // Stops and temperatures: by the newest answer that looked at them.
        if (!looked && k.told.contains("reasons") && k.told["reasons"].is_array()) {
            looked = true;
            for (const json& r : k.told["reasons"]) {
                if (!r.is_object()) continue;
                const std::string state = text_in(r, "state");
                const inspect::State s = state == "held_back" ? inspect::State::held_back : state == "replace" ? inspect::State::replace : inspect::State::measure_better;
                put(said.checks, {.id = inspect::CheckId::other, .code = text_in(r, "code"), .state = s, .done = true, .do_not_ride = s == inspect::State::held_back, .text = text_in(r, "text") + fmt::format(" (Worked out on {}.)", k.day)});
            }
        }
        const double ridden_km = km_since(k, rides, today);
        std::vector<On*> now;
        for (const auto& [of, p] : told_of(k)) {
            const auto it = std::find_if(on.begin(), on.end(), [&](const On& o) { return !o.done && o.part->id == text_in(*p, "part"); });
            if (it == on.end()) continue;
            if (of_all_stays(*p)) now.push_back(&*it);   // else it knows nothing of what was read of it before
            const Result<Elsewhere> away = elsewhere_since(papers, book, it->part->id, bike, k.day, today);
            if (!away) return away.error();
            if (auto c = life_check(of, today, ridden_km + away->km, unseen(*it, k))) put(said.checks, *std::move(c));
            else if (parts::word_of(it->place) != text_in(*p, "place"))   // the other wheel wears it otherwise
                put(said.checks, not_worked_out(it->place, it->kind, "came to this wheel"));
            else if (!away->bikes.empty())   // and so does another bike
                put(said.checks, not_worked_out(it->place, it->kind, "came back from another bike"));
        }
        for (On* o : now) o->done = true, o->day = k.day;
        if (looked && std::all_of(on.begin(), on.end(), [](const On& o) { return o.done; })) break;
    }
    // A look that is due goes with the part: what another bike's forecast said of it while it was there.
    for (const On& o : on) {
        std::vector<papers::PartStay> others = papers::stays_of_part(book, o.part->id, today);
        std::erase_if(others, [&](const papers::PartStay& s) { return s.bike == bike; });
        std::vector<papers::Id> asked;
        for (const papers::PartStay& s : others) {
            if (std::find(asked.begin(), asked.end(), s.bike) != asked.end()) continue;
            asked.push_back(s.bike);
            papers::Day since = today;
            for (const papers::PartStay& t : others)
                if (t.bike == s.bike) since = std::min(since, t.from);
            since = std::max(since, o.day);
            KeptOnes there(papers, s.bike, today);
            bool spoken = false;
            for (std::size_t i = 0; !spoken; ++i) {
                const Result<const Kept*> next = there.at(i);
                if (!next) return next.error();
                if (!*next || (*next)->day < since) break;
                const Kept& k = **next;
                for (auto& [f, p] : told_of(k)) {
                    if (text_in(*p, "part") != o.part->id) continue;
                    spoken = true;
                    const Result<Elsewhere> ridden = elsewhere_since(papers, book, o.part->id, {}, k.day, today);
                    if (!ridden) return ridden.error();
                    f.place = o.place;
                    if (auto c = life_check(f, today, ridden->km, unseen(o, k))) put(said.checks, *std::move(c));
                }
            }
        }
    }
    if (!said.worked_out) {
        said.checks.push_back({.id = inspect::CheckId::other, .code = "not_worked_out", .state = inspect::State::measure_better, .done = true, .do_not_ride = false,
                               .text = "Not yet worked out: nothing has been computed for this bike, so neither the heat of its rides nor what is left of its pads and rotors is known. Work it out (`answer --papers`, or the bike's page)."});
        return said;
    }
    if (!looked)
        said.checks.push_back({.id = inspect::CheckId::other, .code = "heat_not_worked_out", .state = inspect::State::measure_better, .done = true, .do_not_ride = false,
                               .text = "Stops and the heat of its rides are not yet worked out: only what is left of its pads and rotors was. Work it out (`answer --papers`, or the bike's page)."});
    if (!withheld.empty()) said.checks.push_back(note("life_not_known", "What is left of pads and rotors: " + withheld));
    else
        for (const On& o : on)
            if (!o.done) said.checks.push_back(not_worked_out(o.place, o.kind, "came on"));
    return said;
}

}  // namespace bw::answer
