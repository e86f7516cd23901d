// SPDX-License-Identifier: Apache-2.0
// A process that is killed with SIGKILL at a random moment of adding rides, readings, a bike, of migrating or of making papers:
// the file opens, is sound, and holds every change that was acknowledged. 200 kills; BRAKEWRIGHT_KILLS says how many else.
#include <sys/wait.h>
#include <unistd.h>

#include <chrono>
#include <csignal>
#include <random>
#include <set>

#include "../../src/papers/sql/open.hpp"
#include "bw_paths.hpp"
#include "desk.hpp"

using namespace bw;
using namespace bw::papers;
using namespace bw::papers::testing;

namespace {

// Runs body in a child, kills it `after_us` later; gives back what it said by then, line by line.
std::vector<std::string> killed_after(unsigned after_us, const std::function<void(const std::function<void(const std::string&)>&)>& body, bool& was_killed) {
    int ends[2];
    if (pipe(ends) != 0) throw std::runtime_error("pipe");
    const pid_t child = fork();
    if (child == 0) {
        close(ends[0]);
        body([&](const std::string& line) {
            const std::string text = line + "\n";
            if (write(ends[1], text.data(), text.size()) < 0) _exit(3);   // shorter than PIPE_BUF: whole or not at all
        });
        _exit(0);
    }
    close(ends[1]);
    // The clock starts when the child works, not when it is born.
    std::string all;
    char piece[4096];
    if (const ssize_t n = ::read(ends[0], piece, 1); n > 0) all.append(piece, static_cast<std::size_t>(n));
    usleep(after_us);
    kill(child, SIGKILL);
    int status = 0;
    waitpid(child, &status, 0);
    was_killed = WIFSIGNALED(status);
    for (ssize_t n; (n = ::read(ends[0], piece, sizeof piece)) > 0;) all.append(piece, static_cast<std::size_t>(n));
    close(ends[0]);
    std::vector<std::string> lines;
    std::istringstream in(all);
    for (std::string line; std::getline(in, line);) lines.push_back(line);
    return lines;
}

// How long something takes undisturbed on this machine, now [us].
double time_us(const std::function<void()>& what) {
    const auto start = std::chrono::steady_clock::now();
    what();
    return std::chrono::duration<double, std::micro>(std::chrono::steady_clock::now() - start).count();
}
// A moment from the start to a little after the usual end.
unsigned within(std::mt19937& random, double usual_us) { return static_cast<unsigned>(std::uniform_real_distribution<>(0, 1.3 * usual_us)(random)); }

// A later schema, for migrations that take a while: one adds a column, one writes every row anew.
const sql::Migration later[] = {
    {1, sql::migrations()[0].text},
    {2, sql::migrations()[1].text},
    {3, sql::migrations()[2].text},
    {4, sql::migrations()[3].text},
    {5, sql::migrations()[4].text},
    {6, sql::migrations()[5].text},
    {7, "ALTER TABLE bike ADD COLUMN colour TEXT CHECK (colour <> '')"},
    {8, "CREATE TABLE reading_copy AS SELECT * FROM reading; CREATE INDEX copy_of_bike ON reading_copy (bike_id); DROP TABLE reading_copy; UPDATE reading SET note = note; CREATE INDEX reading_of_part ON reading (part_id)"},
};
constexpr int newest = 8;

// A row and what the history says of it.
std::string inserted(sql::Db& db, const std::string& table, const Row& row) {
    std::string columns, marks;
    for (const auto& [column, c] : row) columns += (columns.empty() ? "" : ", ") + column, marks += marks.empty() ? "?" : ", ?";
    sql::Statement s(db, "INSERT INTO " + table + " (" + columns + ") VALUES (" + marks + ")");
    for (std::size_t i = 0; i < row.size(); ++i) s.bind(static_cast<int>(i) + 1, row[i].second);
    s.done();
    return R"({"table":")" + table + R"(","id":")" + std::get<std::string>(row.front().second) + R"(","before":null,"after":)" + sql::json_of(row) + "}";
}

// Adds readings of pads to a file of schema 3 by the columns of that schema (0001.sql): the statements of this program have more. Each with the event that its program wrote.
int add_readings_of_schema_3(const std::string& path, int many) {
    sql::Db db(path, sql::Db::Access::read_write, nullptr);
    if (db.number("PRAGMA user_version") != 3) sql::refuse(Errc::bad_input, "not a file of schema 3");
    const std::string bike = db.texts("SELECT id FROM bike ORDER BY id").at(0), person = db.texts("SELECT id FROM person ORDER BY id").at(0), pads = db.texts("SELECT id FROM part WHERE kind = 'pads' ORDER BY id").at(0);
    sql::Transaction t(db, sql::Transaction::Kind::write);
    for (int i = 0; i < many; ++i) {
        const std::string id = new_uuid(), batch = new_uuid(), what = "reading front pad_thickness";
        const std::string reading = inserted(db, "reading", {{"id", id}, {"bike_id", bike}, {"part_id", pads}, {"place", "front"}, {"what", "pad_thickness"}, {"day", "2026-05-02"}, {"recorded_unix_s", 1777700000.125},
                                                         {"person_id", person}, {"instrument_id", {}}, {"with_plate", std::int64_t{0}}, {"anvil", {}}, {"word", {}}, {"note", {}}});
        const std::string point = inserted(db, "reading_point", {{"id", id + "/0"}, {"reading_id", id}, {"number", std::int64_t{0}}, {"side", "left"}, {"angle_deg", {}}, {"radius_mm", {}}, {"length_mm", 1 + i / 1024.0},
                                                             {"temperature_degC", {}}, {"mass_g", {}}, {"age_months", {}}});
        const std::string changes = "[" + reading + "," + point + "]";
        // id: as 0001.sql says; key_of is the house's hash of a list.
        inserted(db, "event", {{"id", key_of({"", batch, "1777620000", "Ada", "add_reading", what, "", changes})}, {"batch", batch}, {"at_unix_s", 1777620000.0}, {"by", "Ada"}, {"verb", "add_reading"}, {"text", what}, {"undoes", {}}, {"changes", changes}});
    }
    t.commit();
    return many;
}

}  // namespace

