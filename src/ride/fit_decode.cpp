// SPDX-License-Identifier: Apache-2.0
// FIT messages out of bytes.                                                                                Layer: ride
#include "fit_decode.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <array>
#include <bit>
#include <cmath>

namespace bw::ride::fit {
namespace {

constexpr std::size_t file_checksum_size = 2;
constexpr std::uint8_t time_field = 253;
constexpr std::uint32_t invalid_time = 0xFFFFFFFF;
constexpr std::size_t most_findings = 1000;

std::uint8_t byte_at(std::string_view b, std::size_t i) { return static_cast<std::uint8_t>(b[i]); }

std::uint64_t word(std::string_view b, bool big_endian) {
    std::uint64_t v = 0;
    for (std::size_t i = 0; i < b.size(); ++i) v = v << 8 | byte_at(b, big_endian ? i : b.size() - 1 - i);
    return v;
}

struct Slot {
    std::uint8_t number = 0, size = 0, type = 0;   // type: base type, or developer data index
};
struct Definition {
    bool known = false, big_endian = false;
    std::uint16_t global = 0;
    std::vector<Slot> fields, developer_fields;
    std::size_t size = 0;
};

//! A definition message at `at`; nothing if the bytes are none. length: its own bytes, or `cut_definition` if the limit cuts it.
constexpr std::size_t cut_definition = ~std::size_t{0};
std::optional<Definition> definition_at(std::string_view b, std::size_t at, std::size_t limit, std::size_t& length) {
    const std::uint8_t head = byte_at(b, at);
    length = cut_definition;
    if (at + 6 > limit) return {};
    length = 0;
    if ((head & 0x10) || byte_at(b, at + 1) != 0 || byte_at(b, at + 2) > 1) return {};
    Definition d;
    d.known = true;
    d.big_endian = byte_at(b, at + 2) == 1;
    d.global = static_cast<std::uint16_t>(word(b.substr(at + 3, 2), d.big_endian));
    const std::size_t n = byte_at(b, at + 5);
    std::size_t p = at + 6;
    if (d.global == 0xFFFF) return {};
    if (p + 3 * n > limit) {
        length = cut_definition;
        return {};
    }
    std::size_t strange = 0;
    d.fields.reserve(n);
    for (std::size_t i = 0; i < n; ++i, p += 3) {
        const Slot s{byte_at(b, p), byte_at(b, p + 1), byte_at(b, p + 2)};
        strange += width_of(static_cast<Base>(s.type)) == 0;
        d.size += s.size;
        d.fields.push_back(s);
    }
    // A base type that is not known yet is passed over by its size; many of them are no definition.
    if (4 * strange > n) return {};
    if (head & 0x20) {
        const std::size_t m = p < limit ? byte_at(b, p++) : 255;
        if (p + 3 * m > limit) {
            length = cut_definition;
            return {};
        }
        d.developer_fields.reserve(m);
        for (std::size_t i = 0; i < m; ++i, p += 3) {
            d.developer_fields.push_back({byte_at(b, p), byte_at(b, p + 1), byte_at(b, p + 2)});
            d.size += d.developer_fields.back().size;
        }
    }
    length = p - at;
    return d;
}

struct Shape {                       // of a data header
    bool compressed = false, fits = false;
    std::size_t local = 0;
};
Shape shape_of(std::uint8_t head) {
    if (head & 0x80) return {true, true, static_cast<std::size_t>(head >> 5 & 3)};
    return {false, (head & 0x30) == 0, static_cast<std::size_t>(head & 15)};
}

//! Time of a data message whose fields start at `at`; nothing if it tells none. last_s: the time before it.
std::optional<std::uint32_t> time_of(std::string_view b, std::size_t at, const Definition& d, bool compressed, std::uint8_t head, std::optional<std::uint32_t> last_s) {
    for (const auto& s : d.fields) {
        if (s.number == time_field && s.size == 4) {
            const auto t = static_cast<std::uint32_t>(word(b.substr(at, 4), d.big_endian));
            if (t != invalid_time) return t;
        }
        at += s.size;
    }
    if (!compressed || !last_s) return {};
    const std::uint32_t offset = head & 0x1Fu;
    return (*last_s & ~0x1Fu) + offset + (offset < (*last_s & 0x1Fu) ? 0x20u : 0u);
}

// Evidence that messages follow each other from a place [bits]: of the 256 headers at most 16 are plain data of a defined
// type, at most 128 are compressed ones; a time that goes on is one of 2^32, of a compressed one an eighth; a definition has
// a zero and a 0 or 1, and fields of one of 17 types among 256. 40 bits by chance is one place in a million million.
constexpr int plain_bits = 4, compressed_bits = 1, time_bits = 16, step_bits = 3, definition_bits = 15, field_bits = 4, most_definition_bits = 35, enough_bits = 40,
              most_steps = 16;
constexpr std::uint32_t longest_gap_s = 6 * 3600, longest_step_s = 3;
constexpr std::size_t leap_window = 4096, most_leaps = 200;

using Definitions = std::array<Definition, 16>;

enum class First { any, evident };

//! Messages follow each other from `at` on, and go on from last_s. compressed: headers with compressed times count.
//! First::evident: the first must tell its time or be a definition, so that no nonsense is taken for one more message.
bool stream_at(std::string_view b, std::size_t at, std::size_t limit, const Definitions& defined, bool compressed, std::optional<std::uint32_t> last_s, First first) {
    const bool evident = first == First::evident;
    int bits = 0;
    bool timed = false;   // a time went on from one before it
    std::array<const Definition*, 16> use{};
    for (std::size_t i = 0; i < use.size(); ++i) use[i] = &defined[i];
    constexpr std::size_t most_added = 4;   // definitions cost more than data to look at
    std::array<Definition, most_added> added;
    std::size_t n_added = 0;
    for (int step = 0; step < most_steps; ++step) {
        if (at == limit || header_at(b, at)) return timed || !evident;
        const std::uint8_t head = byte_at(b, at);
        if (!(head & 0x80) && (head & 0x40)) {
            if (n_added == most_added) return false;
            std::size_t length = 0;
            auto d = definition_at(b, at, limit, length);
            if (!d) return false;
            added[n_added] = std::move(*d);
            const auto& now = added[n_added++];
            use[head & 15] = &now;
            const auto fields = std::count_if(now.fields.begin(), now.fields.end(), [](const Slot& f) { return width_of(static_cast<Base>(f.type)) > 0; });
            bits += std::min(most_definition_bits, definition_bits + field_bits * static_cast<int>(fields));
            at += length;
        } else {
            const auto shape = shape_of(head);
            if (!shape.fits || (shape.compressed && !compressed)) return false;
            const Definition& d = *use[shape.local];
            if (!d.known || at + 1 + d.size > limit) return false;
            const auto t = time_of(b, at + 1, d, shape.compressed, head, last_s);
            if (step == 0 && evident && !t) return false;
            if (t && !shape.compressed) {
                // A time that is told must go on; events and laps may look back a little.
                if (last_s && (*t + std::uint64_t{60} < *last_s || *t > *last_s + std::uint64_t{longest_gap_s})) return false;
                if (!last_s && *t < least_dated_s) return false;
                if (last_s) bits += time_bits, timed = true;
            } else if (t && *t <= *last_s + std::uint64_t{longest_step_s}) {
                bits += step_bits;
                timed = true;
            }
            bits += shape.compressed ? compressed_bits : plain_bits;
            if (t) last_s = last_s ? std::max(*last_s, *t) : *t;
            at += 1 + d.size;
        }
        if (bits >= enough_bits && timed) return true;
    }
    return false;
}

class Decoder {
public:
    Decoder(std::string_view bytes, const std::function<void(const Message&)>& sink) : b_(bytes), sink_(sink) {}

