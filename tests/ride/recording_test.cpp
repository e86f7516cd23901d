// SPDX-License-Identifier: Apache-2.0
// Telling rides from planned ways, planned ways themselves, and wrapped files.
#include <gtest/gtest.h>
#include <zlib.h>

#include <algorithm>
#include <variant>

#include "base/sampling.hpp"
#include "fit_writer.hpp"
#include "read_samples.hpp"
#include "ride/route.hpp"
#include "tcx_writer.hpp"

using namespace bw;
using namespace bw::ride;
using namespace bw::ride::samples;

namespace {

Route way(const std::string& bytes, const std::string& name = "made") {
    auto r = read_recording(bytes, name);
    EXPECT_TRUE(r) << (r ? "" : r.error().text);
    if (!r) return {};
    EXPECT_TRUE(std::holds_alternative<Route>(*r)) << "read as a ride";
    return std::holds_alternative<Route>(*r) ? std::get<Route>(std::move(*r)) : Route{};
}
bool is_track(const std::string& bytes) {
    const auto r = read_recording(bytes, "made");
    return r && std::holds_alternative<Track>(*r);
}
const Fault* fault_of(const Route& r, FaultKind kind) {
    for (const auto& f : r.faults)
        if (f.kind == kind) return &f;
    return nullptr;
}
std::string faults_text(const Route& r) {
    std::string out;
    for (const auto& f : r.faults) out += fmt::format("[{}] {}: {}\n", word_of(f.kind), f.count, f.text);
    return out;
}
//! What route.hpp promises; empty, or the first promise that is broken.
std::string broken_promise(const Route& r) {
    if (r.size() < 2) return "fewer than two points";
    if (r.distance_m[0] != 0) return "does not start at 0";
    for (std::size_t i = 1; i < r.size(); ++i)
        if (!(r.distance_m[i] > r.distance_m[i - 1])) return fmt::format("distance does not rise at {}", i);
    for (const auto* c : {&r.latitude_deg, &r.longitude_deg, &r.altitude_m}) {
        if (c->empty()) continue;
        if (c->size() != r.size()) return "a channel of another length";
        if (std::all_of(c->begin(), c->end(), [](double v) { return std::isnan(v); })) return "a channel without a value is not empty";
    }
    for (const auto& f : r.faults)
        if (f.count < 1 || f.text.empty() || f.text.back() != '.') return "a fault without a count or a sentence: " + f.text;
    return {};
}

//! The same places as the made ride's, without times.
std::string drawn_gpx(const std::vector<MadeRecord>& ride, const char* tag) {
    std::string out = "<?xml version=\"1.0\"?>\n<gpx version=\"1.1\" creator=\"invented\" xmlns=\"http://www.topografix.com/GPX/1/1\">";
    const bool route = std::string_view(tag) == "rtept";
    out += route ? "<rte>" : "<trk><trkseg>";
    for (const auto& r : ride) out += fmt::format("<{0} lat=\"{1:.7f}\" lon=\"{2:.7f}\"><ele>{3:.2f}</ele></{0}>\n", tag, r.latitude_deg, r.longitude_deg, r.altitude_m);
    return out + (route ? "</rte></gpx>" : "</trkseg></trk></gpx>");
}

std::string gzip(const std::string& bytes) {
    z_stream s{};
    EXPECT_EQ(deflateInit2(&s, 6, Z_DEFLATED, 16 + MAX_WBITS, 8, Z_DEFAULT_STRATEGY), Z_OK);
    std::string out(deflateBound(&s, bytes.size()) + 64, '\0');
    std::string in = bytes;
    s.next_in = reinterpret_cast<unsigned char*>(in.data());
    s.avail_in = static_cast<unsigned>(in.size());
    s.next_out = reinterpret_cast<unsigned char*>(out.data());
    s.avail_out = static_cast<unsigned>(out.size());
    EXPECT_EQ(deflate(&s, Z_FINISH), Z_STREAM_END);
    out.resize(s.total_out);
    deflateEnd(&s);
    return out;
}

}  // namespace

