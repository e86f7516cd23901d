// SPDX-License-Identifier: Apache-2.0
// What a hostile page, a hostile file or a hostile client can try, each against the running service.
#include <gtest/gtest.h>
#include <signal.h>

#include <filesystem>
#include <fstream>
#include <thread>

#include "server.hpp"

using namespace bw::service::testing;

namespace {

const std::string tiny_gpx =
    "<?xml version=\"1.0\"?><gpx version=\"1.1\" creator=\"x\" xmlns=\"http://www.topografix.com/GPX/1/1\"><trk><name>&lt;script&gt;alert(1)&lt;/script&gt;</name><trkseg>"
    "<trkpt lat=\"46.1\" lon=\"8.1\"><ele>900</ele><time>2026-05-02T09:00:00Z</time></trkpt><trkpt lat=\"46.1002\" lon=\"8.1\"><ele>898</ele><time>2026-05-02T09:00:05Z</time></trkpt>"
    "<trkpt lat=\"46.1004\" lon=\"8.1\"><ele>896</ele><time>2026-05-02T09:00:10Z</time></trkpt></trkseg></trk></gpx>";

std::string state_of(const Papers& p) {
    return p.papers({"history", "--most", "1"}).dump();
}

}  // namespace

TEST(ServiceSecurity, AForeignHostIsRefused) {
    const Papers papers;
    const Server server(papers.file());
    for (const char* host : {"evil.example", "evil.example:80", "127.0.0.1"}) {
        EXPECT_EQ(server.ask("GET", "/", {std::string("Host: ") + host}).status, 403) << host;
        EXPECT_EQ(server.ask("GET", "/api/v1/stand", {std::string("Host: ") + host}).status, 403) << host;
    }
    EXPECT_EQ(raw(server.port(), "GET / HTTP/1.1\r\nConnection: close\r\n\r\n").status, 403) << "no Host at all";
    EXPECT_EQ(raw(server.port(), "GET / HTTP/1.1\r\nHost: " + server.host() + "\r\nHost: evil.example\r\nConnection: close\r\n\r\n").status, 403) << "two of them";
    EXPECT_EQ(server.get("/api/v1/stand").status, 200);
}

TEST(ServiceSecurity, AForeignOriginIsRefusedEvenWithTheToken) {
    const Papers papers;
    const Server server(papers.file());
    const std::string before = state_of(papers);
    for (const char* origin : {"http://evil.example", "null", "https://127.0.0.1"}) {
        const Reply r = server.ask("POST", "/api/v1/undo", {std::string("Origin: ") + origin, "X-Brakewright-Token: " + server.token(), "Content-Type: application/json"}, "{}");
        EXPECT_EQ(r.status, 403) << origin;
        EXPECT_FALSE(r.headers.contains("access-control-allow-origin"));
        EXPECT_EQ(server.ask("GET", "/api/v1/stand", {std::string("Origin: ") + origin}).status, 403) << origin;
    }
    EXPECT_EQ(server.ask("OPTIONS", "/api/v1/undo", {"Origin: http://evil.example", "Access-Control-Request-Method: POST"}).status, 403);
    EXPECT_EQ(state_of(papers), before);
}

TEST(ServiceSecurity, WritesNeedTheToken) {
    const Papers papers;
    const Server server(papers.file());
    ASSERT_EQ(server.token().size(), 64u);
    const std::string bike = papers.bike(), before = state_of(papers);
    const std::string at = "/api/v1/bikes/" + bike;
    for (const std::string& path : {std::string("/api/v1/undo"), std::string("/api/v1/bikes"), std::string("/api/v1/jobs"), at + "/hold", at + "/proof", at + "/proof/recorded", at + "/clear", at + "/check", at + "/readings", at + "/readings/rows", at + "/rides?name=a.gpx"})
        for (const std::string& token : {std::string(), std::string("X-Brakewright-Token: "), "X-Brakewright-Token: " + std::string(64, '0'), "X-Brakewright-Token: " + server.token() + "0"}) {
            std::vector<std::string> headers = {"Content-Type: application/json"};
            if (!token.empty()) headers.push_back(token);
            EXPECT_EQ(server.ask("POST", path, headers, R"({"by": "x", "why": "y"})").status, 403) << path << " " << token;
        }
    EXPECT_EQ(state_of(papers), before);
    const Server again(papers.file());
    EXPECT_NE(again.token(), server.token()) << "drawn anew for each start";
}

