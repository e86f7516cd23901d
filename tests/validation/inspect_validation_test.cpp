// SPDX-License-Identifier: Apache-2.0
// inspect against the outside: GUM, JCGM 106, Boost.Math, published boiling points.
#include <gtest/gtest.h>

#include <boost/math/distributions/normal.hpp>
#include <cmath>
#include <string>

#include "inspect/verdict.hpp"
#include "row.hpp"

using namespace bw::inspect;
using bw::validation::Basis;
using bw::validation::check;

namespace {

const char* gum = "JCGM 100:2008 (GUM) 4.3.7: rectangular distribution of half width a has u = a/sqrt(3); arithmetic";

}  // namespace

TEST(InspectValidation, StandardUncertaintiesOfADigitalCaliper) {
    // 0.01/sqrt(12), 0.02/sqrt(3) and their root sum of squares, to seven digits.
    check({.id = "inspect-01", .what = "display step 0.01 mm -> standard uncertainty", .source = gum, .basis = Basis::exact,
           .expected = 0.002886751, .tolerance = 1e-9, .unit = "mm", .why = "digits written out",
           .function = "inspect::standard_uncertainty", .used_by_answer = true},
          standard_uncertainty({.resolution = 0.01}));
    check({.id = "inspect-02", .what = "permitted error +-0.02 mm -> standard uncertainty", .source = gum, .basis = Basis::exact,
           .expected = 0.011547005, .tolerance = 1e-9, .unit = "mm", .why = "digits written out",
           .function = "inspect::standard_uncertainty", .used_by_answer = true},
          standard_uncertainty({.permitted_error = 0.02}));
    check({.id = "inspect-03", .what = "both together -> combined standard uncertainty", .source = gum, .basis = Basis::exact,
           .expected = 0.011902381, .tolerance = 1e-9, .unit = "mm", .why = "digits written out",
           .function = "inspect::standard_uncertainty", .used_by_answer = true},
          standard_uncertainty({.resolution = 0.01, .permitted_error = 0.02}));
    check({.id = "inspect-04", .what = "scatter 0.03 mm, mean of 9 readings -> standard uncertainty of the mean",
           .source = "JCGM 100:2008 (GUM) 4.2.3: s/sqrt(n); arithmetic", .basis = Basis::exact, .expected = 0.01, .tolerance = 1e-12,
           .unit = "mm", .why = "rounding", .function = "inspect::standard_uncertainty"},
          standard_uncertainty({.repeat_sd = 0.03, .repeats = 9}));
}

TEST(InspectValidation, ConformanceProbabilityAgainstBoost) {
    const boost::math::normal_distribution<double> normal(0, 1);
    double worst = 0, least = 1;
    for (double x = 0.4; x < 2.2; x += 0.01)
        for (const double u : {0.003, 0.012, 0.1, 0.5}) {
            const double want = boost::math::cdf(normal, (0.8 - x) / u);
            worst = std::max(worst, std::abs(probability_below(0.8, x, u) - want));
            least = std::min(least, want);
        }
    ASSERT_LT(least, 1e-12);   // the far tail is among them
    check({.id = "inspect-05", .what = "chance of being under 0.8 mm, readings 0.4 to 2.2 mm, u 0.003 to 0.5 mm: largest difference",
           .source = "JCGM 106:2012 7.3 (normal, one limit); Boost.Math cdf(normal)", .basis = Basis::library, .expected = 0,
           .tolerance = 1e-12, .unit = "", .why = "two implementations of erfc, rounded to 1e-12", .function = "inspect::probability_below",
           .used_by_answer = true},
          std::round(worst * 1e12) / 1e12);
}

