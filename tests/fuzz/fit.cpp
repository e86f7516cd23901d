// SPDX-License-Identifier: Apache-2.0
// Fuzzer of the FIT decoder, the FIT reader and the cleaning behind it.
#include "../../src/ride/fit_decode.hpp"
#include "oracle.hpp"
#include "seeds.hpp"

namespace {

//! Messages lie inside the file, in order of sections; findings too.
void look_at_messages(std::string_view bytes) {
    using namespace bw::ride::fit;
    std::size_t messages = 0, last_section = 0;
    const char *begin = bytes.data(), *end = bytes.data() + bytes.size();
    const auto decoded = decode(bytes, [&](const Message& m) {
        ++messages;
        if (m.section < last_section) bw::fuzz::breach("a message of an earlier section");
        last_section = m.section;
        for (const auto& fields : {m.fields, m.developer_fields})
            for (const auto& f : fields) {
                if (f.bytes.size() > 255) bw::fuzz::breach("a field of more than 255 bytes");
                if (!f.bytes.empty() && (f.bytes.data() < begin || f.bytes.data() + f.bytes.size() > end)) bw::fuzz::breach("a field outside the file");
                for (std::size_t i = 0; i < 3; ++i)
                    if (const auto v = number(f, i); v && !std::isfinite(*v)) bw::fuzz::breach("a number that is none");
                if (text_of(f).size() > f.bytes.size()) bw::fuzz::breach("a text longer than its field");
            }
    });
    if (messages != decoded.messages || messages > bytes.size()) bw::fuzz::breach("messages");
    for (const auto& f : decoded.findings)
        if (f.at > bytes.size() || f.bytes > bytes.size()) bw::fuzz::breach("a finding outside the file");
}

//! The same bytes as one section whose header and checksum are right: what a wrong checksum would hide.
std::string repaired(std::string_view bytes) {
    std::string s(bytes);
    if (s.size() < 16 || s[0] != 12) return {};
    const std::size_t size = s.size() - 14;
    for (std::size_t i = 0; i < 4; ++i) s[4 + i] = static_cast<char>(size >> 8 * i & 0xFF);
    s.replace(8, 4, ".FIT");
    s.resize(s.size() - 2);
    const auto sum = bw::ride::samples::FitWriter::crc(s);
    s += {static_cast<char>(sum & 0xFF), static_cast<char>(sum >> 8)};
    return s;
}

}  // namespace

extern "C" int LLVMFuzzerTestOneInput(const std::uint8_t* data, std::size_t size) {
    const std::string_view bytes(reinterpret_cast<const char*>(data), size);
    look_at_messages(bytes);
    bw::fuzz::reading(bw::ride::readers::read_fit(bytes, "fuzz"));
    if (const auto whole = repaired(bytes); !whole.empty()) {
        look_at_messages(whole);
        bw::fuzz::reading(bw::ride::readers::read_fit(whole, "fuzz"));
    }
    return 0;
}

const char* fuzz_name() { return "fit"; }
std::vector<std::string> fuzz_seeds() { return bw::fuzz::fit_seeds(); }
