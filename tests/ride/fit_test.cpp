// SPDX-License-Identifier: Apache-2.0
// Reading FIT, whole and broken.
#include <gtest/gtest.h>

#include <chrono>
#include <cstdio>
#include <filesystem>
#include <limits>
#include <map>

#include "bw_paths.hpp"
#include "../../src/ride/fit_decode.hpp"
#include "../../src/ride/readers.hpp"
#include "base/sampling.hpp"
#include "fit_writer.hpp"
#include "read_samples.hpp"

using namespace bw;
using namespace bw::ride;
using namespace bw::ride::samples;
using namespace bw::ride::samples::fit_type;

namespace {

//! A section with one message of global number 900, and its fields as decoded.
std::vector<fit::Field> fields_of(const std::vector<FitField>& fields, const std::vector<FitValue>& values, Endian endian = Endian::little) {
    FitWriter w(endian);
    w.define(0, 900, fields);
    w.data(0, values);
    static std::string kept;   // the fields point into it
    kept = w.section();
    std::vector<fit::Field> out;
    const auto d = fit::decode(kept, [&](const fit::Message& m) { out.assign(m.fields.begin(), m.fields.end()); });
    EXPECT_TRUE(d.findings.empty());
    EXPECT_EQ(d.messages, 1u);
    return out;
}

readers::Reading reading_of(const std::string& bytes) {
    auto r = readers::read_fit(bytes, "made");
    EXPECT_TRUE(r) << (r ? "" : r.error().text);
    return r ? std::move(*r) : readers::Reading{};
}

//! Start and stop of the timer.
void timer_event(FitWriter& w, double t_s, double type) {
    w.define(7, 21, {{253, uint32}, {0, enum8}, {1, enum8}});
    w.data(7, {fit_start_s + t_s, 0.0, type});
}

}  // namespace

// ---- the protocol ----------------------------------------------------------------------------------------------------------

TEST(FitProtocol, TheChecksumHasItsPublishedValues) {
    // SOURCES 12 no. 8: CRC-16/ARC check value, and a header of the protocol's documentation.
    EXPECT_EQ(fit::checksum("123456789"), 0xBB3D);
    std::string header("\x0e\x10\x64\x08\x00\x00\x00\x00.FIT", 12);
    EXPECT_EQ(fit::checksum(header), 0x2E46);
    header += "\x46\x2e";
    EXPECT_EQ(fit::checksum(header), 0);
}

TEST(FitProtocol, EveryNumberTypeIsReadInBothByteOrders) {
    for (const auto endian : {Endian::little, Endian::big}) {
        const auto f = fields_of({{0, enum8}, {1, sint8}, {2, uint8}, {3, uint8z}, {4, byte}, {5, sint16}, {6, uint16}, {7, uint16z}, {8, sint32}, {9, uint32},
                                  {10, uint32z}, {11, float32}, {12, float64}, {13, sint64}, {14, uint64}, {15, uint64z}},
                                 {3.0, -5.0, 200.0, 7.0, 9.0, -30000.0, 60000.0, 513.0, -2000000000.0, 4000000000.0, 70000.0, 1.5, -2.25, -4.0e15, 5.0e15, 6.0e15}, endian);
        ASSERT_EQ(f.size(), 16u);
        const double expected[] = {3, -5, 200, 7, 9, -30000, 60000, 513, -2000000000, 4000000000, 70000, 1.5, -2.25, -4.0e15, 5.0e15, 6.0e15};
        for (std::size_t i = 0; i < f.size(); ++i) EXPECT_EQ(fit::number(f[i]), expected[i]) << i;
    }
}

TEST(FitProtocol, TheInvalidValueOfEachTypeIsNotKnown) {
    const auto ones = [](std::size_t n) { return std::string(n, '\xff'); };
    const auto f = fields_of({{0, enum8}, {1, sint8}, {2, uint8}, {3, uint8z}, {4, byte}, {5, sint16}, {6, uint16}, {7, uint16z}, {8, sint32}, {9, uint32},
                              {10, uint32z}, {11, float32}, {12, float64}, {13, sint64}, {14, uint64}, {15, uint64z}},
                             {ones(1), std::string("\x7f"), ones(1), 0.0, ones(1), std::string("\xff\x7f"), ones(2), 0.0, std::string("\xff\xff\xff\x7f"), ones(4), 0.0,
                              ones(4), ones(8), std::string("\xff\xff\xff\xff\xff\xff\xff\x7f"), ones(8), 0.0});
    ASSERT_EQ(f.size(), 16u);
    for (std::size_t i = 0; i < f.size(); ++i) EXPECT_FALSE(fit::number(f[i]).has_value()) << i;
}

