// SPDX-License-Identifier: Apache-2.0
// Rotors with known faults, and what a dial shows of them. Shares nothing with src/inspect: own forms, own random numbers.
#pragma once
#include <algorithm>
#include <cmath>
#include <random>
#include <vector>

namespace made {

struct Bend {
    double angle_deg, height_mm, width_deg;   // width at half height
    int form;
};
struct Rotor {
    double tilt_mm = 0, tilt_deg = 0, saddle_mm = 0, saddle_deg = 0, arms_mm = 0, arms_deg = 0;   // amplitude, angle of a top
    int arms = 0;
    std::vector<Bend> bends;
};
struct Dial {
    double step_mm = 0.01, permitted_mm = 0.015, scatter_mm = 0.003, play_mm = 0.01;
};

inline double apart(double a, double b) {
    const double d = std::fmod(std::fmod(a - b, 360.0) + 540.0, 360.0) - 180.0;
    return d;
}

// Four forms, each 1 in the middle and 1/2 at half the width.
inline double form_at(int form, double x) {   // x: distance over the width at half height
    x = std::fabs(x);
    switch (form) {
        case 0: return std::exp2(-4 * x * x);                                          // bell
        case 1: return x < 1 ? std::pow(std::cos(1.5707963267948966 * x), 2) : 0;      // cosine
        case 2: {                                                                      // polynomial with a foot
            const double y = x * std::sqrt(1 - std::cbrt(0.5)) * 2;
            return y < 1 ? std::pow(1 - y * y, 3) : 0;
        }
        default: return 1 / std::pow(std::cosh(x * 2 * 0.881373587019543), 2);         // long foot: sech^2(arcosh(sqrt 2)) = 1/2
    }
}

inline double height_at(const Rotor& r, double deg) {
    const double rad = 0.017453292519943295;
    double y = r.tilt_mm * std::cos((deg - r.tilt_deg) * rad) + r.saddle_mm * std::cos(2 * (deg - r.saddle_deg) * rad);
    if (r.arms) y += r.arms_mm * std::cos(r.arms * (deg - r.arms_deg) * rad);
    for (const Bend& b : r.bends) y += b.height_mm * form_at(b.form, apart(deg, b.angle_deg) / b.width_deg);
    return y;
}

inline double total_of(const Rotor& r) {
    double low = 1e9, high = -1e9;
    for (int i = 0; i < 1440; ++i) {
        const double y = height_at(r, i * 0.25);
        low = std::min(low, y), high = std::max(high, y);
    }
    return high - low;
}

// Bends at least `spacings` wide as places are apart at n angles; never nearer to each other than they are wide together,
// and only as many as find room.
inline Rotor any_rotor(std::mt19937_64& g, int n, double spacings = 2, int bends_least = 1) {
    const auto in = [&](double a, double b) { return std::uniform_real_distribution<double>(a, b)(g); };
    const auto one_of = [&](int a, int b) { return std::uniform_int_distribution<int>(a, b)(g); };
    Rotor r;
    r.tilt_mm = in(0, 0.2), r.tilt_deg = in(0, 360);
    if (in(0, 1) < 0.5) r.saddle_mm = in(0.005, 0.08), r.saddle_deg = in(0, 180);
    if (in(0, 1) < 0.5) r.arms = one_of(3, 5), r.arms_mm = in(0.005, 0.03), r.arms_deg = in(0, 360);
    const int bends = one_of(bends_least, 2);
    for (int tries = 0; tries < 100 && static_cast<int>(r.bends.size()) < bends; ++tries) {
        const double narrowest = spacings * 360 / n;
        const Bend b{in(0, 360), (in(0, 1) < 0.5 ? -1 : 1) * in(0.06, 0.35), in(narrowest, std::max(70.0, 1.4 * narrowest)), one_of(0, 3)};
        bool clear = true;
        for (const Bend& o : r.bends) clear = clear && std::fabs(apart(b.angle_deg, o.angle_deg)) > b.width_deg + o.width_deg;
        if (clear) r.bends.push_back(b);
    }
    return r;
}

struct Look {
    double angle_deg, dial_mm;
};
// The dial's own error goes with what it shows (a gear's, once a turn of its pointer), within what is permitted.
inline std::vector<Look> looks(const Rotor& r, const Dial& d, int n, std::mt19937_64& g, int repeats = 1) {
    const auto in = [&](double a, double b) { return std::uniform_real_distribution<double>(a, b)(g); };
    const double size = in(0, d.permitted_mm), phase = in(0, 6.283185307179586), rest = in(1, 3);
    std::normal_distribution<double> scatter(0, 1);
    std::vector<Look> out;
    for (int turn = 0; turn < repeats; ++turn)
        for (int i = 0; i < n; ++i) {
            const double deg = 360.0 * i / n;
            double x = rest + height_at(r, deg) + in(-d.play_mm / 2, d.play_mm / 2);
            x += size * std::sin(6.283185307179586 * x + phase) + d.scatter_mm * scatter(g);
            out.push_back({deg, std::round(x / d.step_mm) * d.step_mm});
        }
    return out;
}

}  // namespace made
