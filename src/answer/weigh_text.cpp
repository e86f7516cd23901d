// SPDX-License-Identifier: Apache-2.0
// Two set-ups weighed up, in sentences for a terminal.                                                   Layer: answer
#include <fmt/format.h>

#include <algorithm>
#include <cmath>

#include "answer/weigh.hpp"
#include "base/text.hpp"

namespace bw::answer {

namespace {

constexpr int width = 80;

std::string amount(double v, const std::string& unit) {
    const double scaled = unit == "J" ? v / 1000 : v;
    const std::string number = unit == "°C" ? fmt::format("{:.0f}", scaled) : significant(scaled, 2);
    return number + (unit.empty() ? "" : unit == "J" ? " kJ" : " " + unit);
}
std::string span(const Interval& i, const std::string& unit) {
    const std::string lead = amount(i.p50, unit);
    const auto bare = [&](double v) { return unit == "°C" ? fmt::format("{:.0f}", v) : significant(unit == "J" ? v / 1000 : v, 2); };
    return fmt::format("{} ({} to {})", lead, bare(i.p05), bare(i.p95));
}

// How the two compare, by how much and how surely.
std::string sentence(const WeighedFigure& f) {
    const std::string each = fmt::format("A {}, B {}", f.a ? span(*f.a, f.unit) : "not given", f.b ? span(*f.b, f.unit) : "not given");
    if (!f.difference) return each + ".";
    const Interval& d = *f.difference;
    if (*f.b_larger_share == 0 && *f.b_smaller_share == 0) return "the same, " + amount(f.a->p50, f.unit) + ".";
    const double shown = std::max(std::abs(d.p05), std::abs(d.p95));
    constexpr double nobody_feels = 0.005;   // of the figure itself
    if (shown < nobody_feels * std::abs(f.a->p50)) return "as good as the same, " + amount(f.a->p50, f.unit) + ".";
    if (d.p05 > 0 || d.p95 < 0) {
        const bool more = d.p05 > 0;
        const Interval by = more ? d : Interval{-d.p95, -d.p50, -d.p05};
        return fmt::format("{} {} with B. {}.", span(by, f.unit), more ? "more" : "less", each);
    }
    if (*f.b_larger_share == 0 || *f.b_smaller_share == 0) return fmt::format("the same or {} with B, by up to {}. {}.", *f.b_larger_share == 0 ? "less" : "more", amount(shown, f.unit), each);
    return fmt::format("no clear difference, at most about {} either way; B has more in {:.0f} % of the cases. {}.", amount(shown, f.unit), 100 * *f.b_larger_share, each);
}

std::string value(const Changed::Value& v) {
    if (const auto* x = std::get_if<double>(&v)) return significant(*x, 4);
    if (const auto* x = std::get_if<std::string>(&v)) return *x;
    if (const auto* x = std::get_if<bool>(&v)) return *x ? "true" : "false";
    return "none";
}

}  // namespace

std::string text_of(const Weighed& w, const std::string& version) {
    std::string out;
    const auto line = [&](const std::string& text, int indent = 2) { out += wrap(text, width, indent) + "\n"; };
    const auto head = [&](const std::string& title) {
        out += "\n" + title + "\n";
        for (int i = 0; i < width; ++i) out += "─";
        out += "\n";
    };
    line(fmt::format("Two set-ups on the same {} likely cases and the same rides. brakewright {}", w.a.cases, version));
    for (const auto& [letter, a] : {std::pair('A', &w.a), std::pair('B', &w.b)}) {
        if (a->verdict.do_not_ride) line(fmt::format("■ {}, {}: DO NOT RIDE.", letter, a->bike.name));
        else line(fmt::format("{}: {}, {:.0f} kg: {}", letter, a->bike.name, a->bike.total_mass_kg.value, a->verdict.text));
        if (!a->verdict.do_not_ride) continue;
        for (const auto& r : a->verdict.reasons) line("  - " + r.text, 4);
    }
    if (!w.withheld.empty()) line(w.withheld);

    head("What differs");
    if (w.changed.empty()) line("Nothing: the two descriptions say the same.");
    constexpr std::size_t most = 30;
    for (std::size_t i = 0; i < std::min(most, w.changed.size()); ++i) {
        const Changed& c = w.changed[i];
        std::string text = fmt::format("  {}: {} in A, {} in B{}", c.key, value(c.a), value(c.b), c.unit.empty() ? "" : " [" + c.unit + "]");
        if (c.a == c.b) text += ", with another spread";
        line(text, 4);
    }
    if (w.changed.size() > most) line(fmt::format("  and {} more: --json", w.changed.size() - most));

    const auto part = [&](const char* title, auto&& wanted) {
        bool any = false;
        std::optional<std::size_t> ride;
        const auto open = [&](const std::optional<std::size_t>& of) {
            if (!any) head(title);
            if (of && of != ride) line(w.a.rides[*of].file + ":");
            any = true;
            ride = of;
        };
        for (const WeighedFigure& f : w.figures)
            if (wanted(f.about) && (f.a || f.b)) open(f.ride), line("  " + f.text + ": " + sentence(f), 4);
        for (const WeighedShare& s : w.shares) {
            if (!wanted(s.about) || (!s.a && !s.b) || (s.a.value_or(0) == 0 && s.b.value_or(0) == 0)) continue;
            open(s.ride);
            const auto percent = [](const std::optional<double>& x) { return !x ? std::string("not given") : *x > 0 && *x < 0.005 ? std::string("under 1 %") : fmt::format("{:.0f} %", 100 * *x); };
            line(fmt::format("  {}: A in {} of the cases, B in {}.", s.text, percent(s.a), percent(s.b)), 4);
        }
    };
    part("Will it stop", [](About a) { return a == About::stop || a == About::lever; });
    part("How hot", [](About a) { return a == About::heat; });
    part("How much riding is left", [](About a) { return a == About::life; });
    part("Beside the standards' figures: yardsticks, not an approval", [](About a) { return a == About::yardstick; });
    for (const Answer* a : {&w.a, &w.b})
        if (!a->life_withheld.empty() && !a->verdict.do_not_ride) {
            line("Riding left: " + a->life_withheld);
            break;
        }
    head("Caution");
    for (const std::string& c : cautions_of(w, false)) line("  " + c);
    return out;
}

}  // namespace bw::answer
