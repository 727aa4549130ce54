// The options of an evening as text for a terminal.
//
// Pure.
#pragma once

#include <string>

#include "model/status.h"

namespace daywright::write {

/// Extension and return tables and, where a plan was changed, both flights side by side, marked as not of record.
[[nodiscard]] std::string render_options(const model::DayStatus& status);

}  // namespace daywright::write
