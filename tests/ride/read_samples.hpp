// SPDX-License-Identifier: Apache-2.0
// For the tests of reading: sample files, a made ride and what every track must hold.
#pragma once
#include <fmt/format.h>
#include <gtest/gtest.h>

#include <cmath>
#include <numbers>
#include <string>
#include <vector>

#include "bw_paths.hpp"
#include "base/text.hpp"
#include "base/time.hpp"
#include "ride/describe.hpp"
#include "ride/track.hpp"

namespace bw::ride::samples {

inline std::string sample(const std::string& file) {
    const auto bytes = read_file(std::string(BW_ROOT) + "/tests/ride/data/" + file);
    EXPECT_TRUE(bytes) << file;
    return bytes ? *bytes : std::string();
}

//! A ride that nobody rode: northwards from 46.5 N at 5 to 9 m/s, 5 km down at 6 %, 5 km up, and again; a record a step.
struct MadeRecord {
    double t_s, latitude_deg, longitude_deg, altitude_m, distance_m, speed_mps;
};
inline std::vector<MadeRecord> made_ride(std::size_t n, double step_s = 1) {
    std::vector<MadeRecord> ride;
    double d = 0;
    for (std::size_t i = 0; i < n; ++i) {
        const double t = step_s * static_cast<double>(i), v = 7 + 2 * std::sin(2 * std::numbers::pi * t / 120);
        ride.push_back({t, 46.5 + d / 111170, 8.5 + 1e-6 * static_cast<double>(i % 3), 1200 + 0.06 * std::abs(std::fmod(d, 10000) - 5000), d, v});
        d += v * step_s;
    }
    return ride;
}

inline std::string as_csv(const std::vector<MadeRecord>& ride) {
    std::string out = "t_s,latitude_deg,longitude_deg,altitude_m,distance_m,speed_mps\n";
    for (const auto& r : ride)
        out += fmt::format("{},{:.7f},{:.7f},{:.2f},{:.2f},{:.3f}\n", r.t_s, r.latitude_deg, r.longitude_deg, r.altitude_m, r.distance_m, r.speed_mps);
    return out;
}

inline std::string stamp(double t_s) {
    const double unix_s = 1777627800 + t_s;   // 2026-05-01T09:30:00Z
    return fmt::format("{}.{:03d}Z", format_time(unix_s).substr(0, 19), static_cast<int>(std::lround((unix_s - std::floor(unix_s)) * 1000)) % 1000);
}

inline std::string gpx_point(const MadeRecord& r) {
    return fmt::format("<trkpt lat=\"{:.7f}\" lon=\"{:.7f}\"><ele>{:.2f}</ele><time>{}</time></trkpt>\n", r.latitude_deg, r.longitude_deg, r.altitude_m, stamp(r.t_s));
}
inline const std::string gpx_head = "<?xml version=\"1.0\"?>\n<gpx version=\"1.1\" creator=\"invented\" xmlns=\"http://www.topografix.com/GPX/1/1\"><trk><trkseg>\n";
inline const std::string gpx_tail = "</trkseg></trk></gpx>\n";
inline std::string as_gpx(const std::vector<MadeRecord>& ride) {
    std::string out = gpx_head;
    for (const auto& r : ride) out += gpx_point(r);
    return out + gpx_tail;
}

//! The ride, or a failed test with the error's text.
inline Track read(const std::string& bytes, const std::string& name = "made") {
    auto r = read_ride(bytes, name);
    EXPECT_TRUE(r) << (r ? "" : r.error().text);
    return r ? std::move(*r) : Track{};
}

inline std::string error_of(const std::string& bytes, const std::string& name = "made") {
    const auto r = read_ride(bytes, name);
    EXPECT_FALSE(r) << "read although it should not be";
    if (r) return {};
    EXPECT_EQ(r.error().code, Errc::bad_input);
    return r.error().text;
}

inline const Fault* fault_of(const Track& t, FaultKind kind) {
    for (const auto& f : t.faults)
        if (f.kind == kind) return &f;
    return nullptr;
}
inline int count_of(const Track& t, FaultKind kind) {
    int n = 0;
    for (const auto& f : t.faults)
        if (f.kind == kind) n += f.count;
    return n;
}
inline std::string faults_text(const Track& t) {
    std::string out;
    for (const auto& f : t.faults) out += fmt::format("[{}] {}: {}\n", word_of(f.kind), f.count, f.text);
    return out;
}

//! What track.hpp promises of every track; empty, or the first promise that is broken.
inline std::string broken_promise(const Track& t) {
    const std::size_t n = t.size();
    if (n < 2) return "fewer than two records";
    if (t.t_s[0] != 0) return "the first time is not 0";
    for (std::size_t i = 1; i < n; ++i)
        if (!(t.t_s[i] > t.t_s[i - 1])) return fmt::format("time does not rise at {}", i);
    if (!(t.t_s.back() <= 14 * 86400.0)) return "longer than two weeks";
    for (const auto* c : {&t.latitude_deg, &t.longitude_deg, &t.altitude_m, &t.distance_m, &t.speed_mps, &t.power_W, &t.temperature_degC}) {
        if (c->empty()) continue;
        if (c->size() != n) return "a channel of another length";
        bool any = false;
        for (const double v : *c) {
            if (std::isinf(v)) return "an infinite value";
            any = any || !std::isnan(v);
        }
        if (!any) return "a channel without a value is not empty";
    }
    if (t.break_before.size() != n || t.break_before[0] != 0) return "break_before";
    if (t.latitude_deg.empty() != t.longitude_deg.empty()) return "half a position";
    double reached = -1;
    for (const double d : t.distance_m)
        if (!std::isnan(d)) {
            if (d < reached - 1e-6) return "distance falls";
            reached = d;
        }
    for (std::size_t i = 0; i < t.latitude_deg.size(); ++i) {
        if (std::isnan(t.latitude_deg[i]) != std::isnan(t.longitude_deg[i])) return "half a position in a record";
        if (std::abs(t.latitude_deg[i]) > 90 || std::abs(t.longitude_deg[i]) > 180) return "a position off the globe";
    }
    for (const auto& f : t.faults)
        if (f.count < 1 || f.text.empty() || f.text.back() != '.' || !(f.seconds >= 0)) return "a fault without a count or a sentence: " + f.text;
    double until = 0;
    for (const auto& s : stretches_of(t)) {
        if (s.from_s < until || !(s.to_s > s.from_s) || s.to_s > t.t_s.back()) return "stretches overlap or leave the ride";
        until = s.to_s;
    }
    return {};
}

}  // namespace bw::ride::samples
