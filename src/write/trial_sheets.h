// The live sheets of the workbook: change a marked cell, and margins, limiting item and verdict follow.
//
//   In:  the status with its trial plan (model/trial.h)
//   Out: sheets with inputs, formulas and our own results beside them
//
// Pure. Options: what is changed and what follows. Margins: the margins unrounded. Course: each item through each
// stretch of the flight. Places: the same place by place, where an item lies in places that go. Phases: the stretches.
// Cases: what no formula can work out, for each number of days more.
#pragma once

#include <vector>

#include "write/workbook.h"

namespace daywright::write {

/// What the cell named `what_if` says once any input is changed.
inline constexpr const char* not_of_record = "WHAT-IF, NOT OF RECORD";
inline constexpr const char* of_record = "Of record: nothing is changed";

/// The sheets, the one with the inputs first; none where there is nothing to try.
[[nodiscard]] std::vector<Sheet> lay_out_trial_sheets(const model::DayStatus& status);

}  // namespace daywright::write