TEST(FitProtocol, AnInfiniteNumberIsNotKnown) {
    const double inf = std::numeric_limits<double>::infinity();
    const auto f = fields_of({{0, float32}, {1, float64}}, {inf, -inf});
    EXPECT_FALSE(fit::number(f[0]));
    EXPECT_FALSE(fit::number(f[1]));
}

TEST(FitProtocol, ArraysGiveTheirValuesAndStringsTheirText) {
    const auto f = fields_of({{0, uint16, 6}, {1, string, 8}}, {std::string("\x01\x00\xff\xff\x03\x00", 6), std::string("abc\0xyz", 7)});
    ASSERT_EQ(fit::count_of(f[0]), 3u);
    EXPECT_EQ(fit::number(f[0], 0), 1.0);
    EXPECT_FALSE(fit::number(f[0], 1)) << "an invalid value inside an array";
    EXPECT_EQ(fit::number(f[0], 2), 3.0);
    EXPECT_FALSE(fit::number(f[0], 3));
    EXPECT_EQ(fit::text_of(f[1]), "abc");
    EXPECT_FALSE(fit::number(f[1]));
}

TEST(FitProtocol, AFieldWhoseSizeIsNoMultipleOfItsTypeMeansNothingAndShiftsNothing) {
    const auto f = fields_of({{0, uint32, 1}, {1, uint8}}, {std::string("\x05"), 77.0});
    EXPECT_FALSE(fit::number(f[0]));
    EXPECT_EQ(fit::number(f[1]), 77.0);
}

TEST(FitProtocol, ABaseTypeThatIsNotKnownIsPassedOver) {
    const auto f = fields_of({{0, uint8}, {1, uint8}, {2, uint8}, {3, 0x95, 3}, {4, uint8}}, {1.0, 2.0, 3.0, std::string("xyz"), 5.0});
    ASSERT_EQ(f.size(), 5u);
    EXPECT_FALSE(fit::number(f[3]));
    EXPECT_EQ(fit::number(f[4]), 5.0);
}

TEST(FitProtocol, CompressedTimesGoOnFromTheLastTimeAndRollOverEvery32Seconds) {
    FitWriter w;
    w.define(0, 20, {{253, uint32}, {13, sint8}});
    w.define(1, 20, {{13, sint8}});
    w.data(0, {double{fit_start_s}, 1.0});
    std::vector<std::uint32_t> expected{fit_start_s};
    std::uint32_t t = fit_start_s;
    for (const std::uint32_t step : {1u, 5u, 30u, 31u, 0u, 20u, 31u}) {
        t += step;
        expected.push_back(t);
        w.compressed(1, t, {2.0});
    }
    std::vector<std::uint32_t> got;
    const std::string bytes = w.section();
    fit::decode(bytes, [&](const fit::Message& m) { got.push_back(m.time_s.value_or(0)); });
    EXPECT_EQ(got, expected);
}

TEST(FitProtocol, ACompressedTimeWithNoneBeforeItIsNotKnown) {
    FitWriter w;
    w.define(1, 20, {{13, sint8}});
    w.compressed(1, 7, {2.0});
    const std::string bytes = w.section();
    bool timed = true;
    fit::decode(bytes, [&](const fit::Message& m) { timed = m.time_s.has_value(); });
    EXPECT_FALSE(timed);
}

TEST(FitProtocol, ALocalTypeCanBeDefinedAnew) {
    FitWriter w;
    w.define(0, 20, {{253, uint32}, {13, sint8}});
    w.data(0, {double{fit_start_s}, 11.0});
    w.define(0, 20, {{13, sint8}, {253, uint32}, {7, uint16}, {4, uint8}});
    w.data(0, {12.0, fit_start_s + 1.0, 250.0, 87.0});
    const auto t = read(w.section());
    EXPECT_EQ(t.temperature_degC, (std::vector<double>{11, 12}));
    EXPECT_EQ(t.power_W[1], 250);
    EXPECT_TRUE(std::isnan(t.cadence_rpm[0]));
    EXPECT_EQ(t.cadence_rpm[1], 87);
}

// ---- rides -----------------------------------------------------------------------------------------------------------------

