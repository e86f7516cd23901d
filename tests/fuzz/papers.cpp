// SPDX-License-Identifier: Apache-2.0
// Fuzzer of papers: any bytes as the file. Refused with a sentence and left as it was, or opened and able to answer.
#include "papers_seeds.hpp"

namespace {

std::size_t opened_n = 0, refused_n = 0;

}  // namespace

extern "C" int LLVMFuzzerTestOneInput(const std::uint8_t* data, std::size_t size) {
    using namespace bw;
    const std::string path = fuzz::folder() + "/file";
    fuzz::forget(path);
    const std::string bytes(reinterpret_cast<const char*>(data), size);
    std::ofstream(path, std::ios::binary) << bytes;
    auto opened = papers::open_papers(path);
    if (!opened) {
        ++refused_n;
        if (opened.error().text.find(path) == std::string::npos) fuzz::breach("a refusal that does not name the file: " + opened.error().text);
        if (fuzz::bytes_at(path) != bytes) fuzz::breach("a file that was refused was altered");
        return 0;
    }
    ++opened_n;
    fuzz::ask_everything(*opened->papers);
    (void)opened->papers->undo({"Ada", 1777620002, papers::new_uuid()});
    return 0;
}

const char* fuzz_name() { return "papers"; }
std::vector<std::string> fuzz_seeds() { return {bw::fuzz::papers_file()}; }
// Each is a file of its own: fewer than of what is read in memory.
std::size_t fuzz_mutations() { return 3000; }
std::vector<bw::fuzz::Count> fuzz_counts() { return {{"opened", opened_n, 0.05}, {"refused", refused_n, 0.05}}; }
