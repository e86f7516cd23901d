// SPDX-License-Identifier: Apache-2.0
// The papers of one or many bikes, in domain verbs: what any back end must do.                          Layer: papers
// Theory: docs/decisions/0008-papers.md. One object belongs to one thread; any number of processes share a file.
#pragma once
#include <functional>
#include <memory>
#include <optional>
#include <string>
#include <string_view>
#include <vector>

#include "base/result.hpp"
#include "papers/values.hpp"

namespace bw::papers {

//! Who does something, when, and as part of what.
struct Deed {
    std::string by;               //!< a person's name as told; may be empty where nobody need answer for it
    double at_unix_s = 0;
    Id batch;                     //!< new_uuid() once for a command: all of it is undone together
};

//! Random UUID (RFC 9562 version 4).
Id new_uuid();
//! SHA-256 (FIPS 180-4) in 64 hexadecimal digits.
Id content_id(std::string_view bytes);
//! Key of an answer or a dose: SHA-256 over the parts, each with its length, so that no two lists of parts give the same bytes.
Id key_of(const std::vector<std::string>& parts);

struct Added {
    Id id;
    bool was_there = false;       //!< the content is in the papers already; nothing was changed
    std::string bike;             //!< with was_there: the bike that has it
};

struct Undone {
    Id batch;
    int events = 0;
    std::string text;             //!< what was taken back
};

//! What `sound` found; sound() fails only if it cannot look at all.
struct Soundness {
    std::vector<std::string> troubles;   //!< empty: none found
    long bikes = 0, rides = 0, readings = 0, events = 0, ride_files_read = 0;
};

//! Receives exported files: name inside the folder ("rides.csv", "rides/ab12..."), bytes.
using FileSink = std::function<Status(const std::string& name, std::string_view bytes)>;
//! Gives files of an export: bytes, or nothing if there is no such file.
using FileSource = std::function<Result<std::optional<std::string>>(const std::string& name)>;

//! Rules of every back end (tests/papers/contract_test.cpp):
//! 1. A verb that returns a value has made its change durable (inside together(): when that returns); one that returns an
//!    Error has changed nothing, but for a disk that fails while it syncs: then the text says that it is not known.
//! 2. Each change leaves one event, which is never altered. Answers and doses can be computed again: they leave none.
//! 3. A row that names a bike, part or person that is not there is refused; so are two bikes, parts or people of one name.
//! 4. A part is in one place at a time.
//! 5. undo takes back the newest batch not yet taken back, whole or not at all; never a hold: that is cleared by a named person.
//! Errors: bad_input (what was wrong, what to do), cannot_write (disk full, read-only, another process writes for too long),
//! cannot_read (a damaged file).
class Papers {
public:
    virtual ~Papers() = default;

    //! Runs several verbs as one change on the disk: all of them, or none if the function returns an Error.
    virtual Status together(const std::function<Status()>&) = 0;

    // ---- changes; an id that is empty is filled with a new one ----
    //! Adds a person, or with the id of one that is there replaces what is known.
    virtual Result<Id> put_person(const Deed&, Person) = 0;
    virtual Result<Id> put_instrument(const Deed&, Instrument) = 0;
    //! A new bike with its first parts: the parts' fittings name them by position (part_id = "0", "1", ...; wheel_id too).
    virtual Result<Id> add_bike(const Deed&, Bike, std::vector<Part> parts, std::vector<Fitting> fittings) = 0;
    //! Name, description, note, day of retiring of a bike that is there.
    virtual Status change_bike(const Deed&, const Bike&) = 0;
    virtual Result<Id> add_part(const Deed&, Part) = 0;
    //! Ends the fitting of what is at that place with the same kind of part, then fits this one.
    virtual Result<Id> put_on(const Deed&, Fitting) = 0;
    virtual Status take_off(const Deed&, const Id& part, const Day& day) = 0;
    //! content: the file's bytes (out of any gzip wrapping) of a recorded ride, empty for a described one. ride.id is set to
    //! content_id(content) for a recorded ride; for a described one the caller sets it.
    virtual Result<Added> add_ride(const Deed&, Ride, std::string_view content) = 0;
    //! Many described rides as one event; all or none.
    virtual Result<std::vector<Added>> add_rides(const Deed&, std::vector<Ride>) = 0;
    virtual Result<Id> add_reading(const Deed&, Reading) = 0;
    virtual Result<Id> add_work(const Deed&, Work) = 0;
    virtual Result<Id> add_incident(const Deed&, Incident) = 0;
    //! All ticks of one check, as one event.
    virtual Status add_ticks(const Deed&, std::vector<Tick>) = 0;
    //! Proof stops told together, as one event; all or none.
    virtual Status add_proof(const Deed&, std::vector<ProofStop>) = 0;
    //! Says of these stops that they count for nothing; returns how many still did. deed.by must be a name.
    virtual Result<int> clear_proof(const Deed&, const std::vector<Id>& stops, const std::string& why) = 0;
    virtual Result<Id> hold(const Deed&, Hold) = 0;
    //! Ends every hold of the bike; returns how many. deed.by must be a name.
    virtual Result<int> clear(const Deed&, const Id& bike, const std::string& why) = 0;
    virtual Result<Undone> undo(const Deed&) = 0;
    virtual Status keep_answer(const KeptAnswer&) = 0;
    virtual Status keep_dose(const KeptDose&) = 0;

