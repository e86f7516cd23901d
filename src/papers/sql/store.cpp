// SPDX-License-Identifier: Apache-2.0
// The papers in one SQLite file.                                                                        Layer: papers
#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <map>
#include <nlohmann/json.hpp>

#include "base/text.hpp"
#include "base/time.hpp"
#include "open.hpp"

namespace bw::papers {

namespace sql {

namespace {

using json = nlohmann::ordered_json;

json json_of_cell(const Cell& c) {
    if (const auto* i = std::get_if<std::int64_t>(&c)) return *i;
    if (const auto* d = std::get_if<double>(&c)) return *d;
    if (const auto* t = std::get_if<std::string>(&c)) return *t;
    return nullptr;
}
json json_of_row(const Row& row) {
    json out = json::object();
    for (const auto& [column, c] : row) out[column] = json_of_cell(c);
    return out;
}
Cell cell_of_json(const json& j) {
    if (j.is_number_integer()) return j.get<std::int64_t>();
    if (j.is_number_float()) return j.get<double>();
    if (j.is_string()) return j.get<std::string>();
    return {};
}
Row row_of_json(const json& j) {
    Row row;
    for (const auto& [column, value] : j.items()) row.emplace_back(column, cell_of_json(value));
    return row;
}

// The same in every column that both have: a later schema may have added some.
bool alike(const json& a, const json& b) {
    if (!a.is_object() || !b.is_object()) return a.is_null() && b.is_null();
    for (const auto& [column, value] : a.items())
        if (b.contains(column) && b[column] != value) return false;
    return true;
}

// An event's id is the hash of all that it says and of the event before it in its batch: an event that was altered, or one
// taken out of a batch, shows. Batches stand by themselves, so that those of two places can be put together.
Id event_id(const Id& before, const Row& e) {
    std::vector<std::string> parts = {before};
    for (const char* column : {"batch", "at_unix_s", "by", "verb", "text", "undoes", "changes"}) {
        const Cell& c = cell_of(e, column);
        const auto* t = std::get_if<std::string>(&c);
        const auto* x = std::get_if<double>(&c);
        parts.push_back(t ? *t : x ? fmt::format("{}", *x) : std::string());
    }
    return key_of(parts);
}

std::string text_in(const json& j, const char* key) {
    const auto it = j.is_object() ? j.find(key) : j.end();
    return it != j.end() && it->is_string() ? it->get<std::string>() : std::string();
}

bool is_table(const std::string& name) {
    return std::any_of(tables().begin(), tables().end(), [&](const Table& t) { return t.journaled && name == t.name; });
}

}  // namespace

bool is_utf8(std::string_view s) {
    for (std::size_t i = 0; i < s.size();) {
        const auto c = static_cast<unsigned char>(s[i]);
        if (c < 0x20 && c != '\n' && c != '\t' && c != '\r') return false;
        const std::size_t n = c < 0x80 ? 1 : c >= 0xC2 && c < 0xE0 ? 2 : c >= 0xE0 && c < 0xF0 ? 3 : c >= 0xF0 && c < 0xF5 ? 4 : 0;
        if (n == 0 || i + n > s.size()) return false;
        for (std::size_t k = 1; k < n; ++k)
            if ((static_cast<unsigned char>(s[i + k]) & 0xC0) != 0x80) return false;
        // Overlong forms and surrogates
        const auto second = n > 1 ? static_cast<unsigned char>(s[i + 1]) : 0;
        if ((c == 0xE0 && second < 0xA0) || (c == 0xED && second >= 0xA0) || (c == 0xF0 && second < 0x90) || (c == 0xF4 && second >= 0x90)) return false;
        i += n;
    }
    return true;
}

namespace {

// What every row must keep, whatever its table.
void look_at(const Row& row) {
    for (const auto& [column, c] : row) {
        if (const auto* d = std::get_if<double>(&c); d && !std::isfinite(*d)) refuse(Errc::bad_input, fmt::format("{}: expected a finite number", column));
        const auto* t = std::get_if<std::string>(&c);
        if (!t) continue;
        if (!is_utf8(*t)) refuse(Errc::bad_input, fmt::format("{}: expected text in UTF-8 without control characters", column));
        if (column.ends_with("day") && !parse_day(*t)) refuse(Errc::bad_input, fmt::format("{} '{}': expected a day as 2026-05-01", column, *t));
    }
}

}  // namespace

void against_history(Db& db, Soundness& out) {
    // The history says what every row must be now.
    std::map<std::pair<std::string, std::string>, json> told;
    std::map<Id, Id> last_of_batch;
    Statement s(db, "SELECT * FROM event ORDER BY number");
    while (s.step()) {
        ++out.events;
        const Row e = s.row();
        std::string id, batch, changes;
        take(cell_of(e, "id"), id);
        take(cell_of(e, "batch"), batch);
        take(cell_of(e, "changes"), changes);
        if (event_id(last_of_batch[batch], e) != id) out.troubles.push_back(fmt::format("event {} is not what it was when it was written", out.events));
        last_of_batch[batch] = id;
        const json list = json::parse(changes, nullptr, false);
        if (!list.is_array()) {
            out.troubles.push_back(fmt::format("event {} cannot be read", out.events));
            continue;
        }
        for (const json& c : list) {
            if (!c.is_object() || !c.contains("after")) continue;
            told[{text_in(c, "table"), text_in(c, "id")}] = c["after"];
        }
    }
    if (db.number("SELECT max(number) FROM event") != out.events) out.troubles.push_back("an event is missing from the history");
    for (const Table& table : tables()) {
        // An export of an older schema comes into the tables of that schema.
        if (!table.journaled || db.texts(fmt::format("SELECT name FROM sqlite_schema WHERE type = 'table' AND name = '{}'", table.name)).empty()) continue;
        Statement rows(db, fmt::format("SELECT * FROM {}", table.name));
        while (rows.step()) {
            const json now = json_of_row(rows.row());
            const std::string id = text_in(now, "id");
            const auto it = told.find({table.name, id});
            if (it == told.end() || !alike(it->second, now)) out.troubles.push_back(fmt::format("a row of {} is not what the history says ({})", table.name, id));
            if (it != told.end()) told.erase(it);
        }
    }
    for (const auto& [key, row] : told)
        if (!row.is_null()) out.troubles.push_back(fmt::format("a row of {} that the history tells of is not there ({})", key.first, key.second));
}

namespace {

class SqlitePapers final : public Papers {
public:
    SqlitePapers(std::unique_ptr<Db> db, const Options& o) : db_(std::move(db)), options_(o) {}

