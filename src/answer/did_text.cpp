// SPDX-License-Identifier: Apache-2.0
// What the brakes did, in a few sentences.                                                                Layer: answer
#include <fmt/format.h>

#include <algorithm>
#include <cmath>

#include "base/text.hpp"
#include "describe.hpp"

namespace bw::answer {

namespace {

std::string watts(double W) { return W < 1000 ? significant(W, 2) + " W" : significant(W / 1000, 2) + " kW"; }
std::string kJ(double J) { return significant(J / 1000, 2) + " kJ"; }
std::string km(double m) { return fmt::format("km {:.1f}", m / 1000); }
std::string kmh(double mps) { return fmt::format("{:.0f} km/h", mps * 3.6); }

std::string effort(const ride::Effort& e, const char* over) { return fmt::format("{} over {} ({}, {:+.0f} %)", watts(e.power_W.p50), over, km(e.distance_m), 100 * e.gradient); }

}  // namespace

std::vector<std::string> did_lines(const RideAnswer& r) {
    std::vector<std::string> lines;
    const double all_J = r.account.brakes_J;
    if (!(all_J > 1000)) return lines;
    const auto share = [&](double J) { return J < 0.005 * all_J ? std::string("under 1 %") : fmt::format("{:.0f} %", 100 * J / all_J); };
    if (r.did.hardest_10s) {
        std::string text = "at most " + effort(*r.did.hardest_10s, "10 s");
        if (r.did.hardest_60s && r.did.hardest_60s->over_s > r.did.hardest_10s->over_s) text += ", " + effort(*r.did.hardest_60s, "a minute");
        lines.push_back(text + ".");
    }
    if (r.did.windows.size() > 1) {
        const auto most = std::max_element(r.did.windows.begin(), r.did.windows.end(), [](const auto& a, const auto& b) { return a.took.mean_J < b.took.mean_J; });
        lines.push_back(fmt::format("Most in five minutes: {}, {} of the braking, from minute {:.0f} on.", kJ(most->took.mean_J), share(most->took.mean_J), most->start_s / 60));
    }
    double bends_J = 0;
    int bends = 0;
    const ride::Bend* hardest = nullptr;
    for (const ride::Bend& b : r.did.bends) {
        if (b.took.mean_J < 100) continue;   // ridden without the brakes
        ++bends;
        bends_J += b.took.mean_J;
        if (!hardest || b.took.mean_J > hardest->took.mean_J) hardest = &b;
    }
    if (hardest)
        lines.push_back(fmt::format("{} bend{} with the brakes on took {}; the most: {} at {}, {:.0f}° to the {} with a radius of {:.0f} m, from {} down to {}.", bends, bends == 1 ? "" : "s", share(bends_J),
                                    kJ(hardest->took.mean_J), km(hardest->start_m), std::abs(hardest->turn_deg), hardest->turn_deg > 0 ? "left" : "right", hardest->radius_m,
                                    kmh(hardest->approach_mps), kmh(hardest->slowest_mps)));
    if (!r.did.halts.empty() && !r.planned) {   // planned: each case halts elsewhere
        double halts_J = 0, from_mps = 0, slowing_mps2 = 0;
        const auto n = static_cast<double>(r.did.halts.size());
        for (const ride::Halt& h : r.did.halts) {
            halts_J += h.took.mean_J;
            from_mps += h.from_mps / n;
            slowing_mps2 += h.mean_deceleration_mps2 / n;
        }
        lines.push_back(fmt::format("{} stop{} took {}: on average {} from {}, slowing by {:.1f} m/s².", r.did.halts.size(), r.did.halts.size() == 1 ? "" : "s", share(halts_J), kJ(halts_J / n),
                                    kmh(from_mps), slowing_mps2));
    }
    std::string aside;
    const auto add = [&](double J, const char* where) {
        if (J >= 0.005 * all_J) aside += fmt::format("{}{} into {}", aside.empty() ? "Past the rotors: " : ", ", kJ(J), where);
    };
    add(r.braking.skid_J, "the rear tyre and the road (skids)");
    add(r.braking.motor_J, "the battery");
    add(r.braking.trailer_J, "the trailer's own brake");
    if (!aside.empty()) lines.push_back(aside + ".");
    return lines;
}

}  // namespace bw::answer
