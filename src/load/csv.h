// CSV as RFC 4180 has it, read in place, with the place of every cell.
//
//   In:  one file's text and its delimiter
//   Out: one row after another: cells that view the text, or the place and nature of a fault
//
// Why our own: merging logs is what this program is for, and it has to say line and column of every cell; the
// packaged readers give none. Held against libcsv and the csv-spectrum files in the tests.
#pragma once

#include <cstddef>
#include <deque>
#include <optional>
#include <string>
#include <string_view>
#include <vector>

namespace daywright::load {

struct CsvCell {
  std::string_view text;   ///< without its quotes; valid as long as the reader and the text it reads
  std::size_t offset = 0;  ///< of its first character, or its opening quote, in the text
};

struct CsvFault {
  std::size_t offset = 0;
  std::string_view text;
};

/// Reads rows until none is left. CRLF and LF end a row, both may stand in a quoted cell, a last row without a
/// line break counts. A wholly empty line is not a row. After a fault the reader goes on with the next line.
class CsvReader {
 public:
  CsvReader(std::string_view text, char delimiter) : text_(text), delimiter_(delimiter) {}

  /// The cells of the next row, or null at the end. The result is overwritten by the next call.
  const std::vector<CsvCell>* next();
  /// What was wrong with the row just read; its cells are then not to be used.
  [[nodiscard]] const std::optional<CsvFault>& fault() const { return fault_; }
  /// Where the row just read begins.
  [[nodiscard]] std::size_t row_offset() const { return row_offset_; }
  /// The line on which the row just read begins, from 1.
  [[nodiscard]] int row_line() const { return row_line_; }

 private:
  void read_plain_cell();
  void read_quoted_cell();
  void skip_line();
  [[nodiscard]] bool at_line_end() const;
  void take_line_end();

  std::string_view text_;
  char delimiter_;
  std::size_t at_ = 0;
  std::size_t row_offset_ = 0;
  int line_ = 1;
  int row_line_ = 1;
  std::vector<CsvCell> cells_;
  std::deque<std::string> unescaped_;  ///< texts of cells with doubled quotes; views into it stay valid
  std::optional<CsvFault> fault_;
};

}  // namespace daywright::load
