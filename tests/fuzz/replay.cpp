// SPDX-License-Identifier: Apache-2.0
// Runs a fuzzer's entry without a fuzzing engine: the corpus, the seeds, and thousands of the same mutations every time.
//   fuzz_NAME_replay                  corpus, seeds, mutations
//   fuzz_NAME_replay FILE...          these files
//   fuzz_NAME_replay --seeds DIR      writes the seeds there, for an engine
#include <algorithm>
#include <chrono>
#include <csignal>
#include <cstdint>
#include <cstdio>
#include <cstring>
#include <filesystem>
#include <fstream>
#include <string>
#include <vector>

#include "bw_paths.hpp"
#include "base/sampling.hpp"
#include "base/text.hpp"
#include "fuzz.hpp"

namespace {

namespace fs = std::filesystem;

std::string current;   // what the entry is looking at

//! Keeps the input that ended the program.
extern "C" void keep_input(int signal) {
    if (std::FILE* f = std::fopen("fuzz_find", "wb")) {
        std::fwrite(current.data(), 1, current.size(), f);
        std::fclose(f);
        std::fprintf(stderr, "the input that did it is in ./fuzz_find; mend the reader and put it into tests/fuzz/corpus/%s under a name that says what it is\n", fuzz_name());
    }
    std::signal(signal, SIG_DFL);
    std::raise(signal);
}

void look_at(std::string bytes) {
    current = std::move(bytes);
    // A copy of the exact size on the heap: reading beyond it shows in the build with sanitizers.
    const std::vector<std::uint8_t> exact(current.begin(), current.end());
    LLVMFuzzerTestOneInput(exact.data(), exact.size());
}

//! Mutation k of a seed: flips, cuts, repeats, splices with another seed, digits and whole numbers to extremes.
std::string mutated(const std::vector<std::string>& seeds, std::size_t k) {
    const auto any = [&](std::size_t what, std::size_t i, std::size_t below) { return below ? static_cast<std::size_t>(bw::mix(20260501, k, what, i) % below) : 0; };
    static const char* const numbers[] = {"-1", "0", "1e308", "-1e308", "nan", "99999999999999999999", "1e-320", "0x7f", "1,5", "", "2147483647", "9e9", "-90.0000001", "180.0000001"};
    static const std::string spice = "<>/\"=;,.-:T0123456789\n\r\t e?!&[]";
    std::string b = seeds[k % seeds.size()];
    const std::size_t changes = 1 + any(0, 0, 8);
    for (std::size_t c = 0; c < changes && !b.empty(); ++c) {
        const std::size_t at = any(1, c, b.size()), length = 1 + any(2, c, 40);
        switch (any(3, c, 11)) {
            case 0: b[at] = static_cast<char>(b[at] ^ 1 << any(4, c, 8)); break;
            case 1: b[at] = static_cast<char>(any(4, c, 256)); break;
            case 2: b[at] = spice[any(4, c, spice.size())]; break;
            case 3: b.erase(at, length); break;
            case 4: b.insert(at, b.substr(any(4, c, b.size()), length)); break;
            case 5: {
                const auto& other = seeds[any(4, c, seeds.size())];
                const std::size_t from = any(5, c, other.size());
                b = b.substr(0, at) + other.substr(from);
                break;
            }
            case 6: {   // a number in text
                const auto from = b.find_first_of("0123456789", at);
                if (from == b.npos) break;
                const auto to = std::min(b.find_first_not_of("0123456789.-", from), b.size());
                b.replace(from, to - from, numbers[any(4, c, std::size(numbers))]);
                break;
            }
            case 7: {   // a binary number
                static const std::uint8_t ends[] = {0x00, 0xFF, 0x7F, 0x80};
                const std::size_t n = std::min<std::size_t>(b.size() - at, std::size_t{1} << any(4, c, 4));
                std::fill_n(b.begin() + static_cast<std::ptrdiff_t>(at), n, static_cast<char>(ends[any(5, c, 4)]));
                break;
            }
            case 8: b.insert(at, 1 + any(4, c, 3), static_cast<char>(any(5, c, 256))); break;
            case 9: std::swap(b[at], b[any(4, c, b.size())]); break;
            default:
                if (any(4, c, 3) == 0) b.resize(at);
        }
    }
    return b;
}

}  // namespace

int main(int argc, char** argv) {
    std::signal(SIGABRT, keep_input);
    const auto seeds = fuzz_seeds();
    if (argc == 3 && std::strcmp(argv[1], "--seeds") == 0) {
        fs::create_directories(argv[2]);
        for (std::size_t i = 0; i < seeds.size(); ++i) std::ofstream(std::string(argv[2]) + "/seed" + std::to_string(i), std::ios::binary) << seeds[i];
        return 0;
    }
    std::vector<std::string> files(argv + 1, argv + argc);
    const bool all = files.empty();
    const std::string corpus = std::string(BW_ROOT) + "/tests/fuzz/corpus/" + fuzz_name();
    if (all && fs::exists(corpus))
        for (const auto& e : fs::directory_iterator(corpus))
            if (e.is_regular_file()) files.push_back(e.path().string());
    std::sort(files.begin(), files.end());
    for (const auto& f : files) {
        const auto bytes = bw::read_file(f);
        if (!bytes) {
            std::fprintf(stderr, "%s\n", bytes.error().text.c_str());
            return 1;
        }
        look_at(*bytes);
    }
    if (!all) return 0;
    for (const auto& s : seeds) look_at(s);
    const std::size_t mutations = fuzz_mutations();
    const auto start = std::chrono::steady_clock::now();
    for (std::size_t k = 0; k < mutations; ++k) look_at(mutated(seeds, k));
    std::printf("%s: %zu files of the corpus, %zu seeds, %zu mutations in %.1f s:", fuzz_name(), files.size(), seeds.size(), mutations,
                std::chrono::duration<double>(std::chrono::steady_clock::now() - start).count());
    bool fair = true;
    for (const bw::fuzz::Count& c : fuzz_counts()) {
        std::printf(" %zu %s", c.n, c.name);
        fair = fair && static_cast<double>(c.n) >= c.least_share * static_cast<double>(mutations);
    }
    std::printf("\n");
    if (!fair) {
        std::fprintf(stderr, "too few of a kind\n");
        return 1;
    }
    return 0;
}
