// SPDX-License-Identifier: Apache-2.0
// HTTP over sockets, and nothing of what is said over it: requests in, replies out, limits of size and of time.  Layer: app
#pragma once
#include <cstddef>
#include <functional>
#include <map>
#include <memory>
#include <optional>
#include <string>
#include <utility>
#include <vector>

#include "base/result.hpp"

namespace bw::app::service {

struct Asked {
    std::string method;
    std::string path;                              //!< percent-decoded
    std::map<std::string, std::string> query;
    std::map<std::string, std::string> headers;    //!< names in small letters; a header that came twice is empty
    std::string body;
    std::string body_file;                         //!< instead of body, where the site wanted a file; gone after the reply

    const std::string& header(const std::string& name) const {
        static const std::string none;
        const auto it = headers.find(name);
        return it == headers.end() ? none : it->second;
    }
};

struct Said {
    int status = 200;
    std::string type = "application/json";
    std::string body = {};
    std::vector<std::pair<std::string, std::string>> headers = {};
};

//! How the body of a request is taken.
struct Taking {
    std::size_t most_bytes = 0;
    enum class Into { memory, file } into = Into::memory;
};

//! What stands behind the sockets. Called from many threads at once.
struct Site {
    //! Before the body is read: a refusal, or nothing.
    std::function<std::optional<Said>(const Asked&)> refuse;
    std::function<Taking(const Asked&)> taking;
    std::function<Said(const Asked&)> answer;
    //! What is said where HTTP itself fails: status, code, text.
    std::function<Said(int, const std::string&, const std::string&)> error;
    std::vector<std::pair<std::string, std::string>> headers;   //!< of every reply
};

//! A client that is slower than this is cut off. Source: common practice, no source.
struct Patience {
    double stall_s = 10;               //!< without a byte
    double head_s = 15;                //!< for the head of a request, however the bytes are spread
    double least_bytes_per_s = 4096;   //!< of a body or a reply, beyond head_s
    double idle_s = 5;                 //!< between two requests of one connection
};

class Http {
public:
    Http(Site, Patience);
    ~Http();
    Http(const Http&) = delete;
    Http& operator=(const Http&) = delete;
    //! Takes a port (0: any that is free); returns it. Fails with cannot_write if it is taken or not ours to take.
    Result<int> bind(const std::string& address, int port);
    //! Serves until stop() is called from another thread.
    void run();
    void stop();

private:
    struct Inside;
    std::unique_ptr<Inside> in_;
};

}  // namespace bw::app::service
