// SPDX-License-Identifier: Apache-2.0
// Damaged, cut and strange files: refused with a sentence or opened and usable, never a crash, never altered by a refusal.
#include <random>

#include <fmt/format.h>

#include "../../src/papers/sql/open.hpp"
#include "desk.hpp"

using namespace bw;
using namespace bw::papers;
using namespace bw::papers::testing;

namespace {

std::string sound_bytes() {
    const Folder folder;
    {
        auto p = must(make_papers(folder.path("a")));
        const Sample s = add_sample(*p);
        for (int i = 0; i < 10; ++i) must(p->add_reading(deed(), pad_reading(s, 1.5)));
        std::string content;
        std::mt19937 r(1);
        for (int i = 0; i < 20000; ++i) content += static_cast<char>(r());
        must(p->add_ride(deed(), a_ride(s, "a.csv"), content));
        must(p->hold(deed(), {.id = "", .bike_id = s.bike, .from_unix_s = 1, .by = "Ada", .why = "crack", .cleared_unix_s = {}, .cleared_by = "", .cleared_why = ""}));
    }
    return read(folder.path("a"));
}

// Everything that a person could ask of a file. True if it opened.
bool ask_everything(const std::string& path, int* unsound = nullptr) {
    auto opened = open_papers(path);
    if (!opened) {
        EXPECT_GT(opened.error().text.size(), 20u);
        EXPECT_NE(opened.error().text.find(path), std::string::npos) << opened.error().text;
        return false;
    }
    Papers& p = *opened->papers;
    (void)p.people();
    (void)p.instruments();
    (void)p.bikes();
    (void)p.parts();
    (void)p.fittings();
    if (const auto rides = p.rides({}))
        for (const Ride& r : *rides) (void)p.ride_content(r.id);
    (void)p.readings({});
    (void)p.works({});
    (void)p.incidents({});
    (void)p.holds({});
    (void)p.ticks({});
    (void)p.history(100);
    const auto sound = p.sound();
    if (unsound && (!sound || !sound->troubles.empty())) ++*unsound;
    (void)p.export_to([](const std::string&, std::string_view) -> Status { return Done{}; });
    (void)p.undo(deed());
    return true;
}

}  // namespace

TEST(Damage, AFileWithWrongBytesIsRefusedOrUsableAndNeverACrash) {
    const std::string good = sound_bytes();
    const Folder folder;
    const std::string path = folder.path("a.papers");
    std::mt19937 random(2);
    int opened = 0, unsound = 0;
    constexpr int files = 400;
    for (int k = 0; k < files; ++k) {
        std::string bytes = good;
        const int n = 1 + static_cast<int>(random() % (k % 2 ? 3 : 40));
        for (int i = 0; i < n; ++i) {
            // Every other time where the structure is: the header, the schema, the heads of pages.
            const std::size_t at = k % 3 ? random() % bytes.size() : (random() % (bytes.size() / 4096)) * 4096 + random() % 120;
            if (random() % 4) bytes[at] = static_cast<char>(random());
            else for (std::size_t j = at; j < std::min(bytes.size(), at + 200); ++j) bytes[j] = static_cast<char>(random());
        }
        write(path, bytes);
        opened += ask_everything(path, &unsound);
        for (const char* tail : {"-wal", "-shm"}) fs::remove(path + tail);
    }
    EXPECT_GT(opened, 0);
    EXPECT_LT(opened, files);
    // Of those that opened, what the damage hit in the contents is found by `sound`.
    EXPECT_GT(unsound, 0);
    std::printf("%d damaged files: %d refused on opening, %d opened, of these %d found by sound\n", files, files - opened, opened, unsound);
}

TEST(Damage, AFileThatWasCutOffIsRefused) {
    const std::string good = sound_bytes();
    const Folder folder;
    const std::string path = folder.path("a.papers");
    for (std::size_t size = 0; size < good.size(); size += size < 200 ? 7 : 1777) {
        write(path, std::string_view(good).substr(0, size));
        EXPECT_FALSE(ask_everything(path)) << size << " of " << good.size();
        EXPECT_EQ(read(path), good.substr(0, size)) << "a refused file is left as it is";
    }
}

TEST(Damage, WhatIsNoPapersIsRefusedAndLeftAsItIs) {
    const Folder folder;
    const std::string path = folder.path("x");
    for (const std::string& bytes : {std::string(), std::string("hello"), std::string(5000, 'x'), std::string("SQLite format 3\0", 16), std::string("SQLite format 3\0", 16) + std::string(5000, '\0')}) {
        write(path, bytes);
        EXPECT_FALSE(ask_everything(path));
        EXPECT_EQ(read(path), bytes);
        const auto made = make_papers(path);
        ASSERT_FALSE(made);
        EXPECT_EQ(read(path), bytes) << "making replaces nothing";
    }
    EXPECT_FALSE(open_papers(folder.path("nothing here")));
    EXPECT_FALSE(open_papers(folder.path(".")));
    EXPECT_FALSE(make_papers(folder.path("no/such/folder/x")));
}

TEST(Damage, ADataBaseOfAnotherProgramAndOneWithForeignTablesAreRefused) {
    const Folder folder;
    {
        sql::Db db(folder.path("other"), sql::Db::Access::create, nullptr);
        db.run("CREATE TABLE t (x); INSERT INTO t VALUES (1)");
    }
    const auto other = open_papers(folder.path("other"));
    ASSERT_FALSE(other);
    EXPECT_NE(other.error().text.find("not papers"), std::string::npos);
    const std::string path = folder.path("a");
    must(make_papers(path));
    {
        sql::Db db(path, sql::Db::Access::read_write, nullptr);
        db.run("CREATE TRIGGER evil AFTER INSERT ON reading BEGIN DELETE FROM hold; END");
    }
    const auto evil = open_papers(path);
    ASSERT_FALSE(evil);
    EXPECT_NE(evil.error().text.find("tables"), std::string::npos) << evil.error().text;
}

