// A mustache template filled with the figures and tables of a status, before anything is made of the text.
//
//   In:  the template, the status, how values are escaped
//   Out: the text, or what is wrong with the template
//
// Pure. What mustache would take without a word is a fault with its line: a name that does not exist, a value that is
// not escaped.
#pragma once

#include <optional>
#include <string>
#include <string_view>

#include "model/diagnostic.h"
#include "model/status.h"

namespace daywright::write {

struct FilledTemplate {
  std::optional<std::string> text;  ///< nothing: it can't be read at all
  model::Diagnostics faults;        ///< places lie in the template: file 0
};

/// Fills the template. Names are ids of figures, "table.NAME" for a section over a table's rows, and inside one the
/// keys of its columns. Requires a template `with_line_feeds`.
[[nodiscard]] FilledTemplate fill_template(const std::string& template_text, const model::DayStatus& status,
                                           std::string (*escape)(std::string_view));

/// The template without what editors of other systems put into it: a byte order mark, CRLF.
[[nodiscard]] std::string with_line_feeds(std::string_view text);

/// A fault at `offset` of the template.
[[nodiscard]] model::Diagnostic template_fault(std::string_view text, std::size_t offset, std::string message,
                                               std::string rule);

}  // namespace daywright::write
