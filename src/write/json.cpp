#include "write/json.h"

#include <nlohmann/json.hpp>

#include "write/caution.h"

namespace daywright::write {
namespace {

using Json = nlohmann::ordered_json;
using model::DayStatus;

// Built member by member: a list of pairs in braces is first built as arrays and then turned into objects.

std::string dump(const Json& json) { return json.dump(1, ' ', true) + "\n"; }

/// A list with one element a line, so that two days can be compared line by line.
template <class Things, class ToJson>
void append_list(std::string& out, std::string_view name, const Things& things, const ToJson& to_json) {
  out += "\"" + std::string(name) + "\": [";
  const char* separator = "\n";
  for (const auto& thing : things) {
    out += separator + to_json(thing).dump(-1, ' ', true);
    separator = ",\n";
  }
  out += "\n]";
}

Json versions_json(const Versions& versions) {
  Json json = Json::object();
  for (const auto& [name, version] : versions) json[name] = version;
  return json;
}

const char* kind_of(const model::FigureValue& value) {
  constexpr std::array kinds{"no data", "number", "instant", "verdict", "words"};
  return kinds.at(value.index());
}

Json value_of(const model::Figure& figure) {
  if (const auto* number = std::get_if<double>(&figure.value)) {
    const bool is_whole = figure.step >= 1 && *number == static_cast<double>(static_cast<long long>(*number));
    return is_whole ? Json(static_cast<long long>(*number)) : Json(*number);
  }
  if (const auto* when = std::get_if<model::Instant>(&figure.value)) return model::format_utc(*when);
  if (std::holds_alternative<std::monostate>(figure.value)) return nullptr;
  return figure.text;
}

Json trace_json(const model::Trace& trace, const DayStatus& status) {
  Json inputs = Json::array();
  for (const auto& input : trace.inputs) {
    Json json;
    json["name"] = input.name;
    json["text"] = input.text;
    if (!input.figure.empty()) json["figure"] = input.figure;
    if (input.source.is_known()) {
      json["file"] = status.files.at(static_cast<std::size_t>(input.source.file));
      json["line"] = input.source.line;
    }
    inputs.push_back(std::move(json));
  }
  Json json;
  json["formula"] = trace.formula;
  json["inputs"] = std::move(inputs);
  return json;
}

Json figure_json(const model::Figure& figure, const DayStatus& status) {
  Json json;
  json["id"] = figure.id;
  json["title"] = figure.title;
  json["kind"] = kind_of(figure.value);
  json["value"] = value_of(figure);
  if (!figure.unit.empty()) json["unit"] = figure.unit;
  json["text"] = figure.text;
  if (!figure.doubts.empty()) json["doubts"] = figure.doubts;
  json["trace"] = trace_json(figure.trace, status);
  return json;
}

Json table_json(const model::Table& table) {
  Json columns = Json::array();
  for (const auto& column : table.columns) {
    Json json{{"key", column.key}, {"title", column.title}};
    if (!column.unit.empty()) json["unit"] = column.unit;
    columns.push_back(std::move(json));
  }
  Json rows = Json::array();
  for (const auto& row : table.rows) {
    Json cells = Json::array();
    for (const auto& cell : row) {
      Json json;
      if (cell.figure.empty())
        json["words"] = cell.words;
      else
        json["figure"] = cell.figure;
      cells.push_back(std::move(json));
    }
    rows.push_back(std::move(cells));
  }
  return {{"name", table.name}, {"title", table.title}, {"columns", std::move(columns)}, {"rows", std::move(rows)}};
}

}  // namespace

std::string render_status(const DayStatus& status, const Versions& versions) {
  std::string out = "{\"format\": 1,\n\"caution\": " + Json(caution).dump() +
                    ",\n\"versions\": " + versions_json(versions).dump(-1, ' ', true) + ",\n";
  append_list(out, "figures", status.figures, [&](const auto& figure) { return figure_json(figure, status); });
  out += ",\n";
  append_list(out, "tables", status.tables, table_json);
  return out + "}\n";
}

std::string render_inputs(const std::vector<InputRecord>& inputs, const Versions& versions) {
  Json files = Json::array();
  for (const auto& input : inputs)
    files.push_back({{"path", input.path}, {"size", input.size}, {"sha256", input.sha256}});
  return dump({{"format", 1}, {"files", std::move(files)}, {"versions", versions_json(versions)}});
}

}  // namespace daywright::write
