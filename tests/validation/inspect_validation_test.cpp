// SPDX-License-Identifier: Apache-2.0
// inspect against the outside: GUM, JCGM 106, Boost.Math, published boiling points.
#include <gtest/gtest.h>

#include <Eigen/Dense>
#include <boost/math/distributions/normal.hpp>
#include <cmath>
#include <complex>
#include <string>
#include <vector>

#include "inspect/pads.hpp"
#include "inspect/run_out.hpp"
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

TEST(InspectValidation, HarmonicsAgainstEigen) {
    // Uneven angles, uneven weights; the design matrix is built here, in complex form.
    const int n = 29, orders[] = {1, 2, 5};
    std::vector<double> angle, value, sd;
    Eigen::MatrixXd a(n, 7);
    Eigen::VectorXd y(n);
    for (int i = 0; i < n; ++i) {
        const double deg = std::fmod(137.5077 * i, 360.0), v = 0.1 * std::sin(0.7 * i) + 0.05 * std::cos(3.1 * i), s = 0.004 + 0.001 * (i % 5);
        angle.push_back(deg), value.push_back(v), sd.push_back(s);
        a(i, 0) = 1 / s;
        y(i) = v / s;
        for (int k = 0; k < 3; ++k) {
            const std::complex<double> e = std::polar(1 / s, orders[k] * deg * 3.14159265358979323846 / 180);
            a(i, 1 + 2 * k) = e.real(), a(i, 2 + 2 * k) = e.imag();
        }
    }
    const Eigen::VectorXd want = a.colPivHouseholderQr().solve(y);
    const Eigen::MatrixXd r = a.householderQr().matrixQR().topRows(7).triangularView<Eigen::Upper>();
    const Eigen::MatrixXd covariance = (r.transpose() * r).inverse();
    const auto got = harmonics_of(angle, value, sd, orders);
    ASSERT_TRUE(got) << got.error().text;
    double coefficients = 0, errors = 0;
    for (int j = 0; j < 7; ++j) {
        coefficients = std::max(coefficients, std::abs(got->coefficient[j] - want(j)));
        for (int k = 0; k < 7; ++k) errors = std::max(errors, std::abs(got->covariance[j * 7 + k] - covariance(j, k)));
    }
    check({.id = "inspect-13", .what = "29 uneven angles, harmonics 1, 2, 5 by weighted least squares: largest difference of a coefficient",
           .source = "Eigen colPivHouseholderQr on a design matrix of its own", .basis = Basis::library, .expected = 0, .tolerance = 1e-12, .unit = "mm",
           .why = "normal equations against QR, rounded to 1e-12", .function = "inspect::harmonics_of"},
          std::round(coefficients * 1e12) / 1e12);
    check({.id = "inspect-14", .what = "same: largest difference of the covariance", .source = "Eigen, inverse of R'R", .basis = Basis::library, .expected = 0,
           .tolerance = 1e-15, .unit = "mm2", .why = "values of 1e-6, rounded to 1e-15", .function = "inspect::harmonics_of"},
          std::round(errors * 1e15) / 1e15);
}

TEST(InspectValidation, ATiltAloneIsTwiceItsAmplitude) {
    std::vector<DialReading> read;
    for (int i = 0; i < 36; ++i) read.push_back({10.0 * i, 1 + 0.1 * std::cos((10.0 * i - 40) * 3.14159265358979323846 / 180)});
    const auto library = bw::parts::load_library();
    ASSERT_TRUE(library) << library.error().text;
    RunOutBudget b = run_out_budget_of(*library);
    b.dial = {.resolution = 0.0001, .permitted_error = 0.0001};
    b.bearing_play_mm = 0;
    const auto got = run_out_of(read, b);
    ASSERT_TRUE(got && got->total_mm && got->tilt);
    const char* source = "shared reference facts, check 29: trace A cos(angle), A = 0.10 mm -> total 0.20 mm; arithmetic";
    check({.id = "inspect-15", .what = "0.1 mm cos at 36 angles -> total run-out", .source = source, .basis = Basis::exact, .expected = 0.2, .tolerance = 5e-4,
           .unit = "mm", .why = "sampled, dial of 0.0001 mm", .function = "inspect::run_out_of"},
          got->total_mm->p50);
    check({.id = "inspect-16", .what = "same -> amplitude of the seat tilt", .source = source, .basis = Basis::exact, .expected = 0.1, .tolerance = 3e-4,
           .unit = "mm", .why = "sampled, dial of 0.0001 mm", .function = "inspect::run_out_of"},
          got->tilt->amplitude_mm.p50);
    check({.id = "inspect-17", .what = "same, top at 40 degrees -> angle of the tilt", .source = source, .basis = Basis::exact, .expected = 40, .tolerance = 0.5,
           .unit = "deg", .why = "mark within 0.4 degrees, sampled", .function = "inspect::run_out_of"},
          got->tilt->angle_deg.p50);
}

TEST(InspectValidation, RangeOfRepeatsAgainstItsDistribution) {
    // P(range of n normal values <= q) = n * integral phi(x) (Phi(x + q) - Phi(x))^(n-1) dx, summed here by the trapezoid rule.
    const boost::math::normal_distribution<double> normal(0, 1);
    const struct { const char* id; int n; } rows[] = {{"inspect-18", 2}, {"inspect-19", 3}, {"inspect-20", 5}};
    for (const auto& row : rows) {
        double low = 1, high = 8;   // where our rule turns
        while (high - low > 1e-6) {
            const double q = (low + high) / 2;
            std::vector<double> values(static_cast<std::size_t>(row.n), q / 2);
            values.front() = 0, values.back() = q;
            (repeats_contradict(values, 1) ? high : low) = q;
        }
        double inside = 0;
        const double h = 0.005;
        for (double x = -9; x < 9; x += h)
            inside += h * row.n * boost::math::pdf(normal, x) * std::pow(boost::math::cdf(normal, x + high) - boost::math::cdf(normal, x), row.n - 1);
        check({.id = row.id, .what = std::to_string(row.n) + " repeats -> chance that good ones are asked about", .source = "distribution of the range, Boost.Math cdf(normal), integrated here",
               .basis = Basis::library, .expected = 0.01, .tolerance = 0.001, .unit = "", .why = "the rule is a fit to three digits", .function = "inspect::repeats_contradict"},
              1 - inside);
    }
}
