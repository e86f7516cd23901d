// SPDX-License-Identifier: Apache-2.0
// What learning costs: a new reading on a bike with hundreds of rides, and many forecasts in one call.     Layer: bench
//   bench_life [--rides N] [--tasks N] [--folder DIR]      default: 500 rides in the papers, 1500 tasks, a temporary folder
// Each step's answer is checked; one that is wrong fails the program. No time fails anything.
#include <fmt/format.h>

#include <algorithm>
#include <cmath>
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

constexpr long first_day = 20089;   // 2025-01-01
constexpr double new_mm = 2.4;

double draw(std::uint64_t ride, std::uint64_t stream) { return uniform_of(20260601, ride, 0, stream); }

//! A short descent as a recorder of one row a second writes it, no two alike: what counts here is that its work is kept.
void write_ride(const std::string& path, int ride) {
    std::ofstream out(path, std::ios::binary);
    out << "time,distance_m,speed_mps,altitude_m\n";
    const double start_s = 86400.0 * static_cast<double>(first_day + ride) + 28800, slope = 0.05 + 0.05 * draw(static_cast<std::uint64_t>(ride), 1), phase = 6.28 * draw(static_cast<std::uint64_t>(ride), 2);
    constexpr int seconds = 90;
    double x = 0;
    for (int t = 0; t <= seconds; ++t) {
        const double v = t + 8 > seconds ? seconds - t : 8 + 2.5 * std::sin(t / 7.0 + phase);
        out << fmt::format("{},{:.2f},{:.2f},{:.2f}\n", format_time(start_s + t), x, v, 900 - slope * x);
        x += v;
    }
}

//! One rider's papers as tables: rides of 100 kJ, pads that wear out every 60 rides, read now and then. Lines of tasks at all ages.
void write_tables(const std::string& folder, int tasks) {
    constexpr int rides = 240, set_rides = 60;
    std::ofstream ridden(folder + "/rides.csv"), fitted(folder + "/fitted.csv"), readings(folder + "/readings.csv"), asked(folder + "/tasks.csv");
    ridden << "ride,date,distance_m,front_energy_J,rear_energy_J,front_pad_degC,rear_pad_degC,wet,grit\n";
    fitted << "component,set,start_ride,compound,new_mm,limit_mm,friction_area_mm2\n";
    readings << "ride,component,set,thickness_mm,sd_mm,resolution_mm\n";
    asked << "component,set,as_of_ride\n";
    for (int i = 1; i <= rides; ++i)
        ridden << fmt::format("{},{},20000,{:.0f},{:.0f},120,100,0,0\n", i, format_day(first_day + i), 1e5 * (0.7 + 0.6 * draw(static_cast<std::uint64_t>(i), 3)), 6e4 * (0.7 + 0.6 * draw(static_cast<std::uint64_t>(i), 4)));
    for (int set = 0; set < rides / set_rides; ++set)
        for (const char* component : {"front_left_pad", "front_right_pad", "rear_left_pad", "rear_right_pad"})
            fitted << fmt::format("{},{},{},organic,{},0.5,300\n", component, set + 1, set * set_rides + 1, new_mm);
    for (const char* component : {"front_rotor", "rear_rotor"}) fitted << fmt::format("{},1,1,,1.8,1.5,5000\n", component);
    for (int i = 10; i <= rides; i += 10)
        for (const char* component : {"front_left_pad", "front_right_pad", "rear_left_pad", "rear_right_pad"}) {
            const int on = (i - 1) % set_rides + 1;
            readings << fmt::format("{},{},{},{:.2f},0.05,0.01\n", i, component, (i - 1) / set_rides + 1, new_mm - 0.03 * on * (component[0] == 'f' ? 1 : 0.6));
        }
    for (int k = 0; k < tasks; ++k) {
        const int as_of = 1 + k * (rides - 1) / std::max(1, tasks - 1), set = (as_of - 1) / set_rides + 1;
        static constexpr const char* parts[] = {"front_left_pad", "front_right_pad", "rear_left_pad", "rear_right_pad", "front_rotor", "rear_rotor"};
        asked << fmt::format("{},{},{}\n", parts[k % 6], k % 6 > 3 ? 1 : set, as_of);
    }
}

}  // namespace

