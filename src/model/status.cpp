#include "model/status.h"

#include <algorithm>

namespace daywright::model {

const Figure* DayStatus::find(const std::string& id) const {
  const auto found = std::lower_bound(figures.begin(), figures.end(), id,
                                      [](const Figure& f, const std::string& i) { return f.id < i; });
  return found != figures.end() && found->id == id ? &*found : nullptr;
}

std::string DayStatus::text_of(const Cell& cell, const Column& column) const {
  const Figure* figure = cell.figure.empty() ? nullptr : find(cell.figure);
  if (figure == nullptr) return cell.words;
  // A column of quantities has the unit in its head, or in the column beside it.
  return column.is_number && !column.mixes_units ? figure->text : with_unit(*figure);
}

const Table* DayStatus::find_table(const std::string& name) const {
  const auto found = std::find_if(tables.begin(), tables.end(), [&](const Table& t) { return t.name == name; });
  return found == tables.end() ? nullptr : &*found;
}

}  // namespace daywright::model
