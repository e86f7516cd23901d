// SPDX-License-Identifier: Apache-2.0
// Everything out as CSV and JSON, and in again: the same, file for file.                                Layer: papers
#include <fmt/format.h>

#include <charconv>
#include <map>
#include <nlohmann/json.hpp>

#include "base/text.hpp"
#include "open.hpp"

namespace bw::papers {

namespace sql {

namespace {

using json = nlohmann::ordered_json;

enum class Kind { integer, real, text, blob };
struct Column {
    std::string name;
    Kind kind;
};

std::vector<Column> columns_of(Db& db, const Table& table) {
    std::vector<Column> all;
    Statement s(db, fmt::format("SELECT name, type FROM pragma_table_info('{}') ORDER BY cid", table.name));
    while (s.step()) {
        std::string name, type;
        take(s.at(0), name);
        take(s.at(1), type);
        all.push_back({name, type == "INTEGER" ? Kind::integer : type == "REAL" ? Kind::real : type == "BLOB" ? Kind::blob : Kind::text});
    }
    return all;
}

std::string csv_of(const Cell& c) {
    if (const auto* i = std::get_if<std::int64_t>(&c)) return fmt::format("{}", *i);
    if (const auto* d = std::get_if<double>(&c)) return fmt::format("{}", *d);   // the shortest text that reads back to the same number
    if (const auto* t = std::get_if<std::string>(&c)) return csv_field(*t);
    return "";
}

std::string shown(std::string_view text) {
    std::string out(text.substr(0, 60));
    for (char& c : out)
        if (static_cast<unsigned char>(c) < 0x20) c = ' ';
    return is_utf8(out) ? out : "(bytes that are no text)";
}

Error bad(std::string text) { return {Errc::bad_input, std::move(text)}; }
[[noreturn]] void wrong(std::string text) { throw Failed{bad(std::move(text))}; }

Cell cell_of_text(const std::string& text, const Column& column, const std::string& where) {
    if (text.empty()) return {};
    if (column.kind == Kind::text) return text;
    if (column.kind == Kind::integer) {
        std::int64_t value = 0;
        const auto [end, status] = std::from_chars(text.data(), text.data() + text.size(), value);
        if (status != std::errc{} || end != text.data() + text.size()) wrong(fmt::format("{}: {} '{}': expected a whole number", where, column.name, shown(text)));
        return value;
    }
    const auto value = parse_number(text);
    if (!value) wrong(fmt::format("{}: {} '{}': expected a number", where, column.name, shown(text)));
    return *value;
}

Cell cell_of_json(const json& j, const Column& column, const std::string& where) {
    if (j.is_null()) return {};
    if (column.kind == Kind::integer && j.is_number_integer()) return j.get<std::int64_t>();
    if (column.kind == Kind::real && j.is_number()) return j.get<double>();
    if (column.kind == Kind::text && j.is_string() && !j.get_ref<const std::string&>().empty()) return j.get<std::string>();
    wrong(fmt::format("{}: {}: expected {} or null", where, column.name, column.kind == Kind::integer ? "a whole number" : column.kind == Kind::real ? "a number" : "text"));
}

// Records of a CSV (RFC 4180): quoted fields may hold line ends.
struct Record {
    long line;
    std::vector<std::string> fields;
};
std::vector<Record> records_of(std::string_view text, const std::string& name) {
    std::vector<Record> all;
    long line = 1;
    for (std::size_t at = 0; at < text.size();) {
        Record r{line, {""}};
        bool quoted = false, end = false;
        while (at < text.size() && !end) {
            const char c = text[at++];
            if (c == '\n') ++line;
            if (quoted) {
                if (c != '"') r.fields.back() += c;
                else if (at < text.size() && text[at] == '"') r.fields.back() += text[at++];
                else quoted = false;
            } else if (c == '"') quoted = true;
            else if (c == ',') r.fields.emplace_back();
            else if (c == '\n') end = true;
            else if (c != '\r') r.fields.back() += c;
        }
        if (quoted) wrong(fmt::format("{}:{}: a quoted field has no end", name, r.line));
        if (r.fields.size() > 1 || !r.fields[0].empty()) all.push_back(std::move(r));
    }
    return all;
}

struct Rows {
    std::vector<Row> rows;
    std::vector<std::string> where;   // for messages
};

std::string file_of(const Table& table) { return fmt::format("{}.csv", table.file); }

std::optional<Rows> rows_of_csv(const FileSource& source, const Table& table, const std::vector<Column>& columns) {
    Result<std::optional<std::string>> text = source(file_of(table));
    if (!text) throw Failed{text.error()};
    if (!*text) return std::nullopt;
    std::string_view all = **text;
    if (all.starts_with("\xEF\xBB\xBF")) all.remove_prefix(3);
    const std::string name = file_of(table);
    const std::vector<Record> records = records_of(all, name);
    if (records.empty()) wrong(fmt::format("{}: the file is empty; expected a line of column names", name));
    std::vector<std::string> expected;
    for (const Column& c : columns)
        if (c.kind != Kind::blob) expected.push_back(c.name);
    if (records[0].fields != expected) wrong(fmt::format("{}:1: expected the columns {}", name, fmt::join(expected, ",")));
    Rows out;
    for (std::size_t i = 1; i < records.size(); ++i) {
        const Record& r = records[i];
        const std::string where = fmt::format("{}:{}", name, r.line);
        if (r.fields.size() != expected.size()) wrong(fmt::format("{}: expected {} fields, found {}", where, expected.size(), r.fields.size()));
        Row row;
        std::size_t f = 0;
        for (const Column& c : columns)
            if (c.kind != Kind::blob) row.emplace_back(c.name, cell_of_text(r.fields[f++], c, where));
        out.rows.push_back(std::move(row));
        out.where.push_back(where);
    }
    return out;
}

std::optional<Rows> rows_of_json(const json& all, const Table& table, const std::vector<Column>& columns) {
    if (!all.is_object()) return std::nullopt;
    const auto found = all["tables"].find(table.name);
    if (found == all["tables"].end() || !found->is_array()) wrong(fmt::format("papers.json: tables.{}: expected a list of rows", table.name));
    Rows out;
    for (const json& j : *found) {
        const std::string where = fmt::format("papers.json: {} row {}", table.name, out.rows.size() + 1);
        if (!j.is_object()) wrong(where + ": expected an object");
        Row row;
        for (const Column& c : columns) {
            if (c.kind == Kind::blob) continue;
            const auto value = j.find(c.name);
            if (value == j.end()) wrong(fmt::format("{}: '{}' is missing", where, c.name));
            row.emplace_back(c.name, cell_of_json(*value, c, where));
        }
        for (const auto& [key, value] : j.items())
            if (std::none_of(columns.begin(), columns.end(), [&, &k = key](const Column& c) { return c.name == k; })) wrong(fmt::format("{}: unknown key '{}'", where, shown(key)));
        out.rows.push_back(std::move(row));
        out.where.push_back(where);
    }
    return out;
}

json parsed(const FileSource& source) {
    Result<std::optional<std::string>> text = source("papers.json");
    if (!text) throw Failed{text.error()};
    if (!*text) return nullptr;
    json all;
    try {
        all = json::parse(**text);
    } catch (const json::parse_error& e) {
        wrong(fmt::format("papers.json: byte {}: this is not JSON", e.byte));
    } catch (const json::out_of_range&) {
        wrong("papers.json: a number is too large for this program");
    }
    if (!all.is_object() || all.value("schema", json()) != "papers/1" || !all.contains("schema_version") || !all["schema_version"].is_number_integer() || !all.contains("tables") || !all["tables"].is_object())
        wrong("papers.json: expected an export of papers: \"schema\": \"papers/1\", \"schema_version\" and \"tables\"");
    return all;
}

bool is_id(const std::string& id) { return id.size() == 64 && id.find_first_not_of("0123456789abcdef") == std::string::npos; }

}  // namespace

void export_tables(Db& db, const FileSink& sink) {
    const auto put = [&](const std::string& name, std::string_view bytes) {
        if (Status s = sink(name, bytes); !s) throw Failed{s.error()};
    };
    const std::int64_t schema = db.number("PRAGMA user_version");
    put("about.csv", fmt::format("schema,schema_version\npapers,{}\n", schema));
    std::string all = fmt::format("{{\"schema\": \"papers/1\", \"schema_version\": {}, \"tables\": {{\n", schema);
    bool first_table = true;
    for (const Table& table : tables()) {
        const std::vector<Column> columns = columns_of(db, table);
        std::string csv;
        std::string names;
        for (const Column& c : columns) {
            if (c.kind != Kind::blob) csv += (csv.empty() ? "" : ",") + c.name;
            names += (names.empty() ? "" : ", ") + c.name;
        }
        csv += '\n';
        all += fmt::format("{}\"{}\": [", first_table ? "" : ",\n", table.name);
        first_table = false;
        bool first_row = true;
        Statement s(db, fmt::format("SELECT {} FROM {} ORDER BY {}", names, table.name, table.order));
        while (s.step()) {
            Row row = s.row(), shown_row;
            bool first = true;
            for (const auto& [column, c] : row) {
                if (const auto* blob = std::get_if<Blob>(&c)) {
                    std::string id;
                    take(cell_of(row, "id"), id);
                    const auto* size = std::get_if<std::int64_t>(&cell_of(row, "size_bytes"));
                    if (!is_id(id)) throw Misfit("id of a file");
                    std::string bytes = blob->bytes;
                    if (size) {   // kept deflated, given out as it came
                        Result<std::string> content = inflated(blob->bytes, static_cast<std::size_t>(std::max<std::int64_t>(*size, 0)));
                        if (!content) throw Failed{content.error()};
                        bytes = *std::move(content);
                    }
                    put(fmt::format("{}/{}", table.file, id), bytes);
                    continue;
                }
                csv += (first ? "" : ",") + csv_of(c);
                first = false;
                shown_row.emplace_back(column, c);
            }
            csv += '\n';
            all += (first_row ? "\n" : ",\n") + json_of(shown_row);
            first_row = false;
        }
        all += first_row ? "]" : "\n]";
        put(file_of(table), csv);
    }
    all += "\n}}\n";
    put("papers.json", all);
}

int schema_of_export(const FileSource& source) {
    const json all = parsed(source);
    std::int64_t number = 0;
    if (all.is_object()) number = all["schema_version"].get<std::int64_t>();
    else {
        Result<std::optional<std::string>> about = source("about.csv");
        if (!about) throw Failed{about.error()};
        if (!*about) wrong("this is not an export of papers: there is neither papers.json nor about.csv in it");
        const std::vector<Record> r = records_of(**about, "about.csv");
        if (r.size() != 2 || r[0].fields != std::vector<std::string>{"schema", "schema_version"} || r[1].fields.size() != 2 || r[1].fields[0] != "papers")
            wrong("about.csv: expected the columns schema,schema_version and one row 'papers' with its number");
        const auto n = parse_number(r[1].fields[1]);
        if (!n || *n != static_cast<double>(static_cast<int>(std::clamp(*n, 0.0, 1e6)))) wrong("about.csv:2: schema_version: expected a whole number");
        number = static_cast<std::int64_t>(*n);
    }
    const int newest = migrations().back().number;
    if (number > newest) wrong(fmt::format("this export has schema {}, this program knows schemas up to {}. Import it with a newer brakewright.", number, newest));
    if (number < 1) wrong(fmt::format("this export says that it has schema {}; expected 1 to {}", number, newest));
    return static_cast<int>(number);
}

void import_tables(Db& db, const FileSource& source) {
    const json all = parsed(source);
    Transaction t(db, Transaction::Kind::write);
    db.run("PRAGMA defer_foreign_keys = ON");
    for (const Table& table : tables()) {
        const std::vector<Column> columns = columns_of(db, table);
        if (columns.empty()) continue;   // of a later schema than the export
        const std::optional<Rows> told = rows_of_json(all, table, columns), csv = rows_of_csv(source, table, columns);
        if (!told && !csv) wrong(fmt::format("{} is missing", file_of(table)));
        if (told && csv) {
            for (std::size_t i = 0; i < std::min(told->rows.size(), csv->rows.size()); ++i)
                for (std::size_t c = 0; c < told->rows[i].size(); ++c)
                    if (told->rows[i][c] != csv->rows[i][c])
                        wrong(fmt::format("{}: {} is not what papers.json says (row {} of {}). Import takes an export as it was written; change things with the commands afterwards.",
                                          csv->where[i], told->rows[i][c].first, i + 1, table.name));
            if (told->rows.size() != csv->rows.size())
                wrong(fmt::format("{} has {} rows, papers.json has {}. Import takes an export as it was written; change things with the commands afterwards.", file_of(table), csv->rows.size(), told->rows.size()));
        }
        const Rows& rows = told ? *told : *csv;
        for (std::size_t i = 0; i < rows.rows.size(); ++i) {
            Row row = rows.rows[i];
            if (table.blob) {
                std::string id;
                take(cell_of(row, "id"), id);
                if (!is_id(id)) wrong(fmt::format("{}: id: expected 64 hexadecimal digits", rows.where[i]));
                const std::string name = fmt::format("{}/{}", table.file, id);
                Result<std::optional<std::string>> bytes = source(name);
                if (!bytes) throw Failed{bytes.error()};
                if (!*bytes) wrong(fmt::format("{} is missing; {} names it", name, rows.where[i]));
                if (const auto* size = std::get_if<std::int64_t>(&cell_of(row, "size_bytes"))) {
                    if (content_id(**bytes) != id || static_cast<std::int64_t>((*bytes)->size()) != *size) wrong(fmt::format("{}: these are not the bytes that were exported: their SHA-256 is not the file's name", name));
                    row.emplace_back(table.blob, Blob{deflated(**bytes)});
                } else {
                    row.emplace_back(table.blob, Blob{**std::move(bytes)});
                }
            }
            std::string names, marks;
            for (std::size_t k = 0; k < row.size(); ++k) {
                names += fmt::format("{}{}", k ? ", " : "", row[k].first);
                marks += fmt::format("{}?{}", k ? ", " : "", k + 1);
                if (const auto* text = std::get_if<std::string>(&row[k].second); text && !is_utf8(*text)) wrong(fmt::format("{}: {}: expected text in UTF-8", rows.where[i], row[k].first));
            }
            Statement s(db, fmt::format("INSERT INTO {} ({}) VALUES ({})", table.name, names, marks));
            for (std::size_t k = 0; k < row.size(); ++k) s.bind(static_cast<int>(k) + 1, row[k].second);
            try {
                s.done();
            } catch (const Failed&) {
                if ((sqlite3_extended_errcode(db.handle()) & 0xFF) != SQLITE_CONSTRAINT) throw;
                wrong(fmt::format("{}: this row does not fit ({})", rows.where[i], sqlite3_errmsg(db.handle())));
            }
        }
    }
    for (const std::string& name : db.texts("PRAGMA foreign_key_check")) wrong(fmt::format("a row of {} names another that is not there", name));
    Soundness s;
    against_history(db, s);
    if (!s.troubles.empty()) wrong(fmt::format("{}. Import takes an export as it was written; change things with the commands afterwards.", s.troubles.front()));
    t.commit();
}

}  // namespace sql

Result<std::unique_ptr<Papers>> import_papers(const std::string& path, const FileSource& source) {
    return sql::guarded([&] {
        const sql::Options o;
        sql::make_file(path, o, [&](sql::Db& db) { sql::import_tables(db, source); }, sql::schema_of_export(source));
        std::string note;
        return sql::papers_on(sql::open_file(path, o, note), o);
    });
}

}  // namespace bw::papers
