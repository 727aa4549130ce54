#include "write/text_table.h"

#include <algorithm>

#include "model/printable.h"
#include "write/wrapped.h"

namespace daywright::write {
namespace {

/// Adds a row as so many lines as its tallest cell has.
void append_row(const std::vector<TextColumn>& columns, const std::vector<std::string>& row,
                std::vector<std::vector<std::string>>& lines) {
  const std::size_t first = lines.size();
  for (std::size_t i = 0; i < columns.size(); ++i) {
    const std::string cell = model::printable(row[i]);
    const bool is_broken = columns[i].widest > 0 && model::display_width(cell) > columns[i].widest;
    const std::string text = is_broken ? wrapped(cell, columns[i].widest) : cell + "\n";
    std::size_t line = first;
    for (std::size_t begin = 0; begin < text.size(); ++line) {
      const auto end = text.find('\n', begin);
      if (line == lines.size()) lines.emplace_back(columns.size());
      lines[line][i] = text.substr(begin, end - begin);
      begin = end + 1;
    }
  }
}

}  // namespace

std::string render_text_table(const std::vector<TextColumn>& columns,
                              const std::vector<std::vector<std::string>>& rows) {
  std::vector<std::vector<std::string>> lines;
  lines.emplace_back();
  for (const auto& column : columns) lines.front().push_back(column.title);
  for (const auto& row : rows) append_row(columns, row, lines);
  std::vector<std::size_t> widths(columns.size());
  for (const auto& line : lines) {
    for (std::size_t i = 0; i < columns.size(); ++i) widths[i] = std::max(widths[i], model::display_width(line[i]));
  }
  std::string text;
  for (const auto& line : lines) {
    std::string row;
    for (std::size_t i = 0; i < columns.size(); ++i) {
      const std::string blanks(widths[i] - model::display_width(line[i]), ' ');
      row += (i == 0 ? "" : "  ") + (columns[i].is_number ? blanks + line[i] : line[i] + blanks);
    }
    text += row.substr(0, row.find_last_not_of(' ') + 1) + "\n";
  }
  return text;
}

}  // namespace daywright::write
