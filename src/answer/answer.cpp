// SPDX-License-Identifier: Apache-2.0
// The walk: likely cases -> rides -> heat -> doses -> stop, life, verdict.                               Layer: answer
#include "answer/answer.hpp"
#include "answer/life_today.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cctype>
#include <cmath>

#include "balance/balance.hpp"
#include "base/sampling.hpp"
#include "base/time.hpp"
#include "describe.hpp"
#include "each_case.hpp"
#include "internal.hpp"
#include "learned_share.hpp"
#include "ride_temperatures.hpp"
#include "wear/life.hpp"

namespace bw::answer {

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
    if (!request.planned.empty()) add(plan_inputs(library, request.bike));
    if (!request.described.empty()) add(wear::told_inputs(library, request.bike.kind));
    // Last, whatever is added above: a trailer or another motor leaves all other draws as they were.
    add(balance::late_inputs(library, request.bike));
    std::stable_partition(inputs.begin(), inputs.end(), [](const Input& i) { return !heat::late_input(i.key); });
    std::stable_partition(inputs.begin(), inputs.end(), [](const Input& i) { return !parts::extra_input(i.key); });
    std::stable_partition(inputs.begin(), inputs.end(), [](const Input& i) { return !heat::latest_input(i.key); });
    return inputs;
}

std::vector<Case> cases_of(const parts::Library& library, const parts::Bike& bike, const Cases& drawn) {
    std::vector<Case> cases;
    cases.reserve(drawn.size());
    const std::array<std::vector<heat::HeatUnknowns>, 2> heat = {heat::unknowns_of(bike, ends[0], drawn), heat::unknowns_of(bike, ends[1], drawn)};
    for (std::size_t i = 0; i < drawn.size(); ++i) {
        const CaseRow row(drawn, i);
        Case c;
        c.bike = parts::bike_of_case(bike, row);
        c.stop = stop::unknowns_of(library, bike, row);
        for (const parts::End end : ends) {
            const auto e = static_cast<std::size_t>(end);
            c.heat[e] = heat[e][i];
            c.wear[e] = wear::unknowns_of(library, bike, end, row);
        }
        c.habit = std::clamp(row("bike.front_share"), 0.02, 0.98);
        c.balance = balance::unknowns_of(bike, row);
        c.untold_wet = std::min(1.0, row("riding.wet"));
        c.untold_grit = std::min(1.0, row("riding.grit"));
        cases.push_back(std::move(c));
    }
    return cases;
}

// A ride at hand of which that is not known leaves its questions open. Of a history most of which is known it is one of many:
// it counts as the others do, metre for metre.
Known known_rides(const Answer& a, const parts::Library& library, bool of_papers) {
    Known k{.ride = std::vector<std::uint8_t>(a.rides.size(), 1)};
    // A way that nobody has ridden yet and of which nothing is known tells nothing of the riding: beside others it is left out.
    const auto blind = [](const RideAnswer& r) { return r.planned && !r.heat_withheld.empty(); };
    if (!std::all_of(a.rides.begin(), a.rides.end(), blind))
        for (std::size_t i = 0; i < a.rides.size(); ++i) k.ride[i] = !blind(a.rides[i]);
    if (!of_papers) return k;
    double all_m = 0, known_m = 0;
    Known some = k;
    for (std::size_t i = 0; i < a.rides.size(); ++i) {
        if (!k.ride[i]) continue;
        const RideAnswer& r = a.rides[i];
        some.ride[i] = !r.misfit && r.heat_withheld.empty();
        some.partly = some.partly || !some.ride[i];
        all_m += r.distance_m;
        known_m += some.ride[i] ? r.distance_m : 0;
    }
    // The same share as inside one ride: what is not known may be where most was braked (docs/decisions/0011, 0013).
    return some.partly && known_m >= library.value("altitude.least_share") * all_m ? some : k;
}

std::string life_withheld_of(const Answer& a, const Request& request, const Known& known, const wear::RidingTotals& totals) {
    std::string why;
    if (totals.rides == 0 && !request.terrain)
        why = request.rows_of_other_bikes > 0 ? fmt::format("Not known without a ride: the described rides that were given are all of other bikes; this one is '{}'.", request.bike.name)
                                                          : "Not known without a ride: give one, recorded or described (a row of a table with its day and its way will do). Who has none at all can answer the six questions (`answer --ask`).";
    else if (!request.terrain && !(totals.distance_m > 0)) why = "Not known: nothing is left of the rides once pauses and vehicles are taken out.";
    for (std::size_t i = 0; i < a.rides.size(); ++i)
        if (const RideAnswer& r = a.rides[i]; known.ride[i] && !r.heat_withheld.empty() && !known.partly) why = fmt::format("Not given. {}: {}", r.file, r.heat_withheld);
    for (const RideAnswer& r : a.rides)
        if (r.misfit && !known.partly) why = "Not given: this bike's mass, drag or rolling resistance do not fit " + r.file + ".";
    return why;
}

// Dry and wet always, and whatever surface was told for a ride.
std::vector<stop::StopAnswer> stops_of(const Context& ctx, const parts::Library& library, const Request& request, std::span<const Case> cases, EachCase* each) {
    std::vector<std::pair<stop::Brakes, stop::Surface>> wanted = {{stop::Brakes::both, stop::Surface::dry},  {stop::Brakes::both, stop::Surface::wet},
                                                                  {stop::Brakes::front, stop::Surface::dry}, {stop::Brakes::rear, stop::Surface::dry},
                                                                  {stop::Brakes::rear, stop::Surface::wet}};
    for (const stop::Surface surface : {stop::Surface::gravel, stop::Surface::loose})
        if (any_tags(request, [&](const RideTags& t) { return t.surface == surface; }))
            for (const stop::Brakes brakes : {stop::Brakes::both, stop::Brakes::rear}) wanted.emplace_back(brakes, surface);
    std::vector<stop::StopSetup> setups;
    for (const auto& [brakes, surface] : wanted) setups.push_back({.brakes = brakes, .surface = surface, .from_mps = 25 / 3.6, .grade = request.stop_grade});
    std::vector<stop::StopAnswer> answers(setups.size());
    if (each) each->stops.resize(setups.size());
    parallel_for(ctx, setups.size(), [&](std::size_t s) {
        std::vector<stop::StopCase> one;
        one.reserve(cases.size());
        for (const Case& c : cases) one.push_back(stop::stop_case(c.bike, setups[s], c.stop));
        answers[s] = stop::stop_answer(setups[s], one, {}, library.value("yardstick.lever_force"));
        if (each) each->stops[s] = std::move(one);
    });
    return answers;
}

