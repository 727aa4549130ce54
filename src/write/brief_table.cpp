#include "write/brief_table.h"

#include <algorithm>

#include <fmt/format.h>

#include "model/printable.h"

namespace daywright::write {

std::string head_of(const model::Column& column) {
  return column.unit.empty() ? column.title : column.title + ", " + column.unit;
}

std::size_t rows_shown(const model::Table& table) {
  return table.brief_rows == 0 ? table.rows.size() : std::min(table.rows.size(), table.brief_rows);
}

std::string words_for_hidden_rows(const model::Table& table, const model::DayStatus& status) {
  if (rows_shown(table) == table.rows.size()) return {};
  const auto* more = status.find("table." + table.name + ".more");
  return fmt::format("And {} more; all of them are in {}.", more != nullptr ? more->text : "some", table.whole_in);
}

std::string cut_to_fit(const std::string& text) {
  constexpr std::size_t room = 70;
  if (model::display_width(text) <= room) return text;
  std::size_t end = room;
  while (end > 0 && text[end] != ' ') --end;
  return end == 0 ? text : text.substr(0, end) + " ...";
}

}  // namespace daywright::write
