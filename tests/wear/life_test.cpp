// SPDX-License-Identifier: Apache-2.0
// Remaining life and look-by point.
#include <cmath>
#include <limits>
#include <vector>

#include "base/sampling.hpp"
#include "wear_things.hpp"

using namespace bw::wear;
using bw::heat::WearDose;
using bw::parts::End;

namespace {

const RidingTotals one_ride{.rides = 1, .distance_m = 10000, .descent_m = 500};

// Cases of a plain bike under the priors, one like ride of 100 kJ in the front wheel.
std::vector<LifeCase> prior_cases(std::size_t n, const WearDose& dose, const bw::parts::Bike& bike) {
    const auto lib = library();
    const bw::Cases cases = bw::draw_cases(inputs(lib, bike), n, 1);
    std::vector<LifeCase> list;
    for (std::size_t i = 0; i < n; ++i)
        list.push_back(life_case(bike, End::front, unknowns_of(lib, bike, End::front, bw::CaseRow(cases, i)), {&dose, 1}, one_ride));
    return list;
}

bool ordered(const bw::Interval& i) { return i.p05 <= i.p50 && i.p50 <= i.p95; }

}  // namespace

TEST(RidesLeft, IsThicknessOverWearWhenRidesDoNotScatter) {
    EXPECT_NEAR(rides_left(1.5, 0.01, 0, 1.3), 150, 1e-9);
    EXPECT_NEAR(rides_left(1.5, 0.01, 0.3, 0), 150, 1e-9);
}

TEST(RidesLeft, SolvesItsEquation) {
    for (const double z : {-3.0, -0.5, 0.0, 0.5, 3.0})
        for (const double loss : {0.001, 0.01, 1.0}) {
            const double cv = 0.6, n = rides_left(1.5, loss, cv * cv, z);
            EXPECT_NEAR(n * loss + z * cv * loss * std::sqrt(n), 1.5, 1e-9) << z << ' ' << loss;
        }
}

TEST(RidesLeft, NeitherDividesByZeroNorGoesNegative) {
    const double inf = std::numeric_limits<double>::infinity();
    EXPECT_EQ(rides_left(1, 0, 0.1, -1), inf);
    EXPECT_EQ(rides_left(1, -1e-9, 0.1, 1), inf);
    EXPECT_EQ(rides_left(1, std::nan(""), 0.1, 1), inf);
    EXPECT_EQ(rides_left(0, 0.01, 0.1, 1), 0);
    EXPECT_EQ(rides_left(-0.2, 0.01, 0.1, -4), 0);
    for (double z = -5; z <= 5; z += 0.1) EXPECT_GE(rides_left(1e-6, 1, 1, z), 0);
}

TEST(Life, IsByHandWhatThicknessAndWearSay) {
    // 100 kJ, half a pad, 20 mm3/MJ: 1 mm3 on 250 mm2 = 0.004 mm a ride; 1.5 mm usable: 375 rides, 3,750 km, 187,500 m.
    const WearDose dose = dose_at(1e5, 100);
    const std::vector<LifeCase> cases(1024, life_case(plain_bike(), End::front, plain_wear(), {&dose, 1}, one_ride));
    const auto life = life_of(cases, 3.5);
    ASSERT_TRUE(life) << life.error().text;
    EXPECT_NEAR(life->pad.remaining.rides.p50, 375, 1e-6);
    EXPECT_NEAR(life->pad.remaining.km.p05, 3750, 1e-6);
    EXPECT_NEAR(life->pad.remaining.descent_m->p95, 187500, 1e-4);
    EXPECT_NEAR(life->pad.look_by.km, 3750, 1e-6);
    EXPECT_NEAR(*life->pad.look_by.days, 375 * 3.5, 1e-6);
    EXPECT_EQ(life->pad.remaining.capped_share, 0);
    EXPECT_EQ(life->pad.limit_from, LimitFrom::maker);
}

TEST(Life, TheFasterPadCounts) {
    const WearDose dose = dose_at(1e5, 100);
    WearUnknowns u = plain_wear();
    for (const double a : {-0.2, 0.2}) {
        u.left_right = a;
        EXPECT_NEAR(life_case(plain_bike(), End::front, u, {&dose, 1}, one_ride).pad_loss_mm, 0.004 * 1.2, 1e-12);
    }
}

TEST(Life, TheLookByPointLiesBeforeTheFivePercentEnd) {
    const WearDose dose = dose_at(1e5, 100);
    const auto life = life_of(prior_cases(1024, dose, plain_bike()), 7.0);
    ASSERT_TRUE(life) << life.error().text;
    EXPECT_LT(life->pad.look_by.km, life->pad.remaining.km.p05);
    EXPECT_LT(life->pad.look_by.rides, life->pad.remaining.rides.p05);
    EXPECT_LT(*life->pad.look_by.descent_m, life->pad.remaining.descent_m->p05);
    EXPECT_GT(life->pad.look_by.km, 0);
}

