// SPDX-License-Identifier: Apache-2.0
// A Kalman filter and fixed-interval smoother of small fixed size on the 1-s grid, robust to outliers.    Layer: ride
// Theory: docs/models/motion.md [EQ motion-3..6].
#pragma once
#include <Eigen/Dense>
#include <array>
#include <cmath>
#include <cstddef>
#include <vector>

namespace bw::ride::internal {

template <int N> using Vec = Eigen::Matrix<double, N, 1>;
template <int N> using Mat = Eigen::Matrix<double, N, N>;

//! One scalar measurement y = h·x + N(0, variance).
template <int N> struct Reading {
    Vec<N> h = Vec<N>::Zero();
    double y = 0, variance = 1;
};

//! What the filter keeps for the backward pass. All vectors [n]; gain and predicted belong to the step i -> i+1.
template <int N> struct Trace {
    std::vector<Vec<N>> mean, predicted;
    std::vector<Mat<N>> cov, predicted_cov;
};

//! Smoothed state. lag_cov[i] = Cov(x_i, x_{i+1}).
template <int N> struct Smoothed {
    std::vector<Vec<N>> mean;
    std::vector<Mat<N>> cov, lag_cov;
    double log_likelihood = 0;
};

//! Runs the filter; returns the log likelihood. Model offers size(), start(x, P), step(i, F, Q) for i -> i+1 and
//! readings(i, out) -> count (at most 8). An innovation beyond `gate` (squared, in its variance) has its measurement
//! variance raised until it lies on the gate, and costs likelihood as a heavy tail would: outliers pull with bounded force,
//! and a true jump is still followed within a few seconds.
template <int N, class Model> double filter(const Model& model, double gate, Trace<N>* trace) {
    const std::size_t n = model.size();
    Vec<N> x;
    Mat<N> P, F, Q;
    model.start(x, P);
    if (trace) {
        trace->mean.resize(n);
        trace->cov.resize(n);
        trace->predicted.resize(n);
        trace->predicted_cov.resize(n);
    }
    double log_likelihood = 0;
    std::array<Reading<N>, 8> readings;
    for (std::size_t i = 0; i < n; ++i) {
        const int count = model.readings(i, readings.data());
        for (int r = 0; r < count; ++r) {
            const Reading<N>& z = readings[static_cast<std::size_t>(r)];
            const Vec<N> Ph = P * z.h;
            double s = z.h.dot(Ph) + z.variance;
            const double nu = z.y - z.h.dot(x);
            const double ratio = nu * nu / s;
            if (ratio > gate) {
                log_likelihood -= 0.5 * (std::log(s) + gate * (1 + std::log(ratio / gate)));
                s = nu * nu / gate;
            } else {
                log_likelihood -= 0.5 * (std::log(s) + ratio);
            }
            x += Ph * (nu / s);
            P -= Ph * Ph.transpose() / s;
        }
        if (trace) {
            trace->mean[i] = x;
            trace->cov[i] = P;
        }
        if (i + 1 < n) {
            model.step(i, F, Q);
            x = F * x;
            P = F * P * F.transpose() + Q;
            P = (0.5 * (P + P.transpose())).eval();
            if (trace) {
                trace->predicted[i] = x;
                trace->predicted_cov[i] = P;
            }
        }
    }
    return log_likelihood;
}

//! Filter and Rauch-Tung-Striebel backward pass.
template <int N, class Model> Smoothed<N> smooth(const Model& model, double gate) {
    Trace<N> t;
    Smoothed<N> s;
    s.log_likelihood = filter<N>(model, gate, &t);
    const std::size_t n = model.size();
    s.mean = t.mean;
    s.cov = t.cov;
    s.lag_cov.assign(n, Mat<N>::Zero());
    Mat<N> F, Q;
    for (std::size_t i = n - 1; i-- > 0;) {
        model.step(i, F, Q);
        const Mat<N> FP = F * t.cov[i];
        const Mat<N> G = t.predicted_cov[i].ldlt().solve(FP).transpose();
        s.mean[i] = t.mean[i] + G * (s.mean[i + 1] - t.predicted[i]);
        Mat<N> P = t.cov[i] + G * (s.cov[i + 1] - t.predicted_cov[i]) * G.transpose();
        s.cov[i] = 0.5 * (P + P.transpose());
        s.lag_cov[i] = G * s.cov[i + 1];
    }
    return s;
}

}  // namespace bw::ride::internal
