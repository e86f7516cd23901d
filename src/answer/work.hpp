// SPDX-License-Identifier: Apache-2.0
// The work of a ride as bytes, to be kept and found again.                                               Layer: answer
#pragma once
#include <optional>
#include <string>
#include <string_view>

#include "internal.hpp"

namespace bw::answer {

//! Without series and traces. Little-endian, every number as it is: work_of(bytes_of(w)) gives the same answers to the last bit.
std::string bytes_of(const RideWork&);
//! Nothing if the bytes are not such work, whole: then it is computed again.
std::optional<RideWork> work_of(std::string_view bytes);

}  // namespace bw::answer
