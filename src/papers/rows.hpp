// SPDX-License-Identifier: Apache-2.0
// Values as rows of named cells, one list of fields per kind: what the store, the history and the export share. Layer: papers
#pragma once
#include <stdexcept>
#include <type_traits>
#include <utility>
#include <variant>

#include "papers/values.hpp"

namespace bw::papers {

struct Blob {
    std::string bytes;
    bool operator==(const Blob&) const = default;
};
using Cell = std::variant<std::monostate, std::int64_t, double, std::string, Blob>;
//! Columns in the order of the table.
using Row = std::vector<std::pair<std::string, Cell>>;

const Cell& cell_of(const Row& row, std::string_view column);   //!< a column that is not there: null

// ---- one list of fields per kind; v(column, member) ----
template <class V, class T>
void fields(V&& v, T& x) requires std::is_same_v<std::remove_const_t<T>, Person> {
    v("id", x.id), v("name", x.name), v("hand_size_cm", x.hand_size_cm), v("hand_strength_N", x.hand_strength_N), v("mass_kg", x.mass_kg),
        v("repeat_sd_mm", x.repeat_sd_mm), v("note", x.note), v("repeat_sd_degC", x.repeat_sd_degC), v("repeat_sd_g", x.repeat_sd_g);
}
template <class V, class T>
void fields(V&& v, T& x) requires std::is_same_v<std::remove_const_t<T>, Instrument> {
    v("id", x.id), v("name", x.name), v("kind", x.kind), v("anvil", x.anvil), v("resolution_mm", x.resolution_mm),
        v("permitted_error_mm", x.permitted_error_mm), v("resolution_degC", x.resolution_degC), v("permitted_error_degC", x.permitted_error_degC),
        v("resolution_g", x.resolution_g), v("permitted_error_g", x.permitted_error_g), v("note", x.note);
}
template <class V, class T>
void fields(V&& v, T& x) requires std::is_same_v<std::remove_const_t<T>, Bike> {
    v("id", x.id), v("name", x.name), v("description_toml", x.description_toml), v("added_day", x.added_day), v("retired_day", x.retired_day),
        v("note", x.note);
}
template <class V, class T>
void fields(V&& v, T& x) requires std::is_same_v<std::remove_const_t<T>, Part> {
    v("id", x.id), v("name", x.name), v("kind", x.kind), v("compound", x.compound), v("heat_barrier", x.heat_barrier),
        v("new_thickness_mm", x.new_thickness_mm), v("plate_thickness_mm", x.plate_thickness_mm), v("plate_measured", x.plate_measured),
        v("least_thickness_mm", x.least_thickness_mm), v("area_mm2", x.area_mm2), v("diameter_mm", x.diameter_mm), v("note", x.note), v("run_out_limit_mm", x.run_out_limit_mm);
}
template <class V, class T>
void fields(V&& v, T& x) requires std::is_same_v<std::remove_const_t<T>, Fitting> {
    v("id", x.id), v("part_id", x.part_id), v("bike_id", x.bike_id), v("wheel_id", x.wheel_id), v("place", x.place), v("from_day", x.from_day),
        v("to_day", x.to_day);
}
template <class V, class T>
void fields(V&& v, T& x) requires std::is_same_v<std::remove_const_t<T>, Ride> {
    v("id", x.id), v("bike_id", x.bike_id), v("kind", x.kind), v("file_name", x.file_name), v("start_unix_s", x.start_unix_s), v("day", x.day),
        v("duration_s", x.duration_s), v("distance_m", x.distance_m), v("descent_m", x.descent_m), v("stops_per_km", x.stops_per_km),
        v("surface", x.surface), v("weather", x.weather), v("wind_mps", x.wind_mps), v("air_degC", x.air_degC), v("load_kg", x.load_kg), v("note", x.note), v("wind_from_deg", x.wind_from_deg);
}
template <class V, class T>
void fields(V&& v, T& x) requires std::is_same_v<std::remove_const_t<T>, Reading> {
    v("id", x.id), v("bike_id", x.bike_id), v("part_id", x.part_id), v("place", x.place), v("what", x.what), v("day", x.day),
        v("recorded_unix_s", x.recorded_unix_s), v("person_id", x.person_id), v("instrument_id", x.instrument_id), v("with_plate", x.with_plate),
        v("anvil", x.anvil), v("word", x.word), v("note", x.note), v("read_unix_s", x.read_unix_s), v("set_emissivity", x.set_emissivity), v("spot", x.spot);
}
//! Without id, reading_id and number: those are its place in the reading.
template <class V, class T>
void fields(V&& v, T& x) requires std::is_same_v<std::remove_const_t<T>, Point> {
    v("side", x.side), v("angle_deg", x.angle_deg), v("radius_mm", x.radius_mm), v("length_mm", x.length_mm),
        v("temperature_degC", x.temperature_degC), v("mass_g", x.mass_g), v("age_months", x.age_months);
}
template <class V, class T>
void fields(V&& v, T& x) requires std::is_same_v<std::remove_const_t<T>, Work> {
    v("id", x.id), v("bike_id", x.bike_id), v("place", x.place), v("kind", x.kind), v("day", x.day), v("person_id", x.person_id), v("note", x.note), v("recorded_unix_s", x.recorded_unix_s);
}
template <class V, class T>
void fields(V&& v, T& x) requires std::is_same_v<std::remove_const_t<T>, Incident> {
    v("id", x.id), v("bike_id", x.bike_id), v("place", x.place), v("kind", x.kind), v("day", x.day), v("recorded_unix_s", x.recorded_unix_s),
        v("person_id", x.person_id), v("note", x.note);
}
template <class V, class T>
void fields(V&& v, T& x) requires std::is_same_v<std::remove_const_t<T>, Hold> {
    v("id", x.id), v("bike_id", x.bike_id), v("from_unix_s", x.from_unix_s), v("by", x.by), v("why", x.why), v("cleared_unix_s", x.cleared_unix_s),
        v("cleared_by", x.cleared_by), v("cleared_why", x.cleared_why);
}
template <class V, class T>
void fields(V&& v, T& x) requires std::is_same_v<std::remove_const_t<T>, Tick> {
    v("id", x.id), v("check_id", x.check_id), v("bike_id", x.bike_id), v("item", x.item), v("place", x.place), v("outcome", x.outcome),
        v("day", x.day), v("recorded_unix_s", x.recorded_unix_s), v("person_id", x.person_id), v("note", x.note);
}
template <class V, class T>
void fields(V&& v, T& x) requires std::is_same_v<std::remove_const_t<T>, ProofStop> {
    v("id", x.id), v("proof_id", x.proof_id), v("bike_id", x.bike_id), v("brakes", x.brakes), v("name", x.name), v("day", x.day), v("recorded_unix_s", x.recorded_unix_s),
        v("number", x.number), v("person_id", x.person_id), v("instrument_id", x.instrument_id), v("ride_id", x.ride_id), v("way", x.way), v("from_mps", x.from_mps),
        v("from_sd_mps", x.from_sd_mps), v("distance_m", x.distance_m), v("distance_sd_m", x.distance_sd_m), v("time_s", x.time_s), v("lever_force_N", x.lever_force_N),
        v("lever_place_mm", x.lever_place_mm), v("grade", x.grade), v("surface", x.surface), v("note", x.note), v("cleared_unix_s", x.cleared_unix_s),
        v("cleared_by", x.cleared_by), v("cleared_why", x.cleared_why);
}
template <class V, class T>
void fields(V&& v, T& x) requires std::is_same_v<std::remove_const_t<T>, KeptAnswer> {
    v("id", x.id), v("bike_id", x.bike_id), v("made_unix_s", x.made_unix_s), v("kind", x.kind), v("model_versions", x.model_versions), v("json", x.json), v("day", x.day);
}
template <class V, class T>
void fields(V&& v, T& x) requires std::is_same_v<std::remove_const_t<T>, Event> {
    v("id", x.id), v("batch", x.batch), v("at_unix_s", x.at_unix_s), v("by", x.by), v("verb", x.verb), v("text", x.text), v("undoes", x.undoes);
}

// ---- member <-> cell. An empty text is null ----
inline Cell cell(const std::string& x) { return x.empty() ? Cell{} : Cell{x}; }
inline Cell cell(double x) { return x; }
inline Cell cell(bool x) { return std::int64_t{x}; }
inline Cell cell(std::int64_t x) { return x; }
template <class E>
    requires std::is_enum_v<E>
Cell cell(E x) { return std::string(words(x)[static_cast<std::size_t>(x)]); }
template <class T>
Cell cell(const std::optional<T>& x) { return x ? cell(*x) : Cell{}; }

//! A cell that does not fit its field: a damaged file got past the store's own checks.
struct Misfit : std::runtime_error {
    using std::runtime_error::runtime_error;
};

inline void take(const Cell& c, std::string& x) {
    if (const auto* s = std::get_if<std::string>(&c)) x = *s;
    else if (!std::holds_alternative<std::monostate>(c)) throw Misfit("expected text");
}
inline void take(const Cell& c, double& x) {
    if (const auto* d = std::get_if<double>(&c)) x = *d;
    else throw Misfit("expected a number");
}
inline void take(const Cell& c, std::int64_t& x) {
    if (const auto* i = std::get_if<std::int64_t>(&c)) x = *i;
    else throw Misfit("expected a whole number");
}
inline void take(const Cell& c, bool& x) {
    if (const auto* i = std::get_if<std::int64_t>(&c)) x = *i != 0;
    else throw Misfit("expected 0 or 1");
}
template <class E>
    requires std::is_enum_v<E>
void take(const Cell& c, E& x) {
    const auto* s = std::get_if<std::string>(&c);
    const auto v = s ? value_of<E>(*s) : std::nullopt;
    if (!v) throw Misfit("unknown word");
    x = *v;
}
template <class T>
void take(const Cell& c, std::optional<T>& x) {
    x.reset();
    if (std::holds_alternative<std::monostate>(c)) return;
    T value{};
    take(c, value);
    x = std::move(value);
}

template <class T>
Row row_of(const T& x) {
    Row row;
    fields([&](const char* column, const auto& member) { row.emplace_back(column, cell(member)); }, x);
    return row;
}
template <class T>
T value_from(const Row& row) {
    T x{};
    fields([&](const char* column, auto& member) {
        try {
            take(cell_of(row, column), member);
        } catch (const Misfit& e) {
            throw Misfit(std::string(column) + ": " + e.what());
        }
    }, x);
    return x;
}

}  // namespace bw::papers
