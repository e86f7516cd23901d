// SPDX-License-Identifier: Apache-2.0
// Planned routes, described rides and tags, through the program.
#include <gtest/gtest.h>

#include <cmath>
#include <map>
#include <nlohmann/json.hpp>
#include <sstream>

#include "bw_paths.hpp"
#include "run.hpp"
#include "schema.hpp"

using namespace bw::e2e;
using nlohmann::json;

namespace {

json answer(std::vector<std::string> words) {
    words.insert(words.begin(), {"answer", "--json"});
    const Outcome o = brakewright(words);
    EXPECT_EQ(o.status, 0) << o.err;
    return o.status == 0 ? json::parse(o.out) : json();
}

double p50(const json& interval) { return interval["p50"].get<double>(); }
double width(const json& i) { return i["p95"].get<double>() / i["p05"].get<double>(); }
double energy(const json& a, std::size_t ride = 0) { return p50(a["rides"][ride]["brake_energy_J"]); }

const std::string trail = demo("bikes/trail.toml"), route = demo("routes/over-ostrel.gpx"), ride = demo("rides/pass-and-back.gpx");

// A straight road down at one slope, without times; a point each 25 m.
std::string straight_route(double length_m, double slope) {
    std::ostringstream out;
    out << "<?xml version=\"1.0\"?>\n<gpx version=\"1.1\" creator=\"test\" xmlns=\"http://www.topografix.com/GPX/1/1\"><rte>\n";
    out.precision(10);
    for (double s = 0; s <= length_m; s += 25) out << "<rtept lat=\"" << -30 + s / 111195 << "\" lon=\"-20\"><ele>" << 900 + slope * std::max(0.0, s - 200) << "</ele></rtept>\n";
    out << "</rte></gpx>\n";
    return out.str();
}

double value_of(const std::string& text, const std::string& key) {
    const std::size_t at = text.find("\n" + key + " =");
    return at == std::string::npos ? std::nan("") : std::stod(text.substr(text.find('=', at) + 1));
}

// A ride of the demo's generator: its truth, and how often it stood, as a rider would count it.
struct Made {
    std::string stem, truth;
    double true_J = 0, distance_m = 0, descent_m = 0, stops_per_km = 0, mass_kg = 0;
};
Made made(const Folder& f, const std::string& kind, int seed) {
    EXPECT_EQ(run(BW_MAKE_RIDES, {f.path("."), "--kind", kind, "--seed", std::to_string(seed), "--truth"}).status, 0);
    Made m;
    m.stem = kind + "-barometric-" + std::to_string(seed);
    m.truth = read(f.path(m.stem + ".truth.toml"));
    m.true_J = value_of(m.truth, "brake_energy_J");
    m.distance_m = value_of(m.truth, "distance_m");
    m.descent_m = value_of(m.truth, "descent_m");
    m.mass_kg = value_of(m.truth, "total_mass_kg");
    std::istringstream rows(read(f.path(m.stem + ".truth.csv")));
    std::string line;
    std::getline(rows, line);
    double before = 0;
    int stands = 0;
    while (std::getline(rows, line)) {
        std::istringstream fields(line);
        std::string field;
        for (int i = 0; i < 4; ++i) std::getline(fields, field, ',');
        const double v = std::stod(field);
        if (before >= 0.3 && v < 0.3) ++stands;
        before = v;
    }
    m.stops_per_km = stands / (m.distance_m / 1000);
    return m;
}

std::string without_times(const std::string& gpx) {
    std::string out;
    for (std::size_t at = 0; at < gpx.size();) {
        const std::size_t from = std::min(gpx.find("<time>", at), gpx.size());
        out.append(gpx, at, from - at);
        at = from < gpx.size() ? gpx.find("</time>", from) + 7 : from;
    }
    return out;
}

struct Kind {
    const char* kind;
    const char* bike;
    const char* style;
};
const std::vector<Kind> kinds = {{"long_drag", "gravel", "dragging"}, {"late_hard", "gravel", "short_hard"}, {"rolling", "gravel", "short_hard"},
                                 {"city", "city", "short_hard"},      {"trail", "trail", "short_hard"},      {"cargo", "cargo", "dragging"}};

std::string bike_of(const Folder& f, const Kind& k, double mass_kg) {
    std::string text = std::string("format = 1\n[bike]\nkind = \"") + k.bike + "\"\nname = \"mine\"\ntotal_mass_kg = " + std::to_string(mass_kg) + "\n";
    if (std::string(k.kind) == "cargo") text += "e_assist = true\n";
    return f.write("bike.toml", text);
}

std::string diary_row(const Made& m) { return std::to_string(m.distance_m) + "," + std::to_string(m.descent_m) + "," + std::to_string(m.stops_per_km) + "\n"; }
const char* diary_head = "distance_m,descent_m,stops_per_km\n";

}  // namespace

