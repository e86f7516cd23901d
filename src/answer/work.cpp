// SPDX-License-Identifier: Apache-2.0
// The work of a ride as bytes: one list of members for writing and reading.                              Layer: answer
#include "work.hpp"

#include <bit>
#include <cstring>
#include <type_traits>

#include "papers/papers.hpp"

namespace bw::answer {

namespace {

static_assert(std::endian::native == std::endian::little, "the bytes that are kept are little-endian");

constexpr std::string_view mark = "brakewright ride work 4\n";

class Writer {
public:
    static constexpr bool reading = false;
    std::string out{mark};
    void bytes(const void* from, std::size_t n) { out.append(static_cast<const char*>(from), n); }
};
class Reader {
public:
    static constexpr bool reading = true;
    explicit Reader(std::string_view from) : left_(from) {}
    bool failed = false;
    std::size_t left() const { return left_.size(); }
    void bytes(void* to, std::size_t n) {
        if (n > left_.size()) failed = true;
        if (failed) return;
        std::memcpy(to, left_.data(), n);
        left_.remove_prefix(n);
    }

private:
    std::string_view left_;
};

// Members by structured binding: a member that is added to one of these types without being kept here does not compile.
template <class A, class T>
void io(A& a, T& x);

template <class A, class... T>
void each(A& a, T&... x) { (io(a, x), ...); }

template <class T>
struct is_vector : std::false_type {};
template <class T>
struct is_vector<std::vector<T>> : std::true_type {};
template <class T>
struct is_optional : std::false_type {};
template <class T>
struct is_optional<std::optional<T>> : std::true_type {};
template <class T>
struct is_array : std::false_type {};
template <class T, std::size_t N>
struct is_array<std::array<T, N>> : std::true_type {};

template <class A>
void io_members(A& a, Interval& x) { auto& [p05, p50, p95] = x; each(a, p05, p50, p95); }
template <class A>
void io_members(A& a, Account& x) { auto& [height, motion, rider, air, rolling, brakes, unexplained] = x; each(a, height, motion, rider, air, rolling, brakes, unexplained); }
template <class A>
void io_members(A& a, Braking& x) { auto& [front, rear, skid, motor, trailer] = x; each(a, front, rear, skid, motor, trailer); }
template <class A>
void io_members(A& a, ride::Took& x) { auto& [mean, energy] = x; each(a, mean, energy); }
template <class A>
void io_members(A& a, ride::Window& x) { auto& [start, end, took] = x; each(a, start, end, took); }
template <class A>
void io_members(A& a, ride::Bend& x) {
    auto& [start_s, end_s, start_m, end_m, approach, turn, radius, approach_v, entry_v, slowest, took] = x;
    each(a, start_s, end_s, start_m, end_m, approach, turn, radius, approach_v, entry_v, slowest, took);
}
template <class A>
void io_members(A& a, ride::Halt& x) { auto& [start, end, distance, from, deceleration, took] = x; each(a, start, end, distance, from, deceleration, took); }
template <class A>
void io_members(A& a, ride::DescentStep& x) { auto& [from, to, took] = x; each(a, from, to, took); }
template <class A>
void io_members(A& a, ride::Descent& x) { auto& [steps, rest] = x; each(a, steps, rest); }
template <class A>
void io_members(A& a, ride::Effort& x) { auto& [over, start, distance, gradient, speed, power] = x; each(a, over, start, distance, gradient, speed, power); }
template <class A>
void io_members(A& a, ride::BrakesDid& x) { auto& [windows, bends, halts, descent, hardest_10s, hardest_60s] = x; each(a, windows, bends, halts, descent, hardest_10s, hardest_60s); }
template <class A>
void io_members(A& a, ride::Application& x) { auto& [start, end, energy, mean, peak] = x; each(a, start, end, energy, mean, peak); }
template <class A>
void io_members(A& a, ride::Fault& x) { auto& [kind, count, seconds, text] = x; each(a, kind, count, seconds, text); }
template <class A>
void io_members(A& a, heat::WearDose& x) { auto& [energy, energy_temperature, distance, wet, grit] = x; each(a, energy, energy_temperature, distance, wet, grit); }
template <class A>
void io_members(A& a, heat::WheelWater& x) { auto& [least, lever, work, drying, turns] = x; each(a, least, lever, work, drying, turns); }
template <class A>
void io_members(A& a, heat::AsDry& x) {
    auto& [rotor, ring, middle, pad_face, fluid, lever, fluid_at, factors, fluid_rows] = x;
    each(a, rotor, ring, middle, pad_face, fluid, lever);
    static_cast<void>(fluid_at), static_cast<void>(factors), static_cast<void>(fluid_rows);   // read by heat_of() alone
}
template <class A>
void io_members(A& a, WheelOutcome& x) {
    auto& [heat, fades, boil, boil_altitude, hold, hold_cold, hold_outside, hot_stop_beyond_hand] = x;
    // What summarise() and the life read; the rest of a heat run is for drawings.
    each(a, heat.peaks.rotor_surface.degC, heat.peaks.pad_face.degC, heat.peaks.fluid.degC, heat.peaks.fluid.t_s, heat.rotor_hottest_ring_degC, heat.rotor_under_pad_degC, heat.middle_of_ring_degC, heat.lever_force_factor,
         heat.beyond_friction_range_J, heat.above_friction_power_J, heat.air_degC, heat.dose, heat.water, heat.as_dry, fades, boil, boil_altitude, hold, hold_cold, hold_outside, hot_stop_beyond_hand);
}
template <class A>
void io_members(A& a, ParametersAfter& x) { auto& [drag_area, rolling, drag_area_spread, rolling_spread] = x; each(a, drag_area, rolling, drag_area_spread, rolling_spread); }
template <class A>
void io_members(A& a, RideAnswer& x) {
    // Set from the work for the cases at hand: wheels, wheel_energy_J, wheel_energy_mean_J, wheel_energy_sd_J, pad_mean_degC. series: never kept.
    auto& [file, start, date_left_aside, planned, style, style_told, described, duration, distance, ascent, descent, altitude_source, narrowed, account, brake_energy, braking, did, applications, wheels,
           power_by_descent, faults, heat_withheld, misfit, halts, head_wind, wet, grit, wheel_energy, wheel_energy_mean, wheel_energy_sd, pad_mean, series] = x;
    each(a, file, start, date_left_aside, planned, style, style_told, described, duration, distance, ascent, descent, altitude_source, narrowed, account, brake_energy, braking, did, applications,
         power_by_descent, faults, heat_withheld, misfit, halts, head_wind, wet, grit);
    static_cast<void>(wheels), static_cast<void>(wheel_energy), static_cast<void>(wheel_energy_mean), static_cast<void>(wheel_energy_sd), static_cast<void>(pad_mean), static_cast<void>(series);
}
template <class A>
void io_members(A& a, RideWork& x) { auto& [ride, outcomes] = x; each(a, ride, outcomes); }

template <class A, class T>
void io(A& a, T& x) {
    if constexpr (std::is_same_v<T, double>) a.bytes(&x, sizeof x);
    else if constexpr (std::is_same_v<T, bool>) {
        std::uint8_t byte = x ? 1 : 0;
        a.bytes(&byte, 1);
        if constexpr (A::reading) {
            if (byte > 1) a.failed = true;
            x = byte == 1;
        }
    } else if constexpr (std::is_integral_v<T> || std::is_enum_v<T>) {
        auto wide = static_cast<std::int64_t>(x);
        a.bytes(&wide, sizeof wide);
        if constexpr (A::reading) {
            // No enumeration that is kept has more than 16 values.
            if (std::is_enum_v<T> ? wide < 0 || wide > 15 : wide < std::numeric_limits<std::int32_t>::min() || wide > std::numeric_limits<std::int32_t>::max()) a.failed = true;
            else x = static_cast<T>(wide);
        }
    } else if constexpr (std::is_same_v<T, std::string> || is_vector<T>::value) {
        std::uint64_t n = x.size();
        a.bytes(&n, sizeof n);
        if constexpr (A::reading) {
            if (n > a.left()) a.failed = true;   // every element takes a byte or more
            if (a.failed) return;
            x.clear();
        }
        if constexpr (std::is_same_v<T, std::string>) {
            if constexpr (A::reading) x.resize(n);
            a.bytes(x.data(), n);
        } else {
            for (std::uint64_t i = 0; i < n; ++i) {
                if constexpr (A::reading) {
                    if (a.failed) return;
                    x.emplace_back();
                }
                io(a, x[i]);
            }
        }
    } else if constexpr (is_array<T>::value) {
        for (auto& one : x) io(a, one);
    } else if constexpr (is_optional<T>::value) {
        bool there = x.has_value();
        io(a, there);
        if constexpr (A::reading) {
            x.reset();
            if (there) x.emplace();
        }
        if (x) io(a, *x);
    } else io_members(a, x);
}

}  // namespace

std::string bytes_of(const RideWork& work) {
    RideWork copy = work;
    Writer w;
    io(w, copy);
    return w.out + papers::content_id(w.out);
}

std::optional<RideWork> work_of(std::string_view bytes) {
    // A number that decayed would look like any other.
    constexpr std::size_t hash_digits = 64;
    if (!bytes.starts_with(mark) || bytes.size() < mark.size() + hash_digits) return std::nullopt;
    if (papers::content_id(bytes.substr(0, bytes.size() - hash_digits)) != bytes.substr(bytes.size() - hash_digits)) return std::nullopt;
    bytes.remove_suffix(hash_digits);
    Reader r(bytes.substr(mark.size()));
    RideWork work;
    io(r, work);
    if (r.failed || r.left() != 0 || work.outcomes[0].size() != anchor_cases || work.outcomes[1].size() != anchor_cases) return std::nullopt;
    return work;
}

}  // namespace bw::answer
