// SPDX-License-Identifier: Apache-2.0
// Long work in its own thread, asked for and asked after; and what of it is known already.               Layer: app
#pragma once
#include <atomic>
#include <condition_variable>
#include <functional>
#include <list>
#include <map>
#include <memory>
#include <mutex>
#include <nlohmann/json_fwd.hpp>
#include <optional>
#include <string>
#include <thread>
#include <vector>

#include "base/context.hpp"
#include "reply.hpp"
#include "room.hpp"

namespace bw::app::service {

//! One worker, first come first served; results are kept for the last jobs.
class Jobs {
public:
    //! Computes: takes a context to tell progress to and to be stopped by, returns JSON text. May throw Stop.
    using Work = std::function<std::string(const Context&)>;

    explicit Jobs(int threads);
    ~Jobs();   //!< cancels all and waits
    Jobs(const Jobs&) = delete;
    Jobs& operator=(const Jobs&) = delete;

    //! Fails with bad_input if too many wait already.
    Result<std::string> start(std::string kind, Work);
    //! {id, kind, state, share, text, result, error}; nothing: no such job.
    std::optional<std::string> look(const std::string& id);
    bool cancel(const std::string& id);

private:
    enum class State { waiting, running, done, failed, cancelled };
    struct Job {
        std::string id, kind, text;
        State state = State::waiting;
        double share = 0;
        std::atomic<bool> stop{false};
        Work work;
        std::string result;       //!< JSON text
        std::optional<Error> error;
    };
    void run();
    std::shared_ptr<Job> find(const std::string& id);

    int threads_;
    std::mutex lock_;   // of all that follows
    std::condition_variable something_;
    std::list<std::shared_ptr<Job>> jobs_;   // oldest first
    bool closing_ = false;
    std::thread worker_;
};

//! look_by is of the last computed life, whatever the verdict.
KnownAnswer known_answer(Room&, Desk&, const papers::Id& bike);

//! The work that a body of POST /jobs asks for; kind: set.
Jobs::Work work_of(Room&, const std::string& body, std::string& kind);
//! The figures that explain, as data: nothing of these papers is in them. Computed once, then kept for the run.
Jobs::Work explain_work(Room&);
//! The stops of a recorded ride, kept until they are named.
Jobs::Work recorded_work(Room&, const json& body, const papers::Id& bike);
//! Of the thread that does long work alone.
papers::Papers& papers_of_worker(Room&);
//! The answer as JSON; throws NotComputed.
std::string answer_json(Room&, const papers::Id& bike);
//! {ride, row}
json ride_page(Room&, const papers::Id& bike, const papers::Id& ride);
//! {columns, thinned_from, of}: a ride's traces in at most `most` rows, the extremes of each kept.
json series_columns(const answer::RideAnswer&, std::size_t most, const Where& = {});
//! {columns, thinned_from}; throws NotComputed until a job of kind ride ran.
json ride_series(Room&, const papers::Id& bike, const papers::Id& ride, std::size_t points);

}  // namespace bw::app::service
