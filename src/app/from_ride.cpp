// SPDX-License-Identifier: Apache-2.0
// Proof stops out of a recorded ride, for `stop`, `papers add proof` and the page.                        Layer: app
#include "from_ride.hpp"

#include <fmt/format.h>

#include <cmath>

#include "base/text.hpp"
#include "base/time.hpp"
#include "verb_papers.hpp"

namespace bw::app {

namespace {

std::vector<std::string> parts_of(const std::string& list) {
    std::vector<std::string> out(1);
    for (const char c : list)
        if (c == ',') out.emplace_back();
        else out.back() += c;
    return out;
}

}  // namespace

StopsOfRide stops_of_track(const parts::Library& library, const ride::Track& track) {
    return {.file = track.file, .start_unix_s = track.start_unix_s, .found = stop::recorded_stops(track, stop::proof_terms(library)), .taken = {}};
}

std::optional<long> day_of_stop(const StopsOfRide& ride, std::size_t index) {
    if (!ride.start_unix_s) return std::nullopt;
    constexpr double rest_s = 6 * 3600;   // a night, or at least another trial
    std::size_t first = index;
    while (first > 0 && ride.found[first].start_s - ride.found[first - 1].start_s < rest_s) --first;
    return static_cast<long>(std::floor((*ride.start_unix_s + ride.found[first].start_s) / 86400));
}

void take_stops(StopsOfRide& ride, stop::Brakes brake, const std::vector<TakenStop>& chosen, const std::string& told_day) {
    if (brake == stop::Brakes::both) stop(Errc::wrong_usage, "no recording says which brake was pulled: tell the one that was pulled alone, front or rear");
    std::optional<long> day;
    if (!told_day.empty() && !(day = parse_day(told_day))) stop(Errc::wrong_usage, fmt::format("day '{}': expected a day as 2026-05-01", told_day));
    if (!day && !ride.start_unix_s) stop(Errc::bad_input, fmt::format("{}: the recording states no date: tell the day, YYYY-MM-DD", ride.file));
    std::vector<stop::ProofStop> taken;
    for (const TakenStop& t : chosen) {
        if (t.number < 1 || t.number > ride.found.size()) stop(Errc::bad_input, fmt::format("stop {}: expected a number of 1 to {} as the list of this recording has them", t.number, ride.found.size()));
        const stop::RecordedStop& r = ride.found[t.number - 1];
        if (!r.usable) stop(Errc::bad_input, fmt::format("{}: stop {} cannot stand as a proof stop. {}", ride.file, t.number, r.why_not));
        if (t.lever_force_N && !(*t.lever_force_N >= 1 && *t.lever_force_N <= 500)) stop(Errc::bad_input, fmt::format("squeeze of {} N: expected 1 to 500 N", *t.lever_force_N));
        taken.push_back(stop::proof_stop_of(r, day ? *day : *day_of_stop(ride, t.number - 1), fmt::format("{} {}", ride.file, t.number), brake, t.lever_force_N, t.surface));
    }
    ride.taken = std::move(taken);
}

StopsOfRide stops_of_ride(const parts::Library& library, const FromRide& told) {
    StopsOfRide out = stops_of_track(library, must(ride::read_ride(must(read_file(told.ride)), told.ride)));
    if (told.brake.empty() && told.which.empty()) return out;
    const auto brake = stop::brakes_of(told.brake);
    if (!brake || *brake == stop::Brakes::both) stop(Errc::wrong_usage, "no recording says which brake was pulled: tell the one that was pulled alone, front or rear");
    if (told.which.empty()) stop(Errc::wrong_usage, "tell which of the recording's stops were braked with that brake alone: all, or their numbers as 1,3,4. Without any they are only listed");
    std::vector<TakenStop> chosen;
    if (told.which == "all") {
        for (std::size_t i = 0; i < out.found.size(); ++i)
            if (out.found[i].usable) chosen.push_back({.number = i + 1, .lever_force_N = {}});
    } else {
        for (const std::string& word : parts_of(told.which)) {
            const auto n = parse_number(trim(word));
            if (!n || *n != std::floor(*n) || *n < 1 || *n > static_cast<double>(out.found.size()))
                stop(Errc::wrong_usage, fmt::format("stop '{}': expected all, or numbers of 1 to {} as the list of this recording has them", word, out.found.size()));
            chosen.push_back({.number = static_cast<std::size_t>(*n), .lever_force_N = {}});
        }
    }
    if (chosen.empty()) stop(Errc::bad_input, fmt::format("{}: no stop of this recording can stand as a proof stop; without telling the brake they are listed with the reasons", told.ride));
    // One for all of the chosen ones, or one for each; with all also one for each of the list, those left out too.
    const auto each = [&](const std::string& list, const char* what, const auto& take) {
        if (list.empty()) return;
        std::vector<std::string> words = parts_of(list);
        const bool of_list = told.which == "all" && words.size() > 1 && words.size() == out.found.size();
        if (words.size() > 1 && !of_list && words.size() != chosen.size()) stop(Errc::wrong_usage, fmt::format("{} {} for {} stops: tell one for all of them, or one for each; with all also one for each stop of the list", words.size(), what, chosen.size()));
        for (std::size_t k = 0; k < chosen.size(); ++k) take(chosen[k], std::string(trim(words.size() == 1 ? words[0] : words[of_list ? chosen[k].number - 1 : k])));
    };
    each(told.force, "squeezes", [](TakenStop& t, const std::string& word) {
        const Result<double> force = parse_quantity(word, Unit::force_N);
        if (!force) stop(force.error().code, fmt::format("squeeze: {}", force.error().text));
        t.lever_force_N = *force;
    });
    if (told.surface.empty()) stop(Errc::wrong_usage, fmt::format("on which surface were these stops? {0} dry, wet, gravel or loose, one for all of them or one for each ({0} dry,wet): no recording says it, and a wet brake taken for a dry one would raise an alarm", told.surface_option));
    each(told.surface, "surfaces", [](TakenStop& t, const std::string& word) {
        const auto surface = stop::surface_of(word);
        if (!surface) stop(Errc::wrong_usage, fmt::format("surface '{}': expected dry, wet, gravel or loose", word));
        t.surface = *surface;
    });
    if (told.day.empty() && !out.start_unix_s) stop(Errc::bad_input, fmt::format("{}: the recording states no date: tell the day with {} YYYY-MM-DD", told.ride, told.day_option));
    take_stops(out, *brake, chosen, told.day);
    return out;
}

}  // namespace bw::app
