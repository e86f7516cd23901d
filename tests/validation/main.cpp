// SPDX-License-Identifier: Apache-2.0
// Runs every outside check in one process and writes docs/validation.md into the build folder; with --write also into docs/.
// --rows FILE: instead of the page, a line a row for tests/validation/perturb: id,function,starred,held,test.
#include <gtest/gtest.h>

#include <cstdio>
#include <cstring>

#include "bw_paths.hpp"
#include "base/text.hpp"
#include "writer.hpp"

namespace {

// The page without the column of what was got: another processor's mathematics may move a last digit, and the rows
// themselves have their tolerances.
std::string without_got(const std::string& page) {
    std::string out;
    for (std::size_t at = 0; at < page.size();) {
        const std::size_t end = std::min(page.find('\n', at), page.size());
        int bars = 0;
        for (std::size_t i = at; i < end; ++i) {
            bars += page[i] == '|' ? 1 : 0;
            if (page[at] != '|' || bars != 4) out += page[i];
        }
        out += '\n';
        at = end + 1;
    }
    return out;
}

}  // namespace

int main(int argc, char** argv) {
    ::testing::InitGoogleTest(&argc, argv);
    bool write = false;
    const char* rows = nullptr;
    for (int i = 1; i < argc; ++i) {
        write = write || std::strcmp(argv[i], "--write") == 0;
        if (std::strcmp(argv[i], "--rows") == 0 && i + 1 < argc) rows = argv[i + 1];
    }
    const int failed = RUN_ALL_TESTS();
    if (rows) return bw::write_file(rows, bw::validation::row_lines()) ? failed : 1;
    if (::testing::GTEST_FLAG(filter) != "*") return failed;

    const std::string root = BW_ROOT;
    const auto by_hand = bw::read_file(root + "/docs/measured.md");
    if (!by_hand) return std::fprintf(stderr, "%s\n", by_hand.error().text.c_str()), 1;
    const std::string page = bw::validation::page(*by_hand);
    if (write) {
        if (const auto s = bw::write_file(root + "/docs/validation.md", page); !s) return std::fprintf(stderr, "%s\n", s.error().text.c_str()), 1;
        std::printf("docs/validation.md: %zu checks written\n", bw::validation::row_count());
    }
    if (const auto s = bw::write_file(std::string(BW_BUILD) + "/validation.md", page); !s) return 1;
    const auto committed = bw::read_file(root + "/docs/validation.md");
    if (!committed || without_got(*committed) != without_got(page)) {
        std::fprintf(stderr, "docs/validation.md is not what this run found: run `build/release/tests/validation/test_validation --write`, read it, commit it\n");
        return 1;
    }
    return failed;
}
