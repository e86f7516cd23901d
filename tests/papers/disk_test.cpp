// SPDX-License-Identifier: Apache-2.0
// Failing disks: power lost at any write with torn and lost writes, syncs that were only claimed, a full disk, errors of reading,
// writing and syncing, a file that cannot be written. BRAKEWRIGHT_POWER_LOSSES says how many moments are tried (default 150).
#include <sys/wait.h>
#include <unistd.h>

#include <algorithm>
#include <set>

#include "../../src/papers/sql/open.hpp"
#include "desk.hpp"
#include "disk.hpp"

using namespace bw;
using namespace bw::papers;
using namespace bw::papers::testing;

namespace {

// Some of everything, each acknowledged under "kind id" as it is done. Stops at the first Error if asked to.
std::vector<std::string> work(Papers& p, const Sample& s, int changes, unsigned seed, Disk& disk, std::vector<std::string>* refused = nullptr) {
    std::mt19937 r(seed);
    std::vector<std::string> done;
    const auto say = [&](const char* kind, const auto& result, const std::string& id) {
        if (result) {
            done.push_back(std::string(kind) + " " + id);
            disk.acknowledge(done.back());
        } else if (refused) {
            refused->push_back(result.error().text);
        } else {
            ADD_FAILURE() << result.error().text;
        }
    };
    for (int i = 0; i < changes; ++i) {
        const std::string name = std::to_string(seed) + "/" + std::to_string(i);
        if (r() % 2) {
            std::string content(r() % 40000, '\0');
            for (char& c : content) c = static_cast<char>(r() % 5);
            content += name;
            const auto a = p.add_ride(deed(), a_ride(s, name), content);
            say("ride", a, a ? a->id : "");
        } else {
            const auto a = p.add_reading(deed(), pad_reading(s, 1.5));
            say("reading", a, a ? *a : "");
        }
    }
    return done;
}

std::set<std::string> held(Papers& p) {
    std::set<std::string> all;
    for (const Ride& x : must(p.rides({}))) all.insert("ride " + x.id);
    for (const Reading& x : must(p.readings({}))) all.insert("reading " + x.id);
    return all;
}

struct Recorded {
    Folder folder;
    std::string path = folder.path("a.papers");
    Disk disk;
    std::map<std::string, std::string> at_start;
    Sample s;

    explicit Recorded(int changes) {
        {
            auto p = must(make_papers(path));
            s = add_sample(*p);
        }
        at_start[path] = read(path);
        disk.record = true;
        // Opened twice, so that the log is also written into the file and taken away in the middle.
        for (unsigned k = 0; k < 2; ++k) {
            auto p = must(sql::open_papers(path, {.vfs = disk.name()})).papers;
            work(*p, s, changes, k, disk);
        }
        disk.record = false;
    }
};

}  // namespace

TEST(PowerLoss, AtAnyWriteWithTornAndLostWritesNothingAcknowledgedIsLost) {
    const Recorded run(60);
    const std::vector<Op>& log = run.disk.log;
    ASSERT_GT(std::count_if(log.begin(), log.end(), [](const Op& o) { return o.kind == Op::Kind::sync; }), 100) << "every change must be synced";
    std::mt19937 random(3);
    const int wanted = times_wanted("BRAKEWRIGHT_POWER_LOSSES", 150);
    long acknowledged = 0;
    for (int k = 0; k < wanted; ++k) {
        const std::size_t at = random() % (log.size() + 1);
        const Folder folder;
        for (const auto& [name, bytes] : run.disk.after_power_loss(run.at_start, at, random, 0)) write(folder.path(fs::path(name).filename().string()), bytes);
        auto opened = open_papers(folder.path("a.papers"));
        ASSERT_TRUE(opened) << "power lost at " << at << ": " << opened.error().text;
        const std::set<std::string> there = held(*opened->papers);
        for (std::size_t i = 0; i < at; ++i) {
            if (log[i].kind != Op::Kind::acknowledged) continue;
            ++acknowledged;
            ASSERT_TRUE(there.contains(log[i].file)) << "power lost at " << at << ": " << log[i].file << " was acknowledged and is not there";
        }
        ASSERT_EQ(must(opened->papers->sound()).troubles, std::vector<std::string>{}) << "power lost at " << at;
    }
    EXPECT_GT(acknowledged, wanted);
    std::printf("power lost at %d moments of %zu, %ld acknowledgements looked up, none lost\n", wanted, log.size(), acknowledged);
}

