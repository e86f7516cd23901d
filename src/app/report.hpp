// SPDX-License-Identifier: Apache-2.0
// `answer --report`: one HTML file that needs nothing else.                                             Layer: app
#pragma once
#include <string>

#include "answer/answer.hpp"

namespace bw::app {

//! The answer as HTML: tables that need no script, then the pages' own figures with the data they are drawn from (at most
//! 2,000 points a ride; series only where the request kept them). What somebody typed or a file said stands as text.
//! With do_not_ride that comes first, and no distance and no life is in it. Fails with cannot_read if the pages were not built.
Result<std::string> report_html(const answer::Answer&, const std::string& of_version);

}  // namespace bw::app
