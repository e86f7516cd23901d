// SPDX-License-Identifier: Apache-2.0
// FIT records field by field against an outside decoder (records.mjs), before our cleaning.
#include <fmt/format.h>
#include <gtest/gtest.h>

#include <array>
#include <cmath>
#include <cstdio>
#include <cstdlib>
#include <filesystem>
#include <fstream>
#include <limits>
#include <sstream>

#include "bw_paths.hpp"
#include "../../src/ride/readers.hpp"
#include "../ride/fit_writer.hpp"
#include "../ride/read_samples.hpp"
#include "base/sampling.hpp"

using namespace bw;
using namespace bw::ride;
using namespace bw::ride::samples;
using namespace bw::ride::samples::fit_type;
namespace rd = bw::ride::readers;

namespace {

constexpr double nan_ = std::numeric_limits<double>::quiet_NaN();
const std::string rides = std::string(BW_ROOT) + "/../shared/rides/";

struct Row {
    double unix_s = nan_;
    std::array<double, rd::channel_count> value{};
};

//! What the judge reads in a file.
std::vector<Row> judged(const std::string& path) {
    std::string text;
    const std::string call = fmt::format("node '{}/tests/judge_fit/records.mjs' '{}'", BW_ROOT, path);
    std::FILE* pipe = popen(call.c_str(), "r");
    EXPECT_TRUE(pipe);
    if (!pipe) return {};
    std::array<char, 65536> piece;
    for (std::size_t n; (n = std::fread(piece.data(), 1, piece.size(), pipe)) > 0;) text.append(piece.data(), n);
    EXPECT_EQ(pclose(pipe), 0) << "the judge refused " << path << "; is node there, and did `tests/judge_fit/packages` run?";
    std::istringstream in(text);
    std::string line;
    std::getline(in, line);
    std::getline(in, line);
    EXPECT_EQ(line, "timestamp,position_lat,position_long,altitude,enhanced_altitude,distance,speed,enhanced_speed,power,temperature,cadence");
    std::vector<Row> rows;
    while (std::getline(in, line)) {
        std::vector<double> cells;
        for (std::size_t from = 0; from <= line.size();) {
            const auto to = std::min(line.find(',', from), line.size());
            cells.push_back(to == from ? nan_ : std::strtod(line.c_str() + from, nullptr));
            from = to + 1;
        }
        EXPECT_EQ(cells.size(), 11u) << line;
        if (cells.size() != 11) return rows;
        const auto finer = [&](std::size_t fine, std::size_t coarse) { return std::isnan(cells[fine]) ? cells[coarse] : cells[fine]; };
        rows.push_back({cells[0], {cells[1], cells[2], finer(4, 3), cells[5], finer(7, 6), cells[8], cells[9], cells[10]}});
    }
    return rows;
}

rd::Reading ours(const std::string& bytes) {
    auto r = rd::read_fit(bytes, "judged");
    EXPECT_TRUE(r) << (r ? "" : r.error().text);
    return r ? std::move(*r) : rd::Reading{};
}

std::string written(const std::string& name, const std::string& bytes) {
    const std::string folder = std::string(BW_BUILD) + "/tests/judge_fit/files";
    std::filesystem::create_directories(folder);
    const std::string path = folder + "/" + name + ".fit";
    std::ofstream(path, std::ios::binary) << bytes;
    return path;
}

const char* const channel_names[] = {"latitude", "longitude", "altitude", "distance", "speed", "power", "temperature", "cadence"};

//! Compares every record and channel but those in `silent`; returns how many values were compared.
std::size_t compare(const rd::Reading& a, const std::vector<Row>& judge, const std::string& what, const std::vector<rd::Channel>& silent = {}) {
    std::vector<Row> b;
    for (const auto& row : judge)
        if (!std::isnan(row.unix_s)) b.push_back(row);
    EXPECT_EQ(a.records.size(), b.size()) << what;
    if (a.records.size() != b.size()) return 0;
    const double zero = a.zero_unix_s.value_or(631065600);   // a file without dates: the judge adds the zero all the same
    std::size_t compared = 0;
    for (std::size_t i = 0; i < b.size(); ++i) {
        EXPECT_EQ(a.records[i].time_s + zero, b[i].unix_s) << what << ", record " << i;
        for (std::size_t c = 0; c < rd::channel_count; ++c) {
            if (std::find(silent.begin(), silent.end(), static_cast<rd::Channel>(c)) != silent.end()) continue;
            const double x = a.records[i].value[c], y = b[i].value[c];
            EXPECT_EQ(std::isnan(x), std::isnan(y)) << what << ", record " << i << ", " << channel_names[c] << ": ours " << x << ", judge " << y;
            if (!std::isnan(x)) {
                // Both divide the same integer by the same scale: rounding of doubles only.
                EXPECT_NEAR(x, y, 1e-9 * std::max(1.0, std::abs(y))) << what << ", record " << i << ", " << channel_names[c];
                ++compared;
            }
            if (::testing::Test::HasFailure()) return compared;
        }
    }
    return compared;
}

//! Any whole number from 0 to below, the same every time.
double any(std::size_t what, std::size_t i, double below) { return std::floor(static_cast<double>(mix(20260501, what, i, 0) >> 11) * 0x1p-53 * below); }

}  // namespace

