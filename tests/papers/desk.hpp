// SPDX-License-Identifier: Apache-2.0
// A folder for one test, and papers with an invented bike in it.
#pragma once
#include <gtest/gtest.h>
#include <unistd.h>

#include <algorithm>
#include <cstdlib>
#include <filesystem>
#include <fstream>
#include <map>
#include <sstream>

#include "papers/papers.hpp"

namespace bw::papers::testing {

namespace fs = std::filesystem;

inline std::string text(const Error& e) { return e.text; }

template <class T>
T must(Result<T> r) {
    if (!r) throw std::runtime_error(r.error().text);
    return *std::move(r);
}

class Folder {
public:
    Folder() {
        // In memory where that is possible: what a process leaves behind when it dies is the same, and syncs cost nothing.
        std::string name = ((access("/dev/shm", W_OK) == 0 ? fs::path("/dev/shm") : fs::temp_directory_path()) / "bw_papers_XXXXXX").string();
        if (!mkdtemp(name.data())) throw std::runtime_error("no temporary folder");
        root_ = name;
    }
    ~Folder() {
        std::error_code ignored;
        fs::remove_all(root_, ignored);
    }
    std::string path(const std::string& name) const { return root_ + "/" + name; }

private:
    std::string root_;
};

inline std::string read(const std::string& path) {
    std::ifstream in(path, std::ios::binary);
    std::ostringstream bytes;
    bytes << in.rdbuf();
    return bytes.str();
}
inline void write(const std::string& path, std::string_view bytes) {
    std::ofstream out(path, std::ios::binary | std::ios::trunc);
    out.write(bytes.data(), static_cast<std::streamsize>(bytes.size()));
}

//! How often a test repeats: as the environment says, else as usual, and less where instruments make it many times slower.
inline int times_wanted(const char* told, int usual) {
    if (const char* n = std::getenv(told)) return std::max(1, std::atoi(n));
#if defined(__SANITIZE_ADDRESS__)
    return std::min(usual, 40);
#else
    return usual;
#endif
}

inline Deed deed(const std::string& by = "Ada", double at = 1777620000) { return {by, at, new_uuid()}; }

struct Sample {
    Id bike, person, instrument, pads, rotor, wheel;
};

inline Bike a_bike(const std::string& name) { return {.id = "", .name = name, .description_toml = "format = 1\nbike.kind = \"trail\"\nbike.total_mass_kg = 95\n", .added_day = "2026-05-01", .retired_day = {}, .note = ""}; }

// A bike with front pads, and a front wheel with its rotor.
inline Sample add_sample(Papers& p, const std::string& name = "Heron") {
    Sample s;
    const Deed d = deed();
    const auto kept = must(p.people());
    if (!kept.empty()) s.person = kept.front().id;
    else s.person = must(p.put_person(d, {.id = "", .name = "Ada", .hand_size_cm = 17.5, .hand_strength_N = 310.25, .mass_kg = {}, .repeat_sd_mm = 0.01, .note = ""}));
    const auto tools = must(p.instruments());
    if (!tools.empty()) s.instrument = tools.front().id;
    else s.instrument = must(p.put_instrument(d, {.id = "", .name = "shop caliper", .kind = InstrumentKind::caliper, .anvil = parts::Anvil::flat_jaws, .resolution_mm = 0.01, .permitted_error_mm = 0.02, .resolution_degC = {}, .permitted_error_degC = {}, .resolution_g = {}, .permitted_error_g = {}, .note = ""}));
    Part pads{.id = "", .name = name + " front pads", .kind = PartKind::pads, .compound = parts::Compound::organic, .heat_barrier = false, .new_thickness_mm = 2.1, .plate_thickness_mm = 1.9, .plate_measured = true, .least_thickness_mm = 0.5, .area_mm2 = 410, .diameter_mm = {}, .note = ""};
    Part wheel = pads, rotor = pads;
    wheel = {.id = "", .name = name + " front wheel", .kind = PartKind::wheel, .compound = {}, .heat_barrier = {}, .new_thickness_mm = {}, .plate_thickness_mm = {}, .plate_measured = {}, .least_thickness_mm = {}, .area_mm2 = {}, .diameter_mm = {}, .note = ""};
    rotor = wheel;
    rotor.name = name + " front rotor";
    rotor.kind = PartKind::rotor;
    rotor.diameter_mm = 180;
    rotor.least_thickness_mm = 1.65;
    Fitting f{.id = "", .part_id = "0", .bike_id = {}, .wheel_id = {}, .place = parts::End::front, .from_day = "2026-05-01", .to_day = {}};
    Fitting g = f, h = f;
    g.part_id = "1";
    h.part_id = "2";
    h.wheel_id = "1";
    s.bike = must(p.add_bike(d, a_bike(name), {pads, wheel, rotor}, {f, g, h}));
    for (const Part& part : must(p.parts())) {
        if (part.name == name + " front pads") s.pads = part.id;
        if (part.name == name + " front rotor") s.rotor = part.id;
        if (part.name == name + " front wheel") s.wheel = part.id;
    }
    return s;
}
//! New papers at a path with the sample in them, closed again.
inline Sample sample_at(const std::string& path) {
    auto p = must(make_papers(path));
    return add_sample(*p);
}

inline Reading pad_reading(const Sample& s, double mm, const std::string& note = "") {
    return {.id = "", .bike_id = s.bike, .part_id = s.pads, .place = parts::End::front, .what = What::pad_thickness, .day = "2026-05-02", .recorded_unix_s = 1777700000.125,
            .person_id = s.person, .instrument_id = s.instrument, .with_plate = false, .anvil = {}, .word = "", .note = note,
            .points = {{.side = Side::left, .angle_deg = {}, .radius_mm = {}, .length_mm = mm, .temperature_degC = {}, .mass_g = {}, .age_months = {}}}};
}
//! A stop of the front brake, one of a set of its own.
inline ProofStop proof_stop(const Sample& s, int number, const Day& day = "2026-05-02") {
    return {.id = "", .proof_id = new_uuid(), .bike_id = s.bike, .brakes = stop::Brakes::front, .name = "", .day = day, .recorded_unix_s = 1777700000.5, .number = number, .person_id = s.person, .instrument_id = {}, .ride_id = {},
            .way = stop::WayMeasured::taped, .from_mps = 6.94, .from_sd_mps = {}, .distance_m = 8.25, .distance_sd_m = {}, .time_s = 2.25, .lever_force_N = 60, .lever_place_mm = 20, .grade = -0.01, .surface = stop::Surface::dry, .note = "",
            .cleared_unix_s = {}, .cleared_by = "", .cleared_why = ""};
}
inline Ride a_ride(const Sample& s, const std::string& file) {
    return {.id = "", .bike_id = s.bike, .kind = RideKind::recorded, .file_name = file, .start_unix_s = 1777700000, .day = "2026-05-02", .duration_s = 600, .distance_m = 5000.5, .descent_m = 320.1, .stops_per_km = {}, .surface = "dry", .weather = "", .wind_mps = {}, .air_degC = {}, .load_kg = {}, .note = ""};
}
inline Ride a_described_ride(const Sample& s, const std::string& key) {
    Ride r = a_ride(s, "log.csv");
    r.kind = RideKind::described;
    r.id = key_of({key});
    r.start_unix_s.reset();
    return r;
}

using Files = std::map<std::string, std::string>;
inline Files exported(Papers& p) {
    Files files;
    must(p.export_to([&](const std::string& name, std::string_view bytes) -> Status {
        files[name] = std::string(bytes);
        return Done{};
    }));
    return files;
}
inline FileSource source_of(const Files& files) {
    return [&files](const std::string& name) -> Result<std::optional<std::string>> {
        const auto it = files.find(name);
        return it == files.end() ? std::optional<std::string>() : std::optional<std::string>(it->second);
    };
}

}  // namespace bw::papers::testing
