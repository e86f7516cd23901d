// SPDX-License-Identifier: Apache-2.0
// Tables of known columns.                                                                      Layer: base
#include "base/table.hpp"

#include <fmt/format.h>
#include <fmt/ranges.h>

#include <algorithm>
#include <vector>

#include "base/text.hpp"

namespace bw {

std::string_view TableRow::word(std::size_t k) const { return at[k] == no_column ? std::string_view() : trim(fields[at[k]]); }

Error TableRow::wrong(std::size_t k, const std::string& what) const {
    if (at[k] == no_column) return Error{Errc::bad_input, fmt::format("{}:{}: column {}: {}", file, line, names[k], what)};
    return Error{Errc::bad_input, fmt::format("{}:{}: column {} ({}): {}", file, line, at[k] + 1, names[k], what)};
}

Result<double> TableRow::number(std::size_t k, double least, double most) const {
    const auto v = parse_number(word(k));
    if (!v || !(*v >= least && *v <= most)) return wrong(k, fmt::format("'{}' found, expected a number from {:g} to {:g}", word(k), least, most));
    return *v;
}

Result<std::size_t> read_table(std::string_view text, const std::string& file, std::span<const char* const> names, const std::function<Status(const TableRow&)>& take, std::size_t may_lack) {
    const auto wrong = [&](std::size_t line, const std::string& what) { return Error{Errc::bad_input, fmt::format("{}:{}: {}", file, line, what)}; };
    const std::vector<std::string> known(names.begin(), names.end());
    const std::string expected = fmt::format("{}", fmt::join(known, ","));
    if (text.starts_with("\xEF\xBB\xBF")) text.remove_prefix(3);
    std::vector<std::size_t> at(known.size(), no_column);
    std::size_t columns = 0, line = 0;
    while (!text.empty()) {
        const std::size_t end = text.find('\n');
        const std::string_view one = trim(text.substr(0, end));
        text.remove_prefix(end == std::string_view::npos ? text.size() : end + 1);
        ++line;
        if (one.empty()) continue;
        const std::vector<std::string> fields = csv_fields(one);
        if (columns > 0) {
            if (fields.size() != columns) return wrong(line, fmt::format("{} fields, expected {}", fields.size(), columns));
            if (Status s = take({.file = file, .line = line, .names = names, .at = at, .fields = fields}); !s) return s.error();
            continue;
        }
        columns = fields.size();
        for (std::size_t c = 0; c < columns; ++c) {
            const std::string word(trim(fields[c]));
            const auto k = static_cast<std::size_t>(std::find(known.begin(), known.end(), word) - known.begin());
            if (k == known.size()) {
                const auto near = nearest_word(word, known);
                return wrong(line, fmt::format("column {}: unknown column '{}'{}; expected {}", c + 1, word,
                                               near ? fmt::format(", the nearest known one is '{}'", *near) : std::string(), expected));
            }
            if (at[k] != no_column) return wrong(line, fmt::format("column {}: '{}' is there twice", c + 1, word));
            at[k] = c;
        }
        for (std::size_t k = 0; k + may_lack < known.size(); ++k)
            if (at[k] == no_column) return wrong(line, fmt::format("column '{}' is missing; expected {}", known[k], expected));
    }
    if (columns == 0) return wrong(1, fmt::format("empty; expected the columns {}", expected));
    return line;
}

}  // namespace bw
