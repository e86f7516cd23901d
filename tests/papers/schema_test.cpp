// SPDX-License-Identifier: Apache-2.0
// Papers of each released schema open in the newest; newer ones are refused; two processes at once lose nothing.
#include <sys/wait.h>
#include <unistd.h>

#include <thread>

#include "bw_paths.hpp"
#include "../../src/papers/sql/open.hpp"
#include "desk.hpp"

using namespace bw;
using namespace bw::papers;
using namespace bw::papers::testing;

namespace {

const std::string fixtures = std::string(BW_ROOT) + "/tests/papers/fixtures/";

const sql::Migration later[] = {
    {1, sql::migrations()[0].text},
    {2, sql::migrations()[1].text},
    {3, sql::migrations()[2].text},
    {4, sql::migrations()[3].text},
    {5, sql::migrations()[4].text},
    {6, sql::migrations()[5].text},
    {7, "ALTER TABLE bike ADD COLUMN colour TEXT CHECK (colour <> '')"},
};
const sql::Migration broken[] = {
    {1, sql::migrations()[0].text},
    {2, sql::migrations()[1].text},
    {3, sql::migrations()[2].text},
    {4, sql::migrations()[3].text},
    {5, sql::migrations()[4].text},
    {6, sql::migrations()[5].text},
    {7, "ALTER TABLE bike ADD COLUMN colour TEXT; UPDATE ride SET bike_id = 'nobody'"},
};

}  // namespace

class Kept : public ::testing::TestWithParam<int> {};

TEST_P(Kept, TheFileOfEachReleasedSchemaHoldsWhatItsExportSays) {
    const Folder folder;
    const std::string name = fixtures + "schema-" + std::to_string(GetParam());
    fs::copy_file(name + ".papers", folder.path("a"));
    auto p = must(open_papers(folder.path("a"))).papers;
    Files kept;
    for (const auto& entry : fs::recursive_directory_iterator(name + "-export"))
        if (entry.is_regular_file()) kept[fs::relative(entry.path(), name + "-export").string()] = read(entry.path().string());
    ASSERT_GT(kept.size(), 15u);
    EXPECT_EQ(must(p->sound()).troubles, std::vector<std::string>{});
    // Of the newest schema, file for file; of older ones what both have.
    if (GetParam() == sql::migrations().back().number) {
        EXPECT_EQ(exported(*p), kept);
    }
    EXPECT_EQ(must(p->bikes()).size(), 2u);
    EXPECT_EQ(must(p->rides({})).size(), 3u);
    // The export alone gives the same again.
    EXPECT_EQ(exported(*must(import_papers(folder.path("b"), source_of(kept)))), exported(*p));
}
INSTANTIATE_TEST_SUITE_P(Schema, Kept, ::testing::Range(1, sql::migrations().back().number + 1));

TEST(Schema, AnOlderFileIsBroughtUpToDateAfterACopyWasMade) {
    const Folder folder;
    const std::string path = folder.path("a");
    {
        auto p = must(make_papers(path));
        add_sample(*p);
    }
    const std::string before = read(path);
    auto opened = sql::open_papers(path, {.schema = later});
    ASSERT_TRUE(opened) << opened.error().text;
    EXPECT_NE(opened->note.find("from schema 6 to 7"), std::string::npos) << opened->note;
    EXPECT_EQ(must(opened->papers->bikes()).at(0).name, "Heron");
    EXPECT_EQ(must(opened->papers->sound()).troubles, std::vector<std::string>{}) << "a new column is no difference to the history";
    // What was done before the migration can still be taken back.
    must(opened->papers->undo(deed()));
    EXPECT_TRUE(must(opened->papers->bikes()).empty());
    opened->papers.reset();
    EXPECT_EQ(must(must(open_papers(path + ".before-schema-7")).papers->bikes()).at(0).name, "Heron");
    const auto again = open_papers(path);
    ASSERT_FALSE(again);
    EXPECT_NE(again.error().text.find("newer brakewright"), std::string::npos) << again.error().text;
    EXPECT_EQ(again.error().code, Errc::bad_input);
}

