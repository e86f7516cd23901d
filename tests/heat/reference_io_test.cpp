// SPDX-License-Identifier: Apache-2.0
// The reference form as text.
#include <gtest/gtest.h>

#include <cmath>
#include <set>

#include "by_cvode.hpp"
#include "heat/reference.hpp"

namespace {

using namespace bw::heat;

const std::string good = R"([thermal]
form = "reference"
ambient_degC = 18
start_degC = 25
closed_above_W = 2
power_scale = 1.1
[thermal.rotor]
face_area_m2 = 0.0060
edge_area_m2 = 0.0010
half_thickness_m = { value = 0.0009, sd = 0.00003, source = "measured" }
conductivity_W_mK = 25
density_kg_m3 = 7800
heat_capacity_J_kgK = 470
emissivity = 0.3
convection = [5, { value = 9.5, sd = 3 }, 0.5]
[thermal.friction]
area_m2 = 4e-4
thickness_m = 0.002
conductivity_W_mK = 1
density_kg_m3 = 2200
heat_capacity_J_kgK = 1100
[thermal.plate]
area_m2 = 5e-4
thickness_m = 0.002
conductivity_W_mK = 50
density_kg_m3 = 7850
heat_capacity_J_kgK = 480
[thermal.contact]
conductance_W_m2K = inf
[thermal.gap]
conductance_W_m2K = 120
[thermal.piston]
heat_capacity_J_K = 8
[thermal.fluid]
heat_capacity_J_K = 4
[thermal.caliper]
heat_capacity_J_K = 50
area_m2 = 0.006
emissivity = 0.8
convection = [5, 6, 0.6]
[thermal.arms]
heat_capacity_J_K = 12
area_m2 = 0.004
emissivity = 0.3
convection = [5, 9, 0.5]
[thermal.hub]
heat_capacity_J_K = 60
area_m2 = 0.01
emissivity = 0
convection = [5, 6, 0.5]
[thermal.links_W_K]
plate_piston = 0.1
plate_caliper = 0.05
piston_fluid = 0.06
piston_caliper = 0.04
fluid_caliper = 0.12
rotor_arms = 0.1
arms_hub = 0.3
)";

std::string with(const std::string& from, const std::string& to) {
    std::string text = good;
    const std::size_t at = text.find(from);
    EXPECT_NE(at, std::string::npos) << from;
    return text.replace(at, from.size(), to);
}
std::string error_of(const std::string& text) {
    const auto r = read_reference(text, "brake.toml");
    EXPECT_FALSE(r);
    return r ? "" : r.error().text;
}

TEST(ReferenceToml, ReadsEveryKeyIntoItsField) {
    const auto r = read_reference(good, "brake.toml");
    ASSERT_TRUE(r) << r.error().text;
    const ReferenceBrake& b = r->brake;
    EXPECT_EQ(b.ambient_degC, 18);
    EXPECT_EQ(b.start_degC, 25);
    EXPECT_EQ(b.power_scale, 1.1);
    EXPECT_EQ(b.rotor.half_thickness_m, 0.0009);
    EXPECT_EQ(b.rotor.convection.b, 9.5);
    EXPECT_EQ(b.caliper.convection.m, 0.6);
    EXPECT_TRUE(std::isinf(b.contact_W_m2K));
    EXPECT_EQ(b.fluid_J_K, 4);
    EXPECT_EQ(b.links_W_K.fluid_caliper, 0.12);
    EXPECT_EQ(b.links_W_K.arms_hub, 0.3);
}

TEST(ReferenceToml, ValuesWithASpreadAreDrawnAndTheOthersStay) {
    const auto r = read_reference(good, "brake.toml");
    ASSERT_TRUE(r);
    const bw::Cases cases = bw::draw_cases(r->inputs, 64, 1);
    int moved = 0;
    for (std::size_t i = 0; i < 64; ++i) {
        const ReferenceBrake b = with_case(*r, {cases, i});
        moved += b.rotor.half_thickness_m != 0.0009 && b.rotor.convection.b != 9.5;
        EXPECT_EQ(b.friction.thickness_m, 0.002);
        EXPECT_TRUE(std::isinf(b.contact_W_m2K));
    }
    EXPECT_GE(moved, 63);
}

TEST(ReferenceToml, AnUnknownKeyIsRefusedWithItsLineAndTheNearestKnownOne) {
    const std::string text = error_of(with("emissivity = 0.3\nconvection = [5, {", "emisivity = 0.3\nconvection = [5, {"));
    EXPECT_NE(text.find("brake.toml:14:"), std::string::npos) << text;
    EXPECT_NE(text.find("thermal.rotor.emissivity"), std::string::npos) << text;
    EXPECT_NE(error_of(good + "[extra]\na = 1\n").find("unknown key 'extra'"), std::string::npos);
}

TEST(ReferenceToml, AMissingKeyIsNamed) {
    EXPECT_NE(error_of(with("rotor_arms = 0.1\n", "")).find("thermal.links_W_K.rotor_arms"), std::string::npos);
    EXPECT_NE(error_of(with("convection = [5, 6, 0.6]\n", "")).find("thermal.caliper.convection"), std::string::npos);
    EXPECT_NE(error_of(with("form = \"reference\"\n", "")).find("thermal.form"), std::string::npos);
}

