// SPDX-License-Identifier: Apache-2.0
// Total share of the variance by pick-freeze.                                                             Layer: base
#pragma once
#include <span>

#include "base/interval.hpp"

namespace bw {

//! Share of the variance of y in which an input has a part, alone or together with others, 0 and more. y: [n] over a sample;
//! y_changed: [n] the same with that input alone drawn anew, all inputs independent. Error falls as 1/root(n).
//! Source: the estimator of M. J. W. Jansen, Comput. Phys. Commun. 117, 1999 (from memory). 0 if y does not vary.
inline double total_share(std::span<const double> y, std::span<const double> y_changed) {
    double sum = 0, mean = 0, square = 0;
    const double n = static_cast<double>(y.size());
    for (std::size_t i = 0; i < y.size(); ++i) sum += (y[i] - y_changed[i]) * (y[i] - y_changed[i]), mean += y[i] / n;
    for (const double v : y) square += (v - mean) * (v - mean);
    return square > 0 ? 0.5 * sum / square : 0;
}

}  // namespace bw
