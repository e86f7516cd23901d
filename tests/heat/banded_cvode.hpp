// SPDX-License-Identifier: Apache-2.0
// CVODE with BDF and a band matrix, restarted at every change of input: what every second solver of the heat tests and benches
// needs around its own equations. C++17, since Boost.odeint's neighbour in bench/ is.
#pragma once
#include <cvode/cvode.h>
#include <nvector/nvector_serial.h>
#include <sunlinsol/sunlinsol_band.h>
#include <sunmatrix/sunmatrix_band.h>

#include <algorithm>
#include <stdexcept>

namespace bw::heat::test {

//! Rules: 1. state() may be changed between runs, then restart(t) before the next run. 2. run_to never steps past its end.
//! 3. data must outlive it. Throws std::runtime_error where CVODE fails.
class BandedCvode {
public:
    //! n states, all start_value at t_s; band: half band widths of the matrix; no jacobian: by differences.
    BandedCvode(int n, int band, CVRhsFn rhs, void* data, double t_s, double start_value, double relative, double absolute, CVLsJacFn jacobian = nullptr) {
        must(SUNContext_Create(nullptr, &context_));
        y_ = N_VNew_Serial(n, context_);
        std::fill(state(), state() + n, start_value);
        matrix_ = SUNBandMatrix(n, band, band, context_);
        solver_ = SUNLinSol_Band(y_, matrix_, context_);
        cvode_ = CVodeCreate(CV_BDF, context_);
        must(CVodeInit(cvode_, rhs, t_s, y_));
        must(CVodeSStolerances(cvode_, relative, absolute));
        must(CVodeSetLinearSolver(cvode_, solver_, matrix_));
        if (jacobian) must(CVodeSetJacFn(cvode_, jacobian));
        must(CVodeSetUserData(cvode_, data));
        must(CVodeSetMaxNumSteps(cvode_, 1000000));
    }
    ~BandedCvode() {
        CVodeFree(&cvode_);
        SUNLinSolFree(solver_);
        SUNMatDestroy(matrix_);
        N_VDestroy(y_);
        SUNContext_Free(&context_);
    }
    BandedCvode(const BandedCvode&) = delete;
    BandedCvode& operator=(const BandedCvode&) = delete;

    double* state() { return N_VGetArrayPointer(y_); }
    void restart(double t_s) { must(CVodeReInit(cvode_, t_s, y_)); }
    void run_to(double t_s) {
        must(CVodeSetStopTime(cvode_, t_s));
        double reached = t_s;
        must(CVode(cvode_, t_s, y_, &reached, CV_NORMAL));
    }

private:
    static void must(int flag) {
        if (flag < 0) throw std::runtime_error("CVODE failed");
    }
    SUNContext context_ = nullptr;
    N_Vector y_ = nullptr;
    SUNMatrix matrix_ = nullptr;
    SUNLinearSolver solver_ = nullptr;
    void* cvode_ = nullptr;
};

}  // namespace bw::heat::test
