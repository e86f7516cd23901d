// SPDX-License-Identifier: Apache-2.0
// What a forecast says of later days, and which readings may lengthen a life. Rules: DESIGN 3 and docs/models/life.md; all data invented.
#include <array>
#include <cmath>
#include <random>
#include <fmt/format.h>
#include <nlohmann/json.hpp>

#include "../papers/desk.hpp"
#include "answer/from_papers.hpp"
#include "answer/life_today.hpp"
#include "base/time.hpp"

using namespace bw;
using namespace bw::papers::testing;
using papers::What;

namespace {

const parts::Library& library() {
    static const parts::Library loaded = *parts::load_library();
    return loaded;
}

constexpr const char* toml = "format = 1\nbike.kind = \"trail\"\nbike.name = \"Heron\"\nbike.total_mass_kg = 95\nfront.rotor.diameter_mm = 203\nfront.pads.friction_thickness_mm = 3\nfront.pads.least_friction_mm = 0.5\n";

// Rides that come by chance: intervals of the days to go hold as often as they say, for riders as unlike as they are thought to be.
TEST(RidingRate, HoldsAsOftenAsItSaysFromNoRideToMany) {
    const double usual = 2.0 / 7, log_sd = std::sqrt(std::log1p(0.25)), shape = 4;   // mean 2 a week, sd 1
    for (const double days : {0.0, 3.0, 10.0, 30.0, 200.0}) {
        std::mt19937_64 g(900 + static_cast<std::uint64_t>(days));
        std::gamma_distribution<double> rider(shape, usual / shape);
        constexpr int riders = 4000;
        int held = 0, early = 0;
        for (int i = 0; i < riders; ++i) {
            const double rate = rider(g);
            const double rides = days > 0 ? static_cast<double>(std::poisson_distribution<int>(rate * days)(g)) : 0;
            const answer::RidingRate said = answer::riding_rate_of(rides, days, usual, log_sd);
            const double off = std::log(1 / rate / said.days_a_ride);
            held += std::abs(off) <= 1.645 * said.log_sd;
            early += off < -1.645 * said.log_sd;   // rides more often than allowed for: a day would come too late
        }
        // 90 and 5 %, three sampling errors, and the skew of a gamma that a log-normal does not have.
        EXPECT_NEAR(100.0 * held / riders, 90, 2.5) << days;
        EXPECT_LT(100.0 * early / riders, 6) << days;
    }
    // Of nobody known beforehand it is plain counting.
    const answer::RidingRate counted = answer::riding_rate_of(50, 100, 0, 0);
    EXPECT_DOUBLE_EQ(counted.days_a_ride, 2);
    EXPECT_NEAR(counted.log_sd, 1 / std::sqrt(50.0), 0.002);
}

// Riders who are not of those that are thought of beforehand: three rides a day, one a day, one a fortnight. A date that so many
// rides are allowed for must not come when many more were ridden.
TEST(RidingRate, OfRidersOutsideWhatWasThoughtNoDateComesTooLate) {
    const double usual = 2.0 / 7, log_sd = std::sqrt(std::log1p(0.25));
    const auto soonest = [](const answer::RidingRate& r) { return r.days_a_ride * std::exp(-2.576 * r.log_sd); };
    for (const double own : {1.0 / 3, 1.0, 14.0})   // days from ride to ride
        for (const double span : {3.0, 7.0, 10.0, 20.0, 60.0, 140.0}) {
            std::vector<double> days;
            for (int i = 0; i * own <= span; ++i) days.push_back(std::floor(i * own));
            if (days.size() < 6) continue;
            EXPECT_LE(soonest(answer::said_rate(answer::riding_rates(days, usual, log_sd))), own) << own << " days a ride, for " << span;
        }
    // Said and reckoned by the same number: counted, where the rides are many.
    std::vector<double> many;
    for (int i = 0; i < 60; ++i) many.push_back(i / 3);
    EXPECT_NEAR(answer::said_rate(answer::riding_rates(many, usual, log_sd)).days_a_ride, 19.0 / 59, 1e-9);
    EXPECT_TRUE(answer::said_rate(answer::riding_rates(many, usual, log_sd)).by_rides);
    // One a fortnight is not hurried on by more than was thought beforehand; of one ride that is all there is.
    EXPECT_NEAR(answer::said_rate(answer::riding_rates(std::vector<double>{0, 14, 28}, usual, log_sd)).days_a_ride, (4 / usual + 28) / 6, 0.1);
    const answer::RidingRate one = answer::said_rate(answer::riding_rates(std::vector<double>{5}, usual, log_sd));
    EXPECT_DOUBLE_EQ(one.days_a_ride, 3.5);
    EXPECT_FALSE(one.by_rides);
}

// Rides at these days before today, of 20 km: what is said of the pads that went on before the first.
answer::LifeReport ridden_on(const std::vector<long>& days_ago, bool usual_known = true, double thickness_mm = 0, bool both = false) {
    answer::LifeAsk ask;
    ask.today = 20000;
    ask.priors = wear::default_priors(library());
    if (usual_known) ask.rides_per_day = 2.0 / 7, ask.rides_per_day_log_sd = std::sqrt(std::log1p(0.25));
    if (thickness_mm > 0) ask.history.readings.push_back({static_cast<long>(days_ago.size()), 20000, wear::Component::front_left_pad, "a", thickness_mm, 0.03, 0});
    if (both) ask.history.readings.push_back(ask.history.readings.back()), ask.history.readings.back().component = wear::Component::front_right_pad;
    for (const long ago : days_ago) {
        wear::RiddenRow r;
        r.ride = static_cast<long>(ask.history.rides.size()) + 1, r.day = 20000 - ago, r.distance_m = 20000, r.energy_J = {8e4, 4e4}, r.pad_degC = {60, 50};
        ask.history.rides.push_back(r);
    }
    ask.as_of = static_cast<long>(days_ago.size());
    ask.history.fitted = {{wear::Component::front_left_pad, "a", 1, "organic", 1.2, 0.5, 250}, {wear::Component::front_right_pad, "a", 1, "organic", 1.2, 0.5, 250}};
    return must(answer::life_report(Context{}, library(), ask));
}

// Six rides in 40 days: plain counting has the sooner pace, what was thought beforehand the sooner look-by date, or the other way round.
TEST(RidingRate, TheSoonerDateCountsNotTheDateOfTheSoonerPace) {
    const double usual = 2.0 / 7, log_sd = std::sqrt(std::log1p(0.25));
    bool other = false;
    for (const std::vector<long>& ago : {std::vector<long>{40, 33, 25, 16, 8, 0}, {12, 10, 9, 6, 3, 0}, {90, 88, 50, 20, 10, 9, 4, 0}}) {
        const answer::LifeReport r = ridden_on(ago);
        ASSERT_EQ(r.riding_rates.size(), 2u);
        std::vector<double> days;
        for (const long a : ago) days.push_back(static_cast<double>(20000 - a));
        const answer::RidingRate said = answer::said_rate(answer::riding_rates(days, usual, log_sd));
        answer::LifeAsk one;   // the same report by one pace alone
        one.today = 20000, one.priors = wear::default_priors(library());
        for (const answer::PartLife& p : r.parts) {
            // The rides to come are the sample's: days by one pace are its rides times that pace, so a single pace is asked of learning itself.
            std::vector<double> looks;
            wear::History h;
            for (std::size_t i = 0; i < ago.size(); ++i) {
                wear::RiddenRow x;
                x.ride = static_cast<long>(i) + 1, x.day = 20000 - ago[i], x.distance_m = 20000, x.energy_J = {8e4, 4e4}, x.pad_degC = {60, 50};
                h.rides.push_back(x);
            }
            h.fitted = {{wear::Component::front_left_pad, "a", 1, "organic", 1.2, 0.5, 250}, {wear::Component::front_right_pad, "a", 1, "organic", 1.2, 0.5, 250}};
            const long as_of = static_cast<long>(ago.size());
            const auto learned = wear::learn(Context{}, h, one.priors, as_of, {}, {});
            ASSERT_TRUE(learned);
            for (const answer::RidingRate& rate : r.riding_rates) {   // of either pad, or of both as a set: one look is at both
                looks.push_back(INFINITY);
                for (const auto& [component, set] : {std::pair{wear::Component::front_left_pad, false}, {wear::Component::front_right_pad, false}, {wear::Component::front_left_pad, true}})
                    looks.back() = std::min(looks.back(), learned->forecast(Context{}, {component, "a", as_of}, {.whole_set = set, .sooner = true, .plan = {}, .paces = {{rate.days_a_ride, rate.log_sd}}, .readings = {}})->look_by_days);
            }
            EXPECT_DOUBLE_EQ(p.forecast.look_by_days, std::min(looks[0], looks[1]));
            other = other || (said.days_a_ride == r.riding_rates[1].days_a_ride && looks[0] < looks[1]);
        }
    }
    EXPECT_TRUE(other) << "else the date of the sooner pace would have done";
}

TEST(RidingRate, AsLongAsFewRidesAreKnownALookByDaySaysWhatItAllowsFor) {
    const answer::LifeReport few = ridden_on({1, 1, 1, 0, 0}), many = ridden_on({9, 8, 7, 6, 5, 4, 4, 3, 2, 1, 0});   // five rides in two days: a bike for hire
    // Six to ten rides: how many is said.
    for (const std::vector<long>& ago : {std::vector<long>{4, 3, 3, 2, 1, 0}, {9, 8, 7, 6, 5, 4, 3, 2, 1, 0}}) {
        const answer::LifeReport some = ridden_on(ago);
        EXPECT_NE(some.few_rides.find(fmt::format("reckoned from {} rides only.", ago.size())), std::string::npos) << some.few_rides;
        EXPECT_NE(some.few_rides.find("go by the rides or the way"), std::string::npos) << some.few_rides;
        EXPECT_EQ(some.few_rides.find("hardly known"), std::string::npos) << some.few_rides;
    }
    // Of many rides the ones that the pace was taken from count: seven in the last weeks after five long before.
    EXPECT_NE(ridden_on({330, 310, 290, 270, 250, 12, 10, 8, 6, 4, 2, 0}).few_rides.find("reckoned from 7 rides only, those of the last 60 days."), std::string::npos);
    // What a plan takes is said in a unit that people read, and long ways in threes.
    answer::LifeReport planned = few;
    planned.hold = false, planned.plan_words = "the way of a plan", planned.plan_rides = 1;
    planned.parts[0].forecast.plan_loss_mm = Interval{.p05 = 0.000041, .p50 = 0.000078, .p95 = 0.00012};
    planned.parts[0].forecast.remaining_km = Interval{.p05 = 25'400, .p50 = 100'000, .p95 = 310'000};
    std::string said = answer::text_of(planned);
    for (std::size_t at; (at = said.find("\n  ")) != std::string::npos;) said.replace(at, 3, " ");
    EXPECT_NE(said.find("Once: 0.078 µm (0.041 to 0.12)."), std::string::npos) << said;
    EXPECT_NE(said.find("100,000 (25,000 to 310,000) km"), std::string::npos) << said;
    ASSERT_TRUE(few.parts[0].look_by);
    EXPECT_NE(few.few_rides.find("go by the rides or the way"), std::string::npos) << few.few_rides;
    EXPECT_NE(answer::text_of(few).find("go by the rides or the"), std::string::npos);
    EXPECT_EQ(nlohmann::json::parse(answer::json_of(few, 1, "test"))["riding"]["text"], few.few_rides);
    EXPECT_EQ(many.few_rides, "");
    // Tables know no usual riding: what two rides tell is known no better.
    const answer::LifeReport table = ridden_on({19, 0}, false);
    ASSERT_TRUE(table.parts[0].look_by);
    EXPECT_NE(table.few_rides.find("go by the rides or the way"), std::string::npos) << table.few_rides;
    // Held back, no day is given and none is spoken of: by its reading, and by whatever is found later.
    const answer::LifeReport worn = ridden_on({1, 1, 1, 0, 0}, true, 0.4);
    ASSERT_TRUE(worn.hold);
    answer::LifeReport later = few;
    answer::hold_back(later, "Do not ride: the front rotor is cracked.");
    for (const answer::LifeReport* r : std::array<const answer::LifeReport*, 2>{&worn, &later}) {
        EXPECT_TRUE(nlohmann::json::parse(answer::json_of(*r, 1, "test"))["riding"]["text"].is_null());
        EXPECT_EQ(answer::text_of(*r).find("look-by day"), std::string::npos);
    }
    EXPECT_TRUE(nlohmann::json::parse(answer::json_of(many, 1, "test"))["riding"]["text"].is_null());
}

// Who rides at the pace that the sentence gives has done no more than the look-by rides of any part by its look-by day; one more ride a week is too many.
TEST(RidingRate, ThePaceThatLookByDaysAreSaidToHoldForIsTheirOwn) {
    for (const std::vector<long>& ago : {std::vector<long>{0}, {1, 0}, {9, 0}, {30, 20, 0}, {3, 2, 1, 0}, {1, 1, 1, 0, 0}, {40, 30, 20, 10, 0}, {70, 60, 50, 40, 30, 20, 10, 0}})
        for (const double mm : {0.0, 1.1, 0.8}) {
            const answer::LifeReport r = ridden_on(ago, true, mm);
            std::vector<answer::PartLife> given = r.parts;
            for (const auto& p : r.pads)
                if (p) given.push_back(*p);
            if (std::all_of(given.begin(), given.end(), [](const answer::PartLife& p) { return p.look_by == 20000; })) {   // due today: at any pace
                EXPECT_EQ(r.few_rides.find("hold for"), std::string::npos) << r.few_rides;
                continue;
            }
            double a_week = 0;
            const std::size_t at = r.few_rides.find("hold for up to ");
            if (at != std::string::npos) a_week = std::stod(r.few_rides.substr(at + 15));
            else EXPECT_NE(r.few_rides.find("hold for less than one ride a week"), std::string::npos) << r.few_rides;
            bool one_more_is_too_many = false;
            for (const answer::PartLife& p : given) {
                if (!p.look_by) continue;
                const auto days = static_cast<double>(*p.look_by - 20000), rides = std::floor(p.forecast.look_by_rides);
                EXPECT_LE(a_week * days / 7, rides) << r.few_rides;
                one_more_is_too_many = one_more_is_too_many || (a_week + 1) * days / 7 > rides;
            }
            EXPECT_TRUE(one_more_is_too_many) << r.few_rides;
        }
}

// One look is at both pads of a wheel: their look-by points are the least of the three, in every place that gives one.
TEST(LifeLook, OfTheTwoPadsAndOfTheirSetTheLeastStandsEverywhere) {
    for (const double mm : {0.0, 1.1, 0.95})
        for (const std::vector<long>& ago : {std::vector<long>{9, 6, 3, 0}, {300, 280, 250, 200, 150, 100, 50, 40, 20, 10, 5, 0}}) {
            const answer::LifeReport r = ridden_on(ago, true, mm);
            ASSERT_TRUE(r.pads[0]);
            const answer::PartLife& set = *r.pads[0];
            for (const answer::PartLife& p : r.parts) {
                EXPECT_EQ(p.forecast.look_by_rides, set.forecast.look_by_rides);
                EXPECT_EQ(p.forecast.look_by_km, set.forecast.look_by_km);
                EXPECT_EQ(p.look_by, set.look_by);
                EXPECT_LE(set.forecast.limit_ride[0], p.forecast.limit_ride[0]);
                EXPECT_LE(p.forecast.limit_reached_probability, set.forecast.limit_reached_probability);
                EXPECT_LE(p.forecast.look_by_km, p.forecast.km[1]);
            }
            EXPECT_EQ(set.forecast.km[0], set.forecast.look_by_km);
            const std::vector<inspect::Check> checks = answer::life_checks(r, "2024-10-04");   // day 20000
            for (const inspect::Check& c : checks)
                if (c.code == "front_pads_look_by") { EXPECT_NE(c.text.find(format_day(*set.look_by)), std::string::npos) << c.text; }
        }
}

// Neither pad alone is over 0.5 %, the first of the two is; or neither, but the next ride takes one there.
TEST(LifeLook, AChanceOfTheFirstOfTheTwoIsSaidFirstAndSoIsALookWithinTheNextRide) {
    bool by_set = false, by_ride = false;
    for (double mm = 0.56; mm < 0.75; mm += 0.01) {
        const answer::LifeReport r = ridden_on({9, 7, 5, 3, 1, 0}, true, mm, true);
        const wear::LifeForecast& set = r.pads[0]->forecast;
        const bool chance = set.limit_reached_probability > 0.005, soon = !chance && set.look_by_rides < 1;
        by_set = by_set || (chance && std::all_of(r.parts.begin(), r.parts.end(), [](const answer::PartLife& p) { return p.forecast.limit_reached_probability <= 0.005; }));
        by_ride = by_ride || soon;
        const bool said = std::any_of(r.reasons.begin(), r.reasons.end(), [](const std::string& t) { return t.find("the front pads") != std::string::npos; });
        EXPECT_EQ(said, chance || soon) << mm << " mm: " << set.limit_reached_probability << ", " << set.look_by_rides << " rides";
        const std::vector<inspect::Check> checks = answer::life_checks(r, "");
        EXPECT_EQ(std::any_of(checks.begin(), checks.end(), [](const inspect::Check& c) { return c.code == "front_pads_look_now"; }), chance || soon) << mm;
    }
    EXPECT_TRUE(by_set) << "no thickness of these tells the two apart";
    EXPECT_TRUE(by_ride);
}

// Rides of two hours: what is left in hours is twice what is left in rides, whoever tells it, as long as half of the rides do.
TEST(LifeHours, ARideOfUnknownDurationCountsAsTheOthersAndFewerThanHalfTellNothing) {
    const auto life = [](std::size_t told) {
        answer::LifeAsk ask;
        ask.today = 20000, ask.priors = wear::default_priors(library()), ask.as_of = 12;
        for (std::size_t i = 0; i < 12; ++i) {
            wear::RiddenRow r;
            r.ride = static_cast<long>(i) + 1, r.day = 19970 + static_cast<long>(i), r.distance_m = 20000, r.energy_J = {8e4, 4e4}, r.pad_degC = {60, 50};
            if (i < told) r.duration_s = 7200, r.descent_m = 300;
            ask.history.rides.push_back(r);
        }
        ask.history.fitted = {{wear::Component::front_left_pad, "a", 1, "organic", 1.2, 0.5, 250}};
        return must(answer::life_report(Context{}, library(), ask));
    };
    for (const std::size_t told : {std::size_t{12}, std::size_t{7}, std::size_t{6}}) {
        const wear::LifeForecast f = life(told).parts[0].forecast;
        ASSERT_TRUE(f.remaining_h && f.remaining_descent_m) << told;
        EXPECT_NEAR(f.remaining_h->p05, 2 * f.remaining_rides.p05, 1e-6 * f.remaining_h->p05) << told;
        EXPECT_NEAR(f.remaining_h->p50, 2 * f.remaining_rides.p50, 1e-6 * f.remaining_h->p50) << told;
        EXPECT_NEAR(f.remaining_h->p95, 2 * f.remaining_rides.p95, 1e-6 * f.remaining_h->p95) << told;
        EXPECT_NEAR(f.remaining_descent_m->p50, 300 * f.remaining_rides.p50, 1e-6 * f.remaining_descent_m->p50) << told;
    }
    const answer::LifeReport few = life(5);
    EXPECT_FALSE(few.parts[0].forecast.remaining_h);
    EXPECT_FALSE(few.parts[0].forecast.remaining_descent_m);
    const nlohmann::json j = nlohmann::json::parse(answer::json_of(few, 1, "test"));
    EXPECT_TRUE(j["parts"][0]["remaining_h"].is_null());
    EXPECT_TRUE(j["parts"][0]["remaining_descent_m"].is_null());
    EXPECT_EQ(answer::text_of(few).find(" h."), std::string::npos);
    EXPECT_EQ(answer::text_of(few).find(" h, "), std::string::npos);
}

// Tables: an empty cell is not a ride of nothing.
TEST(LifeHours, AnEmptyCellOfATableIsNotKnownAndAnEmptyWayIsThatOfTheOthers) {
    const std::string head = "ride,date,distance_m,descent_m,duration_s,front_energy_J,front_energy_sd_J,rear_energy_J,rear_energy_sd_J,front_pad_degC,rear_pad_degC,wet,grit\n";
    const auto rows = must(wear::read_summary(head + "1,,10000,0,3600,1,1,1,1,,,,\n2,,20000,,,1,1,1,1,,,,\n3,,,50,0,1,1,1,1,,,,\n", "s.csv"));
    EXPECT_EQ(rows[0].descent_m, 0.0);
    EXPECT_EQ(rows[0].duration_s, 3600.0);
    EXPECT_FALSE(rows[1].descent_m || rows[1].duration_s || rows[2].duration_s);
    EXPECT_EQ(rows[2].distance_m, 15000.0);
}

// One bike with front pads and a front rotor, fitted on 1 May; forecasts are put in as they would be kept.
struct Kept {
    Folder folder;
    std::unique_ptr<papers::Papers> papers = must(papers::make_papers(folder.path("p")));
    papers::Id bike, person, pads, rotor;
    double made_unix_s = 0;

    explicit Kept(std::optional<double> new_rotor_mm = 1.85, double rotor_limit_mm = 1.55) {
        const papers::Deed d = deed();
        person = must(papers->put_person(d, {.id = "", .name = "Ada", .hand_size_cm = {}, .hand_strength_N = {}, .mass_kg = {}, .repeat_sd_mm = {}, .note = ""}));
        papers::Part p, r;
        p.name = "pads", p.kind = papers::PartKind::pads, p.least_thickness_mm = 0.5, p.new_thickness_mm = 3.0;
        r.name = "rotor", r.kind = papers::PartKind::rotor, r.diameter_mm = 203, r.least_thickness_mm = rotor_limit_mm, r.new_thickness_mm = new_rotor_mm;
        papers::Fitting f{.id = "", .part_id = "0", .bike_id = {}, .wheel_id = {}, .place = parts::End::front, .from_day = "2026-05-01", .to_day = {}}, g = f;
        g.part_id = "1";
        bike = must(papers->add_bike(d, {.id = "", .name = "Heron", .description_toml = toml, .added_day = "2026-05-01", .retired_day = {}, .note = ""}, {p, r}, {f, g}));
        for (const papers::Part& part : must(papers->parts())) (part.kind == papers::PartKind::pads ? pads : rotor) = part.id;
    }
    // Another bike, without parts of its own.
    papers::Id other_bike() {
        const papers::Id id = must(papers->add_bike(deed(), {.id = "", .name = "Wren", .description_toml = toml, .added_day = "2026-05-01", .retired_day = {}, .note = ""}, {}, {}));
        return id;
    }
    void move(const papers::Id& part, const papers::Id& to, const std::string& day) {
        must(papers->put_on(deed(), {.id = "", .part_id = part, .bike_id = to, .wheel_id = {}, .place = parts::End::front, .from_day = day, .to_day = {}}));
    }
    // Pads to be looked at by a day or after so many km; the rotor far off unless told.
    void forecast(const std::string& day, const std::string& pads_by, double pads_km, const std::string& rotor_by = "2030-01-01", double rotor_km = 9000, double rotor_probability = 0, const std::string& at_limit = "") {
        made_unix_s = 86400.0 * static_cast<double>(*parse_day(day)) + 43200;
        const auto part = [](const papers::Id& id, const char* component, bool is_rotor, const std::string& by, double km, double probability) {
            return nlohmann::json{{"part", id}, {"component", component}, {"place", "front"}, {"rotor", is_rotor}, {"km", {km, 1.5 * km, 1.8 * km, 2 * km, 3 * km, 4 * km}}, {"limit_reached_probability", probability}, {"look_by", by}, {"look_by_km", km}};
        };
        nlohmann::json j = {{"schema", answer::forecast_kind}, {"day", day}, {"bike_km", ridden_km}, {"withheld", nullptr},
                            {"parts", {part(pads, "front_left_pad", false, pads_by, pads_km, 0), part(rotor, "front_rotor", true, rotor_by, rotor_km, rotor_probability)}}};
        if (!at_limit.empty()) j["parts"][0]["at_limit"] = at_limit;
        must(papers->keep_answer({.id = papers::key_of({day, pads_by, rotor_by, at_limit}), .bike_id = bike, .made_unix_s = made_unix_s, .kind = std::string(answer::forecast_kind), .model_versions = "", .json = j.dump(), .day = day}));
    }
    double ridden_km = 0;
    void ride(const std::string& day, double km) {
        ridden_km += km;
        papers::Ride r{.id = papers::key_of({day, std::to_string(km)}), .bike_id = bike, .kind = papers::RideKind::described, .file_name = "log.csv", .start_unix_s = {}, .day = day, .duration_s = {}, .distance_m = 1000 * km, .descent_m = 100, .stops_per_km = 1.5, .surface = "", .weather = "dry", .wind_mps = {}, .air_degC = {}, .load_kg = {}, .note = ""};
        must(papers->add_ride(deed(), r, ""));
    }
    void read(What what, const papers::Id& part, double mm, const std::string& day, std::optional<parts::Anvil> anvil = {}) {
        papers::Reading x;
        x.bike_id = bike, x.part_id = part, x.what = what, x.day = day, x.person_id = person, x.anvil = anvil;
        x.recorded_unix_s = 86400.0 * static_cast<double>(*parse_day(day)) + 43200;
        if (what == What::pad_thickness) x.with_plate = false;
        papers::Point p;
        p.length_mm = mm;
        x.points = {p};
        must(papers->add_reading(deed(), x));
    }
    answer::LifeSaid said(const std::string& today) { return must(answer::life_said(*papers, must(papers::book_of(*papers, bike)), bike, today)); }
    std::string state(const std::string& today, const std::string& code) {
        for (const inspect::Check& c : said(today).checks)
            if (c.code == code) return std::string(inspect::word_of(c.state));
        return "nothing";
    }
    answer::LifeReport life(const std::string& today) {
        answer::FromPapers ask;
        ask.bike = bike, ask.today = today, ask.made_unix_s = 1, ask.version = "test", ask.cases = 256;
        answer::PapersLife l = must(answer::life_from_papers(Context{}, library(), *papers, ask));
        EXPECT_TRUE(l.report) << l.withheld;
        return *l.report;
    }
};

const answer::PartLife& rotor_of(const answer::LifeReport& r) {
    return *std::find_if(r.parts.begin(), r.parts.end(), [](const answer::PartLife& p) { return is_rotor(p.fitted.component); });
}

}  // namespace

TEST(LifeToday, WithoutAForecastNothingIsCleanAndItSaysThatNothingWasWorkedOut) {
    Kept k;
    EXPECT_FALSE(k.said("2026-06-01").worked_out);
    EXPECT_EQ(k.state("2026-06-01", "not_worked_out"), "measure_better");
    k.forecast("2026-06-02", "2026-09-01", 500);
    EXPECT_EQ(k.state("2026-06-01", "not_worked_out"), "measure_better") << "a forecast of a later day is not there yet";
    EXPECT_EQ(k.said("2026-06-02").worked_out, "2026-06-02");
    EXPECT_EQ(k.state("2026-06-02", "not_worked_out"), "nothing");
}

TEST(LifeToday, PadsAreLookedAtFromTheirDayOnOrAfterTheirKilometresWhicheverComesFirst) {
    Kept k;
    k.ride("2026-05-20", 40);
    k.forecast("2026-06-01", "2026-09-01", 500);
    EXPECT_EQ(k.state("2026-08-31", "front_pads_look_now"), "nothing");
    EXPECT_EQ(k.state("2026-09-01", "front_pads_look_now"), "measure_better");
    k.ride("2026-06-10", 499);
    EXPECT_EQ(k.state("2026-06-11", "front_pads_look_now"), "nothing");
    k.ride("2026-06-01", 2);   // of the day of the forecast, added after it
    EXPECT_EQ(k.state("2026-06-11", "front_pads_look_now"), "measure_better");
    EXPECT_EQ(k.state("2026-06-11", "front_rotor_look_now"), "nothing");
    k.ride("2026-06-12", 600);   // past the middle of what was forecast
    EXPECT_EQ(k.state("2026-06-12", "front_pads_look_now"), "replace");
}

TEST(LifeToday, ARotorIsLookedAtAsPadsAre) {
    Kept by_day, by_km, by_risk;
    by_day.forecast("2026-06-01", "2030-01-01", 5000, "2026-07-01");
    by_km.forecast("2026-06-01", "2030-01-01", 5000, "2030-01-01", 100);
    by_risk.forecast("2026-06-01", "2030-01-01", 5000, "2030-01-01", 9000, 0.006);
    by_km.ride("2026-06-10", 101);
    EXPECT_EQ(by_day.state("2026-06-30", "front_rotor_look_now"), "nothing");
    EXPECT_EQ(by_day.state("2026-07-01", "front_rotor_look_now"), "measure_better");
    EXPECT_EQ(by_km.state("2026-06-11", "front_rotor_look_now"), "measure_better");
    EXPECT_EQ(by_risk.state("2026-06-01", "front_rotor_look_now"), "measure_better");
}

TEST(LifeToday, OnlyANewerForecastSilencesALookThatIsDueNoReadingDoes) {
    Kept k;
    k.forecast("2026-06-01", "2026-09-01", 500);
    k.read(What::rotor_thickness, k.rotor, 1.8, "2026-09-02", parts::Anvil::pointed);
    EXPECT_EQ(k.state("2026-09-03", "front_pads_look_now"), "measure_better") << "of another part";
    k.read(What::pad_thickness, k.pads, 2.5, "2026-09-02");
    EXPECT_EQ(k.state("2026-09-03", "front_pads_look_now"), "measure_better") << "of this part, in no forecast yet";
    bool told = false;
    for (const inspect::Check& c : k.said("2026-09-03").checks) told = told || c.text.find("no forecast knows of that yet") != std::string::npos;
    EXPECT_TRUE(told);
    k.forecast("2026-09-03", "2026-12-01", 500);
    EXPECT_EQ(k.state("2026-09-03", "front_pads_look_now"), "nothing");
}

TEST(LifeToday, AReadingAtTheLimitThatLifeKnowsOfHoldsTheBikeBack) {
    Kept k;
    k.forecast("2026-06-01", "2030-01-01", 5000, "2030-01-01", 9000, 0, "Do not ride: the front left pad read 0.4 mm.");
    EXPECT_EQ(k.state("2026-06-02", "front_pads_at_limit"), "held_back");
}

TEST(LifeToday, NewPadsAreNotSpokenOfByAForecastOfTheOldOnes) {
    Kept k;
    k.forecast("2026-06-01", "2026-09-01", 500);
    papers::Part p;
    p.name = "other pads", p.kind = papers::PartKind::pads;
    const papers::Id id = must(k.papers->add_part(deed(), p));
    must(k.papers->put_on(deed(), {.id = "", .part_id = id, .bike_id = k.bike, .wheel_id = {}, .place = parts::End::front, .from_day = "2026-08-01", .to_day = {}}));
    EXPECT_EQ(k.state("2026-09-02", "front_pads_look_now"), "nothing");
    EXPECT_EQ(k.state("2026-09-02", "front_pads_not_worked_out"), "measure_better");
}

TEST(LifeToday, PadsThatCameToTheOtherWheelAreStillSpokenOfAndAskToBeWorkedOutAgain) {
    Kept k;
    k.forecast("2026-06-01", "2026-09-01", 500);
    must(k.papers->take_off(deed(), k.pads, "2026-06-10"));
    must(k.papers->put_on(deed(), {.id = "", .part_id = k.pads, .bike_id = k.bike, .wheel_id = {}, .place = parts::End::rear, .from_day = "2026-06-10", .to_day = {}}));
    EXPECT_EQ(k.state("2026-06-11", "rear_pads_not_worked_out"), "measure_better");
    EXPECT_EQ(k.state("2026-09-02", "front_pads_look_now"), "measure_better") << "a look that is due goes with the pads";
}

TEST(LifeToday, KilometresOnAnotherBikeCountAndPadsThatComeBackAskToBeWorkedOutAgain) {
    Kept k;
    const papers::Id wren = k.other_bike(), heron = k.bike;
    k.forecast("2026-06-01", "2030-01-01", 500);
    k.ride("2026-06-05", 200);
    k.move(k.pads, wren, "2026-06-10");
    k.bike = wren;
    k.ride("2026-06-09", 400);   // before the pads came
    k.ride("2026-06-12", 299);
    k.move(k.pads, heron, "2026-06-20");
    k.ride("2026-06-25", 400);   // after they left
    k.bike = heron;
    EXPECT_EQ(k.state("2026-06-26", "front_pads_look_now"), "nothing") << "499 of 500 km";
    EXPECT_EQ(k.state("2026-06-26", "front_pads_not_worked_out"), "measure_better");
    EXPECT_EQ(k.state("2026-06-09", "front_pads_not_worked_out"), "nothing");
    k.ride("2026-06-26", 2);
    EXPECT_EQ(k.state("2026-06-26", "front_pads_look_now"), "measure_better");
    k.bike = wren;
    k.ride("2026-06-13", 600);
    k.bike = heron;
    EXPECT_EQ(k.state("2026-06-26", "front_pads_look_now"), "replace") << "past the middle of what was forecast";
}

TEST(LifeToday, ALookThatIsDueGoesWithThePadsToAnotherBikeUntilAForecastThereSpeaksOfThem) {
    Kept k;
    const papers::Id wren = k.other_bike(), heron = k.bike;
    k.forecast("2026-06-01", "2026-09-01", 500);
    k.move(k.pads, wren, "2026-06-10");
    k.bike = wren;
    EXPECT_EQ(k.state("2026-08-31", "front_pads_look_now"), "nothing");
    EXPECT_EQ(k.state("2026-09-01", "front_pads_look_now"), "measure_better");
    k.ride("2026-06-20", 501);
    EXPECT_EQ(k.state("2026-06-20", "front_pads_look_now"), "measure_better");
    k.forecast("2026-06-21", "2026-12-01", 500);
    EXPECT_EQ(k.state("2026-09-01", "front_pads_look_now"), "nothing");
    k.bike = heron;
    EXPECT_EQ(k.state("2026-09-01", "front_pads_look_now"), "nothing") << "they are not here any more";
}

TEST(LifeToday, OfManyKeptForecastsTheNewestThatSpeaksOfAPartIsFound) {
    Kept k;
    k.forecast("2026-05-02", "2026-09-01", 500);
    const papers::Id pads = k.pads, rotor = k.rotor;
    k.pads = k.rotor = "none";   // thirty that speak of other parts
    for (int day = 1; day <= 30; ++day) k.forecast(day < 10 ? "2026-06-0" + std::to_string(day) : "2026-06-" + std::to_string(day), "2030-01-01", 500);
    k.pads = pads, k.rotor = rotor;
    EXPECT_EQ(k.said("2026-08-31").worked_out, "2026-06-30");
    EXPECT_EQ(k.state("2026-08-31", "front_pads_look_now"), "nothing");
    EXPECT_EQ(k.state("2026-09-01", "front_pads_look_now"), "measure_better");
}

TEST(LifeToday, TheForecastOfTheNewestDayRulesWheneverItWasMade) {
    Kept k;
    k.forecast("2026-08-01", "2026-08-20", 500);
    k.forecast("2026-06-01", "2027-09-01", 5000);   // made last: somebody looked back
    EXPECT_EQ(k.state("2026-08-21", "front_pads_look_now"), "measure_better");
    EXPECT_EQ(k.said("2026-08-21").worked_out, "2026-08-01");
}

TEST(LifeToday, WearIsOfThePadsThatAreOnByTheirNewestForecastAlone) {
    Kept k;
    const auto forecast = [&](const char* day, const papers::Id& part, const nlohmann::json& wear) {
        const auto pad = [&](const char* component) { return nlohmann::json{{"part", part}, {"component", component}, {"place", "front"}, {"rotor", false}, {"km", {100, 150, 180, 200, 300, 400}}, {"wear_mm_km", wear}}; };
        const nlohmann::json j = {{"schema", answer::forecast_kind}, {"day", day}, {"bike_km", 0}, {"withheld", nullptr}, {"parts", {pad("front_left_pad"), pad("front_right_pad")}}};
        must(k.papers->keep_answer({.id = papers::key_of({day, part, wear.dump()}), .bike_id = k.bike, .made_unix_s = 86400.0 * static_cast<double>(*parse_day(day)), .kind = std::string(answer::forecast_kind), .model_versions = "", .json = j.dump(), .day = day}));
    };
    const auto wear = [&](const char* today) { return answer::pad_wear_of(*k.papers, k.bike, today)[0]; };
    EXPECT_FALSE(wear("2026-05-02"));
    forecast("2026-05-10", k.pads, {0.001, 0.002, 0.004});
    ASSERT_TRUE(wear("2026-05-12"));
    EXPECT_EQ(wear("2026-05-12")->left_mm_km.p50, 0.002);
    EXPECT_FALSE(wear("2026-05-09")) << "nothing was known then";
    // Nothing left to wear by the newest forecast: an older one is no stand-in.
    forecast("2026-05-20", k.pads, nullptr);
    EXPECT_FALSE(wear("2026-05-21"));
    EXPECT_TRUE(wear("2026-05-19"));
    forecast("2026-05-22", k.pads, {0.001, 0.003, 0.004});
    ASSERT_TRUE(wear("2026-05-23"));
    // Other pads went on: what the old ones did is not theirs.
    papers::Part fresh;
    fresh.name = "new pads", fresh.kind = papers::PartKind::pads, fresh.new_thickness_mm = 3.0;
    fresh.id = must(k.papers->add_part(deed(), fresh));
    k.move(fresh.id, k.bike, "2026-05-24");
    EXPECT_TRUE(wear("2026-05-23"));
    EXPECT_FALSE(wear("2026-05-24"));
    forecast("2026-05-25", fresh.id, {0.004, 0.005, 0.006});
    ASSERT_TRUE(wear("2026-05-25"));
    EXPECT_EQ(wear("2026-05-25")->right_mm_km.p50, 0.005);
}

TEST(LifeToday, OfTwoPadsTheWorseIsKeptAndTheWordsOfTheirSetStand) {
    Kept k;
    const auto pad = [&](const char* component, double chance) { return nlohmann::json{{"part", k.pads}, {"component", component}, {"place", "front"}, {"rotor", false}, {"km", {100, 150, 180, 200, 300, 400}}, {"limit_reached_probability", chance}}; };
    const auto told = [&](const char* day, const nlohmann::json& parts) {
        const nlohmann::json j = {{"schema", answer::forecast_kind}, {"day", day}, {"bike_km", 0}, {"withheld", nullptr}, {"parts", parts}};
        must(k.papers->keep_answer({.id = papers::key_of({day}), .bike_id = k.bike, .made_unix_s = 86400.0 * static_cast<double>(*parse_day(day)), .kind = std::string(answer::forecast_kind), .model_versions = "", .json = j.dump(), .day = day}));
        for (const inspect::Check& c : k.said(day).checks)
            if (c.code == "front_pads_look_now") return c.text;
        return std::string();
    };
    EXPECT_NE(told("2026-06-01", {pad("front_left_pad", 0.015), pad("front_right_pad", 0.017)}).find("Measure the front right pad"), std::string::npos) << "as earlier versions kept it";
    const std::string set = told("2026-06-02", {pad("front_pads", 0.025), pad("front_left_pad", 0.015), pad("front_right_pad", 0.017)});
    EXPECT_NE(set.find("Measure the front pads"), std::string::npos) << set;
    EXPECT_NE(set.find("one of them is at its limit then is 2.5 %"), std::string::npos) << set;
}

TEST(LifeToday, ALookThatIsNearIsSaidByEveryVerdictAndOneWithinAKilometreIsDue) {
    Kept k, now;
    k.forecast("2026-06-01", "2026-07-15", 500);
    EXPECT_EQ(k.state("2026-06-02", "front_pads_look_by"), "nothing");
    EXPECT_EQ(k.state("2026-06-15", "front_pads_look_by"), "look_by");
    now.forecast("2026-06-01", "2030-01-01", 0.7);
    EXPECT_EQ(now.state("2026-06-01", "front_pads_look_now"), "measure_better");
}

TEST(LifeToday, WhatTheNewestAnswerFoundOfHeatHoldsInThePapersAndLivesAloneAreNotClean) {
    Kept k;
    k.forecast("2026-06-01", "2030-01-01", 5000);
    EXPECT_EQ(k.state("2026-06-02", "heat_not_worked_out"), "measure_better");
    const auto keep = [&](const char* day, nlohmann::json reasons) {
        const nlohmann::json j = {{"schema", answer::forecast_kind}, {"day", day}, {"bike_km", 0}, {"withheld", nullptr}, {"parts", nlohmann::json::array()}, {"reasons", std::move(reasons)}};
        must(k.papers->keep_answer({.id = papers::key_of({"answer", day}), .bike_id = k.bike, .made_unix_s = 1, .kind = std::string(answer::forecast_kind), .model_versions = "", .json = j.dump(), .day = day}));
    };
    keep("2026-06-03", {{{"code", "front_fluid_boils"}, {"state", "held_back"}, {"text", "Do not ride such a road."}}, {{"code", "rear_fluid_may_boil"}, {"state", "replace"}, {"text", "Renew the fluid."}}});
    EXPECT_EQ(k.state("2026-06-02", "front_fluid_boils"), "nothing") << "not yet";
    EXPECT_EQ(k.state("2026-06-04", "front_fluid_boils"), "held_back");
    EXPECT_EQ(k.state("2026-06-04", "rear_fluid_may_boil"), "replace");
    EXPECT_EQ(k.state("2026-06-04", "heat_not_worked_out"), "nothing");
    keep("2026-06-10", nlohmann::json::array());
    EXPECT_EQ(k.state("2026-06-11", "front_fluid_boils"), "nothing") << "a newer answer found none";
}

TEST(LifeToday, AThinReadingThatIsNotBelievedGivesNoDateAndAsksForAnother) {
    Kept k;
    for (int day = 10; day <= 15; ++day) {
        k.ride("2026-05-" + std::to_string(day), 20);
        if (day < 15) k.read(What::pad_thickness, k.pads, 2.75 - 0.01 * day, "2026-05-" + std::to_string(day));
    }
    const answer::LifeReport before = k.life("2026-05-15");
    k.read(What::pad_thickness, k.pads, 0.9, "2026-05-15");
    const answer::LifeReport after = k.life("2026-05-16");
    int unbelieved = 0;
    for (const answer::PartLife& p : after.parts)
        if (p.disbelieved) {
            ++unbelieved;
            EXPECT_TRUE(p.undated);
            EXPECT_FALSE(p.look_by);
        }
    EXPECT_EQ(unbelieved, 2) << "told of no side: both";
    EXPECT_TRUE(after.pads[0]->undated);
    // And the kilometres do not lean on the old readings: at every point the sooner of both.
    for (const answer::PartLife& p : after.parts) {
        if (!p.disbelieved) continue;
        EXPECT_GT(p.expected_mm, 2.4);
        EXPECT_NEAR(p.forecast.thickness_mm.p05, 0.9, 0.15);
        const auto old = std::find_if(before.parts.begin(), before.parts.end(), [&](const answer::PartLife& q) { return q.fitted.component == p.fitted.component; });
        // 0.4 mm are left to the limit where 2.1 mm were.
        for (std::size_t i = 0; i < p.forecast.km.size(); ++i) EXPECT_LT(p.forecast.km[i], 0.5 * old->forecast.km[i]) << i;
    }
    EXPECT_LT(after.pads[0]->forecast.km[3], 0.5 * before.pads[0]->forecast.km[3]);
    for (const answer::PartLife& p : before.parts) EXPECT_FALSE(p.disbelieved);
    EXPECT_TRUE(after.doubt);
    EXPECT_NE(k.state("2026-05-16", "front_pads_reading_in_doubt") + k.state("2026-05-16", "front_pads_look_now"), "nothingnothing");
}

// The band under flat jaws: reading less ridge; both uncertainties add as squares (GUM 5.1.2, JCGM 100:2008).
TEST(RotorJaws, AKnownRidgeIsTakenOffWithItsUncertaintyForTheVerdictAndForLearning) {
    Kept k{std::nullopt};   // nobody knows how thick it was when new: the reading says it
    for (int i = 1; i <= 6; ++i) k.ride("2026-05-0" + std::to_string(i + 2), 20);
    k.read(What::rotor_ridge, k.rotor, 0.10, "2026-05-20");
    k.read(What::rotor_thickness, k.rotor, 1.80, "2026-05-20", parts::Anvil::flat_jaws);
    const papers::Book book = must(papers::book_of(*k.papers, k.bike));
    const inspect::Practice practice = inspect::practice_of(library());
    const auto flat = std::find_if(book.readings.begin(), book.readings.end(), [](const papers::Reading& r) { return r.what == What::rotor_thickness; });
    const std::optional<inspect::Band> band = papers::band_of(book, *flat, practice, library(), "2026-05-21");
    ASSERT_TRUE(band);
    EXPECT_NEAR(band->thickness_mm, 1.70, 1e-12);
    EXPECT_NEAR(band->uncertainty_mm, std::sqrt(2.0) * inspect::standard_uncertainty(practice.caliper), 1e-12);
    EXPECT_FALSE(band->too_thick);
    const answer::LifeReport r = k.life("2026-05-21");
    EXPECT_NEAR(rotor_of(r).forecast.thickness_mm.p50, 1.70, 0.05);
    EXPECT_FALSE(rotor_of(r).in_doubt);
    EXPECT_FALSE(rotor_of(r).undated);
}

TEST(RotorJaws, WithoutARidgeTheReadingLengthensNoLifeAndPromisesNoDateAndSaysSo) {
    Kept none(std::nullopt, 1.7), flat(std::nullopt, 1.7), pointed(std::nullopt, 1.7);   // of unknown age, so the limit is within what is thought of it
    for (Kept* k : {&none, &flat, &pointed})
        for (int i = 1; i <= 6; ++i) k->ride("2026-05-0" + std::to_string(i + 2), 400);
    flat.read(What::rotor_thickness, flat.rotor, 1.85, "2026-05-20", parts::Anvil::flat_jaws);
    pointed.read(What::rotor_thickness, pointed.rotor, 1.85, "2026-05-20", parts::Anvil::pointed);
    const answer::LifeReport without = none.life("2026-05-21"), doubtful = flat.life("2026-05-21"), sure = pointed.life("2026-05-21");
    for (std::size_t i = 0; i < wear::forecast_points.size(); ++i) EXPECT_LE(rotor_of(doubtful).forecast.km[i], rotor_of(without).forecast.km[i] * (1 + 1e-12)) << i;
    EXPECT_GT(rotor_of(sure).forecast.km[1], rotor_of(without).forecast.km[1]) << "with an anvil that can be relied on it does lengthen it";
    EXPECT_TRUE(rotor_of(sure).look_by);
    EXPECT_FALSE(rotor_of(doubtful).look_by);
    EXPECT_TRUE(doubtful.doubt);
    const nlohmann::json out = nlohmann::json::parse(answer::json_of(doubtful, 1, "test"));
    for (const auto& p : out["parts"])
        if (p["component"] == "front_rotor") {
            EXPECT_TRUE(p["look_by"].is_null());
        }
    EXPECT_TRUE(std::any_of(doubtful.reasons.begin(), doubtful.reasons.end(), [](const std::string& s) { return s.find("no look-by date is promised") != std::string::npos; }));
    EXPECT_EQ(flat.said("2026-05-21").worked_out, "2026-05-21");
    EXPECT_NE(flat.state("2026-05-21", "front_rotor_reading_in_doubt") + flat.state("2026-05-21", "front_rotor_look_now"), "nothingnothing");
}

// As keep_standing of the papers: good to as little or less at no fewer places, and better in one.
TEST(LifeHold, AReadingAtTheLimitIsLiftedByABetterOneAloneNotByASpreadThatIsReckonedWider) {
    Kept k;
    for (int i = 1; i <= 6; ++i) k.ride("2026-05-0" + std::to_string(i + 2), 20);
    k.read(What::pad_thickness, k.pads, 0.45, "2026-05-20");   // of no side: it stands for both, with twice the variance in learning
    papers::Reading both;
    both.bike_id = k.bike, both.part_id = k.pads, both.what = What::pad_thickness, both.day = "2026-05-21", both.person_id = k.person, both.with_plate = false;
    both.recorded_unix_s = 86400.0 * static_cast<double>(*parse_day("2026-05-21")) + 43200;
    papers::Point left, right;
    left.side = papers::Side::left, right.side = papers::Side::right, left.length_mm = 1.5, right.length_mm = 1.5;
    both.points = {left, right};
    must(k.papers->add_reading(deed(), both));
    const answer::LifeReport r = k.life("2026-05-22");   // the same caliper: no better
    int held = 0;
    for (const answer::PartLife& p : r.parts) held += p.at_limit.has_value();
    EXPECT_EQ(held, 2);
    EXPECT_TRUE(r.hold);
    EXPECT_EQ(k.state("2026-05-22", "front_pads_at_limit"), "held_back");
}

// What a part is known by goes with it: off for another one and back with no ride between, nothing about it has changed.
TEST(LifeStays, APartThatCameBackIsKnownByAllThatWasReadOfIt) {
    Kept k;
    for (int i = 0; i < 40; ++i) k.ride(fmt::format("2026-05-{:02d}", 2 + i % 25), 20 + 0.01 * i);
    k.read(What::rotor_thickness, k.rotor, 1.58, "2026-05-28", parts::Anvil::pointed);   // limit 1.55
    k.read(What::pad_thickness, k.pads, 0.62, "2026-05-28");                               // limit 0.5
    const answer::LifeReport before = k.life("2026-06-01");
    const auto swap = [&](const papers::Id& part, papers::PartKind kind, const char* name) {
        papers::Part p;
        p.name = name, p.kind = kind;
        const papers::Id other = must(k.papers->add_part(deed(), p));
        k.move(other, k.bike, "2026-05-29");
        k.move(part, k.bike, "2026-05-30");
    };
    swap(k.rotor, papers::PartKind::rotor, "rotor two");
    swap(k.pads, papers::PartKind::pads, "pads two");
    const answer::LifeReport after = k.life("2026-06-01");
    ASSERT_EQ(after.parts.size(), before.parts.size());
    const auto of = [](const answer::LifeReport& r, const papers::Id& part, bool right = false) -> const answer::PartLife& {
        return *std::find_if(r.parts.begin(), r.parts.end(), [&](const answer::PartLife& p) { return p.fitted.part == part && (p.fitted.component == wear::Component::front_right_pad) == right; });
    };
    for (const papers::Id& part : {k.rotor, k.pads}) {
        const answer::PartLife &was = of(before, part), &now = of(after, part);
        EXPECT_EQ(now.fitted.set, was.fitted.set);
        EXPECT_EQ(now.forecast.readings, was.forecast.readings);
        EXPECT_NEAR(now.forecast.thickness_mm.p50, was.forecast.thickness_mm.p50, 1e-3) << was.name;
        EXPECT_NEAR(now.forecast.limit_reached_probability, was.forecast.limit_reached_probability, 0.01) << was.name;
        EXPECT_NEAR(now.forecast.km[3] / was.forecast.km[3], 1, 0.05) << was.name;
    }
    EXPECT_GT(of(after, k.rotor).forecast.limit_reached_probability, 0.005);
    EXPECT_EQ(k.state("2026-06-01", "front_rotor_look_now"), "measure_better");
}

// Kept by a version that took a part that came back for another one: it silences nothing that an earlier forecast said of the part.
TEST(LifeStays, APartThatLeftTheBikeIsNeitherWornNorForecastThere) {
    Kept k;
    const papers::Id wren = k.other_bike();
    for (int i = 0; i < 40; ++i) k.ride(fmt::format("2026-05-{:02d}", 2 + i % 25), 20 + 0.01 * i);
    k.read(What::rotor_thickness, k.rotor, 1.70, "2026-05-28", parts::Anvil::pointed);
    const answer::LifeReport before = k.life("2026-05-28");
    EXPECT_TRUE(std::any_of(before.parts.begin(), before.parts.end(), [&](const answer::PartLife& p) { return p.fitted.part == k.rotor; }));
    k.move(k.rotor, wren, "2026-05-29");
    for (int i = 0; i < 40; ++i) k.ride("2026-05-30", 25 + 0.01 * i);
    const answer::LifeReport after = k.life("2026-06-01");
    EXPECT_FALSE(std::any_of(after.parts.begin(), after.parts.end(), [&](const answer::PartLife& p) { return p.fitted.part == k.rotor; }));
    EXPECT_FALSE(after.parts.empty()) << "the pads are still there";
}

TEST(LifeStays, AForecastThatDidNotKnowItsReadingsSilencesNoEarlierOne) {
    Kept k;
    k.forecast("2026-05-27", "2030-01-01", 9000, "2030-01-01", 9000, 0.24);
    EXPECT_EQ(k.state("2026-06-01", "front_rotor_look_now"), "measure_better");
    nlohmann::json later;
    for (const papers::KeptAnswer& a : must(k.papers->answers(k.bike, answer::forecast_kind))) later = nlohmann::json::parse(a.json);
    later["day"] = "2026-06-01";
    later["parts"][1]["limit_reached_probability"] = 0.0;
    const auto keep = [&](const char* id, const char* set) {
        later["parts"][1]["set"] = set;
        must(k.papers->keep_answer({.id = papers::key_of({id}), .bike_id = k.bike, .made_unix_s = k.made_unix_s + 5 * 86400, .kind = std::string(answer::forecast_kind), .model_versions = "", .json = later.dump(), .day = "2026-06-01"}));
    };
    keep("a", "rotor (2)");
    EXPECT_EQ(k.state("2026-06-01", "front_rotor_look_now"), "measure_better");
    keep("b", "rotor");
    EXPECT_EQ(k.state("2026-06-01", "front_rotor_look_now"), "nothing") << "one that knows them does";
}

TEST(LifeStays, AReadingGoesWithTheRotorToAnotherBikeAndSoDoesWhatWoreItThere) {
    const auto on_wren = [](double heron_km_after) {
        Kept k;
        const papers::Id wren = k.other_bike();
        for (int i = 0; i < 10; ++i) k.ride(fmt::format("2026-05-{:02d}", 2 + i), 20 + 0.01 * i);
        k.read(What::rotor_thickness, k.rotor, 1.70, "2026-05-20", parts::Anvil::pointed);
        if (heron_km_after > 0) k.ride("2026-05-22", heron_km_after);
        k.move(k.rotor, wren, "2026-05-25");
        k.bike = wren;
        k.ride("2026-05-26", 20);
        return k.life("2026-06-01");
    };
    const answer::LifeReport still = on_wren(0), ridden = on_wren(3000);
    EXPECT_NEAR(rotor_of(still).forecast.thickness_mm.p50, 1.70, 0.005);
    EXPECT_EQ(rotor_of(still).forecast.readings, 1);
    EXPECT_TRUE(rotor_of(still).elsewhere_km > 199) << "before it was read";
    EXPECT_LT(rotor_of(ridden).forecast.thickness_mm.p50, rotor_of(still).forecast.thickness_mm.p50 - 0.002);
    EXPECT_GT(rotor_of(ridden).forecast.thickness_mm.p95 - rotor_of(ridden).forecast.thickness_mm.p05, rotor_of(still).forecast.thickness_mm.p95 - rotor_of(still).forecast.thickness_mm.p05);
    EXPECT_TRUE(std::any_of(ridden.questions.begin(), ridden.questions.end(), [](const std::string& q) { return q.find("on another bike") != std::string::npos; }));
}

// A forgotten backing plate makes no answer comfortable: with it and without it, the sooner counts, and it asks to be read again.
TEST(LifeCannotBe, AReadingThickerThanNewLengthensNoLifeAndIsNamedByEveryVerdict) {
    const auto ridden = [](std::optional<double> mm) {
        Kept k;   // new pads 3.0 mm
        for (int i = 0; i < 60; ++i) k.ride(fmt::format("2026-05-{:02d}", 2 + i % 25), 20 + 0.01 * i);
        if (mm) k.read(What::pad_thickness, k.pads, *mm, "2026-05-28");
        const answer::LifeReport r = k.life("2026-06-01");
        std::string said;
        for (const inspect::Check& c : k.said("2026-06-01").checks)
            if (c.code.starts_with("front_pads")) said += c.text;
        for (const inspect::Check& c : answer::life_checks(r, "2026-06-01"))
            if (c.code.starts_with("front_pads")) said += c.text;
        for (const std::string& reason : r.reasons) said += reason;
        return std::pair(r, said);
    };
    const auto [without, nothing] = ridden({});
    const auto [with, said] = ridden(4.9);   // 3.0 and the plate
    for (std::size_t i = 0; i < 2; ++i)
        for (std::size_t p = 0; p < with.parts[i].forecast.km.size(); ++p) EXPECT_LE(with.parts[i].forecast.km[p], without.parts[i].forecast.km[p] * 1.0001) << i << " " << p;
    EXPECT_LE(with.pads[0]->forecast.km[3], without.pads[0]->forecast.km[3] * 1.0001);
    EXPECT_GE(with.parts[0].forecast.limit_reached_probability, without.parts[0].forecast.limit_reached_probability);
    EXPECT_TRUE(with.doubt);
    std::size_t named = 0;
    for (std::size_t at = said.find("read 4.9 mm on 2026-05-28"); at != std::string::npos; at = said.find("read 4.9 mm on 2026-05-28", at + 1)) ++named;
    EXPECT_GE(named, 4u) << said;
    EXPECT_TRUE(with.pads[0]->undated && !with.pads[0]->look_by) << "where neither pad has a date the two have none";
    EXPECT_EQ(nothing.find("again before the next ride"), std::string::npos);
    const auto [fine, asked] = ridden(2.6);
    EXPECT_EQ(asked.find("again before the next ride: it read"), std::string::npos) << "one that can be is not asked about";
}

// Nor is it dropped where the same verdict says to look at them now.
TEST(LifeCannotBe, IsNamedBesideTheChanceToo) {
    Kept k;
    for (int i = 0; i < 400; ++i) k.ride(fmt::format("2026-05-{:02d}", 2 + i % 25), 20 + 0.01 * i);
    k.read(What::pad_thickness, k.pads, 4.9, "2026-05-28");
    ASSERT_GT(k.life("2026-06-01").pads[0]->forecast.limit_reached_probability, 0.005);
    std::size_t looks = 0;
    const auto named = [&](const std::vector<inspect::Check>& checks) {
        for (const inspect::Check& c : checks)
            if (c.code == "front_pads_look_now") looks += c.text.find("read 4.9 mm on 2026-05-28") != std::string::npos ? 1 : 100;
    };
    named(answer::life_checks(k.life("2026-06-01"), "2026-06-01"));
    named(k.said("2026-06-01").checks);
    EXPECT_EQ(looks, 2u);
}

// A date that is asked about is not a thickness that cannot be.
TEST(LifeCannotBe, AReadingYearsAfterTheLastRideIsAskedAboutAndBelieved) {
    Kept k;
    for (int i = 0; i < 40; ++i) k.ride(fmt::format("2022-05-{:02d}", 2 + i % 25), 20 + 0.01 * i);
    k.read(What::pad_thickness, k.pads, 2.4, "2026-05-20");
    const answer::LifeReport r = k.life("2026-06-01");
    EXPECT_TRUE(std::any_of(r.questions.begin(), r.questions.end(), [](const std::string& q) { return q.find("is the date right?") != std::string::npos; }));
    for (const answer::PartLife& p : r.parts) {
        EXPECT_FALSE(p.cannot_be) << p.name;
        if (p.name.find("front") == 0 && p.name.ends_with("pad")) { EXPECT_NEAR(p.forecast.thickness_mm.p50, 2.4, 0.1) << p.name; }
    }
    for (const std::string& reason : r.reasons) EXPECT_EQ(reason.find("do not grow"), std::string::npos) << reason;
}

TEST(LifeCannotBe, NeitherLiftsAHoldNorIsAGrownOneTheWholeAnswer) {
    Kept k;
    for (int i = 0; i < 20; ++i) k.ride(fmt::format("2026-05-{:02d}", 2 + i % 25), 20 + 0.01 * i);
    k.read(What::pad_thickness, k.pads, 0.45, "2026-05-28");
    EXPECT_TRUE(k.life("2026-05-28").hold);
    k.read(What::pad_thickness, k.pads, 4.9, "2026-05-29");
    EXPECT_TRUE(k.life("2026-05-30").hold) << "no reading that cannot be betters one at the limit";

    Kept g;
    for (int i = 0; i < 20; ++i) g.ride(fmt::format("2026-05-{:02d}", 2 + i % 25), 20 + 0.01 * i);
    g.read(What::pad_thickness, g.pads, 0.9, "2026-05-28");
    const answer::LifeReport thin = g.life("2026-05-28");
    g.read(What::pad_thickness, g.pads, 2.0, "2026-05-29");   // no ride between
    const answer::LifeReport grown = g.life("2026-05-29");
    EXPECT_LE(grown.parts[0].forecast.km[3], thin.parts[0].forecast.km[3] * 1.05);
    EXPECT_LE(grown.parts[0].forecast.thickness_mm.p50, 1.0);
    EXPECT_TRUE(std::any_of(grown.reasons.begin(), grown.reasons.end(), [](const std::string& r) { return r.find("read 2 mm on 2026-05-29, and 0.9 mm on 2026-05-28") != std::string::npos; }));
}

// Two that agree, and between them one that cannot be: the part is not followed anew from the last one, which would forget how it wore.
TEST(LifeCannotBe, OneBetweenTwoThatAgreeNeitherStartsThePartAnewNorLengthensItsLifeAndIsSaid) {
    const auto with = [](bool slip) {
        Kept k;
        for (int i = 0; i < 20; ++i) k.ride(fmt::format("2026-05-{:02d}", 2 + i % 25), 20 + 0.01 * i);
        k.read(What::pad_thickness, k.pads, 0.9, "2026-05-28");
        if (slip) k.read(What::pad_thickness, k.pads, 2.0, "2026-05-29");   // no ride between, nor after it
        k.read(What::pad_thickness, k.pads, 0.88, "2026-05-30");
        return k.life("2026-05-30");
    };
    const answer::LifeReport before = with(false), after = with(true);
    EXPECT_TRUE(before.shortened.empty());
    EXPECT_EQ(after.parts[0].fitted.set, "pads");
    for (const std::size_t point : {0, 1, 3, 5}) EXPECT_LE(after.parts[0].forecast.km[point], before.parts[0].forecast.km[point] * 1.05) << point;
    // Its newest reading is sound, so no reason speaks of the slip: why its life may be told too short does.
    ASSERT_EQ(after.shortened.size(), 2u);
    EXPECT_NE(after.shortened[0].find("front left pad of set 'pads' read 2 mm on 2026-05-29, which cannot be"), std::string::npos) << after.shortened[0];
    for (const std::string& s : after.shortened) EXPECT_NE(std::find(after.questions.begin(), after.questions.end(), s), after.questions.end());
}

// A set that is off for two days and back is not at its end, and days on which nothing moved say nothing new.
TEST(LifeStays, ASetThatCameBackIsNotJudgedAndIdleDaysCountOnce) {
    Kept k;
    double mm = 3.0;
    for (int month = 5; month <= 8; ++month) {
        for (int i = 0; i < 20; ++i) k.ride(fmt::format("2026-{:02d}-{:02d}", month, 2 + i), 20 + 0.01 * i);
        k.read(What::pad_thickness, k.pads, mm -= 0.5, fmt::format("2026-{:02d}-23", month));
        k.life(fmt::format("2026-{:02d}-23", month));
    }
    papers::Part p;
    p.name = "pads two", p.kind = papers::PartKind::pads;
    const papers::Id second = must(k.papers->add_part(deed(), p));
    k.move(second, k.bike, "2026-08-24");
    k.move(k.pads, k.bike, "2026-08-25");
    for (int day = 25; day <= 28; ++day) {
        const answer::LifeReport r = k.life(fmt::format("2026-08-{:02d}", day));
        EXPECT_EQ(r.score->judged + r.score->too_early, 0) << "on day " << day << " they are on";
    }
    k.move(second, k.bike, "2026-08-29");   // off for good
    const int judged = k.life("2026-08-29").score->judged;
    EXPECT_EQ(judged, 8) << "four states of the papers, two pads; not one more for each idle day";
    EXPECT_EQ(k.life("2026-08-30").score->judged, judged);
    const answer::ForecastScore miss{.judged = 1, .held = 0, .too_early = 0, .misses = {{.part = "pads", .day = "2026-05-01", .said_p05_km = 3099, .said_p95_km = 34000, .was_km = 3052}}};
    EXPECT_NE(answer::score_words(miss).find("3,100 to 34,000 km said, about 3,050 km"), std::string::npos) << answer::score_words(miss);
}
