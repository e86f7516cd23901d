// SPDX-License-Identifier: Apache-2.0
// The rules at the door, one by one.
#include "door.hpp"

#include <gtest/gtest.h>

using namespace bw::app::service;

namespace {

const std::string host = "127.0.0.1:7317";

Asked asked(const std::string& method, const std::string& path, std::map<std::string, std::string> headers = {}) {
    headers.emplace("host", host);
    return {.method = method, .path = path, .query = {}, .headers = std::move(headers), .body = {}, .body_file = {}};
}
int refused(Door& door, const Asked& a) {
    const auto no = door.refuse(a);
    return no ? no->status : 0;
}

struct Paired {
    std::vector<std::string> codes;
    Door door{hosts_of("127.0.0.1", 7317), "token", [this](const std::string& code) { codes.push_back(code); }};
};
std::string cookie_of(const Said& s) {
    for (const auto& [name, value] : s.headers)
        if (name == "Set-Cookie") return value.substr(0, value.find(';'));
    return "";
}

}  // namespace

TEST(Door, LetsTheOwnPageInAndAsksWritesForTheToken) {
    Door door(hosts_of("127.0.0.1", 7317), "token", nullptr);
    EXPECT_EQ(refused(door, asked("GET", "/")), 0);
    EXPECT_EQ(refused(door, asked("GET", "/api/v1/stand")), 0);
    EXPECT_EQ(refused(door, asked("POST", "/api/v1/undo")), 403);
    EXPECT_EQ(refused(door, asked("POST", "/api/v1/undo", {{"x-brakewright-token", "tokem"}})), 403);
    EXPECT_EQ(refused(door, asked("POST", "/api/v1/undo", {{"x-brakewright-token", ""}})), 403);
    EXPECT_EQ(refused(door, asked("POST", "/api/v1/undo", {{"x-brakewright-token", "token"}})), 0);
    EXPECT_EQ(refused(door, asked("DELETE", "/api/v1/jobs/1")), 403);
    EXPECT_EQ(refused(door, asked("PATCH", "/api/v1/undo", {{"x-brakewright-token", "token"}})), 405);
}

TEST(Door, RefusesForeignHostsAndOrigins) {
    Door door(hosts_of("127.0.0.1", 7317), "token", nullptr);
    for (const char* foreign : {"", "evil.example", "evil.example:7317", "127.0.0.1", "127.0.0.1:7318", "127.0.0.1:7317.evil.example", "127.0.0.1:73177"})
        EXPECT_EQ(refused(door, asked("GET", "/", {{"host", foreign}})), 403) << foreign;
    for (const char* own : {"127.0.0.1:7317", "localhost:7317", "LocalHost:7317", "[::1]:7317"}) EXPECT_EQ(refused(door, asked("GET", "/", {{"host", own}})), 0) << own;
    for (const char* foreign : {"null", "", "http://evil.example", "https://127.0.0.1:7317", "http://127.0.0.1:7318", "http://localhost:7317"})
        EXPECT_EQ(refused(door, asked("GET", "/api/v1/stand", {{"origin", foreign}})), 403) << foreign;
    EXPECT_EQ(refused(door, asked("GET", "/api/v1/stand", {{"origin", "http://127.0.0.1:7317"}})), 0);
    EXPECT_EQ(refused(door, asked("GET", "/api/v1/stand", {{"sec-fetch-site", "cross-site"}})), 403);
    EXPECT_EQ(refused(door, asked("GET", "/api/v1/stand", {{"sec-fetch-site", "same-origin"}})), 0);
}

TEST(Door, BeyondTheLoopbackNothingIsSaidWithoutTheCode) {
    Paired p;
    ASSERT_EQ(p.codes.size(), 1u);
    EXPECT_EQ(refused(p.door, asked("GET", "/api/v1/stand")), 401);
    EXPECT_EQ(refused(p.door, asked("GET", "/")), 401);
    EXPECT_EQ(refused(p.door, asked("POST", "/api/v1/undo", {{"x-brakewright-token", "token"}})), 401);
    EXPECT_EQ(refused(p.door, asked("GET", "/api/v1/stand", {{"cookie", "brakewright_paired="}})), 401);
    EXPECT_EQ(refused(p.door, asked("GET", "/api/v1/stand", {{"cookie", "brakewright_paired=0123"}})), 401);

    const Asked pairing = asked("POST", "/api/v1/pair");
    EXPECT_EQ(refused(p.door, pairing), 0);
    EXPECT_EQ(p.door.pair(pairing, "").status, 401);
    EXPECT_EQ(p.door.pair(pairing, "AAAAAAAA").status, 401);
    // As people type it: with the dash, in small letters.
    std::string typed = p.codes.front().substr(0, 4) + "-" + p.codes.front().substr(4);
    for (char& c : typed) c = static_cast<char>(std::tolower(static_cast<unsigned char>(c)));
    const Said let_in = p.door.pair(pairing, typed);
    EXPECT_EQ(let_in.status, 204);
    const std::string cookie = cookie_of(let_in);
    EXPECT_EQ(refused(p.door, asked("GET", "/api/v1/stand", {{"cookie", "other=1; " + cookie}})), 0);
    EXPECT_EQ(refused(p.door, asked("GET", "/api/v1/stand", {{"cookie", cookie + "0"}})), 401);
    // Paired is not enough to write.
    EXPECT_EQ(refused(p.door, asked("POST", "/api/v1/undo", {{"cookie", cookie}})), 403);
}

TEST(Door, TheCodeChangesAfterTenWrongOnesSoThatItCannotBeTriedOut) {
    Paired p;
    const Asked pairing = asked("POST", "/pair");
    for (int i = 0; i < 9; ++i) p.door.pair(pairing, "22222222");
    EXPECT_EQ(p.codes.size(), 1u);
    p.door.pair(pairing, "22222222");
    ASSERT_EQ(p.codes.size(), 2u);
    EXPECT_NE(p.codes[0], p.codes[1]);
    EXPECT_EQ(p.door.pair(pairing, p.codes[0]).status, 401);
    EXPECT_EQ(p.door.pair(pairing, p.codes[1]).status, 303);
}

TEST(Door, TokensAndCodesDiffer) {
    std::set<std::string> all;
    for (int i = 0; i < 1000; ++i) all.insert(random_token());
    EXPECT_EQ(all.size(), 1000u);
    EXPECT_EQ(all.begin()->size(), 64u);
}