    Decoded run() {
        std::size_t at = 0;
        while (at < b_.size()) {
            if (header_at(b_, at)) {
                at = section(at);
                ++out_.sections;
                continue;
            }
            const std::size_t next = next_header(at);
            find(FindingKind::not_fit, at, next - at);
            at = next;
        }
        return std::move(out_);
    }

private:
    std::size_t next_header(std::size_t from) const {
        for (auto mark = b_.find(".FIT", from + 8); mark != std::string_view::npos; mark = b_.find(".FIT", mark + 1))
            if (header_at(b_, mark - 8)) return mark - 8;
        return b_.size();
    }

    void find(FindingKind kind, std::size_t at, std::size_t bytes, std::string why = {}) {
        if (kind == FindingKind::lost) ++out_.lost_places;
        if (++found_[static_cast<std::size_t>(kind)] <= most_findings) out_.findings.push_back({kind, out_.sections, at, bytes, std::move(why)});
    }

    //! Reads the section whose header stands at `at`; returns where the next one should start.
    std::size_t section(std::size_t at) {
        const std::size_t head = byte_at(b_, at), size = static_cast<std::size_t>(word(b_.substr(at + 4, 4), false));
        if (head >= 14) {
            const auto stored = word(b_.substr(at + 12, 2), false);
            if (stored != 0 && stored != checksum(b_.substr(at, 12))) find(FindingKind::header_checksum, at, 0);
        }
        const std::size_t start = at + head, left = b_.size() - start;
        for (auto& d : defined_) d = {};
        last_s_.reset();
        trusted_ = cut_ = false;
        plain_seen_ = compressed_seen_ = leaps_ = 0;
        if (size > left) {
            const std::size_t reached = messages(start, b_.size());
            if (reached < b_.size()) find(FindingKind::wrong_size, at, 0);
            else if (!cut_) find(FindingKind::cut, reached, 0);
            return reached;
        }
        const std::size_t end = start + size, after = end + file_checksum_size;
        if (after > b_.size()) {
            const std::size_t reached = messages(start, end);
            if (reached < end) return reached;
            find(FindingKind::no_checksum, end, b_.size() - end);
            return b_.size();
        }
        trusted_ = checksum(b_.substr(at, head + size)) == word(b_.substr(end, file_checksum_size), false);
        if (!trusted_) find(FindingKind::file_checksum, at, 0);
        if (trusted_ || after == b_.size() || header_at(b_, after)) {
            const std::size_t reached = messages(start, end);
            return reached < end ? reached : after;
        }
        // The checksum is wrong and what follows is no section: the size in the header cannot be believed.
        const std::size_t reached = messages(start, b_.size());
        if (reached < end || reached > after) find(FindingKind::wrong_size, at, 0);
        return reached;
    }