    Status together(const std::function<Status()>& verbs) override {
        return guarded([&] {
            if (together_) refuse(Errc::internal, "together inside together");
            Transaction t(*db_, Transaction::Kind::write);
            struct Flag {
                bool& flag;
                explicit Flag(bool& f) : flag(f) { flag = true; }
                ~Flag() { flag = false; }
            } inside(together_);
            if (Status s = verbs(); !s) throw Failed{s.error()};
            still_together();
            t.commit();
            return Done{};
        });
    }

    Result<Id> put_person(const Deed& d, Person p) override {
        return change(d, "put_person", "person " + p.name, [&] { return put_named("person", "person", p); });
    }
    Result<Id> put_instrument(const Deed& d, Instrument i) override {
        return change(d, "put_instrument", "instrument " + i.name, [&] { return put_named("instrument", "instrument", i); });
    }

    Result<Id> add_bike(const Deed& d, Bike bike, std::vector<Part> parts, std::vector<Fitting> fittings) override {
        return change(d, "add_bike", "bike " + bike.name, [&] {
            fill_id("bike", bike.id);
            put_named("bike", "bike", bike);
            for (Part& p : parts) {
                p.id = new_uuid();
                put_named("part", "part", p);
            }
            for (Fitting& f : fittings) {
                const auto part = [&](const Id& position) { return parts.at(std::stoul(position)).id; };
                f.part_id = part(f.part_id);
                if (f.wheel_id) f.wheel_id = part(*f.wheel_id);
                else f.bike_id = bike.id;
                fit(f);
            }
            return bike.id;
        });
    }
    Status change_bike(const Deed& d, const Bike& b) override {
        return change(d, "change_bike", "changed: bike " + b.name, [&] {
            must_be("bike", b.id);
            Bike copy = b;
            put_named("bike", "bike", copy);
            return Done{};
        });
    }
    Result<Id> add_part(const Deed& d, Part p) override {
        return change(d, "add_part", fmt::format("part {}", p.name), [&] {
            p.id.clear();
            return put_named("part", "part", p);
        });
    }
    Result<Id> put_on(const Deed& d, Fitting f) override {
        return change(d, "put_on", "part on " + f.from_day, [&] { return fit(f); });
    }
    Status take_off(const Deed& d, const Id& part, const Day& day) override {
        return change(d, "take_off", "part off " + day, [&] {
            must_be("part", part);
            std::vector<Fitting> open = select<Fitting>("fitting", "part_id = ?1 AND to_day IS NULL", {part});
            if (open.empty()) refuse(Errc::bad_input, "this part is on no bike and no wheel; there is nothing to take off");
            end_fitting(open.front(), day);
            return Done{};
        });
    }

