// SPDX-License-Identifier: Apache-2.0
// Numbers of practice for the rule tests: the project's own data file.
#pragma once
#include <gtest/gtest.h>

#include <stdexcept>

#include "inspect/verdict.hpp"

inline const bw::inspect::Practice& practice() {
    static const bw::inspect::Practice p = [] {
        const auto library = bw::parts::load_library();
        if (!library) throw std::logic_error(library.error().text);
        return bw::inspect::practice_of(*library);
    }();
    return p;
}