// ---- which is which ----------------------------------------------------------------------------------------------------------

TEST(Recordings, TimedFilesOfEveryFormatAreRidesAndTheSameAsReadRideGives) {
    const auto ride = made_ride(100);
    for (const auto& bytes : {as_gpx(ride), as_tcx(ride), as_fit(ride), as_csv(ride), as_tcx_course(ride, Times::with)}) {
        const auto r = read_recording(bytes, "made");
        ASSERT_TRUE(r);
        ASSERT_TRUE(std::holds_alternative<Track>(*r));
        const auto& t = std::get<Track>(*r);
        const auto u = read(bytes);
        EXPECT_EQ(t.t_s, u.t_s);
        EXPECT_EQ(t.altitude_m, u.altitude_m);
        EXPECT_EQ(t.content_hash, u.content_hash);
        EXPECT_EQ(t.faults.size(), u.faults.size());
    }
}

TEST(Recordings, EveryKindOfUntimedFileIsAWayAndReadRideSaysSo) {
    const auto ride = made_ride(300);
    FitWriter fit;
    fit_file_id(fit, 6);
    fit.define(0, 20, {{0, fit_type::sint32}, {1, fit_type::sint32}, {2, fit_type::uint16}});
    for (const auto& r : ride) {
        const auto v = fit_ride_values(r);
        fit.data(0, {v[1], v[2], v[4]});
    }
    std::string csv = "distance_m,altitude_m\n", places = "latitude_deg,longitude_deg,altitude_m\n";
    for (const auto& r : ride) {
        csv += fmt::format("{:.2f},{:.2f}\n", r.distance_m, r.altitude_m);
        places += fmt::format("{:.7f},{:.7f},{:.2f}\n", r.latitude_deg, r.longitude_deg, r.altitude_m);
    }
    for (const auto& bytes : {drawn_gpx(ride, "trkpt"), drawn_gpx(ride, "rtept"), as_tcx_course(ride, Times::without), fit.section(), csv, places}) {
        const auto r = way(bytes, "some/folder/way.x");
        EXPECT_EQ(r.file, "way.x");
        EXPECT_EQ(r.content_hash, hash_of(bytes));
        EXPECT_EQ(broken_promise(r), "");
        ASSERT_EQ(r.size(), 300u) << bytes.substr(0, 200);
        // Altitude in FIT steps of 0.2 m.
        for (std::size_t i = 0; i < 300; ++i) ASSERT_NEAR(r.altitude_m[i], ride[i].altitude_m, 0.1001);
        EXPECT_NE(error_of(bytes).find("planned"), std::string::npos) << error_of(bytes);
    }
}

TEST(Recordings, APlannersSameTimeAtEveryPointIsNoTime) {
    auto ride = made_ride(50);
    for (auto& r : ride) r.t_s = 0;
    EXPECT_EQ(way(as_gpx(ride)).size(), 50u);
    EXPECT_NE(error_of(as_gpx(ride)).find("same time"), std::string::npos);
}

TEST(Recordings, ARouteBesideARecordedTrackDoesNotTouchTheTrack) {
    auto xml = as_gpx(made_ride(50));
    xml.insert(xml.find("<trk>"), "<rte><rtept lat=\"46\" lon=\"8\"/><rtept lat=\"47\" lon=\"8\"/></rte>");
    EXPECT_EQ(read(xml).size(), 50u);
    EXPECT_TRUE(is_track(xml));
}

