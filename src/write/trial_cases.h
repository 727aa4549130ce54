// The sheet Cases: what only the program can work out, for each number of days more.
//
// Pure.
#pragma once

#include "write/trial_layout.h"
#include "write/workbook.h"

namespace daywright::write {

[[nodiscard]] Sheet lay_out_trial_cases(const TrialLayout& layout);

}  // namespace daywright::write
