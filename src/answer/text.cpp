// SPDX-License-Identifier: Apache-2.0
// The answer for a terminal, at most 80 columns: what matters first.                                     Layer: answer
#include <fmt/format.h>

#include <algorithm>
#include <cctype>
#include <cmath>

#include "answer/answer.hpp"
#include "base/text.hpp"
#include "base/time.hpp"
#include "describe.hpp"

namespace bw::answer {

namespace {

constexpr int width = 80;

int letters(std::string_view s) {
    return static_cast<int>(std::count_if(s.begin(), s.end(), [](char c) { return (static_cast<unsigned char>(c) & 0xC0) != 0x80; }));
}

std::string padded(std::string_view s, int columns) {
    return std::string(s) + std::string(static_cast<std::size_t>(std::max(s.empty() ? 0 : 1, columns - letters(s))), ' ');
}

// 12345.6 to three digits: "12,300".
std::string figure(double v, int digits = 2) {
    std::string s = significant(v, digits);
    const std::size_t end = std::min(s.find('.'), s.size());
    const std::size_t first = s.starts_with('-') ? 1 : 0;
    for (std::size_t at = end; at > first + 3; at -= 3) s.insert(at - 3, ",");
    return s;
}

std::string span(const Interval& i, double scale = 1) {
    return fmt::format("{} ({} to {})", figure(i.p50 * scale), figure(i.p05 * scale), figure(i.p95 * scale));
}

std::string degrees(const Interval& i) {
    return fmt::format("{:.0f} ({:.0f} to {:.0f})", i.p50, i.p05, i.p95);
}

// A share of n likely cases: none of them is not "never".
std::string percent(double share, std::size_t n) {
    if (share <= 0) return fmt::format("in none of {} cases", n);
    if (share < 0.005) return "under 1 %";
    if (share > 0.995) return "over 99 %";
    return fmt::format("{:.0f} %", share * 100);
}

std::string clock(double s) {
    const long minutes = std::lround(s / 60);
    return minutes < 60 ? fmt::format("{} min", minutes) : fmt::format("{} h {:02} min", minutes / 60, minutes % 60);
}

class Page {
public:
    void line(std::string_view text = "") { out_ += std::string(text) + "\n"; }
    //! Text beside a lead, wrapped under its own first letter.
    void item(std::string_view lead, std::string_view text) {
        const int indent = letters(lead);
        const std::string wrapped = wrap(text, width - indent, 0);
        out_ += lead;
        for (const char c : wrapped) {
            out_ += c;
            if (c == '\n') out_ += std::string(static_cast<std::size_t>(indent), ' ');
        }
        out_ += "\n";
    }
    void head(std::string_view title) {
        line();
        line(title);
        std::string rule;
        for (int i = 0; i < width; ++i) rule += "─";
        line(rule);
    }
    std::string take() { return std::move(out_); }

private:
    std::string out_;
};

std::string blocks_of(const std::vector<double>& values, double most) {
    static constexpr const char* levels[] = {"·", "▁", "▂", "▃", "▄", "▅", "▆", "▇", "█"};
    std::string out;
    for (const double v : values) {
        const double share = most > 0 ? v / most : 0;
        out += levels[share <= 0.01 ? 0 : std::clamp(static_cast<int>(std::ceil(share * 8)), 1, 8)];
    }
    return out;
}

// The check that a code such as "front_rotor_run_out_not_looked" speaks of.
std::string check_named(std::string_view code, std::string_view ending) {
    code.remove_suffix(ending.size());
    for (std::size_t i = 0; i < inspect::checks_total; ++i)
        if (const auto id = static_cast<inspect::CheckId>(i); inspect::word_of(id) == code) return inspect::name_of_check(id);
    return inspect::name_of_check(inspect::CheckId::other);
}

void verdict(Page& page, const inspect::Verdict& v) {
    page.line();
    if (v.do_not_ride) {
        page.item("■ ", "DO NOT RIDE.");
    } else {
        const char* shape = v.state == inspect::State::no_reason_found ? "○ " : v.state == inspect::State::look_by ? "◐ " : v.state == inspect::State::measure_better ? "△ " : "■ ";
        std::string text = v.text;
        if (!text.empty()) text[0] = static_cast<char>(std::toupper(static_cast<unsigned char>(text[0])));
        page.item(shape, text + (text.ends_with('.') ? "" : "."));
    }
    // Worst first, every one; what nobody measured is one line at the end.
    std::string never;
    for (const auto& r : v.reasons) {
        if (r.code.ends_with("never_measured")) {
            never += (never.empty() ? "" : "; ") + check_named(r.code, "_never_measured");
        } else page.item("  - ", r.text);
    }
    if (!never.empty()) page.item("  - ", "Never measured, so nothing is known of it: " + never + ". Measure it.");
    std::string not_looked;
    for (const auto& r : v.notes) {
        if (!r.code.ends_with("not_looked")) {
            if (!v.do_not_ride) page.item("  - ", r.text);
            continue;
        }
        not_looked += (not_looked.empty() ? "" : "; ") + check_named(r.code, "_not_looked");
    }
    if (!not_looked.empty()) page.item("  - ", "Not looked at: " + not_looked + ".");
    if (v.do_not_ride) page.item("  ", fmt::format("{} of {} checks were made. No distance and no remaining life is given for a bike that is held back.", v.checks_done, v.checks_total));
}

void stops(Page& page, const Answer& a) {
    if (a.stops.empty()) return;
    const auto& first = a.stops.front();
    page.head(fmt::format("Will it stop: from {:.0f} km/h on the {}, with ordinary skill", first.setup.from_mps * 3.6, first.setup.grade == 0 ? "level" : "slope"));
    if (a.verdict.do_not_ride) {
        page.line("Not given: the bike is held back.");
        return;
    }
    if (a.stop_mass_kg > a.bike.total_mass_kg.value * 1.01) page.line(fmt::format("with the heaviest load told for a ride: {} kg in all", figure(a.stop_mass_kg, 3)));
    page.line("brakes, surface   brakes over m       with reaction, m    squeeze needed, N");
    for (const auto& s : a.stops) {
        const std::string name = fmt::format("{}, {}", stop::word_of(s.setup.brakes), stop::word_of(s.setup.surface));
        const auto metres = [&](const std::optional<Interval>& i) { return i ? span(*i) : std::string("does not stop"); };
        page.line(padded(name, 18) + padded(metres(s.brake_distance_m), 20) + padded(metres(s.room_needed_m), 20) + span(s.lever_force_N));
    }
    {
        std::vector<std::pair<stop::LimitedBy, std::string>> why;   // the same reason once, with all the stops that have it
        for (const auto& s : a.stops) {
            const std::string name = fmt::format("{} {}", stop::word_of(s.setup.brakes), stop::word_of(s.setup.surface));
            const auto same = std::find_if(why.begin(), why.end(), [&](const auto& w) { return w.first == s.limited_by; });
            if (same == why.end()) why.emplace_back(s.limited_by, name);
            else same->second += ", " + name;
        }
        for (const auto& [by, names] : why) {
            // Where the bite is only assumed the lever's travel is not a finding, but a thing to measure.
            const bool assumed_lever = by == stop::LimitedBy::lever_travel && !a.verdict.do_not_ride;
            page.item("  ", fmt::format("{}: {}", names, assumed_lever ? "By an assumed bite the lever meets the bar first. Measure the lever." : stop::reason_text(by)));
        }
    }
    page.item("  ", fmt::format("This hand gives about {} N on the lever, cold and in gloves {} N; standards test with {:.0f} N, more than many hands have.",
                                span(first.hand_force_N), span(first.cold_hand_force_N), first.standard_force_N));
    page.item("  ", "Judge the room by the long end of the interval.");
    for (int e = 0; e < 2; ++e) {
        const auto& l = a.levers[e];
        const Interval left{std::max(l.full_mm.p05, 0.0), std::max(l.full_mm.p50, 0.0), std::max(l.full_mm.p95, 0.0)};
        page.item("  ", fmt::format("{} lever: bites {} mm from the bar, {} mm left at the squeeze of an ordinary stop{}.", e == 0 ? "Front" : "Rear", span(l.bite_mm), span(left),
                                    l.full_mm.p05 <= 0 ? " (0: at the bar)" : ""));
    }
}

void heat(Page& page, const Answer& a) {
    const std::vector<std::string> told = described_lines(a);
    const RideAnswer* hottest = hottest_described(a);
    if (!told.empty()) {
        page.head("Described rides: into both brakes, kJ (5 to 95 %)");
        for (const std::string& line : told) page.line(line);
        page.item("  ", hottest->faults.empty() ? "" : hottest->faults.front().text);
    }
    for (const RideAnswer& r : a.rides) {
        if (r.described && &r != hottest) continue;   // one stands for all: their temperatures are typical ones
        {
            std::string name = r.file;
            if (letters(name) > width - 10) name = "..." + name.substr(name.size() - static_cast<std::size_t>(width - 13));
            page.head("How hot: " + name);
        }
        std::string about = fmt::format("{} km, {} m down", figure(r.distance_m / 1000, 3), r.heat_withheld.empty() ? figure(r.descent_m, 3) : "not known how many");
        if (!r.described) about += ", " + clock(r.duration_s);
        if (r.start_unix_s) about += ", " + format_day(static_cast<long>(std::floor(*r.start_unix_s / 86400)));
        if (!r.planned && !r.described) about += fmt::format("; altitude: {}", ride::word_of(r.altitude_source));
        about += r.described ? "; described" : planned_words(r);
        page.item("", about);
        if (!r.heat_withheld.empty()) {
            page.item("", r.heat_withheld);
            for (const auto& f : r.faults) page.item(r.planned ? "  plan: " : "  recording: ", f.text);
            continue;
        }
        page.line(padded("", 30) + padded("front", 25) + "rear");
        const auto row = [&](std::string_view name, auto&& cell) { page.line(padded(name, 30) + padded(cell(r.wheels[0]), 25) + cell(r.wheels[1])); };
        row("into the brake, kJ", [](const WheelHeatAnswer& w) { return span(w.brake_energy_J, 1e-3); });
        row("rotor, mean of the band, °C", [](const WheelHeatAnswer& w) { return degrees(w.rotor_peak_degC); });
        row("rotor, hottest ring, °C", [](const WheelHeatAnswer& w) { return degrees(w.rotor_hottest_ring_degC); });
        row("rotor, under the pad, °C", [](const WheelHeatAnswer& w) { return w.rotor_under_pad_peak_degC ? degrees(*w.rotor_under_pad_peak_degC) : std::string("not reckoned"); });
        row("pad face, °C", [](const WheelHeatAnswer& w) { return degrees(w.pad_face_peak_degC); });
        row("fluid, °C", fluid_words);
        row("fluid boils", [&](const WheelHeatAnswer& w) { return boils_words(w, a.cases); });
        row("squeeze, hot / cold", squeeze_words);
        row("squeeze, hardest 10 s, N", [](const WheelHeatAnswer& w) { return span(w.hold_lever_force_N); });
        row("  the same, brake cold, N", [](const WheelHeatAnswer& w) { return span(w.hold_lever_force_cold_N); });
        row("fades", [](const WheelHeatAnswer& w) { return percent(w.fade_probability, anchor_cases); });
        if (r.wheels[0].water || r.wheels[1].water) {
            row("friction wet / dry, least", [](const WheelHeatAnswer& w) { return w.water ? span(w.water->least_friction) : std::string("-"); });
            row("squeeze, wet / dry", [](const WheelHeatAnswer& w) { return w.water ? span(w.water->lever_force_factor) : std::string("-"); });
            row("turns of light braking to dry", [](const WheelHeatAnswer& w) { return w.water ? span(w.water->turns_to_dry) : std::string("-"); });
        }
        if (!r.power_by_descent_W.empty()) {
            const double most = *std::max_element(r.power_by_descent_W.begin(), r.power_by_descent_W.end());
            page.line(padded("brakes along the way down", 30) + blocks_of(r.power_by_descent_W, most));
            page.line(padded("", 30) + fmt::format("top to bottom, tallest = {} W", figure(most)));
        }
        const std::vector<std::string> did = did_lines(r);
        for (std::size_t i = 0; i < did.size(); ++i) page.item(i == 0 ? "What the brakes did: " : "  ", did[i]);
        const Account& k = r.account;
        const char* from = r.described ? "  as told: " : r.planned ? "  plan: " : "  recording: ";
        if (r.described) {
            for (const std::string& words : heat_remarks(r)) page.item("  ", words);
            for (std::size_t i = 1; i < r.faults.size(); ++i) page.item(from, r.faults[i].text);   // the first stands under the table
            continue;
        }
        const auto kJ = [](double v) { return std::abs(v) < 500 ? std::string("0") : figure(v / 1000, std::abs(v) < 10e3 ? 1 : 3); };
        page.item("Where the height went, kJ: ",
                  fmt::format("height {} + motion {} + rider {} = air {} + rolling {} + brakes {} + unexplained {}", kJ(k.height_J), kJ(k.motion_J), kJ(k.rider_J),
                              kJ(k.air_J), kJ(k.rolling_J), kJ(k.brakes_J), kJ(k.unexplained_J)));
        if (r.narrowed) {
            const auto spread = [](double s) { return !std::isfinite(s) ? std::string("as told") : s > 0.99 ? std::string("no narrower than before it") : fmt::format("{:.0f} % as wide as before it", 100 * s); };
            page.item("  after this ride: ", fmt::format("drag area {} m² ({}), rolling resistance {} ({})", span(r.narrowed->drag_area_m2), spread(r.narrowed->drag_area_spread),
                                                         span(r.narrowed->rolling_resistance), spread(r.narrowed->rolling_resistance_spread)));
        }
        if (const auto& water = r.wheels[0].water)
            page.item("Water: ", fmt::format("after rain, a ford or spray a front brake that soaked needs about {} m of light braking until it pulls within 5 % of dry; brake lightly and early before you need it. "
                                             "{} % of this ride's front braking was done with a brake wetter than that. Nobody has measured this on such a brake: the bands are wide. "
                                             "So what water takes from the brakes clears nothing: the verdict, boiling and fading take them as dry where that is hotter (front rotor {} °C{}).",
                                             span(water->metres_to_dry), figure(100 * water->wet_work_share, 2), degrees(r.wheels[0].judged.rotor_peak_degC),
                                             r.wheels[0].has_fluid ? fmt::format(", fluid {} °C", degrees(r.wheels[0].judged.fluid_degC)) : std::string()));
        for (const std::string& words : heat_remarks(r)) page.item("  ", words);
        for (const auto& f : r.faults) page.item(from, f.text);
    }
}

void life(Page& page, const Answer& a) {
    page.head("How much riding is left, if it goes on like this");
    if (a.verdict.do_not_ride) {
        page.line("Not given: the bike is held back.");
        return;
    }
    if (!a.life_withheld.empty()) {
        page.item("", a.life_withheld);
        return;
    }
    page.line(padded("", 12) + padded("km", 32) + padded("rides, or sets of pads", 26) + "look by");
    static constexpr const char* ends[] = {"front", "rear"};
    // A life that was cut at the cap is a lower bound, and says so.
    const auto over = [](const Interval& i, bool capped) {
        if (capped && i.p50 >= i.p95) return fmt::format("over {}", figure(i.p05));
        return capped ? fmt::format("{} ({} to over {})", figure(i.p50), figure(i.p05), figure(i.p95)) : span(i);
    };
    const auto look = [](const std::optional<long>& date, double rides) {
        return rides < 1 ? std::string("now") : date ? format_day(*date) : fmt::format("{:.0f} rides", std::floor(rides));
    };
    for (int e = 0; e < 2; ++e) {
        if (const auto& p = a.life[e].pad) {
            page.line(padded(fmt::format("{} pads", ends[e]), 12) + padded(over(p->remaining_km, p->capped), 32) + padded(over(p->remaining_rides, p->capped), 26) + look(p->look_by, p->look_by_rides));
            if (p->remaining_descent_m) page.line(padded("", 12) + fmt::format("or {} m of descent", over(*p->remaining_descent_m, p->capped)));
        }
        if (const auto& q = a.life[e].rotor)
            page.line(padded(fmt::format("{} rotor", ends[e]), 12) + padded(over(q->remaining_km, q->capped), 32) + padded(q->pad_sets ? fmt::format("{} sets", span(*q->pad_sets)) : "", 26) + look(q->look_by, q->look_by_rides));
    }
    for (int e = 0; e < 2; ++e) {
        if (a.life[e].pad) page.item(fmt::format("  {} pads: ", ends[e]), a.life[e].pad->limit_text);
        if (a.life[e].rotor) page.item(fmt::format("  {} rotor: ", ends[e]), a.life[e].rotor->limit_text);
    }
    if (!a.dates_left_aside.empty()) page.item("  ", a.dates_left_aside);
    if (const std::string words = ridden_words(a); !words.empty()) page.item("  ", words);
    page.item("  ", fmt::format("Look by: until then the chance of being past the limit is at most 0.5 %, at about {} rides a week{}.", significant(a.rides_per_day * 7, 2),
                                a.rides_per_day_assumed ? " (assumed; more are allowed for)" : ""));
}

void rest(Page& page, const Answer& a) {
    if (!a.yardsticks.empty() && !a.verdict.do_not_ride) {
        page.head("Beside the standards' figures: yardsticks, not an approval");
        const auto find = [&](const std::string& id) -> const Yardstick* {
            const auto y = std::find_if(a.yardsticks.begin(), a.yardsticks.end(), [&](const Yardstick& x) { return x.id == id; });
            return y == a.yardsticks.end() ? nullptr : &*y;
        };
        for (const Yardstick& y : a.yardsticks) {
            if (!std::isfinite(y.need) || y.unit != "m") continue;   // forces and ratios of the machine test: --json
            page.item("  ", fmt::format("{}: {}, figure at most {} m{}{}", y.text, y.have ? span(*y.have) + " m" : "does not stop in more than 5 % of the cases", figure(y.need, 3),
                                        y.grade == Grade::published_from_memory ? " (from memory)" : "",
                                        std::isnan(y.met_share) || y.met_share > 0.95 ? "" : fmt::format("; not met in {:.0f} % of the cases", 100 * (1 - y.met_share))));
        }
        page.line("  300 W for 15 min at 12.5 km/h (heat-resistance drag, from memory), °C:");
        page.line(padded("", 30) + padded("front", 25) + "rear");
        const auto row = [&](const char* name, const char* what) {
            const Yardstick *f = find(fmt::format("heat_resistance_front_{}", what)), *r = find(fmt::format("heat_resistance_rear_{}", what));
            if (f || r) page.line(padded(name, 30) + padded(f && f->have ? degrees(*f->have) : "-", 25) + (r && r->have ? degrees(*r->have) : "-"));
        };
        row("    rotor", "rotor");
        row("    of it by convection alone", "rotor_by_convection");
        row("    pad face", "pad_face");
        row("    fluid", "fluid");
    }
    if (a.measure_next) {
        page.head("Measure next");
        page.item("  ", a.measure_next->text);
    }
    page.head("Assumed, since nobody told");
    std::string list;
    bool wind = false;
    for (const Assumption& s : a.assumed) {
        if (s.grade == Grade::measured) continue;
        if (!(s.key.starts_with("bike.") || s.key.starts_with("rider.") || s.key.starts_with("front.") || s.key.starts_with("rear.") || s.key.starts_with("trailer.") || s.key.starts_with("ride"))) continue;
        if (s.key.find(".heat.") != std::string::npos || s.key.find(".stop.") != std::string::npos || s.key.find(".wear.") != std::string::npos || s.key.ends_with(".friction")) continue;
        if (!s.value && s.text.empty()) continue;
        // An error whose middle is nothing is told by its spread: "0" would read as north.
        const bool error = s.key == "ride.wind_direction_deg";
        wind = wind || error;
        list += (list.empty() ? "" : "; ") + s.key + " " + (error && s.sd ? "as told, give or take " + significant(*s.sd, 3) : s.value ? significant(*s.value, 3) : s.text);
    }
    page.item("  ", list.empty() ? "nothing of the bike itself" : list);
    page.item("  ", std::string("Spreads, sources and the models' own unknowns: --json. A value told in the description replaces each") + (wind ? ", but not what is assumed of a told wind." : "."));
    page.head("Caution");
    for (const std::string& c : a.cautions) page.item("  ", c);
}

}  // namespace

std::string fluid_words(const WheelHeatAnswer& w) { return w.has_fluid ? degrees(w.fluid_peak_degC) : std::string("no fluid"); }

std::string boils_words(const WheelHeatAnswer& w, std::size_t cases) {
    return !w.has_fluid ? std::string("-") : w.fluid_boil_probability ? percent(*w.fluid_boil_probability, cases) : std::string("not known (see below)");
}

std::string squeeze_words(const WheelHeatAnswer& w) { return span(w.lever_force_factor); }

const char* boiling_unknown_words(bool told) {
    return told ? "Boiling is not known: nobody published the boiling point of a mineral-oil fluid. Free water in it boils near 100 °C, at less in the mountains."
                : "Boiling is not known: which fluid is in the brake was not told (key fluid.kind; it stands on the lever's cover). Old glycol with water in it may boil on such a road.";
}

std::string core_words(const WheelHeatAnswer& w, std::size_t cases) {
    if (!w.core_peak_degC || w.core_soft_probability.value_or(0) < 0.05) return "";
    const std::string melts = *w.core_melt_probability > 0 ? fmt::format("in {}", percent(*w.core_melt_probability, cases)) : percent(0, cases);
    return fmt::format("{} °C; hot enough to soften in {} of the likely cases, to begin to melt {}. A core that has come out at the rim, or a band that is wavy or loose: do not ride, replace the rotor.",
                       degrees(w.judged.core_degC), percent(*w.core_soft_probability, cases), melts);
}

std::vector<std::string> outside_measured_words(double above, double outside) {
    constexpr double worth_saying = 0.01;
    std::vector<std::string> out;
    if (above > worth_saying)
        out.push_back(fmt::format("{:.0f} % of the braking took more than 400 W at one wheel, the most at which pad friction was measured: outside what was measured.", above * 100));
    if (outside > worth_saying) out.push_back(fmt::format("{:.0f} % of the braking was done with pads above 277 °C: outside what was measured for pad friction.", outside * 100));
    return out;
}

std::vector<std::string> heat_remarks(const RideAnswer& r) {
    std::vector<std::string> out;
    if (!r.heat_withheld.empty()) return out;
    for (const bool told : {false, true})
        if (std::any_of(r.wheels.begin(), r.wheels.end(), [&](const WheelHeatAnswer& w) { return w.has_fluid && !w.fluid_boil_probability && w.fluid_told == told; })) out.emplace_back(boiling_unknown_words(told));
    for (std::size_t e = 0; e < 2; ++e)
        if (const std::string words = core_words(r.wheels[e], anchor_cases); !words.empty()) out.push_back((e == 0 ? "Front rotor's aluminium core: " : "Rear rotor's aluminium core: ") + words);
    const auto larger = [&](double WheelHeatAnswer::*of) { return std::max(r.wheels[0].*of, r.wheels[1].*of); };
    if (const double hold = larger(&WheelHeatAnswer::hold_outside_measured_probability); hold >= 0.05)
        out.push_back(fmt::format("The squeeze of the hardest 10 s is outside what was measured in {} of the likely cases: over 400 W at one wheel, or pads above 277 °C. At which sliding speeds pads were measured is not known.", percent(hold, anchor_cases)));
    for (std::string& words : outside_measured_words(larger(&WheelHeatAnswer::above_measured_power_share), larger(&WheelHeatAnswer::outside_measured_share))) out.push_back(std::move(words));
    return out;
}

std::string verdict_text(const inspect::Verdict& v) {
    Page page;
    verdict(page, v);
    return page.take();
}

std::string text_of(const Answer& a, const std::string& version) {
    Page page;
    std::string title = fmt::format("{}, {} kg with rider and load", a.bike.name, figure(a.bike.total_mass_kg.value, 3));
    if (a.bike.trailer) title += fmt::format(", trailer {:.0f} kg", a.bike.trailer->mass_kg.value);
    const std::string right = "brakewright " + version;
    if (letters(title) + letters(right) < width) page.line(padded(title, width - letters(right)) + right);
    else page.item("", title);
    verdict(page, a.verdict);
    if (a.share) {
        page.line();
        page.item("Front and rear: ", share_weighed_words(*a.share));
    }
    if (!a.temperatures.empty()) page.line();
    for (const std::string& words : a.temperatures) page.item("Read temperatures: ", words);
    stops(page, a);
    heat(page, a);
    life(page, a);
    rest(page, a);
    return page.take();
}

}  // namespace bw::answer
