// SPDX-License-Identifier: Apache-2.0
// The command line: words to options, options to verbs, exceptions of the machine to a message.          Layer: app
#include <CLI/CLI.hpp>

#include <fmt/format.h>

#include <algorithm>
#include <cctype>
#include <exception>

#include "base/text.hpp"
#include "verb_papers.hpp"
#include "verbs.hpp"

namespace {

// CLI::Range lets "nan" through, since no comparison with it fails; an infinity is out of every range.
CLI::Validator within(double least, double most) {
    return CLI::Validator(
        [least, most](std::string& word) -> std::string {
            const auto number = bw::parse_number(word);
            if (number && *number >= least && *number <= most) return "";
            return fmt::format("'{}': expected a number from {} to {}", word, least, most);
        },
        fmt::format("NUMBER in [{} - {}]", least, most));
}

// A minus would wrap round.
std::string not_whole(const std::string& word) {
    return !word.empty() && std::all_of(word.begin(), word.end(), [](unsigned char c) { return std::isdigit(c) != 0; }) ? std::string() : "'" + word + "': expected a whole number, 0 or more";
}

template <class T> CLI::Option* add_cases(CLI::App& verb, T& cases, const char* what) { return verb.add_option("--cases", cases, what)->check(not_whole); }

void add_common(CLI::App& verb, bw::app::Common& common) {
    verb.add_flag("--json", common.json, "one JSON object on standard output");
    verb.add_option("--seed", common.seed, "seed of the likely cases")
        ->check(not_whole)
        ->capture_default_str();
    verb.add_option("--threads", common.threads, "threads; 0: as many as the machine has; the answer does not depend on it")
        ->check(CLI::Range(0, 256))->capture_default_str();
}

}  // namespace

