// SPDX-License-Identifier: Apache-2.0
// Judges forecasts of remaining life by the truth of the invented riders, beside a straight line, the prior alone and the oracle.
// Layer: tests/worn                                   Theory: README.md, score.hpp
#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <filesystem>
#include <fstream>
#include <iostream>
#include <map>
#include <sstream>
#include <string>
#include <vector>

#include "score.hpp"

namespace {
using namespace worn;
namespace fs = std::filesystem;

[[noreturn]] void fail(const std::string& text) { throw std::runtime_error(text); }

// A table by its header; cells by name.
struct Table {
  std::string path;
  std::map<std::string, std::size_t> column;
  std::vector<std::vector<std::string>> rows;

  const std::string& text(std::size_t row, const std::string& name) const {
    const auto c = column.find(name);
    if (c == column.end()) fail(path + ": no column '" + name + "'");
    if (c->second >= rows[row].size()) fail(fmt::format("{} line {}: fewer columns than the header", path, row + 2));
    return rows[row][c->second];
  }
  double number(std::size_t row, const std::string& name) const {
    const std::string& t = text(row, name);
    std::size_t used = 0;
    double x = 0;
    try { x = std::stod(t, &used); } catch (const std::exception&) { used = 0; }
    if (used == 0 || used != t.size() || std::isnan(x)) fail(fmt::format("{} line {}: {} is '{}', not a number", path, row + 2, name, t));
    return x;
  }
  int whole(std::size_t row, const std::string& name) const { return static_cast<int>(std::lround(number(row, name))); }
};

Table read_table(const fs::path& path) {
  std::ifstream in(path, std::ios::binary);
  if (!in) fail("cannot read " + path.string());
  Table t{path.string(), {}, {}};
  std::string line;
  while (std::getline(in, line)) {
    if (!line.empty() && line.back() == '\r') line.pop_back();
    if (line.empty()) continue;
    std::vector<std::string> cells;
    std::stringstream fields(line + ",");
    for (std::string cell; std::getline(fields, cell, ',');) cells.push_back(cell);
    if (t.column.empty())
      for (std::size_t i = 0; i < cells.size(); ++i) t.column[cells[i]] = i;
    else t.rows.push_back(std::move(cells));
  }
  return t;
}

using Key = std::tuple<std::string, int, int>;   // component, set, as_of_ride
Key key_of(const Table& t, std::size_t i) { return {t.text(i, "component"), t.whole(i, "set"), t.whole(i, "as_of_ride")}; }

std::map<Key, Quantiles> read_forecasts(const fs::path& path, const std::map<Key, int>& horizon) {
  constexpr std::array<const char*, 6> suffix = {"_p005", "_p05", "_p25", "_p50", "_p75", "_p95"};
  const Table t = read_table(path);
  std::map<Key, Quantiles> out;
  for (std::size_t i = 0; i < t.rows.size(); ++i) {
    const Key key = key_of(t, i);
    const auto end = horizon.find(key);
    if (end == horizon.end()) fail(fmt::format("{} line {}: no such task in truth.csv", t.path, i + 2));
    Quantiles q{};
    for (std::size_t k = 0; k < q.size(); ++k) {
      std::string name = std::string("limit_ride") + suffix[k];
      if (!t.column.count(name)) name = suffix[k];   // the header of INTERFACES may be read either way
      q[k] = t.text(i, name).empty() ? end->second : t.number(i, name);
      if (k > 0 && q[k] < q[k - 1]) fail(fmt::format("{} line {}: quantiles fall at {}", t.path, i + 2, name));
    }
    if (!out.emplace(key, q).second) fail(fmt::format("{} line {}: a second forecast for this task", t.path, i + 2));
  }
  return out;
}

// `[compound.NAME]` rates of a PRIORS.toml: the two keys that the line falls back on, nothing else of it.
std::map<std::string, std::array<double, 2>> read_rates(const fs::path& path) {
  std::ifstream in(path);
  if (!in) fail("cannot read " + path.string());
  std::map<std::string, std::array<double, 2>> out;
  std::string line, compound;
  while (std::getline(in, line)) {
    if (line.starts_with("[")) compound = line.starts_with("[compound.") ? line.substr(10, line.find(']') - 10) : "";
    const auto eq = line.find('=');
    if (compound.empty() || eq == std::string::npos) continue;
    if (line.starts_with("specific_wear_mm3_MJ")) out[compound][0] = std::stod(line.substr(eq + 1));
    if (line.starts_with("rotor_wear_mm3_MJ")) out[compound][1] = std::stod(line.substr(eq + 1));
  }
  if (out.empty()) fail(path.string() + ": no [compound.NAME]");
  return out;
}

struct Case {
  std::string rider, kind, component;
  int set, as_of, start, limit, readings;   // readings: of this part so far
  int of_pads, of_pair, of_wheel;           // readings so far: of any pad of the bike, of the other pad of the pair, of earlier pairs of the wheel
  double used() const { return static_cast<double>(as_of - start + 1) / life(); }
  double life() const { return limit - start + 1; }
  bool rotor() const { return component.ends_with("rotor"); }
};
struct Source { std::string name; std::vector<Quantiles> forecasts; };   // in the order of the cases

// The straight line's forecasts of one rider, from what was known at each task.
struct LineOfRider {
  Table rides, fitted, readings;
  std::map<std::string, std::array<double, 2>> rates;
  std::array<std::vector<double>, 2> total;   // measured work of each wheel up to ride i
  std::map<std::pair<std::string, int>, std::size_t> row_of;