    Result<Added> add_ride(const Deed& d, Ride r, std::string_view content) override {
        if (r.kind == RideKind::recorded) r.id = content_id(content);
        return guarded([&] {
            // Compressed before the file is locked, so that nobody waits for it.
            Blob packed;
            if (r.kind == RideKind::recorded) {
                if (content.size() > (std::size_t{200} << 20)) refuse(Errc::bad_input, fmt::format("{}: more than 200 MB; split it into its rides", r.file_name));
                packed.bytes = deflated(content);
            }
            return change_or_throw(d, "add_ride", fmt::format("ride {}", r.file_name), [&] {
                Added a = put_ride(r);
                if (!a.was_there && r.kind == RideKind::recorded)
                    Statement(*db_, "INSERT INTO ride_file (id, size_bytes, deflated) VALUES (?1, ?2, ?3)")
                        .bind(1, r.id).bind(2, static_cast<std::int64_t>(content.size())).bind(3, packed).done();
                return a;
            });
        });
    }
    Result<std::vector<Added>> add_rides(const Deed& d, std::vector<Ride> rides) override {
        return change(d, "add_rides", fmt::format("{} described rides", rides.size()), [&] {
            std::vector<Added> all;
            for (Ride& r : rides) {
                if (r.kind != RideKind::described) refuse(Errc::internal, "add_rides takes described rides");
                all.push_back(put_ride(r));
            }
            return all;
        });
    }

    Result<Id> add_reading(const Deed& d, Reading r) override {
        return change(d, "add_reading", fmt::format("reading {} {}", papers::word_of(r.place), papers::word_of(r.what)), [&] {
            fill_id("reading", r.id);
            must_be("bike", r.bike_id);
            must_be("person", r.person_id);
            if (r.part_id) must_be("part", *r.part_id);
            if (r.instrument_id) must_be("instrument", *r.instrument_id);
            if (r.points.empty() && r.word.empty()) refuse(Errc::bad_input, "a reading needs at least one value");
            if ((r.what == What::pad_thickness) != r.with_plate.has_value())
                refuse(Errc::bad_input, "a pad's thickness must say whether it is with the plate; no other reading may");
            put("reading", row_of(r));
            std::int64_t number = 0;
            for (const Point& p : r.points) {
                if (p.length_mm.has_value() + p.temperature_degC.has_value() + p.mass_g.has_value() + p.age_months.has_value() != 1)
                    refuse(Errc::bad_input, "each point of a reading has one value");
                Row row = {{"id", fmt::format("{}/{}", r.id, number)}, {"reading_id", r.id}, {"number", number}};
                const Row rest = row_of(p);
                row.insert(row.end(), rest.begin(), rest.end());
                put("reading_point", row);
                ++number;
            }
            return r.id;
        });
    }
    Result<Id> add_work(const Deed& d, Work w) override {
        return change(d, "add_work", fmt::format("work {}", papers::word_of(w.kind)), [&] {
            w.id = new_uuid();
            must_be("bike", w.bike_id);
            must_be("person", w.person_id);
            put("work", row_of(w));
            return w.id;
        });
    }
    Result<Id> add_incident(const Deed& d, Incident i) override {
        return change(d, "add_incident", fmt::format("happening {}", papers::word_of(i.kind)), [&] {
            i.id = new_uuid();
            must_be("bike", i.bike_id);
            must_be("person", i.person_id);
            put("incident", row_of(i));
            return i.id;
        });
    }
    Status add_ticks(const Deed& d, std::vector<Tick> ticks) override {
        return change(d, "add_ticks", fmt::format("check of {} items", ticks.size()), [&] {
            for (Tick& t : ticks) {
                t.id = new_uuid();
                must_be("bike", t.bike_id);
                must_be("person", t.person_id);
                put("tick", row_of(t));
            }
            return Done{};
        });
    }
    Status add_proof(const Deed& d, std::vector<ProofStop> stops) override {
        return change(d, "add_proof", fmt::format("{} proof stop{}", stops.size(), stops.size() == 1 ? "" : "s"), [&] {
            for (ProofStop& s : stops) {
                fill_id("proof_stop", s.id);
                must_be("bike", s.bike_id);
                must_be("person", s.person_id);
                if (s.instrument_id) must_be("instrument", *s.instrument_id);
                if (s.ride_id) must_be("ride", *s.ride_id);
                s.cleared_unix_s.reset();
                s.cleared_by.clear();
                s.cleared_why.clear();
                put("proof_stop", row_of(s));
            }
            return Done{};
        });
    }
    Result<int> clear_proof(const Deed& d, const std::vector<Id>& stops, const std::string& why) override {
        return change(d, "clear_proof", "proof stops that count for nothing: " + why, [&] {
            if (trim(d.by).empty() || trim(why).empty()) refuse(Errc::bad_input, "proof stops are cleared by a named person and for a reason: say who and why");
            int n = 0;
            for (const Id& id : stops) {
                must_be("proof_stop", id);
                ProofStop s = value_from<ProofStop>(fetch("proof_stop", id));
                if (!s.cleared_by.empty()) continue;
                s.cleared_unix_s = d.at_unix_s;
                s.cleared_by = d.by;
                s.cleared_why = why;
                put("proof_stop", row_of(s));
                ++n;
            }
            return n;
        });
    }
    Result<Id> hold(const Deed& d, Hold h) override {
        return change(d, "hold", "held back: " + h.why, [&] {
            if (trim(h.by).empty() || trim(h.why).empty()) refuse(Errc::bad_input, "a bike is held back by a named person and for a reason: say who and why");
            must_be("bike", h.bike_id);
            fill_id("hold", h.id);
            h.cleared_unix_s.reset();
            h.cleared_by.clear();
            h.cleared_why.clear();
            put("hold", row_of(h));
            return h.id;
        });
    }
    Result<int> clear(const Deed& d, const Id& bike, const std::string& why) override {
        return change(d, "clear", "cleared: " + why, [&] {
            if (trim(d.by).empty() || trim(why).empty()) refuse(Errc::bad_input, "a bike is cleared by a named person and for a reason: say who and why");
            must_be("bike", bike);
            int n = 0;
            for (Hold& h : select<Hold>("hold", "bike_id = ?1 AND cleared_unix_s IS NULL", {bike})) {
                h.cleared_unix_s = d.at_unix_s;
                h.cleared_by = d.by;
                h.cleared_why = why;
                put("hold", row_of(h));
                ++n;
            }
            return n;
        });
    }