int main(int argc, char** argv) {
    int rides = 500, tasks = 1500;
    std::string folder;
    if (!told(argc, argv, {{"--rides", &rides}, {"--tasks", &tasks}}, folder) || rides < 30 || tasks < 6) {
        fmt::print(stderr, "bench_life [--rides N, 30 or more: fewer make the last reading one that nobody believes] [--tasks N, 6 or more] [--folder DIR]\n");
        return 2;
    }
    const Scratch made(folder);
    const std::string& scratch = made.path;
    if (scratch.empty()) {
        fmt::print(stderr, "{}: no folder can be made there\n", folder);
        return 1;
    }
    const std::string papers = scratch + "/p.papers", bike = scratch + "/bike.toml", files = scratch + "/rides";
    std::ofstream(bike) << "format = 1\nbike.name = \"Bench\"\nbike.kind = \"trail\"\nbike.total_mass_kg = 95\nfront.pads.friction_thickness_mm = 2.4\nfront.pads.plate_measured = true\n"
                           "front.pads.least_friction_mm = 0.5\nrear.pads.friction_thickness_mm = 2.4\nrear.pads.plate_measured = true\nrear.pads.least_friction_mm = 0.5\n";
    fs::create_directories(files);
    for (int i = 0; i < rides; ++i) write_ride(fmt::format("{}/{:04}.csv", files, i), i);
    fmt::print("{} rides in the papers; {} tasks\n\n", rides, tasks);
    heading();

    const auto said = [](const Ran& r) { return json::parse(r.out, nullptr, false); };
    const std::string first = format_day(first_day), half = format_day(first_day + rides / 2), last = format_day(first_day + rides), next = format_day(first_day + rides + 1);
    {
        const Ran r = run({"papers", "make", papers}, scratch);
        line("papers make", r, r.status != 0 ? "status" : fs::exists(papers) ? "" : "no file");
    }
    {
        const Ran r = run({"papers", "add", "bike", bike, "--by", "Ada", "--day", first, "--papers", papers, "--json"}, scratch);
        line("add bike", r, r.status != 0 ? "status" : "");
    }
    {
        const Ran r = run({"papers", "add", "rides", files, "--papers", papers, "--json"}, scratch);
        line(fmt::format("add {} rides", rides), r, r.status != 0 ? "status" : unless_equal("added", said(r).value("added", -1), rides));
    }
    const auto read = [&](const char* mm, const std::string& day) {
        const Ran r = run({"papers", "add", "reading", "pad_thickness", mm, "--place", "front", "--with-plate", "no", "--by", "Ada", "--day", day, "--papers", papers, "--json"}, scratch);
        line(fmt::format("add a reading, {} mm", mm), r, r.status != 0 ? "status" : unless_equal("values", said(r)["reading"].value("values", -1), 1));
    };
    const auto front_mm = [](const json& j) { return j["pads"]["front"]["thickness_mm"]; };
    const auto life = [&](const std::string& step, const std::string& day) {
        const Ran r = run({"life", "--papers", papers, "--today", day, "--json"}, scratch);
        const json j = r.status == 0 ? said(r) : json();
        std::string what = r.status != 0 ? "status" : !j.contains("pads") || j["pads"]["front"].is_null() ? "no front pads" : unless_equal("as_of_ride", j.value("as_of_ride", -1), rides);
        line(step, r, what);
        return what.empty() ? j : json();
    };
    read("1.9", half);
    const json before = life("life --papers, no work kept yet", last);
    read("1.5", last);
    const json after = life("life --papers after that reading", next);
    if (!before.empty() && !after.empty()) {
        const auto width = [&](const json& j) { return front_mm(j)["p95"].get<double>() - front_mm(j)["p05"].get<double>(); };
        const double mm = front_mm(after)["p50"];
        line("  what the reading did", {}, !(std::abs(mm - 1.5) < 0.15) ? fmt::format("the front pads are at {} mm, read 1.5", mm) : !(width(after) < width(before)) ? "their thickness is not known better" : "");
    }
    line("the same again", {}, life("life --papers, nothing new", next) == after ? "" : "another forecast");

    write_tables(scratch, tasks);
    const std::vector<std::string> base = {"life", bike, "--rides", scratch + "/rides.csv", "--fitted", scratch + "/fitted.csv", "--readings", scratch + "/readings.csv"};
    std::vector<std::string> many = base;
    many.insert(many.end(), {"--tasks", scratch + "/tasks.csv", "--out", scratch + "/forecast.csv"});
    {
        const Ran r = run(many, scratch);
        std::ifstream in(scratch + "/forecast.csv");
        std::string row, what = r.status != 0 ? "status" : "";
        std::getline(in, row);
        int rows = 0, near = 0;
        while (std::getline(in, row)) {
            const std::vector<std::string> cells = csv_fields(row);
            std::vector<double> q;
            for (std::size_t i = 3; i < 9 && i < cells.size(); ++i) q.push_back(std::stod(cells[i]));
            if (q.size() != 6 || !std::is_sorted(q.begin(), q.end())) what = fmt::format("points of row {} do not rise", rows + 1);
            // Front pads wear 30 um a ride from 2.4 to 0.5 mm: 63 rides. Known to a quarter once they were read three times.
            if (cells[0].starts_with("front_") && cells[0].ends_with("pad") && q.size() == 6) {
                const int set = std::stoi(cells[1]), start = 60 * (set - 1), on = std::stoi(cells[2]) - start;
                if (on > 30) near += std::abs(q[3] - start - 63.3) < 16 ? 1 : -1000;
            }
            ++rows;
        }
        if (what.empty()) what = unless_equal("rows", rows, tasks);
        if (what.empty() && near < 0) what = "a front pad's end is not where its readings point";
        line(fmt::format("life --tasks, {} of them", tasks), r, what);
    }
    return done();
}