TEST(PlannedRoute, SaysThatItIsPlannedAndInWhichStyle) {
    const json a = answer({trail, route}), b = answer({trail, route, "--style", "short_hard"});
    ASSERT_EQ(a["rides"].size(), 1u);
    EXPECT_TRUE(a["rides"][0]["planned"]);
    EXPECT_EQ(a["rides"][0]["style"], "dragging");
    EXPECT_EQ(b["rides"][0]["style"], "short_hard");
    EXPECT_TRUE(a["rides"][0]["start_time"].is_null());
    bool assumed = false, assumed_told = false;
    for (const auto& s : a["assumed"]) assumed = assumed || s["key"] == "ride.style";
    for (const auto& s : b["assumed"]) assumed_told = assumed_told || s["key"] == "ride.style";
    EXPECT_TRUE(assumed);
    EXPECT_FALSE(assumed_told);
    std::string text = brakewright({"answer", trail, route}).out;
    for (std::size_t at; (at = text.find("\n")) != std::string::npos;) text.replace(at, 1, " ");
    EXPECT_NE(text.find("planned, not ridden; style dragging"), std::string::npos);
    EXPECT_NE(text.find("only planned"), std::string::npos) << "the life says what it rests on";
}

TEST(PlannedRoute, KeepsToTheSchemaTogetherWithRecordedAndDescribedRides) {
    const Folder f;
    const json a = answer({trail, route, ride, f.write("diary.csv", "date,bike,distance_m,descent_m,stops_per_km,surface,weather,load_kg\n2025-05-03,,24000,560,0.2,,,\n,,8000,,,gravel,damp,5\n")});
    EXPECT_EQ(a["rides"].size(), 4u);
    EXPECT_EQ(against_schema("answer-1.json", a), "");
    for (const auto& r : a["rides"]) EXPECT_LE(p50(r["brake_energy_J"]), r["brake_energy_J"]["p95"].get<double>());
    EXPECT_FALSE(a["life"]["front"]["pad"].is_null());
}

TEST(PlannedRoute, ItsAccountClosesWithNothingUnexplained) {
    const json k = answer({trail, route})["rides"][0]["account_J"];
    const double left = k["height"].get<double>() + k["motion"].get<double>() + k["rider"].get<double>();
    EXPECT_NEAR(left, k["air"].get<double>() + k["rolling"].get<double>() + k["brakes"].get<double>(), 1e-6 * left);
    EXPECT_EQ(k["unexplained"], 0);
}

