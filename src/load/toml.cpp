#include "load/toml.h"

// Malformed headers such as "[" before a line break would otherwise stop the program in an assertion
// (toml++ 3.3.0 and 3.4.0, upstream issue 294).
#define TOML_ASSERT(expr) static_cast<void>(0)
#define TOML_EXCEPTIONS 0
#define TOML_HEADER_ONLY 1
#include <toml++/toml.h>

#include <algorithm>
#include <sstream>

#include <fmt/format.h>

#include "load/utf8.h"

namespace daywright::load {
namespace {

model::Source place(int file, const toml::source_position& position) {
  return {file, static_cast<int>(position.line), static_cast<int>(position.column)};
}

std::string iso_text(const toml::date_time& when) {
  std::string text = fmt::format("{:04}-{:02}-{:02}T{:02}:{:02}:{:02}", when.date.year, when.date.month, when.date.day,
                                 when.time.hour, when.time.minute, when.time.second);
  if (when.time.nanosecond != 0) text += fmt::format(".{:06}", when.time.nanosecond / 1000);
  // Only UTC is taken; another offset, or none, is left for the reader of times to refuse with its place.
  if (!when.offset) return text + " without Z";
  return text + (when.offset->minutes == 0 ? "Z" : " with an offset");
}

Node convert(const toml::node& from, int file);

void add_children(Node& node, const toml::table& table, int file) {
  for (const auto& [key, value] : table) {
    Node child = convert(value, file);
    child.key = std::string(key.str());
    child.key_at = place(file, key.source().begin);
    node.children.push_back(std::move(child));
  }
  std::stable_sort(node.children.begin(), node.children.end(),
                   [](const Node& a, const Node& b) { return a.key_at < b.key_at; });
}

Node convert(const toml::node& from, int file) {
  Node node;
  node.at = place(file, from.source().begin);
  if (const auto* table = from.as_table()) {
    node.kind = NodeKind::table;
    add_children(node, *table, file);
  } else if (const auto* list = from.as_array()) {
    node.kind = NodeKind::list;
    for (const auto& value : *list) node.children.push_back(convert(value, file));
  } else if (const auto* text = from.as_string()) {
    node.kind = NodeKind::text;
    node.text = text->get();
  } else if (const auto* whole = from.as_integer()) {
    node.kind = NodeKind::whole;
    node.whole = whole->get();
    node.real = static_cast<double>(whole->get());
  } else if (const auto* real = from.as_floating_point()) {
    node.kind = NodeKind::real;
    node.real = real->get();
  } else if (const auto* yes = from.as_boolean()) {
    node.kind = NodeKind::yes_no;
    node.yes = yes->get();
  } else {
    node.kind = NodeKind::text;
    if (const auto* when = from.as_date_time()) node.text = iso_text(when->get());
    if (from.is_date() || from.is_time()) node.text = "a date or time alone";
  }
  return node;
}

/// Where the last thing inside `node` stands: a table may go on after other tables have begun.
model::Source last_place(const Node& node) {
  model::Source last = std::max(node.at, node.key_at);
  for (const Node& child : node.children) last = std::max(last, last_place(child));
  return last;
}

}  // namespace

Node parse_toml(std::string_view text, int file, model::Diagnostics& faults) {
  Node root;
  root.at = {file, 1, 1};
  if (const auto bad = find_bad_byte(text)) {
    faults.push_back({model::Severity::error, source_at(file, text, *bad),
                      "a byte that is not UTF-8 text, expected UTF-8 throughout", "not-utf8"});
    return root;
  }
  const toml::parse_result result = toml::parse(text, std::string_view{});
  if (!result) {
    faults.push_back({model::Severity::error, place(file, result.error().source().begin),
                      fmt::format("not valid TOML: {}", result.error().description()), "toml-syntax"});
    return root;
  }
  const toml::source_position begin{1, 1};
  root.at = place(file, begin);
  add_children(root, result.table(), file);
  const Node* end = root.children.empty() ? nullptr : &root.children.back();
  const bool has_end = end != nullptr && end->key == "end_of_file" && end->kind == NodeKind::table &&
                       end->children.empty() &&
                       std::none_of(root.children.begin(), root.children.end() - 1,
                                    [&](const Node& n) { return last_place(n) > end->key_at; });
  if (!has_end) {
    faults.push_back(
        {model::Severity::error, source_at(file, text, text.size()),
         "the file does not close with a line [end_of_file], expected it as the last table; the file may be cut",
         "file-cut"});
    return Node{NodeKind::table, {}, root.at, {}, {}, 0, 0, false, {}};
  }
  root.children.pop_back();
  return root;
}

}  // namespace daywright::load
