// SPDX-License-Identifier: Apache-2.0
// What the papers say of a bike today: its parts, its checks and verdict, the list before a ride.        Layer: papers
// Rules: docs/formats-papers.md (verdict from the papers).                                 Pure functions: any thread.
#pragma once
#include <optional>
#include <string>
#include <vector>

#include "base/interval.hpp"
#include "inspect/pads.hpp"
#include "inspect/run_out.hpp"
#include "inspect/verdict.hpp"
#include "papers/papers.hpp"

namespace bw::papers {

//! All that a verdict may rest on; rows of other bikes do no harm.
struct Book {
    std::vector<Person> people;
    std::vector<Instrument> instruments;
    std::vector<Bike> bikes;
    std::vector<Part> parts;
    std::vector<Fitting> fittings;
    std::vector<Reading> readings;      //!< in order of day and time
    std::vector<Work> works;
    std::vector<Incident> incidents;
    std::vector<Hold> holds;
    std::vector<Tick> ticks;            //!< in order of time
    std::vector<ProofStop> proof_stops; //!< in order of day and time
    Papers* kept_in = nullptr;          //!< where a run-out table that was taken apart is found again; must outlive the book
};
//! bike: only its happenings, holds and ticks. Readings, work and proof stops are of all bikes: they follow a part from one to another.
Result<Book> book_of(Papers&, const std::optional<Id>& bike);

//! The part of a kind at one end of a bike on a day, on the bike itself or on its wheel there; null: none.
const Part* part_at(const Book&, const Id& bike, PartKind, parts::End, const Day&);

//! Where a part was, in order; a rotor goes with its wheel. Up to a day.
struct PartStay {
    Id bike;
    parts::End end;
    Day from;
    std::optional<Day> to;                     //!< first day on which it was not there any more
    std::optional<double> noted_unix_s = {};   //!< the last of the notes from which this follows; absent: with the bike itself
};
std::vector<PartStay> stays_of_part(const Book&, const Id& part, const Day& today);

//! Standard uncertainty of one value of a reading [unit of the value], by its instrument and person; without an instrument
//! that of an ordinary caliper for lengths. repeats: of how many the value is the mean; they reduce the person's part alone.
double uncertainty_mm(const Book&, const Reading&, const inspect::Practice&, int repeats = 1);
//! Same for any quantity: lengths, temperatures, masses; 0 for ages.
double uncertainty_of(const Book&, const Reading&, const inspect::Practice&, const parts::Library&, int repeats = 1);
//! Scatter of one person's single readings [unit of the value]; the house's figure where the person told none.
double scatter_of(const Book&, const Reading&, const parts::Library&);

//! One place of a reading: its repeats together. Points of the same side, angle and radius are repeats if they have an angle;
//! points without one are different places.
struct Place {
    Point point;                               //!< the mean of the repeats; the least of them if they contradict each other
    std::vector<double> repeats;
    bool contradict = false;
};
std::vector<Place> places_of(const Reading&, double scatter);
double value_of(const Point&);

//! Friction thickness of a value of a pad reading: a plate is taken off if it is in the reading.
//! assumed_plate_mm stands in where nobody measured the plate.
inspect::Reading friction_of(const Book&, const Reading&, double value_mm, double assumed_plate_mm, const inspect::Practice&, int repeats = 1);

//! The band of a rotor by one thickness reading, as its check takes it: anvil, and ridge as last read up to today. Nothing: no
//! place was read.
std::optional<inspect::Band> band_of(const Book&, const Reading&, const inspect::Practice&, const parts::Library&, const Day& today);

//! What a thickness reading of a rotor alone would say, with the ridge as last read up to its day.
inspect::Check rotor_check_of(const Book&, const Reading&, const inspect::Practice&, const parts::Library&);

//! What the newest reading of several places of both pads, or of one, points to. Empty: nothing to compare.
struct PadsRead {
    Reading reading;
    std::vector<inspect::Pattern> patterns;
};
std::optional<PadsRead> pads_read(const Book&, const Id& bike, const parts::Bike& described, parts::End, const parts::Library&, const Day& today);

//! The newest gaps by feeler at two or more places, and how wide they are.
struct GapsRead {
    Reading reading;
    double least_mm = 0;
    std::optional<double> both_sides_mm;        //!< mean left and mean right together
    std::vector<inspect::Pattern> patterns;
};
std::optional<GapsRead> gaps_read(const Book&, const Id& bike, parts::End, const parts::Library&, const Day& today);

//! Bite distances since the last work that moves a lever.
struct LeverRead {
    Reading first, last;
    std::vector<inspect::Pattern> patterns;
};
std::optional<LeverRead> lever_read(const Book&, const Id& bike, const parts::Bike& described, parts::End, const parts::Library&, const Day& today);

//! What weighing says of the pads that are there: lost since they were first weighed, and how thick a layer that is.
struct WeighedRead {
    Side side = Side::left;
    Reading first, last;
    double lost_g = 0, uncertainty_g = 0;
    Interval lost_mm;                           //!< by the compound's density and the pad's area, with their spread
};
std::vector<WeighedRead> weighed_read(const Book&, const Id& bike, const parts::Bike& described, parts::End, const parts::Library&, const Day& today);

//! The newest thickness reading of the rotor that is there, at two or more angles.
struct RotorRead {
    Reading reading;
    inspect::ThicknessAround around;
};
std::optional<RotorRead> rotor_read(const Book&, const Id& bike, parts::End, const parts::Library&, const Day& today);

//! The newest run-out table of the rotor that is there, read since the rotor was last straightened.
struct RunOutRead {
    Reading reading;
    std::optional<inspect::RunOut> run_out;    //!< none: why_not says what is wrong with the table
    inspect::RunOutBudget budget;              //!< of its instrument and person
    std::string why_not;
};
RunOutRead run_out_read(const Book&, const Reading&, const parts::Library&);
std::optional<RunOutRead> run_out_read(const Book&, const Id& bike, parts::End, const parts::Library&, const Day& today);
//! Takes apart and keeps the run-out tables that `of` decides, so that no look at the papers has to: a table, the play of the
//! wheel under it, the person or the instrument that read it.
void keep_run_outs(const Book&, const Id& of, const parts::Library&);

//! What the proof stops say of one brake.
struct ProofRead {
    std::vector<ProofStop> stops;              //!< since the brake was last changed: its history and the newest, in order
    std::optional<Day> since;                  //!< day of that change; absent: none known
    std::optional<stop::ProofGain> gain;       //!< of those stops; absent: none yet
    std::optional<inspect::Check> check;       //!< what holds the bike back, or asks for more stops
    std::vector<Id> rests_on;                  //!< the stops that hold it back: what a named person clears
};
//! Absent: no stop of this brake alone that still counts. New pads or cable, a bleed, another pad set or rotor start a new
//! history, but with the same pads and rotor a fall against the days before counts too. A fall stands until work on the brake that was noted
//! after it, done on its day or later, and a later sound set of three stops or more; stops and work noted later with an earlier day take
//! none away (docs/decisions/0017). Pads or a rotor that came from a brake that was held back by its stops hold this one back too.
std::optional<ProofRead> proof_read(const Book&, const Id& bike, const parts::Bike& described, parts::End, const parts::Library&, const Day& today);
//! The same in a sentence.
std::string words_of(const ProofRead&);
//! As the stop room reads it.
stop::ProofStop stop_of(const ProofStop&);
std::vector<stop::ProofStop> stops_of(const std::vector<ProofStop>&);

//! Every check that the papers can answer, and one `other` for each hold, fault and happening that is open. A reading that
//! holds the bike back goes on doing so until one with less uncertainty says otherwise; work that was noted later on its day
//! does not end it until the same is read again. bike: what read_bike made of its
//! description. today: rows of later days are left out.
std::vector<inspect::Check> checks_of(const Book&, const Bike&, const parts::Bike& bike, const inspect::Practice&, const parts::Library&, const Day& today);

//! One line of the list before a ride.
struct ToDo {
    Item item = Item::function;
    std::optional<parts::End> place;
    enum class Why { fault, after_happening, never, overdue, routine } why = Why::routine;   //!< most urgent first
    std::string text;
    double minutes = 0;
    std::optional<Day> last_ok;
};
//! The check before a ride, made for this bike: what is urgent first.
std::vector<ToDo> before_ride(const Book&, const Bike&, const parts::Bike& bike, const parts::Library&, const Day& today);

}  // namespace bw::papers
