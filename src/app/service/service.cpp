// SPDX-License-Identifier: Apache-2.0
// The service: which address is answered by what.                                                        Layer: app
#include "service.hpp"

#include <algorithm>
#include <cctype>
#include <cstdlib>
#include <nlohmann/json.hpp>

#include "base/text.hpp"
#include "pages.hpp"
#include "reply.hpp"

namespace bw::app::service {

namespace {

constexpr std::size_t most_upload = std::size_t{64} << 20, most_body = std::size_t{1} << 20;
constexpr std::string_view root = "/api/v1/";
const std::string page_header = "x-brakewright-page";   // web/src/service.ts sends it with every request

std::vector<std::string> steps_of(const std::string& path) {
    std::vector<std::string> steps;
    for (std::size_t at = 0; at <= path.size();) {
        const std::size_t end = std::min(path.find('/', at), path.size());
        steps.push_back(path.substr(at, end - at));
        at = end + 1;
    }
    return steps;
}

bool is_id(const std::string& s) {
    return (s.size() == 36 || s.size() == 64) && std::all_of(s.begin(), s.end(), [](unsigned char c) { return std::isxdigit(c) || c == '-'; });
}

bool is_upload(const Asked& a) {
    const std::vector<std::string> s = steps_of(a.path);
    return a.method == "POST" && a.path.starts_with(root) && s.size() == 6 && s[3] == "bikes" && s[5] == "rides";
}

std::string_view type_of(std::string_view name) {
    static constexpr std::pair<std::string_view, std::string_view> types[] = {
        {".html", "text/html; charset=utf-8"}, {".js", "text/javascript; charset=utf-8"}, {".css", "text/css; charset=utf-8"}, {".svg", "image/svg+xml"}, {".png", "image/png"}, {".ico", "image/x-icon"},
        {".woff2", "font/woff2"}, {".json", "application/json"}, {".webmanifest", "application/manifest+json"}, {".txt", "text/plain; charset=utf-8"}, {".map", "application/json"}};
    for (const auto& [ending, type] : types)
        if (name.ends_with(ending)) return type;
    return "application/octet-stream";
}

constexpr const char* no_pages =
    "<!doctype html>\n<html lang=\"en\"><head><meta charset=\"utf-8\"><meta name=\"brakewright-token\" content=\"__BRAKEWRIGHT_TOKEN__\"><title>Brakewright</title></head><body><h1>Brakewright</h1>\n"
    "<p>The service runs, but this program was built without its pages. <code>./start</code> builds them; so does <code>npm ci &amp;&amp; npm run build</code> in <code>web/</code> before the program is built. What the service says: <code>/api/v1/stand</code>.</p>\n"
    "<p>An estimate does not replace an inspection. The maker's instructions and local rules come first. If in doubt do not ride, and see a qualified mechanic.</p></body></html>\n";

std::string from_form(const std::string& body, std::string_view name) {
    for (std::size_t at = 0; at <= body.size();) {
        const std::size_t end = std::min(body.find('&', at), body.size());
        const std::string field = body.substr(at, end - at);
        if (field.starts_with(name) && field.size() > name.size() && field[name.size()] == '=') return field.substr(name.size() + 1);
        at = end + 1;
    }
    return {};
}

Said not_found() { return error_said(404, "not_found", "there is nothing of that name here"); }

}  // namespace

Service::Service(Room& room, int threads) : room_(room), jobs_(threads) {}

Site Service::site() {
    return {.refuse = [this](const Asked& a) { return door_->refuse(a); },
            .taking = [](const Asked& a) { return is_upload(a) ? Taking{most_upload, Taking::Into::file} : Taking{most_body, Taking::Into::memory}; },
            .answer = [this](const Asked& a) { return answer(a); },
            .error = [](int status, const std::string& code, const std::string& text) { return error_said(status, code, text); },
            .headers = Door::headers()};
}

Said Service::answer(const Asked& a) {
    if (a.method == "POST" && a.path == "/pair") return door_->pair(a, from_form(a.body, "code"));
    if (!a.path.starts_with(root)) return a.method == "GET" || a.method == "HEAD" ? page(a) : not_found();
    const Asker asker = a.header(page_header).empty() ? Asker::other : Asker::page;
    try {
        return api(a, a.path.substr(root.size()));
    } catch (const Malformed& m) {
        return error_said(400, "wrong_usage", m.text);
    } catch (const NotThere& n) {
        return error_said(404, "not_found", n.text);
    } catch (const Stop& s) {
        return not_done_said(asker, s.error);
    } catch (const NotComputed& n) {
        return not_done_said(asker, 404, "not_computed", n.text);
    } catch (const MustAsk& ask) {
        json list = json::array();
        for (const Question& q : ask.questions) {
            json choices = json::array();
            for (const auto& c : q.choices) choices.push_back({{"value", c.value}, {"text", c.text}});
            list.push_back({{"code", q.code}, {"text", q.text}, {"choices", choices}});
        }
        return asked_said(asker, list);
    }
}

Said Service::api(const Asked& a, const std::string& rest) {
    const std::vector<std::string> s = steps_of(rest);
    const bool get = a.method == "GET" || a.method == "HEAD", post = a.method == "POST";
    const std::size_t n = s.size();
    const auto query = [&](const char* name) {
        const auto it = a.query.find(name);
        return it == a.query.end() ? std::string() : it->second;
    };
    const Said wrong_method = error_said(405, "no_such_method", "this address is not asked for in this way: see web/openapi.json");
    // A page elsewhere can send forms and text without asking first, but not this type.
    if (post && !is_upload(a) && !a.body.empty() && !a.header("content-type").starts_with("application/json")) return error_said(415, "wrong_usage", "expected Content-Type application/json");
    if (n >= 2 && (s[0] == "bikes" || s[0] == "rides" || s[0] == "jobs") && !is_id(s[1])) return not_found();

    if (n == 1 && s[0] == "about") return get ? json_said(200, about(room_)) : wrong_method;
    if (n == 1 && s[0] == "stand") return get ? json_said(200, stand(room_)) : wrong_method;
    if (n == 1 && s[0] == "bikes") return post ? json_said(201, new_bike(room_, a.body)) : wrong_method;
    if (n == 1 && s[0] == "undo") return post ? json_said(200, undo(room_, a.body)) : wrong_method;
    if (n == 1 && s[0] == "pair") return post ? door_->pair(a, code_of_pairing(a.body)) : wrong_method;
    if (n >= 2 && s[0] == "bikes") {
        const papers::Id& bike = s[1];
        if (n == 2) return get ? json_said(200, bike_page(room_, bike)) : wrong_method;
        if (n == 3 && s[2] == "answer") return get ? Said{.body = answer_json(room_, bike), .headers = {{"Cache-Control", "no-store"}}} : wrong_method;
        if (n == 3 && s[2] == "brakes") return get ? json_said(200, brakes(room_, bike)) : wrong_method;
        if (n == 3 && s[2] == "check") return get ? json_said(200, check_list(room_, bike)) : post ? json_said(200, check_done(room_, bike, a.body)) : wrong_method;
        if (n == 3 && s[2] == "rides") return post ? json_said(200, new_rides(room_, bike, query("name"), query("by"), a.body_file)) : wrong_method;
        if (n == 3 && s[2] == "readings") return post ? json_said(201, new_reading(room_, bike, a.body)) : wrong_method;
        if (n == 4 && s[2] == "readings" && s[3] == "rows") return post ? json_said(200, new_rows(room_, bike, a.body)) : wrong_method;
        if (n == 3 && s[2] == "proof") return get ? json_said(200, proof_page(room_, bike)) : post ? json_said(201, new_proof(room_, bike, a.body)) : wrong_method;
        if (n == 4 && s[2] == "proof" && s[3] == "recorded") return post ? json_said(201, new_recorded_proof(room_, bike, a.body)) : wrong_method;
        if (n == 3 && s[2] == "hold") return post ? json_said(200, hold_back(room_, bike, a.body)) : wrong_method;
        if (n == 3 && s[2] == "clear") return post ? json_said(200, clear_holds(room_, bike, a.body)) : wrong_method;
    }
    if (n >= 2 && s[0] == "rides") {
        if (!get) return wrong_method;
        const papers::Id bike = query("bike");
        if (!is_id(bike)) return error_said(400, "wrong_usage", "say whose ride: ?bike=ID");
        if (n == 2) return json_said(200, ride_page(room_, bike, s[1]));
        if (n == 3 && s[2] == "series") {
            const std::string told = query("points");
            const auto points = told.empty() ? std::optional(2000.0) : parse_number(told);
            if (!points || *points < 100 || *points > 2000) return error_said(400, "wrong_usage", "points: expected 100 to 2000");
            return json_said(200, ride_series(room_, bike, s[1], static_cast<std::size_t>(*points)));
        }
    }
    if (s[0] == "jobs") {
        if (n == 1 && !post) return wrong_method;
        if (n == 1) {
            std::string kind;
            Jobs::Work work = work_of(room_, a.body, kind);
            return json_said(202, {{"id", must(jobs_.start(kind, std::move(work)))}});
        }
        if (n == 2) {
            if (a.method == "DELETE" ? !jobs_.cancel(s[1]) : !get) return a.method == "DELETE" ? not_found() : wrong_method;
            const auto job = jobs_.look(s[1]);
            return job ? Said{.body = *job, .headers = {{"Cache-Control", "no-store"}}} : not_found();
        }
    }
    return not_found();
}

Said Service::page(const Asked& a) {
    const auto with_token = [this](std::string html) {
        constexpr std::string_view here = "__BRAKEWRIGHT_TOKEN__";
        for (std::size_t at = 0; (at = html.find(here, at)) != std::string::npos;) html.replace(at, here.size(), door_->token());
        return html;
    };
    std::string_view name = std::string_view(a.path).substr(1);
    if (name.empty()) name = "index.html";
    // By name alone: there is no file system behind this, so no path leads out of it.
    for (const Page& p : pages()) {
        if (p.name != name) continue;
        Said said{.type = std::string(type_of(name)), .body = name == "index.html" ? with_token(std::string(p.bytes)) : std::string(p.bytes)};
        // Names under assets/ hold a hash of what is in them.
        said.headers.emplace_back("Cache-Control", name.starts_with("assets/") ? "max-age=31536000, immutable" : "no-store");
        return said;
    }
    if (name == "index.html") return {.type = "text/html; charset=utf-8", .body = with_token(no_pages), .headers = {{"Cache-Control", "no-store"}}};
    return not_found();
}

}  // namespace bw::app::service
