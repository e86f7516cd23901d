// SPDX-License-Identifier: Apache-2.0
// Random numbers of the tests' own.
#pragma once
#include <cmath>
#include <cstdint>

namespace bw::ride {

struct Noise {   // Box-Muller over a congruential generator
    std::uint64_t s;
    double uniform() {
        s = s * 6364136223846793005ull + 1442695040888963407ull;
        return (static_cast<double>(s >> 11) + 0.5) / 9007199254740992.0;
    }
    double normal() { return std::sqrt(-2 * std::log(uniform())) * std::cos(6.283185307179586 * uniform()); }
};

}  // namespace bw::ride
