// SPDX-License-Identifier: Apache-2.0
// Makes the kept file of the newest schema and its export: make_papers_fixture FOLDER. See fixtures/README.md.
#include "desk.hpp"

using namespace bw;
using namespace bw::papers;
using namespace bw::papers::testing;

int main(int, char** argv) {
    const std::string folder = argv[1], path = folder + "/new.papers";
    {
        auto p = must(make_papers(path));
        const Sample a = add_sample(*p, "Heron"), b = add_sample(*p, "Wren");
        must(p->add_ride(deed("Ada"), a_ride(a, "morning.csv"), "t_s,speed_mps\n0,1.5\n1,1.25\n"));
        Ride windy = a_described_ride(b, "2");
        windy.wind_mps = 4.5;
        windy.wind_from_deg = 247.5;
        must(p->add_rides(deed("Ada"), {a_described_ride(b, "1"), windy}));
        must(p->add_reading(deed("Ada"), pad_reading(a, 0.1 + 0.2, "two\nlines, \"quoted\"")));
        Reading r = pad_reading(b, 1.0 / 3);
        r.with_plate = true;
        r.points.push_back({.side = Side::right, .angle_deg = {}, .radius_mm = {}, .length_mm = 3.75, .temperature_degC = {}, .mass_g = {}, .age_months = {}});
        must(p->add_reading(deed("Ben"), r));
        r = pad_reading(a, 1.78);
        r.what = What::rotor_thickness;
        r.part_id = a.rotor;
        r.with_plate.reset();
        r.anvil = parts::Anvil::pointed;
        r.points[0].side.reset();
        r.points[0].angle_deg = 90;
        r.points[0].radius_mm = 82.5;
        must(p->add_reading(deed("Ada"), r));
        r = pad_reading(a, 0.05);
        r.what = What::bearing_play;
        r.part_id = a.wheel;
        r.with_plate.reset();
        r.points[0].side.reset();
        must(p->add_reading(deed("Ada"), r));
        must(p->put_person(deed("Ada"), {.id = "", .name = "Cleo", .hand_size_cm = {}, .hand_strength_N = {}, .mass_kg = {}, .repeat_sd_mm = {}, .note = "", .repeat_sd_degC = 1.5, .repeat_sd_g = 0.25}));
        must(p->put_on(deed("Ben"), {.id = "", .part_id = a.pads, .bike_id = b.bike, .wheel_id = {}, .place = parts::End::front, .from_day = "2026-06-01", .to_day = {}}));
        must(p->add_work(deed("Ben"), {.id = "", .bike_id = a.bike, .place = parts::End::rear, .kind = WorkKind::bleed, .day = "2026-05-03", .person_id = a.person, .note = ""}));
        must(p->add_incident(deed("Ben"), {.id = "", .bike_id = a.bike, .place = {}, .kind = Happening::crash, .day = "2026-05-03", .recorded_unix_s = 1777800000.5, .person_id = a.person, .note = "fell over"}));
        must(p->add_ticks(deed("Ben"), {{.id = "", .check_id = new_uuid(), .bike_id = a.bike, .item = Item::bolts, .place = {}, .outcome = Outcome::fault, .day = "2026-05-04", .recorded_unix_s = 1777900000, .person_id = a.person, .note = "one loose"}}));
        must(p->hold(deed("Ada"), {.id = "", .bike_id = a.bike, .from_unix_s = 1777900000, .by = "Ada", .why = "crack at an arm", .cleared_unix_s = {}, .cleared_by = "", .cleared_why = ""}));
        must(p->clear(deed("Ben"), a.bike, "new rotor"));
        must(p->hold(deed("Ada"), {.id = "", .bike_id = b.bike, .from_unix_s = 1777900001, .by = "Ada", .why = "spongy lever", .cleared_unix_s = {}, .cleared_by = "", .cleared_why = ""}));
        must(p->put_instrument(deed("Ada"), {.id = "", .name = "infrared thermometer", .kind = InstrumentKind::thermometer, .anvil = {}, .resolution_mm = {}, .permitted_error_mm = {}, .resolution_degC = 0.1, .permitted_error_degC = 2, .resolution_g = {}, .permitted_error_g = {}, .note = ""}));
        must(p->keep_dose({.id = key_of({"dose"}), .ride_id = content_id("t_s,speed_mps\n0,1.5\n1,1.25\n"), .made_unix_s = 1777900002, .model_versions = "heat 1", .bytes = std::string("\0\1\2\3", 4)}));
        must(p->keep_answer({.id = key_of({"answer"}), .bike_id = a.bike, .made_unix_s = 1777900003, .kind = "answer/1", .model_versions = "heat 1", .json = "{\"schema\": \"answer/1\"}"}));
        must(p->keep_answer({.id = key_of({"forecast"}), .bike_id = b.bike, .made_unix_s = 1777900004, .kind = "forecast/1", .model_versions = "wear 1", .json = "{\"schema\": \"forecast/1\", \"day\": \"2026-05-04\"}", .day = "2026-05-04"}));
        std::vector<ProofStop> set = {proof_stop(a, 0), proof_stop(a, 1)};
        set[1].proof_id = set[0].proof_id;
        set[1].time_s.reset(), set[1].way.reset();
        set[1].from_mps = 1.0 / 3 + 6;
        set[1].note = "pulled at the mark, \"gently\"";
        must(p->add_proof(deed("Ben"), set));
        ProofStop cut = proof_stop(a, 0, "2026-05-03");
        cut.ride_id = content_id("t_s,speed_mps\n0,1.5\n1,1.25\n");
        cut.way = stop::WayMeasured::recorded;
        cut.from_sd_mps = 0.1, cut.distance_sd_m = 0.25;
        cut.instrument_id = a.instrument;
        cut.surface = stop::Surface::wet;
        must(p->add_proof(deed("Ada"), {cut}));
        must(p->clear_proof(deed("Ada"), {must(p->proof_stops(a.bike)).back().id}, "the scale slipped"));
        must(p->add_reading(deed("Ben"), pad_reading(b, 0.9)));
        must(p->undo(deed("Ben")));
        for (const auto& [name, bytes] : exported(*p)) {
            fs::create_directories((fs::path(folder) / "new-export" / name).parent_path());
            write((fs::path(folder) / "new-export" / name).string(), bytes);
        }
    }
}