TEST(InspectValidation, GuardedLimitAgainstBoost) {
    const boost::math::normal_distribution<double> normal(0, 1);
    check({.id = "inspect-06", .what = "limit 1.5 mm, u 0.0119 mm, risk 5 % -> least reading that is good enough",
           .source = "JCGM 106:2012 8.3 (guard band, one limit); Boost.Math quantile(normal)", .basis = Basis::library,
           .expected = 1.5 + boost::math::quantile(normal, 0.95) * 0.0119, .tolerance = 1e-12, .unit = "mm", .why = "rounding",
           .function = "inspect::guarded_limit", .used_by_answer = true},
          guarded_limit(1.5, 0.0119, 0.05));
}

TEST(InspectValidation, WorkedFiguresOfTheConformityGuide) {
    check({.id = "inspect-07", .what = "-5.47 V read, u 0.05 V, limit -5.40 V from above -> chance of being under it",
           .source = "JCGM 106:2012 7.3.3, example of a Zener diode, 0.92; from memory, not re-read", .basis = Basis::from_memory,
           .expected = 0.92, .tolerance = 0.005, .unit = "", .why = "printed with two digits", .function = "inspect::probability_below",
           .used_by_answer = true},
          probability_below(-5.40, -5.47, 0.05));
    check({.id = "inspect-08", .what = "guard band for 95 % conformance over u", .source = "JCGM 106:2012 table 1, z = 1.64; from memory, not re-read",
           .basis = Basis::from_memory, .expected = 1.64, .tolerance = 0.005, .unit = "", .why = "printed with two decimals",
           .function = "inspect::guarded_limit", .used_by_answer = true},
          guarded_limit(0, 1, 0.05));
}

TEST(InspectValidation, TheVerdictTurnsWhereTheGuideSaysItTurns) {
    const auto library = bw::parts::load_library();
    ASSERT_TRUE(library) << library.error().text;
    const Practice p = practice_of(*library);
    const boost::math::normal_distribution<double> normal(0, 1);
    // The least pad reading that gives no reason, by bisection on the verdict itself.
    const double u = 0.05, limit = 0.8;
    double low = limit, high = 2;
    while (high - low > 1e-9) {
        const double x = (low + high) / 2;
        const auto state = check_pad({.end = bw::parts::End::front, .corners_mm = {&x, 1}, .uncertainty_mm = u, .plate = Plate::measured,
                                      .least_mm = limit}, p).state;
        (state == State::no_reason_found ? high : low) = x;
    }
    check({.id = "inspect-09", .what = "pad, limit 0.8 mm, u 0.05 mm -> least reading in which no reason is found",
           .source = "JCGM 106:2012 8.3, 95 % conformance; Boost.Math quantile(normal)", .basis = Basis::library,
           .expected = limit + boost::math::quantile(normal, 0.95) * u, .tolerance = 1e-6, .unit = "mm", .why = "bisection to 1e-9",
           .function = "inspect::check_pad", .used_by_answer = true},
          high);
}

TEST(InspectValidation, LeastBoilingPointsOfTheGrades) {
    const auto library = bw::parts::load_library();
    ASSERT_TRUE(library) << library.error().text;
    const Practice p = practice_of(*library);
    const struct { const char* id; const char* what; bw::parts::FluidKind kind; double degC; } rows[] = {
        {"inspect-10", "DOT 3, dry", bw::parts::FluidKind::dot3, 205},
        {"inspect-11", "DOT 4, dry", bw::parts::FluidKind::dot4, 230},
        {"inspect-12", "DOT 5.1, dry", bw::parts::FluidKind::dot5_1, 260}};
    for (const auto& row : rows)
        check({.id = row.id, .what = std::string(row.what) + " -> least boiling point that its text names",
               .source = "49 CFR 571.116 S5.1.1, through two encyclopaedic tables; the standard was not re-read", .basis = Basis::from_memory,
               .expected = row.degC, .tolerance = 0, .unit = "degC", .why = "a minimum of a standard",
               .function = "inspect::published_dry_point_degC", .used_by_answer = true},
              published_dry_point_degC(p, row.kind).value_or(std::nan("")));
}
