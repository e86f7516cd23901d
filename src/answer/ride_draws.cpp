// SPDX-License-Identifier: Apache-2.0
// What belongs to one ride only (wind, air, weather), drawn for the anchor cases, and the motion that follows. Layer: answer
#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <numbers>
#include <optional>
#include <string_view>

#include "base/sampling.hpp"
#include "internal.hpp"

namespace bw::answer {

namespace {

// A column each.
enum Stream : std::size_t { air_stream, wet_stream, grit_stream, rolling_stream, spray_stream, streams };

// Standard normals [anchor][stream], a pure function of seed, ride and anchor. Each column is even like those of the likely
// cases, since 64 independent winds would move the medians by percents.
std::vector<double> ride_normals(std::uint64_t seed, std::uint64_t ride_hash) {
    std::vector<double> z(anchor_cases * streams);
    for (std::size_t s = 0; s < streams; ++s) {
        const std::vector<double> column = ride_column(seed, ride_hash, RideColumns::weather, s);
        for (std::size_t i = 0; i < anchor_cases; ++i) z[i * streams + s] = column[i];
    }
    return z;
}

// Of each component of the wind beyond the told head wind, or where nobody told any.
double wind_sd_mps(const parts::Library& library, const RideTags& tags) {
    return tags.wind_mps && !tags.wind_from_deg ? library.value("riding.wind_told_mps") : library.row("riding.wind_mps").value.sd;
}

// What is left of a reported wind where the rider is, without what shelters.   [EQ motion-17]
double open_factor(const parts::Library& library) {
    const double roughness_m = library.value("wind.roughness_m");
    return std::log(library.value("wind.rider_height_m") / roughness_m) / std::log(library.value("wind.report_height_m") / roughness_m);
}

// A wind told as speed and direction, case by case: how much of it reaches the rider, and from where.   [EQ motion-17]
void put_wind_from(const parts::Library& library, const RideTags& tags, std::uint64_t seed, std::uint64_t ride_hash, std::vector<RideUnknowns>& all) {
    const std::vector<double> sheltered = ride_column(seed, ride_hash, RideColumns::wind_from, 0), turned = ride_column(seed, ride_hash, RideColumns::wind_from, 1);
    const Uncertain &shelter = library.row("wind.shelter").value, &direction = library.row("wind.direction_deg").value;
    for (std::size_t i = 0; i < all.size(); ++i) {
        const double speed_mps = *tags.wind_mps * open_factor(library) * shelter.at(sheltered[i]);
        const double from = (*tags.wind_from_deg + direction.value + direction.sd * turned[i]) * std::numbers::pi / 180;
        all[i].motion.wind_from = ride::WindFrom{.east_mps = speed_mps * std::sin(from), .north_mps = speed_mps * std::cos(from)};
    }
}

// What one case says of bike, rider and air on this ride.
RideUnknowns unknowns_of(const parts::Library& library, const RideTags& tags, double recorded_degC, const Case& c, const double* normals) {
    const auto z = [&](Stream stream) { return normals[stream]; };
    RideUnknowns u;
    ride::MotionParameters& p = u.motion;
    const parts::Bike& bike = c.bike;
    p.rotating_kg = bike.wheel_inertia_kgm2.value / (bike.wheel_radius_m.value * bike.wheel_radius_m.value);
    const std::string surface(stop::word_of(tags.surface.value_or(stop::Surface::dry)));
    const balance::Whole whole = balance::whole_of(with_load(bike, tags.load_kg), library.row("surface." + surface + ".rolling_factor").value.at(z(rolling_stream)));
    p.mass_kg = whole.mass_kg;
    p.drag_area_m2 = whole.drag_area_m2;
    p.rolling_resistance = whole.rolling_resistance;
    p.efficiency = std::min(1.0, bike.efficiency.value);
    p.wind_mps = head_wind_mps(tags);
    const Uncertain& untold = library.row("riding.air_degC").value;
    const Uncertain& recorder = library.row("riding.air_recorder_dK").value;
    p.air_degC = tags.air_degC ? *tags.air_degC
                 : std::isfinite(recorded_degC) ? recorded_degC - recorder.value + recorder.sd * z(air_stream)
                                                : untold.value + untold.sd * z(air_stream);
    p.air_degC = std::clamp(p.air_degC, -40.0, 60.0);
    if (tags.weather) {
        static constexpr const char* words[] = {"dry", "damp", "wet", "gritty"};
        const std::string id = std::string("weather.") + words[static_cast<int>(*tags.weather)];
        u.wet_share = std::clamp(library.row(id + ".wet").value.at(z(wet_stream)), 0.0, 1.0);
        u.grit_share = std::clamp(library.row(id + ".grit").value.at(z(grit_stream)), 0.0, 1.0);
        u.spray_share = u.wet_share;
    } else {   // riding in general: the same share on every ride of a case
        u.wet_share = c.untold_wet;
        u.grit_share = c.untold_grit;
        if (tags.surface == stop::Surface::wet) u.spray_share = std::clamp(library.row("weather.wet.wet").value.at(z(wet_stream)), 0.0, 1.0);
    }
    u.spray_phase = normal_cdf(z(spray_stream));
    return u;
}

}  // namespace

std::vector<double> ride_column(std::uint64_t seed, std::uint64_t ride_hash, RideColumns of, std::uint64_t stream) {
    std::vector<double> z = even_column(anchor_cases, mix(seed, ride_hash, static_cast<std::uint64_t>(of), stream));
    for (double& x : z) x = normal_quantile(x);
    return z;
}

std::vector<RideUnknowns> ride_unknowns(const Context& ctx, const parts::Library& library, const RideTags& tags, std::uint64_t ride_hash, double recorded_degC,
                                        std::span<const Case> cases) {
    const std::vector<double> normals = ride_normals(ctx.seed, ride_hash);
    std::vector<RideUnknowns> all;
    for (std::size_t i = 0; i < anchor_cases; ++i) all.push_back(unknowns_of(library, tags, recorded_degC, cases[i], &normals[i * streams]));
    if (tags.wind_from_deg) put_wind_from(library, tags, ctx.seed, ride_hash, all);
    return all;
}

double wind_from_sd_mps(const parts::Library& library, const RideTags& tags) {
    return std::hypot(library.value("riding.wind_told_mps"), library.value("wind.beyond_share") * open_factor(library) * library.value("wind.shelter") * tags.wind_mps.value_or(0));
}

namespace {

constexpr std::string_view wind_taken = "Wind taken as told";

// Mean over the way and the paths of what blows from ahead where the rider is; nothing if no path felt a told wind.
std::optional<double> mean_ahead_mps(const ride::MotionPaths& motion) {
    double sum = 0, way_m = 0;
    for (const ride::MotionPath& p : motion.paths) {
        const bool own = !p.own.distance_m.empty();
        const std::vector<double>&east = own ? p.own.way_east : motion.way_east, &north = own ? p.own.way_north : motion.way_north;
        const std::vector<double>& distance_m = own ? p.own.distance_m : motion.distance_m;
        if (!p.parameters.wind_from || east.empty()) continue;
        for (std::size_t i = 0; i + 1 < std::min(distance_m.size(), east.size()); ++i) {
            const double step_m = distance_m[i + 1] - distance_m[i];
            sum += step_m * ride::blow_of(*p.parameters.wind_from, east[i], north[i]).ahead_mps;
            way_m += step_m;
        }
    }
    if (!(way_m > 0)) return std::nullopt;
    return sum / way_m;
}

}  // namespace

double told_head_wind_mps(const ride::MotionPaths& motion) {
    double told_mps = 0;
    for (const ride::MotionPath& p : motion.paths) told_mps += p.parameters.wind_mps / static_cast<double>(motion.paths.size());
    return told_mps + mean_ahead_mps(motion).value_or(0);
}

void say_wind_taken(const RideTags& tags, ride::MotionPaths& motion) {
    const std::optional<double> ahead_mps = mean_ahead_mps(motion);
    if (!ahead_mps || !tags.wind_mps || !tags.wind_from_deg) return;
    motion.faults.push_back({.kind = ride::FaultKind::other, .count = 1, .seconds = 0,
                             .text = fmt::format("{}: {:g} m/s from {:g} degrees. Where the rider is that was on the mean along the way {:.1f} m/s from {}. A wind told wrong makes brakes look cooler and "
                                                 "lives longer than they are: check its speed, with its unit, and its direction (where it comes from).",
                                                 wind_taken, *tags.wind_mps, *tags.wind_from_deg, std::abs(*ahead_mps), *ahead_mps < 0 ? "behind" : "ahead")});
}

bool wind_was_taken(const RideAnswer& r) {
    return std::any_of(r.faults.begin(), r.faults.end(), [](const ride::Fault& f) { return f.text.starts_with(wind_taken); });
}

bool wind_counts_as_untold(const RideAnswer& r) {
    return std::any_of(r.faults.begin(), r.faults.end(), [](const ride::Fault& f) { return f.text.find("counts as one that nobody told") != std::string::npos; });
}

Result<ride::MotionPaths> motion_of(const Context& ctx, const parts::Library& library, const Request& request, const RideInput& input, std::span<const RideUnknowns> unknowns) {
    std::vector<ride::MotionParameters> draws;
    std::vector<std::size_t> keys;
    for (const RideUnknowns& u : unknowns) {
        draws.push_back(u.motion);
        keys.push_back(keys.size());
    }
    Result<ride::MotionPaths> motion = ride::reconstruct(ctx, input.track, {.altitude = request.altitude, .e_assist = request.bike.e_assist, .wind_sd_mps = wind_sd_mps(library, input.tags), .wind_from_sd_mps = wind_from_sd_mps(library, input.tags), .slow_share = library.value("recording.slow_share")}, draws, keys);
    if (motion) say_wind_taken(input.tags, *motion);
    return motion;
}

double median_of(std::vector<double> values) {
    std::erase_if(values, [](double v) { return !std::isfinite(v); });
    return values.empty() ? std::nan("") : quantile(values, 0.5);
}

}  // namespace bw::answer
