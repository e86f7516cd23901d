// SPDX-License-Identifier: Apache-2.0
// Ten years of rides in the papers: what adding, opening, one new reading and an answer cost, through the program. Layer: bench
//   bench_papers [--files N] [--answered N] [--folder DIR]      default: 3000 files, answers over the last 30, a temporary folder
// Each step's answer is checked; one that is wrong fails the program. No time fails anything.
#include <fmt/format.h>

#include <cmath>
#include <filesystem>
#include <fstream>
#include <nlohmann/json.hpp>

#include "base/sampling.hpp"
#include "base/text.hpp"
#include "base/time.hpp"
#include "program.hpp"

namespace {

namespace fs = std::filesystem;
using namespace bw;
using namespace bw::bench;
using nlohmann::json;

constexpr long first_day = 16922;   // 2016-05-01
constexpr int seconds = 1500;       // of each ride: about 100 kB

long day_of(int ride, int files) { return first_day + static_cast<long>(3652.0 * ride / files); }

struct Made {
    double megabytes = 0, distance_m = 0;
};

//! One invented ride: up, down with pulls at the brakes, no two alike. Fixed seed.
Made make_ride(const std::string& path, int ride, int files) {
    fmt::memory_buffer out;
    fmt::format_to(std::back_inserter(out), "time,latitude_deg,longitude_deg,distance_m,speed_mps,altitude_m\n");
    const auto draw = [&](std::uint64_t stream, std::uint64_t i) { return uniform_of(20260501, static_cast<std::uint64_t>(ride), i, stream); };
    const double start_s = 86400.0 * static_cast<double>(day_of(ride, files)) + 28800 + 60 * (ride % 120), steep = 0.04 + 0.05 * draw(0, 0), phase = 6.28 * draw(0, 1);
    double x = 0, z = 400 + 200 * draw(0, 2);
    for (int t = 0; t <= seconds; ++t) {
        const bool down = t > seconds / 2;
        double v = (down ? 9 : 4) + (down ? 2.5 : 0.6) * std::sin(t / (down ? 9.0 : 31.0) + phase) + 0.2 * (draw(1, static_cast<std::uint64_t>(t)) - 0.5);
        if (t + 8 > seconds) v = seconds - t;
        fmt::format_to(std::back_inserter(out), "{},{:.7f},{:.7f},{:.2f},{:.3f},{:.2f}\n", format_time(start_s + t), -30 + x / 111000, -20 + 0.002 * std::sin(x / 300 + phase), x, v, z);
        if (t == seconds) break;
        x += v;
        z += (down ? -steep : steep * 0.9) * v + 0.1 * (draw(2, static_cast<std::uint64_t>(t)) - 0.5);
    }
    std::ofstream(path, std::ios::binary).write(out.data(), static_cast<std::streamsize>(out.size()));
    return {static_cast<double>(out.size()) / 1e6, std::stod(fmt::format("{:.2f}", x))};
}

}  // namespace