TEST(Killed, AtRandomMomentsOfAddingNothingAcknowledgedIsLost) {
    const int wanted = times_wanted("BRAKEWRIGHT_KILLS", 200) * 3 / 4;
    std::mt19937 random(20260501);
    int killed = 0, acknowledged = 0;
    for (int run = 0; killed < wanted && run < wanted * 4; ) {
        const Folder folder;
        const std::string path = folder.path("a.papers");
        const Sample s = sample_at(path);
        // Opening and about eight changes.
        const double usual_us = time_us([&] {
            auto p = must(open_papers(path)).papers;
            for (int i = 0; i < 8; ++i) must(p->add_ride(deed(), a_ride(s, "timed"), std::string(30000, 'x') + std::to_string(i)));
        });
        std::set<std::string> rides, readings, bikes, proofs;
        for (int k = 0; k < 25 && killed < wanted; ++k, ++run) {
            bool was_killed = false;
            const auto seed = static_cast<unsigned>(random());
            const auto said = killed_after(within(random, usual_us), [&](const auto& say) {
                auto p = must(open_papers(path)).papers;
                std::mt19937 r(seed);
                say("open");
                for (int i = 0; i < 100000; ++i) {
                    const std::string name = std::to_string(seed) + "/" + std::to_string(i);
                    switch (r() % 5) {
                        case 0: {
                            std::string content(r() % 60000, '\0');
                            for (char& c : content) c = static_cast<char>(r() % 7);
                            say("ride " + must(p->add_ride(deed(), a_ride(s, name), content + name)).id);
                            break;
                        }
                        case 1: say("ride " + must(p->add_rides(deed(), {a_described_ride(s, name), a_described_ride(s, name + "b")}))[1].id); break;
                        case 2: say("reading " + must(p->add_reading(deed(), pad_reading(s, 1.5))));
                            break;
                        case 3: say("bike " + add_sample(*p, name).bike); break;
                        case 4: {
                            std::vector<ProofStop> set = {proof_stop(s, 0), proof_stop(s, 1)};
                            set[1].proof_id = set[0].proof_id;
                            must(p->add_proof(deed(), set));
                            say("proof " + set[0].proof_id);
                            break;
                        }
                    }
                }
            }, was_killed);
            killed += was_killed;
            for (const std::string& line : said) {
                const std::string what = line.substr(0, line.find(' ')), id = line.substr(line.find(' ') + 1);
                if (what == "ride") rides.insert(id);
                if (what == "reading") readings.insert(id);
                if (what == "bike") bikes.insert(id);
                if (what == "proof") proofs.insert(id);
                acknowledged += what != "open";
            }
            auto opened = open_papers(path);
            ASSERT_TRUE(opened) << opened.error().text;
            Papers& p = *opened->papers;
            std::set<std::string> there;
            for (const Ride& x : must(p.rides({}))) there.insert(x.id);
            for (const std::string& id : rides) ASSERT_TRUE(there.contains(id)) << "a ride that was acknowledged is not there";
            there.clear();
            for (const Reading& x : must(p.readings({}))) {
                ASSERT_EQ(x.points.size(), 1u) << "half a reading";
                there.insert(x.id);
            }
            for (const std::string& id : readings) ASSERT_TRUE(there.contains(id)) << "a reading that was acknowledged is not there";
            std::map<std::string, int> stops;
            for (const ProofStop& x : must(p.proof_stops({}))) ++stops[x.proof_id];
            for (const auto& [set, n] : stops) ASSERT_EQ(n, 2) << "half a set of proof stops";
            for (const std::string& id : proofs) ASSERT_TRUE(stops.contains(id)) << "proof stops that were acknowledged are not there";
            there.clear();
            for (const Bike& x : must(p.bikes())) there.insert(x.id);
            for (const std::string& id : bikes) ASSERT_TRUE(there.contains(id)) << "a bike that was acknowledged is not there";
            if (k % 5 == 4) {
                ASSERT_EQ(must(p.sound()).troubles, std::vector<std::string>{});
            }
        }
    }
    EXPECT_GE(killed, wanted);
    EXPECT_GT(acknowledged, wanted / 2) << "the children did no work, so nothing was tested";
    std::printf("adding: %d kills, %d changes acknowledged, none lost\n", killed, acknowledged);
}

