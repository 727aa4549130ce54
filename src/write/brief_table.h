// What the brief shows of a table, whatever it is written in: which rows, which words.
//
// Pure.
#pragma once

#include <string>

#include "model/status.h"

namespace daywright::write {

/// What stands in place of a table without rows.
inline constexpr const char* no_rows = "None.";

/// The title of a column, with its unit.
[[nodiscard]] std::string head_of(const model::Column& column);

/// How many rows the brief has room for.
[[nodiscard]] std::size_t rows_shown(const model::Table& table);

/// Where to find the rows that are left out; empty: none are.
[[nodiscard]] std::string words_for_hidden_rows(const model::Table& table, const model::DayStatus& status);

/// Words that a cell of the brief has room for; the workbook has them all. Cut between words, and marked.
[[nodiscard]] std::string cut_to_fit(const std::string& text);

}  // namespace daywright::write
