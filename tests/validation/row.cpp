// SPDX-License-Identifier: Apache-2.0
// Collects the outside checks of one run and writes docs/validation.md.
#include "row.hpp"

#include <fmt/format.h>
#include <gtest/gtest.h>

#include <algorithm>
#include <cmath>
#include <fstream>
#include <sstream>
#include <vector>

#include "writer.hpp"

namespace bw::validation {

namespace {

struct Kept {
    Row row;
    double got;
    bool held;
    std::string test;   // gtest's name of the test that made it
};
struct Fact {
    std::string id, what, unit, remark;
    double low, high, got;
};

std::vector<Kept>& rows() {
    static std::vector<Kept> all;
    return all;
}
std::vector<Fact>& facts() {
    static std::vector<Fact> all;
    return all;
}

const char* word_of(Basis basis) {
    switch (basis) {
        case Basis::source_read: return "read";
        case Basis::exact: return "exact";
        case Basis::library: return "library";
        case Basis::from_memory: return "from memory";
        case Basis::common_practice: return "common practice";
    }
    return "";
}

std::string cell(std::string text) {
    std::replace(text.begin(), text.end(), '|', '/');
    std::replace(text.begin(), text.end(), '\n', ' ');
    return text;
}

// Enough digits to see that it holds, few enough that another compiler's last bits do not change the page.
std::string number(double v) { return fmt::format("{:.5g}", v == 0 ? 0.0 : v); }

}  // namespace

void check(const Row& row, double got) {
    const double off = std::abs(got - row.expected);
    const bool held = off <= row.tolerance;   // false for NaN
    EXPECT_TRUE(held) << row.id << " (" << row.function << "): " << row.what << ": expected " << row.expected << " +- " << row.tolerance << " "
                      << row.unit << ", got " << got;
    EXPECT_FALSE(row.source.empty()) << row.id << ": a check needs its source";
    for (const Kept& k : rows()) EXPECT_NE(k.row.id, row.id) << "this id is there twice";
    const ::testing::TestInfo* test = ::testing::UnitTest::GetInstance()->current_test_info();
    rows().push_back({row, got, held, test ? std::string(test->test_suite_name()) + "." + test->name() : ""});
}

void report(const std::string& id, const std::string& what, double low, double high, const std::string& unit, double got, const std::string& remark) {
    facts().push_back({id, what, unit, remark, low, high, got});
}

std::string page(const std::string& by_hand) {
    std::sort(rows().begin(), rows().end(), [](const Kept& a, const Kept& b) { return a.row.id < b.row.id; });
    std::sort(facts().begin(), facts().end(), [](const Fact& a, const Fact& b) { return a.id < b.id; });
    const auto used = std::count_if(rows().begin(), rows().end(), [](const Kept& k) { return k.row.used_by_answer; });
    std::string out =
        "# Outside checks\n\nWritten by the test run (`test_validation`); do not edit. Each row sets a value of ours against one from outside the "
        "project.\nBasis: *read*: the source's text was read; *exact*: mathematics, a definition or arithmetic on a formula, re-derivable by "
        "anybody;\n*library*: a general-purpose library computed it in the same run, or a program whose stored result is named; *from memory*: the named source was not re-read, so the row "
        "is a guard, not a proof;\n*common practice*: a fact of the trade without a source.\n\n";
    out += fmt::format("{} checks, {} of them through a function that `brakewright answer` itself calls (marked *).\n", rows().size(), used);
    out += "`tests/validation/perturb` changes each starred function by 5 % and counts the rows that notice.\n\n";
    out += "| id | what | expected | got | tolerance | why this tolerance | basis and source | function |\n|---|---|---|---|---|---|---|---|\n";
    for (const Kept& k : rows()) {
        const std::string unit = k.row.unit.empty() ? "" : " " + k.row.unit;
        out += fmt::format("| {} | {} | {}{} | {}{} | {} | {} | *{}*; {} | `{}`{} |\n", k.row.id, cell(k.row.what), number(k.row.expected), unit,
                           k.held ? "" : "**", number(k.got) + unit + (k.held ? "" : "** MISSED"), number(k.row.tolerance), cell(k.row.why),
                           word_of(k.row.basis), cell(k.row.source), k.row.function, k.row.used_by_answer ? " *" : "");
    }
    out += "\n## Facts of the trade\n\nCommon practice, no source. The medians of the priors were frozen from the ranges cited in data/ before these "
           "figures were compared, and no miss was tuned away; the spread of rotor wear was widened afterwards (wear-trade-03, wear-trade-12).\n\n| id | what | the trade says | ours | | remark |\n|---|---|---|---|---|---|\n";
    for (const Fact& f : facts()) {
        const bool hit = f.got >= f.low && f.got <= f.high;
        const std::string range = f.low == f.high ? number(f.low) : number(f.low) + " to " + number(f.high);
        out += fmt::format("| {} | {} | {} {} | {} {} | {} | {} |\n", f.id, cell(f.what), range, f.unit, number(f.got), f.unit, hit ? "hit" : "miss",
                           cell(f.remark));
    }
    return out + "\n" + by_hand;
}

std::size_t row_count() { return rows().size(); }

std::string row_lines() {
    std::string out;
    for (const Kept& k : rows()) out += fmt::format("{},{},{},{},{}\n", k.row.id, k.row.function, k.row.used_by_answer ? "yes" : "no", k.held ? "yes" : "no", k.test);
    return out;
}

}  // namespace bw::validation