int main(int argc, char** argv) {
    CLI::App app{"For people who look after disc-brake bicycles: will it stop, how hot do the brakes get, how much riding is left."};
    app.set_version_flag("--version", std::string("brakewright ") + bw::app::version);
    app.require_subcommand(1);
    app.footer("An estimate does not replace an inspection. The maker's instructions and local rules come first.\n"
               "If in doubt do not ride, and see a qualified mechanic.\n"
               "Exit status: 0 done, 2 wrong usage, 3 bad input, 4 a fault of ours, or stopped by the interrupt key; with --verdict-status also 5: done and held back.");

    constexpr const char* wind_help = "mean head wind along the way [m/s], negative: from behind; with --wind_from_deg the wind's speed as a weather report gives it, 10 m above open ground";
    constexpr const char* wind_from_help = "where the wind blows from, degrees clockwise from true north as in weather reports (90: from the east); needs --wind_mps";
    bw::app::AnswerOptions a;
    CLI::App* answer = app.add_subcommand("answer", "answers for one bike and its rides");
    auto* bike = answer->add_option("bike", a.bike, "bike description (TOML; docs/formats.md)");
    answer->add_option("rides", a.rides, "rides as recorded (FIT, TCX, GPX, ride CSV), planned routes (the same without times), or a CSV of described rides");
    auto* ask = answer->add_flag("--ask", a.ask, "six questions instead of a description and rides");
    bike->excludes(ask);
    auto* from_papers = answer->add_option("--papers", a.papers, "papers: their bike, parts, readings and rides; files given beside them are planned routes")->excludes(ask);
    answer->add_option("--bike", a.bike_name, "which bike of the papers")->needs(from_papers);
    answer->add_option("--since", a.since, "rides of the papers from this day on stand for the riding to come; default: the year before today")->needs(from_papers);
    answer->add_option("--series", a.series_dir, "folder for one CSV per ride, a row a second");
    answer->add_option("--summary", a.summary, "CSV with a row per ride: energies, pad temperatures, wet and grit");
    answer->add_option("--report", a.report, "one HTML file that needs nothing else: figures, tables, cautions");
    answer->add_option("--tags", a.tags, "CSV file,surface,weather,wind_mps,wind_from_deg,air_degC,load_kg: what is known of each ride");
    add_cases(*answer, a.cases, "likely cases: a power of two from 64 to 65536")->capture_default_str();
    answer->add_option("--altitude", a.altitude, "where the rides' altitude comes from: auto, barometric, satellite, terrain, none");
    answer->add_option("--surface", a.surface, "dry, wet, gravel or loose");
    answer->add_option("--weather", a.weather, "dry, damp, wet or gritty");
    answer->add_option("--wind_mps", a.wind_mps, wind_help)->check(within(-30, 30));
    answer->add_option("--wind_from_deg", a.wind_from_deg, wind_from_help)->check(within(0, 360));
    answer->add_option("--air_degC", a.air_degC, "air temperature [°C]")->check(within(-40, 60));
    answer->add_option("--load_kg", a.load_kg, "load carried on these rides [kg], in place of the bike's own")->check(within(0, 400));
    answer->add_option("--style", a.style, "how planned routes are braked: dragging (default) or short_hard")->check(CLI::IsMember({"dragging", "short_hard"}));
    answer->add_option("--today", a.today, "day that look-by dates count from, YYYY-MM-DD; default: the day of the last ride, with --papers the day of the clock");
    answer->add_flag("--verdict-status", a.verdict_status, "exit with 5 when the bike is held back");
    add_common(*answer, a.common);

    bw::app::WeighOptions w;
    w.common.cases = 1024;
    CLI::App* weigh = app.add_subcommand("weigh", "two set-ups on the same likely cases and the same rides: differences");
    weigh->add_option("a", w.common.bike, "bike description A (TOML)")->required();
    weigh->add_option("b", w.other, "bike description B")->required();
    weigh->add_option("rides", w.common.rides, "rides as for answer, ridden or meant to be ridden by either");
    weigh->add_option("--tags", w.common.tags, "CSV file,surface,weather,wind_mps,wind_from_deg,air_degC,load_kg: what is known of each ride");
    add_cases(*weigh, w.common.cases, "likely cases: a power of two from 64 to 65536")->capture_default_str();
    weigh->add_option("--altitude", w.common.altitude, "where the rides' altitude comes from: auto, barometric, satellite, terrain, none");
    weigh->add_option("--surface", w.common.surface, "dry, wet, gravel or loose");
    weigh->add_option("--weather", w.common.weather, "dry, damp, wet or gritty");
    weigh->add_option("--wind_mps", w.common.wind_mps, wind_help)->check(within(-30, 30));
    weigh->add_option("--wind_from_deg", w.common.wind_from_deg, wind_from_help)->check(within(0, 360));
    weigh->add_option("--air_degC", w.common.air_degC, "air temperature [°C]")->check(within(-40, 60));
    weigh->add_option("--load_kg", w.common.load_kg, "load carried on these rides [kg]")->check(within(0, 400));
    weigh->add_option("--today", w.common.today, "day that look-by dates count from, YYYY-MM-DD");
    add_common(*weigh, w.common.common);

    bw::app::HeatOptions h;
    CLI::App* heat = app.add_subcommand("heat", "temperatures of one brake from a table of speed and braking power");
    heat->add_option("brake", h.brake, "TOML: the reference form ([thermal]), or a bike description");
    heat->add_option("power", h.power, "CSV t_s,speed_mps,power_W of one wheel, both pads");
    heat->add_option("--series", h.series, "CSV file for the temperatures, a row per row of the power table");
    add_cases(*heat, h.cases, "likely cases: a power of two up to 65536, of a bike at least 1024 (default), by which it is judged whatever is shown; 1: temperatures of the values themselves (default of the reference form)");
    heat->add_option("--altitude_m", h.altitude_m, "height of the road above the sea [m], of a bike description; default: sea level")->check(within(-450, 6000));
    heat->add_flag("--verdict-status", h.verdict_status, "exit with 5 when the bike is held back");
    heat->add_option("--measured", h.measured, "CSV t_s,place,value_degC,sd_K[,set_emissivity,spot] of measured temperatures (rotor, arms, plate, caliper, fluid; t_s peak: the highest mark of a strip left on for a quarter of an hour behind the halt): weighs the cases");
    heat->add_flag("--wet", h.wet, "rain or spray reaches the brake all along (of a bike description)");
    heat->add_option("--wheel", h.wheel, "which wheel of a bike description: front or rear")->check(CLI::IsMember({"front", "rear"}))->capture_default_str();
    add_common(*heat, h.common);
    bw::app::HeatFiguresOptions g;
    CLI::App* figures = heat->add_subcommand("figures", "the data behind the figures that explain heat: a CSV and a JSON file each");
    figures->add_option("folder", g.folder, "folder for the files; made if it is not there")->required();
    add_cases(*figures, g.cases, "likely cases: a power of two from 64 to 65536")->capture_default_str();
    add_common(*figures, g.common);

    bw::app::LifeOptions l;
    CLI::App* life = app.add_subcommand("life", "what is left of pads and rotors, out of rides and readings");
    life->add_option("bike", l.bike, "bike description (TOML; docs/formats.md); with --papers: a planned route, the riding to come");
    life->add_option("ways", l.ways, "with --papers: more planned routes");
    life->add_option("--rides", l.rides, "CSV with a row per ride, as `answer --summary` writes it");
    life->add_option("--papers", l.papers, "out of these papers, as `answer --papers` does");
    life->add_option("--bike", l.bike_name, "with --papers: which bike, if there are several");
    life->add_option("--today", l.today, "with --papers: day that counts as today, YYYY-MM-DD; default: the day of the clock");
    life->add_option("--since", l.since, "with --papers: rides from this day on stand for the riding to come");
    life->add_option("--readings", l.readings, "CSV ride,date,component,set,thickness_mm,sd_mm,resolution_mm");
    life->add_option("--fitted", l.fitted, "CSV component,set,start_ride,compound,new_mm,limit_mm,friction_area_mm2; default: the description's parts, on from the first ride");
    life->add_option("--compounds", l.compounds, "TOML with what is thought of wear beforehand (docs/formats-life.md)");
    auto* tasks = life->add_option("--tasks", l.tasks, "CSV component,set,as_of_ride: a forecast each, from what was known then");
    life->add_option("--as-of", l.as_of, "only what was known after this ride")->excludes(tasks)->check(within(0, 1e7));
    life->add_option("--out", l.out, "CSV file for the forecasts of --tasks")->needs(tasks);
    life->add_flag("--prior-alone", l.prior_alone, "leave the readings out");
    life->add_flag("--verdict-status", l.verdict_status, "exit with 5 when a reading is at its limit");
    add_common(*life, l.common);
    bw::app::HeatFiguresOptions lg;
    CLI::App* life_figures = life->add_subcommand("figures", "the data behind the figures of remaining life: five invented riders, and how readings narrow");
    life_figures->add_option("folder", lg.folder, "folder for the files; made if it is not there")->required();
    add_common(*life_figures, lg.common);

    bw::app::StopOptions st;
    CLI::App* stop = app.add_subcommand("stop", "will it stop: distance, room, squeeze, and the chain from hand to road");
    stop->add_option("bike", st.bike, "bike description (TOML; docs/formats.md)");
    stop->add_option("--from", st.from, "speed before: 25km/h, 15mph, or m/s without a unit; default 25 km/h");
    stop->add_option("--surface", st.surface, "dry (default), wet, gravel or loose");
    stop->add_option("--grip", st.grip, "grip of the tyres, in place of the surface's")->check(within(0.01, 1.5));
    stop->add_option("--grade", st.grade, "slope: -8% or -0.08 downhill; default level");
    stop->add_option("--pads-at", st.pads_at, "temperature of the pads: 200C; default cold");
    stop->add_option("--brakes", st.brakes, "both, front or rear; default: each in turn");
    stop->add_option("--proof", st.proof, "CSV date,stop,wheel,from_mps,distance_m[,time_s][,lever_force_N],surface,grade of proof stops");
    stop->add_option("--from-ride", st.from_ride, "recorded ride: its stops are listed, and those named by --proof-brake and --proof-stops are proof stops");
    stop->add_option("--proof-brake", st.proof_brake, "with --from-ride: the brake that was pulled alone, front or rear")->needs("--from-ride");
    stop->add_option("--proof-stops", st.proof_stops, "with --from-ride: which of its stops were braked with that brake alone: all, or numbers as 1,3,4")->needs("--from-ride");
    stop->add_option("--proof-force", st.proof_force, "with --from-ride: squeeze read on a spring scale, one for all or one for each: 60N,55N")->needs("--from-ride");
    stop->add_option("--proof-surface", st.proof_surface, "with --from-ride: dry, wet, gravel or loose, one for all of those stops or one for each: dry,wet")->needs("--from-ride");
    stop->add_option("--proof-day", st.proof_day, "with --from-ride: the day of those stops, YYYY-MM-DD; default: by the recording's clock, UTC")->needs("--from-ride");
    stop->add_option("--weight-back", st.weight_back, "how far the rider's body goes back for these stops: 10cm; default as ridden");
    stop->add_option("--weight-low", st.weight_low, "how far it goes down: 5cm");
    stop->add_option("--papers", st.papers, "the bike as these papers know it, with its proof stops as the history of its brakes; BIKE is then its name");
    stop->add_option("--today", st.today, "with --papers: as of this day, YYYY-MM-DD");
    stop->add_option("--hand", st.hand, "a hand in place of the bike's: women, men, child_7, child_10 or child_13, with a percentile after a colon (women:5); default 50");
    stop->add_option("--hand-is", st.hand_is, "warm (default), gloves, cold or cold_and_gloves");
    stop->add_option("--fingers", st.fingers, "on the lever: one, two or three; default two to three");
    stop->add_option("--room", st.room, "room in which the top speed must stop: 15m (default)");
    stop->add_option("--terrain", st.terrain, "in which the brake wears: flat, rolling, hilly (default) or mountain");
    stop->add_flag("--gritty", st.gritty, "it wears in wet and grit all the way");
    add_cases(*stop, st.cases, "likely cases: a power of two from 64 to 65536")->capture_default_str();
    stop->add_flag("--verdict-status", st.verdict_status, "exit with 5 when the bike is held back");
    add_common(*stop, st.common);
    bw::app::StopFiguresOptions sf;
    CLI::App* stop_figures = stop->add_subcommand("figures", "the data behind the figures that explain the lever: a CSV and a JSON file each");
    stop_figures->add_option("folder", sf.folder, "folder for the files; made if it is not there")->required();
    add_cases(*stop_figures, sf.cases, "likely cases: a power of two from 64 to 65536")->capture_default_str();
    add_common(*stop_figures, sf.common);
    bw::app::OpenOptions s;
    CLI::App* open = app.add_subcommand("open", "the pages in a browser, over papers");
    open->add_option("--papers", s.papers, "the file of papers; default: yours, in the XDG data folder");
    open->add_option("--listen", s.listen, "ADDRESS:PORT; default: this machine alone, 127.0.0.1 and a free port. Beyond it each device is paired once with a code");
    open->add_option("--today", s.today, "day that counts as today, YYYY-MM-DD; default: the day of the clock");
    open->add_option("--patience_s", s.patience_s, "seconds that a slow browser is waited for")->check(within(0.1, 600));
    open->add_option("--threads", s.common.threads, "threads of long work; 0: as many as the machine has")->check(CLI::Range(0, 256));

    bw::app::PapersOptions p;
    CLI::App* papers = bw::app::add_papers(app, p);

    try {
        app.parse(argc, argv);
    } catch (const CLI::ParseError& e) {
        return app.exit(e) == 0 ? 0 : 2;
    }
    try {
        if (*answer) {
            if (!a.papers.empty()) return bw::app::run_answer_from_papers(a);
            if (!a.ask && a.bike.empty()) return bw::app::fail({bw::Errc::wrong_usage, "answer: name a bike description, --papers FILE, or use --ask"});
            return bw::app::run_answer(a);
        }
        if (*weigh) return bw::app::run_weigh(w);
        if (*figures) return bw::app::run_heat_figures(g);
        if (*stop_figures) return bw::app::run_stop_figures(sf);
        if (*stop && st.bike.empty() && st.papers.empty()) return bw::app::fail({bw::Errc::wrong_usage, "stop: name a bike description (TOML), or `stop figures FOLDER`"});
        if (*stop) return bw::app::run_stop(st);
        if (*life_figures) return bw::app::run_life_figures(lg);
        if (*life) {
            if (!l.papers.empty()) return bw::app::run_life_from_papers(l);
            if (l.bike.empty() || l.rides.empty()) return bw::app::fail({bw::Errc::wrong_usage, "life: name a bike description and --rides SUMMARY.csv, or --papers FILE"});
            return bw::app::run_life(l);
        }
        if (*open) return bw::app::run_open(s);
        if (*papers) return bw::app::run_papers(p);
        if (h.brake.empty() || h.power.empty()) return bw::app::fail({bw::Errc::wrong_usage, "heat: name a brake and a table of power, as in `heat BIKE.toml POWER.csv`: the brake a bike description or the reference form, the table t_s,speed_mps,power_W of one wheel (docs/formats.md). Or `heat figures FOLDER`"});
        return bw::app::run_heat(h);
    } catch (const std::exception& e) {
        return bw::app::fail({bw::Errc::internal, std::string("a fault of ours: ") + e.what()});
    }
}
