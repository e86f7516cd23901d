// SPDX-License-Identifier: Apache-2.0
// A CSV table whose columns are known, in any order, row by row.                                          Layer: base
#pragma once
#include <functional>
#include <span>
#include <string>
#include <string_view>

#include "base/result.hpp"

namespace bw {

inline constexpr std::size_t no_column = static_cast<std::size_t>(-1);

//! One row under the header; `k` counts the columns as they were asked for, whatever their order in the file.
struct TableRow {
    std::string_view file;
    std::size_t line = 0;
    std::span<const char* const> names;
    std::span<const std::size_t> at;          //!< [names] which field each is; no_column: not in this file
    std::span<const std::string> fields;
    //! Empty where the file has no such column.
    std::string_view word(std::size_t k) const;
    //! Fails with bad_input, naming file, line and column, unless the field is a number from least to most.
    Result<double> number(std::size_t k, double least, double most) const;
    Error wrong(std::size_t k, const std::string& what) const;
};

//! Hands each row to `take`, which may refuse it. Returns the number of the last line. Fails with bad_input (file, line, column,
//! what was expected) where the header lacks or repeats a column or has one more, a row has other fields, or nothing is there.
//! The last `may_lack` of the names may be missing.
Result<std::size_t> read_table(std::string_view text, const std::string& file, std::span<const char* const> names, const std::function<Status(const TableRow&)>& take, std::size_t may_lack = 0);

}  // namespace bw