TEST(Fit, ReadsAWholeRideInBothByteOrdersAndWithBothHeaders) {
    const auto ride = made_ride(500);
    for (const auto endian : {Endian::little, Endian::big})
        for (const std::size_t header : {12u, 14u, 20u}) {
            const auto t = read(as_fit(ride, endian, header), "some/folder/ride.fit");
            ASSERT_EQ(t.size(), 500u);
            EXPECT_TRUE(t.faults.empty()) << faults_text(t);
            EXPECT_EQ(t.file, "ride.fit");
            EXPECT_EQ(t.start_unix_s.value(), 1777627800.0);
            EXPECT_EQ(broken_promise(t), "");
            for (std::size_t i = 0; i < ride.size(); ++i) {
                // Half a unit of the integer that was written.
                ASSERT_EQ(t.t_s[i], ride[i].t_s);
                ASSERT_NEAR(t.latitude_deg[i], ride[i].latitude_deg, 90 / 2147483648.0);
                ASSERT_NEAR(t.longitude_deg[i], ride[i].longitude_deg, 90 / 2147483648.0);
                ASSERT_NEAR(t.altitude_m[i], ride[i].altitude_m, 0.1001);
                ASSERT_NEAR(t.distance_m[i], ride[i].distance_m, 0.00501);
                ASSERT_NEAR(t.speed_mps[i], ride[i].speed_mps, 0.000501);
                ASSERT_EQ(t.temperature_degC[i], 12);
            }
        }
}

TEST(Fit, TheFinerFieldCountsAndTheCoarseOneFillsIn) {
    FitWriter w;
    w.define(0, 20, {{253, uint32}, {2, uint16}, {78, uint32}, {6, uint16}, {73, uint32}});
    w.data(0, {double{fit_start_s}, 3000.0, 3001.0, 5000.0, 5001.0});
    w.data(0, {fit_start_s + 1.0, 3000.0, 4294967295.0, 5000.0, 4294967295.0});
    w.data(0, {fit_start_s + 2.0, 65535.0, 3002.0, 65535.0, 5002.0});
    w.data(0, {fit_start_s + 3.0, 65535.0, 4294967295.0, 65535.0, 4294967295.0});
    const auto t = read(w.section());
    EXPECT_DOUBLE_EQ(t.altitude_m[0], 3001 / 5.0 - 500);
    EXPECT_DOUBLE_EQ(t.altitude_m[1], 3000 / 5.0 - 500);
    EXPECT_DOUBLE_EQ(t.altitude_m[2], 3002 / 5.0 - 500);
    EXPECT_TRUE(std::isnan(t.altitude_m[3]));
    EXPECT_EQ(t.speed_mps[0], 5.001);
    EXPECT_EQ(t.speed_mps[1], 5.0);
    EXPECT_EQ(t.speed_mps[2], 5.002);
    EXPECT_TRUE(std::isnan(t.speed_mps[3]));
}

TEST(Fit, SpeedAndDistanceInOneFieldAreTakenApartAndTheDistanceAddedUp) {
    FitWriter w;
    w.define(0, 20, {{253, uint32}, {8, byte, 3}});
    // 12 bits of 0.01 m/s, then 12 bits of 1/16 m.
    const auto packed = [](unsigned speed, unsigned distance) {
        return std::string{static_cast<char>(speed & 0xFF), static_cast<char>((speed >> 8 & 15) | (distance & 15) << 4), static_cast<char>(distance >> 4 & 0xFF)};
    };
    for (unsigned i = 0; i < 100; ++i) w.data(0, {fit_start_s + double{1.0 * i}, packed(725, (16 + 116 * i) & 0xFFF)});
    w.data(0, {fit_start_s + 100.0, std::string("\xff\xff\xff")});
    const auto t = read(w.section());
    ASSERT_EQ(t.size(), 101u);
    for (std::size_t i = 0; i < 100; ++i) {
        EXPECT_EQ(t.speed_mps[i], 7.25);
        EXPECT_EQ(t.distance_m[i], 1 + 7.25 * static_cast<double>(i));   // through two roll-overs at 256 m
    }
    EXPECT_TRUE(std::isnan(t.speed_mps[100]));
}

TEST(Fit, PowerOfADeveloperFieldCountsOnlyWithoutANativeOne) {
    const auto ride_with = [](bool native, bool says_native) {
        FitWriter w;
        w.define(1, 206, {{0, uint8}, {1, uint8}, {2, uint8}, {3, string, 16}, {8, string, 8}, {14, uint16}, {15, uint8}});
        w.data(1, {0.0, 4.0, double{uint16}, std::string(says_native ? "W pedals" : "Power"), std::string("watts"), says_native ? 20.0 : 65535.0, says_native ? 7.0 : 255.0});
        w.data(1, {0.0, 5.0, double{uint16}, std::string("Heart"), std::string("bpm"), 65535.0, 255.0});
        w.define(0, 20, {{253, uint32}, {13, sint8}, {7, uint16}}, {{5, 0, 2}, {4, 0, 2}});
        for (int i = 0; i < 5; ++i) w.data(0, {fit_start_s + 1.0 * i, 10.0, native ? 111.0 : 65535.0, 60.0 + i, 220.0 + i});
        return read(w.section());
    };
    for (const bool says_native : {true, false}) {
        EXPECT_EQ(ride_with(false, says_native).power_W, (std::vector<double>{220, 221, 222, 223, 224}));
        EXPECT_EQ(ride_with(true, says_native).power_W, (std::vector<double>{111, 111, 111, 111, 111}));
    }
}

