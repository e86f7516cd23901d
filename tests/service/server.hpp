// SPDX-License-Identifier: Apache-2.0
// `brakewright open` as a process of its own on the loopback, asked over a plain socket; replies held to web/openapi.json.
#pragma once
#include <sys/types.h>

#include <map>
#include <nlohmann/json.hpp>
#include <string>
#include <vector>

namespace bw::service::testing {

using nlohmann::json;

struct Reply {
    int status = 0;                              //!< 0: the connection was closed without one
    std::map<std::string, std::string> headers;  //!< names in small letters
    std::string body;
    json parsed() const { return json::parse(body); }
    //! Understood, and not done: {"not_done"} or {"asked"} in a reply that no browser logs.
    bool held_off() const { return status == 200 && body.starts_with("{") && (parsed().contains("not_done") || parsed().contains("asked")); }
};

//! What a page of ours sends along: a refusal and a question then come with status 200.
inline const std::string as_page = "X-Brakewright-Page: 1";

//! A socket to a port of the loopback.
class Wire {
public:
    explicit Wire(int port);
    ~Wire();
    Wire(const Wire&) = delete;
    Wire& operator=(const Wire&) = delete;
    bool send(const std::string& bytes);         //!< false: the other side has closed
    Reply reply();                               //!< reads until the other side closes, at most 20 s
    //! Seconds until the other side closes, at most `most_s`.
    double closed_after(double most_s);

private:
    int socket_ = -1;
};

//! Reply of one raw request on a connection of its own.
Reply raw(int port, const std::string& bytes);

class Server {
public:
    //! papers: a file that is there. words: more of the command line.
    explicit Server(const std::string& papers, const std::vector<std::string>& words = {});
    ~Server();   //!< ends it, whatever happens
    Server(const Server&) = delete;
    Server& operator=(const Server&) = delete;

    int port() const { return port_; }
    const std::string& said() const { return said_; }   //!< what it printed before it was ready
    std::string more();                                 //!< what it has printed since
    std::string host() const { return "127.0.0.1:" + std::to_string(port_); }
    const std::string& token() const { return token_; }
    //! Ends it as a person does; returns the exit status.
    int stop(int signal);

    //! As a page of ours asks.
    Reply get(const std::string& path) const { return ask("GET", path, {as_page}); }
    //! The same, with the token and JSON.
    Reply post(const std::string& path, const json& body) const;
    Reply ask(const std::string& method, const std::string& path, const std::vector<std::string>& headers = {}, const std::string& body = "") const;
    //! Waits for the end of a job; returns what is said of it.
    json finished(const std::string& id) const;

private:
    pid_t pid_ = -1;
    int out_ = -1, port_ = 0;
    std::string said_, token_;
};

//! What web/openapi.json says of this reply; empty: it keeps to it. address: as there, "/bikes/{id}".
std::string against_openapi(const Reply&, const std::string& method, const std::string& address);
//! Looks at status and schema of the reply, and at the headers that every reply carries.
void expect_as_described(const Reply&, int status, const std::string& method, const std::string& address);
//! Understood and not done, as described.
bool not_done(const Reply&);
void expect_not_done(const Reply&, const std::string& method, const std::string& address, const std::string& code = "bad_input");

//! A folder with papers in it: the invented trail bike, no rides.
class Papers {
public:
    Papers();
    ~Papers();
    const std::string& file() const { return file_; }
    const std::string& folder() const { return folder_; }
    std::string bike() const;   //!< id of the first bike
    //! Runs `brakewright papers WORDS --papers FILE --json`.
    json papers(std::vector<std::string> words) const;

private:
    std::string folder_, file_;
};

std::string uuid(int n);   //!< the same for the same number

}  // namespace bw::service::testing
