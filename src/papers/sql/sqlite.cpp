// SPDX-License-Identifier: Apache-2.0
// A thin hold on SQLite.                                                                                Layer: papers
#include "sqlite.hpp"

#include <fmt/format.h>

namespace bw::papers {

const Cell& cell_of(const Row& row, std::string_view column) {
    static const Cell null;
    for (const auto& [name, c] : row)
        if (name == column) return c;
    return null;
}

namespace sql {

void refuse(Errc code, std::string text) { throw Failed{{code, std::move(text)}}; }

void Db::fail(int code) {
    const std::string said = db_ ? sqlite3_errmsg(db_) : sqlite3_errstr(code);
    const auto [errc, text] = [&]() -> std::pair<Errc, std::string> {
        switch (code & 0xFF) {
            case SQLITE_BUSY:
            case SQLITE_LOCKED: return {Errc::cannot_write, "another process is writing to these papers; nothing was changed. Wait for it, then try again."};
            case SQLITE_FULL: return {Errc::cannot_write, "the disk is full; this change was not made, all earlier ones are kept. Make room, then try again."};
            case SQLITE_READONLY: return {Errc::cannot_write, "the papers can be read but not written here; nothing was changed. Check the rights of the file and its folder."};
            case SQLITE_CANTOPEN: return {Errc::cannot_read, fmt::format("cannot be opened ({})", said)};
            case SQLITE_NOTADB: return {Errc::bad_input, "this file is not papers of this program, or it is damaged from its first page. It was left as it is."};
            case SQLITE_CORRUPT: return {Errc::cannot_read, fmt::format("the file is damaged ({}). It was left as it is: keep it, and go back to the newest backup.", said)};
            case SQLITE_IOERR: return {Errc::cannot_write, fmt::format("the disk failed ({}); whether this last change was made shows when the papers are opened again, all earlier ones are kept.", said)};
            case SQLITE_NOMEM: throw std::bad_alloc();
            default: return {Errc::bad_input, said};
        }
    }();
    refuse(errc, fmt::format("{}: {}", path_, text));
}

Db::Db(const std::string& path, Access access, const char* vfs) : path_(path) {
    int flags = SQLITE_OPEN_NOMUTEX | SQLITE_OPEN_EXRESCODE;
    std::string name = path;
    if (access == Access::immutable) {
        name = "file:";
        for (const char c : path) name += c == '%' || c == '?' || c == '#' ? fmt::format("%{:02X}", static_cast<unsigned>(static_cast<unsigned char>(c))) : std::string(1, c);
        name += "?immutable=1";
    }
    flags |= access == Access::immutable ? SQLITE_OPEN_READONLY | SQLITE_OPEN_URI : access == Access::create ? SQLITE_OPEN_READWRITE | SQLITE_OPEN_CREATE : SQLITE_OPEN_READWRITE;
    const int code = sqlite3_open_v2(name.c_str(), &db_, flags, vfs);
    try {
        if (code != SQLITE_OK) fail(code);
        wait(10000);
        sqlite3_db_config(db_, SQLITE_DBCONFIG_DEFENSIVE, 1, nullptr);
        sqlite3_db_config(db_, SQLITE_DBCONFIG_TRUSTED_SCHEMA, 0, nullptr);
        sqlite3_limit(db_, SQLITE_LIMIT_LENGTH, 300 << 20);
        sqlite3_limit(db_, SQLITE_LIMIT_ATTACHED, 0);
        run("PRAGMA cell_size_check = ON; PRAGMA mmap_size = 0; PRAGMA foreign_keys = ON; PRAGMA synchronous = FULL; PRAGMA temp_store = MEMORY");
    } catch (...) {
        sqlite3_close_v2(db_);
        throw;
    }
}

Db::~Db() { sqlite3_close_v2(db_); }

void Db::run(const char* sql) {
    if (const int code = sqlite3_exec(db_, sql, nullptr, nullptr, nullptr); code != SQLITE_OK) fail(code);
}

std::int64_t Db::number(const std::string& sql) {
    Statement s(*this, sql);
    if (!s.step()) return 0;
    const Cell c = s.at(0);
    const auto* n = std::get_if<std::int64_t>(&c);
    return n ? *n : 0;
}

std::vector<std::string> Db::texts(const std::string& sql) {
    std::vector<std::string> all;
    Statement s(*this, sql);
    while (s.step()) {
        const Cell c = s.at(0);
        const auto* t = std::get_if<std::string>(&c);
        all.push_back(t ? *t : "");
    }
    return all;
}

Statement::Statement(Db& db, const std::string& sql) : db_(db) {
    if (const int code = sqlite3_prepare_v2(db.handle(), sql.c_str(), static_cast<int>(sql.size()), &s_, nullptr); code != SQLITE_OK) db.fail(code);
}

Statement& Statement::bind(int index, const Cell& c) {
    int code = SQLITE_OK;
    if (std::holds_alternative<std::monostate>(c)) code = sqlite3_bind_null(s_, index);
    else if (const auto* i = std::get_if<std::int64_t>(&c)) code = sqlite3_bind_int64(s_, index, *i);
    else if (const auto* d = std::get_if<double>(&c)) code = sqlite3_bind_double(s_, index, *d);
    else if (const auto* t = std::get_if<std::string>(&c)) code = sqlite3_bind_text64(s_, index, t->data(), t->size(), SQLITE_TRANSIENT, SQLITE_UTF8);
    else if (const auto* b = std::get_if<Blob>(&c)) code = sqlite3_bind_blob64(s_, index, b->bytes.data(), b->bytes.size(), SQLITE_TRANSIENT);
    if (code != SQLITE_OK) db_.fail(code);
    return *this;
}

bool Statement::step() {
    const int code = sqlite3_step(s_);
    if (code == SQLITE_ROW) return true;
    if (code == SQLITE_DONE) return false;
    db_.fail(code);
}

Cell Statement::at(int column) {
    switch (sqlite3_column_type(s_, column)) {
        case SQLITE_INTEGER: return sqlite3_column_int64(s_, column);
        case SQLITE_FLOAT: return sqlite3_column_double(s_, column);
        case SQLITE_TEXT: {
            const auto* text = reinterpret_cast<const char*>(sqlite3_column_text(s_, column));
            if (!text) throw std::bad_alloc();
            return std::string(text, static_cast<std::size_t>(sqlite3_column_bytes(s_, column)));
        }
        case SQLITE_BLOB: {
            const auto* bytes = static_cast<const char*>(sqlite3_column_blob(s_, column));
            const auto size = static_cast<std::size_t>(sqlite3_column_bytes(s_, column));
            if (!bytes && size > 0) throw std::bad_alloc();
            return Blob{std::string(bytes ? bytes : "", size)};
        }
        default: return {};
    }
}

Row Statement::row() {
    Row row;
    const int n = sqlite3_column_count(s_);
    for (int i = 0; i < n; ++i) row.emplace_back(sqlite3_column_name(s_, i), at(i));
    return row;
}

Transaction::Transaction(Db& db, Kind kind) : db_(db), inner_(!sqlite3_get_autocommit(db.handle())) {
    db.run(inner_ ? "SAVEPOINT inner_part" : kind == Kind::write ? "BEGIN IMMEDIATE" : "BEGIN");
}
Transaction::~Transaction() {
    // After some failures SQLite has rolled back by itself; then there is nothing left to do.
    if (open_ && !sqlite3_get_autocommit(db_.handle()))
        sqlite3_exec(db_.handle(), inner_ ? "ROLLBACK TO inner_part; RELEASE inner_part" : "ROLLBACK", nullptr, nullptr, nullptr);
}
void Transaction::commit() {
    db_.run(inner_ ? "RELEASE inner_part" : "COMMIT");
    open_ = false;
}

}  // namespace sql
}  // namespace bw::papers
