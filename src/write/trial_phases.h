// The sheet Phases: the stretches of the flight from the cut-off on, with the crew aboard.
//
// Pure.
#pragma once

#include "write/trial_layout.h"
#include "write/workbook.h"

namespace daywright::write {

[[nodiscard]] Sheet lay_out_trial_phases(const TrialLayout& layout);

}  // namespace daywright::write