TEST(Damage, ARowThatWasEditedBehindOurBackIsFoundBySound) {
    const Folder folder;
    const std::string path = folder.path("a");
    write(path, sound_bytes());
    {
        sql::Db db(path, sql::Db::Access::read_write, nullptr);
        db.run("UPDATE reading_point SET length_mm = 2.5 WHERE number = 0");
    }
    EXPECT_FALSE(must(must(open_papers(path)).papers->sound()).troubles.empty());
    write(path, sound_bytes());
    {
        sql::Db db(path, sql::Db::Access::read_write, nullptr);
        db.run("DELETE FROM hold");
    }
    const auto troubles = must(must(open_papers(path)).papers->sound()).troubles;
    ASSERT_EQ(troubles.size(), 1u);
    EXPECT_NE(troubles[0].find("hold"), std::string::npos);
}

TEST(Damage, TheHistoryCannotBeAltered) {
    const Folder folder;
    const std::string path = folder.path("a");
    write(path, sound_bytes());
    sql::Db db(path, sql::Db::Access::read_write, nullptr);
    EXPECT_THROW(db.run("UPDATE event SET text = 'nothing happened'"), sql::Failed);
    EXPECT_THROW(db.run("DELETE FROM event"), sql::Failed);
}

TEST(Damage, AnEventThatWasAlteredIsFound) {
    const Folder folder;
    Files f;
    {
        write(folder.path("a"), sound_bytes());
        f = exported(*must(open_papers(folder.path("a"))).papers);
    }
    f.erase("papers.json");
    const std::size_t at = f["events.csv"].find(",Ada,hold,");
    ASSERT_NE(at, std::string::npos);
    f["events.csv"].replace(at, 10, ",Eva,hold,");
    const auto p = import_papers(folder.path("b"), source_of(f));
    ASSERT_FALSE(p);
    EXPECT_NE(p.error().text.find("is not what it was when it was written"), std::string::npos) << p.error().text;
}

TEST(Damage, AnExportThatWasChangedIsRefusedWithItsPlace) {
    const Folder folder;
    Files good;
    {
        write(folder.path("a"), sound_bytes());
        good = exported(*must(open_papers(folder.path("a"))).papers);
    }
    const auto refused = [&](const Files& files, const char* expected) {
        const auto p = import_papers(folder.path("b"), source_of(files));
        ASSERT_FALSE(p) << expected;
        EXPECT_NE(p.error().text.find(expected), std::string::npos) << p.error().text;
        EXPECT_FALSE(fs::exists(folder.path("b"))) << "no file is left";
    };
    Files f = good;
    f["reading_points.csv"].replace(f["reading_points.csv"].find(",1.5,"), 5, ",2.5,");
    refused(f, "reading_points.csv:2: length_mm");
    f.erase("papers.json");
    refused(f, "is not what the history says");
    f = good;
    f.erase("papers.json");
    f["reading_points.csv"].replace(f["reading_points.csv"].find(",1.5,"), 5, ",x.5,");
    refused(f, "reading_points.csv:2: length_mm 'x.5': expected a number");
    f = good;
    f["papers.json"].replace(f["papers.json"].find(fmt::format("\"schema_version\": {}", schema_number())), 19, "\"schema_version\": 9");
    refused(f, "newer brakewright");
    f = good;
    f["papers.json"] = "{";
    refused(f, "not JSON");
    f = good;
    for (auto& [name, bytes] : f)
        if (name.starts_with("ride_files/")) bytes += "x";
    refused(f, "these are not the bytes");
    f = good;
    for (auto it = f.begin(); it != f.end();) it = it->first.starts_with("ride_files/") ? f.erase(it) : std::next(it);
    refused(f, "is missing");
    f = good;
    f.erase("rides.csv");
    f.erase("papers.json");
    refused(f, "rides.csv is missing");
    f = {};
    refused(f, "not an export");
    // Either half alone is enough.
    f = good;
    f.erase("papers.json");
    EXPECT_EQ(exported(*must(import_papers(folder.path("c"), source_of(f)))), good);
    f = {{"papers.json", good["papers.json"]}};
    for (const auto& [name, bytes] : good)
        if (name.find('/') != std::string::npos) f[name] = bytes;
    EXPECT_EQ(exported(*must(import_papers(folder.path("d"), source_of(f)))), good);
}

TEST(Damage, AnExportOfWrongBytesIsRefusedOrReadAndNeverACrash) {
    const Folder folder;
    Files good;
    {
        write(folder.path("a"), sound_bytes());
        good = exported(*must(open_papers(folder.path("a"))).papers);
    }
    std::mt19937 random(4);
    int taken = 0;
    for (int k = 0; k < 150; ++k) {
        Files f = good;
        auto it = f.begin();
        std::advance(it, static_cast<long>(random() % f.size()));
        if (k % 2) it = f.find("papers.json");
        if (k % 4 == 1) f.erase("papers.json"), it = f.find("events.csv");
        for (int i = 0; i < 3 && !it->second.empty(); ++i) it->second[random() % it->second.size()] = static_cast<char>(random());
        if (k % 5 == 0) it->second.resize(random() % (it->second.size() + 1));
        const std::string path = folder.path("b" + std::to_string(k));
        if (import_papers(path, source_of(f))) ++taken;
    }
    EXPECT_LT(taken, 30) << "a change in an export is nearly always noticed";
}