TEST(FitJudge, AgreesOnEveryRecordOfTheRealFiles) {
    if (!std::filesystem::exists(rides)) GTEST_SKIP() << "the real recordings are not there";
    std::size_t files = 0, total = 0;
    for (const auto& e : std::filesystem::directory_iterator(rides + "good")) {
        if (e.path().extension() != ".fit") continue;
        ++files;
        const auto bytes = read_file(e.path().string());
        ASSERT_TRUE(bytes);
        const auto a = ours(*bytes);
        const auto n = compare(a, judged(e.path().string()), e.path().filename().string());
        std::printf("%s: %zu records, %zu values agree\n", e.path().filename().c_str(), a.records.size(), n);
        total += n;
    }
    EXPECT_EQ(files, 6u);
    EXPECT_GT(total, 250000u);
}

TEST(FitJudge, AgreesOnTheOddFilesThatItReads) {
    if (!std::filesystem::exists(rides)) GTEST_SKIP() << "the real recordings are not there";
    // It looks at no checksum when told to force, and reads these whole.
    for (const char* file : {"odd/fit-bad-crc-small.fit", "odd/fit-chained-second-bad-crc.fit", "odd/fit-multiple-headers.fit"}) {
        const auto bytes = read_file(rides + file);
        ASSERT_TRUE(bytes);
        EXPECT_GT(compare(ours(*bytes), judged(rides + file), file), 50u);
    }
}

TEST(FitJudge, AgreesOnTheTimesOfTheCompressedFileAndIsSilentOnItsPackedField) {
    if (!std::filesystem::exists(rides)) GTEST_SKIP() << "the real recordings are not there";
    // The judge gives field 8 (speed and distance in 12 bits each) as raw bytes and takes nothing from it. Our distance is
    // checked against the file's own summary in tests/ride/fit_test.cpp. One message holds no value of ours and is no record.
    const std::string path = rides + "odd/fit-compressed-speed-distance.fit";
    const auto bytes = read_file(path);
    ASSERT_TRUE(bytes);
    const auto a = ours(*bytes);
    const auto b = judged(path);
    EXPECT_EQ(b.size(), 755u);
    std::size_t k = 0;
    for (const auto& row : b)
        if (k < a.records.size() && a.records[k].time_s + 631065600 == row.unix_s) ++k;
    EXPECT_EQ(k, a.records.size()) << "each of our times, in this order, is one of the judge's";
    EXPECT_EQ(a.records.size(), 754u);
}