TEST(PowerLoss, WithSyncsThatTheDiskOnlyClaimedThereIsAnEarlierMomentOrARefusal) {
    const Recorded run(60);
    const std::vector<Op>& log = run.disk.log;
    std::vector<std::string> order;
    for (const Op& o : log)
        if (o.kind == Op::Kind::acknowledged) order.push_back(o.file);
    std::mt19937 random(5);
    const int wanted = times_wanted("BRAKEWRIGHT_POWER_LOSSES", 150);
    int refused = 0, found = 0, whole = 0, earlier = 0;
    for (int k = 0; k < wanted; ++k) {
        const std::size_t at = random() % (log.size() + 1);
        const Folder folder;
        for (const auto& [name, bytes] : run.disk.after_power_loss(run.at_start, at, random, 0.5)) write(folder.path(fs::path(name).filename().string()), bytes);
        auto opened = open_papers(folder.path("a.papers"));
        if (!opened) {
            ++refused;
            EXPECT_FALSE(opened.error().text.empty());
            continue;
        }
        auto sound = opened->papers->sound();
        if (!sound || !sound->troubles.empty()) {
            ++found;
            continue;
        }
        // Sound: then it is the papers of some moment, in the order in which things were done.
        const std::set<std::string> there = held(*opened->papers);
        std::size_t n = 0;
        while (n < order.size() && there.contains(order[n])) ++n;
        EXPECT_EQ(there.size(), n) << "a later change is there without an earlier one";
        std::size_t acknowledged = 0;
        for (std::size_t i = 0; i < at; ++i) acknowledged += log[i].kind == Op::Kind::acknowledged;
        ++(n >= acknowledged ? whole : earlier);
    }
    std::printf("half of the syncs only claimed, power lost %d times: %d whole, %d an earlier moment, %d refused on opening, %d found by sound\n", wanted, whole, earlier, refused, found);
}

TEST(FailingDisk, EachErrorIsToldPlainlyAndCostsNothingThatWasAcknowledged) {
    struct Kind {
        Fails fails;
        const char* word;
    };
    for (const Kind kind : {Kind{Fails::full, "the disk is full"}, {Fails::write_error, "the disk failed"}, {Fails::torn_write, "the disk failed"}, {Fails::sync_error, "the disk failed"}, {Fails::read_error, ""}}) {
        int told = 0, tried = 0;
        for (const bool goes_on : {false, true}) {
            for (long at = 0; at < 100; at += at < 8 ? 1 : 23) {
                const Folder folder;
                const std::string path = folder.path("a.papers");
                const Sample s = sample_at(path);
                Disk disk;
                std::vector<std::string> done, refused;
                {
                    auto opened = sql::open_papers(path, {.vfs = disk.name()});
                    ASSERT_TRUE(opened);
                    disk.fails = kind.fails;
                    disk.fail_at = at;
                    disk.goes_on = goes_on;
                    done = work(*opened->papers, s, 15, static_cast<unsigned>(at), disk, &refused);
                }
                tried += disk.failed > 0;
                for (const std::string& text : refused) {
                    ++told;
                    EXPECT_NE(text.find(kind.word), std::string::npos) << text;
                    EXPECT_NE(text.find("a.papers"), std::string::npos) << text;
                }
                auto opened = open_papers(path);
                ASSERT_TRUE(opened) << opened.error().text;
                const std::set<std::string> there = held(*opened->papers);
                for (const std::string& id : done) ASSERT_TRUE(there.contains(id)) << kind.word << " at " << at << ": " << id << " was acknowledged and is not there";
                ASSERT_EQ(must(opened->papers->sound()).troubles, std::vector<std::string>{});
                ASSERT_TRUE(opened->papers->add_reading(deed(), pad_reading(s, 1.4))) << "with room again it goes on";
            }
        }
        EXPECT_GT(tried, 0) << kind.word;
        // A page that cannot be read is met on closing only, as the pages at work are in memory.
        if (kind.fails != Fails::read_error) {
            EXPECT_GT(told, 0) << kind.word;
        }
        std::printf("%-16s %3d runs with a failure, %d refusals, nothing lost\n", kind.word[0] ? kind.word : "reading failed", tried, told);
    }
}