TEST(Killed, AtRandomMomentsOfMigratingTheOldOrTheNewSchemaIsThereWithAllRows) {
    const int wanted = times_wanted("BRAKEWRIGHT_KILLS", 200) / 8;
    std::mt19937 random(7);
    const Folder folder;
    // From the kept file of schema 3, so that the migrations of this program are among those that are cut short.
    const std::string old = folder.path("old.papers");
    std::size_t readings = 0;
    {
        fs::copy_file(std::string(BW_ROOT) + "/tests/papers/fixtures/schema-3.papers", old);
        const auto added = sql::guarded([&] { return add_readings_of_schema_3(old, 1500); });
        ASSERT_TRUE(added) << added.error().text;
        sql::Db db(old, sql::Db::Access::read_write, nullptr);
        readings = static_cast<std::size_t>(db.number("SELECT count(*) FROM reading"));
        ASSERT_GT(readings, 1500u);
    }
    const std::string bytes = read(old);
    const auto exported_copy = [&](const std::string& from) {
        const Folder apart;
        fs::copy_file(from, apart.path("a"));
        return exported(*must(open_papers(apart.path("a"))).papers);
    };
    const Files before = exported_copy(old);
    const std::string timed = folder.path("timed.papers");
    write(timed, bytes);
    const double usual_us = time_us([&] { must(sql::open_papers(timed, {.schema = later})); });
    int killed = 0, at_old = 0, at_new = 0;
    for (int k = 0; killed < wanted && k < wanted * 5; ++k) {
        const std::string path = folder.path("m" + std::to_string(k) + ".papers");
        write(path, bytes);
        bool was_killed = false;
        // A child on a busy machine takes longer than this process did: twice the time, so that some are cut short after the migration too.
        killed_after(2 * within(random, usual_us), [&](const auto& say) {
            say("start");
            must(sql::open_papers(path, {.schema = later}));
            say("done");
            for (;;) pause();
        }, was_killed);
        killed += was_killed;
        std::int64_t schema = 0;
        {
            sql::Db db(path, sql::Db::Access::read_write, nullptr);
            schema = db.number("PRAGMA user_version");
        }
        (schema == newest ? at_new : at_old) += 1;
        EXPECT_LE(schema, newest);
        auto opened = sql::open_papers(path, {.schema = later});
        ASSERT_TRUE(opened) << opened.error().text;
        ASSERT_EQ(must(opened->papers->readings({})).size(), readings);
        ASSERT_EQ(must(opened->papers->sound()).troubles, std::vector<std::string>{});
        opened->papers.reset();
        // Each copy that has the name of a backup is whole.
        for (const auto& entry : fs::directory_iterator(fs::path(path).parent_path())) {
            const std::string name = entry.path().string();
            if (name.find(path + ".before-schema-") != 0 || name.ends_with("-wal") || name.ends_with("-shm")) continue;
            if (name.find(".part") == std::string::npos) {
                ASSERT_EQ(exported_copy(name), before);
            }
        }
    }
    EXPECT_GE(killed, wanted);
    EXPECT_GT(at_old, 0) << "every kill came too late to test anything";
    std::printf("migrating: %d kills, %d before and %d after the new schema, none lost\n", killed, at_old, at_new);
}

