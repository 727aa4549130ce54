#include "write/trial_cells.h"

#include <utility>

#include <fmt/format.h>

#include "model/quantity.h"

namespace daywright::write {
namespace {

/// "A" for 0, "AB" for 27.
std::string column_name(std::size_t index) {
  std::string name;
  for (std::size_t rest = index + 1; rest > 0; rest = (rest - 1) / 26)
    name.insert(name.begin(), static_cast<char>('A' + (rest - 1) % 26));
  return name;
}

}  // namespace

void put(SheetRow& row, std::size_t column, SheetCell cell) {
  if (row.size() <= column) row.resize(column + 1);
  row[column] = std::move(cell);
}

std::string cell_at(std::size_t column, std::size_t row) { return fmt::format("{}{}", column_name(column), row); }

std::string cell_down(std::size_t column, std::size_t row) { return fmt::format("${}{}", column_name(column), row); }

std::string fixed_cell(std::size_t column, std::size_t row) { return fmt::format("${}${}", column_name(column), row); }

std::string fixed_range(std::size_t first_column, std::size_t first_row, std::size_t last_column,
                        std::size_t last_row) {
  return fixed_cell(first_column, first_row) + ":" + fixed_cell(last_column, last_row);
}

std::string fixed_range(std::size_t column, std::size_t first_row, std::size_t last_row) {
  return fixed_range(column, first_row, column, last_row);
}

std::string number(double value) { return value < 0 ? fmt::format("({})", value) : fmt::format("{}", value); }

std::string times(double factor, const std::string& of) { return factor == 1 ? of : number(factor) + "*" + of; }

std::string sum(const std::vector<std::string>& terms) {
  std::string text;
  for (const auto& term : terms) {
    if (term.empty()) continue;
    if (!text.empty() && !term.starts_with('-')) text += '+';
    text += term;
  }
  return text.empty() ? "0" : text;
}

SheetCell live(std::string formula, FormulaResult result, int decimals, std::string name) {
  return SheetFormula{std::move(formula), std::move(result), decimals, std::move(name)};
}

FormulaResult days_or_none(const std::optional<double>& days) {
  return days ? FormulaResult(*days) : FormulaResult(std::string(no_days));
}

int unrounded_decimals(double step) { return model::decimals_of(step) + 2; }

}  // namespace daywright::write
