// SPDX-License-Identifier: Apache-2.0
#include "disk.hpp"

#include <algorithm>
#include <cstring>
#include <new>
#include <set>

namespace bw::papers::testing {

namespace {

struct File {
    sqlite3_file base;
    Disk* disk;
    char name[512];
    bool kept;                    // main file, log or journal: what a loss of power touches
    sqlite3_file* real() { return reinterpret_cast<sqlite3_file*>(this + 1); }
};
File* of(sqlite3_file* f) { return reinterpret_cast<File*>(f); }
sqlite3_file* real(sqlite3_file* f) { return of(f)->real(); }
Disk* disk_of(sqlite3_vfs* v) { return static_cast<Disk*>(v->pAppData); }
sqlite3_vfs* system_layer() {
    static sqlite3_vfs* const layer = sqlite3_vfs_find(nullptr);
    return layer;
}

int f_close(sqlite3_file* f) { return real(f)->pMethods->xClose(real(f)); }
int f_read(sqlite3_file* f, void* to, int n, sqlite3_int64 at) {
    if (of(f)->kept && of(f)->disk->fails_now(Fails::read_error)) return SQLITE_IOERR_READ;
    return real(f)->pMethods->xRead(real(f), to, n, at);
}
int f_write(sqlite3_file* f, const void* from, int n, sqlite3_int64 at) {
    File* file = of(f);
    if (file->kept) {
        if (file->disk->fails_now(Fails::full)) return SQLITE_FULL;
        if (file->disk->fails_now(Fails::write_error)) return SQLITE_IOERR_WRITE;
        if (file->disk->fails_now(Fails::torn_write)) {
            real(f)->pMethods->xWrite(real(f), from, n / 2, at);
            return SQLITE_IOERR_WRITE;
        }
    }
    const int code = real(f)->pMethods->xWrite(real(f), from, n, at);
    if (code == SQLITE_OK && file->kept && file->disk->record) file->disk->log.push_back({Op::Kind::write, file->name, at, std::string(static_cast<const char*>(from), static_cast<std::size_t>(n))});
    return code;
}
int f_truncate(sqlite3_file* f, sqlite3_int64 size) {
    const int code = real(f)->pMethods->xTruncate(real(f), size);
    if (code == SQLITE_OK && of(f)->kept && of(f)->disk->record) of(f)->disk->log.push_back({Op::Kind::truncate, of(f)->name, size, ""});
    return code;
}
int f_sync(sqlite3_file* f, int flags) {
    if (of(f)->kept && of(f)->disk->fails_now(Fails::sync_error)) return SQLITE_IOERR_FSYNC;
    const int code = real(f)->pMethods->xSync(real(f), flags);
    if (code == SQLITE_OK && of(f)->kept && of(f)->disk->record) of(f)->disk->log.push_back({Op::Kind::sync, of(f)->name, 0, ""});
    return code;
}
int f_size(sqlite3_file* f, sqlite3_int64* size) { return real(f)->pMethods->xFileSize(real(f), size); }
int f_lock(sqlite3_file* f, int l) { return real(f)->pMethods->xLock(real(f), l); }
int f_unlock(sqlite3_file* f, int l) { return real(f)->pMethods->xUnlock(real(f), l); }
int f_reserved(sqlite3_file* f, int* out) { return real(f)->pMethods->xCheckReservedLock(real(f), out); }
int f_control(sqlite3_file* f, int op, void* arg) { return real(f)->pMethods->xFileControl(real(f), op, arg); }
int f_sector(sqlite3_file*) { return 512; }
// No promise of whole sectors or of order: SQLite must not count on the disk being kind.
int f_traits(sqlite3_file*) { return 0; }
int f_map(sqlite3_file* f, int page, int size, int extend, void volatile** out) { return real(f)->pMethods->xShmMap(real(f), page, size, extend, out); }
int f_shm_lock(sqlite3_file* f, int offset, int n, int flags) { return real(f)->pMethods->xShmLock(real(f), offset, n, flags); }
void f_barrier(sqlite3_file* f) { real(f)->pMethods->xShmBarrier(real(f)); }
int f_unmap(sqlite3_file* f, int remove) { return real(f)->pMethods->xShmUnmap(real(f), remove); }

const sqlite3_io_methods methods = {2, f_close, f_read, f_write, f_truncate, f_sync, f_size, f_lock, f_unlock, f_reserved, f_control, f_sector, f_traits,
                                    f_map, f_shm_lock, f_barrier, f_unmap, nullptr, nullptr};

int v_open(sqlite3_vfs* v, const char* name, sqlite3_file* f, int flags, int* out) {
    File* file = new (f) File{};
    file->disk = disk_of(v);
    file->kept = name && (flags & (SQLITE_OPEN_MAIN_DB | SQLITE_OPEN_WAL | SQLITE_OPEN_MAIN_JOURNAL));
    std::strncpy(file->name, name ? name : "", sizeof file->name - 1);
    if (file->disk->read_only && (flags & SQLITE_OPEN_READWRITE)) flags = (flags & ~(SQLITE_OPEN_READWRITE | SQLITE_OPEN_CREATE)) | SQLITE_OPEN_READONLY;
    const int code = system_layer()->xOpen(system_layer(), name, file->real(), flags, out);
    f->pMethods = file->real()->pMethods ? &methods : nullptr;
    return code;
}
int v_delete(sqlite3_vfs* v, const char* name, int sync) {
    if (disk_of(v)->read_only) return SQLITE_IOERR_DELETE;
    const int code = system_layer()->xDelete(system_layer(), name, sync);
    if (code == SQLITE_OK && disk_of(v)->record) disk_of(v)->log.push_back({Op::Kind::remove, name, sync, ""});
    return code;
}

}  // namespace

Disk::Disk() {
    name_ = "disk" + std::to_string(reinterpret_cast<std::uintptr_t>(this));
    vfs_ = *system_layer();
    vfs_.szOsFile = static_cast<int>(sizeof(File)) + system_layer()->szOsFile;
    vfs_.zName = name_.c_str();
    vfs_.pAppData = this;
    vfs_.pNext = nullptr;
    vfs_.xOpen = v_open;
    vfs_.xDelete = v_delete;
    sqlite3_vfs_register(&vfs_, 0);
}
Disk::~Disk() { sqlite3_vfs_unregister(&vfs_); }

bool Disk::fails_now(Fails kind) {
    if (kind != fails) return false;
    const long n = calls++;
    const bool now = goes_on ? n >= fail_at : n == fail_at;
    failed += now;
    return now;
}

std::map<std::string, std::string> Disk::after_power_loss(const std::map<std::string, std::string>& at_start, std::size_t ops, std::mt19937& random, double lost_syncs) const {
    std::map<std::string, std::string> durable = at_start;
    std::map<std::string, std::vector<const Op*>> pending;
    const auto put = [](std::string& content, std::int64_t at, std::string_view bytes) {
        const auto end = static_cast<std::size_t>(at) + bytes.size();
        if (content.size() < end) content.resize(end, '\0');
        std::memcpy(content.data() + at, bytes.data(), bytes.size());
    };
    const auto whole = [&](const Op& op) {
        if (op.kind == Op::Kind::write) put(durable[op.file], op.offset, op.bytes);
        else if (op.kind == Op::Kind::truncate) durable[op.file].resize(static_cast<std::size_t>(op.offset), '\0');
        else if (op.kind == Op::Kind::remove) durable.erase(op.file);
    };
    for (std::size_t i = 0; i < ops; ++i) {
        const Op& op = log[i];
        if (op.kind == Op::Kind::acknowledged) continue;
        if (op.kind == Op::Kind::sync) {
            if (std::uniform_real_distribution<>(0, 1)(random) < lost_syncs) continue;
            for (const Op* p : pending[op.file]) whole(*p);
            pending[op.file].clear();
        } else {
            pending[op.file].push_back(&op);
        }
    }
    for (auto& [file, list] : pending) {
        const auto mood = random() % 4;   // mostly there, mostly lost, or mixed
        for (const Op* op : list) {
            const auto dice = random() % 100;
            const auto there = mood == 0 ? 95u : mood == 1 ? 5u : 50u;
            if (op->kind != Op::Kind::write) {
                if (dice < there) whole(*op);
            } else if (dice < there / 2) {
                whole(*op);
            } else if (dice < there) {
                // Torn: a sector is there or not, in no order.
                for (std::size_t at = 0; at < op->bytes.size();) {
                    const std::size_t edge = std::min(op->bytes.size(), at + 512 - static_cast<std::size_t>((op->offset + static_cast<std::int64_t>(at)) % 512));
                    if (random() % 2) put(durable[file], op->offset + static_cast<std::int64_t>(at), std::string_view(op->bytes).substr(at, edge - at));
                    at = edge;
                }
            }
        }
    }
    return durable;
}

}  // namespace bw::papers::testing
