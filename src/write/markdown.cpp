#include "write/markdown.h"

#include <algorithm>
#include <memory>
#include <vector>

#include <cmark.h>
#include <fmt/format.h>

#include "model/printable.h"
#include "write/brief_table.h"
#include "write/brief_tree.h"
#include "write/template_text.h"

namespace daywright::write {
namespace {

using model::DayStatus;

struct FreeNode {
  void operator()(cmark_node* node) const { cmark_node_free(node); }
};
using NodePtr = std::unique_ptr<cmark_node, FreeNode>;

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

const char* rule_for_marker(std::string_view kind) { return kind == "table" ? "template-table" : "template-chart"; }

/// A marker has its line and the empty lines around it to itself.
void check_markers(std::string_view text, model::Diagnostics& faults) {
  for (std::size_t begin = 0; begin < text.size();) {
    const std::size_t end = std::min(text.find('\n', begin), text.size());
    const std::string_view line = text.substr(begin, end - begin);
    const bool is_after_text = begin >= 2 && text[begin - 2] != '\n';
    const bool is_before_text = end + 1 < text.size() && text[end + 1] != '\n';
    for (const char* kind : {"table", "chart"}) {
      const auto marker = line.find(fmt::format("@{} ", kind));
      if (marker == std::string_view::npos || (marker == 0 && !is_after_text && !is_before_text)) continue;
      faults.push_back(template_fault(
          text, begin,
          fmt::format("a {0} marker beside something else, expected a line '@{0} NAME' between empty lines", kind),
          rule_for_marker(kind)));
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
  check_markers(template_text, brief.faults);
  const FilledTemplate filled = fill_template(template_text, status, escape_markdown);
  brief.faults.insert(brief.faults.end(), filled.faults.begin(), filled.faults.end());
  if (!filled.text) return brief;
  const std::string& text = *filled.text;
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
