// SPDX-License-Identifier: Apache-2.0
// Salvage of broken XML, shared by GPX and TCX.                                                              Layer: ride
#include "recording_xml.hpp"

#include <fmt/format.h>

#include <algorithm>

#include "base/text.hpp"

namespace bw::ride::readers {
namespace {

// A break costs one more pass over the rest of the file; a file with more breaks than this is not worth more.
constexpr std::size_t most_breaks = 32;
constexpr std::size_t deepest_head = 16;

//! Prefix of the tags called `name` with its colon ("" for none).
std::string prefix_of(std::string_view bytes, std::string_view name) {
    const auto at = bytes.find(name);
    if (at == std::string_view::npos || at == 0 || bytes[at - 1] != ':') return "";
    auto start = at - 1;
    while (start > 0 && bytes[start - 1] != '<' && at - start < 64) --start;
    const auto prefix = bytes.substr(start, at - start);
    if (start == 0 || bytes[start - 1] != '<') return "";
    const bool word = std::all_of(prefix.begin(), prefix.end() - 1, [](char c) {
        return (c >= 'a' && c <= 'z') || (c >= 'A' && c <= 'Z') || (c >= '0' && c <= '9') || c == '_' || c == '-';
    });
    return word ? std::string(prefix) : "";
}

bool is_wide(std::string_view b) {
    return b.size() >= 2 && ((b[0] == '\xff' && b[1] == '\xfe') || (b[0] == '\xfe' && b[1] == '\xff') || b[0] == '\0' ||
                             (b[0] == '<' && b[1] == '\0'));
}

struct Head {
    std::string text;
    std::size_t depth = 0;
};
Head head_of(std::span<const std::string_view> names, std::string_view prefix) {
    Head h;
    for (const auto name : names) h.text += fmt::format("<{}{}>", prefix, name);
    h.depth = names.size();
    return h;
}
//! The elements around a point as the file has them; the usual ones if it has too many.
Head head_around(const pugi::xml_node& point, const Head& usual) {
    Head h;
    for (auto up = point.parent(); up && up.type() == pugi::node_element; up = up.parent()) {
        if (++h.depth > deepest_head) return usual;
        h.text.insert(0, fmt::format("<{}>", up.name()));
    }
    return h.depth ? h : usual;
}

//! Every element but the first `skipped` levels, which are ours. Returns the last point.
pugi::xml_node walk(const pugi::xml_document& doc, std::size_t skipped, const XmlHooks& hooks) {
    pugi::xml_node last, node = doc.first_child();
    for (; skipped && node; --skipped) node = node.first_child();
    while (node) {
        bool descend = false;
        if (node.type() == pugi::node_element) {
            const auto visit = hooks.element(node, local_name(node));
            if (visit == Visit::point) last = node;
            descend = visit == Visit::descend;
        }
        if (descend && node.first_child()) {
            node = node.first_child();
        } else {
            while (node && !node.next_sibling()) node = node.parent();
            if (node) node = node.next_sibling();
        }
    }
    return last;
}

}  // namespace

std::string_view local_name(const pugi::xml_node& node) {
    const std::string_view name = node.name();
    const auto colon = name.rfind(':');
    return colon == std::string_view::npos ? name : name.substr(colon + 1);
}

bool same_word(std::string_view a, std::string_view lower_case) {
    return std::equal(a.begin(), a.end(), lower_case.begin(), lower_case.end(), [](char x, char y) {
        return (x >= 'A' && x <= 'Z' ? static_cast<char>(x - 'A' + 'a') : x) == y;
    });
}

void take_number(double& into, std::string_view text, Tally& tally) {
    if (trim(text).empty()) return;
    if (const auto v = lenient_number(text)) {
        into = *v;
    } else if (tally.bad_values++ == 0) {
        tally.first_bad = shown(text);
    }
}

bool take_time(double& into, std::string_view text, Tally& tally) {
    if (const auto t = lenient_time(text)) {
        into = *t;
    } else if (!trim(text).empty()) {
        if (tally.bad_times++ == 0 && tally.first_bad.empty()) tally.first_bad = shown(text);
        return false;
    }
    return true;
}

XmlText read_xml(std::string_view bytes, std::span<const PointTag> tags, const XmlHooks& hooks) {
    XmlText out;
    const bool wide = is_wide(bytes);
    // Tags and numbers are ASCII in every byte-wise encoding, and other text is not read: no conversion, so that places
    // of errors are places in the file.
    const auto encoding = wide ? pugi::encoding_auto : pugi::encoding_utf8;
    struct Marks {
        std::string open, close;
        Head head;
    };
    std::vector<Marks> marks;
    for (const auto& tag : tags) {
        const auto prefix = prefix_of(bytes, tag.name);
        marks.push_back({fmt::format("<{}{}", prefix, tag.name), fmt::format("</{}{}", prefix, tag.name), head_of(tag.inside, prefix)});
    }

    std::size_t from = 0;
    Head head;
    for (;;) {
        std::string buffer = head.text;
        const std::size_t added = buffer.size();
        buffer += bytes.substr(from);
        if (!wide) {
            // Zero bytes would end the parse; recorders leave them after a loss of power.
            const auto n = static_cast<std::size_t>(std::count(buffer.begin(), buffer.end(), '\0'));
            if (!out.breaks) out.zeros = n;
            if (n) std::replace(buffer.begin(), buffer.end(), '\0', ' ');
        }
        pugi::xml_document doc;
        const auto parsed =
            doc.load_buffer_inplace(buffer.data(), buffer.size(), pugi::parse_minimal | pugi::parse_escapes | pugi::parse_cdata, encoding);
        if (!out.breaks) {
            for (const auto& n : doc.children())
                if (n.type() == pugi::node_element) {
                    out.root = std::string(local_name(n));
                    break;
                }
        }
        const auto last = walk(doc, head.depth, hooks);
        if (parsed || parsed.status == pugi::status_no_document_element) {
            if (!parsed && !out.breaks) out.complaint = parsed.description();
            break;
        }

        if (!out.breaks) out.complaint = parsed.description();
        const auto offset = static_cast<std::size_t>(std::max<std::ptrdiff_t>(parsed.offset, 0));
        const std::size_t break_at = std::min(from + (offset > added ? offset - added : 0), bytes.size());
        // A point that the break cut in two may hold cut numbers: it counts only if its end tag came before the break.
        if (last) {
            bool whole = false;
            const auto at = last.offset_debug();
            if (!wide && at >= static_cast<std::ptrdiff_t>(added)) {
                const std::size_t start = from + static_cast<std::size_t>(at) - added;
                for (std::size_t k = 0; k < tags.size(); ++k) {
                    if (local_name(last) != tags[k].name) continue;
                    const auto end = bytes.substr(0, break_at).find(marks[k].close, start);
                    whole = end != std::string_view::npos;
                }
            }
            if (!whole) hooks.take_back();
        }
        if (!out.breaks++) {
            out.first_break = break_at;
            out.before_break = hooks.count();
        }
        if (wide) break;
        std::size_t next = std::string_view::npos, which = 0;
        for (std::size_t k = 0; k < marks.size(); ++k) {
            const auto at = bytes.find(marks[k].open, std::max(break_at, from + 1));
            if (at < next) next = at, which = k;
        }
        if (next == std::string_view::npos) break;
        if (out.breaks > most_breaks) {
            out.given_up = true;
            break;
        }
        from = next;
        head = last && local_name(last) == tags[which].name ? head_around(last, marks[which].head) : marks[which].head;
    }
    if (out.breaks) out.after_break = hooks.count() - out.before_break;
    return out;
}

void note_xml_faults(const XmlText& xml, const Tally& tally, std::string_view bytes, std::vector<Fault>& faults) {
    if (xml.breaks) {
        const auto line = 1 + std::count(bytes.begin(), bytes.begin() + static_cast<std::ptrdiff_t>(xml.first_break), '\n');
        std::string text = fmt::format("The file is broken or cut off at byte {} (line {}): {} before it {} kept", xml.first_break, line,
                                       counted(xml.before_break, "record", "records"), xml.before_break == 1 ? "was" : "were");
        if (xml.after_break) text += fmt::format(", and {} after it", xml.after_break);
        if (xml.breaks > 1) text += fmt::format("; {} places in all are broken, a record at each may be lost", xml.breaks);
        if (xml.given_up) text += fmt::format("; what comes after the {}rd break was not read", most_breaks + 1);
        faults.push_back({FaultKind::truncated, static_cast<int>(xml.breaks), 0, text + ". Copy the file from the recorder again if you can."});
    }
    if (xml.zeros)
        faults.push_back({FaultKind::other, static_cast<int>(std::min<std::size_t>(xml.zeros, 1000000000)), 0,
                          fmt::format("The file holds {} (a recorder that lost power leaves them); they were read as blanks.",
                                      counted(xml.zeros, "zero byte", "zero bytes"))});
    if (const auto lost = tally.timeless + tally.bad_times; lost && lost < tally.points)
        faults.push_back({FaultKind::no_time, static_cast<int>(lost), 0,
                          fmt::format("{} without a readable time {} left out.", counted(lost, "record", "records"), lost == 1 ? "was" : "were")});
    if (tally.bad_values)
        faults.push_back({FaultKind::other, static_cast<int>(tally.bad_values), 0,
                          fmt::format("{} could not be read as a number (the first: \"{}\") and {} taken as not known.",
                                      counted(tally.bad_values, "value", "values"), tally.first_bad, tally.bad_values == 1 ? "is" : "are")});
}

}  // namespace bw::ride::readers
