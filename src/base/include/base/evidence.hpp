// SPDX-License-Identifier: Apache-2.0
// A number that knows its spread and where it comes from.                                                  Layer: base
#pragma once
#include <cmath>
#include <string>

namespace bw {

//! Where a value comes from, best first (INTERFACES: evidence grade).
enum class Grade { measured, published, published_from_memory, common_practice, assumed };
constexpr const char* name_of(Grade g) {
    switch (g) {
        case Grade::measured: return "measured";
        case Grade::published: return "published";
        case Grade::published_from_memory: return "published_from_memory";
        case Grade::common_practice: return "common_practice";
        case Grade::assumed: return "assumed";
    }
    return "assumed";
}

//! A positive quantity: median, standard deviation in the same unit, grade, source. The unit is in the field's own name.
struct Uncertain {
    double value = 0;
    double sd = 0;
    Grade grade = Grade::assumed;
    std::string source;

    //! The value at standard normal point z: log-normal about the median, so that it stays positive.
    double at(double z) const {
        if (sd <= 0 || value <= 0) return value;
        return value * std::exp(z * std::sqrt(std::log1p((sd / value) * (sd / value))));
    }
};

}  // namespace bw