TEST(Fit, ADeveloperFieldIsScaledAsItsDescriptionSaysAndInItsByteOrder) {
    FitWriter w(Endian::big);
    w.define(1, 206, {{0, uint8}, {1, uint8}, {2, uint8}, {3, string, 8}, {6, uint8}, {7, sint8}, {8, string, 8}, {14, uint16}, {15, uint8}});
    w.data(1, {0.0, 4.0, double{uint16}, std::string("x"), 10.0, 5.0, std::string("W"), 20.0, 7.0});
    w.define(0, 20, {{253, uint32}, {13, sint8}}, {{4, 0, 2}});
    w.data(0, {double{fit_start_s}, 10.0, 2050.0});
    w.data(0, {fit_start_s + 1.0, 10.0, 2150.0});
    EXPECT_EQ(read(w.section()).power_W, (std::vector<double>{200, 210}));
}

TEST(Fit, ADeveloperFieldWithoutADescriptionShiftsNothing) {
    FitWriter w;
    w.define(0, 20, {{253, uint32}, {13, sint8}}, {{4, 0, 3}});
    w.data(0, {double{fit_start_s}, 10.0, std::string("abc")});
    w.data(0, {fit_start_s + 1.0, 11.0, std::string("def")});
    const auto t = read(w.section());
    EXPECT_EQ(t.temperature_degC, (std::vector<double>{10, 11}));
    EXPECT_TRUE(t.power_W.empty());
}

TEST(Fit, AStoppedTimerStartsANewSegmentAtTheFirstRecordAfterItsStart) {
    const auto ride = made_ride(200);
    FitWriter w;
    w.define(0, 20, fit_ride_fields());
    timer_event(w, 0, 0);
    for (std::size_t i = 0; i < 100; ++i) w.data(0, fit_ride_values(ride[i]));
    timer_event(w, 99, 4);
    timer_event(w, 120, 0);
    for (std::size_t i = 120; i < 200; ++i) w.data(0, fit_ride_values(ride[i]));
    timer_event(w, 199, 9);
    const auto t = read(w.section());
    ASSERT_EQ(t.size(), 180u);
    for (std::size_t i = 0; i < t.size(); ++i) EXPECT_EQ(t.break_before[i], i == 100) << i;
}

TEST(Fit, EventsOfTheTimerCountByTheirTimeNotByTheirPlaceInTheFile) {
    const auto ride = made_ride(200);
    FitWriter w;
    timer_event(w, 120, 0);
    timer_event(w, 0, 0);
    timer_event(w, 99, 1);
    w.define(0, 20, fit_ride_fields());
    for (std::size_t i = 0; i < 200; ++i)
        if (i < 100 || i >= 120) w.data(0, fit_ride_values(ride[i]));
    const auto t = read(w.section());
    EXPECT_EQ(t.break_before[100], 1);
    EXPECT_EQ(std::count(t.break_before.begin(), t.break_before.end(), 1), 1);
}

TEST(Fit, ChainedSectionsAreOneRideInSegments) {
    const auto ride = made_ride(300);
    const std::vector<MadeRecord> a(ride.begin(), ride.begin() + 150), b(ride.begin() + 155, ride.end());
    const auto t = read(as_fit(a) + as_fit(b, Endian::big, 12));
    ASSERT_EQ(t.size(), 295u);
    EXPECT_TRUE(t.faults.empty()) << faults_text(t);
    EXPECT_EQ(t.break_before[150], 1);
}

TEST(Fit, ATimeSinceSwitchingOnIsTimeWithoutADate) {
    FitWriter w;
    w.define(0, 20, {{253, uint32}, {6, uint16}});
    for (int i = 0; i < 10; ++i) w.data(0, {1000.0 + i, 5000.0});
    const auto t = read(w.section());
    EXPECT_EQ(t.size(), 10u);
    EXPECT_FALSE(t.start_unix_s.has_value());
}

TEST(Fit, AFileThatIsNoRideIsRefusedInPlainWords) {
    FitWriter w;
    fit_file_id(w, 2);
    EXPECT_NE(error_of(w.section()).find("not the recording of a ride"), std::string::npos);
    EXPECT_NE(error_of(FitWriter().section()).find("0 timed records"), std::string::npos);
}