TEST(PlannedRoute, TheSameHillInTheTwoStylesIsTheSameEnergyAtOtherPowers) {
    const Folder f;
    const std::string hill = f.write("hill.gpx", straight_route(5500, -0.09));
    std::map<std::string, json> by;
    for (const char* style : {"dragging", "short_hard"}) by[style] = answer({trail, hill, "--style", style})["rides"][0];
    const json &drag = by["dragging"], &pulls = by["short_hard"];
    EXPECT_NEAR(p50(pulls["brake_energy_J"]) / p50(drag["brake_energy_J"]), 1, 0.15);
    const auto peak = [](const json& r) {
        double most = 0;
        for (const auto& x : r["applications"]["list"]) most = std::max(most, x["peak_W"].get<double>());
        return most;
    };
    EXPECT_GT(peak(pulls), 1.5 * peak(drag));   // about twice, by design of the styles; the draws move it by some per cent
    EXPECT_LT(pulls["applications"]["time_s"].get<double>(), 0.6 * drag["applications"]["time_s"].get<double>());
    EXPECT_GT(pulls["applications"]["count"].get<int>(), 3 * drag["applications"]["count"].get<int>());
    EXPECT_NEAR(pulls["duration_s"].get<double>() / drag["duration_s"].get<double>(), 1, 0.12);
    std::printf("dragging %.0f kJ, peak %.0f W, %.0f s; rotor %.0f, pad %.0f, fluid %.0f degC\nshort and hard %.0f kJ, peak %.0f W, %.0f s; rotor %.0f, pad %.0f, fluid %.0f degC\n", p50(drag["brake_energy_J"]) / 1000,
                peak(drag), drag["applications"]["time_s"].get<double>(), p50(drag["wheels"]["front"]["rotor_peak_degC"]), p50(drag["wheels"]["front"]["pad_face_peak_degC"]),
                p50(drag["wheels"]["front"]["fluid_peak_degC"]), p50(pulls["brake_energy_J"]) / 1000, peak(pulls), pulls["applications"]["time_s"].get<double>(),
                p50(pulls["wheels"]["front"]["rotor_peak_degC"]), p50(pulls["wheels"]["front"]["pad_face_peak_degC"]), p50(pulls["wheels"]["front"]["fluid_peak_degC"]));
}

TEST(PlannedRoute, GivesASeriesOfTheCaseInTheMiddle) {
    const Folder f;
    const json a = answer({trail, route, "--series", f.path("s")});
    std::istringstream lines(read(f.path("s/over-ostrel.csv")));
    std::string line;
    std::getline(lines, line);
    long rows = 0;
    double sum = 0, last_m = 0;
    while (std::getline(lines, line)) {
        std::istringstream fields(line);
        std::string field;
        for (int i = 0; i < 6; ++i) {
            std::getline(fields, field, ',');
            if (i == 1) last_m = std::stod(field);
        }
        sum += std::stod(field);
        ++rows;
    }
    EXPECT_NEAR(static_cast<double>(rows), a["rides"][0]["duration_s"].get<double>() + 1, 1.5);
    EXPECT_NEAR(last_m, a["rides"][0]["distance_m"].get<double>(), 1);
    EXPECT_GT(sum, a["rides"][0]["brake_energy_J"]["p05"].get<double>());
    EXPECT_LT(sum, a["rides"][0]["brake_energy_J"]["p95"].get<double>());
}

TEST(PlannedRoute, IsTheSameBytesOnOneThreadAndOnTwo) {
    const Folder f;
    const std::string diary = f.write("diary.csv", "distance_m,descent_m\n24000,560\n");
    const auto run_on = [&](const char* threads) { return brakewright({"answer", "--json", "--threads", threads, trail, route, ride, diary}).out; };
    EXPECT_EQ(run_on("1"), run_on("2"));
}

TEST(PlannedRoute, IsNotInTheSummaryForNobodyRodeItButADescribedRideIs) {
    const Folder f;
    answer({trail, route, f.write("diary.csv", "date,distance_m,descent_m\n2025-05-03,24000,560\n"), "--summary", f.path("s.csv")});
    const std::string s = read(f.path("s.csv"));
    EXPECT_EQ(s.find("over-ostrel"), std::string::npos);
    EXPECT_NE(s.find("2025-05-03,diary.csv:2,24000,560,"), std::string::npos) << s;
}

TEST(PlannedRoute, AWrongStyleIsRefused) { EXPECT_EQ(brakewright({"answer", trail, route, "--style", "brutal"}).status, 2); }

