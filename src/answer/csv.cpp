// SPDX-License-Identifier: Apache-2.0
// The answer's tables as CSV: a row a second, a row a ride.                                              Layer: answer
#include <fmt/format.h>

#include <cmath>

#include "answer/answer.hpp"
#include "base/text.hpp"
#include "base/time.hpp"

namespace bw::answer {

std::string series_csv(const RideAnswer& r) {
    const Series& s = r.series;
    std::string out =
        "t_s,distance_m,altitude_m,speed_mps,gradient,brake_power_W,brake_power_p05_W,brake_power_p95_W,bridged,front_brake_power_W,front_rotor_degC,"
        "front_pad_face_degC,front_fluid_degC,rear_brake_power_W,rear_rotor_degC,rear_pad_face_degC,rear_fluid_degC,"
        "front_rotor_p05_degC,front_rotor_p95_degC,front_fluid_p05_degC,front_fluid_p95_degC,rear_rotor_p05_degC,rear_rotor_p95_degC,rear_fluid_p05_degC,rear_fluid_p95_degC,front_wet_friction,rear_wet_friction\n";
    // Without altitude the road is reckoned level: what follows from that is not written.
    const bool known = r.heat_withheld.empty();
    const auto figure = [known](const char* format, double v) { return known ? fmt::format(fmt::runtime(format), v) : std::string(); };
    const auto degrees = [known](double v) { return known && std::isfinite(v) ? fmt::format("{:.2f}", v) : std::string(); };
    for (std::size_t i = 0; i < s.speed_mps.size(); ++i) {
        out += fmt::format("{},{:.2f},{},{:.3f},{},{},{},{},{}", i, s.distance_m[i], figure("{:.2f}", s.altitude_m[i]), s.speed_mps[i], figure("{:.5f}", s.gradient[i]),
                           figure("{:.1f}", s.power_W[i]), figure("{:.1f}", s.power_p05_W[i]), figure("{:.1f}", s.power_p95_W[i]), s.bridged[i]);
        for (int e = 0; e < 2; ++e)
            out += fmt::format(",{},{},{},{}", figure("{:.1f}", s.wheel_power_W[e][i]), degrees(s.rotor_degC[e][i]), degrees(s.pad_face_degC[e][i]), degrees(s.fluid_degC[e][i]));
        for (int e = 0; e < 2; ++e)
            for (const auto* of : {&s.rotor_p05_degC, &s.rotor_p95_degC, &s.fluid_p05_degC, &s.fluid_p95_degC}) out += ',' + degrees((*of)[e][i]);
        for (int e = 0; e < 2; ++e) out += ',' + figure("{:.3f}", s.wet_friction[e][i]);
        out += '\n';
    }
    return out;
}

std::string summary_csv(const Answer& a) {
    std::string out =
        "ride,date,file,distance_m,descent_m,duration_s,front_energy_J,front_energy_sd_J,rear_energy_J,rear_energy_sd_J,front_pad_degC,rear_pad_degC,wet,grit\n";
    int number = 0;
    for (const RideAnswer& r : a.rides) {
        if (r.planned) continue;   // nobody rode it
        const std::string date = r.start_unix_s ? format_day(static_cast<long>(std::floor(*r.start_unix_s / 86400))) : "";
        const std::string duration = r.described ? "" : fmt::format("{:.7g}", r.duration_s);   // nobody told it
        if (!r.heat_withheld.empty()) {   // its braking is not known
            out += fmt::format("{},{},{},{:.7g},,{},,,,,,,{:.6g},{:.6g}\n", ++number, date, csv_field(r.file), r.distance_m, duration, r.wet_share, r.grit_share);
            continue;
        }
        out += fmt::format("{},{},{},{:.7g},{:.7g},{}", ++number, date, csv_field(r.file), r.distance_m, r.descent_m, duration);
        for (int e = 0; e < 2; ++e) out += fmt::format(",{:.7g},{:.7g}", r.wheel_energy_mean_J[e], r.wheel_energy_sd_J[e]);
        out += fmt::format(",{:.6g},{:.6g},{:.6g},{:.6g}\n", r.pad_mean_degC[0], r.pad_mean_degC[1], r.wet_share, r.grit_share);
    }
    return out;
}

}  // namespace bw::answer
