// The whole status of a day: every figure and table that the writers may print.
//
//   In:  the evening, and the last one to compare with
//   Out: DayStatus: figures in order of id, tables, and what the rules found wrong
//
// Pure. To find where a figure comes from: its id names its maker. heading.cpp: mission., now., supplies.,
// extension. ; consumables.cpp: item., count., transfer. ; ledger.cpp: item.<id>.ledger., ledger. ; gates.cpp: gate.,
// zone. ; work.cpp and tasks.cpp: work., task. ; quality.cpp: quality., need., change. ; charts.cpp:
// chart., day., work.day. ; crew_note.cpp: note. ; credibility.cpp: credibility., forecast., item.<id>.forecast. ;
// handover.cpp, on a page of its own: handover.
#pragma once

#include <string>
#include <vector>

#include "model/filed.h"
#include "model/status.h"
#include "rules/evaluation.h"

namespace daywright::rules {

/// What the brief says of itself.
struct Issue {
  model::Filed filed;              ///< what the archive holds
  std::vector<std::string> files;  ///< names of the inputs, by Source::file
  bool is_to_be_tried = false;     ///< the status gets its trial plan, which takes as long as all the rest
};

/// The status of `evening`, compared with `before` where there is a brief before it (null: none).
[[nodiscard]] model::DayStatus compute_status(const Evening& evening, const Evening* before, const Issue& issue);

}  // namespace daywright::rules
