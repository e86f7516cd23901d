// SPDX-License-Identifier: Apache-2.0
// HTTP over sockets with cpp-httplib, whose header stays in this file.                                   Layer: app
#include "http.hpp"

#include <httplib.h>
#include <poll.h>

#include <chrono>
#include <cstdio>
#include <cstdlib>
#include <filesystem>

namespace bw::app::service {

namespace {

using Clock = std::chrono::steady_clock;
double seconds_since(Clock::time_point t) { return std::chrono::duration<double>(Clock::now() - t).count(); }

// A connection that has to come along: each byte within stall_s, a head within head_s, a body at a least rate. The library
// only knows a time limit for single reads, which a client that drips bytes never meets.
class Connection final : public httplib::Stream {
public:
    Connection(int socket, const Patience& patience) : socket_(socket), patience_(patience) {}
    void begin_request() {
        begun_ = Clock::now();
        bytes_ = 0;
    }
    //! Waits for the first byte of a request.
    bool something_comes(double wait_s) const { return at_ < have_ || ready(POLLIN, wait_s); }
    //! Takes what still comes, so that closing does not cut off the reply on its way.
    void drain(double at_most_s) {
        shutdown(socket_, SHUT_WR);
        const Clock::time_point from = Clock::now();
        char waste[4096];
        while (seconds_since(from) < at_most_s && ready(POLLIN, at_most_s) && recv(socket_, waste, sizeof waste, 0) > 0) {}
    }

    bool is_readable() const override { return at_ < have_ || ready(POLLIN, time_left()); }
    bool is_writable() const override { return ready(POLLOUT, time_left()); }
    ssize_t read(char* into, size_t size) override {
        if (at_ == have_) {
            if (!ready(POLLIN, time_left())) return -1;
            const ssize_t n = recv(socket_, buffer_, sizeof buffer_, 0);
            if (n <= 0) return n;
            bytes_ += static_cast<double>(n);
            at_ = 0;
            have_ = static_cast<std::size_t>(n);
        }
        const std::size_t n = std::min(size, have_ - at_);
        std::copy_n(buffer_ + at_, n, into);
        at_ += n;
        return static_cast<ssize_t>(n);
    }
    ssize_t write(const char* from, size_t size) override {
        if (!ready(POLLOUT, time_left())) return -1;
        const ssize_t n = send(socket_, from, size, MSG_NOSIGNAL);
        if (n > 0) bytes_ += static_cast<double>(n);
        return n;
    }
    void get_remote_ip_and_port(std::string& ip, int& port) const override { ip.clear(), port = 0; }
    void get_local_ip_and_port(std::string& ip, int& port) const override { ip.clear(), port = 0; }
    socket_t socket() const override { return socket_; }

private:
    double time_left() const { return std::min(patience_.stall_s, patience_.head_s + bytes_ / patience_.least_bytes_per_s - seconds_since(begun_)); }
    bool ready(short what, double wait_s) const {
        if (wait_s <= 0) return false;
        pollfd one{socket_, what, 0};
        return poll(&one, 1, static_cast<int>(wait_s * 1000) + 1) > 0;
    }

    int socket_;
    Patience patience_;
    Clock::time_point begun_ = Clock::now();
    double bytes_ = 0;
    char buffer_[16384] = {};
    std::size_t at_ = 0, have_ = 0;
};

class Server final : public httplib::Server {
public:
    explicit Server(Patience patience) : patience_(patience) {}

private:
    bool process_and_close_socket(socket_t socket) override {
        Connection c(socket, patience_);
        bool again = true;
        for (int n = 0; again && n < 1000 && wait(c); ++n) {
            c.begin_request();
            // Only what was understood and has no body leaves the connection in a known state.
            bool plain = false, closed = false;
            const bool went = process_request(c, false, closed, [&](httplib::Request& r) {
                plain = (r.method == "GET" || r.method == "HEAD") && !r.has_header("Content-Length") && !r.has_header("Transfer-Encoding");
                if (plain) return;
                r.headers.erase("Connection");
                r.set_header("Connection", "close");
            });
            again = went && plain && !closed;
        }
        c.drain(1);
        close(socket);
        return true;
    }
    // In short steps, so that stopping does not wait for idle browsers.
    bool wait(const Connection& c) const {
        for (double waited = 0; waited < patience_.idle_s && svr_sock_ != INVALID_SOCKET; waited += 0.1)
            if (c.something_comes(0.1)) return true;
        return false;
    }

