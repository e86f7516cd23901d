// SPDX-License-Identifier: Apache-2.0
// FIT, the open binary protocol: bytes into messages, with salvage. Knows nothing of rides.                 Layer: ride
// Protocol as in public documentation; docs/formats-rides.md lists what is read and what is done with broken files.
#pragma once
#include <cstddef>
#include <cstdint>
#include <functional>
#include <optional>
#include <span>
#include <string>
#include <string_view>
#include <vector>

namespace bw::ride::fit {

//! Seconds from 1970-01-01 to 1989-12-31, the zero of FIT times.
inline constexpr double epoch_unix_s = 631065600;
//! Times below this are seconds since the recorder was switched on and state no date.
inline constexpr std::uint32_t least_dated_s = 0x10000000;

//! CRC-16 with the reflected polynomial 0xA001, from 0: of "123456789" 0xBB3D; of bytes followed by their own CRC 0.
std::uint16_t checksum(std::string_view bytes);

//! Base types by their number on the wire.
enum class Base : std::uint8_t {
    enum8 = 0x00, sint8 = 0x01, uint8 = 0x02, string = 0x07, uint8z = 0x0A, byte = 0x0D, sint16 = 0x83, uint16 = 0x84, sint32 = 0x85,
    uint32 = 0x86, float32 = 0x88, float64 = 0x89, uint16z = 0x8B, uint32z = 0x8C, sint64 = 0x8E, uint64 = 0x8F, uint64z = 0x90
};
//! Bytes of one value; 0 for a number that is no base type.
std::size_t width_of(Base base);

//! One field of a message: its bytes in the file.
struct Field {
    std::uint8_t number = 0;
    std::uint8_t developer = 0;   //!< developer data index; only of developer fields
    Base base = Base::byte;       //!< developer fields have none until their description is known
    bool big_endian = false;
    std::string_view bytes;
};
//! How many values the field holds; 0 if its size is no multiple of its base type (a writer's fault: the bytes mean nothing).
std::size_t count_of(const Field& field);
//! Value i of a number field, unscaled; nothing if it is the base type's "invalid", a string, or not there.
std::optional<double> number(const Field& field, std::size_t i = 0);
//! A string field up to its first zero byte.
std::string_view text_of(const Field& field);

struct Message {
    std::uint16_t global = 0;
    std::size_t section = 0;                  //!< 0 for the first FIT section in the file
    std::optional<std::uint32_t> time_s;      //!< field 253 or the compressed header [s since 1989-12-31]; absent if not told
    bool compressed_time = false;
    //! The stream was lost after this message or the next: what it says may be shifted by bytes that are missing.
    bool doubtful = false;
    std::span<const Field> fields, developer_fields;
    const Field* field(std::uint8_t number) const;   //!< null if it is not there
};

enum class FindingKind {
    header_checksum,   //!< header's own checksum wrong
    file_checksum,     //!< section's checksum wrong
    no_checksum,       //!< the file ends within the section's checksum
    cut,               //!< the file or section ends within a message, or before the size that the header says
    wrong_size,        //!< the section is longer or shorter than its header says
    lost,              //!< bytes that are no message; reading went on further down, or not
    not_fit            //!< bytes between or after sections that are no section
};
struct Finding {
    FindingKind kind;
    std::size_t section = 0;
    std::size_t at = 0;      //!< byte in the file
    std::size_t bytes = 0;   //!< how many were passed over
    std::string why;         //!< lost: what was found, e.g. "data of local type 11, which nothing defines"
};

struct Decoded {
    std::size_t sections = 0, messages = 0;
    std::vector<Finding> findings;   //!< at most 1,000 of each kind
    std::size_t lost_places = 0;
};

//! Hands every data message to `sink`, in file order; a message and its fields live until the sink returns. Definitions are
//! kept to the decoder. Linear in the size, needs no memory that grows with it but for findings. Never fails: what cannot be
//! read is a finding. Header sizes of 12, 14 and more are read; chained sections one after the other.
Decoded decode(std::string_view bytes, const std::function<void(const Message&)>& sink);

//! A FIT header stands at this byte.
bool header_at(std::string_view bytes, std::size_t at);

}  // namespace bw::ride::fit