  LineOfRider(const fs::path& dir, std::map<std::string, std::array<double, 2>> usual)
      : rides(read_table(dir / "rides.csv")), fitted(read_table(dir / "fitted.csv")), readings(read_table(dir / "readings.csv")), rates(std::move(usual)) {
    for (std::size_t w = 0; w < 2; ++w) {
      total[w].push_back(0);
      for (std::size_t i = 0; i < rides.rows.size(); ++i) {
        if (rides.whole(i, "ride") != static_cast<int>(i) + 1) fail(fmt::format("{} line {}: rides are not numbered one by one", rides.path, i + 2));
        total[w].push_back(total[w].back() + 1e-6 * rides.number(i, w == 0 ? "front_energy_J" : "rear_energy_J"));
      }
    }
    for (std::size_t i = 0; i < fitted.rows.size(); ++i) row_of[{fitted.text(i, "component"), fitted.whole(i, "set")}] = i;
  }
  double work(std::size_t w, int first, int last) const {
    return total[w][static_cast<std::size_t>(last)] - total[w][static_cast<std::size_t>(std::min(first - 1, last))];
  }
  std::vector<Point> points(const std::string& component, int set, int start, int as_of) const {
    std::vector<Point> out;
    const std::size_t w = component.starts_with("front") ? 0 : 1;
    for (std::size_t i = 0; i < readings.rows.size(); ++i) {
      const int ride = readings.whole(i, "ride");
      if (ride > as_of || readings.text(i, "component") != component || readings.whole(i, "set") != set) continue;
      out.push_back({work(w, start, ride), readings.number(i, "thickness_mm"), std::hypot(readings.number(i, "sd_mm"), readings.number(i, "resolution_mm") / std::sqrt(12.0))});
    }
    return out;
  }
  // Readings up to a ride of the components and sets that WANTED says.
  template <class F> int readings_of(int as_of, F wanted) const {
    int n = 0;
    for (std::size_t i = 0; i < readings.rows.size(); ++i)
      n += readings.whole(i, "ride") <= as_of && wanted(readings.text(i, "component"), readings.whole(i, "set"));
    return n;
  }
  Quantiles forecast(const Case& c) const {
    const std::size_t w = c.component.starts_with("front") ? 0 : 1, row = row_of.at({c.component, c.set});
    LineInput in{};
    in.new_mm = fitted.number(row, "new_mm");
    in.new_sd_mm = c.rotor() ? 0.02 : 0.06;
    in.limit_mm = fitted.number(row, "limit_mm");
    in.points = points(c.component, c.set, c.start, c.as_of);
    in.work_now_MJ = work(w, c.start, c.as_of);
    in.as_of_ride = c.as_of;
    for (int r = 1; r <= c.as_of; ++r) in.ride_MJ.push_back(work(w, r, r));
    // Earlier sets on this wheel, either side; failing that the usual wear, right within a factor of 3 nine times in ten.
    std::vector<double> earlier;
    for (const auto& [key, at] : row_of) {
      if (key.second >= c.set || key.first.starts_with("front") != (w == 0) || key.first.ends_with("rotor") != c.rotor()) continue;
      const int start = fitted.whole(at, "start_ride");
      auto p = points(key.first, key.second, start, c.as_of);
      p.insert(p.begin(), {0, fitted.number(at, "new_mm"), 0});
      if (const auto slope = theil_sen(p); slope && *slope < 0) earlier.push_back(-*slope);
    }
    if (!earlier.empty()) {
      std::sort(earlier.begin(), earlier.end());
      in.usual_mm_MJ = earlier[earlier.size() / 2];
      in.usual_log_sd = 0.3;
    } else {
      const std::string& compound = fitted.text(row, "compound");
      const auto rate = rates.find(compound.empty() ? "organic" : compound);
      if (rate == rates.end()) fail(fmt::format("{} line {}: compound '{}' is not in the priors", fitted.path, row + 2, compound));
      in.usual_mm_MJ = (c.rotor() ? rate->second[1] : 0.5 * rate->second[0]) / fitted.number(row, "friction_area_mm2");
      in.usual_log_sd = std::log(3.0) / 1.645;
    }
    return line_forecast(in);
  }
};

// Mean of a quantity over cases, with its standard error when riders, not cases, are independent.
struct Mean { double value = 0, se = 0; int n = 0; };
template <class F> Mean mean_of(const std::vector<Case>& cases, const std::vector<std::size_t>& which, F f) {
  Mean m;
  std::map<std::string, double> by_rider;
  for (const std::size_t i : which) m.value += f(i);
  m.n = static_cast<int>(which.size());
  if (m.n == 0) return m;
  m.value /= m.n;
  for (const std::size_t i : which) by_rider[cases[i].rider] += f(i) - m.value;
  for (const auto& [rider, x] : by_rider) m.se += x * x;
  m.se = std::sqrt(m.se) / m.n;
  return m;
}

// What was known of the part: the classes of docs/measured.md, "How far one can get". Each forecast is in one of them.
const std::vector<std::string> known_order = {"pads, no pad of the bike ever read", "pads, pair unread, no earlier pair of the wheel read", "pads, pair unread, 1 to 10 readings of earlier pairs",
                                              "pads, pair unread, over 10 readings of earlier pairs", "pads, unread, the other pad of it read", "pads, 1 or 2 readings", "pads, 3 to 5", "pads, more",
                                              "rotors unread", "rotors read"};
const std::string& known_of(const Case& c) {
  const auto& k = known_order;
  if (c.rotor()) return k[c.readings == 0 ? 8 : 9];
  if (c.readings > 0) return k[c.readings < 3 ? 5 : c.readings < 6 ? 6 : 7];
  if (c.of_pair > 0) return k[4];
  return k[c.of_pads == 0 ? 0 : c.of_wheel == 0 ? 1 : c.of_wheel <= 10 ? 2 : 3];
}

// A part known to be past its limit is "now": what lies before as_of counts as as_of, for forecast and truth alike.
Quantiles from_now(Quantiles q, const Case& c) {
  for (double& x : q) x = std::max(x, static_cast<double>(c.as_of));
  return q;
}

struct Options {
  fs::path dir, priors;
  std::string forecast = "FORECAST.csv", prior_alone, hold;
  double most_crps = 0;   // where what is asked is missed: what is held all the same
  long from = 0, to = 1L << 40;
};

int judge(const Options& o) {
  std::vector<fs::path> dirs;
  for (const auto& entry : fs::directory_iterator(o.dir)) {
    if (!fs::exists(entry.path() / "truth.csv")) continue;
    const std::string name = entry.path().filename().string();
    const long seed = std::stol(name.substr(name.rfind('-') + 1));
    if (seed >= o.from && seed <= o.to) dirs.push_back(entry.path());
  }
  std::sort(dirs.begin(), dirs.end());
  if (dirs.empty()) fail(o.dir.string() + ": no rider's folder with a truth.csv among these seeds");

  const auto rates = read_rates(o.priors);
  const bool ours = o.forecast != "none", oracle = fs::exists(dirs[0] / "oracle.csv"), informed = fs::exists(dirs[0] / "informed.csv");
  std::vector<std::pair<std::string, std::string>> files;
  if (ours) files.push_back({"program", o.forecast});
  if (!o.prior_alone.empty()) files.push_back({"prior alone", o.prior_alone});
  if (oracle) files.push_back({"oracle", "oracle.csv"});
  if (informed) files.push_back({"informed", "informed.csv"});
  std::vector<Source> sources;
  for (const auto& [name, file] : files) sources.push_back({name, {}});
  sources.push_back({"line", {}});

  std::vector<Case> cases;
  int beyond = 0;
  for (const fs::path& dir : dirs) {
    const Table truth = read_table(dir / "truth.csv");
    const LineOfRider line(dir, rates);
    std::map<Key, int> horizon;
    for (std::size_t i = 0; i < truth.rows.size(); ++i) horizon[key_of(truth, i)] = truth.whole(i, "simulated_to_ride");
    std::vector<std::map<Key, Quantiles>> read;
    for (const auto& [name, file] : files) read.push_back(read_forecasts(dir / file, horizon));
    const std::string rider = dir.filename().string();
    for (std::size_t i = 0; i < truth.rows.size(); ++i) {
      const Key key = key_of(truth, i);
      const auto& [component, set, as_of] = key;
      for (std::size_t s = 0; s < read.size(); ++s)
        if (!read[s].count(key)) fail(fmt::format("{}: no forecast for {} set {} as of ride {}", (dir / files[s].second).string(), component, set, as_of));
      if (truth.text(i, "limit_ride").empty()) { ++beyond; continue; }
      Case c{rider, rider.substr(0, rider.rfind('-')), component, set, as_of, line.fitted.whole(line.row_of.at({component, set}), "start_ride"), truth.whole(i, "limit_ride"), 0, 0, 0, 0};
      c.readings = static_cast<int>(line.points(component, set, c.start, as_of).size());
      const std::string wheel = component.substr(0, component.find('_'));
      c.of_pads = line.readings_of(as_of, [&](const std::string& x, int) { return x.ends_with("pad"); });
      c.of_pair = line.readings_of(as_of, [&, n = set](const std::string& x, int s) { return x.ends_with("pad") && x.starts_with(wheel) && s == n; }) - c.readings;
      c.of_wheel = line.readings_of(as_of, [&, n = set](const std::string& x, int s) { return x.ends_with("pad") && x.starts_with(wheel) && s < n; });
      for (std::size_t s = 0; s < read.size(); ++s) sources[s].forecasts.push_back(from_now(read[s].at(key), c));
      sources.back().forecasts.push_back(from_now(line.forecast(c), c));
      cases.push_back(std::move(c));
    }
  }

  std::map<std::string, std::vector<std::size_t>> groups;
  const std::vector<std::string> thirds = {"first third", "middle third", "last third"};
  std::vector<std::string> order = {"all", thirds[0], thirds[1], thirds[2], "no reading", "1 or 2 readings", "more readings", "a reading or more", "pads", "rotors"};
  order.insert(order.end(), known_order.begin(), known_order.end());
  for (std::size_t i = 0; i < cases.size(); ++i) {
    groups["all"].push_back(i);
    groups[thirds[static_cast<std::size_t>(std::clamp(3 * cases[i].used(), 0.0, 2.0))]].push_back(i);
    groups[cases[i].readings == 0 ? "no reading" : cases[i].readings < 3 ? "1 or 2 readings" : "more readings"].push_back(i);
    if (cases[i].readings > 0) groups["a reading or more"].push_back(i);   // only there is a straight line of this part's own
    groups[cases[i].rotor() ? "rotors" : "pads"].push_back(i);
    groups[known_of(cases[i])].push_back(i);
    if (!groups.count(cases[i].kind)) order.push_back(cases[i].kind);
    groups[cases[i].kind].push_back(i);
  }

  fmt::print("{} forecasts, {} riders; {} more whose limit lies beyond the simulated rides are left out\n\n", cases.size(), dirs.size(), beyond);
  fmt::print("| who | group | n | in 90 %, % (se) | in 50 %, % (se) | truth below p05, % | above p95, % | CRPS, % of life | interval score 90 %, % of life | 50 % |\n|---|---|---|---|---|---|---|---|---|---|\n");
  std::map<std::pair<std::string, std::string>, double> crps_of;
  std::map<std::pair<std::string, std::string>, std::array<double, 2>> cover_of;
  for (const Source& s : sources)
    for (const std::string& g : order) {
      const auto& which = groups[g];
      if (which.empty()) continue;
      const auto truth = [&](std::size_t i) { return std::max<double>(cases[i].limit, cases[i].as_of); };
      const auto q = [&](std::size_t i) -> const Quantiles& { return s.forecasts[i]; };
      const Mean in90 = mean_of(cases, which, [&](std::size_t i) { return 100.0 * (q(i)[1] <= truth(i) && truth(i) <= q(i)[5]); });
      const Mean in50 = mean_of(cases, which, [&](std::size_t i) { return 100.0 * (q(i)[2] <= truth(i) && truth(i) <= q(i)[4]); });
      const Mean below = mean_of(cases, which, [&](std::size_t i) { return 100.0 * (truth(i) < q(i)[1]); });
      const Mean above = mean_of(cases, which, [&](std::size_t i) { return 100.0 * (truth(i) > q(i)[5]); });
      const Mean score = mean_of(cases, which, [&](std::size_t i) { return 100 * crps(q(i), truth(i)) / cases[i].life(); });
      const Mean wide = mean_of(cases, which, [&](std::size_t i) { return 100 * interval_score(q(i)[1], q(i)[5], 0.1, truth(i)) / cases[i].life(); });
      const Mean half = mean_of(cases, which, [&](std::size_t i) { return 100 * interval_score(q(i)[2], q(i)[4], 0.5, truth(i)) / cases[i].life(); });
      fmt::print("| {} | {} | {} | {:.1f} ({:.1f}) | {:.1f} ({:.1f}) | {:.1f} | {:.1f} | {:.1f} | {:.0f} | {:.0f} |\n", s.name, g, in90.n, in90.value, in90.se, in50.value, in50.se,
                 below.value, above.value, score.value, wide.value, half.value);
      crps_of[{s.name, g}] = score.value;
      cover_of[{s.name, g}] = {in90.value, in50.value};
    }

  // Beside what nobody can beat: README.md, "The informed forecaster". One rider's forecasts are compared with one another, riders are independent.
  if (informed) {
    const auto at = [&](const std::string& name) { return std::find_if(sources.begin(), sources.end(), [&](const Source& s) { return s.name == name; }); };
    const auto score = [&](const Source& s, std::size_t i) { return 100 * crps(s.forecasts[i], std::max<double>(cases[i].limit, cases[i].as_of)) / cases[i].life(); };
    fmt::print("\n| CRPS, % of life (se) | n | program | informed | informed expects | the same, leaning short | program less informed | of all: points lost | oracle |\n|---|---|---|---|---|---|---|---|---|\n");
    for (const std::string& g : order) {
      const auto& which = groups[g];
      if (which.empty()) continue;
      const auto cell = [&](const std::string& name) {
        if (at(name) == sources.end()) return std::string();
        const Mean m = mean_of(cases, which, [&](std::size_t i) { return score(*at(name), i); });
        return fmt::format("{:.1f} ({:.1f})", m.value, m.se);
      };
      std::string lost, share;
      if (ours) {
        const Mean m = mean_of(cases, which, [&](std::size_t i) { return score(*at("program"), i) - score(*at("informed"), i); });
        lost = fmt::format("{:.1f} ({:.1f})", m.value, m.se);
        share = fmt::format("{:.2f}", m.value * m.n / static_cast<double>(cases.size()));
      }
      const Mean own = mean_of(cases, which, [&](std::size_t i) { return 100 * expected_share(at("informed")->forecasts[i], at("informed")->forecasts[i], cases[i].start); });
      const Mean least = mean_of(cases, which, [&](std::size_t i) {
        const Quantiles& q = at("informed")->forecasts[i];
        return 100 * expected_share(leaning(q, cases[i].start), q, cases[i].start);
      });
      fmt::print("| {} | {} | {} | {} | {:.1f} ({:.1f}) | {:.1f} ({:.1f}) | {} | {} | {} |\n", g, which.size(), cell("program"), cell("informed"), own.value, own.se, least.value, least.se, lost, share, cell("oracle"));
    }
  }

  fmt::print("\n| who | CRPS better than the line, %: all | {} | {} | {} |\n|---|---|---|---|---|\n", thirds[0], thirds[1], thirds[2]);
  const auto gain = [&](const std::string& who, const std::string& g) { return groups[g].empty() ? std::nan("") : 100 * (1 - crps_of[{who, g}] / crps_of[{"line", g}]); };
  for (const Source& s : sources)
    if (s.name != "line") fmt::print("| {} | {:.0f} | {:.0f} | {:.0f} | {:.0f} |\n", s.name, gain(s.name, "all"), gain(s.name, thirds[0]), gain(s.name, thirds[1]), gain(s.name, thirds[2]));

  // Warnings: a part's last forecast before its limit, and every forecast. Each part reaches its limit in the end (truth goes on beyond replacement).
  fmt::print("\n| who | parts | warned by the look-by ride (p005) of the last forecast before the limit, % | false alarms: that ride left over a third of life unused, % | "
             "life unused then, median % | forecasts before the limit | limit not before the look-by ride, % |\n|---|---|---|---|---|---|---|\n");
  std::map<std::string, double> warned_of;
  for (const Source& s : sources) {
    std::map<std::tuple<std::string, std::string, int>, std::size_t> last;
    int all = 0, held = 0, warned = 0, false_alarms = 0;
    for (std::size_t i = 0; i < cases.size(); ++i) {
      const Case& c = cases[i];
      if (c.as_of >= c.limit) continue;
      ++all;
      held += s.forecasts[i][0] <= c.limit;
      const auto [at, fresh] = last.try_emplace({c.rider, c.component, c.set}, i);
      if (!fresh && cases[at->second].as_of < c.as_of) at->second = i;
    }
    std::vector<double> unused;
    for (const auto& [part, i] : last) {
      warned += s.forecasts[i][0] <= cases[i].limit;
      unused.push_back(100 * (cases[i].limit - s.forecasts[i][0]) / cases[i].life());
      false_alarms += unused.back() > 100.0 / 3;
    }
    if (unused.empty()) continue;
    std::sort(unused.begin(), unused.end());
    const auto n = static_cast<double>(last.size());
    fmt::print("| {} | {} | {:.1f} | {:.1f} | {:.0f} | {} | {:.1f} |\n", s.name, last.size(), 100 * warned / n, 100 * false_alarms / n, unused[unused.size() / 2], all, 100.0 * held / all);
    warned_of[s.name] = 100 * warned / n;
  }

  if (o.hold.empty()) return 0;
  int broken = 0;
  const auto demand = [&](bool kept, const std::string& what) {
    if (!kept) { fmt::print("not met: {}\n", what); ++broken; }
  };
  const double most = o.hold == "given" ? 9 : 11;
  const auto whole = cover_of[{"program", "all"}];
  demand(whole[0] >= 85 && whole[0] <= 95, fmt::format("90 % intervals hold 85 to 95 %: {:.1f}", whole[0]));
  demand(whole[1] >= 45 && whole[1] <= 55, fmt::format("50 % intervals hold 45 to 55 %: {:.1f}", whole[1]));
  for (const auto& third : thirds) {
    const double x = cover_of[{"program", third}][0];
    demand(x >= 80 && x <= 95, fmt::format("90 % intervals hold 80 to 95 % in the {}: {:.1f}", third, x));
    demand(gain("program", third) >= 25, fmt::format("CRPS at least 25 % better than the line in the {}: {:.0f}", third, gain("program", third)));
  }
  const double crps_now = crps_of[{"program", "all"}];
  if (o.most_crps > most && crps_now > most) fmt::print("asked and missed: CRPS at most {} % of life: {:.1f}; held to {} here\n", most, crps_now, o.most_crps);
  demand(crps_now <= std::max(most, o.most_crps), fmt::format("CRPS at most {} % of life: {:.1f}", std::max(most, o.most_crps), crps_now));
  demand(gain("program", "all") >= 40, fmt::format("CRPS at least 40 % better than the line: {:.0f}", gain("program", "all")));
  demand(warned_of["program"] >= 99, fmt::format("99 % warned: {:.1f}", warned_of["program"]));
  return broken > 0;
}

}  // namespace

