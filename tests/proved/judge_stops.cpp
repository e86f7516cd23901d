// SPDX-License-Identifier: Apache-2.0
// Judges gains and alarms of `stop --proof` by the truth, beside the oracle.   Layer: tests/proved
// Scores: score.hpp, ../worn/score.hpp.
#include <fmt/format.h>

#include <algorithm>
#include <filesystem>
#include <fstream>
#include <iostream>
#include <nlohmann/json.hpp>
#include <optional>
#include <sstream>
#include <vector>

#include "../worn/score.hpp"
#include "score.hpp"

namespace {
using proved::Share;
namespace fs = std::filesystem;

std::vector<std::vector<std::string>> table(const fs::path& path) {
  std::ifstream in(path);
  if (!in) throw std::runtime_error("cannot read " + path.string());
  std::vector<std::vector<std::string>> rows;
  std::string line;
  std::getline(in, line);
  while (std::getline(in, line)) {
    std::stringstream fields(line);
    rows.emplace_back();
    for (std::string field; std::getline(fields, field, ',');) rows.back().push_back(field);
  }
  return rows;
}

struct Answer { double p05, p25, p50, p75, p95; bool alarm; };
struct Item {
  std::string scenario, bike, wheel;
  double gain, share;
  int scaled, scaled_history;
  std::optional<Answer> program, oracle;
  bool program_alarm = false;
};

std::vector<Item> read(const fs::path& root, bool with_program) {
  std::vector<fs::path> dirs;
  for (const auto& entry : fs::directory_iterator(root))
    if (entry.is_directory()) dirs.push_back(entry.path());
  std::sort(dirs.begin(), dirs.end());
  std::vector<Item> items;
  for (const fs::path& dir : dirs) {
    const std::string name = dir.filename().string();
    const auto truth = table(dir / "truth.csv"), known = table(dir / "oracle.csv");
    nlohmann::json answer;
    if (with_program) {
      std::ifstream in(dir / "stop.json");
      if (!in) throw std::runtime_error("cannot read " + (dir / "stop.json").string());
      answer = nlohmann::json::parse(in);
    }
    for (std::size_t w = 0; w < truth.size(); ++w) {
      Item i{name.substr(0, name.find('-')), name.substr(name.find('-') + 1), truth[w].at(0), std::stod(truth[w].at(1)), std::stod(truth[w].at(2)), std::stoi(truth[w].at(3)), std::stoi(truth[w].at(4)), {}, {}};
      const auto at = [&](std::size_t column) { return std::stod(known[w].at(column)); };
      i.oracle = Answer{at(1), at(2), at(3), at(4), at(5), known[w].at(6) == "1"};
      if (with_program) {
        const auto& gain = answer.at("gain").at(i.wheel);
        if (!gain.is_null()) {
          i.program_alarm = gain.at("alarm").get<bool>();
          if (gain.at("p05").is_number() && gain.at("p50").is_number() && gain.at("p95").is_number()) {
            Answer a{gain.at("p05"), 0, gain.at("p50"), 0, gain.at("p95"), i.program_alarm};
            const auto half = proved::middle_half(a.p05, a.p50, a.p95);
            a.p25 = half[0];
            a.p75 = half[1];
            i.program = a;
          }
        }
      }
      items.push_back(i);
    }
  }
  if (items.empty()) throw std::runtime_error(root.string() + ": no folders of cases");
  return items;
}

std::string percent(const Share& s) { return s.bikes.empty() ? "     -      " : fmt::format("{:5.1f} ± {:4.1f}", 100 * s.value(), 100 * s.standard_error()); }

int failures = 0;
void hold(bool holds, const std::string& what) {
  fmt::print("{}  {}\n", holds ? "kept  " : "MISSED", what);
  failures += holds ? 0 : 1;
}

}  // namespace

