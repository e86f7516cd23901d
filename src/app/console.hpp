// SPDX-License-Identifier: Apache-2.0
// What all verbs share: options, the interrupt key, progress, one way to fail.                           Layer: app
#pragma once
#include <cstdint>
#include <optional>
#include <string>

#include "base/context.hpp"
#include "base/result.hpp"

namespace bw::app {

inline constexpr const char* version = BW_VERSION;

struct Common {
    bool json = false;
    std::uint64_t seed = 1;
    int threads = 0;   //!< 0: as many as the machine has
};

//! Seed, threads, the interrupt key as stop flag; progress on standard error if that is a terminal.
Context context_of(const Common&);
//! The computer's own day, since 1970-01-01; nothing if its clock is plainly not set (before this program was).
std::optional<long> clock_day();
//! Ends a progress line, if one is open.
void clear_progress();
//! Prints the error on standard error; returns its exit status.
int fail(const Error&);
//! CPU time of this process [s].
double cpu_s();

}  // namespace bw::app
