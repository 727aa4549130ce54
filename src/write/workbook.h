// The workbook as plain cells, one sheet a topic; saving it is the edge's business.
//
// Pure.
#pragma once

#include <string>
#include <variant>
#include <vector>

#include "model/instant.h"
#include "model/status.h"

namespace daywright::write {

/// Text, or a number with the decimals it is shown with, or a time.
struct SheetNumber {
  double value = 0;
  int decimals = 0;
  std::string unit;  ///< to be shown behind it; empty: none, or the header says it
};
using SheetCell = std::variant<std::string, SheetNumber, model::Instant>;

struct SheetColumn {
  std::string header;      ///< with the unit where the column has one
  std::size_t width = 8;   ///< in characters, wide enough for its cells, at most 60
  bool is_number = false;  ///< to be set to the right, whatever stands in place of a number too
};

struct Sheet {
  std::string name;
  std::string title;
  std::vector<SheetColumn> columns;
  std::vector<std::vector<SheetCell>> rows;

  /// How many lines the cells of a row take in the widths of their columns.
  [[nodiscard]] std::size_t lines_of(const std::vector<SheetCell>& row) const;
};

struct Workbook {
  std::string title;
  std::string caution;
  model::Instant created;  ///< the cut-off, so that the same inputs give the same bytes
  std::vector<Sheet> sheets;
};

/// The tables of `status` as sheets. What is in no table stands in status.json, as everything does.
[[nodiscard]] Workbook lay_out_workbook(const model::DayStatus& status, model::Instant cutoff);

}  // namespace daywright::write
