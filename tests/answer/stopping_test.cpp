// SPDX-License-Identifier: Apache-2.0
// What `stop` takes for the wear of a brake that does not follow it: this bike's own, unless other country is asked about.
#include <gtest/gtest.h>

#include <filesystem>
#include <fstream>
#include <iterator>
#include <nlohmann/json.hpp>

#include "answer/stopping.hpp"
#include "bw_paths.hpp"

using namespace bw;

namespace {

// Heavy and with cables: its pads are soon in the window of bedding-in, which is the long part of a report.
parts::Bike cables(const parts::Library& library) {
    return *parts::read_bike("format = 1\nbike.kind = \"cargo\"\nbike.total_mass_kg = 190\nfront.actuation = \"cable\"\nfront.lever.ratio = 4\nrear.actuation = \"cable\"\nrear.lever.ratio = 4\n", "made", library);
}

}  // namespace

TEST(StopWear, ABikesOwnWearCountsUnlessCountryOrGritIsTold) {
    const parts::Library library = *parts::load_library();
    answer::StopQuestion q;
    q.bike = cables(library);
    q.cases = 64;
    const auto feel = [&](const answer::StopQuestion& asked) {
        const auto report = answer::stop_report({}, library, asked);
        EXPECT_TRUE(report) << report.error().text;
        return report->feel[0];
    };
    const answer::LeverFeel usual = feel(q);
    ASSERT_FALSE(usual.follows_wear);
    EXPECT_FALSE(usual.by_own_rides);
    answer::StopQuestion own = q;
    own.own_wear[0] = {{.p05 = 0.002, .p50 = 0.004, .p95 = 0.008}, {.p05 = 0.002, .p50 = 0.004, .p95 = 0.008}};   // pads gone in a few hundred kilometres
    own.own_ride_km = 7;
    const answer::LeverFeel fast = feel(own);
    EXPECT_TRUE(fast.by_own_rides);
    EXPECT_EQ(fast.ride_km, 7);
    // Both pads' own wear and the lever's way for it, p50: within the spread of the other factors.
    EXPECT_GT(fast.mm_per_km->p50, 3 * usual.mm_per_km->p50);
    EXPECT_LT(fast.km_in_window->p50, usual.km_in_window->p50 / 3);
    answer::StopQuestion wet = own;   // a wet road wears this bike's pads faster too
    wet.surface = stop::Surface::wet;
    const answer::LeverFeel soaked = feel(wet);
    EXPECT_TRUE(soaked.by_own_rides);
    EXPECT_GT(soaked.mm_per_km->p50, 1.2 * fast.mm_per_km->p50);
    EXPECT_LT(soaked.km_in_window->p50, fast.km_in_window->p50 / 1.2);
    EXPECT_LT(soaked.km_per_turn->p50, fast.km_per_turn->p50 / 1.2);
    answer::StopQuestion told = own, gritty = own;   // told terrain or grit is what is asked about
    told.terrain_told = true;
    const answer::LeverFeel asked = feel(told);
    EXPECT_FALSE(asked.by_own_rides);
    EXPECT_EQ(asked.mm_per_km->p50, usual.mm_per_km->p50) << "hilly, as untold";
    gritty.gritty = true;
    const answer::LeverFeel of_grit = feel(gritty);
    EXPECT_FALSE(of_grit.by_own_rides);
    answer::StopQuestion plain_grit = q;
    plain_grit.gritty = true;
    EXPECT_EQ(of_grit.mm_per_km->p50, feel(plain_grit).mm_per_km->p50) << "as of a bike without readings";
}

TEST(StopLever, ARatioThatGrowsTowardsTheBarIsFeltInChainLeverAndKilometres) {
    const parts::Library library = *parts::load_library();
    answer::StopQuestion q;
    q.bike = cables(library);
    q.cases = 64;
    const auto of = [&](std::optional<double> at_bar) {
        answer::StopQuestion asked = q;
        const double at_rest = q.bike.front.lever.ratio.value;
        if (at_bar) asked.bike.front.lever.ratio_at_bar = Uncertain{.value = *at_bar * at_rest, .sd = 0, .grade = Grade::measured, .source = "told"};
        const auto report = answer::stop_report({}, library, asked);
        EXPECT_TRUE(report) << report.error().text;
        return *report;
    };
    const auto plain = of({}), rising = of(2);
    const auto pull = [](const answer::StopReport& r) {
        for (const stop::ChainStage& s : r.chains[0].stages)
            if (s.stage.starts_with("lever to ")) return s.out / s.in;
        return 0.0;
    };
    EXPECT_GT(pull(rising), 1.1 * pull(plain)) << "the chain at the squeeze asked about";
    EXPECT_LT(rising.levers[0].force_03g_N.p50, plain.levers[0].force_03g_N.p50);
    EXPECT_GT(rising.feel[0].mm_per_km->p50, plain.feel[0].mm_per_km->p50) << "leverage is paid for in way";
    EXPECT_EQ(rising.levers[1].full_mm.p50, plain.levers[1].full_mm.p50) << "the other brake's cases stay as they are";
}

TEST(StopYardsticks, LimitsOfElectricAndCargoBikesThatAreFromMemorySetNoVerdict) {
    // The same bike beside a limit that every bike keeps and one that none does: the share moves from all to none, and no word of the
    // verdict, no text of its reasons and no distance with it.
    const auto with_limit = [](const std::string& metres) {
        std::vector<std::pair<std::string, std::string>> files;
        int changed = 0;
        for (const auto& f : std::filesystem::directory_iterator(std::filesystem::path(BW_ROOT) / "data")) {
            if (f.path().extension() != ".toml") continue;
            std::ifstream in(f.path());
            std::string text((std::istreambuf_iterator<char>(in)), {});
            for (const char* row : {"[yardstick.epac_track_dry_both]\nvalue = ", "[yardstick.cargo_track_dry_both]\nvalue = "})
                if (const std::size_t at = text.find(row); at != std::string::npos) {
                    const std::size_t from = at + std::string(row).size();
                    text.replace(from, text.find('\n', from) - from, metres), ++changed;
                }
            files.emplace_back(f.path().filename().string(), text);
        }
        EXPECT_EQ(changed, 2);
        return *parts::parse_library(files);
    };
    const parts::Library lax = with_limit("1000"), strict = with_limit("0.01");
    answer::StopQuestion q;
    q.bike = parts::default_bike(parts::BikeKind::cargo, lax);
    q.bike.e_assist = true;
    q.cases = 64;
    const auto easy = answer::stop_report({}, lax, q), hard = answer::stop_report({}, strict, q);
    ASSERT_TRUE(easy && hard);
    int seen = 0;
    for (std::size_t i = 0; i < easy->yardsticks.size(); ++i) {
        const answer::Yardstick &a = easy->yardsticks[i], &b = hard->yardsticks[i];
        if (a.id != "epac_track_dry_both" && a.id != "cargo_track_dry_both") continue;
        ++seen;
        EXPECT_EQ(a.met_share, 1) << a.id;
        EXPECT_EQ(b.met_share, 0) << a.id;
        EXPECT_EQ(a.grade, Grade::published_from_memory) << a.id;
        EXPECT_NE(a.source.find("from memory"), std::string::npos) << a.source;
    }
    EXPECT_EQ(seen, 2);
    EXPECT_NE(answer::text_of(*easy).find("e-bike, laden as it is"), std::string::npos);
    const auto rest = [](const answer::StopReport& r) {
        auto j = nlohmann::json::parse(answer::json_of(r, "0"));
        j.erase("yardsticks");
        return j.dump();
    };
    EXPECT_EQ(rest(*easy), rest(*hard));
}
