// SPDX-License-Identifier: Apache-2.0
// CPU time and memory of reading a recording, of its motion and of the whole answer, by the recording's length. Layer: bench
//   bench_ride [--hours H] [--threads N] [Google Benchmark's own options, as --benchmark_filter=motion]
// Each run's answer is checked; one that is wrong fails the program. No time fails anything.
#include <benchmark/benchmark.h>
#include <fmt/format.h>
#include <malloc.h>

#include <algorithm>
#include <chrono>
#include <cmath>
#include <cstdio>
#include <cstdlib>
#include <cstring>
#include <fstream>
#include <map>
#include <numeric>
#include <optional>
#include <string>
#include <utility>
#include <vector>

#include "answer/answer.hpp"
#include "long_ride.hpp"

namespace {

using namespace bw;
using benchmark::State;

// The generator's braking against ours, drag area and rolling resistance told: single barometric rides of half an hour are within
// 10 to 14 % in nine of ten (docs/measured.md). Hours on five kinds of ground are better than that or something broke.
constexpr double band_share = 0.15;
constexpr std::size_t part_count = 8;   // the shortest file is one of them

struct Setting {
    double hours = 10;
    int threads = 1;
} setting;

std::size_t seconds_of(double hours) { return static_cast<std::size_t>(std::lround(3600 * hours)); }

const bench::LongRide& ride() {
    static const bench::LongRide made = bench::long_ride(seconds_of(setting.hours));
    return made;
}

const parts::Library& library() {
    static const parts::Library loaded = *parts::load_library();
    return loaded;
}

Context context() {
    Context ctx;
    ctx.threads = setting.threads;
    return ctx;
}

//! The file of seconds [from_s, to_s); the one made last is kept.
const std::string& bytes_of(rides::Format format, std::size_t from_s, std::size_t to_s) {
    static std::string kept;
    static std::tuple<rides::Format, std::size_t, std::size_t> which{rides::Format::csv, 0, 0};
    if (which != std::tuple{format, from_s, to_s}) kept = bench::file_of(ride(), format, from_s, to_s), which = {format, from_s, to_s};
    return kept;
}

ride::Track track_of(rides::Format format, std::size_t from_s, std::size_t to_s) {
    return *ride::read_ride(bytes_of(format, from_s, to_s), fmt::format("made.{}", rides::name_of(format)));
}

answer::Request request_of(ride::Track track) {
    const std::string bike = fmt::format("format = 1\n[bike]\nkind = \"gravel\"\ntotal_mass_kg = {}\ndrag_area_m2 = {}\nrolling_resistance = {}\n", ride().bike.mass_kg,
                                         ride().bike.drag_area_m2, ride().bike.rolling_resistance);
    answer::Request request;
    request.bike = *parts::read_bike(bike, "made.toml", library());
    request.rides.push_back({std::move(track), {}});
    return request;
}

//! A line of /proc/self/status [MB]; 0 if the system has none.
double status_MB(const char* key) {
    std::ifstream in("/proc/self/status");
    for (std::string line; std::getline(in, line);)
        if (line.starts_with(key)) return std::atof(line.c_str() + std::strlen(key) + 1) / 1024;
    return 0;
}
//! From here on the peak counts anew.
void forget_peak() {
    malloc_trim(0);
    std::ofstream("/proc/self/clear_refs") << "5";
}

//! Longest time without a word of progress [s by the clock on the wall].
struct Silence {
    std::chrono::steady_clock::time_point last = std::chrono::steady_clock::now();
    double longest_s = 0;
    void heard() {
        const auto now = std::chrono::steady_clock::now();
        longest_s = std::max(longest_s, std::chrono::duration<double>(now - last).count());
        last = now;
    }
};

// Checks. Each gives what is wrong, or nothing.

struct Braked {
    double mean_J = 0, p05_J = 0, p95_J = 0;
};

Braked braked(const ride::MotionPaths& m) {
    std::vector<double> energies;
    for (const ride::MotionPath& p : m.paths) energies.push_back(p.brakes_J);
    return {mean_of(energies), quantile(energies, 0.05), quantile(energies, 0.95)};
}

std::string wrong_account(const ride::MotionPaths& m) {
    for (const ride::MotionPath& p : m.paths) {
        const double given = p.height_J + p.motion_J + p.rider_J, taken = p.air_J + p.rolling_J + p.brakes_J + p.unexplained_J;
        const double turned_over = p.air_J + p.rolling_J + std::abs(p.brakes_J);
        if (!(std::abs(given - taken) <= 1e-6 * turned_over)) return fmt::format("the account does not close: {} J given, {} J taken", given, taken);
        const double added = std::accumulate(p.brake_power_W.begin(), p.brake_power_W.end(), 0.0);
        if (!(std::abs(added - p.brakes_J) <= 1e-6 * turned_over)) return fmt::format("the seconds add up to {} J, the brakes have {} J", added, p.brakes_J);
    }
    return {};
}

std::string wrong_energy(double mean_J, double true_J) {
    if (std::abs(mean_J - true_J) <= band_share * true_J) return {};
    return fmt::format("brakes {:.0f} kJ, truly {:.0f} kJ: more than {:.0f} % off", mean_J / 1e3, true_J / 1e3, 100 * band_share);
}

// What is timed

void reading(State& state, rides::Format format, double hours) {
    const std::size_t n = seconds_of(hours);
    const std::string& bytes = bytes_of(format, 0, n);
    forget_peak();
    const double before_MB = status_MB("VmRSS:");
    for (auto _ : state) {
        const auto track = ride::read_ride(bytes, "made");
        if (!track || track->size() != n) state.SkipWithError(fmt::format("{} records read, {} written", track ? track->size() : 0, n).c_str());
        benchmark::DoNotOptimize(track);
    }
    state.counters["MB"] = status_MB("VmHWM:") - before_MB;
    state.counters["file_MB"] = static_cast<double>(bytes.size()) / 1e6;
}

// Everything that the paths share, and one of them.
void one_path(State& state, rides::Format format, double hours) {
    const ride::Track track = track_of(format, 0, seconds_of(hours));
    const rides::Machine& bike = ride().bike;
    const std::vector<ride::MotionParameters> draws = {{.mass_kg = bike.mass_kg, .rotating_kg = bike.rotating_kg, .drag_area_m2 = bike.drag_area_m2,
                                                        .rolling_resistance = bike.rolling_resistance, .efficiency = bike.efficiency, .wind_mps = 0, .air_degC = 16}};
    const std::vector<std::size_t> keys = {0};
    forget_peak();
    const double before_MB = status_MB("VmRSS:");
    for (auto _ : state) {
        const auto m = ride::reconstruct(context(), track, {}, draws, keys);
        if (const std::string wrong = m ? wrong_account(*m) : m.error().text; !wrong.empty()) state.SkipWithError(wrong.c_str());
    }
    state.counters["MB"] = status_MB("VmHWM:") - before_MB;
}

void motion(State& state, rides::Format format, double hours) {
    const std::size_t n = seconds_of(hours);
    const answer::Request request = request_of(track_of(format, 0, n));
    const double true_J = bench::brakes_J(ride(), 0, n);
    forget_peak();
    const double before_MB = status_MB("VmRSS:");
    for (auto _ : state) {
        const auto m = answer::motion_alone(context(), library(), request);
        std::string wrong = m ? wrong_account(m->front()) : m.error().text;
        if (m) {
            const Braked b = braked(m->front());
            if (wrong.empty()) wrong = wrong_energy(b.mean_J, true_J);
            state.counters["kJ"] = b.mean_J / 1e3;
            state.counters["kJ_p05"] = b.p05_J / 1e3;
            state.counters["kJ_p95"] = b.p95_J / 1e3;
        }
        if (!wrong.empty()) state.SkipWithError(wrong.c_str());
    }
    state.counters["MB"] = status_MB("VmHWM:") - before_MB;
    state.counters["kJ_true"] = true_J / 1e3;
}

void whole_answer(State& state, rides::Format format, double hours) {
    const std::size_t n = seconds_of(hours);
    const answer::Request request = request_of(track_of(format, 0, n));
    const double true_J = bench::brakes_J(ride(), 0, n);
    forget_peak();
    const double before_MB = status_MB("VmRSS:");
    Silence silence;
    for (auto _ : state) {
        Context ctx = context();
        silence = {};
        ctx.progress = [&](double, std::string_view) { silence.heard(); };
        const auto a = answer::answer(ctx, library(), request);
        silence.heard();
        std::string wrong = a ? "" : a.error().text;
        if (a) {
            const answer::RideAnswer& r = a->rides.front();
            const answer::Account& c = r.account;
            const double open_J = c.height_J + c.motion_J + c.rider_J - c.air_J - c.rolling_J - c.brakes_J - c.unexplained_J;
            if (!(std::abs(open_J) <= 1e-6 * (c.air_J + c.rolling_J + c.brakes_J))) wrong = fmt::format("the account of the answer is {} J open", open_J);
            if (wrong.empty()) wrong = wrong_energy(c.brakes_J, true_J);
            state.counters["kJ"] = c.brakes_J / 1e3;
            state.counters["kJ_p05"] = r.brake_energy_J.p05 / 1e3;
            state.counters["kJ_p95"] = r.brake_energy_J.p95 / 1e3;
        }
        if (!wrong.empty()) state.SkipWithError(wrong.c_str());
    }
    state.counters["MB"] = status_MB("VmHWM:") - before_MB;
    state.counters["kJ_true"] = true_J / 1e3;
    state.counters["silent_s"] = silence.longest_s;
}

// The longest file once whole and once in parts: the whole's own interval must hold the sum of the parts.
void in_parts(State& state, rides::Format format, double hours) {
    const std::size_t n = seconds_of(hours);
    const auto whole = answer::motion_alone(context(), library(), request_of(track_of(format, 0, n)));
    if (!whole) return state.SkipWithError(whole.error().text.c_str());
    const Braked of_whole = braked(whole->front());
    std::vector<answer::Request> requests;
    for (std::size_t k = 0; k < part_count; ++k) requests.push_back(request_of(track_of(format, k * n / part_count, (k + 1) * n / part_count)));
    forget_peak();
    const double before_MB = status_MB("VmRSS:");
    double sum_J = 0;
    for (auto _ : state) {
        sum_J = 0;
        for (const answer::Request& request : requests) {
            const auto m = answer::motion_alone(context(), library(), request);
            if (const std::string wrong = m ? wrong_account(m->front()) : m.error().text; !wrong.empty()) state.SkipWithError(wrong.c_str());
            if (m) sum_J += braked(m->front()).mean_J;
        }
    }
    if (sum_J < of_whole.p05_J || sum_J > of_whole.p95_J)
        state.SkipWithError(fmt::format("{} parts have {:.0f} kJ, the whole {:.0f} ({:.0f} to {:.0f})", part_count, sum_J / 1e3, of_whole.mean_J / 1e3, of_whole.p05_J / 1e3, of_whole.p95_J / 1e3).c_str());
    state.counters["MB"] = status_MB("VmHWM:") - before_MB;
    state.counters["kJ"] = sum_J / 1e3;
    state.counters["kJ_p05"] = of_whole.p05_J / 1e3;
    state.counters["kJ_p95"] = of_whole.p95_J / 1e3;
    state.counters["kJ_true"] = bench::brakes_J(ride(), 0, n) / 1e3;
}

//! A row a run; names are "what/file/hours".
class Table : public benchmark::BenchmarkReporter {
public:
    bool failed = false;
    bool ReportContext(const Context&) override {
        fmt::print("One record a second, {} thread(s). CPU is that of the process; MB: peak beyond what was there before; silence: longest time without progress.\n\n"
                   "| what | file | hours | CPU, s | CPU an hour, s | times reading | peak, MB | brakes, kJ (5 to 95 %) | truly, kJ | silence, s |\n"
                   "|---|---|---|---|---|---|---|---|---|---|\n", setting.threads);
        return true;
    }
    void ReportRuns(const std::vector<Run>& runs) override {
        for (const Run& run : runs) {
            if (run.run_type != Run::RT_Iteration) continue;
            const std::string name = run.run_name.function_name;
            const std::size_t a = name.find('/'), b = name.find('/', a + 1);
            const std::string what = name.substr(0, a), file = name.substr(a + 1, b - a - 1);
            const double hours = std::atof(name.c_str() + b + 1);
            if (run.error_occurred) {
                fmt::print("| {} | {} | {:g} | WRONG: {} |\n", what, file, hours, run.error_message);
                failed = true;
                continue;
            }
            const double cpu_s = run.GetAdjustedCPUTime() / benchmark::GetTimeUnitMultiplier(run.time_unit);
            if (what == "reading") reading_s_[{file, hours}] = cpu_s;
            const auto read = reading_s_.find({file, hours});
            const auto counter = [&](const char* key) -> std::optional<double> {
                const auto it = run.counters.find(key);
                return it == run.counters.end() ? std::nullopt : std::optional(it->second.value);
            };
            const auto text = [](std::optional<double> v, int digits) { return v ? fmt::format("{:.{}f}", *v, digits) : ""; };
            fmt::print("| {} | {}{} | {:g} | {:.{}f} | {:.{}f} | {} | {:.0f} | {} | {} | {} |\n", what, file, counter("file_MB") ? fmt::format(", {:.1f} MB", *counter("file_MB")) : "", hours, cpu_s,
                       cpu_s < 10 ? 3 : 1, cpu_s / hours, cpu_s / hours < 1 ? 3 : 2, read == reading_s_.end() ? "" : fmt::format("{:.0f}", cpu_s / read->second), *counter("MB"),
                       counter("kJ") ? fmt::format("{:.0f} ({:.0f} to {:.0f})", *counter("kJ"), *counter("kJ_p05"), *counter("kJ_p95")) : "", text(counter("kJ_true"), 0), text(counter("silent_s"), 1));
            std::fflush(stdout);
        }
    }

private:
    std::map<std::pair<std::string, double>, double> reading_s_;
};

}  // namespace

