// SPDX-License-Identifier: Apache-2.0
// Who may come in: host, origin, pairing, token, and what every reply carries.                           Layer: app
// Why: docs/decisions/0014-service.md.
#pragma once
#include <functional>
#include <mutex>
#include <set>
#include <string>
#include <string_view>
#include <utility>
#include <vector>

#include "http.hpp"

namespace bw::app::service {

//! Names under which a browser may reach this: "127.0.0.1:7317", "localhost:7317". Loopback: those of the loopback alone;
//! else the address itself, or, for an address that stands for all, every address and the name of this machine.
std::vector<std::string> hosts_of(const std::string& address, int port);
bool is_loopback(const std::string& address);
//! 256 random bits in hexadecimal digits, from the system.
std::string random_token();

class Door {
public:
    //! say_code: told the pairing code, and again when it changes; empty: no pairing.
    Door(std::vector<std::string> hosts, std::string token, std::function<void(const std::string&)> say_code);

    //! Why this request is not let in, or nothing. Before any body is read.
    std::optional<Said> refuse(const Asked&);
    //! The answer to a code given to /pair (a form) or /api/v1/pair (JSON); `code` as typed.
    Said pair(const Asked&, const std::string& code);
    //! Headers of every reply.
    static std::vector<std::pair<std::string, std::string>> headers();
    const std::string& token() const { return token_; }

private:
    void new_code();
    bool paired(const Asked&);

    std::set<std::string> hosts_;
    std::string token_;
    std::function<void(const std::string&)> say_code_;
    std::mutex mutex_;   // of what follows
    std::string code_;
    int wrong_ = 0;
    std::set<std::string> cookies_;
};

//! True if both are the same, in a time that does not tell where they differ.
bool same(std::string_view a, std::string_view b);

}  // namespace bw::app::service
