#include "write/calls.h"

#include <fmt/format.h>

#include "write/brief_tree.h"
#include "write/caution.h"
#include "write/json_text.h"
#include "write/markdown.h"

namespace daywright::write {

std::string render_calls(const model::CallSheet& sheet) {
  std::string text = "# Calls and sign-offs: " + escape_markdown(sheet.heading) + "\n\n" + escape_markdown(sheet.log) +
                     "\n\nVerdicts are computed, calls are made by people: neither changes the other.\n";
  model::DayStatus tables;
  for (const auto& gate : sheet.gates) {
    text += "\n## " + escape_markdown(gate.title) + "\n\n";
    if (!gate.verdict.empty())
      text += "Computed: **" + escape_markdown(gate.verdict) + "**. Calls: " + escape_markdown(gate.calls) + ". **" +
              escape_markdown(gate.release) + "**.\n\n";
    if (gate.records.rows.empty()) {
      text += "No records.\n";
      continue;
    }
    tables.tables.push_back(gate.records);
    tables.tables.back().name = fmt::format("records_{}", tables.tables.size());
    text += "@table " + tables.tables.back().name + "\n";
  }
  text += "\n**Caution.** " + std::string(caution) + "\n";
  // Through the tree of a brief, so that what is escaped is only what has to be.
  return BriefTree(text, tables).as_markdown();
}

std::string render_calls_json(const model::CallSheet& sheet) {
  std::string out;
  JsonText json(out);
  json.begin_object();
  json.member("format", 1);
  json.member("caution", caution);
  json.member("heading", sheet.heading);
  json.member("log", sheet.log);
  json.key("gates");
  json.begin_list();
  for (const auto& gate : sheet.gates) {
    json.new_line();
    json.begin_object();
    json.member("gate", gate.gate);
    json.member("title", gate.title);
    json.member("verdict", gate.verdict);
    json.member("calls", gate.calls);
    json.member("release", gate.release);
    json.key("records");
    json.begin_list();
    for (const auto& row : gate.records.rows) {
      json.new_line();
      json.begin_object();
      for (std::size_t i = 0; i < row.size(); ++i) json.member(gate.records.columns[i].key, row[i].words);
      json.end_object();
    }
    json.end_list();
    json.end_object();
  }
  json.end_list();
  json.end_object();
  return out + '\n';
}

}  // namespace daywright::write
