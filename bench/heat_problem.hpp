// SPDX-License-Identifier: Apache-2.0
// The reference form as plain numbers and one right-hand side, for libraries that solve differential equations.
// Nodes at the surfaces, linear elements, lumped mass, graded towards the contact. C++17: Boost.odeint needs that.
#pragma once
#include <array>
#include <cmath>
#include <cstddef>
#include <vector>

namespace bench_heat {

struct Input { double t_s, speed_mps, power_W; };

// hub, arms, rotor mid..face, pad face..rear (friction, then plate), piston, fluid, caliper.
struct Problem {
    int rotor_n = 8, friction_n = 14, plate_n = 4;   // nodes; the plate shares its first with the last of the friction layer
    double ambient_degC = 20, start_degC = 20;
    // rotor: half thickness, conductivity × area, heat capacity per metre
    double rotor_m = 0, rotor_kA = 0, rotor_C_m = 0, rotor_loss_area = 0, rotor_emissivity = 0;
    double friction_m = 0, friction_kA = 0, friction_C_m = 0, friction_area = 0, plate_m = 0, plate_kA = 0, plate_C_m = 0;
    double contact_W_m2K = INFINITY, gap_W_m2K = 0;
    double piston_C = 0, fluid_C = 0, caliper_C = 0, arms_C = 0, hub_C = 0, caliper_area = 0, arms_area = 0, hub_area = 0;
    double caliper_emissivity = 0, arms_emissivity = 0;
    std::array<double, 3> rotor_h{}, caliper_h{}, arms_h{}, hub_h{};
    double plate_piston = 0, plate_caliper = 0, piston_fluid = 0, piston_caliper = 0, fluid_caliper = 0, rotor_arms = 0, arms_hub = 0;

    int rotor() const { return 2; }
    int pad() const { return rotor() + rotor_n; }
    int rear() const { return pad() + friction_n + plate_n - 2; }
    int n() const { return rear() + 4; }
    double speed = 0, power = 0;
    bool closed = false;
    std::vector<double> x_rotor, x_pad, capacity;    // node places; heat capacity of each node

    void prepare() {
        // Widths grow by a constant factor away from the contact.
        const auto graded = [](double length, int nodes, double ratio) {
            std::vector<double> x{0};
            double w = 1, sum = 0;
            for (int i = 1; i < nodes; ++i, w *= ratio) sum += w;
            w = length / sum;
            for (int i = 1; i < nodes; ++i, w *= ratio) x.push_back(x.back() + w);
            x.back() = length;
            return x;
        };
        const std::vector<double> r = graded(rotor_m, rotor_n, 1.25);
        x_rotor.resize(r.size());
        for (std::size_t i = 0; i < r.size(); ++i) x_rotor[i] = rotor_m - r[r.size() - 1 - i];
        x_pad = graded(friction_m, friction_n, 1.25);
        for (int i = 1; i < plate_n; ++i) x_pad.push_back(friction_m + plate_m * i / (plate_n - 1));
        capacity.assign(static_cast<std::size_t>(n()), 0);
        for (int i = 0; i + 1 < rotor_n; ++i)
            for (int k = 0; k < 2; ++k) capacity[rotor() + i + k] += rotor_C_m * (x_rotor[i + 1] - x_rotor[i]) / 2;
        for (int i = 0; i + 1 < friction_n + plate_n - 1; ++i)
            for (int k = 0; k < 2; ++k) capacity[pad() + i + k] += (i + 1 < friction_n ? friction_C_m : plate_C_m) * (x_pad[i + 1] - x_pad[i]) / 2;
        capacity[0] = hub_C;
        capacity[1] = arms_C;
        capacity[rear() + 1] = piston_C;
        capacity[rear() + 2] = fluid_C;
        capacity[rear() + 3] = caliper_C;
    }

    void rates(const double* y, double* q) const {
        const int face = rotor() + rotor_n - 1, pf = pad(), pi = rear() + 1, fl = pi + 1, ca = pi + 2;
        for (int i = 0; i < n(); ++i) q[i] = 0;
        const auto link = [&](double g, int i, int j) {
            const double w = g * (y[i] - y[j]);
            q[i] -= w;
            q[j] += w;
        };
        const double per_m = rotor_arms / rotor_m;
        for (int i = 0; i + 1 < rotor_n; ++i) link(rotor_kA / (x_rotor[i + 1] - x_rotor[i]), rotor() + i, rotor() + i + 1);
        for (int i = 0; i < rotor_n; ++i) link(per_m * capacity[rotor() + i] / rotor_C_m, rotor() + i, 1);
        for (int i = 0; i + 1 < friction_n + plate_n - 1; ++i)
            link((i + 1 < friction_n ? friction_kA : plate_kA) / (x_pad[i + 1] - x_pad[i]), pf + i, pf + i + 1);
        link(plate_piston, rear(), pi);
        link(plate_caliper, rear(), ca);
        link(piston_fluid, pi, fl);
        link(piston_caliper, pi, ca);
        link(fluid_caliper, fl, ca);
        link(arms_hub, 1, 0);
        const auto loses = [&](int i, const std::array<double, 3>& h, double area, double emissivity) {
            const double t = y[i] + 273.15, a = ambient_degC + 273.15;
            q[i] -= (h[0] + h[1] * std::pow(speed, h[2])) * area * (y[i] - ambient_degC) + emissivity * 5.670374e-8 * area * (t * t * t * t - a * a * a * a);
        };
        loses(face, rotor_h, rotor_loss_area, rotor_emissivity);
        loses(ca, caliper_h, caliper_area, caliper_emissivity);
        loses(1, arms_h, arms_area, arms_emissivity);
        loses(0, hub_h, hub_area, 0);
        const bool perfect = closed && std::isinf(contact_W_m2K);
        if (closed) q[face] += power / 4, q[pf] += power / 4;
        if (!perfect) link((closed ? contact_W_m2K : gap_W_m2K) * friction_area, pf, face);
        double both = 0;
        if (perfect) both = (q[face] + q[pf]) / (capacity[face] + capacity[pf]);
        for (int i = 0; i < n(); ++i) q[i] /= capacity[i];
        if (perfect) q[face] = q[pf] = both;
    }
    // Inputs of one row; where the faces meet their heat is shared.
    void begin(const Input& row, double above_W, double scale, double* y) {
        speed = row.speed_mps;
        power = row.power_W * scale;
        closed = power > above_W;
        if (!closed) power = 0;
        if (closed && std::isinf(contact_W_m2K)) {
            const int face = rotor() + rotor_n - 1, pf = pad();
            y[face] = y[pf] = (capacity[face] * y[face] + capacity[pf] * y[pf]) / (capacity[face] + capacity[pf]);
        }
    }
};

struct Series { std::vector<double> rotor_surface, pad_face, fluid; };   // [rows]

// CVODE, BDF, banded, restarted at every change of input. absolute tolerance: 100 × relative, in kelvin.
Series by_cvode(Problem p, const std::vector<Input>& rows, double above_W, double scale, double relative);
// Boost.odeint's rosenbrock4 with its own step control, restarted at every change of input.
Series by_odeint(Problem p, const std::vector<Input>& rows, double above_W, double scale, double relative);

}  // namespace bench_heat
