// SPDX-License-Identifier: Apache-2.0
// A file layer between SQLite and the system's: it writes down every write and sync, so that the disk can be put together as
// it may be after a loss of power at any moment; and it fails on command.
#pragma once
#include <sqlite3.h>

#include <cstdint>
#include <map>
#include <random>
#include <string>
#include <vector>

namespace bw::papers::testing {

enum class Fails { never, full, write_error, torn_write, sync_error, read_error };

struct Op {
    enum class Kind { write, truncate, sync, remove, acknowledged } kind;
    std::string file;             //!< full name; of acknowledged: the id
    std::int64_t offset = 0;      //!< truncate: the new size
    std::string bytes;
};

class Disk {
public:
    //! Registers the layer under a name of its own.
    Disk();
    ~Disk();
    const char* name() const { return name_.c_str(); }

    std::vector<Op> log;
    bool record = false;
    bool read_only = false;
    Fails fails = Fails::never;
    long fail_at = 0;             //!< counted in calls that the failure is about, from 0
    bool goes_on = false;         //!< all later calls fail too
    long failed = 0;              //!< times it failed
    long calls = 0;

    void acknowledge(const std::string& id) {
        if (record) log.push_back({Op::Kind::acknowledged, id, 0, ""});
    }
    bool fails_now(Fails kind);

    //! The files after a loss of power when `ops` of the log were done: what was synced is there; of the rest each write is
    //! there, lost, or there in some of its sectors of 512 bytes. lost_syncs: share of syncs that the disk only claimed.
    std::map<std::string, std::string> after_power_loss(const std::map<std::string, std::string>& at_start, std::size_t ops, std::mt19937& random, double lost_syncs) const;

private:
    std::string name_;
    sqlite3_vfs vfs_{};
};

}  // namespace bw::papers::testing
