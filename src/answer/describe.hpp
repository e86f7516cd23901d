// SPDX-License-Identifier: Apache-2.0
// Words that text and JSON share.                                                                         Layer: answer
#pragma once
#include <string>

#include "answer/answer.hpp"

namespace bw::answer {

//! The short caution of every page and report (DESIGN 3, rule 11).
inline constexpr const char* caution =
    "An estimate does not replace an inspection. The maker's instructions and local rules come first. If in doubt do not ride, and see a qualified "
    "mechanic.";

}  // namespace bw::answer