TEST(FitJudge, AgreesOnSyntheticFilesInBothByteOrdersWithBothHeaders) {
    for (const auto endian : {Endian::little, Endian::big})
        for (const std::size_t header : {12u, 14u}) {
            FitWriter w(endian, header);
            fit_file_id(w);
            w.define(0, 20, {{253, uint32}, {0, sint32}, {1, sint32}, {2, uint16}, {78, uint32}, {5, uint32}, {6, uint16}, {73, uint32}, {7, uint16}, {13, sint8}, {3, uint8}});
            w.define(3, 20, {{13, sint8}, {6, uint16}, {253, uint32}, {39, uint16}, {2, uint16}});
            double t = fit_start_s;
            for (std::size_t i = 0; i < 400; ++i) {
                t += any(0, i, 4);
                const auto sometimes = [&](std::size_t what, double v, double invalid) { return any(what + 100, i, 8) < 1 ? invalid : v; };
                if (i % 7 == 3) {
                    w.data(3, {any(1, i, 100) - 50, any(2, i, 65535), t, 77.0, any(3, i, 65535)});
                    continue;
                }
                // Latitudes to the poles, longitudes all round, whole ranges of the rest.
                w.data(0, {t, sometimes(4, any(4, i, 2147483647) - 1073741823, 2147483647), sometimes(5, any(5, i, 4294967290) - 2147483645, 2147483647), sometimes(6, any(6, i, 65535), 65535),
                           sometimes(7, any(7, i, 4000000000), 4294967295), sometimes(8, any(8, i, 4294967295), 4294967295), sometimes(9, any(9, i, 65535), 65535),
                           sometimes(10, any(10, i, 4294967295), 4294967295), sometimes(11, any(11, i, 65535), 65535), sometimes(12, any(12, i, 254) - 127, 127), 120.0});
            }
            const auto bytes = w.section();
            const auto name = fmt::format("orders-{}-{}", endian == Endian::big ? "big" : "little", header);
            EXPECT_GT(compare(ours(bytes), judged(written(name, bytes)), name), 2000u);
        }
}

TEST(FitJudge, AgreesOnCompressedTimes) {
    for (const auto endian : {Endian::little, Endian::big}) {
        FitWriter w(endian);
        fit_file_id(w);
        w.define(0, 20, {{253, uint32}, {6, uint16}});
        w.define(1, 20, {{6, uint16}, {5, uint32}});
        w.define(2, 20, {{13, sint8}});
        std::uint32_t t = fit_start_s;
        w.data(0, {double(t), 1000.0});
        for (std::size_t i = 0; i < 500; ++i) {
            t += 1 + static_cast<std::uint32_t>(any(20, i, 31));
            if (i % 50 == 49) {
                t += 1000;
                w.data(0, {double(t), 1234.0});
            } else if (i % 3 == 0) {
                w.compressed(2, t, {any(21, i, 40)});
            } else {
                w.compressed(1, t, {any(22, i, 20000), any(23, i, 1e6)});
            }
        }
        const auto bytes = w.section();
        const auto name = fmt::format("compressed-{}", endian == Endian::big ? "big" : "little");
        EXPECT_GT(compare(ours(bytes), judged(written(name, bytes)), name), 600u);
    }
}

TEST(FitJudge, AgreesOnDeveloperFields) {
    for (const auto endian : {Endian::little, Endian::big}) {
        FitWriter w(endian);
        fit_file_id(w);
        w.define(1, 207, {{3, uint8}, {2, uint16}});
        w.data(1, {0.0, 255.0});
        w.define(1, 206, {{0, uint8}, {1, uint8}, {2, uint8}, {3, string, 12}, {8, string, 8}, {14, uint16}, {15, uint8}});
        // The judge files a developer field under its name, whatever native field it says to stand for: so it is called "power".
        w.data(1, {0.0, 4.0, double{uint16}, std::string("power"), std::string("watts"), 20.0, 7.0});
        w.data(1, {0.0, 5.0, double{uint8}, std::string("balance"), std::string("percent"), 65535.0, 255.0});
        w.define(0, 20, {{253, uint32}, {6, uint16}, {13, sint8}}, {{5, 0, 1}, {4, 0, 2}});
        for (std::size_t i = 0; i < 200; ++i)
            w.data(0, {fit_start_s + double(i), any(30, i, 20000), any(31, i, 30), std::string(1, static_cast<char>(any(32, i, 100))), i % 9 == 5 ? 65535.0 : any(33, i, 900)});
        const auto bytes = w.section();
        const auto name = fmt::format("developer-{}", endian == Endian::big ? "big" : "little");
        EXPECT_GT(compare(ours(bytes), judged(written(name, bytes)), name), 500u);
    }
    // Not compared: native and developer power in one file. The judge lets the one that comes last overwrite the other; we
    // keep the native one (tests/ride/fit_test.cpp), since the developer's field is a stand-in by its own description.
}

