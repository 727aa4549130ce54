// The sheet Options: what can be changed, and what follows for the flight, its criteria and each item, rounded as
// figures are.
//
// Pure.
#pragma once

#include "write/trial_layout.h"
#include "write/workbook.h"

namespace daywright::write {

[[nodiscard]] Sheet lay_out_trial_options(const TrialLayout& layout);

}  // namespace daywright::write
