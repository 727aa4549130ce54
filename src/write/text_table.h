// Rows of cells as columns of a plain text.
//
// Pure.
#pragma once

#include <cstddef>
#include <string>
#include <vector>

namespace daywright::write {

struct TextColumn {
  std::string title;
  bool is_number = false;  ///< set to the right
  std::size_t widest = 0;  ///< what is wider is broken between words; 0: nothing is
};

/// The rows below the titles, in columns two blanks apart. What can't be seen is written out (printable.h). Requires
/// rows as wide as `columns`.
[[nodiscard]] std::string render_text_table(const std::vector<TextColumn>& columns,
                                            const std::vector<std::vector<std::string>>& rows);

}  // namespace daywright::write
