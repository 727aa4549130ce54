// The sheet Course: what each item is drawn, made, moved and held in reserve in each stretch of the flight, and what
// can be used then.
//
// Pure.
#pragma once

#include "write/trial_layout.h"
#include "write/workbook.h"

namespace daywright::write {

[[nodiscard]] Sheet lay_out_trial_course(const TrialLayout& layout);

}  // namespace daywright::write
