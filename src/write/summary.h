// What a terminal shows of a brief: its five lines, and the margin of each item as a bar.
//
//   In:  the brief as CommonMark, the status, what the terminal can show
//   Out: plain text for it
//
// Pure. The words are those of the brief; a bar never says anything that the word beside it does not.
#pragma once

#include <cstddef>
#include <string>
#include <string_view>
#include <vector>

#include "model/status.h"

namespace daywright::write {

/// The items of the first numbered list of `brief`, which is CommonMark, without their markup.
[[nodiscard]] std::vector<std::string> five_lines_of(std::string_view brief);

/// What the text is made for.
struct Terminal {
  std::size_t width = 80;  ///< columns, at least 40
  bool is_utf8 = false;    ///< false: bars of ASCII
  bool has_colour = false;
};

/// The five lines of `brief`, then a bar for each item of the table of
/// consumables in its order, then the caution.
[[nodiscard]] std::string render_summary(std::string_view brief, const model::DayStatus& status,
                                         const Terminal& terminal);

}  // namespace daywright::write