    //! Messages from `at` up to `limit`. Returns limit, or the place of a header that came before it.
    std::size_t messages(std::size_t at, std::size_t limit) {
        std::size_t found = at;   // where the thread was last taken up: it never goes back behind it
        while (at < limit) {
            if (!trusted_ && header_at(b_, at)) break;
            const std::uint8_t head = byte_at(b_, at);
            std::string why;
            bool too_long = false;
            if (!(head & 0x80) && (head & 0x40)) {
                std::size_t length = 0;
                if (auto d = definition_at(b_, at, limit, length)) {
                    release(false);
                    defined_[head & 15] = std::move(*d);
                    at += length;
                    continue;
                }
                why = "bytes that begin like a definition and are none";
                too_long = length == cut_definition;
            } else if (const auto shape = shape_of(head); !shape.fits) {
                why = "a message header that the protocol does not know";
            } else if (const Definition& d = defined_[shape.local]; !d.known) {
                why = fmt::format("data of local type {}, which nothing defines", shape.local);
            } else if (at + 1 + d.size > limit) {
                why = "a message that is longer than what is left";
                too_long = true;
            } else {
                const auto t = time_of(b_, at + 1, d, shape.compressed, head, last_s_);
                const auto before_s = last_s_;
                hold(at, d, shape.compressed, t);
                if (t) last_s_ = t;
                at += 1 + d.size;
                // A leap of time is one bad stamp if messages go on as before after it; a stream that is shifted by lost bytes if
                // they do so a little further down; and a clock that was set if they go on from the new time.
                const bool leap = t && before_s && (*t + std::uint64_t{longest_gap_s} < *before_s || *t > *before_s + std::uint64_t{longest_gap_s});
                if (!leap || trusted_ || goes_on(at, limit, before_s)) continue;
                const bool shifted = leaps_++ < most_leaps && resync(held_[0].at + 1, std::min(limit, at + leap_window), held_[0].before_s) < std::min(limit, at + leap_window);
                if (!shifted && goes_on(at, limit, t)) continue;
                why = "a time far from the one before it, and no message after it";
            }

            // The thread is lost. One of the messages before may lack bytes itself, so that the next begins inside it.
            const std::size_t from = std::max(found + 1, (holding_ ? held_[0].at : at) + 1);
            const auto last_s = holding_ ? held_[0].before_s : last_s_;
            found = resync(from, limit, last_s);
            const bool at_end = found == limit && !trusted_ && (too_long || limit - at <= file_checksum_size);
            if (at_end && too_long && limit - at > file_checksum_size) {
                if (!cut_) find(FindingKind::cut, at, limit - at);
                cut_ = true;
            } else if (!at_end) {
                find(FindingKind::lost, at, found > at ? found - at : 0, std::move(why));
                last_s_ = last_s;
            }
            release(!at_end);
            at = found;
        }
        release(false);
        return at;
    }

