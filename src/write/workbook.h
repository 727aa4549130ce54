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

/// A number with the decimals it is shown with.
struct SheetNumber {
  double value = 0;
  int decimals = 0;
  std::string unit;  ///< to be shown behind it; empty: none, or the header says it
};

/// Words that head what stands below or beside them.
struct SheetHeading {
  std::string text;
};

/// Words that run on over the cells to their right.
struct SheetNote {
  std::string text;
};

/// What a formula gives: a number, words, or a time.
using FormulaResult = std::variant<double, std::string, model::Instant>;

/// A live cell. The result is what it gives for the flight as planned.
struct SheetFormula {
  std::string formula;  ///< without the sign of equality
  FormulaResult result;
  int decimals = 0;
  std::string name = {};  ///< by which other formulas know it; empty: none
};

/// A cell that is meant to be changed.
struct SheetInput {
  enum class Kind { whole, decimal, yes_or_no };

  std::string name;  ///< by which formulas know it
  Kind kind = Kind::whole;
  double least = 0;
  double most = 0;
  std::variant<std::monostate, double, std::string> value;  ///< as planned; nothing: an empty cell
};

using SheetCell =
    std::variant<std::string, SheetNumber, model::Instant, SheetHeading, SheetNote, SheetFormula, SheetInput>;

struct SheetColumn {
  std::string header;      ///< with the unit where the column has one
  std::size_t width = 8;   ///< in characters, wide enough for its cells, at most 60
  bool is_number = false;  ///< to be set to the right, whatever stands in place of a number too
};

/// A chart over ranges of the workbook such as "=Options!$A$5:$A$9".
struct SheetChart {
  struct Series {
    std::string name;
    std::string categories;
    std::string values;
  };

  std::string title;
  std::string value_axis;
  bool is_line = false;  ///< over time; else bars, one group for each category
  std::size_t row = 0;   ///< where its corner is, counted from the first row of the body
  std::size_t column = 0;
  std::vector<Series> series;
};

struct Sheet {
  /// What formulas call the first row below the header.
  static constexpr std::size_t first_row = 5;

  std::string name;
  std::string title;
  std::vector<SheetColumn> columns;
  std::vector<std::vector<SheetCell>> rows;
  std::vector<SheetChart> charts = {};

  /// How many lines the cells of a row take in the widths of their columns.
  [[nodiscard]] std::size_t lines_of(const std::vector<SheetCell>& row) const;
  /// Makes each column as wide as its cells want, within bounds.
  void fit_widths();
};

struct Workbook {
  std::string title;
  std::string caution;
  model::Instant created;  ///< the cut-off, so that the same inputs give the same bytes
  std::vector<Sheet> sheets;
  bool is_live = false;  ///< it has cells to change; each sheet then says whether one was
};

/// The tables of `status` as sheets, after the brief's `five_lines` and the sheet on which cases are tried. What is in
/// no table stands in status.json, as everything does.
[[nodiscard]] Workbook lay_out_workbook(const model::DayStatus& status, model::Instant cutoff,
                                        const std::vector<std::string>& five_lines = {});

}  // namespace daywright::write
