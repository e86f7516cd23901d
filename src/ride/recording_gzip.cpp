// SPDX-License-Identifier: Apache-2.0
// Ride files that are wrapped in gzip, as services export them.                                              Layer: ride
#include <fmt/format.h>
#include <zlib.h>

#include <algorithm>
#include <array>

#include "readers.hpp"

namespace bw::ride::readers {

Result<std::string> unpack_gzip(std::string_view bytes, std::size_t most, const std::string& name, std::vector<Fault>& faults) {
    std::string out;
    z_stream stream{};
    constexpr int gzip_only = 16 + MAX_WBITS;
    if (inflateInit2(&stream, gzip_only) != Z_OK) return Error{Errc::internal, fmt::format("{}: the unpacking could not be started.", name)};
    struct Closer {
        z_stream& s;
        ~Closer() { inflateEnd(&s); }
    } closer{stream};
    std::array<unsigned char, 65536> piece;
    std::size_t read = 0;
    bool whole = false, damaged = false, too_much = false;
    while (!too_much) {
        if (stream.avail_in == 0 && read < bytes.size()) {
            const std::size_t n = std::min<std::size_t>(bytes.size() - read, 1 << 20);
            // zlib's interface takes a pointer to bytes that it does not write.
            stream.next_in = reinterpret_cast<unsigned char*>(const_cast<char*>(bytes.data() + read));
            stream.avail_in = static_cast<unsigned>(n);
            read += n;
        }
        stream.next_out = piece.data();
        stream.avail_out = static_cast<unsigned>(piece.size());
        const int state = inflate(&stream, Z_NO_FLUSH);
        const std::size_t got = piece.size() - stream.avail_out;
        too_much = out.size() + got > most;
        if (!too_much) out.append(reinterpret_cast<const char*>(piece.data()), got);
        if (state == Z_STREAM_END) {
            whole = true;
            const std::size_t rest = bytes.size() - read + stream.avail_in;
            // Another member may follow; anything else after it is padding.
            if (!bytes.substr(bytes.size() - rest).starts_with("\x1f\x8b") || inflateReset(&stream) != Z_OK) break;
            whole = false;
        } else if (state == Z_BUF_ERROR || (state == Z_OK && got == 0 && stream.avail_in == 0 && read == bytes.size())) {
            break;   // no more to read
        } else if (state != Z_OK) {
            damaged = true;
            break;
        }
    }
    if (too_much)
        return Error{Errc::bad_input, fmt::format("{}: unpacked it has more than {} MB; a ride is read up to that. Split it into its rides.", name, most >> 20)};
    if (out.empty()) return Error{Errc::bad_input, fmt::format("{}: it looks like a gzip file, but nothing can be unpacked. Copy it again.", name)};
    if (damaged)
        faults.push_back({FaultKind::bad_checksum, 1, 0, fmt::format("The gzip wrapping is damaged; {} bytes could be unpacked. Copy the file again if you can.", out.size())});
    else if (!whole)
        faults.push_back({FaultKind::truncated, 1, 0, fmt::format("The gzip wrapping is cut off; {} bytes could be unpacked. Copy the file again if you can.", out.size())});
    return out;
}

}  // namespace bw::ride::readers
