// SPDX-License-Identifier: Apache-2.0
// Planned routes: habits of the likely cases, then the way that every ride goes.                        Layer: answer
// Theory: docs/models/planned.md.
#include <fmt/format.h>

#include <algorithm>
#include <cmath>

#include "base/sampling.hpp"
#include "internal.hpp"

namespace bw::answer {

namespace {

// What belongs to one outing only, beside what ride_unknowns draws.
enum Stream : std::size_t { wind_stream, stops_stream, streams };

constexpr const char* wind_without_direction =
    "The wind was told with its direction, and this way has no positions, or has none for a stretch of more than a tenth of it or 1 km: where it leads is not known, so the wind counts as one that nobody told. If you know the mean head wind along the way, tell that.";

// A wind with a direction is of use where the way has one.
RideTags tags_along(const PlannedInput& input) {
    RideTags tags = input.tags;
    if (tags.wind_from_deg && !ride::has_direction(input.route)) {
        tags.wind_mps.reset();
        tags.wind_from_deg.reset();
    }
    return tags;
}

// --altitude none: the way as one without heights.
bool left_aside(const Request& request, const PlannedInput& input) { return request.altitude == ride::AltitudeSource::none && !input.route.altitude_m.empty(); }
ride::Route level(ride::Route route) {
    route.altitude_m.clear();
    return route;
}

}  // namespace

std::vector<Input> plan_inputs(const parts::Library& library, const parts::Bike& bike) {
    std::vector<Input> list;
    for (const char* name : {"top_mps", "lateral_mps2", "pedal_W", "stops_per_km"})
        list.push_back(library.input(fmt::format("plan.{}.{}", parts::word_of(bike.kind), name), fmt::format("plan.{}", name)));
    for (const char* name : {"braking_mps2", "swing", "coast_mps2", "halt_s", "motor_W"}) list.push_back(library.input(fmt::format("plan.{}", name), fmt::format("plan.{}", name)));
    return list;
}

std::vector<ride::Application> planned_applications(const ride::MotionPaths& paths) {
    ride::MotionPaths one;
    one.speed_mps = paths.speed_mps;
    one.paths.push_back(paths.paths[ride::plan_middle(paths)]);
    return ride::applications_of(one);
}

Result<ride::MotionPaths> planned_motion(const Context& ctx, const parts::Library& library, const Request& request, const PlannedInput& input, const Cases& drawn, std::span<const Case> cases,
                                         std::vector<RideUnknowns>& unknowns) {
    const ride::Style style = input.style.value_or(ride::Style::dragging);
    const double braking_factor = library.value(fmt::format("plan.style.{}.braking_factor", ride::word_of(style)));
    const RideTags tags = tags_along(input);
    unknowns = ride_unknowns(ctx, library, tags, input.route.content_hash, std::nan(""), cases);
    const auto column = [&](RideColumns of, std::uint64_t stream) { return ride_column(ctx.seed, input.route.content_hash, of, stream); };
    std::vector<std::vector<double>> normals;
    for (std::size_t s = 0; s < streams; ++s) normals.push_back(column(RideColumns::plan, s));
    const Uncertain& wind = library.row("riding.wind_mps").value;
    // A told wind strays from the drawn one in both components, by as much as the filter of a recorded ride lets it.
    const std::vector<double> east = column(RideColumns::wind_beyond, 0), north = column(RideColumns::wind_beyond, 1);
    std::vector<ride::MotionParameters> draws;
    std::vector<ride::PlanHabits> habits;
    std::vector<std::size_t> keys;
    for (std::size_t i = 0; i < anchor_cases; ++i) {
        const auto z = [&](Stream stream) { return normals[stream][i]; };
        const CaseRow row(drawn, i);
        ride::MotionParameters& p = unknowns[i].motion;
        if (p.wind_from) {
            p.wind_from->east_mps += wind_from_sd_mps(library, tags) * east[i];
            p.wind_from->north_mps += wind_from_sd_mps(library, tags) * north[i];
        } else
            p.wind_mps = tags.wind_mps ? *tags.wind_mps + library.value("riding.wind_told_mps") * z(wind_stream) : wind.sd * z(wind_stream);
        draws.push_back(p);
        // A tyre that holds less is leant less, in the same measure.
        const double grip = grip_of(cases[i].stop, input.tags.surface.value_or(stop::Surface::dry)) / cases[i].stop.grip_dry;
        habits.push_back({.top_mps = std::max(3.0, row("plan.top_mps")),
                          .swing = std::min(0.35, row("plan.swing")),
                          .lateral_mps2 = std::max(0.3, row("plan.lateral_mps2") * std::min(1.0, grip)),
                          .braking_mps2 = std::max(0.25, row("plan.braking_mps2") * braking_factor),
                          .coast_mps2 = row("plan.coast_mps2"),
                          .pedal_W = row("plan.pedal_W"),
                          .motor_W = request.bike.e_assist ? row("plan.motor_W") : 0.0,
                          // The rider's habit and this day's luck: counts of halts scatter about as much as the habit does.
                          .stops_per_km = row("plan.stops_per_km") * std::exp(0.3 * z(stops_stream)),
                          .halt_s = row("plan.halt_s")});
        keys.push_back(i);
    }
    Context quiet = ctx;
    quiet.progress = nullptr;
    if (!left_aside(request, input)) return ride::plan(quiet, input.route, style, draws, habits, keys);
    Result<ride::MotionPaths> motion = ride::plan(quiet, level(input.route), style, draws, habits, keys);
    if (motion) {
        std::erase_if(motion->faults, [](const ride::Fault& f) { return f.kind == ride::FaultKind::no_altitude; });
        motion->faults.push_back(altitude_left_aside(0));
    }
    return motion;
}

Result<RideWork> planned_work(const Context& ctx, const parts::Library& library, const Request& request, const PlannedInput& input, const Cases& drawn, std::span<const Case> cases,
                              double share_from, double share_to) {
    if (ctx.progress) ctx.progress(share_from, input.route.file);
    std::vector<RideUnknowns> unknowns;
    Result<ride::MotionPaths> motion = planned_motion(ctx, library, request, input, drawn, cases, unknowns);
    if (!motion) return motion.error();
    RideAnswer r;
    if (request.altitude && *request.altitude != ride::AltitudeSource::terrain && *request.altitude != ride::AltitudeSource::none)
        motion->faults.push_back({.kind = ride::FaultKind::other, .count = 1, .seconds = 0,
                                  .text = fmt::format("--altitude {} is for recorded rides: a planned way takes its heights from the map, and learns their error from them.", ride::word_of(*request.altitude))});
    if (input.tags.wind_from_deg && !ride::has_direction(input.route))
        motion->faults.push_back({.kind = ride::FaultKind::other, .count = 1, .seconds = 0, .text = wind_without_direction});
    say_wind_taken(input.tags, *motion);
    const bool aside = left_aside(request, input);
    withhold_without_altitude(r, library, ride::altitude_cover(aside ? level(input.route) : input.route), aside);
    r.file = input.route.file;
    r.planned = true;
    r.style = input.style.value_or(ride::Style::dragging);
    r.style_told = input.style.has_value();
    return work_of_paths(ctx, library, request, *motion, unknowns, input.tags, std::move(r), cases, share_from + 0.1 * (share_to - share_from), share_to);
}

}  // namespace bw::answer
