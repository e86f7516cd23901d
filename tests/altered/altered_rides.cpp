// SPDX-License-Identifier: Apache-2.0
// The same ride recorded worse must keep its braking energy: a row a ride, beside what it was untouched.       Layer: tests
//   altered_rides real DIR              recordings of DIR: thinned, with noise added, with holes cut
//   altered_rides faults CLEAN FAULTY   simulated rides of the same name in both folders
//   both: [--only PART_OF_A_ROWS_NAME]... [--known FILE] [--whole] [--threads N] [--seed N]
// Exit status 1 if a row breaks its claim and is not a known failure, or if a known failure holds; 77 if DIR is not there.
// --whole: all rows that the known failures may speak of are there, so one that speaks of none is wrong too.
#include <fmt/format.h>
#include <fnmatch.h>

#include <algorithm>
#include <array>
#include <cmath>
#include <cstdio>
#include <cstdlib>
#include <filesystem>
#include <functional>
#include <numbers>
#include <optional>
#include <random>
#include <string>
#include <utility>
#include <vector>

#include "../../src/ride/readers.hpp"
#include "answer/answer.hpp"
#include "base/sampling.hpp"
#include "base/text.hpp"
#include "ride/describe.hpp"

namespace {

namespace fs = std::filesystem;
namespace rd = bw::ride::readers;
using namespace bw;

constexpr double most_change_by_faults = 0.03;

struct Energy {
    double mean_J = 0, p05_J = 0, p95_J = 0;
    ride::AltitudeSource altitude = ride::AltitudeSource::none;
    bool holds(double J) const { return p05_J <= J && J <= p95_J; }
    std::string text() const { return fmt::format("{:.1f} ({:.1f} to {:.1f})", mean_J / 1e3, p05_J / 1e3, p95_J / 1e3); }
};

struct Setting {
    std::string known_file;
    std::vector<std::string> only;
    bool whole = false;
    Context ctx;
    std::optional<parts::Library> library;
} setting;

//! Was this row asked for?
bool wanted(const std::string& row) {
    return setting.only.empty() || std::any_of(setting.only.begin(), setting.only.end(), [&](const std::string& part) { return row.find(part) != std::string::npos; });
}

//! Braking energy as the program finds it.
Result<Energy> energy_of(const std::string& bike, ride::Track track) {
    answer::Request request;
    const auto read = parts::read_bike(bike, "told.toml", *setting.library);
    if (!read) return read.error();
    request.bike = *read;
    request.cases = answer::anchor_cases;
    request.rides.push_back({std::move(track), {}});
    const auto motions = answer::motion_alone(setting.ctx, *setting.library, request);
    if (!motions) return motions.error();
    std::vector<double> energies;
    for (const ride::MotionPath& p : motions->front().paths) energies.push_back(p.brakes_J);
    return Energy{mean_of(energies), quantile(energies, 0.05), quantile(energies, 0.95), motions->front().altitude_source};
}

//! What the altitude was taken for, before and after.
std::string taken_for(const Energy& before, const Energy& after) {
    const std::string was(word_of(before.altitude)), is(word_of(after.altitude));
    return was == is ? is : was + ", then " + is;
}

// ---- known failures: what is wrong is data ----------------------------------------------------------------------------

struct Known {
    std::string pattern, reason;
    int rows = 0;
};

class Judge {
public:
    explicit Judge(const std::string& file, const std::string& claim) {
        if (file.empty()) return;
        const auto text = read_file(file);
        if (!text) {
            fmt::print(stderr, "{}\n", text.error().text);
            std::exit(3);
        }
        bool head = true;
        for (std::size_t at = 0; at < text->size();) {
            const std::size_t end = std::min(text->find('\n', at), text->size());
            const std::string line(trim(std::string_view(*text).substr(at, end - at)));
            at = end + 1;
            if (line.empty()) continue;
            const auto cells = csv_fields(line);
            if (!std::exchange(head, false) && cells.size() == 2 && cells[0].starts_with(claim + "/")) known_.push_back({cells[0], cells[1]});
        }
    }
    //! The last cell of a row.
    std::string verdict(const std::string& row, bool holds) {
        const auto known = std::find_if(known_.begin(), known_.end(), [&](const Known& k) { return fnmatch(k.pattern.c_str(), row.c_str(), 0) == 0; });
        if (known != known_.end()) ++known->rows;
        ++rows_;
        held_ += holds;
        if (holds && known != known_.end()) wrong_.push_back(fmt::format("{} holds now: take '{}' off the known failures", row, known->pattern));
        if (!holds && known == known_.end()) wrong_.push_back(fmt::format("{} breaks its claim", row));
        return holds ? "yes" : known == known_.end() ? "NO" : "no, known: " + known->reason;
    }
    void broken(const std::string& row, const std::string& why) { wrong_.push_back(row + ": " + why); }
    int finish(bool whole) {
        fmt::print("\n{} of {} rows hold\n", held_, rows_);
        for (const Known& k : known_)
            if (whole && k.rows == 0) wrong_.push_back(fmt::format("the known failure '{}' is of no row", k.pattern));
        for (const std::string& w : wrong_) fmt::print("wrong: {}\n", w);
        return wrong_.empty() ? 0 : 1;
    }

private:
    std::vector<Known> known_;
    std::vector<std::string> wrong_;
    int rows_ = 0, held_ = 0;
};

// ---- alterations of a recording, before any cleaning -------------------------------------------------------------------

//! Even numbers in 0..1, the same everywhere for one name.
class Draw {
public:
    explicit Draw(const std::string& name) : bits_(hash_of(name)) {}
    double uniform() { return (static_cast<double>(bits_() >> 11) + 0.5) * 0x1p-53; }
    double normal() {
        const double radius = std::sqrt(-2 * std::log(uniform()));
        return radius * std::cos(2 * std::numbers::pi * uniform());
    }

private:
    std::mt19937_64 bits_;
};

//! An error that wanders: sd and time after which it is down to 1/e.
struct Wander {
    double sd, tau_s, now;
    Wander(double sd_, double tau_s_, Draw& d) : sd(sd_), tau_s(tau_s_), now(sd_ * d.normal()) {}
    //! Its value after dt_s, and a noise of sd noise that each record has anew.
    double after(double dt_s, double noise, Draw& d) {
        const double keep = std::exp(-std::max(0.0, dt_s) / tau_s);
        now = keep * now + sd * std::sqrt(1 - keep * keep) * d.normal();
        return now + noise * d.normal();
    }
};

void thin(rd::Reading& r, std::size_t keep_every) {
    std::vector<rd::Record> kept;
    bool segment = false;
    for (std::size_t i = 0; i < r.records.size(); ++i) {
        segment = segment || r.records[i].new_segment;
        if (i % keep_every != 0) continue;
        kept.push_back(r.records[i]);
        kept.back().new_segment = segment;
        segment = false;
    }
    r.records = std::move(kept);
}

//! The step in which altitudes were written, so that they can be written so again.
double altitude_step_m(const rd::Reading& r) {
    for (const double step : {1.0, 0.2, 0.1}) {
        std::size_t all = 0, whole = 0;
        for (const rd::Record& x : r.records) {
            const double z = x.value[rd::altitude] / step;
            if (std::isnan(z)) continue;
            ++all;
            whole += std::abs(z - std::round(z)) < 0.01;
        }
        if (all > 0 && whole * 100 >= all * 99) return step;
    }
    return 0;
}

// As a second, worse recorder on the same bar: a barometer's short noise and its weather, a receiver's wander, a noisier speed.
constexpr double altitude_noise_m = 0.3, altitude_wander_m = 1.0, altitude_wander_s = 1200;
constexpr double position_noise_m = 0.3, position_wander_m = 2.0, position_wander_s = 50;   // each of two axes
constexpr double speed_noise_mps = 0.15;

void add_noise(rd::Reading& r, Draw d) {
    Wander height(altitude_wander_m, altitude_wander_s, d), east(position_wander_m, position_wander_s, d), north(position_wander_m, position_wander_s, d);
    const double step_m = altitude_step_m(r);
    double before_s = r.records.front().time_s;
    for (rd::Record& x : r.records) {
        const double dt_s = x.time_s - std::exchange(before_s, x.time_s);
        double& z = x.value[rd::altitude];
        z += height.after(dt_s, altitude_noise_m, d);
        if (step_m > 0) z = std::round(z / step_m) * step_m;
        constexpr double m_per_degree = 111195;
        const double e_m = east.after(dt_s, position_noise_m, d), n_m = north.after(dt_s, position_noise_m, d);
        x.value[rd::longitude] += e_m / (m_per_degree * std::max(0.05, std::cos(x.value[rd::latitude] * std::numbers::pi / 180)));
        x.value[rd::latitude] += n_m / m_per_degree;
        double& v = x.value[rd::speed];
        if (v > 0) v = std::max(0.0, v + speed_noise_mps * d.normal());   // a wheel that stands says so
    }
}

//! Up to four stretches of 60 to 100 s without a record, each where the bike rolled all along, five minutes or more apart.
int cut_holes(rd::Reading& r, Draw d) {
    constexpr std::array<double, 4> lengths_s = {60, 100, 75, 90};
    constexpr double apart_s = 300, slowest_mps = 1.5, look_s = 10;
    std::vector<rd::Record>& all = r.records;
    const double begin_s = all.front().time_s, end_s = all.back().time_s;
    const auto rolls = [&](double from_s, double to_s) {
        std::size_t last = all.size();
        double seen_to_s = from_s;
        for (std::size_t i = 0; i < all.size(); ++i) {
            const rd::Record& x = all[i];
            if (x.time_s < from_s || x.time_s > to_s || std::isnan(x.value[rd::latitude])) continue;
            if (last < all.size()) {
                const double dt_s = x.time_s - all[last].time_s;
                if (dt_s > look_s || dt_s < 0) return false;
                if (dt_s < 0.5 * look_s) continue;
                const double way_m = ride::ground_distance_m(all[last].value[rd::latitude], all[last].value[rd::longitude], x.value[rd::latitude], x.value[rd::longitude]);
                if (way_m < slowest_mps * dt_s) return false;
            } else if (x.time_s > from_s + look_s) {
                return false;
            }
            last = i;
            seen_to_s = x.time_s;
        }
        return last < all.size() && seen_to_s > to_s - look_s;
    };
    std::vector<std::pair<double, double>> holes;
    for (int tries = 0; tries < 400 && holes.size() < lengths_s.size(); ++tries) {
        const double length_s = lengths_s[holes.size()];
        const double from_s = begin_s + 60 + std::floor(d.uniform() * std::max(0.0, end_s - begin_s - length_s - 120));
        const bool clear = std::all_of(holes.begin(), holes.end(), [&](const auto& h) { return from_s > h.second + apart_s || from_s + length_s < h.first - apart_s; });
        if (clear && rolls(from_s - look_s, from_s + length_s + look_s)) holes.emplace_back(from_s, from_s + length_s);
    }
    std::erase_if(all, [&](const rd::Record& x) { return std::any_of(holes.begin(), holes.end(), [&](const auto& h) { return x.time_s > h.first && x.time_s < h.second; }); });
    return static_cast<int>(holes.size());
}

// ---- the two claims ----------------------------------------------------------------------------------------------------

Result<rd::Reading> read_records(const std::string& bytes, const std::string& name) {
    const auto ending = fs::path(name).extension();
    return ending == ".fit" ? rd::read_fit(bytes, name) : ending == ".tcx" ? rd::read_tcx(bytes, name) : rd::read_gpx(bytes, name);
}

//! The bike for which the bands of these recordings were made (the README beside them).
constexpr const char* bands_bike = "format = 1\n[bike]\nkind = \"road\"\ntotal_mass_kg = 90\ndrag_area_m2 = 0.40\nrolling_resistance = 0.006\n";

int real(const std::string& dir) {
    if (!fs::is_directory(dir)) {
        fmt::print("skipped: the folder of real recordings ({}) is not beside the project\n", fs::path(dir).filename().string());
        return 77;
    }
    Judge judge(setting.known_file, "real");
    fmt::print("{}, drag area 0.40, rolling resistance 0.006; kJ, 5 to 95 % in brackets. Held: the altered file's interval holds the untouched file's mean. Back: the other way round.\n\n"
               "| recording | alteration | records | brakes | untouched | change | altitude | back | held |\n|---|---|---|---|---|---|---|---|---|\n", "90 kg");
    std::vector<fs::path> files;
    for (const auto& e : fs::directory_iterator(dir))
        if (e.path().extension() == ".fit" || e.path().extension() == ".tcx" || e.path().extension() == ".gpx") files.push_back(e.path());
    std::sort(files.begin(), files.end());
    for (const fs::path& path : files) {
        const std::string name = path.filename().string();
        struct Alteration {
            std::string name;
            std::function<std::string(rd::Reading&)> apply;   // gives what to say beside its name
        };
        const std::vector<Alteration> alterations = {
            {"every second", [](rd::Reading& r) { return thin(r, 2), std::string(); }},
            {"every fifth", [](rd::Reading& r) { return thin(r, 5), std::string(); }},
            {"noise", [&](rd::Reading& r) { return add_noise(r, Draw(name + "/noise")), std::string(); }},
            {"holes", [&](rd::Reading& r) { return fmt::format(" ({})", cut_holes(r, Draw(name + "/holes"))); }}};
        if (std::none_of(alterations.begin(), alterations.end(), [&](const Alteration& a) { return wanted(name + "/" + a.name); })) continue;
        const auto bytes = read_file(path.string());
        const auto records = bytes ? read_records(*bytes, name) : Result<rd::Reading>(bytes.error());
        if (!records) {
            judge.broken(name, records.error().text);
            continue;
        }
        const auto reckoned = [&](rd::Reading r, const std::string& how) -> Result<Energy> {
            // As another file: what is drawn by the file's bytes is drawn anew.
            auto track = rd::track_of(std::move(r), how.empty() ? hash_of(*bytes) : mix(hash_of(*bytes), hash_of(how), 0, 0), name);
            if (!track) return track.error();
            return energy_of(bands_bike, *std::move(track));
        };
        const auto untouched = reckoned(*records, "");
        if (!untouched) {
            judge.broken(name, untouched.error().text);
            continue;
        }
        for (const Alteration& a : alterations) {
            const std::string row = name + "/" + a.name;
            if (!wanted(row)) continue;
            rd::Reading r = *records;
            const std::string said = a.apply(r);
            const std::size_t n = r.records.size();
            const auto altered = reckoned(std::move(r), a.name);
            if (!altered) {
                judge.broken(row, altered.error().text);
                continue;
            }
            if (said == " (0)") {
                judge.broken(row, "no place for a hole was found, so nothing was tested");
                continue;
            }
            const std::string held = judge.verdict("real/" + row, altered->holds(untouched->mean_J));
            fmt::print("| {} | {}{} | {} | {} | {} | {:+.1f} % | {} | {} | {} |\n", name, a.name, said, n, altered->text(), untouched->text(), 100 * (altered->mean_J / untouched->mean_J - 1),
                       taken_for(*untouched, *altered), untouched->holds(altered->mean_J) ? "yes" : "no", held);
            std::fflush(stdout);
        }
    }
    return judge.finish(setting.whole);
}

int faults(const std::string& clean, const std::string& faulty) {
    Judge judge(setting.known_file, "faults");
    fmt::print("Mass and kind of bike told; kJ. Held: the faults change the energy by at most {:.0f} %. By the faults: the same, but with\n"
               "the clean file's draws; what lies between is the luck of other draws.\n\n"
               "| ride | truly | clean | with faults | change | by the faults | altitude | held |\n|---|---|---|---|---|---|---|---|\n", 100 * most_change_by_faults);
    std::vector<fs::path> files;
    for (const auto& e : fs::directory_iterator(faulty))
        if (e.path().extension() == ".gpx") files.push_back(e.path());
    std::sort(files.begin(), files.end());
    for (const fs::path& path : files) {
        const std::string name = path.stem().string();
        if (!wanted(name)) continue;
        const auto truth = read_file((fs::path(clean) / (name + ".truth.toml")).string());
        // A value of the truth's flat keys; each of those asked for stands on one line only.
        const auto told = [&](const std::string& key) {
            const std::size_t at = truth ? ("\n" + *truth).find("\n" + key + " = ") : std::string::npos;
            if (at == std::string::npos) return std::string();
            const std::size_t from = at + key.size() + 3;
            std::string value = truth->substr(from, truth->find_first_of("\n#", from) - from);
            return std::string(trim(value));
        };
        const std::string bike = fmt::format("format = 1\n[bike]\nkind = {}\ntotal_mass_kg = {}\n", told("bike_kind"), told("told_mass_kg"));
        const auto read = [&](const std::string& dir) -> Result<ride::Track> {
            const std::string file = (fs::path(dir) / path.filename()).string();
            const auto bytes = read_file(file);
            return bytes ? ride::read_ride(*bytes, file) : Result<ride::Track>(bytes.error());
        };
        const auto whole = read(clean), spoilt = read(faulty);
        if (!whole || !spoilt) {
            judge.broken(name, !whole ? whole.error().text : spoilt.error().text);
            continue;
        }
        ride::Track same_draws = *spoilt;
        same_draws.content_hash = whole->content_hash;
        const auto a = energy_of(bike, *whole), b = energy_of(bike, *spoilt), c = energy_of(bike, std::move(same_draws));
        if (!a || !b || !c) {
            judge.broken(name, !a ? a.error().text : !b ? b.error().text : c.error().text);
            continue;
        }
        const double change = b->mean_J / a->mean_J - 1;
        const std::string held = judge.verdict("faults/" + name, std::abs(change) <= most_change_by_faults);
        fmt::print("| {} | {:.1f} | {} | {} | {:+.1f} % | {:+.1f} % | {} | {} |\n", name, std::atof(told("brake_energy_J").c_str()) / 1e3, a->text(), b->text(), 100 * change, 100 * (c->mean_J / a->mean_J - 1), taken_for(*a, *b), held);
        std::fflush(stdout);
    }
    if (files.empty()) judge.broken(faulty, "no rides");
    return judge.finish(setting.whole);
}

}  // namespace

int main(int argc, char** argv) {
    std::vector<std::string> words;
    setting.ctx.threads = 2;
    for (int i = 1; i < argc; ++i) {
        const std::string a = argv[i];
        if (a == "--whole") setting.whole = true;
        else if (a == "--known" && i + 1 < argc) setting.known_file = argv[++i];
        else if (a == "--only" && i + 1 < argc) setting.only.emplace_back(argv[++i]);
        else if (a == "--threads" && i + 1 < argc) setting.ctx.threads = std::atoi(argv[++i]);
        else if (a == "--seed" && i + 1 < argc) setting.ctx.seed = std::strtoull(argv[++i], nullptr, 10);
        else words.push_back(a);
    }
    auto library = parts::load_library();
    if (!library) {
        fmt::print(stderr, "{}\n", library.error().text);
        return 3;
    }
    setting.library.emplace(*std::move(library));
    if (words.size() == 2 && words[0] == "real") return real(words[1]);
    if (words.size() == 3 && words[0] == "faults") return faults(words[1], words[2]);
    fmt::print(stderr, "altered_rides real DIR | faults CLEAN FAULTY; [--only PART]... [--known FILE] [--whole] [--threads N] [--seed N]\n");
    return 2;
}