TEST(Fit, RecordsWithoutATimeAreLeftOutAndCounted) {
    FitWriter w;
    w.define(0, 20, {{253, uint32}, {6, uint16}});
    for (int i = 0; i < 10; ++i) w.data(0, {i == 4 ? 4294967295.0 : fit_start_s + 1.0 * i, 5000.0});
    const auto t = read(w.section());
    EXPECT_EQ(t.size(), 9u);
    EXPECT_EQ(count_of(t, FaultKind::no_time), 1);
}

// ---- salvage ---------------------------------------------------------------------------------------------------------------

TEST(FitSalvage, AFileCutAnywhereKeepsEveryWholeRecordAndNoCutOne) {
    const auto ride = made_ride(60);
    const std::string whole = as_fit(ride);
    const std::size_t record = 22, first = whole.size() - 2 - 60 * record;
    for (std::size_t cut = first + 2 * record; cut < whole.size(); ++cut) {
        const auto t = read(whole.substr(0, cut));
        ASSERT_EQ(t.size(), std::min<std::size_t>(60, (cut - first) / record)) << cut;
        ASSERT_NEAR(t.distance_m.back(), ride[t.size() - 1].distance_m, 0.00501) << cut;
        EXPECT_TRUE(fault_of(t, FaultKind::truncated)) << cut;
        EXPECT_FALSE(fault_of(t, FaultKind::bad_checksum)) << "no checksum is left to be wrong; cut at " << cut;
    }
}

TEST(FitSalvage, AWrongChecksumIsSaidAndNothingIsLost) {
    std::string bytes = as_fit(made_ride(100));
    bytes.back() = static_cast<char>(bytes.back() ^ 1);
    const auto t = read(bytes);
    EXPECT_EQ(t.size(), 100u);
    EXPECT_EQ(count_of(t, FaultKind::bad_checksum), 1);
    EXPECT_EQ(t.faults.size(), 1u) << faults_text(t);
}

TEST(FitSalvage, AWrongChecksumOfTheHeaderIsSaidAndZeroIsNone) {
    FitWriter w;
    w.define(0, 20, fit_ride_fields());
    for (const auto& r : made_ride(50)) w.data(0, fit_ride_values(r));
    for (const char head : {'\x01', '\x00'}) {
        std::string bytes = w.section();
        bytes[12] = bytes[13] = head;
        bytes.resize(bytes.size() - 2);
        const auto sum = FitWriter::crc(bytes);
        bytes += {static_cast<char>(sum & 0xFF), static_cast<char>(sum >> 8)};
        const auto t = read(bytes);
        EXPECT_EQ(t.size(), 50u);
        EXPECT_EQ(count_of(t, FaultKind::bad_checksum), head);
    }
}

TEST(FitSalvage, AWrongAnnouncedSizeCostsNoRecord) {
    FitWriter w;
    w.define(0, 20, fit_ride_fields());
    const auto ride = made_ride(80);
    for (const auto& r : ride) w.data(0, fit_ride_values(r));
    const std::size_t size = w.raw().size();
    for (const std::size_t announced : {std::size_t{0}, std::size_t{1}, size / 2, size - 1, size + 1, size + 5, 10 * size, std::size_t{0xFFFFFFFF}}) {
        const auto t = read(w.section(announced));
        ASSERT_EQ(t.size(), 80u) << announced;
        EXPECT_NEAR(t.distance_m.back(), ride.back().distance_m, 0.00501);
        EXPECT_TRUE(fault_of(t, FaultKind::truncated) || fault_of(t, FaultKind::bad_checksum)) << announced << faults_text(t);
    }
}

TEST(FitSalvage, ATooLargeSizeBeforeAnotherSectionDoesNotHideIt) {
    const auto ride = made_ride(100);
    FitWriter w;
    w.define(0, 20, fit_ride_fields());
    for (std::size_t i = 0; i < 50; ++i) w.data(0, fit_ride_values(ride[i]));
    const auto t = read(w.section(w.raw().size() + 300) + as_fit(std::vector<MadeRecord>(ride.begin() + 50, ride.end())));
    EXPECT_EQ(t.size(), 100u) << faults_text(t);
}

TEST(FitSalvage, ALostByteCostsTheRecordsAtThatPlaceOnly) {
    const auto ride = made_ride(400);
    const std::string whole = as_fit(ride);
    const std::size_t record = 22, first = whole.size() - 2 - 400 * record;
    for (std::size_t offset = 0; offset < 2 * record; ++offset) {
        std::string bytes = whole;
        bytes.erase(first + 200 * record + offset, 1);
        const auto t = read(bytes);
        ASSERT_GE(t.size(), 396u) << offset << "\n" << faults_text(t);
        ASSERT_EQ(broken_promise(t), "");
        EXPECT_EQ(t.t_s.back(), 399);
        EXPECT_TRUE(fault_of(t, FaultKind::truncated) || fault_of(t, FaultKind::bad_checksum));
        // What was kept is as it was written.
        for (std::size_t i = 0; i < t.size(); ++i) {
            const auto& made = ride[static_cast<std::size_t>(t.t_s[i])];
            if (!std::isnan(t.altitude_m[i])) {
                ASSERT_NEAR(t.altitude_m[i], made.altitude_m, 0.1001) << offset << " " << i;
            }
            if (!std::isnan(t.distance_m[i])) {
                ASSERT_NEAR(t.distance_m[i], made.distance_m, 0.00501) << offset << " " << i;
            }
        }
    }
}

