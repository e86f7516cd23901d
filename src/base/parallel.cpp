// SPDX-License-Identifier: Apache-2.0
// A loop over independent items on a few threads.                                                         Layer: base
#include <atomic>
#include <thread>
#include <vector>

#include "base/context.hpp"

namespace bw {

void parallel_for(const Context& ctx, std::size_t n, const std::function<void(std::size_t)>& body) {
    const std::size_t threads = std::min<std::size_t>(ctx.threads < 1 ? 1 : static_cast<std::size_t>(ctx.threads), n);
    if (threads <= 1) {
        for (std::size_t i = 0; i < n && !ctx.stopped(); ++i) body(i);
        return;
    }
    std::atomic<std::size_t> next{0};
    const auto work = [&] {
        for (std::size_t i = next.fetch_add(1); i < n && !ctx.stopped(); i = next.fetch_add(1)) body(i);
    };
    std::vector<std::jthread> crew;
    for (std::size_t k = 1; k < threads; ++k) crew.emplace_back(work);
    work();
}

}  // namespace bw
