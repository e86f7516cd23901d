// SPDX-License-Identifier: Apache-2.0
// Temperatures in the papers: those of a moment of a ride narrow the answer, all others move nothing and say why.
// Oracle: the program's own curve of one run (answer --series) read as an instrument would; a reading made of it must pull the band there.
#include <gtest/gtest.h>

#include <cmath>
#include <map>
#include <nlohmann/json.hpp>
#include <sstream>
#include <tuple>

#include "../e2e/run.hpp"

using namespace bw::e2e;
using nlohmann::json;

namespace {

class Temperatures : public ::testing::Test {
protected:
    Folder f;
    std::string file = f.path("p.papers");
    std::string ride = f.path("down.gpx");

    // The way down of a ride of the demo: from 2025-05-10T08:22:00Z to 08:46:04.
    static std::string way_down() {
        const std::string all = read(demo("rides/pass-and-back.gpx")), point = "<trkpt";
        const std::size_t first = all.find(point), at = all.rfind(point, all.find("<time>2025-05-10T08:22:00Z"));
        return all.substr(0, first) + all.substr(at);
    }

    void SetUp() override {
        f.write("down.gpx", way_down());
        ASSERT_EQ(brakewright({"papers", "make", file}).status, 0);
        done({"papers", "add", "bike", demo("bikes/trail.toml"), "--by", "Ada", "--day", "2025-05-01"});
        done({"papers", "add", "rides", ride, "--by", "Ada"});
        done({"papers", "add", "instrument", "clip", "--kind", "thermometer", "--resolution_degC", "1", "--permitted_error_degC", "5", "--by", "Ada"});
    }
    std::string done(std::vector<std::string> words) {
        words.insert(words.end(), {"--papers", file});
        const Outcome o = brakewright(words);
        EXPECT_EQ(o.status, 0) << o.err;
        return o.out;
    }
    json answered() { return json::parse(brakewright({"answer", "--json", "--cases", "256", "--papers", file, "--today", "2025-05-20"}).out, nullptr, false); }
    std::string reading(const std::string& what, const std::string& value, std::vector<std::string> more) {
        std::vector<std::string> words = {"papers", "add", "reading", what, value, "--place", "front", "--by", "Ada", "--with", "clip"};
        words.insert(words.end(), more.begin(), more.end());
        return done(words);
    }
    static const json& front(const json& a) { return a["rides"][0]["wheels"]["front"]; }
    static double width(const json& i) { return i["p95"].get<double>() - i["p05"].get<double>(); }

    // Column of the series at its largest value: second and value.
    std::pair<double, double> hottest(const std::string& column) {
        static std::string kept;   // one run for all tests
        if (kept.empty()) {
            const Outcome o = brakewright({"answer", demo("bikes/trail.toml"), ride, "--cases", "256", "--series", f.path("series")});
            EXPECT_LE(o.status, 1) << o.err;
            kept = read(f.path("series") + "/down.csv");
        }
        std::istringstream lines(kept);
        std::string line, cell;
        std::getline(lines, line);
        std::size_t at = 0, n = 0;
        for (std::istringstream head(line); std::getline(head, cell, ','); ++n)
            if (cell == column) at = n;
        std::pair<double, double> most{0, -1};
        while (std::getline(lines, line)) {
            std::istringstream cells(line);
            double t = 0, v = 0;
            for (std::size_t i = 0; i <= at && std::getline(cells, cell, ','); ++i) (i == 0 ? t : v) = std::stod(cell);
            if (v > most.second) most = {t, v};
        }
        return most;
    }
    static std::string time_at(double t_s) {
        const long s = 8 * 3600 + 22 * 60 + std::lround(t_s);
        const auto two = [](long n) { return (n < 10 ? "0" : "") + std::to_string(n); };
        return "2025-05-10T" + two(s / 3600) + ":" + two(s / 60 % 60) + ":" + two(s % 60) + "Z";
    }
};

}  // namespace

