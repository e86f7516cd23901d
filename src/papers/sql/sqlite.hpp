// SPDX-License-Identifier: Apache-2.0
// A thin hold on SQLite: connection, statement, transaction; every failure is a sentence for a person.   Layer: papers
#pragma once
#include <sqlite3.h>

#include <string>
#include <string_view>
#include <vector>

#include "../rows.hpp"
#include "base/result.hpp"

namespace bw::papers::sql {

//! Inside this folder a failure is thrown and becomes a Result where a verb returns.
struct Failed {
    Error error;
};
[[noreturn]] void refuse(Errc code, std::string text);

class Db {
public:
    enum class Access { read_write, create, immutable };   //!< immutable: nobody writes it, and no file beside it is needed
    //! vfs: name of a registered file layer; null: the system's.
    Db(const std::string& path, Access, const char* vfs);
    ~Db();
    Db(const Db&) = delete;
    Db& operator=(const Db&) = delete;
    void wait(int ms) { sqlite3_busy_timeout(db_, ms); }   //!< for another process that writes
    void run(const char* sql);                       //!< statements without parameters or rows
    std::int64_t number(const std::string& sql);     //!< first cell of the first row
    std::vector<std::string> texts(const std::string& sql);   //!< first cell of every row
    sqlite3* handle() { return db_; }
    const std::string& path() const { return path_; }
    //! What went wrong just now, as an Error for people.
    [[noreturn]] void fail(int code);

private:
    sqlite3* db_ = nullptr;
    std::string path_;
};

class Statement {
public:
    Statement(Db&, const std::string& sql);
    ~Statement() { sqlite3_finalize(s_); }
    Statement(const Statement&) = delete;
    Statement& operator=(const Statement&) = delete;
    Statement& bind(int index, const Cell&);
    bool step();                                     //!< true: a row is there
    void done() { while (step()) {} }
    Cell at(int column);
    Row row();

private:
    Db& db_;
    sqlite3_stmt* s_ = nullptr;
};

//! Takes the right to write at once, so that two writers never meet half way; rolled back unless committed. Inside another
//! it is a part of that one: rolled back by itself, durable with the outer one.
class Transaction {
public:
    enum class Kind { write, read };
    Transaction(Db&, Kind);
    ~Transaction();
    void commit();

private:
    Db& db_;
    bool open_ = true, inner_ = false;
};

}  // namespace bw::papers::sql
