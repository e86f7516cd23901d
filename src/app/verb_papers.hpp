// SPDX-License-Identifier: Apache-2.0
// `papers`: words of the command line, and what its parts share.                                        Layer: app
#pragma once
#include <functional>
#include <map>
#include <memory>
#include <nlohmann/json_fwd.hpp>
#include <optional>
#include <set>
#include <string>
#include <vector>

#include "console.hpp"
#include "papers/papers.hpp"
#include "papers/state.hpp"
#include "ride/track.hpp"

namespace CLI {
class App;
}
namespace bw::answer {
struct StopQuestion;
}

namespace bw::app {

struct PapersOptions {
    Common common;
    std::string verb;                         //!< "make", "add bike", ...
    std::string papers, bike, by, day, note, why, place, with, with_plate, anvil, at, set_emissivity, spot, side, csv, name, kind, wheel, part, compound, what, surface, weather, from, distance, force, grade, lever_place, from_ride, which;
    std::vector<std::string> paths, values, ok, fault;
    std::map<std::string, double> numbers;    //!< figures of people, instruments and parts, by the name of their column
    std::optional<double> wind_mps, wind_from_deg, air_degC, load_kg, time_s;
    bool sure = false, proof = false, verdict_status = false, plate_measured = false, heat_barrier = false;
    std::size_t most = 20;
};
//! Adds the verb with all that belongs to it.
CLI::App* add_papers(CLI::App& app, PapersOptions&);
int run_papers(const PapersOptions&);

// ---- shared by the parts of the verb ----
//! Throws this to end a command; caught in run_papers.
struct Stop {
    Error error;
};
template <class T>
T must(Result<T> r) {
    if (!r) throw Stop{r.error()};
    return *std::move(r);
}
[[noreturn]] void stop(Errc code, std::string text);

//! What a command works with.
struct Desk {
    const PapersOptions& o;
    Context ctx;
    papers::Papers* papers;
    papers::Deed deed;
    std::string today;                        //!< --day, or the day of the clock
    std::string by_or_stop(const char* what) const;   //!< --by, which this command cannot do without
    //! Of --bike, or the only one. Names the nearest one otherwise.
    papers::Bike bike(const std::string& named) const;
    papers::Bike bike() const { return bike(o.bike); }
    parts::End place() const;
    papers::Id person(const std::string& name);       //!< found by name, or added
    void together(const std::function<void()>& verbs);   //!< one change on the disk; a Stop takes all of it back
};
//! The file that is told, or the user's own.
std::string papers_file(const std::string& told);
//! Of that name or id, or the only one if nothing is named. Stops and names the nearest one otherwise.
papers::Bike bike_named(papers::Papers&, const std::string& named);
std::string nearest(const std::string& word, std::vector<std::string> known);

// ---- shared with the service ----
inline constexpr const char* caution = "An estimate does not replace an inspection. The maker's instructions and local rules come first. If in doubt do not ride, and see a qualified mechanic.";

//! A bike as the papers know it today.
struct Judged {
    papers::Bike bike;
    parts::Bike described;
    std::vector<inspect::Check> checks = {};
    inspect::Verdict verdict = {};
    std::optional<papers::Day> worked_out = {};   //!< day of the newest forecast; absent: nothing was ever computed
    std::vector<papers::ToDo> list = {};      //!< the check before a ride
    double minutes = 0;
    std::vector<std::pair<parts::End, papers::RunOutRead>> run_out = {};   //!< the newest of each wheel: filled by look_behind
    std::vector<std::pair<parts::End, papers::RotorRead>> rotor = {};
    std::vector<std::pair<parts::End, papers::PadsRead>> pads = {};
    std::vector<std::pair<parts::End, papers::GapsRead>> gaps = {};
    std::vector<std::pair<parts::End, papers::LeverRead>> levers = {};
    std::vector<std::pair<parts::End, papers::WeighedRead>> weighed = {};
    std::vector<std::pair<parts::End, papers::ProofRead>> proof = {};
};
//! What stands behind the checks: run-out, thickness around the turn, evenness of pads and gaps, levers, weights, proof stops.
void look_behind(Judged&, const papers::Book&, const parts::Library&, const std::string& today);
//! The same in sentences, each of one place; short: without the plan of a run-out.
struct Line {
    parts::End place;
    std::string what, text;
};
enum class Length { whole, short_one };
std::vector<Line> lines_of(const Judged&, Length);
//! Data of the drawing: what was read, the rotor's shape with its interval, each part of it, and the words.   Keys: docs/schema/papers-1.json
nlohmann::ordered_json json_of(const papers::RunOutRead&);
Judged judged(papers::Papers&, const papers::Book&, const papers::Bike&, const parts::Library&, const std::string& today);
//! "front.lever", "leaks": how an item of the list is called.
std::string name_of(const papers::ToDo&);
const char* word_of(papers::ToDo::Why);

//! A bike from its description, with its parts and what the description states as measured; all or nothing. id: empty, or
//! the one that it gets. name: as the papers call it; empty: as the description does, or the file.
papers::Bike add_bike(Desk&, const parts::Library&, const std::string& toml, const std::string& where, const std::string& name, const papers::Id& id);

//! What came of ride files.
struct Tally {
    std::function<void(const std::string&)> say;   //!< told of each trouble at once; may be empty
    long added = 0, there = 0, failed = 0;
    std::vector<std::string> troubles;
    void trouble(const std::string& text) {
        ++failed;
        troubles.push_back(text);
        if (say) say(text);
    }
};
//! Rows of a table of described rides.
void add_described(Desk&, const std::string& text, const std::string& path, Tally&);
//! One recorded ride of d.bike(); path: for messages and the name that it is kept under.
struct AddedRide {
    papers::Added added;
    papers::Ride ride;
    std::vector<ride::Fault> faults;
};
std::optional<AddedRide> add_recorded(Desk&, std::string bytes, const std::string& path, Tally&);

//! One reading as a person tells it: on the command line, in a row of a table, on the page.
struct Told {
    std::string what, bike, place, part, with, with_plate, anvil, csv, by, day, note;
    std::vector<std::string> values;
    std::vector<papers::Point> points;        //!< in place of values
    bool sure = false;
    std::string at = {}, set_emissivity = {}, spot = {};   //!< temperatures: when and how
};
struct Kept {
    papers::Id id;
    papers::What what = {};
    papers::Bike bike;
    parts::Bike described;
    std::size_t values = 0;
    double uncertainty = 0;   //!< standard, of one value, in its unit
};
//! The reading that this tells, not stored yet; without a person who is new to the papers.
papers::Reading reading_of(Desk&, const parts::Library&, const papers::Book&, const papers::Bike&, const Told&);
//! Pads and rotors do not grow: what this reading contradicts, as a sentence to be asked; nothing if it does not.
//! described: pads of that wheel by the bike's description, for what the papers do not tell of the set.
std::optional<std::string> contradiction_of(papers::Papers&, const papers::Book&, const papers::Reading&, const parts::Pads& described, const parts::Library&);
//! Stores it; id: empty, or the one that it gets.
Kept keep(Desk&, const parts::Library&, const Told&, const papers::Id& id = {});
//! After it was stored: the run-out tables that it decides are taken apart now, not when somebody looks.
void keep_run_outs(Desk&, const parts::Library&, const Kept&);
//! What such a reading can be at all, and its unit; unit empty: a word.
struct Range {
    double least, most;
    const char* unit;
};
Range range_of(papers::What);
inline constexpr double mm_per_inch = 25.4;   //!< exact by definition
//! Whether such a thickness or distance is likely: narrower than what it can be at all. Common practice, no source.
bool plausible_mm(papers::What, double mm, bool with_plate);
//! A bare number that is no likely figure in mm and would be one in inches: that figure [mm]; nothing otherwise.
std::optional<double> taken_for_inches_mm(papers::What, double bare, bool with_plate);
//! A value as typed, with or without its unit, in the unit of its range. Stops with what was expected.
double number_of(papers::What, const std::string& text);
void put_value(papers::Point&, papers::What, double);
//! Rows of a table of readings, each stored or refused for itself.
struct Rows {
    std::set<papers::Id> have;                           //!< ids that are in the papers already
    long added = 0, there = 0;
    std::vector<std::pair<long, std::string>> refused;   //!< line, what was wrong
    std::map<papers::Id, Kept> bikes;
};
//! id_of: the id that the reading of a line gets; may be empty.
void add_rows(Desk&, const parts::Library&, const std::string& text, const std::function<papers::Id(long line)>& id_of, Rows&);
//! Proof stops as a person tells them.
struct ToldProof {
    std::string bike, by, note, with;         //!< with: the spring scale
    std::optional<double> lever_place_mm;
    std::vector<stop::ProofStop> stops = {};
    papers::Id id = {};                       //!< that one stop gets; empty: a new one
    bool table = false;                       //!< rows of a table: those that are there already are left
    bool sure = false;
};
struct KeptProof {
    papers::Bike bike = {};
    long added = 0, there = 0;
};
//! A stop cut out of a recording is known by its speed and way to the last bit, whatever the file is called: the kept one that still
//! counts, or none.
const papers::ProofStop* same_cut(const std::vector<papers::ProofStop>&, const papers::Id& bike, const stop::ProofStop&);
//! Stores them, all or none. Where the scale pulled elsewhere on the lever than before and nobody is sure, nothing is stored and
//! `asked` says why; without it that stops.
KeptProof keep_proof(Desk&, const ToldProof&, std::string* asked = nullptr);
//! Clears the stops that hold the bike back, in the name of the desk; how many.
int clear_proof_of(Desk&, const papers::Bike&, const parts::Library&, const std::string& why);
//! Takes the last change back, whole. Where a bike would no longer be held back and nobody is sure, nothing is changed and
//! `asked` says why.
papers::Undone take_back(Desk&, const parts::Library&, bool sure, std::string* asked);

//! What these papers know for `stop` of a bike whose description as of today is in the question: proof stops since its brakes were last
//! changed, before any that are told already; its own wear; the mean length of its rides.
void tell_as_kept(answer::StopQuestion&, papers::Papers&, const papers::Book&, const papers::Id& bike, const parts::Library&, const papers::Day& today);

int papers_add_bikes(Desk&);
int papers_add_rides(Desk&);
int papers_add_reading(Desk&);
int papers_add_readings(Desk&);
int papers_add_proof(Desk&);
int papers_verdict(Desk&);
int papers_check(Desk&);

}  // namespace bw::app