TEST(FitSalvage, ABlockOfDamagedBytesCostsTheRecordsInItOnly) {
    const auto ride = made_ride(400);
    const std::string whole = as_fit(ride);
    const std::size_t record = 22, first = whole.size() - 2 - 400 * record;
    for (const int what : {0x00, 0xFF, 0x5A}) {
        std::string bytes = whole;
        for (std::size_t i = 0; i < 512; ++i) bytes[first + 200 * record + i] = static_cast<char>(what);
        const auto t = read(bytes);
        EXPECT_GE(t.size(), 400u - 512 / record - 4) << what << faults_text(t);
        EXPECT_EQ(t.t_s.back(), 399) << what;
        EXPECT_EQ(broken_promise(t), "");
    }
}

TEST(FitSalvage, DataOfALocalTypeThatNothingDefinesIsSaidAndPassedOver) {
    const auto ride = made_ride(100);
    FitWriter w;
    w.define(0, 20, fit_ride_fields());
    for (std::size_t i = 0; i < 100; ++i) {
        if (i == 50) w.raw() += std::string("\x0b") + "0123456789";
        w.data(0, fit_ride_values(ride[i]));
    }
    const auto t = read(w.section());
    EXPECT_GE(t.size(), 99u);
    ASSERT_TRUE(fault_of(t, FaultKind::truncated));
    EXPECT_NE(fault_of(t, FaultKind::truncated)->text.find("local type 11, which nothing defines"), std::string::npos) << faults_text(t);
}

TEST(FitSalvage, ASecondSectionThatIsBrokenLeavesTheFirstWhole) {
    const std::string a = as_fit(made_ride(100));
    std::string b = as_fit(made_ride(300));
    b[9] = 'G';
    for (const std::string& rest : {b, b.substr(0, 8), std::string("\x0e\x20"), as_fit(made_ride(300)).substr(0, 20), std::string(500, '\0')}) {
        const auto t = read(a + rest);
        EXPECT_EQ(t.size(), 100u);
        EXPECT_TRUE(fault_of(t, FaultKind::truncated)) << faults_text(t);
    }
}

TEST(FitSalvage, AStampDecadesAheadIsLeftOut) {
    const auto ride = made_ride(300);
    FitWriter w;
    w.define(0, 20, fit_ride_fields());
    for (std::size_t i = 0; i < 300; ++i) {
        auto values = fit_ride_values(ride[i]);
        if (i == 150) values[0] = fit_start_s + 64 * 365.25 * 86400;
        w.data(0, values);
    }
    const auto t = read(w.section());
    EXPECT_EQ(t.size(), 299u);
    EXPECT_EQ(t.t_s.back(), 299);
    EXPECT_TRUE(fault_of(t, FaultKind::clock_jump));
}

TEST(FitSalvage, AClockThatIsSetDuringTheRideIsNoDamage) {
    auto ride = made_ride(300);
    FitWriter w;
    w.define(0, 20, fit_ride_fields());
    for (std::size_t i = 0; i < 300; ++i) {
        auto values = fit_ride_values(ride[i]);
        if (i < 100) std::get<double>(values[0]) -= 500 * 86400.0;
        w.data(0, values);
    }
    std::string bytes = w.section();
    for (const bool bad_sum : {false, true}) {
        if (bad_sum) bytes.back() = static_cast<char>(bytes.back() ^ 1);
        const auto t = read(bytes);
        EXPECT_EQ(t.size(), 300u);
        EXPECT_TRUE(fault_of(t, FaultKind::clock_jump));
        EXPECT_FALSE(fault_of(t, FaultKind::truncated)) << faults_text(t);
    }
}

TEST(FitSalvage, AFileWhoseBeginningIsDamagedIsReadFromTheNextSection) {
    const auto t = read(std::string(100, '\x01') + std::string(30, '\0') + as_fit(made_ride(100)));
    EXPECT_EQ(t.size(), 100u);
    EXPECT_TRUE(fault_of(t, FaultKind::truncated));
}