    Result<Undone> undo(const Deed& d) override;

    Status keep_answer(const KeptAnswer& a) override {
        return guarded([&] {
            Transaction t(*db_, Transaction::Kind::write);
            if (a.bike_id) must_be("bike", *a.bike_id);
            insert("answer", row_of(a), "INSERT OR REPLACE");
            t.commit();
            return Done{};
        });
    }
    Status keep_dose(const KeptDose& x) override {
        return guarded([&] {
            Transaction t(*db_, Transaction::Kind::write);
            must_be("ride", x.ride_id);
            insert("dose", {{"id", x.id}, {"ride_id", x.ride_id}, {"made_unix_s", x.made_unix_s}, {"model_versions", cell(x.model_versions)}, {"bytes", Blob{x.bytes}}}, "INSERT OR REPLACE");
            t.commit();
            return Done{};
        });
    }

    Result<std::vector<Person>> people() override { return all<Person>("person", "name"); }
    Result<std::vector<Instrument>> instruments() override { return all<Instrument>("instrument", "name"); }
    Result<std::vector<Bike>> bikes() override { return all<Bike>("bike", "name"); }
    Result<std::vector<Part>> parts() override { return all<Part>("part", "name"); }
    Result<std::vector<Fitting>> fittings() override {
        return guarded([&] {
            std::vector<Fitting> out = select<Fitting>("fitting", "1", {}, "from_day, to_day, id");
            std::map<Id, double> noted;
            Statement s(*db_, "SELECT json_extract(c.value, '$.id') AS id, e.at_unix_s AS at_unix_s FROM event e, json_each(e.changes) c "
                              "WHERE e.verb = 'put_on' AND json_extract(c.value, '$.table') = 'fitting' AND json_extract(c.value, '$.before') IS NULL ORDER BY e.number");
            while (s.step()) {
                const Row row = s.row();
                Id id;
                double at = 0;
                take(cell_of(row, "id"), id);
                take(cell_of(row, "at_unix_s"), at);
                noted.emplace(id, at);
            }
            for (Fitting& f : out)
                if (const auto it = noted.find(f.id); it != noted.end()) f.noted_unix_s = it->second;
            return out;
        });
    }
    Result<std::vector<Ride>> rides(const std::optional<Id>& bike) override { return of_bike<Ride>("ride", bike, "day, start_unix_s, id"); }
    Result<std::vector<Work>> works(const std::optional<Id>& bike) override { return of_bike<Work>("work", bike, "day, id"); }
    Result<std::vector<Incident>> incidents(const std::optional<Id>& bike) override { return of_bike<Incident>("incident", bike, "day, recorded_unix_s, id"); }
    Result<std::vector<Hold>> holds(const std::optional<Id>& bike) override { return of_bike<Hold>("hold", bike, "from_unix_s, id"); }
    Result<std::vector<Tick>> ticks(const std::optional<Id>& bike) override { return of_bike<Tick>("tick", bike, "recorded_unix_s, id"); }

    Result<std::vector<ProofStop>> proof_stops(const std::optional<Id>& bike) override { return of_bike<ProofStop>("proof_stop", bike, "day, recorded_unix_s, proof_id, number, id"); }