TEST(Life, AtTheLookByPointTheShareOfCasesPastTheLimitIsHalfAPercent) {
    const WearDose dose = dose_at(1e5, 100);
    const auto cases = prior_cases(4096, dose, plain_bike());
    const auto life = life_of(cases);
    ASSERT_TRUE(life);
    double past = 0;
    for (const LifeCase& c : cases)
        past += rides_left(c.pad_usable_mm, c.pad_loss_mm, c.ride_cv2, c.ride_z) <= life->pad.look_by.rides;
    EXPECT_NEAR(past / 4096, 0.005, 1.0 / 4096);   // one order statistic
}

TEST(Life, TooFewCasesTakeTheWorstOfThem) {
    const WearDose dose = dose_at(1e5, 100);
    const auto cases = prior_cases(64, dose, plain_bike());
    const auto life = life_of(cases);
    ASSERT_TRUE(life);
    double worst = 1e9;
    for (const LifeCase& c : cases) worst = std::min(worst, rides_left(c.pad_usable_mm, c.pad_loss_mm, c.ride_cv2, c.ride_z));
    EXPECT_EQ(life->pad.look_by.rides, worst);
}

TEST(Life, WithoutWearItIsCappedAndSaysSo) {
    for (const double energy_J : {0.0, -500.0}) {
        const WearDose dose = dose_at(energy_J, 100);
        const std::vector<LifeCase> cases(1024, life_case(plain_bike(), End::front, plain_wear(), {&dose, 1}, one_ride));
        const auto life = life_of(cases);
        ASSERT_TRUE(life) << life.error().text;
        EXPECT_EQ(life->pad.remaining.km, (bw::Interval{100000, 100000, 100000}));
        EXPECT_EQ(life->pad.remaining.capped_share, 1);
        EXPECT_TRUE(life->pad.look_by.capped);
        EXPECT_EQ(km_words(life->pad.remaining), "over 100,000 km");
        // Nothing wears: no ratio. A negative dose divides out: the ratio of any other dose.
        EXPECT_EQ(life->rotor.pad_sets.has_value(), energy_J != 0);
    }
}

TEST(Life, ANegativeDoseInSomeCasesLeavesTheOthersAlone) {
    const WearDose good = dose_at(1e5, 100), odd = dose_at(-10, 100);
    std::vector<LifeCase> cases(1000, life_case(plain_bike(), End::front, plain_wear(), {&good, 1}, one_ride));
    cases.resize(1024, life_case(plain_bike(), End::front, plain_wear(), {&odd, 1}, one_ride));
    const auto life = life_of(cases);
    ASSERT_TRUE(life);
    EXPECT_NEAR(life->pad.remaining.km.p95, 3750, 1e-6);
    EXPECT_NEAR(life->pad.remaining.capped_share, 24.0 / 1024, 1e-12);
}

TEST(Life, APadPastItsLimitHasNothingLeft) {
    auto bike = plain_bike();
    bike.front.pads.friction_thickness_mm.value = 0.4;
    const WearDose dose = dose_at(1e5, 100);
    const std::vector<LifeCase> cases(1024, life_case(bike, End::front, plain_wear(), {&dose, 1}, one_ride));
    const auto life = life_of(cases);
    ASSERT_TRUE(life);
    EXPECT_EQ(life->pad.remaining.km, (bw::Interval{0, 0, 0}));
    EXPECT_EQ(life->pad.past_limit_probability, 1);
}

TEST(Life, WithoutTheMakersLimitCommonPracticeIsTakenAndMarked) {
    auto bike = plain_bike();
    bike.front.pads.least_friction_mm.reset();
    bike.front.rotor.least_thickness_mm.reset();
    const WearDose dose = dose_at(1e5, 100);
    const LifeCase thin = life_case(bike, End::front, plain_wear(), {&dose, 1}, one_ride);
    EXPECT_NEAR(thin.pad_usable_mm, 2.0 - 0.7, 1e-12);
    EXPECT_NEAR(thin.rotor_allowance_mm, 1.8 - 1.5, 1e-12);
    bike.front.rotor.thickness_mm.value = 2.0;
    EXPECT_NEAR(life_case(bike, End::front, plain_wear(), {&dose, 1}, one_ride).rotor_allowance_mm, 2.0 - 1.7, 1e-12);
    const std::vector<LifeCase> cases(1024, thin);
    const auto life = life_of(cases);
    ASSERT_TRUE(life);
    EXPECT_EQ(life->pad.limit_from, LimitFrom::common_practice);
    EXPECT_EQ(life->rotor.limit_from, LimitFrom::common_practice);
    EXPECT_NE(rotor_text(End::front, life->rotor).find("clears nothing"), std::string::npos);
    EXPECT_NE(pad_text(End::front, life->pad).find("limit is not known"), std::string::npos);
}

