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
//! Who asks. What a person can bring about by using the pages is an answer to a page of ours, since a browser logs every other
//! status as an error; anybody else gets the status that tells without reading the body.
enum class Asker { page, other };
//! Understood, and not done: {"not_done": {code, text}}. A page: status 200. Others: that status, and "error" with the same beside it.
Said not_done_said(Asker, int status, const std::string& code, const std::string& text);
//! The same, with the status of the table of errors. A fault of ours or of the machine (500 there) is an error for all.
Said not_done_said(Asker, const Error&);
//! {"asked": [question...]}: nothing is done until that is answered. A page: status 200. Others: 409, with "error" and "questions".
Said asked_said(Asker, const nlohmann::ordered_json& questions);
Said json_said(int status, const nlohmann::ordered_json&);

}  // namespace bw::app::service
