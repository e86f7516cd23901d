// SPDX-License-Identifier: Apache-2.0
// `stop`: will it stop in the room there is.                                                               Layer: app
#include <fmt/format.h>

#include <filesystem>
#include <nlohmann/json.hpp>

#include "answer/from_papers.hpp"
#include "answer/life_today.hpp"
#include "answer/stop_figures.hpp"
#include "answer/stopping.hpp"
#include "base/text.hpp"
#include "base/time.hpp"
#include "from_ride.hpp"
#include "verb_papers.hpp"
#include "verbs.hpp"

namespace bw::app {

namespace {

// The bike as the papers know it, with the proof stops since its brakes were last changed, and what holds it back.
void from_papers(const StopOptions& o, const parts::Library& library, answer::StopQuestion& q, inspect::Verdict& verdict) {
    papers::Opened opened = must(papers::open_papers(o.papers));
    if (!opened.note.empty()) fmt::print(stderr, "brakewright: note: {}\n", opened.note);
    const std::string today = o.today.empty() ? format_day(clock_day().value_or(0)) : o.today;
    if (!parse_day(today)) stop(Errc::wrong_usage, fmt::format("--today {}: expected a day as 2026-05-01", today));
    const papers::Bike bike = bike_named(*opened.papers, o.bike);
    answer::BikeOfPapers known = must(answer::bike_of_papers(library, *opened.papers, bike.id, today));
    const papers::Book book = must(papers::book_of(*opened.papers, bike.id));
    q.bike = std::move(known.today);
    tell_as_kept(q, *opened.papers, book, bike.id, library, today);
    verdict = judged(*opened.papers, book, bike, library, today).verdict;   // as everywhere: readings, proof, lives, and what the newest answer found
}

}  // namespace

void tell_as_kept(answer::StopQuestion& q, papers::Papers& papers, const papers::Book& book, const papers::Id& bike, const parts::Library& library, const papers::Day& today) {
    std::vector<stop::ProofStop> kept;
    for (const parts::End end : {parts::End::front, parts::End::rear})
        if (const auto proof = papers::proof_read(book, bike, q.bike, end, library, today)) {
            const std::vector<stop::ProofStop> stops = papers::stops_of(proof->stops);
            kept.insert(kept.end(), stops.begin(), stops.end());
        }
    q.proof.insert(q.proof.begin(), kept.begin(), kept.end());   // the history of those that are told beside them
    // How it wears, by the newest forecast of each pad that is on; a length of ride by the rides themselves.
    const auto wear = answer::pad_wear_of(papers, bike, today);
    for (std::size_t e = 0; e < 2; ++e)
        if (wear[e]) q.own_wear[e] = {wear[e]->left_mm_km, wear[e]->right_mm_km};
    q.learned = answer::learned_share_of(papers, bike, today);
    double km = 0, rides = 0;
    for (const papers::Ride& r : must(papers.rides(bike)))
        if (r.distance_m && (!r.day || *r.day <= today)) km += *r.distance_m / 1000, rides += 1;
    if (rides > 0 && km > 0) q.own_ride_km = km / rides;
}

int run_stop(const StopOptions& o) try {
    const Context ctx = context_of(o.common);
    const Result<parts::Library> library = parts::load_library();
    if (!library) return fail({Errc::internal, library.error().text});
    if (o.cases < 64 || o.cases > 65536 || (o.cases & (o.cases - 1)) != 0) return fail({Errc::wrong_usage, fmt::format("--cases {}: expected a power of two from 64 to 65536", o.cases)});
    answer::StopQuestion q;
    inspect::Verdict held;
    if (o.papers.empty()) {
        const Result<std::string> text = read_file(o.bike);
        if (!text) return fail(text.error());
        Result<parts::Bike> bike = parts::read_bike(*text, o.bike, *library);
        if (!bike) return fail(bike.error());
        q.bike = *std::move(bike);
    } else {
        from_papers(o, *library, q, held);
    }
    q.cases = o.cases;
    struct Word {
        const std::string* text;
        Unit unit;
        const char* name;
    };
    const auto quantity = [&](const Word& w, auto&& take) -> Status {
        if (w.text->empty()) return Done{};
        const Result<double> v = parse_quantity(*w.text, w.unit);
        if (!v) return Error{v.error().code, fmt::format("{}: {}", w.name, v.error().text)};
        take(*v);
        return Done{};
    };
    if (Status s = quantity({&o.from, Unit::speed_mps, "--from"}, [&](double v) { q.from_mps = v; }); !s) return fail(s.error());
    if (Status s = quantity({&o.grade, Unit::fraction, "--grade"}, [&](double v) { q.grade = v; }); !s) return fail(s.error());
    if (Status s = quantity({&o.pads_at, Unit::temperature_degC, "--pads-at"}, [&](double v) { q.pads_at_degC = v; }); !s) return fail(s.error());
    q.grip = o.grip;
    if (!o.surface.empty()) {
        const auto surface = stop::surface_of(o.surface);
        if (!surface) return fail({Errc::wrong_usage, fmt::format("--surface '{}': expected dry, wet, gravel or loose", o.surface)});
        q.surface = *surface;
    }
    if (!o.brakes.empty()) {
        const auto brakes = stop::brakes_of(o.brakes);
        if (!brakes) return fail({Errc::wrong_usage, fmt::format("--brakes '{}': expected both, front or rear", o.brakes)});
        q.brakes = *brakes;
    }
    if (!o.hand.empty()) {
        const std::size_t colon = o.hand.find(':');
        const auto group = stop::hand_group_of(o.hand.substr(0, colon));
        const auto percentile = colon == std::string::npos ? std::optional(50.0) : parse_number(o.hand.substr(colon + 1));
        if (!group || !percentile || !(*percentile >= 0.1 && *percentile <= 99.9))
            return fail({Errc::wrong_usage, fmt::format("--hand '{}': expected women, men, child_7, child_10 or child_13, and after a colon a percentile of 0.1 to 99.9 (women:5)", o.hand)});
        q.bike.rider.hand = stop::hand_of(*library, *group, *percentile);
        q.bike.given.insert({"rider.hand.size_cm", "rider.hand.strength_N"});
    }
    if (!o.hand_is.empty()) {
        const auto state = stop::hand_state_of(o.hand_is);
        if (!state) return fail({Errc::wrong_usage, fmt::format("--hand-is '{}': expected warm, gloves, cold or cold_and_gloves", o.hand_is)});
        q.hand_state = *state;
    }
    if (!o.fingers.empty()) {
        q.fingers = stop::fingers_of(o.fingers);
        if (!q.fingers) return fail({Errc::wrong_usage, fmt::format("--fingers '{}': expected one, two or three", o.fingers)});
    }
    if (Status s = quantity({&o.room, Unit::length_m, "--room"}, [&](double v) { q.room_m = v; }); !s) return fail(s.error());
    if (Status s = quantity({&o.weight_back, Unit::length_mm, "--weight-back"}, [&](double v) { q.weight_back_m = v / 1000; }); !s) return fail(s.error());
    if (Status s = quantity({&o.weight_low, Unit::length_mm, "--weight-low"}, [&](double v) { q.weight_low_m = v / 1000; }); !s) return fail(s.error());
    if (!o.terrain.empty()) {
        bool known = false;
        for (const wear::Terrain t : {wear::Terrain::flat, wear::Terrain::rolling, wear::Terrain::hilly, wear::Terrain::mountain})
            if (o.terrain == wear::word_of(t)) q.terrain = t, known = true;
        if (!known) return fail({Errc::wrong_usage, fmt::format("--terrain '{}': expected flat, rolling, hilly or mountain", o.terrain)});
        q.terrain_told = true;
    }
    q.gritty = o.gritty;
    if (!o.proof.empty()) {
        const Result<std::string> table = read_file(o.proof);
        if (!table) return fail(table.error());
        Result<std::vector<stop::ProofStop>> stops = stop::read_proof_stops(*table, o.proof);
        if (!stops) return fail(stops.error());
        q.proof.insert(q.proof.end(), stops->begin(), stops->end());
    }
    StopsOfRide ridden;
    if (!o.from_ride.empty()) {
        ridden = stops_of_ride(*library, {.ride = o.from_ride, .brake = o.proof_brake, .which = o.proof_stops, .force = o.proof_force, .surface = o.proof_surface, .day = o.proof_day, .surface_option = "--proof-surface", .day_option = "--proof-day"});
        q.proof.insert(q.proof.end(), ridden.taken.begin(), ridden.taken.end());
    }
    Result<answer::StopReport> report = answer::stop_report(ctx, *library, q);
    clear_progress();
    if (!report) return fail(report.error());
    report->recorded = std::move(ridden.found);
    report->recorded_file = std::move(ridden.file);
    if (held.do_not_ride) answer::hold_back(*report, held);
    fmt::print("{}", o.common.json ? answer::json_of(*report, version) : answer::text_of(*report));
    return report->verdict.do_not_ride && o.verdict_status ? 5 : 0;
} catch (const Stop& s) {
    return fail(s.error);
}

int run_stop_figures(const StopFiguresOptions& o) {
    const Context ctx = context_of(o.common);
    const Result<parts::Library> library = parts::load_library();
    if (!library) return fail({Errc::internal, library.error().text});
    if (o.cases < 64 || o.cases > 65536 || (o.cases & (o.cases - 1)) != 0) return fail({Errc::wrong_usage, fmt::format("--cases {}: expected a power of two from 64 to 65536", o.cases)});
    std::error_code ec;
    std::filesystem::create_directories(o.folder, ec);
    if (ec) return fail({Errc::cannot_write, fmt::format("{}: {}", o.folder, ec.message())});
    const Result<std::vector<answer::HeatFigure>> figures = answer::stop_figures(ctx, *library, version, o.cases);
    clear_progress();
    if (!figures) return fail(figures.error());
    nlohmann::ordered_json list = nlohmann::ordered_json::array();
    for (const answer::HeatFigure& f : *figures) {
        const auto file = [&](const char* extension) { return (std::filesystem::path(o.folder) / (f.name + extension)).string(); };
        if (Status s = write_file(file(".csv"), f.csv); !s) return fail(s.error());
        if (Status s = write_file(file(".json"), f.json); !s) return fail(s.error());
        list.push_back({{"figure", f.name}, {"table", f.name + ".csv"}, {"words", f.name + ".json"}});
        if (!o.common.json) fmt::print("{0}.csv, {0}.json\n", f.name);
    }
    if (o.common.json) fmt::print("{}\n", nlohmann::ordered_json{{"schema", "stop-figures/1"}, {"version", version}, {"seed", o.common.seed}, {"cases", o.cases}, {"figures", list}}.dump(2));
    return 0;
}

}  // namespace bw::app
