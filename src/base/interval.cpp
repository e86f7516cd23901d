// SPDX-License-Identifier: Apache-2.0
// Quantiles, means, linear interpolation.                                                                 Layer: base
#include "base/interval.hpp"

#include <algorithm>
#include <cassert>
#include <cmath>
#include <numeric>
#include <stdexcept>
#include <utility>
#include <vector>

namespace bw {

namespace {

double at_rank(const std::vector<double>& sorted, double p) {
    const double rank = std::clamp(p, 0.0, 1.0) * static_cast<double>(sorted.size() - 1);
    const auto low = static_cast<std::size_t>(rank);
    if (low + 1 >= sorted.size()) return sorted.back();
    const double part = rank - static_cast<double>(low);
    return part == 0 ? sorted[low] : sorted[low] + part * (sorted[low + 1] - sorted[low]);
}

}  // namespace

double quantile(std::span<const double> values, double p) {
    assert(!values.empty());
    std::vector<double> sorted(values.begin(), values.end());
    std::sort(sorted.begin(), sorted.end());
    return at_rank(sorted, p);
}

double quantile(std::span<const double> values, std::span<const double> weights, double p) {
    assert(!values.empty() && values.size() == weights.size());
    std::vector<std::size_t> order(values.size());
    std::iota(order.begin(), order.end(), std::size_t{0});
    std::stable_sort(order.begin(), order.end(), [&](std::size_t a, std::size_t b) { return values[a] < values[b]; });
    const double total = std::accumulate(weights.begin(), weights.end(), 0.0);
    if (!(total > 0)) throw std::logic_error("quantile: no case has any weight");
    std::vector<double> x, y;
    double sum = 0;
    for (const std::size_t i : order) {
        if (weights[i] <= 0) continue;
        x.push_back((sum + weights[i] / 2) / total);
        y.push_back(values[i]);
        sum += weights[i];
    }
    return interpolate(x, y, p);
}

Interval interval_of(std::span<const double> values) {
    assert(!values.empty());
    std::vector<double> sorted(values.begin(), values.end());
    std::sort(sorted.begin(), sorted.end());
    return {at_rank(sorted, 0.05), at_rank(sorted, 0.50), at_rank(sorted, 0.95)};
}

Interval interval_of(std::span<const double> values, std::span<const double> weights) {
    return {quantile(values, weights, 0.05), quantile(values, weights, 0.50), quantile(values, weights, 0.95)};
}

double mean_of(std::span<const double> values) {
    assert(!values.empty());
    return std::accumulate(values.begin(), values.end(), 0.0) / static_cast<double>(values.size());
}

double sd_of(std::span<const double> values) {
    if (values.size() < 2) return 0;
    const double mean = mean_of(values);
    double sum = 0;
    for (const double v : values) sum += (v - mean) * (v - mean);
    return std::sqrt(sum / static_cast<double>(values.size() - 1));
}

double first_order_share(std::span<const double> x, std::span<const double> y) {
    constexpr std::size_t slices = 32;
    assert(!x.empty() && y.size() % x.size() == 0 && y.size() >= 1024);
    const std::size_t repeats = y.size() / x.size();
    std::vector<std::pair<double, std::size_t>> by_x(x.size());   // beside their places: much faster than places that look x up
    for (std::size_t i = 0; i < x.size(); ++i) by_x[i] = {x[i], i};
    std::sort(by_x.begin(), by_x.end());
    const double sd = sd_of(y), variance = sd * sd;
    if (by_x.front().first == by_x.back().first || variance <= 0) return 0;
    std::vector<double> sorted;   // y in the order of x
    sorted.reserve(y.size());
    for (const auto& [value, i] : by_x) sorted.insert(sorted.end(), y.begin() + static_cast<long>(i * repeats), y.begin() + static_cast<long>((i + 1) * repeats));
    const double mean = mean_of(y);
    const std::size_t each = y.size() / slices;
    double between = 0;
    for (std::size_t s = 0; s < slices; ++s) {
        double sum = 0;
        for (std::size_t i = 0; i < each; ++i) sum += sorted[s * each + i];
        const double d = sum / static_cast<double>(each) - mean;
        between += d * d / slices;
    }
    const double noise = 1.0 / static_cast<double>(each);   // of a slice's mean, as a share of what x leaves open
    return std::clamp((between / variance - noise) / (1 - noise), 0.0, 1.0);
}

double interpolate(std::span<const double> x, std::span<const double> y, double at) {
    assert(!x.empty() && x.size() == y.size());
    if (at <= x.front()) return y.front();
    if (at >= x.back()) return y.back();
    const auto high = static_cast<std::size_t>(std::upper_bound(x.begin(), x.end(), at) - x.begin());
    const double part = (at - x[high - 1]) / (x[high] - x[high - 1]);
    return y[high - 1] + part * (y[high] - y[high - 1]);
}

}  // namespace bw
