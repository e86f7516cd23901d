// SPDX-License-Identifier: Apache-2.0
// The papers as learning reads them: sets that were on, readings of them, rides that wore them.          Layer: answer
// Theory: docs/models/life.md; docs/decisions/0013-answers-from-papers.md.
#include "life_of_papers.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <functional>
#include <limits>
#include <set>

#include "base/time.hpp"
#include "papers/state.hpp"

namespace bw::answer {

namespace {

using papers::PartKind;
using papers::What;
using parts::End;

// Parts of a kind that were at one end, each once, in the order in which they were last there.
struct There {
    const papers::Part* part = nullptr;
    bool first = false;   // before any other
};
std::vector<There> parts_at(const papers::Book& book, const papers::Bike& bike, PartKind kind, End end, const papers::Day& today) {
    std::set<papers::Day> days = {bike.added_day};
    for (const papers::Fitting& f : book.fittings) {
        days.insert(f.from_day);
        if (f.to_day) days.insert(*f.to_day);
    }
    std::vector<There> out;
    const papers::Part *now = nullptr, *first = nullptr;
    for (const papers::Day& day : days) {
        if (day > today) break;
        const papers::Part* there = papers::part_at(book, bike.id, kind, end, day);
        if (!first) first = there;
        if (there && there != now) {
            std::erase_if(out, [&](const There& t) { return t.part == there; });
            out.push_back({there, there == first});
        }
        now = there;
    }
    return out;
}

// All stays of a part up to its last one on this bike; what goes on at one place is one stay.
std::vector<papers::PartStay> stays_up_to_here(const papers::Book& book, const papers::Bike& bike, const papers::Part& part, const papers::Day& today) {
    std::vector<papers::PartStay> out;
    for (const papers::PartStay& s : papers::stays_of_part(book, part.id, today)) {
        if (s.to && *s.to <= s.from) continue;
        if (!out.empty() && out.back().bike == s.bike && out.back().end == s.end && (!out.back().to || *out.back().to >= s.from)) {
            if (out.back().to && (!s.to || *s.to > *out.back().to)) out.back().to = s.to;
        } else out.push_back(s);
    }
    while (!out.empty() && out.back().bike != bike.id) out.pop_back();
    return out;
}

// It was on something before its first stay on a bike.
bool fitted_before(const papers::Book& book, const papers::Part& part, std::span<const papers::PartStay> stays) {
    return std::any_of(book.fittings.begin(), book.fittings.end(), [&](const papers::Fitting& f) { return f.part_id == part.id && f.from_day < stays.front().from; });
}
// Or was ridden before the papers knew it.
bool used_before(const papers::Book& book, const papers::Part& part, std::span<const papers::PartStay> stays) {
    if (fitted_before(book, part, stays)) return true;
    const auto bike = std::find_if(book.bikes.begin(), book.bikes.end(), [&](const papers::Bike& b) { return b.id == stays.front().bike; });
    return bike == book.bikes.end() || stays.front().from <= bike->added_day;
}

// Thinner by more than the readings can be off, and no ride between them: it was ridden without papers. What counts from there on
// is the later reading, as if another part had come on.
// A reading that cannot be is no thickness to come down from.
void start_again_after_gaps(wear::History& h) {
    std::set<std::size_t> cannot_be;
    for (const wear::Question& q : wear::questions_of(h))
        if (q.why == wear::Question::Why::thicker_than_new || q.why == wear::Question::Why::grew) cannot_be.insert(q.reading);
    for (std::size_t i = 0; i < h.readings.size(); ++i) {
        const wear::ThicknessRow* before = nullptr;
        for (std::size_t k = 0; k < i; ++k)
            if (h.readings[k].component == h.readings[i].component && h.readings[k].set == h.readings[i].set && h.readings[k].stays_before == h.readings[i].stays_before && !h.readings[k].too_thick && !cannot_be.contains(k)) before = &h.readings[k];   // what was read too thick came down by itself
        wear::ThicknessRow& now = h.readings[i];
        if (!before || before->ride != now.ride || before->thickness_mm - now.thickness_mm <= 3 * std::hypot(before->sd_mm, now.sd_mm)) continue;
        const std::string old = now.set, name = fmt::format("{}, from {}", old, now.day ? format_day(*now.day) : "a later reading");
        wear::FittedRow f = wear::followed_from(*std::find_if(h.fitted.begin(), h.fitted.end(), [&](const wear::FittedRow& r) { return r.component == now.component && r.set == old; }), now, name);
        const wear::Component component = now.component;
        for (std::size_t k = i; k < h.readings.size(); ++k)
            if (h.readings[k].component == component && h.readings[k].set == old) h.readings[k].set = name;
        h.fitted.push_back(std::move(f));
        std::stable_sort(h.fitted.begin(), h.fitted.end(), [](const wear::FittedRow& a, const wear::FittedRow& b) { return a.start_ride < b.start_ride; });
    }
}

// No ride takes no time: where a ride's duration is not known it is 0.
std::optional<double> told(const std::optional<double>& duration_s) { return duration_s && *duration_s > 0 ? duration_s : std::nullopt; }

// Stays as learning counts them. On the day on which it went off it may have been ridden before that. Rides on another bike are cut
// where the part was read meanwhile. over: [stay] the first day that comes after its rides.
std::vector<wear::StayRow> stays_in_rides(const papers::Book& book, const papers::Bike& bike, const papers::Part& part, std::span<const papers::PartStay> stays, const papers::Day& today,
                                          const std::function<long(long)>& rides_before, const RidesElsewhere& elsewhere, std::vector<long>& over) {
    std::vector<wear::StayRow> out;
    std::set<papers::Id> undated;   // bikes whose rides of no day were counted
    const long last = *parse_day(today);
    for (const papers::PartStay& s : stays) {
        const long from = *parse_day(s.from), to = s.to ? *parse_day(*s.to) : last;
        if (s.bike == bike.id) {
            const long after = out.empty() ? 0 : out.back().end_ride;
            wear::StayRow row{.first_ride = std::max(after, rides_before(from) + 1), .end_ride = s.to && &s != &stays.back() ? rides_before(to + 1) + 1 : std::numeric_limits<long>::max(), .wheel = static_cast<int>(s.end)};
            row.end_ride = std::max(row.first_ride, row.end_ride);
            out.push_back(row), over.push_back(to + 1);
            continue;
        }
        const auto rides = elsewhere.find(s.bike);
        if (rides == elsewhere.end()) continue;
        double known_m = 0, known = 0;
        for (const papers::Ride& r : rides->second)
            if (r.distance_m) known_m += *r.distance_m, known += 1;
        std::set<long> cuts = {to + 1};
        for (const papers::Reading& r : book.readings)
            if (const auto day = r.part_id == part.id ? parse_day(r.day) : std::nullopt; day && *day > from && *day <= to) cuts.insert(*day);
        long begin = from;
        for (const long cut : cuts) {
            wear::StayRow row{.first_ride = std::max(out.empty() ? 0 : out.back().end_ride, rides_before(begin) + 1), .end_ride = 0, .wheel = static_cast<int>(s.end)};
            row.end_ride = row.first_ride;
            for (const papers::Ride& r : rides->second) {
                const auto on = day_of(r);
                const auto day = on ? parse_day(*on) : std::nullopt;
                if (day ? *day >= begin && *day < cut : cut == to + 1 && !undated.contains(s.bike)) row.elsewhere_m += r.distance_m.value_or(known > 0 ? known_m / known : 0);
            }
            if (row.elsewhere_m > 0) out.push_back(row), over.push_back(cut);
            begin = cut;
        }
        undated.insert(s.bike);
    }
    return out;
}

double relative_sd(const Uncertain& u) { return u.value > 0 ? u.sd / u.value : 0; }

}  // namespace

LearnSay learn_of_papers(const parts::Library& library, const papers::Book& book, const papers::Bike& bike, const parts::Bike& described, const parts::Bike& ridden,
                         std::span<const papers::Ride> rides, const papers::Day& today, const RidesElsewhere& rides_elsewhere) {
    LearnSay say;
    LifeAsk& ask = say.ask;
    ask.priors = wear::default_priors(library);
    ask.typical = typical_riding(library, described);
    ask.today = parse_day(today);
    const Uncertain& often = library.row("riding.rides_per_week").value;
    ask.rides_per_day = often.value / 7;
    ask.rides_per_day_log_sd = std::sqrt(std::log1p((often.sd / often.value) * (often.sd / often.value)));
    for (const papers::Ride& r : rides) {
        RideLine l;
        l.row.ride = static_cast<long>(say.lines.size()) + 1;
        if (const auto day = day_of(r)) l.row.day = parse_day(*day);
        l.row.distance_m = r.distance_m.value_or(0), l.row.descent_m = r.descent_m, l.row.duration_s = told(r.duration_s);
        l.row.wet = r.weather == "wet" ? 1 : 0, l.row.grit = r.weather == "gritty" ? 1 : 0;
        say.lines.push_back(std::move(l));
    }
    // One of no known length is as long as the others: it wears as they do.
    double way_m = 0, known = 0;
    for (const papers::Ride& r : rides)
        if (r.distance_m) way_m += *r.distance_m, known += 1;
    for (std::size_t i = 0; known > 0 && i < rides.size(); ++i)
        if (!rides[i].distance_m) say.lines[i].row.distance_m = way_m / known;
    // Rides of the day itself may have come after it, and rides of no day at any time: they stand last.
    const auto rides_before = [&](const papers::Day& day) {
        long n = 0;
        for (const papers::Ride& r : rides)
            if (const auto d = day_of(r); d && *d < day) ++n;
        return n;
    };
    const auto rides_through = [&](const papers::Day& day) { return rides_before(format_day(*parse_day(day) + 1)); };
    const inspect::Practice practice = inspect::practice_of(library);
    const parts::Bike plain = parts::default_bike(described.kind, library);
    double pad_area_sd = 0, rotor_area_sd = 0;
    for (const End end : {End::front, End::rear}) {
        const int w = static_cast<int>(end);
        for (const PartKind kind : {PartKind::pads, PartKind::rotor}) {
            const bool rotor = kind == PartKind::rotor;
            const std::vector<There> there = parts_at(book, bike, kind, end, today);
            for (std::size_t i = 0; i < there.size(); ++i) {
                const papers::Part& part = *there[i].part;
                const std::vector<papers::PartStay> stays = stays_up_to_here(book, bike, part, today);
                if (stays.empty()) continue;
                // What nobody told of a part: the description speaks of the first one, the bike as ridden of the one that is on.
                const parts::Wheel& told = (i + 1 == there.size() ? ridden : there[i].first ? described : plain).wheel(end);
                const bool used = used_before(book, part, stays);
                const auto namesake = std::count_if(there.begin(), there.begin() + static_cast<long>(i), [&](const There& t) { return t.part->name == part.name; });
                wear::FittedRow f;
                f.set = namesake == 0 ? part.name : fmt::format("{} ({})", part.name, namesake + 1), f.part = part.id, f.bedded = used;
                f.moved = stays.back().end != end, f.off = stays.back().to && *stays.back().to <= today;
                for (const papers::PartStay& s : stays)
                    if (s.bike == bike.id && s.end == end) f.start_ride = rides_before(s.from) + 1;
                std::vector<long> over;   // [stay] the first day that is after all its rides
                if (stays.size() > 1 && !f.moved) f.stays = stays_in_rides(book, bike, part, stays, today, [&](long day) { return rides_before(format_day(day)); }, rides_elsewhere, over);
                if (rotor) {
                    f.component = static_cast<wear::Component>(3 * w + 2);
                    const auto& never = plain.wheel(end).rotor.thickness_mm;   // never measured here
                    if (part.new_thickness_mm && !fitted_before(book, part, stays)) f.new_mm = *part.new_thickness_mm;
                    else f.new_mm = never.value, f.new_sd_mm = std::max(never.sd, 0.08);
                    const std::optional<double> limit = part.least_thickness_mm ? part.least_thickness_mm : told.rotor.least_thickness_mm ? std::optional(told.rotor.least_thickness_mm->value) : std::nullopt;
                    f.limit_stated = limit.has_value();
                    f.limit_mm = limit.value_or(library.value(f.new_mm >= library.value("inspect.rotor.thick_from_mm") ? "inspect.rotor.practice_least_thick_mm" : "inspect.rotor.practice_least_thin_mm"));
                    parts::Rotor shape = told.rotor;
                    if (part.diameter_mm) shape.band_inner_mm.value += *part.diameter_mm - shape.diameter_mm.value, shape.diameter_mm.value = *part.diameter_mm;
                    f.area_mm2 = wear::solid_swept_area_mm2(shape);
                    rotor_area_sd = std::max(rotor_area_sd, relative_sd(shape.solid_share));
                } else {
                    f.component = static_cast<wear::Component>(3 * w);
                    const auto& never = plain.wheel(end).pads.friction_thickness_mm;
                    if (part.new_thickness_mm && !fitted_before(book, part, stays)) f.new_mm = *part.new_thickness_mm;
                    else if (used) f.new_mm = never.value, f.new_sd_mm = std::max(never.sd, 0.5);
                    else f.new_mm = library.value("wear.new_friction_mm"), f.new_sd_mm = library.row("wear.new_friction_mm").value.sd;
                    const std::optional<double> limit = part.least_thickness_mm ? part.least_thickness_mm : told.pads.least_friction_mm ? std::optional(told.pads.least_friction_mm->value) : std::nullopt;
                    f.limit_stated = limit.has_value();
                    f.limit_mm = limit.value_or(library.value("wear.pad_limit_mm"));
                    if (!limit) f.limit_sd_mm = library.row("wear.pad_limit_mm").value.sd;
                    f.compound = parts::word_of(part.compound.value_or(told.pads.compound));
                    f.area_mm2 = part.area_mm2.value_or(told.pads.area_mm2.value);
                    if (!part.area_mm2) pad_area_sd = std::max(pad_area_sd, relative_sd(told.pads.area_mm2));
                }
                ask.history.fitted.push_back(f);
                if (!rotor) {
                    f.component = static_cast<wear::Component>(3 * w + 1);
                    ask.history.fitted.push_back(f);
                }
                if (f.moved) continue;
                // What was read of it before it came on, or after it went on to another bike, is of other riding.
                const std::vector<papers::PartStay> all = papers::stays_of_part(book, part.id, today);
                const bool gone_on = stays.back().to && std::any_of(all.begin(), all.end(), [&](const papers::PartStay& s) { return s.from >= *stays.back().to && s.bike != bike.id; });
                for (const papers::Reading& r : book.readings) {
                    if (r.part_id != part.id || r.what != (rotor ? What::rotor_thickness : What::pad_thickness) || r.day < stays.front().from || r.day > (gone_on ? *stays.back().to : today)) continue;
                    wear::ThicknessRow row;
                    row.ride = rides_before(r.day), row.day = parse_day(r.day), row.set = f.set, row.any_time = true;
                    if (stays.back().to) row.ride = std::min(row.ride, rides_through(*stays.back().to));   // off since: no ride wore it
                    for (std::size_t k = 0; k < over.size(); ++k)
                        if (f.stays[k].elsewhere_m > 0 && row.day && over[k] <= *row.day) row.stays_before = k + 1;
                    if (rotor) {
                        const std::optional<inspect::Band> band = papers::band_of(book, r, practice, library, today);
                        if (!band) continue;
                        row.component = static_cast<wear::Component>(3 * w + 2), row.thickness_mm = band->thickness_mm, row.sd_mm = band->uncertainty_mm, row.too_thick = band->too_thick;
                        ask.history.readings.push_back(row);
                        continue;
                    }
                    // The thinnest corner counts, as for the limit. One that names no side is of the thinner pad and stands for
                    // both: twice the variance, so that the pair is not known better than it was read.
                    std::array<std::optional<inspect::Reading>, 3> of;   // left, right, no side
                    for (const papers::Point& p : r.points) {
                        if (!p.length_mm) continue;
                        const inspect::Reading mm = papers::friction_of(book, r, *p.length_mm, described.wheel(end).pads.plate_thickness_mm.value, practice);
                        auto& to = of[p.side ? (*p.side == papers::Side::left ? 0 : 1) : 2];
                        if (!to || mm.value < to->value) to = mm;
                    }
                    for (std::size_t side = 0; side < 2; ++side) {
                        const bool both = !of[side] && of[2];
                        if (!of[side] && !both) continue;
                        const inspect::Reading& mm = both ? *of[2] : *of[side];
                        row.component = static_cast<wear::Component>(3 * w + static_cast<int>(side));
                        row.thickness_mm = mm.value, row.sd_mm = mm.uncertainty * (both ? std::sqrt(2.0) : 1.0), row.own_sd_mm = mm.uncertainty;
                        ask.history.readings.push_back(row);
                    }
                }
            }
        }
    }
    std::stable_sort(ask.history.fitted.begin(), ask.history.fitted.end(), [](const wear::FittedRow& a, const wear::FittedRow& b) { return a.start_ride < b.start_ride; });
    std::stable_sort(ask.history.readings.begin(), ask.history.readings.end(), [](const wear::ThicknessRow& a, const wear::ThicknessRow& b) { return a.ride < b.ride; });
    start_again_after_gaps(ask.history);
    // An area that nobody told scales every set alike.
    ask.priors.spread.set = std::hypot(ask.priors.spread.set, pad_area_sd);
    ask.priors.spread.rotor_rider = std::hypot(ask.priors.spread.rotor_rider, rotor_area_sd);
    return say;
}

Result<RidesElsewhere> rides_elsewhere_of(papers::Papers& papers, const papers::Book& book, const papers::Id& bike, const papers::Day& today) {
    RidesElsewhere out;
    for (const papers::Part& part : book.parts) {
        if (part.kind != PartKind::pads && part.kind != PartKind::rotor) continue;
        const std::vector<papers::PartStay> stays = papers::stays_of_part(book, part.id, today);
        if (std::none_of(stays.begin(), stays.end(), [&](const papers::PartStay& s) { return s.bike == bike; })) continue;
        for (const papers::PartStay& s : stays) {
            if (s.bike == bike || out.contains(s.bike)) continue;
            Result<std::vector<papers::Ride>> rides = papers.rides(s.bike);
            if (!rides) return rides.error();
            std::erase_if(*rides, [&](const papers::Ride& r) { const auto day = day_of(r); return day && *day > today; });
            out.emplace(s.bike, *std::move(rides));
        }
    }
    return out;
}

std::vector<const papers::Reading*> readings_of_wear(const papers::Book& book, const papers::Id& bike, const papers::Day& today) {
    std::vector<const papers::Reading*> out;
    for (const papers::Reading& r : book.readings) {
        const bool of_wear = r.what == What::pad_thickness || r.what == What::rotor_thickness || r.what == What::rotor_ridge || r.what == What::plate_thickness;
        if (!of_wear || !r.part_id || r.day > today) continue;
        const std::vector<papers::PartStay> stays = papers::stays_of_part(book, *r.part_id, today);
        if (std::any_of(stays.begin(), stays.end(), [&](const papers::PartStay& s) { return s.bike == bike; })) out.push_back(&r);
    }
    return out;
}

LearnedFrom learned_from(const papers::Book& book, const papers::Bike& bike, std::span<const papers::Ride> rides, const papers::Day& day) {
    LearnedFrom out;
    std::vector<papers::Id> parts;
    for (const papers::Reading* r : readings_of_wear(book, bike.id, day)) {
        out.readings.push_back(r->id);
        if (std::find(parts.begin(), parts.end(), *r->part_id) == parts.end()) parts.push_back(*r->part_id);
    }
    std::sort(parts.begin(), parts.end());
    std::vector<std::string> known;
    for (const papers::Ride& r : rides) {
        const std::optional<papers::Day> on = day_of(r);
        const std::string line = fmt::format("{} {} {}", r.id, on.value_or("-"), r.weather);
        if (on && *on < day) known.push_back(line);
        else if (!on || *on == day) out.rides_that_day.push_back(line);
    }
    std::sort(known.begin(), known.end());
    std::vector<std::string> told = {bike.description_toml};
    const auto said = [](const std::optional<double>& x) { return x ? fmt::format("{}", *x) : std::string("-"); };
    for (const papers::Id& id : parts) {
        for (const papers::PartStay& s : papers::stays_of_part(book, id, day))
            if (s.from <= day) known.push_back(fmt::format("{} {} {} {} {}", id, s.bike, parts::word_of(s.end), s.from, s.to && *s.to <= day ? *s.to : ""));
        for (const papers::Part& p : book.parts)
            if (p.id == id) told.push_back(fmt::format("{} {} {} {} {} {}", id, p.compound ? parts::word_of(*p.compound) : "-", said(p.new_thickness_mm), said(p.least_thickness_mm), said(p.area_mm2), said(p.diameter_mm)));
    }
    out.rides_and_stays = papers::key_of(known), out.described = papers::key_of(told);
    return out;
}

std::optional<papers::Day> day_of(const papers::Ride& r) {
    if (r.day) return r.day;
    if (r.start_unix_s) return format_day(static_cast<long>(std::floor(*r.start_unix_s / 86400)));
    return std::nullopt;
}

void take_work(RideLine& line, const RideWork& work) {
    const RideAnswer& r = work.ride;
    line.row.distance_m = r.distance_m, line.row.descent_m = r.descent_m, line.row.duration_s = told(r.duration_s);
    line.row.wet = r.wet_share, line.row.grit = r.grit_share;
    if (r.misfit || !r.heat_withheld.empty()) return;   // its braking is not known
    for (std::size_t e = 0; e < 2; ++e) {
        line.energy_J[e].clear();
        std::vector<double> degC;
        for (const WheelOutcome& o : work.outcomes[e]) {
            const double all = o.heat.dose.total_J();
            double sum = 0;
            for (const double b : o.heat.dose.energy_temperature_J_degC) sum += b;
            line.energy_J[e].push_back(all);
            degC.push_back(all > 1 ? sum / all : o.heat.peaks.pad_face.degC);
        }
        line.row.pad_degC[e] = quantile(degC, 0.5);
    }
}

void fill_lines(LearnSay& say, std::span<const RideAnswer> rides, const Doses& doses, const std::vector<std::uint8_t>& known) {
    std::vector<wear::RiddenRow> plan;
    for (std::size_t i = 0; i < rides.size(); ++i) {
        const RideAnswer& r = rides[i];
        const auto line = i < say.line_of.size() ? say.line_of[i] : std::nullopt;
        if (!known[i]) continue;
        RideLine own;
        RideLine& l = line ? say.lines[*line] : own;
        if (!line || r.described) {
            l.row.distance_m = r.distance_m, l.row.descent_m = r.descent_m;
            if (told(r.duration_s)) l.row.duration_s = r.duration_s;
            l.row.wet = r.wet_share, l.row.grit = r.grit_share;
            for (std::size_t e = 0; e < 2; ++e) {
                l.energy_J[e].clear();
                for (std::size_t k = 0; k < anchor_cases && k < doses[i][e].size(); ++k) l.energy_J[e].push_back(doses[i][e][k].total_J());
                l.row.pad_degC[e] = r.pad_mean_degC[e];
            }
        }
        if (!line) {
            for (std::size_t e = 0; e < 2; ++e) l.row.energy_J[e] = mean_of(l.energy_J[e]), l.row.energy_sd_J[e] = 0;
            plan.push_back(l.row);
        }
    }
    take_lines(say);
    if (!say.as_asked) return;
    for (const auto& line : say.line_of)
        if (!say.plan_alone && line && say.lines[*line].row.energy_J[0]) plan.push_back(say.lines[*line].row);
    say.ask.plan = std::move(plan);
}

}  // namespace bw::answer