TEST_F(Temperatures, AReadingMadeOfAHotCasesCurvePullsTheBandThereAndNarrowsIt) {
    const json before = answered();
    ASSERT_EQ(before["read_temperatures"].size(), 0U);
    const auto [t_s, hot_degC] = hottest("front_rotor_p95_degC");
    ASSERT_GT(hot_degC, front(before)["rotor_peak_degC"]["p50"].get<double>());
    reading("rotor_temperature", std::to_string(std::lround(hot_degC)), {"--day", "2025-05-10", "--at", time_at(t_s)});
    const json after = answered();
    const json &was = front(before)["rotor_peak_degC"], &is = front(after)["rotor_peak_degC"];
    EXPECT_LT(width(is), 0.8 * width(was)) << was << is;
    EXPECT_GT(is["p50"].get<double>(), was["p50"].get<double>() + 0.25 * (hot_degC - was["p50"].get<double>())) << was << is;
    EXPECT_LE(is["p05"].get<double>(), hot_degC);
    EXPECT_GE(is["p95"].get<double>(), hot_degC - 15);
    const std::string words = after["read_temperatures"][0];
    EXPECT_NE(words.find("The front rotor's " + std::to_string(std::lround(hot_degC)) + " °C of 2025-05-10 on down.gpx narrowed the rotor's band from "), std::string::npos) << words;
    EXPECT_NE(brakewright({"answer", "--cases", "256", "--papers", file, "--today", "2025-05-20"}).out.find("Read temperatures: "), std::string::npos);
    // What a verdict rests on is never softer by a reading.
    EXPECT_GE(front(after)["fade_probability"].get<double>(), front(before)["fade_probability"].get<double>());
    // Taken back, all is as before, to the last digit.
    done({"papers", "undo", "--by", "Ada"});
    EXPECT_EQ(answered(), before);
}

TEST_F(Temperatures, AReadingThatBelongsToNoMomentOfARideMovesNothingAndSaysWhy) {
    const json before = answered();
    const std::pair<std::vector<std::string>, const char*> all[] = {
        {{"--day", "2025-05-10"}, "nobody said when it was read"},
        {{"--day", "2025-05-12", "--at", "2025-05-12T10:42:00Z"}, "no recorded ride of this bike goes on at 2025-05-12T10:42:00Z"},
        {{"--day", "2025-05-10", "--at", "2025-05-10T09:02:00Z"}, "no recorded ride"},   // 16 minutes after its end
    };
    for (const auto& [more, why] : all) {
        const std::string noted = reading("caliper_temperature", "96", more);
        if (more.size() == 2) { EXPECT_NE(noted.find("It weighs nothing"), std::string::npos) << noted; }
        json after = answered();
        ASSERT_EQ(after["read_temperatures"].size(), 1U);
        EXPECT_NE(after["read_temperatures"][0].get<std::string>().find(why), std::string::npos) << after["read_temperatures"];
        after["read_temperatures"] = json::array();
        EXPECT_EQ(after, before);
        done({"papers", "undo", "--by", "Ada"});
    }
    // Nearer than 15 minutes it counts; and what no case comes near is told.
    reading("caliper_temperature", "700", {"--day", "2025-05-10", "--at", "2025-05-10T08:50:00Z"});
    const json far = answered();
    EXPECT_NE(far["read_temperatures"][0].get<std::string>().find("fits no likely case"), std::string::npos) << far["read_temperatures"];
    EXPECT_EQ(front(far), front(before));
}