TEST(Recordings, WhatIsNeitherIsRefusedWithASentence) {
    for (const std::string bytes : {"", "hello", "<gpx></gpx>", "<gpx><wpt lat=\"1\" lon=\"1\"/></gpx>", "<html/>", "<TrainingCenterDatabase/>", "altitude_m\n1\n2\n", "distance_m,altitude_m\n",
                                    "distance_m,altitude_m\n5,1\n5,1\n", "PK\x03\x04zip", "<gpx><rte><rtept lat=\"46\" lon=\"8\"/></rte></gpx>"}) {
        const auto r = read_recording(bytes, "x.file");
        ASSERT_FALSE(r) << bytes;
        EXPECT_EQ(r.error().code, Errc::bad_input);
        EXPECT_NE(r.error().text.find("x.file"), std::string::npos) << r.error().text;
        EXPECT_EQ(r.error().text.back(), '.') << r.error().text;
    }
}

// ---- ways --------------------------------------------------------------------------------------------------------------------

TEST(Ways, DistancesAreThoseOnTheGround) {
    const auto ride = made_ride(200);
    const auto r = way(drawn_gpx(ride, "rtept"));
    double d = 0;
    for (std::size_t i = 1; i < ride.size(); ++i) {
        d += ground_distance_m(r.latitude_deg[i - 1], r.longitude_deg[i - 1], r.latitude_deg[i], r.longitude_deg[i]);
        ASSERT_NEAR(r.distance_m[i], d, 1e-6);
    }
    EXPECT_TRUE(r.faults.empty()) << faults_text(r);
}

TEST(Ways, TheDistanceThatTheFileStatesCountsBeforeThatOfThePositions) {
    const auto r = way("distance_m,altitude_m,latitude_deg,longitude_deg\n1000,10,46,8\n1100,12,46.001,8\n1200,14,46.002,8\n");
    EXPECT_EQ(r.distance_m, (std::vector<double>{0, 100, 200}));
    EXPECT_EQ(r.latitude_deg, (std::vector<double>{46, 46.001, 46.002}));
}

TEST(Ways, EqualPointsAreOne) {
    const auto r = way("<gpx><rte><rtept lat=\"46\" lon=\"8\"/><rtept lat=\"46\" lon=\"8\"><ele>700</ele></rtept><rtept lat=\"46.01\" lon=\"8\"><ele>690</ele></rtept></rte></gpx>");
    EXPECT_EQ(r.size(), 2u);
    EXPECT_EQ(r.altitude_m, (std::vector<double>{700, 690})) << "what one of them knows is kept";
}

TEST(Ways, ManyPointsCloserThanACentimetreStillAddUp) {
    std::string csv = "distance_m,altitude_m\n";
    for (int i = 0; i <= 10000; ++i) csv += fmt::format("{:.3f},{}\n", 0.004 * i, 5);
    const auto r = way(csv);
    EXPECT_NEAR(r.distance_m.back(), 40, 0.01);
    EXPECT_EQ(broken_promise(r), "");
    std::string gpx = "<gpx><trk><trkseg>";
    for (int i = 0; i <= 10000; ++i) gpx += fmt::format("<trkpt lat=\"{:.9f}\" lon=\"8\"/>", 46 + 4e-8 * i);
    EXPECT_NEAR(way(gpx + "</trkseg></trk></gpx>").distance_m.back(), ground_distance_m(46, 8, 46.0004, 8), 0.02);
}

TEST(Ways, PartsThatJoinAreOneWayAndOfSeveralTheLongestIsTaken) {
    const auto part = [](double from_deg, double to_deg) {
        std::string xml = "<trkseg>";
        for (int i = 0; i <= 10; ++i) xml += fmt::format("<trkpt lat=\"{:.7f}\" lon=\"8\"><ele>{}</ele></trkpt>", from_deg + (to_deg - from_deg) * i / 10, 500 - i);
        return xml + "</trkseg>";
    };
    const auto joined = way("<gpx><trk>" + part(46, 46.05) + part(46.051, 46.1) + "</trk></gpx>");
    EXPECT_EQ(joined.size(), 22u);
    EXPECT_FALSE(fault_of(joined, FaultKind::other)) << faults_text(joined);
    const auto apart = way("<gpx><trk>" + part(46, 46.02) + "</trk><trk>" + part(46.5, 46.56) + "</trk><trk>" + part(47, 47.01) + "</trk></gpx>");
    EXPECT_EQ(apart.size(), 11u);
    EXPECT_EQ(apart.latitude_deg[0], 46.5);
    ASSERT_TRUE(fault_of(apart, FaultKind::other));
    EXPECT_EQ(fault_of(apart, FaultKind::other)->count, 2);
}