int main(int argc, char** argv) {
    benchmark::Initialize(&argc, argv);
    for (int i = 1; i < argc; ++i) {
        const std::string a = argv[i];
        const bool value = i + 1 < argc;
        if (a == "--hours" && value) setting.hours = std::atof(argv[++i]);
        else if (a == "--threads" && value) setting.threads = std::atoi(argv[++i]);
        else setting.threads = 0;
    }
    if (!(setting.hours >= part_count * 0.1 && setting.hours <= 18) || setting.threads < 1) {
        fmt::print(stderr, "bench_ride [--hours 0.8 to 18] [--threads N] [--benchmark_filter=REGEX ...]\n");
        return 2;
    }
    using rides::Format;
    const auto add = [](const char* what, auto* run, Format format, double hours) {
        auto* b = benchmark::RegisterBenchmark(fmt::format("{}/{}/{}", what, rides::name_of(format), hours).c_str(), [=](State& state) { run(state, format, hours); });
        b->MeasureProcessCPUTime()->Unit(benchmark::kMillisecond);
        if (run != &reading) b->Iterations(1);
    };
    const std::vector<double> lengths = {setting.hours / 8, setting.hours / 4, setting.hours / 2, setting.hours};
    for (const double hours : lengths) add("reading", reading, Format::gpx, hours);
    for (const double hours : lengths) add("motion, one path", one_path, Format::gpx, hours);
    for (const double hours : lengths) add("motion, 64 paths", motion, Format::gpx, hours);
    for (const double hours : lengths) add("answer", whole_answer, Format::gpx, hours);
    add("motion in 8 parts", in_parts, Format::gpx, setting.hours);
    add("reading", reading, Format::fit, setting.hours);
    add("motion, one path", one_path, Format::fit, setting.hours);
    add("motion, 64 paths", motion, Format::fit, setting.hours);
    add("answer", whole_answer, Format::fit, setting.hours);
    Table table;
    benchmark::RunSpecifiedBenchmarks(&table);
    return table.failed ? 1 : 0;
}
