// SPDX-License-Identifier: Apache-2.0
// How the forecast of one part narrowed with each reading: the same learning, with what was known by then.  Layer: answer
#include <algorithm>

#include "answer/life.hpp"

namespace bw::answer {

Result<std::vector<Narrowed>> life_narrowed(const Context& ctx, const LifeAsk& ask, const PartLife& part, std::size_t most) {
    const wear::FittedRow& f = part.fitted;
    std::vector<const wear::ThicknessRow*> read;
    for (const wear::ThicknessRow& r : ask.history.readings)
        if (!r.too_thick && r.component == f.component && r.set == f.set && r.ride <= ask.as_of && (read.empty() || read.back()->ride != r.ride)) read.push_back(&r);
    if (read.size() > most) read.erase(read.begin(), read.end() - static_cast<long>(most));
    struct Moment {
        long as_of;
        std::optional<long> day;
    };
    std::vector<Moment> moments;
    const long on = std::max(0L, wear::first_ride_of(f) - 1);
    const std::vector<double> way = wear::way_on_m(ask.history, f);
    if (read.empty() || read.front()->ride > on) moments.push_back({on, {}});
    for (const wear::ThicknessRow* r : read) moments.push_back({r->ride, r->day});
    std::vector<Narrowed> out;
    for (const Moment& m : moments) {
        if (ctx.stopped()) return Error{Errc::cancelled, "stopped; nothing was written"};
        wear::History known = ask.history;
        // learn() goes by the ride; what was read after the last ride of the time is told by the same number, so nothing else is cut.
        std::erase_if(known.readings, [&](const wear::ThicknessRow& r) { return r.ride > m.as_of || r.too_thick; });
        const Result<wear::Learned> learned = wear::learn(ctx, known, ask.priors, m.as_of, ask.typical, ask.options);
        if (!learned) return learned.error();
        const Result<wear::LifeForecast> forecast = learned->forecast(ctx, {f.component, f.set, m.as_of});
        if (!forecast) return forecast.error();
        const double ridden_km = way[static_cast<std::size_t>(std::count_if(ask.history.rides.begin(), ask.history.rides.end(), [&](const wear::RiddenRow& r) { return r.ride <= m.as_of; }))] / 1000;
        const Interval& to_come = forecast->remaining_km;
        out.push_back({m.as_of, m.day, forecast->readings, {std::max(0.0, forecast->thickness_mm.p05), std::max(0.0, forecast->thickness_mm.p50), std::max(0.0, forecast->thickness_mm.p95)}, {ridden_km + to_come.p05, ridden_km + to_come.p50, ridden_km + to_come.p95}});
    }
    return out;
}

}  // namespace bw::answer
