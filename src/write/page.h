// The page: the brief as one self-contained HTML file, to be looked at, printed and read aloud.
//
//   In:  the rendered brief, a style sheet, the status
//   Out: HTML that needs no script, no network and no other file
//
// Pure.
#pragma once

#include <string>
#include <string_view>

#include "model/status.h"
#include "write/markdown.h"

namespace daywright::write {

/// Requires a brief without faults. A policy in the page keeps a style sheet from fetching anything.
[[nodiscard]] std::string render_page(const Brief& brief, std::string_view style, const model::DayStatus& status);

/// A whole page with this title, which is text, around a body, which is HTML.
[[nodiscard]] std::string render_document(std::string_view title, std::string_view style, std::string_view body);

}  // namespace daywright::write
