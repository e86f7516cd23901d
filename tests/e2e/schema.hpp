// SPDX-License-Identifier: Apache-2.0
// Holds what the program prints to its schema; valijson is the judge. Its headers take long to compile, so they are in schema.cpp alone.
#pragma once
#include <nlohmann/json_fwd.hpp>
#include <string>

namespace bw::e2e {

//! What of `document` does not keep to the JSON schema `schema`, a line each; empty if it keeps to it.
std::string against_schema(const nlohmann::json& schema, const nlohmann::json& document);
//! The same with docs/schema/`name`.
std::string against_schema(const char* name, const nlohmann::json& document);

}  // namespace bw::e2e