    Result<std::vector<Reading>> readings(const std::optional<Id>& bike) override {
        return guarded([&] {
            Transaction t(*db_, Transaction::Kind::read);   // both tables at one moment
            std::vector<Reading> all = select<Reading>("reading", where_bike(bike), values_bike(bike), "day, recorded_unix_s, id");
            std::map<Id, std::size_t> place;
            for (std::size_t i = 0; i < all.size(); ++i) place[all[i].id] = i;
            Statement s(*db_, bike ? "SELECT p.* FROM reading_point p JOIN reading r ON r.id = p.reading_id WHERE r.bike_id = ?1 ORDER BY p.reading_id, p.number"
                                   : "SELECT * FROM reading_point ORDER BY reading_id, number");
            if (bike) s.bind(1, *bike);
            while (s.step()) {
                const Row row = s.row();
                Id of;
                take(cell_of(row, "reading_id"), of);
                const auto it = place.find(of);
                if (it != place.end()) all[it->second].points.push_back(value_from<Point>(row));
            }
            return all;
        });
    }

    Result<bool> has_ride(const Id& ride) override {
        return guarded([&] { return !fetch("ride", ride).empty(); });
    }
    Result<std::string> ride_content(const Id& ride) override {
        return guarded([&] { return content_or_throw(ride); });
    }
    Result<std::optional<KeptAnswer>> answer(const Id& key) override {
        return guarded([&]() -> std::optional<KeptAnswer> {
            const Row row = fetch("answer", key);
            if (row.empty()) return std::nullopt;
            return value_from<KeptAnswer>(row);
        });
    }
    Result<std::vector<KeptAnswer>> answers(const Id& bike, std::string_view kind) override {
        return guarded([&] {
            Statement s(*db_, "SELECT * FROM answer WHERE bike_id = ?1 AND kind = ?2 ORDER BY made_unix_s, id");
            s.bind(1, bike), s.bind(2, std::string(kind));
            std::vector<KeptAnswer> all;
            while (s.step()) all.push_back(value_from<KeptAnswer>(s.row()));
            return all;
        });
    }
    Result<std::vector<KeptAnswer>> newest_answers(const Id& bike, std::string_view kind, const Day& day, std::size_t most, std::size_t skip) override {
        return guarded([&] {
            Statement s(*db_, "SELECT * FROM answer WHERE bike_id = ?1 AND kind = ?2 AND day <= ?3 ORDER BY day DESC, made_unix_s DESC, id DESC LIMIT ?4 OFFSET ?5");
            s.bind(1, bike), s.bind(2, std::string(kind)), s.bind(3, day), s.bind(4, static_cast<std::int64_t>(most)), s.bind(5, static_cast<std::int64_t>(skip));
            std::vector<KeptAnswer> all;
            while (s.step()) all.push_back(value_from<KeptAnswer>(s.row()));
            return all;
        });
    }
    Result<std::optional<KeptDose>> dose(const Id& key) override {
        return guarded([&]() -> std::optional<KeptDose> {
            const Row row = fetch("dose", key);
            if (row.empty()) return std::nullopt;
            KeptDose x;
            take(cell_of(row, "id"), x.id);
            take(cell_of(row, "ride_id"), x.ride_id);
            take(cell_of(row, "made_unix_s"), x.made_unix_s);
            take(cell_of(row, "model_versions"), x.model_versions);
            if (const auto* b = std::get_if<Blob>(&cell_of(row, "bytes"))) x.bytes = b->bytes;
            return x;
        });
    }
    Result<std::vector<Event>> history(std::size_t most) override {
        return guarded([&] {
            std::vector<Event> all;
            Statement s(*db_, "SELECT * FROM event ORDER BY number DESC LIMIT ?1");
            s.bind(1, static_cast<std::int64_t>(std::min<std::size_t>(most, 1u << 30)));
            while (s.step()) all.push_back(value_from<Event>(s.row()));
            return all;
        });
    }

    Result<Soundness> sound() override;
    Status backup(const std::string& path) override {
        return guarded([&] {
            copy_file(*db_, path, options_);
            return Done{};
        });
    }
    Status export_to(const FileSink& sink) override {
        return guarded([&] {
            Transaction t(*db_, Transaction::Kind::read);   // one moment of the papers
            export_tables(*db_, sink);
            return Done{};
        });
    }

private:
    std::unique_ptr<Db> db_;
    Options options_;
    json changes_;   // of the change under way
    bool together_ = false;

    // A full disk makes SQLite roll back the whole by itself: what follows in together() must not become a change of its own.
    void still_together() {
        if (together_ && sqlite3_get_autocommit(db_->handle())) refuse(Errc::cannot_write, fmt::format("{}: the store took the change back; nothing was changed.", db_->path()));
    }