stop::LeverAnswer lever_of(std::span<const Case> cases, parts::End end, EachCase* each) {
    std::vector<stop::LeverView> views;
    views.reserve(cases.size());
    for (const Case& c : cases) views.push_back(stop::lever_view(c.bike, end, {}, c.stop));
    stop::LeverAnswer answer = stop::lever_answer(views, {});
    if (each) each->levers[static_cast<std::size_t>(end)] = std::move(views);
    return answer;
}

namespace {

// Days on which nobody rode with a recorder that writes such files, and after which no date can be written in four digits.
constexpr long earliest_day = 7305;       // 1990-01-01
constexpr long last_day_shown = 2932896;  // 9999-12-31

// Clocks of recorders start again in 1989, 2000 or decades ahead, and one such date would move every look-by date by years.
// Dates that cannot be are left aside, and of those that can only the largest group counts that holds together; the ride
// itself counts. Returns the starts that are believed, sorted.
std::vector<double> believed_starts(Answer& a, const parts::Library& library, std::optional<long> latest_day) {
    const double gap_s = library.value("riding.date_gap_days") * 86400;
    std::vector<RideAnswer*> dated;
    std::vector<std::string> aside;
    const auto leave_aside = [&](RideAnswer& r, const std::string& why) {
        const std::string day = format_day(static_cast<long>(std::floor(*r.start_unix_s / 86400)));
        r.date_left_aside = true;
        r.faults.push_back({.kind = ride::FaultKind::clock_jump, .count = 1, .seconds = 0,
                            .text = fmt::format("Its date, {}, {}: the ride counts, but no look-by date rests on it. Was the clock right? --today DATE says which day it is.", day, why)});
        aside.push_back(day);
    };
    for (RideAnswer& r : a.rides) {
        if (!r.start_unix_s || r.planned) continue;
        const double day = std::floor(*r.start_unix_s / 86400);
        if (day < earliest_day) leave_aside(r, "is before any recorder of such rides");
        else if (latest_day && day > static_cast<double>(*latest_day)) leave_aside(r, "has not come yet");
        else dated.push_back(&r);
    }
    std::stable_sort(dated.begin(), dated.end(), [](const RideAnswer* x, const RideAnswer* y) { return *x->start_unix_s < *y->start_unix_s; });
    std::size_t best_from = 0, best_to = 0;   // of groups of the same size the latest
    for (std::size_t from = 0, to; from < dated.size(); from = to) {
        for (to = from + 1; to < dated.size() && *dated[to]->start_unix_s - *dated[to - 1]->start_unix_s <= gap_s; ++to) {}
        if (to - from >= best_to - best_from) best_from = from, best_to = to;
    }
    std::vector<double> starts;
    for (std::size_t i = 0; i < dated.size(); ++i) {
        if (i >= best_from && i < best_to) starts.push_back(*dated[i]->start_unix_s);
        else leave_aside(*dated[i], "lies more than three years from most of the others");
    }
    if (!aside.empty()) {
        std::sort(aside.begin(), aside.end());
        aside.erase(std::unique(aside.begin(), aside.end()), aside.end());
        std::string days = aside.front();
        if (aside.size() > 1) days += fmt::format(" to {}", aside.back());
        a.dates_left_aside = fmt::format("Left aside for look-by dates, since a clock was wrong or the ride lies years from the others: {}. --today DATE says which day it is.", days);
    }
    return starts;
}

void say_riding(Answer& a, std::span<const RidingRate> rates) {
    const RidingRate said = said_rate(rates);
    a.rides_per_day = 1 / said.days_a_ride;
    a.rides_per_day_assumed = !said.by_rides;
}

// How often this bike is ridden, from the dates of the rides where they tell it: the sooner date of each counts. A date in the far
// tail must also hold for a rider who rides more often than usual.
std::vector<RidingRate> rates_of_riding(Answer& a, const parts::Library& library, std::optional<long> latest_day) {
    const std::vector<double> starts = believed_starts(a, library, latest_day);
    if (!a.today && !starts.empty()) a.today = static_cast<long>(std::floor(starts.back() / 86400));
    std::vector<double> days;
    for (const double s : starts) days.push_back(std::floor(s / 86400));
    const Uncertain& assumed = library.row("riding.rides_per_week").value;
    std::vector<RidingRate> rates = riding_rates(days, assumed.value / 7, std::sqrt(std::log1p((assumed.sd / assumed.value) * (assumed.sd / assumed.value))));
    say_riding(a, rates);
    return rates;
}

// The heaviest load told for a ride decides the stops.
std::optional<double> heaviest_load(const Request& request) {
    std::optional<double> most;
    any_tags(request, [&](const RideTags& t) {
        if (t.load_kg) most = std::max(most.value_or(0), *t.load_kg);
        return false;
    });
    return most;
}

inspect::Check other(std::string code, inspect::State state, std::string text) {
    return {.id = inspect::CheckId::other, .code = std::move(code), .state = state, .done = true, .do_not_ride = state == inspect::State::held_back, .text = std::move(text)};
}

std::string in_percent(double share) { return share < 0.01 ? fmt::format("{:.1f} %", share * 100) : fmt::format("{:.0f} %", share * 100); }

// What water takes from a brake was never measured, so it clears nothing (docs/decisions/0007).
const char* taken_as_dry(const WheelHeatAnswer& w) { return w.water ? " Reckoned with dry brakes: what water takes from them was never measured." : ""; }

// What the reasons of a hot brake rest on and nobody told.
std::string assumed_of_brake(const parts::Bike& bike, parts::End end) {
    const parts::Wheel& w = bike.wheel(end);
    const auto told = [&](const char* key) { return bike.given.contains(fmt::format("{}.{}", parts::word_of(end), key)); };
    std::string out;
    if (!told("rotor.diameter_mm"))
        out += fmt::format(" The rotor's size was assumed, {:.0f} mm: read what is stamped on it and tell it, it decides much.", w.rotor.diameter_mm.value);
    if (!told("pads.compound")) {
        std::string compound(parts::word_of(w.pads.compound));
        std::replace(compound.begin(), compound.end(), '_', '-');
        out += fmt::format(" The pads were assumed to be {}.", compound);
    }
    return out;
}

// Hot brakes on a ride at hand (docs/decisions/0007): one reason a wheel, for the ride on which it is worst.
void fade_reasons(const Answer& a, const parts::Library& library, const parts::Bike& bike, std::vector<inspect::Check>& out) {
    using inspect::State;
    const double hold = library.value("fade.hold_share"), measure = library.value("fade.measure_share"), likely = library.value("fade.likely_share");
    for (const parts::End end : ends) {
        const auto of = [end](const RideAnswer& r) -> const WheelHeatAnswer& { return r.wheels[static_cast<std::size_t>(end)]; };
        const RideAnswer* worst = nullptr;
        std::size_t others = 0;
        for (const RideAnswer& r : a.rides) {
            const WheelHeatAnswer& w = of(r);
            if (!r.heat_withheld.empty() || (w.hot_stop_beyond_hand_probability < measure && w.fade_probability < likely)) continue;
            if (worst) ++others;
            const auto rank = [&](const RideAnswer& x) { return std::pair(of(x).hot_stop_beyond_hand_probability, of(x).fade_probability); };
            if (!worst || rank(r) > rank(*worst)) worst = &r;
        }
        if (!worst) continue;
        const WheelHeatAnswer& w = of(*worst);
        const std::string wheel(parts::word_of(end));
        std::string what = fmt::format("on {}{} the {} pads reach {:.0f} °C ({:.0f} to {:.0f})", worst->file, others == 0 ? "" : fmt::format(" (and {} more)", others), wheel,
                                       w.judged.pad_face_degC.p50, w.judged.pad_face_degC.p05, w.judged.pad_face_degC.p95);
        if (w.hot_stop_beyond_hand_probability >= measure)
            what += fmt::format(", and so hot an ordinary stop needs a harder squeeze than this hand has in {} of the likely cases", in_percent(w.hot_stop_beyond_hand_probability));
        else what += fmt::format(", and the brake fades (1.5 times its cold squeeze) in {} of the likely cases", in_percent(w.fade_probability));
        what += "." + assumed_of_brake(bike, end) + " What pads hold above 277 °C nobody has measured.";
        if (w.judged.rotor_peak_degC.p50 > library.value("fade.nothing_known_degC")) what += fmt::format(" A rotor at {:.0f} °C is past everything that is known of such brakes.", w.judged.rotor_peak_degC.p50);
        what += taken_as_dry(w);
        if (w.hot_stop_beyond_hand_probability >= hold)
            out.push_back(other(wheel + "_brake_fades", State::held_back, "Do not ride such a road with this brake as it is: " + what +
                                " Brake in short pulls and let it cool rolling, lighten the load, or fit a larger rotor."));
        else {
            what[0] = static_cast<char>(std::toupper(static_cast<unsigned char>(what[0])));
            out.push_back(other(wheel + "_brake_may_fade", State::measure_better, what + " Feel the lever on the way down: if it needs more than before, let the brake cool rolling before the next stop. "
                                "Rotor, pads, load and hand told in the description settle more."));
        }
    }
}

// A rotor whose aluminium core may have melted, or softened: one reason a wheel, for the worst ride. Melting by the thresholds of boiling, since such a rotor comes apart;
// a soft core is one to look at (docs/decisions/0007).
void core_reasons(const Answer& a, const parts::Bike& bike, std::vector<inspect::Check>& out) {
    using inspect::State;
    constexpr double hold = 0.05, measure = 0.005, soft = 0.05;
    for (const parts::End end : ends) {
        const RideAnswer* worst = nullptr;
        const auto melts = [end](const RideAnswer& r) { return r.wheels[static_cast<std::size_t>(end)].core_melt_probability.value_or(0); };
        const auto softens = [end](const RideAnswer& r) { return r.wheels[static_cast<std::size_t>(end)].core_soft_probability.value_or(0); };
        const auto rank = [&](const RideAnswer& r) { return std::pair(melts(r), softens(r)); };
        for (const RideAnswer& r : a.rides)
            if (r.heat_withheld.empty() && (melts(r) >= measure || softens(r) >= soft) && (!worst || rank(r) > rank(*worst))) worst = &r;
        if (!worst) continue;
        const std::string wheel(parts::word_of(end));
        const WheelHeatAnswer& w = worst->wheels[static_cast<std::size_t>(end)];
        const Interval& core = w.judged.core_degC;
        const bool may_melt = melts(*worst) >= measure;
        const std::string what = fmt::format("on {} the aluminium core of the {} rotor reaches {:.0f} °C ({:.0f} to {:.0f}) and {} in {} of the likely cases.{}{} ", worst->file, wheel, core.p50, core.p05,
                                             core.p95, may_melt ? "begins to melt" : "is hot enough to soften", in_percent(may_melt ? melts(*worst) : softens(*worst)), assumed_of_brake(bike, end), taken_as_dry(w));
        const std::string look = "Look along its rim: metal that has come out, or a band that is wavy or loose, ends this rotor.";
        if (melts(*worst) >= hold) out.push_back(other(wheel + "_core_melts", State::held_back, "Do not ride such a road with this rotor: " + what + look + " A rotor of steel throughout, or a larger one, has no such limit."));
        else out.push_back(other(wheel + (may_melt ? "_core_may_melt" : "_core_may_soften"), State::measure_better, "It may be that " + what + look));
    }
}

}  // namespace

