// SPDX-License-Identifier: Apache-2.0
// Words about rides that nobody recorded: planned ones, and those told in figures.                       Layer: answer
#include <fmt/format.h>

#include <algorithm>
#include <cmath>

#include "base/text.hpp"
#include "base/time.hpp"
#include "describe.hpp"

namespace bw::answer {

std::string planned_words(const RideAnswer& r) {
    if (!r.planned) return "";
    if (!r.style) return "; not ridden: a typical descent of this terrain";
    std::string text = fmt::format("; planned, not ridden; style {}", ride::word_of(*r.style));
    text += *r.style == ride::Style::dragging ? " (holds the speed for long)" : " (late, hard and seldom)";
    if (!r.style_told) text += ", assumed, since the fluid mostly gets hotter so and more is worn: --style short_hard for the other";
    return text;
}

std::string ridden_words(const Answer& a) {
    std::size_t planned = 0, described = 0;
    for (const RideAnswer& r : a.rides) {
        planned += r.planned ? 1 : 0;
        described += r.described ? 1 : 0;
    }
    if (planned + described == 0) return "";
    if (planned == a.rides.size()) return "Reckoned from riding that is only planned: nobody recorded any of it.";
    if (described == a.rides.size()) return "Reckoned from rides that were only described: wide.";
    std::string text = fmt::format("Of the {} rides behind this ", a.rides.size());
    if (planned > 0) text += fmt::format("{} {} only planned", planned, planned == 1 ? "is" : "are");
    if (described > 0) text += fmt::format("{}{} {} only described", planned > 0 ? " and " : "", described, described == 1 ? "is" : "are");
    return text + ".";
}

std::vector<std::string> described_lines(const Answer& a) {
    std::vector<std::string> lines;
    const auto energy = [](const Interval& i) {
        const auto kJ = [](double v) { return significant(v / 1000, 2); };
        return fmt::format("{} ({} to {})", kJ(i.p50), kJ(i.p05), kJ(i.p95));
    };
    constexpr std::size_t most = 12;
    std::size_t count = 0;
    for (const RideAnswer& r : a.rides) {
        if (!r.described) continue;
        if (++count > most) continue;
        const std::string day = r.start_unix_s ? format_day(static_cast<long>(std::floor(*r.start_unix_s / 86400))) : "";
        const std::string tail = fmt::format(" {:<10} {:>5} km {:>5} m  {:<18}", day, significant(r.distance_m / 1000, 3), significant(r.descent_m, 3), energy(r.brake_energy_J));
        const std::size_t room = 78 - std::min<std::size_t>(tail.size(), 70);
        std::string name = r.file;
        if (name.size() > room) {   // cut at the front, never inside a letter
            std::size_t from = name.size() - (room - 3);
            while (from < name.size() && (static_cast<unsigned char>(name[from]) & 0xC0) == 0x80) ++from;
            name = "..." + name.substr(from);
        }
        std::string line = fmt::format("  {:<{}}{}", name, room, tail);
        line.erase(line.find_last_not_of(' ') + 1);
        lines.push_back(std::move(line));
    }
    if (count > most) lines.push_back(fmt::format("  and {} more (--json)", count - most));
    return lines;
}

const RideAnswer* hottest_described(const Answer& a) {
    const RideAnswer* hottest = nullptr;
    const auto heat = [](const RideAnswer& r) { return std::max(r.wheels[0].rotor_peak_degC.p95, r.wheels[1].rotor_peak_degC.p95); };
    for (const RideAnswer& r : a.rides)
        if (r.described && (!hottest || heat(r) > heat(*hottest))) hottest = &r;
    return hottest;
}

}  // namespace bw::answer