TEST(ServiceSecurity, AWriteAsAGetChangesNothing) {
    const Papers papers;
    const Server server(papers.file());
    const std::string before = state_of(papers), at = "/api/v1/bikes/" + papers.bike();
    for (const std::string& path : {std::string("/api/v1/undo"), std::string("/api/v1/jobs"), std::string("/api/v1/bikes"), at + "/hold", at + "/proof/recorded", at + "/clear", at + "/readings", at + "/readings/rows", at + "/rides?name=a.gpx"})
        for (const char* method : {"GET", "HEAD"}) EXPECT_EQ(server.ask(method, path, {"X-Brakewright-Token: " + server.token()}).status, 405) << method << " " << path;
    EXPECT_EQ(state_of(papers), before);
}

TEST(ServiceSecurity, AnUploadThatIsTooLargeIsCutOffAndLeavesNothing) {
    const Papers papers;
    const Server server(papers.file());
    const std::string path = "/api/v1/bikes/" + papers.bike() + "/rides?name=a.gpx", before = state_of(papers);
    const std::string head = "POST " + path + " HTTP/1.1\r\nHost: " + server.host() + "\r\nX-Brakewright-Token: " + server.token() + "\r\n";
    const auto files = [] {
        long n = 0;
        for (const auto& f : std::filesystem::directory_iterator(std::filesystem::temp_directory_path())) n += f.path().filename().string().starts_with("brakewright_upload_");
        return n;
    };
    const long files_before = files();
    const Reply told = raw(server.port(), head + "Content-Length: 67108865\r\n\r\n");   // refused by its length, before a byte of it came
    EXPECT_EQ(told.status, 413);
    EXPECT_EQ(told.parsed()["error"]["code"], "too_large");
    {   // in pieces, without a length
        Wire wire(server.port());
        wire.send(head + "Transfer-Encoding: chunked\r\n\r\n");
        const std::string piece = "100000\r\n" + std::string(1 << 20, 'x') + "\r\n";
        for (int i = 0; i < 66 && wire.send(piece); ++i) {}
        EXPECT_EQ(wire.reply().status, 413);
    }
    // JSON is held shorter.
    const Reply json_body = server.ask("POST", "/api/v1/undo", {"X-Brakewright-Token: " + server.token(), "Content-Type: application/json"}, std::string((1 << 20) + 1, ' '));
    EXPECT_EQ(json_body.status, 413);
    EXPECT_EQ(raw(server.port(), "POST /api/v1/undo HTTP/1.1\r\nHost: " + server.host() + "\r\nX-Brakewright-Token: " + server.token() + "\r\nContent-Length: 99999999999999999999\r\n\r\n").status, 413);
    EXPECT_EQ(files(), files_before);
    EXPECT_EQ(state_of(papers), before);
    EXPECT_EQ(server.get("/api/v1/stand").status, 200);
}

TEST(ServiceSecurity, NoPathLeadsToAFile) {
    const Papers papers;
    const Server server(papers.file());
    for (const char* path : {"/../../../../etc/passwd", "/..%2f..%2f..%2f..%2fetc/passwd", "/%2e%2e/%2e%2e/etc/passwd", "/assets/../../../../etc/passwd", "//etc/passwd", "/etc/passwd", "/index.html/../../etc/passwd",
                             "/%00", "/api/v1/../../etc/passwd", "/api/v1/bikes/..%2f..%2fetc%2fpasswd", "/api/v1/bikes/../about"}) {
        const Reply r = server.get(path);
        EXPECT_EQ(r.status, 404) << path;
        EXPECT_EQ(r.body.find("root:"), std::string::npos) << path;
    }
    EXPECT_EQ(server.get("/" + std::string(2000, 'a')).status, 414);
    // Names of files stay names.
    const Reply r = server.ask("POST", "/api/v1/bikes/" + papers.bike() + "/rides?name=..%2F..%2F..%2Fetc%2Fpasswd.gpx", {"X-Brakewright-Token: " + server.token()}, tiny_gpx);
    ASSERT_EQ(r.status, 200) << r.body;
    ASSERT_FALSE(r.held_off()) << r.body;
    EXPECT_EQ(r.parsed()["summary"]["file"], "passwd.gpx");
}