std::vector<inspect::Check> computed_reasons(const Answer& a, const parts::Library& library, const parts::Bike& bike, const Known& known) {
    using inspect::State;
    std::vector<inspect::Check> out;
    for (const RideAnswer& r : a.rides) {
        if (r.heat_withheld.empty() || (known.partly && !r.planned)) continue;   // the question of a way to come stays open
        out.push_back(other("heat_not_known", State::measure_better, fmt::format("{}: {}", r.file, r.heat_withheld)));
    }
    for (const RideAnswer& r : a.rides)
        for (const parts::End end : ends) {
            if (!r.heat_withheld.empty()) continue;
            const WheelHeatAnswer& w = r.wheels[static_cast<std::size_t>(end)];
            const auto p = w.fluid_boil_probability;
            if (!p || *p < 0.005) continue;   // the far tail: DESIGN 3, rule 4
            // Of described rides the worst stands for all: their descents are typical ones, and a diary has hundreds.
            if (r.described && &r != &*std::max_element(a.rides.begin(), a.rides.end(), [&](const RideAnswer& x, const RideAnswer& y) {
                    const auto of = [&](const RideAnswer& q) { return q.described ? q.wheels[static_cast<std::size_t>(end)].fluid_boil_probability.value_or(0) : -1.0; };
                    return of(x) < of(y);
                })) continue;
            const std::string what = fmt::format("On {} the {} fluid reaches its boiling point in {} of the likely cases; then the lever goes soft and the brake is gone.{}{}", r.file,
                                                 parts::word_of(end), in_percent(*p), assumed_of_brake(bike, end), taken_as_dry(w));
            if (*p >= 0.05) out.push_back(other(fmt::format("{}_fluid_boils", parts::word_of(end)), State::held_back, "Do not ride such a road with this brake as it is: " + what +
                                                " Renew the fluid, brake in short pulls, lighten the load or fit larger rotors."));
            else out.push_back(other(fmt::format("{}_fluid_may_boil", parts::word_of(end)), State::replace, what + " Renew the fluid before such a ride, and try the lever after every long descent."));
        }
    fade_reasons(a, library, bike, out);
    core_reasons(a, bike, out);
    const bool hand_told = bike.given.contains("rider.hand.strength_N");
    for (const stop::StopAnswer& s : a.stops) {
        const std::string name = fmt::format("{} brake{}, {}", stop::word_of(s.setup.brakes), s.setup.brakes == stop::Brakes::both ? "s" : "", stop::word_of(s.setup.surface));
        const bool both = s.setup.brakes == stop::Brakes::both;
        if (s.limited_by == stop::LimitedBy::does_not_stop && both)
            out.push_back(other("does_not_stop", State::held_back, fmt::format("Do not ride: with {} the bike does not stop in {} of the likely cases.", name, in_percent(s.not_stopping_share))));
        // The lever: by the bite that was told, and the give that is assumed.
        const parts::End end = s.setup.brakes == stop::Brakes::rear ? parts::End::rear : parts::End::front;
        if (both || bike.given.contains(fmt::format("{}.lever.bite_mm", parts::word_of(end)))) {
            if (s.limited_by == stop::LimitedBy::lever_travel && (!both || bike.given.contains("front.lever.bite_mm")))
                out.push_back(other(fmt::format("{}_lever_meets_bar", parts::word_of(end)), State::held_back,
                                    fmt::format("Do not ride: with {} the lever meets the bar before it gives the force that an ordinary stop needs.", name)));
            else if (!both && s.bar_share > 0.05)
                out.push_back(other(fmt::format("{}_lever_may_meet_bar", parts::word_of(end)), State::measure_better,
                                    fmt::format("With {} the lever meets the bar in {} of the likely cases before the stop has its force. Squeeze hard and measure what is left.", name, in_percent(s.bar_share))));
        }
        if (!both) continue;
        if (hand_told && s.weak_share > 0.5)
            out.push_back(other("hand_too_weak", State::held_back,
                                fmt::format("Do not ride this bike with this hand: with {} an ordinary stop needs {:.0f} N, the hand gives {:.0f} N.", name, s.lever_force_N.p50, s.hand_force_N.p50)));
        else if (s.weak_share > 0.05)
            out.push_back(other("hand_may_be_too_weak", State::measure_better,
                                fmt::format("With {} an ordinary stop needs a harder squeeze than this hand has in {} of the likely cases, cold and in gloves in {}. Try it, or measure the hand.", name,
                                            in_percent(s.weak_share), in_percent(s.cold_weak_share))));
    }
    return out;
}

