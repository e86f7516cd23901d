// SPDX-License-Identifier: Apache-2.0
// Checks of the generator itself.   Layer: demo
#pragma once

namespace rides {

//! Prints a line a ride and every fault; 0 if there is none, else 1.
int self_check();

}  // namespace rides