TEST(PlannedRoute, TheIntervalHoldsTheTruthOfRidesOfTheGeneratorOnTheSameRoadAsOftenAsItSays) {
    // The generator's rides, seeds 301 to 305, stripped of their times: what was braked there against what is planned from the
    // way, mass and kind alone. Habits were set on seeds 101 to 106. 30 rides at 90 %: 24 or more with a chance of 97 %.
    const Folder f;
    int inside = 0, all = 0;
    double bias = 0;
    for (const Kind& k : kinds) {
        std::vector<Made> rides;
        std::vector<std::string> words = {"--style", k.style, "--cases", "64", bike_of(f, k, made(f, k.kind, 301).mass_kg)};
        for (int seed = 301; seed <= 305; ++seed) {
            rides.push_back(made(f, k.kind, seed));
            const std::string& stem = rides.back().stem;
            words.push_back(f.write(stem + "-way.gpx", without_times(read(f.path(stem + ".gpx")))));
        }
        const json a = answer(words);
        ASSERT_EQ(a["rides"].size(), rides.size());
        for (std::size_t i = 0; i < rides.size(); ++i) {
            const Made& m = rides[i];
            const json& r = a["rides"][i];
            const json& e = r["brake_energy_J"];
            EXPECT_TRUE(r["planned"]);
            const bool in = e["p05"].get<double>() <= m.true_J && m.true_J <= e["p95"].get<double>();
            inside += in ? 1 : 0;
            ++all;
            bias += std::log(p50(e) / m.true_J);
            std::printf("%-26s true %6.1f kJ, planned %6.1f (%.1f to %.1f)%s\n", m.stem.c_str(), m.true_J / 1000, p50(e) / 1000, e["p05"].get<double>() / 1000, e["p95"].get<double>() / 1000, in ? "" : "  outside");
            EXPECT_NEAR(r["descent_m"].get<double>(), m.descent_m, 0.05 * m.descent_m + 5) << m.stem;
        }
    }
    std::printf("planned: %d of %d inside 5..95 %%, bias %+.0f %%\n", inside, all, 100 * (std::exp(bias / all) - 1));
    EXPECT_GE(inside, 24);
    EXPECT_NEAR(bias / all, 0, 0.25);
}

TEST(DescribedRides, TheIntervalHoldsTheTruthOfRidesOfTheGeneratorAsOftenAsItSays) {
    // 60 rides of six kinds, seeds 301 to 310, told by distance, descent and stops alone. Spreads were set on seeds 101 to 106.
    // At 90 %, 49 or more of 60 with a chance of 98 %. Rides of one kind are one invented rider's, so they hit or miss together.
    const Folder f;
    int inside = 0, all = 0;
    for (const Kind& k : kinds) {
        std::string diary = diary_head;
        std::vector<Made> rides;
        for (int seed = 301; seed <= 310; ++seed) {
            rides.push_back(made(f, k.kind, seed));
            diary += diary_row(rides.back());
        }
        const json a = answer({bike_of(f, k, rides[0].mass_kg), f.write("diary.csv", diary)});
        ASSERT_EQ(a["rides"].size(), rides.size());
        int here = 0;
        double bias = 0, log_width = 0;
        for (std::size_t i = 0; i < rides.size(); ++i) {
            const json& e = a["rides"][i]["brake_energy_J"];
            here += e["p05"].get<double>() <= rides[i].true_J && rides[i].true_J <= e["p95"].get<double>() ? 1 : 0;
            bias += std::log(p50(e) / rides[i].true_J) / 10;
            log_width += std::log(width(e)) / 10;
        }
        std::printf("described %-10s %d of 10 inside 5..95 %%, bias %+.0f %%, p95/p05 %.1f\n", k.kind, here, 100 * (std::exp(bias) - 1), std::exp(log_width));
        inside += here;
        all += 10;
        EXPECT_GT(std::exp(log_width), 2) << k.kind << ": nobody knows a described ride to better than 40 %";
    }
    std::printf("described: %d of %d inside\n", inside, all);
    EXPECT_GE(inside, 49);
}