TEST(Killed, AtRandomMomentsOfMakingImportingAndCopyingThereIsAWholeFileOrNone) {
    const int wanted = times_wanted("BRAKEWRIGHT_KILLS", 200) / 8;
    std::mt19937 random(11);
    const Folder folder;
    Files files;
    const std::string source = folder.path("source.papers");
    {
        auto p = must(make_papers(source));
        const Sample s = add_sample(*p);
        for (int i = 0; i < 30; ++i) must(p->add_reading(deed(), pad_reading(s, 1.5)));
        files = exported(*p);
    }
    const double usual_us[] = {time_us([&] { must(make_papers(folder.path("t0"))); }), time_us([&] { must(import_papers(folder.path("t1"), source_of(files))); }),
                               time_us([&] { must(must(open_papers(source)).papers->backup(folder.path("t2"))); })};
    int killed = 0, whole = 0, none = 0;
    for (int k = 0; killed < wanted && k < wanted * 5; ++k) {
        const std::string path = folder.path("n" + std::to_string(k) + ".papers");
        bool was_killed = false;
        killed_after(within(random, usual_us[k % 3]), [&](const auto& say) {
            say("start");
            if (k % 3 == 0) must(make_papers(path));
            else if (k % 3 == 1) must(import_papers(path, source_of(files)));
            else must(must(open_papers(source)).papers->backup(path));
            for (;;) pause();
        }, was_killed);
        killed += was_killed;
        if (!fs::exists(path)) {
            ++none;
            continue;
        }
        ++whole;
        auto opened = open_papers(path);
        ASSERT_TRUE(opened) << opened.error().text;
        ASSERT_EQ(must(opened->papers->sound()).troubles, std::vector<std::string>{});
        if (k % 3 != 0) {
            ASSERT_EQ(exported(*opened->papers), files);
        }
    }
    EXPECT_GE(killed, wanted);
    EXPECT_GT(none, 0) << "every kill came too late to test anything";
    std::printf("making, importing, copying: %d kills, %d whole files, %d none\n", killed, whole, none);
}
