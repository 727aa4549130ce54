// The brief as CommonMark, and the same as HTML, from a template and the status of a day.
//
//   In:  a mustache template with lines "@table NAME" and "@chart NAME", the status
//   Out: the brief's text, or what is wrong with the template
//
// Pure. Whatever comes from the inputs is escaped, so that a log can neither format the brief nor forge a marker.
#pragma once

#include <string>
#include <string_view>

#include "model/diagnostic.h"
#include "model/status.h"

namespace daywright::write {

struct Brief {
  std::string text;           ///< CommonMark; empty when there are faults
  std::string html;           ///< the same for the page (page.h)
  model::Diagnostics faults;  ///< places lie in the template: file 0
};

/// Renders the template. Names are ids of figures, "table.NAME" for a section over a table's rows, and inside one
/// the keys of its columns. An unknown name, table or chart is a fault with its line.
[[nodiscard]] Brief render_brief(std::string_view template_text, const model::DayStatus& status);

/// The table as a pipe table whose columns line up in the raw text, cut to the rows that a brief shows.
[[nodiscard]] std::string render_table(const model::Table& table, const model::DayStatus& status);

/// `text` with everything that CommonMark, a pipe table or a table marker could take for markup escaped.
[[nodiscard]] std::string escape_markdown(std::string_view text);

}  // namespace daywright::write
