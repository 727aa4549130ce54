#include "write/markdown.h"

#include <algorithm>
#include <map>
#include <memory>
#include <set>
#include <vector>

#include <cmark.h>
#include <fmt/format.h>
#include <kainjow/mustache.hpp>

#include "model/printable.h"
#include "write/brief_table.h"
#include "write/brief_tree.h"

namespace daywright::write {
namespace {

using kainjow::mustache::data;
using model::DayStatus;
using model::Severity;

struct FreeNode {
  void operator()(cmark_node* node) const { cmark_node_free(node); }
};
using NodePtr = std::unique_ptr<cmark_node, FreeNode>;

/// Looks names up in the rows of open sections, then among the figures and tables; keeps those it does not find.
class StatusContext final : public kainjow::mustache::context<std::string> {
 public:
  explicit StatusContext(const DayStatus& status) : status_(status) {}

  const data* get(const std::string& name) const override {
    if (const data* in_row = kainjow::mustache::context<std::string>::get(name)) return in_row;
    const auto known = values_.find(name);
    if (known != values_.end()) return &known->second;
    constexpr std::string_view table_prefix = "table.";
    if (name.starts_with(table_prefix)) {
      if (const auto* table = status_.find_table(name.substr(table_prefix.size())))
        return &values_.emplace(name, rows_of(*table)).first->second;
    }
    if (const auto* figure = status_.find(name))
      return &values_.emplace(name, data(model::with_unit(*figure))).first->second;
    unknown_.insert(name);
    return nullptr;
  }
  [[nodiscard]] const std::set<std::string>& unknown() const { return unknown_; }

 private:
  [[nodiscard]] data rows_of(const model::Table& table) const {
    data rows{data::type::list};
    for (const auto& row : table.rows) {
      data object{data::type::object};
      for (std::size_t i = 0; i < row.size(); ++i) {
        const auto* figure = row[i].figure.empty() ? nullptr : status_.find(row[i].figure);
        object.set(table.columns[i].key, data(figure != nullptr ? model::with_unit(*figure) : row[i].words));
      }
      rows.push_back(object);
    }
    return rows;
  }

