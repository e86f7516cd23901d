// SPDX-License-Identifier: Apache-2.0
// One outside check: a value of ours against a value from outside the project. Each becomes a row of docs/validation.md.
#pragma once
#include <string>

namespace bw::validation {

enum class Basis {
    source_read,     //!< the source's text was read (SOURCES.md: "Source:"), or exact arithmetic on a formula read there
    exact,           //!< mathematics or a definition: re-derivable by anybody, the formula named in `source`
    library,         //!< a general-purpose library or program computed the expected value: in this very run, or stored, and then the source says so
    from_memory,     //!< from a named source that was not re-read
    common_practice  //!< a fact of the trade, no source
};

struct Row {
    std::string id;             //!< "heat-03", unique; orders the table
    std::string what;           //!< inputs -> quantity, in words
    std::string source;         //!< author, title, place; "common practice, no source"
    Basis basis = Basis::exact;
    double expected = 0;        //!< from outside: a literal, or computed here without our code and constants
    double tolerance = 0;       //!< absolute, in the unit
    std::string unit;
    std::string why;            //!< why this tolerance
    std::string function;       //!< function of ours under check, "heat::solve"
    bool used_by_answer = false;   //!< `brakewright answer` calls that very function
};

//! Records the row and fails the running test unless |got - expected| <= tolerance (NaN fails).
void check(const Row& row, double got);

//! Reports a fact of the trade as hit or miss without failing: [low, high] is the trade's range, got ours; `remark` explains a miss.
void report(const std::string& id, const std::string& what, double low, double high, const std::string& unit, double got,
            const std::string& remark);

}  // namespace bw::validation
