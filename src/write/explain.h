// How one figure came about, as an indented tree down to file and line; and the list of all figures.
//
// Pure.
#pragma once

#include <string>

#include "model/status.h"

namespace daywright::write {

/// The tree of `figure`: value, formula, then each input with its place, figures among them opened in turn. A
/// figure that was opened above is named again but not opened.
[[nodiscard]] std::string render_explanation(const model::Figure& figure, const model::DayStatus& status);

/// One line for each figure: id, value, title.
[[nodiscard]] std::string render_figure_list(const model::DayStatus& status);

}  // namespace daywright::write
