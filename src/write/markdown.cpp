#include "write/markdown.h"

#include <algorithm>
#include <memory>
#include <vector>

#include <cmark.h>
#include <fmt/format.h>

#include "model/printable.h"
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

/// Words that a cell of the brief has room for; the workbook has them all. Cut between words, and marked.
std::string cut_to_fit(const std::string& text) {
  constexpr std::size_t room = 70;
  if (model::display_width(text) <= room) return text;
  std::size_t end = room;
  while (end > 0 && text[end] != ' ') --end;
  return end == 0 ? text : text.substr(0, end) + " ...";
}

std::string padded(const std::string& text, std::size_t width, bool to_the_right) {
  const std::string blanks(width - std::min(width, model::display_width(text)), ' ');
  return to_the_right ? blanks + text : text + blanks;
}

}  // namespace

std::string render_table(const model::Table& table, const DayStatus& status) {
  if (table.rows.empty()) return "None.";
  std::vector<std::vector<std::string>> lines(1);
  std::vector<bool> is_number;
  const std::size_t shown = table.brief_rows == 0 ? table.rows.size() : std::min(table.rows.size(), table.brief_rows);
  for (const auto& column : table.columns) {
    if (!column.in_brief) continue;
    lines.front().push_back(table_cell(column.unit.empty() ? column.title : column.title + ", " + column.unit));
    is_number.push_back(column.is_number);
  }
  for (std::size_t r = 0; r < shown; ++r) {
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
  if (shown < table.rows.size()) {
    const auto* more = status.find("table." + table.name + ".more");
    text += fmt::format("\n\nAnd {} more; all of them are in the workbook.", more != nullptr ? more->text : "some");
  }
  return text;
}

namespace {

/// Turns each paragraph that is exactly "@table NAME" in the text into a block with that table.
void place_tables(cmark_node* document, const std::string& text, const DayStatus& status,
                  std::string_view template_text, model::Diagnostics& faults) {
  std::vector<std::string_view> lines;
  for (std::size_t begin = 0; begin <= text.size();) {
    const auto end = std::min(text.find('\n', begin), text.size());
    lines.push_back(std::string_view(text).substr(begin, end - begin));
    begin = end + 1;
  }
  constexpr std::string_view marker = "@table ";
  for (cmark_node* node = cmark_node_first_child(document); node != nullptr;) {
    cmark_node* const next = cmark_node_next(node);
    const auto line = static_cast<std::size_t>(cmark_node_get_start_line(node));
    const bool is_marker = cmark_node_get_type(node) == CMARK_NODE_PARAGRAPH && line >= 1 && line <= lines.size() &&
                           lines[line - 1].starts_with(marker) &&
                           cmark_node_get_end_line(node) == static_cast<int>(line);
    if (is_marker) {
      const std::string name(lines[line - 1].substr(marker.size()));
      if (const auto* table = status.find_table(name)) {
        cmark_node* block = cmark_node_new(CMARK_NODE_CUSTOM_BLOCK);
        cmark_node_set_on_enter(block, render_table(*table, status).c_str());
        cmark_node_replace(node, block);
        cmark_node_free(node);
      } else {
        faults.push_back(template_fault(template_text, find_line(template_text, lines[line - 1]),
                                        fmt::format("there is no table '{}'", name), "template-table"));
      }
    }
    node = next;
  }
}

/// cmark writes a tilde as it is, but three of them open a block of code and two strike text out elsewhere.
void escape_tildes(cmark_node* document) {
  std::vector<cmark_node*> texts;
  const std::unique_ptr<cmark_iter, decltype(&cmark_iter_free)> walk(cmark_iter_new(document), &cmark_iter_free);
  while (cmark_iter_next(walk.get()) != CMARK_EVENT_DONE) {
    cmark_node* node = cmark_iter_get_node(walk.get());
    const bool is_text = cmark_node_get_type(node) == CMARK_NODE_TEXT;
    if (is_text && std::string_view(cmark_node_get_literal(node)).find('~') != std::string_view::npos)
      texts.push_back(node);
  }
  for (cmark_node* node : texts) {
    std::string rest = cmark_node_get_literal(node);
    for (auto at = rest.find('~'); at != std::string::npos; at = rest.find('~')) {
      cmark_node* before = cmark_node_new(CMARK_NODE_TEXT);
      cmark_node_set_literal(before, rest.substr(0, at).c_str());
      cmark_node_insert_before(node, before);
      cmark_node* tilde = cmark_node_new(CMARK_NODE_CUSTOM_INLINE);
      cmark_node_set_on_enter(tilde, "\\~");
      cmark_node_insert_before(node, tilde);
      rest.erase(0, at + 1);
    }
    cmark_node_set_literal(node, rest.c_str());
  }
}

/// A marker has its line and the empty lines around it to itself.
void check_markers(std::string_view text, model::Diagnostics& faults) {
  for (std::size_t begin = 0; begin < text.size();) {
    const std::size_t end = std::min(text.find('\n', begin), text.size());
    const std::string_view line = text.substr(begin, end - begin);
    const bool is_after_text = begin >= 2 && text[begin - 2] != '\n';
    const bool is_before_text = end + 1 < text.size() && text[end + 1] != '\n';
    const auto marker = line.find("@table ");
    if (marker != std::string_view::npos && (marker > 0 || is_after_text || is_before_text))
      faults.push_back(template_fault(
          text, begin, "a table marker beside something else, expected a line '@table NAME' between empty lines",
          "template-table"));
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
  const NodePtr document(cmark_parse_document(text.data(), text.size(), CMARK_OPT_VALIDATE_UTF8));
  escape_tildes(document.get());
  place_tables(document.get(), text, status, template_text, brief.faults);
  if (!brief.faults.empty()) return brief;
  // Width 0: a wrapped pipe table would be joined into one line and lost.
  const std::unique_ptr<char, decltype(&free)> rendered(cmark_render_commonmark(document.get(), CMARK_OPT_DEFAULT, 0),
                                                        &free);
  brief.text = rendered.get();
  return brief;
}

}  // namespace daywright::write
