// SPDX-License-Identifier: Apache-2.0
// ISO 8601 instants and days, without a clock or a time zone data base.                                    Layer: base
#pragma once
#include <optional>
#include <string>
#include <string_view>

namespace bw {

//! Seconds since 1970-01-01T00:00:00Z of "2026-05-01T09:30:00[.123](Z|+02:00|nothing = UTC)", or nothing if it is not one.
//! Civil-calendar arithmetic: Howard Hinnant's days_from_civil.
std::optional<double> parse_time(std::string_view text);
//! Whole days since 1970-01-01 of "2026-05-01".
std::optional<long> parse_day(std::string_view text);
//! "2026-05-01T09:30:00Z", to the second below.
std::string format_time(double unix_s);
//! "2026-05-01".
std::string format_day(long days);

}  // namespace bw
