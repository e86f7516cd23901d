// SPDX-License-Identifier: Apache-2.0
// The figures that explain, as data: `heat figures`, `life figures` and `stop figures` in one reply.      Layer: app
#include <fmt/format.h>

#include <nlohmann/json.hpp>

#include "../verbs.hpp"
#include "answer/heat_figures.hpp"
#include "answer/life_figures.hpp"
#include "answer/stop_figures.hpp"
#include "base/text.hpp"
#include "jobs.hpp"

namespace bw::app::service {

namespace {

// A table of ours as columns: numbers, words, and null where a cell is empty.
json columns_of(const std::string& csv) {
    json columns = json::object();
    std::vector<std::string> names;
    for (std::size_t at = 0; at < csv.size();) {
        const std::size_t end = std::min(csv.find('\n', at), csv.size());
        const std::vector<std::string> fields = csv_fields(std::string_view(csv).substr(at, end - at));
        at = end + 1;
        if (names.empty()) {
            names = fields;
            for (const std::string& n : names) columns[n] = json::array();
            continue;
        }
        for (std::size_t i = 0; i < names.size(); ++i) {
            const std::string cell = i < fields.size() ? fields[i] : std::string();
            const auto number = parse_number(cell);
            columns[names[i]].push_back(cell.empty() ? json() : number ? json(*number) : json(cell));
        }
    }
    return columns;
}

json figure_json(const char* of, const answer::HeatFigure& f) {
    const json told = json::parse(f.json);
    json claims = json::array(), variants = json::array();
    for (const json& v : told.at("variants")) {
        json intervals = json::object(), shares = json::object();
        for (const auto& [key, value] : v.items()) {
            if (value.is_object()) intervals[key] = value;
            else if (value.is_number()) shares[key] = value;
        }
        variants.push_back({{"name", v.at("name")}, {"intervals", intervals}, {"shares", shares}});
    }
    for (const json& c : told.at("claims")) claims.push_back({{"text", c.at("text")}, {"holds_share", c.at("holds_share")}});
    return {{"of", of}, {"name", f.name}, {"title", told.at("title")}, {"caption", told.at("caption")}, {"cases", told.at("cases")}, {"assumptions", told.at("assumptions")}, {"sources", told.at("sources")}, {"claims", claims}, {"variants", variants}, {"columns", columns_of(f.csv)}};
}

constexpr std::size_t heat_cases = 64, stop_cases = 256;   // as the commands take them

}  // namespace

Jobs::Work explain_work(Room& room) {
    return [&room](const Context& ctx) {
        if (!room.explained.empty()) return room.explained;
        // One third of the bar for each kind of figure.
        const auto part = [&](int k) {
            Context own = ctx;
            own.progress = [&ctx, k](double share, std::string_view text) {
                if (ctx.progress) ctx.progress((k + share) / 3, text);
            };
            own.progress(0, "figures");
            return own;
        };
        json figures = json::array();
        for (const answer::HeatFigure& f : must(answer::heat_figures(part(0), room.library, version, heat_cases))) figures.push_back(figure_json("heat", f));
        for (const answer::LifeFigure& f : must(answer::life_figures(part(1), room.library))) {
            json sources = json::array();
            for (const std::string& s : f.sources) sources.push_back({{"text", s}, {"grade", "assumed"}});
            figures.push_back({{"of", "life"}, {"name", f.name}, {"title", f.title}, {"caption", f.caption}, {"cases", nullptr}, {"assumptions", f.assumptions}, {"sources", sources}, {"claims", json::array()}, {"variants", json::array()}, {"columns", columns_of(f.csv)}});
        }
        for (const answer::HeatFigure& f : must(answer::stop_figures(part(2), room.library, version, stop_cases))) figures.push_back(figure_json("stop", f));
        room.explained = json{{"schema", "explain/1"}, {"version", version}, {"seed", ctx.seed}, {"figures", figures}, {"cautions", {caution}}}.dump();
        return room.explained;
    };
}

}  // namespace bw::app::service
