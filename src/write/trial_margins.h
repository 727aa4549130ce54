// The sheet Margins: the margins unrounded, by reading of the counts and by item, and what governs.
//
// Pure.
#pragma once

#include "write/trial_layout.h"
#include "write/workbook.h"

namespace daywright::write {

[[nodiscard]] Sheet lay_out_trial_margins(const TrialLayout& layout);

}  // namespace daywright::write
