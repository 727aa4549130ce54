// The lines of Options with the cells that are meant to be changed, and what was changed there.
//
// Pure.
#pragma once

#include <string>
#include <vector>

#include "write/trial_cells.h"
#include "write/trial_layout.h"

namespace daywright::write {

/// The inputs for the flight, whether all inputs can be used, and whether they are those of record.
[[nodiscard]] std::vector<SheetRow> lay_out_inputs(const TrialLayout& layout);

/// Whether anything but the number of days is changed, as conditions of which one is enough.
[[nodiscard]] std::string other_changes(const TrialLayout& layout);

}  // namespace daywright::write
