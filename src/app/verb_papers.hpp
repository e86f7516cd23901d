// SPDX-License-Identifier: Apache-2.0
// `papers`: words of the command line, and what its parts share.                                        Layer: app
#pragma once
#include <functional>
#include <map>
#include <memory>
#include <optional>
#include <string>
#include <vector>

#include "console.hpp"
#include "papers/papers.hpp"
#include "papers/state.hpp"

namespace CLI {
class App;
}

namespace bw::app {

struct PapersOptions {
    Common common;
    std::string verb;                         //!< "make", "add bike", ...
    std::string papers, bike, by, day, note, why, place, with, with_plate, anvil, side, csv, name, kind, wheel, part, compound, what, surface, weather;
    std::vector<std::string> paths, values, ok, fault;
    std::map<std::string, double> numbers;    //!< figures of people, instruments and parts, by the name of their column
    std::optional<double> wind_mps, air_degC, load_kg;
    bool sure = false, verdict_status = false, plate_measured = false, heat_barrier = false;
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
    std::unique_ptr<papers::Papers> papers;
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
//! Of that name or id, or the only one if nothing is named. Stops and names the nearest one otherwise.
papers::Bike bike_named(papers::Papers&, const std::string& named);
std::string nearest(const std::string& word, std::vector<std::string> known);

int papers_add_bikes(Desk&);
int papers_add_rides(Desk&);
int papers_add_reading(Desk&);
int papers_add_readings(Desk&);
int papers_verdict(Desk&);
int papers_check(Desk&);

}  // namespace bw::app
