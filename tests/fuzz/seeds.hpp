// SPDX-License-Identifier: Apache-2.0
// For the fuzzers: small files of each format, all made up.
#pragma once
#include <fmt/format.h>
#include <zlib.h>

#include <string>
#include <vector>

#include "../ride/fit_writer.hpp"

namespace bw::fuzz {

struct Point {
    double t_s, latitude_deg, longitude_deg, altitude_m, distance_m, speed_mps;
};
//! A few seconds northwards at 6 m/s, downhill, with a leap, a repeat and a pause.
inline std::vector<Point> few_points() {
    std::vector<Point> p;
    for (int i = 0; i < 8; ++i) p.push_back({1.0 * i, 46.5 + 5.4e-5 * i, 8.5, 1200 - 0.4 * i, 6.0 * i, 6 + 0.1 * i});
    p[3].altitude_m += 100;
    p[5].t_s = 4;
    p[7].t_s = 60;
    return p;
}
inline std::string stamp(double t_s) { return fmt::format("2026-05-01T09:{:02d}:{:02d}Z", 30 + static_cast<int>(t_s) / 60, static_cast<int>(t_s) % 60); }

inline std::vector<std::string> gpx_seeds() {
    std::string timed = "<?xml version=\"1.0\"?><gpx version=\"1.1\" xmlns:e=\"urn:e\"><trk><trkseg>", drawn = "<gpx><trk><trkseg>", route = "<gpx><rte>", old = "<g:gpx version=\"1.0\"><g:trk><g:trkseg>";
    for (const auto& p : few_points()) {
        timed += fmt::format("<trkpt lat=\"{:.6f}\" lon=\"{}\"><ele>{}</ele><time>{}</time><extensions><e:power>{}</e:power><e:atemp>12</e:atemp><e:speed>{}</e:speed></extensions></trkpt>\n",
                             p.latitude_deg, p.longitude_deg, p.altitude_m, stamp(p.t_s), 150, p.speed_mps);
        drawn += fmt::format("<trkpt lat=\"{:.6f}\" lon=\"{}\"><ele>{}</ele></trkpt>", p.latitude_deg, p.longitude_deg, p.altitude_m);
        route += fmt::format("<rtept lat=\"{:.6f}\" lon=\"{}\"/>", p.latitude_deg, p.longitude_deg);
        old += fmt::format("<g:trkpt lat=\"{:.6f}\" lon=\"{}\"><g:time>{}</g:time><g:speed>{}</g:speed></g:trkpt>", p.latitude_deg, p.longitude_deg, stamp(p.t_s), p.speed_mps);
    }
    std::string wide = "\xff\xfe";
    for (const char c : drawn + "</trkseg></trk></gpx>") wide += c, wide += '\0';
    return {timed + "</trkseg></trk></gpx>", drawn + "</trkseg></trk></gpx>",
            route + "<rtept lat=\"46.51\" lon=\"8.5\"><extensions><x><rpt lat=\"46.52\" lon=\"8.5\"/></x></extensions></rtept></rte></gpx>", old + "</g:trkseg></g:trk></g:gpx>", wide};
}

inline std::vector<std::string> tcx_seeds() {
    std::string ride = "<?xml version=\"1.0\"?><TrainingCenterDatabase><Activities><Activity><Lap><Track>", course = "<TrainingCenterDatabase><Courses><Course><Lap/><Track>";
    std::size_t i = 0;
    for (const auto& p : few_points()) {
        const auto place = fmt::format("<Position><LatitudeDegrees>{:.6f}</LatitudeDegrees><LongitudeDegrees>{}</LongitudeDegrees></Position><AltitudeMeters>{}</AltitudeMeters><DistanceMeters>{}</DistanceMeters>",
                                       p.latitude_deg, p.longitude_deg, p.altitude_m, p.distance_m);
        ride += fmt::format("<Trackpoint><Time>{}</Time>{}<Extensions><n:TPX><n:Speed>{}</n:Speed><n:Watts>150</n:Watts></n:TPX></Extensions></Trackpoint>\n", stamp(p.t_s), place, p.speed_mps);
        course += "<Trackpoint>" + place + "</Trackpoint>";
        if (++i == 4) ride += "</Track><Track>";
        if (i == 6) ride += "</Track></Lap><Lap><Track>";
    }
    return {ride + "</Track></Lap></Activity></Activities></TrainingCenterDatabase>", course + "</Track></Course></Courses></TrainingCenterDatabase>",
            "<TrainingCenterDatabase><Activities><Activity><Lap><TotalTimeSeconds>0</TotalTimeSeconds></Lap></Activity></Activities></TrainingCenterDatabase>"};
}

inline std::string gzipped(std::string bytes) {
    z_stream s{};
    deflateInit2(&s, 6, Z_DEFLATED, 16 + MAX_WBITS, 8, Z_DEFAULT_STRATEGY);
    std::string out(deflateBound(&s, static_cast<unsigned long>(bytes.size())) + 64, '\0');
    s.next_in = reinterpret_cast<unsigned char*>(bytes.data());
    s.avail_in = static_cast<unsigned>(bytes.size());
    s.next_out = reinterpret_cast<unsigned char*>(out.data());
    s.avail_out = static_cast<unsigned>(out.size());
    deflate(&s, Z_FINISH);
    out.resize(s.total_out);
    deflateEnd(&s);
    return out;
}

inline std::vector<std::string> csv_seeds() {
    std::string all = "t_s,time,latitude_deg,longitude_deg,altitude_m,distance_m,speed_mps,power_W,temperature_degC\n", way = "distance_m;altitude_m\r\n";
    for (const auto& p : few_points()) {
        all += fmt::format("{},{},{:.6f},{},{},{},{},150,12\n", p.t_s, stamp(p.t_s), p.latitude_deg, p.longitude_deg, p.altitude_m, p.distance_m, p.speed_mps);
        way += fmt::format("{},5;{},25\r\n", static_cast<int>(p.distance_m), static_cast<int>(p.altitude_m));
    }
    return {all, way, "time\taltitude_m\tspeed_mps\n2026-05-01 09:30:00\t100\t\"5\"\n2026-05-01T09:30:01Z\t99\t6\n2026-05-01T09:30:02+02:00\t98\t7", gzipped(all)};
}

inline std::vector<std::string> fit_seeds() {
    using namespace ride::samples;
    using namespace ride::samples::fit_type;
    const double start = ride::samples::fit_start_s;
    const auto plain = [&](Endian endian) {
        FitWriter w(endian, 12);
        fit_file_id(w);
        w.define(7, 21, {{253, uint32}, {0, enum8}, {1, enum8}});
        w.data(7, {start, 0.0, 0.0});
        w.define(0, 20, fit_ride_fields());
        for (const auto& p : few_points()) w.data(0, fit_ride_values(p));
        w.data(7, {start + 60, 0.0, 4.0});
        return w.section();
    };
    FitWriter packed(Endian::little, 12);
    packed.define(0, 20, {{253, uint32}, {8, byte, 3}});
    packed.define(1, 20, {{8, byte, 3}, {13, sint8}});
    packed.data(0, {start, std::string("\xd5\x02\x10")});
    for (std::uint32_t i = 1; i < 12; ++i) packed.compressed(1, fit_start_s + 7 * i, {std::string{'\xd5', static_cast<char>(0x02 | (i & 15) << 4), static_cast<char>(16 * i)}, 10.0});
    FitWriter developer(Endian::big, 12);
    developer.define(1, 206, {{0, uint8}, {1, uint8}, {2, uint8}, {3, string, 8}, {6, uint8}, {7, sint8}, {8, string, 8}, {14, uint16}, {15, uint8}});
    developer.data(1, {0.0, 4.0, double{uint16}, std::string("power"), 1.0, 0.0, std::string("watts"), 20.0, 7.0});
    developer.define(0, 20, {{253, uint32}, {78, uint32}, {73, uint32}, {2, uint16, 1}, {9, float32}, {10, sint64}, {11, uint16, 6}}, {{4, 0, 2}});
    for (int i = 0; i < 6; ++i) developer.data(0, {start + i, 3000.0 + i, 5000.0, std::string("x"), 1.5, -7.0, std::string("abcdef"), 200.0});
    FitWriter course(Endian::little, 12);
    fit_file_id(course, 6);
    course.define(0, 20, {{0, sint32}, {1, sint32}, {2, uint16}});
    for (const auto& p : few_points()) {
        const auto v = fit_ride_values(p);
        course.data(0, {v[1], v[2], v[4]});
    }
    return {plain(Endian::little), plain(Endian::big), packed.section(), developer.section(), course.section(), plain(Endian::little) + plain(Endian::big)};
}

}  // namespace bw::fuzz
