// The sheet Places: what lies in which place, for the items of which some places go on the way.
//
// Pure.
#pragma once

#include "write/trial_layout.h"
#include "write/workbook.h"

namespace daywright::write {

/// Only where an item goes by place.
[[nodiscard]] Sheet lay_out_trial_places(const TrialLayout& layout);

}  // namespace daywright::write
