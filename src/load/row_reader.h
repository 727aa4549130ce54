// Typed reading of one row of a log: every cell that can't be read becomes a fault with its place.
//
// Pure.
#pragma once

#include <algorithm>
#include <optional>
#include <span>
#include <string>
#include <string_view>
#include <utility>
#include <vector>

#include "load/csv.h"
#include "load/names.h"
#include "model/diagnostic.h"
#include "model/log.h"
#include "model/mission.h"
#include "model/quantity.h"
#include "model/rulebook.h"

namespace daywright::load {

/// The names a row may use, prepared once a run.
struct KnownNames {
  KnownNames(const model::Mission& mission, const model::Rulebook& rules);
  Names items, places, persons, zones, gates, methods, roles, equipment, readings, sorties, events, criteria;
};

/// One log file: where it came from and how its columns map onto ours.
struct LogFile {
  const model::Mission& mission;
  const model::Rulebook& rules;
  const KnownNames& names;
  const model::LogSource& source;
  int file;
  std::string_view text;
  model::Instant recorded_by_default;
  model::Diagnostics& faults;
  std::vector<std::string> columns;  ///< ours, by position of the column in the file; empty: not read
};

class RowReader {
 public:
  RowReader(const LogFile& file, const std::vector<CsvCell>& cells, std::size_t row_offset, int row_line)
      : file_(file), cells_(cells), row_offset_(row_offset), row_line_(row_line) {}

  [[nodiscard]] std::string text(std::string_view column);
  [[nodiscard]] std::string text_or_empty(std::string_view column);
  /// A fault where the cell holds something although a row of this kind has no use for it.
  void expect_empty(std::string_view column, std::string_view kind_of_row);
  [[nodiscard]] std::vector<std::string> list(std::string_view column);
  /// A name out of `names`; a fault when it is not one of them.
  [[nodiscard]] std::string name(std::string_view column, const Names& names);
  /// The same where the plan declares any; else whatever stands there.
  [[nodiscard]] std::string name_if_declared(std::string_view column, const Names& names) {
    return names.empty() ? text(column) : name(column, names);
  }
  [[nodiscard]] std::string name_or_empty(std::string_view column, const Names& names);
  [[nodiscard]] std::vector<std::string> names(std::string_view column, const Names& names);
  [[nodiscard]] double number(std::string_view column);
  [[nodiscard]] double amount(std::string_view column);
  [[nodiscard]] double percent(std::string_view column);
  [[nodiscard]] int whole(std::string_view column, int least, int most);
  [[nodiscard]] model::Instant time(std::string_view column);
  [[nodiscard]] std::optional<model::Instant> time_if_any(std::string_view column);
  /// The `quantity` cell in the unit of its `unit` cell, converted to `to`.
  [[nodiscard]] double quantity_in(const model::Unit& to);
  /// A cell such as "0.3 d", in `unit`, with how that is spelt; where that is null, a bare number.
  [[nodiscard]] std::pair<double, std::string> number_with_unit(std::string_view column, const model::Unit* unit);
  /// The unit named in the `unit` cell; null after a fault.
  [[nodiscard]] const model::Unit* unit();

  template <class Value>
  [[nodiscard]] Value choice(std::string_view column, std::span<const std::pair<std::string_view, Value>> words) {
    const std::string_view cell = required(column);
    std::vector<std::string> known;
    for (const auto& [word, value] : words) {
      if (word == cell) return value;
      known.emplace_back(word);
    }
    if (!cell.empty()) not_one_of(column, cell, known);
    return words.front().second;
  }

  void fault(std::string_view column, std::string text, std::string rule);
  /// The cell as written, mapped words included; empty when there is none.
  [[nodiscard]] std::string_view raw(std::string_view column) const;
  [[nodiscard]] model::Source source_of(std::string_view column) const;
  [[nodiscard]] model::Source source() const { return {file_.file, row_line_, 1}; }
  [[nodiscard]] model::Provenance provenance();
  [[nodiscard]] bool is_sound() const { return sound_; }
  [[nodiscard]] const std::string& first_fault() const { return first_fault_; }

 private:
  [[nodiscard]] std::optional<std::size_t> index_of(std::string_view column) const;
  std::string_view required(std::string_view column);
  void not_one_of(std::string_view column, std::string_view cell, const std::vector<std::string>& known);
  std::optional<double> read_number(std::string_view column, std::string_view cell);
  std::optional<model::Instant> read_time(std::string_view column, std::string_view cell);

  const LogFile& file_;
  const std::vector<CsvCell>& cells_;
  std::size_t row_offset_;
  int row_line_;
  bool sound_ = true;
  std::string first_fault_;
};

}  // namespace daywright::load