    // ---- rows ----
    Row fetch(const std::string& table, const Id& id) {
        Statement s(*db_, fmt::format("SELECT * FROM {} WHERE id = ?1", table));
        s.bind(1, id);
        return s.step() ? s.row() : Row{};
    }
    void insert(const std::string& table, const Row& row, const char* how) {
        std::string columns, marks;
        for (std::size_t i = 0; i < row.size(); ++i) {
            columns += fmt::format("{}{}", i ? ", " : "", row[i].first);
            marks += fmt::format("{}?{}", i ? ", " : "", i + 1);
        }
        Statement s(*db_, fmt::format("{} INTO {} ({}) VALUES ({})", how, table, columns, marks));
        for (std::size_t i = 0; i < row.size(); ++i) s.bind(static_cast<int>(i) + 1, row[i].second);
        s.done();
    }
    void update(const std::string& table, const Row& row) {
        std::string sets;
        for (std::size_t i = 0; i < row.size(); ++i) sets += fmt::format("{}{} = ?{}", i ? ", " : "", row[i].first, i + 1);
        Statement s(*db_, fmt::format("UPDATE {} SET {} WHERE id = ?{}", table, sets, row.size() + 1));
        for (std::size_t i = 0; i < row.size(); ++i) s.bind(static_cast<int>(i) + 1, row[i].second);
        s.bind(static_cast<int>(row.size()) + 1, cell_of(row, "id")).done();
    }
    void note(const std::string& table, const Id& id, const Row& before) {
        const Row after = fetch(table, id);
        changes_.push_back({{"table", table}, {"id", id}, {"before", before.empty() ? json() : json_of_row(before)}, {"after", after.empty() ? json() : json_of_row(after)}});
    }
    void put(const std::string& table, const Row& row) {
        look_at(row);
        Id id;
        take(cell_of(row, "id"), id);
        const Row before = fetch(table, id);
        if (before.empty()) insert(table, row, "INSERT");
        else update(table, row);
        note(table, id, before);
    }
    template <class T>
    Id put_named(const std::string& table, const std::string& word, T& x) {
        if (x.name.empty()) refuse(Errc::bad_input, fmt::format("a {} needs a name", word));
        if (x.id.empty()) x.id = new_uuid();
        Statement s(*db_, fmt::format("SELECT 1 FROM {} WHERE name = ?1 AND id <> ?2", table));
        if (s.bind(1, x.name).bind(2, x.id).step()) refuse(Errc::bad_input, fmt::format("there is a {} named '{}' already; nothing was changed. Choose another name.", word, x.name));
        put(table, row_of(x));
        return x.id;
    }
    // An id that was given is one that nothing has yet.
    void fill_id(const char* table, Id& id) {
        if (id.empty()) id = new_uuid();
        else if (!fetch(table, id).empty()) refuse(Errc::bad_input, fmt::format("the {} {} is in the papers already", table, id));
    }
    void must_be(const std::string& table, const Id& id) {
        if (fetch(table, id).empty()) refuse(Errc::bad_input, fmt::format("there is no {} with the id '{}' in these papers", table, id));
    }

    template <class T>
    std::vector<T> select(const std::string& table, const std::string& where, const std::vector<std::string>& values, const std::string& order = "id") {
        std::vector<T> all;
        Statement s(*db_, fmt::format("SELECT * FROM {} WHERE {} ORDER BY {}", table, where, order));
        for (std::size_t i = 0; i < values.size(); ++i) s.bind(static_cast<int>(i) + 1, values[i]);
        while (s.step()) all.push_back(value_from<T>(s.row()));
        return all;
    }
    static std::string where_bike(const std::optional<Id>& bike) { return bike ? "bike_id = ?1" : "1"; }
    static std::vector<std::string> values_bike(const std::optional<Id>& bike) { return bike ? std::vector<std::string>{*bike} : std::vector<std::string>{}; }
    template <class T>
    Result<std::vector<T>> all(const char* table, const char* order) {
        return guarded([&] { return select<T>(table, "1", {}, order); });
    }
    template <class T>
    Result<std::vector<T>> of_bike(const char* table, const std::optional<Id>& bike, const char* order) {
        return guarded([&] { return select<T>(table, where_bike(bike), values_bike(bike), order); });
    }

