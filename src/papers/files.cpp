// SPDX-License-Identifier: Apache-2.0
// Ids and bytes: UUIDs, content hashes, compression.                                                    Layer: papers
#include <fmt/format.h>
#include <openssl/sha.h>
#include <zlib.h>

#include <random>

#include "papers/papers.hpp"

namespace bw::papers {

Id new_uuid() {
    std::random_device device;
    std::uint32_t w[4] = {device(), device(), device(), device()};
    w[1] = (w[1] & 0xFFFF0FFFu) | 0x00004000u;   // version 4
    w[2] = (w[2] & 0x3FFFFFFFu) | 0x80000000u;   // variant
    return fmt::format("{:08x}-{:04x}-{:04x}-{:04x}-{:04x}{:08x}", w[0], w[1] >> 16, w[1] & 0xFFFFu, w[2] >> 16, w[2] & 0xFFFFu, w[3]);
}

Id content_id(std::string_view bytes) {
    std::uint8_t digest[SHA256_DIGEST_LENGTH];
    SHA256(reinterpret_cast<const std::uint8_t*>(bytes.data()), bytes.size(), digest);
    constexpr const char* digits = "0123456789abcdef";
    Id hex;
    for (const std::uint8_t b : digest) hex += digits[b >> 4], hex += digits[b & 15];
    return hex;
}

Id key_of(const std::vector<std::string>& parts) {
    std::string all;
    for (const std::string& p : parts) all += fmt::format("{}:{}\n", p.size(), p);
    return content_id(all);
}

std::string deflated(std::string_view bytes) {
    uLongf size = compressBound(bytes.size());
    std::string out(size, '\0');
    if (compress2(reinterpret_cast<Bytef*>(out.data()), &size, reinterpret_cast<const Bytef*>(bytes.data()), bytes.size(), 6) != Z_OK)
        throw std::bad_alloc();   // compressBound leaves no other reason
    out.resize(size);
    return out;
}

Result<std::string> inflated(std::string_view bytes, std::size_t size) {
    // A byte of deflate gives at most 1032 bytes: a larger figure is damage, and must not make us ask for memory.
    const auto damaged = [] { return Error{Errc::cannot_read, "the kept bytes of a ride are damaged and cannot be unpacked"}; };
    if (size / 1032 > bytes.size() + 64) return damaged();
    std::string out(size, '\0');
    uLongf got = size;
    Bytef none = 0;
    if (uncompress(size ? reinterpret_cast<Bytef*>(out.data()) : &none, &got, reinterpret_cast<const Bytef*>(bytes.data()), bytes.size()) != Z_OK || got != size)
        return damaged();
    return out;
}

std::string unwrapped(std::string bytes) {
    if (!bytes.starts_with("\x1f\x8b")) return bytes;
    std::string out;
    z_stream stream{};
    if (inflateInit2(&stream, 16 + MAX_WBITS) != Z_OK) return bytes;
    struct Closer {
        z_stream& s;
        ~Closer() { inflateEnd(&s); }
    } closer{stream};
    constexpr std::size_t most = std::size_t{200} << 20;   // as the ride readers
    stream.next_in = reinterpret_cast<Bytef*>(bytes.data());
    stream.avail_in = static_cast<uInt>(std::min<std::size_t>(bytes.size(), 1u << 30));
    std::string piece(1 << 16, '\0');
    for (;;) {
        stream.next_out = reinterpret_cast<Bytef*>(piece.data());
        stream.avail_out = static_cast<uInt>(piece.size());
        const int state = inflate(&stream, Z_NO_FLUSH);
        out.append(piece.data(), piece.size() - stream.avail_out);
        if (out.size() > most) return bytes;
        if (state == Z_STREAM_END) {
            if (stream.avail_in == 0) return out;
            if (stream.next_in[0] != 0x1f || inflateReset(&stream) != Z_OK) return bytes;   // something else follows: leave it as it is
        } else if (state != Z_OK) {
            return bytes;
        }
    }
}

}  // namespace bw::papers
