// SPDX-License-Identifier: Apache-2.0
// Proof stops out of a ride that is kept: found by a job, then those taken that a person names.          Layer: app
#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <nlohmann/json.hpp>

#include "base/time.hpp"
#include "body.hpp"
#include "jobs.hpp"
#include "ride/route.hpp"

namespace bw::app::service {

namespace {

constexpr std::size_t most_kept = 8, most_named = 500;

json list_of(Room& room, Desk& d, const papers::Id& bike, const papers::Ride& ride, const StopsOfRide& of) {
    const papers::Book book = must(papers::book_of(*d.papers, bike));
    // No distance of a bike that is held back, whatever holds it.
    const bool hold = judged(*d.papers, book, bike_of(book, bike), room.library, d.today).verdict.do_not_ride;
    json stops = json::array();
    for (std::size_t i = 0; i < of.found.size(); ++i) {
        const stop::RecordedStop& r = of.found[i];
        const papers::ProofStop* kept = r.usable ? same_cut(book.proof_stops, bike, stop::proof_stop_of(r, 0, {}, stop::Brakes::front, {}, stop::Surface::dry)) : nullptr;
        const auto if_told = [&](double v) { return r.usable && !hold && std::isfinite(v) ? json(v) : json(); };
        const auto day = day_of_stop(of, i);
        stops.push_back({{"number", i + 1}, {"start_s", r.start_s}, {"day", day ? json(format_day(*day)) : json()}, {"from_mps", r.from_mps}, {"from_sd_mps", if_told(r.from_sd_mps)}, {"distance_m", if_told(r.distance_m)}, {"distance_sd_m", if_told(std::hypot(r.distance_sd_m, r.shared_sd_m))},
                         {"grade", if_told(r.grade)}, {"grade_sd", if_told(r.grade_sd)}, {"usable", r.usable}, {"why_not", r.why_not},
                         {"kept", kept ? json({{"id", kept->id}, {"wheel", papers::word_of(kept->brakes)}, {"lever_force_N", kept->lever_force_N ? json(*kept->lever_force_N) : json()}, {"surface", papers::word_of(kept->surface)}, {"day", kept->day}}) : json()}});
    }
    return {{"ride", ride.id}, {"file", ride.file_name}, {"day", of.start_unix_s ? json(format_day(static_cast<long>(std::floor(*of.start_unix_s / 86400)))) : json()},
            {"surface", ride.surface.empty() ? json() : json(ride.surface)}, {"do_not_ride", hold}, {"stops", stops}};
}

papers::Ride recorded_ride(papers::Papers& papers, const papers::Id& bike, const papers::Id& id) {
    for (papers::Ride& r : must(papers.rides(bike)))
        if (r.id == id) {
            if (r.kind != papers::RideKind::recorded) stop(Errc::bad_input, r.file_name + ": told in figures, not recorded: no stop can be found in it");
            return std::move(r);
        }
    throw NotThere{"there is no such ride of this bike"};
}

}  // namespace

Jobs::Work recorded_work(Room& room, const json& body, const papers::Id& bike) {
    const papers::Id id = needed_text(body, "ride");
    room.at_desk([&](Desk& d) -> json { return recorded_ride(*d.papers, bike, id).id; });   // what is wrong is said now
    return [&room, bike, id](const Context& ctx) {
        papers::Papers& papers = papers_of_worker(room);
        const papers::Ride ride = recorded_ride(papers, bike, id);
        if (ctx.progress) ctx.progress(0.05, "looking for stops");
        const ride::Recording recording = must(ride::read_recording(must(papers.ride_content(id)), ride.file_name));
        const auto* track = std::get_if<ride::Track>(&recording);
        if (!track) stop(Errc::bad_input, ride.file_name + ": a way without times is no ride");
        StopsOfRide found = stops_of_track(room.library, *track);
        found.file = ride.file_name;
        {
            const std::lock_guard hold(room.series_lock);
            std::erase_if(room.recorded, [&](const auto& r) { return r.first == id; });
            room.recorded.emplace_back(id, found);
            if (room.recorded.size() > most_kept) room.recorded.erase(room.recorded.begin());
        }
        return room.at_desk([&](Desk& d) { return list_of(room, d, bike, ride, found); }).dump(-1, ' ', false, json::error_handler_t::replace);
    };
}

json new_recorded_proof(Room& room, const papers::Id& bike, const std::string& text) {
    const json body = body_of(text);
    const papers::Id id = needed_text(body, "ride");
    if (answer_to(body, "lever_place") == "again") stop(Errc::bad_input, "nothing of this was stored: brake again with the scale at the mark, and count the stops of that recording");
    const auto brake = stop::brakes_of(needed_text(body, "wheel"));
    if (!brake || *brake == stop::Brakes::both) stop(Errc::bad_input, "wheel: no recording says which brake was pulled: tell the one that was pulled alone, front or rear");
    const auto surface_of = [](const json& j) {
        const auto surface = stop::surface_of(needed_text(j, "surface"));
        if (!surface) stop(Errc::bad_input, "surface: expected dry, wet, gravel or loose");
        return *surface;
    };
    const auto stops = body.find("stops");
    if (stops == body.end() || !stops->is_array() || stops->empty() || stops->size() > most_named) stop(Errc::bad_input, fmt::format("stops: expected at least one and at most {} stops of the recording", most_named));
    std::vector<TakenStop> chosen;
    for (const json& s : *stops) {
        if (!s.is_object() || !s.contains("number") || !s["number"].is_number_integer() || s["number"] < 1) stop(Errc::bad_input, "stops: expected objects with the number of a stop, 1 for the first");
        const auto number = s["number"].get<std::size_t>();
        if (std::any_of(chosen.begin(), chosen.end(), [&](const TakenStop& t) { return t.number == number; })) stop(Errc::bad_input, fmt::format("stops: {} is told twice", number));
        // One surface for all, or one of its own.
        chosen.push_back({.number = number, .lever_force_N = number_in(s, "lever_force_N"), .surface = surface_of(s.contains("surface") && !s["surface"].is_null() ? s : body)});
    }
    const std::string by = needed_text(body, "by"), day = text_of(body, "day");
    StopsOfRide ride;
    {
        const std::lock_guard hold(room.series_lock);
        const auto it = std::find_if(room.recorded.begin(), room.recorded.end(), [&](const auto& r) { return r.first == id; });
        if (it == room.recorded.end()) throw NotComputed{"this ride was not looked through yet: POST /jobs with kind recorded_stops"};
        ride = it->second;
    }
    PapersOptions o;
    o.bike = bike;
    return room.at_desk(by, o, [&](Desk& d) -> json {
        bike_of(must(papers::book_of(*d.papers, bike)), bike);
        const papers::Ride row = recorded_ride(*d.papers, bike, id);
        take_stops(ride, *brake, chosen, day);
        const ToldProof told{.bike = bike, .by = by, .note = text_of(body, "note"), .with = "", .lever_place_mm = number_in(body, "lever_place_mm"), .stops = ride.taken, .table = true, .sure = answer_to(body, "lever_place") == "keep"};
        const KeptProof kept = keep_asking(d, told);
        return {{"added", kept.added}, {"there_already", kept.there}, {"recorded", list_of(room, d, bike, row, ride)}};
    });
}

}  // namespace bw::app::service
