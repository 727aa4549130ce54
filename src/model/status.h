// The status of a day: what the rules stage hands to the writers.
//
// Writers do no arithmetic. Whatever they print is a figure, or words without a number in them.
#pragma once

#include <map>
#include <string>
#include <vector>

#include "model/chart.h"
#include "model/diagnostic.h"
#include "model/figure.h"
#include "model/trial.h"

namespace daywright::model {

/// One cell of a table: a figure by id, or plain words.
struct Cell {
  std::string figure;
  std::string words;

  [[nodiscard]] static Cell of(std::string id) { return {std::move(id), {}}; }
  [[nodiscard]] static Cell say(std::string text) { return {{}, std::move(text)}; }
};

struct Column {
  std::string key;  ///< its name in templates
  std::string title;
  std::string unit;  ///< printed in the header; empty: none, or each cell its own
  bool is_number = false;
  bool in_brief = true;      ///< false: only in the workbook
  bool mixes_units = false;  ///< numbers of several units, each with its own beside it
};

/// A table of the status. The brief may cut it; workbook and status.json always hold the whole.
struct Table {
  std::string name;
  std::string title;
  std::vector<Column> columns;
  std::vector<std::vector<Cell>> rows;
  std::size_t brief_rows = 0;             ///< rows shown in the brief; 0: all
  std::string whole_in = "the workbook";  ///< where to look for the rows that are not shown
};

struct DayStatus {
  std::vector<std::string> files;  ///< names of the inputs, by Source::file
  std::vector<Figure> figures;     ///< in order of id
  std::vector<Table> tables;
  TrialPlan trial;  ///< to try cases on; without items where there is nothing to try
  Charts charts;
  Diagnostics diagnostics;  ///< what the rules found wrong in the inputs

  /// The figure with this id, or null.
  [[nodiscard]] const Figure* find(const std::string& id) const;
  /// The text of a cell: its figure's, with the unit unless the column says it, or its words.
  [[nodiscard]] std::string text_of(const Cell& cell, const Column& column) const;
  /// The table with this name, or null.
  [[nodiscard]] const Table* find_table(const std::string& name) const;
};

}  // namespace daywright::model
