// SPDX-License-Identifier: Apache-2.0
// Running the program from a bench: time, memory, output, and a table whose wrong lines are counted.      Layer: bench
#pragma once
#include <fcntl.h>
#include <fmt/format.h>
#include <sys/resource.h>
#include <sys/wait.h>
#include <unistd.h>

#include <chrono>
#include <cstdlib>
#include <filesystem>
#include <fstream>
#include <initializer_list>
#include <sstream>
#include <string>
#include <utility>
#include <vector>

#include "bw_paths.hpp"

namespace bw::bench {

struct Ran {
    int status = -1;
    double wall_s = 0, cpu_s = 0, peak_MB = 0;
    std::string out;
};

//! Runs the program and waits; standard error stays the bench's own.
inline Ran run(const std::vector<std::string>& words, const std::string& scratch) {
    const std::string out = scratch + "/out";
    std::vector<std::string> all = {BW_PROGRAM};
    all.insert(all.end(), words.begin(), words.end());
    std::vector<char*> argv;
    for (std::string& w : all) argv.push_back(w.data());
    argv.push_back(nullptr);
    const auto start = std::chrono::steady_clock::now();
    const pid_t child = ::fork();
    if (child == 0) {
        const int to = ::open(out.c_str(), O_WRONLY | O_CREAT | O_TRUNC, 0600);
        ::dup2(to, STDOUT_FILENO);
        ::execv(BW_PROGRAM, argv.data());
        ::_exit(127);
    }
    int status = 0;
    rusage used{};
    ::wait4(child, &status, 0, &used);
    Ran r;
    r.wall_s = std::chrono::duration<double>(std::chrono::steady_clock::now() - start).count();
    r.status = WIFEXITED(status) ? WEXITSTATUS(status) : 128;
    const auto s = [](const timeval& t) { return static_cast<double>(t.tv_sec) + 1e-6 * static_cast<double>(t.tv_usec); };
    r.cpu_s = s(used.ru_utime) + s(used.ru_stime);
    r.peak_MB = static_cast<double>(used.ru_maxrss) / 1024;
    std::ifstream in(out, std::ios::binary);
    std::ostringstream text;
    text << in.rdbuf();
    r.out = text.str();
    return r;
}

inline int wrong = 0;

inline void heading() { fmt::print("{:<46} {:>9} {:>9} {:>9}\n", "step", "wall s", "CPU s", "peak MB"); }

//! A line of the table; what: empty if the step gave what it must.
inline void line(const std::string& step, const Ran& r, const std::string& what) {
    fmt::print("{:<46} {:>9.2f} {:>9.2f} {:>9.0f}  {}\n", step, r.wall_s, r.cpu_s, r.peak_MB, what.empty() ? "as it must be" : "WRONG: " + what);
    std::fflush(stdout);
    if (!what.empty()) ++wrong;
}

template <class T>
std::string unless_equal(const char* name, const T& got, const T& wanted) {
    return got == wanted ? std::string() : fmt::format("{} is {}, must be {}", name, got, wanted);
}

//! Reads "--name N" and "--folder DIR" words; false where a name stands without its value.
inline bool told(int argc, char** argv, std::initializer_list<std::pair<const char*, int*>> numbers, std::string& folder) {
    for (int i = 1; i + 1 < argc; i += 2) {
        const std::string name = argv[i];
        if (name == "--folder") folder = argv[i + 1];
        for (const auto& [known, value] : numbers)
            if (name == known) *value = std::atoi(argv[i + 1]);
    }
    return argc % 2 == 1;
}

//! A folder of its own that goes with it; path empty if none can be made.
struct Scratch {
    std::string path;
    explicit Scratch(const std::string& within) : path((within.empty() ? std::filesystem::temp_directory_path() : std::filesystem::path(within)) / "bw_bench_XXXXXX") {
        if (!mkdtemp(path.data())) path.clear();
    }
    Scratch(const Scratch&) = delete;
    Scratch& operator=(const Scratch&) = delete;
    ~Scratch() {
        std::error_code ignored;
        if (!path.empty()) std::filesystem::remove_all(path, ignored);
    }
};

//! The last line, and the exit status.
inline int done() {
    fmt::print("\n{}\n", wrong == 0 ? "all as it must be" : fmt::format("{} steps are wrong", wrong));
    return wrong == 0 ? 0 : 1;
}

}  // namespace bw::bench
