// SPDX-License-Identifier: Apache-2.0
// Joins rides of the generator into one long recording.                                                  Layer: bench
#include "long_ride.hpp"

#include <algorithm>
#include <array>
#include <string_view>
#include <utility>

#include "plans.hpp"

namespace bw::bench {

LongRide long_ride(std::size_t seconds) {
    // No kind with a motor; seeds that no set of tests/simulated/plan.csv uses.
    constexpr std::array<std::string_view, 5> grounds = {"long_drag", "rolling", "city", "late_hard", "trail"};
    LongRide out;
    out.bike = rides::typical("gravel");
    out.sensors = {.altitude = rides::Altitude::barometric, .speed = true, .power = true, .temperature = true, .distance = true};
    std::vector<rides::Record>& all = out.recording.records;
    for (std::uint64_t seed = 8001; all.size() < seconds; ++seed) {
        rides::Plan plan = *rides::study_plan(grounds[(seed - 8001) % grounds.size()], seed);
        plan.machine = out.bike;
        plan.draw_parameters = false;
        plan.back_again = true;   // so that any number of them stay between valley and pass
        plan.base_altitude_m = 1500;
        plan.air_degC = 16;
        plan.start = "2025-06-01T05:00:00Z";
        rides::Ride ride = rides::simulate(plan, seed);
        if (!ride.arrived) continue;   // a hill too steep for this bike
        const rides::Recording part = rides::record(ride, out.sensors);
        // Each goes on where the one before ended: sensors do not jump because a new stretch begins.
        rides::Record shift{};
        if (!all.empty()) {
            const rides::Record &last = all.back(), &first = part.records.front();
            shift = {.t_s = last.t_s + 1, .latitude_deg = last.latitude_deg - first.latitude_deg, .longitude_deg = last.longitude_deg - first.longitude_deg,
                     .altitude_m = last.altitude_m - first.altitude_m, .speed_mps = 0, .power_W = 0, .temperature_degC = 0, .distance_m = last.distance_m};
        }
        for (rides::Record r : part.records) {
            if (all.size() == seconds) break;
            const std::size_t state = static_cast<std::size_t>(r.t_s) * rides::steps_per_s;
            double brakes_J = 0;
            for (std::size_t i = state; i < std::min(ride.states.size(), state + rides::steps_per_s); ++i) brakes_J += ride.states[i].brake_J;
            r.t_s += shift.t_s;
            r.latitude_deg += shift.latitude_deg;
            r.longitude_deg += shift.longitude_deg;
            r.altitude_m += shift.altitude_m;
            r.distance_m += shift.distance_m;
            all.push_back(r);
            out.brake_J.push_back(brakes_J);
        }
        if (out.first.states.empty()) out.first = std::move(ride);
    }
    return out;
}

std::string file_of(const LongRide& ride, rides::Format format, std::size_t from_s, std::size_t to_s) {
    rides::Recording cut;
    for (std::size_t i = from_s; i < to_s; ++i) cut.records.push_back(ride.recording.records[i]);
    rides::Sensors sensors;
    if (format == rides::Format::fit) sensors = ride.sensors;
    sensors.format = format;
    return rides::file_of(ride.first, sensors, cut);
}

double brakes_J(const LongRide& ride, std::size_t from_s, std::size_t to_s) {
    double sum = 0;
    for (std::size_t i = from_s; i + 1 < to_s; ++i) sum += ride.brake_J[i];
    return sum;
}

}  // namespace bw::bench
