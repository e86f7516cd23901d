// SPDX-License-Identifier: Apache-2.0
// Hands by group, the bite and what moves it, wear into the lever.
#include "stop/feel.hpp"

#include <gtest/gtest.h>

#include <cmath>
#include <filesystem>
#include <fstream>
#include <regex>
#include <set>
#include <sstream>

#include "bw_paths.hpp"
#include "inspect/verdict.hpp"
#include "made_bike.hpp"

namespace bw::stop {
namespace {

using parts::Actuation;

// Calls f(path, text) for every file of ours that a person may read.
template <class F>
void of_every_text_file(F f) {
    static const std::set<std::string> kinds = {".cpp", ".hpp", ".ts", ".svelte", ".toml", ".md", ".json"};
    for (const char* folder : {"src", "web/src", "data", "docs", "demo"})
        for (const auto& entry : std::filesystem::recursive_directory_iterator(std::string(BW_ROOT) + "/" + folder)) {
            if (!kinds.contains(entry.path().extension())) continue;
            std::ifstream in(entry.path());
            std::stringstream text;
            text << in.rdbuf();
            f(entry.path(), text.str());
        }
}

const parts::Library& library() {
    static const parts::Library l = *parts::load_library();
    return l;
}

TEST(FeelHand, AWeakerPercentileIsAWeakerAndSmallerHand) {
    for (const HandGroup g : {HandGroup::women, HandGroup::men, HandGroup::child_7, HandGroup::child_10, HandGroup::child_13}) {
        const parts::Hand weak = hand_of(library(), g, 5), middle = hand_of(library(), g, 50), strong = hand_of(library(), g, 95);
        EXPECT_LT(weak.strength_N.value, middle.strength_N.value);
        EXPECT_LT(middle.strength_N.value, strong.strength_N.value);
        EXPECT_LT(weak.size_cm.value, strong.size_cm.value);
        EXPECT_EQ(hand_group_of(word_of(g)), g);
    }
    EXPECT_FALSE(hand_group_of("giants"));
}

TEST(FeelHand, TheFifthPercentileOfWomenIsAboutTwoHundredNewtons) {
    // Ergonomic surveys, from memory: median about 300 N, 5th percentile about 200 N.
    EXPECT_NEAR(hand_of(library(), HandGroup::women, 50).strength_N.value, 300, 15);
    EXPECT_NEAR(hand_of(library(), HandGroup::women, 5).strength_N.value, 210, 20);
}

TEST(FeelHand, OneFingerHasLessThanTwoAndTwoLessThanThree) {
    EXPECT_LT(finger_share(library(), Fingers::one), finger_share(library(), Fingers::two));
    EXPECT_LT(finger_share(library(), Fingers::two), finger_share(library(), Fingers::three));
}

TEST(FeelHold, MeetsBjorksténAndJonssonAtAnHourAndRohmertAbove) {
    EXPECT_DOUBLE_EQ(hold_min(0.079), 60);   // 7.9 % for an hour, Scand. J. Work Environ. Health 3, 1977
    EXPECT_NEAR(hold_min(0.5), 1.10, 1e-9);  // Rohmert, worked check 22
    EXPECT_NEAR(hold_min(0.15), endurance_min(0.15), 1e-9);
    EXPECT_LT(hold_min(0.12), 60);
    EXPECT_GT(hold_min(0.12), hold_min(0.15));
}

TEST(FeelHold, ASlopeThatAirAndRollingHoldAsksNothingAndHoldingTakesLessThanReaching) {
    parts::Bike bike = made::bike();
    bike.drag_area_m2 = made::exactly(0.5);
    bike.rolling_resistance = made::exactly(0.006);
    StopSetup s;
    s.from_mps = 7;
    EXPECT_FALSE(hold_of(bike, s, made::unknowns()));
    s.grade = -0.12;
    const auto h = hold_of(bike, s, made::unknowns());
    ASSERT_TRUE(h);
    EXPECT_LT(h->held_N, h->lever_N);
    EXPECT_GT(h->held_N, 0);
}

TEST(FeelHold, AWetBrakeTakesAHarderPullAndHotPadsToo) {
    const parts::Bike bike = made::bike();
    StopSetup s;
    s.from_mps = 7;
    s.grade = -0.12;
    const double dry_N = hold_of(bike, s, made::unknowns())->held_N;
    // Amontons: the clamp force for a friction force goes with 1/friction; the wet factor of the made brake is 0.7.
    const BrakeUnknowns b = made::brake();
    const double spring_N = b.threshold_N, wet_N = spring_N + (dry_N - spring_N) / 0.7;
    s.surface = Surface::wet;
    EXPECT_NEAR(hold_of(bike, s, made::unknowns())->held_N, wet_N, 1e-9);
    s.surface = Surface::dry;
    s.front_friction_factor = s.rear_friction_factor = 0.7;
    EXPECT_NEAR(hold_of(bike, s, made::unknowns())->held_N, wet_N, 1e-9);
}

TEST(FeelHold, ASlopeThatTheTyresOrTheLeverDoNotHoldIsNoForceButCannot) {
    const parts::Bike bike = made::bike();
    StopSetup s;
    s.from_mps = 7;
    s.grade = -0.30;   // Coulomb: the rear tyre alone, unloaded by the slope, holds less than m g sin
    s.brakes = Brakes::rear;
    const auto rear = hold_of(bike, s, made::unknowns());
    ASSERT_TRUE(rear) << "cannot is not the same as nothing to hold";
    EXPECT_TRUE(std::isinf(rear->held_N));
    s.brakes = Brakes::both;
    EXPECT_TRUE(std::isfinite(hold_of(bike, s, made::unknowns())->held_N));
    s.grip = 0.2;      // under tan of the slope: no share of both tyres holds it
    EXPECT_TRUE(std::isinf(hold_of(bike, s, made::unknowns())->held_N));
    s.grip.reset();
    parts::Bike at_bar = bike;
    at_bar.front.lever.bite_mm = at_bar.rear.lever.bite_mm = made::exactly(0.5);   // the lever meets the bar first
    EXPECT_TRUE(std::isinf(hold_of(at_bar, s, made::unknowns())->held_N));
}

TEST(FeelBite, ThePlaceFollowsTheWindow) {
    const double window[2] = {20, 30}, none[2] = {30, 20};
    EXPECT_EQ(place_of(25, window), BitePlace::in_window);
    EXPECT_EQ(place_of(35, window), BitePlace::too_far_out);
    EXPECT_EQ(place_of(15, window), BitePlace::too_near);
    EXPECT_EQ(place_of(25, none), BitePlace::no_window);
}

TEST(FeelWear, ALeverPaysInTravelWhatThePadsLose) {
    // Work in = work out: clamp 100 N a newton, so a millimetre of one pad and none of the other moves the lever by 100 mm.
    parts::Wheel w = made::hydraulic_wheel();
    w.actuation = Actuation::cable;
    w.lever.ratio = made::exactly(4);
    w.caliper.arm_ratio = made::exactly(5);
    w.caliper.moving_pads = 2;
    EXPECT_NEAR(travel_of_wear_mm(w, 0.1, 0.1, 0), 20 * 0.2, 1e-12);
    EXPECT_NEAR(travel_of_wear_mm(w, 0.1, 0, 0.1), 20 * 0.2, 1e-12);
    w.caliper.moving_pads = 1;
    EXPECT_NEAR(travel_of_wear_mm(w, 0.1, 0.1, 0), 20 * 0.2, 1e-12) << "the moving pad pays for the fixed one too";
    EXPECT_NEAR(travel_of_turn_mm(w, 0.8), 3.2, 1e-12);
    EXPECT_EQ(travel_of_turn_mm(made::hydraulic_wheel(), 0.8), 0);
    EXPECT_TRUE(follows_no_wear(w));
    EXPECT_FALSE(follows_no_wear(made::hydraulic_wheel()));
}

TEST(FeelHeat, AThinColumnOfFluidTakesTheGapLater) {
    // Glycol 1.0e-3/K, 10 mm behind the piston: 0.25 mm takes 25 K of even warming.
    EXPECT_NEAR(warming_that_takes_gap_dK(0.25, 1.0e-3, 10), 25, 1e-12);
    EXPECT_GT(warming_that_takes_gap_dK(0.25, 1.0e-3, 5), warming_that_takes_gap_dK(0.25, 1.0e-3, 10));
    EXPECT_TRUE(std::isinf(warming_that_takes_gap_dK(0.25, 0, 10)));
}

// ---- the advice that is never given ------------------------------------------------------------------------------

//! Asks somebody to move the bite of a cable-to-hydraulic caliper with its cable or arm.
bool asks_to_preload(const std::string& sentence) {
    static const std::regex asks("(tighten|take up|take in|shorten|preload|pre-load|pull|wind in|turn|use|set)[^.;:]{0,60}(cable|arm|barrel|adjuster)", std::regex::icase);
    static const std::regex forbids("\\b(never|not|no|without|n't|instead of|slack)\\b", std::regex::icase);
    return std::regex_search(sentence, asks) && !std::regex_search(sentence, forbids);
}
//! Asks for the lever to be brought in, which draws the cable and may lift the arm off its stop.
bool asks_for_reach_in(const std::string& sentence) {
    static const std::regex asks("(turn|wind|screw)[^.;:]{0,30}reach[^.;:]{0,30}\\bin\\b|(turn|wind|screw)[^.;:]{0,10}\\bin\\b[^.;:]{0,20}reach", std::regex::icase);
    return std::regex_search(sentence, asks);
}
std::vector<std::string> sentences_of(const std::string& text) {
    std::vector<std::string> all;
    std::string one;
    for (const char c : text) {
        one += c;
        if (c == '.' || c == '\n' || c == ';') all.push_back(one), one.clear();
    }
    all.push_back(one);
    return all;
}

TEST(ForbiddenAdvice, TheTestItselfKnowsTheAdviceWhenItSeesIt) {
    EXPECT_TRUE(asks_to_preload("Turn the barrel adjuster out until the bite suits."));
    EXPECT_TRUE(asks_to_preload("Take up the cable."));
    EXPECT_FALSE(asks_to_preload("Bite is never put right with the cable here."));
    EXPECT_TRUE(asks_for_reach_in("Turn the reach screw in: lever and bite come nearer to the bar together."));
    EXPECT_FALSE(asks_for_reach_in("Turn the reach screw out."));
}

TEST(ForbiddenAdvice, NoAdviceMovesTheArmOfACableToHydraulicCaliper) {
    parts::Wheel w = made::hydraulic_wheel();
    w.actuation = Actuation::cable_to_hydraulic;
    for (const BitePlace p : {BitePlace::in_window, BitePlace::too_far_out, BitePlace::too_near, BitePlace::no_window})
        for (const Adjustment& a : adjustments_for(w, p))
            for (const std::string& s : sentences_of(a.text)) EXPECT_FALSE(asks_to_preload(s) || asks_for_reach_in(s)) << s;
    for (const double bite : {0.0, 3.0, 12.0}) {
        inspect::LeverCheck c;
        c.actuation = Actuation::cable_to_hydraulic;
        c.bite_mm = bite;
        c.full_mm = bite - 5;
        for (const std::string& s : sentences_of(inspect::check_lever(c, inspect::practice_of(library())).text)) EXPECT_FALSE(asks_to_preload(s) || asks_for_reach_in(s)) << s;
    }
    EXPECT_FALSE(adjustments_for(w, BitePlace::too_near).empty());
    w.actuation = Actuation::cable;
    bool cable = false;
    for (const Adjustment& a : adjustments_for(w, BitePlace::too_near)) cable = cable || a.what == "cable";
    EXPECT_TRUE(cable) << "a plain cable brake may be set at its cable";
    for (const Adjustment& a : adjustments_for(w, BitePlace::too_far_out))
        if (asks_for_reach_in(a.text)) {
            EXPECT_NE(a.text.find("slack"), std::string::npos) << "the reach screw draws the cable: " << a.text;
        }
}

//! What a program of this kind can say: string literals of C++, neighbours joined as the compiler joins them; other files whole.
std::vector<std::string> texts_of(const std::string& file, const std::string& kind) {
    if (kind != ".cpp" && kind != ".hpp") return {file};
    static const std::regex run("(?:\"(?:[^\"\\\\\n]|\\\\.)*\"\\s*)+"), one("\"((?:[^\"\\\\\n]|\\\\.)*)\"");
    std::vector<std::string> out;
    for (std::sregex_iterator it(file.begin(), file.end(), run), end; it != end; ++it) {
        const std::string joined = it->str();
        out.emplace_back();
        for (std::sregex_iterator part(joined.begin(), joined.end(), one); part != end; ++part) out.back() += part->str(1);
    }
    return out;
}

TEST(ForbiddenAdvice, EveryTextThatMovesACableOrALeverIsAKnownOneForOtherBrakes) {
    // Each of these is for a cable brake or a hydraulic one, or asks nothing of anybody. A new sentence must be looked at, and then stand here.
    const std::vector<std::pair<std::string, std::string>> known = {
        {"feel.cpp", "Turn the reach screw in: lever and bite come nearer to the bar together"},
        {"feel.cpp", "Set the pads nearer to the rotor with the caliper's own adjusters, the fixed one first"},
        {"feel.cpp", "What is left, take up at the cable's adjuster"},
        {"run_out_words.cpp", "A pattern {} times a turn, as arms or fixings make it"},
        {"checks.cpp", "Look at pads, cable and housing, set the pads nearer with the caliper's own adjusters, then measure again"},
        {"stop_figures.cpp", "between two turns of the cable's adjuster"},
        {"Stop.svelte", "and the cable wants a turn every"},
        {"stop.toml", "spiral housing that shortens, cable that stretches, arm and rotor that bend"},
        {"stop.toml", "way of the cable for a turn of its adjuster: thread M5 x 0"},
        {"main.cpp", "CSV t_s,place,value_degC,sd_K[,set_emissivity,spot] of measured temperatures (rotor, arms, plate, caliper, fluid;"},
        {"formats.md", "`set_emissivity`: the reading is that of an infra-red thermometer with this emissivity set, of rotor, arms or caliper"},
        {"formats.md", "`cable_turns` (kilometres for a turn of the cable by country and weather)"},
    };
    std::set<std::size_t> met;
    of_every_text_file([&](const std::filesystem::path& path, const std::string& whole) {
        for (const std::string& text : texts_of(whole, path.extension()))
            for (const std::string& s : sentences_of(text)) {
                if (!asks_to_preload(s) && !asks_for_reach_in(s)) continue;
                bool found = false;
                for (std::size_t i = 0; i < known.size(); ++i)
                    if (path.filename() == known[i].first && s.find(known[i].second) != std::string::npos) found = true, met.insert(i);
                EXPECT_TRUE(found) << path << ": " << s;
            }
    });
    EXPECT_EQ(met.size(), known.size()) << "a text that is gone still stands in the list, or the test reads nothing";
}

TEST(ForbiddenAdvice, NoTextOfProgramPagesDataOrDocumentsGivesIt) {
    // Every sentence that speaks of such a caliper, wherever it stands.
    static const std::regex speaks("cable[- _]to[- _]hydraulic|cable_to_hydraulic", std::regex::icase);
    static const std::regex preload("pre-?load", std::regex::icase), forbids("\\b(never|not|no|forbid|forbids|forbidden)\\b", std::regex::icase);
    int read = 0;
    of_every_text_file([&](const std::filesystem::path& path, const std::string& whole) {
        ++read;
        for (const std::string& s : sentences_of(whole)) {
            const bool code = s.find_first_of("(){}=") != std::string::npos;
            if (std::regex_search(s, speaks) && !code) {
                EXPECT_FALSE(asks_to_preload(s)) << path << ": " << s;
            }
            if (std::regex_search(s, preload)) {
                EXPECT_TRUE(std::regex_search(s, forbids)) << path << ": " << s;
            }
        }
    });
    EXPECT_GT(read, 100);
}

}  // namespace
}  // namespace bw::stop
