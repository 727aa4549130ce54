#include "write/json.h"

#include <algorithm>
#include <array>
#include <functional>
#include <map>
#include <set>

#include <nlohmann/json.hpp>

#include "write/caution.h"
#include "write/json_text.h"

namespace daywright::write {
namespace {

using model::DayStatus;

/// What a list of a part begins with, and nothing else does.
constexpr std::string_view part_begin = "{\"format\":1,\"partial\":";
constexpr std::string_view templates_begin = "{\"path\":\"templates/";

void append_input(JsonText& json, const InputRecord& input) {
  json.begin_object();
  json.member("path", input.path);
  json.member("size", static_cast<std::int64_t>(input.size));
  json.member("sha256", input.sha256);
  json.end_object();
}

void append_versions(JsonText& json, const Versions& versions) {
  json.key("versions");
  json.begin_object();
  for (const auto& [name, version] : versions) json.member(name, version);
  json.end_object();
}

/// The files that `list` and `files` have otherwise: either templates alone, or all but templates.
std::vector<std::string> changed_files(std::string_view list, const std::vector<InputRecord>& files,
                                       bool are_templates) {
  // Each file stands on a line of its own, so that two lists are compared as they are written.
  std::set<std::string, std::less<>> listed;
  while (!list.empty()) {
    const auto end = std::min(list.find('\n'), list.size());
    auto line = list.substr(0, end);
    list.remove_prefix(std::min(end + 1, list.size()));
    line = line.substr(0, line.find('}') + 1);
    if (line.starts_with("{\"path\":") && line.starts_with(templates_begin) == are_templates) listed.emplace(line);
  }
  std::set<std::string> changed;
  for (const auto& file : files) {
    std::string line;
    JsonText json(line);
    append_input(json, file);
    if (listed.erase(line) == 0) changed.insert(file.path);
  }
  for (const auto& line : listed) {
    constexpr std::string_view before_path = "{\"path\":\"";
    const auto path = std::string_view(line).substr(before_path.size());
    changed.emplace(path.substr(0, path.find('"')));
  }
  return {changed.begin(), changed.end()};
}

const char* kind_of(const model::FigureValue& value) {
  constexpr std::array kinds{"no data", "number", "instant", "verdict", "words"};
  return kinds.at(value.index());
}

void append_value(JsonText& json, const model::Figure& figure) {
  if (const auto* number = std::get_if<double>(&figure.value)) return json.number(*number);
  if (const auto* when = std::get_if<model::Instant>(&figure.value)) return json.text(model::format_utc(*when));
  if (std::holds_alternative<std::monostate>(figure.value)) return json.null();
  json.text(figure.text);
}

void append_trace(JsonText& json, const model::Trace& trace, const DayStatus& status) {
  json.begin_object();
  json.member("formula", trace.formula);
  json.key("inputs");
  json.begin_list();
  for (const auto& input : trace.inputs) {
    json.begin_object();
    json.member("name", input.name);
    json.member("text", input.text);
    if (!input.figure.empty()) json.member("figure", input.figure);
    if (input.source.is_known()) {
      json.member("file", status.files.at(static_cast<std::size_t>(input.source.file)));
      json.member("line", input.source.line);
    }
    json.end_object();
  }
  json.end_list();
  json.end_object();
}

void append_figure(JsonText& json, const model::Figure& figure, const DayStatus& status) {
  json.begin_object();
  json.member("id", figure.id);
  json.member("title", figure.title);
  json.member("kind", kind_of(figure.value));
  json.key("value");
  append_value(json, figure);
  if (!figure.unit.empty()) json.member("unit", figure.unit);
  json.member("text", figure.text);
  if (!figure.doubts.empty()) {
    json.key("doubts");
    json.begin_list();
    for (const auto& doubt : figure.doubts) json.text(doubt);
    json.end_list();
  }
  json.key("trace");
  append_trace(json, figure.trace, status);
  json.end_object();
}

void append_columns(JsonText& json, const std::vector<model::Column>& columns) {
  json.key("columns");
  json.begin_list();
  for (const auto& column : columns) {
    json.begin_object();
    json.member("key", column.key);
    json.member("title", column.title);
    if (!column.unit.empty()) json.member("unit", column.unit);
    json.end_object();
  }
  json.end_list();
}

void append_table(JsonText& json, const model::Table& table) {
  json.begin_object();
  json.member("name", table.name);
  json.member("title", table.title);
  append_columns(json, table.columns);
  json.key("rows");
  json.begin_list();
  for (const auto& row : table.rows) {
    json.new_line();
    json.begin_list();
    for (const auto& cell : row) {
      json.begin_object();
      if (cell.figure.empty()) {
        json.member("words", cell.words);
      } else {
        json.member("figure", cell.figure);
      }
      json.end_object();
    }
    json.end_list();
  }
  json.end_list();
  json.end_object();
}

/// The files of a list with their digests.
std::map<std::string, std::string> digests_in(std::string_view list) {
  std::map<std::string, std::string> digests;
  const auto read = nlohmann::json::parse(list, nullptr, false);
  const auto files = read.is_object() ? read.find("files") : read.end();
  if (files == read.end() || !files->is_array()) return digests;
  for (const auto& file : *files) {
    const auto text = [&](const char* name) {
      const auto member = file.is_object() ? file.find(name) : file.end();
      return member != file.end() && member->is_string() ? member->get<std::string>() : "";
    };
    digests[text("path")] = text("sha256");
  }
  return digests;
}

}  // namespace

std::string render_status(const DayStatus& status, const Versions& versions) {
  std::string out;
  JsonText json(out);
  json.begin_object();
  json.member("format", 1);
  json.member("caution", caution);
  append_versions(json, versions);
  json.new_line();
  json.key("figures");
  json.begin_list();
  for (const auto& figure : status.figures) {
    json.new_line();
    append_figure(json, figure, status);
  }
  json.end_list();
  json.new_line();
  json.key("tables");
  json.begin_list();
  for (const auto& table : status.tables) {
    json.new_line();
    append_table(json, table);
  }
  json.end_list();
  json.end_object();
  return out + '\n';
}

std::string render_inputs(const std::vector<InputRecord>& inputs, const model::Filed& filed, const Versions& versions,
                          const std::vector<std::string>& part) {
  std::string out;
  JsonText json(out);
  json.begin_object();
  json.member("format", 1);
  if (!part.empty()) {
    json.key("partial");
    json.begin_list();
    for (const auto& output : part) json.text(output);
    json.end_list();
  }
  json.key("files");
  json.begin_list();
  for (const auto& input : inputs) {
    json.new_line();
    append_input(json, input);
  }
  json.end_list();
  json.new_line();
  json.key("archive");
  json.begin_object();
  json.member("count", filed.count);
  json.member("digest", filed.digest);
  json.member("revisions", filed.revisions);
  json.member("fault", filed.fault);
  json.end_object();
  json.new_line();
  append_versions(json, versions);
  json.end_object();
  return out + '\n';
}

std::optional<model::Filed> read_filed(std::string_view list) {
  const auto read = nlohmann::json::parse(list, nullptr, false);
  const auto found = read.is_object() ? read.find("archive") : read.end();
  if (found == read.end() || !found->is_object()) return std::nullopt;
  const auto number = [&](const char* name) {
    const auto member = found->find(name);
    return member != found->end() && member->is_number_integer() ? member->get<std::int64_t>() : 0;
  };
  const auto text = [&](const char* name) {
    const auto member = found->find(name);
    return member != found->end() && member->is_string() ? member->get<std::string>() : "";
  };
  return model::Filed{number("count"), text("digest"), number("revisions"), text("fault")};
}

std::string_view versions_line(std::string_view list) {
  constexpr std::string_view begin = "\n\"versions\":";
  const auto at = list.rfind(begin);
  return at == std::string_view::npos ? "" : list.substr(at + 1);
}

bool is_list_of_part(std::string_view list) { return list.starts_with(part_begin); }

std::vector<std::string> changed_inputs(std::string_view list, const std::vector<InputRecord>& inputs) {
  return changed_files(list, inputs, false);
}

std::vector<std::string> changed_templates(std::string_view list, const std::vector<InputRecord>& templates) {
  return changed_files(list, templates, true);
}

std::vector<InputChange> find_input_changes(std::string_view before, std::string_view after) {
  const auto had = digests_in(before);
  const auto has = digests_in(after);
  std::map<std::string, InputChange::Kind> changes;
  for (const auto& [path, digest] : had) {
    const auto found = has.find(path);
    if (found == has.end()) {
      changes[path] = InputChange::Kind::gone;
    } else if (found->second != digest) {
      changes[path] = InputChange::Kind::changed;
    }
  }
  for (const auto& [path, digest] : has) {
    if (!had.contains(path)) changes[path] = InputChange::Kind::added;
  }
  std::vector<InputChange> list;
  for (const auto& [path, kind] : changes) list.push_back({path, kind});
  return list;
}

}  // namespace daywright::write