    Patience patience_;
};

// A file for one body, gone with this object.
class BodyFile {
public:
    BodyFile() {
        std::error_code failed;
        std::string name = (std::filesystem::temp_directory_path(failed) / "brakewright_upload_XXXXXX").string();
        const int fd = failed ? -1 : mkstemp(name.data());
        if (fd < 0) return;
        name_ = name;
        file_ = fdopen(fd, "wb");
    }
    ~BodyFile() {
        if (file_) std::fclose(file_);
        if (!name_.empty()) std::remove(name_.c_str());
    }
    BodyFile(const BodyFile&) = delete;
    BodyFile& operator=(const BodyFile&) = delete;
    bool write(const char* bytes, std::size_t n) { return file_ && std::fwrite(bytes, 1, n, file_) == n; }
    bool finish() {
        const bool good = file_ && std::fclose(file_) == 0;
        file_ = nullptr;
        return good;
    }
    const std::string& name() const { return name_; }

private:
    std::string name_;
    std::FILE* file_ = nullptr;
};

Asked asked_of(const httplib::Request& r) {
    Asked a{.method = r.method, .path = r.path, .query = {}, .headers = {}, .body = {}, .body_file = {}};
    for (const auto& [name, value] : r.params) a.query.emplace(name, value);
    for (const auto& [name, value] : r.headers) {
        std::string small = name;
        for (char& c : small) c = static_cast<char>(::tolower(static_cast<unsigned char>(c)));
        const auto [it, fresh] = a.headers.emplace(small, value);
        if (!fresh) it->second.clear();
    }
    return a;
}

void put(httplib::Response& out, Said said) {
    out.status = said.status;
    for (const auto& [name, value] : said.headers) out.set_header(name, value);
    // 204 and an empty redirect have no type.
    if (!said.body.empty()) out.set_content(std::move(said.body), said.type);
}

}  // namespace

struct Http::Inside {
    Site site;
    Server server;

    Inside(Site s, Patience p) : site(std::move(s)), server(p) {
        httplib::Headers headers;
        for (const auto& [name, value] : site.headers) headers.emplace(name, value);
        server.set_default_headers(headers);
        // The usual options let a second program take the same port.
        server.set_socket_options([](socket_t socket) {
            int yes = 1;
            setsockopt(socket, SOL_SOCKET, SO_REUSEADDR, &yes, sizeof yes);
        });
        server.set_tcp_nodelay(true);
        server.new_task_queue = [] { return new httplib::ThreadPool(24); };
        server.set_payload_max_length(std::size_t{128} << 20);   // what a request may have at most is for `taking` to say
        server.set_pre_routing_handler([this](const httplib::Request& r, httplib::Response& out) {
            const Asked asked = asked_of(r);
            if (auto no = site.refuse(asked)) put(out, *std::move(no));
            else if (r.method == "GET" || r.method == "HEAD") put(out, site.answer(asked));
            else return Server::HandlerResponse::Unhandled;
            return Server::HandlerResponse::Handled;
        });
        const auto with_body = [this](const httplib::Request& r, httplib::Response& out, const httplib::ContentReader& reader) { take(r, out, reader); };
        const char* any = "[^]*";
        server.Post(any, with_body).Put(any, with_body).Patch(any, with_body).Delete(any, with_body);
        server.set_exception_handler([this](const httplib::Request&, httplib::Response& out, std::exception_ptr thrown) {
            std::string what = "of unknown kind";
            try {
                std::rethrow_exception(thrown);
            } catch (const std::exception& e) {
                what = e.what();
            } catch (...) {
            }
            put(out, site.error(500, "internal", "a fault of ours: " + what));
        });
        server.set_error_handler([this](const httplib::Request&, httplib::Response& out) {
            if (!out.body.empty()) return;
            const int status = out.status;
            put(out, status == 404   ? site.error(404, "not_found", "there is nothing of that name here")
                     : status == 413 ? site.error(413, "too_large", "the request is larger than is taken here")
                                     : site.error(status, "wrong_usage", "the request was not understood"));
        });
    }

    void take(const httplib::Request& r, httplib::Response& out, const httplib::ContentReader& reader) {
        Asked asked = asked_of(r);
        const Taking how = site.taking(asked);
        std::optional<BodyFile> file;
        if (how.into == Taking::Into::file) file.emplace();
        std::size_t size = 0;
        bool too_large = false, disk_failed = false;
        // Told too large: the library would read it all before it says so.
        const std::string& told = asked.header("content-length");
        if (std::strtoull(told.c_str(), nullptr, 10) > how.most_bytes) too_large = true;
        // Without a length it would read until the other side hangs up.
        const bool none = told.empty() && asked.header("transfer-encoding").empty();
        // It has no limit for bodies that come in pieces or packed: what arrives is counted.
        const bool whole = none || too_large || reader([&](const char* bytes, std::size_t n) {
            size += n;
            too_large = size > how.most_bytes;
            if (too_large) return false;
            if (!file) asked.body.append(bytes, n);
            else disk_failed = !file->write(bytes, n);
            return !disk_failed;
        });
        if (too_large || out.status == 413) return put(out, site.error(413, "too_large", "the request is larger than is taken here: at most " + std::to_string(how.most_bytes >> 20) + " MiB"));
        if (disk_failed || (file && whole && !file->finish())) return put(out, site.error(500, "cannot_write", "there is no room for the file in the folder for temporary files"));
        if (!whole) return put(out, site.error(408, "slow", "the request did not come whole; send it again"));
        if (file) asked.body_file = file->name();
        put(out, site.answer(asked));
    }
};

Http::Http(Site site, Patience patience) : in_(std::make_unique<Inside>(std::move(site), patience)) {}
Http::~Http() = default;

Result<int> Http::bind(const std::string& address, int port) {
    const int got = port == 0 ? in_->server.bind_to_any_port(address) : in_->server.bind_to_port(address, port) ? port : -1;
    if (got <= 0) return Error{Errc::cannot_write, address + ":" + std::to_string(port) + ": this address and port cannot be taken; is another program on it? Name another with --listen ADDRESS:PORT"};
    return got;
}

void Http::run() { in_->server.listen_after_bind(); }
void Http::stop() { in_->server.stop(); }

}  // namespace bw::app::service
