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
};
using SheetCell = std::variant<std::string, SheetNumber, model::Instant>;

struct SheetColumn {
  std::string header;     ///< with the unit where the column has one
  std::size_t width = 8;  ///< in characters, wide enough for its cells, at most 60
};

struct Sheet {
  std::string name;
  std::string title;
  std::vector<SheetColumn> columns;
  std::vector<std::vector<SheetCell>> rows;
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
