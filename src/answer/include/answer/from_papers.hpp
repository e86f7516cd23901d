// SPDX-License-Identifier: Apache-2.0
// The answers for a bike as its papers know it: parts and readings of today, all its rides, work that is kept.  Layer: answer
// Theory: docs/decisions/0013-answers-from-papers.md.
#pragma once
#include <optional>
#include <string>
#include <vector>

#include "answer/answer.hpp"
#include "papers/papers.hpp"

namespace bw::answer {

struct FromPapers {
    papers::Id bike;
    papers::Day today;                        //!< what the papers hold of later days is left out; look-by dates count from it
    double made_unix_s = 0;                   //!< stamp of what is kept
    std::string version;                      //!< of the program, for the JSON
    std::optional<papers::Day> since;         //!< rides from this day on stand for the riding to come; absent: the year before today.
                                              //!< Rides since a reading that counts are taken in any case: they wore what was read
    RideTags tags;                            //!< what holds for rides of which the papers say nothing
    std::vector<PlannedInput> planned;        //!< ways that somebody means to ride on this bike
    std::optional<double> total_mass_kg;      //!< in place of the description's
    double stop_grade = 0;                    //!< of the stops, rise over run
    std::size_t cases = 1024;
    std::optional<ride::AltitudeSource> altitude;
    std::optional<papers::Id> once;           //!< of life_from_papers: a ride of this bike that the riding to come is nothing but
    bool keep_series = false;                 //!< series are never kept: every ride is computed
};

struct PapersAnswer {
    Answer answer;
    std::size_t rides_computed = 0, rides_found = 0;   //!< motion and heat were run; work kept before was used
    std::vector<std::string> notes;                    //!< rides that were left out and why; work that could not be kept
};

//! The bike as the papers know it.
struct BikeOfPapers {
    parts::Bike ridden;   //!< the description with the parts that are on it, without readings: what rides are computed for
    parts::Bike today;    //!< the same with the newest readings and their uncertainty
    //! [front, rear] From this day on rides wore what `today` says; absent: nobody knows since when, so no ride is taken off.
    std::array<std::optional<papers::Day>, 2> pads_since, rotor_since;
    std::vector<inspect::Check> checks;   //!< of the papers, with what follows from the above
};
//! Fails as papers::book_of and parts::read_bike; bad_input for a bike that is not in the papers.
Result<BikeOfPapers> bike_of_papers(const parts::Library&, papers::Papers&, const papers::Id& bike, const papers::Day& today);

//! As answer(). Motion and heat of each ride are run once for a bike, its settings, seed and model version, kept in the papers
//! as each is done, and found again; a reading leaves them as they are. The bytes of the answer do not depend on what was kept.
//! A ride that nothing can be made of is left out, with a note. Fails with bad_input, cancelled (what was done is kept), or as Papers.
Result<PapersAnswer> answer_from_papers(const Context&, const parts::Library&, papers::Papers&, const FromPapers&);

struct PapersLife {
    std::optional<LifeReport> report;                  //!< absent: withheld says why
    std::optional<LifeAsk> asked;                      //!< what it was made from, for life_narrowed
    std::string withheld;
    std::size_t rides_computed = 0, rides_found = 0;
    std::vector<std::string> notes;
};
//! What `answer_from_papers` says of the life, and nothing else of it. planned: the riding to come is nothing but these. The
//! forecast is kept in the papers, for the score of its like.
Result<PapersLife> life_from_papers(const Context&, const parts::Library&, papers::Papers&, const FromPapers&);
//! Kind under which forecasts are kept.
inline constexpr std::string_view forecast_kind = "forecast/1";

struct PapersJson {
    papers::Id key;                   //!< under which it is kept
    std::string json;                 //!< json_of(answer)
    bool do_not_ride = false;
    bool found = false;               //!< it was kept before; nothing was computed
    std::size_t rides_computed = 0, rides_found = 0;
    std::vector<std::string> notes;
};
//! The same as JSON, itself kept and found again as long as nothing that it rests on changed.
Result<PapersJson> answer_json_from_papers(const Context&, const parts::Library&, papers::Papers&, const FromPapers&);
//! The key under which it is kept, if it is: a hash of all that it rests on.
Result<papers::Id> answer_key_from_papers(const Context&, const parts::Library&, papers::Papers&, const FromPapers&);
//! Only if it is kept: computes nothing. Of the context the seed alone matters.
Result<std::optional<PapersJson>> kept_answer_from_papers(const Context&, const parts::Library&, papers::Papers&, const FromPapers&);

}  // namespace bw::answer
