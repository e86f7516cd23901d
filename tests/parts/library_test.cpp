// SPDX-License-Identifier: Apache-2.0
#include "parts/library.hpp"

#include <gtest/gtest.h>

using namespace bw;
using namespace bw::parts;

TEST(Library, EveryRowHasAGradeASourceAndASpreadThatIsNotNegative) {
    const auto library = load_library();
    ASSERT_TRUE(library) << library.error().text;
    ASSERT_GT(library->rows().size(), 50u);
    for (const auto& [id, d] : library->rows()) {
        EXPECT_FALSE(d.value.source.empty()) << id;
        EXPECT_GE(d.value.sd, 0) << id;
        EXPECT_NE(d.value.grade, Grade::measured) << id << ": nothing in data/ was measured by us";
        if (d.value.grade == Grade::published_from_memory) { EXPECT_NE(d.value.source.find("memory"), std::string::npos) << id; }
    }
}

TEST(Library, RefusesARowThatDoesNotSayWhereItComesFrom) {
    const auto r = parse_library({{"x.toml", "[a]\nvalue = 1\ngrade = \"assumed\"\n"}});
    ASSERT_FALSE(r);
    EXPECT_NE(r.error().text.find("x.toml:1"), std::string::npos);
}

TEST(Library, RefusesTheSameIdInTwoFiles) {
    const std::string row = "[a]\nvalue = 1\ngrade = \"assumed\"\nsource = \"s\"\n";
    EXPECT_FALSE(parse_library({{"x.toml", row}, {"y.toml", row}}));
}

TEST(Library, SaysWhichRowIsMissing) {
    const auto library = parse_library({});
    EXPECT_THROW((void)library->row("no.such"), std::logic_error);
}
