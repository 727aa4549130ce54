// The chart of levels: a panel for each item, from its counts over now to the required end.
//
// Pure.
#pragma once

#include <string>

#include "model/status.h"

namespace daywright::write {

[[nodiscard]] std::string render_levels(const model::DayStatus& status);

}  // namespace daywright::write
