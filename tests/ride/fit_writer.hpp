// SPDX-License-Identifier: Apache-2.0
// For tests: writes FIT files from the open protocol. Shares nothing with the reader; its checksum goes bit by bit.
#pragma once
#include <bit>
#include <cstdint>
#include <cstring>
#include <string>
#include <string_view>
#include <variant>
#include <vector>

namespace bw::ride::samples {

enum class Endian { little, big };

//! Base types as written on the wire.
namespace fit_type {
inline constexpr std::uint8_t enum8 = 0x00, sint8 = 0x01, uint8 = 0x02, string = 0x07, uint8z = 0x0A, byte = 0x0D, sint16 = 0x83, uint16 = 0x84, sint32 = 0x85,
                              uint32 = 0x86, float32 = 0x88, float64 = 0x89, uint16z = 0x8B, uint32z = 0x8C, sint64 = 0x8E, uint64 = 0x8F, uint64z = 0x90;
}

struct FitField {
    std::uint8_t number, type;        // type: base type, or developer data index
    std::uint8_t size = 0;            // 0: one value of the base type
};
//! A number of the field's base type, or its raw bytes (padded with zeros).
using FitValue = std::variant<double, std::string>;

class FitWriter {
public:
    explicit FitWriter(Endian endian = Endian::little, std::size_t header_size = 14) : endian_(endian), header_size_(header_size) {}

    void define(int local, std::uint16_t global, std::vector<FitField> fields, std::vector<FitField> developer = {}) {
        for (auto& f : fields)
            if (!f.size) f.size = width(f.type);
        data_ += static_cast<char>(0x40 | local | (developer.empty() ? 0 : 0x20));
        data_ += '\0';
        data_ += static_cast<char>(endian_ == Endian::big);
        put(global, 2, data_);
        data_ += static_cast<char>(fields.size());
        for (const auto& f : fields) data_ += {static_cast<char>(f.number), static_cast<char>(f.size), static_cast<char>(f.type)};
        if (!developer.empty()) {
            data_ += static_cast<char>(developer.size());
            for (const auto& f : developer) data_ += {static_cast<char>(f.number), static_cast<char>(f.size), static_cast<char>(f.type)};
        }
        local_[local] = std::move(fields);
        developer_[local] = std::move(developer);
    }
    //! Values of the fields, then of the developer fields (those as raw bytes, or 2-byte numbers).
    void data(int local, const std::vector<FitValue>& values) {
        data_ += static_cast<char>(local);
        body(local, values);
    }
    //! With a compressed header: the last five bits of the time; the definition has no time.
    void compressed(int local, std::uint32_t time_s, const std::vector<FitValue>& values) {
        data_ += static_cast<char>(0x80 | local << 5 | static_cast<int>(time_s & 31));
        body(local, values);
    }
    //! The bytes so far that are no header and no checksum.
    std::string& raw() { return data_; }

    //! Header, messages, checksum.
    std::string section() const { return section(data_.size()); }
    std::string section(std::size_t announced) const {
        std::string s;
        s += static_cast<char>(header_size_);
        s += '\x20';
        put_little(2132, 2, s);
        put_little(announced, 4, s);
        s += ".FIT";
        if (header_size_ >= 14) put_little(crc(s), 2, s);
        while (s.size() < header_size_) s += '\0';
        s += data_;
        put_little(crc(s), 2, s);
        return s;
    }

    static std::uint16_t crc(std::string_view bytes) {
        unsigned v = 0;
        for (const char c : bytes) {
            v ^= static_cast<std::uint8_t>(c);
            for (int bit = 0; bit < 8; ++bit) v = v & 1 ? v >> 1 ^ 0xA001u : v >> 1;
        }
        return static_cast<std::uint16_t>(v);
    }

private:
    static std::uint8_t width(std::uint8_t type) {
        static const std::uint8_t widths[] = {1, 1, 1, 2, 2, 4, 4, 1, 4, 8, 1, 2, 4, 1, 8, 8, 8};
        return widths[type & 0x1F];
    }
    static void put_little(std::uint64_t v, int n, std::string& to) {
        for (int i = 0; i < n; ++i) to += static_cast<char>(v >> 8 * i & 0xFF);
    }
    void put(std::uint64_t v, int n, std::string& to) const {
        for (int i = 0; i < n; ++i) to += static_cast<char>(v >> 8 * (endian_ == Endian::big ? n - 1 - i : i) & 0xFF);
    }
    void body(int local, const std::vector<FitValue>& values) {
        for (std::size_t i = 0; i < values.size(); ++i) {
            const bool own = i >= local_[local].size();
            const FitField f = own ? developer_[local][i - local_[local].size()] : local_[local][i];
            if (const auto* text = std::get_if<std::string>(&values[i])) {
                std::string padded = *text;
                padded.resize(f.size, '\0');
                data_ += padded;
                continue;
            }
            const double v = std::get<double>(values[i]);
            const int n = f.size;
            if (!own && f.type == fit_type::float32) put(std::bit_cast<std::uint32_t>(static_cast<float>(v)), 4, data_);
            else if (!own && f.type == fit_type::float64) put(std::bit_cast<std::uint64_t>(v), 8, data_);
            else put(v < 0 ? std::bit_cast<std::uint64_t>(static_cast<std::int64_t>(v)) : static_cast<std::uint64_t>(v), n, data_);
        }
    }

    Endian endian_;
    std::size_t header_size_;
    std::string data_;
    std::vector<FitField> local_[16], developer_[16];
};

//! 2026-05-01T09:30:00Z in FIT seconds.
inline constexpr std::uint32_t fit_start_s = 1777627800 - 631065600;

inline void fit_file_id(FitWriter& w, double kind = 4) {
    w.define(15, 0, {{0, fit_type::enum8}, {1, fit_type::uint16}, {4, fit_type::uint32}});
    w.data(15, {kind, 255.0, double{fit_start_s}});
}

//! The definition of local type 0 that `as_fit` uses.
inline std::vector<FitField> fit_ride_fields() {
    using namespace fit_type;
    return {{253, uint32}, {0, sint32}, {1, sint32}, {5, uint32}, {2, uint16}, {6, uint16}, {13, sint8}};
}
template <class Made>
std::vector<FitValue> fit_ride_values(const Made& r, double temperature_degC = 12) {
    const double per_degree = 2147483648.0 / 180;
    const auto whole = [](double v) { return static_cast<double>(static_cast<std::int64_t>(v < 0 ? v - 0.5 : v + 0.5)); };
    return {fit_start_s + whole(r.t_s),           whole(r.latitude_deg * per_degree), whole(r.longitude_deg * per_degree), whole(r.distance_m * 100),
            whole((r.altitude_m + 500) * 5), whole(r.speed_mps * 1000),          temperature_degC};
}
//! A made ride (read_samples.hpp) of whole seconds as a FIT file.
template <class Made>
std::string as_fit(const std::vector<Made>& ride, Endian endian = Endian::little, std::size_t header_size = 14) {
    FitWriter w(endian, header_size);
    fit_file_id(w);
    w.define(0, 20, fit_ride_fields());
    for (const auto& r : ride) w.data(0, fit_ride_values(r));
    return w.section();
}

}  // namespace bw::ride::samples
