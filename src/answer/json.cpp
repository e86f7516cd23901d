// SPDX-License-Identifier: Apache-2.0
// The answer as JSON, schema answer/1 (docs/schema/answer-1.json).                                       Layer: answer
#include <algorithm>
#include <cmath>
#include <nlohmann/json.hpp>

#include "answer/answer.hpp"
#include "base/time.hpp"
#include "describe.hpp"

namespace bw::answer {

using json = nlohmann::ordered_json;

namespace {

json of(double v) { return std::isfinite(v) ? json(v) : json(nullptr); }
json of(const Interval& i) { return {{"p05", of(i.p05)}, {"p50", of(i.p50)}, {"p95", of(i.p95)}}; }
json of(const ride::Effort& e) {
    return {{"over_s", of(e.over_s)},     {"start_s", of(e.start_s)},     {"distance_m", of(e.distance_m)},
            {"gradient", of(e.gradient)}, {"speed_mps", of(e.speed_mps)}, {"power_W", of(e.power_W)},
            {"energy_J", of(Interval{e.power_W.p05 * e.over_s, e.power_W.p50 * e.over_s, e.power_W.p95 * e.over_s})}};
}
template <class T>
json of(const std::optional<T>& v) {
    return v ? of(*v) : json(nullptr);
}
json day(const std::optional<long>& d) { return d ? json(format_day(*d)) : json(nullptr); }

// Of a ride whose heat is withheld every figure is null.
json wheel(const WheelHeatAnswer& w, bool withheld) {
    if (withheld) {
        json none;
        for (const char* key : {"brake_energy_J", "rotor_peak_degC", "rotor_hottest_ring_degC", "rotor_under_pad_peak_degC", "pad_face_peak_degC", "fluid_peak_degC", "fluid_peak_at_s", "fluid_boil_probability",
                                "fluid_point_degC", "fade_probability", "hot_stop_beyond_hand_probability", "lever_force_factor", "hold_lever_force_N", "hold_lever_force_cold_N", "hold_outside_measured_probability", "outside_measured_share", "above_measured_power_share", "gap_taken_mm", "core_peak_degC", "core_soft_probability",
                                "core_melt_probability", "water"})
            none[key] = nullptr;
        return none;
    }
    return {{"brake_energy_J", of(w.brake_energy_J)},
            {"rotor_peak_degC", of(w.rotor_peak_degC)},
            {"rotor_hottest_ring_degC", of(w.rotor_hottest_ring_degC)},
            {"rotor_under_pad_peak_degC", of(w.rotor_under_pad_peak_degC)},
            {"pad_face_peak_degC", of(w.pad_face_peak_degC)},
            {"fluid_peak_degC", w.has_fluid ? of(w.fluid_peak_degC) : json(nullptr)},
            {"fluid_peak_at_s", w.has_fluid ? of(w.fluid_peak_at_s) : json(nullptr)},
            {"fluid_boil_probability", of(w.fluid_boil_probability)},
            {"fluid_point_degC", of(w.fluid_point_degC)},
            {"fade_probability", of(w.fade_probability)},
            {"hot_stop_beyond_hand_probability", of(w.hot_stop_beyond_hand_probability)},
            {"lever_force_factor", of(w.lever_force_factor)},
            {"hold_lever_force_N", of(w.hold_lever_force_N)},
            {"hold_lever_force_cold_N", of(w.hold_lever_force_cold_N)},
            {"hold_outside_measured_probability", of(w.hold_outside_measured_probability)},
            {"outside_measured_share", of(w.outside_measured_share)},
            {"above_measured_power_share", of(w.above_measured_power_share)},
            {"core_peak_degC", of(w.core_peak_degC)},
            {"core_soft_probability", of(w.core_soft_probability)},
            {"core_melt_probability", of(w.core_melt_probability)},
            {"gap_taken_mm", w.has_fluid ? of(w.gap_taken_mm) : json(nullptr)},
            {"water", w.water ? json{{"least_friction", of(w.water->least_friction)},
                                     {"lever_force_factor", of(w.water->lever_force_factor)},
                                     {"wet_work_share", of(w.water->wet_work_share)},
                                     {"drying_J", of(w.water->drying_J)},
                                     {"turns_to_dry", of(w.water->turns_to_dry)},
                                     {"metres_to_dry", of(w.water->metres_to_dry)}}
                              : json(nullptr)}};
}

json verdict(const inspect::Verdict& v) {
    json reasons = json::array(), notes = json::array();
    for (const auto& r : v.reasons) reasons.push_back({{"code", r.code}, {"text", r.text}});
    for (const auto& r : v.notes) notes.push_back({{"code", r.code}, {"text", r.text}});
    return {{"do_not_ride", v.do_not_ride},
            {"state", inspect::word_of(v.state)},
            {"text", v.text},
            {"reasons", reasons},
            {"notes", notes},
            {"checks_done", v.checks_done},
            {"checks_total", v.checks_total}};
}

json with(json j, const ride::Took& t) {
    j["energy_J"] = of(t.energy_J);
    j["mean_J"] = of(t.mean_J);
    return j;
}

constexpr std::size_t most_bends = 10;

json did(const ride::BrakesDid& d) {
    if (d.windows.empty()) return nullptr;
    json windows = json::array(), bends = json::array(), stops = json::array(), steps = json::array();
    for (const ride::Window& w : d.windows) windows.push_back(with({{"start_s", of(w.start_s)}, {"end_s", of(w.end_s)}}, w.took));
    std::vector<ride::Bend> most = d.bends;
    std::stable_sort(most.begin(), most.end(), [](const ride::Bend& a, const ride::Bend& b) { return a.took.mean_J > b.took.mean_J; });
    if (most.size() > most_bends) most.resize(most_bends);
    for (const ride::Bend& b : most)
        bends.push_back(with({{"start_s", of(b.start_s)}, {"end_s", of(b.end_s)}, {"approach_m", of(b.approach_m)}, {"start_m", of(b.start_m)}, {"end_m", of(b.end_m)},
                              {"turn_deg", of(b.turn_deg)}, {"radius_m", of(b.radius_m)}, {"approach_mps", of(b.approach_mps)}, {"entry_mps", of(b.entry_mps)},
                              {"slowest_mps", of(b.slowest_mps)}}, b.took));
    double bends_J = 0;
    for (const ride::Bend& b : d.bends) bends_J += b.took.mean_J;
    for (const ride::Halt& h : d.halts)
        stops.push_back(with({{"start_s", of(h.start_s)}, {"end_s", of(h.end_s)}, {"distance_m", of(h.distance_m)}, {"from_mps", of(h.from_mps)},
                              {"mean_deceleration_mps2", of(h.mean_deceleration_mps2)}}, h.took));
    for (const ride::DescentStep& s : d.descent.steps) steps.push_back(with({{"from_m", of(s.from_m)}, {"to_m", of(s.to_m)}}, s.took));
    return {{"windows", windows},
            {"bends_found", {{"count", d.bends.size()}, {"mean_J", of(bends_J)}}},
            {"bends", bends},
            {"stops", stops},
            {"descent_100m", steps},
            {"descent_rest", with(json::object(), d.descent.rest)},
            {"hardest", {{"over_10s", of(d.hardest_10s)}, {"over_60s", of(d.hardest_60s)}}}};
}

json ride(const RideAnswer& r) {
    const bool withheld = !r.heat_withheld.empty();
    json list = json::array();
    double braking_s = 0, listed_J = 0;
    for (const ride::Application& a : r.applications) {
        list.push_back({{"start_s", of(a.start_s)}, {"end_s", of(a.end_s)}, {"energy_J", of(a.energy_J)}, {"mean_W", of(a.mean_W)}, {"peak_W", of(a.peak_W)}});
        braking_s += a.end_s - a.start_s;
        listed_J += a.energy_J;
    }
    json faults = json::array();
    for (const ride::Fault& f : r.faults)
        faults.push_back({{"kind", ride::word_of(f.kind)}, {"count", f.count}, {"seconds", of(f.seconds)}, {"text", f.text}});
    return {{"file", r.file},
            {"start_time", r.start_unix_s ? json(format_time(*r.start_unix_s)) : json(nullptr)},
            {"planned", r.planned},
            {"style", r.style ? json(ride::word_of(*r.style)) : json(nullptr)},
            {"described", r.described},
            {"duration_s", r.described ? json(nullptr) : of(r.duration_s)},
            {"distance_m", of(r.distance_m)},
            {"ascent_m", r.described || withheld ? json(nullptr) : of(r.ascent_m)},
            {"descent_m", withheld ? json(nullptr) : of(r.descent_m)},
            {"altitude_source", ride::word_of(r.altitude_source)},
            {"account_J", r.described || withheld ? json(nullptr) : json
             {{"height", of(r.account.height_J)},
              {"motion", of(r.account.motion_J)},
              {"rider", of(r.account.rider_J)},
              {"air", of(r.account.air_J)},
              {"rolling", of(r.account.rolling_J)},
              {"brakes", of(r.account.brakes_J)},
              {"unexplained", of(r.account.unexplained_J)}}},
            {"narrowed", !r.narrowed ? json(nullptr) : json
             {{"drag_area_m2", of(r.narrowed->drag_area_m2)},
              {"rolling_resistance", of(r.narrowed->rolling_resistance)},
              {"drag_area_spread", of(r.narrowed->drag_area_spread)},
              {"rolling_resistance_spread", of(r.narrowed->rolling_resistance_spread)}}},
            {"brake_energy_J", withheld ? json(nullptr) : of(r.brake_energy_J)},
            {"braking_J", withheld ? json(nullptr) : json
             {{"front", of(r.braking.front_J)}, {"rear", of(r.braking.rear_J)}, {"skid", of(r.braking.skid_J)}, {"motor", of(r.braking.motor_J)}, {"trailer", of(r.braking.trailer_J)}}},
            {"did", withheld ? json(nullptr) : did(r.did)},
            {"applications", r.described || withheld ? json(nullptr)
                                                     : json{{"count", r.applications.size()}, {"time_s", of(braking_s)}, {"list", list}, {"rest_J", of(r.account.brakes_J - listed_J)}}},
            {"wheels", {{"front", wheel(r.wheels[0], withheld)}, {"rear", wheel(r.wheels[1], withheld)}}},
            {"heat_withheld", withheld ? json(r.heat_withheld) : json(nullptr)},
            {"date_left_aside", r.date_left_aside},
            {"misfit", r.misfit},
            {"faults", faults}};
}

json life(const WheelLife& w) {
    json pad = nullptr, rotor = nullptr;
    if (w.pad)
        pad = {{"remaining_km", of(w.pad->remaining_km)},
               {"remaining_rides", of(w.pad->remaining_rides)},
               {"remaining_descent_m", of(w.pad->remaining_descent_m)},
               {"look_by", day(w.pad->look_by)},
               {"look_by_km", of(w.pad->look_by_km)},
               {"look_by_rides", of(w.pad->look_by_rides)},
               {"capped", w.pad->capped},
               {"limit", w.pad->limit_text}};
    if (w.rotor)
        rotor = {{"remaining_km", of(w.rotor->remaining_km)}, {"pad_sets", of(w.rotor->pad_sets)}, {"look_by", day(w.rotor->look_by)},
                 {"look_by_km", of(w.rotor->look_by_km)}, {"look_by_rides", of(w.rotor->look_by_rides)},
                 {"capped", w.rotor->capped}, {"limit", w.rotor->limit_text}};
    return {{"pad", pad}, {"rotor", rotor}};
}

}  // namespace

std::string json_of(const inspect::Verdict& v) { return verdict(v).dump(2, ' ', false, json::error_handler_t::replace); }
std::string json_of(const WheelHeatAnswer& w) { return wheel(w, false).dump(); }

std::string json_of(const Answer& a, const std::string& version) {
    const bool hold = a.verdict.do_not_ride;
    json rides = json::array();
    for (const RideAnswer& r : a.rides) rides.push_back(ride(r));

    json stops = json::array();
    for (const stop::StopAnswer& s : a.stops)
        stops.push_back({{"brakes", stop::word_of(s.setup.brakes)},
                         {"surface", stop::word_of(s.setup.surface)},
                         {"from_mps", of(s.setup.from_mps)},
                         {"grade", of(s.setup.grade)},
                         {"brake_distance_m", hold ? json(nullptr) : of(s.brake_distance_m)},
                         {"room_needed_m", hold ? json(nullptr) : of(s.room_needed_m)},
                         {"deceleration_mps2", of(s.deceleration_mps2)},
                         {"lever_force_N", of(s.lever_force_N)},
                         {"hand_force_N", of(s.hand_force_N)},
                         {"cold_hand_force_N", of(s.cold_hand_force_N)},
                         {"standard_force_N", of(s.standard_force_N)},
                         {"limited_by", stop::word_of(s.limited_by)},
                         {"not_stopping_share", hold ? json(nullptr) : of(s.not_stopping_share)},
                         {"weak_share", of(s.weak_share)},
                         {"bar_share", of(s.bar_share)}});

    json levers;
    for (int e = 0; e < 2; ++e)
        levers[e == 0 ? "front" : "rear"] = hold ? json(nullptr) : json{{"bite_mm", of(a.levers[e].bite_mm)}, {"full_mm", of(a.levers[e].full_mm)}};

    json yardsticks = json::array();
    for (const Yardstick& y : hold ? std::vector<Yardstick>{} : a.yardsticks)   // no comfortable number beside "do not ride"
        yardsticks.push_back({{"id", y.id}, {"text", y.text}, {"need", of(y.need)}, {"at_most", y.at_most}, {"have", of(y.have)}, {"met_share", of(y.met_share)}, {"remark", y.remark},
                              {"unit", y.unit}, {"grade", name_of(y.grade)}, {"source", y.source}});

    json assumed = json::array();
    for (const Assumption& s : a.assumed)
        assumed.push_back({{"key", s.key}, {"value", s.value ? of(*s.value) : json(s.text)}, {"sd", of(s.sd)}, {"unit", s.unit}, {"grade", name_of(s.grade)}, {"source", s.source}});

    const json out = {
        {"schema", "answer/1"},
        {"version", version},
        {"seed", a.seed},
        {"cases", a.cases},
        {"bike", {{"name", a.bike.name}, {"kind", parts::word_of(a.bike.kind)}, {"total_mass_kg", of(a.bike.total_mass_kg.value)}, {"trailer_kg", a.bike.trailer ? of(a.bike.trailer->mass_kg.value) : json(nullptr)}}},
        {"verdict", verdict(a.verdict)},
        {"rides", rides},
        {"life", {{"front", hold ? json(nullptr) : life(a.life[0])}, {"rear", hold ? json(nullptr) : life(a.life[1])}}},
        {"learned", a.learned ? json::parse(json_of(*a.learned, a.seed, version)) : json(nullptr)},
        {"front_share", a.share ? json{{"now", of(a.share->now)}, {"before", of(a.share->before)}, {"of_cases", of(a.share->of_cases)}, {"effective_anchors", of(a.share->effective_anchors)},
                                       {"effective_cases", of(a.share->effective_cases)}, {"whole", a.share->whole}, {"text", share_weighed_words(*a.share)}}
                                : json(nullptr)},
        {"read_temperatures", a.temperatures},
        {"life_withheld", a.life_withheld.empty() ? json(nullptr) : json(a.life_withheld)},
        {"stops", stops},
        {"levers", levers},
        {"yardsticks", yardsticks},
        {"today", day(a.today)},
        {"assumed", assumed},
        {"measure_next", a.measure_next ? json{{"what", a.measure_next->what}, {"minutes", of(a.measure_next->minutes)}, {"text", a.measure_next->text}} : json(nullptr)},
        {"cautions", a.cautions}};
    // Names of rides and bikes come from outside: bytes that are not UTF-8 are replaced, never thrown at the caller.
    return out.dump(2, ' ', false, json::error_handler_t::replace) + "\n";
}

}  // namespace bw::answer
