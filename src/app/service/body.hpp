// SPDX-License-Identifier: Apache-2.0
// JSON bodies in: each key with what was expected. A body that is no JSON object is Malformed; a key that is wrong stops (Stop) with bad_input.         Layer: app
#pragma once
#include <nlohmann/json_fwd.hpp>
#include <optional>
#include <string>

#include "../verbs.hpp"

namespace bw::app::service {

nlohmann::ordered_json body_of(const std::string& text);
//! Empty where the key is not there or null.
std::string text_of(const nlohmann::ordered_json&, const char* key);
std::string needed_text(const nlohmann::ordered_json&, const char* key);
std::optional<double> number_in(const nlohmann::ordered_json&, const char* key);
//! What was answered to a question of that code; empty: nothing.
std::string answer_to(const nlohmann::ordered_json& body, const char* code);
SixTold six_told(const nlohmann::ordered_json&);

}  // namespace bw::app::service