// What stores a ride takes the folders off as well, so what the rule itself does is seen in what is said before anything is stored.
TEST(ServiceSecurity, TheNameOfAnUploadIsANameBeforeAnythingReadsIt) {
    const Papers papers;
    const Server server(papers.file());
    const std::string before = state_of(papers);
    const auto said = [&](const std::string& name) {
        const Reply r = server.ask("POST", "/api/v1/bikes/" + papers.bike() + "/rides?name=" + name, {as_page, "X-Brakewright-Token: " + server.token()}, "this is no ride");
        EXPECT_TRUE(not_done(r)) << r.status << r.body;
        return not_done(r) ? r.parsed()["not_done"]["text"].get<std::string>() : std::string();
    };
    for (const char* name : {"..%2F..%2F..%2Fetc%2Fpasswd.gpx", "%2Fetc%2Fpasswd.gpx", "..%2Fpasswd.gpx", "a%2F.%2F..%2Fpasswd.gpx", "%0D%0Apasswd.gpx"}) {
        const std::string text = said(name);
        EXPECT_TRUE(text.starts_with("passwd.gpx")) << name << ": " << text;
        EXPECT_EQ(text.find_first_of("/\r\n"), std::string::npos) << name << ": " << text;
    }
    for (const char* name : {"..", "..%2F..", "%2F", "."}) EXPECT_TRUE(said(name).starts_with("ride")) << name;
    EXPECT_LT(said(std::string(900, 'a')).size(), 500u);
    EXPECT_EQ(state_of(papers), before);
}

TEST(ServiceSecurity, ASlowClientIsCutOffAndHoldsNobodyUp) {
    const Papers papers;
    const Server server(papers.file(), {"--patience_s", "1"});
    {   // silent in the middle of the head
        Wire wire(server.port());
        wire.send("GET / HTTP/1.1\r\nHost: ");
        EXPECT_LT(wire.closed_after(10), 6);
    }
    {   // a byte now and then, each well within the time for a single one
        Wire wire(server.port());
        double waited = 0;
        bool open = true;
        while (open && waited < 10) {
            open = wire.send("x");
            std::this_thread::sleep_for(std::chrono::milliseconds(200));
            waited += 0.2;
        }
        EXPECT_LT(waited, 8) << "a head that drips is cut off as well";
    }
    {   // a body that does not come
        Wire wire(server.port());
        wire.send("POST /api/v1/undo HTTP/1.1\r\nHost: " + server.host() + "\r\nX-Brakewright-Token: " + server.token() + "\r\nContent-Type: application/json\r\nContent-Length: 100\r\n\r\n{");
        EXPECT_LT(wire.closed_after(10), 6);
    }
    std::vector<std::unique_ptr<Wire>> many;
    for (int i = 0; i < 12; ++i) {
        many.push_back(std::make_unique<Wire>(server.port()));
        many.back()->send("GET / HTTP/1.1\r\n");
    }
    EXPECT_EQ(server.get("/api/v1/stand").status, 200);
}

TEST(ServiceSecurity, MalformedBodiesGetAnErrorThatSaysWhere) {
    const Papers papers;
    const Server server(papers.file());
    const std::string at = "/api/v1/bikes/" + papers.bike(), before = state_of(papers);
    const std::vector<std::string> headers = {as_page, "X-Brakewright-Token: " + server.token(), "Content-Type: application/json"};
    for (const std::string& path : {std::string("/api/v1/jobs"), std::string("/api/v1/bikes"), std::string("/api/v1/undo"), at + "/hold", at + "/proof", at + "/proof/recorded", at + "/clear", at + "/check", at + "/readings", at + "/readings/rows"})
        for (const std::string& body : {std::string("{"), std::string("{\"by\": }"), std::string("[1]"), std::string("null"), std::string("\xff\xfe"), std::string(100000, '['), std::string("{\"by\": \"\xC3\x28\"}")}) {
            const Reply r = server.ask("POST", path, headers, body);
            EXPECT_EQ(r.status, 400) << path << " " << body.substr(0, 20) << " " << r.status << r.body;
            EXPECT_EQ(r.parsed()["error"]["code"], "wrong_usage") << path << " " << body.substr(0, 20);
            EXPECT_NE(r.parsed()["error"]["text"].get<std::string>().find("expected"), std::string::npos) << r.body;
        }
    // A reading without a value is refused, and the service goes on.
    EXPECT_TRUE(not_done(server.ask("POST", at + "/readings", headers, R"({"place": "front", "quantity": "pad_thickness", "with_plate": "yes", "values": [], "by": "x", "entry_id": "11111111-2222-4333-8444-555555555555"})")));
    EXPECT_EQ(server.ask("GET", "/api/v1/stand", headers).status, 200);
    // Another type than JSON is what a form elsewhere could send.
    EXPECT_EQ(server.ask("POST", at + "/hold", {"X-Brakewright-Token: " + server.token(), "Content-Type: text/plain"}, R"({"by": "x", "why": "y"})").status, 415);
    EXPECT_EQ(raw(server.port(), "RUBBISH\r\n\r\n").status, 400);
    EXPECT_EQ(state_of(papers), before);
    EXPECT_EQ(server.get("/api/v1/stand").status, 200);
}

