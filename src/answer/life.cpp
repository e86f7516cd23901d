// SPDX-License-Identifier: Apache-2.0
// The report of what is left: forecasts of every part, what comes first, what to measure, what moves it.   Layer: answer
// Theory: docs/models/life.md.
#include "answer/life.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <nlohmann/json.hpp>

#include "base/text.hpp"
#include "base/time.hpp"
#include "inspect/verdict.hpp"

namespace bw::answer {

namespace {

using json = nlohmann::ordered_json;
using wear::Component;

constexpr double order_days = 14;      // common practice, no source: parts that a shop has to order
constexpr double pad_noise_mm = 0.05, rotor_noise_mm = 0.01;   // a caliper and a micrometer with ordinary care: common practice
constexpr double worth_saying = 0.05;  // a share of the variance
constexpr double least_swelling_mm = 0.005;   // half of what a caliper shows

std::string part_name(Component c) {
    std::string word(word_of(c));
    std::replace(word.begin(), word.end(), '_', ' ');
    return word;
}
json interval(const Interval& i) { return {{"p05", i.p05}, {"p50", i.p50}, {"p95", i.p95}}; }
json maybe(const std::optional<Interval>& i) { return i ? interval(*i) : json(nullptr); }
std::string figure(double x) { return in_threes(significant(x, 2)); }
std::string span(const Interval& i) { return fmt::format("{} ({} to {})", figure(i.p50), figure(i.p05), figure(i.p95)); }
// What a plan takes, in a unit that people read.
std::string loss_words(const Interval& mm) {
    if (mm.p50 >= 0.01) return fmt::format("{} mm ({} to {})", significant(mm.p50, 2), significant(mm.p05, 2), significant(mm.p95, 2));
    return fmt::format("{} µm ({} to {})", significant(1000 * mm.p50, 2), significant(1000 * mm.p05, 2), significant(1000 * mm.p95, 2));
}
double own_spread_mm(const wear::ThicknessRow& r) { return std::hypot(r.own_sd_mm.value_or(r.sd_mm), r.resolution_mm / std::sqrt(12.0)); }
double spread_mm(const wear::ThicknessRow& r) { return std::hypot(r.sd_mm, r.resolution_mm / std::sqrt(12.0)); }
// What may be too thick lengthens nothing: learning does not see it.
wear::History without_too_thick(wear::History h) {
    std::erase_if(h.readings, [](const wear::ThicknessRow& r) { return r.too_thick; });
    return h;
}
// A reading that cannot be, by its place in the history.
struct CannotBe {
    std::size_t reading = 0;
    std::optional<std::size_t> before;   // the one it grew from; absent: it is thicker than new
};
std::vector<CannotBe> that_cannot_be(const wear::History& h, long as_of) {
    std::vector<CannotBe> out;
    for (const wear::Question& q : wear::questions_of(h))
        if ((q.why == wear::Question::Why::thicker_than_new || q.why == wear::Question::Why::grew) && !h.readings[q.reading].too_thick && h.readings[q.reading].ride <= as_of && std::none_of(out.begin(), out.end(), [&](const CannotBe& c) { return c.reading == q.reading; })) out.push_back({q.reading, q.before});
    return out;
}
// Without some of its readings and all that may be too thick.
wear::History without(const wear::History& h, std::span<const CannotBe> some) {
    wear::History out = h;
    for (const CannotBe& c : some) out.readings[c.reading].too_thick = true;
    return without_too_thick(std::move(out));
}
// What is on a component by a ride.
const wear::FittedRow* set_on(const wear::History& h, Component component, long as_of) {
    const wear::FittedRow* on = nullptr;
    for (const wear::FittedRow& f : h.fitted)
        if (f.component == component && f.start_ride <= as_of + 1) on = &f;
    return on;
}
// As if the part had come on with what this reading says: nothing that was read of it before counts.
void start_from(wear::History& h, const wear::FittedRow& part, const wear::ThicknessRow& reading) {
    wear::FittedRow f = wear::followed_from(part, reading, part.set + ", from the thin reading");
    for (wear::ThicknessRow& r : h.readings)
        if (r.component == part.component && r.set == part.set && r.ride == reading.ride && r.thickness_mm == reading.thickness_mm) r.set = f.set;
    h.fitted.push_back(std::move(f));
    std::stable_sort(h.fitted.begin(), h.fitted.end(), [](const wear::FittedRow& a, const wear::FittedRow& b) { return a.start_ride < b.start_ride; });
}
void take_sooner_look(wear::LifeForecast& f, const wear::LifeForecast& other) {
    f.look_by_rides = std::min(f.look_by_rides, other.look_by_rides), f.look_by_km = std::min(f.look_by_km, other.look_by_km), f.look_by_days = std::min(f.look_by_days, other.look_by_days);
}
// Of wear beyond all that there was nothing is left.
Interval not_below_0(const Interval& i) { return {std::max(0.0, i.p05), std::max(0.0, i.p50), std::max(0.0, i.p95)}; }
std::string mm_words(const Interval& of, bool rotor) {
    const Interval i = not_below_0(of);
    const std::string most = i.p95 > 0 ? significant(i.p95, 3) : "0";
    if (i.p50 > 0) return fmt::format("{} mm ({} to {}) {}", significant(i.p50, 3), i.p05 > 0 ? significant(i.p05, 3) : "0", most, rotor ? "thick" : "of friction material");
    return fmt::format("most likely {}{}", rotor ? "worn through" : "no friction material left", i.p95 > 0 ? fmt::format(" (0 to {} mm)", most) : "");
}
std::string percent(double share) { return fmt::format("{:.0f} %", 100 * share); }

const char* words_of(const std::string& key) {
    static constexpr std::pair<const char*, const char*> list[] = {{"thickness_now", "how thick it is now"}, {"wear_rate", "how fast this set wears"}, {"riding_to_come", "the riding to come"},
                                                                   {"energy_bias", "the braking energy reckoned for the rides"}, {"front_share", "how much of it the front takes"},
                                                                   {"wet", "what water does to wear"}, {"grit", "what grit does to wear"}, {"rubbing", "pads that brush the rotor"},
                                                                   {"threshold_degC", "from which temperature heat wears more"}, {"growth", "how much more"}, {"left_right", "how unlike left and right wear"}};
    for (const auto& [k, words] : list)
        if (key == k) return words;
    return "";
}

}  // namespace

namespace {
// When a reading was taken: out of the papers nobody knows the numbers of rides.
std::string when(const wear::ThicknessRow& r) { return r.any_time && r.day ? "on " + format_day(*r.day) : fmt::format("after ride {}", r.ride); }
}  // namespace

std::string at_limit_words(const PartLife& p) {
    if (!p.at_limit) return "";
    return fmt::format("Do not ride: the {} read {:g} mm {}, its limit is {:g} mm, and no better reading since says otherwise.", p.name, p.at_limit->thickness_mm, when(*p.at_limit), p.fitted.limit_mm);
}

std::string doubt_words(const PartLife& p) {
    if (p.cannot_be) {
        const bool rotor = is_rotor(p.fitted.component);
        const std::string than = p.grew_from ? fmt::format("{:g} mm {}", p.grew_from->thickness_mm, when(*p.grew_from)) : fmt::format("{:g} mm when it was new", p.fitted.new_mm);
        return fmt::format("Measure the {} again before the next ride: it read {:g} mm {}, and {}. {} do not grow. {} That reading lengthens no life.", p.name, p.cannot_be->thickness_mm, when(*p.cannot_be), than, rotor ? "Rotors" : "Pads",
                           rotor ? "Are place, anvil and unit right, or is it another rotor?" : "Was that with the plate, are left and right changed over, or are these other pads?");
    }
    if (p.disbelieved)   // a reading that is not believed must not make the answer comfortable
        return fmt::format("Measure the {} again before the next ride: it read {:g} mm, and the rides that are known leave {} mm. Were rides left out, or was that a misread? Until then go by the thinner.", p.name, p.disbelieved->thickness_mm,
                           significant(p.expected_mm, 2));
    if (!p.in_doubt) return "";
    return fmt::format("Measure the {} again with a pointed anvil, or measure its ridge too: it read {:g} mm{} with flat jaws and no ridge known, or nobody said with what, so the band may be thinner. That reading lengthens no life{}.", p.name, p.in_doubt->thickness_mm,
                       p.in_doubt->day ? " on " + format_day(*p.in_doubt->day) : "", p.undated ? ", and no look-by date is promised from it" : "");
}

namespace {
bool several(const std::string& name) { return name.ends_with("pads"); }
}  // namespace
std::string one_of(const std::string& name) { return several(name) ? "one of them is" : "it is"; }
std::string replace_words(const std::string& name, const std::string& by) {
    const char* it = several(name) ? "them" : "it";
    return fmt::format("Replace the {}, or measure {} and find {} sound, before the next ride: {}{} at its limit.", name, it, it, by, several(name) ? "it is more likely than not that one of them is" : "it is more likely than not");
}
std::string measure_words(const std::string& name, const std::string& why) { return fmt::format("Measure the {} before the next ride: {}.", name, why); }
std::string next_ride_words(const std::string& name) { return fmt::format("on it the chance that {} at its limit passes 0.5 %", one_of(name)); }
std::vector<const PartLife*> looked_at(const LifeReport& r) {
    std::vector<const PartLife*> out;
    for (const auto& p : r.pads)
        if (p) out.push_back(&*p);
    for (const PartLife& p : r.parts)
        if (is_rotor(p.fitted.component)) out.push_back(&p);
    return out;
}

RidingRate riding_rate_of(double rides, double days, double usual_per_day, double usual_log_sd) {
    // As good as so many rides that were seen already: one over the squared relative spread.
    const double seen = usual_per_day > 0 && usual_log_sd > 0 ? 1 / std::expm1(usual_log_sd * usual_log_sd) : 0, shape = seen + rides;
    const double exposed_days = (seen > 0 ? seen / usual_per_day : 0) + (seen > 0 ? days : std::max(1.0, days));
    // Variance of the logarithm of a gamma number: trigamma, by its series (Abramowitz, Stegun 6.4.12, from memory; 2 % at 1, better beyond).
    return {.days_a_ride = exposed_days / shape, .log_sd = std::sqrt(1 / shape + 1 / (2 * shape * shape) + 1 / (6 * shape * shape * shape)), .by_rides = rides > 0 && rides >= seen};   // [EQ life-15]
}

std::vector<RidingRate> riding_rates(std::span<const double> days, double usual_per_day, double usual_log_sd) {
    const bool few = days.size() < 6 || days.back() - days.front() < 3;
    if (days.size() < 2) return usual_per_day > 0 ? std::vector{RidingRate{.days_a_ride = 1 / usual_per_day, .log_sd = usual_log_sd, .by_rides = false, .few = few, .rides = days.size()}} : std::vector<RidingRate>{};
    std::size_t recent = 0;
    while (recent + 1 < days.size() && days.back() - days[recent] > 60) ++recent;
    const auto of = [&](double usual) {   // who rides more often of late goes on so
        const auto rate = [&](std::size_t from) {
            RidingRate r = riding_rate_of(static_cast<double>(days.size() - 1 - from), days.back() - days[from], usual, usual_log_sd);
            r.rides = days.size() - from;
            r.of_late = from > 0;
            return r;
        };
        RidingRate often = rate(0);
        if (days.size() - recent >= 6 && rate(recent).days_a_ride < often.days_a_ride) often = rate(recent);
        often.few = few;
        return often;
    };
    std::vector<RidingRate> rates = {of(usual_per_day)};
    // Who is thought to be unlike: a bike for hire goes out many times a day. As soon as the rides alone say anything, the sooner day counts.
    if (usual_per_day > 0 && !few) rates.push_back(of(0));
    return rates;
}

RidingRate said_rate(std::span<const RidingRate> rates) {
    const auto soon = [](const RidingRate& r) { return r.days_a_ride * std::exp(-2.576 * r.log_sd); };   // at the chance of a look-by date
    const auto at = std::min_element(rates.begin(), rates.end(), [&](const RidingRate& a, const RidingRate& b) { return soon(a) < soon(b); });
    return at == rates.end() ? RidingRate{} : *at;
}

std::string few_rides_words(std::span<const RidingRate> rates, std::span<const LookBy> looks) {
    constexpr std::size_t many = 11;   // rides from which on the gaps between them need no word: a house rule
    const std::size_t rides = said_rate(rates).rides;
    if (rates.empty() || looks.empty() || (!rates[0].few && rides >= many)) return "";
    // The pace at which day and ride of a part fall together; one that is due today is due at any pace.
    double most = INFINITY;
    for (const LookBy& l : looks)
        if (l.days > 0) most = std::min(most, std::floor(7 * std::floor(l.rides) / l.days));
    const std::string pace = most == INFINITY ? "" : most < 1 ? " The look-by days given here hold for less than one ride a week."
                                                              : fmt::format(" The look-by days given here hold for up to {:.0f} ride{} a week.", most, most == 1 ? "" : "s");
    const std::string known = rates[0].few ? "hardly known yet: our rule asks for six rides over three days." : fmt::format("reckoned from {} rides only{}.", rides, said_rate(rates).of_late ? ", those of the last 60 days" : "");
    return fmt::format("How often this bike is ridden is {}{} A bike that goes out more often, for hire say, comes to its look before that day: go by the rides or the way.", known, pace);
}

wear::TypicalRiding typical_riding(const parts::Library& library, const parts::Bike& bike) {
    const std::string kind(parts::word_of(bike.kind));
    wear::TypicalRiding t;
    t.distance_m = library.value("typical." + kind + ".distance_m");
    t.energy_J = library.value("typical." + kind + ".energy_J") * bike.total_mass_kg.value / 90;
    t.pad_degC = library.value("typical." + kind + ".pad_degC");
    return t;
}

void take_lines(LearnSay& say) {
    // What the anchors say alike of every ride: all energies off together, and the share of the front.
    std::size_t k = 0;
    for (const RideLine& l : say.lines) k = std::max(k, l.energy_J[0].size());
    std::array<std::vector<double>, 2> total{std::vector<double>(k, 0.0), std::vector<double>(k, 0.0)};
    for (const RideLine& l : say.lines)
        for (std::size_t e = 0; e < 2; ++e)
            for (std::size_t i = 0; i < l.energy_J[e].size(); ++i) total[e][i] += std::max(0.0, l.energy_J[e][i]);
    std::vector<double> logs, odds, shares;
    for (std::size_t i = 0; i < k; ++i) {
        if (!(total[0][i] > 0) || !(total[1][i] > 0)) continue;
        logs.push_back(std::log(total[0][i] + total[1][i]));
        shares.push_back(total[0][i] / (total[0][i] + total[1][i]));
        odds.push_back(std::log(total[0][i] / total[1][i]));
    }
    if (logs.size() >= 16) {
        // Both ends of these are far rarer than what is unknown of the model behind them.
        say.ask.priors.observation.energy_bias = std::clamp(sd_of(logs), 0.05, 1.0);
        say.ask.options.front_share = std::clamp(mean_of(shares), 0.05, 0.95);
        say.ask.options.front_share_sd = std::min(1.5, sd_of(odds));
    }
    say.ask.history.rides.clear();
    for (RideLine& l : say.lines) {
        for (std::size_t e = 0; e < 2; ++e) {
            const std::vector<double>& x = l.energy_J[e];
            l.row.energy_J[e].reset(), l.row.energy_sd_J[e] = 0;
            if (x.size() != k || k == 0) continue;
            const double all = mean_of(total[e]);
            std::vector<double> own;   // each ride as it were if the anchor had the usual total
            for (std::size_t i = 0; i < k; ++i) own.push_back(total[e][i] > 0 ? x[i] * all / total[e][i] : x[i]);
            l.row.energy_J[e] = mean_of(x), l.row.energy_sd_J[e] = sd_of(own);
        }
        say.ask.history.rides.push_back(l.row);
    }
    say.ask.as_of = static_cast<long>(say.lines.size());
}

void hold_back(LifeReport& r, const std::string& reason) {
    // Nothing stands beside a reason not to ride that could pass for a way round it.
    std::erase_if(r.questions, [&](const std::string& q) { return std::find(r.shortened.begin(), r.shortened.end(), q) != r.shortened.end(); });
    r.shortened.clear();
    r.unread.clear();
    if (std::find(r.reasons.begin(), r.reasons.end(), reason) == r.reasons.end()) r.reasons.insert(r.reasons.begin() + static_cast<long>(r.holds), reason), ++r.holds;
    r.hold = true;
    r.few_rides.clear();   // no day is given
}

Result<LifeReport> life_report(const Context& ctx, const parts::Library& library, const LifeAsk& ask) {
    const wear::History& h = ask.history;
    LifeReport out;
    out.as_of = ask.as_of;
    out.plan_words = ask.plan_words, out.plan_rides = ask.plan.size();
    for (const std::string& reason : ask.reasons) hold_back(out, reason);
    const std::vector<CannotBe> cannot_be = that_cannot_be(h, ask.as_of);
    const Result<wear::Learned> learned = wear::learn(ctx, without(h, cannot_be), ask.priors, ask.as_of, ask.typical, ask.options);
    if (!learned) return learned.error();
    // The other way to read them is to take them as they stand. Such a part has the sooner end of the two, every other part none of it.
    std::optional<wear::Learned> as_they_stand;
    if (!cannot_be.empty() || std::any_of(h.readings.begin(), h.readings.end(), [&](const wear::ThicknessRow& r) { return r.too_thick && r.ride <= ask.as_of; })) {
        Result<wear::Learned> other = wear::learn(ctx, h, ask.priors, ask.as_of, ask.typical, ask.options);
        if (!other) return other.error();
        as_they_stand = *std::move(other);
    }

    std::vector<const wear::RiddenRow*> dated;
    for (const wear::RiddenRow& r : h.rides)
        if (r.ride <= ask.as_of && r.day) dated.push_back(&r);
    std::optional<long> day_now = ask.today;
    // A clock that was wrong by years must not make the riding look rare, and who rides more often of late goes on so.
    const long gap = static_cast<long>(library.value("riding.date_gap_days"));
    for (std::size_t i = dated.size(); i-- > 1;)
        if (*dated[i]->day - *dated[i - 1]->day > gap) {
            dated.erase(dated.begin(), dated.begin() + static_cast<long>(i));
            break;
        }
    std::vector<double> ridden_days;
    for (const wear::RiddenRow* r : dated) ridden_days.push_back(static_cast<double>(*r->day));
    out.riding_rates = riding_rates(ridden_days, ask.rides_per_day, ask.rides_per_day_log_sd);
    out.riding = said_rate(out.riding_rates);
    std::vector<wear::Pace> paces;
    for (const RidingRate& r : out.riding_rates) paces.push_back({r.days_a_ride, r.log_sd});
    if (dated.size() > 1 && !day_now) day_now = *dated.back()->day;
    const auto day_of = [&](double days) -> std::optional<long> {
        if (!day_now || out.riding.days_a_ride <= 0 || days > 365 * 30) return std::nullopt;
        return *day_now + static_cast<long>(std::floor(days));
    };
    const auto look_within_days = static_cast<long>(library.value("riding.look_within_days"));
    const auto dates = [&](PartLife& p) {
        if (p.undated) return;
        p.look_by = day_of(p.forecast.look_by_days);
        if (day_now && out.riding.days_a_ride > 0) p.look_by = std::min(p.look_by.value_or(*day_now + look_within_days), *day_now + look_within_days);
        if (const auto early = day_of(p.forecast.days_p05)) p.buy_by = std::max(day_now.value_or(0), *early - static_cast<long>(order_days));
    };

    std::array<const wear::FittedRow*, 6> on{};
    for (const wear::FittedRow& f : h.fitted)
        if (f.start_ride <= ask.as_of + 1) on[static_cast<std::size_t>(f.component)] = f.moved || f.off ? nullptr : &f;
    std::vector<wear::TaskRow> readable;
    for (const wear::FittedRow* f : on)
        if (f) readable.push_back({f->component, f->set, ask.as_of});
    if (readable.empty()) return Error{Errc::bad_input, "no part is on this bike by then: look at the start_ride column of the fitted parts"};
    for (const wear::FittedRow* f : on) {
        if (!f) continue;
        const Result<wear::LifeForecast> forecast = learned->forecast(ctx, {f->component, f->set, ask.as_of}, {.whole_set = false, .plan = ask.plan, .paces = paces, .readings = readable});
        if (!forecast) return forecast.error();
        PartLife p{.fitted = *f, .name = part_name(f->component), .forecast = *forecast, .at_limit = {}, .in_doubt = {}, .disbelieved = {}, .cannot_be = {}, .grew_from = {}, .elsewhere_km = 0, .expected_mm = 0, .undated = false, .narrows = 1, .look_by = {}, .buy_by = {}};
        double noise = is_rotor(f->component) ? rotor_noise_mm : pad_noise_mm;
        for (const wear::StayRow& s : f->stays) p.elsewhere_km += s.elsewhere_m / 1000;
        std::vector<wear::ThicknessRow> mine;
        bool both_ways = false;
        std::optional<wear::ThicknessRow> odd;   // the newest that cannot be, whether or not others were taken since
        bool odd_grew = false;
        std::size_t odd_ones = 0;
        for (std::size_t i = 0; i < h.readings.size(); ++i) {
            const wear::ThicknessRow& r = h.readings[i];
            if (r.component != f->component || r.set != f->set || r.ride > ask.as_of) continue;
            mine.push_back(r), noise = spread_mm(r);
            p.cannot_be.reset(), p.grew_from.reset();
            const auto at = std::find_if(cannot_be.begin(), cannot_be.end(), [&](const CannotBe& c) { return c.reading == i; });
            both_ways = both_ways || r.too_thick || at != cannot_be.end();
            if (at == cannot_be.end()) continue;
            odd = r, odd_grew = at->before.has_value(), ++odd_ones;
            p.cannot_be = r;
            if (at->before) p.grew_from = h.readings[*at->before];
            else mine.back().too_thick = true;   // thicker than new: it betters nothing
        }
        // One at the limit stands until a later one betters it, as in the papers' own checks; what may be too thick betters nothing.
        for (std::size_t i = 0; i < mine.size(); ++i)
            if (mine[i].thickness_mm <= f->limit_mm && std::none_of(mine.begin() + static_cast<long>(i) + 1, mine.end(), [&](const wear::ThicknessRow& later) {
                    return !later.too_thick && inspect::betters(own_spread_mm(later), later.places, own_spread_mm(mine[i]), mine[i].places);
                })) p.at_limit = mine[i];
        if (!mine.empty() && mine.back().too_thick && !p.cannot_be) p.in_doubt = mine.back();
        if (odd && !p.cannot_be)
            out.shortened.push_back(fmt::format("The {} of set '{}' read {:g} mm {}, which cannot be.{} It is reckoned with {} and without, and the sooner counts: what is said of it may be too short.", p.name, f->set, odd->thickness_mm, when(*odd),
                                                odd_grew ? " Nobody knows which of its readings was the slip." : "", odd_ones > 1 ? fmt::format("all {} such readings", odd_ones) : "that reading"));
        if (both_ways && as_they_stand) {
            p.undated = std::all_of(mine.begin(), mine.end(), [](const wear::ThicknessRow& r) { return r.too_thick; });
            const Result<wear::LifeForecast> other = as_they_stand->forecast(ctx, {f->component, f->set, ask.as_of}, {.whole_set = false, .plan = ask.plan, .paces = paces, .readings = readable});
            if (!other) return other.error();
            p.forecast = sooner_of(*forecast, *other);
        }
        if (!mine.empty() && p.forecast.thickness_mm.p50 > mine.back().thickness_mm + 3 * spread_mm(mine.back())) p.disbelieved = mine.back(), p.expected_mm = p.forecast.thickness_mm.p50, p.undated = true;
        const double width = (p.forecast.thickness_mm.p95 - p.forecast.thickness_mm.p05) / 3.29, told = width * width / (width * width + noise * noise);
        p.narrows = std::sqrt(std::max(0.0, 1 - p.forecast.share_now * told));
        dates(p);
        out.parts.push_back(std::move(p));
    }
    // A thin reading that is not believed may be right all the same: such a part has the sooner end of both.
    if (std::any_of(out.parts.begin(), out.parts.end(), [](const PartLife& p) { return p.disbelieved.has_value(); })) {
        wear::History thin = without(h, cannot_be);
        for (const PartLife& p : out.parts)
            if (p.disbelieved) start_from(thin, p.fitted, *p.disbelieved);
        const Result<wear::Learned> believed = wear::learn(ctx, thin, ask.priors, ask.as_of, ask.typical, ask.options);
        if (!believed) return believed.error();
        for (wear::TaskRow& t : readable) t.set = set_on(thin, t.component, ask.as_of)->set;
        for (PartLife& p : out.parts) {
            if (!p.disbelieved) continue;
            const Result<wear::LifeForecast> other = believed->forecast(ctx, {p.fitted.component, set_on(thin, p.fitted.component, ask.as_of)->set, ask.as_of}, {.whole_set = false, .plan = ask.plan, .paces = paces, .readings = readable});
            if (!other) return other.error();
            p.forecast = sooner_of(p.forecast, *other);
        }
    }
    for (std::size_t e = 0; e < 2; ++e) {
        const wear::FittedRow *left = on[3 * e], *right = on[3 * e + 1], *any = left ? left : right;
        if (!any) continue;
        const bool both = left && right && left->set == right->set;
        if (left && right && !both)   // one of them is followed on its own
            for (const PartLife& p : out.parts)
                if (p.fitted.component == right->component && p.forecast.limit_ride[3] < std::find_if(out.parts.begin(), out.parts.end(), [&](const PartLife& q) { return q.fitted.component == left->component; })->forecast.limit_ride[3]) any = right;
        const Result<wear::LifeForecast> forecast = learned->forecast(ctx, {any->component, any->set, ask.as_of}, {.whole_set = both, .plan = ask.plan, .paces = paces, .readings = {}});
        if (!forecast) return forecast.error();
        PartLife p{.fitted = *any, .name = e == 0 ? "front pads" : "rear pads", .forecast = *forecast, .at_limit = {}, .in_doubt = {}, .disbelieved = {}, .cannot_be = {}, .grew_from = {}, .elsewhere_km = 0, .expected_mm = 0, .undated = false, .narrows = 1, .look_by = {}, .buy_by = {}};
        for (const PartLife& side : out.parts)   // where one of them has no date the two have none
            if (side.undated && !is_rotor(side.fitted.component) && wear::wheel_of(side.fitted.component) == static_cast<int>(e)) p.undated = true;
        // Of each pad that was not believed or read as it cannot be, and of the set.
        for (const PartLife& side : out.parts)
            if ((side.disbelieved || std::any_of(cannot_be.begin(), cannot_be.end(), [&](const CannotBe& c) { return h.readings[c.reading].component == side.fitted.component && h.readings[c.reading].set == side.fitted.set; })) && wear::wheel_of(side.fitted.component) == static_cast<int>(e) && !is_rotor(side.fitted.component)) p.forecast = sooner_of(p.forecast, side.forecast);
        // A look is at both pads of a wheel: the least of the three is the look-by point of each.   [EQ life-9]
        std::vector<PartLife*> sides;
        for (PartLife& side : out.parts)
            if (!is_rotor(side.fitted.component) && wear::wheel_of(side.fitted.component) == static_cast<int>(e)) sides.push_back(&side);
        wear::LifeForecast& f = p.forecast;
        for (const PartLife* side : sides) {
            f.limit_reached_probability = std::max(f.limit_reached_probability, side->forecast.limit_reached_probability);
            if (!side->undated) take_sooner_look(f, side->forecast), f.limit_ride[0] = std::min(f.limit_ride[0], side->forecast.limit_ride[0]), f.km[0] = f.look_by_km;
        }
        dates(p);
        for (PartLife* side : sides)
            if (!p.undated) take_sooner_look(side->forecast, f), side->look_by = p.look_by;
        out.pads[e] = std::move(p);
        if (both)
            if (const std::vector<double> share = learned->left_share(any->component, any->set); !share.empty()) out.left_share[e] = interval_of(share);
    }
    if (const std::vector<double> share = learned->front_share(); !share.empty()) {
        out.front_share = interval_of(share);
        const double odds = std::log(ask.options.front_share / (1 - ask.options.front_share));
        const auto at = [&](double z) { return 1 / (1 + std::exp(-odds - ask.options.front_share_sd * z)); };
        out.front_share_before = Interval{at(-1.6449), at(0), at(1.6449)};
        std::vector<double> z;
        for (const double s : share) z.push_back((std::log(s / (1 - s)) - odds) / ask.options.front_share_sd);
        if (std::any_of(h.readings.begin(), h.readings.end(), [&](const wear::ThicknessRow& r) { return r.ride <= ask.as_of && !r.too_thick; })) {
            out.share = LearnedShare{.logit_mean = odds, .logit_sd = ask.options.front_share_sd, .z_mean = mean_of(z), .z_sd = sd_of(z)};
            const double half = 1.6449 * std::clamp(out.share->z_sd, 1e-3, 1.0);   // told by what the likely cases are weighed by, so that no second figure stands beside it   [EQ life-13]
            out.front_share = Interval{at(out.share->z_mean - half), at(out.share->z_mean), at(out.share->z_mean + half)};
        }
    }
    // A part that nobody measured and that may be at its limit already says nothing of the riding left: the reasons ask for its reading.
    const auto unknown = [](const PartLife& p) { return p.forecast.readings == 0 && p.forecast.limit_reached_probability > 0.05; };
    out.first = static_cast<std::size_t>(std::min_element(out.parts.begin(), out.parts.end(), [&](const PartLife& a, const PartLife& b) {
                                             return std::pair(unknown(a), a.forecast.limit_ride[3]) < std::pair(unknown(b), b.forecast.limit_ride[3]);
                                         }) - out.parts.begin());
    const auto never_read = [&](const PartLife& p) {
        return std::none_of(h.readings.begin(), h.readings.end(), [&](const wear::ThicknessRow& r) { return r.component == p.fitted.component && r.set == p.fitted.set && r.ride <= ask.as_of; });
    };
    if (!unknown(out.parts[out.first]))   // one whose readings cannot be relied on has a reason of its own
        for (const PartLife& p : out.parts)
            if (unknown(p) && never_read(p)) out.unread.push_back(p.fitted.component);

    // What a reading of each part would do to the one that ends first: variance of its logarithm given that thickness, over the draws.
    const PartLife& first = out.parts[out.first];
    if (!first.forecast.share_of.empty())
        for (std::size_t i = 0; i < out.parts.size(); ++i) {
            const PartLife& p = out.parts[i];
            const double noise = is_rotor(p.fitted.component) ? rotor_noise_mm : pad_noise_mm, width = (p.forecast.thickness_mm.p95 - p.forecast.thickness_mm.p05) / 3.29;
            const double told = width * width / (width * width + noise * noise);
            out.next.push_back({p.fitted.component, p.name, library.value(is_rotor(p.fitted.component) ? "minutes.rotor_thickness" : "minutes.pad_thickness"),
                                std::sqrt(std::max(0.0, 1 - first.forecast.share_of[i] * told))});
        }
    const auto left_aside = [&](const NextReading& n) { return std::find(out.unread.begin(), out.unread.end(), n.component) != out.unread.end(); };
    std::stable_sort(out.next.begin(), out.next.end(), [&](const NextReading& a, const NextReading& b) { return std::pair(!left_aside(a), a.narrows) < std::pair(!left_aside(b), b.narrows); });
    for (const auto& [key, share] : {std::pair<const char*, double>{"thickness_now", first.forecast.share_now}, {"wear_rate", first.forecast.share_rate}, {"riding_to_come", first.forecast.share_riding}})
        out.movers.push_back({key, words_of(key), share});
    for (const auto& [key, share] : first.forecast.share_parameters) out.movers.push_back({key, words_of(key), share});
    std::stable_sort(out.movers.begin(), out.movers.end(), [](const Mover& a, const Mover& b) { return a.share > b.share; });

    for (const wear::Question& q : wear::questions_of(h)) out.questions.push_back(q.text);
    if (out.hold) out.shortened.clear(), out.unread.clear();
    out.questions.insert(out.questions.end(), out.shortened.begin(), out.shortened.end());
    std::string pads;   // one sentence for all of them
    for (const wear::FittedRow* f : on) {
        if (!f || is_rotor(f->component)) continue;
        const wear::ThicknessRow* last = nullptr;
        for (const wear::ThicknessRow& r : h.readings)
            if (r.component == f->component && r.set == f->set && r.ride <= ask.as_of) last = &r;
        const std::vector<double> swollen = last && !last->too_thick ? learned->swelling_mm(f->component, f->set) : std::vector<double>{};
        if (const double mm = swollen.empty() ? 0 : mean_of(swollen); mm >= least_swelling_mm)
            pads += fmt::format("{}{}, set '{}' ({}: {:g} mm) by {} mm", pads.empty() ? "" : "; ", part_name(f->component), f->set, when(*last), last->thickness_mm, significant(mm, 1));
    }
    if (!pads.empty()) {
        out.swollen.push_back("Heat swells a resin pad for good, until that layer is worn away. With hot rides before their reading these are taken as thinner than they read, on average: " + pads +
                              ". How much is assumed; it may be next to none, or several times that. Letting them cool changes nothing; a reading after more riding without such heat tells more.");
    }
    for (const PartLife& p : out.parts) {
        if (p.at_limit) hold_back(out, at_limit_words(p));
        if (!p.fitted.limit_stated) out.doubt = true;
        if (p.elsewhere_km > 0)
            out.questions.push_back(fmt::format("the {} was ridden {} km on another bike: its wear there is taken as this bike's by the km, or several times that; a reading now tells", p.name, figure(p.elsewhere_km)));
        if (!doubt_words(p).empty()) {
            out.doubt = true;
            out.reasons.push_back(doubt_words(p));
        }
    }
    for (const PartLife* p : looked_at(out)) {
        const double chance = p->forecast.limit_reached_probability;
        const std::string why = chance >= 0.5 ? replace_words(p->name, "") : chance > 0.005 ? measure_words(p->name, fmt::format("the chance that {} at its limit already is {} %", one_of(p->name), significant(100 * chance, 2)))
                              : !p->undated && p->forecast.look_by_rides < 1 ? measure_words(p->name, next_ride_words(p->name)) : "";
        if (why.empty()) continue;
        (chance >= 0.5 ? out.replace : out.doubt) = true;
        out.reasons.push_back(why);
    }
    if (!out.hold) {
        std::vector<LookBy> looks;
        const auto look = [&](const PartLife& p) {
            if (p.look_by && day_now) looks.push_back({p.forecast.look_by_rides, static_cast<double>(*p.look_by - *day_now)});
        };
        for (const PartLife& p : out.parts) look(p);
        for (const auto& p : out.pads)
            if (p) look(*p);
        out.few_rides = few_rides_words(out.riding_rates, looks);
    }
    out.readings = static_cast<std::size_t>(std::count_if(h.readings.begin(), h.readings.end(), [&](const wear::ThicknessRow& r) { return r.ride <= ask.as_of; }));
    out.cautions = {"An estimate does not replace an inspection: a thickness says nothing about a cracked or lifting bond.",
                    "The maker's instructions and local rules come first. If in doubt do not ride, and see a qualified mechanic."};
    return out;
}

Result<ForecastScore> score_of(const Context& ctx, const LifeAsk& ask, const std::vector<KeptForecast>& kept) {
    ForecastScore score;
    const wear::History h = without(ask.history, that_cannot_be(ask.history, ask.as_of));
    if (h.rides.empty()) return score;
    for (std::size_t i = 0; i < h.fitted.size(); ++i) {
        const wear::FittedRow& f = h.fitted[i];
        const auto same_place = [&](const wear::FittedRow& r) { return r.component == f.component; };
        const auto next = std::find_if(h.fitted.begin() + static_cast<long>(i) + 1, h.fitted.end(), same_place);
        if (next == h.fitted.end() || f.part.empty() || f.moved) continue;   // its life is not over, or goes on at the other wheel
        const long end = next->start_ride - 1;   // last ride on it
        // Forecasts of this part; where it is followed anew from a reading on, those of that name.
        const bool anew = std::count_if(h.fitted.begin(), h.fitted.end(), [&](const wear::FittedRow& r) { return same_place(r) && r.part == f.part; }) > 1;
        std::vector<const KeptForecast*> mine;
        for (const KeptForecast& k : kept) {
            if (k.part != f.part || k.component != word_of(f.component) || !k.all_stays || (anew && k.set != f.set)) continue;
            // A day on which nothing moved says nothing new.
            if (std::none_of(mine.begin(), mine.end(), [&](const KeptForecast* m) { return m->known == k.known && m->km_since == k.km_since; })) mine.push_back(&k);
        }
        if (mine.empty()) continue;
        wear::LearnOptions options = ask.options;   // what it was is to be judged, not what to be careful about
        options.unswollen_too = false;
        const Result<wear::Learned> then = wear::learn(ctx, h, ask.priors, end, ask.typical, options);
        if (!then) return then.error();
        const Result<wear::LifeForecast> all = then->forecast(ctx, {f.component, f.set, end});
        if (!all) return all.error();
        const std::vector<double> way = wear::way_on_m(h, f);
        const auto km_at = [&](double ride) {
            const double at = std::clamp(ride, 0.0, static_cast<double>(h.rides.size()));
            const auto j = std::min(static_cast<std::size_t>(at), h.rides.size() - 1);
            return (way[j] + (at - static_cast<double>(j)) * (way[j + 1] - way[j])) / 1000;
        };
        const double on = km_at(static_cast<double>(end));
        const auto life_km = [&](std::size_t point) { return all->limit_ride[point] <= static_cast<double>(end) ? km_at(all->limit_ride[point]) : on + all->km[point]; };
        const double low = life_km(1), was = life_km(3), high = life_km(5);
        for (const KeptForecast* k : mine) {
            if (high - low > was / 3) {
                ++score.too_early;
                continue;
            }
            ++score.judged;
            if (was >= k->km_since + k->km[1] && was <= k->km_since + k->km[5]) ++score.held;
            else score.misses.push_back({.part = fmt::format("{} ({})", f.set, part_name(f.component)), .day = k->day, .said_p05_km = k->km_since + k->km[1], .said_p95_km = k->km_since + k->km[5], .was_km = was});
        }
    }
    return score;
}

const char* state_of(const LifeReport& r) { return r.hold ? "held_back" : r.replace ? "replace" : r.doubt ? "measure_better" : "look_by"; }

namespace {
// "the front pads and the rear rotor": by the looks that they take, with the minutes of each if asked.
std::string unread_names(const LifeReport& r, bool minutes = false) {
    std::vector<std::string> names;
    for (const wear::Component c : r.unread) {
        const bool both = !is_rotor(c) && std::count_if(r.unread.begin(), r.unread.end(), [&](wear::Component o) { return !is_rotor(o) && wear::wheel_of(o) == wear::wheel_of(c); }) == 2;
        const std::string name = "the " + (both ? std::string(wear::wheel_of(c) == 0 ? "front pads" : "rear pads") : part_name(c));
        const auto price = std::find_if(r.next.begin(), r.next.end(), [&](const NextReading& n) { return n.component == c; });
        const std::string whole = minutes && price != r.next.end() ? fmt::format("{} ({:.0f} minutes)", name, price->minutes) : name;
        if (std::find(names.begin(), names.end(), whole) == names.end()) names.push_back(whole);
    }
    std::string out;
    for (std::size_t i = 0; i < names.size(); ++i) out += (i == 0 ? "" : i + 1 == names.size() ? " and " : ", ") + names[i];
    return out;
}
// When its successor should be there. A part that may be due within the time of an order is ordered now.
std::string buy_words(const PartLife& p) {
    const double chance = p.forecast.limit_reached_probability;
    if (chance > 0.05) return fmt::format("Have its successor now: the chance that it is at its limit already is {} %.", significant(100 * chance, 2));
    if (!p.buy_by) return "";
    if (p.forecast.days_p05 < order_days) return "Have its successor now: the chance that it is due within two weeks is one in twenty or more.";
    return fmt::format("Have its successor by {}: there is one chance in twenty that it is due two weeks later.", format_day(*p.buy_by));
}
}  // namespace

std::string movers_words(const LifeReport& r) {
    std::string list;
    for (const Mover& m : r.movers)
        if (m.share >= worth_saying) list += fmt::format("{}{} ({})", list.empty() ? "" : ", ", m.words, percent(m.share));
    if (list.empty()) return "";
    return fmt::format("What moves the life of the {}, as shares of its spread, which overlap: {}.", r.parts[r.first].name, list);
}

std::string unread_words(const LifeReport& r) {
    const std::string names = unread_names(r);
    return names.empty() ? "" : fmt::format("Nobody has measured {}, and what was never measured may be at its limit already: how long the {} lasts says nothing of it.", names, r.parts[r.first].name);
}

std::string next_words(const LifeReport& r) {
    if (r.next.empty()) return "";
    if (!r.unread.empty()) return fmt::format("Measure next: {}. {}", unread_names(r, true), unread_words(r));
    const NextReading& best = r.next.front();
    // What a reason asks to measure is neither idle nor to be put off.
    const auto asked_for = [&](wear::Component c) {
        const auto bad = [](const PartLife& p) { return p.forecast.limit_reached_probability > 0.005 || p.forecast.look_by_rides < 1 || !doubt_words(p).empty(); };
        const auto& pads = r.pads[static_cast<std::size_t>(wear::wheel_of(c))];
        return (!is_rotor(c) && pads && bad(*pads)) || std::any_of(r.parts.begin(), r.parts.end(), [&](const PartLife& p) { return p.fitted.component == c && bad(p); });
    };
    const bool any_asked = std::any_of(r.parts.begin(), r.parts.end(), [&](const PartLife& p) { return asked_for(p.fitted.component); });
    std::string out;
    if (best.narrows < 0.9)
        out = fmt::format("Measure next: the {}, {:.0f} minutes; the interval of what comes first, the {}, would be about {} % as wide.", best.name, best.minutes, r.parts[r.first].name, significant(100 * best.narrows, 2));
    else if (any_asked) out = fmt::format("Measure what the reasons ask for. Beyond that no thickness that can be read today narrows the life of the {} by much.", r.parts[r.first].name);
    else out = fmt::format("No thickness that can be read today narrows the life of the {} by much.", r.parts[r.first].name);
    std::string idle;
    for (const NextReading& n : r.next)
        if (n.narrows > 0.97 && &n != &best && !asked_for(n.component)) idle += fmt::format("{}{}", idle.empty() ? "the " : ", the ", n.name);
    if (!idle.empty() && best.narrows < 0.9) out += fmt::format(" Measuring {} would change nothing there.", idle);
    const wear::LifeForecast& f = r.parts[r.first].forecast;
    if (f.share_rate > f.share_now && f.share_rate > 0.3 && !any_asked)
        out += fmt::format(" How fast it wears carries {}: a reading after another {} rides would tell more than one today.", percent(f.share_rate), significant(std::max(2.0, 0.25 * f.remaining_rides.p50), 1));
    return out;
}

std::string front_share_words(const LifeReport& r) {
    if (!r.front_share) return "";
    const auto& s = *r.front_share;
    return fmt::format("Your pads and rotors say that the front does {} of the braking ({:.0f} to {:.0f}); without them it would be {} ({:.0f} to {:.0f}).", percent(s.p50), 100 * s.p05, 100 * s.p95,
                       percent(r.front_share_before->p50), 100 * r.front_share_before->p05, 100 * r.front_share_before->p95);
}

std::string score_words(const ForecastScore& s) {
    if (s.judged == 0) return s.too_early > 0 ? fmt::format("Past forecasts: {} were of sets that came off before anybody could tell, so none can be judged.", s.too_early) : "Past forecasts: no set has come off yet that one was made for.";
    std::string out = fmt::format("Past forecasts: of {}, {} held (nine in ten should)", s.judged, s.held);
    if (s.too_early > 0) out += fmt::format("; {} more were of sets that came off too early to tell", s.too_early);
    out += ".";
    for (const ForecastScore::Miss& m : s.misses) {
        int digits = 2;   // as many as show on which side it missed
        while (digits < 9 && significant(m.was_km, digits) == significant(m.was_km < m.said_p05_km ? m.said_p05_km : m.said_p95_km, digits)) ++digits;
        out += fmt::format(" Missed on {} for {}: {} to {} km said, about {} km it was.", m.day, m.part, in_threes(significant(m.said_p05_km, digits)), in_threes(significant(m.said_p95_km, digits)), in_threes(significant(m.was_km, digits)));
    }
    return out;
}

namespace {

std::string left_right_words(const LifeReport& r, std::size_t e) {
    if (!r.left_share[e]) return "";
    const Interval& s = *r.left_share[e];
    if (s.p05 <= 0.5 && s.p95 >= 0.5) return "";
    const bool left = s.p50 > 0.5;
    const double p50 = left ? s.p50 : 1 - s.p50, low = left ? s.p05 : 1 - s.p95, high = left ? s.p95 : 1 - s.p05;
    std::string out = fmt::format("The {} {} pad takes {} of the wear of its wheel ({:.0f} to {:.0f}).", e == 0 ? "front" : "rear", left ? "left" : "right", percent(p50), 100 * low, 100 * high);
    if (low > 0.55) out += " Look for a piston that sticks, or a caliper off its centre.";
    return out;
}

json json_of_part(const LifeReport& r, const PartLife& p) {
    const wear::LifeForecast& f = p.forecast;
    const auto given = [&r](json value) { return r.hold ? json(nullptr) : value; };
    const auto day = [](const std::optional<long>& d) { return d ? json(format_day(*d)) : json(nullptr); };
    return {{"component", word_of(p.fitted.component)}, {"name", p.name}, {"set", p.fitted.set}, {"compound", p.fitted.compound.empty() ? json(nullptr) : json(p.fitted.compound)},
            {"new_mm", p.fitted.new_mm}, {"limit_mm", p.fitted.limit_mm}, {"readings", f.readings}, {"thickness_mm", interval(not_below_0(f.thickness_mm))},
            {"limit_reached_probability", f.limit_reached_probability},
            {"limit_stated", p.fitted.limit_stated},
            {"limit_ride", given({{"p005", f.limit_ride[0]}, {"p05", f.limit_ride[1]}, {"p25", f.limit_ride[2]}, {"p50", f.limit_ride[3]}, {"p75", f.limit_ride[4]}, {"p95", f.limit_ride[5]}})},
            {"remaining_rides", given(interval(f.remaining_rides))}, {"remaining_km", given(interval(f.remaining_km))}, {"remaining_descent_m", given(maybe(f.remaining_descent_m))},
            {"remaining_h", given(maybe(f.remaining_h))},
            {"look_by", p.undated ? json(nullptr) : given({{"rides", std::floor(f.look_by_rides)}, {"km", f.look_by_km}, {"date", day(p.look_by)}})},
            {"buy_by", given(day(p.buy_by))}, {"buy_text", given(buy_words(p).empty() ? json(nullptr) : json(buy_words(p)))},
            {"plan_loss_mm", given(maybe(f.plan_loss_mm))},
            {"moves", {{"thickness_now", f.share_now}, {"wear_rate", f.share_rate}, {"riding_to_come", f.share_riding}}},
            {"narrows_to_share", p.narrows}, {"capped_share", f.capped_share}};
}

}  // namespace

std::string json_of(const LifeReport& r, std::uint64_t seed, const std::string& version) {
    json out = {{"schema", "life/1"}, {"version", version}, {"seed", seed}, {"as_of_ride", r.as_of},
                {"verdict", {{"do_not_ride", r.hold}, {"state", state_of(r)}, {"reasons", r.reasons}}}};
    json parts = json::array(), next = json::array(), movers = json::array();
    for (const PartLife& p : r.parts) parts.push_back(json_of_part(r, p));
    out["parts"] = parts;
    // The sooner of the two pads of a wheel.
    out["pads"] = {{"front", r.pads[0] ? json_of_part(r, *r.pads[0]) : json(nullptr)}, {"rear", r.pads[1] ? json_of_part(r, *r.pads[1]) : json(nullptr)}};
    for (const char* end : {"front", "rear"})
        if (!out["pads"][end].is_null()) out["pads"][end].erase("component");
    const PartLife& first = r.parts[r.first];
    out["first_due"] = r.hold ? json(nullptr) : json(word_of(first.fitted.component));
    out["unread"] = json::array();
    for (const wear::Component c : r.unread) out["unread"].push_back(word_of(c));
    for (const NextReading& n : r.next) next.push_back({{"component", word_of(n.component)}, {"minutes", n.minutes}, {"narrows_to_share", n.narrows}});
    out["measure_next"] = r.next.empty() || r.hold ? json(nullptr) : json(next.front());   // its words speak of riding on
    if (!out["measure_next"].is_null()) out["measure_next"]["text"] = next_words(r);
    out["readings_that_could_be"] = next;
    for (const Mover& m : r.movers) movers.push_back({{"key", m.key}, {"words", m.words}, {"share", m.share}});
    out["movers"] = {{"of", word_of(first.fitted.component)}, {"list", movers}, {"text", movers_words(r)}};
    out["front_share"] = r.front_share ? json{{"now", interval(*r.front_share)}, {"before", interval(*r.front_share_before)}, {"text", front_share_words(r)}} : json(nullptr);
    json sides;
    for (std::size_t e = 0; e < 2; ++e) sides[e == 0 ? "front" : "rear"] = r.left_share[e] ? json{{"left_share", interval(*r.left_share[e])}, {"text", left_right_words(r, e)}} : json(nullptr);
    out["left_right"] = sides;
    out["plan"] = r.plan_words.empty() ? json(nullptr) : json(r.plan_words);
    if (r.score) {
        json misses = json::array();
        for (const auto& m : r.score->misses) misses.push_back({{"part", m.part}, {"day", m.day}, {"said_p05_km", m.said_p05_km}, {"said_p95_km", m.said_p95_km}, {"was_km", m.was_km}});
        out["score"] = {{"judged", r.score->judged}, {"held", r.score->held}, {"too_early", r.score->too_early}, {"misses", misses}, {"text", score_words(*r.score)}};
    } else out["score"] = nullptr;
    out["questions"] = r.questions;
    for (const std::string& s : r.swollen) out["questions"].push_back(s);   // where readers of life/1 know it from
    out["swollen"] = r.swollen;
    out["riding"] = r.riding.days_a_ride > 0 ? json{{"rides_per_week", 7 / r.riding.days_a_ride}, {"assumed", !r.riding.by_rides}, {"text", r.few_rides.empty() ? json(nullptr) : json(r.few_rides)}} : json(nullptr);
    out["cautions"] = r.cautions;
    return out.dump(2, ' ', false, json::error_handler_t::replace);
}

std::string text_of(const LifeReport& r) {
    std::string out;
    const auto say = [&out](const std::string& text) {
        if (!text.empty()) out += wrap(text, 96, 2) + "\n";
    };
    for (const std::string& s : r.reasons) say(s);
    if (!r.reasons.empty()) out += '\n';
    for (const std::string& q : r.questions) say("Asked about: " + q);
    if (!r.questions.empty()) out += '\n';
    for (const std::string& s : r.swollen) say(s);
    if (!r.swollen.empty()) out += '\n';
    out += fmt::format("After ride {}, {} readings in all. Intervals: 5 to 95 %.\n", r.as_of, r.readings);
    if (!r.plan_words.empty()) say(fmt::format("For riding nothing but {}.", r.plan_words));
    out += '\n';
    const auto life = [&](const PartLife& p) {
        const wear::LifeForecast& f = p.forecast;
        std::string line = fmt::format("about {} rides, {} km, ", span(f.remaining_rides), span(f.remaining_km));
        if (f.remaining_descent_m && f.remaining_descent_m->p95 > 0) line += fmt::format("{} m of descent, ", span(*f.remaining_descent_m));
        if (f.remaining_h && f.remaining_h->p95 > 0) line += fmt::format("{} h, ", span(*f.remaining_h));
        line.resize(line.size() - 2);
        if (f.capped_share > 0.05) line += ", the long end cut at the longest that is reckoned";
        if (p.undated) return line + ". No look-by date: its newest reading cannot be relied on, or is not believed.";
        const double rides = std::floor(f.look_by_rides);
        return line + (rides < 1 ? ". Look at it before the next ride." : fmt::format(". Look by: {:.0f} ride{} from then{}.", rides, rides == 1 ? "" : "s", p.look_by ? " (" + format_day(*p.look_by) + ")" : ""));
    };
    for (const PartLife& p : r.parts) {
        const wear::LifeForecast& f = p.forecast;
        std::string line = fmt::format("{} (set {}): {}, limit {:g} mm", p.name, p.fitted.set, mm_words(f.thickness_mm, is_rotor(p.fitted.component)), p.fitted.limit_mm);
        if (!p.fitted.limit_stated) line += " by common practice (the maker's is not known, so nothing is cleared)";
        line += r.hold ? "." : "; " + life(p);
        if (!r.hold && f.plan_loss_mm) line += fmt::format(" {}: {}.", r.plan_rides > 1 ? fmt::format("All {} rides of it once", r.plan_rides) : "Once", loss_words(*f.plan_loss_mm));
        say(line);
    }
    if (!r.hold) {
        say(r.few_rides);
        for (const auto& p : r.pads)
            if (p) say(fmt::format("{}, the first of the two: {}", p->name, life(*p)));
        out += '\n';
        const PartLife& first = r.parts[r.first];
        const std::string buy = buy_words(first), due = fmt::format("First due{}: the {}.{}{}", r.unread.empty() ? "" : " of the others", first.name, buy.empty() ? "" : " ", buy);
        // What may be at its limit already comes before what lasts.
        if (r.unread.empty()) say(due);
        say(next_words(r));
        if (!r.unread.empty()) say(due);
        say(movers_words(r));
    }
    say(front_share_words(r));
    for (std::size_t e = 0; e < 2; ++e) say(left_right_words(r, e));
    if (r.score) say(score_words(*r.score));
    out += '\n';
    for (const std::string& c : r.cautions) say(c);
    return out;
}

}  // namespace bw::answer
