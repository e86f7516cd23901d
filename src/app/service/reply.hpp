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
//! {code, text}; "file:12: ..." also as file and line.
nlohmann::ordered_json told_error(const Error&);
//! Status 200 and {"not_done": {code, text}}: understood, and not done.
Said not_done_said(const std::string& code, const std::string& text);
//! The same; a fault of ours or of the machine (500 in the table of errors) is an error.
Said not_done_said(const Error&);
Said json_said(int status, const nlohmann::ordered_json&);

}  // namespace bw::app::service
