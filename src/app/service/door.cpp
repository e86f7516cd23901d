// SPDX-License-Identifier: Apache-2.0
// Who may come in: host, origin, pairing, token, and what every reply carries.                           Layer: app
#include "door.hpp"

#include <arpa/inet.h>
#include <ifaddrs.h>
#include <netinet/in.h>
#include <sys/random.h>
#include <unistd.h>

#include <cctype>
#include <stdexcept>

#include "reply.hpp"

namespace bw::app::service {

namespace {

std::string random_bytes(std::size_t n) {
    std::string bytes(n, '\0');
    if (getrandom(bytes.data(), n, 0) != static_cast<ssize_t>(n)) throw std::runtime_error("the system gives no random bytes");
    return bytes;
}

std::string small(std::string text) {
    for (char& c : text) c = static_cast<char>(std::tolower(static_cast<unsigned char>(c)));
    return text;
}

// Letters and digits that nobody mixes up.
constexpr std::string_view letters = "23456789ABCDEFGHJKMNPQRSTUVWXYZ";
constexpr std::size_t code_letters = 8;   // 40 bits, with at most ten tries each
constexpr int most_wrong = 10;
constexpr std::string_view cookie_name = "brakewright_paired=";

constexpr const char* pair_page =
    "<!doctype html>\n<html lang=\"en\"><head><meta charset=\"utf-8\"><meta name=\"viewport\" content=\"width=device-width\"><title>Brakewright: pairing</title></head>\n"
    "<body><h1>Pairing</h1><p>This device is not known here yet. Type the code that the terminal shows where Brakewright was started.</p>\n"
    "<form method=\"post\" action=\"/pair\"><label>Code <input name=\"code\" autocomplete=\"off\" autocapitalize=\"characters\" autofocus required></label> <button>Pair</button></form>\n</body></html>\n";

}  // namespace

bool same(std::string_view a, std::string_view b) {
    unsigned differ = a.size() == b.size() ? 0 : 1;
    for (std::size_t i = 0; i < std::min(a.size(), b.size()); ++i) differ |= static_cast<unsigned>(static_cast<unsigned char>(a[i]) ^ static_cast<unsigned char>(b[i]));
    return differ == 0;
}

std::string random_token() {
    static constexpr char digits[] = "0123456789abcdef";
    std::string out;
    for (const char c : random_bytes(32)) {
        out += digits[static_cast<unsigned char>(c) >> 4];
        out += digits[static_cast<unsigned char>(c) & 15];
    }
    return out;
}

bool is_loopback(const std::string& address) { return address == "localhost" || address == "::1" || address.starts_with("127."); }

std::vector<std::string> hosts_of(const std::string& address, int port) {
    std::vector<std::string> names;
    const auto add = [&](const std::string& name) {
        const std::string host = name.find(':') == std::string::npos ? name : "[" + name + "]";
        names.push_back(small(host) + ":" + std::to_string(port));
        if (port == 80) names.push_back(small(host));
    };
    if (is_loopback(address)) {
        for (const char* name : {"127.0.0.1", "localhost", "::1"}) add(name);
        if (address != "localhost") add(address);
        return names;
    }
    if (address != "0.0.0.0" && address != "::") {
        add(address);
        return names;
    }
    for (const char* name : {"127.0.0.1", "localhost", "::1"}) add(name);
    ifaddrs* all = nullptr;
    if (getifaddrs(&all) == 0) {
        for (const ifaddrs* i = all; i; i = i->ifa_next) {
            if (!i->ifa_addr) continue;
            char text[INET6_ADDRSTRLEN] = {};
            const int family = i->ifa_addr->sa_family;
            const void* at = family == AF_INET    ? static_cast<const void*>(&reinterpret_cast<const sockaddr_in*>(i->ifa_addr)->sin_addr)
                             : family == AF_INET6 ? static_cast<const void*>(&reinterpret_cast<const sockaddr_in6*>(i->ifa_addr)->sin6_addr)
                                                  : nullptr;
            if (at && inet_ntop(family, at, text, sizeof text)) add(text);
        }
        freeifaddrs(all);
    }
    char name[256] = {};
    if (gethostname(name, sizeof name - 1) == 0 && *name) {
        add(name);
        add(std::string(name) + ".local");
    }
    return names;
}

Door::Door(std::vector<std::string> hosts, std::string token, std::function<void(const std::string&)> say_code)
    : hosts_(hosts.begin(), hosts.end()), token_(std::move(token)), say_code_(std::move(say_code)) {
    if (say_code_) new_code();
}

void Door::new_code() {
    code_.clear();
    wrong_ = 0;
    while (code_.size() < code_letters) {
        const auto x = static_cast<unsigned char>(random_bytes(1)[0]);
        if (x < 256 / letters.size() * letters.size()) code_ += letters[x % letters.size()];   // each letter as likely
    }
    say_code_(code_);
}

bool Door::paired(const Asked& asked) {
    const std::string& cookies = asked.header("cookie");
    const std::lock_guard lock(mutex_);
    for (std::size_t at = 0; (at = cookies.find(cookie_name, at)) != std::string::npos;) {
        at += cookie_name.size();
        if (cookies_.contains(cookies.substr(at, cookies.find(';', at) - at))) return true;
    }
    return false;
}

std::optional<Said> Door::refuse(const Asked& asked) {
    if (asked.path.size() > 1024) return error_said(414, "wrong_usage", "this address is too long");
    // A page elsewhere can make a browser ask here under another name (its own, led here), or send from another origin.
    const std::string host = small(asked.header("host"));
    if (!hosts_.contains(host)) return error_said(403, "forbidden", "this is not the address under which Brakewright was started");
    const bool writes = asked.method != "GET" && asked.method != "HEAD";
    if (asked.headers.contains("origin") && small(asked.header("origin")) != "http://" + host) return error_said(403, "forbidden", "requests from other pages are not taken");
    const std::string& site = asked.header("sec-fetch-site");
    const bool api = asked.path.starts_with("/api/");
    if ((api || writes) && (site == "cross-site" || site == "same-site")) return error_said(403, "forbidden", "requests from other pages are not taken");
    if (writes && asked.method != "POST" && asked.method != "DELETE" && asked.method != "PUT") return error_said(405, "no_such_method", "this method is not known here");

    const bool pairing = asked.method == "POST" && (asked.path == "/pair" || asked.path == "/api/v1/pair");
    if (say_code_ && !pairing && !paired(asked)) {
        if (!writes && !api) return Said{.status = 401, .type = "text/html; charset=utf-8", .body = pair_page};
        return error_said(401, "pairing", "this device is not paired yet: give the code that the terminal shows");
    }
    if (writes && !pairing && !same(asked.header("x-brakewright-token"), token_))
        return error_said(403, "forbidden", "the token is missing or from an earlier start: load the page again");
    return std::nullopt;
}

Said Door::pair(const Asked& asked, const std::string& typed) {
    const bool form = asked.path == "/pair";
    if (!say_code_) return error_said(404, "not_found", "there is no pairing on this machine itself");
    std::string code;
    for (const char c : typed)
        if (std::isalnum(static_cast<unsigned char>(c))) code += static_cast<char>(std::toupper(static_cast<unsigned char>(c)));
    const std::lock_guard lock(mutex_);
    if (!same(code, code_)) {
        if (++wrong_ >= most_wrong) new_code();
        if (form) return {.status = 401, .type = "text/html; charset=utf-8", .body = pair_page};
        return error_said(401, "pairing", "that is not the code that the terminal shows");
    }
    const std::string cookie = random_token();
    cookies_.insert(cookie);
    Said said{.status = form ? 303 : 204, .headers = {{"Set-Cookie", std::string(cookie_name) + cookie + "; HttpOnly; SameSite=Strict; Path=/"}}};
    if (form) said.headers.emplace_back("Location", "/");
    return said;
}

std::vector<std::pair<std::string, std::string>> Door::headers() {
    return {{"Content-Security-Policy",
             "default-src 'none'; script-src 'self'; style-src 'self'; img-src 'self' data: blob:; connect-src 'self'; font-src 'self'; manifest-src 'self'; worker-src 'self'; "
             "form-action 'self'; base-uri 'none'; frame-ancestors 'none'"},
            {"X-Content-Type-Options", "nosniff"},
            {"X-Frame-Options", "DENY"},
            {"Referrer-Policy", "same-origin"},
            {"Cross-Origin-Opener-Policy", "same-origin"},
            {"Cross-Origin-Resource-Policy", "same-origin"},
            {"Permissions-Policy", "camera=(), microphone=(), geolocation=()"}};
}

}  // namespace bw::app::service
