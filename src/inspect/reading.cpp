// SPDX-License-Identifier: Apache-2.0
// Uncertainty of readings and guard bands.                                                               Layer: inspect
#include "inspect/reading.hpp"

#include <cassert>
#include <cmath>

#include "base/sampling.hpp"

namespace bw::inspect {

double standard_uncertainty(const Instrument& i) {
    assert(i.repeats >= 1);
    const double resolution2 = i.resolution * i.resolution / 12;             // [EQ inspect-1]
    const double permitted2 = i.permitted_error * i.permitted_error / 3;
    const double scatter2 = i.repeat_sd * i.repeat_sd / i.repeats;           // [EQ inspect-2]
    return std::sqrt(resolution2 + permitted2 + scatter2);
}

Reading friction_of_total(const Reading& total_mm, const Reading& plate_mm, Plate plate) {
    return {.value = total_mm.value - plate_mm.value,                        // [EQ inspect-3]
            .uncertainty = std::hypot(total_mm.uncertainty, plate_mm.uncertainty),
            .plate = plate};
}

double probability_below(double limit, double reading, double uncertainty) {
    // A number that is none must never clear a part.
    if (std::isnan(limit) || std::isnan(reading) || std::isnan(uncertainty)) return 1;
    if (uncertainty <= 0) return reading <= limit ? 1.0 : 0.0;
    return normal_cdf((limit - reading) / uncertainty);                      // [EQ inspect-4]
}

double guarded_limit(double limit, double uncertainty, double risk) {
    assert(risk > 0 && risk < 0.5);
    return limit - normal_quantile(risk) * uncertainty;                      // [EQ inspect-5]
}

}  // namespace bw::inspect
