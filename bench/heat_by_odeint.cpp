// SPDX-License-Identifier: Apache-2.0
#include <boost/numeric/odeint/stepper/rosenbrock4.hpp>
#include <boost/numeric/odeint/stepper/rosenbrock4_controller.hpp>
#include <boost/numeric/ublas/matrix.hpp>
#include <boost/numeric/ublas/vector.hpp>
#include <algorithm>
#include <utility>

#include "heat_problem.hpp"

namespace bench_heat {

namespace {
namespace odeint = boost::numeric::odeint;
using Vector = boost::numeric::ublas::vector<double>;
using Matrix = boost::numeric::ublas::matrix<double>;

struct System {
    const Problem* p;
    void operator()(const Vector& y, Vector& f, double) const { p->rates(&y[0], &f[0]); }
};
// By differences: the conduction part is linear, so that a step of 0.01 K is exact but for radiation.
struct Jacobian {
    const Problem* p;
    void operator()(const Vector& y, Matrix& j, const double&, Vector& dfdt) const {
        const std::size_t n = y.size();
        Vector at = y, f0(n), f1(n);
        p->rates(&y[0], &f0[0]);
        for (std::size_t c = 0; c < n; ++c) {
            at[c] = y[c] + 0.01;
            p->rates(&at[0], &f1[0]);
            at[c] = y[c];
            for (std::size_t r = 0; r < n; ++r) j(r, c) = (f1[r] - f0[r]) / 0.01;
        }
        std::fill(dfdt.begin(), dfdt.end(), 0.0);
    }
};
}  // namespace

Series by_odeint(Problem p, const std::vector<Input>& rows, double above_W, double scale, double relative) {
    p.prepare();
    Vector y(static_cast<std::size_t>(p.n()), p.start_degC);
    Series out;
    const auto keep = [&] {
        out.rotor_surface.push_back(y[static_cast<std::size_t>(p.rotor() + p.rotor_n - 1)]);
        out.pad_face.push_back(y[static_cast<std::size_t>(p.pad())]);
        out.fluid.push_back(y[static_cast<std::size_t>(p.rear() + 2)]);
    };
    keep();
    for (std::size_t i = 0; i + 1 < rows.size(); ++i) {
        p.begin(rows[i], above_W, scale, &y[0]);
        odeint::rosenbrock4_controller<odeint::rosenbrock4<double>> stepper(100 * relative, relative);
        const auto system = std::make_pair(System{&p}, Jacobian{&p});
        double t = rows[i].t_s, step = std::min(0.05, rows[i + 1].t_s - t);
        while (t < rows[i + 1].t_s - 1e-9) {
            step = std::min(step, rows[i + 1].t_s - t);
            stepper.try_step(system, y, t, step);
        }
        keep();
    }
    return out;
}

}  // namespace bench_heat
