// SPDX-License-Identifier: Apache-2.0
// What belongs to one ride only (wind, air, weather), drawn for the anchor cases, and the motion that follows. Layer: answer
#include <algorithm>
#include <cmath>

#include "base/sampling.hpp"
#include "internal.hpp"

namespace bw::answer {

namespace {

// A column each.
enum Stream : std::size_t { air_stream, wet_stream, grit_stream, rolling_stream, spray_stream, streams };

// Standard normals [anchor][stream], a pure function of seed, ride and anchor. Even in each column like the likely cases
// themselves (Sobol), since 64 independent winds would move the medians by percents; from dimensions that no input of the
// bike uses, so that wind and mass stay unrelated.
std::vector<double> ride_normals(std::uint64_t seed, std::uint64_t ride_hash) {
    constexpr std::size_t first = 400;
    const std::vector<double> u = shifted_sobol(anchor_cases, first + streams, mix(seed, ride_hash, 0, 0));
    std::vector<double> z(anchor_cases * streams);
    for (std::size_t i = 0; i < anchor_cases; ++i)
        for (std::size_t s = 0; s < streams; ++s) z[i * streams + s] = normal_quantile(u[i * (first + streams) + first + s]);
    return z;
}

// Of each component of the wind beyond the told one.
double wind_sd_mps(const parts::Library& library, const RideTags& tags) {
    return tags.wind_mps ? library.value("riding.wind_told_mps") : library.row("riding.wind_mps").value.sd;
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
    p.wind_mps = tags.wind_mps.value_or(0.0);
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

std::vector<RideUnknowns> ride_unknowns(const Context& ctx, const parts::Library& library, const RideTags& tags, std::uint64_t ride_hash, double recorded_degC,
                                        std::span<const Case> cases) {
    const std::vector<double> normals = ride_normals(ctx.seed, ride_hash);
    std::vector<RideUnknowns> all;
    for (std::size_t i = 0; i < anchor_cases; ++i) all.push_back(unknowns_of(library, tags, recorded_degC, cases[i], &normals[i * streams]));
    return all;
}

Result<ride::MotionPaths> motion_of(const Context& ctx, const parts::Library& library, const Request& request, const RideInput& input, std::span<const RideUnknowns> unknowns) {
    std::vector<ride::MotionParameters> draws;
    std::vector<std::size_t> keys;
    for (const RideUnknowns& u : unknowns) {
        draws.push_back(u.motion);
        keys.push_back(keys.size());
    }
    return ride::reconstruct(ctx, input.track, {.altitude = request.altitude, .e_assist = request.bike.e_assist, .wind_sd_mps = wind_sd_mps(library, input.tags)}, draws, keys);
}

double median_of(std::vector<double> values) {
    std::erase_if(values, [](double v) { return !std::isfinite(v); });
    return values.empty() ? std::nan("") : quantile(values, 0.5);
}

}  // namespace bw::answer
