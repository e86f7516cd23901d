// SPDX-License-Identifier: Apache-2.0
// Fuzzer of exports: any files as the folder. Refused with a sentence and no file left, or papers that are sound and whose own
// export comes in again the same.
#include "papers_seeds.hpp"

namespace {

std::size_t taken_n = 0, refused_n = 0;

}  // namespace

extern "C" int LLVMFuzzerTestOneInput(const std::uint8_t* data, std::size_t size) {
    using namespace bw;
    const std::string path = fuzz::folder() + "/imported", again = fuzz::folder() + "/again";
    fuzz::forget(path), fuzz::forget(again);
    const fuzz::Files files = fuzz::unpacked({reinterpret_cast<const char*>(data), size});
    auto papers = papers::import_papers(path, fuzz::source_of(files));
    if (!papers) {
        ++refused_n;
        if (papers.error().text.empty()) fuzz::breach("an error without a sentence");
        for (const auto& left : fuzz::fs::directory_iterator(fuzz::folder()))
            if (left.path().filename().string().starts_with("imported")) fuzz::breach("an import that was refused left a file: " + left.path().string());
        return 0;
    }
    ++taken_n;
    const papers::Soundness sound = fuzz::must((*papers)->sound());
    if (!sound.troubles.empty()) fuzz::breach("an import that is not sound: " + sound.troubles.front());
    const fuzz::Files out = fuzz::exported(**papers);
    auto twice = papers::import_papers(again, fuzz::source_of(out));
    if (!twice) fuzz::breach("an export that does not come in again: " + twice.error().text);
    if (fuzz::exported(**twice) != out) fuzz::breach("an export that comes in and goes out as another");
    return 0;
}

const char* fuzz_name() { return "papers_export"; }
std::vector<std::string> fuzz_seeds() {
    using namespace bw::fuzz;
    const std::string path = folder() + "/seed";
    forget(path);
    auto p = must(bw::papers::make_papers(path));
    fill(*p);
    Files both = exported(*p), tables = both, one;
    tables.erase("papers.json");
    for (const auto& [name, bytes] : both)
        if (!name.ends_with(".csv")) one[name] = bytes;
    return {packed(both), packed(tables), packed(one)};
}
std::size_t fuzz_mutations() { return 3000; }
std::vector<bw::fuzz::Count> fuzz_counts() { return {{"taken", taken_n, 0.005}, {"refused", refused_n, 0.05}}; }
