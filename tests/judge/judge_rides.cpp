// SPDX-License-Identifier: Apache-2.0
// Our braking energy beside the truth of simulated rides: a row a ride, then the table of the groups.       Layer: tests
//   judge_rides DIR given|defaults|perfect [--seed N] [--threads N] [--only PART_OF_A_NAME] [--rows] [--hold] [--wind report|exact]
// DIR: rides as the generator writes them (tests/simulated), each with NAME.truth.toml and NAME.truth.csv.
//   given    true drag area and rolling resistance told, mass as told; wind, air and the rest unknown
//   defaults mass and kind of bike alone
//   perfect  for comparison: true speed and height of every second and the defaults of the kind of bike, what drives clipped away
//   --wind   also tells the wind as speed and direction: `report` as a weather report would, `exact` without its errors (below)
//   --hold   also holds the figures to what was measured on these rides; exit status 1 if one is worse
#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <cstdio>
#include <cstdlib>
#include <filesystem>
#include <map>
#include <string>
#include <vector>

#include "answer/answer.hpp"
#include "base/sampling.hpp"
#include "base/text.hpp"

namespace {

namespace fs = std::filesystem;
using namespace bw;

//! Flat keys of the truth file: "section.key" -> text without quotes and comment.
std::map<std::string, std::string> keys_of(const std::string& text) {
    std::map<std::string, std::string> out;
    std::string section;
    for (std::size_t at = 0; at < text.size();) {
        const std::size_t end = std::min(text.find('\n', at), text.size());
        std::string line(trim(std::string_view(text).substr(at, end - at)));
        at = end + 1;
        if (line.empty() || line[0] == '#') continue;
        if (line[0] == '[') {
            section = line.substr(1, line.find(']') - 1) + ".";
            continue;
        }
        const std::size_t eq = line.find('=');
        if (eq == std::string::npos) continue;
        std::string value(trim(std::string_view(line).substr(eq + 1)));
        if (const std::size_t hash = value.find(" #"); hash != std::string::npos) value = std::string(trim(std::string_view(value).substr(0, hash)));
        if (value.size() >= 2 && value.front() == '"') value = value.substr(1, value.rfind('"') - 1);
        out[section + std::string(trim(std::string_view(line).substr(0, eq)))] = value;
    }
    return out;
}

struct Truth {
    std::string text;
    std::map<std::string, std::string> keys;
    std::vector<double> brake_W, speed_mps, altitude_m;
    double number(const std::string& key, double otherwise = NAN) const {
        const auto it = keys.find(key);
        return it == keys.end() ? otherwise : std::atof(it->second.c_str());
    }
    std::string word(const std::string& key) const {
        const auto it = keys.find(key);
        return it == keys.end() ? "" : it->second;
    }
};

Truth truth_of(const fs::path& toml) {
    Truth t;
    t.text = *read_file(toml.string());
    t.keys = keys_of(t.text);
    std::string csv = toml.string();
    csv.replace(csv.size() - 5, 5, ".csv");
    const std::string text = *read_file(csv);
    std::size_t brake = 0, speed = 0, altitude = 0;
    bool head = true;
    for (std::size_t at = 0; at < text.size();) {
        const std::size_t end = std::min(text.find('\n', at), text.size());
        const auto fields = csv_fields(std::string(trim(std::string_view(text).substr(at, end - at))));
        at = end + 1;
        if (head) {
            for (std::size_t i = 0; i < fields.size(); ++i) {
                if (fields[i] == "brake_power_W") brake = i;
                if (fields[i] == "speed_mps") speed = i;
                if (fields[i] == "altitude_m") altitude = i;
            }
            head = false;
            continue;
        }
        if (fields.size() <= std::max({brake, speed, altitude})) continue;
        t.brake_W.push_back(std::atof(fields[brake].c_str()));
        t.speed_mps.push_back(std::atof(fields[speed].c_str()));
        t.altitude_m.push_back(std::atof(fields[altitude].c_str()));
    }
    return t;
}

// The wind that a weather report would have told of this ride. The truth states it at a rider's height in the open ([D10] of
// demo/generator/README.md); a report has it 10 m above open ground, by the logarithmic profile U(z) ~ ln(z/z0) (EN 1991-1-4 eq. 4.4).
// exact: a height of 1.1 m over z0 = 0.03 m, nothing rounded. report: z0 of the land anywhere between 0.01 and 0.1 m, the station's
// speed off by 15 % and its direction by 15 degrees, then whole metres a second and tens of degrees. Drawn by the ride's name.
answer::RideTags reported_wind(const Truth& t, const std::string& name, bool exact) {
    const auto normal = [&](std::uint64_t k) {
        return std::sqrt(-2 * std::log(uniform_of(hash_of(name), 77, k, 0))) * std::cos(6.283185307179586 * uniform_of(hash_of(name), 77, k, 1));
    };
    const double rider_m = 1.1, z0_m = exact ? 0.03 : std::exp(std::log(0.01) + std::log(10.0) * uniform_of(hash_of(name), 77, 9, 0));
    double speed = t.number("weather.wind_mps") * std::log(10 / z0_m) / std::log(rider_m / z0_m), from = t.number("weather.wind_from_deg");
    if (!exact) {
        speed = std::round(std::max(0.0, speed * (1 + 0.15 * normal(1))));
        from = 10 * std::round((from + 15 * normal(2)) / 10);
    }
    answer::RideTags tags;
    tags.wind_mps = speed;
    tags.wind_from_deg = std::fmod(from + 720, 360);
    return tags;
}

struct Verdict {
    std::string name, sensor;
    double true_J = 0, mean_J = 0, p05 = 0, p95 = 0, km = 0, correlation = 0, unexplained_p05 = 0, unexplained_p95 = 0;
    int truly = 0, found = 0, ours = 0, false_ones = 0;
};

struct Span { double from, to; };
std::vector<Span> spans(const std::vector<double>& W, double above) {
    std::vector<Span> s;
    for (std::size_t i = 0; i < W.size(); ++i) {
        if (W[i] <= above) continue;
        const double t = static_cast<double>(i);
        if (!s.empty() && t - s.back().to < 2) s.back().to = t + 1;
        else s.push_back({t, t + 1});
    }
    return s;
}

Verdict judge(const Truth& t, const ride::MotionPaths& m, const std::string& name) {
    Verdict v;
    v.name = name;
    v.sensor = t.word("sensor");
    v.true_J = t.number("brake_energy_J");
    v.km = t.number("distance_m") / 1000;
    std::vector<double> energies, unexplained;
    const bool timed = t.text.find("kind = \"clock\"") == std::string::npos;   // else the recorder's seconds are not the truth's
    const std::size_t n = m.size();
    std::vector<double> mean(n + 1, 0.0);
    for (const auto& p : m.paths) {
        energies.push_back(p.brakes_J);
        unexplained.push_back(p.unexplained_J);
        for (std::size_t i = 0; i < n; ++i) {   // over +-0.5 s about each second, as the truth has it
            const double half = 0.5 * p.brake_power_W[i] / static_cast<double>(m.paths.size());
            mean[i] += half;
            mean[i + 1] += half;
        }
    }
    v.mean_J = mean_of(energies);
    v.p05 = quantile(energies, 0.05);
    v.p95 = quantile(energies, 0.95);
    v.unexplained_p05 = quantile(unexplained, 0.05);
    v.unexplained_p95 = quantile(unexplained, 0.95);
    const std::size_t rows = std::min(n, t.brake_W.size());
    double sx = 0, sy = 0, sxx = 0, syy = 0, sxy = 0, c = 0;
    for (std::size_t i = 0; i + 10 <= rows; i += 10) {
        double x = 0, y = 0;
        for (std::size_t k = i; k < i + 10; ++k) x += t.brake_W[k] / 10, y += mean[k] / 10;
        sx += x, sy += y, sxx += x * x, syy += y * y, sxy += x * y, ++c;
    }
    const double vx = sxx / c - sx / c * (sx / c), vy = syy / c - sy / c * (sy / c);
    v.correlation = timed && vx > 1 && vy > 0 ? (sxy / c - sx / c * (sy / c)) / std::sqrt(vx * vy) : NAN;
    // An application above 50 W is found if ours overlaps it; ours is false if no brake was on within a second of it.
    const auto truly = spans(t.brake_W, 50), any = spans(t.brake_W, 0);
    std::vector<Span> ours;
    for (const auto& a : ride::applications_of(m))
        if (a.mean_W > 50) ours.push_back({a.start_s, a.end_s});
    if (!timed) return v;
    const auto all = ride::applications_of(m);
    for (const Span& s : truly) {
        ++v.truly;
        v.found += std::any_of(all.begin(), all.end(), [&](const auto& o) { return o.start_s < s.to && o.end_s > s.from; });
    }
    for (const Span& o : ours) {
        ++v.ours;
        v.false_ones += std::none_of(any.begin(), any.end(), [&](const Span& s) { return o.from < s.to + 1 && o.to > s.from - 1; });
    }
    return v;
}

// The oracle: nothing is wrong with the motion, everything with the bike and the wind.
Verdict oracle(const Truth& t, const parts::Bike& bike, const std::string& name) {
    Verdict v;
    v.name = name;
    v.sensor = t.word("sensor");
    v.true_J = t.number("brake_energy_J");
    v.km = t.number("distance_m") / 1000;
    v.correlation = NAN;
    const ride::MotionParameters p{.mass_kg = bike.total_mass_kg.value,
                                   .rotating_kg = bike.wheel_inertia_kgm2.value / (bike.wheel_radius_m.value * bike.wheel_radius_m.value),
                                   .drag_area_m2 = bike.drag_area_m2.value,
                                   .rolling_resistance = bike.rolling_resistance.value};
    for (std::size_t i = 0; i + 1 < t.speed_mps.size(); ++i) {
        const double a = t.speed_mps[i], b = t.speed_mps[i + 1], speed = 0.5 * (a + b);
        const double net_J = 0.5 * (p.mass_kg + p.rotating_kg) * (b * b - a * a) + p.mass_kg * 9.80665 * (t.altitude_m[i + 1] - t.altitude_m[i]) +
                             (ride::rolling_drag_N(p, 0) + ride::air_drag_N(p, ride::air_density(t.altitude_m[i], t.number("weather.air_degC", 15)), speed)) * speed;
        v.mean_J += std::max(0.0, -net_J);
    }
    v.p05 = v.p95 = v.mean_J;
    return v;
}

double rank(std::vector<double> v, double p) { return v.empty() ? NAN : quantile(v, p); }

struct Figures {
    std::size_t rides = 0;
    double median = 0, ninth = 0, km_median = 0, km_ninth = 0, correlation = 0, covered = 0, found = 0, wrong = 0;
};

//! Half again what was measured when the estimator was fixed (docs/measured.md has the figures beside the aims), so that a step
//! back shows; coverage inside the 1 % band of a binomial with 0.9 (told parameters: half again the four rides outside), with
//! each group at least 0.5.
int held(const std::vector<Figures>& f, const std::string& how) {
    int worse = 0;
    const auto at_most = [&](const char* what, double got, double most) {
        if (got <= most) return;
        fmt::print("worse than it was: {} {:.3g}, at most {:.3g}\n", what, got, most);
        ++worse;
    };
    const bool given = how == "given";
    at_most("barometric, median", f[0].median, given ? 0.066 : 0.060);
    at_most("barometric, nine in ten", f[0].ninth, given ? 0.16 : 0.17);
    at_most("other altitude, median", f[1].median, given ? 0.13 : 0.22);
    at_most("other altitude, nine in ten", f[1].ninth, given ? 0.44 : 0.37);
    at_most("little braking, kJ/km, median", f[2].km_median, given ? 0.45 : 0.52);
    at_most("little braking, kJ/km, nine in ten", f[2].km_ninth, given ? 1.9 : 4.3);
    at_most("barometric, 1 - correlation over 10 s", 1 - f[0].correlation, 0.041);
    at_most("barometric, share of applications missed", 1 - f[0].found, 0.165);
    at_most("barometric, share of applications that were none", f[0].wrong, 0.10);
    at_most("rides outside the 90 % interval", 1 - f[3].covered, given ? 6.0 / 40 : 9.0 / 40);
    for (const Figures& g : f) at_most("rides of a group outside", 1 - g.covered, 0.5);
    return worse > 0 ? 1 : 0;
}

std::vector<Figures> table(const std::vector<Verdict>& all) {
    struct Group { const char* name; std::vector<const Verdict*> rides; };
    std::vector<Group> groups = {{"barometric, over 6 kJ/km", {}}, {"satellite or terrain, over 6 kJ/km", {}}, {"little braking", {}}, {"all", {}}};
    for (const Verdict& v : all) {
        groups[v.true_J / v.km < 6000 ? 2 : v.sensor == "barometric" ? 0 : 1].rides.push_back(&v);
        groups[3].rides.push_back(&v);
    }
    fmt::print("| group | rides | error: median / nine in ten | bias | kJ/km: median / nine in ten | bias | 10 s correlation: median / tenth | 90 % held | width | found | false | unexplained held |\n|---|---|---|---|---|---|---|---|---|---|---|---|\n");
    std::vector<Figures> figures;
    for (const Group& g : groups) {
        std::vector<double> e, k, c, w;
        double bias = 0, kbias = 0, held = 0, un = 0;
        int truly = 0, found = 0, ours = 0, wrong = 0;
        for (const Verdict* v : g.rides) {
            e.push_back(std::abs(v->mean_J - v->true_J) / v->true_J);
            k.push_back(std::abs(v->mean_J - v->true_J) / v->km / 1000);
            bias += (v->mean_J - v->true_J) / v->true_J;
            kbias += (v->mean_J - v->true_J) / v->km / 1000;
            if (std::isfinite(v->correlation)) c.push_back(v->correlation);
            held += v->true_J >= v->p05 && v->true_J <= v->p95;
            un += 0 >= v->unexplained_p05 && 0 <= v->unexplained_p95;
            w.push_back((v->p95 - v->p05) / v->true_J);
            truly += v->truly, found += v->found, ours += v->ours, wrong += v->false_ones;
        }
        const double n = std::max<double>(1, static_cast<double>(g.rides.size()));
        figures.push_back({g.rides.size(), rank(e, .5), rank(e, .9), rank(k, .5), rank(k, .9), rank(c, .5), held / n, truly ? 1.0 * found / truly : 0, ours ? 1.0 * wrong / ours : 0});
        fmt::print("| {} | {} | {:.1f} / {:.1f} % | {:+.1f} % | {:.2f} / {:.2f} | {:+.2f} | {:.3f} / {:.3f} | {:.0f} % | {:.0f} % | {:.0f} % | {:.0f} % | {:.0f} % |\n", g.name, g.rides.size(), 100 * rank(e, .5),
                   100 * rank(e, .9), 100 * bias / n, rank(k, .5), rank(k, .9), kbias / n, rank(c, .5), rank(c, .1), 100 * held / n, 100 * rank(w, .5),
                   truly ? 100.0 * found / truly : 0, ours ? 100.0 * wrong / ours : 0, 100 * un / n);
    }
    return figures;
}

}  // namespace