TEST(FitJudge, AgreesOnChainedSections) {
    const auto ride = made_ride(300);
    const std::vector<MadeRecord> a(ride.begin(), ride.begin() + 100), b(ride.begin() + 100, ride.begin() + 200), c(ride.begin() + 200, ride.end());
    const auto bytes = as_fit(a) + as_fit(b, Endian::big, 12) + as_fit(c, Endian::little, 12);
    EXPECT_EQ(compare(ours(bytes), judged(written("chained", bytes)), "chained"), 300u * 6);
}

TEST(FitJudge, AgreesOnArraysStringsOddSizesAndMessagesThatAreNoRecords) {
    FitWriter w;
    fit_file_id(w);
    w.define(1, 23, {{253, uint32}, {27, string, 20}, {5, uint32, 1}, {200, uint16, 6}});
    w.define(0, 20, {{253, uint32}, {17, uint8, 4}, {5, uint32}, {201, string, 5}, {6, uint16}, {202, float32}, {203, float64}, {204, sint64}, {205, uint64z}});
    for (std::size_t i = 0; i < 50; ++i) {
        if (i % 5 == 0) w.data(1, {fit_start_s + double(i), std::string("any text"), std::string("\x01"), std::string("abcdef")});
        w.data(0, {fit_start_s + double(i), std::string("\x01\x02\x03\x04"), any(40, i, 1e7), std::string("abc"), any(41, i, 30000), 1.5, 2.5, -7.0, 9.0});
    }
    const auto bytes = w.section();
    EXPECT_EQ(compare(ours(bytes), judged(written("odd-sizes", bytes)), "odd sizes"), 100u);
}

#ifdef BW_MAKE_RIDES
TEST(FitJudge, AgreesOnTheDemosFilesAndTheyAreTheSameRideInEveryFormat) {
    const std::string folder = std::string(BW_BUILD) + "/tests/judge_fit/demo";
    const auto made = [&](const std::string& format, const std::string& style) {
        const auto stem = fmt::format("{}-{}", format, style);
        const auto call = fmt::format("'{}' '{}' --kind city --sensor barometric --seed 9 --channels speed,power,temperature,distance --format {} --name {}{} > /dev/null", BW_MAKE_RIDES, folder, format,
                                      stem, format == "fit" ? " --fit_style " + style : "");
        std::filesystem::create_directories(folder);
        EXPECT_EQ(std::system(call.c_str()), 0) << call;
        return folder + "/" + stem + "." + format;
    };
    const auto track_of = [](const std::string& path) {
        const auto bytes = read_file(path);
        EXPECT_TRUE(bytes) << path;
        return bytes ? read(*bytes, path) : Track{};
    };
    const auto csv = track_of(made("csv", "plain"));
    ASSERT_GT(csv.size(), 1000u);
    for (const auto& [format, style] : {std::pair{"fit", "plain"}, {"fit", "big_endian"}, {"fit", "short_times"}, {"tcx", "plain"}}) {
        const auto path = made(format, style);
        if (std::string_view(format) == "fit") {
            const auto bytes = read_file(path);
            ASSERT_TRUE(bytes);
            EXPECT_GT(compare(ours(*bytes), judged(path), path), 10000u);
        }
        const auto t = track_of(path);
        EXPECT_TRUE(t.faults.empty()) << faults_text(t);
        ASSERT_EQ(t.t_s, csv.t_s) << path;
        EXPECT_EQ(t.start_unix_s.has_value(), true);
        for (std::size_t i = 0; i < t.size(); ++i) {
            // Half a digit of each writing: degrees to 1e-6 (CSV may be finer), speed to 0.01 m/s, distance to 0.1 m.
            ASSERT_NEAR(t.latitude_deg[i], csv.latitude_deg[i], 0.7e-6) << path << " " << i;
            ASSERT_NEAR(t.longitude_deg[i], csv.longitude_deg[i], 0.7e-6) << path << " " << i;
            ASSERT_NEAR(t.altitude_m[i], csv.altitude_m[i], 1e-9) << path << " " << i;   // multiples of 0.2 m in all
            ASSERT_NEAR(t.speed_mps[i], csv.speed_mps[i], 0.0051) << path << " " << i;
            ASSERT_NEAR(t.distance_m[i], csv.distance_m[i], 0.051) << path << " " << i;
            ASSERT_NEAR(t.power_W[i], csv.power_W[i], 0.51) << path << " " << i;
        }
    }
}
#endif