TEST(Ways, PointsThatAPlannerPutsBetweenRoutePointsAreOnTheWay) {
    const auto r = way("<gpx xmlns:p=\"urn:p\"><rte><rtept lat=\"46\" lon=\"8\"><extensions><p:between><p:rpt lat=\"46.004\" lon=\"8.001\"/><p:rpt lat=\"46.008\" lon=\"8\"/></p:between>"
                       "</extensions></rtept><rtept lat=\"46.01\" lon=\"8\"/></rte></gpx>");
    EXPECT_EQ(r.latitude_deg, (std::vector<double>{46, 46.004, 46.008, 46.01}));
}

TEST(Ways, WhatIsMissingOrCoarseIsSaid) {
    const auto bare = way("<gpx><rte><rtept lat=\"46\" lon=\"8\"/><rtept lat=\"46.1\" lon=\"8\"/></rte></gpx>");
    EXPECT_TRUE(bare.altitude_m.empty());
    EXPECT_TRUE(fault_of(bare, FaultKind::no_altitude));
    EXPECT_TRUE(fault_of(bare, FaultKind::other)) << "11 km between two points";
    const auto csv = way("distance_m,altitude_m\n0,100\n500,90\n");
    EXPECT_TRUE(csv.latitude_deg.empty());
    EXPECT_TRUE(fault_of(csv, FaultKind::no_position));
}

TEST(Ways, AnAltitudeOfZeroAllAlongIsNoAltitude) {
    const auto r = way("<gpx><rte><rtept lat=\"46\" lon=\"8\"><ele>0</ele></rtept><rtept lat=\"46.001\" lon=\"8\"><ele>0</ele></rtept></rte></gpx>");
    EXPECT_TRUE(r.altitude_m.empty());
    EXPECT_TRUE(fault_of(r, FaultKind::no_altitude));
}

TEST(Ways, AltitudesThatNoRoadHasAreNotKnown) {
    auto ride = made_ride(100);
    ride[40].altitude_m += 300;
    ride[60].altitude_m = ride[61].altitude_m = 0;
    ride[0].altitude_m = ride[1].altitude_m = 0;
    const auto r = way(drawn_gpx(ride, "trkpt"));
    for (const std::size_t i : {0u, 1u, 40u, 60u, 61u}) EXPECT_TRUE(std::isnan(r.altitude_m[i])) << i;
    EXPECT_EQ(std::count_if(r.altitude_m.begin(), r.altitude_m.end(), [](double z) { return std::isnan(z); }), 5);
    EXPECT_EQ(fault_of(r, FaultKind::altitude_spike)->count, 5);
}

TEST(Ways, ARealStepOfTheRoadStays) {
    // 60 m down over 100 m: a staircase or a bad map, but it stays down.
    auto ride = made_ride(100);
    for (std::size_t i = 50; i < 100; ++i) ride[i].altitude_m -= 60;
    const auto r = way(drawn_gpx(ride, "trkpt"));
    EXPECT_TRUE(std::none_of(r.altitude_m.begin(), r.altitude_m.end(), [](double z) { return std::isnan(z); }));
}

TEST(Ways, PositionsOffTheGlobeAndDistancesThatStepBackAreLeftOut) {
    const auto r = way("<gpx><trk><trkseg><trkpt lat=\"46\" lon=\"8\"/><trkpt lat=\"146\" lon=\"8\"/><trkpt lat=\"0\" lon=\"0\"/><trkpt lat=\"46.001\" lon=\"8\"/></trkseg></trk></gpx>");
    EXPECT_EQ(r.size(), 2u);
    EXPECT_EQ(fault_of(r, FaultKind::position_jump)->count, 2);
    const auto csv = way("distance_m,altitude_m\n0,1\n10,2\n5,3\n20,4\n");
    EXPECT_EQ(csv.distance_m, (std::vector<double>{0, 10, 20}));
}

