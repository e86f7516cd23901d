// SPDX-License-Identifier: Apache-2.0
// Instants and days.                                                                                      Layer: base
#include "base/time.hpp"

#include <fmt/core.h>

#include <cmath>

namespace bw {

namespace {

// Days since 1970-01-01 in the proleptic Gregorian calendar, and back.
// Source: H. Hinnant, "chrono-compatible low-level date algorithms" (public domain).
long days_from_civil(long y, unsigned m, unsigned d) {
    y -= m <= 2;
    const long era = (y >= 0 ? y : y - 399) / 400;
    const auto yoe = static_cast<unsigned>(y - era * 400);
    const unsigned doy = (153 * (m > 2 ? m - 3 : m + 9) + 2) / 5 + d - 1;
    const unsigned doe = yoe * 365 + yoe / 4 - yoe / 100 + doy;
    return era * 146097 + static_cast<long>(doe) - 719468;
}

void civil_from_days(long z, long& y, unsigned& m, unsigned& d) {
    z += 719468;
    const long era = (z >= 0 ? z : z - 146096) / 146097;
    const auto doe = static_cast<unsigned>(z - era * 146097);
    const unsigned yoe = (doe - doe / 1460 + doe / 36524 - doe / 146096) / 365;
    const unsigned doy = doe - (365 * yoe + yoe / 4 - yoe / 100);
    const unsigned mp = (5 * doy + 2) / 153;
    d = doy - (153 * mp + 2) / 5 + 1;
    m = mp < 10 ? mp + 3 : mp - 9;
    y = static_cast<long>(yoe) + era * 400 + (m <= 2);
}

// Exactly `width` digits at `at`, which moves past them.
std::optional<unsigned> digits(std::string_view text, std::size_t& at, std::size_t width) {
    if (at + width > text.size()) return std::nullopt;
    unsigned value = 0;
    for (std::size_t i = 0; i < width; ++i) {
        const char c = text[at + i];
        if (c < '0' || c > '9') return std::nullopt;
        value = value * 10 + static_cast<unsigned>(c - '0');
    }
    at += width;
    return value;
}

bool letter(std::string_view text, std::size_t& at, char c) {
    if (at >= text.size() || text[at] != c) return false;
    ++at;
    return true;
}

std::optional<long> day_at(std::string_view text, std::size_t& at) {
    const auto y = digits(text, at, 4);
    if (!y || !letter(text, at, '-')) return std::nullopt;
    const auto m = digits(text, at, 2);
    if (!m || !letter(text, at, '-')) return std::nullopt;
    const auto d = digits(text, at, 2);
    if (!d || *m < 1 || *m > 12 || *d < 1 || *d > 31) return std::nullopt;
    const long days = days_from_civil(*y, *m, *d);
    long y2 = 0;
    unsigned m2 = 0, d2 = 0;
    civil_from_days(days, y2, m2, d2);
    if (m2 != *m || d2 != *d) return std::nullopt;
    return days;
}

}  // namespace

std::optional<long> parse_day(std::string_view text) {
    std::size_t at = 0;
    const auto days = day_at(text, at);
    if (!days || at != text.size()) return std::nullopt;
    return days;
}

std::optional<double> parse_time(std::string_view text) {
    std::size_t at = 0;
    const auto days = day_at(text, at);
    if (!days) return std::nullopt;
    if (!letter(text, at, 'T') && !letter(text, at, 't') && !letter(text, at, ' ')) return std::nullopt;
    const auto hour = digits(text, at, 2);
    if (!hour || !letter(text, at, ':')) return std::nullopt;
    const auto minute = digits(text, at, 2);
    if (!minute || *hour > 24 || *minute > 59) return std::nullopt;
    double seconds = 0;
    if (letter(text, at, ':')) {
        const auto whole = digits(text, at, 2);
        if (!whole || *whole > 60) return std::nullopt;
        seconds = *whole;
        if (letter(text, at, '.') || letter(text, at, ',')) {
            double scale = 0.1;
            const std::size_t first = at;
            for (; at < text.size() && text[at] >= '0' && text[at] <= '9'; ++at, scale /= 10)
                seconds += scale * (text[at] - '0');
            if (at == first) return std::nullopt;
        }
    }
    double offset_s = 0;
    if (letter(text, at, 'Z') || letter(text, at, 'z')) {
    } else if (at < text.size() && (text[at] == '+' || text[at] == '-')) {
        const double sign = text[at++] == '+' ? 1 : -1;
        const auto oh = digits(text, at, 2);
        if (!oh) return std::nullopt;
        letter(text, at, ':');
        const auto om = at < text.size() ? digits(text, at, 2) : std::optional<unsigned>(0u);
        if (!om) return std::nullopt;
        offset_s = sign * (*oh * 3600.0 + *om * 60.0);
    }
    if (at != text.size()) return std::nullopt;
    return static_cast<double>(*days) * 86400.0 + *hour * 3600.0 + *minute * 60.0 + seconds - offset_s;
}

std::string format_day(long days) {
    long y = 0;
    unsigned m = 0, d = 0;
    civil_from_days(days, y, m, d);
    return fmt::format("{:04}-{:02}-{:02}", y, m, d);
}

std::string format_time(double unix_s) {
    const double whole = std::floor(unix_s);
    const long days = static_cast<long>(std::floor(whole / 86400.0));
    const long rest = static_cast<long>(whole - static_cast<double>(days) * 86400.0);
    return fmt::format("{}T{:02}:{:02}:{:02}Z", format_day(days), rest / 3600, rest / 60 % 60, rest % 60);
}

}  // namespace bw
