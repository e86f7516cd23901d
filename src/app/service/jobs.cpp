// SPDX-License-Identifier: Apache-2.0
// Long work in its own thread, and what of it is known already.                                          Layer: app
#include "jobs.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cctype>
#include <cmath>
#include <nlohmann/json.hpp>
#include <set>

#include "../verbs.hpp"
#include "answer/from_papers.hpp"
#include "answer/stopping.hpp"
#include "answer/weigh.hpp"
#include "base/text.hpp"
#include "base/time.hpp"
#include "body.hpp"

namespace bw::app::service {

namespace {

constexpr std::size_t most_kept = 32, most_waiting = 16;
constexpr std::size_t most_series = 8;

}  // namespace

Jobs::Jobs(int threads) : threads_(threads), worker_([this] { run(); }) {}

Jobs::~Jobs() {
    {
        const std::lock_guard hold(lock_);
        closing_ = true;
        for (const auto& j : jobs_) j->stop.store(true);
    }
    something_.notify_all();
    worker_.join();
}

Result<std::string> Jobs::start(std::string kind, Work work) {
    const std::lock_guard hold(lock_);
    if (std::count_if(jobs_.begin(), jobs_.end(), [](const auto& j) { return j->state == State::waiting; }) >= static_cast<long>(most_waiting))
        return Error{Errc::bad_input, "too much work is waiting already: wait until some of it is done, or cancel it"};
    auto job = std::make_shared<Job>();
    job->id = papers::new_uuid();
    job->kind = std::move(kind);
    job->text = "waiting";
    job->work = std::move(work);
    jobs_.push_back(job);
    // The oldest finished ones go.
    for (auto it = jobs_.begin(); jobs_.size() > most_kept && it != jobs_.end();)
        it = (*it)->state == State::waiting || (*it)->state == State::running ? std::next(it) : jobs_.erase(it);
    something_.notify_one();
    return job->id;
}

std::shared_ptr<Jobs::Job> Jobs::find(const std::string& id) {
    for (const auto& j : jobs_)
        if (j->id == id) return j;
    return nullptr;
}

std::optional<std::string> Jobs::look(const std::string& id) {
    std::shared_ptr<Job> job;
    json out;
    std::string result;
    {
        const std::lock_guard hold(lock_);
        job = find(id);
        if (!job) return std::nullopt;
        static constexpr const char* states[] = {"waiting", "running", "done", "failed", "cancelled"};
        out = {{"id", job->id}, {"kind", job->kind}, {"state", states[static_cast<int>(job->state)]}, {"share", job->share}, {"text", job->text}, {"error", nullptr}};
        if (job->error) out["error"] = told_error(*job->error);
        result = job->result;
    }
    // The result is JSON already, and may be large.
    std::string text = out.dump(-1, ' ', false, json::error_handler_t::replace);
    text.back() = ',';
    return text + "\"result\":" + (result.empty() ? "null" : result) + "}";
}

bool Jobs::cancel(const std::string& id) {
    const std::lock_guard hold(lock_);
    const std::shared_ptr<Job> job = find(id);
    if (!job) return false;
    job->stop.store(true);
    if (job->state == State::waiting) {
        job->state = State::cancelled;
        job->text = "cancelled";
    }
    return true;
}

void Jobs::run() {
    for (;;) {
        std::shared_ptr<Job> job;
        {
            std::unique_lock hold(lock_);
            const auto next = [&] { return std::find_if(jobs_.begin(), jobs_.end(), [](const auto& j) { return j->state == State::waiting; }); };
            something_.wait(hold, [&] { return closing_ || next() != jobs_.end(); });
            if (closing_) return;
            job = *next();
            job->state = State::running;
            job->text = "started";
        }
        Context ctx;
        ctx.threads = threads_;
        ctx.stop = &job->stop;
        ctx.progress = [&](double share, std::string_view text) {
            const std::lock_guard hold(lock_);
            job->share = std::clamp(share, job->share, 1.0);
            job->text = text;
        };
        std::string result;
        std::optional<Error> error;
        try {
            result = job->work(ctx);
        } catch (const Stop& s) {
            error = s.error;
        } catch (const NotThere& n) {
            error = Error{Errc::bad_input, n.text};
        } catch (const std::exception& e) {
            error = Error{Errc::internal, std::string("a fault of ours: ") + e.what()};
        }
        const std::lock_guard hold(lock_);
        job->work = nullptr;
        if (!error) {
            job->state = State::done;
            job->share = 1;
            job->text = "done";
            job->result = std::move(result);
        } else if (error->code == Errc::cancelled || job->stop.load()) {
            job->state = State::cancelled;
            job->text = "cancelled";
        } else {
            job->state = State::failed;
            job->text = error->text;
            job->error = std::move(error);
        }
    }
}

// ---- what is known ----

namespace {

answer::FromPapers from_papers_of(const Room& room, const papers::Id& bike, const papers::Day& today) {
    answer::FromPapers from;
    from.bike = bike;
    from.today = today;
    from.made_unix_s = room.now();
    from.version = version;
    return from;
}

json figure(double v) { return std::isfinite(v) ? json(v) : json(); }

// Rows of a series that are drawn: of every stretch its first, and where the traces that are looked at are highest and lowest.
std::vector<std::size_t> rows_of(const answer::Series& s, const Where& where, std::size_t most) {
    const std::size_t n = s.speed_mps.size();
    std::vector<std::size_t> rows;
    if (n <= most) {
        for (std::size_t i = 0; i < n; ++i) rows.push_back(i);
        return rows;
    }
    const std::vector<const std::vector<double>*> high = {&s.power_W, &s.rotor_degC[0], &s.rotor_degC[1], &s.speed_mps, &s.pad_face_degC[0]}, low = {&s.speed_mps, &s.rotor_degC[0]};
    const std::vector<const std::vector<double>*> all = {&s.altitude_m,     &s.speed_mps,        &s.gradient,         &s.power_W,        &s.power_p05_W,    &s.power_p95_W,    &s.wheel_power_W[0], &s.wheel_power_W[1],
                                                         &s.rotor_degC[0], &s.rotor_degC[1], &s.pad_face_degC[0], &s.pad_face_degC[1], &s.fluid_degC[0], &s.fluid_degC[1], &s.rotor_p05_degC[0], &s.rotor_p05_degC[1],
                                                         &s.rotor_p95_degC[0], &s.rotor_p95_degC[1], &s.fluid_p05_degC[0], &s.fluid_p05_degC[1], &s.fluid_p95_degC[0], &s.fluid_p95_degC[1], &where.latitude_deg, &where.longitude_deg};
    std::set<std::size_t> keep = {0, n - 1};
    const auto extreme = [&](const std::vector<double>& of, std::size_t from, std::size_t to, double sign) {
        if (of.size() < to) return;
        std::optional<std::size_t> best;
        for (std::size_t i = from; i < to; ++i)
            if (std::isfinite(of[i]) && (!best || sign * of[i] > sign * of[*best])) best = i;
        if (best) keep.insert(*best);
    };
    for (const auto* of : all) extreme(*of, 0, n, 1), extreme(*of, 0, n, -1);
    const std::size_t each = 1 + high.size() + low.size(), stretches = std::max<std::size_t>(1, (most - std::min(most, keep.size())) / each);
    for (std::size_t k = 0; k < stretches; ++k) {
        const std::size_t from = k * n / stretches, to = (k + 1) * n / stretches;
        keep.insert(from);
        for (const auto* of : high) extreme(*of, from, to, 1);
        for (const auto* of : low) extreme(*of, from, to, -1);
    }
    rows.assign(keep.begin(), keep.end());
    return rows;
}

}  // namespace

papers::Papers& papers_of_worker(Room& room) {
    // Opened by the thread that uses it, once.
    if (!room.worker_papers) room.worker_papers = must(papers::open_papers(room.papers_path)).papers;
    return *room.worker_papers;
}

json series_columns(const answer::RideAnswer& r, std::size_t most, const Where& where) {
    const answer::Series& s = r.series;
    const std::size_t n = s.speed_mps.size();
    const bool known = r.heat_withheld.empty();
    std::vector<double> t(n), descended(n, 0.0), bridged(n);
    for (std::size_t i = 0; i < n; ++i) {
        t[i] = static_cast<double>(i);
        bridged[i] = s.bridged[i];
        if (i > 0) descended[i] = descended[i - 1] + std::max(0.0, s.altitude_m[i - 1] - s.altitude_m[i]);
    }
    const std::vector<std::size_t> rows = rows_of(s, where, most);
    json columns = json::object();
    const auto put = [&](const std::string& name, const std::vector<double>& values, bool given = true) {
        json list = json::array();
        for (const std::size_t i : rows) list.push_back(given && i < values.size() ? figure(values[i]) : json());
        columns[name] = std::move(list);
    };
    put("t_s", t);
    put("distance_m", s.distance_m);
    put("descended_m", descended, known);
    put("altitude_m", s.altitude_m, known);
    put("speed_mps", s.speed_mps);
    put("gradient", s.gradient, known);
    put("brake_power_W", s.power_W, known);
    put("brake_power_p05_W", s.power_p05_W, known);
    put("brake_power_p95_W", s.power_p95_W, known);
    put("bridged", bridged);
    for (std::size_t e = 0; e < 2; ++e) {
        const std::string lead = e == 0 ? "front_" : "rear_";
        put(lead + "brake_power_W", s.wheel_power_W[e], known);
        put(lead + "rotor_degC", s.rotor_degC[e], known);
        put(lead + "pad_face_degC", s.pad_face_degC[e], known);
        put(lead + "fluid_degC", s.fluid_degC[e], known);
        put(lead + "rotor_p05_degC", s.rotor_p05_degC[e], known);
        put(lead + "rotor_p95_degC", s.rotor_p95_degC[e], known);
        put(lead + "fluid_p05_degC", s.fluid_p05_degC[e], known);
        put(lead + "fluid_p95_degC", s.fluid_p95_degC[e], known);
    }
    if (!where.latitude_deg.empty()) {
        put("latitude_deg", where.latitude_deg);
        put("longitude_deg", where.longitude_deg);
    }
    return {{"columns", columns}, {"thinned_from", n}, {"of", "medians over the likely cases, with 5 and 95 % second by second; brake power: mean, 5 and 95 %"}};
}

namespace {

// The text of one member of an object that a JSON writer wrote, found without reading the others as values.
std::string_view member_of(std::string_view object, std::string_view name) {
    int depth = 0;
    std::size_t key = 0, value = 0;
    bool is_key = true, wanted = false;
    for (std::size_t i = 0; i < object.size(); ++i) {
        const char c = object[i];
        if (c == '"') {
            const std::size_t from = i + 1;
            for (++i; i < object.size() && object[i] != '"'; ++i)
                if (object[i] == '\\') ++i;
            if (depth == 1 && is_key) wanted = object.substr(from, i - from) == name, key = from;
        } else if (c == '{' || c == '[') ++depth;
        else if (c == '}' || c == ']') {
            if (--depth == 0 && wanted && value > key) return object.substr(value, i - value);
        } else if (depth == 1 && c == ':') is_key = false, value = i + 1;
        else if (depth == 1 && c == ',') {
            if (wanted) return object.substr(value, i - value);
            is_key = true;
        }
    }
    return "null";
}

// The rides of an answer carry no ids: the file and the start tell them apart.
json find_ride(const json& answer, const papers::Ride& r) {
    for (const json& one : answer.at("rides"))
        if (one.at("file") == r.file_name && one.at("start_time") == (r.start_unix_s ? json(format_time(*r.start_unix_s)) : json())) return one;
    return nullptr;
}

papers::Ride ride_of(papers::Papers& papers, const papers::Id& bike, const papers::Id& ride) {
    for (papers::Ride& r : must(papers.rides(bike)))
        if (r.id == ride) return std::move(r);
    throw NotThere{"there is no such ride of this bike"};
}

answer::RideTags tags_of(const papers::Ride& r) {
    return {.surface = stop::surface_of(r.surface), .weather = answer::weather_of(r.weather), .wind_mps = r.wind_mps, .air_degC = r.air_degC, .load_kg = r.load_kg, .wind_from_deg = r.wind_from_deg};
}

// Positions at whole seconds, between the records on either side; nothing is known inside a break or a minute without records.
Where where_of(const ride::Track& track, std::size_t seconds) {
    Where where;
    std::vector<std::size_t> at;
    for (std::size_t i = 0; i < track.latitude_deg.size() && i < track.longitude_deg.size(); ++i)
        if (std::isfinite(track.latitude_deg[i]) && std::isfinite(track.longitude_deg[i])) at.push_back(i);
    if (at.size() < 2) return where;
    where.latitude_deg.assign(seconds, std::nan(""));
    where.longitude_deg.assign(seconds, std::nan(""));
    std::size_t k = 0;
    for (std::size_t t = 0; t < seconds; ++t) {
        const auto s = static_cast<double>(t);
        while (k + 2 < at.size() && track.t_s[at[k + 1]] < s) ++k;
        const std::size_t a = at[k], b = at[k + 1];
        const double span = track.t_s[b] - track.t_s[a], share = (s - track.t_s[a]) / span;
        constexpr double longest_s = 60;
        if (share < 0 || share > 1 || span > longest_s) continue;
        where.latitude_deg[t] = track.latitude_deg[a] + share * (track.latitude_deg[b] - track.latitude_deg[a]);
        const double turn = std::remainder(track.longitude_deg[b] - track.longitude_deg[a], 360.0);   // across the date line too
        where.longitude_deg[t] = track.longitude_deg[a] + share * turn;
    }
    return where;
}

std::string compute_ride(Room& room, const Context& ctx, const papers::Id& bike, const papers::Id& id) {
    papers::Papers& papers = papers_of_worker(room);
    const papers::Ride r = ride_of(papers, bike, id);
    if (r.kind == papers::RideKind::described) stop(Errc::bad_input, "this ride was told in figures: it has no track to draw");
    answer::Request request;
    request.bike = must(answer::bike_of_papers(room.library, papers, bike, room.today())).ridden;
    request.keep_series = true;
    request.latest_day = parse_day(room.today()).value_or(0) + 1;
    ride::Recording recording = must(ride::read_recording(must(papers.ride_content(id)), r.file_name));
    auto* track = std::get_if<ride::Track>(&recording);
    if (!track) stop(Errc::bad_input, r.file_name + ": a way without times is no ride");
    request.rides.push_back({std::move(*track), tags_of(r)});
    const answer::Answer a = must(answer::answer(ctx, room.library, request));
    Where where = where_of(request.rides.front().track, a.rides.front().series.speed_mps.size());
    SeriesOfRide one{.bike = bike, .ride = id, .answer = std::make_shared<answer::RideAnswer>(a.rides.front()), .where = std::move(where), .text = json::parse(answer::json_of(a, version)).at("rides").at(0).dump()};
    const std::string page = fmt::format("{{\"ride\":{},\"row\":{}}}", one.text, json_of(r).dump(-1, ' ', false, json::error_handler_t::replace));
    const std::lock_guard hold(room.series_lock);
    std::erase_if(room.series, [&](const SeriesOfRide& x) { return x.ride == id; });
    room.series.push_back(std::move(one));
    if (room.series.size() > most_series) room.series.erase(room.series.begin());
    return page;
}

std::optional<SeriesOfRide> series_of(Room& room, const papers::Id& bike, const papers::Id& ride) {
    const std::lock_guard hold(room.series_lock);
    for (const SeriesOfRide& s : room.series)
        if (s.bike == bike && s.ride == ride) return s;
    return std::nullopt;
}

double within(const json& j, const char* key, double least, double most) {
    const double x = *number_in(j, key);
    if (!(x >= least && x <= most)) stop(Errc::bad_input, fmt::format("{} {}: expected {} to {}", key, x, least, most));
    return x;
}

void apply(answer::FromPapers& from, const json& settings) {
    static const std::vector<std::string> known = {"total_mass_kg", "load_kg", "surface", "weather", "grade", "wind_mps", "wind_from_deg", "air_degC"};
    for (const auto& [key, value] : settings.items()) {
        if (std::find(known.begin(), known.end(), key) == known.end()) stop(Errc::bad_input, fmt::format("settings.{}: not known{}", key, nearest(key, known)));
        if (value.is_null()) continue;
        if (key == "total_mass_kg") from.total_mass_kg = within(settings, "total_mass_kg", 25, 700);
        if (key == "load_kg") from.tags.load_kg = within(settings, "load_kg", 0, 400);
        if (key == "grade") from.stop_grade = within(settings, "grade", -0.4, 0.4);
        if (key == "wind_mps") from.tags.wind_mps = within(settings, "wind_mps", -30, 30);
        if (key == "wind_from_deg") from.tags.wind_from_deg = within(settings, "wind_from_deg", 0, 360);
        if (key == "air_degC") from.tags.air_degC = within(settings, "air_degC", -40, 60);
        if (key == "surface" && !(from.tags.surface = stop::surface_of(text_of(settings, "surface")))) stop(Errc::bad_input, "settings.surface: expected dry, wet, gravel or loose");
        if (key == "weather" && !(from.tags.weather = answer::weather_of(text_of(settings, "weather")))) stop(Errc::bad_input, "settings.weather: expected dry, damp, wet or gritty");
    }
    must(answer::settle_wind("settings", from.tags));
}

// A key of the description with another value: as a line of TOML.
std::string line_of(const std::string& key, const json& value) {
    for (const char c : key)
        if (!std::isalnum(static_cast<unsigned char>(c)) && c != '.' && c != '_') stop(Errc::bad_input, fmt::format("changes: '{}' is no key of a description", key));
    if (value.is_number()) return fmt::format("{} = {}\n", key, value.get<double>());
    if (value.is_boolean()) return fmt::format("{} = {}\n", key, value.get<bool>());
    if (!value.is_string()) stop(Errc::bad_input, fmt::format("changes.{}: expected a number, a word, true or false", key));
    std::string text;
    for (const char c : value.get<std::string>()) {
        if (static_cast<unsigned char>(c) < 0x20) continue;
        if (c == '"' || c == '\\') text += '\\';
        text += c;
    }
    return fmt::format("{} = \"{}\"\n", key, text);
}

// What a set-up has instead, read by the reader of descriptions: the same ranges and the same words.
void change(parts::Bike& bike, const json& changes, const parts::Library& library) {
    if (changes.is_null()) return;
    if (!changes.is_object()) stop(Errc::bad_input, "changes: expected keys of the description with their values");
    const std::string lead = fmt::format("format = 1\nbike.kind = \"{}\"\nbike.total_mass_kg = {}\n", parts::word_of(bike.kind), bike.total_mass_kg.value);
    std::string toml = lead;
    bool own_mass = false;
    for (const auto& [key, value] : changes.items()) own_mass = own_mass || key == "bike.total_mass_kg";
    if (own_mass) toml = fmt::format("format = 1\nbike.kind = \"{}\"\n", parts::word_of(bike.kind));
    for (const auto& [key, value] : changes.items()) toml += line_of(key, value);
    // What must fit the bike's own value of another key is read beside it.
    for (const parts::FieldRef& f : parts::fields_of(bike))
        for (const std::string end : {"front", "rear"})
            for (const auto& [one, other] : {std::pair{".lever.ratio", ".lever.ratio_at_bar"}, {".lever.bite_mm", ".lever.reach_mm"}})
                if (bike.given.contains(f.key) && !changes.contains(f.key) && ((f.key == end + one && changes.contains(end + other)) || (f.key == end + other && changes.contains(end + one))))
                    toml += line_of(f.key, f.value->value);
    parts::Bike told = must(parts::read_bike(toml, "changes", library));
    std::map<std::string, parts::FieldRef> fields;
    for (const parts::FieldRef& f : parts::fields_of(told)) fields.emplace(f.key, f);
    for (const auto& [key, value] : changes.items()) {
        const auto from = fields.find(key);
        bool done = false;
        for (const parts::FieldRef& f : parts::fields_of(bike))
            if (f.key == key && from != fields.end()) *f.value = *from->second.value, done = true;
        for (const parts::End end : {parts::End::front, parts::End::rear}) {
            const std::string at(parts::word_of(end));
            if (key == at + ".pads.compound") bike.wheel(end).pads.compound = told.wheel(end).pads.compound, done = true;
            if (key == at + ".pads.heat_barrier") bike.wheel(end).pads.heat_barrier = told.wheel(end).pads.heat_barrier, done = true;
            if (key == at + ".rotor.material") bike.wheel(end).rotor.material = told.wheel(end).rotor.material, done = true;
            if (key == at + ".lever.ratio_at_bar") bike.wheel(end).lever.ratio_at_bar = told.wheel(end).lever.ratio_at_bar, done = true;   // no field before somebody told it
            if (key == at + ".rotor.kind") bike.wheel(end).rotor.kind = told.wheel(end).rotor.kind, done = true;
            // A larger rotor has its band further out.
            if (key == at + ".rotor.diameter_mm" && !changes.contains(at + ".rotor.band_inner_mm")) bike.wheel(end).rotor.band_inner_mm = told.wheel(end).rotor.band_inner_mm;
        }
        if (!done) stop(Errc::bad_input, fmt::format("changes.{}: this cannot be tried here; make a bike of its own with another description", key));
        bike.given.insert(key);
    }
}

template <class F>
Jobs::Work weigh_work(Room& room, const json& body, const F& bike_named) {
    const papers::Id one = bike_named("bike");
    const json changes = body.contains("changes") ? body["changes"] : json();
    const bool same_bike = !body.contains("other") || body["other"].is_null();
    if (same_bike && (changes.is_null() || changes.empty())) stop(Errc::bad_input, "expected other (a bike), or changes to this one");
    const papers::Id other = same_bike ? one : bike_named("other");
    std::vector<papers::Id> wanted;
    if (const auto rides = body.find("rides"); rides != body.end() && !rides->is_null()) {
        if (!rides->is_array() || rides->size() > 50) stop(Errc::bad_input, "rides: expected ids of rides, at most 50");
        for (const json& r : *rides)
            if (r.is_string()) wanted.push_back(r.get<std::string>());
    }
    {   // what is wrong is said now, not by the job
        json checked = room.at_desk([&](Desk& d) -> json {
            parts::Bike bike = must(answer::bike_of_papers(room.library, *d.papers, other, d.today)).today;
            change(bike, changes, room.library);
            return {};
        });
    }
    return [&room, one, other, changes, wanted, same_bike](const Context& ctx) {
        papers::Papers& papers = papers_of_worker(room);
        // What the papers hold back is weighed up against nothing: a hold, a fault or a reading is not in a description.
        const auto free_to_weigh = [&](const papers::Id& id) {
            auto known = must(answer::bike_of_papers(room.library, papers, id, room.today()));
            for (const inspect::Check& c : known.checks)
                if (c.do_not_ride) stop(Errc::bad_input, fmt::format("{} is held back, and nothing is weighed up against it: {}", known.today.name, c.text));
            return std::move(known.today);
        };
        parts::Bike a = free_to_weigh(one), b = free_to_weigh(other);
        change(b, changes, room.library);
        if (same_bike) b.name += ", changed";
        answer::Request request;
        request.today = parse_day(room.today());
        request.latest_day = request.today.value_or(0) + 1;
        std::set<papers::Id> taken;
        for (const papers::Ride& r : must(papers.rides({}))) {
            // Without a choice the newest rides of both, a handful: each is computed twice.
            if (wanted.empty() ? r.bike_id != one && r.bike_id != other : std::find(wanted.begin(), wanted.end(), r.id) == wanted.end()) continue;
            if (r.kind == papers::RideKind::recorded) taken.insert(r.id);
        }
        constexpr std::size_t most_untold = 5;
        std::vector<papers::Ride> rides;
        for (papers::Ride& r : must(papers.rides({})))
            if (taken.contains(r.id)) rides.push_back(std::move(r));
        if (wanted.empty() && rides.size() > most_untold) rides.erase(rides.begin(), rides.end() - static_cast<long>(most_untold));
        for (const papers::Ride& r : rides) {
            ride::Recording recording = must(ride::read_recording(must(papers.ride_content(r.id)), r.file_name));
            if (auto* track = std::get_if<ride::Track>(&recording)) request.rides.push_back({std::move(*track), tags_of(r)});
        }
        return answer::json_of(must(answer::weigh(ctx, room.library, a, b, request)), version);
    };
}

// What holds the bike back by its whole answer: what the papers say (holds, faults, readings), and what its rides and stops come to
// (boiling, fade, a core that melts, a hand that is not enough). The answer is computed where it is not kept. Empty: nothing does.
std::string held_because(Room& room, const Context& ctx, papers::Papers& papers, const papers::Id& id) {
    const auto known = must(answer::bike_of_papers(room.library, papers, id, room.today()));
    for (const inspect::Check& c : known.checks)
        if (c.do_not_ride) return c.text;
    answer::PapersJson made = must(answer::answer_json_from_papers(ctx, room.library, papers, from_papers_of(room, id, room.today())));
    ++room.answers_made;
    const json verdict = json::parse(made.json).at("verdict");
    if (!verdict.at("do_not_ride").get<bool>()) return {};
    for (const json& r : verdict.at("reasons"))
        if (const std::string text = r.at("text").get<std::string>(); text.starts_with("Do not ride")) return text;
    return verdict.at("reasons").empty() ? "Do not ride: its answer says why." : verdict.at("reasons").front().at("text").get<std::string>();
}

json interval_json(const Interval& i) { return {{"p05", figure(i.p05)}, {"p50", figure(i.p50)}, {"p95", figure(i.p95)}}; }

// What is left, learned from the readings; with `once` (a ride of this bike) what that ride takes off, with `plan` what a way would.
Jobs::Work life_work(Room& room, const json& body, const papers::Id& id) {
    answer::FromPapers from = from_papers_of(room, id, room.today());
    if (const std::string ride = text_of(body, "once"); !ride.empty()) {
        ride_row(room, id, ride);   // it is there
        from.once = ride;
    }
    if (const auto it = body.find("plan"); it != body.end() && !it->is_null()) {
        if (!it->is_object()) stop(Errc::bad_input, "plan: expected an object with the name and the text of a planned way");
        const std::string name = needed_text(*it, "name");
        ride::Recording read = must(ride::read_recording(needed_text(*it, "text"), name));
        auto* route = std::get_if<ride::Route>(&read);
        if (!route) stop(Errc::bad_input, fmt::format("{}: this was ridden, it has times: add it as a ride. A plan is a way without times", name));
        from.planned.push_back({std::move(*route), {}, {}});
    }
    return [&room, from](const Context& ctx) {
        if (const std::string why = held_because(room, ctx, papers_of_worker(room), from.bike); !why.empty()) stop(Errc::bad_input, fmt::format("this bike is held back, and no life is given: {}", why));
        const answer::PapersLife life = must(answer::life_from_papers(ctx, room.library, papers_of_worker(room), from));
        if (!life.report) stop(Errc::bad_input, life.withheld);
        json out = json::parse(answer::json_of(*life.report, ctx.seed, version));
        json narrowed = nullptr;
        if (!from.once && from.planned.empty() && !life.report->hold && life.report->first < life.report->parts.size()) {
            const answer::PartLife& first = life.report->parts[life.report->first];
            json list = json::array();
            for (const answer::Narrowed& n : must(answer::life_narrowed(ctx, *life.asked, first)))
                list.push_back({{"as_of_ride", n.as_of}, {"day", n.day ? json(format_day(*n.day)) : json()}, {"readings", n.readings}, {"thickness_mm", interval_json(n.thickness_mm)}, {"life_km", interval_json(n.life_km)}});
            narrowed = {{"of", first.name}, {"list", list}};
        }
        out["narrowed"] = narrowed;
        return out.dump();
    };
}

// Proof stops as the page counted them, read by the reader of their file: the same ranges and the same words.
std::vector<stop::ProofStop> proof_of(const json& body, const papers::Day& today) {
    const auto it = body.find("proof");
    if (it == body.end() || it->is_null()) return {};
    if (!it->is_array() || it->size() > 500) stop(Errc::bad_input, "proof: expected a list of at most 500 stops");
    std::string csv = "date,stop,wheel,from_mps,distance_m,time_s,lever_force_N,surface,grade\n";
    int number = 0;
    for (const json& s : *it) {
        ++number;
        if (!s.is_object()) stop(Errc::bad_input, fmt::format("proof {}: expected an object", number));
        const auto figure = [&](const char* key) {
            const std::optional<double> v = number_in(s, key);
            return v ? fmt::format("{}", *v) : std::string();
        };
        const std::string day = text_of(s, "date"), surface = text_of(s, "surface");
        csv += fmt::format("{},{},{},{},{},{},{},{},{}\n", csv_field(day.empty() ? today : day), number, csv_field(text_of(s, "wheel")), figure("from_mps"), figure("distance_m"), figure("time_s"), figure("lever_force_N"),
                           csv_field(surface.empty() ? "dry" : surface), number_in(s, "grade").value_or(0));
    }
    return must(stop::read_proof_stops(csv, "proof stops"));
}


Jobs::Work stop_work(Room& room, const json& body, const papers::Id& id) {
    answer::StopQuestion q;
    if (const auto it = body.find("stop"); it != body.end() && !it->is_null()) {
        if (!it->is_object()) stop(Errc::bad_input, "stop: expected an object");
        static const std::vector<std::string> known = {"from_mps", "surface", "grade", "pads_at_degC", "brakes", "weight_back_m", "weight_low_m"};
        for (const auto& [key, value] : it->items()) {
            if (std::find(known.begin(), known.end(), key) == known.end()) stop(Errc::bad_input, fmt::format("stop.{}: not known{}", key, nearest(key, known)));
            if (value.is_null()) continue;
            if (key == "from_mps") q.from_mps = within(*it, "from_mps", 0.5, 40);
            if (key == "grade") q.grade = within(*it, "grade", -0.4, 0.4);
            if (key == "weight_back_m") q.weight_back_m = within(*it, "weight_back_m", 0, 0.4);
            if (key == "weight_low_m") q.weight_low_m = within(*it, "weight_low_m", 0, 0.3);
            if (key == "pads_at_degC") q.pads_at_degC = within(*it, "pads_at_degC", -30, 800);
            if (key == "surface") {
                const auto surface = stop::surface_of(text_of(*it, "surface"));
                if (!surface) stop(Errc::bad_input, "stop.surface: expected dry, wet, gravel or loose");
                q.surface = *surface;
            }
            if (key == "brakes" && !(q.brakes = stop::brakes_of(text_of(*it, "brakes")))) stop(Errc::bad_input, "stop.brakes: expected both, front or rear");
        }
    }
    q.proof = proof_of(body, room.today());
    return [&room, id, q](const Context& ctx) {
        answer::StopQuestion asked = q;
        if (const std::string why = held_because(room, ctx, papers_of_worker(room), id); !why.empty()) stop(Errc::bad_input, fmt::format("this bike is held back, and no distance is given: {}", why));
        asked.bike = must(answer::bike_of_papers(room.library, papers_of_worker(room), id, room.today())).today;
        tell_as_kept(asked, papers_of_worker(room), must(papers::book_of(papers_of_worker(room), id)), id, room.library, room.today());
        return answer::json_of(must(answer::stop_report(ctx, room.library, asked)), version);
    };
}

}  // namespace

KnownAnswer known_answer(Room& room, Desk& d, const papers::Id& bike) {
    // What the papers say moves with their newest event and the day; what is known of it, with each job that is done.
    const std::vector<papers::Event> newest = must(d.papers->history(1));
    const std::string stamp = fmt::format("{} {} {}", newest.empty() ? "" : newest.front().id, d.today, room.answers_made.load());
    auto& kept = room.known[bike];
    if (kept.first == stamp) return kept.second;
    KnownAnswer known;
    const answer::FromPapers ask = from_papers_of(room, bike, d.today);
    const Result<papers::Id> key = answer::answer_key_from_papers({}, room.library, *d.papers, ask);
    // An answer over ten years' rides is 10 MB and the stand wants a day of it, so that day is kept beside it.
    const papers::Id beside = key ? papers::key_of({"stand/1", *key}) : papers::Id();
    const auto told = key ? d.papers->answer(beside) : Result<std::optional<papers::KeptAnswer>>(std::optional<papers::KeptAnswer>());
    const json short_one = told && *told && (*told)->kind == "stand/1" ? json::parse((*told)->json, nullptr, false) : json();
    if (short_one.is_object() && short_one.contains("look_by")) {
        known.key = *key;
        if (short_one["look_by"].is_string()) known.look_by = short_one["look_by"].get<std::string>();
    } else if (key) {
        const Result<std::optional<answer::PapersJson>> found = answer::kept_answer_from_papers({}, room.library, *d.papers, ask);
        if (found && *found) {
            known.key = *key;
            const json lives = json::parse(member_of((*found)->json, "life"));
            for (const auto& [end, life] : lives.items())
                for (const char* what : {"pad", "rotor"}) {
                    if (life.is_null() || life.at(what).is_null() || !life.at(what).contains("look_by") || life.at(what).at("look_by").is_null()) continue;
                    const papers::Day day = life.at(what).at("look_by").get<std::string>();
                    known.look_by = std::min(known.look_by.value_or(day), day);
                }
            // Where the file cannot be written it is found the long way again.
            (void)d.papers->keep_answer({.id = beside, .bike_id = bike, .made_unix_s = room.now(), .kind = "stand/1", .model_versions = "", .json = json({{"look_by", known.look_by ? json(*known.look_by) : json()}}).dump()});
        }
    }
    kept = {stamp, known};
    return known;
}

std::string answer_json(Room& room, const papers::Id& bike) {
    std::string out;
    room.at_desk([&](Desk& d) -> json {
        bike_of(must(papers::book_of(*d.papers, bike)), bike);
        const auto found = must(answer::kept_answer_from_papers({}, room.library, *d.papers, from_papers_of(room, bike, d.today)));
        if (!found) throw NotComputed{"this has not been computed for what the papers say now: POST /jobs with kind answer"};
        out = found->json;
        return {};
    });
    return out;
}

json ride_page(Room& room, const papers::Id& bike, const papers::Id& ride) {
    if (const auto s = series_of(room, bike, ride)) return {{"ride", json::parse(s->text)}, {"row", ride_row(room, bike, ride)}};
    return room.at_desk([&](Desk& d) -> json {
        const papers::Ride r = ride_of(*d.papers, bike, ride);
        KnownAnswer known = known_answer(room, d, bike);
        if (!known.key.empty() && !known.answer) {
            const Result<std::optional<answer::PapersJson>> found = answer::kept_answer_from_papers({}, room.library, *d.papers, from_papers_of(room, bike, d.today));
            if (found && *found) room.known[bike].second.answer = known.answer = std::make_shared<const json>(json::parse((*found)->json));
        }
        return {{"ride", known.answer ? find_ride(*known.answer, r) : json()}, {"row", json_of(r)}};
    });
}

json ride_series(Room& room, const papers::Id& bike, const papers::Id& ride, std::size_t points) {
    ride_row(room, bike, ride);   // it is there
    const auto s = series_of(room, bike, ride);
    if (!s) throw NotComputed{"this ride's traces have not been computed yet: POST /jobs with kind ride"};
    return series_columns(*s->answer, points, s->where);
}

Jobs::Work work_of(Room& room, const std::string& text, std::string& kind) {
    const json body = body_of(text);
    kind = needed_text(body, "kind");
    const auto bike = [&](const char* key) {
        const papers::Id id = needed_text(body, key);
        room.at_desk([&](Desk& d) -> json { return bike_of(must(papers::book_of(*d.papers, id)), id).name; });
        return id;
    };
    if (kind == "answer") {
        const papers::Id id = bike("bike");
        answer::FromPapers from = from_papers_of(room, id, room.today());
        if (const auto it = body.find("settings"); it != body.end() && !it->is_null()) {
            if (!it->is_object()) stop(Errc::bad_input, "settings: expected an object");
            apply(from, *it);
        }
        return [&room, from](const Context& ctx) {
            answer::PapersJson made = must(answer::answer_json_from_papers(ctx, room.library, papers_of_worker(room), from));
            ++room.answers_made;
            return std::move(made.json);
        };
    }
    if (kind == "ride") {
        const papers::Id id = bike("bike");
        const auto rides = body.find("rides");
        if (rides == body.end() || !rides->is_array() || rides->size() != 1 || !rides->front().is_string()) stop(Errc::bad_input, "rides: expected the id of one ride");
        const papers::Id ride = rides->front().get<std::string>();
        ride_row(room, id, ride);
        return [&room, id, ride](const Context& ctx) { return compute_ride(room, ctx, id, ride); };
    }
    if (kind == "weigh") return weigh_work(room, body, bike);
    if (kind == "six") {
        const auto six = body.find("six");
        if (six == body.end()) stop(Errc::bad_input, "six: expected the answers to the six questions");
        const SixTold told = six_told(*six);
        const SixAnswers answers = must(six_of(room.library, told, told.kind + " bike"));
        return [&room, answers](const Context& ctx) {
            answer::Request request;
            request.bike = answers.bike;
            request.terrain = answers.terrain;
            request.today = parse_day(room.today());
            return answer::json_of(must(answer::answer(ctx, room.library, request)), version);
        };
    }
    if (kind == "life") return life_work(room, body, bike("bike"));
    if (kind == "stop") return stop_work(room, body, bike("bike"));
    if (kind == "recorded_stops") return recorded_work(room, body, bike("bike"));
    if (kind == "explain") return explain_work(room);
    static const std::vector<std::string> known = {"answer", "weigh", "six", "ride", "stop", "life", "recorded_stops", "explain"};
    stop(Errc::bad_input, fmt::format("kind '{}': expected one of {}{}", kind, fmt::join(known, ", "), nearest(kind, known)));
}

}  // namespace bw::app::service
