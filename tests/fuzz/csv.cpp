// SPDX-License-Identifier: Apache-2.0
// Fuzzer of ride CSV, and of the walk that tells formats apart and unwraps gzip.
#include "oracle.hpp"
#include "seeds.hpp"

extern "C" int LLVMFuzzerTestOneInput(const std::uint8_t* data, std::size_t size) {
    const std::string_view bytes(reinterpret_cast<const char*>(data), size);
    bw::fuzz::reading(bw::ride::readers::read_csv(bytes, "fuzz"));
    bw::fuzz::recording(bytes);
    return 0;
}

const char* fuzz_name() { return "csv"; }
std::vector<std::string> fuzz_seeds() { return bw::fuzz::csv_seeds(); }
