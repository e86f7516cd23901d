// SPDX-License-Identifier: Apache-2.0
#include "banded_cvode.hpp"
#include "heat_problem.hpp"

namespace bench_heat {

namespace {
int rhs(sunrealtype, N_Vector y, N_Vector f, void* data) {
    static_cast<const Problem*>(data)->rates(N_VGetArrayPointer(y), N_VGetArrayPointer(f));
    return 0;
}
}  // namespace

Series by_cvode(Problem p, const std::vector<Input>& rows, double above_W, double scale, double relative) {
    p.prepare();
    // The arms see every node of the rotor; contact joins neighbours.
    bw::heat::test::BandedCvode cvode(p.n(), p.rotor_n + 1, rhs, &p, rows.front().t_s, p.start_degC, relative, 100 * relative);
    double* v = cvode.state();
    Series out;
    const auto keep = [&] {
        out.rotor_surface.push_back(v[p.rotor() + p.rotor_n - 1]);
        out.pad_face.push_back(v[p.pad()]);
        out.fluid.push_back(v[p.rear() + 2]);
    };
    keep();
    for (std::size_t i = 0; i + 1 < rows.size(); ++i) {
        if (i == 0 || rows[i].speed_mps != rows[i - 1].speed_mps || rows[i].power_W != rows[i - 1].power_W) {
            p.begin(rows[i], above_W, scale, v);
            cvode.restart(rows[i].t_s);
        }
        cvode.run_to(rows[i + 1].t_s);
        keep();
    }
    return out;
}

}  // namespace bench_heat