TEST_F(Temperatures, ACoolOneClearsNothingAndBareMetalReadByInfraRedIsNotTakenAtItsWord) {
    const json before = answered();
    const double middle_degC = front(before)["rotor_peak_degC"]["p50"];
    const auto [t_s, low_degC] = hottest("front_rotor_p05_degC");
    const std::string shown = std::to_string(std::lround(low_degC));
    reading("rotor_temperature", shown, {"--day", "2025-05-10", "--at", time_at(t_s)});
    const json after = answered();
    EXPECT_LT(front(after)["rotor_peak_degC"]["p50"].get<double>(), middle_degC);
    for (const char* key : {"fade_probability", "hot_stop_beyond_hand_probability", "gap_taken_mm"}) EXPECT_GE(front(after)[key].get<double>(), front(before)[key].get<double>()) << key;
    done({"papers", "undo", "--by", "Ada"});
    // An instrument set to 0.95 that shows the same of a bare band looks at a far hotter one (EQ heat-41).
    reading("rotor_temperature", shown, {"--day", "2025-05-10", "--at", time_at(t_s), "--set-emissivity", "0.95", "--spot", "bare"});
    EXPECT_GT(front(answered())["rotor_peak_degC"]["p50"].get<double>(), middle_degC);
    done({"papers", "undo", "--by", "Ada"});
    // What cannot be is refused.
    for (const auto& [what, more] : {std::pair<std::string, std::vector<std::string>>{"lever_bite", {"--at", "2025-05-10T08:00:00Z"}}, {"rotor_temperature", {"--at", "noon"}}, {"rotor_temperature", {"--spot", "bare"}},
                                     {"caliper_temperature", {"--set-emissivity", "2"}}, {"caliper_temperature", {"--at", "2025-05-20T08:00:00Z"}}}) {
        std::vector<std::string> words = {"papers", "add", "reading", what, "30", "--place", "front", "--by", "Ada", "--day", "2025-05-10", "--papers", file};
        words.insert(words.end(), more.begin(), more.end());
        EXPECT_NE(brakewright(words).status, 0) << what << more[0];
    }
}

