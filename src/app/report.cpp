// SPDX-License-Identifier: Apache-2.0
// The report: the answer's own JSON in, tables and places for figures out.                              Layer: app
#include "report.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <nlohmann/json.hpp>

#include "service/jobs.hpp"
#include "service/pages.hpp"

namespace bw::app {

namespace {

using json = nlohmann::ordered_json;
constexpr std::size_t most_points = 2000;

std::string_view built(std::string_view name) {
    for (const service::Page& p : service::pages())
        if (p.name == name) return p.bytes;
    return {};
}

std::string escaped(std::string_view text) {
    std::string out;
    for (const char c : text) {
        if (c == '<') out += "&lt;";
        else if (c == '>') out += "&gt;";
        else if (c == '&') out += "&amp;";
        else if (c == '"') out += "&quot;";
        else out += c;
    }
    return out;
}
std::string told(const json& text) { return escaped(text.get_ref<const std::string&>()); }

// Inside a script element only "</" and "<!--" could end or bend it.
std::string as_data(std::string text) {
    for (std::size_t at = 0; (at = text.find('<', at)) != std::string::npos;) text.replace(at, 1, "\\u003c");
    return text;
}

// Two digits where the interval is wide, three where it is narrow: as the pages.
std::string number(double v, int digits) {
    if (v == 0) return "0";
    const double step = std::pow(10.0, std::floor(std::log10(std::abs(v))) - digits + 1);
    const double r = std::round(v / step) * step;
    return fmt::format("{:.{}f}", r, std::max(0, -static_cast<int>(std::floor(std::log10(step) + 0.5))));
}
std::string interval(const json& i, double factor = 1) {
    if (i.is_null()) return "not known";
    const double low = i.at("p05").get<double>() * factor, middle = i.at("p50").get<double>() * factor, high = i.at("p95").get<double>() * factor;
    const int digits = std::abs(high - low) < 0.25 * std::abs(middle) ? 3 : 2;
    return fmt::format("{} ({} to {})", number(middle, digits), number(low, digits), number(high, digits));
}
std::string degrees(const json& i) {
    if (i.is_null()) return "not known";
    return fmt::format("{:.0f} ({:.0f} to {:.0f})", i.at("p50").get<double>(), i.at("p05").get<double>(), i.at("p95").get<double>());
}
std::string share(const json& s) {
    if (s.is_null()) return "not known";
    const double v = s.get<double>();
    return v > 0 && v < 0.005 ? "under 1 %" : fmt::format("{:.0f} %", v * 100);
}
std::string row(const std::vector<std::string>& cells, const char* tag = "td") {
    std::string out = "<tr>";
    for (const std::string& c : cells) out += fmt::format("<{}>{}</{}>", tag, c, tag);
    return out + "</tr>\n";
}
std::string place(std::string_view name) { return fmt::format("<div data-place=\"{}\"></div>\n", name); }

std::string stop_part(const json& a) {
    std::string out = "<section><h2>Will it stop?</h2>\n" + place("stop");
    if (a.at("verdict").at("do_not_ride").get<bool>()) return out + "<noscript><p>No distance is given while the bike is held back.</p></noscript></section>\n";
    out += "<table>" + row({"brakes, surface", "room with reaction, m", "of it the brakes, m", "squeeze needed, N"}, "th");
    for (const json& s : a.at("stops"))
        out += row({told(s.at("brakes")) + ", " + told(s.at("surface")), interval(s.at("room_needed_m")), interval(s.at("brake_distance_m")), interval(s.at("lever_force_N"))});
    return out + "</table><p class=\"small\">Judge the room by the long end of the interval.</p></section>\n";
}

std::string heat_part(const json& a, const answer::Answer& answer) {
    std::string out = "<section><h2>How hot does it get?</h2>\n" + place("heat");
    std::size_t i = 0;
    for (const json& r : a.at("rides")) {
        out += fmt::format("<h3>{}</h3>\n", told(r.at("file")));
        if (r.contains("heat_withheld") && !r.at("heat_withheld").is_null()) out += fmt::format("<p>{}</p>\n", told(r.at("heat_withheld")));
        else {
            out += "<table>" + row({"", "front", "rear"}, "th");
            const json &f = r.at("wheels").at("front"), &b = r.at("wheels").at("rear");
            for (const auto& [key, words] : {std::pair{"rotor_peak_degC", "rotor, mean of the band, °C"}, {"rotor_hottest_ring_degC", "rotor, hottest ring, °C"}, {"rotor_under_pad_peak_degC", "rotor, under the pad, °C"}, {"pad_face_peak_degC", "pad face, °C"}, {"fluid_peak_degC", "fluid, °C"}})
                out += row({words, degrees(f.at(key)), degrees(b.at(key))});
            out += row({"into the brake, kJ", interval(f.at("brake_energy_J"), 1e-3), interval(b.at("brake_energy_J"), 1e-3)});
            out += row({"fluid boils", share(f.at("fluid_boil_probability")), share(b.at("fluid_boil_probability"))});
            if (!f.at("core_peak_degC").is_null() || !b.at("core_peak_degC").is_null()) {
                const auto core = [](const json& w) { return w.at("core_peak_degC").is_null() ? std::string("-") : degrees(w.at("core_peak_degC")); };
                out += row({"aluminium core, °C", core(f), core(b)});
            }
            for (const auto& [key, words] : {std::pair{"lever_force_factor", "squeeze, hot / cold"}, {"hold_lever_force_N", "squeeze, hardest 10 s, N"}, {"hold_lever_force_cold_N", "the same, brake cold, N"}})
                out += row({words, interval(f.at(key)), interval(b.at(key))});
            out += row({"fades", share(f.at("fade_probability")), share(b.at("fade_probability"))});
            out += "</table>\n";
            for (const std::string& words : answer::heat_remarks(answer.rides[i])) out += fmt::format("<p>{}</p>\n", escaped(words));
        }
        if (const std::vector<std::string> did = answer::did_lines(answer.rides[i]); !did.empty() && answer.rides[i].heat_withheld.empty()) {
            out += "<h4>What the brakes did</h4>\n<ul>";
            for (const std::string& words : did) out += fmt::format("<li>{}</li>", escaped(words));
            out += "</ul>\n";
        }
        out += place(fmt::format("ride-{}", i++));
        for (const json& fault : r.at("faults")) out += fmt::format("<p class=\"small\">{}</p>\n", told(fault.at("text")));
    }
    return out + "</section>\n";
}

std::string life_part(const json& a) {
    std::string out = "<section><h2>How much riding is left?</h2>\n" + place("life");
    std::string rows;
    for (const char* end : {"front", "rear"})
        for (const char* part : {"pad", "rotor"}) {
            const json& wheel = a.at("life").at(end);
            if (wheel.is_null() || wheel.at(part).is_null()) continue;
            const json& l = wheel.at(part);
            const bool dated = l.contains("look_by") && !l.at("look_by").is_null();
            rows += row({fmt::format("{} {}", end, *part == 'p' ? "pads" : "rotor"), interval(l.at("remaining_km")), dated ? told(l.at("look_by")) : "no date", l.contains("limit") ? told(l.at("limit")) : ""});
        }
    if (rows.empty()) out += "<noscript><p>No life is given.</p></noscript>";
    else out += "<table>" + row({"part", "km", "look by", "counted"}, "th") + rows + "</table><p class=\"small\">Look by: until then the chance of being past the limit is at most 0.5 %.</p>";
    return out + "</section>\n";
}

}  // namespace

Result<std::string> report_html(const answer::Answer& answer, const std::string& of_version) {
    const std::string_view script = built("report/report.js"), sheet = built("report/report.css");
    if (script.empty() || sheet.empty()) return Error{Errc::cannot_read, "--report: the pages were not built into this program; ./start builds them (it needs node 18 and npm)"};
    const std::string text = answer::json_of(answer, of_version);
    const json a = json::parse(text);
    json series = json::array();
    for (const answer::RideAnswer& r : answer.rides) series.push_back(r.series.speed_mps.empty() ? json() : service::series_columns(r, most_points));

    const json& verdict = a.at("verdict");
    std::string out = "<!doctype html>\n<html lang=\"en\"><head><meta charset=\"utf-8\"><meta name=\"viewport\" content=\"width=device-width, initial-scale=1\">\n";
    out += "<meta http-equiv=\"Content-Security-Policy\" content=\"default-src 'none'; script-src 'unsafe-inline'; style-src 'unsafe-inline'; font-src data:; img-src data:\">\n";
    out += fmt::format("<title>{}</title>\n<style>{}</style></head>\n<body class=\"report\"><main>\n", told(a.at("bike").at("name")), sheet);
    out += fmt::format("<h1>{}</h1>\n<p class=\"small\">{:.0f} kg loaded{}, Brakewright {}</p>\n", told(a.at("bike").at("name")), a.at("bike").at("total_mass_kg").get<double>(),
                       a.at("today").is_null() ? "" : ", " + told(a.at("today")), escaped(of_version));
    const bool held = verdict.at("do_not_ride").get<bool>();
    if (held) out += "<div class=\"stop-now\"><p class=\"sentence\">Do not ride.</p>\n";
    else out += fmt::format("<p class=\"verdict\">{}</p>\n", told(verdict.at("text")));
    for (const json& r : verdict.at("reasons")) out += fmt::format("<p>{}</p>\n", told(r.at("text")));
    if (held) out += "</div>\n";
    for (const json& n : verdict.at("notes")) out += fmt::format("<p class=\"small\">{}</p>\n", told(n.at("text")));
    if (!a.at("measure_next").is_null() && !held) out += fmt::format("<p class=\"next\"><b>Measure next.</b> {}</p>\n", told(a.at("measure_next").at("text")));
    out += stop_part(a) + heat_part(a, answer) + life_part(a);
    out += fmt::format("<section><h2>Assumed, since nobody told</h2>\n<details><summary>{} values, with where each is from</summary>\n<table>", a.at("assumed").size()) + row({"what", "value", "standard deviation", "unit", "how well known", "source"}, "th");
    for (const json& s : a.at("assumed")) {
        const json &v = s.at("value"), &sd = s.at("sd");
        out += row({told(s.at("key")), v.is_string() ? told(v) : v.is_null() ? "not known" : number(v.get<double>(), 3), sd.is_null() ? "" : number(sd.get<double>(), 2), told(s.at("unit")), told(s.at("grade")), told(s.at("source"))});
    }
    out += "</table></details></section>\n</main><footer>";
    for (const json& c : a.at("cautions")) out += fmt::format("<p class=\"caution\">{}</p>\n", told(c));
    out += fmt::format("</footer>\n<script type=\"application/json\" id=\"answer\">{}</script>\n<script type=\"application/json\" id=\"series\">{}</script>\n", as_data(text), as_data(series.dump()));
    out += fmt::format("<script>{}</script>\n</body></html>\n", script);
    return out;
}

}  // namespace bw::app