    //! Half of all bytes look like a compressed header: they are evidence only in a file that is made of them.
    bool has_compressed() const { return compressed_seen_ > plain_seen_ / 2; }

    bool goes_on(std::size_t at, std::size_t limit, std::optional<std::uint32_t> last_s) const {
        return stream_at(b_, at, limit, defined_, has_compressed(), last_s, First::any);
    }

    std::size_t resync(std::size_t from, std::size_t limit, std::optional<std::uint32_t> last_s) const {
        for (std::size_t p = from; p < limit; ++p)
            if ((!trusted_ && header_at(b_, p)) || stream_at(b_, p, limit, defined_, has_compressed(), last_s, First::evident)) return p;
        return limit;
    }

    // Two messages are held back: only when more follow is it known that they ended where they should. A byte that is lost
    // within one shows in the header of the next, or, if that looks right by chance, in its time.
    struct Held {
        std::size_t at = 0;
        std::optional<std::uint32_t> before_s;   // time before it
        Message message;
        std::vector<Field> fields, developer_fields;
    };
    void hold(std::size_t at, const Definition& d, bool compressed, std::optional<std::uint32_t> time_s) {
        if (holding_ == held_.size()) {
            emit(held_[0], false);
            std::swap(held_[0], held_[1]);
            --holding_;
        }
        Held& h = held_[holding_++];
        h.at = at++;
        h.before_s = last_s_;
        h.fields.clear();
        h.developer_fields.clear();
        for (const auto& s : d.fields) {
            h.fields.push_back({s.number, 0, static_cast<Base>(s.type), d.big_endian, b_.substr(at, s.size)});
            at += s.size;
        }
        for (const auto& s : d.developer_fields) {
            h.developer_fields.push_back({s.number, s.type, Base::byte, d.big_endian, b_.substr(at, s.size)});
            at += s.size;
        }
        h.message = {d.global, out_.sections, time_s, compressed, false, {}, {}};
    }
    void emit(Held& h, bool doubtful) {
        h.message.doubtful = doubtful;
        h.message.fields = h.fields;
        h.message.developer_fields = h.developer_fields;
        ++out_.messages;
        if (!doubtful) ++(h.message.compressed_time ? compressed_seen_ : plain_seen_);
        sink_(h.message);
    }
    void release(bool doubtful) {
        for (std::size_t i = 0; i < holding_; ++i) emit(held_[i], doubtful);
        holding_ = 0;
    }

