// SPDX-License-Identifier: Apache-2.0
// Altitude, place, speed and power as recorded; what goes wrong.   Layer: demo
// Error models: README.md [D6..D8], [D12].
#include "recording.hpp"

#include <algorithm>
#include <cmath>

namespace rides {

namespace {

struct PlaceError {
  std::vector<double> along_m, across_m;  // of the recorded place, each second
};

double rounded(double x, double step) { return std::round(x / step) * step; }

//! The altitude a recorder would write at each whole second [m]. [D6]
std::vector<double> recorded_altitude(const Ride& ride, const Sensors& sensors, const PlaceError& place) {
  const std::uint64_t seed = ride.seed;
  const bool study = ride.plan.study;
  Draw traits(seed, Stream::sensor_traits);
  Draw draw(seed, Stream::altitude);
  const std::size_t seconds = ride.states.size() / steps_per_s;
  std::vector<double> out(seconds);
  if (sensors.altitude == Altitude::barometric) {
    const double sigma = traits.between(1.0, 2.6);
    const double offset = 4 * traits.normal();
    const double lag_s = study ? traits.between(0.2, 2.5) : traits.between(0.05, 0.9);
    const double ram = traits.between(-0.04, 0.04);   // share of the stagnation pressure that reaches the port
    const double weather_mps = study ? traits.between(-5, 5) / 3600 : 0.0;  // the day's pressure moves too
    const double step_m = sensors.altitude_step_m > 0 ? sensors.altitude_step_m : 0.2;
    const double noise_m = study ? traits.between(0.04, 0.2) : 0.08;
    // Some ports feel the eddies of the wind that the bike makes.
    const double ripple_m = study && traits.uniform() < 0.25 ? traits.between(0.1, 0.4) : 0;
    Draw eddies(seed, Stream::altitude_smooth);
    Drift eddy(2, eddies);
    Drift slow(1200, draw);
    double shown = ride.states.front().altitude_m;
    double drift = 0;
    for (std::size_t i = 0; i < ride.states.size(); ++i) {
      const State& x = ride.states[i];
      const double wind_mps2 = study ? x.relative_mps * std::abs(x.relative_mps) : x.v_mps * x.v_mps;
      shown += (x.altitude_m - ram * wind_mps2 / (2 * gravity) - shown) * step_s / (lag_s + step_s);
      if (i % steps_per_s == 0) {
        drift = sigma * slow.advance(1, draw) + weather_mps * static_cast<double>(i) * step_s;
        const double ripple = ripple_m * eddy.advance(1, eddies) * std::min(4.0, wind_mps2 / 64);
        if (i / steps_per_s < seconds) out[i / steps_per_s] = rounded(shown + offset + drift + noise_m * draw.normal() + ripple, step_m);
      }
    }
    return out;
  }
  const double step_m = sensors.altitude_step_m;
  const auto written = [&](double z) { return step_m > 0 ? rounded(z, step_m) : std::round(z * 10) / 10; };
  if (sensors.altitude == Altitude::satellite) {
    const double sigma = study ? traits.between(4, 8) : traits.between(3.0, 6.5);
    const double tau_s = study ? traits.between(40, 120) : traits.between(35, 80);
    const double rough = study ? traits.between(0, 0.12) : 0;  // share of the variance that the receiver did not filter
    Drift slow(tau_s, draw), quick(5, draw), offset(3600, draw);
    Draw smooth_draw(seed, Stream::altitude_smooth);
    SmoothDrift smooth(tau_s / 2, smooth_draw);
    for (std::size_t i = 0; i < seconds; ++i) {
      const double z = ride.states[i * steps_per_s].altitude_m;
      const double s = slow.advance(1, draw), q = quick.advance(1, draw), o = offset.advance(1, draw);
      if (study) {
        out[i] = written(z + sigma * (std::sqrt(1 - rough) * smooth.advance(1, smooth_draw) + std::sqrt(rough) * s) + 0.35 * q + 5 * o);
      } else {
        out[i] = written(z + sigma * s + 0.35 * q + 5 * o);
      }
    }
    return out;
  }
  // A height model with cells along the road: node errors, read at the recorded position. Straight between nodes; in a
  // study also by whole metres at the nodes, or the nearest node alone, whose steps are then the road's.
  enum class Reading : std::uint8_t { straight, whole_metres, nearest };
  const double wide_m = traits.between(25, 40);
  const double sigma = traits.between(1.0, 2.4);
  const double which = study ? traits.uniform() : 0;
  const Reading reading = which < 0.4 ? Reading::straight : which < 0.7 ? Reading::whole_metres : Reading::nearest;
  const double cell_m = reading == Reading::nearest ? wide_m / 3 : wide_m;
  const double home_m = ride.road.length_m() / 2;
  const Dice nodes(seed, Stream::altitude);
  const Dice hillside(seed, Stream::hillside);
  const auto node = [&](std::int64_t k) {
    const double s = static_cast<double>(k) * cell_m;
    const double mirrored = ride.plan.back_again && s > home_m ? 2 * home_m - s : s;   // the same hill both ways
    const double z = at(ride.road.altitude_m, s) + sigma * nodes.wave(mirrored / wide_m / 1.3);
    return reading == Reading::whole_metres ? std::round(z) : z;
  };
  for (std::size_t i = 0; i < seconds; ++i) {
    const double s = std::max(0.0, ride.states[i * steps_per_s].s_m + place.along_m[i]);
    const auto k = static_cast<std::int64_t>(s / cell_m);
    const double f = s / cell_m - static_cast<double>(k);
    double z = reading == Reading::nearest ? node(f < 0.5 ? k : k + 1) : node(k) * (1 - f) + node(k + 1) * f;
    if (study) {
      // A place beside the road lies higher or lower: hillsides fall about twice as steeply as the road.
      const double side_slope = (0.04 + 1.2 * std::abs(at(ride.road.sine, s))) * hillside.wave(s / 300);
      z += side_slope * place.across_m[i];
    }
    out[i] = written(z);
  }
  return out;
}

//! Moving gaps: the recorder lost 60 to 100 s while the bike rolled on.
std::vector<std::pair<std::int64_t, std::int64_t>> gaps_of(const Ride& ride) {
  std::vector<std::pair<std::int64_t, std::int64_t>> gaps;
  Draw draw(ride.seed, Stream::gaps);
  const auto seconds = static_cast<std::int64_t>(ride.states.size()) / steps_per_s;
  const auto wanted = static_cast<std::size_t>(1 + std::floor(3 * draw.uniform()));
  for (int attempt = 0; attempt < 600 && gaps.size() < wanted; ++attempt) {
    const auto length = static_cast<std::int64_t>(std::floor(draw.between(60, 101)));
    const auto a = static_cast<std::int64_t>(draw.between(120, std::max(121.0, static_cast<double>(seconds - length - 120))));
    const std::int64_t b = a + length - 1;
    if (b + 60 >= seconds) continue;
    double slowest = 1e9;
    for (std::int64_t i = a; i <= b; ++i) slowest = std::min(slowest, ride.states[static_cast<std::size_t>(i * steps_per_s)].v_mps);
    const double metres = ride.states[static_cast<std::size_t>(b * steps_per_s)].s_m - ride.states[static_cast<std::size_t>(a * steps_per_s)].s_m;
    // Rolling all along, unless (after half the attempts) the ride has no such stretch: then on the move on the whole.
    if (attempt < 300 ? slowest < 0.5 : metres < 2.0 * static_cast<double>(length)) continue;
    if (std::any_of(gaps.begin(), gaps.end(), [&](const auto& g) { return a < g.second + 120 && g.first < b + 120; })) continue;
    gaps.emplace_back(a, b);
  }
  std::sort(gaps.begin(), gaps.end());
  return gaps;
}

//! Puts the chosen faults in; each kind has draws of its own, so that one never moves another.
void spoil(Recording& recording, const Sensors& sensors, std::uint64_t seed) {
  std::vector<Record>& records = recording.records;
  const std::size_t n = records.size();
  if (n < 120) return;
  // Places at least 20 records apart, and never near the ends.
  const auto places = [&](Draw& draw, std::size_t count) {
    std::vector<std::size_t> found;
    for (int attempt = 0; attempt < 400 && found.size() < count; ++attempt) {
      const auto k = static_cast<std::size_t>(draw.between(30, static_cast<double>(n) - 30));
      if (std::none_of(found.begin(), found.end(), [&](std::size_t f) { return (f > k ? f - k : k - f) < 20; })) found.push_back(k);
    }
    std::sort(found.begin(), found.end());
    return found;
  };
  const auto spoilt = [&](std::string kind, std::size_t k, double size) {
    recording.faults.push_back({.kind = std::move(kind), .at_s = records[k].t_s, .size = size});
  };
  // A fault lasts so many seconds, hence fewer records where the recorder is frugal.
  const auto lasting = [&](std::size_t k, double seconds) {
    std::size_t end = k + 1;
    while (end < n && static_cast<double>(records[end].t_s - records[k].t_s) < seconds - 0.5) ++end;
    return end;
  };
  if (sensors.faults.altitude) {
    Draw draw(seed, Stream::bad_altitude);
    for (const std::size_t k : places(draw, std::max<std::size_t>(2, n / 400))) {
      const double size = (draw.uniform() < 0.5 ? -1.0 : 1.0) * draw.between(12, 30);
      const std::size_t end = lasting(k, std::floor(draw.between(1, 4)));
      for (std::size_t i = k; i < end; ++i) records[i].altitude_m += std::round(size);
      spoilt("altitude", k, std::round(size));
    }
  }
  if (sensors.faults.speed && sensors.speed) {
    Draw draw(seed, Stream::bad_speed);
    bool first = true;
    for (const std::size_t k : places(draw, std::max<std::size_t>(2, n / 700))) {
      const double size = first ? 62 : draw.between(25, 62);
      const std::size_t end = lasting(k, std::floor(draw.between(1, 3)));
      for (std::size_t i = k; i < end; ++i) records[i].speed_mps = size;
      spoilt("speed", k, size);
      first = false;
    }
  }
  if (sensors.faults.position) {
    Draw draw(seed, Stream::bad_position);
    bool first = true;
    for (const std::size_t k : places(draw, std::max<std::size_t>(2, n / 700))) {
      const double size = first ? 65 : draw.between(40, 65);
      const double towards = 2 * pi * draw.uniform();
      const std::size_t end = lasting(k, std::floor(draw.between(1, 3)));
      for (std::size_t i = k; i < end; ++i) {
        records[i].latitude_deg += size * std::cos(towards) / metres_per_degree;
        records[i].longitude_deg += size * std::sin(towards) / (metres_per_degree * std::cos(records[i].latitude_deg * pi / 180));
      }
      spoilt("position", k, size);
      first = false;
    }
  }
  if (sensors.faults.clock) {
    Draw draw(seed, Stream::bad_clock);
    const std::size_t k = places(draw, 1).front();
    const auto drawn = static_cast<std::int64_t>(draw.uniform() < 0.6 ? -std::floor(draw.between(5, 60)) : std::floor(draw.between(20, 120)));
    const std::int64_t by = std::max(drawn, 1 - records[k].t_s);  // no stamp before the first
    spoilt("clock", k, static_cast<double>(by));
    for (std::size_t i = k; i < n; ++i) records[i].t_s += by;
  }
  if (sensors.faults.duplicates) {
    Draw draw(seed, Stream::bad_duplicates);
    const std::vector<std::size_t> found = places(draw, 3);
    for (std::size_t f = found.size(); f-- > 0;) {  // from behind, so that places stay
      const auto copies = static_cast<std::size_t>(std::floor(draw.between(1, 5)));
      spoilt("duplicates", found[f], static_cast<double>(copies));
      records.insert(records.begin() + static_cast<std::ptrdiff_t>(found[f]), copies, records[found[f]]);
    }
  }
}

}  // namespace

Recording record(const Ride& ride, const Sensors& sensors) {
  const std::uint64_t seed = ride.seed;
  const bool study = ride.plan.study;
  const std::size_t seconds = ride.states.size() / steps_per_s;
  Draw traits(seed + 1, Stream::sensor_traits);
  Draw position(seed, Stream::position);
  Draw speed_draw(seed, Stream::speed);
  Draw power_draw(seed, Stream::power);
  Draw temperature_draw(seed, Stream::temperature);
  Draw sampling(seed, Stream::sampling);

  // Position: a slow wander of 2 to 4 m (both axes together) and a little that changes quickly. [D7]
  const double wander_m = traits.between(2, 4) / std::sqrt(2.0);
  const double wander_s = traits.between(30, 70);
  const double power_scale = 1 + 0.015 * traits.normal();
  Drift east_slow(wander_s, position), north_slow(wander_s, position), east_quick(2.5, position), north_quick(2.5, position);
  // Receivers smooth: in the study nearly all of the wander is without steps. Speed comes from the wheel or from them.
  Draw smooth_draw(seed, Stream::position_smooth);
  SmoothDrift east_smooth(wander_s / 2, smooth_draw), north_smooth(wander_s / 2, smooth_draw);
  const double rough = study ? smooth_draw.between(0, 0.1) : 0;
  const bool by_wheel = !study || smooth_draw.uniform() < 0.5;
  const double lag_share = by_wheel ? 1 / 1.35 : 1 / smooth_draw.between(1.35, 2.2);
  const double speed_scale = !study ? 1.002 : by_wheel ? 1 + 0.007 * traits.normal() : 1.0;  // a wheel's size is set a little wrong
  const double speed_noise_mps = by_wheel ? 0.04 : smooth_draw.between(0.06, 0.16);
  std::vector<double> east(seconds), north(seconds);
  PlaceError place{.along_m = std::vector<double>(seconds), .across_m = std::vector<double>(seconds)};
  for (std::size_t i = 0; i < seconds; ++i) {
    const double s = ride.states[i * steps_per_s].s_m;
    double de = wander_m * east_slow.advance(1, position), dn = 0;
    if (study) {
      de = std::sqrt(rough) * de + wander_m * std::sqrt(1 - rough) * east_smooth.advance(1, smooth_draw) + 0.15 * east_quick.advance(1, position);
      dn = std::sqrt(rough) * wander_m * north_slow.advance(1, position) + wander_m * std::sqrt(1 - rough) * north_smooth.advance(1, smooth_draw) +
           0.15 * north_quick.advance(1, position);
    } else {
      de += 0.22 * east_quick.advance(1, position);
      dn = wander_m * north_slow.advance(1, position) + 0.22 * north_quick.advance(1, position);
    }
    const double heading = at(ride.road.heading, s);
    place.along_m[i] = de * std::sin(heading) + dn * std::cos(heading);
    place.across_m[i] = de * std::cos(heading) - dn * std::sin(heading);
    east[i] = at(ride.road.east_m, s) + de;
    north[i] = at(ride.road.north_m, s) + dn;
  }
  const std::vector<double> altitude = recorded_altitude(ride, sensors, place);
  const double shrink = std::cos(origin_latitude_deg * pi / 180);

  Recording out;
  if (sensors.gaps) out.gaps = gaps_of(ride);
  double shown_mps = 0;
  double shown_degC = ride.plan.air_degC + 3;   // the case comes out of a warm room
  double last_heading = 0;
  double last_speed = 0;
  std::size_t last_record = 0;
  for (std::size_t i = 0; i < seconds; ++i) {
    const State& x = ride.states[i * steps_per_s];
    // The other channels. [D8]
    shown_mps += (x.v_mps - shown_mps) * lag_share;   // a second's reading, a third of a second late
    const double air = ride.plan.air_degC - 0.0065 * (x.altitude_m - ride.plan.base_altitude_m);
    shown_degC += (air - shown_degC) / 240 + 0.02 * temperature_draw.normal();
    double work_J = 0;
    for (std::size_t k = i * steps_per_s; k > 0 && k + steps_per_s > i * steps_per_s; --k) work_J += ride.states[k - 1].pedal_W * step_s;
    const double noise_W = 3 * power_draw.normal() + 0.02 * work_J * power_draw.normal();
    const double watts = work_J > 1 ? std::max(0.0, power_scale * work_J + noise_W) : 0.0;
    const double speed_noise = speed_draw.normal();

    if (sensors.sampling == Sampling::irregular && i > 0 && i + 1 < seconds) {
      // A frugal recorder: a point when the course or the speed has changed, or after a while.
      const double heading = at(ride.road.heading, x.s_m);
      const double turned = std::abs(std::remainder(heading - last_heading, 2 * pi));
      const bool due = turned > 0.14 || std::abs(x.v_mps - last_speed) > 0.9 ||
                       static_cast<double>(i - last_record) >= 4 + std::floor((study ? 5 : 4) * sampling.uniform());
      if (!due) continue;
    }
    const auto t = static_cast<std::int64_t>(i);
    if (std::any_of(out.gaps.begin(), out.gaps.end(), [&](const auto& g) { return t >= g.first && t <= g.second; })) continue;
    last_heading = at(ride.road.heading, x.s_m);
    last_speed = x.v_mps;
    last_record = i;
    out.records.push_back({.t_s = t,
                           .latitude_deg = origin_latitude_deg + north[i] / metres_per_degree,
                           .longitude_deg = origin_longitude_deg + east[i] / (metres_per_degree * shrink),
                           .altitude_m = altitude[i],
                           .speed_mps = shown_mps < 0.15 ? 0.0 : std::max(0.0, shown_mps * speed_scale + speed_noise_mps * speed_noise),
                           .power_W = watts,
                           .temperature_degC = shown_degC,
                           .distance_m = x.s_m * speed_scale});  // counted at the wheel
  }
  spoil(out, sensors, seed);
  return out;
}

}  // namespace rides