TEST(FitSalvage, CostlyNonsenseIsReadInReasonableTime) {
    // Each byte could begin a message; each message a wide definition; a file of headers.
    std::vector<std::string> files;
    FitWriter w;
    for (int local = 0; local < 15; ++local) w.define(local, 20, {{253, uint32}, {13, sint8}, {0, uint8, 255}});
    w.raw() += std::string(std::size_t{2} << 20, '\x0f');
    files.push_back(w.section(1));
    std::string defs;
    while (defs.size() < std::size_t{2} << 20) {
        defs += std::string("\x40\0\0\x14\0\xff", 6);
        for (int i = 0; i < 255; ++i) defs += std::string("\xfd\x04\x86", 3);
        defs += '\x0b';
    }
    FitWriter v;
    v.define(1, 20, {{253, uint32}});
    v.raw() += defs;
    files.push_back(v.section(7));
    std::string heads;
    while (heads.size() < std::size_t{2} << 20) heads += std::string("\x0c\x10\0\0\xff\xff\xff\x7f.FIT\x01", 13);
    files.push_back(heads);
    FitWriter c;
    c.define(0, 20, {{253, uint32}, {13, sint8}});
    c.define(1, 20, {});
    c.data(0, {double{fit_start_s}, 3.0});
    c.raw() += std::string(std::size_t{2} << 20, '\xa1');
    files.push_back(c.section());
    for (std::size_t i = 0; i < files.size(); ++i) {
        const auto start = std::chrono::steady_clock::now();
        (void)read_ride(files[i], "nonsense");
        // Under a second each where this was written; a quadratic slip would take hours.
        EXPECT_LT(std::chrono::duration<double>(std::chrono::steady_clock::now() - start).count(), 20.0) << i;
    }
}

TEST(Fit, TenHoursAtARecordASecondAreReadWithinSeconds) {
    const std::string bytes = as_fit(made_ride(36000));
    const auto start = std::chrono::steady_clock::now();
    const auto t = read(bytes);
    EXPECT_LT(std::chrono::duration<double>(std::chrono::steady_clock::now() - start).count(), 5.0);
    EXPECT_EQ(t.size(), 36000u);
}

// ---- real recordings: at hand only beside the project -----------------------------------------------------------------------

namespace {

const std::string rides = std::string(BW_ROOT) + "/../shared/rides/";

struct Expected {
    const char* file;
    std::size_t decoded;                  // timed records before the cleaning
    std::size_t kept;                     // records of the track
    double duration_s, distance_m;        // last of each; NaN: no such channel
    std::map<FaultKind, int> faults;      // all of them, with their counts
};

}  // namespace

TEST(RealFit, EveryFileGivesTheRecordsAndFaultsThatItHolds) {
    if (!std::filesystem::exists(rides)) GTEST_SKIP() << "the real recordings are not there";
    using enum FaultKind;
    // Record counts: also by tests/judge_fit. Duration and distance: read off the files' own summaries where they have them.
    const std::vector<Expected> all{
        {"good/bikepark-six-runs.fit", 14456, 14456, 14455, 36286.83, {}},
        {"good/rolling-altitude-ripple-power.fit", 3229, 3229, 3289, 24781.5, {{pause, 2}}},
        {"good/rolling-pressure-dips-power.fit", 4700, 4700, 4699, 41337.5, {}},
        {"good/short-steep-hills-power.fit", 8357, 8357, 8356, 57567.2, {}},
        {"good/slow-978m-descent.fit", 11272, 11272, 12718, 32143.9, {{no_position, 967}, {pause, 5}}},
        {"good/trail-jumps.fit", 7251, 7251, 7250, 11138.0, {}},
        {"odd/fit-bad-crc-small.fit", 14, 14, 13, 5.73, {{bad_checksum, 1}}},
        // Eight records repeat the time of the one before, at pauses: a track has each time once. The power is 0 throughout.
        {"odd/fit-bad-crc-truncated-113km.fit", 14391, 14383, 16723, 113550.9, {{truncated, 1}, {bad_checksum, 1}, {duplicate_time, 8}, {other, 1}, {pause, 6}}},
        {"odd/fit-chained-corrupt-header.fit", 14, 14, 13, 5.73, {{truncated, 1}}},
        {"odd/fit-chained-header-no-data.fit", 14, 14, 13, 5.73, {{truncated, 1}}},
        // The second section holds the first once more.
        {"odd/fit-chained-second-bad-crc.fit", 28, 14, 13, 5.73, {{bad_checksum, 1}, {clock_jump, 1}, {duplicate_time, 14}}},
        // 755 messages, one of them with nothing but a heart rate; distance as in the file's own summary, 10,248.67 m.
        {"odd/fit-compressed-speed-distance.fit", 754, 754, 3875, 10248.67, {{no_altitude, 754}, {no_position, 754}, {pause, 1}}},
        {"odd/fit-multiple-headers.fit", 1773, 1773, 9491, 52533.7, {{no_altitude, 349}, {no_position, 311}}},
        // Bytes are missing at 17 places and at the end; two messages a second, one with the place and one with the distance.
        {"odd/fit-phone-app-broken.fit", 5346, 2670, 3558, 11274.0, {{truncated, 18}, {clock_jump, 1}, {duplicate_time, 2660}}},
        {"odd/fit-unexpected-eof.fit", 14, 14, 13, 5.73, {{truncated, 1}}},
    };
    std::size_t files = 0;
    for (const char* folder : {"good", "odd"})
        for (const auto& e : std::filesystem::directory_iterator(rides + folder)) files += e.path().extension() == ".fit";
    EXPECT_EQ(files, all.size()) << "a file without an expectation";
    for (const auto& x : all) {
        const auto bytes = read_file(rides + x.file);
        ASSERT_TRUE(bytes) << x.file;
        EXPECT_EQ(reading_of(*bytes).records.size(), x.decoded) << x.file;
        const auto t = read(*bytes, x.file);
        EXPECT_EQ(t.size(), x.kept) << x.file;
        EXPECT_EQ(t.t_s.back(), x.duration_s) << x.file;
        EXPECT_NEAR(t.distance_m.back(), x.distance_m, 0.06) << x.file;
        EXPECT_EQ(broken_promise(t), "") << x.file;
        std::map<FaultKind, int> faults;
        for (const auto& f : t.faults) faults[f.kind] += f.count;
        EXPECT_EQ(faults, x.faults) << x.file << "\n" << faults_text(t);
    }
}

