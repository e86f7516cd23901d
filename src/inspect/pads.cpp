// SPDX-License-Identifier: Apache-2.0
// Uneven pads: how uneven, how sure, and what it points to. Causes are common practice.                  Layer: inspect
#include "inspect/pads.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <map>

#include "base/sampling.hpp"

namespace bw::inspect {

namespace {

struct Known {
    const char* pattern;
    const char* cause;   // last part of its row's id
    const char* text;
};
constexpr Known causes[] = {
    {"left_right", "piston_sticks", "a piston that moves badly on the side of the thicker pad: clean and work both pistons as the maker says, or have it done"},
    {"left_right", "caliper_off_centre", "a caliper that stands off the rotor's middle: centre it, then look at the gap on both sides"},
    {"left_right", "one_pad_moves", "a caliper in which one pad alone moves: the other is set by hand as its maker says"},
    {"left_right", "rotor_bent", "a rotor that runs out: read it with a dial"},
    {"leading_trailing", "pad_tips", "a pad that tips on its piston, or is loose in its slot: look at spring, pin and slot"},
    {"leading_trailing", "caliper_askew", "a caliper or mount that stands askew: check bolts and mount, have the mount faced"},
    {"leading_trailing", "usual", "the leading edge bites more and wears first: usual while small"},
    {"inner_outer", "caliper_askew", "a mount that is not square to the rotor: have it faced by a mechanic"},
    {"inner_outer", "overlap", "pads that stand over the edge of the band, or the wrong rotor size or adapter: look for a ledge on the pad"},
    {"inner_outer", "hub_play", "play in the hub's bearings: push the rim sideways and feel"},
    {"gap_left_right", "caliper_off_centre", "a caliper that stands off the rotor's middle: centre it"},
    {"gap_left_right", "piston_sticks", "a piston that moves badly on the wider side: clean and work both pistons as the maker says, or have it done"},
    {"gap_left_right", "wheel_askew", "a wheel that sits askew in its dropouts or on its axle: seat it and close it again"},
    {"gap_along", "caliper_askew", "a caliper that is turned against the rotor: loosen its bolts, set it parallel, tighten in turns to the maker's torque"},
    {"gap_along", "mount_not_square", "a mount that is not square: have it faced by a mechanic"},
    {"gap_across", "mount_not_square", "a mount that is not square to the rotor, or dirt or a washer under one bolt: clean it, then have it faced by a mechanic"},
    {"gap_across", "hub_play", "play in the hub's bearings: push the rim sideways and feel"},
    {"gap_wedge", "pads_worn_wedge", "pads that are worn to wedges: measure their edges; new pads once the caliper is set parallel"},
    {"gap_wedge", "spring_bent", "a spring or pad that sits wrongly in its slot: take them out and look"},
    {"lever_nearer_fluid", "air", "air in the fluid: bleed it"},
    {"lever_nearer_fluid", "fluid_lost", "fluid lost: look for a damp place at lever, hose and caliper before anything else"},
    {"lever_nearer_fluid", "pads_worn", "worn pads that the reservoir or the seals no longer make up for: measure the pads"},
    {"lever_nearer_fluid", "seals", "seals that pull the pistons back further, or a piston that sticks: clean and work the pistons as the maker says"},
    {"lever_nearer_cable", "pads_worn", "worn pads: measure them, then set the pads at the caliper as the maker says"},
    {"lever_nearer_cable", "cable_settled", "a cable or housing that settled or stretched: look at its ends and strands"},
    {"lever_nearer_cable", "clamp_slips", "a cable that slips in its clamp: mark it, pull hard, look again; do not ride with one that slips"},
    {"lever_pumps_up", "air", "air in the fluid: bleed it"},
    {"lever_pumps_up", "pushed_back", "pads that are pushed back between pulls: read the run-out, feel for play in the hub"},
    {"lever_pumps_up", "fluid_low", "too little fluid: look for a leak first"},
    {"lever_sinks", "leak", "a leak to the outside: look for a damp place at lever, hose and caliper"},
    {"lever_sinks", "seal", "a seal in the lever that lets fluid past: have the lever seen to"},
    {"lever_sinks", "air", "air in the fluid: bleed it"},
};

std::vector<Pattern::Cause> causes_of(std::string_view pattern, const parts::Library& library, std::string_view without = {}) {
    std::vector<Pattern::Cause> out;
    double sum = 0;
    for (const Known& k : causes)
        if (k.pattern == pattern && k.cause != without) {
            out.push_back({k.text, library.value(fmt::format("inspect.pads.{}.{}", pattern, k.cause))});
            sum += out.back().share;
        }
    for (Pattern::Cause& c : out) c.share /= sum;
    std::stable_sort(out.begin(), out.end(), [](const auto& a, const auto& b) { return a.share > b.share; });
    return out;
}

// Patterns that are as likely there as not are told, and what holds back among them holds back.
constexpr double told_from = 0.5;

struct Mean {
    double sum = 0;
    int n = 0;
    void add(double x) { sum += x, ++n; }
    double value() const { return sum / n; }
};

// Chance that a difference is more than what is left alone, to either side.   [EQ inspect-14]
double more_than(double leave, double difference, double uncertainty) {
    const double u = std::max(uncertainty, 1e-9);
    return normal_cdf((difference - leave) / u) + normal_cdf((-difference - leave) / u);
}

void surest_first(std::vector<Pattern>& patterns) {
    std::stable_sort(patterns.begin(), patterns.end(), [](const auto& a, const auto& b) { return a.probability > b.probability; });
}

}  // namespace

bool repeats_contradict(std::span<const double> values, double scatter) {
    if (values.size() < 2) return false;
    const auto [low, high] = std::minmax_element(values.begin(), values.end());
    // 1 % point of the range of n normal values: 3.64 for 2, 4.12 for 3, 4.40 for 4, 4.60 for 5.
    return *high - *low > (3.64 + 1.09 * std::log(static_cast<double>(values.size()) / 2)) * scatter;   // [EQ inspect-13]
}

std::vector<Pattern> pad_patterns(std::span<const PadPlace> places, double scatter_mm, const parts::Library& library) {
    const double leave_mm = library.value("inspect.pads.leave_mm");
    std::vector<Pattern> out;
    // a less b, means of their places.   [EQ inspect-14]
    const auto compare = [&](std::string code, std::string which, const Mean& a, const Mean& b) {
        if (a.n == 0 || b.n == 0) return;
        Pattern p{.code = std::move(code), .which = std::move(which), .difference_mm = a.sum / a.n - b.sum / b.n, .uncertainty_mm = scatter_mm * std::sqrt(1.0 / a.n + 1.0 / b.n), .probability = 0, .causes = {}};
        p.probability = more_than(leave_mm, p.difference_mm, p.uncertainty_mm);
        p.causes = causes_of(p.code, library);
        out.push_back(std::move(p));
    };
    Mean pad[2], along[2][3], across[2][3];
    std::map<std::pair<int, int>, std::array<Mean, 2>> corner;
    for (const PadPlace& p : places) {
        const int k = p.pad == PadPlace::Pad::left ? 0 : 1;
        along[k][p.along + 1].add(p.friction_mm);
        across[k][p.across + 1].add(p.friction_mm);
        corner[{p.along, p.across}][static_cast<std::size_t>(k)].add(p.friction_mm);
    }
    // Left against right at places that both were read at, so that taper is not taken for it.
    for (const auto& [where, both] : corner)
        if (both[0].n && both[1].n)
            for (int k : {0, 1}) pad[k].add(both[static_cast<std::size_t>(k)].sum / both[static_cast<std::size_t>(k)].n);
    compare("left_right", "", pad[0], pad[1]);
    for (const int k : {0, 1}) {
        compare("leading_trailing", k == 0 ? "left" : "right", along[k][0], along[k][2]);
        compare("inner_outer", k == 0 ? "left" : "right", across[k][0], across[k][2]);
    }
    surest_first(out);
    return out;
}

std::vector<Pattern> gap_patterns(std::span<const GapPlace> places, double scatter_mm, const parts::Library& library) {
    const double leave_mm = library.value("inspect.gap.leave_mm");
    std::vector<Pattern> out;
    const auto add = [&](std::string code, double difference_mm, double u) {
        Pattern p{.code = std::move(code), .which = "", .difference_mm = difference_mm, .uncertainty_mm = u, .probability = more_than(leave_mm, difference_mm, u), .causes = {}};
        p.causes = causes_of(p.code, library);
        out.push_back(std::move(p));
    };
    Mean side[2], ends[2][2][2];   // ends: direction, side, lower or upper end
    for (const GapPlace& g : places) {
        const int k = g.pad == PadPlace::Pad::left ? 0 : 1;
        side[k].add(g.gap_mm);
        if (g.along != 0) ends[0][k][g.along > 0].add(g.gap_mm);
        if (g.across != 0) ends[1][k][g.across > 0].add(g.gap_mm);
    }
    if (side[0].n && side[1].n) add("gap_left_right", side[0].value() - side[1].value(), scatter_mm * std::sqrt(1.0 / side[0].n + 1.0 / side[1].n));
    double wedge_mm = 0, wedge_u = 0;
    for (const int direction : {0, 1}) {
        double slope[2], u2 = 0;
        bool told = true;
        for (const int k : {0, 1}) {
            const Mean &low = ends[direction][k][0], &high = ends[direction][k][1];
            if (!low.n || !high.n) {
                told = false;
                break;
            }
            slope[k] = low.value() - high.value();
            u2 += scatter_mm * scatter_mm * (1.0 / low.n + 1.0 / high.n);
        }
        if (!told) continue;
        // A rotor between two parallel pads that stand askew opens one side at one end and the other side at the other.   [EQ inspect-15]
        const double u = std::sqrt(u2) / 2;
        add(direction == 0 ? "gap_along" : "gap_across", (slope[0] - slope[1]) / 2, u);
        if (const double both = (slope[0] + slope[1]) / 2; std::abs(both) >= std::abs(wedge_mm)) wedge_mm = both, wedge_u = u;
    }
    if (wedge_u > 0) add("gap_wedge", wedge_mm, wedge_u);
    surest_first(out);
    return out;
}

std::vector<Pattern> lever_patterns(std::span<const LeverLook> looks, parts::Actuation actuation, double scatter_mm, const parts::Library& library) {
    const double leave_mm = library.value("inspect.lever.leave_mm");
    std::vector<Pattern> out;
    const auto mean = [](const std::vector<double>& x) {
        Mean m;
        for (const double v : x) m.add(v);
        return m;
    };
    const auto add = [&](std::string code, std::string_view table, std::string_view without, double difference_mm, double u, double probability) {
        out.push_back({.code = std::move(code), .which = "", .difference_mm = difference_mm, .uncertainty_mm = u, .probability = probability, .causes = causes_of(table, library, without)});
    };
    std::vector<const LeverLook*> read;
    for (const LeverLook& l : looks)
        if (!l.bite_mm.empty()) read.push_back(&l);
    if (read.empty()) return out;
    if (read.size() > 1) {
        const LeverLook &first = *read.front(), &last = *read.back();
        const Mean a = mean(first.bite_mm), b = mean(last.bite_mm);
        const double nearer_mm = a.value() - b.value(), u = scatter_mm * std::sqrt(1.0 / a.n + 1.0 / b.n);   // [EQ inspect-16]
        const bool unworn = first.pads_mm && last.pads_mm && *first.pads_mm - *last.pads_mm < library.value("inspect.pads.leave_mm");
        add("lever_nearer", actuation == parts::Actuation::cable ? "lever_nearer_cable" : "lever_nearer_fluid", unworn ? "pads_worn" : "", nearer_mm, u, normal_cdf((nearer_mm - leave_mm) / std::max(u, 1e-9)));
    }
    // A trend over the squeezes of one day: least squares, from the first to the last of them.
    const std::vector<double>& x = read.back()->bite_mm;
    if (x.size() >= 3 && actuation != parts::Actuation::cable) {
        const double n = static_cast<double>(x.size()), middle = (n - 1) / 2;
        double sxy = 0, sxx = 0;
        for (std::size_t i = 0; i < x.size(); ++i) {
            const double t = static_cast<double>(i) - middle;
            sxy += t * x[i], sxx += t * t;
        }
        const double rise_mm = sxy / sxx * (n - 1), u = scatter_mm * (n - 1) / std::sqrt(sxx);
        const double limit = leave_mm;
        add("lever_pumps_up", "lever_pumps_up", "", rise_mm, u, normal_cdf((rise_mm - limit) / std::max(u, 1e-9)));
        add("lever_sinks", "lever_sinks", "", rise_mm, u, normal_cdf((-rise_mm - limit) / std::max(u, 1e-9)));
    }
    surest_first(out);
    return out;
}

std::optional<Check> check_sinking(parts::End end, std::span<const Pattern> patterns) {
    const auto sinks = std::find_if(patterns.begin(), patterns.end(), [](const Pattern& p) { return p.code == "lever_sinks"; });
    if (sinks == patterns.end() || sinks->probability < told_from) return std::nullopt;
    std::string text = fmt::format("Do not ride: the {} lever bites nearer to the bar with each squeeze, by {:.1f} mm from the first to the last (sure to {:.0f} %). Leave the bike standing until it is known why. It points to, by common practice: ",
                                   parts::word_of(end), std::abs(sinks->difference_mm), std::min(99.0, 100 * sinks->probability));
    for (std::size_t i = 0; i < sinks->causes.size(); ++i) text += fmt::format("{}{}", i ? "; " : "", sinks->causes[i].text);
    return Check{.id = end == parts::End::front ? CheckId::front_lever_travel : CheckId::rear_lever_travel, .code = fmt::format("{}_lever_sinks", parts::word_of(end)), .state = State::held_back, .done = true, .do_not_ride = true,
                 .text = text + "."};
}

std::vector<std::string> words_of(std::span<const Pattern> patterns) {
    std::vector<std::string> out;
    for (const Pattern& p : patterns) {
        if (p.probability < told_from) continue;
        const bool less = p.difference_mm < 0;
        std::string what;
        const double by = std::abs(p.difference_mm);
        if (p.code == "gap_left_right") what = fmt::format("The gap is wider on the {} side", less ? "right" : "left");
        else if (p.code == "gap_along") what = fmt::format("The gap opens towards the {} end on the left and the other end on the right: pads and rotor are not parallel along the turn", less ? "trailing" : "leading");
        else if (p.code == "gap_across") what = fmt::format("The gap opens towards the {} on the left and the other way on the right: pads and rotor are not parallel from hub to rim", less ? "rim" : "hub");
        else if (p.code == "gap_wedge") what = "The gap opens towards the same end on both sides";
        else if (p.code == "lever_nearer") what = "The lever bites nearer to the bar than it did when it was first read after the last work on this brake";
        else if (p.code == "lever_pumps_up") what = "The lever bites further from the bar with each squeeze";
        else if (p.code == "lever_sinks") what = "The lever bites nearer to the bar with each squeeze: leave the bike standing until it is known why";
        else if (p.code == "left_right") what = fmt::format("The {} pad is thinner than the {} one", less ? "left" : "right", less ? "right" : "left");
        else if (p.code == "leading_trailing") what = fmt::format("The {} pad is thinner at its {} edge than at its {} edge", p.which, less ? "leading" : "trailing", less ? "trailing" : "leading");
        else what = fmt::format("The {} pad is thinner {} than {}", p.which, less ? "towards the hub" : "towards the rim", less ? "towards the rim" : "towards the hub");
        what += fmt::format(", by {:.2f} mm (good to {:.2f} mm); that this is more than is left alone is sure to {:.0f} %. It points to, by common practice: ", by, 2 * p.uncertainty_mm, std::min(99.0, 100 * p.probability));
        for (std::size_t i = 0; i < p.causes.size(); ++i) what += fmt::format("{}{} ({:.0f} of 100)", i ? "; " : "", p.causes[i].text, 100 * p.causes[i].share);
        out.push_back(what + ".");
    }
    return out;
}

}  // namespace bw::inspect