TEST(Life, TheRotorOutlivesTheSetsThatItsAllowanceSays) {
    // Set: 2.2 - 0.5 = 1.7 mm at 0.004 mm a ride = 425 rides. Rotor: 0.1 mm3 a ride on its own area.
    const WearDose dose = dose_at(1e5, 100);
    auto bike = plain_bike();
    const std::vector<LifeCase> cases(1024, life_case(bike, End::front, plain_wear(), {&dose, 1}, one_ride));
    const auto life = life_of(cases);
    ASSERT_TRUE(life);
    const double rides = 0.3 / (0.1 / solid_swept_area_mm2(bike.front.rotor));   // some 150,000 km: the cap must not enter
    ASSERT_GT(rides * 10, 100000);
    EXPECT_EQ(life->rotor.remaining.km.p50, 100000);
    EXPECT_NEAR(life->rotor.pad_sets->p50, rides / 425, 1e-9 * rides);
}

TEST(Life, UnlikeRidesWidenTheInterval) {
    const auto lib = library();
    const auto bike = plain_bike();
    const WearDose mean = dose_at(1e5, 100), small = dose_at(1e4, 100), large = dose_at(1.9e5, 100);
    const std::vector<WearDose> like = {mean, mean}, unlike = {small, large};
    const RidingTotals two{.rides = 2, .distance_m = 20000, .descent_m = 0};
    const WearUnknowns u = plain_wear();
    const LifeCase a = life_case(bike, End::front, u, like, two), b = life_case(bike, End::front, u, unlike, two);
    EXPECT_NEAR(a.pad_loss_mm, b.pad_loss_mm, 1e-12);
    EXPECT_GT(b.ride_cv2, a.ride_cv2 + 0.5);
    const std::vector<LifeCase> cases(1024, a);
    const auto life = life_of(cases);
    ASSERT_TRUE(life);
    EXPECT_FALSE(life->pad.remaining.descent_m);   // these rides do not descend
}

TEST(Life, IntervalsAreOrderedAndFiniteForAnyPriorCase) {
    for (const double energy_J : {1e2, 1e5, 1e8}) {
        const auto life = life_of(prior_cases(1024, dose_at(energy_J, 300), plain_bike()));
        ASSERT_TRUE(life);
        for (const bw::Interval& i : {life->pad.remaining.km, life->pad.remaining.rides, *life->pad.remaining.descent_m,
                                      life->rotor.remaining.km, *life->rotor.pad_sets}) {
            EXPECT_TRUE(ordered(i));
            EXPECT_GE(i.p05, 0);
            EXPECT_TRUE(std::isfinite(i.p95));
        }
        EXPECT_LE(life->pad.remaining.km.p95, 100000);
    }
}

TEST(Life, MoreWetAndMoreHeatNeverLengthenIt) {
    WearDose dry = dose_at(1e5, 100), wet = dry;
    wet.wet_share = 0.5;
    const WearDose hot = dose_at(1e5, 380);
    const auto a = life_of(prior_cases(1024, dry, plain_bike())), b = life_of(prior_cases(1024, wet, plain_bike())),
               c = life_of(prior_cases(1024, hot, plain_bike()));
    ASSERT_TRUE(a && b && c);
    EXPECT_LT(b->pad.remaining.km.p50, a->pad.remaining.km.p50);
    EXPECT_LT(c->pad.remaining.km.p50, a->pad.remaining.km.p50);
    EXPECT_LE(b->rotor.remaining.km.p05, a->rotor.remaining.km.p05);
}

TEST(Life, RefusesRidingOfNoDistance) {
    const WearDose dose = dose_at(1e5, 100);
    const std::vector<LifeCase> cases(8, life_case(plain_bike(), End::front, plain_wear(), {&dose, 1}, {.rides = 1}));
    EXPECT_FALSE(life_of(cases));
    EXPECT_FALSE(life_of({}));
}

TEST(LifeTexts, LookByIsOneMoreReasonAndNeverComfort) {
    const auto life = life_of(prior_cases(1024, dose_at(1e5, 100), plain_bike()), 7.0);
    ASSERT_TRUE(life);
    const auto check = look_by_check(End::front, life->pad, "2027-03-01");
    EXPECT_EQ(check.state, bw::inspect::State::look_by);
    EXPECT_NE(check.text.find("2027-03-01"), std::string::npos);
    PadLife soon = life->pad;
    soon.look_by.km = 12;
    soon.look_by.rides = 0.5;
    EXPECT_EQ(look_by_check(End::front, soon, "").text, "Measure the front pads again after 12 km.");   // not "0 rides"
    PadLife now = life->pad;
    now.look_by.km = 0;
    EXPECT_NE(look_by_check(End::front, now, "").text.find("before the next ride"), std::string::npos);
    PadLife never = life->pad;
    never.look_by.capped = true;
    never.remaining.capped_share = 1;
    for (const std::string& text : {check.text, look_by_check(End::rear, now, "").text, look_by_check(End::rear, never, "").text,
                                    pad_text(End::front, life->pad), pad_text(End::front, never), rotor_text(End::rear, life->rotor)})
        for (const char* word : {"safe", "fit to ride", "Safe"}) EXPECT_EQ(text.find(word), std::string::npos) << text;
}