TEST(ReferenceToml, ValuesOfTheWrongKindOrRangeAreRefusedWithTheirLine) {
    EXPECT_NE(error_of(with("ambient_degC = 18", "ambient_degC = \"warm\"")).find("brake.toml:3:"), std::string::npos);
    EXPECT_NE(error_of(with("emissivity = 0.8", "emissivity = 1.8")).find("thermal.caliper.emissivity"), std::string::npos);
    EXPECT_NE(error_of(with("[5, 6, 0.6]", "[5, 6]")).find("three numbers"), std::string::npos);
    EXPECT_NE(error_of(with("ambient_degC = 18", "ambient_degC = [[20, 50], [300, 45]]")).find("a number"), std::string::npos);
    EXPECT_NE(error_of(with("emissivity = 0\n", "emissivity = 0.4\n")).find("thermal.hub.emissivity"), std::string::npos);
    EXPECT_NE(error_of(with("area_m2 = 4e-4", "area_m2 = 0.02")).find("no area is left"), std::string::npos);
    EXPECT_NE(error_of("[thermal\n").find("brake.toml:1:"), std::string::npos);
    EXPECT_NE(error_of(with("sd = 0.00003", "sd = -1")).find(".sd"), std::string::npos);
    EXPECT_NE(error_of(with("ambient_degC = 18", "ambient_degC = nan")).find("thermal.ambient_degC"), std::string::npos);
    EXPECT_NE(error_of(with("thickness_m = 0.002\nconductivity_W_mK = 1", "thickness_m = inf\nconductivity_W_mK = 1")).find("thermal.friction.thickness_m"), std::string::npos);
}

TEST(ReferenceToml, ConductivityAndHeatCapacityMayBeTablesOverTemperature) {
    const auto r = read_reference(with("conductivity_W_mK = 50", "conductivity_W_mK = [[20, 50], [300, 45], [500, 42.5]]"), "brake.toml");
    ASSERT_TRUE(r) << r.error().text;
    const PropertyTable& t = r->brake.plate.conductivity_over_T;
    ASSERT_EQ(t.points.size(), 3U);
    EXPECT_EQ(t.at(-50), 50);                 // constant beyond the ends
    EXPECT_NEAR(t.at(160), 47.5, 1e-12);      // linear between
    EXPECT_EQ(t.at(900), 42.5);
    EXPECT_NEAR(t.integral(160, 400), 140 * (47.5 + 45) / 2 + 100 * (45 + 43.75) / 2, 1e-9);
    EXPECT_NEAR(t.integral(600, 0), -(20 * 50 + 280 * 47.5 + 200 * 43.75 + 100 * 42.5), 1e-9);
    EXPECT_TRUE(varies(r->brake));
    EXPECT_FALSE(varies(read_reference(good, "brake.toml")->brake));
}

TEST(ReferenceToml, ATableThatIsWrongIsRefusedWithItsLine) {
    const auto wrong = [](const std::string& table) { return error_of(with("conductivity_W_mK = 50", "conductivity_W_mK = " + table)); };
    EXPECT_NE(wrong("[]").find("[[T_degC, value], ...]"), std::string::npos);
    EXPECT_NE(wrong("[[20, 50], [20, 45]]").find("rising"), std::string::npos);
    EXPECT_NE(wrong("[[20, 50, 1]]").find("[[T_degC, value], ...]"), std::string::npos);
    EXPECT_NE(wrong("[[20, -1]]").find("thermal.plate.conductivity_W_mK"), std::string::npos);
    EXPECT_NE(wrong("[[20, 10], [300, 50]]").find("four times"), std::string::npos);
    EXPECT_NE(wrong("{ value = [[20, 50], [300, 45]], sd = 2 }").find("sd"), std::string::npos);
}

