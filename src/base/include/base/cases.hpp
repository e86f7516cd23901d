// SPDX-License-Identifier: Apache-2.0
// Likely cases: one seeded sample of every uncertain input, shared by all rooms (DESIGN 4).               Layer: base
#pragma once
#include <cstddef>
#include <cstdint>
#include <map>
#include <span>
#include <string>
#include <string_view>
#include <vector>

#include "base/evidence.hpp"

namespace bw {

//! One uncertain input of one bike: a bike key ("bike.drag_area_m2") or a model key ("front.heat.convection").
struct Input {
    std::string key;
    std::string unit;   //!< "" = none
    Uncertain value;
};

//! n draws of each input: inputs[j].value.at(z) with z from an even column of the input's own key (`even_column`), so that
//! inputs are unrelated, and one that becomes known, is added or is left out leaves the draws of the others alone.
//! The first 64 rows are evenly spread themselves: the anchor cases.
class Cases {
public:
    std::size_t size() const { return n_; }
    bool has(std::string_view key) const;
    //! Draws of one input [n]; the key must be one of the inputs (programmer error otherwise: throws std::logic_error).
    std::span<const double> column(std::string_view key) const;
    double at(std::string_view key, std::size_t i) const { return column(key)[i]; }
    const std::vector<Input>& inputs() const { return inputs_; }

private:
    friend Cases draw_cases(std::vector<Input> inputs, std::size_t n, std::uint64_t seed);
    friend Cases middle_case(std::vector<Input> inputs);
    std::size_t n_ = 0;
    std::vector<Input> inputs_;
    std::vector<std::vector<double>> columns_;
    std::map<std::string, std::size_t, std::less<>> index_;
};

//! n: a power of two, at least 64. Keys must be unique.
Cases draw_cases(std::vector<Input> inputs, std::size_t n, std::uint64_t seed);
//! One row, every input at the middle of its draws: what is shown where one case must stand for all. Keys must be unique.
Cases middle_case(std::vector<Input> inputs);

//! Row i of the cases, as the rooms see it: row("front.heat.convection").
class CaseRow {
public:
    CaseRow(const Cases& cases, std::size_t i) : cases_(&cases), i_(i) {}
    double operator()(std::string_view key) const { return cases_->at(key, i_); }
    std::size_t index() const { return i_; }

private:
    const Cases* cases_;
    std::size_t i_;
};

}  // namespace bw