    // ---- questions; rows in order of name or of time ----
    virtual Result<std::vector<Person>> people() = 0;
    virtual Result<std::vector<Instrument>> instruments() = 0;
    virtual Result<std::vector<Bike>> bikes() = 0;
    virtual Result<std::vector<Part>> parts() = 0;
    virtual Result<std::vector<Fitting>> fittings() = 0;
    //! Of one bike, or of all.
    virtual Result<std::vector<Ride>> rides(const std::optional<Id>& bike) = 0;
    //! The bytes that were added; checked against the id. Fails with bad_input for a described ride.
    virtual Result<std::string> ride_content(const Id& ride) = 0;
    virtual Result<bool> has_ride(const Id& ride) = 0;
    virtual Result<std::vector<Reading>> readings(const std::optional<Id>& bike) = 0;
    virtual Result<std::vector<Work>> works(const std::optional<Id>& bike) = 0;
    virtual Result<std::vector<Incident>> incidents(const std::optional<Id>& bike) = 0;
    virtual Result<std::vector<Hold>> holds(const std::optional<Id>& bike) = 0;
    virtual Result<std::vector<Tick>> ticks(const std::optional<Id>& bike) = 0;
    //! In the order ridden: by day, then as they were noted.
    virtual Result<std::vector<ProofStop>> proof_stops(const std::optional<Id>& bike) = 0;
    virtual Result<std::optional<KeptAnswer>> answer(const Id& key) = 0;
    //! Kept answers of one kind for a bike, oldest first.
    virtual Result<std::vector<KeptAnswer>> answers(const Id& bike, std::string_view kind) = 0;
    //! Of those that speak of a day up to `day`, the newest `most` after the first `skip`: newest day first, of one day the last made.
    virtual Result<std::vector<KeptAnswer>> newest_answers(const Id& bike, std::string_view kind, const Day& day, std::size_t most, std::size_t skip = 0) = 0;
    virtual Result<std::optional<KeptDose>> dose(const Id& key) = 0;
    //! The newest `most` events, newest first.
    virtual Result<std::vector<Event>> history(std::size_t most) = 0;

    // ---- the whole ----
    //! Looks at everything: structure, references, every ride's content against its id, the tables against the events.
    virtual Result<Soundness> sound() = 0;
    //! A copy of the whole as it is now, in a file that must not be there yet.
    virtual Status backup(const std::string& path) = 0;
    virtual Status export_to(const FileSink&) = 0;
};

//! The newest schema, which open papers have.
int schema_number();
//! New papers in a file that must not be there yet.
Result<std::unique_ptr<Papers>> make_papers(const std::string& path);

struct Opened {
    std::unique_ptr<Papers> papers;
    std::string note;             //!< what opening did beyond opening: an older schema was brought up to date, with a backup
};
//! Opens papers of this or an older schema. A file that is not papers, is damaged, or is of a newer schema is refused and
//! left as it is.
Result<Opened> open_papers(const std::string& path);

//! New papers at `path`, which must not be there yet, with what export_to wrote. Fails with bad_input (file and line or row,
//! what was expected) and then leaves no file. Tables are taken from papers.json or, without it, from the CSV files; if both
//! are there they must agree.
Result<std::unique_ptr<Papers>> import_papers(const std::string& path, const FileSource&);

//! Deflate and back (RFC 1950), for what the store keeps. inflated fails with cannot_read on damaged bytes or another size.
std::string deflated(std::string_view bytes);
Result<std::string> inflated(std::string_view bytes, std::size_t size);
//! What a ride file is without a gzip wrapping: its bytes if it has none, or if the wrapping is damaged.
std::string unwrapped(std::string bytes);

}  // namespace bw::papers