int main(int argc, char** argv) {
  try {
    Options o;
    for (int i = 1; i < argc; ++i) {
      const std::string arg = argv[i];
      const auto value = [&]() -> std::string {
        if (i + 1 >= argc) fail(arg + " needs a value");
        return argv[++i];
      };
      if (arg == "--priors") o.priors = value();
      else if (arg == "--forecast") o.forecast = value();
      else if (arg == "--prior-alone") o.prior_alone = value();
      else if (arg == "--from") o.from = std::stol(value());
      else if (arg == "--to") o.to = std::stol(value());
      else if (arg == "--hold") o.hold = value();
      else if (arg == "--most-crps") o.most_crps = std::stod(value());
      else if (!arg.starts_with("--") && o.dir.empty()) o.dir = arg;
      else fail("unknown argument '" + arg + "'");
    }
    if (o.dir.empty() || o.priors.empty() || (o.hold != "" && (o.forecast == "none" || (o.hold != "given" && o.hold != "own"))))
      fail("judge_forecasts DIR --priors PRIORS.toml [--forecast NAME|none] [--prior-alone NAME] [--from SEED] [--to SEED] [--hold given|own [--most-crps PERCENT]]");
    return judge(o);
  } catch (const std::exception& e) {
    std::cerr << "judge_forecasts: " << e.what() << "\n";
    return 2;
  }
}
