// SPDX-License-Identifier: Apache-2.0
// Fuzzer of the GPX reader and the cleaning behind it.
#include "oracle.hpp"
#include "seeds.hpp"

extern "C" int LLVMFuzzerTestOneInput(const std::uint8_t* data, std::size_t size) {
    bw::fuzz::reading(bw::ride::readers::read_gpx({reinterpret_cast<const char*>(data), size}, "fuzz"));
    return 0;
}

const char* fuzz_name() { return "gpx"; }
std::vector<std::string> fuzz_seeds() { return bw::fuzz::gpx_seeds(); }
