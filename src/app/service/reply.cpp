// SPDX-License-Identifier: Apache-2.0
// Errors and JSON as replies.                                                                            Layer: app
#include "reply.hpp"

#include <algorithm>
#include <cctype>
#include <nlohmann/json.hpp>

namespace bw::app::service {

using json = nlohmann::ordered_json;

namespace {

struct Row {
    const char* name;
    int http;
};
Row row_of(Errc code) {
    switch (code) {
#define BW_X(name, exit, http) \
    case Errc::name: return {#name, http};
        BW_ERRORS(BW_X)
#undef BW_X
    }
    return {"internal", 500};
}

Said not_done(Asker asker, int status, const json& told) { return asker == Asker::page ? json_said(200, {{"not_done", told}}) : json_said(status, {{"error", told}, {"not_done", told}}); }

}  // namespace

Said json_said(int status, const json& j) {
    // Names of rides and bikes come from outside: bytes that are not UTF-8 are replaced.
    return {.status = status, .type = "application/json", .body = j.dump(-1, ' ', false, json::error_handler_t::replace), .headers = {{"Cache-Control", "no-store"}}};
}

Said error_said(int status, const std::string& code, const std::string& text) { return json_said(status, {{"error", {{"code", code}, {"text", text}}}}); }

Said not_done_said(Asker asker, int status, const std::string& code, const std::string& text) { return not_done(asker, status, {{"code", code}, {"text", text}}); }

json told_error(const Error& error) {
    const Row row = row_of(error.code);
    json e = {{"code", row.name}, {"text", error.text}};
    const std::size_t colon = error.text.find(':');
    if (colon != std::string::npos && colon > 0) {
        std::size_t end = colon + 1;
        while (end < error.text.size() && end < colon + 10 && std::isdigit(static_cast<unsigned char>(error.text[end]))) ++end;
        if (end > colon + 1 && end < error.text.size() && error.text[end] == ':') {
            e["file"] = error.text.substr(0, colon);
            e["line"] = std::stol(error.text.substr(colon + 1, end - colon - 1));
        }
    }
    return e;
}

Said not_done_said(Asker asker, const Error& error) {
    const int status = row_of(error.code).http;
    return status >= 500 ? json_said(status, {{"error", told_error(error)}}) : not_done(asker, status, told_error(error));
}

Said asked_said(Asker asker, const json& questions) {
    if (asker == Asker::page) return json_said(200, {{"asked", questions}});
    return json_said(409, {{"error", {{"code", "question"}, {"text", questions.at(0).at("text")}}}, {"questions", questions}, {"asked", questions}});
}

}  // namespace bw::app::service
