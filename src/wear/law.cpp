// SPDX-License-Identifier: Apache-2.0
// The wear law and its inputs.                                                                              Layer: wear
#include "wear/law.hpp"

#include <algorithm>
#include <cassert>
#include <cmath>
#include <fmt/format.h>
#include <numbers>

namespace bw::wear {

namespace {

constexpr double first_edge_degC = 0;     // only makes a chord of the first bin; the factor is 1 at both its ends
constexpr double last_edge_degC = 750;    // the last bin has no edge: its chord ends where pads are long gone
constexpr double most_left_right = 0.9;

// Absolute spread that gives a log-normal of this log standard deviation (Uncertain::at).
double sd_of_log(double value, double log_sd) { return value * std::sqrt(std::expm1(log_sd * log_sd)); }

Input with_log_sd(Input input, double log_sd) {
    input.value.sd = sd_of_log(input.value.value, log_sd);
    return input;
}

// A standard normal or a signed number has no place among positive inputs: its exponential has, with median 1.
Input exponential_of(const parts::Library& library, std::string_view id, std::string key, double log_sd) {
    Input input = library.input(id, std::move(key));
    input.unit = "";
    input.value.value = 1;
    input.value.sd = sd_of_log(1, log_sd);
    return input;
}

double temperature_factor(double T_degC, double threshold_degC, double growth) {
    const double over = std::max(0.0, (T_degC - threshold_degC) / 100);
    return 1 + growth * over * over;
}

template <class Value>
WearUnknowns unknowns_from(const parts::Library& library, const parts::Bike& bike, parts::End end, const Value& value) {
    const std::string prefix = fmt::format("{}.wear.", parts::word_of(end));
    const auto of = [&](std::string_view name) { return value(prefix + std::string(name)); };
    return {.specific_wear_mm3_MJ = of("specific_wear") * of("set"),
            .rotor_wear_mm3_MJ = of("rotor_wear"),
            .threshold_degC = of("threshold_degC"),
            .growth = of("growth"),
            .wet_factor = of("wet"),
            .grit_factor = of("grit"),
            .rotor_exponent = of("rotor_exponent"),
            .bedding = of("bedding"),
            .bedding_MJ = of("bedding_MJ"),
            .left_right = std::clamp(std::log(of("left_right")), -most_left_right, most_left_right),
            .rubbing_N = of("rubbing_N"),
            .ride_log_sd = library.value("wear.spread.ride"),
            .ride_z = std::log(of("ride")),
            .new_friction_mm = of("new_friction_mm"),
            .pad_limit_mm = bike.wheel(end).pads.least_friction_mm ? bike.wheel(end).pads.least_friction_mm->value
                                                                   : of("pad_limit_mm"),
            .rotor_limit_thin_mm = library.value("inspect.rotor.practice_least_thin_mm"),
            .rotor_limit_thick_mm = library.value("inspect.rotor.practice_least_thick_mm"),
            .rotor_thick_from_mm = library.value("inspect.rotor.thick_from_mm"),
            .longest_km = library.value("wear.longest_km")};
}

}  // namespace

std::vector<Input> inputs(const parts::Library& library, const parts::Bike& bike) {
    std::vector<Input> list;
    const auto spread = [&](std::string_view name) { return library.value(fmt::format("wear.spread.{}", name)); };
    for (const parts::End end : {parts::End::front, parts::End::rear}) {
        const parts::Compound compound = bike.wheel(end).pads.compound;
        const auto key = [&](std::string_view name) { return fmt::format("{}.wear.{}", parts::word_of(end), name); };
        const auto of_compound = [&](std::string_view name, std::string_view as) {
            return library.input(fmt::format("compound.{}.{}", parts::word_of(compound), name), key(as));
        };
        list.push_back(with_log_sd(of_compound("specific_wear_mm3_MJ", "specific_wear"), spread("rider")));
        list.push_back(exponential_of(library, "wear.spread.set", key("set"), spread("set")));
        list.push_back(with_log_sd(of_compound("rotor_wear_mm3_MJ", "rotor_wear"), spread("rotor_rider")));
        Input threshold = of_compound("wear_threshold_degC", "threshold_degC");
        threshold.value.sd = spread("threshold_dK");
        list.push_back(std::move(threshold));
        list.push_back(with_log_sd(of_compound("wear_growth", "growth"), spread("growth")));
        list.push_back(library.input("wear.factor.wet", key("wet")));
        list.push_back(library.input("wear.factor.grit", key("grit")));
        list.push_back(library.input("wear.factor.rotor_exponent", key("rotor_exponent")));
        list.push_back(library.input("wear.factor.bedding", key("bedding")));
        list.push_back(library.input("wear.factor.bedding_MJ", key("bedding_MJ")));
        list.push_back(exponential_of(library, "wear.spread.left_right", key("left_right"), spread("left_right")));
        list.push_back(library.input("wear.rubbing_N", key("rubbing_N")));
        list.push_back(exponential_of(library, "wear.spread.ride", key("ride"), 1.0));
        list.push_back(library.input("wear.new_friction_mm", key("new_friction_mm")));
        list.push_back(library.input("wear.pad_limit_mm", key("pad_limit_mm")));
    }
    return list;
}

WearUnknowns unknowns_of(const parts::Library& library, const parts::Bike& bike, parts::End end, const CaseRow& row) {
    return unknowns_from(library, bike, end, [&](const std::string& key) { return row(key); });
}

WearUnknowns median_unknowns(const parts::Library& library, const parts::Bike& bike, parts::End end) {
    const std::vector<Input> list = inputs(library, bike);
    return unknowns_from(library, bike, end, [&](const std::string& key) {
        const auto it = std::find_if(list.begin(), list.end(), [&](const Input& i) { return i.key == key; });
        assert(it != list.end());
        return it->value.value;
    });
}

double hot_work_J(const heat::WearDose& dose, double threshold_degC, double growth) {
    double sum_J = 0;
    for (std::size_t b = 0; b < heat::dose_bins; ++b) {                                  // [EQ wear-2]
        const double low = b == 0 ? first_edge_degC : heat::dose_edges_degC[b - 1];
        const double high = b + 1 < heat::dose_bins ? heat::dose_edges_degC[b] : last_edge_degC;
        const double at_low = temperature_factor(low, threshold_degC, growth);
        const double slope = (temperature_factor(high, threshold_degC, growth) - at_low) / (high - low);
        sum_J += dose.energy_J[b] * at_low + (dose.energy_temperature_J_degC[b] - dose.energy_J[b] * low) * slope;
    }
    return sum_J;
}

double weather_factor(double share, double factor) { return 1 + share * (factor - 1); }  // [EQ wear-3]

double pad_volume_mm3(const heat::WearDose& dose, const WearUnknowns& u, Side side) {
    const double share = 0.5 * (side == Side::left ? 1 + u.left_right : 1 - u.left_right);
    const double work_J = hot_work_J(dose, u.threshold_degC, u.growth) + u.rubbing_N * dose.distance_m;   // [EQ wear-4]
    return u.specific_wear_mm3_MJ * 1e-6 * work_J * share                                                 // [EQ wear-1]
           * weather_factor(dose.wet_share, u.wet_factor) * weather_factor(dose.grit_share, u.grit_factor);
}

double bedding_volume_mm3(double from_work_MJ, double to_work_MJ, const WearUnknowns& u) {
    return u.specific_wear_mm3_MJ * u.bedding * u.bedding_MJ                                              // [EQ wear-5]
           * (std::exp(-from_work_MJ / u.bedding_MJ) - std::exp(-to_work_MJ / u.bedding_MJ));
}

double rotor_volume_mm3(const heat::WearDose& dose, const WearUnknowns& u) {
    const double work_J = hot_work_J(dose, u.threshold_degC, u.growth) + u.rubbing_N * dose.distance_m;
    return u.rotor_wear_mm3_MJ * 1e-6 * work_J                                                            // [EQ wear-6]
           * weather_factor(dose.wet_share, std::pow(u.wet_factor, u.rotor_exponent))
           * weather_factor(dose.grit_share, std::pow(u.grit_factor, u.rotor_exponent));
}

double pad_loss_mm(double volume_mm3, double area_mm2) { return volume_mm3 / area_mm2; }                  // [EQ wear-7]

double solid_swept_area_mm2(const parts::Rotor& r) {
    const double outer = r.diameter_mm.value, inner = r.band_inner_mm.value;
    return std::numbers::pi / 4 * (outer * outer - inner * inner) * r.solid_share.value;                  // [EQ wear-8]
}

double rotor_loss_mm(double volume_mm3, const parts::Rotor& r) { return volume_mm3 / solid_swept_area_mm2(r); }

double wear_per_MJ(double wear_mm3_Nm, double friction) { return 1e6 * wear_mm3_Nm / friction; }

}  // namespace bw::wear