TEST_F(Temperatures, AStripKeepsTheHighestOfTheRidesOfItsDay) {
    const json before = answered();
    // What a strip would show in the likely cases, told where none of them comes near.
    const auto range_of = [&](const std::string& what, const std::string& who) {
        reading(what, "880", {"--day", "2025-05-10", "--at", "peak"});
        const std::string shows = answered()["read_temperatures"][0];
        done({"papers", "undo", "--by", "Ada"});
        double least = 0, most = 0;
        const std::size_t range = shows.find("at its hottest ");
        if (range == std::string::npos || std::sscanf(shows.c_str() + range, "at its hottest %lf to %lf", &least, &most) != 2) ADD_FAILURE() << shows;
        EXPECT_EQ(shows.find("The front " + who + " 880 °C of 2025-05-10"), 0U) << shows;
        return std::pair{least, most};
    };
    // On a rotor it sits on the arms, which are cooler than the band.
    EXPECT_LT(range_of("rotor_temperature", "rotor arms'").second, front(before)["rotor_peak_degC"]["p95"].get<double>());
    const auto [least, most] = range_of("caliper_temperature", "caliper's");
    const double hot_degC = std::round(least + 0.6 * (most - least));
    const std::string noted = reading("caliper_temperature", std::to_string(std::lround(hot_degC)), {"--day", "2025-05-10", "--at", "peak"});
    EXPECT_NE(noted.find("as the highest of the rides of"), std::string::npos) << noted;
    EXPECT_NE(noted.find("quarter of an"), std::string::npos) << noted;
    const json after = answered();
    const json &was = front(before)["rotor_peak_degC"], &is = front(after)["rotor_peak_degC"];
    EXPECT_LT(width(is), width(was)) << was << is;
    EXPECT_GT(is["p50"].get<double>(), was["p50"].get<double>()) << "a hot caliper is that of a hot rotor";
    EXPECT_NE(after["read_temperatures"][0].get<std::string>().find("narrowed the rotor's band from "), std::string::npos) << after["read_temperatures"];
    // A lower one of that day and place was on for a part of it, whichever comes first.
    reading("caliper_temperature", std::to_string(std::lround(least)), {"--day", "2025-05-10", "--at", "peak"});
    const json two = answered();
    EXPECT_EQ(front(two)["rotor_peak_degC"], is);
    ASSERT_EQ(two["read_temperatures"].size(), after["read_temperatures"].size() + 1) << two["read_temperatures"];
    EXPECT_NE(two["read_temperatures"].dump().find("another strip of that day and place shows more"), std::string::npos) << two["read_temperatures"];
    done({"papers", "undo", "--by", "Ada"});
    done({"papers", "undo", "--by", "Ada"});
    // Of a day without a ride, and hotter than any case: said, and nothing moves.
    for (const auto& [day, value, why] : {std::tuple{"2025-05-12", "96", "no recorded ride of that day"}, std::tuple{"2025-05-10", "880", "at its hottest"}}) {
        reading("caliper_temperature", value, {"--day", day, "--at", "peak"});
        json none = answered();
        ASSERT_EQ(none["read_temperatures"].size(), 1U);
        EXPECT_NE(none["read_temperatures"][0].get<std::string>().find(why), std::string::npos) << none["read_temperatures"];
        none["read_temperatures"] = json::array();
        EXPECT_EQ(none, before);
        done({"papers", "undo", "--by", "Ada"});
    }
    // A short ride earlier that day stayed cooler: the highest of both is that of the descent, case by case.
    std::string part = way_down().substr(0, way_down().find("<time>2025-05-10T08:24:00Z"));
    part = part.substr(0, part.rfind("<trkpt")) + "</trkseg></trk></gpx>\n";
    for (std::size_t at = 0; (at = part.find("T08:", at)) != std::string::npos;) part.replace(at, 4, "T05:");
    done({"papers", "add", "rides", f.write("early.gpx", part), "--by", "Ada"});
    reading("caliper_temperature", std::to_string(std::lround(hot_degC)), {"--day", "2025-05-10", "--at", "peak"});
    const json both = answered();
    ASSERT_EQ(both["rides"].size(), 2U);
    const json& of_descent = both["rides"][both["rides"][0]["file"] == "down.gpx" ? 0 : 1]["wheels"]["front"]["rotor_peak_degC"];
    for (const char* p : {"p05", "p50", "p95"}) EXPECT_NEAR(of_descent[p].get<double>(), is[p].get<double>(), 1) << both["read_temperatures"];
    EXPECT_NE(both["read_temperatures"][0].get<std::string>().find(" on down.gpx narrowed"), std::string::npos) << both["read_temperatures"];
    EXPECT_EQ(brakewright({"papers", "add", "reading", "rotor_temperature", "150", "--place", "front", "--by", "Ada", "--with", "clip", "--at", "peak", "--set-emissivity", "0.95", "--papers", file}).status, 2);
    EXPECT_EQ(brakewright({"papers", "add", "reading", "pad_thickness", "1.5", "--place", "front", "--by", "Ada", "--with-plate", "no", "--at", "peak", "--papers", file}).status, 2);
}

TEST_F(Temperatures, TheTimeNamesTheDayAndAWiderBandElsewhereIsSaid) {
    const json before = answered();
    const auto rear = [](const json& a) { return a["rides"][0]["wheels"]["rear"]["rotor_peak_degC"]; };
    bool wider = false;
    for (const char* value : {"12", "28"}) {   // what a caliper shows a minute before the end, cool and hot: of one of them the rear's band grows
        reading("caliper_temperature", value, {"--at", "2025-05-10T08:45:00Z"});
        const json after = answered();
        EXPECT_EQ(after["read_temperatures"][0].get<std::string>().find(std::string("The front caliper's ") + value + " °C of 2025-05-10 on down.gpx"), 0U) << after["read_temperatures"];
        bool said = false;
        for (const json& words : after["read_temperatures"]) said = said || words.get<std::string>().find("The rear rotor's band on down.gpx went from ") == 0;
        EXPECT_EQ(said, width(rear(after)) > width(rear(before))) << after["read_temperatures"];
        wider = wider || said;
        done({"papers", "undo", "--by", "Ada"});
    }
    EXPECT_TRUE(wider) << "else this shows nothing";
}
