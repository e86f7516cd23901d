// SPDX-License-Identifier: Apache-2.0
// What the service works with: papers behind one lock, tables of the trade, the day, and long work.       Layer: app
#pragma once
#include <atomic>
#include <functional>
#include <map>
#include <memory>
#include <mutex>
#include <nlohmann/json_fwd.hpp>
#include <string>
#include <vector>

#include "../from_ride.hpp"
#include "../verb_papers.hpp"
#include "answer/answer.hpp"
#include "http.hpp"
#include "parts/library.hpp"

namespace bw::app::service {

using json = nlohmann::ordered_json;

//! Thrown where a person has to say something before anything is stored.
struct Question {
    struct Choice {
        std::string value, text;
    };
    std::string code, text;
    std::vector<Choice> choices;
};
struct MustAsk {
    std::vector<Question> questions;
};
//! Thrown where there is nothing of that name: an address that nobody was given.
struct NotThere {
    std::string text;
};
//! Thrown where what is asked for has to be computed first.
struct NotComputed {
    std::string text;
};
//! Thrown by a body that no page of ours sends: not JSON, or no object.
struct Malformed {
    std::string text;
};

//! What is known of the answer for what the papers say now.
struct KnownAnswer {
    papers::Id key;                          //!< empty: not computed
    std::optional<papers::Day> look_by;      //!< the earliest of pads and rotors
    std::shared_ptr<const json> answer;      //!< once a ride of it was asked for
};
//! A ride with its traces, as a job computed it.
//! Positions, one a second from the first record; NaN = not known, empty: the ride has none.
struct Where {
    std::vector<double> latitude_deg, longitude_deg;
};
struct SeriesOfRide {
    papers::Id bike, ride;
    std::shared_ptr<const answer::RideAnswer> answer;
    Where where;
    std::string text;                        //!< the ride as in answer/1
};

struct Room {
    std::string papers_path;
    std::string today_told;                    //!< empty: the day of the clock
    parts::Library library;
    std::unique_ptr<papers::Papers> papers;    //!< of whoever holds the lock
    std::mutex lock;
    //! Of whoever holds the lock: per bike what is known, with what it was found for.
    std::map<papers::Id, std::pair<std::string, KnownAnswer>> known;
    std::atomic<long> answers_made{0};

    std::unique_ptr<papers::Papers> worker_papers;   //!< of the thread that does long work, which opens it
    std::string explained;                           //!< the same thread's: the figures that explain, once computed
    std::mutex series_lock;
    std::vector<SeriesOfRide> series;                //!< of whoever holds series_lock; oldest first
    std::vector<std::pair<papers::Id, StopsOfRide>> recorded;   //!< the same holder's: rides looked through for proof stops, oldest first

    double now() const;
    papers::Day today() const;
    //! Runs f with a desk, alone: papers belong to one thread at a time.
    json at_desk(const std::string& by, const PapersOptions& o, const std::function<json(Desk&)>& f);
    json at_desk(const std::function<json(Desk&)>& f);
};

//! A bike of the papers by its id; throws NotThere.
papers::Bike bike_of(const papers::Book&, const papers::Id&);
json json_of(const inspect::Verdict&);
json json_of(const papers::Ride&);
json held_of(const papers::Book&, const papers::Id& bike);
json fault_list(const std::vector<ride::Fault>&);

// ---- what is looked at ----
json about(Room&);
json stand(Room&);
json bike_page(Room&, const papers::Id& bike);
json brakes(Room&, const papers::Id& bike);
json check_list(Room&, const papers::Id& bike);
json proof_page(Room&, const papers::Id& bike);
json ride_row(Room&, const papers::Id& bike, const papers::Id& ride);

// ---- what is entered; body: JSON text ----
json new_bike(Room&, const std::string& body);
json new_rides(Room&, const papers::Id& bike, const std::string& name, const std::string& by, const std::string& file);
json new_reading(Room&, const papers::Id& bike, const std::string& body);
json new_rows(Room&, const papers::Id& bike, const std::string& body);
json check_done(Room&, const papers::Id& bike, const std::string& body);
json hold_back(Room&, const papers::Id& bike, const std::string& body);
json clear_holds(Room&, const papers::Id& bike, const std::string& body);
json new_proof(Room&, const papers::Id& bike, const std::string& body);
//! {added, there_already, recorded}; throws NotComputed until a job of kind recorded_stops ran for the ride.
json new_recorded_proof(Room&, const papers::Id& bike, const std::string& body);
//! keep_proof, all or none; a scale that pulled at another place of the lever becomes a question.
KeptProof keep_asking(Desk&, const ToldProof&);
json undo(Room&, const std::string& body);
//! The code in {"code": "..."}.
std::string code_of_pairing(const std::string& body);

}  // namespace bw::app::service