int main(int argc, char** argv) {
    int files = 3000, answered = 30;
    std::string folder;
    if (!told(argc, argv, {{"--files", &files}, {"--answered", &answered}}, folder) || files < 2 || answered < 1 || answered >= files) {
        fmt::print(stderr, "bench_papers [--files N] [--answered N, fewer than files] [--folder DIR]\n");
        return 2;
    }
    const Scratch made(folder);
    const std::string& scratch = made.path;
    if (scratch.empty()) {
        fmt::print(stderr, "{}: no folder can be made there\n", folder);
        return 1;
    }

    const std::string rides = scratch + "/rides", papers = scratch + "/p.papers", bike = scratch + "/bike.toml";
    fs::create_directories(rides);
    Made all;
    for (int i = 0; i < files; ++i) {
        const Made one = make_ride(fmt::format("{}/{:05}.csv", rides, i), i, files);
        all.megabytes += one.megabytes;
        all.distance_m += one.distance_m;
    }
    std::ofstream(bike) << "format = 1\nbike.name = \"Bench\"\nbike.kind = \"trail\"\nbike.total_mass_kg = 95\nfront.pads.friction_thickness_mm = 2\nfront.pads.plate_measured = true\n";
    const std::string last = format_day(day_of(files - 1, files)), next = format_day(day_of(files - 1, files) + 1), from = format_day(day_of(files - answered, files));
    fmt::print("{} ride files, {:.0f} MB, {:.0f} km\n\n", files, all.megabytes, all.distance_m / 1000);
    heading();

    const auto with = [&](std::vector<std::string> words) {
        words.insert(words.end(), {"--papers", papers, "--json"});
        return run(words, scratch);
    };
    const auto say = [&](const Ran& r) { return json::parse(r.out, nullptr, false); };
    {
        const Ran r = run({"papers", "make", papers}, scratch);
        line("papers make", r, r.status != 0 ? "status" : fs::exists(papers) ? "" : "no file");
    }
    {
        const Ran r = with({"papers", "add", "bike", bike, "--by", "Ada", "--day", last});
        line("add bike", r, r.status != 0 ? "status" : unless_equal("added", say(r)["added"].size(), std::size_t{1}));
    }
    {
        const Ran r = with({"papers", "add", "rides", rides});
        line(fmt::format("add {} rides", files), r, r.status != 0 ? "status" : unless_equal("added", say(r).value("added", -1), files));
        fmt::print("{:<46} {:>9.0f} MB\n", "  the file", static_cast<double>(fs::file_size(papers)) / 1e6);
    }
    {
        const Ran r = with({"papers", "add", "rides", rides});
        line("the same folder again", r, r.status != 0 ? "status" : unless_equal("there_already", say(r).value("there_already", -1), files));
    }
    {
        const Ran r = with({"papers", "show"});
        const json b = r.status == 0 ? say(r)["bikes"][0] : json();
        std::string what = r.status != 0 ? "status" : unless_equal("rides", b.value("rides", -1), files);
        if (what.empty() && std::abs(b.value("distance_m", 0.0) - all.distance_m) > 1e-6 * all.distance_m) what = fmt::format("distance_m is {}, the files say {}", b.value("distance_m", 0.0), all.distance_m);
        line("opening, and all that is in it listed", r, what);
    }
    {
        const Ran r = with({"papers", "verdict", "--day", next});
        line("opening, and the verdict", r, r.status != 0 ? "status" : say(r)["bikes"].size() == 1 ? "" : "not one bike");
    }
    const auto read = [&](const char* mm) {
        const Ran r = with({"papers", "add", "reading", "pad_thickness", mm, "--place", "front", "--with-plate", "no", "--by", "Ada", "--day", next});
        line(fmt::format("one new reading, {} mm", mm), r, r.status != 0 ? "status" : unless_equal("values", say(r)["reading"].value("values", -1), 1));
    };
    read("1.9");
    json before;
    const auto answer = [&](const std::string& step, bool found) {
        const Ran r = run({"answer", "--papers", papers, "--json", "--since", from, "--today", next}, scratch);
        const json a = say(r);
        std::string what = r.status != 0 ? "status" : unless_equal("rides", static_cast<int>(a["rides"].size()), answered);
        if (what.empty() && a["life"]["front"]["pad"].is_null()) what = "no life of the front pads";
        if (what.empty() && found) {   // thinner pads last a shorter way; the rides' energies are those of before
            const auto km = [](const json& j) { return j["life"]["front"]["pad"]["remaining_km"]["p50"].get<double>(); };
            if (!(km(a) < km(before))) what = fmt::format("{} km left, {} before the reading", km(a), km(before));
            for (std::size_t i = 0; i < a["rides"].size(); ++i)
                if (a["rides"][i]["brake_energy_J"] != before["rides"][i]["brake_energy_J"]) what = "a ride's energy moved with a reading";
        }
        before = a;
        line(step, r, what);
    };
    answer(fmt::format("answer over {} rides, none computed yet", answered), false);
    read("1.6");
    answer("the same after the new reading", true);
    {
        const Ran r = run({"answer", "--papers", papers, "--json", "--since", from, "--today", next}, scratch);
        line("the same again", r, r.status != 0 ? "status" : say(r) == before ? "" : "another answer");
    }
    {
        const Ran r = with({"papers", "sound"});
        const json s = say(r);
        line("sound: every file read, tables against history", r,
             r.status != 0 ? "status" : !s.value("sound", false) ? "not sound" : unless_equal("ride_files_read", s.value("ride_files_read", -1), files));
    }
    return done();
}
