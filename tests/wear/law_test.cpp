// SPDX-License-Identifier: Apache-2.0
// The wear law: linear, monotonic, and what it says by hand.
#include <cmath>
#include <set>

#include "base/sampling.hpp"
#include "wear_things.hpp"

using namespace bw::wear;
using bw::heat::WearDose;
using bw::parts::End;

namespace {

// Any dose, also with slightly negative bins.
WearDose random_dose(std::uint64_t i) {
    WearDose dose;
    for (std::uint64_t k = 0; k < 20; ++k)
        bw::heat::add(dose, 1e5 * (bw::uniform_of(7, i, k, 0) - 0.05), 20 + 600 * bw::uniform_of(7, i, k, 1));
    dose.distance_m = 1e4 * bw::uniform_of(7, i, 0, 2);
    dose.wet_share = 0.3;
    dose.grit_share = 0.1;
    return dose;
}

WearDose sum(const WearDose& a, double times, const WearDose& b) {
    WearDose s = a;
    for (std::size_t k = 0; k < bw::heat::dose_bins; ++k) {
        s.energy_J[k] += times * b.energy_J[k];
        s.energy_temperature_J_degC[k] += times * b.energy_temperature_J_degC[k];
    }
    s.distance_m += times * b.distance_m;
    return s;
}

}  // namespace

TEST(WearLaw, IsLinearInTheDose) {
    WearUnknowns u = plain_wear();
    u.rubbing_N = 0.2;
    for (std::uint64_t i = 0; i < 200; ++i) {
        const WearDose a = random_dose(2 * i), b = random_dose(2 * i + 1);
        const double want = pad_volume_mm3(a, u, Side::left) + 3 * pad_volume_mm3(b, u, Side::left);
        // Rounding of some 30 products.
        EXPECT_NEAR(pad_volume_mm3(sum(a, 3, b), u, Side::left), want, 1e-12 * std::abs(want) + 1e-12);
        const double rotor = rotor_volume_mm3(a, u) + 3 * rotor_volume_mm3(b, u);
        EXPECT_NEAR(rotor_volume_mm3(sum(a, 3, b), u), rotor, 1e-12 * std::abs(rotor) + 1e-12);
    }
}

TEST(WearLaw, HotterIsNeverLess) {
    for (const double threshold : {180.0, 230.0, 237.0}) {
        WearUnknowns u = plain_wear();
        u.threshold_degC = threshold;
        double before = 0;
        for (double T = 0; T < 800; T += 0.5) {
            const double now = pad_volume_mm3(dose_at(1e6, T), u, Side::left);
            EXPECT_GE(now, before * (1 - 1e-14)) << T;   // the last digit of a constant
            before = now;
        }
        EXPECT_GT(before, 10 * pad_volume_mm3(dose_at(1e6, 100), u, Side::left));
    }
}

TEST(WearLaw, TheChordLiesOnOrOverTheLawByAtMostWhatItsContractSays) {
    const double growth = 3, threshold = 230;
    for (double T = 20; T < 450; T += 1) {
        const double over = std::max(0.0, (T - threshold) / 100);
        const double law = 1 + growth * over * over;
        const double chord = hot_work_J(dose_at(1, T), threshold, growth);
        EXPECT_GE(chord, law - 1e-12) << T;
        EXPECT_LE(chord, law + growth * 0.0625 + 1e-12) << T;
    }
}

TEST(WearLaw, WetterAndGrittierWearMore) {
    const WearUnknowns u = plain_wear();
    double before = 0;
    for (double share = 0; share <= 1; share += 0.1) {
        WearDose wet = dose_at(1e6, 100), grit = wet;
        wet.wet_share = share;
        grit.grit_share = share;
        const double now = pad_volume_mm3(wet, u, Side::left);
        EXPECT_GT(now, before);
        before = now;
        EXPECT_NEAR(pad_volume_mm3(grit, u, Side::left), 10 * (1 + share), 1e-9);   // 20 mm3/MJ, half a MJ, factor 2
    }
    EXPECT_NEAR(before, 3 * 10, 1e-9);   // all wet: factor 3
}

