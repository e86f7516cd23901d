// SPDX-License-Identifier: Apache-2.0
// The likely cases: drawing and looking up.                                                               Layer: base
#include "base/cases.hpp"

#include <stdexcept>

#include "base/sampling.hpp"

namespace bw {

Cases draw_cases(std::vector<Input> inputs, std::size_t n, std::uint64_t seed) {
    Cases cases;
    cases.n_ = n;
    cases.inputs_ = std::move(inputs);
    const std::size_t dims = cases.inputs_.size();
    cases.columns_.assign(dims, std::vector<double>(n));
    for (std::size_t d = 0; d < dims; ++d) {
        const Input& input = cases.inputs_[d];
        if (!cases.index_.emplace(input.key, d).second) throw std::logic_error("input twice: " + input.key);
        const std::vector<double> u = even_column(n, mix(seed, hash_of(input.key), 0, 0xCA5E5));
        for (std::size_t i = 0; i < n; ++i) cases.columns_[d][i] = input.value.at(normal_quantile(u[i]));
    }
    return cases;
}

Cases middle_case(std::vector<Input> inputs) {
    Cases cases;
    cases.n_ = 1;
    cases.inputs_ = std::move(inputs);
    for (std::size_t d = 0; d < cases.inputs_.size(); ++d) {
        const Input& input = cases.inputs_[d];
        if (!cases.index_.emplace(input.key, d).second) throw std::logic_error("input twice: " + input.key);
        cases.columns_.push_back({input.value.at(0)});
    }
    return cases;
}

bool Cases::has(std::string_view key) const { return index_.find(key) != index_.end(); }

std::span<const double> Cases::column(std::string_view key) const {
    const auto found = index_.find(key);
    if (found == index_.end()) throw std::logic_error("no such input: " + std::string(key));
    return columns_[found->second];
}

}  // namespace bw
