// SPDX-License-Identifier: Apache-2.0
// Text in and out.                                                                                        Layer: base
#include "base/text.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cctype>
#include <cerrno>
#include <charconv>
#include <cmath>
#include <cstdio>
#include <cstring>
#include <filesystem>
#include <fstream>
#include <memory>
#include <numeric>
#include <sstream>

namespace bw {

std::string_view trim(std::string_view text) {
    const auto blank = [](char c) { return c == ' ' || c == '\t' || c == '\r' || c == '\n'; };
    while (!text.empty() && blank(text.front())) text.remove_prefix(1);
    while (!text.empty() && blank(text.back())) text.remove_suffix(1);
    return text;
}

std::optional<double> parse_number(std::string_view text) {
    text = trim(text);
    if (!text.empty() && text.front() == '+') {
        text.remove_prefix(1);
        if (text.empty() || text.front() == '-') return std::nullopt;
    }
    double value = 0;
    const auto [end, status] = std::from_chars(text.data(), text.data() + text.size(), value);
    if (status != std::errc{} || end != text.data() + text.size() || !std::isfinite(value)) return std::nullopt;
    return value;
}

namespace {

struct UnitWord {
    Unit unit;
    std::string_view word;
    double factor, offset;   // SI = number * factor + offset
};

// Exact by definition: 1 inch = 25.4 mm, 1 mile = 1609.344 m, 1 lb = 0.45359237 kg, 1 lbf = 1 lb x 9.80665 m/s2.
constexpr UnitWord unit_words[] = {
    {Unit::speed_mps, "m/s", 1, 0}, {Unit::speed_mps, "km/h", 1 / 3.6, 0}, {Unit::speed_mps, "mph", 0.44704, 0},
    {Unit::length_mm, "mm", 1, 0}, {Unit::length_mm, "cm", 10, 0}, {Unit::length_mm, "m", 1000, 0}, {Unit::length_mm, "in", 25.4, 0},
    {Unit::length_m, "m", 1, 0}, {Unit::length_m, "mm", 0.001, 0}, {Unit::length_m, "km", 1000, 0}, {Unit::length_m, "ft", 0.3048, 0},
    {Unit::force_N, "N", 1, 0}, {Unit::force_N, "lbf", 4.4482216152605, 0}, {Unit::force_N, "kgf", 9.80665, 0},
    {Unit::temperature_degC, "C", 1, 0}, {Unit::temperature_degC, "°C", 1, 0}, {Unit::temperature_degC, "F", 5.0 / 9, -160.0 / 9},
    {Unit::temperature_degC, "K", 1, -273.15},
    {Unit::mass_kg, "kg", 1, 0}, {Unit::mass_kg, "lb", 0.45359237, 0},
    {Unit::fraction, "", 1, 0}, {Unit::fraction, "%", 0.01, 0},
};

}  // namespace

Result<double> parse_quantity(std::string_view text, Unit unit) {
    text = trim(text);
    std::size_t end = 0;
    while (end < text.size() && (std::strchr("+-.0123456789", text[end]) != nullptr)) ++end;
    const auto number = parse_number(text.substr(0, end));
    const std::string_view word = trim(text.substr(end));
    std::string known;
    for (const UnitWord& u : unit_words) {
        if (u.unit != unit) continue;
        if (number && (word.empty() || word == u.word)) return *number * u.factor + u.offset;
        if (!u.word.empty()) known += fmt::format("{}{}", known.empty() ? "" : ", ", u.word);
    }
    return Error{Errc::wrong_usage, fmt::format("'{}' was not understood: expected a number and one of the units {}", text, known)};
}

namespace {

std::size_t edit_distance(std::string_view a, std::string_view b) {
    std::vector<std::size_t> row(b.size() + 1);
    std::iota(row.begin(), row.end(), std::size_t{0});
    for (std::size_t i = 1; i <= a.size(); ++i) {
        std::size_t diagonal = row[0];
        row[0] = i;
        for (std::size_t j = 1; j <= b.size(); ++j) {
            const std::size_t above = row[j];
            row[j] = std::min({row[j] + 1, row[j - 1] + 1, diagonal + (a[i - 1] == b[j - 1] ? 0u : 1u)});
            diagonal = above;
        }
    }
    return row[b.size()];
}

}  // namespace

std::optional<std::string> nearest_word(std::string_view word, std::span<const std::string> known) {
    std::optional<std::string> best;
    std::size_t least = word.size() / 2 + 1;
    for (const std::string& candidate : known) {
        const std::size_t d = edit_distance(word, candidate);
        if (d < least) {
            least = d;
            best = candidate;
        }
    }
    return best;
}

std::vector<std::string> csv_fields(std::string_view line) {
    std::vector<std::string> fields(1);
    bool quoted = false;
    for (std::size_t i = 0; i < line.size(); ++i) {
        const char c = line[i];
        if (quoted) {
            if (c != '"') fields.back() += c;
            else if (i + 1 < line.size() && line[i + 1] == '"') fields.back() += line[++i];
            else quoted = false;
        } else if (c == '"') quoted = true;
        else if (c == ',') fields.emplace_back();
        else if (c != '\r' && c != '\n') fields.back() += c;
    }
    return fields;
}

char csv_separator(std::string_view header) { return header.find(',') == std::string_view::npos && header.find(';') != std::string_view::npos ? ';' : ','; }

std::vector<std::string> csv_fields(std::string_view line, char separator) {
    std::string one(line);
    if (separator == ';')
        for (char& c : one) c = c == ';' ? ',' : c == ',' ? '.' : c;
    std::vector<std::string> fields = csv_fields(one);
    for (std::string& f : fields) f = std::string(trim(f));
    return fields;
}

std::string csv_field(std::string_view text) {
    if (text.find_first_of(",\"\n\r") == std::string_view::npos) return std::string(text);
    std::string out = "\"";
    for (const char c : text) out += c == '"' ? std::string("\"\"") : std::string(1, c);
    return out + "\"";
}

Result<std::string> read_file(const std::string& path) {
    std::error_code ignored;
    if (std::filesystem::is_directory(path, ignored))
        return Error{Errc::cannot_read, fmt::format("{}: this is a folder; expected a file", path)};
    errno = 0;
    std::ifstream in(path, std::ios::binary);
    if (!in) return Error{Errc::cannot_read, fmt::format("{}: cannot be read ({})", path, std::strerror(errno ? errno : EIO))};
    std::ostringstream bytes;
    bytes << in.rdbuf();
    if (in.bad()) return Error{Errc::cannot_read, fmt::format("{}: reading stopped half way", path)};
    return std::move(bytes).str();
}

Status write_file(const std::string& given, std::string_view bytes) {
    // A link is followed, so that it stays a link; what is no regular file (a pipe, a device) is written to, never replaced.
    std::error_code ignored;
    std::string path = given;
    if (std::filesystem::is_symlink(given, ignored))
        if (const auto target = std::filesystem::canonical(given, ignored); !ignored) path = target.string();
    if (std::filesystem::exists(path, ignored) && !std::filesystem::is_regular_file(path, ignored)) {
        errno = 0;
        std::ofstream out(path, std::ios::binary);
        out.write(bytes.data(), static_cast<std::streamsize>(bytes.size()));
        out.flush();
        if (!out) return Error{Errc::cannot_write, fmt::format("{}: cannot be written ({})", path, std::strerror(errno ? errno : EIO))};
        return Done{};
    }
    const std::string beside = path + ".part";
    errno = 0;
    {
        std::ofstream out(beside, std::ios::binary | std::ios::trunc);
        out.write(bytes.data(), static_cast<std::streamsize>(bytes.size()));
        out.flush();
        if (!out) {
            const int why = errno;
            std::filesystem::remove(beside, ignored);
            return Error{Errc::cannot_write, fmt::format("{}: cannot be written ({})", path, std::strerror(why ? why : EIO))};
        }
    }
    std::error_code failed;
    std::filesystem::rename(beside, path, failed);
    if (failed) return Error{Errc::cannot_write, fmt::format("{}: cannot be written ({})", path, failed.message())};
    return Done{};
}

std::string significant(double value, int digits) {
    if (!std::isfinite(value)) return "not known";
    if (value == 0) return "0";
    const int magnitude = static_cast<int>(std::floor(std::log10(std::abs(value))));
    const double unit = std::pow(10.0, magnitude - digits + 1);
    const double rounded = std::round(value / unit) * unit;
    // 9.96 to two digits is 10, not 10.0
    const int after = std::max(0, digits - 1 - static_cast<int>(std::floor(std::log10(std::abs(rounded)) + 1e-12)));
    return fmt::format("{:.{}f}", rounded, after);
}

std::string in_threes(std::string_view digits) {
    std::string out;
    const bool whole = std::all_of(digits.begin(), digits.end(), [](unsigned char c) { return std::isdigit(c) != 0; });
    for (std::size_t i = 0; i < digits.size(); ++i) {
        if (whole && i > 0 && (digits.size() - i) % 3 == 0) out += ',';
        out += digits[i];
    }
    return out;
}

std::string wrap(std::string_view text, int width, int indent) {
    const auto letters = [](std::string_view s) {
        return static_cast<int>(std::count_if(s.begin(), s.end(), [](char c) { return (static_cast<unsigned char>(c) & 0xC0) != 0x80; }));
    };
    std::string out;
    int column = 0;
    bool first = true;
    for (std::size_t at = 0; at < text.size();) {
        const std::size_t space = std::min(text.find(' ', at), text.size());
        const std::string_view word = text.substr(at, space - at);
        at = space + 1;
        if (word.empty()) continue;
        if (!first && column + 1 + letters(word) > width) {
            out += "\n" + std::string(static_cast<std::size_t>(indent), ' ');
            column = indent;
        } else if (!first) {
            out += ' ';
            ++column;
        }
        out += word;
        column += letters(word);
        first = false;
    }
    return out;
}

}  // namespace bw