TEST(DescribedRides, RecordedRidesOfTheSameRiderNarrowThemAndTheyStillHoldTheTruth) {
    const Folder f;
    int inside = 0, all = 0;
    for (const Kind& k : kinds) {
        std::string diary = diary_head;
        std::vector<Made> rides;
        for (int seed = 303; seed <= 310; ++seed) {
            rides.push_back(made(f, k.kind, seed));
            diary += diary_row(rides.back());
        }
        const std::string bike = bike_of(f, k, rides[0].mass_kg), told = f.write("diary.csv", diary);
        const std::string first = f.path(made(f, k.kind, 301).stem + ".gpx"), second = f.path(made(f, k.kind, 302).stem + ".gpx");
        const json alone = answer({bike, told}), with = answer({bike, told, first, second});
        double log_alone = 0, log_with = 0;
        int here = 0;
        for (std::size_t i = 0; i < rides.size(); ++i) {
            const json &e = with["rides"][i + 2]["brake_energy_J"], &e0 = alone["rides"][i]["brake_energy_J"];
            ASSERT_TRUE(with["rides"][i + 2]["described"]);
            log_alone += std::log(width(e0)) / 8;
            log_with += std::log(width(e)) / 8;
            here += e["p05"].get<double>() <= rides[i].true_J && rides[i].true_J <= e["p95"].get<double>() ? 1 : 0;
        }
        std::printf("described %-10s p95/p05 %.1f alone, %.1f with two recorded rides; %d of 8 inside\n", k.kind, std::exp(log_alone), std::exp(log_with), here);
        EXPECT_LT(log_with, 0.9 * log_alone) << k.kind;
        EXPECT_GT(std::exp(log_with), 1.5) << k.kind << ": one ride differs from the next";
        EXPECT_NE(with["rides"][2]["faults"].dump().find("narrowed by 2 recorded rides"), std::string::npos);
        EXPECT_NE(alone["rides"][0]["faults"].dump().find("Described, not recorded: wide"), std::string::npos);
        inside += here;
        all += 8;
    }
    std::printf("described with two recorded rides: %d of %d inside\n", inside, all);
    EXPECT_GE(inside, 38);   // 48 at 90 %: 38 or more with a chance of 98 %
}

TEST(DescribedRides, GiveALifeAndAnEnergyButNoTrack) {
    const Folder f;
    const json a = answer({trail, f.write("diary.csv", "date,distance_m,descent_m,stops_per_km\n2025-05-03,24000,560,0.2\n2025-05-12,18000,300,0.5\n")});
    const json& r = a["rides"][0];
    EXPECT_TRUE(r["described"]);
    EXPECT_FALSE(r["planned"]);
    EXPECT_TRUE(r["account_J"].is_null());
    EXPECT_TRUE(r["duration_s"].is_null());
    EXPECT_EQ(r["start_time"], "2025-05-03T00:00:00Z");
    EXPECT_FALSE(a["life"]["front"]["pad"].is_null());
    EXPECT_EQ(a["today"], "2025-05-12");
    EXPECT_GT(width(a["life"]["front"]["pad"]["remaining_km"]), 5);
    EXPECT_GT(p50(r["brake_energy_J"]), p50(a["rides"][1]["brake_energy_J"]));
    // What its table leaves to "see below" stands below, as for every other ride.
    const std::string text = brakewright({"answer", trail, f.path("diary.csv")}).out;
    ASSERT_NE(text.find("not known (see below)"), std::string::npos) << text;
    EXPECT_NE(text.find("Boiling is not known: nobody published"), std::string::npos) << text;
}

