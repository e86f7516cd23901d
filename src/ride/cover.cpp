// SPDX-License-Identifier: Apache-2.0
// How much of a ride its altitude covers.                                                                    Layer: ride
// Theory: docs/models/motion.md [EQ motion-16].
#include "ride/cover.hpp"

#include <algorithm>
#include <cmath>
#include <limits>
#include <utility>
#include <vector>

namespace bw::ride {

namespace {

constexpr double reach_m = 100;      // beyond a known height; a hill of any account is longer
constexpr double bridged_m = 1000;   // between two known heights: what a hill between them can hide is a few tens of metres

struct Point {
    double at_m;
    bool known;
};

//! Stretches [from, to] of the way without known altitude.   [EQ motion-16]
std::vector<std::pair<double, double>> unknown_stretches(const std::vector<Point>& points, double length_m) {
    std::vector<std::pair<double, double>> out;
    const auto add = [&](double from, double to) {
        if (to > from) out.emplace_back(from, to);
    };
    double last = std::numeric_limits<double>::quiet_NaN();
    bool passed = false;   // a record without altitude since the last known one
    for (const Point& p : points) {
        if (!p.known) {
            passed = true;
            continue;
        }
        if (std::isnan(last)) add(0, p.at_m - reach_m);
        else if (passed && p.at_m - last > bridged_m) add(last + reach_m, p.at_m - reach_m);
        last = p.at_m;
        passed = false;
    }
    if (std::isnan(last)) add(0, length_m);
    else add(last + reach_m, length_m);
    return out;
}

}  // namespace

AltitudeCover altitude_cover(const Track& track, const MotionPaths& motion) {
    const std::size_t n = motion.size();
    if (n == 0) return {};
    const bool any = track.altitude_m.size() == track.size() && motion.altitude_source != AltitudeSource::none;
    std::vector<Point> points;
    for (std::size_t k = 0; k < track.size(); ++k) {
        const auto second = static_cast<std::size_t>(std::clamp(std::floor(track.t_s[k] - track.t_s.front() + 0.5), 0.0, static_cast<double>(n - 1)));
        points.push_back({motion.distance_m[second], any && std::isfinite(track.altitude_m[k])});
    }
    const auto stretches = unknown_stretches(points, motion.distance_m.back());
    AltitudeCover out;
    for (const auto& [from, to] : stretches) out.unknown_m += to - from;
    double moving = 0, without = 0;
    auto next = stretches.begin();
    for (std::size_t i = 0; i + 1 < n; ++i) {
        if (motion.paused[i] || !(motion.distance_m[i + 1] > motion.distance_m[i])) continue;
        const double at = 0.5 * (motion.distance_m[i] + motion.distance_m[i + 1]);
        while (next != stretches.end() && next->second < at) ++next;
        moving += 1;
        without += next != stretches.end() && at >= next->first ? 1 : 0;
    }
    if (moving > 0) out.share = 1 - without / moving;
    else if (!any) out.share = 0;
    return out;
}

AltitudeCover altitude_cover(const Route& route) {
    std::vector<Point> points;
    const bool any = route.altitude_m.size() == route.size();
    for (std::size_t k = 0; k < route.size(); ++k) points.push_back({route.distance_m[k], any && std::isfinite(route.altitude_m[k])});
    AltitudeCover out;
    if (route.size() < 2) return out;
    const double length_m = route.distance_m.back();
    for (const auto& [from, to] : unknown_stretches(points, length_m)) out.unknown_m += to - from;
    out.share = length_m > 0 ? std::clamp(1 - out.unknown_m / length_m, 0.0, 1.0) : 0;
    return out;
}

}  // namespace bw::ride