  const DayStatus& status_;
  mutable std::map<std::string, data> values_;
  mutable std::set<std::string> unknown_;
};

int line_of(std::string_view text, std::size_t offset) {
  return static_cast<int>(std::count(text.begin(),
                                     text.begin() + static_cast<std::ptrdiff_t>(std::min(offset, text.size())), '\n')) +
         1;
}

model::Diagnostic template_fault(std::string_view text, std::size_t offset, std::string message, std::string rule) {
  return {Severity::error, {0, line_of(text, offset), 1}, std::move(message), std::move(rule)};
}

/// The offset that mustache's own messages end with.
std::size_t offset_in(const std::string& message) {
  const auto at = message.rfind(" at ");
  std::size_t offset = 0;
  if (at == std::string::npos) return 0;
  for (const char c : message.substr(at + 4)) {
    if (c < '0' || c > '9') break;
    offset = offset * 10 + static_cast<std::size_t>(c - '0');
  }
  return offset;
}

/// Where the template first uses `name`.
std::size_t find_tag(std::string_view text, const std::string& name) {
  for (auto at = text.find(name); at != std::string_view::npos; at = text.find(name, at + 1)) {
    const auto before = text.substr(0, at).find_last_not_of(" #^/&{");
    const bool opens = before == std::string_view::npos
                           ? at > 1
                           : text.substr(before + 1, at - before - 1).find('{') != std::string_view::npos;
    const auto after = text.substr(at + name.size());
    if (opens && (after.starts_with("}}") || after.starts_with(" "))) return at;
  }
  return 0;
}

/// An underscore within a word is never markup (CommonMark 0.30, section 6.2), so names of logs read as they are.
std::string without_needless_escapes(const std::string& text) {
  const auto is_word = [](char c) {
    return (c >= 'a' && c <= 'z') || (c >= 'A' && c <= 'Z') || (c >= '0' && c <= '9');
  };
  std::string result;
  for (std::size_t i = 0; i < text.size(); ++i) {
    const bool is_within_word =
        i > 0 && i + 2 < text.size() && text.compare(i, 2, "\\_") == 0 && is_word(text[i - 1]) && is_word(text[i + 2]);
    if (!is_within_word) result += text[i];
  }
  return result;
}

/// Where the line that is exactly `line` begins.
std::size_t find_line(std::string_view text, std::string_view line) {
  for (auto at = text.find(line); at != std::string_view::npos; at = text.find(line, at + 1)) {
    const auto end = at + line.size();
    if ((at == 0 || text[at - 1] == '\n') && (end == text.size() || text[end] == '\n')) return at;
  }
  return 0;
}

/// One cell as it stands in a pipe table: cmark's own escapes for text, and the pipe.
std::string table_cell(const std::string& text) {
  if (text.empty()) return {};
  const NodePtr document(cmark_node_new(CMARK_NODE_DOCUMENT));
  cmark_node* paragraph = cmark_node_new(CMARK_NODE_PARAGRAPH);
  cmark_node* words = cmark_node_new(CMARK_NODE_TEXT);
  // The bracket keeps "1. x" or "# x" from being taken for a list or a heading, which no cell can hold.
  cmark_node_set_literal(words, ("(" + model::printable(text)).c_str());
  cmark_node_append_child(paragraph, words);
  cmark_node_append_child(document.get(), paragraph);
  const std::unique_ptr<char, decltype(&free)> rendered(cmark_render_commonmark(document.get(), CMARK_OPT_DEFAULT, 0),
                                                        &free);
  std::string cell(rendered.get() + 1);
  while (!cell.empty() && cell.back() == '\n') cell.pop_back();
  std::string escaped;
  for (const char c : cell) {
    if (c == '|' || c == '~') escaped += '\\';
    escaped += c;
  }
  return without_needless_escapes(escaped);
}

std::string padded(const std::string& text, std::size_t width, bool to_the_right) {
  const std::string blanks(width - std::min(width, model::display_width(text)), ' ');
  return to_the_right ? blanks + text : text + blanks;
}

}  // namespace

std::string render_table(const model::Table& table, const DayStatus& status) {
  if (table.rows.empty()) return no_rows;
  std::vector<std::vector<std::string>> lines(1);
  std::vector<bool> is_number;
  for (const auto& column : table.columns) {
    if (!column.in_brief) continue;
    lines.front().push_back(table_cell(head_of(column)));
    is_number.push_back(column.is_number);
  }
  for (std::size_t r = 0; r < rows_shown(table); ++r) {
    auto& line = lines.emplace_back();
    for (std::size_t c = 0; c < table.columns.size(); ++c) {
      if (table.columns[c].in_brief)
        line.push_back(table_cell(cut_to_fit(status.text_of(table.rows[r][c], table.columns[c]))));
    }
  }
  std::vector<std::size_t> widths(lines.front().size(), 3);
  for (const auto& line : lines) {
    for (std::size_t c = 0; c < line.size(); ++c) widths[c] = std::max(widths[c], model::display_width(line[c]));
  }
  std::string text;
  for (std::size_t r = 0; r < lines.size(); ++r) {
    text += "|";
    for (std::size_t c = 0; c < widths.size(); ++c) text += " " + padded(lines[r][c], widths[c], is_number[c]) + " |";
    text += "\n";
    if (r > 0) continue;
    text += "|";
    for (std::size_t c = 0; c < widths.size(); ++c)
      text += " " + std::string(widths[c] - 1, '-') + (is_number[c] ? ":" : "-") + " |";
    text += "\n";
  }
  text.pop_back();
  const std::string more = words_for_hidden_rows(table, status);
  if (!more.empty()) text += "\n\n" + more;
  return text;
}

namespace {

/// The template without what editors of other systems put into it: a byte order mark, CRLF.
std::string with_line_feeds(std::string_view text) {
  if (text.starts_with("\xEF\xBB\xBF")) text.remove_prefix(3);
  std::string result;
  for (std::size_t i = 0; i < text.size(); ++i) {
    if (text[i] != '\r' || i + 1 == text.size() || text[i + 1] != '\n') result += text[i];
  }
  return result;
}

const char* rule_for_marker(std::string_view kind) { return kind == "table" ? "template-table" : "template-chart"; }

/// What mustache would take without a word, and what the brief must not hold.
void check_template(const std::string& text, const DayStatus& status, model::Diagnostics& faults) {
  const auto refuse = [&](std::size_t at, std::string why, const char* rule) {
    faults.push_back(template_fault(text, at, std::move(why), rule));
  };
  if (text.find_first_not_of(" \n\t") == std::string::npos) refuse(0, "the template is empty", "template-syntax");
  for (std::size_t at = text.find("{{"); at != std::string::npos; at = text.find("{{", at + 2)) {
    const std::size_t begin = at + 2;
    const char sort = begin < text.size() ? text[begin] : ' ';
    if (sort == '{' || sort == '&')
      refuse(at, "unescaped text, expected {{NAME}}: a log could format the brief", "template-syntax");
    if (sort == '>') refuse(at, "a part of another template, expected it written out", "template-syntax");
    constexpr std::string_view table_prefix = "table.";
    const std::string name = text.substr(begin, text.find("}}", begin) - begin);
    if (name.starts_with(table_prefix) && status.find_table(name.substr(table_prefix.size())) != nullptr)
      refuse(at,
             fmt::format("a table in a line, expected a section {{{{#{0}}}}} or a line '@table {1}'", name,
                         name.substr(table_prefix.size())),
             "template-name");
  }
  for (std::size_t begin = 0; begin < text.size();) {
    const std::size_t end = std::min(text.find('\n', begin), text.size());
    const std::string_view line = std::string_view(text).substr(begin, end - begin);
    const bool is_after_text = begin >= 2 && text[begin - 2] != '\n';
    const bool is_before_text = end + 1 < text.size() && text[end + 1] != '\n';
    for (const char* kind : {"table", "chart"}) {
      const auto marker = line.find(fmt::format("@{} ", kind));
      if (marker == std::string_view::npos || (marker == 0 && !is_after_text && !is_before_text)) continue;
      refuse(begin,
             fmt::format("a {0} marker beside something else, expected a line '@{0} NAME' between empty lines", kind),
             rule_for_marker(kind));
    }
    begin = end + 1;
  }
}

}  // namespace

std::string escape_markdown(std::string_view text) {
  constexpr std::string_view markup = "\\`*_{}[]()#+-.!|<>&~@^$\"'=:%";
  std::string escaped;
  // Four blanks at the start of a line would make code of what follows.
  const std::string shown = model::printable(text);
  const auto first = shown.find_first_not_of(' ');
  for (const char c : first == std::string::npos ? std::string{} : shown.substr(first)) {
    if (markup.find(c) != std::string_view::npos) escaped += '\\';
    escaped += c;
  }
  return escaped;
}

Brief render_brief(std::string_view template_as_read, const DayStatus& status) {
  Brief brief;
  const std::string template_text = with_line_feeds(template_as_read);
  check_template(template_text, status, brief.faults);
  if (!brief.faults.empty()) return brief;
  kainjow::mustache::mustache mustache{template_text};
  if (!mustache.is_valid()) {
    const std::string& message = mustache.error_message();
    brief.faults.push_back(
        template_fault(template_text, offset_in(message), "the template can't be read: " + message, "template-syntax"));
    return brief;
  }
  mustache.set_custom_escape([](const std::string& text) { return escape_markdown(text); });
  StatusContext context(status);
  const std::string text = mustache.render(context);
  for (const auto& name : context.unknown()) {
    brief.faults.push_back(template_fault(template_text, find_tag(template_text, name),
                                          fmt::format("there is no figure, table or column '{}'", name),
                                          "template-name"));
  }
  const BriefTree tree(text, status);
  for (const auto& line : tree.unknown_markers()) {
    const auto blank = line.find(' ');
    const std::string kind = line.substr(1, blank - 1);
    brief.faults.push_back(template_fault(template_text, find_line(template_text, line),
                                          fmt::format("there is no {} '{}'", kind, line.substr(blank + 1)),
                                          rule_for_marker(kind)));
  }
  if (!brief.faults.empty()) return brief;
  brief.text = tree.as_markdown();
  brief.html = tree.as_html();
  return brief;
}

}  // namespace daywright::write
