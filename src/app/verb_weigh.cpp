// SPDX-License-Identifier: Apache-2.0
// `weigh`: two descriptions and rides in, text or JSON out.                                              Layer: app
#include <fmt/format.h>

#include "answer/weigh.hpp"
#include "verbs.hpp"

namespace bw::app {

int run_weigh(const WeighOptions& o) {
    const Context ctx = context_of(o.common.common);
    Result<parts::Library> library = parts::load_library();
    if (!library) return fail({Errc::internal, library.error().text});
    Result<parts::Bike> a = bike_in(o.common.bike, *library), b = bike_in(o.other, *library);
    if (!a) return fail(a.error());
    if (!b) return fail(b.error());
    answer::Request rides;
    if (Status s = read_request(rides, o.common, {a->name, b->name}); !s) return fail(s.error());
    Result<answer::Weighed> weighed = answer::weigh(ctx, *library, *a, *b, rides);
    if (!weighed) return fail(weighed.error());
    clear_progress();
    fmt::print("{}", o.common.common.json ? answer::json_of(*weighed, version) : answer::text_of(*weighed, version));
    return 0;
}

}  // namespace bw::app