    std::string_view b_;
    const std::function<void(const Message&)>& sink_;
    Decoded out_;
    Definitions defined_;
    std::array<std::size_t, 8> found_{};
    std::optional<std::uint32_t> last_s_;   // time of the last message that told one, in this section
    bool trusted_ = false;                  // the section's checksum is right
    std::size_t plain_seen_ = 0, compressed_seen_ = 0;   // messages of the section so far
    std::size_t leaps_ = 0;                              // that were looked into: each costs a search
    bool cut_ = false;
    std::array<Held, 2> held_;
    std::size_t holding_ = 0;
};

}  // namespace

std::uint16_t checksum(std::string_view bytes) {
    static constexpr std::array<std::uint16_t, 16> table{0x0000, 0xCC01, 0xD801, 0x1400, 0xF001, 0x3C00, 0x2800, 0xE401,
                                                         0xA001, 0x6C00, 0x7800, 0xB401, 0x5000, 0x9C01, 0x8801, 0x4400};
    unsigned crc = 0;
    for (const char c : bytes) {
        const unsigned byte = static_cast<std::uint8_t>(c);
        crc = crc >> 4 ^ table[(crc ^ byte) & 15];
        crc = crc >> 4 ^ table[(crc ^ byte >> 4) & 15];
    }
    return static_cast<std::uint16_t>(crc);
}

std::size_t width_of(Base base) {
    switch (base) {
        case Base::enum8: case Base::sint8: case Base::uint8: case Base::string: case Base::uint8z: case Base::byte: return 1;
        case Base::sint16: case Base::uint16: case Base::uint16z: return 2;
        case Base::sint32: case Base::uint32: case Base::uint32z: case Base::float32: return 4;
        case Base::float64: case Base::sint64: case Base::uint64: case Base::uint64z: return 8;
    }
    return 0;
}

std::size_t count_of(const Field& field) {
    const std::size_t width = width_of(field.base);
    return width && field.bytes.size() % width == 0 ? field.bytes.size() / width : 0;
}

std::optional<double> number(const Field& field, std::size_t i) {
    if (i >= count_of(field) || field.base == Base::string) return {};
    const std::size_t width = width_of(field.base);
    const std::uint64_t v = word(field.bytes.substr(i * width, width), field.big_endian);
    const std::uint64_t ones = width == 8 ? ~std::uint64_t{0} : (std::uint64_t{1} << 8 * width) - 1, most = ones >> 1;
    switch (field.base) {
        case Base::sint8: case Base::sint16: case Base::sint32: case Base::sint64: {
            if (v == most) return {};
            const std::uint64_t extended = v > most ? v | ~ones : v;
            return static_cast<double>(std::bit_cast<std::int64_t>(extended));
        }
        case Base::uint8z: case Base::uint16z: case Base::uint32z: case Base::uint64z:
            if (v == 0) return {};
            return static_cast<double>(v);
        case Base::float32: case Base::float64: {
            if (v == ones) return {};
            const double x = width == 4 ? static_cast<double>(std::bit_cast<float>(static_cast<std::uint32_t>(v))) : std::bit_cast<double>(v);
            if (!std::isfinite(x)) return {};
            return x;
        }
        default:
            if (v == ones) return {};
            return static_cast<double>(v);
    }
}

std::string_view text_of(const Field& field) {
    if (field.base != Base::string) return {};
    return field.bytes.substr(0, field.bytes.find('\0'));
}

const Field* Message::field(std::uint8_t number) const {
    for (const auto& f : fields)
        if (f.number == number) return &f;
    return nullptr;
}

bool header_at(std::string_view bytes, std::size_t at) {
    return at + 12 <= bytes.size() && byte_at(bytes, at) >= 12 && at + byte_at(bytes, at) <= bytes.size() && bytes.substr(at + 8, 4) == ".FIT";
}

Decoded decode(std::string_view bytes, const std::function<void(const Message&)>& sink) { return Decoder(bytes, sink).run(); }

}  // namespace bw::ride::fit
