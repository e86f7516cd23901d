// SPDX-License-Identifier: Apache-2.0
// Errors and JSON as replies.                                                                            Layer: app
#pragma once
#include <nlohmann/json_fwd.hpp>
#include <string>

#include "base/result.hpp"
#include "http.hpp"

namespace bw::app::service {

//! {"error": {code, text}}
Said error_said(int status, const std::string& code, const std::string& text);
//! Status from the table of errors; "file:12: ..." also as file and line.
Said error_said(const Error&);
Said json_said(int status, const nlohmann::ordered_json&);

}  // namespace bw::app::service
