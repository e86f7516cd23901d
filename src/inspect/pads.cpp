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
};

std::vector<PadPattern::Cause> causes_of(std::string_view pattern, const parts::Library& library) {
    std::vector<PadPattern::Cause> out;
    double sum = 0;
    for (const Known& k : causes)
        if (k.pattern == pattern) {
            out.push_back({k.text, library.value(fmt::format("inspect.pads.{}.{}", pattern, k.cause))});
            sum += out.back().share;
        }
    for (PadPattern::Cause& c : out) c.share /= sum;
    std::stable_sort(out.begin(), out.end(), [](const auto& a, const auto& b) { return a.share > b.share; });
    return out;
}

struct Mean {
    double sum = 0;
    int n = 0;
    void add(double x) { sum += x, ++n; }
};

}  // namespace

bool repeats_contradict(std::span<const double> values, double scatter) {
    if (values.size() < 2) return false;
    const auto [low, high] = std::minmax_element(values.begin(), values.end());
    // 1 % point of the range of n normal values: 3.64 for 2, 4.12 for 3, 4.40 for 4, 4.60 for 5.
    return *high - *low > (3.64 + 1.09 * std::log(static_cast<double>(values.size()) / 2)) * scatter;   // [EQ inspect-13]
}

std::vector<PadPattern> pad_patterns(std::span<const PadPlace> places, double scatter_mm, const parts::Library& library) {
    const double leave_mm = library.value("inspect.pads.leave_mm");
    std::vector<PadPattern> out;
    // a less b, means of their places.   [EQ inspect-14]
    const auto compare = [&](std::string code, std::string which, const Mean& a, const Mean& b) {
        if (a.n == 0 || b.n == 0) return;
        PadPattern p{.code = std::move(code), .which = std::move(which), .difference_mm = a.sum / a.n - b.sum / b.n, .uncertainty_mm = scatter_mm * std::sqrt(1.0 / a.n + 1.0 / b.n), .probability = 0, .causes = {}};
        const double u = std::max(p.uncertainty_mm, 1e-9);
        p.probability = normal_cdf((p.difference_mm - leave_mm) / u) + normal_cdf((-p.difference_mm - leave_mm) / u);
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
    std::stable_sort(out.begin(), out.end(), [](const auto& a, const auto& b) { return a.probability > b.probability; });
    return out;
}

std::vector<std::string> words_of(std::span<const PadPattern> patterns) {
    std::vector<std::string> out;
    for (const PadPattern& p : patterns) {
        if (p.probability < 0.5) continue;
        const bool less = p.difference_mm < 0;
        std::string what;
        if (p.code == "left_right") what = fmt::format("The {} pad is thinner than the {} one", less ? "left" : "right", less ? "right" : "left");
        else if (p.code == "leading_trailing") what = fmt::format("The {} pad is thinner at its {} edge than at its {} edge", p.which, less ? "leading" : "trailing", less ? "trailing" : "leading");
        else what = fmt::format("The {} pad is thinner {} than {}", p.which, less ? "towards the hub" : "towards the rim", less ? "towards the rim" : "towards the hub");
        what += fmt::format(", by {:.2f} mm (good to {:.2f} mm); that it is uneven is sure to {:.0f} %. It points to, by common practice: ", std::abs(p.difference_mm), 2 * p.uncertainty_mm, std::min(99.0, 100 * p.probability));
        for (std::size_t i = 0; i < p.causes.size(); ++i) what += fmt::format("{}{} ({:.0f} of 100)", i ? "; " : "", p.causes[i].text, 100 * p.causes[i].share);
        out.push_back(what + ".");
    }
    return out;
}

}  // namespace bw::inspect
