// SPDX-License-Identifier: Apache-2.0
// Checks of the generator itself: energy books, files, spreads.   Layer: demo
#include "self_check.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <array>
#include <cmath>
#include <functional>
#include <optional>
#include <string>
#include <string_view>
#include <vector>

#include "files.hpp"
#include "plans.hpp"

namespace rides {

namespace {

//! Empty if every tag closes in order and every track point has one position, then ele, time, extensions in that order.
std::string xml_fault(const std::string& text) {
  std::vector<std::string> open;
  std::vector<std::string> inside_point;
  std::size_t i = 0;
  while ((i = text.find('<', i)) != std::string::npos) {
    const std::size_t end = text.find('>', i);
    if (end == std::string::npos) return "a tag has no end";
    std::string tag = text.substr(i + 1, end - i - 1);
    i = end + 1;
    if (tag.starts_with("?")) continue;
    if (std::count(tag.begin(), tag.end(), '"') % 2 != 0) return "odd quotes in <" + tag + ">";
    if (tag.starts_with("/")) {
      if (open.empty() || open.back() != tag.substr(1)) return "</" + tag.substr(1) + "> closes nothing";
      open.pop_back();
      if (tag == "/trkpt") {
        const std::vector<std::string> two = {"ele", "time"};
        const std::vector<std::string> three = {"ele", "time", "extensions"};
        if (inside_point != two && inside_point != three) return "children of a track point are out of order";
        inside_point.clear();
      }
    } else {
      std::string name = tag.substr(0, tag.find(' '));
      if (!open.empty() && open.back() == "trkpt") inside_point.push_back(name);
      open.push_back(std::move(name));
    }
  }
  return open.empty() ? "" : "<" + open.back() + "> stays open";
}

//! A small reader of FIT records, written apart from the writer: fails on a wrong length, checksum or field.
std::optional<std::vector<Record>> read_fit(const std::string& file, std::int64_t start_s) {
  const auto byte = [&](std::size_t i) { return static_cast<std::uint64_t>(static_cast<unsigned char>(file[i])); };
  const auto number_at = [&](std::size_t i, std::size_t bytes, bool big) {
    std::uint64_t x = 0;
    for (std::size_t k = 0; k < bytes; ++k) x |= byte(i + k) << (8 * (big ? bytes - 1 - k : k));
    return x;
  };
  if (file.size() < 16 || byte(0) != 14 || file.substr(8, 4) != ".FIT") return std::nullopt;
  const std::size_t size = number_at(4, 4, false);
  if (file.size() != 14 + size + 2) return std::nullopt;
  // The checksum of bytes followed by their own checksum is zero.
  if (fit_checksum(file) != 0 || fit_checksum(file.substr(0, 14)) != 0) return std::nullopt;
  struct Layout {
    bool big = false;
    std::uint64_t message = 0xffff;
    std::vector<std::pair<int, std::size_t>> fields;
  };
  std::array<Layout, 16> layouts;
  std::vector<Record> out;
  std::uint64_t time = 0;
  std::size_t i = 14;
  const std::size_t end = 14 + size;
  while (i < end) {
    const std::uint64_t head = byte(i++);
    const bool brief = (head & 0x80) != 0;
    const std::size_t local = brief ? (head >> 5) & 3 : head & 15;
    if (!brief && (head & 0x40) != 0) {
      Layout& l = layouts[local];
      l.big = byte(i + 1) == 1;
      l.message = number_at(i + 2, 2, l.big);
      l.fields.clear();
      const std::size_t count = byte(i + 4);
      for (std::size_t k = 0; k < count; ++k) l.fields.emplace_back(static_cast<int>(byte(i + 5 + 3 * k)), byte(i + 6 + 3 * k));
      i += 5 + 3 * count;
      continue;
    }
    const Layout& l = layouts[local];
    Record r{};
    if (brief) time += (((head & 31) + 32) - (time & 31)) & 31;
    for (const auto& [number, bytes] : l.fields) {
      if (i + bytes > end) return std::nullopt;
      const std::uint64_t x = number_at(i, bytes, l.big);
      i += bytes;
      const auto degrees = [&] { return static_cast<double>(static_cast<std::int32_t>(static_cast<std::uint32_t>(x))) * 180 / 2147483648.0; };
      if (number == 253) time = x;
      else if (number == 0) r.latitude_deg = degrees();
      else if (number == 1) r.longitude_deg = degrees();
      else if (number == 2) r.altitude_m = static_cast<double>(x) / 5 - 500;
      else if (number == 6) r.speed_mps = static_cast<double>(x) / 1000;
      else if (number == 7) r.power_W = static_cast<double>(x);
    }
    r.t_s = static_cast<std::int64_t>(time) - start_s;
    if (l.message == 20) out.push_back(r);
  }
  return out;
}

bool same(const Record& a, const Record& b) {
  return a.t_s == b.t_s && a.latitude_deg == b.latitude_deg && a.longitude_deg == b.longitude_deg && a.altitude_m == b.altitude_m &&
         a.speed_mps == b.speed_mps && a.power_W == b.power_W && a.temperature_degC == b.temperature_degC;
}

std::size_t count_of(const std::string& text, std::string_view word) {
  std::size_t n = 0;
  for (std::size_t k = text.find(word); k != std::string::npos; k = text.find(word, k + 1)) ++n;
  return n;
}

using Expect = std::function<void(bool, const std::string&)>;

//! What the study adds: told mass, wind, steps of altitude, gaps, faults, formats, applications.
void check_study(std::string_view kind, std::uint64_t seed, const Expect& expect) {
  const std::string who = fmt::format("study {} seed {}", kind, seed);
  const Plan plan = *study_plan(kind, seed);
  const Ride ride = simulate(plan, seed);
  const auto seconds = static_cast<std::int64_t>(ride.states.size()) / steps_per_s;
  expect(seconds >= 20 * 60 - 1 && seconds <= 45 * 60, fmt::format("{}: {} s long", who, seconds));
  expect(plan.told_mass_kg == std::round(plan.told_mass_kg) && std::abs(ride.machine.mass_kg / plan.told_mass_kg - 1) <= 0.015, who + ": the told mass is too far off");
  expect(ride.wind_mps <= 5, who + ": too much wind");

  const auto off_step = [](const Recording& r, double step) {
    return std::any_of(r.records.begin(), r.records.end(), [&](const Record& x) { return std::abs(std::remainder(x.altitude_m, step)) > 1e-6; });
  };
  const Sensors plain{.speed = true, .power = true};
  const Recording clean = record(ride, plain);
  Sensors coarse = plain;
  coarse.altitude_step_m = 1;
  expect(!off_step(clean, 0.2) && off_step(clean, 1) && !off_step(record(ride, coarse), 1), who + ": altitude is not in steps");

  Sensors frugal = plain;
  frugal.sampling = Sampling::irregular;
  const Recording sparse = record(ride, frugal);
  std::int64_t longest = 0;
  for (std::size_t i = 1; i < sparse.records.size(); ++i) longest = std::max(longest, sparse.records[i].t_s - sparse.records[i - 1].t_s);
  expect(longest >= 5 && longest <= 8, fmt::format("{}: irregular points up to {} s apart", who, longest));

  // Gaps: nothing inside, on the move, and nothing else changed.
  Sensors gappy = plain;
  gappy.gaps = true;
  const Recording holed = record(ride, gappy);
  expect(!holed.gaps.empty() && holed.gaps.size() <= 3, who + ": no gaps, or too many");
  std::vector<Record> kept;
  for (const Record& r : clean.records) {
    if (std::none_of(holed.gaps.begin(), holed.gaps.end(), [&](const auto& g) { return r.t_s >= g.first && r.t_s <= g.second; })) kept.push_back(r);
  }
  expect(kept.size() == holed.records.size() && std::equal(kept.begin(), kept.end(), holed.records.begin(), same), who + ": a gap changed other records");
  for (const auto& g : holed.gaps) {
    const double metres = ride.states[static_cast<std::size_t>(g.second * steps_per_s)].s_m - ride.states[static_cast<std::size_t>(g.first * steps_per_s)].s_m;
    expect(g.second - g.first >= 59 && g.second - g.first < 100 && metres > 60, who + ": a gap is too short, too long or stands");
  }

  // Faults: each by itself changes its own field, where the truth says.
  const auto spoilt = [&](Faults faults) {
    Sensors sensors = plain;
    sensors.faults = faults;
    return record(ride, sensors);
  };
  const auto check_field = [&](const Recording& r, std::string_view name, double Record::*field, double least, double most) {
    std::size_t changed = 0, stray = 0;
    double largest = 0;
    for (std::size_t i = 0; i < clean.records.size(); ++i) {
      Record x = r.records[i];
      const double by = std::abs(x.*field - clean.records[i].*field);
      if (by == 0 && same(x, clean.records[i])) continue;
      ++changed;
      largest = std::max(largest, by);
      const bool told = std::any_of(r.faults.begin(), r.faults.end(), [&](const Spoilt& f) { return x.t_s >= f.at_s && x.t_s < f.at_s + 3; });
      x.*field = clean.records[i].*field;
      if (name == "position") x.longitude_deg = clean.records[i].longitude_deg;
      if (!told || !same(x, clean.records[i])) ++stray;
    }
    expect(r.records.size() == clean.records.size() && changed >= 2 && stray == 0 && largest >= least - 1e-6 && largest <= most + 1e-6 && r.faults.size() >= 2,
           fmt::format("{}: {} faults: {} records, {} stray, largest {}", who, name, changed, stray, largest));
  };
  check_field(spoilt({.altitude = true}), "altitude", &Record::altitude_m, 12, 30);
  check_field(spoilt({.speed = true}), "speed", &Record::speed_mps, 40, 62);
  check_field(spoilt({.position = true}), "position", &Record::latitude_deg, 1.0 / metres_per_degree, 65.1 / metres_per_degree);
  const Recording late = spoilt({.clock = true});
  std::size_t steps = 0;
  for (std::size_t i = 1; i < late.records.size(); ++i) steps += late.records[i].t_s - late.records[i - 1].t_s != 1 ? 1 : 0;
  expect(steps == 1 && late.faults.size() == 1 && late.records.back().t_s - clean.records.back().t_s == static_cast<std::int64_t>(late.faults[0].size) &&
             late.records.front().t_s == 0, who + ": the clock does not jump once");
  const Recording doubled = spoilt({.duplicates = true});
  std::vector<Record> single;
  for (const Record& r : doubled.records) {
    if (single.empty() || !same(single.back(), r)) single.push_back(r);
  }
  expect(doubled.records.size() > clean.records.size() && single.size() == clean.records.size() && std::equal(single.begin(), single.end(), clean.records.begin(), same),
         who + ": duplicates are not copies");

  // Formats: the same records in each.
  const auto as = [&](Format format, FitStyle style, const Recording& r) {
    Sensors sensors = plain;
    sensors.format = format;
    sensors.fit_style = style;
    return file_of(ride, sensors, r);
  };
  expect(count_of(as(Format::csv, FitStyle::plain, clean), "\n") == clean.records.size() + 1, who + ": CSV has other rows");
  const std::string tcx = as(Format::tcx, FitStyle::plain, clean);
  expect(xml_fault(tcx).empty() && count_of(tcx, "<Trackpoint>") == clean.records.size() && tcx.find("nan") == std::string::npos, who + ": TCX: " + xml_fault(tcx));
  for (const FitStyle style : {FitStyle::plain, FitStyle::big_endian, FitStyle::short_times}) {
    for (const Recording* r : {&clean, &sparse, &holed, &late}) {
      const std::string fit = as(Format::fit, style, *r);
      const auto back = read_fit(fit, start_of(ride) - 631065600);
      bool good = back && back->size() == r->records.size();
      for (std::size_t i = 0; good && i < r->records.size(); ++i) {
        const Record& a = r->records[i];
        const Record& b = (*back)[i];
        good = a.t_s == b.t_s && std::abs(a.latitude_deg - b.latitude_deg) < 1e-7 && std::abs(a.longitude_deg - b.longitude_deg) < 1e-7 &&
               std::abs(a.altitude_m - b.altitude_m) < 0.101 && std::abs(a.speed_mps - b.speed_mps) < 0.00051 && std::abs(a.power_W - b.power_W) < 0.51;
      }
      expect(good, fmt::format("{}: FIT style {} does not give back its records", who, static_cast<int>(style)));
      std::string broken = fit;
      broken[fit.size() / 2] = static_cast<char>(broken[fit.size() / 2] ^ 1);
      expect(!read_fit(broken, 0), who + ": a broken FIT file passes");
    }
  }

  // Applications: apart by 2 s or more, in order, with nearly all of the energy and never more.
  double sum_J = 0, last_s = -10;
  bool apart = true;
  for (const Application& x : applications_of(ride)) {
    apart = apart && x.start_s - last_s >= application_pause_s - 1e-6 && x.end_s > x.start_s;
    last_s = x.end_s;
    sum_J += x.energy_J;
  }
  expect(apart && sum_J <= ride.account.brakes_J * (1 + 1e-9) && sum_J > 0.85 * ride.account.brakes_J,
         fmt::format("{}: applications hold {:.3f} of the energy", who, sum_J / ride.account.brakes_J));
}

//! Many draws at once: spreads are what the study promises. Bounds are three standard errors of 600 draws.
void check_spreads(const Expect& expect) {
  double mass = 0, mass2 = 0, drag = 0, drag2 = 0, roll = 0, roll2 = 0, wind = 0, wind2 = 0;
  const double n = 600;
  for (std::uint64_t seed = 1; seed <= 600; ++seed) {
    const Plan plan = *study_plan(kinds[seed % kinds.size()], seed, 1);
    const Machine usual = typical(plan.bike_kind), drawn = draw_machine(plan, seed);
    const double m = 100 * (plan.machine.mass_kg / plan.told_mass_kg - 1);
    const double d = std::log(drawn.drag_area_m2 / usual.drag_area_m2), r = std::log(drawn.rolling_resistance / usual.rolling_resistance);
    mass += m / n; mass2 += m * m / n; drag += d / n; drag2 += d * d / n; roll += r / n; roll2 += r * r / n;
    wind += *plan.wind_exact_mps / n; wind2 += *plan.wind_exact_mps * *plan.wind_exact_mps / n;
  }
  const auto sd = [](double mean, double square) { return std::sqrt(square - mean * mean); };
  // A normal spread of 0.75 % cut at two standard deviations has 0.66 %.
  expect(std::abs(mass) < 0.09 && std::abs(sd(mass, mass2) - 0.66) < 0.06, fmt::format("mass: mean {:.3f} %, sd {:.3f} %", mass, sd(mass, mass2)));
  expect(std::abs(drag) < 0.015 && std::abs(sd(drag, drag2) - 0.12) < 0.0105, fmt::format("drag area: mean {:.4f}, sd {:.4f}", drag, sd(drag, drag2)));
  expect(std::abs(roll) < 0.022 && std::abs(sd(roll, roll2) - 0.18) < 0.016, fmt::format("rolling resistance: mean {:.4f}, sd {:.4f}", roll, sd(roll, roll2)));
  expect(std::abs(wind - 2.5) < 0.18 && std::abs(sd(wind, wind2) - 5 / std::sqrt(12.0)) < 0.1, fmt::format("wind: mean {:.3f}, sd {:.3f}", wind, sd(wind, wind2)));
}

//! How far the steps of a ride are from those of a bike with one drag area, one rolling resistance and one wind: worst
//! difference in deceleration [m/s2], and of the air on the rider's face [m/s], by equations of its own, away from stands.
struct Unevenness {
  double deceleration_mps2 = 0, air_mps = 0;
};

Unevenness unevenness_of(const Ride& ride) {
  const Machine& bike = ride.machine;
  const double from = ride.wind_from_deg * pi / 180;
  const double inertia_kg = bike.mass_kg + bike.rotating_kg;
  const auto headwind_mps = [&](double s) { return ride.wind_mps * std::cos(at(ride.road.heading, s) - from); };
  const auto roll_on_mps2 = [&](double s, double v) {
    const double sine = at(ride.road.sine, s), z = at(ride.road.altitude_m, s);
    const double ahead = v + headwind_mps(s), across = ride.wind_mps * std::sin(at(ride.road.heading, s) - from);
    const double kelvin = 273.15 + ride.plan.air_degC - 0.0065 * (z - ride.plan.base_altitude_m);
    const double rho = 101325 * std::pow(1 - 0.0065 * z / 288.15, 5.2559) / (287.05 * kelvin);
    const double drag_N = 0.5 * rho * bike.drag_area_m2 * std::sqrt(ahead * ahead + across * across) * ahead;
    return -(drag_N + bike.mass_kg * gravity * (bike.rolling_resistance * std::cos(std::asin(sine)) + sine)) / inertia_kg;
  };
  Unevenness worst;
  for (std::size_t i = 0; i + 1 < ride.states.size(); ++i) {
    const State& x = ride.states[i];
    const State& next = ride.states[i + 1];
    if (x.v_mps < 0.5 || next.v_mps < 0.5) continue;
    const double push = (x.wheel_N - x.brake_N) / inertia_kg;
    const double expected = push + roll_on_mps2(0.5 * (x.s_m + next.s_m), 0.5 * (x.v_mps + next.v_mps));
    worst.deceleration_mps2 = std::max(worst.deceleration_mps2, std::abs((next.v_mps - x.v_mps) / step_s - expected));
    worst.air_mps = std::max(worst.air_mps, std::abs(x.relative_mps - x.v_mps - headwind_mps(x.s_m)));
  }
  return worst;
}

//! The study as listed: wind, drag area and rolling resistance hold still, no legs under a brake, and all else is drawn as in
//! the whole study. The whole study must not pass for it.
void check_listed(std::string_view kind, std::uint64_t seed, const Expect& expect) {
  const std::string who = fmt::format("study as listed {} seed {}", kind, seed);
  const Plan plan = *study_plan(kind, seed, 1, Study::as_listed), whole_plan = *study_plan(kind, seed, 1);
  const Ride ride = simulate(plan, seed), whole = simulate(whole_plan, seed);
  const Unevenness even = unevenness_of(ride), uneven = unevenness_of(whole);
  // Seen: 0.0007 m/s2 where a trail's gradient breaks within a step, else 0.0001; rolling resistance that sways by 14 % gives 0.01.
  expect(even.deceleration_mps2 < 0.002 && even.air_mps < 1e-9,
         fmt::format("{}: wind, drag area or rolling resistance changes: {:.2g} m/s2, {:.2g} m/s", who, even.deceleration_mps2, even.air_mps));
  expect(uneven.deceleration_mps2 > 0.02 && uneven.air_mps > 0.1, who + ": the whole study passes for the study as listed");
  const bool same_machine = ride.machine.mass_kg == whole.machine.mass_kg && ride.machine.drag_area_m2 == whole.machine.drag_area_m2 &&
                            ride.machine.rolling_resistance == whole.machine.rolling_resistance && plan.told_mass_kg == whole_plan.told_mass_kg;
  expect(same_machine && ride.road.altitude_m == whole.road.altitude_m && ride.road.plan_mps == whole.road.plan_mps, who + ": another bike, rider or ground than in the whole study");
  expect(ride.wind_mps == whole.wind_mps && ride.wind_from_deg == whole.wind_from_deg, who + ": another wind than in the whole study");
  bool both = false;
  for (const State& x : ride.states) both = both || (x.brake_N > 0 && (x.pedal_W > 0 || x.wheel_N > 0));
  expect(!both && ride.both_s == 0 && ride.company_s == 0, who + ": legs under a brake, or behind somebody");
}

}  // namespace

int self_check() {
  int faults = 0;
  const Expect expect = [&](bool good, const std::string& what) {
    if (!good) {
      ++faults;
      fmt::print(stderr, "FAULT {}\n", what);
    }
  };
  double both_s = 0;
  const auto look_at = [&](std::string_view kind, std::uint64_t seed, const std::function<std::optional<Plan>(std::string_view, std::uint64_t)>& plan_by) {
    const Plan plan = *plan_by(kind, seed);
    const std::string who = fmt::format("{}{} seed {}", plan.study ? "study " : "", kind, seed);
    const Ride ride = simulate(plan, seed);
    expect(ride.arrived, who + ": the rider never arrived");
    const double gap = std::abs(ride.account.gap_J()) / ride.account.turnover_J();
    expect(gap < 1e-3, fmt::format("{}: the energy account is open by {:.3g}", who, gap));
    expect(ride.account.brakes_J > 0, who + ": nobody braked");
    double hardest = 0;
    double summed_J = 0;
    bool both = false, negative = false, jump = false;
    for (std::size_t i = 0; i < ride.states.size(); ++i) {
      const State& x = ride.states[i];
      both = both || (x.brake_N > 0 && x.wheel_N > 0);
      negative = negative || !(x.brake_J >= 0) || !(x.v_mps >= 0);
      summed_J += x.brake_J;
      if (i > 0) {
        const double a = (x.v_mps - ride.states[i - 1].v_mps) / step_s;
        hardest = std::max(hardest, -a);
        jump = jump || !(std::abs(a) < 8) || x.s_m < ride.states[i - 1].s_m;
      }
    }
    expect(!both || plan.manners.soft_share > 0, who + ": braking while pedalling");
    expect(both == (ride.both_s > 0), who + ": pedalling under the brake is miscounted");
    both_s += ride.both_s;
    const double overshot_m = ride.states.back().s_m - ride.road.halts.back().at_m;
    expect(overshot_m > -8.5 && overshot_m < (plan.study ? 20 : 1), fmt::format("{}: the rider stops {:.1f} m from the last line", who, overshot_m));
    expect(!negative, who + ": a brake that gives energy, or a speed below zero");
    expect(!jump, who + ": a jump in speed or place");
    expect(std::abs(summed_J - ride.account.brakes_J) < 1e-6 * ride.account.brakes_J, who + ": brake energy of states and account differ");

    // The files say the same as the states. 0.005 W is half the last digit of a row.
    const std::string csv = truth_csv(ride);
    double rows = 0, csv_J = 0;
    for (std::size_t line = csv.find('\n') + 1; line < csv.size();) {
      const std::size_t end = csv.find('\n', line);
      std::size_t column = line;
      for (int k = 0; k < 5; ++k) column = csv.find(',', column) + 1;
      csv_J += std::stod(csv.substr(column, csv.find(',', column) - column));
      rows += 1;
      line = end + 1;
    }
    expect(std::abs(csv_J - ride.account.brakes_J) < 0.005 * rows + 1e-6 * ride.account.brakes_J, who + ": truth CSV loses energy");
    for (const Sensors& sensors : {Sensors{}, Sensors{.altitude = Altitude::satellite, .speed = true, .power = true, .temperature = true},
                                   Sensors{.altitude = Altitude::terrain, .sampling = Sampling::irregular}}) {
      const std::string gpx = file_of(ride, sensors);
      const std::string fault = xml_fault(gpx);
      expect(fault.empty(), who + ": GPX: " + fault);
      std::string before;
      std::size_t points = 0;
      bool forward = true;
      for (std::size_t k = gpx.find("<trkpt"); k != std::string::npos; k = gpx.find("<trkpt", k + 1)) {
        const std::size_t stamp = gpx.find("<time>", k) + 6;
        const std::string now = gpx.substr(stamp, 20);
        forward = forward && now > before;
        before = now;
        ++points;
      }
      expect(forward, who + ": times do not rise");
      expect(gpx.find("nan") == std::string::npos, who + ": not a number in the GPX");
      expect(sensors.sampling == Sampling::irregular ? points > ride.states.size() / 80 : points == ride.states.size() / steps_per_s,
             who + ": wrong number of points");
    }
    const Ride again = simulate(*plan_by(kind, seed), seed);
    expect(truth_csv(again) == csv && file_of(again, {}) == file_of(ride, {}), who + ": the same seed gave another ride");
    expect(truth_csv(simulate(plan, seed + 1)) != csv, who + ": another seed gave the same ride");
    fmt::print("{:<18} seed {}  {:5.1f} km {:5.0f} s  brakes {:6.1f} kJ ({:4.1f} kJ/km, {:4.1f} % of the time)  account open by {:.1e}  hardest {:.1f} m/s2\n",
               kind, seed, kilometres(ride), static_cast<double>(ride.states.size()) * step_s, ride.account.brakes_J / 1e3,
               ride.account.brakes_J / 1e3 / kilometres(ride), 100 * ride.braking_s / (static_cast<double>(ride.states.size()) * step_s), gap, hardest);
  };
  for (const std::string_view kind : kinds) {
    for (std::uint64_t seed = 1; seed <= 4; ++seed) look_at(kind, seed, plan_of);
  }
  for (const DemoRide& demo : demo_rides) look_at(demo.name, 1, plan_of);
  expect(both_s == 0, "the plain rider pedals under the brake");
  for (const std::string_view kind : kinds) {
    for (std::uint64_t seed = 11; seed <= 14; ++seed) {
      look_at(kind, seed, [](std::string_view k, std::uint64_t n) { return study_plan(k, n); });
      check_study(kind, seed, expect);
      check_listed(kind, seed, expect);
    }
    look_at(kind, 15, [](std::string_view k, std::uint64_t n) { return study_plan(k, n, Study::as_listed); });
  }
  expect(both_s > 0, "nobody of the study pedals under the brake");
  check_spreads(expect);
  // The checker itself must be able to fail.
  expect(!xml_fault("<a><b></a></b>").empty(), "crossed tags pass");
  expect(!xml_fault("<trkpt><time>1</time><ele>2</ele></trkpt>").empty(), "children in the wrong order pass");
  fmt::print("{} faults\n", faults);
  return faults == 0 ? 0 : 1;
}

}  // namespace rides
