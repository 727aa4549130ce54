// Pieces of HTML: escaped text, tables, the mark that goes with a verdict's word.
//
// Pure. Whatever comes from the inputs is escaped, so that a log can't format the page.
#pragma once

#include <string>
#include <string_view>

#include "model/status.h"
#include "model/verdict.h"

namespace daywright::write {

/// `text` as it stands in an element or between double quotes; what can't be seen is written out (printable.h).
[[nodiscard]] std::string escape_html(std::string_view text);

/// A small drawing beside a verdict's word, of another shape for each verdict. The shapes are in verdict_shapes().
[[nodiscard]] std::string verdict_mark(model::Verdict verdict);

/// The shapes that the marks of a page refer to, once a page.
[[nodiscard]] std::string verdict_shapes();

/// The table as the brief shows it: the same columns, rows and cut texts as the pipe table. Its title is the caption,
/// which only a screen reader is told where `is_titled` says that it stands above already.
[[nodiscard]] std::string render_html_table(const model::Table& table, const model::DayStatus& status, bool is_titled);

}  // namespace daywright::write
