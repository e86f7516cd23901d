// SPDX-License-Identifier: Apache-2.0
// Text in and out: numbers with units, nearest word, CSV lines, rounding for people.                       Layer: base
#pragma once
#include <cstdint>
#include <optional>
#include <span>
#include <string>
#include <string_view>
#include <vector>

#include "base/result.hpp"

namespace bw {

//! A whole text as a number: optional sign, digits, decimal point, exponent. Nothing else, no NaN, no infinity.
std::optional<double> parse_number(std::string_view text);

enum class Unit { speed_mps, length_mm, length_m, force_N, temperature_degC, mass_kg, fraction };

//! "25 km/h", "15 mph", "89 mm", "10 lbf", "200 C", "392 F", "-8 %": a number and an optional unit, in the unit asked for.
//! Without a unit the number is taken as SI (or the unit in the name). Fails with wrong_usage, naming the units known.
Result<double> parse_quantity(std::string_view text, Unit unit);

//! The word of `known` with the least edit distance to `word`, or nothing if none is near (more than half its letters differ).
std::optional<std::string> nearest_word(std::string_view word, std::span<const std::string> known);

std::string_view trim(std::string_view text);
//! Fields of one CSV line; quotes as in RFC 4180, within the line.
std::vector<std::string> csv_fields(std::string_view line);
//! ';' if the header holds semicolons and no comma, else ','.
char csv_separator(std::string_view header);
//! The same, blanks around each field taken off. With ';' a comma inside a field is a decimal comma and becomes a point.
std::vector<std::string> csv_fields(std::string_view line, char separator);
//! One CSV field, quoted when it must be.
std::string csv_field(std::string_view text);

//! Whole file as bytes. Fails with cannot_read, naming the file and the reason.
Result<std::string> read_file(const std::string& path);
//! Writes a file whole (a temporary beside it, then a rename; links are followed, devices written to). Fails with cannot_write.
Status write_file(const std::string& path, std::string_view bytes);

//! A value with `digits` significant digits and no exponent for people: 0.01234, 12.3, 1230.
std::string significant(double value, int digits);
//! Digits of a whole number in threes: "1700" -> "1,700". Anything but digits: as it is.
std::string in_threes(std::string_view digits);
//! Words of at most `width` columns a line, each line after the first starting with `indent` spaces. Counts UTF-8 letters.
std::string wrap(std::string_view text, int width, int indent);

}  // namespace bw
