// SPDX-License-Identifier: Apache-2.0
#include "schema.hpp"

#include <nlohmann/json.hpp>
#include <valijson/adapters/nlohmann_json_adapter.hpp>
#include <valijson/schema.hpp>
#include <valijson/schema_parser.hpp>
#include <valijson/validator.hpp>

#include "bw_paths.hpp"
#include "run.hpp"

namespace bw::e2e {

std::string against_schema(const nlohmann::json& schema, const nlohmann::json& document) {
    valijson::Schema parsed;
    valijson::SchemaParser().populateSchema(valijson::adapters::NlohmannJsonAdapter(schema), parsed);
    valijson::ValidationResults results;
    if (valijson::Validator().validate(parsed, valijson::adapters::NlohmannJsonAdapter(document), &results)) return "";
    std::string why;
    valijson::ValidationResults::Error error;
    while (results.popError(error)) {
        for (const auto& part : error.context) why += part;
        why += ": " + error.description + "\n";
    }
    return why.empty() ? "does not hold\n" : why;
}

std::string against_schema(const char* name, const nlohmann::json& document) {
    return against_schema(nlohmann::json::parse(read(std::string(BW_ROOT) + "/docs/schema/" + name)), document);
}

}  // namespace bw::e2e
