// SPDX-License-Identifier: Apache-2.0
// A recording as long as one asks for, whose braking is known: rides of the generator, one after the other. Layer: bench
// Invented data; the generator (demo/generator) shares no code and no constants with src/.
#pragma once
#include <cstddef>
#include <string>
#include <vector>

#include "files.hpp"

namespace bw::bench {

//! One rider on one bike, out and back on five kinds of ground, a record a second without a pause.
struct LongRide {
    rides::Ride first;                  //!< gives the files their date and name
    rides::Sensors sensors;             //!< format apart
    rides::Recording recording;         //!< a record a second from t_s = 0
    std::vector<double> brake_J;        //!< [n] truth of the second that follows each record
    rides::Machine bike{};
};

//! Deterministic. seconds: at least 3600.
LongRide long_ride(std::size_t seconds);

//! The first seconds of it as a file: GPX with place and altitude alone, or FIT with speed, distance, power and temperature too.
std::string file_of(const LongRide& ride, rides::Format format, std::size_t from_s, std::size_t to_s);

//! Truth of the same seconds [J].
double brakes_J(const LongRide& ride, std::size_t from_s, std::size_t to_s);

}  // namespace bw::bench
