// SPDX-License-Identifier: Apache-2.0
// Remaining life.                                                                                           Layer: wear
#include "wear/life.hpp"

#include <algorithm>
#include <cassert>
#include <cmath>
#include <fmt/format.h>
#include <limits>
#include <vector>

#include "base/text.hpp"

namespace bw::wear {

namespace {

constexpr double look_by_risk = 0.005;             // DESIGN 3.4
constexpr std::size_t least_for_quantile = 1000;   // five cases beyond the 0.5 % point

std::string with_thousands(double value) {
    const double rounded = value < 20 ? std::round(value) : [&] {
        const double unit = std::pow(10.0, std::floor(std::log10(value)) - 1);   // two digits: more would be a pretence
        return std::round(value / unit) * unit;
    }();
    return in_threes(fmt::format("{:.0f}", rounded));
}

}  // namespace

double rides_left(double usable_mm, double mean_loss_mm, double cv2, double z) {
    if (!(usable_mm > 0)) return 0;                // also NaN
    if (!(mean_loss_mm > 0)) return std::numeric_limits<double>::infinity();
    // n m + z cv m sqrt(n) = usable, in sqrt(n); the root with the plus sign, written without cancellation.   [EQ wear-9]
    const double half = 0.5 * z * std::sqrt(cv2);
    const double root = std::sqrt(half * half + usable_mm / mean_loss_mm);
    const double sqrt_n = half > 0 ? usable_mm / mean_loss_mm / (root + half) : root - half;
    return sqrt_n * sqrt_n;
}

LifeCase life_case(const parts::Bike& case_bike, parts::End end, const WearUnknowns& u, std::span<const heat::WearDose> rides,
                   const RidingTotals& totals) {
    assert(!rides.empty());
    const parts::Wheel& wheel = case_bike.wheel(end);
    const Side faster = u.left_right >= 0 ? Side::left : Side::right;

    std::vector<double> pad_mm;
    pad_mm.reserve(rides.size());
    double rotor_mm = 0;
    for (const heat::WearDose& dose : rides) {
        pad_mm.push_back(pad_loss_mm(pad_volume_mm3(dose, u, faster), wheel.pads.area_mm2.value));
        rotor_mm += rotor_loss_mm(rotor_volume_mm3(dose, u), wheel.rotor);
    }
    // Scatter of a ride: how unlike the given rides are, and what like rides still differ by.   [EQ wear-10]
    const double mean = mean_of(pad_mm);
    const double between = mean > 0 ? sd_of(pad_mm) / mean : 0;
    const double cv2 = between * between + std::expm1(u.ride_log_sd * u.ride_log_sd);

    double total_mm = 0;
    for (const double mm : pad_mm) total_mm += mm;

    const bool maker_rotor = wheel.rotor.least_thickness_mm.has_value();
    const double thickness = wheel.rotor.thickness_mm.value;
    const double practice = thickness >= u.rotor_thick_from_mm ? u.rotor_limit_thick_mm : u.rotor_limit_thin_mm;
    const double pad_limit = wheel.pads.least_friction_mm ? wheel.pads.least_friction_mm->value : u.pad_limit_mm;
    return {.pad_usable_mm = parts::least_friction(wheel.pads).value - pad_limit,
            .pad_loss_mm = total_mm,
            .rotor_allowance_mm = thickness - (maker_rotor ? wheel.rotor.least_thickness_mm->value : practice),
            .rotor_loss_mm = rotor_mm,
            .new_pad_usable_mm = u.new_friction_mm - pad_limit,
            .ride_cv2 = cv2,
            .ride_z = u.ride_z,
            .longest_km = u.longest_km,
            .totals = totals,
            .pad_limit_from = wheel.pads.least_friction_mm ? LimitFrom::maker : LimitFrom::common_practice,
            .rotor_limit_from = maker_rotor ? LimitFrom::maker : LimitFrom::common_practice};
}

namespace {

// Lives of one component over the cases, in rides, km and metres of descent, cut at the cap.
struct Lives {
    std::vector<double> rides, km, descent_m;
    double capped_share = 0, past_share = 0;
    bool descends = true;
};

Lives lives_of(std::span<const LifeCase> cases, double LifeCase::*usable, double LifeCase::*loss) {
    Lives lives;
    for (const LifeCase& c : cases) {
        const double km_ride = c.totals.distance_m / 1000 / c.totals.rides;
        const double most = c.longest_km / km_ride;
        const double n = rides_left(c.*usable, c.*loss / c.totals.rides, c.ride_cv2, c.ride_z);
        const double rides = std::min(n, most);
        if (n >= most) lives.capped_share += 1;
        if (!(c.*usable > 0)) lives.past_share += 1;
        lives.rides.push_back(rides);
        lives.km.push_back(n >= most ? c.longest_km : rides * km_ride);
        lives.descent_m.push_back(rides * c.totals.descent_m / c.totals.rides);
        lives.descends = lives.descends && c.totals.descent_m > 0;
    }
    lives.capped_share /= static_cast<double>(cases.size());
    lives.past_share /= static_cast<double>(cases.size());
    return lives;
}

Remaining remaining_of(const Lives& lives) {
    Remaining r{.km = interval_of(lives.km), .rides = interval_of(lives.rides), .descent_m = {}, .capped_share = lives.capped_share};
    if (lives.descends) r.descent_m = interval_of(lives.descent_m);
    return r;
}

// Too few cases to see a chance of 0.5 %: the worst of them.   [EQ wear-11]
double at_look_by(std::span<const double> lives) {
    return lives.size() < least_for_quantile ? quantile(lives, 0) : quantile(lives, look_by_risk);
}

}  // namespace

Result<LifeAnswer> life_of(std::span<const LifeCase> cases, std::optional<double> days_per_ride) {
    if (cases.empty()) return Error{Errc::out_of_domain, "life: there are no cases"};
    for (const LifeCase& c : cases)
        if (!(c.totals.rides > 0) || !(c.totals.distance_m > 0) || !(c.longest_km > 0))
            return Error{Errc::out_of_domain,
                         fmt::format("life: {} rides over {} m; give at least one ride with a distance", c.totals.rides,
                                     c.totals.distance_m)};

    LifeAnswer a;
    const Lives pad = lives_of(cases, &LifeCase::pad_usable_mm, &LifeCase::pad_loss_mm);
    a.pad.remaining = remaining_of(pad);
    a.pad.past_limit_probability = pad.past_share;
    a.pad.limit_from = cases.front().pad_limit_from;
    a.pad.look_by.km = at_look_by(pad.km);
    a.pad.look_by.rides = at_look_by(pad.rides);
    if (pad.descends) a.pad.look_by.descent_m = at_look_by(pad.descent_m);
    if (days_per_ride) a.pad.look_by.days = a.pad.look_by.rides * *days_per_ride;
    a.pad.look_by.capped = a.pad.look_by.km >= cases.front().longest_km;

    const Lives rotor = lives_of(cases, &LifeCase::rotor_allowance_mm, &LifeCase::rotor_loss_mm);
    a.rotor.remaining = remaining_of(rotor);
    a.rotor.past_limit_probability = rotor.past_share;
    a.rotor.limit_from = cases.front().rotor_limit_from;
    // A ratio of wear: no cap may enter, and a slightly negative dose divides out. Scatter of rides has gone over many
    // sets; bedding-in raises both alike.
    std::vector<double> sets;
    for (const LifeCase& c : cases) {
        const double ratio = c.pad_loss_mm / c.rotor_loss_mm * std::max(c.rotor_allowance_mm, 0.0) / c.new_pad_usable_mm;
        if (std::isfinite(ratio) && c.new_pad_usable_mm > 0) sets.push_back(std::max(ratio, 0.0));
    }
    if (!sets.empty()) a.rotor.pad_sets = interval_of(sets);
    return a;
}

std::string km_words(const Remaining& r) {
    if (r.capped_share > 0.5) return fmt::format("over {} km", with_thousands(r.km.p05));
    if (r.capped_share > 0.05)
        return fmt::format("about {} km ({} to over {})", with_thousands(r.km.p50), with_thousands(r.km.p05), with_thousands(r.km.p95));
    return fmt::format("about {} km ({} to {})", with_thousands(r.km.p50), with_thousands(r.km.p05), with_thousands(r.km.p95));
}

std::string pad_text(parts::End end, const PadLife& life) {
    std::string text = fmt::format("The {} pads have {} left in riding like this. Look at them after {} km: until then the chance of "
                                   "being past the limit is under 0.5 %.",
                                   parts::word_of(end), km_words(life.remaining), with_thousands(std::floor(life.look_by.km)));
    if (life.limit_from == LimitFrom::common_practice)
        text += " The maker's limit is not known: 0.5 to 1.0 mm of friction material was taken, by common practice.";
    return text;
}

std::string rotor_text(parts::End end, const RotorLife& life) {
    std::string text = fmt::format("The {} rotor has {} left", parts::word_of(end), km_words(life.remaining));
    if (life.pad_sets)
        text += fmt::format(", about {} sets of pads ({} to {})", with_thousands(life.pad_sets->p50), with_thousands(life.pad_sets->p05),
                            with_thousands(life.pad_sets->p95));
    text += '.';
    if (life.limit_from == LimitFrom::common_practice)
        text += " Its limit is not known, common practice was taken: that clears nothing, find the limit stamped on the rotor.";
    return text;
}

inspect::Check look_by_check(parts::End end, const PadLife& life, const std::string& date) {
    const std::string when = date.empty() ? std::string() : fmt::format(", by {}", date);
    const bool now = life.look_by.km < 1;
    inspect::Check check;
    check.id = inspect::CheckId::other;
    check.code = fmt::format("{}_pads_look_{}", parts::word_of(end), now ? "now" : "by");
    check.state = inspect::State::look_by;
    check.done = true;
    if (now)
        check.text = fmt::format("Measure the {} pads before the next ride: the chance that they are past their limit is over 0.5 % already.",
                                 parts::word_of(end));
    else if (life.look_by.capped)
        check.text = fmt::format("The {} pads hardly wear in riding like this; look at them at every service.", parts::word_of(end));
    else {
        const double rides = std::floor(life.look_by.rides);
        check.text = fmt::format("Measure the {} pads again after {} km{}{}.", parts::word_of(end), with_thousands(std::floor(life.look_by.km)),
                                 rides >= 2 ? fmt::format(" or {:.0f} rides like these", rides) : std::string(), when);
    }
    return check;
}

}  // namespace bw::wear
