// SPDX-License-Identifier: Apache-2.0
// For the fuzzers: what must hold of whatever a reader makes of any bytes. A breach prints itself and ends the program.
#pragma once
#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <cstdint>
#include <cstdio>
#include <cstdlib>
#include <string>
#include <string_view>
#include <variant>
#include <vector>

#include "../../src/ride/readers.hpp"
#include "ride/describe.hpp"
#include "fuzz.hpp"
#include "ride/route.hpp"

namespace bw::fuzz {

struct Outcomes {
    std::size_t tracks = 0, ways = 0, errors = 0;
};
inline Outcomes outcomes;

struct Limits {
    const char* name;
    double low, high;
};

//! Empty, or n values that are not known or within the limits of docs/formats-rides.md, not all unknown.
inline void channel(const std::vector<double>& v, std::size_t n, Limits limits) {
    if (v.empty()) return;
    if (v.size() != n) breach(fmt::format("{} has {} values, not {}", limits.name, v.size(), n));
    bool any = false;
    for (const double x : v) {
        if (std::isnan(x)) continue;
        any = true;
        if (!(x >= limits.low && x <= limits.high)) breach(fmt::format("{} is {}", limits.name, x));
    }
    if (!any) breach(fmt::format("{} holds nothing and is not empty", limits.name));
}

inline void faults(const std::vector<ride::Fault>& all) {
    for (const auto& f : all)
        if (f.count < 1 || f.text.empty() || f.text.back() != '.' || !(f.seconds >= 0) || !std::isfinite(f.seconds) || ride::word_of(f.kind).empty())
            breach("a fault without a count or a sentence: " + f.text);
}

inline void track(const ride::Track& t) {
    ++outcomes.tracks;
    const std::size_t n = t.size();
    if (n < 2) breach("fewer than two records");
    if (t.t_s[0] != 0) breach("the first time is not 0");
    for (std::size_t i = 1; i < n; ++i)
        if (!(t.t_s[i] > t.t_s[i - 1])) breach(fmt::format("time does not rise at {}", i));
    if (!(t.t_s.back() <= 14 * 86400.0)) breach("longer than two weeks");
    if (t.start_unix_s && !(std::abs(*t.start_unix_s) <= 1e11)) breach("no date");
    channel(t.latitude_deg, n, {"latitude", -90, 90});
    channel(t.longitude_deg, n, {"longitude", -180, 180});
    channel(t.altitude_m, n, {"altitude", -500, 9000});
    channel(t.distance_m, n, {"distance", 0, 1e12});
    channel(t.speed_mps, n, {"speed", 0, 150});
    channel(t.power_W, n, {"power", 0, 5000});
    channel(t.temperature_degC, n, {"temperature", -60, 80});
    channel(t.cadence_rpm, n, {"cadence", 0, 250});
    if (t.latitude_deg.size() != t.longitude_deg.size()) breach("half a position");
    for (std::size_t i = 0; i < t.latitude_deg.size(); ++i)
        if (std::isnan(t.latitude_deg[i]) != std::isnan(t.longitude_deg[i])) breach("half a position in a record");
    double reached = 0;
    for (const double d : t.distance_m) {
        if (d < reached) breach("distance falls");
        if (!std::isnan(d)) reached = d;
    }
    if (t.break_before.size() != n || t.break_before[0] != 0) breach("break_before");
    for (const auto b : t.break_before)
        if (b > 1) breach("break_before is not 0 or 1");
    faults(t.faults);
    double until = 0;
    for (const auto& s : ride::stretches_of(t)) {
        if (s.from_s < until || !(s.to_s > s.from_s) || s.to_s > t.t_s.back()) breach("stretches overlap or leave the ride");
        until = s.to_s;
    }
}

inline void route(const ride::Route& r) {
    ++outcomes.ways;
    const std::size_t n = r.size();
    if (n < 2) breach("fewer than two points");
    if (r.distance_m[0] != 0) breach("a way does not start at 0");
    for (std::size_t i = 1; i < n; ++i)
        if (!(r.distance_m[i] > r.distance_m[i - 1])) breach(fmt::format("distance of a way does not rise at {}", i));
    channel(r.distance_m, n, {"distance", 0, 5e6});
    channel(r.latitude_deg, n, {"latitude", -90, 90});
    channel(r.longitude_deg, n, {"longitude", -180, 180});
    channel(r.altitude_m, n, {"altitude", -500, 9000});
    for (std::size_t i = 0; i < r.latitude_deg.size(); ++i)
        if (std::isnan(r.latitude_deg[i]) != std::isnan(r.longitude_deg[i])) breach("half a position in a point");
    faults(r.faults);
}

inline void error(const Error& e) {
    ++outcomes.errors;
    if (e.text.empty() || e.text.back() != '.' || e.code != Errc::bad_input) breach("an error without a sentence, or a fault of ours: " + e.text);
    for (const char c : e.text)
        if (static_cast<unsigned char>(c) < ' ') breach("a control character in an error");
}

//! What one reader made of the bytes, through the cleaning.
inline void reading(Result<ride::readers::Reading> r) {
    if (!r) return error(r.error());
    if (r->records.size() >= 2) {
        auto t = ride::readers::track_of(*std::move(r), 1, "fuzz");
        if (!t) return error(t.error());
        return track(*t);
    }
    if (r->way.size() < 2 || r->no_ride.empty()) breach("neither a ride nor a way nor an error");
    auto way = ride::readers::route_of(*std::move(r), 1, "fuzz");
    if (!way) return error(way.error());
    route(*way);
}

//! The whole walk, from telling the format on; read_ride and read_recording must agree.
inline void recording(std::string_view bytes) {
    const auto r = ride::read_recording(bytes, "fuzz");
    const auto ride = ride::read_ride(bytes, "fuzz");
    if (!ride) error(ride.error());
    if (!r) {
        error(r.error());
        if (ride) breach("read_ride reads what read_recording does not");
    } else if (const auto* t = std::get_if<ride::Track>(&*r)) {
        track(*t);
        if (!ride || ride->t_s != t->t_s || ride->content_hash != t->content_hash) breach("read_ride and read_recording differ");
    } else {
        route(std::get<ride::Route>(*r));
    }
}

}  // namespace bw::fuzz

// Once in a program: each has one entry.
std::size_t fuzz_mutations() { return 20000; }
// Mutated files are mostly read, some are not; anything else means that the seeds or the readers are not what they were.
std::vector<bw::fuzz::Count> fuzz_counts() {
    const auto& o = bw::fuzz::outcomes;
    return {{"rides", o.tracks, 0.1}, {"ways", o.ways, 0.05}, {"errors", o.errors, 0.01}};
}