namespace {

// What was read has been ridden on since: takes the wear of those rides off what is left, for pads and rotor each.
// doses: of the known rides, in their order.
void take_off_wear(wear::LifeCase& life, const Context& ctx, const PapersSay& say, const Case& c, parts::End end, std::size_t i, std::span<const heat::WearDose> doses,
                   std::span<const RideAnswer> rides, const Known& known) {
    const auto e = static_cast<std::size_t>(end);
    const auto worn = [&](const std::vector<std::uint8_t>& wore, double wear::LifeCase::*loss_mm, std::uint64_t stream) {
        std::vector<heat::WearDose> since;
        wear::RidingTotals totals;
        double unknown_m = 0, n = 0;
        for (std::size_t k = 0, dose = 0; k < rides.size(); ++k) {
            if (wore[k]) {
                n += 1;
                if (known.ride[k]) since.push_back(doses[dose]);
                else unknown_m += rides[k].distance_m;
            }
            dose += known.ride[k];
        }
        if (n == 0) return 0.0;
        double loss = life.*loss_mm * unknown_m / life.totals.distance_m;
        totals.rides = static_cast<double>(since.size());
        totals.distance_m = life.totals.distance_m;
        if (!since.empty()) loss += wear::life_case(c.bike, end, c.wear[e], since, totals).*loss_mm;
        // Like rides differ: the loss of n of them scatters by that of one over the root of n.   [EQ wear-10]
        return loss * std::max(0.0, 1 + std::sqrt(life.ride_cv2 / n) * normal_of(ctx.seed, hash_of("worn since the reading"), i, 2 * e + stream));
    };
    life.pad_usable_mm -= worn(say.wore_pads[e], &wear::LifeCase::pad_loss_mm, 0);
    life.rotor_allowance_mm -= worn(say.wore_rotor[e], &wear::LifeCase::rotor_loss_mm, 1);
}

// The papers' checks in place of the description's. A lever that nobody read at full force is judged by the estimate, which may
// hold back and never clears.
void add_checks(std::vector<inspect::Check>& checks, const PapersSay& say, const std::vector<inspect::Check>& described) {
    std::vector<inspect::Check> first, rest;   // holds, faults, happenings stand before what was computed
    for (const inspect::Check& c : say.checks) {
        const bool lever = c.id == inspect::CheckId::front_lever_travel || c.id == inspect::CheckId::rear_lever_travel;
        const auto estimate = std::find_if(described.begin(), described.end(), [&](const inspect::Check& d) { return d.id == c.id; });
        const bool better_told = lever && !c.done && !c.do_not_ride && estimate != described.end();
        (c.id == inspect::CheckId::other ? first : rest).push_back(better_told ? *estimate : c);
    }
    checks.insert(checks.begin(), first.begin(), first.end());
    checks.insert(checks.end(), rest.begin(), rest.end());
}

// A note, no reason: past rides are not the bike.
inspect::Check rides_not_known(const Answer& a, const Known& known) {
    const RideAnswer* first = nullptr;
    std::size_t n = 0;
    for (std::size_t i = 0; i < a.rides.size(); ++i)
        if (!known.ride[i] && !a.rides[i].planned && ++n == 1) first = &a.rides[i];
    return {.id = inspect::CheckId::other, .code = "rides_not_known", .state = inspect::State::no_reason_found, .done = false, .do_not_ride = false,
            .text = fmt::format("What the brakes did is not known for {} of {} rides ({}{}): they count as the others do, metre for metre.", n, a.rides.size(), first ? first->file : "", n > 1 ? ", ..." : "")};
}

std::string limit_words(const char* part, wear::LimitFrom from);

// Lives of one wheel as they were learned.
void take_learned(Answer& a, parts::End end) {
    const auto e = static_cast<std::size_t>(end);
    const LifeReport& r = *a.learned;
    const auto limit_from = [](const PartLife& p) { return p.fitted.limit_stated ? wear::LimitFrom::maker : wear::LimitFrom::common_practice; };
    if (const auto& p = r.pads[e]) {
        const wear::LifeForecast& f = p->forecast;
        LifeSpan span{.remaining_km = f.remaining_km, .remaining_rides = f.remaining_rides, .remaining_descent_m = {}, .look_by_km = f.look_by_km, .look_by_rides = f.look_by_rides,
                      .look_by = p->look_by, .capped = f.capped_share > 0.05, .limit_text = limit_words("pads", limit_from(*p))};
        if (p->undated) span.look_by_km = 0, span.look_by_rides = 0;   // its newest reading is not believed: to be looked at now
        if (f.remaining_descent_m && f.remaining_descent_m->p95 > 0) span.remaining_descent_m = f.remaining_descent_m;
        a.life[e].pad = span;
    }
    for (const PartLife& p : r.parts) {
        if (!is_rotor(p.fitted.component) || wear::wheel_of(p.fitted.component) != static_cast<int>(e)) continue;
        const wear::LifeForecast& f = p.forecast;
        RotorLife rotor{.remaining_km = f.remaining_km, .pad_sets = {}, .look_by_km = f.look_by_km, .look_by_rides = f.look_by_rides, .look_by = p.look_by, .capped = f.capped_share > 0.05,
                        .limit_text = limit_words("rotor", limit_from(p))};
        if (p.undated) rotor.look_by_km = 0, rotor.look_by_rides = 0;   // no reading can be relied on: to be looked at now
        // Sets of new pads in that time: middle over middle, and both spreads of the logarithm taken as unrelated.
        if (const auto& pad = r.pads[e]; pad && pad->forecast.remaining_km.p05 > 0 && f.remaining_km.p05 > 0 && pad->forecast.thickness_mm.p50 > pad->fitted.limit_mm) {
            const Interval& k = pad->forecast.remaining_km;
            const double whole = (pad->fitted.new_mm - pad->fitted.limit_mm) / (pad->forecast.thickness_mm.p50 - pad->fitted.limit_mm), sets = f.remaining_km.p50 / (k.p50 * std::max(1.0, whole));
            const double spread = std::hypot(std::log(k.p95 / k.p05), std::log(f.remaining_km.p95 / f.remaining_km.p05)) / 2;
            rotor.pad_sets = Interval{sets * std::exp(-spread), sets, sets * std::exp(spread)};
        }
        a.life[e].rotor = rotor;
    }
}

std::string limit_words(const char* part, wear::LimitFrom from) {
    return from == wear::LimitFrom::maker ? fmt::format("down to the maker's limit of the {}", part)
                                          : fmt::format("down to a limit of common practice: the maker's limit of the {} is not known", part);
}

//! Two recordings of this list that were made at the same time for more than half of the shorter one are one ride, most likely by two recorders.
void say_ridden_twice(std::span<RideAnswer> rides) {
    std::vector<std::size_t> order;
    for (std::size_t i = 0; i < rides.size(); ++i)
        if (rides[i].start_unix_s && rides[i].duration_s > 0) order.push_back(i);
    std::stable_sort(order.begin(), order.end(), [&](std::size_t a, std::size_t b) { return *rides[a].start_unix_s < *rides[b].start_unix_s; });
    const auto end_of = [&](std::size_t i) { return *rides[i].start_unix_s + rides[i].duration_s; };
    std::optional<std::size_t> longest;   // of those before, the one that ends last
    for (const std::size_t i : order) {
        if (longest && std::min(end_of(i), end_of(*longest)) - *rides[i].start_unix_s > 0.5 * std::min(rides[i].duration_s, rides[*longest].duration_s)) {
            RideAnswer& later = rides[std::max(i, *longest)];
            later.faults.push_back({.kind = ride::FaultKind::other, .count = 1, .seconds = later.duration_s,
                                    .text = fmt::format("Recorded at the same time as {}. If two recorders saw one ride, its braking counts twice here: leave one of the two out.", rides[std::min(i, *longest)].file)});
        }
        if (!longest || end_of(i) > end_of(*longest)) longest = i;
    }
}

}  // namespace