TEST(FailingDisk, FullInTheMiddleOfTogetherTakesAllOfItBack) {
    for (long at = 0; at < 60; at += 4) {
        const Folder folder;
        const std::string path = folder.path("a.papers");
        const Sample s = sample_at(path);
        Disk disk;
        bool done = false;
        {
            auto p = must(sql::open_papers(path, {.vfs = disk.name()})).papers;
            disk.fails = Fails::full;
            disk.fail_at = at;
            done = static_cast<bool>(p->together([&]() -> Status {
                // What a careless caller does: goes on after a refusal.
                for (int i = 0; i < 5; ++i) (void)p->add_ride(deed(), a_ride(s, std::to_string(i)), std::string(100000, static_cast<char>('a' + i)) + std::to_string(at));
                return Done{};
            }));
        }
        auto p = must(open_papers(path)).papers;
        if (!done) {
            EXPECT_TRUE(must(p->rides({})).empty()) << at;
        }
        EXPECT_EQ(must(p->sound()).troubles, std::vector<std::string>{});
    }
}

TEST(FailingDisk, PapersThatCannotBeWrittenAreReadAndSayThatTheyCannotBeWritten) {
    const Folder folder;
    const std::string path = folder.path("a.papers");
    Sample s;
    {
        auto p = must(make_papers(path));
        s = add_sample(*p);
        must(p->add_reading(deed(), pad_reading(s, 1.5)));
    }
    const std::string before = read(path);
    // Another process has them open, so that the log's index is there to read.
    auto other = must(open_papers(path)).papers;
    ASSERT_EQ(must(other->readings({})).size(), 1u);
    {
        Disk disk;
        disk.read_only = true;
        auto opened = sql::open_papers(path, {.vfs = disk.name()});
        ASSERT_TRUE(opened) << opened.error().text;
        EXPECT_EQ(must(opened->papers->readings({})).size(), 1u);
        const auto refused = opened->papers->add_reading(deed(), pad_reading(s, 1.4));
        ASSERT_FALSE(refused);
        EXPECT_NE(refused.error().text.find("can be read but not written"), std::string::npos) << refused.error().text;
        EXPECT_EQ(refused.error().code, Errc::cannot_write);
    }
    other.reset();
    EXPECT_EQ(read(path), before);
}

TEST(FailingDisk, PapersInAFolderOfSomebodyElseAreReadWithoutAFileBesideThem) {
    const Folder folder;
    const std::string path = folder.path("odd ?name#100%.papers");
    const Sample s = sample_at(path);
    // Rights do not bind root: a child that gives them up looks.
    fs::permissions(fs::path(path).parent_path(), fs::perms(0755));
    fs::permissions(path, fs::perms(0644));
    if (geteuid() != 0) fs::permissions(fs::path(path).parent_path(), fs::perms(0555));
    const pid_t child = fork();
    if (child == 0) {
        if (geteuid() == 0 && (setgid(65534) != 0 || setuid(65534) != 0)) _exit(9);
        const auto opened = open_papers(path);
        if (!opened) {
            fprintf(stderr, "%s\n", opened.error().text.c_str());
            _exit(1);
        }
        if (must(opened->papers->bikes()).size() != 1 || !must(opened->papers->sound()).troubles.empty()) _exit(2);
        const auto refused = opened->papers->add_reading(deed(), pad_reading(s, 1.5));
        if (refused) _exit(3);
        if (refused.error().text.find("can be read but not written") == std::string::npos) _exit(4);
        _exit(0);
    }
    int status = 0;
    waitpid(child, &status, 0);
    EXPECT_TRUE(WIFEXITED(status));
    EXPECT_EQ(WEXITSTATUS(status), 0);
    fs::permissions(fs::path(path).parent_path(), fs::perms(0755));
    EXPECT_FALSE(fs::exists(path + "-shm"));
}