int main(int argc, char** argv) {
    if (argc < 3) {
        fmt::print(stderr, "judge_rides DIR given|defaults|perfect [--seed N] [--threads N] [--only PART] [--rows] [--hold] [--wind report|exact]\n");
        return 2;
    }
    const std::string dir = argv[1], how = argv[2];
    Context ctx;
    ctx.threads = 2;
    bool rows = false, hold = false;
    std::string only, wind;
    for (int i = 3; i < argc; ++i) {
        const std::string a = argv[i];
        if (a == "--seed" && i + 1 < argc) ctx.seed = std::strtoull(argv[++i], nullptr, 10);
        else if (a == "--threads" && i + 1 < argc) ctx.threads = std::atoi(argv[++i]);
        else if (a == "--only" && i + 1 < argc) only = argv[++i];
        else if (a == "--rows") rows = true;
        else if (a == "--wind" && i + 1 < argc) wind = argv[++i];
        else if (a == "--hold") hold = true;
    }
    const auto library = parts::load_library();
    if (!library) return 4;
    std::vector<fs::path> truths;
    for (const auto& e : fs::recursive_directory_iterator(dir))
        if (e.path().string().ends_with(".truth.toml")) truths.push_back(e.path());
    std::sort(truths.begin(), truths.end());
    std::vector<Verdict> all;
    for (const fs::path& path : truths) {
        if (path.string().find(only) == std::string::npos) continue;
        const Truth t = truth_of(path);
        const std::string stem = path.string().substr(0, path.string().size() - 11);
        const std::string file = (path.parent_path() / t.word("file")).string();
        std::string kind = t.word("bike_kind");
        if (kind.empty()) {
            kind = t.word("kind");
            kind = kind == "trail" || kind == "city" || kind == "cargo" ? kind : kind == "rolling" ? "road" : "gravel";
        }
        std::string bike = fmt::format("format = 1\n[bike]\nkind = \"{}\"\ntotal_mass_kg = {}\n", kind, t.number("bike.told_mass_kg", t.number("bike.total_mass_kg")));
        if (how == "given") bike += fmt::format("drag_area_m2 = {{ value = {}, sd = 0 }}\nrolling_resistance = {{ value = {}, sd = 0 }}\n", t.number("bike.drag_area_m2"), t.number("bike.rolling_resistance"));
        answer::Request request;
        const auto b = parts::read_bike(bike, "told.toml", *library);
        if (!b) {
            fmt::print(stderr, "{}\n", b.error().text);
            return 3;
        }
        if (how == "perfect") {
            all.push_back(oracle(t, *b, fs::path(stem).filename().string()));
            continue;
        }
        request.bike = *b;
        request.cases = answer::anchor_cases;
        auto track = ride::read_ride(*read_file(file), file);
        if (!track) {
            fmt::print(stderr, "{}\n", track.error().text);
            return 3;
        }
        answer::RideTags tags;
        if (!wind.empty()) tags = reported_wind(t, fs::path(stem).filename().string(), wind == "exact");
        request.rides.push_back({*std::move(track), tags});
        const auto m = answer::motion_alone(ctx, *library, request);
        if (!m) {
            fmt::print(stderr, "{}: {}\n", file, m.error().text);
            return 3;
        }
        all.push_back(judge(t, m->front(), fs::path(stem).filename().string()));
        const Verdict& v = all.back();
        if (rows)
            fmt::print("{:44} {:5.1f} km {:7.1f} kJ  ours {:7.1f} ({:.1f} to {:.1f}) {:+6.1f} % {:+.2f} kJ/km  r {:.3f}  app {}/{} false {}/{}  sensor {} source {}  unexpl {:.1f}..{:.1f}\n", v.name, v.km, v.true_J / 1e3, v.mean_J / 1e3, v.p05 / 1e3,
                       v.p95 / 1e3, 100 * (v.mean_J - v.true_J) / v.true_J, (v.mean_J - v.true_J) / v.km / 1e3, v.correlation, v.found, v.truly, v.false_ones, v.ours, v.sensor, ride::word_of(m->front().altitude_source), v.unexplained_p05 / 1e3, v.unexplained_p95 / 1e3);
    }
    const std::vector<Figures> figures = table(all);
    return hold ? held(figures, how) : 0;
}
