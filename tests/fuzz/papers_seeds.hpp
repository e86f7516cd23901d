// SPDX-License-Identifier: Apache-2.0
// For the fuzzers of papers: small papers of an invented bike, as a file and as an export in one string.
#pragma once
#include <fmt/format.h>
#include <unistd.h>

#include <algorithm>
#include <filesystem>
#include <fstream>
#include <map>
#include <sstream>
#include <string>

#include "fuzz.hpp"
#include "papers/papers.hpp"

namespace bw::fuzz {

namespace fs = std::filesystem;

//! A folder for this process; in memory where that is possible.
inline const std::string& folder() {
    struct Made {
        std::string path = (access("/dev/shm", W_OK) == 0 ? "/dev/shm" : fs::temp_directory_path().string()) + "/bw_fuzz_XXXXXX";
        Made() {
            if (!mkdtemp(path.data())) breach("no temporary folder");
        }
        ~Made() {
            std::error_code ignored;
            fs::remove_all(path, ignored);
        }
    };
    static const Made made;
    return made.path;
}
inline std::string bytes_at(const std::string& path) {
    std::ifstream in(path, std::ios::binary);
    std::ostringstream out;
    out << in.rdbuf();
    return out.str();
}
inline void forget(const std::string& path) {
    std::error_code ignored;
    for (const char* tail : {"", "-wal", "-shm", "-journal"}) fs::remove(path + tail, ignored);
}

template <class T>
T must(Result<T> r) {
    if (!r) breach(r.error().text);
    return *std::move(r);
}

using Files = std::map<std::string, std::string>;
inline Files exported(papers::Papers& p) {
    Files files;
    must(p.export_to([&](const std::string& name, std::string_view bytes) -> Status {
        files[name] = std::string(bytes);
        return Done{};
    }));
    return files;
}
inline papers::FileSource source_of(const Files& files) {
    return [&files](const std::string& name) -> Result<std::optional<std::string>> {
        const auto it = files.find(name);
        return it == files.end() ? std::optional<std::string>() : std::optional<std::string>(it->second);
    };
}

//! Each file after a mark that no file of the seeds holds: its name, a line end, its bytes. A mutation inside one leaves the others.
constexpr char file_mark = '\x1e';
inline std::string packed(const Files& files) {
    std::string out;
    for (const auto& [name, bytes] : files) out += fmt::format("{}{}\n{}", file_mark, name, bytes);
    return out;
}
inline Files unpacked(std::string_view all) {
    Files files;
    while (!all.empty()) {
        all.remove_prefix(std::min(all.size(), all.find(file_mark)));
        if (all.empty()) break;
        all.remove_prefix(1);
        const std::string_view one = all.substr(0, all.find(file_mark));
        const std::size_t line = std::min(one.find('\n'), one.size());
        files[std::string(one.substr(0, line))] = std::string(one.substr(std::min(line + 1, one.size())));
    }
    return files;
}

inline void fill(papers::Papers& p) {
    const papers::Deed d{"Ada", 1777620000, papers::new_uuid()};
    const papers::Id person = must(p.put_person(d, {.id = "", .name = "Ada, \"A\"", .hand_size_cm = 17.5, .hand_strength_N = {}, .mass_kg = {}, .repeat_sd_mm = 0.01, .note = "a\nb"}));
    papers::Part pads;
    pads.name = "pads";
    pads.kind = papers::PartKind::pads;
    pads.compound = parts::Compound::organic;
    pads.plate_measured = true;
    const papers::Fitting on{.id = "", .part_id = "0", .bike_id = {}, .wheel_id = {}, .place = parts::End::front, .from_day = "2026-05-01", .to_day = {}};
    const papers::Id bike = must(p.add_bike(d, {.id = "", .name = "Heron", .description_toml = "format = 1\n", .added_day = "2026-05-01", .retired_day = {}, .note = ""}, {pads}, {on}));
    papers::Reading r;
    r.bike_id = bike;
    r.part_id = must(p.parts()).front().id;
    r.day = "2026-05-02";
    r.person_id = person;
    r.with_plate = false;
    r.points = {{.side = papers::Side::left, .angle_deg = {}, .radius_mm = {}, .length_mm = 1.5, .temperature_degC = {}, .mass_g = {}, .age_months = {}}};
    must(p.add_reading(d, r));
    papers::Ride ride;
    ride.bike_id = bike;
    ride.file_name = "a.csv";
    ride.day = "2026-05-02";
    const papers::Id kept = must(p.add_ride(d, ride, "t_s,altitude_m\n0,100\n1,99\n")).id;
    must(p.keep_dose({.id = papers::key_of({"dose"}), .ride_id = kept, .made_unix_s = 1, .model_versions = "a 1", .bytes = std::string("\0\1\2", 3)}));
    must(p.hold({"Ada", 1777620001, papers::new_uuid()}, {.id = "", .bike_id = bike, .from_unix_s = 1, .by = "Ada", .why = "crack", .cleared_unix_s = {}, .cleared_by = "", .cleared_why = ""}));
}

inline std::string papers_file() {
    const std::string path = folder() + "/seed";
    forget(path);
    {
        auto p = must(papers::make_papers(path));
        fill(*p);
    }
    std::string bytes = bytes_at(path);
    forget(path);
    return bytes;
}

//! Everything that a person could ask: values or errors, never a crash.
inline void ask_everything(papers::Papers& p) {
    const auto sentence = [](const auto& result) {
        if (!result && result.error().text.empty()) breach("an error without a sentence");
    };
    sentence(p.people()), sentence(p.instruments()), sentence(p.bikes()), sentence(p.parts()), sentence(p.fittings()), sentence(p.readings({})), sentence(p.works({})), sentence(p.incidents({}));
    sentence(p.holds({})), sentence(p.ticks({})), sentence(p.history(100)), sentence(p.sound());
    if (const auto rides = p.rides({}))
        for (const papers::Ride& r : *rides) sentence(p.ride_content(r.id));
    sentence(p.dose(papers::key_of({"dose"})));
    sentence(p.export_to([](const std::string&, std::string_view) -> Status { return Done{}; }));
}

}  // namespace bw::fuzz
