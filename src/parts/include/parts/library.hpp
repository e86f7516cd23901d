// SPDX-License-Identifier: Apache-2.0
// The data rows of data/*.toml: values with unit, spread, grade, source.                                  Layer: parts
#pragma once
#include <map>
#include <string>
#include <string_view>
#include <vector>

#include "base/cases.hpp"
#include "base/evidence.hpp"
#include "base/result.hpp"

namespace bw::parts {

//! One row: [compound.organic.friction] value = , sd = , unit = "", grade = "", source = "", valid = "".
struct Datum {
    Uncertain value;
    std::string unit;
    std::string valid;   //!< range in which the source measured, in words; "" = not stated
};

//! All rows by dotted id, e.g. "compound.organic.friction". The files are compiled into the program.
class Library {
public:
    bool has(std::string_view id) const { return rows_.find(id) != rows_.end(); }
    //! The row of an id; an id that is not there is a programmer error (throws std::logic_error naming it).
    const Datum& row(std::string_view id) const;
    //! Its value, short for row(id).value.value.
    double value(std::string_view id) const { return row(id).value.value; }
    //! The row as an input of the likely cases, under another key.
    Input input(std::string_view id, std::string key) const;
    const std::map<std::string, Datum, std::less<>>& rows() const { return rows_; }

private:
    friend Result<Library> parse_library(const std::vector<std::pair<std::string, std::string>>& files);
    std::map<std::string, Datum, std::less<>> rows_;
};

//! files: (name, TOML text). Every leaf is a table with `value`; grade and source are required.
//! Fails with bad_input, naming file and line, on a missing or unknown key, or an id that is there twice.
Result<Library> parse_library(const std::vector<std::pair<std::string, std::string>>& files);
//! The files that were compiled in.
Result<Library> load_library();

}  // namespace bw::parts