TEST(WearLaw, TheRotorTakesTheWholeWorkAndItsOwnWeather) {
    WearUnknowns u = plain_wear();
    WearDose dose = dose_at(2e6, 100);
    EXPECT_NEAR(rotor_volume_mm3(dose, u), 2.0, 1e-12);
    dose.wet_share = 1;
    u.rotor_exponent = 2;
    EXPECT_NEAR(rotor_volume_mm3(dose, u), 2.0 * 9, 1e-12);
}

TEST(WearLaw, LeftAndRightShareTheWheelsWork) {
    WearUnknowns u = plain_wear();
    u.left_right = 0.2;
    const WearDose dose = dose_at(1e6, 100);
    const double left = pad_volume_mm3(dose, u, Side::left), right = pad_volume_mm3(dose, u, Side::right);
    EXPECT_NEAR(left + right, 20, 1e-12);
    EXPECT_NEAR(left / right, 1.2 / 0.8, 1e-12);
}

TEST(WearLaw, ZeroDoseWearsNothingAndRubbingWearsByTheMetre) {
    WearUnknowns u = plain_wear();
    WearDose nothing;
    nothing.distance_m = 1e6;
    EXPECT_EQ(pad_volume_mm3(nothing, u, Side::left), 0);
    u.rubbing_N = 0.2;
    EXPECT_NEAR(pad_volume_mm3(nothing, u, Side::left), 20 * 0.2 * 0.5, 1e-12);   // 0.2 MJ of the wheel
    nothing.grit_share = 1;
    EXPECT_NEAR(pad_volume_mm3(nothing, u, Side::left), 2 * 20 * 0.2 * 0.5, 1e-12);
}

TEST(WearLaw, BeddingInAddsUpOverRidesAndEnds) {
    const WearUnknowns u = plain_wear();
    const double whole = bedding_volume_mm3(0, 10, u);
    EXPECT_NEAR(bedding_volume_mm3(0, 0.02, u) + bedding_volume_mm3(0.02, 10, u), whole, 1e-12);
    EXPECT_NEAR(whole, 20 * 1 * 0.03, 1e-12);
    // At the start the pad wears (1 + bedding) times as fast: the first joules.
    const double d = 1e-9;
    EXPECT_NEAR(bedding_volume_mm3(0, d, u) / (u.specific_wear_mm3_MJ * d), u.bedding, 1e-6);
}

TEST(WearInputs, AreUniqueAndGiveBackTheMediansAndTheSpreadsOfTheData) {
    const auto lib = library();
    const auto bike = plain_bike();
    const auto list = inputs(lib, bike);
    std::set<std::string> keys;
    for (const bw::Input& i : list) {
        EXPECT_TRUE(keys.insert(i.key).second) << i.key;
        EXPECT_GT(i.value.value, 0) << i.key;
        EXPECT_GT(i.value.sd, 0) << i.key;
        EXPECT_FALSE(i.value.source.empty()) << i.key;
    }
    const std::size_t n = 4096;
    const bw::Cases cases = bw::draw_cases(list, n, 1);
    std::vector<double> k, a, z;
    for (std::size_t i = 0; i < n; ++i) {
        const WearUnknowns u = unknowns_of(lib, bike, End::rear, bw::CaseRow(cases, i));
        k.push_back(std::log(u.specific_wear_mm3_MJ));
        a.push_back(u.left_right);
        z.push_back(u.ride_z);
    }
    // Evenly spread rows: errors of mean and sd well under 1 %.
    EXPECT_NEAR(bw::mean_of(k), std::log(50.0), 0.01);
    EXPECT_NEAR(bw::sd_of(k), std::hypot(0.55, 0.38), 0.01);
    EXPECT_NEAR(bw::mean_of(a), 0, 0.002);
    EXPECT_NEAR(bw::sd_of(a), 0.10, 0.002);
    EXPECT_NEAR(bw::sd_of(z), 1, 0.02);
}

TEST(WearInputs, FollowTheCompoundOfEachWheel) {
    const auto lib = library();
    auto bike = plain_bike();
    bike.rear.pads.compound = bw::parts::Compound::sintered;
    EXPECT_EQ(median_unknowns(lib, bike, End::front).specific_wear_mm3_MJ, lib.value("compound.organic.specific_wear_mm3_MJ"));
    EXPECT_EQ(median_unknowns(lib, bike, End::rear).specific_wear_mm3_MJ, lib.value("compound.sintered.specific_wear_mm3_MJ"));
}