TEST(DescribedRides, RowsOfAnotherBikeAreLeftOutWithANote) {
    const Folder f;
    const Outcome o = brakewright({"answer", "--json", trail, f.write("diary.csv", "bike,distance_m\nOstrel trail bike,9000\nanother,9000\n")});
    EXPECT_EQ(o.status, 0);
    EXPECT_NE(o.err.find("1 row(s) of other bikes left out"), std::string::npos) << o.err;
    EXPECT_EQ(json::parse(o.out)["rides"].size(), 1u);
}

TEST(DescribedRides, AnErrorNamesFileAndLine) {
    const Folder f;
    const Outcome o = brakewright({"answer", trail, f.write("diary.csv", "distance_m,descent_m\n24000,560\n24000,many\n")});
    EXPECT_EQ(o.status, 3);
    EXPECT_NE(o.err.find("diary.csv:3"), std::string::npos) << o.err;
}

TEST(DescribedRides, StayWithinEightyColumns) {
    const Folder f;
    std::string diary = "date,distance_m,descent_m\n";
    for (int i = 0; i < 15; ++i) diary += "2025-05-03,124000,2560\n";
    const std::string text = brakewright({"answer", trail, f.write("a-diary-with-a-rather-long-name-of-its-own.csv", diary), route}).out;
    EXPECT_NE(text.find("and 3 more"), std::string::npos);
    std::istringstream lines(text);
    for (std::string line; std::getline(lines, line);) {
        const auto letters = std::count_if(line.begin(), line.end(), [](char c) { return (static_cast<unsigned char>(c) & 0xC0) != 0x80; });
        EXPECT_LE(letters, 80) << line;
    }
}

// Each kind of ride on a hilly way; `extra` after it.
class Tags : public ::testing::TestWithParam<const char*> {
protected:
    //! The same words give the same answer: asked once.
    const json& with(const std::vector<std::string>& words) {
        const auto [at, fresh] = known_.try_emplace(words);
        if (fresh) at->second = ask(words);
        return at->second;
    }

private:
    json ask(std::vector<std::string> extra) {
        std::string which = GetParam();
        std::string path = which == "recorded" ? ride : which == "planned" ? route : folder_.write("diary.csv", "distance_m,descent_m,stops_per_km\n24000,560,0.2\n");
        extra.insert(extra.begin(), {"--cases", "64", trail, path});
        return answer(extra);
    }
    Folder folder_;
    std::map<std::vector<std::string>, json> known_;
};

