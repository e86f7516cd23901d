// SPDX-License-Identifier: Apache-2.0
// The built pages, inside the program.                                                                   Layer: app
#pragma once
#include <span>
#include <string_view>

namespace bw::app::service {

struct Page {
    std::string_view name;    //!< "index.html", "assets/x.js"
    std::string_view bytes;
};
//! Written by cmake/embed.cmake; empty where none were built.
std::span<const Page> pages();

}  // namespace bw::app::service
