// SPDX-License-Identifier: Apache-2.0
// Bins of the wear dose.                                                                                  Layer: heat
#include "heat/dose.hpp"

#include <algorithm>

namespace bw::heat {

std::size_t dose_bin(double pad_face_degC) {
    // An edge belongs to the bin above it.
    return static_cast<std::size_t>(std::upper_bound(dose_edges_degC.begin(), dose_edges_degC.end(), pad_face_degC) -
                                    dose_edges_degC.begin());
}

}  // namespace bw::heat