Result<std::vector<ride::MotionPaths>> motion_alone(const Context& ctx, const parts::Library& library, const Request& request) {
    const Cases drawn = draw_cases(all_inputs(library, request), std::max(request.cases, tail_cases), ctx.seed);
    const std::vector<Case> all = cases_of(library, request.bike, drawn);
    std::vector<ride::MotionPaths> motions;
    for (const RideInput& input : request.rides) {
        Result<ride::MotionPaths> m = motion_of(ctx, library, request, input, ride_unknowns(ctx, library, input.tags, input.track.content_hash, median_of(input.track.temperature_degC), all));
        if (!m) return m.error();
        motions.push_back(*std::move(m));
    }
    return motions;
}

Result<Answer> answer(const Context& ctx, const parts::Library& library, const Request& request) { return answer_with(ctx, library, request, nullptr); }

Result<Answer> answer_with(const Context& ctx, const parts::Library& library, const Request& request, const WorkSource* source, EachCase* each) {
    Answer a;
    a.seed = ctx.seed;
    a.cases = request.cases;
    a.bike = request.bike;
    a.today = request.today;

    const Cases drawn = draw_cases(each ? each->inputs : all_inputs(library, request), std::max(request.cases, tail_cases), ctx.seed);
    const std::vector<Case> all = cases_of(library, request.bike, drawn);
    const auto note = [&](const RideWork& work) {
        if (each) each->rides.push_back(wheel_cases(work, request.bike, std::span(all).first(request.cases)));
    };
    const std::span<const Case> cases(all.data(), request.cases);

    // What is learned from readings weighs the cases afterwards.
    const bool learns = request.papers && request.papers->learn;
    EachCase for_weights;
    EachCase* of_stops = each ? each : learns ? &for_weights : nullptr;
    std::vector<std::shared_ptr<const Anchored>> heat;   // [rides]

    Doses doses;
    for (std::size_t i = 0; i < request.rides.size(); ++i) {
        const double step = (request.planned.empty() ? 0.9 : 0.7) / static_cast<double>(request.rides.size());
        const double from = step * static_cast<double>(i), to = from + step;
        Result<RideWork> w = source ? source->ride(ctx, i, from, to) : ride_work(ctx, library, request, request.rides[i], cases, from, to);
        if (!w) return w.error();
        note(*w);
        if (learns) heat.push_back(anchored(*w));
        a.rides.push_back(answer_of_work(*std::move(w), library, request.bike, cases, doses));
    }
    say_ridden_twice(a.rides);
    for (std::size_t i = 0; i < request.planned.size(); ++i) {
        const double step = 0.2 / static_cast<double>(request.planned.size());
        Result<RideWork> w = planned_work(ctx, library, request, request.planned[i], drawn, cases, 0.7 + step * static_cast<double>(i), 0.7 + step * static_cast<double>(i + 1));
        if (!w) return w.error();
        note(*w);
        if (learns) heat.push_back(anchored(*w));
        a.rides.push_back(answer_of_work(*std::move(w), library, request.bike, cases, doses));
    }
    Result<std::vector<RideAnswer>> diary = described_answers(ctx, library, request, drawn, all, std::span(a.rides).first(request.rides.size()), doses, source, learns ? &heat : nullptr);
    if (!diary) return diary.error();
    for (RideAnswer& r : *diary) a.rides.push_back(std::move(r));
    const std::size_t rides_given = a.rides.size();
    if (rides_given == 0 && request.terrain) {
        Result<RideWork> w = descent_work(ctx, library, *request.terrain, {}, std::nullopt, cases);
        if (!w) return w.error();
        note(*w);
        Doses not_of_a_ride;   // the life of the six questions has its own
        a.rides.push_back(answer_of_work(*std::move(w), library, request.bike, cases, not_of_a_ride));
    }
    std::vector<RidingRate> rates = rates_of_riding(a, library, request.latest_day);
    if (ctx.progress) ctx.progress(0.92, "stops");

    const std::optional<double> load = heaviest_load(request);
    std::vector<Case> loaded(cases.begin(), cases.end());
    std::vector<double> masses;
    for (Case& c : loaded) {
        const double told = mass_with_load_kg(c.bike, load);
        if (told > c.bike.total_mass_kg.value) c.bike = with_load(std::move(c.bike), load);
        masses.push_back(c.bike.total_mass_kg.value);
    }
    a.stop_mass_kg = quantile(masses, 0.5);
    a.stops = stops_of(ctx, library, request, loaded, of_stops);
    if (ctx.stopped()) return cancelled();
    for (const parts::End end : ends) a.levers[static_cast<std::size_t>(end)] = lever_of(loaded, end, of_stops);
    const std::array<stop::LeverAnswer, 2> plain_levers = a.levers;
    std::array<stop::LeverAnswer, 2> levers_by_weight = a.levers;
    const auto weigh_stops = [&](const CaseWeights& weights) {
        a.share = weights.said;
        for (std::size_t s = 0; s < a.stops.size(); ++s) a.stops[s] = weigh(a.stops[s], of_stops->stops[s], weights);
        for (std::size_t e = 0; e < 2; ++e) {
            levers_by_weight[e] = stop::lever_answer(of_stops->levers[e], weights.cases);
            a.levers[e] = nearer(plain_levers[e], levers_by_weight[e]);
        }
    };
    if (each && each->learned)
        if (const std::optional<CaseWeights> weights = weights_of(*each->learned, cases)) weigh_stops(*weights);
    Result<std::vector<Yardstick>> figures = yardsticks(ctx, library, request.bike, cases, each ? &each->yardsticks : nullptr);
    if (!figures) return figures.error();
    a.yardsticks = *std::move(figures);

    // Life: case i wears by the dose of anchor i % anchors.
    std::array<std::vector<double>, 2> pad_km;
    std::vector<inspect::Check> look_by;
    wear::RidingTotals totals;
    const Known known = known_rides(a, library, request.papers.has_value());
    if (rides_given > 0) {
        for (std::size_t i = 0; i < a.rides.size(); ++i) {
            if (!known.ride[i]) continue;
            totals.rides += 1;
            totals.distance_m += a.rides[i].distance_m;
            totals.descent_m += a.rides[i].descent_m;
        }
    }
    const double described_m = library.value("riding.ride_km") * 1000;
    a.life_withheld = life_withheld_of(a, request, known, totals);
    std::optional<CaseWeights> by_share;
    // From the papers it is learned from the readings, by the method of `life`.
    if (request.papers && request.papers->learn && a.life_withheld.empty()) {
        if (ctx.progress) ctx.progress(0.95, "wear");
        LearnSay learn = *request.papers->learn;
        fill_lines(learn, a.rides, doses, known.ride);
        Result<LifeReport> report = life_report(ctx, library, learn.ask);
        if (!report && report.error().code != Errc::bad_input) return report.error();
        if (report) a.learned = *std::move(report);   // a bike without parts in the papers: as on files
        if (a.learned && a.learned->riding.days_a_ride > 0)   // every ride of the papers counts, not only those that were asked about
            rates = a.learned->riding_rates, say_riding(a, rates);
        if (a.learned && a.learned->share) {
            std::vector<double> habits;
            for (const Case& c : cases) habits.push_back(c.habit);
            a.learned->share->anchors = anchor_shares(learn);
            if (!a.learned->share->anchors.empty()) a.learned->share->habits.assign(habits.begin(), habits.begin() + static_cast<long>(anchor_cases));
            if (const std::optional<CaseWeights> weights = weights_of(*a.learned->share, a.learned->share->anchors, habits)) {
                weigh_stops(*weights);
                weigh(a.rides, heat, doses, *weights, library, request.bike, cases);
                by_share = *weights;
            }
        }
    }
    if (request.papers && request.papers->temperatures)
        a.temperatures = weigh_by_temperatures(a.rides, heat, doses, *request.papers->temperatures, by_share ? &*by_share : nullptr, library, request.bike, cases);
    for (const parts::End end : ends) {
        const auto e = static_cast<std::size_t>(end);
        if (!a.life_withheld.empty()) continue;
        const bool learned = a.learned && a.learned->pads[e];   // of an end without parts in the papers: as on files
        if (learned) {
            take_learned(a, end);
            if (!each) continue;
        }
        if (ctx.stopped()) return cancelled();
        if (ctx.progress) ctx.progress(0.95 + 0.025 * static_cast<double>(e), "wear");
        std::vector<wear::LifeCase> lives;
        std::vector<double> rotor_rides;
        std::vector<std::vector<double>> pad_days(rates.size()), rotor_days(rates.size());   // by each rate of riding
        lives.reserve(all.size());
        for (std::size_t i = 0; i < all.size(); ++i) {
            std::vector<heat::WearDose> mine;
            wear::RidingTotals of = totals;
            if (!doses.empty()) {
                for (std::size_t k = 0; k < doses.size(); ++k)
                    if (known.ride[k]) mine.push_back(doses[k][e][i % doses[k][e].size()]);
            } else {
                const wear::DescribedUnknowns u = wear::described_unknowns_of(CaseRow(drawn, i));
                wear::DescribedRide ride = wear::typical_ride(u, described_m, balance::slowed_kg(balance::geometry_of(all[i].bike, all[i].balance.trailer_own_share)));
                ride.wet_share = all[i].untold_wet;
                ride.grit_share = all[i].untold_grit;
                mine.push_back(wear::described_dose(ride, u, end, all[i].habit));
                of = {.rides = 1, .distance_m = ride.distance_m, .descent_m = ride.descent_m};
            }
            lives.push_back(wear::life_case(all[i].bike, end, all[i].wear[e], mine, of));
            if (request.papers) take_off_wear(lives.back(), ctx, *request.papers, all[i], end, i, mine, a.rides, known);
            const wear::LifeCase& l = lives.back();
            const double rides_left = wear::rides_left(l.pad_usable_mm, l.pad_loss_mm / l.totals.rides, l.ride_cv2, l.ride_z);
            const double ride_km = l.totals.distance_m / 1000 / l.totals.rides;   // in this order, as life_of: to the last bit
            pad_km[e].push_back(std::min(l.longest_km, rides_left * ride_km));
            const double most_rides = l.longest_km * 1000 * l.totals.rides / l.totals.distance_m;
            const double rotor_left = std::min(most_rides, wear::rides_left(l.rotor_allowance_mm, l.rotor_loss_mm / l.totals.rides, l.ride_cv2, l.ride_z));
            rotor_rides.push_back(rotor_left);
            if (each) each->rotor_km[e].push_back(rotor_left * ride_km);
            for (std::size_t k = 0; k < rates.size(); ++k) {
                const double per_day = 1 / rates[k].days_a_ride * std::exp(rates[k].log_sd * normal_of(ctx.seed, hash_of("rides per day"), i, 0));
                pad_days[k].push_back(std::min(rides_left, most_rides) / per_day);
                rotor_days[k].push_back(rotor_left / per_day);
            }
        }
        Result<wear::LifeAnswer> life = wear::life_of(lives);
        if (!life) return Error{life.error().code, fmt::format("{}: {}", rides_given == 0 ? "the described riding" : a.rides.front().file, life.error().text)};
        const wear::PadLife& pad = life->pad;
        const auto day = [&](double days) -> std::optional<long> {
            if (!a.today) return std::nullopt;
            return std::min(*a.today + static_cast<long>(std::floor(std::min(days, library.value("riding.look_within_days")))), last_day_shown);
        };
        constexpr double risk = 0.005;   // DESIGN 3, rule 4
        const auto soonest = [](const std::vector<std::vector<double>>& ways) {
            double least = INFINITY;
            for (const std::vector<double>& days : ways) least = std::min(least, quantile(days, risk));
            return least;
        };
        const double pad_look_days = soonest(pad_days), rotor_look_rides = quantile(rotor_rides, risk);
        LifeSpan span{.remaining_km = pad.remaining.km, .remaining_rides = pad.remaining.rides,
                      .remaining_descent_m = pad.remaining.descent_m,
                      .look_by_km = pad.look_by.km, .look_by_rides = pad.look_by.rides,
                      .look_by = day(pad_look_days), .capped = pad.remaining.capped_share > 0.05, .limit_text = limit_words("pads", pad.limit_from)};
        RotorLife rotor{.remaining_km = life->rotor.remaining.km, .pad_sets = life->rotor.pad_sets,
                        .look_by_km = rotor_look_rides * lives.front().totals.distance_m / 1000 / lives.front().totals.rides, .look_by_rides = rotor_look_rides,
                        .look_by = day(soonest(rotor_days)),
                        .capped = life->rotor.remaining.capped_share > 0.05, .limit_text = limit_words("rotor", life->rotor.limit_from)};
        if (learned) continue;
        a.life[e] = {span, rotor};
        // Worth a line in the verdict when it falls within a month of riding.
        if (pad_look_days <= 30) look_by.push_back(wear::look_by_check(end, pad, span.look_by ? format_day(*span.look_by) : ""));
    }

    // What the learned forecasts say of today, and what is to be looked at within a month.
    if (a.learned) {
        std::vector<inspect::Check> now = life_checks(*a.learned, a.today ? format_day(*a.today) : "");
        look_by.insert(look_by.begin(), now.begin(), now.end());
    }

    // Is there a reason not to ride.
    const inspect::Practice practice = inspect::practice_of(library);
    std::array<inspect::LeverPoints, 2> points;
    for (const parts::End end : ends) {
        const auto e = static_cast<std::size_t>(end);
        if (!request.bike.given.contains(fmt::format("{}.lever.bite_mm", parts::word_of(end)))) continue;
        points[e] = worse_points(plain_levers[e], levers_by_weight[e], request.bike.wheel(end).actuation, practice);
    }
    // What can fail on the next ride stands before what was never measured.
    a.computed = computed_reasons(a, library, request.bike, known);
    if (a.share)   // kept with the others, so that every verdict of the papers says it
        if (std::optional<inspect::Check> beyond = share_beyond_cases(*a.share)) a.computed.push_back(*std::move(beyond));
    std::vector<inspect::Check> checks = a.computed;
    if (known.partly) checks.push_back(rides_not_known(a, known));
    checks.insert(checks.end(), look_by.begin(), look_by.end());
    std::vector<inspect::Check> described = inspect::checks_of(request.bike, practice, points[0], points[1]);
    if (request.papers) add_checks(checks, *request.papers, described);
    else {
        // As with papers: what is seen on the bike stands before what was computed.
        const auto seen = std::stable_partition(described.begin(), described.end(), [](const inspect::Check& c) { return c.id == inspect::CheckId::other; });
        checks.insert(checks.end(), seen, described.end());
        checks.insert(checks.begin(), described.begin(), seen);
    }
    // Whatever holds the bike back takes the numbers away there too.
    if (a.learned)
        for (const inspect::Check& c : checks)
            if (c.do_not_ride) hold_back(*a.learned, c.text);
    a.verdict = inspect::combine(std::move(checks));

    if (each) each->pad_km = pad_km;
    a.assumed = assumptions(library, request, drawn, a);
    if (a.learned && (a.learned->pads[0] || a.learned->pads[1])) a.measure_next = a.verdict.do_not_ride ? std::nullopt : next_measurement(library, a, *a.learned);
    else if (!pad_km[0].empty() && !a.verdict.do_not_ride) a.measure_next = next_measurement(library, a, drawn, pad_km);
    a.cautions = cautions(a);
    if (a.learned)
        for (const auto* said : {&a.learned->swollen, &a.learned->shortened}) a.cautions.insert(a.cautions.end(), said->begin(), said->end());
    if (!a.verdict.do_not_ride && a.today) {   // held back, no day is given
        std::vector<LookBy> looks;
        for (const auto& life : a.life) {
            if (life.pad && life.pad->look_by) looks.push_back({life.pad->look_by_rides, static_cast<double>(*life.pad->look_by - *a.today)});
            if (life.rotor && life.rotor->look_by) looks.push_back({life.rotor->look_by_rides, static_cast<double>(*life.rotor->look_by - *a.today)});
        }
        a.few_rides = few_rides_words(rates, looks);
        if (!a.few_rides.empty()) a.cautions.push_back(a.few_rides);
    }
    return a;
}

}  // namespace bw::answer
