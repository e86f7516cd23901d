// SPDX-License-Identifier: Apache-2.0
// Reading the data rows.                                                                                  Layer: parts
#include "parts/library.hpp"

#include <fmt/format.h>

#include <stdexcept>
#include <toml++/toml.h>

#include "base/text.hpp"

namespace bw::parts {

const std::vector<std::pair<std::string, std::string>>& data_files();   // generated from data/*.toml

const Datum& Library::row(std::string_view id) const {
    const auto found = rows_.find(id);
    if (found == rows_.end()) throw std::logic_error(fmt::format("no data row '{}'", id));
    return found->second;
}

Input Library::input(std::string_view id, std::string key) const {
    const Datum& d = row(id);
    return {.key = std::move(key), .unit = d.unit, .value = d.value};
}

namespace {

std::optional<Grade> grade_of(std::string_view word) {
    for (const Grade g : {Grade::measured, Grade::published, Grade::published_from_memory, Grade::common_practice, Grade::assumed})
        if (word == name_of(g)) return g;
    return std::nullopt;
}

Error wrong(const std::string& file, const toml::node& node, const std::string& text) {
    return {Errc::bad_input, fmt::format("{}:{}: {}", file, node.source().begin.line, text)};
}

Result<Datum> datum_of(const std::string& file, const std::string& id, const toml::table& table) {
    Datum d;
    bool graded = false;
    for (const auto& [key, node] : table) {
        const std::string_view k = key.str();
        if (k == "value" || k == "sd") {
            const auto number = node.value<double>();
            if (!number) return wrong(file, node, fmt::format("{}.{} must be a number", id, k));
            (k == "value" ? d.value.value : d.value.sd) = *number;
        } else if (k == "unit") d.unit = node.value_or(std::string());
        else if (k == "source") d.value.source = node.value_or(std::string());
        else if (k == "valid") d.valid = node.value_or(std::string());
        else if (k == "grade") {
            const auto g = grade_of(node.value_or(std::string()));
            if (!g) return wrong(file, node, fmt::format("{}: unknown grade", id));
            d.value.grade = *g;
            graded = true;
        } else return wrong(file, node, fmt::format("{}: unknown key '{}'", id, k));
    }
    if (!graded || d.value.source.empty()) return wrong(file, table, fmt::format("{}: grade and source are required", id));
    return d;
}

Status walk(const std::string& file, const std::string& prefix, const toml::table& table,
            std::map<std::string, Datum, std::less<>>& rows) {
    for (const auto& [key, node] : table) {
        const std::string id = prefix.empty() ? std::string(key.str()) : prefix + "." + std::string(key.str());
        const toml::table* inner = node.as_table();
        if (!inner) return wrong(file, node, fmt::format("'{}' must be a table with a value", id));
        if (!inner->contains("value")) {
            if (Status s = walk(file, id, *inner, rows); !s) return s;
            continue;
        }
        Result<Datum> d = datum_of(file, id, *inner);
        if (!d) return d.error();
        if (!rows.emplace(id, *std::move(d)).second) return wrong(file, node, fmt::format("'{}' is there twice", id));
    }
    return Done{};
}

}  // namespace

Result<Library> parse_library(const std::vector<std::pair<std::string, std::string>>& files) {
    Library library;
    for (const auto& [name, text] : files) {
        try {
            const toml::table table = toml::parse(text, name);
            if (Status s = walk(name, "", table, library.rows_); !s) return s.error();
        } catch (const toml::parse_error& e) {
            return Error{Errc::bad_input, fmt::format("{}:{}: {}", name, e.source().begin.line, std::string(e.description()))};
        }
    }
    return library;
}

Result<Library> load_library() { return parse_library(data_files()); }

}  // namespace bw::parts
