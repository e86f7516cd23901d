// SPDX-License-Identifier: Apache-2.0
// Simulated rides with known braking energy, for tests. Own equations of motion, own generator: shares nothing with src/ride
// but the plain Track it fills. An invented scenario, not a measurement.
#pragma once
#include <algorithm>
#include <cmath>
#include <cstdint>
#include <string>
#include <vector>

#include "ride/track.hpp"

namespace simulated {

enum class Course { hilly_road, steep_drag, city, flat_no_braking, coasting_descent };
enum class AltitudeSensor { barometric, satellite, terrain, none };
enum class Motion { speed_channel, positions_jitter_2m, positions_clean };
enum class Sampling { every_second, irregular };

struct Wish {
    Course course = Course::hilly_road;
    AltitudeSensor altitude = AltitudeSensor::barometric;
    Motion motion = Motion::speed_channel;
    Sampling sampling = Sampling::every_second;
    bool power_meter = false;
    double wind_mps = 0;          // of a constant wind; its direction is drawn
    double wanted_s = 2400;
    std::uint64_t seed = 1;
};

struct Ride {
    bw::ride::Track track;
    double brake_J = 0, rider_J = 0, distance_m = 0, descent_m = 0, mass_kg = 0, rotating_kg = 0, drag_area_m2 = 0, rolling = 0;
    std::vector<double> brake_W, speed_mps, height_m;   // truth, mean over each second; speed and height at the second
};

// A generator of our own: xorshift64* and Box-Muller.
struct Chance {
    std::uint64_t s;
    explicit Chance(std::uint64_t seed) : s(seed * 0x9E3779B97F4A7C15ull + 0x1234567ull) { for (int i = 0; i < 8; ++i) (void)uniform(); }
    double uniform() {
        s ^= s >> 12; s ^= s << 25; s ^= s >> 27;
        return (static_cast<double>((s * 0x2545F4914F6CDD1Dull) >> 11) + 0.5) / 9007199254740992.0;
    }
    double between(double a, double b) { return a + (b - a) * uniform(); }
    double normal() { return std::sqrt(-2 * std::log(uniform())) * std::cos(6.283185307179586 * uniform()); }
};

inline Ride simulate(const Wish& wish) {
    Chance chance(wish.seed * 7919 + static_cast<std::uint64_t>(wish.course) * 101 + static_cast<std::uint64_t>(wish.altitude) * 13 +
                  static_cast<std::uint64_t>(wish.motion) * 5 + 3);
    Ride out;
    out.mass_kg = 90;
    out.rotating_kg = 1.8;
    out.drag_area_m2 = 0.42;
    out.rolling = 0.007;
    const double g = 9.81;

    // The road: pieces of constant gradient, blended over 40 m; spots with a speed to hold there (0 = stop); heading in bends.
    struct Piece { double from, gradient; };
    struct Spot { double at, speed, turn; };
    std::vector<Piece> pieces;
    std::vector<Spot> spots;
    double at = 0, height = 0;
    bool up = true;
    while (at < 60000) {
        double length = 400, slope = 0;
        switch (wish.course) {
            case Course::hilly_road:
                length = chance.between(250, 1100);
                slope = (up ? 1 : -1) * chance.between(0.01, 0.085);
                if (up && height > 250) slope = -std::abs(slope);
                break;
            case Course::steep_drag:
                length = chance.between(400, 900);
                slope = -chance.between(0.09, 0.15);
                if (at < 100) slope = 0.01, length = 150;
                break;
            case Course::city: length = chance.between(150, 500); slope = chance.between(-0.012, 0.012); break;
            case Course::flat_no_braking: length = chance.between(300, 700); slope = chance.between(-0.004, 0.004); break;
            case Course::coasting_descent:
                length = chance.between(500, 900);
                slope = at < 100 ? 0.0 : -chance.between(0.025, 0.05);
                break;
        }
        pieces.push_back({at, slope});
        height += slope * length;
        at += length;
        up = !up;
    }
    at = 100;
    while (at < 60000) {
        switch (wish.course) {
            case Course::hilly_road: at += chance.between(150, 600); spots.push_back({at, chance.between(4.5, 9.0), chance.between(-1.4, 1.4)}); break;
            case Course::steep_drag:
                at += chance.between(150, 500);
                spots.push_back({at, chance.uniform() < 0.15 ? 0.0 : chance.between(3.0, 5.0), chance.between(-1.6, 1.6)});
                break;
            case Course::city:
                at += chance.between(120, 420);
                spots.push_back({at, chance.uniform() < 0.7 ? 0.0 : chance.between(2.5, 4.0), chance.uniform() < 0.4 ? chance.between(-1.5, 1.5) : 0.0});
                break;
            case Course::flat_no_braking:
            case Course::coasting_descent: at += 500; spots.push_back({at, 99, chance.between(-0.5, 0.5)}); break;
        }
    }
    const auto slope_at = [&](double d) {
        std::size_t k = 0;
        while (k + 1 < pieces.size() && pieces[k + 1].from <= d) ++k;
        const double into = (d - pieces[k].from) / 40;
        const double before = k > 0 ? pieces[k - 1].gradient : pieces[k].gradient;
        const double w = std::clamp(into, 0.0, 1.0);
        return before + (pieces[k].gradient - before) * w * w * (3 - 2 * w);
    };
    const double cruise_W = wish.course == Course::city ? chance.between(110, 160) : chance.between(150, 220);
    const double hold_mps = wish.course == Course::steep_drag ? chance.between(5.5, 8.0) : chance.between(11, 14);
    const double top_mps = wish.course == Course::city ? 7.0 : 9.5;
    const double wind_angle = chance.between(0, 6.28);

    // The ride, in steps of 0.05 s.
    const double dt = 0.05, me = out.mass_kg + out.rotating_kg;
    double v = 0, d = 0, z = wish.course == Course::steep_drag || wish.course == Course::coasting_descent ? 2000 : 400, x = 0, y = 0, heading = chance.between(0, 6.28), wander = 0, stand_s = 5;
    double effort = 1, effort_goal = 1, force_b = 0, firmness = 2.0;
    std::size_t spot = 0, piece = 0;
    bool braking = false, dragging = false;
    std::vector<double> T{0}, X{0}, Y{0}, Z{z}, V{0}, D{0}, PW{0};
    double second_brake = 0, second_rider = 0;
    int sub = 0;
    const auto slope_now = [&](double where) {
        while (piece + 1 < pieces.size() && pieces[piece + 1].from <= where) ++piece;
        (void)piece;
        return slope_at(where);
    };
    double slope = slope_now(0);
    for (double t = 0; t < wish.wanted_s || v > 0.0; t += dt) {
        if (t > wish.wanted_s + 300) break;
        if (sub % 4 == 0) slope = slope_now(d);
        const bool ending = t >= wish.wanted_s;
        double rider_W = 0, brake_N = 0;
        if (stand_s > 0) {
            stand_s -= dt;
            v = 0;
        } else {
            if (chance.uniform() < dt / 20) effort_goal = chance.between(0.75, 1.3);
            effort += (effort_goal - effort) * dt / 3;
            double limit = spots[spot].speed, away = std::max(0.3, spots[spot].at - d);
            if (ending && wish.course != Course::flat_no_braking && wish.course != Course::coasting_descent) limit = 0, away = std::max(0.3, v * v / (2 * 1.8));
            const double need = v > limit ? (v * v - limit * limit) / (2 * away) : 0;
            if (!braking && need > firmness) braking = true;
            if (braking && (v <= limit + 0.05 || need < 0.25 * firmness)) braking = false, firmness = chance.between(1.4, 3.2);
            const bool near_spot = need > 0.45 * firmness;
            if (!dragging && v > hold_mps * 1.03) dragging = true;
            if (dragging && v < hold_mps * 0.93) dragging = false;
            const double ux = std::cos(heading), uy = std::sin(heading);
            const double wind = -(wish.wind_mps * (std::cos(wind_angle) * ux + std::sin(wind_angle) * uy));   // head wind positive
            const double rho = 1.225 * std::exp(-z / 8435.0);   // isothermal air at 15 degrees
            const double rel = v + wind;
            const double air = 0.5 * rho * out.drag_area_m2 * rel * std::abs(rel);
            const double weight = out.mass_kg * g * slope / std::sqrt(1 + slope * slope), roll = out.rolling * out.mass_kg * g;
            const bool may_brake = wish.course != Course::flat_no_braking && wish.course != Course::coasting_descent;
            double want = 0;
            if (may_brake && braking) want = std::max(0.0, me * need - weight - roll - air);
            else if (may_brake && dragging) want = std::max(0.0, -weight - roll - air + me * 0.6 * (v - hold_mps));
            force_b += (want - force_b) * dt / 0.25;
            if (want == 0 && force_b < 3) force_b = 0;
            brake_N = force_b;
            const bool coast = braking || dragging || near_spot || force_b > 0 || v > top_mps * 1.15 ||
                               (wish.course == Course::coasting_descent && slope < -0.02) || (slope < -0.03 && v > 7);
            if (!coast) rider_W = cruise_W * effort * (slope > 0.02 ? 1.25 : 1.0) * (v < top_mps ? 1.0 : std::max(0.0, 1 - (v - top_mps) / (0.15 * top_mps)));
            const double drive = rider_W > 0 ? std::min(rider_W / std::max(v, 0.8), 120.0) : 0.0;
            rider_W = drive * v;
            const double a = (drive - air - roll - weight - brake_N) / me;
            double v1 = v + a * dt;
            if (v1 <= 0.05 && brake_N > 0) {
                v1 = 0;
                force_b = 0;
            }
            if (v1 < 0) v1 = 0;
            const double step = 0.5 * (v + v1) * dt;
            out.brake_J += brake_N * step;
            second_brake += brake_N * step;
            second_rider += rider_W * dt;
            out.rider_J += rider_W * dt;
            const double s = slope / std::sqrt(1 + slope * slope), c = 1 / std::sqrt(1 + slope * slope);
            z += s * step;
            if (s < 0) out.descent_m -= s * step;
            d += c * step;
            out.distance_m += step;
            wander += (-wander / 30 + 0.002 * chance.normal() / std::sqrt(dt)) * dt;
            double turn = wander;
            const double past = std::abs(d - spots[spot].at);
            if (past < 8) turn += spots[spot].turn / 16;
            else if (spot > 0 && std::abs(d - spots[spot - 1].at) < 8) turn += spots[spot - 1].turn / 16;
            heading += turn * c * step;
            x += std::cos(heading) * c * step;
            y += std::sin(heading) * c * step;
            v = v1;
            if (limit == 0 && v > 0 && v < 1.0 && spots[spot].at - d < 0.6) {   // foot down: the last of the motion goes into the brakes
                const double rest_J = 0.5 * me * v * v;
                out.brake_J += rest_J;
                second_brake += rest_J;
                v = 0;
                force_b = 0;
                brake_N = 1;
            }
            if (v == 0 && brake_N > 0) {
                stand_s = chance.between(4, 25);
                braking = false;
                if (ending) { stand_s = 0; }
            }
            if (d >= spots[spot].at || (v == 0 && limit == 0)) {
                if (spot + 1 < spots.size()) ++spot;
            }
        }
        if (++sub == 20) {
            sub = 0;
            T.push_back(T.back() + 1);
            X.push_back(x); Y.push_back(y); Z.push_back(z); V.push_back(v); D.push_back(out.distance_m);
            out.brake_W.push_back(second_brake);
            PW.push_back(second_rider);
            second_brake = second_rider = 0;
        }
        if (ending && (v == 0 || !(wish.course != Course::flat_no_braking && wish.course != Course::coasting_descent))) break;
    }
    out.brake_W.push_back(0);
    out.speed_mps = V;
    out.height_m = Z;

    // The recorder.
    bw::ride::Track& track = out.track;
    track.file = "simulated";
    track.content_hash = 1000 + wish.seed * 17 + static_cast<std::uint64_t>(wish.course);
    double drift = 2.0 * chance.normal(), px = 3 * chance.normal(), py = 3 * chance.normal(), next = 0;
    const double meter_gain = 1 + 0.02 * chance.normal();
    double place_error = 2 * chance.normal();
    for (std::size_t i = 0; i < T.size(); ++i) {
        double reading = NAN;
        const double ds = i > 0 ? D[i] - D[i - 1] : 0;
        switch (wish.altitude) {
            case AltitudeSensor::barometric:
                drift += -drift / 900 + 1.3 * std::sqrt(2.0 / 900) * chance.normal();
                reading = std::round((Z[i] + drift + 0.2 * chance.normal()) * 5) / 5;
                break;
            case AltitudeSensor::satellite:
                drift += -drift / 45 + 5.0 * std::sqrt(2.0 / 45) * chance.normal();
                reading = std::round((Z[i] + drift + 0.25 * chance.normal()) * 10) / 10;
                break;
            case AltitudeSensor::terrain: {
                const double phi = std::exp(-ds / 30);
                place_error = phi * place_error + 2.2 * std::sqrt(1 - phi * phi) * chance.normal();
                reading = std::round(Z[i] + place_error);
                break;
            }
            case AltitudeSensor::none: break;
        }
        px += -px / 60 + 2.0 * std::sqrt(2.0 / 60) * chance.normal() * 0.5;
        py += -py / 60 + 2.0 * std::sqrt(2.0 / 60) * chance.normal() * 0.5;
        const double jx = chance.normal(), jy = chance.normal(), sv = chance.normal(), pw = chance.normal();
        if (wish.sampling == Sampling::irregular) {
            if (T[i] < next && i + 1 < T.size()) continue;
            next = T[i] + 1 + std::floor(8 * chance.uniform());
        }
        track.t_s.push_back(T[i]);
        const double jitter = wish.motion == Motion::positions_jitter_2m ? 2.0 : 0.3;
        track.latitude_deg.push_back(46.0 + (Y[i] + px * 0.3 + jitter * jx) / 111147.0);   // metres per degree at 46 N
        track.longitude_deg.push_back(7.0 + (X[i] + py * 0.3 + jitter * jy) / 77466.0);
        if (wish.altitude != AltitudeSensor::none) track.altitude_m.push_back(reading);
        if (wish.motion == Motion::speed_channel) track.speed_mps.push_back(std::max(0.0, V[i] > 0 ? V[i] + 0.06 * sv : 0.0));
        if (wish.power_meter) track.power_W.push_back(PW[i] > 1 ? std::max(0.0, PW[i] / 0.976 * meter_gain * (1 + 0.04 * pw) + 4 * pw) : 0.0);
    }
    return out;
}

}  // namespace simulated
