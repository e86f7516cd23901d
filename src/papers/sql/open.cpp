// SPDX-License-Identifier: Apache-2.0
// Making, opening, migrating and copying the file.                                                      Layer: papers
#include "open.hpp"

#include <fcntl.h>
#include <fmt/format.h>
#include <sys/syscall.h>
#include <unistd.h>

#include <cerrno>
#include <cstring>
#include <filesystem>

namespace bw::papers::sql {

namespace fs = std::filesystem;

std::span<const Table> tables() {
    static constexpr Table list[] = {
        {"person", "people", true, nullptr, "id"},          {"instrument", "instruments", true, nullptr, "id"},
        {"bike", "bikes", true, nullptr, "id"},             {"part", "parts", true, nullptr, "id"},
        {"fitting", "fittings", true, nullptr, "id"},       {"ride", "rides", true, nullptr, "id"},
        {"ride_file", "ride_files", false, "deflated", "id"}, {"reading", "readings", true, nullptr, "id"},
        {"reading_point", "reading_points", true, nullptr, "id"}, {"work", "work", true, nullptr, "id"},
        {"incident", "incidents", true, nullptr, "id"},     {"hold", "holds", true, nullptr, "id"},
        {"tick", "ticks", true, nullptr, "id"},             {"proof_stop", "proof_stops", true, nullptr, "id"},
        {"answer", "answers", false, nullptr, "id"},
        {"dose", "doses", false, "bytes", "id"},            {"event", "events", false, nullptr, "number"},
    };
    return list;
}

namespace {

// A name that is not there yet, beside the one meant: what stops half way never looks like papers.
std::string beside(const std::string& path) { return fmt::format("{}.{}.part", path, new_uuid()); }

void sync_folder(const std::string& path) {
    std::string folder = fs::path(path).parent_path().string();
    const int fd = ::open(folder.empty() ? "." : folder.c_str(), O_RDONLY | O_DIRECTORY | O_CLOEXEC);
    if (fd < 0) return;
    ::fsync(fd);
    ::close(fd);
}

struct Unfinished {
    std::string path;
    ~Unfinished() {
        std::error_code ignored;
        for (const char* tail : {"", "-wal", "-shm", "-journal"}) fs::remove(path + tail, ignored);
    }
};

// Gives a finished file its name unless something has that name already.
void give_name(const std::string& from, const std::string& to) {
    int failed = 0;
    if (::syscall(SYS_renameat2, AT_FDCWD, from.c_str(), AT_FDCWD, to.c_str(), 1u /* RENAME_NOREPLACE */) != 0) {
        failed = errno;
        if (failed == EINVAL || failed == ENOSYS) failed = ::link(from.c_str(), to.c_str()) == 0 ? 0 : errno;
    }
    if (failed == EEXIST) refuse(Errc::bad_input, fmt::format("{}: there is a file of that name already; it was left as it is. Choose another name.", to));
    if (failed) refuse(Errc::cannot_write, fmt::format("{}: cannot be made ({})", to, std::strerror(failed)));
    sync_folder(to);
}

void must_not_be_there(const std::string& path) {
    std::error_code ignored;
    if (fs::symlink_status(path, ignored).type() != fs::file_type::not_found)
        refuse(Errc::bad_input, fmt::format("{}: there is a file of that name already; it was left as it is. Choose another name.", path));
    const fs::path folder = fs::absolute(path).parent_path();
    if (!fs::is_directory(folder, ignored)) refuse(Errc::cannot_write, fmt::format("{}: the folder {} is not there. Make it first.", path, folder.string()));
}

std::string first_words(const std::vector<std::string>& lines) {
    std::string out;
    for (std::size_t i = 0; i < std::min<std::size_t>(lines.size(), 3); ++i) out += (i ? "; " : "") + lines[i];
    if (lines.size() > 3) out += fmt::format("; and {} more", lines.size() - 3);
    return out;
}

// SQLite takes pages behind the end of a file for zeros, and zeros can be a ride's bytes. The header says how many there are;
// while a log is beside the file that is the log's business.
void refuse_cut_off(const std::string& path) {
    std::error_code none;
    if (fs::exists(path + "-wal", none) && fs::file_size(path + "-wal", none) > 0) return;
    unsigned char head[100] = {};
    const int fd = ::open(path.c_str(), O_RDONLY | O_CLOEXEC);
    if (fd < 0) return;   // SQLite says why
    const ssize_t got = ::read(fd, head, sizeof head);
    ::close(fd);
    if (got < 16 || std::memcmp(head, "SQLite format 3", 16) != 0) return;
    const std::uintmax_t page = head[16] * 256u + head[17] == 1 ? 65536 : head[16] * 256u + head[17];   // file format, offsets 16 and 28
    const std::uintmax_t pages = (std::uintmax_t{head[28]} << 24) | (head[29] << 16) | (head[30] << 8) | head[31];
    const bool cut_off = got < static_cast<ssize_t>(sizeof head) || fs::file_size(path, none) < page * pages;
    if (cut_off && !fs::exists(path + "-wal", none))   // there now: somebody is writing it this very moment
        refuse(Errc::cannot_read, fmt::format("{}: the file was cut off: {} bytes, its first page says {}. It was left as it is: copy it again, or go back to the newest backup.", path, fs::file_size(path, none), page * pages));
}

std::vector<std::string> expected_schema(const Options& o, int number) {
    Db memory(":memory:", Db::Access::create, nullptr);
    migrate(memory, o.schema, number);
    return schema_of(memory);
}

}  // namespace

std::vector<std::string> schema_of(Db& db) {
    return db.texts("SELECT type || ' ' || name || ' ' || tbl_name || ' ' || coalesce(sql, '') FROM sqlite_schema ORDER BY 1");
}

void migrate(Db& db, std::span<const Migration> list, int to) {
    // The switch works only outside a transaction. The references are looked at as a whole before each commit.
    db.run("PRAGMA foreign_keys = OFF");
    {
        Transaction t(db, Transaction::Kind::write);
        const std::int64_t from = db.number("PRAGMA user_version");   // another process may have been first
        for (const Migration& m : list) {
            if (m.number <= from || m.number > to) continue;
            db.run(m.text);
            db.run(fmt::format("PRAGMA user_version = {}; PRAGMA application_id = {}", m.number, application_id).c_str());
        }
        if (!db.texts("PRAGMA foreign_key_check").empty())
            refuse(Errc::internal, fmt::format("{}: bringing the papers to schema {} would break a reference; nothing was changed.", db.path(), to));
        t.commit();
    }
    db.run("PRAGMA foreign_keys = ON");
}

void make_file(const std::string& path, const Options& o, const std::function<void(Db&)>& fill, int fill_at_schema) {
    must_not_be_there(path);
    const Unfinished part{beside(path)};
    {
        Db db(part.path, Db::Access::create, o.vfs);
        db.run("PRAGMA page_size = 4096; PRAGMA journal_mode = WAL");
        if (o.schema.empty()) refuse(Errc::internal, "no schema");
        if (fill && fill_at_schema > 0) migrate(db, o.schema, fill_at_schema);
        else migrate(db, o.schema, o.schema.back().number);
        if (fill) fill(db);
        migrate(db, o.schema, o.schema.back().number);
    }
    give_name(part.path, path);
}

void copy_file(Db& from, const std::string& to, const Options& o) {
    must_not_be_there(to);
    const Unfinished part{beside(to)};
    {
        Db copy(part.path, Db::Access::create, o.vfs);
        sqlite3_backup* backup = sqlite3_backup_init(copy.handle(), "main", from.handle(), "main");
        if (!backup) copy.fail(sqlite3_errcode(copy.handle()));
        // All pages in one step: one moment of the papers, whoever writes meanwhile.
        const int code = sqlite3_backup_step(backup, -1);
        const int end = sqlite3_backup_finish(backup);
        if (code != SQLITE_DONE) copy.fail(code);
        if (end != SQLITE_OK) copy.fail(end);
    }
    give_name(part.path, to);
}

std::unique_ptr<Db> open_file(const std::string& path, const Options& o, std::string& note) {
    std::error_code ignored;
    if (!o.vfs) {
        if (fs::is_directory(path, ignored)) refuse(Errc::cannot_read, fmt::format("{}: this is a folder; expected a file of papers", path));
        if (!fs::exists(path, ignored)) refuse(Errc::cannot_read, fmt::format("{}: there are no papers of that name. `brakewright papers make {}` makes them.", path, path));
        // SQLite takes an empty file for a new one; papers are never empty.
        const auto size = fs::file_size(path, ignored);
        if (size == 0) refuse(Errc::bad_input, fmt::format("{}: this file is empty; expected papers. It was left as it is.", path));
    }
    refuse_cut_off(path);
    // Where nothing can be written the log's index cannot be made; without a log none is needed, and reading is enough.
    const std::string folder = fs::path(path).parent_path().string();
    const bool no_log = !fs::exists(path + "-wal", ignored) || fs::file_size(path + "-wal", ignored) == 0;
    const bool frozen = !o.vfs && no_log && (::access(path.c_str(), W_OK) != 0 || ::access(folder.empty() ? "." : folder.c_str(), W_OK) != 0);
    auto db = std::make_unique<Db>(path, frozen ? Db::Access::immutable : Db::Access::read_write, o.vfs);
    db->wait(o.wait_ms);
    const auto newest = o.schema.back().number;
    std::int64_t number = 0;
    {
        Transaction looking(*db, Transaction::Kind::read);   // one moment: another process may be migrating
        if (db->number("PRAGMA application_id") != application_id)
            refuse(Errc::bad_input, fmt::format("{}: this file is not papers of this program. It was left as it is.", path));
        number = db->number("PRAGMA user_version");
        if (number > newest)
            refuse(Errc::bad_input, fmt::format("{}: these papers have schema {}, this program knows schemas up to {}. They were left as they are: open them with a newer brakewright.", path, number, newest));
        if (number < 1) refuse(Errc::bad_input, fmt::format("{}: these papers say that they have schema {}: the file is damaged. It was left as it is.", path, number));
        if (schema_of(*db) != expected_schema(o, static_cast<int>(number)))
            refuse(Errc::bad_input, fmt::format("{}: the tables in this file are not those of schema {}: it is damaged, or another program changed it. It was left as it is.", path, number));
        // The tables are ours: now it is worth looking at what is in them.
        const std::vector<std::string> troubles = db->texts("PRAGMA quick_check(4)");
        if (troubles.size() != 1 || troubles.front() != "ok")
            refuse(Errc::cannot_read, fmt::format("{}: the file is damaged ({}). It was left as it is: keep it, and go back to the newest backup.", path, first_words(troubles)));
    }
    if (number < newest) {
        // The right to write is held from before the copy to the end, so that nothing falls between the two.
        db->run("PRAGMA foreign_keys = OFF");
        {
            Transaction t(*db, Transaction::Kind::write);
            if (db->number("PRAGMA user_version") < newest) {   // unless another process was first
                std::string copy = fmt::format("{}.before-schema-{}", path, newest);
                for (int n = 2; fs::exists(copy, ignored); ++n) copy = fmt::format("{}.before-schema-{}.{}", path, newest, n);
                {
                    Db reader(path, Db::Access::read_write, o.vfs);
                    copy_file(reader, copy, o);
                }
                migrate(*db, o.schema, newest);
                note = fmt::format("{}: brought from schema {} to {}; as it was before: {}", path, number, newest, copy);
            }
            t.commit();
        }
        db->run("PRAGMA foreign_keys = ON");
    }
    if (!frozen && db->texts("PRAGMA journal_mode").front() != "wal") db->run("PRAGMA journal_mode = WAL");
    return db;
}

}  // namespace bw::papers::sql