TEST(RealFit, DamageCostsFewRecords) {
    if (!std::filesystem::exists(rides)) GTEST_SKIP() << "the real recordings are not there";
    for (const auto& e : std::filesystem::directory_iterator(rides + "good")) {
        if (e.path().extension() != ".fit") continue;
        const auto bytes = read_file(e.path().string());
        ASSERT_TRUE(bytes);
        const auto whole = reading_of(*bytes).records.size();
        double lost = 0;
        constexpr std::uint64_t trials = 45;
        for (std::uint64_t k = 0; k < trials; ++k) {
            std::string b = *bytes;
            // Beyond the beginning, where most of what follows is defined: nothing can be read without its definition.
            const std::size_t at = b.size() / 20 + static_cast<std::size_t>(mix(20260502, k, 0, 0) % (b.size() - b.size() / 20));
            const std::size_t n = std::min<std::size_t>(1 + mix(20260502, k, 1, 0) % 200, b.size() - at);
            if (k % 3 == 0) b.erase(at, 1);
            else if (k % 3 == 1) b.erase(at, n);
            else
                for (std::size_t i = 0; i < n; ++i) b[at + i] = static_cast<char>(mix(20260502, k, 2, i));
            const auto r = readers::read_fit(b, "damaged");
            ASSERT_TRUE(r) << e.path() << ", trial " << k;
            // A damaged stamp may stand beside: more records than there were is possible by one or two.
            lost += static_cast<double>(whole) - static_cast<double>(r->records.size());
            EXPECT_FALSE(r->faults.empty());
        }
        std::printf("%s: %.1f of %zu records lost on average\n", e.path().filename().c_str(), lost / trials, whole);
        // 1 to 13 where this was written; the damage itself takes up to 10 records.
        EXPECT_LT(lost / trials, 25) << e.path();
    }
}

TEST(RealFit, TheFitAndTheTwoGpxOfOneRideAgree) {
    if (!std::filesystem::exists(rides)) GTEST_SKIP() << "the real recordings are not there";
    const auto fit_bytes = read_file(rides + "good/short-steep-hills-power.fit"), gpx_bytes = read_file(rides + "good/short-steep-hills-b-power.gpx");
    ASSERT_TRUE(fit_bytes && gpx_bytes);
    const auto a = read(*fit_bytes), b = read(*gpx_bytes);
    ASSERT_EQ(a.t_s, b.t_s);
    EXPECT_EQ(a.start_unix_s, b.start_unix_s);
    EXPECT_EQ(a.power_W, b.power_W);
    EXPECT_EQ(a.temperature_degC, b.temperature_degC);
    for (std::size_t i = 0; i < a.size(); ++i) {
        // The GPX is rounded to 1e-6 or 1e-7 degrees (0.08 m) and to 0.1 m of height.
        ASSERT_LT(ground_distance_m(a.latitude_deg[i], a.longitude_deg[i], b.latitude_deg[i], b.longitude_deg[i]), 0.08) << i;
        ASSERT_NEAR(a.altitude_m[i], b.altitude_m[i], 0.1001) << i;
    }
}
