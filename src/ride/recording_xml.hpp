// SPDX-License-Identifier: Apache-2.0
// Walks the points of an XML recording and goes on after places where the text is broken.                   Layer: ride
// Names are compared without their namespace prefix: recorders choose prefixes freely.
#pragma once
#include <cstddef>
#include <functional>
#include <pugixml.hpp>
#include <span>
#include <string>
#include <string_view>
#include <vector>

#include "readers.hpp"

namespace bw::ride::readers {

std::string_view local_name(const pugi::xml_node& node);
//! Equal but for the case of ASCII letters.
bool same_word(std::string_view a, std::string_view lower_case);

struct Tally {
    std::size_t points = 0, timeless = 0, bad_times = 0, bad_values = 0;
    std::string first_bad;
};
//! Reads text into a value; empty text is nothing, anything else that is no number is counted.
void take_number(double& into, std::string_view text, Tally& tally);
//! Reads the time of a point; false if there is text that is no time.
bool take_time(double& into, std::string_view text, Tally& tally);

//! An element that holds one point, and the elements that usually hold it, outermost first.
struct PointTag {
    std::string_view name;
    std::vector<std::string_view> inside;
};

enum class Visit { descend, skip, point };   // point: it was one and has been taken; its children are not visited

struct XmlHooks {
    std::function<Visit(const pugi::xml_node&, std::string_view local_name)> element;
    std::function<void()> take_back;          //!< a break cut the last point: it does not count
    std::function<std::size_t()> count;       //!< records taken so far
};

//! What the text was like.
struct XmlText {
    std::string root;        //!< local name of the first element; empty if there is none
    std::string complaint;   //!< of the parser, at the first break
    std::size_t breaks = 0, first_break = 0, before_break = 0, after_break = 0, zeros = 0;
    bool given_up = false;
};

//! Calls the hooks for every element in order; without recursion, since nesting is up to the file. Entities and document
//! types are never expanded. A point counts as whole if its end tag came before the break.
XmlText read_xml(std::string_view bytes, std::span<const PointTag> tags, const XmlHooks& hooks);

//! Faults that the text and the tally gave.
void note_xml_faults(const XmlText& text, const Tally& tally, std::string_view bytes, std::vector<Fault>& faults);

}  // namespace bw::ride::readers
