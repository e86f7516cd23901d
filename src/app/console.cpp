// SPDX-License-Identifier: Apache-2.0
// Terminal, interrupt key, clock.                                                                        Layer: app
#include "console.hpp"

#include <fmt/core.h>
#include <unistd.h>

#include <atomic>
#include <csignal>
#include <cstdio>
#include <ctime>
#include <thread>

namespace bw::app {

namespace {

// A signal handler can reach nothing else.
std::atomic<bool> interrupted{false};
std::atomic<bool> line_open{false};

}  // namespace

Context context_of(const Common& common) {
    std::signal(SIGINT, [](int) { interrupted.store(true); });
    std::signal(SIGTERM, [](int) { interrupted.store(true); });
    Context ctx;
    ctx.seed = common.seed;
    ctx.threads = common.threads > 0 ? common.threads : static_cast<int>(std::max(1u, std::thread::hardware_concurrency()));
    ctx.stop = &interrupted;
    if (isatty(STDERR_FILENO))
        ctx.progress = [](double share, std::string_view text) {
            fmt::print(stderr, "\r\033[K{:3.0f} %  {}", share * 100, text);
            std::fflush(stderr);
            line_open.store(true);
        };
    return ctx;
}

std::optional<long> clock_day() {
    constexpr long not_before = 20454;   // 2026-01-01
    const long day = static_cast<long>(std::time(nullptr) / 86400);
    return day >= not_before ? std::optional(day) : std::nullopt;
}

void clear_progress() {
    if (line_open.exchange(false)) fmt::print(stderr, "\r\033[K");
}

int fail(const Error& error) {
    clear_progress();
    fmt::print(stderr, "brakewright: {}\n", error.text);
    return exit_status(error.code);
}

double cpu_s() {
    timespec t{};
    clock_gettime(CLOCK_PROCESS_CPUTIME_ID, &t);
    return static_cast<double>(t.tv_sec) + 1e-9 * static_cast<double>(t.tv_nsec);
}

}  // namespace bw::app
