// SPDX-License-Identifier: Apache-2.0
// For the fuzzers: what each entry gives to replay.cpp, and how a breach ends the program.
#pragma once
#include <cstddef>
#include <cstdint>
#include <cstdio>
#include <cstdlib>
#include <string>
#include <vector>

namespace bw::fuzz {

[[noreturn]] inline void breach(const std::string& what) {
    std::fprintf(stderr, "breach: %s\n", what.c_str());
    std::fflush(stderr);
    std::abort();
}

//! What became of the inputs so far: a replay in which nothing is read any more tests nothing.
struct Count {
    const char* name;
    std::size_t n;
    double least_share;   //!< of the mutations
};

}  // namespace bw::fuzz

extern "C" int LLVMFuzzerTestOneInput(const std::uint8_t* data, std::size_t size);
const char* fuzz_name();
std::vector<std::string> fuzz_seeds();
std::size_t fuzz_mutations();
std::vector<bw::fuzz::Count> fuzz_counts();
