// SPDX-License-Identifier: Apache-2.0
// What a long computation may ask its caller for: seed, threads, a way to stop, a place to report progress.  Layer: base
#pragma once
#include <atomic>
#include <cstdint>
#include <functional>
#include <string_view>

namespace bw {

//! Passed first. No global state anywhere: two contexts in one process give the numbers of two processes.
struct Context {
    std::uint64_t seed = 1;
    int threads = 1;
    //! Set to true by the owner to stop long work; it returns Errc::cancelled.
    const std::atomic<bool>* stop = nullptr;
    //! share: 0..1 done; text: what is being done. May be empty. Called from the calling thread only.
    std::function<void(double share, std::string_view text)> progress;

    bool stopped() const { return stop && stop->load(std::memory_order_relaxed); }
};

//! Runs body(i) for i in [0, n), over ctx.threads threads; each i exactly once, whichever thread takes it, so results
//! written by index do not depend on the number of threads. Stops early when ctx.stopped(). body must not throw.
void parallel_for(const Context& ctx, std::size_t n, const std::function<void(std::size_t)>& body);

}  // namespace bw
