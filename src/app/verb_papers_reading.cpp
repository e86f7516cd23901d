// SPDX-License-Identifier: Apache-2.0
// `papers add reading`: values and tables in; what contradicts an earlier reading is asked about.        Layer: app
#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <map>
#include <set>
#include <nlohmann/json.hpp>

#include "base/text.hpp"
#include "base/time.hpp"
#include "verb_papers.hpp"

namespace bw::app {

using json = nlohmann::ordered_json;
using papers::What;

// What such a reading can be at all: a slip of the point or of the unit shows here.
Range range_of(What what) {
    switch (what) {
        case What::pad_thickness: return {0, 12, "mm"};
        case What::plate_thickness: return {0.5, 5, "mm"};
        case What::rotor_thickness: return {0.3, 5, "mm"};
        case What::rotor_ridge: return {0, 1, "mm"};
        case What::bearing_play: return {0, 3, "mm"};
        case What::run_out: return {-5, 5, "mm"};
        case What::lever_reach: return {10, 150, "mm"};
        case What::lever_bite:
        case What::lever_full: return {-20, 150, "mm"};
        case What::gap: return {0, 5, "mm"};
        case What::pad_mass: return {0.5, 200, "g"};
        case What::caliper_temperature:
        case What::rotor_temperature: return {-40, 900, "°C"};
        case What::fluid_age: return {0, 600, "months"};
        case What::fluid_colour:
        case What::cable_state: break;
    }
    return {0, 0, ""};
}

bool plausible_mm(What what, double mm, bool with_plate) {
    const auto within = [mm](double least, double most) { return mm >= least && mm <= most; };
    switch (what) {
        case What::pad_thickness: return with_plate ? within(1.5, 8.0) : within(0.3, 6.0);
        case What::plate_thickness: return within(1.0, 4.0);
        case What::rotor_thickness: return within(1.2, 2.6);
        case What::lever_reach:
        case What::lever_bite: return within(15.0, 110.0);
        default: return false;
    }
}

std::optional<double> taken_for_inches_mm(What what, double bare, bool with_plate) {
    const Range r = range_of(what);
    const bool can_be = bare >= r.least && bare <= r.most, small = bare < 0.3;
    if (plausible_mm(what, bare, with_plate) || !plausible_mm(what, bare * mm_per_inch, with_plate) || (can_be && !small)) return std::nullopt;
    return bare * mm_per_inch;
}

double number_of(What what, const std::string& text) {
    const Range r = range_of(what);
    double x = 0;
    const std::string_view t = trim(text);
    if (r.unit == std::string_view("mm")) x = must(parse_quantity(t, Unit::length_mm));
    else if (r.unit == std::string_view("°C")) x = must(parse_quantity(t, Unit::temperature_degC));
    else {
        std::string_view bare = t;
        for (const std::string_view unit : {"months", "g"})
            if (bare.ends_with(unit)) bare = trim(bare.substr(0, bare.size() - unit.size()));
        const auto n = parse_number(bare);
        if (!n) stop(Errc::wrong_usage, fmt::format("'{}' was not understood: expected a number in {}", text, r.unit));
        x = *n;
    }
    if (!(x >= r.least && x <= r.most)) stop(Errc::bad_input, fmt::format("{} '{}': expected {} to {} {}", papers::word_of(what), text, r.least, r.most, r.unit));
    return x;
}

void put_value(papers::Point& p, What what, double x) {
    const std::string_view unit = range_of(what).unit;
    if (unit == "mm") p.length_mm = x;
    else if (unit == "g") p.mass_g = x;
    else if (unit == "°C") p.temperature_degC = x;
    else p.age_months = x;
}

namespace {

// VALUE, VALUE,VALUE (places), VALUE/VALUE (repeats of a place), each behind KEY= if it has one: left, right, and for pads and
// gaps an edge or a corner (left.leading.outer), or for a rotor an angle (90=1.80/1.81).
std::vector<papers::Point> points_of_words(What what, const std::vector<std::string>& words, const parts::Rotor& rotor) {
    std::vector<papers::Point> all;
    const bool corners = what == What::pad_thickness || what == What::gap, turns = what == What::rotor_thickness || what == What::run_out;
    for (const std::string& word : words) {
        papers::Point at;
        const std::size_t eq = word.find('=');
        if (eq != std::string::npos) {
            const std::string key = word.substr(0, eq);
            const auto wrong = [&](const std::string& part) {
                stop(Errc::wrong_usage, fmt::format("'{}' in '{}': expected left or right{}{}", part, word, corners ? ", then leading or trailing, outer or inner, as in left.leading.outer=1.9" : "", turns ? ", or an angle, as in 90=1.80" : ""));
            };
            if (const auto angle = parse_number(key); angle && turns) {
                if (*angle < -360 || *angle > 720) stop(Errc::bad_input, fmt::format("angle '{}': expected degrees of one turn", key));
                at.angle_deg = *angle;
            } else {
                for (std::size_t from = 0; from <= key.size();) {
                    const std::size_t end = std::min(key.find('.', from), key.size());
                    const std::string part = key.substr(from, end - from);
                    from = end + 1;
                    if (const auto side = papers::value_of<papers::Side>(part); side && !at.side) at.side = side;
                    else if (corners && !at.angle_deg && (part == "leading" || part == "trailing")) at.angle_deg = part == "leading" ? -15 : 15;
                    else if (corners && !at.radius_mm && (part == "outer" || part == "inner")) at.radius_mm = (part == "outer" ? rotor.diameter_mm.value : rotor.band_inner_mm.value) / 2;
                    else wrong(part);
                }
            }
        }
        const std::string values = eq == std::string::npos ? word : word.substr(eq + 1);
        for (std::size_t from = 0; from <= values.size();) {
            const std::size_t end = std::min(values.find(',', from), values.size());
            const std::string place = values.substr(from, end - from);
            from = end + 1;
            const bool repeated = place.find('/') != std::string::npos;
            if (repeated && turns && !at.angle_deg) stop(Errc::wrong_usage, fmt::format("'{}': repeats need their angle, as in 90=1.80/1.81", word));
            if (repeated && values.find(',') != std::string::npos) stop(Errc::wrong_usage, fmt::format("'{}': repeats of several places need a word for each place", word));
            for (std::size_t i = 0; i <= place.size();) {
                const std::size_t slash = std::min(place.find('/', i), place.size());
                papers::Point p = at;
                // Repeats of one place have an angle; 0 is the middle.
                if (repeated && !p.angle_deg) p.angle_deg = 0;
                put_value(p, what, number_of(what, place.substr(i, slash - i)));
                all.push_back(p);
                i = slash + 1;
            }
        }
    }
    return all;
}

// angle_deg,dial_mm or angle_deg,radius_mm,thickness_mm,anvil
std::vector<papers::Point> points_of_table(What what, const std::string& path, std::optional<parts::Anvil>& anvil) {
    const std::string text = must(read_file(path));
    const std::string value = what == What::run_out ? "dial_mm" : "thickness_mm";
    const std::vector<std::string> known = what == What::run_out ? std::vector<std::string>{"angle_deg", "dial_mm"} : std::vector<std::string>{"angle_deg", "radius_mm", "thickness_mm", "anvil"};
    std::vector<std::string> columns;
    std::vector<papers::Point> all;
    long number = 0;
    for (std::size_t at = 0; at < text.size();) {
        const std::size_t end = std::min(text.find('\n', at), text.size());
        std::string_view line = trim(std::string_view(text).substr(at, end - at));
        at = end + 1;
        ++number;
        if (line.starts_with("\xEF\xBB\xBF")) line.remove_prefix(3);
        if (line.empty()) continue;
        const std::vector<std::string> fields = csv_fields(line);
        const auto wrong = [&](const std::string& said) { stop(Errc::bad_input, fmt::format("{}:{}: {}", path, number, said)); };
        if (columns.empty()) {
            columns = fields;
            for (const std::string& c : columns)
                if (std::find(known.begin(), known.end(), c) == known.end()) wrong(fmt::format("unknown column '{}'; expected {}{}", c, fmt::join(known, ","), nearest(c, known)));
            for (const std::string& needed : {std::string("angle_deg"), value})
                if (std::find(columns.begin(), columns.end(), needed) == columns.end()) wrong(fmt::format("the column '{}' is required", needed));
            continue;
        }
        if (fields.size() != columns.size()) wrong(fmt::format("expected {} fields, found {}", columns.size(), fields.size()));
        papers::Point p;
        for (std::size_t i = 0; i < columns.size(); ++i) {
            const std::string cell(trim(fields[i]));
            if (columns[i] == "anvil") {
                if (cell.empty()) continue;
                const auto a = papers::value_of<parts::Anvil>(cell);
                if (!a) wrong(fmt::format("anvil '{}': expected pointed or flat_jaws", cell));
                if (anvil && *anvil != *a) wrong("two kinds of anvil in one reading: make two readings of them");
                anvil = a;
                continue;
            }
            if (cell.empty() && columns[i] == "radius_mm") continue;
            const auto x = parse_number(cell);
            if (!x) wrong(fmt::format("{} '{}': expected a number", columns[i], cell));
            if (columns[i] == "angle_deg") {
                if (*x < -360 || *x > 720) wrong(fmt::format("angle_deg '{}': expected degrees of one turn", cell));
                p.angle_deg = x;
            } else if (columns[i] == "radius_mm") {
                if (*x < 20 || *x > 200) wrong(fmt::format("radius_mm '{}': expected 20 to 200", cell));
                p.radius_mm = x;
            } else {
                const Range r = range_of(what);
                if (!(*x >= r.least && *x <= r.most)) wrong(fmt::format("{} '{}': expected {} to {} mm", columns[i], cell, r.least, r.most));
                p.length_mm = x;
            }
        }
        all.push_back(p);
    }
    if (all.empty()) stop(Errc::bad_input, fmt::format("{}: there is no row of values in it", path));
    return all;
}

papers::PartKind kind_of(What what) {
    switch (what) {
        case What::pad_thickness:
        case What::plate_thickness:
        case What::pad_mass: return papers::PartKind::pads;
        case What::rotor_thickness:
        case What::rotor_ridge:
        case What::run_out:
        case What::rotor_temperature: return papers::PartKind::rotor;
        case What::bearing_play: return papers::PartKind::wheel;
        default: return papers::PartKind::other;
    }
}

// Repeats of one place that chance does not explain.
std::optional<std::string> repeats_that_contradict(const papers::Reading& r, double scatter) {
    if (r.what == What::fluid_age) return std::nullopt;
    for (const papers::Place& place : papers::places_of(r, scatter)) {
        if (!place.contradict) continue;
        const auto [low, high] = std::minmax_element(place.repeats.begin(), place.repeats.end());
        return fmt::format("the {} repeats of one place{} lie between {:.3g} and {:.3g} {}, further apart than one person's readings do (scatter {:.3g} {}). {} Kept as they are, the least counts, not their mean.",
                                          place.repeats.size(), place.point.angle_deg ? fmt::format(" (angle {:.0f}°)", *place.point.angle_deg) : "", *low, *high, range_of(r.what).unit, scatter, range_of(r.what).unit,
                                          r.what == What::lever_bite || r.what == What::lever_full ? "Does the lever pump up or sink from squeeze to squeeze? Then keep them as they are, in their order." : "Was one of them misread, or at another place?");
    }
    return std::nullopt;
}

// What happened between two readings of pads that can make resin swell: a heated layer stays until it is worn away, so every day
// since the first of them counts, on whatever bike they were. The newest is named.
std::string hot_between(papers::Papers& p, const papers::Book& book, const papers::Reading& before, const papers::Reading& r, const parts::Library& library) {
    std::string what;
    papers::Day newest;   // days as text: they sort
    for (const papers::PartStay& stay : papers::stays_of_part(book, *r.part_id, r.day)) {
        const auto on_it = [&](const papers::Day& d) { return d >= before.day && d <= r.day && d >= stay.from && (!stay.to || d <= *stay.to) && d >= newest; };
        for (const papers::Ride& ride : must(p.rides(stay.bike)))
            if (const auto day = ride.day ? ride.day : ride.start_unix_s ? std::optional(format_day(static_cast<long>(std::floor(*ride.start_unix_s / 86400)))) : std::nullopt; day && on_it(*day) && ride.descent_m.value_or(0) >= library.value("inspect.swell.descent_m"))
                newest = *day, what = fmt::format("a ride on {} lost {:.0f} m", *day, *ride.descent_m);
        for (const papers::Incident& i : book.incidents)
            if (i.kind == papers::Happening::overheat && i.bike_id == stay.bike && on_it(i.day)) newest = i.day, what = fmt::format("the brakes were overheated on {}", i.day);
    }
    return what;
}

// Pads of which heat can swell a surface layer; of a set nobody told the compound of, by the description.
bool resin_bonded(const papers::Book& book, const papers::Id& part, const parts::Pads& described) {
    const auto it = std::find_if(book.parts.begin(), book.parts.end(), [&](const papers::Part& p) { return p.id == part; });
    const parts::Compound compound = it != book.parts.end() && it->compound ? *it->compound : described.compound;
    return compound == parts::Compound::organic || compound == parts::Compound::semi_metallic;
}

}  // namespace

// Pads and rotors do not grow, nor do they wear within a day on the bench. Nothing is averaged in silence: what says so is asked about.
std::optional<std::string> contradiction_of(papers::Papers& all_papers, const papers::Book& book, const papers::Reading& r, const parts::Pads& described, const parts::Library& library) {
    const inspect::Practice practice = inspect::practice_of(library);
    const double scatter = papers::scatter_of(book, r, library);
    if (auto said = repeats_that_contradict(r, r.what == What::run_out ? std::max(scatter, inspect::run_out_budget_of(library).dial.permitted_error) : scatter)) return said;
    if (!r.part_id || (r.what != What::pad_thickness && r.what != What::rotor_thickness)) return std::nullopt;
    const bool pads = r.what == What::pad_thickness;
    const auto value = [&](const papers::Reading& of, const papers::Place& at) {
        const int n = at.contradict ? 1 : static_cast<int>(at.repeats.size());
        return pads ? papers::friction_of(book, of, *at.point.length_mm, described.plate_thickness_mm.value, practice, n) : inspect::Reading{.value = *at.point.length_mm, .uncertainty = papers::uncertainty_mm(book, of, practice, n)};
    };
    for (const std::optional<papers::Side> side : {std::optional<papers::Side>(), std::optional<papers::Side>(papers::Side::left), std::optional<papers::Side>(papers::Side::right)}) {
        const auto thinnest = [&](const papers::Reading& of) {
            std::optional<inspect::Reading> least;
            for (const papers::Place& at : papers::places_of(of, papers::scatter_of(book, of, library)))
                if (at.point.side == side && at.point.length_mm)
                    if (const inspect::Reading x = value(of, at); !least || x.value < least->value) least = x;
            return least;
        };
        const auto now = thinnest(r);
        if (const auto part = std::find_if(book.parts.begin(), book.parts.end(), [&](const papers::Part& p) { return p.id == r.part_id; }); now && part != book.parts.end() && (pads || part->new_thickness_mm)) {
            // As `life` asks about it: 3 standard uncertainties of both together, a told one good to what makers hold (common practice, no source).
            const Uncertain& usual = library.row("wear.new_friction_mm").value;
            const double fresh = part->new_thickness_mm.value_or(usual.value), doubt_mm = 3 * std::hypot(now->uncertainty, part->new_thickness_mm ? (pads ? 0.15 : 0.03) : usual.sd);
            if (now->value > fresh + doubt_mm)
                return fmt::format("this reads {:.2f} mm{}, but {} {:.2f} mm when new, and the two are good to {:.2f} mm together: {} do not grow.{}", now->value, pads ? " of friction material" : "",
                                   part->new_thickness_mm ? (pads ? "these pads had" : "this rotor had") : "pads of which nobody told it have", fresh, doubt_mm, pads ? "pads" : "rotors",
                                   pads ? " Was it with the plate, or are these other pads (`papers part on`)?" : " Are place, anvil and unit right, or is this another rotor (`papers part on`)?");
        }
        const papers::Reading* before = nullptr;
        for (const papers::Reading& old : book.readings)
            if (old.part_id == r.part_id && old.what == r.what && old.day <= r.day && old.anvil == r.anvil && thinnest(old)) before = &old;
        if (!now || !before) continue;
        const auto then = thinnest(*before);
        const double doubt_mm = 3 * std::hypot(now->uncertainty, then->uncertainty);
        const std::string both = fmt::format("this reads {:.2f} mm{}, but on {} it was {:.2f} mm, and the two are good to {:.2f} mm together", now->value, pads ? " of friction material" : "", before->day, then->value, doubt_mm);
        if (now->value <= then->value + doubt_mm) continue;
        std::string why;
        // One set's growth is an exponential number [EQ life-14]: what one in a hundred passes is no layer but another mistake.
        const double mean_mm = library.value("wear.swell_mm"), most_mm = mean_mm * std::log(100.0);
        if (pads && resin_bonded(book, *r.part_id, described) && now->value - then->value - doubt_mm <= most_mm) {
            if (const std::string hot = hot_between(all_papers, book, *before, r, library); !hot.empty())
                why = fmt::format(" And {}: the surface of a resin pad that was hot may have swollen, which is no wear taken back. By how much is assumed: {:.2f} mm on average, one in a hundred over {:.2f} mm. That layer stays until it is worn away; a reading after more riding without such heat tells more.", hot, mean_mm, most_mm);
            else
                why = " A resin pad may swell a little on a hot ride; that is no wear taken back. Was there one, that the papers do not know?";
        }
        why += pads ? " Was it with the plate, at another place, or are these other pads (`papers part on`)?" : " Was it at another place, with another anvil, or is this another rotor (`papers part on`)?";
        return fmt::format("{}: {} do not grow.{}", both, pads ? "pads" : "rotors", why);
    }
    return std::nullopt;
}

papers::Reading reading_of(Desk& d, const parts::Library& library, const papers::Book& book, const papers::Bike& bike, const Told& o) {
    papers::Reading r;
    const auto what = papers::value_of<What>(o.what);
    if (!what) {
        std::vector<std::string> known;
        for (const std::string_view w : papers::words(What{})) known.emplace_back(w);
        stop(Errc::wrong_usage, fmt::format("reading '{}': expected one of {}{}", o.what, fmt::join(known, ", "), nearest(o.what, known)));
    }
    r.what = *what;
    r.bike_id = bike.id;
    const auto place = papers::value_of<parts::End>(o.place);
    if (!place) stop(Errc::wrong_usage, o.place.empty() ? "say which wheel: front or rear (--place)" : fmt::format("place '{}': expected front or rear", o.place));
    r.place = *place;
    r.day = o.day;
    r.recorded_unix_s = d.deed.at_unix_s;
    r.note = o.note;
    const bool in_words = r.what == What::fluid_colour || r.what == What::cable_state;
    if (!o.csv.empty()) {
        if (r.what != What::run_out && r.what != What::rotor_thickness) stop(Errc::wrong_usage, "--csv holds run_out or rotor_thickness");
        if (!o.values.empty()) stop(Errc::wrong_usage, "give values or --csv, not both");
        r.points = points_of_table(r.what, o.csv, r.anvil);
    } else if (!o.points.empty()) {
        r.points = o.points;
    } else if (o.values.empty()) {
        stop(Errc::wrong_usage, fmt::format("which value did it read? as in: add reading {} {}", o.what, in_words ? "clear" : "1.9"));
    } else if (in_words) {
        r.word = fmt::format("{}", fmt::join(o.values, " "));
    } else {
        r.points = points_of_words(r.what, o.values, must(parts::read_bike(bike.description_toml, bike.name, library)).wheel(r.place).rotor);
    }
    if (r.what == What::pad_thickness) {
        if (o.with_plate != "yes" && o.with_plate != "no") stop(Errc::wrong_usage, "is that with the plate? Say --with-plate yes (pad and plate together) or --with-plate no (friction material alone)");
        r.with_plate = o.with_plate == "yes";
    } else if (!o.with_plate.empty()) {
        stop(Errc::wrong_usage, "with_plate belongs to pad_thickness");
    }
    if (!o.anvil.empty()) {
        if (r.what != What::rotor_thickness) stop(Errc::wrong_usage, "an anvil belongs to rotor_thickness");
        r.anvil = papers::value_of<parts::Anvil>(o.anvil);
        if (!r.anvil) stop(Errc::wrong_usage, fmt::format("anvil '{}': expected pointed or flat_jaws", o.anvil));
    }
    const bool hot = r.what == What::caliper_temperature || r.what == What::rotor_temperature;
    if (!hot && !(o.at.empty() && o.set_emissivity.empty() && o.spot.empty())) stop(Errc::wrong_usage, "--at, --set-emissivity and --spot belong to caliper_temperature and rotor_temperature");
    if (o.at == "peak") {
        if (!o.set_emissivity.empty()) stop(Errc::wrong_usage, "--at peak is the highest mark of a strip, --set-emissivity belongs to an infra-red thermometer: leave one out");
        r.word = "peak";
    } else if (!o.at.empty()) {
        r.read_unix_s = parse_time(o.at);
        if (!r.read_unix_s) stop(Errc::wrong_usage, fmt::format("at '{}': expected a time as 2026-05-12T10:42:00+02:00, or peak: the highest mark of a strip", o.at));
        // Half a day of time zones either way.
        if (const auto day = parse_day(r.day); day && std::abs(*r.read_unix_s / 86400 - static_cast<double>(*day) - 0.5) > 1)
            stop(Errc::bad_input, fmt::format("at '{}' is not on {}, the day of the reading: say --day {}, or leave --day out, or mend the time", o.at, r.day, format_day(static_cast<long>(std::floor(*r.read_unix_s / 86400)))));
    }
    if (!o.set_emissivity.empty()) {
        r.set_emissivity = parse_number(o.set_emissivity);
        if (!r.set_emissivity || !(*r.set_emissivity >= 0.05 && *r.set_emissivity <= 1)) stop(Errc::wrong_usage, fmt::format("set-emissivity '{}': expected what was set on the instrument, 0.05 to 1", o.set_emissivity));
    }
    if (!o.spot.empty()) {
        if (r.what != What::rotor_temperature || !r.set_emissivity) stop(Errc::wrong_usage, "a spot is told of a rotor read by infra-red: say --set-emissivity too");
        if (o.spot != "bare" && o.spot != "tinted" && o.spot != "painted") stop(Errc::wrong_usage, fmt::format("spot '{}': expected bare, tinted or painted", o.spot));
        r.spot = o.spot;
    }
    if (!o.with.empty()) {
        std::vector<std::string> names;
        for (const papers::Instrument& i : book.instruments) {
            names.push_back(i.name);
            if (i.name == o.with) r.instrument_id = i.id;
        }
        if (!r.instrument_id) stop(Errc::bad_input, fmt::format("there is no instrument '{}' in these papers{}; `papers add instrument` adds it", o.with, nearest(o.with, names)));
    }
    if (const papers::PartKind kind = kind_of(r.what); kind != papers::PartKind::other) {
        if (!o.part.empty()) {
            for (const papers::Part& p : book.parts)
                if (p.name == o.part) r.part_id = p.id;
            if (!r.part_id) stop(Errc::bad_input, fmt::format("there is no part '{}' in these papers", o.part));
        } else if (const papers::Part* p = papers::part_at(book, bike.id, kind, r.place, r.day)) {
            r.part_id = p->id;
        } else {
            // Parts are known from the day on which they were told: before it nothing seems to have been there.
            const papers::Part* later = nullptr;
            papers::Day since;
            for (const papers::Fitting& f : book.fittings)
                if (f.from_day > r.day && (!later || f.from_day < since))
                    if (const papers::Part* there = papers::part_at(book, bike.id, kind, r.place, f.from_day)) later = there, since = f.from_day;
            stop(Errc::bad_input, later ? fmt::format("no {0} known at the {1} of {2} on {3}: parts are known from the day on which they were added, '{4}' from {5}. If it was this one, say --part '{4}'; the day from which a bike's parts are "
                                                      "known is that of `papers add bike ... --day DAY`", papers::word_of(kind), o.place, bike.name, r.day, later->name, since)
                                        : fmt::format("no {} known at the {} of {} on {}: put one on first (`papers part new`, `papers part on ... --day {}`), or say --part", papers::word_of(kind), o.place, bike.name, r.day, r.day));
        }
    }
    if (r.what == What::run_out) {
        std::set<long> turn;
        for (const papers::Point& p : r.points)
            if (p.angle_deg) turn.insert(std::lround(*p.angle_deg * 10));
        if (!turn.empty() && turn.size() < 4) stop(Errc::bad_input, fmt::format("run-out at {} angles: expected at least 4 of one turn; fewer cannot be judged", turn.size()));
    }
    if (o.by.empty()) stop(Errc::wrong_usage, "say who read it, with --by NAME");
    for (const papers::Person& p : book.people)
        if (p.name == o.by) r.person_id = p.id;
    return r;
}

Kept keep(Desk& d, const parts::Library& library, const Told& o, const papers::Id& id) {
    // A reading of tomorrow would count for nothing until then.
    if (const auto day = parse_day(o.day), now = clock_day(); day && now && *day > *now + 1) stop(Errc::bad_input, fmt::format("day {}: that lies ahead of today, {}", o.day, format_day(*now)));
    const papers::Bike bike = d.bike(o.bike);
    const papers::Book book = must(papers::book_of(*d.papers, bike.id));
    papers::Reading r = reading_of(d, library, book, bike, o);
    Kept kept{.id = {}, .what = r.what, .bike = bike, .described = must(parts::read_bike(bike.description_toml, bike.name, library)), .values = r.points.size(), .uncertainty = 0};
    kept.uncertainty = papers::uncertainty_of(book, r, inspect::practice_of(library), library);
    if (!o.sure)
        if (const auto said = contradiction_of(*d.papers, book, r, kept.described.wheel(r.place).pads, library))
            stop(Errc::bad_input, *said + " Measure again; to keep both as they are, say --sure.");
    r.id = id;
    r.person_id = d.person(o.by);
    kept.id = must(d.papers->add_reading(d.deed, r));
    return kept;
}

void keep_run_outs(Desk& d, const parts::Library& library, const Kept& of) {
    if (of.what == What::run_out || of.what == What::bearing_play) papers::keep_run_outs(must(papers::book_of(*d.papers, of.bike.id)), of.id, library);
}

namespace {

// A time names its day, as the clock beside the bike had it.
std::optional<papers::Day> day_at(const std::string& at) {
    return parse_time(at) && parse_day(at.substr(0, 10)) ? std::optional(at.substr(0, 10)) : std::nullopt;
}

// Bikes that are held back now, told at once.
void say_held(Desk& d, const parts::Library& library, const std::map<papers::Id, Kept>& bikes) {
    const papers::Book now = must(papers::book_of(*d.papers, std::nullopt));
    for (const auto& [id, kept] : bikes) {
        inspect::Verdict v = inspect::combine(papers::checks_of(now, kept.bike, kept.described, inspect::practice_of(library), library, d.today));
        // A reading of an earlier day does not hide what holds the bike back today.
        if (const auto clock = clock_day(); !v.do_not_ride && clock && format_day(*clock) > d.today)
            v = inspect::combine(papers::checks_of(now, kept.bike, kept.described, inspect::practice_of(library), library, format_day(*clock)));
        if (v.do_not_ride) fmt::print("{}\n", wrap(kept.bike.name + ": " + v.text, 80, 2));
    }
}

}  // namespace

int papers_add_reading(Desk& d) {
    const PapersOptions& o = d.o;
    // A table's row is kept as it stands: there nobody is at hand to say, and a worn part must not go unnoted.
    if (const auto what = papers::value_of<What>(o.what); what && !o.sure)
        for (const std::string& word : o.values)
            for (std::string_view left = std::string_view(word).substr(word.find('=') + 1); !left.empty();) {
                const std::size_t end = std::min(left.find_first_of(",/"), left.size());
                const std::string_view text = trim(left.substr(0, end));
                left.remove_prefix(std::min(end + 1, left.size()));
                const auto bare = parse_number(text);   // a unit that was typed is believed
                if (const auto in_mm = bare ? taken_for_inches_mm(*what, *bare, o.with_plate == "yes") : std::nullopt)
                    stop(Errc::bad_input, fmt::format("'{0}': is that inches ({1:.2f} mm), or millimetres? Nothing was kept. Say the unit, as in {0}in or {0}mm; so little left in mm is a reason not to ride.", text, *in_mm));
            }
    const parts::Library library = must(parts::load_library());
    Kept kept;
    const papers::Day day = o.day.empty() ? day_at(o.at).value_or(d.today) : d.today;
    d.together([&] {
        kept = keep(d, library, {.what = o.what, .bike = o.bike, .place = o.place, .part = o.part, .with = o.with, .with_plate = o.with_plate, .anvil = o.anvil, .csv = o.csv, .by = d.deed.by, .day = day, .note = o.note, .values = o.values, .points = {}, .sure = o.sure, .at = o.at, .set_emissivity = o.set_emissivity, .spot = o.spot});
    });
    keep_run_outs(d, library, kept);
    if (o.common.json) {
        fmt::print("{}\n", json({{"schema", "papers/1"}, {"version", version}, {"reading", {{"id", kept.id}, {"bike", kept.bike.name}, {"values", kept.values}, {"uncertainty", kept.uncertainty}}}}).dump(2, ' ', false, json::error_handler_t::replace));
        return 0;
    }
    fmt::print("Noted: {} {} of {}.\n", o.place, o.what, kept.bike.name);
    if (kept.what == What::caliper_temperature || kept.what == What::rotor_temperature) {
        if (o.at.empty())
            fmt::print("{}\n", wrap("It weighs nothing, since nobody said when it was read: with --at TIME, on a recorded ride or within 15 minutes after one, or --at peak for the highest mark of a strip, it weighs the likely cases of `answer`. `undo` takes this one back. A table of temperatures beside a table of power: `heat --measured`.", 80, 0));
        else if (o.at == "peak")
            fmt::print("{}\n", wrap(fmt::format("It weighs the likely cases of `answer` as the highest of the rides of {} (UTC): on for all of them and a quarter of an hour behind the last, since the {} hottest minutes after the halt, and for no others. Where all of its fields turned, or none, it is no reading: take it back (`undo`). `answer` says what it did.", day,
                                                kept.what == What::caliper_temperature ? "caliper is" : "rotor's arms, on which it sits, are"), 80, 0));
        else
            fmt::print("{}\n", wrap("It weighs the likely cases of `answer` if a recorded ride of this bike goes on at that time or ended within 15 minutes before; `answer` says what it did.", 80, 0));
    }
    say_held(d, library, {{kept.bike.id, kept}});
    return 0;
}

void add_rows(Desk& d, const parts::Library& library, const std::string& text, const std::function<papers::Id(long line)>& id_of, Rows& rows) {
    static const std::vector<std::string> known = {"date", "bike", "place", "what", "side", "value", "with_plate", "by", "instrument", "anvil", "note", "at", "set_emissivity", "spot"};
    std::vector<std::string> columns;
    char separator = ',';
    long number = 0;
    for (std::size_t at = 0; at < text.size();) {
        const std::size_t end = std::min(text.find('\n', at), text.size());
        std::string_view raw = std::string_view(text).substr(at, end - at);
        at = end + 1;
        ++number;
        if (raw.starts_with("\xEF\xBB\xBF")) raw.remove_prefix(3);
        if (raw.ends_with('\r')) raw.remove_suffix(1);
        if (trim(raw).empty()) continue;
        // Rows pasted from a spreadsheet have tabs between their cells, and may end in empty ones.
        if (columns.empty()) separator = raw.find('\t') != std::string_view::npos ? '\t' : csv_separator(raw);
        std::vector<std::string> fields;
        if (separator == '\t') {
            fields.emplace_back();
            for (const char c : raw)
                if (c == '\t') fields.emplace_back();
                else fields.back() += c;
            for (std::string& f : fields) f = std::string(trim(f));
        } else fields = csv_fields(trim(raw), separator);
        if (columns.empty()) {
            columns = fields;
            const auto unknown = std::find_if(columns.begin(), columns.end(), [&](const std::string& c) { return std::find(known.begin(), known.end(), c) == known.end(); });
            if (unknown == columns.end()) continue;
            rows.refused.emplace_back(number, fmt::format("unknown column '{}'{}; nothing of this file was taken", *unknown, nearest(*unknown, known)));
            return;
        }
        while (separator == '\t' && fields.size() > columns.size() && fields.back().empty()) fields.pop_back();
        if (separator == '\t') fields.resize(std::max(fields.size(), columns.size()));
        try {
            if (fields.size() != columns.size()) stop(Errc::bad_input, fmt::format("expected {} fields, found {}", columns.size(), fields.size()));
            std::map<std::string, std::string> cell;
            for (std::size_t i = 0; i < columns.size(); ++i) cell[columns[i]] = std::string(trim(fields[i]));
            // Between tabs a single comma is a decimal one.
            if (std::string& v = cell["value"]; separator == '\t' && v.find('.') == std::string::npos && std::count(v.begin(), v.end(), ',') == 1) std::replace(v.begin(), v.end(), ',', '.');
            const std::string day = cell["date"].empty() ? day_at(cell["at"]).value_or(d.today) : cell["date"], side = cell["side"];
            if (!side.empty() && !papers::value_of<papers::Side>(side)) stop(Errc::bad_input, fmt::format("side '{}': expected left or right", side));
            Told told{.what = cell["what"], .bike = cell["bike"].empty() ? d.o.bike : cell["bike"], .place = cell["place"], .part = "", .with = cell["instrument"], .with_plate = cell["with_plate"], .anvil = cell["anvil"], .csv = "",
                      .by = cell["by"].empty() ? d.deed.by : cell["by"], .day = day, .note = cell["note"].empty() ? d.o.note : cell["note"], .values = {}, .points = {}, .sure = d.o.sure, .at = cell["at"], .set_emissivity = cell["set_emissivity"], .spot = cell["spot"]};
            if (!cell["value"].empty()) told.values = {side.empty() ? cell["value"] : side + "=" + cell["value"]};
            const papers::Id id = id_of ? id_of(number) : papers::Id();
            if (rows.have.contains(id)) {
                ++rows.there;
                continue;
            }
            Kept kept;
            d.together([&] { kept = keep(d, library, told, id); });
            keep_run_outs(d, library, kept);
            rows.bikes[kept.bike.id] = kept;
            ++rows.added;
        } catch (const Stop& s) {
            if (s.error.code != Errc::bad_input && s.error.code != Errc::wrong_usage) throw;
            rows.refused.emplace_back(number, s.error.text);
        }
    }
}

int papers_add_readings(Desk& d) {
    const parts::Library library = must(parts::load_library());
    long added = 0;
    std::vector<std::string> troubles;
    std::map<papers::Id, Kept> bikes;
    const auto trouble = [&](const std::string& text) {
        troubles.push_back(text);
        fmt::print(stderr, "brakewright: {}\n", text);
    };
    for (const std::string& path : d.o.paths) {
        Result<std::string> text = read_file(path);
        if (!text) {
            trouble(text.error().text);
            continue;
        }
        Rows rows;
        add_rows(d, library, *text, nullptr, rows);
        added += rows.added;
        bikes.merge(rows.bikes);
        for (const auto& [line, said] : rows.refused) trouble(fmt::format("{}:{}: {}", path, line, said));
    }
    if (d.o.common.json) {
        fmt::print("{}\n", json({{"schema", "papers/1"}, {"version", version}, {"added", added}, {"failed", troubles.size()}, {"troubles", troubles}}).dump(2, ' ', false, json::error_handler_t::replace));
    } else {
        fmt::print("{} readings added, {} not taken.\n", added, troubles.size());
        say_held(d, library, bikes);
    }
    return troubles.empty() ? 0 : exit_status(Errc::bad_input);
}

}  // namespace bw::app
