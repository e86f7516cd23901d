// SPDX-License-Identifier: Apache-2.0
#include <cvode/cvode.h>
#include <nvector/nvector_serial.h>
#include <sunlinsol/sunlinsol_band.h>
#include <sunmatrix/sunmatrix_band.h>

#include <stdexcept>

#include "heat_problem.hpp"

namespace bench_heat {

namespace {
int rhs(sunrealtype, N_Vector y, N_Vector f, void* data) {
    static_cast<const Problem*>(data)->rates(N_VGetArrayPointer(y), N_VGetArrayPointer(f));
    return 0;
}
void must(int flag) {
    if (flag < 0) throw std::runtime_error("CVODE failed");
}
}  // namespace

Series by_cvode(Problem p, const std::vector<Input>& rows, double above_W, double scale, double relative) {
    p.prepare();
    SUNContext context;
    must(SUNContext_Create(nullptr, &context));
    N_Vector y = N_VNew_Serial(p.n(), context);
    double* v = N_VGetArrayPointer(y);
    for (int i = 0; i < p.n(); ++i) v[i] = p.start_degC;
    // The arms see every node of the rotor; contact joins neighbours.
    const int band = p.rotor_n + 1;
    SUNMatrix a = SUNBandMatrix(p.n(), band, band, context);
    SUNLinearSolver ls = SUNLinSol_Band(y, a, context);
    void* cv = CVodeCreate(CV_BDF, context);
    must(CVodeInit(cv, rhs, rows.front().t_s, y));
    must(CVodeSStolerances(cv, relative, 100 * relative));
    must(CVodeSetLinearSolver(cv, ls, a));
    must(CVodeSetUserData(cv, &p));
    must(CVodeSetMaxNumSteps(cv, 1000000));
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
            must(CVodeReInit(cv, rows[i].t_s, y));
        }
        must(CVodeSetStopTime(cv, rows[i + 1].t_s));
        double t = rows[i].t_s;
        must(CVode(cv, rows[i + 1].t_s, y, &t, CV_NORMAL));
        keep();
    }
    CVodeFree(&cv);
    SUNLinSolFree(ls);
    SUNMatDestroy(a);
    N_VDestroy(y);
    SUNContext_Free(&context);
    return out;
}

}  // namespace bench_heat