    // ---- changes ----
    // One transaction: what body does, and the event that tells it. Nothing happened: no event.
    template <class F>
    auto change_or_throw(const Deed& d, const char* verb, const std::string& text, F body) -> decltype(body()) {
        still_together();
        Transaction t(*db_, Transaction::Kind::write);
        changes_ = json::array();
        auto result = body();
        if (!changes_.empty()) {
            write_event(d, verb, text, {});
            t.commit();
        }
        return result;
    }
    template <class F>
    auto change(const Deed& d, const char* verb, const std::string& text, F body) -> Result<decltype(body())> {
        return guarded([&] { return change_or_throw(d, verb, text, body); });
    }
    void write_event(const Deed& d, const char* verb, const std::string& text, const Id& undoes) {
        if (d.batch.empty()) refuse(Errc::internal, "a deed without a batch");
        Id before;
        {
            Statement s(*db_, "SELECT id FROM event WHERE batch = ?1 ORDER BY number DESC LIMIT 1");
            if (s.bind(1, d.batch).step()) take(s.at(0), before);
        }
        Row row = {{"batch", d.batch}, {"at_unix_s", d.at_unix_s}, {"by", cell(d.by)}, {"verb", std::string(verb)},
                         {"text", text}, {"undoes", cell(undoes)}, {"changes", changes_.dump(-1, ' ', false, json::error_handler_t::replace)}};
        look_at(row);
        row.emplace_back("id", event_id(before, row));
        insert("event", row, "INSERT");
    }

    Added put_ride(Ride& r) {
        must_be("bike", r.bike_id);
        if (r.id.size() != 64) refuse(Errc::internal, "a ride's id is the hash of its content");
        if (const Row there = fetch("ride", r.id); !there.empty()) {
            Id bike;
            take(cell_of(there, "bike_id"), bike);
            std::string name;
            take(cell_of(fetch("bike", bike), "name"), name);
            return {r.id, true, name};
        }
        // A file's name may be any bytes; what is no text in it is of no use to anybody.
        if (!is_utf8(r.file_name))
            for (char& c : r.file_name)
                if (static_cast<unsigned char>(c) < 0x20 || static_cast<unsigned char>(c) >= 0x80) c = '?';
        put("ride", row_of(r));
        return {r.id, false, ""};
    }

    void end_fitting(Fitting f, const Day& day) {
        if (day < f.from_day) refuse(Errc::bad_input, fmt::format("the part is there since {}; it cannot leave on {}", f.from_day, day));
        f.to_day = day;
        put("fitting", row_of(f));
    }
    Id fit(Fitting& f) {
        must_be("part", f.part_id);
        if (f.bike_id.has_value() == f.wheel_id.has_value()) refuse(Errc::bad_input, "a part is put on a bike or on a wheel, one of the two");
        if (f.bike_id) must_be("bike", *f.bike_id);
        const Part part = value_from<Part>(fetch("part", f.part_id));
        if (f.wheel_id) {
            must_be("part", *f.wheel_id);
            if (value_from<Part>(fetch("part", *f.wheel_id)).kind != PartKind::wheel) refuse(Errc::bad_input, "only a wheel carries other parts");
            if (part.kind == PartKind::wheel) refuse(Errc::bad_input, "a wheel goes on a bike");
        }
        f.id = new_uuid();
        f.to_day.reset();
        for (const Fitting& old : select<Fitting>("fitting", "part_id = ?1", {f.part_id}, "from_day")) {
            if (old.to_day && *old.to_day > f.from_day)
                refuse(Errc::bad_input, fmt::format("'{}' was elsewhere until {}; it cannot be put on before that day", part.name, *old.to_day));
            if (!old.to_day && old.bike_id == f.bike_id && old.wheel_id == f.wheel_id && old.place == f.place)
                refuse(Errc::bad_input, fmt::format("'{}' is there already, since {}", part.name, old.from_day));
            if (!old.to_day) end_fitting(old, f.from_day);
        }
        const Id carrier = f.bike_id ? *f.bike_id : *f.wheel_id;
        if (part.kind != PartKind::other)
            for (const Fitting& old : select<Fitting>("fitting", fmt::format("{} = ?1 AND place = ?2 AND to_day IS NULL", f.bike_id ? "bike_id" : "wheel_id"), {carrier, std::string(papers::word_of(f.place))}))
                if (value_from<Part>(fetch("part", old.part_id)).kind == part.kind) end_fitting(old, f.from_day);
        put("fitting", row_of(f));
        return f.id;
    }

