// SPDX-License-Identifier: Apache-2.0
// Making, opening, migrating and copying the file; shared by the store, import and the tests.            Layer: papers
#pragma once
#include <memory>
#include <span>

#include "papers/papers.hpp"
#include "sqlite.hpp"

namespace bw::papers::sql {

//! Statements that bring schema number-1 to number.
struct Migration {
    int number;
    const char* text;
};
//! All of this version, in order from 1.
std::span<const Migration> migrations();

inline constexpr std::int64_t application_id = 0x42725770;   // "BrWp", in the file's header

struct Options {
    std::span<const Migration> schema = migrations();
    const char* vfs = nullptr;    //!< a registered file layer, for tests of failing disks
    int wait_ms = 10000;          //!< for another process that writes
};

//! Tables in an order in which each names only rows of those before it.
struct Table {
    const char* name;
    const char* file;             //!< of the export, without ending
    bool journaled;               //!< its changes are in the event log
    const char* blob;             //!< its column of bytes, exported as files in a folder of that name; or null
    const char* order;            //!< rows in this order in the export
};
std::span<const Table> tables();

//! A new file with the newest schema, whole or not at all. fill: puts rows in at the schema of that number (0: the newest).
void make_file(const std::string& path, const Options&, const std::function<void(Db&)>& fill = nullptr, int fill_at_schema = 0);
//! Checks everything that open_papers promises and migrates if need be. note: what was done.
std::unique_ptr<Db> open_file(const std::string& path, const Options&, std::string& note);
//! The schema of `number` as sqlite_schema tells it, to compare files with.
std::vector<std::string> schema_of(Db&);
//! Copies all pages of a file that others may be writing to a new file, whole or not at all.
void copy_file(Db& from, const std::string& to, const Options&);
//! Applies what is missing up to `to` in one transaction; refuses if references do not hold afterwards.
void migrate(Db&, std::span<const Migration>, int to);

Result<std::unique_ptr<Papers>> make_papers(const std::string& path, const Options&);
Result<Opened> open_papers(const std::string& path, const Options&);
std::unique_ptr<Papers> papers_on(std::unique_ptr<Db>, const Options&);

//! Runs f; what it refuses becomes an Error.
template <class F>
auto guarded(F f) -> Result<decltype(f())> {
    try {
        return f();
    } catch (const Failed& failed) {
        return failed.error;
    } catch (const Misfit& misfit) {
        return Error{Errc::cannot_read, std::string("the papers hold a value that cannot be there (") + misfit.what() + "): the file is damaged. Keep it, and go back to the newest backup."};
    }
}

void export_tables(Db&, const FileSink&);
//! Schema that an export says it has; what it holds then comes in by import_tables into empty tables of that schema.
int schema_of_export(const FileSource&);
void import_tables(Db&, const FileSource&);
//! Adds what differs between the tables and what the events say they hold; counts the events.
void against_history(Db&, Soundness&);
std::string json_of(const Row&);
bool is_utf8(std::string_view);

}  // namespace bw::papers::sql