TEST(ServiceSecurity, ARideFullOfMarkupComesBackAsText) {
    const Papers papers;
    const Server server(papers.file());
    const std::string at = "/api/v1/bikes/" + papers.bike();
    const Reply up = server.ask("POST", at + "/rides?name=%3Cscript%3Ealert(1)%3C%2Fscript%3E%22%27.gpx", {"X-Brakewright-Token: " + server.token()}, tiny_gpx);
    ASSERT_EQ(up.status, 200) << up.body;
    ASSERT_FALSE(up.held_off()) << up.body;
    const std::string name = up.parsed()["summary"]["file"];
    EXPECT_EQ(name, "script>\"'.gpx") << "what stands before a / is a folder";
    const Reply held = server.post(at + "/hold", {{"by", "<img src=x onerror=alert(1)>"}, {"why", "</script><script>alert(1)</script>"}});
    ASSERT_EQ(held.status, 200);
    ASSERT_FALSE(held.held_off()) << held.body;
    for (const std::string& path : {at, std::string("/api/v1/stand")}) {
        const Reply r = server.get(path);
        EXPECT_EQ(r.headers.at("content-type"), "application/json") << "never HTML";
        EXPECT_EQ(r.headers.at("x-content-type-options"), "nosniff");
        EXPECT_NE(r.body.find("</script><script>"), std::string::npos);
        EXPECT_NO_THROW(r.parsed());
    }
    EXPECT_EQ(server.get("/").body.find("<script>alert"), std::string::npos);
}

TEST(ServiceSecurity, EveryReplyCarriesThePolicy) {
    const Papers papers;
    const Server server(papers.file());
    for (const Reply& r : {server.get("/"), server.get("/api/v1/stand"), server.get("/nothing"), server.ask("GET", "/", {"Host: evil.example"}), server.ask("POST", "/api/v1/undo"), raw(server.port(), "RUBBISH\r\n\r\n"),
                           raw(server.port(), "POST /api/v1/undo HTTP/1.1\r\nHost: " + server.host() + "\r\nX-Brakewright-Token: " + server.token() + "\r\nContent-Length: 99999999\r\n\r\n")}) {
        ASSERT_TRUE(r.headers.contains("content-security-policy")) << r.status;
        const std::string& policy = r.headers.at("content-security-policy");
        EXPECT_TRUE(policy.starts_with("default-src 'none'; script-src 'self';")) << policy;
        EXPECT_EQ(policy.find("unsafe"), std::string::npos);
        EXPECT_EQ(policy.find("http"), std::string::npos) << "no other machine is named";
        EXPECT_NE(policy.find("frame-ancestors 'none'"), std::string::npos);
        EXPECT_EQ(r.headers.at("x-content-type-options"), "nosniff");
        EXPECT_EQ(r.headers.at("referrer-policy"), "same-origin");
    }
}

TEST(ServiceSecurity, BeyondTheLoopbackEachDeviceIsPairedWithTheCodeOfTheTerminal) {
    const Papers papers;
    // An address of the loopback that is not written as one: to the program it lies beyond, to the test it does not.
    const Server server(papers.file(), {"--listen", "0x7f.1:0"});
    ASSERT_GT(server.port(), 0) << server.said();
    const std::string host = "Host: 0x7f.1:" + std::to_string(server.port());
    const std::string lead = "each device once: ";
    const std::size_t at = server.said().find(lead);
    ASSERT_NE(at, std::string::npos) << server.said();
    const std::string code = server.said().substr(at + lead.size(), 9);

    EXPECT_EQ(server.ask("GET", "/api/v1/stand", {host}).status, 401);
    const Reply page = server.ask("GET", "/", {host});
    EXPECT_EQ(page.status, 401);
    EXPECT_NE(page.body.find("<form"), std::string::npos);
    EXPECT_EQ(page.body.find("brakewright-token"), std::string::npos) << "the token is not told to strangers";
    EXPECT_EQ(server.ask("POST", "/pair", {host, "Content-Type: application/x-www-form-urlencoded"}, "code=AAAA-AAAA").status, 401);
    // As a browser sends the form: with the origin of its own page.
    const Reply let_in = server.ask("POST", "/pair", {host, "Origin: http://" + host.substr(6), "Content-Type: application/x-www-form-urlencoded"}, "code=" + code);
    ASSERT_EQ(let_in.status, 303) << let_in.body;
    const std::string cookie = let_in.headers.at("set-cookie");
    EXPECT_NE(cookie.find("HttpOnly"), std::string::npos);
    EXPECT_NE(cookie.find("SameSite=Strict"), std::string::npos);
    EXPECT_EQ(server.ask("GET", "/api/v1/stand", {host, "Cookie: " + cookie.substr(0, cookie.find(';'))}).status, 200);
}
