// SPDX-License-Identifier: Apache-2.0
// Version of the models of each room: what was kept is found again only by the model that made it.        Layer: answer
#pragma once
#include <string_view>

namespace bw::answer {

//! Rooms behind the work of a ride; "work" and "answer" stand for how the likely cases are drawn too. Raise a room's number
//! when the changelog says that its results move; tests/answer holds the figures of one ride against this line.
inline constexpr std::string_view work_models = "parts 1, balance 1, ride 7, heat 10, stop 1, work 3";
//! Those that an answer adds.
inline constexpr std::string_view answer_models = "inspect 3, stop 2, wear 7, papers 2, answer 12";

}  // namespace bw::answer
