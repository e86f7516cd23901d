// SPDX-License-Identifier: Apache-2.0
// Figures that explain the lever: how often a cable wants a turn, what housing gives, where a hand is strong.   Layer: answer
#include "answer/stop_figures.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <nlohmann/json.hpp>

#include "describe.hpp"
#include "internal.hpp"
#include "stop/feel.hpp"
#include "wear/described.hpp"

namespace bw::answer {

namespace {

using json = nlohmann::ordered_json;
json of(const Interval& i) { return {{"p05", i.p05}, {"p50", i.p50}, {"p95", i.p95}}; }

struct Variant {
    std::string name;
    std::vector<double> values;   //!< [case]
};
struct Claim {
    std::string text;
    std::size_t more, less;
};

json claims_of(const std::vector<Variant>& v, const std::vector<Claim>& claims, const char* quantity) {
    json list = json::array();
    for (const Claim& c : claims) {
        std::vector<double> difference;
        double holds = 0;
        for (std::size_t i = 0; i < v[c.more].values.size(); ++i) {
            difference.push_back(v[c.more].values[i] - v[c.less].values[i]);
            holds += difference.back() > 0 ? 1.0 / static_cast<double>(v[c.more].values.size()) : 0;
        }
        list.push_back({{"text", c.text}, {"quantity", quantity}, {"more", v[c.more].name}, {"less", v[c.less].name}, {"difference", of(interval_of(difference))}, {"holds_share", holds}});
    }
    return list;
}
json variants_of(const std::vector<Variant>& v, const char* quantity) {
    json list = json::array();
    for (const Variant& one : v) list.push_back({{"name", one.name}, {quantity, of(interval_of(one.values))}});
    return list;
}

}  // namespace

Result<std::vector<HeatFigure>> stop_figures(const Context& ctx, const parts::Library& library, const std::string& version, std::size_t n) {
    std::vector<HeatFigure> out;
    const auto finish = [&](const char* name, const char* title, const std::string& caption, json columns, json assumptions, json sources, json variants, json claims, std::string csv) {
        const json j = {{"schema", "stop-figure/1"}, {"version", version}, {"figure", name}, {"title", title}, {"caption", caption}, {"seed", ctx.seed}, {"cases", n}, {"table", std::string(name) + ".csv"},
                        {"columns", std::move(columns)}, {"assumptions", std::move(assumptions)}, {"sources", std::move(sources)}, {"variants", std::move(variants)}, {"claims", std::move(claims)}, {"caution", caution}};
        out.push_back({.name = name, .csv = std::move(csv), .json = j.dump(2) + "\n"});
    };
    const auto trade = [](const char* fact) { return json{{"text", std::string("common practice, no source: ") + fact}, {"grade", name_of(Grade::common_practice)}}; };
    const auto source = [&](const char* row) { return json{{"text", library.row(row).value.source}, {"grade", name_of(library.row(row).value.grade)}}; };

    {   // How often the cable of a brake that follows no wear wants a turn.
        const double thread_mm = library.value("feel.thread"), ride_km = library.value("feel.ride_km");
        parts::Bike bike = parts::default_bike(parts::BikeKind::city, library);
        std::vector<Variant> v;
        std::string csv = "variant,km_per_turn_p05,km_per_turn_p50,km_per_turn_p95,turns_per_ride_p50\n";
        for (const wear::Terrain t : {wear::Terrain::flat, wear::Terrain::hilly, wear::Terrain::mountain})
            for (const bool gritty : {false, true}) {
                Request request;
                request.bike = bike;
                request.terrain = t;
                const Cases drawn = draw_cases(all_inputs(library, request), n, ctx.seed);
                const std::vector<Case> cases = cases_of(library, bike, drawn);
                Variant one{.name = fmt::format("{}, {}", wear::word_of(t), gritty ? "wet and gritty" : "dry"), .values = {}};
                for (std::size_t i = 0; i < n; ++i) {
                    const Case& c = cases[i];
                    wear::DescribedRide km = wear::typical_ride(wear::described_unknowns_of(CaseRow(drawn, i)), 1000, c.bike.total_mass_kg.value);
                    km.wet_share = km.grit_share = gritty ? 1 : 0;
                    const heat::WearDose dose = wear::described_dose(km, wear::described_unknowns_of(CaseRow(drawn, i)), parts::End::front, c.habit);
                    const auto pad = [&](wear::Side s) { return wear::pad_loss_mm(std::max(wear::pad_volume_mm3(dose, c.wear[0], s), 0.0), c.bike.front.pads.area_mm2.value); };
                    const double rate = stop::travel_of_wear_mm(c.bike.front, pad(wear::Side::left), pad(wear::Side::right), wear::rotor_loss_mm(std::max(wear::rotor_volume_mm3(dose, c.wear[0]), 0.0), c.bike.front.rotor));
                    one.values.push_back(stop::travel_of_turn_mm(c.bike.front, thread_mm) / std::max(rate, 1e-9));
                }
                const Interval i = interval_of(one.values);
                csv += fmt::format("\"{}\",{:.6g},{:.6g},{:.6g},{:.6g}\n", one.name, i.p05, i.p50, i.p95, ride_km / i.p50);
                v.push_back(std::move(one));
            }
        if (ctx.stopped()) return cancelled();
        finish("cable_turns", "How often the cable of a disc brake wants a turn",
               fmt::format("A cable brake that follows no wear, front: how far it rides for one turn of its adjuster; a ride here is {:g} km. The trade says: down to one ride in wet grit (common practice, no source).", ride_km),
               {{{"name", "km_per_turn"}, {"unit", "km"}, {"text", "between two turns of the cable's adjuster"}}, {{"name", "turns_per_ride"}, {"unit", ""}, {"text", "at the middle"}}},
               {"a city bike with cable brakes, all of it by default", "wear as in the answers to the six questions, all riding alike"}, json::array({source("feel.thread"), trade("a cable brake that follows no wear wants a turn of its adjuster as often as after one ride of wet grit")}), variants_of(v, "km_per_turn"),
               claims_of(v, {{"Dry and flat goes further than wet grit in the mountains", 0, 5}, {"Wet grit costs riding in hilly country", 2, 3}}, "km_per_turn"), std::move(csv));
    }
    {   // What housing gives under the hand, for cable-to-hydraulic calipers.
        std::vector<Variant> v;
        std::string csv = "variant,lever_force_N,lever_travel_mm_p05,lever_travel_mm_p50,lever_travel_mm_p95\n";
        for (const parts::HousingKind kind : {parts::HousingKind::ordinary, parts::HousingKind::compressionless}) {
            parts::Bike bike = parts::default_bike(parts::BikeKind::gravel, library);
            bike.front.actuation = bike.rear.actuation = parts::Actuation::cable_to_hydraulic;
            bike.front.housing.kind = bike.rear.housing.kind = kind;
            Request request;
            request.bike = bike;
            const std::vector<Case> cases = cases_of(library, bike, draw_cases(all_inputs(library, request), n, ctx.seed));
            Variant one{.name = std::string(parts::word_of(kind)), .values = {}};
            for (int force = 20; force <= 180; force += 20) {
                std::vector<double> give;
                for (const Case& c : cases) give.push_back(stop::give_mm(c.stop.front, force));
                const Interval i = interval_of(give);
                csv += fmt::format("{},{},{:.6g},{:.6g},{:.6g}\n", one.name, force, i.p05, i.p50, i.p95);
                if (force == 100) one.values = std::move(give);
            }
            v.push_back(std::move(one));
        }
        finish("housing_give", "What compressionless housing is worth at the lever of a cable-to-hydraulic caliper",
               "Lever travel from bite to a squeeze; variants at 100 N. How much housing gives is assumed here, not measured.",
               {{{"name", "lever_force_N"}, {"unit", "N"}, {"text", "at the finger"}}, {{"name", "lever_travel_mm"}, {"unit", "mm"}, {"text", "from bite"}}}, {"travel grows with force to the power 0.7"},
               json::array({source("housing.ordinary.travel"), source("housing.compressionless.travel"), trade("compressionless housing is worth its price to cable-to-hydraulic calipers: the lever gives less")}), variants_of(v, "lever_travel_mm"),
               claims_of(v, {{"Ordinary housing takes more lever travel than compressionless", 0, 1}}, "lever_travel_mm"), std::move(csv));
    }
    {   // Where on its way a lever meets a strong hand, and how much of it an ordinary stop takes there.
        std::vector<Variant> v, shares;
        std::string csv = "variant,lever_mm,hand_force_N_p05,hand_force_N_p50,hand_force_N_p95\n", control_csv = "variant,lever_mm,hand_share_p05,hand_share_p50,hand_share_p95\n";
        parts::Bike bike = parts::default_bike(parts::BikeKind::trail, library);
        Request request;
        request.bike = bike;
        const std::vector<Case> cases = cases_of(library, bike, draw_cases(all_inputs(library, request), n, ctx.seed));
        std::vector<double> need;
        for (const Case& c : cases) need.push_back(stop::stop_case(c.bike, {}, c.stop).front.need_N);
        const parts::Hand hand = stop::hand_of(library, stop::HandGroup::women, 50);
        for (int mm = 5; mm <= 55; mm += 5) {
            std::vector<double> force, share;
            for (std::size_t i = 0; i < cases.size(); ++i) {
                force.push_back(stop::hand_force_N(hand, cases[i].stop, mm, stop::HandState::warm));
                share.push_back(need[i] / force.back());
            }
            const Interval f = interval_of(force), s = interval_of(share);
            csv += fmt::format("women_50,{},{:.6g},{:.6g},{:.6g}\n", mm, f.p05, f.p50, f.p95);
            control_csv += fmt::format("women_50,{},{:.6g},{:.6g},{:.6g}\n", mm, s.p05, s.p50, s.p95);
            if (mm != 20 && mm != 55) continue;
            v.push_back({.name = fmt::format("{} mm from the bar", mm), .values = std::move(force)});
            shares.push_back({.name = v.back().name, .values = std::move(share)});
        }
        const json place = {{"name", "lever_mm"}, {"unit", "mm"}, {"text", "lever to bar"}};
        finish("hand_on_lever", "Where on its way a lever meets a strong hand",
               "Force of the braking fingers of a middle woman's hand by the lever's distance from the bar: largest part of the way in, not at rest.",
               {place, {{"name", "hand_force_N"}, {"unit", "N"}, {"text", "braking fingers, warm"}}}, {"best span by hand size, at most 5.5 cm"},
               json::array({source("hand.span_loss"), source("hand.women.strength_N"), trade("grip force peaks at mid-travel")}), variants_of(v, "hand_force_N"),
               claims_of(v, {{"A hand has more 20 mm from the bar than 55 mm from it", 0, 1}}, "hand_force_N"), std::move(csv));
        finish("control_on_lever", "Where on its way a lever is metered best",
               "Part of a middle woman's braking fingers that the front lever of an ordinary stop takes, by the lever's distance from the bar. The smaller the part, the finer it is metered (common practice, no source); it is smallest part of the way in.",
               {place, {{"name", "hand_share"}, {"unit", ""}, {"text", "squeeze of an ordinary stop over what the fingers have there"}}}, {"a trail bike, all of it by default", "the squeeze of an ordinary stop is the same wherever the lever stands"},
               json::array({source("hand.span_loss"), source("hand.women.strength_N"), trade("control peaks at mid-travel")}), variants_of(shares, "hand_share"),
               claims_of(shares, {{"An ordinary stop takes more of a hand 55 mm from the bar than 20 mm from it", 1, 0}}, "hand_share"), std::move(control_csv));
    }
    return out;
}

}  // namespace bw::answer
