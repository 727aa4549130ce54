// What the cells of the live sheets are made of: addresses, terms of formulas, and results beside them.
//
// Pure.
#pragma once

#include <cstddef>
#include <optional>
#include <string>
#include <vector>

#include "write/workbook.h"

namespace daywright::write {

/// What stands in place of the days of an item that is not used by the day.
inline constexpr const char* no_days = "-";
inline constexpr const char* in_the_ledger = "in the ledger";
inline constexpr const char* no_data = "NO DATA";
/// What a cell says that only the program can work out once crew or rates are changed.
inline constexpr const char* ask_the_program = "run daywright options";

using SheetRow = std::vector<SheetCell>;

/// Fills the cell of a row in a column, counted from 0; cells before it that nobody fills stay empty.
void put(SheetRow& row, std::size_t column, SheetCell cell);

/// Addresses: "E5", "$E5" and "$E$5". Columns are counted from 0, rows as formulas do.
[[nodiscard]] std::string cell_at(std::size_t column, std::size_t row);
[[nodiscard]] std::string cell_down(std::size_t column, std::size_t row);
[[nodiscard]] std::string fixed_cell(std::size_t column, std::size_t row);
/// "$E$5:$G$9", and "$E$5:$E$9" for one column.
[[nodiscard]] std::string fixed_range(std::size_t first_column, std::size_t first_row, std::size_t last_column,
                                      std::size_t last_row);
[[nodiscard]] std::string fixed_range(std::size_t column, std::size_t first_row, std::size_t last_row);

/// A number that can stand behind any operator.
[[nodiscard]] std::string number(double value);
/// "a*b", where a factor of 1 is left out.
[[nodiscard]] std::string times(double factor, const std::string& of);
/// Joins terms of a sum; empty ones are left out, and a sum of none is nothing.
[[nodiscard]] std::string sum(const std::vector<std::string>& terms);

/// A cell that works `formula` out, with what it gives for the flight as planned.
[[nodiscard]] SheetCell live(std::string formula, FormulaResult result, int decimals = 0, std::string name = {});
[[nodiscard]] FormulaResult days_or_none(const std::optional<double>& days);
/// The decimals of what is not rounded to the step of its item: enough to see what rounding does.
[[nodiscard]] int unrounded_decimals(double step);

}  // namespace daywright::write