int main(int argc, char** argv) {
  try {
    std::string dir;
    bool with_program = true, holding = false;
    for (int i = 1; i < argc; ++i) {
      const std::string arg = argv[i];
      if (arg == "--oracle-alone") with_program = false;
      else if (arg == "--hold") holding = true;
      else if (!arg.starts_with("--") && dir.empty()) dir = arg;
      else throw std::invalid_argument("unknown argument '" + arg + "'; judge_stops DIR [--oracle-alone] [--hold]");
    }
    if (dir.empty() || (holding && !with_program)) throw std::invalid_argument("judge_stops DIR [--oracle-alone | --hold]");
    const auto items = read(dir, with_program);

    std::map<std::string, Share> program_cover;
    fmt::print("Gain on the day, m/s2 per N. 90 %, 50 %: share of truths inside. ln bias: mean of ln(p50/truth), its sd. Width: median p95/p05. Score: interval score (90 %) over truth, mean.\n");
    fmt::print("{:<10} {:<6} {:<8} {:>5} {:>5}  {:>12}  {:>12}  {:>16}  {:>6} {:>6}\n", "scenario", "wheel", "who", "n", "none", "90 %", "50 %", "ln bias, sd", "width", "score");
    for (const std::string scenario : {"first", "again", "faded", "mixed", "unscaled"})
      for (const std::string wheel : {"front", "rear", "all"})
        for (const std::string who : {"program", "oracle"}) {
          if (who == "program" && !with_program) continue;
          Share ninety, fifty;
          std::vector<double> widths;
          double bias = 0, squares = 0, score = 0;
          int n = 0, none = 0;
          for (const Item& i : items) {
            // Without a scaled stop on the day there is only what such bikes have: a row of its own.
            if (wheel != "all" && i.wheel != wheel) continue;
            if (scenario == "unscaled" ? i.scaled > 0 : i.scenario != scenario || i.scaled == 0) continue;
            const auto& a = who == "program" ? i.program : i.oracle;
            if (!a) {
              ++none;
              continue;
            }
            ++n;
            ninety.add(i.bike, a->p05 <= i.gain && i.gain <= a->p95);
            fifty.add(i.bike, a->p25 <= i.gain && i.gain <= a->p75);
            const double off = std::log(a->p50 / i.gain);
            bias += off;
            squares += off * off;
            score += worn::interval_score(a->p05, a->p95, 0.1, i.gain) / i.gain;
            widths.push_back(a->p95 / a->p05);
          }
          if (n == 0) {
            if (none > 0) fmt::print("{:<10} {:<6} {:<8} {:>5} {:>5}\n", scenario, wheel, who, n, none);
            continue;
          }
          std::nth_element(widths.begin(), widths.begin() + n / 2, widths.end());
          const double mean = bias / n;
          fmt::print("{:<10} {:<6} {:<8} {:>5} {:>5}  {:>12}  {:>12}  {:>+7.3f}, {:>6.3f}  {:>6.3f} {:>6.3f}\n", scenario, wheel, who, n, none, percent(ninety), percent(fifty), mean,
                     std::sqrt(std::max(0.0, squares / n - mean * mean)), widths[static_cast<std::size_t>(n / 2)], score / n);
          if (who == "program" && wheel == "all") program_cover[scenario] = ninety;
        }

    fmt::print("\nAlarms, % of wheels. Found: at 60 % after five earlier scaled stops. False: sound.\n{:<8}  {:>12} {:>12} {:>12}  {:>12} {:>12} {:>12} {:>12}\n", "who", "found", "front", "rear", "false:again",
               "faded", "first", "mixed");
    Share program_found, program_false;
    for (const std::string who : {"program", "oracle"}) {
      if (who == "program" && !with_program) continue;
      Share found, found_front, found_rear;
      std::map<std::string, Share> wrong;
      for (const Item& i : items) {
        const bool alarm = who == "program" ? i.program_alarm : i.oracle->alarm;
        if (i.share < 1) {
          found.add(i.bike, alarm);
          (i.wheel == "front" ? found_front : found_rear).add(i.bike, alarm);
        } else {
          wrong[i.scenario].add(i.bike, alarm);
          if (who == "program" && (i.scenario == "again" || i.scenario == "faded")) program_false.add(i.bike, alarm);
        }
      }
      if (who == "program") program_found = found;
      fmt::print("{:<8}  {:>12} {:>12} {:>12}  {:>12} {:>12} {:>12} {:>12}\n", who, percent(found), percent(found_front), percent(found_rear), percent(wrong["again"]), percent(wrong["faded"]), percent(wrong["first"]),
                 percent(wrong["mixed"]));
    }

    if (holding) {
      fmt::print("\n");
      for (const std::string scenario : {"first", "again", "faded", "mixed"}) {
        const auto found = program_cover.find(scenario);
        const double p = found == program_cover.end() ? 0 : found->second.value();
        hold(p >= 0.85 && p <= 0.95, fmt::format("{}: 90 % intervals cover {:.1f} % (asked 85 to 95)", scenario, 100 * p));
      }
      int none = 0;
      for (const Item& i : items) none += i.scaled > 0 && !i.program ? 1 : 0;
      hold(none == 0, fmt::format("{} wheels with scaled stops have no interval (asked 0)", none));
      hold(program_found.value() >= 0.95, fmt::format("a brake at 60 % is found in {:.1f} % (asked at least 95)", 100 * program_found.value()));
      hold(program_false.value() < 0.05, fmt::format("a sound brake raises the alarm in {:.1f} % (asked under 5)", 100 * program_false.value()));
    }
    return failures == 0 ? 0 : 1;
  } catch (const std::exception& e) {
    std::cerr << "judge_stops: " << e.what() << "\n";
    return 2;
  }
}
