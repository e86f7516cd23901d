// SPDX-License-Identifier: Apache-2.0
// For tests: writes TCX of made rides.
#pragma once
#include <fmt/format.h>

#include <string>
#include <string_view>
#include <vector>

#include "read_samples.hpp"

namespace bw::ride::samples {

enum class Times { with, without };

inline std::string tcx_point(const MadeRecord& r, std::string_view prefix, Times times) {
    std::string p = "<Trackpoint>";
    if (times == Times::with) p += fmt::format("<Time>{}</Time>", stamp(r.t_s));
    p += fmt::format("<Position><LatitudeDegrees>{:.7f}</LatitudeDegrees><LongitudeDegrees>{:.7f}</LongitudeDegrees></Position>", r.latitude_deg, r.longitude_deg);
    p += fmt::format("<AltitudeMeters>{:.2f}</AltitudeMeters><DistanceMeters>{:.2f}</DistanceMeters>", r.altitude_m, r.distance_m);
    if (times == Times::with) p += fmt::format("<Extensions><{0}TPX><{0}Speed>{1:.3f}</{0}Speed><{0}Watts>180</{0}Watts></{0}TPX></Extensions>", prefix, r.speed_mps);
    return p + "</Trackpoint>\n";
}

inline const std::string tcx_head =
    "<?xml version=\"1.0\"?>\n<TrainingCenterDatabase xmlns:ns3=\"urn:ns3\" xmlns:x=\"urn:x\">\n";

inline std::string as_tcx(const std::vector<MadeRecord>& ride, std::string_view prefix = "ns3:") {
    std::string out = tcx_head + "<Activities><Activity Sport=\"Biking\"><Id>2026-05-01T09:30:00Z</Id><Lap StartTime=\"2026-05-01T09:30:00Z\">"
                                 "<TotalTimeSeconds>1</TotalTimeSeconds><DistanceMeters>1</DistanceMeters><Track>\n";
    for (const auto& r : ride) out += tcx_point(r, prefix, Times::with);
    return out + "</Track></Lap></Activity></Activities></TrainingCenterDatabase>\n";
}

inline std::string as_tcx_course(const std::vector<MadeRecord>& ride, Times times) {
    std::string out = tcx_head + "<Courses><Course><Name>made</Name><Lap><TotalTimeSeconds>1</TotalTimeSeconds><DistanceMeters>1</DistanceMeters></Lap><Track>\n";
    for (const auto& r : ride) out += tcx_point(r, "ns3:", times);
    return out + "</Track></Course></Courses></TrainingCenterDatabase>\n";
}

}  // namespace bw::ride::samples