TEST(Schema, SeveralProcessesThatMigrateAtOnceAllOpenAndOneCopyIsMade) {
    for (int k = 0; k < 4; ++k) {
        const Folder folder;
        const std::string path = folder.path("a");
        {
            auto p = must(make_papers(path));
            const Sample s = add_sample(*p);
            std::vector<Ride> many;
            for (int i = 0; i < 500; ++i) many.push_back(a_described_ride(s, std::to_string(i)));
            must(p->add_rides(deed(), many));
        }
        std::vector<pid_t> children;
        for (int c = 0; c < 4; ++c) {
            const pid_t child = fork();
            if (child == 0) {
                const auto opened = sql::open_papers(path, {.schema = later});
                if (!opened) fprintf(stderr, "%s\n", opened.error().text.c_str());
                _exit(opened && must(opened->papers->rides({})).size() == 500 ? 0 : 1);
            }
            children.push_back(child);
        }
        for (const pid_t child : children) {
            int status = 0;
            waitpid(child, &status, 0);
            EXPECT_TRUE(WIFEXITED(status) && WEXITSTATUS(status) == 0);
        }
        int copies = 0;
        for (const auto& e : fs::directory_iterator(fs::path(path).parent_path())) copies += e.path().filename().string().starts_with("a.before-schema-");
        EXPECT_EQ(copies, 1);
        EXPECT_EQ(must(must(open_papers(path + ".before-schema-7")).papers->rides({})).size(), 500u);
    }
}

TEST(Schema, AMigrationThatWouldBreakAReferenceChangesNothing) {
    const Folder folder;
    const std::string path = folder.path("a");
    Files before;
    {
        auto p = must(make_papers(path));
        const Sample s = add_sample(*p);
        must(p->add_ride(deed(), a_ride(s, "a.csv"), "content"));
        before = exported(*p);
    }
    EXPECT_FALSE(sql::open_papers(path, {.schema = broken}));
    EXPECT_EQ(exported(*must(open_papers(path)).papers), before);
}

TEST(TwoProcesses, BothAddAndNothingIsLost) {
    const Folder folder;
    const std::string path = folder.path("a");
    const Sample s = sample_at(path);
    constexpr int each = 60, processes = 3;
    std::vector<pid_t> children;
    for (int k = 0; k < processes; ++k) {
        const pid_t child = fork();
        if (child == 0) {
            auto p = open_papers(path);
            int bad = !p;
            for (int i = 0; i < each && !bad; ++i) bad = !(i % 2 ? static_cast<bool>(p->papers->add_reading(deed(), pad_reading(s, 1.5))) : static_cast<bool>(p->papers->add_ride(deed(), a_ride(s, "x"), "content " + std::to_string(k * each + i))));
            _exit(bad);
        }
        children.push_back(child);
    }
    for (const pid_t child : children) {
        int status = 0;
        waitpid(child, &status, 0);
        EXPECT_TRUE(WIFEXITED(status) && WEXITSTATUS(status) == 0) << "a process was refused";
    }
    auto p = must(open_papers(path)).papers;
    EXPECT_EQ(must(p->readings({})).size(), static_cast<std::size_t>(processes * each / 2));
    EXPECT_EQ(must(p->rides({})).size(), static_cast<std::size_t>(processes * each / 2));
    EXPECT_EQ(must(p->sound()).troubles, std::vector<std::string>{});
}

TEST(TwoProcesses, OneThatWaitsTooLongIsToldAndAReaderNeverWaits) {
    const Folder folder;
    const std::string path = folder.path("a");
    auto p = must(make_papers(path));
    const Sample s = add_sample(*p);
    sql::Db other(path, sql::Db::Access::read_write, nullptr);
    other.run("BEGIN IMMEDIATE");
    // The wait is ten seconds for people; here the other one is let go in half of one.
    std::thread later_on([&] {
        std::this_thread::sleep_for(std::chrono::milliseconds(500));
        other.run("COMMIT");
    });
    EXPECT_EQ(must(p->bikes()).size(), 1u);
    const auto waited = p->add_reading(deed(), pad_reading(s, 1.5));
    later_on.join();
    EXPECT_TRUE(waited);
    other.run("BEGIN IMMEDIATE");
    const auto told = sql::open_papers(path, {.wait_ms = 50});
    ASSERT_TRUE(told) << told.error().text;
    const auto refused = told->papers->add_reading(deed(), pad_reading(s, 1.5));
    ASSERT_FALSE(refused);
    EXPECT_NE(refused.error().text.find("another process is writing"), std::string::npos) << refused.error().text;
    EXPECT_EQ(refused.error().code, Errc::cannot_write);
    other.run("COMMIT");
    EXPECT_EQ(must(p->readings({})).size(), 1u);
}