    std::string content_or_throw(const Id& ride) {
        const Row row = fetch("ride_file", ride);
        if (row.empty()) refuse(Errc::bad_input, fmt::format("there is no recorded ride with the id '{}'", ride));
        const auto* packed = std::get_if<Blob>(&cell_of(row, "deflated"));
        const auto* size = std::get_if<std::int64_t>(&cell_of(row, "size_bytes"));
        Result<std::string> content = packed && size && *size >= 0 ? inflated(packed->bytes, static_cast<std::size_t>(*size)) : Result<std::string>(Error{Errc::cannot_read, ""});
        if (!content || content_id(*content) != ride) refuse(Errc::cannot_read, fmt::format("the kept file of the ride '{}' is damaged; its bytes are not those that were added", ride));
        return *std::move(content);
    }
};

Result<Undone> SqlitePapers::undo(const Deed& d) {
    return guarded([&] {
        Transaction t(*db_, Transaction::Kind::write);
        changes_ = json::array();
        Undone out;
        {
            Statement s(*db_, "SELECT batch FROM event WHERE undoes IS NULL AND batch NOT IN (SELECT undoes FROM event WHERE undoes IS NOT NULL) ORDER BY number DESC LIMIT 1");
            if (!s.step()) refuse(Errc::bad_input, "there is nothing to take back");
            take(s.at(0), out.batch);
        }
        std::vector<Row> events;
        {
            Statement s(*db_, "SELECT verb, text, changes FROM event WHERE batch = ?1 ORDER BY number DESC");
            s.bind(1, out.batch);
            while (s.step()) events.push_back(s.row());
        }
        for (const Row& e : events) {
            std::string verb, text, changes;
            take(cell_of(e, "verb"), verb);
            take(cell_of(e, "text"), text);
            take(cell_of(e, "changes"), changes);
            if (verb == "hold") refuse(Errc::bad_input, "the last change holds a bike back: that is not undone. A named person ends it with `papers clear`.");
            const json list = json::parse(changes, nullptr, false);
            if (!list.is_array()) throw Misfit("changes of an event");
            for (auto c = list.rbegin(); c != list.rend(); ++c) {
                const std::string table = text_in(*c, "table"), id = text_in(*c, "id");
                if (!is_table(table) || !c->contains("before") || !c->contains("after")) throw Misfit("changes of an event");
                const Row now = fetch(table, id);
                if (!alike((*c)["after"], now.empty() ? json() : json_of_row(now)))
                    refuse(Errc::bad_input, fmt::format("this cannot be taken back: '{}' was changed again since. Nothing was changed.", text));
                const json& before = (*c)["before"];
                try {
                    if (before.is_null()) Statement(*db_, fmt::format("DELETE FROM {} WHERE id = ?1", table)).bind(1, id).done();
                    else if (now.empty()) insert(table, row_of_json(before), "INSERT");
                    else update(table, row_of_json(before));
                } catch (const Failed& failed) {
                    if ((sqlite3_extended_errcode(db_->handle()) & 0xFF) != SQLITE_CONSTRAINT) throw failed;
                    refuse(Errc::bad_input, fmt::format("this cannot be taken back: something later rests on '{}'. Nothing was changed.", text));
                }
                note(table, id, now);
            }
            ++out.events;
            if (out.events == 1) out.text = text;
        }
        if (out.events > 1) out.text += fmt::format(" and {} more", out.events - 1);
        write_event(d, "undo", "taken back: " + out.text, out.batch);
        t.commit();
        return out;
    });
}

Result<Soundness> SqlitePapers::sound() {
    return guarded([&] {
        Soundness out;
        Transaction t(*db_, Transaction::Kind::read);
        for (const std::string& line : db_->texts("PRAGMA integrity_check(20)"))
            if (line != "ok") out.troubles.push_back(line);
        for (const std::string& table : db_->texts("PRAGMA foreign_key_check")) out.troubles.push_back(fmt::format("a row of {} names another that is not there", table));
        out.bikes = db_->number("SELECT count(*) FROM bike");
        out.rides = db_->number("SELECT count(*) FROM ride");
        out.readings = db_->number("SELECT count(*) FROM reading");
        against_history(*db_, out);
        for (const std::string& id : db_->texts("SELECT id FROM ride WHERE kind = 'recorded' ORDER BY id")) {
            try {
                content_or_throw(id);
                ++out.ride_files_read;
            } catch (const Failed& failed) {
                out.troubles.push_back(failed.error.text);
            }
        }
        return out;
    });
}

}  // namespace

std::string json_of(const Row& row) { return json_of_row(row).dump(-1, ' ', false, json::error_handler_t::replace); }

std::unique_ptr<Papers> papers_on(std::unique_ptr<Db> db, const Options& o) { return std::make_unique<SqlitePapers>(std::move(db), o); }

Result<std::unique_ptr<Papers>> make_papers(const std::string& path, const Options& o) {
    return guarded([&] {
        make_file(path, o);
        std::string note;
        return papers_on(open_file(path, o, note), o);
    });
}

Result<Opened> open_papers(const std::string& path, const Options& o) {
    return guarded([&] {
        Opened out;
        auto db = open_file(path, o, out.note);
        out.papers = papers_on(std::move(db), o);
        return out;
    });
}

}  // namespace sql

Result<std::unique_ptr<Papers>> make_papers(const std::string& path) { return sql::make_papers(path, sql::Options{}); }
Result<Opened> open_papers(const std::string& path) { return sql::open_papers(path, sql::Options{}); }
int schema_number() { return sql::Options{}.schema.back().number; }

}  // namespace bw::papers
