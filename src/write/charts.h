// The charts of the page, as HTML with drawings in it (SVG) that need no script.
//
// Pure. A chart prints nothing but figures of the status and words of our own; whatever else it was given only says
// where something is drawn. Drawings stretch with the page and their texts do not.
#pragma once

#include <optional>
#include <string>
#include <string_view>

#include "model/status.h"

namespace daywright::write {

/// The chart with this name: levels, margins, work or clearance; nothing where there is no such chart. A chart that has
/// nothing to show is empty.
[[nodiscard]] std::optional<std::string> render_chart(std::string_view name, const model::DayStatus& status);

}  // namespace daywright::write
