// SPDX-License-Identifier: Apache-2.0
// A brake whose two sides differ, solved by SUNDIALS CVODE on nodes of its own: shares no equations with src/heat.
#pragma once
#include <vector>

#include "by_cvode.hpp"
#include "heat/reference.hpp"

namespace bw::heat::test {

//! One row a power row [°C]: of this side, then of the other: rotor face, pad face, plate, piston, fluid; then the rotor's middle, caliper,
//! arms, hub. brake.other must be there, both contacts finite; rotor_nodes odd, over the whole thickness.
std::vector<CvodeRow> two_sides_by_cvode(const ReferenceBrake& brake, const std::vector<PowerRow>& rows, int rotor_nodes, int pad_nodes, int plate_nodes);

}  // namespace bw::heat::test
