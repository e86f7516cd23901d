// SPDX-License-Identifier: Apache-2.0
// Proof stops out of a recorded ride, for `stop` and `papers add proof`.                                  Layer: app
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

StopsOfRide stops_of_ride(const parts::Library& library, const FromRide& told) {
    const ride::Track track = must(ride::read_ride(must(read_file(told.ride)), told.ride));
    const stop::ProofTerms terms = stop::proof_terms(library);
    StopsOfRide out{.file = track.file, .found = stop::recorded_stops(track, terms), .taken = {}};
    if (told.brake.empty() && told.which.empty()) return out;
    const auto brake = stop::brakes_of(told.brake);
    if (!brake || *brake == stop::Brakes::both) stop(Errc::wrong_usage, "no recording says which brake was pulled: tell the one that was pulled alone, front or rear");
    if (told.which.empty()) stop(Errc::wrong_usage, "tell which of the recording's stops were braked with that brake alone: all, or their numbers as 1,3,4. Without any they are only listed");
    std::vector<std::size_t> chosen;
    if (told.which == "all") {
        for (std::size_t i = 0; i < out.found.size(); ++i)
            if (out.found[i].usable) chosen.push_back(i);
    } else {
        for (const std::string& word : parts_of(told.which)) {
            const auto n = parse_number(trim(word));
            if (!n || *n != std::floor(*n) || *n < 1 || *n > static_cast<double>(out.found.size()))
                stop(Errc::wrong_usage, fmt::format("stop '{}': expected all, or numbers of 1 to {} as the list of this recording has them", word, out.found.size()));
            const std::size_t i = static_cast<std::size_t>(*n) - 1;
            if (!out.found[i].usable) stop(Errc::bad_input, fmt::format("{}: stop {} cannot stand as a proof stop. {}", told.ride, i + 1, out.found[i].why_not));
            chosen.push_back(i);
        }
    }
    if (chosen.empty()) stop(Errc::bad_input, fmt::format("{}: no stop of this recording can stand as a proof stop; without telling the brake they are listed with the reasons", told.ride));
    std::vector<double> forces;
    if (!told.force.empty())
        for (const std::string& word : parts_of(told.force)) {
            const Result<double> force = parse_quantity(std::string(trim(word)), Unit::force_N);
            if (!force) stop(force.error().code, fmt::format("squeeze: {}", force.error().text));
            if (!(*force >= 1 && *force <= 500)) stop(Errc::bad_input, fmt::format("squeeze of {} N: expected 1 to 500 N", *force));
            forces.push_back(*force);
        }
    if (told.which == "all" && forces.size() > 1 && forces.size() == out.found.size()) {   // one for each of the list, those left out too
        std::vector<double> of_chosen;
        for (const std::size_t i : chosen) of_chosen.push_back(forces[i]);
        forces = std::move(of_chosen);
    }
    if (forces.size() > 1 && forces.size() != chosen.size()) stop(Errc::wrong_usage, fmt::format("{} squeezes for {} stops: tell one for all of them, or one for each; with all also one for each stop of the list", forces.size(), chosen.size()));
    std::optional<stop::Surface> surface = stop::Surface::dry;
    if (!told.surface.empty()) surface = stop::surface_of(told.surface);
    if (!surface) stop(Errc::wrong_usage, fmt::format("surface '{}': expected dry, wet, gravel or loose", told.surface));
    std::optional<long> day;
    if (!told.day.empty()) day = parse_day(told.day);
    else if (track.start_unix_s) day = static_cast<long>(std::floor(*track.start_unix_s / 86400));
    if (!day) stop(Errc::bad_input, fmt::format("{}: the recording states no date: tell the day, YYYY-MM-DD", told.ride));
    for (std::size_t k = 0; k < chosen.size(); ++k)
        out.taken.push_back(stop::proof_stop_of(out.found[chosen[k]], terms, chosen.size(), *day, fmt::format("{} {}", track.file, chosen[k] + 1), *brake, forces.empty() ? std::nullopt : std::optional(forces.size() == chosen.size() ? forces[k] : forces[0]), *surface));
    return out;
}

}  // namespace bw::app
