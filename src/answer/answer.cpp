// SPDX-License-Identifier: Apache-2.0
// The walk: likely cases -> rides -> heat -> doses -> stop, life, verdict.                               Layer: answer
#include "answer/answer.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>

#include "balance/balance.hpp"
#include "base/time.hpp"
#include "describe.hpp"
#include "internal.hpp"
#include "wear/life.hpp"

namespace bw::answer {

namespace {

// A 0.5 % tail is asked of the life, so it gets more cases; the first rows are the same.
constexpr std::size_t tail_cases = 4096;

std::vector<Input> all_inputs(const parts::Library& library, const Request& request) {
    std::vector<Input> inputs = parts::inputs_of(request.bike);
    const auto add = [&](std::vector<Input> more) { inputs.insert(inputs.end(), std::make_move_iterator(more.begin()), std::make_move_iterator(more.end())); };
    add(balance::inputs(library, request.bike));
    add(heat::inputs(library, request.bike));
    add(stop::inputs(library, request.bike));
    add(wear::inputs(library, request.bike));
    // Cold friction belongs to the pads, so heat and stop share one draw.
    for (const parts::End end : ends)
        inputs.push_back(library.input(fmt::format("compound.{}.friction", parts::word_of(request.bike.wheel(end).pads.compound)), fmt::format("{}.friction", parts::word_of(end))));
    inputs.push_back(library.input("weather.untold.wet", "riding.wet"));
    inputs.push_back(library.input("weather.untold.grit", "riding.grit"));
    if (request.terrain) add(wear::described_inputs(library, *request.terrain));
    return inputs;
}

std::vector<Case> cases_of(const parts::Library& library, const parts::Bike& bike, const Cases& drawn) {
    std::vector<Case> cases;
    cases.reserve(drawn.size());
    for (std::size_t i = 0; i < drawn.size(); ++i) {
        const CaseRow row(drawn, i);
        Case c;
        c.bike = parts::bike_of_case(bike, row);
        c.stop = stop::unknowns_of(library, bike, row);
        for (const parts::End end : ends) {
            const auto e = static_cast<std::size_t>(end);
            c.heat[e] = heat::unknowns_of(library, bike, end, row);
            c.wear[e] = wear::unknowns_of(library, bike, end, row);
        }
        c.habit = std::clamp(row("bike.front_share"), 0.02, 0.98);
        c.untold_wet = std::min(1.0, row("riding.wet"));
        c.untold_grit = std::min(1.0, row("riding.grit"));
        cases.push_back(std::move(c));
    }
    return cases;
}

std::vector<stop::StopAnswer> stops_of(const Context& ctx, const parts::Library& library, std::span<const Case> cases) {
    std::vector<stop::StopSetup> setups;
    for (const auto& [brakes, surface] : {std::pair{stop::Brakes::both, stop::Surface::dry}, {stop::Brakes::both, stop::Surface::wet},
                                         {stop::Brakes::front, stop::Surface::dry}, {stop::Brakes::rear, stop::Surface::dry}, {stop::Brakes::rear, stop::Surface::wet}})
        setups.push_back({.brakes = brakes, .surface = surface, .from_mps = 25 / 3.6, .grade = 0});
    std::vector<stop::StopAnswer> answers(setups.size());
    parallel_for(ctx, setups.size(), [&](std::size_t s) {
        std::vector<stop::StopCase> one;
        one.reserve(cases.size());
        for (const Case& c : cases) one.push_back(stop::stop_case(c.bike, setups[s], c.stop));
        answers[s] = stop::stop_answer(setups[s], one, {}, library.value("yardstick.lever_force"));
    });
    return answers;
}

stop::LeverAnswer lever_of(std::span<const Case> cases, parts::End end) {
    std::vector<stop::LeverView> views;
    views.reserve(cases.size());
    for (const Case& c : cases) views.push_back(stop::lever_view(c.bike, end, {}, c.stop));
    return stop::lever_answer(views, {});
}

// How often this bike is ridden, from the dates of the rides where they tell it.
void riding_rate(Answer& a, const parts::Library& library) {
    std::vector<double> starts;
    for (const RideAnswer& r : a.rides)
        if (r.start_unix_s && !r.planned) starts.push_back(*r.start_unix_s);
    std::sort(starts.begin(), starts.end());
    const double span_days = starts.size() >= 3 ? (starts.back() - starts.front()) / 86400 : 0;
    if (span_days >= 6) {
        a.rides_per_day = static_cast<double>(starts.size() - 1) / span_days;
    } else {
        a.rides_per_day = library.value("riding.rides_per_week") / 7;
        a.rides_per_day_assumed = true;
    }
    if (!a.today && !starts.empty()) a.today = static_cast<long>(std::floor(starts.back() / 86400));
}

std::string limit_words(const char* part, wear::LimitFrom from) {
    return from == wear::LimitFrom::maker ? fmt::format("down to the maker's limit of the {}", part)
                                          : fmt::format("down to a limit of common practice: the maker's limit of the {} is not known", part);
}

}  // namespace

Result<Answer> answer(const Context& ctx, const parts::Library& library, const Request& request) {
    Answer a;
    a.seed = ctx.seed;
    a.cases = request.cases;
    a.bike = request.bike;
    a.today = request.today;

    const Cases drawn = draw_cases(all_inputs(library, request), std::max(request.cases, tail_cases), ctx.seed);
    const std::vector<Case> all = cases_of(library, request.bike, drawn);
    const std::span<const Case> cases(all.data(), request.cases);

    Doses doses;
    for (std::size_t i = 0; i < request.rides.size(); ++i) {
        const double step = 0.9 / static_cast<double>(request.rides.size());
        Result<RideAnswer> r = ride_answer(ctx, library, request, request.rides[i], drawn, cases, doses, step * static_cast<double>(i), step * static_cast<double>(i + 1));
        if (!r) return r.error();
        a.rides.push_back(*std::move(r));
    }
    if (request.rides.empty() && request.terrain) {
        Result<RideAnswer> r = described_descent(ctx, library, request, drawn, cases);
        if (!r) return r.error();
        a.rides.push_back(*std::move(r));
    }
    riding_rate(a, library);
    if (ctx.progress) ctx.progress(0.92, "stops and wear");

    a.stops = stops_of(ctx, library, cases);
    for (const parts::End end : ends) a.levers[static_cast<std::size_t>(end)] = lever_of(cases, end);
    a.yardsticks = yardsticks(ctx, library, request.bike, cases);

    // Life: case i wears by the dose of anchor i % anchors.
    std::array<std::vector<double>, 2> pad_km;
    std::vector<inspect::Check> look_by;
    wear::RidingTotals totals;
    if (!request.rides.empty()) {
        totals.rides = static_cast<double>(request.rides.size());
        for (const RideAnswer& r : a.rides) {
            totals.distance_m += r.distance_m;
            totals.descent_m += r.descent_m;
        }
    }
    const double described_m = library.value("riding.ride_km") * 1000;
    for (const parts::End end : ends) {
        const auto e = static_cast<std::size_t>(end);
        if (doses.empty() && !request.terrain) continue;
        std::vector<wear::LifeCase> lives;
        lives.reserve(all.size());
        for (std::size_t i = 0; i < all.size(); ++i) {
            std::vector<heat::WearDose> mine;
            wear::RidingTotals of = totals;
            if (!doses.empty()) {
                for (const auto& ride : doses) mine.push_back(ride[e][i % anchor_cases]);
            } else {
                const wear::DescribedUnknowns u = wear::described_unknowns_of(CaseRow(drawn, i));
                wear::DescribedRide ride = wear::typical_ride(u, described_m, all[i].bike.total_mass_kg.value);
                ride.wet_share = all[i].untold_wet;
                ride.grit_share = all[i].untold_grit;
                mine.push_back(wear::described_dose(ride, u, end, all[i].habit));
                of = {.rides = 1, .distance_m = ride.distance_m, .descent_m = ride.descent_m};
            }
            lives.push_back(wear::life_case(all[i].bike, end, all[i].wear[e], mine, of));
            const wear::LifeCase& l = lives.back();
            const double rides_left = wear::rides_left(l.pad_usable_mm, l.pad_loss_mm / l.totals.rides, l.ride_cv2, l.ride_z);
            pad_km[e].push_back(std::min(l.longest_km, rides_left * l.totals.distance_m / 1000 / l.totals.rides));
        }
        Result<wear::LifeAnswer> life = wear::life_of(lives, 1 / a.rides_per_day);
        if (!life) return Error{life.error().code, fmt::format("{}: {}", request.rides.empty() ? "the described riding" : request.rides.front().track.file, life.error().text)};
        const wear::PadLife& pad = life->pad;
        const auto day = [&](const std::optional<double>& days) -> std::optional<long> {
            if (!a.today || !days) return std::nullopt;
            return *a.today + static_cast<long>(std::floor(std::min(*days, 36500.0)));
        };
        LifeSpan span{.remaining_km = pad.remaining.km, .remaining_rides = pad.remaining.rides,
                      .remaining_descent_m = pad.remaining.descent_m.value_or(Interval{}),
                      .look_by = day(pad.look_by.days), .capped = pad.remaining.capped_share > 0.05, .limit_text = limit_words("pads", pad.limit_from)};
        RotorLife rotor{.remaining_km = life->rotor.remaining.km, .pad_sets = life->rotor.pad_sets, .look_by = std::nullopt,
                        .capped = life->rotor.remaining.capped_share > 0.05, .limit_text = limit_words("rotor", life->rotor.limit_from)};
        a.life[e] = {span, rotor};
        // Worth a line in the verdict when it falls within a month of riding.
        if (pad.look_by.days.value_or(1e9) <= 30) look_by.push_back(wear::look_by_check(end, pad, span.look_by ? format_day(*span.look_by) : ""));
    }

    // Is there a reason not to ride.
    const inspect::Practice practice = inspect::practice_of(library);
    std::array<inspect::LeverPoints, 2> points;
    for (const parts::End end : ends) {
        const auto e = static_cast<std::size_t>(end);
        if (!request.bike.given.contains(fmt::format("{}.lever.bite_mm", parts::word_of(end)))) continue;
        const stop::LeverAnswer& l = a.levers[e];
        points[e] = {.bite_mm = l.bite_mm.p50, .full_mm = l.full_mm.p50, .uncertainty_mm = (l.full_mm.p95 - l.full_mm.p05) / (2 * 1.645)};
    }
    std::vector<inspect::Check> checks = inspect::checks_of(request.bike, practice, points[0], points[1]);
    checks.insert(checks.end(), look_by.begin(), look_by.end());
    for (const RideAnswer& r : a.rides)
        for (const parts::End end : ends) {
            const auto p = r.wheels[static_cast<std::size_t>(end)].fluid_boil_probability;
            if (!p || *p < 0.005) continue;   // the far tail: DESIGN 3, rule 4
            checks.push_back({.id = inspect::CheckId::other, .code = fmt::format("{}_fluid_may_boil", parts::word_of(end)), .state = inspect::State::measure_better, .done = true,
                              .text = fmt::format("On {} the {} fluid reaches its boiling point in {:.1f} % of the likely cases: the lever would go soft. Renew the fluid before "
                                                  "such a ride, and check the lever after every long descent.", r.file, parts::word_of(end), *p * 100)});
        }
    a.verdict = inspect::combine(std::move(checks));

    a.assumed = assumptions(library, request, drawn);
    if (!pad_km[0].empty()) a.measure_next = next_measurement(library, a, drawn, pad_km);
    a.cautions = cautions(a);
    return a;
}

}  // namespace bw::answer
