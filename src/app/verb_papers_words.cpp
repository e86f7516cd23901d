// SPDX-License-Identifier: Apache-2.0
// `papers`: its words on the command line.                                                              Layer: app
#include <CLI/CLI.hpp>

#include "verb_papers.hpp"

namespace bw::app {

CLI::App* add_papers(CLI::App& app, PapersOptions& o) {
    CLI::App* papers = app.add_subcommand("papers", "bikes, parts, rides and readings in one file that is never lost; verdicts from what was measured");
    papers->require_subcommand(1);
    const auto verb = [&](CLI::App* under, const std::string& word, const std::string& full, const std::string& help) {
        CLI::App* v = under->add_subcommand(word, help);
        v->callback([&o, full] { o.verb = full; });
        v->add_flag("--json", o.common.json, "one JSON object on standard output");
        if (full != "make") v->add_option("--papers", o.papers, "the file of papers; default: yours, in the XDG data folder");
        return v;
    };
    const auto deed = [&](CLI::App* v) {
        v->add_option("--by", o.by, "who does this; default: the name you are logged in with");
        v->add_option("--day", o.day, "day of it, YYYY-MM-DD; default: today");
        v->add_option("--note", o.note, "a note");
    };
    const auto figure = [&](CLI::App* v, const char* flag, const char* column, const char* help) {
        v->add_option_function<double>(flag, [&o, column](const double& x) { o.numbers[column] = x; }, help)->check(CLI::Range(0.0, 1e6));
    };
    const auto bike = [&](CLI::App* v) { v->add_option("--bike", o.bike, "which bike; with one bike it may be left out"); };
    const auto place = [&](CLI::App* v) { v->add_option("--place", o.place, "front or rear")->check(CLI::IsMember({"front", "rear"})); };

    verb(papers, "make", "make", "new papers")->add_option("file", o.paths, "file to make; default: yours, in the XDG data folder")->expected(0, 1);

    CLI::App* add = papers->add_subcommand("add", "add something to the papers");
    add->require_subcommand(1);
    CLI::App* v = verb(add, "bike", "add bike", "bikes from descriptions (TOML), or a row each from a table; the parts in them become parts of the papers");
    v->add_option("files", o.paths, "bike descriptions (TOML), tables (CSV, or pasted cells with tabs) whose columns are keys of the description; - reads a table from standard input")->required();
    deed(v);
    v = verb(add, "rides", "add rides", "rides from files and folders; described rides from a CSV; what is there already is found by its content and left");
    v->add_option("paths", o.paths, "files (FIT, TCX, GPX, ride CSV, CSV of described rides) and folders")->required();
    bike(v);
    deed(v);
    v->add_option("--surface", o.surface, "dry, wet, gravel or loose")->check(CLI::IsMember({"dry", "wet", "gravel", "loose"}));
    v->add_option("--weather", o.weather, "dry, damp, wet or gritty")->check(CLI::IsMember({"dry", "damp", "wet", "gritty"}));
    v->add_option("--wind_mps", o.wind_mps, "mean head wind along the way [m/s], negative: from behind; with --wind_from_deg the wind's speed as a weather report gives it, 10 m above open ground")->check(CLI::Range(-30.0, 30.0));
    v->add_option("--wind_from_deg", o.wind_from_deg, "where the wind blows from, degrees clockwise from true north as in weather reports (90: from the east); needs --wind_mps")->check(CLI::Range(0.0, 360.0));
    v->add_option("--air_degC", o.air_degC, "air temperature [°C]")->check(CLI::Range(-40.0, 60.0));
    v->add_option("--load_kg", o.load_kg, "load carried [kg]")->check(CLI::Range(0.0, 400.0));
    v = verb(add, "reading", "add reading", "a reading: what, and its values, as in: add reading pad_thickness left=1.9 right=1.8,1.7 --place front --with-plate no");
    v->add_option("what", o.what, "pad_thickness, plate_thickness, rotor_thickness, rotor_ridge, run_out, lever_reach, lever_bite, lever_full, gap, pad_mass, caliper_temperature, rotor_temperature, fluid_age, fluid_colour, cable_state, bearing_play (rock the wheel at the rotor, dial on its band)")->required();
    v->add_option("values", o.values, "values, each a number with or without its unit, or left=..., right=...; several places: 1.9,1.8");
    bike(v);
    place(v);
    deed(v);
    v->add_option("--part", o.part, "the part that was read; default: the one that is there");
    v->add_option("--with", o.with, "the instrument, by its name in the papers");
    v->add_option("--with-plate", o.with_plate, "pads: is the plate in the reading? yes or no")->check(CLI::IsMember({"yes", "no"}));
    v->add_option("--anvil", o.anvil, "rotor: pointed or flat_jaws")->check(CLI::IsMember({"pointed", "flat_jaws"}));
    v->add_option("--csv", o.csv, "values from a table: run_out angle_deg,dial_mm; rotor_thickness angle_deg,radius_mm,thickness_mm,anvil");
    v->add_option("--at", o.at, "temperatures: when it was read, as 2026-05-12T10:42:00+02:00 (nothing behind it: UTC; its day is the reading's), or peak: the highest mark of a strip (on the caliper or the rotor's arms) that was on for the rides of its day (UTC) and a quarter of an hour behind the last; on a ride, or within 15 minutes after one, it weighs the likely cases of `answer`");
    v->add_option("--set-emissivity", o.set_emissivity, "temperatures: what was set on an infra-red thermometer, 0.05 to 1; leave it out for a probe or a strip");
    v->add_option("--spot", o.spot, "rotor by infra-red: what it looked at, bare, tinted or painted")->check(CLI::IsMember({"bare", "tinted", "painted"}));
    v->add_flag("--sure", o.sure, "keep a reading that contradicts an earlier one");
    v = verb(add, "readings", "add readings", "readings from a table, a row each: date,bike,place,what,side,value,with_plate,by,instrument,anvil,note,at,set_emissivity,spot");
    v->add_option("tables", o.paths, "CSV files")->required();
    bike(v);
    deed(v);
    v->add_flag("--sure", o.sure, "keep readings that contradict earlier ones");
    v = verb(add, "proof", "add proof", "proof stops: a table, or one stop as in: add proof --place front --from 25km/h --distance 9.4m --time 2.7 --force 60N");
    v->add_option("tables", o.paths, "CSV date,stop,wheel,from_mps,distance_m[,time_s][,lever_force_N],surface,grade[,way][,from_sd_mps][,distance_sd_m]");
    bike(v);
    place(v);
    deed(v);
    v->add_option("--from-ride", o.from_ride, "recorded ride: its stops are listed; with --place and --stops those are kept");
    v->add_option("--stops", o.which, "with --from-ride: which of its stops were braked with that brake alone: all, or numbers as 1,3,4")->needs("--from-ride");
    v->add_option("--from", o.from, "speed before: 25km/h, 15mph, or m/s without a unit");
    v->add_option("--distance", o.distance, "from the first movement of the lever to the stand: 9.4m, 31ft");
    v->add_option("--time", o.time_s, "the same in seconds")->check(CLI::Range(0.1, 100.0));
    v->add_option("--force", o.force, "squeeze by a spring scale at the marked place of the lever: 60N, 13lbf; with --from-ride one for all, or one for each: 60N,55N");
    v->add_option("--lever-place", o.lever_place, "the marked place, from the lever's tip: 20mm");
    v->add_option("--grade", o.grade, "slope: -2% or -0.02 downhill; default level");
    v->add_option("--surface", o.surface, "dry (default), wet, gravel or loose; with --from-ride it must be told, one for all or one for each: dry,wet");
    v->add_option("--way", o.kind, "how the way was measured: taped, paced, timed or recorded")->check(CLI::IsMember({"taped", "paced", "timed", "recorded"}));
    v->add_option("--with", o.with, "the spring scale, by its name in the papers");
    v->add_flag("--sure", o.sure, "keep them although the scale pulled at another place than before");
    v = verb(add, "person", "add person", "a person, or what is known of one");
    v->add_option("name", o.name, "name")->required();
    figure(v, "--hand_size_cm", "hand_size_cm", "wrist crease to tip of the middle finger [cm]");
    figure(v, "--hand_strength_N", "hand_strength_N", "whole grip [N]");
    figure(v, "--mass_kg", "mass_kg", "with clothes and shoes [kg]");
    figure(v, "--repeat_sd_mm", "repeat_sd_mm", "scatter of single readings about their mean [mm]");
    figure(v, "--repeat_sd_degC", "repeat_sd_degC", "the same of temperatures [°C]");
    figure(v, "--repeat_sd_g", "repeat_sd_g", "the same of masses [g]");
    deed(v);
    v = verb(add, "instrument", "add instrument", "an instrument with its resolution and permitted error");
    v->add_option("name", o.name, "name")->required();
    v->add_option("--kind", o.kind, "caliper, micrometer, depth_gauge, dial, feeler, ruler, scale, thermometer or eye")->required();
    v->add_option("--anvil", o.anvil, "pointed or flat_jaws")->check(CLI::IsMember({"pointed", "flat_jaws"}));
    for (const char* column : {"resolution_mm", "permitted_error_mm", "resolution_degC", "permitted_error_degC", "resolution_g", "permitted_error_g"})
        figure(v, (std::string("--") + column).c_str(), column, "smallest step of the display; plus or minus the permitted error");
    deed(v);
    v = verb(add, "work", "add work", "work that was done: new_pads, bleed, true_rotor, clean, new_cable, bolts, bed_in, other");
    v->add_option("what", o.what, "which work")->required();
    bike(v);
    place(v);
    deed(v);
    v = verb(add, "happening", "add happening", "what forces a check: overheat, crash, wet_grit, spray, transport");
    v->add_option("what", o.what, "what happened")->required();
    bike(v);
    place(v);
    deed(v);

    CLI::App* part = papers->add_subcommand("part", "parts and their places");
    part->require_subcommand(1);
    v = verb(part, "new", "part new", "a part that is on no bike yet");
    v->add_option("name", o.name, "name")->required();
    v->add_option("--kind", o.kind, "wheel, rotor, pads, caliper, lever, housing or other")->required();
    v->add_option("--compound", o.compound, "pads: organic, semi_metallic or sintered")->check(CLI::IsMember({"organic", "semi_metallic", "sintered"}));
    figure(v, "--new_thickness_mm", "new_thickness_mm", "pads: friction material of one pad when new; rotor: total [mm]");
    figure(v, "--plate_thickness_mm", "plate_thickness_mm", "pads [mm]");
    v->add_flag("--plate-measured", o.plate_measured, "the plate's thickness was measured");
    v->add_flag("--heat-barrier", o.heat_barrier, "pads with a heat barrier");
    figure(v, "--least_thickness_mm", "least_thickness_mm", "the maker's limit; pads: friction material [mm]");
    figure(v, "--run_out_limit_mm", "run_out_limit_mm", "rotor: the maker's limit of the total run-out [mm]");
    figure(v, "--area_mm2", "area_mm2", "pads: friction face of one pad [mm2]");
    figure(v, "--diameter_mm", "diameter_mm", "rotor, as stamped [mm]");
    deed(v);
    v = verb(part, "on", "part on", "puts a part on a bike or a wheel; what was there of its kind comes off");
    v->add_option("name", o.name, "name of the part")->required();
    v->add_option("--wheel", o.wheel, "the wheel that carries it, instead of a bike");
    bike(v);
    place(v);
    deed(v);
    v = verb(part, "off", "part off", "takes a part off");
    v->add_option("name", o.name, "name of the part")->required();
    deed(v);

    v = verb(papers, "hold", "hold", "holds a bike back");
    v->add_option("bike", o.bike, "which bike");
    v->add_option("--why", o.why, "why")->required();
    v->add_option("--by", o.by, "who holds it back")->required();
    v = verb(papers, "clear", "clear", "ends all holds of a bike; its readings still count");
    v->add_option("bike", o.bike, "which bike");
    v->add_option("--why", o.why, "why")->required();
    v->add_option("--by", o.by, "who clears it")->required();
    v->add_flag("--proof", o.proof, "the proof stops that hold it back count for nothing; holds by hand stay");

    v = verb(papers, "show", "show", "what the papers hold, or one bike");
    v->add_option("bike", o.bike, "which bike");
    v->add_option("--day", o.day, "as of this day");
    v = verb(papers, "history", "history", "what was done, newest first");
    v->add_option("--most", o.most, "how many lines")->capture_default_str();
    v = verb(papers, "export", "export", "everything as CSV and JSON into a new folder");
    v->add_option("folder", o.paths, "folder to make")->required()->expected(1);
    v = verb(papers, "import", "import", "new papers from what export wrote");
    v->add_option("folder", o.paths, "folder to read")->required()->expected(1);
    v = verb(papers, "backup", "backup", "a copy of the papers as they are now");
    v->add_option("file", o.paths, "file to make")->required()->expected(1);
    verb(papers, "sound", "sound", "looks at everything: structure, references, every ride file, the tables against the history");
    v = verb(papers, "undo", "undo", "takes back the last command, whole");
    v->add_option("--by", o.by, "who");
    v->add_flag("--sure", o.sure, "also if that takes back what holds a bike back");
    v = verb(papers, "change", "change", "another name or description for a bike, or the day it was retired");
    v->add_option("bike", o.bike, "which bike")->required();
    v->add_option("--name", o.name, "its new name");
    v->add_option("--description", o.csv, "its new description (TOML); its parts and readings stay as they are");
    v->add_option("--retired", o.what, "day from which it is out of use, YYYY-MM-DD");
    deed(v);

    v = verb(papers, "verdict", "verdict", "is there a reason not to ride");
    v->add_option("bike", o.bike, "which bike; default: all");
    v->add_option("--day", o.day, "as of this day");
    v->add_flag("--verdict-status", o.verdict_status, "exit with 5 when a bike is held back");
    v = verb(papers, "check", "check", "the check before a ride, for this bike: the list, or ticks");
    v->add_option("bike", o.bike, "which bike; default: all, held-back ones first");
    v->add_option("--tags", o.csv, "HTML file to print: a tag for each bike with what is to be done, held-back ones first");
    v->add_option("--ok", o.ok, "items found in order, as in: --ok function leaks front.lever; all: every item");
    v->add_option("--fault", o.fault, "items with a fault, as in: --fault rear.rotor_straight=\"rubs at one place\"");
    deed(v);
    return papers;
}

}  // namespace bw::app