TEST_P(Tags, AHeadWindTakesFromTheBrakesAndATailWindGives) {
    EXPECT_LT(energy(with({"--wind_mps", "4"})), energy(with({"--wind_mps", "0"})));
    // The truth of the recording has 1.9 m/s on a way out and back: a tail wind of 3 all along is not believed there.
    const bool recorded = std::string(GetParam()) == "recorded";
    EXPECT_GT(energy(with({"--wind_mps", recorded ? "-1" : "-3"})), energy(with({"--wind_mps", "0"})));
    if (recorded) { EXPECT_NE(with({"--wind_mps", "-3"})["rides"][0]["faults"].dump().find("wind as told does not fit"), std::string::npos); }
}
// On a way whose direction is known: against the wind on the way there, whichever way that is.
TEST_P(Tags, AWindToldAsAWeatherReportHasItTakesAndGivesByItsDirection) {
    if (std::string(GetParam()) == "described") {
        const json told = with({"--wind_mps", "8", "--wind_from_deg", "90"});
        EXPECT_EQ(energy(told), energy(with({}))) << "nobody knows which way it went";
        EXPECT_NE(told["rides"][0]["faults"].dump().find("told with its direction"), std::string::npos) << told["rides"][0]["faults"];
        return;
    }
    double least = 1e300, most = 0;
    for (const char* from : {"0", "90", "180", "270"}) {
        const double J = energy(with({"--wind_mps", "8", "--wind_from_deg", from}));
        least = std::min(least, J);
        most = std::max(most, J);
    }
    EXPECT_GT(most, 1.02 * least);
    EXPECT_EQ(energy(with({"--wind_mps", "8", "--wind_from_deg", "360"})), energy(with({"--wind_mps", "8", "--wind_from_deg", "0"})));
    // The truth of the recording has 1.9 m/s from 294 degrees: as a report about that counts, 8 m/s from the other side does not.
    const bool recorded = std::string(GetParam()) == "recorded";
    if (recorded) {
        const json wrong = with({"--wind_mps", "8", "--wind_from_deg", "90"});
        EXPECT_NE(wrong["rides"][0]["faults"].dump().find("wind as told does not fit"), std::string::npos);
        EXPECT_NE(wrong["assumed"].dump().find("\"ride.wind_mps\""), std::string::npos) << "it counts as untold";
    }
    const json assumed = recorded ? with({"--wind_mps", "3", "--wind_from_deg", "290"})["assumed"] : with({"--wind_mps", "8", "--wind_from_deg", "90"})["assumed"];
    EXPECT_NE(assumed.dump().find("ride.wind_shelter"), std::string::npos);
    EXPECT_EQ(assumed.dump().find("\"ride.wind_mps\""), std::string::npos);
}
TEST_P(Tags, ALooseSurfaceRollsHarderAndLeavesLessForTheBrakes) { EXPECT_LT(energy(with({"--surface", "loose"})), 0.97 * energy(with({"--surface", "dry"}))); }
TEST_P(Tags, MoreLoadIsMoreBrakingAndMoreHeat) {
    const json light = with({"--load_kg", "0"}), heavy = with({"--load_kg", "40"});
    EXPECT_GT(energy(heavy), 1.2 * energy(light));
    EXPECT_GT(p50(heavy["rides"][0]["wheels"]["front"]["rotor_peak_degC"]), p50(light["rides"][0]["wheels"]["front"]["rotor_peak_degC"]) + 5);
}
TEST_P(Tags, WetAndGritWearFasterAndDryAirIsNoMatterOfEnergy) {
    const auto life = [](const json& a) { return p50(a["life"]["front"]["pad"]["remaining_km"]); };
    const json dry = with({"--weather", "dry"}), wet = with({"--weather", "wet"}), gritty = with({"--weather", "gritty"});
    EXPECT_LT(life(wet), 0.9 * life(dry));
    EXPECT_LT(life(gritty), life(wet));
    EXPECT_NEAR(energy(wet) / energy(dry), 1, 1e-9);
}
TEST_P(Tags, ColdAirCoolsTheBrakes) {
    const auto peak = [](const json& a) { return p50(a["rides"][0]["wheels"]["front"]["fluid_peak_degC"]); };
    const double cold = peak(with({"--air_degC", "-5"})), hot = peak(with({"--air_degC", "35"}));
    EXPECT_GT(hot, cold + 20);
    EXPECT_LT(hot, cold + 60);
}
INSTANTIATE_TEST_SUITE_P(EveryKindOfRide, Tags, ::testing::Values("recorded", "planned", "described"), [](const auto& i) { return std::string(i.param); });

TEST(TagsFile, ServesAPlannedRouteByItsName) {
    const Folder f;
    const std::string tags = f.write("tags.csv", "file,surface,load_kg\nover-ostrel.gpx,loose,30\n");
    const json a = answer({trail, route, "--tags", tags}), b = answer({trail, route, "--surface", "loose", "--load_kg", "30"});
    EXPECT_EQ(energy(a), energy(b));
}

TEST(TagsFile, AnErrorNamesFileAndLine) {
    const Folder f;
    for (const char* row : {"over-ostrel.gpx,ice,", "over-ostrel.gpx,dry,heavy"}) {
        const Outcome o = brakewright({"answer", trail, route, "--tags", f.write("tags.csv", std::string("file,surface,load_kg\n") + row + "\n")});
        EXPECT_EQ(o.status, 3);
        EXPECT_NE(o.err.find("tags.csv:2"), std::string::npos) << o.err;
    }
}
