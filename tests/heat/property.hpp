// SPDX-License-Identifier: Apache-2.0
// A property over temperature, for the references of tests/heat.
#pragma once
#include <cstddef>
#include <utility>
#include <vector>

namespace bw::heat::test {

//! [degC, value], temperatures increasing: linear between, constant beyond. One pair: a constant.
using Property = std::vector<std::pair<double, double>>;

inline double value_at(const Property& p, double degC) {
    if (p.size() == 1 || degC <= p.front().first) return p.front().second;
    for (std::size_t i = 1; i < p.size(); ++i)
        if (degC <= p[i].first) return p[i - 1].second + (p[i].second - p[i - 1].second) * (degC - p[i - 1].first) / (p[i].first - p[i - 1].first);
    return p.back().second;
}

}  // namespace bw::heat::test