TEST(Ways, ABrokenRouteIsReadOnBothSidesOfTheBreak) {
    std::string xml = drawn_gpx(made_ride(60), "rtept");
    xml.replace(xml.find("</ele>", xml.size() / 2), 6, "</tim>");
    const auto r = way(xml);
    EXPECT_EQ(r.size(), 59u);
    EXPECT_TRUE(fault_of(r, FaultKind::truncated));
    EXPECT_EQ(fault_of(r, FaultKind::truncated)->count, 1) << faults_text(r);
}

// ---- wrapped files -------------------------------------------------------------------------------------------------------------

TEST(Wrapped, GzipOfEveryFormatIsReadAsWhatIsInIt) {
    const auto ride = made_ride(200);
    for (const auto& bytes : {as_gpx(ride), as_tcx(ride), as_fit(ride), as_csv(ride)}) {
        const auto t = read(gzip(bytes), "ride.gz");
        EXPECT_EQ(t.size(), 200u);
        EXPECT_TRUE(t.faults.empty()) << faults_text(t);
        EXPECT_EQ(t.content_hash, read(bytes).content_hash) << "wrapped or not, it is the same ride";
    }
    EXPECT_EQ(way(gzip(drawn_gpx(ride, "rtept"))).size(), 200u);
}

TEST(Wrapped, SeveralMembersAreOneFile) {
    const auto bytes = as_gpx(made_ride(200));
    const std::size_t half = bytes.size() / 2;
    EXPECT_EQ(read(gzip(bytes.substr(0, half)) + gzip(bytes.substr(half))).size(), 200u);
}

TEST(Wrapped, ACutOrDamagedWrappingGivesWhatCameBefore) {
    const auto bytes = gzip(as_gpx(made_ride(3000)));
    const auto cut = read(bytes.substr(0, bytes.size() / 2));
    EXPECT_GT(cut.size(), 500u);
    EXPECT_EQ(count_of(cut, FaultKind::truncated), 2) << "the wrapping and the GPX in it: " << faults_text(cut);
    std::string damaged = bytes;
    damaged[damaged.size() - 6] = static_cast<char>(damaged[damaged.size() - 6] ^ 1);   // the checksum
    const auto t = read(damaged);
    EXPECT_EQ(t.size(), 3000u);
    EXPECT_EQ(count_of(t, FaultKind::bad_checksum), 1);
}

TEST(Wrapped, MoreThan200MegabytesUnpackedAreRefused) {
    EXPECT_NE(error_of(gzip(std::string((std::size_t{200} << 20) + 1, ' '))).find("200 MB"), std::string::npos);
    EXPECT_NE(error_of("\x1f\x8b nonsense").find("gzip"), std::string::npos);
}

TEST(Recordings, MoreThanTwoMillionRecordsAreRefusedInEveryTextFormat) {
    constexpr std::size_t many = 2000001;
    std::string csv = "t_s,speed_mps\n", gpx = "<gpx><trk><trkseg>", tcx = "<TrainingCenterDatabase><Courses><Course><Track>";
    for (std::size_t i = 0; i < many; ++i) {
        csv += "1,2\n";
        gpx += "<trkpt/>";
        tcx += "<Trackpoint/>";
    }
    for (const std::string& text : {csv, gpx + "</trkseg></trk></gpx>", tcx + "</Track></Course></Courses></TrainingCenterDatabase>"}) {
        const std::string error = error_of(text);
        EXPECT_NE(error.find("more than 2000000 records"), std::string::npos) << error;
        EXPECT_NE(error.find("Split"), std::string::npos) << error;
    }
}
