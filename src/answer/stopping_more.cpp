// SPDX-License-Identifier: Apache-2.0
// Around the stops: hand, lever as it wears and heats, the speed that is too much, bedding-in.           Layer: answer
#include <algorithm>
#include <cmath>
#include <limits>
#include <numbers>

#include "answer/stopping.hpp"
#include "answer/wheel_heat.hpp"
#include "base/sampling.hpp"
#include "heat/unknowns.hpp"
#include "heat/water.hpp"
#include "heat/wheel_engine.hpp"
#include "internal.hpp"
#include "learned_share.hpp"
#include "stopping_more.hpp"
#include "wear/described.hpp"

namespace bw::answer {

namespace {

constexpr double air_density_kg_m3 = 1.2;
constexpr double endless = 1e9;   // finite, so that interpolation beside it stays a number

Interval quantiles(const std::vector<double>& values, const std::vector<double>& weights) { return weights.empty() ? interval_of(values) : interval_of(values, weights); }

stop::StopSetup setup_of(const StopQuestion& q, stop::Brakes brakes) {
    return {.brakes = brakes, .surface = q.surface, .from_mps = q.from_mps, .grade = q.grade, .grip = q.grip, .hand = q.hand_state};
}
stop::StopSetup heated(stop::StopSetup s, const StopQuestion& q, const Case& c) {
    if (!q.pads_at_degC) return s;
    s.front_friction_factor = heat::friction_factor(c.heat[0].friction, *q.pads_at_degC);
    s.rear_friction_factor = heat::friction_factor(c.heat[1].friction, *q.pads_at_degC);
    return s;
}

LeverFeel feel_of(const parts::Library& library, const StopQuestion& q, const Cases& drawn, std::span<const Case> cases, const std::vector<double>& weights, const std::vector<double>& by_share, parts::End end,
                  const stop::LeverAnswer& lever) {
    const auto e = static_cast<std::size_t>(end);
    const parts::Wheel& wheel = q.bike.wheel(end);
    LeverFeel f;
    const auto over = [&](auto get) {
        std::vector<double> v(cases.size());
        for (std::size_t i = 0; i < cases.size(); ++i) v[i] = std::min(get(i), endless);
        return quantiles(v, weights);
    };
    f.strongest_mm = over([&](std::size_t i) { return stop::strongest_mm(cases[i].bike.rider.hand, cases[i].stop); });
    f.strongest_N = over([&](std::size_t i) { return stop::hand_force_N(cases[i].bike.rider.hand, cases[i].stop, stop::strongest_mm(cases[i].bike.rider.hand, cases[i].stop), q.hand_state); });
    f.at_bite_N = over([&](std::size_t i) { return stop::hand_force_N(cases[i].bike.rider.hand, cases[i].stop, cases[i].bike.wheel(end).lever.bite_mm.value, q.hand_state); });
    f.place = stop::place_of(lever.bite_mm.p50, lever.window_mm);
    f.adjustments = stop::adjustments_for(wheel, f.place);
    f.full_place_near = lever.full_mm.p50 < 8;

    const Interval knock = over([&](std::size_t i) {
        const double z = drawn.size() > 1 ? normal_quantile((static_cast<double>((i * 37) % cases.size()) + 0.5) / static_cast<double>(cases.size())) : 0;
        return stop::travel_of_knock_mm(cases[i].bike.wheel(end), library.row("feel.knock").value.at(z));
    });
    f.knocked_back_mm = knock;
    f.gap_mm = library.value("feel.gap");
    f.gap_travel_mm = over([&](std::size_t i) { return stop::travel_to_bite_mm(cases[i].bike.wheel(end), f.gap_mm); });
    f.run_out_mm_mm = over([&](std::size_t i) { return stop::travel_per_run_out(cases[i].bike.wheel(end)); });
    for (const stop::Surface surface : {stop::Surface::dry, stop::Surface::wet}) {
        std::vector<stop::LeverView> views(cases.size());
        for (std::size_t i = 0; i < cases.size(); ++i) views[i] = stop::lever_view(cases[i].bike, end, heated({.surface = surface, .grade = q.grade}, q, cases[i]), cases[i].stop);
        LeverFeel::Window& w = surface == stop::Surface::dry ? f.dry : f.wet;
        w.force_03g_N = over([&](std::size_t i) { return views[i].force_03g_N; });
        w.force_lock_N = over([&](std::size_t i) { return views[i].force_lock_N; });
    }
    if (q.surface == stop::Surface::wet) {
        std::vector<double> bite, turns, metres;
        for (std::size_t i = 0; i < std::min(cases.size(), anchor_cases); ++i) {
            const Case& c = cases[i];
            const heat::WetBrake wet = heat::wet_brake_of(heat::reference_of(library, c.bike, end, c.heat[e], 15), c.heat[e].water, c.stop.brake(end).wet_factor, c.bike.wheel_radius_m.value, 0);
            bite.push_back(c.stop.brake(end).wet_factor);
            turns.push_back(heat::turns_to_dry(wet, heat::light_braking_mps));
            metres.push_back(turns.back() * 2 * std::numbers::pi * c.bike.wheel_radius_m.value);
        }
        f.first_wet_bite = interval_of(bite), f.turns_to_dry = interval_of(turns), f.metres_to_dry = interval_of(metres);
    }
    if (wheel.fluid) {
        const double per_K = library.value(std::string("fluid.") + (wheel.fluid->kind == parts::FluidKind::mineral ? "mineral" : "glycol") + ".expansion");
        f.warming_that_takes_gap_dK = over([&](std::size_t i) { return stop::warming_that_takes_gap_dK(f.gap_mm, per_K, cases[i].heat[e].fluid_depth_mm); });
    }
    f.follows_wear = !stop::follows_no_wear(wheel);
    if (!f.follows_wear) {
        const double ride_km = q.own_ride_km.value_or(library.value("feel.ride_km")), thread_mm = library.value("feel.thread");
        struct Loss {
            double left_mm, right_mm, rotor_mm;
        };
        std::vector<Loss> loss(cases.size());   // a kilometre's
        std::vector<double> logs(cases.size());
        const bool wet = q.surface == stop::Surface::wet && !q.gritty;
        std::vector<double> wetter[2] = {std::vector<double>(cases.size(), 1), std::vector<double>(cases.size(), 1)};   // what water all the way makes of a case's wear
        std::vector<double> rate(cases.size()), window(cases.size()), bar(cases.size()), turn(cases.size());
        for (std::size_t i = 0; i < cases.size(); ++i) {
            const Case& c = cases[i];
            const wear::DescribedUnknowns u = wear::described_unknowns_of(CaseRow(drawn, i));
            wear::DescribedRide km = wear::typical_ride(u, 1000, c.bike.total_mass_kg.value);
            km.wet_share = c.untold_wet;
            km.grit_share = c.untold_grit;
            const heat::WearDose as_untold = wear::described_dose(km, u, end, c.habit);
            if (q.surface == stop::Surface::wet) km.wet_share = 1;
            if (q.gritty) km.wet_share = km.grit_share = 1;
            const heat::WearDose dose = wear::described_dose(km, u, end, c.habit);
            const parts::Wheel& w = c.bike.wheel(end);
            const auto worn = [&](const heat::WearDose& of, wear::Side side) { return wear::pad_loss_mm(std::max(wear::pad_volume_mm3(of, c.wear[e], side), 0.0), w.pads.area_mm2.value); };
            const auto pad = [&](wear::Side side) { return worn(dose, side); };
            if (wet)
                for (const wear::Side side : {wear::Side::left, wear::Side::right})
                    wetter[side == wear::Side::left ? 0 : 1][i] = std::max(pad(side) / std::max(worn(as_untold, side), 1e-12), 1.0);
            loss[i] = {pad(wear::Side::left), pad(wear::Side::right), wear::rotor_loss_mm(std::max(wear::rotor_volume_mm3(dose, c.wear[e]), 0.0), w.rotor)};
            logs[i] = std::log(std::max(loss[i].left_mm + loss[i].right_mm, 1e-12));
        }
        if (const auto& own = q.own_wear[e]; own && !q.terrain_told && !q.gritty) {   // told terrain or grit is what is asked; the cases keep their order, the wear becomes this bike's, on a wet road times what water makes of it
            const double mean = mean_of(logs), sd = std::max(sd_of(logs), 1e-6), z95 = normal_quantile(0.95);
            const auto at = [&](const Interval& mm, double z) { return mm.p50 * std::exp(z * std::log(mm.p95 / mm.p05) / (2 * z95)); };
            for (std::size_t i = 0; i < cases.size(); ++i) {
                const double z = std::clamp((logs[i] - mean) / sd, -3.0, 3.0);
                loss[i].left_mm = at(own->left_mm_km, z) * wetter[0][i], loss[i].right_mm = at(own->right_mm_km, z) * wetter[1][i];
            }
            f.by_own_rides = true;
        }
        for (std::size_t i = 0; i < cases.size(); ++i) {
            const Case& c = cases[i];
            const parts::Wheel& w = c.bike.wheel(end);
            rate[i] = std::max(stop::travel_of_wear_mm(w, loss[i].left_mm, loss[i].right_mm, loss[i].rotor_mm), 1e-9);
            const stop::LeverView view = stop::lever_view(c.bike, end, {}, c.stop);
            window[i] = std::min(std::max(stop::at_bite_ratio_mm(w.lever, view.window_mm[0]), 0.0) / rate[i], endless);
            bar[i] = std::min(stop::left_to_bar_mm(w.lever, c.stop.brake(end), view.full_lever_N) / rate[i], endless);
            turn[i] = stop::travel_of_turn_mm(w, thread_mm) / rate[i];
        }
        const auto sooner = [&](const std::vector<double>& km) { return by_share.empty() ? quantiles(km, weights) : smaller_of(quantiles(km, weights), interval_of(km, by_share)); };
        f.mm_per_km = by_share.empty() ? quantiles(rate, weights) : larger_of(quantiles(rate, weights), interval_of(rate, by_share));
        f.km_in_window = sooner(window);
        f.km_to_bar = sooner(bar);
        f.km_per_turn = sooner(turn);
        f.ride_km = ride_km;
    }
    return f;
}

std::optional<HoldAnswer> hold_answer(const StopQuestion& q, std::span<const Case> cases, const std::vector<double>& weights) {
    std::vector<double> lever(cases.size()), held(cases.size()), share(cases.size()), minutes(cases.size());
    bool any = false;
    double all = 0, cannot = 0;
    for (std::size_t i = 0; i < cases.size(); ++i) {
        const auto h = stop::hold_of(cases[i].bike, heated(setup_of(q, q.brakes.value_or(stop::Brakes::both)), q, cases[i]), cases[i].stop);
        if (h) any = true;
        lever[i] = h ? std::min(h->lever_N, endless) : 0;
        held[i] = h ? std::min(h->held_N, endless) : 0;
        share[i] = h ? std::min(h->held_N / h->hand_N, endless) : 0;
        // The force must first be brought up, and then be kept.
        const bool can = !h || h->lever_N <= h->hand_N;
        minutes[i] = can ? stop::hold_min(share[i]) : 0;
        const double w = weights.empty() ? 1 : weights[i];
        all += w;
        cannot += can ? 0 : w;
    }
    if (!any) return std::nullopt;
    const auto told = [&](const std::vector<double>& v) {   // a point that runs into "cannot" is no number
        Interval i = quantiles(v, weights);
        for (double* p : {&i.p05, &i.p50, &i.p95})
            if (*p > endless / 1e5) *p = std::numeric_limits<double>::infinity();
        return i;
    };
    return HoldAnswer{.lever_N = told(lever), .held_N = told(held), .hand_share = told(share), .minutes = quantiles(minutes, weights), .cannot_share = cannot / all};
}

//! A stop during which the pads warm with the rotor's band: no heat is given off meanwhile, so it errs hot. True: it stops.
enum class HotStop { stops, too_hot, rolls_on };
HotStop hot_stop(const parts::Bike& bike, const Case& c, const stop::StopCase& cold, const stop::StopSetup& setup, double from_mps, double start_degC, double most_degC) {
    constexpr double step_s = 0.05;
    const balance::Geometry g = balance::geometry_of(bike, c.stop.trailer_own_share);
    const double mass_kg = balance::slowed_kg(g), slope_mps2 = balance::gravity_mps2 * balance::sine_of(setup.grade);
    double temperature_degC[2] = {start_degC, start_degC}, capacity_J_K[2];
    for (const parts::End end : ends) {
        const auto e = static_cast<std::size_t>(end);
        const parts::Rotor& r = bike.wheel(end).rotor;
        capacity_J_K[e] = wear::solid_swept_area_mm2(r) * r.thickness_mm.value * 1e-9 * c.heat[e].rotor_density_kg_m3 * c.heat[e].rotor_heat_capacity_J_kgK;
    }
    double v = from_mps;
    for (double t = 0; t < 300 && v > 0; t += step_s) {
        double force_N = 0;
        for (const parts::End end : ends) {
            const auto e = static_cast<std::size_t>(end);
            const stop::WheelStop& w = e == 0 ? cold.front : cold.rear;
            if (!(w.tyre_N > 0)) continue;
            const stop::BrakeUnknowns& b = c.stop.brake(end);
            const double wet = setup.surface == stop::Surface::wet ? b.wet_factor : 1;
            const double can_N = stop::tyre_force_from(bike, end, b, b.friction * wet * heat::friction_factor(c.heat[e].friction, temperature_degC[e]), w.hand_N);
            const double one_N = std::min(w.tyre_N, can_N);
            temperature_degC[e] += one_N * v * step_s / capacity_J_K[e];
            if (temperature_degC[e] > most_degC) return HotStop::too_hot;
            force_N += one_N;
        }
        v -= (force_N / mass_kg + slope_mps2 + 0.5 * air_density_kg_m3 * bike.drag_area_m2.value * v * v / mass_kg) * step_s;
    }
    return v > 0 ? HotStop::rolls_on : HotStop::stops;
}

TopSpeed top_speed_of(const Context& ctx, const parts::Library& library, const StopQuestion& q, std::span<const Case> cases, const std::vector<double>& weights, const std::vector<double>& by_share, stop::Brakes brakes) {
    TopSpeed out;
    out.brakes = brakes;
    const auto share_that = [&](std::span<const Case> of, auto holds) {
        std::vector<std::uint8_t> yes(of.size());
        parallel_for(ctx, of.size(), [&](std::size_t i) { yes[i] = holds(of[i]); });
        const auto share = [&](const std::vector<double>& by) {
            double all = 0, part = 0;
            for (std::size_t i = 0; i < of.size(); ++i) {
                const double w = by.empty() ? 1 : by[i];
                all += w;
                part += yes[i] ? w : 0;
            }
            return all > 0 ? part / all : 0;
        };
        const double plain = share(weights);
        return by_share.empty() ? std::array{plain, plain} : std::array{plain, share(by_share)};
    };
    const auto both_hold = [](const std::array<double, 2>& share) { return std::min(share[0], share[1]) >= 0.95; };
    const auto fastest = [&](auto fits) {
        double low = 0.5, high = TopSpeed::most_mps;
        if (!fits(low)) return 0.0;
        if (fits(high)) return high;
        for (int i = 0; i < 10; ++i) {
            const double middle = (low + high) / 2;
            (fits(middle) ? low : high) = middle;
        }
        return low;
    };
    stop::StopSetup setup = setup_of(q, brakes);
    out.within_room_mps = fastest([&](double v) {
        setup.from_mps = v;
        return both_hold(share_that(cases, [&](const Case& c) {
            const auto room = stop::stop_case(c.bike, heated(setup, q, c), c.stop).room_needed_m;
            return room && *room <= q.room_m;
        }));
    });
    const double most_degC = library.value("fade.nothing_known_degC"), start_degC = q.pads_at_degC.value_or(15);
    const auto at_speed = [&](double v, HotStop is) {
        setup.from_mps = v;
        return share_that(cases, [&](const Case& c) {
            const stop::StopCase one = stop::stop_case(c.bike, setup, c.stop);
            return hot_stop(c.bike, c, one, setup, v, start_degC, most_degC) == is;
        });
    };
    out.at_all_mps = fastest([&](double v) { return both_hold(at_speed(v, HotStop::stops)); });
    if (out.at_all_mps <= 0) out.limited_by = "does_not_stop";
    else if (out.at_all_mps >= TopSpeed::most_mps) out.limited_by = "none";
    else {
        const double past_mps = out.at_all_mps * 1.05;
        const std::array<double, 2> stops = at_speed(past_mps, HotStop::stops);
        const std::size_t ends_it = stops[1] < stops[0] ? 1 : 0;
        out.limited_by = at_speed(past_mps, HotStop::too_hot)[ends_it] >= at_speed(past_mps, HotStop::rolls_on)[ends_it] ? "heat" : "fade";
    }
    return out;
}

Result<BeddingPlan> bedding_of(const Context& ctx, const parts::Library& library, const StopQuestion& q, std::span<const Case> cases, const std::vector<double>& weights, parts::End end) {
    const std::vector<std::size_t> chosen_cases = drawn_by_weight(BeddingPlan::most_cases, cases.size(), weights, ctx.seed, "bedding");
    const std::size_t some = chosen_cases.size();
    BeddingPlan best;
    best.cases = some;
    best.from_mps = library.value("bedding.from");
    best.to_mps = library.value("bedding.to");
    best.least_degC = library.value("bedding.least");
    best.most_degC = library.value("bedding.most." + std::string(parts::word_of(q.bike.wheel(end).pads.compound)));
    const int most_stops = static_cast<int>(library.value("bedding.stops"));
    const stop::Brakes alone = end == parts::End::front ? stop::Brakes::front : stop::Brakes::rear;
    bool chosen = false;
    // The longest rest that still gets there: the gentlest on pads and rider.
    for (const int rest_s : {90, 60, 30, 15}) {
        std::vector<double> stops(some), peaks(some);
        std::vector<std::optional<Error>> failed(some);
        parallel_for(ctx, some, [&](std::size_t i) {
            const Case& c = cases[chosen_cases[i]];
            const stop::StopCase one = stop::stop_case(c.bike, {.brakes = alone, .from_mps = best.from_mps}, c.stop);
            const double deceleration = std::max(one.deceleration_mps2, 0.5), mass_kg = c.bike.total_mass_kg.value + c.bike.wheel_inertia_kgm2.value / (c.bike.wheel_radius_m.value * c.bike.wheel_radius_m.value);
            const int stop_s = std::max(1, static_cast<int>(std::lround((best.from_mps - best.to_mps) / deceleration)));
            const double slower_mps = (best.from_mps - best.to_mps) / stop_s;
            std::vector<heat::PowerRow> rows;
            std::vector<std::size_t> after;
            double t = 0;
            for (int n = 0; n < most_stops; ++n) {
                for (int s = 0; s < stop_s; ++s, t += 1) {
                    const double v = best.from_mps - slower_mps * (s + 0.5);
                    rows.push_back({.t_s = t, .speed_mps = v, .power_W = mass_kg * slower_mps * v});
                }
                after.push_back(rows.size());   // the row that follows the stop holds its end
                for (int s = 0; s < rest_s; ++s, t += 1) rows.push_back({.t_s = t, .speed_mps = best.to_mps + (best.from_mps - best.to_mps) * std::min(1.0, s / 15.0), .power_W = 0});
            }
            rows.push_back({.t_s = t, .speed_mps = 0, .power_W = 0});
            const Result<WheelOutcome> run = heat_of(ctx, library, c, end, {.rows = rows, .air_degC = 15, .mass_kg = mass_kg}, heat::Keep::rows);
            if (!run) {
                failed[i] = run.error();
                return;
            }
            stops[i] = most_stops + 1;
            for (std::size_t n = 0; n < after.size(); ++n)
                if (run->heat.trace[after[n]].rotor_degC >= best.least_degC) {
                    stops[i] = static_cast<double>(n + 1);
                    break;
                }
            peaks[i] = run->heat.trace[after.back()].rotor_degC;
        });
        if (ctx.stopped()) return cancelled();
        for (const auto& f : failed)
            if (f) return *f;
        const Interval need = interval_of(stops), peak = interval_of(peaks);
        const bool there = need.p95 <= most_stops, cool = peak.p95 <= best.most_degC;
        if (!chosen || (!best.reached && there)) {
            best.rest_s = rest_s;
            best.stops_to_window = need;
            best.last_peak_degC = peak;
            best.reached = there;
            best.stays_under = cool;
            chosen = true;
        }
        if (best.reached) break;
        if (!there) {   // keep what comes nearest
            best.rest_s = rest_s;
            best.stops_to_window = need;
            best.last_peak_degC = peak;
            best.stays_under = cool;
        }
    }
    best.most_stops = most_stops;
    return best;
}

}  // namespace

Status stop_more(const Context& ctx, const parts::Library& library, const StopQuestion& q, const Cases& drawn, std::span<const Case> cases, const std::vector<double>& weights, const std::vector<double>& by_share, StopReport& r) {
    for (const parts::End end : ends) {
        const auto e = static_cast<std::size_t>(end);
        r.feel[e] = feel_of(library, q, drawn, cases, weights, by_share, end, r.levers[e]);
        Result<BeddingPlan> plan = bedding_of(ctx, library, q, cases, weights, end);
        if (!plan) return plan.error();
        r.bedding[e] = *std::move(plan);
    }
    r.hold = hold_answer(q, cases, weights);
    if (r.hold && !by_share.empty() && q.brakes.value_or(stop::Brakes::both) == stop::Brakes::both) {
        const HoldAnswer with = *hold_answer(q, cases, by_share);
        r.hold = HoldAnswer{.lever_N = larger_of(r.hold->lever_N, with.lever_N), .held_N = larger_of(r.hold->held_N, with.held_N), .hand_share = larger_of(r.hold->hand_share, with.hand_share),
                            .minutes = smaller_of(r.hold->minutes, with.minutes), .cannot_share = std::max(r.hold->cannot_share, with.cannot_share)};
    }
    for (const stop::Brakes b : {stop::Brakes::both, stop::Brakes::front, stop::Brakes::rear})
        r.top_speed.push_back(top_speed_of(ctx, library, q, cases, weights, b == stop::Brakes::both ? by_share : std::vector<double>(), b));   // of one brake no share moves it
    if (ctx.stopped()) return cancelled();
    return Done{};
}

}  // namespace bw::answer
