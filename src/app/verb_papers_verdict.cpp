// SPDX-License-Identifier: Apache-2.0
// `papers verdict`, `papers check`: is there a reason not to ride; the check before a ride.              Layer: app
#include <fmt/format.h>

#include <algorithm>
#include <nlohmann/json.hpp>

#include "answer/life_today.hpp"
#include "base/text.hpp"
#include "verb_papers.hpp"

namespace bw::app {

using json = nlohmann::ordered_json;

Judged judged(papers::Papers& papers, const papers::Book& book, const papers::Bike& bike, const parts::Library& library, const std::string& today) {
    Judged j{.bike = bike, .described = must(parts::read_bike(bike.description_toml, bike.name, library))};
    j.checks = papers::checks_of(book, bike, j.described, inspect::practice_of(library), library, today);
    answer::LifeSaid life = must(answer::life_said(papers, book, bike.id, today));
    j.worked_out = std::move(life.worked_out);
    j.checks.insert(j.checks.end(), life.checks.begin(), life.checks.end());
    j.verdict = inspect::combine(j.checks);
    // Where that is all that is wanted, it is not a reading.
    if (j.verdict.state == inspect::State::measure_better && std::all_of(j.verdict.reasons.begin(), j.verdict.reasons.end(), [](const inspect::Reason& r) { return r.code == "not_worked_out" || r.code == "heat_not_worked_out"; }))
        j.verdict.text = "Not yet worked out, see below. That aside, the readings alone give no reason" + j.verdict.text.substr(j.verdict.text.rfind(" in "));
    j.list = papers::before_ride(book, bike, j.described, library, today);
    for (const papers::ToDo& t : j.list) j.minutes += t.minutes;
    return j;
}

std::string name_of(const papers::ToDo& t) { return (t.place ? std::string(papers::word_of(*t.place)) + "." : std::string()) + std::string(papers::word_of(t.item)); }

const char* word_of(papers::ToDo::Why why) {
    switch (why) {
        case papers::ToDo::Why::fault: return "fault";
        case papers::ToDo::Why::after_happening: return "after_happening";
        case papers::ToDo::Why::never: return "never";
        case papers::ToDo::Why::overdue: return "overdue";
        case papers::ToDo::Why::routine: return "routine";
    }
    return "routine";
}

// What stands behind the checks: run-out, thickness around the turn, evenness of the pads.
void look_behind(Judged& j, const papers::Book& book, const parts::Library& library, const std::string& today) {
    for (const parts::End end : {parts::End::front, parts::End::rear}) {
        if (auto read = papers::run_out_read(book, j.bike.id, end, library, today)) j.run_out.emplace_back(end, *std::move(read));
        if (auto read = papers::rotor_read(book, j.bike.id, end, library, today)) j.rotor.emplace_back(end, *std::move(read));
        if (auto read = papers::pads_read(book, j.bike.id, j.described, end, library, today)) j.pads.emplace_back(end, *std::move(read));
        if (auto read = papers::gaps_read(book, j.bike.id, end, library, today)) j.gaps.emplace_back(end, *std::move(read));
        if (auto read = papers::lever_read(book, j.bike.id, j.described, end, library, today)) j.levers.emplace_back(end, *std::move(read));
        if (auto read = papers::proof_read(book, j.bike.id, j.described, end, library, today)) j.proof.emplace_back(end, *std::move(read));
        for (papers::WeighedRead& read : papers::weighed_read(book, j.bike.id, j.described, end, library, today)) j.weighed.emplace_back(end, std::move(read));
    }
}

std::vector<Line> lines_of(const Judged& j, Length length) {
    std::vector<Line> out;
    const auto say = [&](parts::End end, const char* what, std::string text) { out.push_back({end, what, std::move(text)}); };
    const auto all = [&](parts::End end, const char* what, const std::vector<std::string>& list, const std::string& day) {
        for (const std::string& line : list) say(end, what, fmt::format("read on {}: {}", day, line));
    };
    for (const auto& [end, read] : j.proof) say(end, "proof", papers::words_of(read));
    for (const auto& [end, read] : j.pads) all(end, "pads", inspect::words_of(read.patterns), read.reading.day);
    for (const auto& [end, read] : j.gaps) {
        say(end, "gap", fmt::format("read on {}: narrowest {:.2f} mm{}{}", read.reading.day, read.least_mm, read.both_sides_mm ? fmt::format(", both sides together {:.2f} mm", *read.both_sides_mm) : "", read.least_mm <= 0 ? ": the rotor rubs there." : "."));
        all(end, "gap", inspect::words_of(read.patterns), read.reading.day);
    }
    for (const auto& [end, read] : j.levers) all(end, "lever", inspect::words_of(read.patterns), read.last.day);
    for (const auto& [end, read] : j.weighed)
        say(end, "weight", fmt::format("the {} pad lost {:.2f} g (good to {:.2f} g) from {} to {}: by its area and the density of its kind {:.2f} mm ({:.2f} to {:.2f}) of friction material. Dirt and oil weigh too; a thickness counts for verdicts, not this.", papers::word_of(read.side), read.lost_g, 2 * read.uncertainty_g, read.first.day,
                                       read.last.day, read.lost_mm.p50, read.lost_mm.p05, read.lost_mm.p95));
    for (const auto& [end, read] : j.rotor)
        say(end, "rotor", fmt::format("read on {} at {} places: thinnest reading {:.2f} mm, truly {:.3f} to {:.3f} mm there; thickness varies around the turn by {:.3f} mm ({:.3f} to {:.3f}). Nothing is known between the places.", read.reading.day, read.around.places, read.around.least_seen_mm, read.around.least_mm.p05,
                                      read.around.least_mm.p95, read.around.variation_mm.p50, read.around.variation_mm.p05, read.around.variation_mm.p95));
    for (const auto& [end, read] : j.run_out) {
        if (!read.run_out) {
            say(end, "run_out", fmt::format("read on {}: {}", read.reading.day, read.why_not));
            continue;
        }
        // As the page has it: no plan for a rotor that its thickness or a crack ends.
        const auto ends = [end = end](const inspect::Check& c) {
            if (c.id == inspect::CheckId::bolts_and_cracks) return c.do_not_ride;
            return c.id == (end == parts::End::front ? inspect::CheckId::front_rotor_thickness : inspect::CheckId::rear_rotor_thickness) && (c.do_not_ride || c.state == inspect::State::replace);
        };
        const std::vector<std::string> words = inspect::words_of(*read.run_out, read.budget, std::any_of(j.checks.begin(), j.checks.end(), ends));
        for (std::size_t i = 0; i < words.size(); ++i) {
            if (i > 0 && length == Length::short_one) {
                say(end, "run_out", "what it is made of, and where to push: papers verdict");
                break;
            }
            say(end, "run_out", i == 0 ? fmt::format("read on {}: {}", read.reading.day, words[i]) : words[i]);
        }
    }
    return out;
}

json json_of(const std::vector<Line>& lines) {
    json out = json::array();
    for (const Line& l : lines) out.push_back({{"place", papers::word_of(l.place)}, {"what", l.what}, {"text", l.text}});
    return out;
}

namespace {

std::vector<Judged> all_judged(Desk& d, const parts::Library& library) {
    const papers::Book book = must(papers::book_of(*d.papers, std::nullopt));
    std::vector<Judged> all;
    for (const papers::Bike& b : book.bikes)
        if (!b.retired_day || *b.retired_day > d.today) all.push_back(judged(*d.papers, book, b, library, d.today));
    return all;
}

json json_of(const inspect::Verdict& v) {
    json reasons = json::array(), notes = json::array();
    for (const auto& r : v.reasons) reasons.push_back({{"code", r.code}, {"text", r.text}});
    for (const auto& r : v.notes) notes.push_back({{"code", r.code}, {"text", r.text}});
    return {{"do_not_ride", v.do_not_ride}, {"state", inspect::word_of(v.state)}, {"reasons", reasons}, {"notes", notes}, {"checks_done", v.checks_done}, {"checks_total", v.checks_total}};
}

json json_of(const Interval& i) { return {{"p05", i.p05}, {"p50", i.p50}, {"p95", i.p95}}; }
json json_of(const inspect::TurnPattern& p) { return {{"per_turn", p.per_turn}, {"probability", p.probability}, {"amplitude_mm", json_of(p.amplitude_mm)}, {"angle_deg", json_of(p.angle_deg)}}; }
template <class T>
json json_or_null(const std::optional<T>& x) {
    return x ? json_of(*x) : json();
}
json json_of(const std::vector<inspect::Bend>& bends) {
    json list = json::array();
    for (const inspect::Bend& b : bends)
        list.push_back({{"probability", b.probability}, {"angle_deg", json_of(b.angle_deg)}, {"height_mm", json_of(b.height_mm)}, {"width_deg", json_of(b.width_deg)}, {"push", b.height_mm.p50 > 0 ? "away_from_dial" : "towards_dial"}, {"total_after_mm", json_of(b.after_mm)}});
    return list;
}

json json_of(const std::vector<inspect::Pattern>& patterns) {
    json list = json::array();
    for (const inspect::Pattern& p : patterns) {
        json causes = json::array();
        for (const auto& c : p.causes) causes.push_back({{"text", c.text}, {"share", c.share}, {"grade", "common_practice"}});
        list.push_back({{"code", p.code}, {"pad", p.which.empty() ? json() : json(p.which)}, {"difference_mm", p.difference_mm}, {"uncertainty_mm", p.uncertainty_mm}, {"probability", p.probability}, {"causes", causes}});
    }
    return list;
}

void print_json(json j) {
    json out = {{"schema", "papers/1"}, {"version", version}};
    out.update(j);
    fmt::print("{}\n", out.dump(2, ' ', false, json::error_handler_t::replace));
}

// A lead of fixed width, then text beside it, 80 columns in all.
std::string beside(const std::string& lead, const std::string& text) {
    const std::string gap = "\n" + std::string(lead.size(), ' ');
    std::string out = lead;
    for (const char c : wrap(text, 80 - static_cast<int>(lead.size()), 0)) out += c == '\n' ? gap : std::string(1, c);
    return out;
}

std::string html(std::string_view text) {
    std::string out;
    for (const char c : text) out += c == '<' ? "&lt;" : c == '>' ? "&gt;" : c == '&' ? "&amp;" : c == '"' ? "&quot;" : std::string(1, c);
    return out;
}

// What a bike that is not held back needs beside the check: the first thing to replace, or how many readings are wanted.
std::string said_of(const Judged& j) {
    if (j.verdict.state == inspect::State::replace && !j.verdict.reasons.empty()) return ": " + j.verdict.reasons.front().text;
    std::string out;
    if (!j.worked_out) out += ": not yet worked out";
    const auto now = std::find_if(j.checks.begin(), j.checks.end(), [](const inspect::Check& c) { return c.code.ends_with("_look_now"); });
    if (now != j.checks.end()) return out + (out.empty() ? ": " : "; ") + now->text;
    const auto wanted = std::count_if(j.checks.begin(), j.checks.end(), [](const inspect::Check& c) { return c.state == inspect::State::measure_better && c.code != "not_worked_out"; });
    return wanted ? out + fmt::format("{}{} to measure", out.empty() ? ": " : ", ", wanted) : out;
}

// A page to print and cut: what matters first on each tag.
std::string tags_of(const std::vector<Judged>& all, const std::string& today) {
    std::string out = "<!doctype html>\n<html lang=\"en\"><head><meta charset=\"utf-8\"><title>Tags</title><style>\n"
                      "body { font: 10pt sans-serif; margin: 8mm } section { border: 1px solid #000; padding: 4mm; margin: 0 0 4mm; break-inside: avoid }\n"
                      "h1 { font-size: 14pt; margin: 0 } h1 small { font-weight: normal } .stop { font-size: 16pt; font-weight: bold; border: 3px solid #000; padding: 2mm; margin: 2mm 0 }\n"
                      "ul { list-style: none; margin: 2mm 0; padding: 0 } footer { font-size: 8pt }\n</style></head><body>\n";
    for (const Judged& j : all) {
        out += fmt::format("<section><h1>{} <small>{}, {:.0f} min</small></h1>\n", html(j.bike.name), today, j.minutes);
        out += fmt::format("<p{}>{}</p>\n<ul>\n", j.verdict.do_not_ride ? " class=\"stop\"" : "", html(j.verdict.text));
        for (const papers::ToDo& t : j.list) out += fmt::format("<li>{} {}</li>\n", t.why == papers::ToDo::Why::routine ? "&#9745;" : "&#9744;", html(t.text));
        out += fmt::format("</ul><footer>{}</footer></section>\n", caution);
    }
    return out + "</body></html>\n";
}

}  // namespace

// Data of the drawing: what was read, the rotor's shape with its interval, each part of it.
json json_of(const papers::RunOutRead& r) {
    json out = {{"day", r.reading.day}, {"reading", r.reading.id}};
    if (!r.run_out) {
        out["why_not"] = r.why_not;
        return out;
    }
    const inspect::RunOut& x = *r.run_out;
    static constexpr const char* depth[] = {"only_seen", "total", "parts"};
    json read = json::array(), shape = json::array();
    for (const papers::Point& p : r.reading.points)
        if (p.angle_deg && p.length_mm) read.push_back({{"angle_deg", *p.angle_deg}, {"dial_mm", *p.length_mm}});
    for (const inspect::ShapePoint& p : x.shape) shape.push_back({{"angle_deg", p.angle_deg}, {"dial_mm", json_of(p.dial_mm)}});
    out.update({{"depth", depth[static_cast<int>(x.depth)]}, {"angles", x.angles}, {"seen_mm", x.seen_mm}, {"total_mm", json_or_null(x.total_mm)}, {"total_without_tilt_mm", json_or_null(x.total_without_tilt_mm)}, {"noise_mm", json_or_null(x.noise_mm)},
                {"tilt", json_or_null(x.tilt)}, {"saddle", json_or_null(x.saddle)}, {"arms", json_or_null(x.arms)}, {"bends", json_of(x.bends)}, {"perhaps", json_of(x.perhaps)}, {"read", read}, {"shape", shape}, {"worth_mm", r.budget.worth_mm}, {"words", inspect::words_of(x, r.budget)}});
    return out;
}

int papers_verdict(Desk& d) {
    const parts::Library library = must(parts::load_library());
    std::vector<Judged> all;
    if (!d.o.bike.empty() || must(d.papers->bikes()).size() == 1) all.push_back(judged(*d.papers, must(papers::book_of(*d.papers, d.bike().id)), d.bike(), library, d.today));
    else all = all_judged(d, library);
    if (all.empty()) d.bike();
    // Held-back bikes first, then the worse state, then the name.
    std::stable_sort(all.begin(), all.end(), [](const Judged& a, const Judged& b) { return static_cast<int>(a.verdict.state) > static_cast<int>(b.verdict.state); });
    bool held = false;
    json list = json::array();
    const papers::Book book = must(papers::book_of(*d.papers, std::nullopt));
    for (Judged& j : all) {
        if (d.o.common.json || all.size() == 1) look_behind(j, book, library, d.today);
        held = held || j.verdict.do_not_ride;
        json entry = {{"bike", j.bike.name}, {"id", j.bike.id}, {"day", d.today}, {"worked_out", j.worked_out ? json(*j.worked_out) : json()}, {"verdict", json_of(j.verdict)}};
        if (!j.run_out.empty()) entry["run_out"] = json::object();
        for (const auto& [end, read] : j.run_out) entry["run_out"][std::string(papers::word_of(end))] = json_of(read);
        if (!j.rotor.empty()) entry["rotor_thickness"] = json::object();
        for (const auto& [end, read] : j.rotor) entry["rotor_thickness"][std::string(papers::word_of(end))] = {{"day", read.reading.day}, {"places", read.around.places}, {"least_seen_mm", read.around.least_seen_mm}, {"least_mm", json_of(read.around.least_mm)}, {"variation_mm", json_of(read.around.variation_mm)}};
        if (!j.pads.empty()) entry["uneven_pads"] = json::object();
        for (const auto& [end, read] : j.pads) entry["uneven_pads"][std::string(papers::word_of(end))] = {{"day", read.reading.day}, {"patterns", json_of(read.patterns)}};
        if (!j.gaps.empty()) entry["uneven_gaps"] = json::object();
        for (const auto& [end, read] : j.gaps) entry["uneven_gaps"][std::string(papers::word_of(end))] = {{"day", read.reading.day}, {"least_mm", read.least_mm}, {"both_sides_mm", read.both_sides_mm ? json(*read.both_sides_mm) : json()}, {"patterns", json_of(read.patterns)}};
        if (!j.levers.empty()) entry["lever_travel"] = json::object();
        for (const auto& [end, read] : j.levers) entry["lever_travel"][std::string(papers::word_of(end))] = {{"first_day", read.first.day}, {"day", read.last.day}, {"patterns", json_of(read.patterns)}};
        if (!j.weighed.empty()) entry["pads_weighed"] = json::array();
        for (const auto& [end, read] : j.weighed) entry["pads_weighed"].push_back({{"place", papers::word_of(end)}, {"side", papers::word_of(read.side)}, {"first_day", read.first.day}, {"day", read.last.day}, {"lost_g", read.lost_g}, {"uncertainty_g", read.uncertainty_g}, {"lost_mm", json_of(read.lost_mm)}});
        list.push_back(std::move(entry));
        if (d.o.common.json) continue;
        fmt::print("{}\n", wrap(fmt::format("{}: {}", j.bike.name, j.verdict.text), 80, 2));
        if (all.size() > 1) continue;
        for (std::size_t i = 0; i < j.verdict.reasons.size(); ++i)
            if (i > 0 || !j.verdict.do_not_ride) fmt::print("{}\n", wrap("- " + j.verdict.reasons[i].text, 80, 2));
        for (const auto& n : j.verdict.notes) fmt::print("{}\n", wrap("- " + n.text, 80, 2));
        for (const Line& l : lines_of(j, Length::whole)) fmt::print("{}\n", wrap(fmt::format("- {} {}: {}", papers::word_of(l.place), l.what == "run_out" ? "run-out" : l.what, l.text), 80, 2));
    }
    if (d.o.common.json) print_json({{"bikes", list}, {"cautions", {caution}}});
    else fmt::print("{}\n", wrap(caution, 80, 0));
    return d.o.verdict_status && held ? 5 : 0;
}

int papers_check(Desk& d) {
    const parts::Library library = must(parts::load_library());
    const bool ticking = !d.o.ok.empty() || !d.o.fault.empty();
    if (!ticking && d.o.bike.empty() && (must(d.papers->bikes()).size() > 1 || !d.o.csv.empty())) {
        std::vector<Judged> all = all_judged(d, library);
        std::stable_sort(all.begin(), all.end(), [](const Judged& a, const Judged& b) {
            if (a.verdict.do_not_ride != b.verdict.do_not_ride) return a.verdict.do_not_ride;
            if (a.minutes != b.minutes) return a.minutes > b.minutes;
            return static_cast<int>(a.verdict.state) > static_cast<int>(b.verdict.state);
        });
        if (!d.o.csv.empty()) must(write_file(d.o.csv, tags_of(all, d.today)));
        json list = json::array();
        double minutes = 0;
        for (const Judged& j : all) {
            minutes += j.minutes;
            list.push_back({{"bike", j.bike.name}, {"id", j.bike.id}, {"do_not_ride", j.verdict.do_not_ride}, {"state", inspect::word_of(j.verdict.state)}, {"minutes", j.minutes}, {"text", j.verdict.text}, {"worked_out", j.worked_out ? json(*j.worked_out) : json()}});
            if (!d.o.common.json) fmt::print("{}\n", beside(fmt::format("{:4.0f} min  ", j.minutes), j.bike.name + (j.verdict.do_not_ride ? ": " + j.verdict.text : said_of(j))));
        }
        if (d.o.common.json) print_json({{"day", d.today}, {"minutes", minutes}, {"bikes", list}, {"cautions", {caution}}});
        else fmt::print("{:4.0f} min  in all\n{}\n", minutes, wrap(caution, 80, 0));
        return 0;
    }
    if (!d.o.csv.empty()) stop(Errc::wrong_usage, "--tags prints all bikes: leave the bike and the ticks out");
    const papers::Bike bike = d.bike();
    const Judged before = judged(*d.papers, must(papers::book_of(*d.papers, bike.id)), bike, library, d.today);
    if (ticking) {
        std::vector<papers::Tick> ticks;
        std::vector<std::string> known;
        for (const papers::ToDo& t : before.list) known.push_back(name_of(t));
        const papers::Id check = papers::new_uuid();
        const auto tick = [&](const std::string& word, papers::Outcome outcome, const std::string& note) {
            int n = 0;
            for (const papers::ToDo& t : before.list) {
                // An item of each wheel without a wheel's name is both of them.
                if (word != "all" && word != name_of(t) && word != papers::word_of(t.item)) continue;
                ++n;
                const bool faulty = std::any_of(ticks.begin(), ticks.end(), [&](const papers::Tick& o) { return o.item == t.item && o.place == t.place; });
                if (faulty && word == "all") continue;   // --fault names it
                if (faulty) stop(Errc::wrong_usage, fmt::format("'{}' is ticked twice", name_of(t)));
                papers::Tick x;
                x.check_id = check;
                x.bike_id = bike.id;
                x.item = t.item;
                x.place = t.place;
                x.outcome = outcome;
                x.day = d.today;
                x.recorded_unix_s = d.deed.at_unix_s;
                x.note = note;
                ticks.push_back(x);
            }
            if (n == 0) stop(Errc::wrong_usage, fmt::format("'{}' is no item of this bike's list: {}{}", word, fmt::join(known, ", "), nearest(word, known)));
        };
        for (const std::string& f : d.o.fault) {
            const std::size_t eq = f.find('=');
            const std::string word = f.substr(0, eq);
            if (word == "all") stop(Errc::wrong_usage, "--fault names the items that have one");
            tick(word, papers::Outcome::fault, eq == std::string::npos ? d.o.note : f.substr(eq + 1));
        }
        for (const std::string& word : d.o.ok) tick(word, papers::Outcome::ok, d.o.note);
        d.together([&] {
            const papers::Id person = d.person(d.by_or_stop("check"));
            for (papers::Tick& t : ticks) t.person_id = person;
            must(d.papers->add_ticks(d.deed, ticks));
        });
    }
    const papers::Book book = must(papers::book_of(*d.papers, bike.id));
    Judged now = judged(*d.papers, book, bike, library, d.today);
    look_behind(now, book, library, d.today);
    json list = json::array();
    if (!d.o.common.json && now.verdict.do_not_ride) fmt::print("{}\n", wrap(fmt::format("{}: {}", bike.name, now.verdict.text), 80, 2));
    if (!d.o.common.json) fmt::print("{}, {}: {:.0f} min\n", bike.name, d.today, now.minutes);
    if (!d.o.common.json && !now.verdict.do_not_ride)   // what the forecasts say is no item that can be ticked
        for (const inspect::Check& c : now.checks)
            if (c.code.ends_with("_look_now") || c.code == "not_worked_out") fmt::print("{}\n", wrap("- " + c.text, 80, 2));
    for (const papers::ToDo& t : now.list) {
        list.push_back({{"item", papers::word_of(t.item)}, {"place", t.place ? json(papers::word_of(*t.place)) : json()}, {"why", word_of(t.why)}, {"text", t.text}, {"minutes", t.minutes}, {"last_ok_day", t.last_ok ? json(*t.last_ok) : json()}});
        if (!d.o.common.json) fmt::print("{}\n", beside(fmt::format("[{}] {:<20} ", t.why == papers::ToDo::Why::routine ? "x" : t.why == papers::ToDo::Why::fault ? "!" : " ", name_of(t)), t.text));
    }
    if (d.o.common.json) print_json({{"bike", bike.name}, {"day", d.today}, {"verdict", json_of(now.verdict)}, {"minutes", now.minutes}, {"items", list}, {"condition", json_of(lines_of(now, Length::short_one))}, {"cautions", {caution}}});
    for (const Line& l : lines_of(now, Length::short_one))
        if (!d.o.common.json) fmt::print("{}\n", wrap(fmt::format("- {} {}: {}", papers::word_of(l.place), l.what == "run_out" ? "run-out" : l.what, l.text), 80, 2));
    if (!d.o.common.json) fmt::print("{}\n", wrap(caution, 80, 0));
    return 0;
}

}  // namespace bw::app