TEST(ReferenceToml, TheOtherSideIsAsThisOneButForWhatIsSaidOfIt) {
    EXPECT_FALSE(read_reference(good, "b.toml")->brake.other);
    const auto file = read_reference(good + "[thermal.other.friction]\nthickness_m = { value = 0.0012, sd = 0.0002 }\nheat_capacity_J_kgK = [[20, 900], [400, 1300]]\n[thermal.other.links_W_K]\nplate_piston = 0.02\n", "b.toml");
    ASSERT_TRUE(file) << file.error().text;
    const ReferenceBrake& b = file->brake;
    ASSERT_TRUE(b.other);
    EXPECT_EQ(b.other->friction.thickness_m, 0.0012);
    EXPECT_EQ(b.other->links_W_K.plate_piston, 0.02);
    EXPECT_EQ(b.other->friction.heat_capacity_over_T.points.size(), 2u);
    EXPECT_FALSE(b.friction.heat_capacity_over_T.varies());
    EXPECT_EQ(b.other->friction.area_m2, b.friction.area_m2);
    EXPECT_EQ(b.other->plate.conductivity_W_mK, 50);
    EXPECT_EQ(b.other->links_W_K.piston_fluid, 0.06);
    EXPECT_TRUE(std::isinf(b.other->contact_W_m2K));
    // What is drawn of this side is drawn of the other where it says nothing of its own; its own spread is its own.
    const std::string spread = with("plate_piston = 0.1", "plate_piston = { value = 0.1, sd = 0.03 }") + "[thermal.other.friction]\nthickness_m = { value = 0.0012, sd = 0.0002 }\n";
    const auto drawn = read_reference(spread, "b.toml");
    ASSERT_TRUE(drawn) << drawn.error().text;
    const bw::Cases cases = bw::draw_cases(drawn->inputs, 64, 1);
    std::set<double> thin;
    for (std::size_t i = 0; i < 64; ++i) {
        const ReferenceBrake c = with_case(*drawn, bw::CaseRow(cases, i));
        EXPECT_EQ(c.other->links_W_K.plate_piston, c.links_W_K.plate_piston);
        EXPECT_EQ(c.friction.thickness_m, 0.002);
        thin.insert(c.other->friction.thickness_m);
    }
    EXPECT_GT(thin.size(), 60u);
    // A brake told twice is the half brake.
    const auto twice = read_reference(good + "[thermal.other]\n", "b.toml");
    ASSERT_TRUE(twice) << twice.error().text;
    ASSERT_TRUE(twice->brake.other);
    EXPECT_EQ(twice->brake.other->friction.thickness_m, 0.002);
}

TEST(ReferenceToml, AWrongKeyOfTheOtherSideIsRefusedWithItsLine) {
    const std::string unknown = error_of(good + "[thermal.other.friction]\nthicknes_m = 0.001\n");
    EXPECT_NE(unknown.find("thermal.other.friction.thickness_m"), std::string::npos) << unknown;
    EXPECT_NE(error_of(good + "[thermal.other.rotor]\nface_area_m2 = 0.001\n").find("thermal.other.rotor"), std::string::npos);
    EXPECT_NE(error_of(good + "[thermal.other.friction]\narea_m2 = 1\n").find("area"), std::string::npos);
}

TEST(PowerCsv, ReadsColumnsInAnyOrderAndEmptyLines) {
    const auto rows = read_power_csv("power_W,t_s,speed_mps\r\n100,0,5\n\n-20,0.1,6\n0,0.2,7\n", "power.csv");
    ASSERT_TRUE(rows) << rows.error().text;
    ASSERT_EQ(rows->size(), 3U);
    EXPECT_EQ((*rows)[1].t_s, 0.1);
    EXPECT_EQ((*rows)[1].power_W, -20);
    EXPECT_EQ((*rows)[2].speed_mps, 7);
}

TEST(PowerCsv, SaysLineColumnAndWhatWasExpected) {
    const auto error = [](std::string_view text) { const auto r = read_power_csv(text, "p.csv"); EXPECT_FALSE(r); return r ? std::string() : r.error().text; };
    EXPECT_NE(error("t_s,speed_mps,power_W\n0,5,100\n1,x,100\n").find("p.csv:3: column 2 (speed_mps): 'x'"), std::string::npos);
    EXPECT_NE(error("t_s,speed_mps,power_W\n0,5,100\n0,5,100\n").find("increasing"), std::string::npos);
    EXPECT_NE(error("t_s,speed,power_W\n0,5,100\n").find("speed_mps"), std::string::npos);
    EXPECT_NE(error("t_s,speed_mps\n0,5\n").find("power_W"), std::string::npos);
    EXPECT_NE(error("t_s,speed_mps,power_W\n0,5\n").find("2 fields, expected 3"), std::string::npos);
    EXPECT_NE(error("").find("empty"), std::string::npos);
    EXPECT_NE(error("t_s,speed_mps,power_W\n0,5,1\n").find("at least two"), std::string::npos);
    EXPECT_NE(error("t_s,speed_mps,power_W\n0,-5,1\n1,1,1\n").find("column 2"), std::string::npos);
}

TEST(SeriesCsv, HasARowAPowerRowThreeDecimalsAndAnEmptyShareWhileOpen) {
    const std::vector<PowerRow> rows = {{.t_s = 0, .speed_mps = 5, .power_W = 500}, {.t_s = 1, .speed_mps = 5, .power_W = 400}, {.t_s = 2, .speed_mps = 5, .power_W = 0}, {.t_s = 3, .speed_mps = 5, .power_W = 0}};
    const auto run = solve(test::ordinary_brake(), rows, {});
    ASSERT_TRUE(run);
    const std::string csv = series_csv(run->rows);
    EXPECT_TRUE(csv.starts_with("t_s,rotor_surface_degC,rotor_mid_degC,rotor_mean_degC,pad_face_degC,pad_mean_degC,plate_degC,piston_degC,"
                                "fluid_degC,caliper_degC,arms_degC,hub_degC,pad_heat_share,lever_force_factor\n0.000,20.000,20.000,"));
    EXPECT_NE(csv.find("\n3.000,"), std::string::npos);
    EXPECT_TRUE(csv.ends_with(",,1.000\n")) << csv;
    EXPECT_EQ(std::count(csv.begin(), csv.end(), '\n'), 5);
}

}  // namespace
