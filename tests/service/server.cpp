// SPDX-License-Identifier: Apache-2.0
#include "server.hpp"

#include <arpa/inet.h>
#include <fcntl.h>
#include <gtest/gtest.h>
#include <netinet/in.h>
#include <poll.h>
#include <signal.h>
#include <sys/prctl.h>
#include <sys/socket.h>
#include <sys/wait.h>
#include <unistd.h>

#include <algorithm>
#include <chrono>
#include <filesystem>
#include <fstream>
#include <stdexcept>
#include <thread>

#include "../e2e/run.hpp"
#include "../e2e/schema.hpp"
#include "bw_paths.hpp"

namespace bw::service::testing {

using Clock = std::chrono::steady_clock;

namespace {
double since(Clock::time_point t) { return std::chrono::duration<double>(Clock::now() - t).count(); }
bool readable(int fd, double wait_s) {
    pollfd one{fd, POLLIN, 0};
    return poll(&one, 1, static_cast<int>(wait_s * 1000)) > 0;
}
}  // namespace

Wire::Wire(int port) {
    socket_ = socket(AF_INET, SOCK_STREAM, 0);
    sockaddr_in to{};
    to.sin_family = AF_INET;
    to.sin_port = htons(static_cast<std::uint16_t>(port));
    to.sin_addr.s_addr = htonl(INADDR_LOOPBACK);
    if (connect(socket_, reinterpret_cast<const sockaddr*>(&to), sizeof to) != 0) throw std::runtime_error("no connection");
}
Wire::~Wire() { close(socket_); }

bool Wire::send(const std::string& bytes) {
    for (std::size_t at = 0; at < bytes.size();) {
        const ssize_t n = ::send(socket_, bytes.data() + at, bytes.size() - at, MSG_NOSIGNAL);
        if (n <= 0) return false;
        at += static_cast<std::size_t>(n);
    }
    return true;
}

Reply Wire::reply() {
    std::string all;
    char piece[65536];
    const Clock::time_point from = Clock::now();
    while (since(from) < 20 && readable(socket_, 20)) {
        const ssize_t n = recv(socket_, piece, sizeof piece, 0);
        if (n <= 0) break;
        all.append(piece, static_cast<std::size_t>(n));
    }
    Reply r;
    while (all.starts_with("HTTP/1.1 100")) all = all.substr(all.find("\r\n\r\n") + 4);
    const std::size_t head = all.find("\r\n\r\n");
    if (head == std::string::npos) return r;
    r.status = std::atoi(all.c_str() + 9);
    for (std::size_t at = all.find("\r\n") + 2; at < head;) {
        const std::size_t end = std::min(all.find("\r\n", at), head), colon = all.find(':', at);
        std::string name = all.substr(at, colon - at);
        std::transform(name.begin(), name.end(), name.begin(), [](unsigned char c) { return std::tolower(c); });
        r.headers[name] = all.substr(colon + 2, end - colon - 2);
        at = end + 2;
    }
    r.body = all.substr(head + 4);
    return r;
}

double Wire::closed_after(double most_s) {
    const Clock::time_point from = Clock::now();
    char piece[4096];
    while (since(from) < most_s)
        if (readable(socket_, 0.05) && recv(socket_, piece, sizeof piece, 0) <= 0) break;
    return since(from);
}

Reply raw(int port, const std::string& bytes) {
    Wire wire(port);
    wire.send(bytes);
    return wire.reply();
}

Server::Server(const std::string& papers, const std::vector<std::string>& words) {
    int pipe_ends[2];
    if (pipe(pipe_ends) != 0) throw std::runtime_error("no pipe");
    std::vector<std::string> all = {BW_PROGRAM, "open", "--papers", papers};
    all.insert(all.end(), words.begin(), words.end());
    if (std::find(words.begin(), words.end(), "--listen") == words.end()) all.insert(all.end(), {"--listen", "127.0.0.1:0"});
    std::vector<char*> argv;
    for (std::string& w : all) argv.push_back(w.data());
    argv.push_back(nullptr);
    pid_ = fork();
    if (pid_ == 0) {
        prctl(PR_SET_PDEATHSIG, SIGKILL);   // never left behind
        dup2(pipe_ends[1], 1);
        close(pipe_ends[0]);
        close(pipe_ends[1]);
        execv(argv[0], argv.data());
        _exit(127);
    }
    close(pipe_ends[1]);
    out_ = pipe_ends[0];
    const Clock::time_point from = Clock::now();
    while (said_.find("Ctrl-C") == std::string::npos && since(from) < 60) {
        char piece[4096];
        if (!readable(out_, 1)) continue;
        const ssize_t n = read(out_, piece, sizeof piece);
        if (n <= 0) break;
        said_.append(piece, static_cast<std::size_t>(n));
    }
    const std::size_t at = said_.find("http://");
    if (at == std::string::npos) return;   // did not start; said() tells
    const std::size_t end = said_.find('/', at + 7);
    port_ = std::atoi(said_.c_str() + said_.rfind(':', end) + 1);
    // Its socket is taken before it says so; whoever connects now is served in a moment.
    const std::string page = get("/").body;
    const std::string lead = "name=\"brakewright-token\" content=\"";
    if (const std::size_t token = page.find(lead); token != std::string::npos) token_ = page.substr(token + lead.size(), page.find('"', token + lead.size()) - token - lead.size());
}

Server::~Server() {
    if (pid_ > 0) stop(SIGTERM);
    if (out_ >= 0) close(out_);
}

std::string Server::more() {
    std::string out;
    char piece[4096];
    while (readable(out_, 0.3)) {
        const ssize_t n = read(out_, piece, sizeof piece);
        if (n <= 0) break;
        out.append(piece, static_cast<std::size_t>(n));
    }
    return out;
}

int Server::stop(int signal) {
    kill(pid_, signal);
    int status = 0;
    for (int i = 0; i < 600; ++i) {
        if (waitpid(pid_, &status, WNOHANG) == pid_) {
            pid_ = -1;
            return WIFEXITED(status) ? WEXITSTATUS(status) : 128 + WTERMSIG(status);
        }
        std::this_thread::sleep_for(std::chrono::milliseconds(50));
    }
    kill(pid_, SIGKILL);
    waitpid(pid_, &status, 0);
    pid_ = -1;
    return -1;
}

Reply Server::ask(const std::string& method, const std::string& path, const std::vector<std::string>& headers, const std::string& body) const {
    std::string text = method + " " + path + " HTTP/1.1\r\nConnection: close\r\n";
    const auto told = [&](const char* name) { return std::any_of(headers.begin(), headers.end(), [&](const std::string& h) { return h.starts_with(name); }); };
    if (!told("Host:")) text += "Host: " + host() + "\r\n";
    for (const std::string& h : headers) text += h + "\r\n";
    if (!body.empty() && !told("Content-Length:") && !told("Transfer-Encoding:")) text += "Content-Length: " + std::to_string(body.size()) + "\r\n";
    return raw(port_, text + "\r\n" + body);
}

Reply Server::post(const std::string& path, const json& body) const {
    return ask("POST", path, {as_page, "Content-Type: application/json", "Origin: http://" + host(), "X-Brakewright-Token: " + token_}, body.dump());
}

json Server::finished(const std::string& id) const {
    for (int i = 0; i < 6000; ++i) {
        const Reply r = get("/api/v1/jobs/" + id);
        if (r.status != 200) return r.body;
        const json j = r.parsed();
        if (j["state"] != "waiting" && j["state"] != "running") return j;
        std::this_thread::sleep_for(std::chrono::milliseconds(50));
    }
    return {};
}

std::string against_openapi(const Reply& r, const std::string& method, const std::string& address) {
    static const json api = [] {
        std::ifstream in(std::string(BW_ROOT) + "/web/openapi.json");
        return json::parse(in);
    }();
    if (!api["paths"].contains(address)) return address + " is not described";
    std::string small = method;
    std::transform(small.begin(), small.end(), small.begin(), [](unsigned char c) { return std::tolower(c); });
    if (!api["paths"][address].contains(small)) return method + " " + address + " is not described";
    const json& responses = api["paths"][address][small]["responses"];
    const std::string status = std::to_string(r.status);
    json one = responses.contains(status) ? responses[status] : responses["default"];
    if (one.contains("$ref")) one = api[json::json_pointer(one["$ref"].get<std::string>().substr(1))];
    if (!responses.contains(status) && r.status < 400) return "status " + status + " is not described";
    if (!one.contains("content")) return r.body.empty() ? "" : "expected no body";
    if (!r.headers.contains("content-type") || r.headers.at("content-type") != "application/json") return "expected application/json";
    json schema_text = {{"allOf", json::array({one["content"]["application/json"]["schema"]})}, {"components", api["components"]}};
    json document;
    try {
        document = r.parsed();
    } catch (const json::parse_error& e) {
        return std::string("not JSON: ") + e.what() + "\n" + r.body.substr(0, 300);
    }
    return bw::e2e::against_schema(schema_text, document);
}

void expect_as_described(const Reply& r, int status, const std::string& method, const std::string& address) {
    EXPECT_EQ(r.status, status) << method << " " << address << ": " << r.body.substr(0, 500);
    EXPECT_EQ(against_openapi(r, method, address), "") << method << " " << address;
    EXPECT_FALSE(r.held_off()) << method << " " << address << ": " << r.body.substr(0, 500);
    ASSERT_TRUE(r.headers.contains("content-security-policy")) << address;
    EXPECT_EQ(r.headers.at("x-content-type-options"), "nosniff") << address;
}

bool not_done(const Reply& r) { return r.status == 200 && r.parsed().contains("not_done"); }

void expect_not_done(const Reply& r, const std::string& method, const std::string& address, const std::string& code) {
    EXPECT_EQ(r.status, 200) << method << " " << address << ": " << r.body.substr(0, 500);
    EXPECT_EQ(against_openapi(r, method, address), "") << method << " " << address;
    ASSERT_TRUE(not_done(r)) << method << " " << address << ": " << r.body.substr(0, 500);
    EXPECT_EQ(r.parsed()["not_done"]["code"], code) << r.body;
    EXPECT_NE(r.parsed()["not_done"]["text"], "");
}

Papers::Papers() {
    std::string name = (std::filesystem::path(access("/dev/shm", W_OK) == 0 ? "/dev/shm" : "/tmp") / "bw_service_XXXXXX").string();
    if (!mkdtemp(name.data())) throw std::runtime_error("no temporary folder");
    folder_ = name;
    file_ = folder_ + "/papers.sqlite";
    EXPECT_EQ(e2e::brakewright({"papers", "make", file_}).status, 0);
    papers({"add", "bike", e2e::demo("bikes/trail.toml"), "--by", "Ada", "--day", "2026-05-01"});
}
Papers::~Papers() {
    std::error_code ignored;
    std::filesystem::remove_all(folder_, ignored);
}
json Papers::papers(std::vector<std::string> words) const {
    words.insert(words.begin(), "papers");
    for (const char* w : {"--papers", file_.c_str(), "--json"}) words.emplace_back(w);
    const e2e::Outcome o = e2e::brakewright(words);
    EXPECT_EQ(o.status, 0) << o.err;
    return json::parse(o.out);
}
std::string Papers::bike() const { return papers({"show"})["bikes"][0]["id"]; }

std::string uuid(int n) {
    std::string digits = std::to_string(n);
    digits.insert(0, 12 - digits.size(), '0');
    return "00000000-0000-4000-8000-" + digits;
}

}  // namespace bw::service::testing
