// SPDX-License-Identifier: Apache-2.0
// A bike and wear numbers for the wear tests; invented, round.
#pragma once
#include <gtest/gtest.h>
#include <stdexcept>

#include "wear/life.hpp"

inline bw::parts::Library library() {
    auto read = bw::parts::load_library();
    if (!read) throw std::logic_error(read.error().text);
    return *std::move(read);
}

inline bw::parts::Bike plain_bike() {
    bw::parts::Bike bike = bw::parts::default_bike(bw::parts::BikeKind::trail, library());
    for (const auto end : {bw::parts::End::front, bw::parts::End::rear}) {
        bw::parts::Wheel& w = bike.wheel(end);
        w.pads.friction_thickness_mm.value = 2.0;
        w.pads.least_friction_mm = bw::Uncertain{.value = 0.5};
        w.pads.area_mm2.value = 250;
        w.rotor.thickness_mm.value = 1.8;
        w.rotor.least_thickness_mm = bw::Uncertain{.value = 1.5};
    }
    return bike;
}

inline bw::wear::WearUnknowns plain_wear() {
    return {.specific_wear_mm3_MJ = 20, .rotor_wear_mm3_MJ = 1, .threshold_degC = 230, .growth = 3, .wet_factor = 3, .grit_factor = 2,
            .rotor_exponent = 1, .bedding = 1, .bedding_MJ = 0.03, .left_right = 0, .rubbing_N = 0, .ride_log_sd = 0, .ride_z = 0,
            .new_friction_mm = 2.2, .pad_limit_mm = 0.7, .rotor_limit_thin_mm = 1.5, .rotor_limit_thick_mm = 1.7,
            .rotor_thick_from_mm = 1.9, .longest_km = 100000};
}

inline bw::heat::WearDose dose_at(double energy_J, double T_degC, double distance_m = 10000) {
    bw::heat::WearDose dose;
    bw::heat::add(dose, energy_J, T_degC);
    dose.distance_m = distance_m;
    return dose;
}
