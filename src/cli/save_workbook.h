// A workbook saved through the spreadsheet library, behind a guard.
//
// The library reports success for a number that is none, for bad UTF-8 and for a full temporary folder. So every
// value is checked before it is written, and the finished file is read back part by part.
#pragma once

#include <filesystem>

#include "write/workbook.h"

namespace daywright::cli {

/// Writes `book` to `path`; temporary files go beside it. The same workbook gives the same bytes.
/// Throws std::runtime_error when a value can't be written, or when what was written does not read back whole.
void save_workbook(const write::Workbook& book, const std::filesystem::path& path);

/// How many cells of a workbook have a value, and how many of them work it out.
struct CellCount {
  std::size_t values = 0;
  std::size_t formulas = 0;

  bool operator==(const CellCount&) const = default;
};

/// The cells of the workbook at `path`, every part of it well-formed and of the size and checksum that its index says.
/// Throws std::runtime_error where it is not.
[[nodiscard]] CellCount count_cells(const std::filesystem::path& path);

}  // namespace daywright::cli
